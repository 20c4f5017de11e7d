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

type exportShelfCmd struct{ outFlags }

// Run writes the shelf.
func (c *exportShelfCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	return c.write(a, s)
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
