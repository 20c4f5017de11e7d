package network

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/lapack"
	lp "gonum.org/v1/gonum/lapack/gonum"

	"yokemate"
)

// Status says how a solve ended.
type Status int

const (
	NotSolved Status = iota
	Converged
	Stalled  // no step lowered the residual
	Singular // the equations contradict each other or leave something free
)

func (s Status) String() string {
	return [...]string{"not solved", "converged", "stalled", "singular"}[s]
}

// Report says how an answer was found.
type Report struct {
	Status     Status
	Iterations int
	Residual   float64 // largest scaled equation error over the largest feed voltage [1]
}

// workspace holds the real form of the equations: unknown i of the complex
// form is entries 2i (real) and 2i+1 (imaginary).
type workspace struct {
	base, jac []float64 // 2n × 2n, row major
	scale     []float64 // of each row
	rhs       []float64 // right-hand side of the linear part, already scaled
	x, f, dx  []float64
	try, fTry []float64
	piv       []int
	work      []float64
	iwork     []int
	warm      bool
	anorm     float64
}

func (w *workspace) alloc(n *Net) {
	m := 2 * n.n
	w.base, w.jac = make([]float64, m*m), make([]float64, m*m)
	for _, s := range []*[]float64{&w.scale, &w.rhs, &w.x, &w.f, &w.dx, &w.try, &w.fTry} {
		*s = make([]float64, m)
	}
	w.piv, w.work, w.iwork = make([]int, m), make([]float64, 4*m), make([]int, m)
}

// Feed volts of a solve, one a plug; nil means each plug's nominal volts.
type FeedVolts []float64

// VoltsAt returns every plug's volts at one end of its band.
func (n *Net) VoltsAt(l yokemate.MainsLevel) FeedVolts {
	v := make(FeedVolts, len(n.Hookup.Feed))
	for i := range v {
		v[i] = n.Hookup.Feed[i].At(l)
	}
	return v
}

// Solution is the network solved. It is good until the network is solved again.
type Solution struct {
	Report
	net   *Net
	volts FeedVolts
}

var lapackImpl lp.Implementation

const (
	maxIterations = 60
	tolerance     = 1e-11 // of the scaled residual, relative to the feed
	smallStep     = 1e-6  // of the last step, relative to the largest unknown
	deadVolts     = 1e-3  // below it a constant current is a resistance [V]
)

// Solve finds the steady state at the given feed volts. It starts from the
// last solution, so neighbouring questions are cheap. It allocates nothing
// when v is given.
func (n *Net) Solve(v FeedVolts) (*Solution, error) {
	if v == nil {
		v = n.VoltsAt(yokemate.Nominal)
	}
	w := &n.ws
	n.sol = Solution{net: n, volts: v}
	n.assemble()
	n.source(v)
	ref := 1.0
	for i := range n.feeds {
		if n.feeds[i].row >= 0 {
			ref = math.Max(ref, v[i])
		}
	}
	if !w.warm {
		n.start()
	}
	n.iterate(ref)
	if n.sol.Status != Converged && n.sol.Status != Singular {
		n.climb(v, ref)
	}
	switch n.sol.Status {
	case Converged:
	case Singular:
		w.warm = false
		return nil, n.contradiction()
	default:
		return nil, n.unsettled()
	}
	// The factor at the solution serves its sensitivities, and one more step
	// with it refines. Where that is no small one, a residual that looked small
	// was not, since floating parts have small currents by nature: go on.
	for left := 10; ; left-- {
		n.jacobian(w.x)
		if !n.factor() {
			n.sol.Status, w.warm = Singular, false
			return nil, n.contradiction()
		}
		copy(w.dx, w.f)
		n.back(w.dx)
		for i := range w.x {
			w.try[i] = w.x[i] - w.dx[i]
		}
		n.residual(w.try, w.fTry)
		small := maxAbs(w.dx) <= smallStep*math.Max(ref, maxAbs(w.x))
		if r := maxAbs(w.fTry) / ref; r <= n.sol.Residual || !small {
			w.x, w.try = w.try, w.x
			w.f, w.fTry = w.fTry, w.f
			n.sol.Residual = r
		}
		if small {
			break
		}
		if left == 0 {
			n.sol.Status = Stalled
			return nil, n.unsettled()
		}
		n.sol.Iterations++
	}
	w.warm = true
	return &n.sol, nil
}

// iterate is Newton's method from the workspace's x; it leaves its outcome in
// the solution's report and the residual in f.
func (n *Net) iterate(ref float64) {
	w := &n.ws
	n.sol.Status = NotSolved
	n.residual(w.x, w.f)
	norm := maxAbs(w.f)
	for it := 1; it <= maxIterations; it++ {
		n.sol.Iterations++
		n.jacobian(w.x)
		if !n.factor() {
			n.sol.Status = Singular
			return
		}
		copy(w.dx, w.f)
		n.back(w.dx)
		// Damped step: halve until the residual falls.
		t, best := 1.0, norm
		for {
			for i := range w.try {
				w.try[i] = w.x[i] - t*w.dx[i]
			}
			n.residual(w.try, w.fTry)
			best = maxAbs(w.fTry)
			if best < norm || best <= tolerance*ref || t < 1e-6 {
				break
			}
			t /= 2
		}
		if math.IsNaN(best) {
			n.sol.Status = Stalled
			break
		}
		w.x, w.try = w.try, w.x
		w.f, w.fTry = w.fTry, w.f
		done := best <= tolerance*ref && t == 1
		norm = best
		if len(n.terms) == 0 && it >= 2 || done {
			n.sol.Status = Converged
			break
		}
		if t < 1e-6 {
			n.sol.Status = Stalled
			break
		}
	}
	n.sol.Residual = norm / ref
	// Rounding sets a floor on the residual of badly scaled networks; a
	// stalled solve at that floor has converged.
	if n.sol.Status != Converged && n.sol.Residual < 1e-9 {
		n.sol.Status = Converged
	}
}

// climb is for networks on which Newton's method does not settle from a cold
// start: it raises the plugs' volts by steps, from where the iron is straight.
// A load of constant current on what turns out to be dead, or next to it, is a
// kink that a step from afar jumps over: it is wide at first and narrow at last.
func (n *Net) climb(v FeedVolts, ref float64) {
	const steps = 24
	n.start()
	n.dead = ref
	for k := 1; k <= steps; k++ {
		n.source(v)
		for i := range n.ws.rhs {
			n.ws.rhs[i] *= float64(k) / steps
		}
		n.iterate(ref)
	}
	for n.dead > deadVolts {
		n.dead = math.Max(n.dead/10, deadVolts)
		n.iterate(ref)
	}
	if n.sol.Status == Converged {
		return
	}
	// Iron that floats may resonate with its own capacitance. Lossy iron does
	// not: its loss goes down to what it is by steps.
	n.start()
	var own []float64
	for _, u := range n.units {
		own = append(own, u.c.g)
	}
	for lossy := 1e4; lossy > 1e-3; lossy /= 3 {
		for k, u := range n.units {
			u.c.g = own[k] * (1 + lossy)
		}
		n.assemble()
		n.source(v)
		n.iterate(ref)
	}
	for k, u := range n.units {
		u.c.g = own[k]
	}
	n.assemble()
	n.source(v)
	n.iterate(ref)
}

// unsettled explains a solve that found no answer.
func (n *Net) unsettled() error {
	n.ws.warm = false
	return yokemate.Errorf(yokemate.Internal, "", "the network did not settle: %v after %d steps, residual %.2g", n.sol.Status, n.sol.Iterations, n.sol.Residual).
		Mend("a constant-current load may ask for more than the hookup can give: try it in ohms")
}

func maxAbs(x []float64) float64 {
	m := 0.0
	for _, v := range x {
		if a := math.Abs(v); a > m || math.IsNaN(a) {
			m = a
		}
	}
	return m
}

// contradiction explains a singular network.
func (n *Net) contradiction() error {
	return yokemate.Errorf(yokemate.Impossible, "joints", "the wiring contradicts itself: no currents satisfy it").
		Mend("look for plugs joined with nothing between them, or give the feed its resistance under \"ohms\"")
}

// Restart forgets the last solution, so that the next solve starts cold.
func (n *Net) Restart() { n.ws.warm = false }

// add stamps a complex coefficient into the real matrix.
func add(m []float64, ld, row, col int, z complex128) {
	if row < 0 || col < 0 {
		return
	}
	r, c := 2*row, 2*col
	m[r*ld+c] += real(z)
	m[r*ld+c+1] -= imag(z)
	m[(r+1)*ld+c] += imag(z)
	m[(r+1)*ld+c+1] += real(z)
}

func (n *Net) at(node int) int {
	if node < 0 {
		return -1
	}
	return n.nodes[node].row
}

// assemble stamps the linear part of N1, N2, N4, N5 and N6 and scales each row by
// its largest coefficient.
func (n *Net) assemble() {
	w := &n.ws
	clear(w.base)
	n.stamp(w.base)
	m := 2 * n.n
	for r := range m {
		s := maxAbs(w.base[r*m : (r+1)*m])
		if s == 0 {
			s = 1
		}
		w.scale[r] = 1 / s
	}
	for r := range m {
		for c := range m {
			w.base[r*m+c] *= w.scale[r]
		}
	}
}

// sink takes the linear coefficients: into the real matrix m, or, where x is
// given, as the products with it into out.
type sink struct {
	m, x, out []float64
	ld        int
}

func (t *sink) put(row, col int, z complex128) {
	if row < 0 || col < 0 {
		return
	}
	if t.x == nil {
		add(t.m, t.ld, row, col, z)
		return
	}
	y := z * zAt(t.x, col)
	t.out[2*row] += real(y)
	t.out[2*row+1] += imag(y)
}

func (t *sink) admittance(a, b int, y complex128) {
	t.put(a, a, y)
	t.put(b, b, y)
	t.put(a, b, -y)
	t.put(b, a, -y)
}

// stampUnit writes the k-th unit's coefficients, c standing in for its own.
func (n *Net) stampUnit(t *sink, k int, c *coefficients) {
	u := n.units[k]
	jw := complex(0, n.omega)
	for i := range u.Windings {
		row := u.rowI + i
		p, q := n.at(u.pins[i][0]), n.at(u.pins[i][1])
		left := 1 - u.shortedPart(i)
		t.put(row, p, 1)
		t.put(row, q, -1)
		t.put(row, row, -(complex(c.r[i]*n.copper*left, 0) + jw*complex(c.l[i]*left*left, 0)))
		t.put(row, u.rowE, complex(-c.a[i]*left, 0))
		t.put(u.rowE, row, complex(c.a[i]*left, 0))
		t.put(p, row, 1)
		t.put(q, row, -1)
		for e := range 2 {
			t.admittance(n.at(u.pins[i][e]), n.at(u.core), jw*complex(c.cw/2, 0))
			for j := range i {
				if u.pins[i][e] != u.pins[j][e] {
					t.admittance(n.at(u.pins[i][e]), n.at(u.pins[j][e]), jw*complex(c.cp/2, 0))
				}
			}
		}
	}
	for _, sh := range u.shorts {
		// The shorted part: its own turns, resistance and leakage, closed on itself.
		t.put(sh.row, sh.row, -(complex(c.r[sh.w]*n.copper*sh.part, 0) + jw*complex(c.l[sh.w]*sh.part*sh.part, 0)))
		t.put(sh.row, u.rowE, complex(-c.a[sh.w]*sh.part, 0))
		t.put(u.rowE, sh.row, complex(c.a[sh.w]*sh.part, 0))
	}
	t.put(u.rowE, u.rowE, complex(-c.g, 0))
	if n.opt.Linear {
		t.put(u.rowE, u.rowE, complex(0, c.q*u.Hertz*2*math.Pi/n.omega))
	}
	if u.core >= 0 {
		t.put(n.at(u.core), n.at(u.core), jw*complex(c.cc, 0))
	}
}

// stamp writes all linear coefficients into the real matrix m.
func (n *Net) stamp(m []float64) {
	t := sink{m: m, ld: 2 * n.n}
	jw := complex(0, n.omega)
	for k, u := range n.units {
		n.stampUnit(&t, k, &u.c)
	}
	if len(n.opt.Parted) > 0 {
		// A joint that its only wire does not reach still has its lead's stray.
		for i := range n.nodes {
			t.put(n.at(i), n.at(i), jw*complex(strayFarads, 0))
		}
	}
	for i := range n.feeds {
		f := &n.feeds[i]
		if f.row < 0 {
			continue
		}
		t.put(f.row, n.at(f.live), 1)
		t.put(f.row, f.row, complex(f.ohms, 0))
		t.put(n.at(f.live), f.row, -1)
	}
	for i := range n.lumps {
		l := &n.lumps[i]
		if l.row < 0 {
			t.admittance(n.at(l.from), n.at(l.to), 1/l.z)
			continue
		}
		t.put(n.at(l.from), l.row, 1)
		t.put(n.at(l.to), l.row, -1)
		if l.amps > 0 {
			t.put(l.row, l.row, 1) // I − A e^{−jϑ} V/|V|: the second part is nonlinear
			continue
		}
		t.put(l.row, n.at(l.from), 1)
		t.put(l.row, n.at(l.to), -1)
		t.put(l.row, l.row, -l.z)
	}
}

func (u *unitPart) shortedPart(w int) float64 {
	s := 0.0
	for _, x := range u.shorts {
		if x.w == w {
			s += x.part
		}
	}
	return s
}

// source sets the right-hand side: the plugs' volts at their phase.
func (n *Net) source(v FeedVolts) {
	w := &n.ws
	clear(w.rhs)
	for i := range n.feeds {
		if f := &n.feeds[i]; f.row >= 0 {
			z := cmplx.Rect(v[i], f.Degrees*math.Pi/180)
			w.rhs[2*f.row] = real(z) * w.scale[2*f.row]
			w.rhs[2*f.row+1] = imag(z) * w.scale[2*f.row+1]
		}
	}
}

// start guesses: cores at the flux the feed would give, everything else by
// one linear solve.
func (n *Net) start() {
	w := &n.ws
	clear(w.x)
	for _, u := range n.units {
		w.x[2*u.rowE] = 1
	}
	for i := range n.feeds {
		if f := &n.feeds[i]; f.row >= 0 && f.lamp != nil {
			w.x[2*f.row] = f.lamp.Watts / f.lamp.Volts / 10
		}
	}
	for i := range n.lumps {
		if l := &n.lumps[i]; l.amps > 0 {
			w.x[2*l.row] = l.amps
		}
	}
}

// A term is one nonlinear term: equation row subtracts turn · m(|z|) z/|z|,
// with z the difference of unknowns a and b (b −1: a alone).
type term struct {
	row, a, b int
	kind      termKind
	of        int // index of the unit, plug or lump
}

type termKind int

const (
	magnetisation termKind = iota
	filament
	constantAmps
)

func (n *Net) listTerms() {
	if !n.opt.Linear {
		for k, u := range n.units {
			n.terms = append(n.terms, term{u.rowE, u.rowE, -1, magnetisation, k})
		}
	}
	for i := range n.feeds {
		if f := &n.feeds[i]; f.row >= 0 && f.lamp != nil {
			n.terms = append(n.terms, term{f.row, f.row, -1, filament, i})
		}
	}
	for i := range n.lumps {
		if l := &n.lumps[i]; l.amps > 0 {
			n.terms = append(n.terms, term{l.row, n.at(l.from), n.at(l.to), constantAmps, i})
		}
	}
}

// law evaluates a term's magnitude m at |z| = r, its derivative, and its
// turn; c, when not nil, stands in for the unit's own coefficients.
func (n *Net) law(t *term, c *coefficients, r float64) (m, dm float64, turn complex128) {
	switch t.kind {
	case magnetisation:
		u := n.units[t.of]
		if c == nil {
			c = &u.c
		}
		ratio := u.Hertz * 2 * math.Pi / n.omega
		g, dg := c.saturation(r * ratio)
		return g, dg * ratio, complex(0, -c.q)
	case filament:
		l := n.feeds[t.of].lamp
		v := l.VoltsAtAmps(r)
		return v, 1 / l.DAmps(v), -1
	default:
		// Below a millivolt the constant current gives way to a resistance,
		// so that a dead output has an answer.
		v0 := n.dead
		l := &n.lumps[t.of]
		if r >= v0 {
			return l.amps, 0, l.phase
		}
		return l.amps * r / v0, l.amps / v0, l.phase
	}
}

func zAt(x []float64, i int) complex128 {
	if i < 0 {
		return 0
	}
	return complex(x[2*i], x[2*i+1])
}

// residual evaluates the scaled equations at x.
func (n *Net) residual(x, f []float64) {
	w := &n.ws
	n.times(w.base, x, f)
	for i := range f {
		f[i] -= w.rhs[i]
	}
	for i := range n.terms {
		n.curve(&n.terms[i], nil, x, f)
	}
}

// curve subtracts a nonlinear term from f.
func (n *Net) curve(t *term, c *coefficients, x, f []float64) {
	z := zAt(x, t.a) - zAt(x, t.b)
	r := cmplx.Abs(z)
	if r == 0 {
		return
	}
	m, _, turn := n.law(t, c, r)
	y := turn * z * complex(m/r, 0)
	f[2*t.row] -= real(y) * n.ws.scale[2*t.row]
	f[2*t.row+1] -= imag(y) * n.ws.scale[2*t.row+1]
}

func (n *Net) times(m, x, f []float64) {
	ld := 2 * n.n
	for r := range ld {
		s := 0.0
		for c, v := range m[r*ld : (r+1)*ld] {
			if v != 0 {
				s += v * x[c]
			}
		}
		f[r] = s
	}
}

// jacobian is the scaled derivative of the equations at x.
func (n *Net) jacobian(x []float64) {
	w := &n.ws
	copy(w.jac, w.base)
	ld := 2 * n.n
	for i := range n.terms {
		t := &n.terms[i]
		z := zAt(x, t.a) - zAt(x, t.b)
		r := cmplx.Abs(z)
		m, dm, turn := n.law(t, nil, r)
		ux, uy, per := 1.0, 0.0, dm
		if r > 0 {
			ux, uy, per = real(z)/r, imag(z)/r, m/r
		}
		// d(m u)/dz = m' u uᵀ + (m/r)(1 − u uᵀ), then turned.
		cross := (dm - per) * ux * uy
		j := [2][2]float64{
			{dm*ux*ux + per*uy*uy, cross},
			{cross, dm*uy*uy + per*ux*ux},
		}
		tr, ti := real(turn), imag(turn)
		for c := range 2 {
			re := (tr*j[0][c] - ti*j[1][c]) * w.scale[2*t.row]
			im := (ti*j[0][c] + tr*j[1][c]) * w.scale[2*t.row+1]
			for side, col := range [2]int{t.a, t.b} {
				if col < 0 {
					continue
				}
				if side == 1 {
					re, im = -re, -im
				}
				w.jac[(2*t.row)*ld+2*col+c] -= re
				w.jac[(2*t.row+1)*ld+2*col+c] -= im
			}
		}
	}
}

func (n *Net) factor() bool {
	w := &n.ws
	m := 2 * n.n
	w.anorm = 0
	for c := range m {
		s := 0.0
		for r := range m {
			s += math.Abs(w.jac[r*m+c])
		}
		w.anorm = math.Max(w.anorm, s)
	}
	return lapackImpl.Dgetrf(m, m, w.jac, m, w.piv)
}

// back solves with the last factorisation, in place.
func (n *Net) back(b []float64) {
	w := &n.ws
	m := 2 * n.n
	lapackImpl.Dgetrs(blas.NoTrans, m, 1, w.jac, m, w.piv, b, 1)
}

// backAll solves with the last factorisation for many right-hand sides at
// once, each in place.
func (n *Net) backAll(bs [][]float64) {
	if len(bs) == 0 {
		return
	}
	w := &n.ws
	m, k := 2*n.n, len(bs)
	all := make([]float64, m*k)
	for c, b := range bs {
		for r, v := range b {
			all[r*k+c] = v
		}
	}
	lapackImpl.Dgetrs(blas.NoTrans, m, k, w.jac, m, w.piv, all, k)
	for c, b := range bs {
		for r := range b {
			b[r] = all[r*k+c]
		}
	}
}

// Condition estimates the 1-norm condition number of the scaled equations at
// the solution.
func (s *Solution) Condition() float64 {
	w := &s.net.ws
	m := 2 * s.net.n
	r := lapackImpl.Dgecon(lapack.MaxColumnSum, m, w.jac, m, w.anorm, w.work, w.iwork)
	return 1 / r
}

// ScaleCapacitance multiplies the k-th unit's capacitances, winding to core,
// winding to winding and core to neutral, for the solves that follow; ones
// bring the facts' own back. It is how ghost readings are explored, which are
// not linear in quantities known to a factor of three.
func (n *Net) ScaleCapacitance(k int, winding, pair, core float64) {
	u := n.units[k]
	t := u.Params[3*len(u.Windings):]
	u.c.cw, u.c.cp, u.c.cc = t[pCapWinding].Value*winding, t[pCapPair].Value*pair, t[pCapCore].Value*core
}

// CapacitanceU is the standard uncertainty of the logarithm of every
// capacitance [1].
const CapacitanceU = factorOfThree
