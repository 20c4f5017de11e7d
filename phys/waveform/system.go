package waveform

import (
	"math"

	"gonum.org/v1/gonum/blas"
	lp "gonum.org/v1/gonum/lapack/gonum"

	"yokemate"
)

// System is a circuit as equations (V1) to (V5), reduced for every step
// length to what has a memory (the states) and what is curved (the ports).
// It owns its workspace: one goroutine at a time may run it.
type System struct {
	c     *Circuit
	omega float64 // [rad/s]
	ahead float64 // of the feeds at time 0 [rad]

	// Unknowns, in this order: node volts, winding currents, core volts,
	// core fluxes, feed currents, branch currents, filaments.
	n                                  int
	rowW, rowE, rowF, rowS, rowB, rowR int
	g                                  []float64 // n × n

	stores []store // one a state
	ports  []port
	cores  []coreLaw
	lamps  []int // the first of each lamp's two ports
	nu     int   // inputs: one a feed

	nx, m int
	cold  map[int]*level // by step length in ticks; 0 is the shortest, which only looks
	wire  []float64      // ohms factor of each winding, for copper temperature [1]

	wk work
}

// store is one storage: weight · d(y[plus] − y[minus])/dt enters the rows
// plus (+) and minus (−).
type store struct {
	plus, minus int // unknowns; minus −1 for none
	weight      float64
	// Henries or farads [H, F]; 0 for a flux or a filament, whose energy is counted apart.
	energy float64
}

type portKind int

const (
	saturating portKind = iota
	rectifying
	sinking
	filamentDrop // volts of a lamp over its current
	filamentHeat // of the same lamp; always the next port
)

// port is a curved relation: f(z) enters row plus with a minus sign and row
// minus with a plus sign; z = y[zPlus] − y[zMinus].
type port struct {
	kind          portKind
	of            int
	plus, minus   int
	zPlus, zMinus int
	slope         float64 // taken out of the curve and put into the linear part
	diode         diodeLaw
	sat           satLaw
}

// satLaw is the curved part of the magnetising current, √2 Q s φⁿ/(1 + κ).
type satLaw struct{ scale, n float64 }

// coreLaw is the energy in a core's field, equation (V12): scale (φ²/2 + s φⁿ⁺¹/(n + 1)).
type coreLaw struct{ scale, s, n float64 }

func (c *coreLaw) energy(phi float64) float64 {
	phi = math.Abs(phi)
	e := phi * phi / 2
	if c.s > 0 {
		e += c.s * math.Pow(phi, c.n+1) / (c.n + 1)
	}
	return c.scale * e
}

// slope is its derivative.
func (c *coreLaw) slope(phi float64) float64 {
	if c.s == 0 {
		return c.scale * phi
	}
	return c.scale * phi * (1 + c.s*math.Pow(math.Abs(phi), c.n-1))
}

// level is the reduced equations at one step length h, equation (V10):
// with c the columns states, inputs, ports,
//
//	X = x · [ξ; u; f],  z = z · [ξ; u; f],  Y = y · [ξ; u; f].
type level struct {
	hg      float64   // hγ [s]
	x, z, y []float64 // nx × c, m × c, n × c
}

const gammaRK = 0.25

// Compile makes the equations of a circuit.
func Compile(c *Circuit) (*System, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	s := &System{c: c, omega: 2 * math.Pi * c.Hertz, nu: len(c.Feeds), cold: map[int]*level{}}
	k := c.Nodes
	next := func(n int) int { k += n; return k - n }
	s.rowW, s.rowE, s.rowF = next(len(c.Windings)), next(len(c.Cores)), next(len(c.Cores))
	s.rowS, s.rowB, s.rowR = next(len(c.Feeds)), next(len(c.Branches)), next(len(c.Feeds))
	s.n = k
	s.wire = make([]float64, len(c.Windings))
	for i := range s.wire {
		s.wire[i] = 1
	}
	s.list()
	s.nx, s.m = len(s.stores), len(s.ports)
	s.stamp()
	s.wk.alloc(s)
	if _, err := s.level(0); err != nil {
		return nil, err
	}
	return s, nil
}

// instant is the time constant below which an inductance is none: a millionth
// of what a diode takes to turn off [s].
const instant = 1e-10

// list finds the stores and ports.
func (s *System) list() {
	c := s.c
	for i, k := range c.Cores {
		s.stores = append(s.stores, store{s.rowF + i, -1, 1, 0})
		beta := saturationBeta(k.Exponent)
		s.cores = append(s.cores, coreLaw{2 * k.Magnetising / (2 * math.Pi * k.Hertz) / (1 + k.Kappa), k.Kappa / beta, k.Exponent})
		if k.Kappa > 0 {
			s.ports = append(s.ports, port{kind: saturating, of: i, plus: s.rowE + i, minus: -1, zPlus: s.rowF + i, zMinus: -1,
				sat: satLaw{math.Sqrt2 * k.Magnetising * k.Kappa / beta / (1 + k.Kappa), k.Exponent}})
		}
	}
	for i, w := range c.Windings {
		if w.Henries > instant*w.Ohms {
			s.stores = append(s.stores, store{s.rowW + i, -1, w.Henries, w.Henries})
		}
	}
	for i, b := range c.Branches {
		if b.Henries > instant*b.Ohms {
			s.stores = append(s.stores, store{s.rowB + i, -1, b.Henries, b.Henries})
		}
	}
	for _, k := range c.Capacitors {
		p, q, w := k.From, k.To, k.Farads
		if p == Ground {
			p, q = q, p
		}
		s.stores = append(s.stores, store{p, q, w, w})
	}
	for i, d := range c.Diodes {
		// A slope midway between blocked and conducting keeps a bridge's bus
		// tied to its winding in the linear part.
		law := d.Law.compile()
		s.ports = append(s.ports, port{kind: rectifying, of: i, plus: d.From, minus: d.To, zPlus: d.From, zMinus: d.To, diode: law, slope: math.Sqrt(law.leak * law.perOhm)})
	}
	for i, d := range c.Sinks {
		s.ports = append(s.ports, port{kind: sinking, of: i, plus: d.From, minus: d.To, zPlus: d.From, zMinus: d.To})
	}
	for i, f := range c.Feeds {
		if f.Lamp != nil {
			s.stores = append(s.stores, store{s.rowR + i, -1, 1, 0})
			s.ports = append(s.ports,
				port{kind: filamentDrop, of: i, plus: s.rowS + i, minus: -1, zPlus: s.rowS + i, zMinus: -1},
				port{kind: filamentHeat, of: i, plus: s.rowR + i, minus: -1, zPlus: s.rowR + i, zMinus: -1})
		}
	}
}

func saturationBeta(n float64) float64 {
	a, _ := math.Lgamma(n/2 + 1)
	b, _ := math.Lgamma(n/2 + 1.5)
	return 2 / math.Sqrt(math.Pi) * math.Exp(a-b)
}

// stamp writes the linear part G of (V1) to (V5).
func (s *System) stamp() {
	c, n := s.c, s.n
	s.g = make([]float64, n*n)
	add := func(r, col int, v float64) {
		if r >= 0 && col >= 0 {
			s.g[r*n+col] += v
		}
	}
	conductance := func(p, q int, y float64) {
		add(p, p, y)
		add(q, q, y)
		add(p, q, -y)
		add(q, p, -y)
	}
	parts := newParts(c.Nodes)
	for i, w := range c.Windings {
		r := s.rowW + i
		add(w.From, r, 1)
		add(w.To, r, -1)
		add(r, w.From, -1)
		add(r, w.To, 1)
		add(r, r, w.Ohms*s.wire[i])
		add(r, s.rowE+w.Core, w.Volts)
		add(s.rowE+w.Core, r, -w.Volts)
		parts.join(w.From, w.To)
	}
	for i, k := range c.Cores {
		e, f := s.rowE+i, s.rowF+i
		add(e, e, k.Loss)
		add(e, f, math.Sqrt2*k.Magnetising/(1+k.Kappa))
		add(f, e, -2*math.Pi*k.Hertz/math.Sqrt2) // φ' = ω₀ E/√2
	}
	for i, f := range c.Feeds {
		r := s.rowS + i
		add(r, f.Node, 1)
		add(r, r, f.Ohms)
		add(f.Node, r, -1)
		parts.join(f.Node, Ground)
		if f.Lamp == nil {
			add(s.rowR+i, s.rowR+i, 1) // no filament: r is 0
		}
	}
	for i, b := range c.Branches {
		r := s.rowB + i
		add(b.From, r, 1)
		add(b.To, r, -1)
		add(r, b.From, -1)
		add(r, b.To, 1)
		add(r, r, b.Ohms)
		parts.join(b.From, b.To)
	}
	for _, k := range c.Capacitors {
		parts.join(k.From, k.To)
	}
	for i := range s.ports {
		if p := &s.ports[i]; p.slope > 0 {
			conductance(p.plus, p.minus, p.slope)
		}
	}
	for _, d := range c.Diodes {
		parts.join(d.From, d.To)
	}
	for _, d := range c.Sinks {
		parts.join(d.From, d.To)
	}
	// A part that hangs free of neutral counts its volts from one of its own
	// nodes: a single tie carries no current, whatever its size.
	for _, p := range parts.floating() {
		add(p, p, 1)
	}
}

// parts finds which nodes hang together.
type parts []int

func newParts(n int) parts {
	p := make(parts, n+1) // node i is entry i+1, Ground entry 0
	for i := range p {
		p[i] = i
	}
	return p
}

func (p parts) root(i int) int {
	for p[i] != i {
		p[i] = p[p[i]]
		i = p[i]
	}
	return i
}

func (p parts) join(a, b int) {
	ra, rb := p.root(a+1), p.root(b+1)
	// The lower number leads, so that Ground's part is 0's.
	if ra < rb {
		p[rb] = ra
	} else {
		p[ra] = rb
	}
}

// floating lists one node of each part that does not hold Ground.
func (p parts) floating() []int {
	var list []int
	for i := 1; i < len(p); i++ {
		if p.root(i) == i {
			list = append(list, i-1)
		}
	}
	return list
}

var lapackImpl lp.Implementation

// shortest is the step that only looks, as a share of the period: (V10) with it
// gives every unknown from the states as they stand.
const shortest = 1e-7

// level returns the reduced equations at a step of so many ticks.
func (s *System) level(ticks int) (*level, error) {
	if l, ok := s.cold[ticks]; ok {
		return l, nil
	}
	h := float64(ticks) / ticksPerPeriod
	if ticks == 0 {
		h = shortest
	}
	hg := gammaRK * h / s.c.Hertz
	n, c := s.n, s.nx+s.nu+s.m
	k := append([]float64(nil), s.g...)
	b := make([]float64, n*c)
	for j, st := range s.stores {
		w := st.weight / hg
		k[st.plus*n+st.plus] += w
		b[st.plus*c+j] = w
		if st.minus >= 0 {
			k[st.minus*n+st.minus] += w
			k[st.plus*n+st.minus] -= w
			k[st.minus*n+st.plus] -= w
			b[st.minus*c+j] = -w
		}
	}
	for j := range s.nu {
		b[(s.rowS+j)*c+s.nx+j] = 1
	}
	for j, p := range s.ports {
		col := s.nx + s.nu + j
		if p.plus >= 0 {
			b[p.plus*c+col] = -1
		}
		if p.minus >= 0 {
			b[p.minus*c+col] = 1
		}
	}
	// Rows of very different units are scaled before pivoting.
	for r := range n {
		big := 0.0
		for _, v := range k[r*n : (r+1)*n] {
			big = math.Max(big, math.Abs(v))
		}
		if big == 0 {
			return nil, s.singular()
		}
		for i := range n {
			k[r*n+i] /= big
		}
		for i := range c {
			b[r*c+i] /= big
		}
	}
	piv := make([]int, n)
	if !lapackImpl.Dgetrf(n, n, k, n, piv) {
		return nil, s.singular()
	}
	lapackImpl.Dgetrs(blas.NoTrans, n, c, k, n, piv, b, c)
	l := &level{hg: hg, y: b, x: make([]float64, s.nx*c), z: make([]float64, s.m*c)}
	diff := func(dst []float64, plus, minus int) {
		if plus >= 0 {
			copy(dst, b[plus*c:(plus+1)*c])
		}
		if minus >= 0 {
			for i := range dst {
				dst[i] -= b[minus*c+i]
			}
		}
	}
	for j, st := range s.stores {
		diff(l.x[j*c:(j+1)*c], st.plus, st.minus)
	}
	for j, p := range s.ports {
		diff(l.z[j*c:(j+1)*c], p.zPlus, p.zMinus)
	}
	s.cold[ticks] = l
	return l, nil
}

func (s *System) singular() error {
	return yokemate.Errorf(yokemate.Impossible, "joints", "the wiring contradicts itself: no currents satisfy it").
		Mend("look for plugs joined with nothing between them, or give the feed its resistance under \"ohms\"")
}

// SetCopper gives every winding its copper factor over the circuit's own
// ohms, in the circuit's order.
func (s *System) SetCopper(factors []float64) error {
	copy(s.wire, factors)
	clear(s.cold)
	s.stamp()
	_, err := s.level(0)
	return err
}
