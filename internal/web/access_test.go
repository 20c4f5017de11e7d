package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// helpers are functions that the checks in the page share. Luminance and contrast
// are those of WCAG 2.2 (relative luminance, contrast ratio).
const helpers = `
const seen = e => e.checkVisibility({visibilityProperty: true, opacityProperty: true}) && e.getBoundingClientRect().width > 1;
const words = e => (e.getAttribute('aria-label') || e.textContent || e.name || '').trim().replace(/\s+/g, ' ').slice(0, 40);
const what = e => e.tagName.toLowerCase() + (e.id ? '#' + e.id : '') + ' "' + words(e) + '"';
const rgb = c => { const n = (c.match(/[\d.]+/g) || []).map(Number); return c.startsWith('color(srgb') ? [255 * n[0], 255 * n[1], 255 * n[2], n[3] ?? 1] : [n[0], n[1], n[2], n[3] ?? 1]; };
const lum = c => { const f = x => (x /= 255) <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]); };
const ratio = (a, b) => { const x = lum(a), y = lum(b); return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05); };
const ground = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c[3] === 1) return c; } return null; };
const pressed = 'a[href], button, input:not([type=hidden]), select, textarea, summary';
`

// faults finds what is wrong with the page that is shown, by the numbers of
// WCAG 2.2: 1.3.1, 1.4.1 to 1.4.13, 2.4.2 to 2.4.11, 2.5.3, 2.5.8, 3.1.1, 4.1.2.
// Targets are held to 44 px, as 2.5.5 (AAA) would have it.
const faults = `(() => {` + helpers + `
  const out = [];
  // 1.4.10: nothing is wider than the screen. A phone's window grows with what is.
  if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
    const wide = [...document.querySelectorAll('main *, header *, footer *')].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest('svg, .scroll, .drawing')).pop();
    out.push('the page is ' + document.documentElement.scrollWidth + ' px wide, of ' + document.documentElement.clientWidth + ': ' + (wide ? what(wide) : ''));
  }
  // 2.5.8: targets.
  for (const e of document.querySelectorAll(pressed)) {
    if (!seen(e) || e.classList.contains('skip') || e.closest('svg')) continue;
    const r = (/checkbox|radio/.test(e.type) && e.closest('label') || e).getBoundingClientRect();
    if (r.height < 43.9 || r.width < 43.9) out.push(what(e) + ' is ' + r.width.toFixed(0) + ' by ' + r.height.toFixed(0) + ' px');
  }
  for (const e of document.querySelectorAll('svg a[href]')) {
    const r = (e.querySelector('.yk-hit') || e).getBoundingClientRect();
    if (Math.min(r.height, r.width) < 43.9) out.push('in the drawing, ' + what(e) + ' is ' + r.width.toFixed(0) + ' by ' + r.height.toFixed(0) + ' px');
  }
  // 1.4.3: text.
  let checked = 0;
  for (const e of document.querySelectorAll('body *')) {
    if (!seen(e) || e.closest('svg') || e.classList.contains('skip')) continue;
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    const st = getComputedStyle(e), bg = ground(e), fg = rgb(st.color);
    if (!bg) { out.push('no ground under ' + what(e)); continue; }
    const px = parseFloat(st.fontSize), large = px >= 24 || px >= 18.66 && parseInt(st.fontWeight) >= 700;
    if (fg[3] < 1 || ratio(fg, bg) < (large ? 3 : 4.5)) out.push('contrast ' + ratio(fg, bg).toFixed(2) + ' of ' + what(e));
    if (px < 12) out.push(what(e) + ' is ' + px + ' px high');
    checked++;
  }
  if (checked < 5) out.push('only ' + checked + ' texts were seen');
  for (const e of document.querySelectorAll('svg text')) {
    if (!seen(e)) continue;
    const bg = ground(e.closest('svg')), fg = rgb(getComputedStyle(e).fill);
    if (bg && fg.length > 2 && ratio(fg, bg) < 3) out.push('contrast ' + ratio(fg, bg).toFixed(2) + ' in the drawing of ' + what(e));
  }
  // 1.4.11: the edge of what is filled in or pressed, or its ground.
  for (const e of document.querySelectorAll('input:not([type=hidden]):not([type=checkbox]):not([type=radio]):not([type=file]), select, textarea, button')) {
    if (!seen(e)) continue;
    const st = getComputedStyle(e), bg = ground(e.parentElement), own = rgb(st.backgroundColor);
    const edge = parseFloat(st.borderTopWidth) > 0 ? ratio(rgb(st.borderTopColor), bg) : 1, fill = own[3] === 1 ? ratio(own, bg) : 1;
    if (Math.max(edge, fill) < 3) out.push('the edge of ' + what(e) + ' has contrast ' + edge.toFixed(2));
  }
  // 1.3.1, 2.4.6: headings; 2.4.2: title; 3.1.1: language; 1.4.4: zoom is left free.
  let last = 0;
  for (const e of document.querySelectorAll('h1, h2, h3, h4, h5, h6')) {
    const n = +e.tagName[1];
    if (n > last + 1) out.push(what(e) + ' follows a heading of level ' + last);
    if (!words(e)) out.push('an empty heading');
    last = n;
  }
  if (document.querySelectorAll('h1').length !== 1) out.push(document.querySelectorAll('h1').length + ' first headings');
  if (!document.title.trim()) out.push('no title');
  if (!/^[a-z]{2}(-[A-Z]{2})?$/.test(document.documentElement.lang)) out.push('the language is "' + document.documentElement.lang + '"');
  if (/user-scalable|maximum-scale/.test(document.querySelector('meta[name=viewport]').content)) out.push('it cannot be zoomed');
  if (document.querySelectorAll('main').length !== 1) out.push(document.querySelectorAll('main').length + ' main parts');
  const skip = document.querySelector('body > a');
  if (!skip || !document.querySelector(skip.getAttribute('href'))) out.push('nothing skips to the page');
  // 3.3.2, 2.5.3: what is filled in has a label that is seen and is part of its name.
  for (const e of document.querySelectorAll('input:not([type=hidden]), select, textarea')) {
    if (seen(e) && ![...e.labels].some(l => seen(l) && l.textContent.trim())) out.push(what(e) + ' has no label to see');
  }
  for (const e of document.querySelectorAll('a[aria-label], button[aria-label]')) {
    const t = e.textContent.trim().replace(/\s+/g, ' ');
    if (t && !e.closest('svg') && !e.getAttribute('aria-label').includes(t)) out.push(what(e) + ' is shown as "' + t + '"');
  }
  // 4.1.3: what went wrong and what was done is told without being looked for.
  for (const e of document.querySelectorAll('.trouble, .held, .whatif')) if (!e.closest('form') && !e.closest('[role=alert], [role=status]')) out.push(what(e) + ' is no status');
  // 2.1.1: what scrolls by itself can be scrolled by keys, and has a name.
  for (const e of document.querySelectorAll('body *')) {
    if (!/auto|scroll/.test(getComputedStyle(e).overflowX) || e.scrollWidth <= e.clientWidth || /^(TEXTAREA|SELECT|INPUT)$/.test(e.tagName)) continue;
    if (e.tabIndex < 0 || !e.getAttribute('aria-label') && !e.getAttribute('aria-labelledby')) out.push(what(e) + ' scrolls, and no key comes there');
  }
  // 1.3.1: tables.
  for (const e of document.querySelectorAll('table')) if (!e.caption || e.querySelector('th:not([scope])') || !e.querySelector('th')) out.push(what(e) + ' lacks heads');
  // 2.2.2, 2.3.3: nothing moves by itself.
  if (document.getAnimations().length) out.push('something moves');
  if (document.querySelector('[autofocus], [tabindex]:not([tabindex="0"]):not([tabindex="-1"])')) out.push('the order of the keys is tampered with');
  if (document.querySelector('[style], style:not([nonce])')) out.push('a style in the page');
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id), twice = ids.find((x, i) => ids.indexOf(x) !== i);
  if (twice) out.push('two have the id ' + twice);
  return [...new Set(out)].slice(0, 12).join('\n');
})()`

// spaced finds what is cut off when letters, words, lines and paragraphs stand as
// far apart as 1.4.12 has it.
const spaced = `(() => {` + helpers + `
  const out = [];
  for (const e of document.querySelectorAll('body, body *')) {
    if (e.closest('svg')) continue;
    e.style.setProperty('line-height', '1.5', 'important');
    e.style.setProperty('letter-spacing', '0.12em', 'important');
    e.style.setProperty('word-spacing', '0.16em', 'important');
    if (e.tagName === 'P') e.style.setProperty('margin-bottom', '2em', 'important');
  }
  if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
    const wide = [...document.querySelectorAll('main *, header *, footer *')].filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest('svg, .scroll, .drawing')).pop();
    out.push('spaced, the page is ' + document.documentElement.scrollWidth + ' px wide: ' + (wide ? what(wide) : ''));
  }
  for (const e of document.querySelectorAll('button, a, label, summary, h1, h2, h3, p, li, td, th, dt, dd')) {
    const st = getComputedStyle(e);
    if (seen(e) && !e.closest('svg') && !e.classList.contains('unseen') && st.overflow !== 'visible' && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)) out.push('spaced, ' + what(e) + ' is cut off');
  }
  return out.slice(0, 8).join('\n');
})()`

// keyed says where the keyboard is, and whether that is to be seen: 2.4.7, and
// 1.4.11 for its mark.
const keyed = `(() => {` + helpers + `
  const e = document.activeElement;
  if (!e || e === document.body) return JSON.stringify({});
  const at = [...document.querySelectorAll('*')].indexOf(e), st = getComputedStyle(e);
  let mark = parseFloat(st.outlineWidth) >= 2 && st.outlineStyle !== 'none' ? ratio(rgb(st.outlineColor), ground(e.parentElement)) : 0;
  const hit = e.querySelector('.yk-hit');
  if (hit) { const h = getComputedStyle(hit); if (parseFloat(h.strokeWidth) > 0 && h.stroke !== 'none') mark = ratio(rgb(h.stroke), ground(e.closest('svg'))); }
  const r = e.getBoundingClientRect();
  return JSON.stringify({at, mark, what: what(e), inside: r.bottom > 0 && r.top < innerHeight});
})()`

// reachable lists where the keyboard should come, in the order of the page.
const reachable = `(() => {` + helpers + `
  const all = [...document.querySelectorAll('*')];
  const stop = e => e.type !== 'radio' || e.checked || !document.querySelector('input[type=radio][name="' + e.name + '"]:checked') && document.querySelector('input[type=radio][name="' + e.name + '"]') === e; // a group is one stop
  return JSON.stringify(all.flatMap((e, i) => (e.matches(pressed) || e.tabIndex === 0 && e.hasAttribute('tabindex')) && !e.disabled && e.tabIndex >= 0 && stop(e) && e.checkVisibility({visibilityProperty: true}) ? [{at: i, what: what(e)}] : []));
})()`

// named are the roles that mean nothing without a name: 4.1.2.
var named = []string{"link", "button", "textbox", "searchbox", "combobox", "listbox", "checkbox", "radio", "spinbutton", "slider", "image", "img", "graphics-document", "table", "region", "group", "figure", "navigation", "form", "heading", "MenuListPopup", "DisclosureTriangle"}

// unnamed asks the browser itself for the names of all that is on the page.
func (s *screen) unnamed() []string {
	s.t.Helper()
	var bad []string
	s.do("names", chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		tree, err := cdp.Call(ctx, t, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
		if err != nil {
			return err
		}
		text := func(v *accessibility.Value) (s string) {
			if v != nil {
				json.Unmarshal(v.Value, &s) // what is no text has no name
			}
			return s
		}
		links := 0
		for _, n := range tree.Nodes {
			role, name := text(n.Role), strings.TrimSpace(text(n.Name))
			if n.Ignored {
				continue
			}
			if role == "link" {
				links++
			}
			if slices.Contains(named, role) && name == "" && role != "MenuListPopup" && (role != "group" && role != "figure" && role != "form" && role != "region") {
				bad = append(bad, "a "+role+" has no name")
			}
		}
		if links < 5 {
			bad = append(bad, fmt.Sprintf("the browser tells of %d links only", links))
		}
		return nil
	}))
	return bad
}

// look checks the page that is shown.
func (s *screen) look(name string) {
	s.t.Helper()
	if bad := s.ask(faults); bad != "" {
		s.t.Errorf("%s, %s:\n%s", s.name, name, bad)
	}
	for _, bad := range s.unnamed() {
		s.t.Errorf("%s, %s: %s", s.name, name, bad)
	}
	s.picture(name)
}

// tabs goes through the page by the tab key alone: it comes everywhere, in the
// order of the page, is seen wherever it is, and comes out again.
func (s *screen) tabs(name string) {
	s.t.Helper()
	type place struct {
		At     int
		Mark   float64
		What   string
		Inside bool
	}
	var want []place
	if err := json.Unmarshal([]byte(s.ask(reachable)), &want); err != nil {
		s.t.Fatal(err)
	}
	for i, w := range want {
		s.do("tab", chromedp.KeyEvent(kb.Tab))
		var at place
		if err := json.Unmarshal([]byte(s.ask(keyed)), &at); err != nil {
			s.t.Fatal(err)
		}
		if at.At != w.At {
			s.t.Errorf("%s, %s: after %d tabs the keyboard is at %s, not at %s", s.name, name, i+1, at.What, w.What)
			return
		}
		if at.Mark < 3 || !at.Inside {
			s.t.Errorf("%s, %s: the keyboard is not seen at %s: contrast %.2f, inside the window: %v", s.name, name, at.What, at.Mark, at.Inside)
		}
	}
	s.do("tab", chromedp.KeyEvent(kb.Tab))
	var at place
	if err := json.Unmarshal([]byte(s.ask(keyed)), &at); err != nil {
		s.t.Fatal(err)
	}
	if at.What != "" && at.At != want[0].At {
		s.t.Errorf("%s, %s: the keyboard does not come out of the page, but to %s", s.name, name, at.What)
	}
}

// few picks so many pages of each shape.
func few(found []visit, most int) []string {
	shapes := map[string][]string{}
	for _, v := range found {
		if v.page != "" {
			shapes[shape(v.at)] = append(shapes[shape(v.at)], v.at)
		}
	}
	var list []string
	for _, k := range slices.Sorted(maps.Keys(shapes)) {
		list = append(list, shapes[k][:min(most, len(shapes[k]))]...)
	}
	return list
}

// Every page of the demo's bench, and of an empty one, is held to WCAG 2.2 AA in
// the browser itself: light and dark, with a script and without, on a phone, a
// narrow screen and a wide one. A test run with -short looks at one page of each
// shape; any other, at three with a script.
func TestAccess(t *testing.T) {
	most := 3
	if testing.Short() {
		most = 1
	}
	b := newBench(t, true)
	// A stopped proof, one at its first step, and one after a mistake show more.
	b.startProof("rope lights")
	at, id := b.startProof("pier lantern")
	page := b.step(at, id)
	_, value := b.right(id)
	if code, _, body := b.post(at+"/readings", "count", hidden(t, page, at+"/readings", "count"), "step", hidden(t, page, at+"/readings", "step"), "value", value, "why", "to see the page"); code != 303 {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	found := b.crawl(most + 1)
	pages := few(found, most)
	empty := newBench(t, false)
	bare := few(empty.crawl(2), 1)
	browser := chromium(t)
	for _, v := range []view{
		{"phone-light", 390, 844, "light", true, true},
		{"phone-dark-plain", 390, 844, "dark", true, false},
		{"desk-dark", 1280, 800, "dark", false, true},
		{"desk-light-plain", 1280, 800, "light", false, false},
	} {
		t.Run(v.name, func(t *testing.T) {
			s := newScreen(t, browser, v, b.server.URL)
			titles := map[string]string{}
			these := pages
			if !v.script { // the other two views have the same colours and widths
				these = few(found, 1)
			}
			for _, at := range these {
				s.open(at)
				s.look(at)
				if title, other := s.ask("document.title"), titles[s.ask("document.title")]; other != "" && strings.Split(other, "?")[0] != strings.Split(at, "?")[0] {
					t.Errorf("%s and %s have the title %q", at, other, title)
				} else {
					titles[title] = at
				}
			}
			s.home = empty.server.URL
			for _, at := range bare {
				s.open(at)
				s.look("empty" + at)
			}
		})
	}
	t.Run("narrow", func(t *testing.T) { // 320 px, which is 1280 px at four times the size: 1.4.10
		s := newScreen(t, browser, view{"narrow", 320, 640, "light", true, true}, b.server.URL)
		for _, at := range pages {
			s.open(at)
			if bad := s.ask(faults); bad != "" {
				t.Errorf("%s at 320 px:\n%s", at, bad)
			}
			if bad := s.ask(spaced); bad != "" {
				t.Errorf("%s at 320 px:\n%s", at, bad)
			}
		}
	})
	t.Run("keys", func(t *testing.T) {
		for _, v := range []view{{"keys-light", 1280, 800, "light", false, true}, {"keys-dark", 1280, 800, "dark", false, false}} {
			s := newScreen(t, browser, v, b.server.URL)
			for _, at := range few(found, 1) {
				s.open(at)
				s.tabs(at)
			}
		}
	})
}

// Each check finds the fault that it is there for, in a page that has no other.
func TestFaultsAreFound(t *testing.T) {
	var shown string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		io.WriteString(w, shown)
	}))
	defer server.Close()
	const frame = `<!DOCTYPE html><html lang="en"><head><title>A page</title><meta name="viewport" content="width=device-width"><style nonce="x">
		body { background: #fff; color: #000; font: 18px sans-serif; margin: 0 } a, button, input { display: inline-block; min-width: 44px; min-height: 44px; border: 2px solid #555; font: inherit; margin: 4px }
		:focus-visible { outline: 3px solid #808 } /* STYLE */</style></head><body><a href="#main">Skip</a><p>One</p><p>Two</p><p>Three</p><p>Four</p><a href="/a">A</a><a href="/b">B</a><a href="/c">C</a><a href="/d">D</a><main id="main"><h1>Head</h1><!-- HERE --></main></body></html>`
	s := newScreen(t, chromium(t), view{"faults", 390, 844, "light", false, true}, server.URL)
	found := func() string {
		return s.ask(faults) + "\n" + strings.Join(s.unnamed(), "\n")
	}
	shown = frame
	s.open("/")
	if bad := strings.TrimSpace(found()); bad != "" {
		t.Errorf("a page without faults:\n%s", bad)
	}
	for want, part := range map[string]string{
		"px wide, of 390":       `<p><span class="big">wide</span></p><style nonce="x">.big { display: inline-block; width: 900px }</style>`,
		"by 20 px":              `<a class="low" href="/x">x</a><style nonce="x">.low { min-height: 0 !important; height: 16px; border-width: 2px }</style>`,
		"contrast 4.48 of":      `<p class="pale">pale words</p><style nonce="x">.pale { color: #777 }</style>`,
		"contrast 1.00 of":      `<p class="none">no words</p><style nonce="x">.none { color: #fff }</style>`,
		"is 10 px high":         `<p class="tiny">tiny</p><style nonce="x">.tiny { font-size: 10px }</style>`,
		"in the drawing of":     `<svg width="99" height="50" role="img" aria-label="x"><text x="5" y="20" fill="#bbb">pale</text></svg>`,
		"in the drawing, a":     `<svg width="99" height="50" role="img" aria-label="x"><a href="/x" aria-label="x"><rect class="yk-hit" width="20" height="20"/></a></svg>`,
		"the edge of":           `<button class="flat">Flat</button><style nonce="x">.flat { border-color: #ddd; background: #eee }</style>`,
		"heading of level 1":    `<h3>Three</h3>`,
		"an empty heading":      `<h2></h2>`,
		"2 first headings":      `<h1>Again</h1>`,
		"has no label to see":   `<input name="n" aria-label="n">`,
		"is shown as":           `<button aria-label="Send">Go</button>`,
		"is no status":          `<div class="trouble">wrong</div>`,
		"no key comes there":    `<div class="box"><p class="long">long</p></div><style nonce="x">.box { overflow-x: auto; width: 50px } .long { width: 300px }</style>`,
		"lacks heads":           `<table><caption>T</caption><tr><td>1</td></tr></table>`,
		"something moves":       `<p class="spin">spin</p><style nonce="x">@keyframes k { to { opacity: 0.9 } } .spin { animation: k 1s infinite }</style>`,
		"keys is tampered with": `<button tabindex="5">Five</button>`,
		"a style in the page":   `<p style="margin: 1px">styled</p>`,
		"two have the id":       `<p id="twin">a</p><p id="twin">b</p>`,
		"a button has no name":  `<button></button>`,
		"a link has no name":    `<a href="/x"></a>`,
		"a image has no name":   `<img src="data:image/gif;base64,R0lGODlhAQABAAAAACwAAAAAAQABAAA=">`,
		"a textbox has no name": `<input>`,
		"no ground under":       "",
		"no title":              "",
		"the language is":       "",
		"it cannot be zoomed":   "",
		"nothing skips":         "",
		"main parts":            "",
	} {
		shown = strings.Replace(frame, "<!-- HERE -->", part, 1)
		for from, to := range map[string][2]string{
			"no ground under":     {"background: #fff", "background: #fff0"},
			"no title":            {"<title>A page</title>", ""},
			"the language is":     {` lang="en"`, ""},
			"it cannot be zoomed": {"width=device-width", "width=device-width, maximum-scale=1"},
			"nothing skips":       {`href="#main"`, `href="#else"`},
			"main parts":          {"</main>", "</main><main></main>"},
		} {
			if from == want {
				shown = strings.Replace(shown, to[0], to[1], 1)
			}
		}
		s.open("/")
		if bad := found(); !strings.Contains(bad, want) {
			t.Errorf("it does not say %q of %s, but\n%s", want, part, bad)
		}
	}
	shown = strings.Replace(frame, "<!-- HERE -->", `<p class="cut">some words that fill it</p><style nonce="x">.cut { overflow: hidden; white-space: nowrap; width: max-content; max-width: 190px }</style>`, 1)
	s.open("/")
	if bad := s.ask(spaced); !strings.Contains(bad, "is cut off") {
		t.Errorf("it finds nothing cut off: %s", bad)
	}
	// The keyboard: a mark too faint, and a place it never comes to.
	for want, part := range map[string]string{
		"the keyboard is not seen": `<button>Here</button><style nonce="x">button:focus-visible { outline: 1px solid #eee !important }</style>`,
		"the keyboard is at":       `<button id="a">First</button><button id="b">Second</button><script>document.getElementById('a').addEventListener('focus', () => document.getElementById('b').focus())</script>`,
	} {
		shown = strings.Replace(frame, "<!-- HERE -->", part, 1)
		s.open("/")
		heard := &listener{TB: t}
		deaf := *s
		deaf.t = heard
		deaf.tabs("/")
		if !strings.Contains(strings.Join(heard.said, "\n"), want) {
			t.Errorf("it does not say %q of %s, but %q", want, part, heard.said)
		}
	}
}

// listener keeps what a check says instead of failing.
type listener struct {
	testing.TB
	said []string
}

func (l *listener) Helper() {}
func (l *listener) Errorf(format string, a ...any) {
	l.said = append(l.said, fmt.Sprintf(format, a...))
}
