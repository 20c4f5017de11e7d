package waveform

import "math"

// omega solves w + ln w = x for w above 0, the real Wright omega function, to
// a few units of the last digit: one start by range of x, then two steps of the fourth
// order (F. N. Fritsch, R. E. Shafer, W. P. Crowley, Algorithm 443, CACM 16
// (1973) 123-124).
func omega(x float64) float64 {
	var w float64
	switch {
	case x < -30:
		return math.Exp(x) // the next term is e^{2x}
	case x < -1:
		e := math.Exp(x)
		w = e / (1 + e)
	case x < 2:
		d := x - 1
		w = 1 + d/2 + d*d/16
	default:
		l := math.Log(x)
		w = x - l + l/x
	}
	for range 2 {
		r := x - w - math.Log(w)
		if math.Abs(r) < 1e-15*w {
			break
		}
		p := 1 + w
		q := p * (p + 2*r/3)
		w *= 1 + r/p*(2*q-r)/(2*q-2*r)
	}
	return w
}

// amps is the diode's current at v and its derivative, equation (V6).
func (d *diodeLaw) amps(v float64) (i, di float64) {
	w := omega(v*d.perThermal + d.shift)
	return w*d.scale - d.is + d.leak*v, d.perOhm*w/(1+w) + d.leak
}

// diodeLaw is DiodeLaw with its constants worked out.
type diodeLaw struct {
	is, scale, perThermal, perOhm, shift, leak float64
}

func (d DiodeLaw) compile() diodeLaw {
	x := d.Ohms * d.Saturation / d.Thermal
	return diodeLaw{is: d.Saturation, scale: d.Thermal / d.Ohms, perThermal: 1 / d.Thermal, perOhm: 1 / d.Ohms, shift: x + math.Log(x), leak: d.Leak}
}

// drop is the terminal volts at a forward current, leak left out.
func (d *diodeLaw) drop(amps float64) float64 {
	return math.Log1p(amps/d.is)/d.perThermal + amps/d.perOhm
}

// Amps is the current at the terminal volts v [A].
func (d DiodeLaw) Amps(v float64) float64 {
	l := d.compile()
	i, _ := l.amps(v)
	return i
}

// Drop is the terminal volts at a forward current above 0, leak left out [V].
func (d DiodeLaw) Drop(amps float64) float64 {
	l := d.compile()
	return l.drop(amps)
}

// knee is the volts within which a constant current fades to nothing, so that
// a dead output has an answer [V].
const knee = 0.05

// amps is a sink's current at v and its derivative, equation (V8).
func (s *Sink) amps(v float64) (i, di float64) {
	if s.Volts == 0 {
		t := math.Tanh(v / knee)
		return s.Amps * t, s.Amps * (1 - t*t) / knee
	}
	// A smooth corner between A v'/V and A, v' = v − dropout: the softened
	// least of two lines, over a knee's width; then a foot at 0 alike.
	u := v - s.Dropout
	foot, dfoot := soft(u)
	over, dover := soft(foot - s.Volts)
	i = s.Amps * (foot - over) / s.Volts
	return i, s.Amps * dfoot * (1 - dover) / s.Volts
}

// soft is max(u, 0) with its corner rounded over a knee's width, and its derivative.
func soft(u float64) (y, dy float64) {
	r := math.Sqrt(u*u + knee*knee)
	return (u + r) / 2, (1 + u/r) / 2
}

// A filament at r of its hot resistance keeps its heat in its own mass and
// sheds power by a law whose balance is the lamp law of package protect.
const (
	coldShare = 1.0 / 16                 // ρ_c, see package protect [1]
	lampGamma = 0.45 / (1 - coldShare)   // γ, see package protect [1]
	warmUp    = 0.1                      // heat to warm a filament from cold over its rated power [s]; common practice, no source
	lampRate  = (1 - coldShare) / warmUp // of r per unit of net power [1/s]
	lampPower = 2 / lampGamma            // exponent of the shed power
	lampScale = 1 / (1 - coldShare)      // of r − ρ_c
)

// shed is the filament's shed power over its rated power, and its derivative: equation (V7).
func shed(r float64) (p, dp float64) {
	s := (r - coldShare) * lampScale
	if s <= 0 {
		// Below cold there is nothing to shed; a steep line brings it back.
		return s, lampScale
	}
	q := math.Pow(s, lampPower)
	return q / r, q * (lampPower*lampScale/s - 1/r) / r
}
