package kit

import (
	"bytes"
	"html/template"

	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
)

// Drawing makes a scene ready for a page. It is the one place that hands ready
// markup to a template: the SVG writer escapes every word itself.
func Drawing(s draw.Scene, o svg.InlineOptions) (template.HTML, error) {
	var b bytes.Buffer
	if err := svg.Inline(&b, &s, o); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil
}
