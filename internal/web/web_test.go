package web

import (
	"context"
	"encoding/xml"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/jba/templatecheck"

	"yokemate"
	"yokemate/internal/demo"
	"yokemate/internal/sqlite"
	"yokemate/internal/web/files"
	"yokemate/internal/web/hookup"
	"yokemate/internal/web/kit"
	"yokemate/internal/web/need"
	"yokemate/internal/web/proof"
	"yokemate/internal/web/shelf"
	"yokemate/internal/web/unit"
)

// logTo writes the server's log to the test's.
type logTo struct{ t testing.TB }

func (l logTo) Write(b []byte) (int, error) {
	l.t.Log(strings.TrimSpace(string(b)))
	return len(b), nil
}

// bench is a server on a store, as a browser would meet it.
type bench struct {
	t      testing.TB
	file   string
	addr   string
	store  yokemate.Store
	bench  *Server
	server *httptest.Server
	client *http.Client

	engines map[int64]*engine
}

func newBench(t testing.TB, fill bool) *bench {
	t.Helper()
	b := &bench{t: t, file: filepath.Join(t.TempDir(), "bench.db")}
	b.start()
	if fill {
		if _, err := demo.Fill(t.Context(), b.store); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(b.stop)
	return b
}

func (b *bench) start() {
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: b.file})
	if err != nil {
		b.t.Fatal(err)
	}
	b.store = s
	if b.bench, err = New(Config{Store: s, Log: slog.New(slog.NewTextHandler(logTo{b.t}, nil))}); err != nil {
		b.t.Fatal(err)
	}
	b.server = httptest.NewUnstartedServer(b.bench.Home())
	if b.addr != "" { // started again, where the browser knows it
		b.server.Listener.Close()
		if b.server.Listener, err = Listen(context.Background(), b.addr); err != nil {
			b.t.Fatal(err)
		}
	}
	b.server.Start()
	b.addr = b.server.Listener.Addr().String()
	b.client = b.server.Client()
	b.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
}

func (b *bench) stop() {
	b.server.Close()
	if err := b.store.Close(); err != nil {
		b.t.Error(err)
	}
}

// restart is a program that died and was started again on the same store.
func (b *bench) restart() { b.stop(); b.start() }

func (b *bench) do(r *http.Request) (int, string, http.Header) {
	b.t.Helper()
	res, err := b.client.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return res.StatusCode, string(body), res.Header
}

func (b *bench) get(path string) (int, string, http.Header) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), "GET", b.server.URL+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.do(r)
}

func (b *bench) page(path string) string {
	b.t.Helper()
	code, body, _ := b.get(path)
	if code != http.StatusOK {
		b.t.Fatalf("GET %s: status %d\n%s", path, code, text(body))
	}
	return body
}

func (b *bench) post(path string, form ...string) (int, string, string) {
	b.t.Helper()
	v := url.Values{}
	for i := 0; i < len(form); i += 2 {
		v.Add(form[i], form[i+1])
	}
	r, err := http.NewRequestWithContext(b.t.Context(), "POST", b.server.URL+path, strings.NewReader(v.Encode()))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	code, body, h := b.do(r)
	return code, h.Get("Location"), body
}

// element is one start tag of a page with the words inside it.
type element struct {
	name string
	attr map[string]string
	text *strings.Builder
}

// parse reads a page. Ours are well-formed XML too, so that a forgotten end tag
// is an error here.
func parse(t testing.TB, at, page string) []*element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	var all, open []*element
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return all
		}
		if err != nil {
			line, _ := d.InputPos()
			t.Fatalf("%s: line %d: %v\n%s", at, line, err, strings.Join(strings.Split(page, "\n")[max(0, line-3):line], "\n"))
		}
		switch x := tok.(type) {
		case xml.StartElement:
			e := &element{x.Name.Local, map[string]string{}, &strings.Builder{}}
			for _, a := range x.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			for _, o := range open { // a picture says what its words say
				o.text.WriteString(e.attr["alt"])
			}
			all, open = append(all, e), append(open, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			for _, e := range open {
				e.text.Write(x)
			}
		}
	}
}

// text is what a page says, without its tags.
func text(page string) string {
	s := regexp.MustCompile(`(?s)<head>.*?</head>|<svg.*?</svg>|<[^>]*>`).ReplaceAllString(page, " ")
	return strings.Join(strings.Fields(s), " ")
}

// checkPage holds a page to what every page promises.
func checkPage(t testing.TB, at, page string) []*element {
	t.Helper()
	all := parse(t, at, page)
	ids, labels := map[string]bool{}, map[string]bool{}
	h1, last := 0, 0
	for _, e := range all {
		if id := e.attr["id"]; id != "" {
			if ids[id] {
				t.Errorf("%s: two elements have the id %q", at, id)
			}
			ids[id] = true
		}
		if e.name == "label" {
			labels[e.attr["for"]] = strings.TrimSpace(e.text.String()) != ""
		}
		for k := range e.attr {
			if k == "style" || strings.HasPrefix(k, "on") {
				t.Errorf("%s: <%s> has the attribute %s, which the policy blocks", at, e.name, k)
			}
		}
		if len(e.name) == 2 && e.name[0] == 'h' && e.name[1] >= '1' && e.name[1] <= '6' {
			n := int(e.name[1] - '0')
			if n > last+1 {
				t.Errorf("%s: heading %q is of level %d after one of level %d", at, e.text, n, last)
			}
			last = n
			if n == 1 {
				h1++
			}
			if strings.TrimSpace(e.text.String()) == "" {
				t.Errorf("%s: an empty heading", at)
			}
		}
	}
	if h1 != 1 {
		t.Errorf("%s: %d first headings", at, h1)
	}
	for _, e := range all {
		words := strings.TrimSpace(e.text.String())
		switch e.name {
		case "html":
			if e.attr["lang"] == "" {
				t.Errorf("%s: no language", at)
			}
		case "title":
			if words == "" {
				t.Errorf("%s: an empty title", at)
			}
		case "style":
			t.Errorf("%s: a style in the page", at)
		case "script":
			if e.attr["src"] == "" || words != "" {
				t.Errorf("%s: a script in the page", at)
			}
		case "input", "select", "textarea":
			if e.attr["type"] != "hidden" && !labels[e.attr["id"]] {
				t.Errorf("%s: %s %q has no label", at, e.name, e.attr["name"])
			}
		case "button":
			if words == "" {
				t.Errorf("%s: a button without a name", at)
			}
		case "a":
			if words == "" && e.attr["aria-label"] == "" {
				t.Errorf("%s: a link to %q without a name", at, e.attr["href"])
			}
		case "form":
			if !strings.HasPrefix(e.attr["action"], "/") {
				t.Errorf("%s: a form goes to %q", at, e.attr["action"])
			}
		}
		for _, k := range []string{"for", "aria-labelledby", "aria-describedby"} {
			for _, id := range strings.Fields(e.attr[k]) {
				if !ids[id] {
					t.Errorf("%s: %s of <%s> names %q, which is not there", at, k, e.name, id)
				}
			}
		}
	}
	return all
}

// Each template fits the Go type that it is shown with.
func TestTemplates(t *testing.T) {
	k := kit.New(nil, slog.New(slog.DiscardHandler))
	_, s, sb := shelf.New(k)
	_, u := unit.New(k)
	_, n, nl := need.New(k)
	_, h := hookup.New(k)
	_, p := proof.New(k)
	_, fs := files.New(k)
	check := func(name string, err error) {
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	check("shelf", templatecheck.CheckHTML(s.Template, &kit.Frame[shelf.Page]{}))
	check("bench", templatecheck.CheckHTML(sb.Template, &kit.Frame[shelf.BenchPage]{}))
	check("unit", templatecheck.CheckHTML(u.Unit.Template, &kit.Frame[unit.Page]{}))
	check("identify", templatecheck.CheckHTML(u.Asking.Template, &kit.Frame[unit.Asking]{}))
	check("photo", templatecheck.CheckHTML(u.Photo.Template, &kit.Frame[unit.PhotoPage]{}))
	check("need", templatecheck.CheckHTML(n.Template, &kit.Frame[need.Page]{}))
	check("needs", templatecheck.CheckHTML(nl.Template, &kit.Frame[need.List]{}))
	check("hookup", templatecheck.CheckHTML(h.Page.Template, &kit.Frame[hookup.Page]{}))
	check("hookups", templatecheck.CheckHTML(h.List.Template, &kit.Frame[hookup.List]{}))
	check("limits", templatecheck.CheckHTML(h.Limits.Template, &kit.Frame[hookup.Limits]{}))
	check("proof", templatecheck.CheckHTML(p.Page.Template, &kit.Frame[proof.Page]{}))
	check("proofs", templatecheck.CheckHTML(p.List.Template, &kit.Frame[proof.List]{}))
	check("files", templatecheck.CheckHTML(fs.Template, &kit.Frame[files.Page]{}))
	check("record", templatecheck.CheckHTML(p.Record.Template, &kit.Frame[proof.Record]{}))
	if err := templatecheck.CheckHTML(s.Template, &kit.Frame[need.Page]{}); err == nil {
		t.Error("the check takes any type")
	}
}

// The headers that keep other sites' scripts out stand on every answer, and
// the style comes from an address that may be kept for ever.
func TestHeaders(t *testing.T) {
	b := newBench(t, true)
	for _, at := range []string{"/", "/units/F1", "/nothing", "/proofs/2"} {
		_, _, h := b.get(at)
		if got := h.Get("Content-Security-Policy"); got != policy {
			t.Errorf("%s: policy %q", at, got)
		}
		if got := h.Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: content type may be guessed: %q", at, got)
		}
	}
	for _, part := range []string{"default-src 'none'", "style-src 'self'", "script-src 'self'", "img-src 'self' data:", "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'"} {
		if !strings.Contains(policy, part) {
			t.Errorf("the policy lacks %s", part)
		}
	}
	m := regexp.MustCompile(`href="(/static/[0-9a-f]{16}/base\.css)"`).FindStringSubmatch(b.page("/"))
	if m == nil {
		t.Fatal("the page names no style")
	}
	code, css, h := b.get(m[1])
	if code != http.StatusOK || !strings.HasPrefix(h.Get("Content-Type"), "text/css") || !strings.Contains(h.Get("Cache-Control"), "immutable") || !strings.Contains(css, ".f-stop") {
		t.Errorf("%s: status %d, %s, %s", m[1], code, h.Get("Content-Type"), h.Get("Cache-Control"))
	}
	if code, _, _ := b.get("/static/0000000000000000/base.css"); code != http.StatusNotFound {
		t.Errorf("a style of another version: status %d", code)
	}
}

// A write that another site caused is refused and stores nothing.
func TestCrossOrigin(t *testing.T) {
	b := newBench(t, true)
	for _, set := range []func(http.Header){
		func(h http.Header) { h.Set("Sec-Fetch-Site", "cross-site") },
		func(h http.Header) { h.Set("Origin", "http://elsewhere.example") },
	} {
		r, err := http.NewRequestWithContext(t.Context(), "POST", b.server.URL+"/units", strings.NewReader("tag=X9&pins=1+2"))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		set(r.Header)
		if code, _, _ := b.do(r); code != http.StatusForbidden {
			t.Errorf("status %d", code)
		}
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if s.Unit("X9") != nil {
		t.Error("it was stored")
	}
}

// Only names that nobody else can own are answered.
func TestHost(t *testing.T) {
	b := newBench(t, true)
	for host, want := range map[string]int{
		"bench.example": 421, "bench.example:8137": 421, "192.168.1.4:8137": 421, "localhost.example": 421, "": 421, "127.0.0.1.example": 421,
		"localhost": 200, "localhost:8137": 200, "127.0.0.1:1": 200, "[::1]:8137": 200, "127.0.0.9": 200,
	} {
		w := httptest.NewRecorder()
		r := httptest.NewRequest("GET", "/", nil)
		r.Host = host
		b.server.Config.Handler.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("host %q: status %d, not %d", host, w.Code, want)
		}
	}
	for _, addr := range []string{"0.0.0.0:0", ":0", "192.168.1.4:0", "example.com:80", "127.0.0.1"} {
		if l, err := Listen(t.Context(), addr); err == nil {
			l.Close()
			t.Errorf("%s was opened", addr)
		}
	}
}

// A server that is told to stop lets go of its address.
func TestServeStops(t *testing.T) {
	b := newBench(t, true)
	ctx, cancel := context.WithCancel(t.Context())
	l, err := Listen(ctx, "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, Doors{Home: l}, Config{Store: b.store}) }()
	res, err := http.Get("http://" + l.Addr().String() + "/")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusOK {
		t.Errorf("status %d", res.StatusCode)
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
	again, err := Listen(t.Context(), l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	again.Close()
}

// hidden returns the value of a hidden field of the form that goes to action.
func hidden(t testing.TB, page, action, name string) string {
	t.Helper()
	in := false
	for _, e := range parse(t, action, page) {
		if e.name == "form" {
			in = e.attr["action"] == action
		}
		if in && e.name == "input" && e.attr["name"] == name {
			return e.attr["value"]
		}
	}
	t.Fatalf("no form to %s has %s\n%s", action, name, text(page))
	return ""
}

// answers lists the answers of a proof in the store.
func (b *bench) answers(id int64) []yokemate.Answer {
	b.t.Helper()
	p, err := b.store.Proof(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return p.Given().Answers
}

// startProof opens a proof of a stored hookup and returns its address and id.
func (b *bench) startProof(hookup string) (string, int64) {
	b.t.Helper()
	code, at, body := b.post("/hookups/" + url.PathEscape(hookup) + "/proofs")
	if code != http.StatusSeeOther {
		b.t.Fatalf("status %d\n%s", code, text(body))
	}
	id, err := strconv.ParseInt(strings.TrimPrefix(at, "/proofs/"), 10, 64)
	if err != nil {
		b.t.Fatal(err)
	}
	return at, id
}

// right is a reading in the middle of what the step on the page expects.
func (b *bench) right(id int64) (step, value string) {
	b.t.Helper()
	e := b.at(id)
	s := e.plan.Step(e.session.Next())
	if s == nil {
		return "", ""
	}
	switch {
	case s.Measure == nil:
		return s.ID, ""
	case s.Right == nil:
		return s.ID, "over"
	case s.Measure.Quantity == yokemate.Megohms:
		return s.ID, "500"
	}
	return s.ID, strconv.FormatFloat(s.Right.Value, 'g', 4, 64)
}
