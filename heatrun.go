package yokemate

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
