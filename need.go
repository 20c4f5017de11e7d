package yokemate

// Need is the wanted output.
type Need struct {
	Format    string  `json:"format"`
	Name      string  `json:"name,omitempty"`
	Kind      string  `json:"kind"`               // "ac" or "dc"
	Volts     float64 `json:"volts"`              // at Amps and nominal mains, each rail by itself [V]
	Tolerance float64 `json:"tolerance,omitzero"` // as a fraction of Volts; 0 means 0.05
	Amps      float64 `json:"amps"`               // [A]
	Isolated  *bool   `json:"isolated,omitzero"`  // nil means true
	Feed      Feed    `json:"feed"`
	Rails     int     `json:"rails,omitzero"`     // 1 or 2; 0 means 1
	MaxUnits  int     `json:"max_units,omitzero"` // 0 means 4
	Regulated bool    `json:"regulated,omitzero"`
}

// MustIsolate reports whether the output may not be joined to the mains; so
// it is unless the need says otherwise.
func (n *Need) MustIsolate() bool { return n.Isolated == nil || *n.Isolated }

// Validate checks the need against the rules of its format and fills in the
// defaults that its zero values stand for.
func (n *Need) Validate() error {
	if n.Format != NeedFormat {
		return formatError(n.Format, NeedFormat)
	}
	if n.Kind != "ac" && n.Kind != "dc" {
		return Errorf(Invalid, "kind", "%q is neither ac nor dc", n.Kind).Mend("write \"kind\": \"ac\"")
	}
	if !(n.Volts > 0) || n.Volts > 1000 {
		return Errorf(Invalid, "volts", "the wanted volts must lie above 0 and are at most 1000").Mend("give the volts wanted under load")
	}
	if !(n.Amps > 0) {
		return Errorf(Invalid, "amps", "the wanted amps must be above 0").Mend("give the current the load draws")
	}
	if n.Tolerance < 0 || n.Tolerance >= 1 {
		return Errorf(Invalid, "tolerance", "it is a fraction from 0 to 1").Mend("write 0.05 for 5 %%")
	}
	if n.Rails < 0 || n.Rails > 2 {
		return Errorf(Invalid, "rails", "there are 1 or 2 rails").Mend("write 1 or 2")
	}
	if n.MaxUnits < 0 || n.MaxUnits > 8 {
		return Errorf(Invalid, "max_units", "%d units is out of range", n.MaxUnits).Mend("write a number from 1 to 8")
	}
	if n.Feed.Live == "" && n.Feed.Neutral == "" {
		n.Feed.Live, n.Feed.Neutral = "L", "N"
	}
	h := Hookup{Format: HookupFormat, Joints: Joints{{n.Feed.Live, []string{"x.1"}}, {n.Feed.Neutral, []string{"x.2"}}}}
	h.Feed = Feeds{n.Feed}
	if err := n.Feed.validate(&h, 0); err != nil {
		return err
	}
	if n.Tolerance == 0 {
		n.Tolerance = 0.05
	}
	if n.Rails == 0 {
		n.Rails = 1
	}
	if n.MaxUnits == 0 {
		n.MaxUnits = 4
	}
	return nil
}
