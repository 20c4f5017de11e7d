package predict_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/network"
)

// bench is a simulated bench: the units as they really are, a meter whose
// every range errs by a gain of its own, and the shelf that this meter read.
type bench struct {
	rng   *rand.Rand
	truth *yokemate.Shelf
	known *yokemate.Shelf
	gain  map[string]float64 // of each range, the same for all its readings
	guess bool               // some facts were never read and are estimates
	mains float64
	hertz float64
}

// benchMeter has ±(percent % + 3 counts) on every range of 4000 counts.
func benchMeter(percent float64) yokemate.Meter {
	m := yokemate.Meter{Name: "bench", LeadOhms: 0.2}
	for _, x := range []struct {
		q   yokemate.Quantity
		max []float64
	}{
		{yokemate.VoltsAC, []float64{0.4, 4, 40, 400}}, {yokemate.Ohms, []float64{400, 4e3, 40e3}},
		{yokemate.AmpsAC, []float64{0.004, 0.04, 0.4, 4, 20}}, {yokemate.Watts, []float64{4, 40, 400}},
	} {
		for _, max := range x.max {
			m.Ranges = append(m.Ranges, yokemate.Range{Quantity: x.q, Max: max, Resolution: max / 4000, Percent: percent, Counts: 3})
		}
	}
	return m
}

// shown is what the meter shows of a true value: its range's gain, an error of
// up to three counts, and the rounding to its digits.
func (b *bench) shown(q yokemate.Quantity, v float64) yokemate.Value {
	var best *yokemate.Range
	for i := range b.known.Meters[0].Ranges {
		if r := &b.known.Meters[0].Ranges[i]; r.Quantity == q && v <= r.Max && (best == nil || r.Max < best.Max) {
			best = r
		}
	}
	if best == nil {
		panic(fmt.Sprintf("%s of %g is over every range", q, v))
	}
	key := fmt.Sprint(q, best.Max)
	if _, ok := b.gain[key]; !ok {
		b.gain[key] = (2*b.rng.Float64() - 1) * best.Percent / 100
	}
	// The counts error includes the rounding: half a count of it.
	x := v*(1+b.gain[key]) + (2*b.rng.Float64()-1)*(best.Counts-0.5)*best.Resolution
	n := math.Round(math.Max(x, 0) / best.Resolution)
	digits := max(0, int(math.Ceil(-math.Log10(best.Resolution))))
	r, err := yokemate.Read(strconv.FormatFloat(n*best.Resolution, 'f', digits, 64))
	if err != nil {
		panic(err)
	}
	return r
}

func (b *bench) between(lo, hi float64) float64 { return lo + (hi-lo)*b.rng.Float64() }

// newBench makes n units for the same mains; guess leaves their excitation
// unread, and the truth is then drawn from what is usual for the size.
func newBench(seed uint64, n int, guess bool) *bench {
	rng := rand.New(rand.NewPCG(seed, 2024))
	b := &bench{rng: rng, gain: map[string]float64{}, guess: guess, mains: 230, hertz: 50}
	if rng.IntN(3) == 0 {
		b.mains, b.hertz = 120, 60
	}
	b.truth = &yokemate.Shelf{Format: yokemate.ShelfFormat}
	b.known = &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: []yokemate.Meter{benchMeter([]float64{0.5, 0.8, 1.2}[rng.IntN(3)])}}
	volts := b.between(6, 36)
	va := 3 * math.Pow(30, rng.Float64())
	for k := range n {
		b.addUnit(fmt.Sprintf("T%d", k+1), va*b.between(0.9, 1.1), volts*b.between(0.98, 1.02))
	}
	return b
}

// addUnit makes a unit: one mains coil or two, a secondary A, perhaps tapped
// into A1 and A2, and perhaps a lighter one B.
func (b *bench) addUnit(tag string, va, volts float64) {
	reg := 0.5 * math.Pow(va, -0.45) * b.between(0.8, 1.2)
	zp := b.mains * b.mains / va
	rp := zp * reg / 2.2
	u := yokemate.Unit{Tag: tag, Mains: &yokemate.Mains{Volts: b.mains, Hertz: b.hertz}}
	coil := func(id, p, q string, v, r, leak float64) *yokemate.Winding {
		w := yokemate.Winding{ID: id, Pins: [2]string{p, q}, Volts: yokemate.Num(v), Ohms: yokemate.Num(r)}
		if leak > 0 {
			w.LeakageMH = yokemate.Num(leak)
		}
		u.Windings = append(u.Windings, w)
		return &u.Windings[len(u.Windings)-1]
	}
	leak := 0.0 // the whole unit's, seen from the mains [mH]
	if b.rng.IntN(2) == 0 {
		leak = 1e3 * zp * b.between(0.01, 0.05) / (2 * math.Pi * b.hertz)
	}
	if b.rng.IntN(2) == 0 {
		half := b.mains / 2 * b.between(0.998, 1.002)
		coil("P1", "1", "2", half, rp/2*b.between(0.95, 1.05), leak/4)
		coil("P2", "3", "4", b.mains-half, rp/2*b.between(0.95, 1.05), leak/4)
		u.Mains.Series = yokemate.Series{"P1", "P2"}
	} else {
		coil("P", "1", "2", b.mains, rp, leak/2)
		u.Mains.Series = yokemate.Series{"P"}
	}
	amps := va / volts
	ratio := volts / b.mains
	switch b.rng.IntN(3) {
	case 0:
		part := b.between(0.3, 0.7)
		coil("A1", "5", "6", volts*part, volts*volts/va*reg/2*part, leak*ratio*ratio/2*part).Amps = yokemate.Num(amps)
		coil("A2", "6", "7", volts*(1-part), volts*volts/va*reg/2*(1-part), leak*ratio*ratio/2*(1-part)).Amps = yokemate.Num(amps)
	case 1:
		light := volts * b.between(0.2, 0.8)
		coil("B", "8", "9", light, light*light/va*reg*2, 0).Amps = yokemate.Num(amps / 4)
		fallthrough
	default:
		coil("A", "5", "6", volts, volts*volts/va*reg/2, leak*ratio*ratio/2).Amps = yokemate.Num(amps)
	}
	idle := 0.45 * math.Pow(va/5, -0.35) * b.between(0.6, 1.4) * va / b.mains
	watts := b.between(0.25, 0.6)*idle*b.mains + idle*idle*rp
	if b.guess {
		idle, watts = b.usual(va, rp)
	}
	u.Excitation = yokemate.ExcitationList{{Series: u.Mains.Series, Volts: yokemate.Num(b.mains), Hertz: b.hertz, Amps: yokemate.Num(idle), Watts: yokemate.Num(watts)}}
	b.truth.Units = append(b.truth.Units, u)
	b.known.Units = append(b.known.Units, b.read(u))
}

// usual draws idle amps and watts from the bands that stand in for readings
// never taken.
func (b *bench) usual(va, rp float64) (idle, watts float64) {
	exc, loss := core.Exciting("EI", va), core.Loss("EI", va)
	guess := exc.Best * va / b.mains
	for {
		idle = guess * math.Exp(exc.LnSigma()*b.rng.NormFloat64())
		watts = (math.Min(loss.Best, 0.8*guess*b.mains) + guess*guess*rp) * math.Exp(loss.LnSigma()*b.rng.NormFloat64())
		if copper := idle * idle * rp; watts > 1.1*copper && watts < 0.95*idle*b.mains {
			return idle, watts
		}
	}
}

// read is a unit as the meter read it.
func (b *bench) read(u yokemate.Unit) yokemate.Unit {
	r := u
	r.Windings = slices.Clone(u.Windings)
	for i, w := range u.Windings {
		r.Windings[i].Volts = b.shown(yokemate.VoltsAC, w.Volts.V)
		r.Windings[i].Ohms = b.shown(yokemate.Ohms, w.Ohms.V)
		if w.Ohms.V < 20 {
			// Few ohms are read as millivolts at an ampere, good to 1 %.
			r.Windings[i].Ohms = b.about(w.Ohms.V, 0.01)
		}
		if w.LeakageMH.Known() {
			r.Windings[i].LeakageMH = b.about(w.LeakageMH.V, 0.05)
		}
	}
	e := u.Excitation[0]
	v := b.shown(yokemate.VoltsAC, b.mains)
	if len(e.Series) == 1 {
		v = r.Winding(e.Series[0]).Volts // the same reading
	}
	r.Excitation = yokemate.ExcitationList{{Series: e.Series, Volts: v, Hertz: e.Hertz, Amps: b.shown(yokemate.AmpsAC, e.Amps.V), Watts: b.shown(yokemate.Watts, e.Watts.V)}}
	if b.guess {
		r.Excitation[0].Amps, r.Excitation[0].Watts = yokemate.Value{}, yokemate.Value{}
	}
	return r
}

// about is a fact known with a relative standard uncertainty.
func (b *bench) about(v, rel float64) yokemate.Value {
	x := v * (1 + rel*b.rng.NormFloat64())
	return yokemate.PlusMinus(x, rel*x, yokemate.Measured)
}

// really compiles the truth, each core saturating as cores do: that is no
// fact of the shelf but a prior of the model, so the truth is drawn from it.
func (b *bench) really() *network.Facts {
	f := network.Compile(b.truth)
	for i := range b.truth.Units {
		u, err := f.Unit(b.truth.Units[i].Tag)
		if err != nil {
			panic(err)
		}
		for i := range u.Params {
			p := &u.Params[i]
			switch {
			case strings.HasSuffix(p.Name, " saturation"):
				p.Value *= math.Exp(p.U * b.rng.NormFloat64())
			case strings.HasSuffix(p.Name, " saturation exponent"):
				p.Value = math.Max(3, p.Value+p.U*b.rng.NormFloat64())
			}
		}
	}
	return f
}

// hookup draws one way to wire the units: kind names it.
func (b *bench) hookup(kind string) *yokemate.Hookup {
	h := &yokemate.Hookup{
		Format: yokemate.HookupFormat, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(b.mains), Low: 0.9 * b.mains, High: 1.1 * b.mains, Hertz: b.hertz, Live: "L", Neutral: "N", FuseAmps: 1, FuseKind: "T"}},
	}
	if b.rng.IntN(2) == 0 {
		// The socket was read, to a few tenths of a per cent.
		h.Feed[0].Volts = yokemate.PlusMinus(b.mains, 0.004*b.mains, yokemate.Measured)
	}
	if b.rng.IntN(3) == 0 {
		h.Feed[0].Ohms = b.between(0.3, 2)
	}
	join := func(name string, pins ...string) {
		for i := range h.Joints {
			if h.Joints[i].Name == name {
				h.Joints[i].Pins = append(h.Joints[i].Pins, pins...)
				return
			}
		}
		h.Joints = append(h.Joints, yokemate.Joint{Name: name, Pins: pins})
	}
	meter := func(name, from, to string) {
		h.Meters = append(h.Meters, yokemate.MeterPoint{Name: name, From: from, To: to})
	}
	ends := func(u *yokemate.Unit) (first, last string) {
		if u.Winding("A1") != nil {
			return u.Tag + ".5", u.Tag + ".7"
		}
		return u.Tag + ".5", u.Tag + ".6"
	}
	for i := range b.truth.Units {
		u := &b.truth.Units[i]
		if len(u.Mains.Series) == 1 {
			join("L", u.Tag+".1")
			join("N", u.Tag+".2")
		} else {
			join("L", u.Tag+".1")
			join("M"+u.Tag, u.Tag+".2", u.Tag+".3")
			join("N", u.Tag+".4")
			meter("half "+u.Tag, "L", "M"+u.Tag)
		}
		join("E", u.Tag+".core")
		if u.Winding("B") != nil {
			join("B"+u.Tag, u.Tag+".8")
			join("C"+u.Tag, u.Tag+".9")
			meter("light "+u.Tag, "B"+u.Tag, "C"+u.Tag)
		}
		if u.Winding("A1") != nil {
			join("T"+u.Tag, u.Tag+".6")
		}
	}
	a := &b.truth.Units[0]
	first, last := ends(a)
	amps := a.Windings[len(a.Windings)-1].Amps.V
	volts := 0.0
	for _, id := range []string{"A", "A1", "A2"} {
		if w := a.Winding(id); w != nil {
			volts += w.Volts.V
		}
	}
	load := func(volts, amps float64) *yokemate.Load {
		share := b.between(0.2, 1)
		switch b.rng.IntN(3) {
		case 0:
			return &yokemate.Load{Amps: amps * share}
		case 1:
			return &yokemate.Load{Ohms: volts / amps / share, Henries: 0.3 * volts / amps / share / (2 * math.Pi * b.hertz)}
		}
		return &yokemate.Load{Ohms: volts / amps / share}
	}
	switch kind {
	case "single", "double primary", "lamp":
		join("A", first)
		join("Z", last)
		h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "Z", Load: load(volts, amps)}}
		if a.Winding("A1") != nil {
			meter("tap", "A", "T"+a.Tag)
		}
		if kind == "lamp" {
			h.Feed[0].Lamp = &yokemate.Lamp{Watts: 40, Volts: b.mains}
			h.Outputs[0].Load = nil
		}
		if kind == "double primary" && len(a.Mains.Series) == 2 {
			// The two coils side by side on half the mains.
			h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(b.mains/2), 0.45*b.mains, 0.55*b.mains
			h.Joints = slices.DeleteFunc(h.Joints, func(j yokemate.Joint) bool {
				return j.Name == "L" || j.Name == "N" || strings.HasPrefix(j.Name, "M")
			})
			h.Meters = slices.DeleteFunc(h.Meters, func(m yokemate.MeterPoint) bool { return strings.HasPrefix(m.Name, "half") })
			join("L", a.Tag+".1", a.Tag+".3")
			join("N", a.Tag+".2", a.Tag+".4")
			for _, v := range b.truth.Units[1:] {
				join("L", v.Tag+".1")
				join("N", v.Tag+"."+v.Winding(v.Mains.Series[len(v.Mains.Series)-1]).Pins[1])
				if len(v.Mains.Series) == 2 {
					join("M"+v.Tag, v.Tag+".2", v.Tag+".3")
				}
			}
		}
	case "parallel":
		for i := range b.truth.Units {
			p, q := ends(&b.truth.Units[i])
			join("A", p)
			join("Z", q)
		}
		h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "Z", Load: load(volts, amps)}}
	case "series", "opposed":
		at := "A"
		for i := range b.truth.Units {
			p, q := ends(&b.truth.Units[i])
			if kind == "opposed" && i == 1 {
				p, q = q, p
			}
			next := "S" + strconv.Itoa(i)
			join(at, p)
			join(next, q)
			at = next
		}
		h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: at}}
		if kind == "series" {
			h.Outputs[0].Load = load(volts*float64(len(b.truth.Units)), amps)
		}
		meter("whole", "A", at)
		meter("lower", "A", "S0")
	case "gap", "reversed gap":
		p, q := ends(a)
		join("A", p)
		join("Z0", q)
		for i := 1; i < len(b.truth.Units); i++ {
			p, q := ends(&b.truth.Units[i])
			if kind == "reversed gap" {
				p, q = q, p
			}
			join("A", p)
			join("Z"+strconv.Itoa(i), q)
			meter("gap "+strconv.Itoa(i), "Z0", "Z"+strconv.Itoa(i))
		}
	case "floating":
		for i := range b.truth.Units {
			p, q := ends(&b.truth.Units[i])
			join("A"+strconv.Itoa(i), p)
			join("Z"+strconv.Itoa(i), q)
			meter("own "+strconv.Itoa(i), "A"+strconv.Itoa(i), "Z"+strconv.Itoa(i))
		}
		if len(b.truth.Units) > 1 {
			meter("ghost", "Z0", "Z1")
		}
		meter("to earth", "A0", "E")
	case "autotransformer":
		// The secondary on top of the mains.
		join("L", first)
		join("Z", last)
		h.Outputs = []yokemate.Output{{Name: "out", From: "Z", To: "N", Load: load(b.mains, amps)}}
	default:
		panic("unknown kind " + kind)
	}
	return h
}

var kinds = []string{"single", "double primary", "lamp", "parallel", "series", "opposed", "gap", "reversed gap", "floating", "autotransformer"}

// lone are the kinds that need one unit only.
var lone = []string{"single", "double primary", "lamp", "autotransformer"}
