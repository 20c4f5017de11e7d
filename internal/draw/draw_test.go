package draw

import (
	"math"
	"slices"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"pgregory.net/rapid"

	"yokemate"
)

const sample = "T1.5 µ Ω ° ± − 12,6 V · 0.25 A · Größe Łódź Ж λ … – ≤ ≥ √"

// Widths are compared with those of an independent reader of the same font
// file. It rounds each glyph to 1/1000 em, so 0.5/1000 em a glyph is allowed.
func TestWidth(t *testing.T) {
	for f := range faces {
		p := fpdf.New("P", "mm", "A4", "")
		p.AddUTF8FontFromBytes("x", "", append([]byte(nil), f.TTF()...))
		p.SetFont("x", "", 10)
		p.SetFontUnitSize(10)
		got, err := f.Width(sample)
		if err != nil {
			t.Fatal(err)
		}
		n := float64(len([]rune(sample)))
		if want := p.GetStringWidth(sample) / 10; math.Abs(got-want) > 0.001*n {
			t.Errorf("face %d: %.4f em, want %.4f", f, got, want)
		}
	}
}

func TestMissingGlyph(t *testing.T) {
	for f := range faces {
		if _, err := f.Width(sample); err != nil {
			t.Error(err)
		}
		_, err := f.Width("変圧器")
		if yokemate.ErrorCode(err) != yokemate.Unsupported {
			t.Errorf("face %d: %v", f, err)
		}
		if got := f.Fit("a変\tb\x07"); got != "a? b?" {
			t.Errorf("Fit gives %q", got)
		}
		s := Scene{W: 10, H: 10, Items: []Item{&Text{S: "✓", Face: f, Size: 3}}}
		if err := s.Check(); yokemate.ErrorCode(err) != yokemate.Unsupported {
			t.Errorf("Check: %v", err)
		}
	}
}

func TestCheck(t *testing.T) {
	for name, s := range map[string]Scene{
		"no size":     {},
		"not finite":  {W: 1, H: 1, Items: []Item{Polyline(0, 0, math.NaN(), 1).Stroke(Ink, 1)}},
		"id twice":    {W: 1, H: 1, Items: []Item{&Group{ID: "a"}, &Group{Items: []Item{&Group{ID: "a"}}}}},
		"bad id":      {W: 1, H: 1, Items: []Item{&Group{ID: `a"b`}}},
		"bad class":   {W: 1, H: 1, Items: []Item{&Group{Class: "a<b"}}},
		"text no end": {W: 1, H: 1, Items: []Item{&Text{X: math.Inf(1), S: "a", Size: 1}}},
	} {
		if s.Check() == nil {
			t.Errorf("%s: passed", name)
		}
	}
}

// Closed form: points of an arc lie on the circle, to 3e-4 of the radius for
// quarter turns (the error of the usual cubic is 2.73e-4).
func TestArc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.Float64Range(0.1, 50).Draw(t, "r")
		a := rapid.Float64Range(-7, 7).Draw(t, "a")
		b := a + rapid.Float64Range(-2*math.Pi, 2*math.Pi).Draw(t, "sweep")
		p := (&Pen{}).Arc(3, -2, r, a, b)
		var at Point
		for _, g := range p.segs {
			if g.Op == Cubic {
				for _, u := range []float64{0, 0.25, 0.5, 0.75, 1} {
					v := 1 - u
					x := v*v*v*at.X + 3*v*v*u*g.P[0].X + 3*v*u*u*g.P[1].X + u*u*u*g.P[2].X
					y := v*v*v*at.Y + 3*v*v*u*g.P[0].Y + 3*v*u*u*g.P[1].Y + u*u*u*g.P[2].Y
					if d := math.Abs(math.Hypot(x-3, y+2) - r); d > 3e-4*r {
						t.Fatalf("off the circle by %g of %g", d, r)
					}
				}
				at = g.P[2]
			} else {
				at = g.P[0]
			}
		}
		if math.Hypot(at.X-3-r*math.Cos(b), at.Y+2-r*math.Sin(b)) > 1e-9*r+1e-9 {
			t.Fatalf("ends at %v", at)
		}
	})
}

// A sweep too small for a quarter turn to be counted once ended where it began.
func TestArcTiny(t *testing.T) {
	p := (&Pen{}).Arc(0, 0, 50, 0, 1e-9)
	last := p.segs[len(p.segs)-1]
	if last.Op != Cubic || math.Abs(last.P[2].Y-50e-9) > 1e-15 {
		t.Errorf("ends with %+v", last)
	}
}

func TestWrapAndShort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-zΩ]{1,30}`)).Draw(t, "words")
		s := strings.Join(words, " ")
		w := rapid.Float64Range(8, 60).Draw(t, "width")
		lines := Regular.Wrap(s, 3, w)
		if got := strings.ReplaceAll(strings.Join(lines, ""), " ", ""); got != strings.Join(words, "") {
			t.Fatalf("wrapping lost letters: %q", got)
		}
		for _, l := range lines {
			if Regular.Measure(l, 3) > w+1e-9 {
				t.Fatalf("%q is wider than %g", l, w)
			}
		}
		if c := Regular.Short(s, 3, w); Regular.Measure(c, 3) > w+1e-9 {
			t.Fatalf("%q is wider than %g", c, w)
		}
	})
}

// A number and its unit stay on one line.
func TestWords(t *testing.T) {
	for _, c := range []struct {
		s    string
		want []string
	}{
		{"190 mA in F2/A and 43 mA, of 5", []string{"190 mA", "in", "F2/A", "and", "43 mA,", "of", "5"}},
		{"12.1 to 12.4 V.", []string{"12.1", "to", "12.4 V."}},
		{"unit F1 V and pin 2 A1 for 25 % (0,5 A)", []string{"unit", "F1", "V", "and", "pin", "2", "A1", "for", "25 %", "(0,5 A)"}},
		{" ", nil},
	} {
		if got := Words(c.s); !slices.Equal(got, c.want) {
			t.Errorf("%q: %q", c.s, got)
		}
	}
}

func TestPlace(t *testing.T) {
	s := Scene{W: 10, H: 10, Items: []Item{&Group{ID: "g", Items: []Item{Polyline(1, 2, 3, 4).Stroke(Ink, 0.5, 1, 2), &Text{X: 5, Y: 6, S: "a", Size: 3}}}}}
	items := s.Place(100, 200, 2)
	g := items[0].(*Group)
	p, x := g.Items[0].(*Path), g.Items[1].(*Text)
	if p.Segs[1].P[0] != (Point{106, 208}) || p.Width != 1 || p.Dash[1] != 4 || x.X != 110 || x.Y != 212 || x.Size != 6 {
		t.Errorf("placed at %+v, %+v", p, x)
	}
	if q := s.Items[0].(*Group).Items[0].(*Path); q.Segs[1].P[0] != (Point{3, 4}) {
		t.Error("placing moved the scene itself")
	}
}

// luminance is relative luminance after WCAG 2.2.
func luminance(c RGB) float64 {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}

func contrast(a, b RGB) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Words need 4.5:1 and shapes 3:1 (WCAG 2.2, 1.4.3 and 1.4.11). A white
// neutral and the yellow of an earth wire stand inside a darker line.
func TestContrast(t *testing.T) {
	if c := contrast(RGB{255, 255, 255}, RGB{}); math.Abs(c-21) > 1e-9 { // WCAG 2.2: the largest ratio
		t.Fatalf("white on black is %g", c)
	}
	for _, theme := range []Theme{Light, Dark, Print, Greys} {
		for _, ground := range []Role{Paper, Panel} {
			for _, r := range []Role{Ink, Soft, Accent, Value, StopState, Curve1, Curve2, Curve3} {
				if c := contrast(r.RGB(theme), ground.RGB(theme)); c < 4.5 {
					t.Errorf("%s on %s in theme %d: %.2f", r, ground, theme, c)
				}
			}
			for _, r := range []Role{LiveIEC, NeutralIEC, EarthIEC, LiveNEC, EarthNEC, GoState, InfoState} {
				if c := contrast(r.RGB(theme), ground.RGB(theme)); c < 3 {
					t.Errorf("%s on %s in theme %d: %.2f", r, ground, theme, c)
				}
			}
		}
		for _, r := range []Role{StopState, GoState, InfoState} {
			if c := contrast(OnState.RGB(theme), r.RGB(theme)); c < 4.5 {
				t.Errorf("words on %s in theme %d: %.2f", r, theme, c)
			}
		}
		if c := contrast(OnCaution.RGB(theme), CautionState.RGB(theme)); c < 4.5 {
			t.Errorf("words on caution in theme %d: %.2f", theme, c)
		}
		if c := contrast(NeutralNEC.RGB(theme), Ink.RGB(theme)); theme != Dark && c < 3 {
			t.Errorf("a white wire in theme %d: %.2f", theme, c)
		}
	}
}
