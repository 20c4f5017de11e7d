package figure

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	vgtext "gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	vgdraw "gonum.org/v1/plot/vg/draw"

	"yokemate"
	"yokemate/internal/draw"
)

// Chart is curves over one axis each way, with limits.
type Chart struct {
	Title  string
	X, Y   Axis
	Curves []Curve // at most three can be told apart
	Limits []Limit
	W, H   float64 // of the whole [mm]; 0 means 130 by 80
}

// Axis is one axis of a chart.
type Axis struct {
	Label string
	Unit  string  // its symbol; the numbers are in it, without a prefix
	Lo    float64 // the axis reaches from here; NaN or equal to Hi: as the data do
	Hi    float64
	Zero  bool // 0 is on the axis
}

// Curve is one series of points in order of X.
type Curve struct {
	Name   string
	Points []ChartPoint
}

// ChartPoint is a value with its interval; where Low and High are both 0 there is none.
type ChartPoint struct{ X, Y, Low, High float64 }

// Limit is a line that should not be passed.
type Limit struct {
	Name  string
	Value float64
	OnX   bool // a value of X: drawn upright
	Level yokemate.Level
}

const (
	limitRow = 4.5  // height of a row of names above the frame [mm]
	nameRoom = 30.0 // for a name at the right [mm]
)

// span of an axis: the values, the limits where they are near, and a little air.
func (a Axis) span(vs []float64) (lo, hi float64) {
	if a.Hi > a.Lo {
		return a.Lo, a.Hi
	}
	if len(vs) == 0 {
		return 0, 1
	}
	lo, hi = slices.Min(vs), slices.Max(vs)
	if a.Zero {
		lo, hi = min(lo, 0), max(hi, 0)
	}
	if hi == lo {
		d := max(math.Abs(hi)*0.1, 1e-12)
		lo, hi = lo-d, hi+d
	}
	_, step := steps(lo, hi, 6)
	if air := (hi - lo) * 0.05; !(a.Zero && lo == 0) {
		lo -= air
	}
	hi += (hi - lo) * 0.05
	// To whole steps, so that the corners carry numbers.
	return math.Floor(lo/step+1e-9) * step, math.Ceil(hi/step-1e-9) * step
}

// Draw lays the chart out. Curves differ by dash and carry their names at
// their ends, so that colour tells nothing alone.
func (c Chart) Draw(o Options) (draw.Scene, error) {
	if len(c.Curves) > 3 {
		return draw.Scene{}, yokemate.Errorf(yokemate.Internal, "chart", "%d curves cannot be told apart", len(c.Curves))
	}
	if c.W == 0 {
		c.W = 130
	}
	if c.H == 0 {
		c.H = 80
	}
	s := draw.Scene{W: c.W, H: c.H, Title: c.Title}
	if s.Title == "" {
		s.Title = o.say("chart")
	}
	p, err := c.axes(o)
	if err != nil {
		return draw.Scene{}, err
	}
	axes := &draw.Group{Class: "axes"}
	s.Add(axes)
	on := &sketch{h: c.H, into: axes}
	// The names of curves and limits stand at the right; the title, and the
	// names of upright limits in as many rows as they take, above.
	top, right := margin, c.W-margin-c.namesRoom()
	if c.Title != "" {
		top += 6
	}
	upright, rows := c.upright(on.frame(p, top, right))
	top += limitRow * float64(rows)
	f := on.frame(p, top, right)
	if c.Title != "" {
		s.Add(text(f.x0, margin+3, draw.Bold.Short(draw.Bold.Fit(c.Title), nameSize+0.4, c.W-f.x0-margin), draw.Bold, nameSize+0.4, draw.Start, draw.Ink))
	}
	grid := plotter.NewGrid()
	grid.Vertical, grid.Horizontal = ruled(draw.Grid, 0.2), ruled(draw.Grid, 0.2)
	p.Add(grid)
	var ends []ending
	limits := slices.Clone(c.Limits)
	slices.SortStableFunc(limits, func(a, b Limit) int { return cmp.Compare(a.Value, b.Value) })
	for _, l := range limits {
		if l.OnX || l.Value < p.Y.Min || l.Value > p.Y.Max {
			continue
		}
		g := &draw.Group{Class: "limit", Title: l.Name}
		p.Add(&together{g, []plot.Plotter{&plotter.Line{XYs: plotter.XYs{{X: p.X.Min, Y: l.Value}, {X: p.X.Max, Y: l.Value}}, LineStyle: ruled(l.role(), 0.5, 2.4, 1.2)}}})
		ends = append(ends, ending{l.Name, l.role(), f.y(l.Value), f.x1, f.y(l.Value), g})
	}
	looks := []vgdraw.LineStyle{ruled(draw.Curve1, 0.7), ruled(draw.Curve2, 0.7, 3, 1.2), ruled(draw.Curve3, 0.7, 0.8, 0.9)}
	for i, cv := range c.Curves {
		g := &draw.Group{Class: "curve", Title: cv.Name}
		curve := &together{group: g}
		p.Add(curve)
		if len(cv.Points) == 0 {
			continue
		}
		if band := cv.band(); band != nil {
			curve.parts = append(curve.parts, &plotter.Polygon{XYs: []plotter.XYs{band}, Color: ink(draw.Band), LineStyle: ruled(draw.None, 0)})
		}
		line := &plotter.Line{LineStyle: looks[i]}
		for _, q := range cv.Points {
			line.XYs = append(line.XYs, plotter.XY{X: q.X, Y: q.Y})
		}
		curve.parts = append(curve.parts, line)
		last := cv.Points[len(cv.Points)-1]
		ends = append(ends, ending{cv.Name, draw.Role(looks[i].Color.(ink)), f.y(last.Y), f.x(last.X), f.y(last.Y), g})
	}
	p.Draw(on.room(top, right))
	for _, u := range upright {
		u.name.Y = f.y0 - 1.4 - limitRow*float64(u.row)
		g := &draw.Group{Class: "limit", Title: u.limit.Name}
		g.Add(draw.Polyline(u.x, u.name.Y+0.8, u.x, f.y1).Stroke(u.limit.role(), 0.5, 2.4, 1.2), u.name)
		s.Add(g)
	}
	apart(ends, f.y1-1)
	for _, e := range ends {
		e.group.Add(draw.Polyline(e.x0, e.y0, f.x1+1, e.y0, f.x1+2.2, e.y).Stroke(e.role, 0.25),
			text(f.x1+3, e.y+draw.CapHeight*smallSize/2, draw.Bold.Short(draw.Bold.Fit(e.name), smallSize, nameRoom), draw.Bold, smallSize, draw.Start, e.role))
	}
	return s, nil
}

// axes is a plot of the chart's axes alone.
func (c Chart) axes(o Options) (*plot.Plot, error) {
	var xs, ys []float64
	for _, cv := range c.Curves {
		for _, p := range cv.Points {
			for _, v := range []float64{p.X, p.Y, p.Low, p.High} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					return nil, yokemate.Errorf(yokemate.Internal, "chart", "a point of %q has no value", cv.Name)
				}
			}
			xs = append(xs, p.X)
			ys = append(ys, p.Y)
			if p.Low != 0 || p.High != 0 {
				ys = append(ys, p.Low, p.High)
			}
		}
	}
	for _, l := range c.Limits {
		if l.OnX {
			xs = append(xs, l.Value)
		} else {
			ys = append(ys, l.Value)
		}
	}
	p := plot.New()
	p.BackgroundColor = nil
	set := func(to *plot.Axis, from Axis, vs []float64, x vgtext.XAlignment, y vgtext.YAlignment) {
		to.Min, to.Max = from.span(vs)
		to.LineStyle, to.Tick.LineStyle = ruled(draw.Ink, 0.35), ruled(draw.Ink, 0.25)
		to.Padding, to.Tick.Length, to.Label.Padding = 0, 1.2*vg.Millimeter, 3.4*vg.Millimeter
		to.Tick.Label = lettered(smallSize, x, y)
		to.Tick.Marker = marks{o.Locale.Decimal}
		to.Label.TextStyle = lettered(smallSize, vgtext.XCenter, vgtext.YBottom)
		to.Label.Text = from.Label
		if from.Unit != "" {
			to.Label.Text = strings.TrimSpace(from.Label + " / " + from.Unit)
		}
		to.Label.Text = draw.Regular.Fit(to.Label.Text)
	}
	set(&p.X, c.X, xs, vgtext.XCenter, 1.4*vgtext.YTop) // a little below its tick
	set(&p.Y, c.Y, ys, vgtext.XRight, vgtext.YCenter)
	return p, nil
}

// namesRoom is the width at the right that the names of curves and limits take [mm].
func (c Chart) namesRoom() (w float64) {
	name := func(s string) { w = max(w, 3+min(nameRoom, draw.Bold.Measure(draw.Bold.Fit(s), smallSize))) }
	for _, cv := range c.Curves {
		name(cv.Name)
	}
	for _, l := range c.Limits {
		if !l.OnX {
			name(l.Name)
		}
	}
	return w
}

// band is the outline of a curve's intervals; nil where it has none.
func (cv *Curve) band() (ring plotter.XYs) {
	any := false
	for _, p := range cv.Points {
		any = any || p.Low != 0 || p.High != 0
		ring = append(ring, plotter.XY{X: p.X, Y: p.High})
	}
	if !any {
		return nil
	}
	for _, p := range slices.Backward(cv.Points) {
		ring = append(ring, plotter.XY{X: p.X, Y: p.Low})
	}
	return ring
}

// ending is a name in the right margin, at the end of its line [mm].
type ending struct {
	name   string
	role   draw.Role
	y      float64 // of the name
	x0, y0 float64 // where its line ends
	group  *draw.Group
}

// apart pushes names apart where lines end close together, none below a height.
func apart(ends []ending, lowest float64) {
	slices.SortStableFunc(ends, func(a, b ending) int { return cmp.Compare(a.y, b.y) })
	for k := 1; k < len(ends); k++ {
		ends[k].y = max(ends[k].y, ends[k-1].y+lineStep+0.4)
	}
	for k := range ends {
		ends[k].y = min(ends[k].y, lowest-float64(len(ends)-1-k)*(lineStep+0.4))
	}
}

// role is the colour of a limit's line.
func (l *Limit) role() draw.Role {
	if l.Level == yokemate.Stop {
		return draw.StopState
	}
	return draw.Ink
}

// raised is a limit on X with its name above the frame, in a row counted from
// there.
type raised struct {
	limit Limit
	x     float64
	name  *draw.Text
	row   int
}

// upright places the names of the limits on X: over their lines, beside them
// where another line or name is near, and a row higher where both are. It
// returns how many rows they take. No name lies on another or on a line of
// another.
func (c Chart) upright(f frame) (list []raised, rows int) {
	for _, l := range c.Limits {
		if x := f.x(l.Value); l.OnX && x > f.x0-1e-9 && x < f.x1+1e-9 {
			list = append(list, raised{limit: l, x: x})
		}
	}
	slices.SortStableFunc(list, func(a, b raised) int { return cmp.Compare(a.x, b.x) })
	clear := func(i, row int, b draw.Box) bool {
		for k, o := range list {
			// The others' lines reach up to their names, wherever those come.
			if k != i && o.x > b.X0-1 && o.x < b.X1+1 {
				return false
			}
			if k < i && o.row == row {
				if n := o.name.Box(); n.X0 < b.X1+2 && b.X0 < n.X1+2 {
					return false
				}
			}
		}
		return true
	}
	for i := range list {
		u := &list[i]
		set := func(a draw.Anchor, dx float64) *draw.Text {
			t := text(u.x+dx, 0, draw.Regular.Short(draw.Regular.Fit(u.limit.Name), smallSize, f.x1-f.x0), draw.Regular, smallSize, a, u.limit.role())
			keep(t, f.x0, c.W-margin)
			return t
		}
		for row := 0; u.name == nil; row++ {
			for _, t := range []*draw.Text{set(draw.Middle, 0), set(draw.End, -0.8), set(draw.Start, 0.8)} {
				if clear(i, row, t.Box()) || row > len(list) {
					u.name, u.row, rows = t, row, max(rows, row+1)
					break
				}
			}
		}
	}
	return list, rows
}

// keep moves a run of text sideways until it lies between x0 and x1.
func keep(t *draw.Text, x0, x1 float64) {
	if b := t.Box(); b.X1 > x1 {
		t.X -= b.X1 - x1
	}
	if b := t.Box(); b.X0 < x0 {
		t.X += x0 - b.X0
	}
}

// LoadPoint is an output at one load, as predicted.
type LoadPoint struct {
	Amps, Volts, Low, High float64
}

// LoadCurves is what a figure of output volts against load needs.
type LoadCurves struct {
	Output      string
	LowMains    []LoadPoint
	Nominal     []LoadPoint
	HighMains   []LoadPoint
	WantedVolts float64 // [V]; 0: not said
	WantedAmps  float64 // [A]; 0: not said
	MaxAmps     float64 // where the first winding reaches its rating [A]; 0: not known
	W, H        float64 // [mm]; 0 means the chart's own
}

// Load draws output volts against load current at low, nominal and high
// mains, with what was wanted and the largest current.
func Load(l LoadCurves, o Options) (draw.Scene, error) {
	c := Chart{Title: l.Output, W: l.W, H: l.H,
		X: Axis{Label: o.say("load"), Unit: "A", Zero: true}, Y: Axis{Label: o.say("output"), Unit: "V"}}
	for i, ps := range [][]LoadPoint{l.HighMains, l.Nominal, l.LowMains} {
		if len(ps) == 0 {
			continue
		}
		cv := Curve{Name: o.say([]string{"high mains", "nominal mains", "low mains"}[i])}
		for _, p := range ps {
			q := ChartPoint{X: p.Amps, Y: p.Volts}
			if i == 1 { // one band is enough to see
				q.Low, q.High = p.Low, p.High
			}
			cv.Points = append(cv.Points, q)
		}
		c.Curves = append(c.Curves, cv)
	}
	if l.WantedVolts > 0 {
		c.Limits = append(c.Limits, Limit{Name: o.say("wanted %s", o.Locale.Format(l.WantedVolts, "V", 3)), Value: l.WantedVolts, Level: yokemate.Info})
	}
	if l.MaxAmps > 0 {
		c.Limits = append(c.Limits, Limit{Name: o.say("at most %s", o.Locale.Format(l.MaxAmps, "A", 3)), Value: l.MaxAmps, OnX: true, Level: yokemate.Stop})
	}
	if l.WantedAmps > 0 {
		c.Limits = append(c.Limits, Limit{Name: o.say("wanted %s", o.Locale.Format(l.WantedAmps, "A", 3)), Value: l.WantedAmps, OnX: true, Level: yokemate.Info})
	}
	return c.Draw(o)
}
