// Package web serves the bench to a browser: the shelf, a unit, needs and
// offers, a hookup, a proof and its record.
//
// Every page works without a script. Pages see the store as root's interface
// and show what the engine says; they compute nothing. The server answers on
// loopback names only, refuses writes from other origins, and sends a policy
// under which nothing but its own styles and scripts runs.
//
// The local network has a door of its own, which is shut unless it is asked
// for: there a device looks until it is paired. It is not encrypted.
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
	"sync/atomic"
	"time"

	"yokemate"
	"yokemate/internal/web/device"
	"yokemate/internal/web/files"
	"yokemate/internal/web/heat"
	"yokemate/internal/web/hookup"
	"yokemate/internal/web/kit"
	"yokemate/internal/web/need"
	"yokemate/internal/web/paper"
	"yokemate/internal/web/proof"
	"yokemate/internal/web/shelf"
	"yokemate/internal/web/switching"
	"yokemate/internal/web/teach"
	"yokemate/internal/web/unit"
)

// Config is what a server needs.
type Config struct {
	Store yokemate.Store
	Log   *slog.Logger // for what is no matter of the person at the bench; nil: nowhere
	LAN   *LAN         // nil: this machine alone
}

// LAN is what the door to the local network needs.
type LAN struct {
	Now    func() time.Time  // the clock
	Rand   io.Reader         // where codes and tokens come from
	Told   func(code string) // is called with each new pairing code; nil: nobody is
	Places []string          // where it is open, as 192.168.1.4:8137
}

// policy lets a page use what this server sends, and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// maxForm is more than any form of ours holds [byte].
const maxForm = 64 << 10

// Server is the bench with its doors.
type Server struct {
	kit     *kit.Kit
	mux     http.Handler
	devices *device.Pages // nil: this machine alone
	places  []string

	asked   atomic.Int64  // requests so far
	busy    atomic.Int64  // those under way
	changed chan struct{} // holds one where something was written since the last look ahead
}

// New returns the bench, its doors not yet open.
func New(c Config) (*Server, error) {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	k := kit.New(c.Store, c.Log)
	s := &Server{kit: k, changed: make(chan struct{}, 1)}
	mux := http.NewServeMux()
	add := func(routes []kit.Route) {
		for _, r := range routes {
			mux.Handle(r.Pattern, k.Handle(r.Handler))
		}
	}
	shelfRoutes, _, _ := shelf.New(k)
	unitRoutes, _ := unit.New(k)
	needRoutes, _, _ := need.New(k)
	hookupRoutes, _ := hookup.New(k)
	proofRoutes, _ := proof.New(k)
	heatRoutes, _ := heat.New(k, time.Now)
	fileRoutes, _ := files.New(k)
	teachRoutes, _ := teach.New(k)
	timeRoutes, _ := switching.New(k)
	paperRoutes, _ := paper.New(k)
	if l := c.LAN; l != nil {
		p, err := device.NewPairing(device.Options{Now: l.Now, Rand: l.Rand, Told: l.Told})
		if err != nil {
			return nil, err
		}
		s.places = l.Places
		var at []string
		for _, place := range l.Places {
			at = append(at, "http://"+place+"/")
		}
		var routes []kit.Route
		routes, s.devices = device.New(k, p, at)
		add(routes)
	}
	for _, r := range [][]kit.Route{shelfRoutes, unitRoutes, needRoutes, hookupRoutes, proofRoutes, heatRoutes, fileRoutes, teachRoutes, timeRoutes, paperRoutes, {k.Static(), k.Speak()}} {
		add(r)
	}
	mux.Handle("GET /", k.Handle(func(http.ResponseWriter, *http.Request) error {
		return yokemate.Errorf(yokemate.NotFound, "", "there is no such page").Mend("start from the shelf")
	}))
	s.mux = s.watch(typed(mux))
	return s, nil
}

// Home is the door of the machine itself: names of it that nobody else can own
// are answered, and whoever comes in may write.
func (s *Server) Home() http.Handler {
	var h http.Handler = s.mux
	if s.devices != nil {
		h = as(kit.AtHome, h)
	}
	h = speak(s.kit, h)
	h = crossOrigin(h)
	h = guard(loopbackName, "this bench answers on the machine it runs on, by the name localhost or 127.0.0.1", h)
	return compress(h)
}

// crossOrigin refuses writes that another site made the browser send.
func crossOrigin(next http.Handler) http.Handler {
	return http.NewCrossOriginProtection().Handler(next)
}

// guard sets the headers that every answer has, refuses every name but the
// door's own, so that no other site's name can be pointed here, and bounds what
// is read of a form.
func guard(own func(host string) bool, words string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !own(r.Host) {
			http.Error(w, words, http.StatusMisdirectedRequest)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostOf(r.URL.Path))
		next.ServeHTTP(w, r)
	})
}

// mostOf is the most that a form sent there may hold [byte].
func mostOf(path string) int64 {
	switch {
	case path == "/files":
		return files.MaxBytes
	case path == "/files/backup":
		return files.MaxBackup
	case strings.HasPrefix(path, "/units/") && strings.HasSuffix(path, "/photos"):
		return unit.MaxUpload
	}
	return maxForm
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

// Doors are where a server listens.
type Doors struct {
	Home net.Listener   // on loopback
	LAN  []net.Listener // on the local network; nil: this machine alone
}

// Serve answers until ctx is done, then lets requests under way end.
func Serve(ctx context.Context, d Doors, c Config) error {
	if len(d.LAN) > 0 {
		lan := *c.LAN
		for _, l := range d.LAN {
			lan.Places = append(lan.Places, l.Addr().String())
		}
		c.LAN = &lan
	}
	s, err := New(c)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ahead := make(chan struct{})
	go func() {
		defer close(ahead)
		s.lookAhead(ctx)
	}()
	servers := []*http.Server{}
	ended := make(chan error, 1+len(d.LAN))
	open := func(l net.Listener, h http.Handler) {
		x := &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, IdleTimeout: 2 * time.Minute}
		servers = append(servers, x)
		go func() { ended <- x.Serve(l) }()
	}
	open(d.Home, s.Home())
	for _, l := range d.LAN {
		open(l, s.Local())
	}
	n := len(servers)
	select {
	case err = <-ended: // one door fell shut by itself
		n--
	case <-ctx.Done():
	}
	cancel()
	<-ahead
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	for _, x := range servers {
		err = errors.Join(err, x.Shutdown(stop))
	}
	for range n {
		if served := <-ended; !errors.Is(served, http.ErrServerClosed) {
			err = errors.Join(err, served)
		}
	}
	return err
}
