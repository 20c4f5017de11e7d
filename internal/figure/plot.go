package figure

import (
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	vgtext "gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	vgdraw "gonum.org/v1/plot/vg/draw"

	"yokemate/internal/draw"
)

// sketch takes what the plotting library lays out and makes a scene of it: its
// points up from the lower left corner become millimetres down from the upper
// left one, its colours our roles. It moves no origin, turns nothing and
// holds no picture, for a chart asks for none of that.
type sketch struct {
	h     float64 // of the scene [mm]
	into  *draw.Group
	role  draw.Role
	width float64   // of a line [mm]
	dash  []float64 // [mm]
}

// ink is a role where the library wants a colour.
type ink draw.Role

// RGBA is asked for by nothing that ends up in a scene.
func (ink) RGBA() (r, g, b, a uint32) { return 0, 0, 0, math.MaxUint16 }

func mm(l vg.Length) float64 { return float64(l / vg.Millimeter) }

func (s *sketch) at(p vg.Point) (x, y float64) { return mm(p.X), s.h - mm(p.Y) }

func (s *sketch) point(x, y float64) vg.Point {
	return vg.Point{X: vg.Length(x) * vg.Millimeter, Y: vg.Length(s.h-y) * vg.Millimeter}
}

// room is what a plot with its axes may take, below top and left of right [mm].
func (s *sketch) room(top, right float64) vgdraw.Canvas {
	return vgdraw.Canvas{Canvas: s, Rectangle: vg.Rectangle{Min: s.point(margin-1, s.h-margin+1), Max: s.point(right, top)}}
}

// frame is where a plot's data lie [mm].
type frame struct {
	x0, y0, x1, y1 float64 // left, top, right, bottom
	x, y           func(float64) float64
}

func (s *sketch) frame(p *plot.Plot, top, right float64) frame {
	c := p.DataCanvas(s.room(top, right))
	x, y := p.Transforms(&c)
	f := frame{x: func(v float64) float64 { return mm(x(v)) }, y: func(v float64) float64 { return s.h - mm(y(v)) }}
	f.x0, f.y1 = s.at(c.Min)
	f.x1, f.y0 = s.at(c.Max)
	return f
}

func (s *sketch) SetLineWidth(w vg.Length) { s.width = mm(w) }

func (s *sketch) SetLineDash(pattern []vg.Length, _ vg.Length) {
	s.dash = nil
	for _, l := range pattern {
		s.dash = append(s.dash, mm(l))
	}
}

func (s *sketch) SetColor(c color.Color) { s.role = draw.Role(c.(ink)) }

func (*sketch) Push() {}
func (*sketch) Pop()  {}

const unasked = "figure: a chart turns nothing and holds no picture"

func (*sketch) Rotate(float64)                         { panic(unasked) }
func (*sketch) Translate(vg.Point)                     { panic(unasked) }
func (*sketch) Scale(float64, float64)                 { panic(unasked) }
func (*sketch) DrawImage(vg.Rectangle, image.Image)    { panic(unasked) }
func (*sketch) FillString(font.Face, vg.Point, string) { panic(unasked) } // see lettering
func (s *sketch) path(p vg.Path) *draw.Pen {
	pen := &draw.Pen{}
	for _, c := range p {
		x, y := s.at(c.Pos)
		switch c.Type {
		case vg.MoveComp:
			pen.M(x, y)
		case vg.LineComp:
			pen.L(x, y)
		case vg.CloseComp:
			pen.Z()
		default:
			panic("figure: a chart has straight lines only")
		}
	}
	return pen
}

func (s *sketch) Stroke(p vg.Path) {
	if s.width > 0 {
		s.into.Add(s.path(p).Stroke(s.role, s.width, s.dash...))
	}
}

func (s *sketch) Fill(p vg.Path) { s.into.Add(s.path(p).Fill(s.role)) }

// beneath is the sketch that a canvas of the library draws on.
func beneath(c vg.Canvas) *sketch {
	for {
		switch v := c.(type) {
		case *sketch:
			return v
		case vgdraw.Canvas:
			c = v.Canvas
		case *vgdraw.Canvas:
			c = v.Canvas
		}
	}
}

// lettering sets a chart's words in our own face. A line is as high as its
// capitals: numbers then stand centred beside their ticks.
type lettering struct{}

func (lettering) Cache() *font.Cache { return nil }

func (lettering) Extents(f font.Font) font.Extents {
	return font.Extents{Ascent: draw.CapHeight * f.Size, Height: draw.CapHeight * f.Size}
}

func (lettering) Lines(s string) []string { return []string{s} }

func (lettering) Box(s string, f font.Font) (width, height, depth vg.Length) {
	return vg.Length(draw.Regular.Measure(s, mm(f.Size))) * vg.Millimeter, draw.CapHeight * f.Size, 0
}

func (lettering) Draw(c vg.Canvas, s string, sty vgtext.Style, p vg.Point) {
	to := beneath(c)
	anchor := map[vgtext.XAlignment]draw.Anchor{vgtext.XLeft: draw.Start, vgtext.XCenter: draw.Middle, vgtext.XRight: draw.End}[sty.XAlign]
	x, y := to.at(p)
	up := sty.Rotation != 0
	if drop := -float64(sty.YAlign) * draw.CapHeight * mm(sty.Font.Size); up {
		x += drop
	} else {
		y += drop
	}
	to.into.Add(&draw.Text{X: x, Y: y, S: s, Face: draw.Regular, Size: mm(sty.Font.Size), Anchor: anchor, Fill: draw.Role(sty.Color.(ink)), Up: up})
}

func lettered(size float64, x vgtext.XAlignment, y vgtext.YAlignment) vgtext.Style {
	return vgtext.Style{Color: ink(draw.Ink), Font: font.Font{Size: vg.Length(size) * vg.Millimeter}, XAlign: x, YAlign: y, Handler: lettering{}}
}

func ruled(r draw.Role, width float64, dash ...float64) vgdraw.LineStyle {
	l := vgdraw.LineStyle{Color: ink(r), Width: vg.Length(width) * vg.Millimeter}
	for _, d := range dash {
		l.Dashes = append(l.Dashes, vg.Length(d)*vg.Millimeter)
	}
	return l
}

// steps returns between about n/2 and n round values from lo to hi, a step of
// 1, 2 or 5 times a power of ten apart, and the step.
func steps(lo, hi float64, n int) ([]float64, float64) {
	if !(hi > lo) || math.IsInf(hi-lo, 0) || n < 1 {
		return nil, 0
	}
	raw := (hi - lo) / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * p
	for _, m := range []float64{1, 2, 5} {
		if m*p >= raw*(1-1e-9) {
			step = m * p
			break
		}
	}
	var ts []float64
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		ts = append(ts, k*step)
	}
	return ts, step
}

// marks are an axis's ticks: six or so, where the library's own are three, too
// few to read a value off; with their numbers as the reader writes them.
type marks struct{ decimal string }

func (m marks) Ticks(lo, hi float64) []plot.Tick {
	values, step := steps(lo, hi, 6)
	digits := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	var ts []plot.Tick
	for _, v := range values {
		if math.Abs(v) < 1e-9*step {
			v = 0
		}
		s := strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), "-", "−", 1)
		if m.decimal != "" {
			s = strings.Replace(s, ".", m.decimal, 1)
		}
		ts = append(ts, plot.Tick{Value: v, Label: s})
	}
	return ts
}

// together draws the parts of one curve or limit as one group.
type together struct {
	group *draw.Group
	parts []plot.Plotter
}

func (t *together) Plot(c vgdraw.Canvas, p *plot.Plot) {
	s := beneath(c)
	outer := s.into
	outer.Add(t.group)
	s.into = t.group
	for _, part := range t.parts {
		part.Plot(c, p)
	}
	s.into = outer
}
