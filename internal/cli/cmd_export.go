package cli

import "yokemate"

type exportCmd struct {
	Shelf  exportShelfCmd  `cmd:"" help:"The whole shelf."`
	Hookup exportHookupCmd `cmd:"" help:"A stored hookup."`
	Need   exportNeedCmd   `cmd:"" help:"A stored need."`
}

// outFlags say where an export goes.
type outFlags struct {
	Output    string `short:"o" placeholder:"FILE" help:"Write to this file; standard output if not given."`
	Overwrite bool   `help:"Replace the file if it is there."`
}

// write writes v to the output file, or to standard output.
func (o *outFlags) write(a *App, v any) error {
	if o.Output == "" {
		return a.JSON(v)
	}
	b, err := yokemate.Encode(v)
	if err != nil {
		return err
	}
	var inputs []string
	if a.ShelfFile != "" {
		inputs = append(inputs, a.ShelfFile)
	} else if path, err := a.StorePath(); err == nil {
		inputs = append(inputs, path)
	}
	return a.WriteFile(o.Output, b, o.Overwrite, inputs...)
}

type exportShelfCmd struct {
	Photos bool `help:"Put the photos into the file too."`
	outFlags
}

// Run writes the shelf.
func (c *exportShelfCmd) Run(a *App) error {
	s, err := c.shelf(a)
	if err != nil {
		return err
	}
	return c.write(a, s)
}

func (c *exportShelfCmd) shelf(a *App) (*yokemate.Shelf, error) {
	if c.Photos && a.ShelfFile == "" {
		st, err := a.Store()
		if err != nil {
			return nil, err
		}
		return st.Album(a.Ctx())
	}
	s, err := a.Shelf()
	if err == nil && !c.Photos {
		for i := range s.Units {
			s.Units[i].Photos = nil
		}
	}
	return s, err
}

type exportHookupCmd struct {
	Name string `arg:"" help:"The hookup."`
	outFlags
}

// Run writes a hookup.
func (c *exportHookupCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	h, err := s.Hookup(a.Ctx(), c.Name)
	if err != nil {
		return err
	}
	return c.write(a, h)
}

type exportNeedCmd struct {
	Name string `arg:"" help:"The need."`
	outFlags
}

// Run writes a need.
func (c *exportNeedCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	n, err := s.Need(a.Ctx(), c.Name)
	if err != nil {
		return err
	}
	return c.write(a, n)
}
