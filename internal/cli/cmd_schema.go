package cli

import (
	"strings"

	"yokemate"
	"yokemate/schema"
)

type schemaCmd struct {
	Name string `arg:"" optional:"" help:"Of a file (shelf, hookup, need, answers) or of a command's result, as in predict; all names are listed if it is not given."`
}

// Run prints one schema, or the names of all.
func (c *schemaCmd) Run(a *App) error {
	if c.Name == "" {
		a.Print("%s\n", strings.Join(schema.Names(), "\n"))
		return nil
	}
	b, ok := schema.Get(c.Name)
	if !ok {
		return yokemate.Errorf(yokemate.NotFound, "schema", "there is none of the name %q", c.Name).Mend("use one of %s", strings.Join(schema.Names(), ", "))
	}
	a.Print("%s", b)
	return nil
}
