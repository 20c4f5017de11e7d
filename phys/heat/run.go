package heat

import (
	"errors"
	"math"
)

// Final is what three readings of a heat run say of its end.
type Final struct {
	Rise  float64 // final rise [K]
	URise float64 // its standard uncertainty from that of the readings [K]
	Tau   float64 // time constant [s]
	UTau  float64 // its standard uncertainty [s]
}

// ErrNotSettling is returned when readings do not bend towards an end.
var ErrNotSettling = errors.New("the readings do not bend towards a final rise; go on and take a later one")

// Extrapolate finds the final rise and the time constant from three rises [K] that
// lie step [s] apart, each with the standard uncertainty u [K]. Equation (H11). Readings that rise or fall
// by equal or growing steps have no end yet: ErrNotSettling. It sees one time constant
// only, and its uncertainty is that of the readings alone, so the answer from an early
// part of a run is a trend and not a rating.
func Extrapolate(first, second, third, step, u float64) (Final, error) {
	a, b := second-first, third-second
	// The steps must share a sign and shrink.
	if !(step > 0) || !(u >= 0) || !(a*b > 0) || !(math.Abs(b) < math.Abs(a)) || math.IsInf(a, 0) {
		return Final{}, ErrNotSettling
	}
	d := a - b
	logs := math.Log(a / b)
	f := Final{Rise: third + b*b/d, Tau: step / logs} // the same as (H11), without its cancellation
	// Sensitivities to first, second, third.
	toFirst := b * b / (d * d)
	toSecond := -2 * a * b / (d * d)
	toThird := a * a / (d * d)
	f.URise = u * math.Sqrt(toFirst*toFirst+toSecond*toSecond+toThird*toThird)
	// ln(a/b) moves by −1/a, 1/a + 1/b, −1/b.
	t := f.Tau / logs
	f.UTau = u * t * math.Sqrt(1/(a*a)+(1/a+1/b)*(1/a+1/b)+1/(b*b))
	return f, nil
}
