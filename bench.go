package yokemate

import (
	"math"
	"time"
)

// Bench is what holds for everything that is done at one bench: its mains, and
// the sources at hand to measure with.
type Bench struct {
	Volts       float64 `json:"volts"`                 // mains, nominal [V]
	Low         float64 `json:"low,omitzero"`          // its lowest [V]; 0: 10 % below
	High        float64 `json:"high,omitzero"`         // its highest [V]; 0: 10 % above
	Hertz       float64 `json:"hertz"`                 // [Hz]
	SourceVolts float64 `json:"source_volts,omitzero"` // of the isolated low AC source [V]; 0: 12
	NoAmpere    bool    `json:"no_ampere,omitzero"`    // there is no 1 A DC supply to read millivolts with
}

// Validate checks the bench.
func (b *Bench) Validate() error {
	const at = "the bench"
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	switch {
	case !(b.Volts >= 50 && b.Volts <= 500):
		return Errorf(Invalid, at, "%g V is no mains voltage", b.Volts).Mend("give what the socket has: 100, 120, 127, 220, 230 or 240 V")
	case !(b.Hertz >= 40 && b.Hertz <= 70):
		return Errorf(Invalid, at, "%g Hz is no mains frequency", b.Hertz).Mend("give 50 or 60 Hz")
	case !finite(b.Low) || !finite(b.High) || b.Low < 0 || b.High < 0 || b.Low > b.Volts || b.High != 0 && b.High < b.Volts:
		return Errorf(Invalid, at, "the limits %g and %g V are not about %g V", b.Low, b.High, b.Volts).Mend("leave them empty for 10 %% below and above")
	case b.SourceVolts != 0 && !(b.SourceVolts > 0 && b.SourceVolts <= 25):
		return Errorf(Invalid, at, "%g V is no low source", b.SourceVolts).Mend("use an isolated AC source of 6 to 12 V, 25 V at most")
	}
	return nil
}

// Sitting is what is read once when work at the bench begins, and goes with the
// readings that follow.
type Sitting struct {
	At       time.Time `json:"at,omitzero"`
	LeadOhms float64   `json:"lead_ohms,omitzero"` // what the touched probes read [Ω]; 0: not told
	Celsius  *float64  `json:"celsius,omitzero"`   // of the units; nil: not told
}

// SittingLasts is how long a sitting holds: after a night the leads may be
// others, and the room is as warm as it is.
const SittingLasts = 12 * time.Hour

// ZeroedLeads is the lead resistance of a meter that takes its own leads off:
// below what any bench meter shows, and above 0, which would stand for the
// figure that the meter is known by [Ω].
const ZeroedLeads = 0.001

// Validate checks the sitting.
func (s *Sitting) Validate() error {
	const at = "the sitting"
	if !(s.LeadOhms >= 0 && s.LeadOhms <= 5) {
		return Errorf(Invalid, at, "%g Ω is not what touched probes read", s.LeadOhms).Mend("press the tips together and read again; below 1 Ω is usual")
	}
	if c := s.Celsius; c != nil && !(*c >= -40 && *c <= 150) {
		return Errorf(Invalid, at, "%g °C is no temperature of a unit at rest", *c).Mend("give the temperature of the room the unit has lain in")
	}
	return nil
}
