package figure

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/internal/draw"
)

func TestMarksGolden(t *testing.T) {
	p := yokemate.Photo{ID: "p1", Width: 1600, Height: 1200, Marks: []yokemate.Mark{{Pin: "1", X: 0.2, Y: 0.7}, {Pin: "2", X: 0.27, Y: 0.7}, {Pin: "red", X: 0.34, Y: 0.7}, {Pin: "core", X: 0.98, Y: 0.02}}}
	sc := Marks("T1", &p, PhotoOptions{Here: []string{"2"}, Grid: true})
	golden(t, "photo-marks", &sc)
}

// Each pin has its ring where it was marked, and its name once, within the
// picture; a few marks that lie apart have names that cover neither one another
// nor a ring.
func TestMarksProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := yokemate.Photo{ID: "p1", Width: rapid.IntRange(40, 1600).Draw(t, "width"), Height: rapid.IntRange(40, 1600).Draw(t, "height")}
		k := photoWide / float64(max(p.Width, p.Height))
		w, h := k*float64(p.Width), k*float64(p.Height)
		apart := w > 60 && h > 60
		for i := range rapid.IntRange(0, 4).Draw(t, "marks") {
			m := yokemate.Mark{Pin: string(rune('1' + i)), X: rapid.Float64Range(0, 1).Draw(t, "x"), Y: rapid.Float64Range(0, 1).Draw(t, "y")}
			for _, o := range p.Marks {
				apart = apart && math.Hypot(w*(m.X-o.X), h*(m.Y-o.Y)) > 16
			}
			p.Marks = append(p.Marks, m)
		}
		sc := Marks("T1", &p, PhotoOptions{Grid: rapid.Bool().Draw(t, "grid")})
		if err := sc.Check(); err != nil {
			t.Fatal(err)
		}
		names := map[string]int{}
		rings := map[string]bool{}
		var boxes []draw.Box
		sc.Walk(func(it draw.Item, in []*draw.Group) {
			if len(in) == 0 || in[0].Class != "pin" {
				return
			}
			switch x := it.(type) {
			case *draw.Text:
				names[x.S]++
			case *draw.Path:
				b := x.Box()
				m := p.Mark(in[0].ID[len(in[0].ID)-1:])
				if x.Fill == draw.Paper {
					boxes = append(boxes, b)
					if w > 12 && h > 12 && (b.X0 < -1e-9 || b.Y0 < -1e-9 || b.X1 > w+1e-9 || b.Y1 > h+1e-9) {
						t.Fatalf("a name lies outside: %v in %g by %g", b, w, h)
					}
				} else if x.Stroke == draw.Ink && math.Abs((b.X0+b.X1)/2-w*m.X) < 1e-6 && math.Abs((b.Y0+b.Y1)/2-h*m.Y) < 1e-6 {
					rings[m.Pin] = true
				}
			}
		})
		for _, m := range p.Marks {
			if names[m.Pin] != 1 || !rings[m.Pin] {
				t.Fatalf("pin %s has %d names, ring %v", m.Pin, names[m.Pin], rings[m.Pin])
			}
		}
		if !apart {
			return
		}
		for i, b := range boxes {
			for _, c := range boxes[:i] {
				if b.Overlaps(c) {
					t.Fatalf("names at %v and %v", b, c)
				}
			}
			for _, m := range p.Marks {
				if b.Overlaps(draw.Box{X0: w*m.X - markRing, Y0: h*m.Y - markRing, X1: w*m.X + markRing, Y1: h*m.Y + markRing}) {
					t.Fatalf("a name at %v covers the ring of %s", b, m.Pin)
				}
			}
		}
	})
}
