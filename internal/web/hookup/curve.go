package hookup

import (
	"html/template"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/paper"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
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
	return p.loads.Get(key, func() (figure.LoadCurves, error) { return paper.Curve(f, h) })
}
