package figure

import (
	"fmt"
	"os"
	"testing"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
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

func TestDev(t *testing.T) {
	s, err := yokemate.DecodeShelf(read(t, "shelf.json"))
	if err != nil {
		t.Fatal(err)
	}
	var pr yokemate.Prediction
	if err := yokemate.Decode(read(t, "parallel.prediction.json"), &pr); err != nil {
		t.Fatal(err)
	}
	cs, ch := crowd()
	sc, err := Schematic(ch, cs, SchematicOptions{})
	if err != nil {
		t.Fatal(err)
	}
	f, _ := os.Create("/tmp/fig-crowd.svg")
	svg.Document(f, &sc, draw.Light)
	f.Close()
	t.Log(sc.W, sc.H)
	for _, n := range []string{"parallel", "gap", "mixed"} {
		h, err := yokemate.DecodeHookup(read(t, n+".json"))
		if err != nil {
			t.Fatal(n, err)
		}
		o := SchematicOptions{}
		if n == "parallel" {
			o.Prediction = &pr
		}
		if n == "gap" {
			o.Measure = &yokemate.Measure{Quantity: yokemate.VoltsAC, From: "B1", To: "B2"}
			o.Reading = "right about 0.1 V, wrong about 28 V"
		}
		sc, err := Schematic(h, s, o)
		if err != nil {
			t.Fatal(err)
		}
		f, _ := os.Create("/tmp/fig-" + n + ".svg")
		if err := svg.Document(f, &sc, draw.Light); err != nil {
			t.Fatal(err)
		}
		f.Close()
		t.Log(n, sc.W, sc.H)
	}
}
