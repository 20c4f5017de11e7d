package cli

import (
	"slices"
	"strings"

	"yokemate"
)

type unitCmd struct {
	Show       unitShowCmd       `cmd:"" help:"Show all that is known of a unit."`
	Add        unitAddCmd        `cmd:"" help:"Put a new unit on the shelf, from flags or by questions."`
	Set        unitSetCmd        `cmd:"" help:"Change what is known of a unit."`
	Remove     unitRemoveCmd     `cmd:"" help:"Take a unit off the shelf; its readings stay in the log."`
	Quarantine unitQuarantineCmd `cmd:"" help:"Keep a unit out of every hookup, or let it back."`
}

// unitFlags are the facts of a unit as flags. Values are written as people
// write them; a word at the end (label, estimated, assumed, measured) is their
// basis.
type unitFlags struct {
	Origin       *string  `placeholder:"TEXT" help:"Where it came from."`
	Mains        string   `placeholder:"VALUE" help:"Volts of the label's mains side, as in \"230 V\"."`
	Hertz        string   `placeholder:"VALUE" help:"Hertz on the label; the lowest where it gives two."`
	Primary      string   `placeholder:"IDS" help:"Windings the label's volts stand on, in series: P or P1,P2."`
	VA           string   `name:"va" placeholder:"VALUE" help:"Rating on the label, as in \"6 VA\"."`
	ThermalClass *string  `placeholder:"CLASS" help:"Insulation class on the label, as in B."`
	TurnsPerVolt string   `placeholder:"VALUE" help:"From a test loop."`
	Core         *string  `placeholder:"KIND" help:"EI, UI, toroid or another word."`
	Limb         string   `placeholder:"VALUE" help:"Width of the middle limb, as in \"16 mm\"."`
	Stack        string   `placeholder:"VALUE" help:"Thickness of the stack."`
	Mass         string   `placeholder:"VALUE" help:"Mass of the whole unit, as in \"240 g\"."`
	Terminals    string   `placeholder:"PINS" help:"Every pin there is, as in 1,2,5,6, while the windings are not known."`
	Winding      []string `sep:"none" placeholder:"ID" help:"A winding; the next flags are about it."`
	Pins         []string `sep:"none" placeholder:"START,END" help:"  its pins, the start (dotted) end first."`
	Volts        []string `sep:"none" placeholder:"VALUE" help:"  its no-load volts."`
	Ohms         []string `sep:"none" placeholder:"VALUE" help:"  its ohms at 20 °C."`
	Amps         []string `sep:"none" placeholder:"VALUE" help:"  what it may carry."`
	Leakage      []string `sep:"none" placeholder:"VALUE" help:"  its own leakage inductance, as in \"0.4 mH\"."`
	Wire         []string `sep:"none" placeholder:"VALUE" help:"  bare diameter of its wire, as in \"0.2 mm\"."`
	Insulation   []string `sep:"none" placeholder:"A,B" help:"An insulation test between two windings, or a winding and core; the next flags are about it."`
	Megohms      []string `sep:"none" placeholder:"VALUE" help:"  what the tester read."`
	TestVolts    []string `sep:"none" placeholder:"VALUE" help:"  volts of the test."`
	TestSeconds  []string `sep:"none" placeholder:"VALUE" help:"  how long it stood."`
	Working      []string `sep:"none" placeholder:"VALUE" help:"  volts it may stand in use."`
	IdleVolts    string   `placeholder:"VALUE" help:"Volts at which the unit was read without load."`
	IdleHertz    string   `placeholder:"VALUE" help:"  their frequency; that of the label if not given."`
	IdleSeries   string   `placeholder:"IDS" help:"  windings they stood on; those of the label if not given."`
	IdleAmps     string   `placeholder:"VALUE" help:"  true-rms amps drawn."`
	IdleWatts    string   `placeholder:"VALUE" help:"  watts drawn."`
}

// apply puts the flags' facts into u, over what stands there.
func (f *unitFlags) apply(a *App, u *yokemate.Unit) error {
	for _, x := range []struct {
		text *string
		into *string
	}{{f.Origin, &u.Origin}, {f.ThermalClass, &u.ThermalClass}} {
		if x.text != nil {
			*x.into = *x.text
		}
	}
	if f.Core != nil || f.Limb != "" || f.Stack != "" || f.Mass != "" {
		var c yokemate.Core
		if u.Core != nil {
			c = *u.Core
		}
		u.Core = &c
		if f.Core != nil {
			c.Kind = *f.Core
		}
	}
	if err := facts([]given{
		{"--va", f.VA, voltAmperes, &u.VA},
		{"--turns-per-volt", f.TurnsPerVolt, plain, &u.TurnsPerVolt},
	}); err != nil {
		return err
	}
	if u.Core != nil {
		if err := facts([]given{
			{"--limb", f.Limb, millimetres, &u.Core.LimbMM},
			{"--stack", f.Stack, millimetres, &u.Core.StackMM},
			{"--mass", f.Mass, grams, &u.Core.MassG},
		}); err != nil {
			return err
		}
	}
	if f.Terminals != "" {
		u.Terminals = names(f.Terminals)
	}
	if err := f.windings(a, u); err != nil {
		return err
	}
	if err := f.mains(u); err != nil {
		return err
	}
	if err := f.idle(u); err != nil {
		return err
	}
	return f.insulation(a, u)
}

// given is one value from a flag and the fact it becomes.
type given struct {
	place string
	text  string
	scale scale
	into  *yokemate.Value
}

// facts reads each text that is there. The word "unknown" takes a fact away.
func facts(list []given) error {
	for _, g := range list {
		switch g.text {
		case "":
		case "unknown":
			*g.into = yokemate.Value{}
		default:
			v, err := g.scale.fact(g.place, g.text)
			if err != nil {
				return err
			}
			*g.into = v
		}
	}
	return nil
}

func (f *unitFlags) windings(a *App, u *yokemate.Unit) error {
	groups, err := a.groups("winding", []string{"pins", "volts", "ohms", "amps", "leakage", "wire"}, map[string][]string{
		"winding": f.Winding, "pins": f.Pins, "volts": f.Volts, "ohms": f.Ohms, "amps": f.Amps, "leakage": f.Leakage, "wire": f.Wire})
	if err != nil {
		return err
	}
	u.Windings = slices.Clone(u.Windings)
	for _, g := range groups {
		id := g[0].text
		w := u.Winding(id)
		if w == nil {
			u.Windings = append(u.Windings, yokemate.Winding{ID: id})
			w = &u.Windings[len(u.Windings)-1]
		}
		for _, p := range g[1:] {
			if err := setWinding(w, "--winding "+id+" --"+p.flag, p.flag, p.text); err != nil {
				return err
			}
		}
	}
	return nil
}

// setWinding puts one value into w; what names it as the flags do.
func setWinding(w *yokemate.Winding, place, what, text string) error {
	switch what {
	case "pins":
		pins := names(text)
		if len(pins) != 2 {
			return yokemate.Errorf(yokemate.Invalid, place, "%q is not two pins", text).Mend("write start and end with a comma, as in 5,6; a tapped winding is several windings that share pins")
		}
		w.Pins = [2]string(pins)
		return nil
	case "volts":
		return facts([]given{{place, text, volts, &w.Volts}})
	case "ohms":
		return facts([]given{{place, text, ohms, &w.Ohms}})
	case "amps":
		return facts([]given{{place, text, amps, &w.Amps}})
	case "leakage":
		return facts([]given{{place, text, millihenry, &w.LeakageMH}})
	case "wire":
		return facts([]given{{place, text, millimetres, &w.WireMM}})
	}
	panic("cli: no such fact of a winding: " + what)
}

func (f *unitFlags) mains(u *yokemate.Unit) (err error) {
	if f.Mains == "" && f.Hertz == "" && f.Primary == "" {
		return nil
	}
	var m yokemate.Mains
	if u.Mains != nil {
		m = *u.Mains
	}
	if f.Mains != "" {
		if m.Volts, err = volts.number("--mains", f.Mains); err != nil {
			return err
		}
	}
	if f.Hertz != "" {
		if m.Hertz, err = hertz.number("--hertz", f.Hertz); err != nil {
			return err
		}
	}
	if f.Primary != "" {
		m.Series = names(f.Primary)
	}
	// No frequency is taken for granted: a 60 Hz unit taken for one of 50 Hz
	// would look fit for 50 Hz mains.
	switch {
	case m.Volts == 0:
		return yokemate.Errorf(yokemate.Invalid, "--mains", "the label's volts are missing").Mend("add --mains \"230 V\", or what the label says")
	case m.Hertz == 0:
		return yokemate.Errorf(yokemate.Invalid, "--hertz", "the label's frequency is missing").Mend("add --hertz \"50 Hz\", or what the label says")
	case len(m.Series) == 0:
		return yokemate.Errorf(yokemate.Invalid, "--primary", "it is not said which winding the label's volts stand on").Mend("add --primary P")
	}
	u.Mains = &m
	return nil
}

func (f *unitFlags) idle(u *yokemate.Unit) (err error) {
	if f.IdleVolts == "" && f.IdleHertz == "" && f.IdleSeries == "" && f.IdleAmps == "" && f.IdleWatts == "" {
		return nil
	}
	var e yokemate.Excitation
	u.Excitation = slices.Clone(u.Excitation)
	if len(u.Excitation) > 0 {
		e = u.Excitation[0]
	} else if u.Mains != nil {
		e.Hertz, e.Series = u.Mains.Hertz, u.Mains.Series
	}
	if f.IdleHertz != "" {
		if e.Hertz, err = hertz.number("--idle-hertz", f.IdleHertz); err != nil {
			return err
		}
	}
	if f.IdleSeries != "" {
		e.Series = names(f.IdleSeries)
	}
	if err := facts([]given{
		{"--idle-volts", f.IdleVolts, volts, &e.Volts},
		{"--idle-amps", f.IdleAmps, amps, &e.Amps},
		{"--idle-watts", f.IdleWatts, watts, &e.Watts},
	}); err != nil {
		return err
	}
	switch {
	case !e.Volts.Known():
		return yokemate.Errorf(yokemate.Invalid, "--idle-amps", "the volts of the reading are missing").Mend("add --idle-volts")
	case len(e.Series) == 0:
		return yokemate.Errorf(yokemate.Invalid, "--idle-volts", "it is not said which windings they stood on").Mend("add --idle-series P")
	case e.Hertz == 0:
		return yokemate.Errorf(yokemate.Invalid, "--idle-volts", "their frequency is missing").Mend("add --idle-hertz \"50 Hz\"")
	}
	if len(u.Excitation) > 0 {
		u.Excitation[0] = e
	} else {
		u.Excitation = yokemate.ExcitationList{e}
	}
	return nil
}

func (f *unitFlags) insulation(a *App, u *yokemate.Unit) error {
	groups, err := a.groups("insulation", []string{"megohms", "test-volts", "test-seconds", "working"}, map[string][]string{
		"insulation": f.Insulation, "megohms": f.Megohms, "test-volts": f.TestVolts, "test-seconds": f.TestSeconds, "working": f.Working})
	if err != nil {
		return err
	}
	u.Insulation = slices.Clone(u.Insulation)
	for _, g := range groups {
		place := "--insulation " + g[0].text
		ends := names(g[0].text)
		if len(ends) != 2 {
			return yokemate.Errorf(yokemate.Invalid, place, "it does not name two sides").Mend("write two windings, or a winding and core, as in P,core")
		}
		i := slices.IndexFunc(u.Insulation, func(t yokemate.Insulation) bool {
			return t.From == ends[0] && t.To == ends[1] || t.From == ends[1] && t.To == ends[0]
		})
		if i < 0 {
			i = len(u.Insulation)
			u.Insulation = append(u.Insulation, yokemate.Insulation{From: ends[0], To: ends[1]})
		}
		t := &u.Insulation[i]
		for _, p := range g[1:] {
			at := place + " --" + p.flag
			var err error
			switch p.flag {
			case "megohms":
				err = facts([]given{{at, p.text, megohms, &t.Megohms}})
			case "test-volts":
				t.TestVolts, err = volts.number(at, p.text)
			case "test-seconds":
				t.Seconds, err = seconds.number(at, p.text)
			case "working":
				t.WorkingVolts, err = volts.number(at, p.text)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

type unitAddCmd struct {
	Tag string `arg:"" optional:"" help:"A short tag of its own, such as T1."`
	unitFlags
}

// Run adds the unit that the flags describe; at a terminal, with neither
// windings nor pins among the flags, it asks.
func (c *unitAddCmd) Run(a *App) error {
	b, err := a.bench()
	if err != nil {
		return err
	}
	u := &yokemate.Unit{Tag: c.Tag}
	if len(c.Winding) == 0 && c.Terminals == "" && a.Interactive() {
		if err := a.askUnit(b, u); err != nil {
			return err
		}
	}
	if u.Tag == "" {
		return yokemate.Errorf(yokemate.Invalid, "command line", "the unit has no tag").Mend("write one, as in \"yokemate unit add T1 --winding P --pins 1,2 --volts 230V --ohms 940\"")
	}
	if err := c.apply(a, u); err != nil {
		return err
	}
	if err := u.Validate(); err != nil {
		return err
	}
	if err := b.AddUnit(a.Ctx(), u); err != nil {
		return err
	}
	if len(u.Windings) == 0 {
		a.Say("Which pin is what, and which reading tells: yokemate identify %s%s", u.Tag, a.where())
	}
	return a.showUnit(u)
}

// askUnit asks for the facts of a unit, one at a time. What is not known is
// left empty.
func (a *App) askUnit(b bench, u *yokemate.Unit) error {
	s, err := held(a.Ctx(), b)
	if err != nil {
		return err
	}
	a.Say("Leave empty what you do not know. Values are written as you would on paper: 11.92 V, 2R9, 250 mA.")
	if u.Tag == "" {
		err := a.AskFor("Tag, such as T1", "", func(text string) error {
			if s.Unit(text) != nil {
				return yokemate.Errorf(yokemate.Conflict, "", "the shelf has a unit %s", text).Mend("choose another tag")
			}
			u.Tag = text
			probe := yokemate.Unit{Tag: text, Windings: []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}}}
			return probe.Validate()
		})
		if err != nil {
			return err
		}
	}
	if u.Origin, err = a.Ask("Where it came from", ""); err != nil {
		return err
	}
	if err := a.askFact("Rating on the label, as in 6 VA", voltAmperes, &u.VA); err != nil {
		return err
	}
	for {
		again, err := a.askWinding(u)
		if err != nil {
			return err
		}
		if !again {
			break
		}
	}
	if len(u.Windings) == 0 {
		return a.AskFor("All its pins, as in 1,2,5,6", "", func(text string) error {
			u.Terminals = names(text)
			return u.Validate()
		})
	}
	return a.askMains(u)
}

// askWinding asks for one winding; an empty id ends the list.
func (a *App) askWinding(u *yokemate.Unit) (again bool, err error) {
	question := "Winding, such as P or A (empty: they are not known)"
	if len(u.Windings) > 0 {
		question = "Next winding (empty: that was all)"
	}
	w := yokemate.Winding{}
	err = a.AskFor(question, "", func(text string) error {
		if u.Winding(text) != nil {
			return yokemate.Errorf(yokemate.Conflict, "", "there is a winding %s already", text).Mend("choose another id")
		}
		w.ID = text
		if text == "" {
			return nil
		}
		probe := yokemate.Unit{Tag: u.Tag, Windings: []yokemate.Winding{{ID: text, Pins: [2]string{"1", "2"}}}}
		return probe.Validate()
	})
	if err != nil || w.ID == "" {
		return false, err
	}
	err = a.AskFor("  its pins, start end first, as in 5,6", "", func(text string) error {
		if err := setWinding(&w, "", "pins", text); err != nil {
			return err
		}
		probe := yokemate.Unit{Tag: u.Tag, Windings: append(slices.Clone(u.Windings), w)}
		return probe.Validate()
	})
	if err != nil {
		return false, err
	}
	for _, x := range []struct {
		question string
		scale    scale
		into     *yokemate.Value
	}{
		{"  its no-load volts", volts, &w.Volts},
		{"  its ohms at 20 °C", ohms, &w.Ohms},
		{"  amps it may carry", amps, &w.Amps},
	} {
		if err := a.askFact(x.question, x.scale, x.into); err != nil {
			return false, err
		}
	}
	u.Windings = append(u.Windings, w)
	return true, nil
}

func (a *App) askMains(u *yokemate.Unit) error {
	var v, f yokemate.Value
	if err := a.askFact("Mains volts on the label", volts, &v); err != nil || !v.Known() {
		return err
	}
	if err := a.askFact("Mains hertz on the label, the lowest where it gives two", hertz, &f); err != nil || !f.Known() {
		return err
	}
	m := &yokemate.Mains{Volts: v.V, Hertz: f.V}
	return a.AskFor("Winding the label's volts stand on, or several in series as in P1,P2", u.Windings[0].ID, func(text string) error {
		m.Series = names(text)
		probe := yokemate.Unit{Tag: u.Tag, Windings: u.Windings, Mains: m}
		if err := probe.Validate(); err != nil {
			return err
		}
		u.Mains = m
		return nil
	})
}

// askFact asks for a value above 0; an empty line leaves it unknown.
func (a *App) askFact(question string, s scale, into *yokemate.Value) error {
	return a.AskFor(question, "", func(text string) error {
		if text == "" {
			return nil
		}
		v, err := s.fact("", text)
		if err != nil {
			return err
		}
		if !(v.V > 0) {
			return yokemate.Errorf(yokemate.Invalid, "", "it must be above 0").Mend("leave it empty when it is not known")
		}
		*into = v
		return nil
	})
}

type unitSetCmd struct {
	Tag string `arg:"" help:"The unit."`
	unitFlags
	DropWinding []string `placeholder:"ID" help:"Take a winding away."`
}

// Run changes the facts that the flags name and leaves the others.
func (c *unitSetCmd) Run(a *App) error {
	b, u, _, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(a.flags, func(f string) bool { return f != "store" && f != "shelf" && f != "json" }) {
		return yokemate.Errorf(yokemate.Invalid, "command line", "nothing is to be changed").Mend("name a fact, as in --va \"6 VA\"; see \"yokemate unit set --help\"")
	}
	for _, id := range c.DropWinding {
		if u.Winding(id) == nil {
			return yokemate.Errorf(yokemate.NotFound, "--drop-winding", "%s has no winding %q", u.Tag, id).Mend("name a winding by its id")
		}
		u.Windings = slices.DeleteFunc(u.Windings, func(w yokemate.Winding) bool { return w.ID == id })
	}
	if err := c.apply(a, u); err != nil {
		return err
	}
	if err := u.Validate(); err != nil {
		return err
	}
	if err := b.PutUnit(a.Ctx(), u); err != nil {
		return err
	}
	return a.showUnit(u)
}

type unitRemoveCmd struct {
	Tag string `arg:"" help:"The unit."`
}

// Run takes the unit off the shelf.
func (c *unitRemoveCmd) Run(a *App) error {
	b, err := a.bench()
	if err != nil {
		return err
	}
	if err := b.RemoveUnit(a.Ctx(), c.Tag); err != nil {
		return err
	}
	a.Say("%s is off the shelf.", c.Tag)
	return nil
}

type unitQuarantineCmd struct {
	Tag    string `arg:"" help:"The unit."`
	Reason string `xor:"way" placeholder:"TEXT" help:"Why it must not be used."`
	Lift   bool   `xor:"way" help:"Let the unit back into hookups."`
}

// Run puts the unit into quarantine or lets it out.
func (c *unitQuarantineCmd) Run(a *App) error {
	b, u, _, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	if c.Lift {
		u.Status, u.Reason = "", ""
	} else {
		reason := strings.TrimSpace(c.Reason)
		if reason == "" {
			return yokemate.Errorf(yokemate.Invalid, "--reason", "a quarantine needs its reason").Mend("add --reason \"hums and gets hot idle\", or the like")
		}
		u.Status, u.Reason = "quarantine", reason
	}
	if err := b.PutUnit(a.Ctx(), u); err != nil {
		return err
	}
	return a.showUnit(u)
}
