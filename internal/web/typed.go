package web

import (
	"net/http"
	"net/url"

	"yokemate/internal/web/kit"
)

// typed takes out of a form what nobody types. A form with files is read, and
// cleared likewise, by the page that takes it.
func typed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.ParseForm() == nil { // a form that cannot be read is refused by who reads it
			for _, form := range []url.Values{r.Form, r.PostForm} {
				for _, all := range form {
					for i, text := range all {
						all[i] = kit.Typed(text)
					}
				}
			}
		}
		next.ServeHTTP(w, r)
	})
}
