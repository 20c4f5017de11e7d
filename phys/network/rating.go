package network

import (
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/core"
)

// rate settles the unit's VA: its label, the sum of its secondaries' ratings,
// the iron's size, or what its resistances allow, in that order.
func (u *Unit) rate(hertz float64) error {
	if u.Source.VA.Known() {
		u.VA, u.VABasis = u.Source.VA.V, yokemate.Label
		return nil
	}
	sum, all := 0.0, true
	var primary, secondary []core.Coil
	for i, w := range u.Windings {
		coil := core.Coil{Volts: w.Volts.V, Ohms: w.Ohms.V}
		if u.mainsSide(i) {
			primary = append(primary, coil)
			continue
		}
		secondary = append(secondary, coil)
		if w.Amps.Known() {
			sum += w.Amps.V * w.Volts.V
		} else {
			all = false
		}
	}
	if sum > 0 && all {
		u.VA, u.VABasis = sum, yokemate.Label
		return nil
	}
	u.VABasis = yokemate.Estimated
	u.Guessed = append(u.Guessed, "VA rating")
	var bands []core.Band
	if c := u.Source.Core; c != nil {
		if c.LimbMM.Known() && c.StackMM.Known() {
			bands = append(bands, core.VAFromArea(u.kind(), c.LimbMM.V*c.StackMM.V*1e-6, hertz))
		}
		if c.MassG.Known() {
			bands = append(bands, core.VAFromMass(u.kind(), c.MassG.V*1e-3, hertz))
		}
	}
	b, err := core.VAFromOhms(u.kind(), primary, secondary)
	if err == nil {
		bands = append(bands, b)
	}
	band, err := core.Combine(bands...)
	if err != nil {
		return &yokemate.Error{Code: yokemate.Invalid, Place: u.Tag, Message: "its rating cannot be estimated", Hint: "give its VA, or the core's limb and stack", Err: err}
	}
	u.VA = band.Best
	return nil
}

func (u *Unit) mainsSide(w int) bool {
	if u.Source.Mains == nil {
		return slices.Contains(u.excited, w)
	}
	return u.Source.MainsSide(u.Windings[w].ID)
}

// compileLimits gives every winding what it may carry: its own figure; for a
// secondary without one its share of the unit's VA by V²/R; for a primary
// without one what the secondaries ask of it at their ratings plus the idle
// current, in the connection the label stands on. Computed once for the
// unit, never from the hookup at hand.
func (u *Unit) compileLimits() {
	u.Limits = make([]Limit, len(u.Windings))
	var vs, rs []float64
	var idx []int
	rest := u.VA
	for i, w := range u.Windings {
		if w.Amps.Known() {
			u.Limits[i] = Limit{Amps: w.Amps.V, U: w.Amps.U, Basis: w.Amps.Basis}
			if w.Amps.Basis == yokemate.AsRead {
				u.Limits[i].Basis = yokemate.Label
			}
			if !u.mainsSide(i) {
				rest -= w.Amps.V * w.Volts.V
			}
			continue
		}
		if !u.mainsSide(i) {
			vs, rs, idx = append(vs, w.Volts.V), append(rs, w.Ohms.V), append(idx, i)
		}
	}
	if len(idx) > 0 {
		// Windings with a figure of their own have had their part already.
		amps := core.Split(math.Max(rest, 0.1*u.VA), vs, rs)
		for k, i := range idx {
			u.Limits[i] = Limit{Amps: amps[k], U: 0.25 * amps[k], Basis: yokemate.Estimated}
		}
		u.Guessed = append(u.Guessed, "secondary ratings")
	}
	u.primaryLimits()
}

// primaryLimits reckons the mains coils without a figure of their own.
func (u *Unit) primaryLimits() {
	series := u.Rated.series
	if len(series) == 0 {
		series = u.excited
	}
	var c coefficients
	u.coefficients(u.values(), &c)
	a := 0.0
	for _, w := range series {
		a += c.a[w]
	}
	va, uVA := 0.0, 0.0
	for i := range u.Windings {
		if !u.mainsSide(i) {
			va += c.a[i] * u.Limits[i].Amps
			uVA += c.a[i] * u.Limits[i].U
		}
	}
	// The sum, not the phasor sum: a lagging load adds to the idle current.
	I := va/a + math.Hypot(c.g, c.q)/a
	// Coils alike to the named ones that are not named are meant to run
	// beside them in parallel: each takes its share.
	beside := 1
	for i := range u.Windings {
		if u.mainsSide(i) && !slices.Contains(series, i) && len(series) == 1 {
			beside++
		}
	}
	for i := range u.Windings {
		if !u.mainsSide(i) || u.Windings[i].Amps.Known() {
			continue
		}
		u.Limits[i] = Limit{Amps: I / float64(beside), U: uVA / a / float64(beside), Basis: yokemate.Estimated}
		if u.VABasis != yokemate.Estimated {
			u.Limits[i].Basis = yokemate.Label
		}
	}
}
