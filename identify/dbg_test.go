package identify

import (
	"math/rand/v2"
	"testing"
)

func TestDbg(t *testing.T) {
	shown := 0
	for _, i := range []int{5, 36, 65} {
		u := newTruth(rand.New(rand.NewPCG(3, uint64(i))), 9)
		a, _ := u.run(Options{}, 80)
		t.Log(u.wires, u.volts, u.drop)
		for _, r := range u.given {
			t.Logf("%s %s %s-%s %s joined %v excited %v", r.ID, r.Quantity, r.From, r.To, r.Value, r.Joined, r.Excited)
		}
		for _, n := range a.Notes {
			t.Log(n)
		}
		for _, n := range a.Open {
			t.Log(n)
		}
	}
	for i := range 40 {
		u := newTruth(rand.New(rand.NewPCG(3, uint64(i))), 9)
		a, _ := u.run(Options{}, 80)
		if a.Shelf == nil {
			continue
		}
		for _, f := range a.Facts {
			if f.Name != "volts" || f.High-f.Low < 1e-3*f.Value {
				continue
			}
			w := a.Shelf.Winding(f.About)
			want := u.trueVolts(a.Shelf, w.Pins)
			if (want < f.Low || want > f.High) && shown < 8 {
				shown++
				t.Logf("unit %d %s %v: %.5g ± %.2g want %.5g drop %.3g wires %v volts %v shelf exc %v", i, f.About, w.Pins, f.Value, f.U, want, u.drop, u.wires, u.volts, a.Shelf.Excitation[0])
				for _, r := range u.given {
					if r.Quantity == "volts_ac" {
						t.Logf("   %s-%s %s %v %v %v", r.From, r.To, r.Value, r.Joined, r.Excited.Series, r.Excited.Volts.Digits)
					}
				}
			}
		}
	}
}
