// Package match weighs windings against each other: may they share a load in
// parallel, what circulates between them with no load, how do they share, and
// what would better it. Every number is read off the hookup of the pair, built
// over the shelf and solved by package phys/network: the gap with the last
// joint open, the current with it closed, the load at which the first winding
// reaches its rating.
//
// It searches no hookup for a need and plans no proof; what it calls go still
// wants its gap read before it is joined. It does not weigh mains coils.
//
// # What decides
//
// The circulating current at no load as a share of the smaller rating: at most
// 5 % is go, at most 15 % a caution with a derating, more a stop. The load at
// which the first winding reaches its rating below 0.9 of both ratings
// together is a caution. The end of each 95 % interval that speaks against the
// pair is held to the same limits: past one of them it is a caution, not
// proven. Volts of mismatch alone decide nothing. The limits are common
// practice and can be tightened in [Options].
package match

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/si"
)

// Options of a match. The zero value is the plain one.
type Options struct {
	// Feed is the mains; its joints are not looked at. nil: what the units'
	// labels say, or their excitation readings where there is no label.
	Feed *yokemate.Feed
	// Limits of the circulating current; 0: 0.05 and 0.15 of the smaller rating.
	Limits predict.Limits
	// Derate is the part of both ratings together below which the pair is a
	// caution; 0: 0.9.
	Derate float64
	// Meter that will read the gap; nil: the shelf's.
	Meter *yokemate.Meter
	// PowerFactor of the load, lagging; 0: 1.
	PowerFactor float64
}

func (o Options) filled() Options {
	def := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	o.Limits = o.Limits.Filled()
	def(&o.Derate, 0.9)
	def(&o.PowerFactor, 1)
	return o
}

// Match weighs pairs of windings. Arguments are windings such as T1/A, of
// which every two make a pair, or tags: of several units the secondaries of
// like volts are paired across the units, of one unit alone among themselves.
func Match(f *network.Facts, args []string, opt Options) (*yokemate.Matches, error) {
	opt = opt.filled()
	pairs, err := choose(f, args)
	if err != nil {
		return nil, err
	}
	m := &yokemate.Matches{Pairs: []yokemate.Pair{}}
	for _, p := range pairs {
		w := &weigher{facts: f, a: p[0], b: p[1], opt: opt}
		pair, err := w.weigh()
		if err != nil {
			return nil, err
		}
		m.Pairs = append(m.Pairs, *pair)
	}
	return m, nil
}

// weigher weighs one pair.
type weigher struct {
	facts *network.Facts
	a, b  winding
	opt   Options
	feed  yokemate.Feed
	notes []yokemate.Note
}

// limit is what a winding may carry, and the low end of it [A].
func (w winding) limit() (amps, low float64) {
	l := w.unit.Limits[w.w]
	return l.Amps, l.Low()
}

func (w *weigher) weigh() (*yokemate.Pair, error) {
	if err := w.chooseFeed(); err != nil {
		return nil, err
	}
	p := &yokemate.Pair{A: w.a.name(), B: w.b.name()}
	for _, x := range []winding{w.a, w.b} {
		if l, _ := x.limit(); !(l > 0) {
			return nil, yokemate.Errorf(yokemate.Invalid, x.name()+" amps", "what it may carry is not known").Mend("give its amps, or the VA of %s", x.unit.Tag)
		}
	}
	va, vb, err := w.gap(p)
	if err != nil {
		return nil, err
	}
	joined, err := predict.Hookup(w.facts, w.hookup(true, 0), yokemate.Nominal, predict.Options{Limits: w.opt.Limits, Meter: w.opt.Meter, Brief: true})
	if err != nil {
		return nil, err
	}
	ra, la := w.a.limit()
	rb, lb := w.b.limit()
	ca, cb := stateOf(joined, w.a), stateOf(joined, w.b)
	p.CirculatingAmps = math.Max(ca.Amps, cb.Amps)
	p.CirculatingLow, p.CirculatingHigh = math.Min(ca.Low, cb.Low), math.Max(ca.High, cb.High)
	p.CirculatingPart = p.CirculatingAmps / math.Min(ra, rb)
	p.RatedAmps = ra + rb
	if err := w.share(p, ra, rb); err != nil {
		return nil, err
	}
	w.keep(joined.Notes)
	w.decide(p, p.CirculatingHigh/math.Min(la, lb))
	if err := w.mend(p, va, vb); err != nil {
		return nil, err
	}
	p.Notes = w.notes
	return p, nil
}

// gap reads the open gap, and the volts of both windings as they stand [V].
func (w *weigher) gap(p *yokemate.Pair) (va, vb float64, err error) {
	n, err := network.Build(w.facts, w.hookup(false, 0), network.Options{})
	if err != nil {
		return 0, 0, err
	}
	meter := w.opt.Meter
	if meter == nil {
		meter = w.facts.Shelf.Meter()
	}
	r, err := predict.NewRun(n, nil, meter)
	if err != nil {
		return 0, 0, err
	}
	across := func(x winding) float64 {
		return cmplx.Abs(r.Sol.Value(n.WindingVolts(slices.Index(n.Units(), x.unit.Tag), x.w)))
	}
	va, vb = across(w.a), across(w.b)
	d, _ := r.Volts("B1", "B2")
	i := d.Interval()
	p.GapVolts, p.Low, p.High = i.Value, i.Low, i.High
	p.Mismatch = p.GapVolts / math.Min(va, vb)
	return va, vb, nil
}

func stateOf(p *yokemate.Prediction, w winding) yokemate.WindingState {
	for _, s := range p.Windings {
		if s.Unit == w.unit.Tag && s.ID == w.src.ID {
			return s
		}
	}
	panic("match: a prediction without the winding it was made for")
}

// currents are the branch currents and what they add up to, at a load [A].
func (w *weigher) currents(amps float64) (ia, ib, load complex128, err error) {
	n, err := network.Build(w.facts, w.hookup(true, amps), network.Options{})
	if err != nil {
		return 0, 0, 0, err
	}
	s, err := n.Solve(nil)
	if err != nil {
		return 0, 0, 0, err
	}
	amp := func(x winding) complex128 {
		return s.Value(n.WindingAmps(slices.Index(n.Units(), x.unit.Tag), x.w))
	}
	ia, ib = amp(w.a), amp(w.b)
	return ia, ib, ia + ib, nil
}

// share finds the load at which the first winding reaches its rating, and who
// carries what there. A branch current is a phasor with a constant and a part
// that goes with the load, nearly, so the larger of the two over its rating is
// a convex function of the load; at the sum of both ratings it has passed 1,
// since the branches carry no less than the load between them.
func (w *weigher) share(p *yokemate.Pair, ra, rb float64) error {
	fullest := func(ia, ib complex128) float64 { return math.Max(cmplx.Abs(ia)/ra, cmplx.Abs(ib)/rb) - 1 }
	over := func(amps float64) (float64, complex128, complex128, complex128) {
		ia, ib, load, err := w.currents(amps)
		if err != nil {
			return math.Inf(1), 0, 0, 0 // more than the pair can give
		}
		return fullest(ia, ib), ia, ib, load
	}
	ia, ib, _, err := w.currents(0)
	if err != nil {
		return err
	}
	if fullest(ia, ib) >= 0 {
		return nil // what circulates is past a rating by itself: nothing is left for a load
	}
	for lo, hi := 0.0, ra+rb; hi-lo > 1e-9*hi; {
		mid := (lo + hi) / 2
		f, ia, ib, load := over(mid)
		if f >= 0 {
			hi = mid
			continue
		}
		lo = mid
		p.MaxAmps = mid
		p.Share = [2]float64{cmplx.Abs(ia) / cmplx.Abs(load), cmplx.Abs(ib) / cmplx.Abs(load)}
	}
	return nil
}

// keep holds on to the notes of the joined pair that bear on whether it may
// be joined at all.
func (w *weigher) keep(notes []yokemate.Note) {
	for _, n := range notes {
		switch n.Code {
		case yokemate.Quarantine, yokemate.CoreJoined, yokemate.HazardousVoltage, yokemate.OverFlux, yokemate.InsulationExceeded,
			yokemate.MainsUnknown, yokemate.EstimatedFacts, yokemate.HalfPrimary:
			w.notes = append(w.notes, n)
		}
	}
}

func (w *weigher) note(code yokemate.NoteCode, level yokemate.Level, words string, args ...any) {
	w.notes = append(w.notes, yokemate.Note{Code: code, Level: level, About: w.a.name() + ", " + w.b.name(), Words: fmt.Sprintf(words, args...)})
}

// never are what no mending helps against.
var never = []yokemate.NoteCode{yokemate.Quarantine, yokemate.CoreJoined, yokemate.HazardousVoltage}

func percent(x float64) string { return si.Format(x, "%", 2) }

// decide gives the verdict and the rule with its numbers. high is the
// circulating share at the end of the interval that speaks against the pair.
func (w *weigher) decide(p *yokemate.Pair, high float64) {
	goes, stops := w.opt.Limits.CirculatingGo, w.opt.Limits.CirculatingStop
	rule := fmt.Sprintf("%s circulates with no load: %s of %s, the smaller rating", si.Format(p.CirculatingAmps, "A", 2), percent(p.CirculatingPart), si.Format(w.smaller(), "A", 3))
	stopped := func(codes ...yokemate.NoteCode) bool {
		for _, n := range w.notes {
			if n.Level == yokemate.Stop && (len(codes) == 0 || slices.Contains(codes, n.Code)) {
				p.Verdict, p.DecidedBy = yokemate.Stop, n.Words
				return true
			}
		}
		return false
	}
	if stopped(never...) {
		return
	}
	spare := p.MaxAmps / p.RatedAmps
	// The derating at the unfavourable end: the branch that is full first
	// carries the doubt of the circulating current besides.
	doubt := (p.CirculatingHigh - p.CirculatingAmps) / p.RatedAmps
	switch {
	case p.CirculatingPart > stops:
		p.Verdict, p.DecidedBy = yokemate.Stop, fmt.Sprintf("%s; more than %s is a stop", rule, percent(stops))
		return
	case stopped():
		return
	case p.CirculatingPart > goes:
		p.Verdict = yokemate.Caution
		p.DecidedBy = fmt.Sprintf("%s; above %s and up to %s: draw at most %s in place of %s, and measure both branches", rule, percent(goes), percent(stops), si.Format(p.MaxAmps, "A", 3), si.Format(p.RatedAmps, "A", 3))
	case spare < w.opt.Derate:
		p.Verdict = yokemate.Caution
		p.DecidedBy = fmt.Sprintf("the first winding is full at %s, %s of both ratings together (%s); below %s is a caution", si.Format(p.MaxAmps, "A", 3), percent(spare), si.Format(p.RatedAmps, "A", 3), percent(w.opt.Derate))
	default:
		p.Verdict, p.DecidedBy = yokemate.Go, fmt.Sprintf("%s; at most %s is go, and %s of both ratings together can be drawn", rule, percent(goes), percent(spare))
	}
	caution := func(why string) {
		w.note(yokemate.NotProven, yokemate.Caution, "%s", why)
		if p.Verdict == yokemate.Go {
			p.Verdict, p.DecidedBy = yokemate.Caution, rule+"; not proven: "+why
		}
	}
	for _, n := range slices.Clone(w.notes) {
		if (n.Code == yokemate.MainsUnknown || n.Code == yokemate.OverFlux) && p.Verdict == yokemate.Go {
			p.Verdict, p.DecidedBy = yokemate.Caution, rule+"; but "+n.Words
		}
	}
	switch {
	case high > stops:
		caution(fmt.Sprintf("the facts leave up to %s of the smaller rating to circulate, and more than %s would be a stop: the gap reading settles it", percent(high), percent(stops)))
	case high > goes && p.CirculatingPart <= goes:
		caution(fmt.Sprintf("the facts leave up to %s of the smaller rating to circulate; at most %s is go", percent(high), percent(goes)))
	}
	if spare >= w.opt.Derate && spare-doubt < w.opt.Derate {
		caution(fmt.Sprintf("the facts leave as little as %s of both ratings together to be drawn", percent(spare-doubt)))
	}
}

func (w *weigher) smaller() float64 {
	ra, _ := w.a.limit()
	rb, _ := w.b.limit()
	return math.Min(ra, rb)
}
