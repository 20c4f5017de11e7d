package identify

import "math"

// Small dense matrices, row by row in one slice: the fits here have at most a
// few dozen readings and eight unknowns, and thousands of them are made for
// one answer.

// cholesky overwrites the lower triangle of the n×n matrix a with L, a = L Lᵀ.
// It reports whether a is positive definite.
func cholesky(a []float64, n int) bool {
	for j := range n {
		for i := j; i < n; i++ {
			s := a[i*n+j]
			for k := range j {
				s -= a[i*n+k] * a[j*n+k]
			}
			if i > j {
				a[i*n+j] = s / a[j*n+j]
				continue
			}
			if !(s > 0) {
				return false
			}
			a[i*n+i] = math.Sqrt(s)
		}
	}
	return true
}

// forward overwrites b with L⁻¹ b for the leading m rows of the n×n factor.
func forward(l []float64, n, m int, b []float64) {
	for i := range m {
		s := b[i]
		for k := range i {
			s -= l[i*n+k] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}

// backward overwrites b with L⁻ᵀ b.
func backward(l []float64, n int, b []float64) {
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= l[k*n+i] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}

// lnDet is ln det(L Lᵀ) of the leading m rows.
func lnDet(l []float64, n, m int) float64 {
	s := 0.0
	for i := range m {
		s += math.Log(l[i*n+i])
	}
	return 2 * s
}

// inverse returns (L Lᵀ)⁻¹.
func inverse(l []float64, n int) []float64 {
	inv := make([]float64, n*n)
	e := make([]float64, n)
	for j := range n {
		clear(e)
		e[j] = 1
		forward(l, n, n, e)
		backward(l, n, e)
		for i := range n {
			inv[i*n+j] = e[i]
		}
	}
	return inv
}

// lnPhi is ln Φ(z), good in the far tail too.
func lnPhi(z float64) float64 {
	if z > -30 {
		return math.Log(0.5 * math.Erfc(-z/math.Sqrt2))
	}
	// Mills' ratio, relative error below 1/z².
	return -z*z/2 - math.Log(-z) - 0.5*math.Log(2*math.Pi)
}

// lnSum is ln(eᵃ + eᵇ).
func lnSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// binaryEntropy is the entropy of an event of probability p [nat].
func binaryEntropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log(p) - (1-p)*math.Log1p(-p)
}
