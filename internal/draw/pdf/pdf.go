// Package pdf writes scenes as the pages of a PDF file, each page as large as
// its scene. Text is text in embedded Go fonts, so it can be searched and
// copied. The same scenes give the same bytes on each run.
//
// Links are left out: they lead to pages of the program, which paper has not.
package pdf

import (
	"bytes"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"yokemate"
	"yokemate/internal/draw"
)

// Options are what a file says of itself.
type Options struct {
	Title  string
	Author string
	Lang   string    // as "en"
	Greys  bool      // no colour
	Date   time.Time // when the file says it was made; zero means 2000-01-01, so that nothing depends on a clock
}

// Write writes the pages to w. Nothing is written when a page is at fault.
func Write(w io.Writer, pages []draw.Scene, o Options) error {
	if len(pages) == 0 {
		return yokemate.Errorf(yokemate.Internal, "", "a document without pages")
	}
	for i := range pages {
		if err := pages[i].Check(); err != nil {
			return err
		}
	}
	if o.Date.IsZero() {
		o.Date = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: pages[0].W, Ht: pages[0].H}})
	f.SetCatalogSort(true)
	f.SetCreationDate(o.Date)
	f.SetModificationDate(o.Date)
	f.SetProducer("Yokemate", true)
	f.SetCreator("Yokemate", true)
	f.SetTitle(o.Title, true)
	if o.Author != "" {
		f.SetAuthor(o.Author, true)
	}
	if o.Lang != "" {
		f.SetLang(o.Lang)
	}
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	used := map[draw.Face]bool{}
	for i := range pages {
		pages[i].Walk(func(it draw.Item, _ []*draw.Group) {
			if t, ok := it.(*draw.Text); ok {
				used[t.Face] = true
			}
		})
	}
	for _, face := range []draw.Face{draw.Regular, draw.Bold, draw.Mono} {
		if used[face] {
			f.AddUTF8FontFromBytes(family(face), "", bytes.Clone(face.TTF()))
		}
	}
	theme := draw.Print
	if o.Greys {
		theme = draw.Greys
	}
	for i := range pages {
		s := &pages[i]
		f.AddPageFormat("P", fpdf.SizeType{Wd: s.W, Ht: s.H})
		s.Walk(func(it draw.Item, _ []*draw.Group) {
			switch it := it.(type) {
			case *draw.Path:
				path(f, it, theme)
			case *draw.Text:
				text(f, it, theme)
			}
		})
	}
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return &yokemate.Error{Code: yokemate.Internal, Message: "the PDF file cannot be made", Err: err}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func family(f draw.Face) string {
	switch f {
	case draw.Bold:
		return "gobold"
	case draw.Mono:
		return "gomono"
	}
	return "go"
}

func path(f *fpdf.Fpdf, p *draw.Path, theme draw.Theme) {
	how := ""
	if p.Fill != draw.None {
		c := p.Fill.RGB(theme)
		f.SetFillColor(int(c.R), int(c.G), int(c.B))
		how = "F"
	}
	if p.Stroke != draw.None {
		c := p.Stroke.RGB(theme)
		f.SetDrawColor(int(c.R), int(c.G), int(c.B))
		f.SetLineWidth(p.Width)
		f.SetLineJoinStyle("round")
		if len(p.Dash) > 0 {
			f.SetLineCapStyle("butt")
		} else {
			f.SetLineCapStyle("round")
		}
		f.SetDashPattern(p.Dash, 0)
		how += "D"
	}
	if how == "" || p.Hit {
		return
	}
	for _, g := range p.Segs {
		switch g.Op {
		case draw.Move:
			f.MoveTo(g.P[0].X, g.P[0].Y)
		case draw.Line:
			f.LineTo(g.P[0].X, g.P[0].Y)
		case draw.Cubic:
			f.CurveBezierCubicTo(g.P[0].X, g.P[0].Y, g.P[1].X, g.P[1].Y, g.P[2].X, g.P[2].Y)
		case draw.Close:
			f.ClosePath()
		}
	}
	f.DrawPath(how)
}

func text(f *fpdf.Fpdf, t *draw.Text, theme draw.Theme) {
	if strings.TrimSpace(t.S) == "" {
		return
	}
	c := t.Fill.RGB(theme)
	f.SetTextColor(int(c.R), int(c.G), int(c.B))
	f.SetFont(family(t.Face), "", 10)
	f.SetFontUnitSize(t.Size)
	x := t.X
	switch t.Anchor {
	case draw.Middle:
		x -= t.Face.Measure(t.S, t.Size) / 2
	case draw.End:
		x -= t.Face.Measure(t.S, t.Size)
	}
	if t.Up {
		f.TransformBegin()
		f.TransformRotate(90, t.X, t.Y)
		f.Text(x, t.Y, t.S)
		f.TransformEnd()
		return
	}
	f.Text(x, t.Y, t.S)
}
