package waveform

import (
	"math"

	"yokemate"
)

// The stiffly accurate, L-stable singly diagonally implicit pair of order
// 4(3) with an explicit first stage, γ = 1/4: C. A. Kennedy, M. H. Carpenter,
// Appl. Numer. Math. 44 (2003) 139-181, appendix C, ARK4(3)6L[2]SA-ESDIRK.
const stages = 6

var (
	rkA = [stages][stages]float64{
		{},
		{1. / 4, 1. / 4},
		{8611. / 62500, -1743. / 31250, 1. / 4},
		{5012029. / 34652500, -654441. / 2922500, 174375. / 388108, 1. / 4},
		{15267082809. / 155376265600, -71443401. / 120774400, 730878875. / 902184768, 2285395. / 8070912, 1. / 4},
		{82889. / 524892, 0, 15625. / 83664, 69875. / 102672, -2260. / 8211, 1. / 4},
	}
	rkC    = [stages]float64{0, 1. / 2, 83. / 250, 31. / 50, 17. / 20, 1}
	rkB    = rkA[stages-1]
	rkBHat = [stages]float64{4586570599. / 29645900160, 0, 178811875. / 945068544, 814220225. / 1159782912, -3700637. / 11593932, 61727. / 225920}
)

// Time is counted in ticks, so that steps that halve and double meet the
// period's end exactly.
const (
	ticksPerPeriod = 1 << 24
	longestStep    = ticksPerPeriod / 32
	shortestStep   = 1
)

// defaultTolerance is the error a step may make: of states over their swing,
// and of diode currents over their peak [1].
const defaultTolerance = 2e-6

// work is everything that a step needs, allocated once.
type work struct {
	x, xp, xNew []float64 // states, their derivative, trial
	xi          []float64
	k           [stages][]float64 // derivatives at the stages [1/s]
	stageX      [stages][]float64
	stageZ      [stages][]float64
	stageF      [stages][]float64
	u           [stages][]float64
	z, fNow     []float64 // ports at x, and their linearised f
	zc, f, d    []float64
	cross       []float64
	dz, perUnit []float64
	stageD      [stages][]float64 // f′ and its factored Jacobian, for the sensitivities
	stageCross  [stages][]float64
	stageJac    [stages][]float64
	stagePiv    [stages][]int
	jac         []float64
	piv         []int
	// Energy through the fields: of the last run, of this one so far, of the step; the least that counts [J].
	scaleE, seenE, stepFlow, floorE float64
	err, errZ                       []float64
	scaleX                          []float64
	scaleI                          []float64
	seenI                           []float64
	lowX, highX                     []float64 // the states' swing in the run so far
	floorX                          []float64
	floorI                          []float64
	amps                            []float64 // port currents at the last accepted step's end
	sens, sensP                     []float64 // nx × nx: of x and of x'
	newSens                         []float64
	sensK                           [stages][]float64
	col, colZ                       []float64
	lookX, lookZ                    []float64
	lookF, lookU                    []float64
	hx, hxp                         []float64
	y                               []float64
}

func (w *work) alloc(s *System) {
	nx, m := s.nx, s.m
	of := func(n int, list ...*[]float64) {
		for _, p := range list {
			*p = make([]float64, n)
		}
	}
	of(nx, &w.x, &w.xp, &w.xNew, &w.xi, &w.err, &w.scaleX, &w.lowX, &w.highX, &w.floorX, &w.col, &w.lookX, &w.hx, &w.hxp)
	of(m, &w.z, &w.fNow, &w.zc, &w.f, &w.d, &w.cross, &w.dz, &w.perUnit, &w.errZ, &w.scaleI, &w.seenI, &w.floorI, &w.amps, &w.colZ, &w.lookZ, &w.lookF)
	of(m*m, &w.jac)
	of(nx*nx, &w.sens, &w.sensP, &w.newSens)
	of(s.n, &w.y)
	of(s.nu, &w.lookU)
	w.piv = make([]int, m)
	for i := range stages {
		of(nx, &w.k[i], &w.stageX[i])
		of(m, &w.stageZ[i], &w.stageF[i], &w.stageD[i], &w.stageCross[i])
		of(m*m, &w.stageJac[i])
		w.stagePiv[i] = make([]int, m)
		of(s.nu, &w.u[i])
		of(nx*nx, &w.sensK[i])
	}
	s.floors()
	s.units()
}

// floors are the sizes below which a state or a current counts as nothing.
func (s *System) floors() {
	w := &s.wk
	volts, amps := math.Inf(1), 0.0
	for _, k := range s.c.Windings {
		if a := math.Abs(k.Volts); a > 0 {
			volts = min(volts, a)
			core := &s.c.Cores[k.Core]
			amps = max(amps, math.Sqrt2*max(core.Magnetising, core.Loss)/a)
		}
	}
	if math.IsInf(volts, 1) {
		volts = 1
		for _, f := range s.c.Feeds {
			volts = max(volts, f.Volts)
		}
		amps = volts / 1000
	}
	for j, st := range s.stores {
		switch {
		case st.plus < s.c.Nodes:
			w.floorX[j] = 0.02 * volts
		case st.energy > 0:
			w.floorX[j] = 0.05 * amps
		default:
			w.floorX[j] = 0.1
		}
	}
	w.floorE = s.stored(w.floorX)
	for j := range s.ports {
		w.floorI[j] = 0.05 * amps
	}
}

// inputs are the feeds' volts at time t [s].
func (s *System) inputs(t float64, u []float64) {
	for i := range s.c.Feeds {
		f := &s.c.Feeds[i]
		u[i] = math.Sqrt2 * f.Volts * math.Sin(s.omega*t+s.ahead+f.Degrees*math.Pi/180)
	}
}

// curves evaluates every port at z: f and its derivatives. What goes back
// into the linear part (slope) is taken out here.
func (s *System) curves(z []float64) {
	w := &s.wk
	for i := range s.ports {
		p := &s.ports[i]
		v := z[i]
		switch p.kind {
		case saturating:
			q := math.Pow(math.Abs(v), p.sat.n-1) * p.sat.scale
			w.f[i], w.d[i] = q*v, q*p.sat.n
		case rectifying:
			a, da := p.diode.amps(v)
			w.f[i], w.d[i] = a-p.slope*v, da-p.slope
		case sinking:
			w.f[i], w.d[i] = s.c.Sinks[p.of].amps(v)
		case filamentDrop:
			// Drop r R_h I; heat −dr/dt = (shed(r) − r (I/I_N)²)·rate.
			l := s.c.Feeds[p.of].Lamp
			r, hot, rated := z[i+1], l.HotOhms(), l.RatedAmps()
			share := v / rated
			sh, dsh := shed(r)
			w.f[i], w.d[i], w.cross[i] = r*hot*v, r*hot, hot*v
			w.f[i+1], w.d[i+1] = (sh-r*share*share)*lampRate, (dsh-share*share)*lampRate
			w.cross[i+1] = -2 * r * share / rated * lampRate
		}
	}
}

// units are the sizes of z at which the ports' curves bend: the yardsticks of
// Newton's last correction.
func (s *System) units() {
	for i := range s.ports {
		p := &s.ports[i]
		u := 0.01
		switch p.kind {
		case rectifying:
			u = 1 / p.diode.perThermal
		case sinking:
			u = knee
		case filamentDrop:
			u *= s.c.Feeds[p.of].Lamp.RatedAmps()
			s.lamps = append(s.lamps, i)
		}
		s.wk.perUnit[i] = 1 / u
	}
}

const newtonIterations = 60

// solvePorts solves z = Z [ξ; u; f(z)] by Newton's method from the z given, equation (V11). It
// leaves z, the linearised f, its derivatives and the factored Jacobian in
// the workspace, and returns the iterations taken, 0 when it did not settle.
func (s *System) solvePorts(l *level, xi, u, z, f []float64) int {
	w, m := &s.wk, s.m
	c := s.nx + s.nu + m
	for i := range m {
		row := l.z[i*c : (i+1)*c]
		v := 0.0
		for j, x := range xi {
			v += row[j] * x
		}
		for j, x := range u {
			v += row[s.nx+j] * x
		}
		w.zc[i] = v
	}
	for it := 1; it <= newtonIterations; it++ {
		s.curves(z)
		for i := range m {
			row := l.z[i*c+s.nx+s.nu : (i+1)*c]
			v := w.zc[i] - z[i]
			for j, fj := range w.f {
				v += row[j] * fj
			}
			w.dz[i] = v
		}
		s.factor(l)
		luSolve(w.jac, w.piv, m, w.dz)
		worst := 0.0
		for i, v := range w.dz {
			worst = max(worst, math.Abs(v)*w.perUnit[i])
		}
		if !(worst <= math.MaxFloat64) {
			return 0
		}
		if worst < newtonLast {
			for i, v := range w.dz {
				z[i] += v
			}
			// The linearised f belongs to the new z: Kirchhoff's laws hold to rounding.
			for i, v := range w.dz {
				f[i] = w.f[i] + w.d[i]*v
			}
			for _, i := range s.lamps {
				f[i] += w.cross[i] * w.dz[i+1]
				f[i+1] += w.cross[i+1] * w.dz[i]
			}
			return it
		}
		// Several diodes that hand over to one another may go round in a
		// circle: after a while half steps break it.
		t := 1.0
		if it > newtonIterations/2 {
			t = 0.5
		}
		for i, v := range w.dz {
			if u := v * w.perUnit[i]; u < -1 && s.ports[i].kind == rectifying {
				// Down an exponential a straight line creeps by nVt a step: go
				// where the current is that the line foretells.
				p := &s.ports[i]
				if amps := w.f[i] + w.d[i]*v + p.slope*(z[i]+v); amps > 0 {
					z[i] = max(z[i]+v, p.diode.drop(amps))
					continue
				}
			}
			z[i] += t * v
		}
	}
	return 0
}

// newtonLast is the last correction allowed, in the ports' own units; what it
// leaves is of its square: microvolts of a diode's drop.
const newtonLast = 1e-2

// factor makes and factors J = 1 − Z f′.
func (s *System) factor(l *level) {
	w, m := &s.wk, s.m
	c := s.nx + s.nu + m
	d := w.d[:m]
	for i := range m {
		row := l.z[i*c+s.nx+s.nu:][:m]
		out := w.jac[i*m:][:m]
		for j, v := range row {
			out[j] = -v * d[j]
		}
		for _, j := range s.lamps {
			out[j] -= row[j+1] * w.cross[j+1]
			out[j+1] -= row[j] * w.cross[j]
		}
		out[i]++
	}
	lu(w.jac, w.piv, m)
}

// lu factors a small dense matrix in place with partial pivoting. For the
// half dozen ports of a supply it takes a tenth of the time of the library's
// call, and it is called some thousand times a period.
func lu(a []float64, piv []int, n int) {
	for k := range n {
		p, big := k, math.Abs(a[k*n+k])
		for r := k + 1; r < n; r++ {
			if v := math.Abs(a[r*n+k]); v > big {
				p, big = r, v
			}
		}
		piv[k] = p
		rowK := a[k*n:][:n]
		if p != k {
			rowP := a[p*n:][:n]
			for c := range rowK {
				rowK[c], rowP[c] = rowP[c], rowK[c]
			}
		}
		inv := 1 / rowK[k]
		rest := rowK[k+1:]
		for r := k + 1; r < n; r++ {
			row := a[r*n+k:][:n-k]
			if row[0] == 0 {
				continue
			}
			q := row[0] * inv
			row[0] = q
			row = row[1:][:len(rest)]
			for c, v := range rest {
				row[c] -= q * v
			}
		}
	}
}

func luSolve(a []float64, piv []int, n int, b []float64) {
	b = b[:n]
	for k, p := range piv {
		b[k], b[p] = b[p], b[k]
	}
	for k := 1; k < n; k++ {
		v := b[k]
		for c, q := range a[k*n:][:k] {
			v -= q * b[c]
		}
		b[k] = v
	}
	for k := n - 1; k >= 0; k-- {
		v := b[k]
		row := a[k*n+k:][:n-k]
		for c, x := range b[k+1:] {
			v -= row[c+1] * x
		}
		b[k] = v / row[0]
	}
}

// stage solves one implicit stage: states X from ξ, u and the ports.
func (s *System) stage(l *level, xi, u, z, f, X []float64) int {
	it := s.solvePorts(l, xi, u, z, f)
	if it == 0 {
		return 0
	}
	c := s.nx + s.nu + s.m
	for i := range s.nx {
		row := l.x[i*c : (i+1)*c]
		v := 0.0
		for j, x := range xi {
			v += row[j] * x
		}
		for j, x := range u {
			v += row[s.nx+j] * x
		}
		for j, x := range f {
			v += row[s.nx+s.nu+j] * x
		}
		X[i] = v
	}
	return it
}

// look finds every port and, through them, every unknown at time t from the
// states x that change at the rate xp. It leaves ports in z and f.
func (s *System) look(t float64, x, xp, z, f []float64) bool {
	w := &s.wk
	l := s.cold[0]
	s.inputs(t, w.lookU)
	for i := range w.xi {
		w.xi[i] = x[i] - l.hg*xp[i]
	}
	return s.stage(l, w.xi, w.lookU, z, f, w.lookX) > 0
}

// unknowns writes Y from the last stage's ξ, u and f at a level.
func (s *System) unknowns(l *level, xi, u, f, y []float64) {
	c := s.nx + s.nu + s.m
	for i := range s.n {
		row := l.y[i*c : (i+1)*c]
		v := 0.0
		for j, x := range xi {
			v += row[j] * x
		}
		for j, x := range u {
			v += row[s.nx+j] * x
		}
		for j, x := range f {
			v += row[s.nx+s.nu+j] * x
		}
		y[i] = v
	}
}

// begin finds the derivative and the ports of a start from states x at time
// t. A few of the shortest steps, by the implicit Euler method, bring states that the
// circuit ties to others, or lets go in no time, to where it has them;
// their straight line is then drawn back to t.
func (s *System) begin(t float64, x []float64) error {
	w := &s.wk
	l := s.cold[0]
	copy(w.x, x)
	for i := range relaxing {
		s.inputs(t+float64(i+1)*l.hg, w.lookU)
		copy(w.xi, w.x)
		if s.stage(l, w.xi, w.lookU, w.z, w.fNow, w.lookX) == 0 {
			clear(w.z)
			if s.stage(l, w.xi, w.lookU, w.z, w.fNow, w.lookX) == 0 {
				return s.lost(t)
			}
		}
		for j, v := range w.lookX {
			w.xp[j] = (v - w.x[j]) / l.hg
			w.x[j] = v
		}
	}
	for j := range w.x {
		w.x[j] -= relaxing * l.hg * w.xp[j]
	}
	if !s.look(t, w.x, w.xp, w.z, w.fNow) {
		return s.lost(t)
	}
	s.portAmps(w.z, w.fNow, w.amps)
	copy(w.lowX, w.x)
	copy(w.highX, w.x)
	return nil
}

// relaxing is how many of the shortest steps a start takes.
const relaxing = 4

// portAmps turns f back into the parts' own currents.
func (s *System) portAmps(z, f, amps []float64) {
	for i := range s.ports {
		amps[i] = f[i] + s.ports[i].slope*z[i]
	}
}

func (s *System) lost(t float64) error {
	return yokemate.Errorf(yokemate.Internal, "", "the circuit did not settle %.6g s after its start", t).
		Mend("look for a load that asks for more than the hookup can give")
}
