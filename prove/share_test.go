package prove_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// unequal is two units in parallel whose volts differ by 3 %, on a load of so
// many ohms.
func unequal(load float64) (*bench, *yokemate.Hookup) {
	s := workshop()
	s.Unit("S2").Windings[1].Volts = yokemate.Num(14.42)
	h := hookups()[3].Clone()
	h.Outputs[0].Load = &yokemate.Load{Ohms: load}
	return exact(s, 230), h
}

// answered takes right answers until a verdict at a step with the prefix, and
// returns all verdicts there.
func answered(t *testing.T, b *bench, h *yokemate.Hookup, opt prove.Options, prefix string) (vs []*yokemate.Verdict, p *prove.Plan, s *prove.Session) {
	t.Helper()
	p, err := prove.New(network.Compile(b.known), h, opt)
	if err != nil {
		t.Fatal(err)
	}
	s = p.Session()
	for range 80 {
		id := s.Next()
		if id == "" {
			break
		}
		v, err := s.Take(yokemate.Answer{Step: id, Value: b.read(t, p.Step(id))})
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(id, prefix) {
			vs = append(vs, v)
		} else if v != nil && v.Verdict != "go" && v.Verdict != "unsure" {
			t.Fatalf("%s: %s %s", id, v.Verdict, v.Words)
		}
	}
	return vs, p, s
}

// A pair that is joined derated has the current of each branch read, and the
// reading is the one of the network: the branch's own current, less what
// 0.1 Ω in its lead takes away. What it tells is the current without it.
func TestBranchesOfADeratedPair(t *testing.T) {
	b, h := unequal(8)
	vs, p, s := answered(t, b, h, prove.Options{}, "branch-")
	if len(vs) != 2 || s.State() != yokemate.ProofGood {
		t.Fatalf("%d branch steps, proof %s", len(vs), s.State())
	}
	n, err := network.Build(network.Compile(b.truth), h, network.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sol, err := n.Solve(nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, tag := range n.Units() {
		amps := cmplx.Abs(sol.Value(n.WindingAmps(k, 1)))
		step := p.Step("branch-" + tag + "-A")
		if step == nil || step.Measure.Quantity != yokemate.AmpsAC {
			t.Fatalf("%s has no branch step", tag)
		}
		if r := step.Right; r.Value >= amps || r.Value < 0.85*amps {
			t.Errorf("%s: with the ammeter %.4g A, without %.4g A", tag, r.Value, amps)
		}
		if len(step.Slips) == 0 {
			t.Errorf("%s: no slip reads otherwise", tag)
		}
	}
	// The words give the current without the ammeter: 1.6 A is what each may carry.
	for _, v := range vs {
		if v.Verdict != "go" || !strings.Contains(v.Words, "1.60 A") {
			t.Errorf("%s: %s", v.Verdict, v.Words)
		}
	}
}

// A branch above its rating stops the proof, though every lead is right and the
// shelf foresees none: its volts are a label's, and 14.42 V are 14.1 there.
func TestBranchOverItsRating(t *testing.T) {
	b, h := unequal(3.95)
	known := *workshop()
	known.Meters = b.known.Meters
	known.Unit("S2").Windings[1].Volts = yokemate.PlusMinus(14.1, 0.2, yokemate.Label)
	b.known = &known
	vs, _, s := answered(t, b, h, prove.Options{}, "branch-S2")
	if len(vs) == 0 || vs[0].Verdict != "stop" || s.State() != yokemate.ProofStopped || !strings.Contains(vs[0].Words, "S2/A carries") {
		t.Fatalf("%+v, proof %s", *vs[0], s.State())
	}
}

// Twins share as they should, and need no branch steps; without a sufficient
// range for amps a resistor and the volts across it do.
func TestBranchStepsWhereTheyMatter(t *testing.T) {
	b, h := unequal(8)
	b.truth.Unit("S2").Windings[1].Volts = yokemate.Num(14.02)
	s := *b.truth
	s.Meters = b.known.Meters
	for i := range s.Units {
		for k := range s.Units[i].Windings {
			w := &s.Units[i].Windings[k]
			w.Volts = yokemate.PlusMinus(w.Volts.V, 1e-4*w.Volts.V, yokemate.Measured)
		}
	}
	b.known = &s
	if vs, _, _ := answered(t, b, h, prove.Options{}, "branch-"); len(vs) != 0 {
		t.Errorf("%d branch steps for twins", len(vs))
	}
	b, h = unequal(8)
	m := benchMeter()
	m.Ranges = nil
	for _, r := range benchMeter().Ranges {
		if r.Quantity != yokemate.AmpsAC || r.Max < 1 {
			m.Ranges = append(m.Ranges, r)
		}
	}
	vs, p, _ := answered(t, b, h, prove.Options{Meter: &m}, "branch-")
	if len(vs) != 2 {
		t.Fatalf("%d branch steps", len(vs))
	}
	step := p.Step("branch-S2-A")
	if step.Measure.Quantity != yokemate.VoltsAC || step.Measure.BurdenOhms != 0.1 {
		t.Errorf("%+v", step.Measure)
	}
	full, _, _ := answered(t, b, h, prove.Options{}, "branch-")
	for i := range vs {
		a, c := number(t, vs[i].Words), number(t, full[i].Words)
		if vs[i].Verdict != "go" || math.Abs(a-c) > 0.03*c {
			t.Errorf("by the resistor %s, by the ammeter %s", vs[i].Words, full[i].Words)
		}
	}
}

// number is the amps that a branch's words say first.
func number(t *testing.T, words string) float64 {
	t.Helper()
	f := strings.Fields(words)
	for i, w := range f {
		if w == "carries" && i+2 < len(f) {
			v, err := yokemate.Read(f[i+1])
			if err != nil {
				t.Fatal(err)
			}
			if f[i+2] == "mA" {
				v.V /= 1000
			}
			return v.V
		}
	}
	t.Fatalf("no amps in %q", words)
	return 0
}
