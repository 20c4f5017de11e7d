package cli

import (
	"strconv"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

type limitsCmd struct {
	Hookup  string  `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Ambient float64 `default:"40" placeholder:"CELSIUS" help:"The hottest air around it."`
	Box     float64 `default:"1" placeholder:"X" help:"How much worse its box carries heat away than open air; 1.5 for a small closed one."`
	Duty    float64 `default:"0.25" placeholder:"PART" help:"Part of the time for the current that is not for ever."`
}

// Run prints what a hookup may be asked for.
func (c *limitsCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	h, err := a.Hookup(c.Hookup, s)
	if err != nil {
		return err
	}
	switch {
	case !(c.Duty > 0 && c.Duty <= 1):
		return yokemate.Errorf(yokemate.Invalid, "--duty", "a part of the time lies above 0 and is at most 1").Mend("write 0.25 for a quarter")
	case !(c.Box >= 1 && c.Box <= 10):
		return yokemate.Errorf(yokemate.Invalid, "--box", "a box carries heat away 1 to 10 times worse than open air").Mend("write 1.5 for a small closed one")
	case !(c.Ambient >= -40 && c.Ambient <= 80):
		return yokemate.Errorf(yokemate.Invalid, "--ambient", "%g °C is no air to work in", c.Ambient).Mend("write 40 for a hot day indoors")
	}
	card, err := supply.Limits(network.Compile(s.Only(h)), h, supply.CardOptions{Heat: thermal.Options{AmbientC: c.Ambient, Box: c.Box}, Duty: c.Duty})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(card)
	}
	t := &Table{Heads: []string{"output", ">for ever", "limited by", ">a part of the time", ">DC by a bridge", ">no load", ">low mains", ">high mains"}}
	for _, o := range card.Outputs {
		bridge := ""
		if o.BridgeAmps > 0 {
			bridge = si.Format(o.BridgeAmps, "A", 3)
		}
		t.Row(o.Name, si.Format(o.Amps, "A", 3), o.LimitedBy, si.Format(o.DutyAmps, "A", 3)+" for "+strconv.FormatFloat(100*o.Duty, 'f', 0, 64)+" %", bridge,
			si.Format(o.NoLoad, "V", 3), si.Format(o.AtLow, "V", 3), si.Format(o.AtHigh, "V", 3))
	}
	a.Table(t)
	a.Print("\nEach output by itself, in air of %g °C. With its own loads it rests within its class up to %.0f °C.\n", card.AmbientC, card.HighestC)
	if card.Estimated {
		a.Print("A rating that decides is an estimate: a heat run settles it.\n")
	}
	if card.PrimaryFuse > 0 {
		a.Print("Fuse: %s %g A in the live wire.\n", card.FuseKind, card.PrimaryFuse)
	}
	for _, w := range card.FuseWhy {
		a.Para("  - ", w)
	}
	for _, o := range card.Outputs {
		if o.Fuse != nil {
			a.outputFuse("Fuse of "+o.Name, o.Fuse)
		}
	}
	a.cautions(prove.Cautions())
	return nil
}

// outputFuse prints the fuse between a winding and what it feeds, and why.
func (a *App) outputFuse(head string, x *yokemate.OutputFuse) {
	switch {
	case x.Amps == 0:
		a.Print("%s: none serves.\n", head)
	case x.Count > 1:
		a.Print("%s: %d of %s %g A, in the leads of %s.\n", head, x.Count, x.Kind, x.Amps, x.Lead)
	default:
		a.Print("%s: %s %g A in the lead of %s.\n", head, x.Kind, x.Amps, x.Lead)
	}
	for _, w := range x.Why {
		a.Para("  - ", w)
	}
}
