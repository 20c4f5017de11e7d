package find

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/si"
)

// trouble is what keeps a hookup from being an offer; without a code it only
// misses the volts.
type trouble struct {
	why   yokemate.NoteCode
	words string
}

// branch is one winding's current against load, as found at two loads.
type branch struct {
	about     string
	limit     float64
	idle, amp complex128 // without load, and at the need's amps [A]
}

const (
	atLow = iota
	atNominal
	atHigh
)

var levels = [3]yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High}

// solve sends a hookup through the network: no load and the need's amps, low,
// nominal and high mains, cold and hot copper. Its key becomes nearly true.
func (s *search) solve(c *candidate) *trouble {
	c.hookup = c.plan.hookup()
	h := c.hookup
	o := yokemate.Offer{Hookup: *h, JointCount: jointCount(h), Isolated: !c.plan.auto, Notes: []yokemate.Note{}}
	for _, at := range c.plan.units() {
		o.Units = append(o.Units, s.units[at].tag)
	}
	slices.Sort(o.Units)
	o.Units = slices.Compact(o.Units)
	want, tol := s.need.Volts, s.need.Tolerance*s.need.Volts
	maximal := math.Inf(1)
	for t, celsius := range [2]float64{coldC, hotC} {
		x := h.Clone()
		x.CopperC = &celsius
		load, err := network.Build(s.facts, x, network.Options{})
		if err != nil {
			return &trouble{}
		}
		y := x.Clone()
		for i := range y.Outputs {
			y.Outputs[i].Load = nil
		}
		idle, err := network.Build(s.facts, y, network.Options{})
		if err != nil {
			return &trouble{}
		}
		for _, l := range [3]int{atNominal, atHigh, atLow} {
			on, err := load.Solve(load.VoltsAt(levels[l]))
			if err != nil {
				return &trouble{} // it cannot give the amps at all
			}
			if l == atNominal {
				low := math.Inf(1)
				for _, out := range h.Outputs {
					p, _ := load.Volts(out.From, out.To)
					v := cmplx.Abs(on.Value(p))
					low = math.Min(low, v)
					c.worst = math.Max(c.worst, math.Abs(v-want))
				}
				if c.worst > tol*(1+1e-12) {
					return &trouble{}
				}
				if t == 0 {
					o.FullLoad = low
					o.FeedWatts, _, _ = on.FeedPower(0)
				} else {
					o.HotVolts = low
				}
			}
			off, err := idle.Solve(idle.VoltsAt(levels[l]))
			if err != nil {
				return &trouble{}
			}
			if l == atNominal && t == 0 {
				for _, out := range h.Outputs {
					p, _ := idle.Volts(out.From, out.To)
					o.NoLoadVolts = math.Max(o.NoLoadVolts, cmplx.Abs(off.Value(p)))
				}
			}
			if l == atNominal && t == 0 && s.dc != nil {
				// An AC search leaves this to package predict; here that comes after the waveforms.
				if x := circulates(idle, off); x != nil {
					return x
				}
			}
			for k, tag := range load.Units() {
				u := load.UnitFacts(k)
				if l == atHigh {
					flux := math.Max(on.Flux(k), off.Flux(k))
					if flux > fluxStop {
						return &trouble{yokemate.OverFlux, fmt.Sprintf("at the highest mains the core of %s is at %.2f of its rated volts per hertz; %.2f is the most", tag, flux, fluxStop)}
					}
					if on.Flux(k) > 1.12 {
						c.key.caution = 1
					}
					if at := fluxReaches(off.Flux(k), on.Flux(k)); at*s.need.Amps < maximal {
						maximal, o.LimitedBy = at*s.need.Amps, tag+"/"+yokemate.CorePin
					}
				}
				for w, src := range u.Windings {
					if l == atHigh && !u.Source.MainsSide(src.ID) {
						v := math.Max(cmplx.Abs(on.Value(load.WindingVolts(k, w))), cmplx.Abs(off.Value(idle.WindingVolts(k, w))))
						if v > neverVolts {
							return &trouble{yokemate.HazardousVoltage, fmt.Sprintf("%s/%s makes %s", tag, src.ID, si.Format(v, "V", 3))}
						}
						if cmplx.Abs(on.Value(load.WindingVolts(k, w))) > 50 {
							c.key.caution = 1
						}
					}
					lim := u.Limits[w]
					if math.IsNaN(lim.Amps) {
						continue
					}
					b := branch{tag + "/" + src.ID, lim.Amps, off.Value(idle.WindingAmps(k, w)), on.Value(load.WindingAmps(k, w))}
					amps := math.Max(cmplx.Abs(b.amp), cmplx.Abs(b.idle))
					if amps > lim.Amps*(1+1e-9) {
						return &trouble{yokemate.OverCurrent, fmt.Sprintf("%s carries %s, and may carry %s", b.about, si.Format(amps, "A", 3), si.Format(lim.Amps, "A", 3))}
					}
					if l == atNominal && t == 0 && cmplx.Abs(b.amp) > math.Max(lim.Low(), 0.5*lim.Amps) && 1.96*lim.U > 0.02*lim.Amps {
						c.key.caution = 1
					}
					if at := b.reaches(); at*s.need.Amps < maximal && l != atLow {
						maximal, o.LimitedBy = at*s.need.Amps, b.about
					}
				}
			}
		}
		if t == 0 && c.key.caution == 0 && s.fuseStays(h) {
			c.key.caution = 1
		}
	}
	o.MaxAmps = maximal
	c.offer = o
	if s.dc != nil {
		c.key.joints, c.key.units = o.JointCount, len(o.Units)
		return nil // the volts and the limit under a sine say nothing of the DC
	}
	if c.whole != nil && s.loose(c.worst, c.whole.sd) {
		c.key.caution = 1
	}
	// The limit is refined when the offer is proven, and never rises by more
	// than the bend of the iron between two loads.
	c.key.joints, c.key.units = o.JointCount, len(o.Units)
	c.key.fit = s.fit(c.worst, maximal*1.02)
	return nil
}

// circulates is the trouble of windings that, with nothing drawn, drive more
// through each other than a stop allows.
func circulates(n *network.Net, off *network.Solution) *trouble {
	type member struct {
		about       string
		amps, limit float64
	}
	var ms []member
	most := 0.0
	for k, tag := range n.Units() {
		u := n.UnitFacts(k)
		for w, src := range u.Windings {
			if l := u.Limits[w].Amps; !u.Source.MainsSide(src.ID) && l > 0 {
				m := member{tag + "/" + src.ID, cmplx.Abs(off.Value(n.WindingAmps(k, w))), l}
				ms = append(ms, m)
				most = math.Max(most, m.amps)
			}
		}
	}
	least := math.Inf(1)
	var names []string
	for _, m := range ms {
		if m.amps > most/10 {
			least = math.Min(least, m.limit)
			names = append(names, m.about)
		}
	}
	if !(most > circulatingStop*least*(1+errRough)) {
		return nil
	}
	about := strings.Join(names, ", ")
	return &trouble{yokemate.Circulating, fmt.Sprintf("with no load %s circulates between %s: %.1f %% of the smaller rating, %s; more than %.0f %% is a stop",
		si.Format(most, "A", 2), about, 100*most/least, si.Format(least, "A", 3), 100*circulatingStop)}
}

// circulatingStop is what package predict stops at [1].
const circulatingStop = 0.15

// reaches is the load at which the branch comes to its limit, over the load
// that drives amp through it.
func (b branch) reaches() float64 {
	if b.limit <= 0 {
		return 0
	}
	d := b.amp - b.idle
	// |idle + d·x| = limit
	return root(real(d)*real(d)+imag(d)*imag(d), real(b.idle)*real(d)+imag(b.idle)*imag(d),
		real(b.idle)*real(b.idle)+imag(b.idle)*imag(b.idle)-b.limit*b.limit)
}

// root is the smallest x above 0 with a·x² + 2·b·x + c = 0; 0 where c is above
// 0 at once, +Inf where there is none.
func root(a, b, c float64) float64 {
	if c > 0 {
		return 0
	}
	disc := b*b - a*c
	if disc < 0 {
		return math.Inf(1)
	}
	if q := b + math.Sqrt(disc); q > 0 {
		return -c / q
	}
	return math.Inf(1)
}

// fluxReaches is the load at which a core's flux is at its limit, over the
// load at which it is on, when it is off without load: a unit whose winding
// opposes is pushed up by the load.
func fluxReaches(off, on float64) float64 {
	if on <= off {
		return math.Inf(1)
	}
	return (fluxStop - off) / (on - off)
}

// fuseStays reports whether a short across an output leaves the plug's fuse
// whole, or may: that asks for caution.
func (s *search) fuseStays(h *yokemate.Hookup) bool {
	if s.need.Feed.FuseAmps == 0 {
		return false
	}
	for _, o := range h.Outputs {
		c, _, err := predict.Closed(s.facts, h, network.Options{}, o.From, o.To)
		if err == nil && c != nil && c.FuseOpens != "yes" {
			return true
		}
	}
	return false
}

// prove sends a hookup through package predict and finds what may be drawn
// when every current is at the unfavourable end of its interval.
func (s *search) prove(c *candidate) (*trouble, error) {
	h := c.hookup
	p, err := predict.Hookup(s.facts, h, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return nil, err
	}
	o := &c.offer
	for _, n := range p.Notes {
		if n.Level == yokemate.Stop {
			return &trouble{n.Code, n.Words}, nil
		}
		if n.Code == yokemate.NotIsolated && s.need.MustIsolate() {
			return &trouble{n.Code, n.Words}, nil
		}
	}
	o.Notes = append(o.Notes, p.Notes...)
	want, tol := s.need.Volts, s.need.Tolerance*s.need.Volts
	for _, v := range p.Outputs {
		// Cold and hot are the same facts: the interval goes with the value.
		low := v.Low * o.HotVolts / o.FullLoad
		if v.High > want+tol || low < want-tol {
			o.Notes = append(o.Notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: v.Name,
				Words: fmt.Sprintf("the facts leave %s between %s cold and %s hot: outside the %.3g %% that the need allows", v.Name, si.Format(v.High, "V", 3), si.Format(low, "V", 3), 100*s.need.Tolerance)})
		}
	}
	slices.SortStableFunc(o.Notes, func(a, b yokemate.Note) int { return rank(a.Level) - rank(b.Level) })
	if math.IsInf(o.MaxAmps, 1) {
		o.MaxAmps = s.need.Amps // nothing is known that would let it give more
		c.key = key{bit(yokemate.Worst(o.Notes) == yokemate.Caution), o.JointCount, len(o.Units), s.fit(c.worst, o.MaxAmps)}
		return nil, nil
	}
	max, by, err := s.limit(h, o.MaxAmps)
	if err != nil {
		return nil, err
	}
	if max < s.need.Amps && max > (1-straySlack)*s.need.Amps {
		max = s.need.Amps
	}
	o.MaxAmps, o.LimitedBy = max, by
	if max < s.need.Amps {
		return &trouble{yokemate.OverCurrent, fmt.Sprintf("derated to what the sharing allows it gives %s, and %s is wanted: %s may come to carry more than its rating", si.Format(math.Max(0, max), "A", 3), si.Format(s.need.Amps, "A", 3), by)}, nil
	}
	c.key = key{bit(yokemate.Worst(o.Notes) == yokemate.Caution), o.JointCount, len(o.Units), s.fit(c.worst, max)}
	return nil, nil
}

// straySlack is what the stray capacitances may put on top of a winding's
// current before that counts against its rating.
const straySlack = 1e-3

func rank(l yokemate.Level) int {
	switch l {
	case yokemate.Stop:
		return 0
	case yokemate.Caution:
		return 1
	}
	return 2
}

// limit is the load where the first winding reaches its rating, its current
// at the unfavourable end, at nominal and high mains, cold and hot, or where a
// core comes to its limit; a first guess comes along. The currents bend little
// with load, and their intervals less, so a straight line between two loads is
// drawn again at its own answer until that stays.
func (s *search) limit(h *yokemate.Hookup, guess float64) (amps float64, by string, err error) {
	amps = math.Inf(1)
	for _, celsius := range [2]float64{coldC, hotC} {
		at := guess
		var spare map[string]float64
		for i := range 6 {
			// The intervals are found anew while that still tells.
			max, who, fresh, err := s.limitFrom(h, celsius, at, spare, i < 4)
			if err != nil {
				return 0, "", err
			}
			spare = fresh
			near := math.Abs(max-at) <= 1e-4*at
			if at = max; near && i > 0 || at <= 0 || i == 5 {
				if at < amps {
					amps, by = at, who
				}
				break
			}
		}
	}
	return amps, by, nil
}

// limitFrom draws each winding's current as a straight line from no load to
// the load at, and finds the first to reach its limit. What the intervals
// there reach above the values is given, or found.
func (s *search) limitFrom(h *yokemate.Hookup, celsius, at float64, spare map[string]float64, anew bool) (max float64, who string, fresh map[string]float64, err error) {
	var ends [2]*network.Net
	for i := range ends {
		x := h.Clone()
		x.CopperC = &celsius
		for k := range x.Outputs {
			x.Outputs[k].Load = nil
			if i == 1 {
				x.Outputs[k].Load = &yokemate.Load{Amps: at}
			}
		}
		if ends[i], err = network.Build(s.facts, x, network.Options{}); err != nil {
			return 0, "", nil, err
		}
	}
	max = math.Inf(1)
	for _, l := range [2]yokemate.MainsLevel{yokemate.Nominal, yokemate.High} {
		off, err := ends[0].Solve(ends[0].VoltsAt(l))
		if err != nil {
			return 0, "", nil, err
		}
		on, err := ends[1].Solve(ends[1].VoltsAt(l))
		if err != nil {
			return 0.8 * at, "the volts, which collapse", spare, nil // so much cannot be drawn at all
		}
		if l == yokemate.Nominal && anew {
			spare = spares(ends[1], on)
		}
		for k, tag := range ends[0].Units() {
			u := ends[0].UnitFacts(k)
			if l == yokemate.High {
				if x := fluxReaches(off.Flux(k), on.Flux(k)) * at; x < max {
					max, who = x, tag+"/"+yokemate.CorePin
				}
			}
			for w, src := range u.Windings {
				if math.IsNaN(u.Limits[w].Amps) {
					continue
				}
				about := tag + "/" + src.ID
				b := branch{about, u.Limits[w].Amps - spare[about], off.Value(ends[0].WindingAmps(k, w)), on.Value(ends[1].WindingAmps(k, w))}
				if x := b.reaches() * at; x < max {
					max, who = x, about
				}
			}
		}
	}
	return max, who, spare, nil
}

// spares is by how much the 95 % interval of each winding's current reaches
// above its value, from the sensitivities of the solved network.
func spares(n *network.Net, sol *network.Solution) map[string]float64 {
	sp := sol.Spread()
	out := map[string]float64{}
	for k, tag := range n.Units() {
		for w, src := range n.UnitFacts(k).Windings {
			p := n.WindingAmps(k, w)
			y := sol.Value(p)
			size := cmplx.Abs(y)
			along, all, wide := 0.0, 0.0, 0.0
			for i, m := range sp.Moves(p) {
				q := real(m)*real(m) + imag(m)*imag(m)
				all += q
				if size > 0 {
					along += math.Pow(real(cmplx.Conj(y)*m)/size, 2)
				}
				if sp.Wide(i) {
					wide += q
				}
			}
			spare := 1.96 * math.Sqrt(along)
			switch {
			case wide > 0.04*size*size && math.Sqrt(all) < 0.7*size:
				// Known to a factor: the interval is one of the logarithm, but
				// for currents that all but cancel.
				spare = size * (math.Exp(1.96*math.Sqrt(all)/size) - 1)
			case size < 3*math.Sqrt(all):
				spare = 1.96 * math.Sqrt(all)
			}
			out[tag+"/"+src.ID] = spare
		}
	}
	return out
}

// anyDoubt asks every unit of the hookup by itself whether it needs caution
// at the load it would carry: flux and volts do not depend on the neighbours.
func (s *search) anyDoubt(c *candidate) bool {
	for _, e := range c.alone {
		if len(e.drives) != 1 || e.part.rev {
			continue
		}
		d := e.drives[0]
		name := (&plan{rails: []*part{e.part}}).text()
		s.lock.Lock()
		doubt, known := s.memo[d][name]
		s.lock.Unlock()
		if !known {
			doubt = s.doubtAlone(e, d)
			s.lock.Lock()
			if s.memo[d] == nil {
				s.memo[d] = map[string]bool{}
			}
			s.memo[d][name] = doubt
			s.lock.Unlock()
		}
		if doubt {
			return true
		}
	}
	return false
}

func (s *search) doubtAlone(e *element, d *drive) bool {
	h := (&plan{s: s, drives: []*drive{d}, rails: []*part{e.part}}).hookup()
	f := &h.Feed[0]
	share := d.volts / s.need.Feed.Volts.V
	f.Low, f.High = s.need.Feed.At(yokemate.Low)*share, s.need.Feed.At(yokemate.High)*share
	f.Volts = yokemate.Num(d.volts)
	h.Outputs[0].Load.Amps = math.Min(s.need.Amps, e.lim)
	p, err := predict.Hookup(s.facts, h, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return false
	}
	tag := s.units[d.unit].tag
	unknown := slices.ContainsFunc(p.Notes, func(n yokemate.Note) bool { return n.Code == yokemate.InsulationUnknown })
	for _, n := range p.Notes {
		if n.Level != yokemate.Caution {
			continue
		}
		switch n.Code {
		case yokemate.OverFlux, yokemate.HazardousVoltage, yokemate.LampTooBig, yokemate.MainsUnknown, yokemate.HalfPrimary:
			return true
		case yokemate.NotProven:
			// About the unit and not of a winding: its flux.
			if n.About == tag && !unknown {
				return true
			}
		}
	}
	return false
}
