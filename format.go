package yokemate

import (
	"bytes"

	"github.com/go-json-experiment/json/jsontext"
)

// FormatOf returns what a file says it is, read as far as that takes, or ""
// when it does not say.
func FormatOf(data []byte) string {
	dec := jsontext.NewDecoder(bytes.NewReader(unmarked(data)))
	if t, err := dec.ReadToken(); err != nil || t.Kind() != '{' {
		return ""
	}
	for dec.PeekKind() == '"' {
		name, err := dec.ReadToken()
		if err != nil {
			return ""
		}
		if name.String() != "format" {
			if dec.SkipValue() != nil {
				return ""
			}
			continue
		}
		if dec.PeekKind() != '"' {
			return ""
		}
		v, err := dec.ReadToken()
		if err != nil {
			return ""
		}
		return v.String()
	}
	return ""
}
