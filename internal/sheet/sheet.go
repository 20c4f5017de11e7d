// Package sheet sets hookups, units and finished supplies on paper: the bench
// sheet with its steps to fill in by hand, and the labels. It also packs a
// record into text for a QR code and reads it back.
//
// It computes nothing: every number on a sheet was computed elsewhere. It
// draws with the same code as the screen, and all of it reads in black and
// white.
package sheet

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rsc.io/qr"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
)

// Bench is what goes on a bench sheet. Only the hookup and the shelf must be there.
type Bench struct {
	figure.Options
	Hookup     *yokemate.Hookup
	Shelf      *yokemate.Shelf
	Prediction *yokemate.Prediction // at nominal mains
	Proof      *yokemate.Proof
	Answers    []yokemate.Answer // readings taken so far
	Limits     []Fact            // what else it may carry or stand
	Curve      *figure.LoadCurves
	Meter      string // that takes the readings; empty: left to fill in
	Page       Page
	Date       time.Time // zero: left to fill in
	Who        string    // empty: left to fill in
}

// Fact is a name with its value in words.
type Fact struct{ Name, Value string }

// paper has the means of saying things.
type paper struct{ figure.Options }

func (p *paper) say(english string, args ...any) string {
	s := english
	if p.Say != nil {
		s = p.Say(english)
	}
	if len(args) == 0 {
		return s
	}
	return fmt.Sprintf(s, args...)
}

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
	p := &paper{b.Options}
	f := newFlow(b.Page, p.say)
	name := b.Hookup.Name
	if name == "" {
		name = p.say("hookup without a name")
	}
	b.title(p, f, name)
	b.cautions(p, f)
	if err := b.drawing(p, f); err != nil {
		return nil, err
	}
	b.joints(p, f)
	b.readings(p, f)
	if err := b.curve(p, f); err != nil {
		return nil, err
	}
	b.steps(p, f)
	b.limits(p, f)
	b.notProven(p, f)
	if err := b.codes(p, f); err != nil {
		return nil, err
	}
	return f.finish(p.say("bench sheet"), name), nil
}

// title is the block at the head: what it is, and who did what when.
func (b *Bench) title(p *paper, f *flow, name string) {
	f.add(run(edge, f.y+3, p.say("bench sheet"), draw.Regular, body, draw.Start, draw.Soft))
	f.y += 5
	for _, l := range draw.Bold.Wrap(draw.Bold.Fit(name), 6.5, f.inner()) {
		f.add(run(edge, f.y+5.4, l, draw.Bold, 6.5, draw.Start, draw.Ink))
		f.y += 8
	}
	f.y += 1
	fields := []Fact{
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
			run(x0+1.2, f.y+3.4, x.Name, draw.Regular, small, draw.Start, draw.Soft),
			run(x0+1.2, f.y+9, draw.Bold.Short(draw.Bold.Fit(x.Value), large, w-2.4), draw.Bold, large, draw.Start, draw.Ink))
		if x.Name == p.say("socket reads") {
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
	f.y += 8.5
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
				f.para(v.Words, draw.Bold, yokemate.Stop)
				break
			}
		}
	}
	list := p.cautions()
	if b.Proof != nil && len(b.Proof.Cautions) > 0 {
		list = append(slices.Clone(b.Proof.Cautions), p.stray())
	}
	for _, c := range list {
		f.para(c, draw.Regular, yokemate.Caution)
	}
	for _, level := range []yokemate.Level{yokemate.Stop, yokemate.Caution} {
		for _, n := range b.notes() {
			if n.Level == level {
				f.para(n.Words, draw.Bold, level)
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

func (b *Bench) drawing(p *paper, f *flow) error {
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
	f.scene(&s, f.left())
	return nil
}

// joints is the table to wire by.
func (b *Bench) joints(p *paper, f *flow) {
	f.heading(p.say("Joints"))
	cols := []column{{head: p.say("joint"), wide: 12, face: draw.Bold, size: large}, {head: p.say("pins"), wide: 50, face: draw.Bold, size: large},
		{head: p.say("goes to"), wide: 26}, {head: p.say("done"), wide: 8}}
	var rows [][]cell
	for _, j := range b.Hookup.Joints {
		var to []string
		for i, fd := range b.Hookup.Feed {
			plug := ""
			if len(b.Hookup.Feed) > 1 {
				plug = fmt.Sprintf(" %d", i+1)
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
				to = append(to, p.say("fuse %s", strings.TrimSpace(u.Kind+" "+p.Locale.Format(u.Amps, "A", 2))))
			}
		}
		if len(to) == 0 && len(j.Pins) == 1 {
			to = append(to, p.say("a free end: keep it apart"))
		}
		rows = append(rows, []cell{words(j.Name), words(strings.Join(j.Pins, "  ")), words(to...), {}})
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
	cols := []column{{head: p.say("where"), wide: 24, face: draw.Bold}, {head: p.say("volts"), wide: 18}, {head: p.say("amps"), wide: 22}, {head: p.say("95 % from"), wide: 26}, {head: p.say("limit"), wide: 14}, {head: p.say("read"), wide: 20}}
	var rows [][]cell
	F := p.Locale.Format
	for i, s := range pr.Feed {
		at := p.say("plug")
		if len(pr.Feed) > 1 {
			at += fmt.Sprintf(" %d", i+1)
		}
		rows = append(rows, []cell{words(at), words(F(s.Volts, "V", 3)), words(F(s.Amps, "A", 3)), words(p.Locale.FormatInterval(s.Low, s.High, "A")), {}, {blank: true}})
	}
	for _, s := range pr.Windings {
		limit := cell{}
		if s.LimitAmps != nil {
			limit = words(F(*s.LimitAmps, "A", 3))
			if s.Amps > *s.LimitAmps {
				limit = limit.bold(p.say("over"))
			}
		}
		rows = append(rows, []cell{words(s.Unit + "/" + s.ID), words(F(s.Volts, "V", 3)), words(F(s.Amps, "A", 3)), words(p.Locale.FormatInterval(s.Low, s.High, "A")), limit, {blank: true}})
	}
	for _, s := range pr.Outputs {
		rows = append(rows, []cell{words(p.say("output %s", s.Name)), words(F(s.Volts, "V", 3)), words(F(s.Amps, "A", 3)), words(p.Locale.FormatInterval(s.Low, s.High, "V")), {}, {blank: true}})
	}
	for _, s := range pr.Meters {
		rows = append(rows, []cell{words(p.say("meter") + " " + s.Name), words(F(s.Volts, "V", 3)), {}, words(p.Locale.FormatInterval(s.Low, s.High, "V")), {}, {blank: true}})
	}
	f.table(cols, rows)
}

func (b *Bench) curve(p *paper, f *flow) error {
	if b.Curve == nil {
		return nil
	}
	s, err := figure.Load(*b.Curve, b.Options)
	if err != nil {
		return err
	}
	f.need(s.H + 14)
	f.heading(p.say("Output against load"))
	f.scene(&s, f.left())
	return nil
}

// quantity says what the meter is set to.
func (p *paper) quantity(q yokemate.Quantity) string {
	switch q {
	case yokemate.VoltsAC:
		return p.say("AC volts")
	case yokemate.VoltsDC:
		return p.say("DC volts")
	case yokemate.Millivolts:
		return p.say("DC millivolts at 1 A")
	case yokemate.Ohms:
		return p.say("ohms")
	case yokemate.AmpsAC:
		return p.say("AC amps")
	case yokemate.Watts:
		return p.say("watts")
	case yokemate.Megohms:
		return p.say("insulation tester")
	case yokemate.Celsius:
		return p.say("temperature")
	case yokemate.Kick:
		return p.say("needle's kick")
	}
	return string(q)
}

// steps is the proof as a table to fill in.
func (b *Bench) steps(p *paper, f *flow) {
	f.heading(p.say("Steps"))
	if b.Proof == nil {
		f.para(p.say("No proof was made for this sheet. Do not power it before one is."), draw.Bold, yokemate.Stop)
		return
	}
	cols := []column{{head: p.say("no."), wide: 8, face: draw.Bold, size: body}, {head: p.say("do"), wide: 46}, {head: p.say("right"), wide: 24}, {head: p.say("wrong: what it would read, and why"), wide: 54}, {head: p.say("read"), wide: 23, face: draw.Bold, size: 3.6}, {head: p.say("go or stop"), wide: 27}}
	told := map[string]bool{}
	var rows [][]cell
	for i := range b.Proof.Steps {
		s := &b.Proof.Steps[i]
		no, do := fmt.Sprint(i+1), words(s.Do)
		unit := ""
		var right cell
		read := cell{blank: s.Measure != nil}
		if m := s.Measure; m != nil {
			unit = m.Quantity.Unit()
			read.unit = unit
			at := p.say("%s from %s to %s", p.quantity(m.Quantity), p.point(s, m.From), p.point(s, m.To))
			switch {
			case m.From == "feed":
				at = p.say("%s in the plug's live wire", p.quantity(m.Quantity))
			case m.To == "":
				at = p.say("%s at %s", p.quantity(m.Quantity), p.point(s, m.From))
			}
			do = do.bold(at)
			if m.BurdenOhms > 0 {
				do.lines = append(do.lines, styled{s: p.say("with %s across the probes", p.Locale.Format(m.BurdenOhms, "Ω", 3))})
			}
			switch {
			case s.Right == nil:
				right = right.bold(p.say("over (open)"))
			case m.Quantity == yokemate.Megohms:
				right = right.bold(p.say("%s or more", p.Locale.Format(s.Right.Low, unit, 3)))
			default:
				right = right.bold(p.Locale.Format(s.Right.Value, unit, 3))
				right.lines = append(right.lines, styled{s: p.Locale.FormatInterval(s.Right.Low, s.Right.High, unit)})
			}
		}
		verdict := words(p.say("□ go"), p.say("□ change"), p.say("□ stop"))
		if s.Measure == nil {
			verdict = words(p.say("□ done"))
		}
		most := groupsShown
		if a, stands := b.answer(s.ID); a != nil {
			if stands {
				most = groupsRead
			}
			t := string(a.Value)
			if p.Locale.Decimal != "" {
				t = strings.Replace(t, ".", p.Locale.Decimal, 1)
			}
			if _, err := yokemate.Read(string(a.Value)); err == nil && unit != "" {
				t += " " + unit
			}
			read = words(t)
			if a.Reason != "" {
				do.lines = append(do.lines, styled{s: p.say("overruled: %s", a.Reason)})
			}
			for _, v := range b.Proof.Verdicts {
				if stands && v.Step == s.ID {
					verdict = cell{}.bold(strings.ToUpper(p.say(v.Verdict)))
					verdict.lines = append(verdict.lines, styled{s: v.Words})
				}
			}
			if !stands {
				verdict.lines = append(verdict.lines, styled{s: p.say("read before a lead was moved")})
			}
		}
		rows = append(rows, []cell{words(no), do, right, p.wrong(s, most, told), read, verdict})
	}
	f.table(cols, rows)
	for i, a := range b.Answers {
		if a.Changed != "" {
			f.para(p.say("Lead moved after reading %s: %s", fmt.Sprint(b.given(i)), b.slip(a.Changed)), draw.Bold, "")
		}
	}
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

// slip is the words of a slip's code, where a step has them.
func (b *Bench) slip(code string) string {
	for i := range b.Proof.Steps {
		for _, s := range b.Proof.Steps[i].Slips {
			if s.Code == code {
				return s.Words
			}
		}
	}
	return code
}

// point names a joint by its pins as they are joined at a step.
func (p *paper) point(s *yokemate.Step, name string) string {
	j := s.State.Joints.Joint(name)
	switch {
	case j == nil:
		return name
	case len(j.Pins) == 1:
		return p.say("pin %s", j.Pins[0])
	}
	return p.say("joint %s: %s", name, strings.Join(j.Pins, ", "))
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

func (b *Bench) limits(p *paper, f *flow) {
	f.heading(p.say("Limits"))
	var facts []Fact
	for i := range b.Hookup.Feed {
		fd := &b.Hookup.Feed[i]
		facts = append(facts, Fact{p.say("mains"), p.Locale.Format(fd.Volts.V, "V", 3) + ", " + p.Locale.FormatInterval(fd.At(yokemate.Low), fd.At(yokemate.High), "V") + ", " + p.Locale.Format(fd.Hertz, "Hz", 2)})
		fuse := p.say("none fitted")
		if fd.FuseAmps > 0 {
			fuse = strings.TrimSpace(fd.FuseKind + " " + p.Locale.Format(fd.FuseAmps, "A", 2))
		}
		facts = append(facts, Fact{p.say("fuse in the plug's live wire"), fuse})
	}
	if b.Prediction != nil {
		for _, w := range b.Prediction.Windings {
			limit := p.say("not known")
			if w.LimitAmps != nil {
				limit = p.say("at most %s", p.Locale.Format(*w.LimitAmps, "A", 3))
			}
			facts = append(facts, Fact{p.say("winding %s", w.Unit+"/"+w.ID), limit})
		}
	}
	facts = append(facts, b.Limits...)
	var rows [][]cell
	for _, x := range facts {
		rows = append(rows, []cell{words(x.Name), words(x.Value)})
	}
	f.table([]column{{head: p.say("what"), wide: 60}, {head: p.say("value"), wide: 120, face: draw.Bold}}, rows)
}

// unproven are the notes that say something is not known.
var unproven = []yokemate.NoteCode{yokemate.InsulationUnknown, yokemate.NotProven, yokemate.EstimatedFacts, yokemate.MainsUnknown, yokemate.LampTooBig, yokemate.EarthMissing}

func (b *Bench) notProven(p *paper, f *flow) {
	f.heading(p.say("What is not proven"))
	var list []string
	for _, n := range b.notes() {
		if slices.Contains(unproven, n.Code) {
			list = append(list, n.Words)
		}
	}
	if b.Prediction == nil {
		list = append(list, p.say("Nothing was predicted for this sheet."))
	}
	if b.Proof == nil {
		list = append(list, p.say("No step was proved."))
	} else {
		var missing, unsure, before []string
		for i, s := range b.Proof.Steps {
			if s.Measure == nil {
				continue
			}
			switch a, stands := b.answer(s.ID); {
			case a == nil:
				missing = append(missing, fmt.Sprint(i+1))
			case !stands:
				before = append(before, fmt.Sprint(i+1))
			case a.Value == "unsure":
				unsure = append(unsure, fmt.Sprint(i+1))
			}
		}
		if len(missing) > 0 {
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
	for range 2 { // for what the bench knows
		f.need(8)
		f.add(draw.Polyline(edge, f.y+7, f.w-edge, f.y+7).Stroke(draw.Soft, 0.2, 0.6, 0.6))
		f.y += 8
	}
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
	f.need(qrMax + 24)
	f.heading(p.say("Record"))
	f.para(p.say("These codes hold the hookup, its units' facts and the readings printed here, as text. Scan them all, one to a line, and give the text to yokemate restore."), draw.Regular, "")
	x, high := edge, 0.0
	for i, part := range parts {
		s, err := code(part)
		if err != nil {
			return err
		}
		if x+s.W > f.w-edge {
			x, f.y, high = edge, f.y+high+3, 0
		}
		if s.H+5 > f.left() {
			f.turn()
			x, high = edge, 0
		}
		f.add(s.Place(x, f.y, 1)...)
		f.add(run(x+s.W/2, f.y+s.H+3, p.say("code %s of %s", fmt.Sprint(i+1), fmt.Sprint(len(parts))), draw.Regular, small, draw.Middle, draw.Ink))
		x += s.W + 4
		high = max(high, s.H+4)
	}
	f.y += high
	return nil
}

// module is the width of one square of a code: five dots of a 300 dpi printer.
const module = 0.42

// qrMax is the largest code that a part makes, with its quiet zone: version 17.
const qrMax = (85 + 8) * module

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
