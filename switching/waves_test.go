package switching

import (
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// trace makes a trace of a function of the angle, with its moments as given.
func trace(f func(a float64) float64, mean, rms float64) *waveform.Trace {
	t := &waveform.Trace{Mean: mean, RMS: rms, Min: math.Inf(1), Max: math.Inf(-1)}
	for i := range waveSamples + 1 {
		v := f(2 * math.Pi * float64(i) / waveSamples)
		t.Values = append(t.Values, v)
		t.Min, t.Max = min(t.Min, v), max(t.Max, v)
	}
	return t
}

// TestMeasure holds what a wave amounts to to closed forms: a sine, one and
// both of its halves (Fourier series as in any textbook of electrical
// engineering; their means and form factors: Theraja and Theraja, A Textbook
// of Electrical Technology, vol. 1, ch. 11, from memory), a square, a sine
// beside a mean. Greatest value 1 or 10; the samples make a corner's mean wrong by some 10⁻⁵ of it.
func TestMeasure(t *testing.T) {
	scale := 1.0
	ok := func(name string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 2e-5*scale {
			t.Errorf("%s: %.8g, closed form %.8g", name, got, want)
		}
	}
	w := measure(look{name: "sine", factor: 1}, trace(math.Sin, 0, math.Sqrt2/2))
	ok("sine, form", w.Form, 1.1107207)
	ok("sine, crest", w.Crest, math.Sqrt2)
	ok("sine, averaging meter", w.Averaging, w.RMS)
	ok("sine, true rms", w.TrueRMS, w.RMS)
	ok("sine, fundamental", w.Harmonics[0].RMS, math.Sqrt2/2)
	ok("sine, its angle", w.Harmonics[0].Degrees, 0)
	ok("sine, distortion", w.Distortion, 0)

	scale = 10
	half := func(a float64) float64 { return math.Max(math.Sin(a), 0) }
	w = measure(look{name: "half", factor: 10}, trace(half, 1/math.Pi, 0.5))
	ok("half wave, mean", w.Mean, 10/math.Pi)
	ok("half wave, rms", w.RMS, 5)
	ok("half wave, form", w.Form, math.Pi/2)
	ok("half wave, crest", w.Crest, 2)
	ok("half wave, 1st", w.Harmonics[0].RMS, 5/math.Sqrt2)
	ok("half wave, 2nd", w.Harmonics[1].RMS, 20/(3*math.Pi)/math.Sqrt2)
	ok("half wave, 3rd", w.Harmonics[2].RMS, 0)
	ok("half wave, 4th", w.Harmonics[3].RMS, 20/(15*math.Pi)/math.Sqrt2)
	ok("half wave, true rms on AC", w.TrueRMS, 10*math.Sqrt(0.25-1/(math.Pi*math.Pi)))
	// Mean of |v − V/π|: twice the area above the mean, over the period.
	at := math.Asin(1 / math.Pi)
	ok("half wave, averaging meter", w.Averaging, averaging*2*10*(2*math.Cos(at)-(math.Pi-2*at)/math.Pi)/(2*math.Pi))

	scale = 1
	both := func(a float64) float64 { return math.Abs(math.Sin(a)) }
	w = measure(look{name: "both", factor: 1}, trace(both, 2/math.Pi, math.Sqrt2/2))
	ok("both halves, form", w.Form, 1.1107207)
	ok("both halves, 1st", w.Harmonics[0].RMS, 0)
	ok("both halves, 2nd", w.Harmonics[1].RMS, 4/(3*math.Pi)/math.Sqrt2)
	ok("both halves, ripple", w.TrueRMS, math.Sqrt(0.5-4/(math.Pi*math.Pi)))

	square := func(a float64) float64 { return math.Copysign(1, math.Sin(a+1e-9)) }
	w = measure(look{name: "square", factor: 1}, trace(square, 0, 1))
	ok("square, form", w.Form, 1)
	ok("square, crest", w.Crest, 1)
	ok("square, averaging meter", w.Averaging, 1.1107207) // shows 11 % too much: common practice
	if d := math.Sqrt(math.Pi*math.Pi/8 - 1); math.Abs(w.Distortion-d) > 1e-3 {
		t.Errorf("square, distortion %.5g, closed form %.5g", w.Distortion, d)
	}

	w = measure(look{name: "sine beside 3", factor: 1}, trace(func(a float64) float64 { return 3 + math.Sin(a+math.Pi/6) }, 3, math.Sqrt(9.5)))
	ok("sine beside a mean, true rms on AC", w.TrueRMS, math.Sqrt2/2)
	ok("sine beside a mean, averaging", w.Averaging, math.Sqrt2/2)
	ok("sine beside a mean, its angle", w.Harmonics[0].Degrees, 30)

	// Nothing has no form.
	w = measure(look{name: "dead", factor: 1}, trace(func(float64) float64 { return 0 }, 0, 0))
	if w.Form != 0 || w.Crest != 0 || w.Distortion != 0 {
		t.Errorf("nothing: %+v", w)
	}
}

// TestSineAtTheSocket: the plug of a stiff feed has the source's own sine,
// through the whole of the package; the no-load current of a saturating core has odd
// harmonics and no even ones, so an averaging meter is wrong about it.
func TestSineAtTheSocket(t *testing.T) {
	f, h := lone()
	r, err := Steady(f, h, WaveOptions{Of: []string{"volts L to N", "amps feed", "flux K1"}})
	if err != nil {
		t.Fatal(err)
	}
	v := r.Waves[0]
	if math.Abs(v.RMS/230-1) > 1e-6 || math.Abs(v.Form-1.1107207) > 2e-5 || math.Abs(v.Crest-math.Sqrt2) > 1e-6 || v.Distortion > 1e-6 {
		t.Errorf("the socket: %.8g V, form %.8g, crest %.8g, distortion %.2g", v.RMS, v.Form, v.Crest, v.Distortion)
	}
	i := r.Waves[1]
	if i.Harmonics[2].RMS < 0.05*i.Harmonics[0].RMS || i.Harmonics[1].RMS > 1e-4*i.Harmonics[0].RMS {
		t.Errorf("idle current %+v", i.Harmonics)
	}
	// By Parseval the harmonics told are less than the rms, and close to it.
	sum := 0.0
	for _, x := range i.Harmonics {
		sum += x.RMS * x.RMS
	}
	if sum > i.TrueRMS*i.TrueRMS*(1+1e-9) || sum < 0.999*i.TrueRMS*i.TrueRMS {
		t.Errorf("nine harmonics hold %.6g of %.6g A²", sum, i.TrueRMS*i.TrueRMS)
	}
	if i.Averaging > 0.99*i.TrueRMS {
		t.Errorf("an averaging meter shows %.4g of %.4g A", i.Averaging, i.TrueRMS)
	}
	if c := r.Cores[0]; math.Abs(c.Offset) > 1e-4 || math.Abs(c.Mean) > 1e-4*c.Peak || c.Winding != "K1/P" || len(r.Notes) > 0 {
		t.Errorf("core %+v, notes %v", c, r.Notes)
	}
	if math.Abs(r.Solver.Balance) > 1e-6 {
		t.Errorf("energy balance %g", r.Solver.Balance)
	}
}

// TestDirectCurrentInACore: a half wave's direct current magnetises the core
// with the whole of its ampere-turns, since the mains side carries no mean: a
// winding of some ohms on a source without direct volts. So the mean exciting
// current is I a_s/a_p (closed form: Ampère's law), whatever the core does
// with it; and in a straight core the flux stands to one side by that over
// the slope of (V2), κ being 0. A bridge does none of it.
func TestDirectCurrentInACore(t *testing.T) {
	const amps = 0.15
	f, h := lone(rectified("half", 2200e-6, amps))
	r, err := Steady(f, h, WaveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	u, err := f.Unit("K1")
	if err != nil {
		t.Fatal(err)
	}
	x, err := into(f, h, yokemate.Nominal, network.Options{Linear: true})
	if err != nil {
		t.Fatal(err)
	}
	p, a := x.Circuit.Windings[0].Volts, x.Circuit.Windings[1].Volts
	c := r.Cores[0]
	want := amps * a / p
	// The periodic state closes to some 10⁻⁶ of each state's swing; the diode's leak is 10⁻⁷ A a volt.
	if math.Abs(math.Abs(c.Mean)/want-1) > 2e-4 {
		t.Errorf("mean exciting current %.7g A, Ampère's law %.7g A", c.Mean, want)
	}
	feed := r.Waves[0]
	if feed.Of != "amps feed" || math.Abs(feed.Mean) > 2e-4*want {
		t.Errorf("%s has a mean of %.3g A", feed.Of, feed.Mean)
	}
	if math.Abs(c.Offset) < 0.1 || c.Peak < 1.5*c.Without || c.Without <= 0 || len(r.Notes) != 1 || r.Notes[0].Code != yokemate.OverFlux {
		t.Errorf("core %+v, notes %+v", c, r.Notes)
	}
	t.Logf("%s: flux to one side %.3f, peak %.3f; exciting current %.3g A peak for %.3g A", u.Tag, c.Offset, c.Flux, c.Peak, c.Without)

	// A straight core: the same direct ampere-turns, Σ a I = √2 Q φ.
	w, _, _, err := x.Periodic(x.Start, waveform.Options{Probes: []waveform.Probe{x.Flux(0), x.WindingAmps(1)}})
	if err != nil {
		t.Fatal(err)
	}
	phi := a * amps / (math.Sqrt2 * x.Circuit.Cores[0].Magnetising)
	if got := math.Abs(w.Traces[0].Mean); math.Abs(got/phi-1) > 2e-4 {
		t.Errorf("straight core: flux to one side %.7g, closed form %.7g", got, phi)
	}
	if math.Abs(math.Abs(w.Traces[1].Mean)/amps-1) > 1e-4 {
		t.Errorf("the winding's mean is %.7g A", w.Traces[1].Mean)
	}

	f, h = lone(rectified("bridge", 2200e-6, amps))
	if r, err = Steady(f, h, WaveOptions{}); err != nil {
		t.Fatal(err)
	}
	if c := r.Cores[0]; math.Abs(c.Offset) > 1e-3 || len(r.Notes) > 0 {
		t.Errorf("a bridge: %+v, notes %+v", c, r.Notes)
	}
}

// TestRailOnAMeter: behind a bridge the volts' mean is what a DC meter shows,
// and on AC a meter sees the ripple alone; the winding's current has a form
// factor far from a sine's, so an averaging meter shows too little.
func TestRailOnAMeter(t *testing.T) {
	f, h := lone(rectified("bridge", 2200e-6, 0.5))
	r, err := Steady(f, h, WaveOptions{Of: []string{"volts dc", "amps K1/A", "volts K1/A"}})
	if err != nil {
		t.Fatal(err)
	}
	v, i := r.Waves[0], r.Waves[1]
	if v.Mean < 15 || v.Mean > 24 || v.TrueRMS > 0.1*v.Mean || v.Harmonics[0].RMS > 1e-3*v.Harmonics[1].RMS {
		t.Errorf("rail: mean %.4g V, ripple %.4g V rms, harmonics %+v", v.Mean, v.TrueRMS, v.Harmonics)
	}
	if i.Form < 1.3 || i.Averaging > 0.85*i.TrueRMS {
		t.Errorf("winding: form %.3g, averaging %.3g of %.3g A", i.Form, i.Averaging, i.TrueRMS)
	}
}

func TestWaveNames(t *testing.T) {
	f, h := lone(rectified("bridge", 2200e-6, 0.5))
	r, err := Steady(f, h, WaveOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"amps feed", "volts dc", "amps K1/P", "amps K1/A", "flux K1"} {
		if i >= len(r.Waves) || r.Waves[i].Of != want {
			t.Errorf("wave %d is not %q", i, want)
		}
	}
	for _, bad := range []string{"", "amps", "volts", "amps dc", "flux K2", "volts A to Q", "amps K1/Q", "volts dc rail 2", "ohms K1/P"} {
		if _, err := Steady(f, h, WaveOptions{Of: []string{bad}}); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
