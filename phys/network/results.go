package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// Flux is the k-th unit's flux over that at its label's volts and hertz with
// no load (N10), and over its first excitation reading where there is no label.
func (s *Solution) Flux(k int) float64 { _, y := s.fluxes(k); return y }

// CopperWatts is the heat in winding w of the k-th unit [W].
func (s *Solution) CopperWatts(k, w int) float64 {
	n := s.net
	u := n.units[k]
	i := cmplx.Abs(s.Value(n.WindingAmps(k, w)))
	p := u.c.r[w] * n.copper * (1 - u.shortedPart(w)) * i * i
	for _, sh := range u.shorts {
		if sh.w == w {
			j := cmplx.Abs(zAt(n.ws.x, sh.row))
			p += u.c.r[w] * n.copper * sh.part * j * j
		}
	}
	return p
}

// CoreWatts is the heat in the k-th unit's iron [W].
func (s *Solution) CoreWatts(k int) float64 {
	e := cmplx.Abs(s.Value(s.net.Induced(k)))
	return s.net.units[k].c.g * e * e
}

// FeedPower is what plug i delivers behind its lamp and source resistance's
// far end, the socket: watts, and its volts there [V], amps [A].
func (s *Solution) FeedPower(i int) (watts, volts, amps float64) {
	f := &s.net.feeds[i]
	if f.row < 0 {
		return 0, 0, 0
	}
	current := zAt(s.net.ws.x, f.row)
	source := cmplx.Rect(s.volts[i], f.Degrees*math.Pi/180)
	return real(source * cmplx.Conj(current)), cmplx.Abs(zAt(s.net.ws.x, s.net.at(f.live))), cmplx.Abs(current)
}

// Imbalance is the power that the plugs deliver less all heat and all load,
// over what they deliver [1]: zero but for rounding.
func (s *Solution) Imbalance() float64 {
	n := s.net
	in, out := 0.0, 0.0
	for i := range n.feeds {
		f := &n.feeds[i]
		if f.row < 0 {
			continue
		}
		w, _, a := s.FeedPower(i)
		in += w
		out += a * a * f.ohms
		if f.lamp != nil {
			out += a * f.lamp.VoltsAtAmps(a)
		}
	}
	for k, u := range n.units {
		for w := range u.Windings {
			out += s.CopperWatts(k, w)
		}
		out += s.CoreWatts(k)
	}
	for i := range n.lumps {
		l := &n.lumps[i]
		v := zAt(n.ws.x, n.at(l.from)) - zAt(n.ws.x, n.at(l.to))
		j := v / l.z
		if l.row >= 0 {
			j = zAt(n.ws.x, l.row)
		}
		out += real(v * cmplx.Conj(j))
	}
	if in == 0 {
		return out
	}
	return (in - out) / in
}

// Resistance is the direct-current resistance between two points with every
// plug out, what an ohmmeter would show less its leads [Ω], +Inf where
// nothing joins them, and its standard uncertainty [Ω]. ok is false when the
// network does not hold a point.
func (n *Net) Resistance(from, to string) (ohms, u float64, ok bool) {
	a, ok1 := n.byName[from]
	b, ok2 := n.byName[to]
	if !ok1 || !ok2 {
		return 0, 0, false
	}
	type edge struct {
		p, q int
		r    float64
		u    float64 // own, absolute
		g    float64 // shared gain, absolute
	}
	var edges []edge
	for _, un := range n.units {
		for w := range un.Windings {
			p := un.Params[3*w+1]
			left := 1 - un.shortedPart(w)
			edges = append(edges, edge{un.pins[w][0], un.pins[w][1], un.c.r[w] * n.copper * left, p.U * n.copper * left, p.Gain * p.Value * n.copper * left})
		}
	}
	for i := range n.lumps {
		l := &n.lumps[i]
		if l.amps == 0 && l.kind != isMeter && real(l.z) > 0 && real(l.z) < 1e5 {
			edges = append(edges, edge{l.from, l.to, real(l.z), 0, 0})
		}
	}
	if a == b {
		return 0, 0, true
	}
	// Only the part that holds a and b matters; its nodes are numbered with b as ground.
	id := map[int]int{b: -1}
	for grown := true; grown; {
		grown = false
		for _, e := range edges {
			_, in1 := id[e.p]
			_, in2 := id[e.q]
			if in1 != in2 {
				if in1 {
					id[e.q] = len(id) - 1
				} else {
					id[e.p] = len(id) - 1
				}
				grown = true
			}
		}
	}
	ia, reached := id[a]
	if !reached {
		return math.Inf(1), 0, true
	}
	m := len(id) - 1
	g := mat.NewSymDense(m, nil)
	for _, e := range edges {
		i, in := id[e.p]
		j := id[e.q]
		if !in || i == j {
			continue
		}
		y := 1 / e.r
		if i >= 0 {
			g.SetSym(i, i, g.At(i, i)+y)
		}
		if j >= 0 {
			g.SetSym(j, j, g.At(j, j)+y)
		}
		if i >= 0 && j >= 0 {
			g.SetSym(i, j, g.At(i, j)-y)
		}
	}
	rhs := mat.NewVecDense(m, nil)
	rhs.SetVec(ia, 1)
	var v mat.VecDense
	var ch mat.Cholesky
	if !ch.Factorize(g) {
		return math.NaN(), 0, false
	}
	if err := ch.SolveVecTo(&v, rhs); err != nil {
		return math.NaN(), 0, false
	}
	at := func(node int) float64 {
		if i := id[node]; i >= 0 {
			return v.AtVec(i)
		}
		return 0
	}
	// dR/dr of one branch is the square of the share of the current in it.
	own, shared := 0.0, 0.0
	for _, e := range edges {
		if _, in := id[e.p]; !in {
			continue
		}
		i := (at(e.p) - at(e.q)) / e.r
		own += math.Pow(i*i*e.u, 2)
		shared += i * i * e.g
	}
	return v.AtVec(ia), math.Hypot(math.Sqrt(own), shared), true
}
