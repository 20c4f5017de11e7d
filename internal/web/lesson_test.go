package web

import (
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/jba/templatecheck"

	"yokemate"
	"yokemate/internal/web/kit"
	"yokemate/internal/web/teach"
)

// The template of the page that hands the file out fits its Go type.
func TestLessonTemplate(t *testing.T) {
	_, v := teach.New(kit.New(nil, slog.New(slog.DiscardHandler)))
	if err := templatecheck.CheckHTML(v.Template, &kit.Frame[teach.Page]{}); err != nil {
		t.Error(err)
	}
}

// act taps an element, or comes to it by the tab key and presses a key.
func (s *screen) act(css, key string) {
	s.t.Helper()
	s.touchOrReach(css)
	if !s.touch {
		s.do(key+" on "+css, chromedp.KeyEvent(key))
	}
}

// lookAlone checks the page of a file by itself. It has one style, which its
// policy names by a hash, and no need of links.
func (s *screen) lookAlone(name string) {
	s.t.Helper()
	var bad []string
	for _, line := range append(strings.Split(s.ask(faults), "\n"), s.unnamed()...) {
		if line != "" && line != "a style in the page" && !strings.HasPrefix(line, "the browser tells of ") {
			bad = append(bad, line)
		}
	}
	if bad != nil {
		s.t.Errorf("%s, %s:\n%s", s.name, name, strings.Join(bad, "\n"))
	}
	s.picture(name)
}

// A teaching page taken from the bench is opened as a file, by touch and by
// keyboard, light and dark, with a script and without: a lead is moved, the
// meter guessed and read, the joint closed on the mistake.
func TestLesson(t *testing.T) {
	b := newBench(t, true)
	if page := b.page("/hookups/rope%20lights"); !strings.Contains(page, `href="/hookups/rope%20lights/teach"`) {
		t.Error("the hookup's page does not lead to its teaching page")
	}
	if page := b.page("/hookups/rope%20lights/teach"); !strings.Contains(page, `href="/hookups/rope%20lights/teach/page"`) {
		t.Error("the page does not offer the file")
	}
	code, text, head := b.get("/hookups/rope%20lights/teach/page")
	if code != 200 || head.Get("Content-Disposition") != "attachment; filename=teach-rope-lights.html" {
		t.Fatalf("status %d, %q", code, head.Get("Content-Disposition"))
	}
	path := filepath.Join(t.TempDir(), "lights.html")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	browser := chromium(t)
	for _, v := range []view{
		{"lesson-phone-light", 390, 844, "light", true, true},
		{"lesson-desk-dark", 1280, 800, "dark", false, true},
		{"lesson-phone-dark-plain", 390, 844, "dark", true, false},
		{"lesson-desk-light-plain", 1280, 800, "light", false, false},
	} {
		t.Run(v.name, func(t *testing.T) {
			s := newScreen(t, browser, v, "")
			s.do("open", chromedp.Navigate((&url.URL{Scheme: "file", Path: path}).String()))
			if n := s.ask(`String(performance.getEntriesByType('resource').length)`); n != "0" {
				t.Errorf("the file asks for %s other things", n)
			}
			s.lookAlone("start")
			if !v.script {
				s.plainLesson()
				return
			}
			s.lesson()
		})
	}
	t.Run("narrow", func(t *testing.T) {
		s := newScreen(t, browser, view{"lesson-narrow", 320, 640, "light", true, true}, "")
		s.do("open", chromedp.Navigate((&url.URL{Scheme: "file", Path: path}).String()))
		s.act("#lead-2", " ")
		s.lookAlone("narrow")
		if bad := s.ask(spaced); bad != "" {
			t.Error(bad)
		}
	})
}

// plainLesson is what is there without a script: the drawing and all numbers.
func (s *screen) plainLesson() {
	s.t.Helper()
	seen := func(css string) string {
		return fmt.Sprintf(`String([...document.querySelectorAll(%q)].filter(e => e.checkVisibility() && e.getBoundingClientRect().height > 0).length)`, css)
	}
	for _, c := range []struct{ css, want string }{{"#picture svg", "1"}, {"#play button", "0"}, {"tbody tr", "304"}, {`tr[data-k="abdcabce"]`, "2"}} {
		if got := s.ask(seen(c.css)); got != c.want {
			s.t.Errorf("%s: without a script %s of %s are seen, not %s", s.name, got, c.css, c.want)
		}
	}
}

func (s *screen) lesson() {
	s.t.Helper()
	text := func(css string) string {
		s.t.Helper()
		return strings.Join(strings.Fields(s.ask(fmt.Sprintf(`document.querySelector(%q).innerText`, css))), " ")
	}
	is := func(what, got, want string) {
		s.t.Helper()
		if got != want {
			s.t.Errorf("%s: %s is %q, not %q", s.name, what, got, want)
		}
	}
	has := func(what, got, part string) {
		s.t.Helper()
		if !strings.Contains(got, part) {
			s.t.Errorf("%s: %s is %q, and lacks %q", s.name, what, got, part)
		}
	}
	cell := func(key string, n int) string { // of the first table
		return strings.Join(strings.Fields(s.ask(fmt.Sprintf(`document.querySelector('tr[data-k="%s"]').cells[%d].textContent`, key, n))), " ")
	}
	is("covered", text("#before"), "")

	// Turn F1/A round: by its pins in the drawing where there is a finger.
	pins := []string{"#lead-2", "#lead-3"}
	if s.touch {
		pins = []string{"#pin-F1-5 .yk-hit", "#pin-F1-6 .yk-hit"}
	}
	s.act(pins[0], kb.Enter)
	has("told of the lead", text("#say"), "F1.5")
	is("held", s.ask(`document.querySelector('#lead-2').ariaPressed`), "true")
	is("a lead of the other side", s.ask(`document.querySelector('#lead-0').ariaDisabled`), "true")
	s.lookAlone("held")
	s.act(pins[1], " ")
	has("F1.5 is now", text("#lead-2"), "in joint B")
	has("F1.6 is now", text("#lead-3"), "in joint A")

	// Guess that it is wrong, and about how many volts; read.
	if s.touch {
		s.act(`input[name=right][value=no]`, " ")
	} else {
		s.reach(`input[name=right]`)
		s.do("down", chromedp.KeyEvent(kb.ArrowDown))
		s.do("down", chromedp.KeyEvent(" "))
		if s.ask(`document.querySelector('input[name=right]:checked').value`) == "yes" {
			s.do("down", chromedp.KeyEvent(kb.ArrowDown))
		}
	}
	s.fill("#volts", "28,5")
	s.act("#read", kb.Enter)
	reading := cell("abdcabce", 1)
	has("the reading", reading, "29.2 V")
	has("the meter", text("#before"), reading)
	has("told of the reading", text("#say"), "29.2 V")
	is("the guesses", text("#score"), "2 / 2")
	is("the keyboard is at", s.ask(`document.activeElement.id`), "close")
	s.lookAlone("read")

	// Close the joint on it.
	s.act("#close", kb.Enter)
	is("the verdict", text("#verdict"), cell("abdcabce", 8))
	has("the verdict", text("#verdict"), "it does harm")
	is("its mark", s.ask(`document.querySelector('#verdict b').className`), "stop")
	has("what follows", text("#follows"), cell("abdcabce", 7))
	has("what follows", text("#follows"), "The fuse may open too late.")
	has("told what follows", text("#say"), "it does harm")
	has("F1.5 is now", text("#lead-2"), "in joint B")
	s.lookAlone("closed")

	// On the low source the same mistake shows and burns nothing.
	if s.touch {
		s.act(`input[name=source][value="1"]`, " ")
	} else {
		s.reach(`input[name=source]:checked`)
		s.do("down", chromedp.KeyEvent(kb.ArrowDown))
	}
	is("covered again", text("#before"), "")
	has("under the drawing", text("#drawing"), "an isolated AC adapter stands in the place of the plug")
	s.act("#read", kb.Enter)
	has("the meter on the low source", text("#before"), "1.53 V")
	s.act("#close", kb.Enter)
	is("the verdict on the low source", text("#verdict"), "Wrong, but nothing burns")

	// A lead off its pin, and back; escape lets go.
	s.act("#home", kb.Enter)
	s.act("#lead-2", kb.Enter)
	s.act("#off", kb.Enter)
	has("F1.5 is now", text("#lead-2"), "lead is off")
	s.act("#cover", " ")
	is("the ghost is told of", s.ask(`String(document.querySelector('#ghost').hidden)`), "false")
	s.lookAlone("off")
	s.act("#lead-2", " ")
	s.act("#on", kb.Enter)
	has("F1.5 is now", text("#lead-2"), "in joint A")
	s.act("#lead-2", " ")
	s.do("escape", chromedp.KeyEvent(kb.Escape))
	is("let go", s.ask(`String(document.querySelector('#held').hidden)`), "true")

	// A lead of the other side is refused in words.
	s.act("#lead-2", " ")
	s.act("#lead-0", " ")
	has("told why not", text("#say"), "does not hold that wiring")
	has("F1.1 is still", text("#lead-0"), "in joint L")

	// However the leads are moved, the page shows the row of where they now are.
	if wrong := s.ask(wander); wrong != "" {
		s.t.Errorf("%s: %s", s.name, wrong)
	}
}

// wander presses pins and buttons by a fixed rule of no order, reads off the
// buttons where each lead is, and holds what the page shows to that row.
const wander = `(() => {
  const $ = q => document.querySelector(q), pins = [...document.querySelectorAll('button.pin')];
  const flat = e => e.textContent.replace(/\s+/g, ' ').trim();
  if (!$('#drop').hidden) $('#drop').click();
  $('#home').click();
  const names = [];
  for (const p of pins) { const n = flat(p.querySelector('.in')); if (!names.includes(n)) names.push(n); }
  let seed = 12345, moved = 0, off = 0;
  const next = n => { seed = (1103515245 * seed + 12345) % 2147483648; return Math.floor(seed / 65536) % n; };
  const rows = [...document.querySelectorAll('table[data-source="1"] tbody tr')], keys = new Set();
  for (let n = 0; n < 800; n++) {
    const b = [...pins, $('#off'), $('#on'), $('#home'), $('#deal')].filter(b => !b.hidden);
    b[next(b.length)].click();
    const key = pins.map(p => { const n = flat(p.querySelector('.in')); return names.includes(n) ? String.fromCharCode(97 + names.indexOf(n)) : '-'; }).join('');
    const row = rows.find(r => r.dataset.k === key);
    if (!row) return 'the leads stand at ' + key + ', which is no row';
    keys.add(key);
    off += key.includes('-');
    const dd = [...$('#before').querySelectorAll('dd')].map(flat), want = [...row.cells].slice(1, 1 + dd.length).map(flat);
    if (dd.length !== 3 || dd.join('|') !== want.join('|')) return key + ': the page shows ' + dd.join('|') + ', its row ' + want.join('|');
    if (!$('#picture svg')) return key + ': no drawing';
  }
  return keys.size > 40 && off > 40 ? '' : 'only ' + keys.size + ' wirings were seen, ' + off + ' times with a lead off';
})()`

// The teaching page of a rectified hookup, as a file: the rectifier is looked
// at, a slip put in it, and what is shown is its row and its own drawing; and
// back at the AC side a lead is moved as ever. On the hookup's page the same
// slip stands in sight.
func TestLessonRectified(t *testing.T) {
	b := newBench(t, true)
	h, err := b.store.Hookup(t.Context(), "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	h = h.Clone()
	h.Name = "rope lights, DC"
	h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: "bridge", Farads: 0.0047, Amps: 0.5}
	if err := b.store.PutHookup(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "dc.html")
	if err := os.WriteFile(path, []byte(b.page("/hookups/rope%20lights,%20DC/teach/page")), 0o600); err != nil {
		t.Fatal(err)
	}
	browser := chromium(t)
	for _, v := range []view{
		{"lesson-dc-phone-light", 390, 844, "light", true, true},
		{"lesson-dc-desk-dark", 1280, 800, "dark", false, true},
	} {
		t.Run(v.name, func(t *testing.T) {
			s := newScreen(t, browser, v, b.server.URL)
			s.do("open", chromedp.Navigate((&url.URL{Scheme: "file", Path: path}).String()))
			s.lookAlone("start")
			if s.touch {
				s.act(`input[name=stage][value=dc]`, " ")
			} else {
				s.reach(`input[name=stage]:checked`)
				s.do("down", chromedp.KeyEvent(kb.ArrowDown))
			}
			seen := func(what, of, want string) {
				t.Helper()
				if got := s.ask(of); got != want {
					t.Errorf("%s: %s is %q, not %q", s.name, what, got, want)
				}
			}
			seen("the AC side is hidden", `String(document.querySelector('#ac').hidden)`, "true")
			s.choose("#slip", "diode-reversed:out/1")
			const row = `const r = [...document.querySelectorAll('#behind tbody tr')].find(r => r.dataset.k === 'diode-reversed:out/1'), flat = e => e.textContent.replace(/\s+/g, ' ').trim();`
			seen("what it reads and does is its row", `(() => { `+row+`
  const shown = [...document.querySelectorAll('#dc-reads dd, #dc-follows dd')].map(flat).concat(flat(document.querySelector('#dc-verdict')));
  const cells = [...r.cells].slice(1).map(flat);
  return shown.length > 6 && shown.join('|') === cells.join('|') ? '' : shown.join('|') + ' in place of ' + cells.join('|');
})()`, "")
			seen("its drawing", `(() => { const d = [...document.querySelectorAll('#picture .diode')]; return d.length + ' ' + d.filter(g => g.querySelector('title').textContent.includes('turned')).map(g => g.id); })()`, "4 diode-out-1")
			seen("the diode is in sight", `(() => { const d = document.querySelector('#diode-out-1').getBoundingClientRect(), b = document.querySelector('#picture').getBoundingClientRect(); return String(d.left > b.left && d.right < b.right); })()`, "true")
			s.lookAlone("slip")

			// A hidden slip is read but not drawn, until it is found or missed.
			s.act("#hide", kb.Enter)
			seen("no slip is drawn", `[...document.querySelectorAll('#picture title')].filter(t => /turned|open/.test(t.textContent)).length + ' ' + document.querySelector('#dc-after').hidden`, "0 true")
			s.lookAlone("hidden")
			const guess = `(() => {
  const flat = e => e.textContent.replace(/\s+/g, ' ').trim(), shown = [...document.querySelectorAll('#dc-reads dd')].map(flat).join('|');
  const like = r => [...r.cells].slice(1, -4).map(flat).join('|') === shown, rows = [...document.querySelectorAll('#behind tbody tr')];
  return rows.filter(r => like(r) === %v)[0].dataset.k;
})()`
			s.choose("#slip", s.ask(fmt.Sprintf(guess, true)))
			s.act("#look", kb.Enter)
			seen("it is found", `document.querySelector('#found b').className + ' ' + document.querySelector('#dc-after').hidden`, "go false")
			s.act("#hide", kb.Enter)
			s.choose("#slip", s.ask(fmt.Sprintf(guess, false)))
			s.act("#look", kb.Enter)
			seen("it is missed", `document.querySelector('#found b').className`, "caution")
			s.lookAlone("missed")
			seen("what it was is drawn and read", `(() => {
  const flat = e => e.textContent.replace(/\s+/g, ' ').trim(), k = document.querySelector('#slip').value, r = [...document.querySelectorAll('#behind tbody tr')].find(r => r.dataset.k === k);
  return [...document.querySelectorAll('#dc-reads dd')].map(flat).join('|') === [...r.cells].slice(1, -4).map(flat).join('|') ? '' : k;
})()`, "")
			if s.touch {
				s.act(`input[name=stage][value=ac]`, " ")
			} else {
				s.reach(`input[name=stage]:checked`)
				s.do("up", chromedp.KeyEvent(kb.ArrowUp))
			}
			seen("no diode is left", `String(document.querySelectorAll('#picture .diode').length)`, "0")
			s.act("#lead-2", " ")
			s.act("#lead-3", " ")
			seen("the lead is moved", `document.querySelector('#lead-2').innerText.includes('in joint B') + ''`, "true")

			s.open("/hookups/rope%20lights,%20DC?slip=diode-reversed:out/1")
			s.look("slip")
			seen("the diode is in sight", `(() => { const d = document.querySelector('#h-diode-out-1').getBoundingClientRect(), b = document.querySelector('#drawing').getBoundingClientRect(); return String(d.left > b.left && d.right < b.right); })()`, "true")
		})
	}
}
