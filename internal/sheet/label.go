package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
	"yokemate/internal/say"
)

// Label sizes [mm].
const (
	UnitLabelW, UnitLabelH     = 60.0, 40.0
	SupplyLabelW, SupplyLabelH = 90.0, 60.0
)

// UnitLabel is what goes on a unit's label beside the unit itself. Zero values
// leave a blank to fill in, or say that it is not known.
type UnitLabel struct {
	figure.Options
	Unit   *yokemate.Unit
	DCAmps map[string]float64 // by winding: what it gives behind a bridge and a reservoir [A]
	Fuse   string             // in the live wire, as "T 0.05 A"
	Fuses  []say.Fact         // behind the windings, by winding
	RiseK  float64            // of a heat run [K]; 0: none was made
	DoNot  string             // one line; empty: the one that follows from the facts
	Date   time.Time
	Who    string
}

// line sets words that must fit: smaller down to two thirds, then shortened.
func line(x, y, w float64, s string, face draw.Face, size float64, a draw.Anchor) *draw.Text {
	s = face.Fit(s)
	if m := face.Measure(s, size); m > w {
		size = max(size*w/m, size*2/3)
	}
	return run(x, y, face.Short(s, size, w), face, size, a, draw.Ink)
}

// block sets words that may not be cut, wrapped within w by h: as large as fits,
// from size down to two thirds; beyond that still whole, and smaller.
func block(x, y, w, h float64, s string, face draw.Face, size float64) []draw.Item {
	s = face.Fit(s)
	var lines []string
	for ; ; size *= 0.96 {
		lines = face.Wrap(s, size, w)
		if float64(len(lines))*size*1.18 <= h {
			break
		}
	}
	var items []draw.Item
	for i, l := range lines {
		items = append(items, run(x, y+size*(0.86+1.18*float64(i)), l, face, size, draw.Start, draw.Ink))
	}
	return items
}

// Scene sets the label, 60 by 40 mm, in black alone.
func (l *UnitLabel) Scene() draw.Scene {
	p := newPaper(l.Options)
	u := l.Unit
	const x0, x1 = 1.8, UnitLabelW - 1.8
	s := draw.Scene{W: UnitLabelW, H: UnitLabelH, Title: p.say("label of unit %s", u.Tag)}
	s.Add(draw.Rect(0.4, 0.4, UnitLabelW-0.8, UnitLabelH-0.8, 1.2).Stroke(draw.Ink, 0.3))
	s.Add(block(x0, 0.9, 25, 7.1, u.Tag, draw.Bold, 6)...)
	mains := p.say("mains side not known")
	if m := u.Mains; m != nil {
		mains = p.Locale.Format(m.Volts, "V", 3) + " " + p.Locale.Format(m.Hertz, "Hz", 2)
		if u.VA.Known() {
			mains += ", " + p.value(u.VA, "VA")
		}
	}
	s.Add(line(x1, 3.6, 32, mains, draw.Bold, small, draw.End))
	by := strings.TrimSpace(p.date(l.Date) + " " + l.Who)
	if by == "" {
		by = p.say("date, by") + " ............"
	}
	s.Add(line(x1, 7, 32, by, draw.Regular, 2.4, draw.End))
	s.Add(draw.Polyline(0.4, 8, UnitLabelW-0.4, 8).Stroke(draw.Ink, 0.3))
	// The windings: pins large, the start end with its dot. Below them stay
	// the fuse, the insulation, and two lines of warning.
	const top, low = 8.4, 28.0
	n := len(u.Windings)
	cols := 1
	if n > 4 {
		cols = 2
	}
	rows := (n + cols - 1) / cols
	step := min(5.1, (low-top)/float64(max(rows, 1)))
	size := min(large, step*0.95)
	w := (x1 - x0) / float64(cols)
	further := false
	for i := range u.Windings {
		wd := &u.Windings[i]
		x, y := x0+w*float64(i/rows), top+step*(float64(i%rows)+1)-0.9
		s.Add(draw.Circle(x+0.8, y-size*0.36, 0.75).Fill(draw.Ink))
		pins := line(x+2.1, y, w*0.45, wd.Pins[0]+"–"+wd.Pins[1], draw.Bold, size, draw.Start)
		s.Add(pins)
		from := pins.Box().X1 + 1.5
		room := x + w - from - 0.8
		volts, amps := wd.ID, ""
		if wd.Volts.Known() {
			volts += " " + p.Locale.Format(wd.Volts.V, "V", 3)
		}
		if wd.Amps.Known() {
			amps = p.Locale.Format(down(wd.Amps.V, 3), "A", 3)
		}
		if a := l.DCAmps[wd.ID]; a > 0 {
			amps = strings.TrimSpace(amps + " (" + p.say("DC %s", p.Locale.Format(down(a, 2), "A", 2)) + ")")
		}
		switch {
		case cols == 1:
			s.Add(line(from, y-0.3, room, strings.TrimSpace(volts+" "+amps), draw.Regular, small, draw.Start))
		case step > 4.4:
			s.Add(line(from, y-size*0.45, room, volts, draw.Regular, 2.3, draw.Start), line(from, y+0.3, room, amps, draw.Regular, 2, draw.Start))
		default: // no room for amps, and the foot says where they are
			s.Add(line(from, y-0.3, room, volts, draw.Regular, size*0.8, draw.Start))
			further = true
		}
	}
	s.Add(draw.Polyline(0.4, low+0.6, UnitLabelW-0.4, low+0.6).Stroke(draw.Ink, 0.2))
	fuse := l.Fuse
	if fuse == "" {
		fuse = "......"
	}
	if len(l.Fuses) > 0 && rows <= 3 && cols == 1 { // there is room to say more of them
		parts := []string{p.say("%s in the live wire", fuse)}
		for _, x := range l.Fuses {
			parts = append(parts, x.Name+" "+x.Value)
		}
		s.Add(line(x0, low-0.9, x1-x0, p.say("fuse")+": "+strings.Join(parts, "; "), draw.Regular, 2.7, draw.Start))
	}
	rise := "......"
	if l.RiseK > 0 {
		rise = p.Locale.Format(l.RiseK, "K", 2)
	}
	foot := p.say("dot = start end; no-load volts; fuse %s; rise %s", fuse, rise)
	if further {
		foot += "; " + p.say("amps: see the sheet")
	}
	s.Add(line(x0, 31, x1-x0, foot, draw.Regular, 2.4, draw.Start))
	s.Add(line(x0, 33.7, x1-x0, p.insulation(u), draw.Regular, 2.4, draw.Start))
	s.Add(block(x0, 34.4, x1-x0, 5, l.doNot(p), draw.Bold, 2.7)...)
	return s
}

// insulation sums up the tests of a unit: the lowest megohms to the core and
// between the mains side and the others, or that they are not proven.
func (p *paper) insulation(u *yokemate.Unit) string {
	least, volts := math.Inf(1), math.Inf(1)
	mains := map[string]bool{}
	tested := map[string]bool{}
	for i := range u.Windings {
		mains[u.Windings[i].ID] = u.MainsSide(u.Windings[i].ID)
	}
	for _, t := range u.Insulation {
		if !t.Megohms.Known() {
			continue
		}
		least = min(least, t.Megohms.V)
		volts = min(volts, t.TestVolts)
		tested[t.From+"\x00"+t.To], tested[t.To+"\x00"+t.From] = true, true
	}
	if math.IsInf(least, 1) {
		return p.say("insulation NOT proven")
	}
	s := p.say("insulation at least %s at %s", p.Locale.Format(least*1e6, "Ω", 2), p.Locale.Format(volts, "V", 3))
	for i := range u.Windings {
		a := u.Windings[i].ID
		if !tested[a+"\x00"+yokemate.CorePin] {
			return s + "; " + p.say("not all pairs tested")
		}
		for j := range u.Windings[:i] {
			if b := u.Windings[j].ID; mains[a] != mains[b] && !tested[a+"\x00"+b] {
				return s + "; " + p.say("not all pairs tested")
			}
		}
	}
	return s
}

// doNot is the one line of warning.
func (l *UnitLabel) doNot(p *paper) string {
	u := l.Unit
	switch {
	case u.CoreJoined() != "":
		return p.say("STOP: winding %s ends on the core. Do not energise.", u.CoreJoined())
	case u.Quarantined():
		return strings.TrimSuffix(p.say("STOP: quarantine. Do not energise. %s", u.Reason), " ")
	case l.DoNot != "":
		return l.DoNot
	case u.Mains == nil || len(u.Mains.Series) == 0:
		return p.say("Do not connect to mains: mains side not known.")
	}
	// The two ends of the series, and what is joined within it: mains across one
	// winding of two would be twice what it stands.
	var from, to string
	var links []string
	for _, id := range u.Mains.Series {
		w := u.Winding(id)
		if w == nil {
			continue
		}
		switch {
		case from == "":
			from = w.Pins[0]
		case to != w.Pins[0]:
			links = append(links, to+"–"+w.Pins[0])
		}
		to = w.Pins[1]
	}
	if len(links) > 0 {
		return p.say("Mains on %s alone, and only with %s joined.", from+"–"+to, strings.Join(links, ", "))
	}
	return p.say("Do not put mains on any pins but %s.", from+"–"+to)
}

// Supply is what goes on the label of a finished supply.
type Supply struct {
	figure.Options
	Hookup     *yokemate.Hookup
	Prediction *yokemate.Prediction // at nominal mains
	Proof      *yokemate.Proof
	For        string // in plain words: "for lights"
	NotFor     string // "not for charging batteries"
	Limits     *yokemate.LimitsCard
	Unlimited  string // why there are no limits, where there are none
	Date       time.Time
	Who        string
}

// Scene sets the label, 90 by 60 mm. What it gives stands first, in plain words.
func (l *Supply) Scene() draw.Scene {
	p := newPaper(l.Options)
	const x0, x1 = 3.0, SupplyLabelW - 3
	name := l.Hookup.Name
	if name == "" {
		name = p.say("hookup without a name")
	}
	s := draw.Scene{W: SupplyLabelW, H: SupplyLabelH, Title: p.say("label of supply %s", name)}
	s.Add(draw.Rect(0.6, 0.6, SupplyLabelW-1.2, SupplyLabelH-1.2, 1.8).Stroke(draw.Ink, 0.4))
	y := 4.6
	s.Add(line(x0, y, x1-x0-28, name, draw.Regular, body, draw.Start))
	s.Add(line(x1, y, 26, strings.TrimSpace(p.date(l.Date)+" "+l.Who), draw.Regular, small, draw.End))
	// Up to three outputs, the front line.
	y += 1
	for i := range l.Hookup.Outputs {
		if i == 3 {
			s.Add(line(x0, y+3.4, x1-x0, p.say("and %s more outputs: see the sheet", fmt.Sprint(len(l.Hookup.Outputs)-i)), draw.Regular, small, draw.Start))
			y += 4
			break
		}
		o := &l.Hookup.Outputs[i]
		size := 7.0
		if len(l.Hookup.Outputs) > 1 {
			size = 4.6
		}
		y += size * 1.15
		s.Add(line(x0, y, x1-x0, l.front(p, o), draw.Bold, size, draw.Start))
	}
	use := strings.TrimSpace(strings.Join([]string{say.Sentence(l.For), say.Sentence(l.NotFor)}, " "))
	if use != "" {
		s.Add(block(x0, y+1.8, x1-x0, 5, use, draw.Bold, 3.8)...)
		y += 6
	}
	y += 1.9
	s.Add(draw.Polyline(0.6, y, SupplyLabelW-0.6, y).Stroke(draw.Ink, 0.3))
	level, words := l.isolation(p)
	y += 1.2
	s.Add(figure.BadgeMark(level, x0+2.6, y+2.6, 5)...)
	s.Add(block(x0+6.4, y+0.6, 38, 4.6, words, draw.Bold, 3.6)...)
	proved := yokemate.Caution
	said := p.say("NOT PROVED")
	if l.Proof != nil {
		switch l.Proof.Proof {
		case yokemate.ProofGood:
			proved, said = yokemate.Go, p.say("PROVED")
		case yokemate.ProofStopped:
			proved, said = yokemate.Stop, p.say("PROOF STOPPED: do not use")
		}
	}
	if l.Prediction != nil && yokemate.Worst(l.Prediction.Notes) == yokemate.Stop || l.Proof != nil && yokemate.Worst(l.Proof.Notes) == yokemate.Stop {
		proved, said = yokemate.Stop, p.say("STOP: do not use")
	}
	s.Add(figure.BadgeMark(proved, x0+48, y+2.6, 5)...)
	s.Add(block(x0+52, y+0.6, x1-x0-52, 4.6, said, draw.Bold, 3.6)...)
	y += 6
	facts := l.facts(p)
	const warnHigh, step = 8.2, 3.4
	room := int((SupplyLabelH - warnHigh - 2.4 - y) / step)
	if len(facts)+1 < room { // a line stays clear above the warning
		facts = append(facts, l.volts(p)...)
	}
	for i, x := range facts {
		text := x.Name + ": " + x.Value
		if i+1 == room && i+1 < len(facts) {
			text = p.say("further limits: see the sheet")
		}
		y += step
		s.Add(line(x0, y, x1-x0, text, draw.Regular, small, draw.Start))
		if i+1 == room {
			break
		}
	}
	s.Add(block(x0, SupplyLabelH-1.8-warnHigh, x1-x0, warnHigh, p.say("Pull the plug before opening. Replace the fuse by the same kind and value. Local codes and licensed practice come first."), draw.Bold, small)...)
	return s
}

// facts are what stands below the front line: the mains and what the limits
// card says, each amps rounded down.
func (l *Supply) facts(p *paper) []say.Fact {
	var all []say.Fact
	add := func(name string, parts ...string) {
		parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
		all = append(all, say.Fact{Name: name, Value: strings.Join(parts, "; ")})
	}
	c := l.Limits
	for i := range l.Hookup.Feed {
		fd := &l.Hookup.Feed[i]
		fuse, serves := p.say("no fuse"), ""
		if fd.FuseAmps > 0 {
			fuse = p.say("fuse %s", p.words.Fuse(fd.FuseKind, fd.FuseAmps))
		}
		if c != nil && i == 0 && (c.PrimaryFuse != fd.FuseAmps || c.FuseKind != fd.FuseKind) {
			serves = p.say("none serves")
			if c.PrimaryFuse > 0 {
				serves = p.say("%s would serve", p.words.Fuse(c.FuseKind, c.PrimaryFuse))
			}
		}
		add(p.say("mains"), p.Locale.Format(fd.Volts.V, "V", 3)+" "+p.Locale.Format(fd.Hertz, "Hz", 2)+", "+p.Locale.FormatInterval(fd.At(yokemate.Low), fd.At(yokemate.High), "V"), fuse, serves)
	}
	if c == nil {
		if l.Unlimited != "" {
			add(p.say("output amps"), p.say(l.Unlimited))
		}
		return all
	}
	for _, o := range c.Outputs {
		part := p.say("%s for %s, up to %s", p.Locale.Format(down(o.DutyAmps, 2), "A", 2), say.Percent(o.Duty), p.Locale.Format(o.DutyOnS, "s", 2))
		bridge, fuse := "", ""
		if o.BridgeAmps > 0 {
			bridge = p.say("%s DC behind a bridge", p.Locale.Format(down(o.BridgeAmps, 2), "A", 2))
		}
		if o.Fuse != nil {
			fuse = p.words.OutputFuse(o.Fuse)
		}
		if len(c.Outputs) > 1 {
			if fuse != "" {
				fuse = p.say("fuse %s", fuse)
			}
			add(o.Name, part, bridge, fuse)
			continue
		}
		add(p.say("at most"), part, bridge)
		if fuse != "" {
			add(p.say("output fuse"), fuse)
		}
	}
	if len(c.ThermalLinks) > 0 {
		add(p.say("thermal link"), p.words.Links(c.ThermalLinks), p.say("no fuse does its work"))
	}
	add(p.say("air around it"), p.words.Air(c))
	if c.Estimated {
		add(p.say("caution"), p.words.EstimatedRating())
	}
	return all
}

// volts are those of a single output, where there is room to say more of them
// than the front line does.
func (l *Supply) volts(p *paper) []say.Fact {
	if l.Limits == nil || len(l.Limits.Outputs) != 1 {
		return nil
	}
	o := l.Limits.Outputs[0]
	return []say.Fact{{Name: p.say("volts"), Value: p.say("%s with no load", p.Locale.Format(o.NoLoad, "V", 3)) + "; " + p.say("at its limit %s", p.Locale.FormatInterval(o.AtLow, o.AtHigh, "V"))}}
}

// down rounds to sig digits towards 0: a limit on a label never says more than
// there is.
func down(v float64, sig int) float64 {
	if !(v > 0) {
		return 0
	}
	k := math.Pow(10, float64(sig-1)-math.Floor(math.Log10(v)))
	return math.Floor(v*k*(1+1e-9)) / k
}

// front says what an output gives.
func (l *Supply) front(p *paper, o *yokemate.Output) string {
	kind := p.say("AC")
	if o.DC != nil {
		kind = p.say("DC")
	}
	volts, amps := p.say("volts not known"), ""
	if l.Prediction != nil {
		for _, s := range l.Prediction.Outputs {
			if s.Name == o.Name {
				volts = p.Locale.Format(s.Volts, "V", 3) + " " + kind
				if s.Amps > 0 {
					amps = ", " + p.Locale.Format(s.Amps, "A", 2)
				}
			}
		}
	}
	if l.Limits != nil {
		for _, x := range l.Limits.Outputs {
			if x.Name == o.Name && x.Amps > 0 {
				amps = ", " + p.say("at most %s", p.Locale.Format(down(x.Amps, 2), "A", 2))
			}
		}
	}
	s := volts + amps
	if len(l.Hookup.Outputs) > 1 {
		s = o.Name + ": " + s
	}
	return s
}

// isolation says whether the outputs are kept from the mains, as far as that is known.
func (l *Supply) isolation(p *paper) (yokemate.Level, string) {
	if l.Prediction == nil {
		return yokemate.Caution, p.say("isolation not checked")
	}
	level, words := yokemate.Go, p.say("isolated from mains")
	for _, n := range l.Prediction.Notes {
		switch n.Code {
		case yokemate.NotIsolated:
			return yokemate.Stop, p.say("NOT isolated from mains")
		case yokemate.InsulationUnknown, yokemate.InsulationExceeded, yokemate.CoreJoined, yokemate.NotProven:
			level, words = yokemate.Caution, p.say("isolation not proven")
		}
	}
	return level, words
}
