package si_test

import (
	"math"
	"slices"
	"testing"

	"yokemate/si"
)

// IEC 60063 as listed at qsl.net/g4usp (Component preferred values); for E48 and
// E96 that list is checked by its beginning and the rounding rule by count.
// ISO 3: from memory, R10 corroborated by the rated currents of IEC 60127-2.
var published = map[string][]float64{
	"E6":  {1.0, 1.5, 2.2, 3.3, 4.7, 6.8},
	"E12": {1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2},
	"E24": {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1},
	"E48": {1.00, 1.05, 1.10, 1.15, 1.21, 1.27},
	"E96": {1.00, 1.02, 1.05, 1.07, 1.10, 1.13, 1.15},
	"R10": {1.00, 1.25, 1.60, 2.00, 2.50, 3.15, 4.00, 5.00, 6.30, 8.00},
	"R20": {1.00, 1.12, 1.25, 1.40, 1.60, 1.80, 2.00, 2.24, 2.50, 2.80, 3.15, 3.55, 4.00, 4.50, 5.00, 5.60, 6.30, 7.10, 8.00, 9.00},
}

var seriesSize = map[string]int{"E6": 6, "E12": 12, "E24": 24, "E48": 48, "E96": 96, "R10": 10, "R20": 20}

func TestSeries(t *testing.T) {
	for name, want := range published {
		got := si.Series(name)
		if len(got) != seriesSize[name] || !slices.Equal(got[:min(len(want), len(got))], want) {
			t.Errorf("Series(%q) = %v, want %d members starting %v", name, got, seriesSize[name], want)
		}
		if !slices.IsSorted(got) {
			t.Errorf("Series(%q) does not ascend", name)
		}
	}
	if s := si.Series("E7"); s != nil {
		t.Errorf("Series of no such name = %v", s)
	}
	// E48 is every second of E96 (IEC 60063).
	e48, e96 := si.Series("E48"), si.Series("E96")
	for i, v := range e48 {
		if e96[2*i] != v {
			t.Errorf("E48[%d] = %v, E96[%d] = %v", i, v, 2*i, e96[2*i])
		}
	}
}

// The members of E24 that are not 10^(i/24) to two digits are these eight
// (closed form), and R10 keeps within 1.3 % of 10^(k/10): ISO 3 rounds 3.162 to
// 3.15 and 6.310 to 6.30; the widest step is 1.259 to 1.25 and 1.585 to 1.60.
func TestSeriesAgainstClosedForm(t *testing.T) {
	var odd []float64
	for i, v := range si.Series("E24") {
		if math.Round(10*math.Pow(10, float64(i)/24)) != math.Round(10*v) {
			odd = append(odd, v)
		}
	}
	if want := []float64{2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2}; !slices.Equal(odd, want) {
		t.Errorf("E24 departs from the formula at %v, want %v", odd, want)
	}
	for _, name := range []string{"R10", "R20"} {
		s := si.Series(name)
		for k, v := range s {
			if exact := math.Pow(10, float64(k)/float64(len(s))); math.Abs(v/exact-1) > 0.013 {
				t.Errorf("%s[%d] = %v, exact %v", name, k, v, exact)
			}
		}
	}
}

func TestPreferred(t *testing.T) {
	tests := []struct {
		v      float64
		series string
		up     bool
		want   float64
	}{
		{4800, "E12", false, 4700},
		{4800, "E12", true, 5600},
		{4700, "E12", true, 4700},
		{0.1 * 47, "E12", true, 4.7}, // 4.7000000000000002
		{9.5, "E6", false, 10},
		{9.5, "E6", true, 10},
		{1.22, "E6", false, 1.0}, // 1.2247 = √1.5 is half way by ratio, 1.25 by difference
		{1.23, "E6", false, 1.5},
		{3900e-6, "E6", true, 4700e-6},
		{0.29, "R10", true, 0.315}, // a fuse of IEC 60127-2
		{0.29, "R10", false, 0.315},
		{2.3, "R20", false, 2.24},
		{113.5, "E96", false, 113},
		{1e-12, "E24", false, 1e-12},
	}
	for _, tt := range tests {
		if got := si.Preferred(tt.v, tt.series, tt.up); got != tt.want {
			t.Errorf("Preferred(%v, %q, %v) = %v, want %v", tt.v, tt.series, tt.up, got, tt.want)
		}
	}
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1)} {
		if got := si.Preferred(v, "E12", true); !math.IsNaN(got) {
			t.Errorf("Preferred(%v) = %v, want NaN", v, got)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("Preferred of an unknown series does not panic")
		}
	}()
	si.Preferred(1, "E7", false)
}
