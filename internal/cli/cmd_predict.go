package cli

import (
	"strconv"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

type predictCmd struct {
	Hookup string `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Mains  string `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts: low, nominal or high."`
	Meter  string `placeholder:"NAME" help:"The meter that will take the readings; the shelf's first if not given."`
}

// Run predicts every reading of a hookup.
func (c *predictCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	h, err := a.Hookup(c.Hookup, s)
	if err != nil {
		return err
	}
	m, err := meterNamed(s, c.Meter)
	if err != nil {
		return err
	}
	if supply.IsDC(h) {
		p, err := supply.Predict(network.Compile(s.Only(h)), h, yokemate.MainsLevel(c.Mains), predict.Options{Meter: m})
		if err != nil {
			return inFile(c.Hookup, err)
		}
		if a.AsJSON {
			return a.JSON(p)
		}
		a.rails(p)
		return nil
	}
	p, err := predict.Hookup(network.Compile(s.Only(h)), h, yokemate.MainsLevel(c.Mains), predict.Options{Meter: m})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(p)
	}
	a.prediction(h, p)
	return nil
}

// meterNamed returns the meter of that name; nil, which stands for the
// shelf's first, for an empty one.
func meterNamed(s *yokemate.Shelf, name string) (*yokemate.Meter, error) {
	if name == "" {
		return nil, nil
	}
	if m := s.MeterNamed(name); m != nil {
		return m, nil
	}
	if name == yokemate.GenericMeterName {
		return yokemate.GenericMeter(), nil
	}
	return nil, yokemate.Errorf(yokemate.NotFound, "--meter", "there is no meter %q", name).Mend("see \"yokemate meter list\", or add it")
}

// prediction prints a prediction for a person: what forbids it first.
func (a *App) prediction(h *yokemate.Hookup, p *yokemate.Prediction) {
	name := h.Name
	if name == "" {
		name = "hookup"
	}
	var feeds []string
	for i := range h.Feed {
		f := &h.Feed[i]
		feeds = append(feeds, short(f.At(p.Mains))+" V "+short(f.Hertz)+" Hz")
	}
	a.Print("%s, at %s mains: %s\n", name, p.Mains, strings.Join(feeds, ", "))
	a.Print("%s\n", worstWords(p.Notes))
	a.notes(p.Notes)

	t := &Table{Heads: []string{"output", ">volts", "95 % within", ">amps"}}
	for _, o := range p.Outputs {
		t.Row(o.Name, si.Format(o.Volts, "V", 3), within(o.Low, o.High, "V"), si.Format(o.Amps, "A", 3))
	}
	a.section(t)
	t = &Table{Heads: []string{"winding", ">volts", ">amps", "95 % within", ">may carry", ">used", ">heat"}}
	for _, w := range p.Windings {
		limit, used := "unknown", ""
		if w.LimitAmps != nil {
			limit = si.Format(*w.LimitAmps, "A", 3)
			if *w.LimitAmps > 0 {
				used = strconv.FormatFloat(100*w.Amps / *w.LimitAmps, 'f', 0, 64) + " %"
			}
		}
		t.Row(w.Unit+"/"+w.ID, si.Format(w.Volts, "V", 3), si.Format(w.Amps, "A", 3), within(w.Low, w.High, "A"), limit, used, si.Format(w.Watts, "W", 2))
	}
	a.section(t)
	t = &Table{Heads: []string{"unit", ">flux of rated", "95 % within", ">heat"}}
	for _, u := range p.Units {
		t.Row(u.Tag, strconv.FormatFloat(u.Flux, 'f', 2, 64), within(u.Low, u.High, ""), si.Format(u.Watts, "W", 2))
	}
	a.section(t)
	t = &Table{Heads: []string{"feed", ">amps", "95 % within", ">watts", ">VA", ">volts behind limiter"}}
	for i, f := range p.Feed {
		n := h.Feed[i].Live + "–" + h.Feed[i].Neutral
		t.Row(n, si.Format(f.Amps, "A", 3), within(f.Low, f.High, "A"), si.Format(f.Watts, "W", 3), si.Format(f.VA, "VA", 3), si.Format(f.Volts, "V", 4))
	}
	a.section(t)
	t = &Table{Heads: []string{"joint", ">against neutral", "95 % within", ">degrees", "pins"}}
	for _, j := range p.Joints {
		t.Row(j.Name, si.Format(j.Volts, "V", 3), within(j.Low, j.High, "V"), strconv.FormatFloat(positive(j.Degrees), 'f', 1, 64), strings.Join(h.Joints.Joint(j.Name).Pins, " "))
	}
	a.section(t)
	t = &Table{Heads: []string{"meter", ">shows", "95 % within"}}
	for _, m := range p.Meters {
		t.Row(m.Name, si.Format(m.Volts, "V", 3), within(m.Low, m.High, "V"))
	}
	a.section(t)
	a.cautions(prove.Cautions())
}

// within says an interval in words, and one value where four digits cannot
// tell its ends apart.
func within(low, high float64, unit string) string {
	if a := si.Format(low, unit, 4); a == si.Format(high, unit, 4) {
		return a
	}
	return si.FormatInterval(low, high, unit)
}

// positive takes the sign off a zero, so that it is not printed as "-0.0".
func positive(v float64) float64 {
	if v > -0.05 && v < 0.05 {
		return 0
	}
	return v
}

// section prints a table after an empty line, where it has rows.
func (a *App) section(t *Table) {
	if len(t.rows) > 0 {
		a.Print("\n")
		a.Table(t)
	}
}

// levelMark is a level as a shape and a word, which a colour alone would not be.
func levelMark(l yokemate.Level) string {
	switch l {
	case yokemate.Stop:
		return "■ STOP     "
	case yokemate.Caution:
		return "▲ CAUTION  "
	}
	return "○ NOTE     "
}

// worstWords says in a line what the notes amount to.
func worstWords(notes []yokemate.Note) string {
	switch yokemate.Worst(notes) {
	case yokemate.Stop:
		return "Do not wire this: what stops it stands below."
	case yokemate.Caution:
		return "It may be wired with the cautions below, and proved before it is used."
	}
	return "Nothing speaks against it; prove it before it is used."
}

// notes prints notes, the gravest first, each with its code.
func (a *App) notes(notes []yokemate.Note) {
	for _, n := range notes {
		a.Para(levelMark(n.Level), n.Words+" ("+string(n.Code)+")")
	}
}

// cautions prints the ones that go with every plan.
func (a *App) cautions(words []string) {
	a.Print("\nBefore you touch anything\n")
	for _, w := range words {
		a.Para("  - ", w)
	}
}
