package core

import (
	"fmt"
	"math"
	"strings"
)

// shape is the make of a core as far as the laws differ.
type shape int

const (
	other  shape = iota // not known, or none of the others
	ei                  // E and I, or U and I laminations
	toroid              // a ring of strip
	cut                 // C and R cores, wound of strip
)

// shapeOf reads the word for a core's kind, in any case: "EI", "UI", "M", "toroid", "C", "R". Any other
// word, or none, is a core of unknown kind with wide bands.
func shapeOf(kind string) shape {
	switch strings.ToLower(strings.TrimSpace(kind)) {
	case "ei", "e-i", "ui", "u-i", "m":
		return ei
	case "toroid", "toroidal", "ring":
		return toroid
	case "c", "cut", "r", "double-c":
		return cut
	}
	return other
}

// String names the shape as it stands in a sentence.
func (s shape) String() string {
	return [...]string{"core of unknown kind", "E-I", "toroid", "cut core"}[s]
}

// law is the best value of a constant and the factor to either end of its band.
type law struct{ best, factor float64 }

// practice is what units of a kind are usually like. Common practice, no source.
type practice struct {
	area       law     // c_A of (C1) [VA/cm⁴]
	mass       law     // c_m of (C2) [VA/kg^(4/3)]
	regulation law     // c_ε of (C3) [1]
	exciting   law     // c_I of (C4) [1]
	power      float64 // p of (C4) [1]
	loss       law     // c_P of (C5) [W/VA^(3/4)]
	saturation Saturation
}

// practice returns the constants. The E-I regulation is a fit to the rated over the short-circuit currents
// of the series-lamp table: 0.29 at 6 VA down to 0.05 at 300 VA. Loss takes two thirds of the mass as
// iron at 6 W/kg (E-I), 0.6 of it at 1.5 W/kg (toroid). The saturation is that of one unit about its kind.
func (s shape) practice() practice {
	switch s {
	case ei:
		return practice{
			area:       law{math.Sqrt(0.62), 1 / math.Sqrt(0.62)}, // 0.62 to 1.0
			mass:       law{38, 1.5},                              // 6 VA at 0.25 kg, 100 VA at 2.1 kg
			regulation: law{0.65, 1.5},
			exciting:   law{math.Sqrt(0.20 * 0.60), math.Sqrt(0.60 / 0.20)}, // 20 to 60 % at 5 VA
			power:      0.336,                                               // to 8 to 20 % at 100 VA
			loss:       law{0.263, 2},
			saturation: Saturation{S: 1.7, N: 9, LnSigma: 0.6},
		}
	case toroid:
		return practice{
			area:       law{1.25, 1.5},
			mass:       law{83, 1.4}, // 100 VA at 1.15 kg
			regulation: law{0.65, 1.5},
			exciting:   law{math.Sqrt(0.005 * 0.03), math.Sqrt(0.03 / 0.005)}, // 0.5 to 3 %
			loss:       law{0.0327, 2},
			saturation: Saturation{S: 5, N: 9, LnSigma: 0.8},
		}
	case cut:
		return practice{
			area:       law{1.1, 1.5},
			mass:       law{60, 1.6},
			regulation: law{0.65, 1.6},
			exciting:   law{0.06, 3},
			power:      0.15,
			loss:       law{0.07, 2.5},
			saturation: Saturation{S: 3, N: 9, LnSigma: 0.8},
		}
	}
	return practice{
		area:       law{0.95, 1.9},
		mass:       law{50, 2},
		regulation: law{0.65, 1.7},
		exciting:   law{0.08, 8},
		loss:       law{0.12, 4},
		saturation: Saturation{S: 2.5, N: 9, LnSigma: 0.9},
	}
}

const practiceBasis = "common practice, no source"

const (
	baseHertz       = 50.0 // of the constants [Hz]
	regulationPower = 0.45 // of (C3) [1]
	hotCopper       = 1.2  // h: copper of a warm unit over that at 20 °C [1]
)

// VAFromArea is the rating [VA] from the iron's area inside the coil [m²] at a
// frequency [Hz]. Equation (C1).
func VAFromArea(kind string, area, hertz float64) Band {
	cm2 := 1e4 * area
	c := shapeOf(kind).practice().area
	best := c.best * cm2 * math.Abs(cm2) * hertz / baseHertz
	return within(best, c.factor, "core area, "+shapeOf(kind).String()+", "+practiceBasis,
		fmt.Sprintf("%.3g × (%.3g cm²)²%s = %.3g VA", c.best, cm2, atHertz(hertz), best))
}

// VAFromMass is the rating [VA] from the mass of the whole unit [kg] at a frequency [Hz]. Equation (C2).
func VAFromMass(kind string, mass, hertz float64) Band {
	c := shapeOf(kind).practice().mass
	best := c.best * math.Pow(mass, 4.0/3) * hertz / baseHertz
	return within(best, c.factor, "mass, "+shapeOf(kind).String()+", "+practiceBasis,
		fmt.Sprintf("%.3g × (%.3g kg)^(4/3)%s = %.3g VA", c.best, mass, atHertz(hertz), best))
}

func atHertz(hertz float64) string {
	if hertz == baseHertz {
		return ""
	}
	return fmt.Sprintf(" × %.3g Hz/%.3g Hz", hertz, baseHertz)
}

// Regulation is (V_nl − V_fl)/V_fl [1] of a warm unit of a rating [VA]. Equation (C3).
func Regulation(kind string, va float64) Band {
	c := shapeOf(kind).practice().regulation
	best := c.best * math.Pow(va, -regulationPower)
	return within(best, c.factor, "size, "+practiceBasis, fmt.Sprintf("%.3g × (%.3g VA)^−%.2g = %.3g", c.best, va, regulationPower, best))
}

// Exciting is the no-load current over the rated primary current [1]. Equation (C4).
func Exciting(kind string, va float64) Band {
	p := shapeOf(kind).practice()
	best := p.exciting.best * math.Pow(va/5, -p.power)
	return within(best, p.exciting.factor, "size, "+shapeOf(kind).String()+", "+practiceBasis,
		fmt.Sprintf("%.3g × (%.3g VA/5 VA)^−%.2g = %.3g", p.exciting.best, va, p.power, best))
}

// Loss is the core loss at the label's volts and frequency [W]. Equation (C5).
func Loss(kind string, va float64) Band {
	c := shapeOf(kind).practice().loss
	best := c.best * math.Pow(va, 0.75)
	return within(best, c.factor, "size, "+shapeOf(kind).String()+", "+practiceBasis, fmt.Sprintf("%.3g × (%.3g VA)^0.75 = %.3g W", c.best, va, best))
}

// Coil is one winding as far as it matters here.
type Coil struct {
	Volts float64 // no-load, above 0 [V]
	Ohms  float64 // at 20 °C, above 0 [Ω]
}

// VAFromOhms is the rating [VA] at which the warm copper drop is what units of that size
// usually have. Give the windings of the side or sides that are known; a side not given
// is taken to have as much copper as the other. It returns an error where neither is given or a value is not above 0.
// Equation (C6).
func VAFromOhms(kind string, primary, secondary []Coil) (Band, error) {
	gp, err := conductance(primary)
	if err != nil {
		return Band{}, err
	}
	gs, err := conductance(secondary)
	if err != nil {
		return Band{}, err
	}
	note, factor := "", 1.0
	switch {
	case gp == 0 && gs == 0:
		return Band{}, fmt.Errorf("no winding with volts and ohms")
	case gp == 0:
		gp, note, factor = gs, ", primary taken as equal", 1.3
	case gs == 0:
		gs, note, factor = gp, ", secondaries taken as equal", 1.3
	}
	g := 1 / (1/gp + 1/gs)
	c := shapeOf(kind).practice().regulation
	solve := func(coefficient float64) float64 {
		// d/(1−d) rises and the law falls, so the sign of their difference changes once in (0, G/h).
		low, high := 0.0, g/hotCopper
		for high-low > 1e-12*high {
			mid := (low + high) / 2
			if mid == low || mid == high {
				break
			}
			d := hotCopper * mid / g
			if d/(1-d) > coefficient*math.Pow(mid, -regulationPower) {
				high = mid
			} else {
				low = mid
			}
		}
		return (low + high) / 2
	}
	best := solve(c.best)
	return Band{
		Low: solve(c.best/c.factor) / factor, Best: best, High: solve(c.best*c.factor) * factor,
		Basis: "winding resistances" + note + ", " + practiceBasis,
		Formula: fmt.Sprintf("ΣV²/R %.3g VA and %.3g VA: warm drop %.3g × %.3g VA/%.3g VA is usual for %.3g VA",
			gp, gs, hotCopper, best, g, best),
	}, nil
}

// conductance is ΣV²/R [VA].
func conductance(coils []Coil) (float64, error) {
	var sum float64
	for _, c := range coils {
		g := c.Volts * c.Volts / c.Ohms
		if !(c.Volts > 0 && c.Ohms > 0) || math.IsInf(g, 0) || g == 0 {
			return 0, fmt.Errorf("a winding of %g V and %g Ω has no V²/R", c.Volts, c.Ohms)
		}
		sum += g
	}
	return sum, nil
}

// Split shares a rating [VA] over windings of volts [V] and ohms [Ω] in proportion to V²/R, and
// returns the current of each [A]. Equation (C7). It panics when the lengths
// differ. A winding without volts or ohms above 0 gives NaN for all.
func Split(va float64, volts, ohms []float64) []float64 {
	if len(volts) != len(ohms) {
		panic("core: one resistance for each voltage")
	}
	amps := make([]float64, len(volts))
	var sum float64
	for i, v := range volts {
		if !(v > 0 && ohms[i] > 0) {
			sum = math.NaN()
		}
		sum += v * v / ohms[i]
	}
	for i, v := range volts {
		amps[i] = va * v / ohms[i] / sum
	}
	return amps
}
