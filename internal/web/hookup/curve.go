package hookup

import (
	"html/template"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

// curve draws the first output's volts against its load, each point a
// prediction of its own. There is none of a hookup that must not be powered, of
// a rectified one, and of one that draws nothing.
func (p *pages) curve(f *network.Facts, s *yokemate.Shelf, h *yokemate.Hookup, worst string) (template.HTML, error) {
	if worst == "stop" {
		return "", nil
	}
	c, err := p.points(f, s, h)
	if err != nil || len(c.Nominal) == 0 {
		return "", err
	}
	scene, err := figure.Load(c, figure.Options{})
	if err != nil {
		return "", err
	}
	return kit.Drawing(scene, svg.InlineOptions{Prefix: "c-"})
}

// points are the curve's, from memory where they can be.
func (p *pages) points(f *network.Facts, s *yokemate.Shelf, h *yokemate.Hookup) (figure.LoadCurves, error) {
	if len(h.Outputs) == 0 || supply.IsDC(h) || h.Outputs[0].Load == nil {
		return figure.LoadCurves{}, nil
	}
	key, err := kit.Key(h, s)
	if err != nil {
		return figure.LoadCurves{}, err
	}
	return p.loads.Get(key, func() (figure.LoadCurves, error) { return curves(f, h) })
}

func curves(f *network.Facts, h *yokemate.Hookup) (figure.LoadCurves, error) {
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
	for level, to := range map[yokemate.MainsLevel]*[]figure.LoadPoint{yokemate.Low: &c.LowMains, yokemate.Nominal: &c.Nominal, yokemate.High: &c.HighMains} {
		for _, part := range loads {
			state := h.Clone()
			load := *h.Outputs[0].Load
			load.Ohms, load.Henries, load.Amps = 0, 0, part*amps
			state.Outputs[0].Load = &load
			if part == 0 {
				state.Outputs[0].Load = nil
			}
			q, err := predict.Hookup(f, state, level, predict.Options{Brief: true})
			if err != nil {
				if yokemate.ErrorCode(err) == yokemate.Internal {
					return c, err
				}
				break // it cannot give this much: the curve ends here
			}
			o := q.Outputs[0]
			*to = append(*to, figure.LoadPoint{Amps: o.Amps, Volts: o.Volts, Low: o.Low, High: o.High})
		}
	}
	return c, nil
}
