package figure

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
)

// wiring draws a random shelf and a random hookup over it: up to 4 units of up
// to 6 windings, taps, odd names, several plugs, outputs, meters and fuses.
func wiring(t *rapid.T) (*yokemate.Shelf, *yokemate.Hookup) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: "random"}
	var pins []string
	tag := rapid.SampledFrom([]string{"T%d", "bell-%d", "µ%d"}).Draw(t, "tag")
	for i := range rapid.IntRange(1, 4).Draw(t, "units") {
		u := yokemate.Unit{Tag: fmt.Sprintf(tag, i+1)}
		n := rapid.IntRange(1, 6).Draw(t, "windings")
		p := 1
		for k := range n {
			w := yokemate.Winding{ID: fmt.Sprintf("W%d", k+1), Pins: [2]string{fmt.Sprint(p), fmt.Sprint(p + 1)}}
			switch rapid.IntRange(0, 5).Draw(t, "shape") {
			case 0: // a tap: shares the last pin, or an earlier one
				if k > 0 {
					w.Pins[0] = u.Windings[rapid.IntRange(0, k-1).Draw(t, "with")].Pins[rapid.IntRange(0, 1).Draw(t, "end")]
				}
			case 1:
				w.Pins[0], w.Pins[1] = w.Pins[1], w.Pins[0]
			case 2:
				w.Pins[1] = fmt.Sprintf("yellow%d", p)
			}
			p += 2
			if rapid.Bool().Draw(t, "known") {
				w.Volts = yokemate.Num(rapid.Float64Range(0.5, 400).Draw(t, "volts"))
				w.Volts.Digits = fmt.Sprintf("%.4g", w.Volts.V)
			}
			u.Windings = append(u.Windings, w)
		}
		if rapid.Bool().Draw(t, "labelled") {
			u.Mains = &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"W1"}}
		}
		for _, q := range append(u.Pins(), yokemate.CorePin) {
			pins = append(pins, u.Tag+"."+q)
		}
		s.Units = append(s.Units, u)
	}
	pins = rapid.Permutation(pins).Draw(t, "order")
	size := len(pins)
	for i := 0; len(pins) > 0 && i < 24; i++ {
		n := min(len(pins), rapid.SampledFrom([]int{1, 1, 2, 2, 2, 3, 4, 6}).Draw(t, "pins"))
		name := fmt.Sprintf(rapid.SampledFrom([]string{"J%d", "J%d", "a quite long name %d", "漢%d"}).Draw(t, "name"), i)
		h.Joints = append(h.Joints, yokemate.Joint{Name: name, Pins: pins[:n]})
		pins = pins[n:]
		if rapid.IntRange(0, 3*size).Draw(t, "stop") == 0 && i > 1 {
			break
		}
	}
	joint := func(what string) string {
		return rapid.SampledFrom(h.Joints).Draw(t, what).Name
	}
	pair := func(what string) (a, b string) {
		a = joint(what)
		for range 8 {
			if b = joint(what); b != a {
				return a, b
			}
		}
		for _, j := range h.Joints {
			if j.Name != a {
				return a, j.Name
			}
		}
		return a, a
	}
	for range rapid.IntRange(1, 3).Draw(t, "plugs") {
		f := yokemate.Feed{Volts: yokemate.Num(rapid.SampledFrom([]float64{120, 230}).Draw(t, "mains")), Hertz: 50}
		f.Live, f.Neutral = pair("feed")
		if rapid.Bool().Draw(t, "fused") {
			f.FuseAmps, f.FuseKind = 0.5, "T"
			f.Lamp = &yokemate.Lamp{Watts: 40, Volts: 230}
		}
		h.Feed = append(h.Feed, f)
	}
	if rapid.Bool().Draw(t, "earthed") {
		h.Earth = joint("earth")
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "outputs") {
		o := yokemate.Output{Name: fmt.Sprintf("out %d", i)}
		o.From, o.To = pair("output")
		switch rapid.IntRange(0, 2).Draw(t, "load") {
		case 0:
			o.Load = &yokemate.Load{Ohms: 22}
		case 1:
			o.DC = &yokemate.DC{Rectifier: "bridge", Farads: 0.001, Amps: 0.2}
			if m := joint("middle"); m != o.From && m != o.To {
				o.DC.Middle = m
			}
		}
		h.Outputs = append(h.Outputs, o)
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "meters") {
		m := yokemate.MeterPoint{Name: fmt.Sprintf("m%d", i)}
		m.From, m.To = pair("meter")
		h.Meters = append(h.Meters, m)
	}
	for range rapid.IntRange(0, 2).Draw(t, "fuses") {
		f := yokemate.Fuse{Amps: 1, Kind: "F"}
		f.From, f.To = pair("fuse")
		h.Fuses = append(h.Fuses, f)
	}
	return s, h
}

func TestSchematicProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, h := wiring(t)
		if len(h.Joints) < 2 {
			return
		}
		o := SchematicOptions{}
		if rapid.Bool().Draw(t, "probed") {
			o.Measure = &yokemate.Measure{Quantity: yokemate.VoltsAC, From: h.Joints[0].Name, To: h.Joints[len(h.Joints)-1].Pins[0]}
			o.Reading = "right about 0.1 V, wrong about 27 V"
		}
		sc, err := Schematic(h, s, o)
		if err != nil {
			t.Fatal(err)
		}
		if err := sc.Check(); err != nil {
			t.Fatal(err)
		}
		checkText(t, &sc)
		checkWiring(t, &sc, h)
		checkProbes(t, &sc, o.Measure != nil)
		var a, b strings.Builder
		if err := svg.Inline(&a, &sc, svg.InlineOptions{}); err != nil {
			t.Fatal(err)
		}
		again, _ := Schematic(h, s, o)
		if err := svg.Inline(&b, &again, svg.InlineOptions{}); err != nil || a.String() != b.String() {
			t.Fatal("the same hookup drew a different picture", err)
		}
	})
}

type fataler interface {
	Fatalf(string, ...any)
	Helper()
}

// checkText: words lie inside the drawing, never on other words, and no wire
// of a joint runs through them.
func checkText(t fataler, sc *draw.Scene) {
	t.Helper()
	var all []*draw.Text
	var wires []piece
	var shields []draw.Box // shapes that hide a wire behind their own words
	sc.Walk(func(it draw.Item, in []*draw.Group) {
		switch it := it.(type) {
		case *draw.Text:
			all = append(all, it)
		case *draw.Path:
			if len(in) > 0 && in[0].Class == "feed" && it.Fill == draw.Paper {
				shields = append(shields, it.Box())
			}
			if len(in) > 0 && (in[0].Class == "joint" || in[0].Class == "probe") && it.Stroke != draw.None && it.Fill == draw.None {
				wires = append(wires, straight(it)...)
			}
		}
	})
	for i, a := range all {
		ba := a.Box()
		if ba.X0 < 0 || ba.Y0 < 0 || ba.X1 > sc.W+1e-6 || ba.Y1 > sc.H+1e-6 {
			t.Fatalf("%q leaves the drawing: %v in %g x %g", a.S, ba, sc.W, sc.H)
		}
		for _, b := range all[:i] {
			if ba.Overlaps(b.Box()) {
				t.Fatalf("%q at %v lies on %q at %v", a.S, ba, b.S, b.Box())
			}
		}
		hidden := slices.ContainsFunc(shields, func(b draw.Box) bool { return b.X0 < ba.X0 && b.Y0 < ba.Y0 && b.X1 > ba.X1 && b.Y1 > ba.Y1 })
		for _, w := range wires {
			if !hidden && ba.Overlaps(draw.Box{X0: min(w.x0, w.x1) - 0.01, Y0: min(w.y0, w.y1) - 0.01, X1: max(w.x0, w.x1) + 0.01, Y1: max(w.y0, w.y1) + 0.01}) {
				t.Fatalf("a wire %v runs through %q at %v", w, a.S, ba)
			}
		}
	}
}

func straight(p *draw.Path) (ps []piece) {
	var at draw.Point
	for _, g := range p.Segs {
		if g.Op == draw.Line {
			ps = append(ps, piece{at.X, at.Y, g.P[0].X, g.P[0].Y})
		}
		at = g.P[0]
	}
	return ps
}

// checkWiring reads the picture back: each joint's wires hang together and
// reach exactly the pins, plugs and parts that the hookup names, and wires of
// two joints cross at most, never touch.
func checkWiring(t fataler, sc *draw.Scene, h *yokemate.Hookup) {
	t.Helper()
	nets := map[string][]piece{}
	pills := map[string][]draw.Box{}
	sc.Walk(func(it draw.Item, in []*draw.Group) {
		p, ok := it.(*draw.Path)
		if !ok {
			return
		}
		for _, g := range in {
			switch {
			case g.Class == "joint" && p.Stroke != draw.None && p.Fill == draw.None:
				nets[g.ID] = append(nets[g.ID], straight(p)...)
			case g.Class == "pin" && p.Fill == draw.Paper && p.Box().Y1-p.Box().Y0 > 5:
				pills[g.ID] = append(pills[g.ID], p.Box())
			}
		}
	})
	const near = 0.01
	touches := func(a piece, x, y float64) bool {
		return x > min(a.x0, a.x1)-near && x < max(a.x0, a.x1)+near && y > min(a.y0, a.y1)-near && y < max(a.y0, a.y1)+near
	}
	meets := func(a, b piece) bool {
		return touches(a, b.x0, b.y0) || touches(a, b.x1, b.y1) || touches(b, a.x0, a.y0) || touches(b, a.x1, a.y1)
	}
	var names []string
	for _, j := range h.Joints {
		id := ID("joint", j.Name)
		names = append(names, id)
		ps := nets[id]
		if len(ps) == 0 {
			t.Fatalf("joint %s is not drawn", j.Name)
		}
		// Connected as one.
		reach := []int{0}
		seen := map[int]bool{0: true}
		for len(reach) > 0 {
			i := reach[0]
			reach = reach[1:]
			for k := range ps {
				if !seen[k] && meets(ps[i], ps[k]) {
					seen[k] = true
					reach = append(reach, k)
				}
			}
		}
		if len(seen) != len(ps) {
			t.Fatalf("joint %s is drawn in %d parts that do not meet", j.Name, len(ps)-len(seen)+1)
		}
		for _, p := range j.Pins {
			tag, pin, _ := yokemate.SplitPin(p)
			boxes := pills[ID("pin", tag, pin)]
			if len(boxes) == 0 {
				t.Fatalf("pin %s is not drawn", p)
			}
			ok := slices.ContainsFunc(ps, func(w piece) bool {
				return slices.ContainsFunc(boxes, func(b draw.Box) bool {
					in := func(x, y float64) bool { return x > b.X0-near && x < b.X1+near && y > b.Y0 && y < b.Y1 }
					return in(w.x0, w.y0) || in(w.x1, w.y1)
				})
			})
			if !ok {
				t.Fatalf("joint %s does not reach pin %s", j.Name, p)
			}
		}
	}
	for i, a := range names {
		for _, b := range names[:i] {
			for _, p := range nets[a] {
				for _, q := range nets[b] {
					if meets(p, q) {
						t.Fatalf("wires of %s and %s touch: %v, %v", a, b, p, q)
					}
				}
			}
		}
	}
}

func checkProbes(t fataler, sc *draw.Scene, want bool) {
	t.Helper()
	tips := 0
	sc.Walk(func(it draw.Item, in []*draw.Group) {
		if p, ok := it.(*draw.Path); ok && len(in) > 0 && in[0].ID == "probe" && len(p.Segs) == 4 && p.Stroke == draw.Accent && p.Fill != draw.None {
			tips++
		}
	})
	if want && tips != 2 || !want && tips != 0 {
		t.Fatalf("%d probe tips", tips)
	}
}
