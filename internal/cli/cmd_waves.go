package cli

import (
	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/switching"
)

type wavesCmd struct {
	Hookup string   `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Of     []string `sep:"none" placeholder:"WAVE" help:"A wave to look at, as \"amps feed\", \"amps F1/P\", \"volts lights\", \"volts A to B\" or \"flux F1\"; may be given again. All if not given."`
	Mains  string   `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts: low, nominal or high."`
}

// Run says what the steady waves of a hookup amount to.
func (c *wavesCmd) Run(a *App) error {
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	r, err := switching.Steady(network.Compile(s.Only(h)), h, switching.WaveOptions{Mains: yokemate.MainsLevel(c.Mains), Of: c.Of})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(r)
	}
	var w say.Words
	a.Print("%s\n", say.Sentence(w.Mains(h, r.Mains)))
	a.notes(r.Notes)
	for _, t := range w.WaveTables(r) {
		a.results(t)
	}
	return nil
}
