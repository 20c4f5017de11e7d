package kit

import (
	"slices"

	"yokemate"
)

// Key tells one question about a shelf from another, for a [Memo]: what is asked,
// and all that an answer may depend on. Readings are left out: they count once a
// unit's facts were made of them, so that to note one makes nothing slow.
func Key(what any, s *yokemate.Shelf) (string, error) {
	facts := *s
	facts.Units = slices.Clone(s.Units)
	for i := range facts.Units {
		facts.Units[i].Readings = nil
	}
	a, err := yokemate.Encode(what)
	if err != nil {
		return "", err
	}
	b, err := yokemate.Encode(&facts)
	return string(a) + string(b), err
}
