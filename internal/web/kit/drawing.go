package kit

import (
	"bytes"
	"html/template"
	"math"
	"strconv"
	"strings"

	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
)

// The width on the screen of a millimetre of a drawing, at least [rem]. With the
// first, the 10 mm square about a pin is 44 px wide, enough for a finger; with
// the second, where nothing can be pressed, small letters are 10 px high.
const (
	finger  = 44.0 / 10 / 18
	legible = 3.4 / 18
)

// Drawing makes a scene ready for a page. It is the one place that hands ready
// markup to a template: the SVG writer escapes every word itself.
func Drawing(s draw.Scene, o svg.InlineOptions) (template.HTML, error) {
	var b bytes.Buffer
	if err := svg.Inline(&b, &s, o); err != nil {
		return "", err
	}
	scale := legible
	if bytes.Contains(b.Bytes(), []byte("<a ")) {
		scale = finger
	}
	// The least size is a class, in steps: the policy lets no style into a page.
	step := func(mm float64) string { return strconv.Itoa(int(min(80, 4*math.Ceil(mm*scale/4)))) }
	sized := `class="least-` + step(s.W) + " tall-" + step(s.H) + " "
	return template.HTML(strings.Replace(b.String(), `class="`, sized, 1)), nil
}
