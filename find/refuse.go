package find

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/predict"
	"yokemate/si"
)

// A near miss is worth a line when its volts come this near the wanted ones.
const nearly = 0.12

// perReason is how many near misses are named for one reason.
const perReason = 4

// miss is a near miss before it is written out.
type miss struct {
	plan *plan
	trouble
	off float64 // from the wanted volts, as a share of them
}

// refusals names the hookups that look as if they met the need, and why they
// do not: those the network turned down, and those that were never tried for
// a reason that is worth knowing.
func (s *search) refusals() []yokemate.Refusal {
	var all []miss
	all = append(all, s.keptOut()...)
	all = append(all, s.saturated()...)
	all = append(all, s.weak()...)
	if s.dc != nil {
		all = append(all, s.sagging()...)
	}
	if s.need.Rails == 1 {
		all = append(all, s.mismatched()...)
	}
	if s.dc == nil && s.need.MustIsolate() && s.need.Rails == 1 {
		all = append(all, s.joinedToMains()...)
	}
	if s.dc == nil && s.need.Rails == 2 {
		all = append(all, s.separate()...)
	}
	for _, c := range s.failed {
		all = append(all, miss{c.plan, *c.trouble, c.worst / s.need.Volts})
	}
	type listed struct {
		yokemate.Refusal
		joints, units int
		off           float64
	}
	var list []listed
	count := map[yokemate.NoteCode]int{}
	seen := map[string]bool{}
	slices.SortStableFunc(all, func(a, b miss) int {
		return cmp.Or(cmp.Compare(len(a.plan.units()), len(b.plan.units())), cmp.Compare(a.off, b.off))
	})
	for _, m := range all {
		// One for a reason and a set of units tells enough.
		who := fmt.Sprint(m.why, m.plan.units())
		if count[m.why] >= perReason || seen[who] {
			continue
		}
		seen[who] = true
		count[m.why]++
		h := m.plan.hookup()
		if s.dc != nil {
			h = s.dc.rectify(h)
		}
		list = append(list, listed{yokemate.Refusal{Hookup: *h, Why: m.why, Words: m.words}, jointCount(h), len(m.plan.units()), m.off})
	}
	slices.SortStableFunc(list, func(a, b listed) int {
		return cmp.Or(cmp.Compare(a.units, b.units), cmp.Compare(a.joints, b.joints), cmp.Compare(a.off, b.off))
	})
	out := []yokemate.Refusal{}
	for _, l := range list[:min(len(list), s.opt.Refusals)] {
		out = append(out, l.Refusal)
	}
	return out
}

// off is how far an element's volts at the need's amps lie from the wanted
// ones, the worse of cold and hot, as a share of them.
func (s *search) off(e *element) float64 {
	if s.dc != nil {
		return s.dc.off(e)
	}
	w := 0.0
	for t := range 2 {
		w = math.Max(w, math.Abs(e.volts(s.need.Amps, t)/s.need.Volts-1))
	}
	return w
}

// tolerance is that of the need that was asked.
func (s *search) tolerance() float64 {
	if s.dc != nil {
		return s.dc.need.Tolerance
	}
	return s.need.Tolerance
}

// railsOf lays an element out as what the need asks for, or returns nil where
// one element alone cannot be.
func (s *search) railsOf(e *element) *plan {
	if s.need.Rails == 2 {
		return nil
	}
	return s.plan([]*part{e.part}, e.drives, false)
}

// nearest turns elements into misses, the nearest of each unit.
func (s *search) nearest(es []*element, t func(*element) (trouble, bool)) []miss {
	best := map[int]miss{}
	var units []int
	for _, e := range es {
		off := s.off(e)
		if off > math.Max(nearly, s.tolerance()) {
			continue
		}
		p := s.railsOf(e)
		if p == nil {
			continue
		}
		why, ok := t(e)
		if !ok {
			continue
		}
		at := e.drives[0].unit
		old, have := best[at]
		if !have {
			units = append(units, at)
		}
		if !have || off < old.off {
			best[at] = miss{p, why, off}
		}
	}
	var out []miss
	for _, u := range units {
		out = append(out, best[u])
	}
	return out
}

// keptOut are units that no hookup may hold and that would do.
func (s *search) keptOut() []miss {
	var out []miss
	for at, u := range s.units {
		if u.facts == nil || u.shut == nil || u.shut.why == "" {
			continue
		}
		var es []*element
		for _, coil := range u.coilWays(at) {
			if d := s.newDrive(at, coil, 1); !d.none {
				es = append(es, s.elements(d)...)
			}
		}
		out = append(out, s.nearest(es, func(*element) (trouble, bool) { return trouble{u.shut.why, u.shut.words}, true })...)
	}
	return out
}

// saturated are units that would do but for the mains they are made for.
func (s *search) saturated() []miss {
	return s.nearest(s.over, func(e *element) (trouble, bool) {
		d := e.drives[0]
		return trouble{yokemate.OverFlux, fmt.Sprintf("at the highest mains the core of %s is at %.2f of its rated volts per hertz; %.2f is the most", s.units[d.unit].tag, d.flux, fluxStop)},
			e.lim >= s.need.Amps/2
	})
}

// weak are units with the volts and without the amps.
func (s *search) weak() []miss {
	return s.nearest(s.elems, func(e *element) (trouble, bool) {
		if s.off(e) > s.tolerance() || e.lim < s.need.Amps/4 || e.circ > 0.15 {
			return trouble{}, false
		}
		if d := s.dc; d != nil {
			amps := d.mostOf(e)
			return trouble{yokemate.DCOverRating, fmt.Sprintf("behind a rectifier it gives %s DC at the very most, its limit being %s rms, and %s is wanted", si.Format(amps, "A", 2), si.Format(e.lim, "A", 3), si.Format(d.need.Amps, "A", 3))}, amps < d.need.Amps
		}
		if e.lim >= s.need.Amps {
			return trouble{}, false
		}
		return trouble{yokemate.OverCurrent, fmt.Sprintf("it may give %s, and %s is wanted", si.Format(e.lim, "A", 3), si.Format(s.need.Amps, "A", 3))}, true
	})
}

// mismatched are pairs of units whose windings look alike and would drive too
// much through each other.
func (s *search) mismatched() []miss {
	var es []*element
	for _, e := range s.elems {
		if e.part.op == leaf && s.off(e) <= math.Max(nearly, s.tolerance()) {
			es = append(es, e)
		}
	}
	slices.SortStableFunc(es, func(a, b *element) int { return cmp.Compare(s.off(a), s.off(b)) })
	es = es[:min(len(es), 40)]
	type found struct {
		b    *element
		part float64
	}
	var pairs []found
	for i, e := range es {
		for _, f := range es[:i] {
			if e.shares(f) || e.lim+f.lim < s.need.Amps {
				continue
			}
			two := []*element{e, f}
			byShelf(two)
			if b := bank(two...); b.circ > 0.15 && b.circ < 2 && s.off(b) <= s.tolerance() {
				pairs = append(pairs, found{b, b.circ})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b found) int { return cmp.Compare(a.part, b.part) })
	var out []miss
	for _, f := range pairs {
		if len(out) == perReason/2 {
			break
		}
		p := s.plan([]*part{f.b.part}, f.b.drives, false)
		if t, ok := s.stopped(p, yokemate.Circulating); ok {
			a, b := cmplx.Abs(s.open(f.b.part.kids[0], f.b)), cmplx.Abs(s.open(f.b.part.kids[1], f.b))
			t.words = fmt.Sprintf("%s and %s differ by %.1f %%: ", si.Format(a, "V", 4), si.Format(b, "V", 4), 100*math.Abs(a-b)/math.Min(a, b)) + t.words
			out = append(out, miss{p, t, s.off(f.b)})
		}
	}
	return out
}

// open is the open volts of one unit's part of an element.
func (s *search) open(p *part, e *element) complex128 {
	for _, d := range e.drives {
		if d.unit == p.unit {
			a, _ := d.reduce(p, 0)
			return a * d.yE[0]
		}
	}
	return 0
}

// stopped asks package predict for the stop note of that code.
func (s *search) stopped(p *plan, code yokemate.NoteCode) (trouble, bool) {
	r, err := predict.Hookup(s.facts, p.hookup(), yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return trouble{}, false
	}
	for _, n := range r.Notes {
		if n.Code == code && n.Level == yokemate.Stop {
			return trouble{n.Code, n.Words}, true
		}
	}
	return trouble{}, false
}

// joinedToMains are boosts and bucks that would do where isolation is not
// asked for.
func (s *search) joinedToMains() []miss {
	base := s.need.Feed.Volts.V
	if math.Abs(s.need.Volts-base) > base/2 {
		return nil
	}
	p := &pool{s: s, caution: 1, size: 2}
	s.chains(p, 1, 1, base, s.elems)
	var out []miss
	for _, c := range p.best {
		if s.solve(c) != nil {
			continue
		}
		out = append(out, miss{c.plan, trouble{yokemate.NotIsolated, fmt.Sprintf("it gives %s from the mains with %s added or taken off, and joins the output to the mains; the need asks for isolation",
			si.Format(c.offer.FullLoad, "V", 3), si.Format(math.Abs(c.offer.FullLoad-base), "V", 3))}, c.worst / s.need.Volts})
	}
	return out
}

// separate are like units with their mains sides in series and a rail each.
func (s *search) separate() []miss {
	var es []*element
	for _, e := range s.shared(0.5) {
		if e.part.op == leaf && s.off(e) <= math.Max(nearly, s.need.Tolerance) && e.lim >= s.need.Amps {
			es = append(es, e)
		}
	}
	var out []miss
	for i, e := range es {
		for _, f := range es[:i] {
			if len(out) == perReason/2 {
				return out
			}
			if e.shares(f) || !s.likeUnits(e, f) {
				continue
			}
			two := []*element{e, f}
			byShelf(two)
			p := s.plan([]*part{two[0].part, two[1].part}, []*drive{two[0].drives[0], two[1].drives[0]}, false)
			p.inRow, p.apart = true, true
			if t, ok := s.stopped(p, yokemate.SeparateLoads); ok {
				out = append(out, miss{p, t, math.Max(s.off(e), s.off(f))})
			}
		}
	}
	return out
}
