package cli

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// No line is wider than asked for unless a single word is, and no word is lost.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-zΩ]{1,12}`)).Draw(t, "words")
		head := rapid.SampledFrom([]string{"", "■ STOP  "}).Draw(t, "head")
		width := rapid.IntRange(10, 60).Draw(t, "width")
		got := wrap(head, strings.Join(words, " "), width)
		if back := strings.Fields(strings.TrimPrefix(got, head)); strings.Join(back, " ") != strings.Join(words, " ") {
			t.Fatalf("%q", got)
		}
		for _, l := range strings.Split(got, "\n") {
			if utf8.RuneCountInString(l) > width && len(strings.Fields(strings.TrimPrefix(l, head))) > 1 {
				t.Fatalf("a line of %d in %d: %q", utf8.RuneCountInString(l), width, l)
			}
		}
	})
}
