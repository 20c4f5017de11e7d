package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// An engine judges stored proofs apart from the pages. It keeps its session, as
// judging all answers anew at every step takes long.
type engine struct {
	plan    *prove.Plan
	session *prove.Session
	taken   int
}

// take brings the engine up to what the store holds.
func (e *engine) take(t testing.TB, p *yokemate.ProofRecord) {
	t.Helper()
	if e.plan == nil {
		var err error
		if e.plan, err = prove.New(network.Compile(&p.Shelf), &p.Hookup, prove.Options{}); err != nil {
			t.Fatal(err)
		}
		e.session = e.plan.Session()
	}
	for ; e.taken < len(p.Answers); e.taken++ {
		if _, err := e.session.Take(p.Answers[e.taken].Answer); err != nil {
			t.Fatal(err)
		}
	}
}

// at returns the engine of a proof, up to date.
func (b *bench) at(id int64) *engine {
	b.t.Helper()
	p, err := b.store.Proof(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	if b.engines == nil {
		b.engines = map[int64]*engine{}
	}
	if b.engines[id] == nil {
		b.engines[id] = &engine{}
	}
	b.engines[id].take(b.t, p)
	return b.engines[id]
}

// Every step read as predicted leads to the end, with the program dying after
// each answer; the record then holds one answer a step.
func TestProofSurvivesEveryStep(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("pier lantern")
	if again, _ := b.startProof("pier lantern"); again != at {
		t.Errorf("the button pressed twice opened %s and %s", at, again)
	}
	for n := 0; ; n++ {
		if n > 60 {
			t.Fatal("the proof has no end")
		}
		step, value := b.right(id)
		if step == "" {
			break
		}
		page := b.step(at, id)
		checkPage(t, at, page)
		if got := hidden(t, page, at+"/readings", "step"); got != step {
			t.Fatalf("the page asks step %q, the engine %q", got, step)
		}
		code, to, body := b.post(at+"/readings", "count", hidden(t, page, at+"/readings", "count"), "step", step, "value", strings.Replace(value, ".", ",", 1))
		if code != http.StatusSeeOther || to != at {
			t.Fatalf("step %s, %s: status %d\n%s", step, value, code, text(body))
		}
		if n%3 == 0 {
			b.restart()
		}
	}
	page := b.page(at)
	if !strings.Contains(text(page), "Good. Every step is passed.") {
		t.Errorf("at the end the page says\n%s", text(page))
	}
	p, err := b.store.Proof(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if p.State != yokemate.ProofGood {
		t.Errorf("the store says %s", p.State)
	}
	if x := b.at(id); x.session.State() != yokemate.ProofGood || len(p.Answers) != len(x.plan.IDs()) {
		t.Errorf("%d answers to %d steps, %s", len(p.Answers), len(x.plan.IDs()), x.session.State())
	}
	record := b.page(at + "/record")
	checkPage(t, at+"/record", record)
	if got := strings.Count(text(record), "Go on"); got == 0 {
		t.Error("the record has no verdicts")
	}
}

// The same form sent twice is one answer; a stale form with another reading is
// refused and says so.
func TestAnswerTwice(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("rope lights")
	step, value := b.right(id)
	form := []string{"count", "0", "step", step, "value", value}
	for range 2 {
		if code, to, body := b.post(at+"/readings", form...); code != http.StatusSeeOther || to != at {
			t.Fatalf("status %d\n%s", code, text(body))
		}
	}
	if got := b.answers(id); len(got) != 1 {
		t.Errorf("%d answers were kept", len(got))
	}
	code, _, body := b.post(at+"/readings", "count", "0", "step", step, "value", "1.5")
	if code != http.StatusConflict || !strings.Contains(text(body), "was not taken") {
		t.Errorf("status %d\n%s", code, text(body))
	}
	checkPage(t, "a stale form", body)
	if got := b.answers(id); len(got) != 1 {
		t.Errorf("%d answers were kept", len(got))
	}
}

// What is no reading is not kept, the page says why, and what was typed stays.
func TestBadReading(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("rope lights")
	step, _ := b.right(id)
	for _, bad := range []string{"", "abc", "1,2,3", "-3", "12 V", "3 ± 1", "1e999"} {
		code, _, body := b.post(at+"/readings", "count", "0", "step", step, "value", bad)
		if code != http.StatusUnprocessableEntity || !strings.Contains(body, `role="alert"`) {
			t.Errorf("%q: status %d\n%s", bad, code, text(body))
			continue
		}
		all := checkPage(t, bad, body)
		k := slices.IndexFunc(all, func(e *element) bool { return e.attr["id"] == "value" })
		if k < 0 || all[k].attr["value"] != bad {
			t.Errorf("%q: what was typed is gone", bad)
		}
	}
	// A step that is not its turn, and one that does not exist.
	steps := b.at(id).plan.IDs()
	if code, _, _ := b.post(at+"/readings", "count", "0", "step", steps[len(steps)-1], "value", "1"); code != http.StatusConflict {
		t.Errorf("the last step first: status %d", code)
	}
	if code, _, _ := b.post(at+"/readings", "count", "0", "step", "no-such", "value", "1"); code != http.StatusUnprocessableEntity {
		t.Errorf("no such step: status %d", code)
	}
	if got := b.answers(id); len(got) != 0 {
		t.Errorf("%d answers were kept", len(got))
	}
}

// step is the page of the step that comes now. Before the first, the proof's own
// page has the cautions and a link.
func (b *bench) step(at string, id int64) string {
	b.t.Helper()
	if len(b.answers(id)) == 0 {
		return b.page(at + "?step=" + url.QueryEscape(b.at(id).session.Next()))
	}
	return b.page(at)
}

// walk answers as predicted until a step is reached, and returns its id.
func (b *bench) walk(at string, id int64, until func(*yokemate.Step) bool) *yokemate.Step {
	b.t.Helper()
	for range 60 {
		e := b.at(id)
		s := e.plan.Step(e.session.Next())
		if s == nil {
			break
		}
		if until(s) {
			return s
		}
		step, value := b.right(id)
		page := b.step(at, id)
		if code, _, body := b.post(at+"/readings", "count", hidden(b.t, page, at+"/readings", "count"), "step", step, "value", value, "why", "to see where it stops"); code != http.StatusSeeOther {
			b.t.Fatalf("step %s, %s: status %d\n%s", step, value, code, text(body))
		}
	}
	b.t.Fatal("no such step comes")
	return nil
}

// Two windings that differ too much read as predicted at their gap, and that is
// a stop. Nothing that is posted passes it: no reason, no unsure, no other step.
func TestGapStopCannotBePassed(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("odd pair")
	gap := b.walk(at, id, func(s *yokemate.Step) bool {
		return s.Closes != "" && s.Measure != nil && s.Measure.Quantity == yokemate.VoltsAC
	})
	page := b.page(at)
	said := text(page)
	if !strings.Contains(said, "Right") || !strings.Contains(said, "Wrong") || !strings.Contains(said, "Closed on it") {
		t.Errorf("before it is read, the gap's page says\n%s", said)
	}
	count := hidden(t, page, at+"/readings", "count")
	_, value := b.right(id)
	if code, _, body := b.post(at+"/readings", "count", count, "step", gap.ID, "value", value); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	p, err := b.store.Proof(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	if p.State != yokemate.ProofStopped {
		t.Fatalf("the proof is %s", p.State)
	}
	kept := len(p.Answers)
	page = b.page(at)
	checkPage(t, at, page)
	if said := text(page); !strings.Contains(said, "Stopped. Power off.") || !strings.Contains(said, "cannot be overruled") || strings.Contains(page, "/overrule") {
		t.Errorf("the stop's page says\n%s", said)
	}
	count = hidden(t, page, at+"/readings", "count")
	b.restart()
	for name, form := range map[string][]string{
		"overrule":      {at + "/overrule", "count", count, "reason", "I know better than this"},
		"unsure":        {at + "/readings", "count", count, "step", gap.ID, "say", "unsure"},
		"an other step": {at + "/readings", "count", count, "step", p.Answers[0].Answer.Step, "value", "1"},
		"no lead":       {at + "/moved", "count", count, "code", "nonsense"},
	} {
		if code, _, body := b.post(form[0], form[1:]...); code != http.StatusConflict && code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d\n%s", name, code, text(body))
		}
	}
	if got := b.answers(id); len(got) != kept {
		t.Errorf("%d answers were kept, not %d", len(got), kept)
	}
}

// A reversed lead is named by its reading; telling that it was turned brings
// the gap again.
func TestMovedLead(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("rope lights")
	gap := b.walk(at, id, func(s *yokemate.Step) bool {
		return s.Closes != "" && s.Measure != nil && s.Measure.Quantity == yokemate.VoltsAC
	})
	k := slices.IndexFunc(gap.Slips, func(s yokemate.Slip) bool { return strings.HasPrefix(s.Code, "reversed:") })
	if k < 0 {
		t.Fatal("the gap has no reversed slip")
	}
	reading := "29" // as the turned example reads: the sum of both secondaries, 14.7 V each
	page := b.page(at)
	if code, _, body := b.post(at+"/readings", "count", hidden(t, page, at+"/readings", "count"), "step", gap.ID, "value", reading); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	b.restart()
	page = b.page(at)
	code := hidden(t, page, at+"/moved", "code")
	if !strings.HasPrefix(code, "reversed:") || !strings.Contains(text(page), "Change a lead") {
		t.Fatalf("the page asks to mend %q\n%s", code, text(page))
	}
	count := hidden(t, page, at+"/moved", "count")
	for range 2 {
		if status, _, body := b.post(at+"/moved", "count", count, "code", code); status != http.StatusSeeOther {
			t.Fatalf("status %d\n%s", status, text(body))
		}
	}
	got := b.answers(id)
	if got[len(got)-1].Changed != code || got[len(got)-2].Changed != "" {
		t.Errorf("the answers end with %+v", got[len(got)-2:])
	}
	if next := b.at(id).session.Next(); next == "" || hidden(t, b.page(at), at+"/readings", "step") != next {
		t.Error("the page does not go on where the engine does")
	}
}

// A stop that is no gap is passed by a typed reason of a few words, which the
// record keeps; and a hookup that the prediction stops asks for one before the
// first step.
func TestReasons(t *testing.T) {
	b := newBench(t, true)
	at, id := b.startProof("odd pair")
	if first := b.page(at); !strings.Contains(text(first), "Before you touch anything") || strings.Contains(first, "/readings") {
		t.Errorf("the cautions do not come first\n%s", text(first))
	}
	page := b.step(at, id)
	if !strings.Contains(text(page), "Why do you go on all the same?") {
		t.Fatalf("the first page says\n%s", text(page))
	}
	step, value := b.right(id)
	for _, why := range []string{"", "yes"} {
		if code, _, body := b.post(at+"/readings", "count", "0", "step", step, "value", value, "why", why); code != http.StatusUnprocessableEntity {
			t.Errorf("%q: status %d\n%s", why, code, text(body))
		}
	}
	if code, _, body := b.post(at+"/readings", "count", "0", "step", step, "value", value, "why", "teaching, at low voltage only"); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	if got := b.answers(id); len(got) != 1 || !strings.Contains(got[0].Note, "teaching, at low voltage only") {
		t.Errorf("the answers are %+v", got)
	}

	at, id = b.startProof("rope lights")
	s := b.walk(at, id, func(s *yokemate.Step) bool {
		return s.Closes == "" && s.Measure != nil && s.Measure.Quantity == yokemate.VoltsAC
	})
	page = b.page(at)
	// Far above anything that a 230 V socket and these units can make.
	if code, _, body := b.post(at+"/readings", "count", hidden(t, page, at+"/readings", "count"), "step", s.ID, "value", "713"); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	page = b.page(at)
	count := hidden(t, page, at+"/overrule", "count")
	if code, _, _ := b.post(at+"/overrule", "count", count, "reason", "ok"); code != http.StatusUnprocessableEntity {
		t.Errorf("a reason of one word: status %d", code)
	}
	if code, _, body := b.post(at+"/overrule", "count", count, "reason", "the meter was on the wrong range"); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	if said := text(b.page(at + "/record")); !strings.Contains(said, "the meter was on the wrong range") {
		t.Errorf("the record says\n%s", said)
	}
	if said := text(b.page(at)); strings.Contains(said, "Stopped.") {
		t.Errorf("it is still stopped\n%s", said)
	}
}
