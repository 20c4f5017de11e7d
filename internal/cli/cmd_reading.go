package cli

import (
	"slices"
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/si"
)

type readingCmd struct {
	Add     readingAddCmd     `cmd:"" help:"Add a reading to the log."`
	List    readingListCmd    `cmd:"" help:"List the readings in force, or all ever taken."`
	Correct readingCorrectCmd `cmd:"" help:"Supersede a reading; the old one stays in the log."`
}

type readingAddCmd struct {
	Tag      string `arg:"" help:"The unit."`
	From     string `arg:"" help:"A pin, a winding or core."`
	To       string `arg:"" help:"The other one."`
	Value    string `arg:"" help:"What the meter showed, as in \"14.70 V\", 2R9, open or over."`
	Quantity string `short:"q" placeholder:"NAME" help:"volts_ac, volts_dc, millivolts, ohms, amps_ac, watts, megohms, celsius or kick, where the value's unit does not tell."`
	conditions
}

// conditions are what a reading was taken under.
type conditions struct {
	Meter         string `placeholder:"NAME" help:"The meter, by its name on the shelf."`
	Range         string `placeholder:"TEXT" help:"Its range, as on the knob."`
	Celsius       string `placeholder:"VALUE" help:"Temperature of the unit."`
	LeadOhms      string `placeholder:"VALUE" help:"Ohms of the leads, where the reading includes them."`
	Joined        string `placeholder:"PINS" help:"Pins tied together while it was read, as in 2,5."`
	Burden        string `placeholder:"VALUE" help:"Load across the probes, as in 100k."`
	ExcitedSeries string `placeholder:"IDS" help:"What was fed, in series: windings, as P or P1,P2, or pairs of pins, as 1:2."`
	ExcitedVolts  string `placeholder:"VALUE" help:"  at these volts."`
	ExcitedHertz  string `placeholder:"VALUE" help:"  and this frequency."`
	At            string `placeholder:"TIME" help:"When, as 2031-05-04T12:00:00Z; now if not given."`
	Note          string `placeholder:"TEXT" help:"A remark."`
}

func (c *conditions) apply(r *yokemate.Reading, s *yokemate.Shelf, u *yokemate.Unit) (err error) {
	if c.Meter != "" && s.MeterNamed(c.Meter) == nil && c.Meter != s.Meter().Name {
		return yokemate.Errorf(yokemate.NotFound, "--meter", "there is no meter %q", c.Meter).Mend("see \"yokemate meter list\", or add it")
	}
	r.Meter, r.Range, r.Note = c.Meter, c.Range, c.Note
	if c.Celsius != "" {
		v, err := celsius.number("--celsius", c.Celsius)
		if err != nil {
			return err
		}
		r.Celsius = &v
	}
	if c.LeadOhms != "" {
		if r.LeadOhms, err = ohms.number("--lead-ohms", c.LeadOhms); err != nil {
			return err
		}
	}
	if c.Burden != "" {
		if r.BurdenOhms, err = ohms.number("--burden", c.Burden); err != nil {
			return err
		}
	}
	r.Joined = names(c.Joined)
	for _, p := range r.Joined {
		if err := probed(u, p); err != nil {
			return err
		}
	}
	if c.At != "" {
		if r.At, err = time.Parse(time.RFC3339, c.At); err != nil {
			return yokemate.Errorf(yokemate.Invalid, "--at", "%q is not a time", c.At).Mend("write it as 2031-05-04T12:00:00Z")
		}
	}
	if c.ExcitedSeries == "" {
		if c.ExcitedVolts != "" || c.ExcitedHertz != "" {
			return yokemate.Errorf(yokemate.Invalid, "--excited-volts", "it is not said which windings were fed").Mend("add --excited-series P")
		}
		return nil
	}
	e := &yokemate.Excited{Series: names(c.ExcitedSeries)}
	for _, id := range e.Series {
		from, to, pair := strings.Cut(id, ":")
		if pair {
			for _, p := range []string{from, to} {
				if err := probed(u, p); err != nil {
					return err
				}
			}
		} else if u.Winding(id) == nil {
			return yokemate.Errorf(yokemate.NotFound, "--excited-series", "%s has no winding %q", u.Tag, id).Mend("name windings by their ids, or pairs of pins, as in 1:2")
		}
	}
	if err := facts([]given{{"--excited-volts", c.ExcitedVolts, volts, &e.Volts}}); err != nil {
		return err
	}
	if c.ExcitedHertz != "" {
		if e.Hertz, err = hertz.number("--excited-hertz", c.ExcitedHertz); err != nil {
			return err
		}
	}
	r.Excited = e
	return nil
}

// Run adds a reading.
func (c *readingAddCmd) Run(a *App) error {
	b, u, s, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	for _, end := range []string{c.From, c.To} {
		if err := probed(u, end); err != nil {
			return err
		}
	}
	if c.From == c.To {
		return yokemate.Errorf(yokemate.Invalid, u.Tag, "both probes are on %s", c.From).Mend("name two different places")
	}
	r := yokemate.Reading{From: c.From, To: c.To}
	if r.Quantity, r.Value, err = readingOf("VALUE", c.Value, yokemate.Quantity(c.Quantity)); err != nil {
		return err
	}
	if err := c.apply(&r, s, u); err != nil {
		return err
	}
	if r, err = b.AddReading(a.Ctx(), u.Tag, r); err != nil {
		return err
	}
	return a.showReadings([]yokemate.LogEntry{{Tag: u.Tag, Reading: r}})
}

// probed checks that a probe can be put there: on a pin, a winding or the core.
func probed(u *yokemate.Unit, end string) error {
	if end == yokemate.CorePin || u.Winding(end) != nil || slices.Contains(u.AllPins(), end) {
		return nil
	}
	return yokemate.Errorf(yokemate.NotFound, u.Tag, "it has no pin or winding %q", end).Mend("its pins are %s and core", strings.Join(u.AllPins(), ", "))
}

// readingOf reads what a meter showed: the quantity from its unit where it is
// not given, and the numeral in the quantity's unit with its digits kept.
func readingOf(place, text string, q yokemate.Quantity) (yokemate.Quantity, string, error) {
	if q != "" {
		probe := yokemate.Reading{Quantity: q, Value: "open"}
		if err := probe.Validate("--quantity"); err != nil {
			return "", "", err
		}
	} else {
		var err error
		if q, err = quantityOf(text); err != nil {
			return "", "", err
		}
	}
	v, err := say.Typed(place, q, text)
	if err != nil {
		return "", "", err
	}
	r := yokemate.Reading{Quantity: q, Value: v}
	return q, v, r.Validate(place)
}

// quantityOf tells a quantity by the only unit that the text can be read in.
func quantityOf(text string) (yokemate.Quantity, error) {
	if v, err := say.Typed("VALUE", yokemate.Ohms, text); err == nil && (v == "open" || v == "over") {
		return yokemate.Ohms, nil
	}
	var found []yokemate.Quantity
	for _, q := range []yokemate.Quantity{yokemate.VoltsAC, yokemate.Ohms, yokemate.AmpsAC, yokemate.Watts, yokemate.Celsius} {
		if r, err := si.Read(text, scaleOf(q).own); err == nil {
			if q == yokemate.VoltsAC && r.Mark == "dc" {
				q = yokemate.VoltsDC
			}
			found = append(found, q)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		_, err := volts.read("VALUE", text)
		return "", err
	}
	return "", yokemate.Errorf(yokemate.Invalid, "VALUE", "%q does not say what was measured", text).Mend("add its unit, as in \"14.70 V\", or --quantity")
}

type readingListCmd struct {
	Tag string `arg:"" optional:"" help:"The unit; all of them if not given."`
	All bool   `help:"Show superseded readings and those of removed units too."`
}

// Run lists readings.
func (c *readingListCmd) Run(a *App) error {
	b, err := a.bench()
	if err != nil {
		return err
	}
	log, err := b.Log(a.Ctx(), c.Tag)
	if err != nil {
		return err
	}
	if c.Tag != "" && len(log) == 0 {
		if _, _, _, err := a.unit(c.Tag); err != nil {
			return err
		}
	}
	if !c.All {
		gone := superseded(log)
		log = slices.DeleteFunc(log, func(e yokemate.LogEntry) bool { return e.Removed || gone[key(e)] })
	}
	return a.showReadings(log)
}

type readingKey struct {
	tag     string
	removed bool
	id      string
}

func key(e yokemate.LogEntry) readingKey { return readingKey{e.Tag, e.Removed, e.Reading.ID} }

func superseded(log []yokemate.LogEntry) map[readingKey]bool {
	gone := map[readingKey]bool{}
	for _, e := range log {
		if e.Reading.Supersedes != "" {
			k := key(e)
			k.id = e.Reading.Supersedes
			gone[k] = true
		}
	}
	return gone
}

type readingCorrectCmd struct {
	Tag   string `arg:"" help:"The unit."`
	ID    string `arg:"" help:"The reading that was wrong, such as r3."`
	Value string `arg:"" help:"What it should have been."`
	Note  string `placeholder:"TEXT" help:"Why."`
}

// Run supersedes a reading by one under the same conditions.
func (c *readingCorrectCmd) Run(a *App) error {
	b, u, _, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(u.Readings, func(r yokemate.Reading) bool { return r.ID == c.ID })
	if i < 0 {
		return yokemate.Errorf(yokemate.NotFound, u.Tag, "it has no reading %q", c.ID).Mend("see \"yokemate reading list %s\"", u.Tag)
	}
	for _, r := range u.Readings {
		if r.Supersedes == c.ID {
			return yokemate.Errorf(yokemate.Conflict, u.Tag+" reading "+c.ID, "reading %s has superseded it", r.ID).Mend("correct that one")
		}
	}
	r := u.Readings[i]
	r.ID, r.At, r.Supersedes, r.Note = "", time.Time{}, c.ID, c.Note
	if r.Quantity, r.Value, err = readingOf("VALUE", c.Value, r.Quantity); err != nil {
		return err
	}
	if r, err = b.AddReading(a.Ctx(), u.Tag, r); err != nil {
		return err
	}
	return a.showReadings([]yokemate.LogEntry{{Tag: u.Tag, Reading: r}})
}

func (a *App) showReadings(log []yokemate.LogEntry) error {
	if a.AsJSON {
		return a.JSON(struct {
			Readings []yokemate.LogEntry `json:"readings"`
		}{log})
	}
	if len(log) == 0 {
		a.Print("No readings.\n")
		return nil
	}
	gone := superseded(log)
	t := &Table{Heads: []string{"unit", "reading", "when", "what", "between", ">shown", "conditions"}}
	for _, e := range log {
		r := e.Reading
		shown := r.Value
		if _, err := yokemate.Read(r.Value); err == nil && r.Quantity.Unit() != "" {
			shown += " " + r.Quantity.Unit()
		}
		when := ""
		if !r.At.IsZero() {
			when = r.At.UTC().Format("2006-01-02 15:04")
		}
		t.Row(e.Tag, r.ID, when, say.Words{}.Quantity(r.Quantity), strings.Trim(r.From+"–"+r.To, "–"), shown, conditionsText(e, gone[key(e)]))
	}
	a.Table(t)
	return nil
}

func conditionsText(e yokemate.LogEntry, gone bool) string {
	r := e.Reading
	var all []string
	add := func(s string) { all = append(all, s) }
	if gone {
		add("superseded")
	}
	if r.Supersedes != "" {
		add("corrects " + r.Supersedes)
	}
	if e.Removed {
		add("unit removed")
	}
	if x := r.Excited; x != nil {
		text := "fed on " + strings.Join(x.Series, " + ")
		if x.Volts.Known() {
			text += " at " + volts.show(x.Volts)
		}
		if x.Hertz != 0 {
			text += " " + short(x.Hertz) + " Hz"
		}
		add(text)
	}
	if r.Celsius != nil {
		add(short(*r.Celsius) + " °C")
	}
	if r.LeadOhms != 0 {
		add("leads " + short(r.LeadOhms) + " Ω")
	}
	if len(r.Joined) > 0 {
		add("joined " + strings.Join(r.Joined, "+"))
	}
	if r.BurdenOhms != 0 {
		add("burden " + short(r.BurdenOhms) + " Ω")
	}
	if r.Meter != "" {
		add("meter " + r.Meter)
	}
	if r.Range != "" {
		add("range " + r.Range)
	}
	if r.Note != "" {
		add(r.Note)
	}
	return strings.Join(all, ", ")
}
