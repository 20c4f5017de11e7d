package supply

import (
	"math"

	"yokemate/si"
)

// Common practice, no source.
const (
	CapacitorShare = 0.87 // of its rating that a capacitor stands at, at most [1]
	SafeVolts      = 25.0 // on a reservoir that may be touched [V]
	BleedSeconds   = 60.0 // that it may take to come there [s]
)

// Bleeder is the resistor across a reservoir that brings it from its peak [V]
// down to [SafeVolts] within the given time [s], (S3): the nearest E12 value that
// is not above the bound [Ω], and how long that one takes [s]. Both are 0 where
// the peak is safe as it is.
func Bleeder(farads, peak, seconds float64) (ohms, takes float64) {
	if peak <= SafeVolts {
		return 0, 0
	}
	perOhm := farads * math.Log(peak/SafeVolts)
	most := seconds / perOhm
	ohms = si.Preferred(most, "E12", false)
	if ohms > most {
		ohms = si.Preferred(most/1.2, "E12", false)
	}
	return ohms, ohms * perOhm
}
