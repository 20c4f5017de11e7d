package prove

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/si"
)

// Windings in parallel that circulate more than the limit for a plain go are
// derated: how they really share is read, one branch after the other, before
// the load is trusted to them. The lead of one winding is taken off the joint
// and an ammeter put in its place. An ammeter of 0.1 Ω is no short there, for
// it stands in series, and changes the sharing by an amount that is reckoned
// out again. Where the current is above the meter's largest range, a resistor
// of 0.1 Ω takes its place and the volts across it are read.

// ammeterOhms is what an ammeter or the resistor in its place has [Ω].
const ammeterOhms = 0.1

// share adds the branch currents' steps before the first that draws a load.
func (b *builder) share() error {
	p := b.p
	few := p.limits.Filled().CirculatingGo
	var list []*step
	for _, x := range b.pairs {
		gap := p.step(x.gap)
		right := &p.worlds[0]
		v := p.forecast(gap, right).dist.Interval()
		c := p.closing(gap, right)
		if c.share*v.High <= few*v.Value || math.IsInf(c.share, 1) {
			continue
		}
		for _, pin := range x.pins {
			s, err := b.branchStep(pin, x.joint)
			if err != nil {
				return err
			}
			if s != nil && !slices.ContainsFunc(list, func(t *step) bool { return t.branch.winding == s.branch.winding }) {
				list = append(list, s)
			}
		}
	}
	if len(list) == 0 {
		return nil
	}
	at := slices.IndexFunc(p.steps, func(s *step) bool { return s.ID == "idle" }) + 1
	p.steps = slices.Insert(p.steps, at, list...)
	return nil
}

// branchStep makes the step that reads the current of the winding at a pin;
// nil where its lead cannot be taken off.
func (b *builder) branchStep(pin, joint string) (*step, error) {
	tag, name, _ := yokemate.SplitPin(pin)
	u, err := b.f.Unit(tag)
	if err != nil {
		return nil, err
	}
	var w *yokemate.Winding
	index := -1
	for i, x := range u.Windings {
		if slices.Contains(x.Pins[:], name) && b.used(tag, x.Pins[0]) && b.used(tag, x.Pins[1]) {
			if w != nil {
				return nil, nil // a tap: its lead carries more than one winding
			}
			w, index = x, i
		}
	}
	j := b.h.Joints.Joint(joint)
	if w == nil || j == nil || len(j.Pins) < 2 || !slices.Contains(j.Pins, pin) {
		return nil, nil
	}
	state := b.finished(true)
	at := state.Joints.Joint(joint)
	at.Pins = slices.DeleteFunc(at.Pins, func(p string) bool { return p == pin })
	state.Joints = append(state.Joints, yokemate.Joint{Name: end(pin), Pins: []string{pin}})
	s := &step{kind: branchAmps, branch: branch{winding: tag + "/" + w.ID, pin: pin, joint: joint, rating: u.Limits[index].Amps}}
	s.Step = yokemate.Step{ID: "branch-" + tag + "-" + w.ID, State: *state, Slips: []yokemate.Slip{},
		Help: "Windings that are not quite alike share a load unequally: the one of more volts and fewer ohms carries more. Each must stay below its own rating.",
	}
	with, err := b.carries(s.State, network.Options{Added: []network.Branch{{From: end(pin), To: joint, Ohms: ammeterOhms}}}, tag, w.ID)
	if err != nil {
		return nil, err
	}
	without, err := b.carries(*b.finished(true), network.Options{}, tag, w.ID)
	if err != nil {
		return nil, err
	}
	if !(with > 0) {
		return nil, nil
	}
	s.branch.alone = without / with
	load := "with the load connected"
	if !slices.ContainsFunc(state.Outputs, func(o yokemate.Output) bool { return o.Load != nil }) {
		load = "nothing drawn"
	}
	if _, ok := b.p.meter.On(yokemate.AmpsAC, math.Max(with, 1.2*s.branch.rating)); ok {
		s.Measure = &yokemate.Measure{Quantity: yokemate.AmpsAC, From: end(pin), To: joint}
		s.Do = fmt.Sprintf("Power off. Take the lead of pin %s off joint %s and put the ammeter between them, probes in its amps sockets, on a range for %s AC. Power on, hands off, %s, read AC amps, power off. Put the lead back on the joint.",
			pin, joint, si.Format(s.branch.rating, "A", 2), load)
	} else {
		s.Measure = &yokemate.Measure{Quantity: yokemate.VoltsAC, From: end(pin), To: joint, BurdenOhms: ammeterOhms}
		s.Do = fmt.Sprintf("The current is more than the meter's amps sockets take. Power off. Take the lead of pin %s off joint %s and put a resistor of %s and %s between them. Power on, hands off, %s, read AC volts across the resistor, power off. Put the lead back on the joint.",
			pin, joint, si.Format(ammeterOhms, "Ω", 2), si.Format(watts(with*with*ammeterOhms), "W", 2), load)
	}
	return s, nil
}

// carries is the current of a winding [A].
func (b *builder) carries(h yokemate.Hookup, opt network.Options, tag, id string) (float64, error) {
	n, err := network.Build(b.f, &h, opt)
	if err != nil {
		return 0, err
	}
	sol, err := n.Solve(nil)
	if err != nil {
		return 0, err
	}
	for k, t := range n.Units() {
		if t == tag {
			return cmplx.Abs(sol.Value(n.WindingAmps(k, n.UnitFacts(k).Index(id)))), nil
		}
	}
	return 0, nil
}

// carried is the winding's own current by a reading at a branch step, without
// the ammeter, and its worst bound [A].
func (p *Plan) carried(s *step, r reading) (amps, worst float64) {
	k := s.branch.alone
	if s.Measure.Quantity == yokemate.VoltsAC {
		k /= ammeterOhms
	}
	return k * r.value, k * p.worst(s, r)
}

// worst is the most that a reading may stand for, by the meter's own bounds;
// 2 % where nothing is known of them (common practice) [unit of the reading].
func (p *Plan) worst(s *step, r reading) float64 {
	w := r.value + r.res/2
	if a, ok := p.meter.Showing(s.Measure.Quantity, r.value, r.digits); ok {
		return w + math.Sqrt(3)*(a.Gain*r.value+a.Fixed)
	}
	return 1.02 * w
}

// branch judges a branch current that reads as right does: the leads are as
// they should be, and the winding must stand what it carries.
func (j *judge) branch(s *step, r reading, v *yokemate.Verdict) {
	amps, worst := j.p.carried(s, r)
	b := &s.branch
	say := func(x float64) string { return si.Format(x, "A", 3) }
	switch {
	case amps > b.rating:
		v.Verdict = "stop"
		v.Words = fmt.Sprintf("The leads are right, and %s carries %s of the %s that it may: draw at most %.0f %% of this load, or take another unit.", b.winding, say(amps), say(b.rating), math.Floor(100*b.rating/worst))
	case worst > b.rating:
		v.Words = fmt.Sprintf("%s carries %s of the %s that it may, and by the meter's doubt up to %s. Not proven.", b.winding, say(amps), say(b.rating), say(worst))
		j.notes = append(j.notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.ID, Words: fmt.Sprintf("%s carries up to %s of the %s that it may", b.winding, say(worst), say(b.rating))})
	default:
		v.Words = fmt.Sprintf("%s carries %s of the %s that it may.", b.winding, say(amps), say(b.rating))
	}
}
