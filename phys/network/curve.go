package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"yokemate"
)

// fitCurve fits ln κ and n of N3 to further excitation readings by weighted
// least squares against the prior (Gauss-Newton; the prior keeps it regular).
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
	k0, n0, uN := math.Log(c.kappa), c.n, 2.0
	k, n := k0, n0
	var cov mat.Dense
	for range 50 {
		h := mat.NewSymDense(2, []float64{1 / (lnSigma * lnSigma), 0, 0, 1 / (uN * uN)})
		b := mat.NewVecDense(2, []float64{(k0 - k) / (lnSigma * lnSigma), (n0 - n) / (uN * uN)})
		for _, p := range u.points {
			e, xn := math.Exp(k), math.Pow(p.x, n-1)
			g := p.x * (1 + e*xn) / (1 + e)
			dk := e*xn/(1+e*xn) - e/(1+e)
			dn := e * xn * math.Log(p.x) / (1 + e*xn)
			res := math.Log(p.q) - math.Log(g)
			for i, di := range []float64{dk, dn} {
				b.SetVec(i, b.AtVec(i)+di*res/(sigma*sigma))
				for j, dj := range []float64{dk, dn} {
					if j >= i {
						h.SetSym(i, j, h.At(i, j)+di*dj/(sigma*sigma))
					}
				}
			}
		}
		var step mat.VecDense
		if err := step.SolveVec(h, b); err != nil {
			return yokemate.Errorf(yokemate.Internal, u.Tag+" excitation", "the curve cannot be fitted: %v", err)
		}
		// Short steps keep the exponent in the range where the form means something.
		dk := math.Max(-1, math.Min(1, step.AtVec(0)))
		dn := math.Max(-1, math.Min(1, step.AtVec(1)))
		k, n = k+dk, math.Max(2, math.Min(20, n+dn))
		if err := cov.Inverse(h); err != nil {
			return yokemate.Errorf(yokemate.Internal, u.Tag+" excitation", "the curve cannot be fitted: %v", err)
		}
		if math.Abs(dk) < 1e-10 && math.Abs(dn) < 1e-10 {
			break
		}
	}
	u.tail(pLnKappa).Value, u.tail(pLnKappa).U = math.Exp(k), math.Sqrt(cov.At(0, 0))
	u.tail(pExponent).Value, u.tail(pExponent).U = n, math.Sqrt(cov.At(1, 1))
	return nil
}
