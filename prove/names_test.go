package prove_test

import (
	"fmt"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// TestNamesOfItsOwn: a joint with the name of a point that the steps name
// themselves is refused, where the two would not be the same.
func TestNamesOfItsOwn(t *testing.T) {
	unit := func(tag string, pins ...string) yokemate.Unit {
		return yokemate.Unit{Tag: tag, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}}, Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{pins[0], pins[1]}, Volts: yokemate.Num(230), Ohms: yokemate.Num(500)},
			{ID: "A", Pins: [2]string{pins[2], pins[3]}, Volts: yokemate.Num(12), Ohms: yokemate.Num(2), Amps: yokemate.Num(0.4)}}}
	}
	plan := func(from, to string, dc bool, units ...yokemate.Unit) error {
		text := `{"format": "yokemate-hookup/1", "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N"},
 "joints": {"L": ["T1.1", "T2.1"], "N": ["T1.2", "T2.2"], "A": ["T1.5", "T2.5"], "B": ["T1.6"], "C": ["T2.6"]}, "outputs": [{"name": "out", "from": "A", "to": "B"DC}]}`
		supply := ""
		if dc {
			supply = `, "dc": {"rectifier": "bridge", "farads": 0.001, "amps": 0.1}`
		}
		h, err := yokemate.DecodeHookup([]byte(strings.NewReplacer("DC", supply, fmt.Sprintf("%q", from), fmt.Sprintf("%q", to)).Replace(text)))
		if err != nil {
			t.Fatal(err)
		}
		_, err = prove.New(network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: units}), h, prove.Options{})
		return err
	}
	one, two := unit("T1", "1", "2", "5", "6"), unit("T2", "1", "2", "5", "6")
	for _, x := range []struct {
		from, to string
		dc, ok   bool
	}{
		{"A", "X", false, true}, {"B", "T1-6", false, true}, // the free end itself
		{"A", "T1-5", false, false}, {"B", "T2-6", false, false}, {"A", "T1-mains", false, false}, {"C", "T2-rest", false, false}, {"A", "feed", false, false},
		{"C", "out+", false, true}, {"C", "out+", true, false}, {"C", "out-", true, false}, {"C", "T1-core", false, false},
	} {
		err := plan(x.from, x.to, x.dc, one, two)
		if x.ok && err != nil || !x.ok && (yokemate.ErrorCode(err) != yokemate.Invalid || !strings.Contains(err.Error(), "joint "+x.to+": ")) {
			t.Errorf("joint %s named %s: %v", x.from, x.to, err)
		}
	}
	// T1 pin 5 and T1-5 … have each a free end of its own; not so T1 pin 5-6 and T1-5 pin 6.
	odd := unit("T1", "1", "2", "5", "6")
	odd.Windings = append(odd.Windings, yokemate.Winding{ID: "B", Pins: [2]string{"7", "5-1"}, Volts: yokemate.Num(12), Ohms: yokemate.Num(2), Amps: yokemate.Num(0.4)})
	h, err := yokemate.DecodeHookup([]byte(`{"format": "yokemate-hookup/1", "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N"}, "joints": {"L": ["T1.1", "T1-5.1"], "N": ["T1.2", "T1-5.2"]}}`))
	if err != nil {
		t.Fatal(err)
	}
	other := unit("T1-5", "1", "2", "5", "6")
	if _, err := prove.New(network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{odd, other}}), h, prove.Options{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("two pins of one free end: %v", err)
	}
}
