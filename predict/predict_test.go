package predict_test

import (
	"encoding/json"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
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
			Insulation: []yokemate.Insulation{{From: "P", To: "core", WorkingVolts: 300}, {From: "P", To: "A", WorkingVolts: 300}, {From: "A", To: "core", WorkingVolts: 300}},
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
		Outputs: []yokemate.Output{{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: 24}}},
	}
}

func TestLook(t *testing.T) {
	f := network.Compile(shelf())
	p, err := predict.Hookup(f, parallel(), yokemate.Nominal, predict.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, _ := json.MarshalIndent(p, "", " ")
	t.Log(string(b))
}

func BenchmarkPredict(b *testing.B) {
	f := network.Compile(shelf())
	for _, brief := range []bool{false, true} {
		b.Run(map[bool]string{false: "whole", true: "brief"}[brief], func(b *testing.B) {
			for b.Loop() {
				if _, err := predict.Hookup(f, parallel(), yokemate.Nominal, predict.Options{Brief: brief}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
