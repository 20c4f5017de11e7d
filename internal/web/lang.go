package web

import (
	"bytes"
	"net/http"
	"strings"

	"yokemate/internal/lang"
	"yokemate/internal/web/kit"
)

// speak sends pages in the reader's language. Pages are made in English; one
// that is to be English goes through untouched.
func speak(k *kit.Kit, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Language, Cookie")
		l := k.Language(r)
		if l.Plain() {
			next.ServeHTTP(w, r)
			return
		}
		s := &spoken{ResponseWriter: w, language: l}
		next.ServeHTTP(s, r)
		s.end()
	})
}

// spoken holds a page back until it is whole, and sends it in the language.
// What is no page goes through.
type spoken struct {
	http.ResponseWriter
	language *lang.Language
	status   int // 0: nothing is sent yet
	page     bytes.Buffer
	holds    bool
}

// WriteHeader decides by the answer's kind.
func (s *spoken) WriteHeader(status int) {
	if s.status != 0 {
		return
	}
	s.status = status
	h := s.Header()
	s.holds = strings.HasPrefix(h.Get("Content-Type"), "text/html") && h.Get("Content-Encoding") == ""
	if s.holds {
		h.Del("Content-Length")
		h.Set("Content-Language", s.language.Tag)
		return
	}
	s.ResponseWriter.WriteHeader(status)
}

// Write takes a piece of the answer.
func (s *spoken) Write(b []byte) (int, error) {
	if s.status == 0 {
		if s.Header().Get("Content-Type") == "" {
			s.Header().Set("Content-Type", http.DetectContentType(b))
		}
		s.WriteHeader(http.StatusOK)
	}
	if s.holds {
		return s.page.Write(b)
	}
	return s.ResponseWriter.Write(b)
}

// end sends a page that was held back. An error here is a browser that went
// away: the page is in memory, and reading memory does not fail.
func (s *spoken) end() {
	if s.holds {
		s.ResponseWriter.WriteHeader(s.status)
		s.language.HTML(s.ResponseWriter, &s.page)
	}
}
