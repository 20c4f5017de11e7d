package web

import (
	"maps"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
)

// The first paint of the hookup page takes the page and its styles: well below
// 60 kB as sent, and not much above it even for a browser that takes nothing packed.
func TestFirstPaint(t *testing.T) {
	b := newBench(t, true)
	at := "/hookups/rope%20lights"
	page := b.page(at)
	total, sent := len(page), b.sent(at)
	for _, m := range regexp.MustCompile(`(?:href|src)="(/static/[^"]+)"`).FindAllStringSubmatch(page, -1) {
		total += len(b.page(m[1]))
		sent += b.sent(m[1])
	}
	if sent > 20_000 || total > 80_000 {
		t.Errorf("%d bytes are sent, %d to one that takes nothing packed", sent, total)
	}
	t.Logf("%d bytes are sent; unpacked %d, %d of them the page", sent, total, len(page))
}

// sent is how many bytes of body a browser is sent.
func (b *bench) sent(path string) int {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), "GET", b.server.URL+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Accept-Encoding", "gzip, br")
	_, body, h := b.do(r)
	if h.Get("Content-Encoding") != "gzip" {
		b.t.Errorf("%s is not packed", path)
	}
	return len(body)
}

// timed is how long the server takes for a page, as a handler: no network.
func (b *bench) timed(at string) time.Duration {
	b.t.Helper()
	w, r := httptest.NewRecorder(), httptest.NewRequest("GET", at, nil)
	r.Host = "localhost"
	h := b.server.Config.Handler
	start := time.Now()
	h.ServeHTTP(w, r)
	took := time.Since(start)
	if w.Code != http.StatusOK {
		b.t.Fatalf("%s: status %d", at, w.Code)
	}
	return took
}

// BenchmarkPages times every page that can be reached on the demo's store, those
// of one shape together: the first time each is asked for after the start, once
// the server has looked ahead, and then again and again.
func BenchmarkPages(b *testing.B) {
	x := newBench(b, true)
	shapes := map[string][]string{}
	for _, v := range x.crawl(12) {
		if v.page != "" {
			shapes[shape(v.at)] = append(shapes[shape(v.at)], v.at)
		}
	}
	x.restart()
	x.bench.ahead(b.Context())
	part := func(ts []time.Duration, hundredths int) float64 {
		slices.Sort(ts)
		return float64(ts[(len(ts)-1)*hundredths/100]) / 1e6
	}
	var first []time.Duration
	run := func(name string, at []string, first []time.Duration) {
		b.Run(name, func(b *testing.B) {
			var times []time.Duration
			n := 0
			for b.Loop() {
				times = append(times, x.timed(at[n%len(at)]))
				n++
			}
			b.ReportMetric(part(first, 100), "first-ms")
			b.ReportMetric(part(times, 50), "p50-ms")
			b.ReportMetric(part(times, 99), "p99-ms")
			b.ReportMetric(part(times, 100), "max-ms")
		})
	}
	var all []string
	for _, name := range slices.Sorted(maps.Keys(shapes)) {
		var once []time.Duration
		for _, at := range shapes[name] {
			once = append(once, x.timed(at))
		}
		first, all = append(first, once...), append(all, shapes[name]...)
		run(name, shapes[name], once)
	}
	run("all", all, first)
}

// After a look ahead whoever asks for a slow page first finds its answer there:
// less than a quarter of the time that it takes otherwise, which is dozens of
// times more.
func TestLookAhead(t *testing.T) {
	b := newBench(t, true)
	var slow []string
	for _, at := range b.bench.slow(t.Context()) {
		if strings.HasSuffix(at, "/limits") || strings.HasPrefix(at, "/needs/") {
			slow = append(slow, at)
		}
	}
	if len(slow) < 4 {
		t.Fatalf("only %v are slow", slow)
	}
	all := func() (sum time.Duration) {
		for _, at := range slow {
			sum += b.timed(at)
		}
		return sum
	}
	cold := all()
	b.restart()
	b.bench.ahead(t.Context())
	if warm := all(); warm > cold/4 {
		t.Errorf("%v after looking ahead, %v without", warm, cold)
	}
	// To note a reading makes none of them slow again.
	if _, err := b.store.AddReading(t.Context(), "F1", yokemate.Reading{Quantity: yokemate.Ohms, From: "1", To: "2", Value: "800"}); err != nil {
		t.Fatal(err)
	}
	if again := all(); again > cold/4 {
		t.Errorf("%v after a reading was noted, %v without looking ahead", again, cold)
	}
}

// A write makes the server look ahead again, and an answer from before it is
// shown to nobody: every page says what a server says that was started later.
func TestNeverStale(t *testing.T) {
	b := newBench(t, true)
	b.bench.ahead(t.Context())
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	u := *s.Unit("F1")
	u.Windings = slices.Clone(u.Windings)
	k := slices.IndexFunc(u.Windings, func(w yokemate.Winding) bool { return w.ID == "A" })
	u.Windings[k].Volts = yokemate.Num(14.2)
	at := "/hookups/rope%20lights"
	before := b.page(at)
	if err := b.store.PutUnit(t.Context(), &u); err != nil {
		t.Fatal(err)
	}
	pages := []string{at, at + "/limits", at + "?slip=reversed:F1/A", "/needs/rope%20lights", "/units/F1"}
	var changed []string
	for _, at := range pages {
		changed = append(changed, b.page(at))
	}
	if changed[0] == before {
		t.Error("the page says what it said before")
	}
	b.restart()
	for i, at := range pages {
		if b.page(at) != changed[i] {
			t.Errorf("%s says otherwise after a new start", at)
		}
	}
}

// What is kept under a key without readings may not depend on them.
func TestReadingsAnswerNothing(t *testing.T) {
	b := newBench(t, true)
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	read := *s
	read.Units = slices.Clone(s.Units)
	for i := range read.Units {
		u := &read.Units[i]
		for _, w := range u.Windings {
			for _, q := range []yokemate.Quantity{yokemate.Ohms, yokemate.VoltsAC} {
				u.Readings = append(u.Readings, yokemate.Reading{Quantity: q, From: w.Pins[0], To: w.Pins[1], Value: "55.5"})
			}
		}
	}
	hs, err := b.store.Hookups(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	answers := func(s *yokemate.Shelf) []any {
		var list []any
		f := network.Compile(s)
		for i := range hs {
			p, err := predict.Hookup(f, &hs[i], yokemate.High, predict.Options{})
			if err != nil {
				t.Fatal(err)
			}
			plan, err := prove.New(f, &hs[i], prove.Options{})
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, p, plan.IDs(), plan.Slips())
		}
		n, err := b.store.Need(t.Context(), "rope lights")
		if err != nil {
			t.Fatal(err)
		}
		x, err := find.Find(f, n, find.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return append(list, x)
	}
	if d := cmp.Diff(answers(s), answers(&read)); d != "" {
		t.Error(d)
	}
}
