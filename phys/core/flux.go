package core

import (
	"fmt"
	"math"
)

// TurnsPerVolt is what a test loop of turns that reads volts [V] says of every winding, in [1/V]. Equation (C8).
func TurnsPerVolt(turns, volts float64) float64 { return turns / volts }

// FormFactor is √2·π, the constant of (C9), often printed as 4.44.
const FormFactor = math.Sqrt2 * math.Pi

// EMF is the rms volts of a winding of turns on a core with peak flux density [T]
// in an area [m²] at a frequency [Hz], in [V]. Equation (C9).
func EMF(hertz, turns, tesla, area float64) float64 { return FormFactor * hertz * turns * tesla * area }

// FluxDensity is the peak flux density from the rms induced volts [V], in [T]. Equation (C9).
func FluxDensity(volts, hertz, turns, area float64) float64 {
	return volts / (FormFactor * hertz * turns * area)
}

// Area is the iron that carries volts [V] at a peak flux density [T], in [m²]. Equation (C9).
func Area(volts, hertz, turns, tesla float64) float64 {
	return volts / (FormFactor * hertz * turns * tesla)
}

// LossParts is a core loss at some volts and frequency, split in two.
type LossParts struct {
	Hysteresis float64 // [W]
	Eddy       float64 // [W]
	Power      float64 // of flux density in the hysteresis part, 1.6 to 2 [1]
}

// Scale is the loss at other volts and another frequency, each as a ratio to those
// of p [1]. Equation (C10). It panics on ratios not above 0.
func (p LossParts) Scale(volts, hertz float64) LossParts {
	if !(volts > 0 && hertz > 0) {
		panic(fmt.Sprintf("core: loss at ratios %g and %g", volts, hertz))
	}
	flux := volts / hertz
	return LossParts{
		Hysteresis: p.Hysteresis * hertz * math.Pow(flux, p.Power),
		Eddy:       p.Eddy * volts * volts,
		Power:      p.Power,
	}
}

// Watts is the whole loss [W].
func (p LossParts) Watts() float64 { return p.Hysteresis + p.Eddy }
