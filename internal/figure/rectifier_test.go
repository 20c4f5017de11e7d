package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/internal/draw"
)

// circuit reads a rectified output back from its picture: diodes as "1 A>out+",
// reservoirs as "c1 out+>out-" from their plus, by what the wires join. A point
// that nothing with a name is joined to is "?".
func circuit(t *testing.T, sc *draw.Scene, h *yokemate.Hookup) []string {
	t.Helper()
	var wires []piece
	type element struct {
		name     string
		from, to [2]float64
	}
	var list []element
	points := map[string][2]float64{}
	var group *draw.Group
	sc.Walk(func(it draw.Item, in []*draw.Group) {
		if len(in) > 0 && in[0].Class == "output" {
			group = in[0]
		}
	})
	out := &h.Outputs[0]
	var posts, names [][2]float64
	var said []string
	for _, it := range group.Items {
		switch it := it.(type) {
		case *draw.Group:
			at := it.ID[strings.LastIndexByte(it.ID, '-')+1:]
			var lines []piece
			var plus *[2]float64
			inward := false // the triangle's tip lies before its base
			for _, x := range it.Items {
				p, ok := x.(*draw.Path)
				if !ok {
					continue
				}
				ls := straight(p)
				if len(p.Segs) == 4 && p.Fill == draw.Paper { // a triangle, its tip second
					inward = ls[0].x1 < ls[0].x0
					continue
				}
				if len(ls) == 1 {
					lines = append(lines, ls[0])
				}
			}
			switch it.Class {
			case "diode":
				var xs []float64
				y := lines[0].y0
				for _, l := range lines {
					if l.y0 == l.y1 {
						xs = append(xs, l.x0, l.x1)
					}
				}
				ring := slices.ContainsFunc(it.Items, func(x draw.Item) bool {
					p, ok := x.(*draw.Path)
					return ok && p.Fill == draw.Paper && len(p.Segs) > 4
				})
				a, b := [2]float64{slices.Min(xs), y}, [2]float64{slices.Max(xs), y}
				if inward {
					a, b = b, a
				}
				if ring { // its wire does not reach the bus
					list = append(list, element{at + " broken", a, b})
					break
				}
				list = append(list, element{at, a, b})
			case "reservoir":
				// Two wires, two plates, and the two strokes of the plus.
				wide := func(l piece) float64 { return math.Abs(l.x1 - l.x0) }
				var ends []float64
				for _, l := range lines {
					switch {
					case wide(l) > 3:
					case wide(l) > 1:
						plus = &[2]float64{(l.x0 + l.x1) / 2, l.y0}
					case math.Abs(l.y1-l.y0) > 2:
						ends = append(ends, l.y0, l.y1)
					}
				}
				x := lines[0].x0
				a, b := [2]float64{x, slices.Min(ends)}, [2]float64{x, slices.Max(ends)}
				if plus[1] > (a[1]+b[1])/2 {
					a, b = b, a
				}
				list = append(list, element{"c" + at, a, b})
			}
		case *draw.Path:
			if it.Stroke != draw.None && it.Fill == draw.None {
				wires = append(wires, straight(it)...)
			} else if it.Fill == draw.Paper && it.Stroke == draw.Ink { // a terminal
				b := it.Box()
				posts = append(posts, [2]float64{(b.X0 + b.X1) / 2, (b.Y0 + b.Y1) / 2})
			}
		case *draw.Text:
			said = append(said, it.S)
			names = append(names, [2]float64{it.X, it.Y})
		}
	}
	// A lug's name stands on its wire's start; a terminal's beside it. A joint may
	// have both.
	for i, s := range said {
		for _, w := range wires {
			if math.Abs(w.x0-(names[i][0]-0.6)) < 0.01 && math.Abs(w.y0-(names[i][1]+1.1)) < 0.01 {
				points[s] = [2]float64{w.x0, w.y0}
			}
		}
		for _, q := range posts {
			if _, ok := points[s]; !ok && math.Abs(names[i][0]-q[0]-2.6) < 0.01 && math.Abs(names[i][1]-q[1]) < 2 {
				points[s] = q
			}
		}
	}
	const near = 0.05
	on := func(l piece, q [2]float64) bool {
		dx, dy := l.x1-l.x0, l.y1-l.y0
		n := math.Hypot(dx, dy)
		if n < near {
			return false
		}
		along := ((q[0]-l.x0)*dx + (q[1]-l.y0)*dy) / n
		off := math.Abs((q[0]-l.x0)*dy-(q[1]-l.y0)*dx) / n
		return along > -near && along < n+near && off < near
	}
	ends := func(l piece) [2][2]float64 { return [2][2]float64{{l.x0, l.y0}, {l.x1, l.y1}} }
	name := func(q [2]float64) string {
		reach := []int{}
		for i, w := range wires {
			if on(w, q) {
				reach = append(reach, i)
			}
		}
		for k := 0; k < len(reach); k++ {
			for i, w := range wires {
				a, b := wires[reach[k]], w
				if slices.Contains(reach, i) {
					continue
				}
				if on(a, ends(b)[0]) || on(a, ends(b)[1]) || on(b, ends(a)[0]) || on(b, ends(a)[1]) {
					reach = append(reach, i)
				}
			}
		}
		var found []string
		for s, p := range points {
			// A crossed lead ends just short of its terminal.
			if slices.ContainsFunc(reach, func(i int) bool {
				return on(wires[i], p) || math.Hypot(wires[i].x1-p[0], wires[i].y1-p[1]) < 1.3
			}) {
				found = append(found, s)
			}
		}
		slices.Sort(found)
		if len(found) == 0 {
			return "?"
		}
		return strings.Join(found, "=")
	}
	if len(points) < 3 && out.DC.Rectifier != "half" {
		t.Fatalf("only %v have a name", points)
	}
	var got []string
	for _, e := range list {
		got = append(got, fmt.Sprintf("%s %s>%s", e.name, name(e.from), name(e.to)))
	}
	return got
}

// The picture of every rectifier, read back, is its textbook circuit: a diode's
// triangle points the way its current flows, a reservoir's plus is at the
// higher point; and a slip is drawn where it is, and alone.
func TestRectifierDrawn(t *testing.T) {
	s := shelf(t)
	for _, c := range []struct {
		rectifier, middle, slip string
		want                    string
	}{
		{"bridge", "", "", "1 A>out+, 2 B>out+, 3 out->A, 4 out->B, c1 out+>out-"},
		{"bridge", "", "diode-reversed:out/2", "1 A>out+, 2 out+>B, 3 out->A, 4 out->B, c1 out+>out-"},
		{"bridge", "", "diode-open:out/3", "1 A>out+, 2 B>out+, 3 broken ?>A, 4 out->B, c1 out+>out-"},
		{"bridge", "", "capacitor-reversed:out/1", "1 A>out+, 2 B>out+, 3 out->A, 4 out->B, c1 out->out+"},
		{"bridge", "", "polarity:out", "1 A>out-, 2 B>out-, 3 out+>A, 4 out+>B, c1 out->out+"},
		{"bridge", "E", "", "1 A>out+, 2 B>out+, 3 out->A, 4 out->B, c1 out+>E, c2 E>out-"},
		{"bridge", "E", "middle-open:out", "1 A>out+, 2 B>out+, 3 out->A, 4 out->B, c1 out+>?, c2 ?>out-"},
		{"bridge", "E", "diode-open:out/1", "1 broken A>?, 2 B>out+, 3 out->A, 4 out->B, c1 out+>E, c2 E>out-"},
		{"centre-tap", "E", "", "1 A>out+, 2 B>out+, c1 out+>E"},
		{"half", "", "", "1 A>out+, c1 out+>B"},
		{"half", "", "diode-reversed:out/1", "1 out+>A, c1 out+>B"},
		{"doubler", "", "", "1 A>out+, 2 out->A, c1 out+>B, c2 B>out-"},
		{"doubler", "", "capacitor-reversed:out/2", "1 A>out+, 2 out->A, c1 out+>B, c2 out->B"},
	} {
		h := hookup(t, "parallel")
		h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: c.rectifier, Middle: c.middle, Farads: 0.0047, Amps: 0.5}
		o := SchematicOptions{Rails: []Rail{{Output: "out", At: 0, Lines: []string{"nothing drawn: 19.9 V", "15.7 V"}}}}
		if c.slip != "" {
			o.Faults = []Fault{{Output: "out", Slip: c.slip, Words: "leads changed over"}}
		}
		sc, err := Schematic(h, s, o)
		if err != nil {
			t.Fatal(err)
		}
		checkText(t, &sc)
		checkWiring(t, &sc, h)
		if got := strings.Join(circuit(t, &sc, h), ", "); got != c.want {
			t.Errorf("%s %s %s is drawn as\n%s, not\n%s", c.rectifier, c.middle, c.slip, got, c.want)
		}
		marks := 0 // of stop's colour
		sc.Walk(func(it draw.Item, _ []*draw.Group) {
			if p, ok := it.(*draw.Path); ok && p.Stroke == draw.StopState {
				marks++
			}
		})
		if (marks > 0) != (c.slip != "") {
			t.Errorf("%s %q: %d lines in stop's colour", c.rectifier, c.slip, marks)
		}
	}
	// Leads in each other's place: the joints that are told of stand out.
	h := hookup(t, "parallel")
	h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: "bridge", Middle: "E", Farads: 0.0047, Amps: 0.5}
	h.Outputs[0].From, h.Outputs[0].DC.Middle = "E", "A"
	sc, err := Schematic(h, s, SchematicOptions{Faults: []Fault{{Output: "out", Slip: "tap-swapped:out/A,E", Words: "leads changed over"}}})
	if err != nil {
		t.Fatal(err)
	}
	var red []string
	sc.Walk(func(it draw.Item, _ []*draw.Group) {
		if x, ok := it.(*draw.Text); ok && x.Fill == draw.StopState {
			red = append(red, x.S)
		}
	})
	if strings.Join(red, " ") != "E A leads changed over" {
		t.Errorf("in stop's colour stands %q", red)
	}
}
