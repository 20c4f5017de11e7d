package heat

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// truth is a run of two time constants: copper over iron, iron over air.
type truth struct{ a, tauA, b, tauB float64 }

func (r truth) at(t float64) float64 {
	return -r.a*math.Expm1(-t/r.tauA) - r.b*math.Expm1(-t/r.tauB)
}

func (r truth) final() float64 { return r.a + r.b }

// to98 solves the time to 98 % of the final rise.
func (r truth) to98() float64 {
	lo, hi := 0.0, 20*r.tauB
	for range 80 {
		if mid := (lo + hi) / 2; r.at(mid) < 0.98*r.final() {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func draw(rng *rand.Rand) truth {
	final := 25 + 65*rng.Float64()
	share := 0.1 + 0.3*rng.Float64()
	return truth{share * final, 180 + 420*rng.Float64(), (1 - share) * final, 2400 + 6000*rng.Float64()}
}

// logged reads a run at even steps up to a time, with errors of u.
func (r truth) logged(rng *rand.Rand, until float64, n int, u float64) []Logged {
	var log []Logged
	for i := range n {
		t := until * float64(i+1) / float64(n)
		log = append(log, Logged{t, r.at(t) + u*rng.NormFloat64(), u})
	}
	return log
}

// TestFitExact: a run of both time constants, without error, comes back.
func TestFitExact(t *testing.T) {
	var log []Logged
	for i := range 16 {
		s := 600 * float64(i+1)
		log = append(log, Logged{s, truth{12, 300, 48, 4000}.at(s), 0.5})
	}
	f, err := Fit(log)
	if err != nil {
		t.Fatal(err)
	}
	// The grids of τ and τ_A are 3 % and 30 % wide: less than the readings' own 0.5 K.
	if math.Abs(f.Rise-60) > 0.5 || math.Abs(f.Tau/4000-1) > 0.05 || f.Low > 60 || f.High < 60 || f.Used != 16 {
		t.Errorf("%+v", f)
	}
	if math.Abs(f.Done-9600/(to98*f.TauHigh)) > 1e-12 || f.Next <= 9600 {
		t.Errorf("done %g, next at %g s", f.Done, f.Next)
	}
}

// TestFitCovers: over simulated runs that are a third and more of the way to
// 98 %, the 95 % interval holds the final rise in 93 % at least; a run
// is called continuous that is not in no more than one in forty; before
// that, never continuous.
func TestFitCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const runs = 500
	covered, wrong, told, early := 0, 0, 0, 0
	for range runs {
		r := draw(rng)
		part := 0.34 + 0.66*rng.Float64()
		log := r.logged(rng, part*r.to98(), 10+rng.IntN(10), 0.6)
		f, err := Fit(log)
		if err != nil {
			t.Fatal(err)
		}
		if f.Low <= r.final() && r.final() <= f.High {
			covered++
		}
		limit := r.final() * (0.9 + 0.3*rng.Float64())
		switch v, _ := f.Judge(limit, log); {
		case v == Continuous && r.final() > limit:
			wrong++
		case v == Continuous || v == ShortTime:
			told++
		}
		soon := r.logged(rng, 0.2*r.to98(), 8, 0.6)
		if f, err := Fit(soon); err == nil {
			if v, _ := f.Judge(2*r.final(), soon); v == Continuous {
				early++
			}
		}
	}
	t.Logf("covered %d, called continuous wrongly %d, told %d, too early %d of %d", covered, wrong, told, early, runs)
	if covered < runs*93/100 || wrong > runs/40 || told < runs/4 || early > 0 {
		t.Errorf("covered %d, wrongly continuous %d, told %d, too early %d of %d", covered, wrong, told, early, runs)
	}
}

// TestJudge: past the limit it is short-time until the last reading below it,
// or no when that was at once.
func TestJudge(t *testing.T) {
	slow := truth{5, 300, 80, 4000}
	rng := rand.New(rand.NewPCG(3, 4))
	log := slow.logged(rng, 12000, 12, 0.3)
	f, err := Fit(log)
	if err != nil {
		t.Fatal(err)
	}
	v, s := f.Judge(50, log)
	if v != ShortTime || slow.at(s) > 50 {
		t.Errorf("%s for %g s, where it stands at %g K", v, s, slow.at(s))
	}
	if v, _ := f.Judge(95, log); v != Continuous {
		t.Errorf("limit 95 K: %s of %+v", v, f)
	}
	quick := []Logged{{30, 70, 1}, {60, 90, 1}, {90, 100, 1}, {120, 105, 1}}
	if f, err = Fit(quick); err != nil {
		t.Fatal(err)
	}
	if v, _ := f.Judge(60, quick); v != No {
		t.Errorf("above its limit within 30 s: %s", v)
	}
	// Foreseen from below: from 40 of 60 K on the way to some 85.
	first := slow.logged(rng, 3000, 10, 0.3)
	if f, err = Fit(first); err != nil {
		t.Fatal(err)
	}
	if v, s := f.Judge(50, first); v != ShortTime && v != NotYet || v == ShortTime && slow.at(s) > 51 {
		t.Errorf("%s for %g s, where it stands at %g K; %+v", v, s, slow.at(s), f)
	}
}

func TestByOhms(t *testing.T) {
	// Ratio 1.20 from 21 °C is 51 K (common practice, no source).
	l := ByOhms(0, 1.2, 1, 21, 21, 0.002, 0.5)
	if math.Abs(l.Rise-51) > 0.15 {
		t.Errorf("rise %g K", l.Rise)
	}
	// By hand: √((0.002·255.5)² + (0.5·1.2)² + 0.5²).
	if want := math.Sqrt(0.511*0.511 + 0.36 + 0.25); math.Abs(l.U-want) > 1e-9 {
		t.Errorf("u %g K, by hand %g K", l.U, want)
	}
}

func TestFitBad(t *testing.T) {
	if _, err := Fit([]Logged{{1, 1, 1}, {2, 2, 1}, {3, 3, 1}}); !errors.Is(err, ErrFewReadings) {
		t.Errorf("three readings: %v", err)
	}
	for _, bad := range []Logged{{-1, 1, 1}, {1, math.NaN(), 1}, {1, 1, 0}} {
		if _, err := Fit([]Logged{{1, 1, 1}, {2, 2, 1}, {3, 3, 1}, bad}); err == nil {
			t.Errorf("%+v passes", bad)
		}
	}
}
