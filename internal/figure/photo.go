package figure

import (
	"math"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/internal/draw"
)

// PhotoOptions say how the marks on a photo are shown.
type PhotoOptions struct {
	Options
	Here []string // pins that a probe goes to now
	Grid bool     // lines at every tenth, to tell places by
}

// photoWide is the longest side of a photo's drawing [mm]: its names are as
// large as those of pins on the drawing of a unit.
const photoWide = 110.0

// Marks draws the marks of a photo, to lie over the picture: a ring about each
// pin, and its name beside it where it covers no other pin if that can be.
// Every line is dark on light, so that it shows on any picture.
func Marks(tag string, p *yokemate.Photo, o PhotoOptions) draw.Scene {
	k := photoWide / float64(max(p.Width, p.Height))
	s := draw.Scene{W: k * float64(p.Width), H: k * float64(p.Height), Title: o.say("photo %s of unit %s, %d pins marked", p.ID, tag, len(p.Marks))}
	if o.Grid {
		s.Add(tenths(s.W, s.H))
	}
	var names []draw.Box
	for _, m := range p.Marks {
		x, y := m.X*s.W, m.Y*s.H
		g := &draw.Group{ID: ID("mark", tag, p.ID, m.Pin), Class: "pin", Title: o.say("pin %s", tag+"."+m.Pin)}
		r, width := draw.Ink, 0.45
		if slices.Contains(o.Here, m.Pin) {
			r, width = draw.Accent, 1.1
			g.Title += ", " + o.say("probe")
		}
		name := pinMark(m.Pin)
		b := nameBox(&s, p, x, y, draw.Bold.Measure(name, pinSize)+2, names)
		names = append(names, b)
		cx, cy := (b.X0+b.X1)/2, (b.Y0+b.Y1)/2
		d := markRing / max(math.Hypot(cx-x, cy-y), markRing)
		ex, ey := x+d*(cx-x), y+d*(cy-y) // on the ring
		g.Add(draw.Polyline(ex, ey, cx, cy).Stroke(draw.Paper, 1.1), draw.Polyline(ex, ey, cx, cy).Stroke(draw.Ink, 0.45),
			draw.Circle(x, y, markRing).Stroke(draw.Paper, width+0.7), draw.Circle(x, y, markRing).Stroke(r, width),
			draw.Rect(b.X0, b.Y0, b.X1-b.X0, b.Y1-b.Y0, 1).Both(draw.Paper, r, width),
			text(cx, cy+draw.CapHeight*pinSize/2, name, draw.Bold, pinSize, draw.Middle, draw.Ink))
		s.Add(g)
	}
	return s
}

// markRing is the radius of the ring about a marked pin [mm].
const markRing = 1.9

// nameBox finds a place for a name of that width near a mark: the first of
// some that covers least.
func nameBox(s *draw.Scene, p *yokemate.Photo, x, y, w float64, names []draw.Box) (best draw.Box) {
	const high = 5.2
	least := math.Inf(1)
	for _, d := range [][2]float64{{2.5, -6}, {-2.5, -6}, {2.5, 6}, {-2.5, 6}, {8, 0}, {-8, 0}, {2.5, -12}, {-2.5, 12}, {8, -8}, {-8, 8}} {
		cx := min(max(x+d[0], w/2), s.W-w/2)
		cy := min(max(y+d[1], high/2), s.H-high/2)
		b := draw.Box{X0: cx - w/2, Y0: cy - high/2, X1: cx + w/2, Y1: cy + high/2}
		covers := 0.0
		for _, n := range names {
			if n.Overlaps(b) {
				covers += 2
			}
		}
		for _, m := range p.Marks {
			u, v := m.X*s.W, m.Y*s.H
			if b.Overlaps(draw.Box{X0: u - markRing, Y0: v - markRing, X1: u + markRing, Y1: v + markRing}) {
				covers++
			}
		}
		if covers < least {
			least, best = covers, b
		}
	}
	return best
}

// tenths is a line at every tenth of both sides, with its per cents.
func tenths(w, h float64) *draw.Group {
	g := &draw.Group{Class: "rules"}
	rule := func(x0, y0, x1, y1, tx, ty float64, n int) {
		words := strconv.Itoa(10 * n)
		wide := draw.Bold.Measure(words, smallSize) + 1
		g.Add(draw.Polyline(x0, y0, x1, y1).Stroke(draw.Ink, 0.35), draw.Polyline(x0, y0, x1, y1).Stroke(draw.Paper, 0.18),
			draw.Rect(tx, ty, wide, 3.4, 0).Fill(draw.Paper),
			text(tx+wide/2, ty+1.7+draw.CapHeight*smallSize/2, words, draw.Bold, smallSize, draw.Middle, draw.Ink))
	}
	for n := 1; n < 10; n++ {
		x, y := w*float64(n)/10, h*float64(n)/10
		rule(x, 0, x, h, x+0.3, 0.3, n)
		rule(0, y, w, y, 0.3, y+0.3, n)
	}
	return g
}
