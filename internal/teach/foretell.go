package teach

import (
	"math"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
)

const pi = math.Pi

// reactance is the inductive part of an impedance of that power factor [Ω].
func reactance(z, pf float64) float64 { return z * math.Sqrt(1-pf*pf) }

// Verdict is what a wiring is good for.
type Verdict uint8

const (
	Wrong   Verdict = iota // nothing is overloaded, but it is not what is wanted
	Works                  // as good as the wiring that is wanted
	Harmful                // closed, it blows a fuse, overheats a winding, or must not be for another reason
)

// Wiring is one way the leads may be, with all that is read.
type Wiring struct {
	Key    string
	Change Change
	States []State // for each source of the lesson
}

// State is what one wiring reads and does on one source.
type State struct {
	Verdict Verdict
	Open    *Reading             // before the last joint is closed; nil: the engine finds no answer
	Closed  *yokemate.Prediction // after; nil: no answer
	Follows *yokemate.IfClosed   // what closing it does; nil where nothing is closed
	low     bool                 // on the low source
}

// foretell asks the engine for a wiring on each source.
func (l *Lesson) foretell(way way) (*Wiring, error) {
	w, key := &Wiring{Key: way.key, Change: way.change}, way.key
	for i := range l.Sources {
		s := &l.Sources[i]
		x := State{low: s.Low}
		var err error
		if x.Open, err = l.read(l.Open(key, s)); err != nil {
			return nil, err
		}
		if x.Closed, err = l.ask(l.Closed(key, s)); err != nil {
			return nil, err
		}
		if h, from, to := l.apart(key, s); from != "" {
			c, _, err := predict.Closed(l.facts, h, network.Options{}, from, to)
			if err != nil {
				if err := unlessNone(err); err != nil {
					return nil, err
				}
				x.Closed = nil // take it for a dead short
			}
			x.Follows = c
		}
		w.States = append(w.States, x)
	}
	return w, nil
}

// Reading is what is read of a wiring before the last joint is closed.
type Reading struct {
	Meter   yokemate.Interval
	Outputs []float64 // nothing drawn [V]
	Amps    float64   // of the plug that gives most [A]
}

// read predicts what is read; nil where the engine finds no answer. It is what
// predict.Hookup says, without the notes, which are for a joint that is closed.
func (l *Lesson) read(h *yokemate.Hookup) (*Reading, error) {
	n, err := network.Build(l.facts, h, network.Options{})
	if err != nil {
		return nil, unlessNone(err)
	}
	meter := l.opt.Meter
	if meter == nil {
		meter = l.shelf.Meter()
	}
	r, err := predict.NewRun(n, n.VoltsAt(yokemate.Nominal), meter)
	if err != nil {
		return nil, unlessNone(err)
	}
	x := &Reading{}
	for _, o := range h.Outputs {
		d, _ := r.Volts(o.From, o.To)
		x.Outputs = append(x.Outputs, d.Value)
	}
	for i := range h.Feed {
		_, _, amps := r.Sol.FeedPower(i)
		x.Amps = max(x.Amps, amps)
	}
	d, _ := r.Volts(h.Meters[0].From, h.Meters[0].To)
	x.Meter = d.Interval()
	return x, nil
}

// ask predicts a closed wiring; nil where the engine finds no answer.
func (l *Lesson) ask(h *yokemate.Hookup) (*yokemate.Prediction, error) {
	p, err := predict.Hookup(l.facts, h, yokemate.Nominal, predict.Options{Meter: l.opt.Meter, Brief: true})
	if err != nil {
		return nil, unlessNone(err)
	}
	return p, nil
}

// unlessNone is the error, unless it says that a wiring has no answer.
func unlessNone(err error) error {
	if yokemate.ErrorCode(err) == yokemate.Internal {
		return err
	}
	return nil
}

// harmful reports whether closing overloads anything or, on the mains, whether
// what is then there must not be powered for another reason.
func (x *State) harmful() bool {
	if x.Open == nil || x.Closed == nil || x.Follows != nil && (x.Follows.LimitS != nil || x.Follows.OpensS != nil) {
		return true
	}
	return x.stop() != ""
}

// stop is why a closed wiring must not be powered; empty: nothing forbids it.
// What rests on the mains alone does not count on the low source.
func (x *State) stop() string {
	for _, n := range x.Closed.Notes {
		if n.Level == yokemate.Stop && (!x.low || n.Code == yokemate.OverCurrent) {
			return n.Words
		}
	}
	return ""
}

// judge gives the verdicts. A wiring works when every lead is on, it does no
// harm on the mains, and meter and outputs read there what they should.
func (l *Lesson) judge(w *Wiring) {
	mains, right := &w.States[0], &l.Wirings[0].States[0]
	works := !mains.harmful()
	for i := range w.Key {
		works = works && w.Key[i] != away
	}
	within := func(v, low, high float64) bool { return v >= low && v <= high }
	if works {
		m := right.Open.Meter
		works = within(mains.Open.Meter.Value, m.Low, m.High)
		for i, o := range right.Closed.Outputs {
			works = works && within(mains.Closed.Outputs[i].Volts, o.Low, o.High)
		}
	}
	for i := range w.States {
		switch x := &w.States[i]; {
		case works:
			x.Verdict = Works
		case x.harmful():
			x.Verdict = Harmful
		}
	}
}
