package cli

import (
	"yokemate"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/match"
	"yokemate/phys/network"
	"yokemate/prove"
	"yokemate/si"
)

type matchCmd struct {
	What        []string `arg:"" name:"unit" help:"Units, such as T1 T2, or windings, such as T1/A T2/A; one unit alone for the windings of one core."`
	Volts       string   `placeholder:"V" help:"Mains volts; those of the units' labels if not given."`
	Hertz       string   `placeholder:"HZ" help:"Mains frequency; that of the labels if not given."`
	PowerFactor float64  `default:"1" placeholder:"X" help:"Of the load, lagging."`
	Meter       string   `placeholder:"NAME" help:"The meter that will read the gap; the shelf's first if not given."`
}

// Run weighs windings that are to share a load. When every pair is a stop, so
// is the answer.
func (c *matchCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	opt := match.Options{PowerFactor: c.PowerFactor}
	if opt.Meter, err = paper.Meter(s, c.Meter); err != nil {
		return err
	}
	if opt.Feed, err = c.feed(); err != nil {
		return err
	}
	if !(c.PowerFactor > 0 && c.PowerFactor <= 1) {
		return yokemate.Errorf(yokemate.Invalid, "--power-factor", "a power factor lies above 0 and is at most 1").Mend("leave it out for a plain resistance")
	}
	m, err := match.Match(network.Compile(s), c.What, opt)
	if err != nil {
		return err
	}
	if a.AsJSON {
		err = a.JSON(m)
	} else {
		a.matches(m)
	}
	if err != nil {
		return err
	}
	for _, p := range m.Pairs {
		if p.Verdict != yokemate.Stop {
			return nil
		}
	}
	return ErrNo
}

// feed is the mains that the flags ask for, or nil.
func (c *matchCmd) feed() (*yokemate.Feed, error) {
	if c.Volts == "" && c.Hertz == "" {
		return nil, nil
	}
	if c.Volts == "" || c.Hertz == "" {
		return nil, yokemate.Errorf(yokemate.Invalid, "command line", "--volts and --hertz go together").Mend("give both, as in --volts 230 --hertz 50")
	}
	v, err := volts.fact("--volts", c.Volts)
	if err != nil {
		return nil, err
	}
	f, err := hertz.number("--hertz", c.Hertz)
	if err != nil {
		return nil, err
	}
	if !(v.V > 0) || !(f > 0) || f > 1000 {
		return nil, yokemate.Errorf(yokemate.Invalid, "command line", "--volts or --hertz is out of range").Mend("give the mains, as in --volts 230 --hertz 50")
	}
	return &yokemate.Feed{Volts: v, Hertz: f}, nil
}

// matches prints pairs for a person.
func (a *App) matches(m *yokemate.Matches) {
	for i := range m.Pairs {
		p := &m.Pairs[i]
		if i > 0 {
			a.Print("\n")
		}
		a.Print("%s with %s\n", p.A, p.B)
		a.Para(label(say.Words{}.Level(p.Verdict)), p.DecidedBy)
		t := &Table{Heads: []string{"", ">", "95 % within", ""}, Bare: true}
		share := func(x float64) string { return si.Format(x, "%", 2) }
		t.Row("gap, like ends joined", si.Format(p.GapVolts, "V", 3), say.Words{}.Within(p.Low, p.High, "V"), share(p.Mismatch)+" of the volts")
		t.Row("circulating, no load", si.Format(p.CirculatingAmps, "A", 3), say.Words{}.Within(p.CirculatingLow, p.CirculatingHigh, "A"), share(p.CirculatingPart)+" of the smaller rating")
		if p.MaxAmps > 0 {
			t.Row("most load", si.Format(p.MaxAmps, "A", 3), "", share(p.MaxAmps/p.RatedAmps)+" of both ratings together, "+si.Format(p.RatedAmps, "A", 3))
			t.Row("shared as", share(p.Share[0]), "", "by "+p.A)
			t.Row("", share(p.Share[1]), "", "by "+p.B)
		}
		a.Table(t)
		if len(p.Mend) > 0 {
			a.Print("What would better it\n")
			for _, w := range p.Mend {
				a.Para("  - ", w)
			}
		}
		a.notes(p.Notes)
	}
	a.notes(m.Notes)
	a.cautions(prove.Cautions())
}
