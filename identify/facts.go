package identify

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
)

// estimate is a fitted number with the errors that move it.
type estimate struct {
	value, u  float64
	low, high float64
	terms     []term
	formula   string
}

// facts is what the likeliest alternative gives in numbers.
type facts struct {
	windings []yokemate.FoundWinding
	dots     []yokemate.FoundDot
	list     []yokemate.Fact
	unit     *yokemate.Unit
	notes    []yokemate.Note

	ohms  map[[2]int]estimate // wire, section along it
	volts map[[2]int]estimate // at the reference supply

	ids         map[[2]int]string
	wireID      []string
	mainsWire   int
	mainsVolts  float64
	mainsChance float64
	knee        knee
}

// knee is where the no-load current takes off.
type knee struct{ reached bool }

func (f *facts) ohmsOf(g, k int) (v, u float64, ok bool) {
	e, ok := f.ohms[[2]int{g, k}]
	return e.value, e.u, ok
}

// voltsAt is a section's volts with the source on the whole of a wire, and
// its relative uncertainty.
func (f *facts) voltsAt(g, k int, source float64, src int) (v, rel float64, ok bool) {
	e, ok := f.volts[[2]int{g, k}]
	if !ok {
		return 0, 0, false
	}
	sum := 0.0
	for i := 0; ; i++ {
		x, ok := f.volts[[2]int{src, i}]
		if !ok {
			break
		}
		sum += x.value
	}
	if sum == 0 {
		return 0, 0, false
	}
	return e.value * source / sum, e.u / e.value, true
}

func (f *facts) insulationRead(s *state, wire int) bool { return false }

func (s *state) estimate(x float64, terms []term) estimate {
	u := norm(terms)
	k := s.b.coverage(terms)
	return estimate{value: x, u: u, low: x - k*u, high: x + k*u, terms: terms}
}

// fitOhms fits the sections of every wire whose order stands on readings.
func (s *state) fitOhms(f *facts) {
	f.ohms = map[[2]int]estimate{}
	w := s.all[0].wiring
	for g, pins := range w.wires {
		n := len(pins) - 1
		if n < 1 || w.lines[g] == nil {
			continue
		}
		l := s.pieces.list[s.pieces.of[pins[0]]].line
		var a, y []float64
		var terms [][]term
		for i := range l.edges {
			e := &l.edges[i]
			if l.odd != nil && l.odd.o == e.o {
				continue
			}
			lo, hi := slices.Index(pins, e.a), slices.Index(pins, e.b)
			if lo > hi {
				lo, hi = hi, lo
			}
			row := make([]float64, n)
			for j := lo; j < hi; j++ {
				row[j] = 1
			}
			a = append(a, row...)
			y = append(y, e.o.y)
			terms = append(terms, e.o.terms)
		}
		if len(y) < n {
			continue
		}
		r, ok := s.b.solve(a, y, terms, n)
		if !ok {
			continue
		}
		for k := range n {
			f.ohms[[2]int{g, k}] = s.estimate(r.x[k], r.terms[k])
		}
	}
}

// fitVolts finds the uncertainty of the volts of the likeliest account.
func (s *state) fitVolts(f *facts) {
	f.volts = map[[2]int]estimate{}
	x := &s.all[0]
	if x.fit == nil || len(x.data.ac) == 0 {
		return
	}
	d := x.data
	n := len(d.of)
	lnv := make([]float64, n)
	for i, v := range x.fit.volts {
		lnv[i] = math.Log(v)
	}
	var a, y []float64
	var terms [][]term
	grad := make([]float64, n)
	for i := range d.ac {
		r := &d.ac[i]
		if r.o == x.amiss {
			continue
		}
		k := d.offset(r)
		y = append(y, r.o.y-k*d.expected(r, x.dots, lnv, grad))
		row := make([]float64, n)
		for j := range row {
			row[j] = k * grad[j]
		}
		a = append(a, row...)
		terms = append(terms, d.errors(s.b, r))
	}
	gauge := d.supplies[d.refer]
	sum := 0.0
	row := make([]float64, n)
	for i, c := range gauge.path {
		row[i] = float64(c*x.dots[d.of[i]]) * x.fit.volts[i]
		sum += row[i]
	}
	for i := range row {
		row[i] /= sum
	}
	a = append(a, row...)
	y = append(y, 0)
	terms = append(terms, []term{{s.b.sources.of("scale", true), 1e-5}})
	priors := make([]int, n)
	for i := range n {
		row := make([]float64, n)
		row[i] = 1
		a = append(a, row...)
		y = append(y, d.prior[i]-lnv[i])
		priors[i] = s.b.sources.of(fmt.Sprint("before volts were read ", i), true)
		terms = append(terms, []term{{priors[i], d.priorU[i]}})
	}
	r, ok := s.b.solve(a, y, terms, n)
	if !ok {
		return
	}
	for i := range n {
		g := d.of[i]
		// What only the prior says is no fact.
		own := 0.0
		for _, t := range r.terms[i] {
			if slices.Contains(priors, t.source) {
				own += t.u * t.u
			}
		}
		if own > 0.05*0.05 {
			continue
		}
		e := s.estimate(x.fit.volts[i], scaled(r.terms[i], x.fit.volts[i]))
		f.volts[[2]int{g, i - d.first[g]}] = e
	}
}

func scaled(t []term, k float64) []term {
	out := make([]term, len(t))
	for i := range t {
		out[i] = term{t[i].source, k * t[i].u}
	}
	return out
}

// facts gathers the numbers of the likeliest alternative.
func (s *state) facts() *facts {
	f := &facts{mainsWire: -1}
	s.fitOhms(f)
	s.fitVolts(f)
	s.name(f)
	return f
}

// name makes ids for the wires and their sections, and lists them.
func (s *state) name(f *facts) {
	x := &s.all[0]
	wires := x.wiring.wires
	f.ids = map[[2]int]string{}
	f.wireID = make([]string, len(wires))
	ref := s.reference()
	letter := 0
	for g, pins := range wires {
		if len(pins) < 2 {
			continue
		}
		id := "P"
		if g != f.mainsWire {
			id = string(rune('A' + letter))
			if id == "P" {
				letter++
				id = "Q"
			}
			letter++
		}
		f.wireID[g] = id
		n := len(pins) - 1
		if x.wiring.lines[g] == nil {
			continue
		}
		p := s.pinProbability(pins) * s.doubt
		run := slices.Clone(pins)
		if x.dots[g] < 0 {
			slices.Reverse(run)
		}
		for k := range n {
			sid := id
			if n > 1 {
				sid = fmt.Sprint(id, k+1)
			}
			at := k // section along the wire as wired
			if x.dots[g] < 0 {
				at = n - 1 - k
			}
			f.ids[[2]int{g, at}] = sid
			f.windings = append(f.windings, yokemate.FoundWinding{ID: sid, Wire: id, Probability: p,
				Pins: [2]string{s.b.pins[run[k]], s.b.pins[run[k+1]]}})
		}
		f.dots = append(f.dots, yokemate.FoundDot{Wire: id, Pin: s.b.pins[run[0]], Known: g == ref || !x.free[g] && !x.free[ref], Probability: s.alike(ref, g)})
	}
	slices.SortStableFunc(f.dots, func(a, b yokemate.FoundDot) int {
		switch {
		case a.Wire == f.wireID[ref] && b.Wire != a.Wire:
			return -1
		case b.Wire == f.wireID[ref] && b.Wire != a.Wire:
			return 1
		}
		return 0
	})
}

// reference is the wire the dots are told against.
func (s *state) reference() int {
	x := &s.all[0]
	ref := -1
	for g, pins := range x.wiring.wires {
		if len(pins) > 1 && (ref < 0 || x.free[ref] && !x.free[g]) {
			ref = g
		}
	}
	return max(ref, 0)
}
