package prove_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
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

// What the socket reads scales every forecast, so that 230 V on a hookup for
// 115 V would read as foreseen throughout: the socket itself is the stop.
func TestWrongSocketStops(t *testing.T) {
	h := hookups()[2] // for 104 to 126 V
	p, err := prove.New(network.Compile(workshop()), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		volts float64
		state yokemate.ProofState
	}{{115, yokemate.ProofOpen}, {126, yokemate.ProofOpen}, {127, yokemate.ProofOpen}, {130, yokemate.ProofStopped}, {230, yokemate.ProofStopped}, {100, yokemate.ProofOpen}, {60, yokemate.ProofStopped}} {
		s := p.Session()
		v, err := s.Take(yokemate.Answer{Step: "mains-D1", Value: yokemate.AnswerText(fmt.Sprintf("%.1f", x.volts)), FeedVolts: yokemate.Num(x.volts)})
		if err != nil {
			t.Fatal(err)
		}
		if s.State() != x.state || (v.Verdict == "stop") != (x.state == yokemate.ProofStopped) {
			t.Errorf("%g V at the socket: %s, %s: %s", x.volts, v.Verdict, s.State(), v.Words)
		}
		if x.state == yokemate.ProofOpen {
			continue
		}
		if _, err := s.Take(yokemate.Answer{Step: "mains-D1", Value: "230.0", FeedVolts: yokemate.Num(x.volts), Reason: "it is what there is"}); err != nil || s.State() != yokemate.ProofStopped {
			t.Errorf("a reason lifted it: %s, %v", s.State(), err)
		}
		if _, err := s.Take(yokemate.Answer{Step: "mains-D1", Value: "115.0", FeedVolts: yokemate.Num(115)}); err != nil || s.State() != yokemate.ProofOpen {
			t.Errorf("the right socket does not lift it: %s, %v", s.State(), err)
		}
	}
}

// A reading that was overruled keeps its weight against those after it. One
// that is right by itself is then neither passed nor said to fit nothing: the
// overruled one is asked for again, once, and a good reading of it clears both.
func TestOverruledReadingIsAskedForAgain(t *testing.T) {
	bad := yokemate.Answer{Step: "volts-S1-A", Value: "11.00"} // 14 V is right, and nothing on the list makes 11
	over := bad
	over.Reason = "the probe slipped"
	idle := yokemate.Answer{Step: "idle-S1", Value: "0.03400"}
	b := exact(workshop(), 230)
	p, err := prove.New(network.Compile(b.known), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for s.Next() != bad.Step {
		if _, err := s.Take(yokemate.Answer{Step: s.Next(), Value: b.read(t, p.Bare(s.Next()))}); err != nil {
			t.Fatal(err)
		}
	}
	take := func(a yokemate.Answer) *yokemate.Verdict {
		t.Helper()
		v, err := s.Take(a)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	take(bad)
	take(over)
	if v := take(idle); v.Verdict != "unsure" || s.Next() != bad.Step || strings.Contains(v.Words, "fits nothing") {
		t.Fatalf("%s, next %s: %s", v.Verdict, s.Next(), v.Words)
	}
	if v := take(bad); v.Verdict != "stop" {
		t.Errorf("the bad reading once more: %s", v.Words)
	}
	// Insisted on, it stands: what speaks against it is a stop again.
	take(over)
	if v := take(idle); v.Verdict != "stop" || s.State() != yokemate.ProofStopped || !strings.Contains(v.Words, bad.Step) {
		t.Errorf("%s, %s: %s", v.Verdict, s.State(), v.Words)
	}
	take(yokemate.Answer{Step: bad.Step, Value: "14.00"})
	if v := take(idle); v.Verdict != "go" {
		t.Errorf("both good: %s: %s", v.Verdict, v.Words)
	}
}

// No overruled reading is passed over at a gap: what it says of the wiring
// stands, and the gap is not closed on it.
func TestOverruledJointKeepsTheGapOpen(t *testing.T) {
	s := started(t)
	take := func(a yokemate.Answer) *yokemate.Verdict {
		t.Helper()
		v, err := s.Take(a)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	take(yokemate.Answer{Step: "joint-A", Value: "1.8"})
	take(yokemate.Answer{Step: "live-B", Value: "11.00"})
	take(yokemate.Answer{Step: "live-B", Value: "11.00", Reason: "near enough"})
	take(yokemate.Answer{Step: "live-B-2", Value: "14.02"})
	for range 3 {
		if v := take(yokemate.Answer{Step: "gap-B", Value: "0.02", Reason: "it reads nothing"}); v.Verdict == "go" {
			t.Fatalf("the gap was passed: %s", v.Words)
		}
	}
}

// A gap that reads 0 on a range of whole volts may be right and may hide what
// circulates: it is read again, not taken for unlike windings.
func TestCoarseGapIsReadFiner(t *testing.T) {
	// Half a volt drives a tenth of the rating through these two.
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{Limits: predict.Limits{CirculatingStop: 0.08}})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	var v *yokemate.Verdict
	for _, a := range []yokemate.Answer{{Step: "joint-A", Value: "1.8"}, {Step: "live-B", Value: "14.00"}, {Step: "live-B-2", Value: "14.02"}, {Step: "gap-B", Value: "0"}} {
		if v, err = s.Take(a); err != nil {
			t.Fatal(err)
		}
	}
	if v.Verdict != "unsure" || s.Next() != "gap-B" || !strings.Contains(v.Words, "lower range") {
		t.Fatalf("%s, next %s: %s", v.Verdict, s.Next(), v.Words)
	}
	if v, err := s.Take(yokemate.Answer{Step: "gap-B", Value: "0.02"}); err != nil || v.Verdict != "go" {
		t.Errorf("on a finer range: %v, %v", v, err)
	}
}

// Where a reading leaves it open what is wrong, no step is asked for that would
// power what has not been through the lamp, or load what is not proved.
func TestNothingIsAskedForBeforeItsLamp(t *testing.T) {
	asked := 0
	for _, h := range []*yokemate.Hookup{hookups()[1], hookups()[3], hookups()[6]} { // coils in series, units in parallel, a boost
		p, err := prove.New(network.Compile(exact(workshop(), h.Feed[0].Volts.V).known), h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		ids := p.IDs()
		for k, id := range ids {
			if p.Bare(id).Measure == nil {
				continue
			}
			for _, slip := range p.Step(id).Slips {
				if slip.Value > 1e6 {
					continue
				}
				// Half way between right and a slip: neither.
				s := p.Session()
				right := p.Step(id).Right
				if right == nil {
					continue
				}
				if _, err := s.Take(yokemate.Answer{Step: id, Value: yokemate.AnswerText(fmt.Sprintf("%.4g", (right.Value+slip.Value)/2))}); err != nil {
					t.Fatal(err)
				}
				next := s.Next()
				if next == "" || next == id || !p.Bare(next).State.Powered(0) {
					continue // stopped, once more, or a dead reading
				}
				asked++
				for at := slices.Index(ids, next) - 1; at >= 0; at-- {
					// Nothing was passed but this one at most, so every lamp on the way is still to come.
					if x := p.Bare(ids[at]); at != k && x.State.Powered(0) && x.State.Feed[0].Lamp != nil {
						t.Errorf("%s: after %s, %s is asked for before %s", h.Name, id, next, ids[at])
					}
				}
			}
		}
	}
	if asked == 0 {
		t.Error("nothing else was ever asked for")
	}
}

// Half a megohm that was written in ohms is no good insulation.
func TestMegohmsWrittenInOhms(t *testing.T) {
	for value, want := range map[yokemate.AnswerText]string{"500000": "unsure", "5e5": "unsure", "20000": "go", "0.5": "stop", "over": "go"} {
		s := started(t)
		v, err := s.Take(yokemate.Answer{Step: "insulation-S1", Value: value})
		if err != nil || v.Verdict != want {
			t.Errorf("%s: %v, %v", value, v, err)
		}
		if want == "unsure" && s.Next() != "insulation-S1" {
			t.Errorf("%s: next is %s", value, s.Next())
		}
	}
}

// TestTrialGapHoldsIdleDrop: two mains coils of 12 VA, alike to 0.3 %, but with an
// idle current of four tenths of what each may carry: at 12 V the gap between
// them is for the most part what the idle current drops in the fed one (closed
// form: some 40 mA × 120 Ω of 115 V at full mains, against 0.4 V of the coils'
// own). With a meter that reads no AC amps nothing shows which, so it is no go, and
// nobody is told that their volts differ.
func TestTrialGapHoldsIdleDrop(t *testing.T) {
	num := yokemate.Num
	meter := benchMeter()
	meter.Ranges = slices.DeleteFunc(meter.Ranges, func(r yokemate.Range) bool { return r.Quantity == yokemate.AmpsAC })
	shelf := &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: []yokemate.Meter{meter}, Units: []yokemate.Unit{{
		Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P1", "P2"}}, VA: num(12),
		Windings: []yokemate.Winding{
			{ID: "P1", Pins: [2]string{"1", "2"}, Volts: num(115.2), Ohms: num(120)},
			{ID: "P2", Pins: [2]string{"3", "4"}, Volts: num(114.8), Ohms: num(126)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(13.8), Ohms: num(1.2), Amps: num(0.87)}},
		Excitation: yokemate.ExcitationList{{Series: yokemate.Series{"P1", "P2"}, Volts: num(230), Hertz: 50, Amps: num(0.02), Watts: num(1.9)}},
	}}}
	h := hookup("half mains", 115, 104, 127, 24, "A", "B", joints("L: T1.1 T1.3", "N: T1.2 T1.4", "A: T1.5", "B: T1.6", "E: T1.core"))
	p, err := prove.New(network.Compile(shelf), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for range 20 {
		step := p.Step(s.Next())
		if step == nil {
			t.Fatal("the trial's gap is never asked for")
		}
		a := yokemate.Answer{Step: step.ID, Value: "over"}
		if step.Right != nil {
			a.Value = yokemate.AnswerText(strconv.FormatFloat(step.Right.Value, 'g', 4, 64))
		}
		v, err := s.Take(a)
		if err != nil {
			t.Fatal(err)
		}
		if step.ID != "trial-T1-N" {
			continue
		}
		if v.Verdict != "stop" || !strings.Contains(v.Words, "idle current drops") || strings.Contains(v.Words, "volts differ") {
			t.Errorf("%s: %s", v.Verdict, v.Words)
		}
		return
	}
	t.Fatal("the trial's gap is never reached")
}

// TestAbsurdReading: what no slip gives is put on no slip, however good the
// readings before it were: ten times the volts that any wiring of these units
// could show is the meter's range, a probe elsewhere or another unit.
func TestAbsurdReading(t *testing.T) {
	for _, at := range []string{"lamp-", "mains-", "volts-", "live-", "gap-", "output-", "load-"} {
		p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		b := exact(workshop(), 230)
		s := p.Session()
		met := false
		for range 60 {
			step := p.Step(s.Next())
			if step == nil {
				break
			}
			a := yokemate.Answer{Step: step.ID, Value: "over"}
			switch {
			case strings.HasPrefix(step.ID, at):
				met, a.Value = true, "2140"
			case step.Measure == nil:
				a.Value = ""
			case step.Right != nil:
				a.Value = yokemate.AnswerText(b.shown(step.Measure.Quantity, step.Right.Value))
			}
			v, err := s.Take(a)
			if err != nil {
				t.Fatalf("%s: %v", step.ID, err)
			}
			if met {
				if v.Verdict != "stop" || v.Changed != "" {
					t.Errorf("2140 V at %s: %s %s: %s", step.ID, v.Verdict, v.Changed, v.Words)
				}
				break
			}
		}
		if !met {
			t.Errorf("no step %s is asked for", at)
		}
	}
}
