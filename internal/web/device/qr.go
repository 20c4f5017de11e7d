package device

import (
	"fmt"
	"strings"

	"rsc.io/qr"

	"yokemate"
)

// quiet is the empty border that a code needs [squares] (ISO/IEC 18004).
const quiet = 4

func encode(text string) (*qr.Code, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "a code cannot be drawn", Err: err}
	}
	return c, nil
}

// Terminal draws a QR code in letters, two rows of squares a line. It sets both
// colours, so that it can be read on any ground.
func Terminal(text string) (string, error) {
	c, err := encode(text)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for y := -quiet; y < c.Size+quiet; y += 2 {
		b.WriteString("\x1b[30;107m")
		for x := -quiet; x < c.Size+quiet; x++ {
			b.WriteString([]string{" ", "▀", "▄", "█"}[bit(c.Black(x, y))+2*bit(c.Black(x, y+1))])
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String(), nil
}

func bit(black bool) int {
	if black {
		return 1
	}
	return 0
}

// Square is a QR code as one path of an SVG picture whose unit is a square.
type Square struct {
	Text string
	Side int
	Path string
}

func square(text string) (Square, error) {
	c, err := encode(text)
	if err != nil {
		return Square{}, err
	}
	var b strings.Builder
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			n := 0
			for c.Black(x+n, y) {
				n++
			}
			if n > 0 {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, n, n)
				x += n
			}
		}
	}
	return Square{text, c.Size + 2*quiet, b.String()}, nil
}
