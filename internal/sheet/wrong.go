package sheet

import (
	"strconv"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/say"
)

// groupsShown and groupsRead bound the readings in the wrong column, before a
// step is read and after; the slips of the rest are counted.
const (
	groupsShown = 6
	groupsRead  = 3
)

// wrong is two columns: what a step would read for each slip, most readings
// long, and why, with what would follow. why must be wrapped to its width w, so
// that each reading stands beside its reasons. What protects is told once a
// step.
func (p *paper) wrong(s *yokemate.Step, most int, readsWide, whyWide float64) (reads, why cell) {
	list := say.Groups(s)
	protects := map[string]bool{}
	for i, g := range list {
		if i == most {
			n := 0
			for _, rest := range list[i:] {
				n += len(rest.Slips)
			}
			why.lines = append(why.lines, styled{s: p.say("and %s more", strconv.Itoa(n))})
			break
		}
		text := p.words.Names(&g)
		if g.Hidden {
			text += " " + p.say("(looks right here)")
		}
		if g.Worst != nil {
			x := *g.Worst
			if x.Winding != "" && protects[x.Protects] {
				x.Protects = ""
			}
			protects[x.Protects] = true
			text += ". " + p.words.Closed(&x)
		}
		a := draw.Bold.Wrap(draw.Bold.Fit(p.words.Reads(&g)), small, readsWide)
		b := draw.Regular.Wrap(draw.Regular.Fit(text), small, whyWide)
		for k := range max(len(a), len(b)) {
			var l, r string
			if k < len(a) {
				l = a[k]
			}
			if k < len(b) {
				r = b[k]
			}
			reads.lines, why.lines = append(reads.lines, styled{s: l}), append(why.lines, styled{s: r})
		}
	}
	return reads, why
}

// steps is the proof as a table to fill in.
func (b *Bench) steps(p *paper, f *flow) {
	f.heading(p.say("Steps"))
	if b.Proof == nil {
		f.para(p.say("No proof was made for this sheet. Do not power it before one is."), draw.Bold, yokemate.Stop)
		return
	}
	cols := []column{{head: p.say("no."), wide: 8, face: draw.Bold, size: body}, {head: p.say("right"), wide: 25, face: draw.Bold}, {head: p.say("wrong"), wide: 24, face: draw.Bold},
		{head: p.say("what it would be, and what would follow"), wide: 84, joined: true}, {head: p.say("read"), wide: 21, face: draw.Bold, size: 3.6}, {head: p.say("go or stop"), wide: 21}}
	g := f.grid(cols)
	var rows []row
	for i := range b.Proof.Steps {
		rows = append(rows, b.step(p, i, g))
	}
	f.table(cols, rows)
	for i, a := range b.Answers {
		if a.Changed != "" {
			f.para(p.say("Lead moved after reading %s: %s", strconv.Itoa(b.given(i)), p.words.Slip(a.Changed)), draw.Bold, "")
		}
	}
}

// step is one row of the steps.
func (b *Bench) step(p *paper, i int, g *grid) row {
	s := &b.Proof.Steps[i]
	r := row{over: [][]styled{{{s: p.say(s.Do)}}}}
	m := s.Measure
	if m == nil {
		r.cells = []cell{words(strconv.Itoa(i + 1)), {}, {}, {}, {}, words(p.say("□ done"))}
		return r
	}
	r.over[0] = append(r.over[0], styled{s: say.Title(p.words.Probes(s)) + ".", face: draw.Bold})
	read := cell{blank: true, unit: m.Quantity.Unit()}
	verdict := words(p.say("□ go  □ stop"), p.say("□ change"))
	most := groupsShown
	if a, stands := b.answer(s.ID); a != nil {
		read = words(p.words.Answer(a, m.Quantity))
		if a.Reason != "" {
			r.over = append(r.over, []styled{{s: p.say("overruled: %s", a.Reason)}})
		}
		if !stands {
			verdict.lines = append(verdict.lines, styled{s: p.say("read before a lead was moved")})
		}
		for _, v := range b.Proof.Verdicts {
			if stands && v.Step == s.ID {
				most = groupsRead
				mark := p.words.Verdict(v.Verdict)
				verdict = cell{}.bold(mark.Shape + " " + mark.Word)
				if v.Verdict != "go" {
					r.over = append(r.over, []styled{{s: mark.Shape + " " + mark.Word + ": " + p.say(v.Words), face: draw.Bold}})
				}
			}
		}
	}
	reads, why := p.wrong(s, most, g.wide(2), g.wide(3))
	r.cells = []cell{words(strconv.Itoa(i + 1)), words(p.words.Right(s.Right, m.Quantity)), reads, why, read, verdict}
	return r
}
