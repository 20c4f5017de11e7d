package match

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
)

// winding is one of a pair.
type winding struct {
	unit *network.Unit
	w    int // its index in the unit
	src  *yokemate.Winding
}

func (w winding) name() string        { return w.unit.Tag + "/" + w.src.ID }
func (w winding) pin(end int) string  { return w.unit.Tag + "." + w.src.Pins[end] }
func (w winding) same(x winding) bool { return w.unit == x.unit && w.w == x.w }
func (w winding) volts() float64      { return w.src.Volts.V }

// likeVolts is how far apart the volts of windings may lie that are paired by
// their units' tags alone: part of the smaller. Two that are meant for each
// other lie within it (common practice, no source).
const likeVolts = 0.25

// choose makes pairs of what was asked for.
func choose(f *network.Facts, args []string) ([][2]winding, error) {
	var named []winding
	var tags []string
	for _, a := range args {
		tag, id, one := yokemate.SplitWinding(a)
		u, err := f.Unit(tag)
		if err != nil {
			return nil, err
		}
		if !one {
			if slices.Contains(tags, tag) {
				return nil, yokemate.Errorf(yokemate.Invalid, a, "the unit is named twice").Mend("name it once, or two of its windings, such as %s/A %s/B", tag, tag)
			}
			tags = append(tags, tag)
			continue
		}
		if err := u.Missing[id]; err != nil {
			return nil, err
		}
		w := u.Index(id)
		if w < 0 {
			return nil, yokemate.Errorf(yokemate.NotFound, a, "unit %s has no winding %q", tag, id).Mend("its windings are %s", strings.Join(ids(u), ", "))
		}
		x := winding{u, w, u.Windings[w]}
		if mainsSide(u, w) {
			return nil, yokemate.Errorf(yokemate.Invalid, a, "it is on the mains side").Mend("match secondaries; for mains coils in parallel, predict a hookup that has both")
		}
		if slices.ContainsFunc(named, x.same) {
			return nil, yokemate.Errorf(yokemate.Invalid, a, "the winding is named twice").Mend("name two different windings")
		}
		named = append(named, x)
	}
	switch {
	case len(named) > 0 && len(tags) > 0:
		return nil, yokemate.Errorf(yokemate.Invalid, args[0], "windings and whole units are mixed").Mend("give tags only, such as T1 T2, or windings only, such as T1/A T2/A")
	case len(named) == 1:
		return nil, yokemate.Errorf(yokemate.Invalid, args[0], "one winding alone is no pair").Mend("name another one beside it, such as %s T2/A", args[0])
	case len(named) > 1:
		var pairs [][2]winding
		for i, b := range named {
			for _, a := range named[:i] {
				if oneWire(a, b) {
					return nil, yokemate.Errorf(yokemate.Invalid, a.name()+" "+b.name(), "they are parts of one tapped winding: in parallel each would short a part of the other").Mend("match windings that share no pin")
				}
				pairs = append(pairs, [2]winding{a, b})
			}
		}
		return pairs, nil
	case len(tags) == 0:
		return nil, yokemate.Errorf(yokemate.Invalid, "command line", "nothing to match").Mend("name two units or more, such as T1 T2, or windings, such as T1/A T2/A")
	}
	return ofUnits(f, tags)
}

// ofUnits pairs the secondaries of units by their volts.
func ofUnits(f *network.Facts, tags []string) ([][2]winding, error) {
	var all []winding
	for _, tag := range tags {
		u, _ := f.Unit(tag)
		for w, src := range u.Windings {
			if !mainsSide(u, w) {
				all = append(all, winding{u, w, src})
			}
		}
	}
	var pairs [][2]winding
	var closest [2]winding
	apart := math.Inf(1)
	for i, b := range all {
		for _, a := range all[:i] {
			if len(tags) > 1 && a.unit == b.unit || oneWire(a, b) {
				continue
			}
			d := math.Abs(a.volts()-b.volts()) / math.Min(a.volts(), b.volts())
			if d <= likeVolts {
				pairs = append(pairs, [2]winding{a, b})
			}
			if d < apart {
				apart, closest = d, [2]winding{a, b}
			}
		}
	}
	switch {
	case len(pairs) > 0:
		return pairs, nil
	case !math.IsInf(apart, 1):
		// Nothing is like; the nearest pair shows why not.
		return [][2]winding{closest}, nil
	}
	for _, tag := range tags {
		u, _ := f.Unit(tag)
		for i := range u.Source.Windings {
			if err := u.Missing[u.Source.Windings[i].ID]; err != nil {
				return nil, err
			}
		}
	}
	return nil, yokemate.Errorf(yokemate.Invalid, strings.Join(tags, " "), "no two secondaries to weigh against each other").Mend("name another unit beside it, or give its windings' volts and ohms")
}

func ids(u *network.Unit) []string {
	var s []string
	for _, w := range u.Windings {
		s = append(s, w.ID)
	}
	return s
}

// feedSeries are the windings that the mains goes to: those of the label, or
// of the first excitation reading.
func feedSeries(u *network.Unit) yokemate.Series {
	switch {
	case u.Source.Mains != nil:
		return u.Source.Mains.Series
	case len(u.Source.Excitation) > 0:
		return u.Source.Excitation[0].Series
	}
	return nil
}

func mainsSide(u *network.Unit, w int) bool {
	id := u.Windings[w].ID
	return u.Source.MainsSide(id) || slices.Contains(feedSeries(u), id)
}

// oneWire reports whether two windings are parts of one piece of wire.
func oneWire(a, b winding) bool {
	if a.unit != b.unit {
		return false
	}
	seen := []string{a.src.Pins[0], a.src.Pins[1]}
	for grown := true; grown; {
		grown = false
		for _, x := range a.unit.Windings {
			in := [2]bool{slices.Contains(seen, x.Pins[0]), slices.Contains(seen, x.Pins[1])}
			if in[0] != in[1] {
				seen = append(seen, x.Pins[0], x.Pins[1])
				grown = true
			}
		}
	}
	return slices.Contains(seen, b.src.Pins[0]) || slices.Contains(seen, b.src.Pins[1])
}

// feedSlack is how far apart the labels of two units may be that are fed
// together, part of the first.
const feedSlack = 0.1

// chooseFeed settles the mains: the one asked for, or what the units' labels
// agree on.
func (w *weigher) chooseFeed() error {
	if w.opt.Feed != nil {
		w.feed = *w.opt.Feed
	} else {
		rating := func(u *network.Unit) (volts, hertz float64, err error) {
			switch s := u.Source; {
			case s.Mains != nil:
				return s.Mains.Volts, s.Mains.Hertz, nil
			case len(s.Excitation) > 0:
				return s.Excitation[0].Volts.V, s.Excitation[0].Hertz, nil
			}
			return 0, 0, yokemate.Errorf(yokemate.Invalid, u.Tag+" mains", "what mains it is made for is not known").Mend("add its label's volts and hertz, or an excitation reading")
		}
		va, fa, err := rating(w.a.unit)
		if err != nil {
			return err
		}
		vb, fb, err := rating(w.b.unit)
		if err != nil {
			return err
		}
		at := w.a.unit.Tag + " " + w.b.unit.Tag
		if math.Abs(va-vb) > feedSlack*va {
			return yokemate.Errorf(yokemate.Invalid, at, "they are made for different mains, %g V and %g V", va, vb).Mend("say what both are to be fed with, as in --volts %g --hertz %g", math.Min(va, vb), math.Max(fa, fb))
		}
		// Units on one plug see one mains. Of volts the higher label tells what the
		// other unit is in for; of frequencies the higher suits both, and the lower is noted.
		w.feed = yokemate.Feed{Volts: yokemate.Num(math.Max(va, vb)), Hertz: math.Max(fa, fb)}
		if va != vb || fa != fb {
			w.note(yokemate.NotProven, yokemate.Caution, "their labels differ, %g V %g Hz and %g V %g Hz: reckoned at %g V %g Hz", va, fa, vb, fb, w.feed.Volts.V, w.feed.Hertz)
		}
		if fa != fb {
			made, low, high := w.b.unit.Tag, fa, fb
			if fa > fb {
				made, low, high = w.a.unit.Tag, fb, fa
			}
			w.notes = append(w.notes, yokemate.Note{Code: yokemate.OverFlux, Level: yokemate.Caution, About: made,
				Words: fmt.Sprintf("on %g Hz the core of %s stands at %.2f times the volts per hertz that it has on its own %g Hz", low, made, high/low, high)})
		}
	}
	w.feed.Live, w.feed.Neutral, w.feed.Fed = "L", "N", nil
	return nil
}

// hookup is the pair as joined at its start ends, and at its other ends when
// closed, with a load of constant amps when above 0.
func (w *weigher) hookup(closed bool, amps float64) *yokemate.Hookup {
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Feed: yokemate.Feeds{w.feed}, Earth: "E"}
	put := func(joint, pin string) {
		if h.Joints.Of(pin) != "" {
			return
		}
		if j := h.Joints.Joint(joint); j != nil {
			j.Pins = append(j.Pins, pin)
			return
		}
		h.Joints = append(h.Joints, yokemate.Joint{Name: joint, Pins: []string{pin}})
	}
	units := []*network.Unit{w.a.unit}
	if w.b.unit != w.a.unit {
		units = append(units, w.b.unit)
	}
	for _, u := range units {
		series := feedSeries(u)
		for i, id := range series {
			from, to := fmt.Sprintf("%s-%d", u.Tag, i), fmt.Sprintf("%s-%d", u.Tag, i+1)
			if i == 0 {
				from = "L"
			}
			if i == len(series)-1 {
				to = "N"
			}
			p := u.Source.Winding(id).Pins
			put(from, u.Tag+"."+p[0])
			put(to, u.Tag+"."+p[1])
		}
		if len(series) == 1 {
			// The other coils of a split primary are meant to lie beside it.
			for i, x := range u.Windings {
				if x.ID != series[0] && mainsSide(u, i) {
					put("L", u.Tag+"."+x.Pins[0])
					put("N", u.Tag+"."+x.Pins[1])
				}
			}
		}
	}
	put("A", w.a.pin(0))
	put("A", w.b.pin(0))
	if closed {
		put("B", w.a.pin(1))
		put("B", w.b.pin(1))
		o := yokemate.Output{Name: "out", From: "A", To: "B"}
		if amps > 0 {
			pf := w.opt.PowerFactor
			o.Load = &yokemate.Load{Amps: amps, PowerFactor: &pf}
		}
		h.Outputs = []yokemate.Output{o}
	} else {
		put("B1", w.a.pin(1))
		put("B2", w.b.pin(1))
		h.Meters = []yokemate.MeterPoint{{Name: "gap", From: "B1", To: "B2"}}
	}
	for _, u := range units {
		put("E", u.Tag+"."+yokemate.CorePin)
	}
	return h
}
