package waveform

import (
	"math"
	"testing"
	"time"
)

// supply230 is a 6 VA unit, a bridge and a reservoir: an everyday supply.
func supply230() *Circuit {
	c := fed(&Circuit{Nodes: 5}, 230, 0.5).unit(iron(1.4, 2.4, 0.3, 9), 223, 11.92, 240, 1.1, 0, 1, 2)
	c.bridge(1, 2, 3, 4, Silicon(1), 2200e-6)
	c.Sinks = []Sink{{3, 4, 0.25, 0, 0}}
	return c
}

// BenchmarkBesideSciPy measures this package and SciPy in one run: SciPy with
// its Jacobian at the loosest tolerance that still meets 10⁻⁴ of the peak, the
// quickest of its stiff methods. What is wanted is at least 100 times to the
// periodic state from one guess, and 20 times step by step over a period.
func BenchmarkBesideSciPy(b *testing.B) {
	c := supply230()
	s, err := Compile(c)
	if err != nil {
		b.Fatal(err)
	}
	guess := s.Rest()
	guess[0] = -1
	s.SetCapacitor(guess, 0, 14)
	_, x, _, err := s.Periodic(guess, Options{})
	if err != nil {
		b.Fatal(err)
	}
	best := func(f func()) float64 {
		least := math.Inf(1)
		for range 20 {
			begun := time.Now()
			f()
			least = min(least, time.Since(begun).Seconds())
		}
		return least
	}
	probes := []Probe{s.Volts(3, 4), s.WindingAmps(1)}
	periodic := best(func() {
		s, err := Compile(c)
		if err != nil {
			b.Fatal(err)
		}
		if _, _, _, err := s.Periodic(guess, Options{Probes: probes}); err != nil {
			b.Fatal(err)
		}
	})
	stepping := best(func() {
		if _, _, _, err := s.Run(x, 0, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	})
	steady := s.split(x)
	jobs := []*refJob{{Name: "bridge", Circuit: c, Start: s.split(guess), Steady: &steady, Samples: 256, Periods: 1,
		Probes: []refProbe{{"volts", 3, 4}, {"winding", 1, 0}}}}
	var answers []struct {
		Best struct {
			Method              string
			Rtol, Error, Period float64
			Evaluations         int
		}
		Periodic float64
		Periods  int
	}
	reference(b, &answers, jobs, "--bench")
	a := answers[0]
	b.Logf("a period step by step: %.3g ms, SciPy %.4g ms (%s, rtol %g, error %.1e of the peak, %d evaluations): %.0f times",
		1e3*stepping, 1e3*a.Best.Period, a.Best.Method, a.Best.Rtol, a.Best.Error, a.Best.Evaluations, a.Best.Period/stepping)
	b.Logf("to the periodic state: %.3g ms, SciPy %.4g ms (%d periods): %.0f times", 1e3*periodic, 1e3*a.Periodic, a.Periods, a.Periodic/periodic)
	b.ReportMetric(0, "ns/op") // the ratios are all there is to report
	b.ReportMetric(a.Best.Period/stepping, "times-stepping")
	b.ReportMetric(a.Periodic/periodic, "times-periodic")
}

func BenchmarkPeriodic(b *testing.B) {
	c := supply230()
	b.ReportAllocs()
	for b.Loop() {
		s, err := Compile(c)
		if err != nil {
			b.Fatal(err)
		}
		if _, _, _, err := s.Periodic(nil, Options{Probes: []Probe{s.Volts(3, 4), s.WindingAmps(1)}}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPeriod(b *testing.B) {
	s, err := Compile(supply230())
	if err != nil {
		b.Fatal(err)
	}
	_, x, _, err := s.Periodic(nil, Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, _, err := s.Run(x, 0, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
