// Package sheet sets hookups, units and finished supplies on paper: the bench
// sheet with its steps to fill in by hand, and the labels. It also packs a
// record into text for a QR code and reads it back.
//
// It computes nothing: every number on a sheet was computed elsewhere. It
// draws with the same code as the screen, and all of it reads in black and
// white.
package sheet

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"rsc.io/qr"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
	"yokemate/internal/say"
)

// Bench is what goes on a bench sheet. Only the hookup and the shelf must be there.
type Bench struct {
	figure.Options
	Hookup     *yokemate.Hookup
	Shelf      *yokemate.Shelf
	Prediction *yokemate.Prediction // at nominal mains
	Proof      *yokemate.Proof
	Answers    []yokemate.Answer // readings taken so far
	Limits     *yokemate.LimitsCard
	Unlimited  string // why there are no limits, where there are none
	Curve      *figure.LoadCurves
	Meter      string // that takes the readings; empty: left to fill in
	Page       Page
	Date       time.Time // zero: left to fill in
	Who        string    // empty: left to fill in
}

// paper has the means of saying things.
type paper struct {
	figure.Options
	words say.Words
}

func newPaper(o figure.Options) *paper {
	return &paper{o, say.Words{Locale: o.Locale, Say: o.Say}}
}

func (p *paper) say(english string, args ...any) string { return p.words.Phrase(english, args...) }

// value is a fact with the digits it was written with.
func (p *paper) value(v yokemate.Value, unit string) string {
	d := v.Digits
	if p.Locale.Decimal != "" {
		d = strings.Replace(d, ".", p.Locale.Decimal, 1)
	}
	return d + " " + unit
}

func (p *paper) date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02") // ISO 8601: the same everywhere
}

// Sheet sets the bench sheet and returns its pages.
func (b *Bench) Sheet() ([]draw.Scene, error) {
	p := newPaper(b.Options)
	f := newFlow(b.Page, p.say)
	name := b.Hookup.Name
	if name == "" {
		name = p.say("hookup without a name")
	}
	b.title(p, f, name)
	b.cautions(p, f)
	joints := func(f *flow) { b.joints(p, f) }
	if err := b.drawing(p, f, f.high(joints)); err != nil {
		return nil, err
	}
	f.keep(joints)
	f.keep(func(f *flow) { b.readings(p, f) })
	f.keep(func(f *flow) { b.limits(p, f) })
	if err := b.curve(p, f); err != nil {
		return nil, err
	}
	b.steps(p, f)
	b.notProven(p, f)
	if err := b.codes(p, f); err != nil {
		return nil, err
	}
	return f.finish(p.say("bench sheet"), name), nil
}

// title is the block at the head: what it is, and who did what when.
func (b *Bench) title(p *paper, f *flow, name string) {
	kind := run(f.w-edge, f.y+5.4, p.say("bench sheet"), draw.Regular, body, draw.End, draw.Soft)
	f.add(kind)
	for _, l := range draw.Bold.Wrap(draw.Bold.Fit(name), 6.5, f.inner()-draw.Regular.Measure(kind.S, body)-4) {
		f.add(run(edge, f.y+5.4, l, draw.Bold, 6.5, draw.Start, draw.Ink))
		f.y += 8
	}
	f.y += 1
	fields := []struct{ name, value string }{
		{p.say("date"), p.date(b.Date)},
		{p.say("tested by"), b.Who},
		{p.say("meter"), b.Meter},
		{p.say("socket reads"), ""},
	}
	const high = 11.0
	w := f.inner() / float64(len(fields))
	for i, x := range fields {
		x0 := edge + w*float64(i)
		f.add(draw.Rect(x0, f.y, w, high, 0).Stroke(draw.Ink, 0.25),
			run(x0+1.2, f.y+3.4, x.name, draw.Regular, small, draw.Start, draw.Soft),
			run(x0+1.2, f.y+9, draw.Bold.Short(draw.Bold.Fit(x.value), large, w-2.4), draw.Bold, large, draw.Start, draw.Ink))
		if x.name == p.say("socket reads") {
			f.add(run(x0+w-1.2, f.y+9, "V", draw.Bold, body, draw.End, draw.Ink))
		}
	}
	f.y += high + 2
	badge, words := yokemate.Caution, p.say("Not yet proved.")
	if b.Proof != nil {
		switch b.Proof.Proof {
		case yokemate.ProofGood:
			badge, words = yokemate.Go, p.say("Proved step by step.")
		case yokemate.ProofStopped:
			badge, words = yokemate.Stop, p.say("The proof was stopped. Do not use it.")
		}
	}
	if yokemate.Worst(b.notes()) == yokemate.Stop {
		badge, words = yokemate.Stop, p.say("Do not power it as it stands: see the stops below.")
	}
	mark := figure.Badge(badge, b.Options)
	f.add(mark.Place(edge, f.y, 0.8)...)
	f.add(run(edge+mark.W*0.8+3, f.y+4.6, words, draw.Bold, body+0.4, draw.Start, draw.Ink))
	f.y += 7.5
}

// cautions are the usual ones; they stand on every plan that has none of its own.
func (p *paper) cautions() []string {
	return []string{
		p.say("Mains kills. This sheet helps a competent person; it replaces neither local codes nor licensed practice, and they come first."),
		p.say("Pull the plug and let capacitors discharge before a lead is moved."),
		p.say("Clip the leads on dead, then power, then hands off. One hand at a time."),
		p.say("Give first power through a filament lamp or a resistor, never an LED lamp."),
		p.say("Bond the core and every metal part that can be touched to protective earth."),
		p.stray(),
	}
}

// stray is the caution that only a sheet can give.
func (p *paper) stray() string {
	return p.say("Measure across a gap before it is closed. A reading that fits nothing on this sheet means stop.")
}

func (b *Bench) cautions(p *paper, f *flow) {
	if b.Proof != nil && b.Proof.Proof == yokemate.ProofStopped {
		for _, v := range slices.Backward(b.Proof.Verdicts) {
			if v.Verdict == "stop" { // the one that stopped it
				f.para(p.say(v.Words), draw.Bold, yokemate.Stop)
				break
			}
		}
	}
	list := p.cautions()
	if b.Proof != nil && len(b.Proof.Cautions) > 0 {
		list = append(slices.Clone(b.Proof.Cautions), p.stray())
	}
	for _, c := range list {
		f.para(p.say(c), draw.Regular, yokemate.Caution)
	}
	for _, level := range []yokemate.Level{yokemate.Stop, yokemate.Caution} {
		for _, n := range b.notes() {
			if n.Level == level {
				f.para(p.say(say.Sentence(n.Words)), draw.Bold, level)
			}
		}
	}
}

// notes are those of the prediction and the proof, each once.
func (b *Bench) notes() []yokemate.Note {
	var all []yokemate.Note
	add := func(ns []yokemate.Note) {
		for _, n := range ns {
			if !slices.Contains(all, n) {
				all = append(all, n)
			}
		}
	}
	if b.Prediction != nil {
		add(b.Prediction.Notes)
	}
	if b.Proof != nil {
		add(b.Proof.Notes)
	}
	return all
}

// drawing sets the schematic. Where that keeps it nearly as large as it can be,
// it leaves room for what comes next on the same page.
func (b *Bench) drawing(p *paper, f *flow, next float64) error {
	s, err := figure.Schematic(b.Hookup, b.Shelf, figure.SchematicOptions{Options: b.Options, Prediction: b.Prediction})
	if err != nil {
		return err
	}
	f.heading(p.say("Wiring"))
	// On this page if it then keeps at least nine tenths of the size it would
	// have on one of its own.
	k := min(1, f.inner()/s.W)
	if s.H*k*0.9 > f.left() {
		f.turn()
	}
	room := f.left()
	if s.H*k*0.94 < room-next-2 { // words of 3.2 mm stay above 8.5 pt
		room -= next + 2
	}
	f.scene(&s, room)
	return nil
}

// joints is the table to wire by.
func (b *Bench) joints(p *paper, f *flow) {
	f.heading(p.say("Joints"))
	cols := []column{{head: p.say("joint"), wide: 12, face: draw.Bold, size: large}, {head: p.say("pins"), wide: 50, face: draw.Bold, size: large},
		{head: p.say("goes to"), wide: 26}, {head: p.say("done"), wide: 8}}
	var rows []row
	for _, j := range b.Hookup.Joints {
		var to []string
		for i, fd := range b.Hookup.Feed {
			plug := ""
			if len(b.Hookup.Feed) > 1 {
				plug = " " + strconv.Itoa(i+1)
			}
			if fd.Live == j.Name {
				to = append(to, p.say("live L of the plug")+plug)
			}
			if fd.Neutral == j.Name {
				to = append(to, p.say("neutral N of the plug")+plug)
			}
		}
		if b.Hookup.Earth == j.Name {
			to = append(to, p.say("protective earth PE"))
		}
		for _, o := range b.Hookup.Outputs {
			if o.From == j.Name || o.To == j.Name || o.DC != nil && o.DC.Middle == j.Name {
				to = append(to, p.say("output %s", o.Name))
			}
		}
		for _, u := range b.Hookup.Fuses {
			if u.From == j.Name || u.To == j.Name {
				to = append(to, p.say("fuse %s", p.words.Fuse(u.Kind, u.Amps)))
			}
		}
		if len(to) == 0 && len(j.Pins) == 1 {
			to = append(to, p.say("a free end: keep it apart"))
		}
		rows = append(rows, row{cells: []cell{words(j.Name), words(strings.Join(j.Pins, "  ")), words(strings.Join(to, ", ")), {blank: true}}})
	}
	f.table(cols, rows)
	var open []string
	for _, t := range b.Hookup.Tags() {
		if u := b.Shelf.Unit(t); u != nil {
			for _, pin := range u.Pins() {
				if b.Hookup.Joints.Of(t+"."+pin) == "" {
					open = append(open, t+"."+pin)
				}
			}
		}
	}
	if len(open) > 0 {
		f.para(p.say("Left open, each insulated by itself: %s", strings.Join(open, ", ")), draw.Regular, "")
	}
}

// readings is what the meter shows when all is right.
func (b *Bench) readings(p *paper, f *flow) {
	pr := b.Prediction
	if pr == nil {
		return
	}
	f.heading(p.say("Readings to expect, finished and at %s mains", p.say(string(pr.Mains))))
	cols := []column{{head: p.say("where"), wide: 30, face: draw.Bold}, {head: p.say("volts"), wide: 22, right: true}, {head: p.say("amps"), wide: 22, right: true}, {head: p.say("95 % within"), wide: 34},
		{head: p.say("may carry"), wide: 26, right: true}, {head: p.say("read"), wide: 48}}
	var rows []row
	add := func(where, volts, amps, within, limit string) {
		rows = append(rows, row{cells: []cell{words(where), words(volts), words(amps), words(within), words(limit), {blank: true}}})
	}
	F := p.Locale.Format
	for i, s := range pr.Feed {
		at := p.say("plug")
		if len(pr.Feed) > 1 {
			at += " " + strconv.Itoa(i+1)
		}
		add(at, F(s.Volts, "V", 4), F(s.Amps, "A", 3), p.words.Within(s.Low, s.High, "A"), "")
	}
	for _, s := range pr.Windings {
		limit := p.say("unknown")
		if s.LimitAmps != nil {
			limit = F(*s.LimitAmps, "A", 3)
			if s.Amps > *s.LimitAmps {
				limit += ", " + p.say("over")
			}
		}
		add(s.Unit+"/"+s.ID, F(s.Volts, "V", 3), F(s.Amps, "A", 3), p.words.Within(s.Low, s.High, "A"), limit)
	}
	for _, s := range pr.Outputs {
		add(p.say("output %s", s.Name), F(s.Volts, "V", 3), F(s.Amps, "A", 3), p.words.Within(s.Low, s.High, "V"), "")
	}
	for _, s := range pr.Meters {
		add(p.say("meter %s", s.Name), F(s.Volts, "V", 3), "", p.words.Within(s.Low, s.High, "V"), "")
	}
	f.table(cols, rows)
}

func (b *Bench) curve(p *paper, f *flow) error {
	if b.Curve == nil {
		return nil
	}
	c := *b.Curve
	c.W, c.H = f.inner(), 54
	if len(b.Hookup.Outputs) == 1 {
		c.Output = "" // the heading says it
	}
	s, err := figure.Load(c, b.Options)
	if err != nil {
		return err
	}
	f.need(s.H + 14)
	f.heading(p.say("Output against load"))
	f.scene(&s, f.left())
	return nil
}

// given counts the readings before answer i.
func (b *Bench) given(i int) int {
	n := 0
	for _, a := range b.Answers[:i] {
		if a.Changed == "" {
			n++
		}
	}
	return n
}

// answer is the last reading given to a step; it stands unless a lead was moved
// since. A good proof has read anew whatever a moved lead touched.
func (b *Bench) answer(step string) (a *yokemate.Answer, stands bool) {
	stands = true
	for i := range slices.Backward(b.Answers) {
		a := &b.Answers[i]
		if a.Changed != "" {
			stands = false
		}
		if a.Step == step && a.Value != "" {
			return a, stands || b.Proof != nil && b.Proof.Proof == yokemate.ProofGood
		}
	}
	return nil, false
}

// limits is what may be asked of it: the mains it is for, what each winding may
// carry, and the limits card.
func (b *Bench) limits(p *paper, f *flow) {
	f.heading(p.say("Limits"))
	var facts []say.Fact
	for i := range b.Hookup.Feed {
		fd := &b.Hookup.Feed[i]
		fuse := p.say("none fitted")
		if fd.FuseAmps > 0 {
			fuse = p.words.Fuse(fd.FuseKind, fd.FuseAmps)
		}
		facts = append(facts, say.Fact{Name: p.say("mains"), Value: p.Locale.Format(fd.Volts.V, "V", 3) + ", " + p.Locale.FormatInterval(fd.At(yokemate.Low), fd.At(yokemate.High), "V") + ", " + p.Locale.Format(fd.Hertz, "Hz", 2)},
			say.Fact{Name: p.say("fuse in the plug's live wire"), Value: fuse})
	}
	if c := b.Limits; c != nil {
		facts = append(facts, say.Fact{Name: p.say("air around it"), Value: p.words.Air(c)},
			say.Fact{Name: p.say("fuse that would serve"), Value: p.words.LiveFuse(c)})
		for _, x := range c.Outputs {
			if x.Fuse != nil {
				facts = append(facts, say.Fact{Name: p.say("fuse of output %s", x.Name), Value: p.words.OutputFuse(x.Fuse)})
			}
		}
		f.results(p.words.Limits(c))
	} else {
		why := p.say(b.Unlimited)
		if why == "" {
			why = p.say("not worked out for this sheet")
		}
		facts = append(facts, say.Fact{Name: p.say("output amps"), Value: why})
	}
	f.pairs(facts)
	c := b.Limits
	if c == nil {
		return
	}
	if together := p.words.Together(c); together != "" {
		f.para(together, draw.Regular, "")
	}
	if c.Estimated {
		f.para(p.words.EstimatedRating(), draw.Regular, yokemate.Caution)
	}
	f.results(p.words.FaultsInShort(c.Faults))
	if links := p.words.LinksWanted(c.ThermalLinks); links != "" {
		f.para(links, draw.Regular, yokemate.Caution)
	}
}

// unproven are the notes that say something is not known.
var unproven = []yokemate.NoteCode{yokemate.InsulationUnknown, yokemate.NotProven, yokemate.EstimatedFacts, yokemate.MainsUnknown, yokemate.LampTooBig, yokemate.EarthMissing}

func (b *Bench) notProven(p *paper, f *flow) {
	f.heading(p.say("What is not proven"))
	var list []string
	for _, n := range b.notes() {
		if slices.Contains(unproven, n.Code) {
			list = append(list, p.say(n.Words))
		}
	}
	if b.Prediction == nil {
		list = append(list, p.say("Nothing was predicted for this sheet."))
	}
	if b.Proof == nil {
		list = append(list, p.say("No step was proved."))
	} else {
		var missing, unsure, before []string
		reads := 0
		for i, s := range b.Proof.Steps {
			if s.Measure == nil {
				continue
			}
			reads++
			switch a, stands := b.answer(s.ID); {
			case a == nil:
				missing = append(missing, strconv.Itoa(i+1))
			case !stands:
				before = append(before, strconv.Itoa(i+1))
			case a.Value == "unsure":
				unsure = append(unsure, strconv.Itoa(i+1))
			}
		}
		switch {
		case len(missing) == reads:
			list = append(list, p.say("No step is read yet."))
		case len(missing) > 0:
			list = append(list, p.say("Not read yet: steps %s", strings.Join(missing, ", ")))
		}
		if len(before) > 0 {
			list = append(list, p.say("Read before a lead was moved: steps %s", strings.Join(before, ", ")))
		}
		if len(unsure) > 0 {
			list = append(list, p.say("Answered unsure: steps %s", strings.Join(unsure, ", ")))
		}
	}
	if len(list) == 0 {
		f.para(p.say("Every step was read. What no reading can show, such as a worn lead or a loose joint, is not proven by this sheet."), draw.Regular, "")
	}
	for _, s := range list {
		f.para(s, draw.Regular, yokemate.Caution)
	}
	// A line for what the bench knows.
	f.need(8)
	f.add(draw.Polyline(edge, f.y+7, f.w-edge, f.y+7).Stroke(draw.Soft, 0.2, 0.6, 0.6))
	f.y += 8
}

// Record is what the codes of this sheet hold: the hookup, the answers, and
// the facts of its units, without their readings, and of its meters.
func (b *Bench) Record() *Record {
	r := &Record{Hookup: *b.Hookup.Clone(), Answers: b.Answers}
	for _, t := range b.Hookup.Tags() {
		if u := b.Shelf.Unit(t); u != nil {
			c := *u
			c.Readings = nil
			r.Units = append(r.Units, c)
		}
	}
	names := []string{b.Meter}
	for _, a := range b.Answers {
		names = append(names, a.Meter)
	}
	for i, n := range names {
		if m := b.Shelf.MeterNamed(n); m != nil && !slices.Contains(names[:i], n) {
			r.Meters = append(r.Meters, *m)
		}
	}
	return r
}

// codes prints the record.
func (b *Bench) codes(p *paper, f *flow) error {
	parts, err := b.Record().Encode()
	if err != nil {
		return err
	}
	var drawn []draw.Scene
	wide, high := 0.0, 0.0
	for _, part := range parts {
		s, err := code(part)
		if err != nil {
			return err
		}
		drawn = append(drawn, s)
		wide += s.W + 4
		high = max(high, s.H+4)
	}
	how := p.say("These codes hold the hookup, its units' facts and the readings printed here, as text. Scan them all, one to a line, and give the text to yokemate restore, or paste it into the bench's page Paper.")
	room := f.inner() - wide
	beside := room >= 50
	below := 0.0
	if !beside {
		below = 12
	}
	f.need(12.6 + below + high)
	f.heading(p.say("Record"))
	if beside {
		for i, l := range draw.Regular.Wrap(draw.Regular.Fit(how), small, room) {
			f.add(run(edge+wide, f.y+small*0.86+module*4+float64(i)*small*leader, l, draw.Regular, small, draw.Start, draw.Ink))
		}
	} else {
		f.para(how, draw.Regular, "")
	}
	x := edge
	for i, s := range drawn {
		if x+s.W > f.w-edge {
			x, f.y = edge, f.y+high+3
		}
		if s.H+5 > f.left() {
			f.turn()
			x = edge
		}
		f.add(s.Place(x, f.y, 1)...)
		f.add(run(x+s.W/2, f.y+s.H+3, p.say("code %s of %s", strconv.Itoa(i+1), strconv.Itoa(len(parts))), draw.Regular, small, draw.Middle, draw.Ink))
		x += s.W + 4
	}
	f.y += high
	return nil
}

// module is the width of one square of a code: five dots of a 300 dpi printer.
const module = 0.42

// code draws a QR code with its quiet zone of four squares (ISO/IEC 18004).
func code(text string) (draw.Scene, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return draw.Scene{}, &yokemate.Error{Code: yokemate.Internal, Message: "a code cannot be drawn", Err: err}
	}
	side := float64(c.Size+8) * module
	s := draw.Scene{W: side, H: side}
	pen := &draw.Pen{}
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			n := 0
			for c.Black(x+n, y) {
				n++
			}
			if n > 0 { // one bar for a run, so that no hairline parts it
				x0, y0 := float64(x+4)*module, float64(y+4)*module
				w := float64(n) * module
				pen.M(x0, y0).L(x0+w, y0).L(x0+w, y0+module).L(x0, y0+module).Z()
				x += n
			}
		}
	}
	s.Add(&draw.Group{Class: "qr", Title: text, Items: []draw.Item{draw.Rect(0, 0, side, side, 0).Fill(draw.White), pen.Fill(draw.Black)}})
	return s, nil
}
