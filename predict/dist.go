package predict

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

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

// quantile of draws, each standing for the middle of its share.
func quantile(sorted []float64, p float64) float64 {
	x := p*float64(len(sorted)) - 0.5
	i := int(math.Max(0, math.Min(x, float64(len(sorted)-2))))
	if i+1 >= len(sorted) {
		return sorted[0]
	}
	f := math.Max(0, math.Min(x-float64(i), 1))
	return sorted[i] + f*(sorted[i+1]-sorted[i])
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
	watched    []network.Probe // whose values under the draws are worth keeping
	drawn      map[network.Probe][]float64
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
	return r.judge(y, r.spread().Moves(p), acc, func() []float64 { return r.ghostsOf(p) })
}

func (r *Run) judge(y complex128, moves []complex128, acc *yokemate.Accuracy, ghosts func() []float64) Dist {
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
	v2 := d.Value * d.Value
	switch {
	case caps > 0.01*v2 && caps > ghostFloor*ghostFloor:
		d.ghosts = ghosts()
		d.around = math.Sqrt(rest)
	case caps > 0.01*v2 && caps+rest <= v2:
		// Too small to be worth solving for: it moves by the capacitances' factor.
		d.log = math.Sqrt(caps+rest) / d.Value
	case wide > 0.04*v2 && wide <= v2:
		// It goes by the factor that a fact is known to. A small difference of
		// large ones, which moves by more than itself, does not.
		d.log = math.Sqrt(rest) / d.Value
	case d.Value > 3*d.mod.Sigma() && d.Value > 0:
		d.Sources = sources
		for _, m := range moves {
			d.Moves = append(d.Moves, real(cmplx.Conj(y)*m)/d.Value)
		}
	}
	return d
}

// ghostFloor is what no bench reads: below it draws are not worth solving [V or A].
const ghostFloor = 1e-6

// ghostDraws is the number of draws over the capacitances. They are a Latin
// hypercube, so each capacitance alone is spread evenly, and the same on every
// run.
const ghostDraws = 120

// factorsOf are the draws for a number of units: three factors each.
func factorsOf(units int) [][][3]float64 {
	draws := make([][][3]float64, ghostDraws)
	for i := range draws {
		draws[i] = make([][3]float64, units)
	}
	shuffle := rand.New(rand.NewPCG(1, 120))
	for k := range units {
		for c := range 3 {
			for i, stratum := range shuffle.Perm(ghostDraws) {
				u := distuv.UnitNormal.Quantile((float64(stratum) + 0.5) / ghostDraws)
				draws[i][k][c] = math.Exp(network.CapacitanceU * u)
			}
		}
	}
	return draws
}

// overDraws solves the network over draws of the capacitances and hands each
// solution to f.
func (r *Run) overDraws(f func()) {
	n := r.Net
	units := len(n.Units())
	for _, g := range factorsOf(units) {
		for k, c := range g {
			n.ScaleCapacitance(k, c[0], c[1], c[2])
		}
		if _, err := n.Solve(r.volts); err == nil {
			f()
		}
	}
	for k := range units {
		n.ScaleCapacitance(k, 1, 1, 1)
	}
	// The run's own solution back in place: it solved before with the same facts.
	if s, err := n.Solve(r.volts); err == nil {
		r.Sol = s
	}
}

// watch names probes that will be asked for, so that the draws are solved
// once for all of them.
func (r *Run) watch(p ...network.Probe) { r.watched = append(r.watched, p...) }

// ghostsOf are the moduli of a probe over the draws, sorted.
func (r *Run) ghostsOf(p network.Probe) []float64 {
	if _, ok := r.drawn[p]; !ok {
		if !slices.Contains(r.watched, p) {
			r.watch(p)
		}
		r.drawn = map[network.Probe][]float64{}
		r.overDraws(func() {
			for _, q := range r.watched {
				r.drawn[q] = append(r.drawn[q], cmplx.Abs(r.Sol.Value(q)))
			}
		})
		for _, q := range r.watched {
			slices.Sort(r.drawn[q])
		}
	}
	return r.drawn[p]
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
	return r.judge(complex(w, 0), moves, r.accuracy(yokemate.Watts, w), func() (out []float64) {
		r.overDraws(func() {
			v, _, _ := r.Sol.FeedPower(i)
			out = append(out, math.Abs(v))
		})
		slices.Sort(out)
		return out
	})
}

// Ohms is what an ohmmeter shows between two points with every plug out, its
// lead resistance taken off. The network need not be solved.
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
