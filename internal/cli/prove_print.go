package cli

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/prove"
)

func itoa(n int) string { return strconv.Itoa(n) }

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
	a.Print("%s: proof in %d steps\n%s\n", name, len(b.plan.IDs()), say.Words{}.Standing(notes))
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
		a.Para(label(say.Words{}.Level(n.Level)), n.About+": "+n.Words+" ("+string(n.Code)+")")
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
	a.Para("  Probes  ", say.Words{}.Probes(s))
	var w say.Words
	a.Para("  Right   ", w.Right(s.Right, s.Measure.Quantity))
	groups := say.Groups(s)
	for i, g := range groups {
		if i == most {
			a.Para("          ", fmt.Sprintf("… and %d more readings of other slips; \"all\" shows them", len(groups)-i))
			break
		}
		head := "          "
		if i == 0 {
			head = "  Wrong   "
		}
		text := w.Reads(&g) + ": " + w.Names(&g)
		if g.Hidden {
			text += " (it looks right here; another reading tells)"
		}
		if g.Worst != nil {
			text += ". " + w.Closed(g.Worst)
		}
		a.Para(head, text)
	}
	if len(groups) == 0 && s.Measure.Quantity != yokemate.Megohms {
		a.Para("  Wrong   ", "no slip on the list shows here")
	}
}

// label is a mark at the head of a line: its shape and the first of its words.
func label(m say.Mark) string {
	word, _, _ := strings.Cut(m.Word, " ")
	return m.Shape + " " + fmt.Sprintf("%-9s", strings.ToUpper(word))
}

// answers prints every answer with its verdict.
func (b *proving) answers(a *App) {
	name, read := 0, 0
	for _, t := range b.taken {
		name = max(name, len(t.answer.Step))
		read = max(read, len([]rune(b.shown(&t.answer))))
	}
	for _, t := range b.taken {
		mark := label(say.Words{}.Given(&t.answer, t.verdict))
		switch {
		case t.answer.Changed != "":
			a.Para(mark, "the lead is moved: "+say.Words{}.Slip(t.answer.Changed)+" is mended")
		case t.verdict == nil:
			a.Print("%s%s\n", mark, t.answer.Step)
		default:
			text := b.shown(&t.answer)
			a.Print("%s%-*s  %s%s  %s\n", mark, name, t.answer.Step, strings.Repeat(" ", read-len([]rune(text))), text, b.rightOf(&t.answer))
			if t.verdict.Verdict != "go" {
				b.why(a, t.verdict)
			}
		}
	}
}

// rightOf repeats a step's right reading.
func (b *proving) rightOf(x *yokemate.Answer) string {
	s := b.plan.Step(x.Step)
	return "right " + say.Words{}.Right(s.Right, s.Measure.Quantity)
}

// shown is an answer with its unit.
func (b *proving) shown(x *yokemate.Answer) string {
	var q yokemate.Quantity
	if s := b.plan.Step(x.Step); s != nil && s.Measure != nil {
		q = s.Measure.Quantity
	}
	return say.Words{}.Answer(x, q)
}

// why prints a verdict's words and the slips that stay likely.
func (b *proving) why(a *App, v *yokemate.Verdict) {
	a.Para("           ", v.Words)
	a.Para("           ", likely(v))
}

// likely says how probable right and the slips are.
func likely(v *yokemate.Verdict) string {
	return "How likely: " + strings.Join(say.Words{}.Likely(v), "; ") + "."
}
