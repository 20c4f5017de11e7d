package identify

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/si"
)

// A term is one contribution to the error of an observation: its standard
// uncertainty, signed, from one source. Terms of one source are the same
// error, so what observations share cancels in their ratio or difference.
type term struct {
	source int
	u      float64
}

// sources numbers the independent causes of error.
type sources struct {
	index  map[string]int
	names  []string
	normal []bool // false: rectangular
}

func (s *sources) of(name string, normal bool) int {
	if i, ok := s.index[name]; ok {
		return i
	}
	i := len(s.names)
	s.index[name] = i
	s.names = append(s.names, name)
	s.normal = append(s.normal, normal)
	return i
}

// observation is a reading made ready for a fit.
type observation struct {
	r        *yokemate.Reading
	y        float64 // freed of leads, at 20 °C for copper [unit of the quantity; ohms for millivolts at 1 A]
	open     bool
	over     float64 // what it is known to lie above, when the display was full; 0 when it was not
	terms    []term
	formula  string
	accuracy yokemate.Accuracy
	used     *yokemate.UsedReading
}

func (o *observation) u() float64 { return norm(o.terms) }

func norm(terms []term) float64 {
	v := 0.0
	for _, t := range terms {
		v += t.u * t.u
	}
	return math.Sqrt(v)
}

// What a bench adds to a meter's own error. Common practice, no source.
const (
	contactOhms   = 0.03  // spread of probe contact [Ω]
	currentSpread = 0.01  // the 1 A of a millivolt reading, bound [1]
	thermometerK  = 2.0   // a temperature that was written down, bound [K]
	unwrittenK    = 8.0   // copper of unwritten temperature about 20 °C, bound [K]
	averageAmps   = 0.06  // average-responding meter on peaky no-load current [1]
	beyondCounts  = 3.0   // own error of a reading beyond the meter's ranges, bound [counts shown]
	beyondPart    = 0.005 // and at least, bound [1]
	insulator     = 50e3  // above this no winding is: a leak, fingers or damp [Ω]
	alphaBase     = 234.5
	twenty        = 20.0
)

// bench is the readings of one unit, sorted out.
type bench struct {
	unit    *yokemate.Unit
	meters  []yokemate.Meter
	sources sources
	pins    []string
	number  map[string]int // pin → index
	obs     []*observation
	used    []*yokemate.UsedReading
}

func newBench(u *yokemate.Unit, meters []yokemate.Meter) (*bench, error) {
	b := &bench{unit: u, meters: meters, number: map[string]int{}}
	b.sources.index = map[string]int{}
	gone := map[string]bool{}
	for i := range u.Readings {
		if s := u.Readings[i].Supersedes; s != "" {
			gone[s] = true
		}
	}
	var live []*yokemate.Reading
	for i := range u.Readings {
		if r := &u.Readings[i]; !gone[r.ID] {
			live = append(live, onPins(u, r))
		}
	}
	b.findPins(live)
	for _, r := range live {
		o, err := b.observe(r)
		if err != nil {
			return nil, err
		}
		b.obs = append(b.obs, o)
	}
	return b, nil
}

// onPins is a reading with its ends as pins: one that names a winding at one
// end means its start, and at both ends, or at one alone, its two pins.
func onPins(u *yokemate.Unit, r *yokemate.Reading) *yokemate.Reading {
	from, to := u.Winding(r.From), u.Winding(r.To)
	if from == nil && to == nil {
		return r
	}
	c := *r
	if from != nil {
		c.From = from.Pins[0]
		if r.To == "" || r.To == r.From {
			c.To = from.Pins[1]
			return &c
		}
	}
	if to != nil {
		c.To = to.Pins[0]
	}
	return &c
}

// findPins lists the pins the unit has, in natural order: those it names, and
// any that a reading names.
func (b *bench) findPins(live []*yokemate.Reading) {
	pins := b.unit.AllPins()
	add := func(p string) {
		if isPin(p) && !slices.Contains(pins, p) {
			pins = append(pins, p)
		}
	}
	for _, r := range live {
		add(r.From)
		add(r.To)
		for _, p := range r.Joined {
			add(p)
		}
		if r.Excited != nil {
			for _, s := range r.Excited.Series {
				if from, to, ok := strings.Cut(s, ":"); ok {
					add(from)
					add(to)
				}
			}
		}
	}
	slices.SortStableFunc(pins, natural)
	b.pins = pins
	for i, p := range pins {
		b.number[p] = i
	}
}

// feedEnd is where the amps and watts of the source are read.
const feedEnd = "feed"

func isPin(p string) bool {
	return p != "" && p != yokemate.CorePin && p != feedEnd && !strings.ContainsAny(p, ":,./")
}

// natural compares pin names with runs of digits taken as numbers.
func natural(a, b string) int {
	x, errA := strconv.Atoi(a)
	y, errB := strconv.Atoi(b)
	switch {
	case errA == nil && errB == nil:
		return x - y
	case errA == nil:
		return -1
	case errB == nil:
		return 1
	}
	return strings.Compare(a, b)
}

// meterOf is the meter a reading was taken on: the one it names, else the
// shelf's first, else the generic one.
func (b *bench) meterOf(r *yokemate.Reading) (*yokemate.Meter, error) {
	if r.Meter == "" {
		if len(b.meters) > 0 {
			return &b.meters[0], nil
		}
		return yokemate.GenericMeter(), nil
	}
	for i := range b.meters {
		if b.meters[i].Name == r.Meter {
			return &b.meters[i], nil
		}
	}
	if m := presetMeter(r.Meter); m != nil {
		return m, nil
	}
	return nil, yokemate.Errorf(yokemate.Invalid, b.unit.Tag+" reading "+r.ID, "there is no meter %q", r.Meter).
		Mend("add it to the meters of the shelf, or use a preset: %s", strings.Join(presetNames(), ", "))
}

// accuracyOf is what the meter states for a reading of v: on the range that
// the reading names, else on the smallest that holds it. A meter that states
// nothing for the quantity is taken as the generic one.
func accuracyOf(m *yokemate.Meter, r *yokemate.Reading, q yokemate.Quantity, v float64) (yokemate.Accuracy, *yokemate.Range) {
	var best *yokemate.Range
	if full, err := si.Parse(r.Range, q.Unit()); r.Range != "" && err == nil && q == r.Quantity {
		for i := range m.Ranges {
			if x := &m.Ranges[i]; x.Quantity == q && math.Abs(x.Max-full) <= 1e-6*full {
				best = x
			}
		}
	}
	if best == nil {
		best = m.RangeShowing(q, v, r.Value)
	}
	if best == nil {
		if m.Name == yokemate.GenericMeterName {
			// Beyond every range: wide, and with an error of its own, since readings
			// that shared all their errors would have to agree exactly.
			own := math.Max(beyondCounts*si.Resolution(strings.Replace(r.Value, ",", ".", 1)), beyondPart*math.Abs(v))
			if math.IsNaN(own) {
				own = beyondPart * math.Abs(v)
			}
			return yokemate.Accuracy{Gain: 0.02 / math.Sqrt(3), Fixed: own / math.Sqrt(3), Group: string(q)}, nil
		}
		return accuracyOf(yokemate.GenericMeter(), r, q, v)
	}
	return m.Of(best), best
}

// observe frees a reading of its leads and temperature and finds its errors.
func (b *bench) observe(r *yokemate.Reading) (*observation, error) {
	o := &observation{r: r, used: &yokemate.UsedReading{ID: r.ID}}
	b.used = append(b.used, o.used)
	m, err := b.meterOf(r)
	if err != nil {
		return nil, err
	}
	switch r.Value {
	case "open":
		o.open = true
		o.used.Formula = "no continuity"
		return o, nil
	case "over":
		full, err := si.Parse(r.Range, r.Quantity.Unit())
		if err != nil || full <= 0 {
			b.leave(o, "the display was full on a range that is not named: read it again on a higher range")
			return o, nil
		}
		o.over = full
		o.open = r.Quantity == yokemate.Ohms && full >= insulator
		o.used.Formula = fmt.Sprintf("above %g %s", full, r.Quantity.Unit())
		if !o.open {
			b.leave(o, "the display was full: read it again on a higher range")
		}
		return o, nil
	}
	v, err := yokemate.Read(r.Value)
	if err != nil {
		return nil, err
	}
	o.y = v.V
	if r.Quantity == yokemate.Kick {
		o.used.Value, o.used.Formula = v.V, "way of the needle"
		return o, nil
	}
	o.accuracy, _ = accuracyOf(m, r, r.Quantity, v.V)
	a := o.accuracy
	o.add(b, "gain "+a.Group, false, a.Gain*v.V)
	o.add(b, "own "+r.ID, false, a.Fixed)
	o.formula = fmt.Sprintf("%.2g %% of %s + %.2g", 100*a.Gain, r.Value, a.Fixed)
	switch r.Quantity {
	case yokemate.Ohms:
		if o.y < insulator {
			b.leads(o, m)
		}
	case yokemate.Millivolts:
		o.scale(1e-3) // over 1 A
		o.add(b, "one ampere", false, currentSpread/math.Sqrt(3)*o.y)
		o.formula += "; 1.00 A ± 1 %"
	case yokemate.AmpsAC:
		if !m.TrueRMS {
			o.add(b, "average-responding "+m.Name, true, averageAmps*o.y)
			o.formula += "; average-responding on a peaky current ± 6 %"
		}
	}
	if r.Quantity == yokemate.Ohms && o.y < insulator || r.Quantity == yokemate.Millivolts {
		b.toTwenty(o)
	}
	o.used.Value, o.used.U, o.used.Formula = o.y, o.u(), o.formula
	k := b.coverage(o.terms)
	o.used.Low, o.used.High = o.y-k*o.u(), o.y+k*o.u()
	return o, nil
}

func (o *observation) add(b *bench, source string, normal bool, u float64) {
	if u != 0 {
		o.terms = append(o.terms, term{b.sources.of(source, normal), u})
	}
}

func (o *observation) scale(k float64) {
	o.y *= k
	for i := range o.terms {
		o.terms[i].u *= k
	}
}

// leads takes off what the touched probes read. That reading has an error of
// its own, the same in every reading it is taken from.
func (b *bench) leads(o *observation, m *yokemate.Meter) {
	lead := o.r.LeadOhms
	if lead == 0 {
		lead = m.LeadOhms
	}
	if lead > 0 {
		a, _ := accuracyOf(m, &yokemate.Reading{Quantity: yokemate.Ohms}, yokemate.Ohms, lead)
		o.y -= lead
		o.add(b, fmt.Sprintf("leads %s %g", m.Name, lead), false, -a.Fixed)
		o.formula += fmt.Sprintf("; leads %g Ω off", lead)
	}
	o.add(b, "contact "+o.r.ID, true, contactOhms)
}

// toTwenty brings copper to 20 °C: R₂₀ = R 254.5/(234.5 + T).
func (b *bench) toTwenty(o *observation) {
	t, bound, source := twenty, unwrittenK, "unwritten temperature"
	if o.r.Celsius != nil {
		t, bound = *o.r.Celsius, thermometerK
		source = fmt.Sprintf("thermometer %g", t)
		o.formula += fmt.Sprintf("; × 254.5/(234.5 + %g)", t)
	}
	if !(alphaBase+t > 0) {
		t, bound, source = twenty, unwrittenK, "unwritten temperature"
	}
	o.scale((alphaBase + twenty) / (alphaBase + t))
	o.add(b, source, false, o.y*bound/math.Sqrt(3)/(alphaBase+t))
}

// leave keeps an observation out, and says why.
func (b *bench) leave(o *observation, why string) {
	o.used.Left, o.used.Why = true, why
}

// coverage is the factor on the standard uncertainty that makes a 95 %
// interval: 1.96 when many causes add up, 1.65 for one rectangular cause alone.
//
// The excess kurtosis γ of the sum decides. For two rectangular causes the sum
// is a trapezoid and the factor closed; γ between a triangle's −0.6 and the
// normal's 0 is interpolated. The interval then holds 94 to 96 % (a test
// simulates mixtures).
func (b *bench) coverage(terms []term) float64 {
	merged := map[int]float64{}
	for _, t := range terms {
		merged[t.source] += t.u
	}
	v, k4 := 0.0, 0.0
	for s, u := range merged {
		v += u * u
		if !b.sources.normal[s] {
			k4 += u * u * u * u
		}
	}
	if v == 0 {
		return normal95
	}
	return coverageFactor(-1.2 * k4 / (v * v))
}

// Coverage combines standard uncertainties, of rectangular causes and of
// normal ones, into one, and gives the factor that makes a 95 % interval of it.
func Coverage(rectangular, normal []float64) (u, k float64) {
	v, k4 := 0.0, 0.0
	for _, x := range rectangular {
		v += x * x
		k4 += x * x * x * x
	}
	for _, x := range normal {
		v += x * x
	}
	if v == 0 {
		return 0, normal95
	}
	return math.Sqrt(v), coverageFactor(-1.2 * k4 / (v * v))
}

const normal95 = 1.959963984540054

func coverageFactor(gamma float64) float64 {
	const triangle = 1.9018 // (1 − √0.05) √6
	if gamma > -0.6 {
		return triangle + (normal95-triangle)*(1+gamma/0.6)
	}
	// γ = −1.2 (1 + q⁴)/(1 + q²)² of half widths 1 and q, solved for q².
	g := math.Min(-gamma/1.2, 1)
	q2 := 0.0
	if g < 1 {
		// g (1 + 2x + x²) = 1 + x²
		a, h := 1-g, g
		q2 = (h - math.Sqrt(math.Max(0, h*h-a*a))) / a
	}
	q := math.Sqrt(math.Min(q2, 1))
	x := 0.95 // in the flat part
	if x > 1-q {
		x = 1 + q - math.Sqrt(0.2*q)
	}
	return x / math.Sqrt((1+q*q)/3)
}

// fit solves the linear least squares y = A x with all errors of the
// observations, sharing included, and says which error moves which unknown.
type fit struct {
	x     []float64
	cov   []float64
	chi2  float64
	terms [][]term // per unknown
}

// covariance fills the m×m matrix of the observations' errors.
func covariance(terms [][]term, nsources int) []float64 {
	m := len(terms)
	c := make([]float64, m*m)
	row := make([]float64, nsources)
	for i := range m {
		clear(row)
		for _, t := range terms[i] {
			row[t.source] += t.u
		}
		for j := 0; j <= i; j++ {
			s := 0.0
			for _, t := range terms[j] {
				s += row[t.source] * t.u
			}
			c[i*m+j], c[j*m+i] = s, s
		}
	}
	return c
}

// solve returns the fit, or false when the observations do not settle every unknown.
func (b *bench) solve(a []float64, y []float64, terms [][]term, n int) (*fit, bool) {
	m := len(y)
	l := covariance(terms, len(b.sources.names))
	if !cholesky(l, m) {
		return nil, false
	}
	w := make([]float64, m*n) // column by column
	for j := range n {
		for i := range m {
			w[j*m+i] = a[i*n+j]
		}
		forward(l, m, m, w[j*m:(j+1)*m])
	}
	yw := slices.Clone(y)
	forward(l, m, m, yw)
	h := make([]float64, n*n)
	g := make([]float64, n)
	for i := range n {
		for j := range n {
			for k := range m {
				h[i*n+j] += w[i*m+k] * w[j*m+k]
			}
		}
		for k := range m {
			g[i] += w[i*m+k] * yw[k]
		}
	}
	if !cholesky(h, n) {
		return nil, false
	}
	f := &fit{x: slices.Clone(g), cov: inverse(h, n)}
	forward(h, n, n, f.x)
	backward(h, n, f.x)
	for k := range m {
		r := yw[k]
		for j := range n {
			r -= w[j*m+k] * f.x[j]
		}
		f.chi2 += r * r
	}
	// x = K y with K = (AᵀΣ⁻¹A)⁻¹AᵀΣ⁻¹.
	f.terms = make([][]term, n)
	k := make([]float64, m)
	for i := range n {
		clear(k)
		for j := range n {
			for r := range m {
				k[r] += f.cov[i*n+j] * w[j*m+r]
			}
		}
		backward(l, m, k)
		sum := map[int]float64{}
		for r := range m {
			for _, t := range terms[r] {
				sum[t.source] += k[r] * t.u
			}
		}
		for s, u := range sum {
			f.terms[i] = append(f.terms[i], term{s, u})
		}
		slices.SortFunc(f.terms[i], func(p, q term) int { return p.source - q.source })
	}
	return f, true
}
