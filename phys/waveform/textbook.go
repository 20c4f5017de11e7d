package waveform

import (
	"math"

	"yokemate"
)

// Figures are what rectifier curves are drawn in.
type Figures struct {
	Volts  float64 // mean DC volts over the source's peak [1]
	Ripple float64 // rms ripple over the mean [1]
	RMS    float64 // rms over mean current of a diode [1]
	Peak   float64 // peak over mean current of a diode [1]
}

// Rectifier solves an ideal rectifier, "half" or "bridge", on a sine behind a
// resistance, with a capacitor across its resistor: q is source over load
// resistance, wcr is ωCR. It goes through the same solver as a hookup.
func Rectifier(kind string, q, wcr float64) (Figures, error) {
	const volts, load, hertz = 10, 1, 50
	if !(q > 0) || !(wcr > 0) {
		return Figures{}, yokemate.Errorf(yokemate.Invalid, "rectifier", "a source resistance of %g and an ωCR of %g are not both above 0", q, wcr)
	}
	law := Ideal(volts, load) // its leak and its own ohms are a millionth beside the load
	c := &Circuit{
		Hertz: hertz, Nodes: 2,
		Feeds:      []Feed{{Node: 0, Volts: volts, Ohms: q * load}},
		Diodes:     []Diode{{0, 1, law}},
		Capacitors: []Capacitor{{1, Ground, wcr / (2 * math.Pi * hertz * load)}},
		Branches:   []Branch{{1, Ground, load, 0}},
	}
	last := Ground
	switch kind {
	case "half":
	case "bridge":
		c.Nodes, last = 3, 2
		c.Diodes = append(c.Diodes, Diode{Ground, 1, law}, Diode{2, 0, law}, Diode{2, Ground, law})
		c.Capacitors[0].To, c.Branches[0].To = last, last
	default:
		return Figures{}, yokemate.Errorf(yokemate.Invalid, "rectifier", "%q is neither half nor bridge", kind)
	}
	s, err := Compile(c)
	if err != nil {
		return Figures{}, err
	}
	w, _, _, err := s.Periodic(nil, Options{Samples: 4096, Probes: []Probe{s.Volts(1, last), s.DiodeAmps(0)}})
	if err != nil {
		return Figures{}, err
	}
	v, i := &w.Traces[0], &w.Traces[1]
	return Figures{
		Volts:  v.Mean / (volts * math.Sqrt2),
		Ripple: math.Sqrt(v.RMS*v.RMS-v.Mean*v.Mean) / v.Mean,
		RMS:    i.RMS / i.Mean,
		Peak:   i.Peak() / i.Mean,
	}, nil
}

// EndlessCapacitor is the same in closed form for a capacitor without end, n = 1
// for half wave, 2 for full wave: tan θ − θ = (π/n) q, with θ half the angle of
// conduction, and the moments of the cap of a sine.
func EndlessCapacitor(n, q float64) Figures {
	lo, hi := 0.0, math.Pi/2
	for range 100 {
		if mid := (lo + hi) / 2; math.Tan(mid)-mid < math.Pi/n*q {
			lo = mid
		} else {
			hi = mid
		}
	}
	sin, cos := math.Sincos(lo)
	mean := (sin - lo*cos) / math.Pi
	square := (lo*(1+2*cos*cos) - 3*sin*cos) / (2 * math.Pi)
	return Figures{Volts: cos, RMS: math.Sqrt(square) / mean, Peak: (1 - cos) / mean}
}
