package find

import (
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/network"
)

// unit is one unit of the shelf as the search sees it.
type unit struct {
	facts  *network.Unit
	tag    string
	shut   *shut        // why it may be in no hookup; nil when it may
	doubt  bool         // it brings a caution into whatever it is part of
	coils  [][]*section // mains side: per coil, the sections of it
	groups [][]*section // other windings: per piece of wire, the sections of it
	drives []*drive     // the ways its mains side suits the feed
}

// shut is the reason that keeps a unit out.
type shut struct {
	why   yokemate.NoteCode
	words string
}

// section is a stretch of one piece of wire between two pins, the dotted end
// first: a winding, or windings of a tapped coil one after the other.
type section struct {
	no       int // within its unit
	from, to string
	path     []step
	volts    float64 // no-load, at the unit's own excitation [V]
}

// step is one winding of a section; turned when it runs from end to start.
type step struct {
	w      int
	turned bool
}

// drive is one way to feed a unit's mains side, and what the unit is when it
// is fed so: the network solved for this unit alone tells.
type drive struct {
	unit   int
	coil   *part
	joints int     // of two pins or more within the mains side
	pins   int     // at the live end, as many as at the neutral end
	volts  float64 // across it [V]
	part   bool    // it leaves a tapped part of the mains side unused
	flux   float64 // idle, at the highest mains
	a      []float64
	ap     float64       // induced volts of the coil per reference turn [V]
	r, l   []float64     // per winding [Ω], [H]
	zp     [2]complex128 // of the coil, cold and hot [Ω]
	yE, yY [2]complex128 // induced volts at two points, and ampere turns per E there
	omega  float64
	sd     float64 // at least the relative uncertainty of its secondaries' volts [1]
	none   bool    // no network came of it
}

// Copper temperatures of the ends of an offer's range [°C].
const (
	coldC = 20.0
	hotC  = 85.0
)

// copper is the resistance at the two temperatures over that at 20 °C.
var copper = [2]float64{(234.5 + coldC) / 254.5, (234.5 + hotC) / 254.5}

// neverVolts is what no winding of an offer may exceed [V].
const neverVolts = 1000

// newUnit sorts a unit's windings into the mains side and the rest.
func newUnit(f *network.Facts, src *yokemate.Unit) *unit {
	u := &unit{tag: src.Tag}
	facts, err := f.Unit(src.Tag)
	if err != nil {
		u.shut = &shut{}
		return u
	}
	u.facts = facts
	switch id := src.CoreJoined(); {
	case src.Quarantined():
		reason := src.Reason
		if reason == "" {
			reason = "no reason is given"
		}
		u.shut = &shut{yokemate.Quarantine, u.tag + " is in quarantine: " + reason}
	case id != "":
		u.shut = &shut{yokemate.CoreJoined, "winding " + id + " of " + u.tag + " ends on the core: it may be a microwave-oven unit. Do not energise it"}
	default:
		for _, w := range src.Windings {
			if w.Volts.V > neverVolts {
				u.shut = &shut{yokemate.HazardousVoltage, "winding " + w.ID + " of " + u.tag + " makes more than 1000 V: no hookup is offered with it"}
			}
		}
	}
	u.doubt = src.Mains == nil || insulationUnknown(facts)
	for _, piece := range pieces(src) {
		mains, other := 0, 0
		for _, w := range piece {
			if u.mainsSide(w) {
				mains++
			} else {
				other++
			}
		}
		secs := u.sections(src, piece)
		switch {
		case len(secs) == 0:
		case mains == 0:
			u.groups = append(u.groups, secs)
		case other == 0:
			u.coils = append(u.coils, secs)
		}
		// A piece that is both is an autotransformer of its own: it isolates nothing.
	}
	no := 0
	for _, g := range slices.Concat(u.coils, u.groups) {
		for _, s := range g {
			s.no = no
			no++
		}
	}
	return u
}

// mainsSide is the network's own rule: the label's, or without one the
// windings that were fed when the volts were read.
func (u *unit) mainsSide(id string) bool {
	src := u.facts.Source
	switch {
	case src.Mains != nil:
		return src.MainsSide(id)
	case len(src.Excitation) > 0:
		return slices.Contains(src.Excitation[0].Series, id)
	}
	best := 0
	for i, w := range u.facts.Windings {
		if w.Volts.V > u.facts.Windings[best].Volts.V {
			best = i
		}
	}
	return u.facts.Windings[best].ID == id
}

// pieces parts a unit's windings into those that share pins: each a piece of
// wire, perhaps tapped. It returns ids in the unit's order.
func pieces(src *yokemate.Unit) [][]string {
	of := make([]int, len(src.Windings))
	for i := range of {
		of[i] = i
		for j := range i {
			shared := false
			for _, p := range src.Windings[i].Pins {
				shared = shared || p != yokemate.CorePin && slices.Contains(src.Windings[j].Pins[:], p)
			}
			if shared && of[j] != of[i] {
				old, now := of[i], of[j]
				for k := range i + 1 {
					if of[k] == old {
						of[k] = now
					}
				}
			}
		}
	}
	var out [][]string
	place := map[int]int{}
	for i, w := range src.Windings {
		at, ok := place[of[i]]
		if !ok {
			at = len(out)
			place[of[i]] = at
			out = append(out, nil)
		}
		out[at] = append(out[at], w.ID)
	}
	return out
}

// sections lists every pair of pins of a piece that windings with known
// volts and ohms join in one way only. A pin of a winding that cannot be predicted is left
// alone, for the network would not take it.
func (u *unit) sections(src *yokemate.Unit, piece []string) []*section {
	type side struct {
		pin string
		st  step
	}
	next := map[string][]side{}
	barred := map[string]bool{}
	var pins []string
	for _, id := range piece {
		w := src.Winding(id)
		i := u.facts.Index(id)
		for _, p := range w.Pins {
			if !slices.Contains(pins, p) {
				pins = append(pins, p)
			}
			barred[p] = barred[p] || i < 0
		}
		if i >= 0 {
			next[w.Pins[0]] = append(next[w.Pins[0]], side{w.Pins[1], step{i, false}})
			next[w.Pins[1]] = append(next[w.Pins[1]], side{w.Pins[0], step{i, true}})
		}
	}
	if len(pins) != len(piece)+1 {
		return nil // a ring of windings: no section of it is by itself
	}
	largest := 0.0
	var out []*section
	for i, p := range pins {
		for _, q := range pins[i+1:] {
			if barred[p] || barred[q] {
				continue
			}
			var walk func(at, came string, path []step) []step
			walk = func(at, came string, path []step) []step {
				if at == q {
					return path
				}
				for _, s := range next[at] {
					if s.pin != came {
						if r := walk(s.pin, at, append(slices.Clone(path), s.st)); r != nil {
							return r
						}
					}
				}
				return nil
			}
			path := walk(p, "", nil)
			if path == nil {
				continue
			}
			sec := &section{from: p, to: q, path: path}
			for _, st := range path {
				v := u.facts.Windings[st.w].Volts.V
				if st.turned {
					v = -v
				}
				sec.volts += v
			}
			if sec.volts < 0 {
				sec.volts = -sec.volts
				sec.from, sec.to = q, p
				slices.Reverse(sec.path)
				for i := range sec.path {
					sec.path[i].turned = !sec.path[i].turned
				}
			}
			largest = math.Max(largest, sec.volts)
			out = append(out, sec)
		}
	}
	return slices.DeleteFunc(out, func(s *section) bool { return s.volts < 0.01*largest })
}

// insulationUnknown reports whether the unit has a pair of windings, or a
// winding and the core, of which nothing says what it stands in use: then
// every hookup with it carries a caution.
func insulationUnknown(u *network.Unit) bool {
	ids := []string{yokemate.CorePin}
	for _, w := range u.Windings {
		ids = append(ids, w.ID)
	}
	piece := map[string]int{}
	for i, p := range pieces(u.Source) {
		for _, id := range p {
			piece[id] = i
		}
	}
	for i, a := range ids {
		for _, b := range ids[i+1:] {
			if a != yokemate.CorePin && piece[a] == piece[b] {
				continue
			}
			if !slices.ContainsFunc(u.Source.Insulation, func(t yokemate.Insulation) bool {
				return (t.From == a && t.To == b || t.From == b && t.To == a) &&
					(t.WorkingVolts > 0 || t.TestVolts > 1000 && !t.Megohms.Known())
			}) {
				return true
			}
		}
	}
	return false
}

// coilWays lists how the mains side may be joined: every coil takes part, in
// series or, where they are alike, in parallel; of a tapped coil any section.
func (u *unit) coilWays(at int) []*part {
	if len(u.coils) == 0 || len(u.coils) > 4 {
		return nil
	}
	var ways []*part
	choose(u.coils, func(pick []*section) {
		kids := make([]*part, len(pick))
		most, least := 0.0, math.Inf(1)
		for i, s := range pick {
			kids[i] = &part{unit: at, sec: s}
			most, least = math.Max(most, s.volts), math.Min(least, s.volts)
		}
		if len(kids) == 1 {
			ways = append(ways, kids[0])
			return
		}
		ways = append(ways, seriesOf(kids...))
		if most-least <= 0.1*least {
			ways = append(ways, parallelOf(kids...))
		}
	})
	return ways
}

// choose calls f with one section of each group, in all ways.
func choose(groups [][]*section, f func([]*section)) {
	pick := make([]*section, len(groups))
	var rec func(int)
	rec = func(i int) {
		if i == len(groups) {
			f(slices.Clone(pick))
			return
		}
		for _, s := range groups[i] {
			pick[i] = s
			rec(i + 1)
		}
	}
	rec(0)
}

// newDrive solves the unit alone on the given volts, and reads off what it is.
func (s *search) newDrive(at int, coil *part, share float64) *drive {
	u := s.units[at]
	d := &drive{unit: at, coil: coil, volts: s.need.Feed.Volts.V * share, pins: 1, omega: 2 * math.Pi * s.need.Feed.Hertz}
	switch coil.op {
	case series:
		d.joints = len(coil.kids) - 1
	case parallel:
		d.pins = len(coil.kids)
	}
	used := 0
	coil.leaves(func(p *part) { used += len(p.sec.path) })
	mains := 0
	for _, w := range u.facts.Windings {
		if u.mainsSide(w.ID) {
			mains++
		}
	}
	d.part = used < mains

	p := &plan{s: s, drives: []*drive{d}}
	h := p.hookup()
	h.Feed[0].Volts = yokemate.Num(d.volts)
	h.Feed[0].Low = s.need.Feed.At(yokemate.Low) * share
	h.Feed[0].High = s.need.Feed.At(yokemate.High) * share
	h.Feed[0].Ohms = 0
	net, err := network.Build(s.facts, h, network.Options{})
	if err != nil {
		d.none = true
		return d
	}
	n := len(u.facts.Windings)
	d.a, d.r, d.l = make([]float64, n), make([]float64, n), make([]float64, n)
	for w := range n {
		d.r[w], d.l[w] = u.facts.Params[3*w+1].Value, u.facts.Params[3*w+2].Value
	}
	at2 := func(volts float64, k int) bool {
		sol, err := net.Solve(network.FeedVolts{volts})
		if err != nil {
			return false
		}
		e := sol.Value(net.Induced(0))
		turns := complex(0, 0)
		for w := range n {
			i := sol.Value(net.WindingAmps(0, w))
			v := sol.Value(net.WindingVolts(0, w)) - complex(d.r[w], d.omega*d.l[w])*i
			d.a[w] = real(v / e)
			turns += complex(d.a[w], 0) * i
		}
		d.yE[k], d.yY[k] = e, turns/e
		return true
	}
	sol, err := net.Solve(network.FeedVolts{h.Feed[0].High})
	if err != nil {
		d.none = true
		return d
	}
	d.flux = sol.Flux(0)
	if !at2(0.9*d.volts, 1) || !at2(d.volts, 0) {
		d.none = true
		return d
	}
	for _, p := range u.facts.Params[3*n:] {
		if p.Name == u.tag+" excitation volts" {
			d.sd = p.U / p.Value
		}
	}
	for t := range 2 {
		a, z := d.reduce(coil, t)
		d.ap, d.zp[t] = cmplx.Abs(a), z
	}
	return d
}

// reduce gives an arrangement of one unit's own sections as one winding: its
// induced volts per reference turn and its impedance.
func (d *drive) reduce(p *part, t int) (a, z complex128) {
	switch p.op {
	case leaf:
		for _, st := range p.sec.path {
			x := d.a[st.w]
			if st.turned {
				x = -x
			}
			a += complex(x, 0)
			z += complex(d.r[st.w]*copper[t], d.omega*d.l[st.w])
		}
	case series:
		for _, k := range p.kids {
			ka, kz := d.reduce(k, t)
			a, z = a+ka, z+kz
		}
	case parallel:
		var y complex128
		for _, k := range p.kids {
			ka, kz := d.reduce(k, t)
			y += 1 / kz
			a += ka / kz
		}
		a, z = a/y, 1/y
	}
	if p.rev {
		a = -a
	}
	return a, z
}

// source is what the unit's arrangement (a, z) is to a load near the given
// current, below 0 when it is pushed backwards: open volts and impedance, the
// iron's state taken at that load.
func (d *drive) source(a, z complex128, amps float64, t int) (v0, zz complex128) {
	n := a / complex(d.ap, 0)
	e := d.yE[0]
	e0, e1 := cmplx.Abs(d.yE[0]), cmplx.Abs(d.yE[1])
	refl := n * n * d.zp[t]
	for range 6 {
		f := 0.0
		if e0 != e1 {
			f = (cmplx.Abs(e) - e1) / (e0 - e1)
		}
		y := d.yY[1] + complex(f, 0)*(d.yY[0]-d.yY[1])
		load := complex(0, 0)
		if amps != 0 {
			load = complex(amps, 0) * a * e / complex(cmplx.Abs(a*e), 0)
		}
		e = (complex(d.volts, 0) - d.zp[t]*(n*load+y*e/complex(d.ap, 0))) / complex(d.ap, 0)
		v0 = a*e + refl*load
	}
	return v0, z + refl
}
