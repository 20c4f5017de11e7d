package find

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
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

// Pulse is a rectified candidate's reckoned figures beside package supply's.
type Pulse struct {
	Name         string
	Lo, Hi       [2]float64 // bounds of the mean, cold and hot [V]
	Mean         [2]float64 // the least and the most of any rail [V]
	HotMean      [2]float64
	AC           [2]float64 // volts at the least rms amps, cold and hot, the search's band below and above 1 [1]
	Amps         float64    // certain to be past the limit, over the need's [1]
	Full         float64    // how full the fullest secondary is at the need's amps [1]
	Count, Joint int
	// What the sums of a reservoir may be off and are, cold and hot [V], and how full the
	// fullest winding is at the most amps that they leave [1]. NaN where they do not tell.
	Sketch, Off [2]float64
	SketchFull  float64
}

// ReckonDC lays out up to size candidates of every generator of a DC need and
// works each out, whether it meets the need or not.
func ReckonDC(f *network.Facts, need *yokemate.Need, size int) (out []Pulse) {
	for _, d := range rectifiers(need) {
		s := newSearch(f, d.acNeed(), Options{})
		s.dc = d
		s.prepare()
		for _, g := range s.generators() {
			p := &pool{s: s, caution: g.key.caution, size: size}
			g.run(p)
			for _, c := range p.best {
				h := c.plan.hookup()
				r := Pulse{Name: c.plan.name() + " " + d.words(), Joint: c.key.joints, Count: jointCount(h)}
				es := c.alone
				if c.whole != nil {
					es = []*element{c.whole}
				}
				r.Lo, r.Hi, r.Amps = [2]float64{1e9, 1e9}, [2]float64{}, 1e9
				for _, e := range es {
					for t := range 2 {
						lo, hi := d.between(e, t, 1)
						r.Lo[t], r.Hi[t] = math.Min(r.Lo[t], lo), math.Max(r.Hi[t], hi)
					}
					r.Amps = math.Min(r.Amps, d.mostOf(e)/need.Amps)
				}
				for t, celsius := range [2]float64{coldC, hotC} {
					x := h.Clone()
					x.CopperC = &celsius
					n, err := network.Build(f, x, network.Options{})
					if err != nil {
						panic(err)
					}
					sol, err := n.Solve(nil)
					if err != nil {
						r.AC[t] = math.NaN()
						continue
					}
					v, _ := n.Volts(x.Outputs[0].From, x.Outputs[0].To)
					r.AC[t] = (cmplx.Abs(sol.Value(v))/s.need.Volts - 1) / s.need.Tolerance
				}
				x := d.rectify(h)
				x.Outputs[0].DC.Farads *= 2
				for t, celsius := range [2]float64{coldC, hotC} {
					sp, err := predictAt(f, x, celsius, need.Amps)
					if err != nil {
						r.Mean[0] = math.NaN()
						continue
					}
					m := [2]float64{math.Inf(1), 0}
					for _, l := range sp.Rails {
						m[0], m[1] = math.Min(m[0], l.Mean), math.Max(m[1], l.Mean)
					}
					if t == 0 {
						r.Mean = m
					} else {
						r.HotMean = m
					}
					for _, w := range sp.Windings {
						u, _ := f.Unit(w.Unit)
						if t == 0 && w.LimitAmps != nil && !u.Source.MainsSide(w.ID) {
							r.Full = math.Max(r.Full, w.Amps / *w.LimitAmps)
						}
					}
				}
				r.sketch(f, d, es, c.plan.hookup())
				out = append(out, r)
			}
		}
	}
	return out
}

func predictAt(f *network.Facts, h *yokemate.Hookup, celsius, amps float64) (*yokemate.SupplyPrediction, error) {
	x := h.Clone()
	x.CopperC = &celsius
	dc := *x.Outputs[0].DC
	dc.Amps = amps
	x.Outputs[0].DC = &dc
	return supply.Predict(f, x, yokemate.Nominal, predict.Options{Brief: true})
}

// sketch holds what the reservoir's sums say beside package supply, at a
// reservoir by the straight-line rule.
func (r *Pulse) sketch(f *network.Facts, d *rectified, es []*element, h *yokemate.Hookup) {
	x := d.rectify(h)
	farads := x.Outputs[0].DC.Farads
	a, b := es[0], es[len(es)-1]
	r.SketchFull = math.NaN()
	for t, celsius := range [2]float64{coldC, hotC} {
		r.Sketch[t] = math.NaN()
		f1, ok := d.fill(d.of(a, t, 1), d.of(b, t, 1), farads, d.need.Amps)
		if !ok {
			continue
		}
		p, err := predictAt(f, x, celsius, d.need.Amps)
		if err != nil {
			continue
		}
		r.Off[t] = 0
		for _, l := range p.Rails {
			r.Off[t] = math.Max(r.Off[t], math.Max(math.Abs(l.Mean-f1.mean), math.Max(math.Abs(l.Valley-f1.valley), math.Abs(l.Peak-f1.top))))
		}
		r.Sketch[t] = filledOff(a, b, f1.rms)
		if t > 0 {
			continue
		}
		most := d.mostDrawn(es, farads, f1.rms)
		if p, err = predictAt(f, x, celsius, most); err != nil {
			r.SketchFull = 9 // so much cannot be drawn at all
			continue
		}
		r.SketchFull = 0
		for _, w := range p.Windings {
			if w.LimitAmps != nil {
				r.SketchFull = math.Max(r.SketchFull, w.Amps / *w.LimitAmps)
			}
		}
	}
}
