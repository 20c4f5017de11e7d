package yokemate

import (
	"math"
	"strconv"
	"strings"

	"yokemate/si"
)

// A Quantity is what a meter is set to measure.
type Quantity string

const (
	VoltsAC    Quantity = "volts_ac"
	VoltsDC    Quantity = "volts_dc"
	Millivolts Quantity = "millivolts" // DC millivolts across a winding that carries 1 A: read as milliohms
	Ohms       Quantity = "ohms"
	AmpsAC     Quantity = "amps_ac"
	Watts      Quantity = "watts"
	Megohms    Quantity = "megohms" // with an insulation tester
	Celsius    Quantity = "celsius"
	Kick       Quantity = "kick" // the way a needle swings when a battery is touched to a winding: 1 with it, -1 against it
)

// Meter is an instrument with its accuracy per range.
type Meter struct {
	Name      string  `json:"name"`
	TrueRMS   bool    `json:"true_rms,omitzero"`   // false: average-responding, scaled for a sine
	LeadOhms  float64 `json:"lead_ohms,omitzero"`  // what the touched probes read [Ω]
	InputOhms float64 `json:"input_ohms,omitzero"` // on its volts ranges [Ω]; 0 means 10 MΩ
	Ranges    []Range `json:"ranges"`
}

// Range is one range of a meter: accuracy is ±(Percent % of the reading + Counts × Resolution).
type Range struct {
	Quantity   Quantity `json:"quantity"`
	Max        float64  `json:"max"`        // full scale [unit of the quantity]
	Resolution float64  `json:"resolution"` // one count [unit of the quantity]
	Percent    float64  `json:"percent"`    // gain part, bound [% of reading]
	Counts     float64  `json:"counts"`     // fixed part, bound [counts]
}

// Accuracy is a reading's uncertainty in its two parts. Gain is shared by all
// readings on one range of one meter, so it nearly cancels in their ratio or
// difference; the fixed part is each reading's own. Both are standard
// uncertainties of a rectangular distribution, bound/√3 (JCGM 100:2008, 4.3.7).
type Accuracy struct {
	Gain  float64 // relative [1]
	Fixed float64 // [unit of the reading]
	Group string  // names meter, quantity and range: readings with one Group share their gain error
}

// U is the standard uncertainty of a reading of v [unit of v].
func (a Accuracy) U(v float64) float64 { return math.Hypot(a.Gain*v, a.Fixed) }

// Near the end of a range a meter that ranges itself may have gone up already,
// and one set by hand may stand on either: from this part of full scale up the
// next range is in reach too, and up to the second part the finer one is the
// likelier where the digits speak for it (common practice, no source) [1].
const (
	nearFull = 0.9
	atFull   = 0.95
)

// On returns the accuracy of a reading of about v whose digits and range
// nobody names: that of the smallest range of the quantity that holds it, or
// of the next where that one may have been used and is the less sure.
// ok is false when the meter has no such range.
func (m *Meter) On(q Quantity, v float64) (a Accuracy, ok bool) { return m.Showing(q, v, "") }

// Showing is [Meter.On] for a reading whose digits are known: a digit that the
// coarser range does not have tells them apart.
func (m *Meter) Showing(q Quantity, v float64, digits string) (a Accuracy, ok bool) {
	r := m.RangeShowing(q, v, digits)
	if r == nil {
		return Accuracy{}, false
	}
	return m.Of(r), true
}

// Of is the accuracy of readings on one range of the meter.
func (m *Meter) Of(r *Range) Accuracy {
	return Accuracy{
		Gain:  r.Percent / 100 / math.Sqrt(3),
		Fixed: r.Counts * r.Resolution / math.Sqrt(3),
		Group: m.Name + "/" + string(r.Quantity) + "/" + strconv.FormatFloat(r.Max, 'g', -1, 64),
	}
}

// RangeShowing is the range that a reading of v with these digits was taken
// on; where two may have been, the one that is less sure of v. It is nil when
// the meter has none, and digits may be empty.
func (m *Meter) RangeShowing(q Quantity, v float64, digits string) *Range {
	var low, next *Range
	v = math.Abs(v)
	for i := range m.Ranges {
		r := &m.Ranges[i]
		if r.Quantity != q || v > r.Max {
			continue
		}
		switch {
		case low == nil || r.Max < low.Max:
			low, next = r, low
		case next == nil || r.Max < next.Max:
			next = r
		}
	}
	if low == nil || next == nil || v < nearFull*low.Max {
		return low
	}
	if step := si.Resolution(strings.Replace(digits, ",", ".", 1)); step < 0.99*next.Resolution {
		// Zeros before the point may be the prefix of a kilo-ohm range written out.
		whole := step >= 1 && math.Abs(v/next.Resolution-math.Round(v/next.Resolution)) < 1e-6
		if !whole || v < atFull*low.Max {
			return low
		}
	}
	if m.Of(next).U(v) < m.Of(low).U(v) {
		return low
	}
	return next
}

// Input is the input resistance on the volts ranges [Ω].
func (m *Meter) Input() float64 {
	if m.InputOhms > 0 {
		return m.InputOhms
	}
	return 10e6
}

// GenericMeterName is the name of [GenericMeter].
const GenericMeterName = "generic"

// GenericMeter is the meter a shelf is taken to be read on when it names
// none: a cheap 2000-count multimeter, average-responding, with the accuracy
// such meters commonly state (common practice, no source).
func GenericMeter() *Meter {
	m := &Meter{Name: GenericMeterName, LeadOhms: 0.2, InputOhms: 10e6}
	add := func(q Quantity, percent, counts float64, max ...float64) {
		for _, x := range max {
			m.Ranges = append(m.Ranges, Range{Quantity: q, Max: x, Resolution: x / 2000, Percent: percent, Counts: counts})
		}
	}
	add(VoltsAC, 0.8, 3, 0.2, 2, 20, 200, 2000)
	add(VoltsDC, 0.5, 2, 0.2, 2, 20, 200, 2000)
	add(Ohms, 0.8, 3, 200, 2e3, 20e3, 200e3, 2e6, 20e6)
	add(AmpsAC, 1.2, 3, 0.002, 0.02, 0.2, 2, 20)
	add(Millivolts, 0.5, 2, 200, 2000)
	add(Watts, 1.5, 3, 20, 200, 2000)
	add(Megohms, 5, 3, 20, 200, 2000)
	add(Celsius, 1, 1, 200, 400)
	return m
}

// Validate checks the meter; place names it in an error.
func (m *Meter) Validate(place string) error {
	if strings.TrimSpace(m.Name) == "" {
		return Errorf(Invalid, place, "a meter has no name").Mend("name it, as in \"bench meter\"")
	}
	for _, x := range []float64{m.LeadOhms, m.InputOhms} {
		if x < 0 {
			return Errorf(Invalid, place, "a resistance of meter %s is negative", m.Name).Mend("give ohms of 0 or more")
		}
	}
	for _, r := range m.Ranges {
		if !r.Quantity.known() {
			return Errorf(Invalid, place, "meter %s has a range of unknown quantity %q", m.Name, r.Quantity).Mend("use one of %s", quantities)
		}
		if !(r.Max > 0) || !(r.Resolution > 0) || r.Percent < 0 || r.Counts < 0 {
			return Errorf(Invalid, place, "a %s range of meter %s needs max and resolution above 0, percent and counts of 0 or more", r.Quantity, m.Name).
				Mend("copy them from the meter's manual, as in {\"quantity\": \"volts_ac\", \"max\": 20, \"resolution\": 0.01, \"percent\": 0.8, \"counts\": 3}")
		}
	}
	return nil
}

const quantities = "volts_ac, volts_dc, millivolts, ohms, amps_ac, watts, megohms, celsius, kick"

func (q Quantity) known() bool {
	switch q {
	case VoltsAC, VoltsDC, Millivolts, Ohms, AmpsAC, Watts, Megohms, Celsius, Kick:
		return true
	}
	return false
}

// Unit is the unit symbol the quantity's values are in.
func (q Quantity) Unit() string {
	switch q {
	case VoltsAC, VoltsDC:
		return "V"
	case Millivolts:
		return "mV"
	case Ohms:
		return "Ω"
	case AmpsAC:
		return "A"
	case Watts:
		return "W"
	case Megohms:
		return "MΩ"
	case Celsius:
		return "°C"
	}
	return ""
}
