package kit

import (
	"net/http"
	"strings"
	"unicode"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/si"
)

// Number reads a number with or without its unit, comma or point.
func Number(place, text, unit string) (float64, error) {
	v, err := si.Parse(text, unit)
	if err != nil {
		return 0, say.Refused(place, err)
	}
	return v, nil
}

// Wired is the stored hookup that the request names, with its units' shelf.
func (k *Kit) Wired(r *http.Request) (*yokemate.Hookup, *yokemate.Shelf, error) {
	h, err := k.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return nil, nil, err
	}
	s, err := k.Shelf(r.Context())
	if err != nil {
		return nil, nil, err
	}
	return h, s.Only(h), nil
}

// Reason takes a typed reason: a few words, since one tap must not do.
func Reason(text string) (string, error) {
	text = strings.TrimSpace(text)
	if len(strings.Fields(text)) < 2 {
		return "", yokemate.Errorf(yokemate.Invalid, "the reason", "a reason has a few words").Mend("write why it is safe to go on, or power off and leave it")
	}
	return text, nil
}

// Typed takes out of a text what nobody types: control characters, which no page
// could show again.
func Typed(text string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' {
			return -1
		}
		return c
	}, text)
}
