package figure

import (
	"math"

	"yokemate"
	"yokemate/internal/draw"
)

// Badge draws a level as a shape with its word: a red octagon with a bar for
// stop, a yellow triangle with an exclamation mark for caution, a green circle
// with a tick for go, a blue square with an i for information. The colours and
// what they mean are those of IEC 60073; a shape and a word always go with
// them, as that standard asks. The shapes are our choice.
func Badge(l yokemate.Level, o Options) draw.Scene {
	word := map[yokemate.Level]string{yokemate.Stop: "STOP", yokemate.Caution: "CAUTION", yokemate.Go: "GO"}[l]
	if word == "" {
		word = "INFO"
	}
	word = o.say(word)
	const h = 8.0
	g := &draw.Group{Class: "badge", Title: word, Items: BadgeMark(l, h/2, h/2, h)}
	const size = 4.6
	g.Add(text(h+2, h/2+draw.CapHeight*size/2, word, draw.Bold, size, draw.Start, draw.Ink))
	s := draw.Scene{W: h + 3 + draw.Bold.Measure(word, size), H: h, Title: word}
	s.Add(g)
	return s
}

// BadgeMark is the shape of a badge alone, h high about (x, y), for use beside
// words that say the same.
func BadgeMark(l yokemate.Level, x, y, h float64) []draw.Item {
	k := h / 8
	at := func(xy ...float64) *draw.Pen {
		for i := range xy {
			xy[i] *= k
			if i%2 == 0 {
				xy[i] += x
			} else {
				xy[i] += y
			}
		}
		return draw.Polyline(xy...)
	}
	line := func(p *draw.Pen, r draw.Role) draw.Item { return p.Stroke(r, 1.1*k) }
	switch l {
	case yokemate.Stop:
		var xy []float64
		for i := range 8 {
			a := math.Pi/8 + math.Pi/4*float64(i)
			xy = append(xy, 3.9*math.Cos(a), 3.9*math.Sin(a))
		}
		return []draw.Item{at(xy...).Z().Both(draw.StopState, draw.Ink, 0.35*k), line(at(-2, 0, 2, 0), draw.OnState)}
	case yokemate.Caution:
		return []draw.Item{at(0, -3.6, 3.9, 3.3, -3.9, 3.3).Z().Both(draw.CautionState, draw.Ink, 0.35*k),
			line(at(0, -1.2, 0, 0.9), draw.OnCaution), draw.Circle(x, y+2.2*k, 0.6*k).Fill(draw.OnCaution)}
	case yokemate.Go:
		return []draw.Item{draw.Circle(x, y, 3.7*k).Both(draw.GoState, draw.Ink, 0.35*k), line(at(-1.8, 0.1, -0.5, 1.5, 2, -1.4), draw.OnState)}
	}
	return []draw.Item{draw.Rect(x-3.5*k, y-3.5*k, 7*k, 7*k, 0.8*k).Both(draw.InfoState, draw.Ink, 0.35*k),
		line(at(0, -0.4, 0, 2), draw.OnState), draw.Circle(x, y-1.9*k, 0.65*k).Fill(draw.OnState)}
}
