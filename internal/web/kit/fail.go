package kit

import (
	"errors"
	"net/http"
	"strings"

	"yokemate"
	"yokemate/internal/say"
)

// status is the one table from codes to HTTP.
var status = map[yokemate.Code]int{
	yokemate.Invalid:     http.StatusUnprocessableEntity,
	yokemate.NotFound:    http.StatusNotFound,
	yokemate.Conflict:    http.StatusConflict,
	yokemate.Unsupported: http.StatusNotImplemented,
	yokemate.Impossible:  http.StatusUnprocessableEntity,
	yokemate.Internal:    http.StatusInternalServerError,
}

// Status is the HTTP status of an error.
func Status(err error) int {
	if s, ok := status[yokemate.ErrorCode(err)]; ok {
		return s
	}
	return http.StatusInternalServerError
}

// Failure is the page of an error.
type Failure struct {
	Status  int
	Words   string
	Mend    string
	Surface string // what the page is headed
}

const failureHTML = `{{/* kit.Failure */}}
{{define "main"}}
<h1>{{.Surface}}</h1>
<p class="lead">{{.Words}}</p>
{{with .Mend}}<p>{{.}}</p>{{end}}
<p><a class="button" href="/">Go to the shelf</a></p>
{{end}}`

// Explain says an error to a person: an internal one goes to the log in full
// and is one neutral line here.
func (k *Kit) Explain(err error) (words, mend string) {
	if e, ok := errors.AsType[*yokemate.Error](err); ok && e.Code != yokemate.Internal {
		words = e.Message
		if e.Place != "" {
			words = e.Place + ": " + words
		}
		if s, ok := errors.AsType[*yokemate.SourceError](err); ok {
			words = s.Source + ": " + words
		}
		if e.Hint != "" {
			mend = say.Sentence(e.Hint)
		}
		return sentenceOf(words), mend
	}
	k.Log.Error("a page failed", "error", err, "cause", errors.Unwrap(err))
	return "Something went wrong inside the program; its log says what.", "Nothing was lost: what was stored stays stored."
}

// sentenceOf gives a full stop, and a capital unless a name comes first.
func sentenceOf(words string) string {
	if first, _, named := strings.Cut(words, ":"); named && !strings.Contains(first, " ") {
		return words + "."
	}
	return say.Sentence(words)
}

// Fail sends an error as a page.
func (k *Kit) Fail(w http.ResponseWriter, r *http.Request, err error) {
	code := Status(err)
	f := Failure{Status: code}
	f.Words, f.Mend = k.Explain(err)
	switch code {
	case http.StatusNotFound:
		f.Surface = "Not there"
	case http.StatusInternalServerError:
		f.Surface = "A fault of the program"
	default:
		f.Surface = "That cannot be done"
	}
	if err := k.failed.Show(w, code, f.Surface, "", f); err != nil {
		k.Log.Error("the page of an error failed", "error", err)
		http.Error(w, "a fault of the program", http.StatusInternalServerError)
	}
}

// Trouble is why a form was not taken, shown above it.
type Trouble struct {
	Words string
	Mend  string
}

// Trouble says an error above the form that caused it. One that is no fault of
// what was typed is returned.
func (k *Kit) Trouble(err error) (Trouble, error) {
	if yokemate.ErrorCode(err) == yokemate.Internal {
		return Trouble{}, err
	}
	var t Trouble
	t.Words, t.Mend = k.Explain(err)
	return t, nil
}
