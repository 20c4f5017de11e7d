package cli

import (
	"strings"
	"unicode/utf8"
)

// wrap breaks text at spaces so that no line is wider than width where a word
// allows it. The first line starts with head, the others with as many spaces.
func wrap(head, text string, width int) string {
	pad := strings.Repeat(" ", utf8.RuneCountInString(head))
	var b strings.Builder
	b.WriteString(head)
	at := len(pad)
	for i, w := range strings.Fields(text) {
		n := utf8.RuneCountInString(w)
		switch {
		case i == 0:
		case at+1+n > width:
			b.WriteString("\n" + pad)
			at = len(pad)
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(w)
		at += n
	}
	return b.String()
}

// Para prints text under a head, broken to the width of the terminal.
func (a *App) Para(head, text string) { a.Print("%s\n", wrap(head, text, min(a.Width(), 100))) }
