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
	// Its least width is a class, in steps: the policy lets no style into a page.
	o.Class = strings.TrimSpace(o.Class + " least-" + strconv.Itoa(int(min(80, 4*math.Ceil(s.W*finger/4)))))
	var b bytes.Buffer
	if err := svg.Inline(&b, &s, o); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}
