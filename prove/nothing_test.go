package prove_test

import (
	"fmt"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// reversedAndDead wires two units of a bench with one winding the wrong way
// round, and something else that makes the gap read about nothing: from the
// first reading with power at the gap on, after the ohms through the joints
// were read good.
func reversedAndDead(b *bench, way int) (what string, dead func(step *yokemate.Step) bool) {
	b.slip = slipTruth{code: "reversed:T2/A", swap: map[string]string{"T2.5": "T2.6", "T2.6": "T2.5"}}
	atGap := func(s *yokemate.Step) bool {
		return strings.HasPrefix(s.ID, "gap-") || strings.HasPrefix(s.ID, "live-")
	}
	switch way {
	case 0:
		return "the plug is out", atGap
	case 1:
		return "the meter's range is wrong or a probe is broken", atGap
	case 2:
		what, b.slip.parted = "a lead falls off its joint", "T2.5"
	case 3:
		what, b.slip.parted = "a lead falls off its joint", "T1.5"
	case 4:
		what, b.slip.parted = "the loose lead breaks", "T2.6"
	}
	b.slip.since = atGap
	return what, func(*yokemate.Step) bool { return false }
}

// A gap that reads about nothing is no go where what was read is a dead meter
// or an open lead: with a winding reversed behind it the joint would be a
// short. Ohms were read good before, so that only the reading itself can tell.
func TestNothingIsNoGo(t *testing.T) {
	t.Parallel()
	cases := 100
	if testing.Short() {
		cases = 10
	}
	nothing := 0
	for i := range cases {
		b := newBench(uint64(40000 + i))
		what, dead := reversedAndDead(b, i%5)
		p, err := prove.New(network.Compile(b.known), b.hookup(), prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		s := p.Session()
		var trail strings.Builder
		unsure := 0
	proof:
		for range 80 {
			id := s.Next()
			if id == "" {
				t.Errorf("case %d, %s: proved good\n%s", i, what, trail.String())
				break
			}
			step := p.Bare(id)
			value := yokemate.AnswerText("")
			if dead(step) {
				value = yokemate.AnswerText(b.shown(step.Measure.Quantity, 0))
			} else {
				b.at = step
				value = b.read(t, step)
			}
			v, err := s.Take(yokemate.Answer{Step: id, Value: value})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&trail, "%s = %s: %s %s\n", id, value, v.Verdict, v.Words)
			if x, err := yokemate.Read(string(value)); err == nil && strings.HasPrefix(id, "live-") && x.V < 1 {
				nothing++
			}
			switch {
			case strings.HasPrefix(id, "gap-") && v.Verdict == "go":
				t.Errorf("case %d, %s: go on a gap with a reversed winding behind it\n%s", i, what, trail.String())
				break proof
			case v.Verdict == "unsure" && unsure < 6:
				unsure++
			case v.Verdict != "go":
				break proof
			}
		}
	}
	if nothing == 0 {
		t.Error("no case came as far as a live reading of nothing")
	}
	t.Logf("%d cases, %d read nothing where a winding should be alive, no go", cases, nothing)
}

// Whoever skips the live reading and answers the gap with nothing is asked for
// the live reading first, however right nothing is.
func TestGapWithoutItsLiveReading(t *testing.T) {
	b := exact(workshop(), 230)
	p, err := prove.New(network.Compile(b.known), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for range 40 {
		id := s.Next()
		if strings.HasPrefix(id, "live-") {
			break
		}
		if _, err := s.Take(yokemate.Answer{Step: id, Value: b.read(t, p.Step(id))}); err != nil {
			t.Fatal(err)
		}
	}
	take := func(id string, value yokemate.AnswerText) *yokemate.Verdict {
		if value == "" {
			value = b.read(t, p.Step(id))
		}
		v, err := s.Take(yokemate.Answer{Step: id, Value: value})
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	if v := take("gap-B", "0.02"); v.Verdict != "unsure" || s.Next() != "live-B" {
		t.Fatalf("without its live reading: %s, next %s: %s", v.Verdict, s.Next(), v.Words)
	}
	if v := take("live-B", "0.03"); v.Verdict == "go" {
		t.Fatalf("a dead winding: %s, %s", v.Verdict, v.Words)
	}
	take("live-B-2", "")
	if v := take("gap-B", "0.02"); v.Verdict == "go" {
		t.Fatalf("after a dead live reading: %s, %s", v.Verdict, v.Words)
	}
	take("live-B", "")
	if v := take("gap-B", "0.02"); v.Verdict == "go" {
		t.Fatalf("after one of two: %s, %s", v.Verdict, v.Words)
	}
	take("live-B", "")
	take("live-B-2", "")
	// Something else is read in between: the clips have moved.
	take("lamp-all", "")
	if v := take("gap-B", "0.02"); v.Verdict == "go" {
		t.Fatalf("with another reading in between: %s, %s", v.Verdict, v.Words)
	}
	if s.Next() != "live-B" {
		t.Fatalf("next is %s", s.Next())
	}
	take("live-B", "")
	if s.Next() != "live-B-2" {
		t.Fatalf("next is %s", s.Next())
	}
	take("live-B-2", "")
	if v := take("gap-B", "0.02"); v.Verdict != "go" {
		t.Fatalf("right after its live reading: %s, %s", v.Verdict, v.Words)
	}
}

// A burden stands in the measure, in the words, and lets a ghost collapse:
// what a lead that is off reads at the gap is below 2 % of the winding's volts.
func TestBurden(t *testing.T) {
	b := exact(workshop(), 230)
	p, err := prove.New(network.Compile(b.known), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"live-B", "live-B-2", "gap-B"} {
		s := p.Step(id)
		if s.Measure.BurdenOhms != 100e3 || !strings.Contains(s.Do, "100 kΩ") {
			t.Errorf("%s has a burden of %g Ω: %s", id, s.Measure.BurdenOhms, s.Do)
		}
		for _, x := range s.Slips {
			if strings.HasPrefix(x.Code, "open:S1.5") && x.High > 0.02*14 {
				t.Errorf("%s, %s reads up to %.3g V under the burden", id, x.Code, x.High)
			}
			// Copper does not care: 100 kΩ beside about an ohm.
			if x.Code == "reversed:S1/A" && id == "gap-B" && (x.Value < 27.9 || x.Value > 28.1) {
				t.Errorf("reversed reads %.4g V", x.Value)
			}
		}
	}
}
