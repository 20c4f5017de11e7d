package identify

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.7g, want %.7g ± %g", name, got, want, tol)
	}
}

// Published open- and short-circuit tests. Tolerances are half a unit of the
// printed digit where nothing else is said.
func TestPublishedTests(t *testing.T) {
	oc := func(v, i, p float64) Shunt {
		s, ok := OpenCircuit(v, i, p)
		if !ok {
			t.Fatalf("open circuit %g V %g A %g W refused", v, i, p)
		}
		return s
	}
	sc := func(v, i, p float64) Series {
		s, ok := ShortCircuit(v, i, p)
		if !ok {
			t.Fatalf("short circuit %g V %g A %g W refused", v, i, p)
		}
		return s
	}
	// Chapman, Ex. 2-2 (outputs from memory): 8000 V 0.214 A 400 W; 489 V 2.5 A 240 W. The book rounds the
	// angle on its way to 159 kΩ.
	s := oc(8000, 0.214, 400)
	near(t, "2-2 Rc", s.CoreOhms, 159e3, 1.1e3)
	near(t, "2-2 Xm", s.MagOhms, 38.4e3, 0.05e3)
	z := sc(489, 2.5, 240)
	near(t, "2-2 R", z.Ohms, 38.4, 0.05)
	near(t, "2-2 X", z.Leakage, 192, 0.5)
	// Chapman, Ex. 2-5 (outputs from memory): OC on 230 V: 2.1 A 50 W; SC on 2300 V: 47 V 6 A 160 W; 15 kVA.
	s = oc(230, 2.1, 50)
	near(t, "2-5 Rc", 100*s.CoreOhms, 105e3, 1e3) // from the side of ten times the volts
	near(t, "2-5 Xm", 100*s.MagOhms, 11e3, 50)
	z = sc(47, 6, 160)
	near(t, "2-5 R", z.Ohms, 4.45, 0.01) // the book works from the rounded angle
	near(t, "2-5 X", z.Leakage, 6.45, 0.005)
	low := z.Refer(0.1)
	i := 15000.0 / 230
	near(t, "2-5 VR lag", 100*low.Regulation(230, i, 0.8, false), 2.1, 0.05)
	near(t, "2-5 VR 1", 100*low.Regulation(230, i, 1, false), 1.28, 0.005)
	near(t, "2-5 VR lead", 100*low.Regulation(230, i, 0.8, true), -0.062, 0.005) // a small difference
	in := cmplx.Abs(low.Input(230, i, 0.8, false))
	core := in * in / s.CoreOhms
	near(t, "2-5 efficiency", 100*Efficiency(15000*0.8, core, i*i*low.Ohms), 98.03, 0.005)
	// Chapman, older edition, prob. 2-3 (studylib.net/doc/18066585): 230 V 0.45 A 30 W; 19.1 V 8.7 A 42.3 W.
	s = oc(230, 0.45, 30)
	near(t, "2-3 Rc", s.CoreOhms, 1763, 0.5)
	z = sc(19.1, 8.7, 42.3)
	near(t, "2-3 Z", z.ZOhms(), 2.20, 0.005)
	near(t, "2-3 R", z.Ohms, 0.558, 0.001)
	near(t, "2-3 X", z.Leakage, 2.128, 0.006) // from the rounded Z and angle
	near(t, "2-3 VR lag", 100*z.Refer(0.5).Regulation(115, 8.7, 0.8, false), 3.3, 0.05)
	near(t, "2-3 VR 1", 100*z.Refer(0.5).Regulation(115, 8.7, 1, false), 1.1, 0.05)
	// Chapman, prob. 2-2 notebook: 100 kVA 14/2.4 kV, feed 38.2+j140 Ω, unit 0.10+j0.4 Ω on 2.4 kV, 90 kW at 0.8 lag on 2300 V.
	unit := Series{0.10, 0.4}
	feed := Series{38.2, 140}.Refer(2.4 / 14)
	i = 90e3 / 0.8 / 2300
	near(t, "2-2p amps", i, 48.91, 0.005)
	all := Series{unit.Ohms + feed.Ohms, unit.Leakage + feed.Leakage}
	source := all.Input(2300, i, 0.8, false)
	near(t, "2-2p source", cmplx.Abs(source), 2484.3, 0.05)
	near(t, "2-2p angle", cmplx.Phase(source)*180/math.Pi, 3.2, 0.05)
	near(t, "2-2p unit", cmplx.Abs(unit.Input(2300, i, 0.8, false)), 2315.7, 0.05)
	near(t, "2-2p VR", 100*unit.Regulation(2300, i, 0.8, false), 0.68, 0.005)
	near(t, "2-2p efficiency", 100*Efficiency(90, 0, i*i*all.Ohms/1000), 96.9, 0.06)
	// Theraja 32.36, p. 1152: 200 V 0.7 A 70 W; 15 V 10 A 85 W; 5 kW at 0.8 lag on 400 V, linear drop.
	z = sc(15, 10, 85)
	near(t, "32.36 Z", z.ZOhms(), 1.5, 1e-12)
	near(t, "32.36 V2", 400*(1-z.Drop(400, 5000/0.8/400, 0.8, false)), 377.788, 0.0005)
	// Theraja 32.38, p. 1153, backwards: its predicted short-circuit readings give its impedances.
	z = sc(46.8188, 20, 880)
	near(t, "32.38 R", z.Ohms, 0.2+0.5*4, 1e-9)
	near(t, "32.38 X", z.Leakage, 0.4+0.1*4, 1e-4) // volts printed to six digits
	// Theraja 32.45, p. 1159: 220 V 4.2 A 148 W; 86 V 10.5 A 360 W; 20 kVA, 0.8 lag.
	z = sc(86, 10.5, 360)
	near(t, "32.45 VR", 100*z.Drop(2200, 20000.0/2200, 0.8, false), 2.94178, 0.000005)
	near(t, "32.45 pf", z.Ohms/z.ZOhms(), 0.4, 0.005)
	// Theraja 32.43, p. 1158: 400/80 turns, r 0.3 and 0.01 Ω, x 1.1 and 0.035 Ω, 100 kVA on 2200 V, 0.8 lead.
	z = Series{0.3, 1.1}.Refer(0.2)
	z = Series{z.Ohms + 0.01, z.Leakage + 0.035}
	near(t, "32.43 R", z.Ohms, 0.022, 1e-12)
	near(t, "32.43 X", z.Leakage, 0.079, 1e-12)
	near(t, "32.43 VR", 100*z.Drop(440, 1e5/440, 0.8, true), -1.53926, 0.000005)
	near(t, "32.43 V2", 440*(1-z.Drop(440, 1e5/440, 0.8, true)), 446.773, 0.0005)
	// Theraja 32.35, p. 1151: 30 kVA 6000/230 V, r 10 and 0.016 Ω, x 34 Ω in all on the high side.
	z = Series{10 + 0.016*math.Pow(6000.0/230, 2), 34}
	near(t, "32.35 volts", z.ZOhms()*30000/6000, 199.52, 0.005)
	near(t, "32.35 pf", z.Ohms/z.ZOhms(), 0.52347, 0.000005)
	// Handbook of Electric Power Calculations, 3rd ed., sect. 4: 66 V at 2.17 A, 90 W.
	z = sc(66, 5000.0/2300, 90)
	near(t, "HEPC pf", z.Ohms/z.ZOhms(), 0.628, 0.001) // from amps rounded to 2.17
	// Fitzgerald, 6th ed., Ex. 2.6 (from memory): 48 V 20.8 A 617 W; 240 V 5.41 A 186 W; 50 kVA, 0.8 lag.
	z = sc(48, 20.8, 617)
	near(t, "2.6 Z", z.ZOhms(), 2.31, 0.005)
	near(t, "2.6 R", z.Ohms, 1.42, 0.0065) // printed cut off
	near(t, "2.6 X", z.Leakage, 1.82, 0.006)
	near(t, "2.6 VR", 100*z.Regulation(2400, 50000.0/2400, 0.8, false), 1.94, 0.005)
	near(t, "2.6 efficiency", 100*Efficiency(40000, 186, 617), 98.0, 0.05)
}

func TestImpossibleTests(t *testing.T) {
	for _, x := range [][3]float64{{0, 1, 0}, {1, 0, 0}, {1, 1, 2}, {1, 1, -1}, {math.NaN(), 1, 0}, {-1, 1, 0}} {
		if s, ok := OpenCircuit(x[0], x[1], x[2]); ok {
			t.Errorf("open circuit %v gives %+v", x, s)
		}
		if s, ok := ShortCircuit(x[0], x[1], x[2]); ok {
			t.Errorf("short circuit %v gives %+v", x, s)
		}
	}
}

// A branch that makes the readings gives itself back, and a loaded resistance too.
func TestTestsInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, x := rapid.Float64Range(1e-3, 1e3).Draw(t, "r"), rapid.Float64Range(1e-3, 1e3).Draw(t, "x")
		v := rapid.Float64Range(1, 300).Draw(t, "v")
		i := v / math.Hypot(r, x)
		s, ok := ShortCircuit(v, i, i*i*r)
		if !ok || math.Abs(s.Ohms/r-1) > 1e-9 || math.Abs(s.Leakage/x-1) > 1e-6*math.Max(1, r*r/(x*x)) {
			t.Fatalf("series %g %g gives %+v", r, x, s)
		}
		p := v * v / r
		o, ok := OpenCircuit(v, v*math.Hypot(1/r, 1/x), p)
		if !ok || math.Abs(o.CoreOhms/r-1) > 1e-9 || math.Abs(o.MagOhms/x-1) > 1e-6*math.Max(1, x*x/(r*r)) {
			t.Fatalf("shunt %g %g gives %+v", r, x, o)
		}
		load := rapid.Float64Range(0.1, 1e3).Draw(t, "load")
		if got := LoadedOhms(v, v*load/(load+r), load); math.Abs(got-r) > 1e-9*(r+load) {
			t.Fatalf("loaded: %g, want %g", got, r)
		}
		// Linear and exact drop agree to second order in Z I/V.
		pf := rapid.Float64Range(0, 1).Draw(t, "pf")
		lead := rapid.Bool().Draw(t, "lead")
		small := Series{r, x}
		amps := 0.01 * v / small.ZOhms()
		if d := small.Regulation(v, amps, pf, lead) - small.Drop(v, amps, pf, lead); d < -1e-12 || d > 0.5e-4*1.01 {
			t.Fatalf("drops differ by %g", d)
		}
	})
}
