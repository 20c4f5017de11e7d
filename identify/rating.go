package identify

import (
	"fmt"
	"math"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/wire"
	"yokemate/si"
)

// rate makes the ratings: VA of the unit, amps of every wire, and the DC amps
// behind a bridge, each a band with its basis.
func (s *state) rate(f *facts) {
	x := &s.all[0]
	u := s.b.unit
	kind := ""
	var bands []core.Band
	if u.VA.Known() {
		// A label states a load; makers round, and salvaged units were sold on 5 % of regulation (common practice, no source).
		bands = append(bands, core.Band{Low: u.VA.V / 1.25, Best: u.VA.V, High: u.VA.V * 1.1, Basis: "label", Formula: "label " + u.VA.Digits + " VA"})
	}
	if u.Core != nil {
		kind = u.Core.Kind
		bands = append(bands, ironBands(u.Core, s.opt.Hertz)...)
	}
	scale := 0.0
	if f.mainsWire >= 0 {
		if v, ok := f.wireVolts(x, f.mainsWire); ok {
			side := v.value
			if f.twin >= 0 {
				if w, ok := f.wireVolts(x, f.twin); ok {
					side += w.value
				}
			}
			if len(f.guesses) > 0 {
				q := f.guesses[0]
				side = 0
				for k := q.from; k < q.to; k++ {
					side += f.volts[[2]int{q.wire, k}].value
				}
				if q.twin >= 0 {
					side *= 2
				}
			}
			scale = f.mainsVolts / side
		}
	}
	var primary, secondary []core.Coil
	if scale > 0 {
		primary, secondary = s.coils(f, x, f.mainsWire, f.twin, scale)
		if b, err := core.VAFromOhms(kind, primary, secondary); err == nil && len(primary)+len(secondary) > 0 {
			if f.mainsChance < 0.95 {
				// Other mains volts give another size: VA goes with their square.
				b.Low /= 2
				b.High *= 2
				b.Basis += fmt.Sprintf("; if made for %g V", f.mainsVolts)
			}
			bands = append(bands, b)
		}
	}
	for _, b := range bands {
		f.band(u.Tag, "va", b, "VA")
	}
	if len(bands) == 0 {
		return
	}
	va := bands[0]
	if len(bands) > 1 {
		c, err := core.Combine(bands...)
		if err != nil {
			return
		}
		va = c
		f.band(u.Tag, "va_combined", va, "VA")
	}
	f.va = va
	if scale == 0 {
		return
	}
	s.rateWires(f, x, va, scale)
}

// rateWires splits the VA over the outputs by V²/R, and sets wire diameters
// beside it.
func (s *state) rateWires(f *facts, x *weighed, va core.Band, scale float64) {
	var at []int
	var vs, rs []float64
	for g, pins := range x.wiring.wires {
		if len(pins) < 2 || g == f.mainsWire || g == f.twin {
			continue
		}
		v, okV := f.wireVolts(x, g)
		r, okR := f.wireOhms(x, g)
		if !okV || !okR || r.value <= 2*norm(r.terms) {
			continue
		}
		at, vs, rs = append(at, g), append(vs, v.value*scale), append(rs, r.value)
	}
	if len(at) == 0 {
		return
	}
	total := 0.0
	for i := range at {
		total += vs[i] * vs[i] / rs[i]
	}
	for i, a := range core.Split(va.Best, vs, rs) {
		g := at[i]
		// The share itself is a rule, good to a quarter (common practice, no source).
		spread := math.Hypot(va.LnSigma(), 0.25/normal95)
		b := core.Band{Low: a * math.Exp(-normal95*spread), Best: a, High: a * math.Exp(normal95*spread), Basis: "share of the unit's VA by V²/R, common practice, no source",
			Formula: fmt.Sprintf("%.3g VA × (%.4g V)²/%.3g Ω/%.3g VA/%.4g V = %.3g A", va.Best, vs[i], rs[i], total, vs[i], a)}
		bands := []core.Band{b}
		if w := s.wireOf(x, g); w != nil && w.WireMM.Known() {
			d := w.WireMM
			rel := 0.02
			if d.U > 0 {
				rel = normal95 * d.U / d.V
			}
			amps := core.Band(wire.AmpsFrom(wire.Band{Low: 1e-3 * d.V * (1 - rel), Best: 1e-3 * d.V, High: 1e-3 * d.V * (1 + rel), Basis: "wire", Formula: d.Digits + " mm"}))
			f.band(f.wireID[g], "amps", b, "A")
			f.band(f.wireID[g], "amps", amps, "A")
			bands = append(bands, amps)
		}
		limit := bands[0]
		if len(bands) > 1 {
			if c, err := core.Combine(bands...); err == nil {
				limit = c
			}
		}
		if w := s.wireOf(x, g); w != nil && w.Amps.Known() && w.Amps.Basis == yokemate.Measured {
			// A heat run settles it.
			limit = core.Band{Low: w.Amps.V - normal95*w.Amps.U, Best: w.Amps.V, High: w.Amps.V + normal95*w.Amps.U, Basis: "heat run", Formula: "heat run " + w.Amps.Digits + " A"}
			if w.Amps.U == 0 {
				limit.Low, limit.High = 0.95*w.Amps.V, 1.05*w.Amps.V
			}
		}
		f.amps[g] = limit
		name := "amps"
		if len(bands) > 1 {
			name = "amps_combined"
		}
		f.band(f.wireID[g], name, limit, "A")
		ratio, reg := s.bridge(f, x, g, rs[i], vs[i], limit.Best)
		dc := core.Band{Low: limit.Low / ratio.High, Best: limit.Best / ratio.Best, High: limit.High / ratio.Low, Basis: "bridge with a reservoir capacitor; " + ratio.Basis,
			Formula: fmt.Sprintf("%.3g A/%.2f, the rms over DC amps at %.0f %% regulation", limit.Best, ratio.Best, 100*reg)}
		f.band(f.wireID[g], "dc_amps", dc, "A")
	}
	if f.mainsWire >= 0 {
		a := va.Best / f.mainsVolts
		f.band(f.wireID[f.mainsWire], "amps", core.Band{Low: va.Low / f.mainsVolts, Best: a, High: va.High / f.mainsVolts, Basis: va.Basis,
			Formula: fmt.Sprintf("%.3g VA/%g V = %s", va.Best, f.mainsVolts, si.Format(a, "A", 3))}, "A")
	}
}

// wireOf is the shelf's winding on a whole wire, where one is written down.
func (s *state) wireOf(x *weighed, g int) *yokemate.Winding {
	pins := x.wiring.wires[g]
	for i := range s.b.unit.Windings {
		if w := &s.b.unit.Windings[i]; s.b.joins(w, pins[0], pins[len(pins)-1]) {
			return w
		}
	}
	return nil
}

// BridgeRatio is the rms amps of a winding over the DC amps of a bridge with a
// reservoir capacitor, from the unit's regulation (V_nl − V_fl)/V_fl [1]. The
// figures are common practice, no source: about 1.5 at 30 % and 2.3 at 3 %;
// between them straight in ln of the regulation, ± 8 %.
func BridgeRatio(regulation float64) core.Band {
	reg := [...]float64{0.03, 0.05, 0.08, 0.12, 0.20, 0.30}
	ratio := [...]float64{2.3, 2.1, 1.93, 1.79, 1.63, 1.53}
	r := math.Max(reg[0], math.Min(regulation, reg[len(reg)-1]))
	i := 1
	for i < len(reg)-1 && r > reg[i] {
		i++
	}
	t := math.Log(r/reg[i-1]) / math.Log(reg[i]/reg[i-1])
	best := ratio[i-1] + t*(ratio[i]-ratio[i-1])
	return core.Band{Low: best / 1.08, Best: best, High: best * 1.08, Basis: "common practice, no source", Formula: fmt.Sprintf("%.2f at %.0f %% regulation", best, 100*regulation)}
}

// bridge is the ratio for a wire, with the warm regulation from its ohms and
// the mains side's.
func (s *state) bridge(f *facts, x *weighed, g int, ohms, volts, amps float64) (core.Band, float64) {
	r := ohms
	if p, ok := f.wireOhms(x, f.mainsWire); ok {
		if ratio, ok := f.ratio(x, g, f.mainsWire); ok {
			r += p.value * ratio * ratio
		}
	}
	const warm = 1.2 // copper of a warm unit over that at 20 °C, common practice
	drop := warm * r * amps / volts
	reg := drop / math.Max(1-drop, 0.1)
	return BridgeRatio(reg), reg
}
