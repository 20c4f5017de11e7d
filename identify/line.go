package identify

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// A wire with taps is a line: its pins in an order, copper between neighbours,
// and the resistance of two pins the sum of the sections between them. This
// file weighs the orders of a wire's pins by the readings among them.

// edge is one resistance reading between two pins of a wire.
type edge struct {
	a, b int // pin numbers
	o    *observation
}

// line is what the readings among a set of pins say of their order.
type line struct {
	pins   []int
	edges  []edge
	orders []order // likeliest first, weights summing to 1
	chi2   float64 // of the likeliest
	dof    int
	odd    *edge // the reading without which the rest fit a line; nil when all fit or nothing helps
	misfit bool  // no order fits
}

// order is one way along the wire.
type order struct {
	seq  []int // pins from end to end
	w    float64
	ln   float64
	ohms []float64 // of the sections, mean of what is positive
	mean []float64 // of the sections, least squares
	cov  []float64
	chi2 float64
}

const (
	orderBeam  = 120
	orderDepth = 18.0 // orders this much less likely are dropped [nat]
)

// lnTotal is the width in ln of what the resistance of a winding may be:
// from a milliohm to ten kilohms.
const lnTotal = 16.0

// newLine weighs every order that the readings leave. pins is a connected set:
// each pin is reached by readings from each other.
func (b *bench) newLine(pins []int, edges []edge) *line {
	l := &line{pins: pins, edges: edges}
	l.orders = b.orders(pins, edges)
	l.dof = len(edges) - (len(pins) - 1)
	if len(l.orders) == 0 {
		l.misfit = true
		seq := slices.Clone(pins)
		l.orders = []order{{seq: seq, w: 1, ohms: make([]float64, len(pins)-1), mean: make([]float64, len(pins)-1), cov: make([]float64, (len(pins)-1)*(len(pins)-1))}}
		l.chi2 = math.Inf(1)
	} else {
		l.chi2 = l.orders[0].chi2
		// 1e-4: the errors are bounded, so a normal's tail overstates how far they reach.
		l.misfit = l.dof > 0 && chi2Tail(l.chi2, l.dof) < 1e-4
	}
	if l.misfit {
		b.findOdd(l)
	}
	return l
}

// findOdd looks for one reading without which the others fit, and could have
// failed to.
func (b *bench) findOdd(l *line) {
	if l.dof < 2 {
		return
	}
	best := 1e-3
	for i := range l.edges {
		rest := slices.Delete(slices.Clone(l.edges), i, i+1)
		if !connected(l.pins, rest) {
			continue
		}
		orders := b.orders(l.pins, rest)
		if len(orders) == 0 {
			continue
		}
		p := chi2Tail(orders[0].chi2, l.dof-1)
		if p > best {
			best = p
			l.odd = &l.edges[i]
			l.orders = orders
		}
	}
}

func connected(pins []int, edges []edge) bool {
	reach := map[int]bool{pins[0]: true}
	for grown := true; grown; {
		grown = false
		for _, e := range edges {
			if reach[e.a] != reach[e.b] {
				reach[e.a], reach[e.b] = true, true
				grown = true
			}
		}
	}
	return len(reach) == len(pins)
}

// orders inserts the pins one by one, each linked by a reading to those before
// it, and keeps the likely orders.
func (b *bench) orders(pins []int, edges []edge) []order {
	if len(pins) == 1 {
		return []order{{seq: slices.Clone(pins), w: 1}}
	}
	// Sort pins and readings in the order they come in.
	in := []int{pins[0]}
	var rows []edge
	var count []int // rows when in has that many pins
	taken := make([]bool, len(edges))
	for len(in) < len(pins) {
		next, most := -1, 0
		for _, p := range pins {
			if slices.Contains(in, p) {
				continue
			}
			n := 0
			for _, e := range edges {
				if e.a == p && slices.Contains(in, e.b) || e.b == p && slices.Contains(in, e.a) {
					n++
				}
			}
			if n > most {
				next, most = p, n
			}
		}
		if next < 0 {
			return nil
		}
		in = append(in, next)
		for i, e := range edges {
			if !taken[i] && slices.Contains(in, e.a) && slices.Contains(in, e.b) {
				taken[i] = true
				rows = append(rows, e)
			}
		}
		count = append(count, len(rows))
	}
	m := len(rows)
	terms := make([][]term, m)
	y := make([]float64, m)
	for i, e := range rows {
		terms[i], y[i] = e.o.terms, e.o.y
	}
	chol := covariance(terms, len(b.sources.names))
	if !cholesky(chol, m) {
		return nil
	}
	yw := slices.Clone(y)
	forward(chol, m, m, yw)
	e := &evaluator{rows: rows, chol: chol, m: m, yw: yw, pos: make([]int, len(b.pins)), w: make([]float64, m*len(pins))}

	beam := []order{{seq: in[:1]}}
	for t := 1; t < len(in); t++ {
		var grown []order
		for _, o := range beam {
			for slot := 0; slot <= len(o.seq); slot++ {
				if t == 1 && slot == 0 {
					continue // the same line seen from the other end
				}
				seq := slices.Insert(slices.Clone(o.seq), slot, in[t])
				if c, ok := e.weigh(seq, count[t-1]); ok {
					grown = append(grown, c)
				}
			}
		}
		slices.SortStableFunc(grown, func(p, q order) int {
			switch {
			case p.ln > q.ln:
				return -1
			case p.ln < q.ln:
				return 1
			}
			return 0
		})
		for i := range grown {
			if i >= orderBeam || grown[i].ln < grown[0].ln-orderDepth {
				grown = grown[:i]
				break
			}
		}
		beam = grown
		if len(beam) == 0 {
			return nil
		}
	}
	sum := 0.0
	for i := range beam {
		beam[i].w = math.Exp(beam[i].ln - beam[0].ln)
		sum += beam[i].w
	}
	for i := range beam {
		beam[i].w /= sum
		o := &beam[i]
		if o.seq[0] > o.seq[len(o.seq)-1] {
			reverse(o)
		}
	}
	return beam
}

// reverse names the line from the other end.
func reverse(o *order) {
	n := len(o.ohms)
	slices.Reverse(o.seq)
	slices.Reverse(o.ohms)
	slices.Reverse(o.mean)
	c := make([]float64, len(o.cov))
	for i := range n {
		for j := range n {
			c[i*n+j] = o.cov[(n-1-i)*n+n-1-j]
		}
	}
	o.cov = c
}

type evaluator struct {
	rows []edge
	chol []float64
	m    int
	yw   []float64
	pos  []int
	w    []float64
}

// weigh returns the order with its evidence: the readings' probability density
// integrated over all positive sections, by Laplace's method. The prior: the
// whole wire log-uniform, its division uniform, and for a likely mirror image
// (a centre tap, or taps alike about one) near-equal sections.
func (e *evaluator) weigh(seq []int, m int) (order, bool) {
	n := len(seq) - 1
	for i, p := range seq {
		e.pos[p] = i
	}
	h := make([]float64, n*n)
	g := make([]float64, n)
	w := e.w[:m*n]
	clear(w)
	for r := range m {
		lo, hi := e.pos[e.rows[r].a], e.pos[e.rows[r].b]
		if lo > hi {
			lo, hi = hi, lo
		}
		for j := lo; j < hi; j++ {
			w[j*m+r] = 1
		}
	}
	for j := range n {
		forward(e.chol, e.m, m, w[j*m:(j+1)*m])
	}
	chi2 := 0.0
	for r := range m {
		chi2 += e.yw[r] * e.yw[r]
	}
	for i := range n {
		for j := 0; j <= i; j++ {
			s := 0.0
			for r := range m {
				s += w[i*m+r] * w[j*m+r]
			}
			h[i*n+j], h[j*n+i] = s, s
		}
		for r := range m {
			g[i] += w[i*m+r] * e.yw[r]
		}
	}
	if !cholesky(h, n) {
		return order{}, false
	}
	x := slices.Clone(g)
	forward(h, n, n, x)
	backward(h, n, x)
	for i := range n {
		chi2 -= x[i] * g[i]
	}
	chi2 = math.Max(chi2, 0)
	o := order{seq: seq, mean: x, chi2: chi2}
	o.cov = inverse(h, n)
	o.ln = -chi2/2 - lnDet(h, n, n)/2 + float64(n)/2*math.Log(2*math.Pi)
	o.ohms = make([]float64, n)
	total, v := 0.0, 0.0
	for i := range n {
		u := math.Sqrt(o.cov[i*n+i])
		z := x[i] / u
		if z < -7 {
			return order{}, false
		}
		o.ln += lnPhi(z)
		o.ohms[i] = truncatedMean(x[i], u)
		total += o.ohms[i]
		for j := range n {
			v += o.cov[i*n+j]
		}
	}
	o.ln += lnPriorLine(o.ohms, o.cov, math.Max(total, math.Sqrt(math.Max(v, 0))))
	return o, true
}

// truncatedMean is the mean of a normal above 0.
func truncatedMean(x, u float64) float64 {
	z := x / u
	if z > 8 {
		return x
	}
	return x + u*math.Exp(-z*z/2-0.5*math.Log(2*math.Pi)-lnPhi(z))
}

// mirrored is how often a tapped wire of that many sections is alike from both
// ends (common practice, no source).
func mirrored(sections int) float64 {
	if sections == 2 {
		return 0.5
	}
	return 0.15
}

// halfSpread is how far the ohms of like sections differ, over the whole
// wire: outer layers are longer (common practice, no source) [1].
const halfSpread = 0.03

func lnPriorLine(s, cov []float64, total float64) float64 {
	n := len(s)
	lnT := math.Log(total)
	base := -math.Log(lnTotal) - lnT
	if n == 1 {
		return base
	}
	lgamma, _ := math.Lgamma(float64(n))
	flat := lgamma - float64(n-1)*lnT
	pairs := n / 2
	// Like sections in pairs, the pairs and what is in the middle uniform.
	free := n - pairs
	lgamma, _ = math.Lgamma(float64(free))
	mirror := lgamma - float64(free-1)*lnT
	for i := range pairs {
		j := n - 1 - i
		v := math.Pow(halfSpread*total, 2) + cov[i*n+i] + cov[j*n+j] - 2*cov[i*n+j]
		d := s[i] - s[j]
		mirror += -d*d/(2*v) - 0.5*math.Log(2*math.Pi*v) + math.Ln2
	}
	p := mirrored(n)
	return base + lnSum(math.Log(1-p)+flat, math.Log(p)+mirror)
}

// between is the resistance the order expects between two of its pins, and its
// variance.
func (o *order) between(a, b int) (mean, variance float64) {
	i, j := slices.Index(o.seq, a), slices.Index(o.seq, b)
	if i > j {
		i, j = j, i
	}
	n := len(o.ohms)
	for p := i; p < j; p++ {
		mean += o.ohms[p]
		for q := i; q < j; q++ {
			variance += o.cov[p*n+q]
		}
	}
	return mean, math.Max(variance, 0)
}

// entropy of the order [nat].
func (l *line) entropy() float64 {
	h := 0.0
	for _, o := range l.orders {
		if o.w > 0 {
			h -= o.w * math.Log(o.w)
		}
	}
	return h
}

// chi2Tail is the probability that χ² with dof degrees of freedom exceeds x.
func chi2Tail(x float64, dof int) float64 {
	if dof <= 0 {
		return 1
	}
	if math.IsInf(x, 1) {
		return 0
	}
	return mathext.GammaIncRegComp(float64(dof)/2, x/2)
}
