package cli

import (
	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/prove"
	"yokemate/switching"
)

type switchonCmd struct {
	Hookup    string   `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Degrees   *float64 `placeholder:"DEGREES" help:"Where on the wave: 0 is its rise through zero, 90 its peak. If not given, the worst is looked for."`
	Remanence *float64 `placeholder:"PART" help:"Flux left in the cores, from -1 to 1 of the rated peak; 0.6 if not given, of the worse sign where the point is looked for."`
	Mains     string   `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts: low, nominal or high."`
}

// Run says what a hookup draws when it is switched on.
func (c *switchonCmd) Run(a *App) error {
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	r, err := switching.On(network.Compile(s.Only(h)), h, switching.OnOptions{Mains: yokemate.MainsLevel(c.Mains), Degrees: c.Degrees, Remanence: c.Remanence})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(r)
	}
	var w say.Words
	a.Para("", w.SwitchOn(h, r))
	for _, t := range w.SwitchOnTables(r) {
		a.results(t)
	}
	if len(r.Fuses) > 0 {
		a.Print("\nWhat the fuses make of it\n")
	}
	for _, u := range r.Fuses {
		a.Para("  - ", u.Fuse+": "+u.Why)
	}
	a.cautions(prove.Cautions())
	return nil
}
