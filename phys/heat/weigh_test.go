package heat

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"yokemate"
)

// TestAllowed: 50 K for an unknown unit and 70 K for class B in common air of
// 40 °C (common practice, no source).
func TestAllowed(t *testing.T) {
	for class, want := range map[Class]float64{"": 50, "A": 50, "B": 70} {
		if l, ok := class.Allowed(40); !ok || l.Celsius != want {
			t.Errorf("class %q: %+v, want %g", class, l, want)
		}
	}
	// Hotter air leaves less, by hand: 105 − 15 − 55.
	if l, _ := Class("A").Allowed(55); l.Celsius != 35 {
		t.Errorf("%+v", l)
	}
	if _, ok := Class("Y").Allowed(40); ok {
		t.Error("class Y has no average rise")
	}
}

// ohmsAt makes a log of hot ohms of a winding of 118 Ω at 21 °C.
func ohmsAt(r truth, air float64, minutes ...float64) Log {
	l := Log{Cold: 118, UCold: 0.02, ColdC: 21, UCelsius: 0.3, HottestC: 40}
	for _, m := range minutes {
		hot := 118 * (K + air + r.at(m*60)) / (K + 21)
		l.Readings = append(l.Readings, Read{Seconds: m * 60, Ohms: math.Round(hot*100) / 100, UOhms: 0.02, AirC: air})
	}
	return l
}

func weigh(t *testing.T, l Log) *yokemate.HeatRun {
	t.Helper()
	r, err := Weigh(l)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestWeigh: runs whose end is known, (H14): 42 K, 70 K and one that has just
// begun. The limit is the 50 K of an unknown unit.
func TestWeigh(t *testing.T) {
	cool := truth{8, 240, 34, 3000}
	all := []float64{10, 20, 30, 45, 60, 80, 100, 120, 140, 160, 180}
	r := weigh(t, ohmsAt(cool, 23, all...))
	if r.Verdict != string(Continuous) || math.Abs(*r.RiseK-42) > 1 || *r.LowK > 42 || r.HighK == nil || *r.HighK < 42 || r.NextS != nil || r.ForS != nil {
		t.Errorf("%+v", r)
	}
	if math.Abs(*r.Tau/3000-1) > 0.1 || *r.TauLow > 3000 || *r.TauHigh < 3000 {
		t.Errorf("time constant %g s, %g to %g", *r.Tau, *r.TauLow, *r.TauHigh)
	}
	early := weigh(t, ohmsAt(cool, 23, 5, 10, 15, 20, 25))
	if early.Verdict != string(NotYet) || early.NextS == nil || *early.NextS <= 25*60 {
		t.Errorf("early: %+v", early)
	}
	hot := weigh(t, ohmsAt(truth{10, 240, 60, 3000}, 23, all...))
	if hot.Verdict != string(ShortTime) || hot.ForS == nil || (truth{10, 240, 60, 3000}).at(*hot.ForS) > 50 {
		t.Errorf("hot: %+v", hot)
	}
	// Class B stands what an unknown one does not.
	l := ohmsAt(truth{10, 240, 50, 3000}, 23, all...)
	if v := weigh(t, l).Verdict; v != string(ShortTime) {
		t.Errorf("60 K, unknown: %s", v)
	}
	l.Class = "B"
	if v := weigh(t, l).Verdict; v != string(Continuous) {
		t.Errorf("60 K, class B: %s", v)
	}
	// Three readings bind nothing, unless one is past the limit.
	if r := weigh(t, ohmsAt(cool, 23, 10, 20, 30)); r.Verdict != string(NotYet) || r.RiseK != nil || r.NextS == nil {
		t.Errorf("three: %+v", r)
	}
	if r := weigh(t, ohmsAt(truth{50, 30, 40, 300}, 23, 1)); r.Verdict != string(No) {
		t.Errorf("past at once: %+v", r)
	}
}

// TestWeighOutside: a thermometer outside reads less than the winding, so its
// limit is 15 K lower.
func TestWeighOutside(t *testing.T) {
	r := truth{0, 240, 40, 2400}
	l := Log{UCelsius: 0.2, HottestC: 40}
	for m := 10.0; m <= 180; m += 10 {
		l.Readings = append(l.Readings, Read{Seconds: 60 * m, Celsius: 24 + r.at(60*m), AirC: 24})
	}
	if x := weigh(t, l); x.LimitK != 35 || x.Verdict != string(ShortTime) || !strings.Contains(x.Limit, "15 K") {
		t.Errorf("%+v", x)
	}
}

// TestWeighChanged: a load changed midway is no run of one load, and never
// continuous.
func TestWeighChanged(t *testing.T) {
	l := ohmsAt(truth{8, 240, 34, 3000}, 23, 10, 20, 30, 45, 60, 80, 100, 120)
	for i := range l.Readings[4:] {
		l.Readings[4+i].Ohms -= 12 // as much as 24 K
	}
	x := weigh(t, l)
	if x.Verdict != string(NotYet) || !strings.Contains(strings.Join(x.Why, " "), "curve of one load") {
		t.Errorf("%+v", x)
	}
}

// TestWeighCovers: with errors of the cold reading and its temperature that
// all readings share, the interval holds the final rise in 93 % at least, and a
// run is called continuous wrongly no more than one time in forty.
func TestWeighCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const runs = 1000
	covered, wrong, told := 0, 0, 0
	for range runs {
		r := draw(rng)
		end := r.to98() * (0.34 + 0.66*rng.Float64())
		limit, _ := Class("").Allowed(40)
		scale := limit.Celsius * (0.85 + 0.3*rng.Float64()) / r.final()
		const air, uc, u20, cold = 22.0, 0.5, 0.05, 118.0
		l := Log{Cold: cold + u20*rng.NormFloat64(), UCold: u20, ColdC: air + uc*rng.NormFloat64(), UCelsius: uc, HottestC: 40}
		offset := uc * rng.NormFloat64() // of the air, for the whole run
		for i := range 14 {
			at := end * float64(i+1) / 14
			hot := cold * (K + air + scale*r.at(at)) / (K + air)
			l.Readings = append(l.Readings, Read{Seconds: at, Ohms: hot + u20*rng.NormFloat64(), UOhms: u20, AirC: air + offset + ownShare*uc*rng.NormFloat64()})
		}
		x := weigh(t, l)
		final := scale * r.final()
		if *x.LowK <= final && (x.HighK == nil || final <= *x.HighK) {
			covered++
		}
		switch {
		case x.Verdict == string(Continuous) && final > limit.Celsius:
			wrong++
		case x.Verdict == string(Continuous) || x.Verdict == string(ShortTime):
			told++
		}
	}
	t.Logf("covered %d, wrong %d, told %d of %d", covered, wrong, told, runs)
	if covered < runs*93/100 || wrong > runs/40 || told < runs/6 {
		t.Errorf("covered %d, wrongly continuous %d, told %d of %d", covered, wrong, told, runs)
	}
}

func TestWeighBad(t *testing.T) {
	good := ohmsAt(truth{8, 240, 34, 3000}, 23, 10, 20, 30, 45)
	for name, spoil := range map[string]func(*Log){
		"there are none":         func(l *Log) { l.Readings = nil },
		"twice":                  func(l *Log) { l.Readings[1].Seconds = l.Readings[0].Seconds },
		"mixed":                  func(l *Log) { l.Readings[1].Ohms = 0 },
		"not above 0 and within": func(l *Log) { l.Readings[0].Seconds = 0 },
		"no air":                 func(l *Log) { l.Readings[0].AirC = math.NaN() },
		"which copper":           func(l *Log) { l.Readings[0].Ohms = 900 },
		"no number":              func(l *Log) { l.Readings[0].UOhms = math.NaN() },
		"cold ohms":              func(l *Log) { l.Cold = -1 },
		"cold temperature":       func(l *Log) { l.ColdC = 900 },
		"thermometer":            func(l *Log) { l.UCelsius = 0 },
		"hottest air":            func(l *Log) { l.HottestC = 500 },
		"no limit is known":      func(l *Log) { l.Class = "Q" },
		"no rise":                func(l *Log) { l.HottestC = 79; l.Cold = 0; l.Readings = []Read{{Seconds: 1, Celsius: 20, AirC: 20}} },
	} {
		l := good
		l.Readings = append([]Read(nil), good.Readings...)
		spoil(&l)
		if _, err := Weigh(l); err == nil || !strings.Contains(err.Error(), name) || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
