package predict

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/si"
)

type noter struct {
	f     *network.Facts
	h     *yokemate.Hookup
	g     *wiring
	l     Limits
	opt   network.Options // how the wiring differs from h
	meter *yokemate.Meter
	net   *network.Net // of the hookup, solved over and over
	bare  *network.Net // the same with every load taken off; net itself where there is none
	list  []yokemate.Note
}

func (n *noter) add(code yokemate.NoteCode, level yokemate.Level, about, words string, args ...any) {
	note := yokemate.Note{Code: code, Level: level, Words: fmt.Sprintf(words, args...), About: about}
	if !slices.Contains(n.list, note) {
		n.list = append(n.list, note)
	}
}

// notProven adds the caution that goes with a limit passed only at the end
// of an interval.
func (n *noter) notProven(about, words string, args ...any) {
	n.add(yokemate.NotProven, yokemate.Caution, about, words, args...)
}

// notes judges a hookup. The prediction at hand gives the currents; what is
// judged at other mains or without load is solved for here, on the same
// network where it serves: a solution of it that went before is lost.
func notes(f *network.Facts, h *yokemate.Hookup, p *yokemate.Prediction, o Options, meter *yokemate.Meter, net *network.Net) ([]yokemate.Note, error) {
	g, err := newWiring(f, h, o.Network.Parted)
	if err != nil {
		return nil, err
	}
	n := &noter{f: f, h: h, g: g, l: o.Limits.Filled(), opt: o.Network, meter: meter, net: net, list: []yokemate.Note{}}
	n.parts()
	n.isolation()
	n.currents(p)
	n.limiters()
	if fed := anyPowered(h); fed {
		if n.bare, err = n.unloaded(); err != nil {
			return nil, err
		}
		for _, check := range []func() error{n.atHighMains, n.idle, n.insulation, n.shorts, n.phases} {
			if err := check(); err != nil {
				return nil, err
			}
		}
	}
	n.series()
	slices.SortStableFunc(n.list, func(a, b yokemate.Note) int { return rank(a.Level) - rank(b.Level) })
	return n.list, nil
}

func rank(l yokemate.Level) int {
	switch l {
	case yokemate.Stop:
		return 0
	case yokemate.Caution:
		return 1
	}
	return 2
}

func anyPowered(h *yokemate.Hookup) bool {
	for i := range h.Feed {
		if h.Powered(i) {
			return true
		}
	}
	return false
}

// parts notes what is wrong with, or unknown of, the units themselves.
func (n *noter) parts() {
	for _, tag := range n.h.Tags() {
		u, _ := n.f.Unit(tag)
		src := u.Source
		if src.Quarantined() {
			reason := src.Reason
			if reason == "" {
				reason = "no reason is given"
			}
			n.add(yokemate.Quarantine, yokemate.Stop, tag, "%s is in quarantine: %s", tag, reason)
		}
		if id := src.CoreJoined(); id != "" {
			n.add(yokemate.CoreJoined, yokemate.Stop, tag, "winding %s of %s ends on the core: it may be a microwave-oven unit. Do not energise it", id, tag)
		}
		if src.Mains == nil {
			n.add(yokemate.MainsUnknown, yokemate.Caution, tag, "what mains %s is made for is not known: a label or the knee of its excitation curve settles it", tag)
			n.notProven(tag, "the flux of %s is reckoned against its own reading, not against a rating", tag)
		}
		if len(u.Guessed) > 0 {
			n.add(yokemate.EstimatedFacts, yokemate.Info, tag, "%s: estimated %s", tag, strings.Join(u.Guessed, ", "))
		}
		coreAt := n.h.Joints.Of(tag + "." + yokemate.CorePin)
		if n.h.Earth == "" || coreAt != n.h.Earth {
			n.add(yokemate.EarthMissing, yokemate.Caution, tag, "the core of %s is not bonded to earth", tag)
		}
		n.halfPrimary(u)
		for _, x := range src.Windings {
			if !src.MainsSide(x.ID) && x.Volts.V > n.l.NeverVolts {
				n.add(yokemate.HazardousVoltage, yokemate.Stop, tag+"/"+x.ID, "winding %s of %s makes %s: no hookup is offered with it", x.ID, tag, si.Format(x.Volts.V, "V", 3))
			}
		}
	}
}

// halfPrimary notes a split primary of which only a part is connected.
func (n *noter) halfPrimary(u *network.Unit) {
	var in, out []string
	for _, x := range u.Windings {
		if !u.Source.MainsSide(x.ID) {
			continue
		}
		both := true
		for _, p := range x.Pins {
			both = both && n.h.Joints.Of(u.Tag+"."+p) != "" && !slices.Contains(n.opt.Parted, u.Tag+"."+p)
		}
		if both {
			in = append(in, x.ID)
		} else {
			out = append(out, x.ID)
		}
	}
	if len(in) > 0 && len(out) > 0 {
		n.add(yokemate.HalfPrimary, yokemate.Caution, u.Tag, "only %s of the mains side of %s carries current, %s does not: it has part of the copper and carries part of the rating",
			strings.Join(in, ", "), u.Tag, strings.Join(out, ", "))
	}
}

func (n *noter) isolation() {
	for _, o := range n.h.Outputs {
		if !n.g.isolated(o) {
			n.add(yokemate.NotIsolated, yokemate.Caution, o.Name, "output %s is joined to the mains by copper: touching it is touching the mains", o.Name)
		}
	}
}

// stray is what stray capacitances may put on top of a winding's current
// before that counts against its rating.
const stray = 1e-3

// currents holds every winding to what it may carry.
func (n *noter) currents(p *yokemate.Prediction) {
	for _, s := range p.Windings {
		if s.LimitAmps == nil {
			continue
		}
		u, _ := n.f.Unit(s.Unit)
		limit := u.Limits[u.Index(s.ID)]
		about := s.Unit + "/" + s.ID
		switch {
		case s.Amps > limit.Amps*(1+stray):
			n.add(yokemate.OverCurrent, yokemate.Stop, about, "%s carries %s, and may carry %s", about, si.Format(s.Amps, "A", 3), si.Format(limit.Amps, "A", 3))
		case s.Amps+math.Hypot(s.High-s.Amps, limit.Amps-limit.Low()) > limit.Amps*(1+stray):
			n.notProven(about, "%s carries up to %s; its rating may be as low as %s", about, si.Format(s.High, "A", 3), si.Format(limit.Low(), "A", 3))
		}
	}
}

// limiters notes what a series lamp can and cannot tell.
func (n *noter) limiters() {
	for i := range n.h.Feed {
		lamp := n.h.Feed[i].Lamp
		if lamp == nil {
			continue
		}
		if !lamp.Filament() {
			n.add(yokemate.LampNotFilament, yokemate.Info, "feed", "the limiter is a resistor of %s: it does not glow, so read the volts across it", si.Format(lamp.Ohms, "Ω", 3))
			continue
		}
		for _, tag := range n.g.fed() {
			u, _ := n.f.Unit(tag)
			volts := n.h.Feed[i].Volts.V
			reg := core.Regulation(kindOf(u), u.VA)
			if protect.TooBig(protect.Lamp{Watts: lamp.Watts, Volts: lamp.Volts}, u.VA/volts, reg.Best) {
				better := protect.LampFor(u.VA, volts)
				glow := si.Format(lamp.Watts/lamp.Volts, "A", 2)
				if lamp.Watts <= better.Watts {
					n.add(yokemate.LampTooBig, yokemate.Caution, tag, "even a %s lamp is too big for its glow to tell of %s: shorted, it draws little more than the lamp's %s. Read the volts behind the lamp: less than half of the mains is a short",
						si.Format(lamp.Watts, "W", 2), tag, glow)
					continue
				}
				n.add(yokemate.LampTooBig, yokemate.Caution, tag, "a %s lamp is too big to tell for %s: shorted, it draws little more than the lamp's %s. Use %s",
					si.Format(lamp.Watts, "W", 2), tag, glow, si.Format(better.Watts, "W", 2))
			}
		}
	}
}

func kindOf(u *network.Unit) string {
	if u.Source.Core != nil && u.Source.Core.Kind != "" {
		return u.Source.Core.Kind
	}
	return "EI"
}

// unloaded is the network with every load taken off. A load holds a core's
// flux and a winding's volts down, or in a bucking unit up, and may be there or
// not: what is judged by its worst is judged with it and without.
func (n *noter) unloaded() (*network.Net, error) {
	h := n.h.Clone()
	any := false
	for i := range h.Outputs {
		any = any || h.Outputs[i].Load != nil
		h.Outputs[i].Load = nil
	}
	if !any {
		return n.net, nil
	}
	return network.Build(n.f, h, n.opt)
}

// both are runs of the hookup with its loads and, where it has any, without.
func (n *noter) both(level yokemate.MainsLevel) ([]*Run, error) {
	var runs []*Run
	for _, net := range []*network.Net{n.net, n.bare} {
		if len(runs) > 0 && net == n.net {
			break
		}
		r, err := NewRun(net, net.VoltsAt(level), n.meter)
		if err != nil {
			return nil, err
		}
		runs = append(runs, r)
	}
	return runs, nil
}

// atHighMains judges the flux and the hazardous voltages, always at the
// highest mains, with the loads on or off as is worse.
func (n *noter) atHighMains() error {
	runs, err := n.both(yokemate.High)
	if err != nil {
		return err
	}
	plug := slices.Max(runs[0].volts)
	fed := n.g.fed()
	for k, tag := range runs[0].Net.Units() {
		var x yokemate.Interval
		for _, r := range runs {
			y := r.Flux(k)
			x.Value, x.High = math.Max(x.Value, y.Value), math.Max(x.High, y.High)
		}
		switch {
		case x.Value > n.l.FluxStop:
			n.add(yokemate.OverFlux, yokemate.Stop, tag, "at the highest mains the core of %s is at %.2f of its rated volts per hertz; %.2f is the most", tag, x.Value, n.l.FluxStop)
		case x.Value > n.l.FluxGo:
			n.add(yokemate.OverFlux, yokemate.Caution, tag, "at the highest mains the core of %s is at %.2f of its rated volts per hertz, above %.2f: it may run hot and hum", tag, x.Value, n.l.FluxGo)
			if x.High > n.l.FluxStop {
				n.notProven(tag, "the flux of %s may reach %.2f", tag, x.High)
			}
		case x.High > n.l.FluxGo:
			n.notProven(tag, "at the highest mains the flux of %s is %.3f, and may reach %.3f", tag, x.Value, x.High)
		}
		u := runs[0].Net.UnitFacts(k)
		for w, src := range u.Windings {
			var i yokemate.Interval
			for _, r := range runs {
				y := r.dist(r.Net.WindingVolts(k, w), nil).Interval()
				i.Value, i.High = math.Max(i.Value, y.Value), math.Max(i.High, y.High)
			}
			if u.Source.MainsSide(src.ID) && slices.Contains(fed, tag) && i.Value <= 1.05*plug {
				continue // it is the mains itself
			}
			v, about := i.Value, tag+"/"+src.ID
			switch {
			case v > n.l.NeverVolts:
				n.add(yokemate.HazardousVoltage, yokemate.Stop, about, "%s makes %s", about, si.Format(v, "V", 3))
				continue
			case i.High > n.l.NeverVolts:
				n.notProven(about, "%s makes %s, and may make %s", about, si.Format(v, "V", 3), si.Format(i.High, "V", 3))
			}
			if v = i.High; v > n.l.HazardVolts {
				n.add(yokemate.HazardousVoltage, yokemate.Caution, about, "%s makes up to %s: above %s it can kill. Cover it, one hand, power off before a lead moves", about, si.Format(v, "V", 3), si.Format(n.l.HazardVolts, "V", 2))
			}
		}
	}
	return nil
}

// idle judges the hookup with every load taken off, at nominal mains: what
// circulates, what steps up, what a pulled plug's blades hold.
func (n *noter) idle() error {
	h := n.bare.Hookup
	r, err := NewRun(n.bare, n.bare.VoltsAt(yokemate.Nominal), n.meter)
	if err != nil {
		return err
	}
	n.circulation(r)
	source := 0.0
	for i := range h.Feed {
		if h.Powered(i) {
			source = math.Max(source, h.Feed[i].Volts.V)
		}
	}
	for _, o := range h.Outputs {
		d, _ := r.Volts(o.From, o.To)
		if d.Value > 1.05*source {
			n.add(yokemate.StepUp, yokemate.Caution, o.Name, "output %s reads %s, more than the %s that is fed", o.Name, si.Format(d.Value, "V", 3), si.Format(source, "V", 3))
		}
	}
	fed := n.g.fed()
	for k, tag := range r.Net.Units() {
		if !slices.Contains(fed, tag) {
			u := r.Net.UnitFacts(k)
			for w, src := range u.Windings {
				if v := cmplx.Abs(r.Sol.Value(r.Net.WindingVolts(k, w))); u.Source.MainsSide(src.ID) && v > n.l.HazardVolts {
					n.add(yokemate.StepUp, yokemate.Caution, tag, "%s is driven backwards through its low side: %s appears on its mains side %s", tag, si.Format(v, "V", 3), src.ID)
				}
			}
		}
	}
	return n.blades(h)
}

// circulation judges the currents that parallel windings drive through each
// other with no load, against the smaller rating of their ring.
func (n *noter) circulation(r *Run) {
	fed := n.g.fed()
	type ring struct{ members []int }
	var rings []ring
	for i, e := range n.g.edges {
		if !slices.Contains(fed, e.unit.Tag) || !n.g.ringed(i, fed) {
			continue
		}
		if e.a == e.b {
			n.add(yokemate.Circulating, yokemate.Stop, e.name(), "both ends of %s are in one joint: it is shorted", e.name())
			continue
		}
		placed := false
		for j := range rings {
			if m := n.g.edges[rings[j].members[0]]; m.primary == e.primary && n.together(m, e) {
				rings[j].members = append(rings[j].members, i)
				placed = true
				break
			}
		}
		if !placed {
			rings = append(rings, ring{[]int{i}})
		}
	}
	for _, ring := range rings {
		least := math.Inf(1)
		leastU := 0.0
		worst, names := yokemate.Interval{}, []string{}
		for _, i := range ring.members {
			e := n.g.edges[i]
			names = append(names, e.name())
			if l := e.unit.Limits[e.w]; l.Amps < least {
				least, leastU = l.Amps, l.U
			}
			k := slices.Index(r.Net.Units(), e.unit.Tag)
			d := r.dist(r.Net.WindingAmps(k, e.w), nil).Interval()
			if e.primary {
				d = n.primaryCirculation(r, ring.members, i)
			}
			if d.Value >= worst.Value {
				worst.Value = d.Value
			}
			worst.High = math.Max(worst.High, d.High)
		}
		about := strings.Join(names, ", ")
		share, high := worst.Value/least, worst.High/math.Max(least-1.96*leastU, 1e-9)
		words := fmt.Sprintf("with no load %s circulates between %s: %.1f %% of the smaller rating, %s", si.Format(worst.Value, "A", 2), about, 100*share, si.Format(least, "A", 3))
		switch {
		case share > n.l.CirculatingStop:
			n.add(yokemate.Circulating, yokemate.Stop, about, "%s; more than %.0f %% is a stop", words, 100*n.l.CirculatingStop)
		case share > n.l.CirculatingGo:
			n.add(yokemate.Circulating, yokemate.Caution, about, "%s; derate to what the sharing allows and measure each branch", words)
		case high > n.l.CirculatingGo:
			n.add(yokemate.Circulating, yokemate.Caution, about, "%s, and may be as much as %.0f %%", words, 100*high)
		case worst.High > 0: // coils side by side on a stiff feed drive nothing
			n.add(yokemate.Circulating, yokemate.Info, about, "%s", words)
		}
		if share <= n.l.CirculatingStop && high > n.l.CirculatingStop {
			n.notProven(about, "the facts leave up to %.0f %% of the smaller rating to circulate: the gap reading settles it", 100*high)
		}
		n.mismatch(ring.members)
	}
}

// primaryCirculation is half the difference of the currents of two parallel
// mains coils: what each carries for the other, the exciting current taken off.
func (n *noter) primaryCirculation(r *Run, members []int, i int) yokemate.Interval {
	e := n.g.edges[i]
	worst := yokemate.Interval{}
	for _, j := range members {
		x := n.g.edges[j]
		if j == i || x.unit != e.unit || x.a != e.a && x.a != e.b || x.b != e.a && x.b != e.b {
			continue // coils in series carry one current, and circulate nothing
		}
		k := slices.Index(r.Net.Units(), e.unit.Tag)
		a, b := r.Net.WindingAmps(k, e.w), r.Net.WindingAmps(k, x.w)
		d := r.dist(network.Difference(a, b), nil).Interval()
		if d.Value/2 >= worst.Value {
			worst = yokemate.Interval{Value: d.Value / 2, Low: d.Low / 2, High: d.High / 2}
		}
	}
	return worst
}

// together reports whether two ringed windings are in one ring's reach.
func (n *noter) together(a, b edge) bool {
	return slices.Contains(n.g.reach(a.a, func(x edge) bool { return x.primary == a.primary }), b.a)
}

// mismatch tells the difference of no-load volts of windings that share
// both joints.
func (n *noter) mismatch(members []int) {
	for x, i := range members {
		for _, j := range members[x+1:] {
			a, b := n.g.edges[i], n.g.edges[j]
			if a.primary || a.a != b.a || a.b != b.b {
				continue
			}
			va, vb := a.unit.Windings[a.w].Volts.V, b.unit.Windings[b.w].Volts.V
			if m := math.Abs(va-vb) / math.Min(va, vb); m > 0.002 {
				n.add(yokemate.Mismatch, yokemate.Info, a.name()+", "+b.name(), "%s and %s differ by %.1f %% open-circuit, %s and %s; the current it drives decides, not the volts",
					a.name(), b.name(), 100*m, si.Format(va, "V", 4), si.Format(vb, "V", 4))
			}
		}
	}
}

// blades pulls each of several plugs in turn, where it is not out already, and
// reads its blades under a burden of 2 kΩ.
func (n *noter) blades(h *yokemate.Hookup) error {
	if len(h.Feed) < 2 {
		return nil
	}
	for i := range h.Feed {
		p := h.Clone()
		out := false
		p.Feed[i].Fed = &out
		f := p.Feed[i]
		if h.Joints.Joint(f.Live) == nil || h.Joints.Joint(f.Neutral) == nil {
			continue // a plug that is out may have no wires yet
		}
		opt := n.opt
		opt.Added = append(slices.Clone(opt.Added), network.Branch{From: f.Live, To: f.Neutral, Ohms: 2000})
		net, err := network.Build(n.f, p, opt)
		if err != nil {
			return err
		}
		r, err := NewRun(net, net.VoltsAt(yokemate.Nominal), n.meter)
		if err != nil {
			return err
		}
		if d, ok := r.Volts(f.Live, f.Neutral); ok && d.Interval().High > n.l.BladeVolts {
			n.add(yokemate.BackFed, yokemate.Stop, f.Live, "with plug %d pulled its blades still hold %s, fed back through its neighbour", i+1, si.Format(d.Value, "V", 3))
		}
	}
	return nil
}

// insulation holds the volts from winding to core and winding to winding to
// what the insulation is known to stand, at nominal mains, with the loads on or
// off as is worse.
func (n *noter) insulation() error {
	runs, err := n.both(yokemate.Nominal)
	if err != nil {
		return err
	}
	// Strays and loads divide volts and make none: no two points can stand
	// further apart than all plugs and all windings end to end, with what the
	// facts leave of each.
	reach := 0.0
	for _, r := range runs {
		reach = math.Max(reach, n.endToEnd(r))
	}
	for k, tag := range runs[0].Net.Units() {
		u := runs[0].Net.UnitFacts(k)
		ends := func(id string) []string {
			if id == yokemate.CorePin {
				return []string{tag + "." + yokemate.CorePin}
			}
			p := u.Source.Winding(id).Pins
			return []string{tag + "." + p[0], tag + "." + p[1]}
		}
		var unknown []string
		ids := []string{yokemate.CorePin}
		for _, w := range u.Windings {
			ids = append(ids, w.ID)
		}
		for i, a := range ids {
			for _, b := range ids[i+1:] {
				if shares(u.Source, a, b) {
					continue // a tapped winding's parts are one piece of wire
				}
				most, volts := make([]network.Probe, len(runs)), make([]float64, len(runs))
				for j, r := range runs {
					volts[j] = -1
					for _, p := range ends(a) {
						for _, q := range ends(b) {
							if probe, ok := r.Net.Volts(p, q); ok {
								if x := cmplx.Abs(r.Sol.Value(probe)); x > volts[j] {
									volts[j], most[j] = x, probe
								}
							}
						}
					}
				}
				v := slices.Max(volts)
				// What strays leave open takes many solutions, and a load changes the
				// volts that they divide, not how: the first run's doubt, as its volts
				// grow, serves for one that stands a little higher.
				high := func() float64 {
					if volts[0] > 0 && v < alikeVolts*volts[0] {
						return runs[0].dist(most[0], nil).Interval().High * v / volts[0]
					}
					end := 0.0
					for j, r := range runs {
						end = math.Max(end, r.dist(most[j], nil).Interval().High)
					}
					return end
				}
				if !n.stands(tag, a, b, v, reach, high, u.Source.Insulation) {
					unknown = append(unknown, a+" to "+b)
				}
			}
		}
		if len(unknown) > 0 {
			n.add(yokemate.InsulationUnknown, yokemate.Caution, tag, "%s: what the insulation stands in use is not known: %s", tag, strings.Join(unknown, ", "))
			n.notProven(tag, "insulation of %s", tag)
		}
	}
	return nil
}

// alikeVolts is how far two runs' volts may be apart for the doubt of one to serve for both [1].
const alikeVolts = 1.3

// endToEnd is the most that any two points can stand apart [V].
func (n *noter) endToEnd(r *Run) float64 {
	reach := 0.0
	for i := range n.h.Feed {
		if n.h.Powered(i) {
			reach += n.h.Feed[i].Volts.V + 2*n.h.Feed[i].Volts.U
		}
	}
	fed := n.g.fed()
	for k, tag := range r.Net.Units() {
		u := r.Net.UnitFacts(k)
		for w, src := range u.Windings {
			if slices.Contains(fed, tag) && u.Source.MainsSide(src.ID) && r.withinPlugs(tag+"."+src.Pins[0]) && r.withinPlugs(tag+"."+src.Pins[1]) {
				continue // between the plugs' own ends
			}
			volts := u.Params[3*w]
			reach += cmplx.Abs(r.Sol.Value(r.Net.WindingVolts(k, w))) * (1 + 2*math.Hypot(volts.U/volts.Value, volts.Gain))
		}
	}
	return reach
}

// withinPlugs reports whether a point stands no further from neutral than the
// highest of the plugs.
func (r *Run) withinPlugs(at string) bool {
	p, ok := r.Net.Volts(at, "")
	return ok && cmplx.Abs(r.Sol.Value(p)) <= slices.Max(r.volts)*(1+1e-6)
}

func shares(u *yokemate.Unit, a, b string) bool {
	if a == yokemate.CorePin || b == yokemate.CorePin {
		return false
	}
	// Parts of one winding share pins, perhaps through other parts.
	seen := []string{a}
	for i := 0; i < len(seen); i++ {
		for _, w := range u.Windings {
			x := u.Winding(seen[i])
			if !slices.Contains(seen, w.ID) && (slices.Contains(w.Pins[:], x.Pins[0]) || slices.Contains(w.Pins[:], x.Pins[1])) {
				seen = append(seen, w.ID)
			}
		}
	}
	return slices.Contains(seen, b)
}

// stands judges one pair at v volts and reports whether its working figure
// is known. The end of the volts' interval is asked for only where it may
// matter: floating windings have wide ones that are dear to find, and none
// goes beyond reach.
func (n *noter) stands(tag, a, b string, v, reach float64, high func() float64, tests []yokemate.Insulation) bool {
	known := false
	for _, t := range tests {
		if !(t.From == a && t.To == b || t.From == b && t.To == a) {
			continue
		}
		pair := a + " to " + b
		hold := func(limit float64, words string) {
			switch {
			case v > limit:
				n.add(yokemate.InsulationExceeded, yokemate.Stop, tag, "%s: %s stands %s, %s %s", tag, pair, si.Format(v, "V", 3), words, si.Format(limit, "V", 3))
			case v > limit/6 && reach > limit:
				if end := high(); end > limit {
					n.notProven(tag, "%s: %s stands %s and may stand %s, %s %s", tag, pair, si.Format(v, "V", 3), si.Format(end, "V", 3), words, si.Format(limit, "V", 3))
				}
			}
		}
		if t.TestVolts > 0 {
			hold(t.TestVolts, "more than its one-minute test of")
		}
		switch {
		case t.WorkingVolts > 0:
			known = true
			hold(t.WorkingVolts, "more than its working figure of")
		case t.TestVolts > 1000 && !t.Megohms.Known():
			// A one-minute AC test says (test − 1000)/2 in use (traditional, no source).
			known = known || v <= (t.TestVolts-1000)/2 && high() <= (t.TestVolts-1000)/2
		}
		if t.Megohms.Known() && t.Megohms.V < 2 {
			n.add(yokemate.InsulationExceeded, yokemate.Stop, tag, "%s: %s read %s MΩ; under 2 MΩ is a reject", tag, pair, t.Megohms.Digits)
		}
	}
	return known
}

// shorts asks of each output what a short across it draws, and whether the
// plug's fuse opens before a winding is too hot.
func (n *noter) shorts() error {
	for _, o := range n.h.Outputs {
		c, err := n.closed(o.From, o.To)
		if err != nil {
			return err
		}
		if c == nil || c.FuseOpens == "yes" || n.h.Feed[0].FuseAmps == 0 && len(n.h.Fuses) == 0 {
			continue
		}
		word := "never opens the plug's fuse in time"
		if c.FuseOpens == "unsure" {
			word = "may not open the plug's fuse in time"
		}
		n.add(yokemate.FuseNeverOpens, yokemate.Caution, o.Name, "a short across %s drives %s through %s and only %s from the mains: it %s. %s", o.Name,
			si.Format(c.WindingAmps, "A", 2), c.Winding, si.Format(c.FeedAmps, "A", 2), word, c.Protects)
	}
	return nil
}

func (n *noter) closed(a, b string) (*yokemate.IfClosed, error) {
	c, _, err := Closed(n.f, n.h, n.opt, a, b)
	return c, err
}

// Closed says what follows when two points of a hookup are joined: the
// winding that suffers most, the mains current, and whether the fuse opens
// before that winding passes the temperature its insulation stands for a
// short time. The share is the current through the new joint over the smallest
// rating of the windings that carry it. It returns nil where the two points
// are one already.
func Closed(f *network.Facts, h *yokemate.Hookup, opt network.Options, a, b string) (c *yokemate.IfClosed, share float64, err error) {
	if a == b {
		return nil, 0, nil
	}
	before, err := network.Build(f, h, opt)
	if err != nil {
		return nil, 0, err
	}
	open, err := before.Solve(nil)
	if err != nil {
		return nil, 0, err
	}
	// A joint under a screw or a clip: a few milliohms (common practice).
	opt.Added = append(slices.Clone(opt.Added), network.Branch{From: a, To: b, Ohms: 0.003})
	net, err := network.Build(f, h, opt)
	if err != nil {
		return nil, 0, err
	}
	sol, err := net.Solve(nil)
	if err != nil {
		return nil, 0, err
	}
	gap, _ := net.AddedAmps(len(opt.Added) - 1)
	through := cmplx.Abs(sol.Value(gap))
	smallest := math.Inf(1)
	c = &yokemate.IfClosed{FuseOpens: "no"}
	worst := 0.0
	soonest := math.Inf(1)
	ratios := make([][]float64, len(net.Units())) // current over rating, by unit and winding
	for k, tag := range net.Units() {
		u := net.UnitFacts(k)
		for w, src := range u.Windings {
			i := cmplx.Abs(sol.Value(net.WindingAmps(k, w)))
			limit := u.Limits[w].Amps
			if i > c.WindingAmps {
				c.WindingAmps = i
				c.Winding = tag + "/" + src.ID
			}
			was := open.Value(before.WindingAmps(k, w))
			if cmplx.Abs(sol.Value(net.WindingAmps(k, w))-was) > 0.5*through {
				smallest = math.Min(smallest, limit)
			}
			ratios[k] = append(ratios[k], i/limit)
			t := timeToLimit(u.Source.ThermalClass, i/limit)
			if t < soonest {
				soonest = t
			}
			worst = math.Max(worst, i/limit)
		}
	}
	if !math.IsInf(soonest, 1) {
		c.LimitS = &soonest
	}
	for i := range h.Feed {
		if h.Powered(i) {
			_, _, amps := sol.FeedPower(i)
			c.FeedAmps = math.Max(c.FeedAmps, amps)
		}
	}
	earliest, opens := math.Inf(1), math.Inf(1)
	for _, x := range openings(h, net, sol) {
		earliest, opens = math.Min(earliest, x.quick), math.Min(opens, x.slow)
	}
	if !math.IsInf(opens, 1) && !math.IsInf(soonest, 1) {
		if opens, err = warming(net, h, ratios, sureMargin*soonest); err != nil {
			return nil, 0, err
		}
	}
	if !math.IsInf(opens, 1) {
		c.OpensS = &opens
	}
	switch {
	case len(opt.Shorted) > 0:
		// The windings are looked at as wholes; their shorted turns, which carry
		// far more, are not, so nothing can be promised.
		if earliest < math.Inf(1) {
			c.FuseOpens = "unsure"
		}
		c.Protects = "The shorted turns get hot by themselves: only pulling the plug, a thermal link or the series lamp protects that unit."
	case worst <= 1 && math.IsInf(opens, 1):
		c.FuseOpens, c.Protects = "no", "Nothing is overloaded, so nothing need open."
	case opens < sureMargin*soonest:
		c.FuseOpens = "yes"
	case earliest < soonest:
		c.FuseOpens = "unsure"
		c.Protects = "Only a thermal link in the unit, a fuse in that winding's own lead or the series lamp protects it."
	default:
		c.Protects = "Only a thermal link in the unit, a fuse in that winding's own lead or the series lamp protects it."
	}
	return c, through / smallest, nil
}

// opening is when a fuse opens: at the quick end of its gates, and at the slow
// end [s]; +Inf for never.
type opening struct{ quick, slow float64 }

// openings are those of the hookup's fuses with the currents of sol.
func openings(h *yokemate.Hookup, net *network.Net, sol *network.Solution) (all []opening) {
	link := func(amps, rated float64, kind string) {
		if rated == 0 {
			return
		}
		if kind == "" {
			kind = "T"
		}
		quick, slow := protect.Link{Amps: rated, Kind: kind}.Opening(amps)
		all = append(all, opening{quick, slow})
	}
	for i := range h.Feed {
		if h.Powered(i) {
			_, _, amps := sol.FeedPower(i)
			link(amps, h.Feed[i].FuseAmps, h.Feed[i].FuseKind)
		}
	}
	for i, x := range h.Fuses {
		if p, ok := net.FuseAmps(i); ok {
			link(cmplx.Abs(sol.Value(p)), x.Amps, x.Kind)
		}
	}
	return all
}

// warmSteps is how many pieces the time to a limit is cut into while copper warms.
const warmSteps = 12

// warming is the slow end of when the first fuse opens while the copper warms
// and its current falls [s], looked at until most [s]; +Inf where it has not
// opened by then. A winding is taken to warm by its first current, ratios of its
// rating by unit and winding, which is more than flows. A link's time at a
// changing current is when the parts of its times at each add up to one.
func warming(net *network.Net, h *yokemate.Hookup, ratios [][]float64, most float64) (float64, error) {
	piece := most / warmSteps
	var used []float64 // by fuse
	for i := range warmSteps {
		end := piece * float64(i+1)
		for k := range net.Units() {
			w := warm(net.UnitFacts(k).Source.ThermalClass)
			for j, ratio := range ratios[k] {
				net.SetCopperFactor(k, j, heat.Factor(w.After(roomC+w.Rise, ratio, roomC, end)))
			}
		}
		sol, err := net.Solve(nil)
		if err != nil {
			return 0, err
		}
		opens := math.Inf(1)
		for j, x := range openings(h, net, sol) {
			if j == len(used) {
				used = append(used, 0)
			}
			if need := (1 - used[j]) * x.slow; need <= piece {
				opens = math.Min(opens, end-piece+need)
			}
			used[j] += piece / x.slow
		}
		if !math.IsInf(opens, 1) {
			return opens, nil
		}
	}
	return math.Inf(1), nil
}

// sureMargin is how much sooner than the winding's limit the fuse must open
// for a plain yes: the time to the limit is an estimate, good to a fifth or so.
const sureMargin = 0.8

// Room and copper for the time that an overload takes: a winding warm from its
// rated load, at the density of an ordinary small coil, storing heat in its own
// copper alone, which makes the time the shortest it can be (common practice).
const (
	roomC       = 25.0 // [°C]
	coilDensity = 3e6  // [A/m²]
)

// timeToLimit is how long a winding that carries ratio times its rating takes
// to the temperature that its class stands in the first hour of a fault [s];
// +Inf when it never gets there.
func timeToLimit(class string, ratio float64) float64 {
	w := warm(class)
	return w.TimeTo(roomC+w.Rise, faultLimit(class), ratio, roomC)
}

// warm is an ordinary small winding of a class; of class A where it is not known.
func warm(class string) heat.Winding {
	rise, ok := heat.Class(class).DryRise()
	if !ok {
		rise, _ = heat.Class("A").DryRise()
	}
	return heat.Winding{Rise: rise.Celsius, Ambient: roomC, Tau: heat.CopperTau(rise.Celsius, roomC, coilDensity)}
}

// faultLimit is the temperature that a class stands in the first hour of a
// fault [°C]; that of class A where it is not known.
func faultLimit(class string) float64 {
	limit, ok := heat.Class(class).Fault(heat.FirstHour)
	if !ok {
		limit, _ = heat.Class("A").Fault(heat.FirstHour)
	}
	return limit.Celsius
}

// phases notes plugs on different supply phases, and joints between them.
func (n *noter) phases() error {
	for i := range n.h.Feed {
		for j := range i {
			a, b := n.h.Feed[j], n.h.Feed[i]
			if a.Degrees == b.Degrees || !n.h.Powered(i) || !n.h.Powered(j) {
				continue
			}
			level, words := yokemate.Info, "they share nothing else"
			if n.linked(a, b) {
				level, words = yokemate.Stop, "windings that they feed are joined: an open gap between like windings reads 1.73 times their volts, and closed it is a short"
			}
			n.add(yokemate.SupplyPhases, level, b.Live, "plugs %d and %d are on supply phases %g° apart: %s", j+1, i+1, math.Abs(a.Degrees-b.Degrees), words)
		}
	}
	return nil
}

// linked reports whether units fed by two plugs are joined by copper on
// their low side.
func (n *noter) linked(a, b yokemate.Feed) bool {
	units := func(f yokemate.Feed) (tags []string) {
		for _, e := range n.g.edges {
			if e.a == f.Live || e.b == f.Live {
				tags = append(tags, e.unit.Tag)
			}
		}
		return tags
	}
	for _, x := range units(a) {
		for _, y := range units(b) {
			if x == y || n.g.tied(x, y) {
				return true
			}
		}
	}
	return false
}

// series notes primaries of several units in series with nothing that makes
// them share.
func (n *noter) series() {
	for _, p := range n.g.seriesPrimaries() {
		if !n.g.tied(p[0], p[1]) {
			n.add(yokemate.SeparateLoads, yokemate.Stop, p[0]+", "+p[1], "the primaries of %s and %s are in series and their outputs are separate: the idle one takes most of the mains", p[0], p[1])
		}
	}
}
