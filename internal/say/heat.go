package say

import (
	"math"
	"strconv"

	"yokemate"
)

// minutes says a time of a heat run.
func (w Words) minutes(s float64) string { return strconv.FormatFloat(s/60, 'f', 0, 64) + " min" }

func (w Words) kelvin(v float64) string {
	return w.decimal(strconv.FormatFloat(v, 'f', 1, 64)) + " K"
}

// Heat is the mark of a heat run's verdict.
func (w Words) Heat(verdict string) Mark {
	switch verdict {
	case "continuous":
		return Mark{"go", "●", w.Phrase("Continuous")}
	case "short-time":
		return Mark{"caution", "▲", w.Phrase("Short time")}
	case "no":
		return Mark{"stop", "■", w.Phrase("No")}
	}
	return Mark{"info", "○", w.Phrase("Not yet")}
}

// HeatLead says what a heat run's verdict means.
func (w Words) HeatLead(r *yokemate.HeatRun) string {
	switch r.Verdict {
	case "continuous":
		return w.Phrase("This load may stay on.")
	case "short-time":
		if r.ForS == nil {
			return w.Phrase("This load may not stay on.")
		}
		return w.Phrase("This load may not stay on: from cold no longer than %s.", w.minutes(60*math.Floor(*r.ForS/60)))
	case "no":
		return w.Phrase("This load is too much.")
	}
	return w.Phrase("The readings do not tell yet.")
}

// HeatWhy says why, sentence by sentence.
func (w Words) HeatWhy(r *yokemate.HeatRun) []string {
	var why []string
	for _, s := range r.Why {
		why = append(why, w.Phrase(s))
	}
	return append(why, w.Phrase("Limit of the rise %s: %s.", w.kelvin(r.LimitK), r.Limit))
}

// HeatNext says when to read next, or nothing.
func (w Words) HeatNext(r *yokemate.HeatRun) string {
	if r.NextS == nil {
		return ""
	}
	return w.Phrase("Read next at %s.", w.minutes(*r.NextS))
}

// HeatHow says how hot ohms are read.
func (w Words) HeatHow() string {
	return w.Phrase("For ohms: plug out, capacitors discharged, read within 30 s, plug in again.")
}

// HeatTables says where the run goes and what was read.
func (w Words) HeatTables(r *yokemate.HeatRun) []Table {
	end := w.table("Where it goes", "what", ">so far", "95 % within")
	if r.RiseK != nil {
		high := w.Phrase("without bound")
		if r.HighK != nil {
			high = w.kelvin(*r.HighK)
		}
		end.Row(w.Phrase("final rise"), w.kelvin(*r.RiseK), w.Phrase("%s to %s", w.kelvin(*r.LowK), high))
		end.Row(w.Phrase("time constant"), w.minutes(*r.Tau), w.Phrase("%s to %s", w.minutes(*r.TauLow), w.minutes(*r.TauHigh)))
		end.Row(w.Phrase("over so far"), w.Locale.Format(r.Done, "%", 2), w.Phrase("of the time to 98 % of the final rise"))
	}
	read := w.table("Readings", ">minutes", ">°C", ">rise", ">±, 95 %")
	for _, x := range r.Readings {
		read.Row(strconv.FormatFloat(x.Seconds/60, 'f', 0, 64), w.decimal(strconv.FormatFloat(x.Celsius, 'f', 1, 64)), w.kelvin(x.RiseK), w.kelvin(1.96*x.U))
	}
	return []Table{end, read}
}
