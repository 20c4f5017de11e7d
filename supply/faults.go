package supply

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/phys/waveform"
)

// faults follows what may go wrong behind the fuses of a hookup: a dead short
// across each output, half of each winding's turns closed on themselves, and
// each winding the wrong way round that overloads something so. fuses are the
// outputs' own, nil where one has none.
func faults(f *network.Facts, h *yokemate.Hookup, primary float64, kind string, fuses []*yokemate.OutputFuse) ([]yokemate.CardFault, []yokemate.ThermalLink, error) {
	dead := h.Clone()
	for i := range dead.Outputs {
		dead.Outputs[i].Load, dead.Outputs[i].DC = nil, nil
	}
	dead.Fuses, dead.Feed[0].Lamp = nil, nil
	dead.Feed[0].FuseAmps, dead.Feed[0].FuseKind = primary, kind
	list := []yokemate.CardFault{}
	add := func(x *yokemate.Hookup, opt network.Options, kind yokemate.FaultKind, about string, fuse *yokemate.OutputFuse) error {
		c, err := follow(f, x, opt, primary)
		if err != nil {
			return err
		}
		c.Fault, c.About = kind, about
		if c.Secondary = "none"; fuse != nil && fuse.Amps > 0 {
			c.Secondary, c.SecondaryS = fuse.Opens, fuse.OpensS
		}
		switch {
		case c.Secondary == "yes":
			c.Protects = yokemate.OwnFuse
		case c.Primary == "yes":
			c.Protects = yokemate.LiveFuse
		case c.LimitS == nil:
			c.Protects = yokemate.UnitItself
		default:
			c.Protects = yokemate.LinkInTheUnit
		}
		list = append(list, *c)
		return nil
	}
	for i, o := range h.Outputs {
		to := o.To
		if o.DC != nil && o.DC.Middle != "" {
			to = o.DC.Middle
		}
		short := network.Options{Added: []network.Branch{{From: o.From, To: to, Ohms: jointOhms}}}
		if err := add(dead, short, yokemate.ShortedOutput, o.Name, fuses[i]); err != nil {
			return nil, nil, err
		}
	}
	for _, w := range wound(f, h) {
		half := network.Options{Shorted: []network.ShortedTurn{{Unit: w.unit.Tag, Winding: w.src.ID, Part: 0.5}}}
		if err := add(dead, half, yokemate.HalfShorted, w.name(), nil); err != nil {
			return nil, nil, err
		}
		turned, ok := w.turned(dead)
		if !ok || !overloads(f, dead, turned) {
			continue
		}
		if err := add(turned, network.Options{}, yokemate.TurnedRound, w.name(), nil); err != nil {
			return nil, nil, err
		}
	}
	var links []yokemate.ThermalLink
	for _, tag := range h.Tags() {
		u, err := f.Unit(tag)
		if err != nil {
			return nil, nil, err
		}
		if l, ok := thermalLink(u, list); ok {
			links = append(links, l)
		}
	}
	return list, links, nil
}

// wire is a winding that a hookup holds at both ends.
type wire struct {
	unit *network.Unit
	src  *yokemate.Winding
}

func (w wire) name() string { return w.unit.Tag + "/" + w.src.ID }

func (w wire) pin(end int) string { return w.unit.Tag + "." + w.src.Pins[end] }

// wound lists the windings that a hookup holds at both ends, the first unit's first.
func wound(f *network.Facts, h *yokemate.Hookup) []wire {
	var list []wire
	for _, tag := range h.Tags() {
		u, err := f.Unit(tag)
		if err != nil {
			continue // whatever follows the hookup will meet this error and tell it
		}
		for i := range u.Windings {
			w := wire{u, &u.Source.Windings[i]}
			if h.Joints.Of(w.pin(0)) != "" && h.Joints.Of(w.pin(1)) != "" {
				list = append(list, w)
			}
		}
	}
	return list
}

// turned is the hookup with the winding's two leads in each other's place; not
// for one that shares a pin with another, whose leads are not its own.
func (w wire) turned(h *yokemate.Hookup) (*yokemate.Hookup, bool) {
	for i := range w.unit.Source.Windings {
		o := &w.unit.Source.Windings[i]
		if o.ID != w.src.ID && (slices.Contains(o.Pins[:], w.src.Pins[0]) || slices.Contains(o.Pins[:], w.src.Pins[1])) {
			return nil, false
		}
	}
	x := h.Clone()
	for i := range x.Joints {
		for k, p := range x.Joints[i].Pins {
			switch p {
			case w.pin(0):
				x.Joints[i].Pins[k] = w.pin(1)
			case w.pin(1):
				x.Joints[i].Pins[k] = w.pin(0)
			}
		}
	}
	return x, true
}

// overloads reports whether a slip, with nothing drawn, brings a winding above
// its rating that was within it.
func overloads(f *network.Facts, right, wrong *yokemate.Hookup) bool {
	most := func(h *yokemate.Hookup) float64 {
		n, err := network.Build(f, h, network.Options{})
		if err != nil {
			return 0
		}
		s, err := n.Solve(n.VoltsAt(yokemate.Nominal))
		if err != nil {
			return 0
		}
		share := 0.0
		for k := range n.Units() {
			for w, l := range n.UnitFacts(k).Limits {
				if l.Amps > 0 {
					share = math.Max(share, cmplx.Abs(s.Value(n.WindingAmps(k, w)))/l.Amps)
				}
			}
		}
		return share
	}
	return most(wrong) > 1 && most(right) <= 1
}

// follow closes a fault at the lowest mains and follows it.
func follow(f *network.Facts, h *yokemate.Hookup, opt network.Options, primary float64) (*yokemate.CardFault, error) {
	volts := make(network.FeedVolts, len(h.Feed))
	for i := range volts {
		volts[i] = h.Feed[i].At(yokemate.Low)
	}
	x, err := waveform.FromHookup(f, h, waveform.HookupOptions{Network: opt, Volts: volts})
	if err != nil {
		return nil, err
	}
	w, err := x.Follow(waveform.FollowOptions{})
	if err != nil {
		return nil, err
	}
	c := &yokemate.CardFault{FeedAmps: w.FeedAmps, Winding: w.Winding, LimitS: finite(w.LimitS), Primary: "none"}
	if primary > 0 {
		c.Primary, c.PrimaryS = w.Opens(), finite(w.Latest)
	}
	for _, k := range w.Windings {
		if k.Name == w.Winding {
			c.WindingAmps = math.Max(c.WindingAmps, k.RMS)
		}
	}
	return c, nil
}

// finite is a time that is reached; nil for never.
func finite(s float64) *float64 {
	if math.IsInf(s, 1) {
		return nil
	}
	return &s
}

// thermalLink is what to fit in a unit that some fault burns before a fuse
// surely opens.
func thermalLink(u *network.Unit, list []yokemate.CardFault) (yokemate.ThermalLink, bool) {
	i := slices.IndexFunc(list, func(c yokemate.CardFault) bool {
		owner, _, _ := strings.Cut(c.Winding, "/")
		return c.Protects == yokemate.LinkInTheUnit && owner == u.Tag
	})
	if i < 0 {
		return yokemate.ThermalLink{}, false
	}
	class := heat.Class(cmp.Or(u.Source.ThermalClass, "A"))
	index, ok := class.Index()
	if !ok {
		class = "A"
		index, _ = class.Index()
	}
	l := yokemate.ThermalLink{Unit: u.Tag, Class: string(class), Celsius: protect.ThermalLink(index.Celsius)}
	known := "class"
	if string(class) != u.Source.ThermalClass {
		known = "class unknown, so taken as"
	}
	l.Why = fmt.Sprintf("No fuse surely saves %s. Keep the thermal link that it has, or fit one of %.0f °C (%s %s) against its winding, in the live wire; without one do not leave it unattended.", u.Tag, l.Celsius, known, class)
	return l, true
}
