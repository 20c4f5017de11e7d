package identify

import (
	"slices"

	"yokemate"
)

// showWires is the least probability at which pins that no reading has linked
// are told as one wire.
const showWires = 0.75

// wires tells, before all is settled too, which pins lie on one wire: those that
// readings have linked, and those that likely do.
func (s *state) wires() []yokemate.FoundWire {
	var sets [][]int
	covered := func(pins []int) bool {
		return slices.ContainsFunc(sets, func(set []int) bool { return within(pins, set) })
	}
	best := &s.all[0]
	for _, w := range best.wiring.wires {
		if len(w) > 1 && s.together(w) >= showWires {
			sets = append(sets, w)
		}
	}
	for i := range s.pieces.list {
		p := s.pieces.list[i].pins
		if len(p) < 2 || covered(p) {
			continue
		}
		if l := s.pieces.list[i].line; len(l.orders) > 0 {
			p = l.orders[0].seq
		}
		sets = append(sets, p)
	}
	slices.SortFunc(sets, func(a, b []int) int { return slices.Min(a) - slices.Min(b) })
	out := []yokemate.FoundWire{}
	for _, set := range sets {
		out = append(out, yokemate.FoundWire{Pins: s.b.names(set), Joined: s.doubt * s.together(set), Probability: s.doubt * s.asListed(set)})
	}
	return out
}

func within(pins, set []int) bool {
	return !slices.ContainsFunc(pins, func(p int) bool { return !slices.Contains(set, p) })
}

// together is the probability that the pins are on one wire, others beside them
// or not.
func (s *state) together(pins []int) float64 {
	for i := range s.pieces.list {
		if within(pins, s.pieces.list[i].pins) {
			return 1
		}
	}
	p := 0.0
	for i := range s.all {
		if slices.ContainsFunc(s.all[i].wiring.wires, func(w []int) bool { return within(pins, w) }) {
			p += s.all[i].w
		}
	}
	return min(p, 1)
}

// asListed is the probability that the pins are all of a wire, in this order or
// its reverse.
func (s *state) asListed(pins []int) float64 {
	p := 0.0
	for i := range s.all {
		x := &s.all[i]
		for g, w := range x.wiring.wires {
			if sameWire(w, pins) && x.wiring.lines[g] != nil {
				p += x.w
			}
		}
	}
	return min(p, 1)
}
