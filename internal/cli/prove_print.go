package cli

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/prove"
	"yokemate/si"
)

// meterOver is from where on a step's ohms stand for "over" [Ω].
const meterOver = 1e9

func itoa(n int) string { return strconv.Itoa(n) }

func chance(p float64) string {
	switch {
	case p < 0.005:
		return "below 1 %"
	case p < 1 && p > 0.995:
		return "above 99 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}

// report prints what the answers so far amount to, or the whole plan. A
// stopped proof is a no.
func (b *proving) report(a *App, plan bool) error {
	if err := b.show(a, plan); err != nil {
		return err
	}
	if b.session.State() == yokemate.ProofStopped {
		return ErrNo
	}
	return nil
}

func (b *proving) show(a *App, plan bool) error {
	if a.AsJSON {
		return a.JSON(b.session.Proof())
	}
	b.head(a)
	if plan {
		b.printPlan(a)
	}
	if len(b.taken) > 0 {
		a.Print("\n")
		b.answers(a)
	}
	b.foot(a)
	a.cautions(prove.Cautions())
	return nil
}

// head names the hookup and what the prediction says against it.
func (b *proving) head(a *App) {
	name := b.hookup.Name
	if name == "" {
		name = "hookup"
	}
	notes := b.plan.Notes()
	a.Print("%s: proof in %d steps\n%s\n", name, len(b.plan.IDs()), worstWords(notes))
	a.notes(slices.DeleteFunc(slices.Clone(notes), func(n yokemate.Note) bool { return n.Level == yokemate.Info }))
}

// foot tells how far the proof has come and what is next.
func (b *proving) foot(a *App) {
	a.Print("\n")
	switch b.session.State() {
	case yokemate.ProofGood:
		a.Para("● GOOD     ", "Every step is passed.")
	case yokemate.ProofStopped:
		a.Para("■ STOPPED  ", "Power off. Nothing goes on from here until what stopped it is read anew or mended.")
	default:
		a.Para("○ OPEN     ", "Next: "+b.session.Next()+". "+b.plan.Step(b.session.Next()).Do)
	}
	for _, n := range b.session.Notes() {
		a.Para(levelMark(n.Level), n.About+": "+n.Words+" ("+string(n.Code)+")")
	}
}

// printPlan prints every step.
func (b *proving) printPlan(a *App) {
	ids := b.plan.IDs()
	for i, id := range ids {
		a.Print("\n")
		b.step(a, i+1, len(ids), b.plan.Step(id), math.MaxInt)
	}
}

// step prints one step: what to do, where the probes go, what the meter shows
// if all is right and what for each slip, as far as most lines of those.
func (b *proving) step(a *App, n, of int, s *yokemate.Step, most int) {
	a.Print("Step %d of %d: %s\n", n, of, s.ID)
	a.Para("  Do      ", s.Do)
	if s.Measure == nil {
		return
	}
	a.Para("  Probes  ", probes(s))
	a.Para("  Right   ", rightText(s.Right, s.Measure.Quantity))
	groups := slipGroups(s)
	for i, g := range groups {
		if i == most {
			a.Para("          ", fmt.Sprintf("… and %d more readings of other slips; \"all\" shows them", len(groups)-i))
			break
		}
		head := "          "
		if i == 0 {
			head = "  Wrong   "
		}
		a.Para(head, g.text(s))
	}
	if len(groups) == 0 && s.Measure.Quantity != yokemate.Megohms {
		a.Para("  Wrong   ", "no slip on the list shows here")
	}
}

// rightText says a right reading.
func rightText(v *yokemate.Interval, q yokemate.Quantity) string {
	switch {
	case v == nil:
		return "over (open)"
	case q == yokemate.Megohms:
		return si.Format(v.Low, q.Unit(), 3) + " or more"
	}
	return within(v.Low, v.High, q.Unit())
}

// probes says what the meter is set to and where it goes.
func probes(s *yokemate.Step) string {
	m := s.Measure
	set := quantityWords(m.Quantity)
	if m.From == "feed" {
		return set + " in the plug's live wire"
	}
	text := set + " from " + point(s, m.From) + " to " + point(s, m.To)
	if m.BurdenOhms > 0 {
		text += ", with " + si.Format(m.BurdenOhms, "Ω", 3) + " across the probes"
	}
	return text
}

// point names a joint by its pins.
func point(s *yokemate.Step, name string) string {
	j := s.State.Joints.Joint(name)
	switch {
	case j == nil:
		return name // a pin
	case len(j.Pins) == 1:
		return "pin " + j.Pins[0]
	}
	return "joint " + name + " (" + strings.Join(j.Pins, ", ") + ")"
}

// nothing is what a bench meter shows as about nothing.
func nothing(q yokemate.Quantity) float64 {
	switch q {
	case yokemate.VoltsAC, yokemate.Watts:
		return 0.01
	case yokemate.AmpsAC:
		return 1e-4
	}
	return 0
}

// slipGroup is slips that read nearly alike at a step.
type slipGroup struct {
	value     float64
	low, high float64
	slips     []yokemate.Slip
}

// wide reports whether an interval is too wide to be called about its value.
func wide(v, low, high float64) bool { return high-low > 0.3*math.Abs(v) }

func slipGroups(s *yokemate.Step) []slipGroup {
	var list []slipGroup
	for _, x := range s.Slips {
		at := slices.IndexFunc(list, func(g slipGroup) bool {
			if x.High <= nothing(s.Measure.Quantity) {
				return g.high <= nothing(s.Measure.Quantity)
			}
			if wide(x.Value, x.Low, x.High) != wide(g.value, g.low, g.high) {
				return false // a ghost may be anything; it must not blur a clear reading
			}
			return math.Abs(g.value-x.Value) <= 0.03*math.Max(math.Abs(g.value), math.Abs(x.Value))
		})
		if at < 0 {
			list = append(list, slipGroup{value: x.Value, low: x.Low, high: x.High})
			at = len(list) - 1
		}
		g := &list[at]
		g.slips = append(g.slips, x)
		g.low, g.high = math.Min(g.low, x.Low), math.Max(g.high, x.High)
	}
	return list
}

func (g *slipGroup) text(s *yokemate.Step) string {
	unit := s.Measure.Quantity.Unit()
	var b strings.Builder
	switch {
	case g.value >= meterOver && s.Measure.Quantity == yokemate.Ohms:
		b.WriteString("over (open)")
	case g.high <= nothing(s.Measure.Quantity):
		b.WriteString("about nothing")
	case wide(g.value, g.low, g.high):
		b.WriteString(within(g.low, g.high, unit))
	default:
		b.WriteString("about " + si.Format(g.value, unit, 2))
	}
	var names []string
	var worst *yokemate.IfClosed
	for _, x := range g.slips {
		names = append(names, slipName(x.Code))
		if c := x.IfClosed; c != nil && (worst == nil || c.WindingAmps > worst.WindingAmps) {
			worst = c
		}
	}
	b.WriteString(": " + strings.Join(names, "; "))
	if r := s.Right; r != nil && g.value >= r.Low && g.value <= r.High {
		b.WriteString(" (it looks right here; another reading tells)")
	}
	if worst != nil {
		b.WriteString(". " + closedText(worst))
	}
	return b.String()
}

// closedText says what follows when a gap is closed on a slip.
func closedText(c *yokemate.IfClosed) string {
	if c.Winding == "" {
		return "Closed on it: " + strings.TrimSuffix(c.Protects, ".")
	}
	if c.WindingAmps < 1e-6 {
		return "Closed on it, nothing flows"
	}
	text := fmt.Sprintf("Closed on it, %s in %s and %s from the mains", si.Format(c.WindingAmps, "A", 2), c.Winding, si.Format(c.FeedAmps, "A", 2))
	if c.LimitS == nil && c.FuseOpens == "no" {
		return text + ": no winding grows too hot, and the fuse does not open"
	}
	switch c.FuseOpens {
	case "yes":
		text += "; the fuse opens"
		if c.OpensS != nil {
			text += " within " + si.Format(*c.OpensS, "s", 2)
		}
	case "no":
		text += "; the fuse does NOT open"
	default:
		text += "; the fuse may NOT open in time"
	}
	if c.LimitS != nil {
		text += "; too hot after " + si.Format(*c.LimitS, "s", 2)
	}
	if c.Protects != "" {
		text += ". " + strings.TrimSuffix(c.Protects, ".")
	}
	return text
}

// verdictMark is a verdict as a shape and a word.
func verdictMark(v *yokemate.Verdict) string {
	switch v.Verdict {
	case "go":
		return "● GO       "
	case "change":
		return "◆ CHANGE   "
	case "stop":
		return "■ STOP     "
	}
	return "▲ UNSURE   "
}

// answers prints every answer with its verdict.
func (b *proving) answers(a *App) {
	name, read := 0, 0
	for _, t := range b.taken {
		name = max(name, len(t.answer.Step))
		read = max(read, len([]rune(b.shown(&t.answer))))
	}
	for _, t := range b.taken {
		switch {
		case t.answer.Changed != "":
			a.Para("◇ MOVED    ", "the lead is moved: "+slipName(t.answer.Changed)+" is mended")
		case t.verdict == nil:
			a.Print("○ DONE     %s\n", t.answer.Step)
		default:
			text := b.shown(&t.answer)
			a.Print("%s%-*s  %s%s  %s\n", verdictMark(t.verdict), name, t.answer.Step, strings.Repeat(" ", read-len([]rune(text))), text, b.rightOf(&t.answer))
			if t.verdict.Verdict != "go" {
				b.why(a, t.verdict)
			}
		}
	}
}

// rightOf repeats a step's right reading.
func (b *proving) rightOf(x *yokemate.Answer) string {
	s := b.plan.Step(x.Step)
	return "right " + rightText(s.Right, s.Measure.Quantity)
}

// shown is an answer with its unit.
func (b *proving) shown(x *yokemate.Answer) string {
	text := string(x.Value)
	if text == "" {
		return "unsure"
	}
	if s := b.plan.Step(x.Step); s != nil && s.Measure != nil {
		if v, err := yokemate.Read(text); err == nil {
			return withDigits(v, s.Measure.Quantity.Unit())
		}
	}
	return text
}

// withDigits prints a reading with a prefix that suits it and the digits that
// were shown.
func withDigits(v yokemate.Value, unit string) string {
	res := si.Resolution(v.Digits)
	if v.V == 0 || math.IsNaN(res) {
		return v.Digits + " " + unit
	}
	return si.Format(v.V, unit, int(math.Floor(math.Log10(math.Abs(v.V))+1e-12)-math.Round(math.Log10(res)))+1)
}

// why prints a verdict's words and the slips that stay likely.
func (b *proving) why(a *App, v *yokemate.Verdict) {
	a.Para("           ", v.Words)
	a.Para("           ", b.likely(v))
}

// likely says how probable right and the slips are.
func (b *proving) likely(v *yokemate.Verdict) string {
	text := "How likely: right: " + chance(v.Right)
	for _, s := range v.Slips {
		if s.Probability < 0.01 {
			break
		}
		text += "; " + slipName(s.Code)
		for i, same := range s.Same {
			if i == 3 && len(s.Same) > 4 {
				text += fmt.Sprintf(", or %d more that read the same", len(s.Same)-i)
				break
			}
			text += " or " + slipName(same)
		}
		text += ": " + chance(s.Probability)
	}
	return text + "."
}
