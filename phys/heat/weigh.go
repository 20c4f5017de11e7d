package heat

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"yokemate"
)

// Log is a heat run as it was written down. Either all readings are hot ohms,
// or all are temperatures.
type Log struct {
	Cold     float64 // ohms of the winding before the load went on; 0 for a log of temperatures [Ω]
	UCold    float64 // its standard uncertainty, which all readings share [Ω]
	ColdC    float64 // temperature of the winding then [°C]
	UCelsius float64 // standard uncertainty of a temperature, above 0 [K]
	UGain    float64 // of the ratio of hot to cold ohms, shared by all: 0 when one range of one meter read both [1]
	Readings []Read
	Class    Class   // "" when it is not known
	HottestC float64 // air that the unit will ever stand in [°C]
}

// Read is a line of the log.
type Read struct {
	Seconds float64 // since the load went on, above 0 [s]
	Ohms    float64 // hot; 0 for a temperature [Ω]
	UOhms   float64 // its own standard uncertainty [Ω]
	Celsius float64 // of the unit's outside, where Ohms is 0 [°C]
	AirC    float64 // at that time [°C]
}

const (
	// outsideK is how far a winding's mean may be above the outside of the unit
	// that a thermometer touches. Common practice, no source.
	outsideK = 15.0
	// ownShare is how much of a thermometer's error is each reading's own; the
	// rest is one for the whole run. Common practice, no source.
	ownShare = 1.0 / 3
	// underRise and underClass keep a run away from the limits: a rise by
	// resistance is a mean, and a part of the winding is hotter. They make the
	// 50 K of an unknown and the 70 K of a class B unit (common practice, no source).
	underRise, underClass = 10.0, 15.0
)

// Allowed is the greatest rise by resistance [K] that a heat run may end at in
// a unit that will stand in air of hottestC [°C].
func (c Class) Allowed(hottestC float64) (Limit, bool) {
	rise, ok := c.DryRise()
	index, ok2 := c.Index()
	if !ok || !ok2 {
		return Limit{}, false
	}
	return Limit{
		Celsius: math.Min(rise.Celsius-underRise, index.Celsius-underClass-hottestC),
		Source: fmt.Sprintf("the lesser of %.0f K less %.0f K (%s) and %.0f °C less %.0f K less air of %g °C (%s); what is taken off is common practice",
			rise.Celsius, underRise, rise.Source, index.Celsius, underClass, hottestC, index.Source),
	}, true
}

// check says what is wrong with the log.
func (l *Log) check() error {
	bad := func(place, words string, args ...any) *yokemate.Error {
		return yokemate.Errorf(yokemate.Invalid, place, words, args...)
	}
	within := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	switch {
	case len(l.Readings) == 0:
		return bad("readings", "there are none").Mend("give minutes since the load went on and what was read")
	case !within(l.HottestC, -40, 80):
		return bad("hottest air", "%g °C is no air to work in", l.HottestC).Mend("write 40 for a hot day indoors")
	case !(l.UCelsius > 0) || l.UCelsius > 20:
		return bad("thermometer", "an uncertainty of %g K is not between 0 and 20", l.UCelsius).Mend("write 1 for a common thermometer")
	case l.Cold != 0 && (!(l.Cold > 0) || math.IsInf(l.Cold, 0) || !(l.UCold >= 0)):
		return bad("cold ohms", "%g Ω is not above 0", l.Cold).Mend("measure the winding before the load goes on")
	case l.Cold != 0 && !within(l.ColdC, -40, 80):
		return bad("cold temperature", "%g °C is no room", l.ColdC).Mend("give the temperature of the unit when the cold ohms were read")
	}
	for i, r := range l.Readings {
		place := Row(i)
		switch {
		case !(r.Seconds > 0) || r.Seconds > 7*24*3600:
			return bad(place, "%g min is not above 0 and within a week", r.Seconds/60).Mend("count minutes from when the load went on")
		case i > 0 && slices.ContainsFunc(l.Readings[:i], func(o Read) bool { return o.Seconds == r.Seconds }):
			return bad(place, "%g min is there twice", r.Seconds/60).Mend("keep one of them")
		case !within(r.AirC, -40, 80):
			return bad(place, "%g °C is no air to work in", r.AirC).Mend("give the air beside the unit")
		case (l.Cold == 0) != (r.Ohms == 0):
			return bad(place, "ohms and temperatures are mixed").Mend("give one kind, and cold ohms for ohms")
		case l.Cold != 0 && !within(r.Ohms/l.Cold, 0.8, 2.5):
			return bad(place, "%g Ω is %.2g times the cold ohms, which copper in a unit is not", r.Ohms, r.Ohms/l.Cold).Mend("check that both are of one winding, free of lead ohms")
		case l.Cold != 0 && !(r.UOhms >= 0):
			return bad(place, "its uncertainty is no number").Mend("leave it out")
		case l.Cold == 0 && !within(r.Celsius, -40, 300):
			return bad(place, "%g °C is no temperature of a unit", r.Celsius).Mend("check the reading")
		}
	}
	return nil
}

// widen is a run's interval with the uncertainty that all its readings share
// [K]. An offset does more to the end than to the readings, the more the
// earlier the run stops, for the curve begins at nothing: the ends of the
// interval are asked of the readings shifted by it.
func widen(f Run, log []Logged, shared float64) (low, high float64) {
	shifted := func(by float64) Run {
		r := slices.Clone(log)
		for i := range r {
			r[i].Rise += by
		}
		return profile(r)
	}
	down := math.Max(shared, f.Low-shifted(-shared).Low)
	up := math.Max(shared, shifted(shared).High-f.High)
	return f.Rise - math.Hypot(f.Rise-f.Low, 1.96*down), f.Rise + math.Hypot(f.High-f.Rise, 1.96*up)
}

// Weigh works a heat run out: the rises, the final rise and the time constant
// with their intervals (H14), and the verdict against what the class allows.
// Errors of the cold reading, of the meter's gain and most of the thermometer's
// are one for all readings, so they widen the interval of the end and tell
// nothing of the curve.
func Weigh(l Log) (*yokemate.HeatRun, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	limit, ok := l.Class.Allowed(l.HottestC)
	if !ok {
		return nil, yokemate.Errorf(yokemate.Invalid, "class", "no limit is known for thermal class %q", string(l.Class)).Mend("use A, E, B, F, H, N or R, or leave it out for an unknown one")
	}
	out := &yokemate.HeatRun{LimitK: limit.Celsius, Limit: limit.Source, Why: []string{}}
	if l.Cold == 0 {
		out.LimitK -= outsideK
		out.Limit += fmt.Sprintf("; less %.0f K, for a thermometer outside reads less than the winding is", outsideK)
	}
	if !(out.LimitK > 0) {
		return nil, yokemate.Errorf(yokemate.Invalid, "hottest air", "air of %g °C leaves this class no rise", l.HottestC).Mend("give the hottest air that the unit will stand in")
	}
	var log []Logged
	sorted := slices.Clone(l.Readings)
	slices.SortFunc(sorted, func(a, b Read) int { return cmp.Compare(a.Seconds, b.Seconds) })
	for _, r := range sorted {
		x := Logged{Seconds: r.Seconds}
		celsius := r.Celsius
		if l.Cold != 0 {
			celsius = ByResistance(r.Ohms, l.Cold, l.ColdC, K)
			x.U = math.Hypot(r.UOhms/l.Cold*(K+l.ColdC), ownShare*l.UCelsius)
		} else {
			x.U = math.Sqrt2 * ownShare * l.UCelsius
		}
		x.Rise = celsius - r.AirC
		log = append(log, x)
		out.Readings = append(out.Readings, yokemate.HeatReading{Seconds: x.Seconds, RiseK: x.Rise, U: x.U, Celsius: celsius})
	}
	last := log[len(log)-1]
	most := last.Rise
	for _, x := range log {
		most = math.Max(most, x.Rise)
	}
	say := func(words string, args ...any) { out.Why = append(out.Why, fmt.Sprintf(words, args...)) }

	f, err := Fit(log)
	switch {
	case errors.Is(err, ErrFewReadings):
		// A reading past the limit needs no fit.
		v, seconds := Run{}.Judge(out.LimitK, log)
		out.Verdict = string(v)
		say("%d of the four readings that a curve needs are there.", len(log))
		if v == ShortTime || v == No {
			say("The rise has been %.1f K already, the limit is %.0f K.", most, out.LimitK)
		}
		if v == ShortTime {
			out.ForS = &seconds
		}
		if v == NotYet {
			next := last.Seconds + 600
			out.NextS = &next
		}
		return out, nil
	case err != nil:
		return nil, yokemate.Errorf(yokemate.Invalid, "readings", "%v", err)
	}
	// What all readings share: the air's temperature and the outside's; or the
	// air's, the cold one's, and the cold ohms, at the final rise.
	shared := math.Sqrt2 * l.UCelsius
	if l.Cold != 0 {
		ratio := (K + sorted[len(sorted)-1].AirC + f.Rise) / (K + l.ColdC)
		ohms := (K + l.ColdC) * math.Hypot(l.UCold/l.Cold, l.UGain)
		shared = math.Hypot(l.UCelsius, ratio*math.Hypot(ohms, l.UCelsius))
	}
	f.Low, f.High = widen(f, log, shared)
	v, seconds := f.Judge(out.LimitK, log)
	out.Verdict, out.Done = string(v), f.Done
	out.RiseK, out.LowK, out.Tau, out.TauLow, out.TauHigh = &f.Rise, &f.Low, &f.Tau, &f.TauLow, &f.TauHigh
	if !math.IsInf(f.High, 1) {
		out.HighK = &f.High
	}
	switch v {
	case Continuous:
		say("Even the unfavourable end of the interval, %.1f K, is below the limit of %.0f K. That holds for this load, these mains and this box.", f.High, out.LimitK)
	case ShortTime, No:
		if most >= out.LimitK {
			say("The rise has been %.1f K already, the limit is %.0f K.", most, out.LimitK)
		} else {
			say("Even the favourable end of the interval, %.1f K, is above the limit of %.0f K.", f.Low, out.LimitK)
		}
		if v == No {
			say("It gets there within minutes, which is too soon for a short-time rating.")
		} else {
			out.ForS = &seconds
			say("From cold it stays below the limit for that long; then it must cool down to the air again.")
		}
	case NotYet:
		switch {
		case f.misfit():
			say("The readings do not lie on the curve of one load: they are further off it than their uncertainty. Was the load or the air changed, or a reading late?")
		case f.High <= out.LimitK:
			say("No more than %.0f %% of the time to 98 %% of the final rise is over; a third at least is wanted.", 100*f.Done)
		case out.HighK == nil:
			say("The readings do not bound the final rise yet; the limit is %.0f K.", out.LimitK)
		default:
			say("The final rise may be anywhere from %.1f K to %.1f K; the limit is %.0f K.", f.Low, f.High, out.LimitK)
		}
		out.NextS = &f.Next
	}
	return out, nil
}
