package heat

import "math"

// Rate is k of (H4) for copper that carries ratio times its rated current, whose
// density at rated current is density [A/m²], in [1/s].
func Rate(density, ratio float64) float64 {
	return Resistivity20 * density * density * ratio * ratio / ((K + coldC) * VolumeHeat)
}

// Adiabatic is the temperature of copper that starts at from [°C], after
// seconds [s] without cooling, in [°C]. Equation (H5).
func Adiabatic(from, density, ratio, seconds float64) float64 {
	return from + (K+from)*math.Expm1(Rate(density, ratio)*seconds)
}

// AdiabaticTime is how long copper takes without cooling from one temperature
// to another [°C], in [s]: 0 when it is there already, +Inf without current. Equation (H6).
func AdiabaticTime(from, to, density, ratio float64) float64 {
	if to <= from {
		return 0
	}
	return math.Log1p((to-from)/(K+from)) / Rate(density, ratio)
}

// Winding is one thermal node with linear cooling.
type Winding struct {
	Rise    float64 // rise at rated current, in balance, above 0 [K]
	Ambient float64 // what surrounded it at that rise [°C]
	Tau     float64 // time constant at constant heat, above 0 [s]
}

// CopperTau is the time constant of a winding that stores its heat in its own copper only,
// from its rise [K], its ambient [°C] and its rated current density [A/m²], in [s]. A real one is longer. Equation (H12).
func CopperTau(rise, ambient, density float64) float64 {
	return rise / (Rate(density, 1) * (K + ambient + rise))
}

// gain is a of (H7): how much the copper's own rise feeds back, at ratio times rated current.
func (w Winding) gain(ratio float64) float64 {
	return ratio * ratio * w.Rise / (K + w.Ambient + w.Rise)
}

// Steady is the temperature at which the winding settles when it carries ratio
// times its rated current in surroundings at ambient [°C], in [°C]. Where its resistance
// rises faster than its cooling it never settles: the answer is +Inf, false. Equation (H8).
func (w Winding) Steady(ratio, ambient float64) (celsius float64, equilibrium bool) {
	a := w.gain(ratio)
	if !(a < 1) {
		return math.Inf(1), false
	}
	return (ambient + K*a) / (1 - a), true
}

// slope is dT/dt at a temperature [°C], in [K/s]. Equation (H7).
func (w Winding) slope(celsius, ratio, ambient float64) float64 {
	return (w.gain(ratio)*(K+celsius) - (celsius - ambient)) / w.Tau
}

// After is the temperature after seconds [s] from a start at from [°C], in [°C]. Equation (H9).
func (w Winding) After(from, ratio, ambient, seconds float64) float64 {
	// T = T₁ + T'(0) (1 − e^{−bt})/b with b = (1 − a)/τ holds for every a.
	b := (1 - w.gain(ratio)) / w.Tau
	return from + w.slope(from, ratio, ambient)*span(b, seconds)
}

// span is (1 − e^{−bt})/b, which is t when b is 0.
func span(b, t float64) float64 {
	if b == 0 {
		return t
	}
	return -math.Expm1(-b*t) / b
}

// TimeTo is how long the winding takes from one temperature to a higher one [°C], in
// [s]: 0 when it is there already, +Inf when it never gets there. Equation (H10).
func (w Winding) TimeTo(from, to, ratio, ambient float64) float64 {
	if to <= from {
		return 0
	}
	slope := w.slope(from, ratio, ambient)
	if !(slope > 0) {
		return math.Inf(1)
	}
	b := (1 - w.gain(ratio)) / w.Tau
	s := (to - from) / slope // what span must be
	switch {
	case b == 0:
		return s
	case b*s >= 1:
		return math.Inf(1) // it settles below
	}
	return -math.Log1p(-b*s) / b
}

// Equivalent is the steady ratio that heats as much as ratios [1] that each last
// seconds [s] in turn, when the turn is short against τ. Equation (H13).
// It panics when the lengths differ.
func Equivalent(ratios, seconds []float64) float64 {
	if len(ratios) != len(seconds) {
		panic("heat: one time for each ratio")
	}
	var sum, total float64
	for i, r := range ratios {
		sum += r * r * seconds[i]
		total += seconds[i]
	}
	return math.Sqrt(sum / total)
}
