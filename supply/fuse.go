package supply

import (
	"fmt"
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/phys/waveform"
	"yokemate/predict"
	"yokemate/si"
)

const (
	// sureShare is how much sooner than the winding's limit a fuse must open
	// for a plain yes: that time is an estimate.
	sureShare = 0.8
	// diodeDrop is what a rectifier's diode takes from the volts behind a short
	// that is fed through it. Common practice, no source [V].
	diodeDrop = 1.0
	jointOhms = 0.003 // of a short by a screw or a clip; common practice [Ω]
	// A glass link breaks 35 A or ten times its rating (IEC 60127-2).
	glassAmps, glassTimes = 35.0, 10.0
)

// outputFuse chooses the fuse between a winding and output i, the only one
// that draws, and follows a dead short behind it: is it the fuse that opens, the
// one in the live wire, or neither before a winding is past its limit. rated
// is what the winding may carry; 0, or less than it does, means what it does [A].
func outputFuse(f *network.Facts, h *yokemate.Hookup, i int, rated, primary float64, kind string) (*yokemate.OutputFuse, error) {
	o := &h.Outputs[i]
	x := &yokemate.OutputFuse{Count: 1, Lead: o.From, Kind: kind, Primary: "none", Why: []string{}}
	a, b, drop, wave := o.From, o.To, 0.0, 1.0
	var inrush float64
	if o.DC != nil {
		if !(o.DC.Amps > 0) {
			return nil, nil
		}
		r, err := newRun(f, h, yokemate.Nominal, network.Options{})
		if err != nil {
			return nil, err
		}
		if err := r.periodic(waveform.Options{Tolerance: quick}); err != nil {
			return nil, err
		}
		x.LoadAmps = r.outputAmps(i)
		if inrush, err = charging(f, h, i); err != nil {
			return nil, err
		}
		drop = diodeDrop
		switch {
		case o.DC.Middle != "":
			b, x.Count, x.Lead = o.DC.Middle, 2, o.From+" and "+o.To
		case o.DC.Rectifier == "half":
			wave = math.Sqrt2 // only every other half wave
		case o.DC.Rectifier == "bridge":
			drop = 2 * diodeDrop
		}
	} else {
		if o.Load == nil || !(o.Load.Amps > 0) {
			return nil, nil
		}
		x.LoadAmps = o.Load.Amps
	}
	choice, err := protect.Choose(protect.Duty{Amps: x.LoadAmps, Rated: math.Max(rated, x.LoadAmps), Inrush: inrush, Kind: kind, Place: protect.Secondary})
	if err != nil {
		return nil, yokemate.Errorf(yokemate.Invalid, "fuse", "%v", err).Mend("use a kind of T, F, slow or fast")
	}
	x.Amps, x.Why = choice.Link.Amps, choice.Why
	say := func(words string, args ...any) { x.Why = append(x.Why, fmt.Sprintf(words, args...)) }
	if o.DC == nil {
		say("What the load itself draws at switch-on is not known here: where it is much, a T link.")
	}

	// A dead short, with nothing else drawn.
	dead := h.Clone()
	for k := range dead.Outputs {
		dead.Outputs[k].Load, dead.Outputs[k].DC = nil, nil
	}
	if len(dead.Feed) > 0 {
		dead.Feed[0].FuseAmps, dead.Feed[0].FuseKind = primary, kind
	}
	short, _, err := predict.Closed(f, dead, network.Options{}, a, b)
	if err != nil {
		return nil, err
	}
	if short == nil {
		return nil, yokemate.Errorf(yokemate.Invalid, "output "+o.Name, "its two joints are one").Mend("give it two")
	}
	// The fuse must open at the lowest mains, and break the current of the highest.
	low, open, err := shorted(f, dead, yokemate.Low, a, b)
	if err != nil {
		return nil, err
	}
	high, _, err := shorted(f, dead, yokemate.High, a, b)
	if err != nil {
		return nil, err
	}
	x.ShortAmps = low * math.Max(0, 1-drop/open) / wave
	x.LimitS = short.LimitS
	limit := math.Inf(1)
	if x.LimitS != nil {
		limit = *x.LimitS
	}
	if primary > 0 {
		x.Primary = short.FuseOpens
	}
	x.Opens = "no"
	if x.Amps > 0 {
		least, most := choice.Link.Opening(x.ShortAmps)
		if !math.IsInf(most, 1) {
			x.OpensS = &most
		}
		switch {
		case math.IsInf(most, 1):
		case most < sureShare*limit:
			x.Opens = "yes"
		case least < limit:
			x.Opens = "unsure"
		}
		if high > math.Max(glassAmps, glassTimes*x.Amps) {
			say("A short drives up to %s: more than a glass link breaks. Use a ceramic one (H).", si.Format(high, "A", 2))
		}
	}
	past := "no winding passes its limit"
	if x.LimitS != nil {
		past = fmt.Sprintf("the first winding is past its limit after %s", si.Format(limit, "s", 2))
	}
	at := fmt.Sprintf("A dead short behind it drives %s at the lowest mains: ", si.Format(x.ShortAmps, "A", 2))
	opens := ""
	if x.OpensS != nil {
		opens = fmt.Sprintf("it opens within %s, ", si.Format(*x.OpensS, "s", 2))
	}
	switch {
	case x.Amps == 0:
		say("%s%s.", at, past)
	case x.Opens == "yes":
		say("%s%s%s.", at, opens, past)
	case x.LimitS == nil:
		say("%sit may never open, and %s: the unit limits the current itself.", at, past)
	default:
		if opens == "" {
			opens = "it may never open, "
		}
		say("%s%s%s: it does not surely save the winding.", at, opens, past)
	}
	switch {
	case x.Primary == "yes":
		say("The fuse in the live wire opens on that short in time.")
	case primary > 0 && x.LimitS != nil:
		say("The fuse in the live wire does not surely open on that short in time.")
	}
	if x.Opens != "yes" && x.Primary != "yes" && x.LimitS != nil {
		say("What protects is a thermal link in the unit; without one, do not leave it unattended.")
	}
	say("A fuse carries a mild overload for ever: only the rating and a thermal link guard against that.")
	return x, nil
}

// shorted is the current through a short between two joints, and the volts
// across them before it.
func shorted(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, a, b string) (amps, volts float64, err error) {
	before, err := network.Build(f, h, network.Options{})
	if err != nil {
		return 0, 0, err
	}
	s, err := before.Solve(before.VoltsAt(level))
	if err != nil {
		return 0, 0, err
	}
	p, _ := before.Volts(a, b)
	volts = cmplx.Abs(s.Value(p))
	n, err := network.Build(f, h, network.Options{Added: []network.Branch{{From: a, To: b, Ohms: jointOhms}}})
	if err != nil {
		return 0, 0, err
	}
	if s, err = n.Solve(n.VoltsAt(level)); err != nil {
		return 0, 0, err
	}
	p, _ = n.AddedAmps(0)
	return cmplx.Abs(s.Value(p)), volts, nil
}

// charging is the most ∫ i² dt that empty reservoirs draw through output i's
// lead when the hookup is switched on at the highest mains [A²s].
func charging(f *network.Facts, h *yokemate.Hookup, i int) (float64, error) {
	x, err := waveform.FromHookup(f, h, waveform.HookupOptions{Volts: highVolts(h)})
	if err != nil {
		return 0, err
	}
	from, _ := x.AC.Node(h.Outputs[i].From)
	var probes []waveform.Probe
	for _, rail := range x.Rails {
		for _, d := range rail.Diodes {
			if c := &x.Circuit.Diodes[d]; rail.Output == i && (c.From == from || c.To == from) {
				probes = append(probes, x.DiodeAmps(d))
			}
		}
	}
	most := 0.0
	for degrees := 0.0; degrees < 360; degrees += 45 {
		w, _, _, err := x.SwitchOn(degrees, make([]float64, len(x.Circuit.Cores)), chargingPeriods, waveform.Options{Tolerance: 1e-4, Probes: probes})
		if err != nil {
			return 0, err
		}
		sum := 0.0 // diodes at one joint conduct in turn, so their squares add
		for k := range w.Traces {
			sum += w.Traces[k].Square
		}
		most = math.Max(most, sum)
	}
	return most, nil
}

// chargingPeriods is how long a reservoir's charging counts as one pulse; past
// it a fuse sees rms currents.
const chargingPeriods = 5
