package lang

import (
	"bytes"
	"io"
	"slices"
	"strings"

	"golang.org/x/net/html"
)

// shown are the attributes that a reader meets. A script's words stand in
// attributes that begin with data-say.
var shown = map[string]bool{
	"aria-label": true, "aria-description": true, "aria-valuetext": true, "aria-roledescription": true,
	"alt": true, "label": true, "placeholder": true, "title": true,
}

// untouched are elements whose text is no sentence of ours: codes, what a user
// typed, and what a browser runs.
var untouched = map[string]bool{"code": true, "script": true, "style": true, "textarea": true}

// HTML writes a page in the language: its texts, the attributes that are
// shown, the words of its buttons and drawings, and its lang. An element with
// translate="no" stays as it is, with all that is in it.
func (l *Language) HTML(w io.Writer, page io.Reader) error {
	if l.Plain() {
		_, err := io.Copy(w, page)
		return err
	}
	var b bytes.Buffer
	p := passage{z: html.NewTokenizer(page), out: &b, tag: l.Tag, say: l.Text, figure: l.figure}
	if err := p.run(); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// Texts calls f with each text of a page that [Language.HTML] would look up.
func Texts(page io.Reader, f func(text string)) error {
	p := passage{z: html.NewTokenizer(page), out: &bytes.Buffer{}, tag: English.Tag, figure: English.figure, say: func(s string) string {
		f(s)
		return s
	}}
	return p.run()
}

// passage is a page on its way from one language to another.
type passage struct {
	z   *html.Tokenizer
	out *bytes.Buffer
	tag string // of the language
	say func(string) string

	figure func(string) (string, bool) // of a number where no name can stand
	cell   bool                        // the text of a table's cell comes next
	axes   bool                        // within the axes of a chart

	held  []byte // the tag of a drawing's text, until its words are known
	skip  string // the element that stays as it is
	depth int    // how many of its name are open
}

func (p *passage) run() error {
	for {
		kind := p.z.Next()
		raw := bytes.Clone(p.z.Raw()) // what is asked for next may change it
		if kind != html.TextToken {
			p.release()
			p.cell = false
		}
		switch kind {
		case html.ErrorToken:
			if err := p.z.Err(); err != io.EOF {
				return err
			}
			return nil
		case html.TextToken:
			p.text(raw)
			continue
		case html.StartTagToken, html.SelfClosingTagToken:
			raw = p.open(raw, kind == html.StartTagToken)
		case html.EndTagToken:
			name, _ := p.z.TagName()
			if string(name) == p.skip {
				if p.depth--; p.depth == 0 {
					p.skip = ""
				}
			}
			p.axes = p.axes && string(name) != "g"
		}
		p.out.Write(raw)
	}
}

// release writes a tag that was held back.
func (p *passage) release() {
	p.out.Write(p.held)
	p.held = nil
}

// text writes a text in the language.
func (p *passage) text(raw []byte) {
	if p.skip != "" || len(bytes.TrimSpace(raw)) == 0 {
		p.release()
		p.out.Write(raw)
		return
	}
	english := string(p.z.Text())
	said := ""
	if f, ok := p.figure(english); ok && (p.cell || p.axes) {
		said = f
	} else {
		said = p.say(english)
	}
	if said == english {
		p.release()
		p.out.Write(raw)
		return
	}
	if p.held != nil { // the English words' length is not these words' length
		p.held = without(without(p.held, "textLength"), "lengthAdjust")
		p.release()
	}
	p.out.WriteString(html.EscapeString(said))
}

// open returns a tag with its attributes in the language, or nothing when it is
// held back.
func (p *passage) open(raw []byte, holds bool) []byte {
	tag, more := p.z.TagName()
	name := string(tag)
	button, keep := false, untouched[name]
	type change struct{ key, value string }
	var changes []change
	for more {
		var k, v []byte
		k, v, more = p.z.TagAttr()
		key := string(k)
		switch {
		case key == "translate" && string(v) == "no":
			keep = true
		case key == "type":
			button = name == "input" && (string(v) == "submit" || string(v) == "button" || string(v) == "reset")
		case key == "class" && name == "g" && string(v) == "axes":
			p.axes = true
		case key == "lang" && name == "html":
			raw = with(raw, key, p.tag)
		case shown[key] || key == "value" || strings.HasPrefix(key, "data-say"):
			changes = append(changes, change{key, string(v)})
		}
	}
	if p.skip == "" && !keep {
		for _, c := range changes {
			if c.key == "value" && !button || c.value == "" {
				continue
			}
			if said := p.say(c.value); said != c.value {
				raw = with(raw, c.key, said)
			}
		}
	}
	p.cell = name == "td"
	switch {
	case !holds:
	case p.skip == name:
		p.depth++
	case p.skip == "" && keep && !void[name]:
		p.skip, p.depth = name, 1
	case p.skip == "" && name == "text":
		p.held = raw
		return nil
	}
	return raw
}

// void are the elements that hold nothing and are not closed.
var void = map[string]bool{"area": true, "br": true, "col": true, "hr": true, "img": true, "input": true, "link": true, "meta": true, "source": true, "wbr": true}

// attribute finds an attribute in a tag as written: where it begins, and where
// its value does and ends. Pages write every value in double quotes.
func attribute(raw []byte, key string) (at, from, to int) {
	mark := []byte(" " + key + `="`)
	at = bytes.Index(raw, mark)
	if at < 0 {
		return -1, 0, 0
	}
	from = at + len(mark)
	n := bytes.IndexByte(raw[from:], '"')
	if n < 0 {
		return -1, 0, 0
	}
	return at, from, from + n
}

// with gives an attribute another value.
func with(raw []byte, key, value string) []byte {
	at, from, to := attribute(raw, key)
	if at < 0 {
		return raw
	}
	return slices.Concat(raw[:from], []byte(html.EscapeString(value)), raw[to:])
}

// without takes an attribute out.
func without(raw []byte, key string) []byte {
	at, _, to := attribute(raw, key)
	if at < 0 {
		return raw
	}
	return slices.Concat(raw[:at], raw[to+1:])
}
