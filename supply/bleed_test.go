package supply_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"yokemate/supply"
)

// The closed form of a discharge, V = V₀ e^(−t/RC).
func TestBleeder(t *testing.T) {
	for _, x := range []struct{ farads, peak, seconds, ohms float64 }{
		{4700e-6, 25, 60, 0},
		{4700e-6, 40, 60, 27e3},  // 60/(4.7e-3 ln 1.6) = 27.16 kΩ
		{1000e-6, 68, 60, 56e3},  // 59.96 kΩ, and 68 kΩ is above it
		{2200e-6, 325, 10, 1500}, // 1772 Ω, 1800 Ω is the nearest and above it
	} {
		ohms, takes := supply.Bleeder(x.farads, x.peak, x.seconds)
		if math.Abs(ohms-x.ohms) > 1e-6*x.ohms {
			t.Errorf("%g F from %g V in %g s: %g Ω, want %g Ω", x.farads, x.peak, x.seconds, ohms, x.ohms)
		}
		if ohms == 0 {
			continue
		}
		if left := x.peak * math.Exp(-takes/(ohms*x.farads)); math.Abs(left-supply.SafeVolts) > 1e-9*left {
			t.Errorf("after %g s %g V are left", takes, left)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		farads, peak, seconds := rapid.Float64Range(1e-5, 0.1).Draw(t, "farads"), rapid.Float64Range(25.01, 1000).Draw(t, "peak"), rapid.Float64Range(1, 600).Draw(t, "seconds")
		ohms, takes := supply.Bleeder(farads, peak, seconds)
		// Neighbours of E12 are at most 1.22 apart.
		if takes > seconds*(1+1e-9) || takes < seconds/1.5 || !(ohms > 0) {
			t.Fatalf("%g Ω take %g s of %g s", ohms, takes, seconds)
		}
	})
}
