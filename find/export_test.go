package find

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
)

// Reckoning is a candidate's reckoned figures beside the network's.
type Reckoning struct {
	Name           string
	Volts, Network [2]float64 // cold and hot [V]
	Slack          [2]float64 // what the search allows between them [V]
	Lim, MaxAmps   float64    // reckoned with its allowance, and the network's [A]
	Circ           float64    // reckoned with its allowance, as a share of the smallest rating
	Joints, Count  int        // reckoned, and counted
	Hookup         *yokemate.Hookup
}

// Reckon lays out up to size candidates of every generator and solves each,
// whether it meets the need or not.
func Reckon(f *network.Facts, need *yokemate.Need, size int) []Reckoning {
	s := &search{facts: f, need: need, memo: map[*drive]map[string]bool{}}
	s.prepare()
	var out []Reckoning
	for _, g := range s.generators() {
		p := &pool{s: s, caution: g.key.caution, size: size}
		g.run(p)
		for _, c := range p.best {
			if c.whole == nil {
				// Two rails, or back to back: only its joints are compared.
				h := c.plan.hookup()
				out = append(out, Reckoning{Name: c.plan.name(), Slack: [2]float64{1, 1}, Joints: c.key.joints, Count: jointCount(h), Hookup: h})
				continue
			}
			r := Reckoning{Name: c.plan.name(), Joints: c.key.joints, Lim: c.whole.lim * errLim, Circ: c.whole.circ * errCirc, Hookup: c.plan.hookup()}
			r.Count = jointCount(r.Hookup)
			base := 0.0
			if c.plan.auto {
				base = s.need.Feed.Volts.V
			}
			for t, celsius := range [2]float64{coldC, hotC} {
				e := c.whole
				r.Volts[t] = cmplx.Abs(complex(base, 0) + loadedOn(base, e.v0[t], e.z[t], need.Amps))
				r.Slack[t] = slack(r.Volts[t], cmplx.Abs(e.z[t])*need.Amps) + errVolts*cmplx.Abs(e.v0[t])
				h := r.Hookup.Clone()
				h.CopperC = &celsius
				n, err := network.Build(f, h, network.Options{})
				if err != nil {
					panic(err)
				}
				sol, err := n.Solve(nil)
				if err != nil {
					r.Network[t] = math.NaN()
					continue
				}
				v, _ := n.Volts(h.Outputs[0].From, h.Outputs[0].To)
				r.Network[t] = cmplx.Abs(sol.Value(v))
			}
			if s.solve(c) == nil {
				r.MaxAmps = c.offer.MaxAmps
			}
			out = append(out, r)
		}
	}
	return out
}
