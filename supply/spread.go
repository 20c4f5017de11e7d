package supply

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// The figures of a rectified output follow the facts through what the
// rectifier sees: open volts E behind R + jX. How E, R and X follow every
// source of error is known from the steady network; how mean, valley and rms
// follow E, R and X is asked of the waveform, which is solved once more for each, (S8).

// Steps of E, R and X that the waveform is asked about: large beside what its
// tolerance leaves, small beside what bends [1].
const (
	stepVolts   = 0.01
	stepOhms    = 0.05
	stepHenries = 0.2
	// The waveforms' own tolerance: what it leaves of a figure is some parts in
	// ten thousand, a twentieth or so of what a step moves it.
	asking = 1e-3
)

// moves are how far one standard uncertainty of each source of error moves a figure.
type moves struct {
	names []string // of the sources
	wide  []bool   // known to a factor only
	of    []float64
}

func (m *moves) add(o []float64, by float64) {
	for i, v := range o {
		m.of[i] += by * v
	}
}

// interval is the 95 % interval of a value above 0 that moves so.
func (m *moves) interval(v float64) (low, high float64) {
	var all, wide float64
	for i, d := range m.of {
		all += d * d
		if m.wide[i] {
			wide += d * d
		}
	}
	u := math.Sqrt(all)
	if wide > 0.04*v*v && wide <= v*v {
		// It goes by the factor that a fact is known to.
		return v * math.Exp(-1.96*u/v), v * math.Exp(1.96*u/v)
	}
	return math.Max(0, v-1.96*u), v + 1.96*u
}

// source is what a rectifier sees between two joints, and how it moves, each
// relative to itself.
type source struct{ volts, ohms, reactance moves }

// steady is the hookup as steady AC: every rectifier drawing its rms amps as
// a sine, or nothing between from and to.
type steady struct {
	net    *network.Net
	sol    *network.Solution
	spread *network.Spread
	at     map[string]int // source of error by name
}

func (r *run) steady(f *network.Facts, level yokemate.MainsLevel, loads map[int]*yokemate.Output) (*steady, error) {
	h := r.h.Clone()
	for i := range h.Outputs {
		if h.Outputs[i].DC == nil {
			continue
		}
		h.Outputs[i].DC = nil
		h.Outputs[i].Load = nil
		if o := loads[i]; o != nil {
			h.Outputs[i].From, h.Outputs[i].To, h.Outputs[i].Load = o.From, o.To, o.Load
		}
	}
	n, err := network.Build(f, h, network.Options{})
	if err != nil {
		return nil, err
	}
	sol, err := n.Solve(n.VoltsAt(level))
	if err != nil {
		return nil, err
	}
	s := &steady{net: n, sol: sol, spread: sol.Spread(), at: map[string]int{}}
	for i, name := range s.spread.Sources {
		s.at[name] = i
	}
	return s, nil
}

// pairs are the joints between which a rectifier draws: both sides of a
// middle by themselves where only one feeds it at a time.
func pairs(o *yokemate.Output) [][2]string {
	if o.DC.Rectifier == "centre-tap" {
		return [][2]string{{o.From, o.DC.Middle}, {o.DC.Middle, o.To}}
	}
	return [][2]string{{o.From, o.To}}
}

// spread is how the figures of a run follow the facts.
type spread struct {
	r       *run
	sources map[int]*source // by output
	loaded  *steady         // every rectifier drawing its rms amps
	idle    *steady         // none of them
	by      [3][]float64    // every figure's change with ln E, ln R and ln X
	base    []float64
}

// spreadOf finds it.
func (r *run) spreadOf(f *network.Facts, level yokemate.MainsLevel) (*spread, error) {
	s := &spread{r: r, sources: map[int]*source{}}
	var err error
	if s.idle, err = r.steady(f, level, nil); err != nil {
		return nil, err
	}
	all := map[int]*yokemate.Output{}
	for i := range r.h.Outputs {
		o := &r.h.Outputs[i]
		amps := r.outputAmps(i)
		if o.DC == nil || !(amps > 0) {
			continue
		}
		all[i] = &yokemate.Output{From: o.From, To: o.To, Load: &yokemate.Load{Amps: amps}}
		var list []*source
		for _, p := range pairs(o) {
			one, err := s.seen(f, level, i, p, amps)
			if err != nil {
				return nil, err
			}
			list = append(list, one)
		}
		sum := list[0]
		for _, o := range list[1:] {
			for _, x := range [3][2]*moves{{&sum.volts, &o.volts}, {&sum.ohms, &o.ohms}, {&sum.reactance, &o.reactance}} {
				x[0].add(x[1].of, 1)
			}
		}
		for _, x := range []*moves{&sum.volts, &sum.ohms, &sum.reactance} {
			for k := range x.of {
				x.of[k] /= float64(len(list))
			}
		}
		s.sources[i] = sum
	}
	if s.loaded, err = r.steady(f, level, all); err != nil {
		return nil, err
	}
	return s, s.ask()
}

// seen is the source that a rectifier sees between two joints.
func (s *spread) seen(f *network.Facts, level yokemate.MainsLevel, out int, p [2]string, amps float64) (*source, error) {
	on, err := s.r.steady(f, level, map[int]*yokemate.Output{out: {From: p[0], To: p[1], Load: &yokemate.Load{Amps: amps}}})
	if err != nil {
		return nil, err
	}
	open, _ := s.idle.net.Volts(p[0], p[1])
	volts, _ := on.net.Volts(p[0], p[1])
	load, _ := on.net.LoadAmps(out)
	e, v, i := s.idle.sol.Value(open), on.sol.Value(volts), on.sol.Value(load)
	z := (e - v) / i
	de, dv, di := s.idle.spread.Moves(open), on.spread.Moves(volts), on.spread.Moves(load)
	x := &source{}
	for _, m := range []*moves{&x.volts, &x.ohms, &x.reactance} {
		m.names, m.of = on.spread.Sources, make([]float64, len(dv))
	}
	for k, name := range on.spread.Sources {
		x.volts.wide = append(x.volts.wide, on.spread.Wide(k))
		if on.spread.Capacitive(k) {
			continue // strays are not followed in time
		}
		var own complex128
		if at, ok := s.idle.at[name]; ok {
			own = de[at]
		}
		dz := (own - dv[k] - z*di[k]) / i
		x.volts.of[k] = real(cmplx.Conj(e)*own) / real(e*cmplx.Conj(e))
		if real(z) > 0 {
			x.ohms.of[k] = real(dz) / real(z)
		}
		if imag(z) > 0 {
			x.reactance.of[k] = imag(dz) / imag(z)
		}
	}
	x.ohms.wide, x.reactance.wide = x.volts.wide, x.volts.wide
	return x, nil
}

// figures are all that a run tells of its outputs: for each its rms amps and
// volts, for each rail mean, valley, peak and ripple.
func (r *run) figures() []float64 {
	var list []float64
	for i := range r.h.Outputs {
		list = append(list, r.outputAmps(i), r.outputVolts(i).RMS)
	}
	for k := range r.x.Rails {
		s := r.rail(k)
		list = append(list, s.Mean, s.Valley, s.Peak, s.Ripple)
	}
	return list
}

// Places in figures.
func (r *run) ampsAt(out int) int  { return 2 * out }
func (r *run) voltsAt(out int) int { return 2*out + 1 }
func (r *run) railAt(k int) int    { return 2*len(r.h.Outputs) + 4*k }

// ask has the waveform solved with E, R and X a little larger.
func (s *spread) ask() error {
	changed := func(change func(*waveform.Circuit)) ([]float64, error) {
		x := *s.r.x
		c := x.Circuit
		c.Feeds = append([]waveform.Feed(nil), c.Feeds...)
		c.Windings = append([]waveform.Winding(nil), c.Windings...)
		x.Circuit = c
		change(&x.Circuit)
		var err error
		if x.System, err = waveform.Compile(&x.Circuit); err != nil {
			return nil, err
		}
		q := *s.r
		q.x = &x
		if err := q.periodic(waveform.Options{Tolerance: asking, Near: true}); err != nil {
			return nil, err
		}
		return q.figures(), nil
	}
	s.base = s.r.figures()
	for k, change := range [3]func(*waveform.Circuit){
		func(c *waveform.Circuit) {
			for i := range c.Feeds {
				c.Feeds[i].Volts *= 1 + stepVolts
			}
		},
		func(c *waveform.Circuit) {
			for i := range c.Windings {
				c.Windings[i].Ohms *= 1 + stepOhms
			}
		},
		func(c *waveform.Circuit) {
			for i := range c.Windings {
				c.Windings[i].Henries *= 1 + stepHenries
			}
		},
	} {
		fig, err := changed(change)
		if err != nil {
			return err
		}
		step := [3]float64{stepVolts, stepOhms, stepHenries}[k]
		for i, v := range fig {
			s.by[k] = append(s.by[k], (v-s.base[i])/step)
		}
	}
	return nil
}

// figure is how a figure of an output moves; nil where nothing is fed.
func (s *spread) figure(out, at int) *moves {
	x := s.sources[out]
	if x == nil || !powered(s.r.h) {
		return nil
	}
	m := &moves{names: x.volts.names, wide: x.volts.wide, of: make([]float64, len(x.volts.of))}
	m.add(x.volts.of, s.by[0][at])
	m.add(x.ohms.of, s.by[1][at])
	m.add(x.reactance.of, s.by[2][at])
	return m
}

// current is how a current moves that is value, and the probe in the steady
// network: by the share that it has of the rectifiers' amps, and by those amps.
func (s *spread) current(p, idle network.Probe, value float64) *moves {
	on := s.loaded
	y, y0 := on.sol.Value(p), s.idle.sol.Value(idle)
	size := real(y * cmplx.Conj(y))
	if !powered(s.r.h) {
		size = 0 // what is left of it is rounding
	}
	sp := on.spread
	m := &moves{names: sp.Sources, of: make([]float64, len(sp.Sources))}
	for k, d := range sp.Moves(p) {
		m.wide = append(m.wide, sp.Wide(k))
		if size > 0 && !sp.Capacitive(k) {
			m.of[k] = value * real(cmplx.Conj(y)*d) / size
		}
	}
	if size == 0 {
		return m
	}
	share := real(cmplx.Conj(y)*(y-y0)) / size
	// Where several rectifiers draw, each one's part is as its amps among theirs.
	total := 0.0
	for i := range s.sources {
		total += s.r.outputAmps(i)
	}
	for i := range s.r.h.Outputs {
		q := s.figure(i, s.r.ampsAt(i))
		if q == nil {
			continue
		}
		for k, name := range q.names {
			if at, ok := on.at[name]; ok {
				m.of[at] += value * share * q.of[k] / total
			}
		}
	}
	return m
}

// rail is rail k with the intervals of its volts.
func (s *spread) rail(k, out int) yokemate.RailState {
	l := s.r.rail(k)
	l.MeanLow, l.MeanHigh, l.ValleyLow, l.ValleyHigh = l.Mean, l.Mean, l.Valley, l.Valley
	if m := s.figure(out, s.r.railAt(k)); m != nil {
		l.MeanLow, l.MeanHigh = m.interval(l.Mean)
	}
	if m := s.figure(out, s.r.railAt(k)+1); m != nil {
		l.ValleyLow, l.ValleyHigh = m.interval(l.Valley)
	}
	return l
}
