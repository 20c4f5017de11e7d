package say

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"yokemate"
)

// Quantity says what the meter is set to.
func (w Words) Quantity(q yokemate.Quantity) string {
	switch q {
	case yokemate.VoltsAC:
		return w.Phrase("volts AC")
	case yokemate.VoltsDC:
		return w.Phrase("volts DC")
	case yokemate.Millivolts:
		return w.Phrase("millivolts DC at 1 A")
	case yokemate.AmpsAC:
		return w.Phrase("amps AC")
	case yokemate.Celsius:
		return w.Phrase("temperature")
	case yokemate.Kick:
		return w.Phrase("kick of the needle")
	}
	return w.Phrase(string(q))
}

// Point names a joint of a state by its pins.
func (w Words) Point(h *yokemate.Hookup, name string) string {
	j := h.Joints.Joint(name)
	switch tag, core := strings.CutSuffix(name, "."+yokemate.CorePin); {
	case name != "" && name == h.Earth:
		return w.Phrase("the earth pin of the plug")
	case core:
		return w.Phrase("bare metal of the core of %s", tag)
	case j == nil && strings.TrimRight(name, "+-") != name:
		return w.Phrase("terminal %s", name) // of a rectified output
	case j == nil:
		return name // a pin
	case len(j.Pins) == 1:
		return w.Phrase("pin %s", j.Pins[0])
	}
	return w.Phrase("joint %s (%s)", name, strings.Join(j.Pins, ", "))
}

// Probes says what the meter is set to at a step and where it goes.
func (w Words) Probes(s *yokemate.Step) string {
	m := s.Measure
	set := w.Quantity(m.Quantity)
	var text string
	switch {
	case m.From == "feed":
		return w.Phrase("%s in the plug's live wire", set)
	case m.To == "":
		text = w.Phrase("%s at %s", set, w.Point(&s.State, m.From))
	default:
		text = w.Phrase("%s from %s to %s", set, w.Point(&s.State, m.From), w.Point(&s.State, m.To))
	}
	if m.BurdenOhms > 0 {
		text += ", " + w.Phrase("with %s across the probes", w.Locale.Format(m.BurdenOhms, "Ω", 3))
	}
	return text
}

// openOhms is from where on predicted ohms stand for "over" [Ω]: no bench
// meter has such a range.
const openOhms = 1e9

// nothing is what a bench meter shows as about nothing [unit of q].
func nothing(q yokemate.Quantity) float64 {
	switch q {
	case yokemate.VoltsAC, yokemate.Watts:
		return 0.01
	case yokemate.AmpsAC:
		return 1e-4
	}
	return 0
}

// Right says the right reading of a step.
func (w Words) Right(v *yokemate.Interval, q yokemate.Quantity) string {
	switch {
	case v == nil:
		return w.Phrase("over (open)")
	case q == yokemate.Megohms || q == yokemate.Ohms && v.High >= openOhms:
		return w.Phrase("%s or more", w.Locale.Format(v.Low, q.Unit(), 3))
	}
	return w.Within(v.Low, v.High, q.Unit())
}

// Group is slips that nobody could tell apart by the reading of a step.
type Group struct {
	Quantity         yokemate.Quantity
	Value, Low, High float64
	Hidden           bool // it looks right here; another reading tells
	Slips            []yokemate.Slip
	Worst            *yokemate.IfClosed // what would carry most if the gap were closed; nil: no gap is
	ghost            bool               // the first of its slips may read anything between wide ends
}

// like is how near two readings are one to the eye [1].
const like = 0.03

func near(a, b, scale float64) bool { return math.Abs(a-b) <= like*scale }

func (g *Group) open() bool { return g.Quantity == yokemate.Ohms && g.Value >= openOhms }

func (g *Group) none() bool {
	return math.Max(math.Abs(g.Low), math.Abs(g.High)) <= nothing(g.Quantity) // DC volts have a sign
}

// wide reports whether the interval is too wide to be called about its value.
func (g *Group) wide() bool { return wide(g.Value, g.Low, g.High) }

func wide(v, low, high float64) bool { return high-low > 0.3*math.Abs(v) }

// takes reports whether b reads as g does. A ghost may be anything, so it must
// not blur a clear reading.
func (g *Group) takes(b *Group) bool {
	switch {
	case g.Hidden != b.Hidden || g.open() != b.open() || g.none() != b.none():
		return false
	case g.open() || g.none():
		return true
	case g.ghost != b.ghost:
		return false
	case g.ghost:
		return near(g.Low, b.Low, g.High) && near(g.High, b.High, g.High)
	}
	return near(g.Value, b.Value, math.Max(math.Abs(g.Value), math.Abs(b.Value)))
}

// amps is the most that would flow, or less than 0 where no gap is closed.
func (g *Group) amps() float64 {
	if g.Worst == nil {
		return -1
	}
	return g.Worst.WindingAmps
}

// One is the group of a single slip of a step.
func One(s *yokemate.Step, z *yokemate.Slip) Group {
	return Group{Quantity: s.Measure.Quantity, Value: z.Value, Low: z.Low, High: z.High, Slips: []yokemate.Slip{*z}, Worst: z.IfClosed, ghost: wide(z.Value, z.Low, z.High),
		Hidden: s.Right != nil && z.Value >= s.Right.Low && z.Value <= s.Right.High}
}

// Groups gathers the slips of a step that read alike: those that would carry
// most first, those that look right here last.
func Groups(s *yokemate.Step) []Group {
	if s.Measure == nil {
		return nil
	}
	var list []Group
	for i := range s.Slips {
		b := One(s, &s.Slips[i])
		k := slices.IndexFunc(list, func(g Group) bool { return g.takes(&b) })
		if k < 0 {
			list = append(list, b)
			continue
		}
		g := &list[k]
		g.Slips = append(g.Slips, b.Slips...)
		g.Low, g.High = math.Min(g.Low, b.Low), math.Max(g.High, b.High)
		if b.amps() > g.amps() {
			g.Worst = b.Worst
		}
	}
	slices.SortStableFunc(list, func(a, b Group) int {
		if a.Hidden != b.Hidden {
			if b.Hidden {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.amps(), a.amps())
	})
	return list
}

// Reads says what a group reads. A wide interval is shown with its ends:
// "about" would promise too much.
func (w Words) Reads(g *Group) string {
	switch unit := g.Quantity.Unit(); {
	case g.open():
		return w.Phrase("over (open)")
	case g.none():
		return w.Phrase("about nothing")
	case g.wide():
		return w.Within(g.Low, g.High, unit)
	default:
		return w.Phrase("about %s", w.Locale.Format(g.Value, unit, 2))
	}
}

// Names says the slips of a group.
func (w Words) Names(g *Group) string {
	var codes []string
	for _, z := range g.Slips {
		codes = append(codes, z.Code)
	}
	return w.Slips(codes)
}

// Closed says what follows when a gap is closed on a slip, as one sentence or
// two.
func (w Words) Closed(c *yokemate.IfClosed) string {
	switch {
	case c.Winding == "" && c.Protects != "": // no current could be worked out
		return Sentence(w.Phrase("Closed on it: %s", w.Phrase(c.Protects)))
	case c.Winding == "":
		return w.Phrase("Closed on it, what flows is not known.")
	case c.WindingAmps < 1e-6 && c.FuseOpens == "no" && c.LimitS == nil:
		return w.Phrase("Closed on it, nothing flows.")
	}
	text := w.Phrase("Closed on it, %s in %s and %s from the mains", w.Locale.Format(c.WindingAmps, "A", 2), c.Winding, w.Locale.Format(c.FeedAmps, "A", 2))
	if c.LimitS == nil && c.FuseOpens == "no" {
		return text + ": " + w.Phrase("no winding grows too hot, and the fuse does not open") + "."
	}
	switch {
	case c.FuseOpens == "yes" && c.OpensS != nil:
		text += "; " + w.Phrase("the fuse opens within %s", w.Locale.Format(*c.OpensS, "s", 2))
	case c.FuseOpens == "yes":
		text += "; " + w.Phrase("the fuse opens")
	case c.FuseOpens == "no":
		text += "; " + w.Phrase("the fuse does NOT open")
	default:
		text += "; " + w.Phrase("the fuse may NOT open in time")
	}
	if c.LimitS != nil {
		text += "; " + w.Phrase("too hot after %s", w.Locale.Format(*c.LimitS, "s", 2))
	}
	if c.Protects != "" {
		text += ". " + w.Phrase(c.Protects)
	}
	return Sentence(text)
}
