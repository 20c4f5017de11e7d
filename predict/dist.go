package predict

import (
	"math"
	"math/cmplx"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"yokemate"
	"yokemate/num"
	"yokemate/phys/network"
)

// Dist is what a reading may be: its best value and its distribution.
type Dist struct {
	Value  float64
	mod    num.Modulus
	fixed  float64   // half width of the meter's fixed error, rectangular
	ghosts []float64 // draws, sorted, where capacitances decide; nil elsewhere
	around float64   // standard deviation about each draw
	log    float64   // standard deviation of the logarithm, where facts known to a factor decide; else 0
	open   bool      // nothing joins the probes: an ohmmeter reads over

	// Sources and Moves tell how the reading moves with each shared source of
	// error, one standard uncertainty each; readings that share sources are
	// correlated through them. Nil where the distribution is not nearly normal.
	Sources []string
	Moves   []float64
}

// Fixed is the half width of the meter's fixed error.
func (d Dist) Fixed() float64 { return d.fixed }

// Open is the distribution of a reading that can only be "over": an ohmmeter
// on two points that nothing joins.
func Open() Dist { return Dist{Value: math.Inf(1), open: true} }

// Exact is the distribution of a real value with standard uncertainty u and
// a meter's fixed error of half width fixed.
func Exact(v, u, fixed float64) Dist {
	return Dist{Value: v, mod: num.NewModulus(complex(v, 0), []complex128{complex(u, 0)}), fixed: fixed}
}

// IsOpen reports whether the reading can only be "over".
func (d Dist) IsOpen() bool { return d.open }

// Interval is the best value with its 95 % interval.
func (d Dist) Interval() yokemate.Interval {
	v := yokemate.Interval{Value: d.Value}
	u := d.fixed / math.Sqrt(3)
	switch {
	case d.open:
		v.Low, v.High = math.Inf(1), math.Inf(1)
		return v
	case d.ghosts != nil:
		v.Low, v.High = quantile(d.ghosts, 0.025), quantile(d.ghosts, 0.975)
		u = math.Hypot(u, d.around)
	case d.log > 0:
		v.Low, v.High = d.Value*math.Exp(-1.96*d.log), d.Value*math.Exp(1.96*d.log)
	default:
		v.Low, v.High = d.mod.Interval()
	}
	v.Low = math.Max(0, d.Value-math.Hypot(d.Value-v.Low, 1.96*u))
	v.High = d.Value + math.Hypot(v.High-d.Value, 1.96*u)
	return v
}

func quantile(sorted []float64, p float64) float64 {
	return sorted[min(int(p*float64(len(sorted))), len(sorted)-1)]
}

// Density is the probability density of a reading of r, whose last digit
// counts res.
func (d Dist) Density(r, res float64) float64 {
	// The meter's fixed error is rectangular and at least half a digit wide.
	h := math.Max(d.fixed, res/2)
	if h == 0 {
		h = 1e-6 * math.Max(math.Abs(r), 1e-3)
	}
	switch {
	case d.open:
		return 0
	case d.ghosts != nil:
		sum := 0.0
		for _, g := range d.ghosts {
			s := math.Sqrt(d.around*d.around + h*h/3 + 0.01*g*g)
			x := (r - g) / s
			sum += math.Exp(-x*x/2) / (s * math.Sqrt(2*math.Pi))
		}
		return sum / float64(len(d.ghosts))
	case d.log > 0:
		n := distuv.LogNormal{Mu: math.Log(math.Max(d.Value, 1e-12)), Sigma: d.log}
		return (n.CDF(r+h) - n.CDF(math.Max(r-h, 0))) / (2 * h)
	}
	// Rounding can leave a trace below zero far out in a tail.
	return math.Max(0, d.mod.CDF(r+h)-d.mod.CDF(r-h)) / (2 * h)
}

// Run is one network solved, with what is needed to judge its quantities.
type Run struct {
	Net        *network.Net
	Sol        *network.Solution
	Meter      *yokemate.Meter
	spreadOnce *network.Spread
	volts      network.FeedVolts
	ghosts     []draw
}

// draw is one choice of all capacitances with its network's unknowns solved.
type draw struct {
	factors [][3]float64
}

// NewRun solves the network at the given feed volts.
func NewRun(n *network.Net, v network.FeedVolts, m *yokemate.Meter) (*Run, error) {
	s, err := n.Solve(v)
	if err != nil {
		return nil, err
	}
	if v == nil {
		v = n.VoltsAt(yokemate.Nominal)
	}
	return &Run{Net: n, Sol: s, Meter: m, volts: v}, nil
}

// spread is the solution's uncertainty, found when first asked for.
func (r *Run) spread() *network.Spread {
	if r.spreadOnce == nil {
		r.spreadOnce = r.Sol.Spread()
	}
	return r.spreadOnce
}

// quantityDist judges the modulus of a probe as a meter of the given accuracy
// would read it; acc nil means without a meter.
func (r *Run) dist(p network.Probe, acc *yokemate.Accuracy) Dist {
	y := r.Sol.Value(p)
	return r.judge(y, r.spread().Moves(p), acc, func() complex128 { return r.Sol.Value(p) })
}

func (r *Run) judge(y complex128, moves []complex128, acc *yokemate.Accuracy, again func() complex128) Dist {
	d := Dist{Value: cmplx.Abs(y)}
	var caps, rest, wide float64
	for i, m := range moves {
		q := real(m)*real(m) + imag(m)*imag(m)
		switch {
		case r.spread().Capacitive(i):
			caps += q
		default:
			rest += q
		}
		if r.spread().Wide(i) {
			wide += q
		}
	}
	sources := r.spread().Sources
	if acc != nil {
		d.fixed = acc.Fixed * math.Sqrt(3)
		moves = append([]complex128(nil), moves...)
		shared := false
		for i, name := range r.spread().Sources {
			if acc.Group != "" && name == acc.Group+" gain" {
				// The meter that reads now errs as it did when the facts were read.
				moves[i] -= y * complex(acc.Gain, 0)
				shared = true
			}
		}
		if !shared {
			moves = append(moves, y*complex(acc.Gain, 0))
			sources = append(append([]string(nil), sources...), acc.Group+" gain")
		}
	}
	d.mod = num.NewModulus(y, moves)
	switch {
	case caps > 0.01*d.Value*d.Value && caps > 1e-12:
		d.ghosts = r.drawGhosts(again)
		d.around = math.Sqrt(rest)
	case wide > 0.04*d.Value*d.Value:
		d.log = math.Sqrt(rest) / math.Max(d.Value, 1e-12)
	case d.Value > 3*d.mod.Sigma() && d.Value > 0:
		d.Sources = sources
		for _, m := range moves {
			d.Moves = append(d.Moves, real(cmplx.Conj(y)*m)/d.Value)
		}
	}
	return d
}

// ghostDraws is the number of draws over the capacitances, and ghostBases the
// bases of the Halton sequence that spreads them; the draws are the same on
// every run.
const ghostDraws = 120

func halton(i, base int) float64 {
	f, r := 1.0, 0.0
	for ; i > 0; i /= base {
		f /= float64(base)
		r += f * float64(i%base)
	}
	return r
}

func prime(k int) int {
	primes := [...]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89}
	return primes[k%len(primes)]
}

// drawGhosts solves the network over draws of the capacitances.
func (r *Run) drawGhosts(value func() complex128) []float64 {
	n := r.Net
	units := len(n.Units())
	if r.ghosts == nil {
		for i := range ghostDraws {
			f := make([][3]float64, units)
			for k := range f {
				for c := range f[k] {
					u := distuv.UnitNormal.Quantile(halton(i+1, prime(3*k+c)))
					f[k][c] = math.Exp(network.CapacitanceU * u)
				}
			}
			r.ghosts = append(r.ghosts, draw{f})
		}
	}
	out := make([]float64, 0, ghostDraws)
	for _, g := range r.ghosts {
		for k, f := range g.factors {
			n.ScaleCapacitance(k, f[0], f[1], f[2])
		}
		if _, err := n.Solve(r.volts); err == nil {
			out = append(out, cmplx.Abs(value()))
		}
	}
	for k := range units {
		n.ScaleCapacitance(k, 1, 1, 1)
	}
	// The run's own solution back in place: it solved before with the same facts.
	if s, err := n.Solve(r.volts); err == nil {
		r.Sol = s
	}
	sort.Float64s(out)
	if len(out) == 0 {
		return nil
	}
	return out
}

// Accuracy is the meter's for a reading of v, or nil when it has no such range.
func (r *Run) accuracy(q yokemate.Quantity, v float64) *yokemate.Accuracy {
	if r.Meter == nil {
		return nil
	}
	if a, ok := r.Meter.On(q, v); ok {
		return &a
	}
	return nil
}

// Volts is what a voltmeter shows between two points; "" is neutral.
func (r *Run) Volts(from, to string) (Dist, bool) {
	p, ok := r.Net.Volts(from, to)
	if !ok {
		return Dist{}, false
	}
	return r.dist(p, r.accuracy(yokemate.VoltsAC, cmplx.Abs(r.Sol.Value(p)))), true
}

// FeedAmps is what a true-rms ammeter in plug i's live wire shows.
func (r *Run) FeedAmps(i int) Dist {
	p, ok := r.Net.FeedAmps(i)
	if !ok {
		return Exact(0, 0, 0)
	}
	return r.dist(p, r.accuracy(yokemate.AmpsAC, cmplx.Abs(r.Sol.Value(p))))
}

// AddedAmps is what the ammeter that is the i-th added branch shows.
func (r *Run) AddedAmps(i int) (Dist, bool) {
	p, ok := r.Net.AddedAmps(i)
	if !ok {
		return Dist{}, false
	}
	return r.dist(p, r.accuracy(yokemate.AmpsAC, cmplx.Abs(r.Sol.Value(p)))), true
}

// FeedWatts is what a wattmeter at plug i's socket shows.
func (r *Run) FeedWatts(i int) Dist {
	w, _, _ := r.Sol.FeedPower(i)
	p, ok := r.Net.FeedAmps(i)
	if !ok {
		return Exact(0, 0, 0)
	}
	f := r.Net.Hookup.Feed[i]
	source := cmplx.Rect(r.volts[i], f.Degrees*math.Pi/180)
	moves := r.spread().Moves(p)
	for k := range moves {
		d := real(source * cmplx.Conj(moves[k]))
		if r.spread().Sources[k] == network.FeedSource(i) {
			d += w / r.volts[i] * f.Volts.U
		}
		moves[k] = complex(d, 0)
	}
	return r.judge(complex(w, 0), moves, r.accuracy(yokemate.Watts, w), func() complex128 { v, _, _ := r.Sol.FeedPower(i); return complex(v, 0) })
}

// Ohms is what an ohmmeter shows between two points with every plug out, its
// lead resistance taken off.
func (r *Run) Ohms(from, to string) (Dist, bool) { return Ohms(r.Net, r.Meter, from, to) }

// Ohms is [Run.Ohms] for a network that need not be solved.
func Ohms(n *network.Net, m *yokemate.Meter, from, to string) (Dist, bool) {
	v, u, ok := n.Resistance(from, to)
	if !ok {
		return Dist{}, false
	}
	if math.IsInf(v, 1) {
		return Open(), true
	}
	fixed := 0.0
	if m != nil {
		if a, ok := m.On(yokemate.Ohms, v); ok {
			// The gain that the facts were read with is this meter's own, as far
			// as they were; leads are zeroed to about 0.05 Ω (common practice).
			fixed = a.Fixed*math.Sqrt(3) + 0.05
			u = math.Hypot(u, a.Gain*v)
		}
	}
	return Exact(v, u, fixed), true
}
