package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"testing"
	"time"
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
	if sent > 20_000 || total > 64_000 {
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

// BenchmarkPages times every kind of page on the demo's store, as a handler: no
// network. The 99th hundredth of the times is reported beside the mean.
func BenchmarkPages(b *testing.B) {
	x := newBench(b, true)
	for _, at := range []string{"/", "/units/F1", "/needs/rope%20lights", "/needs/pier%20lantern", "/hookups/rope%20lights", "/hookups/rope%20lights?mains=high", "/hookups/rope%20lights?slip=reversed:F2/A",
		"/hookups/rope%20lights?move=F1.5,F2.6", "/proofs/2", "/proofs/2/record"} {
		b.Run(at, func(b *testing.B) {
			var times []time.Duration
			for b.Loop() {
				w, r := httptest.NewRecorder(), httptest.NewRequest("GET", at, nil)
				r.Host = "localhost"
				start := time.Now()
				x.server.Config.Handler.ServeHTTP(w, r)
				times = append(times, time.Since(start))
				if w.Code != 200 {
					b.Fatal(fmt.Sprint("status ", w.Code))
				}
			}
			slices.Sort(times)
			b.ReportMetric(float64(times[(len(times)-1)*99/100])/1e6, "p99-ms")
			b.ReportMetric(float64(times[len(times)-1])/1e6, "first-ms")
		})
	}
}
