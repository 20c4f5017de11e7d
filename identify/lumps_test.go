package identify

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"yokemate"
)

// Lumps that give trouble on a bench, measured from nothing to the end: what is
// found, and what is said where something stays open. Resistances and volts are
// made up, of the size usual for such units; no number is asserted.
func TestAwkwardLumps(t *testing.T) {
	for _, x := range []struct {
		name        string
		pins        string
		wires       [][]int
		ohms, volts [][]float64
		core        string // the pin that touches the iron
		opt         Options
		certain     bool
		found       bool   // windings, taps and dots come out as they are
		note        string // that it must say
	}{
		{name: "nine pins, three secondaries and a tap", pins: "1 2 3 4 5 6 7 8 9", certain: true, found: true,
			wires: [][]int{{0, 1}, {2, 3, 4}, {5, 6}, {7, 8}}, ohms: [][]float64{{210}, {1.1, 1.2}, {4.3}, {0.3}}, volts: [][]float64{{230}, {12, 12}, {18}, {6.5}}},
		{name: "two coils of 115 V", pins: "1 2 3 4 5 6 7 8", certain: true, found: true, note: "in series with",
			wires: [][]int{{0, 1}, {2, 3}, {4, 5}, {6, 7}}, ohms: [][]float64{{56}, {60}, {0.8}, {0.82}}, volts: [][]float64{{115}, {115.1}, {13}, {13.02}}},
		{name: "a primary whose link has opened", pins: "1 2 3 4",
			wires: [][]int{{0}, {1}, {2, 3}}, ohms: [][]float64{{}, {}, {2.2}}, volts: [][]float64{{}, {}, {13}}, note: "only one winding is whole"},
		{name: "of two secondaries one is broken", pins: "1 2 3 4 5 6", certain: true, found: true, note: "Do not bridge it",
			wires: [][]int{{0, 1}, {2, 3}, {4}, {5}}, ohms: [][]float64{{300}, {2.2}, {}, {}}, volts: [][]float64{{230}, {13}, {}, {}}},
		{name: "a secondary that touches the core", pins: "1 2 3 4", core: "3", note: "one of pins 1 and 3 on the core",
			wires: [][]int{{0, 1}, {2, 3}}, ohms: [][]float64{{300}, {2.2}}, volts: [][]float64{{230}, {13}}},
		{name: "a screen on the core", pins: "1 2 3 4 5", core: "5", certain: true, found: true, note: "pin 5 reaches no other",
			wires: [][]int{{0, 1}, {2, 3}, {4}}, ohms: [][]float64{{300}, {2.2}, {}}, volts: [][]float64{{230}, {13}, {}}},
		{name: "a secondary of 4 mΩ", pins: "1 2 3 4", certain: true, found: true,
			wires: [][]int{{0, 1}, {2, 3}}, ohms: [][]float64{{8}, {0.004}}, volts: [][]float64{{230}, {5}}},
		{name: "a secondary of 4 mΩ, and no 1 A", pins: "1 2 3 4", opt: Options{NoMillivolts: true}, found: true, note: "the ohms of A are too low for the ohmmeter",
			wires: [][]int{{0, 1}, {2, 3}}, ohms: [][]float64{{8}, {0.004}}, volts: [][]float64{{230}, {5}}},
		{name: "nearly equal halves", pins: "1 2 3 4 5", certain: true, found: true,
			wires: [][]int{{0, 1}, {2, 3, 4}}, ohms: [][]float64{{80}, {0.350, 0.353}}, volts: [][]float64{{230}, {18, 18.01}}},
		{name: "nearly equal halves, and no 1 A", pins: "1 2 3 4 5", opt: Options{NoMillivolts: true, Want: []Ask{Windings, Dots, Volts}}, certain: true, found: true,
			wires: [][]int{{0, 1}, {2, 3, 4}}, ohms: [][]float64{{80}, {0.350, 0.353}}, volts: [][]float64{{230}, {18, 18.01}}},
		{name: "one to one", pins: "1 2 3 4", certain: true, found: true,
			wires: [][]int{{0, 1}, {2, 3}}, ohms: [][]float64{{30}, {32}}, volts: [][]float64{{230}, {232}}},
		{name: "one winding", pins: "1 2", wires: [][]int{{0, 1}}, ohms: [][]float64{{80}}, volts: [][]float64{{230}}, note: "only one winding is whole"},
	} {
		t.Run(x.name, func(t *testing.T) {
			b := newTruth(rand.New(rand.NewPCG(1, 2)), 9) // for its bench: meter, leads and source
			b.pins, b.wires, b.ohms, b.volts, b.core = strings.Fields(x.pins), x.wires, x.ohms, x.volts, x.core
			a, err := b.run(x.opt, 60)
			if err != nil {
				t.Fatal(err)
			}
			if a.Next != nil || a.Certain != x.certain {
				t.Errorf("after %d readings it is certain %v and asks %+v", len(b.given), a.Certain, a.Next)
			}
			// The simulated truth counts a pin alone as a wire; what is found does not.
			b.wires = slices.DeleteFunc(slices.Clone(b.wires), func(w []int) bool { return len(w) < 2 })
			if _, all := b.right(a); x.found && !all {
				t.Errorf("found %+v", a.Open[0])
			}
			if !slices.ContainsFunc(a.Notes, func(n yokemate.Note) bool { return strings.Contains(n.Words, x.note) }) && x.note != "" {
				t.Errorf("it does not say %q: %+v", x.note, a.Notes)
			}
			fed := false
			for i, r := range b.given {
				fed = fed || r.Excited != nil
				if r.Excited != nil && r.Excited.Volts.V > 1.1*b.source {
					t.Errorf("reading %d is fed %g V", i, r.Excited.Volts.V)
				}
			}
			if x.core != "" && !x.certain && fed {
				t.Error("a unit with a winding on its core was fed")
			}
		})
	}
}

// Whatever cannot be read, the end of the questions says what is open; passing
// over every reading feeds nothing and ends.
func TestPassedOver(t *testing.T) {
	u := &yokemate.Unit{Tag: "T1", Terminals: []string{"1", "2", "3", "4"}}
	var opt Options
	for range 50 {
		a, err := Identify(u, nil, opt)
		if err != nil {
			t.Fatal(err)
		}
		if a.Next == nil {
			if a.Certain || !hasNote(a, yokemate.NotProven, yokemate.Caution, "how the pins are joined is not settled") {
				t.Errorf("certain %v, notes %+v", a.Certain, a.Notes)
			}
			return
		}
		if a.Next.Excited != nil {
			t.Fatalf("nothing was read, and it wants to feed: %+v", a.Next)
		}
		opt.Skip = append(opt.Skip, Key(a.Next))
	}
	t.Error("the questions do not end")
}

// A pair that is likely one winding and read open is asked for once more, in
// words that say so.
func TestOnceMore(t *testing.T) {
	a := identify(t, structureOnly, "1 2", reading("", ohms, "1", "2", "open"))
	if a.Next == nil || !strings.Contains(a.Next.Do, "once more") {
		t.Errorf("next %+v", a.Next)
	}
}
