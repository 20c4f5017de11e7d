// Package selfcheck computes published numbers with the code that the commands
// use, and holds each to what was printed. Nothing is computed beside that
// code: an example of a textbook becomes a shelf and a hookup, and the network
// answers.
//
// A row whose source could not be read again says "from memory"; what the
// trade takes for granted says "common practice, no source"; where the answer
// follows from a formula alone it says "closed form". To add a row, append it
// to the list of its subject; see [row].
package selfcheck

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/si"
)

// row is one published number.
type row struct {
	id     string
	what   string
	source string
	unit   string
	// printed is the number as the source prints it: half of its last digit is
	// the tolerance.
	printed string
	// slack is tolerance beyond that, and why says what it is for.
	slack float64
	why   string
	// compute asks the engine. What cannot be computed is NaN, and fails.
	compute func() float64
}

// check computes the row.
func (r row) check() yokemate.Check {
	p := parse(r.printed)
	why := "half the last printed digit"
	if r.why != "" {
		why += ", and " + r.why
	}
	c := yokemate.Check{
		ID: r.id, What: r.what + " (tolerance: " + why + ")", Source: r.source, Unit: r.unit,
		Published: p, Computed: r.compute(), Tolerance: si.Resolution(r.printed)/2 + r.slack,
	}
	// A published 0.5 and a computed 0.55 are 0.05 apart but for rounding.
	c.Pass = math.Abs(c.Computed-c.Published) <= c.Tolerance*(1+1e-9)
	return c
}

// parse is a printed number.
func parse(printed string) float64 {
	p, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		panic(fmt.Sprintf("selfcheck: a row prints %q", printed))
	}
	return p
}

// rows is every check, by subject.
func rows() []row {
	return slices.Concat(
		openAndShort(), parallel(), polarity(), series(), autotransformers(),
		warmth(), fuses(), lamps(), rectifiers(), inrush(), wires(), iron(), preferred(), meters(), practice(),
	)
}

// Run computes every check.
func Run() yokemate.Checks {
	var c yokemate.Checks
	for _, r := range rows() {
		c.Checks = append(c.Checks, r.check())
	}
	return c
}
