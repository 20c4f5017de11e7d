package cli

import (
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/say"
)

type shelfCmd struct{}

// Run lists the units, one a line.
func (c *shelfCmd) Run(a *App) error {
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(s)
	}
	if len(s.Units) == 0 {
		a.Print("The shelf is empty. Put a unit on it with \"yokemate unit add\", or take a file in with \"yokemate import FILE\".\n")
		return nil
	}
	t := &Table{Heads: []string{"unit", ">mains", ">rating", "windings", ">readings", "remarks"}}
	for i := range s.Units {
		u := &s.Units[i]
		t.Row(u.Tag, mainsText(u), voltAmperes.show(u.VA), windingsText(u), strconv.Itoa(len(u.Readings)), remarks(u))
	}
	a.Table(t)
	a.Print("\nPlain numbers count as read on meter %q.\n", s.Meter().Name)
	return nil
}

func mainsText(u *yokemate.Unit) string {
	if u.Mains == nil {
		return "unknown"
	}
	return short(u.Mains.Volts) + " V " + short(u.Mains.Hertz) + " Hz"
}

// windingsText tells each winding in short: P 230 V, A 11.92 V 0.25 A.
func windingsText(u *yokemate.Unit) string {
	if len(u.Windings) == 0 {
		return "not known"
	}
	var all []string
	for i := range u.Windings {
		w := &u.Windings[i]
		text := w.ID
		for _, x := range []string{plainly(volts, w.Volts), plainly(amps, w.Amps)} {
			if x != "" {
				text += " " + x
			}
		}
		all = append(all, text)
	}
	return strings.Join(all, ", ")
}

// plainly prints a fact without its uncertainty and basis.
func plainly(s scale, v yokemate.Value) string {
	plain := yokemate.Value{V: v.V, Digits: v.Digits}
	if say.Exact(v) {
		plain.U = v.U
	}
	return s.show(plain)
}

func remarks(u *yokemate.Unit) string {
	var all []string
	if u.Quarantined() {
		text := "QUARANTINE"
		if u.Reason != "" {
			text += ": " + u.Reason
		}
		all = append(all, text)
	}
	if w := u.CoreJoined(); w != "" {
		all = append(all, "winding "+w+" ends on the core: do not energise")
	}
	if u.Origin != "" {
		all = append(all, u.Origin)
	}
	return strings.Join(all, "; ")
}

func short(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
