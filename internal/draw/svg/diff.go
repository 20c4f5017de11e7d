package svg

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Diff compares two drawings word by word and number by number, numbers within
// tol, and describes the first difference; it is empty when there is none. Two
// machines may differ in the last digit of a coordinate, so tests compare with
// it and not byte by byte.
func Diff(got, want string, tol float64) string {
	g, w := tokens(got), tokens(want)
	for i := range max(len(g), len(w)) {
		if i >= len(g) || i >= len(w) {
			return fmt.Sprintf("%d tokens, want %d", len(g), len(w))
		}
		if g[i] == w[i] {
			continue
		}
		x, errX := strconv.ParseFloat(g[i], 64)
		y, errY := strconv.ParseFloat(w[i], 64)
		if errX != nil || errY != nil || !(math.Abs(x-y) <= tol) {
			return fmt.Sprintf("token %d is %q, want %q, after %q", i, g[i], w[i], strings.Join(g[max(0, i-12):i], ""))
		}
	}
	return ""
}

// tokens parts a drawing into numbers and what stands between them.
func tokens(s string) []string {
	var ts []string
	start, number := 0, false
	for i := 0; i <= len(s); i++ {
		is := i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.' || s[i] == '-')
		if i == len(s) || is != number || is && s[i] == '-' {
			if i > start {
				ts = append(ts, s[start:i])
			}
			start, number = i, is
		}
	}
	return ts
}
