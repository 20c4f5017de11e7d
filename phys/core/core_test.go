package core

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"yokemate"
)

func close(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) && got != want {
		t.Errorf("%s: %.8g, want %.8g ± %g", name, got, want, tol)
	}
}

var kinds = []string{"EI", "toroid", "C", ""}

// TestArea: common practice, no source: 25 mm × 25 mm tongue is 24 to 39 VA at 50 Hz; 60 Hz is 1.2 times
// that; the older rule of 26 and 31 VA per square inch squared is the low end, printed to two digits.
func TestArea(t *testing.T) {
	b := VAFromArea("EI", 6.25e-4, 50)
	close(t, "low", b.Low, 24, 0.5)
	close(t, "high", b.High, 39, 0.5)
	close(t, "low is 0.62", b.Low, 0.62*6.25*6.25, 1e-9)
	close(t, "high is 1.0", b.High, 6.25*6.25, 1e-9)
	if want := "0.787 × (6.25 cm²)² = 30.8 VA"; b.Formula != want {
		t.Errorf("formula %q, want %q", b.Formula, want)
	}
	six := VAFromArea("ei", 6.25e-4, 60)
	close(t, "60 Hz", six.Best, 1.2*b.Best, 1e-12)
	if !strings.Contains(six.Formula, "60 Hz/50 Hz") {
		t.Errorf("formula %q does not show the hertz", six.Formula)
	}
	const in2 = 6.4516e-4
	close(t, "26 a square inch", VAFromArea("EI", in2, 50).Low, 26, 0.5)
	close(t, "31 a square inch", VAFromArea("EI", in2, 60).Low, 31, 0.5)
	// A(in²) = √VA/5.58 at 60 Hz, from memory: inside the band.
	if b := VAFromArea("EI", in2, 60); 5.58*5.58 < b.Low || 5.58*5.58 > b.High {
		t.Errorf("31.1 VA a square inch outside %g to %g", b.Low, b.High)
	}
}

// TestMass: usual weights of small units, common practice, no source.
func TestMass(t *testing.T) {
	for _, u := range []struct {
		kind   string
		kg, va float64
	}{{"EI", 0.08, 1.5}, {"EI", 0.25, 6}, {"EI", 0.65, 25}, {"EI", 2.0, 100}, {"EI", 7.5, 500}, {"toroid", 0.48, 30}, {"toroid", 1.1, 100}, {"toroid", 2.6, 300}} {
		if b := VAFromMass(u.kind, u.kg, 50); u.va < b.Low || u.va > b.High {
			t.Errorf("%s of %g kg: %g VA outside %g to %g", u.kind, u.kg, u.va, b.Low, b.High)
		}
	}
}

// TestRegulation: rated over short-circuit primary current of the series-lamp table at 230 V, and no-load
// factors of small E-I units (from memory). Common practice, no source.
func TestRegulation(t *testing.T) {
	for _, u := range []struct{ va, rated, shorted float64 }{{6, 0.026, 0.09}, {15, 0.065, 0.33}, {30, 0.13, 0.9}, {60, 0.26, 2.6}, {120, 0.52, 6.5}, {300, 1.3, 26}} {
		b := Regulation("EI", u.va)
		// 10 %: the table's currents have two digits and its sizes are rounded.
		close(t, "table", b.Best/(u.rated/u.shorted), 1, 0.10)
	}
	for _, u := range []struct{ va, low, high float64 }{{1.5, 0.5, 1}, {5, 0.3, 0.4}, {15, 0.2, 0.2}, {50, 0.1, 0.1}} {
		if b := Regulation("EI", u.va); b.High < u.low || b.Low > u.high {
			t.Errorf("%g VA: %g to %g, practice %g to %g", u.va, b.Low, b.High, u.low, u.high)
		}
	}
}

// TestExciting: small E-I 20 to 60 %, 100 VA E-I 8 to 20 %, toroid 0.5 to 3 %. Common practice, no source.
func TestExciting(t *testing.T) {
	b := Exciting("EI", 5)
	close(t, "small low", b.Low, 0.20, 1e-9)
	close(t, "small high", b.High, 0.60, 1e-9)
	b = Exciting("EI", 100)
	close(t, "100 VA low", b.Low, 0.08, 0.01) // one power law for both sizes
	close(t, "100 VA high", b.High, 0.20, 0.02)
	for _, va := range []float64{15, 100, 500} {
		b = Exciting("toroid", va)
		close(t, "toroid low", b.Low, 0.005, 1e-9)
		close(t, "toroid high", b.High, 0.03, 1e-9)
	}
}

// TestLoss: two thirds of 2.07 kg as iron at 6 W/kg is 8.3 W for 100 VA by (C2); by hand.
func TestLoss(t *testing.T) {
	close(t, "100 VA", Loss("EI", 100).Best, 8.3, 0.1)
	// The same for a toroid: 0.6 of 1.15 kg at 1.5 W/kg is 1.03 W.
	close(t, "100 VA", Loss("toroid", 100).Best, 1.035, 0.02)
}

var six = struct{ volts, ohms []float64 }{
	[]float64{13.5, 10, 12, 11.5, 3.5, 21.5},
	[]float64{1.3, 1.5, 1.9, 2.3, 2.5, 11.1},
}

// TestSplit: 20 VA over six windings. Common practice, no source; printed to 0.01 A, the
// first of them cut off and not rounded (0.537), so one unit of the digit.
func TestSplit(t *testing.T) {
	printed := []float64{0.53, 0.34, 0.33, 0.26, 0.07, 0.10}
	amps := Split(20, six.volts, six.ohms)
	var va float64
	for i, a := range amps {
		close(t, "amps", a, printed[i], 0.01)
		va += a * six.volts[i]
	}
	close(t, "the whole", va, 20, 1e-12)
	for _, a := range Split(20, []float64{10, 0}, []float64{1, 1}) {
		if !math.IsNaN(a) {
			t.Errorf("a winding without volts gives %g A", a)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("lengths that differ do not panic")
		}
	}()
	Split(1, []float64{1}, nil)
}

// TestOhms: the same six windings, said to be of 20 VA, fall in the band from their resistances alone.
func TestOhms(t *testing.T) {
	var secondary []Coil
	for i := range six.volts {
		secondary = append(secondary, Coil{six.volts[i], six.ohms[i]})
	}
	b, err := VAFromOhms("EI", nil, secondary)
	if err != nil || b.Low > 20 || b.High < 20 {
		t.Errorf("%+v %v, want 20 VA inside", b, err)
	}
	same, err := VAFromOhms("EI", secondary, secondary)
	if err != nil || math.Abs(same.Best-b.Best) > 1e-9 || !(same.High-same.Low < b.High-b.Low) {
		t.Errorf("both sides known: %+v %v, one: %+v", same, err, b)
	}
	if one, err := VAFromOhms("EI", secondary, nil); err != nil || math.Abs(one.Best-b.Best) > 1e-9 {
		t.Errorf("primary alone: %+v %v", one, err)
	}
	for _, bad := range [][]Coil{nil, {{0, 1}}, {{1, 0}}, {{-1, 1}}, {{1, math.NaN()}}, {{1, math.Inf(1)}}, {{math.Inf(1), 1}}} {
		if b, err := VAFromOhms("EI", bad, nil); err == nil {
			t.Errorf("%v gives %+v", bad, b)
		}
	}
}

// TestOhmsResidual: a unit made to obey the law gives its rating back.
func TestOhmsResidual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(kinds).Draw(t, "kind")
		va := math.Exp(rapid.Float64Range(0, 7).Draw(t, "lnva"))
		split := rapid.Float64Range(0.2, 0.8).Draw(t, "split") // of the drop on the primary
		warm := Regulation(kind, va).Best
		drop := warm / (1 + warm) / 1.2 // of V_nl, cold
		coil := func(volts, share float64) Coil {
			return Coil{volts, share * drop * volts * volts / va}
		}
		b, err := VAFromOhms(kind, []Coil{coil(230, split)}, []Coil{coil(12, 1-split)})
		if err != nil || math.Abs(b.Best/va-1) > 1e-10 || !(b.Low < b.Best && b.Best < b.High) {
			t.Fatalf("%+v %v, want %g VA", b, err, va)
		}
	})
}

// TestEMF: Theraja ch. 32. 32.3 and 32.89 print the constant 4.44; √2·π is 0.065 % more.
func TestEMF(t *testing.T) {
	printed := FormFactor / 4.44
	// 32.3: 400/1000 turns, 60 cm², 50 Hz, 520 V: 0.975976 T, 1300 V.
	b := FluxDensity(520, 50, 400, 60e-4)
	close(t, "32.3 B", b*printed, 0.975976, 5e-7)
	close(t, "32.3 E2", EMF(50, 1000, b, 60e-4), 1300, 1e-9)
	// 32.4: 3000 V, 500/50 turns, 50 Hz: 27.027 mWb, 300 V.
	flux := FluxDensity(3000, 50, 500, 1)
	close(t, "32.4 flux", flux*printed, 27.027e-3, 5e-7)
	close(t, "32.4 E2", EMF(50, 50, flux, 1), 300, 1e-9)
	// 32.89: 6600/5000 V, 8 V a turn, 1.3 T, 50 Hz: 277.20 cm² by 4.44, 277.020 by √2·π; 825 and 625 turns.
	close(t, "32.89 area", Area(8, 50, 1, 1.3)*printed, 277.20e-4, 5e-7)
	close(t, "32.89 area, √2·π", Area(8, 50, 1, 1.3), 277.020e-4, 5e-8)
	close(t, "32.89 turns", TurnsPerVolt(1, 8)*6600, 825, 1e-9)
	close(t, "32.89 turns", TurnsPerVolt(1, 8)*5000, 625, 1e-9)
	// 32.1: 250/3000 V, 8 V a turn, 1.2 T, 50 Hz: 31.25 and 375 turns, 0.03 m² (0.03003 by 4.44).
	close(t, "32.1 area", Area(8, 50, 1, 1.2)*printed, 0.03003, 5e-6)
	close(t, "32.1 turns", TurnsPerVolt(1, 8)*250, 31.25, 1e-9)
	close(t, "32.1 turns", TurnsPerVolt(1, 8)*3000, 375, 1e-9)
	// A loop of 10 turns that reads 0.8 V: 12.5 turns a volt; by hand.
	close(t, "loop", TurnsPerVolt(10, 0.8), 12.5, 1e-12)
}

// TestLossScale: Theraja 32.33: 3000 W hysteresis, 1000 W eddy, power 1.6.
func TestLossScale(t *testing.T) {
	p := LossParts{3000, 1000, 1.6}
	up := p.Scale(1.1, 1)
	close(t, "V +10 % hysteresis", up.Hysteresis, 3494.21, 0.005)
	close(t, "V +10 % eddy", up.Eddy, 1210, 1e-9)
	close(t, "f −10 % hysteresis", p.Scale(1, 0.9).Hysteresis, 3195.77, 0.005)
	close(t, "f −10 % eddy", p.Scale(1, 0.9).Eddy, 1000, 1e-9)
	both := p.Scale(1.1, 1.1)
	close(t, "both +10 % hysteresis", both.Hysteresis, 3300, 1e-9)
	close(t, "both +10 % eddy", both.Eddy, 1210, 1e-9)
	close(t, "both +10 %", both.Watts(), 4510, 1e-9)
	defer func() {
		if recover() == nil {
			t.Error("no volts do not panic")
		}
	}()
	p.Scale(0, 1)
}

func TestBeta(t *testing.T) {
	// Wallis: (2/1)(1/2)(3/4)… for odd n, closed form.
	for _, b := range []struct{ n, beta float64 }{{1, 1}, {3, 3.0 / 4}, {5, 5.0 / 8}, {7, 35.0 / 64}, {9, 63.0 / 128}} {
		close(t, "β", Saturation{N: b.n}.Beta(), b.beta, 1e-13)
	}
}

// quadrature is the amplitude of the fundamental and √2 times the rms of i over a period, by
// Gauss-Legendre on a quarter of it.
func quadrature(c Saturation, x float64) (fundamental, rms float64) {
	const points = 200
	i := func(th float64) float64 { return c.Current(x * math.Sin(th)) }
	fundamental = 4 / math.Pi * quad.Fixed(func(th float64) float64 { return i(th) * math.Sin(th) }, 0, math.Pi/2, points, nil, 0)
	rms = math.Sqrt(4 / math.Pi * quad.Fixed(func(th float64) float64 { return i(th) * i(th) }, 0, math.Pi/2, points, nil, 0))
	return fundamental, math.Copysign(rms, x)
}

func TestSaturation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Saturation{
			S: rapid.Float64Range(0, 20).Draw(t, "s"),
			N: rapid.OneOf(rapid.Just(9.0), rapid.Float64Range(1, 21)).Draw(t, "n"),
		}
		x := rapid.Float64Range(0.02, 2.2).Draw(t, "x")
		if rapid.Bool().Draw(t, "negative") {
			x = -x
		}
		ok := func(name string, got, want, rel float64) {
			if math.Abs(got-want) > rel*math.Abs(want) {
				t.Fatalf("%s at %g, %+v: %.12g, want %.12g", name, x, c, got, want)
			}
		}
		// 1e-9: for a power that is not whole the integrand is not smooth at 0.
		fundamental, rms := quadrature(c, x)
		ok("fundamental", c.Fundamental(x), fundamental, 1e-9)
		ok("rms", c.RMS(x), rms, 1e-9)
		step := &fd.Settings{Formula: fd.Central, Step: 1e-4 * math.Abs(x)}
		// 1e-5: truncation at a step of 1e-4 with powers to 20 is n²/6 of its square.
		ok("di", c.DCurrent(x), fd.Derivative(c.Current, x, step), 1e-5)
		ok("dfundamental", c.DFundamental(x), fd.Derivative(c.Fundamental, x, step), 1e-5)
		ok("drms", c.DRMS(x), fd.Derivative(c.RMS, x, step), 1e-5)
		if c.Fundamental(-x) != -c.Fundamental(x) || c.RMS(-x) != -c.RMS(x) || c.Current(-x) != -c.Current(x) {
			t.Fatal("not odd")
		}
		if math.Abs(c.RMS(x)) < math.Abs(c.Fundamental(x))*(1-1e-12) {
			t.Fatalf("rms %g below its fundamental %g", c.RMS(x), c.Fundamental(x))
		}
	})
	// At no flux the core is its straight part.
	c := Prior("EI")
	if c.Fundamental(0) != 0 || c.RMS(0) != 0 || c.DFundamental(0) != 1 || c.DRMS(0) != 1 || c.DCurrent(0) != 1 {
		t.Errorf("at no flux: %g %g %g %g %g", c.Fundamental(0), c.RMS(0), c.DFundamental(0), c.DRMS(0), c.DCurrent(0))
	}
}

// TestPrior: the knee that practice looks for (current doubles for 10 % more volts, 5 to 15 % above the
// label) is where the prior puts it: the 95 % of s for E-I covers that growth at 1.05 to 1.15 of flux. Common practice, no source.
func TestPrior(t *testing.T) {
	growth := func(s, x float64) float64 {
		c := Saturation{S: s, N: 9}
		return c.RMS(1.05*x) / c.RMS(x/1.05)
	}
	p := Prior("EI")
	flat := growth(p.S*math.Exp(-1.96*p.LnSigma), 1.15)
	sharp := growth(p.S*math.Exp(1.96*p.LnSigma), 1.05)
	if !(flat < 2 && 2 < sharp) {
		t.Errorf("current grows by %.2f to %.2f for 10 %%, want 2 between", flat, sharp)
	}
	if !(Prior("toroid").S > p.S) || !(Prior("?").LnSigma > p.LnSigma) || p.N != 9 {
		t.Errorf("E-I %+v, toroid %+v, unknown %+v", p, Prior("toroid"), Prior("?"))
	}
}

func TestCombine(t *testing.T) {
	a := within(30, 1.3, "a", "fa")
	one, err := Combine(a)
	if err != nil || one != a {
		t.Errorf("alone: %+v %v", one, err)
	}
	// Equal and agreeing, correlated by one half: closed form √(½/N + ½) σ.
	two, err := Combine(a, a)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "best", two.Best, 30, 1e-12)
	close(t, "two", two.LnSigma(), a.LnSigma()*math.Sqrt(0.75), 1e-12)
	many, err := Combine(a, a, a, a, a, a, a, a)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "many", many.LnSigma(), 0.75*a.LnSigma(), 1e-12)
	// A band four times as wide in log weighs a sixteenth: by hand ln best = ln 30 + ln 2/17.
	wide := within(60, math.Pow(1.3, 4), "b", "fb")
	mixed, err := Combine(a, wide)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "weight", math.Log(mixed.Best/30), math.Ln2/17, 1e-12)
	// Two that disagree: χ² with one degree of freedom, width √¾ σ grows by d/(√2 σ).
	far, err := Combine(a, within(120, 1.3, "c", "fc"))
	if err != nil {
		t.Fatal(err)
	}
	close(t, "disagree", far.LnSigma(), math.Log(4)*math.Sqrt(0.375), 1e-12)
	if !strings.Contains(far.Basis, "a; c") || !strings.Contains(far.Formula, "120") {
		t.Errorf("%+v hides where it comes from", far)
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, bad := range []Band{{}, {Low: 1, Best: 2}, {Low: -1, Best: 2, High: 3}, {Low: 1, Best: 4, High: 3}, {Low: 1, Best: 1, High: 1}, {Low: nan, Best: nan, High: nan}, {Low: 1, Best: 2, High: inf},
		VAFromArea("EI", -1e-4, 50), VAFromMass("EI", -1, 50), VAFromArea("EI", nan, 50), Regulation("EI", 0)} {
		if c, err := Combine(a, bad); err == nil {
			t.Errorf("%+v gives %+v", bad, c)
		}
	}
	if c, err := Combine(); err == nil {
		t.Errorf("nothing gives %+v", c)
	}
}

// TestCombineCovers: bands whose errors share a half, as (C11) supposes, and whose widths
// are honest: the truth lies in the combined 95 % that often. 20 000 trials resolve 0.002.
func TestCombineCovers(t *testing.T) {
	factors := []float64{1.27, 1.5, 1.4}
	const trials = 20000
	inside := 0
	state := uint64(1)
	uniform := func() float64 { // xorshift, so that the test is the same on each run
		state ^= state << 13
		state ^= state >> 7
		state ^= state << 17
		return (float64(state>>11) + 0.5) / (1 << 53)
	}
	normal := func() float64 { return math.Sqrt(-2*math.Log(uniform())) * math.Cos(2*math.Pi*uniform()) }
	for range trials {
		shared := normal()
		var bands []Band
		for _, f := range factors {
			u := math.Log(f) / normal95
			bands = append(bands, within(50*math.Exp(u*(math.Sqrt(0.5)*shared+math.Sqrt(0.5)*normal())), f, "", ""))
		}
		c, err := Combine(bands...)
		if err != nil {
			t.Fatal(err)
		}
		if c.Low <= 50 && 50 <= c.High {
			inside++
		}
	}
	if share := float64(inside) / trials; share < 0.945 || share > 0.975 {
		t.Errorf("the truth is inside in %.3f", share)
	}
}

func TestShapes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(kinds).Draw(t, "kind")
		va := math.Exp(rapid.Float64Range(0, 6.9).Draw(t, "lnva"))
		for name, f := range map[string]func(string, float64) Band{"regulation": Regulation, "exciting": Exciting, "loss": Loss} {
			b, bigger := f(kind, va), f(kind, 2*va)
			if !(0 < b.Low && b.Low < b.Best && b.Best < b.High) || b.Basis == "" || b.Formula == "" {
				t.Fatalf("%s: %+v", name, b)
			}
			if name == "loss" && !(bigger.Best > b.Best) || name != "loss" && bigger.Best > b.Best {
				t.Fatalf("%s of %g VA %g, of twice that %g", name, va, b.Best, bigger.Best)
			}
			unknown := f("what", va)
			if b.Best < unknown.Low || b.Best > unknown.High {
				t.Fatalf("%s of %q outside the band of a core not known", name, kind)
			}
		}
	})
	for _, name := range []string{"EI", " e-i", "UI", "M"} {
		if shapeOf(name) != ei {
			t.Errorf("%q is %v", name, shapeOf(name))
		}
	}
	if shapeOf("Toroid") != toroid || shapeOf("C") != cut || shapeOf("potato").String() != "core of unknown kind" {
		t.Error("a word for a core is read wrong")
	}
}

// TestThrough: the curve meets its points, never falls between them, says
// nothing outside them, and follows a power law exactly, since that is a
// straight line of logarithms (closed form).
func TestThrough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "points")
		var points []Point
		x, y := 0.001, 1.0
		for range n {
			x *= rapid.Float64Range(1.01, 3).Draw(t, "drive")
			y *= rapid.Float64Range(1.001, 2).Draw(t, "follow")
			points = append(points, Point{Drive: x, Follow: y})
		}
		c, err := Through(points)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range points {
			if got := c.At(p.Drive); math.Abs(got/p.Follow-1) > 1e-9 {
				t.Fatalf("at %g the curve gives %g, the point %g", p.Drive, got, p.Follow)
			}
		}
		low, high := c.Ends()
		last := 0.0
		for i := range 201 {
			v := c.At(math.Min(high, low*math.Pow(high/low, float64(i)/200)))
			if v < last*(1-1e-12) {
				t.Fatalf("the curve falls from %g to %g", last, v)
			}
			last = v
		}
		if !math.IsNaN(c.At(low*0.999)) || !math.IsNaN(c.At(high*1.001)) {
			t.Fatal("the curve speaks of what was not measured")
		}
		k := rapid.Float64Range(0.1, 2).Draw(t, "power")
		for i := range points {
			points[i].Follow = 7 * math.Pow(points[i].Drive, k)
		}
		if c, err = Through(points); err != nil {
			t.Fatal(err)
		}
		mid := math.Sqrt(low * high)
		if got, want := c.At(mid), 7*math.Pow(mid, k); math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("a power law gives %g, and %g through its points", want, got)
		}
	})
	for _, bad := range [][]Point{
		{{Drive: 1, Follow: 1}, {Drive: 2, Follow: 2}},
		{{Drive: 1, Follow: 1}, {Drive: 2, Follow: 2}, {Drive: 2, Follow: 3}},
		{{Drive: 1, Follow: 1}, {Drive: 2, Follow: 2}, {Drive: 3, Follow: 2}},
		{{Drive: 0, Follow: 1}, {Drive: 2, Follow: 2}, {Drive: 3, Follow: 4}},
		{{Drive: math.NaN(), Follow: 1}, {Drive: 2, Follow: 2}, {Drive: 3, Follow: 4}},
	} {
		if _, err := Through(bad); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%v makes a curve: %v", bad, err)
		}
	}
}
