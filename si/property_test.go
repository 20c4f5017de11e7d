package si_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"yokemate/si"
)

// allUnits has every unit of the table and one that is not in it.
var allUnits = []string{"V", "A", "Ω", "W", "VA", "Hz", "H", "F", "s", "m", "m²", "kg", "°C", "K", "°", "%", "", "T"}

// checkReadBack requires that what is printed reads back to the value rounded
// as it was printed. Exactly: both sides round one decimal text to a float64.
func checkReadBack(t interface {
	Helper()
	Fatalf(string, ...any)
}, l si.Locale, v, u float64, unit string, sig int) {
	t.Helper()
	// Outside, values are refused for a reason: overflow and underflow by
	// rounding, and temperatures that round to below absolute zero (-250 °C to
	// one digit is -300 °C).
	if math.IsNaN(v) || math.Abs(v) > 1e300 || v != 0 && math.Abs(v) < 1e-290 || unit == "°C" && v < -249 {
		return
	}
	text := l.Format(v, unit, sig)
	r, err := si.Read(text, unit)
	if err != nil {
		t.Fatalf("Format(%v, %q, %d) = %q, which is refused: %v", v, unit, sig, text, err)
	}
	if want := si.Round(v, sig); r.Value != want {
		t.Fatalf("Format(%v, %q, %d) = %q, read as %v, want %v", v, unit, sig, text, r.Value, want)
	}
	if v != 0 {
		// Half of the last significant digit, and the spacing of float64.
		last := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-float64(min(max(sig, 1), 17)-1))
		if math.Abs(r.Value-v) > 0.5000001*last+2.3e-16*math.Abs(v) {
			t.Fatalf("Format(%v, %q, %d) = %q is off by more than half its last digit", v, unit, sig, text)
		}
	}

	if !(u > 1e-290 && u < 1e300) {
		return
	}
	text = l.FormatU(v, u, unit)
	r, err = si.Read(text, unit)
	if err != nil {
		t.Fatalf("FormatU(%v, %v, %q) = %q, which is refused: %v", v, u, unit, text, err)
	}
	if r.U != si.Round(u, 2) {
		t.Fatalf("FormatU(%v, %v, %q) = %q, u read as %v", v, u, unit, text, r.U)
	}
	// u as shown has two digits, so one unit of its last is at most a tenth of it,
	// and the value is within half of that, or the spacing of float64.
	if off := math.Abs(r.Value - v); off > 0.0500001*r.U+2.3e-16*math.Abs(v) {
		t.Fatalf("FormatU(%v, %v, %q) = %q: the value is off by %v", v, u, unit, text, off)
	}
}

// value draws floats over all the magnitudes of the bench and beyond.
func value(t *rapid.T, name string) float64 {
	m := rapid.Float64Range(1, 10).Draw(t, name+" mantissa")
	e := rapid.IntRange(-20, 20).Draw(t, name+" exponent")
	if rapid.Bool().Draw(t, name+" negative") {
		m = -m
	}
	return m * math.Pow(10, float64(e))
}

func TestFormatReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom(allUnits).Draw(t, "unit")
		l := si.Locale{Decimal: rapid.SampledFrom([]string{"", ",", "."}).Draw(t, "decimal")}
		checkReadBack(t, l, value(t, "v"), math.Abs(value(t, "u")), unit, rapid.IntRange(-1, 20).Draw(t, "sig"))
	})
}

// Prefixes from 1 to 999: in a unit with all prefixes the number before it has
// one to three digits before its point.
func TestFormatMantissa(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1e-6, 9e8).Draw(t, "v")
		sig := rapid.IntRange(3, 9).Draw(t, "sig")
		text := si.Format(v, "Ω", sig)
		number, _, _ := strings.Cut(text, " ")
		whole, _, _ := strings.Cut(number, ".")
		if len(whole) > 3 || whole == "0" || len(strings.Replace(number, ".", "", 1)) != sig {
			t.Fatalf("Format(%v, Ω, %d) = %q", v, sig, text)
		}
	})
}

// Comma and point, and any space, mean the same.
func TestParseSpellings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom(allUnits).Draw(t, "unit")
		v := math.Abs(value(t, "v"))
		point := si.Format(v, unit, 5)
		comma := strings.NewReplacer(".", ",", " ", "\u202f", "µ", "u").Replace(" " + point + " ")
		a, err1 := si.Parse(point, unit)
		b, err2 := si.Parse(comma, unit)
		if err1 != nil || err2 != nil || a != b {
			t.Fatalf("%q is %v (%v), %q is %v (%v)", point, a, err1, comma, b, err2)
		}
	})
}

func TestIntervalEndsInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := value(t, "a"), value(t, "b")
		low, high := math.Min(a, b), math.Max(a, b)
		text := si.FormatInterval(low, high, "V")
		ends := strings.Split(strings.TrimSuffix(text, "V"), " to ")
		if len(ends) != 2 {
			if high-low > 1e-8*math.Abs(high) {
				t.Fatalf("FormatInterval(%v, %v) = %q", low, high, text)
			}
			return
		}
		prefix := strings.TrimLeft(ends[1], "-0123456789.e ")
		got0, err0 := si.Parse(ends[0]+prefix, "V")
		got1, err1 := si.Parse(ends[1], "V")
		// Half of the last of three digits of the larger end.
		tol := 0.00501 * math.Max(math.Abs(low), math.Abs(high))
		if err0 != nil || err1 != nil || got0 > got1 || math.Abs(got0-low) > tol || math.Abs(got1-high) > tol {
			t.Fatalf("FormatInterval(%v, %v) = %q, read as %v (%v), %v (%v)", low, high, text, got0, err0, got1, err1)
		}
	})
}

func TestPreferredProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := math.Abs(value(t, "v"))
		name := rapid.SampledFrom([]string{"E6", "E12", "E24", "E48", "E96", "R10", "R20"}).Draw(t, "series")
		up, near := si.Preferred(v, name, true), si.Preferred(v, name, false)
		if up < v*(1-1e-9) || si.Preferred(up, name, true) != up || si.Preferred(near, name, false) != near {
			t.Fatalf("%v in %s: up %v, nearest %v", v, name, up, near)
		}
		// Nothing of the series lies closer, looked for in the next decades.
		for _, s := range si.Series(name) {
			for d := -1.0; d <= 1; d++ {
				c := s * math.Pow(10, math.Floor(math.Log10(v))+d)
				if c > v*(1+1e-9) && c < up*(1-1e-9) {
					t.Fatalf("%v in %s: up %v, but %v is nearer", v, name, up, c)
				}
				if math.Abs(math.Log(c/v)) < math.Abs(math.Log(near/v))-1e-12 {
					t.Fatalf("%v in %s: nearest %v, but %v is nearer", v, name, near, c)
				}
			}
		}
	})
}
