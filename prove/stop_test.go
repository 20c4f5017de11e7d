package prove_test

import (
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// started begins the proof of two units in parallel, with the answers given.
func started(t *testing.T, answers ...yokemate.Answer) *prove.Session {
	t.Helper()
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for _, a := range answers {
		if _, err := s.Take(a); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// A reading that stopped the proof may be taken again, and the proof goes on
// where the new one is good; "unsure" does not lift a stop.
func TestStopIsReadAgain(t *testing.T) {
	for _, x := range []struct {
		step      string
		bad, good yokemate.AnswerText
	}{
		{"ohms-S1-P", "4.20e6", "160.0"}, // nothing on the list reads megohms there
		{"insulation-S1", "0.4", "400"},
	} {
		s := started(t, yokemate.Answer{Step: x.step, Value: x.bad})
		if s.State() != yokemate.ProofStopped {
			t.Fatalf("%s: %s left the proof %s", x.step, x.bad, s.State())
		}
		if _, err := s.Take(yokemate.Answer{Step: x.step, Value: "unsure"}); err == nil || s.State() != yokemate.ProofStopped {
			t.Errorf("%s: unsure lifted a stop", x.step)
		}
		if _, err := s.Take(yokemate.Answer{Step: "insulation-S2", Value: "400"}); err != nil || s.State() != yokemate.ProofStopped {
			t.Errorf("%s: another step's reading lifted the stop, or %v", x.step, err)
		}
		if _, err := s.Take(yokemate.Answer{Step: x.step, Value: x.good}); err != nil || s.State() != yokemate.ProofOpen {
			t.Errorf("%s: %s left the proof %s, %v", x.step, x.good, s.State(), err)
		}
	}
}

// A typed reason passes a stop that came first without one.
func TestStopIsOverruled(t *testing.T) {
	s := started(t, yokemate.Answer{Step: "ohms-S1-P", Value: "4.20e6"},
		yokemate.Answer{Step: "ohms-S1-P", Value: "4.20e6", Reason: "the meter's lead was broken"})
	if s.State() != yokemate.ProofOpen || s.Next() == "ohms-S1-P" {
		t.Errorf("%s, next %s", s.State(), s.Next())
	}
}

// No reason lets a gap be read before the joints behind it are proved.
func TestReasonDoesNotSkipTheJoints(t *testing.T) {
	s := started(t)
	v, err := s.Take(yokemate.Answer{Step: "gap-B", Value: "0.1", Reason: "in a hurry"})
	if err != nil {
		t.Fatal(err)
	}
	if v.Verdict == "go" || s.State() == yokemate.ProofGood {
		t.Errorf("the gap was passed: %s", v.Words)
	}
}

// An answer that is refused leaves the earlier reading of its step in force.
func TestRefusedAnswerChangesNothing(t *testing.T) {
	s := started(t, yokemate.Answer{Step: "ohms-S1-P", Value: "160.0"})
	next := s.Next()
	for _, v := range []yokemate.AnswerText{"-3", "ten"} {
		if _, err := s.Take(yokemate.Answer{Step: "ohms-S1-P", Value: v}); err == nil {
			t.Errorf("%s was taken", v)
		}
	}
	if s.Next() != next {
		t.Errorf("next is %s, was %s", s.Next(), next)
	}
}
