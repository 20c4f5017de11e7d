package prove_test

import (
	"strconv"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// BenchmarkPlan lays out the proof of two units in parallel and describes
// every step: its right reading, each slip's, and what closing on it would do.
func BenchmarkPlan(b *testing.B) {
	f := network.Compile(workshop())
	h := hookups()[3]
	for b.Loop() {
		planned(b, f, h)
	}
}

// BenchmarkJudge takes the right answer to every step of that proof, and
// judges them all.
func BenchmarkJudge(b *testing.B) {
	f := network.Compile(workshop())
	h := hookups()[3]
	plan, proof := planned(b, f, h)
	var answers []yokemate.Answer
	for _, s := range proof.Steps {
		a := yokemate.Answer{Step: s.ID}
		switch {
		case s.Measure == nil:
		case s.Right == nil:
			a.Value = "over"
		default:
			a.Value = yokemate.AnswerText(strconv.FormatFloat(s.Right.Value, 'g', 4, 64))
		}
		answers = append(answers, a)
	}
	for b.Loop() {
		p, err := plan.Judge(answers)
		if err != nil {
			b.Fatal(err)
		}
		if p.Proof != yokemate.ProofGood {
			b.Fatalf("right answers leave the proof %s: %+v", p.Proof, p.Verdicts[len(p.Verdicts)-1])
		}
	}
	b.ReportMetric(float64(len(answers)), "readings/op")
}

func planned(b *testing.B, f *network.Facts, h *yokemate.Hookup) (*prove.Plan, *yokemate.Proof) {
	b.Helper()
	p, err := prove.New(f, h, prove.Options{})
	if err != nil {
		b.Fatal(err)
	}
	proof, err := p.Proof()
	if err != nil {
		b.Fatal(err)
	}
	if len(proof.Steps) < 15 || len(proof.Steps[0].Slips) == 0 {
		b.Fatalf("%d steps, %d slips at the first", len(proof.Steps), len(proof.Steps[0].Slips))
	}
	return p, proof
}
