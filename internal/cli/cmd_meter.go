package cli

import (
	"strings"

	"yokemate"
	"yokemate/internal/say"
)

type meterCmd struct {
	Add  meterAddCmd  `cmd:"" help:"Add a meter with its accuracy."`
	List meterListCmd `cmd:"" help:"List the meters, or the ranges of one."`

	Inspect meterInspectCmd `cmd:"" help:"Show how sure a reading on a meter is, and why."`
}

type meterAddCmd struct {
	Name       string   `arg:"" help:"A name of its own, such as \"bench meter\"."`
	Generic    bool     `help:"Start from the ranges of a cheap multimeter; ranges given here come on top."`
	TrueRMS    bool     `name:"true-rms" help:"It reads true rms."`
	LeadOhms   string   `placeholder:"VALUE" help:"What the touched probes read."`
	InputOhms  string   `placeholder:"VALUE" help:"Its input resistance on volts; 10 MΩ if not given."`
	Range      []string `sep:"none" placeholder:"QUANTITY" help:"A range: volts_ac, ohms, amps_ac …; the next flags are about it."`
	Max        []string `sep:"none" placeholder:"VALUE" help:"  its full scale, as in \"20 V\"."`
	Resolution []string `sep:"none" placeholder:"VALUE" help:"  one count, as in \"10 mV\"."`
	Accuracy   []string `sep:"none" placeholder:"PERCENT+COUNTS" help:"  as in the manual: \"0.8 % + 3\"."`
}

// Run adds a meter.
func (c *meterAddCmd) Run(a *App) error {
	b, err := a.bench()
	if err != nil {
		return err
	}
	m := yokemate.Meter{Name: c.Name, TrueRMS: c.TrueRMS}
	if c.Generic {
		g := yokemate.GenericMeter()
		m.LeadOhms, m.InputOhms, m.Ranges = g.LeadOhms, g.InputOhms, g.Ranges
	}
	if c.LeadOhms != "" {
		if m.LeadOhms, err = ohms.number("--lead-ohms", c.LeadOhms); err != nil {
			return err
		}
	}
	if c.InputOhms != "" {
		if m.InputOhms, err = ohms.number("--input-ohms", c.InputOhms); err != nil {
			return err
		}
	}
	groups, err := a.groups("range", []string{"max", "resolution", "accuracy"}, map[string][]string{
		"range": c.Range, "max": c.Max, "resolution": c.Resolution, "accuracy": c.Accuracy})
	if err != nil {
		return err
	}
	for _, g := range groups {
		r, err := rangeOf(g)
		if err != nil {
			return err
		}
		m.Ranges = append(m.Ranges, r)
	}
	if len(m.Ranges) == 0 {
		return yokemate.Errorf(yokemate.Invalid, "command line", "the meter has no ranges").Mend("add --generic, or ranges from its manual: --range volts_ac --max \"20 V\" --resolution \"10 mV\" --accuracy \"0.8 %% + 3\"")
	}
	s, err := held(a.Ctx(), b)
	if err != nil {
		return err
	}
	if err := b.AddMeter(a.Ctx(), &m); err != nil {
		return err
	}
	if len(s.Meters) == 0 && len(s.Units) > 0 {
		a.Say("Plain numbers on the shelf count as read on %q from now on.", m.Name)
	}
	return a.showMeter(&m)
}

func rangeOf(g []part) (yokemate.Range, error) {
	r := yokemate.Range{Quantity: yokemate.Quantity(g[0].text)}
	s := scaleOf(r.Quantity)
	seen := map[string]bool{}
	var err error
	for _, p := range g[1:] {
		place := "--range " + g[0].text + " --" + p.flag
		seen[p.flag] = true
		switch p.flag {
		case "max":
			r.Max, err = s.number(place, p.text)
		case "resolution":
			r.Resolution, err = s.number(place, p.text)
		case "accuracy":
			percent, counts, ok := strings.Cut(p.text, "+")
			if !ok {
				return r, yokemate.Errorf(yokemate.Invalid, place, "%q is not percent and counts", p.text).Mend("write it as in \"0.8 %% + 3\"")
			}
			// The percent sign is wanted, since a bare 0.008 may be meant as a fraction.
			number, ok := strings.CutSuffix(strings.TrimSpace(percent), "%")
			if !ok {
				return r, yokemate.Errorf(yokemate.Invalid, place, "%q has no %% sign", p.text).Mend("write it as in \"0.8 %% + 3\"")
			}
			if r.Percent, err = plain.number(place, number); err == nil {
				counts = strings.TrimSpace(counts)
				for _, word := range []string{"counts", "count", "digits", "digit"} {
					counts = strings.TrimSuffix(counts, word)
				}
				r.Counts, err = plain.number(place, counts)
			}
		}
		if err != nil {
			return r, err
		}
	}
	for _, f := range []string{"max", "resolution", "accuracy"} {
		if !seen[f] {
			return r, yokemate.Errorf(yokemate.Invalid, "--range "+g[0].text, "--%s is missing", f).Mend("a range has --max, --resolution and --accuracy")
		}
	}
	return r, nil
}

type meterListCmd struct {
	Name string `arg:"" optional:"" help:"Show the ranges of this one."`
}

// Run lists the meters.
func (c *meterListCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	if c.Name != "" {
		m := s.MeterNamed(c.Name)
		if m == nil && c.Name == s.Meter().Name {
			m = s.Meter()
		}
		if m == nil {
			return yokemate.Errorf(yokemate.NotFound, "meters", "there is no meter %q", c.Name).Mend("see \"yokemate meter list\"")
		}
		return a.showMeter(m)
	}
	meters := s.Meters
	if len(meters) == 0 {
		meters = []yokemate.Meter{*s.Meter()}
	}
	if a.AsJSON {
		return a.JSON(struct {
			Meters []yokemate.Meter `json:"meters"`
		}{meters})
	}
	t := &Table{Heads: []string{"meter", "reads", ">leads", ">input", ">ranges"}}
	for i := range meters {
		m := &meters[i]
		t.Row(m.Name, readsText(m), short(m.LeadOhms)+" Ω", short(m.Input()/1e6)+" MΩ", short(float64(len(m.Ranges))))
	}
	a.Table(t)
	a.Print("\nPlain numbers count as read on meter %q.\n", s.Meter().Name)
	return nil
}

func (a *App) showMeter(m *yokemate.Meter) error {
	if a.AsJSON {
		return a.JSON(m)
	}
	a.Print("%s, %s, leads %s Ω, input %s MΩ\n\n", m.Name, readsText(m), short(m.LeadOhms), short(m.Input()/1e6))
	t := &Table{Heads: []string{"  range", ">full scale", ">one count", ">accuracy"}}
	for _, r := range m.Ranges {
		t.Row("  "+say.Words{}.Quantity(r.Quantity), say.InUnit(r.Max, r.Quantity), say.InUnit(r.Resolution, r.Quantity), "±("+short(r.Percent)+" % + "+short(r.Counts)+" counts)")
	}
	a.Table(t)
	return nil
}

func readsText(m *yokemate.Meter) string {
	if m.TrueRMS {
		return "true rms"
	}
	return "average, scaled for a sine"
}
