package identify

import (
	"math"
	"math/cmplx"
)

// Shunt is the open-circuit branch of a unit, seen from the winding fed.
type Shunt struct {
	CoreOhms float64 // R_c, what the core loss amounts to; +Inf without loss [Ω]
	MagOhms  float64 // X_m [Ω]
}

// OpenCircuit is the open-circuit test: volts [V], amps [A] and watts [W] into
// one winding with the others open. Equations (I1), (I2). ok is false for
// readings that cannot be, such as more watts than volts times amps.
func OpenCircuit(volts, amps, watts float64) (s Shunt, ok bool) {
	va := volts * amps
	if !(volts > 0 && amps > 0 && watts >= 0 && watts < va) {
		return s, false
	}
	return Shunt{CoreOhms: volts * volts / watts, MagOhms: volts * volts / math.Sqrt(va*va-watts*watts)}, true
}

// Series is the leakage branch of a unit.
type Series struct {
	Ohms    float64 // R_eq [Ω]
	Leakage float64 // X_eq [Ω]
}

// ShortCircuit is the short-circuit test: volts [V], amps [A] and watts [W]
// into one winding with another shorted. Equations (I3), (I4). ok is false for
// readings that cannot be.
func ShortCircuit(volts, amps, watts float64) (s Series, ok bool) {
	if !(volts > 0 && amps > 0 && watts >= 0 && watts <= volts*amps) {
		return s, false
	}
	z, r := volts/amps, watts/(amps*amps)
	return Series{Ohms: r, Leakage: math.Sqrt(math.Max(0, z*z-r*r))}, true
}

// ZOhms is the magnitude of the branch [Ω].
func (s Series) ZOhms() float64 { return math.Hypot(s.Ohms, s.Leakage) }

// Refer gives the branch as seen from another winding: ratio is the volts of
// that winding over those of this one [1]. Equation (I5).
func (s Series) Refer(ratio float64) Series {
	return Series{s.Ohms * ratio * ratio, s.Leakage * ratio * ratio}
}

// Input is the phasor that the no-load volts must be, against a load's volts
// [V] at a current [A] and a power factor; leading turns its sign. Equation (I6).
func (s Series) Input(volts, amps, powerFactor float64, leading bool) complex128 {
	sin := math.Sqrt(math.Max(0, 1-powerFactor*powerFactor))
	if leading {
		sin = -sin
	}
	return complex(volts, 0) + complex(amps*powerFactor, -amps*sin)*complex(s.Ohms, s.Leakage)
}

// Regulation is (|V₂ + I₂Z| − V₂)/V₂ [1]. Equation (I7).
func (s Series) Regulation(volts, amps, powerFactor float64, leading bool) float64 {
	return cmplx.Abs(s.Input(volts, amps, powerFactor, leading))/volts - 1
}

// Drop is the linear drop (R cos φ + X sin φ) I₂/V₂ [1], which is what books
// often print for the regulation. It is off by at most (ZI/V)²/2, in the
// direction of too little. Equation (I8).
func (s Series) Drop(volts, amps, powerFactor float64, leading bool) float64 {
	sin := math.Sqrt(math.Max(0, 1-powerFactor*powerFactor))
	if leading {
		sin = -sin
	}
	return amps / volts * (s.Ohms*powerFactor + s.Leakage*sin)
}

// Efficiency is output over output and losses, all in watts [1].
func Efficiency(output, core, copper float64) float64 { return output / (output + core + copper) }

// LoadedOhms is R_eq from the volts of a winding without and with a load
// [V, V, Ω], where the leakage may be left out. Equation (I9).
func LoadedOhms(open, loaded, burden float64) float64 { return burden * (open/loaded - 1) }
