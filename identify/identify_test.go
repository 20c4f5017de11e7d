package identify

import (
	"math"
	"math/rand/v2"
	"testing"

	"yokemate"
)

func TestSimulatedTruth(t *testing.T) {
	const units = 1000
	wrong, wrongCertain, uncertain, count := 0, 0, 0, 0
	for i := range units {
		rng := rand.New(rand.NewPCG(1, uint64(i)))
		u := newTruth(rng, 9)
		a, err := u.run(Options{Want: []Ask{Windings, Dots}}, 60)
		if err != nil {
			t.Fatal(err)
		}
		count += len(u.given)
		if !a.Certain {
			uncertain++
		}
		wires, all := u.right(a, true)
		if !all {
			wrong++
			if a.Certain {
				wrongCertain++
			}
			if wrong < 12 {
				t.Logf("unit %d: %d pins %v wires %v ohms %v volts %v certain %v conf %.4f readings %d", i, len(u.pins), wires, u.wires, u.ohms, u.volts, a.Certain, a.Confidence, len(u.given))
			}
		} else if !a.Certain && uncertain < 8 {
			t.Logf("uncertain unit %d: %d pins wires %v ohms %v volts %v conf %.4f readings %d open %+v", i, len(u.pins), u.wires, u.ohms, u.volts, a.Confidence, len(u.given), a.Open)
		}
	}
	if testing.Verbose() {
		for _, i := range []int{32, 119} {
			u := newTruth(rand.New(rand.NewPCG(1, uint64(i))), 9)
			a, _ := u.run(Options{Want: []Ask{Windings, Dots}}, 30)
			t.Log(u.wires, u.volts)
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
	}
	t.Logf("wrong %d of %d, of them said to be certain %d, uncertain %d, readings %.2f", wrong, units, wrongCertain, uncertain, float64(count)/units)
}

// TestCoverage: how often the 95 % intervals of measured facts hold the truth.
func TestCoverage(t *testing.T) {
	type count struct{ n, in int }
	by := map[string]*count{}
	var all count
	for i := range 400 {
		u := newTruth(rand.New(rand.NewPCG(3, uint64(i))), 9)
		a, err := u.run(Options{}, 80)
		if err != nil {
			t.Fatal(err)
		}
		if !a.Certain && i < 40 {
			t.Logf("unit %d open after %d: %v %v %v", i, len(u.given), u.wires, u.ohms, a.Confidence)
		}
		if _, right := u.right(a, true); !right {
			continue
		}
		ends := map[string][2]string{}
		for _, w := range a.Windings {
			ends[w.ID] = w.Pins
		}
		// The state the volts are given at: the excitation that the unit names.
		if a.Shelf == nil {
			t.Errorf("unit %d: right, and no unit for the shelf", i)
			continue
		}
		for _, f := range a.Facts {
			if f.Basis != yokemate.Measured {
				continue
			}
			p := ends[f.About]
			var want float64
			switch f.Name {
			case "ohms":
				want = math.Abs(u.along(u.pin(p[0]), u.ohms) - u.along(u.pin(p[1]), u.ohms))
			case "volts":
				want = u.trueVolts(a.Shelf, p)
			default:
				t.Fatalf("no truth for %s", f.Name)
			}
			key := f.Name
			if by[key] == nil {
				by[key] = &count{}
			}
			in := f.Low <= want && want <= f.High
			if f.Name == "volts" && f.High-f.Low < 1e-3*f.Value {
				continue // the fed winding: its volts are the definition
			}
			by[key].n++
			all.n++
			if in {
				by[key].in++
				all.in++
			}
		}
	}
	for k, c := range by {
		share := float64(c.in) / float64(c.n)
		t.Logf("%s: %d of %d, %.3f", k, c.in, c.n, share)
		if share < 0.93 {
			t.Errorf("%s: the interval covers %.3f", k, share)
		}
	}
	share := float64(all.in) / float64(all.n)
	t.Logf("pooled %.3f of %d", share, all.n)
	if share < 0.93 || share > 0.97 {
		t.Errorf("pooled: the interval covers %.3f", share)
	}
}
