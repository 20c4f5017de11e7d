package prove

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/si"
)

// Two mains coils of one unit in parallel share its idle current, and the gap
// between them at the low source holds what that current drops in the coil
// that is fed: D beside x, what their own volts differ by. In a small unit D
// alone, taken for a difference, may be more than should circulate. Then the gap
// is read from either side, and the idle current too. With k the second coil's
// ohms over the first's, and p the part of D in step with the volts,
//
//	G₁² = |x + D|²,  G₂²/k² = |D − x/k|²,
//	G₁² + G₂²/k² = 2 D² + 2 x p (1 − 1/k) + x² (1 + 1/k²),
//
// and since p ≤ D = I R₁, x is bounded, whatever its sign and whatever the cause.
// Joined, what each carries for the other is half the difference of their
// currents, (x + I (R₂ − R₁)/2)/(R₁ + R₂), with I as it is on full mains.

// coils is the trial of two mains coils in parallel.
type coils struct {
	back, idle string  // the steps: the gap with the other coil fed, and the idle current with this one
	ratio      float64 // ohms of the other coil over those of this one [1]
	ohms, u    float64 // of this one, and its standard uncertainty [Ω]
	more       float64 // idle current on full mains, where iron bends, over this one's as the volts grow [1]
}

// coils adds those readings to the trial's gaps that need them.
func (b *builder) coils() error {
	p := b.p
	for _, g := range slices.Clone(p.steps) {
		if g.kind != gapReading || !g.trial {
			continue
		}
		fed, other, ok := b.parallel(g)
		if !ok {
			continue
		}
		// A difference of the other sign may hide behind the drop.
		right := p.forecast(g, &p.worlds[0]).dist.Interval()
		g.hidden = right.High * p.grows(g) * (&judge{p: p}).perVolt(g)
		if _, ok := p.meter.On(yokemate.AmpsAC, 0.001); !ok || g.hidden <= p.limits.Filled().CirculatingGo {
			continue
		}
		tag := g.State.Tags()[0]
		u, err := b.f.Unit(tag)
		if err != nil {
			return err
		}
		r1, r2 := u.Params[3*fed.w+1], u.Params[3*other.w+1]
		if !(r1.Value > 0 && r2.Value > 0) {
			continue
		}
		first := p.chain(g)[0]
		source := si.Format(p.opt.Trial, "V", 2)
		back := *g.State.Clone()
		back.Feed[0].Live, back.Feed[0].Neutral = other.common, other.end
		from := &step{trial: true, Step: yokemate.Step{
			ID: g.ID + "-back", Do: fmt.Sprintf("The low source of about %s on coil %s of %s, pins %s and %s, through its 250 mA fuse. Read the volts across the gap between pins %s and %s.", source, other.id, tag, other.pins[0], other.pins[1], fed.pin, other.pin),
			State: back, Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: g.Measure.From, To: g.Measure.To, BurdenOhms: g.Measure.BurdenOhms},
			Help: "The gap also holds what the idle current drops in the coil that is fed. Read from either side, and with that current, it shows what the coils' own volts differ by.", Slips: []yokemate.Slip{},
		}}
		idle := &step{trial: true, Step: yokemate.Step{
			ID: g.ID + "-idle", Do: fmt.Sprintf("The low source of about %s on coil %s of %s, pins %s and %s. Read the current in its lead, AC amps, on the lowest range that holds it.", source, fed.id, tag, fed.pins[0], fed.pins[1]),
			State: *g.State.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"}, Slips: []yokemate.Slip{},
		}}
		more := 1.0
		if full := p.step("idle-" + tag); full != nil {
			more = math.Max(1, p.forecast(full, &p.worlds[0]).dist.Value/(p.grows(g)*p.forecast(idle, &p.worlds[0]).dist.Value))
		}
		at := slices.Index(p.steps, first)
		p.steps = slices.Insert(p.steps, at, from, idle)
		g.coils = &coils{back: from.ID, idle: idle.ID, ratio: r2.Value / r1.Value, ohms: r1.Value, u: math.Hypot(r1.U, r1.Gain*r1.Value), more: more}
	}
	return nil
}

// coil is one of two that lie side by side at a trial's gap.
type coil struct {
	id          string
	w           int       // of the unit
	pins        [2]string // names of its pins
	pin         string    // of it at the gap
	common, end string    // joints of the state: the one that both share, and its end of the gap
}

// parallel finds the two coils that a trial's gap would put in parallel: they
// share one joint already. The first is the one that is fed.
func (b *builder) parallel(g *step) (fed, other coil, ok bool) {
	tags := g.State.Tags()
	if len(tags) != 1 {
		return fed, other, false
	}
	u, err := b.f.Unit(tags[0])
	if err != nil {
		return fed, other, false
	}
	feed := &g.State.Feed[0]
	n := 0
	for i, w := range u.Windings {
		if !u.Source.MainsSide(w.ID) {
			continue
		}
		n++
		a, z := g.State.Joints.Of(tags[0]+"."+w.Pins[0]), g.State.Joints.Of(tags[0]+"."+w.Pins[1])
		c := coil{id: w.ID, w: i, pins: w.Pins, common: a, end: z, pin: w.Pins[1]}
		if slices.Contains(g.gap[:], a) {
			c.common, c.end, c.pin = z, a, w.Pins[0]
		}
		switch {
		case !slices.Contains(g.gap[:], c.end) || slices.Contains(g.gap[:], c.common):
			return fed, other, false
		case c.common == feed.Live && c.end == feed.Neutral || c.common == feed.Neutral && c.end == feed.Live:
			fed = c
		default:
			other = c
		}
	}
	return fed, other, n == 2 && fed.id != "" && other.id != "" && fed.common == other.common
}

// grows is how much more a gap at the low source is at full mains [1].
func (p *Plan) grows(s *step) float64 {
	if !s.trial {
		return 1
	}
	return p.hookup.Feed[0].Volts.V / p.opt.Trial
}

// differ bounds the gap, at the low source, that alone would drive what
// circulates in the two coils of a trial [V]. ok is false where a reading for it is missing.
func (j *judge) differ(s *step, gap reading) (most float64, ok bool) {
	c := s.coils
	if c == nil {
		return 0, false
	}
	at := func(id string) *reading {
		for i := range j.readings {
			if r := &j.readings[i]; r.step.ID == id && !r.over {
				return r
			}
		}
		return nil
	}
	back, idle := at(c.back), at(c.idle)
	if back == nil || idle == nil {
		return 0, false
	}
	high := j.p.worst(s, gap)
	g2 := j.p.worst(back.step, *back) / c.ratio
	const moves = 1.96 * math.Sqrt2 * drift // of the source between two readings
	amps := j.p.worst(idle.step, *idle)
	d := (2*idle.value - amps) * (c.ohms - 1.96*c.u) * (1 - moves)
	if !(d > 0) {
		return 0, false
	}
	uneven := amps * (c.ohms + 1.96*c.u) * (1 + moves) * c.more * math.Abs(c.ratio-1) / 2
	odd, square := d*math.Abs(1-1/c.ratio), 1+1/(c.ratio*c.ratio)
	left := math.Max(0, high*high+g2*g2-2*d*d)
	return (odd+math.Sqrt(odd*odd+square*left))/square + uneven, true
}
