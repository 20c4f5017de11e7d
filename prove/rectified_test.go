package prove_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/prove"
)

func withDC(h *yokemate.Hookup, rectifier, middle string, farads, amps float64) *yokemate.Hookup {
	c := h.Clone()
	c.Name = rectifier
	if middle != "" {
		c.Name += " with a middle"
	}
	c.Outputs[0].Load = nil
	c.Outputs[0].DC = &yokemate.DC{Rectifier: rectifier, Middle: middle, Farads: farads, Amps: amps}
	return c
}

func supplies() []*yokemate.Hookup {
	tap := hookup("tap", 230, 207, 253, 40, "A", "B", joints("L: D1.1", "M: D1.2 D1.3", "N: D1.4", "A: D1.5", "C: D1.6 D1.7", "B: D1.8", "E: D1.core"))
	one := hookups()[0]
	return []*yokemate.Hookup{
		withDC(one, "bridge", "", 2200e-6, 0.8), withDC(one, "half", "", 4700e-6, 0.3), withDC(one, "doubler", "", 2200e-6, 0.3),
		withDC(tap, "centre-tap", "C", 2200e-6, 0.7), withDC(tap, "bridge", "C", 2200e-6, 0.4),
	}
}

// rectifierTruth is what is wrong in a simulated rectifier.
type rectifierTruth struct {
	code  string
	turn  int // a diode, from 1; 0: none
	open  int
	caps  int // a reservoir the wrong way round, from 1
	minus bool
	tap   string // joint whose lead is in the middle's place
	free  bool   // the middle lead is off
}

// dcBench is a bench with a rectifier.
type dcBench struct {
	*bench
	fault  rectifierTruth
	farads float64 // of the capacitors, over what is marked
	amps   float64 // of the load, over what was asked for
}

// circuit is a state in time with the fault in it.
func (b *dcBench) circuit(t *testing.T, s *yokemate.Hookup) *waveform.Hookup {
	t.Helper()
	h := s.Clone()
	o := &h.Outputs[0]
	switch b.fault.tap {
	case "":
	case o.From:
		o.From, o.DC.Middle = o.DC.Middle, o.From
	default:
		o.To, o.DC.Middle = o.DC.Middle, o.To
	}
	on := true
	h.Fed = &on
	h.Feed[0].Volts = yokemate.Num(b.mains)
	x, err := waveform.FromHookup(network.Compile(b.truth), h, waveform.HookupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c := &x.Circuit
	if k := b.fault.turn; k > 0 {
		c.Diodes[k-1].From, c.Diodes[k-1].To = c.Diodes[k-1].To, c.Diodes[k-1].From
	}
	if k := b.fault.open; k > 0 {
		c.Diodes[k-1].From, c.Diodes[k-1].To = waveform.Ground, waveform.Ground // out of the circuit
	}
	for i := range c.Capacitors {
		c.Capacitors[i].Farads *= b.farads
		c.Branches = append(c.Branches, waveform.Branch{From: c.Capacitors[i].From, To: c.Capacitors[i].To, Ohms: 220e3})
	}
	if b.fault.free {
		m := x.Rails[0].Minus
		loose := c.Nodes
		c.Nodes++
		for _, r := range x.Rails {
			for _, n := range []*int{&c.Capacitors[r.Capacitors[0]].From, &c.Capacitors[r.Capacitors[0]].To, &c.Sinks[r.Sink].From, &c.Sinks[r.Sink].To} {
				if *n == m {
					*n = loose
				}
			}
			for i := range c.Branches {
				if q := &c.Branches[i]; q.Ohms == 220e3 {
					if q.From == m {
						q.From = loose
					}
					if q.To == m {
						q.To = loose
					}
				}
			}
		}
		for i := range x.Rails {
			if x.Rails[i].Minus == m {
				x.Rails[i].Minus = loose
			} else {
				x.Rails[i].Plus = loose
			}
		}
	}
	return x
}

// conducts reports whether an ohmmeter drives current from one point to
// another of a dead rectifier: along windings and, their own way, diodes.
func (b *dcBench) conducts(t *testing.T, s *yokemate.Hookup, from, to string) bool {
	x := b.circuit(t, s)
	at := func(name string) int {
		r := x.Rails
		switch name {
		case "out+":
			return r[0].Plus
		case "out-":
			return r[len(r)-1].Minus
		}
		n, _ := x.AC.Node(name)
		return n
	}
	reach := []int{at(from)}
	for i := 0; i < len(reach); i++ {
		step := func(a, c int) {
			if a == reach[i] && !slices.Contains(reach, c) {
				reach = append(reach, c)
			}
		}
		for _, w := range x.Circuit.Windings {
			step(w.From, w.To)
			step(w.To, w.From)
		}
		for _, d := range x.Circuit.Diodes {
			step(d.From, d.To)
		}
	}
	return slices.Contains(reach, at(to))
}

func (b *dcBench) readDC(t *testing.T, s *yokemate.Step) yokemate.AnswerText {
	m := s.Measure
	isDC := slices.ContainsFunc(s.State.Outputs, func(o yokemate.Output) bool { return o.DC != nil })
	h := &s.State
	second := strings.HasSuffix(s.ID, "-2")
	switch {
	case strings.HasPrefix(s.ID, "tap-"):
		// The lugs of the leads that are changed over read in each other's place.
		step := *s
		measure := *m
		step.Measure = &measure
		swap := func(j string) string {
			switch {
			case b.fault.tap == "":
			case j == b.fault.tap:
				return "C"
			case j == "C":
				return b.fault.tap
			}
			return j
		}
		measure.From, measure.To = swap(m.From), swap(m.To)
		if b.fault.free && (m.From == "C" || m.To == "C") {
			return yokemate.AnswerText(b.shown(m.Quantity, 0.3*b.rng.Float64()))
		}
		return b.read(t, &step)
	case !isDC:
		return b.read(t, s)
	case m.Quantity == yokemate.Ohms:
		k := 1
		if second {
			k = 2
		}
		plain := b.conducts(t, h, m.From, m.To)
		reservoir := b.fault.caps == k && (m.From == "out+" && m.To != "A" || m.To == "out-" && m.From != "A")
		if plain || reservoir {
			return yokemate.AnswerText(b.shown(m.Quantity, 300*math.Pow(20, b.rng.Float64())))
		}
		return "over"
	case strings.HasPrefix(s.ID, "bleed-"):
		return yokemate.AnswerText(b.shown(m.Quantity, 20))
	}
	x := b.circuit(t, h)
	at := 0
	if second {
		at = 1
	}
	for i, r := range x.Rails {
		k := &x.Circuit.Sinks[r.Sink]
		k.Amps *= b.amps
		if len(x.Rails) > 1 && i != at {
			k.Amps = 0
		}
	}
	sys, err := waveform.Compile(&x.Circuit)
	if err != nil {
		t.Fatal(err)
	}
	w, _, _, err := sys.Periodic(x.Start, waveform.Options{Samples: 512, Probes: []waveform.Probe{sys.Volts(x.Rails[at].Plus, x.Rails[at].Minus)}})
	if err != nil {
		return yokemate.AnswerText(b.shown(m.Quantity, 0))
	}
	v := w.Traces[0]
	if m.Quantity == yokemate.VoltsAC {
		sum := 0.0
		for _, y := range v.Values[1:] {
			sum += math.Abs(y - v.Mean)
		}
		return yokemate.AnswerText(b.shown(m.Quantity, math.Pi/2/math.Sqrt2*sum/512)) // the meter is average-responding
	}
	sign := ""
	if (v.Mean < 0) != b.fault.minus {
		sign = "-"
	}
	return yokemate.AnswerText(sign + b.shown(m.Quantity, math.Abs(v.Mean)))
}

// faultsOf lists every fault of a supply's rectifier, with the code it goes by.
func faultsOf(h *yokemate.Hookup) []rectifierTruth {
	d := h.Outputs[0].DC
	list := []rectifierTruth{{}, {code: "polarity:out", minus: true}}
	diodes := map[string]int{"bridge": 4, "centre-tap": 2, "half": 1, "doubler": 2}[d.Rectifier]
	for k := 1; k <= diodes; k++ {
		list = append(list, rectifierTruth{code: fmt.Sprintf("diode-reversed:out/%d", k), turn: k}, rectifierTruth{code: fmt.Sprintf("diode-open:out/%d", k), open: k})
	}
	caps := 1
	if d.Rectifier == "doubler" || d.Rectifier == "bridge" && d.Middle != "" {
		caps = 2
	}
	for k := 1; k <= caps; k++ {
		list = append(list, rectifierTruth{code: fmt.Sprintf("capacitor-reversed:out/%d", k), caps: k})
	}
	if d.Middle != "" {
		list = append(list, rectifierTruth{code: "tap-swapped:out/A,C", tap: "A"}, rectifierTruth{code: "tap-swapped:out/B,C", tap: "B"}, rectifierTruth{code: "middle-open:out", free: true})
	}
	return list
}

// Simulated rectifiers with every fault, parts and mains off their marks: none
// is proved good, a part the wrong way round is stopped before there is power,
// what the volts tell is named, and right proves good.
func TestRectifierFaults(t *testing.T) {
	t.Parallel()
	rounds, list := 2, supplies()
	if testing.Short() {
		rounds, list = 1, list[:1]
	}
	named, volts, right := 0, 0, 0
	for _, h := range list {
		for round := range rounds {
			for n, fault := range faultsOf(h) {
				rng := rand.New(rand.NewPCG(uint64(1000*round+n), 5))
				b := &dcBench{bench: exact(workshop(), 230*(1+0.06*(rng.Float64()-0.5))), fault: fault, farads: 0.85 + 0.3*rng.Float64(), amps: 0.97 + 0.06*rng.Float64()}
				b.rng = rng
				p, err := prove.New(network.Compile(b.known), h, prove.Options{})
				if err != nil {
					t.Fatal(err)
				}
				s := p.Session()
				var trail strings.Builder
				var last *yokemate.Verdict
				powered, unsure := false, 0
				for range 80 {
					id := s.Next()
					if id == "" {
						break
					}
					step := p.Bare(id)
					a := yokemate.Answer{Step: id}
					if step.Measure != nil {
						a.Value = b.readDC(t, step)
						isDC := slices.ContainsFunc(step.State.Outputs, func(o yokemate.Output) bool { return o.DC != nil })
						powered = powered || isDC && (step.State.Fed == nil || *step.State.Fed)
					}
					v, err := s.Take(a)
					if err != nil {
						t.Fatal(err)
					}
					if v == nil {
						continue
					}
					last = v
					fmt.Fprintf(&trail, "%s = %s: %s %.3f %s\n", id, a.Value, v.Verdict, v.Right, v.Words)
					if v.Verdict == "unsure" && unsure < 4 {
						unsure++
						continue
					}
					if v.Verdict != "go" {
						break
					}
				}
				switch {
				case fault.code == "":
					if s.State() != yokemate.ProofGood {
						t.Errorf("%s, round %d: all is right and the proof is %s\n%s", h.Name, round, s.State(), trail.String())
					}
					right++
				case s.State() == yokemate.ProofGood:
					t.Errorf("%s, %s, round %d: proved good\n%s", h.Name, fault.code, round, trail.String())
				case fault.turn > 0 || fault.caps > 0:
					if powered {
						t.Errorf("%s, %s, round %d: power came first\n%s", h.Name, fault.code, round, trail.String())
					}
				default:
					volts++
					ok := last.Changed == fault.code
					for _, x := range last.Slips {
						ok = ok || x.Probability > 0.3 && (x.Code == fault.code || slices.Contains(x.Same, fault.code))
					}
					if ok {
						named++
					} else if testing.Verbose() {
						t.Logf("%s, %s, round %d: not named\n%s", h.Name, fault.code, round, trail.String())
					}
				}
			}
		}
	}
	t.Logf("%d right; %d of %d faults that volts tell are named", right, named, volts)
	if float64(named) < 0.95*float64(volts) {
		t.Errorf("only %d of %d faults are named", named, volts)
	}
}

// What a rectifier reads by closed form: with nothing drawn a reservoir stands
// at the crest less a few tenths of a volt a diode; a doubler at twice that;
// and what is marked on the capacitor covers the crest at the highest mains by
// 1/0.87 (common practice for the margin).
func TestRectifierReads(t *testing.T) {
	crest := math.Sqrt2 * 14 // S1/A at its own volts
	for i, want := range []struct {
		volts  float64
		drops  float64
		idleID string
	}{{crest, 2, "idle-out"}, {crest, 1, "idle-out"}, {2 * crest, 2, "idle-out"}, {math.Sqrt2 * 16.9, 1, "idle-out"}, {math.Sqrt2 * 16.9, 1, "idle-out"}} {
		h := supplies()[i]
		p, err := prove.New(network.Compile(exact(workshop(), 230).known), h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r := p.Step(want.idleID).Right
		// A diode at microamps drops between 0.2 and 0.6 V.
		if r.Value > want.volts-0.2*want.drops || r.Value < want.volts-0.6*want.drops {
			t.Errorf("%s: %.4g V with nothing drawn, crest %.4g V", h.Name, r.Value, want.volts)
		}
		var marked float64
		words := p.Step("parts-out").Do
		if _, err := fmt.Sscanf(words[strings.Index(words, "marked for ")+len("marked for "):], "%f", &marked); err != nil {
			t.Fatal(err)
		}
		each := want.volts
		if h.Outputs[0].DC.Rectifier == "doubler" {
			each /= 2
		}
		if least := each * 253 / 230 / 0.87; marked < least || marked > 1.15*least {
			t.Errorf("%s: capacitors for %g V, at least %.4g V by hand", h.Name, marked, least)
		}
	}
}
