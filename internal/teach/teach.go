// Package teach makes the teaching page of a hookup: one HTML file in which
// pupils change leads over and see what the meter would read, with no server
// and no network behind it.
//
// Every wiring that the page can be brought to is predicted beforehand, by the
// engine that serves the bench: the reading across the last gap, every output,
// the amps from the mains, and what follows when the last joint is closed on
// it. They stand in the file as one table, which is all that is seen where no
// script runs; the script looks rows up and holds no physics.
//
// The page proves nothing and is no plan to wire by: that is package prove's.
package teach

import (
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
)

// Options of a page; the zero value is the plain one.
type Options struct {
	Figure figure.Options  // of the drawings, which no translator of pages sees: most of them are in the script's data
	Meter  *yokemate.Meter // that the readings are taken with; nil: the shelf's
	Trial  float64         // volts of the low source that a class works with [V]; 0: 12
	Most   int             // wirings the page may hold, at least; 0: 160, all of two units with a winding a side and a file of 0.5 MB, of three units 0.7 MB. What turning whole windings round leads to is always held
}

// Build makes the page of a hookup.
func Build(s *yokemate.Shelf, h *yokemate.Hookup, opt Options) ([]byte, error) {
	l, err := New(s, h, opt)
	if err != nil {
		return nil, err
	}
	return l.HTML()
}

// Lesson is a hookup with all wirings that pupils can bring it to.
type Lesson struct {
	Hookup    *yokemate.Hookup // as it should be, loads in ohms, without its rectifiers
	Last      Last
	Leads     []Lead
	Sources   []Source   // the mains, and where there is one plug, a low source
	Wirings   []Wiring   // the right one first, those with fewer changes before those with more
	Rectifier *Rectifier // nil: nothing is rectified

	shelf *yokemate.Shelf
	facts *network.Facts
	opt   Options
}

// Last is the joint that is closed last. Without one, everything is joined from
// the start, and what comes last is the load.
type Last struct {
	Joint string   // that it becomes
	Open  string   // the name of its part that is not joined yet
	pins  []string // that are in this part when all is right
	gap   bool     // closing it closes a loop, so that the volts across it tell
}

// Gap reports whether the meter reads across the last joint; else it reads the
// first output.
func (l *Last) Gap() bool { return l.gap }

// Lead is the wire to one pin that pupils may move.
type Lead struct {
	Pin     string // as T1.5
	Winding string // as T1/A
	Start   bool   // the pin is the winding's dotted end
	Mains   bool   // leads are changed over on one side only
	Home    string // joint that it is in when all is right
}

// Source is what feeds the hookup while it is read.
type Source struct {
	Low  bool // a low source in place of the mains
	feed yokemate.Feeds
}

// Check reports why there is no page of a hookup; nil: there is one.
func Check(s *yokemate.Shelf, h *yokemate.Hookup, opt Options) error {
	_, _, err := begin(s, h, opt)
	return err
}

// New works a lesson out.
func New(s *yokemate.Shelf, h *yokemate.Hookup, opt Options) (*Lesson, error) {
	l, plan, err := begin(s, h, opt)
	if err != nil {
		return nil, err
	}
	proof, err := plan.Proof()
	if err != nil {
		return nil, err
	}
	l.findLast(proof)
	l.findLeads()
	l.findSources()
	for _, x := range l.ways() {
		w, err := l.foretell(x)
		if err != nil {
			return nil, err
		}
		l.Wirings = append(l.Wirings, *w)
	}
	for i := range l.Wirings {
		l.judge(&l.Wirings[i])
	}
	if l.Rectifier, err = l.rectifier(plan, proof, atMains(h)); err != nil {
		return nil, err
	}
	return l, nil
}

// begin takes the hookup and its units, and plans its proof.
func begin(s *yokemate.Shelf, h *yokemate.Hookup, opt Options) (*Lesson, *prove.Plan, error) {
	refuse := func(code yokemate.Code, place, words, mend string) (*Lesson, *prove.Plan, error) {
		return nil, nil, yokemate.Errorf(code, place, "%s", words).Mend("%s", mend)
	}
	if opt.Trial == 0 {
		opt.Trial = 12
	}
	if opt.Most == 0 {
		opt.Most = 160
	}
	switch {
	case len(h.Outputs) == 0:
		return refuse(yokemate.Unsupported, "outputs", "a hookup without an output gives pupils nothing to aim at", "add an output")
	case !(opt.Trial >= 6 && opt.Trial <= 25):
		return refuse(yokemate.Invalid, "low source", "a class works on 6 to 25 V", "use 12 V")
	}
	s = s.Only(h)
	l := &Lesson{shelf: s, facts: network.Compile(s), opt: opt}
	plan, err := prove.New(l.facts, h, prove.Options{Meter: opt.Meter})
	if err != nil {
		return nil, nil, err
	}
	l.Hookup, err = inOhms(l.facts, h)
	return l, plan, err
}

// atMains is the hookup at full mains.
func atMains(h *yokemate.Hookup) *yokemate.Hookup {
	c := h.Clone()
	c.Meters, c.Fed = nil, nil
	for i := range c.Feed {
		c.Feed[i].Lamp, c.Feed[i].Fed = nil, nil
	}
	return c
}

// inOhms is the AC side at full mains with loads that a wrong wiring can feed
// too: constant amps cannot be drawn where there are no volts, so they become
// the ohms that draw them when all is right.
func inOhms(f *network.Facts, h *yokemate.Hookup) (*yokemate.Hookup, error) {
	c := atMains(h)
	for i := range c.Outputs {
		c.Outputs[i].DC = nil
	}
	p, err := predict.Hookup(f, c, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		return nil, err
	}
	for i := range c.Outputs {
		load := c.Outputs[i].Load
		if load == nil || load.Amps == 0 {
			continue
		}
		z, pf := p.Outputs[i].Volts/p.Outputs[i].Amps, 1.0
		if load.PowerFactor != nil {
			pf = *load.PowerFactor
		}
		*load = yokemate.Load{Ohms: z * pf, Henries: reactance(z, pf) / (2 * pi * c.Feed[0].Hertz)}
	}
	return c, nil
}

// rectified reports whether an output has a rectifier, which its AC side is
// taught without.
func (l *Lesson) rectified(output string) bool {
	return l.Rectifier != nil && slices.ContainsFunc(l.Rectifier.Hookup.Outputs, func(o yokemate.Output) bool { return o.Name == output && o.DC != nil })
}

// say gives a name that the drawings show in their language.
func (l *Lesson) say(name string) string {
	if l.opt.Figure.Say == nil {
		return name
	}
	return l.opt.Figure.Say(name)
}

// findLast takes the last joint from the proof: the last gap that it reads, or
// else a joint between windings, whose volts tell nothing while it is open.
func (l *Lesson) findLast(proof *yokemate.Proof) {
	part := func(joint string, pins []string, gap bool) bool {
		j := l.Hookup.Joints.Joint(joint)
		if j == nil || len(pins) == 0 || len(pins) >= len(j.Pins) {
			return false
		}
		for _, p := range pins {
			if !slices.Contains(j.Pins, p) {
				return false
			}
		}
		open := joint + " " + l.say("open")
		for l.Hookup.Joints.Joint(open) != nil {
			open += "+"
		}
		l.Last = Last{Joint: joint, Open: open, pins: slices.Clone(pins), gap: gap}
		return true
	}
	for _, kind := range []string{"gap-", "trial-"} {
		for i := len(proof.Steps) - 1; i >= 0; i-- {
			s := &proof.Steps[i]
			if s.Closes == "" || !strings.HasPrefix(s.ID, kind) {
				continue
			}
			for _, end := range []string{s.Measure.To, s.Measure.From} {
				if j := s.State.Joints.Joint(end); j != nil && part(s.Closes, j.Pins, true) {
					return
				}
			}
		}
	}
	for i := len(l.Hookup.Joints) - 1; i >= 0; i-- {
		j := &l.Hookup.Joints[i]
		if n := len(j.Pins); n > 1 && j.Name != l.Hookup.Earth && !l.plugged(j.Name) && part(j.Name, j.Pins[n-1:], false) {
			return
		}
	}
}

// plugged reports whether a joint is a plug's.
func (l *Lesson) plugged(joint string) bool {
	return slices.ContainsFunc(l.Hookup.Feed, func(f yokemate.Feed) bool { return f.Live == joint || f.Neutral == joint })
}

// mostFree is how many windings may be turned round: their ways are as many as
// two to that power.
const mostFree = 5

// findLeads lists the leads that may be moved: those of windings with both ends
// in joints, the secondaries' first where there are too many.
func (l *Lesson) findLeads() {
	type free struct {
		unit *yokemate.Unit
		w    *yokemate.Winding
	}
	var all []free
	for _, mains := range []bool{false, true} {
		for _, tag := range l.Hookup.Tags() {
			u := l.shelf.Unit(tag)
			for i := range u.Windings {
				w := &u.Windings[i]
				in := func(k int) bool { return l.Hookup.Joints.Of(tag+"."+w.Pins[k]) != "" }
				if u.MainsSide(w.ID) == mains && in(0) && in(1) && len(all) < mostFree {
					all = append(all, free{u, w})
				}
			}
		}
	}
	// On the page they stand unit by unit, the mains side first, as drawn.
	for _, tag := range l.Hookup.Tags() {
		for _, mains := range []bool{true, false} {
			for _, x := range all {
				if x.unit.Tag != tag || x.unit.MainsSide(x.w.ID) != mains {
					continue
				}
				for k, p := range x.w.Pins {
					pin := tag + "." + p
					if !slices.ContainsFunc(l.Leads, func(y Lead) bool { return y.Pin == pin }) {
						l.Leads = append(l.Leads, Lead{Pin: pin, Winding: tag + "/" + x.w.ID, Start: k == 0, Mains: mains, Home: l.home(pin)})
					}
				}
			}
		}
	}
}

// home is the joint that a pin is in before the last one is closed.
func (l *Lesson) home(pin string) string {
	if l.Last.gap && slices.Contains(l.Last.pins, pin) {
		return l.Last.Open
	}
	return l.Hookup.Joints.Of(pin)
}

// findSources lists what may feed it. The low one is an isolated AC adapter
// behind 250 mA, as a proof's trials have it; with several plugs there is none.
func (l *Lesson) findSources() {
	f := l.Hookup.Feed[0]
	l.Sources = []Source{{feed: l.Hookup.Feed}}
	if len(l.Hookup.Feed) > 1 {
		return
	}
	v := l.opt.Trial
	low := yokemate.Feed{Volts: yokemate.Num(v), Low: 0.85 * v, High: 1.25 * v, Hertz: f.Hertz, Live: f.Live, Neutral: f.Neutral, FuseAmps: 0.25, FuseKind: "T", Ohms: 2}
	l.Sources = append(l.Sources, Source{Low: true, feed: yokemate.Feeds{low}})
}
