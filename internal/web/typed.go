package web

import (
	"net/http"
	"net/url"
	"strings"
	"unicode"
)

// typed takes out of a form what nobody types: control characters, which no page
// could show again. Files are left as they are.
func typed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.ParseForm() == nil { // a form that cannot be read is refused by who reads it
			for _, form := range []url.Values{r.Form, r.PostForm} {
				for _, all := range form {
					for i, text := range all {
						all[i] = strings.Map(typable, text)
					}
				}
			}
		}
		next.ServeHTTP(w, r)
	})
}

func typable(c rune) rune {
	if unicode.IsControl(c) && c != '\n' && c != '\r' && c != '\t' {
		return -1
	}
	return c
}
