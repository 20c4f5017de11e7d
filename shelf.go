package yokemate

import (
	"bytes"
	"errors"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// The format names, the first thing each file says.
const (
	ShelfFormat  = "yokemate-shelf/1"
	HookupFormat = "yokemate-hookup/1"
	NeedFormat   = "yokemate-need/1"
)

// Shelf is the store of units as one document.
type Shelf struct {
	Format string  `json:"format"`
	Meters []Meter `json:"meters,omitempty"`
	Units  []Unit  `json:"units"`
}

// Unit returns the unit with the given tag, or nil.
func (s *Shelf) Unit(tag string) *Unit {
	for i := range s.Units {
		if s.Units[i].Tag == tag {
			return &s.Units[i]
		}
	}
	return nil
}

// Meter returns the meter that plain numbers were read on: the shelf's first,
// or the generic one.
func (s *Shelf) Meter() *Meter {
	if len(s.Meters) > 0 {
		return &s.Meters[0]
	}
	return GenericMeter()
}

// MeterNamed returns the meter with that name, or nil.
func (s *Shelf) MeterNamed(name string) *Meter {
	for i := range s.Meters {
		if s.Meters[i].Name == name {
			return &s.Meters[i]
		}
	}
	return nil
}

// Validate checks the shelf against the rules of its format.
func (s *Shelf) Validate() error {
	if s.Format != ShelfFormat {
		return formatError(s.Format, ShelfFormat)
	}
	names := map[string]bool{}
	for i := range s.Meters {
		if err := s.Meters[i].Validate("meters"); err != nil {
			return err
		}
		if names[s.Meters[i].Name] {
			return Errorf(Invalid, "meters", "two meters are named %q", s.Meters[i].Name).Mend("rename one of them")
		}
		names[s.Meters[i].Name] = true
	}
	tags := map[string]bool{}
	for i := range s.Units {
		u := &s.Units[i]
		if err := u.Validate(); err != nil {
			return err
		}
		if tags[u.Tag] {
			return Errorf(Invalid, u.Tag, "two units have this tag").Mend("rename one of them")
		}
		tags[u.Tag] = true
	}
	return nil
}

// DecodeShelf reads a shelf file and checks it.
func DecodeShelf(data []byte) (*Shelf, error) {
	var s Shelf
	if err := decodeFile(data, &s); err != nil {
		return nil, err
	}
	return &s, s.Validate()
}

// DecodeHookup reads a hookup file and checks what can be checked without the shelf.
func DecodeHookup(data []byte) (*Hookup, error) {
	var h Hookup
	if err := decodeFile(data, &h); err != nil {
		return nil, err
	}
	return &h, h.Validate()
}

// DecodeNeed reads a need file and checks it.
func DecodeNeed(data []byte) (*Need, error) {
	var n Need
	if err := decodeFile(data, &n); err != nil {
		return nil, err
	}
	return &n, n.Validate()
}

// Encode writes a shelf, hookup, need or result as indented JSON with a final newline.
func Encode(v any) ([]byte, error) {
	b, err := json.Marshal(v, jsontext.WithIndent("  "), json.Deterministic(true))
	if err != nil {
		return nil, &Error{Code: Internal, Message: "cannot be written as JSON", Err: err}
	}
	return append(b, '\n'), nil
}

func formatError(got, want string) error {
	if got == "" {
		return Errorf(Invalid, "format", "the file does not say what it is").Mend("add \"format\": %q", want)
	}
	return Errorf(Invalid, "format", "it is %q, not %q", got, want).Mend("check that this is the file you meant")
}

// Decode reads any of the project's JSON documents strictly: every member
// must be known, none twice, text in UTF-8.
func Decode(data []byte, v any) error { return decode(data, v) }

// decodeFile is decode for a file that somebody wrote: null stands for
// nothing there, and what is not known is left out.
func decodeFile(data []byte, v any) error {
	data = unmarked(data)
	if err := decode(data, v); err != nil {
		return err
	}
	dec := jsontext.NewDecoder(bytes.NewReader(data))
	for {
		switch t, err := dec.ReadToken(); {
		case err == io.EOF:
			return nil
		case err != nil:
			return decodeError(data, err)
		case t.Kind() == 'n':
			return Errorf(Invalid, placeIn(data, dec.StackPointer(), dec.InputOffset()), "null stands there").Mend("leave out what is not known")
		}
	}
}

// unmarked takes off the byte order mark that some editors put before UTF-8 text.
func unmarked(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\ufeff")) }

func decode(data []byte, v any) error {
	if !utf8.Valid(data) {
		return Errorf(Invalid, "", "it is not UTF-8 text").Mend("save it as UTF-8")
	}
	if len(strings.TrimSpace(string(data))) == 0 {
		return Errorf(Invalid, "", "it is empty").Mend("start from one of the examples")
	}
	err := json.Unmarshal(data, v, json.RejectUnknownMembers(true))
	if err == nil {
		return nil
	}
	return decodeError(data, err)
}

// decodeError turns the JSON library's errors into ours: the place as a path
// and a line, and the mend.
func decodeError(data []byte, err error) error {
	place := func(p jsontext.Pointer, offset int64) string { return placeIn(data, p, offset) }
	if syn, ok := errors.AsType[*jsontext.SyntacticError](err); ok {
		at := place(syn.JSONPointer, syn.ByteOffset)
		switch {
		case errors.Is(err, io.ErrUnexpectedEOF):
			return &Error{Code: Invalid, Place: at, Message: "the file is cut short", Hint: "fetch it again, or close its brackets", Err: err}
		case errors.Is(err, jsontext.ErrDuplicateName):
			what := "a name"
			if strings.Contains(string(syn.JSONPointer), "joints") {
				what = "a joint"
			}
			return &Error{Code: Invalid, Place: at, Message: what + " stands there twice: " + lastToken(syn.JSONPointer), Hint: "keep one of them, or rename it", Err: err}
		}
		return &Error{Code: Invalid, Place: at, Message: "it is not JSON there: " + oneLine(syn.Err), Hint: "mend the punctuation; numbers are plain, such as 0.5", Err: err}
	}
	if sem, ok := errors.AsType[*json.SemanticError](err); ok {
		at := place(sem.JSONPointer, sem.ByteOffset)
		if e, ok := errors.AsType[*Error](sem.Err); ok {
			c := *e
			if c.Place == "" {
				c.Place = at
			}
			return &c
		}
		if errors.Is(sem.Err, json.ErrUnknownName) {
			return &Error{Code: Invalid, Place: at, Message: "unknown field " + lastToken(sem.JSONPointer), Hint: "check its spelling against the format's schema", Err: err}
		}
		want := "something else"
		if sem.GoType != nil {
			switch k := sem.GoType.Kind().String(); {
			case sem.GoType == reflect.TypeFor[time.Time]():
				want = "a time such as \"2031-05-04T12:00:00Z\""
			case strings.HasPrefix(k, "float"), strings.HasPrefix(k, "int"):
				want = "a number"
			case k == "string":
				want = "a text in quotes"
			case k == "bool":
				want = "true or false"
			case k == "slice":
				want = "a list in [ ]"
			case k == "array":
				want = "a list of exactly " + strconv.Itoa(sem.GoType.Len()) + " in [ ]"
			case k == "struct", k == "map", k == "ptr":
				want = "an object in { }"
			}
		}
		return &Error{Code: Invalid, Place: at, Message: "this is not what the format has here", Hint: "write " + want, Err: err}
	}
	if e, ok := errors.AsType[*Error](err); ok {
		return e
	}
	return &Error{Code: Invalid, Message: "it is not JSON: " + oneLine(err), Hint: "mend the punctuation", Err: err}
}

// placeIn names a place in a file by its line and its path.
func placeIn(data []byte, p jsontext.Pointer, offset int64) string {
	line := 1 + strings.Count(string(data[:min(max(offset, 0), int64(len(data)))]), "\n")
	s := "line " + strconv.Itoa(line)
	if p != "" {
		s += " (" + strings.TrimPrefix(string(p), "/") + ")"
	}
	return s
}

func lastToken(p jsontext.Pointer) string { return "\"" + p.LastToken() + "\"" }

func oneLine(err error) string {
	if err == nil {
		return "unexpected text"
	}
	return strings.TrimPrefix(strings.Join(strings.Fields(err.Error()), " "), "jsontext: ")
}
