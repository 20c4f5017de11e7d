package predict_test

import (
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
)

// sure is a fact known to a ten-thousandth.
func sure(v float64) yokemate.Value { return yokemate.PlusMinus(v, 1e-4*v, yokemate.Measured) }

// small is a unit of about 3 VA with one primary P on pins 1 and 2, one
// secondary A on pins 5 and 6, and every insulation known.
func small(tag string, secondary float64) yokemate.Unit {
	return unit(tag, 230, secondary, 3, 0.3, 0.012, 1.4)
}

// unit is one of a given rating and regulation, the drop shared by both windings.
func unit(tag string, primary, secondary, va, regulation, idle, watts float64) yokemate.Unit {
	amps := va / secondary
	z := regulation * secondary / amps
	turns := primary / secondary
	return yokemate.Unit{
		Tag: tag, ThermalClass: "B", VA: yokemate.Num(va),
		Mains: &yokemate.Mains{Volts: primary, Hertz: 50, Series: yokemate.Series{"P"}},
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: sure(primary), Ohms: sure(z / 2 * turns * turns)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: sure(secondary), Ohms: sure(z / 2), Amps: yokemate.PlusMinus(amps, 0, yokemate.Label)},
		},
		Excitation: yokemate.ExcitationList{{Series: yokemate.Series{"P"}, Volts: sure(primary), Hertz: 50, Amps: sure(idle), Watts: sure(watts)}},
		Insulation: []yokemate.Insulation{
			{From: "P", To: "core", WorkingVolts: 600}, {From: "P", To: "A", WorkingVolts: 600}, {From: "A", To: "core", WorkingVolts: 600},
		},
	}
}

// weak is a unit of 3 VA and 30 % regulation on 12 V at full load, toroid one
// of 500 VA and 4 %: what is usual for the size (common practice, no source).
func weak(tag string, volts float64) yokemate.Unit {
	u := unit(tag, 230, volts, 3, 0.3, 0.006, 0.6)
	z := 0.3 * 12 / 0.25
	u.Windings[0].Ohms, u.Windings[1].Ohms = sure(z/2*(230/volts)*(230/volts)), sure(z/2)
	u.Windings[1].Amps = yokemate.PlusMinus(0.25, 0, yokemate.Label)
	return u
}

func toroid(tag string, volts float64) yokemate.Unit {
	return unit(tag, 230, volts, 500, 0.04, 0.012, 1.6)
}

// split is a unit with two mains coils of half the volts each, P1 on pins 1
// and 2, P2 on 3 and 4.
func split(tag string, first, second float64) yokemate.Unit {
	u := small(tag, 12)
	r := sure(u.Windings[0].Ohms.V / 2)
	u.Windings = []yokemate.Winding{
		{ID: "P1", Pins: [2]string{"1", "2"}, Volts: sure(first), Ohms: r},
		{ID: "P2", Pins: [2]string{"3", "4"}, Volts: sure(second), Ohms: r},
		u.Windings[1],
	}
	u.Mains.Series = yokemate.Series{"P1", "P2"}
	u.Excitation[0].Series, u.Excitation[0].Volts = u.Mains.Series, sure(first+second)
	u.Insulation = nil
	ids := []string{"core", "P1", "P2", "A"}
	for i, a := range ids {
		for _, b := range ids[i+1:] {
			u.Insulation = append(u.Insulation, yokemate.Insulation{From: b, To: a, WorkingVolts: 600})
		}
	}
	return u
}

func shelf(u ...yokemate.Unit) *yokemate.Shelf {
	return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: u}
}

// wired is a hookup on 230 V 50 Hz without a fuse, of joints written as name
// and pins in turn; E is the earth.
func wired(joints ...[]string) *yokemate.Hookup {
	h := &yokemate.Hookup{
		Format: yokemate.HookupFormat, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}},
	}
	for _, j := range joints {
		h.Joints = append(h.Joints, yokemate.Joint{Name: j[0], Pins: j[1:]})
	}
	return h
}

// alone is one unit with a load on its secondary.
func alone(ohms float64) *yokemate.Hookup {
	h := wired([]string{"L", "T1.1"}, []string{"N", "T1.2"}, []string{"A", "T1.5"}, []string{"B", "T1.6"}, []string{"E", "T1.core"})
	h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: ohms}}}
	return h
}

// parallel is two units side by side.
func parallel(ohms float64) *yokemate.Hookup {
	h := wired([]string{"L", "T1.1", "T2.1"}, []string{"N", "T1.2", "T2.2"}, []string{"A", "T1.5", "T2.5"}, []string{"B", "T1.6", "T2.6"}, []string{"E", "T1.core", "T2.core"})
	h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "B"}}
	if ohms > 0 {
		h.Outputs[0].Load = &yokemate.Load{Ohms: ohms}
	}
	return h
}

func predicted(t testing.TB, s *yokemate.Shelf, h *yokemate.Hookup) *yokemate.Prediction {
	t.Helper()
	for _, err := range []error{s.Validate(), h.Validate()} {
		if err != nil {
			t.Fatal(err)
		}
	}
	p, err := predict.Hookup(network.Compile(s), h, yokemate.Nominal, predict.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func amps(t testing.TB, p *yokemate.Prediction, unit, id string) yokemate.WindingState {
	t.Helper()
	for _, w := range p.Windings {
		if w.Unit == unit && w.ID == id {
			return w
		}
	}
	t.Fatalf("no winding %s/%s", unit, id)
	return yokemate.WindingState{}
}

func reads(t testing.TB, p *yokemate.Prediction, meter string) yokemate.MeterState {
	t.Helper()
	for _, m := range p.Meters {
		if m.Name == meter {
			return m
		}
	}
	t.Fatalf("no meter %s", meter)
	return yokemate.MeterState{}
}

// near fails unless got is within tol of want.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

func BenchmarkPredict(b *testing.B) {
	two := shelf(small("T1", 11.92), small("T2", 11.90))
	// As read, so that every source of error is there.
	for i := range two.Units {
		for w := range two.Units[i].Windings {
			x := &two.Units[i].Windings[w]
			x.Volts, x.Ohms = yokemate.Num(x.Volts.V), yokemate.Num(x.Ohms.V)
		}
		e := &two.Units[i].Excitation[0]
		e.Volts, e.Amps, e.Watts = yokemate.Num(e.Volts.V), yokemate.Num(e.Amps.V), yokemate.Num(e.Watts.V)
	}
	h := parallel(24)
	h.Feed[0].FuseAmps, h.Feed[0].FuseKind = 0.5, "T"
	f := network.Compile(two)
	for _, brief := range []bool{false, true} {
		b.Run(map[bool]string{false: "whole", true: "brief"}[brief], func(b *testing.B) {
			for b.Loop() {
				if _, err := predict.Hookup(f, h, yokemate.Nominal, predict.Options{Brief: brief}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
