package predict

import (
	"slices"

	"yokemate"
	"yokemate/phys/network"
)

// wiring is a hookup seen as copper alone: which points are joined through
// joints and windings, without loads and meters.
type wiring struct {
	h     *yokemate.Hookup
	edges []edge
}

// edge is one winding between two points.
type edge struct {
	unit    *network.Unit
	w       int // its index in the unit
	a, b    string
	primary bool
}

// point is the joint that holds a pin, else the pin itself.
func point(h *yokemate.Hookup, pin string) string {
	if j := h.Joints.Of(pin); j != "" {
		return j
	}
	return pin
}

// newWiring reads a hookup, whose parted pins' wires reach nothing.
func newWiring(f *network.Facts, h *yokemate.Hookup, parted []string) (*wiring, error) {
	g := &wiring{h: h}
	place := func(pin string) string {
		if slices.Contains(parted, pin) {
			return pin + " wire"
		}
		return point(h, pin)
	}
	for _, tag := range h.Tags() {
		u, err := f.Unit(tag)
		if err != nil {
			return nil, err
		}
		for w, src := range u.Windings {
			g.edges = append(g.edges, edge{
				unit: u, w: w, primary: u.Source.MainsSide(src.ID),
				a: place(tag + "." + src.Pins[0]), b: place(tag + "." + src.Pins[1]),
			})
		}
	}
	for i := range g.edges {
		e := &g.edges[i]
		e.primary = e.primary || e.unit.Source.Mains == nil && g.onMains(*e)
	}
	return g, nil
}

// onMains reports whether a winding of a unit without a label serves as its
// mains side here: it lies across a plug, or, where none of the unit does, it is
// the one that was excited and copper joins it to a plug.
func (g *wiring) onMains(e edge) bool {
	across := func(x edge) bool {
		return slices.ContainsFunc(g.h.Feed, func(f yokemate.Feed) bool {
			return x.a == f.Live && x.b == f.Neutral || x.b == f.Live && x.a == f.Neutral
		})
	}
	if slices.ContainsFunc(g.edges, func(x edge) bool { return x.unit == e.unit && across(x) }) {
		return across(e)
	}
	src := e.unit.Source
	if len(src.Excitation) == 0 || !slices.Contains(src.Excitation[0].Series, e.unit.Windings[e.w].ID) {
		return false
	}
	r := g.reach(e.a, anyEdge)
	return slices.ContainsFunc(g.h.Feed, func(f yokemate.Feed) bool { return slices.Contains(r, f.Live) || slices.Contains(r, f.Neutral) })
}

func (e edge) name() string { return e.unit.Tag + "/" + e.unit.Windings[e.w].ID }

// reach lists the points joined to a start by the edges that use allows, and
// by the hookup's fuses.
func (g *wiring) reach(start string, use func(edge) bool) []string {
	seen := []string{start}
	for i := 0; i < len(seen); i++ {
		step := func(a, b string) {
			if a == seen[i] && !slices.Contains(seen, b) {
				seen = append(seen, b)
			}
		}
		for _, e := range g.edges {
			if use(e) {
				step(e.a, e.b)
				step(e.b, e.a)
			}
		}
		for _, f := range g.h.Fuses {
			step(f.From, f.To)
			step(f.To, f.From)
		}
	}
	return seen
}

func anyEdge(edge) bool { return true }

// isolated reports whether copper joins an output to a plug.
func (g *wiring) isolated(o yokemate.Output) bool {
	r := g.reach(o.From, anyEdge)
	for _, f := range g.h.Feed {
		if slices.Contains(r, f.Live) || slices.Contains(r, f.Neutral) {
			return false
		}
	}
	return true
}

// fed lists the tags of units with a winding in copper reach of both blades
// of a plug through windings of its own unit or of others in series with it.
func (g *wiring) fed() []string {
	var tags []string
	for _, f := range g.h.Feed {
		for _, e := range g.edges {
			if slices.Contains(tags, e.unit.Tag) {
				continue
			}
			others := func(x edge) bool { return x.unit != e.unit || x.w != e.w }
			a, b := g.reach(e.a, others), g.reach(e.b, others)
			if slices.Contains(a, f.Live) && slices.Contains(b, f.Neutral) || slices.Contains(b, f.Live) && slices.Contains(a, f.Neutral) {
				tags = append(tags, e.unit.Tag)
			}
		}
	}
	return tags
}

// ringed reports whether winding i closes a ring of windings: with it taken
// out its ends are still joined, by windings of fed units on its own side.
func (g *wiring) ringed(i int, fed []string) bool {
	e := g.edges[i]
	if e.a == e.b {
		return true
	}
	same := func(x edge) bool {
		return x != e && x.primary == e.primary && slices.Contains(fed, x.unit.Tag)
	}
	return slices.Contains(g.reach(e.a, same), e.b)
}

// seriesPrimaries lists pairs of units whose mains sides are in series: a
// joint, not a feed's, that holds exactly two pins, one of each unit's mains
// side.
func (g *wiring) seriesPrimaries() [][2]string {
	var out [][2]string
	for _, j := range g.h.Joints {
		if len(j.Pins) != 2 || slices.ContainsFunc(g.h.Feed, func(f yokemate.Feed) bool { return f.Live == j.Name || f.Neutral == j.Name }) {
			continue
		}
		var tags []string
		for _, e := range g.edges {
			if e.primary && (e.a == j.Name) != (e.b == j.Name) && !slices.Contains(tags, e.unit.Tag) {
				tags = append(tags, e.unit.Tag)
			}
		}
		if len(tags) == 2 {
			out = append(out, [2]string{tags[0], tags[1]})
		}
	}
	return out
}

// tied reports whether secondaries of two units are joined by copper that is
// not the mains side's.
func (g *wiring) tied(a, b string) bool {
	for _, e := range g.edges {
		if e.unit.Tag != a || e.primary {
			continue
		}
		r := g.reach(e.a, func(x edge) bool { return !x.primary })
		for _, x := range g.edges {
			if x.unit.Tag == b && !x.primary && slices.Contains(r, x.a) && (g.h.Joints.Joint(x.a) != nil || g.h.Joints.Joint(x.b) != nil) {
				return true
			}
		}
	}
	return false
}
