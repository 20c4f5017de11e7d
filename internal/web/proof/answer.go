package proof

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
)

// give judges an answer, keeps it, and only then sends the browser on to its
// verdict. An answer that is refused is not kept. One that was sent twice is
// kept once: count is how many there were when its form was made.
func (p *pages) give(w http.ResponseWriter, r *http.Request, make func(*proving) (yokemate.Answer, error), typed Typed) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, err := p.load(r)
	if err != nil {
		return err
	}
	again := func(why error) error {
		x := Page{Typed: typed}
		if x.Trouble, err = p.kit.Trouble(why); err != nil {
			return err
		}
		at := r.PostFormValue("step")
		if !b.may(at) {
			at = ""
		}
		return p.draw(w, kit.Status(why), b, at, x)
	}
	count, err := strconv.Atoi(r.PostFormValue("count"))
	if err != nil {
		return yokemate.Errorf(yokemate.Invalid, "the form", "it does not say which answer it is").Mend("open the proof again")
	}
	if count != len(b.taken) {
		// What the form would have given, if it was sent before.
		x, err := make(&proving{id: b.id, hookup: b.hookup, shelf: b.shelf, meter: b.meter, plan: b.plan, session: b.session, taken: b.taken[:min(max(count, 0), len(b.taken))]})
		if err == nil && count >= 0 && count < len(b.taken) && same(x, b.taken[count].answer) {
			return kit.See(w, r, link(b.id))
		}
		typed = Typed{}
		return again(yokemate.Errorf(yokemate.Conflict, "the reading", "another answer was given meanwhile, and this one was not taken").Mend("read what the screen asks now"))
	}
	x, err := make(b)
	if err != nil {
		return again(err)
	}
	if x.Meter == "" && x.Changed == "" {
		x.Meter = b.meter
	}
	if x.Step != "" && !b.may(x.Step) {
		return again(yokemate.Errorf(yokemate.Conflict, "step "+x.Step, "it cannot be answered now").Mend("take the steps in their order; a stop comes before everything else"))
	}
	if _, err := b.judge(x); err != nil {
		return again(err)
	}
	if _, err := p.kit.Store.AppendAnswer(r.Context(), b.id, x); err != nil {
		delete(p.live, b.id) // it holds an answer that the store does not
		return err
	}
	if err := p.kit.Store.SetProofState(r.Context(), b.id, b.session.State()); err != nil {
		return err
	}
	return kit.See(w, r, link(b.id))
}

// read takes the reading of a step.
func (p *pages) read(w http.ResponseWriter, r *http.Request) error {
	typed := Typed{Value: r.PostFormValue("value"), Feed: r.PostFormValue("feed"), Why: r.PostFormValue("why")}
	return p.give(w, r, func(b *proving) (yokemate.Answer, error) {
		x := yokemate.Answer{Step: r.PostFormValue("step")}
		s := b.plan.Step(x.Step)
		if s == nil {
			return x, yokemate.Errorf(yokemate.Invalid, "step "+x.Step, "this proof has no such step")
		}
		if len(b.taken) == 0 && yokemate.Worst(b.plan.Notes()) == yokemate.Stop {
			why, err := kit.Reason(typed.Why)
			if err != nil {
				return x, err
			}
			x.Note = "went on in spite of a stop in the prediction: " + why
		}
		if s.Measure == nil {
			return x, nil
		}
		text := typed.Value
		if say := r.PostFormValue("say"); say != "" {
			text = say
		}
		v, err := say.Typed("the reading", s.Measure.Quantity, text)
		if err != nil {
			return x, err
		}
		x.Value = yokemate.AnswerText(v)
		if strings.TrimSpace(typed.Feed) == "" {
			return x, nil
		}
		d, err := say.Typed("the socket", yokemate.VoltsAC, typed.Feed)
		if err != nil {
			return x, err
		}
		if x.FeedVolts, err = yokemate.Read(d); err != nil {
			return x, yokemate.Errorf(yokemate.Invalid, "the socket", "%q is no voltage", typed.Feed).Mend("type what the socket reads, such as 231")
		}
		return x, x.Validate()
	}, typed)
}

// moved takes word that a lead was moved.
func (p *pages) moved(w http.ResponseWriter, r *http.Request) error {
	return p.give(w, r, func(b *proving) (yokemate.Answer, error) {
		code := r.PostFormValue("code")
		if !slices.Contains(b.plan.Slips(), code) {
			return yokemate.Answer{}, yokemate.Errorf(yokemate.Invalid, "the lead", "it is not said which was moved").Mend("choose it from the list")
		}
		return yokemate.Answer{Changed: code}, nil
	}, Typed{})
}

// overrule passes a stop for a typed reason, where it may be passed.
func (p *pages) overrule(w http.ResponseWriter, r *http.Request) error {
	typed := Typed{Reason: r.PostFormValue("reason")}
	return p.give(w, r, func(b *proving) (yokemate.Answer, error) {
		var x yokemate.Answer
		if b.session.State() != yokemate.ProofStopped {
			return x, yokemate.Errorf(yokemate.Conflict, "the stop", "the proof is not stopped")
		}
		id := b.stop()
		if b.session.Final() {
			return x, yokemate.Errorf(yokemate.Conflict, "the stop", "no reason passes this one").Mend("read it again, or move the lead that is wrong")
		}
		why, err := kit.Reason(typed.Reason)
		if err != nil {
			return x, err
		}
		for _, t := range slices.Backward(b.taken) {
			if t.answer.Step == id {
				return yokemate.Answer{Step: id, Value: t.answer.Value, Reason: why}, nil
			}
		}
		return x, yokemate.Errorf(yokemate.Conflict, "the stop", "no reading stopped it")
	}, typed)
}
