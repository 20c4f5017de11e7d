package si

import "strconv"

// The codes of Error.
const (
	CodeEmpty     = "empty"       // nothing written
	CodeNumber    = "not-number"  // no number where one is expected
	CodeSeparator = "separators"  // decimal marks or grouping that can be read two ways
	CodeUnit      = "wrong-unit"  // another unit, or something that is no unit
	CodeAmbiguous = "ambiguous"   // well formed, with two meanings
	CodeRange     = "range"       // too large, too small or impossible
	CodeUncertain = "uncertainty" // the part after ± is wrong or not expected
)

// Error says why a text was refused.
type Error struct {
	Code     string // one of the codes above
	Sentence string // what is wrong, naming the text
	Hint     string // what to write instead
}

// Error returns the sentence and the hint in one line.
func (e *Error) Error() string {
	if e.Hint == "" {
		return e.Sentence
	}
	return e.Sentence + ": " + e.Hint
}

// quote shows text on one line, cut when long.
func quote(text string) string {
	const most = 40
	n := 0
	for i := range text {
		if n++; n > most {
			text = text[:i] + "…"
			break
		}
	}
	return strconv.QuoteToGraphic(text)
}
