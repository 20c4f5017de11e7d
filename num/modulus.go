package num

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Modulus is the distribution of |z| for a complex z whose real and imaginary
// parts are jointly normal: what a voltmeter shows of a phasor that is not
// known exactly. Far from zero it is nearly normal; about zero it is Rice's
// distribution, with unequal axes where the covariance has them.
//
// Method: along the covariance's long axis the density is integrated by the
// trapezoid rule in the angle on the circle, where the integrand is smooth;
// across it the normal integral is exact. The cumulative probability is good
// to about 1e-4 with 81 points.
//
// Reference: S. O. Rice, Mathematical analysis of random noise, Bell System
// Technical Journal 24 (1945), section 3.10, for equal axes.
type Modulus struct {
	a, b   float64 // mean along and across the long axis
	s1, s2 float64 // standard deviations along them, s1 ≥ s2 ≥ 0
}

// NewModulus gives the distribution for mean z and the deviations d, each the
// move of z under one standard deviation of an independent source.
func NewModulus(z complex128, d []complex128) Modulus {
	var xx, yy, xy float64
	for _, v := range d {
		xx += real(v) * real(v)
		yy += imag(v) * imag(v)
		xy += real(v) * imag(v)
	}
	// Principal axes of the 2 × 2 covariance.
	half := (xx + yy) / 2
	r := math.Hypot((xx-yy)/2, xy)
	angle := math.Atan2(2*xy, xx-yy) / 2
	c, s := math.Cos(angle), math.Sin(angle)
	return Modulus{
		a:  real(z)*c + imag(z)*s,
		b:  -real(z)*s + imag(z)*c,
		s1: math.Sqrt(math.Max(half+r, 0)),
		s2: math.Sqrt(math.Max(half-r, 0)),
	}
}

// CDF is the probability that |z| is at most r.
func (m Modulus) CDF(r float64) float64 {
	if r < 0 {
		return 0
	}
	if m.s1 == 0 {
		if math.Hypot(m.a, m.b) <= r {
			return 1
		}
		return 0
	}
	// A deviation that has almost no width across its axis is given a trace of
	// it, so that the trapezoid sees no step.
	s2 := math.Max(m.s2, 1e-3*m.s1)
	if mean := math.Hypot(m.a, m.b); mean > 8*m.s1 {
		shift, par := m.far(mean)
		return normalCDF((r - mean - shift) / par)
	}
	// x = r sin θ along the long axis takes the square root's edge away.
	edge := func(x float64) float64 { return math.Asin(math.Max(-1, math.Min(1, x/r))) }
	lo, hi := edge(m.a-6*m.s1), edge(m.a+6*m.s1)
	if r == 0 || hi <= lo {
		return 0
	}
	const points = 81
	step := (hi - lo) / (points - 1)
	sum := 0.0
	for i := range points {
		sin, cos := math.Sincos(lo + step*float64(i))
		u, h := (r*sin-m.a)/m.s1, r*cos
		w := math.Exp(-u*u/2) * h
		if i == 0 || i == points-1 {
			w /= 2
		}
		sum += w * (normalCDF((h-m.b)/s2) - normalCDF((-h-m.b)/s2))
	}
	return math.Min(1, sum*step/(m.s1*math.Sqrt(2*math.Pi)))
}

// far gives the normal that |z| is far from zero: the component along z, with
// the shift that the other component gives.
func (m Modulus) far(mean float64) (shift, par float64) {
	ua, ub := m.a/mean, m.b/mean
	par = math.Max(math.Hypot(ua*m.s1, ub*m.s2), 1e-3*m.s1)
	return (ub*ub*m.s1*m.s1 + ua*ua*m.s2*m.s2) / (2 * mean), par
}

// Mean is |z| at the mean of z.
func (m Modulus) Mean() float64 { return math.Hypot(m.a, m.b) }

// Sigma is the standard deviation along the long axis, and at most that along z.
func (m Modulus) Sigma() float64 { return m.s1 }

// Quantile is the r that |z| stays at or below with probability p, to a
// ten-thousandth of the long axis.
func (m Modulus) Quantile(p float64) float64 {
	mean := math.Hypot(m.a, m.b)
	if m.s1 == 0 {
		return mean
	}
	if mean > 8*m.s1 {
		shift, par := m.far(mean)
		return mean + shift + par*distuv.UnitNormal.Quantile(p)
	}
	lo, hi := math.Max(0, mean-6*m.s1), mean+6*m.s1
	for range 60 {
		mid := (lo + hi) / 2
		if m.CDF(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
		if hi-lo < 1e-4*m.s1 {
			break
		}
	}
	return (lo + hi) / 2
}

// Interval is the shortest-tailed 95 % interval: 2.5 % on each side, or, when
// zero itself is likely, from zero up.
func (m Modulus) Interval() (low, high float64) {
	low, high = m.Quantile(0.025), m.Quantile(0.975)
	if mean := math.Hypot(m.a, m.b); mean < 1.5*m.s1 {
		// About zero the low tail is a corner of the plane, not a bound.
		return 0, m.Quantile(0.95)
	}
	return low, high
}

func normalCDF(x float64) float64 { return distuv.UnitNormal.CDF(x) }
