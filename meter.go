package yokemate

import (
	"math"
	"strconv"
	"strings"
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

// On returns the accuracy of a reading of v, taken on the smallest range of
// the quantity that holds it.
// ok is false when the meter has no such range.
func (m *Meter) On(q Quantity, v float64) (a Accuracy, ok bool) {
	best := m.rangeFor(q, v)
	if best == nil {
		return Accuracy{}, false
	}
	return Accuracy{
		Gain:  best.Percent / 100 / math.Sqrt(3),
		Fixed: best.Counts * best.Resolution / math.Sqrt(3),
		Group: m.Name + "/" + string(q) + "/" + strconv.FormatFloat(best.Max, 'g', -1, 64),
	}, true
}

func (m *Meter) rangeFor(q Quantity, v float64) *Range {
	var best *Range
	for i := range m.Ranges {
		r := &m.Ranges[i]
		if r.Quantity == q && math.Abs(v) <= r.Max && (best == nil || r.Max < best.Max) {
			best = r
		}
	}
	return best
}

// ResolutionOn is one count of the range a reading of v would be taken on
// [unit of the quantity]; 0 when the meter has none.
func (m *Meter) ResolutionOn(q Quantity, v float64) float64 {
	if r := m.rangeFor(q, v); r != nil {
		return r.Resolution
	}
	return 0
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
