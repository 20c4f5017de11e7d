package network_test

import (
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/core"
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

// TestReadOnALowSource: a unit whose volts were all read on a low source, and
// whose idle current was not, takes at its label's volts what a unit of its size
// usually does: within the band of common practice, not more than its rating.
func TestReadOnALowSource(t *testing.T) {
	at := func(primary, secondary float64) float64 {
		f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
			Tag: "T1", VA: yokemate.Num(6), Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(primary), Ohms: yokemate.Num(800)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(secondary), Ohms: yokemate.Num(2.4)}},
			Excitation: yokemate.ExcitationList{{Series: yokemate.Series{"P"}, Volts: yokemate.Num(primary), Hertz: 50}},
		}}})
		if _, err := f.Unit("T1"); err != nil {
			t.Fatal(err)
		}
		h := &yokemate.Hookup{Format: yokemate.HookupFormat, Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Hertz: 50, Live: "L", Neutral: "N"}},
			Joints: yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}}
		n, err := network.Build(f, h, network.Options{})
		if err != nil {
			t.Fatal(err)
		}
		sol, err := n.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		_, _, amps := sol.FeedPower(0)
		return amps
	}
	// The same unit, its volts read at the mains: both estimates are of one band
	// of common practice, and lie within its standard deviation of each other.
	low, mains := at(12, 0.9), at(230, 17.25)
	if math.Abs(math.Log(low/mains)) > core.Exciting("EI", 6).LnSigma() {
		t.Errorf("%g A by volts read on 12 V, %g A by volts read at the mains", low, mains)
	}
}

// TestWattsWithoutAmps: idle watts that were read say the current in phase with
// the volts; the magnetising one beside it is the usual one of the size, the same
// as where nothing was read (current's two parts, closed form).
func TestWattsWithoutAmps(t *testing.T) {
	parts := func(watts float64) (loss, iron, low, high float64) {
		e := yokemate.Excitation{Series: yokemate.Series{"P"}, Volts: yokemate.Num(230), Hertz: 50}
		if watts > 0 {
			e.Watts = yokemate.Num(watts)
		}
		f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
			Tag: "T1", VA: yokemate.Num(3), Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: yokemate.Num(940)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(11.92), Ohms: yokemate.Num(2.9)}},
			Excitation: yokemate.ExcitationList{e},
		}}})
		h := &yokemate.Hookup{Format: yokemate.HookupFormat, Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Hertz: 50, Live: "L", Neutral: "N"}},
			Joints: yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}}
		n, err := network.Build(f, h, network.Options{})
		if err != nil {
			t.Fatal(err)
		}
		sol, err := n.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		p, _, amps := sol.FeedPower(0)
		u, err := f.Unit("T1")
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range u.Params {
			if x.Name == "T1 idle amps" {
				low, high = x.Value*math.Exp(-1.96*x.U), x.Value*math.Exp(1.96*x.U)
			}
		}
		return p / 230, math.Sqrt(amps*amps - p*p/230/230), low, high
	}
	_, usual, _, _ := parts(0)
	for _, watts := range []float64{0.8, 1.4, 2} { // about the usual, and more
		loss, iron, low, high := parts(watts)
		if math.Abs(loss*230-watts) > 1e-3*watts {
			t.Errorf("%g W read, %g W predicted", watts, loss*230)
		}
		if math.Abs(iron-usual) > 0.02*usual { // strays and the drop in the copper
			t.Errorf("%g W: %g A magnetise, and %g A where no watts were read", watts, iron, usual)
		}
		if !(low < watts/230 && high > 1.5*math.Hypot(loss, iron)) {
			t.Errorf("%g W: %g to %g A is no wide band", watts, low, high)
		}
	}
}
