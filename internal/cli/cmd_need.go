package cli

import "yokemate"

type needCmd struct {
	List   needListCmd   `cmd:"" help:"List the stored needs."`
	Remove needRemoveCmd `cmd:"" help:"Take a need out of the store."`
}

type needListCmd struct{}

// Run lists the stored needs.
func (c *needListCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	all, err := s.Needs(a.Ctx())
	if err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			Needs []yokemate.Need `json:"needs"`
		}{all})
	}
	if len(all) == 0 {
		a.Print("No needs are stored. Take one in with \"yokemate import FILE\".\n")
		return nil
	}
	t := &Table{Heads: []string{"need", "kind", ">wanted", ">at", ">within", ">rails", "isolated", ">feed"}}
	for i := range all {
		n := &all[i]
		isolated := "yes"
		if !n.MustIsolate() {
			isolated = "not asked for"
		}
		t.Row(n.Name, n.Kind, short(n.Volts)+" V", short(n.Amps)+" A", short(n.Tolerance*100)+" %", short(float64(n.Rails)), isolated, volts.show(n.Feed.Volts)+" "+short(n.Feed.Hertz)+" Hz")
	}
	a.Table(t)
	return nil
}

type needRemoveCmd struct {
	Name string `arg:"" help:"The need."`
}

// Run takes a need out of the store.
func (c *needRemoveCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	if err := s.RemoveNeed(a.Ctx(), c.Name); err != nil {
		return err
	}
	a.Say("Need %q is out of the store.", c.Name)
	return nil
}
