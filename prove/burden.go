package prove

import (
	"fmt"
	"slices"

	"yokemate"
	"yokemate/si"
)

// A voltmeter takes so little that a winding hanging on one lead drives it
// through the capacitance to its core and to its neighbours: some 100 pF, 30 MΩ
// at 50 Hz, beside the meter's 10 MΩ. What it then shows is a ghost, anything
// from nearly nothing to the winding's own volts. A resistor across the probes
// lets a ghost collapse, and changes nothing that copper drives. It leaves one
// doubt: an open lead now reads about nothing, as like ends do. So does a meter
// on a pulled plug or with a probe off its pin. Hence a gap at which nothing is
// right is read only right after its live readings: the same burden, across the
// winding behind each end of the gap, through the joint already made. A ghost
// cannot hold those volts under the burden.

// burdenOhms is the resistor across the probes (common practice) [Ω].
const burdenOhms = 100e3

// A ghost worth a burden is more than the meter leaves of it under one and
// more than this part of the volts that a slip can put there [1].
const ghostPart = 0.003

// burden has the gap readings, and the live readings before them, taken under
// a burden where a lead that is off could show a ghost.
func (p *Plan) burden() {
	for _, s := range p.steps {
		if s.kind != gapReading {
			continue
		}
		ghost, most := 0.0, 0.0
		chain := p.chain(s)
		for _, t := range chain {
			for i := range p.worlds {
				w := &p.worlds[i]
				if w.kind == unknown {
					continue
				}
				v, ok := p.volts(t, w)
				switch {
				case !ok:
				case w.kind != parted:
					most = max(most, v)
				case !p.driven(t, w):
					ghost = max(ghost, v)
				}
			}
		}
		if ghost < ghostPart*most {
			continue
		}
		words := fmt.Sprintf(" Put a %s resistor for %s or more across the probes first: volts without copper behind them, from a lead that is off, vanish under it.",
			si.Format(burdenOhms, "Ω", 3), si.Format(watts(most*most/burdenOhms), "W", 2))
		for _, t := range chain {
			t.Measure.BurdenOhms = burdenOhms
			t.Do += words
		}
	}
}

// driven reports whether copper still drives what a step reads in a world with
// a lead off: the burden takes no more than a tenth of it.
func (p *Plan) driven(s *step, w *world) bool {
	under := *s
	m := *s.Measure
	m.BurdenOhms, under.Measure = burdenOhms, &m
	v, ok := p.volts(s, w)
	u, _ := p.volts(&under, w)
	return ok && u > 0.9*v
}

// watts is the first usual rating of a resistor that is at least twice the heat.
func watts(heat float64) float64 {
	for _, w := range []float64{0.25, 0.5, 1, 2, 5, 10} {
		if w >= 2*heat {
			return w
		}
	}
	return 25
}

// chain is a gap's live readings in their order, and the gap itself.
func (p *Plan) chain(s *step) []*step {
	if s.after == "" {
		return []*step{s}
	}
	return append(p.chain(p.step(s.after)), s)
}

// live takes out the live readings before gaps at which a dead meter or an
// open lead would not read as right does: there a go says by itself that
// copper drives it. It takes out those too that tell nothing themselves.
func (p *Plan) live() {
	for _, s := range slices.Clone(p.steps) {
		if s.kind != gapReading || s.after == "" {
			continue
		}
		nothing := 0.0
		if a, ok := p.meter.On(yokemate.VoltsAC, 0); ok {
			nothing = 2 * a.Fixed
		}
		for i := range p.worlds {
			w := &p.worlds[i]
			if w.kind != parted || p.driven(s, w) {
				continue
			}
			if v, ok := p.volts(s, w); ok {
				nothing = max(nothing, capacitanceFactor*v)
			}
		}
		chain := p.chain(s)
		right, needed := lowestFit(p.forecast(s, &p.worlds[0]).dist), true
		for _, t := range chain[:len(chain)-1] {
			alive := p.forecast(t, &p.worlds[0]).dist
			needed = needed && lowestFit(alive) > nothing && right <= max(nothing, clearPart*alive.Value)
		}
		if needed {
			continue
		}
		s.after = ""
		p.steps = slices.DeleteFunc(p.steps, func(t *step) bool { return t != s && slices.Contains(chain, t) })
	}
}

// clearPart of a winding's volts across a gap is clear of any ghost under the
// burden (common practice) [1].
const clearPart = 0.05

// capacitanceFactor is how far a capacitance may be off (common practice) [1].
const capacitanceFactor = 3
