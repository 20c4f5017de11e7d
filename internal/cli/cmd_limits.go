package cli

import (
	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/prove"
	"yokemate/supply"
)

type limitsCmd struct {
	Hookup string `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	airFlags
	Duty float64 `default:"0.25" placeholder:"PART" help:"Part of the time for the current that is not for ever."`
}

// Run prints what a hookup may be asked for.
func (c *limitsCmd) Run(a *App) error {
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	if !(c.Duty > 0 && c.Duty <= 1) {
		return yokemate.Errorf(yokemate.Invalid, "--duty", "a part of the time lies above 0 and is at most 1").Mend("write 0.25 for a quarter")
	}
	if err := c.check(); err != nil {
		return err
	}
	card, err := supply.Limits(network.Compile(s.Only(h)), h, supply.CardOptions{Heat: thermal.Options{AmbientC: c.Ambient, Box: c.Box}, Duty: c.Duty})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(card)
	}
	var w say.Words
	a.results(w.Limits(card))
	a.Print("\n")
	for _, x := range w.LimitFacts(card) {
		a.Para("", say.Title(x.Name)+": "+x.Value+".")
	}
	if together := w.Together(card); together != "" {
		a.Para("", together)
	}
	if card.Estimated {
		a.Para("", w.EstimatedRating())
	}
	a.Print("\nWhy these fuses\n")
	for _, why := range say.FuseWhy(card) {
		a.Para("  - ", why)
	}
	a.cardFaults(card.Faults, card.ThermalLinks)
	a.cautions(prove.Cautions())
	return nil
}

// cardFaults prints what the fuses do on each fault, and what to fit where they do not.
func (a *App) cardFaults(list []yokemate.CardFault, links []yokemate.ThermalLink) {
	if len(list) > 0 {
		a.Print("\nWhat the fuses do, at the lowest mains\n")
		a.results(say.Words{}.Faults(list))
	}
	for _, why := range say.ThermalLinks(links) {
		a.Para("  - ", why)
	}
}

// airFlags say where it is to work.
type airFlags struct {
	Ambient float64 `default:"40" placeholder:"CELSIUS" help:"The hottest air around it, for the limits."`
	Box     float64 `default:"1" placeholder:"X" help:"How much worse its box carries heat away than open air; 1.5 for a small closed one."`
}

func (c *airFlags) check() error {
	switch {
	case !(c.Box >= 1 && c.Box <= 10):
		return yokemate.Errorf(yokemate.Invalid, "--box", "a box carries heat away 1 to 10 times worse than open air").Mend("write 1.5 for a small closed one")
	case !(c.Ambient >= -40 && c.Ambient <= 80):
		return yokemate.Errorf(yokemate.Invalid, "--ambient", "%g °C is no air to work in", c.Ambient).Mend("write 40 for a hot day indoors")
	}
	return nil
}
