package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
)

// groupsShown and groupsRead bound the readings in the wrong column, before a
// step is read and after; the slips of the rest are counted.
const (
	groupsShown = 6
	groupsRead  = 3
)

// meterOver is from where on a step's ohms stand for "over" [Ω].
const meterOver = 1e9

// nothing is what a bench meter shows as about nothing.
func nothing(q yokemate.Quantity) float64 {
	switch q {
	case yokemate.VoltsAC, yokemate.Watts:
		return 0.01
	case yokemate.AmpsAC:
		return 1e-4
	}
	return 0
}

// group is slips that read nearly alike at a step.
type group struct {
	value, low, high float64
	slips            []yokemate.Slip
	worst            *yokemate.IfClosed
}

// wide reports whether an interval is too wide to be called about its value.
func wide(v, low, high float64) bool { return high-low > 0.3*math.Abs(v) }

// groups puts slips together that no reader could tell apart by this reading,
// the ones that would carry most first.
func groups(s *yokemate.Step) []group {
	var list []group
	none := nothing(s.Measure.Quantity)
	for _, x := range s.Slips {
		at := slices.IndexFunc(list, func(g group) bool {
			switch {
			case x.High <= none || g.high <= none:
				return x.High <= none && g.high <= none
			case math.IsInf(x.Value, 0) || math.IsInf(g.value, 0):
				return x.Value == g.value
			case wide(x.Value, x.Low, x.High) != wide(g.value, g.low, g.high):
				return false // a ghost may be anything; it must not blur a clear reading
			}
			return math.Abs(g.value-x.Value) <= 0.03*math.Max(math.Abs(g.value), math.Abs(x.Value))
		})
		if at < 0 {
			list = append(list, group{value: x.Value, low: x.Low, high: x.High})
			at = len(list) - 1
		}
		g := &list[at]
		g.slips = append(g.slips, x)
		g.low, g.high = math.Min(g.low, x.Low), math.Max(g.high, x.High)
		if c := x.IfClosed; c != nil && (g.worst == nil || c.WindingAmps > g.worst.WindingAmps) {
			g.worst = c
		}
	}
	amps := func(g group) float64 {
		if g.worst == nil {
			return 0
		}
		return g.worst.WindingAmps
	}
	slices.SortStableFunc(list, func(a, b group) int {
		switch x, y := amps(a), amps(b); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return list
}

// wrong is the column of what a step would read for each slip, most readings
// long. What a kind of slip means is told the first time it appears on the
// sheet, what protects once a step.
func (p *paper) wrong(s *yokemate.Step, most int, told map[string]bool) cell {
	var c cell
	if s.Measure == nil {
		return c
	}
	unit := s.Measure.Quantity.Unit()
	list := groups(s)
	protects := map[string]bool{}
	for i, g := range list {
		if i == most {
			n := 0
			for _, rest := range list[i:] {
				n += len(rest.slips)
			}
			c.lines = append(c.lines, styled{s: p.say("and %s more", fmt.Sprint(n))})
			break
		}
		switch {
		case g.value >= meterOver && s.Measure.Quantity == yokemate.Ohms:
			c = c.bold(p.say("over (open)"))
		case g.high <= nothing(s.Measure.Quantity):
			c = c.bold(p.say("about nothing"))
		case wide(g.value, g.low, g.high):
			c = c.bold(p.Locale.FormatInterval(g.low, g.high, unit))
		default:
			c = c.bold(p.Locale.Format(g.value, unit, 3))
		}
		var names []string
		for _, x := range g.slips {
			kind, _, _ := strings.Cut(x.Code, ":")
			name := x.Words
			if short, _, more := strings.Cut(name, ": "); more {
				if told[kind] {
					name = short
				}
				told[kind] = true
			}
			names = append(names, name)
		}
		c.lines = append(c.lines, styled{s: strings.Join(names, "; ")})
		if r := s.Right; r != nil && g.value >= r.Low && g.value <= r.High {
			c.lines = append(c.lines, styled{s: p.say("it looks right here; another reading tells")})
		}
		if g.worst != nil {
			x := *g.worst
			if x.Winding != "" && protects[x.Protects] {
				x.Protects = ""
			}
			protects[x.Protects] = true
			c.lines = append(c.lines, styled{s: p.closed(&x)})
		}
	}
	return c
}

// closed says what would follow if a gap were closed on a slip.
func (p *paper) closed(c *yokemate.IfClosed) string {
	switch {
	case c.Winding == "" && c.Protects != "": // no current could be worked out
		return p.say("if joined: %s", c.Protects)
	case c.WindingAmps < 1e-6 && c.FuseOpens == "no":
		return p.say("if joined: nothing flows")
	}
	s := p.say("if joined: %s in %s, %s from the plug", p.Locale.Format(c.WindingAmps, "A", 2), c.Winding, p.Locale.Format(c.FeedAmps, "A", 2))
	switch c.FuseOpens {
	case "yes":
		s += ", " + p.say("the fuse opens")
		if c.OpensS != nil {
			s += " " + p.say("within %s", p.Locale.Format(*c.OpensS, "s", 2))
		}
	case "no":
		s += ", " + p.say("the fuse does not open")
	default:
		s += ", " + p.say("the fuse may not open")
	}
	if c.LimitS != nil {
		s += ", " + p.say("too hot after %s", p.Locale.Format(*c.LimitS, "s", 2))
	}
	if c.Protects != "" {
		s += "; " + c.Protects
	}
	return s
}
