package identify

import (
	"fmt"
	"math"

	"yokemate"
	"yokemate/si"
)

// Presets are meters by class and not by maker, with the accuracy that their
// class commonly states (common practice, no source). A reading may name one;
// better is the user's own, from its manual.
func Presets() []yokemate.Meter {
	list := func(name string, trms bool, counts, dc, ac, ohms, amps float64, digits float64) yokemate.Meter {
		m := yokemate.Meter{Name: name, TrueRMS: trms, LeadOhms: 0.2, InputOhms: 10e6}
		add := func(q yokemate.Quantity, percent, fixed float64, max ...float64) {
			for _, x := range max {
				m.Ranges = append(m.Ranges, yokemate.Range{Quantity: q, Max: x, Resolution: x / counts, Percent: percent, Counts: fixed})
			}
		}
		f := counts / math.Pow(10, math.Floor(math.Log10(counts))) // 2 or 6
		add(yokemate.VoltsAC, ac, digits, 0.1*f, f, 10*f, 100*f, 1000)
		add(yokemate.VoltsDC, dc, digits-1, 0.1*f, f, 10*f, 100*f, 1000)
		add(yokemate.Ohms, ohms, digits, 100*f, 1e3*f, 10e3*f, 100e3*f, 1e6*f, 10e6*f)
		add(yokemate.AmpsAC, amps, digits, 0.001*f, 0.01*f, 0.1*f, f, 10)
		add(yokemate.Millivolts, dc, digits-1, 100*f, 1000*f)
		return m
	}
	return []yokemate.Meter{
		*yokemate.GenericMeter(),
		list("cheap-2000", false, 2000, 0.5, 1.2, 1.0, 1.8, 5),
		list("hand-6000", true, 6000, 0.5, 1.0, 0.9, 1.5, 3),
		list("good-60000", true, 60000, 0.05, 0.4, 0.2, 0.8, 20),
	}
}

func presetMeter(name string) *yokemate.Meter {
	for _, m := range Presets() {
		if m.Name == name {
			return &m
		}
	}
	return nil
}

func presetNames() (names []string) {
	for _, m := range Presets() {
		names = append(names, m.Name)
	}
	return names
}

// Inspection is how sure one reading on one meter is.
type Inspection struct {
	Meter    string            `json:"meter"`
	Quantity yokemate.Quantity `json:"quantity"`
	Value    float64           `json:"value"`
	Range    float64           `json:"range"` // full scale
	Bound    float64           `json:"bound"` // ±, as the meter states it
	U        float64           `json:"u"`     // standard uncertainty
	Low      float64           `json:"low"`   // of the 95 % interval
	High     float64           `json:"high"`
	Shared   float64           `json:"shared"`  // part of U that readings on this range have in common
	Formula  string            `json:"formula"` // with the numbers put in
	TrueRMS  bool              `json:"true_rms"`
}

// Inspect says how sure a reading of v on the meter is (JCGM 100:2008, 4.3.7:
// a stated bound is a rectangle, its standard uncertainty the bound over √3).
// ok is false when the meter has no range for it.
func Inspect(m *yokemate.Meter, q yokemate.Quantity, v float64) (Inspection, bool) {
	a, r := accuracyOf(m, &yokemate.Reading{Quantity: q}, q, v)
	if _, ok := m.On(q, v); !ok || r == nil {
		return Inspection{}, false
	}
	gain, fixed := a.Gain*math.Abs(v), a.Fixed
	u, k := Coverage([]float64{gain, fixed}, nil)
	x := Inspection{Meter: m.Name, Quantity: q, Value: v, Range: r.Max, U: u, Low: v - k*u, High: v + k*u, Shared: gain, TrueRMS: m.TrueRMS}
	x.Bound = r.Percent/100*math.Abs(v) + r.Counts*r.Resolution
	unit := q.Unit()
	x.Formula = fmt.Sprintf("±(%g %% of %s + %g counts of %s) = ±%s; u = √((%s/√3)² + (%s/√3)²) = %s",
		r.Percent, si.Format(v, unit, 4), r.Counts, si.Format(r.Resolution, unit, 2), si.Format(x.Bound, unit, 3),
		si.Format(r.Percent/100*math.Abs(v), unit, 2), si.Format(r.Counts*r.Resolution, unit, 2), si.Format(u, unit, 2))
	return x, true
}
