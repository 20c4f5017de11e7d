package proof

import (
	"net/http"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/prove"
)

// proving is a stored proof with its plan, its answers judged.
type proving struct {
	id      int64
	hookup  *yokemate.Hookup
	shelf   *yokemate.Shelf
	meter   string
	plan    *prove.Plan
	session *prove.Session
	taken   []taken
}

// taken is an answer with what it meant; verdict is nil where it only told of
// a moved lead or passed a step at which nothing is read.
type taken struct {
	answer   yokemate.Answer
	verdict  *yokemate.Verdict
	right    string // the right reading of its step, as it was known then
	do       string // what its step asked
	quantity yokemate.Quantity
}

func newProving(h *yokemate.Hookup, s *yokemate.Shelf, meter string) (*proving, error) {
	var m *yokemate.Meter
	if meter != "" {
		m = s.MeterNamed(meter)
		if m == nil && meter == yokemate.GenericMeterName {
			m = yokemate.GenericMeter()
		}
		if m == nil {
			return nil, yokemate.Errorf(yokemate.NotFound, "meter", "there is no meter %q", meter)
		}
	}
	plan, err := prove.New(network.Compile(s), h, prove.Options{Meter: m})
	if err != nil {
		return nil, err
	}
	return &proving{hookup: h, shelf: s, meter: meter, plan: plan, session: plan.Session()}, nil
}

// load brings a proof up to what the store holds.
func (p *pages) load(r *http.Request) (*proving, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return nil, yokemate.Errorf(yokemate.NotFound, "proof "+r.PathValue("id"), "there is no such proof")
	}
	q, err := p.kit.Store.Proof(r.Context(), id)
	if err != nil {
		return nil, err
	}
	given := q.Given().Answers
	b := p.live[id]
	if b != nil && !slices.EqualFunc(b.taken, given[:min(len(b.taken), len(given))], func(t taken, x yokemate.Answer) bool { return same(t.answer, x) }) {
		b = nil // another file was put in the store's place
	}
	if b == nil {
		meter := ""
		for i := len(given) - 1; i >= 0 && meter == ""; i-- {
			meter = given[i].Meter
		}
		if b, err = newProving(&q.Hookup, &q.Shelf, meter); err != nil {
			return nil, err
		}
		b.id = id
		if len(p.live) > 15 {
			clear(p.live)
		}
		p.live[id] = b
	}
	for _, x := range given[len(b.taken):] {
		if _, err := b.judge(x); err != nil {
			delete(p.live, id)
			return nil, &yokemate.Error{Code: yokemate.Internal, Message: "a stored answer is refused", Err: err}
		}
	}
	if s := b.session.State(); s != q.State {
		// The program died between an answer and what it amounts to.
		if err := p.kit.Store.SetProofState(r.Context(), id, s); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// judge takes one answer and keeps nothing.
func (b *proving) judge(x yokemate.Answer) (*yokemate.Verdict, error) {
	v, err := b.session.Take(x)
	if err != nil {
		return nil, err
	}
	t := taken{answer: x}
	if s := b.plan.Step(x.Step); s != nil {
		t.do = s.Do
		if s.Measure != nil {
			t.right, t.quantity = say.Words{}.Right(s.Right, s.Measure.Quantity), s.Measure.Quantity
		}
	}
	if v != nil {
		c := *v // the session's list of verdicts moves when it grows
		t.verdict = &c
	}
	b.taken = append(b.taken, t)
	return t.verdict, nil
}

// same reports whether two answers say the same.
func same(a, b yokemate.Answer) bool {
	return a.Step == b.Step && a.Value == b.Value && a.Changed == b.Changed && a.Reason == b.Reason && a.FeedVolts.V == b.FeedVolts.V && a.Note == b.Note
}

// stop is the step that stopped the proof.
func (b *proving) stop() string {
	for _, t := range slices.Backward(b.taken) {
		if t.verdict != nil && t.verdict.Verdict == "stop" {
			return t.verdict.Step
		}
	}
	panic("proof: stopped without a stop")
}

// may reports whether a step may be answered now: the next one, or one that was
// answered before. At a stop it is the one that stopped.
func (b *proving) may(step string) bool {
	switch b.session.State() {
	case yokemate.ProofStopped:
		return step == b.stop()
	case yokemate.ProofGood:
		return false
	}
	return step == b.session.Next() || slices.ContainsFunc(b.taken, func(t taken) bool { return t.answer.Step == step })
}

// last says what the last answer meant.
func (b *proving) last() *Last {
	if len(b.taken) == 0 {
		return nil
	}
	var w say.Words
	t := b.taken[len(b.taken)-1]
	x := &Last{Mark: w.Given(&t.answer, t.verdict), Do: t.do}
	if t.answer.Changed != "" {
		x.Words = t.mended() + " Readings before it spoke of the old wiring; the steps it touches come again."
		return x
	}
	v := t.verdict
	if v == nil {
		x.Plain = true
		return x
	}
	x.Plain, x.Shown, x.Right, x.Words, x.Change = v.Verdict == "go", t.shown(), t.right, v.Words, v.Changed
	if x.Change != "" {
		x.ChangeName = w.Slip(x.Change)
	}
	if !x.Plain && t.quantity != yokemate.Megohms {
		x.Likely = w.Likely(v)
	}
	return x
}

// mended says which lead was moved.
func (t *taken) mended() string {
	return say.Sentence(say.Words{}.Slip(t.answer.Changed) + " is mended")
}

// shown is an answer as it was read, with its unit.
func (t *taken) shown() string { return say.Words{}.Answer(&t.answer, t.quantity) }
