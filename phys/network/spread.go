package network

import (
	"math"
	"math/cmplx"
	"strconv"
	"strings"
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
	wide    []bool      // per source: known to a factor only
	rated   [][]float64 // per unit and source: the relative move of E at the label
}

// Spread finds the deviations by one back-substitution per source: the
// equations' imbalance under a moved fact, times the inverse of the
// derivative at the solution (JCGM 100:2008, 5.1).
func (s *Solution) Spread() *Spread {
	n := s.net
	w := &n.ws
	sp := &Spread{sol: s, x: append([]float64(nil), w.x...)}
	m := 2 * n.n
	type shared struct {
		move  []float64
		rated []float64 // per unit
	}
	gains := map[string]*shared{}
	var order []string
	sp.rated = make([][]float64, len(n.units))
	record := func(move []float64, name string, wide bool, rated []float64) {
		sp.moves, sp.Sources = append(sp.moves, move), append(sp.Sources, name)
		sp.wide = append(sp.wide, wide)
		for k := range n.units {
			sp.rated[k] = append(sp.rated[k], rated[k])
		}
	}
	base := make([][]float64, len(n.units))
	for k, u := range n.units {
		base[k] = u.values()
	}
	var c coefficients
	plus := make([]float64, m)
	// imbalance is the unit's part of the equations at params p.
	imbalance := func(k int, p []float64, out []float64) {
		u := n.units[k]
		u.coefficients(p, &c)
		clear(out)
		n.stampUnit(&sink{x: sp.x, out: out}, k, &c)
		for i := range out {
			out[i] *= w.scale[i]
		}
		if !n.opt.Linear {
			n.curve(&term{u.rowE, u.rowE, -1, magnetisation, k}, &c, sp.x, out)
		}
	}
	// A small centred step, scaled up: the derivative at the solution.
	const h = 1e-3
	// moveOf returns the equations' imbalance, and the move of the label's E of
	// each unit, under by: one standard uncertainty, absolute or in ln.
	moveOf := func(q *param, by float64) (d, rated []float64) {
		p := append([]float64(nil), base[q.unit]...)
		v := p[q.at]
		ends := [2]float64{v + by*h, v - by*h}
		if q.Log {
			ends = [2]float64{v * math.Exp(by*h), v * math.Exp(-by*h)}
		}
		u := n.units[q.unit]
		var e [2]float64
		d = make([]float64, m)
		for i, sign := range []float64{-1, 1} {
			p[q.at] = ends[i]
			imbalance(q.unit, p, plus)
			for j := range d {
				d[j] += sign * plus[j] / (2 * h)
			}
			if u.Rated.Volts > 0 {
				e[i] = u.ratedE(&c)
			}
		}
		rated = make([]float64, len(n.units))
		if e[0] > 0 && e[1] > 0 {
			rated[q.unit] = math.Log(e[0]/e[1]) / (2 * h)
		}
		return d, rated
	}
	for i := range n.params {
		q := n.params[i]
		if q.unit < 0 {
			f := &n.feeds[q.at]
			z := cmplx.Rect(q.U*s.volts[q.at]/f.Volts.V, f.Degrees*math.Pi/180)
			d := make([]float64, m)
			d[2*f.row], d[2*f.row+1] = real(z)*w.scale[2*f.row], imag(z)*w.scale[2*f.row+1]
			record(d, FeedSource(q.at), false, make([]float64, len(n.units)))
			continue
		}
		u := q.U
		if q.at == 3*len(n.units[q.unit].Windings)+pModelQ {
			u = n.units[q.unit].modelU(s.fluxes(q.unit))
		}
		if u > 0 {
			d, rated := moveOf(&q, u)
			record(d, q.Name, q.Log, rated)
		}
		if q.Gain > 0 {
			d, rated := moveOf(&q, q.Gain*q.Value)
			g, ok := gains[q.Group]
			if !ok {
				gains[q.Group] = &shared{d, rated}
				order = append(order, q.Group)
				continue
			}
			for i := range d {
				g.move[i] += d[i]
			}
			for k := range rated {
				g.rated[k] += rated[k]
			}
		}
	}
	for _, g := range order {
		record(gains[g].move, g+" gain", false, gains[g].rated)
	}
	n.backAll(sp.moves)
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

// Capacitive reports whether source i is one of the capacitances.
func (sp *Spread) Capacitive(i int) bool {
	return strings.HasSuffix(sp.Sources[i], " to core") || strings.HasSuffix(sp.Sources[i], " to winding") || strings.HasSuffix(sp.Sources[i], " to neutral")
}

// Wide reports whether source i is a fact known only to a factor, other than a
// capacitance: an estimate, or the magnetisation's prior.
func (sp *Spread) Wide(i int) bool { return sp.wide[i] && !sp.Capacitive(i) }

// FeedSource is the name of the source of error that plug i's volts are.
func FeedSource(i int) string { return "feed volts " + strconv.Itoa(i+1) }

// FluxMoves are the relative moves of the k-th unit's flux, one a source. The
// flux is a ratio of induced volts to those at the label, so a fact that moves
// both moves it little: a ratio of turns does not enter at all.
func (sp *Spread) FluxMoves(k int) []float64 {
	n := sp.sol.net
	u := n.units[k]
	e := zAt(sp.x, u.rowE)
	m := make([]float64, len(sp.moves))
	if e == 0 {
		return m
	}
	for i, d := range sp.moves {
		de := zAt(d, u.rowE)
		m[i] = (real(e)*real(de) + imag(e)*imag(de)) / (real(e)*real(e) + imag(e)*imag(e))
		m[i] -= sp.rated[k][i]
	}
	return m
}

// Difference probes the first unknown of a less that of b.
func Difference(a, b Probe) Probe { return Probe{a.plus, b.plus} }
