package identify

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/phys/core"
)

// truth is a unit that nobody has measured yet, and a bench to measure it on.
// Its physics is written apart from the package's: potentials of pins, not
// forms over sections.
type truth struct {
	rng      *rand.Rand
	pins     []string
	wires    [][]int     // pins along each wire, the start end first
	ohms     [][]float64 // of the sections at 20 °C
	volts    [][]float64 // induced in the sections at rated mains
	mains    float64
	va       float64
	drop     complex128 // I₀R over the volts of the mains side
	meter    *yokemate.Meter
	gain     map[string]float64 // per range
	lead     float64
	amp      float64 // error of the 1 A
	warm     float64 // temperature error
	given    []yokemate.Reading
	source   float64
	curve    core.Saturation // of the core, flux 1 at rated mains
	mainsFed int             // readings taken above 25 V
	core     string          // a pin that is joined to the core
	careless bool            // the hand slips now and then
	slips    int
}

// newTruth draws a unit: 2 to 9 pins, 1 to 5 windings, taps, 100, 120 or
// 230 V, 2 to 200 VA.
func newTruth(rng *rand.Rand, maxPins int) *truth {
	t := &truth{rng: rng, meter: yokemate.GenericMeter(), gain: map[string]float64{}}
	t.mains = []float64{100, 120, 230}[rng.IntN(3)]
	t.va = 2 * math.Pow(100, rng.Float64())
	reg := core.Regulation("EI", t.va).Best
	share := reg / (1 + reg) / 1.2 / 2 // cold drop of either side
	type plan struct {
		parts []float64 // sections as shares of the wire's volts
		volts float64
		va    float64
	}
	var plans []plan
	uneven := func() float64 { return 0.2 + 0.6*rng.Float64() }
	like := func() float64 { return 0.5 + 0.004*rng.NormFloat64() } // turns of halves
	switch x := rng.Float64(); {
	case x < 0.60:
		plans = append(plans, plan{[]float64{1}, t.mains, t.va})
	case x < 0.75: // two coils
		plans = append(plans, plan{[]float64{1}, t.mains / 2, t.va / 2}, plan{[]float64{1}, t.mains / 2 * (1 + 0.002*rng.NormFloat64()), t.va / 2})
	case x < 0.9: // a tap
		a := []float64{0.5, 0.435, 0.917, 0.833}[rng.IntN(4)]
		plans = append(plans, plan{[]float64{a, 1 - a}, t.mains, t.va})
	default: // two taps
		plans = append(plans, plan{[]float64{0.45, 0.05, 0.5}, t.mains, t.va})
	}
	seconds := rng.IntN(4)
	if seconds == 0 && len(plans) == 1 && len(plans[0].parts) == 1 {
		seconds = 1
	}
	sum := 0.0
	shares := make([]float64, seconds)
	for i := range shares {
		shares[i] = 0.15 + rng.Float64()
		sum += shares[i]
	}
	standard := []float64{3.3, 5, 6.3, 7.5, 9, 12, 12, 15, 18, 24, 28, 35, 48}
	for i := range seconds {
		p := plan{[]float64{1}, standard[rng.IntN(len(standard))] * (1 + reg), t.va * shares[i] / sum}
		if i == 1 && p.va > 5 && rng.Float64() < 0.15 {
			p.volts = 150 + 200*rng.Float64() // an HT winding
		}
		switch x := rng.Float64(); {
		case x < 0.30:
			h := like()
			p.parts, p.volts = []float64{h, 1 - h}, 2*p.volts
		case x < 0.40:
			a := uneven()
			p.parts = []float64{a, 1 - a}
		case x < 0.45:
			a, b := 0.2+0.3*rng.Float64(), 0.2+0.2*rng.Float64()
			p.parts = []float64{a, b, 1 - a - b}
		}
		plans = append(plans, p)
	}
	n := 0
	var kept []plan
	for _, p := range plans {
		if n+len(p.parts)+1 <= maxPins {
			n += len(p.parts) + 1
			kept = append(kept, p)
		}
	}
	if n < 2 {
		return newTruth(rng, maxPins)
	}
	blank := 0
	if n < maxPins && rng.Float64() < 0.05 {
		blank = 1
	}
	perm := rng.Perm(n + blank)
	for i := range n + blank {
		t.pins = append(t.pins, strconv.Itoa(i+1))
	}
	at := 0
	for i, p := range kept {
		var wire []int
		var ohms, volts []float64
		r := share * p.volts * p.volts / p.va
		if i > 0 {
			r *= math.Exp(0.2 * rng.NormFloat64())
		}
		layer := 0.0
		for k := range len(p.parts) + 1 {
			wire = append(wire, perm[at])
			at++
			if k < len(p.parts) {
				volts = append(volts, p.volts*p.parts[k])
				ohms = append(ohms, r*p.parts[k]*(1+layer))
				layer += 0.01 + 0.03*rng.Float64() // outer layers are longer
			}
		}
		t.wires, t.ohms, t.volts = append(t.wires, wire), append(t.ohms, ohms), append(t.volts, volts)
	}
	q := core.Exciting("EI", t.va).Best * reg / 2.4 * math.Exp(0.3*rng.NormFloat64()) / 2
	pf := 0.25 + 0.35*rng.Float64()
	t.drop = complex(q*pf, q*math.Sqrt(1-pf*pf))
	t.lead = 0.1 + 0.2*rng.Float64()
	t.amp = 0.01 * t.pm()
	t.warm = 2 * t.pm()
	t.source = 12
	t.curve = core.Saturation{S: 1.7 * math.Exp(0.4*rng.NormFloat64()), N: 9 * math.Exp(0.05*rng.NormFloat64())}
	return t
}

func (t *truth) pm() float64 { return 2*t.rng.Float64() - 1 }

// show is what the meter displays for a true value, and the digits.
func (t *truth) show(q yokemate.Quantity, v float64) string {
	if q == yokemate.Ohms && v > 2000*1e4 {
		return "open"
	}
	var best *yokemate.Range
	for i := range t.meter.Ranges {
		r := &t.meter.Ranges[i]
		if r.Quantity == q && v < 0.97*r.Max && (best == nil || r.Max < best.Max) {
			best = r
		}
	}
	if best == nil {
		return "over"
	}
	key := string(q) + strconv.FormatFloat(best.Max, 'g', -1, 64)
	if _, ok := t.gain[key]; !ok {
		t.gain[key] = best.Percent / 100 * t.pm()
	}
	// Uniform over the stated bound, shown in whole counts within it.
	v *= 1 + t.gain[key]
	x := math.Round(v/best.Resolution+best.Counts*t.pm()) * best.Resolution
	if x-v > best.Counts*best.Resolution {
		x -= best.Resolution
	} else if v-x > best.Counts*best.Resolution {
		x += best.Resolution
	}
	if q != yokemate.Millivolts {
		x = math.Max(x, 0)
	}
	decimals := max(0, int(math.Ceil(-math.Log10(best.Resolution)-1e-9)))
	return strconv.FormatFloat(x, 'f', decimals, 64)
}

func (t *truth) pin(name string) int { return slices.Index(t.pins, name) }

// place finds the wire of a pin and how far along it lies.
func (t *truth) place(pin int) (wire, at int) {
	for g, w := range t.wires {
		if k := slices.Index(w, pin); k >= 0 {
			return g, k
		}
	}
	return -1, 0
}

func sum(x []float64, from, to int) float64 {
	s := 0.0
	for _, v := range x[from:to] {
		s += v
	}
	return s
}

// along is the induced volts from the start of the wire to a pin.
func (t *truth) along(pin int, x [][]float64) float64 {
	g, k := t.place(pin)
	return sum(x[g], 0, k)
}

// flux returns the induced volts over rated, and the current's drop per ohm,
// with the source across two pins of a wire.
func (t *truth) flux(a, b int, source float64) (e complex128, perOhm complex128) {
	v := math.Abs(t.along(a, t.volts) - t.along(b, t.volts))
	r := math.Abs(t.along(a, t.ohms) - t.along(b, t.ohms))
	e = complex(source, 0) / (complex(v, 0) * (1 + t.drop))
	sign := 1.0
	if t.along(a, t.volts) > t.along(b, t.volts) {
		sign = -1
	}
	e *= complex(-sign, 0)
	// I₀R over V is the same for every winding fed: I ~ VA/V, R ~ V²/VA.
	return e, e * complex(v, 0) * t.drop / complex(r, 0)
}

// potential is a pin's against the start of its wire.
func (t *truth) potential(pin int, e, perOhm complex128, fa, fb int) complex128 {
	g, k := t.place(pin)
	p := -complex(sum(t.volts[g], 0, k), 0) * e
	ga, ka := t.place(fa)
	_, kb := t.place(fb)
	if g == ga {
		if ka > kb {
			ka, kb = kb, ka
		}
		if k > ka {
			p -= complex(sum(t.ohms[g], ka, min(k, kb)), 0) * perOhm
		}
	}
	return p
}

// take answers a wanted reading as the bench would.
func (t *truth) take(w *yokemate.WantedReading) yokemate.Reading {
	r := w.Reading("")
	r.ID = "r" + strconv.Itoa(len(t.given)+1)
	c := 23.0
	switch w.Quantity {
	case yokemate.Ohms, yokemate.Millivolts:
		r.Celsius = &c
		r.Value = "open"
		if w.To == yokemate.CorePin && t.core != "" {
			g, _ := t.place(t.pin(t.core))
			for _, p := range append(slices.Clone(w.Joined), w.From) {
				if h, _ := t.place(t.pin(p)); h == g {
					r.Value = t.show(w.Quantity, 0.3)
				}
			}
		}
		a, b := t.pin(w.From), t.pin(w.To)
		if a >= 0 && b >= 0 {
			ga, _ := t.place(a)
			gb, _ := t.place(b)
			if ga == gb && ga >= 0 {
				ohms := math.Abs(t.along(a, t.ohms)-t.along(b, t.ohms)) * (234.5 + c + t.warm) / 254.5
				if w.Quantity == yokemate.Millivolts {
					r.Value = t.show(w.Quantity, 1e3*ohms*(1+t.amp))
				} else {
					r.LeadOhms, _ = strconv.ParseFloat(t.leadShown(), 64)
					r.Value = t.show(w.Quantity, ohms+t.lead+0.03*t.rng.NormFloat64())
				}
			}
		}
	case yokemate.VoltsAC:
		source := t.source * (1 + 0.01*t.pm())
		from, to, _ := strings.Cut(w.Excited.Series[0], ":")
		fa, fb := t.pin(from), t.pin(to)
		e, perOhm := t.flux(fa, fb, source)
		p := func(name string) complex128 { return t.potential(t.pin(name), e, perOhm, fa, fb) }
		ga, _ := t.place(t.pin(w.From))
		gb, _ := t.place(t.pin(w.To))
		var v complex128
		if ga == gb {
			v = p(w.From) - p(w.To)
		} else {
			j, k := w.Joined[0], w.Joined[1]
			if g, _ := t.place(t.pin(j)); g != ga {
				j, k = k, j
			}
			v = p(w.From) - p(j) + p(k) - p(w.To)
		}
		r.Value = t.show(yokemate.VoltsAC, cmplx.Abs(v))
		shown, _ := yokemate.Read(t.show(yokemate.VoltsAC, source))
		r.Excited = &yokemate.Excited{Series: w.Excited.Series, Volts: shown, Hertz: 50}
	case yokemate.Megohms:
		r.Value = t.show(yokemate.Megohms, 300+1000*t.rng.Float64())
	case yokemate.AmpsAC:
		source := w.Excited.Volts.V * (1 + 0.01*t.pm())
		if source > 25 {
			t.mainsFed++
		}
		from, to, _ := strings.Cut(w.Excited.Series[0], ":")
		r.Value = t.show(yokemate.AmpsAC, t.idleAmps(t.pin(from), t.pin(to), source))
		shown, _ := yokemate.Read(t.show(yokemate.VoltsAC, source))
		r.Excited = &yokemate.Excited{Series: w.Excited.Series, Volts: shown, Hertz: 50}
	}
	if t.careless {
		switch {
		case w.Quantity == yokemate.Ohms && w.To != yokemate.CorePin && r.Value != "open" && t.rng.Float64() < 1.0/200:
			r.Value = "open"
			t.slips++
		case w.Quantity == yokemate.VoltsAC && t.rng.Float64() < 1.0/100:
			r.Value = t.show(yokemate.VoltsAC, t.source*t.rng.Float64())
			t.slips++
		}
	}
	t.given = append(t.given, r)
	return r
}

func (t *truth) leadShown() string {
	if _, ok := t.gain["lead"]; !ok {
		x, _ := strconv.ParseFloat(t.show(yokemate.Ohms, t.lead), 64)
		t.gain["lead"] = math.Max(x, 0.1)
	}
	return strconv.FormatFloat(t.gain["lead"], 'f', 1, 64)
}

// right reports whether windings, taps and dots are all as they are.
func (t *truth) right(a *yokemate.Identification) (wires, all bool) {
	var found [][]string
	byWire := map[string]int{}
	for _, w := range a.Windings {
		i, ok := byWire[w.Wire]
		if !ok {
			i = len(found)
			byWire[w.Wire] = i
			found = append(found, []string{w.Pins[0]})
		}
		found[i] = append(found[i], w.Pins[1])
	}
	if len(found) != len(t.wires) {
		return false, false
	}
	sense := 0
	all = true
	for _, f := range found {
		g, _ := t.place(t.pin(f[0]))
		if g < 0 || len(t.wires[g]) != len(f) {
			return false, false
		}
		var names []string
		for _, p := range t.wires[g] {
			names = append(names, t.pins[p])
		}
		s := 1
		if !slices.Equal(names, f) {
			slices.Reverse(names)
			s = -1
			if !slices.Equal(names, f) {
				return false, false
			}
		}
		if sense == 0 {
			sense = s
		}
		all = all && s == sense
	}
	return true, all
}

// run asks and answers until nothing more is asked.
func (t *truth) run(opt Options, limit int) (*yokemate.Identification, error) {
	u := &yokemate.Unit{Tag: "T1", Terminals: t.pins}
	for {
		u.Readings = t.given
		a, err := Identify(u, []yokemate.Meter{*t.meter}, opt)
		if err != nil {
			return nil, err
		}
		if a.Next == nil || len(t.given) >= limit {
			return a, nil
		}
		t.take(a.Next)
	}
}

// trueVolts is the terminal volts between two pins at the unit's excitation.
func (t *truth) trueVolts(u *yokemate.Unit, pins [2]string) float64 {
	e := u.Excitation[0]
	from, to := u.Winding(e.Series[0]).Pins[0], u.Winding(e.Series[len(e.Series)-1]).Pins[1]
	fa, fb := t.pin(from), t.pin(to)
	flux, perOhm := t.flux(fa, fb, e.Volts.V)
	return cmplx.Abs(t.potential(t.pin(pins[0]), flux, perOhm, fa, fb) - t.potential(t.pin(pins[1]), flux, perOhm, fa, fb))
}

// idleAmps is the no-load current with a source on two pins.
func (t *truth) idleAmps(a, b int, source float64) float64 {
	e, perOhm := t.flux(a, b, source)
	flux := cmplx.Abs(e)
	return cmplx.Abs(perOhm) * t.curve.RMS(flux) / flux
}

// fedVolts is the rated volts of what the excitation readings were taken on.
func (t *truth) fedVolts() float64 {
	for _, r := range t.given {
		if r.Quantity == yokemate.AmpsAC {
			from, to, _ := strings.Cut(r.Excited.Series[0], ":")
			return math.Abs(t.along(t.pin(from), t.volts) - t.along(t.pin(to), t.volts))
		}
	}
	return 0
}
