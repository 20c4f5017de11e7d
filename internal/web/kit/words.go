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
		"short":     func(text string) bool { return len([]rune(text)) <= 16 }, // a number and its unit stay together
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
	switch {
	case say.Exact(v):
		text = si.Format(v.V, unit, 4)
	case u > 0:
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
