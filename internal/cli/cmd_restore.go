package cli

import (
	"strings"

	"yokemate"
	"yokemate/internal/sheet"
)

type restoreCmd struct {
	Text      string `arg:"" optional:"" default:"-" placeholder:"FILE" help:"The text of a sheet's codes, one to a line; standard input if not given."`
	Output    string `short:"o" placeholder:"NAME" help:"Write NAME-hookup.json, NAME-answers.json and NAME-shelf.json; with --json, and without this, the record goes to standard output."`
	Overwrite bool   `help:"Replace files that are there."`
}

// Run turns the text of a bench sheet's codes back into files.
func (c *restoreCmd) Run(a *App) error {
	switch {
	case c.Output == "" && !a.AsJSON:
		return yokemate.Errorf(yokemate.Invalid, "command line", "nothing says where the files go").Mend("add -o NAME, or --json")
	case c.Output != "" && a.AsJSON:
		return yokemate.Errorf(yokemate.Invalid, "command line", "-o and --json are both given").Mend("keep one of them")
	case a.ShelfFile != "":
		return yokemate.Errorf(yokemate.Invalid, "command line", "a record brings its own units").Mend("leave out --shelf")
	}
	text, err := a.ReadFile(c.Text)
	if err != nil {
		return err
	}
	r, err := sheet.DecodeRecord(string(text))
	if err != nil {
		return inFile(c.Text, err)
	}
	if a.AsJSON {
		return a.JSON(r)
	}
	shelf := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: r.Units, Meters: r.Meters}
	if err := shelf.Validate(); err != nil {
		return inFile(c.Text, err)
	}
	if err := r.Hookup.Check(shelf); err != nil {
		return inFile(c.Text, err)
	}
	answers := r.Answers
	if answers == nil {
		answers = []yokemate.Answer{}
	}
	var files []outFile
	var names []string
	for _, f := range []struct {
		kind string
		v    any
	}{{"hookup", &r.Hookup}, {"answers", &yokemate.Answers{Answers: answers}}, {"shelf", shelf}} {
		b, err := yokemate.Encode(f.v)
		if err != nil {
			return err
		}
		name := c.Output + "-" + f.kind + ".json"
		names = append(names, name)
		files = append(files, outFile{name, b})
	}
	if err := a.writeAll(files, c.Overwrite, c.Text); err != nil {
		return err
	}
	a.Print("%s: %s\n", r.Hookup.Name, strings.Join(names, " "))
	return nil
}
