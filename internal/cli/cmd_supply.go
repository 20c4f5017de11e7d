package cli

import (
	"strconv"

	"yokemate"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

type supplyCmd struct {
	Hookup    string `placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Need      string `placeholder:"FILE" help:"A need for dc, file or stored name: work a supply out for it. Without it, predict the hookup's dc outputs."`
	From      string `placeholder:"JOINT" help:"Where the rectifier goes; the hookup's output if not given."`
	To        string `placeholder:"JOINT" help:"Its other joint."`
	Middle    string `placeholder:"JOINT" help:"The joint of the tap, for a centre tap or two rails."`
	Rectifier string `placeholder:"KIND" help:"bridge, half, centre-tap or doubler; a bridge if not given."`
	Mains     string `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts of a prediction: low, nominal or high."`
}

// Run predicts or works out a DC supply.
func (c *supplyCmd) Run(a *App) error {
	if c.Hookup == "" {
		err := yokemate.Errorf(yokemate.Invalid, "command line", "no hookup is named, and a supply is worked out on one")
		if c.Need == "" {
			return err.Mend("add --hookup FILE; \"yokemate find\" offers hookups for a need")
		}
		return err.Mend("take one with: yokemate find --need %s --offer 1 -o offer.json%s; then add --hookup offer.json", quoted(c.Need), a.where())
	}
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	facts := network.Compile(s.Only(h))
	if c.Need == "" {
		if !supply.IsDC(h) {
			return inFile(c.Hookup, yokemate.Errorf(yokemate.Invalid, "outputs", "no output of the hookup is rectified").Mend("give an output its \"dc\", or a need with --need"))
		}
		p, err := supply.Predict(facts, h, yokemate.MainsLevel(c.Mains), predict.Options{})
		if err != nil {
			return inFile(c.Hookup, err)
		}
		if a.AsJSON {
			return a.JSON(p)
		}
		q := paper.Rectified(p)
		a.prediction(h, &q, p.Rails)
		return nil
	}
	n, err := a.Need(c.Need)
	if err != nil {
		return err
	}
	src, err := c.source(h)
	if err != nil {
		return inFile(c.Hookup, err)
	}
	d, err := supply.Design(facts, h, src, n, supply.Options{})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		err = a.JSON(d)
	} else {
		a.design(d)
	}
	if err != nil {
		return err
	}
	if !d.Meets {
		return ErrNo
	}
	return nil
}

// source is the AC output to rectify: by flags, else the hookup's only output.
func (c *supplyCmd) source(h *yokemate.Hookup) (supply.Source, error) {
	src := supply.Source{From: c.From, To: c.To, Middle: c.Middle, Rectifier: c.Rectifier}
	if src.From == "" && src.To == "" {
		if len(h.Outputs) != 1 {
			return src, yokemate.Errorf(yokemate.Invalid, "outputs", "the hookup has %d outputs", len(h.Outputs)).Mend("say which with --from and --to")
		}
		o := &h.Outputs[0]
		src.From, src.To, src.Name = o.From, o.To, o.Name
		if o.DC != nil {
			if src.Middle == "" {
				src.Middle = o.DC.Middle
			}
			if src.Rectifier == "" {
				src.Rectifier = o.DC.Rectifier
			}
		}
	}
	return src, nil
}

// design prints a supply that was worked out.
func (a *App) design(s *yokemate.Supply) {
	if s.Meets {
		a.Print("It meets the need. %s\n", say.Words{}.Standing(s.Notes))
	} else {
		a.Print("It does not meet the need.\n")
	}
	a.notes(s.Notes)
	t := &Table{Heads: []string{"rail", ">cold", ">hot copper", ">ripple", ">valley, low mains", ">no load, high mains"}}
	for i, r := range s.Rails {
		t.Row(strconv.Itoa(i+1), si.Format(r.Volts, "V", 3), si.Format(r.HotVolts, "V", 3), si.Format(r.Ripple, "V", 2), si.Format(r.Valley, "V", 3), si.Format(r.NoLoadPeak, "V", 3))
	}
	a.section(t)
	a.Print("\nThe unit gives %s DC a rail until %s is at its rating; the rule of thumb says %s.\n", si.Format(s.MaxAmps, "A", 3), s.LimitedBy, s.Rule)
	t = &Table{Heads: []string{">", "part", "why"}}
	for _, p := range s.Parts {
		t.Row(strconv.Itoa(p.Count), p.What, p.Why)
	}
	a.section(t)
	if s.PrimaryFuse > 0 {
		a.Print("\nFuse: %s %g A in the live wire.\n", s.FuseKind, s.PrimaryFuse)
	} else {
		a.Print("\nFuse in the live wire: none serves.\n")
	}
	for _, w := range s.FuseWhy {
		a.Para("  - ", w)
	}
	if s.Secondary != nil {
		a.Print("Fuse behind the winding: %s.\n", say.Words{}.OutputFuse(s.Secondary))
		for _, w := range s.Secondary.Why {
			a.Para("  - ", w)
		}
	}
	a.cardFaults(s.Faults, s.ThermalLinks)
	a.cautions(prove.Cautions())
}
