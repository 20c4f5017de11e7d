package cli

import (
	"math"
	"slices"
	"strings"
	"unicode"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/prove"
)

// fewSlips is how many lines of slips a step shows before it is asked.
const fewSlips = 6

// talk takes a person through the proof, one step at a time.
func (b *proving) talk(a *App) error {
	b.head(a)
	a.cautions(prove.Cautions())
	a.Print("\n")
	if b.keeper == nil {
		a.Para("", "Nothing is kept of this: --shelf touches no store. Add --record FILE to keep the answers.")
	}
	a.Para("", "Type the reading as the meter shows it, with its unit or without, or: over, unsure, feed VOLTS (what the socket reads), back, changed (when a lead was moved), all, why, quit.")
	t := &talking{proving: b, app: a}
	if len(b.taken) > 0 {
		a.Print("\nSo far:\n")
		b.answers(a)
		t.change = b.lastChange()
	} else if yokemate.Worst(b.plan.Notes()) == yokemate.Stop {
		var err error
		t.note, err = t.reason("The prediction says stop. Type why you go on all the same, or quit")
		if err != nil {
			return err
		}
		t.over = t.note == ""
		if !t.over {
			t.note = "went on in spite of a stop in the prediction: " + t.note
		}
	}
	for !t.over {
		var err error
		if b.session.State() == yokemate.ProofStopped {
			err = t.stopped()
		} else {
			err = t.next()
		}
		if err != nil {
			return err
		}
	}
	b.foot(a)
	if b.keeper != nil && len(b.taken) > 0 {
		a.Print("\nIt is kept as %s.", b.keeper.name())
		if b.session.State() != yokemate.ProofGood {
			a.Print(" Go on with: %s", b.keeper.again())
		}
		a.Print("\n")
	}
	if b.session.State() == yokemate.ProofStopped {
		return ErrNo
	}
	return nil
}

// talking is the state of a talk that is not the proof's own.
type talking struct {
	*proving
	app    *App
	at     string         // the step that "back" chose; empty: the proof's next
	feed   yokemate.Value // what the socket reads, for the next answer
	note   string         // for the next answer
	change string         // the slip that the last verdict asked to mend
	over   bool
}

// lastChange is the slip that the last answer asked to mend, if it did.
func (b *proving) lastChange() string {
	if n := len(b.taken); n > 0 && b.taken[n-1].verdict != nil {
		return b.taken[n-1].verdict.Changed
	}
	return ""
}

// next shows the step that comes now and asks until something is answered.
func (t *talking) next() error {
	id := t.at
	if id == "" {
		id = t.session.Next()
	}
	if id == "" {
		t.over = true
		return nil
	}
	ids := t.plan.IDs()
	n := slices.Index(ids, id) + 1
	s := t.plan.Step(id)
	t.app.Print("\n")
	t.step(t.app, n, len(ids), s, fewSlips)
	question := "Done (return)"
	if s.Measure != nil {
		question = "Reading"
		if u := s.Measure.Quantity.Unit(); u != "" {
			question += " in " + u
		}
	}
	for {
		text, err := t.app.Ask(question, "")
		if err != nil {
			return err
		}
		word, rest, _ := strings.Cut(text, " ")
		rest = strings.TrimSpace(rest)
		switch strings.ToLower(word) {
		case "quit", "q":
			t.over = true
			return nil
		case "back":
			t.back(ids, n)
			return nil
		case "all":
			t.step(t.app, n, len(ids), s, math.MaxInt)
			continue
		case "why", "help", "?":
			if s.Help == "" {
				t.app.Say("  There is no more to say of this step.")
			} else {
				t.app.Say("%s", wrap("  ", s.Help, 80))
			}
			continue
		case "feed":
			v, err := volts.fact("feed", rest)
			if err == nil && !(v.V > 0) {
				err = yokemate.Errorf(yokemate.Invalid, "feed", "the socket's volts must be above 0").Mend("write it as in: feed 231")
			}
			if err != nil {
				t.app.Say("  %s", line(err))
				continue
			}
			t.feed = v
			t.app.Say("  Noted with the next reading: the socket reads %s.", volts.show(v))
			continue
		case "changed":
			done, err := t.moved(rest)
			if err != nil {
				return err
			}
			if done {
				return nil
			}
			continue
		case "":
			if s.Measure != nil {
				t.app.Say("  Type the reading, or unsure.")
				continue
			}
		}
		x := yokemate.Answer{Step: id, FeedVolts: t.feed, Note: t.note}
		if s.Measure != nil {
			typed, err := say.Typed("", s.Measure.Quantity, text)
			if err != nil {
				t.app.Say("  %s", line(err))
				continue
			}
			x.Value = yokemate.AnswerText(typed)
		}
		return t.give(x)
	}
}

// give takes an answer: it is kept before its verdict is shown.
func (t *talking) give(x yokemate.Answer) error {
	v, err := t.take(x)
	if err != nil {
		return err
	}
	t.at, t.feed, t.note, t.change = "", yokemate.Value{}, "", ""
	if v == nil {
		return nil
	}
	t.app.Print("\n")
	t.app.Para(label(say.Words{}.Verdict(v.Verdict)), v.Words)
	if v.Verdict != "go" {
		t.app.Para("           ", likely(v))
	}
	if t.change = v.Changed; t.change != "" {
		t.app.Para("           ", "When that is done, type: changed")
	}
	return nil
}

// moved takes word that a lead was moved: the one the verdict named, or
// another slip by its code.
func (t *talking) moved(code string) (bool, error) {
	if code == "" {
		code = t.change
	}
	if code == "" {
		t.app.Say("  No verdict asks for a lead to be moved. Name what was mended, as in: changed reversed:T2/A")
		return false, nil
	}
	if !slices.Contains(t.plan.Slips(), code) {
		t.app.Say("  There is no slip %q here. The codes are %s.", code, strings.Join(t.plan.Slips(), ", "))
		return false, nil
	}
	if err := t.give(yokemate.Answer{Changed: code, Note: t.note}); err != nil {
		return false, err
	}
	t.app.Say("  Readings before it spoke of the old wiring. The steps it touches come again.")
	return true, nil
}

// back chooses the step before the one at n; there its reading is taken anew.
func (t *talking) back(ids []string, n int) {
	if n < 2 {
		t.app.Say("  This is the first step.")
		return
	}
	t.at = ids[n-2]
	t.app.Say("  A new reading there takes the place of the old one, which the record keeps.")
}

// stopped asks what to do at a stop. It is passed by a typed reason only, a
// gap and bad insulation not at all.
func (t *talking) stopped() error {
	last := t.stop()
	t.app.Print("\n")
	final := t.session.Final()
	if final {
		t.app.Para("■ STOPPED  ", "This cannot be overruled. Type again to read it again, changed CODE when a lead was moved, or quit.")
	} else {
		t.app.Para("■ STOPPED  ", "Type again to read it again, changed CODE when a lead was moved, quit, or a reason to go on all the same; the record keeps it.")
	}
	for {
		text, err := t.app.Ask("Stopped", "")
		if err != nil {
			return err
		}
		word, rest, _ := strings.Cut(text, " ")
		switch strings.ToLower(word) {
		case "quit", "q":
			t.over = true
			return nil
		case "again":
			t.at = last.Step
			return t.next()
		case "changed":
			done, err := t.moved(strings.TrimSpace(rest))
			if err != nil || done {
				return err
			}
			continue
		}
		switch {
		case final:
			t.app.Say("  No reason passes this one.")
		case !worded(text):
			t.app.Say("  Type again to read it again, changed, or quit; to go on all the same, write the reason in a few words.")
		default:
			return t.give(yokemate.Answer{Step: last.Step, Value: last.Value, Reason: text})
		}
	}
}

// worded reports whether a text can be a reason: a few words, and neither a
// reading nor a word that other questions take.
func worded(text string) bool {
	f := strings.Fields(strings.ToLower(text))
	if len(f) == 0 || slices.Contains([]string{"feed", "back", "all", "why", "help", "?", "unsure", "over", "open"}, f[0]) || strings.ContainsAny(f[0][:1], "0123456789+-.") {
		return false
	}
	words := 0
	for _, w := range f {
		letters := 0
		for _, r := range w {
			if unicode.IsLetter(r) {
				letters++
			}
		}
		if letters > 1 {
			words++
		}
	}
	return words > 1
}

// stop is the answer that stopped the proof.
func (b *proving) stop() yokemate.Answer {
	for i := len(b.taken) - 1; i >= 0; i-- {
		if v := b.taken[i].verdict; v != nil && v.Verdict == "stop" {
			return b.taken[i].answer
		}
	}
	panic("cli: a stopped proof without a stop")
}

// reason asks for a few words; empty when the person leaves.
func (t *talking) reason(question string) (text string, err error) {
	err = t.app.AskFor(question, "", func(s string) error {
		if s == "quit" || s == "q" {
			return nil
		}
		if !worded(s) {
			return yokemate.Errorf(yokemate.Invalid, "", "a reason has a few words").Mend("or type quit")
		}
		text = s
		return nil
	})
	return text, err
}
