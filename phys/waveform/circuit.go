package waveform

import (
	"math"

	"yokemate"
	"yokemate/phys/protect"
)

// Ground is the node that every voltage counts from.
const Ground = -1

// Circuit is the parts between numbered nodes, 0 to Nodes−1 and [Ground].
type Circuit struct {
	Hertz      float64 // of every feed [Hz]
	Nodes      int
	Feeds      []Feed
	Cores      []Core
	Windings   []Winding
	Branches   []Branch
	Capacitors []Capacitor
	Diodes     []Diode
	Sinks      []Sink
}

// Feed is a sine source from Ground to a node behind a resistance and, where
// there is one, a filament lamp.
type Feed struct {
	Node    int
	Volts   float64 // rms [V]
	Degrees float64 // ahead of the first phase [°]
	Ohms    float64 // 0 or more [Ω]
	Lamp    *protect.Lamp
}

// Core is the iron that windings share. Its quantities are those of the
// steady network at one reference volt-turn: see package network.
type Core struct {
	Loss        float64 // G [W]
	Magnetising float64 // Q [var]
	Kappa       float64 // κ of the describing function [1]
	Exponent    float64 // n, above 1 [1]
	Hertz       float64 // f₀ at which flux 1 goes with one reference volt-turn [Hz]
}

// Winding is a coil on a core. From is its start.
type Winding struct {
	From, To int
	Core     int
	Volts    float64 // a: induced rms volts at flux 1 and f₀; negative turns it round [V]
	Ohms     float64 // above 0 [Ω]
	Henries  float64 // own leakage, 0 or more [H]
}

// Branch is a resistance with an inductance in series.
type Branch struct {
	From, To int
	Ohms     float64 // [Ω]
	Henries  float64 // [H]
}

// Capacitor is a capacitance; what resistance it has is left out.
type Capacitor struct {
	From, To int
	Farads   float64 // above 0 [F]
}

// Diode conducts from From to To.
type Diode struct {
	From, To int
	Law      DiodeLaw
}

// Sink is an electronic load: it draws Amps while it has volts enough and less
// below. A plain constant current has Volts 0; a regulator has the volts that
// it gives and its dropout, and below their sum feeds its load what is left.
type Sink struct {
	From, To int
	Amps     float64 // [A]
	Volts    float64 // output of a regulator [V], 0 for a plain constant current
	Dropout  float64 // least volts a regulator needs between in and out [V]
}

// DiodeLaw is i = Is (e^{(v − Rs i)/nVt} − 1) with a leak v G beside it.
type DiodeLaw struct {
	Saturation float64 // Is, above 0 [A]
	Thermal    float64 // nVt, above 0 [V]
	Ohms       float64 // Rs, above 0 [Ω]
	Leak       float64 // G, above 0: what a blocked bridge hangs on [S]
}

// Silicon is the law of an ordinary silicon rectifier rated at so many amps:
// 0.95 V at its rating, of which 0.1 V is its resistance, 0.66 V at a thirtieth of it.
// Common practice, no source.
func Silicon(amps float64) DiodeLaw {
	return DiodeLaw{Saturation: amps * math.Exp(-0.85/0.05), Thermal: 0.05, Ohms: 0.1 / amps, Leak: 1e-8 * amps}
}

// Schottky is the law of a Schottky rectifier: 0.5 V at its rating. Common
// practice, no source.
func Schottky(amps float64) DiodeLaw {
	return DiodeLaw{Saturation: amps * math.Exp(-0.4/0.028), Thermal: 0.028, Ohms: 0.1 / amps, Leak: 1e-5 * amps}
}

// Ideal is a diode that drops next to nothing in a circuit of so many volts
// and ohms: a knee of some 10⁻⁵ of the volts, 10⁻⁶ of the ohms when it
// conducts and 10⁶ times them when it does not.
func Ideal(volts, ohms float64) DiodeLaw {
	return DiodeLaw{Saturation: 1e-9 * volts / ohms, Thermal: 1e-6 * volts, Ohms: 1e-6 * ohms, Leak: 1e-6 / ohms}
}

// check finds what no circuit can have.
func (c *Circuit) check() error {
	bad := func(format string, args ...any) error {
		return yokemate.Errorf(yokemate.Invalid, "circuit", format, args...)
	}
	node := func(list ...int) bool {
		for _, n := range list {
			if n < Ground || n >= c.Nodes {
				return false
			}
		}
		return true
	}
	if !(c.Hertz > 0) {
		return bad("the frequency must be above 0")
	}
	for i, f := range c.Feeds {
		if !node(f.Node) || f.Node == Ground || !(f.Volts >= 0) || !(f.Ohms >= 0) {
			return bad("feed %d has no node, or volts or ohms below 0", i)
		}
	}
	for i, k := range c.Cores {
		if !(k.Loss >= 0) || !(k.Magnetising > 0) || !(k.Kappa >= 0) || !(k.Exponent > 1) || !(k.Hertz > 0) {
			return bad("core %d: loss, magnetising power, saturation or frequency out of range", i)
		}
	}
	for i, w := range c.Windings {
		if !node(w.From, w.To) || w.Core < 0 || w.Core >= len(c.Cores) || !(w.Ohms > 0) || !(w.Henries >= 0) {
			return bad("winding %d: no such node or core, or ohms not above 0", i)
		}
	}
	for i, b := range c.Branches {
		if !node(b.From, b.To) || !(b.Ohms > 0) || !(b.Henries >= 0) {
			return bad("branch %d: no such node, or ohms not above 0", i)
		}
	}
	for i, k := range c.Capacitors {
		if !node(k.From, k.To) || k.From == k.To || !(k.Farads > 0) {
			return bad("capacitor %d: no such node, or farads not above 0", i)
		}
	}
	for i, d := range c.Diodes {
		if !node(d.From, d.To) || !(d.Law.Saturation > 0) || !(d.Law.Thermal > 0) || !(d.Law.Ohms > 0) || !(d.Law.Leak > 0) {
			return bad("diode %d: no such node, or a law that is not above 0", i)
		}
	}
	for i, s := range c.Sinks {
		if !node(s.From, s.To) || !(s.Amps >= 0) || !(s.Volts >= 0) || !(s.Dropout >= 0) {
			return bad("load %d: no such node, or amps or volts below 0", i)
		}
	}
	return nil
}
