package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/si"
)

// knee is where the no-load current takes off.
type knee struct {
	reached bool
	volts   float64 // across what was fed [V]
	hertz   float64
	rel     float64 // standard uncertainty of volts [1]
}

// The usual place of the knee (amps double for a tenth more volts): 5 to 15 %
// above what the unit was made for, common practice, no source; since that is
// the usual and not all, the band goes from 2 to 19 %.
const (
	kneeLeast = 1.02
	kneeUsual = 1.10
	kneeMost  = 1.19
)

// propagate is f at x with every error that moves it, by central differences.
func propagate(f func([]float64) float64, x []float64, terms [][]term) (float64, []term) {
	y := f(x)
	sum := map[int]float64{}
	p := slices.Clone(x)
	for i := range x {
		h := math.Max(1e-5*math.Abs(x[i]), 1e-12)
		p[i] = x[i] + h
		up := f(p)
		p[i] = x[i] - h
		d := (up - f(p)) / (2 * h)
		p[i] = x[i]
		for _, t := range terms[i] {
			sum[t.source] += d * t.u
		}
	}
	var out []term
	for s, u := range sum {
		out = append(out, term{s, u})
	}
	slices.SortFunc(out, func(a, b term) int { return a.source - b.source })
	return y, out
}

// idle is one no-load reading: the unit fed, everything open.
type idle struct {
	volts      float64
	voltsTerms []term
	amps       *observation
	watts      *observation
	hertz      float64
	path       []int
}

// idles pairs the no-load amps and watts by what fed the unit.
func (s *state) idles() []idle {
	x := &s.all[0]
	n := len(x.data.of)
	var out []idle
	for _, o := range s.b.obs {
		q := o.r.Quantity
		if o.used.Left || o.open || q != yokemate.AmpsAC && q != yokemate.Watts || len(o.r.Joined) > 0 || o.r.BurdenOhms > 0 {
			continue
		}
		path, _, why := s.b.fed(x.wiring, o, x.data.first, n)
		if why != "" {
			o.used.Why = why
			continue
		}
		v := o.r.Excited.Volts
		if !(v.V > 0) {
			o.used.Why = "it does not say the volts of the source"
			continue
		}
		hertz := o.r.Excited.Hertz
		if hertz == 0 {
			hertz = s.opt.Hertz
		}
		i := slices.IndexFunc(out, func(p idle) bool { return p.volts == v.V && p.hertz == hertz && slices.Equal(p.path, path) })
		if i < 0 {
			i = len(out)
			out = append(out, idle{volts: v.V, voltsTerms: s.b.sourceTerms(o, v), hertz: hertz, path: path})
		}
		if q == yokemate.AmpsAC {
			out[i].amps = o
		} else {
			out[i].watts = o
		}
	}
	return out
}

// excite makes the excitation facts: one entry a voltage, and where there are
// several, the curve with its knee.
func (s *state) excite(f *facts) {
	points := s.idles()
	x := &s.all[0]
	for _, p := range points {
		if p.amps == nil {
			continue
		}
		about := s.unitTag()
		e := s.estimate(p.amps.y, p.amps.terms)
		f.add(about, "no_load_amps", e, "A", yokemate.Measured, fmt.Sprintf("at %s %g Hz on %s", si.Format(p.volts, "V", 4), p.hertz, f.seriesWords(x, p.path)))
		if p.watts != nil {
			w := s.estimate(p.watts.y, p.watts.terms)
			f.add(about, "no_load_watts", w, "W", yokemate.Measured, fmt.Sprintf("at %s", si.Format(p.volts, "V", 4)))
			if sh, ok := OpenCircuit(p.volts, p.amps.y, p.watts.y); ok && !math.IsInf(sh.CoreOhms, 0) {
				for _, k := range []struct {
					name, formula string
					of            func(Shunt) float64
				}{
					{"core_ohms", fmt.Sprintf("V²/P = (%.4g V)²/%.4g W", p.volts, p.watts.y), func(s Shunt) float64 { return s.CoreOhms }},
					{"magnetising_ohms", fmt.Sprintf("V²/√((VI)² − P²) with %.4g V, %.4g A, %.4g W", p.volts, p.amps.y, p.watts.y), func(s Shunt) float64 { return s.MagOhms }},
				} {
					v, t := propagate(func(z []float64) float64 { sh, _ := OpenCircuit(z[0], z[1], z[2]); return k.of(sh) },
						[]float64{p.volts, p.amps.y, p.watts.y}, [][]term{p.voltsTerms, p.amps.terms, p.watts.terms})
					f.add(about, k.name, s.estimate(v, t), "Ω", yokemate.Measured, k.formula)
				}
			}
		}
	}
	s.fitKnee(f, points)
}

// fitKnee fits the core's curve to the no-load amps on one feed: amps = a ·
// RMS(V/V_top) of the power law of package core, with ln a free, and s and n
// from wide priors that the readings narrow.
func (s *state) fitKnee(f *facts, points []idle) {
	var use []idle
	for _, p := range points {
		if p.amps == nil {
			continue
		}
		if len(use) > 0 && (!slices.Equal(use[0].path, p.path) || use[0].hertz != p.hertz) {
			continue
		}
		use = append(use, p)
	}
	if len(use) < 3 {
		return
	}
	top := 0.0
	for _, p := range use {
		top = math.Max(top, p.volts)
	}
	model := func(v float64, x []float64) float64 {
		c := core.Saturation{S: math.Exp(x[1]), N: math.Exp(x[2])}
		return math.Exp(x[0]) * c.RMS(v/top)
	}
	const n = 3
	prior, priorU := []float64{0, 0, math.Log(9)}, []float64{0, 2.5, 0.1}
	sourceS, sourceN := s.b.sources.of("saturation before it was read", true), s.b.sources.of("power before it was read", true)
	x := []float64{math.Log(use[0].amps.y * top / use[0].volts), -1, math.Log(9)}
	// Volts' errors move the expected amps by the curve's slope.
	rows := func(x []float64) (a, y []float64, terms [][]term) {
		for _, p := range use {
			i := model(p.volts, x)
			slope := (model(1.001*p.volts, x) - model(0.999*p.volts, x)) / (0.002 * p.volts)
			t := slices.Clone(p.amps.terms)
			for _, v := range p.voltsTerms {
				t = append(t, term{v.source, -slope * v.u})
			}
			terms = append(terms, t)
			y = append(y, p.amps.y-i)
			for j := range n {
				h := 1e-5
				q := slices.Clone(x)
				q[j] += h
				up := model(p.volts, q)
				q[j] -= 2 * h
				a = append(a, (up-model(p.volts, q))/(2*h))
			}
		}
		for j, src := range []int{sourceS, sourceN} {
			row := make([]float64, n)
			row[j+1] = 1
			a = append(a, row...)
			y = append(y, prior[j+1]-x[j+1])
			terms = append(terms, []term{{src, priorU[j+1]}})
		}
		return a, y, terms
	}
	var last *fit
	converged := false
	for range 60 {
		a, y, terms := rows(x)
		r, ok := s.b.solve(a, y, terms, n)
		if !ok {
			return
		}
		last = r
		most := 0.0
		for j := range n {
			d := math.Max(-0.7, math.Min(0.7, r.x[j]))
			x[j] += d
			most = math.Max(most, math.Abs(d))
		}
		if most < 1e-7 {
			converged = true
			break
		}
	}
	if !converged {
		return
	}
	if chi2Tail(last.chi2, len(use)+2-n) < 1e-4 {
		f.note(yokemate.ReadingsDisagree, yokemate.Caution, s.unitTag(), "the no-load amps follow no core's curve: read them again on a true-rms meter, nothing connected to the outputs.")
		return
	}
	at := func(x []float64) float64 {
		return kneeVolts(core.Saturation{S: math.Exp(x[1]), N: math.Exp(x[2])}) * top
	}
	v, t := propagate(at, x, last.terms)
	e := s.estimate(v, t)
	hertz := use[0].hertz
	// Beyond a quarter above the last reading, or known to no better than 5 %, it is not reached.
	if !(v <= 1.25*top) || e.u > 0.05*v {
		safe := estimate{value: top / hertz, u: 0, low: top / hertz, high: math.Inf(1)}
		safe.high = safe.value
		f.add(s.unitTag(), "safe_volts_per_hertz", safe, "V/Hz", yokemate.Measured, fmt.Sprintf("no knee up to %.4g V: at least %.4g V/%g Hz", top, top, hertz))
		return
	}
	e.low = math.Max(e.low, 0)
	f.knee = knee{reached: true, volts: v, hertz: hertz, rel: e.u / v}
	f.add(s.unitTag(), "knee_volts", e, "V", yokemate.Measured, fmt.Sprintf("where the fitted no-load amps double for a tenth more volts, on %s at %g Hz", f.seriesWords(&s.all[0], use[0].path), hertz))
	design := estimate{value: v / kneeUsual, low: e.low / kneeMost, high: e.high / kneeLeast}
	design.u = (design.high - design.low) / (2 * normal95)
	f.add(s.unitTag(), "design_volts", design, "V", yokemate.Estimated, fmt.Sprintf("knee %.4g V over %.2f to %.2f (common practice)", v, kneeLeast, kneeMost))
	safe := estimate{value: design.low / hertz, u: design.u / hertz, low: design.low / hertz, high: design.value / hertz}
	f.add(s.unitTag(), "safe_volts_per_hertz", safe, "V/Hz", yokemate.Estimated, fmt.Sprintf("lowest design volts %.4g V/%g Hz", design.low, hertz))
}

// kneeVolts is the flux, over that at the curve's scale, where a tenth more
// doubles the current; +Inf where the curve has no such place.
func kneeVolts(c core.Saturation) float64 {
	grows := func(x float64) bool { return c.RMS(1.1*x) >= 2*c.RMS(x) }
	low, high := 1e-3, 1e4
	if !grows(high) {
		return math.Inf(1)
	}
	for high-low > 1e-10*high {
		mid := math.Sqrt(low * high)
		if grows(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// shorts makes the leakage facts from readings with a winding shorted.
func (s *state) shorts(f *facts) {
	x := &s.all[0]
	n := len(x.data.of)
	type test struct {
		fed, short  int
		volts       float64
		voltsTerms  []term
		amps, watts *observation
		hertz       float64
		ties        []string
	}
	var tests []test
	for _, o := range s.b.obs {
		q := o.r.Quantity
		if o.used.Left || o.open || q != yokemate.AmpsAC && q != yokemate.Watts || len(o.r.Joined) == 0 {
			continue
		}
		path, ties, why := s.b.fed(x.wiring, o, x.data.first, n)
		fed := -1
		if why == "" {
			fed = soleWire(path, x.data.of)
		}
		short := -1
		for _, t := range ties {
			g, h := x.wiring.wireOf(t[0]), x.wiring.wireOf(t[1])
			if g == h && wholeWire(x.wiring.wires[g], t) {
				short = g
			}
		}
		if fed < 0 || short < 0 || fed == short || !(o.r.Excited.Volts.V > 0) {
			o.used.Why = "a short-circuit reading needs one winding fed and another whole one tied at its ends"
			continue
		}
		v := o.r.Excited.Volts
		i := slices.IndexFunc(tests, func(t test) bool { return t.fed == fed && t.short == short && t.volts == v.V })
		if i < 0 {
			i = len(tests)
			hertz := o.r.Excited.Hertz
			if hertz == 0 {
				hertz = s.opt.Hertz
			}
			tests = append(tests, test{fed: fed, short: short, volts: v.V, voltsTerms: s.b.sourceTerms(o, v), hertz: hertz, ties: o.r.Joined})
		}
		if q == yokemate.AmpsAC {
			tests[i].amps = o
		} else {
			tests[i].watts = o
		}
	}
	for _, t := range tests {
		if t.amps == nil {
			continue
		}
		about := f.wireID[t.fed] + "/" + f.wireID[t.short]
		z, zt := propagate(func(v []float64) float64 { return v[0] / v[1] }, []float64{t.volts, t.amps.y}, [][]term{t.voltsTerms, t.amps.terms})
		f.add(about, "short_circuit_ohms", s.estimate(z, zt), "Ω", yokemate.Measured, fmt.Sprintf("V/I = %.4g V/%.4g A, with %s tied", t.volts, t.amps.y, strings.Join(t.ties, " and ")))
		var leak float64
		var lt []term
		if t.watts != nil {
			in := []float64{t.volts, t.amps.y, t.watts.y}
			ts := [][]term{t.voltsTerms, t.amps.terms, t.watts.terms}
			if _, ok := ShortCircuit(in[0], in[1], in[2]); !ok {
				f.note(yokemate.ReadingsDisagree, yokemate.Caution, about, "%.4g W is more than the %.4g VA of %.4g V and %.4g A: read them again.", in[2], in[0]*in[1], in[0], in[1])
				continue
			}
			r, rt := propagate(func(v []float64) float64 { q, _ := ShortCircuit(v[0], v[1], v[2]); return q.Ohms }, in, ts)
			f.add(about, "series_ohms", s.estimate(r, rt), "Ω", yokemate.Measured, fmt.Sprintf("P/I² = %.4g W/(%.4g A)²", in[2], in[1]))
			leak, lt = propagate(func(v []float64) float64 { q, _ := ShortCircuit(v[0], v[1], v[2]); return q.Leakage }, in, ts)
			f.add(about, "leakage_ohms", s.estimate(leak, lt), "Ω", yokemate.Measured, fmt.Sprintf("√(Z² − R²) = √(%.4g² − %.4g²)", z, r))
		} else {
			r, ok := f.referred(x, t.fed, t.short)
			if !ok || r.value >= z {
				continue
			}
			leak, lt = propagate(func(v []float64) float64 { return math.Sqrt(math.Max(0, v[0]*v[0]-v[1]*v[1])) }, []float64{z, r.value}, [][]term{zt, r.terms})
			f.add(about, "leakage_ohms", s.estimate(leak, lt), "Ω", yokemate.Estimated, fmt.Sprintf("√(Z² − R²) = √(%.4g² − %.4g²), R from the DC ohms", z, r.value))
		}
		if e := s.estimate(leak, lt); leak > 0 && e.u < leak {
			// Half of it on either side, the usual share (common practice, no source).
			if ratio, ok := f.ratio(x, t.short, t.fed); ok {
				h := 1e3 / (2 * 2 * math.Pi * t.hertz)
				f.leakage[t.fed] = estimate{value: leak * h, u: math.Hypot(e.u, 0.3*leak) * h}
				f.leakage[t.short] = estimate{value: leak * h * ratio * ratio, u: math.Hypot(e.u, 0.3*leak) * h * ratio * ratio}
			}
		}
	}
}

func wholeWire(pins []int, tie [2]int) bool {
	a, b := pins[0], pins[len(pins)-1]
	return tie == [2]int{a, b} || tie == [2]int{b, a}
}

// ratio is the volts of one whole wire over another's.
func (f *facts) ratio(x *weighed, g, h int) (float64, bool) {
	v, okV := f.wireVolts(x, g)
	w, okW := f.wireVolts(x, h)
	return v.value / w.value, okV && okW
}

// referred is the DC resistance of two wires seen from the first.
func (f *facts) referred(x *weighed, fed, short int) (estimate, bool) {
	ratio, ok := f.ratio(x, fed, short)
	a, okA := f.wireOhms(x, fed)
	b, okB := f.wireOhms(x, short)
	if !ok || !okA || !okB {
		return estimate{}, false
	}
	t := append(slices.Clone(a.terms), scaled(b.terms, ratio*ratio)...)
	return estimate{value: a.value + ratio*ratio*b.value, terms: t}, true
}

func (f *facts) wireOhms(x *weighed, g int) (estimate, bool) { return sumSections(f.ohms, x, g) }

func (f *facts) wireVolts(x *weighed, g int) (estimate, bool) { return sumSections(f.volts, x, g) }

func sumSections(m map[[2]int]estimate, x *weighed, g int) (estimate, bool) {
	var e estimate
	for k := range len(x.wiring.wires[g]) - 1 {
		s, ok := m[[2]int{g, k}]
		if !ok {
			return e, false
		}
		e.value += s.value
		e.terms = append(e.terms, s.terms...)
	}
	return e, e.value > 0
}

// loaded makes R_eq facts from volts read under a burden.
func (s *state) loaded(f *facts) {
	x := &s.all[0]
	for _, o := range s.b.obs {
		if o.used.Left || o.open || o.r.Quantity != yokemate.VoltsAC || o.r.BurdenOhms <= 0 || o.r.Excited == nil || !(o.r.Excited.Volts.V > 0) {
			continue
		}
		path, _, why := s.b.fed(x.wiring, o, x.data.first, len(x.data.of))
		from, okF := s.b.number[o.r.From]
		to, okT := s.b.number[o.r.To]
		if why != "" || !okF || !okT || x.data.refer < 0 || !slices.Equal(path, x.data.supplies[x.data.refer].path) {
			o.used.Why = "a loaded reading needs the no-load volts with the same winding fed"
			continue
		}
		g := x.wiring.wireOf(from)
		if g != x.wiring.wireOf(to) {
			o.used.Why = "its probes are not on one winding"
			continue
		}
		i, j := slices.Index(x.wiring.wires[g], from), slices.Index(x.wiring.wires[g], to)
		if i > j {
			i, j = j, i
		}
		var open estimate
		ok := true
		about := f.wireID[g]
		for k := i; k < j; k++ {
			e, have := f.volts[[2]int{g, k}]
			ok = ok && have
			open.value += e.value
			open.terms = append(open.terms, e.terms...)
			if j-i == 1 {
				about = f.ids[[2]int{g, k}]
			}
		}
		if !ok {
			continue
		}
		scale := o.r.Excited.Volts.V / x.data.supplies[x.data.refer].volts
		in := []float64{open.value * scale, o.y, o.r.BurdenOhms}
		burden := []term{{s.b.sources.of("burden", true), 0.01 * o.r.BurdenOhms}}
		v, t := propagate(func(z []float64) float64 { return LoadedOhms(z[0], z[1], z[2]) }, in, [][]term{scaled(open.terms, scale), o.terms, burden})
		f.add(about, "series_ohms", s.estimate(v, t), "Ω", yokemate.Measured, fmt.Sprintf("R (V₀/V − 1) = %.4g Ω (%.4g V/%.4g V − 1)", in[2], in[0], in[1]))
	}
}

// loops makes turns per volt from a test loop, read from "loop:10" for ten turns.
func (s *state) loops(f *facts) {
	x := &s.all[0]
	for _, o := range s.b.obs {
		name, isLoop := strings.CutPrefix(o.r.From, "loop:")
		if !isLoop || o.used.Left || o.open || o.r.Quantity != yokemate.VoltsAC {
			continue
		}
		turns, err := si.Parse(name, "")
		path, _, why := s.b.fed(x.wiring, o, x.data.first, len(x.data.of))
		if err != nil || !(turns > 0) || why != "" || !(o.y > 0) || !(o.r.Excited.Volts.V > 0) {
			o.used.Why = "a test loop is read from \"loop:10\" for ten turns, with a winding fed"
			continue
		}
		v := o.r.Excited.Volts
		scale := 1.0
		if x.data.refer >= 0 && slices.Equal(path, x.data.supplies[x.data.refer].path) {
			scale = x.data.supplies[x.data.refer].volts / v.V
		} else if x.data.refer >= 0 {
			o.used.Why = "the loop was read with another winding fed than the volts"
			continue
		}
		e, t := propagate(func(z []float64) float64 { return core.TurnsPerVolt(turns, z[0]*scale*v.V/z[1]) }, []float64{o.y, v.V}, [][]term{o.terms, s.b.sourceTerms(o, v)})
		f.turns = s.estimate(e, t)
		f.add(s.unitTag(), "turns_per_volt", f.turns, "1/V", yokemate.Measured, fmt.Sprintf("%g turns/%.4g V", turns, o.y*scale))
	}
}

func (s *state) unitTag() string { return s.b.unit.Tag }
