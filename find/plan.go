package find

import (
	"slices"
	"strconv"
	"strings"

	"yokemate"
)

// plan is a hookup before it has joints: which units are fed and how, and how
// their other windings make the output.
type plan struct {
	s      *search
	drives []*drive
	inRow  bool    // the mains sides are in series across the feed
	rails  []*part // one, or two that meet in the middle; empty: mains sides only
	auto   bool    // the one rail stands on the live joint
	up     *up     // the one rail feeds a second unit backwards
	apart  bool    // two rails without a common middle, each an output by itself
}

// up is the second unit of a step down and up again.
type up struct {
	low, coil *part
	joints    int // of two pins or more within its coil
	pins      int // at either end of its coil
}

// Names of joints; the feed's own are the need's.
const (
	outFrom, middle, outTo, bond = "A", "M", "B", "E"
	lowFrom, lowTo               = "C", "D"
)

// wiring gathers joints while a plan is laid out.
type wiring struct {
	p      *plan
	joints []yokemate.Joint
	at     map[string]int // pin → joint
}

func (w *wiring) joint(name string) int {
	for w.taken(name) {
		name += "1"
	}
	w.joints = append(w.joints, yokemate.Joint{Name: name})
	return len(w.joints) - 1
}

func (w *wiring) taken(name string) bool {
	return slices.ContainsFunc(w.joints, func(j yokemate.Joint) bool { return j.Name == name })
}

// numbered is a joint named by a letter and the next free number.
func (w *wiring) numbered(letter string) int {
	n := 1
	for w.taken(letter + strconv.Itoa(n)) {
		n++
	}
	return w.joint(letter + strconv.Itoa(n))
}

func (w *wiring) tie(tag, pin string, joint int) {
	full := tag + "." + pin
	if _, ok := w.at[full]; ok {
		return // the middle of a tapped winding ends both its rails
	}
	w.at[full] = joint
	w.joints[joint].Pins = append(w.joints[joint].Pins, full)
}

// lay wires a part between two joints; joints inside it take the letter.
func (w *wiring) lay(p *part, from, to int, letter string) {
	if p.rev {
		from, to = to, from
	}
	switch p.op {
	case leaf:
		tag := w.p.s.units[p.unit].tag
		w.tie(tag, p.sec.from, from)
		w.tie(tag, p.sec.to, to)
	case series:
		at := from
		for i, k := range p.kids {
			next := to
			if i < len(p.kids)-1 {
				next = w.numbered(letter)
			}
			w.lay(k, at, next, letter)
			at = next
		}
	case parallel:
		for _, k := range p.kids {
			w.lay(k, from, to, letter)
		}
	}
}

// hookup lays the plan out: live, neutral, the mains sides' own joints, the
// output from its start to its end, and the earth bond of every core.
func (p *plan) hookup() *yokemate.Hookup {
	need := p.s.need
	f := need.Feed
	f.Lamp, f.Fed = nil, nil // a lamp is for first power, not for use
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: p.name(), Feed: yokemate.Feeds{f}}
	w := &wiring{p: p, at: map[string]int{}}
	live, neutral := w.joint(f.Live), w.joint(f.Neutral)
	at := live
	for i, d := range p.drives {
		next := neutral
		if p.inRow && i < len(p.drives)-1 {
			next = w.numbered("P")
		}
		w.lay(d.coil, at, next, "P")
		if p.inRow {
			at = next
		}
	}
	amps := func() *yokemate.Load { return &yokemate.Load{Amps: need.Amps} }
	output := func(name string, from, to int) {
		h.Outputs = append(h.Outputs, yokemate.Output{Name: name, From: w.joints[from].Name, To: w.joints[to].Name, Load: amps()})
	}
	switch {
	case len(p.rails) == 0:
	case p.auto:
		from := w.joint(outFrom)
		w.lay(p.rails[0], from, live, "S")
		output("out", from, neutral)
	case p.up != nil:
		c := w.joint(lowFrom)
		d := w.joint(lowTo)
		w.lay(p.rails[0], c, d, "S")
		w.lay(p.up.low, c, d, "S")
		from := w.joint(outFrom)
		to := w.joint(outTo)
		w.lay(p.up.coil, from, to, "Q")
		output("out", from, to)
	case len(p.rails) == 1:
		from := w.joint(outFrom)
		to := w.joint(outTo)
		w.lay(p.rails[0], from, to, "S")
		output("out", from, to)
	case p.apart:
		for i, r := range p.rails {
			n := strconv.Itoa(i + 1)
			from := w.joint(outFrom + n)
			to := w.joint(outTo + n)
			w.lay(r, from, to, "S")
			output("rail "+n, from, to)
		}
	default:
		from := w.joint(outFrom)
		mid := w.joint(middle)
		to := w.joint(outTo)
		w.lay(p.rails[0], from, mid, "S")
		w.lay(p.rails[1], mid, to, "S")
		output("rail 1", from, mid)
		output("rail 2", mid, to)
	}
	earth := w.joint(bond)
	h.Earth = w.joints[earth].Name
	for _, at := range p.units() {
		core := p.s.units[at].tag + "." + yokemate.CorePin
		if on, ok := w.at[core]; ok {
			h.Earth = w.joints[on].Name // a winding that ends on the core: a near miss, never an offer
			continue
		}
		w.tie(p.s.units[at].tag, yokemate.CorePin, earth)
	}
	h.Joints = slices.DeleteFunc(w.joints, func(j yokemate.Joint) bool { return len(j.Pins) == 0 })
	return h
}

// units lists the places of the plan's units.
func (p *plan) units() []int {
	var at []int
	for _, d := range p.drives {
		at = append(at, d.unit)
	}
	if p.up != nil {
		at = append(at, p.up.unit())
	}
	return at
}

func (u *up) unit() int {
	at := 0
	u.coil.leaves(func(p *part) { at = p.unit })
	return at
}

// name says in plain words what the plan is.
func (p *plan) name() string {
	if len(p.rails) == 0 {
		return ""
	}
	var b strings.Builder
	switch {
	case p.auto:
		rail := p.rails[0]
		word := "added to"
		if rail.op == series && !slices.ContainsFunc(rail.kids, func(k *part) bool { return !k.rev }) {
			word = "taken from"
			all := *rail
			all.kids = nil
			for _, k := range rail.kids {
				all.kids = append(all.kids, k.turned())
			}
			rail = &all
		} else if rail.rev {
			word = "taken from"
			rail = rail.turned()
		}
		b.WriteString(rail.say(p.s, "secondary") + " " + word + " the mains")
	case p.up != nil:
		b.WriteString(p.rails[0].say(p.s, "secondary") + " into " + p.up.low.say(p.s, "secondary") + " turned about, out of its " + p.up.coil.say(p.s, "primary"))
	case len(p.rails) == 1:
		b.WriteString(p.rails[0].say(p.s, "secondary"))
		if p.rails[0].op == leaf {
			b.WriteString(" alone")
		}
	default:
		b.WriteString(p.rails[0].say(p.s, "secondary") + " for one rail, " + p.rails[1].say(p.s, "secondary") + " for the other")
	}
	if p.inRow {
		var tags []string
		for _, d := range p.drives {
			tags = append(tags, p.s.units[d.unit].tag)
		}
		b.WriteString("; mains sides of " + strings.Join(tags[:len(tags)-1], ", ") + " and " + tags[len(tags)-1] + " in series")
	}
	for _, d := range p.drives {
		if len(p.s.units[d.unit].drives) > 1 || d.coil.op != leaf {
			b.WriteString("; fed through " + d.coil.say(p.s, "primary"))
		}
		if m := p.s.units[d.unit].facts.Source.Mains; m != nil && d.flux > 0 && d.flux < 0.8*p.s.need.Feed.At(yokemate.High)/p.s.need.Feed.Volts.V {
			b.WriteString("; " + p.s.units[d.unit].tag + " runs below its rated volts")
		}
	}
	return b.String()
}

// text tells plans apart and settles ties, by places in the shelf.
func (p *plan) text() string {
	var b strings.Builder
	for _, r := range p.rails {
		r.text(&b)
		b.WriteByte(';')
	}
	for _, d := range p.drives {
		d.coil.text(&b)
		b.WriteByte(',')
	}
	if p.inRow {
		b.WriteByte('r')
	}
	if p.auto {
		b.WriteByte('a')
	}
	if p.up != nil {
		p.up.low.text(&b)
		p.up.coil.text(&b)
	}
	return b.String()
}

// jointCount counts the joints of two pins or more.
func jointCount(h *yokemate.Hookup) int {
	n := 0
	for _, j := range h.Joints {
		if len(j.Pins) > 1 {
			n++
		}
	}
	return n
}
