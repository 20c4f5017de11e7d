package cli

import (
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/sheet"
	"yokemate/phys/network"
	"yokemate/si"
	"yokemate/supply"
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
	b, err := a.bench()
	if err != nil {
		return err
	}
	u, s, err := a.unit(b, c.Tag)
	if err != nil {
		return err
	}
	l := &sheet.UnitLabel{Options: c.options(), Unit: u, DoNot: c.DoNot, Who: c.Who, Date: lastRead(u)}
	if c.Rise != "" {
		if l.RiseK, err = si.Parse(c.Rise, "K"); err != nil {
			return refused("--rise", err)
		}
		if !(l.RiseK > 0 && l.RiseK <= 300) {
			return yokemate.Errorf(yokemate.Invalid, "--rise", "%s is no rise of a winding", si.Format(l.RiseK, "K", 3)).Mend("write the kelvins over the air around it, as 41")
		}
	}
	if err := unitLimits(l, s); err != nil {
		return err
	}
	return c.write(a, []draw.Scene{l.Scene()}, "label of unit "+u.Tag)
}

// lastRead is when the unit was last measured; zero when nothing says so.
func lastRead(u *yokemate.Unit) time.Time {
	var t time.Time
	for _, r := range u.Readings {
		if r.At.After(t) {
			t = r.At
		}
	}
	return t
}

// unitLimits puts the fuse and the DC amps on a unit's label, as the unit by
// itself at its label's mains may be asked for. Where its facts do not reach
// for that, the label has blanks.
func unitLimits(l *sheet.UnitLabel, s *yokemate.Shelf) error {
	u := l.Unit
	if u.Mains == nil || u.Quarantined() || u.CoreJoined() != "" {
		return nil
	}
	h := alone(u)
	if h == nil {
		return nil
	}
	if err := h.Check(s); err != nil {
		return nil
	}
	card, err := supply.Limits(network.Compile(s.Only(h)), h, supply.CardOptions{})
	if err != nil {
		if e, ours := err.(*yokemate.Error); ours && e.Code != yokemate.Internal {
			return nil
		}
		return err
	}
	if card.PrimaryFuse > 0 {
		l.Fuse = card.FuseKind + " " + si.Format(card.PrimaryFuse, "A", 2)
	}
	l.DCAmps = map[string]float64{}
	for _, o := range card.Outputs {
		l.DCAmps[o.Name] = o.BridgeAmps
	}
	return nil
}

// alone is the unit by itself at the mains of its label, each other winding of
// known amps an output of its own; nil where there is nothing to ask of it.
func alone(u *yokemate.Unit) *yokemate.Hookup {
	joint := map[string]string{} // of a pin
	last := "L"
	for i, id := range u.Mains.Series {
		w := u.Winding(id)
		if w == nil {
			return nil
		}
		next := "M" + itoa(i+1)
		if i+1 == len(u.Mains.Series) {
			next = "N"
		}
		for k, name := range []string{last, next} {
			if old := joint[w.Pins[k]]; old != "" && old != name {
				return nil
			}
			joint[w.Pins[k]] = name
		}
		last = next
	}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: u.Tag, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(u.Mains.Volts), Hertz: u.Mains.Hertz, Live: "L", Neutral: "N"}}}
	pins := map[string][]string{}
	var names []string
	for _, pin := range append(u.Pins(), yokemate.CorePin) {
		name := joint[pin]
		switch {
		case pin == yokemate.CorePin:
			name = "E"
		case name == "":
			name = "p" + pin
			joint[pin] = name
		}
		if pins[name] == nil {
			names = append(names, name)
		}
		pins[name] = append(pins[name], u.Tag+"."+pin)
	}
	for _, n := range names {
		h.Joints = append(h.Joints, yokemate.Joint{Name: n, Pins: pins[n]})
	}
	for i := range u.Windings {
		if w := &u.Windings[i]; !u.MainsSide(w.ID) && w.Amps.Known() {
			h.Outputs = append(h.Outputs, yokemate.Output{Name: w.ID, From: joint[w.Pins[0]], To: joint[w.Pins[1]]})
		}
	}
	if len(h.Outputs) == 0 {
		return nil
	}
	return h
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
	l := &sheet.Supply{Options: c.options(), Hookup: x.hookup, Prediction: x.prediction, Proof: x.proof, For: c.For, NotFor: c.NotFor,
		MaxAmps: x.maxAmps(), Limits: x.facts(true), Date: x.date, Who: c.Who}
	name := strings.TrimSpace("label of supply " + x.hookup.Name)
	return c.write(a, []draw.Scene{l.Scene()}, name, c.inputs()...)
}
