package cli

import (
	"strings"

	"yokemate/internal/draw"
	"yokemate/internal/paper"
)

type labelCmd struct {
	Unit   labelUnitCmd   `cmd:"" help:"A unit's label, 60 by 40 mm."`
	Supply labelSupplyCmd `cmd:"" help:"A finished supply's label, 90 by 60 mm."`
}

type labelUnitCmd struct {
	Tag string `arg:"" help:"The unit."`
	look
	Rise  string `placeholder:"KELVIN" help:"The rise that a heat run found; a blank to fill in if not given."`
	DoNot string `placeholder:"WORDS" help:"The line of warning in place of the one that follows from the facts."`
	pageFlags
}

// Run sets the label of a unit.
func (c *labelUnitCmd) Run(a *App) error {
	if err := c.pageFlags.check(); err != nil {
		return err
	}
	_, u, s, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	l, err := paper.Unit(c.say(c.options()), u, s, c.Who)
	if err != nil {
		return err
	}
	l.DoNot = c.DoNot
	if l.RiseK, err = paper.Rise("--rise", c.Rise); err != nil {
		return err
	}
	return c.write(a, []draw.Scene{l.Scene()}, "label of unit "+u.Tag)
}

type labelSupplyCmd struct {
	paperFrom
	look
	For    string `placeholder:"WORDS" help:"What it is for, in plain words: \"for lights\"."`
	NotFor string `placeholder:"WORDS" help:"What it is not for: \"not for charging batteries\"."`
	pageFlags
}

// Run sets the label of a finished supply.
func (c *labelSupplyCmd) Run(a *App) error {
	if err := c.pageFlags.check(); err != nil {
		return err
	}
	x, err := c.gather(a)
	if err != nil {
		return err
	}
	name := strings.TrimSpace("label of supply " + x.Hookup.Name)
	return c.write(a, []draw.Scene{x.Label(c.say(c.options()), c.For, c.NotFor, c.Who)}, name, c.inputs()...)
}
