package web

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

var shots = flag.String("shots", "", "keep what the browser shows as pictures in this folder")

// chromium starts a browser that goes nowhere but to the server under test.
func chromium(t testing.TB) context.Context {
	t.Helper()
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath("/usr/bin/chromium"), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("no-proxy-server", true), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	t.Cleanup(cancel)
	browser, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	if err := chromedp.Do(browser); err != nil {
		t.Fatal("Chromium does not start: ", err)
	}
	return browser
}

// view is how a person looks at the pages.
type view struct {
	name          string
	width, height int64
	theme         string
	touch         bool // a finger; else the keyboard, and nothing else
	script        bool
}

// screen is a browser tab of one view.
type screen struct {
	view
	t    testing.TB
	ctx  context.Context
	home string // the server's address
	n    int    // pictures taken
}

func newScreen(t testing.TB, browser context.Context, v view, home string) *screen {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil { // opens the tab; without a deadline, which would close it
		t.Fatal(err)
	}
	s := &screen{view: v, t: t, ctx: ctx, home: home}
	s.size(v.width, v.height)
	s.theming(v.theme)
	s.do("script or none", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !v.script})
		return err
	}))
	return s
}

func (s *screen) size(width, height int64) {
	s.t.Helper()
	var o []chromedp.EmulateViewportOption
	if s.touch {
		o = append(o, chromedp.EmulateTouch, chromedp.EmulateMobile)
	}
	s.do("size", chromedp.EmulateViewport(width, height, o...))
}

func (s *screen) theming(theme string) {
	s.t.Helper()
	s.do("theme", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
		return err
	}))
}

func (s *screen) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		s.t.Fatalf("%s, %s: %v", s.name, what, err)
	}
}

// try evaluates an expression that may fail while a page comes.
func (s *screen) try(js string) (string, error) {
	ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
	defer cancel()
	return chromedp.Run(ctx, chromedp.Evaluate[string](js))
}

func (s *screen) ask(js string) string {
	s.t.Helper()
	v, err := s.try(js)
	if err != nil {
		s.t.Fatalf("%s, %.200s: %v", s.name, js, err)
	}
	return v
}

// open goes to an address of the server.
func (s *screen) open(at string) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
	defer cancel()
	res, err := chromedp.RunResponse(ctx, chromedp.Navigate(s.home+at))
	if err != nil {
		s.t.Fatalf("%s, open %s: %v", s.name, at, err)
	}
	if res.Status != 200 {
		s.t.Fatalf("%s, open %s: status %d", s.name, at, res.Status)
	}
}

// turn does what brings another page, or puts other things in its place, and
// waits for that. It returns the status of the page's answer.
func (s *screen) turn(what string, steps ...chromedp.Action[chromedp.Void]) string {
	s.t.Helper()
	s.ask(`document.querySelector('main').firstElementChild.setAttribute('data-before', ''), ''`)
	s.do(what, steps...)
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		v, err := s.try(`document.readyState === 'complete' && document.querySelector('main, #main-frame-error') && !document.querySelector('main > [data-before]') ? String(performance.getEntriesByType('navigation')[0].responseStatus) : ''`)
		if err == nil && v != "" {
			return v
		}
		if time.Now().After(end) {
			s.t.Fatalf("%s, %s: the page stays, %v\n%s", s.name, what, err, s.ask(`document.querySelector('main').innerText`))
		}
	}
}

// touchOrReach makes an element the one that keys go to: by a tap, or by the tab
// key from wherever the keyboard is.
func (s *screen) touchOrReach(css string) {
	s.t.Helper()
	if s.touch {
		s.do("tap "+css, chromedp.ScrollIntoView(chromedp.CSS(css)), chromedp.Tap(chromedp.CSS(css)))
		return
	}
	s.reach(css)
}

// reach tabs to an element, forwards or backwards, and fails if that never comes
// there. It presses the key as often as there are stops between here and there,
// and looks where it came.
func (s *screen) reach(css string) {
	s.t.Helper()
	where := fmt.Sprintf(`(() => {
		const to = document.querySelector(%q), at = document.activeElement;
		if (!to) return 'none';
		if (to === at) return '0';
		const all = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex="0"]')].filter(e =>
			e === to || e === at || e.checkVisibility() && !e.disabled && !(e.type === 'radio' && !e.checked)); // of a group, the one that is chosen
		const n = all.indexOf(to) - (at && at !== document.body ? all.indexOf(at) : -1);
		return String(n || 1);
	})()`, css)
	for range 8 { // what is one stop to the browser may be several here
		said := s.ask(where)
		if said == "none" {
			s.t.Fatalf("%s: there is no %s\n%s", s.name, css, s.ask(`document.querySelector('main').innerText`))
		}
		n, err := strconv.Atoi(said)
		if err != nil {
			s.t.Fatal(err)
		}
		switch {
		case n == 0:
			return
		case n < 0:
			s.do("shift-tab", chromedp.KeyEvent(strings.Repeat(kb.Tab, -n), chromedp.KeyModifiers(chromedp.ModifierShift)))
		default:
			s.do("tab", chromedp.KeyEvent(strings.Repeat(kb.Tab, n)))
		}
	}
	s.t.Fatalf("%s: the tab key does not come to %s", s.name, css)
}

// press follows a link or presses a button, and waits for the page that comes.
func (s *screen) press(css string) string {
	s.t.Helper()
	if s.touch {
		return s.turn("tap "+css, chromedp.ScrollIntoView(chromedp.CSS(css)), chromedp.Tap(chromedp.CSS(css)))
	}
	s.reach(css)
	return s.turn("return on "+css, chromedp.KeyEvent(kb.Enter))
}

// unfold opens what is folded, if it is.
func (s *screen) unfold(css string) {
	s.t.Helper()
	open := fmt.Sprintf(`String(document.querySelector(%q).parentElement.open)`, css)
	if s.ask(open) == "true" {
		return
	}
	s.touchOrReach(css)
	if !s.touch {
		s.do("space on "+css, chromedp.KeyEvent(" "))
	}
	if s.ask(open) != "true" {
		s.t.Fatalf("%s: %s does not unfold", s.name, css)
	}
}

// fill types into a field, in the place of what is there.
func (s *screen) fill(css, text string) {
	s.t.Helper()
	s.touchOrReach(css)
	s.do("select all", chromedp.KeyEvent("a", chromedp.KeyModifiers(chromedp.ModifierCtrl)), chromedp.KeyEvent(kb.Delete))
	s.do("type", chromedp.KeyEvent(text))
	if got := s.ask(fmt.Sprintf(`document.querySelector(%q).value`, css)); got != text {
		s.t.Fatalf("%s: %s holds %q, not %q", s.name, css, got, text)
	}
}

// choose takes an entry of a list: a tap opens it on a phone, and the arrow keys
// move in it there as on a wide screen.
func (s *screen) choose(css, value string) {
	s.t.Helper()
	s.touchOrReach(css)
	steps := s.ask(fmt.Sprintf(`(() => { const e = document.querySelector(%q); return String([...e.options].findIndex(o => o.value === %q)); })()`, css, value))
	n, err := strconv.Atoi(steps)
	if err != nil || n < 0 {
		s.t.Fatalf("%s: %s has no %q", s.name, css, value)
	}
	s.do("to the first", chromedp.KeyEvent(kb.Home))
	s.do("down", chromedp.KeyEvent(strings.Repeat(kb.ArrowDown, n)))
	if s.touch {
		s.do("take it", chromedp.KeyEvent(kb.Enter))
	}
	for end := time.Now().Add(5 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		got := s.ask(fmt.Sprintf(`document.querySelector(%q).value`, css))
		if got == value {
			return
		}
		if time.Now().After(end) {
			s.t.Fatalf("%s: %s is at %q, not %q", s.name, css, got, value)
		}
	}
}

// picture keeps what is shown.
func (s *screen) picture(name string) {
	s.t.Helper()
	if *shots == "" {
		return
	}
	ctx, cancel := context.WithTimeout(s.ctx, 30*time.Second)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		s.t.Fatal(err)
	}
	s.n++
	name = strings.Trim(strings.NewReplacer("/", "-", "%20", "-", "?", "-", ":", "-", "%2F", "-", "&", "-", "=", "-", "%2C", "-", "%3A", "-").Replace(name), "-")
	if err := os.WriteFile(filepath.Join(*shots, fmt.Sprintf("%s-%02d-%.60s.png", s.name, s.n, name)), png, 0o600); err != nil {
		s.t.Fatal(err)
	}
}

// built is the program as a person runs it.
var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "yokemate")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "yokemate")
	out, err := exec.Command("go", "build", "-o", path, "yokemate/cmd/yokemate").CombinedOutput()
	if err != nil {
		return "", errors.New(string(out))
	}
	return path, nil
})

// program is the whole program serving a store, in a process of its own that can
// be killed.
type program struct {
	t    testing.TB
	file string
	addr string
	cmd  *exec.Cmd

	engine *engine // of its proof
}

// newProgram starts it on a store that is empty.
func newProgram(t testing.TB) *program {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0") // a port that is free
	if err != nil {
		t.Fatal(err)
	}
	p := &program{t: t, file: filepath.Join(t.TempDir(), "bench.db"), addr: l.Addr().String()}
	l.Close()
	p.start()
	t.Cleanup(p.kill)
	return p
}

func (p *program) start() {
	p.t.Helper()
	path, err := built()
	if err != nil {
		p.t.Fatal(err)
	}
	p.cmd = exec.Command(path, "serve", "--store", p.file, "--addr", p.addr)
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		p.t.Fatal(err)
	}
	p.cmd.Stderr = logTo{p.t}
	if err := p.cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || !strings.Contains(line, p.addr) {
		p.t.Fatalf("it says %q, %v", line, err)
	}
}

// kill ends it as a loss of power would.
func (p *program) kill() {
	p.t.Helper()
	if p.cmd == nil {
		return
	}
	if err := p.cmd.Process.Kill(); err != nil {
		p.t.Error(err)
	}
	p.cmd.Wait() // says that it was killed
	p.cmd = nil
}

// die kills it and starts it anew on the same store.
func (p *program) die() { p.t.Helper(); p.kill(); p.start() }
