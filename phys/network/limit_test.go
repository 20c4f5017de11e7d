package network_test

import (
	"math"
	"testing"

	"yokemate/phys/network"
)

// TestLimitLow: the low end of a rating known to a few hundredths is 1.96 U
// below it; of a band known to a factor only, which identification gives as
// 410 mA with 220 mA, it is by that factor (log-normal: 410 mA e^(−1.96·220/410)
// = 143 mA, closed form), and never nothing.
func TestLimitLow(t *testing.T) {
	for _, c := range []struct{ amps, u, want, off float64 }{
		{1, 0, 1, 0},
		{1, 0.02, 1 - 1.96*0.02, 0.001}, // of second order: (1.96·0.02)²/2
		{0.41, 0.22, 0.143, 0.0005},
	} {
		if got := (network.Limit{Amps: c.amps, U: c.u}).Low(); math.Abs(got-c.want) > c.off {
			t.Errorf("%g ± %g A: low end %g, want %g", c.amps, c.u, got, c.want)
		}
	}
}
