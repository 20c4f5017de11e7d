package network

import (
	"math"
	"math/cmplx"

	"yokemate"
)

// fitCurve fits ln κ and n of N3 to further excitation readings by weighted
// least squares against the prior, which keeps it regular.
// Each reading says how much more magnetising current flows at its flux:
// ln(q) = ln g(x), known to the meter's few per cent.
func (u *Unit) fitCurve(readings []yokemate.Excitation, lnSigma float64) error {
	var c coefficients
	u.coefficients(u.values(), &c)
	for _, e := range readings {
		s, err := u.series(u.Tag+" excitation", e.Series)
		if err != nil {
			return err
		}
		if !e.Amps.Known() {
			continue
		}
		var a, r, l float64
		for _, w := range s {
			a += c.a[w]
			r += c.r[w]
			l += c.l[w]
		}
		V, I := e.Volts.V, e.Amps.V
		P := e.Watts.V
		if !e.Watts.Known() {
			P = math.Min(c.g*math.Pow(V/a, 2)+I*I*r, 0.95*V*I)
		}
		cos := P / (V * I)
		E := cmplx.Abs(complex(V, 0)-complex(r, 2*math.Pi*e.Hertz*l)*complex(I*cos, -I*math.Sqrt(1-cos*cos))) / a
		core := math.Max(P-I*I*r, 0)
		q := math.Sqrt(math.Max(math.Pow(E*a*I, 2)-core*core, 0)) / E
		if q > 0 {
			u.points = append(u.points, point{x: E * u.Hertz / e.Hertz, q: q / c.q})
		}
	}
	if len(u.points) == 0 {
		return nil
	}
	const sigma = 0.03 // of ln q: a true-rms milliampere reading, common practice
	fit := curveFit{points: u.points, k0: math.Log(c.kappa), n0: c.n, uK: lnSigma, uN: 2, sigma: sigma}
	k, n, cov := fit.solve()
	u.tail(pLnKappa).Value, u.tail(pLnKappa).U = math.Exp(k), math.Sqrt(cov[0])
	u.tail(pExponent).Value, u.tail(pExponent).U = n, math.Sqrt(cov[1])
	return nil
}

// curveFit is the weighted sum of squares in k = ln κ and n: the readings'
// ln q less ln g(x), and k and n less their prior.
type curveFit struct {
	points        []point
	k0, n0        float64
	uK, uN, sigma float64 // standard uncertainties of the prior and of ln q
}

// The exponent stays where the form means something.
const leastExponent, mostExponent = 2, 20

// cost is half the sum of squares with its gradient, its Hessian, and the
// part of the Hessian that has first derivatives only, each as kk, kn, nn.
func (f *curveFit) cost(k, n float64) (c float64, g [2]float64, h, first [3]float64) {
	square := func(r, u float64) float64 { return r * r / (2 * u * u) }
	c = square(k-f.k0, f.uK) + square(n-f.n0, f.uN)
	g = [2]float64{(k - f.k0) / (f.uK * f.uK), (n - f.n0) / (f.uN * f.uN)}
	first = [3]float64{1 / (f.uK * f.uK), 0, 1 / (f.uN * f.uN)}
	h = first
	e, w := math.Exp(k), 1/(f.sigma*f.sigma)
	p := e / (1 + e)
	for _, x := range f.points {
		l, ex := math.Log(x.x), e*math.Pow(x.x, n-1)
		s := ex / (1 + ex)
		r := math.Log(x.q) - (l + math.Log1p(ex) - math.Log1p(e))
		dk, dn := s-p, s*l
		c += square(r, f.sigma)
		g[0] -= w * r * dk
		g[1] -= w * r * dn
		for i, d := range [3][2]float64{
			{dk * dk, s*(1-s) - p*(1-p)}, {dk * dn, s * (1 - s) * l}, {dn * dn, s * (1 - s) * l * l},
		} {
			first[i] += w * d[0]
			h[i] += w * (d[0] - r*d[1])
		}
	}
	return c, g, h, first
}

// solve is Newton's method with the exact Hessian, damped until the sum falls:
// readings that contradict each other leave large residuals, on which steps
// without the second derivatives do not settle. It returns the variances of
// ln κ and n too.
func (f *curveFit) solve() (k, n float64, cov [2]float64) {
	k, n = f.k0, math.Max(leastExponent, math.Min(mostExponent, f.n0))
	c, g, h, first := f.cost(k, n)
	damp := 0.0
	for range 200 {
		// At an end of its interval, n stays where the slope pushes it out.
		fixed := n == leastExponent && g[1] > 0 || n == mostExponent && g[1] < 0
		a, b, d := h[0]+damp*first[0], h[1], h[2]+damp*first[2]
		var dk, dn float64
		switch det := a*d - b*b; {
		case fixed && a > 0:
			dk = -g[0] / a
		case !fixed && a > 0 && det > 0:
			dk, dn = (b*g[1]-d*g[0])/det, (b*g[0]-a*g[1])/det
		default: // not convex here
			damp = math.Max(1e-3, 4*damp)
			continue
		}
		nn := math.Max(leastExponent, math.Min(mostExponent, n+dn))
		c2, g2, h2, first2 := f.cost(k+dk, nn)
		if !(c2 <= c*(1+1e-15)) {
			damp = math.Max(1e-3, 4*damp)
			continue
		}
		moved := math.Abs(dk) + math.Abs(nn-n)
		k, n, c, g, h, first = k+dk, nn, c2, g2, h2, first2
		damp /= 8
		if damp < 1e-6 {
			damp = 0
		}
		if moved < 1e-11 {
			break
		}
	}
	det := first[0]*first[2] - first[1]*first[1]
	return k, n, [2]float64{first[2] / det, first[0] / det}
}
