package find

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
)

// pair is two rails out of one unit, or of several side by side.
type pair struct{ one, two *element }

// railGenerators lists what two rails may be made of: both from one unit, a
// bank of such units, or each rail from units of its own.
func (s *search) railGenerators(caution int, add func(key, func(*pool))) {
	n := s.maxUnits()
	add(key{caution, 0, 1, 0}, func(p *pool) {
		for _, r := range s.pairs(caution) {
			s.addRails(p, r, 1)
		}
	})
	for u := 2; u <= n; u++ {
		add(key{caution, 6, u, 0}, func(p *pool) { s.pairBanks(p, u) })
		if !s.centreTap() {
			add(key{caution, 4, u, 0}, func(p *pool) { s.ownRails(p, u) })
		}
	}
}

// centreTap reports whether the two rails are the halves of a two-diode rectifier.
func (s *search) centreTap() bool { return s.dc != nil && s.dc.kind == "centre-tap" }

// pairs lists the ways one unit makes two rails: elements that share no piece
// of wire, or the two sides of a tap.
func (s *search) pairs(caution int) []pair {
	var out []pair
	for i, e := range s.elems {
		if caution == 0 && e.doubtful(s.need.Amps) || e.part.op == leaf && e.part.rev {
			continue
		}
		for _, f := range s.elems[i:] {
			if f.drives[0] != e.drives[0] {
				break
			}
			if caution == 0 && f.doubtful(s.need.Amps) {
				continue
			}
			if e == f {
				continue
			}
			one, two := e, f
			if s.overlap(e, f) {
				switch {
				case e.part.op != leaf || f.part.op != leaf:
					continue
				case e.part.sec.to == f.part.sec.from && !meet(e.part.sec, f.part.sec):
				case f.part.sec.to == e.part.sec.from && !meet(e.part.sec, f.part.sec):
					one, two = f, e
				default:
					continue
				}
			}
			d := e.drives[0]
			r := pair{s.railOf(one, two, d), s.railOf(two, one, d)}
			out = append(out, r)
		}
	}
	return out
}

// overlap reports whether two elements of one unit use the same piece of wire.
func (s *search) overlap(e, f *element) bool {
	groups := func(e *element) (at []int) {
		e.part.leaves(func(p *part) {
			for g, secs := range s.units[p.unit].groups {
				if slices.Contains(secs, p.sec) {
					at = append(at, g)
				}
			}
		})
		return at
	}
	a := groups(e)
	for _, g := range groups(f) {
		if slices.Contains(a, g) {
			return true
		}
	}
	return false
}

// meet reports whether two sections have a winding in common.
func meet(a, b *section) bool {
	for _, x := range a.path {
		for _, y := range b.path {
			if x.w == y.w {
				return true
			}
		}
	}
	return false
}

// railOf is an element as one rail beside another that carries the same load:
// the mains side's drop is that of both.
func (s *search) railOf(e, beside *element, d *drive) *element {
	r := *e
	for t := range 2 {
		a, z := d.reduce(e.part, t)
		b, _ := d.reduce(beside.part, t)
		v0, zz := d.source(a+b, 0, math.Min(s.need.Amps, math.Min(e.lim, beside.lim)), t)
		share := a / (a + b)
		if s.centreTap() {
			// One half draws at a time.
			r.v0[t], r.z[t] = v0*share, z+zz*share*share
			continue
		}
		r.v0[t] = v0 * share
		r.z[t] = z + zz*share
	}
	return &r
}

// addRails offers a pair to the pool.
func (s *search) addRails(p *pool, r pair, units int) {
	if s.dc != nil {
		a, b := cmplx.Abs(r.one.v0[0]), cmplx.Abs(r.two.v0[0])
		if math.Abs(a-b) > halves*math.Min(a, b) {
			return
		}
	}
	fit, loose := 0.0, false
	if s.dc != nil {
		// Both feed the same reservoirs by turns.
		f, ok := s.dc.bound(s, mean(r), sidesOff(r.one, r.two, mostPulse*s.dc.need.Amps))
		if !ok {
			return
		}
		fit = f
	} else {
		for _, e := range []*element{r.one, r.two} {
			f, far, ok := s.bound(e, 0)
			if !ok {
				return
			}
			fit, loose = math.Max(fit, f), loose || far
		}
	}
	r.one, r.two = r.one.wired(true, false), r.two.wired(false, true)
	// Together the worse deviation and the smaller limit decide.
	drives := slices.Clone(r.one.drives)
	for _, d := range r.two.drives {
		if !slices.Contains(drives, d) {
			drives = append(drives, d)
		}
	}
	if len(drives) != units {
		return
	}
	mid := r.one.to + r.two.from
	if tapped(r) {
		mid = len(drives)
	}
	k := key{
		bit(loose || r.one.doubtful(s.need.Amps) || r.two.doubtful(s.need.Amps)),
		r.one.joints + r.two.joints + bit(r.one.from > 1) + bit(mid > 1) + bit(r.two.to > 1) + feedJoints(drives, false, 0),
		units, fit,
	}
	p.add(k, nil, []*element{r.one, r.two}, func() *plan { return s.plan([]*part{r.one.part, r.two.part}, drives, false) })
}

// mostPulse is the rms amps of a source for one DC amp at the most [1].
const mostPulse = 3.0

// mean is one source for both sides of a middle.
func mean(r pair) *element {
	m := *r.one
	for t := range 2 {
		m.v0[t] = complex((cmplx.Abs(r.one.v0[t])+cmplx.Abs(r.two.v0[t]))/2, 0)
		m.z[t] = (r.one.z[t] + r.two.z[t]) / 2
	}
	// Sides that are not alike carry unlike parts of the amps.
	m.lim = math.Sqrt((r.one.lim*r.one.lim + r.two.lim*r.two.lim) / 2)
	m.circ = math.Max(r.one.circ, r.two.circ)
	return &m
}

// tapped reports whether the rails meet in a tap of each unit.
func tapped(r pair) bool {
	first := func(p *part) *part {
		for p.op != leaf {
			p = p.kids[0]
		}
		return p
	}
	if r.one.part.op != r.two.part.op || r.one.part.op == series {
		return false
	}
	a, b := first(r.one.part), first(r.two.part)
	return a.unit == b.unit && a.sec.to == b.sec.from
}

// pairBanks gives like units, each making both rails, side by side.
func (s *search) pairBanks(p *pool, units int) {
	var rs []pair
	back := map[*element]int{}
	var firsts []*element
	for _, r := range s.pairs(p.caution) {
		if r.one.part.op != leaf || r.two.part.op != leaf || !s.inBank(r.one) || !s.inBank(r.two) {
			continue
		}
		back[r.one] = len(rs)
		rs = append(rs, r)
		firsts = append(firsts, r.one)
	}
	eachBank(firsts, units, units, s.need.Amps, false, func(pick []*element) {
		es := slices.Clone(pick)
		byShelf(es)
		two := make([]*element, len(es))
		tap := false
		for i, e := range es {
			r := rs[back[e]]
			two[i] = r.two
			if i == 0 {
				tap = tapped(r)
			} else if tapped(r) != tap {
				return
			}
		}
		s.addRails(p, pair{bank(es...), bank(two...)}, units)
	})
}

// ownRails gives rails that share no unit, each an element, a chain or a bank.
func (s *search) ownRails(p *pool, units int) {
	all := make([][]*element, units)
	for _, e := range s.one(p.caution, false) {
		if _, _, ok := s.bound(e, 0); ok {
			all[1] = append(all[1], e)
		}
	}
	for u := 2; u < units; u++ {
		keep := func(es []*element) {
			for _, e := range es {
				if _, _, ok := s.bound(e, 0); ok && len(e.drives) == u {
					all[u] = append(all[u], e)
				}
			}
		}
		keep(s.railChains(p.caution, u))
		keep(s.railBanks(p.caution, u))
	}
	for u := 1; u <= units-u; u++ {
		for i, e := range all[u] {
			rest := all[units-u]
			if u == units-u {
				rest = rest[i+1:]
			}
			for _, f := range rest {
				if !e.shares(f) {
					one, two := e, f
					if two.drives[0].unit < one.drives[0].unit {
						one, two = two, one
					}
					s.addRails(p, pair{one, two}, units)
				}
			}
		}
	}
}

// railChains lists the aiding chains of so many units that make a rail.
func (s *search) railChains(caution, units int) []*element {
	es := s.one(caution, false)
	var strong []*element
	for _, e := range es {
		if e.lim*errLim >= s.need.Amps {
			strong = append(strong, e)
		}
	}
	most := s.need.Volts * (1 + s.need.Tolerance) * 1.02
	least := s.need.Volts * (1 - s.need.Tolerance) * 0.98
	slices.SortStableFunc(strong, func(a, b *element) int {
		return cmp.Compare(a.volts(s.need.Amps, 1), b.volts(s.need.Amps, 1))
	})
	var out, pick []*element
	var rec func(start, left int, low, open float64)
	rec = func(start, left int, low, open float64) {
		if left == 0 {
			if open >= least {
				es := slices.Clone(pick)
				byShelf(es)
				out = append(out, chain(es...))
			}
			return
		}
	next:
		for i := start; i < len(strong); i++ {
			v := low + strong[i].volts(s.need.Amps, 1)
			if v > most {
				break
			}
			for _, q := range pick {
				if strong[i].shares(q) {
					continue next
				}
			}
			pick = append(pick, strong[i])
			rec(i+1, left-1, v, open+cmplx.Abs(strong[i].v0[0]))
			pick = pick[:len(pick)-1]
		}
	}
	rec(0, units, 0, 0)
	return out
}

// railBanks lists the banks of so many units that make a rail.
func (s *search) railBanks(caution, units int) []*element {
	var es, out []*element
	for _, e := range s.one(caution, true) {
		if s.inBank(e) {
			es = append(es, e)
		}
	}
	eachBank(es, units, 2, s.need.Amps, false, func(pick []*element) {
		es := slices.Clone(pick)
		byShelf(es)
		out = append(out, bank(es...))
	})
	return out
}
