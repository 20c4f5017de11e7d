package waveform

import (
	"math"
	"math/cmplx"
	"slices"
)

// Inrush is one switch-on.
type Inrush struct {
	Degrees   float64   // point on the wave, from the first feed's rise through 0 [°]
	Sign      float64   // of the remanence, 1 or −1
	Remanence []float64 // flux left in each core [1]
	Peak      []float64 // greatest current of each feed [A]
	Square    []float64 // ∫ i² dt of each feed over the time followed [A²s]
	Wave      *Wave     // feed currents; nil but for the worst
	Report    Report
}

// inrushPeriods is how long a switch-on is followed when its let-through is
// weighed: past it a fuse sees rms currents, not a pulse.
const inrushPeriods = 5

// SwitchOn switches the hookup on at a point on the wave [°], its cores left
// with so much flux and its reservoirs empty, and follows it for so many periods.
func (x *Hookup) SwitchOn(degrees float64, remanence []float64, periods float64, opt Options) (*Wave, []float64, Report, error) {
	s := x.Rest()
	copy(s, remanence)
	return x.Run(s, degrees, periods, opt)
}

// Remanence is the flux that each core is left with when all of them keep a
// part of their rated peak [1], for [Hookup.SwitchOn]. It is positive in the direction in which
// the half wave of the first feed that rises through 0° drives the core, so
// that it adds to what a switch-on there asks for. A core without volts has none.
func (x *Hookup) Remanence(part float64) ([]float64, error) {
	flux := make([]float64, len(x.Circuit.Cores))
	if len(x.Parts.Feeds) == 0 {
		return flux, nil
	}
	sol, err := x.AC.Solve(x.FeedVolts)
	if err != nil {
		return nil, err
	}
	first := cmplx.Rect(1, x.Parts.Feeds[0].Degrees*math.Pi/180)
	for k := range flux {
		switch e := real(sol.Value(x.AC.Induced(k)) * cmplx.Conj(first)); {
		case e > 0:
			flux[k] = part / x.Parts.Cores[k].PerFlux
		case e < 0:
			flux[k] = -part / x.Parts.Cores[k].PerFlux
		}
	}
	return flux, nil
}

// WorstInrush tries points on the wave, and a remanence of either sign, a part
// of each core's rated peak flux [1], and returns the switch-on with the
// greatest current of any feed and the one with the greatest ∫ i² dt.
func (x *Hookup) WorstInrush(remanence float64) (peak, square *Inrush, err error) {
	left, err := x.Remanence(remanence)
	if err != nil {
		return nil, nil, err
	}
	probes := make([]Probe, len(x.Circuit.Feeds))
	for i := range probes {
		probes[i] = x.FeedAmps(i)
	}
	try := func(degrees, sign float64, opt Options) (*Inrush, error) {
		r := &Inrush{Degrees: degrees, Sign: sign}
		for _, v := range left {
			r.Remanence = append(r.Remanence, sign*v)
		}
		var w *Wave
		opt.Probes = probes
		w, _, r.Report, err = x.SwitchOn(degrees, r.Remanence, inrushPeriods, opt)
		if err != nil {
			return nil, err
		}
		for i := range w.Traces {
			r.Peak = append(r.Peak, w.Traces[i].Peak())
			r.Square = append(r.Square, w.Traces[i].Square)
		}
		r.Wave = w
		return r, nil
	}
	signs := []float64{1, -1}
	if remanence == 0 {
		signs = signs[:1]
	}
	weigh := func(degrees ...float64) error {
		for _, d := range degrees {
			for _, sign := range signs {
				// A hundredth is enough to pick the worst.
				r, err := try(d, sign, Options{Tolerance: 1e-4})
				if err != nil {
					return err
				}
				if peak == nil || slices.Max(r.Peak) > slices.Max(peak.Peak) {
					peak = r
				}
				if square == nil || slices.Max(r.Square) > slices.Max(square.Square) {
					square = r
				}
			}
		}
		return nil
	}
	if err := weigh(0, 30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 330); err != nil {
		return nil, nil, err
	}
	a, b := peak.Degrees, square.Degrees
	near := []float64{a - 15, a + 15}
	if b != a {
		near = append(near, b-15, b+15)
	}
	if err := weigh(near...); err != nil {
		return nil, nil, err
	}
	again := func(r *Inrush) (*Inrush, error) { return try(r.Degrees, r.Sign, Options{Samples: 256}) }
	if peak, err = again(peak); err != nil {
		return nil, nil, err
	}
	if square, err = again(square); err != nil {
		return nil, nil, err
	}
	return peak, square, nil
}

// PeakFlux is the greatest flux that switch-on can ask of a core with no
// resistance before it: twice the steady peak and what was left, in the units
// of that peak (textbook form, from memory).
func PeakFlux(steady, left float64) float64 { return 2*steady + math.Abs(left) }
