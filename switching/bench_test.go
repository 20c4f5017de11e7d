package switching

import (
	"testing"

	"yokemate"
	"yokemate/examples"
	"yokemate/phys/network"
)

// example reads a hookup of the invented bench with the facts of its shelf.
func example(t testing.TB, shelf, hookup string) (*network.Facts, *yokemate.Hookup) {
	t.Helper()
	read := func(name string) []byte {
		b, err := examples.Files.ReadFile(name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	s, err := yokemate.DecodeShelf(read(shelf))
	if err != nil {
		t.Fatal(err)
	}
	h, err := yokemate.DecodeHookup(read(hookup))
	if err != nil {
		t.Fatal(err)
	}
	return network.Compile(s.Only(h)), h
}

// demo lists the hookups of the invented bench, with their shelves.
var demo = [][2]string{{"shelf-fernhollow", "hookup-rope-lights"}, {"shelf-fernhollow", "hookup-rope-lights-turned"}, {"shelf-fernhollow", "hookup-odd-pair"}, {"shelf-tern-point", "hookup-lantern"}}

// lone is an invented unit by itself: 20 VA, 230 V to 17.2 V.
func lone(outputs ...yokemate.Output) (*network.Facts, *yokemate.Hookup) {
	num := yokemate.Num
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
		Tag: "K1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: num(20),
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(118)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(17.2), Ohms: num(0.62), Amps: num(1.2)}},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.024), Watts: num(2.3)}},
	}}}
	return network.Compile(s), &yokemate.Hookup{Format: yokemate.HookupFormat,
		Feed:    yokemate.Feeds{{Volts: num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 0.2, FuseKind: "T"}},
		Joints:  yokemate.Joints{{Name: "L", Pins: []string{"K1.1"}}, {Name: "N", Pins: []string{"K1.2"}}, {Name: "A", Pins: []string{"K1.5"}}, {Name: "B", Pins: []string{"K1.6"}}},
		Outputs: outputs}
}

// rectified is an output of that unit behind a rectifier.
func rectified(kind string, farads, amps float64) yokemate.Output {
	return yokemate.Output{Name: "dc", From: "A", To: "B", DC: &yokemate.DC{Rectifier: kind, Farads: farads, Amps: amps}}
}
