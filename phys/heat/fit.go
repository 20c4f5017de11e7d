package heat

import (
	"errors"
	"math"
	"sort"
)

// Logged is one reading of a heat run: how far the winding is above its
// surroundings at a time after the load went on.
type Logged struct {
	Seconds float64 // since the load went on [s]
	Rise    float64 // over the surroundings at that time [K]
	U       float64 // standard uncertainty, above 0 [K]
}

// ByOhms makes a logged reading of a hot resistance [Ω], from the cold one [Ω]
// and its temperature [°C] and the surroundings' at that time [°C], with the
// standard uncertainties of the ratio of the resistances [1] and of either
// temperature [K]. Equation (H3).
func ByOhms(seconds, hot, cold, coldC, ambient, uRatio, uCelsius float64) Logged {
	rise := Rise(hot, cold, coldC, ambient, K)
	ratio := hot / cold
	return Logged{Seconds: seconds, Rise: rise, U: math.Sqrt(math.Pow(uRatio*(K+coldC), 2) + math.Pow(uCelsius*ratio, 2) + uCelsius*uCelsius)}
}

// Run is what a heat run says so far. Low and High are 95 % intervals.
type Run struct {
	Rise, Low, High      float64 // final rise; High is +Inf while the readings do not bound it [K]
	Tau, TauLow, TauHigh float64 // time constant [s]
	Done                 float64 // part of the time to 98 % of the final rise that is over [1]
	Used                 int     // readings; early ones that a single time constant does not fit are left out
	Chi2                 float64 // misfit of those over their degrees of freedom [1]
	Next                 float64 // when to read next, since the load went on [s]
}

// Verdict is what a run allows.
type Verdict string

const (
	Continuous Verdict = "continuous" // the final rise stays below the limit at the unfavourable end
	ShortTime  Verdict = "short-time" // it passes the limit, and not at once
	No         Verdict = "no"         // it is past the limit already, or will be within minutes
	NotYet     Verdict = "not yet"    // the readings do not tell
)

// to98 is the time to 98 % of the final rise over τ [1].
var to98 = math.Log(50)

// enough is the least part of the time to 98 % after which a run may be called
// continuous [1].
const enough = 1.0 / 3

// ErrFewReadings is returned by Fit for fewer than four readings.
var ErrFewReadings = errors.New("a heat run wants at least four readings at different times; go on")

// chi95 is the 95 % point of χ² with one degree of freedom.
const chi95 = 3.841458820694124

// Fit finds the final rise and the slow time constant of a heat run from cold,
// equation (H14): the winding's quick rise over the iron, and the iron's slow
// one over the air. For each pair of time constants the rest is linear; the interval of
// the final rise is that of its likelihood's profile over both, which is as
// skewed as it is early.
func Fit(log []Logged) (Run, error) {
	r := append([]Logged(nil), log...)
	sort.Slice(r, func(i, j int) bool { return r[i].Seconds < r[j].Seconds })
	for i, x := range r {
		if !(x.U > 0) || !(x.Seconds > 0) || math.IsInf(x.Rise, 0) || math.IsNaN(x.Rise) {
			return Run{}, errors.New("a reading has no time after the load went on, no rise or no uncertainty")
		}
		if i > 0 && x.Seconds == r[i-1].Seconds {
			return Run{}, errors.New("two readings have the same time; average them")
		}
	}
	if len(r) < 4 {
		return Run{}, ErrFewReadings
	}
	f := profile(r)
	last := r[len(r)-1].Seconds
	f.Done = last / (to98 * f.TauHigh)
	// The tail tells the end: a quarter of τ later at least, and not past 98 %.
	f.Next = math.Min(last+math.Max(f.Tau/4, 300), math.Max(last+300, to98*f.TauHigh))
	return f, nil
}

// The time constants that a unit on a bench may have: of its iron over the
// air, and of a winding over its iron [s]; and the most that the quick rise is of the slow one [1].
const (
	shortestTau = 300.0
	longestTau  = 8 * 3600.0
	quickestTau = 90.0
	slowQuick   = 1200.0
	quickShare  = 1.0
)

// point is the best fit at one pair of time constants.
type point struct{ tau, rise, u, chi2 float64 }

// line solves the linear part: D and A of θ = D (1 − e^{−t/τ}) + A (1 − e^{−t/τ_A}),
// neither below 0 and A no more than quickShare of D.
func line(r []Logged, slow, quick []float64) (rise, u, chi2 float64) {
	var ss, sq, qq, sy, qy float64
	for i, x := range r {
		w := 1 / (x.U * x.U)
		ss, sq, qq = ss+w*slow[i]*slow[i], sq+w*slow[i]*quick[i], qq+w*quick[i]*quick[i]
		sy, qy = sy+w*slow[i]*x.Rise, qy+w*quick[i]*x.Rise
	}
	det := ss*qq - sq*sq
	d, a := (qq*sy-sq*qy)/det, (ss*qy-sq*sy)/det
	u = math.Sqrt((ss + qq - 2*sq) / det) // of D + A
	if k := clamp(a, d); k >= 0 || !(det > 1e-12*ss*qq) {
		k = math.Max(k, 0)
		m := ss + 2*k*sq + k*k*qq
		d = (sy + k*qy) / m
		a = k * d
		u = (1 + k) / math.Sqrt(m)
	}
	for i, x := range r {
		y := (x.Rise - d*slow[i] - a*quick[i]) / x.U
		chi2 += y * y
	}
	return d + a, u, chi2
}

// clamp is the share A/D that a fit is held to, −1 where it needs no holding.
func clamp(a, d float64) float64 {
	switch {
	case a < 0:
		return 0
	case a > quickShare*d:
		return quickShare
	}
	return -1
}

func profile(r []Logged) Run {
	const slowSteps, quickSteps = 150, 10
	f := Run{Used: len(r)}
	least := math.Inf(1)
	part := func(tau float64) []float64 {
		e := make([]float64, len(r))
		for i, x := range r {
			e[i] = -math.Expm1(-x.Seconds / tau)
		}
		return e
	}
	var quick [quickSteps + 1][]float64
	var quickTau [quickSteps + 1]float64
	for i := range quick {
		quickTau[i] = quickestTau * math.Pow(slowQuick/quickestTau, float64(i)/quickSteps)
		quick[i] = part(quickTau[i])
	}
	var points []point
	for i := range slowSteps + 1 {
		tau := shortestTau * math.Pow(longestTau/shortestTau, float64(i)/slowSteps)
		slow := part(tau)
		for k := range quick {
			if 2*quickTau[k] > tau {
				break // the winding follows its iron, not the other way
			}
			rise, u, chi2 := line(r, slow, quick[k])
			points = append(points, point{tau, rise, u, chi2})
			if chi2 < least {
				least, f.Rise, f.Tau = chi2, rise, tau
			}
		}
	}
	f.Low, f.High, f.TauLow = math.Inf(1), math.Inf(-1), math.Inf(1)
	for _, p := range points {
		// There the final rise may lie where χ² stays within 3.84 of the least.
		left := chi95 - (p.chi2 - least)
		if left < 0 {
			continue
		}
		half := p.u * math.Sqrt(left)
		f.Low, f.High = math.Min(f.Low, p.rise-half), math.Max(f.High, p.rise+half)
		f.TauLow, f.TauHigh = math.Min(f.TauLow, p.tau), math.Max(f.TauHigh, p.tau)
		if p.tau > longestTau*0.999 {
			f.High = math.Inf(1) // the longest τ is as likely as any: nothing bounds the end
		}
	}
	f.Chi2 = least / float64(f.freedom())
	return f
}

// freedom is how many readings there are past what the curve takes.
func (f Run) freedom() int { return max(f.Used-4, 1) }

// misfit reports that the readings lie further off any curve of one run than
// their uncertainty lets them, by four standard deviations of χ²: the load or
// the air was changed, or a reading is wrong. Nothing good follows from such a fit.
func (f Run) misfit() bool { return f.Chi2 > 1+4*math.Sqrt(2/float64(f.freedom())) }

// Judge says what a run allows against the greatest rise [K] that the unit's
// class and its hottest surroundings leave. For a short-time rating, seconds is how long from cold
// until the limit, by the unfavourable end of the interval.
func (f Run) Judge(limit float64, log []Logged) (v Verdict, seconds float64) {
	r := append([]Logged(nil), log...)
	sort.Slice(r, func(i, j int) bool { return r[i].Seconds < r[j].Seconds })
	now, at, until := 0.0, 0.0, 0.0 // until: the last time it was still below
	passed := false
	for _, x := range r {
		at, now = x.Seconds, x.Rise
		passed = passed || x.Rise >= limit
		if !passed {
			until = x.Seconds
		}
	}
	switch {
	case passed && until < shortTime:
		return No, until
	case passed:
		return ShortTime, until
	case f.High <= limit && f.Done >= enough && !f.misfit():
		return Continuous, math.Inf(1)
	case f.Low > limit:
		// From where it is now, on the steepest curve that the interval allows.
		t := at + math.Max(0, -f.TauLow*math.Log1p(-(limit-now)/(math.Min(f.High, 10*limit)-now)))
		if t < shortTime {
			return No, t
		}
		return ShortTime, t
	}
	return NotYet, math.Inf(1)
}

// shortTime is the least time that is worth a short-time rating [s]; common practice.
const shortTime = 120.0
