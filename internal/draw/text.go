package draw

import (
	"math"
	"regexp"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"yokemate"
)

// Face is one of the embedded fonts.
type Face uint8

const (
	Regular Face = iota
	Bold
	Mono
	faces
)

// Extent of a line of the Go fonts about its baseline [em]: what capitals and
// digits reach above it, accents left out, and what descenders reach below.
const (
	CapHeight = 0.72
	Descent   = 0.21
)

// TTF returns the font file of the face.
func (f Face) TTF() []byte {
	switch f {
	case Bold:
		return gobold.TTF
	case Mono:
		return gomono.TTF
	}
	return goregular.TTF
}

// parsed holds the three fonts, read once: they are constants of the program.
var parsed = sync.OnceValue(func() (all [faces]*sfnt.Font) {
	for f := range faces {
		p, err := sfnt.Parse(f.TTF())
		if err != nil {
			panic("draw: an embedded font cannot be read: " + err.Error())
		}
		all[f] = p
	}
	return all
})

// common holds the advance of each character below U+0500, Latin, Greek and
// Cyrillic among them, for each font [em]; a negative one is missing. Setting a
// page measures some ten thousand characters.
var common = sync.OnceValue(func() *[faces][0x500]float64 {
	var all [faces][0x500]float64
	var b sfnt.Buffer
	for f := range faces {
		for r := range rune(len(all[f])) {
			all[f][r] = -1
			if w, ok, err := f.advance(&b, r); ok && err == nil {
				all[f][r] = w
			}
		}
	}
	return &all
})

// advance is how far a character moves on [em].
func (f Face) advance(b *sfnt.Buffer, r rune) (w float64, ok bool, err error) {
	g, ok := f.glyph(b, r)
	if !ok {
		return 0, false, nil
	}
	p := parsed()[f]
	a, err := p.GlyphAdvance(b, g, fixed.I(int(p.UnitsPerEm())), font.HintingNone)
	return float64(a) / 64 / float64(p.UnitsPerEm()), true, err
}

// glyph finds the glyph of a character; ok is false when the font has none.
func (f Face) glyph(b *sfnt.Buffer, r rune) (g sfnt.GlyphIndex, ok bool) {
	g, err := parsed()[f].GlyphIndex(b, r)
	return g, err == nil && g != 0
}

// Width returns how far a run of text reaches at a size of 1 [em]. Pairs are
// not kerned. It is an error when the font lacks a character; see [Face.Fit].
func (f Face) Width(s string) (float64, error) {
	var b sfnt.Buffer
	sum := 0.0
	for _, r := range s {
		w := -1.0
		if r < 0x500 {
			w = common()[f][r]
		} else if v, ok, err := f.advance(&b, r); err != nil {
			return 0, &yokemate.Error{Code: yokemate.Internal, Message: "an embedded font cannot be measured", Err: err}
		} else if ok {
			w = v
		}
		if w < 0 {
			return 0, missing(r, s)
		}
		sum += w
	}
	return sum, nil
}

func missing(r rune, s string) error {
	return yokemate.Errorf(yokemate.Unsupported, "", "the drawing's font has no character %U, in %q", r, s).
		Mend("write it with Latin, Greek or Cyrillic letters")
}

// Fit returns s with every character that the font lacks, and every control
// character, replaced by "?", so that people's own names can always be drawn.
// A caller says the whole name in a group's title.
func (f Face) Fit(s string) string {
	var b sfnt.Buffer
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if _, ok := f.glyph(&b, r); !ok || unicode.IsControl(r) {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

// Measure is Width times size for text that is known to fit the font: a missing
// character counts as an "M", and is reported by [Scene.Check].
func (f Face) Measure(s string, size float64) float64 {
	w, err := f.Width(s)
	if err != nil {
		w, _ = f.Width(strings.Repeat("M", len([]rune(s))))
	}
	return w * size
}

// Short returns s cut to a width of at most w at the given size, with "…" for
// what was left out [mm].
func (f Face) Short(s string, size, w float64) string {
	if f.Measure(s, size) <= w {
		return s
	}
	r := []rune(s)
	for len(r) > 0 {
		r = r[:len(r)-1]
		if c := strings.TrimRight(string(r), " ") + "…"; f.Measure(c, size) <= w {
			return c
		}
	}
	return "…"
}

// Words splits a text at its spaces, and leaves a number with its unit.
func Words(s string) []string {
	var list []string
	for _, w := range strings.Fields(s) {
		if n := len(list) - 1; n >= 0 && unitForm.MatchString(w) && numberForm.MatchString(list[n]) {
			list[n] += " " + w
			continue
		}
		list = append(list, w)
	}
	return list
}

var (
	numberForm = regexp.MustCompile(`(^|[^\pL\pN])[0-9]+([.,][0-9]+)?$`)
	unitForm   = regexp.MustCompile(`^([µmkMG]?(V|A|W|Ω|VA|F|H|Hz|s)|%|°C|K|mm)\pP*$`)
)

// Wrap breaks s between [Words] into lines of at most w [mm]. A word that is
// longer by itself is broken within.
func (f Face) Wrap(s string, size, w float64) []string {
	var lines []string
	for _, para := range strings.Split(s, "\n") {
		line := ""
		for _, word := range Words(para) {
			if c := strings.TrimLeft(line+" "+word, " "); f.Measure(c, size) <= w {
				line = c
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			r := []rune(word)
			for f.Measure(string(r), size) > w && len(r) > 1 {
				n := 1
				for n < len(r)-1 && f.Measure(string(r[:n+1]), size) <= w {
					n++
				}
				lines = append(lines, string(r[:n]))
				r = r[n:]
			}
			line = string(r)
		}
		lines = append(lines, line)
	}
	return lines
}

// Outline appends to p the outlines of a run of text whose baseline starts at
// (x, y).
func (f Face) Outline(p *Pen, s string, size, x, y float64) error {
	var b sfnt.Buffer
	ft := parsed()[f]
	ppem := fixed.I(int(ft.UnitsPerEm()))
	k := size / float64(ft.UnitsPerEm()) / 64
	for _, r := range s {
		g, ok := f.glyph(&b, r)
		if !ok {
			return missing(r, s)
		}
		segs, err := ft.LoadGlyph(&b, g, ppem, nil)
		if err != nil {
			return &yokemate.Error{Code: yokemate.Internal, Message: "an embedded font cannot be drawn", Err: err}
		}
		at := func(q fixed.Point26_6) Point { return Point{x + k*float64(q.X), y + k*float64(q.Y)} }
		var cur Point
		open := false
		for _, sg := range segs {
			a := at(sg.Args[0])
			switch sg.Op {
			case sfnt.SegmentOpMoveTo:
				if open {
					p.Z()
				}
				open = true
				p.M(a.X, a.Y)
				cur = a
			case sfnt.SegmentOpLineTo:
				p.L(a.X, a.Y)
				cur = a
			case sfnt.SegmentOpQuadTo:
				e := at(sg.Args[1])
				p.C(cur.X+2*(a.X-cur.X)/3, cur.Y+2*(a.Y-cur.Y)/3, e.X+2*(a.X-e.X)/3, e.Y+2*(a.Y-e.Y)/3, e.X, e.Y)
				cur = e
			case sfnt.SegmentOpCubeTo:
				c, e := at(sg.Args[1]), at(sg.Args[2])
				p.C(a.X, a.Y, c.X, c.Y, e.X, e.Y)
				cur = e
			}
		}
		if open {
			p.Z()
		}
		adv, err := ft.GlyphAdvance(&b, g, ppem, font.HintingNone)
		if err != nil {
			return &yokemate.Error{Code: yokemate.Internal, Message: "an embedded font cannot be measured", Err: err}
		}
		x += k * float64(adv)
	}
	return nil
}

// Box returns the rectangle that the run's capitals and descenders fill.
func (t *Text) Box() Box {
	w := t.Face.Measure(t.S, t.Size)
	up, down := CapHeight*t.Size, Descent*t.Size
	off := 0.0
	switch t.Anchor {
	case Middle:
		off = -w / 2
	case End:
		off = -w
	}
	if t.Up {
		return Box{t.X - up, t.Y - off - w, t.X + down, t.Y - off}
	}
	return Box{t.X + off, t.Y - up, t.X + off + w, t.Y + down}
}

// Check reports the first thing in the scene that cannot be written: a
// character without a glyph, a length that is no number, an id or class that
// is malformed or an id that stands there twice.
func (s *Scene) Check() error {
	if !(s.W > 0 && s.H > 0) || math.IsInf(s.W, 0) || math.IsInf(s.H, 0) {
		return yokemate.Errorf(yokemate.Internal, "", "a drawing of %g mm by %g mm", s.W, s.H)
	}
	return check(s.Items, map[string]bool{})
}

func check(items []Item, ids map[string]bool) error {
	finite := func(v ...float64) bool {
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return false
			}
		}
		return true
	}
	for _, it := range items {
		switch it := it.(type) {
		case *Path:
			for _, g := range it.Segs {
				for _, p := range g.P {
					if !finite(p.X, p.Y) {
						return yokemate.Errorf(yokemate.Internal, "", "a line of a drawing ends nowhere")
					}
				}
			}
			if !finite(it.Width) || !finite(it.Dash...) {
				return yokemate.Errorf(yokemate.Internal, "", "a line of a drawing has no width")
			}
		case *Text:
			if !finite(it.X, it.Y, it.Size) {
				return yokemate.Errorf(yokemate.Internal, "", "the text %q of a drawing has no place", it.S)
			}
			if _, err := it.Face.Width(it.S); err != nil {
				return err
			}
		case *Group:
			if !plain(it.ID, "._-") || !plain(it.Class, "- ") {
				return yokemate.Errorf(yokemate.Internal, "", "a drawing has a part with id %q and class %q", it.ID, it.Class)
			}
			if it.ID != "" && ids[it.ID] {
				return yokemate.Errorf(yokemate.Internal, "", "a drawing has two parts with id %q", it.ID)
			}
			ids[it.ID] = true
			if err := check(it.Items, ids); err != nil {
				return err
			}
		}
	}
	return nil
}

// plain reports whether s holds only ASCII letters, digits and the extra characters.
func plain(s, extra string) bool {
	for _, r := range s {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(extra, r)) {
			return false
		}
	}
	return true
}
