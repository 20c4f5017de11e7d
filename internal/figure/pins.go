package figure

import (
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
)

// PinOptions say how the pins of a unit are shown.
type PinOptions struct {
	Options
	Rows       [2][]string             // pins of the near and the far row as seen from the pins, left to right; empty: mains side near, the others far, each in order
	TurnedOver bool                    // as seen from the other side
	Marked     []string                // pins to look at now
	Link       func(pin string) string // where a pin leads
	Bare       bool                    // no list of windings below

	// What is found out, and done to find out more.
	Guess  map[string]string // windings that are not certain, by id, and how likely they are, in words: drawn dashed
	NoDot  []string          // windings whose start end is not known
	NoName []string          // windings that have no name yet
	Probes []string          // where the probes go: pins, or the core
	Tied   []string          // pins that are joined with wire meanwhile
	Source []string          // pins that a source is on
}

// longRow is the most pins that one row takes where nothing says how they lie.
const longRow = 7

// PinRows is the arrangement of pins as the unit tells it, else one that will
// do: the mains side in one row, the rest in the other, each in counting order.
func PinRows(u *yokemate.Unit) [2][]string {
	var rows [2][]string
	if len(u.PinRows) > 0 {
		for k, r := range u.PinRows[:min(len(u.PinRows), 2)] {
			rows[k] = slices.Clone(r)
		}
		for _, p := range u.AllPins() {
			if !slices.Contains(rows[0], p) && !slices.Contains(rows[1], p) {
				rows[1] = append(rows[1], p)
			}
		}
		return rows
	}
	if all := u.AllPins(); len(u.Windings) == 0 && len(all) > longRow {
		slices.SortStableFunc(all, countingOrder)
		n := (len(all) + 1) / 2
		return [2][]string{all[:n], all[n:]}
	}
	for _, p := range u.AllPins() {
		k := 1
		for _, w := range u.Windings {
			if (w.Pins[0] == p || w.Pins[1] == p) && u.MainsSide(w.ID) {
				k = 0
			}
		}
		rows[k] = append(rows[k], p)
	}
	for k := range rows {
		slices.SortStableFunc(rows[k], countingOrder)
	}
	return rows
}

// countingOrder puts 9 before 10, and numbers before words.
func countingOrder(a, b string) int {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	switch {
	case errX == nil && errY == nil:
		return x - y
	case errX == nil:
		return -1
	case errY == nil:
		return 1
	}
	return strings.Compare(a, b)
}

// Pins draws a unit as seen from its pins, or turned over: the pins in two
// rows with the windings between them, each with its start end marked.
func Pins(u *yokemate.Unit, o PinOptions) (draw.Scene, error) {
	rows := o.Rows
	if len(rows[0])+len(rows[1]) == 0 {
		rows = PinRows(u)
	}
	place := map[string][2]int{}
	for k, r := range rows {
		for i, p := range r {
			if _, twice := place[p]; twice || !slices.Contains(u.AllPins(), p) {
				return draw.Scene{}, yokemate.Errorf(yokemate.Invalid, u.Tag+" pin rows", "pin %q is no pin of the unit, or stands there twice", p).Mend("name each pin once")
			}
			place[p] = [2]int{k, i}
		}
	}
	for _, p := range u.AllPins() {
		if _, ok := place[p]; !ok {
			return draw.Scene{}, yokemate.Errorf(yokemate.Invalid, u.Tag+" pin rows", "pin %s has no place", p).Mend("add it to one of the two rows")
		}
	}
	n := max(len(rows[0]), len(rows[1]))
	wide := pillHigh
	for _, p := range u.AllPins() {
		wide = max(wide, draw.Bold.Measure(pinMark(p), pinSize)+2.6)
	}
	step := wide + 4.5
	if o.busy() { // neighbours may both be given a word
		step = max(step, draw.Bold.Measure(o.say("source"), smallSize)+1.5, draw.Bold.Measure(o.say("probe"), smallSize)+1.5)
	}
	title, view := o.say("unit %s, seen from the pins", u.Tag), o.say("seen from the pins")
	if o.TurnedOver {
		title, view = o.say("unit %s, turned over", u.Tag), o.say("turned over")
	}
	head := draw.Bold.Fit(u.Tag)
	bodyW := max(step*float64(n)+3, draw.Bold.Measure(head, pinSize)+6+draw.Regular.Measure(view, smallSize))
	x0 := margin
	slot := func(k, i int) float64 {
		return x0 + bodyW/2 + step*(float64(i)-float64(len(rows[k])-1)/2)
	}
	side := func(x float64) float64 { // as seen
		if o.TurnedOver {
			return 2*(x0+bodyW/2) - x
		}
		return x
	}
	br := layBrackets(u, place, slot)
	for i := range br {
		b := &br[i]
		b.x, b.label = [2]float64{side(b.x[0]), side(b.x[1])}, side(b.label)
	}
	const shelf = 6.5    // from one level of windings to the next
	beyond := o.beyond() // room for what is put to the pins
	top := margin + 10 + beyond[1]
	levels := [3]int{}
	for _, b := range br {
		levels[b.zone] = max(levels[b.zone], b.level+1)
	}
	y := [2]float64{} // of the pins: near row below, far row above
	y[1] = top + 4
	y[0] = y[1] + 9 + shelf*float64(levels[0]+levels[1]+levels[2])
	if len(rows[0]) == 0 {
		y[0] -= 7
	}
	if len(rows[1]) == 0 {
		y[0] -= 7
		y[1] -= 7
	}
	s := draw.Scene{Title: title}
	s.Add(text(x0, margin+4, head, draw.Bold, pinSize, draw.Start, draw.Ink))
	s.Add(text(x0+draw.Bold.Measure(head, pinSize)+3, margin+4, view, draw.Regular, smallSize, draw.Start, draw.Soft))
	s.Add(draw.Rect(x0, top-1, bodyW, y[0]-top+6, 2.5).Both(draw.Panel, draw.Ink, wire))
	for i := range br {
		b := &br[i]
		g := &draw.Group{ID: ID("map-winding", u.Tag, b.w.ID), Class: "winding", Title: o.windingTitle(u, b.w)}
		var ly float64
		switch b.zone {
		case 1: // far row
			ly = y[1] + 5.5 + shelf*float64(b.level)
		case 2: // from row to row
			ly = y[1] + 5.5 + shelf*float64(levels[1]+b.level)
		default:
			ly = y[0] - 5.5 - shelf*float64(b.level)
		}
		run := draw.Polyline(b.x[0], y[b.row[0]], b.x[0], ly, b.x[1], ly, b.x[1], y[b.row[1]])
		if likely := o.Guess[b.w.ID]; likely != "" {
			g.Title += ", " + likely
			g.Add(run.Stroke(draw.Ink, wire, 1.6, 1.1))
		} else {
			g.Add(run.Stroke(draw.Ink, wire))
		}
		if !slices.Contains(o.NoDot, b.w.ID) {
			g.Add(dot(b.x[0], ly, 1, draw.Ink))
		}
		if !slices.Contains(o.NoName, b.w.ID) {
			id := draw.Bold.Short(draw.Bold.Fit(b.w.ID), smallSize, b.room)
			w := draw.Bold.Measure(id, smallSize) + 1.4
			g.Add(draw.Rect(b.label-w/2, ly-1.9, w, 3.8, 0).Fill(draw.Panel))
			g.Add(text(b.label, ly+draw.CapHeight*smallSize/2, id, draw.Bold, smallSize, draw.Middle, draw.Ink))
		}
		s.Add(g)
	}
	s.W = bodyW + 2*margin
	at := map[string]draw.Point{}
	for k := range rows {
		for i, p := range rows[k] {
			at[p] = draw.Point{X: side(slot(k, i)), Y: y[k]}
		}
	}
	s.W = max(s.W, o.tie(&s, at, y, x0+bodyW))
	for k := range rows {
		for _, p := range rows[k] {
			s.Add(o.drawPin(u, p, at[p].X, y[k], wide))
		}
	}
	s.W = max(s.W, o.putTo(&s, at, y, x0+bodyW))
	y[0] += beyond[0]
	s.H = y[0] + 5 + margin
	if id := u.CoreJoined(); id != "" { // never left out: it must not be energised
		words := draw.Bold.Fit(o.say("%s ends on the core", id))
		s.Add(BadgeMark(yokemate.Stop, x0+2.5, s.H, 5)...)
		s.Add(text(x0+6.5, s.H+1.2, words, draw.Bold, nameSize, draw.Start, draw.StopState))
		s.W = max(s.W, x0+6.5+draw.Bold.Measure(words, nameSize)+margin)
		s.H += 2.5 + margin
		y[0] += 6.5
	}
	if !o.Bare {
		yy := y[0] + 11
		for i := range u.Windings {
			w := &u.Windings[i]
			line := draw.Regular.Fit(w.Pins[0] + " – " + w.Pins[1])
			for _, f := range []struct {
				v yokemate.Value
				u string
			}{{w.Volts, "V"}, {w.Ohms, "Ω"}, {w.Amps, "A"}} {
				if f.v.Known() {
					line += dotted + o.value(f.v, f.u)
				}
			}
			if likely := o.Guess[w.ID]; likely != "" {
				line += dotted + likely
			}
			id, off := draw.Bold.Fit(w.ID), 0.0
			if slices.Contains(o.NoName, w.ID) {
				id = ""
			} else {
				off = draw.Bold.Measure(id, nameSize) + 3
			}
			s.Add(text(x0, yy, id, draw.Bold, nameSize, draw.Start, draw.Ink), text(x0+off, yy, line, draw.Regular, nameSize, draw.Start, draw.Ink))
			s.W = max(s.W, x0+off+draw.Regular.Measure(line, nameSize)+margin)
			yy += 4.8
		}
		if len(o.NoDot) < len(u.Windings) {
			key := "= " + o.say("start end")
			s.Add(dot(x0+1, yy-1.1, 1, draw.Ink), text(x0+3.5, yy, key, draw.Regular, smallSize, draw.Start, draw.Soft))
			s.W = max(s.W, x0+3.5+draw.Regular.Measure(key, smallSize)+margin)
			yy += 4.8
		}
		s.H = yy - 4.8 + margin
	}
	return s, nil
}

func pinMark(p string) string { return draw.Bold.Short(draw.Bold.Fit(p), pinSize, 16) }

func (o *PinOptions) drawPin(u *yokemate.Unit, p string, x, y, wide float64) *draw.Group {
	g := &draw.Group{ID: ID("map-pin", u.Tag, p), Class: "pin"}
	t := []string{o.say("pin %s", u.Tag+"."+p)}
	for _, w := range u.Windings {
		switch {
		case slices.Contains(o.NoName, w.ID):
		case p == w.Pins[0] && !slices.Contains(o.NoDot, w.ID):
			t = append(t, w.ID+" "+o.say("start end"))
		case p == w.Pins[0] || p == w.Pins[1]:
			t = append(t, w.ID)
		}
	}
	for _, x := range []struct {
		list []string
		word string
	}{{o.Probes, "probe"}, {o.Tied, "tied"}, {o.Source, "source"}} {
		if slices.Contains(x.list, p) {
			t = append(t, o.say(x.word))
		}
	}
	g.Title = strings.Join(t, ", ")
	if o.Link != nil {
		g.Link = o.Link(u.Tag + "." + p)
	}
	mark := pinMark(p)
	w := max(pillHigh, draw.Bold.Measure(mark, pinSize)+2.6)
	r, width := draw.Ink, 0.4
	if slices.Contains(o.Marked, p) || slices.Contains(o.Probes, p) {
		r, width = draw.Accent, 1.1
	}
	g.Add(draw.Rect(x-w/2, y-pillHigh/2, w, pillHigh, 1).Both(draw.Paper, r, width),
		text(x, y+draw.CapHeight*pinSize/2, mark, draw.Bold, pinSize, draw.Middle, draw.Ink),
		&draw.Path{Segs: draw.Rect(x-wide/2-2, y-6, wide+4, 12, 0).Fill(draw.None).Segs, Hit: true})
	return g
}

func (o *PinOptions) windingTitle(u *yokemate.Unit, w *yokemate.Winding) string {
	t := u.Tag + "/" + w.ID
	if slices.Contains(o.NoName, w.ID) || slices.Contains(o.NoDot, w.ID) {
		if slices.Contains(o.NoName, w.ID) {
			t = u.Tag
		}
		return o.say("%s, pins %s and %s", t, w.Pins[0], w.Pins[1])
	}
	if w.Volts.Known() {
		t += ", " + o.value(w.Volts, "V")
	}
	return o.say("%s, pins %s (start) and %s", t, w.Pins[0], w.Pins[1])
}

// bracket is a winding between two pins of the map.
type bracket struct {
	w     *yokemate.Winding
	row   [2]int
	x     [2]float64
	zone  int // 0 near row, 1 far row, 2 from row to row
	level int
	label float64 // middle of its name
	room  float64 // for it
}

// layBrackets stacks the windings in levels so that none lies on another. A
// name stands between two neighbouring pins, where no other winding's leg can
// run through it.
func layBrackets(u *yokemate.Unit, place map[string][2]int, slot func(k, i int) float64) []bracket {
	var all []bracket
	var legs [2][]float64 // of each row
	uses := map[string]int{}
	for i := range u.Windings {
		w := &u.Windings[i]
		if w.Pins[0] == yokemate.CorePin || w.Pins[1] == yokemate.CorePin {
			continue
		}
		b := bracket{w: w}
		for e, p := range w.Pins {
			at := place[p]
			b.row[e] = at[0]
			// Windings that share a pin leave it side by side.
			b.x[e] = slot(at[0], at[1]) + []float64{0, 1.3, -1.3, 2, -2}[min(uses[p], 4)]
			uses[p]++
			legs[at[0]] = append(legs[at[0]], b.x[e])
		}
		b.zone = b.row[0]
		if b.row[0] != b.row[1] {
			b.zone = 2
		}
		all = append(all, b)
	}
	slices.SortStableFunc(all, func(a, b bracket) int {
		d := abs(a.x[0]-a.x[1]) - abs(b.x[0]-b.x[1])
		switch {
		case d < -1e-9:
			return -1
		case d > 1e-9:
			return 1
		}
		return 0
	})
	for i := range all {
		b := &all[i]
		lo, hi := min(b.x[0], b.x[1]), max(b.x[0], b.x[1])
		// The widest space between legs, nearest to the middle.
		stops := []float64{lo, hi}
		for k := range legs {
			for _, x := range legs[k] {
				if x > lo && x < hi && (b.zone == k || b.zone == 2) {
					stops = append(stops, x)
				}
			}
		}
		slices.Sort(stops)
		mid := (lo + hi) / 2
		best := -1.0
		for k := 1; k < len(stops); k++ {
			room, c := stops[k]-stops[k-1], (stops[k]+stops[k-1])/2
			if room < 3 && best >= 0 {
				continue
			}
			if best < 0 || b.room < 3 || abs(c-mid) < abs(b.label-mid)-1e-9 {
				b.label, b.room, best = c, room, room
			}
		}
		b.room = max(b.room-2.6, 3)
		for {
			taken := false
			for _, c := range all[:i] {
				clo, chi := min(c.x[0], c.x[1]), max(c.x[0], c.x[1])
				if c.zone == b.zone && c.level == b.level && lo < chi+1 && clo < hi+1 {
					taken = true
				}
			}
			if !taken {
				break
			}
			b.level++
		}
	}
	return all
}

func abs(x float64) float64 { return max(x, -x) }
