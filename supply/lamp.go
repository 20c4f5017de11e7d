package supply

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/si"
)

// What a series lamp's glow is judged by. Common practice, no source: a good
// unit takes at least nine tenths of the mains, a shorted one leaves itself less than half.
const (
	goodShare    = 0.9
	shortedShare = 0.5
	// A lamp's volts over its rated ones up to which it looks dark, dull red,
	// half bright.
	darkShare, dullShare, halfShare = 0.15, 0.4, 0.75
	// A voltmeter across the unit tells a change of so much of the mains from
	// the socket's own wandering.
	toldShare = 0.03
	// A small unit has some ten turns a volt at 50 Hz, and fewer as it grows,
	// as one over the root of its VA from 6 VA on.
	turnsPerVolt, turnsVA = 10.0, 6.0
	manyTurns             = 0.1 // of the mains side's turns: a short that burns through several layers
)

// FirstPower says which lamp to put in series with a unit for its first power
// and what its glow tells: of a good unit, of one with shorted turns, of one
// with a shorted winding; by the network, copper at 20 °C.
func FirstPower(f *network.Facts, tag string) (*yokemate.FirstPower, error) {
	u, err := f.Unit(tag)
	if err != nil {
		return nil, err
	}
	switch {
	case u.Source.Quarantined():
		return nil, yokemate.Errorf(yokemate.Impossible, tag, "it is in quarantine: no lamp makes it safe to power").Mend("take it out of quarantine first, if what put it there is mended")
	case u.Source.CoreJoined() != "":
		return nil, yokemate.Errorf(yokemate.Impossible, tag, "winding %s ends on the core: do not energise it at all", u.Source.CoreJoined()).Mend("leave it unpowered")
	}
	h := Alone(u.Source)
	if h == nil {
		return nil, yokemate.Errorf(yokemate.Invalid, tag+" mains", "its mains volts are not known, so no lamp can be told").Mend("give its \"mains\": the label's volts, hertz and windings")
	}
	h.Outputs = nil
	mains := u.Source.Mains
	r := &yokemate.FirstPower{Unit: tag, Volts: mains.Volts, Hertz: mains.Hertz, VA: u.VA, RatedAmps: u.VA / mains.Volts, ShortAmps: math.Inf(1), Notes: []yokemate.Note{}}
	states := lampStates(u)
	for _, s := range states {
		if s.state != yokemate.ShortedWinding {
			continue
		}
		n, err := network.Build(f, h, s.opt(u))
		if err != nil {
			return nil, err
		}
		sol, err := n.Solve(nil)
		if err != nil {
			return nil, err
		}
		_, _, amps := sol.FeedPower(0)
		r.ShortAmps = math.Min(r.ShortAmps, amps)
	}
	if math.IsInf(r.ShortAmps, 1) {
		return nil, yokemate.Errorf(yokemate.Invalid, tag, "it has no winding beside its mains side that could be shorted").Mend("enter its other windings")
	}
	sizes := protect.LampSizes()
	// Two of the smallest, for units so small that one tells nothing.
	lamps := []yokemate.LampTell{{Count: 2, Watts: sizes[0]}}
	for _, watts := range sizes {
		lamps = append(lamps, yokemate.LampTell{Count: 1, Watts: watts})
	}
	for i := range lamps {
		if err := tell(f, h, u, &lamps[i], states); err != nil {
			return nil, err
		}
	}
	r.Lamps = lamps
	choose(r, protect.LampFor(u.VA, mains.Volts).Watts)
	note(r)
	return r, nil
}

// state is a unit in a state that a lamp may have to tell.
type state struct {
	state   yokemate.UnitHealth
	winding string
	part    float64
}

// lampStates are the states that a lamp's glow is worked out for: good; one turn and a
// tenth of the mains side's turns shorted; a turn of the heaviest winding, where
// one turn shows most; each other winding shorted at its pins.
func lampStates(u *network.Unit) []state {
	list := []state{{state: yokemate.GoodUnit}}
	turns := turnsPerVolt * math.Min(1, math.Sqrt(turnsVA/math.Max(u.VA, 1e-3))) * 50 / u.Hertz
	heavy, most := "", 0.0
	for i := range u.Source.Windings {
		w := &u.Source.Windings[i]
		if u.Source.MainsSide(w.ID) || !(w.Volts.V > 0) || !(w.Ohms.V > 0) {
			continue
		}
		// A turn's volts over its ohms are the winding's.
		if amps := w.Volts.V / w.Ohms.V; amps > most {
			heavy, most = w.ID, amps
		}
	}
	coil := u.Source.Mains.Series[0]
	list = append(list,
		state{yokemate.ShortedTurns, coil, oneTurn(u, coil, turns)},
		state{yokemate.ShortedTurns, coil, manyTurns})
	if heavy != "" {
		list = append(list, state{yokemate.ShortedTurns, heavy, oneTurn(u, heavy, turns)})
	}
	for i := range u.Source.Windings {
		if id := u.Source.Windings[i].ID; !u.Source.MainsSide(id) {
			list = append(list, state{yokemate.ShortedWinding, id, 1})
		}
	}
	return list
}

// oneTurn is a turn as a part of a winding's.
func oneTurn(u *network.Unit, id string, perVolt float64) float64 {
	return math.Min(1/(perVolt*u.Source.Winding(id).Volts.V), 0.5)
}

// opt puts a state into the network.
func (s state) opt(u *network.Unit) network.Options {
	switch s.state {
	case yokemate.ShortedTurns:
		return network.Options{Shorted: []network.ShortedTurn{{Unit: u.Tag, Winding: s.winding, Part: s.part}}}
	case yokemate.ShortedWinding:
		p := u.Source.Winding(s.winding).Pins
		return network.Options{Added: []network.Branch{{From: u.Tag + "." + p[0], To: u.Tag + "." + p[1], Ohms: jointOhms}}}
	}
	return network.Options{}
}

// tell works out what one lamp, or several in series, shows in every state.
func tell(f *network.Facts, h *yokemate.Hookup, u *network.Unit, l *yokemate.LampTell, states []state) error {
	n := float64(l.Count)
	lamp := protect.Lamp{Watts: n * l.Watts, Volts: n * h.Feed[0].Volts.V} // as one
	x := h.Clone()
	x.Feed[0].Lamp = &yokemate.Lamp{Watts: lamp.Watts, Volts: lamp.Volts}
	volts := h.Feed[0].Volts.V
	for _, s := range states {
		net, err := network.Build(f, x, s.opt(u))
		if err != nil {
			return err
		}
		sol, err := net.Solve(nil)
		if err != nil {
			return err
		}
		_, _, amps := sol.FeedPower(0)
		p, _ := net.Volts(x.Feed[0].Live, x.Feed[0].Neutral)
		st := yokemate.LampState{State: s.state, Part: s.part, LampVolts: lamp.VoltsAtAmps(amps), UnitVolts: cmplx.Abs(sol.Value(p)), Amps: amps}
		if s.winding != "" {
			st.About = u.Tag + "/" + s.winding
		}
		st.Glow = glow(st.LampVolts / lamp.Volts)
		if len(l.States) > 0 {
			good := &l.States[0]
			st.Told = good.UnitVolts-st.UnitVolts >= toldShare*volts
		}
		l.States = append(l.States, st)
	}
	l.Verdict = yokemate.LampTells
	if l.States[0].UnitVolts < goodShare*volts {
		l.Verdict = yokemate.TooSmallLamp
		return nil
	}
	for _, s := range l.States {
		if s.State == yokemate.ShortedWinding && s.UnitVolts > shortedShare*volts {
			l.Verdict = yokemate.TooBigLamp
		}
	}
	return nil
}

// glow is how bright a filament looks at a share of its rated volts.
func glow(share float64) yokemate.Glow {
	switch {
	case share < darkShare:
		return yokemate.Dark
	case share < dullShare:
		return yokemate.Dull
	case share < halfShare:
		return yokemate.Half
	}
	return yokemate.Bright
}

// choose takes the usual size for the unit where it tells, else the nearest
// that does.
func choose(r *yokemate.FirstPower, usual float64) {
	far := math.Inf(1)
	for _, l := range r.Lamps {
		if l.Verdict != yokemate.LampTells {
			continue
		}
		if d := math.Abs(math.Log(l.Watts / float64(l.Count) / usual)); d < far {
			far, r.LampWatts, r.LampCount = d, l.Watts, l.Count
		}
	}
}

// note says in words what the figures come to.
func note(r *yokemate.FirstPower) {
	say := func(code yokemate.NoteCode, level yokemate.Level, words string, args ...any) {
		r.Notes = append(r.Notes, yokemate.Note{Code: code, Level: level, About: r.Unit, Words: fmt.Sprintf(words, args...)})
	}
	if r.LampWatts == 0 {
		say(yokemate.LampTooBig, yokemate.Caution, "no usual lamp tells a good unit from a shorted one here: a short of its weakest winding draws only %s. Read the idle current instead, through a meter and its fuse", si.Format(r.ShortAmps, "A", 2))
	}
	var big []string
	for _, l := range r.Lamps {
		if l.Verdict == yokemate.TooBigLamp && l.Count == 1 {
			big = append(big, strconv.FormatFloat(l.Watts, 'g', -1, 64))
		}
	}
	if len(big) > 0 {
		say(yokemate.LampTooBig, yokemate.Info, "lamps of %s W are too big to tell: with a winding shorted the unit keeps more than half of the mains", strings.Join(big, ", "))
	}
	hidden := map[string]bool{}
	for _, l := range r.Lamps {
		if l.Watts != r.LampWatts || l.Count != r.LampCount {
			continue
		}
		for _, s := range l.States {
			if s.State == yokemate.ShortedTurns && !s.Told && !hidden[s.About] {
				hidden[s.About] = true
				say(yokemate.NotProven, yokemate.Info, "a shorted turn of %s does not show in the glow: read the idle current and watts, and feel for heat after ten minutes", s.About)
			}
		}
	}
}
