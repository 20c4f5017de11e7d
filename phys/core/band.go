package core

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Band is an estimate above 0: its best value and the ends of the 95 % around it, in
// the unit that the function making it states. From a measure that is not above 0 comes a band
// that is not above 0 either, or NaN, which Combine refuses.
type Band struct {
	Low, Best, High float64
	Basis           string // where it comes from
	Formula         string // with the numbers put in
}

// normal95 is the half width of 95 % of a normal distribution, in standard deviations.
const normal95 = 1.959963984540054

// LnSigma is the standard deviation of the logarithm that the band stands for [1].
// Where the best value is off the middle, the longer side counts.
func (b Band) LnSigma() float64 {
	return math.Max(math.Log(b.High/b.Best), math.Log(b.Best/b.Low)) / normal95
}

// within makes a band of a best value and the factor to either end.
func within(best, factor float64, basis, formula string) Band {
	return Band{Low: best / factor, Best: best, High: best * factor, Basis: basis, Formula: formula}
}

// sharing is the correlation between the errors of two bands of one unit [1].
const sharing = 0.5

// Combine makes one band of several that estimate the same thing. Each weighs as the
// inverse square of its own LnSigma. Their errors are taken as correlated by one half, because a
// maker's habits move them all, so however many agree the result stays at least 0.7 times as wide as
// the narrowest of them; and it is wider by the Birge ratio where they disagree by more than they say. Equation (C11).
func Combine(bands ...Band) (Band, error) {
	if len(bands) == 0 {
		return Band{}, errors.New("no band to combine")
	}
	var weights, sum, inverse float64
	for _, b := range bands {
		u := b.LnSigma()
		if !(b.Low > 0 && b.Low <= b.Best && b.Best <= b.High && u > 0) || math.IsInf(u, 0) {
			return Band{}, fmt.Errorf("%s: %g to %g about %g is no band", b.Basis, b.Low, b.High, b.Best)
		}
		weights += 1 / (u * u)
		sum += math.Log(b.Best) / (u * u)
		inverse += 1 / u
	}
	if len(bands) == 1 {
		return bands[0], nil
	}
	mean := sum / weights
	var chi2 float64
	var basis, formula []string
	for _, b := range bands {
		d := (math.Log(b.Best) - mean) / b.LnSigma()
		chi2 += d * d
		basis = append(basis, b.Basis)
		formula = append(formula, fmt.Sprintf("%.3g (%.3g to %.3g)", b.Best, b.Low, b.High))
	}
	u := math.Sqrt((1-sharing)/weights + sharing*math.Pow(inverse/weights, 2))
	if birge := math.Sqrt(chi2 / float64(len(bands)-1)); birge > 1 {
		u *= birge
	}
	best := math.Exp(mean)
	return within(best, math.Exp(normal95*u), strings.Join(basis, "; "),
		fmt.Sprintf("weighted mean of %s = %.3g", strings.Join(formula, ", "), best)), nil
}
