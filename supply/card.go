package supply

import (
	"fmt"
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/phys/thermal"
	"yokemate/phys/waveform"
	"yokemate/predict"
)

// CardOptions of a limits card. The zero value is the house's.
type CardOptions struct {
	Heat      thermal.Options // AmbientC 0 means 40
	Duty      float64         // 0 means 0.25
	StretchS  float64         // longest that the load of a duty is on [s]; 0 means 60
	Remanence float64         // 0 means 0.6
}

// card works one hookup's limits out.
type card struct {
	f *network.Facts
	h *yokemate.Hookup
	o CardOptions
}

// dutyRatio is the most over its rating that a winding is let run for a part of
// the time, whatever the heat network says: its own quick rise is not told
// by it (common practice) [1].
const dutyRatio = 2.0

// Limits works a hookup's limits out: for each output the current at which,
// all others open, the first winding is at its rating or rests at the
// temperature of its class.
func Limits(f *network.Facts, h *yokemate.Hookup, opt CardOptions) (*yokemate.LimitsCard, error) {
	if opt.Heat.AmbientC == 0 {
		opt.Heat.AmbientC = 40
	}
	if opt.Duty == 0 {
		opt.Duty = 0.25
	}
	if opt.StretchS == 0 {
		opt.StretchS = 60
	}
	if opt.Remanence == 0 {
		opt.Remanence = 0.6
	}
	if len(h.Outputs) == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "outputs", "a hookup without an output has no limits to tell").Mend("add an output")
	}
	if !powered(h) {
		return nil, yokemate.Errorf(yokemate.Invalid, "feed", "no plug is in its socket").Mend("plug one in")
	}
	if err := refuseStopped(f, h); err != nil {
		return nil, err
	}
	c := &card{f, h, opt}
	out := &yokemate.LimitsCard{AmbientC: opt.Heat.AmbientC, LowVolts: h.Feed[0].At(yokemate.Low), HighVolts: h.Feed[0].At(yokemate.High)}
	full := h.Clone()
	for i := range h.Outputs {
		l, err := c.output(i)
		if err != nil {
			return nil, err
		}
		out.Outputs = append(out.Outputs, *l)
		setAmps(&full.Outputs[i], l.Amps)
	}
	var err error
	if out.HighestC, err = c.highest(); err != nil {
		return nil, err
	}
	if out.Together, err = c.together(out.Outputs); err != nil {
		return nil, err
	}
	kind := h.Feed[0].FuseKind
	if kind == "" {
		kind = "T"
	}
	out.FuseKind = kind
	// The fuse is for the most that the continuous currents ask of the feed:
	// all outputs at once, or one of them by itself.
	all := full.Clone()
	for i := range all.Outputs {
		setAmps(&all.Outputs[i], out.Together*out.Outputs[i].Amps)
	}
	asked := []*yokemate.Hookup{all}
	for i := range full.Outputs {
		if len(full.Outputs) > 1 {
			asked = append(asked, only(full, i))
		}
	}
	for _, one := range asked {
		amps, err := c.feedAmps(one)
		if err != nil {
			return nil, err
		}
		out.FeedAmps = math.Max(out.FeedAmps, amps)
	}
	x, err := waveform.FromHookup(f, all, waveform.HookupOptions{Volts: highVolts(h)})
	if err != nil {
		return nil, err
	}
	_, square, err := x.WorstInrush(opt.Remanence)
	if err != nil {
		return nil, err
	}
	choice, err := protect.Choose(protect.Duty{Amps: out.FeedAmps, Inrush: square.Square[0], Kind: kind})
	if err != nil {
		return nil, yokemate.Errorf(yokemate.Invalid, "feed fuse_kind", "%v", err).Mend("use T, F, slow or fast")
	}
	out.PrimaryFuse, out.FuseWhy = choice.Link.Amps, choice.Why
	for i := range out.Outputs {
		if out.Outputs[i].Fuse, err = outputFuse(f, only(full, i), i, 0, out.PrimaryFuse, kind); err != nil {
			return nil, err
		}
	}
	fuses := make([]*yokemate.OutputFuse, len(out.Outputs))
	for i := range fuses {
		fuses[i] = out.Outputs[i].Fuse
	}
	if out.Faults, out.ThermalLinks, err = faults(f, h, out.PrimaryFuse, kind, fuses); err != nil {
		return nil, err
	}
	for _, tag := range h.Tags() {
		u, err := f.Unit(tag)
		if err != nil {
			return nil, err
		}
		for _, l := range u.Limits {
			out.Estimated = out.Estimated || l.Basis == yokemate.Estimated
		}
	}
	return out, nil
}

func highVolts(h *yokemate.Hookup) network.FeedVolts {
	v := make(network.FeedVolts, len(h.Feed))
	for i := range v {
		v[i] = h.Feed[i].At(yokemate.High)
	}
	return v
}

// setAmps makes an output draw so much.
func setAmps(o *yokemate.Output, amps float64) {
	if o.DC != nil {
		dc := *o.DC
		dc.Amps = amps
		o.DC = &dc
		return
	}
	o.Load = &yokemate.Load{Amps: amps}
}

// only leaves one output of a hookup drawing.
func only(h *yokemate.Hookup, i int) *yokemate.Hookup {
	c := h.Clone()
	for k := range c.Outputs {
		if k != i {
			c.Outputs[k].Load, c.Outputs[k].DC = nil, nil
		}
	}
	return c
}

// load is how near to its limits the hookup is when output i draws so much:
// 1 is at the limit. It says what decides.
func (c *card) load(i int, amps, duty, ratio float64) (share float64, by string, err error) {
	h := only(c.h, i)
	setAmps(&h.Outputs[i], amps)
	return c.full(h, duty, ratio)
}

// full is how near to its limits a hookup is with what its outputs draw.
func (c *card) full(h *yokemate.Hookup, duty, ratio float64) (share float64, by string, err error) {
	opt := c.o.Heat
	opt.Duty, opt.StretchS = duty, c.o.StretchS
	n, err := thermal.New(c.f, h, yokemate.High, opt) // where the iron and the idle current make most heat
	if err != nil {
		return 0, "", err
	}
	s, err := n.Equilibrium()
	if err != nil {
		return 0, "", err
	}
	for k, w := range s.Windings {
		u, err := c.f.Unit(w.Unit)
		if err != nil {
			return 0, "", err
		}
		rated := u.Limits[u.Index(w.ID)].Amps
		if x := n.Amps(k) / (rated * ratio); x > share {
			share, by = x, fmt.Sprintf("%s/%s at its rating", w.Unit, w.ID)
		}
	}
	if !s.Equilibrium {
		return math.Max(share, 2), s.Hottest().Unit + "/" + s.Hottest().ID + " never rests", nil
	}
	hot := s.Hottest()
	// Rises go about as the square of the current.
	if x := math.Sqrt(math.Max(hot.Celsius-opt.AmbientC, 0) / (hot.Limit - opt.AmbientC)); x > share {
		share, by = x, fmt.Sprintf("%s/%s at %.0f °C", hot.Unit, hot.ID, hot.Limit)
	}
	return share, by, nil
}

// most finds the amps at which load is 1.
func (c *card) most(i int, duty, ratio float64) (amps float64, by string, err error) {
	idle, why, err := c.load(i, 1e-6, duty, ratio)
	if err != nil {
		return 0, "", err
	}
	if idle >= 1 {
		return 0, why, nil // it is past its limits with nothing drawn
	}
	bisect := func(lo, hi float64, past func(x float64) bool) float64 {
		for hi-lo > 0.002*hi {
			if mid := (lo + hi) / 2; past(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return lo
	}
	past := func(x float64) bool {
		s, at, err := c.load(i, x, duty, ratio)
		if err != nil || s >= 1 {
			by = at
			return true // a load that the hookup cannot give at all is past the limit too
		}
		return false
	}
	guess := c.guess(i)
	lo, hi := 0.0, guess
	for hi <= mostAmps && !past(hi) {
		lo, hi = hi, 2*hi
	}
	if hi <= mostAmps {
		lo = bisect(lo, hi, past)
	}
	if lo <= 4*guess {
		return lo, by, nil
	}
	// A unit so small that not even a short overloads it gives what its volts allow.
	none, err := c.volts(i, yokemate.Nominal, c.idle(i, guess))
	if err != nil {
		return 0, "", err
	}
	short := func(x float64) bool {
		v, err := c.volts(i, yokemate.Nominal, x)
		return err != nil || v < leastVolts*none
	}
	if !short(lo) {
		if hi > mostAmps {
			return 0, "", yokemate.Errorf(yokemate.Impossible, "output "+c.h.Outputs[i].Name, "nothing limits its current").Mend("check its joints")
		}
		return lo, by, nil
	}
	return bisect(0, lo, short), "its volts at a quarter of those with no load", nil
}

// mostAmps is where nothing limits an output [A].
const mostAmps = 1e4

// leastVolts is what an output keeps of its no-load volts before nobody calls
// it one; the smallest units may fall to a half (IEC 61558-2-x, from memory) [1].
const leastVolts = 0.25

// idle is what an output draws to stand for none: without any, a reservoir
// would stand for ever. amps is its full current [A].
func (c *card) idle(i int, amps float64) float64 {
	if c.h.Outputs[i].DC != nil {
		return 1e-3 * amps
	}
	return 0
}

// volts is what an output gives with so much drawn, from it alone and with cold copper; of
// two rails, the lesser mean.
func (c *card) volts(i int, level yokemate.MainsLevel, amps float64) (float64, error) {
	o := &c.h.Outputs[i]
	h := only(c.h, i)
	if amps > 0 || o.DC != nil {
		setAmps(&h.Outputs[i], amps)
	} else {
		h.Outputs[i].Load = nil
	}
	if o.DC != nil {
		r, err := newRun(c.f, h, level, network.Options{})
		if err != nil {
			return 0, err
		}
		if err := r.periodic(waveform.Options{Tolerance: quick}); err != nil {
			return 0, err
		}
		least := math.Inf(1)
		for k, rail := range r.x.Rails {
			if rail.Output == i {
				least = math.Min(least, r.rail(k).Mean)
			}
		}
		return least, nil
	}
	n, err := network.Build(c.f, h, network.Options{})
	if err != nil {
		return 0, err
	}
	s, err := n.Solve(n.VoltsAt(level))
	if err != nil {
		return 0, err
	}
	p, _ := n.Volts(o.From, o.To)
	return cmplx.Abs(s.Value(p)), nil
}

// together finds the part of its own amps that every output may give when all
// of them draw at once: 1 where none is in another's way.
func (c *card) together(own []yokemate.OutputLimits) (float64, error) {
	if len(own) == 1 {
		return 1, nil
	}
	within := func(part float64) bool {
		h := c.h.Clone()
		for i := range h.Outputs {
			setAmps(&h.Outputs[i], math.Max(part*own[i].Amps, 1e-6))
		}
		share, _, err := c.full(h, 1, 1)
		// What the hookup cannot give at all is past the limit too.
		return err == nil && share < 1+togetherSlack
	}
	lo, hi := 0.0, 1.0
	if within(1) {
		return 1, nil
	}
	for hi-lo > 0.005 {
		if mid := (lo + hi) / 2; within(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, nil
}

// togetherSlack is what each output's own amps may be off by the search [1].
const togetherSlack = 3e-3

// guess is where the search starts: a quarter of the smallest rating of a secondary.
func (c *card) guess(i int) float64 {
	amps := math.Inf(1)
	for _, tag := range c.h.Tags() {
		u, err := c.f.Unit(tag)
		if err != nil {
			continue // the search itself will meet this error and tell it
		}
		for w, l := range u.Limits {
			if !u.Source.MainsSide(u.Windings[w].ID) && l.Amps > 0 {
				amps = math.Min(amps, l.Amps)
			}
		}
	}
	if math.IsInf(amps, 1) {
		return 0.01
	}
	return amps / 4
}

func (c *card) output(i int) (*yokemate.OutputLimits, error) {
	o := &c.h.Outputs[i]
	l := &yokemate.OutputLimits{Name: o.Name, Duty: c.o.Duty, DutyOnS: c.o.StretchS}
	var err error
	if l.Amps, l.LimitedBy, err = c.most(i, 1, 1); err != nil {
		return nil, err
	}
	if l.DutyAmps, _, err = c.most(i, c.o.Duty, dutyRatio); err != nil {
		return nil, err
	}
	if l.NoLoad, err = c.volts(i, yokemate.Nominal, c.idle(i, l.Amps)); err != nil {
		return nil, err
	}
	if l.AtLow, err = c.volts(i, yokemate.Low, l.Amps); err != nil {
		return nil, err
	}
	if l.AtHigh, err = c.volts(i, yokemate.High, l.Amps); err != nil {
		return nil, err
	}
	if o.DC != nil {
		return l, nil
	}
	// Behind a bridge with 4700 µF an ampere, the usual reservoir.
	b := &card{c.f, only(c.h, i), c.o}
	b.h.Outputs[i].Load, b.h.Outputs[i].DC = nil, &yokemate.DC{Rectifier: "bridge", Farads: 4700e-6 * math.Max(l.Amps/1.8, 0.01), Amps: l.Amps / 1.8}
	if l.Amps > 0 {
		l.BridgeAmps, _, err = b.most(i, 1, 1)
	}
	return l, err
}

// highest bisects the ambient at which the hookup's own loads still rest
// within the class.
func (c *card) highest() (float64, error) {
	within := func(celsius float64) (bool, error) {
		opt := c.o.Heat
		opt.AmbientC = celsius
		n, err := thermal.New(c.f, c.h, yokemate.High, opt)
		if err != nil {
			return false, err
		}
		s, err := n.Equilibrium()
		if err != nil {
			return false, err
		}
		return s.Within(), nil
	}
	lo, hi := -40.0, 120.0
	if ok, err := within(lo); err != nil || !ok {
		return lo, err
	}
	for hi-lo > 0.5 {
		mid := (lo + hi) / 2
		ok, err := within(mid)
		if err != nil {
			return 0, err
		}
		if ok {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, nil
}

func (c *card) feedAmps(h *yokemate.Hookup) (float64, error) {
	r, err := newRun(c.f, h, yokemate.Nominal, network.Options{})
	if err != nil {
		return 0, err
	}
	if err := r.periodic(waveform.Options{Tolerance: quick, Samples: samples}); err != nil {
		return 0, err
	}
	amps, _, _ := r.feed(0)
	return amps, nil
}

// refuseStopped says why a hookup that stops before anything is drawn has no
// limits to tell.
func refuseStopped(f *network.Facts, h *yokemate.Hookup) error {
	idle := h.Clone()
	for i := range idle.Outputs {
		idle.Outputs[i].Load, idle.Outputs[i].DC = nil, nil
	}
	p, err := predict.Hookup(f, idle, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return err
	}
	for _, n := range p.Notes {
		if n.Level == yokemate.Stop {
			return yokemate.Errorf(yokemate.Impossible, n.About, "it may not be wired, so it has no limits: %s", n.Words).Mend("see all that speaks against it with \"yokemate predict\"")
		}
	}
	return nil
}
