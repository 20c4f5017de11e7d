package predict

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
)

// Limits are the figures that decide, common practice all; the zero value is
// the house's.
type Limits struct {
	CirculatingGo, CirculatingStop float64 // share of the smaller rating; 0: 0.05 and 0.15
	FluxGo, FluxStop               float64 // of rated volts per hertz; 0: 1.12 and 1.16
	HazardVolts, NeverVolts        float64 // [V]; 0: 50 and 1000
	BladeVolts                     float64 // left on a pulled plug into 2 kΩ [V]; 0: 25
}

// Filled are the limits with the house's figures where none are given.
func (l Limits) Filled() Limits {
	def := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	def(&l.CirculatingGo, 0.05)
	def(&l.CirculatingStop, 0.15)
	def(&l.FluxGo, 1.12)
	def(&l.FluxStop, 1.16)
	def(&l.HazardVolts, 50)
	def(&l.NeverVolts, 1000)
	def(&l.BladeVolts, 25)
	return l
}

// Options of a prediction. The zero value is the plain one.
type Options struct {
	Limits  Limits
	Meter   *yokemate.Meter // that will take the readings; nil: the shelf's
	Brief   bool            // leave out the joints' and meters' intervals, which cost most
	Network network.Options // how the wiring differs from the hookup: leads off, shorted turns
}

// Hookup predicts everything about a hookup at one level of the mains.
func Hookup(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, opt Options) (*yokemate.Prediction, error) {
	n, err := network.Build(f, h, opt.Network)
	if err != nil {
		return nil, err
	}
	meter := opt.Meter
	if meter == nil {
		meter = f.Shelf.Meter()
	}
	r, err := NewRun(n, n.VoltsAt(level), meter)
	if err != nil {
		return nil, err
	}
	p := &yokemate.Prediction{
		Mains:  level,
		Joints: []yokemate.JointVolts{}, Windings: []yokemate.WindingState{}, Units: []yokemate.UnitState{},
		Outputs: []yokemate.OutputState{}, Meters: []yokemate.MeterState{},
		Solver: yokemate.SolverReport{Status: r.Sol.Status.String(), Iterations: r.Sol.Iterations, Residual: r.Sol.Residual, Condition: r.Sol.Condition()},
	}
	r.watchAll(opt.Brief)
	for _, j := range h.Joints {
		probe, _ := n.Volts(j.Name, "")
		v := r.Sol.Value(probe)
		s := yokemate.JointVolts{Name: j.Name, Volts: cmplx.Abs(v), Degrees: cmplx.Phase(v) * 180 / math.Pi}
		s.Low, s.High = s.Volts, s.Volts
		if !opt.Brief {
			i := r.dist(probe, nil).Interval()
			s.Low, s.High = i.Low, i.High
		}
		p.Joints = append(p.Joints, s)
	}
	for k, tag := range n.Units() {
		u := n.UnitFacts(k)
		heat := r.Sol.CoreWatts(k)
		for w, src := range u.Windings {
			probe := n.WindingAmps(k, w)
			i := r.dist(probe, nil).Interval()
			s := yokemate.WindingState{
				Unit: tag, ID: src.ID, Volts: cmplx.Abs(r.Sol.Value(n.WindingVolts(k, w))),
				Amps: i.Value, Low: i.Low, High: i.High, Watts: r.Sol.CopperWatts(k, w),
			}
			if l := u.Limits[w]; !math.IsNaN(l.Amps) {
				s.LimitAmps = &l.Amps
			}
			heat += s.Watts
			p.Windings = append(p.Windings, s)
		}
		i := r.Flux(k)
		p.Units = append(p.Units, yokemate.UnitState{Tag: tag, Flux: i.Value, Low: i.Low, High: i.High, Watts: heat})
	}
	for i := range h.Feed {
		w, v, a := r.Sol.FeedPower(i)
		s := yokemate.FeedState{Volts: v, Amps: a, Watts: w, VA: a * r.volts[i]}
		if probe, ok := n.FeedAmps(i); ok {
			b := r.dist(probe, nil).Interval()
			s.Low, s.High = b.Low, b.High
		}
		p.Feed = append(p.Feed, s)
	}
	for i, o := range h.Outputs {
		probe, _ := n.Volts(o.From, o.To)
		b := r.dist(probe, nil).Interval()
		s := yokemate.OutputState{Name: o.Name, Volts: b.Value, Low: b.Low, High: b.High}
		if c, ok := n.LoadAmps(i); ok {
			s.Amps = cmplx.Abs(r.Sol.Value(c))
		}
		p.Outputs = append(p.Outputs, s)
	}
	for _, m := range h.Meters {
		d, _ := r.Volts(m.From, m.To)
		s := yokemate.MeterState{Name: m.Name, Volts: d.Value, Low: d.Value, High: d.Value}
		if !opt.Brief {
			b := d.Interval()
			s.Low, s.High = b.Low, b.High
		}
		p.Meters = append(p.Meters, s)
	}
	p.Notes, err = notes(f, h, p, opt, meter, n)
	return p, err
}

// watchAll watches whatever a prediction asks for.
func (r *Run) watchAll(brief bool) {
	n, h := r.Net, r.Net.Hookup
	volts := func(from, to string) {
		if p, ok := n.Volts(from, to); ok {
			r.watch(p)
		}
	}
	for _, o := range h.Outputs {
		volts(o.From, o.To)
	}
	for k := range n.Units() {
		for w := range n.UnitFacts(k).Windings {
			r.watch(n.WindingAmps(k, w))
		}
	}
	for i := range h.Feed {
		if p, ok := n.FeedAmps(i); ok {
			r.watch(p)
		}
	}
	if brief {
		return
	}
	for _, j := range h.Joints {
		volts(j.Name, "")
	}
	for _, m := range h.Meters {
		volts(m.From, m.To)
	}
}

// Flux is unit k's flux with its interval: the induced volts over those at
// the label, both from the same facts, so that most of their errors cancel.
func (r *Run) Flux(k int) yokemate.Interval {
	y := r.Sol.Flux(k)
	e := r.Sol.Value(r.Net.Induced(k))
	rel := 0.0
	scale := cmplx.Abs(e)
	if scale == 0 {
		return yokemate.Interval{}
	}
	for _, m := range r.spread().FluxMoves(k) {
		rel += m * m
	}
	u := 1.96 * math.Sqrt(rel)
	return yokemate.Interval{Value: y, Low: math.Max(0, y-u*y), High: y + u*y}
}
