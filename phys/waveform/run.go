package waveform

import (
	"math"
)

// Status says how a run ended.
type Status int

const (
	NotRun Status = iota
	Finished
	Steady  // periodic: the period's end is its start
	Wanders // no periodic state within the passes allowed
	Lost    // no step, however short, solved the equations
)

func (s Status) String() string {
	return [...]string{"not run", "finished", "steady", "wanders", "lost"}[s]
}

// Report says how an answer was found.
type Report struct {
	Status    Status
	Steps     int     // taken
	Rejected  int     // tried and thrown away
	Newton    int     // iterations in all
	Periods   int     // integrated in all, the last one and the trials
	Closure   float64 // of a periodic state: how far its end is from its start, in the states' own sizes [1]
	Delivered float64 // energy from the feeds over the last run [J]
	Balance   float64 // of that run: delivered less lost less stored, over the energy that went to and fro [1]
}

// runOptions say what an integration is to keep.
type runOptions struct {
	tolerance float64
	sens      bool
	rec       *recorder
	stop      func(ticks int64) bool // after every step; true ends the run
	again     []int64                // steps of an earlier run to take again [ticks]; nil: by the error
	steps     *[]int64               // where to note the steps taken [ticks]; nil: nowhere
}

// againError is the error over the tolerance that a step may make which an
// earlier run took and kept: it starts from all but the same states [1].
const againError = 3

// run integrates from tick t0, with the states that begin set, for so many ticks.
func (s *System) run(t0, ticks int64, opt runOptions, rep *Report) error {
	if opt.sens {
		s.startSens()
	}
	if opt.rec != nil {
		opt.rec.start(s, t0)
	}
	share := energyShare * opt.tolerance
	if opt.rec != nil {
		share = min(share, energyShare*energyLoosest)
	}
	step := int64(longestStep / 16)
	t := t0
	fresh := true
	if opt.steps != nil {
		*opt.steps = (*opt.steps)[:0]
	}
	for t < t0+ticks {
		most := 1.0
		if len(opt.again) > 0 {
			step, opt.again, most = opt.again[0], opt.again[1:], againError
		}
		for t+step > t0+ticks || t&(step-1) != 0 {
			step >>= 1
		}
		l, err := s.level(int(step))
		if err != nil {
			return err
		}
		e, ok := s.try(l, t, step, opt.tolerance, share, opt.sens, rep)
		if !ok || e > most {
			rep.Rejected++
			if step == shortestStep {
				rep.Status = Lost
				return s.lost(s.seconds(t))
			}
			step >>= 1
			switch {
			case most == againError:
				opt.again = append([]int64{step, step}, opt.again...)
			case !ok || e > 30:
				step = max(step>>1, shortestStep)
			}
			continue
		}
		rep.Steps++
		if opt.steps != nil {
			*opt.steps = append(*opt.steps, step)
		}
		if opt.sens {
			s.carrySens(l, float64(step)/ticksPerPeriod/s.c.Hertz)
		}
		if opt.rec != nil {
			opt.rec.step(s, l, t, step, fresh)
		}
		fresh = false
		s.accept()
		t += step
		if opt.stop != nil && opt.stop(t) {
			break
		}
		if e < 0.04 && step < longestStep && t&(2*step-1) == 0 {
			step <<= 1
		}
	}
	if opt.rec != nil {
		opt.rec.finish(s, rep)
		if opt.rec.lost {
			rep.Status = Lost
			return s.lost(s.seconds(t0))
		}
	}
	rep.Status = Finished
	return nil
}

func (s *System) seconds(ticks int64) float64 {
	return float64(ticks) / ticksPerPeriod / s.c.Hertz
}

// near are the two stages whose ports foretell those of a later one.
var near = [stages][2]int{{}, {0, 0}, {1, 0}, {1, 2}, {3, 1}, {4, 3}}

// try makes one step from the workspace's x and leaves the trial in stage 6.
// It returns the error over the tolerance, where share is that of the energy.
func (s *System) try(l *level, t, step int64, tol, share float64, sens bool, rep *Report) (e float64, ok bool) {
	w := &s.wk
	h := float64(step) / ticksPerPeriod / s.c.Hertz
	t0 := s.seconds(t)
	copy(w.k[0], w.xp)
	copy(w.stageX[0], w.x)
	copy(w.stageZ[0], w.z)
	copy(w.stageF[0], w.fNow)
	s.inputs(t0, w.u[0])
	for i := 1; i < stages; i++ {
		copy(w.xi, w.x)
		for j := range i {
			a := h * rkA[i][j]
			if a == 0 {
				continue
			}
			for q, v := range w.k[j] {
				w.xi[q] += a * v
			}
		}
		s.inputs(t0+rkC[i]*h, w.u[i])
		// The ports' first guess: a straight line through two earlier stages.
		a, b := near[i][0], near[i][1]
		reach := 0.0
		if a != b {
			reach = (rkC[i] - rkC[a]) / (rkC[a] - rkC[b])
		}
		for q, v := range w.stageZ[a] {
			w.stageZ[i][q] = v + reach*(v-w.stageZ[b][q])
		}
		it := s.stage(l, w.xi, w.u[i], w.stageZ[i], w.stageF[i], w.stageX[i])
		if it == 0 {
			return 0, false
		}
		rep.Newton += it
		if sens {
			copy(w.stageD[i], w.d)
			copy(w.stageCross[i], w.cross)
			copy(w.stageJac[i], w.jac)
			copy(w.stagePiv[i], w.piv)
		}
		for q := range w.xi {
			w.k[i][q] = (w.stageX[i][q] - w.xi[q]) / l.hg
		}
	}
	for q := range w.err {
		v := 0.0
		for i := range stages {
			v += (rkB[i] - rkBHat[i]) * w.k[i][q]
		}
		w.err[q] = h * v
		// A state's size is its swing: what a reservoir gives and takes in a
		// period, not the volts that it stands at.
		x := w.stageX[stages-1][q]
		scale := max(w.scaleX[q], max(w.highX[q], x)-min(w.lowX[q], x))
		e = max(e, math.Abs(w.err[q])/scale)
	}
	// What the states' error does to the currents, as the last stage has it.
	c := s.nx + s.nu + s.m
	for i := range w.errZ {
		v := 0.0
		for j, x := range w.err {
			v += l.z[i*c+j] * x
		}
		w.errZ[i] = v
	}
	luSolve(w.jac, w.piv, s.m, w.errZ)
	for i := range s.ports {
		if s.ports[i].kind != rectifying {
			continue
		}
		a := math.Abs(w.stageF[stages-1][i] + s.ports[i].slope*w.stageZ[stages-1][i])
		scale := max(w.scaleI[i], max(a, w.seenI[i]))
		e = max(e, math.Abs((w.d[i]+s.ports[i].slope)*w.errZ[i])/scale)
	}
	e /= tol
	// The step's own energy error, equation (V12): by the method's quadrature
	// of what flows into the fields, and by the fields at both ends.
	defect, flow := s.defect(h)
	w.stepFlow = math.Abs(flow)
	if scale := max(w.scaleE, w.seenE+w.stepFlow); scale > 0 {
		e = max(e, math.Abs(defect)/(share*scale))
	}
	return e, !math.IsNaN(e)
}

// energyShare is what of the tolerance a step may err in energy, over the
// energy that goes in and out of the fields: a hundred steps that err alike stay
// far below 10⁻⁶ at the default tolerance. A run at a loose tolerance whose
// waves are kept still balances to 10⁻⁶: it may err in energy as if its
// tolerance were energyLoosest [1].
const (
	energyShare   = 1e-3
	energyLoosest = 5e-5
)

// defect is a step's energy error and the change of the fields' energy [J].
func (s *System) defect(h float64) (defect, flow float64) {
	w := &s.wk
	last := stages - 1
	into := 0.0
	for j, st := range s.stores {
		if st.energy == 0 {
			continue
		}
		x0, x1 := w.x[j], w.stageX[last][j]
		flow += st.energy * (x1 - x0) * (x1 + x0) / 2
		for i := range stages {
			into += h * rkB[i] * st.energy * w.stageX[i][j] * w.k[i][j]
		}
	}
	for k := range s.c.Cores {
		core := &s.cores[k]
		flow += core.energy(w.stageX[last][k]) - core.energy(w.x[k])
		for i := range stages {
			if rkB[i] != 0 {
				into += h * rkB[i] * core.slope(w.stageX[i][k]) * w.k[i][k]
			}
		}
	}
	return into - flow, flow
}

// accept makes the trial the new start.
func (s *System) accept() {
	w := &s.wk
	last := stages - 1
	copy(w.x, w.stageX[last])
	copy(w.xp, w.k[last])
	w.seenE += w.stepFlow
	copy(w.z, w.stageZ[last])
	copy(w.fNow, w.stageF[last])
	s.portAmps(w.z, w.fNow, w.amps)
	for i, v := range w.x {
		w.lowX[i], w.highX[i] = min(w.lowX[i], v), max(w.highX[i], v)
	}
	for i, v := range w.amps {
		w.seenI[i] = max(w.seenI[i], math.Abs(v))
	}
}

// rescale makes the sizes of the last run the yardstick of the next.
func (s *System) rescale(keep bool) {
	w := &s.wk
	for i := range w.scaleX {
		w.scaleX[i] = w.floorX[i]
		if keep {
			w.scaleX[i] = max(w.scaleX[i], w.highX[i]-w.lowX[i])
		}
	}
	w.scaleE = w.floorE
	if keep {
		w.scaleE = max(w.scaleE, w.seenE)
	}
	w.seenE = 0
	for i := range w.seenI {
		w.scaleI[i] = w.floorI[i]
		if keep {
			w.scaleI[i] = max(w.scaleI[i], w.seenI[i])
		}
		w.seenI[i] = 0
	}
}

// startSens sets the derivatives of the start by the states given: through the
// steps that begin took, at the ports that it found.
func (s *System) startSens() {
	w := &s.wk
	nx := s.nx
	l := s.cold[0]
	s.curves(w.z)
	s.factor(l)
	copy(w.stageD[0], w.d)
	copy(w.stageCross[0], w.cross)
	copy(w.stageJac[0], w.jac)
	copy(w.stagePiv[0], w.piv)
	for j := range nx {
		clear(w.col)
		w.col[j] = 1
		for range relaxing {
			s.respond(l, 0, w.col, w.hx)
			for i, v := range w.hx {
				w.hxp[i] = (v - w.col[i]) / l.hg
				w.col[i] = v
			}
		}
		for i := range nx {
			w.sensP[i*nx+j] = w.hxp[i]
			w.sens[i*nx+j] = w.col[i] - relaxing*l.hg*w.hxp[i]
		}
	}
}

// respond is dX/dξ · dξ at a stage's ports.
func (s *System) respond(l *level, stage int, dxi, dX []float64) {
	w := &s.wk
	nx, m := s.nx, s.m
	c := nx + s.nu + m
	z := w.colZ
	for i := range z {
		v := 0.0
		row := l.z[i*c:][:nx]
		for j, x := range dxi {
			v += row[j] * x
		}
		z[i] = v
	}
	luSolve(w.stageJac[stage], w.stagePiv[stage], m, z)
	d, cross := w.stageD[stage], w.stageCross[stage]
	// df = f′ dz, in place.
	for _, i := range s.lamps {
		w.dz[i], w.dz[i+1] = cross[i]*z[i+1], cross[i+1]*z[i]
	}
	for i := range z {
		z[i] *= d[i]
	}
	for _, i := range s.lamps {
		z[i] += w.dz[i]
		z[i+1] += w.dz[i+1]
	}
	for i := range nx {
		row := l.x[i*c : (i+1)*c]
		v := 0.0
		for j, x := range dxi {
			v += row[j] * x
		}
		for j, x := range w.colZ {
			v += row[nx+s.nu+j] * x
		}
		dX[i] = v
	}
}

// carrySens carries dx/dx₀ over the step just tried, stage by stage: the
// derivative of the method itself, equation (V13).
func (s *System) carrySens(l *level, h float64) {
	w := &s.wk
	nx := s.nx
	copy(w.sensK[0], w.sensP)
	for i := 1; i < stages; i++ {
		for col := range nx {
			for q := range nx {
				v := w.sens[q*nx+col]
				for j := range i {
					v += h * rkA[i][j] * w.sensK[j][q*nx+col]
				}
				w.col[q] = v
			}
			s.respond(l, i, w.col, w.hx)
			for q := range nx {
				w.sensK[i][q*nx+col] = (w.hx[q] - w.col[q]) / l.hg
				if i == stages-1 {
					w.newSens[q*nx+col] = w.hx[q]
				}
			}
		}
	}
	copy(w.sens, w.newSens)
	copy(w.sensP, w.sensK[stages-1])
}
