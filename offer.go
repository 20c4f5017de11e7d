package yokemate

// Findings is the answer to a need: offers, best first, and the near misses
// with the reason each was refused.
type Findings struct {
	Offers   []Offer   `json:"offers"`
	Refusals []Refusal `json:"refusals"`
	LeftOut  []string  `json:"left_out,omitempty"` // units and windings that lack facts: what, and the reading that gives it
}

// Offer is a hookup that meets a need.
type Offer struct {
	Hookup      Hookup   `json:"hookup"`
	NoLoadVolts float64  `json:"no_load_volts"`   // the highest rail, nominal mains, cold [V]
	FullLoad    float64  `json:"full_load_volts"` // at the need's amps, nominal mains, cold [V]
	HotVolts    float64  `json:"hot_volts"`       // the same from hot copper [V]
	MaxAmps     float64  `json:"max_amps"`        // after any derating [A]
	LimitedBy   string   `json:"limited_by"`      // the winding that reaches its rating first, as T1/A
	FeedWatts   float64  `json:"feed_watts"`      // at the need's amps [W]
	JointCount  int      `json:"joints"`          // joints of two pins or more
	Units       []string `json:"units"`           // tags
	Isolated    bool     `json:"isolated"`
	Notes       []Note   `json:"notes"`
}

// Refusal is a hookup that looks as if it met the need, and does not.
type Refusal struct {
	Hookup Hookup   `json:"hookup"`
	Why    NoteCode `json:"why"`
	Words  string   `json:"words"`
}
