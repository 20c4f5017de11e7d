// Package svg writes a scene as SVG: [Inline] for a page of ours, [Document]
// to stand alone.
//
// It uses presentation attributes and classes only, never a style attribute, so
// that it works under a content-security policy of style-src 'self'. Lengths
// are rounded to 0.001 mm.
package svg

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"

	"yokemate/internal/draw"
)

// InlineOptions are settings of an inline drawing.
type InlineOptions struct {
	Prefix string // put before every id, where a page has several drawings
	Class  string // further class of the svg element
}

// Inline writes the scene as an svg element for a page whose stylesheet holds
// [Stylesheet]. Text is text, in the page's Go fonts; each run is held to its
// measured length, so that another font breaks nothing.
func Inline(w io.Writer, s *draw.Scene, o InlineOptions) error {
	if err := s.Check(); err != nil {
		return err
	}
	p := printer{prefix: o.Prefix}
	class := "yk-drawing"
	if o.Class != "" {
		class += " " + o.Class
	}
	fmt.Fprintf(&p.b, `<svg xmlns="http://www.w3.org/2000/svg" class="%s" viewBox="0 0 %s %s" role="group" font-family="Go, sans-serif"`, escape(class), num(s.W), num(s.H))
	if s.Title != "" {
		fmt.Fprintf(&p.b, ` aria-label="%s"`, escape(s.Title))
	}
	p.b.WriteString(">\n")
	if err := p.items(s.Items); err != nil {
		return err
	}
	p.b.WriteString("</svg>\n")
	_, err := w.Write(p.b.Bytes())
	return err
}

// Document writes the scene as a file of its own in one theme: sizes in
// millimetres, colours as numbers, text as outlines with the words in a title.
func Document(w io.Writer, s *draw.Scene, t draw.Theme) error {
	if err := s.Check(); err != nil {
		return err
	}
	p := printer{alone: true, theme: t}
	fmt.Fprintf(&p.b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"+
		`<svg xmlns="http://www.w3.org/2000/svg" width="%[1]smm" height="%[2]smm" viewBox="0 0 %[1]s %[2]s">`+"\n", num(s.W), num(s.H))
	if s.Title != "" {
		fmt.Fprintf(&p.b, "<title>%s</title>\n", escape(s.Title))
	}
	fmt.Fprintf(&p.b, `<rect width="%s" height="%s" fill="%s"/>`+"\n", num(s.W), num(s.H), p.colour(draw.Paper))
	if err := p.items(s.Items); err != nil {
		return err
	}
	p.b.WriteString("</svg>\n")
	_, err := w.Write(p.b.Bytes())
	return err
}

// Stylesheet returns the rules that give every role its colour, light and
// dark. A page may force one of them with data-theme on its root element.
func Stylesheet() string {
	var b strings.Builder
	rules := func(scope string, t draw.Theme) {
		for _, r := range draw.Roles() {
			fmt.Fprintf(&b, "%s.s-%s{stroke:%s}%s.f-%s{fill:%s}\n", scope, r, hex(r.RGB(t)), scope, r, hex(r.RGB(t)))
		}
	}
	rules("", draw.Light)
	b.WriteString("@media (prefers-color-scheme:dark){\n")
	rules(":root:not([data-theme=light]) ", draw.Dark)
	b.WriteString("}\n")
	rules(":root[data-theme=dark] ", draw.Dark)
	b.WriteString("@media print{\n")
	rules(":root ", draw.Print)
	b.WriteString("}\n")
	return b.String()
}

type printer struct {
	b      bytes.Buffer
	prefix string
	alone  bool
	theme  draw.Theme
}

func (p *printer) items(items []draw.Item) error {
	for _, it := range items {
		switch it := it.(type) {
		case *draw.Path:
			p.path(it)
		case *draw.Text:
			if err := p.text(it); err != nil {
				return err
			}
		case *draw.Group:
			if err := p.group(it); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *printer) group(g *draw.Group) error {
	tag := "g"
	if g.Link != "" && !p.alone {
		tag = "a"
		fmt.Fprintf(&p.b, `<a href="%s"`, escape(g.Link))
	} else {
		p.b.WriteString("<g")
	}
	if g.ID != "" {
		fmt.Fprintf(&p.b, ` id="%s"`, p.prefix+g.ID)
	}
	if g.Class != "" {
		fmt.Fprintf(&p.b, ` class="%s"`, g.Class)
	}
	if g.Title != "" && !p.alone && tag == "g" {
		p.b.WriteString(` role="img"`) // named by its title
	}
	p.b.WriteString(">")
	if g.Title != "" {
		fmt.Fprintf(&p.b, "<title>%s</title>", escape(g.Title))
	}
	p.b.WriteString("\n")
	if err := p.items(g.Items); err != nil {
		return err
	}
	fmt.Fprintf(&p.b, "</%s>\n", tag)
	return nil
}

func (p *printer) path(q *draw.Path) {
	if q.Hit {
		if !p.alone {
			fmt.Fprintf(&p.b, `<path class="yk-hit" d="%s" fill="none" pointer-events="all"/>`+"\n", data(q.Segs))
		}
		return
	}
	fmt.Fprintf(&p.b, `<path d="%s"`, data(q.Segs))
	p.paint("fill", q.Fill)
	if q.Stroke != draw.None {
		p.paint("stroke", q.Stroke)
		fmt.Fprintf(&p.b, ` stroke-width="%s" stroke-linejoin="round" stroke-linecap="%s"`, num(q.Width), cap(q))
		if len(q.Dash) > 0 {
			var d []string
			for _, x := range q.Dash {
				d = append(d, num(x))
			}
			fmt.Fprintf(&p.b, ` stroke-dasharray="%s"`, strings.Join(d, " "))
		}
	}
	if !p.alone {
		var c []string
		if q.Fill != draw.None {
			c = append(c, "f-"+q.Fill.String())
		}
		if q.Stroke != draw.None {
			c = append(c, "s-"+q.Stroke.String())
		}
		fmt.Fprintf(&p.b, ` class="%s"`, strings.Join(c, " "))
	}
	p.b.WriteString("/>\n")
}

// cap is the shape of a line's ends: round ones would close the gaps of dashes.
func cap(q *draw.Path) string {
	if len(q.Dash) > 0 {
		return "butt"
	}
	return "round"
}

// paint writes a colour attribute. On a page the class overrules it; it serves
// where the stylesheet is missing.
func (p *printer) paint(attr string, r draw.Role) {
	if r == draw.None {
		fmt.Fprintf(&p.b, ` %s="none"`, attr)
		return
	}
	fmt.Fprintf(&p.b, ` %s="%s"`, attr, p.colour(r))
}

func (p *printer) colour(r draw.Role) string { return hex(r.RGB(p.theme)) }

func (p *printer) text(t *draw.Text) error {
	if strings.TrimSpace(t.S) == "" {
		return nil
	}
	w := t.Face.Measure(t.S, t.Size)
	if p.alone {
		x := t.X
		switch t.Anchor {
		case draw.Middle:
			x -= w / 2
		case draw.End:
			x -= w
		}
		pen := &draw.Pen{}
		if err := t.Face.Outline(pen, t.S, t.Size, x, t.Y); err != nil {
			return err
		}
		q := pen.Fill(t.Fill)
		if t.Up {
			turn(q, t.X, t.Y)
		}
		fmt.Fprintf(&p.b, `<g><title>%s</title><path d="%s" fill="%s"/></g>`+"\n", escape(t.S), data(q.Segs), p.colour(t.Fill))
		return nil
	}
	fmt.Fprintf(&p.b, `<text x="%s" y="%s" font-size="%s" class="%s f-%s"`, num(t.X), num(t.Y), num(t.Size), faceClass(t.Face), t.Fill)
	switch t.Face {
	case draw.Bold:
		p.b.WriteString(` font-weight="700"`)
	case draw.Mono:
		p.b.WriteString(` font-family="'Go Mono', monospace"`)
	}
	p.paint("fill", t.Fill)
	switch t.Anchor {
	case draw.Middle:
		p.b.WriteString(` text-anchor="middle"`)
	case draw.End:
		p.b.WriteString(` text-anchor="end"`)
	}
	if len([]rune(t.S)) > 1 {
		fmt.Fprintf(&p.b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(w))
	}
	if t.Up {
		fmt.Fprintf(&p.b, ` transform="rotate(-90 %s %s)"`, num(t.X), num(t.Y))
	}
	fmt.Fprintf(&p.b, ">%s</text>\n", escape(t.S))
	return nil
}

func faceClass(f draw.Face) string {
	switch f {
	case draw.Bold:
		return "t-bold"
	case draw.Mono:
		return "t-mono"
	}
	return "t-regular"
}

// turn rotates a path by a quarter turn to the left about (x, y).
func turn(q *draw.Path, x, y float64) {
	for i := range q.Segs {
		for j, s := range q.Segs[i].P {
			q.Segs[i].P[j] = draw.Point{X: x + (s.Y - y), Y: y - (s.X - x)}
		}
	}
}

func data(segs []draw.Seg) string {
	var b strings.Builder
	pt := func(p draw.Point) {
		b.WriteString(num(p.X))
		b.WriteByte(' ')
		b.WriteString(num(p.Y))
	}
	for _, g := range segs {
		switch g.Op {
		case draw.Move:
			b.WriteByte('M')
			pt(g.P[0])
		case draw.Line:
			b.WriteByte('L')
			pt(g.P[0])
		case draw.Cubic:
			b.WriteByte('C')
			pt(g.P[0])
			b.WriteByte(' ')
			pt(g.P[1])
			b.WriteByte(' ')
			pt(g.P[2])
		case draw.Close:
			b.WriteByte('Z')
		}
	}
	return b.String()
}

// num writes a length rounded to 0.001 mm with the fewest digits.
func num(v float64) string {
	v = math.Round(v*1000) / 1000
	if v == 0 {
		return "0" // a negative zero too
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func hex(c draw.RGB) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;")

// escape makes text safe inside an element or a quoted attribute. Characters
// that XML 1.0 does not allow are left out.
func escape(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' {
			return ' '
		}
		if unicode.IsControl(r) || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return escaper.Replace(s)
}
