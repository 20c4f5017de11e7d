package waveform

import (
	"cmp"
	"math"
	"slices"
)

// Probe is what a run keeps: the difference of two unknowns, or a part's current.
type Probe struct {
	plus, minus int // unknowns, −1 for none
	port        int // a port's current where above −1
	cap         int // a capacitor's current where above −1
}

var nothing = Probe{-1, -1, -1, -1}

// Volts probes the voltage of node a against b.
func (s *System) Volts(a, b int) Probe {
	p := nothing
	p.plus, p.minus = a, b
	return p
}

func (s *System) unknown(i int) Probe {
	p := nothing
	p.plus = i
	return p
}

// WindingAmps probes winding i's current, from its start to its end.
func (s *System) WindingAmps(i int) Probe { return s.unknown(s.rowW + i) }

// FeedAmps probes the current of feed i into its node.
func (s *System) FeedAmps(i int) Probe { return s.unknown(s.rowS + i) }

// BranchAmps probes branch i's current.
func (s *System) BranchAmps(i int) Probe { return s.unknown(s.rowB + i) }

// Flux probes core i's flux, 1 at the peak of the excitation reading.
func (s *System) Flux(i int) Probe { return s.unknown(s.rowF + i) }

// CoreVolts probes core i's induced volts over a winding's [Winding.Volts].
func (s *System) CoreVolts(i int) Probe { return s.unknown(s.rowE + i) }

// Filament probes feed i's filament: its resistance over the hot one.
func (s *System) Filament(i int) Probe { return s.unknown(s.rowR + i) }

func (s *System) portProbe(k portKind, i int) Probe {
	p := nothing
	for j := range s.ports {
		if s.ports[j].kind == k && s.ports[j].of == i {
			p.port = j
		}
	}
	return p
}

// DiodeAmps probes diode i's current.
func (s *System) DiodeAmps(i int) Probe { return s.portProbe(rectifying, i) }

// SinkAmps probes the current of load i.
func (s *System) SinkAmps(i int) Probe { return s.portProbe(sinking, i) }

// CapacitorAmps probes capacitor i's current.
func (s *System) CapacitorAmps(i int) Probe {
	p := nothing
	p.cap = s.capState(i)
	return p
}

// capState is the state of capacitor i.
func (s *System) capState(i int) int {
	for j, st := range s.stores {
		if st.plus < s.c.Nodes {
			if i == 0 {
				return j
			}
			i--
		}
	}
	return -1
}

// Trace is one probe's curve over a run, or its last period.
type Trace struct {
	Values    []float64 // at [Wave.Times]; nil when no samples were asked for
	Mean, RMS float64
	Min, Max  float64
	Square    float64 // ∫ value² dt over the run [unit² s]
}

// Form is the form factor of whole periods, rms over the mean of the absolute
// value; it needs samples.
func (t *Trace) Form() float64 {
	whole := t.Values[1:] // the first is the last again
	sum := 0.0
	for _, v := range whole {
		sum += math.Abs(v)
	}
	return t.RMS * float64(len(whole)) / sum
}

// Peak is the greatest absolute value.
func (t *Trace) Peak() float64 { return math.Max(t.Max, -t.Min) }

// PeakToPeak is Max − Min.
func (t *Trace) PeakToPeak() float64 { return t.Max - t.Min }

// Wave is what a run kept.
type Wave struct {
	Times  []float64 // [s]; nil when no samples were asked for
	Traces []Trace   // one a probe
}

// recorder gathers probes along a run by the method's own quadrature.
type recorder struct {
	probes  []Probe
	samples int64 // ticks between samples, 0 for none
	wave    Wave
	span    float64
	first   int64
	now     []float64 // probe values
	yNow    []float64 // unknowns at the step's start
	in, out float64   // energy [J]
	gross   float64
	stored  float64 // at the start [J]
	lost    bool    // a sample was not solved
}

func (r *recorder) start(s *System, t0 int64) {
	r.wave = Wave{Traces: make([]Trace, len(r.probes))}
	for i := range r.wave.Traces {
		r.wave.Traces[i].Min, r.wave.Traces[i].Max = math.Inf(1), math.Inf(-1)
	}
	r.first, r.span, r.in, r.out, r.gross = t0, 0, 0, 0, 0
	r.now = make([]float64, len(r.probes))
	r.yNow = make([]float64, s.n)
	r.stored = s.stored(s.wk.x)
	if r.samples > 0 {
		copy(s.wk.stageZ[0], s.wk.z)
		r.sample(s, t0, 0, s.wk.x, s.wk.xp)
	}
}

// read evaluates the probes.
func (r *recorder) read(s *System, y, z, f, xp []float64) {
	for i, p := range r.probes {
		v := 0.0
		switch {
		case p.port >= 0:
			v = f[p.port] + s.ports[p.port].slope*z[p.port]
		case p.cap >= 0:
			v = s.stores[p.cap].weight * xp[p.cap]
		default:
			if p.plus >= 0 {
				v = y[p.plus]
			}
			if p.minus >= 0 {
				v -= y[p.minus]
			}
		}
		r.now[i] = v
	}
}

// nearest orders the stages by their distance from a point of the step [1].
func nearest(at float64) [stages]int {
	order := [stages]int{0, 1, 2, 3, 4, 5}
	slices.SortFunc(order[:], func(a, b int) int { return cmp.Compare(math.Abs(rkC[a]-at), math.Abs(rkC[b]-at)) })
	return order
}

// sample keeps the probes at tick t, which is at the given point of the step just tried [1].
func (r *recorder) sample(s *System, t int64, at float64, x, xp []float64) {
	w := &s.wk
	// The ports' first guess is the nearest stage's; where a diode changes over
	// in between, another stage's may lead there.
	found := false
	for _, i := range nearest(at) {
		copy(w.lookZ, w.stageZ[i])
		if found = s.look(s.seconds(t), x, xp, w.lookZ, w.lookF); found {
			break
		}
	}
	if !found {
		r.lost = true
	}
	s.unknowns(s.cold[0], w.xi, w.lookU, w.lookF, w.y)
	r.read(s, w.y, w.lookZ, w.lookF, xp)
	r.wave.Times = append(r.wave.Times, s.seconds(t-r.first))
	for i := range r.wave.Traces {
		tr := &r.wave.Traces[i]
		tr.Values = append(tr.Values, r.now[i])
		tr.Min, tr.Max = math.Min(tr.Min, r.now[i]), math.Max(tr.Max, r.now[i])
	}
}

// step adds the step just tried, before it is accepted.
func (r *recorder) step(s *System, l *level, t, step int64, fresh bool) {
	w := &s.wk
	h := s.seconds(step)
	for i := range stages {
		b := h * rkB[i]
		if b == 0 {
			continue
		}
		y := w.y
		switch {
		case i == 0 && fresh:
			// The first stage is the last look.
			lk := s.cold[0]
			for q := range w.xi {
				w.xi[q] = w.x[q] - lk.hg*w.xp[q]
			}
			s.unknowns(lk, w.xi, w.u[0], w.stageF[0], y)
		case i == 0:
			y = r.yNow
		default:
			for q := range w.xi {
				w.xi[q] = w.stageX[i][q] - l.hg*w.k[i][q]
			}
			s.unknowns(l, w.xi, w.u[i], w.stageF[i], y)
		}
		r.read(s, y, w.stageZ[i], w.stageF[i], w.k[i])
		for q, v := range r.now {
			tr := &r.wave.Traces[q]
			tr.Mean += b * v
			tr.Square += b * v * v
			tr.Min, tr.Max = math.Min(tr.Min, v), math.Max(tr.Max, v)
		}
		in, out := s.powers(y, w.u[i], w.stageZ[i], w.stageF[i])
		r.in += b * in
		r.out += b * out
		r.gross += h * math.Abs(rkB[i]) * math.Abs(in)
	}
	copy(r.yNow, w.y) // the last stage is the step's end
	r.span += h
	if r.samples == 0 {
		return
	}
	for q := (t-r.first)/r.samples + 1; r.first+q*r.samples <= t+step; q++ {
		at := r.first + q*r.samples
		if at == t+step {
			r.sample(s, at, 1, w.stageX[stages-1], w.k[stages-1])
			continue
		}
		// Hermite's cubic through both ends and their slopes, equation (V14).
		th := float64(at-t) / float64(step)
		for j := range w.hx {
			x0, x1 := w.x[j], w.stageX[stages-1][j]
			d0, d1 := h*w.xp[j], h*w.k[stages-1][j]
			a, c := 3*(x1-x0)-2*d0-d1, 2*(x0-x1)+d0+d1
			w.hx[j] = x0 + th*(d0+th*(a+th*c))
			w.hxp[j] = (d0 + th*(2*a+3*th*c)) / h
		}
		r.sample(s, at, th, w.hx, w.hxp)
	}
}

func (r *recorder) finish(s *System, rep *Report) {
	for i := range r.wave.Traces {
		tr := &r.wave.Traces[i]
		tr.Mean /= r.span
		tr.RMS = math.Sqrt(math.Max(tr.Square/r.span, 0))
	}
	rep.Delivered = r.in
	rep.Balance = 0
	if r.gross > 0 {
		rep.Balance = (r.in - r.out - (s.stored(s.wk.x) - r.stored)) / r.gross
	}
}

// powers are what the feeds deliver and what the parts turn into heat or hand
// on to a load, at one moment [W].
func (s *System) powers(y, u, z, f []float64) (in, out float64) {
	c := s.c
	for i := range c.Feeds {
		j := y[s.rowS+i]
		in += u[i] * j
		out += c.Feeds[i].Ohms * j * j
	}
	for i := range c.Windings {
		j := y[s.rowW+i]
		out += c.Windings[i].Ohms * s.wire[i] * j * j
	}
	for i := range c.Cores {
		e := y[s.rowE+i]
		out += c.Cores[i].Loss * e * e
	}
	for i := range c.Branches {
		j := y[s.rowB+i]
		out += c.Branches[i].Ohms * j * j
	}
	for i := range s.ports {
		switch p := &s.ports[i]; p.kind {
		case rectifying, sinking:
			out += z[i] * (f[i] + p.slope*z[i])
		case filamentDrop:
			out += z[i] * f[i]
		}
	}
	return in, out
}

// stored is the energy in the fields [J], equation (V12).
func (s *System) stored(x []float64) float64 {
	e := 0.0
	for j, st := range s.stores {
		e += st.energy * x[j] * x[j] / 2
	}
	for i := range s.cores {
		e += s.cores[i].energy(x[i]) // the cores' fluxes are the first states
	}
	return e
}
