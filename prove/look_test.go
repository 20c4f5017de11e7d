package prove_test

import (
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// Of the four leads that read the same when turned, one of the low side is
// named as the one to turn.
func TestLowSideIsNamedFirst(t *testing.T) {
	h := hookups()[3]
	b := exact(workshop(), 230)
	b.slip = slipTruth{code: "reversed:S1/P", swap: map[string]string{"S1.1": "S1.2", "S1.2": "S1.1"}}
	p, err := prove.New(network.Compile(b.known), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for s.Next() != "" {
		step := p.Step(s.Next())
		v, err := s.Take(yokemate.Answer{Step: step.ID, Value: b.read(t, step)})
		if err != nil {
			t.Fatal(err)
		}
		if v.Verdict == "change" {
			if !strings.HasSuffix(v.Changed, "/A") || !slices.Contains(v.Slips[0].Same, "reversed:S1/P") {
				t.Errorf("it names %s, and %v beside it", v.Changed, v.Slips[0].Same)
			}
			return
		}
	}
	t.Error("the slip was not found")
}

func TestPlanLists(t *testing.T) {
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pr, err := p.Proof()
	if err != nil {
		t.Fatal(err)
	}
	ids := p.IDs()
	if len(ids) != len(pr.Steps) {
		t.Fatalf("%d ids, %d steps", len(ids), len(pr.Steps))
	}
	for i, id := range ids {
		if pr.Steps[i].ID != id {
			t.Errorf("step %d is %s and %s", i+1, id, pr.Steps[i].ID)
		}
		for _, x := range pr.Steps[i].Slips {
			if !slices.Contains(p.Slips(), x.Code) {
				t.Errorf("%s is not among the slips", x.Code)
			}
		}
	}
}
