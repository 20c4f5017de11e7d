package find

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
	"sort"
)

// generators lists everything this need may be met by.
func (s *search) generators() []*generator {
	var gs []*generator
	add := func(k key, run func(*pool)) { gs = append(gs, &generator{key: k, run: run}) }
	n := s.maxUnits()
	for caution := range 2 {
		if s.need.Rails == 2 {
			s.railGenerators(caution, add)
			continue
		}
		for u := 1; u <= n; u++ {
			joints := 0
			if u > 1 {
				joints = 3 + u - 1
			}
			add(key{caution, joints, u, 0}, func(p *pool) { s.chains(p, u, u, 0, s.one(caution, false)) })
			if u == 1 {
				continue
			}
			add(key{caution, 5, u, 0}, func(p *pool) { s.banks(p, u, s.one(caution, true), false) })
			for parts := 2; parts < u; parts++ {
				add(key{caution, 3 + parts - 1 + bit(parts == 2), u, 0}, func(p *pool) { s.chains(p, parts, u, 0, s.withBanks(caution, u-parts+1)) })
			}
			if u > 2 {
				add(key{caution, 6, u, 0}, func(p *pool) { s.banks(p, u, s.withChains(caution, u-1), true) })
			}
			add(key{caution, 3, u, 0}, func(p *pool) { s.inRow(p, u) })
		}
		if caution == 0 {
			continue
		}
		if n >= 2 && s.dc == nil {
			add(key{1, 3, 2, 0}, s.upAgain)
		}
		if !s.need.MustIsolate() {
			base := s.need.Feed.Volts.V
			for u := 1; u <= n; u++ {
				joints := 1
				if u > 1 {
					joints = 3 + u - 1
				}
				add(key{1, joints, u, 0}, func(p *pool) { s.chains(p, u, u, base, s.one(1, false)) })
			}
		}
	}
	return gs
}

// one is the elements of one unit.
func (s *search) one(caution int, inBank bool) []*element {
	return s.calmOnes(s.elems, caution, inBank)
}

// least is the joints that feeding so many units takes at least.
func leastFeed(units int) int {
	if units > 1 {
		return 3
	}
	return 0
}

// chains gives all chains of so many parts and units whose volts, on top of
// base volts, come to what is wanted. The weakest part is chosen first, from
// the strongest down, so that a full pool ends the search early.
func (s *search) chains(p *pool, parts, units int, base float64, from []*element) {
	type item struct {
		e *element
		x float64
	}
	target := s.need.Volts - base
	var items []item
	for _, e := range from {
		if math.Max(e.lim, e.limBack)*errLim < s.need.Amps || len(e.drives) > units-parts+1 || e.circ > 0.15*errCirc {
			continue
		}
		x := e.volts(s.need.Amps, 0)
		if base > 0 {
			// The drop of an opposing part adds to its volts, and is in phase.
			x = real(loadedOn(base, e.v0[0], e.z[0], s.need.Amps))
		}
		items = append(items, item{e: e, x: x})
		if parts > 1 || base > 0 {
			back := e.turned()
			x := -cmplx.Abs(e.v0[0]) - real(e.z[0])*s.need.Amps
			if base > 0 {
				x = real(loadedOn(base, back.v0[0], back.z[0], s.need.Amps))
			}
			items = append(items, item{e: back, x: x})
		}
	}
	slices.SortStableFunc(items, func(a, b item) int { return cmp.Compare(b.e.lim, a.e.lim) })
	leastJoints := leastFeed(units) + parts - 1
	if units > parts && parts == 2 {
		leastJoints++ // the bank stands at an end
	}
	if base > 0 && units == 1 {
		leastJoints = 1
	}
	var sorted []item // by x, of those stronger than the one at hand
	pick := make([]*element, 0, parts)
	try := func() {
		// A first look with sums alone: most of what comes here goes no further.
		var v0, z [2]complex128
		lim, n, doubt, joints := math.Inf(1), 0, base > 0, leastJoints
		for i, e := range pick {
			n += len(e.drives)
			joints += e.joints
			for _, d := range e.drives {
				joints += d.joints
			}
			lim = math.Min(lim, e.lim)
			doubt = doubt || e.doubtful(s.need.Amps)
			for _, f := range pick[:i] {
				if e.shares(f) {
					return
				}
			}
			for t := range 2 {
				v0[t] += e.v0[t]
				z[t] += e.z[t]
			}
		}
		if n != units {
			return
		}
		rough, _, ok := s.bound(&element{v0: v0, z: z, lim: lim}, base)
		if !ok || p.hopeless(key{bit(doubt), joints, units, rough}) {
			return
		}
		es := slices.Clone(pick)
		byShelf(es)
		c := es[0]
		if len(es) > 1 {
			if c = chain(es...); c.pointless() {
				return
			}
		}
		fit, loose, ok := s.bound(c, base)
		if !ok {
			return
		}
		if base > 0 {
			c = c.wired(true, false)
		}
		k := key{bit(loose || c.doubtful(s.need.Amps) || base > 0), c.joints + c.ends() + feedJoints(c.drives, false, 0), units, fit}
		if base > 0 {
			// Its far end is the live joint, which has one pin at least without it.
			k.joints = c.joints + bit(c.from > 1) + feedJoints(c.drives, false, c.to)
		}
		p.add(k, c, es, func() *plan { return s.plan([]*part{c.part}, c.drives, base > 0) })
	}
	for _, it := range items {
		win := p.window(leastJoints, units, it.e.lim)
		if win < 0 {
			break
		}
		pick = append(pick[:0], it.e)
		if parts == 1 {
			try()
			continue
		}
		var rec func(left, start int, sum, weight float64)
		rec = func(left, start int, sum, weight float64) {
			if start >= len(sorted) {
				return
			}
			top := sorted[len(sorted)-1].x
			// What is left out of x: the slack of the reckoning, and angles
			// between parts, which cost at most 2 %.
			room := func(w float64) float64 { return win + 2*errVolts*w + 0.02*w + errDrop*w }
			if left == 1 {
				far := room(weight + math.Max(math.Abs(top), math.Abs(sorted[start].x)))
				lo := target - far - sum
				for i := start + sort.Search(len(sorted)-start, func(i int) bool { return sorted[start+i].x >= lo }); i < len(sorted); i++ {
					x := sorted[i].x
					if x > target+far-sum {
						break
					}
					if math.Abs(sum+x-target) > room(weight+math.Abs(x)) {
						continue
					}
					pick = append(pick, sorted[i].e)
					try()
					pick = pick[:len(pick)-1]
				}
				return
			}
			for i := start; i < len(sorted); i++ {
				x := sorted[i].x
				far := room(weight + float64(left)*math.Max(math.Abs(top), math.Abs(x)))
				if sum+float64(left)*x > target+far {
					break
				}
				if sum+x+float64(left-1)*top < target-far {
					continue
				}
				pick = append(pick, sorted[i].e)
				rec(left-1, i+1, sum+x, weight+math.Abs(x))
				pick = pick[:len(pick)-1]
			}
		}
		rec(parts-1, 0, it.x, math.Abs(it.x))
		at := sort.Search(len(sorted), func(i int) bool { return sorted[i].x >= it.x })
		sorted = slices.Insert(sorted, at, it)
	}
}

func (s *search) plan(rails []*part, drives []*drive, auto bool) *plan {
	ds := slices.Clone(drives)
	slices.SortFunc(ds, func(a, b *drive) int { return cmp.Compare(a.unit, b.unit) })
	return &plan{s: s, drives: ds, rails: rails, auto: auto}
}

// inBank reports whether an element may be a branch of a bank that makes the
// wanted volts: between its open volts and its volts at its limit.
func (s *search) inBank(e *element) bool {
	tol := s.need.Tolerance * s.need.Volts
	open := cmplx.Abs(e.v0[0])
	low := e.volts(math.Min(e.lim*errLim, s.need.Amps), 1)
	err := slack(open, open-low) + errVolts*open
	return open+err > s.need.Volts-tol && low-err < s.need.Volts+tol && e.circ <= 0.15*errCirc
}

// eachBank calls f with every bank of so many units from the elements, which
// are sorted by volts on the way; branches that would drive too much through
// each other whatever stands beside them are left out, and so are banks whose
// limits together do not come to the amps. Mixed asks for a branch of several
// units.
func eachBank(from []*element, units, least int, amps float64, mixed bool, f func([]*element)) {
	es := slices.Clone(from)
	slices.SortStableFunc(es, func(a, b *element) int { return cmp.Compare(cmplx.Abs(a.v0[0]), cmplx.Abs(b.v0[0])) })
	n := len(es)
	v, z, drop := make([]float64, n), make([]float64, n), make([]float64, n)
	every, singles := make([]int, n), make([]int, 0, n)
	most, reach, strong := 0.0, 0.0, 0.0
	for i, e := range es {
		v[i], z[i] = cmplx.Abs(e.v0[0]), cmplx.Abs(e.z[0])
		drop[i] = z[i] * e.lim
		every[i] = i
		if len(e.drives) == 1 {
			singles = append(singles, i)
		}
		most, reach = math.Max(most, drop[i]), math.Max(reach, z[i])
		strong = math.Max(strong, math.Max(e.lim, e.limBack)/float64(len(e.drives)))
	}
	// In any bank one of two branches carries at least half of what the gap
	// between them would drive through the larger impedance; that may be a
	// share of the smaller limit. min(lim)·max(z) is no more than the larger drop.
	const share = 2 * 0.15 * errCirc
	var at []int
	pick := make([]*element, 0, units)
	var rec func(start, left int, lim float64)
	rec = func(start, left int, lim float64) {
		if (lim+float64(left)*strong)*errLim < amps || mixed && left == 1 && len(pick) == units-1 {
			return
		}
		if left == 0 {
			if len(pick) >= least {
				f(pick)
			}
			return
		}
		// Where one unit is left, those of several need not be passed over
		// one by one.
		from, step := start, every
		if left == 1 {
			from, step = sort.SearchInts(singles, start), singles
		}
	next:
		for ; from < len(step); from++ {
			i := step[from]
			e := es[i]
			if len(e.drives) > left {
				continue
			}
			for _, q := range at {
				gap := v[i] - v[q]
				if gap > share*math.Min(most, es[q].lim*reach) {
					return
				}
				if gap > share*math.Min(es[q].lim, e.lim)*math.Max(z[i], z[q]) || e.shares(es[q]) {
					continue next
				}
			}
			pick, at = append(pick, e), append(at, i)
			rec(i+1, left-len(e.drives), lim+math.Max(e.lim, e.limBack))
			pick, at = pick[:len(pick)-1], at[:len(at)-1]
		}
	}
	rec(0, units, 0)
}

// banks gives all banks of so many units; mixed asks for a branch of several
// units.
func (s *search) banks(p *pool, units int, from []*element, mixed bool) {
	var es []*element
	for _, e := range from {
		if s.inBank(e) {
			es = append(es, e)
		}
	}
	eachBank(es, units, 2, s.need.Amps, mixed, func(pick []*element) {
		es := slices.Clone(pick)
		byShelf(es)
		s.addBank(p, es, units, nil)
	})
}

func (s *search) addBank(p *pool, es []*element, units int, change func(*plan)) {
	b := bank(es...)
	if change != nil {
		// Mains sides in series are no stiff sources: tied, the units settle who
		// takes how much of the mains, and drive next to nothing through each other.
		b.circ, b.doubt, b.lim = 0, false, 0
		for _, e := range es {
			b.doubt = b.doubt || e.doubt
			b.lim = math.Max(b.lim, e.lim*float64(len(es)))
		}
	}
	fit, loose, ok := s.bound(b, 0)
	if !ok {
		return
	}
	k := key{bit(loose || b.doubt), b.joints + b.ends() + feedJoints(b.drives, change != nil, 0), units, fit}
	p.add(k, b, es, func() *plan {
		q := s.plan([]*part{b.part}, b.drives, false)
		if change != nil {
			change(q)
		}
		return q
	})
}

// withBanks is the elements of one unit and the banks of up to so many units.
func (s *search) withBanks(caution, units int) []*element {
	es := s.one(caution, true)
	out := s.one(caution, false)
	for u := 2; u <= units; u++ {
		eachBank(es, u, 2, s.need.Amps, false, func(pick []*element) {
			es := slices.Clone(pick)
			byShelf(es)
			if b := bank(es...); math.Max(b.lim, b.limBack)*errLim >= s.need.Amps && b.circ <= 0.15*errCirc && (caution == 1 || !b.doubt) {
				out = append(out, b)
			}
		})
	}
	return out
}

// withChains is the elements of one unit and the aiding chains of up to so
// many that may be branches of a bank.
func (s *search) withChains(caution, units int) []*element {
	es := s.one(caution, true)
	out := slices.Clone(es)
	v := func(e *element) float64 { return e.volts(math.Min(e.lim, s.need.Amps), 1) }
	most := s.need.Volts * (1 + s.need.Tolerance) * 1.02
	sorted := slices.Clone(es)
	slices.SortStableFunc(sorted, func(a, b *element) int { return cmp.Compare(v(a), v(b)) })
	low, open := make([]float64, len(sorted)), make([]float64, len(sorted))
	high := 0.0
	for i, e := range sorted {
		low[i], open[i] = v(e), cmplx.Abs(e.v0[0])
		high = math.Max(high, open[i])
	}
	least := s.need.Volts * (1 - s.need.Tolerance) * 0.98
	var pick []*element
	var rec func(start, left int, sumLow, sumOpen float64)
	rec = func(start, left int, sumLow, sumOpen float64) {
		if len(pick) > 1 && sumOpen >= least {
			es := slices.Clone(pick)
			byShelf(es)
			if c := chain(es...); !c.pointless() && s.inBank(c) {
				out = append(out, c)
			}
		}
		if left == 0 {
			return
		}
	next:
		for i := start; i < len(sorted); i++ {
			if sumLow+low[i] > most {
				break
			}
			if sumOpen+open[i]+float64(left-1)*high < least {
				continue
			}
			for _, q := range pick {
				if sorted[i].shares(q) {
					continue next
				}
			}
			pick = append(pick, sorted[i])
			rec(i+1, left-1, sumLow+low[i], sumOpen+open[i])
			pick = pick[:len(pick)-1]
		}
	}
	rec(0, units, 0, 0)
	return out
}

// inRow gives like units with their mains sides in series across the feed and
// their other windings tied, in a bank or in a chain to one load.
func (s *search) inRow(p *pool, units int) {
	if units < 2 {
		return
	}
	byShape := map[string][]*element{}
	var shapes []string
	for _, e := range s.shared(1 / float64(units)) {
		if p.caution == 0 && e.doubt {
			continue
		}
		k := shape(e)
		if _, ok := byShape[k]; !ok {
			shapes = append(shapes, k)
		}
		byShape[k] = append(byShape[k], e)
	}
	tol := s.need.Tolerance * s.need.Volts
	for _, k := range shapes {
		es := byShape[k]
		var pick []*element
		var rec func(start int)
		rec = func(start int) {
			if len(pick) == units {
				es := slices.Clone(pick)
				s.addBank(p, es, units, func(q *plan) { q.inRow = true })
				c := chain(es...)
				if fit, loose, ok := s.bound(c, 0); ok {
					k := key{bit(loose || c.doubtful(s.need.Amps)), c.joints + c.ends() + feedJoints(c.drives, true, 0), units, fit}
					p.add(k, c, es, func() *plan {
						q := s.plan([]*part{c.part}, c.drives, false)
						q.inRow = true
						return q
					})
				}
				return
			}
			for i := start; i < len(es); i++ {
				e := es[i]
				if len(pick) > 0 && (e.shares(pick[len(pick)-1]) || !s.likeUnits(pick[0], e)) {
					continue
				}
				// Alone in the bank or times all in the chain it must come near.
				v := e.volts(math.Min(e.lim, s.need.Amps), 1)
				near := v < (s.need.Volts+tol)*1.1 && cmplx.Abs(e.v0[0]) > (s.need.Volts-tol)*0.9
				n := float64(units)
				inChain := e.lim*errLim >= s.need.Amps && n*v < (s.need.Volts+tol)*1.2 && n*cmplx.Abs(e.v0[0]) > (s.need.Volts-tol)*0.8
				if !near && !inChain {
					continue
				}
				pick = append(pick, e)
				rec(i + 1)
				pick = pick[:len(pick)-1]
			}
		}
		rec(0)
	}
}

// shared is the elements of units fed on a share of the mains, of mains sides
// with one pin at either end.
func (s *search) shared(share float64) []*element {
	var out []*element
	for at, u := range s.units {
		if u.facts == nil || u.shut != nil {
			continue
		}
		for _, coil := range u.coilWays(at) {
			if coil.op == parallel {
				continue
			}
			d := s.newDrive(at, coil, share)
			if d.none || d.flux > fluxStop {
				continue
			}
			out = append(out, s.elements(d)...)
		}
	}
	return out
}

// shape is an element's arrangement without its unit.
func shape(e *element) string {
	c := &plan{rails: []*part{shapeOf(e.part)}}
	d := shapeOf(e.drives[0].coil)
	c.rails = append(c.rails, d)
	return c.text()
}

func shapeOf(p *part) *part {
	q := *p
	q.unit = 0
	q.kids = nil
	for _, k := range p.kids {
		q.kids = append(q.kids, shapeOf(k))
	}
	return &q
}

// likeUnits reports whether two units are near enough alike for their mains
// sides to share the mains in series.
func (s *search) likeUnits(a, b *element) bool {
	x, y := a.drives[0], b.drives[0]
	near := func(p, q, by float64) bool { return math.Abs(p-q) <= by*math.Max(math.Abs(p), math.Abs(q)) }
	return near(cmplx.Abs(a.v0[0]), cmplx.Abs(b.v0[0]), 0.05) && near(x.flux, y.flux, 0.05) &&
		near(real(x.zp[0]), real(y.zp[0]), 0.3) && near(cmplx.Abs(x.yY[0])/x.ap/x.ap, cmplx.Abs(y.yY[0])/y.ap/y.ap, 0.3)
}

// upAgain gives two units back to back: one steps down, the other up again.
func (s *search) upAgain(p *pool) {
	for at, u := range s.units {
		if u.facts == nil || u.shut != nil {
			continue
		}
		for _, coil := range u.coilWays(at) {
			// What the second unit is when driven from its low side follows
			// from what it is on its mains side, the same iron.
			d := s.newDrive(at, coil, 1)
			if d.none {
				continue
			}
			lows := s.elements(d)
			for _, low := range lows {
				if low.part.op != leaf {
					continue
				}
				for _, e := range s.elems {
					if e.drives[0].unit == at {
						continue
					}
					s.tryUp(p, e, low, d)
				}
			}
		}
	}
}

// errUp is how far back-to-back volts may lie from the reckoned ones: the
// second unit's iron is taken as on its mains side.
const errUp = 0.08

func (s *search) tryUp(p *pool, e, low *element, d *drive) {
	a, _ := d.reduce(low.part, 0)
	n := d.ap / cmplx.Abs(a)
	amps := s.need.Amps * n
	lim := math.Min(e.lim, low.lim)
	if lim*errLim < amps {
		return
	}
	dev := 0.0
	for t := range 2 {
		_, zl := d.reduce(low.part, t)
		zin := e.z[t] + zl
		// The idle amps of the second unit, at most as on the mains; in
		// quadrature or in phase, the slack covers both.
		idle := cmplx.Abs(d.yY[0]) * (cmplx.Abs(e.v0[t]) / cmplx.Abs(a)) / cmplx.Abs(a)
		hi := n * cmplx.Abs(loaded(e.v0[t], zin, amps))
		hi -= real(d.zp[t]) * s.need.Amps
		lo := hi - n*cmplx.Abs(zin)*idle*1.5
		switch {
		case s.need.Volts > hi:
			dev = math.Max(dev, s.need.Volts-hi-errUp*hi)
		case s.need.Volts < lo:
			dev = math.Max(dev, lo-s.need.Volts-errUp*hi)
		}
	}
	if dev > s.need.Tolerance*s.need.Volts {
		return
	}
	w := &up{low: low.part, coil: d.coil, joints: d.joints, pins: d.pins}
	k := key{1, e.joints + d.joints + 3 + bit(d.pins > 1)*2 + feedJoints(e.drives, false, 0), 2, s.fit(math.Max(dev, 0), lim/n*errLim)}
	p.add(k, nil, nil, func() *plan {
		q := s.plan([]*part{e.part}, e.drives, false)
		q.up = w
		return q
	})
}
