// Package draw is a drawing as a list of things in millimetres: paths, runs of
// text, and groups of them. A figure is written once against it; the writers
// in draw/svg and draw/pdf turn the list into a file.
//
// It knows no file format, lays nothing out and holds no trade words. Colours
// are roles ([Role]), so that one scene serves a light screen, a dark one and
// paper. Text is measured from the embedded Go fonts, which the writers use
// too; a character that the font lacks is an error, never an empty box.
//
// The origin is the top left corner, x runs right and y runs down. All
// lengths, text sizes and line widths are in millimetres [mm]. The same scene
// gives the same bytes on each run: nothing here depends on a clock, a random
// source or the order of a map.
package draw

import "math"

// Scene is one drawing or one page.
type Scene struct {
	W, H  float64 // size [mm]
	Title string  // the name of the drawing, for those who cannot see it
	Items []Item  // in the order of drawing, which is the order of reading too
}

// Item is a [*Path], a [*Text] or a [*Group].
type Item interface{ item() }

// Path is a line or an area.
type Path struct {
	Segs   []Seg
	Stroke Role      // None: not stroked
	Fill   Role      // None: not filled
	Width  float64   // of the stroke [mm]
	Dash   []float64 // lengths of dash and gap in turn [mm]; nil: solid
	Hit    bool      // nothing to see: an area that takes a tap; writers for paper leave it out
}

// Seg is one piece of a path.
type Seg struct {
	Op Op
	P  [3]Point // Move and Line use P[0]; Cubic has two control points, then the end
}

// Op says what a Seg does.
type Op uint8

const (
	Move Op = iota
	Line
	Cubic
	Close
)

// Point is a place in a scene [mm].
type Point struct{ X, Y float64 }

// Text is one run of text on one line.
type Text struct {
	X, Y   float64 // where the anchor of the baseline is [mm]
	S      string
	Face   Face
	Size   float64 // of the em [mm]
	Anchor Anchor
	Fill   Role
	Up     bool // reads upwards, turned by a quarter turn about its anchor
}

// Anchor says which point of a run X stands for.
type Anchor uint8

const (
	Start Anchor = iota
	Middle
	End
)

// Group is a part of a drawing that has a meaning of its own.
type Group struct {
	ID    string // unique in the scene; letters, digits, dot, dash and underscore
	Class string // words of letters, digits and dashes, a space between
	Title string // what it is, in words
	Link  string // where a tap leads; empty: nowhere
	Items []Item
}

func (*Path) item()  {}
func (*Text) item()  {}
func (*Group) item() {}

// Add appends items to the scene.
func (s *Scene) Add(items ...Item) { s.Items = append(s.Items, items...) }

// Add appends items to the group.
func (g *Group) Add(items ...Item) { g.Items = append(g.Items, items...) }

// Place returns the items of the scene with its origin moved to (x, y) and all
// lengths multiplied by k. The scene itself is not changed.
func (s *Scene) Place(x, y, k float64) []Item { return place(s.Items, x, y, k) }

func place(items []Item, x, y, k float64) []Item {
	out := make([]Item, 0, len(items))
	for _, it := range items {
		switch it := it.(type) {
		case *Path:
			c := *it
			c.Width *= k
			c.Segs = make([]Seg, len(it.Segs))
			for i, g := range it.Segs {
				for j, p := range g.P {
					g.P[j] = Point{x + k*p.X, y + k*p.Y}
				}
				c.Segs[i] = g
			}
			c.Dash = make([]float64, len(it.Dash))
			for i, d := range it.Dash {
				c.Dash[i] = d * k
			}
			out = append(out, &c)
		case *Text:
			c := *it
			c.X, c.Y, c.Size = x+k*it.X, y+k*it.Y, it.Size*k
			out = append(out, &c)
		case *Group:
			c := *it
			c.Items = place(it.Items, x, y, k)
			out = append(out, &c)
		}
	}
	return out
}

// Walk calls f for every path and text of the scene, in order, with the groups
// that hold it, outermost first.
func (s *Scene) Walk(f func(it Item, in []*Group)) { walk(s.Items, nil, f) }

func walk(items []Item, in []*Group, f func(Item, []*Group)) {
	for _, it := range items {
		if g, ok := it.(*Group); ok {
			walk(g.Items, append(in[:len(in):len(in)], g), f)
			continue
		}
		f(it, in)
	}
}

// Pen makes a path piece by piece.
type Pen struct{ segs []Seg }

// M moves to (x, y) without drawing.
func (p *Pen) M(x, y float64) *Pen { return p.add(Move, Point{x, y}) }

// L draws a straight line to (x, y).
func (p *Pen) L(x, y float64) *Pen { return p.add(Line, Point{x, y}) }

// C draws a cubic Bézier curve by two control points to (x, y).
func (p *Pen) C(x1, y1, x2, y2, x, y float64) *Pen {
	return p.add(Cubic, Point{x1, y1}, Point{x2, y2}, Point{x, y})
}

// Z closes the outline.
func (p *Pen) Z() *Pen { return p.add(Close) }

func (p *Pen) add(op Op, pts ...Point) *Pen {
	g := Seg{Op: op}
	copy(g.P[:], pts)
	p.segs = append(p.segs, g)
	return p
}

// Arc draws part of a circle about (cx, cy) from angle a to b [rad], clockwise
// as seen when b > a, since y runs down. It starts with a line from the
// current point, or with a move on an empty pen. Each piece of at most a
// quarter turn is one Bézier curve with control points at (4/3)·tan(θ/4), whose
// radius is off by less than 3e-4 of itself: below what is written for any
// circle of these drawings.
func (p *Pen) Arc(cx, cy, r, a, b float64) *Pen {
	if len(p.segs) == 0 {
		p.M(cx+r*math.Cos(a), cy+r*math.Sin(a))
	} else {
		p.L(cx+r*math.Cos(a), cy+r*math.Sin(a))
	}
	n := max(1, int(math.Ceil(math.Abs(b-a)/(math.Pi/2)-1e-9)))
	for i := range n {
		t0 := a + (b-a)*float64(i)/float64(n)
		t1 := a + (b-a)*float64(i+1)/float64(n)
		k := 4. / 3 * math.Tan((t1-t0)/4) * r
		p.C(cx+r*math.Cos(t0)-k*math.Sin(t0), cy+r*math.Sin(t0)+k*math.Cos(t0),
			cx+r*math.Cos(t1)+k*math.Sin(t1), cy+r*math.Sin(t1)-k*math.Cos(t1),
			cx+r*math.Cos(t1), cy+r*math.Sin(t1))
	}
	return p
}

// Stroke ends the pen as a stroked path.
func (p *Pen) Stroke(r Role, width float64, dash ...float64) *Path {
	return &Path{Segs: p.segs, Stroke: r, Width: width, Dash: dash}
}

// Fill ends the pen as a filled path.
func (p *Pen) Fill(r Role) *Path { return &Path{Segs: p.segs, Fill: r} }

// Both ends the pen as a path that is filled, then stroked.
func (p *Pen) Both(fill, stroke Role, width float64) *Path {
	return &Path{Segs: p.segs, Fill: fill, Stroke: stroke, Width: width}
}

// Polyline is a pen that has drawn straight lines through x, y pairs.
func Polyline(xy ...float64) *Pen {
	p := &Pen{}
	for i := 0; i+1 < len(xy); i += 2 {
		if i == 0 {
			p.M(xy[i], xy[i+1])
		} else {
			p.L(xy[i], xy[i+1])
		}
	}
	return p
}

// Rect is a pen that has drawn a rectangle, corners rounded to radius r.
func Rect(x, y, w, h, r float64) *Pen {
	p := &Pen{}
	if r <= 0 {
		return p.M(x, y).L(x+w, y).L(x+w, y+h).L(x, y+h).Z()
	}
	r = min(r, w/2, h/2)
	return p.Arc(x+r, y+r, r, math.Pi, 1.5*math.Pi).
		Arc(x+w-r, y+r, r, 1.5*math.Pi, 2*math.Pi).
		Arc(x+w-r, y+h-r, r, 0, math.Pi/2).
		Arc(x+r, y+h-r, r, math.Pi/2, math.Pi).Z()
}

// Circle is a pen that has drawn a circle.
func Circle(cx, cy, r float64) *Pen { return (&Pen{}).Arc(cx, cy, r, 0, 2*math.Pi).Z() }

// Box is an upright rectangle [mm].
type Box struct{ X0, Y0, X1, Y1 float64 }

// Overlaps reports whether the boxes share more than an edge.
func (b Box) Overlaps(c Box) bool {
	const slack = 1e-6 // a shared edge, after rounding
	return b.X0 < c.X1-slack && c.X0 < b.X1-slack && b.Y0 < c.Y1-slack && c.Y0 < b.Y1-slack
}

// Box returns the rectangle that holds the path's points. Control points count,
// so for curves it may be a little large.
func (p *Path) Box() Box {
	b := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, g := range p.Segs {
		n := 1
		switch g.Op {
		case Cubic:
			n = 3
		case Close:
			n = 0
		}
		for _, q := range g.P[:n] {
			b = Box{min(b.X0, q.X), min(b.Y0, q.Y), max(b.X1, q.X), max(b.Y1, q.Y)}
		}
	}
	return b
}
