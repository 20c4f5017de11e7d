package lang

import (
	"testing"

	"yokemate/internal/draw"
)

// Every character of every catalogue can be drawn: umlauts, sharp s and the
// quotation marks too.
func TestFaces(t *testing.T) {
	for _, l := range All() {
		if l.Plain() {
			continue
		}
		for english := range l.catalogue.exact {
			said := l.Text(sample(english))
			for _, f := range []draw.Face{draw.Regular, draw.Bold} {
				if drawn := f.Fit(said); drawn != said {
					t.Errorf("%s: %q is drawn as %q", l.Tag, said, drawn)
				}
			}
		}
	}
}
