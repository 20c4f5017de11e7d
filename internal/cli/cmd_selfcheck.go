package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/selfcheck"
	"yokemate/si"
)

type selfcheckCmd struct{}

// Run computes the published checks and says which of them hold.
func (c *selfcheckCmd) Run(a *App) error {
	r := selfcheck.Run()
	failed := 0
	for _, x := range r.Checks {
		if !x.Pass {
			failed++
		}
	}
	if a.AsJSON {
		if err := a.JSON(r); err != nil {
			return err
		}
	} else {
		a.checks(r.Checks, failed)
	}
	if failed > 0 {
		return ErrNo
	}
	return nil
}

// checks prints one table, and the sources by their numbers below it: a source
// is longer than a line.
func (a *App) checks(all []yokemate.Check, failed int) {
	var sources []string
	t := &Table{Heads: []string{"", "check", ">published", ">computed", ">±", "unit", ">source", "what"}}
	for _, c := range all {
		n := slices.Index(sources, c.Source)
		if n < 0 {
			n = len(sources)
			sources = append(sources, c.Source)
		}
		mark := "● pass"
		if !c.Pass {
			mark = "■ FAIL"
		}
		what, _, _ := strings.Cut(c.What, " (tolerance: ")
		t.Row(mark, c.ID, short(c.Published), computed(c), short(si.Round(c.Tolerance, 2)), c.Unit, strconv.Itoa(n+1), what)
	}
	a.Table(t)
	a.Print("\nSources\n")
	for i, s := range sources {
		a.Para(fmt.Sprintf("%4d  ", i+1), s)
	}
	a.Print("\n%d checks computed, %d failed.\n", len(all), failed)
}

// computed prints a computed value to a tenth of its tolerance.
func computed(c yokemate.Check) string {
	digits := 3
	for x := c.Tolerance; x > 0 && x < absolute(c.Computed)/10 && digits < 12; x *= 10 {
		digits++
	}
	return short(si.Round(c.Computed, digits-1))
}

func absolute(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
