package network_test

import (
	"testing"

	"yokemate"
	"yokemate/phys/network"
)

// TestLabelBeforeWindings: a unit of which a label alone is known, and one whose
// label's volts stand on no winding yet, are told apart from one that can be
// predicted, and from each other.
func TestLabelBeforeWindings(t *testing.T) {
	mains := &yokemate.Mains{Volts: 230, Hertz: 50}
	f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		{Tag: "T1", Mains: mains},
		{Tag: "T2", Mains: mains, Windings: []yokemate.Winding{{ID: "W1", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: yokemate.Num(300)}}},
		{Tag: "T3"},
	}})
	for _, tag := range []string{"T1", "T3"} {
		if _, err := f.Unit(tag); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%s: %v", tag, err)
		}
	}
	u, err := f.Unit("T2")
	if err != nil {
		t.Fatal(err)
	}
	if u.Rated.Volts != 0 || len(u.Guessed) == 0 {
		t.Errorf("rated %+v, guessed %v", u.Rated, u.Guessed)
	}
}
