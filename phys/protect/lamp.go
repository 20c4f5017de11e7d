package protect

import "math"

// Lamp is a tungsten filament lamp.
type Lamp struct {
	Watts float64 // at rated volts, above 0 [W]
	Volts float64 // rated, above 0 [V]
}

const (
	coldShare = 1.0 / 16                    // ρ_c: cold over hot resistance, from memory [1]
	nearRated = 0.45                        // d ln R/d ln V at rated volts [1]
	gamma     = nearRated / (1 - coldShare) // (F8) [1]
)

// HotOhms is the resistance at rated volts [Ω].
func (l Lamp) HotOhms() float64 { return l.Volts * l.Volts / l.Watts }

// ColdOhms is the resistance of the lamp when it is dark and cold [Ω].
func (l Lamp) ColdOhms() float64 { return coldShare * l.HotOhms() }

// RatedAmps is the current at rated volts [A].
func (l Lamp) RatedAmps() float64 { return l.Watts / l.Volts }

// Ohms is the resistance with an rms voltage [V] across the lamp, once the
// filament has settled [Ω]. Equation (F7).
func (l Lamp) Ohms(volts float64) float64 {
	v := math.Abs(volts) / l.Volts
	return l.HotOhms() * (coldShare + (1-coldShare)*math.Pow(v, gamma))
}

// DOhms is dR/dV for volts above 0 [Ω/V]. It grows without bound as volts go to
// 0, so a solver does better with Amps and DAmps, which do not.
func (l Lamp) DOhms(volts float64) float64 {
	v := math.Abs(volts) / l.Volts
	return math.Copysign(l.HotOhms()/l.Volts*(1-coldShare)*gamma*math.Pow(v, gamma-1), volts)
}

// Amps is the rms current at an rms voltage [V], odd in it [A].
func (l Lamp) Amps(volts float64) float64 { return volts / l.Ohms(volts) }

// DAmps is dI/dV [A/V], between 0.52 and 1 of Amps/volts.
func (l Lamp) DAmps(volts float64) float64 {
	v := math.Abs(volts) / l.Volts
	hot := (1 - coldShare) * math.Pow(v, gamma)
	return (1 - gamma*hot/(coldShare+hot)) / l.Ohms(volts)
}

// VoltsAtAmps is the rms voltage across the lamp at an rms current [A], in [V].
func (l Lamp) VoltsAtAmps(amps float64) float64 {
	i := math.Abs(amps) / l.RatedAmps()
	if i == 0 {
		return 0
	}
	// ln i as a function of u = ln v is increasing and concave with a slope
	// between 1-γ and 1, so Newton's steps land left of the root and then climb.
	target := math.Log(i)
	u := target
	for range 60 {
		hot := (1 - coldShare) * math.Exp(gamma*u)
		step := (target - u + math.Log(coldShare+hot)) / (1 - gamma*hot/(coldShare+hot))
		u += step
		if math.Abs(step) < 1e-13 {
			break
		}
	}
	return math.Copysign(l.Volts*math.Exp(u), amps)
}

// OhmsAtAmps is the resistance at an rms current [A], in [Ω].
func (l Lamp) OhmsAtAmps(amps float64) float64 { return l.Ohms(l.VoltsAtAmps(amps)) }

// InSeries is the rms voltage on the lamp when it stands in series with a resistance [Ω] on
// a supply of rms volts [V], in [V]. With the short-circuit resistance of a unit it tells how
// bright the lamp burns on a dead short behind it.
func (l Lamp) InSeries(supply, ohms float64) float64 {
	low, high := 0.0, math.Abs(supply)
	for range 60 { // the sum of both drops rises with the lamp's volts
		mid := (low + high) / 2
		if mid+ohms*l.Amps(mid) > math.Abs(supply) {
			high = mid
		} else {
			low = mid
		}
	}
	return math.Copysign((low+high)/2, supply)
}

// lampWatts are the sizes of lamp that LampFor chooses from [W].
var lampWatts = []float64{15, 25, 40, 60, 100, 150}

// LampSizes are the usual sizes of lamp, rising [W].
func LampSizes() []float64 { return append([]float64(nil), lampWatts...) }

// LampFor is the lamp to put in series for the first power on a unit of a rated VA [VA] on
// mains of a voltage [V]: the largest size that is no more than the VA, never
// under 15 W, and no more than 100 W until the unit reaches 250 VA (F9). Common practice, no source.
func LampFor(va, mainsVolts float64) Lamp {
	watts := lampWatts[0]
	for _, w := range lampWatts {
		if w <= va && (w <= 100 || va >= 250) {
			watts = w
		}
	}
	return Lamp{Watts: watts, Volts: mainsVolts}
}

// glowShare is how much of a unit's own short-circuit current a lamp may take at
// full glow and still tell a short. Common practice, no source.
const glowShare = 0.8

// TooBig reports whether the lamp is too big to tell: its full-glow current is
// not clearly below what the unit itself lets through with a dead short behind it,
// its rated primary current [A] over its regulation [1] (F10). Such a lamp stays
// dull on a short and passes a bad unit. An unknown regulation (0 or below) is too big: not proven.
func TooBig(l Lamp, ratedPrimaryAmps, regulation float64) bool {
	if !(regulation > 0) || !(ratedPrimaryAmps > 0) {
		return true
	}
	return l.RatedAmps() > glowShare*ratedPrimaryAmps/regulation
}
