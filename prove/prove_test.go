package prove_test

import (
	"fmt"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

func shelf() *yokemate.Shelf {
	unit := func(tag string, va, ra, vb, rb, i0, w0 float64) yokemate.Unit {
		return yokemate.Unit{
			Tag: tag, ThermalClass: "B",
			Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(va), Ohms: yokemate.Num(ra)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(vb), Ohms: yokemate.Num(rb), Amps: yokemate.Num(0.25)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(va), Hertz: 50, Amps: yokemate.Num(i0), Watts: yokemate.Num(w0)}},
		}
	}
	return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		unit("T1", 230.1, 940, 11.92, 2.9, 0.012, 1.4),
		unit("T2", 230.1, 910, 11.90, 2.8, 0.0125, 1.5),
	}}
}

func parallel() *yokemate.Hookup {
	return &yokemate.Hookup{
		Format: yokemate.HookupFormat, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 0.5, FuseKind: "T"}},
		Joints: yokemate.Joints{
			{Name: "L", Pins: []string{"T1.1", "T2.1"}}, {Name: "N", Pins: []string{"T1.2", "T2.2"}},
			{Name: "A", Pins: []string{"T1.5", "T2.5"}}, {Name: "B", Pins: []string{"T1.6", "T2.6"}},
			{Name: "E", Pins: []string{"T1.core", "T2.core"}},
		},
		Outputs: []yokemate.Output{{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: 30}}},
	}
}

func TestLook(t *testing.T) {
	p, err := prove.New(network.Compile(shelf()), parallel(), prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pr, err := p.Proof()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range pr.Steps {
		r := "-"
		if s.Right != nil {
			r = fmt.Sprintf("%.4g (%.4g to %.4g)", s.Right.Value, s.Right.Low, s.Right.High)
		}
		t.Logf("%-18s %-9s %-8s %-8s %s", s.ID, s.Measure.Quantity, s.Measure.From, s.Measure.To, r)
		for _, x := range s.Slips {
			c := ""
			if x.IfClosed != nil {
				c = fmt.Sprintf("closed: %.3g A in %s, feed %.3g A, fuse %s", x.IfClosed.WindingAmps, x.IfClosed.Winding, x.IfClosed.FeedAmps, x.IfClosed.FuseOpens)
			}
			t.Logf("      %-28s %.4g (%.4g to %.4g) %s", x.Code, x.Value, x.Low, x.High, c)
		}
	}
	// everything right
	var as []yokemate.Answer
	for range 40 {
		pr, err = p.Judge(as)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(pr.Verdicts); n > 0 {
			v := pr.Verdicts[n-1]
			t.Logf("%s %s right %.6f %s", v.Step, v.Verdict, v.Right, v.Words)
		}
		if pr.Next == nil {
			break
		}
		for _, s := range pr.Steps {
			if s.ID == *pr.Next {
				a := yokemate.Answer{Step: s.ID, Value: "over"}
				if s.Right != nil {
					a.Value = yokemate.AnswerText(fmt.Sprintf("%.4g", s.Right.Value))
				}
				as = append(as, a)
			}
		}
	}
	t.Log(pr.Proof)
}
