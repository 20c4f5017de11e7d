package web

import (
	"html"
	"net/http"
	"strings"
	"testing"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/switching"
)

// rows checks that a page holds every cell of the tables.
func rows(t *testing.T, at, page string, tables []say.Table) {
	t.Helper()
	cells := map[string]bool{}
	for _, e := range parse(t, at, page) {
		if e.name == "td" || e.name == "th" {
			cells[e.text.String()] = true
		}
	}
	n := 0
	for _, x := range tables {
		for _, r := range x.Rows {
			for _, c := range r {
				if c != "" && !cells[c] {
					t.Errorf("%s: no cell says %q", at, c)
				}
				n++
			}
		}
	}
	if n < 8 {
		t.Errorf("%s: only %d cells were looked for", at, n)
	}
}

// TestInTime: the three questions of the page are answered with the numbers of
// the engine, in the words of the command line, and drawn.
func TestInTime(t *testing.T) {
	b := newBench(t, true)
	h, err := b.store.Hookup(t.Context(), "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	f := network.Compile(s.Only(h))
	if !strings.Contains(b.page("/hookups/rope%20lights"), "/hookups/rope%20lights/time") {
		t.Error("the hookup's page does not lead there")
	}
	var w say.Words
	const base = "/hookups/rope%20lights/time"

	waves, err := switching.Steady(f, h, switching.WaveOptions{Of: []string{"volts out"}})
	if err != nil {
		t.Fatal(err)
	}
	at := base + "?ask=waves&mains=nominal&of=volts+out"
	page := b.page(at)
	checkPage(t, at, page)
	rows(t, at, page, w.WaveTables(waves))
	if n := strings.Count(page, "<svg"); n != 1 {
		t.Errorf("%d drawings of one wave", n)
	}

	on, err := switching.On(f, h, switching.OnOptions{Mains: yokemate.High})
	if err != nil {
		t.Fatal(err)
	}
	at = base + "?ask=on&mains=high&degrees=&left="
	page = b.page(at)
	checkPage(t, at, page)
	rows(t, at, page, w.SwitchOnTables(on))
	if said := text(page); !strings.Contains(said, w.SwitchOn(h, on)) || !strings.Contains(said, on.Fuses[0].Why) {
		t.Errorf("the page says\n%s", said)
	}
	if n := strings.Count(page, "<svg"); n != 2 {
		t.Errorf("%d drawings of a switch-on", n)
	}

	all, err := switching.NewFaults(f, h)
	if err != nil {
		t.Fatal(err)
	}
	r, err := all.Follow("reversed:F2/A", switching.FaultOptions{})
	if err != nil {
		t.Fatal(err)
	}
	at = base + "?ask=fault&mains=nominal&slip=reversed:F2/A"
	page = b.page(at)
	checkPage(t, at, page)
	rows(t, at, page, w.FaultTables(r))
	said := html.UnescapeString(text(page))
	for _, want := range []string{w.FaultLead(r), r.Protects, "Nothing here is to be wired.", w.Event(r.Event).Word} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(page, "<svg"); n != 2 {
		t.Errorf("%d drawings of a fault", n)
	}
	checkPage(t, "whole", b.page(base+"?ask=fault&slip=shorted-turn:F1/A&whole=yes&cold=yes"))

	for bad, want := range map[string]string{
		"?ask=on&degrees=noon":         "The point on the wave",
		"?ask=on&degrees=700":          "360 degrees",
		"?ask=on&left=3":               "core keeps no more than its rated flux",
		"?ask=waves&of=amps+nowhere":   "his hookup has no",
		"?ask=fault&slip=reversed:Z/A": "his hookup has no slip",
		"?ask=fault":                   "his hookup has no slip",
	} {
		code, body, _ := b.get(base + bad)
		if code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", bad, code)
		}
		checkPage(t, bad, body)
		if !strings.Contains(html.UnescapeString(text(body)), want) {
			t.Errorf("%s: the page does not say %q", bad, want)
		}
	}
	for _, bad := range []string{"?ask=why", "?mains=middle"} {
		if code, _, _ := b.get(base + bad); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", bad, code)
		}
	}
	if code, _, _ := b.get("/hookups/none/time"); code != http.StatusNotFound {
		t.Errorf("status %d", code)
	}
}
