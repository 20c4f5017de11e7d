package cli

import (
	"yokemate"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/supply"
)

type predictCmd struct {
	Hookup string `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Mains  string `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts: low, nominal or high."`
	Meter  string `placeholder:"NAME" help:"The meter that will take the readings; the shelf's first if not given."`
}

// Run predicts every reading of a hookup.
func (c *predictCmd) Run(a *App) error {
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	m, err := paper.Meter(s, c.Meter)
	if err != nil {
		return err
	}
	facts := network.Compile(s.Only(h))
	level := yokemate.MainsLevel(c.Mains)
	if a.AsJSON && supply.IsDC(h) {
		p, err := supply.Predict(facts, h, level, predict.Options{Meter: m})
		if err != nil {
			return inFile(c.Hookup, err)
		}
		return a.JSON(p)
	}
	p, rails, err := paper.Foretell(facts, h, level, predict.Options{Meter: m})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(p)
	}
	a.prediction(h, p, rails)
	return nil
}

// prediction prints a prediction for a person: what forbids it first.
func (a *App) prediction(h *yokemate.Hookup, p *yokemate.Prediction, rails []yokemate.RailState) {
	name := h.Name
	if name == "" {
		name = "hookup"
	}
	var w say.Words
	a.Print("%s, %s\n%s\n", name, w.Mains(h, p.Mains), w.Standing(p.Notes))
	a.notes(p.Notes)
	for _, t := range append(w.Predicted(h, p), w.Rails(rails)) {
		a.results(t)
	}
	a.cautions(prove.Cautions())
}

// results prints a table of results after an empty line, where it has rows.
func (a *App) results(r say.Table) {
	t := &Table{rows: r.Rows}
	for i, h := range r.Heads {
		if r.Figures[i] {
			h = ">" + h
		}
		t.Heads = append(t.Heads, h)
	}
	a.section(t)
}

// section prints a table after an empty line, where it has rows.
func (a *App) section(t *Table) {
	if len(t.rows) > 0 {
		a.Print("\n")
		a.Table(t)
	}
}

// notes prints notes, the gravest first, each with its code.
func (a *App) notes(notes []yokemate.Note) {
	for _, n := range notes {
		a.Para(label(say.Words{}.Level(n.Level)), n.Words+" ("+string(n.Code)+")")
	}
}

// cautions prints the ones that go with every plan.
func (a *App) cautions(words []string) {
	a.Print("\nBefore you touch anything\n")
	for _, w := range words {
		a.Para("  - ", w)
	}
}
