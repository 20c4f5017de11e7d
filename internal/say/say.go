// Package say is the words of results: of intervals and readings, right and
// wrong; of slips and what follows when a gap is closed on one; of notes,
// verdicts and states; of predictions and limits. The command line, the pages
// and the paper all take them from here, so that one result reads the same
// everywhere. It also reads what a person types of a meter's display.
//
// It computes nothing, knows no page and no terminal, and lays nothing out.
package say

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"yokemate"
	"yokemate/si"
)

// Words says results in one language. The zero value is English with a decimal
// point.
type Words struct {
	Locale si.Locale
	Say    func(english string) string // translates a phrase, its verbs kept in their order; nil: English
}

// Phrase translates, and puts values in where there are verbs.
func (w Words) Phrase(english string, args ...any) string {
	s := english
	if w.Say != nil {
		s = w.Say(english)
	}
	if len(args) == 0 {
		return s
	}
	return fmt.Sprintf(s, args...)
}

// Within says an interval, and one value where four digits cannot tell its
// ends apart.
func (w Words) Within(low, high float64, unit string) string {
	if a := w.Locale.Format(low, unit, 4); a == w.Locale.Format(high, unit, 4) {
		return a
	}
	return w.Locale.FormatInterval(low, high, unit)
}

// AsShown prints a reading with a prefix that suits it and the digits that were
// shown, no more and no fewer.
func (w Words) AsShown(v yokemate.Value, unit string) string {
	step := si.Resolution(v.Digits)
	if v.V == 0 || math.IsNaN(step) {
		return strings.TrimSpace(w.decimal(v.Digits) + " " + unit)
	}
	top := math.Floor(math.Log10(math.Abs(v.V)) + 1e-12)
	return w.Locale.Format(v.V, unit, int(top-math.Round(math.Log10(step)))+1)
}

// Fact prints a fact with the digits that it was written with, or with four
// where it is known better than a meter tells.
func (w Words) Fact(v yokemate.Value, unit string) string {
	if Exact(v) {
		return w.Locale.Format(v.V, unit, 4)
	}
	return w.decimal(v.Digits) + " " + unit
}

// decimal writes digits with the locale's mark.
func (w Words) decimal(digits string) string {
	if w.Locale.Decimal == "" {
		return digits
	}
	return strings.Replace(digits, ".", w.Locale.Decimal, 1)
}

// Answer is an answer as it was read, with its unit.
func (w Words) Answer(x *yokemate.Answer, q yokemate.Quantity) string {
	text := string(x.Value)
	if text == "" {
		return w.Phrase("unsure")
	}
	if v, err := yokemate.Read(text); err == nil {
		return w.AsShown(v, q.Unit())
	}
	return w.Phrase(text)
}

// Chance says a probability.
func (w Words) Chance(p float64) string {
	switch {
	case p < 0.005:
		return w.Phrase("below 1 %")
	case p < 1 && p > 0.995:
		return w.Phrase("above 99 %")
	}
	return Percent(p)
}

// Percent says a part of a whole.
func Percent(part float64) string { return strconv.FormatFloat(100*part, 'f', 0, 64) + " %" }

// Plain prints a number with as few digits as say it.
func Plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// Exact reports whether a fact is known far better than any meter reads: what
// was fed is what the others stand on, and has no doubt of its own.
func Exact(v yokemate.Value) bool { return v.U > 0 && v.U < 1e-4*math.Abs(v.V) }

// InUnit is a value with the unit of a quantity, as on a meter's knob.
func InUnit(v float64, q yokemate.Quantity) string {
	switch unit := q.Unit(); unit {
	case "V", "Ω", "A", "W":
		number, rest, _ := strings.Cut(si.Format(v, unit, 4), " ")
		if strings.Contains(number, ".") {
			number = strings.TrimRight(strings.TrimRight(number, "0"), ".")
		}
		return number + " " + rest
	default:
		return strings.TrimSpace(Plain(v) + " " + unit)
	}
}

// Sentence gives a text its capital and its full stop.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
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

// Graver sorts notes, the gravest first, and leaves their order else.
func Graver(notes []yokemate.Note) []yokemate.Note {
	rank := func(l yokemate.Level) int {
		return slices.Index([]yokemate.Level{yokemate.Go, yokemate.Info, yokemate.Caution, yokemate.Stop}, l)
	}
	out := slices.Clone(notes)
	slices.SortStableFunc(out, func(a, b yokemate.Note) int { return rank(b.Level) - rank(a.Level) })
	return out
}

// Standing says in a line what the notes of a hookup amount to.
func (w Words) Standing(notes []yokemate.Note) string {
	switch yokemate.Worst(notes) {
	case yokemate.Stop:
		return w.Phrase("Do not wire this: what stops it stands below.")
	case yokemate.Caution:
		return w.Phrase("It may be wired with the cautions below, and proved before it is used.")
	}
	return w.Phrase("Nothing speaks against it; prove it before it is used.")
}

// Fact is a name with its value in words.
type Fact struct{ Name, Value string }
