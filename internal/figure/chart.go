package figure

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

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

// Ticks returns between about n/2 and n round values from lo to hi, a step of
// 1, 2 or 5 times a power of ten apart, and the step.
func Ticks(lo, hi float64, n int) ([]float64, float64) {
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
	_, step := Ticks(lo, hi, 6)
	if air := (hi - lo) * 0.05; !(a.Zero && lo == 0) {
		lo -= air
	}
	hi += (hi - lo) * 0.05
	// To whole steps, so that the corners carry numbers.
	return math.Floor(lo/step+1e-9) * step, math.Ceil(hi/step-1e-9) * step
}

// Draw lays the chart out. Curves differ by dash and marker and carry their
// names at their ends, so that colour tells nothing alone.
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
	var xs, ys []float64
	for _, cv := range c.Curves {
		for _, p := range cv.Points {
			for _, v := range []float64{p.X, p.Y, p.Low, p.High} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					return draw.Scene{}, yokemate.Errorf(yokemate.Internal, "chart", "a point of %q has no value", cv.Name)
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
	x0, x1 := c.X.span(xs)
	y0, y1 := c.Y.span(ys)
	s := draw.Scene{W: c.W, H: c.H, Title: c.Title}
	if s.Title == "" {
		s.Title = o.say("chart")
	}
	xt, xstep := Ticks(x0, x1, 6)
	yt, ystep := Ticks(y0, y1, 6)
	number := func(v, step float64) string {
		d := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
		t := strings.Replace(strconv.FormatFloat(v, 'f', d, 64), "-", "−", 1)
		if v == 0 {
			t = strconv.FormatFloat(0, 'f', d, 64)
		}
		if o.Locale.Decimal != "" {
			t = strings.Replace(t, ".", o.Locale.Decimal, 1)
		}
		return t
	}
	// Frame: room for numbers, axis names, and the curves' names at the right.
	wy := 0.0
	for _, v := range yt {
		wy = max(wy, draw.Regular.Measure(number(v, ystep), smallSize))
	}
	names := 0.0
	for _, cv := range c.Curves {
		names = max(names, min(nameRoom, draw.Bold.Measure(draw.Bold.Fit(cv.Name), smallSize)))
	}
	for _, l := range c.Limits {
		if !l.OnX {
			names = max(names, min(nameRoom, draw.Bold.Measure(draw.Bold.Fit(l.Name), smallSize)))
		}
	}
	fx0, fx1 := margin+lineStep+2+wy+2, c.W-margin-2
	if names > 0 {
		fx1 -= names + 3
	}
	fy0, fy1 := margin+2, c.H-margin-10.5
	if c.Title != "" {
		fy0 += 6
		s.Add(text(fx0, margin+3, draw.Bold.Short(draw.Bold.Fit(c.Title), nameSize+0.4, c.W-fx0-margin), draw.Bold, nameSize+0.4, draw.Start, draw.Ink))
	}
	px := func(v float64) float64 { return fx0 + (fx1-fx0)*(v-x0)/(x1-x0) }
	upright, rows := c.upright(px, fx0, fx1)
	fy0 += limitRow * float64(rows)
	py := func(v float64) float64 { return fy1 - (fy1-fy0)*(v-y0)/(y1-y0) }
	axes := &draw.Group{Class: "axes"}
	last := math.Inf(-1)
	for _, v := range xt {
		axes.Add(draw.Polyline(px(v), fy0, px(v), fy1).Stroke(draw.Grid, 0.2))
		t := text(px(v), fy1+4.4, number(v, xstep), draw.Regular, smallSize, draw.Middle, draw.Ink)
		if b := t.Box(); b.X0 > last+1 {
			axes.Add(t)
			last = b.X1
		}
	}
	for _, v := range yt {
		axes.Add(draw.Polyline(fx0, py(v), fx1, py(v)).Stroke(draw.Grid, 0.2))
		axes.Add(text(fx0-1.6, py(v)+draw.CapHeight*smallSize/2, number(v, ystep), draw.Regular, smallSize, draw.End, draw.Ink))
	}
	axes.Add(draw.Polyline(fx0, fy0, fx0, fy1, fx1, fy1).Stroke(draw.Ink, 0.35))
	name := func(a Axis) string {
		if a.Unit == "" {
			return a.Label
		}
		return strings.TrimSpace(a.Label + " / " + a.Unit)
	}
	axes.Add(text((fx0+fx1)/2, fy1+9.4, name(c.X), draw.Regular, smallSize, draw.Middle, draw.Ink))
	up := text(margin+2.4, (fy0+fy1)/2, name(c.Y), draw.Regular, smallSize, draw.Middle, draw.Ink)
	up.Up = true
	axes.Add(up)
	s.Add(axes)
	type ending struct { // a name in the right margin, at the end of its line
		name string
		role draw.Role
		y    float64 // of the name
		x0   float64 // where its line ends
		y0   float64
		g    *draw.Group
	}
	var ends []ending
	limits := slices.Clone(c.Limits)
	slices.SortStableFunc(limits, func(a, b Limit) int { return cmp.Compare(a.Value, b.Value) })
	for _, l := range limits {
		if l.OnX {
			continue
		}
		if y := py(l.Value); y > fy0-1e-9 && y < fy1+1e-9 {
			g := &draw.Group{Class: "limit", Title: l.Name}
			s.Add(g)
			g.Add(draw.Polyline(fx0, y, fx1, y).Stroke(l.role(), 0.5, 2.4, 1.2))
			ends = append(ends, ending{l.Name, l.role(), y, fx1, y, g})
		}
	}
	for _, u := range upright {
		u.name.Y = fy0 - 1.4 - limitRow*float64(u.row)
		g := &draw.Group{Class: "limit", Title: u.limit.Name}
		g.Add(draw.Polyline(u.x, u.name.Y+0.8, u.x, fy1).Stroke(u.limit.role(), 0.5, 2.4, 1.2), u.name)
		s.Add(g)
	}
	looks := []struct {
		r    draw.Role
		dash []float64
	}{{draw.Curve1, nil}, {draw.Curve2, []float64{3, 1.2}}, {draw.Curve3, []float64{0.8, 0.9}}}
	groups := make([]*draw.Group, len(c.Curves))
	for i, cv := range c.Curves {
		g := &draw.Group{Class: "curve", Title: cv.Name}
		groups[i] = g
		if len(cv.Points) == 0 {
			continue
		}
		band := &draw.Pen{}
		any := false
		for k, p := range cv.Points {
			any = any || p.Low != 0 || p.High != 0
			if k == 0 {
				band.M(px(p.X), py(p.High))
			} else {
				band.L(px(p.X), py(p.High))
			}
		}
		for _, p := range slices.Backward(cv.Points) {
			band.L(px(p.X), py(p.Low))
		}
		if any {
			g.Add(band.Z().Fill(draw.Band))
		}
	}
	for i, cv := range c.Curves {
		if len(cv.Points) == 0 {
			continue
		}
		line := &draw.Pen{}
		for k, p := range cv.Points {
			if k == 0 {
				line.M(px(p.X), py(p.Y))
			} else {
				line.L(px(p.X), py(p.Y))
			}
		}
		groups[i].Add(line.Stroke(looks[i].r, 0.7, looks[i].dash...))
		p := cv.Points[len(cv.Points)-1]
		ends = append(ends, ending{cv.Name, looks[i].r, py(p.Y), px(p.X), py(p.Y), groups[i]})
	}
	// Names at the ends, pushed apart where curves end close together.
	slices.SortStableFunc(ends, func(a, b ending) int { return cmp.Compare(a.y, b.y) })
	for k := range ends {
		if k > 0 {
			ends[k].y = max(ends[k].y, ends[k-1].y+lineStep+0.4)
		}
	}
	if n := len(ends); n > 0 {
		if over := ends[n-1].y - (fy1 - 1); over > 0 {
			for k := n - 1; k >= 0; k-- {
				lim := fy1 - 1 - float64(n-1-k)*(lineStep+0.4)
				ends[k].y = min(ends[k].y, lim)
			}
		}
	}
	for _, e := range ends {
		e.g.Add(draw.Polyline(e.x0, e.y0, fx1+1, e.y0, fx1+2.2, e.y).Stroke(e.role, 0.25),
			text(fx1+3, e.y+draw.CapHeight*smallSize/2, draw.Bold.Short(draw.Bold.Fit(e.name), smallSize, nameRoom), draw.Bold, smallSize, draw.Start, e.role))
	}
	for _, g := range groups {
		s.Add(g)
	}
	return s, nil
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
func (c Chart) upright(px func(float64) float64, fx0, fx1 float64) (list []raised, rows int) {
	for _, l := range c.Limits {
		if x := px(l.Value); l.OnX && x > fx0-1e-9 && x < fx1+1e-9 {
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
			t := text(u.x+dx, 0, draw.Regular.Short(draw.Regular.Fit(u.limit.Name), smallSize, fx1-fx0), draw.Regular, smallSize, a, u.limit.role())
			keep(t, fx0, c.W-margin)
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
