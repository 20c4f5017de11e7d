package figure

import (
	"math"
	"slices"
)

// lane is a net's wire up and down one channel.
type lane struct {
	n      *net
	lo, hi float64 // [mm]
	stubs  []stub
	col    int
	fixed  bool
	drop   bool // a further wire of the first plug, down to the net's track
}

// stub is a wire that leaves the lane at a height, to the left (-1) or right (1).
type stub struct {
	y   float64
	dir int
}

// placeLanes gives each net its lane in each channel: no two wires on top of
// each other, few crossings, little width.
func (d *sheet) placeLanes() {
	for ch := left; ch <= right; ch++ {
		var lanes []*lane
		for _, n := range d.nets {
			if l := d.laneOf(n, ch); l != nil {
				lanes = append(lanes, l)
			}
			if ch == left {
				lanes = append(lanes, d.drops(n)...)
			}
		}
		columns := 0
		if ch == left && len(d.feeds) > 0 {
			columns = 3
			if d.feeds[0].earth {
				columns = 5
			}
		}
		columns = arrangeLanes(lanes, columns)
		for _, l := range lanes {
			if l.drop {
				continue
			}
			l.n.column[ch] = l.col
			l.n.span[ch] = [2]float64{l.lo, l.hi}
		}
		d.columns[ch] = columns
	}
}

// laneOf returns the lane a net needs in a channel, or nil where a straight
// wire or none will do.
func (d *sheet) laneOf(n *net, ch int) *lane {
	l := &lane{n: n, lo: math.Inf(1), hi: math.Inf(-1), col: -1}
	at := func(y float64) { l.lo, l.hi = min(l.lo, y), max(l.hi, y) }
	inward := 1 // from the lane to the units
	if ch == right {
		inward = -1
	}
	has := false
	for _, e := range n.ends {
		if e.channel != ch {
			continue
		}
		has = true
		at(e.y)
		dir := inward
		if !e.inner {
			dir = -inward
		}
		l.stubs = append(l.stubs, stub{e.y, dir})
	}
	for _, t := range n.tops {
		if t.pinned && ch == left {
			at(plugLow)
			at(d.bandLow)
			has = true
			l.col, l.fixed = d.pinnedColumn(t), true
		}
	}
	if n.gap >= 0 && has {
		at(n.track)
		l.stubs = append(l.stubs, stub{n.track, inward})
	}
	if !has || l.lo == l.hi && !l.fixed {
		return nil
	}
	return l
}

// drops returns the wires of the first plug that a net has beside its lane.
func (d *sheet) drops(n *net) (ls []*lane) {
	for _, t := range n.tops {
		if t.feed == d.feeds[0] && !t.pinned {
			ls = append(ls, &lane{n: n, lo: plugLow, hi: n.track, col: d.pinnedColumn(t), fixed: true, drop: true,
				stubs: []stub{{n.track, 1}}})
		}
	}
	return ls
}

// pinnedColumn is the lane right below a wire of the first plug.
func (d *sheet) pinnedColumn(t top) int {
	c := map[conductor]int{earth: 0, neutral: 2, live: 4}[t.cond]
	if !t.feed.earth {
		c -= 2
	}
	return c
}

// arrangeLanes chooses the columns by moving one lane at a time, then swapping
// two, as long as it gets better. It returns the number of columns, at least
// min. The search is small (a score of lanes) and always ends: the cost falls
// with each move.
func arrangeLanes(lanes []*lane, min int) int {
	most := min + len(lanes) + 1
	placed := func() []*lane {
		var p []*lane
		for _, l := range lanes {
			if l.col >= 0 {
				p = append(p, l)
			}
		}
		return p
	}
	for _, l := range lanes {
		if l.fixed {
			continue
		}
		best, at := math.Inf(1), 0
		others := placed()
		for c := range most {
			l.col = c
			if v := costOf(l, others, min); v < best {
				best, at = v, c
			}
		}
		l.col = at
	}
	// A move changes only what the moved lane has to do with the others.
	for better := true; better; {
		better = false
		for i, l := range lanes {
			if l.fixed {
				continue
			}
			cost := costOf(l, lanes, min)
			for c := range most {
				old := l.col
				if c == old {
					continue
				}
				l.col = c
				if v := costOf(l, lanes, min); v < cost-1e-9 {
					cost, better = v, true
				} else {
					l.col = old
				}
			}
			for _, m := range lanes[:i] {
				if m.fixed || m.col == l.col {
					continue
				}
				was := costOf(l, lanes, min) + costBeside(m, l, lanes, min)
				l.col, m.col = m.col, l.col
				if costOf(l, lanes, min)+costBeside(m, l, lanes, min) < was-1e-9 {
					better = true
				} else {
					l.col, m.col = m.col, l.col
				}
			}
		}
	}
	n := min
	for _, l := range lanes {
		n = max(n, l.col+1)
	}
	return n
}

// costOf weighs one lane against others: crossings, and a little for width.
func costOf(l *lane, others []*lane, min int) float64 { return costBeside(l, nil, others, min) }

// costBeside is costOf with one of the others left out.
func costBeside(l, without *lane, others []*lane, min int) float64 {
	c := 0.3 * float64(max(0, l.col+1-min))
	for _, m := range others {
		if m == l || m == without {
			continue
		}
		if m.col == l.col && l.lo < m.hi+2.5 && m.lo < l.hi+2.5 {
			c += 1e6
		}
		c += crossings(l, m) + crossings(m, l)
	}
	return c
}

// crossings counts the stubs of m that cross the lane l.
func crossings(l, m *lane) float64 {
	n := 0.0
	for _, s := range m.stubs {
		if s.y > l.lo-0.5 && s.y < l.hi+0.5 && (s.dir > 0) == (m.col < l.col) && m.col != l.col {
			n++
		}
	}
	return n
}

// piece is one straight part of a net [mm].
type piece struct{ x0, y0, x1, y1 float64 }

// junctions returns the points where more than two ways of a net meet.
func junctions(ps []piece) [][2]float64 {
	const near = 1e-6
	var pts [][2]float64
	for _, p := range ps {
		for _, q := range [][2]float64{{p.x0, p.y0}, {p.x1, p.y1}} {
			ways := 0
			for _, r := range ps {
				x0, x1 := min(r.x0, r.x1), max(r.x0, r.x1)
				y0, y1 := min(r.y0, r.y1), max(r.y0, r.y1)
				if q[0] < x0-near || q[0] > x1+near || q[1] < y0-near || q[1] > y1+near {
					continue
				}
				ends := 0
				for _, e := range [][2]float64{{r.x0, r.y0}, {r.x1, r.y1}} {
					if math.Abs(e[0]-q[0]) < near && math.Abs(e[1]-q[1]) < near {
						ends++
					}
				}
				ways += 2 - ends
			}
			if ways > 2 && !slices.ContainsFunc(pts, func(o [2]float64) bool { return math.Hypot(o[0]-q[0], o[1]-q[1]) < near }) {
				pts = append(pts, q)
			}
		}
	}
	return pts
}
