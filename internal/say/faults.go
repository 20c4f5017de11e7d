package say

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"yokemate"
)

// Faults says what follows on each fault of a hookup with the fuses of its
// card: when a winding is past its limit, what each fuse does, what protects.
func (w Words) Faults(list []yokemate.CardFault) Table {
	t := w.table("What the fuses do, at the lowest mains", "fault", ">in the winding", ">from the mains", ">past its limit", "fuse in the live wire", "output's own fuse", "what protects")
	for _, f := range list {
		t.Row(w.Fault(&f), f.Winding+" "+w.Locale.Format(f.WindingAmps, "A", 2), w.Locale.Format(f.FeedAmps, "A", 2), w.past(&f),
			w.opening(f.Primary, f.PrimaryS), w.opening(f.Secondary, f.SecondaryS), w.Protects(f.Protects))
	}
	return t
}

// FaultsInShort says the same in few rows: faults of a kind that the same thing
// ends stand in one, with the worst of each. The fuses are the card's, fitted or not.
func (w Words) FaultsInShort(list []yokemate.CardFault) Table {
	t := w.table("What a fault would do, at the lowest mains", "fault, at the lowest mains", ">at most", ">too hot", "what protects, with fuses that would serve")
	var left []yokemate.CardFault
	for ; len(list) > 0; list, left = left, nil {
		var abouts []string
		worst := list[0]
		ends := 0.0
		for _, f := range list {
			if f.Fault != worst.Fault || f.Protects != worst.Protects {
				left = append(left, f)
				continue
			}
			abouts = append(abouts, f.About)
			if f.WindingAmps > worst.WindingAmps {
				worst.Winding, worst.WindingAmps = f.Winding, f.WindingAmps
			}
			if f.LimitS != nil && (worst.LimitS == nil || *f.LimitS < *worst.LimitS) {
				worst.LimitS = f.LimitS
			}
			for _, s := range []*float64{f.PrimaryS, f.SecondaryS} {
				if s != nil && (s == f.SecondaryS) == (f.Protects == yokemate.OwnFuse) {
					ends = max(ends, *s)
				}
			}
		}
		worst.About = strings.Join(abouts, ", ")
		protects := w.Protects(worst.Protects)
		if ends > 0 && (worst.Protects == yokemate.OwnFuse || worst.Protects == yokemate.LiveFuse) {
			protects = w.Phrase("%s, within %s", protects, w.Locale.Format(ends, "s", 2))
		}
		t.Row(w.Fault(&worst), worst.Winding+" "+w.Locale.Format(worst.WindingAmps, "A", 2), w.past(&worst), protects)
	}
	return t
}

// past says when a fault brings a winding past its limit.
func (w Words) past(f *yokemate.CardFault) string {
	switch {
	case f.LimitS != nil:
		return w.Phrase("after %s", w.Locale.Format(*f.LimitS, "s", 2))
	case f.Primary == "yes":
		return w.Phrase("not before it")
	}
	return w.Phrase("never")
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

// Links says at what temperature the thermal links open, units of one together.
func (w Words) Links(list []yokemate.ThermalLink) string {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b yokemate.ThermalLink) int { return cmp.Compare(a.Celsius, b.Celsius) })
	var all strings.Builder
	for i, l := range list {
		all.WriteString(l.Unit)
		if i+1 < len(list) && list[i+1].Celsius == l.Celsius {
			all.WriteString(", ")
			continue
		}
		all.WriteString(" " + strconv.FormatFloat(l.Celsius, 'f', 0, 64) + " °C")
		if i+1 < len(list) {
			all.WriteString("; ")
		}
	}
	return all.String()
}

// LinksWanted says which links are to be there, and why; empty where none is.
func (w Words) LinksWanted(list []yokemate.ThermalLink) string {
	if len(list) == 0 {
		return ""
	}
	return w.Phrase("Thermal link at the winding, in the live wire: %s. No fuse surely saves these units; without it do not leave them unattended.", w.Links(list))
}

// Together says what every output may give when all draw at once; empty where
// none is in another's way.
func (w Words) Together(c *yokemate.LimitsCard) string {
	if c.Together >= 1 || len(c.Outputs) < 2 {
		return ""
	}
	return w.Phrase("All outputs at once: each up to %s of its own amps.", Percent(c.Together))
}
