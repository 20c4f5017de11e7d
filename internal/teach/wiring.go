package teach

import (
	"math/bits"
	"slices"

	"yokemate"
)

// A key names a wiring: for each lead, in their order, the letter of the joint
// that its pin is in, or away for a lead that is off its pin. The right wiring
// has every pin in its home.

// away stands for a lead that is off.
const away = '-'

// places are the joints that leads go to, and so the letters a, b and on.
func (l *Lesson) places() []string {
	var names []string
	for _, x := range l.Leads {
		if !slices.Contains(names, x.Home) {
			names = append(names, x.Home)
		}
	}
	return names
}

func (l *Lesson) right() string {
	places := l.places()
	key := make([]byte, len(l.Leads))
	for i, x := range l.Leads {
		key[i] = 'a' + byte(slices.Index(places, x.Home))
	}
	return string(key)
}

// exchange is the wiring after the leads of two pins were changed over.
func exchange(key string, i, j int) string {
	b := []byte(key)
	b[i], b[j] = b[j], b[i]
	return string(b)
}

// Change is how a wiring differs from the right one. The zero value: not at all.
type Change struct {
	Turned []string // windings turned round, as T1/A
	Over   []string // then two pins whose leads were changed over
	Off    string   // then a pin whose lead was taken off
}

// moves counts the steps of a change.
func (c *Change) moves() int {
	n := len(c.Turned) + len(c.Over)/2
	if c.Off != "" {
		n++
	}
	return n
}

// way is a wiring and how it comes about.
type way struct {
	key    string
	change Change
}

// turned is the wiring after windings were turned round, one bit each.
func (l *Lesson) turned(windings []pair, which int) way {
	x := way{key: l.right()}
	for i, w := range windings {
		if which>>i&1 == 1 {
			x.key = exchange(x.key, w.a, w.b)
			x.change.Turned = append(x.change.Turned, w.name)
		}
	}
	return x
}

// pair is the two leads of one winding.
type pair struct {
	name string
	a, b int
}

// windings lists those with both leads free.
func (l *Lesson) windings() []pair {
	at := func(pin string) int {
		return slices.IndexFunc(l.Leads, func(x Lead) bool { return x.Pin == pin })
	}
	var all []pair
	for _, tag := range l.Hookup.Tags() {
		u := l.shelf.Unit(tag)
		for i := range u.Windings {
			w := &u.Windings[i]
			x := pair{tag + "/" + w.ID, at(tag + "." + w.Pins[0]), at(tag + "." + w.Pins[1])}
			if x.a >= 0 && x.b >= 0 {
				all = append(all, x)
			}
		}
	}
	return all
}

// ways lists the wirings of the page, those with fewer changes first. All ways
// to turn windings round are among them, and what one more move makes of the
// right wiring, of those with one winding turned, and on while there is room. A
// move is two leads of one side changed over, or one taken off that leaves its
// joint another.
func (l *Lesson) ways() []way {
	ws := l.windings()
	subsets := make([]int, 1<<len(ws))
	for i := range subsets {
		subsets[i] = i
	}
	slices.SortStableFunc(subsets, func(a, b int) int { return bits.OnesCount(uint(a)) - bits.OnesCount(uint(b)) })
	var all []way
	seen := map[string]bool{}
	add := func(x way) {
		if !seen[x.key] {
			seen[x.key] = true
			all = append(all, x)
		}
	}
	for _, which := range subsets {
		add(l.turned(ws, which))
	}
	for _, from := range slices.Clone(all) {
		if len(all) >= l.opt.Most {
			break
		}
		for _, x := range l.moves(from) {
			add(x)
		}
	}
	slices.SortStableFunc(all, func(a, b way) int { return a.change.moves() - b.change.moves() })
	return all
}

// moves lists what one move makes of a wiring with every lead on.
func (l *Lesson) moves(from way) []way {
	var next []way
	for i, x := range l.Leads {
		for j := range i {
			if l.Leads[j].Mains == x.Mains && from.key[i] != from.key[j] {
				c := from.change
				c.Over = []string{l.Leads[j].Pin, x.Pin}
				next = append(next, way{exchange(from.key, i, j), c})
			}
		}
	}
	for i, x := range l.Leads {
		b := []byte(from.key)
		b[i] = away
		if len(l.wired(string(b)).Joints) == len(l.wired(from.key).Joints) {
			c := from.change
			c.Off = x.Pin
			next = append(next, way{string(b), c})
		}
	}
	return next
}

// wired is the hookup with its leads as the key says, the last joint open.
func (l *Lesson) wired(key string) *yokemate.Hookup {
	h := l.Hookup.Clone()
	places := l.places()
	in := map[string][]string{} // what is moved to each joint
	for i, x := range l.Leads {
		if key[i] != away {
			name := places[key[i]-'a']
			in[name] = append(in[name], x.Pin)
		}
	}
	// Pins that stay, each joint in its own order.
	stays := func(p string) bool {
		return !slices.ContainsFunc(l.Leads, func(x Lead) bool { return x.Pin == p })
	}
	joints := yokemate.Joints{}
	put := func(name string, home []string) {
		var pins []string
		for _, p := range home {
			if stays(p) {
				pins = append(pins, p)
			}
		}
		if pins = append(in[name], pins...); len(pins) > 0 {
			joints = append(joints, yokemate.Joint{Name: name, Pins: pins})
		}
	}
	for _, j := range h.Joints {
		home := slices.Clone(j.Pins)
		if l.Last.gap && j.Name == l.Last.Joint {
			home = slices.DeleteFunc(home, func(p string) bool { return slices.Contains(l.Last.pins, p) })
		}
		put(j.Name, home)
		if l.Last.gap && j.Name == l.Last.Joint {
			put(l.Last.Open, l.Last.pins)
		}
	}
	h.Joints = joints
	return h
}

// Open is a wiring before the last joint is closed, nothing drawn, with the
// meter in its place.
func (l *Lesson) Open(key string, s *Source) *yokemate.Hookup {
	h := l.wired(key)
	h.Feed = slices.Clone(s.feed)
	for i := range h.Outputs {
		h.Outputs[i].Load = nil
	}
	m := yokemate.MeterPoint{Name: l.say("meter"), From: h.Outputs[0].From, To: h.Outputs[0].To}
	if l.Last.gap {
		m.From, m.To = l.Last.Joint, l.Last.Open
	}
	h.Meters = []yokemate.MeterPoint{m}
	return h
}

// Closed is a wiring after the last joint was closed: on the mains with its
// loads, on the low source with nothing drawn.
func (l *Lesson) Closed(key string, s *Source) *yokemate.Hookup {
	h := l.wired(key)
	h.Feed = slices.Clone(s.feed)
	if s.Low {
		for i := range h.Outputs {
			h.Outputs[i].Load = nil
		}
	}
	if open := h.Joints.Joint(l.Last.Open); open != nil {
		j := h.Joints.Joint(l.Last.Joint)
		j.Pins = append(j.Pins, open.Pins...)
		h.Joints = slices.DeleteFunc(h.Joints, func(x yokemate.Joint) bool { return x.Name == l.Last.Open })
	}
	return h
}

// apart is a wiring at the moment before the last joint is made, for what
// follows from making it: where it closes no loop, one of its leads is taken
// out again. It returns the two points as well; no ends, no joint.
func (l *Lesson) apart(key string, s *Source) (h *yokemate.Hookup, from, to string) {
	h = l.wired(key)
	h.Feed = slices.Clone(s.feed)
	for i := range h.Outputs {
		h.Outputs[i].Load = nil
	}
	if l.Last.gap || l.Last.Joint == "" {
		return h, l.Last.Joint, l.Last.Open
	}
	for i := range h.Joints {
		if j := &h.Joints[i]; j.Name == l.Last.Joint && len(j.Pins) > 1 {
			n := len(j.Pins) - 1
			h.Joints = append(h.Joints, yokemate.Joint{Name: l.Last.Open, Pins: []string{j.Pins[n]}})
			h.Joints[i].Pins = j.Pins[:n:n]
			return h, l.Last.Joint, l.Last.Open
		}
	}
	return h, "", ""
}
