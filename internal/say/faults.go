package say

import "yokemate"

// Faults says what follows on each fault of a hookup with the fuses of its
// card: when a winding is past its limit, what each fuse does, what protects.
func (w Words) Faults(list []yokemate.CardFault) Table {
	t := w.table("What the fuses do, at the lowest mains", "fault", ">in the winding", ">from the mains", ">past its limit", "fuse in the live wire", "output's own fuse", "what protects")
	for _, f := range list {
		limit := w.Phrase("never")
		switch {
		case f.LimitS != nil:
			limit = w.Phrase("after %s", w.Locale.Format(*f.LimitS, "s", 2))
		case f.Primary == "yes":
			limit = w.Phrase("not before it")
		}
		t.Row(w.Fault(&f), f.Winding+" "+w.Locale.Format(f.WindingAmps, "A", 2), w.Locale.Format(f.FeedAmps, "A", 2), limit,
			w.opening(f.Primary, f.PrimaryS), w.opening(f.Secondary, f.SecondaryS), w.Protects(f.Protects))
	}
	return t
}

// Fault names a fault of a limits card.
func (w Words) Fault(f *yokemate.CardFault) string {
	switch f.Fault {
	case yokemate.HalfShorted:
		return w.Phrase("half the turns of %s shorted", f.About)
	case yokemate.TurnedRound:
		return w.Phrase("%s the wrong way round", f.About)
	}
	return w.Phrase("a dead short across %s", f.About)
}

// Protects says what surely ends a fault in time.
func (w Words) Protects(p yokemate.Protector) string {
	switch p {
	case yokemate.LiveFuse:
		return w.Phrase("the fuse in the live wire")
	case yokemate.OwnFuse:
		return w.Phrase("the output's own fuse")
	case yokemate.UnitItself:
		return w.Phrase("the unit stands it")
	}
	return w.Phrase("only a thermal link")
}

// opening says whether a fuse opens in time, and by when.
func (w Words) opening(opens string, seconds *float64) string {
	switch {
	case opens == "yes" && seconds != nil:
		return w.Phrase("opens within %s", w.Locale.Format(*seconds, "s", 2))
	case opens == "unsure":
		return w.Phrase("may open too late")
	case opens == "no":
		return w.Phrase("does not open in time")
	}
	return "–"
}

// ThermalLinks says which units want one, and why.
func ThermalLinks(list []yokemate.ThermalLink) []string {
	var all []string
	for _, l := range list {
		all = append(all, l.Why)
	}
	return all
}

// Together says what every output may give when all draw at once; empty where
// none is in another's way.
func (w Words) Together(c *yokemate.LimitsCard) string {
	if c.Together >= 1 || len(c.Outputs) < 2 {
		return ""
	}
	return w.Phrase("All outputs at once: each up to %s of its own amps.", Percent(c.Together))
}
