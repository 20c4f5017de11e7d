package kit

import (
	"html/template"
	"net/url"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/si"
)

// functions are what templates may call.
func functions() template.FuncMap {
	return template.FuncMap{
		"levelMark": say.Words{}.Level,
		"path":      url.PathEscape,
		"sentence":  say.Sentence,
	}
}

// Known prints a fact with its uncertainty: its own, or that of the meter a
// plain number was read on.
func Known(v yokemate.Value, q yokemate.Quantity, unit string, m *yokemate.Meter) string {
	if !v.Known() {
		return "not known"
	}
	u := v.U
	if v.Basis == yokemate.AsRead && q != "" {
		if a, ok := m.Showing(q, v.V, v.Digits); ok {
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

// Table is a table of a page.
type Table = say.Table

// The words of results live in package say.

func Within(low, high float64, unit string) string { return say.Words{}.Within(low, high, unit) }
func Plain(v float64) string                       { return say.Plain(v) }
func Chance(p float64) string                      { return say.Words{}.Chance(p) }
func QuantityName(q yokemate.Quantity) string      { return say.Words{}.Quantity(q) }
func Graver(notes []yokemate.Note) []yokemate.Note { return say.Graver(notes) }
func Shown(q yokemate.Quantity, text string) (string, error) {
	return say.Typed("the reading", q, text)
}
