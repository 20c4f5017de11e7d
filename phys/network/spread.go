package network

import (
	"math"
	"math/cmplx"
)

// Spread is a solution's uncertainty: for every independent source of error,
// how far one standard uncertainty of it moves every unknown. Sources are
// each fact's own error, each meter range's shared gain, and each plug's
// volts.
type Spread struct {
	sol     *Solution
	x       []float64   // the solution's unknowns
	moves   [][]float64 // per source: δx of one standard uncertainty
	Sources []string    // names, in the order of moves
}

// Spread finds the deviations by one back-substitution per source: the
// equations' imbalance under a moved fact, times the inverse of the
// derivative at the solution (JCGM 100:2008, 5.1).
func (s *Solution) Spread() *Spread {
	n := s.net
	w := &n.ws
	sp := &Spread{sol: s, x: append([]float64(nil), w.x...)}
	m := 2 * n.n
	gains := map[string][]float64{}
	var order []string
	base := make([][]float64, len(n.units))
	for k, u := range n.units {
		base[k] = u.values()
	}
	moved := make([]coefficients, len(n.units))
	scratch := make([]float64, m*m)
	plus, minus := make([]float64, m), make([]float64, m)
	// imbalance returns d(equations) for unit k's params at p, centred.
	imbalance := func(k int, p []float64, out []float64) {
		for i, u := range n.units {
			moved[i] = u.c
		}
		var c coefficients
		n.units[k].coefficients(p, &c)
		moved[k] = c
		clear(scratch)
		n.stamp(scratch, moved)
		n.times(scratch, sp.x, out)
		for i := range out {
			out[i] *= w.scale[i]
		}
		n.curves(moved, sp.x, out)
	}
	moveOf := func(q *param, by float64) []float64 {
		// by is one standard uncertainty, absolute or in ln.
		p := append([]float64(nil), base[q.unit]...)
		v := p[q.at]
		up, down := v+by, v-by
		if q.Log {
			up, down = v*math.Exp(by), v*math.Exp(-by)
		}
		// A small centred step, scaled up: the derivative at the solution.
		const h = 1e-3
		if q.Log {
			up, down = v*math.Exp(by*h), v*math.Exp(-by*h)
		} else {
			up, down = v+by*h, v-by*h
		}
		p[q.at] = up
		imbalance(q.unit, p, plus)
		p[q.at] = down
		imbalance(q.unit, p, minus)
		d := make([]float64, m)
		for i := range d {
			d[i] = -(plus[i] - minus[i]) / (2 * h)
		}
		n.back(d)
		return d
	}
	for i := range n.params {
		q := n.params[i]
		if q.unit < 0 {
			f := &n.feeds[q.at]
			z := cmplx.Rect(q.U*s.volts[q.at]/f.Volts.V, f.Degrees*math.Pi/180)
			d := make([]float64, m)
			d[2*f.row], d[2*f.row+1] = real(z)*w.scale[2*f.row], imag(z)*w.scale[2*f.row+1]
			n.back(d)
			sp.moves, sp.Sources = append(sp.moves, d), append(sp.Sources, q.Name)
			continue
		}
		u := q.U
		if q.at == 3*len(n.units[q.unit].Windings)+pModelQ {
			u = n.units[q.unit].modelU(s.fluxes(q.unit))
		}
		if u > 0 {
			sp.moves, sp.Sources = append(sp.moves, moveOf(&q, u)), append(sp.Sources, q.Name)
		}
		if q.Gain > 0 {
			d := moveOf(&q, q.Gain*q.Value)
			if g, ok := gains[q.Group]; ok {
				for i := range g {
					g[i] += d[i]
				}
			} else {
				gains[q.Group] = d
				order = append(order, q.Group)
			}
		}
	}
	for _, g := range order {
		sp.moves, sp.Sources = append(sp.moves, gains[g]), append(sp.Sources, g+" gain")
	}
	return sp
}

// fluxes returns unit k's flux relative to its first excitation and to its
// label (the first again where there is no label).
func (s *Solution) fluxes(k int) (x, y float64) {
	u := s.net.units[k]
	x = cmplx.Abs(zAt(s.net.ws.x, u.rowE)) * u.Hertz * 2 * math.Pi / s.net.omega
	y = x
	if u.eRated > 0 {
		y = x / u.eRated * u.Rated.Hertz / u.Hertz
	}
	return x, y
}

// A Probe is a linear combination of unknowns: a voltage difference or a
// current, complex.
type Probe struct {
	plus, minus int // unknowns, -1 for none
}

// Value is the probe at the solution.
func (s *Solution) Value(p Probe) complex128 {
	return zAt(s.net.ws.x, p.plus) - zAt(s.net.ws.x, p.minus)
}

// Moves are the probe's deviations, one a source.
func (sp *Spread) Moves(p Probe) []complex128 {
	d := make([]complex128, len(sp.moves))
	for i, m := range sp.moves {
		d[i] = zAt(m, p.plus) - zAt(m, p.minus)
	}
	return d
}

// Volts probes the voltage between two nodes by joint or pin name; "" is
// neutral. ok is false when the network does not hold a name.
func (n *Net) Volts(from, to string) (p Probe, ok bool) {
	p.plus, p.minus = -1, -1
	for i, name := range [2]string{from, to} {
		if name == "" {
			continue
		}
		node, ok := n.byName[name]
		if !ok {
			return p, false
		}
		if i == 0 {
			p.plus = n.at(node)
		} else {
			p.minus = n.at(node)
		}
	}
	return p, true
}

// FeedAmps probes the current of plug i; ok is false when it is out.
func (n *Net) FeedAmps(i int) (p Probe, ok bool) {
	return Probe{n.feeds[i].row, -1}, n.feeds[i].row >= 0
}

// WindingAmps probes the current of winding w of the k-th unit.
func (n *Net) WindingAmps(k, w int) Probe { return Probe{n.units[k].rowI + w, -1} }

// Induced probes E of the k-th unit.
func (n *Net) Induced(k int) Probe { return Probe{n.units[k].rowE, -1} }

// LoadAmps probes the current of output i's load; ok is false when it is open.
func (n *Net) LoadAmps(i int) (p Probe, ok bool) { return n.lumpAmps(isLoad, i) }

// FuseAmps probes the current of the i-th fuse between joints.
func (n *Net) FuseAmps(i int) (p Probe, ok bool) { return n.lumpAmps(isFuse, i) }

// AddedAmps probes the current of the i-th added branch (one of under 10 kΩ).
func (n *Net) AddedAmps(i int) (p Probe, ok bool) { return n.lumpAmps(isAdded, i) }

func (n *Net) lumpAmps(k lumpKind, i int) (p Probe, ok bool) {
	for j := range n.lumps {
		if l := &n.lumps[j]; l.kind == k && l.index == i && l.row >= 0 {
			return Probe{l.row, -1}, true
		}
	}
	return Probe{-1, -1}, false
}

// WindingVolts probes the voltage across winding w of the k-th unit.
func (n *Net) WindingVolts(k, w int) Probe {
	u := n.units[k]
	return Probe{n.at(u.pins[w][0]), n.at(u.pins[w][1])}
}

// UnitFacts returns the facts of the k-th unit.
func (n *Net) UnitFacts(k int) *Unit { return n.units[k].Unit }
