package web

import (
	"compress/gzip"
	"net/http"
	"strings"
)

// compress sends what is sent in fewer bytes, to a browser that takes them so.
// A bench is often read by a phone over a poor link.
func compress(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if !takesGzip(r.Header.Get("Accept-Encoding")) {
			next.ServeHTTP(w, r)
			return
		}
		z := &zipped{ResponseWriter: w}
		defer z.close()
		next.ServeHTTP(z, r)
	})
}

// takesGzip reports whether gzip is among the codings and not refused.
func takesGzip(header string) bool {
	for part := range strings.SplitSeq(header, ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.TrimSpace(name) == "gzip" && strings.ReplaceAll(q, " ", "") != "q=0" {
			return true
		}
	}
	return false
}

// zipped packs the body of an answer. One without a body stays without.
type zipped struct {
	http.ResponseWriter
	begun bool
	z     *gzip.Writer
}

// WriteHeader tells of the packing, where a body will follow.
func (w *zipped) WriteHeader(status int) {
	if kind := w.Header().Get("Content-Type"); (status == http.StatusOK || status >= 400) && !packed(kind) {
		w.Header().Set("Content-Encoding", "gzip")
		w.Header().Del("Content-Length")
		w.z = gzip.NewWriter(w.ResponseWriter)
	}
	w.begun = true
	w.ResponseWriter.WriteHeader(status)
}

// packed reports whether what is sent is in few bytes already, or is a file that
// may be large.
func packed(kind string) bool {
	return strings.HasPrefix(kind, "image/") || kind == "application/vnd.sqlite3"
}

// Write packs b.
func (w *zipped) Write(b []byte) (int, error) {
	if !w.begun {
		if w.Header().Get("Content-Type") == "" {
			w.Header().Set("Content-Type", http.DetectContentType(b))
		}
		w.WriteHeader(http.StatusOK)
	}
	if w.z == nil {
		return w.ResponseWriter.Write(b)
	}
	return w.z.Write(b)
}

func (w *zipped) close() {
	if w.z != nil {
		w.z.Close() // an error here is a browser that went away
	}
}
