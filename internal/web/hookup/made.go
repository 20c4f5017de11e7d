package hookup

import (
	"slices"
	"strings"

	"yokemate"
)

// Made returns the hookup as it is wired when the slip of that code was made,
// and the pins to look at. ok is false for a slip that no wiring shows, such as
// shorted turns, and for one that leaves a plug without any wire.
func Made(h *yokemate.Hookup, s *yokemate.Shelf, code string) (state *yokemate.Hookup, marked []string, ok bool) {
	kind, arg, _ := strings.Cut(code, ":")
	ends := func(name string) []string {
		tag, id, _ := yokemate.SplitWinding(name)
		u := s.Unit(tag)
		if u == nil || u.Winding(id) == nil {
			return nil
		}
		w := u.Winding(id)
		return []string{tag + "." + w.Pins[0], tag + "." + w.Pins[1]}
	}
	swap := map[string]string{}
	switch kind {
	case "reversed":
		e := ends(arg)
		if e == nil {
			return nil, nil, false
		}
		swap[e[0]], swap[e[1]] = e[1], e[0]
	case "swapped":
		a, b, _ := strings.Cut(arg, ",")
		ea, eb := ends(a), ends(b)
		if ea == nil || eb == nil {
			return nil, nil, false
		}
		for i := range ea {
			if ea[i] != eb[i] {
				swap[ea[i]], swap[eb[i]] = eb[i], ea[i]
			}
		}
	case "wrong-pin":
		bad, good, _ := strings.Cut(arg, "-for-")
		swap[good], swap[bad] = bad, good
	case "open":
		return without(h, []string{arg})
	case "unpowered":
		var pins []string
		for _, f := range h.Feed {
			for _, name := range []string{f.Live, f.Neutral} {
				if j := h.Joints.Joint(name); j != nil {
					for _, p := range j.Pins {
						if tag, _, _ := yokemate.SplitPin(p); tag == arg {
							pins = append(pins, p)
						}
					}
				}
			}
		}
		return without(h, pins)
	case "fuse-blown":
		c := h.Clone()
		off := false
		c.Fed = &off
		return c, nil, true
	default:
		return nil, nil, false
	}
	for p := range swap {
		marked = append(marked, p)
	}
	slices.Sort(marked)
	return exchange(h, swap), marked, true
}

// exchange puts pins in the places of others.
func exchange(h *yokemate.Hookup, swap map[string]string) *yokemate.Hookup {
	c := h.Clone()
	for i := range c.Joints {
		for k, p := range c.Joints[i].Pins {
			if q, ok := swap[p]; ok {
				c.Joints[i].Pins[k] = q
			}
		}
	}
	return c
}

// without takes leads off. A joint that none is left on cannot be drawn.
func without(h *yokemate.Hookup, pins []string) (*yokemate.Hookup, []string, bool) {
	c := h.Clone()
	for i := range c.Joints {
		j := &c.Joints[i]
		j.Pins = slices.DeleteFunc(j.Pins, func(p string) bool { return slices.Contains(pins, p) })
		if len(j.Pins) == 0 {
			return nil, nil, false
		}
	}
	return c, pins, len(pins) > 0
}
