package yokemate

// Matches is the answer to which windings may share a load in parallel.
type Matches struct {
	Pairs []Pair `json:"pairs"`
	Notes []Note `json:"notes,omitempty"`
}

// Pair is two windings weighed against each other.
type Pair struct {
	A               string     `json:"a"` // as T1/A
	B               string     `json:"b"`
	GapVolts        float64    `json:"gap_volts"` // with like ends joined [V]
	Low             float64    `json:"low"`       // of GapVolts, meter included
	High            float64    `json:"high"`
	Mismatch        float64    `json:"mismatch"`         // gap over the smaller winding's volts [1]
	CirculatingAmps float64    `json:"circulating_amps"` // joined, with no load [A]
	CirculatingLow  float64    `json:"circulating_low"`
	CirculatingHigh float64    `json:"circulating_high"`
	CirculatingPart float64    `json:"circulating_share"` // of the smaller rating [1]
	Share           [2]float64 `json:"share"`             // of the load current at MaxAmps [1]
	MaxAmps         float64    `json:"max_amps"`          // load where the first reaches its rating [A]
	RatedAmps       float64    `json:"rated_amps"`        // both ratings together [A]
	Verdict         Level      `json:"verdict"`           // go, caution or stop
	DecidedBy       string     `json:"decided_by"`        // the rule with the numbers put in
	Mend            []string   `json:"mend,omitempty"`    // what would better it
	Notes           []Note     `json:"notes,omitempty"`
}
