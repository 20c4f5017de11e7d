package prove

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

// drift is how far the socket moves between two readings, as a standard
// uncertainty relative to it (common practice) [1].
const drift = 0.005

// forecast is what one step reads in one world.
type forecast struct {
	dist predict.Dist
	key  string  // worlds of one key cannot be told apart by this step
	feed float64 // move of the reading under one standard uncertainty of the socket's volts
	neg  bool    // a DC reading below nothing
	err  error   // the wiring contradicts itself: the fuse blows, nothing is read
}

// closing is what follows when a gap is closed in one world.
type closing struct {
	c     *yokemate.IfClosed
	share float64 // through the new joint, of the smallest rating [1]
}

// forecast predicts step s in world w, at the socket's volts as now known.
func (p *Plan) forecast(s *step, w *world) *forecast {
	h, opt, _ := w.in(&s.State)
	m := s.Measure
	key := stateKey(s, h, opt, p.mains)
	if s.lugs != nil && w.rect != nil {
		key += w.code
	}
	if s.rail != nil {
		key = fmt.Sprintf("dc|%v|%g|", *s.rail, p.seen[s.rail.output]) + stateKey(s, &s.State, network.Options{}, p.mains)
		if w.rect != nil || w.kind == fuseBlown {
			key += w.code
		}
	}
	if f, ok := p.cache[key]; ok {
		return f
	}
	var f *forecast
	if s.rail != nil {
		f = p.dc(s, w)
	} else if s.lugs != nil && w.rect != nil && &p.hookup.Outputs[w.rect.output] == s.lugs {
		at, ok := w.lugs(*m, s.lugs)
		under := *s
		under.Measure = &at
		if key = stateKey(&under, h, opt, p.mains); ok {
			f = p.compute(&under, h, opt, &at)
		} else {
			key += w.code
			f = &forecast{dist: predict.Exact(0, 1, 0)} // what a lug that hangs free picks up
		}
	} else {
		f = p.compute(s, h, opt, m)
	}
	f.key = key
	p.cache[key] = f
	return f
}

func stateKey(s *step, h *yokemate.Hookup, opt network.Options, mains float64) string {
	var b strings.Builder
	m := s.Measure
	fmt.Fprintf(&b, "%s|%s|%s|%g|%v|%v|%v|%v|", m.Quantity, m.From, m.To, m.BurdenOhms, h.Joints, h.Earth, opt.Shorted, opt.Parted)
	if powered(h) {
		for i := range h.Feed {
			f := h.Feed[i]
			fmt.Fprintf(&b, "%v %g %g %g %g %s %s %v|", h.Powered(i), f.Volts.V, f.Ohms, f.Degrees, mains, f.Live, f.Neutral, f.Lamp)
		}
		for _, o := range h.Outputs {
			if o.Load != nil {
				fmt.Fprintf(&b, "%v", *o.Load)
			}
		}
	}
	return b.String()
}

// atSocket sets the feed's volts and their uncertainty as known from readings.
func (p *Plan) atSocket(s *step, h *yokemate.Hookup) *yokemate.Hookup {
	c := h.Clone()
	for i := range c.Feed {
		f := &c.Feed[i]
		nominal := p.hookup.Feed[min(i, len(p.hookup.Feed)-1)].Volts.V
		if s.trial {
			f.Volts = yokemate.PlusMinus(f.Volts.V, 0.06*f.Volts.V, yokemate.Assumed)
			continue
		}
		r := f.Volts.V / nominal
		f.Volts = yokemate.PlusMinus(r*p.mains, r*p.mainU, yokemate.Measured)
	}
	return c
}

func (p *Plan) compute(s *step, h *yokemate.Hookup, opt network.Options, m *yokemate.Measure) *forecast {
	f := &forecast{}
	if m.Quantity == yokemate.Megohms {
		f.dist = predict.Open()
		return f
	}
	opt.Added = append(slices.Clone(opt.Added), p.across(m)...)
	ammeter := -1
	if m.Quantity == yokemate.AmpsAC && m.From != "feed" {
		ammeter = len(opt.Added)
		opt.Added = append(opt.Added, network.Branch{From: m.From, To: m.To, Ohms: 0.1})
	}
	if m.Quantity == yokemate.Ohms || m.Quantity == yokemate.Millivolts {
		n, err := network.Build(p.facts, h, opt)
		if err != nil {
			f.err = err
			f.dist = predict.Open()
			return f
		}
		d, ok := predict.Ohms(n, p.meter, m.From, m.To)
		if !ok {
			d = predict.Open()
		}
		f.dist = d
		return f
	}
	dead := func() *forecast {
		fixed := 0.0
		if a, ok := p.meter.On(m.Quantity, 0); ok {
			fixed = a.Fixed * math.Sqrt(3)
		}
		f.dist = predict.Exact(0, 1e-6, fixed)
		return f
	}
	if !powered(h) {
		return dead()
	}
	n, err := network.Build(p.facts, p.atSocket(s, h), opt)
	if err != nil {
		f.err = err
		return dead()
	}
	r, err := predict.NewRun(n, nil, p.meter)
	if err != nil {
		f.err = err
		return dead()
	}
	ok := true
	switch m.Quantity {
	case yokemate.VoltsAC:
		f.dist, ok = r.Volts(m.From, m.To)
	case yokemate.Watts:
		f.dist = r.FeedWatts(0)
	case yokemate.AmpsAC:
		if ammeter >= 0 {
			f.dist, ok = r.AddedAmps(ammeter)
		} else {
			f.dist = r.FeedAmps(0)
		}
	}
	if !ok {
		return dead()
	}
	for i, name := range f.dist.Sources {
		if name == network.FeedSource(0) {
			f.feed = f.dist.Moves[i]
			if s.trial {
				// The low source errs by itself, not as the socket does.
				f.dist.Sources = slices.Clone(f.dist.Sources)
				f.dist.Sources[i] = "low source"
			}
		}
	}
	return f
}

// across is what a volts reading puts between its probes: the meter itself,
// and the burden where the step asks for one.
func (p *Plan) across(m *yokemate.Measure) []network.Branch {
	if m.Quantity != yokemate.VoltsAC {
		return nil
	}
	list := []network.Branch{{From: m.From, To: m.To, Ohms: p.meter.Input()}}
	if m.BurdenOhms > 0 {
		list = append(list, network.Branch{From: m.From, To: m.To, Ohms: m.BurdenOhms})
	}
	return list
}

// volts is what a step's meter shows in one world at the facts' best values;
// ok is false where the wiring contradicts itself.
func (p *Plan) volts(s *step, w *world) (v float64, ok bool) {
	h, opt, _ := w.in(&s.State)
	opt.Added = append(slices.Clone(opt.Added), p.across(s.Measure)...)
	n, err := network.Build(p.facts, h, opt)
	if err != nil {
		return 0, false
	}
	sol, err := n.Solve(nil)
	if err != nil {
		return 0, false
	}
	probe, ok := n.Volts(s.Measure.From, s.Measure.To)
	if !ok {
		return 0, false
	}
	return cmplx.Abs(sol.Value(probe)), true
}

// closing works out what follows when step s's gap is closed in world w.
func (p *Plan) closing(s *step, w *world) *closing {
	h, opt, _ := w.in(&s.State)
	key := "close|" + stateKey(s, h, opt, 0)
	if c, ok := p.gaps[key]; ok {
		return c
	}
	c := &closing{}
	ic, share, err := predict.Closed(p.facts, h, opt, s.gap[0], s.gap[1])
	switch {
	case err != nil:
		// The network finds no answer for it: take it for a dead short.
		c.share = math.Inf(1)
		c.c = &yokemate.IfClosed{FuseOpens: "unsure", Protects: "The wiring would contradict itself: a dead short."}
	case ic != nil:
		c.c, c.share = ic, share
	}
	p.gaps[key] = c
	return c
}

// Proof is the plan as it stands before any answer.
func (p *Plan) Proof() (*yokemate.Proof, error) { return p.Judge(nil) }

// describe fills in a step's right reading and its slips.
func (p *Plan) describe(s *step) {
	if s.kind == rectifierDead {
		s.Slips = p.conducts(s)
	}
	if s.Measure == nil || s.kind.byLimit() && s.kind != earthBond {
		return
	}
	right := p.forecast(s, &p.worlds[0])
	v := right.dist.Interval()
	if right.dist.IsOpen() {
		s.Right = nil
	} else {
		if right.neg {
			v.Value, v.Low, v.High = -v.Value, -v.High, -v.Low
		}
		s.Right = &v
	}
	s.Slips = []yokemate.Slip{}
	type seen struct{ code, key string }
	done := map[seen]bool{}
	for i := range p.worlds {
		w := &p.worlds[i]
		if w.kind == allRight || w.kind == unknown {
			continue
		}
		f := p.forecast(s, w)
		if f.key == right.key {
			continue
		}
		k := seen{w.code, f.key}
		listed := false
		for d := range done {
			// One line a slip: its first guise that touches the step.
			listed = listed || d.code == w.code
		}
		if done[k] || listed || s.kind != gapReading && alike(f, right) {
			continue
		}
		done[k] = true
		slip := yokemate.Slip{Code: w.code, Words: w.words}
		if f.dist.IsOpen() {
			slip.Words += ": the meter reads over"
			slip.Value, slip.Low, slip.High = openReading, openReading, openReading
		} else {
			v := f.dist.Interval()
			slip.Value, slip.Low, slip.High = v.Value, v.Low, v.High
			if f.neg {
				slip.Value, slip.Low, slip.High = -v.Value, -v.High, -v.Low
			}
		}
		if s.kind == gapReading {
			slip.IfClosed = p.closing(s, w).c
		}
		s.Slips = append(s.Slips, slip)
	}
}

// alike reports whether no meter could tell two forecasts apart.
func alike(a, b *forecast) bool {
	if a.dist.IsOpen() || b.dist.IsOpen() {
		return a.dist.IsOpen() == b.dist.IsOpen()
	}
	if a.neg != b.neg {
		return false
	}
	return math.Abs(a.dist.Value-b.dist.Value) <= a.dist.Fixed()+b.dist.Fixed()+0.002*b.dist.Value
}

// openReading stands for "over" in a step's figures, which are numbers [Ω].
const openReading = 1e9

// span says an interval in words, for a person about to read it.
func span(v *yokemate.Interval, q yokemate.Quantity) string {
	if v == nil {
		return "over"
	}
	if q == yokemate.Megohms {
		return fmt.Sprintf("%.0f MΩ or more", v.Low)
	}
	return si.FormatInterval(v.Low, v.High, q.Unit())
}
