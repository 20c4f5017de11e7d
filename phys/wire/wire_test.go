package wire

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func close(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.8g, want %.8g ± %g", name, got, want, tol)
	}
}

// TestTable: Floyd, Electric Circuit Fundamentals, 2nd ed., as reprinted by HyperPhysics: diameter in
// inches and Ω/1000 ft at 20 °C; the step is one unit of the printed digit of the diameter. Ohms to
// 0.03 %: the table's own rounding reaches 0.023 %.
func TestTable(t *testing.T) {
	for _, r := range []struct{ awg, inches, step, ohms float64 }{
		{10, 0.10189, 1e-5, 0.9989}, {12, 0.0808, 1e-4, 1.588}, {14, 0.06408, 1e-5, 2.525}, {16, 0.05082, 1e-5, 4.016},
		{18, 0.0403, 1e-4, 6.385}, {20, 0.03196, 1e-5, 10.15}, {22, 0.02535, 1e-5, 16.14}, {24, 0.0201, 1e-4, 25.67},
		{26, 0.01594, 1e-5, 40.81}, {28, 0.01264, 1e-5, 64.90}, {30, 0.01002, 1e-5, 103.2}, {32, 0.00795, 1e-5, 164.1},
		{34, 0.0063, 1e-4, 260.9}, {36, 0.005, 1e-3, 414.8}, {38, 0.00396, 1e-5, 659.6}, {40, 0.00314, 1e-5, 1049},
	} {
		d := Diameter(r.awg)
		close(t, "diameter", d/0.0254, r.inches, r.step)
		printed := r.ohms / 304.8 // [Ω/m]
		close(t, "ohms", OhmsPerMetre(d, 20)/printed, 1, 3e-4)
		close(t, "gauge", AWG(d), r.awg, 1e-12)
	}
}

// TestLawDiameters: the same sixteen by the law of ASTM B258 in mm, to the 0.1 µm they were worked to.
func TestLawDiameters(t *testing.T) {
	mm := []float64{2.5882, 2.0525, 1.6277, 1.2908, 1.0237, 0.8118, 0.6438, 0.5106, 0.4049, 0.3211, 0.2546, 0.2019, 0.1601, 0.1270, 0.1007, 0.0799}
	for i, want := range mm {
		close(t, "mm", 1e3*Diameter(float64(10+2*i)), want, 0.5e-4)
	}
	// ASTM B258, from memory: 0000 AWG is 0.4600 in, by definition.
	close(t, "0000", Diameter(-3)/0.0254, 0.46, 1e-12)
}

// TestRules: +3 AWG doubles R, +10 makes it ten times, +6 halves d, +20 divides d by 10: approximate rules as
// printed, with the exact factors 2.005, 10.16, 2.005 and 10.16 to four digits.
func TestRules(t *testing.T) {
	r := func(awg float64) float64 { return OhmsPerMetre(Diameter(awg), 20) }
	close(t, "+3", r(23)/r(20), 2.005, 5e-4)
	close(t, "+10", r(30)/r(20), 10.16, 5e-3)
	close(t, "+6", Diameter(20)/Diameter(26), 2.005, 5e-4)
	close(t, "+20", Diameter(20)/Diameter(40), 10.16, 5e-3)
}

func TestTemperature(t *testing.T) {
	// Closed form: (234.5 + 85)/254.5 = 1.25540; by 0.00393 it is 1.25545 (NBS Handbook 100), 0.004 % apart.
	ratio := OhmsPerMetre(1e-3, 85) / OhmsPerMetre(1e-3, 20)
	close(t, "closed form", ratio, 319.5/254.5, 1e-12)
	close(t, "wire tables", ratio, 1+0.00393*65, 1e-4)
	// By hand: 1.7241e-8/(π/4 mm²) = 21.952 mΩ/m; 2.1952 Ω is then 100 m.
	close(t, "1 mm", OhmsPerMetre(1e-3, 20), 21.952e-3, 0.5e-6)
	close(t, "length", Metres(2.1952, 1e-3, 20), 100, 0.01)
}

// TestAmps: 700 circular mils an ampere is 2.8 A/mm², 2.5 in a big coil, 3.5 in a small open unit.
// Common practice, no source. The conversion is a closed form: 1/(700·5.067075e-4 mm²) = 2.8193.
func TestAmps(t *testing.T) {
	b := Amps(2 / math.Sqrt(math.Pi) * 1e-3) // 1 mm²
	close(t, "low", b.Low, 2.5, 1e-12)
	close(t, "best", b.Best, 2.8193, 5e-5)
	close(t, "high", b.High, 3.5, 1e-12)
	if want := "π/4 × (1.13 mm)² = 1 mm² × 2.5 to 3.5 A/mm², 700 circular mils for 1 A: 2.82 A"; b.Formula != want {
		t.Errorf("formula %q, want %q", b.Formula, want)
	}
	same := AmpsFrom(Band{Low: 1e-3, Best: 1e-3, High: 1e-3})
	if one := Amps(1e-3); same.Low != one.Low || same.Best != one.Best || same.High != one.High {
		t.Errorf("%+v, want %+v", same, one)
	}
	bare := Bare(0.5e-3)
	if wide := AmpsFrom(bare); !(wide.Low < Amps(bare.Best).Low && wide.High > Amps(bare.Best).High) {
		t.Errorf("%+v is no wider than that of its best diameter", wide)
	}
}

// TestEnamel: grade 1, IEC 60317-0-1: 0.1 mm measures 0.108 to 0.117 mm over its enamel (a maker's
// page); others from memory.
func TestEnamel(t *testing.T) {
	for _, w := range []struct{ copper, low, high float64 }{{0.1, 0.108, 0.117}, {0.2, 0.214, 0.226}, {0.5, 0.524, 0.544}, {1, 1.034, 1.062}, {2, 2.039, 2.074}} {
		least, most := Enamel(w.copper * 1e-3)
		close(t, "least", w.copper+1e3*least, w.low, 1e-9)
		close(t, "most", w.copper+1e3*most, w.high, 1e-9)
		// Whatever the enamel that grade 1 allows, the copper is inside the band.
		for _, over := range []float64{w.low, (w.low + w.high) / 2, w.high} {
			b := Bare(over * 1e-3)
			if w.copper < 1e3*b.Low-1e-9 || w.copper > 1e3*b.High+1e-9 {
				t.Errorf("%g mm over enamel: %g to %g mm, want %g inside", over, 1e3*b.Low, 1e3*b.High, w.copper)
			}
		}
	}
	if b := Bare(-1); !math.IsNaN(b.Low) || !math.IsNaN(b.Best) || !math.IsNaN(b.High) {
		t.Errorf("a diameter below 0 gives %+v", b)
	}
	if want := "0.534 mm − 0.034 mm enamel = 0.5 mm"; Bare(0.534e-3).Formula != want {
		t.Errorf("formula %q, want %q", Bare(0.534e-3).Formula, want)
	}
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		awg := rapid.Float64Range(-3, 50).Draw(t, "awg")
		if got := AWG(Diameter(awg)); math.Abs(got-awg) > 1e-11 {
			t.Fatalf("%g AWG comes back as %g", awg, got)
		}
		copper := 1e-3 * math.Exp(rapid.Float64Range(math.Log(0.03), math.Log(5)).Draw(t, "ln mm"))
		least, most := Enamel(copper)
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		over := copper + least + share*(most-least)
		b := Bare(over)
		if !(0 < b.Low && b.Low < b.Best && b.Best < b.High && b.High < over) {
			t.Fatalf("%+v from %g", b, over)
		}
		if copper < b.Low-1e-15 || copper > b.High+1e-15 {
			t.Fatalf("%g m outside %g to %g", copper, b.Low, b.High)
		}
		// The residual of (W4) at each end.
		_, atLow := Enamel(b.Low)
		atHigh, _ := Enamel(b.High)
		if math.Abs(b.Low+atLow-over) > 1e-14 || math.Abs(b.High+atHigh-over) > 1e-14 {
			t.Fatalf("%g m does not add up: %+v", over, b)
		}
	})
}

func TestParseGauge(t *testing.T) {
	for _, p := range []struct {
		text string
		want float64 // [m]
	}{
		{"AWG 24", Diameter(24)}, {"24 AWG", Diameter(24)}, {"24AWG", Diameter(24)}, {"#24", Diameter(24)}, {"awg24", Diameter(24)},
		{" # 24 ", Diameter(24)}, {"AWG-24", Diameter(24)}, {"AWG #24", Diameter(24)}, {"24,5 AWG", Diameter(24.5)},
		{"AWG 0", Diameter(0)}, {"00 AWG", Diameter(-1)}, {"AWG 2/0", Diameter(-1)}, {"4/0 AWG", Diameter(-3)}, {"0000 AWG", Diameter(-3)}, {"AWG 08", Diameter(8)},
		{"0.5 mm", 0.5e-3}, {"0,5 mm", 0.5e-3}, {"0.5mm", 0.5e-3}, {"500 µm", 0.5e-3}, {"0.02 in", 0.508e-3}, {"20 mil", 0.508e-3}, {"20mil", 0.508e-3},
	} {
		got, err := ParseGauge(p.text)
		if err != nil || math.Abs(got-p.want) > 1e-15 {
			t.Errorf("%q is %g m, %v; want %g", p.text, got, err, p.want)
		}
	}
	for _, text := range []string{"", "24", "0.5", "AWG", "#", "#-1", "SWG 24", "24 SWG", "AWG 5/0", "AWG 99", "-0.5 mm", "0 mm", "0.5 m", "13 mm", "NaN mm", "NaN mil", "-20 mil", "0.5 mm²", "0.5 V", "00000 AWG", "AWG 24 AWG", "24 ± 1 mil", "0.5 ± 0.1 mm", "\xff mm"} {
		if got, err := ParseGauge(text); err == nil || !math.IsNaN(got) {
			t.Errorf("%q is %g m, %v; want it refused", text, got, err)
		}
	}
}

func FuzzParseGauge(f *testing.F) {
	for _, s := range []string{"AWG 24", "#24", "2/0 AWG", "0,5 mm", "20 mil", "0.02\"", "", "AWG", "1e9 mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ParseGauge(text)
		if (err == nil) != (d >= thinnest && d <= thickest) {
			t.Fatalf("%q is %g m, %v", text, d, err)
		}
	})
}
