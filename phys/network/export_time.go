package network

import (
	"math"

	"yokemate/phys/protect"
)

// Parts is the network as a list of parts between numbered nodes, for the
// models that follow it in time. Node −1 is neutral and earth. Stray
// capacitances are left out.
type Parts struct {
	Nodes    int
	Windings []WindingPart
	Cores    []CorePart
	Feeds    []FeedPart // those that are in their sockets
	Lumps    []LumpPart // loads, fuses between joints, meters, added branches
}

// WindingPart is a winding or, where turns are shorted, a part of one.
type WindingPart struct {
	From, To int
	Core     int // index in Parts.Cores
	Winding  int // index in the unit's Windings
	Shorted  bool
	Volts    float64 // induced at the core's excitation reading [V]
	Ohms     float64 // at 20 °C [Ω]
	Henries  float64 // own leakage [H]
}

// CorePart is a unit's iron: G, Q, κ, n and f₀ of N2 and N3.
type CorePart struct {
	Unit    string
	Loss    float64 // G [W]
	Var     float64 // Q [var]
	Kappa   float64 // κ; 0 in a linear network
	N       float64 // n
	Hertz   float64 // f₀ [Hz]
	PerFlux float64 // flux of the unit, 1 at its label, per x of N3 [1]
}

// FeedPart is a plug.
type FeedPart struct {
	Index   int // in the hookup's feeds
	Live    int
	Ohms    float64 // source and resistor limiter [Ω]
	Degrees float64
	Lamp    *protect.Lamp // nil for none
}

// LumpPart is a resistance with an inductance, or a load of constant rms amps.
type LumpPart struct {
	From, To int
	Ohms     float64 // [Ω]
	Henries  float64 // [H]
	Amps     float64 // constant rms current where above 0 [A]
	Output   int     // index in the hookup's outputs, −1 for what is no load
	Fuse     int     // index in the hookup's fuses, −1 for what is no fuse
}

// Parts lists the network's parts at their facts' own values.
func (n *Net) Parts() Parts {
	p := Parts{Nodes: len(n.nodes)}
	for k, u := range n.units {
		c := &u.c
		core := CorePart{Unit: u.Tag, Loss: c.g, Var: c.q, Kappa: c.kappa, N: c.n, Hertz: u.Hertz, PerFlux: 1}
		if n.opt.Linear {
			// The slope at no flux is what Solve takes for a linear core: Q itself.
			core.Kappa = 0
		}
		if u.eRated > 0 {
			core.PerFlux = u.Rated.Hertz / u.Hertz / u.eRated
		}
		p.Cores = append(p.Cores, core)
		for w := range u.Windings {
			left := 1 - u.shortedPart(w)
			p.Windings = append(p.Windings, WindingPart{
				From: u.pins[w][0], To: u.pins[w][1], Core: k, Winding: w,
				Volts: c.a[w] * left, Ohms: c.r[w] * left, Henries: c.l[w] * left * left,
			})
		}
		for _, s := range u.shorts {
			p.Windings = append(p.Windings, WindingPart{
				From: -1, To: -1, Core: k, Winding: s.w, Shorted: true,
				Volts: c.a[s.w] * s.part, Ohms: c.r[s.w] * s.part, Henries: c.l[s.w] * s.part * s.part,
			})
		}
	}
	for i := range n.feeds {
		if f := &n.feeds[i]; f.row >= 0 {
			p.Feeds = append(p.Feeds, FeedPart{Index: f.index, Live: f.live, Ohms: f.ohms, Degrees: f.Degrees, Lamp: f.lamp})
		}
	}
	for i := range n.lumps {
		l := &n.lumps[i]
		q := LumpPart{From: l.from, To: l.to, Ohms: real(l.z), Henries: imag(l.z) / n.omega, Amps: l.amps, Output: -1, Fuse: -1}
		switch l.kind {
		case isLoad:
			q.Output = l.index
		case isFuse:
			q.Fuse = l.index
		}
		p.Lumps = append(p.Lumps, q)
	}
	return p
}

// CopperFactor is R/R₂₀ of every winding at the hookup's copper temperature [1].
func (n *Net) CopperFactor() float64 { return n.copper }

// Hertz is the frequency of every plug [Hz].
func (n *Net) Hertz() float64 { return n.omega / (2 * math.Pi) }

// SetCopperFactor gives winding w of the k-th unit its own R/R₂₀ for the
// solves that follow, in place of the hookup's copper temperature. The
// sensitivities of [Solution.Spread] keep to that temperature.
func (n *Net) SetCopperFactor(k, w int, factor float64) {
	u := n.units[k]
	u.c.r[w] = u.Params[3*w+1].Value * factor / n.copper
}

// IronWatts is the unit's core loss at its excitation reading [W].
func (u *Unit) IronWatts() float64 {
	var c coefficients
	u.coefficients(u.values(), &c)
	return c.g
}
