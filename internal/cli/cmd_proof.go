package cli

import (
	"strings"

	"yokemate"
	"yokemate/internal/say"
)

type proofCmd struct {
	List proofListCmd `cmd:"" help:"List the proofs, newest first."`
	Show proofShowCmd `cmd:"" help:"Show what was read in a proof and what it means."`
}

type proofListCmd struct{}

// Run lists the proofs.
func (c *proofListCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	all, err := s.Proofs(a.Ctx())
	if err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			Proofs []yokemate.ProofRecord `json:"proofs"`
		}{all})
	}
	if len(all) == 0 {
		a.Print("No proof is stored. Start one with \"yokemate prove --hookup NAME\".\n")
		return nil
	}
	t := &Table{Heads: []string{">proof", "hookup", "state", ">answers", "opened (UTC)", "last change"}}
	for _, p := range all {
		t.Row(itoa(int(p.ID)), p.Hookup.Name, stateMark(p.State), itoa(len(p.Answers)), p.Opened.UTC().Format("2006-01-02 15:04"), p.Changed.UTC().Format("2006-01-02 15:04"))
	}
	a.Table(t)
	return nil
}

// stateMark is a proof's state as a shape and a word.
func stateMark(s yokemate.ProofState) string {
	m := say.Words{}.State(s)
	return m.Shape + " " + strings.ToLower(m.Word)
}

type proofShowCmd struct {
	ID    int64 `arg:"" help:"The proof's number."`
	Steps bool  `help:"Print every step with all its slips too."`
}

// Run judges the stored answers anew and prints what they mean.
func (c *proofShowCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	p, err := s.Proof(a.Ctx(), c.ID)
	if err != nil {
		return err
	}
	b, err := fromStore(a, p, "")
	if err != nil {
		return err
	}
	return b.show(a, c.Steps)
}
