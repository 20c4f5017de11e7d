package figure

import (
	"math"

	"yokemate/internal/draw"
)

// Line widths [mm].
const (
	thin  = 0.25
	wire  = 0.45
	mains = 0.8
)

// coil draws a winding of half circles between (x, y0) and (x, y1), bulging to
// the right for dir = 1 and to the left for -1.
func coil(x, y0, y1, dir float64) *draw.Path {
	const n = 4
	p := &draw.Pen{}
	r := (y1 - y0) / (2 * n)
	for i := range n {
		c := y0 + r*float64(2*i+1)
		p.Arc(x, c, r, -math.Pi/2, -math.Pi/2+dir*math.Pi)
	}
	return p.Stroke(draw.Ink, wire+0.1)
}

// fuseV draws a fuse link on a vertical wire: a box with the wire going through.
func fuseV(x, y0, y1 float64) []draw.Item {
	c := (y0 + y1) / 2
	return []draw.Item{
		draw.Rect(x-1.5, c-3.5, 3, 7, 0).Both(draw.Paper, draw.Ink, wire),
		draw.Polyline(x, y0, x, y1).Stroke(draw.Ink, wire),
	}
}

// resistorV draws a resistor on a vertical wire.
func resistorV(x, y0, y1 float64) []draw.Item {
	c := (y0 + y1) / 2
	return []draw.Item{
		draw.Polyline(x, y0, x, y1).Stroke(draw.Ink, wire),
		draw.Rect(x-1.7, c-3.8, 3.4, 7.6, 0).Both(draw.Paper, draw.Ink, wire),
	}
}

// lampV draws a lamp on a vertical wire: a circle with a cross.
func lampV(x, y0, y1 float64) []draw.Item {
	c := (y0 + y1) / 2
	const r = 3.0
	d := r * math.Sqrt2 / 2
	return []draw.Item{
		draw.Polyline(x, y0, x, y1).Stroke(draw.Ink, wire),
		draw.Circle(x, c, r).Both(draw.Paper, draw.Ink, wire),
		draw.Polyline(x-d, c-d, x+d, c+d).Stroke(draw.Ink, wire),
		draw.Polyline(x-d, c+d, x+d, c-d).Stroke(draw.Ink, wire),
	}
}

// meterV draws an instrument on a vertical wire with the letters of its unit.
func meterV(x, y0, y1 float64, letters string, r draw.Role, dash ...float64) []draw.Item {
	c := (y0 + y1) / 2
	const radius = 3.6
	size := 4.0
	if w := draw.Bold.Measure(letters, size); w > 2*radius-1.4 {
		size *= (2*radius - 1.4) / w
	}
	return []draw.Item{
		draw.Polyline(x, y0, x, c-radius).Stroke(r, wire, dash...),
		draw.Polyline(x, c+radius, x, y1).Stroke(r, wire, dash...),
		draw.Circle(x, c, radius).Both(draw.Paper, r, wire+0.1),
		text(x, c+draw.CapHeight*size/2, letters, draw.Bold, size, draw.Middle, r),
	}
}

// dot draws a filled dot.
func dot(x, y, r float64, role draw.Role) *draw.Path { return draw.Circle(x, y, r).Fill(role) }

// ring draws an open end.
func ring(x, y float64) *draw.Path { return draw.Circle(x, y, 0.9).Both(draw.Paper, draw.Ink, 0.35) }

// conductorLine draws the wire of a net in the colours of its conductor.
func conductorLine(p draw.Pen, c conductor, g Region, accent bool) []draw.Item {
	q := func(r draw.Role, w float64, dash ...float64) draw.Item {
		pen := p
		return pen.Stroke(r, w, dash...)
	}
	switch {
	case accent:
		return []draw.Item{q(draw.Accent, 0.55, 1.6, 1)}
	case c == live && g == NEC:
		return []draw.Item{q(draw.LiveNEC, mains)}
	case c == live:
		return []draw.Item{q(draw.LiveIEC, mains)}
	case c == neutral && g == NEC:
		return []draw.Item{q(draw.Ink, mains+0.4), q(draw.NeutralNEC, mains-0.2)}
	case c == neutral:
		return []draw.Item{q(draw.NeutralIEC, mains)}
	case c == earth && g == NEC:
		return []draw.Item{q(draw.EarthNEC, mains)}
	case c == earth:
		return []draw.Item{q(draw.EarthIEC, mains+0.1), q(draw.EarthIEC2, mains+0.1, 1.5, 1.5)}
	}
	return []draw.Item{q(draw.Ink, wire)}
}
