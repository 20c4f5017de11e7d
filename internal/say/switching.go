package say

import (
	"math"
	"strconv"

	"yokemate"
)

// square says ∫ i² dt, which takes no prefix.
func (w Words) square(v float64) string {
	return w.decimal(strconv.FormatFloat(v, 'g', 3, 64)) + " A²s"
}

// degrees says a point on the wave, to whole degrees.
func degrees(v float64) string { return strconv.FormatFloat(math.Round(v), 'f', -1, 64) + "°" }

// celsius says a temperature, to whole degrees.
func celsius(v float64) string { return strconv.FormatFloat(math.Round(v), 'f', -1, 64) + " °C" }

// span says how long something takes, in the unit that a person would use.
func (w Words) span(seconds float64) string {
	switch {
	case seconds >= 7200:
		return w.Locale.Format(seconds/3600, "h", 2)
	case seconds >= 300:
		return w.Locale.Format(seconds/60, "min", 2)
	}
	return w.Locale.Format(seconds, "s", 2)
}

// part says a pure number to two digits after the point, a zero without a sign.
func (w Words) part(v float64) string {
	if math.Abs(v) < 0.005 {
		v = 0
	}
	return w.decimal(strconv.FormatFloat(v, 'f', 2, 64))
}

// yes says yes, no or unsure.
func (w Words) yes(v string) string {
	switch v {
	case "yes":
		return w.Phrase("yes")
	case "no":
		return w.Phrase("no")
	}
	return w.Phrase("unsure")
}

// after says a time that may not have come.
func (w Words) after(s *float64) string {
	if s == nil {
		return w.Phrase("not while it was followed")
	}
	return w.span(*s)
}

// SwitchOn says where on the wave a hookup was switched on, and what it draws.
func (w Words) SwitchOn(h *yokemate.Hookup, r *yokemate.SwitchOn) string {
	text := w.Phrase("Switched on at %s of the wave, %s, with %s of the rated flux left in the cores.", degrees(r.Degrees), w.Mains(h, r.Mains), w.part(r.Remanence))
	if r.Worst != nil {
		text += " " + w.Phrase("That is the worst point for a fuse; the greatest current of all, %s, comes at %s.", w.Locale.Format(r.Worst.Amps, "A", 3), degrees(r.Worst.AmpsDegrees))
	}
	return text
}

// SwitchOnTables says what the plugs draw, what the fuses make of it, and what
// is asked of the cores.
func (w Words) SwitchOnTables(r *yokemate.SwitchOn) []Table {
	f := w.Locale.Format
	fed := w.table("Current at switch-on", "feed", ">greatest", ">in the end, peak", ">in the end, rms", ">in 10 ms", ">until it has died away", ">which takes")
	peaks := w.table("Greatest current of each period", "feed", ">1", ">2", ">3", ">4", ">5", ">6")
	for _, x := range r.Feed {
		fed.Row(x.Feed, f(x.Amps, "A", 3), f(x.SteadyPeak, "A", 3), f(x.SteadyAmps, "A", 3), w.square(x.Square10), w.square(x.SquareDecay), w.after(x.DecayS))
		cells := []string{x.Feed}
		for i := range len(peaks.Heads) - 1 {
			text := ""
			if i < len(x.Peaks) {
				text = f(x.Peaks[i].Amps, "A", 3)
			}
			cells = append(cells, text)
		}
		peaks.Row(cells...)
	}
	link := w.table("Fuses", "fuse", "link", "carries it", ">opens from", ">surely at")
	for _, x := range r.Fuses {
		most := w.Phrase("not known")
		if x.MeltMost != nil {
			most = w.square(*x.MeltMost)
		}
		link.Row(x.Fuse, w.Fuse(x.Kind, x.Amps), w.yes(x.Carries), w.square(x.MeltLeast), most)
	}
	core := w.table("Flux, of the rated peak", "unit", ">left", ">greatest", ">in the end")
	for _, x := range r.Cores {
		core.Row(x.Unit, w.part(x.Left), w.part(x.Flux), w.part(x.Steady))
	}
	return []Table{fed, peaks, link, core}
}

// WaveTables says what steady waves amount to: their values, what meters show, their
// harmonics, and how the cores are magnetised.
func (w Words) WaveTables(r *yokemate.Waves) []Table {
	f := func(v float64, unit string) string {
		if unit == "" {
			return w.part(v)
		}
		return w.Locale.Format(v, unit, 3)
	}
	is := w.table("Waves", "wave", ">rms", ">mean", ">rectified mean", ">highest", ">lowest", ">form factor", ">crest factor")
	met := w.table("What a meter shows", "wave", ">on DC", ">on AC, true rms", ">on AC, averaging")
	har := w.table("Harmonics, rms", "wave", ">1", ">2", ">3", ">4", ">5", ">6", ">7", ">8", ">9", ">distortion")
	for _, x := range r.Waves {
		form, crest := "", ""
		if x.Form > 0 {
			form, crest = w.decimal(strconv.FormatFloat(x.Form, 'f', 3, 64)), w.decimal(strconv.FormatFloat(x.Crest, 'f', 2, 64))
		}
		// A mean that rounding leaves is none.
		mean := x.Mean
		if math.Abs(mean) < 1e-4*x.RMS {
			mean = 0
		}
		is.Row(x.Of, f(x.RMS, x.Unit), f(mean, x.Unit), f(x.Rectified, x.Unit), f(x.Max, x.Unit), f(x.Min, x.Unit), form, crest)
		if x.Unit == "" {
			continue // no meter reads flux
		}
		met.Row(x.Of, f(mean, x.Unit), f(x.TrueRMS, x.Unit), f(x.Averaging, x.Unit))
		cells := []string{x.Of}
		for _, y := range x.Harmonics {
			v := y.RMS
			if v < 1e-4*x.RMS {
				v = 0
			}
			cells = append(cells, f(v, x.Unit))
		}
		har.Row(append(cells, Percent(x.Distortion))...)
	}
	core := w.table("Magnetisation", "unit", ">flux to one side", ">greatest flux", "seen from", ">exciting current, rms", ">its mean", ">its peak", ">its peak without direct current")
	for _, x := range r.Cores {
		mean := x.Mean
		if math.Abs(mean) < 1e-3*x.Exciting {
			mean = 0
		}
		core.Row(x.Unit, w.part(x.Offset), w.part(x.Flux), x.Winding, f(x.Exciting, "A"), f(mean, "A"), f(x.Peak, "A"), f(x.Without, "A"))
	}
	return []Table{is, met, har, core}
}

// Event is the mark of what a fault comes to.
func (w Words) Event(e yokemate.FaultEvent) Mark {
	switch e {
	case yokemate.WindingEvent:
		return Mark{"stop", "■", w.Phrase("Too hot")}
	case yokemate.FuseEvent:
		return Mark{"caution", "▲", w.Phrase("Fuse opens")}
	}
	return Mark{"info", "○", w.Phrase("Nothing opens")}
}

// FaultLead says what a fault comes to.
func (w Words) FaultLead(r *yokemate.Fault) string {
	at := w.span(r.Seconds)
	switch r.Event {
	case yokemate.WindingEvent:
		return w.Phrase("%s is too hot after %s.", r.Winding, at)
	case yokemate.FuseEvent:
		return w.Phrase("The fuse has opened after %s: %s.", at, r.Fuse)
	}
	if r.Settled {
		return w.Phrase("Neither a fuse nor a winding gives way in %s, and nothing grows hotter.", at)
	}
	return w.Phrase("Neither a fuse nor a winding gives way in %s.", at)
}

// FaultWhere says what was wired and powered.
func (w Words) FaultWhere(h *yokemate.Hookup, r *yokemate.Fault) string {
	if r.Step == "" {
		return w.Phrase("The finished hookup is powered with the slip, %s.", w.Mains(h, r.Mains))
	}
	return w.Phrase("Joint %s is closed on the slip at step %s, and powered, %s.", r.Closed, r.Step, w.Mains(h, r.Mains))
}

// FaultTables says what a fault does to fuses and windings.
func (w Words) FaultTables(r *yokemate.Fault) []Table {
	f := w.Locale.Format
	when := w.table("When", "what", "it is")
	when.Row(w.Phrase("the fuse opens before a winding is too hot"), w.yes(r.FuseOpens))
	when.Row(w.Phrase("the fuse opens at the earliest after"), w.after(r.EarliestS))
	when.Row(w.Phrase("the fuse opens at the latest after"), w.after(r.LatestS))
	when.Row(w.Phrase("the first winding is too hot after"), w.after(r.LimitS))
	when.Row(w.Phrase("from the mains, in the end"), f(r.FeedAmps, "A", 3))
	when.Row(w.Phrase("from the mains, greatest peak"), f(r.FeedPeak, "A", 3))
	win := w.table("Windings in the fault", "winding", ">amps", ">greatest peak", ">at the end", ">limit")
	for _, x := range r.Windings {
		name := x.Winding
		if x.Shorted {
			name = w.Phrase("shorted turns of %s", x.Winding)
		}
		win.Row(name, f(x.Amps, "A", 3), f(x.PeakAmps, "A", 3), celsius(x.Celsius), celsius(x.LimitC))
	}
	return []Table{when, win}
}
