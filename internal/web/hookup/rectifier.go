package hookup

import (
	"slices"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/si"
)

// A rectified output is drawn to its parts, so that a slip in it is seen where
// it is. Its readings are those of the proof's steps, which stand at nominal
// mains; a slip of the AC side shows before the rectifier is joined, and so it
// is drawn and predicted without one.

// bare is a hookup without its rectifiers.
func bare(h *yokemate.Hookup) *yokemate.Hookup {
	c := h.Clone()
	for i := range c.Outputs {
		c.Outputs[i].DC = nil
	}
	return c
}

// railsOf puts what is predicted of each rail between its terminals.
func railsOf(rails []yokemate.RailState) []figure.Rail {
	var list []figure.Rail
	at := map[string]int{}
	for _, r := range rails {
		list = append(list, figure.Rail{Output: r.Output, At: at[r.Output], Lines: []string{si.Format(r.Mean, "V", 3), si.Format(r.Amps, "A", 3)}})
		at[r.Output]++
	}
	return list
}

// railsWith puts what each step reads with a slip between the terminals that
// the step reads at.
func railsWith(proof *yokemate.Proof, h *yokemate.Hookup, code string) []figure.Rail {
	var list []figure.Rail
	for i := range h.Outputs {
		o := &h.Outputs[i]
		for k, ends := range o.Rails() {
			r := figure.Rail{Output: o.Name, At: k}
			for n := range proof.Steps {
				s := &proof.Steps[n]
				if s.Measure == nil || s.Measure.From != ends[0] || s.Measure.To != ends[1] {
					continue
				}
				z := slices.IndexFunc(s.Slips, func(z yokemate.Slip) bool { return z.Code == code })
				if z < 0 {
					continue
				}
				if g := say.One(s, &s.Slips[z]); !g.Hidden {
					r.Lines = append(r.Lines, say.Words{}.Phrase(when(s, i), say.Words{}.Reads(&g)))
				}
			}
			if r.Lines != nil {
				list = append(list, r)
			}
		}
	}
	return list
}

// when says how a step reads an output, with room for what it reads.
func when(s *yokemate.Step, output int) string {
	switch s.Measure.Quantity {
	case yokemate.Ohms:
		return "unplugged: %s"
	case yokemate.VoltsAC:
		return "ripple: %s"
	}
	switch {
	case slices.ContainsFunc(s.State.Feed, func(f yokemate.Feed) bool { return f.Lamp != nil }):
		return "behind the lamp: %s"
	case s.State.Outputs[output].DC.Amps > 0:
		return "loaded: %s"
	}
	return "nothing drawn: %s"
}
