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

// finger is the width on the screen of a millimetre of a drawing [rem]: with it
// the 10 mm square about a pin is 44 px wide, enough for a finger.
const finger = 44.0 / 10 / 18

// Drawing makes a scene ready for a page. It is the one place that hands ready
// markup to a template: the SVG writer escapes every word itself.
func Drawing(s draw.Scene, o svg.InlineOptions) (template.HTML, error) {
	// Its least size is a class, in steps: the policy lets no style into a page.
	step := func(mm float64) string { return strconv.Itoa(int(min(80, 4*math.Ceil(mm*finger/4)))) }
	o.Class = strings.TrimSpace(o.Class + " least-" + step(s.W) + " tall-" + step(s.H))
	var b bytes.Buffer
	if err := svg.Inline(&b, &s, o); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}
