package figure

import (
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/internal/draw"
)

// A unit while it is found out: what is certain solid, what is likely dashed,
// and where probes, ties and the source go.
func TestProbesGolden(t *testing.T) {
	bare := yokemate.Unit{Tag: "T9", Terminals: []string{"1", "2", "3", "4", "5", "6", "7", "8"}, PinRows: [][]string{{"1", "2", "3", "4"}, {"8", "7", "6", "5"}}}
	part := bare
	part.Windings = []yokemate.Winding{{ID: "w1", Pins: [2]string{"1", "4"}}, {ID: "w2", Pins: [2]string{"5", "7"}}}
	full := bare
	full.Windings = []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "4"}}, {ID: "A1", Pins: [2]string{"5", "6"}}, {ID: "A2", Pins: [2]string{"6", "7"}}, {ID: "B", Pins: [2]string{"8", "2"}}}
	for _, c := range []struct {
		name string
		u    yokemate.Unit
		o    PinOptions
	}{
		{"probes-first", bare, PinOptions{Probes: []string{"1", "2"}}},
		{"probes-likely", part, PinOptions{Probes: []string{"5", "6"}, Guess: map[string]string{"w2": "likely"}, NoDot: []string{"w1", "w2"}, NoName: []string{"w1", "w2"}}},
		{"probes-core", full, PinOptions{Probes: []string{"1", "core"}, Tied: []string{"1", "5", "8"}, Bare: true, NoDot: []string{"A1", "A2", "B"}}},
		{"probes-source", full, PinOptions{Probes: []string{"1", "7"}, Tied: []string{"4", "5"}, Source: []string{"1", "4"}, Bare: true, TurnedOver: true}},
	} {
		sc, err := Pins(&c.u, c.o)
		if err != nil {
			t.Fatal(err)
		}
		checkText(t, &sc)
		golden(t, c.name, &sc)
	}
}

// Whatever is put to the pins of a unit, it stays within the drawing, no two
// words lie on one another, and each pin is drawn once.
func TestProbesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, _ := wiring(t)
		u := &s.Units[rapid.IntRange(0, len(s.Units)-1).Draw(t, "unit")]
		all := u.AllPins()
		some := func(name string, most int) (list []string) {
			for range rapid.IntRange(0, most).Draw(t, name) {
				list = append(list, rapid.SampledFrom(all).Draw(t, name+" pin"))
			}
			return list
		}
		o := PinOptions{TurnedOver: rapid.Bool().Draw(t, "over"), Bare: rapid.Bool().Draw(t, "bare"), Tied: some("tied", 3)}
		if p := some("probes", 2); len(p) == 2 && p[0] != p[1] {
			o.Probes = p
		} else {
			o.Probes = []string{all[0], yokemate.CorePin}
		}
		if len(all) > 1 && rapid.Bool().Draw(t, "fed") {
			o.Source = []string{all[0], all[1]}
		}
		sc, err := Pins(u, o)
		if err != nil {
			t.Fatal(err)
		}
		if err := sc.Check(); err != nil {
			t.Fatal(err)
		}
		checkText(t, &sc)
		probes, sources := 0, 0
		sc.Walk(func(it draw.Item, in []*draw.Group) {
			if p, ok := it.(*draw.Path); ok && len(in) > 0 {
				switch {
				case in[0].Class == "probe" && p.Fill == draw.Accent:
					probes++
				case in[0].Class == "source" && p.Fill == draw.Paper:
					sources++
				}
				if b := p.Box(); !p.Hit && (b.X0 < 0 || b.Y0 < 0 || b.X1 > sc.W || b.Y1 > sc.H) {
					t.Fatalf("%s lies outside the drawing: %v in %g by %g", in[0].Class, b, sc.W, sc.H)
				}
			}
		})
		if probes != len(o.Probes) || sources != len(o.Source) {
			t.Fatalf("%d probes and %d ends of the source are drawn, of %v and %v", probes, sources, o.Probes, o.Source)
		}
	})
}

// Pins of which nobody said how they lie: one row while they are few, else two,
// and the rows of the unit where it has some, with the rest behind.
func TestPinRows(t *testing.T) {
	for _, c := range []struct {
		u    yokemate.Unit
		want [2][]string
	}{
		{yokemate.Unit{Terminals: []string{"1", "2", "3"}}, [2][]string{nil, {"1", "2", "3"}}},
		{yokemate.Unit{Terminals: []string{"1", "2", "3", "4", "5", "10", "9", "8", "7", "6"}}, [2][]string{{"1", "2", "3", "4", "5"}, {"6", "7", "8", "9", "10"}}},
		{yokemate.Unit{Terminals: []string{"1", "2", "3", "x"}, PinRows: [][]string{{"2", "1"}, {"3"}}}, [2][]string{{"2", "1"}, {"3", "x"}}},
	} {
		got := PinRows(&c.u)
		for k := range got {
			if len(got[k]) != len(c.want[k]) {
				t.Errorf("rows %v, want %v", got, c.want)
				continue
			}
			for i := range got[k] {
				if got[k][i] != c.want[k][i] {
					t.Errorf("rows %v, want %v", got, c.want)
				}
			}
		}
	}
}
