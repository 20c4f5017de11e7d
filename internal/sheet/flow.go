package sheet

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
	"yokemate/internal/say"
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
	edge   = 12.0
	body   = 3.3
	small  = 3.0  // 8.5 pt: nothing on a sheet is smaller
	leader = 1.24 // from line to line, in sizes
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

// high is how high blocks are when nothing parts them.
func (f *flow) high(set func(*flow)) float64 {
	g := &flow{page: f.page, w: f.w, h: math.Inf(1), say: f.say}
	g.turn()
	const from = edge + 1 // not the head of a page, where the space above is left out
	g.y = from
	set(g)
	return g.y - from
}

// keep sets blocks on one page where they fit one.
func (f *flow) keep(set func(*flow)) {
	if h := f.high(set); h < f.h-2*edge-6 {
		f.need(h)
	}
	set(f)
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
		x += 5
	}
	for i, l := range face.Wrap(face.Fit(s), small, f.w-edge-x) {
		f.need(small * leader)
		if i == 0 && level != "" {
			f.add(figure.BadgeMark(level, edge+1.8, f.y+small*0.66, 3.4)...)
		}
		f.add(run(x, f.y+small, l, face, small, draw.Start, draw.Ink))
		f.y += small * leader
	}
	f.y += 0.5
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
	head   string
	wide   float64 // share of the width
	face   draw.Face
	size   float64 // 0 means small
	joined bool    // no rule parts it from the column before
	right  bool    // set to the right
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

// row is one row of a table: its cells, and above those of all columns but the
// first paragraphs across them, whose parts may have different faces.
type row struct {
	over  [][]styled
	cells []cell
}

// A fitted is a run of words that fits its column.
type fitted struct {
	s    string
	face draw.Face
}

// wrapped breaks what is said to a width.
func wrapped(list []styled, face draw.Face, size, w float64) []fitted {
	var out []fitted
	for _, l := range list {
		f := face
		if l.own {
			f = l.face
		}
		for _, s := range f.Wrap(f.Fit(l.s), size, w) {
			out = append(out, fitted{s, f})
		}
	}
	return out
}

// flowing breaks paragraphs whose parts may have different faces to a width.
func flowing(paragraphs [][]styled, size, w float64) [][]fitted {
	var out [][]fitted
	for _, parts := range paragraphs {
		var now []fitted
		x := 0.0
		for _, p := range parts {
			space := p.face.Measure(" ", size)
			for _, word := range draw.Words(p.face.Fit(p.s)) {
				for _, bit := range p.face.Wrap(word, size, w) { // a word wider than the line is cut
					wide := p.face.Measure(bit, size)
					switch n := len(now) - 1; {
					case n < 0:
					case x+space+wide > w:
						out, now, x = append(out, now), nil, 0
					case now[n].face == p.face:
						now[n].s += " " + bit
						x += space + wide
						continue
					default:
						x += space
					}
					now = append(now, fitted{bit, p.face})
					x += wide
				}
			}
		}
		if len(now) > 0 {
			out = append(out, now)
		}
	}
	return out
}

// parts sets one line of [flowing].
func (f *flow) parts(x, y float64, parts []fitted) {
	for _, l := range parts {
		f.add(run(x, y, l.s, l.face, small, draw.Start, draw.Ink))
		x += l.face.Measure(l.s+" ", small)
	}
}

// Distances in a table [mm].
const (
	pad     = 0.9
	rowStep = small * 1.22 // from line to line
	byHand  = 6.2          // room to write in
)

// grid is a table's columns with the places of their rules.
type grid struct {
	f    *flow
	cols []column
	x    []float64
}

func (f *flow) grid(cols []column) *grid {
	sum := 0.0
	for _, c := range cols {
		sum += c.wide
	}
	g := &grid{f, cols, []float64{edge}}
	for _, c := range cols {
		g.x = append(g.x, g.x[len(g.x)-1]+c.wide/sum*f.inner())
	}
	return g
}

func (g *grid) wide(i int) float64 { return g.x[i+1] - g.x[i] - 2*pad }

// head sets the heads of the columns.
func (g *grid) head() {
	set := make([][]string, len(g.cols))
	n := 1
	for i, c := range g.cols {
		set[i] = draw.Bold.Wrap(draw.Bold.Fit(c.head), small, g.wide(i))
		n = max(n, len(set[i]))
	}
	f := g.f
	high := float64(n)*rowStep + 2*pad
	f.add(draw.Rect(edge, f.y, f.inner(), high, 0).Both(draw.Panel, draw.Ink, 0.25))
	for i, c := range g.cols {
		for k, h := range set[i] {
			f.add(g.text(i, f.y+pad+small*0.86+float64(k)*rowStep, fitted{h, draw.Bold}, small, c.right))
		}
	}
	f.y += high
}

// text sets a line in column i.
func (g *grid) text(i int, y float64, l fitted, size float64, right bool) *draw.Text {
	if right {
		return run(g.x[i+1]-pad, y, l.s, l.face, size, draw.End, draw.Ink)
	}
	return run(g.x[i]+pad, y, l.s, l.face, size, draw.Start, draw.Ink)
}

// rules draws the upright rules from y0 to y1: all of them, or those about the
// first column and at the end.
func (g *grid) rules(y0, y1 float64, all bool) {
	for i, x := range g.x {
		if i < 2 || i == len(g.cols) || all && !g.cols[i].joined {
			g.f.add(draw.Polyline(x, y0, x, y1).Stroke(draw.Ink, 0.2))
		}
	}
}

// table sets rows with a head that is repeated on each page. A row that is
// higher than a page is carried over.
func (f *flow) table(cols []column, rows []row) {
	if len(rows) == 0 {
		return
	}
	g := f.grid(cols)
	f.need(small*leader*2 + 8*pad)
	g.head()
	for _, r := range rows {
		over := flowing(r.over, small, g.x[len(cols)]-g.x[1]-2*pad)
		set := make([][]fitted, len(cols))
		steps := make([]float64, len(cols))
		sizes := make([]float64, len(cols))
		for i, c := range cols {
			sizes[i] = c.size
			if sizes[i] == 0 {
				sizes[i] = small
			}
			steps[i] = sizes[i] * rowStep / small
			set[i] = wrapped(r.cells[i].lines, c.face, sizes[i], g.wide(i))
		}
		body := func() float64 {
			high := 0.0
			for i := range cols {
				if r.cells[i].blank {
					high = max(high, byHand)
				}
				high = max(high, float64(len(set[i]))*steps[i]+2*pad)
			}
			return high
		}
		top := func() float64 {
			if len(over) == 0 {
				return 0
			}
			return float64(len(over))*rowStep + pad
		}
		for first := true; first || len(over) > 0 || slices.ContainsFunc(set, func(l []fitted) bool { return len(l) > 0 }); first = false {
			if !first {
				f.turn()
				g.head()
			} else if top()+body() > f.left() && f.y > edge+40 { // not at the head of a page
				f.turn()
				g.head()
			}
			n := min(len(over), int((f.left()-pad)/rowStep+1e-6))
			if n > 0 {
				for k, parts := range over[:n] {
					f.parts(g.x[1]+pad, f.y+pad+small*0.86+float64(k)*rowStep, parts)
				}
				high := float64(n)*rowStep + pad
				// The number in the first column stands beside the first line.
				for k, l := range set[0] {
					f.add(g.text(0, f.y+pad+sizes[0]*0.86+float64(k)*steps[0], l, sizes[0], false))
				}
				set[0] = nil
				g.rules(f.y, f.y+high, false)
				f.y += high
				over = over[n:]
			}
			if len(over) == 0 {
				take := min(body(), f.left())
				if take > 2*pad {
					for i, c := range cols {
						n := min(len(set[i]), int((take-2*pad)/steps[i]+1e-6))
						for k, l := range set[i][:n] {
							f.add(g.text(i, f.y+pad+sizes[i]*0.86+float64(k)*steps[i], l, sizes[i], c.right))
						}
						set[i] = set[i][n:]
						if r.cells[i].blank {
							f.add(draw.Polyline(g.x[i]+pad, f.y+take-1.6, g.x[i+1]-pad, f.y+take-1.6).Stroke(draw.Soft, 0.2, 0.6, 0.6))
							if u := r.cells[i].unit; u != "" {
								f.add(run(g.x[i+1]-pad, f.y+take-2.2, u, draw.Regular, small, draw.End, draw.Ink))
							}
						}
					}
					g.rules(f.y, f.y+take, true)
					f.y += take
				}
			}
			f.add(draw.Polyline(edge, f.y, f.w-edge, f.y).Stroke(draw.Ink, 0.2))
		}
	}
	f.y += 2
}

// results sets a table of results, its columns as wide as their words want.
func (f *flow) results(t say.Table) {
	var cols []column
	for i, h := range t.Heads {
		w := 0.0
		for _, word := range strings.Fields(h) {
			w = max(w, draw.Bold.Measure(draw.Bold.Fit(word), small))
		}
		for _, r := range t.Rows {
			w = max(w, draw.Regular.Measure(draw.Regular.Fit(r[i]), small))
		}
		c := column{head: h, wide: min(w, 45) + 2*pad + 1, right: t.Figures[i]}
		if i == 0 {
			c.face = draw.Bold
		}
		cols = append(cols, c)
	}
	var rows []row
	for _, r := range t.Rows {
		var cells []cell
		for _, s := range r {
			cells = append(cells, words(s))
		}
		rows = append(rows, row{cells: cells})
	}
	f.table(cols, rows)
}

// pairs sets names with their values, two to a line.
func (f *flow) pairs(list []say.Fact) {
	half := (f.inner() - 4) / 2
	for i := 0; i < len(list); i += 2 {
		var lines [2][][]fitted
		n := 0
		for k, x := range list[i:min(i+2, len(list))] {
			lines[k] = flowing([][]styled{{{s: x.Name + ":"}, {s: x.Value, face: draw.Bold}}}, small, half)
			n = max(n, len(lines[k]))
		}
		f.need(float64(n) * rowStep)
		for k := range lines {
			for j, parts := range lines[k] {
				f.parts(edge+float64(k)*(half+4), f.y+small*0.86+float64(j)*rowStep, parts)
			}
		}
		f.y += float64(n)*rowStep + 0.5
	}
	f.y += 1
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
