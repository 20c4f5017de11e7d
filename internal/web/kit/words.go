package kit

import (
	"fmt"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"yokemate"
	"yokemate/si"
)

// functions are what templates may call.
func functions() template.FuncMap {
	return template.FuncMap{
		"levelMark": LevelMark,
		"path":      url.PathEscape,
		"sentence":  Sentence,
	}
}

// Mark is a state as IEC 60073 would have it coloured, and always with a shape
// and a word.
type Mark struct {
	Class string // stop, caution, go or info: the colour
	Shape string
	Word  string
}

// LevelMark is the mark of a note's level.
func LevelMark(l yokemate.Level) Mark {
	switch l {
	case yokemate.Stop:
		return Mark{"stop", "■", "Stop"}
	case yokemate.Caution:
		return Mark{"caution", "▲", "Caution"}
	case yokemate.Go:
		return Mark{"go", "●", "Go"}
	}
	return Mark{"info", "○", "Note"}
}

// VerdictMark is the mark of a verdict.
func VerdictMark(verdict string) Mark {
	switch verdict {
	case "go":
		return Mark{"go", "●", "Go on"}
	case "stop":
		return Mark{"stop", "■", "Stop"}
	case "change":
		return Mark{"caution", "◆", "Change a lead"}
	}
	return Mark{"caution", "▲", "Unsure"}
}

// StateMark is the mark of a proof's state.
func StateMark(s yokemate.ProofState) Mark {
	switch s {
	case yokemate.ProofGood:
		return Mark{"go", "●", "Good"}
	case yokemate.ProofStopped:
		return Mark{"stop", "■", "Stopped"}
	}
	return Mark{"info", "○", "Open"}
}

// Standing says in a line what the notes of a hookup amount to.
func Standing(notes []yokemate.Note) string {
	switch yokemate.Worst(notes) {
	case yokemate.Stop:
		return "Do not wire this: what stops it stands below."
	case yokemate.Caution:
		return "It may be wired with the cautions below, and proved before it is used."
	}
	return "Nothing speaks against it; prove it before it is used."
}

// Graver sorts notes, the gravest first, and leaves their order else.
func Graver(notes []yokemate.Note) []yokemate.Note {
	rank := map[yokemate.Level]int{yokemate.Stop: 0, yokemate.Caution: 1}
	out := slices.Clone(notes)
	slices.SortStableFunc(out, func(a, b yokemate.Note) int {
		ra, ok := rank[a.Level]
		if !ok {
			ra = 2
		}
		rb, ok := rank[b.Level]
		if !ok {
			rb = 2
		}
		return ra - rb
	})
	return out
}

// Sentence gives a text its capital and its full stop.
func Sentence(s string) string {
	if s == "" {
		return ""
	}
	s = Title(s)
	if !strings.ContainsAny(s[len(s)-1:], ".!?:") {
		s += "."
	}
	return s
}

// Title gives a word its capital.
func Title(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// Within says an interval, and one value where four digits cannot tell its
// ends apart.
func Within(low, high float64, unit string) string {
	if a := si.Format(low, unit, 4); a == si.Format(high, unit, 4) {
		return a
	}
	return si.FormatInterval(low, high, unit)
}

// Known prints a fact with its uncertainty: its own, or that of the meter a
// plain number was read on.
func Known(v yokemate.Value, q yokemate.Quantity, unit string, m *yokemate.Meter) string {
	if !v.Known() {
		return "not known"
	}
	u := v.U
	if v.Basis == yokemate.AsRead && q != "" {
		if a, ok := m.On(q, v.V); ok {
			u = a.U(v.V)
		}
	}
	text := v.Digits + " " + unit
	if u > 0 {
		text = si.FormatU(v.V, u, unit)
	}
	switch v.Basis {
	case yokemate.Label, yokemate.Estimated, yokemate.Assumed:
		text += " (" + string(v.Basis) + ")"
	}
	return strings.TrimSpace(text)
}

// AsShown prints a reading with a prefix that suits it and the digits that were
// shown, no more and no fewer.
func AsShown(v yokemate.Value, unit string) string {
	step := si.Resolution(v.Digits)
	if v.V == 0 || math.IsNaN(step) {
		return strings.TrimSpace(v.Digits + " " + unit)
	}
	top := math.Floor(math.Log10(math.Abs(v.V)) + 1e-12)
	return si.Format(v.V, unit, int(top-math.Round(math.Log10(step)))+1)
}

// Plain prints a number with as few digits as say it.
func Plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// Chance says a probability.
func Chance(p float64) string {
	switch {
	case p < 0.005:
		return "below 1 %"
	case p < 1 && p > 0.995:
		return "above 99 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}

// SlipName says a slip's code in a few words.
func SlipName(code string) string {
	kind, arg, _ := strings.Cut(code, ":")
	switch kind {
	case "reversed":
		return arg + " reversed"
	case "swapped":
		return "leads of " + strings.Replace(arg, ",", " and ", 1) + " swapped"
	case "wrong-pin":
		wrong, right, _ := strings.Cut(arg, "-for-")
		return wrong + " taken for " + right
	case "open":
		return arg + " open"
	case "unpowered":
		return arg + " without mains"
	case "shorted-turn":
		return "shorted turns in " + arg
	case "wrong-feed":
		return arg + " on another phase or other mains"
	case "fuse-blown":
		return "no mains: fuse or plug"
	case "unknown":
		return "a cause not on the list"
	}
	return code
}

// QuantityName says what the meter is set to.
func QuantityName(q yokemate.Quantity) string {
	switch q {
	case yokemate.VoltsAC:
		return "volts AC"
	case yokemate.VoltsDC:
		return "volts DC"
	case yokemate.Millivolts:
		return "millivolts DC"
	case yokemate.AmpsAC:
		return "amps AC"
	case yokemate.Kick:
		return "kick of the needle"
	}
	return string(q)
}

// openOhms is from where on predicted ohms stand for "over" [Ω]: no bench
// meter has such a range.
const openOhms = 1e9

// Right says the right reading of a step.
func Right(v *yokemate.Interval, q yokemate.Quantity) string {
	switch {
	case v == nil:
		return "over (open)"
	case q == yokemate.Megohms:
		return si.Format(v.Low, q.Unit(), 3) + " or more"
	}
	return Within(v.Low, v.High, q.Unit())
}

// Wrong says what a slip reads. A wide interval is shown with its ends: "about"
// would promise too much.
func Wrong(s *yokemate.Slip, q yokemate.Quantity) string {
	switch {
	case q == yokemate.Ohms && s.Value >= openOhms:
		return "over (open)"
	case s.High <= nothing(q):
		return "about nothing"
	case s.High-s.Low > 0.3*math.Abs(s.Value):
		return Within(s.Low, s.High, q.Unit())
	}
	return "about " + si.Format(s.Value, q.Unit(), 2)
}

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

// Follows says what happens when a gap is closed on a slip.
func Follows(c *yokemate.IfClosed) string {
	if c.Winding == "" {
		return Sentence("closed on it: " + c.Protects)
	}
	if c.WindingAmps < 1e-6 {
		return "Closed on it, nothing flows."
	}
	text := fmt.Sprintf("Closed on it, %s in %s and %s from the mains", si.Format(c.WindingAmps, "A", 2), c.Winding, si.Format(c.FeedAmps, "A", 2))
	if c.LimitS == nil && c.FuseOpens == "no" {
		return text + ": no winding grows too hot, and the fuse does not open."
	}
	switch c.FuseOpens {
	case "yes":
		text += "; the fuse opens"
		if c.OpensS != nil {
			text += " within " + si.Format(*c.OpensS, "s", 2)
		}
	case "no":
		text += "; the fuse does NOT open"
	default:
		text += "; the fuse may NOT open in time"
	}
	if c.LimitS != nil {
		text += "; too hot after " + si.Format(*c.LimitS, "s", 2)
	}
	if c.Protects != "" {
		text += ". " + c.Protects
	}
	return Sentence(text)
}

// Point names a joint of a state by its pins.
func Point(h *yokemate.Hookup, name string) string {
	j := h.Joints.Joint(name)
	switch {
	case j == nil:
		return name // a pin
	case len(j.Pins) == 1:
		return "pin " + j.Pins[0]
	}
	return "joint " + name + " (" + strings.Join(j.Pins, ", ") + ")"
}

// Table is a table of a page: the first cell of a row names it.
type Table struct {
	Caption string
	Heads   []string
	Rows    [][]string
}

// Row adds a row.
func (t *Table) Row(cells ...string) { t.Rows = append(t.Rows, cells) }
