// Package web serves the bench to a browser: the shelf, a unit, needs and
// offers, a hookup, a proof and its record.
//
// Every page works without a script. Pages see the store as root's interface
// and show what the engine says; they compute nothing. The server answers on
// loopback names only, refuses writes from other origins, and sends a policy
// under which nothing but its own styles and scripts runs.
package web

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/web/files"
	"yokemate/internal/web/hookup"
	"yokemate/internal/web/kit"
	"yokemate/internal/web/need"
	"yokemate/internal/web/proof"
	"yokemate/internal/web/shelf"
	"yokemate/internal/web/unit"
)

// Config is what a server needs.
type Config struct {
	Store yokemate.Store
	Log   *slog.Logger // for what is no matter of the person at the bench; nil: nowhere
}

// policy lets a page use what this server sends, and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// maxForm is more than any form of ours holds [byte].
const maxForm = 64 << 10

// Handler returns the whole bench as one handler.
func Handler(c Config) http.Handler {
	if c.Log == nil {
		c.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	k := kit.New(c.Store, c.Log)
	mux := http.NewServeMux()
	add := func(routes []kit.Route) {
		for _, r := range routes {
			mux.Handle(r.Pattern, k.Handle(r.Handler))
		}
	}
	shelfRoutes, _ := shelf.New(k)
	unitRoutes, _ := unit.New(k)
	needRoutes, _, _ := need.New(k)
	hookupRoutes, _ := hookup.New(k)
	proofRoutes, _ := proof.New(k)
	fileRoutes, _ := files.New(k)
	for _, r := range [][]kit.Route{shelfRoutes, unitRoutes, needRoutes, hookupRoutes, proofRoutes, fileRoutes, {k.Static(), k.Speak()}} {
		add(r)
	}
	mux.Handle("GET /", k.Handle(func(http.ResponseWriter, *http.Request) error {
		return yokemate.Errorf(yokemate.NotFound, "", "there is no such page").Mend("start from the shelf")
	}))
	h := speak(k, mux)
	h = crossOrigin(h)
	h = guard(h)
	h = compress(h)
	return h
}

// crossOrigin refuses writes that another site made the browser send.
func crossOrigin(next http.Handler) http.Handler {
	return http.NewCrossOriginProtection().Handler(next)
}

// guard sets the headers that every answer has, refuses names that are not
// loopback, so that no other site's name can be pointed here, and bounds what
// is read of a form.
func guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !loopbackName(r.Host) {
			http.Error(w, "this bench answers on the machine it runs on, by the name localhost or 127.0.0.1", http.StatusMisdirectedRequest)
			return
		}
		most := int64(maxForm)
		if r.URL.Path == "/files" {
			most = files.MaxBytes
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// loopbackName reports whether a host, with or without port, is this machine
// by a name that nobody else can own.
func loopbackName(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.TrimSuffix(strings.TrimPrefix(name, "["), "]")
	if strings.EqualFold(name, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(name)
	return err == nil && ip.IsLoopback()
}

// Listen opens the address, which must be on loopback.
func Listen(ctx context.Context, addr string) (net.Listener, error) {
	if !loopbackName(addr) || !strings.Contains(addr, ":") {
		return nil, yokemate.Errorf(yokemate.Invalid, "--addr", "%q is not an address of this machine alone", addr).Mend("use 127.0.0.1:8137")
	}
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Invalid, Place: "--addr", Message: addr + " cannot be opened", Hint: "choose another port, or 0 for any that is free", Err: err}
	}
	return l, nil
}

// Serve answers until ctx is done, then lets requests under way end.
func Serve(ctx context.Context, l net.Listener, c Config) error {
	s := &http.Server{Handler: Handler(c), ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, IdleTimeout: 2 * time.Minute}
	done := make(chan error, 1)
	go func() { done <- s.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	err := s.Shutdown(stop)
	if served := <-done; !errors.Is(served, http.ErrServerClosed) {
		err = errors.Join(err, served)
	}
	return err
}
