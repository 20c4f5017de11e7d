package num_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"sort"
	"testing"

	"yokemate/num"
)

// About zero with equal axes |z| is Rayleigh: CDF 1 − exp(−r²/2σ²), closed form.
func TestRayleigh(t *testing.T) {
	m := num.NewModulus(0, []complex128{2, 2i})
	for _, r := range []float64{0.5, 1, 2, 4, 6} {
		want := 1 - math.Exp(-r*r/8)
		if got := m.CDF(r); math.Abs(got-want) > 2e-4 {
			t.Errorf("CDF(%g) = %.5f, want %.5f", r, got, want)
		}
	}
}

// Quantiles against a simulation with a fixed seed; its own standard error
// at 2.5 % of 200,000 draws is 0.6 % of the tail.
func TestQuantilesAgainstSimulation(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		z complex128
		d []complex128
	}{
		{0.1, []complex128{0.1, 0.05i, complex(0.03, 0.03)}},
		{complex(3, 4), []complex128{0.5, 0.5i}},
		{complex(0.2, -0.1), []complex128{complex(0.2, 0.1)}},
		{20, []complex128{0.3, 0.1i}},
		{1, []complex128{0.01i, 0.3i}},
	} {
		draws := make([]float64, 200000)
		for i := range draws {
			z := c.z
			for _, d := range c.d {
				z += d * complex(rng.NormFloat64(), 0)
			}
			draws[i] = cmplx.Abs(z)
		}
		sort.Float64s(draws)
		m := num.NewModulus(c.z, c.d)
		for _, p := range []float64{0.025, 0.5, 0.975} {
			got, want := m.Quantile(p), draws[int(p*float64(len(draws)))]
			scale := draws[len(draws)*975/1000] - draws[len(draws)*25/1000]
			if math.Abs(got-want) > 0.02*scale {
				t.Errorf("z %v: quantile %g = %.5g, simulated %.5g", c.z, p, got, want)
			}
		}
	}
}
