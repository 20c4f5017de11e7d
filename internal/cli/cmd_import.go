package cli

import "yokemate"

type importCmd struct {
	Files   []string `arg:"" name:"file" help:"Shelf, hookup or need files; - reads standard input."`
	Replace bool     `help:"Put what differs in the place of what is stored."`
}

// Run takes the files in, all of them or none.
func (c *importCmd) Run(a *App) error {
	var docs []yokemate.Document
	for _, name := range c.Files {
		b, err := a.ReadFile(name)
		if err != nil {
			return err
		}
		d := yokemate.Document{Source: name}
		switch f := yokemate.FormatOf(b); f {
		case yokemate.HookupFormat:
			d.Hookup, err = yokemate.DecodeHookup(b)
		case yokemate.NeedFormat:
			d.Need, err = yokemate.DecodeNeed(b)
		case yokemate.ShelfFormat:
			d.Shelf, err = yokemate.DecodeShelf(b)
		default:
			err = unknownFormat(b, f)
		}
		if err != nil {
			return inFile(name, err)
		}
		docs = append(docs, d)
	}
	s, err := a.Store()
	if err != nil {
		return err
	}
	changes, err := s.Import(a.Ctx(), docs, c.Replace)
	if err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			Changes []yokemate.Change `json:"changes"`
		}{changes})
	}
	t := &Table{Heads: []string{"file", "what", "how"}, Bare: true}
	for _, x := range changes {
		t.Row(x.Source, x.What, x.How)
	}
	a.Table(t)
	return nil
}

// unknownFormat says what is wrong with a file that is of none of the formats:
// when it is not even JSON, that comes first.
func unknownFormat(data []byte, format string) error {
	var object map[string]any
	if err := yokemate.Decode(data, &object); err != nil {
		return err
	}
	if format == "" {
		return yokemate.Errorf(yokemate.Invalid, "format", "the file does not say what it is").Mend("add \"format\": %q, or that of a hookup or a need", yokemate.ShelfFormat)
	}
	return yokemate.Errorf(yokemate.Invalid, "format", "%q is none of the formats", format).Mend("use %s, %s or %s", yokemate.ShelfFormat, yokemate.HookupFormat, yokemate.NeedFormat)
}
