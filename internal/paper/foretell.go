package paper

import (
	"yokemate"
	"yokemate/internal/figure"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

// Foretell predicts a hookup, rectified or not. A rectified output's volts and
// amps are the mean ones of its heavier rail, what DC meters show; its rails
// come second.
func Foretell(f *network.Facts, h *yokemate.Hookup, at yokemate.MainsLevel, o predict.Options) (*yokemate.Prediction, []yokemate.RailState, error) {
	if !supply.IsDC(h) {
		p, err := predict.Hookup(f, h, at, o)
		return p, nil, err
	}
	s, err := supply.Predict(f, h, at, o)
	if err != nil {
		return nil, nil, err
	}
	p := Rectified(s)
	return &p, s.Rails, nil
}

// Rectified is a prediction with the mean volts and amps of its rectified
// outputs in the place of the rms before the diodes.
func Rectified(s *yokemate.SupplyPrediction) yokemate.Prediction {
	p := s.Prediction
	p.Outputs = nil
	for _, o := range s.Outputs {
		if o.DC != nil {
			k := o.DC.Mean / o.Volts
			o.Volts, o.Low, o.High, o.Amps = o.DC.Mean, k*o.Low, k*o.High, 0
			for _, r := range s.Rails {
				if r.Output == o.Name {
					o.Amps = max(o.Amps, r.Amps)
				}
			}
		}
		p.Outputs = append(p.Outputs, o.OutputState)
	}
	return p
}

// loads are the points of the curve, as parts of the hookup's own load.
var loads = [...]float64{0, 0.25, 0.5, 0.75, 1, 1.25, 1.5}

// Curve works the first output's volts out against its load, each point a
// prediction of its own. It has no points for a rectified hookup, and for one
// that draws nothing.
func Curve(f *network.Facts, h *yokemate.Hookup) (figure.LoadCurves, error) {
	if len(h.Outputs) == 0 || supply.IsDC(h) || h.Outputs[0].Load == nil {
		return figure.LoadCurves{}, nil
	}
	c := figure.LoadCurves{Output: h.Outputs[0].Name}
	own, err := predict.Hookup(f, h, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return c, err
	}
	amps := own.Outputs[0].Amps
	if !(amps > 0) {
		return c, nil
	}
	c.WantedAmps = amps
	for _, x := range []struct {
		level yokemate.MainsLevel
		to    *[]figure.LoadPoint
	}{{yokemate.Low, &c.LowMains}, {yokemate.Nominal, &c.Nominal}, {yokemate.High, &c.HighMains}} {
		for _, part := range loads {
			state := h.Clone()
			load := *h.Outputs[0].Load
			load.Ohms, load.Henries, load.Amps = 0, 0, part*amps
			state.Outputs[0].Load = &load
			if part == 0 {
				state.Outputs[0].Load = nil
			}
			q, err := predict.Hookup(f, state, x.level, predict.Options{Brief: true})
			if err != nil {
				if yokemate.ErrorCode(err) == yokemate.Internal {
					return c, err
				}
				break // it cannot give this much: the curve ends here
			}
			o := q.Outputs[0]
			*x.to = append(*x.to, figure.LoadPoint{Amps: o.Amps, Volts: o.Volts, Low: o.Low, High: o.High})
		}
	}
	return c, nil
}
