package pdf

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"yokemate"
	"yokemate/internal/draw"
)

func pages() []draw.Scene {
	var all []draw.Scene
	for _, size := range [][2]float64{{210, 297}, {215.9, 279.4}, {60, 40}} {
		s := draw.Scene{W: size[0], H: size[1], Title: "page"}
		s.Add(
			draw.Rect(5, 5, 20, 10, 2).Both(draw.Panel, draw.Ink, 0.4),
			draw.Polyline(0, 0, size[0], size[1]).Stroke(draw.NeutralIEC, 0.8, 2, 1),
			&draw.Text{X: 30, Y: 20, S: "µ Ω ° ± − Größe", Size: 4, Fill: draw.Ink},
			&draw.Text{X: 30, Y: 26, S: "bold word", Face: draw.Bold, Size: 4, Anchor: draw.Middle, Fill: draw.Ink},
			&draw.Text{X: 30, Y: 32, S: "mono word", Face: draw.Mono, Size: 4, Anchor: draw.End, Fill: draw.StopState},
			&draw.Text{X: 5, Y: 36, S: "upwards", Size: 3, Up: true, Fill: draw.Ink},
		)
		all = append(all, s)
	}
	return all
}

// run calls one of poppler's tools on the document. They read PDF with code of
// their own, so they are what our writing is held to.
func run(t *testing.T, doc []byte, tool string, args ...string) string {
	t.Helper()
	f := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(f, doc, 0o644); err != nil {
		t.Fatal(err)
	}
	var errs bytes.Buffer
	c := exec.Command(tool, append(args, f, "-")[:len(args)+map[string]int{"pdftotext": 2, "pdfinfo": 1, "pdffonts": 1}[tool]]...)
	c.Stderr = &errs
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s: %v: %s (package poppler-utils)", tool, err, errs.String())
	}
	if errs.Len() > 0 {
		t.Errorf("%s complains: %s", tool, errs.String())
	}
	return string(out)
}

func TestWrite(t *testing.T) {
	var a, b bytes.Buffer
	o := Options{Title: "Blatt µΩ", Lang: "en", Date: time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC)}
	if err := Write(&a, pages(), o); err != nil {
		t.Fatal(err)
	}
	if err := Write(&b, pages(), o); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two runs differ")
	}
	text := run(t, a.Bytes(), "pdftotext", "-layout")
	if n := strings.Count(text, "\f"); n != 3 {
		t.Errorf("%d pages, want 3", n)
	}
	for _, w := range []string{"µ Ω ° ± − Größe", "bold word", "mono word"} {
		if n := strings.Count(text, w); n != 3 {
			t.Errorf("%q stands there %d times, want 3: %s", w, n, text)
		}
	}
	info := run(t, a.Bytes(), "pdfinfo", "-l", "3")
	// Sizes in points of 1/72 in: 60 mm is 170.08 pt, A4 595.28 by 841.89.
	for _, w := range []string{"Pages:           3", "595.28 x 841.89", "612 x 792", "170.08 x 113.39", "Blatt µΩ"} {
		if !strings.Contains(info, w) {
			t.Errorf("no %q in %s", w, info)
		}
	}
	fonts := run(t, a.Bytes(), "pdffonts")
	// Columns: embedded, a subset by its name (fpdf does not rename), with a map to Unicode.
	if n := strings.Count(fonts, "Identity-H       yes no  yes"); n != 3 {
		t.Errorf("%d fonts embedded with a map to Unicode, want 3: %s", n, fonts)
	}
	// The three fonts are 150 to 170 kB each: only the used glyphs may be in there.
	if a.Len() > 100e3 {
		t.Errorf("%d bytes", a.Len())
	}
}

func TestRefuses(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, nil, Options{}); err == nil {
		t.Error("a document without pages")
	}
	p := pages()
	p[1].Add(&draw.Text{S: "✓", Size: 3})
	if err := Write(&b, p, Options{}); yokemate.ErrorCode(err) != yokemate.Unsupported || b.Len() > 0 {
		t.Errorf("a missing glyph: %v, %d bytes written", err, b.Len())
	}
}
