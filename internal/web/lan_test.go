package web

import (
	"bytes"
	"context"
	"encoding/base64"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"yokemate/internal/demo"
	"yokemate/internal/sqlite"
	"yokemate/internal/web/device"
)

// lan is a bench whose two doors are open: the machine's own, and one to a
// network that is this machine under another address.
type lan struct {
	bench
	place string // of the network's door
	mu    sync.Mutex
	now   time.Time
	codes []string // that were told, in order
}

func (l *lan) clock() time.Time     { l.mu.Lock(); defer l.mu.Unlock(); return l.now }
func (l *lan) pass(d time.Duration) { l.mu.Lock(); defer l.mu.Unlock(); l.now = l.now.Add(d) }
func (l *lan) code() string         { l.mu.Lock(); defer l.mu.Unlock(); return l.codes[len(l.codes)-1] }

func newLAN(t testing.TB) *lan {
	t.Helper()
	l := &lan{now: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	l.t = t
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: filepath.Join(t.TempDir(), "bench.db")})
	if err != nil {
		t.Fatal(err)
	}
	l.store = s
	if _, err := demo.Fill(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	outside, err := ListenLAN(context.Background(), []netip.Addr{netip.MustParseAddr("127.0.0.2")}, 0)
	if err != nil {
		t.Fatal(err)
	}
	l.place = outside[0].Addr().String()
	config := Config{Store: s, Log: slog.New(slog.NewTextHandler(logTo{t}, nil)), LAN: &LAN{
		Now: l.clock, Rand: rand.NewChaCha8([32]byte{1}), Places: []string{l.place},
		Told: func(code string) { l.mu.Lock(); defer l.mu.Unlock(); l.codes = append(l.codes, code) },
	}}
	if l.bench.bench, err = New(config); err != nil {
		t.Fatal(err)
	}
	l.server = httptest.NewServer(l.bench.bench.Home())
	l.addr = l.server.Listener.Addr().String()
	l.client = l.server.Client()
	l.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	far := &http.Server{Handler: l.bench.bench.Local(), ReadHeaderTimeout: time.Second}
	go far.Serve(outside[0])
	t.Cleanup(func() { far.Close(); l.stop() })
	return l
}

// phone is a device on the network, with its cookies.
type phone struct {
	l      *lan
	client *http.Client
}

func (l *lan) phone() *phone {
	jar, err := cookiejar.New(nil)
	if err != nil {
		l.t.Fatal(err)
	}
	return &phone{l, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// do sends what a browser would from a page of the bench, but for what change
// makes of it.
func (p *phone) do(method, path, form string, change func(*http.Request)) (int, string, http.Header) {
	t := p.l.t
	t.Helper()
	r, err := http.NewRequestWithContext(context.Background(), method, "http://"+p.l.place+path, strings.NewReader(form))
	if err != nil {
		t.Fatal(err)
	}
	if method != http.MethodGet {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://"+p.l.place)
	}
	if change != nil {
		change(r)
	}
	res, err := p.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body), res.Header
}

func (p *phone) get(path string) (int, string, http.Header) { return p.do("GET", path, "", nil) }

func (p *phone) post(path, form string) (int, string, http.Header) {
	return p.do("POST", path, form, nil)
}

// pair gives the code that was told last.
func (p *phone) pair() http.Header {
	p.l.t.Helper()
	code, body, h := p.post("/pair", url.Values{"code": {p.l.code()}, "name": {"bench phone"}, "back": {"/needs"}}.Encode())
	if code != http.StatusSeeOther || h.Get("Location") != "/needs" {
		p.l.t.Fatalf("status %d to %q\n%s", code, h.Get("Location"), text(body))
	}
	return h
}

// has reports whether a unit was stored.
func (l *lan) has(tag string) bool {
	l.t.Helper()
	s, err := l.store.Shelf(context.Background())
	if err != nil {
		l.t.Fatal(err)
	}
	return s.Unit(tag) != nil
}

// A device of the network sees the pages and writes nothing until it gave the
// code; then it writes like the machine itself, and none that did not does.
func TestLookUntilPaired(t *testing.T) {
	l := newLAN(t)
	p, other := l.phone(), l.phone()
	for _, at := range []string{"/", "/units/F1", "/hookups/rope%20lights", "/proofs/1", "/files/shelf"} {
		code, body, h := p.get(at)
		if code != http.StatusOK {
			t.Errorf("%s: status %d", at, code)
		}
		if got := h.Get("Content-Security-Policy"); got != policy {
			t.Errorf("%s: policy %q", at, got)
		}
		if at != "/files/shelf" {
			checkPage(t, at, body)
			if !strings.Contains(text(body), "This device may look, not write.") || !strings.Contains(body, `href="/pair"`) {
				t.Errorf("%s does not say that the device may only look", at)
			}
		}
	}
	writes := 0
	seen := map[string]bool{}
	for _, at := range []string{"/", "/needs", "/needs/rope%20lights", "/hookups/rope%20lights", "/proofs/1", "/proofs/2", "/units/H3", "/files"} {
		_, body, _ := p.get(at)
		for _, e := range parse(t, at, body) {
			if to := e.attr["action"]; e.name == "form" && e.attr["method"] == "post" && !seen[to] {
				seen[to] = true
				code, body, _ := p.post(to, "tag=X1&pins=1+2&name=x&count=0&value=1&step=x")
				if code != http.StatusForbidden || !strings.Contains(body, `action="/pair"`) || !strings.Contains(text(body), "Nothing was written") {
					t.Errorf("POST %s: status %d\n%s", to, code, text(body))
				}
				checkPage(t, to, body)
				writes++
			}
		}
	}
	if writes < 5 {
		t.Errorf("only %d kinds of write were tried", writes)
	}
	for _, method := range []string{"PUT", "DELETE", "PATCH", "OPTIONS"} {
		if code, _, _ := p.do(method, "/units", "tag=X1&pins=1+2", nil); code != http.StatusForbidden {
			t.Errorf("%s: status %d", method, code)
		}
	}
	if l.has("X1") {
		t.Fatal("something was stored")
	}

	h := p.pair()
	c, err := http.ParseSetCookie(h.Get("Set-Cookie"))
	if err != nil {
		t.Fatal(err)
	}
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.MaxAge != 12*3600 {
		t.Errorf("the cookie is %+v", c)
	}
	if raw, err := base64.RawURLEncoding.DecodeString(c.Value); err != nil || len(raw) != 32 {
		t.Errorf("the token is %d octets, %v", len(raw), err)
	}
	if code, body, _ := p.post("/units", "tag=X1&pins=1+2"); code != http.StatusSeeOther {
		t.Errorf("status %d\n%s", code, text(body))
	}
	if !l.has("X1") {
		t.Error("nothing was stored")
	}
	if _, body, _ := p.get("/"); strings.Contains(text(body), "may look") {
		t.Error("a paired device is told that it may only look")
	}
	if code, _, _ := other.post("/units", "tag=X2&pins=1+2"); code != http.StatusForbidden {
		t.Errorf("another device: status %d", code)
	}
	forged := func(value string) func(*http.Request) {
		return func(r *http.Request) { r.AddCookie(&http.Cookie{Name: device.Cookie, Value: value}) }
	}
	for _, value := range []string{"", "x", c.Value[:len(c.Value)-1], strings.ToLower(c.Value), l.code()} {
		if code, _, _ := other.do("POST", "/units", "tag=X2&pins=1+2", forged(value)); code != http.StatusForbidden {
			t.Errorf("the token %q: status %d", value, code)
		}
	}
	if l.has("X2") {
		t.Error("it was stored")
	}
}

// A write that does not come from a page of this address is refused, paired or
// not: without encryption a browser sends no other sign than Origin.
func TestLANOrigin(t *testing.T) {
	l := newLAN(t)
	p := l.phone()
	p.pair()
	for _, origin := range []string{"", "null", "http://elsewhere.example", "https://" + l.place, "http://" + l.addr, "http://127.0.0.2", "http://127.0.0.2:1", "http://" + l.place + ".example"} {
		code, _, _ := p.do("POST", "/units", "tag=X3&pins=1+2", func(r *http.Request) {
			r.Header.Del("Origin")
			if origin != "" {
				r.Header.Set("Origin", origin)
			}
		})
		if code != http.StatusForbidden {
			t.Errorf("origin %q: status %d", origin, code)
		}
		code, _, h := l.phone().do("POST", "/pair", "code="+url.QueryEscape(l.code()), func(r *http.Request) { r.Header.Set("Origin", origin) })
		if code != http.StatusForbidden || h.Get("Set-Cookie") != "" {
			t.Errorf("paired from %q: status %d", origin, code)
		}
	}
	if l.has("X3") {
		t.Error("it was stored")
	}
}

// A name that was pointed at the address is not answered, and neither are the
// names of the other door: what a page of another site may reach stays nothing.
func TestLANHost(t *testing.T) {
	l := newLAN(t)
	_, port, err := net.SplitHostPort(l.place)
	if err != nil {
		t.Fatal(err)
	}
	p := l.phone()
	p.pair()
	for _, host := range []string{"rebound.example", "rebound.example:" + port, "localhost:" + port, "127.0.0.1:" + port, "127.0.0.2", "127.0.0.2:1", "[::1]:" + port, "192.168.1.4:" + port, "127.0.0.2.:" + port} {
		for _, method := range []string{"GET", "POST"} {
			code, body, _ := p.do(method, "/units", "tag=X4&pins=1+2", func(r *http.Request) { r.Host = host; r.Header.Set("Origin", "http://"+host) })
			if code != http.StatusMisdirectedRequest || strings.Contains(body, "<html") {
				t.Errorf("%s, host %q: status %d", method, host, code)
			}
		}
	}
	r, err := http.NewRequestWithContext(t.Context(), "GET", l.server.URL+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Host = l.place
	if code, _, _ := l.do(r); code != http.StatusOK { // a loopback address, as every 127 is
		t.Errorf("status %d", code)
	}
	r.Host = "192.168.1.4:" + port
	if code, _, _ := l.do(r); code != http.StatusMisdirectedRequest {
		t.Errorf("status %d", code)
	}
	if l.has("X4") {
		t.Error("it was stored")
	}
}

// Guessing gets nowhere: each wrong code shuts the door for twice as long, for
// everybody, and after five the code is another.
func TestGuessing(t *testing.T) {
	l := newLAN(t)
	if !regexp.MustCompile(`^\d{4} \d{4}$`).MatchString(l.code()) {
		t.Fatalf("the code is %q", l.code())
	}
	first := l.code()
	guess := func(p *phone, code string) (int, string, time.Duration) {
		t.Helper()
		status, body, h := p.post("/pair", "code="+url.QueryEscape(code))
		wait, _ := strconv.Atoi(h.Get("Retry-After"))
		return status, text(body), time.Duration(wait) * time.Second
	}
	wrong := "0000 0000"
	if first == wrong {
		t.Fatal("choose another seed")
	}
	want := time.Second
	for n := range 12 {
		status, said, wait := guess(l.phone(), wrong)
		if status != http.StatusTooManyRequests || wait != want || !strings.Contains(said, "it is wrong") {
			t.Fatalf("guess %d: status %d, wait %v, not %v\n%s", n+1, status, wait, want, said)
		}
		// Within the pause even the right code opens nothing, from any device.
		l.pass(wait - time.Millisecond)
		if status, said, _ := guess(l.phone(), l.code()); status != http.StatusTooManyRequests || !strings.Contains(said, "none is taken for a while") {
			t.Fatalf("in the pause: status %d\n%s", status, said)
		}
		l.pass(time.Millisecond)
		want = min(2*want, time.Minute)
		if made := 1 + (n+1)/5; len(l.codes) != made {
			t.Fatalf("after %d guesses %d codes were made, not %d", n+1, len(l.codes), made)
		}
	}
	if status, _, _ := guess(l.phone(), first); status != http.StatusTooManyRequests {
		t.Error("the first code still serves")
	}
	l.pass(time.Minute)
	if said := text(l.page("/devices")); !strings.Contains(said, "Wrong codes in a row: 13.") || !strings.Contains(said, l.code()) {
		t.Errorf("the machine says\n%s", said)
	}
	for _, odd := range []string{"", " ", "-"} {
		if status, _, wait := guess(l.phone(), odd); status != http.StatusUnprocessableEntity || wait != 0 {
			t.Errorf("%q: status %d, wait %v", odd, status, wait)
		}
	}
	for _, near := range []string{l.code()[:8], l.code() + "0", strings.Repeat(l.code(), 2)} {
		if status, _, _ := guess(l.phone(), near); status != http.StatusTooManyRequests {
			t.Errorf("%q: status %d", near, status)
		}
		l.pass(time.Minute)
	}
	// As it may be typed; and it serves once.
	used := l.code()
	p := l.phone()
	if status, said, _ := guess(p, " "+strings.ReplaceAll(used, " ", "-")+" "); status != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", status, said)
	}
	if used == l.code() {
		t.Error("the code serves twice")
	}
	if status, _, wait := guess(l.phone(), used); status != http.StatusTooManyRequests || wait != time.Second {
		t.Errorf("used again: status %d, wait %v", status, wait)
	}
	if code, _, _ := p.post("/units", "tag=X5&pins=1+2"); code != http.StatusSeeOther {
		t.Errorf("status %d", code)
	}
}

// The machine itself sees the code and the devices, and parts them; after twelve
// hours a device is parted anyway, and a new start knows none.
func TestPairedForADay(t *testing.T) {
	l := newLAN(t)
	p, q := l.phone(), l.phone()
	p.pair()
	q.pair()
	page := l.page("/devices")
	checkPage(t, "/devices", page)
	for _, want := range []string{"http://" + l.place + "/", "not encrypted", "bench phone", "127.0.0.1", "09:00", "21:00", l.code()} {
		if !strings.Contains(text(page), want) {
			t.Errorf("the page does not say %q\n%s", want, text(page))
		}
	}
	if !strings.Contains(l.page("/"), `href="/devices"`) {
		t.Error("no link leads to the devices")
	}
	// A device sees neither the code nor the list, and parts nobody.
	for _, at := range []string{"/devices", "/devices/"} {
		if code, body, _ := p.get(at); code != http.StatusNotFound || strings.Contains(body, l.code()) {
			t.Errorf("%s: status %d", at, code)
		}
	}
	for _, at := range []string{"/devices/code", "/devices/2/part"} {
		if code, _, _ := p.post(at, ""); code != http.StatusNotFound {
			t.Errorf("%s: status %d", at, code)
		}
	}
	for n, want := range []int{http.StatusSeeOther, http.StatusNotFound} {
		if code, _, _ := l.post("/devices/1/part"); code != want {
			t.Errorf("part %d: status %d", n, code)
		}
	}
	if code, _, _ := p.post("/units", "tag=X6&pins=1+2"); code != http.StatusForbidden {
		t.Errorf("parted: status %d", code)
	}
	before := l.code()
	if code, _, _ := l.post("/devices/code"); code != http.StatusSeeOther || l.code() == before {
		t.Errorf("status %d, the code is still %s", code, before)
	}
	if code, body, _ := q.get("/pair"); code != http.StatusOK || !strings.Contains(text(body), "It may write until 21:00") {
		t.Errorf("status %d\n%s", code, text(body))
	}
	l.pass(12*time.Hour - time.Second)
	if code, _, _ := q.post("/units", "tag=X7&pins=1+2"); code != http.StatusSeeOther {
		t.Errorf("status %d", code)
	}
	l.pass(time.Second)
	if code, _, _ := q.post("/units", "tag=X8&pins=1+2"); code != http.StatusForbidden {
		t.Errorf("after its time: status %d", code)
	}
	if said := text(l.page("/devices")); !strings.Contains(said, "None is paired.") {
		t.Errorf("the page says\n%s", said)
	}
	if l.has("X6") || !l.has("X7") || l.has("X8") {
		t.Error("the wrong ones were stored")
	}
	// The same cookie at a server that was started anew on the same store.
	again, err := New(Config{Store: l.store, LAN: &LAN{Now: l.clock, Rand: rand.NewChaCha8([32]byte{1}), Places: []string{l.place}}})
	if err != nil {
		t.Fatal(err)
	}
	w, r := httptest.NewRecorder(), httptest.NewRequest("POST", "/units", strings.NewReader("tag=X9&pins=1+2"))
	r.Host = l.place
	r.Header.Set("Origin", "http://"+l.place)
	for _, c := range q.client.Jar.Cookies(&url.URL{Scheme: "http", Host: l.place, Path: "/"}) {
		r.AddCookie(c)
	}
	if again.Local().ServeHTTP(w, r); w.Code != http.StatusForbidden || l.has("X9") {
		t.Errorf("status %d", w.Code)
	}
}

// Without the flag the pages of the network are not there.
func TestNoLAN(t *testing.T) {
	b := newBench(t, false)
	for _, at := range []string{"/pair", "/devices"} {
		if code, _, _ := b.get(at); code != http.StatusNotFound {
			t.Errorf("%s: status %d", at, code)
		}
	}
	if strings.Contains(b.page("/"), "/devices") {
		t.Error("a link leads to the devices")
	}
}

// After pairing it goes on where it was, and never to another site.
func TestBack(t *testing.T) {
	l := newLAN(t)
	for back, want := range map[string]string{
		"/units/F1?side=over": "/units/F1?side=over", "": "/", "//elsewhere.example/": "/", "/\\elsewhere.example": "/", "http://elsewhere.example/": "/", "@elsewhere.example/": "/", ".elsewhere.example/": "/", "/pair": "/",
	} {
		code, body, h := l.phone().post("/pair", url.Values{"code": {l.code()}, "back": {back}}.Encode())
		if code != http.StatusSeeOther || h.Get("Location") != want {
			t.Errorf("%q leads to %q, status %d\n%s", back, h.Get("Location"), code, text(body))
		}
	}
}

// Only addresses of local networks are opened: RFC 1918, RFC 3927, RFC 4193.
func TestLocalAddrs(t *testing.T) {
	var all []net.Addr
	for _, s := range []string{"127.0.0.1/8", "::1/128", "fe80::1/64", "fd12:3456::7/64", "2001:db8::5/64", "192.168.1.4/24", "10.0.0.7/8", "172.20.3.4/12", "172.32.0.1/12", "203.0.113.9/24", "169.254.10.1/16", "100.64.0.1/10"} {
		ip, n, err := net.ParseCIDR(s)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, &net.IPNet{IP: ip, Mask: n.Mask})
	}
	all = append(all, &net.UnixAddr{Name: "x"})
	var got []string
	for _, a := range LocalAddrs(all) {
		got = append(got, a.String())
	}
	if want := "192.168.1.4 10.0.0.7 172.20.3.4 169.254.10.1 fd12:3456::7"; strings.Join(got, " ") != want {
		t.Errorf("%v, not %s", got, want)
	}
	if _, err := ListenLAN(t.Context(), nil, 0); err == nil {
		t.Error("it listens nowhere")
	}
	if _, err := ListenLAN(t.Context(), []netip.Addr{netip.MustParseAddr("127.0.0.2"), netip.MustParseAddr("203.0.113.9")}, 0); err == nil {
		t.Error("an address of another machine was opened")
	}
}

// The pages of the local network keep the promises of a page in the browser too,
// and a camera reads the address off the picture and off the terminal.
func TestLANPages(t *testing.T) {
	l := newLAN(t)
	l.phone().pair()
	browser, paired := chromium(t), 2
	for _, v := range []view{{"lan-phone-light", 390, 844, "light", true, true}, {"lan-desk-dark", 1280, 800, "dark", false, false}} {
		s := newScreen(t, browser, v, "http://"+l.addr)
		s.open("/devices")
		s.look("devices")
		if v.theme == "dark" {
			ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
			defer cancel()
			picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			if err != nil {
				t.Fatal(err)
			}
			if got := scanned(t, picture); got != "http://"+l.place+"/" {
				t.Errorf("the picture says %q", got)
			}
		}
		s.home = "http://" + l.place
		for _, at := range []string{"/", "/pair"} {
			s.open(at)
			s.look("look" + at)
		}
		s.open("/")
		s.fill("#tag", "X9")
		s.fill("#pins", "1 2")
		if status := s.press(`form[action="/units"] button[type=submit]`); status != "403" {
			t.Errorf("%s: status %s", v.name, status)
		}
		s.look("refused")
		s.fill("#code", l.code())
		s.press(`form[action="/pair"] button`)
		if at := s.ask("location.pathname"); at != "/" {
			t.Errorf("%s: it goes on at %s", v.name, at)
		}
		s.fill("#tag", "X"+strconv.Itoa(len(v.name)))
		s.fill("#pins", "1 2")
		if status := s.press(`form[action="/units"] button[type=submit]`); status != "200" {
			t.Errorf("%s: status %s", v.name, status)
		}
		// The next tab has the same cookies.
		if code, _, _ := l.post("/devices/" + strconv.Itoa(paired) + "/part"); code != http.StatusSeeOther {
			t.Errorf("status %d", code)
		}
		paired++
	}
	letters, err := TerminalCode("http://" + l.place + "/")
	if err != nil {
		t.Fatal(err)
	}
	if got := scanned(t, painted(t, letters)); got != "http://"+l.place+"/" {
		t.Errorf("the terminal says %q", got)
	}
}

// painted is what a terminal shows of letters that are half blocks, as a picture.
func painted(t *testing.T, letters string) []byte {
	t.Helper()
	rows := strings.Split(strings.TrimSpace(letters), "\n")
	const dot = 4
	m := image.NewGray(image.Rect(0, 0, dot*200, dot*2*len(rows)))
	for y, row := range rows {
		row = strings.TrimSuffix(strings.TrimPrefix(row, "\x1b[30;107m"), "\x1b[0m")
		for x, c := range []rune(row) {
			for half, dark := range [2]bool{c == '▀' || c == '█', c == '▄' || c == '█'} {
				shade := color.Gray{255}
				if dark {
					shade = color.Gray{}
				}
				draw.Draw(m, image.Rect(x*dot, (2*y+half)*dot, (x+1)*dot, (2*y+half+1)*dot), image.NewUniform(shade), image.Point{}, draw.Src)
			}
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// scanned is what a camera reads off a picture.
func scanned(t *testing.T, picture []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "code.png")
	if err := os.WriteFile(path, picture, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("zbarimg", "--raw", "--quiet", "-Sdisable", "-Sqrcode.enable", path).Output()
	if err != nil {
		t.Fatalf("zbarimg (package zbar-tools): %v", err)
	}
	return strings.TrimSpace(string(out))
}
