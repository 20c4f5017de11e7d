package selfcheck

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
)

// coil is a winding by its volts and its series impedance; its pins are its
// id and 1 or 2, the start end first.
type coil struct {
	id    string
	volts float64
	z     complex128 // [Ω] at the unit's hertz
	amps  float64    // rating; 0 for the mains side
}

// vanishing stands for a resistance that an example does not have [Ω].
const vanishing = 1e-9

// textbook is a unit as examples have them: series impedances and no idle
// current to speak of. Its first coil is the mains side.
func textbook(tag string, hertz float64, coils ...coil) yokemate.Unit {
	exact := func(v float64) yokemate.Value { return yokemate.PlusMinus(v, 0, yokemate.Measured) }
	u := yokemate.Unit{
		Tag: tag, VA: exact(1),
		Mains: &yokemate.Mains{Volts: coils[0].volts, Hertz: hertz, Series: yokemate.Series{coils[0].id}},
	}
	for _, c := range coils {
		w := yokemate.Winding{
			ID: c.id, Pins: [2]string{c.id + "1", c.id + "2"}, Volts: exact(c.volts),
			Ohms: exact(math.Max(real(c.z), vanishing)), LeakageMH: exact(imag(c.z) / (2 * math.Pi * hertz) * 1e3),
		}
		if c.amps > 0 {
			w.Amps = exact(c.amps)
		}
		u.Windings = append(u.Windings, w)
	}
	idle := 1e-10 * coils[0].volts
	u.Excitation = yokemate.ExcitationList{{
		Series: u.Mains.Series, Volts: exact(coils[0].volts), Hertz: hertz, Amps: exact(idle), Watts: exact(0.5 * coils[0].volts * idle),
	}}
	return u
}

// bench is units on a feed, wired by joints, each "A: T1.P1 T2.P1".
func bench(volts, hertz float64, units []yokemate.Unit, joints ...string) *yokemate.Hookup {
	h := &yokemate.Hookup{Format: yokemate.HookupFormat}
	h.Feed = yokemate.Feeds{{Volts: yokemate.Num(volts), Hertz: hertz, Live: "L", Neutral: "N"}}
	for _, j := range joints {
		name, pins, _ := strings.Cut(j, ":")
		h.Joints = append(h.Joints, yokemate.Joint{Name: name, Pins: strings.Fields(pins)})
	}
	return h
}

// across puts a load between two joints.
func across(h *yokemate.Hookup, from, to string, l yokemate.Load) *yokemate.Hookup {
	h.Outputs = append(h.Outputs, yokemate.Output{Name: "out", From: from, To: to, Load: &l})
	return h
}

func impedance(z complex128, hertz float64) yokemate.Load {
	return yokemate.Load{Ohms: real(z), Henries: imag(z) / (2 * math.Pi * hertz)}
}

func current(amps, powerFactor float64) yokemate.Load {
	return yokemate.Load{Amps: amps, PowerFactor: &powerFactor}
}

// answer is a hookup solved. What it is asked for and does not hold is NaN.
type answer struct {
	net *network.Net
	sol *network.Solution
}

func shelfOf(units []yokemate.Unit) *yokemate.Shelf {
	return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: units}
}

func solve(units []yokemate.Unit, h *yokemate.Hookup) answer {
	if h.Validate() != nil {
		return answer{}
	}
	n, err := network.Build(network.Compile(shelfOf(units)), h, network.Options{})
	if err != nil {
		return answer{}
	}
	s, err := n.Solve(nil)
	if err != nil {
		return answer{}
	}
	return answer{n, s}
}

func (a answer) volts(from, to string) complex128 {
	if a.net == nil {
		return cmplx.NaN()
	}
	p, ok := a.net.Volts(from, to)
	if !ok {
		return cmplx.NaN()
	}
	return a.sol.Value(p)
}

// amps is the current through a winding such as T1/A, from its start to its end.
func (a answer) amps(winding string) complex128 {
	if a.net == nil {
		return cmplx.NaN()
	}
	tag, id, _ := yokemate.SplitWinding(winding)
	k := slices.Index(a.net.Units(), tag)
	if k < 0 {
		return cmplx.NaN()
	}
	w := a.net.UnitFacts(k).Index(id)
	if w < 0 {
		return cmplx.NaN()
	}
	return a.sol.Value(a.net.WindingAmps(k, w))
}

// feed is what the plug gives [W], [A].
func (a answer) feed() (watts, amps float64) {
	if a.net == nil {
		return math.NaN(), math.NaN()
	}
	w, _, i := a.sol.FeedPower(0)
	return w, i
}

func (a answer) flux(unit int) float64 {
	if a.net == nil {
		return math.NaN()
	}
	return a.sol.Flux(unit)
}

// lag is how many degrees a current is behind a voltage.
func lag(v, i complex128) float64 { return cmplx.Phase(v/i) * 180 / math.Pi }
