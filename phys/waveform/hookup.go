package waveform

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
)

// Hookup is a hookup in time: the parts of its steady network, and the
// rectifiers and reservoirs of its DC outputs.
type Hookup struct {
	*System
	Circuit   Circuit
	Parts     network.Parts // Windings, Cores and Feeds in the circuit's order
	AC        *network.Net  // the same without its DC outputs, solved for steady AC
	Rails     []Rail
	Start     []float64 // a guess of the periodic states
	FeedVolts network.FeedVolts
	loads     map[int]int // output → branch
	fuses     map[int]int // fuse of the hookup → branch
}

// Rail is one reservoir of a DC output. A doubler has one rail over both its
// capacitors.
type Rail struct {
	Output      int // in the hookup's outputs
	Plus, Minus int // nodes
	Diodes      []int
	Capacitors  []int
	Sink        int
}

// HookupOptions say how a hookup is put into time. The zero value is the
// hookup as it stands.
type HookupOptions struct {
	Network network.Options
	Volts   network.FeedVolts // nil means nominal
	// Diode gives the law of the diodes for a rail of so many amps; nil means
	// silicon of the first rating in DiodeAmps that is 1.5 times them.
	Diode func(amps float64) DiodeLaw
}

// DiodeRating is the first usual rating of at least 1.5 times a rail's amps
// (common practice, no source), and so many times it for the largest [A].
func DiodeRating(amps float64) float64 {
	for _, r := range []float64{1, 3, 6, 10, 15, 25, 35, 50} {
		if r >= 1.5*amps {
			return r
		}
	}
	return 1.5 * amps
}

// FromHookup puts a hookup into time.
func FromHookup(f *network.Facts, h *yokemate.Hookup, opt HookupOptions) (*Hookup, error) {
	plain := h.Clone()
	for i := range plain.Outputs {
		plain.Outputs[i].DC = nil
	}
	n, err := network.Build(f, plain, opt.Network)
	if err != nil {
		return nil, err
	}
	x := &Hookup{AC: n, Parts: n.Parts(), FeedVolts: opt.Volts, loads: map[int]int{}, fuses: map[int]int{}}
	if x.FeedVolts == nil {
		x.FeedVolts = n.VoltsAt(yokemate.Nominal)
	}
	sol, err := n.Solve(x.FeedVolts)
	if err != nil {
		return nil, err
	}
	c := &x.Circuit
	c.Hertz, c.Nodes = n.Hertz(), x.Parts.Nodes
	for _, k := range x.Parts.Cores {
		c.Cores = append(c.Cores, Core{Loss: k.Loss, Magnetising: k.Var, Kappa: k.Kappa, Exponent: k.N, Hertz: k.Hertz})
	}
	for _, w := range x.Parts.Windings {
		c.Windings = append(c.Windings, Winding{From: w.From, To: w.To, Core: w.Core, Volts: w.Volts, Ohms: w.Ohms * n.CopperFactor(), Henries: w.Henries})
	}
	for _, p := range x.Parts.Feeds {
		if p.Live == Ground {
			return nil, yokemate.Errorf(yokemate.Impossible, "feed", "live is joined to neutral or earth: a dead short across the mains").
				Mend("take the two joints apart")
		}
		c.Feeds = append(c.Feeds, Feed{Node: p.Live, Volts: x.FeedVolts[p.Index], Degrees: p.Degrees, Ohms: p.Ohms, Lamp: p.Lamp})
	}
	for _, l := range x.Parts.Lumps {
		b := Branch{From: l.From, To: l.To, Ohms: l.Ohms, Henries: l.Henries}
		if l.Amps > 0 {
			// Constant rms amps have no waveform of their own: the
			// impedance that draws them in the steady state stands in.
			z, err := x.standIn(sol, h, l)
			if err != nil {
				return nil, err
			}
			b.Ohms, b.Henries = real(z), imag(z)/(2*math.Pi*c.Hertz)
		}
		if l.Output >= 0 {
			x.loads[l.Output] = len(c.Branches)
		}
		if l.Fuse >= 0 {
			x.fuses[l.Fuse] = len(c.Branches)
		}
		c.Branches = append(c.Branches, b)
	}
	start := map[int]float64{}
	for i, o := range h.Outputs {
		if o.DC != nil {
			if err := x.rectify(i, &o, sol, opt.Diode, start); err != nil {
				return nil, err
			}
		}
	}
	if x.System, err = Compile(c); err != nil {
		return nil, err
	}
	x.guess(sol, start)
	return x, nil
}

func (x *Hookup) standIn(sol *network.Solution, h *yokemate.Hookup, l network.LumpPart) (complex128, error) {
	o := &h.Outputs[l.Output]
	p, _ := x.AC.Volts(o.From, o.To)
	q, _ := x.AC.LoadAmps(l.Output)
	i := sol.Value(q)
	if cmplx.Abs(i) < 1e-3*l.Amps {
		return 0, yokemate.Errorf(yokemate.Impossible, "output "+o.Name, "it is dead and cannot give its constant current").Mend("give the load in ohms")
	}
	z := sol.Value(p) / i
	if !(real(z) > 0) {
		return 0, yokemate.Errorf(yokemate.Unsupported, "output "+o.Name, "a load without resistance has no waveform here").Mend("give its power factor above 0, or the load in ohms and henries")
	}
	return complex(real(z), max(imag(z), 0)), nil
}

// rectify adds the parts of one DC output.
func (x *Hookup) rectify(out int, o *yokemate.Output, sol *network.Solution, law func(float64) DiodeLaw, start map[int]float64) error {
	c, d := &x.Circuit, o.DC
	node := func(joint string) int {
		k, _ := x.AC.Node(joint)
		return k
	}
	fresh := func() int { c.Nodes++; return c.Nodes - 1 }
	if law == nil {
		law = func(amps float64) DiodeLaw { return Silicon(DiodeRating(amps)) }
	}
	laws := law(d.Amps)
	diode := func(from, to int) int {
		c.Diodes = append(c.Diodes, Diode{from, to, laws})
		return len(c.Diodes) - 1
	}
	p, _ := x.AC.Volts(o.From, o.To)
	peak := math.Sqrt2 * cmplx.Abs(sol.Value(p))
	reservoir := func(from, to int, volts float64) int {
		start[len(c.Capacitors)] = max(0.93*volts, 0)
		c.Capacitors = append(c.Capacitors, Capacitor{from, to, d.Farads})
		return len(c.Capacitors) - 1
	}
	load := func(from, to int) int {
		c.Sinks = append(c.Sinks, Sink{From: from, To: to, Amps: d.Amps})
		return len(c.Sinks) - 1
	}
	a, b := node(o.From), node(o.To)
	const drop = 0.8
	switch {
	case d.Rectifier == "bridge":
		plus, minus := fresh(), fresh()
		up := []int{diode(a, plus), diode(b, plus)}
		down := []int{diode(minus, a), diode(minus, b)}
		if d.Middle == "" {
			x.Rails = append(x.Rails, Rail{out, plus, minus, append(up, down...), []int{reservoir(plus, minus, peak-2*drop)}, load(plus, minus)})
			return nil
		}
		m := node(d.Middle)
		x.Rails = append(x.Rails,
			Rail{out, plus, m, up, []int{reservoir(plus, m, peak/2-drop)}, load(plus, m)},
			Rail{out, m, minus, down, []int{reservoir(m, minus, peak/2-drop)}, load(m, minus)})
	case d.Rectifier == "centre-tap":
		if d.Middle == "" {
			return yokemate.Errorf(yokemate.Invalid, "output "+o.Name+" dc", "a centre-tap rectifier needs its middle").Mend("add \"middle\": the joint of the tap")
		}
		plus, m := fresh(), node(d.Middle)
		x.Rails = append(x.Rails, Rail{out, plus, m, []int{diode(a, plus), diode(b, plus)}, []int{reservoir(plus, m, peak/2-drop)}, load(plus, m)})
	case d.Rectifier == "half":
		plus := fresh()
		x.Rails = append(x.Rails, Rail{out, plus, b, []int{diode(a, plus)}, []int{reservoir(plus, b, peak-drop)}, load(plus, b)})
	default: // doubler
		plus, minus := fresh(), fresh()
		x.Rails = append(x.Rails, Rail{out, plus, minus, []int{diode(a, plus), diode(minus, a)},
			[]int{reservoir(plus, b, peak-drop), reservoir(b, minus, peak-drop)}, load(plus, minus)})
	}
	return nil
}

// guess takes the states of the steady AC at the start of the wave, and the
// capacitors charged.
func (x *Hookup) guess(sol *network.Solution, caps map[int]float64) {
	s := x.Rest()
	for k, c := range x.Circuit.Cores {
		s[k] = -c.Hertz / x.Circuit.Hertz * real(sol.Value(x.AC.Induced(k)))
	}
	for i, v := range caps {
		x.SetCapacitor(s, i, v)
	}
	for j, st := range x.stores {
		for i, f := range x.Circuit.Feeds {
			if st.plus == x.rowR+i {
				p, _ := x.AC.FeedAmps(x.Parts.Feeds[i].Index)
				s[j] = f.Lamp.OhmsAtAmps(cmplx.Abs(sol.Value(p))) / f.Lamp.HotOhms()
			}
		}
	}
	x.Start = s
}

// LoadAmps probes the current of the AC load of an output; ok is false when it has none.
func (x *Hookup) LoadAmps(output int) (p Probe, ok bool) {
	b, ok := x.loads[output]
	return x.BranchAmps(b), ok
}

// FuseAmps probes the current of the i-th fuse between joints.
func (x *Hookup) FuseAmps(i int) Probe { return x.BranchAmps(x.fuses[i]) }

// OutputVolts probes the AC volts of an output.
func (x *Hookup) OutputVolts(o *yokemate.Output) Probe {
	a, _ := x.AC.Node(o.From)
	b, _ := x.AC.Node(o.To)
	return x.Volts(a, b)
}
