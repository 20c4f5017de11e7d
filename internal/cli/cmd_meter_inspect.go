package cli

import (
	"yokemate"
	"yokemate/identify"
	"yokemate/internal/say"
	"yokemate/si"
)

type meterInspectCmd struct {
	Value    string `arg:"" help:"A reading, as in \"14.70 V\" or 2R9."`
	Meter    string `placeholder:"NAME" help:"The meter; the one that plain numbers are read on if not given. Also a preset: generic, cheap-2000, hand-6000, good-60000."`
	Quantity string `short:"q" placeholder:"NAME" help:"What was measured, where the unit does not tell."`
}

// Run shows how sure a reading on a meter is, and why.
func (c *meterInspectCmd) Run(a *App) error {
	var meters []yokemate.Meter
	if b, err := a.bench(); err != nil {
		return err
	} else if s, err := b.Shelf(a.Ctx()); err != nil {
		return err
	} else {
		meters = s.Meters
		if c.Meter == "" {
			c.Meter = s.Meter().Name
		}
	}
	meters = append(meters, identify.Presets()...)
	var m *yokemate.Meter
	for i := range meters {
		if meters[i].Name == c.Meter {
			m = &meters[i]
			break
		}
	}
	if m == nil {
		return yokemate.Errorf(yokemate.NotFound, "--meter", "there is no meter %q", c.Meter).Mend("see \"yokemate meter list\", or use a preset: generic, cheap-2000, hand-6000, good-60000")
	}
	q, text, err := readingOf("VALUE", c.Value, yokemate.Quantity(c.Quantity))
	if err != nil {
		return err
	}
	v, err := yokemate.Read(text)
	if err != nil {
		return yokemate.Errorf(yokemate.Invalid, "VALUE", "%q is no number", c.Value).Mend("give a reading such as \"14.70 V\"")
	}
	x, ok := identify.Inspect(m, q, v.V)
	if !ok {
		return yokemate.Errorf(yokemate.NotFound, "--meter", "meter %q has no %s range for %s", m.Name, say.Words{}.Quantity(q), c.Value).Mend("see its ranges with \"yokemate meter list\"")
	}
	if a.AsJSON {
		return a.JSON(x)
	}
	unit := q.Unit()
	a.Print("%s on %s, range %s\n", si.FormatU(x.Value, x.U, unit), m.Name, si.Format(x.Range, unit, 3))
	a.Print("  %s\n", x.Formula)
	a.Print("  95 %% interval %s; %s of the uncertainty is the range's gain, which readings on it share\n", si.FormatInterval(x.Low, x.High, unit), si.Format(x.Shared, unit, 2))
	if !x.TrueRMS && (q == yokemate.AmpsAC || q == yokemate.VoltsAC) {
		a.Print("  average-responding: right for a sine only; a peaky no-load current reads wrong by several per cent more\n")
	}
	return nil
}
