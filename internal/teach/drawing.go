package teach

import (
	"bytes"
	"encoding/json"
	"html/template"
	"strings"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
)

// drawings are all wirings drawn. Most parts of a drawing are those of many
// others, so a part is held once, and a drawing is a list of parts.
type drawings struct {
	Right  string            `json:"right"`  // key
	Places map[string]string `json:"places"` // joints by their letter
	Joined map[string]string `json:"joined"` // the same once the last joint is closed
	Parts  []string          `json:"-"`
	Open   map[string][]int  `json:"open"`
	Closed map[string][]int  `json:"closed"`
	Behind map[string][]int  `json:"behind,omitzero"` // the finished hookup, by the slip in its rectifier

	number map[string]int
}

func (l *Lesson) drawings() (*drawings, error) {
	d := &drawings{Right: l.right(), Places: map[string]string{}, Joined: map[string]string{}, Open: map[string][]int{}, Closed: map[string][]int{}, number: map[string]int{}}
	for i, name := range l.places() {
		letter := string(rune('a' + i))
		d.Places[letter], d.Joined[letter] = name, name
		if name == l.Last.Open {
			d.Joined[letter] = l.Last.Joint
		}
	}
	for i := range l.Wirings {
		key := l.Wirings[i].Key
		var err error
		if d.Open[key], err = d.add(l, l.Open(key, &l.Sources[0]), nil); err != nil {
			return nil, err
		}
		if d.Closed[key], err = d.add(l, l.Closed(key, &l.Sources[0]), nil); err != nil {
			return nil, err
		}
	}
	if l.Rectifier != nil {
		d.Behind = map[string][]int{}
		for i := range l.Rectifier.States {
			x := &l.Rectifier.States[i]
			var err error
			if d.Behind[x.Code], err = d.add(l, x.shown, x.fault); err != nil {
				return nil, err
			}
		}
	}
	return d, nil
}

// add draws a hookup, with what is wrong in it marked, and takes the drawing
// apart.
func (d *drawings) add(l *Lesson, h *yokemate.Hookup, fault *figure.Fault) ([]int, error) {
	o := figure.SchematicOptions{Options: l.opt.Figure}
	if fault != nil {
		o.Faults = []figure.Fault{*fault}
	}
	scene, err := figure.Schematic(h, l.shelf, o)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := svg.Inline(&b, &scene, svg.InlineOptions{}); err != nil {
		return nil, err
	}
	var list []int
	for _, part := range parted(b.String()) {
		n, ok := d.number[part]
		if !ok {
			n = len(d.Parts)
			d.number[part] = n
			d.Parts = append(d.Parts, part)
		}
		list = append(list, n)
	}
	return list, nil
}

// built is the drawing of the finished hookup, beside the table of its slips.
func (l *Lesson) built() (template.HTML, error) {
	scene, err := figure.Schematic(l.Rectifier.Hookup, l.shelf, figure.SchematicOptions{Options: l.opt.Figure})
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	err = svg.Inline(&b, &scene, svg.InlineOptions{Prefix: "built-"})
	return template.HTML(b.String()), err
}

// parted cuts a drawing where groups begin and end: each group without groups
// in it is one part, with all its lines.
func parted(drawing string) []string {
	var parts []string
	var held strings.Builder
	cut := func() {
		if held.Len() > 0 {
			parts = append(parts, held.String())
			held.Reset()
		}
	}
	for line := range strings.Lines(drawing) {
		opens, closes := strings.HasPrefix(line, "<g"), strings.HasPrefix(line, "</g>")
		if opens {
			cut()
		}
		held.WriteString(line)
		if closes {
			cut()
		}
	}
	cut()
	return parts
}

// markup is a drawing put together again. The SVG writer has escaped every word.
func (d *drawings) markup(list []int) template.HTML {
	var b strings.Builder
	for _, n := range list {
		b.WriteString(d.Parts[n])
	}
	return template.HTML(b.String())
}

// names are all but the parts, as the script reads them. No name ends the
// element they stand in: what could is escaped.
func (d *drawings) names() (template.JS, error) {
	b, err := json.Marshal(d)
	return template.JS(b), err
}

// parts are the parts with an empty line between them, which none has in it.
func (d *drawings) parts() template.HTML { return template.HTML(strings.Join(d.Parts, "\n")) }
