package web

import (
	"html"
	"io"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"yokemate"
	"yokemate/internal/lang"
)

// names are the names in the store that a sentence may hold.
func (b *bench) names() map[string]bool {
	b.t.Helper()
	names := map[string]bool{}
	hookups, err := b.store.Hookups(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	for _, h := range hookups {
		names[h.Name] = true
		for _, o := range h.Outputs {
			names[o.Name] = true
		}
	}
	needs, err := b.store.Needs(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	for _, n := range needs {
		names[n.Name] = true
	}
	return names
}

// Every text of every page of the demo's bench is known to the catalogues,
// except the names of the store; and what a form is refused with is, too.
func TestEveryPageSpeaks(t *testing.T) {
	b := newBench(t, true)
	pages := map[string]string{}
	for _, v := range b.crawl(3) {
		if v.page != "" {
			pages[v.at] = v.page
		}
	}
	if len(pages) < 40 {
		t.Errorf("only %d pages were reached", len(pages))
	}
	for _, at := range []string{"/nothing", "/units/none", "/needs/none", "/hookups/none", "/proofs/999", "/language?to=xx"} {
		_, pages[at], _ = b.get(at)
	}
	for _, f := range []struct {
		path string
		form []string
	}{
		{"/units", []string{"tag", "T.1", "pins", "1 2"}},
		{"/units", []string{"tag", "F1", "pins", "1 2"}},
		{"/units", []string{"tag", "", "pins", ""}},
		{"/units", []string{"tag", "T9", "pins", "1 1"}},
		{"/needs", []string{"name", "x", "kind", "ac", "volts", "12 A", "amps", "1", "feed", "230", "hertz", "50"}},
		{"/needs", []string{"name", "x", "kind", "ac", "volts", "1,2.3", "amps", "1", "feed", "230", "hertz", "50"}},
		{"/needs", []string{"name", "x", "kind", "ac", "volts", "12", "amps", "0", "feed", "230", "hertz", "50"}},
		{"/needs", []string{"name", "", "kind", "ac", "volts", "12", "amps", "1"}},
		{"/needs", []string{"name", "x", "kind", "ac", "volts", "12", "amps", "1", "feed", "230", "hertz", "50", "rails", "3"}},
		{"/units/F1/readings", []string{"quantity", "volts_ac", "from", "1", "to", "1", "value", "12", "count", "0"}},
		{"/proofs/1/readings", []string{"count", "0", "step", "x", "value", "1"}},
	} {
		code, _, body := b.post(f.path, f.form...)
		if code < 400 {
			t.Errorf("%s %q was taken: %d", f.path, f.form, code)
		}
		pages[f.path+" "+strings.Join(f.form, " ")] = body
	}
	names := b.names()
	for _, l := range lang.All() {
		seen := map[string]bool{}
		for _, at := range slices.Sorted(maps.Keys(pages)) {
			err := lang.Texts(strings.NewReader(pages[at]), func(s string) {
				for _, u := range l.Unknown(s) {
					if !names[strings.TrimSuffix(u, ".")] && !seen[u] {
						seen[u] = true
						t.Errorf("%s, %s: %q of %q", l.Tag, at, u, s)
					}
				}
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
}

// in fetches a page with a header Accept-Language.
func (b *bench) in(accept, path string) (string, http.Header) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), "GET", b.server.URL+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Accept-Language", accept)
	code, body, h := b.do(r)
	if code != http.StatusOK {
		b.t.Fatalf("%s in %q: status %d", path, accept, code)
	}
	return body, h
}

// A page in another language is the same page: the same elements, with the same
// numbers and names, its decimal marks aside.
func TestSamePage(t *testing.T) {
	b := newBench(t, true)
	tags := regexp.MustCompile(`</?[a-z0-9]+`)
	numbers := regexp.MustCompile(`[0-9]+([.,][0-9]+)?`)
	for _, at := range []string{"/", "/units/F1", "/needs", "/needs/rope%20lights", "/hookups/rope%20lights", "/hookups/rope%20lights/limits", "/proofs/2", "/proofs/2/record"} {
		english, _ := b.in("en-GB", at)
		if plain := b.page(at); plain != english {
			t.Errorf("%s: English is not what a browser without a wish gets", at)
		}
		german, h := b.in("de-CH, en;q=0.5", at)
		if h.Get("Content-Language") != "de" || !strings.Contains(german, `<html lang="de">`) || !strings.Contains(strings.Join(h.Values("Vary"), " "), "Cookie") {
			t.Errorf("%s: %v\n%.200s", at, h, german)
		}
		if a, b := tags.FindAllString(english, -1), tags.FindAllString(german, -1); !slices.Equal(a, b) {
			t.Errorf("%s: not the same elements", at)
		}
		// German puts values in another order, and writes a few out
		count := func(page string) map[string]int {
			n := map[string]int{}
			for _, x := range numbers.FindAllString(html.UnescapeString(text(page)), -1) {
				n[strings.Replace(x, ",", ".", 1)]++
			}
			return n
		}
		a, b := count(english), count(german)
		for x, n := range a {
			if b[x] < n {
				t.Errorf("%s: %q stands there %d times, in German %d", at, x, n, b[x])
			}
		}
	}
}

// The choice at the foot of a page is kept, leads back to where it was made, and
// comes before what the browser asks for.
func TestChoice(t *testing.T) {
	b := newBench(t, true)
	choose := func(to, from string) (int, string, string) {
		r, err := http.NewRequestWithContext(t.Context(), "GET", b.server.URL+"/language?to="+to, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Referer", from)
		code, _, h := b.do(r)
		return code, h.Get("Location"), h.Get("Set-Cookie")
	}
	code, back, cookie := choose("de", b.server.URL+"/hookups/rope%20lights?mains=high")
	if code != http.StatusSeeOther || back != "/hookups/rope%20lights?mains=high" || !strings.HasPrefix(cookie, "language=de; Path=/; Max-Age=31536000; HttpOnly; SameSite=Lax") {
		t.Errorf("%d %q %q", code, back, cookie)
	}
	for _, from := range []string{"", "http://elsewhere.example/x", "%", b.server.URL + "//elsewhere.example"} {
		if _, back, _ := choose("de", from); back != "/" {
			t.Errorf("from %q back to %q", from, back)
		}
	}
	if code, _, cookie := choose("xx", ""); code != http.StatusNotFound || cookie != "" {
		t.Errorf("a language that there is not: %d %q", code, cookie)
	}
	r, err := http.NewRequestWithContext(t.Context(), "GET", b.server.URL+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept-Language", "en-GB")
	r.AddCookie(&http.Cookie{Name: "language", Value: "de"})
	if _, body, _ := b.do(r); !strings.Contains(body, "<h1>Regal</h1>") {
		t.Error("the choice is forgotten")
	}
}

// Where the browser does not say which English, the mains of the shelf do.
func TestUsualEnglish(t *testing.T) {
	for _, c := range []struct {
		volts float64
		want  string
	}{{120, "en-US"}, {230, "en"}} {
		b := newBench(t, false)
		if body, _ := b.in("en", "/"); !strings.Contains(body, `<html lang="en">`) {
			t.Error("an empty shelf is not English")
		}
		u := &yokemate.Unit{Tag: "T1", Terminals: []string{"1", "2"}, Mains: &yokemate.Mains{Volts: c.volts, Hertz: 60}}
		if err := b.store.AddUnit(t.Context(), u); err != nil {
			t.Fatal(err)
		}
		if body, _ := b.in("en", "/"); !strings.Contains(body, `<html lang="`+c.want+`">`) {
			t.Errorf("%g V: not %s", c.volts, c.want)
		}
		if body, _ := b.in("en-GB", "/"); !strings.Contains(body, `<html lang="en">`) {
			t.Errorf("%g V: British English was asked for", c.volts)
		}
	}
}

// BenchmarkSpoken times what another language adds to a page: the page is made
// once, and shown again and again, as when it was never seen and as when it was.
func BenchmarkSpoken(b *testing.B) {
	x := newBench(b, true)
	for _, at := range []string{"/", "/needs/rope%20lights", "/hookups/rope%20lights", "/proofs/2/record"} {
		page := x.page(at)
		b.Run(at, func(b *testing.B) {
			var times []time.Duration
			for b.Loop() {
				start := time.Now()
				if err := lang.Get("de").HTML(io.Discard, strings.NewReader(page)); err != nil {
					b.Fatal(err)
				}
				times = append(times, time.Since(start))
			}
			first := times[0]
			slices.Sort(times)
			b.ReportMetric(float64(times[(len(times)-1)*99/100])/1e6, "p99-ms")
			b.ReportMetric(float64(first)/1e6, "first-ms")
		})
	}
}
