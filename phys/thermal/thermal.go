package thermal

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// Options of a heat question. The zero value serves.
type Options struct {
	AmbientC float64            // of the air around the box [°C]; 0 means 40, the hottest that a rating counts with
	Box      float64            // b; 0 means 1, open air; a small closed box 1.5 (common practice)
	Duty     float64            // d; 0 means 1
	StretchS float64            // longest that the load is on at a stretch, with a duty; 0 means so short that nothing swings [s]
	Rise     map[string]float64 // rated mean rise by unit's tag, from a heat run [K]; absent means by its class
}

func (o Options) filled() Options {
	def := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	def(&o.AmbientC, ratedAmbientC)
	def(&o.Box, 1)
	def(&o.Duty, 1)
	return o
}

const (
	ratedAmbientC = 40.0
	coreShare     = 0.65
	ironShare     = 0.67
	ironHeat      = 450.0 // [J/(kg K)]
	coilDensity   = 3e6   // at rated current [A/m²]; common practice
	hottestC      = 400.0
)

// Node is one winding's place in the heat network.
type Node struct {
	Unit, ID string
	unit     int // core's index
	Limit    float64
	g, c     float64 // to the core [W/K], [J/K]
	ohms     float64 // at 20 °C [Ω]
	mains    bool
}

// Net is a hookup's heat network over its electrical one.
type Net struct {
	Windings []Node
	opt      Options
	coreG    []float64 // to air [W/K]
	coreC    []float64 // [J/K]
	tags     []string
	source   source
	squares  []float64 // rms currents squared of the last losses [A²]
}

// source gives the losses at given copper temperatures: rms currents squared
// of the windings, and the watts of the cores.
type source interface {
	losses(factors []float64, squares, cores []float64) error
}

// steady asks the phasors.
type steady struct {
	n     *network.Net
	volts network.FeedVolts
}

func (s *steady) losses(factors, squares, cores []float64) error {
	i := 0
	for k := range cores {
		for w := range s.n.UnitFacts(k).Windings {
			s.n.SetCopperFactor(k, w, factors[i])
			i++
		}
	}
	sol, err := s.n.Solve(s.volts)
	if err != nil {
		return err
	}
	i = 0
	for k := range cores {
		for w := range s.n.UnitFacts(k).Windings {
			a := sol.Value(s.n.WindingAmps(k, w))
			squares[i] = real(a)*real(a) + imag(a)*imag(a)
			i++
		}
		cores[k] = sol.CoreWatts(k)
	}
	return nil
}

// periodic asks the waveforms, for hookups with rectifiers.
type periodic struct {
	x      *waveform.Hookup
	probes []waveform.Probe
}

func (s *periodic) losses(factors, squares, cores []float64) error {
	k := make([]float64, len(factors))
	for i, f := range factors {
		k[i] = f / s.x.AC.CopperFactor()
	}
	if err := s.x.SetCopper(k); err != nil {
		return err
	}
	w, x0, _, err := s.x.Periodic(s.x.Start, waveform.Options{Tolerance: 1e-4, Probes: s.probes})
	if err != nil {
		return err
	}
	s.x.Start = x0
	for i := range squares {
		squares[i] = w.Traces[i].RMS * w.Traces[i].RMS
	}
	for i := range cores {
		e := w.Traces[len(squares)+i].RMS
		cores[i] = s.x.Circuit.Cores[i].Loss * e * e
	}
	return nil
}

// New makes the heat network of a hookup at one level of the mains.
func New(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, opt Options) (*Net, error) {
	t := &Net{opt: opt.filled()}
	if d := t.opt.Duty; !(d > 0 && d <= 1) || !(t.opt.Box > 0) || !(t.opt.StretchS >= 0) {
		return nil, yokemate.Errorf(yokemate.Invalid, "duty", "a duty of %g or a box of %g is out of range", t.opt.Duty, t.opt.Box).Mend("give the part of the time that the load is on, from 0 to 1")
	}
	dc := false
	for _, o := range h.Outputs {
		dc = dc || o.DC != nil
	}
	var n *network.Net
	if dc {
		volts := make(network.FeedVolts, len(h.Feed))
		for i := range volts {
			volts[i] = h.Feed[i].At(level)
		}
		x, err := waveform.FromHookup(f, h, waveform.HookupOptions{Volts: volts})
		if err != nil {
			return nil, err
		}
		p := &periodic{x: x}
		for i := range x.Circuit.Windings {
			p.probes = append(p.probes, x.WindingAmps(i))
		}
		for k := range x.Circuit.Cores {
			p.probes = append(p.probes, x.CoreVolts(k))
		}
		n, t.source = x.AC, p
	} else {
		var err error
		if n, err = network.Build(f, h, network.Options{}); err != nil {
			return nil, err
		}
		t.source = &steady{n, n.VoltsAt(level)}
	}
	for k, tag := range n.Units() {
		if err := t.addUnit(k, n.UnitFacts(k)); err != nil {
			return nil, err
		}
		t.tags = append(t.tags, tag)
	}
	return t, nil
}

// addUnit sets a unit's heat network up from its ratings, (T3) and (T4).
func (t *Net) addUnit(k int, u *network.Unit) error {
	class := heat.Class(u.Source.ThermalClass)
	limit, ok := class.NormalUse()
	if !ok {
		limit, _ = heat.Class("A").NormalUse()
	}
	rise := limit.Celsius - ratedAmbientC
	if r, ok := t.opt.Rise[u.Tag]; ok {
		if !(r > 0) {
			return yokemate.Errorf(yokemate.Invalid, u.Tag, "a rated rise of %g K is none", r).Mend("give the final rise of its heat run")
		}
		rise = r
	}
	hot := heat.Factor(ratedAmbientC + rise)
	total := 0.0
	for w, src := range u.Windings {
		amps := u.Limits[w].Amps
		if math.IsNaN(amps) || !(amps > 0) {
			return yokemate.Errorf(yokemate.Invalid, u.Tag+"/"+src.ID+" amps", "without a current that it may carry, nobody can tell how warm it gets").Mend("give its amps, or its unit's va")
		}
		ohms := src.Ohms.V
		rated := amps * amps * ohms * hot
		total += rated
		t.Windings = append(t.Windings, Node{
			Unit: u.Tag, ID: src.ID, unit: k, Limit: limit.Celsius, ohms: ohms, mains: u.Source.MainsSide(src.ID),
			g: rated / ((1 - coreShare) * rise),
			c: rated * heat.VolumeHeat / (heat.Resistivity20 * hot * coilDensity * coilDensity),
		})
	}
	total += u.IronWatts()
	mass := 0.0
	if c := u.Source.Core; c != nil && c.MassG.Known() {
		mass = c.MassG.V * 1e-3
	} else {
		// (C2) turned round, at the best of its band.
		one := core.VAFromMass(kindOf(u), 1, u.Hertz)
		mass = math.Pow(u.VA/one.Best, 0.75)
	}
	t.coreG = append(t.coreG, total/(coreShare*rise*t.opt.Box))
	t.coreC = append(t.coreC, ironShare*mass*ironHeat)
	return nil
}

func kindOf(u *network.Unit) string {
	if u.Source.Core != nil {
		return u.Source.Core.Kind
	}
	return ""
}

// Temperature is one winding's.
type Temperature struct {
	Unit, ID string
	Celsius  float64 // a winding's at the end of a stretch, (T7)
	Limit    float64 // of its class in normal use [°C]
	Watts    float64 // heat in its copper, while the load is on [W]
}

// State is how hot a hookup is.
type State struct {
	Equilibrium bool // false: it gets hotter without end, and the temperatures are those where the search gave up
	Windings    []Temperature
	Cores       []Temperature // ID empty
	Iterations  int
	Moved       float64 // by the last iteration [K]
}

// Within reports whether every winding rests within its class.
func (s *State) Within() bool {
	for _, w := range s.Windings {
		if w.Celsius > w.Limit {
			return false
		}
	}
	return s.Equilibrium
}

// Hottest is the winding that is nearest to its limit or farthest past it.
func (s *State) Hottest() Temperature {
	h := s.Windings[0]
	for _, w := range s.Windings {
		if w.Celsius-w.Limit > h.Celsius-h.Limit {
			h = w
		}
	}
	return h
}

const (
	maxIterations = 60
	restK         = 0.01
)

// Equilibrium solves (T5).
func (t *Net) Equilibrium() (*State, error) {
	nw, nc := len(t.Windings), len(t.coreG)
	temps := make([]float64, nw+nc)
	for i := range temps {
		temps[i] = t.opt.AmbientC
	}
	factors, squares, cores := make([]float64, nw), make([]float64, nw), make([]float64, nc)
	s := &State{}
	for s.Iterations = 1; s.Iterations <= maxIterations; s.Iterations++ {
		for i := range factors {
			factors[i] = heat.Factor(temps[i])
		}
		if err := t.source.losses(factors, squares, cores); err != nil {
			return nil, err
		}
		next, ok := t.rest(squares, cores)
		if !ok {
			break
		}
		s.Moved = 0
		for i, v := range next {
			s.Moved = math.Max(s.Moved, math.Abs(v-temps[i]))
		}
		copy(temps, next)
		if s.Moved < restK {
			s.Equilibrium = true
			break
		}
	}
	t.fill(s, temps, squares, cores)
	t.squares = squares
	return s, nil
}

func (t *Net) fill(s *State, temps, squares, cores []float64) {
	s.Windings, s.Cores = nil, nil
	for i, w := range t.Windings {
		mean, iron := temps[i], temps[len(t.Windings)+w.unit]
		s.Windings = append(s.Windings, Temperature{w.Unit, w.ID, iron + t.swing(w)*(mean-iron), w.Limit, squares[i] * heat.Ohms(w.ohms, temps[i])})
	}
	for k, tag := range t.tags {
		s.Cores = append(s.Cores, Temperature{Unit: tag, Celsius: temps[len(t.Windings)+k], Watts: cores[k]})
	}
}

// swing is how far above its core a winding is at the end of a stretch, over
// its mean there (T7).
func (t *Net) swing(w Node) float64 {
	if t.opt.Duty == 1 || t.opt.StretchS == 0 {
		return 1
	}
	on := t.opt.StretchS * w.g / w.c
	return math.Expm1(-on) / math.Expm1(-on/t.opt.Duty) / t.opt.Duty
}

// Amps is the rms current of winding i at the last rest found [A].
func (t *Net) Amps(i int) float64 { return math.Sqrt(t.squares[i]) }

// rest solves the linear heat network for given currents, the copper's growth
// with its own temperature taken in. A current whose growth outruns the
// cooling, or a rest past what copper is told for, is none.
func (t *Net) rest(squares, cores []float64) ([]float64, bool) {
	nw, nc := len(t.Windings), len(t.coreG)
	out := make([]float64, nw+nc)
	for k := range nc {
		// A core's equations are its own: the windings are eliminated by hand.
		// T_w = (α K' + G_w T_c)/(G_w − α), α = d I² R₂₀/(K + 20).
		g, p := t.coreG[k], cores[k]+t.coreG[k]*t.opt.AmbientC
		for i, w := range t.Windings {
			if w.unit != k {
				continue
			}
			a := t.opt.Duty * squares[i] * w.ohms * heat.Alpha20
			if a >= w.g {
				return nil, false
			}
			// Into the core: α (K + T_w).
			share := a / (w.g - a)
			p += a*heat.K + share*a*heat.K
			g -= share * w.g
		}
		if !(g > 0) {
			return nil, false
		}
		tc := p / g
		out[nw+k] = tc
		if !(tc < hottestC) {
			return nil, false
		}
		for i, w := range t.Windings {
			if w.unit == k {
				a := t.opt.Duty * squares[i] * w.ohms * heat.Alpha20
				if out[i] = (a*heat.K + w.g*tc) / (w.g - a); !(out[i] < hottestC) {
					return nil, false
				}
			}
		}
	}
	return out, true
}

// Limit is a winding's limit in a fault.
type Limit struct {
	Winding string  // as T1/A
	Celsius float64 // [°C]
	Seconds float64 // until it is reached; +Inf when it rests below
	Settled bool    // everything rests
	Steps   int
	Hottest float64 // temperature of that winding at the end [°C]
}

// TimeToLimit follows the hookup in time from a state (nil: all at ambient)
// until the first winding passes the temperature that its class stands in the
// first hour of a fault, or everything rests, or the seconds are over.
func (t *Net) TimeToLimit(from *State, seconds float64, classes func(unit string) heat.Class) (*Limit, error) {
	nw, nc := len(t.Windings), len(t.coreG)
	temps := make([]float64, nw+nc)
	for i := range temps {
		temps[i] = t.opt.AmbientC
	}
	if from != nil {
		for i, w := range from.Windings {
			temps[i] = w.Celsius
		}
		for k, c := range from.Cores {
			temps[nw+k] = c.Celsius
		}
	}
	limits := make([]float64, nw)
	for i, w := range t.Windings {
		l, ok := classes(w.Unit).Fault(heat.FirstHour)
		if !ok {
			l, _ = heat.Class("A").Fault(heat.FirstHour)
		}
		limits[i] = l.Celsius
	}
	factors, squares, cores := make([]float64, nw), make([]float64, nw), make([]float64, nc)
	l := &Limit{Seconds: math.Inf(1)}
	now, step := 0.0, 0.5
	for now < seconds {
		for i := range factors {
			factors[i] = heat.Factor(temps[i])
		}
		if err := t.source.losses(factors, squares, cores); err != nil {
			return nil, err
		}
		var next []float64
		for {
			step = math.Min(step, seconds-now)
			var err error
			if next, err = t.advance(temps, squares, cores, step); err != nil {
				return nil, err
			}
			moved := 0.0
			for i, v := range next {
				moved = math.Max(moved, math.Abs(v-temps[i]))
			}
			if moved <= stepK || step < 1e-4 {
				if moved < 1e-3*stepK && step > 600 {
					l.Settled = true
				}
				break
			}
			step /= 2
		}
		l.Steps++
		for i := range limits {
			if next[i] >= limits[i] && math.IsInf(l.Seconds, 1) {
				part := 0.0
				if next[i] > temps[i] {
					part = math.Max(0, (limits[i]-temps[i])/(next[i]-temps[i]))
				}
				l.Seconds, l.Winding, l.Celsius, l.Hottest = now+part*step, t.Windings[i].Unit+"/"+t.Windings[i].ID, limits[i], next[i]
			}
		}
		if !math.IsInf(l.Seconds, 1) || l.Settled {
			return l, nil
		}
		copy(temps, next)
		now += step
		step *= 1.5
	}
	return l, nil
}

// stepK is the most that a step may move a temperature [K].
const stepK = 4.0

// advance makes one implicit step of (T1) and (T2) with the currents at hand.
func (t *Net) advance(temps, squares, cores []float64, h float64) ([]float64, error) {
	nw, nc := len(t.Windings), len(t.coreG)
	a, b := mat.NewDense(nw+nc, nw+nc, nil), mat.NewVecDense(nw+nc, nil)
	add := func(i, j int, v float64) { a.Set(i, j, a.At(i, j)+v) }
	for i, w := range t.Windings {
		own := t.opt.Duty * squares[i] * w.ohms * heat.Alpha20
		add(i, i, w.c/h+w.g-own)
		add(i, nw+w.unit, -w.g)
		add(nw+w.unit, nw+w.unit, w.g)
		add(nw+w.unit, i, -w.g)
		b.SetVec(i, w.c/h*temps[i]+own*heat.K)
	}
	for k := range nc {
		add(nw+k, nw+k, t.coreC[k]/h+t.coreG[k])
		b.SetVec(nw+k, t.coreC[k]/h*temps[nw+k]+cores[k]+t.coreG[k]*t.opt.AmbientC)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		if _, ok := err.(mat.Condition); !ok {
			return nil, yokemate.Errorf(yokemate.Internal, "", "the heat network cannot be solved: %v", err)
		}
	}
	return x.RawVector().Data, nil
}
