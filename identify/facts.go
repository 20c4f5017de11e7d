package identify

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/core"
)

// estimate is a fitted number with the errors that move it.
type estimate struct {
	value, u  float64
	low, high float64
	terms     []term
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
	mainsChance float64 // of these volts
	sideChance  float64 // of this wire, whatever the volts
	knee        knee
	guesses     []mainsGuess
	ohmsWire    int              // most ohms, where volts are not read
	twin        int              // the other of two like mains coils, -1 when there is none
	leakage     map[int]estimate // of a whole wire [mH]
	turns       estimate         // per volt at the reference supply
	va          core.Band
	amps        map[int]core.Band
	insulation  []yokemate.Insulation
	proven      map[[2]int]bool // insulation between two wires, -1 the core
}

func (f *facts) add(about, name string, e estimate, unit string, basis yokemate.Basis, formula string) {
	f.list = append(f.list, yokemate.Fact{About: about, Name: name, Value: e.value, U: e.u, Low: e.low, High: e.high, Unit: unit, Basis: basis, Formula: formula})
}

func (f *facts) band(about, name string, b core.Band, unit string) {
	f.list = append(f.list, yokemate.Fact{About: about, Name: name, Value: b.Best, U: b.LnSigma() * b.Best, Low: b.Low, High: b.High, Unit: unit, Basis: yokemate.Estimated, Formula: b.Formula + " (" + b.Basis + ")"})
}

func (f *facts) note(code yokemate.NoteCode, level yokemate.Level, about, format string, args ...any) {
	f.notes = append(f.notes, yokemate.Note{Code: code, Level: level, About: about, Words: fmt.Sprintf(format, args...)})
}

// seriesWords names what a path runs through.
func (f *facts) seriesWords(x *weighed, path []int) string {
	var ids []string
	for i, c := range path {
		if c != 0 {
			g := x.data.of[i]
			ids = append(ids, f.ids[[2]int{g, i - x.data.first[g]}])
		}
	}
	return list(ids)
}

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
	n := len(d.prior)
	var a, y []float64
	var terms [][]term
	for i := range d.ac {
		r := &d.ac[i]
		if r.o == x.amiss {
			continue
		}
		grad := make([]float64, n)
		y = append(y, r.o.y-d.expected(r, x.dots, x.fit.x, grad))
		a = append(a, grad...)
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
	var priors []int
	for i := range n {
		row := make([]float64, n)
		row[i] = 1
		a = append(a, row...)
		y = append(y, d.prior[i]-x.fit.x[i])
		what := "before volts were read "
		if i >= len(d.of) {
			what = "drop of a supply "
		}
		src := s.b.sources.of(fmt.Sprint(what, i), true)
		if i < len(d.of) {
			priors = append(priors, src)
		}
		terms = append(terms, []term{{src, d.priorU[i]}})
	}
	r, ok := s.b.solve(a, y, terms, n)
	if !ok {
		return
	}
	for i := range d.of {
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
	f := &facts{mainsWire: -1, ohmsWire: -1, twin: -1, leakage: map[int]estimate{}, amps: map[int]core.Band{}}
	s.fitOhms(f)
	s.fitVolts(f)
	x := &s.all[0]
	f.wireID = make([]string, len(x.wiring.wires))
	settled := x.wiring.complete && s.structure() >= 0.5
	if settled {
		s.name(f)
		s.excite(f) // the knee bears on the mains side, and that on the names
		f.list, f.notes = nil, nil
		s.settleMains(f)
	}
	s.name(f)
	if !settled {
		return f
	}
	s.listMeasured(f)
	s.excite(f)
	s.shorts(f)
	s.loaded(f)
	s.loops(f)
	s.readInsulation(f)
	s.rate(f)
	if s.structure() >= s.opt.Confidence {
		f.unit = s.shelf(f)
	}
	return f
}

// listMeasured lists ohms and volts of every section.
func (s *state) listMeasured(f *facts) {
	x := &s.all[0]
	for g, pins := range x.wiring.wires {
		for k := range len(pins) - 1 {
			key := [2]int{g, k}
			id := f.ids[key]
			if e, ok := f.ohms[key]; ok && e.value > 2*e.u {
				f.add(id, "ohms", e, "Ω", yokemate.Measured, fmt.Sprintf("%s to %s at 20 °C, of all readings of the wire", s.b.pins[pins[k]], s.b.pins[pins[k+1]]))
			}
			if e, ok := f.volts[key]; ok {
				src := x.data.supplies[x.data.refer]
				f.add(id, "volts", e, "V", yokemate.Measured, fmt.Sprintf("with %s on %s", voltsText(src.volts), f.seriesWords(x, src.path)))
			}
		}
	}
	if f.mainsWire < 0 || len(f.guesses) == 0 {
		return
	}
	// What they would be on the likeliest mains.
	q := f.guesses[0]
	side := 0.0
	for k := q.from; k < q.to; k++ {
		side += f.volts[[2]int{q.wire, k}].value
	}
	if q.twin >= 0 {
		side *= 2
	}
	scale := q.volts / side
	_, drop := x.data.drop(x.data.supplies[x.data.refer])
	for g, pins := range x.wiring.wires {
		if g == f.mainsWire {
			continue
		}
		for k := range len(pins) - 1 {
			if e, ok := f.volts[[2]int{g, k}]; ok {
				v := e.value * scale
				u := math.Hypot(e.u*scale, drop*v)
				f.add(f.ids[[2]int{g, k}], "volts_at_mains", estimate{value: v, u: u, low: v - normal95*u, high: v + normal95*u}, "V", yokemate.Estimated,
					fmt.Sprintf("%.4g V × %g V/%.4g V, if the mains side is for %g V", e.value, q.volts, side, q.volts))
			}
		}
	}
}

// readInsulation sorts the tester's readings.
func (s *state) readInsulation(f *facts) {
	x := &s.all[0]
	end := func(name string) (string, int, bool) {
		if name == yokemate.CorePin {
			return name, -1, true
		}
		p, ok := s.b.number[name]
		if !ok {
			return "", -1, false
		}
		g := x.wiring.wireOf(p)
		return f.wireID[g], g, f.wireID[g] != ""
	}
	proven := map[[2]int]bool{}
	for _, o := range s.b.obs {
		if o.r.Quantity != yokemate.Megohms || o.used.Left {
			continue
		}
		a, g, okA := end(o.r.From)
		b, h, okB := end(o.r.To)
		if !okA || !okB || g == h {
			o.used.Why = "it does not run between two windings, or one and the core"
			continue
		}
		v := o.y
		if o.over > 0 {
			v = o.over
		}
		if o.open {
			v = 2000
		}
		f.insulation = append(f.insulation, yokemate.Insulation{From: a, To: b, Megohms: yokemate.PlusMinus(v, 0.1*v, yokemate.Measured), TestVolts: 500, Seconds: 60})
		proven[[2]int{g, h}], proven[[2]int{h, g}] = v >= 2, v >= 2
		switch {
		case v < 2:
			f.note(yokemate.NotProven, yokemate.Stop, s.unitTag(), "%.3g MΩ between %s and %s: a reject (below 2 MΩ, common practice). Dry the unit and read again.", v, a, b)
		case v < 100:
			f.note(yokemate.NotProven, yokemate.Caution, s.unitTag(), "%.3g MΩ between %s and %s: dry the unit and read again; 100 MΩ and more passes (common practice).", v, a, b)
		}
	}
	f.proven = proven
	if len(f.insulation) == 0 && s.multi() > 0 {
		f.note(yokemate.InsulationUnknown, yokemate.Caution, s.unitTag(), "the insulation has not been read with a tester: an ohmmeter's few volts do not prove it.")
	}
}

// insulationRead reports whether a wire is proven against the core and every other.
func (f *facts) insulationRead(s *state, wire int) bool {
	if !f.proven[[2]int{wire, -1}] {
		return false
	}
	for g, pins := range s.all[0].wiring.wires {
		if g != wire && len(pins) > 1 && !f.proven[[2]int{wire, g}] {
			return false
		}
	}
	return true
}

// shelf makes the unit with its facts. What was written down before and no
// reading speaks of is kept.
func (s *state) shelf(f *facts) *yokemate.Unit {
	x := &s.all[0]
	old := s.b.unit
	u := *old
	u.Windings, u.Excitation, u.Insulation = nil, nil, slices.Clone(old.Insulation)
	rename := map[string]string{} // ids of the old windings
	keys := map[string][2]int{}
	for key, id := range f.ids {
		keys[id] = key
	}
	for _, w := range f.windings {
		n := yokemate.Winding{ID: w.ID, Pins: w.Pins}
		for i := range old.Windings {
			o := &old.Windings[i]
			if o.Pins == w.Pins || o.Pins == [2]string{w.Pins[1], w.Pins[0]} {
				n = *o
				n.ID, n.Pins = w.ID, w.Pins
				rename[o.ID] = w.ID
			}
		}
		key := keys[w.ID]
		if e, ok := f.ohms[key]; ok && e.value > 2*e.u {
			n.Ohms = rounded(e, yokemate.Measured)
		}
		if e, ok := f.volts[key]; ok && e.value > 2*e.u {
			n.Volts = rounded(e, yokemate.Measured)
		} else if len(f.volts) > 0 {
			n.Volts = yokemate.Value{} // of another excitation
		}
		if e, ok := f.leakage[key[0]]; ok && len(x.wiring.wires[key[0]]) == 2 {
			n.LeakageMH = rounded(e, yokemate.Estimated)
		}
		if b, ok := f.amps[key[0]]; ok && !(n.Amps.Known() && (n.Amps.Basis == yokemate.Measured || n.Amps.Basis == yokemate.Label || n.Amps.Basis == yokemate.AsRead)) {
			n.Amps = rounded(estimate{value: b.Best, u: b.LnSigma() * b.Best}, yokemate.Estimated)
		}
		u.Windings = append(u.Windings, n)
	}
	series := func(old yokemate.Series) (yokemate.Series, bool) {
		var n yokemate.Series
		for _, id := range old {
			to, ok := rename[id]
			if !ok {
				return nil, false
			}
			n = append(n, to)
		}
		return n, true
	}
	if old.Mains != nil {
		if n, ok := series(old.Mains.Series); ok && len(n) > 0 {
			m := *old.Mains
			m.Series = n
			u.Mains = &m
		} else {
			u.Mains = nil
		}
	}
	u.Insulation = slices.DeleteFunc(u.Insulation, func(i yokemate.Insulation) bool {
		return i.From != yokemate.CorePin && u.Winding(i.From) == nil || i.To != yokemate.CorePin && u.Winding(i.To) == nil
	})
	for _, i := range f.insulation {
		if u.Winding(i.From) == nil && i.From != yokemate.CorePin {
			i.From += "1"
		}
		if u.Winding(i.To) == nil && i.To != yokemate.CorePin {
			i.To += "1"
		}
		u.Insulation = append(u.Insulation, i)
	}
	u.Excitation = s.excitation(f, x, &u)
	if u.Excitation == nil && len(f.volts) == 0 {
		for _, e := range old.Excitation {
			if n, ok := series(e.Series); ok {
				e.Series = n
				u.Excitation = append(u.Excitation, e)
			}
		}
	}
	if f.turns.value > 0 {
		u.TurnsPerVolt = rounded(f.turns, yokemate.Measured)
	}
	if old.Status == "" && slices.ContainsFunc(s.notes, func(n yokemate.Note) bool { return n.Code == yokemate.CoreJoined }) {
		u.Status, u.Reason = "quarantine", "a winding joins the core"
	}
	if u.Validate() != nil {
		return nil
	}
	return &u
}

// excitation lists the no-load readings, first the one the volts stand on.
func (s *state) excitation(f *facts, x *weighed, u *yokemate.Unit) yokemate.ExcitationList {
	if x.data.refer < 0 {
		return nil
	}
	ids := func(path []int) (series yokemate.Series) {
		sign := 0
		for i, c := range path {
			if c == 0 {
				continue
			}
			k := c * x.dots[x.data.of[i]]
			if sign != 0 && k != sign {
				return nil // opposed windings are no aiding series
			}
			sign = k
			g := x.data.of[i]
			series = append(series, f.ids[[2]int{g, i - x.data.first[g]}])
		}
		if sign < 0 {
			slices.Reverse(series) // named from the start end on
		}
		return series
	}
	src := x.data.supplies[x.data.refer]
	first := yokemate.Excitation{Series: ids(src.path), Volts: yokemate.PlusMinus(src.volts, 1e-6*src.volts, yokemate.Measured), Hertz: s.opt.Hertz}
	if first.Series == nil {
		return nil
	}
	for _, r := range x.data.ac {
		if r.supply == x.data.refer && r.o.r.Excited.Hertz > 0 {
			first.Hertz = r.o.r.Excited.Hertz
		}
	}
	out := yokemate.ExcitationList{first}
	for _, p := range s.idles() {
		series := ids(p.path)
		if p.amps == nil || series == nil {
			continue
		}
		e := yokemate.Excitation{Series: series, Volts: yokemate.PlusMinus(p.volts, norm(p.voltsTerms), yokemate.Measured), Hertz: p.hertz, Amps: rounded(s.estimate(p.amps.y, p.amps.terms), yokemate.Measured)}
		if p.watts != nil {
			e.Watts = rounded(s.estimate(p.watts.y, p.watts.terms), yokemate.Measured)
		}
		if slices.Equal(p.path, src.path) && math.Abs(p.volts-src.volts) < 0.02*src.volts && !out[0].Amps.Known() {
			out[0].Amps, out[0].Watts = e.Amps, e.Watts
			continue
		}
		out = append(out, e)
	}
	return out
}

// rounded keeps two digits of the uncertainty.
func rounded(e estimate, b yokemate.Basis) yokemate.Value {
	if !(e.u > 0) {
		return yokemate.PlusMinus(e.value, 0, b)
	}
	unit := math.Pow(10, math.Floor(math.Log10(e.u))-1)
	digits := max(0, int(-math.Round(math.Log10(unit))))
	v, err := yokemate.Read(fmt.Sprintf("%.*f", digits, e.value))
	if err != nil {
		return yokemate.PlusMinus(e.value, e.u, b)
	}
	v.U, v.Basis = math.Ceil(e.u/unit-1e-9)*unit, b
	return v
}

// name makes ids for the wires and their sections, and lists them.
func (s *state) name(f *facts) {
	x := &s.all[0]
	wires := x.wiring.wires
	f.ids = map[[2]int]string{}
	f.windings, f.dots = nil, nil
	f.wireID = make([]string, len(wires))
	ref := s.reference()
	letter := 0
	taken := map[string]bool{}
	for i := range s.b.unit.Windings {
		if w := &s.b.unit.Windings[i]; !slices.ContainsFunc(wires, func(p []int) bool { return len(p) > 1 && s.b.joins(w, p[0], p[len(p)-1]) }) {
			taken[w.ID] = true
		}
	}
	for g, pins := range wires {
		if len(pins) < 2 {
			continue
		}
		var id string
		switch {
		case f.twin >= 0 && g == min(f.mainsWire, f.twin):
			id = "P1"
		case f.twin >= 0 && g == max(f.mainsWire, f.twin):
			id = "P2"
		case g == f.mainsWire:
			id = "P"
		}
		if w := s.wireOf(x, g); w != nil {
			id = w.ID // the shelf's own
		}
		for id == "" || taken[id] {
			if id = string(rune('A' + letter)); id == "P" {
				id = ""
			}
			letter++
		}
		taken[id] = true
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
			for i := range s.b.unit.Windings {
				if w := &s.b.unit.Windings[i]; n > 1 && s.b.joins(w, run[k], run[k+1]) {
					sid = w.ID
				}
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

// joins reports whether a winding of the shelf runs between two pins.
func (b *bench) joins(w *yokemate.Winding, p, q int) bool {
	return w.Pins == [2]string{b.pins[p], b.pins[q]} || w.Pins == [2]string{b.pins[q], b.pins[p]}
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
