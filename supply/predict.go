package supply

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/predict"
	"yokemate/si"
)

// IsDC reports whether a hookup has a rectified output.
func IsDC(h *yokemate.Hookup) bool {
	for _, o := range h.Outputs {
		if o.DC != nil {
			return true
		}
	}
	return false
}

// Predict predicts a hookup with rectified outputs at one level of the mains.
func Predict(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, opt predict.Options) (*yokemate.SupplyPrediction, error) {
	r, err := newRun(f, h, level, opt.Network)
	if err != nil {
		return nil, err
	}
	if err := r.periodic(waveform.Options{Samples: samples}); err != nil {
		return nil, err
	}
	p, err := r.likeAC(f, level, opt)
	if err != nil {
		return nil, err
	}
	sp, err := r.spreadOf(f, level)
	if err != nil {
		return nil, err
	}
	s := &yokemate.SupplyPrediction{Prediction: *p, Balance: r.report.Balance}
	s.Solver = yokemate.SolverReport{Status: r.report.Status.String(), Iterations: r.report.Newton, Residual: r.report.Closure, Condition: p.Solver.Condition}
	for i := range s.Joints {
		// What hangs free of the mains stands where strays have it: the steady
		// network tells, the waveform counts from a point of its own.
		j := &s.Joints[i]
		if ohms, _, ok := r.x.AC.Resistance(j.Name, h.Feed[0].Neutral); ok && !math.IsInf(ohms, 1) {
			j.Volts, j.Low, j.High = carry(r.joint(i).RMS, j.Volts, j.Low, j.High)
		}
	}
	heat := make([]float64, len(s.Units))
	for i := range s.Windings {
		x := &s.Windings[i]
		part := r.x.Parts.Windings[i]
		amps, volts, watts := r.winding(i)
		x.Volts, x.Watts, x.Amps = volts, watts, amps
		x.Low, x.High = sp.current(sp.loaded.net.WindingAmps(part.Core, part.Winding), sp.idle.net.WindingAmps(part.Core, part.Winding), amps).interval(amps)
		heat[part.Core] += watts
	}
	for k := range s.Units {
		u := &s.Units[k]
		u.Flux, u.Low, u.High = carry(r.flux(k).Peak()*r.x.Parts.Cores[k].PerFlux, u.Flux, u.Low, u.High)
		u.Watts = heat[k] + r.coreWatts(k)
	}
	for i, part := range r.x.Parts.Feeds {
		fs := &s.Feed[part.Index]
		amps, watts, volts := r.feed(i)
		fs.Amps, fs.Watts, fs.VA, fs.Volts = amps, watts, amps*r.x.FeedVolts[part.Index], volts
		on, ok := sp.loaded.net.FeedAmps(part.Index)
		off, ok2 := sp.idle.net.FeedAmps(part.Index)
		if ok && ok2 {
			fs.Low, fs.High = sp.current(on, off, amps).interval(amps)
		}
	}
	for i := range p.Outputs {
		o := yokemate.SupplyOutput{OutputState: p.Outputs[i]}
		volts := r.outputVolts(i).RMS
		if m := sp.figure(i, r.voltsAt(i)); m != nil {
			o.Volts = volts
			o.Low, o.High = m.interval(volts)
		} else {
			o.Volts, o.Low, o.High = carry(volts, o.Volts, o.Low, o.High)
		}
		if h.Outputs[i].DC != nil {
			o.Amps = r.outputAmps(i)
			o.DC = r.dc(i)
		}
		s.Outputs = append(s.Outputs, o)
	}
	for k, l := range r.x.Rails {
		s.Rails = append(s.Rails, sp.rail(k, l.Output))
	}
	s.Notes = r.withOwn(s.Notes)
	return s, nil
}

// withOwn puts the notes that a rectifier adds to those of the stand-in load.
func (r *run) withOwn(list []yokemate.Note) []yokemate.Note {
	// The winding currents are judged by their waveforms, not by the stand-in.
	list = slices.DeleteFunc(list, func(n yokemate.Note) bool { return n.Code == yokemate.OverCurrent })
	list = append(list, r.notes()...)
	slices.SortStableFunc(list, func(a, b yokemate.Note) int { return rank(a.Level) - rank(b.Level) })
	return list
}

// judged are all notes on the hookup as it was solved, at nominal mains.
func (r *run) judged(f *network.Facts) ([]yokemate.Note, error) {
	p, err := r.likeAC(f, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return nil, err
	}
	return r.withOwn(p.Notes), nil
}

// likeAC is the prediction of the same hookup with resistors of about the same
// rms current for its rectifiers: what speaks against the wiring speaks
// against it with rectifiers too.
func (r *run) likeAC(f *network.Facts, level yokemate.MainsLevel, opt predict.Options) (*yokemate.Prediction, error) {
	like := r.h.Clone()
	for i := range like.Outputs {
		o := &like.Outputs[i]
		if o.DC == nil {
			continue
		}
		o.DC = nil
		if amps := r.outputAmps(i); amps > 0 {
			o.Load = &yokemate.Load{Ohms: r.outputVolts(i).RMS / amps}
		}
	}
	return predict.Hookup(f, like, level, opt)
}

// powered reports whether any plug is in its socket.
func powered(h *yokemate.Hookup) bool {
	for i := range h.Feed {
		if h.Powered(i) {
			return true
		}
	}
	return false
}

// rank sorts notes, the gravest first.
func rank(l yokemate.Level) int {
	switch l {
	case yokemate.Stop:
		return 0
	case yokemate.Caution:
		return 1
	}
	return 2
}

// carry puts an interval that belongs to one value around another, by ratio.
func carry(v, like, low, high float64) (value, lo, hi float64) {
	if !(math.Abs(like) > 0) {
		return v, v, v
	}
	return v, v * low / like, v * high / like
}

// run is a hookup's periodic state at one level of the mains, with every
// probe that a supply is judged by.
type run struct {
	h      *yokemate.Hookup
	x      *waveform.Hookup
	wave   *waveform.Wave
	report waveform.Report

	probes []waveform.Probe
	// Places in probes.
	joints, windings, volts, fluxes, cores, feeds, feedVolts, outputs, rails int
}

func newRun(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, net network.Options) (*run, error) {
	volts := make(network.FeedVolts, len(h.Feed))
	for i := range volts {
		volts[i] = h.Feed[i].At(level)
	}
	x, err := waveform.FromHookup(f, h, waveform.HookupOptions{Network: net, Volts: volts})
	if err != nil {
		return nil, err
	}
	r := &run{h: h, x: x}
	mark := func(at *int) { *at = len(r.probes) }
	add := func(p waveform.Probe) { r.probes = append(r.probes, p) }
	c := &x.Circuit
	mark(&r.joints)
	for _, j := range h.Joints {
		n, _ := x.AC.Node(j.Name)
		add(x.Volts(n, waveform.Ground))
	}
	mark(&r.windings)
	for i := range c.Windings {
		add(x.WindingAmps(i))
	}
	mark(&r.volts)
	for _, w := range c.Windings {
		add(x.Volts(w.From, w.To))
	}
	mark(&r.fluxes)
	for k := range c.Cores {
		add(x.Flux(k))
	}
	mark(&r.cores)
	for k := range c.Cores {
		add(x.CoreVolts(k))
	}
	mark(&r.feeds)
	for i := range c.Feeds {
		add(x.FeedAmps(i))
	}
	mark(&r.feedVolts)
	for _, s := range c.Feeds {
		add(x.Volts(s.Node, waveform.Ground))
	}
	mark(&r.outputs)
	for i := range h.Outputs {
		add(x.OutputVolts(&h.Outputs[i]))
	}
	mark(&r.rails)
	for _, l := range x.Rails {
		add(x.Volts(l.Plus, l.Minus))
		add(x.SinkAmps(l.Sink))
		add(x.CapacitorAmps(l.Capacitors[0]))
		for _, d := range l.Diodes {
			add(x.DiodeAmps(d))
			add(x.Volts(c.Diodes[d].From, c.Diodes[d].To))
		}
	}
	return r, nil
}

// samples of a period: a peak between two of them is off by a part in 10⁴ of a diode's pulse.
const samples = 256

// periodic finds the run's state. What a coarse tolerance leaves may be more than
// a core that is magnetised to one side, whose flux takes many periods to
// settle, lets its state be found within: then a finer one does.
func (r *run) periodic(opt waveform.Options) error {
	opt.Probes = r.probes
	for {
		w, x0, rep, err := r.x.Periodic(r.x.Start, opt)
		if err == nil {
			r.wave, r.report, r.x.Start = w, rep, x0
			return nil
		}
		switch opt.Near = false; {
		case opt.Tolerance > quick:
			opt.Tolerance = quick
		case opt.Tolerance > 0:
			opt.Tolerance = 0
		default:
			return err
		}
	}
}

// quick is the tolerance of a step where a part is only being chosen: what it
// leaves is below a part in 10³ of any volts or amps.
const quick = 3e-5

func (r *run) trace(i int) *waveform.Trace { return &r.wave.Traces[i] }

func (r *run) joint(i int) *waveform.Trace       { return r.trace(r.joints + i) }
func (r *run) flux(k int) *waveform.Trace        { return r.trace(r.fluxes + k) }
func (r *run) outputVolts(i int) *waveform.Trace { return r.trace(r.outputs + i) }

// winding returns a winding's rms amps and volts, and the heat in its copper.
func (r *run) winding(i int) (amps, volts, watts float64) {
	amps = r.trace(r.windings + i).RMS
	return amps, r.trace(r.volts + i).RMS, r.x.Circuit.Windings[i].Ohms * amps * amps
}

func (r *run) coreWatts(k int) float64 {
	e := r.trace(r.cores + k).RMS
	return r.x.Circuit.Cores[k].Loss * e * e
}

// feed returns a plug's rms amps, the watts it draws, and the rms volts at its node.
func (r *run) feed(i int) (amps, watts, volts float64) {
	f := &r.x.Circuit.Feeds[i]
	t := r.trace(r.feeds + i)
	// The source is a sine: only the current's part in step with it is power.
	for q, v := range t.Values[1:] {
		watts += math.Sqrt2 * f.Volts * math.Sin(2*math.Pi*float64(q+1)/samples+f.Degrees*math.Pi/180) * v / samples
	}
	return t.RMS, watts, r.trace(r.feedVolts + i).RMS
}

// outputAmps is the rms current that a rectifier draws through its From joint:
// what its diodes there carry.
func (r *run) outputAmps(out int) float64 {
	from, _ := r.x.AC.Node(r.h.Outputs[out].From)
	square := 0.0
	at := r.rails
	for _, l := range r.x.Rails {
		for k, d := range l.Diodes {
			c := &r.x.Circuit.Diodes[d]
			if l.Output == out && (c.From == from || c.To == from) {
				// Diodes at one joint conduct in turn, so their squares add.
				t := r.trace(at + 3 + 2*k)
				square += t.RMS * t.RMS
			}
		}
		at += 3 + 2*len(l.Diodes)
	}
	return math.Sqrt(square)
}

// rail sums up rail k.
func (r *run) rail(k int) yokemate.RailState {
	at := r.rails
	for _, l := range r.x.Rails[:k] {
		at += 3 + 2*len(l.Diodes)
	}
	l := &r.x.Rails[k]
	v := r.trace(at)
	s := yokemate.RailState{
		Output: r.h.Outputs[l.Output].Name, Amps: r.trace(at + 1).Mean,
		Mean: v.Mean, Valley: v.Min, Peak: v.Max, Ripple: v.PeakToPeak(), CapacitorRMS: r.trace(at + 2).RMS,
	}
	if math.Abs(s.Valley) < 1e-6*s.Peak {
		s.Valley = 0 // what the load's law leaves of nothing
	}
	for d := range l.Diodes {
		i, u := r.trace(at+3+2*d), r.trace(at+4+2*d)
		s.DiodeMean, s.DiodeRMS = max(s.DiodeMean, i.Mean), max(s.DiodeRMS, i.RMS)
		s.DiodePeak, s.DiodeReverse = max(s.DiodePeak, i.Max), max(s.DiodeReverse, -u.Min)
	}
	return s
}

// railsOf are the rails of one output.
func (r *run) railsOf(out int) []yokemate.RailState {
	var list []yokemate.RailState
	for k, l := range r.x.Rails {
		if l.Output == out {
			list = append(list, r.rail(k))
		}
	}
	return list
}

// dc is output i's DC state, of its heavier rail.
func (r *run) dc(i int) *yokemate.DCState {
	var d *yokemate.DCState
	for k, l := range r.x.Rails {
		if l.Output != i {
			continue
		}
		s := r.rail(k)
		if d == nil || s.Valley < d.Valley {
			d = &yokemate.DCState{Mean: s.Mean, Valley: s.Valley, Peak: s.Peak, Ripple: s.Ripple}
		}
	}
	_, d.WindingRMS, _ = r.worst(false)
	return d
}

// worst finds the winding that carries most of its rating: its share, its rms
// amps and its name. Primaries count where asked.
func (r *run) worst(primaries bool) (share, amps float64, name string) {
	for i, p := range r.x.Parts.Windings {
		u := r.x.AC.UnitFacts(p.Core)
		if p.Shorted || !primaries && u.Source.MainsSide(u.Windings[p.Winding].ID) {
			continue
		}
		limit := u.Limits[p.Winding].Amps
		a := r.trace(r.windings + i).RMS
		if s := a / limit; s > share || name == "" {
			share, amps, name = s, a, u.Tag+"/"+u.Windings[p.Winding].ID
		}
	}
	return share, amps, name
}

// mainsShare is how much of its rating the mains-side winding carries that is
// nearest to it: the feed's current over this is the rated one of that side.
func (r *run) mainsShare() float64 {
	share := 0.0
	for i, p := range r.x.Parts.Windings {
		u := r.x.AC.UnitFacts(p.Core)
		if l := u.Limits[p.Winding]; !p.Shorted && l.Amps > 0 && u.Source.MainsSide(u.Windings[p.Winding].ID) {
			share = max(share, r.trace(r.windings+i).RMS/l.Amps)
		}
	}
	if share == 0 {
		return 1 // fed by no mains side: what it draws is all that is known
	}
	return share
}

// overRating judges the winding that carries most of its rating: a stop past
// it, a caution where only the unfavourable end of the rating is passed. The
// words tell of the stop.
func (r *run) overRating(amps float64, stop string) []yokemate.Note {
	about := func(code yokemate.NoteCode, level yokemate.Level, i int, words string) yokemate.Note {
		p := r.x.Parts.Windings[i]
		u := r.x.AC.UnitFacts(p.Core)
		a, limit := r.trace(r.windings+i).RMS, u.Limits[p.Winding].Amps
		name := u.Tag + "/" + u.Windings[p.Winding].ID
		return yokemate.Note{Code: code, Level: level, About: name,
			Words: fmt.Sprintf("at %s DC winding %s carries %s rms, %.0f %% of what it may: %s", si.Format(amps, "A", 3), name, si.Format(a, "A", 3), 100*a/limit, words)}
	}
	var list []yokemate.Note
	for i, p := range r.x.Parts.Windings {
		l := r.x.AC.UnitFacts(p.Core).Limits[p.Winding]
		switch a := r.trace(r.windings + i).RMS; {
		case p.Shorted:
		case a > l.Amps:
			list = append(list, about(yokemate.DCOverRating, yokemate.Stop, i, stop))
		case a > l.Low():
			list = append(list, about(yokemate.NotProven, yokemate.Caution, i, "its rating is not known closely enough to say that it stands this"))
		}
	}
	return list
}

// oneSided is the flux to one side that is not passed over, over the rated
// peak: what a rectifier of both half waves leaves is far below it [1].
const oneSided = 0.02

// notes are those that a rectifier adds.
func (r *run) notes() []yokemate.Note {
	amps := 0.0
	var rails []yokemate.RailState
	for k := range r.x.Rails {
		rails = append(rails, r.rail(k))
		amps = max(amps, rails[k].Amps)
	}
	list := r.overRating(amps, "the DC amps hide it")
	for k, c := range r.x.Parts.Cores {
		if left := math.Abs(r.flux(k).Mean) * c.PerFlux; left > oneSided {
			list = append(list, yokemate.Note{Code: yokemate.OverFlux, Level: yokemate.Caution, About: c.Unit,
				Words: fmt.Sprintf("the rectifier draws current on one side only and magnetises the core by %.0f %% of its rated peak: more idle current and heat than the unit was made for", 100*left)})
		}
	}
	for k, rail := range rails {
		if asked := r.h.Outputs[r.x.Rails[k].Output].DC.Amps; rail.Amps < 0.99*asked {
			list = append(list, yokemate.Note{Code: yokemate.DCOverRating, Level: yokemate.Caution, About: rail.Output,
				Words: fmt.Sprintf("rail %d of %s gives %s where %s is asked of it, for its volts fall to %s in the valleys: a larger reservoir, or fewer amps", k+1, rail.Output, si.Format(rail.Amps, "A", 3), si.Format(asked, "A", 3), si.Format(rail.Valley, "V", 2))})
		}
		list = append(list, yokemate.Note{Code: yokemate.CapacitorVolts, Level: yokemate.Info, About: rail.Output,
			Words: fmt.Sprintf("rail %d of %s stands at %s peak under this load; with none and at the highest mains it stands higher, and that decides the capacitor", k+1, rail.Output, si.Format(rail.Peak, "V", 3))})
	}
	return list
}

// idlePeak is the greatest volts between two joints with nothing drawn.
func idlePeak(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, from, to string) (float64, error) {
	idle := h.Clone()
	for i := range idle.Outputs {
		idle.Outputs[i].DC, idle.Outputs[i].Load = nil, nil
	}
	r, err := newRun(f, idle, level, network.Options{})
	if err != nil {
		return 0, err
	}
	a, ok1 := r.x.AC.Node(from)
	b, ok2 := r.x.AC.Node(to)
	if !ok1 || !ok2 {
		return 0, yokemate.Errorf(yokemate.Invalid, "outputs", "there is no joint %q or %q", from, to).Mend("name joints of the hookup")
	}
	w, _, _, err := r.x.Periodic(r.x.Start, waveform.Options{Tolerance: quick, Samples: samples, Probes: []waveform.Probe{r.x.Volts(a, b)}})
	if err != nil {
		return 0, err
	}
	return w.Traces[0].Peak(), nil
}
