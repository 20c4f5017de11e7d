package sheet

import (
	"strconv"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
)

// Page is a size of paper.
type Page uint8

const (
	A4     Page = iota // 210 by 297 mm (ISO 216)
	Letter             // 8.5 by 11 in (ANSI/ASME Y14.1)
)

// Size returns width and height [mm].
func (p Page) Size() (w, h float64) {
	if p == Letter {
		return 215.9, 279.4
	}
	return 210, 297
}

// Sizes of text and distances [mm].
const (
	edge   = 14.0
	body   = 3.3
	small  = 2.9
	leader = 1.32 // from line to line, in sizes
	large  = 4.2  // digits 3 mm high
)

// flow sets blocks below each other and starts a page when one is full.
type flow struct {
	page  Page
	w, h  float64
	pages []draw.Scene
	y     float64
	say   func(string, ...any) string
}

func newFlow(p Page, say func(string, ...any) string) *flow {
	f := &flow{page: p, say: say}
	f.w, f.h = p.Size()
	f.turn()
	return f
}

func (f *flow) turn() {
	f.pages = append(f.pages, draw.Scene{W: f.w, H: f.h})
	f.y = edge
}

func (f *flow) at() *draw.Scene { return &f.pages[len(f.pages)-1] }

// inner is the width that blocks may use.
func (f *flow) inner() float64 { return f.w - 2*edge }

// left is what is left of the page's height, the foot taken off.
func (f *flow) left() float64 { return f.h - edge - 6 - f.y }

// need starts a page unless h is left on this one.
func (f *flow) need(h float64) {
	if h > f.left() && f.y > edge {
		f.turn()
	}
}

func (f *flow) add(items ...draw.Item) { f.at().Add(items...) }

func run(x, y float64, s string, face draw.Face, size float64, a draw.Anchor, r draw.Role) *draw.Text {
	return &draw.Text{X: x, Y: y, S: face.Fit(s), Face: face, Size: size, Anchor: a, Fill: r}
}

// heading sets the title of a section, never alone at the foot of a page.
func (f *flow) heading(s string) {
	f.need(32)
	if f.y > edge {
		f.y += 4
	}
	f.add(run(edge, f.y+4, s, draw.Bold, 4.4, draw.Start, draw.Ink),
		draw.Polyline(edge, f.y+5.8, f.w-edge, f.y+5.8).Stroke(draw.Ink, 0.35))
	f.y += 8.6
}

// para sets lines of text, with a mark of a level before them if it is not "".
func (f *flow) para(s string, face draw.Face, level yokemate.Level) {
	x := edge
	if level != "" {
		x += 6
	}
	lines := face.Wrap(face.Fit(s), body, f.w-edge-x)
	for i, l := range lines {
		f.need(body * leader)
		if i == 0 && level != "" {
			f.add(figure.BadgeMark(level, edge+2.2, f.y+body*0.62, 4)...)
		}
		f.add(run(x, f.y+body, l, face, body, draw.Start, draw.Ink))
		f.y += body * leader
	}
	f.y += 0.8
}

// scene sets a drawing, made smaller where it is too wide or too high.
func (f *flow) scene(s *draw.Scene, room float64) {
	k := min(1, f.inner()/s.W, room/s.H)
	f.need(s.H * k)
	f.add(s.Place(edge+(f.inner()-s.W*k)/2, f.y, k)...)
	f.y += s.H*k + 2
}

// column is one column of a table.
type column struct {
	head string
	wide float64 // share of the width
	face draw.Face
	size float64 // 0 means small
}

// cell is one field: lines to wrap, each in its own face; or a blank to fill in.
type cell struct {
	lines []styled
	blank bool
	unit  string // stands at the end of a blank
}

type styled struct {
	s    string
	face draw.Face
	own  bool // face counts, else the column's does
}

func words(s ...string) cell {
	var c cell
	for _, x := range s {
		if x != "" {
			c.lines = append(c.lines, styled{s: x})
		}
	}
	return c
}

func (c cell) bold(s string) cell {
	if s != "" {
		c.lines = append(c.lines, styled{s, draw.Bold, true})
	}
	return c
}

// table sets rows with a head that is repeated on each page. A row that is
// higher than a page is carried over.
func (f *flow) table(cols []column, rows [][]cell) {
	sum := 0.0
	for _, c := range cols {
		sum += c.wide
	}
	x := []float64{edge}
	for _, c := range cols {
		x = append(x, x[len(x)-1]+c.wide/sum*f.inner())
	}
	const pad = 1.2
	head := func() {
		high := small*leader + 2*pad
		f.add(draw.Rect(edge, f.y, f.inner(), high, 0).Both(draw.Panel, draw.Ink, 0.25))
		for i, c := range cols {
			h := draw.Bold.Short(draw.Bold.Fit(c.head), small, x[i+1]-x[i]-2*pad)
			f.add(run(x[i]+pad, f.y+pad+small, h, draw.Bold, small, draw.Start, draw.Ink))
		}
		f.y += high
	}
	type line struct {
		s    string
		face draw.Face
	}
	f.need(small*leader*2 + 6*pad)
	head()
	for _, r := range rows {
		set := make([][]line, len(cols))
		steps := make([]float64, len(cols))
		for i, c := range cols {
			size := c.size
			if size == 0 {
				size = small
			}
			steps[i] = size * leader
			for _, l := range r[i].lines {
				face := c.face
				if l.own {
					face = l.face
				}
				for _, w := range face.Wrap(face.Fit(l.s), size, x[i+1]-x[i]-2*pad) {
					set[i] = append(set[i], line{w, face})
				}
			}
		}
		for {
			high := 0.0
			for i := range cols {
				if r[i].blank || len(r[i].lines) == 0 {
					high = max(high, 7) // room to write by hand
				}
				high = max(high, float64(len(set[i]))*steps[i]+2*pad)
			}
			if high > f.left() && f.y > edge+40 { // not at the head of a page
				f.turn()
				head()
			}
			take := min(high, f.left())
			more := false
			for i := range cols {
				n := min(len(set[i]), int((take-2*pad)/steps[i]+1e-6))
				for k, l := range set[i][:n] {
					f.add(run(x[i]+pad, f.y+pad+steps[i]/leader+float64(k)*steps[i], l.s, l.face, steps[i]/leader, draw.Start, draw.Ink))
				}
				set[i] = set[i][n:]
				more = more || len(set[i]) > 0
				f.add(draw.Polyline(x[i], f.y, x[i], f.y+take).Stroke(draw.Ink, 0.2))
				if r[i].blank {
					f.add(draw.Polyline(x[i]+pad, f.y+take-1.6, x[i+1]-pad, f.y+take-1.6).Stroke(draw.Soft, 0.2, 0.6, 0.6))
					if r[i].unit != "" {
						f.add(run(x[i+1]-pad, f.y+take-2.2, r[i].unit, draw.Regular, small, draw.End, draw.Ink))
					}
				}
			}
			f.add(draw.Polyline(x[len(cols)], f.y, x[len(cols)], f.y+take).Stroke(draw.Ink, 0.2),
				draw.Polyline(edge, f.y+take, f.w-edge, f.y+take).Stroke(draw.Ink, 0.2))
			f.y += take
			if !more {
				break
			}
			f.turn()
			head()
		}
	}
	f.y += 2
}

// finish numbers the pages.
func (f *flow) finish(title, foot string) []draw.Scene {
	for i := range f.pages {
		p := &f.pages[i]
		p.Title = title + ", " + f.say("page %s of %s", strconv.Itoa(i+1), strconv.Itoa(len(f.pages)))
		y := f.h - edge + 1
		n := f.say("page %s of %s", strconv.Itoa(i+1), strconv.Itoa(len(f.pages)))
		p.Add(draw.Polyline(edge, y-4.4, f.w-edge, y-4.4).Stroke(draw.Soft, 0.2),
			run(edge, y, draw.Regular.Short(draw.Regular.Fit(foot), small, f.inner()-30), draw.Regular, small, draw.Start, draw.Soft),
			run(f.w-edge, y, n, draw.Regular, small, draw.End, draw.Soft))
	}
	return f.pages
}
