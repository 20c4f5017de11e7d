package yokemate

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// A Code says what kind of trouble an error is, for programs.
type Code string

const (
	Invalid     Code = "invalid"     // the input breaks a rule of its format
	NotFound    Code = "not-found"   // something named is not there
	Conflict    Code = "conflict"    // the change would contradict what is stored
	Unsupported Code = "unsupported" // understood, and not done by this program
	Impossible  Code = "impossible"  // the wiring contradicts itself: no answer exists
	Internal    Code = "internal"    // a fault of the program
)

// Error is the one error type of the project: a code for programs, and for
// people the place, a sentence and the mend.
type Error struct {
	Code    Code
	Place   string // where in the file or the hookup, e.g. "T1/A ohms"; empty when there is no narrower place
	Message string // what is wrong, one lower-case sentence without a full stop
	Hint    string // the mend: what to write or do instead; may be empty
	Err     error  // the cause, when another error was; may be nil
}

// Error prints place, sentence and mend on one line. A control character, which
// may have come with a name from a file, is shown as a replacement mark.
func (e *Error) Error() string {
	s := e.Message
	if e.Place != "" {
		s = e.Place + ": " + s
	}
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// Errorf makes an Error of the given code at the given place. The mend is
// added with [Error.Mend].
func Errorf(code Code, place, format string, args ...any) *Error {
	return &Error{Code: code, Place: place, Message: fmt.Sprintf(format, args...)}
}

// Mend sets the hint and returns the error.
func (e *Error) Mend(format string, args ...any) *Error {
	e.Hint = fmt.Sprintf(format, args...)
	return e
}

// ErrorCode returns the code of err: Internal for an error that carries none.
func ErrorCode(err error) Code {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Code
	}
	return Internal
}
