package kit

import (
	"context"
	"net/http"
	"net/url"
	"strings"

	"yokemate"
	"yokemate/internal/lang"
)

// languageCookie keeps the reader's choice.
const languageCookie = "language"

// americanVolts is below what mains volts a store's units speak of America
// rather than of Europe, where the browser does not say [V].
const americanVolts = 150

// Language is the language of an answer: the one that was chosen, or what the
// browser asks for. Where it asks for no kind of English, the usual mains of the
// store tell.
func (k *Kit) Language(r *http.Request) *lang.Language {
	if c, err := r.Cookie(languageCookie); err == nil {
		if l := lang.Get(c.Value); l != nil {
			return l
		}
	}
	return lang.Accepted(r.Header.Get("Accept-Language"), k.usualEnglish(r.Context()))
}

// usualEnglish is the English of the store's mains. It is found once; a store
// without mains tells nothing yet.
func (k *Kit) usualEnglish(ctx context.Context) *lang.Language {
	if l := k.english.Load(); l != nil {
		return l
	}
	s, err := k.Shelf(ctx)
	if err != nil {
		return lang.English // the page that was asked for will say what is wrong
	}
	low, all := 0, 0
	for i := range s.Units {
		if m := s.Units[i].Mains; m != nil {
			all++
			if m.Volts < americanVolts {
				low++
			}
		}
	}
	if all == 0 {
		return lang.English
	}
	l := lang.English
	if 2*low > all {
		l = lang.Get("en-US")
	}
	k.english.Store(l)
	return l
}

// Speak is where the form at the foot of a page sends its choice. It changes
// nothing in the store, so it needs no more than a link.
func (k *Kit) Speak() Route {
	return Route{"GET /language", func(w http.ResponseWriter, r *http.Request) error {
		l := lang.Get(r.FormValue("to"))
		if l == nil {
			return yokemate.Errorf(yokemate.NotFound, "", "there is no such language").Mend("choose one at the foot of a page")
		}
		http.SetCookie(w, &http.Cookie{Name: languageCookie, Value: l.Tag, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteLaxMode})
		w.Header().Set("Cache-Control", "no-store")
		return See(w, r, back(r))
	}}
}

// back is the page of this server that a request came from.
func back(r *http.Request) string {
	u, err := url.Parse(r.Referer())
	if err != nil || u.Host != r.Host || u.Path == "" || u.Path[0] != '/' || len(u.Path) > 1 && (u.Path[1] == '/' || u.Path[1] == '\\') {
		return "/"
	}
	return u.RequestURI()
}

// Languages are what the foot of a page offers.
func (f *Frame[T]) Languages() []*lang.Language { return lang.All() }

// names reports whether a column of a table holds names of pins, which no
// language changes.
func names(heads []string, column int) bool {
	return column < len(heads) && strings.HasPrefix(heads[column], "pins")
}
