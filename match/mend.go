package match

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/si"
)

// mend says what would better a pair that is not go, with the numbers put in.
func (w *weigher) mend(p *yokemate.Pair, va, vb float64) error {
	if p.Verdict == yokemate.Go {
		return nil
	}
	for _, n := range w.notes {
		if n.Level == yokemate.Stop && slices.Contains(never, n.Code) {
			return nil
		}
	}
	add := func(words string, args ...any) { p.Mend = append(p.Mend, fmt.Sprintf(words, args...)) }
	if p.Mismatch > likeVolts {
		add("their volts are not alike: give each winding a load of its own, or join them in series where the sum or the difference serves")
		return nil
	}
	if p.CirculatingPart > w.opt.Limits.CirculatingGo {
		if err := w.turns(p, va, vb, add); err != nil {
			return err
		}
		for _, part := range []float64{w.opt.Limits.CirculatingStop, w.opt.Limits.CirculatingGo} {
			if p.CirculatingPart > part {
				if err := w.ballast(part, add); err != nil {
					return err
				}
			}
		}
	}
	if p.CirculatingPart <= w.opt.Limits.CirculatingGo {
		gap, err := w.goGap(p, va, vb)
		if err != nil {
			return err
		}
		add("read the gap before it is joined: up to about %s is go, and it settles what the facts leave open", si.Format(gap, "V", 2))
	}
	if p.Verdict == yokemate.Caution && p.MaxAmps > 0 {
		add("draw at most %s, and read the current of each branch under that load", si.Format(p.MaxAmps, "A", 3))
	}
	if p.CirculatingPart > w.opt.Limits.CirculatingGo {
		add("for DC, give each winding a rectifier of its own before the common capacitor: nothing circulates then, though they still share unequally")
		add("or give each winding a load of its own")
	}
	return nil
}

// goGap is the gap up to which what circulates is go [V]: the two go with each
// other. Like windings leave hardly a gap, and what circulates is then what
// strays drive, so a gap is made by taking a fiftieth of the lower one's turns off.
func (w *weigher) goGap(p *yokemate.Pair, va, vb float64) (float64, error) {
	const part = 0.02
	gap, amps := p.GapVolts, p.CirculatingAmps
	if p.Mismatch < part {
		low, volts := w.a, va
		if vb < va {
			low, volts = w.b, vb
		}
		var err error
		if amps, err = w.without(low, part); err != nil {
			return 0, err
		}
		gap += part * volts
	}
	return gap * w.opt.Limits.CirculatingGo * w.smaller() / amps, nil
}

// turns reckons what taking turns off the winding of more volts does. Only the
// difference of the volts can be mended so; what is left of the gap is the
// angle between them.
func (w *weigher) turns(p *yokemate.Pair, va, vb float64, add func(string, ...any)) error {
	high, excess := w.a, va-vb
	if vb > va {
		high, excess = w.b, vb-va
	}
	if excess < p.GapVolts/2 {
		add("turns mend little here: of the gap of %s only %s is a difference of volts, the rest is angle, from unlike idle currents", si.Format(p.GapVolts, "V", 2), si.Format(excess, "V", 2))
		return nil
	}
	tpv := high.unit.Source.TurnsPerVolt
	if !tpv.Known() {
		add("take turns off %s, which is %s too high: wind a test loop of 10 turns of insulated wire round the coil of %s, read its volts, and 10 over them is the turns per volt",
			high.name(), si.Format(excess, "V", 2), high.unit.Tag)
		return nil
	}
	n := math.Round(tpv.V * excess)
	if n < 1 {
		add("%s is %s too high, and a turn of it is %s: less than half a turn, so turns cannot mend it", high.name(), si.Format(excess, "V", 2), si.Format(1/tpv.V, "V", 2))
		return nil
	}
	left, err := w.without(high, n/tpv.V/high.volts())
	if err != nil {
		return err
	}
	turns := "turns"
	if n == 1 {
		turns = "turn"
	}
	add("take %g %s off %s: %.3g turns per volt × %s = %.2g; what circulates is then %s of the smaller rating", n, turns, high.name(), tpv.V, si.Format(excess, "V", 2), tpv.V*excess, percent(left/w.smaller()))
	return nil
}

// without is the circulating current when a part of a winding's turns is
// taken off [A]: the same hookup over a shelf that has been changed so.
func (w *weigher) without(x winding, part float64) (float64, error) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: w.facts.Shelf.Meters}
	for _, u := range []*network.Unit{w.a.unit, w.b.unit} {
		if s.Unit(u.Tag) != nil {
			continue
		}
		c := *u.Source
		c.Windings = slices.Clone(c.Windings)
		s.Units = append(s.Units, c)
	}
	y := s.Unit(x.unit.Tag).Winding(x.src.ID)
	y.Volts, y.Ohms = yokemate.Num(y.Volts.V*(1-part)), yokemate.Num(y.Ohms.V*(1-part))
	c := *w
	c.facts = network.Compile(s)
	ia, ib, _, err := c.currents(0)
	return math.Max(cmplx.Abs(ia), cmplx.Abs(ib)), err
}

// ballast finds the resistance in the last joint that brings what circulates
// down to a part of the smaller rating, and what it costs at full current.
func (w *weigher) ballast(part float64, add func(string, ...any)) error {
	most := part * w.smaller()
	through := func(ohms float64) (float64, error) {
		n, err := network.Build(w.facts, w.hookup(false, 0), network.Options{Added: []network.Branch{{From: "B1", To: "B2", Ohms: ohms}}})
		if err != nil {
			return 0, err
		}
		s, err := n.Solve(nil)
		if err != nil {
			return 0, err
		}
		p, _ := n.AddedAmps(0)
		return cmplx.Abs(s.Value(p)), nil
	}
	lo, hi := 1e-4, 9e3
	for hi/lo > 1.001 {
		mid := math.Sqrt(lo * hi)
		i, err := through(mid)
		if err != nil {
			return err
		}
		if i > most {
			lo = mid
		} else {
			hi = mid
		}
	}
	r := si.Preferred(hi, "E12", true)
	high, volts := w.a, w.a.volts()
	if w.b.volts() > volts {
		high, volts = w.b, w.b.volts()
	}
	rating, _ := high.limit()
	drop := r * rating
	words := ""
	if drop > 0.1*volts {
		words = ", which is more than a tenth of its volts: hardly worth it"
	}
	add("put %s in series with %s: it brings what circulates down to %s of the smaller rating, and at %s it drops %s and makes %s of heat%s",
		si.Format(r, "Ω", 2), high.name(), percent(part), si.Format(rating, "A", 3), si.Format(drop, "V", 2), si.Format(drop*rating, "W", 2), words)
	return nil
}
