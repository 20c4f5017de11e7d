package core

import "math"

// Saturation is the shape of a core's magnetising current, i = φ + s φⁿ, with flux 1 at
// the unit's label and the current of the straight part at flux 1 as its unit. Equation (C12).
type Saturation struct {
	S       float64 // s, 0 or more; the median where it is not measured [1]
	N       float64 // n, 1 or more [1]
	LnSigma float64 // standard deviation of ln s, 0 when measured exactly [1]
}

// Prior is what a core of a kind is usually like before its curve is measured. ln s is normal; a toroid
// works closer to its knee, which is sharper. Common practice, no source.
func Prior(kind string) Saturation { return shapeOf(kind).practice().saturation }

// odd carries an even law over to both signs.
func odd(f func(float64) float64, x float64) float64 { return math.Copysign(f(math.Abs(x)), x) }

// Current is i at an instantaneous flux [1], odd. Equation (C12).
func (c Saturation) Current(flux float64) float64 {
	return odd(func(x float64) float64 { return x + c.S*math.Pow(x, c.N) }, flux)
}

// DCurrent is its derivative [1].
func (c Saturation) DCurrent(flux float64) float64 {
	return 1 + c.S*c.N*math.Pow(math.Abs(flux), c.N-1)
}

// Beta is β of (C13): the fundamental of sinⁿθ [1].
func (c Saturation) Beta() float64 {
	return 2 / math.Sqrt(math.Pi) * gammaRatio(c.N/2+1, c.N/2+1.5)
}

// sigma is σ of (C14): the mean of sin²ⁿθ [1].
func (c Saturation) sigma() float64 {
	return gammaRatio(c.N+0.5, c.N+1) / math.Sqrt(math.Pi)
}

func gammaRatio(a, b float64) float64 {
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	return math.Exp(la - lb)
}

// Fundamental is the amplitude of the fundamental of the current at a sinusoidal flux of
// amplitude x [1], odd. Equation (C13).
func (c Saturation) Fundamental(x float64) float64 {
	return odd(func(x float64) float64 { return x + c.S*c.Beta()*math.Pow(x, c.N) }, x)
}

// DFundamental is its derivative [1].
func (c Saturation) DFundamental(x float64) float64 {
	return 1 + c.S*c.Beta()*c.N*math.Pow(math.Abs(x), c.N-1)
}

// RMS is √2 times the true-rms current, harmonics and all, at a sinusoidal flux of
// amplitude x [1], odd in x, so that it compares with Fundamental and is the same
// without saturation. Equation (C14).
func (c Saturation) RMS(x float64) float64 {
	return odd(func(x float64) float64 { return x * math.Sqrt(c.square(x)) }, x)
}

// square is (RMS/x)² for x of 0 or more.
func (c Saturation) square(x float64) float64 {
	p := c.S * math.Pow(x, c.N-1)
	return 1 + 2*c.Beta()*p + 2*c.sigma()*p*p
}

// DRMS is the derivative of RMS [1].
func (c Saturation) DRMS(x float64) float64 {
	x = math.Abs(x)
	p := c.S * math.Pow(x, c.N-1)
	q := c.square(x)
	// x·dq/dx = 2(n−1)(β p + 2 σ p²)
	return math.Sqrt(q) + (c.N-1)*(c.Beta()*p+2*c.sigma()*p*p)/math.Sqrt(q)
}
