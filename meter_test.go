package yokemate

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Near the end of a range the next one may have been used: the digits tell,
// and in doubt the larger uncertainty stands. 3 counts of 0.01 V are ±0.03 V,
// of 0.1 V ±0.3 V (closed form).
func TestRangeNearItsEnd(t *testing.T) {
	m := GenericMeter()
	for _, c := range []struct {
		q      Quantity
		v      float64
		digits string
		max    float64
		why    string
	}{
		{VoltsAC, 12, "", 20, "far from the end"},
		{VoltsAC, 12, "12", 20, "far from the end, few digits"},
		{VoltsAC, 17.9, "", 20, "just before the last tenth"},
		{VoltsAC, 19.5, "19.50", 20, "a hundredth is no digit of the 200 V range"},
		{VoltsAC, 19.5, "19,50", 20, "a comma is a point"},
		{VoltsAC, 19, "19.00", 20, "zeros that are shown are digits"},
		{VoltsAC, 18.5, "18.5", 200, "the zero that the 20 V range would have shown is missing"},
		{VoltsAC, 19.5, "19.5", 200, "either range shows a tenth, or may have lost its zero"},
		{VoltsAC, 19.5, "", 200, "nothing tells"},
		{VoltsAC, 20.1, "20.1", 200, "beyond the smaller"},
		{Ohms, 1850, "1850", 2e3, "1 Ω is no digit of the 20 kΩ range, and it is not yet at the end"},
		{Ohms, 1950, "1950", 20e3, "1.95 kΩ written out"},
		{Ohms, 1953, "1953", 2e3, "3 Ω is no digit of the 20 kΩ range"},
		{VoltsAC, 1990, "", 2000, "there is no larger range"},
	} {
		r := m.RangeShowing(c.q, c.v, c.digits)
		if r == nil || r.Max != c.max {
			t.Errorf("%s: %g read as %q is taken on %+v, want the range of %g", c.why, c.v, c.digits, r, c.max)
		}
	}
	if a, _ := m.On(VoltsAC, 19.5); math.Abs(a.Fixed-0.3/math.Sqrt(3)) > 1e-12 {
		t.Errorf("19.5 V, range unknown: fixed part %g V", a.Fixed)
	}
	if a, _ := m.Showing(VoltsAC, 19.5, "19.50"); math.Abs(a.Fixed-0.03/math.Sqrt(3)) > 1e-12 {
		t.Errorf("19.50 V: fixed part %g V", a.Fixed)
	}
}

// A coarse range that is nevertheless the surer does not hide the finer one's
// doubt.
func TestCoarserRangeThatIsSurer(t *testing.T) {
	m := Meter{Name: "odd", Ranges: []Range{
		{Quantity: VoltsAC, Max: 10, Resolution: 0.01, Percent: 3, Counts: 5},
		{Quantity: VoltsAC, Max: 100, Resolution: 0.1, Percent: 0.5, Counts: 1},
	}}
	if r := m.RangeShowing(VoltsAC, 9.5, ""); r.Max != 10 {
		t.Errorf("9.5 V is taken on the range of %g V, which is the surer", r.Max)
	}
}

// Without digits nothing is ever surer than on the smallest range that holds
// the reading, and digits never make it less sure.
func TestDoubtOnlyGrows(t *testing.T) {
	m := GenericMeter()
	rapid.Check(t, func(t *rapid.T) {
		v := math.Pow(10, rapid.Float64Range(-2, 3).Draw(t, "decade"))
		var least *Range
		for i := range m.Ranges {
			if r := &m.Ranges[i]; r.Quantity == VoltsAC && v <= r.Max && (least == nil || r.Max < least.Max) {
				least = r
			}
		}
		a, ok := m.On(VoltsAC, v)
		if !ok {
			t.Fatalf("no range for %g V", v)
		}
		if a.U(v) < m.Of(least).U(v) {
			t.Fatalf("%g V is surer than on its own range", v)
		}
		b, _ := m.Showing(VoltsAC, v, rapid.SampledFrom([]string{"", "1.0", "12.34", "100", "x"}).Draw(t, "digits"))
		if b.U(v) > a.U(v) {
			t.Fatalf("digits make %g V less sure", v)
		}
	})
}
