package supply_test

import (
	"math/rand/v2"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

// unsure gives every fact of a shelf an uncertainty of the size that a cheap
// meter leaves (common practice, no source), and the feed one of a volt.
func unsure(s *yokemate.Shelf, h *yokemate.Hookup) {
	with := func(v *yokemate.Value, share float64) {
		*v = yokemate.PlusMinus(v.V, share*v.V, yokemate.Measured)
	}
	for i := range s.Units {
		u := &s.Units[i]
		for k := range u.Windings {
			w := &u.Windings[k]
			share := 0.012
			if u.MainsSide(w.ID) {
				share = 0 // the volts that all others are counted from
			}
			with(&w.Volts, share)
			with(&w.Ohms, 0.05)
			w.LeakageMH = yokemate.PlusMinus(1.2e3*0.02*w.Volts.V*w.Volts.V/230/230, 0, yokemate.Measured)
			with(&w.LeakageMH, 0.2)
		}
		e := &u.Excitation[0]
		with(&e.Amps, 0.04)
		with(&e.Watts, 0.06)
	}
	h.Feed[0].Volts = yokemate.PlusMinus(230, 1, yokemate.Measured)
}

// draw is one truth that the facts leave: each fact drawn from its own
// uncertainty, and known for certain.
func draw(r *rand.Rand, s *yokemate.Shelf, h *yokemate.Hookup) (*network.Facts, *yokemate.Hookup) {
	from := func(v *yokemate.Value) { *v = num(v.V + v.U*r.NormFloat64()) }
	t := &yokemate.Shelf{Format: s.Format}
	for i := range s.Units {
		u := s.Units[i]
		u.Windings = append([]yokemate.Winding(nil), u.Windings...)
		for k := range u.Windings {
			from(&u.Windings[k].Volts)
			from(&u.Windings[k].Ohms)
			from(&u.Windings[k].LeakageMH)
		}
		e := u.Excitation[0]
		from(&e.Amps)
		from(&e.Watts)
		u.Excitation = yokemate.ExcitationList{e}
		t.Units = append(t.Units, u)
	}
	x := h.Clone()
	drift := 1 + h.Feed[0].Volts.U/230*r.NormFloat64()
	x.Feed[0].Volts = num(230 * drift)
	x.Feed[0].Low, x.Feed[0].High = x.Feed[0].Low*drift, x.Feed[0].High*drift
	return network.Compile(t), x
}

// TestCoverage holds the 95 % intervals of rectified hookups to truths drawn
// from the facts (JCGM 101): 93 % at least of each kind of figure must be
// held (the project's own bar: 95 % less what linear propagation costs), and
// not so many that the intervals are idle.
func TestCoverage(t *testing.T) {
	type tally struct{ in, all int }
	kinds := map[string]*tally{}
	count := func(kind string, truth, low, high float64) {
		if kinds[kind] == nil {
			kinds[kind] = &tally{}
		}
		kinds[kind].all++
		if truth >= low && truth <= high {
			kinds[kind].in++
		}
	}
	const supplies, truths = 40, 5
	for seed := range uint64(supplies) {
		r := rand.New(rand.NewPCG(seed, 47))
		f, h, level := random(r)
		s := f.Shelf
		unsure(s, h)
		p, err := supply.Predict(network.Compile(s), h, level, predict.Options{Brief: true})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for range truths {
			g, x := draw(r, s, h)
			q, err := supply.Predict(g, x, level, predict.Options{Brief: true})
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			for k, l := range p.Rails {
				count("mean", q.Rails[k].Mean, l.MeanLow, l.MeanHigh)
				count("valley", q.Rails[k].Valley, l.ValleyLow, l.ValleyHigh)
			}
			for k, o := range p.Outputs {
				count("output volts", q.Outputs[k].Volts, o.Low, o.High)
			}
			for k, w := range p.Windings {
				if w.Amps > 1e-6 { // an open winding carries its strays only
					count("winding amps", q.Windings[k].Amps, w.Low, w.High)
				}
			}
			count("feed amps", q.Feed[0].Amps, p.Feed[0].Low, p.Feed[0].High)
		}
	}
	all := tally{}
	for kind, k := range kinds {
		share := float64(k.in) / float64(k.all)
		t.Logf("%-14s %.1f %% of %d", kind, 100*share, k.all)
		if share < 0.93 {
			t.Errorf("%s: %.1f %% of %d intervals hold the truth, 93 %% at least are wanted", kind, 100*share, k.all)
		}
		all.in, all.all = all.in+k.in, all.all+k.all
	}
	if share := float64(all.in) / float64(all.all); share > 0.985 {
		t.Errorf("%.1f %% of all intervals hold the truth: they are wider than 95 %%", 100*share)
	}
}
