package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"yokemate"
	"yokemate/identify"
	"yokemate/internal/say"
	"yokemate/si"
)

type identifyCmd struct {
	Tag          string   `arg:"" optional:"" help:"The unit, with its pins listed or its readings taken."`
	Want         []string `placeholder:"LIST" help:"What to find out: windings, dots, ohms, volts, insulation, excitation; the first four if not given."`
	Confidence   float64  `placeholder:"P" help:"How sure to be of windings, taps and dots; 0.99 if not given."`
	SourceVolts  string   `placeholder:"VALUE" help:"Volts of the isolated low AC source at hand; 12 V if not given."`
	Hertz        string   `placeholder:"VALUE" help:"Mains frequency at the bench; the label's, or 50 Hz."`
	NoMillivolts bool     `help:"There is no 1 A supply at hand."`
	Once         bool     `help:"Say what is known and what to read next, and ask nothing."`
	Save         bool     `help:"Put the facts into the unit on the shelf, once its windings are certain."`
	Look         bool     `help:"List what to look for before anything is measured."`
}

func (c *identifyCmd) options() (o identify.Options, err error) {
	o.Confidence, o.NoMillivolts = c.Confidence, c.NoMillivolts
	for _, w := range c.Want {
		o.Want = append(o.Want, identify.Ask(w))
	}
	if c.SourceVolts != "" {
		if o.SourceVolts, err = volts.number("--source-volts", c.SourceVolts); err != nil {
			return o, err
		}
	}
	if c.Hertz != "" {
		if o.Hertz, err = hertz.number("--hertz", c.Hertz); err != nil {
			return o, err
		}
		if !(o.Hertz > 0) {
			return o, yokemate.Errorf(yokemate.Invalid, "--hertz", "it must be above 0").Mend("give the mains frequency, 50 or 60")
		}
	}
	return o, nil
}

// own fills in what the store says of this bench where no flag says it, so that
// the next reading is the one that the page asks for.
func own(a *App, b bench, o *identify.Options) error {
	kept, ok := b.(yokemate.Store)
	if !ok {
		return nil
	}
	here, err := kept.Bench(a.Ctx())
	if err != nil || here == nil {
		return err
	}
	if o.SourceVolts == 0 {
		o.SourceVolts = here.SourceVolts
	}
	if o.Hertz == 0 {
		o.Hertz = here.Hertz
	}
	o.NoMillivolts = o.NoMillivolts || here.NoAmpere
	return nil
}

// Run says what a unit's readings tell, and at a terminal asks for the next
// reading until what is wanted is known. Each reading is stored before the next
// question.
func (c *identifyCmd) Run(a *App) error {
	if c.Look {
		return a.showLooks()
	}
	if c.Tag == "" {
		return yokemate.Errorf(yokemate.Invalid, "command line", "no unit is named").Mend("name its tag, as in \"yokemate identify T1\"; \"yokemate unit add T1 --terminals 1,2,3,4\" puts a new one on the shelf")
	}
	opt, err := c.options()
	if err != nil {
		return err
	}
	b, err := a.bench()
	if err != nil {
		return err
	}
	if err := own(a, b, &opt); err != nil {
		return err
	}
	answer := func() (*yokemate.Identification, error) {
		_, u, s, err := a.unit(c.Tag)
		if err != nil {
			return nil, err
		}
		return identify.Identify(u, s.Meters, opt)
	}
	found, err := answer()
	if err != nil {
		return err
	}
	if a.Interactive() && !c.Once {
		if found, err = c.ask(a, b, &opt, found, answer); err != nil {
			return err
		}
	}
	if a.AsJSON {
		if err := a.JSON(found); err != nil {
			return err
		}
	} else {
		a.showIdentification(found)
	}
	save := c.Save
	if a.Interactive() && !c.Once && !save && found.Shelf != nil {
		if save, err = a.Confirm("Put these facts into " + found.Unit + " on the shelf?"); err != nil {
			return err
		}
	}
	if save {
		if found.Shelf == nil {
			return yokemate.Errorf(yokemate.Invalid, c.Tag, "its windings are not certain, so nothing was put on the shelf").Mend("take the reading that is asked for")
		}
		if err := b.PutUnit(a.Ctx(), found.Shelf); err != nil {
			return err
		}
		a.Say("%s is on the shelf with these facts.", found.Unit)
		a.afterIdentify(found)
	}
	if yokemate.Worst(found.Notes) == yokemate.Stop {
		return ErrNo
	}
	return nil
}

// afterIdentify names what a unit that was identified still lacks before it can
// be hooked up, and what to type for it.
func (a *App) afterIdentify(found *yokemate.Identification) {
	u := found.Shelf
	if u.Mains == nil || len(u.Mains.Series) == 0 {
		id := u.Windings[0].ID
		for _, w := range u.Windings {
			if strings.HasPrefix(w.ID, "P") {
				id = w.ID
				break
			}
		}
		if i := slices.IndexFunc(u.Windings, func(w yokemate.Winding) bool { return w.ID == "P1" }); i >= 0 && u.Winding("P2") != nil {
			id = "P1,P2"
		}
		a.Tell("What mains it was made for is not known, and until it is no hookup with it can be called proven. Where a label tells, type it in, as in")
		a.Say("  yokemate unit set %s --mains 230V --hertz 50 --primary %s%s", u.Tag, id, a.where())
		a.Tell("Where none does, its no-load current tells, once its insulation was read:")
		a.Say("  yokemate identify %s --want insulation,excitation%s", u.Tag, a.where())
		return
	}
	if slices.ContainsFunc(found.Notes, func(n yokemate.Note) bool { return n.Code == yokemate.InsulationUnknown }) {
		a.Tell("Its insulation is not proven. With an insulation tester:")
		a.Say("  yokemate identify %s --want insulation%s", u.Tag, a.where())
	}
}

// lowSource is the most that a source may read where a low one is asked for [V].
const lowSource = 30

// identifyWords are the words that a question of ask takes beside a value.
const identifyWords = "\"open\" for no continuity; \"unsure\" to be asked for another reading; \"back\" to correct the last one; \"stop\" to end"

// ask puts one wanted reading after the other.
func (c *identifyCmd) ask(a *App, b bench, opt *identify.Options, found *yokemate.Identification, answer func() (*yokemate.Identification, error)) (*yokemate.Identification, error) {
	a.Tell("Type what the meter shows, with comma or point; " + identifyWords + ". Every reading is stored at once.")
	var temperature, leads string
	var last *yokemate.Reading // stored in this talk
	said := map[string]bool{}
	for found.Next != nil {
		w := found.Next
		for _, n := range found.Notes {
			if n.Level != yokemate.Info && !said[n.Words] {
				said[n.Words] = true
				a.Say("")
				a.Tell(string(n.Level) + ": " + n.Words)
			}
		}
		if len(found.Open) > 0 && len(found.Readings) > 0 {
			a.Say("")
			a.Tell(fmt.Sprintf("Likeliest so far (%s): %s", percent(found.Open[0].Probability), found.Open[0].Words))
		}
		for _, t := range w.Cautions {
			if !said[t] {
				said[t] = true
				a.Tell(t)
			}
		}
		r := w.Reading("")
		copper := w.Quantity == yokemate.Millivolts || w.Quantity == yokemate.Ohms && w.To != yokemate.CorePin && w.From != yokemate.CorePin
		if copper && temperature == "" {
			if err := a.AskFor("Temperature of the unit, °C, or \"unsure\"", "unsure", func(s string) error {
				if s != "unsure" {
					if _, err := celsius.number("temperature", s); err != nil {
						return err
					}
				}
				temperature = s
				return nil
			}); err != nil {
				return nil, err
			}
		}
		if copper && w.Quantity == yokemate.Ohms && leads == "" {
			if err := a.AskFor("Touch the probes together. What do they read, in ohms (0 if the meter takes it off)", "unsure", func(s string) error {
				if s != "unsure" {
					if _, err := ohms.number("leads", s); err != nil {
						return err
					}
				}
				leads = s
				return nil
			}); err != nil {
				return nil, err
			}
		}
		a.Say("")
		a.Tell(w.Do)
		a.Tell("Why: " + w.Why + ".")
		for _, e := range w.Expect {
			a.Say("  %s (%s)", e.Words, percent(e.Probability))
		}
		skip, end, back := false, false, false
		// word takes the words that stand for no value.
		word := func(s string) (bool, error) {
			switch strings.ToLower(s) {
			case "unsure":
				skip = true
			case "stop", "quit", "q":
				end = true
			case "back":
				if last == nil {
					return true, yokemate.Errorf(yokemate.Invalid, "", "no reading has been stored in this talk yet").Mend("correct an older one with \"yokemate reading correct\"")
				}
				back = true
			case "?", "help", "why":
				return true, yokemate.Errorf(yokemate.Invalid, "", "type what the meter shows, or %s", identifyWords)
			default:
				return false, nil
			}
			return true, nil
		}
		if r.Excited != nil {
			if err := a.AskFor("The source reads, in volts", "", func(s string) error {
				if ok, err := word(s); ok {
					return err
				}
				v, err := volts.fact("source", s)
				if err != nil {
					return err
				}
				if !(v.V > 0) {
					return yokemate.Errorf(yokemate.Invalid, "", "the source must be above 0 V").Mend("read it at its clips, on the range for AC volts")
				}
				if v.V > lowSource && w.Excited.Volts.V <= lowSource {
					return yokemate.Errorf(yokemate.Invalid, "", "%s was asked for, and %s is no low source", si.Format(w.Excited.Volts.V, "V", 3), si.Format(v.V, "V", 3)).Mend("if it reads that, switch it off and take another; else type it again")
				}
				r.Excited.Volts = v
				return nil
			}); err != nil {
				return nil, err
			}
		}
		if !skip && !end && !back {
			if err := a.AskFor(between(&r), "", func(s string) error {
				if ok, err := word(s); ok {
					return err
				}
				if w.Quantity == yokemate.Ohms && slices.Contains([]string{"ol", "o.l", "o.l.", "over"}, strings.ToLower(s)) {
					s = "open" // on the highest range, as asked
				}
				var err error
				_, r.Value, err = readingOf("", s, w.Quantity)
				return err
			}); err != nil {
				return nil, err
			}
		}
		switch {
		case end:
			return found, nil
		case back:
			if err := a.correct(b, found.Unit, last); err != nil {
				return nil, err
			}
		case skip:
			opt.Skip = append(opt.Skip, identify.Key(w))
		default:
			if copper && temperature != "unsure" {
				t, err := celsius.number("temperature", temperature)
				if err != nil {
					return nil, err
				}
				r.Celsius = &t
			}
			if copper && leads != "unsure" && w.Quantity == yokemate.Ohms {
				l, err := ohms.number("leads", leads)
				if err != nil {
					return nil, err
				}
				if r.LeadOhms = l; l == 0 {
					r.LeadOhms = yokemate.ZeroedLeads
				}
			}
			stored, err := b.AddReading(a.Ctx(), found.Unit, r)
			if err != nil {
				return nil, err
			}
			last = &stored
		}
		var err error
		if found, err = answer(); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// between is a reading's question: what is read, and from where to where.
func between(r *yokemate.Reading) string {
	from := r.From
	if r.To == yokemate.CorePin && len(r.Joined) > 0 {
		from = strings.Join(r.Joined, "+")
	}
	text := say.Words{}.Quantity(r.Quantity) + " from " + from
	if r.To != "" {
		text += " to " + r.To
	}
	return text
}

// correct asks for the value that a reading should have had, and supersedes it.
func (a *App) correct(b bench, tag string, last *yokemate.Reading) error {
	r := *last
	keep := false
	if err := a.AskFor(fmt.Sprintf("Reading %s, %s, was %s. It should be", r.ID, between(&r), r.Value), r.Value, func(s string) (err error) {
		if keep = s == last.Value; keep {
			return nil
		}
		_, r.Value, err = readingOf("", s, r.Quantity)
		return err
	}); err != nil || keep {
		return err
	}
	r.ID, r.At, r.Supersedes, r.Note = "", time.Time{}, last.ID, ""
	stored, err := b.AddReading(a.Ctx(), tag, r)
	if err != nil {
		return err
	}
	*last = stored
	return nil
}

func percent(p float64) string {
	switch {
	case p > 0.9995:
		return "above 99.9 %"
	case p > 0.99:
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

func (a *App) showIdentification(found *yokemate.Identification) {
	state := "not certain"
	if found.Certain {
		state = "certain"
	}
	if len(found.Readings) == 0 {
		a.Print("%s: nothing has been read yet.\n", found.Unit)
	} else {
		a.Print("%s: %s, %s that windings, taps and dots are as here.\n", found.Unit, state, percent(found.Confidence))
	}
	if len(found.Windings) > 0 {
		a.Print("\n")
		start := map[string]yokemate.FoundDot{}
		for _, d := range found.Dots {
			start[d.Wire] = d
		}
		t := &Table{Heads: []string{"winding", "pins", "start end", ">ohms", ">volts", ">sure"}}
		for _, w := range found.Windings {
			dot := ""
			if d := start[w.Wire]; d.Known {
				dot = w.Pins[0]
				if d.Probability < 0.99 {
					dot += " (" + percent(d.Probability) + ")"
				}
			}
			t.Row(w.ID, w.Pins[0]+"–"+w.Pins[1], dot, factText(found, w.ID, "ohms"), factText(found, w.ID, "volts"), percent(w.Probability))
		}
		a.Table(t)
	}
	first := true
	t := &Table{Heads: []string{"fact", "of", ">value", "95 %", "from"}}
	for _, f := range found.Facts {
		if f.Name == "ohms" || f.Name == "volts" {
			continue
		}
		first = false
		t.Row(strings.ReplaceAll(f.Name, "_", " "), f.About, si.Format(f.Value, f.Unit, 3), si.FormatInterval(f.Low, f.High, f.Unit), string(f.Basis)+": "+f.Formula)
	}
	if !first {
		a.Print("\n")
		a.Table(t)
	}
	if !found.Certain && len(found.Open) > 0 && len(found.Readings) > 0 {
		a.Print("\nStill open:\n")
		t := &Table{Heads: []string{">p", "words"}, Bare: true}
		for _, o := range found.Open {
			t.Row("  "+percent(o.Probability), o.Words)
		}
		a.Table(t)
	}
	if len(found.Notes) > 0 {
		a.Print("\n")
		for _, n := range found.Notes {
			if n.Code == yokemate.LookFirst {
				a.Para("look first: ", n.Words)
			} else {
				a.Para("", fmt.Sprintf("%s %s: %s", n.Level, n.Code, n.Words))
			}
		}
	}
	if w := found.Next; w != nil {
		a.Print("\n")
		a.Para("", "Read next: "+w.Do)
		a.Para("", "Why: "+w.Why+".")
		for _, e := range w.Expect {
			a.Print("  %s (%s)\n", e.Words, percent(e.Probability))
		}
		for _, c := range w.Cautions {
			a.Para("", c)
		}
	}
}

// factText is a fact with its uncertainty, or nothing.
func factText(found *yokemate.Identification, id, name string) string {
	for _, f := range found.Facts {
		if f.About == id && f.Name == name {
			if f.U < 1e-4*f.Value {
				return si.Format(f.Value, f.Unit, 4) // by definition: what was fed
			}
			return si.FormatU(f.Value, f.U, f.Unit)
		}
	}
	return ""
}

func (a *App) showLooks() error {
	looks := identify.Looks()
	if a.AsJSON {
		return a.JSON(struct {
			Looks []identify.Look `json:"looks"`
		}{looks})
	}
	a.Print("Before anything is measured, look for:\n")
	for _, l := range looks {
		a.Print("- %s: %s.\n", l.Look, strings.TrimSuffix(l.Why, "."))
	}
	return nil
}
