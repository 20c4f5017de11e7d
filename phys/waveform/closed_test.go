package waveform

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"pgregory.net/rapid"

	"yokemate/phys/protect"
)

// bridge is a source behind a resistance, four diodes, a capacitor and a resistor.
func bridge(rs, rl, farads float64, law DiodeLaw) *Circuit {
	return &Circuit{
		Hertz: 50, Nodes: 3,
		Feeds:      []Feed{{Node: 0, Volts: 10, Ohms: rs}},
		Diodes:     []Diode{{0, 1, law}, {Ground, 1, law}, {2, 0, law}, {2, Ground, law}},
		Capacitors: []Capacitor{{1, 2, farads}},
		Branches:   []Branch{{1, 2, rl, 0}},
	}
}

// TestLargeCapacitor holds rectifiers at ωCR = 100 to the closed form for an
// endless capacitor: tan θ − θ = (π/n) R_S/R_L, V/V_p = cos θ, and the moments
// of a sine's cap. The two are 0.3 % apart at most by themselves.
func TestLargeCapacitor(t *testing.T) {
	for n, kind := range map[float64]string{1: "half", 2: "bridge"} {
		for _, q := range []float64{0.01, 0.02, 0.03, 0.05, 0.1, 0.2, 0.3} {
			got, err := Rectifier(kind, q, 100)
			if err != nil {
				t.Fatal(err)
			}
			want := EndlessCapacitor(n, q)
			for _, c := range []struct {
				name      string
				got, want float64
				tol       float64
			}{
				{"V/Vp", got.Volts, want.Volts, 0.003}, {"Irms/Iavg", got.RMS, want.RMS, 0.003},
				// The peak sees the ripple itself, half of which at ωCR = 100 is up to 1.5 %.
				{"Ipk/Iavg", got.Peak, want.Peak, 0.02},
			} {
				if math.Abs(c.got/c.want-1) > c.tol {
					t.Errorf("%s, Rs/RL %g: %s %.5g, closed form %.5g", kind, q, c.name, c.got, c.want)
				}
			}
		}
	}
	// A row of the closed form as tabled, four digits: 5 %.
	h, f := EndlessCapacitor(1, 0.05), EndlessCapacitor(2, 0.05)
	for _, c := range [][2]float64{{h.Volts, 0.7518}, {h.RMS, 2.294}, {h.Peak, 6.603}, {f.Volts, 0.8322}, {f.RMS, 2.537}, {f.Peak, 8.065}} {
		if math.Abs(c[0]/c[1]-1) > 3e-4 {
			t.Errorf("closed form %.5g, tabled %.4g", c[0], c[1])
		}
	}
}

// TestFiniteCapacitor holds V/Vp, rms ripple and I_rms/I_avg of a diode to an
// exact periodic solution for an ideal diode (derived for this purpose by
// piecewise closed forms, three digits printed), to 1 %.
func TestFiniteCapacitor(t *testing.T) {
	type row [3]float64
	table := map[float64]struct{ h1, h10, f1, f5, f10 row }{
		1:   {row{0.378, 91.1, 1.76}, row{0.347, 90.8, 1.74}, row{0.672, 36.7, 1.87}, row{0.646, 36.5, 1.86}, row{0.616, 36.2, 1.85}},
		2:   {row{0.477, 61.3, 1.96}, row{0.434, 60.5, 1.89}, row{0.730, 25.7, 2.18}, row{0.700, 25.4, 2.13}, row{0.665, 24.6, 2.07}},
		5:   {row{0.659, 29.2, 2.33}, row{0.569, 27.7, 2.04}, row{0.827, 13.1, 2.67}, row{0.783, 12.3, 2.42}, row{0.726, 11.4, 2.25}},
		10:  {row{0.780, 15.5, 2.63}, row{0.622, 14.2, 2.08}, row{0.886, 7.14, 3.00}, row{0.817, 6.38, 2.51}, row{0.745, 5.84, 2.28}},
		20:  {row{0.857, 7.99, 2.82}, row{0.639, 7.14, 2.09}, row{0.920, 3.70, 3.18}, row{0.828, 3.22, 2.53}, row{0.750, 2.94, 2.29}},
		50:  {row{0.895, 3.23, 2.90}, row{0.644, 2.86, 2.09}, row{0.935, 1.50, 3.25}, row{0.832, 1.29, 2.54}, row{0.752, 1.18, 2.29}},
		100: {row{0.901, 1.62, 2.92}, row{0.645, 1.43, 2.09}, row{0.937, 0.749, 3.26}, row{0.832, 0.646, 2.54}, row{0.752, 0.589, 2.29}},
	}
	for wcr, r := range table {
		for _, c := range []struct {
			kind string
			rs   float64
			want row
		}{{"half", 0.01, r.h1}, {"half", 0.1, r.h10}, {"bridge", 0.01, r.f1}, {"bridge", 0.05, r.f5}, {"bridge", 0.1, r.f10}} {
			f, err := Rectifier(c.kind, c.rs, wcr)
			if err != nil {
				t.Fatal(err)
			}
			for i, got := range []float64{f.Volts, 100 * f.Ripple, f.RMS} {
				if math.Abs(got/c.want[i]-1) > 0.01 {
					t.Errorf("%s, ωCR %g, Rs/RL %g, %d: %.4g, want %.4g", c.kind, wcr, c.rs, i, got, c.want[i])
				}
			}
		}
	}
	if _, err := Rectifier("whole", 0.1, 1); err == nil {
		t.Error("an unknown rectifier is solved")
	}
	if _, err := Rectifier("half", 0, 1); err == nil {
		t.Error("a source without resistance is solved")
	}
}

// TestBridgeRatio: rms winding current over mean DC current behind a bridge
// with a big reservoir, by the unit's regulation: about 1.5 at 30 %, 1.63 at
// 20, 1.79 at 12, 1.93 at 8, 2.1 at 5, 2.3 at 3 (common practice, no source;
// 4700 µF an ampere, 50 Hz, regulation of the resistances alone). It comes out of the
// unit's resistance, with nothing of it in the model. 4 %: the table's digits,
// and a diode law that it does not state.
func TestBridgeRatio(t *testing.T) {
	for _, r := range []struct{ regulation, ratio float64 }{{0.30, 1.53}, {0.20, 1.63}, {0.12, 1.79}, {0.08, 1.93}, {0.05, 2.1}, {0.03, 2.3}} {
		// A 20 V, 1 A winding drops regulation × V_fl at its rated current,
		// and gives the DC current at which it carries that.
		v, amps := 20.0*(1+r.regulation), 1.0
		ohms := 20 * r.regulation / amps
		var ratio float64
		dc := amps / r.ratio
		for range 6 {
			c := &Circuit{Hertz: 50, Nodes: 3, Feeds: []Feed{{Node: 0, Volts: v, Ohms: ohms}},
				Capacitors: []Capacitor{{1, 2, 4700e-6 * dc}}, Sinks: []Sink{{1, 2, dc, 0, 0}}}
			law := Silicon(10)
			c.Diodes = []Diode{{0, 1, law}, {Ground, 1, law}, {2, 0, law}, {2, Ground, law}}
			s, err := Compile(c)
			if err != nil {
				t.Fatal(err)
			}
			w, _, _, err := s.Periodic(nil, Options{Probes: []Probe{s.FeedAmps(0)}})
			if err != nil {
				t.Fatal(err)
			}
			ratio = w.Traces[0].RMS / dc
			dc *= amps / w.Traces[0].RMS
		}
		t.Logf("regulation %2.0f %%: %.3f (practice %.2f)", 100*r.regulation, ratio, r.ratio)
		if math.Abs(ratio/r.ratio-1) > 0.04 {
			t.Errorf("regulation %g: ratio %.3f, practice %.2f", r.regulation, ratio, r.ratio)
		}
	}
}

// TestRectifierFigures: textbook rows without a reservoir, whose formulas are
// exact for an ideal diode: Salivahanan, Electronic Devices and Circuits, ch.
// 18. 18.1 p. 548: 325 V peak, diode 100 Ω and load 1000 Ω, half wave: 295.45
// mA peak, 94.04 mA mean, 147.72 mA rms. 18.4 p. 550: 230 V, 5:1, centre tap,
// 1 kΩ: 20.707 V mean, ripple 10.025 V rms. 18.3 p. 549: half wave: 20.707 V.
func TestRectifierFigures(t *testing.T) {
	ok := func(name string, got, want float64) {
		t.Helper()
		// The ideal diode takes some 10⁻⁵ of the volts, which a ripple as a difference of squares shows five times; the prints have four or five digits.
		if math.Abs(got/want-1) > 2e-4 {
			t.Errorf("%s: %.6g, printed %.6g", name, got, want)
		}
	}
	solve := func(c *Circuit, p func(s *System) []Probe) *Wave {
		t.Helper()
		c.Cores = []Core{{Loss: 1e-3, Magnetising: 1e-3, Exponent: 9, Hertz: 50}}
		c.Windings = []Winding{{0, Ground, 0, c.Feeds[0].Volts, 1e3, 0}} // an idle core: a periodic run wants a state
		s, err := Compile(c)
		if err != nil {
			t.Fatal(err)
		}
		w, _, _, err := s.Periodic(nil, Options{Samples: 1024, Probes: p(s)})
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	c := &Circuit{Hertz: 50, Nodes: 2, Feeds: []Feed{{Node: 0, Volts: 325 / math.Sqrt2}},
		Diodes: []Diode{{0, 1, Ideal(325, 1000)}}, Branches: []Branch{{1, Ground, 1100, 0}}}
	w := solve(c, func(s *System) []Probe { return []Probe{s.BranchAmps(0)} })
	ok("18.1 peak", w.Traces[0].Peak(), 0.29545)
	ok("18.1 mean", w.Traces[0].Mean, 0.09404)
	ok("18.1 rms", w.Traces[0].RMS, 0.14772)
	law := Ideal(46, 1000)
	c = &Circuit{Hertz: 50, Nodes: 3, Feeds: []Feed{{Node: 0, Volts: 23}, {Node: 1, Volts: 23, Degrees: 180}},
		Diodes: []Diode{{0, 2, law}, {1, 2, law}}, Branches: []Branch{{2, Ground, 1000, 0}}}
	w = solve(c, func(s *System) []Probe { return []Probe{s.Volts(2, Ground)} })
	v := &w.Traces[0]
	ok("18.4 mean", v.Mean, 20.707)
	// The print takes the mean as 20.7 there: √(23² − 20.7²); unrounded it is 10.011.
	ok("18.4 ripple", math.Sqrt(v.RMS*v.RMS-20.7*20.7), 10.025)
	ok("form factor", v.Form(), math.Pi/(2*math.Sqrt2)) // closed form of a full-wave sine
	c = &Circuit{Hertz: 50, Nodes: 2, Feeds: []Feed{{Node: 0, Volts: 46}}, Diodes: []Diode{{0, 1, Ideal(46, 300)}}, Branches: []Branch{{1, Ground, 300, 0}}}
	w = solve(c, func(s *System) []Probe { return []Probe{s.Volts(1, Ground)} })
	ok("18.3 mean", w.Traces[0].Mean, 20.707)
}

// TestOrder checks the pair against the order conditions to the fourth and
// third order and its stage order of two.
func TestOrder(t *testing.T) {
	apply := func(v [stages]float64) (r [stages]float64) {
		for i := range stages {
			for j := range stages {
				r[i] += rkA[i][j] * v[j]
			}
		}
		return r
	}
	power := func(k float64) (r [stages]float64) {
		for i, c := range rkC {
			r[i] = math.Pow(c, k)
		}
		return r
	}
	times := func(a, b [stages]float64) (r [stages]float64) {
		for i := range a {
			r[i] = a[i] * b[i]
		}
		return r
	}
	dot := func(a, b [stages]float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	ok := func(name string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-13 {
			t.Errorf("%s: %.16g, want %.16g", name, got, want)
		}
	}
	one, c := power(0), power(1)
	rows, rowsC := apply(one), apply(c)
	for i := range stages {
		ok("row sum", rows[i], rkC[i])
		ok("stage order 2", rowsC[i], rkC[i]*rkC[i]/2)
	}
	ac := apply(c)
	for k, b := range map[string][stages]float64{"b": rkB, "b̂": rkBHat} {
		ok(k+" 1", dot(b, one), 1)
		ok(k+" 2", dot(b, c), 1./2)
		ok(k+" 3a", dot(b, power(2)), 1./3)
		ok(k+" 3b", dot(b, ac), 1./6)
	}
	ok("4a", dot(rkB, power(3)), 1./4)
	ok("4b", dot(rkB, times(c, ac)), 1./8)
	ok("4c", dot(rkB, apply(power(2))), 1./12)
	ok("4d", dot(rkB, apply(ac)), 1./24)
}

// TestOmega: the residual of w + ln w = x, and the slope of a diode's law
// against a difference.
func TestOmega(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-200, 1e6).Draw(t, "x")
		w := omega(x)
		// Where w is tiny ln w carries the digits; where it is large, w.
		if r := math.Abs(w + math.Log(w) - x); r > 1e-14*max(1, math.Abs(x)) {
			t.Fatalf("ω(%g) = %g leaves %g", x, w, r)
		}
		law := Silicon(rapid.Float64Range(0.1, 50).Draw(t, "amps"))
		v := rapid.Float64Range(-1, 2).Draw(t, "v")
		k := law.compile()
		_, slope := k.amps(v)
		want := fd.Derivative(law.Amps, v, &fd.Settings{Formula: fd.Central, Step: 1e-6})
		if math.Abs(slope-want) > 1e-5*(math.Abs(want)+law.Leak) {
			t.Fatalf("slope at %g V: %g, difference %g", v, slope, want)
		}
		amps := rapid.Float64Range(1e-3, 50).Draw(t, "i")
		if back := law.Amps(law.Drop(amps)) - law.Leak*law.Drop(amps); math.Abs(back/amps-1) > 1e-9 {
			t.Fatalf("%g A drop %g V, which give %g A", amps, law.Drop(amps), back)
		}
	})
}

// TestSlopes compares every port's derivatives with differences.
func TestSlopes(t *testing.T) {
	s, err := Compile(&Circuit{Hertz: 50, Nodes: 2, Feeds: []Feed{{Node: 0, Volts: 230, Lamp: &protect.Lamp{Watts: 40, Volts: 230}}},
		Cores: []Core{iron(1, 3, 0.5, 9)}, Windings: []Winding{{0, Ground, 0, 230, 50, 0}},
		Diodes: []Diode{{0, 1, Silicon(1)}}, Sinks: []Sink{{1, Ground, 1, 0, 0}, {1, Ground, 0.5, 12, 2}}})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		z := make([]float64, s.m)
		for i, p := range s.ports {
			lo, hi := -1.0, 1.2
			switch p.kind {
			case sinking:
				lo, hi = -1, 16
			case filamentHeat:
				lo, hi = 0.1, 1.2
			}
			z[i] = rapid.Float64Range(lo, hi).Draw(t, "z")
		}
		s.curves(z)
		d, cross := append([]float64(nil), s.wk.d...), append([]float64(nil), s.wk.cross...)
		const step = 1e-6
		at := func(j int, by float64) []float64 {
			y := append([]float64(nil), z...)
			y[j] += by
			s.curves(y)
			return append([]float64(nil), s.wk.f...)
		}
		for j := range z {
			up, down := at(j, step), at(j, -step)
			for i := range z {
				want := 0.0
				switch {
				case i == j:
					want = d[i]
				case s.ports[i].kind == filamentDrop && j == i+1, s.ports[i].kind == filamentHeat && j == i-1:
					want = cross[i]
				}
				got := (up[i] - down[i]) / (2 * step)
				// Curvature over the step: 10⁻⁶ of a bend of 0.05 V.
				if math.Abs(got-want) > 1e-4*(math.Abs(want)+0.01) {
					t.Fatalf("df%d/dz%d at %v: %g, difference %g", i, j, z, want, got)
				}
			}
		}
	})
}

// TestFilament: a lamp's rest in time is the law of package protect, and it
// takes a fraction of a second to get there.
func TestFilament(t *testing.T) {
	lamp := protect.Lamp{Watts: 40, Volts: 230}
	for _, ohms := range []float64{50, 500, 3000} {
		c := &Circuit{Hertz: 50, Nodes: 1, Feeds: []Feed{{Node: 0, Volts: 230, Lamp: &lamp}}, Branches: []Branch{{0, Ground, ohms, 0}}}
		s, err := Compile(c)
		if err != nil {
			t.Fatal(err)
		}
		w, _, _, err := s.Periodic(nil, Options{Probes: []Probe{s.FeedAmps(0)}})
		if err != nil {
			t.Fatal(err)
		}
		on := lamp.InSeries(230, ohms)
		// The filament breathes a little at twice the mains, which the rms law
		// leaves out: a few thousandths of the current.
		if want := lamp.Amps(on); math.Abs(w.Traces[0].RMS/want-1) > 0.005 {
			t.Errorf("%g Ω behind the lamp: %.5g A, law %.5g A", ohms, w.Traces[0].RMS, want)
		}
	}
}

// answer solves a network of the reference list at a tolerance.
func (j *refJob) answer(t *testing.T, tol float64, samples int) (*Wave, Report) {
	t.Helper()
	s, err := Compile(j.Circuit)
	if err != nil {
		t.Fatal(err)
	}
	opt := Options{Tolerance: tol, Samples: samples}
	for _, p := range j.Probes {
		opt.Probes = append(opt.Probes, p.on(s))
	}
	var w *Wave
	var rep Report
	if j.periodic {
		w, _, rep, err = s.Periodic(nil, opt)
	} else {
		w, _, rep, err = s.Run(j.x, 0, float64(j.Periods), opt)
	}
	if err != nil {
		t.Fatalf("%s: %v", j.Name, err)
	}
	return w, rep
}

// TestBalance: energy is kept to 10⁻⁶ of what went to and fro in every
// network, however loose the tolerance.
func TestBalance(t *testing.T) {
	for _, tol := range []float64{1e-2, 1e-3, 1e-4, 1e-5} {
		worst := 0.0
		for _, j := range networks() {
			_, rep := j.answer(t, tol, 0)
			if worst = max(worst, math.Abs(rep.Balance)); math.Abs(rep.Balance) > 1e-6 {
				t.Errorf("%s at a tolerance of %g: energy balance %.2g", j.Name, tol, rep.Balance)
			}
		}
		t.Logf("at a tolerance of %g the worst is %.2g", tol, worst)
	}
}

// TestTolerance: halving the tolerance moves results by less than the error
// stated for them, 10⁻⁴ of the peak and 10⁻⁵ of the rms.
func TestTolerance(t *testing.T) {
	for _, j := range networks() {
		a, _ := j.answer(t, defaultTolerance, 64)
		b, _ := j.answer(t, defaultTolerance/2, 64)
		for i := range j.Probes {
			x, y := &a.Traces[i], &b.Traces[i]
			if math.Abs(x.RMS/y.RMS-1) > 1e-5 {
				t.Errorf("%s %v: rms moves by %.2g", j.Name, j.Probes[i], x.RMS/y.RMS-1)
			}
			for q := range x.Values {
				if math.Abs(x.Values[q]-y.Values[q]) > 1e-4*y.Peak() {
					t.Errorf("%s %v: sample %d moves by %.2g of the peak", j.Name, j.Probes[i], q, (x.Values[q]-y.Values[q])/y.Peak())
					break
				}
			}
		}
	}
}

// TestSeriesInductances: two inductances in series, which share one state, are one of their sum.
func TestSeriesInductances(t *testing.T) {
	run := func(c *Circuit) float64 {
		s, err := Compile(c)
		if err != nil {
			t.Fatal(err)
		}
		w, _, _, err := s.Periodic(nil, Options{Probes: []Probe{s.FeedAmps(0)}})
		if err != nil {
			t.Fatal(err)
		}
		return w.Traces[0].RMS
	}
	two := run(&Circuit{Hertz: 50, Nodes: 2, Feeds: []Feed{{Node: 0, Volts: 100, Ohms: 1}}, Branches: []Branch{{0, 1, 2, 10e-3}, {1, Ground, 3, 20e-3}}})
	x := 2 * math.Pi * 50 * 30e-3
	if want := 100 / math.Hypot(6, x); math.Abs(two/want-1) > 1e-6 {
		t.Errorf("%.8g A, closed form %.8g A", two, want)
	}
}

// TestNextToNoInductance: an inductance that rounding leaves is none.
func TestNextToNoInductance(t *testing.T) {
	for _, l := range []float64{0, 1e-19, 1e-13, 1e-10, 1e-8} {
		s, err := Compile(&Circuit{Hertz: 50, Nodes: 2, Feeds: []Feed{{Node: 0, Volts: 100, Ohms: 1}},
			Cores: []Core{iron(1, 2, 0.3, 9)}, Windings: []Winding{{0, Ground, 0, 100, 5, l}}, Branches: []Branch{{0, 1, 2, l}, {1, Ground, 3, 0}}})
		if err != nil {
			t.Fatal(err)
		}
		w, _, _, err := s.Periodic(nil, Options{Probes: []Probe{s.BranchAmps(1)}})
		if err != nil {
			t.Fatalf("%g H: %v", l, err)
		}
		// 100 V through 1 Ω, the idle core beside it takes a few parts in 10⁴.
		if math.Abs(w.Traces[0].RMS/(100.0/6)-1) > 1e-3 {
			t.Errorf("%g H: %g A", l, w.Traces[0].RMS)
		}
	}
}

// TestBad: what no circuit can have is an error with its place.
func TestBad(t *testing.T) {
	good := func() *Circuit { return bridge(0.1, 1, 1e-3, Silicon(1)) }
	for name, spoil := range map[string]func(c *Circuit){
		"hertz":     func(c *Circuit) { c.Hertz = 0 },
		"node":      func(c *Circuit) { c.Diodes[0].To = 7 },
		"farads":    func(c *Circuit) { c.Capacitors[0].Farads = 0 },
		"ohms":      func(c *Circuit) { c.Branches[0].Ohms = 0 },
		"core":      func(c *Circuit) { c.Windings = []Winding{{0, 1, 0, 1, 1, 0}} },
		"leak":      func(c *Circuit) { c.Diodes[0].Law.Leak = 0 },
		"sink":      func(c *Circuit) { c.Sinks = []Sink{{1, 2, -1, 0, 0}} },
		"feed":      func(c *Circuit) { c.Feeds[0].Node = Ground },
		"magnetism": func(c *Circuit) { c.Cores = []Core{{Loss: 1, Exponent: 9, Hertz: 50}} },
		"two feeds": func(c *Circuit) { c.Feeds = []Feed{{Node: 0, Volts: 10}, {Node: 0, Volts: 9}} },
	} {
		c := good()
		spoil(c)
		if _, err := Compile(c); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// TestMonodromy compares the derivative of a period's map, carried along the
// steps, with differences of whole periods at a tight tolerance.
func TestMonodromy(t *testing.T) {
	for _, j := range networks() {
		s, err := Compile(j.Circuit)
		if err != nil {
			t.Fatal(err)
		}
		// Two periods from rest there is something of every state.
		_, x, _, err := s.Run(s.Rest(), 0, 2, Options{})
		if err != nil {
			t.Fatalf("%s: %v", j.Name, err)
		}
		var rep Report
		end := func(x []float64, sens bool) []float64 {
			s.rescale(true)
			if err := s.begin(0, x); err != nil {
				t.Fatal(err)
			}
			if err := s.run(0, ticksPerPeriod, runOptions{tolerance: 1e-8, sens: sens}, &rep); err != nil {
				t.Fatal(err)
			}
			return append([]float64(nil), s.wk.x...)
		}
		end(x, true)
		m := append([]float64(nil), s.wk.sens...)
		for k := range x {
			if st := s.stores[k]; st.plus >= s.rowW && st.plus < s.rowE && len(j.Circuit.Diodes) > 0 {
				continue // a current that blocked diodes would have to stop in nanoseconds
			}
			const step = 1e-4
			up, down := append([]float64(nil), x...), append([]float64(nil), x...)
			up[k] += step
			down[k] -= step
			a, b := end(up, false), end(down, false)
			for i := range x {
				got, want := m[i*len(x)+k], (a[i]-b[i])/(2*step)
				// Differences of runs at 10⁻⁸ over a step of 10⁻⁴, and the map's own bend.
				if math.Abs(got-want) > 2e-3*max(1, math.Abs(want)) {
					t.Errorf("%s: dx%d/dx%d is %.6g, difference %.6g", j.Name, i, k, got, want)
				}
			}
		}
	}
}
