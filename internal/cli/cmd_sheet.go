package cli

import (
	"yokemate"
	"yokemate/internal/figure"
	"yokemate/internal/paper"
	"yokemate/internal/sheet"
)

// paperFrom says which hookup goes on paper, with which readings.
type paperFrom struct {
	Hookup  string `placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Answers string `placeholder:"FILE" help:"With --hookup: the readings of this file."`
	Proof   int64  `placeholder:"ID" help:"A proof in the store with its readings, in place of --hookup."`
	Meter   string `placeholder:"NAME" help:"The meter that takes the readings; the shelf's first if not given."`
	airFlags
}

// inputs are the files that must not be written over.
func (c *paperFrom) inputs() []string { return []string{c.Hookup, c.Answers} }

func (c *paperFrom) check() error {
	wrong := func(what, mend string) error {
		return yokemate.Errorf(yokemate.Invalid, "command line", "%s", what).Mend("%s", mend)
	}
	switch {
	case c.Proof < 0:
		return wrong("a proof's number is 1 or more", "see \"yokemate proof list\"")
	case c.Proof != 0 && c.Hookup != "":
		return wrong("--proof and --hookup are both given", "keep one: a proof has its hookup")
	case c.Proof != 0 && c.Answers != "":
		return wrong("--proof and --answers are both given", "keep one: a proof has its readings")
	case c.Proof == 0 && c.Hookup == "":
		return wrong("there is no hookup to set on paper", "add --hookup FILE, or --proof ID")
	}
	return c.airFlags.check()
}

// gather predicts the hookup, judges its readings and works its limits out.
func (c *paperFrom) gather(a *App) (*paper.Finished, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	j, err := c.job(a)
	if err != nil {
		return nil, err
	}
	j.Meter, j.Air, j.Box = c.Meter, c.Ambient, c.Box
	return paper.Gather(j)
}

func (c *paperFrom) job(a *App) (paper.Job, error) {
	if c.Proof != 0 {
		s, err := a.Store()
		if err != nil {
			return paper.Job{}, err
		}
		p, err := s.Proof(a.Ctx(), c.Proof)
		if err != nil {
			return paper.Job{}, err
		}
		return paper.OfProof(p), nil
	}
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return paper.Job{}, err
	}
	j := paper.Job{Hookup: h, Shelf: s, From: shownName(c.Hookup), Read: shownName(c.Answers)}
	if c.Answers != "" {
		given, err := a.Answers(c.Answers)
		if err != nil {
			return j, err
		}
		j.Answers = given.Answers
	}
	return j, nil
}

type sheetCmd struct {
	paperFrom
	look
	Paper string `default:"A4" enum:"A4,Letter" placeholder:"SIZE" help:"A4 or Letter."`
	pageFlags
}

// Run sets the bench sheet of a hookup.
func (c *sheetCmd) Run(a *App) error {
	if err := c.pageFlags.check(); err != nil {
		return err
	}
	x, err := c.gather(a)
	if err != nil {
		return err
	}
	page := sheet.A4
	if c.Paper == "Letter" {
		page = sheet.Letter
	}
	pages, err := x.Sheet(c.say(c.options()), page, c.Who)
	if err != nil {
		return err
	}
	return c.write(a, pages, "bench sheet", c.inputs()...)
}

// look is what all papers have in common.
type look struct {
	Region string `enum:",iec,nec" default:"" placeholder:"REGION" help:"Colours of the mains wires: iec (brown, blue, green-yellow) or nec (black, white, green); by the mains volts if not given."`
	Who    string `placeholder:"NAME" help:"Who tested it."`
}

func (l *look) options() figure.Options {
	return figure.Options{Region: map[string]figure.Region{"iec": figure.IEC, "nec": figure.NEC}[l.Region]}
}
