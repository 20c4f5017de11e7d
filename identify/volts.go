package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/core"
)

// Ratios and dots. All windings of a unit share one flux, so a reading is a
// sum of section volts, each with the sign of its wire's dot, scaled by the
// source. The unknowns are the sections' ln volts at one excitation; the dots
// are discrete.

// wiring is one way the pins may be wired: an alternative to be weighed.
type wiring struct {
	wires    [][]int // pins along each wire, pins alone included
	lines    []*order
	w        float64 // probability before the volts readings
	complete bool    // every wire's order stands on readings
}

// section numbers the sections of all wires: wire, place along it.
func (w *wiring) sections() (of []int, first []int) {
	for g, pins := range w.wires {
		first = append(first, len(of))
		for range len(pins) - 1 {
			of = append(of, g)
		}
	}
	return of, first
}

// supply is one way the unit was fed: the drop in the fed winding is the same
// for all its readings.
type supply struct {
	key   string
	path  []int // form over the sections
	volts float64
	n     int
}

// acReading is a volts reading with its forms over a wiring's sections, before
// dots: volts between the probes, and across the source.
type acReading struct {
	o              *observation
	form           []int
	source         []int
	volts          float64 // of the source
	terms          []term  // of the source [V]
	supply         int
	wires          int     // how many wires the form runs through
	turn           float64 // θ, of the other windings against the fed one [rad]
	fedByReference bool    // the source is on what the reference supply feeds
}

type kickReading struct {
	o            *observation
	form, source []int
}

// voltsData is every volts reading that a wiring can take.
type voltsData struct {
	wiring   *wiring
	of       []int // section → wire
	first    []int
	ac       []acReading
	kicks    []kickReading
	supplies []supply
	refer    int // the supply that the volts are given at
	prior    []float64
	priorU   []float64
	nsource  int
}

// chanceAmiss is how often a volts reading is not of what it says: a clip not
// made, the wrong pin (common practice, no source).
const (
	chanceAmiss     = 0.003
	chanceKickWrong = 0.02
)

// pinPair reads one entry of a series: "1:2", or a winding's id.
func (b *bench) pinPair(s string) (from, to int, ok bool) {
	x, y, ok := strings.Cut(s, ":")
	if !ok {
		w := b.unit.Winding(s)
		if w == nil {
			return 0, 0, false
		}
		x, y = w.Pins[0], w.Pins[1]
	}
	from, okF := b.number[x]
	to, okT := b.number[y]
	return from, to, okF && okT && from != to
}

// path is the form of the volts from one pin to another through wires and
// tied pins; false when nothing joins them.
func (w *wiring) path(from, to int, first []int, n int, ties [][2]int) ([]int, bool) {
	type step struct{ pin, prev, section, sign int }
	var queue []step
	queue = append(queue, step{pin: from, prev: -1, section: -1})
	seen := map[int]bool{from: true}
	for i := 0; i < len(queue); i++ {
		s := queue[i]
		if s.pin == to {
			form := make([]int, n)
			for j := i; j >= 0; j = queue[j].prev {
				if queue[j].section >= 0 {
					form[queue[j].section] += queue[j].sign
				}
			}
			return form, true
		}
		push := func(pin, section, sign int) {
			if !seen[pin] {
				seen[pin] = true
				queue = append(queue, step{pin, i, section, sign})
			}
		}
		for _, t := range ties {
			if t[0] == s.pin {
				push(t[1], -1, 0)
			} else if t[1] == s.pin {
				push(t[0], -1, 0)
			}
		}
		for g, pins := range w.wires {
			k := slices.Index(pins, s.pin)
			if k < 0 {
				continue
			}
			if k > 0 {
				push(pins[k-1], first[g]+k-1, -1)
			}
			if k+1 < len(pins) {
				push(pins[k+1], first[g]+k, 1)
			}
		}
	}
	return nil, false
}

func (w *wiring) wireOf(pin int) int {
	return slices.IndexFunc(w.wires, func(p []int) bool { return slices.Contains(p, pin) })
}

// shorted reports whether ties join two pins of one wire.
func (w *wiring) shorted(ties [][2]int) bool {
	for _, t := range ties {
		if w.wireOf(t[0]) == w.wireOf(t[1]) {
			return true
		}
	}
	return false
}

// fed resolves how a reading's unit was fed: the path of the source, and all ties.
func (b *bench) fed(w *wiring, o *observation, first []int, n int) (source []int, ties [][2]int, why string) {
	var joined []int
	for _, p := range o.r.Joined {
		if i, ok := b.number[p]; ok {
			joined = append(joined, i)
		}
	}
	for i := 1; i < len(joined); i++ {
		ties = append(ties, [2]int{joined[0], joined[i]})
	}
	x := o.r.Excited
	if x == nil || len(x.Series) == 0 {
		return nil, ties, "it does not say what fed the unit"
	}
	var start, last int
	for i, s := range x.Series {
		from, to, ok := b.pinPair(s)
		if !ok {
			return nil, ties, fmt.Sprintf("%q names no pair of pins of the unit", s)
		}
		if i == 0 {
			start = from
		} else {
			ties = append(ties, [2]int{last, from})
		}
		last = to
	}
	source, ok := w.path(start, last, first, n, ties)
	if !ok {
		return nil, ties, "the source is across pins that no wire joins"
	}
	return source, ties, ""
}

// gather makes the volts readings ready for a wiring.
func (b *bench) gather(w *wiring) *voltsData {
	d := &voltsData{wiring: w, refer: -1}
	d.of, d.first = w.sections()
	n := len(d.of)
	for _, o := range b.obs {
		q := o.r.Quantity
		if q != yokemate.VoltsAC && q != yokemate.Kick || o.used.Left || o.open {
			continue
		}
		if o.r.BurdenOhms > 0 {
			continue // a loaded reading: see the impedance
		}
		if strings.HasPrefix(o.r.From, "loop:") {
			continue
		}
		source, ties, why := b.fed(w, o, d.first, n)
		if why != "" {
			o.used.Why = why
			continue
		}
		if w.shorted(ties) {
			continue // a short-circuit reading: see the impedance
		}
		from, okF := b.number[o.r.From]
		to, okT := b.number[o.r.To]
		if !okF || !okT {
			o.used.Why = "its probes are not on pins of the unit"
			continue
		}
		form, ok := w.path(from, to, d.first, n, ties)
		if !ok {
			o.used.Why = "nothing joins the pins between the probes: a ghost reading"
			continue
		}
		if q == yokemate.Kick {
			d.kicks = append(d.kicks, kickReading{o, form, source})
			continue
		}
		v := o.r.Excited.Volts
		if !(v.V > 0) {
			o.used.Why = "it does not say the volts of the source"
			continue
		}
		r := acReading{o: o, form: form, source: source, volts: v.V}
		r.terms = b.sourceTerms(o, v)
		seen := map[int]bool{}
		for s, c := range form {
			if c != 0 {
				seen[d.of[s]] = true
			}
		}
		r.wires = len(seen)
		key := fmt.Sprint(source, o.r.Excited.Hertz, math.Round(4*math.Log(v.V)))
		r.supply = slices.IndexFunc(d.supplies, func(s supply) bool { return s.key == key })
		if r.supply < 0 {
			r.supply = len(d.supplies)
			d.supplies = append(d.supplies, supply{key: key, path: source, volts: v.V})
		}
		d.supplies[r.supply].n++
		d.ac = append(d.ac, r)
	}
	for i, s := range d.supplies {
		if d.refer < 0 || s.volts > d.supplies[d.refer].volts && s.volts > 60 || s.n > d.supplies[d.refer].n && d.supplies[d.refer].volts <= 60 {
			d.refer = i
		}
	}
	d.nsource = len(b.sources.names)
	d.setPrior(b)
	for i := range d.ac {
		r := &d.ac[i]
		if r.wires > 1 && overlap(r.form, r.source) {
			mean, _ := d.drop(d.supplies[r.supply])
			r.turn = 2 * mean // the drop's quadrature part is the larger
		}
		r.fedByReference = overlap(r.source, d.supplies[d.refer].path)
	}
	return d
}

func overlap(form, source []int) bool {
	for i, c := range form {
		if c != 0 && source[i] != 0 {
			return true
		}
	}
	return false
}

// sourceTerms are the errors of the source's volts, as they move the expected reading.
func (b *bench) sourceTerms(o *observation, v yokemate.Value) []term {
	if v.Basis != yokemate.AsRead {
		return []term{{b.sources.of(fmt.Sprintf("source %s %g", o.r.Excited.Series, v.V), true), v.U}}
	}
	m, err := b.meterOf(o.r)
	if err != nil {
		return nil
	}
	a, _ := accuracyOf(m, &yokemate.Reading{Quantity: yokemate.VoltsAC}, yokemate.VoltsAC, v.V)
	return []term{
		{b.sources.of("gain "+a.Group, false), a.Gain * v.V},
		{b.sources.of("own source "+o.r.ID, false), a.Fixed},
	}
}

// setPrior: before they are read, volts follow the root of the ohms between
// wires (like VA each) and the ohms within one; 0.9 in ln either way (common practice, no source).
func (d *voltsData) setPrior(b *bench) {
	n := len(d.of)
	d.prior = make([]float64, n+len(d.supplies))
	d.priorU = make([]float64, n+len(d.supplies))
	for e := range d.supplies {
		d.prior[n+e], d.priorU[n+e] = d.drop(d.supplies[e])
	}
	if d.refer < 0 {
		return
	}
	s := d.supplies[d.refer]
	ohms := make([]float64, len(d.wiring.wires))
	for g, l := range d.wiring.lines {
		if l != nil {
			for _, r := range l.ohms {
				ohms[g] += r
			}
		}
		ohms[g] = math.Max(ohms[g], 0.02)
	}
	fed, total := 0.0, 0.0
	for i, c := range s.path {
		if c != 0 {
			g := d.of[i]
			part := d.part(i, ohms[g])
			fed += part * math.Sqrt(ohms[g])
			total += part * ohms[g]
		}
	}
	if fed == 0 {
		fed = 1
	}
	for i := range n {
		g := d.of[i]
		d.prior[i] = math.Log(s.volts * math.Sqrt(ohms[g]) * d.part(i, ohms[g]) / fed)
		d.priorU[i] = 0.9
	}
}

// part is the share of a section in its wire's ohms.
func (d *voltsData) part(section int, wireOhms float64) float64 {
	g := d.of[section]
	l := d.wiring.lines[g]
	k := len(d.wiring.wires[g]) - 1
	if l == nil || !(wireOhms > 0.02*float64(k)) {
		return 1 / float64(k)
	}
	return math.Max(l.ohms[section-d.first[g]]/wireOhms, 0.02)
}

// drop is how far a fed winding's terminal volts may stand above what it
// induces: the in-phase part of I₀R, from what units of its size are like.
func (d *voltsData) drop(s supply) (mean, u float64) {
	ohms := 0.0
	for i, c := range s.path {
		if c != 0 {
			if l := d.wiring.lines[d.of[i]]; l != nil {
				ohms += l.ohms[i-d.first[d.of[i]]]
			}
		}
	}
	q := 0.03
	if ohms > 0.5 {
		// A winding of so many ohms, were it a mains winding: 170 V is between 120 and 230.
		if va, err := core.VAFromOhms("", []core.Coil{{Volts: 170, Ohms: ohms}}, nil); err == nil {
			q = core.Exciting("EI", va.Best).Best * core.Regulation("EI", va.Best).Best / 2.4
		}
	}
	q = math.Min(q, 0.15)
	return 0.4 * q, 0.3 * q
}

// voltsFit is the least-squares answer for one choice of dots.
type voltsFit struct {
	dots  []int // per wire
	ln    float64
	chi2  float64
	x     []float64 // ln volts of the sections, then drops of the supplies
	volts []float64 // per section, at the reference supply
	data  *voltsData
}

// expected is what a reading should show, and its derivative by each unknown:
// the ln volts of the sections, then the drop of each supply. With a and b the
// volts in the fed wires and in the others, which the exciting drop turns by θ,
// it shows |a + b e^{−jθ}| = √((a + b)² − a b θ²). Equation (I11).
//
// The volts are those at the reference supply: terminal volts in what it feeds,
// which stand above the induced ones by its drop, and induced volts in the rest.
func (d *voltsData) expected(r *acReading, dots []int, x []float64, grad []float64) float64 {
	n := len(d.of)
	clear(grad)
	refer := d.supplies[d.refer].path
	own, base := n+r.supply, n+d.refer
	ln := -x[own]
	fedToo := r.fedByReference
	if fedToo {
		ln += x[base]
	}
	k, kRefer := math.Exp(ln), math.Exp(ln-x[base])
	a, b, s, bRefer := 0.0, 0.0, 0.0, 0.0
	for i := range n {
		if r.form[i] == 0 && r.source[i] == 0 {
			continue
		}
		v := math.Exp(x[i]) * float64(dots[d.of[i]])
		switch {
		case r.source[i] != 0:
			a += float64(r.form[i]) * v
			s += float64(r.source[i]) * v
		case refer[i] != 0:
			bRefer += kRefer * float64(r.form[i]) * v
		default:
			b += k * float64(r.form[i]) * v
		}
	}
	b += bRefer
	if s == 0 {
		return 0
	}
	turn := r.turn * r.turn
	y := math.Sqrt(math.Max((a+b)*(a+b)-a*b*turn, 1e-18*s*s))
	scale := r.volts / math.Abs(s)
	da, db := (a+b-b*turn/2)/y, (a+b-a*turn/2)/y
	for i := range n {
		if r.form[i] == 0 && r.source[i] == 0 {
			continue
		}
		v := math.Exp(x[i]) * float64(dots[d.of[i]])
		switch {
		case r.source[i] != 0:
			grad[i] = scale * (da*float64(r.form[i])*v - float64(r.source[i])*v*y/s)
		case refer[i] != 0:
			grad[i] = scale * db * kRefer * float64(r.form[i]) * v
		default:
			grad[i] = scale * db * k * float64(r.form[i]) * v
		}
	}
	grad[own] -= scale * db * b
	if fedToo {
		grad[base] += scale * db * b
	}
	grad[base] -= scale * db * bRefer
	return scale * y
}

// errors are the terms of a reading and of the source behind it, in volts of
// the reading.
func (d *voltsData) errors(b *bench, r *acReading) []term {
	t := slices.Clone(r.o.terms)
	y := r.o.y
	for _, s := range r.terms {
		t = append(t, term{s.source, -s.u * y / r.volts})
	}
	if r.turn > 0 {
		// θ² is known to a factor of about two and a half.
		a, least := r.volts, r.turn*r.volts
		t = append(t, term{b.sources.of("turn "+d.supplies[r.supply].key, true), 1.5 * r.turn * r.turn * a * math.Abs(y-a) / (2 * math.Max(y, least))})
	}
	return t
}

// prepared is what the fits of all dots have in common.
type prepared struct {
	use    []acReading
	chol   []float64
	terms  [][]term
	lnNorm float64
}

func (d *voltsData) prepare(b *bench, without int) (*prepared, bool) {
	p := &prepared{}
	for i := range d.ac {
		if i == without {
			continue
		}
		p.use = append(p.use, d.ac[i])
		p.terms = append(p.terms, d.errors(b, &d.ac[i]))
	}
	m := len(p.use)
	p.chol = covariance(p.terms, len(b.sources.names))
	for i := range m {
		// Noise below a display's last digit keeps the matrix definite.
		p.chol[i*m+i] += 1e-12 * (1 + p.use[i].o.y*p.use[i].o.y)
	}
	if !cholesky(p.chol, m) {
		return nil, false
	}
	p.lnNorm = -lnDet(p.chol, m, m)/2 - float64(m)/2*math.Log(2*math.Pi)
	return p, true
}

// fitDots fits the volts for one choice of dots. branch tells which of two
// answers an opposed reading starts from: the unread winding below the other, or above.
func (d *voltsData) fitDots(b *bench, p *prepared, dots []int, branch int) *voltsFit {
	sections, m := len(d.of), len(p.use)
	n := len(d.prior) // unknowns
	x := d.start(p, dots, branch)
	grad := make([]float64, n)
	jac := make([]float64, n*m) // column by column, whitened
	res := make([]float64, m)
	h := make([]float64, n*n)
	g := make([]float64, n)
	gauge := d.supplies[d.refer]
	gaugeRow := make([]float64, n)
	objective := func(x []float64) (float64, float64) {
		for i := range m {
			res[i] = p.use[i].o.y - d.expected(&p.use[i], dots, x, grad)
		}
		forward(p.chol, m, m, res)
		c := 0.0
		for _, r := range res {
			c += r * r
		}
		pr := 0.0
		for i := range n {
			z := (x[i] - d.prior[i]) / d.priorU[i]
			pr += z * z
		}
		return c, pr
	}
	// The scale is set by the fed winding's volts being the source's.
	gaugeAt := func(x []float64) float64 {
		s := 0.0
		for i := range sections {
			v := math.Exp(x[i]) * float64(gauge.path[i]*dots[d.of[i]])
			s += v
			gaugeRow[i] = v
		}
		for i := range sections {
			gaugeRow[i] /= s
		}
		return math.Log(math.Abs(s) / gauge.volts)
	}
	const gaugeWeight = 1e8 // 1/(1e-4)²
	chi2, prior := objective(x)
	best := chi2 + prior + gaugeWeight*math.Pow(gaugeAt(x), 2)
	var inv []float64
	for range 30 {
		for i := range m {
			d.expected(&p.use[i], dots, x, grad)
			res[i] = p.use[i].o.y - d.expected(&p.use[i], dots, x, grad)
			for j := range n {
				jac[j*m+i] = grad[j]
			}
		}
		forward(p.chol, m, m, res)
		for j := range n {
			forward(p.chol, m, m, jac[j*m:(j+1)*m])
		}
		ga := gaugeAt(x)
		for i := range n {
			for j := 0; j <= i; j++ {
				s := gaugeWeight * gaugeRow[i] * gaugeRow[j]
				for k := range m {
					s += jac[i*m+k] * jac[j*m+k]
				}
				h[i*n+j], h[j*n+i] = s, s
			}
			h[i*n+i] += 1 / (d.priorU[i] * d.priorU[i])
			g[i] = -gaugeWeight*ga*gaugeRow[i] - (x[i]-d.prior[i])/(d.priorU[i]*d.priorU[i])
			for k := range m {
				g[i] += jac[i*m+k] * res[k]
			}
		}
		if !cholesky(h, n) {
			break
		}
		inv = h
		forward(h, n, n, g)
		backward(h, n, g)
		step, moved := 1.0, false
		for range 12 {
			y := make([]float64, n)
			for i := range n {
				y[i] = x[i] + step*math.Max(-1.5, math.Min(1.5, g[i]))
			}
			c, pr := objective(y)
			f := c + pr + gaugeWeight*math.Pow(gaugeAt(y), 2)
			if f <= best+1e-12 {
				moved = best-f > 1e-9
				x, best, chi2, prior = y, f, c, pr
				break
			}
			step /= 2
		}
		if !moved {
			break
		}
	}
	f := &voltsFit{dots: slices.Clone(dots), chi2: chi2, data: d, x: x, volts: make([]float64, sections)}
	for i := range sections {
		f.volts[i] = math.Exp(x[i])
	}
	f.ln = math.Inf(-1)
	if inv != nil {
		f.ln = p.lnNorm - (chi2+prior)/2 - lnDet(inv, n, n)/2
		for i := range n {
			f.ln -= math.Log(d.priorU[i])
		}
	}
	return f
}

// start guesses the volts: read ones as read, the others from the prior.
func (d *voltsData) start(p *prepared, dots []int, branch int) []float64 {
	x := slices.Clone(d.prior)
	gauge := d.supplies[d.refer]
	wires := len(d.wiring.wires)
	scale := func(r *acReading) float64 { return gauge.volts / r.volts }
	wireVolts := func(g int, form []int) float64 {
		s := 0.0
		for i, c := range form {
			if c != 0 && d.of[i] == g {
				s += float64(c) * math.Exp(x[i])
			}
		}
		return math.Abs(s)
	}
	setWire := func(g int, form []int, volts float64) {
		if s := wireVolts(g, form); s > 0 && volts > 0 {
			for i := range d.of {
				if d.of[i] == g && form[i] != 0 {
					x[i] += math.Log(volts / s)
				}
			}
		}
	}
	known := make([]bool, wires)
	for i, c := range gauge.path {
		if c != 0 && !known[d.of[i]] {
			known[d.of[i]] = true
		}
	}
	// One wire fed: its sections sum to the source.
	if only := soleWire(gauge.path, d.of); only >= 0 {
		setWire(only, gauge.path, gauge.volts)
	}
	for i := range p.use {
		r := &p.use[i]
		if g := soleWire(r.form, d.of); g >= 0 && slices.Equal(r.source, gauge.path) && r.o.y > 0 {
			setWire(g, r.form, r.o.y*scale(r))
			known[g] = true
		}
	}
	for i := range p.use {
		r := &p.use[i]
		if r.wires != 2 || !slices.Equal(r.source, gauge.path) {
			continue
		}
		var a, b = -1, -1
		for s, c := range r.form {
			if c != 0 {
				if g := d.of[s]; known[g] {
					a = g
				} else {
					b = g
				}
			}
		}
		if a < 0 || b < 0 {
			continue
		}
		w, y := wireVolts(a, r.form), r.o.y*scale(r)
		v := y - w
		if d.opposed(r.form, a, b, dots) {
			v = w - y
			if branch == 1 {
				v = w + y
			}
		}
		setWire(b, r.form, math.Max(v, 1e-3*w))
		known[b] = true
	}
	return x
}

// opposed reports whether a form runs against the dot in one of two wires.
func (d *voltsData) opposed(form []int, a, b int, dots []int) bool {
	sa, sb := 0, 0
	for i, c := range form {
		if c != 0 && d.of[i] == a {
			sa = c * dots[a]
		}
		if c != 0 && d.of[i] == b {
			sb = c * dots[b]
		}
	}
	return sa*sb < 0
}

func soleWire(form, of []int) int {
	g := -1
	for i, c := range form {
		if c == 0 {
			continue
		}
		if g >= 0 && g != of[i] {
			return -1
		}
		g = of[i]
	}
	return g
}

// lnKicks is the log probability of the kicks for the dots.
func (d *voltsData) lnKicks(dots []int) float64 {
	ln := 0.0
	sign := func(form []int) int {
		for i, c := range form {
			if c != 0 {
				return c * dots[d.of[i]]
			}
		}
		return 0
	}
	for _, k := range d.kicks {
		s := sign(k.form) * sign(k.source)
		switch {
		case k.o.y == 0 || s == 0:
		case (k.o.y > 0) == (s > 0):
			ln += math.Log(1 - chanceKickWrong)
		default:
			ln += math.Log(chanceKickWrong)
		}
	}
	return ln
}

// spoken marks the wires whose dots some reading may tell.
func (d *voltsData) spoken() []bool {
	s := make([]bool, len(d.wiring.wires))
	mark := func(form []int) {
		for i, c := range form {
			if c != 0 {
				s[d.of[i]] = true
			}
		}
	}
	for _, r := range d.ac {
		w := map[int]bool{}
		for i := range r.form {
			if r.form[i] != 0 || r.source[i] != 0 {
				w[d.of[i]] = true
			}
		}
		if r.wires > 1 || len(w) > 1 && soleWire(r.source, d.of) < 0 {
			mark(r.form)
			mark(r.source)
		}
	}
	for _, k := range d.kicks {
		mark(k.form)
		mark(k.source)
	}
	return s
}

// weighed is one wiring with one choice of dots.
type weighed struct {
	wiring  *wiring
	data    *voltsData
	fit     *voltsFit // nil without volts readings
	dots    []int
	free    []bool // wires whose dot no reading tells
	ln      float64
	w       float64
	amiss   *observation // the reading taken to be amiss in the likeliest account; nil when none is
	without *voltsFit
}

// weigh weighs every choice of dots that the readings can tell apart.
func (b *bench) weigh(w *wiring) []weighed {
	d := b.gather(w)
	wires := len(w.wires)
	ones := make([]int, wires)
	for i := range ones {
		ones[i] = 1
	}
	spoken := d.spoken()
	var vary []int
	firstSpoken := true
	for g, s := range spoken {
		if s {
			if !firstSpoken {
				vary = append(vary, g)
			}
			firstSpoken = false
		}
	}
	free := make([]bool, wires)
	for g := range free {
		free[g] = !spoken[g]
	}
	lnw := math.Log(w.w)
	if len(d.ac) == 0 && len(d.kicks) == 0 {
		return []weighed{{wiring: w, data: d, dots: ones, free: free, ln: lnw}}
	}
	var full *prepared
	if len(d.ac) > 0 {
		var ok bool
		if full, ok = d.prepare(b, -1); !ok {
			return nil
		}
	}
	var out []weighed
	for mask := range 1 << len(vary) {
		dots := slices.Clone(ones)
		for i, g := range vary {
			if mask>>i&1 == 1 {
				dots[g] = -1
			}
		}
		x := weighed{wiring: w, data: d, dots: dots, free: free}
		x.ln = lnw + d.lnKicks(dots) - float64(len(vary))*math.Ln2
		if full != nil {
			f := d.fitBoth(b, full, dots)
			x.fit = f
			x.ln += f.ln + float64(len(d.ac))*math.Log1p(-chanceAmiss)
		}
		out = append(out, x)
	}
	if full != nil {
		d.addAmiss(b, out)
	}
	return out
}

// fitBoth fits from both starts and sums what they weigh.
func (d *voltsData) fitBoth(b *bench, p *prepared, dots []int) *voltsFit {
	f := d.fitDots(b, p, dots, 0)
	if !d.ambiguous(p) {
		return f
	}
	g := d.fitDots(b, p, dots, 1)
	if g.ln > f.ln {
		f, g = g, f
	}
	far := false
	for i := range f.volts {
		far = far || math.Abs(math.Log(f.volts[i]/g.volts[i])) > 1e-3
	}
	if far {
		f.ln = lnSum(f.ln, g.ln)
	}
	return f
}

// ambiguous reports whether an opposed reading has an unread wire in it.
func (d *voltsData) ambiguous(p *prepared) bool {
	direct := make([]bool, len(d.wiring.wires))
	if g := soleWire(d.supplies[d.refer].path, d.of); g >= 0 {
		direct[g] = true
	}
	for i := range p.use {
		if g := soleWire(p.use[i].form, d.of); g >= 0 {
			direct[g] = true
		}
	}
	for i := range p.use {
		r := &p.use[i]
		if r.wires < 2 {
			continue
		}
		for s, c := range r.form {
			if c != 0 && !direct[d.of[s]] {
				return true
			}
		}
	}
	return false
}

// addAmiss allows for one reading that is not of what it says. Readings
// through several wires always; the others too when the likeliest account
// does not fit.
func (d *voltsData) addAmiss(b *bench, out []weighed) {
	bestLn, best := math.Inf(-1), 0
	whole := make([]float64, len(out))
	for i := range out {
		whole[i] = out[i].ln
		if out[i].ln > bestLn {
			bestLn, best = out[i].ln, i
		}
	}
	dof := max(len(d.ac)-len(d.of)+1, 1)
	poor := chi2Tail(out[best].fit.chi2, dof) < 1e-3
	likeliest := slices.Clone(whole)
	for i := range d.ac {
		if d.ac[i].wires < 2 && !poor {
			continue
		}
		p, ok := d.prepare(b, i)
		if !ok {
			continue
		}
		span := d.ac[i].o.y
		for _, r := range d.ac {
			span = math.Max(span, 2*r.volts)
		}
		for j := range out {
			if whole[j] < bestLn-25 && !poor {
				continue
			}
			f := d.fitBoth(b, p, out[j].dots)
			ln := whole[j] - out[j].fit.ln - math.Log1p(-chanceAmiss) + f.ln + math.Log(chanceAmiss/span)
			if ln > likeliest[j] {
				likeliest[j] = ln
				out[j].amiss = d.ac[i].o
				out[j].without = f
			}
			out[j].ln = lnSum(out[j].ln, ln)
		}
	}
	for j := range out {
		if out[j].without != nil {
			ln := out[j].fit.ln
			out[j].fit = out[j].without
			out[j].fit.ln = ln
		}
	}
}
