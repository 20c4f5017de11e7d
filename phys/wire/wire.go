package wire

import "math"

const (
	// Resistivity20 is that of annealed copper at 20 °C [Ω·m].
	Resistivity20 = 1.7241e-8
	// ZeroOhms is how far below 0 °C the straight line of copper's resistance reaches nil [°C].
	ZeroOhms = 234.5

	gauge36 = 0.127e-3 // diameter of 36 AWG, 5 mils [m]
)

// Diameter is that of a gauge, 00 being −1 and 000 −2, in [m]. Equation (W1).
func Diameter(awg float64) float64 { return gauge36 * math.Pow(92, (36-awg)/39) }

// AWG is the gauge of a diameter [m], not rounded. Equation (W2).
func AWG(diameter float64) float64 { return 36 - 39*math.Log(diameter/gauge36)/math.Log(92) }

// area is the copper of a diameter [m], in [m²].
func area(diameter float64) float64 { return math.Pi / 4 * diameter * diameter }

// OhmsPerMetre is the resistance of copper wire of a diameter [m] at a temperature [°C], in [Ω/m]. Equation (W3).
func OhmsPerMetre(diameter, celsius float64) float64 {
	return Resistivity20 * (ZeroOhms + celsius) / (ZeroOhms + 20) / area(diameter)
}

// Metres is how long a wire of a diameter [m] is that has a resistance [Ω] at a temperature [°C], in [m]. Equation (W3).
func Metres(ohms, diameter, celsius float64) float64 { return ohms / OhmsPerMetre(diameter, celsius) }

// Band is an estimate above 0 with the ends of about 95 %; it has the fields of the
// bands of package core, in that order, so that one converts to the other.
type Band struct {
	Low, Best, High float64
	Basis           string
	Formula         string // with the numbers put in
}

// Current densities in use, common practice, no source [A/m²].
const (
	lowDensity   = 2.5e6                           // inside a big coil
	highDensity  = 3.5e6                           // small open unit
	circularMil  = math.Pi / 4 * 25.4e-6 * 25.4e-6 // [m²]
	bestDensity  = 1 / (700 * circularMil)         // 700 circular mils for an ampere
	densityBasis = "wire diameter and current density, common practice, no source"
)

// Amps is what a winding of copper of a diameter [m], without its enamel, is usually made
// to carry [A]. Equation (W5).
func Amps(diameter float64) Band {
	a := area(diameter)
	return Band{
		Low: a * lowDensity, Best: a * bestDensity, High: a * highDensity,
		Basis: densityBasis, Formula: ampsFormula(diameter),
	}
}

// AmpsFrom is Amps for a diameter that is itself known as a band [m], such as that of Bare: the
// ends go with the ends, the unfavourable ones together.
func AmpsFrom(diameter Band) Band {
	return Band{
		Low: area(diameter.Low) * lowDensity, Best: area(diameter.Best) * bestDensity, High: area(diameter.High) * highDensity,
		Basis: densityBasis + "; " + diameter.Basis, Formula: diameter.Formula + "; " + ampsFormula(diameter.Best),
	}
}

// enamel is the increase in diameter of grade 1, IEC 60317-0-1: the least, and that of the
// largest overall diameter. From memory but for 0.1 mm.
var enamel = []struct{ copper, least, most float64 }{ // [m]
	{0.050e-3, 0.005e-3, 0.010e-3},
	{0.100e-3, 0.008e-3, 0.017e-3},
	{0.200e-3, 0.014e-3, 0.026e-3},
	{0.500e-3, 0.024e-3, 0.044e-3},
	{1.000e-3, 0.034e-3, 0.062e-3},
	{2.000e-3, 0.039e-3, 0.074e-3},
}

// Enamel is the increase in diameter that grade 1 enamel adds to copper of a diameter [m]: the least
// and the most [m]. Equation (W4). Outside the table its last stretch goes on.
func Enamel(copper float64) (least, most float64) {
	i := 1
	for i < len(enamel)-1 && copper > enamel[i].copper {
		i++
	}
	a, b := enamel[i-1], enamel[i]
	part := math.Log(copper/a.copper) / math.Log(b.copper/a.copper)
	return a.least * math.Pow(b.least/a.least, part), a.most * math.Pow(b.most/a.most, part)
}

// Bare is the diameter of the copper in enamelled wire that measures over [m] across its
// enamel, in [m]: the least where the enamel is the most that grade 1 allows, and the other way round.
// Equation (W4).
func Bare(over float64) Band {
	// The best value is with enamel half way between the ends.
	low := solveBare(over, func(least, most float64) float64 { return most })
	best := solveBare(over, func(least, most float64) float64 { return (least + most) / 2 })
	high := solveBare(over, func(least, most float64) float64 { return least })
	return Band{
		Low: low, Best: best, High: high,
		Basis:   "enamel of grade 1, IEC 60317-0-1, from memory",
		Formula: bareFormula(over, best),
	}
}

// solveBare solves (W4). D − e(d) has a slope in d under 0.2, so that repeating it converges.
func solveBare(over float64, pick func(least, most float64) float64) float64 {
	d := over
	for range 40 {
		next := over - pick(Enamel(d))
		if !(next > 0) {
			return math.NaN()
		}
		if math.Abs(next-d) < 1e-15 {
			return next
		}
		d = next
	}
	return d
}
