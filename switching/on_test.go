package switching

import (
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// straight switches the lone unit on with a straight core, where all is known
// in closed form: one inductance behind one resistance.
func straight(t *testing.T, degrees, remanence, fuse float64) (*yokemate.SwitchOn, *waveform.Hookup) {
	t.Helper()
	f, h := lone()
	h.Feed[0].FuseAmps = fuse
	x, err := into(f, h, yokemate.Nominal, network.Options{Linear: true})
	if err != nil {
		t.Fatal(err)
	}
	r := &yokemate.SwitchOn{Degrees: degrees, Remanence: remanence}
	if err := follow(x, r); err != nil {
		t.Fatal(err)
	}
	return r, x
}

// TestLinearSwitchOn: a straight core switched on at the zero of its wave
// peaks at twice the steady flux and what was left, less what the coil's
// resistance took off till then; its flux is that of an inductance behind a
// resistance, φ = φ̂ (sin(ωt + α − θ) + (φ_r/φ̂ − sin(α − θ)) e^{−t/τ}) (the
// switched R-L circuit of any textbook; the core's loss is a resistance beside it).
func TestLinearSwitchOn(t *testing.T) {
	for _, c := range []struct{ degrees, left float64 }{{0, 0}, {0, 0.6}, {180, -0.6}, {90, 0}, {37, 0.4}} {
		r, x := straight(t, c.degrees, c.left, 0.2)
		// Volts divide between the coil's ohms and the core's loss resistance;
		// behind them stands the inductance a φ̂ ω₀… of the straight core.
		p := x.Circuit.Windings[0]
		k := x.Circuit.Cores[0]
		ohms := p.Ohms * 1 // cold copper at 20 °C
		loss := p.Volts * p.Volts / k.Loss
		henries := p.Volts * p.Volts / k.Magnetising / (2 * math.Pi * k.Hertz)
		behind := ohms * loss / (ohms + loss)
		volts := 230 * loss / (ohms + loss)
		tau := henries / behind
		omega := 2 * math.Pi * 50
		theta := math.Atan(omega * henries / behind)
		top := math.Sqrt2 * volts / math.Hypot(behind, omega*henries) * henries // flux linkage [V s]
		alpha := c.degrees * math.Pi / 180
		unit := math.Sqrt2 * p.Volts / (2 * math.Pi * k.Hertz) // flux 1 in volt seconds
		left := c.left / x.Parts.Cores[0].PerFlux * unit
		rated := x.Parts.Cores[0].PerFlux / unit
		for i, got := range r.Curves.Curves[1].Values {
			s := float64(i) * r.Curves.StepS
			want := (top*math.Sin(omega*s+alpha-theta) + (left-top*math.Sin(alpha-theta))*math.Exp(-s/tau)) * rated
			// Steps of 10⁻⁴ of the flux's swing, some hundreds of them.
			if math.Abs(got-want) > 2e-3 {
				t.Fatalf("at %g°, left %g: flux %.6g after %g s, closed form %.6g", c.degrees, c.left, got, s, want)
			}
		}
		steady := top * rated
		core := r.Cores[0]
		if math.Abs(core.Steady/steady-1) > 1e-3 {
			t.Errorf("steady flux %.6g, closed form %.6g", core.Steady, steady)
		}
		if math.Mod(c.degrees, 180) == 0 {
			most := waveform.PeakFlux(steady, c.left)
			// Half a period's decay of τ, 230 V over some 7 H behind 112 Ω, is what it falls short by.
			if short := 1 - math.Exp(-0.01/tau); core.Flux > most || core.Flux < most*(1-short) {
				t.Errorf("at %g°, left %g: peak flux %.5g, 2 Φm + Φr is %.5g", c.degrees, c.left, core.Flux, most)
			}
		}
		// ∫ i² dt: the coil's current is that of the inductance and of the loss.
		amps := func(s float64) float64 {
			link := top*math.Sin(omega*s+alpha-theta) + (left-top*math.Sin(alpha-theta))*math.Exp(-s/tau)
			slope := top*omega*math.Cos(omega*s+alpha-theta) - (left-top*math.Sin(alpha-theta))/tau*math.Exp(-s/tau)
			return link/henries + slope/loss
		}
		want := 0.0
		const n = 20000
		for i := range n { // midpoints
			a := amps((float64(i) + 0.5) * 0.01 / n)
			want += a * a * 0.01 / n
		}
		if got := r.Feed[0].Square10; math.Abs(got/want-1) > 2e-3 {
			t.Errorf("at %g°, left %g: %.6g A²s in 10 ms, closed form %.6g", c.degrees, c.left, got, want)
		}
		if got := r.Feed[0].Peaks[0].Amps; math.Abs(got) != r.Feed[0].Amps && math.Abs(got) > r.Feed[0].Amps {
			t.Errorf("first peak %g A, greatest %g A", got, r.Feed[0].Amps)
		}
		if math.Abs(r.Balance) > 1e-6 {
			t.Errorf("energy balance %g", r.Balance)
		}
	}
}

// TestDecay: at the zero of the wave the peaks fall towards the steady one,
// each below the one before, and ∫ i² dt grows with the time; at the peak of
// the wave there is nothing to decay.
func TestDecay(t *testing.T) {
	f, h := lone()
	zero, ninety, none := 0.0, 90.0, 0.0
	r, err := On(f, h, OnOptions{Degrees: &zero})
	if err != nil {
		t.Fatal(err)
	}
	feed := r.Feed[0]
	for i, p := range feed.Peaks[1:] {
		if math.Abs(p.Amps) > math.Abs(feed.Peaks[i].Amps)*(1+1e-6) {
			t.Errorf("peak %d of %g A follows one of %g A", p.Period, p.Amps, feed.Peaks[i].Amps)
		}
	}
	if feed.DecayS == nil || *feed.DecayS < 0.02 || feed.SquareDecay < feed.Square10 || feed.Amps < 3*feed.SteadyPeak {
		t.Errorf("%+v", feed)
	}
	if r.Cores[0].Left < 0.59 || r.Cores[0].Left > 0.61 {
		t.Errorf("left %g", r.Cores[0].Left)
	}
	if r, err = On(f, h, OnOptions{Degrees: &ninety, Remanence: &none}); err != nil {
		t.Fatal(err)
	}
	if feed := r.Feed[0]; feed.DecayS == nil || *feed.DecayS > 0.021 || feed.Amps > 1.5*feed.SteadyPeak {
		t.Errorf("at the peak of the wave: %+v", feed)
	}
}

// TestWorst: no point on the wave and neither sign of the remanence draws more
// than the search says: a sweep by 10° finds no greater current or ∫ i² dt, to the
// hundredth that half a step of 15° leaves near a flat top.
func TestWorst(t *testing.T) {
	f, h := lone()
	worst, err := On(f, h, OnOptions{Mains: yokemate.High})
	if err != nil {
		t.Fatal(err)
	}
	if worst.Worst == nil {
		t.Fatal("it does not say what it searched")
	}
	for degrees := 0.0; degrees < 360; degrees += 10 {
		for _, left := range []float64{Remanence, -Remanence} {
			r, err := On(f, h, OnOptions{Mains: yokemate.High, Degrees: &degrees, Remanence: &left})
			if err != nil {
				t.Fatal(err)
			}
			if r.Feed[0].Amps > 1.01*worst.Worst.Amps {
				t.Errorf("%g°, %g: %.4g A, worst said %.4g A", degrees, left, r.Feed[0].Amps, worst.Worst.Amps)
			}
			if r.Feed[0].Square10 > 1.01*worst.Feed[0].Square10 {
				t.Errorf("%g°, %g: %.4g A²s in 10 ms, worst said %.4g", degrees, left, r.Feed[0].Square10, worst.Feed[0].Square10)
			}
		}
	}
}

// TestFuseCarries: a link whose least I²t of a short pulse (IEC 60127-2 gates,
// package protect) lies well above the pulse carries it; one whose most lies
// below it opens, both by hand on pulses of known ∫ i² dt.
func TestFuseCarries(t *testing.T) {
	// 10 ms of 4 A, then nothing: 0.16 A²s.
	l := line{heat: []mark{{0, 0}, {0.005, 0.08}, {0.01, 0.16}, {0.02, 0.16}, {1, 0.16}}, square: 0.16, steadyRMS: 0.02}
	for _, c := range []struct {
		amps float64
		kind string
		want string
	}{
		// T at 10 I_N: at least 20 ms × (10 I_N)², so 2 A²s at 1 A; at most 300 ms × that.
		{1, "T", "yes"},
		// 40 mA: above the last gate all is over in 0.3 s × (10/100)² = 3 ms.
		{0.040, "T", "no"},
		// 0.2 A: the gates of 10 I_N lie at 0.04 to 1.2 A²s, the pulse between.
		{0.200, "T", "unsure"},
		{0.200, "", "unsure"},
	} {
		u := l.fuse("feed", c.amps, c.kind)
		if u.Carries != c.want || u.Why == "" || u.Kind == "" {
			t.Errorf("%g A %s: %+v", c.amps, c.kind, u)
		}
	}
	// What flows in the end counts too: 0.12 A through 0.1 A may open it, 0.3 A does.
	l = line{heat: []mark{{0, 0}, {0.02, 1e-4}}, square: 1e-4, steadyRMS: 0.12}
	if u := l.fuse("feed", 0.1, "T"); u.Carries != "unsure" {
		t.Errorf("%+v", u)
	}
	l.steadyRMS = 0.3
	if u := l.fuse("feed", 0.1, "T"); u.Carries != "no" {
		t.Errorf("%+v", u)
	}
}

// TestCharging: empty reservoirs are part of a switch-on; their fuse between
// joints is weighed by its own current.
func TestCharging(t *testing.T) {
	f, h := lone(rectified("bridge", 4700e-6, 0.4))
	h.Joints = append(h.Joints, yokemate.Joint{Name: "A1", Pins: []string{"K1.5"}})
	h.Joints[2].Pins = nil
	h.Joints = append(h.Joints[:2], h.Joints[3:]...)
	h.Joints = append(h.Joints, yokemate.Joint{Name: "A", Pins: []string{"K1.core"}})
	h.Fuses = []yokemate.Fuse{{From: "A1", To: "A", Amps: 1.6, Kind: "T"}}
	if err := h.Validate(); err != nil {
		t.Fatal(err)
	}
	ninety := 90.0
	r, err := On(f, h, OnOptions{Degrees: &ninety})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Fuses) != 2 || r.Fuses[0].Fuse != "feed" || r.Fuses[1].Fuse != "A1–A" {
		t.Fatalf("fuses %+v", r.Fuses)
	}
	// 4700 µF to some 20 V is 0.94 C·V/2… through 1.2 Ω in a few periods: far above the steady current's share.
	if u := r.Fuses[1]; u.SquareDecay < 0.3 || u.Square10 <= 0 || u.SteadyAmps < 0.5 || u.SteadyAmps > 1.2 {
		t.Errorf("%+v", u)
	}
}

func TestOnRefuses(t *testing.T) {
	f, h := lone()
	far, much := 400.0, 1.5
	for _, o := range []OnOptions{{Degrees: &far}, {Remanence: &much}} {
		if _, err := On(f, h, o); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%+v: %v", o, err)
		}
	}
	out := false
	h.Fed = &out
	if _, err := On(f, h, OnOptions{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("pulled plug: %v", err)
	}
}

func BenchmarkWorst(b *testing.B) {
	f, h := example(b, "shelf-fernhollow", "hookup-rope-lights")
	for b.Loop() {
		if _, err := On(f, h, OnOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSteady(b *testing.B) {
	f, h := example(b, "shelf-fernhollow", "hookup-rope-lights")
	for b.Loop() {
		if _, err := Steady(f, h, WaveOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
