package cli

import (
	"strings"

	"yokemate"
)

type hookupCmd struct {
	List   hookupListCmd   `cmd:"" help:"List the stored hookups."`
	Remove hookupRemoveCmd `cmd:"" help:"Take a hookup out of the store."`
}

type hookupListCmd struct{}

// Run lists the stored hookups.
func (c *hookupListCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	all, err := s.Hookups(a.Ctx())
	if err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			Hookups []yokemate.Hookup `json:"hookups"`
		}{all})
	}
	if len(all) == 0 {
		a.Print("No hookups are stored. Take one in with \"yokemate import FILE\".\n")
		return nil
	}
	t := &Table{Heads: []string{"hookup", ">feed", "units", "outputs"}}
	for i := range all {
		h := &all[i]
		var feeds, outs []string
		for _, f := range h.Feed {
			feeds = append(feeds, volts.show(f.Volts)+" "+short(f.Hertz)+" Hz")
		}
		for _, o := range h.Outputs {
			outs = append(outs, o.Name)
		}
		t.Row(h.Name, strings.Join(feeds, ", "), strings.Join(h.Tags(), " "), strings.Join(outs, " "))
	}
	a.Table(t)
	return nil
}

type hookupRemoveCmd struct {
	Name string `arg:"" help:"The hookup."`
}

// Run takes a hookup out of the store.
func (c *hookupRemoveCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	if err := s.RemoveHookup(a.Ctx(), c.Name); err != nil {
		return err
	}
	a.Say("Hookup %q is out of the store.", c.Name)
	return nil
}
