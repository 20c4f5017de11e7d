package figure

import (
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
)

// A rectified output is drawn to its parts: each diode with its number, each
// reservoir with its plus, and the terminals that a meter is put to. The diodes
// lie in rows, numbered from the top, those that lead to plus above those that
// come from minus.

// Rail is what stands between two terminals of a rectified output, such as the
// readings that are expected there.
type Rail struct {
	Output string
	At     int // among the output's rails, from 0
	Lines  []string
}

// Distances of a rectified output, from its lugs outwards [mm].
const (
	diodeRow  = 8.0
	diodeWide = 12.0 // from fork to bus
	forkStep  = 3.0
	busStep   = 6.0  // to the reservoirs
	postStep  = 10.0 // from there to the terminals
	headHigh  = 10.0 // words above the first row
	lugRoom   = 14.0
)

// rectifier is a rectified output while it is laid out.
type rectifier struct {
	out   *yokemate.Output
	fault *Fault // nil: none in it
	lugs  []lug  // in the order of the part's nets
	rows  []diodeRowOf
	posts []post
	caps  [][2]int // posts or, below zero, the lug that a reservoir is tied to, plus first
	rails [][]feedLine
	head  []feedLine
	foot  []feedLine
	probe [2]string // points that a meter is put to
	high  float64   // to the lowest row [mm]
	fork  float64   // from the lugs to where their wires part [mm]
}

// lug is where a joint's wire meets the rectifier.
type lug struct {
	joint string
	y     float64 // below the first [mm]
}

// diodeRowOf is one diode: from a lug to the plus bus, or from the minus bus to
// the lug.
type diodeRowOf struct {
	lug  int
	y    float64
	plus bool
}

// post is a DC terminal.
type post struct {
	name string
	y    float64
	lug  int // that it is tied to, without a diode; -1: none
}

// rectify lays out the rectified output of a part.
func (d *sheet) rectify(p *part, out *yokemate.Output, joint func(at, name string) *net) {
	o := &d.o
	r := &rectifier{out: out}
	for i := range o.Faults {
		if f := &o.Faults[i]; f.Output != "" && f.Output == out.Name {
			r.fault = f
		}
	}
	rails := out.Rails()
	r.rails = make([][]feedLine, len(rails))
	given := false
	for _, x := range o.Rails {
		if x.Output != out.Name || x.At >= len(rails) {
			continue
		}
		for _, l := range x.Lines {
			given = true
			r.rails[x.At] = append(r.rails[x.At], feedLine{text: l, face: draw.Bold, role: draw.Value})
		}
	}
	kind := map[string]string{"bridge": "bridge", "half": "half wave", "centre-tap": "centre tap", "doubler": "doubler"}[out.DC.Rectifier]
	r.head = []feedLine{
		{text: draw.Bold.Short(draw.Bold.Fit(out.Name), smallSize, sideMax), face: draw.Bold, role: draw.Ink},
		{text: o.say(kind), face: draw.Regular, role: draw.Ink},
		{text: o.farads(out.DC.Farads), face: draw.Regular, role: draw.Ink},
	}
	if out.DC.Amps > 0 {
		r.head[2].text += dotted + o.Locale.Format(out.DC.Amps, "A", 3)
	}
	if r.fault != nil {
		words := o.say(r.fault.Words)
		r.foot = append(r.foot, feedLine{text: draw.Bold.Short(words, smallSize, 2*sideMax), face: draw.Bold, role: draw.StopState})
		p.title += ", " + words
	}
	if pr := o.Prediction; pr != nil && !given {
		for _, st := range pr.Outputs {
			if st.Name != out.Name {
				continue
			}
			v, a := o.Locale.Format(st.Volts, "V", 3), o.Locale.Format(st.Amps, "A", 3)
			p.title += ", " + o.say("predicted %s", v) + ", " + a
			ls := []feedLine{{text: v, face: draw.Bold, role: draw.Value}, {text: a, face: draw.Regular, role: draw.Value}}
			if len(rails) == 1 {
				r.rails[0] = ls
			} else { // of the heavier rail
				r.foot = append(r.foot, feedLine{text: v + dotted + a, face: draw.Bold, role: draw.Value})
			}
		}
	}
	for k, ls := range r.rails {
		for _, l := range ls {
			if given {
				p.title += ", " + rails[k][0] + " " + rails[k][1] + ": " + l.text
			}
		}
	}

	a, b, m := out.From, out.To, out.DC.Middle
	step := diodeRow
	most := 0
	for _, ls := range r.rails {
		most = max(most, len(ls))
	}
	need := lineStep*float64(most) + 4.4 // from one terminal to the next
	switch {
	case out.DC.Rectifier == "half":
		low := max(2*step, need)
		r.lugs = []lug{{a, 0}, {b, low}}
		r.rows = []diodeRowOf{{0, 0, true}}
		r.posts = []post{{rails[0][0], 0, -1}, {rails[0][1], low, 1}}
	case out.DC.Rectifier == "centre-tap":
		low := max(2.25*step, need)
		r.lugs = []lug{{a, 0}, {b, step}, {m, low}}
		r.rows = []diodeRowOf{{0, 0, true}, {1, step, true}}
		r.posts = []post{{rails[0][0], 0, -1}, {rails[0][1], low, 2}}
	case out.DC.Rectifier == "doubler":
		low := max(3*step, need)
		r.lugs = []lug{{a, 0}, {b, low / 2}}
		r.rows = []diodeRowOf{{0, 0, true}, {0, low, false}}
		r.posts = []post{{rails[0][0], 0, -1}, {rails[0][1], low, -1}}
	case m != "":
		step = max(step, need/1.5)
		r.lugs = []lug{{a, 0}, {m, 1.5 * step}, {b, 3 * step}}
		r.rows = []diodeRowOf{{0, 0, true}, {2, step, true}, {0, 2 * step, false}, {2, 3 * step, false}}
		r.posts = []post{{rails[0][0], 0, -1}, {m, 1.5 * step, 1}, {rails[1][1], 3 * step, -1}}
	default:
		step = max(step, need/3)
		r.lugs = []lug{{a, 0}, {b, 3 * step}}
		r.rows = []diodeRowOf{{0, 0, true}, {1, step, true}, {0, 2 * step, false}, {1, 3 * step, false}}
		r.posts = []post{{rails[0][0], 0, -1}, {rails[0][1], 3 * step, -1}}
	}
	for k := range len(r.posts) - 1 {
		r.caps = append(r.caps, [2]int{k, k + 1})
	}
	if out.DC.Rectifier == "doubler" {
		r.caps = [][2]int{{0, -2}, {-2, 1}} // to the second lug
	}
	wide := 0.0
	for _, l := range r.lugs {
		p.nets = append(p.nets, joint(p.id, l.joint))
		p.steps = append(p.steps, l.y)
		wide = max(wide, draw.Mono.Measure(lugName(l.joint), smallSize))
	}
	r.fork = wide + 2.5
	if m != "" {
		r.fork += 3 // for a lead that may be off
	}
	for _, x := range r.posts {
		r.high = max(r.high, x.y)
	}
	p.rect = r
	p.above = headHigh + 3
	p.fit()
}

// fit works out the room of a rectified output anew, after words were added.
func (p *part) fit() {
	r := p.rect
	p.below = r.high - p.steps[len(p.steps)-1] + 6 + lineStep*float64(len(r.foot))
	words := 0.0
	for _, x := range r.posts {
		words = max(words, draw.Bold.Measure(postName(x.name), smallSize))
	}
	for _, ls := range r.rails {
		words = max(words, widest(ls, smallSize))
	}
	head := 0.0
	for i, l := range r.head[:2] {
		head += l.face.Measure(l.text, smallSize) + 2*float64(i)
	}
	p.wide = slices.Max([]float64{r.postX() + 3 + words, head, widest(r.head[2:], smallSize), widest(r.foot, smallSize)}) + 1
}

// postX is how far from the lugs the terminals are.
func (r *rectifier) postX() float64 { return r.fork + forkStep + diodeWide + busStep + postStep }

func lugName(joint string) string { return draw.Mono.Short(draw.Mono.Fit(joint), smallSize, lugRoom) }

func postName(name string) string {
	return draw.Bold.Short(draw.Bold.Fit(name), smallSize, 1.5*lugRoom)
}

// slip returns what is wrong in the rectifier: the kind of its slip and what of
// it, as "diode-reversed" and "2".
func (r *rectifier) slip() (kind, what string) {
	if r.fault == nil {
		return "", ""
	}
	kind, at, _ := strings.Cut(r.fault.Slip, ":")
	return kind, strings.TrimPrefix(strings.TrimPrefix(at, r.out.Name), "/")
}

// draw draws it with its lugs at x, the first at height y, outwards in the
// direction dir.
func (r *rectifier) draw(o *Options, x, y, dir float64) []draw.Item {
	var all []draw.Item
	at := func(dx float64) float64 { return x + dir*dx }
	line := func(role draw.Role, w float64, pts ...float64) {
		for i := range pts {
			if i%2 == 0 {
				pts[i] = at(pts[i])
			} else {
				pts[i] += y
			}
		}
		all = append(all, draw.Polyline(pts...).Stroke(role, w))
	}
	anchor, far := draw.Start, draw.End
	if dir < 0 {
		anchor, far = far, anchor
	}
	badge := func(dx, dy float64) { all = append(all, BadgeMark(yokemate.Caution, at(dx), y+dy, 3.6)...) }
	open := func(dx, dy float64) {
		all = append(all, draw.Circle(at(dx), y+dy, 0.9).Both(draw.Paper, draw.StopState, 0.5))
	}
	kind, what := r.slip()

	// Where the wires of the lugs part, and the buses.
	bus := r.fork + forkStep + diodeWide
	capX, postX := bus+busStep, r.postX()
	forks := map[int]float64{}
	for _, w := range r.rows {
		if _, ok := forks[w.lug]; !ok {
			forks[w.lug] = r.fork + forkStep*float64(len(forks))
		}
	}
	for i, l := range r.lugs {
		to, isFork := forks[i]
		if !isFork { // straight to the reservoirs
			to = capX
		}
		if kind == "middle-open" && l.joint == r.out.DC.Middle {
			// Beyond the open place the lead stands in stop's colour.
			gap := r.fork - 3.2
			line(draw.Ink, wire, 0, l.y, gap-1.6, l.y)
			line(draw.StopState, wire+0.3, gap+1.6, l.y, to, l.y)
			open(gap-1.6, l.y)
			open(gap+1.6, l.y)
			badge(gap, l.y+3.4)
		} else {
			line(draw.Ink, wire, 0, l.y, to, l.y)
		}
		role := draw.Soft
		if a, b, _ := strings.Cut(what, ","); kind == "tap-swapped" && (l.joint == a || l.joint == b) {
			role = draw.StopState
			line(draw.StopState, wire+0.5, 0, l.y, r.fork-1, l.y)
			badge(r.fork-2.6, l.y+3)
		}
		all = append(all, text(at(0.6), y+l.y-1.1, lugName(l.joint), draw.Mono, smallSize, anchor, role))
		if isFork {
			lo, hi, ways := l.y, l.y, 0
			for _, w := range r.rows {
				if w.lug == i {
					lo, hi = min(lo, w.y), max(hi, w.y)
					ways++
				}
			}
			if hi > lo {
				line(draw.Ink, wire, to, lo, to, hi)
			}
			if ways > 1 {
				all = append(all, dot(at(to), y+l.y, 0.95, draw.Ink))
			}
		}
	}
	ends := map[bool][]float64{} // heights on the plus and the minus bus
	for k, w := range r.rows {
		n := strconv.Itoa(k + 1)
		g := &draw.Group{ID: ID("diode", r.out.Name, n), Class: "diode", Title: o.say("diode %s", n)}
		turned := kind == "diode-reversed" && what == n
		broken := kind == "diode-open" && what == n
		if turned || broken {
			g.Title += ", " + o.say(r.fault.Words)
			badge(bus-0.6, w.y-2.7)
		}
		from, to := forks[w.lug], bus
		g.Add(diode(at(from), at(to), at(bus-diodeWide/2), y+w.y, w.plus != turned, broken, turned, dir)...)
		g.Add(text(at(bus-diodeWide/2-3.2), y+w.y-1, n, draw.Bold, smallSize, draw.Middle, draw.Ink))
		all = append(all, g)
		ends[w.plus] = append(ends[w.plus], w.y)
	}
	for _, plus := range []bool{true, false} {
		ys := ends[plus]
		if len(ys) == 0 {
			continue
		}
		rail := 0.0 // the bus goes out along the first or the last row
		if !plus {
			rail = r.high
		}
		line(draw.Ink, wire, bus, slices.Min(ys), bus, slices.Max(ys))
		line(draw.Ink, wire, bus, rail, capX, rail)
		if len(ys) > 1 {
			all = append(all, dot(at(bus), y+rail, 0.95, draw.Ink))
		}
	}
	height := func(k int) float64 {
		if k < 0 {
			return r.lugs[-k-1].y
		}
		return r.posts[k].y
	}
	tied := map[float64]int{}
	for k, c := range r.caps {
		n := strconv.Itoa(k + 1)
		turned := kind == "capacitor-reversed" && what == n
		g := &draw.Group{ID: ID("reservoir", r.out.Name, n), Class: "reservoir", Title: o.say("reservoir %s", n)}
		g.Add(reservoir(at(capX), y+height(c[0]), y+height(c[1]), dir, turned)...)
		if turned {
			g.Title += ", " + o.say(r.fault.Words)
			badge(capX-4.4, (height(c[0])+height(c[1]))/2)
		}
		all = append(all, g)
		tied[height(c[0])]++
		tied[height(c[1])]++
	}
	crossed := kind == "polarity"
	for i, q := range r.posts {
		last := len(r.posts) - 1
		if swap := crossed && (i == 0 || i == last); swap {
			line(draw.StopState, wire+0.3, capX, q.y, capX+3.8, q.y, postX-1, r.posts[last-i].y)
		} else {
			line(draw.Ink, wire, capX, q.y, postX, q.y)
		}
		all = append(all, dot(at(capX), y+q.y, 0.95, draw.Ink))
	}
	if r.out.DC.Rectifier == "doubler" {
		all = append(all, dot(at(capX), y+r.lugs[1].y, 0.95, draw.Ink))
	}
	if crossed {
		badge((capX+postX)/2+1.4, 0.16*r.high)
	}
	// The terminals, with what is read between them.
	for _, q := range r.posts {
		all = append(all, draw.Circle(at(postX), y+q.y, 1.2).Both(draw.Paper, draw.Ink, 0.45),
			text(at(postX+2.6), y+q.y+draw.CapHeight*smallSize/2, postName(q.name), draw.Bold, smallSize, anchor, draw.Ink))
	}
	for k, ls := range r.rails {
		mid := (r.posts[k].y + r.posts[k+1].y) / 2
		for i, l := range ls {
			dy := draw.CapHeight*smallSize/2 + lineStep*(float64(i)-float64(len(ls)-1)/2)
			all = append(all, text(at(postX+2.6), y+mid+dy, l.text, l.face, smallSize, anchor, l.role))
		}
	}
	for k, name := range r.probe {
		if px, py, ok := r.point(name); ok {
			tri := draw.Polyline(at(px), y+py+1.5, at(px)+1.3, y+py+4.1, at(px)-1.3, y+py+4.1).Z()
			fill := draw.Accent
			if k == 1 {
				fill = draw.Paper
			}
			all = append(all, tri.Both(fill, draw.Accent, 0.4))
		}
	}
	dx := 0.0
	for _, l := range r.head[:2] {
		all = append(all, text(at(dx), y-headHigh+0.2, l.text, l.face, smallSize, anchor, l.role))
		dx += l.face.Measure(l.text, smallSize) + 2
	}
	all = append(all, text(at(0), y-headHigh+0.2+lineStep, r.head[2].text, r.head[2].face, smallSize, anchor, r.head[2].role))
	for i, l := range r.foot {
		all = append(all, text(at(0), y+r.high+7+lineStep*float64(i), l.text, l.face, smallSize, anchor, l.role))
	}
	return all
}

// point is where a terminal or a joint of the rectifier can be touched, from
// its first lug.
func (r *rectifier) point(name string) (dx, dy float64, ok bool) {
	for _, q := range r.posts {
		if q.name == name {
			return r.postX(), q.y, true
		}
	}
	for _, l := range r.lugs {
		if l.joint == name {
			return 1.2, l.y, true
		}
	}
	return 0, 0, false
}

// diode draws a diode on a level wire between x0 and x1, its middle at x; on
// leads outwards. A broken one has a gap in its wire, one that is turned stands
// out.
func diode(x0, x1, x, y float64, on, broken, turned bool, dir float64) []draw.Item {
	role, w := draw.Ink, wire
	if broken || turned {
		role, w = draw.StopState, wire+0.3
	}
	point := dir
	if !on {
		point = -dir
	}
	const half = 1.9
	tri := draw.Polyline(x-point*half, y-half, x+point*half, y, x-point*half, y+half).Z()
	bar := draw.Polyline(x+point*half, y-half, x+point*half, y+half)
	if !broken {
		return []draw.Item{draw.Polyline(x0, y, x1, y).Stroke(role, wire), tri.Both(draw.Paper, role, w), draw.Polyline(x-half, y, x+half, y).Stroke(role, wire), bar.Stroke(role, w+0.1)}
	}
	gap := x + dir*half
	return []draw.Item{
		draw.Polyline(x0, y, gap, y).Stroke(role, wire), tri.Both(draw.Paper, role, w), bar.Stroke(role, w+0.1),
		draw.Circle(x1-dir*0.3, y, 0.9).Both(draw.Paper, role, 0.5),
	}
}

// reservoir draws a capacitor with its plus on an upright wire.
func reservoir(x, y0, y1, dir float64, turned bool) []draw.Item {
	role, w := draw.Ink, wire
	if turned {
		role, w = draw.StopState, wire+0.3
	}
	c := (y0 + y1) / 2
	const gap, plate = 0.8, 2.8
	plus := c - gap - 1.9
	if turned {
		plus = c + gap + 1.9
	}
	px := x - dir*2.2
	return []draw.Item{
		draw.Polyline(x, y0, x, c-gap).Stroke(draw.Ink, wire), draw.Polyline(x, c+gap, x, y1).Stroke(draw.Ink, wire),
		draw.Polyline(x-plate, c-gap, x+plate, c-gap).Stroke(role, w+0.3), draw.Polyline(x-plate, c+gap, x+plate, c+gap).Stroke(role, w+0.3),
		draw.Polyline(px-0.9, plus, px+0.9, plus).Stroke(role, w), draw.Polyline(px, plus-0.9, px, plus+0.9).Stroke(role, w),
	}
}
