package figure

import (
	"math"
	"strings"
	"testing"

	"yokemate/internal/draw"
)

// words lists what a scene says.
func words(s *draw.Scene) string {
	var all []string
	s.Walk(func(it draw.Item, _ []*draw.Group) {
		if x, ok := it.(*draw.Text); ok {
			all = append(all, x.S)
		}
	})
	return strings.Join(all, "|")
}

// sine is a curve of so many values over so many periods.
func sine(name string, top float64, n int, periods, ahead float64) WaveLine {
	l := WaveLine{Name: name}
	for i := range n {
		l.Values = append(l.Values, top*math.Sin(2*math.Pi*periods*float64(i)/float64(n-1)+ahead))
	}
	return l
}

// TestWaves: axes with their units, curves with their names; small currents in
// milliamperes, short times in milliseconds.
func TestWaves(t *testing.T) {
	s, err := Waves(WaveLines{Unit: "A", StepS: 0.02 / 512, Lines: []WaveLine{sine("feed", 0.13, 513, 1, 0), sine("F1/P", 0.06, 513, 1, 0.3)}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	said := words(&s)
	for _, want := range []string{"time / ms", "current / mA", "feed", "F1/P", "100", "20"} {
		if !strings.Contains("|"+said+"|", "|"+want+"|") {
			t.Errorf("the chart does not say %q: %s", want, said)
		}
	}
	golden(t, "waves", &s)
	long, err := Waves(WaveLines{Unit: "V", StepS: 0.01, Lines: []WaveLine{sine("lamp", 17, 401, 5, 0)}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if said := words(&long); !strings.Contains(said, "time / s") || !strings.Contains(said, "volts / V") {
		t.Errorf("the chart says %s", said)
	}
	flux, err := Waves(WaveLines{StepS: 0.01, Lines: []WaveLine{sine("F1", 0.9, 3, 5, 0)}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if said := words(&flux); !strings.Contains(said, "flux, of the rated peak") {
		t.Errorf("the chart says %s", said)
	}
}

// TestWavesKeepPeaks: a curve of many values is thinned, and its narrow peak stays.
func TestWavesKeepPeaks(t *testing.T) {
	l := WaveLine{Name: "pulse", Values: make([]float64, 5001)}
	l.Values[3333] = 40
	s, err := Waves(WaveLines{Unit: "A", StepS: 1e-4, Lines: []WaveLine{l}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if said := words(&s); !strings.Contains(said, "|40|") {
		t.Errorf("the axis does not reach the peak: %s", said)
	}
	points := 0
	least := math.Inf(1)
	s.Walk(func(it draw.Item, at []*draw.Group) {
		p, ok := it.(*draw.Path)
		if !ok || len(at) == 0 || at[len(at)-1].Class != "curve" {
			return
		}
		points += len(p.Segs)
		least = math.Min(least, p.Box().Y0)
	})
	if points > 2*pointsMost || points < 100 || least > 20 {
		t.Errorf("%d points, the highest at %g mm", points, least)
	}
}

func TestWarming(t *testing.T) {
	w := WarmLines{LimitC: 225, Lines: []WaveLine{{Name: "F1/A"}, {Name: "F1/P"}}}
	for i := range 20 {
		w.Seconds = append(w.Seconds, 30*float64(i))
		w.Lines[0].Values = append(w.Lines[0].Values, 105+6*float64(i))
		w.Lines[1].Values = append(w.Lines[1].Values, 105+4*float64(i))
	}
	s, err := Warming(w, Options{})
	if err != nil {
		t.Fatal(err)
	}
	said := words(&s)
	for _, want := range []string{"time / min", "temperature / °C", "F1/A", "limit 225 °C"} {
		if !strings.Contains(said, want) {
			t.Errorf("the chart does not say %q: %s", want, said)
		}
	}
	golden(t, "warming", &s)
	if _, err := Waves(WaveLines{StepS: 1, Lines: []WaveLine{{Name: "none"}}}, Options{}); err != nil {
		t.Errorf("a curve without values: %v", err)
	}
}
