package switching

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/prove"
)

// gaps calls f for every slip at every gap of the demo's proofs.
func gaps(t *testing.T, f func(name string, facts *network.Facts, h *yokemate.Hookup, s *yokemate.Step, z *yokemate.Slip)) {
	t.Helper()
	for _, d := range demo {
		facts, h := example(t, d[0], d[1])
		p, err := prove.New(facts, h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		proof, err := p.Proof()
		if err != nil {
			t.Fatal(err)
		}
		for i := range proof.Steps {
			for k := range proof.Steps[i].Slips {
				if z := &proof.Steps[i].Slips[k]; z.IfClosed != nil {
					f(h.Name, facts, h, &proof.Steps[i], z)
				}
			}
		}
	}
}

// TestSlipIsTheProofs: a slip is wired here as the proof has it: closed on it,
// the steady network drives the same currents, to the last digits.
func TestSlipIsTheProofs(t *testing.T) {
	seen := 0
	gaps(t, func(name string, facts *network.Facts, h *yokemate.Hookup, s *yokemate.Step, z *yokemate.Slip) {
		state, opt, ok, err := made(facts, &s.State, z.Code)
		if err != nil || !ok {
			t.Fatalf("%s, %s at %s: %v, %v", name, z.Code, s.ID, ok, err)
		}
		opt.Added = append(opt.Added, network.Branch{From: s.Measure.From, To: s.Measure.To, Ohms: jointOhms})
		n, err := network.Build(facts, state, opt)
		if err != nil {
			t.Fatal(err)
		}
		sol, err := n.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for k := range n.Units() {
			for w := range n.UnitFacts(k).Windings {
				most = math.Max(most, cmplx.Abs(sol.Value(n.WindingAmps(k, w))))
			}
		}
		seen++
		if math.Abs(most-z.IfClosed.WindingAmps) > 1e-9*math.Max(most, 1e-3) {
			t.Errorf("%s, %s at %s: %.12g A, the proof says %.12g A", name, z.Code, s.ID, most, z.IfClosed.WindingAmps)
		}
	})
	if seen < 40 {
		t.Errorf("only %d slips at gaps were seen", seen)
	}
}

// TestFaultBesideTheProof follows every slip at every gap of the demo in time
// and holds the proof's steady answer to it, and the time of the heat network
// beside both.
func TestFaultBesideTheProof(t *testing.T) {
	say := func(v *float64) string {
		if v == nil {
			return "never"
		}
		return fmt.Sprintf("%.3g s", *v)
	}
	gaps(t, func(name string, facts *network.Facts, h *yokemate.Hookup, s *yokemate.Step, z *yokemate.Slip) {
		r, err := Follow(facts, h, z.Code, FaultOptions{Step: s.ID, RoomC: 25})
		if err != nil {
			t.Fatalf("%s, %s at %s: %v", name, z.Code, s.ID, err)
		}
		c := z.IfClosed
		state, opt, _, err := made(facts, &s.State, z.Code)
		if err != nil {
			t.Fatal(err)
		}
		_ = opt
		_ = state
		t.Logf("%-26s %-24s proof: %-6s fuse %-8s limit %-8s feed %.3g A | time: %-6s %-8s fuse %s to %s, limit %-8s feed %.3g A, %s %.0f °C", name, z.Code, c.FuseOpens, say(c.OpensS), say(c.LimitS), c.FeedAmps,
			r.FuseOpens, r.Event, say(r.EarliestS), say(r.LatestS), say(r.LimitS), r.FeedAmps, r.Winding, hottest(r))
		_ = thermal.Options{}
		_ = heat.FirstHour
	})
}

func hottest(r *yokemate.Fault) float64 {
	m := 0.0
	for _, w := range r.Windings {
		m = math.Max(m, w.Celsius)
	}
	return m
}
