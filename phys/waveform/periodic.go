package waveform

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"yokemate"
)

// Options of a run. The zero value serves.
type Options struct {
	Tolerance float64 // of a step, see the package comment; 0 means 2e-6
	Samples   int     // a period, a power of two from 2 to 65536; 0 means none
	Probes    []Probe
	// Near says that the guess of a periodic state is one that was found at another
	// tolerance: nothing need be forgotten first.
	Near bool
}

func (o Options) tolerance() float64 {
	if o.Tolerance > 0 {
		return o.Tolerance
	}
	return defaultTolerance
}

func (o Options) recorder() *recorder {
	r := &recorder{probes: o.Probes}
	if o.Samples > 0 {
		if o.Samples&(o.Samples-1) != 0 || o.Samples > 65536 {
			panic("waveform: samples must be a power of two up to 65536")
		}
		r.samples = ticksPerPeriod / int64(o.Samples)
	}
	return r
}

// States is how many states the system has: fluxes of the cores first, then
// inductances, capacitors and filaments.
func (s *System) States() int { return s.nx }

// Rest are the states of a circuit that lies dead: no flux, no charge, cold filaments.
func (s *System) Rest() []float64 {
	x := make([]float64, s.nx)
	for j, st := range s.stores {
		if st.plus >= s.rowR {
			x[j] = coldShare
		}
	}
	return x
}

// SetCapacitor puts volts on capacitor i in the states x.
func (s *System) SetCapacitor(x []float64, i int, volts float64) {
	j := s.capState(i)
	if s.c.Capacitors[i].From == Ground {
		volts = -volts
	}
	x[j] = volts
}

// Run integrates from states x at a point on the wave [°] for so many periods
// and returns the states at the end too.
func (s *System) Run(x []float64, degrees, periods float64, opt Options) (*Wave, []float64, Report, error) {
	var rep Report
	s.ahead = degrees * math.Pi / 180
	defer func() { s.ahead = 0 }()
	s.rescale(false)
	if err := s.begin(0, x); err != nil {
		return nil, nil, rep, err
	}
	rec := opt.recorder()
	ticks := int64(math.Round(periods*longestPerPeriod)) * longestStep
	err := s.run(0, ticks, runOptions{tolerance: opt.tolerance(), rec: rec}, &rep)
	rep.Periods = int(math.Ceil(periods))
	return &rec.wave, append([]float64(nil), s.wk.x...), rep, err
}

const longestPerPeriod = ticksPerPeriod / longestStep

const (
	maxPasses = 40
	roughly   = 1e-3 // tolerance of the first passes
)

// Periodic finds the states that one period brings back to themselves, by
// Newton's method on the map of a period, equation (V13), and records that
// period. x is a first guess, nil for none.
func (s *System) Periodic(x []float64, opt Options) (*Wave, []float64, Report, error) {
	var rep Report
	if x == nil {
		x = s.Rest()
		for j, st := range s.stores {
			if st.plus >= s.rowR {
				x[j] = 1 // a hot filament finds its rest at once, a cold one warms up first
			}
		}
	}
	x0 := append([]float64(nil), x...)
	tol := opt.tolerance()
	s.rescale(false)
	// Steps taken by the error fall one way or another as the start moves, and
	// the map of a period then jumps by more than what is asked for: Newton's
	// method goes round in a circle. The steps of the last pass taken once more
	// make the map smooth.
	var steps, again []int64
	pass := func(tol float64, sens bool, rec *recorder) error {
		if err := s.begin(0, x0); err != nil {
			return err
		}
		rep.Periods++
		if err := s.run(0, ticksPerPeriod, runOptions{tolerance: tol, sens: sens, rec: rec, again: again, steps: &steps}, &rep); err != nil {
			return err
		}
		s.rescale(true)
		return nil
	}
	// size is how far a move is, in the states' own swings.
	size := func(d []float64) float64 {
		g := 0.0
		for i, v := range d {
			g = max(g, math.Abs(v)/s.wk.scaleX[i])
		}
		return g
	}
	use := tol
	if !opt.Near || x == nil {
		// A period of its own first: it forgets what the guess had wrong.
		if err := pass(roughly, false, nil); err != nil {
			return nil, nil, rep, err
		}
		copy(x0, s.wk.x)
		use = max(tol, roughly)
	}
	best := math.Inf(1)
	move := make([]float64, s.nx)
	halved := 0
	for range maxPasses {
		var rec *recorder
		if use == tol {
			rec = opt.recorder()
		}
		if err := pass(use, true, rec); err != nil {
			if halved == mostHalved {
				return nil, nil, rep, err
			}
			// So far out that the circuit has no state there: half of the way.
			halved++
			for i, v := range move {
				move[i] = v / 2
				x0[i] -= move[i]
			}
			s.rescale(false)
			continue
		}
		for i := range move {
			move[i] = s.wk.x[i] - x0[i]
		}
		rep.Closure = size(move)
		if err := s.newton(move); err != nil {
			return nil, nil, rep, err
		}
		left := size(move)
		if use == tol && left < arrived*tol {
			rep.Status = Steady
			return &rec.wave, x0, rep, nil
		}
		if rep.Closure > 2*best {
			// Worse than before: walk on by the map itself, which is stable.
			copy(x0, s.wk.x)
			best, again = math.Inf(1), nil
			continue
		}
		if again != nil || use == tol && rep.Closure > best/2 && left < circling {
			again = append(again[:0], steps...)
		}
		best = rep.Closure
		s.warm(x0, move)
		for i, v := range move {
			x0[i] += v
		}
		// What Newton leaves of a move is of its square.
		if use > tol && left < 0.1 {
			use, best = tol, math.Inf(1)
		}
	}
	rep.Status = Wanders
	return nil, nil, rep, yokemate.Errorf(yokemate.Internal, "", "no periodic state found: after %d periods its end is still %.2g from its start", rep.Periods, rep.Closure).
		Mend("follow it in time instead")
}

// mostHalved is how often the moves to a periodic state are halved in all.
const mostHalved = 12

// circling is the move, and anything less, at which Newton's method no longer
// gains because the steps jump and not because the start is far off [1].
const circling = 1e-2

// warm keeps a move from leading to the rests that a filament's law has below
// cold and no filament has: where the filament warms by itself, the move may
// not cool it, and where it cools, it goes half of the way to cold at most.
func (s *System) warm(x0, move []float64) {
	for j, st := range s.stores {
		if st.plus < s.rowR {
			continue
		}
		switch own := s.wk.x[j] - x0[j]; {
		case own*move[j] < 0:
			move[j] = own
		case x0[j]+move[j] < coldShare:
			move[j] = (coldShare - x0[j]) / 2
		}
	}
}

// arrived is the move to the periodic state that may be left, over the
// tolerance of a step: of a size with the error of a period's many steps [1].
const arrived = 3

// newton turns x(T) − x₀ into the move to the periodic state, (1 − M)⁻¹ (x(T) − x₀).
func (s *System) newton(move []float64) error {
	nx := s.nx
	a := mat.NewDense(nx, nx, nil)
	for i := range nx {
		for j := range nx {
			a.Set(i, j, -s.wk.sens[i*nx+j])
		}
		a.Set(i, i, 1+a.At(i, i))
	}
	b := mat.NewVecDense(nx, move)
	if err := b.SolveVec(a, b); err != nil {
		if _, ok := err.(mat.Condition); !ok {
			return yokemate.Errorf(yokemate.Impossible, "", "the circuit keeps a state for ever, so it has no periodic state of its own").
				Mend("give a reservoir that nothing discharges its bleeder")
		}
	}
	return nil
}
