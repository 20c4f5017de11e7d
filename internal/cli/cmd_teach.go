package cli

import (
	"bytes"
	"path/filepath"
	"strings"

	"yokemate"
	"yokemate/internal/lang"
	"yokemate/internal/paper"
	"yokemate/internal/teach"
)

type teachCmd struct {
	Hookup    string  `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Meter     string  `placeholder:"NAME" help:"The meter that the readings are taken with; the shelf's first if not given."`
	Trial     float64 `default:"12" placeholder:"VOLTS" help:"The low AC source that a class works with: 6 to 25 V."`
	Output    string  `short:"o" required:"" placeholder:"FILE" help:"Write to this file, FILE.html."`
	Overwrite bool    `help:"Replace the file if it is there."`
	Lang      string  `enum:"en,en-US,de" default:"en" placeholder:"LANG" help:"Language of the page: en, en-US or de."`
	Region    string  `enum:",iec,nec" default:"" placeholder:"REGION" help:"Colours of the mains wires: iec or nec; by the mains volts if not given."`
}

// Run makes the teaching page of a hookup.
func (c *teachCmd) Run(a *App) error {
	switch strings.ToLower(filepath.Ext(c.Output)) {
	case ".html", ".htm":
	default:
		return inFile(c.Output, yokemate.Errorf(yokemate.Invalid, "", "the ending does not say HTML").Mend("name it FILE.html"))
	}
	if !(c.Trial >= 6 && c.Trial <= 25) {
		return yokemate.Errorf(yokemate.Invalid, "--trial", "a class works on 6 to 25 V").Mend("leave it out for 12 V")
	}
	if err := mayWrite(c.Output, c.Overwrite, c.Hookup); err != nil {
		return err // before the work, not after it
	}
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	m, err := paper.Meter(s, c.Meter)
	if err != nil {
		return err
	}
	tongue := lang.Get(c.Lang)
	l, err := teach.New(s, h, teach.Options{Figure: paper.In((&look{Region: c.Region}).options(), tongue), Meter: m, Trial: c.Trial})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	b, err := l.HTML()
	if err != nil {
		return err
	}
	var said bytes.Buffer
	if err := tongue.HTML(&said, bytes.NewReader(b)); err != nil {
		return err
	}
	b = said.Bytes()
	if err := a.writeAll([]outFile{{c.Output, b}}, c.Overwrite, c.Hookup); err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			File    string `json:"file"`
			Wirings int    `json:"wirings"`
			Bytes   int    `json:"bytes"`
		}{c.Output, len(l.Wirings), len(b)})
	}
	a.Print("teaching page, %d wirings, %s\n", len(l.Wirings), c.Output)
	return nil
}
