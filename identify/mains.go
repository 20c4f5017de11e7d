package identify

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/si"
)

// mainsGuess is one answer to which pins are the mains side, and for what volts.
type mainsGuess struct {
	wire     int
	from, to int // places along the wire
	twin     int // a like wire to be put in series; -1 when there is none
	volts    float64
	p        float64
	off      float64 // from the knee, in standard deviations
}

// How often a unit of unknown origin is made for these mains volts. Common
// practice, no source; the bench's own frequency tilts it.
var mainsVolts = []struct{ volts, at50, at60 float64 }{
	{100, 0.06, 0.15}, {120, 0.10, 0.55}, {230, 0.60, 0.20}, {240, 0.24, 0.10},
}

// labelled is how often a label's mains volts are right, while it is not known
// which winding they stand on. Common practice, no source.
const labelled = 0.97

// mainsOdds lists the mains volts to weigh with their odds: the label's alone
// where there is a label, else the usual ones.
func (s *state) mainsOdds() (volts, odds []float64) {
	if m := s.b.unit.Mains; m != nil {
		return []float64{m.Volts}, []float64{1}
	}
	for _, m := range mainsVolts {
		p := m.at50
		if s.opt.Hertz > 55 {
			p = m.at60
		}
		volts, odds = append(volts, m.volts), append(odds, p)
	}
	return volts, odds
}

// Volts that outputs are usually rated at, at load. Common practice, no source.
var ratedVolts = []float64{5, 6, 6.3, 7.5, 8, 9, 10, 12, 12.6, 15, 16, 18, 20, 22, 24, 25, 28, 30, 35, 36, 40, 42, 48}

// guessMains weighs every candidate by what its outputs would be, by its place
// among the windings, by what the ohms say of its size against the iron, and by
// the knee where one is known. Ratios alone settle little: a 12 V output at 120 V
// is a 24 V one at 240 V. So no answer is believed above 0.9 without a knee.
func (s *state) guessMains(f *facts) []mainsGuess {
	x := &s.all[0]
	if x.fit == nil {
		return nil
	}
	wires := x.wiring.wires
	whole := make([]float64, len(wires))
	most := 0.0
	for g := range wires {
		if e, ok := f.wireVolts(x, g); ok {
			whole[g] = e.value
			most = math.Max(most, e.value)
		}
	}
	if most == 0 {
		return nil
	}
	var out []mainsGuess
	candidates, odds := s.mainsOdds()
	for g, pins := range wires {
		if whole[g] == 0 || whole[g] < 0.25*most {
			continue
		}
		place := 0.05
		if whole[g] > 0.97*most {
			place = 1
		}
		for i := range pins {
			for j := i + 1; j < len(pins); j++ {
				v := 0.0
				for k := i; k < j; k++ {
					v += f.volts[[2]int{g, k}].value
				}
				span := 0.1
				if i == 0 && j == len(pins)-1 {
					span = 1
				}
				for c, mains := range candidates {
					add := func(twin int, volts, weight float64) {
						q := mainsGuess{wire: g, from: i, to: j, twin: twin, volts: mains}
						ln := math.Log(odds[c] * place * span * weight)
						ln += s.lnOutputs(f, x, g, twin, mains/volts)
						ln += s.lnSize(f, x, g, twin, mains/volts)
						if f.knee.reached {
							if k, ok := s.kneeOn(f, x, g, i, j); ok {
								z := math.Log(mains/volts*v*kneeUsual/k) / math.Hypot(0.05, f.knee.rel)
								ln += -z * z / 2
								q.off = math.Abs(z)
							}
						}
						q.p = ln
						out = append(out, q)
					}
					twin := -1
					for h := range wires {
						if h != g && whole[h] > 0.97*whole[g] && whole[h] < 1.03*whole[g] && s.likeOhms(f, x, g, h) && len(pins) == 2 {
							twin = h
						}
					}
					switch {
					case twin >= 0 && mains >= 200:
						add(twin, 2*v, 0.8)
					case twin >= 0 && mains < 200 && g < twin:
						add(-1, v, 0.6) // in parallel
					default:
						add(-1, v, 1)
					}
				}
			}
		}
	}
	top := math.Inf(-1)
	for _, q := range out {
		top = math.Max(top, q.p)
	}
	sum := 0.0
	for i := range out {
		out[i].p = math.Exp(out[i].p - top)
		sum += out[i].p
	}
	believed := 0.9
	if s.b.unit.Mains != nil {
		believed = labelled
	}
	if f.knee.reached {
		believed = 0.99
		if i := slices.IndexFunc(out, func(q mainsGuess) bool { return q.p == 1 }); i >= 0 && out[i].off > 3 {
			believed = 0.3 // none of the mains volts weighed is near the knee
		}
	}
	for i := range out {
		out[i].p *= believed / sum
	}
	slices.SortStableFunc(out, func(a, b mainsGuess) int {
		switch {
		case a.p > b.p:
			return -1
		case a.p < b.p:
			return 1
		}
		return 0
	})
	return out
}

// likeOhms reports whether two wires' ohms are alike within a third, as those
// of two mains coils are.
func (s *state) likeOhms(f *facts, x *weighed, g, h int) bool {
	a, okA := f.wireOhms(x, g)
	b, okB := f.wireOhms(x, h)
	return okA && okB && math.Abs(math.Log(a.value/b.value)) < 0.3
}

// lnOutputs weighs the outputs' no-load volts against usual ratings: 5 to 30 %
// above one of them, outer pins or half of a tapped wire.
func (s *state) lnOutputs(f *facts, x *weighed, mains, twin int, scale float64) float64 {
	ln := 0.0
	for g, pins := range x.wiring.wires {
		if g == mains || g == twin || len(pins) < 2 {
			continue
		}
		e, ok := f.wireVolts(x, g)
		if !ok {
			continue
		}
		v := e.value * scale
		if len(pins) == 3 {
			if half, ok := f.volts[[2]int{g, 0}]; ok && math.Abs(half.value/e.value-0.5) < 0.02 {
				v /= 2
			}
		}
		p := 0.02
		for _, r := range ratedVolts {
			z := math.Log(v/r) - 0.14
			p += math.Exp(-z*z/(2*0.05*0.05)) / float64(len(ratedVolts)) * 3
		}
		ln += math.Log(p)
	}
	return ln
}

// lnSize weighs the VA that the ohms give at these volts against the iron's.
func (s *state) lnSize(f *facts, x *weighed, g, twin int, scale float64) float64 {
	u := s.b.unit
	kind := ""
	var iron []core.Band
	if c := u.Core; c != nil {
		kind = c.Kind
		iron = ironBands(c, s.opt.Hertz)
	}
	if len(iron) == 0 {
		return 0
	}
	both, err := core.Combine(iron...)
	if err != nil {
		return 0
	}
	primary, secondary := s.coils(f, x, g, twin, scale)
	b, err := core.VAFromOhms(kind, primary, secondary)
	if err != nil {
		return 0
	}
	d := math.Log(b.Best / both.Best)
	v := b.LnSigma()*b.LnSigma() + both.LnSigma()*both.LnSigma()
	return -d * d / (2 * v)
}

// coils are the wires' volts, scaled, and ohms, mains side and others.
func (s *state) coils(f *facts, x *weighed, mains, twin int, scale float64) (primary, secondary []core.Coil) {
	for g, pins := range x.wiring.wires {
		if len(pins) < 2 {
			continue
		}
		v, okV := f.wireVolts(x, g)
		r, okR := f.wireOhms(x, g)
		if !okV || !okR || r.value <= 0 {
			continue
		}
		c := core.Coil{Volts: v.value * scale, Ohms: r.value}
		if g == mains || g == twin {
			primary = append(primary, c)
		} else {
			secondary = append(secondary, c)
		}
	}
	return primary, secondary
}

// kneeOn carries the knee's volts to two places along a wire.
func (s *state) kneeOn(f *facts, x *weighed, g, i, j int) (float64, bool) {
	if x.data.refer < 0 {
		return 0, false
	}
	// The knee stands on the feed's path; ratios carry it over.
	for _, p := range s.idles() {
		sum := 0.0
		for k, c := range p.path {
			sum += float64(c*x.dots[x.data.of[k]]) * x.fit.volts[k]
		}
		v := 0.0
		for k := i; k < j; k++ {
			v += f.volts[[2]int{g, k}].value
		}
		if sum != 0 {
			return f.knee.volts * v / math.Abs(sum), true
		}
	}
	return 0, false
}

// settleMains takes the label's mains side, or the likeliest guess.
func (s *state) settleMains(f *facts) {
	f.mainsWire = -1
	x := &s.all[0]
	u := s.b.unit
	if u.Mains != nil && len(u.Mains.Series) > 0 {
		if w := u.Winding(u.Mains.Series[0]); w != nil {
			if p, ok := s.b.number[w.Pins[0]]; ok {
				f.mainsWire, f.mainsVolts, f.mainsChance, f.sideChance = x.wiring.wireOf(p), u.Mains.Volts, 0.99, 0.99
				return
			}
		}
	}
	f.guesses = s.guessMains(f)
	if len(f.guesses) == 0 {
		// Without volts, most ohms is the mains side unless there is an HT winding.
		most := 0.0
		for g := range x.wiring.wires {
			if r, ok := f.wireOhms(x, g); ok && r.value > most {
				most = r.value
				f.ohmsWire = g
			}
		}
		if f.ohmsWire >= 0 && s.multi() > 1 {
			w := x.wiring.wires[f.ohmsWire]
			f.note(yokemate.MainsUnknown, yokemate.Info, u.Tag, "pins %s and %s have the most ohms: in a step-down unit usually the mains side, but not beside an HT winding. The volts decide, not the ohms.", s.b.pins[w[0]], s.b.pins[w[len(w)-1]])
		}
		return
	}
	byWire := map[int]float64{}
	for _, q := range f.guesses {
		byWire[q.wire] += q.p
		if q.twin >= 0 {
			byWire[q.twin] += q.p
		}
	}
	best := f.guesses[0]
	if byWire[best.wire] > 0.7 {
		f.mainsWire = best.wire
		f.twin = best.twin
	}
	// The volts: every candidate on the same pins together.
	p := 0.0
	for _, q := range f.guesses {
		if q.volts == best.volts && q.wire == best.wire && q.from == best.from && q.to == best.to {
			p += q.p
		}
	}
	f.mainsVolts, f.mainsChance, f.sideChance = best.volts, p, byWire[best.wire]
	words := fmt.Sprintf("the mains side is likely pins %s", s.pairName(x, best))
	if u.Mains != nil {
		f.note(yokemate.MainsUnknown, yokemate.Info, u.Tag, "%s (%.0f %%), for the %g V of the label. Say so before the facts are used: which winding the label's volts stand on is yours to decide.", words, 100*byWire[best.wire], u.Mains.Volts)
		return
	}
	var odds []string
	byVolts := map[float64]float64{}
	for _, q := range f.guesses {
		byVolts[q.volts] += q.p
	}
	for _, m := range mainsVolts {
		if byVolts[m.volts] > 0.01 {
			odds = append(odds, fmt.Sprintf("%g V %.0f %%", m.volts, 100*byVolts[m.volts]))
		}
	}
	level := yokemate.Info
	if p < 0.95 {
		level = yokemate.Caution
	}
	f.note(yokemate.MainsUnknown, level, u.Tag, "%s (%.0f %%); made for %s. Until the knee of the no-load current or a label settles it, use it at the lower figure.", words, 100*byWire[best.wire], list(odds))
}

func (s *state) pairName(x *weighed, q mainsGuess) string {
	pins := x.wiring.wires[q.wire]
	t := s.b.pins[pins[q.from]] + " and " + s.b.pins[pins[q.to]]
	if q.twin >= 0 {
		w := x.wiring.wires[q.twin]
		t += " in series with " + s.b.pins[w[0]] + " and " + s.b.pins[w[len(w)-1]]
	}
	return t
}

// ironBands are what area and mass say of the VA.
func ironBands(c *yokemate.Core, hertz float64) (bands []core.Band) {
	if c.LimbMM.Known() && c.StackMM.Known() {
		// The iron fills about 0.95 of the stack (common practice, no source).
		b := core.VAFromArea(c.Kind, 0.95*c.LimbMM.V*c.StackMM.V*1e-6, hertz)
		b.Formula = fmt.Sprintf("0.95 × %g mm × %g mm; %s", c.LimbMM.V, c.StackMM.V, b.Formula)
		bands = append(bands, b)
	}
	if c.MassG.Known() {
		bands = append(bands, core.VAFromMass(c.Kind, 1e-3*c.MassG.V, hertz))
	}
	return bands
}

func voltsText(v float64) string { return si.Format(v, "V", 4) }
