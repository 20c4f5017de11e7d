package figure

import (
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
)

// placeFeeds lays out the plugs' band from the top and returns its lower edge.
func (d *sheet) placeFeeds() float64 {
	low := margin
	o := &d.o
	for i, b := range d.feeds {
		f := b.f
		line := func(y float64, face draw.Face, r draw.Role, s string) {
			b.lines = append(b.lines, feedLine{y, s, face, r})
		}
		y := 8.2
		volts := o.value(f.Volts, "V") + dotted + o.Locale.Format(f.Hertz, "Hz", 2)
		line(y, draw.Bold, draw.Ink, volts)
		y += lineStep
		line(y, draw.Regular, draw.Soft, o.Locale.FormatInterval(f.At(yokemate.Low), f.At(yokemate.High), "V"))
		if f.Degrees != 0 {
			y += lineStep
			line(y, draw.Bold, draw.Ink, o.Locale.Format(f.Degrees, "°", 3))
		}
		if !d.h.Powered(i) {
			y += lineStep
			line(y, draw.Bold, draw.StopState, o.say("plug out"))
		}
		if words := o.atFeed(i + 1); words != "" {
			y += lineStep
			line(y, draw.Bold, draw.StopState, words)
		}
		if p := o.Prediction; p != nil && i < len(p.Feed) && d.h.Powered(i) {
			y += lineStep
			line(y, draw.Bold, draw.Value, o.Locale.Format(p.Feed[i].Amps, "A", 3)+dotted+o.Locale.Format(p.Feed[i].Watts, "W", 3))
		}
		b.y = map[string]float64{}
		y = max(y+1, 14)
		device := func(name string, high float64, words ...string) {
			b.y[name] = y
			for k, w := range words {
				line(y+high/2+1.2+lineStep*(float64(k)-float64(len(words)-1)/2), draw.Regular, draw.Ink, w)
			}
			y += high
		}
		if f.FuseAmps > 0 {
			device("fuse", 9, o.fuse(f.FuseKind, f.FuseAmps))
		}
		switch {
		case f.Lamp.Filament():
			device("lamp", 9, o.Locale.Format(f.Lamp.Watts, "W", 2)+dotted+o.Locale.Format(f.Lamp.Volts, "V", 3))
		case f.Lamp != nil:
			device("resistor", 10, o.Locale.Format(f.Lamp.Ohms, "Ω", 3))
		}
		if b.ammety {
			words := []string{}
			if o.Reading != "" {
				words = draw.Regular.Wrap(o.Reading, smallSize, 30)
			}
			device("meter", max(10, lineStep*float64(len(words))+1), words...)
		}
		low = max(low, y+2)
	}
	return low
}

// heading is the lines at the head of a unit.
func (d *sheet) heading(b *unitBox) []string {
	o := &d.o
	var facts []string
	if m := b.u.Mains; m != nil {
		facts = append(facts, o.Locale.Format(m.Volts, "V", 3)+dotted+o.Locale.Format(m.Hertz, "Hz", 2))
	}
	if b.u.VA.Known() {
		facts = append(facts, o.value(b.u.VA, "VA"))
	}
	lines := []string{strings.Join(facts, dotted)}
	if p := o.Prediction; p != nil {
		for _, s := range p.Units {
			if s.Tag == b.u.Tag {
				lines = append(lines, o.say("flux %s", o.Locale.Format(s.Flux, "", 3))+dotted+o.Locale.Format(s.Watts, "W", 3))
			}
		}
	}
	return lines
}

// windingLines is what stands beside a winding, from the top.
func (d *sheet) windingLines(b *unitBox, w *yokemate.Winding) []feedLine {
	o := &d.o
	face := func(f draw.Face, s string) string { return f.Short(f.Fit(s), smallSize, 18) }
	ls := []feedLine{{0, face(draw.Bold, w.ID), draw.Bold, draw.Ink}}
	if words := o.atWinding(b.u.Tag, w.ID); words != "" {
		ls = append(ls, feedLine{0, words, draw.Bold, draw.StopState})
		if o.Prediction == nil {
			return ls
		}
	}
	if p := o.Prediction; p != nil {
		for i := range p.Windings {
			if st := &p.Windings[i]; st.Unit == b.u.Tag && st.ID == w.ID {
				ls = append(ls, feedLine{0, o.Locale.Format(st.Volts, "V", 3), draw.Regular, draw.Value})
				a := feedLine{0, o.Locale.Format(st.Amps, "A", 3), draw.Regular, draw.Value}
				if st.LimitAmps != nil && st.Amps > *st.LimitAmps {
					a.text = o.say("%s over", a.text)
					a.face, a.role = draw.Bold, draw.StopState
				}
				return append(ls, a)
			}
		}
	}
	if w.Volts.Known() {
		ls = append(ls, feedLine{0, o.value(w.Volts, "V"), draw.Regular, draw.Ink})
	}
	if w.Amps.Known() {
		ls = append(ls, feedLine{0, o.value(w.Amps, "A"), draw.Regular, draw.Soft})
	}
	return ls
}

// label is the name of a net as it stands beside a pin, with the letter of a
// conductor where the name is another.
func (n *net) label() string {
	s := draw.Mono.Fit(n.name)
	if l := n.cond.letter(); l != "" && n.name != l {
		s = draw.Mono.Short(s, nameSize, nameMax-draw.Mono.Measure(" "+l, nameSize)) + " " + l
	}
	return draw.Mono.Short(s, nameSize, nameMax)
}

func widest(ls []feedLine, size float64) float64 {
	w := 0.0
	for _, l := range ls {
		w = max(w, l.face.Measure(l.text, size))
	}
	return w
}

// wide is the width of a pin's mark.
func (r *row) wide() float64 { return max(pillHigh, draw.Bold.Measure(r.text, pinSize)+2.6) }

func (d *sheet) pinText(pin string) string {
	if pin == yokemate.CorePin {
		pin = d.o.say("core")
	}
	return draw.Bold.Short(draw.Bold.Fit(pin), pinSize, 16)
}

// placeAcross gives everything its place from left to right.
func (d *sheet) placeAcross() {
	words := [2]float64{}
	head := 0.0
	for _, b := range d.units {
		for _, r := range b.rows {
			d.pillWide[r.channel] = max(d.pillWide[r.channel], r.wide())
			if r.net != nil {
				d.nameWide[r.channel] = max(d.nameWide[r.channel], draw.Mono.Measure(r.net.label(), nameSize)+2.5)
			} else {
				d.nameWide[r.channel] = max(d.nameWide[r.channel], 3.5)
			}
		}
		for _, sp := range b.spans {
			words[sp.channel] = max(words[sp.channel], widest(d.windingLines(b, sp.w), smallSize))
		}
		tag := draw.Bold.Measure(draw.Bold.Fit(b.u.Tag), pinSize) + 3
		for i, l := range b.head {
			w := draw.Regular.Measure(l, smallSize)
			if i == 0 {
				w += tag
			}
			head = max(head, w)
		}
	}
	x := margin
	if len(d.parts[left]) > 0 {
		w := 0.0
		for _, p := range d.parts[left] {
			w = max(w, p.room())
		}
		x += w
		d.partX[left] = x
		x += 8
	}
	if len(d.feeds) > 0 {
		x += 4
	}
	d.laneX[left] = x
	x += columnStep*float64(max(0, d.columns[left]-1)) + 2
	x += d.nameWide[left] + 1 + d.pillWide[left]/2
	d.pinX[left] = x
	const dots, bump, core = 4.0, 1.5, 3.2
	inner := d.pillWide[left]/2 + d.pillWide[right]/2 + 3 + words[left] + words[right] + 2*(dots+bump+core)
	if more := head + 8 + max(d.pillWide[left], d.pillWide[right]) - inner; more > 0 {
		words[left] += more / 2
		words[right] += more / 2
	}
	x += d.pillWide[left]/2 + 1.5 + words[left] + dots
	d.coilX[left] = x
	x += 2 * (bump + core)
	d.coilX[right] = x
	x += dots + words[right] + 1.5 + d.pillWide[right]/2
	d.pinX[right] = x
	x += d.pillWide[right]/2 + 1 + d.nameWide[right] + 2
	d.laneX[right] = x
	x += columnStep * float64(max(0, d.columns[right]-1))
	if len(d.parts[right]) > 0 {
		x += 7
		d.partX[right] = x
		w := 0.0
		for _, p := range d.parts[right] {
			w = max(w, p.room())
		}
		x += w
	}
	d.wide = x + margin
	d.placePlugs()
}

// placePlugs puts the first plug above its lanes and the others to its right.
func (d *sheet) placePlugs() {
	x := 0.0
	for i, b := range d.feeds {
		if i == 0 {
			for _, c := range []conductor{earth, neutral, live} {
				b.x[c] = d.laneX[left] + columnStep*float64(d.pinnedColumn(top{feed: b, cond: c}))
			}
		} else {
			x = max(x, d.pinX[left]) // clear of the lanes at the left
			for d.meetsLane(x) || d.meetsLane(x+2*columnStep) {
				x++
			}
			b.x[neutral], b.x[live] = x, x+2*columnStep
		}
		x = b.x[live] + 5 + widest(b.lines, smallSize) + 8
		d.wide = max(d.wide, x-8+margin)
	}
	for _, n := range d.nets {
		for k := range n.tops {
			t := &n.tops[k]
			t.x = t.feed.x[t.cond]
		}
	}
}

// meetsLane reports whether a wire down at x could lie on a lane at the right.
func (d *sheet) meetsLane(x float64) bool {
	return slices.ContainsFunc(d.nets, func(n *net) bool {
		lx := d.laneX[right] + columnStep*float64(n.column[right])
		return n.column[right] >= 0 && n.gap == 0 && x > lx-1.5 && x < lx+1.5
	})
}
