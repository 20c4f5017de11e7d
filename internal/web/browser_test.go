package web

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

var shots = flag.String("shots", "", "keep what the browser shows as pictures in this folder")

// screen is a browser tab of one size and theme.
type screen struct {
	t     *testing.T
	ctx   context.Context
	name  string
	touch bool
	n     int // pictures taken
}

func (s *screen) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		s.t.Fatalf("%s: %v", what, err)
	}
}

// follow does what loads another page, and waits for it.
func (s *screen) follow(what string, steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	res, err := chromedp.RunResponse(ctx, steps...)
	if err != nil {
		s.t.Fatalf("%s: %v", what, err)
	}
	if res.Status != 200 {
		s.t.Fatalf("%s: status %d", what, res.Status)
	}
}

func (s *screen) ask(js string) string {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[string](js))
	if err != nil {
		s.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// press taps or, on a screen without touch, focuses and presses return.
func (s *screen) press(css string) {
	s.t.Helper()
	if s.touch {
		s.follow("tap "+css, chromedp.ScrollIntoView(chromedp.CSS(css)), chromedp.Tap(chromedp.CSS(css)))
		return
	}
	s.do("focus "+css, chromedp.Focus(chromedp.CSS(css)))
	s.follow("return on "+css, chromedp.KeyEvent(kb.Enter))
}

// faults finds, on the page that is shown, what can be pressed and is below 44
// px, text below the contrast of WCAG 2.2 (4.5, or 3 where it is large), and
// content that is wider than the screen.
const faults = `(() => {
  const out = [];
  if (document.documentElement.scrollWidth > innerWidth) out.push('the page is ' + document.documentElement.scrollWidth + ' px wide');
  const seen = e => e.checkVisibility({visibilityProperty: true}) && e.getBoundingClientRect().width > 1;
  for (const e of document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')) {
    if (!seen(e) || e.closest('svg') || e.classList.contains('skip')) continue;
    const r = (e.type === 'checkbox' ? e.closest('label') : e).getBoundingClientRect();
    if (r.height < 43.9 || r.width < 43.9) out.push(e.tagName + ' "' + (e.textContent || e.name).trim().slice(0, 30) + '" is ' + r.width.toFixed(0) + ' by ' + r.height.toFixed(0) + ' px');
  }
  const rgb = c => (c.match(/[\d.]+/g) || []).map(Number);
  const lum = c => { const f = x => (x /= 255) <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]); };
  const ground = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length === 3 || c[3] === 1) return c; } return null; };
  let checked = 0;
  for (const e of document.querySelectorAll('body *')) {
    if (!seen(e) || e.closest('svg') || e.classList.contains('skip')) continue;
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    const st = getComputedStyle(e), bg = ground(e), fg = rgb(st.color);
    if (!bg) { out.push('no ground under "' + e.textContent.trim().slice(0, 30) + '"'); continue; }
    const a = lum(fg), b = lum(bg), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const px = parseFloat(st.fontSize), large = px >= 24 || px >= 18.66 && parseInt(st.fontWeight) >= 700;
    if (ratio < (large ? 3 : 4.5)) out.push('contrast ' + ratio.toFixed(2) + ' of "' + e.textContent.trim().slice(0, 30) + '"');
    checked++;
  }
  if (checked < 5) out.push('only ' + checked + ' texts were seen');
  return out.join('\n');
})()`

// look checks the page that is shown and keeps a picture of it.
func (s *screen) look(name string) {
	s.t.Helper()
	if bad := s.ask(faults); bad != "" {
		s.t.Errorf("%s, %s:\n%s", s.name, name, bad)
	}
	if *shots == "" {
		return
	}
	ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		s.t.Fatal(err)
	}
	s.n++
	if err := os.WriteFile(filepath.Join(*shots, fmt.Sprintf("%s-%02d-%s.png", s.name, s.n, name)), png, 0o600); err != nil {
		s.t.Fatal(err)
	}
}

// fill types into a field.
func (s *screen) fill(css, text string) {
	s.t.Helper()
	s.do("type into "+css, chromedp.ScrollIntoView(chromedp.CSS(css)), chromedp.SendKeys(chromedp.CSS(css), text))
}

// The main job in a browser: from the shelf to a need, an offer, its hookup, a
// slip, and the first steps of a proof, by touch on a phone and by keyboard on
// a wide screen, light and dark, the program dying between steps.
func TestBrowser(t *testing.T) {
	alloc, cancel := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath("/usr/bin/chromium"), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("no-proxy-server", true), chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	defer cancel()
	browser, cancel := chromedp.NewContext(alloc)
	defer cancel()
	if err := chromedp.Do(browser); err != nil {
		t.Fatal("Chromium does not start: ", err)
	}
	rest := []string{"/files", "/proofs", "/hookups", "/proofs/1", "/units/H3?side=over", "/needs/pier%20lantern", "/hookups/rope%20lights/limits", "/hookups/odd%20pair?mains=high", "/hookups/rope%20lights?slip=open:F2.5", "/hookups/rope%20lights?slip=shorted-turn:F2/P"}
	for _, c := range []struct {
		name          string
		width, height int64
		theme         string
		touch         bool
		rest          []string
	}{
		{"phone-light", 390, 844, "light", true, rest},
		{"desk-light", 1280, 800, "light", false, nil},
		{"phone-dark", 390, 844, "dark", true, nil},
		{"desk-dark", 1280, 800, "dark", false, rest},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, true)
			ctx, cancel := chromedp.NewContext(browser)
			defer cancel()
			if err := chromedp.Do(ctx); err != nil { // opens the tab; without a deadline, which would close it
				t.Fatal(err)
			}
			s := &screen{t: t, ctx: ctx, name: c.name, touch: c.touch}
			size := []chromedp.EmulateViewportOption{}
			if c.touch {
				size = append(size, chromedp.EmulateTouch, chromedp.EmulateMobile)
			}
			s.do("size", chromedp.EmulateViewport(c.width, c.height, size...), chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
				_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: c.theme}}})
				return err
			}))
			s.follow("open", chromedp.Navigate(b.server.URL+"/"))
			s.look("shelf")
			s.press(`.card a[href="/units/F1"]`)
			s.look("unit")
			s.press(`nav a[href="/needs"]`)
			s.look("needs")
			s.fill("#name", "workshop clock")
			s.fill("#volts", "12")
			s.fill("#amps", "1,8")
			s.press(`form[action="/needs"] button`)
			s.look("offers")
			s.press(`form[action$="/take"] button`)
			s.look("hookup")
			hookup := s.ask("location.pathname")
			s.do("choose a slip", chromedp.SetValue(chromedp.CSS("#slip"), s.ask(`[...document.querySelectorAll('#slip option')].find(o => o.value.startsWith('reversed:') && o.value.endsWith('/A')).value`)))
			s.press(`form:has(#slip) button`)
			s.look("slip")
			s.press(`.whatif a`)
			s.press(`.drawing a[href*="lead="]`)
			s.look("lead")
			s.press(`.drawing a[href*="with="]`)
			s.look("moved")
			s.press(`.whatif a`)
			if got := s.ask("location.pathname"); got != hookup {
				t.Errorf("back leads to %s, not %s", got, hookup)
			}
			s.press(`form[action$="/proofs"] button`)
			at := s.ask("location.pathname")
			var id int64
			if _, err := fmt.Sscanf(at, "/proofs/%d", &id); err != nil {
				t.Fatal(err)
			}
			s.look("first")
			s.press(`a.button.main`)
			for n := range 3 {
				s.look(fmt.Sprintf("step-%d", n+1))
				_, value := b.right(id)
				s.fill("#value", value)
				b.restart()
				s.press(`form.answer button[type=submit]`)
				if got := len(b.answers(id)); got != n+1 {
					t.Fatalf("%d answers after step %d", got, n+1)
				}
			}
			// A mistaken lead, then word that it was mended, then a reload.
			s.fill("#value", "0")
			s.press(`form.answer button[type=submit]`)
			s.look("mistake")
			before := s.ask("document.querySelector('main').innerText")
			s.follow("reload", chromedp.Reload())
			if after := s.ask("document.querySelector('main').innerText"); after != before {
				t.Errorf("after a reload the page says otherwise:\n%s", after)
			}
			s.follow("the stopped proof", chromedp.Navigate(b.server.URL+"/proofs/2"))
			s.look("stopped")
			s.press(`.where a[href$="/record"]`)
			s.look("record")
			if !strings.Contains(s.ask("document.title"), "Record") {
				t.Error("no record")
			}
			// The rest of the pages, looked at alone.
			for _, at := range c.rest {
				s.follow(at, chromedp.Navigate(b.server.URL+at))
				s.look(strings.Trim(strings.NewReplacer("/", "-", "%20", "-", "?", "-", ":", "-").Replace(at), "-"))
			}
		})
	}
}
