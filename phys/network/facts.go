package network

import (
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/si"
)

// Facts is a shelf compiled for solving: per unit, the numbers the equations
// need, and how well each is known. It is read-only once made, so many
// networks may share it.
type Facts struct {
	Shelf *yokemate.Shelf
	units map[string]*Unit
	errs  map[string]error
}

// Unit is one unit's facts. Params holds the values as given (volts, ohms,
// idle amps …) with their uncertainties; the equations' coefficients follow
// from them by [Unit.coefficients].
type Unit struct {
	Tag      string
	Source   *yokemate.Unit
	Windings []*yokemate.Winding // those with volts and ohms; index w below
	Missing  map[string]error    // id of a winding that cannot be predicted → the reading to take
	Params   []Param
	Limits   []Limit // what each winding may carry
	VA       float64 // rating of the unit, label or estimate [VA]
	VABasis  yokemate.Basis
	Hertz    float64  // f₀, of the excitation [Hz]
	Rated    Rating   // label; zero when unknown
	Guessed  []string // facts that are estimates, in words

	excited []int   // windings in the excitation's series
	points  []point // further points of the excitation curve
}

// Rating is what the label stands on.
type Rating struct {
	Volts, Hertz float64 // 0 when unknown
	series       []int
}

// Param is one fact that is uncertain.
type Param struct {
	Name  string
	Value float64
	U     float64 // its own standard uncertainty [unit of Value]; of ln Value where Log is set
	Gain  float64 // relative uncertainty shared within Group [1]
	Group string  // meter range whose gain error it shares; empty: none
	Log   bool    // moves by a factor, not by a sum
}

// Limit is what a winding may carry.
type Limit struct {
	Amps  float64 // [A]; NaN when nothing is known
	U     float64 // standard uncertainty [A]
	Basis yokemate.Basis
}

// Low is the low end of its 95 % interval [A]. A rating is more than nothing, so
// its doubt is a factor; where that is small it is the usual 1.96 U.
func (l Limit) Low() float64 { return l.Amps * math.Exp(-1.96*l.U/l.Amps) }

type point struct{ x, q float64 } // flux and reactive amperes relative to the first reading

// The order of a unit's params: three a winding, then these.
const (
	pExcVolts = iota
	pExcAmps
	pExcWatts
	pLnKappa
	pExponent
	pModelQ // ln of a factor on magnetisation: the model's own error
	pCapWinding
	pCapPair
	pCapCore
	pTail
)

// Capacitances are known to a factor of three (common practice, no source).
const (
	windingFarads = 100e-12 // winding to its core [F]
	pairFarads    = 50e-12  // winding to winding of one unit [F]
	coreFarads    = 100e-12 // core to neutral when it is not bonded [F]
	strayFarads   = 1e-12   // of a lead that reaches nothing, to neutral [F]
	factorOfThree = 0.5493  // ln 3 / 2: a 95 % interval of a factor of three either way
)

// Compile reads the facts of every unit of the shelf. A unit that cannot be
// compiled keeps its error until a hookup asks for it.
func Compile(s *yokemate.Shelf) *Facts {
	f := &Facts{Shelf: s, units: map[string]*Unit{}, errs: map[string]error{}}
	for i := range s.Units {
		u, err := compileUnit(&s.Units[i], s.Meter())
		if err != nil {
			f.errs[s.Units[i].Tag] = err
			continue
		}
		f.units[u.Tag] = u
	}
	return f
}

// Unit returns the compiled unit, or the reason there is none.
func (f *Facts) Unit(tag string) (*Unit, error) {
	if u, ok := f.units[tag]; ok {
		return u, nil
	}
	if err, ok := f.errs[tag]; ok {
		return nil, err
	}
	return nil, yokemate.Errorf(yokemate.NotFound, tag, "there is no such unit on the shelf").Mend("check the tag")
}

func compileUnit(src *yokemate.Unit, meter *yokemate.Meter) (*Unit, error) {
	u := &Unit{Tag: src.Tag, Source: src, Missing: map[string]error{}}
	var pVolts, pOhms []Param
	for i := range src.Windings {
		w := &src.Windings[i]
		at := src.Tag + "/" + w.ID
		switch {
		case !w.Volts.Known():
			u.Missing[w.ID] = yokemate.Errorf(yokemate.Invalid, at+" volts", "without its no-load volts this winding cannot be predicted").
				Mend("feed the unit as for its other windings and read volts between pins %s and %s", w.Pins[0], w.Pins[1])
			continue
		case !w.Ohms.Known():
			u.Missing[w.ID] = yokemate.Errorf(yokemate.Invalid, at+" ohms", "without its resistance this winding cannot be predicted").
				Mend("read ohms between pins %s and %s, or millivolts at 1 A if it is too low", w.Pins[0], w.Pins[1])
			continue
		}
		u.Windings = append(u.Windings, w)
		pVolts = append(pVolts, paramOf(at+" volts", w.Volts, yokemate.VoltsAC, meter))
		pOhms = append(pOhms, paramOf(at+" ohms", w.Ohms, yokemate.Ohms, meter))
	}
	if len(u.Windings) == 0 {
		for _, w := range src.Windings {
			return nil, u.Missing[w.ID]
		}
		return nil, yokemate.Errorf(yokemate.Invalid, src.Tag, "nothing is known of its windings yet, so nothing can be predicted of it").Mend("see what to read first with \"yokemate identify %s\"", src.Tag)
	}
	for i, w := range u.Windings {
		leak := Param{Name: src.Tag + "/" + w.ID + " leakage", Value: w.LeakageMH.V * 1e-3, U: w.LeakageMH.U * 1e-3}
		if w.LeakageMH.Known() && w.LeakageMH.Basis == yokemate.AsRead {
			leak.U = 0.05 * leak.Value // an inductance from a short-circuit reading, common practice
		}
		u.Params = append(u.Params, pVolts[i], pOhms[i], leak)
	}
	// A label's volts that stand on no winding yet rate nothing.
	if m := src.Mains; m != nil && len(m.Series) > 0 {
		s, err := u.series(src.Tag+" mains", m.Series)
		if err != nil {
			return nil, err
		}
		u.Rated = Rating{Volts: m.Volts, Hertz: m.Hertz, series: s}
	}
	if err := u.compileExcitation(meter); err != nil {
		return nil, err
	}
	u.compileLimits()
	return u, nil
}

// paramOf gives a fact its uncertainty: its own where stated, else the
// meter's for a reading of that size.
func paramOf(name string, v yokemate.Value, q yokemate.Quantity, m *yokemate.Meter) Param {
	p := Param{Name: name, Value: v.V, U: v.U}
	if v.Basis != yokemate.AsRead {
		return p
	}
	if on := m.RangeShowing(q, v.V, v.Digits); on != nil {
		a := m.Of(on)
		p.U, p.Gain, p.Group = a.Fixed, a.Gain, a.Group
		// The shelf that names no meter may have been read on a finer one
		// than the generic: the digits shown say so, within a factor of ten.
		if r := si.Resolution(v.Digits); m.Name == yokemate.GenericMeterName && r > 0 {
			if r < on.Resolution {
				p.U *= math.Max(r/on.Resolution, 0.1)
			}
		}
	} else {
		p.U = 0.02 * math.Abs(v.V)
	}
	return p
}

func (u *Unit) index(id string) int {
	return slices.IndexFunc(u.Windings, func(w *yokemate.Winding) bool { return w.ID == id })
}

// Index returns the place of a winding among the unit's, or -1.
func (u *Unit) Index(id string) int { return u.index(id) }

func (u *Unit) series(at string, ids []string) ([]int, error) {
	var s []int
	for _, id := range ids {
		w := u.index(id)
		if w < 0 {
			if err := u.Missing[id]; err != nil {
				return nil, err
			}
			return nil, yokemate.Errorf(yokemate.Invalid, at, "there is no winding %q", id).Mend("name a winding of %s", u.Tag)
		}
		s = append(s, w)
	}
	return s, nil
}

func (u *Unit) tail(k int) *Param { return &u.Params[3*len(u.Windings)+k] }

// compileExcitation fills in the tail of the params from the excitation
// readings, or from estimates where they are absent.
func (u *Unit) compileExcitation(meter *yokemate.Meter) error {
	src := u.Source
	var e yokemate.Excitation
	switch {
	case len(src.Excitation) > 0:
		e = src.Excitation[0]
		s, err := u.series(src.Tag+" excitation", e.Series)
		if err != nil {
			return err
		}
		u.excited = s
	case u.Rated.Volts > 0:
		// The volts of all windings belong to one excitation of the mains
		// side, whose own volts say which.
		u.excited = u.Rated.series
		e.Hertz = u.Rated.Hertz
	default:
		// No label and no excitation: take the winding of the most volts as
		// the one that was fed, at 50 Hz. The note mains-unknown goes with it.
		best := 0
		for i, w := range u.Windings {
			if w.Volts.V > u.Windings[best].Volts.V {
				best = i
			}
		}
		u.excited = []int{best}
		e.Hertz = 50
		u.Guessed = append(u.Guessed, "mains volts and frequency")
	}
	u.Hertz = e.Hertz
	sumV, sumR := 0.0, 0.0
	for _, w := range u.excited {
		sumV += u.Windings[w].Volts.V
		sumR += u.Windings[w].Ohms.V
	}
	tail := make([]Param, pTail)
	if e.Volts.Known() {
		tail[pExcVolts] = paramOf(u.Tag+" excitation volts", e.Volts, yokemate.VoltsAC, meter)
	} else {
		// The excitation's volts are the excited windings' own, the same reading.
		p := u.Params[3*u.excited[0]]
		p.Name, p.Value = u.Tag+" excitation volts", sumV
		tail[pExcVolts] = p
	}
	if len(u.excited) == 1 && u.sameReading(e.Volts) {
		// One reading written twice is one error: the fixed part is kept on
		// the excitation, and the shared gain already cancels.
		u.Params[3*u.excited[0]].U = 0
	}
	V := tail[pExcVolts].Value

	if err := u.rate(u.Hertz); err != nil {
		return err
	}

	sat := core.Prior(u.kind())
	// The usual current and loss are those at the label; the excitation may lie
	// far below, as on a low source.
	x0 := 1.0
	if u.Rated.Volts > 0 {
		x0 = u.labelFlux()
	}
	if e.Amps.Known() {
		tail[pExcAmps] = paramOf(u.Tag+" idle amps", e.Amps, yokemate.AmpsAC, meter)
	} else {
		b := core.Exciting(u.kind(), u.VA)
		// The loss current follows the volts, the magnetising one its curve.
		whole := b.Best * u.VA * x0 / V
		loss := math.Min(core.Loss(u.kind(), u.VA).Best*x0/V, 0.8*whole)
		iron := math.Sqrt(whole*whole - loss*loss)
		if e.Watts.Known() {
			loss = e.Watts.V / V / x0 // in phase with the volts; beside it the usual magnetising current
		}
		tail[pExcAmps] = Param{Name: u.Tag + " idle amps", Value: math.Hypot(loss*x0, iron*sat.RMS(x0)/sat.RMS(1)), U: b.LnSigma(), Log: true}
		u.Guessed = append(u.Guessed, "idle amps")
	}
	I := tail[pExcAmps].Value
	if e.Watts.Known() {
		tail[pExcWatts] = paramOf(u.Tag+" idle watts", e.Watts, yokemate.Watts, meter)
	} else {
		// The iron's usual loss for the size; the idle current bounds it.
		b := core.Loss(u.kind(), u.VA)
		w := math.Min(b.Best*x0*x0, 0.8*V*I) + I*I*sumR
		w = math.Min(w, 0.95*V*I)
		if w <= I*I*sumR && !e.Amps.Known() {
			return yokemate.Errorf(yokemate.NotFound, u.Tag+" excitation", "no idle amps were read at %.4g V, and what is usual for its size does not go with its ohms", V).
				Mend("read the idle amps, or give the volts and the VA of its label")
		}
		if w <= I*I*sumR {
			return yokemate.Errorf(yokemate.Invalid, u.Tag+" excitation", "%.3g A through %.4g Ω drops more than the %.4g V", I, sumR, V).
				Mend("read the idle amps and the winding's ohms again")
		}
		tail[pExcWatts] = Param{Name: u.Tag + " idle watts", Value: w, U: b.LnSigma(), Log: true}
		u.Guessed = append(u.Guessed, "idle watts")
	}
	if I*I*sumR >= tail[pExcWatts].Value {
		return yokemate.Errorf(yokemate.Invalid, u.Tag+" excitation", "the copper alone makes %.3g W of the idle %.3g W", I*I*sumR, tail[pExcWatts].Value).
			Mend("read idle watts and true-rms amps again, or leave the watts out")
	}
	tail[pExponent] = Param{Name: u.Tag + " saturation exponent", Value: sat.N, U: 1}
	// The prior speaks of flux 1 at the label; the excitation may lie elsewhere.
	tail[pLnKappa] = Param{Name: u.Tag + " saturation", Value: 1, U: sat.LnSigma, Log: true}
	tail[pModelQ] = Param{Name: u.Tag + " magnetisation model", Value: 1, Log: true}
	tail[pCapWinding] = Param{Name: u.Tag + " winding to core", Value: windingFarads, U: factorOfThree, Log: true}
	tail[pCapPair] = Param{Name: u.Tag + " winding to winding", Value: pairFarads, U: factorOfThree, Log: true}
	tail[pCapCore] = Param{Name: u.Tag + " core to neutral", Value: coreFarads, U: factorOfThree, Log: true}
	u.Params = append(u.Params, tail...)

	u.tail(pLnKappa).Value = sat.S * core.Saturation{S: sat.S, N: sat.N}.Beta() * math.Pow(x0, sat.N-1)
	if len(src.Excitation) > 1 {
		return u.fitCurve(src.Excitation[1:], sat.LnSigma)
	}
	return nil
}

// sameReading reports whether the excited windings' volts are the
// excitation's reading written again.
func (u *Unit) sameReading(v yokemate.Value) bool {
	if !v.Known() {
		return true
	}
	sum := 0.0
	for _, w := range u.excited {
		sum += u.Windings[w].Volts.V
	}
	return math.Abs(sum-v.V) <= 1e-6*v.V
}

// labelFlux is the flux at |E| = 1 relative to the label's volts per hertz,
// without the copper's drop: good enough to place the prior.
func (u *Unit) labelFlux() float64 {
	sum := 0.0
	for _, w := range u.Rated.series {
		sum += u.Windings[w].Volts.V
	}
	return sum / u.Hertz / (u.Rated.Volts / u.Rated.Hertz)
}

func (u *Unit) kind() string {
	if u.Source.Core != nil && u.Source.Core.Kind != "" {
		return u.Source.Core.Kind
	}
	return "EI"
}

// coefficients are what the equations hold, for one set of param values.
type coefficients struct {
	a, r, l    []float64 // per winding [V], [Ω] at 20 °C, [H]
	g, q       float64   // [W], [var]
	kappa, n   float64
	cw, cp, cc float64 // [F]
}

// coefficients evaluates N7 and N8 at the given param values, which are the
// unit's own with some moved. dst's slices are reused.
func (u *Unit) coefficients(p []float64, dst *coefficients) {
	n := len(u.Windings)
	if cap(dst.a) < n {
		dst.a, dst.r, dst.l = make([]float64, n), make([]float64, n), make([]float64, n)
	}
	dst.a, dst.r, dst.l = dst.a[:n], dst.r[:n], dst.l[:n]
	var sumV, sumR, sumL float64
	for w := range n {
		dst.a[w], dst.r[w], dst.l[w] = p[3*w], p[3*w+1], p[3*w+2]
	}
	for _, w := range u.excited {
		sumV += dst.a[w]
		sumR += dst.r[w]
		sumL += dst.l[w]
	}
	t := p[3*n:]
	V, I, W := t[pExcVolts], t[pExcAmps], t[pExcWatts]
	cos := math.Min(W/(V*I), 1)
	i0 := complex(I*cos, -I*math.Sqrt(1-cos*cos))
	A := cmplx.Abs(complex(V, 0) - complex(sumR, 2*math.Pi*u.Hertz*sumL)*i0)
	for _, w := range u.excited {
		dst.a[w] *= A / sumV
	}
	// A moved param may ask for less than no core loss; the floor keeps the
	// equations meaningful there.
	dst.g = math.Max(W-I*I*sumR, 1e-3*W)
	dst.q = math.Sqrt(math.Max(A*I*A*I-dst.g*dst.g, 1e-6*A*I*A*I)) * t[pModelQ]
	dst.kappa, dst.n = t[pLnKappa], t[pExponent]
	dst.cw, dst.cp, dst.cc = t[pCapWinding], t[pCapPair], t[pCapCore]
}

func (u *Unit) values() []float64 {
	v := make([]float64, len(u.Params))
	for i, p := range u.Params {
		v[i] = p.Value
	}
	return v
}

// saturation is g of N3 and its derivative.
func (c *coefficients) saturation(x float64) (g, dg float64) {
	xn := math.Pow(x, c.n-1)
	return x * (1 + c.kappa*xn) / (1 + c.kappa), (1 + c.n*c.kappa*xn) / (1 + c.kappa)
}

// ratedE solves N10's E_r: the induced voltage per reference turn with the
// label's volts on the label's windings, no load, 20 °C. NaN without a label.
func (u *Unit) ratedE(c *coefficients) float64 {
	if u.Rated.Volts == 0 {
		return math.NaN()
	}
	return u.inducedAt(c, u.Rated.series, u.Rated.Volts, u.Rated.Hertz)
}

// inducedAt solves one idle unit: |E| with volts v on a series of windings.
func (u *Unit) inducedAt(c *coefficients, series []int, v, hertz float64) float64 {
	var a, r, l float64
	for _, w := range series {
		a += c.a[w]
		r += c.r[w]
		l += c.l[w]
	}
	z := complex(r, 2*math.Pi*hertz*l)
	terminal := func(e float64) float64 {
		g, _ := c.saturation(e * u.Hertz / hertz)
		i := complex(c.g*e/a, -c.q*g/a)
		return cmplx.Abs(complex(a*e, 0) + z*i)
	}
	// The terminal volts rise with E and are convex, and the drop only ever
	// lowers E: the secant from the upper end closes in from above.
	e1, e0 := v/a, 0.98*v/a
	f1, f0 := terminal(e1)-v, terminal(e0)-v
	for range 60 {
		if math.Abs(f1) <= 1e-14*v || f1 == f0 {
			break
		}
		e := math.Max(e1-f1*(e1-e0)/(f1-f0), e1/4)
		e0, f0 = e1, f1
		e1, f1 = e, terminal(e)-v
	}
	return e1
}

// modelU is the standard uncertainty of ln(magnetising current) that the
// model itself has at flux x (1 at the first excitation reading) when the
// flux is y of the label's: nothing near the reading, growing where the
// fundamental no longer serves (y above 1.15) and where the curve's foot was
// never read (x below a half). Common practice, no source.
func (u *Unit) modelU(x, y float64) float64 {
	if !(x > 0) {
		return 0
	}
	s := 0.0
	if y > 1.15 {
		s = math.Min(0.6, 2*(y-1.15))
	}
	if x < 0.5 {
		s = math.Hypot(s, 0.35*math.Min(1.5, math.Log(0.5/x)))
	}
	for _, p := range u.points {
		if math.Abs(math.Log(p.x/x)) < 0.2 {
			s = math.Min(s, 0.05)
		}
	}
	return s
}
