package thermal_test

import (
	"fmt"
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
)

func num(v float64) yokemate.Value { return yokemate.Num(v) }

// unit is an invented 12 VA unit with a big and a small secondary.
func unit(tag string, spread float64) yokemate.Unit {
	return yokemate.Unit{
		Tag: tag, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: num(12),
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(290)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(15 * spread), Ohms: num(1.1), Amps: num(0.72)},
			{ID: "S", Pins: [2]string{"7", "8"}, Volts: num(7), Ohms: num(3.9), Amps: num(0.12)}},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.019), Watts: num(1.9)}},
	}
}

func shelf() *network.Facts {
	return network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat,
		Units: []yokemate.Unit{unit("T1", 1), unit("T2", 1.004), unit("T3", 0.997), unit("T4", 1.002)}})
}

func hookup(units int, outputs ...yokemate.Output) *yokemate.Hookup {
	h := &yokemate.Hookup{Format: yokemate.HookupFormat,
		Feed:   yokemate.Feeds{{Volts: num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}},
		Joints: yokemate.Joints{{Name: "L"}, {Name: "N"}, {Name: "A"}, {Name: "B"}, {Name: "S1", Pins: []string{"T1.7"}}, {Name: "S2", Pins: []string{"T1.8"}}}, Outputs: outputs}
	for i := range units {
		for k, pin := range []string{"1", "2", "5", "6"} {
			h.Joints[k].Pins = append(h.Joints[k].Pins, fmt.Sprintf("T%d.%s", i+1, pin))
		}
	}
	return h
}

func load(from, to string, amps float64) yokemate.Output {
	return yokemate.Output{Name: from + to, From: from, To: to, Load: &yokemate.Load{Amps: amps}}
}

func rest(t testing.TB, h *yokemate.Hookup, opt thermal.Options) *thermal.State {
	t.Helper()
	if err := h.Validate(); err != nil {
		t.Fatal(err)
	}
	n, err := thermal.New(shelf(), h, yokemate.Nominal, opt)
	if err != nil {
		t.Fatal(err)
	}
	s, err := n.Equilibrium()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestRated: a unit at its ratings in 40 °C rests where its class allows, by
// which its heat network was set up: 100 °C for class A (IEC 61558-1, from memory).
func TestRated(t *testing.T) {
	s := rest(t, hookup(1, load("A", "B", 0.72), load("S1", "S2", 0.12)), thermal.Options{})
	if !s.Equilibrium {
		t.Fatalf("%+v", s)
	}
	for _, w := range s.Windings {
		// The primary's own rating adds its idle current in full, which flows
		// nearly across the load's: it stays a dozen kelvin below.
		if w.Celsius > 101 || w.Celsius < 84 || w.Limit != 100 {
			t.Errorf("%+v", w)
		}
	}
	// What is made leaves through the core: rated heat over 0.65 of 60 K.
	made := s.Cores[0].Watts
	for _, w := range s.Windings {
		made += w.Watts
	}
	hot := heat.Factor(100)
	rated := 0.72*0.72*1.1*hot + 0.12*0.12*3.9*hot
	if g := made / (s.Cores[0].Celsius - 40); g*0.65*60 < rated {
		t.Errorf("core at %.4g °C with %.3g W", s.Cores[0].Celsius, made)
	}
}

// TestByHand: the same rest by a plain iteration of (T1) and (T2), written out
// for one unit with its currents held.
func TestByHand(t *testing.T) {
	h := hookup(1, load("A", "B", 0.5))
	s := rest(t, h, thermal.Options{AmbientC: 25, Box: 1.5})
	// Conductances of (T3), from the ratings; the primary's rating as the network has it.
	u, err := shelf().Unit("T1")
	if err != nil {
		t.Fatal(err)
	}
	hot, sum := heat.Factor(100), u.IronWatts()
	var g [3]float64
	ohms := [3]float64{290, 1.1, 3.9}
	for i := range g {
		p := math.Pow(u.Limits[i].Amps, 2) * ohms[i] * hot
		g[i] = p / (0.35 * 60)
		sum += p
	}
	core := sum / (0.65 * 60 * 1.5)
	tw, tc := [3]float64{25, 25, 25}, 25.0
	for range 5000 {
		flow := s.Cores[0].Watts
		for i := range tw {
			p := s.Windings[i].Watts / heat.Factor(s.Windings[i].Celsius) * heat.Factor(tw[i])
			tw[i] += 0.5 * (tc + p/g[i] - tw[i])
			flow += g[i] * (tw[i] - tc)
		}
		tc += 0.1 * (25 + flow/core - tc)
	}
	for i := range tw {
		if math.Abs(tw[i]-s.Windings[i].Celsius) > 0.05 {
			t.Errorf("winding %d: %.4f °C, by hand %.4f °C", i, s.Windings[i].Celsius, tw[i])
		}
	}
	if math.Abs(tc-s.Cores[0].Celsius) > 0.05 {
		t.Errorf("core %.4f °C, by hand %.4f °C", s.Cores[0].Celsius, tc)
	}
}

// TestSmallWinding: a small secondary overloaded goes past its limit while the
// unit stays cool; overloaded further it never rests.
func TestSmallWinding(t *testing.T) {
	s := rest(t, hookup(1, load("S1", "S2", 0.26)), thermal.Options{AmbientC: 25})
	if h := s.Hottest(); h.ID != "S" || h.Celsius < h.Limit || !s.Equilibrium || s.Within() {
		t.Errorf("hottest %+v", h)
	}
	if s.Cores[0].Celsius > 70 {
		t.Errorf("the core is at %.3g °C", s.Cores[0].Celsius)
	}
	h := hookup(1)
	h.Outputs = []yokemate.Output{{Name: "short", From: "S1", To: "S2", Load: &yokemate.Load{Ohms: 0.05}}}
	if s := rest(t, h, thermal.Options{AmbientC: 25}); s.Equilibrium {
		t.Errorf("a short on the small winding rests at %+v", s.Hottest())
	}
}

// TestDuty: a part of the time heats less, monotonically, and a box heats more.
func TestDuty(t *testing.T) {
	last := 0.0
	for _, d := range []float64{0.1, 0.3, 0.6, 1} {
		s := rest(t, hookup(1, load("A", "B", 0.9)), thermal.Options{AmbientC: 25, Duty: d})
		if c := s.Hottest().Celsius; c <= last {
			t.Errorf("duty %g: %g °C after %g", d, c, last)
		} else {
			last = c
		}
	}
	open := rest(t, hookup(1, load("A", "B", 0.7)), thermal.Options{AmbientC: 25})
	box := rest(t, hookup(1, load("A", "B", 0.7)), thermal.Options{AmbientC: 25, Box: 1.5})
	if box.Hottest().Celsius < open.Hottest().Celsius+10 {
		t.Errorf("open %g °C, boxed %g °C", open.Hottest().Celsius, box.Hottest().Celsius)
	}
}

// TestStretch: a winding that is on by turns, followed by small explicit steps of (T1) over
// its core until every cycle is like the last, is as hot at the end of each
// stretch as (T7) says; G and C by hand from (T3) and (T4).
func TestStretch(t *testing.T) {
	const duty, amps = 0.25, 1.2
	for _, on := range []float64{10, 60, 600} { // [s]
		h := hookup(1, load("A", "B", amps))
		mean := rest(t, h, thermal.Options{AmbientC: 25, Duty: duty})
		peak := rest(t, h, thermal.Options{AmbientC: 25, Duty: duty, StretchS: on})
		core := mean.Cores[0].Celsius
		const hot = (234.5 + 100) / 254.5 // class A in normal use
		rated := 0.72 * 0.72 * 1.1 * hot
		g := rated / (0.35 * 60)
		c := rated * heat.VolumeHeat / (heat.Resistivity20 * hot * 3e6 * 3e6)
		const dt = 0.05
		at, highest := core, 0.0
		for now := 0.0; now < 40*on/duty+3000; now += dt {
			watts := 0.0
			if math.Mod(now, on/duty) < on {
				watts = mean.Windings[1].Watts // as warm as on the mean
			}
			at += dt * (watts - g*(at-core)) / c
			if now > 35*on/duty {
				highest = math.Max(highest, at)
			}
		}
		// The steps err by dt over the time constant, some hundreds of seconds.
		if got := peak.Windings[1].Celsius - core; math.Abs(got/(highest-core)-1) > 2e-3 {
			t.Errorf("%g s on: %g K above the core, by steps %g K", on, got, highest-core)
		}
		if peak.Cores[0] != mean.Cores[0] {
			t.Errorf("%g s on: the core rests elsewhere", on)
		}
	}
}

// TestRectified: behind a bridge the same mean current heats more than on AC.
func TestRectified(t *testing.T) {
	ac := rest(t, hookup(1, load("A", "B", 0.35)), thermal.Options{AmbientC: 25})
	dc := rest(t, hookup(1, yokemate.Output{Name: "dc", From: "A", To: "B", DC: &yokemate.DC{Rectifier: "bridge", Farads: 2200e-6, Amps: 0.35}}), thermal.Options{AmbientC: 25})
	if !dc.Equilibrium || dc.Windings[1].Watts < 2.2*ac.Windings[1].Watts {
		t.Errorf("AC %.3g W, behind a bridge %.3g W", ac.Windings[1].Watts, dc.Windings[1].Watts)
	}
}

// TestFault: the time to the limit of a hard fault is that of copper without
// cooling, by the closed form; a right load never gets there.
func TestFault(t *testing.T) {
	h := hookup(1)
	h.Outputs = []yokemate.Output{{Name: "short", From: "S1", To: "S2", Load: &yokemate.Load{Ohms: 0.05}}}
	f := shelf()
	n, err := thermal.New(f, h, yokemate.Nominal, thermal.Options{AmbientC: 25})
	if err != nil {
		t.Fatal(err)
	}
	classA := func(string) heat.Class { return "A" }
	l, err := n.TimeToLimit(nil, 3600, classA)
	if err != nil {
		t.Fatal(err)
	}
	// The current of the cold and of the hot short bound the adiabatic time.
	amps := func(celsius float64) float64 {
		h := h.Clone()
		h.CopperC = &celsius
		x, err := network.Build(f, h, network.Options{})
		if err != nil {
			t.Fatal(err)
		}
		s, err := x.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := x.LoadAmps(0)
		v := s.Value(p)
		return math.Hypot(real(v), imag(v))
	}
	quick := heat.AdiabaticTime(25, 200, 3e6, amps(25)/0.12)
	slow := heat.AdiabaticTime(25, 200, 3e6, amps(200)/0.12)
	if l.Winding != "T1/S" || l.Celsius != 200 || l.Seconds < quick || l.Seconds > 1.25*slow {
		t.Errorf("%+v, adiabatic %g to %g s", l, quick, slow)
	}
	n, err = thermal.New(f, hookup(1, load("A", "B", 0.5)), yokemate.Nominal, thermal.Options{AmbientC: 25})
	if err != nil {
		t.Fatal(err)
	}
	l, err = n.TimeToLimit(nil, 1e6, classA)
	if err != nil {
		t.Fatal(err)
	}
	if !math.IsInf(l.Seconds, 1) || !l.Settled {
		t.Errorf("a right load: %+v", l)
	}
}

func TestBad(t *testing.T) {
	if _, err := thermal.New(shelf(), hookup(1), yokemate.Nominal, thermal.Options{Duty: 2}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("a duty of 2: %v", err)
	}
}

func BenchmarkEquilibrium(b *testing.B) {
	f, h := shelf(), hookup(4, load("A", "B", 2.6))
	for b.Loop() {
		n, err := thermal.New(f, h, yokemate.Nominal, thermal.Options{})
		if err != nil {
			b.Fatal(err)
		}
		s, err := n.Equilibrium()
		if err != nil || !s.Equilibrium {
			b.Fatal(err, s)
		}
	}
}
