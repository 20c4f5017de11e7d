package figure

import (
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
)

// scene puts the laid out drawing together, in wiring order: joints, plugs,
// units, what hangs on them.
func (d *sheet) scene() draw.Scene {
	title := d.o.say("hookup")
	if d.h.Name != "" {
		title = d.h.Name
	}
	s := draw.Scene{W: d.wide, H: d.bottom + margin, Title: title}
	for _, b := range d.units {
		s.Add(draw.Rect(d.pinX[left], b.y0, d.pinX[right]-d.pinX[left], b.y1-b.y0, 2).Both(draw.Panel, draw.Grid, thin))
	}
	for _, n := range d.nets {
		if !n.probe {
			s.Add(d.drawNet(n))
		}
	}
	for _, b := range d.feeds {
		s.Add(d.drawFeed(b))
	}
	for _, b := range d.units {
		s.Add(d.drawUnit(b))
	}
	parts := slices.Concat(d.parts[left], d.parts[right])
	for _, kind := range []string{"output", "fuse", "meter", "probe"} {
		for _, p := range parts {
			if p.kind == kind {
				g := d.drawPart(p)
				if kind == "probe" {
					for _, n := range p.nets {
						g.Items = append(d.drawNet(n).Items, g.Items...)
					}
				}
				s.Add(g)
			}
		}
	}
	return s
}

func (d *sheet) drawFeed(b *feedBox) *draw.Group {
	o := &d.o
	f := b.f
	g := &draw.Group{ID: ID("feed", string(rune('0'+b.n))), Class: "feed"}
	title := []string{o.say("feed %d: %s, %s", b.n, o.value(f.Volts, "V"), o.Locale.Format(f.Hertz, "Hz", 2)),
		o.say("live to joint %s", f.Live), o.say("neutral to joint %s", f.Neutral)}
	if b.earth {
		title = append(title, o.say("protective earth to joint %s", d.h.Earth))
	}
	first := neutral
	if b.earth {
		first = earth
	}
	x0, x1 := b.x[first]-4, b.x[live]+4
	g.Add(draw.Rect(x0, 4, x1-x0, plugLow-4, 2).Both(draw.Panel, draw.Ink, wire))
	for c := live; c <= earth; c++ {
		if c == earth && !b.earth {
			continue
		}
		x := b.x[c]
		if c != earth {
			g.Add(draw.Rect(x-0.7, 1, 1.4, 3, 0).Fill(draw.Ink))
		}
		g.Add(text(x, 9.8, c.letter(), draw.Bold, nameSize, draw.Middle, draw.Ink))
		joined := slices.ContainsFunc(d.nets, func(n *net) bool {
			return slices.ContainsFunc(n.tops, func(t top) bool { return t.feed == b && t.cond == c })
		})
		if !joined { // else the wire belongs to the joint
			g.Add(conductorLine(*draw.Polyline(x, plugLow, x, d.bandLow), c, d.region, false)...)
			g.Add(ring(x, d.bandLow))
		}
	}
	x := b.x[live]
	if y, ok := b.y["fuse"]; ok {
		g.Add(fuseV(x, y, y+9)...)
		title = append(title, o.say("fuse %s", o.fuse(f.FuseKind, f.FuseAmps)))
	}
	if y, ok := b.y["lamp"]; ok {
		g.Add(lampV(x, y, y+9)...)
		title = append(title, o.say("lamp %s", o.Locale.Format(f.Lamp.Watts, "W", 2)))
	}
	if y, ok := b.y["resistor"]; ok {
		g.Add(resistorV(x, y, y+10)...)
		title = append(title, o.say("resistor %s", o.Locale.Format(f.Lamp.Ohms, "Ω", 3)))
	}
	if y, ok := b.y["meter"]; ok {
		g.Add(meterV(x, y, y+10, o.Measure.Quantity.Unit(), draw.Accent)...)
		title = append(title, o.say("current meter"))
	}
	for _, l := range b.lines {
		g.Add(text(x+5, l.y, l.text, l.face, smallSize, draw.Start, l.role))
	}
	if fault := o.atFeed(b.n); fault != "" {
		title = append(title, fault)
		y := b.lines[0].y - draw.CapHeight*smallSize/2
		g.Add(BadgeMark(yokemate.Caution, x+7+b.lines[0].face.Measure(b.lines[0].text, smallSize), y, 4)...)
	}
	if !d.h.Powered(b.n - 1) {
		title = append(title, o.say("plug out"))
	}
	if p := o.Prediction; p != nil && b.n <= len(p.Feed) && d.h.Powered(b.n-1) {
		title = append(title, o.say("takes %s", o.Locale.Format(p.Feed[b.n-1].Amps, "A", 3)))
	}
	g.Title = strings.Join(title, ", ")
	return g
}

// pieces returns the straight parts of a net.
func (d *sheet) pieces(n *net) []piece {
	var ps []piece
	laneX := func(ch int) float64 { return d.laneX[ch] + columnStep*float64(n.column[ch]) }
	for ch := left; ch <= right; ch++ {
		if n.column[ch] >= 0 {
			ps = append(ps, piece{laneX(ch), n.span[ch][0], laneX(ch), n.span[ch][1]})
		}
	}
	for _, e := range n.ends {
		x := d.endX(e)
		switch {
		case n.column[e.channel] >= 0:
			ps = append(ps, piece{x, e.y, laneX(e.channel), e.y})
		case e.part != nil: // straight across to whatever is there
			for _, f := range n.ends {
				if f.channel == e.channel && f.inner {
					ps = append(ps, piece{x, e.y, d.endX(f), e.y})
				}
			}
		case len(n.ends)+len(n.tops) == 1:
			ps = append(ps, piece{x, e.y, d.freeX(e.channel), e.y})
		}
		if e.tip {
			ps = append(ps, piece{x, e.y, x, e.y - 2.2})
		}
	}
	if n.gap >= 0 {
		x0, x1 := 1e9, -1e9
		for ch := left; ch <= right; ch++ {
			if n.column[ch] >= 0 {
				x0, x1 = min(x0, laneX(ch)), max(x1, laneX(ch))
			}
		}
		for _, t := range n.tops {
			if !t.pinned {
				x0, x1 = min(x0, t.x), max(x1, t.x)
				ps = append(ps, piece{t.x, plugLow, t.x, n.track})
			}
		}
		ps = append(ps, piece{x0, n.track, x1, n.track})
	}
	return ps
}

// endX is where an end of a net is.
func (d *sheet) endX(e end) float64 {
	switch {
	case e.part != nil:
		return d.partX[e.channel]
	case e.tip && e.channel == left:
		return d.pinX[left] - d.pillWide[left]/2 - 2.2
	case e.tip:
		return d.pinX[right] + d.pillWide[right]/2 + 2.2
	case e.channel == left:
		return d.pinX[left] - e.row.wide()/2
	}
	return d.pinX[right] + e.row.wide()/2
}

// freeX is where the wire of a free end stops.
func (d *sheet) freeX(ch int) float64 {
	if ch == left {
		return d.pinX[left] - d.pillWide[left]/2 - d.nameWide[left] - 0.5
	}
	return d.pinX[right] + d.pillWide[right]/2 + d.nameWide[right] + 0.5
}

func (d *sheet) drawNet(n *net) *draw.Group {
	g := &draw.Group{}
	ps := d.pieces(n)
	if n.joint != nil {
		g.ID, g.Class = ID("joint", n.name), "joint"
		g.Title = d.o.say("joint %s: %s", n.name, strings.Join(n.joint.Pins, ", "))
		if l := n.cond.letter(); l != "" {
			g.Title += ", " + l
		}
		if p := d.o.Prediction; p != nil {
			for _, j := range p.Joints {
				if j.Name == n.name {
					g.Title += ", " + d.o.say("predicted %s", d.o.Locale.Format(j.Volts, "V", 3))
				}
			}
		}
	}
	pen := draw.Pen{}
	for _, p := range ps {
		pen.M(p.x0, p.y0).L(p.x1, p.y1)
	}
	if len(ps) > 0 {
		g.Add(conductorLine(pen, n.cond, d.region, n.probe)...)
	}
	if n.probe {
		for _, e := range n.ends {
			if e.tip {
				x, y := d.endX(e), e.y-3.1
				tri := draw.Polyline(x, y, x+1.3, y+2.6, x-1.3, y+2.6).Z()
				if e.open {
					g.Add(tri.Both(draw.Paper, draw.Accent, 0.4))
				} else {
					g.Add(tri.Both(draw.Accent, draw.Accent, 0.4))
				}
			}
		}
		return g
	}
	for _, q := range junctions(ps) {
		g.Add(dot(q[0], q[1], 0.95, draw.Ink))
	}
	if len(n.ends)+len(n.tops) == 1 {
		g.Add(ring(d.freeX(n.ends[0].channel), n.ends[0].y))
	}
	return g
}

func (d *sheet) drawUnit(b *unitBox) *draw.Group {
	o := &d.o
	u := b.u
	g := &draw.Group{ID: ID("unit", u.Tag), Class: "unit", Title: o.say("unit %s", u.Tag)}
	tx := d.pinX[left] + 3
	tag := draw.Bold.Fit(u.Tag)
	g.Add(text(tx, b.y0+5.4, tag, draw.Bold, pinSize, draw.Start, draw.Ink))
	off := draw.Bold.Measure(tag, pinSize) + 3
	for i, l := range b.head {
		role := draw.Soft
		if i > 0 {
			role = draw.Value
			off = 0
		}
		if l != "" {
			g.Add(text(tx+off, b.y0+5.4+lineStep*float64(i), l, draw.Regular, smallSize, draw.Start, role))
		}
	}
	// The core spans all windings; its pin hangs below.
	cx := (d.coilX[left] + d.coilX[right]) / 2
	y0, y1 := b.core.y-coreGap, b.y0+8
	for _, sp := range b.spans {
		y0, y1 = min(y0, sp.a.y), max(y1, sp.b.y)
	}
	core := draw.Polyline(cx-0.7, y0, cx-0.7, y1)
	core.M(cx+0.7, y0).L(cx+0.7, y1)
	g.Add(core.Stroke(draw.Ink, 0.6))
	g.Add(draw.Polyline(cx, y1, cx, b.core.y, d.pinX[left]+b.core.wide()/2, b.core.y).Stroke(draw.Ink, thin, 1, 0.8),
		draw.Polyline(cx-0.7, y1, cx+0.7, y1).Stroke(draw.Ink, 0.6))
	for _, sp := range b.spans {
		g.Add(d.drawWinding(b, sp))
	}
	for _, r := range b.rows {
		g.Add(d.drawPin(r))
	}
	return g
}

func (d *sheet) drawWinding(b *unitBox, sp *span) *draw.Group {
	o := &d.o
	w := sp.w
	g := &draw.Group{ID: ID("winding", b.u.Tag, w.ID), Class: "winding"}
	t := b.u.Tag + "/" + w.ID
	if w.Volts.Known() {
		t += ", " + o.value(w.Volts, "V")
	}
	title := []string{o.say("%s, pins %s (start) and %s", t, w.Pins[0], w.Pins[1])}
	if !w.Volts.Known() {
		title = append(title, o.say("%s not measured", "V"))
	}
	if p := o.Prediction; p != nil {
		for _, st := range p.Windings {
			if st.Unit == b.u.Tag && st.ID == w.ID {
				title = append(title, o.say("predicted %s", o.Locale.Format(st.Volts, "V", 3)), o.say("carries %s", o.Locale.Format(st.Amps, "A", 3)))
				if st.LimitAmps != nil {
					limit := o.Locale.Format(*st.LimitAmps, "A", 3)
					if st.Amps > *st.LimitAmps {
						title = append(title, o.say("limit %s, over", limit))
					} else {
						title = append(title, o.say("limit %s", limit))
					}
				}
			}
		}
	}
	fault := o.atWinding(b.u.Tag, w.ID)
	if fault != "" {
		title = append(title, fault)
	}
	g.Title = strings.Join(title, ", ")
	x, dir := d.coilX[sp.channel], 1.0
	if sp.channel == right {
		dir = -1
	}
	g.Add(coil(x, sp.a.y, sp.b.y, dir))
	if fault != "" {
		// A wire across the middle turns.
		y, r := (sp.a.y+sp.b.y)/2, (sp.b.y-sp.a.y)/4
		g.Add(draw.Polyline(x, y-r, x-dir*1.4, y-r, x-dir*1.4, y+r, x, y+r).Stroke(draw.StopState, 1), dot(x, y-r, 0.8, draw.StopState), dot(x, y+r, 0.8, draw.StopState))
	}
	for _, r := range []*row{sp.a, sp.b} {
		g.Add(draw.Polyline(d.pinX[sp.channel]+dir*r.wide()/2, r.y, x, r.y).Stroke(draw.Ink, wire))
	}
	dy := 2.0
	if sp.start == sp.b {
		dy = -2
	}
	g.Add(dot(x-dir*1.9, sp.start.y+dy, 0.9, draw.Ink))
	// Words stand between the pins' wires, on the pins' side.
	ls := d.windingLines(b, w)
	mid := (sp.a.y + sp.b.y) / 2
	tx, anchor := d.pinX[left]+d.pillWide[left]/2+1.5, draw.Start
	if sp.channel == right {
		tx, anchor = d.pinX[right]-d.pillWide[right]/2-1.5, draw.End
	}
	const step = 3.5
	for i, l := range ls {
		y := mid + draw.CapHeight*smallSize/2 + step*(float64(i)-float64(len(ls)-1)/2)
		g.Add(text(tx, y, l.text, l.face, smallSize, anchor, l.role))
	}
	return g
}

func (d *sheet) drawPin(r *row) *draw.Group {
	o := &d.o
	full := r.unit.u.Tag + "." + r.pin
	id := ID("pin", r.unit.u.Tag, r.pin)
	if r.again > 0 {
		id += "-" + strings.Repeat("n", r.again)
	}
	g := &draw.Group{ID: id, Class: "pin"}
	title := []string{o.say("pin %s", full)}
	fault := o.atPin(full)
	if fault != "" {
		title = append(title, fault)
	}
	for _, sp := range r.unit.spans {
		if sp.start.pin == r.pin {
			title = append(title, sp.w.ID+" "+o.say("start end"))
		} else if sp.a.pin == r.pin || sp.b.pin == r.pin {
			title = append(title, sp.w.ID)
		}
	}
	joined := r.net != nil && r.net.joint != nil
	switch {
	case joined && len(r.net.joint.Pins) == 1 && len(r.net.ends)+len(r.net.tops) == 1:
		title = append(title, o.say("in joint %s", r.net.name), o.say("not yet joined"))
	case joined:
		title = append(title, o.say("in joint %s", r.net.name))
	default:
		title = append(title, o.say("not joined"))
	}
	g.Title = strings.Join(title, ", ")
	if o.Link != nil {
		g.Link = o.Link(full)
	}
	x := d.pinX[r.channel]
	w := r.wide()
	probed := slices.ContainsFunc(d.nets, func(n *net) bool {
		return n.probe && slices.ContainsFunc(n.ends, func(e end) bool { return e.row == r })
	})
	dir := -1.0
	anchor := draw.End
	if r.channel == right {
		dir, anchor = 1, draw.Start
	}
	if r.net == nil && probed {
		fx := x + dir*(d.pillWide[r.channel]/2+3.2)
		g.Add(draw.Polyline(x, r.y, fx, r.y).Stroke(draw.Ink, wire), ring(fx, r.y))
	}
	stroke, width := draw.Ink, 0.4
	if slices.Contains(o.Marked, full) || fault != "" {
		stroke, width = draw.Accent, 1.1
	}
	dash := []float64(nil)
	if r.net == nil {
		dash = []float64{1, 0.8} // an open pin
	}
	pill := draw.Rect(x-w/2, r.y-pillHigh/2, w, pillHigh, pillHigh/2).Both(draw.Paper, stroke, width)
	pill.Dash = dash
	g.Add(pill)
	g.Add(text(x, r.y+draw.CapHeight*pinSize/2, r.text, draw.Bold, pinSize, draw.Middle, draw.Ink))
	if joined {
		role := draw.Ink
		if slices.Contains(o.Marked, full) {
			role = draw.Accent
		}
		g.Add(text(x+dir*(d.pillWide[r.channel]/2+1.4), r.y-1.2, r.net.label(), draw.Mono, nameSize, anchor, role))
	}
	reach := d.pillWide[r.channel] + 6
	high := min(d.apart, d.pitch)
	g.Add(&draw.Path{Segs: draw.Rect(x-reach/2, r.y-high/2, reach, high, 0).Fill(draw.None).Segs, Hit: true})
	return g
}

func (d *sheet) drawPart(p *part) *draw.Group {
	col := right
	if slices.Contains(d.parts[left], p) {
		col = left
	}
	x := d.partX[col]
	g := &draw.Group{ID: p.id, Class: p.kind, Title: p.title}
	if p.rect != nil {
		dir := 1.0
		if col == left {
			dir = -1
		}
		g.Add(p.rect.draw(&d.o.Options, x, p.ys[0], dir)...)
		return g
	}
	y0, y1 := p.ys[0], p.ys[len(p.ys)-1]
	if p.gap {
		g.Add(ring(x, y0), ring(x, y1))
	} else if len(p.ys) == 1 {
		g.Add(p.draw(x, y0, y0+d.pitch)...)
	} else {
		g.Add(p.draw(x, y0, y1)...)
	}
	tx, anchor := x+6, draw.Start
	if col == left {
		tx, anchor = x-6, draw.End
	}
	mid := (y0 + y1) / 2
	for i, l := range p.lines {
		y := mid + draw.CapHeight*smallSize/2 + lineStep*(float64(i)-float64(len(p.lines)-1)/2)
		g.Add(text(tx, y, l.text, l.face, smallSize, anchor, l.role))
	}
	return g
}
