package svg

import (
	"encoding/xml"
	"io"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"yokemate/internal/draw"
)

func scene(words string) *draw.Scene {
	s := &draw.Scene{W: 50.00049, H: 30, Title: "a <title> & more"}
	s.Add(&draw.Group{ID: "g.1", Class: "joint", Title: words, Link: "?a=1&b=2", Items: []draw.Item{
		draw.Polyline(0.12345, -0.0004, 10, 20).Stroke(draw.LiveIEC, 0.45, 1, 2),
		draw.Circle(5, 5, 2).Both(draw.Paper, draw.Ink, 0.3),
		&draw.Text{X: 1, Y: 10, S: draw.Regular.Fit(words), Size: 3, Anchor: draw.Middle, Fill: draw.Ink},
		&draw.Text{X: 1, Y: 10, S: "up", Face: draw.Mono, Size: 3, Up: true, Fill: draw.Ink},
		&draw.Path{Segs: draw.Rect(0, 0, 5, 5, 0).Fill(draw.None).Segs, Hit: true},
	}})
	return s
}

func wellFormed(t interface{ Fatal(...any) }, s string) (texts []string) {
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return texts
		}
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := tok.(xml.CharData); ok && strings.TrimSpace(string(c)) != "" {
			texts = append(texts, string(c))
		}
	}
}

// No style attribute, no style or script element: a strict policy allows all of it.
func TestPolicy(t *testing.T) {
	var a, b strings.Builder
	if err := Inline(&a, scene("µ Ω ° ± −"), InlineOptions{Prefix: "x-", Class: "wide"}); err != nil {
		t.Fatal(err)
	}
	if err := Document(&b, scene("µ Ω ° ± −"), draw.Print); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{a.String(), b.String()} {
		wellFormed(t, s)
		if m := regexp.MustCompile(`(?i)\sstyle=|<style|<script|\son[a-z]+=|javascript:`).FindString(s); m != "" {
			t.Errorf("%q in %s", m, s)
		}
	}
	for _, want := range []string{`id="x-g.1"`, `class="yk-drawing wide"`, `href="?a=1&amp;b=2"`, `viewBox="0 0 50 30"`, `M0.123 0L10 20`, `class="f-paper s-ink"`, `>µ Ω ° ± −</text>`, `textLength="`} {
		if !strings.Contains(a.String(), want) {
			t.Errorf("no %s in the inline drawing", want)
		}
	}
	for _, no := range []string{"<text", "yk-hit", "href", "aria-"} {
		if strings.Contains(b.String(), no) {
			t.Errorf("%s in the drawing that stands alone", no)
		}
	}
	for _, want := range []string{`width="50mm"`, `<title>µ Ω ° ± −</title><path d="M`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %s in the drawing that stands alone", want)
		}
	}
}

// Whatever people call their things, the drawing is well-formed XML that says
// the name, and the same on each run.
func TestEscape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringMatching(`[a-zA-Z<>&"'µ=]{1,20}`).Draw(t, "words")
		for _, write := range []func(io.Writer, *draw.Scene) error{
			func(w io.Writer, s *draw.Scene) error { return Inline(w, s, InlineOptions{}) },
			func(w io.Writer, s *draw.Scene) error { return Document(w, s, draw.Dark) },
		} {
			var a, b strings.Builder
			if err := write(&a, scene(words)); err != nil {
				t.Fatal(err)
			}
			found := false
			for _, s := range wellFormed(t, a.String()) {
				found = found || s == words
			}
			if !found {
				t.Fatalf("%q is not in %s", words, a.String())
			}
			if err := write(&b, scene(words)); err != nil || a.String() != b.String() {
				t.Fatal("two runs differ", err)
			}
		}
	})
}

func TestEscapeControls(t *testing.T) {
	s := scene("x")
	s.Title = "a\x00b\x1f\uffff\xff"
	var a strings.Builder
	if err := Inline(&a, s, InlineOptions{}); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, a.String())
}

func TestRefuses(t *testing.T) {
	s := scene("x")
	s.Add(&draw.Text{S: "✓", Size: 3, Fill: draw.Ink})
	var b strings.Builder
	if Inline(&b, s, InlineOptions{}) == nil || Document(&b, s, draw.Light) == nil || b.Len() > 0 {
		t.Error("a glyph that the font lacks was drawn")
	}
}

func TestStylesheet(t *testing.T) {
	css := Stylesheet()
	for _, r := range draw.Roles() {
		if n := strings.Count(css, ".s-"+r.String()+"{"); n != 4 {
			t.Errorf("role %s has %d rules, want light, dark twice and print", r, n)
		}
	}
}

func TestDiff(t *testing.T) {
	a := `<path d="M1.0004 2L-3 4"/>`
	for b, same := range map[string]bool{
		a:                             true,
		`<path d="M1.002 2L-3 4"/>`:   true,
		`<path d="M1.003 2L-3 4"/>`:   false,
		`<path d="M1.0004 2L3 4"/>`:   false,
		`<path d="M1.0004 2L-3 4Z"/>`: false,
		`<path d="M1.0004 2C-3 4"/>`:  false,
		`<path d="M1.0004 2L-3"/>`:    false,
		``:                            false,
	} {
		if got := Diff(b, a, 0.002) == ""; got != same {
			t.Errorf("Diff(%q) same: %v", b, got)
		}
	}
}
