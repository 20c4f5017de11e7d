package prove_test

import (
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
)

// Every slip that a proof reckons with has a wiring that can be predicted and
// that differs from the right one, with a place to look at; what it says is
// what the proof's own steps say of the slip.
func TestEverySlipIsWired(t *testing.T) {
	compared := 0
	for _, h := range hookups() {
		f := network.Compile(exact(workshop(), 230).known)
		p, err := prove.New(f, h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		proof, err := p.Proof()
		if err != nil {
			t.Fatal(err)
		}
		for _, code := range p.Slips() {
			w, ok, err := prove.Wired(f, h, code)
			if err != nil || !ok {
				t.Fatalf("%s, %s: %v, %v", h.Name, code, ok, err)
			}
			if len(w.Faults) == 0 || w.Words == "" {
				t.Errorf("%s, %s: nothing to look at", h.Name, code)
			}
			if err := w.Drawn().Check(f.Shelf); err != nil {
				t.Errorf("%s, %s: cannot be drawn: %v", h.Name, code, err)
			}
			if err := w.Drawn().Validate(); err != nil {
				t.Errorf("%s, %s: cannot be drawn: %v", h.Name, code, err)
			}
			// A wiring may contradict itself, as a tap on live and neutral does; else
			// it has an answer.
			_, err = predict.Hookup(f, w.State, yokemate.Nominal, predict.Options{Brief: true, Network: w.Options})
			if err != nil && !strings.HasPrefix(code, "wrong-pin") {
				t.Errorf("%s, %s: %v", h.Name, code, err)
			}
		}
		for _, s := range proof.Steps {
			for _, x := range s.Slips {
				w, ok, err := p.Wired(&s.State, x.Code)
				if err != nil || !ok {
					t.Fatalf("%s, %s at %s: %v, %v", h.Name, x.Code, s.ID, ok, err)
				}
				if s.Measure.Quantity != yokemate.VoltsAC || s.State.Feed[0].Volts.V < 50 {
					continue
				}
				if strings.HasPrefix(x.Code, "wrong-feed") && x.IfClosed == nil {
					continue // of its guises the step lists one that it can tell
				}
				w.Options.Added = []network.Branch{{From: s.Measure.From, To: s.Measure.To, Ohms: 10e6}}
				if r := s.Measure.BurdenOhms; r > 0 {
					w.Options.Added = append(w.Options.Added, network.Branch{From: s.Measure.From, To: s.Measure.To, Ohms: r})
				}
				n, err := network.Build(f, w.State, w.Options)
				if err != nil {
					continue // the wiring contradicts itself
				}
				sol, err := n.Solve(nil)
				if err != nil {
					continue
				}
				compared++
				probe, _ := n.Volts(s.Measure.From, s.Measure.To)
				// The interval is at the socket's volts as they may be.
				if v := abs(sol.Value(probe)); v < x.Low-0.03 || v > x.High+0.03 {
					t.Errorf("%s, %s at %s: the wiring gives %.3g V, the step says %.3g to %.3g", h.Name, x.Code, s.ID, v, x.Low, x.High)
				}
			}
		}
		if _, _, err := prove.Wired(f, h, "reversed:X9/A"); yokemate.ErrorCode(err) != yokemate.NotFound {
			t.Errorf("a slip of no unit: %v", err)
		}
	}
	if compared < 300 {
		t.Errorf("only %d readings compared", compared)
	}
}

// A lead that is off and shorted turns count in every part of a prediction.
func TestPredictedAsWired(t *testing.T) {
	h := hookups()[3]
	f := network.Compile(workshop())
	ask := func(code string) *yokemate.Prediction {
		opt := predict.Options{Brief: true}
		state := h
		if code != "" {
			w, _, err := prove.Wired(f, h, code)
			if err != nil {
				t.Fatal(err)
			}
			state, opt.Network = w.State, w.Options
		}
		p, err := predict.Hookup(f, state, yokemate.Nominal, opt)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	right, open, short := ask(""), ask("open:S2.6"), ask("shorted-turn:S2/P")
	amps := func(p *yokemate.Prediction, unit string) float64 {
		for _, w := range p.Windings {
			if w.Unit == unit && w.ID == "A" {
				return w.Amps
			}
		}
		return 0
	}
	if amps(right, "S2") < 1 || amps(open, "S2") > 1e-3 || amps(open, "S1") < 1.5*amps(right, "S1") {
		t.Errorf("with S2.6 off, S2/A carries %.3g A and S1/A %.3g A; right %.3g and %.3g", amps(open, "S2"), amps(open, "S1"), amps(right, "S2"), amps(right, "S1"))
	}
	if short.Feed[0].Watts < 1.2*right.Feed[0].Watts {
		t.Errorf("shorted turns take %.3g W from the mains, right %.3g W", short.Feed[0].Watts, right.Feed[0].Watts)
	}
	for _, n := range open.Notes {
		if n.Code == yokemate.Circulating || n.Code == yokemate.Mismatch {
			t.Errorf("a winding with a lead off is in no ring: %s", n.Words)
		}
	}
}
