package cli

import (
	"strings"

	"yokemate"
)

type unitShowCmd struct {
	Tag string `arg:"" help:"The unit."`
}

// Run shows all that is known of a unit.
func (c *unitShowCmd) Run(a *App) error {
	_, u, _, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	return a.showUnit(u)
}

func (a *App) showUnit(u *yokemate.Unit) error {
	if a.AsJSON {
		return a.JSON(u)
	}
	a.Print("%s", u.Tag)
	if u.Origin != "" {
		a.Print(", %s", u.Origin)
	}
	a.Print("\n")
	if u.Quarantined() {
		a.Print("  QUARANTINE: %s\n", u.Reason)
	}
	if w := u.CoreJoined(); w != "" {
		a.Print("  winding %s ends on the core: do not energise\n", w)
	}
	t := &Table{Heads: []string{"", ""}, Bare: true}
	row := func(name, text string) {
		if text != "" {
			t.Row("  "+name, text)
		}
	}
	switch {
	case u.Mains == nil:
		row("mains", "unknown")
	case len(u.Mains.Series) == 0:
		row("mains", mainsText(u)+" by the label; on which pins is not known yet")
	default:
		row("mains", mainsText(u)+" on "+strings.Join(u.Mains.Series, " + "))
	}
	row("pins", strings.Join(u.Terminals, ", "))
	row("rating", voltAmperes.show(u.VA))
	row("thermal class", u.ThermalClass)
	if k := u.Core; k != nil {
		row("core", k.Kind)
		row("limb", millimetres.show(k.LimbMM))
		row("stack", millimetres.show(k.StackMM))
		row("mass", grams.show(k.MassG))
	}
	row("turns per volt", plain.show(u.TurnsPerVolt))
	for _, e := range u.Excitation {
		text := volts.show(e.Volts) + " " + short(e.Hertz) + " Hz on " + strings.Join(e.Series, " + ")
		for _, x := range []string{amps.show(e.Amps), watts.show(e.Watts)} {
			if x != "" {
				text += ", " + x
			}
		}
		row("idle", text)
	}
	a.Table(t)

	w := &Table{Heads: []string{"  winding", "pins", ">no-load", ">resistance", ">may carry", ">leakage", ">wire"}}
	for _, x := range u.Windings {
		w.Row("  "+x.ID, x.Pins[0]+"–"+x.Pins[1], volts.show(x.Volts), ohms.show(x.Ohms), amps.show(x.Amps), millihenry.show(x.LeakageMH), millimetres.show(x.WireMM))
	}
	if len(u.Windings) > 0 {
		a.Print("\n")
		a.Table(w)
	}

	i := &Table{Heads: []string{"  insulation", ">read", ">test", ">for", ">may stand"}}
	for _, x := range u.Insulation {
		i.Row("  "+x.From+"–"+x.To, megohms.show(x.Megohms), withUnit(x.TestVolts, "V"), withUnit(x.Seconds, "s"), withUnit(x.WorkingVolts, "V"))
	}
	if len(u.Insulation) > 0 {
		a.Print("\n")
		a.Table(i)
	}
	if n := len(u.Readings); n > 0 {
		a.Print("\n  readings: %d (\"yokemate reading list %s\" shows them)\n", n, u.Tag)
	}
	return nil
}

// withUnit prints a number with its unit; 0 stands for not known.
func withUnit(v float64, unit string) string {
	if v == 0 {
		return ""
	}
	return short(v) + " " + unit
}
