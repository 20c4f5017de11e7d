package waveform

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"testing"

	"yokemate/phys/protect"
)

// refProbe is a curve to compare, for both sides.
type refProbe struct {
	kind string
	i, j int
}

func (p refProbe) MarshalJSON() ([]byte, error) { return json.Marshal([]any{p.kind, p.i, p.j}) }

func (p refProbe) on(s *System) Probe {
	switch p.kind {
	case "volts":
		return s.Volts(p.i, p.j)
	case "diode":
		return s.DiodeAmps(p.i)
	case "winding":
		return s.WindingAmps(p.i)
	case "feed":
		return s.FeedAmps(p.i)
	case "branch":
		return s.BranchAmps(p.i)
	}
	return s.CoreVolts(p.i)
}

// refStates are a circuit's states part by part.
type refStates struct {
	Flux, Windings, Branches, Capacitors, Filaments []float64
}

func (s *System) split(x []float64) (r refStates) {
	for j, st := range s.stores {
		switch {
		case st.plus < s.c.Nodes:
			r.Capacitors = append(r.Capacitors, x[j])
		case st.plus < s.rowE:
			r.Windings = append(r.Windings, x[j])
		case st.plus < s.rowS:
			r.Flux = append(r.Flux, x[j])
		case st.plus < s.rowR:
			r.Branches = append(r.Branches, x[j])
		default:
			r.Filaments = append(r.Filaments, x[j])
		}
	}
	return r
}

type refJob struct {
	Name    string
	Circuit *Circuit
	Start   refStates
	Steady  *refStates `json:",omitempty"`
	Periods int
	Samples int
	Radau   bool // for circuits that LSODA, which starts without the Jacobian, cannot hold
	Probes  []refProbe

	periodic bool
	x        []float64 // start of a transient
	wave     *Wave
}

type refAnswer struct {
	Name      string
	Values    [][]float64
	RMS, Mean []float64
	End       []float64
}

// reference runs the SciPy script. SciPy is Debian's python3-scipy; a machine
// without it fails the test.
func reference(t testing.TB, answer any, jobs []*refJob, args ...string) {
	t.Helper()
	in, err := json.Marshal(jobs)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", append([]string{"testdata/reference.py"}, args...)...)
	cmd.Stdin = bytes.NewReader(in)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("SciPy (Debian's python3-scipy) did not answer: %v\n%s", err, errs.Bytes())
	}
	if err := json.Unmarshal(out.Bytes(), answer); err != nil {
		t.Fatal(err)
	}
}

// iron is an invented unit's core and two or three windings.
func iron(loss, q, kappa, n float64) Core {
	return Core{Loss: loss, Magnetising: q, Kappa: kappa, Exponent: n, Hertz: 50}
}

func fed(c *Circuit, volts, ohms float64) *Circuit {
	c.Hertz = 50
	c.Feeds = append(c.Feeds, Feed{Node: 0, Volts: volts, Ohms: ohms})
	return c
}

// unit adds a unit with its primary on node 0 and one secondary between two nodes.
func (c *Circuit) unit(core Core, va, vb, ra, rb, lb float64, from, to int) *Circuit {
	k := len(c.Cores)
	c.Cores = append(c.Cores, core)
	c.Windings = append(c.Windings, Winding{0, Ground, k, va, ra, 0}, Winding{from, to, k, vb, rb, lb})
	return c
}

func (c *Circuit) bridge(a, b, plus, minus int, law DiodeLaw, farads float64) *Circuit {
	c.Diodes = append(c.Diodes, Diode{a, plus, law}, Diode{b, plus, law}, Diode{minus, a, law}, Diode{minus, b, law})
	c.Capacitors = append(c.Capacitors, Capacitor{plus, minus, farads})
	return c
}

// networks are the thirty circuits of the comparison.
func networks() []*refJob {
	var jobs []*refJob
	add := func(name string, c *Circuit, periodic bool, periods int, x func(s *System) []float64, probes ...refProbe) {
		j := &refJob{Name: name, Circuit: c, Periods: periods, Samples: 256, Probes: probes, periodic: periodic}
		if x != nil {
			s, err := Compile(c)
			if err != nil {
				panic(err)
			}
			j.x = x(s)
		}
		jobs = append(jobs, j)
	}
	volts := func(a, b int) refProbe { return refProbe{"volts", a, b} }
	amps := func(kind string, i int) refProbe { return refProbe{kind, i, 0} }

	// Bridges on units of 3 to 200 VA, with and without leakage.
	for i, u := range []struct{ ra, rb, lb, vb, farads, amps float64 }{
		{940, 2.9, 0, 11.92, 1000e-6, 0.15}, {940, 2.9, 0.4e-3, 11.92, 1000e-6, 0.15}, {120, 0.9, 0.1e-3, 21, 2200e-6, 0.5},
		{25, 0.22, 0.05e-3, 27, 4700e-6, 1.5}, {4, 0.05, 0, 35, 10000e-6, 3},
	} {
		c := fed(&Circuit{Nodes: 5}, 230, 0.5).unit(iron(1.2+float64(i), 2.3+2*float64(i), 0.3, 9), 225, u.vb, u.ra, u.rb, u.lb, 1, 2)
		c.bridge(1, 2, 3, 4, Silicon(DiodeRating(u.amps)), u.farads)
		c.Sinks = []Sink{{3, 4, u.amps, 0, 0}}
		add(fmt.Sprintf("bridge %d", i+1), c, true, 1, nil, volts(3, 4), amps("winding", 1), amps("feed", 0), amps("diode", 0))
	}
	// Centre tap on two half windings.
	for i, l := range []float64{0, 0.2e-3} {
		c := fed(&Circuit{Nodes: 5}, 230, 0).unit(iron(3, 6, 0.3, 9), 226, 15, 60, 0.5, l, 1, 2)
		c.Windings = append(c.Windings, Winding{2, 3, 0, 15, 0.52, l})
		c.Diodes = []Diode{{1, 4, Silicon(3)}, {3, 4, Silicon(3)}}
		c.Capacitors = []Capacitor{{4, 2, 3300e-6}}
		c.Sinks = []Sink{{4, 2, 0.9, 0, 0}}
		add(fmt.Sprintf("centre tap %d", i+1), c, true, 1, nil, volts(4, 2), amps("winding", 1), amps("winding", 2), amps("feed", 0))
	}
	// Dual rails with unequal loads.
	{
		c := fed(&Circuit{Nodes: 6}, 230, 0).unit(iron(3, 6, 0.3, 9), 226, 15, 60, 0.5, 0, 1, 2)
		c.Windings = append(c.Windings, Winding{2, 3, 0, 15, 0.52, 0})
		c.Diodes = []Diode{{1, 4, Silicon(3)}, {3, 4, Silicon(3)}, {5, 1, Silicon(3)}, {5, 3, Silicon(3)}}
		c.Capacitors = []Capacitor{{4, 2, 2200e-6}, {2, 5, 2200e-6}}
		c.Sinks = []Sink{{4, 2, 0.7, 0, 0}, {2, 5, 0.3, 0, 0}}
		add("dual rails", c, true, 1, nil, volts(4, 2), volts(2, 5), amps("winding", 1), amps("feed", 0))
	}
	// Doublers and half waves; the half wave magnetises its core.
	for i, l := range []float64{0, 0.3e-3} {
		c := fed(&Circuit{Nodes: 5}, 230, 0).unit(iron(1.5, 3, 0.3, 9), 225, 12, 400, 1.5, l, 1, 2)
		c.Diodes = []Diode{{1, 3, Silicon(1)}, {4, 1, Silicon(1)}}
		c.Capacitors = []Capacitor{{3, 2, 1000e-6}, {2, 4, 1000e-6}}
		c.Branches = []Branch{{3, 4, 300, 0}}
		add(fmt.Sprintf("doubler %d", i+1), c, true, 1, nil, volts(3, 4), amps("winding", 1), amps("feed", 0))
		c = fed(&Circuit{Nodes: 4}, 230, 0).unit(iron(1.5, 3, 0.3, 9), 225, 12, 400, 1.5, l, 1, 2)
		c.Diodes = []Diode{{1, 3, Silicon(1)}}
		c.Capacitors = []Capacitor{{3, 2, 1000e-6}}
		c.Branches = []Branch{{3, 2, 150, 0}}
		add(fmt.Sprintf("half wave %d", i+1), c, true, 1, nil, volts(3, 2), amps("winding", 1), amps("feed", 0))
	}
	// A regulator that drops out in the valleys.
	{
		c := fed(&Circuit{Nodes: 5}, 230, 0).unit(iron(2, 4, 0.3, 9), 225, 10.5, 200, 0.8, 0, 1, 2)
		c.bridge(1, 2, 3, 4, Schottky(3), 1000e-6)
		c.Sinks = []Sink{{3, 4, 0.8, 9, 1.5}}
		add("regulator", c, true, 1, nil, volts(3, 4), amps("winding", 1), amps("feed", 0))
	}
	// The ideal diode of the closed forms.
	{
		c := bridge(0.05, 1, 20/(2*math.Pi*50), Ideal(10, 1))
		add("ideal bridge", c, true, 1, nil, volts(1, 2), amps("feed", 0))
	}
	// AC loads and an idle, saturating core.
	{
		c := fed(&Circuit{Nodes: 3}, 253, 0.5).unit(iron(2, 5, 1.5, 9), 225, 12, 90, 0.6, 0, 1, Ground)
		c.Branches = []Branch{{1, 2, 8, 20e-3}, {2, Ground, 0.2, 0}}
		add("load of ohms and henries", c, true, 1, nil, volts(1, Ground), amps("winding", 1), amps("feed", 0))
		c = fed(&Circuit{Nodes: 3}, 253, 0.5).unit(iron(2, 5, 3, 11), 205, 12, 90, 0.6, 0, 1, 2)
		add("idle and over-fluxed", c, true, 1, nil, volts(1, 2), amps("feed", 0))
	}
	// Two units in parallel: right, and reversed behind a lamp.
	{
		pair := func(turn float64, ohms float64) *Circuit {
			c := fed(&Circuit{Nodes: 2}, 230, ohms).unit(iron(1.4, 2.6, 0.3, 9), 222, 11.92, 940, 2.9, 0, 1, Ground)
			return c.unit(iron(1.5, 2.7, 0.3, 9), 221, 11.8*turn, 910, 2.8, 0, 1, Ground)
		}
		add("parallel", pair(1, 0), true, 1, nil, volts(1, Ground), amps("winding", 1), amps("feed", 0))
		add("parallel, reversed", pair(-1, 0), true, 1, nil, amps("winding", 1), amps("feed", 0))
		c := pair(-1, 0)
		c.Feeds[0].Lamp = &protect.Lamp{Watts: 15, Volts: 230}
		add("reversed behind a lamp", c, false, 6, func(s *System) []float64 { return s.Rest() }, volts(0, Ground), amps("winding", 1), amps("feed", 0))
		c = pair(1, 0.5)
		c.Windings[3].To = 0 // its end on live: a wrong joint
		c.Branches = []Branch{{1, Ground, 100, 0}}
		add("wrong joint", c, false, 2, func(s *System) []float64 { return s.Rest() }, volts(1, Ground), amps("winding", 1), amps("feed", 0))
	}
	// Switch-on of a saturating core, at several points and remanences.
	for i, p := range []struct{ degrees, remanence, l float64 }{{0, 0, 0}, {0, 0.6, 0}, {45, 0.3, 0}, {90, 0.7, 0}, {180, -0.8, 5e-3}} {
		c := fed(&Circuit{Nodes: 3}, 230, 0.5).unit(iron(4, 8, 0.6, 9), 228, 18, 12, 0.1, 0, 1, 2)
		c.Feeds[0].Degrees = p.degrees
		c.Windings[0].Henries = p.l
		add(fmt.Sprintf("switch-on %d", i+1), c, false, 2, func(s *System) []float64 {
			x := s.Rest()
			x[0] = p.remanence
			return x
		}, amps("feed", 0), amps("corevolts", 0))
	}
	// Switch-on of a bridge with an empty reservoir, and its lamp.
	{
		c := fed(&Circuit{Nodes: 5}, 230, 0.5).unit(iron(3, 6, 0.4, 9), 226, 20, 40, 0.35, 0.1e-3, 1, 2)
		c.bridge(1, 2, 3, 4, Silicon(3), 4700e-6)
		c.Branches = []Branch{{3, 4, 40, 0}}
		add("bridge from rest", c, false, 2, func(s *System) []float64 { return s.Rest() }, volts(3, 4), amps("winding", 1), amps("feed", 0))
		d := *c
		d.Feeds = []Feed{{Node: 0, Volts: 230, Lamp: &protect.Lamp{Watts: 40, Volts: 230}}}
		add("bridge from rest behind a lamp", &d, false, 3, func(s *System) []float64 { return s.Rest() }, volts(3, 4), amps("winding", 1), amps("feed", 0))
	}
	// Boost: an autotransformer with a rectified load; and two phases.
	{
		c := fed(&Circuit{Nodes: 4}, 207, 0.5)
		c.unit(iron(3, 6, 0.4, 9), 226, 24, 40, 0.5, 0, 1, 0)
		c.Diodes = []Diode{{1, 2, Silicon(3)}, {Ground, 2, Silicon(3)}, {3, 1, Silicon(3)}, {3, Ground, Silicon(3)}}
		c.Capacitors = []Capacitor{{2, 3, 220e-6}}
		c.Branches = []Branch{{2, 3, 900, 0}}
		add("boost, rectified", c, true, 1, nil, volts(2, 3), amps("winding", 1), amps("feed", 0))
		d := fed(&Circuit{Nodes: 3}, 230, 0.5).unit(iron(1.4, 2.6, 0.3, 9), 222, 11.92, 940, 2.9, 0, 1, Ground)
		d.Feeds = append(d.Feeds, Feed{Node: 2, Volts: 230, Degrees: 120, Ohms: 0.5})
		d.Cores = append(d.Cores, iron(1.5, 2.7, 0.3, 9))
		d.Windings = append(d.Windings, Winding{2, Ground, 1, 221, 910, 0}, Winding{1, Ground, 1, 11.8, 2.8, 0})
		add("two supply phases", d, true, 1, nil, volts(1, Ground), amps("winding", 1), amps("feed", 1))
	}
	// A shorted turn, and two rectifiers on one core.
	{
		c := fed(&Circuit{Nodes: 3}, 230, 0.5).unit(iron(3, 6, 0.4, 9), 226, 24, 40, 0.5, 0, 1, 2)
		c.Windings = append(c.Windings, Winding{Ground, Ground, 0, 2.26, 0.4, 0})
		add("shorted turns", c, true, 1, nil, volts(1, 2), amps("winding", 2), amps("feed", 0))
		c = fed(&Circuit{Nodes: 9}, 230, 0.5).unit(iron(3, 6, 0.4, 9), 226, 24, 40, 0.5, 0, 1, 2)
		c.Windings = append(c.Windings, Winding{5, 6, 0, 9, 0.3, 0.05e-3})
		c.bridge(1, 2, 3, 4, Silicon(1), 1000e-6).bridge(5, 6, 7, 8, Schottky(3), 4700e-6)
		c.Sinks = []Sink{{3, 4, 0.3, 0, 0}, {7, 8, 1, 0, 0}}
		add("two bridges on one core", c, true, 1, nil, volts(3, 4), volts(7, 8), amps("winding", 2), amps("feed", 0))
	}
	return jobs
}

// TestReference compares thirty circuits with SciPy's solve_ivp at a relative
// tolerance of 10⁻¹⁰: waveforms within 10⁻⁴ of their peak, rms within 10⁻⁵.
func TestReference(t *testing.T) {
	jobs := networks()
	if len(jobs) < 30 {
		t.Fatalf("only %d circuits", len(jobs))
	}
	for _, j := range jobs {
		s, err := Compile(j.Circuit)
		if err != nil {
			t.Fatalf("%s: %v", j.Name, err)
		}
		opt := Options{Samples: j.Samples}
		for _, p := range j.Probes {
			opt.Probes = append(opt.Probes, p.on(s))
		}
		var rep Report
		x := j.x
		if j.periodic {
			j.wave, x, rep, err = s.Periodic(nil, opt)
		} else {
			var end []float64
			if j.Periods > 1 {
				_, end, _, err = s.Run(x, 0, float64(j.Periods-1), Options{Probes: opt.Probes})
				if err != nil {
					t.Fatalf("%s: %v", j.Name, err)
				}
			} else {
				end = x
			}
			j.wave, _, rep, err = s.Run(end, 0, 1, opt)
		}
		if err != nil {
			t.Errorf("%s: %v", j.Name, err)
			continue
		}
		j.Start = s.split(x)
		t.Logf("%-32s %v", j.Name, rep)
		if math.Abs(rep.Balance) > 1e-6 {
			t.Errorf("%s: energy balance %.2g", j.Name, rep.Balance)
		}
	}
	if t.Failed() {
		return
	}
	var answers []refAnswer
	reference(t, &answers, jobs)
	for k, j := range jobs {
		a := answers[k]
		for i := range j.Probes {
			tr := j.wave.Traces[i]
			peak, worst := 0.0, 0.0
			for q, v := range a.Values[i] {
				peak = max(peak, math.Abs(v))
				worst = max(worst, math.Abs(v-tr.Values[q]))
			}
			rms := math.Abs(tr.RMS/a.RMS[i] - 1)
			t.Logf("%-32s %v: wave %.1e of %.4g, rms %.1e", j.Name, j.Probes[i], worst/peak, peak, rms)
			if worst > 1e-4*peak {
				for q, v := range a.Values[i] {
					if math.Abs(v-tr.Values[q]) > 0.3e-4*peak {
						t.Logf("  at %d: %.8g, SciPy %.8g", q, tr.Values[q], v)
					}
				}
				t.Errorf("%s %v: wave off by %.2g of its peak", j.Name, j.Probes[i], worst/peak)
			}
			if rms > 1e-5 {
				t.Errorf("%s %v: rms off by %.2g", j.Name, j.Probes[i], rms)
			}
		}
	}
}
