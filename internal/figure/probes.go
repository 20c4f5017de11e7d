package figure

import (
	"slices"

	"yokemate"
	"yokemate/internal/draw"
)

// What is put to the pins while something is read lies outside the body, in
// steps: wires that tie pins, then probes, then the source.
const (
	tieAt    = 7.6 // from the pins to the wire that ties some of them [mm]
	probeAt  = 6.4 // from the pins to the tip of a probe [mm]
	probeLen = 7.2 // of a probe with its word [mm]
	sourceR  = 2.3 // of the sign of a source [mm]
)

// busy reports whether anything is put to the pins.
func (o *PinOptions) busy() bool { return len(o.Probes)+len(o.Tied)+len(o.Source) > 0 }

// beyond is the room outside the near and the far row [mm]. It is the same for
// both, so that the body stays where it is from one reading to the next.
func (o *PinOptions) beyond() (room [2]float64) {
	if !o.busy() {
		return room
	}
	d := o.tip() - 5 + probeLen
	if len(o.Source) > 0 {
		d += 2*sourceR + 4
	}
	return [2]float64{d, d}
}

// tip is how far from the pins the tips of probes end [mm].
func (o *PinOptions) tip() float64 {
	if len(o.Tied) > 0 {
		return tieAt + 1.8
	}
	return probeAt
}

// outward is 1 for the near row, which lies below, and -1 for the far one.
func outward(p draw.Point, y [2]float64) float64 {
	if p.Y == y[1] && y[0] != y[1] {
		return -1
	}
	return 1
}

// tie draws the wires between pins that are joined while something is read, and
// returns the width that they ask for. A wire that joins both rows runs round
// the body.
func (o *PinOptions) tie(s *draw.Scene, at map[string]draw.Point, y [2]float64, edge float64) float64 {
	if len(o.Tied) == 0 {
		return 0
	}
	g := &draw.Group{Class: "tie", Title: o.say("tied")}
	var ends [2][]float64 // of each row
	for _, p := range o.Tied {
		q, ok := at[p]
		if !ok {
			continue
		}
		d := outward(q, y)
		g.Add(draw.Polyline(q.X, q.Y, q.X, q.Y+d*tieAt).Stroke(draw.Accent, mains))
		k := 0
		if d < 0 {
			k = 1
		}
		ends[k] = append(ends[k], q.X)
	}
	around := len(ends[0]) > 0 && len(ends[1]) > 0
	for k, xs := range ends {
		if len(xs) == 0 {
			continue
		}
		d := []float64{1, -1}[k]
		to := slices.Max(xs)
		if around {
			to = edge + 3
		}
		g.Add(draw.Polyline(slices.Min(xs), y[k]+d*tieAt, to, y[k]+d*tieAt).Stroke(draw.Accent, mains))
	}
	s.Add(g)
	if !around {
		return 0
	}
	g.Add(draw.Polyline(edge+3, y[0]+tieAt, edge+3, y[1]-tieAt).Stroke(draw.Accent, mains))
	return edge + 3 + margin
}

// putTo draws probes and source at their pins, and the core beside the body
// where a probe goes to it. It returns the width that they ask for.
func (o *PinOptions) putTo(s *draw.Scene, at map[string]draw.Point, y [2]float64, edge float64) float64 {
	word := func(g *draw.Group, x, y float64, w string, r draw.Role) {
		g.Add(text(x, y+draw.CapHeight*smallSize/2, w, draw.Bold, smallSize, draw.Middle, r))
	}
	for _, p := range o.Source {
		q, ok := at[p]
		if !ok {
			continue
		}
		d := outward(q, y)
		c := q.Y + d*(o.tip()+sourceR)
		if slices.Contains(o.Probes, p) {
			c += d * (probeLen + 0.6)
		}
		g := &draw.Group{Class: "source", Title: o.say("source on pin %s", p)}
		g.Add(draw.Circle(q.X, c, sourceR).Both(draw.Paper, draw.Value, wire+0.1),
			(&draw.Pen{}).M(q.X-1.4, c).C(q.X-0.9, c-1.5, q.X-0.4, c-1.5, q.X, c).C(q.X+0.4, c+1.5, q.X+0.9, c+1.5, q.X+1.4, c).Stroke(draw.Value, wire))
		word(g, q.X, c+d*(sourceR+2), o.say("source"), draw.Value)
		s.Add(g)
	}
	wide := 0.0
	for _, p := range o.Probes {
		if p == yokemate.CorePin {
			wide = max(wide, o.coreProbe(s, edge, (y[0]+y[1])/2))
			continue
		}
		q, ok := at[p]
		if !ok {
			continue
		}
		d := outward(q, y)
		t := q.Y + d*o.tip()
		g := &draw.Group{Class: "probe", Title: o.say("probe on pin %s", p)}
		g.Add(draw.Polyline(q.X, t, q.X-1.9, t+d*3.6, q.X+1.9, t+d*3.6).Z().Fill(draw.Accent))
		word(g, q.X, t+d*5.6, o.say("probe"), draw.Accent)
		s.Add(g)
	}
	return wide
}

// coreProbe draws the iron beside the body, with a probe on it.
func (o *PinOptions) coreProbe(s *draw.Scene, edge, y float64) float64 {
	name, probe := o.say("core"), o.say("probe")
	w := draw.Bold.Measure(name, pinSize) + 3
	x := edge + 5
	g := &draw.Group{Class: "probe", Title: o.say("probe on the core")}
	if len(o.Tied) > 0 {
		x += 4 // beside the wire that may run round the body
	} else {
		g.Add(draw.Polyline(edge, y, x, y).Stroke(draw.Ink, thin))
	}
	g.Add(draw.Rect(x, y-pillHigh/2, w, pillHigh, 0).Both(draw.Paper, draw.Accent, 1.1),
		text(x+w/2, y+draw.CapHeight*pinSize/2, name, draw.Bold, pinSize, draw.Middle, draw.Ink))
	t := y + pillHigh/2 + 1.2
	g.Add(draw.Polyline(x+w/2, t, x+w/2-1.9, t+3.6, x+w/2+1.9, t+3.6).Z().Fill(draw.Accent),
		text(x+w/2, t+5.6+draw.CapHeight*smallSize/2, probe, draw.Bold, smallSize, draw.Middle, draw.Accent))
	s.Add(g)
	return x + max(w, draw.Bold.Measure(probe, smallSize)) + margin
}
