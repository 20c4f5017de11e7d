package si_test

import (
	"errors"
	"math"
	"testing"

	"yokemate/si"
)

var seeds = []string{
	"12.6 V", "0,5 A", "2k2", "R47", "1M0", "4u7", "1.234,5", "12 300", "-40 °F", "5 %", "1e-3", "4E7", "12 V~", "−5", "NaN",
	"12.34 ± 0.05 V", "12.34 V +- 50 mV", "(1 ± 2) kV", "12.34±0,4%", "1 sq in", `2"`, "\xff", "1e9999", "",
}

func FuzzParse(f *testing.F) {
	for i, s := range seeds {
		f.Add(s, uint8(i), 12.34*math.Pow(10, float64(i-12)), i)
	}
	f.Fuzz(func(t *testing.T, text string, which uint8, v float64, sig int) {
		unit := allUnits[int(which)%len(allUnits)]
		got, err := si.Parse(text, unit)
		checkOutcome(t, text, unit, got, err)
		if err == nil {
			// Seventeen digits are enough to bring any float64 back.
			checkReadBack(t, si.Locale{}, got, math.NaN(), unit, 17)
		}
		checkReadBack(t, si.Locale{}, v, math.NaN(), unit, sig)
		si.Resolution(text)
	})
}

func FuzzParseValue(f *testing.F) {
	for i, s := range seeds {
		f.Add(s, uint8(i), 12.34*math.Pow(10, float64(i-12)), 0.051)
	}
	f.Fuzz(func(t *testing.T, text string, which uint8, v, u float64) {
		unit := allUnits[int(which)%len(allUnits)]
		value, unc, digits, err := si.ParseValue(text, unit)
		checkOutcome(t, text, unit, value, err)
		if err == nil {
			if math.IsInf(unc, 0) || unc < 0 {
				t.Fatalf("ParseValue(%q, %q): u = %v", text, unit, unc)
			}
			// The numeral is a number by itself, with a last digit.
			if _, err := si.Parse(digits, ""); err != nil && math.Abs(value) > 1e-290 && math.Abs(value) < 1e290 {
				t.Fatalf("ParseValue(%q, %q): digits %q: %v", text, unit, digits, err)
			}
			checkReadBack(t, si.Locale{Decimal: ","}, value, unc, unit, 4)
		}
		checkReadBack(t, si.Locale{}, v, u, unit, 5)
		si.FormatInterval(v, u, unit)
	})
}

// checkOutcome requires a finite value, or NaN with a full message.
func checkOutcome(t *testing.T, text, unit string, v float64, err error) {
	t.Helper()
	var e *si.Error
	switch {
	case err == nil && (math.IsNaN(v) || math.IsInf(v, 0)):
		t.Fatalf("%q as %q = %v without an error", text, unit, v)
	case err != nil && (!errors.As(err, &e) || !math.IsNaN(v) || e.Sentence == "" || e.Hint == ""):
		t.Fatalf("%q as %q = %v, %v", text, unit, v, err)
	}
}
