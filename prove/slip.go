package prove

import (
	"fmt"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
)

// A world is the hookup as it may really be: all right, one slip, or an
// unknown cause. Some slips come in several guises under one code: a lead
// mistaken from the first reading on, or moved only when it was joined; few
// turns shorted, or many.
type world struct {
	code  string
	words string
	prior float64 // of this guise
	kind  worldKind
	unit  string
	pins  map[string]string // what stands where each pin should: a permutation or replacement
	late  bool              // only made joints are touched
	part  float64           // of the turns, shorted
	wind  string
	phase float64  // of a wrong feed [°]
	scale float64  // of a wrong feed's volts [1]
	touch []string // pins whose joints must be proved again when the slip was mended
	moved bool     // a lead that is moved mends it
	rect  *rectifierSlip
}

type worldKind int

const (
	allRight worldKind = iota
	mistaken           // leads in each other's place
	parted             // a pin that does not reach its joint
	unpowered
	shorted
	wrongFeed
	fuseBlown
	diodeTurned
	diodeOpen
	reservoirTurned
	polarity
	tapSwapped
	middleOpen
	unknown
)

// Priors are how often each kind of slip is met, common practice with no
// source: reversed leads by far the most, then open joints and wrong pins.
const (
	priorReversed  = 0.12
	priorSwapped   = 0.03
	priorWrongPin  = 0.04
	priorOpen      = 0.06
	priorUnpowered = 0.02
	priorShorted   = 0.02
	priorWrongFeed = 0.01
	priorFuse      = 0.01
	priorUnknown   = 0.01
)

// Parts of the turns that stand for shorted turns, and the ratio between
// neighbours; what lies between them widens the prediction.
var shortedParts = []float64{0.03, 0.06, 0.12, 0.25}

// worlds lists everything that is taken to be possible for a hookup, whose
// rectifiers stand in rectifiedAs.
func worlds(f *network.Facts, h, rectifiedAs *yokemate.Hookup) ([]world, error) {
	var list []world
	group := func(prior float64, ws []world) {
		for i := range ws {
			ws[i].prior = prior / float64(len(ws))
		}
		list = append(list, ws...)
	}
	var reversed, swapped, wrongPin, open, unpow, short, feed []world
	for _, tag := range h.Tags() {
		u, err := f.Unit(tag)
		if err != nil {
			return nil, err
		}
		pin := func(p string) string { return tag + "." + p }
		used := func(p string) bool { return h.Joints.Of(pin(p)) != "" }
		var inUse []*yokemate.Winding
		for _, w := range u.Windings {
			if used(w.Pins[0]) || used(w.Pins[1]) {
				inUse = append(inUse, w)
			}
		}
		for _, w := range inUse {
			a, b := pin(w.Pins[0]), pin(w.Pins[1])
			name := tag + "/" + w.ID
			if used(w.Pins[0]) && used(w.Pins[1]) {
				reversed = append(reversed, world{
					code: "reversed:" + name, words: fmt.Sprintf("%s is the wrong way round: its leads %s and %s are in each other's place", name, a, b),
					kind: mistaken, unit: tag, pins: map[string]string{a: b, b: a}, touch: []string{a, b}, moved: true,
				})
			}
			for _, part := range shortedParts {
				short = append(short, world{
					code: "shorted-turn:" + name, words: fmt.Sprintf("some turns of %s are shorted", name),
					kind: shorted, unit: tag, wind: w.ID, part: part, touch: []string{a, b},
				})
			}
		}
		for i, x := range u.Windings {
			for _, y := range u.Windings[:i] {
				if !slices.Contains(inUse, x) && !slices.Contains(inUse, y) || u.Source.MainsSide(x.ID) != u.Source.MainsSide(y.ID) {
					continue
				}
				m := map[string]string{}
				for e := range 2 {
					if x.Pins[e] != y.Pins[e] {
						m[pin(x.Pins[e])], m[pin(y.Pins[e])] = pin(y.Pins[e]), pin(x.Pins[e])
					}
				}
				if len(m) < 4 {
					continue // parts of one tapped winding: a wrong pin says it
				}
				for _, late := range []bool{false, true} {
					swapped = append(swapped, world{
						code:  "swapped:" + tag + "/" + y.ID + "," + tag + "/" + x.ID,
						words: fmt.Sprintf("the leads of %s/%s and %s/%s are in each other's place", tag, y.ID, tag, x.ID),
						kind:  mistaken, unit: tag, pins: m, late: late, moved: true,
						touch: []string{pin(x.Pins[0]), pin(x.Pins[1]), pin(y.Pins[0]), pin(y.Pins[1])},
					})
				}
			}
		}
		for _, p := range u.Source.Pins() {
			if !used(p) {
				continue
			}
			for _, late := range []bool{false, true} {
				open = append(open, world{
					code: "open:" + pin(p), words: fmt.Sprintf("pin %s does not reach its joint", pin(p)),
					kind: parted, unit: tag, pins: map[string]string{pin(p): ""}, late: late, touch: []string{pin(p)}, moved: true,
				})
				if late {
					continue
				}
				open[len(open)-1].words = fmt.Sprintf("the wire at pin %s is open: a broken lead, a bad joint or, on the mains side, a blown thermal link", pin(p))
			}
			for _, q := range u.Source.Pins() {
				if used(q) || sideOf(u, p) != sideOf(u, q) {
					continue
				}
				for _, late := range []bool{false, true} {
					wrongPin = append(wrongPin, world{
						code: fmt.Sprintf("wrong-pin:%s-for-%s", pin(q), pin(p)), words: fmt.Sprintf("pin %s is taken for %s", pin(q), pin(p)),
						kind: mistaken, unit: tag, pins: map[string]string{pin(p): pin(q)}, late: late, touch: []string{pin(p), pin(q)}, moved: true,
					})
				}
			}
		}
		if mains := feedPins(u, h); len(mains) > 0 {
			unpow = append(unpow, world{
				code: "unpowered:" + tag, words: fmt.Sprintf("%s gets no mains: its plug is out or its lead is off", tag),
				kind: unpowered, unit: tag, touch: mains, moved: true,
			})
			if len(h.Tags()) > 1 {
				for _, w := range []world{{phase: 120, scale: 1}, {phase: -120, scale: 1}, {scale: 0.5}, {scale: 2}} {
					w.code, w.kind, w.unit, w.touch, w.moved = "wrong-feed:"+tag, wrongFeed, tag, mains, true
					w.words = fmt.Sprintf("%s is on another supply phase or another voltage than the rest", tag)
					if _, _, same := w.in(h); !same { // else no live wire of it can be moved so
						feed = append(feed, w)
					}
				}
			}
		}
	}
	group(priorReversed, reversed)
	group(priorSwapped, swapped)
	group(priorWrongPin, wrongPin)
	group(priorOpen, open)
	group(priorUnpowered, unpow)
	group(priorShorted, short)
	group(priorWrongFeed, feed)
	group(priorRectifier, rectifierWorlds(rectifiedAs))
	group(priorFuse, []world{{code: "fuse-blown", words: "no mains arrives: the fuse is blown, or the plug is out", kind: fuseBlown, moved: true}})
	rest := 1 - priorUnknown
	for _, w := range list {
		rest -= w.prior
	}
	right := world{code: "right", words: "all is right", kind: allRight, prior: rest}
	list = append([]world{right}, list...)
	list = append(list, world{code: "unknown", words: "nothing on the list fits: the cause is unknown", kind: unknown, prior: priorUnknown})
	return list, nil
}

// sideOf reports whether a pin is on the mains side of its unit.
func sideOf(u *network.Unit, pin string) bool {
	for _, w := range u.Source.Windings {
		if (w.Pins[0] == pin || w.Pins[1] == pin) && u.Source.MainsSide(w.ID) {
			return true
		}
	}
	return false
}

// feedPins lists the unit's mains-side pins that lie in a plug's joints.
func feedPins(u *network.Unit, h *yokemate.Hookup) []string {
	var pins []string
	for _, f := range h.Feed {
		for _, name := range []string{f.Live, f.Neutral} {
			if j := h.Joints.Joint(name); j != nil {
				for _, p := range j.Pins {
					tag, pin, _ := yokemate.SplitPin(p)
					if tag == u.Tag && sideOf(u, pin) {
						pins = append(pins, p)
					}
				}
			}
		}
	}
	return pins
}

// in returns a state of the hookup as it is in this world, with what the
// network must be told besides. same reports that the slip does not touch it.
func (w *world) in(state *yokemate.Hookup) (h *yokemate.Hookup, opt network.Options, same bool) {
	switch w.kind {
	case allRight, unknown:
		return state, opt, true
	case fuseBlown:
		if !powered(state) {
			return state, opt, true
		}
		h = state.Clone()
		off := false
		h.Fed = &off
		return h, opt, false
	case shorted:
		if !powered(state) || !slices.Contains(state.Tags(), w.unit) {
			return state, opt, true
		}
		opt.Shorted = []network.ShortedTurn{{Unit: w.unit, Winding: w.wind, Part: w.part}}
		return state, opt, false
	case parted:
		for p := range w.pins {
			j := state.Joints.Of(p)
			if j == "" || w.late && !made(state, j) {
				return state, opt, true
			}
			opt.Parted = []string{p}
		}
		return state, opt, false
	case unpowered:
		if !powered(state) {
			return state, opt, true
		}
		for _, p := range w.touch {
			if j := state.Joints.Of(p); j != "" && feedJoint(state, j) {
				opt.Parted = append(opt.Parted, p)
			}
		}
		return state, opt, len(opt.Parted) == 0
	case wrongFeed:
		return w.wrongFeed(state)
	case tapSwapped:
		if !rectified(state) {
			return state, opt, true
		}
		h = state.Clone()
		o := &h.Outputs[w.rect.output]
		if w.rect.element == 0 {
			o.From, o.DC.Middle = o.DC.Middle, o.From
		} else {
			o.To, o.DC.Middle = o.DC.Middle, o.To
		}
		return h, opt, false
	case diodeTurned, diodeOpen, reservoirTurned, polarity, middleOpen:
		return state, opt, !rectified(state)
	}
	// Leads in each other's place.
	touched := false
	for p := range w.pins {
		if j := state.Joints.Of(p); j != "" && (!w.late || made(state, j)) {
			touched = true
		}
	}
	if !touched {
		return state, opt, true
	}
	h = state.Clone()
	for i := range h.Joints {
		for k, p := range h.Joints[i].Pins {
			if q, ok := w.pins[p]; ok {
				h.Joints[i].Pins[k] = q
			}
		}
	}
	return h, opt, false
}

// wrongFeed moves the unit's live pins to a plug of their own.
func (w *world) wrongFeed(state *yokemate.Hookup) (*yokemate.Hookup, network.Options, bool) {
	if !powered(state) {
		return state, network.Options{}, true
	}
	var pins []string
	f := state.Feed[0]
	live := state.Joints.Joint(f.Live)
	if live != nil {
		for _, p := range live.Pins {
			if slices.Contains(w.touch, p) {
				pins = append(pins, p)
			}
		}
	}
	if len(pins) == 0 {
		return state, network.Options{}, true
	}
	h := state.Clone()
	other := f
	other.Degrees += w.phase
	other.Volts = yokemate.Num(f.Volts.V * w.scale)
	other.Volts.U, other.Volts.Basis = f.Volts.U*w.scale, f.Volts.Basis
	other.Low, other.High = f.At(yokemate.Low)*w.scale, f.At(yokemate.High)*w.scale
	if len(pins) == len(live.Pins) {
		// Alone on the plug: the plug itself is the wrong one.
		if w.scale == 1 {
			return state, network.Options{}, true
		}
		h.Feed[0] = other
		return h, network.Options{}, false
	}
	other.Live = f.Live + " of " + w.unit
	if other.Lamp == nil && other.Ohms == 0 {
		other.Ohms = 1e-3
	}
	j := h.Joints.Joint(f.Live)
	j.Pins = slices.DeleteFunc(j.Pins, func(p string) bool { return slices.Contains(pins, p) })
	h.Joints = append(h.Joints, yokemate.Joint{Name: other.Live, Pins: pins})
	h.Feed = append(h.Feed, other)
	return h, network.Options{}, false
}

func powered(h *yokemate.Hookup) bool {
	for i := range h.Feed {
		if h.Powered(i) {
			return true
		}
	}
	return false
}

// made reports whether a joint of a state is more than a free end: it holds
// several pins, or is a plug's.
func made(h *yokemate.Hookup, name string) bool {
	j := h.Joints.Joint(name)
	return len(j.Pins) > 1 || feedJoint(h, name)
}

func feedJoint(h *yokemate.Hookup, name string) bool {
	return slices.ContainsFunc(h.Feed, func(f yokemate.Feed) bool { return f.Live == name || f.Neutral == name })
}

// reopens reports whether a step must be taken again after this slip was
// mended: its state holds a made joint with one of the leads that moved, or
// reads such a lead.
func (w *world) reopens(s *yokemate.Step) bool {
	if w.kind == fuseBlown {
		return powered(&s.State)
	}
	if w.rect != nil {
		return rectified(&s.State)
	}
	for _, p := range w.touch {
		j := s.State.Joints.Of(p)
		if j != "" && (made(&s.State, j) || w.kind == mistaken && len(w.pins) != 2) {
			return true
		}
	}
	return false
}

// codeWords names the slip codes for a person.
func codeWords(code string) string {
	kind, arg, _ := strings.Cut(code, ":")
	switch kind {
	case "reversed":
		return "turn " + arg + " round: change its two leads over"
	case "swapped":
		return "change over the leads of " + strings.Replace(arg, ",", " and ", 1)
	case "wrong-pin":
		bad, good, _ := strings.Cut(arg, "-for-")
		return "move the lead from " + bad + " to " + good
	case "open":
		return "mend the joint or lead at " + arg
	case "unpowered":
		return "give " + arg + " its mains"
	case "wrong-feed":
		return "plug " + arg + " into the same outlet as the rest"
	case "diode-reversed":
		return "turn diode " + arg + " round"
	case "diode-open":
		return "mend or replace diode " + arg
	case "capacitor-reversed":
		return "turn reservoir " + arg + " round"
	case "polarity":
		return "change plus and minus of " + arg + " over"
	case "tap-swapped":
		_, joints, _ := strings.Cut(arg, "/")
		a, c, _ := strings.Cut(joints, ",")
		return "change over the rectifier's leads at joints " + a + " and " + c
	case "middle-open":
		return "join the middle lead to the rectifier of " + arg
	case "fuse-blown":
		return "find why no mains arrives; replace the fuse only when the reason is known"
	}
	return ""
}
