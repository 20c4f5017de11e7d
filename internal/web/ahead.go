package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"
)

const (
	// calm is how long nobody has asked for anything before the server looks ahead.
	calm = 300 * time.Millisecond
	// aheadMost bounds the hookups, needs, proofs and units that are looked at: no more
	// than the pages' memories hold.
	aheadMost = 16
)

// watch counts the requests, those under way apart, and notes the writes.
func (s *Server) watch(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.asked.Add(1)
		s.busy.Add(1)
		defer s.busy.Add(-1)
		next.ServeHTTP(w, r)
		if !reads(r) {
			select {
			case s.changed <- struct{}{}:
			default:
			}
		}
	})
}

// lookAhead asks for the pages that take long, at the start and after a write,
// when nobody has asked for anything for a while. What they work out is kept under all
// that it depends on, so that whoever comes next finds it, and never finds what
// is out of date.
func (s *Server) lookAhead(ctx context.Context) {
	for s.quiet(ctx) {
		s.ahead(ctx)
		select {
		case <-ctx.Done():
			return
		case <-s.changed:
		}
	}
}

// quiet waits until nobody has asked for anything for a while; false: ctx ended.
func (s *Server) quiet(ctx context.Context) bool {
	for {
		n := s.asked.Load()
		if !pause(ctx, calm) {
			return false
		}
		if s.busy.Load() == 0 && s.asked.Load() == n {
			return true
		}
	}
}

func pause(ctx context.Context, d time.Duration) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(d):
		return true
	}
}

// ahead asks for each of those pages once, and leaves off while others ask.
func (s *Server) ahead(ctx context.Context) {
	asked := s.asked.Load()
	for _, at := range s.slow(ctx) {
		if s.busy.Load() > 0 || s.asked.Load() != asked {
			if !s.quiet(ctx) {
				return
			}
			asked = s.asked.Load()
		}
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, at, nil)
		if err != nil || ctx.Err() != nil {
			return
		}
		s.mux.ServeHTTP(nowhere{}, r)
	}
}

// slow lists the pages that take long the first time. Where the store fails,
// the list ends: whoever asks for the page is told why.
func (s *Server) slow(ctx context.Context) []string {
	var list []string
	hs, err := s.kit.Store.Hookups(ctx)
	if err != nil {
		return nil
	}
	for i := range hs[:min(len(hs), aheadMost)] {
		at := "/hookups/" + url.PathEscape(hs[i].Name)
		list = append(list, at, at+"?slip=fuse-blown", at+"/limits", at+"/time?ask=on", at+"/time?ask=fault&slip=fuse-blown", at+"/paper?page=a4&ink=colour", at+"/teach")
	}
	ns, err := s.kit.Store.Needs(ctx)
	if err != nil {
		return list
	}
	for i := range ns[:min(len(ns), aheadMost)] {
		list = append(list, "/needs/"+url.PathEscape(ns[i].Name)+"?all=1")
	}
	ps, err := s.kit.Store.Proofs(ctx)
	if err != nil {
		return list
	}
	for i := range ps[:min(len(ps), aheadMost)] {
		at := "/proofs/" + strconv.FormatInt(ps[i].ID, 10)
		list = append(list, at, at+"/paper?page=a4&ink=colour")
	}
	shelf, err := s.kit.Store.Shelf(ctx)
	if err != nil {
		return list
	}
	for i := range shelf.Units[:min(len(shelf.Units), aheadMost)] {
		list = append(list, "/units/"+url.PathEscape(shelf.Units[i].Tag)+"/paper?page=a4&ink=colour")
	}
	return list
}

// nowhere takes an answer that nobody reads.
type nowhere struct{}

func (nowhere) Header() http.Header         { return http.Header{} }
func (nowhere) Write(b []byte) (int, error) { return len(b), nil }
func (nowhere) WriteHeader(int)             {}
