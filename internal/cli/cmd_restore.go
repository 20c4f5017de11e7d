package cli

import (
	"strings"

	"yokemate"
	"yokemate/internal/paper"
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
	if a.AsJSON {
		r, err := sheet.DecodeRecord(string(text))
		if err != nil {
			return inFile(c.Text, err)
		}
		return a.JSON(r)
	}
	x, err := paper.Restore(string(text))
	if err != nil {
		return inFile(c.Text, err)
	}
	made, err := x.Files()
	if err != nil {
		return err
	}
	var files []outFile
	var names []string
	for _, f := range made {
		names = append(names, c.Output+"-"+f.Kind+".json")
		files = append(files, outFile{names[len(names)-1], f.Data})
	}
	if err := a.writeAll(files, c.Overwrite, c.Text); err != nil {
		return err
	}
	a.Print("%s: %s\n", x.Hookup.Name, strings.Join(names, " "))
	return nil
}
