package switching

import (
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
)

// shortedPart is what of a winding's turns a shorted-turn slip closes on
// themselves here, the least that a proof reckons with [1].
const shortedPart = 0.03

// made is a hookup, or a state of one, as it is wired with a slip, with what
// the network must be told besides. ok is false where the slip leaves this
// state as it was.
func made(f *network.Facts, h *yokemate.Hookup, code string) (state *yokemate.Hookup, opt network.Options, ok bool, err error) {
	bad := yokemate.Errorf(yokemate.NotFound, "slip", "this hookup has no slip %q", code).Mend("choose one that a proof of it lists")
	kind, arg, _ := strings.Cut(code, ":")
	ends := func(name string) []string {
		tag, id, _ := yokemate.SplitWinding(name)
		if u, err := f.Unit(tag); err == nil {
			if w := u.Source.Winding(id); w != nil {
				return []string{tag + "." + w.Pins[0], tag + "." + w.Pins[1]}
			}
		}
		return nil
	}
	places := map[string]string{} // what stands where each pin should
	swap := func(a, b string) {
		if a != b {
			places[a], places[b] = b, a
		}
	}
	switch kind {
	case "reversed":
		e := ends(arg)
		if e == nil {
			return nil, opt, false, bad
		}
		swap(e[0], e[1])
	case "swapped":
		a, b, _ := strings.Cut(arg, ",")
		x, y := ends(a), ends(b)
		if x == nil || y == nil {
			return nil, opt, false, bad
		}
		swap(x[0], y[0])
		swap(x[1], y[1])
	case "wrong-pin":
		taken, right, _ := strings.Cut(arg, "-for-")
		swap(taken, right)
	case "open":
		opt.Parted = []string{arg}
		return h, opt, h.Joints.Of(arg) != "", nil
	case "unpowered":
		opt.Parted = plugPins(h, arg)
		return h, opt, len(opt.Parted) > 0, nil
	case "shorted-turn":
		tag, id, _ := yokemate.SplitWinding(arg)
		if ends(arg) == nil {
			return nil, opt, false, bad
		}
		opt.Shorted = []network.ShortedTurn{{Unit: tag, Winding: id, Part: shortedPart}}
		return h, opt, slices.Contains(h.Tags(), tag), nil
	case "wrong-feed":
		state, ok = otherFeed(h, arg)
		return state, opt, ok, nil
	case "fuse-blown":
		state = h.Clone()
		out := false
		state.Fed = &out
		return state, opt, true, nil
	default:
		return nil, opt, false, bad
	}
	state = h.Clone()
	for i := range state.Joints {
		for k, p := range state.Joints[i].Pins {
			if q, there := places[p]; there {
				state.Joints[i].Pins[k], ok = q, true
			}
		}
	}
	return state, opt, ok, nil
}

// plugPins lists a unit's pins in the joints of the plugs.
func plugPins(h *yokemate.Hookup, tag string) []string {
	var pins []string
	for _, f := range h.Feed {
		for _, name := range []string{f.Live, f.Neutral} {
			if j := h.Joints.Joint(name); j != nil {
				for _, p := range j.Pins {
					if t, pin, _ := yokemate.SplitPin(p); t == tag && pin != yokemate.CorePin {
						pins = append(pins, p)
					}
				}
			}
		}
	}
	return pins
}

// otherFeed gives a unit's live pins a plug of their own on the next supply
// phase; where they are alone on their plug, that plug twice its volts.
func otherFeed(h *yokemate.Hookup, tag string) (*yokemate.Hookup, bool) {
	first := h.Feed[0]
	live := h.Joints.Joint(first.Live)
	if live == nil {
		return h, false
	}
	var pins []string
	for _, p := range live.Pins {
		if t, _, _ := yokemate.SplitPin(p); t == tag {
			pins = append(pins, p)
		}
	}
	if len(pins) == 0 {
		return h, false
	}
	state, other := h.Clone(), first
	if len(pins) == len(live.Pins) {
		other.Volts.V *= 2
		other.Low, other.High = 2*first.At(yokemate.Low), 2*first.At(yokemate.High)
		state.Feed[0] = other
		return state, true
	}
	other.Degrees += 120
	other.Live = first.Live + " of " + tag
	if other.Lamp == nil && other.Ohms == 0 {
		other.Ohms = 1e-3 // two stiff sources would have no answer where they meet
	}
	j := state.Joints.Joint(first.Live)
	j.Pins = slices.DeleteFunc(j.Pins, func(p string) bool { return slices.Contains(pins, p) })
	state.Joints = append(state.Joints, yokemate.Joint{Name: other.Live, Pins: pins})
	state.Feed = append(state.Feed, other)
	return state, true
}
