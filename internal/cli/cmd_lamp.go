package cli

import (
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/prove"
	"yokemate/supply"
)

type lampCmd struct {
	Unit string `arg:"" help:"The unit's tag."`
}

// Run says which lamp to put in series with a unit for its first power, and
// what the glow tells. Where none tells, so is the answer.
func (c *lampCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	r, err := supply.FirstPower(network.Compile(s), c.Unit)
	if err != nil {
		return err
	}
	if a.AsJSON {
		err = a.JSON(r)
	} else {
		var w say.Words
		a.Para("", w.FirstLamp(r))
		a.notes(r.Notes)
		for _, t := range w.Lamps(r) {
			a.Print("\n%s\n", t.Caption)
			a.results(t)
		}
		a.cautions(prove.Cautions())
	}
	if err == nil && r.LampWatts == 0 {
		return ErrNo
	}
	return err
}
