package figure

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"yokemate"
	"yokemate/internal/draw"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// crowd is four units of six windings each with every joint in use: all
// primaries in parallel, secondaries stacked across units.
func crowd() (*yokemate.Shelf, *yokemate.Hookup) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: "four units of six windings", Earth: "E"}
	h.Feed = yokemate.Feeds{{Volts: yokemate.Num(230), Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 1, FuseKind: "T"}}
	joints := map[string][]string{}
	var order []string
	put := func(j, pin string) {
		if joints[j] == nil {
			order = append(order, j)
		}
		joints[j] = append(joints[j], pin)
	}
	for i := range 4 {
		u := yokemate.Unit{Tag: fmt.Sprintf("T%d", i+1), Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}}}
		u.Windings = append(u.Windings, yokemate.Winding{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230)})
		put("L", u.Tag+".1")
		put("N", u.Tag+".2")
		put("E", u.Tag+".core")
		for k := range 5 {
			a, b := fmt.Sprint(2*k+5), fmt.Sprint(2*k+6)
			u.Windings = append(u.Windings, yokemate.Winding{ID: string(rune('A' + k)), Pins: [2]string{a, b}, Volts: yokemate.Num(6.3 * float64(k+1)), Amps: yokemate.Num(0.4)})
			// Winding k of unit i stands between levels i and i+1 of stack k.
			put(fmt.Sprintf("S%d%d", k+1, i), u.Tag+"."+a)
			put(fmt.Sprintf("S%d%d", k+1, i+1), u.Tag+"."+b)
		}
		s.Units = append(s.Units, u)
	}
	for _, n := range order {
		h.Joints = append(h.Joints, yokemate.Joint{Name: n, Pins: joints[n]})
	}
	for k := range 5 {
		h.Outputs = append(h.Outputs, yokemate.Output{Name: fmt.Sprintf("stack %d", k+1), From: fmt.Sprintf("S%d0", k+1), To: fmt.Sprintf("S%d4", k+1), Load: &yokemate.Load{Ohms: 100}})
	}
	return s, h
}

func shelf(t testing.TB) *yokemate.Shelf {
	t.Helper()
	s, err := yokemate.DecodeShelf(read(t, "shelf.json"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func hookup(t testing.TB, name string) *yokemate.Hookup {
	t.Helper()
	h, err := yokemate.DecodeHookup(read(t, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestSchematicGolden(t *testing.T) {
	s := shelf(t)
	// The numbers are invented, for the layout.
	var p yokemate.Prediction
	if err := yokemate.Decode(read(t, "parallel.prediction.json"), &p); err != nil {
		t.Fatal(err)
	}
	crowdShelf, crowdHookup := crowd()
	pulled := hookup(t, "parallel")
	off := false
	pulled.Fed = &off
	plugs := hookup(t, "parallel")
	plugs.Joints = yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}, {Name: "L2", Pins: []string{"T2.1"}}, {Name: "N2", Pins: []string{"T2.2"}},
		{Name: "A", Pins: []string{"T1.5", "T2.5"}}, {Name: "B", Pins: []string{"T1.6", "T2.6"}}, {Name: "E", Pins: []string{"T1.core", "T2.core"}}}
	plugs.Feed = append(plugs.Feed, yokemate.Feed{Volts: yokemate.Num(230), Hertz: 50, Degrees: 120, Live: "L2", Neutral: "N2", Lamp: &yokemate.Lamp{Ohms: 100}})
	rectified := hookup(t, "parallel")
	rectified.Outputs[0].Load, rectified.Outputs[0].DC = nil, &yokemate.DC{Rectifier: "bridge", Farads: 0.0022, Amps: 0.5}
	for _, c := range []struct {
		name string
		h    *yokemate.Hookup
		s    *yokemate.Shelf
		o    SchematicOptions
	}{
		{"parallel", hookup(t, "parallel"), s, SchematicOptions{}},
		{"parallel-predicted", hookup(t, "parallel"), s, SchematicOptions{Prediction: &p, Link: func(pin string) string { return "?move=" + pin }, Marked: []string{"T2.5"}}},
		{"gap", hookup(t, "gap"), s, SchematicOptions{Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: "B1", To: "B2"}, Reading: "right about 0.1 V, wrong about 28 V"}},
		{"ohms-on-pins", hookup(t, "gap"), s, SchematicOptions{Measure: &yokemate.Measure{Quantity: yokemate.Megohms, From: "T2.7", To: "T2.core"}}},
		{"feed-amps", hookup(t, "parallel"), s, SchematicOptions{Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"}, Reading: "right 0.05 A"}},
		{"mixed", hookup(t, "mixed"), s, SchematicOptions{}},
		{"crowd", crowdHookup, crowdShelf, SchematicOptions{}},
		{"pulled", pulled, s, SchematicOptions{}},
		{"two-plugs", plugs, s, SchematicOptions{}},
		{"terminals", rectified, s, SchematicOptions{Measure: &yokemate.Measure{Quantity: yokemate.VoltsDC, From: "out+", To: "out-"}, Reading: "right 17.6 V", Faults: []Fault{{Output: "out", Words: "diode turned"}}}},
		{"faults", plugs, s, SchematicOptions{Faults: []Fault{{Winding: "T1/P", Words: "turns shorted"}, {Pin: "T2.5", Words: "off"}, {Feed: 2, Words: "another phase"}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			sc, err := Schematic(c.h, c.s, c.o)
			if err != nil {
				t.Fatal(err)
			}
			checkText(t, &sc)
			checkWiring(t, &sc, c.h)
			golden(t, c.name, &sc)
		})
	}
}

func TestSchematicSays(t *testing.T) {
	var p yokemate.Prediction
	if err := yokemate.Decode(read(t, "parallel.prediction.json"), &p); err != nil {
		t.Fatal(err)
	}
	sc, err := Schematic(hookup(t, "parallel"), shelf(t), SchematicOptions{Prediction: &p})
	if err != nil {
		t.Fatal(err)
	}
	titles := map[string]string{}
	var collect func([]draw.Item)
	var order []string
	collect = func(items []draw.Item) {
		for _, it := range items {
			if g, ok := it.(*draw.Group); ok {
				titles[g.ID] = g.Title
				order = append(order, g.ID)
				collect(g.Items)
			}
		}
	}
	collect(sc.Items)
	for id, want := range map[string]string{
		"winding-T2-A": "T2/A, 14.18 V, pins 5 (start) and 6, predicted 11.9 V, carries 612 mA, limit 500 mA, over",
		"joint-A":      "joint A: T1.5, T2.5, predicted 118 V",
		"joint-E":      "joint E: T1.core, T2.core, PE",
		"pin-T1-5":     "pin T1.5, A start end, in joint A",
		"pin-T2-7":     "pin T2.7, B start end, not joined",
		"output-out":   "output out from A to B, predicted 11.9 V, 497 mA",
		"feed-1":       "feed 1: 230 V, 50 Hz, live to joint L, neutral to joint N, protective earth to joint E, fuse T 500 mA, lamp 15 W, takes 48.9 mA",
	} {
		if titles[id] != want {
			t.Errorf("%s says %q, want %q", id, titles[id], want)
		}
	}
	// Joints come in wiring order.
	var joints []string
	for _, id := range order {
		if strings.HasPrefix(id, "joint-") {
			joints = append(joints, strings.TrimPrefix(id, "joint-"))
		}
	}
	if got := strings.Join(joints, " "); got != "L N A B E" {
		t.Errorf("joints in order %s", got)
	}
}

func TestSchematicErrors(t *testing.T) {
	s := shelf(t)
	h := hookup(t, "gap")
	if _, err := Schematic(h, s, SchematicOptions{Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: "nowhere", To: "A"}}); yokemate.ErrorCode(err) != yokemate.NotFound {
		t.Errorf("a probe nowhere: %v", err)
	}
	h.Joints[0].Pins = append(h.Joints[0].Pins, "T9.1")
	if _, err := Schematic(h, s, SchematicOptions{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("a unit that is not there: %v", err)
	}
	h = hookup(t, "parallel")
	h.Outputs[0].To = "X"
	if _, err := Schematic(h, s, SchematicOptions{}); yokemate.ErrorCode(err) != yokemate.NotFound {
		t.Errorf("an output from nowhere: %v", err)
	}
}

// BenchmarkSchematic draws the largest hookup that must stay readable.
func BenchmarkSchematic(b *testing.B) {
	s, h := crowd()
	for b.Loop() {
		if _, err := Schematic(h, s, SchematicOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
