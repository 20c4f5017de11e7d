package heat

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"pgregory.net/rapid"
)

func close(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) && got != want {
		t.Errorf("%s: %.8g, want %.8g ± %g", name, got, want, tol)
	}
}

func TestCopper(t *testing.T) {
	close(t, "at 20 °C", Factor(20), 1, 0)
	// Printed 0.00393 for copper (UL excerpt and EN 61558-1 give k 234.5; half a unit of the last digit).
	close(t, "α20", Alpha20, 0.00393, 0.000005)
	// Closed form 1/254.5; printed recomputed 0.003929.
	close(t, "α20 by difference", Factor(21)-1, 0.003929, 0.0000005)
	// 1/245 = 0.004082 for aluminium with k 225.
	close(t, "aluminium", 1/(KAluminium+20), 0.004082, 0.0000005)
	close(t, "there and back", Ohms20(Ohms(47, 93), 93), 47, 1e-12)
}

// TestRise: common practice, no source: at 21 °C a ratio of 1.20 is 51 K, 1.235 is 60 K, 1.25 is
// 64 K; each is printed to the kelvin.
func TestRise(t *testing.T) {
	for _, r := range []struct{ ratio, rise float64 }{{1.20, 51}, {1.235, 60}, {1.25, 64}} {
		close(t, "rise", Rise(r.ratio, 1, 21, 21, K), r.rise, 0.5)
	}
	// Closed form, EN 61558-1 clause 14.2: (12−10)/10·(234.5+20) − (25−20) = 45.9 K.
	close(t, "warmer air at the end", Rise(12, 10, 20, 25, K), 45.9, 1e-12)
	close(t, "temperature", ByResistance(12, 10, 20, K), 70.9, 1e-12)
	close(t, "aluminium", ByResistance(12, 10, 20, KAluminium), 69, 1e-12)
	rapid.Check(t, func(t *rapid.T) {
		r20 := math.Exp(rapid.Float64Range(-5, 8).Draw(t, "lnr"))
		cold := rapid.Float64Range(-10, 40).Draw(t, "cold")
		hot := rapid.Float64Range(0, 250).Draw(t, "hot")
		if got := ByResistance(Ohms(r20, hot), Ohms(r20, cold), cold, K); math.Abs(got-hot) > 1e-10*(K+hot) {
			t.Fatalf("%g °C read back as %g °C", hot, got)
		}
	})
}

func TestClasses(t *testing.T) {
	// IEC 60085 index; IEC 60076-11 average rise; IEC 61558-1 table 1; IEC 60335-1 table 3; then the
	// limits in a fault: inherent, first hour, after it (IEC 61558-1, IEC 60335-1), dry copper (IEC 60076-11). 0: none.
	// The third, fourth and the first three faults are from memory.
	want := map[Class][8]float64{
		"Y": {90}, "A": {105, 60, 100, 75, 150, 200, 175, 180}, "E": {120, 75, 115, 90, 165, 215, 190, 250},
		"B": {130, 80, 120, 95, 175, 225, 200, 350}, "F": {155, 100, 140, 115, 190, 240, 215, 350},
		"H": {180, 125, 165, 140, 210, 260, 235, 350}, "N": {200, 135, 0, 0, 0, 0, 0, 350}, "R": {220, 150, 0, 0, 0, 0, 0, 350}, "250": {250},
	}
	if len(Classes()) != len(want) {
		t.Errorf("%d classes, want %d", len(Classes()), len(want))
	}
	for _, c := range Classes() {
		asked := [8]func() (Limit, bool){
			c.Index, c.DryRise, c.NormalUse, c.HouseholdRise,
			func() (Limit, bool) { return c.Fault(Inherent) }, func() (Limit, bool) { return c.Fault(FirstHour) },
			func() (Limit, bool) { return c.Fault(AfterHour) }, func() (Limit, bool) { return c.Fault(DryType) },
		}
		memory := [8]bool{false, false, true, true, true, true, true, false}
		for i, ask := range asked {
			got, ok := ask()
			if ok != (want[c][i] != 0) || ok && (got.Celsius != want[c][i] || got.Memory != memory[i] || got.Source == "") {
				t.Errorf("class %s, %d: %+v %v, want %g", c, i, got, ok, want[c][i])
			}
		}
	}
	if got, ok := Class("").Fault(Inherent); !ok || got.Celsius != 150 {
		t.Errorf("unknown class: %+v %v, want that of A", got, ok)
	}
	if _, ok := Class("Q").Index(); ok {
		t.Error("class Q exists")
	}
	if _, ok := Class("B").Fault(Protection(9)); ok {
		t.Error("protection 9 exists")
	}
}

// TestConductorFormula: IEC 60364-5-54 annex A, copper 226 √ln(1 + (θf − θi)/(234.5 + θi)) A√s/mm²,
// and its printed k values; from memory. Tolerance: k is printed to the unit.
func TestConductorFormula(t *testing.T) {
	tests := []struct{ from, to, k float64 }{{70, 160, 115}, {30, 160, 143}, {90, 250, 143}, {30, 250, 176}}
	for _, tt := range tests {
		const density = 3e6 // [A/m²]; k does not depend on it
		seconds := AdiabaticTime(tt.from, tt.to, density, 1)
		close(t, "k", density/1e6*math.Sqrt(seconds), tt.k, 0.6)
	}
}

func TestAdiabaticEnds(t *testing.T) {
	close(t, "there already", AdiabaticTime(80, 70, 3e6, 5), 0, 0)
	close(t, "no current", AdiabaticTime(20, 70, 3e6, 0), math.Inf(1), 0)
	close(t, "no time", Adiabatic(20, 3e6, 10, 0), 20, 0)
	// By hand: k = 1.7241e-8·9e12·100/(254.5·3.45e6) = 0.0176726 1/s; ln(384.5/254.5)/k = 23.35 s.
	close(t, "by hand", AdiabaticTime(20, 150, 3e6, 10), 23.35, 0.005)
}

// rk4 integrates dT/dt = f(T) as a second opinion.
func rk4(from, seconds float64, f func(float64) float64) float64 {
	const steps = 4000
	h, y := seconds/steps, from
	for range steps {
		k1 := f(y)
		k2 := f(y + h/2*k1)
		k3 := f(y + h/2*k2)
		k4 := f(y + h*k3)
		y += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
	}
	return y
}

func TestAdiabaticIntegrated(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-10, 120).Draw(t, "from")
		to := from + rapid.Float64Range(1, 250).Draw(t, "by")
		density := rapid.Float64Range(2e6, 5e6).Draw(t, "density")
		ratio := rapid.Float64Range(0.5, 50).Draw(t, "ratio")
		seconds := AdiabaticTime(from, to, density, ratio)
		// The heat balance written out with resistivity at temperature, not through Rate.
		got := rk4(from, seconds, func(c float64) float64 {
			rho := 1.7241e-8 * (234.5 + c) / 254.5
			j := density * ratio
			return rho * j * j / 3.45e6
		})
		if math.Abs(got-to) > 1e-8*(K+to) { // error of the integration at 4000 steps
			t.Fatalf("integrated to %g °C, closed form %g °C", got, to)
		}
		if back := Adiabatic(from, density, ratio, seconds); math.Abs(back-to) > 1e-10*(K+to) {
			t.Fatalf("inverse gives %g °C, want %g °C", back, to)
		}
	})
}

func TestCooled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Winding{
			Rise:    rapid.Float64Range(20, 120).Draw(t, "rise"),
			Ambient: rapid.Float64Range(15, 40).Draw(t, "rated ambient"),
			Tau:     rapid.Float64Range(30, 1e4).Draw(t, "tau"),
		}
		ambient := rapid.Float64Range(-10, 60).Draw(t, "ambient")
		from := rapid.Float64Range(-10, 90).Draw(t, "from")
		ratio := rapid.OneOf(rapid.Float64Range(0, 5), rapid.Just(math.Sqrt((K+w.Ambient+w.Rise)/w.Rise))).Draw(t, "ratio")
		seconds := w.Tau * rapid.Float64Range(0, 3).Draw(t, "t/tau")
		if ratio > 4 {
			seconds /= 10 // it runs away as an exponential
		}
		// The balance in watts for a winding that dissipates 1 W at rated current: R_th = rise, C = τ/rise.
		want := rk4(from, seconds, func(c float64) float64 {
			watts := ratio * ratio * (234.5 + c) / (234.5 + w.Ambient + w.Rise)
			return (watts - (c-ambient)/w.Rise) * w.Rise / w.Tau
		})
		got := w.After(from, ratio, ambient, seconds)
		if math.Abs(got-want) > 1e-8*(K+math.Abs(want)) {
			t.Fatalf("closed form %g °C, integrated %g °C", got, want)
		}
		if got > from+0.01 {
			back := w.TimeTo(from, got, ratio, ambient)
			if math.Abs(w.After(from, ratio, ambient, back)-got) > 1e-9*(K+got) {
				t.Fatalf("%g s back from %g °C, went %g s", back, got, seconds)
			}
		}
		end, settles := w.Steady(ratio, ambient)
		runs := ratio*ratio*w.Rise >= K+w.Ambient+w.Rise
		if settles && runs && ratio*ratio*w.Rise > 1.000001*(K+w.Ambient+w.Rise) {
			t.Fatalf("settles at %g °C where resistance outruns cooling", end)
		}
		if settles && end < 1e6 {
			if s := w.slope(end, ratio, ambient); math.Abs(s)*w.Tau > 1e-8*(K+end) {
				t.Fatalf("still moves by %g K/s at its end", s)
			}
			if !math.IsInf(w.TimeTo(math.Min(from, end-1), end+1, ratio, ambient), 1) {
				t.Fatal("passes its own end")
			}
		}
		if !settles && from > -K && ambient >= from-50 && math.IsInf(w.TimeTo(from, 1000, ratio, ambient), 1) && w.slope(from, ratio, ambient) > 0 {
			t.Fatal("without an equilibrium it must reach 1000 °C")
		}
	})
}

func TestCooledEnds(t *testing.T) {
	w := Winding{Rise: 60, Ambient: 25, Tau: 1200}
	// By definition: rated current gives the rated rise.
	end, ok := w.Steady(1, 25)
	close(t, "rated", end, 85, 1e-10)
	if !ok {
		t.Error("no equilibrium at rated current")
	}
	end, _ = w.Steady(0, 31)
	close(t, "idle", end, 31, 1e-12)
	// Runs away at x² = (234.5 + 85)/60 = 5.325, x = 2.3076.
	if _, ok := w.Steady(2.30, 25); !ok {
		t.Error("no equilibrium at 2.30")
	}
	if end, ok := w.Steady(2.31, 25); ok || !math.IsInf(end, 1) {
		t.Errorf("equilibrium %g °C at 2.31", end)
	}
	close(t, "there already", w.TimeTo(90, 85, 5, 25), 0, 0)
	close(t, "cooling", w.TimeTo(60, 85, 0, 25), math.Inf(1), 0)
	// Far above rated current cooling does not matter: (H9) goes over into (H5) when τ is that of the copper.
	hot := Winding{Rise: 60, Ambient: 25, Tau: CopperTau(60, 25, 3e6)}
	slow, quick := hot.TimeTo(25, 150, 60, 25), AdiabaticTime(25, 150, 3e6, 60)
	// The share that cooling takes is of order t/τ.
	if r := slow/quick - 1; r < 0 || r > slow/hot.Tau {
		t.Errorf("cooled %g s, adiabatic %g s", slow, quick)
	}
}

// TestEquivalent: common practice: 200 VA, 6 min on, 4 min off is 154.9 VA.
func TestEquivalent(t *testing.T) {
	close(t, "duty", Equivalent([]float64{200, 0}, []float64{360, 240}), 154.9, 0.05)
	defer func() {
		if recover() == nil {
			t.Error("lengths that differ do not panic")
		}
	}()
	Equivalent([]float64{1}, nil)
}

func TestExtrapolate(t *testing.T) {
	// θ∞ 60 K, τ 1.3 h, sampled at 0.5, 1.0, 1.5 h return 60.000 (derived check); closed form.
	at := func(h float64) float64 { return 60 * -math.Expm1(-h/1.3) }
	f, err := Extrapolate(at(0.5), at(1), at(1.5), 1800, 0)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "final", f.Rise, 60, 1e-9)
	close(t, "tau", f.Tau, 1.3*3600, 1e-6)
	// 15 K and 25 K at 1 h and 2 h from cold give 45 K (derived check).
	f, err = Extrapolate(0, 15, 25, 3600, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "final", f.Rise, 45, 1e-12)
	// (H11) as printed, from memory: (15² − 0·25)/(2·15 − 0 − 25).
	close(t, "as printed", f.Rise, 225.0/5, 1e-12)
	for _, bad := range [][4]float64{{0, 15, 30, 1}, {0, 15, 31, 1}, {0, 0, 0, 1}, {15, 25, 25, 1}, {0, 15, 10, 1}, {0, 15, 25, 0}, {math.NaN(), 15, 25, 1}, {math.Inf(-1), 15, 25, 1}} {
		if f, err := Extrapolate(bad[0], bad[1], bad[2], bad[3], 1); !errors.Is(err, ErrNotSettling) {
			t.Errorf("%v gives %+v, %v", bad, f, err)
		}
	}
}

func TestExtrapolateProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		end := rapid.Float64Range(5, 150).Draw(t, "end")
		start := rapid.Float64Range(-20, 200).Draw(t, "start") // a run may cool as well
		tau := math.Exp(rapid.Float64Range(3, 10).Draw(t, "lntau"))
		step := tau * rapid.Float64Range(0.1, 2).Draw(t, "step")
		if math.Abs(start-end) < 1 {
			return
		}
		at := func(s float64) float64 { return end + (start-end)*math.Exp(-s/tau) }
		x := []float64{at(0), at(step), at(2 * step)}
		f, err := Extrapolate(x[0], x[1], x[2], step, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Rise-end) > 1e-8*(math.Abs(end)+math.Abs(start)) || math.Abs(f.Tau/tau-1) > 1e-8 {
			t.Fatalf("%+v, want %g K, %g s", f, end, tau)
		}
		grad := func(pick func(Final) float64) float64 {
			g := fd.Gradient(nil, func(y []float64) float64 {
				f, err := Extrapolate(y[0], y[1], y[2], step, 0)
				if err != nil {
					t.Fatal(err)
				}
				return pick(f)
			}, x, &fd.Settings{Formula: fd.Central, Step: 1e-5 * math.Abs(x[2]-x[1])})
			return 0.1 * math.Sqrt(g[0]*g[0]+g[1]*g[1]+g[2]*g[2])
		}
		// 1e-4: rounding in the difference of nearly equal readings.
		if want := grad(func(f Final) float64 { return f.Rise }); math.Abs(f.URise/want-1) > 1e-4 {
			t.Fatalf("u of the rise %g K, differences %g K", f.URise, want)
		}
		if want := grad(func(f Final) float64 { return f.Tau }); math.Abs(f.UTau/want-1) > 1e-4 {
			t.Fatalf("u of τ %g s, differences %g s", f.UTau, want)
		}
	})
}
