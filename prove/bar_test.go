package prove_test

import (
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// barredHookups are wired wrong on purpose: every reading would come out as foreseen,
// and what is foreseen is a stop. The step named is the first that powers it.
func barredHookups() []struct {
	h    *yokemate.Hookup
	code yokemate.NoteCode
	step string
} {
	plain := func() *yokemate.Hookup { return hookups()[0].Clone() }
	tooMuch := plain()
	tooMuch.Outputs[0].Load = &yokemate.Load{Amps: 3} // 1.6 A is its rating
	plugs := hookups()[3].Clone()
	plugs.Joints = joints("L: S1.1", "N: S1.2", "L2: S2.1", "N2: S2.2", "A: S1.5 S2.5", "B: S1.6 S2.6", "E: S1.core S2.core")
	plugs.Feed = append(plugs.Feed, plugs.Feed[0])
	plugs.Feed[1].Live, plugs.Feed[1].Neutral = "L2", "N2"
	apart := hookup("loads of their own", 230, 207, 253, 10, "A", "B", joints("L: H1.1", "M: H1.2 H2.1", "N: H2.2", "A: H1.5", "B: H1.6", "C: H2.5", "D: H2.6", "E: H1.core H2.core"))
	apart.Outputs = append(apart.Outputs, yokemate.Output{Name: "second", From: "C", To: "D"})
	supply := withDC(plain(), "bridge", "", 2200e-6, 1.6) // some 2.9 A rms of 1.6 A
	list := []struct {
		h    *yokemate.Hookup
		code yokemate.NoteCode
		step string
	}{
		{hookup("half a primary on all the mains", 230, 207, 253, 40, "A", "B", joints("L: D1.1", "N: D1.2", "A: D1.5", "B: D1.6", "E: D1.core")), yokemate.OverFlux, "mains-D1"},
		{hookup("115 V on 230 V", 230, 207, 253, 40, "A", "B", joints("L: H1.1", "N: H1.2", "A: H1.5", "B: H1.6", "E: H1.core")), yokemate.OverFlux, "mains-H1"},
		{hookup("mains into the low side", 230, 207, 253, 1e4, "A", "B", joints("L: S1.5", "N: S1.6", "A: S1.1", "B: S1.2", "E: S1.core")), yokemate.OverCurrent, "output-out"},
		{apart, yokemate.SeparateLoads, "lamp-all"},
		{plugs, yokemate.BackFed, "lamp-B"},
		{tooMuch, yokemate.OverCurrent, "load-out"},
		{supply, yokemate.DCOverRating, "load-out"},
	}
	list[2].h.Outputs[0].Load = nil
	return list
}

// A hookup that is a stop by prediction is never proved good, whatever reads as
// foreseen and whatever reason is typed, and the proof stops before the step
// that would power it.
func TestPredictedStopIsNeverProved(t *testing.T) {
	for _, x := range barredHookups() {
		t.Run(x.h.Name, func(t *testing.T) {
			b := exact(workshop(), 230)
			p, err := prove.New(network.Compile(b.known), x.h, prove.Options{})
			if err != nil {
				t.Fatal(err)
			}
			against := false
			for _, n := range p.Notes() {
				against = against || n.Code == x.code && n.Level == yokemate.Stop
			}
			if !against {
				t.Fatalf("the prediction has no stop %s", x.code)
			}
			s := p.Session()
			var last yokemate.Answer
			var v *yokemate.Verdict
			steps := 0
			for ; s.State() == yokemate.ProofOpen && steps < 80; steps++ {
				id := s.Next()
				if id == x.step {
					t.Fatalf("%s is asked for", id)
				}
				step := p.Step(id)
				last = yokemate.Answer{Step: id, Value: "unsure"}
				switch {
				case step.Measure == nil:
				case step.Right == nil:
					last.Value = "over"
				default:
					last.Value = yokemate.AnswerText(b.shown(step.Measure.Quantity, step.Right.Value))
				}
				if v, err = s.Take(last); err != nil {
					t.Fatal(err)
				}
			}
			if s.State() != yokemate.ProofStopped || s.Next() != "" || v == nil || v.Verdict != "stop" {
				t.Fatalf("%s after %d steps, next %q, %v", s.State(), steps, s.Next(), v)
			}
			if !strings.Contains(p.Step(x.step).Do, "Do not take this step") {
				t.Errorf("%s says: %s", x.step, p.Step(x.step).Do)
			}
			if strings.Contains(v.Words, "join it") {
				t.Errorf("the stop asks for a joint: %s", v.Words)
			}
			if !s.Final() {
				t.Error("a reason might pass it")
			}
			// Neither a reason nor the step itself gets round it.
			last.Reason = "I know what I do"
			if _, err = s.Take(last); err != nil || s.State() != yokemate.ProofStopped {
				t.Errorf("a reason lifted it: %s, %v", s.State(), err)
			}
			if step := p.Step(x.step); step.Right != nil {
				v, err = s.Take(yokemate.Answer{Step: x.step, Value: yokemate.AnswerText(b.shown(step.Measure.Quantity, step.Right.Value)), Reason: "done already"})
				if err != nil || v.Verdict != "stop" || s.State() != yokemate.ProofStopped {
					t.Errorf("the barred step was taken: %v, %s, %v", v, s.State(), err)
				}
			}
		})
	}
}

// Before anything newly joined goes on the plain mains it goes on through a lamp.
func TestLampBeforeMains(t *testing.T) {
	for _, h := range hookups() {
		p, err := prove.New(network.Compile(exact(workshop(), h.Feed[0].Volts.V).known), h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		lit := map[string]bool{}
		for _, id := range p.IDs() {
			s := p.Bare(id)
			fed := s.State.Powered(0)
			if !fed || s.State.Feed[0].Volts.V < 50 {
				continue // dead, or the low source behind its own fuse
			}
			var wired []string
			for _, j := range s.State.Joints {
				if len(j.Pins) > 1 {
					wired = append(wired, strings.Join(j.Pins, "+"))
				}
			}
			key := strings.Join(wired, " ")
			switch {
			case s.State.Feed[0].Lamp != nil:
				lit[key] = true
			case !lit[key] && s.Closes == "" && !strings.HasPrefix(id, "live-"):
				// A gap's own reading joins nothing: its dead joints had the lamp.
				t.Errorf("%s: %s puts %q on the mains without a lamp before it", h.Name, id, key)
			}
		}
	}
}
