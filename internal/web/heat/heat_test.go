package heat_test

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"yokemate/internal/sqlite"
	"yokemate/internal/web/heat"
	"yokemate/internal/web/kit"
)

// bench is the pages alone, on a store of their own and a clock that is set.
type bench struct {
	t     *testing.T
	h     http.Handler
	clock time.Time
}

func newBench(t *testing.T) *bench {
	t.Helper()
	s, err := sqlite.Open(t.Context(), sqlite.Config{Path: filepath.Join(t.TempDir(), "store")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	b := &bench{t: t, clock: time.Date(2026, 3, 7, 14, 0, 0, 0, time.Local)}
	k := kit.New(s, slog.New(slog.DiscardHandler))
	routes, _ := heat.New(k, func() time.Time { return b.clock })
	mux := http.NewServeMux()
	for _, r := range append(routes, k.Static()) {
		mux.Handle(r.Pattern, k.Handle(r.Handler))
	}
	b.h = mux
	return b
}

func (b *bench) ask(method, path string, form url.Values) (int, string, string) {
	b.t.Helper()
	r := httptest.NewRequestWithContext(b.t.Context(), method, path, strings.NewReader(form.Encode()))
	if method == "POST" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	w := httptest.NewRecorder()
	b.h.ServeHTTP(w, r)
	body, err := io.ReadAll(w.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return w.Code, w.Header().Get("Location"), string(body)
}

func (b *bench) page(path string) string {
	b.t.Helper()
	code, _, body := b.ask("GET", path, nil)
	if code != http.StatusOK {
		b.t.Fatalf("GET %s: %d\n%s", path, code, body)
	}
	return body
}

func has(t *testing.T, page string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(page, w) {
			t.Errorf("the page does not say %q", w)
		}
	}
}

// A heat run from its begin to a verdict: each reading is judged with those
// before it, the next one is asked for by the clock, and what makes no sense is
// not taken and stays typed.
func TestRun(t *testing.T) {
	b := newBench(t)
	has(t, b.page("/heatruns"), "Begin a heat run")
	begin := url.Values{"title": {"F5 on 0,8 A"}, "cold": {"118,3"}, "cold_c": {"23"}, "hottest": {"40"}, "class": {"B"}, "bound": {"1"}}
	bad := url.Values{}
	for k, v := range begin {
		bad[k] = v
	}
	bad.Set("cold", "warm")
	code, _, body := b.ask("POST", "/heatruns", bad)
	if code != http.StatusUnprocessableEntity {
		t.Fatalf("cold ohms of %q: status %d", "warm", code)
	}
	has(t, body, "Not taken", `value="warm"`, `value="F5 on 0,8 A"`)
	code, at, _ := b.ask("POST", "/heatruns", begin)
	if code != http.StatusSeeOther || at != "/heatruns/1" {
		t.Fatalf("begun: %d to %q", code, at)
	}
	has(t, b.page(at), "Nothing was read yet", "Read first after ten minutes")
	b.clock = b.clock.Add(10 * time.Minute)
	has(t, b.page(at), `name="minutes" required="required" inputmode="decimal" autocomplete="off" value="10"`)
	for _, x := range [][2]string{{"10", "9000"}, {"0", "124"}, {"ten", "124"}, {"10", ""}, {"10", "124 V"}} {
		code, _, body := b.ask("POST", at+"/readings", url.Values{"minutes": {x[0]}, "shown": {x[1]}, "air": {"23"}})
		if code != http.StatusUnprocessableEntity {
			t.Errorf("%q at %q min: status %d", x[1], x[0], code)
		}
		has(t, body, "Not taken", `value="`+x[1]+`"`)
	}
	if strings.Contains(b.page(at), "9000") {
		t.Error("a refused reading was stored")
	}
	// Invented: the rows of the command's own test, and one misread before.
	for _, x := range [][2]string{{"10", "182,4"}, {"10", "124.2"}, {"20", "128.1"}, {"30", "130.6"}, {"45", "133.3"}, {"60", "135.1"}, {"80", "136.7"}, {"100", "137.7"}, {"120", "138.3"}} {
		air := "23"
		if x[0] == "120" {
			air = "23,5"
		}
		if code, to, body := b.ask("POST", at+"/readings", url.Values{"minutes": {x[0]}, "shown": {x[1]}, "air": {air}}); code != http.StatusSeeOther || to != at {
			t.Fatalf("%s at %s min: %d\n%s", x[1], x[0], code, body)
		}
	}
	p := b.page(at)
	// By hand: (124.2/118.3 − 1)(234.5 + 23) is 12.8 K.
	has(t, p, "Continuous", "This load may stay on.", ">12.8 K</td>", "Readings that were replaced", "10 min: 182,4")
	has(t, b.page("/heatruns"), "F5 on 0,8 A", "Continuous")
	if code, _, _ := b.ask("GET", "/heatruns/7", nil); code != http.StatusNotFound {
		t.Errorf("a run that is not there: status %d", code)
	}
}

// Temperatures of the outside serve as well, and the next reading is asked for
// by the clock.
func TestOutside(t *testing.T) {
	b := newBench(t)
	_, at, _ := b.ask("POST", "/heatruns", url.Values{"title": {"a lump"}, "cold_c": {"20"}, "hottest": {"40"}, "bound": {"1"}, "ago": {"5"}})
	b.ask("POST", at+"/readings", url.Values{"minutes": {"10"}, "shown": {"27"}, "air": {"20"}})
	has(t, b.page(at), "Not yet", "1 of the four readings", "Read next at 20 min.", "By the clock: 14:15.", "for a thermometer outside")
}
