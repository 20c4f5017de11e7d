package say

import (
	"strconv"

	"yokemate"
)

// FirstLamp says which lamp to take for a unit's first power.
func (w Words) FirstLamp(r *yokemate.FirstPower) string {
	f := w.Locale.Format
	if r.LampWatts == 0 {
		return w.Phrase("%s: no usual lamp tells a good unit from a shorted one.", r.Unit)
	}
	return w.Phrase("%s: first power through %s, in the live wire, on %s. Filament, never LED.", r.Unit, w.lamp(r.LampCount, r.LampWatts), f(r.Volts, "V", 3))
}

// lamp names lamps in series.
func (w Words) lamp(count int, watts float64) string {
	if count > 1 {
		return w.Phrase("%s lamps of %s in series", strconv.Itoa(count), w.decimal(Plain(watts))+" W")
	}
	return w.Phrase("a lamp of %s", w.decimal(Plain(watts))+" W")
}

// Lamps says what the glow tells: first of the lamp to take, state by state;
// then of every size.
func (w Words) Lamps(r *yokemate.FirstPower) []Table {
	f := w.Locale.Format
	var all []Table
	sizes := w.table("Every usual lamp", "lamp", ">good unit keeps", "good", ">shorted unit keeps", "winding shorted", "what it tells")
	for i := range r.Lamps {
		l := &r.Lamps[i]
		worst := &l.States[0]
		for k := range l.States {
			// The short that shows least is the one to look at.
			if s := &l.States[k]; s.State == yokemate.ShortedWinding && (worst.State != yokemate.ShortedWinding || s.UnitVolts > worst.UnitVolts) {
				worst = s
			}
		}
		sizes.Row(w.lamp(l.Count, l.Watts), f(l.States[0].UnitVolts, "V", 3), w.Glow(l.States[0].Glow), f(worst.UnitVolts, "V", 3), w.Glow(worst.Glow), w.LampVerdict(l.Verdict))
		if l.Count != r.LampCount || l.Watts != r.LampWatts {
			continue
		}
		t := w.table("What its glow tells", "the unit", "the lamp", ">volts on the lamp", ">volts left for the unit", ">amps", "seen")
		for k := range l.States {
			s := &l.States[k]
			seen := w.Phrase("not told from a good one")
			switch {
			case s.State == yokemate.GoodUnit:
				seen = w.Phrase("good: go on")
			case s.Glow != l.States[0].Glow:
				seen = w.Phrase("a fault, by the glow: pull the plug")
			case s.Told:
				seen = w.Phrase("a fault, by the volts: pull the plug")
			}
			t.Row(w.UnitHealth(s), w.Glow(s.Glow), f(s.LampVolts, "V", 3), f(s.UnitVolts, "V", 3), f(s.Amps, "A", 3), seen)
		}
		all = append(all, t)
	}
	return append(all, sizes)
}

// UnitHealth says how well a unit is.
func (w Words) UnitHealth(s *yokemate.LampState) string {
	switch {
	case s.State == yokemate.ShortedWinding:
		return w.Phrase("%s shorted", s.About)
	case s.State == yokemate.ShortedTurns && s.Part < 0.1:
		return w.Phrase("one turn of %s shorted", s.About)
	case s.State == yokemate.ShortedTurns:
		return w.Phrase("%s of the turns of %s shorted", Percent(s.Part), s.About)
	}
	return w.Phrase("good")
}

// Glow says how bright a filament looks.
func (w Words) Glow(g yokemate.Glow) string {
	switch g {
	case yokemate.Dark:
		return w.Phrase("dark")
	case yokemate.Dull:
		return w.Phrase("dull red")
	case yokemate.Half:
		return w.Phrase("half bright")
	}
	return w.Phrase("bright")
}

// LampVerdict says whether a lamp tells a good unit from a shorted one.
func (w Words) LampVerdict(v yokemate.LampVerdict) string {
	switch v {
	case yokemate.TooBigLamp:
		return w.Phrase("too big to tell")
	case yokemate.TooSmallLamp:
		return w.Phrase("too small: a good unit glows")
	}
	return w.Phrase("tells")
}
