package identify

import (
	"math/rand/v2"
	"testing"
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
		for _, i := range []int{32,119} {
		u := newTruth(rand.New(rand.NewPCG(1, uint64(i))), 9)
		a, _ := u.run(Options{Want: []Ask{Windings, Dots}}, 30)
		t.Log(u.wires, u.volts)
		for _, r := range u.given {
			t.Logf("%s %s %s-%s %s joined %v excited %v", r.ID, r.Quantity, r.From, r.To, r.Value, r.Joined, r.Excited)
		}
		for _, n := range a.Notes { t.Log(n) }
		for _, n := range a.Open { t.Log(n) }
		}
	}
	t.Logf("wrong %d of %d, of them said to be certain %d, uncertain %d, readings %.2f", wrong, units, wrongCertain, uncertain, float64(count)/units)
}
