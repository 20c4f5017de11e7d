package teach

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/phys/waveform"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

// A rectified hookup is taught in two parts, as it is proved: first the AC side,
// its rectifiers not yet joined, with leads to change over; then the rectifiers
// behind an AC side that is right, each with one slip in it or none. What is
// read there are the readings of the proof's steps; what follows is the wave of
// the finished hookup.

// Rectifier is a rectified hookup with all slips that its rectifiers may have.
type Rectifier struct {
	Hookup *yokemate.Hookup // finished
	Steps  []*yokemate.Step // of the proof, that tell slips of its rectifiers
	States []RectifierState // the right one first
}

// RectifierState is the rectifiers as they should be, or with one slip.
type RectifierState struct {
	Code    string              // of the slip; "" when all is right
	Words   string              // the slip
	Reads   []yokemate.Interval // at each step
	Amps    float64             // of the plug that gives most, loaded [A]; NaN: no steady state
	Worst   string              // the winding that is pressed hardest, as T1/A
	Winding float64             // its rms amps [A]
	Used    float64             // of what it may carry [1]
	Why     string              // what harm it does; "" where it does none
	Verdict Verdict

	fault *figure.Fault
	shown *yokemate.Hookup
	back  bool // a reservoir is charged the wrong way round
}

// rectifier works the second part out; nil for a hookup without rectifiers.
func (l *Lesson) rectifier(plan *prove.Plan, proof *yokemate.Proof, h *yokemate.Hookup) (*Rectifier, error) {
	if !supply.IsDC(h) {
		return nil, nil
	}
	r := &Rectifier{Hookup: h}
	right := RectifierState{shown: h}
	means, err := l.wave(&right, h, nil, nil)
	if err != nil {
		return nil, err
	}
	r.States = append(r.States, right)
	for _, code := range plan.Slips() {
		w, ok, err := plan.Wired(h, code)
		if err != nil {
			return nil, err
		}
		if !ok || w.Turn == nil {
			continue
		}
		f := w.Faults[0]
		x := RectifierState{Code: code, Words: w.Words, shown: w.Drawn(), fault: &figure.Fault{Output: f.Output, Slip: code, Words: f.Words}}
		if _, err := l.wave(&x, w.State, w.Turn, means); err != nil {
			return nil, err
		}
		r.States = append(r.States, x)
	}
	for i := range proof.Steps {
		s := &proof.Steps[i]
		if s.Measure != nil && slices.ContainsFunc(s.Slips, func(z yokemate.Slip) bool {
			return slices.ContainsFunc(r.States, func(x RectifierState) bool { return x.Code == z.Code })
		}) {
			r.Steps = append(r.Steps, s)
		}
	}
	for i := range r.States {
		r.read(&r.States[i])
	}
	return r, nil
}

// Common practice, no source.
const (
	meterOhms = 10e6 // of the meter across each reservoir, as while the proof is read; it also holds what a slip leaves hanging free [Ω]
	backVolts = 1.0  // the wrong way round that an electrolytic capacitor stands [V]
)

// wave finds what the windings and the plugs of the finished hookup carry, and
// the mean volts of each rail. Loads that draw constant amps become the ohms
// that draw them at the rails' right means, as on the AC side; without means
// they stay.
func (l *Lesson) wave(s *RectifierState, h *yokemate.Hookup, turn func(*waveform.Hookup), right []float64) (means []float64, err error) {
	s.Amps, s.Winding, s.Used = math.NaN(), math.NaN(), math.NaN()
	x, err := waveform.FromHookup(l.facts, h, waveform.HookupOptions{})
	if err != nil {
		return nil, unlessNone(err)
	}
	if turn != nil {
		turn(x)
	}
	c := &x.Circuit
	for i, r := range x.Rails {
		if k := &c.Sinks[r.Sink]; right != nil && k.Amps > 0 {
			c.Branches = append(c.Branches, waveform.Branch{From: k.From, To: k.To, Ohms: right[i] / k.Amps})
			k.Amps = 0
		}
	}
	for _, k := range c.Capacitors {
		c.Branches = append(c.Branches, waveform.Branch{From: k.From, To: k.To, Ohms: meterOhms})
	}
	if x.System, err = waveform.Compile(c); err != nil {
		return nil, err
	}
	start := x.Start
	if len(start) != x.States() {
		start = x.Rest()
	}
	var probes []waveform.Probe
	for i := range c.Windings {
		probes = append(probes, x.WindingAmps(i))
	}
	feeds := len(probes)
	for i := range c.Feeds {
		probes = append(probes, x.FeedAmps(i))
	}
	caps := len(probes)
	for _, k := range c.Capacitors {
		probes = append(probes, x.Volts(k.From, k.To))
	}
	rails := len(probes)
	for _, r := range x.Rails {
		probes = append(probes, x.Volts(r.Plus, r.Minus))
	}
	w, _, _, err := x.Periodic(start, waveform.Options{Samples: 256, Probes: probes})
	if err != nil {
		if turn == nil {
			return nil, err
		}
		return nil, nil // there is no steady state, and what has none is not taken for harmless
	}
	s.Used, s.Amps = 0, 0
	for i, p := range x.Parts.Windings {
		u := x.AC.UnitFacts(p.Core)
		amps := w.Traces[i].RMS
		if used := amps / u.Limits[p.Winding].Amps; used >= s.Used {
			s.Worst, s.Winding, s.Used = u.Tag+"/"+u.Windings[p.Winding].ID, amps, used
		}
	}
	for _, t := range w.Traces[feeds:caps] {
		s.Amps = max(s.Amps, t.RMS)
	}
	for _, t := range w.Traces[caps:rails] {
		s.back = s.back || t.Min < -backVolts
	}
	for _, t := range w.Traces[rails:] {
		means = append(means, t.Mean)
	}
	return means, nil
}

// read takes what a state reads from the steps, and judges it.
func (r *Rectifier) read(x *RectifierState) {
	above := false // a reservoir stands at more than it does when all is right
	for _, s := range r.Steps {
		v := *s.Right
		if k := slices.IndexFunc(s.Slips, func(z yokemate.Slip) bool { return z.Code == x.Code }); k >= 0 {
			z := &s.Slips[k]
			v = yokemate.Interval{Value: z.Value, Low: z.Low, High: z.High}
			above = above || s.Measure.Quantity == yokemate.VoltsDC && z.Low > s.Right.High
		}
		x.Reads = append(x.Reads, v)
	}
	kind, _, _ := strings.Cut(x.Code, ":")
	switch {
	case kind == "capacitor-reversed":
		x.Why = "An electrolytic capacitor the wrong way round leaks, then heats and bursts."
	case kind == "polarity":
		x.Why = "What it feeds gets plus where it wants minus, and may not survive it."
	case x.back:
		x.Why = "A reservoir is charged the wrong way round: it leaks, then heats and bursts."
	case above:
		x.Why = "A reservoir stands at more volts than it was chosen for, and may burst."
	case math.IsNaN(x.Used):
		x.Why = "No steady state is found: take it for harm."
	case x.Used > 1:
		x.Why = "A winding carries more than it may."
	}
	switch {
	case x.Why != "":
		x.Verdict = Harmful
	case x.Code == "":
		x.Verdict = Works
	}
}

// when says how a step reads.
func when(s *yokemate.Step) string {
	dc := slices.ContainsFunc(s.State.Outputs, func(o yokemate.Output) bool { return o.DC != nil && o.DC.Amps > 0 })
	switch q := s.Measure.Quantity; {
	case q == yokemate.Ohms:
		return "ohms, unplugged"
	case q == yokemate.VoltsAC && !supply.IsDC(&s.State):
		return "AC volts, no reservoir joined yet"
	case q == yokemate.VoltsAC:
		return "ripple, loaded"
	case slices.ContainsFunc(s.State.Feed, func(f yokemate.Feed) bool { return f.Lamp != nil }):
		return "DC volts behind the lamp, nothing drawn"
	case dc:
		return "DC volts, loaded"
	}
	return "DC volts, nothing drawn"
}

// rectifierTable writes what all states of the rectifiers read and do.
func (l *Lesson) rectifierTable() *sourceTable {
	r := l.Rectifier
	if r == nil {
		return nil
	}
	t := &sourceTable{}
	for _, s := range r.Steps {
		t.Heads = append(t.Heads, head{Output: s.Measure.From + " " + s.Measure.To, Words: when(s)})
	}
	t.Heads = append(t.Heads, head{Words: "amps from the source, loaded", After: true}, head{Words: "winding that suffers most, and how much of what it may carry", After: true},
		head{Words: "what happens", After: true}, head{Words: "verdict", After: true})
	for i := range r.States {
		x := &r.States[i]
		w := row{Key: x.Code, Slip: x.Words}
		for k, s := range r.Steps {
			w.Cells = append(w.Cells, reading(s, x.Reads[k]))
		}
		none := []words{{Words: "not known"}}
		if math.IsNaN(x.Amps) {
			w.Cells = append(w.Cells, none, none)
		} else {
			w.Cells = append(w.Cells, []words{{Words: about(x.Amps, "A")}}, pressed(x.Worst, x.Winding, x.Used))
		}
		why := x.Why
		if why == "" {
			why = "Nothing is overloaded."
		}
		w.Cells = append(w.Cells, []words{{Words: why}})
		w.Class, w.Verdict = x.Verdict.words()
		t.Rows = append(t.Rows, w)
	}
	return t
}

// reading is a cell with what a step of a rectifier reads.
func reading(s *yokemate.Step, v yokemate.Interval) []words {
	unit := s.Measure.Quantity.Unit()
	switch {
	case s.Measure.Quantity == yokemate.Ohms && v == *s.Right:
		return []words{{Words: fmt.Sprintf("%s or more", si.Format(v.Low, unit, 2))}}
	case s.Measure.Quantity == yokemate.Ohms:
		return []words{{Words: fmt.Sprintf("less than %s", si.Format(v.High, unit, 2))}}
	}
	return []words{{Words: about(v.Value, unit)}, {Words: si.FormatInterval(v.Low, v.High, unit), Small: true}}
}
