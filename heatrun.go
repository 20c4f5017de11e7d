package yokemate

import (
	"slices"
	"strings"
	"time"
)

// HeatRun is what a heat run says so far: how hot the winding gets at this
// load, and what that allows.
type HeatRun struct {
	Verdict  string        `json:"verdict"`               // continuous, short-time, no or "not yet"
	Why      []string      `json:"why"`                   // sentences
	LimitK   float64       `json:"limit_k"`               // the greatest rise that is allowed [K]
	Limit    string        `json:"limit"`                 // where that is from
	Readings []HeatReading `json:"readings"`              // by time
	RiseK    *float64      `json:"rise_k,omitzero"`       // final; nil while the readings are too few [K]
	LowK     *float64      `json:"low_k,omitzero"`        // 95 % interval of the final rise [K]
	HighK    *float64      `json:"high_k,omitzero"`       // nil while nothing bounds it [K]
	Tau      *float64      `json:"tau_s,omitzero"`        // slow time constant [s]
	TauLow   *float64      `json:"tau_low_s,omitzero"`    // 95 % interval [s]
	TauHigh  *float64      `json:"tau_high_s,omitzero"`   // [s]
	Done     float64       `json:"done"`                  // part of the time to 98 % of the final rise that is over [1]
	NextS    *float64      `json:"next_s,omitzero"`       // when to read next, since the load went on; nil: no need [s]
	ForS     *float64      `json:"short_time_s,omitzero"` // of a short-time rating: from cold until the limit, by the unfavourable end [s]
}

// HeatReading is one reading of a heat run.
type HeatReading struct {
	Seconds float64 `json:"seconds"` // since the load went on
	RiseK   float64 `json:"rise_k"`  // over the air at that time
	U       float64 `json:"u"`       // standard uncertainty of its own [K]
	Celsius float64 `json:"celsius"` // of the winding, or of its outside where that was read
}

// HeatLog is a heat run as it was written down, with its readings as they were
// shown. Begun once, it is never altered; readings are only added.
type HeatLog struct {
	ID       int64     `json:"id,omitzero"`
	Title    string    `json:"title"`               // what was loaded, and with what
	Hookup   string    `json:"hookup,omitempty"`    // the stored hookup that was loaded
	Began    time.Time `json:"began,omitzero"`      // when the load went on
	Cold     string    `json:"cold_ohms,omitempty"` // the winding before, as shown, with its ± where known [Ω]; "": the readings are °C of the unit's outside
	ColdC    float64   `json:"cold_c"`              // its temperature then [°C]
	HottestC float64   `json:"hottest_c"`           // air that the unit will ever stand in [°C]
	Class    string    `json:"class,omitempty"`     // thermal class as printed; "": not known
	BoundK   float64   `json:"thermometer_k"`       // how wrong the thermometer may be [K]
	Meter    string    `json:"meter,omitempty"`     // the ohmmeter; "": the shelf's first
	Entries  []HeatRow `json:"readings"`
}

// HeatRow is one reading of a heat run. One with the minutes of an earlier one
// stands in its place.
type HeatRow struct {
	Minutes float64 `json:"minutes"` // since the load went on
	Shown   string  `json:"shown"`   // ohms or °C, as shown
	AirC    float64 `json:"air_c"`   // beside the unit [°C]
}

// Validate checks the rules that any heat run keeps; what its numbers tell is
// for the judge of heat runs.
func (l *HeatLog) Validate() error {
	const at = "the heat run"
	air := func(c float64) bool { return c >= -40 && c <= 80 }
	switch {
	case strings.TrimSpace(l.Title) == "":
		return Errorf(Invalid, at, "it has no name").Mend("write what is loaded, and with what")
	case !air(l.ColdC):
		return Errorf(Invalid, at, "%g °C is no room", l.ColdC).Mend("give the temperature of the unit before the load goes on")
	case !air(l.HottestC):
		return Errorf(Invalid, at, "%g °C is no air to work in", l.HottestC).Mend("write 40 for a hot day indoors")
	case !(l.BoundK > 0 && l.BoundK <= 30):
		return Errorf(Invalid, at, "a thermometer that may be %g K wrong", l.BoundK).Mend("write 1 for a common thermometer")
	}
	for i := range l.Entries {
		if err := l.Entries[i].Validate(); err != nil {
			return err
		}
	}
	return nil
}

// Validate checks the rules that any reading of a heat run keeps.
func (r *HeatRow) Validate() error {
	const at = "the reading"
	switch {
	case !(r.Minutes > 0 && r.Minutes <= 7*24*60):
		return Errorf(Invalid, at, "%g min is not above 0 and within a week", r.Minutes).Mend("count minutes from when the load went on")
	case strings.TrimSpace(r.Shown) == "":
		return Errorf(Invalid, at, "nothing was typed").Mend("type what the meter shows")
	case !(r.AirC >= -40 && r.AirC <= 80):
		return Errorf(Invalid, at, "%g °C is no air to work in", r.AirC).Mend("give the air beside the unit")
	}
	return nil
}

// Standing are the rows that hold: of two with the same minutes, the later one.
func (l *HeatLog) Standing() []HeatRow {
	var rows []HeatRow
	for i, r := range l.Entries {
		if !slices.ContainsFunc(l.Entries[i+1:], func(o HeatRow) bool { return o.Minutes == r.Minutes }) {
			rows = append(rows, r)
		}
	}
	return rows
}
