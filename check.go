package yokemate

// Checks is the answer of a self-check: published numbers beside the ones
// computed by the engine.
type Checks struct {
	Checks []Check `json:"checks"`
}

// Check is one published number. Tolerance bounds |Computed − Published|.
type Check struct {
	ID        string  `json:"id"`
	What      string  `json:"what"`
	Source    string  `json:"source"`
	Unit      string  `json:"unit,omitempty"`
	Published float64 `json:"published"`
	Computed  float64 `json:"computed"`
	Tolerance float64 `json:"tolerance"`
	Pass      bool    `json:"pass"`
}
