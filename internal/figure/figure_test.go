package figure

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/si"
)

func TestPinsGolden(t *testing.T) {
	s := shelf(t)
	for _, c := range []struct {
		name, tag string
		o         PinOptions
	}{
		{"pins-T3", "T3", PinOptions{}},
		{"pins-T3-over", "T3", PinOptions{TurnedOver: true, Marked: []string{"8"}}},
		{"pins-T4", "T4", PinOptions{Bare: true}},
		{"pins-T2-rows", "T2", PinOptions{Rows: [2][]string{{"1", "5", "6"}, {"7", "8", "2"}}}},
	} {
		sc, err := Pins(s.Unit(c.tag), c.o)
		if err != nil {
			t.Fatal(err)
		}
		checkText(t, &sc)
		golden(t, c.name, &sc)
	}
	core := yokemate.Unit{Tag: "M1", Windings: []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}, {ID: "S", Pins: [2]string{"3", "core"}}}}
	sc, err := Pins(&core, PinOptions{})
	if err != nil {
		t.Fatal(err)
	}
	checkText(t, &sc)
	golden(t, "pins-core", &sc)
	if _, err := Pins(s.Unit("T2"), PinOptions{Rows: [2][]string{{"1"}, {"2"}}}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("rows without all pins: %v", err)
	}
}

// Turning a unit over mirrors it left to right: the pin that was first in its
// row is last, and near stays near.
func TestPinsTurnedOver(t *testing.T) {
	u := shelf(t).Unit("T3")
	at := func(over bool) map[string]draw.Point {
		sc, err := Pins(u, PinOptions{TurnedOver: over})
		if err != nil {
			t.Fatal(err)
		}
		m := map[string]draw.Point{"width": {X: 0}}
		sc.Walk(func(it draw.Item, in []*draw.Group) {
			if x, ok := it.(*draw.Text); ok && len(in) > 0 && in[0].Class == "pin" {
				m[in[0].ID] = draw.Point{X: x.X, Y: x.Y}
			}
		})
		return m
	}
	a, b := at(false), at(true)
	sum := a["map-pin-T3-1"].X + b["map-pin-T3-1"].X
	for id, p := range a {
		if id != "width" && (math.Abs(p.X+b[id].X-sum) > 1e-9 || p.Y != b[id].Y) {
			t.Errorf("%s at %v is at %v turned over", id, p, b[id])
		}
	}
}

func TestPinsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, _ := wiring(t)
		for i := range s.Units {
			u := &s.Units[i]
			sc, err := Pins(u, PinOptions{TurnedOver: rapid.Bool().Draw(t, "over")})
			if err != nil {
				t.Fatal(err)
			}
			if err := sc.Check(); err != nil {
				t.Fatal(err)
			}
			checkText(t, &sc)
			n := 0
			sc.Walk(func(it draw.Item, in []*draw.Group) {
				if _, ok := it.(*draw.Text); ok && len(in) > 0 && in[0].Class == "pin" {
					n++
				}
			})
			if n != len(u.Pins()) {
				t.Fatalf("%d pins drawn of %d", n, len(u.Pins()))
			}
		}
	})
}

func TestBadgeGolden(t *testing.T) {
	page := draw.Scene{W: 40, H: 44, Title: "badges"}
	for i, l := range []yokemate.Level{yokemate.Stop, yokemate.Caution, yokemate.Go, yokemate.Info} {
		b := Badge(l, Options{})
		page.Add(b.Place(2, 2+float64(i)*10, 1)...)
	}
	golden(t, "badges", &page)
}

// Every state has its own outline, so that it can be told without colour.
func TestBadgeShapes(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range []yokemate.Level{yokemate.Stop, yokemate.Caution, yokemate.Go, yokemate.Info} {
		p := BadgeMark(l, 0, 0, 8)[0].(*draw.Path)
		var ops []byte
		for _, s := range p.Segs {
			ops = append(ops, byte('0'+s.Op))
		}
		if seen[string(ops)] {
			t.Errorf("%s looks like another level", l)
		}
		seen[string(ops)] = true
		if w := Badge(l, Options{}).Title; w == "" {
			t.Errorf("%s has no word", l)
		}
	}
}

func loadCurves() LoadCurves {
	// A source of 14.2 V behind 5.3 Ω, and ten per cent of mains each way.
	l := LoadCurves{Output: "out", WantedVolts: 12, WantedAmps: 0.4, MaxAmps: 0.62}
	for i := range 11 {
		a := 0.07 * float64(i)
		l.Nominal = append(l.Nominal, LoadPoint{a, 14.2 - 5.3*a, 14.2 - 5.3*a - 0.3, 14.2 - 5.3*a + 0.3})
		l.LowMains = append(l.LowMains, LoadPoint{Amps: a, Volts: 0.9*14.2 - 5.3*a})
		l.HighMains = append(l.HighMains, LoadPoint{Amps: a, Volts: 1.1*14.2 - 5.3*a})
	}
	return l
}

func TestLoadGolden(t *testing.T) {
	sc, err := Load(loadCurves(), Options{Locale: si.Locale{Decimal: ","}})
	if err != nil {
		t.Fatal(err)
	}
	checkText(t, &sc)
	golden(t, "load", &sc)
}

// The curve is drawn through the points that belong together, and only where
// they make one.
func TestExcitation(t *testing.T) {
	point := func(volts, amps float64) yokemate.Excitation {
		return yokemate.Excitation{Series: yokemate.Series{"P"}, Volts: yokemate.Num(volts), Hertz: 50, Amps: yokemate.Num(amps)}
	}
	// Invented: a small unit whose iron bends at its label's volts.
	u := yokemate.Unit{Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}},
		Excitation: yokemate.ExcitationList{point(230, 0.0142), point(100, 0.0041), point(160, 0.0066), point(200, 0.0094), point(253, 0.0231)}}
	sc, ok, err := Excitation(&u, Options{})
	if err != nil || !ok {
		t.Fatalf("drawn: %v, %v", ok, err)
	}
	checkText(t, &sc)
	golden(t, "excitation", &sc)
	u.Excitation[2].Hertz = 60
	u.Excitation[1].Amps, u.Excitation[4].Amps = yokemate.Num(0.03), yokemate.Value{}
	if _, ok, err = Excitation(&u, Options{}); ok || err != nil {
		t.Errorf("two points that belong together: drawn %v, %v", ok, err)
	}
}

// The numbers on an axis are the values that they stand at, written out: no
// two alike, two at least, and none where there is no axis.
func TestMarks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-1e4, 1e4).Draw(t, "lo")
		hi := lo + math.Pow(10, rapid.Float64Range(-3, 6).Draw(t, "decade"))
		seen := map[string]bool{}
		for _, m := range (marks{","}).Ticks(lo, hi) {
			if m.Value < lo-1e-6*(hi-lo) || m.Value > hi+1e-6*(hi-lo) {
				t.Fatalf("%g outside %g to %g", m.Value, lo, hi)
			}
			if m.IsMinor() {
				continue
			}
			v, err := strconv.ParseFloat(strings.NewReplacer("−", "-", ",", ".").Replace(m.Label), 64)
			if err != nil || math.Abs(v-m.Value) > 1e-6*(hi-lo) || seen[m.Label] {
				t.Fatalf("from %g to %g, %q stands at %g", lo, hi, m.Label, m.Value)
			}
			seen[m.Label] = true
		}
		if len(seen) < 2 || len(seen) > 8 {
			t.Fatalf("%d numbers from %g to %g", len(seen), lo, hi)
		}
	})
}

// A point of a chart stands where its axes say: read back from the ticks.
func TestChartScale(t *testing.T) {
	c := Chart{X: Axis{Lo: 0, Hi: 10}, Y: Axis{Lo: 0, Hi: 100}, Curves: []Curve{{Name: "line", Points: []ChartPoint{{X: 0, Y: 0}, {X: 5, Y: 50}, {X: 10, Y: 100}}}}}
	sc, err := c.Draw(Options{})
	if err != nil {
		t.Fatal(err)
	}
	ticks := map[string]draw.Point{}
	var pts []draw.Point
	sc.Walk(func(it draw.Item, in []*draw.Group) {
		switch it := it.(type) {
		case *draw.Text:
			ticks[it.S] = draw.Point{X: it.X, Y: it.Y}
		case *draw.Path:
			if it.Stroke == draw.Curve1 && it.Width > 0.5 {
				for _, s := range it.Segs {
					pts = append(pts, s.P[0])
				}
			}
		}
	})
	if len(pts) != 3 {
		t.Fatalf("%d points", len(pts))
	}
	// The middle of the line is the middle of the axis, since both are linear.
	if x := (ticks["4"].X + ticks["6"].X) / 2; math.Abs(pts[1].X-x) > 1e-9 {
		t.Errorf("x = 5 at %g, want %g", pts[1].X, x)
	}
	if y := (pts[0].Y + pts[2].Y) / 2; math.Abs(pts[1].Y-y) > 1e-9 {
		t.Errorf("y = 50 at %g, want %g", pts[1].Y, y)
	}
	if d := ticks["40"].Y - ticks["60"].Y; math.Abs(d-(pts[0].Y-pts[2].Y)/5) > 1e-9 {
		t.Errorf("20 of y are %g mm on the axis", d)
	}
}

func TestTranslated(t *testing.T) {
	o := Options{Say: func(s string) string { return strings.ToUpper(s[:1]) + s[1:] }}
	if got := Badge(yokemate.Go, o).Title; got != "GO" {
		t.Errorf("badge %q", got)
	}
	sc, err := Schematic(hookup(t, "parallel"), shelf(t), SchematicOptions{Options: Options{Say: func(s string) string {
		if s == "core" {
			return "Kern"
		}
		return s
	}, Locale: si.Locale{Decimal: ",", To: "bis"}}})
	if err != nil {
		t.Fatal(err)
	}
	words := map[string]bool{}
	sc.Walk(func(it draw.Item, _ []*draw.Group) {
		if x, ok := it.(*draw.Text); ok {
			words[x.S] = true
		}
	})
	for _, w := range []string{"Kern", "14,31 V", "207 bis 253 V"} {
		if !words[w] {
			t.Errorf("%q is not on the drawing", w)
		}
	}
}

// IDs of different names differ, and hold only what an id may.
func TestID(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.String().Draw(t, "a"), rapid.String().Draw(t, "b")
		x, y := ID("pin", a, b), ID("pin", b, a)
		if (x == y) != (a == b) {
			t.Fatalf("%q and %q give %q and %q", a, b, x, y)
		}
		for _, r := range x {
			if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-') {
				t.Fatalf("%q", x)
			}
		}
	})
}
