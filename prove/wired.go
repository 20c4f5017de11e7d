package prove

import (
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// Wiring is a hookup, or a state of one, as it really is when a slip was made:
// what to draw and what to predict.
type Wiring struct {
	State   *yokemate.Hookup
	Options network.Options          // what the network must be told besides
	Faults  []Fault                  // where to look
	Turn    func(x *waveform.Hookup) // makes a rectifier's slip in the hookup put into time, which must be compiled anew; nil where it is no such slip
	Words   string                   // the slip
}

// Fault is one place that a slip has made different: a pin, a winding or a
// plug.
type Fault struct {
	Pin     string // as T1.5; "" where it is no pin
	Winding string // as T1/A; "" where it is no winding
	Feed    int    // the plug's place among the state's feeds, from 1; 0 where it is no plug
	Output  string // whose rectifier it is in; "" where it is in none
	Words   string // what is wrong there, for a mark of a few letters: "turns shorted"
}

// Wired returns a hookup as it is when the slip of that code was made, in its
// plainest guise: every slip that a proof reckons with can be had, and any
// state of the hookup asked of. ok is false for a slip that leaves the state
// as it is, err for a code that this hookup has no slip of.
func Wired(f *network.Facts, h *yokemate.Hookup, code string) (w *Wiring, ok bool, err error) {
	ws, err := worlds(f, h, h)
	if err != nil {
		return nil, false, err
	}
	return wired(ws, h, code)
}

// Wired is [Wired] for a state of the plan's hookup: a step's, with the slip
// that was made while it was wired.
func (p *Plan) Wired(state *yokemate.Hookup, code string) (w *Wiring, ok bool, err error) {
	return wired(p.worlds, state, code)
}

func wired(ws []world, state *yokemate.Hookup, code string) (*Wiring, bool, error) {
	known := false
	for i := range ws {
		w := &ws[i]
		if w.code != code || w.kind == allRight || w.kind == unknown {
			continue
		}
		known = true
		if h, opt, same := w.in(state); !same {
			x := &Wiring{State: h, Options: opt, Faults: w.faults(state, h, opt), Words: w.words}
			if w.rect != nil {
				x.Turn = w.turn
			}
			return x, true, nil
		}
	}
	if !known {
		return nil, false, yokemate.Errorf(yokemate.NotFound, "slip", "this hookup has no slip %q", code).Mend("choose one that a proof of it lists")
	}
	return nil, false, nil
}

// faults lists the places that differ between a state and what it is with the
// slip.
func (w *world) faults(was, is *yokemate.Hookup, opt network.Options) []Fault {
	var list []Fault
	for _, p := range opt.Parted {
		list = append(list, Fault{Pin: p, Words: "off"})
	}
	for _, s := range opt.Shorted {
		list = append(list, Fault{Winding: s.Unit + "/" + s.Winding, Words: "turns shorted"})
	}
	switch w.kind {
	case mistaken:
		for p := range w.pins {
			list = append(list, Fault{Pin: p, Words: "moved"})
		}
	case wrongFeed:
		words := "another voltage"
		if w.phase != 0 {
			words = "another phase"
		}
		feed := len(is.Feed) // its own plug stands last
		if len(is.Feed) == len(was.Feed) {
			feed = 1 // alone on the first, which is the wrong one
		}
		list = append(list, Fault{Feed: feed, Words: words})
	case diodeTurned, diodeOpen, reservoirTurned, polarity, tapSwapped, middleOpen:
		words := map[worldKind]string{diodeTurned: "diode turned", diodeOpen: "diode open", reservoirTurned: "capacitor turned", polarity: "plus and minus changed over", tapSwapped: "leads changed over", middleOpen: "middle lead off"}[w.kind]
		list = append(list, Fault{Output: is.Outputs[w.rect.output].Name, Words: words})
	case fuseBlown:
		for i := range is.Feed {
			list = append(list, Fault{Feed: i + 1, Words: "fuse blown"})
		}
	}
	slices.SortStableFunc(list, func(a, b Fault) int { return strings.Compare(a.Pin, b.Pin) })
	return list
}

// Pins lists the pins to look at.
func (w *Wiring) Pins() []string {
	var pins []string
	for _, f := range w.Faults {
		if f.Pin != "" {
			pins = append(pins, f.Pin)
		}
	}
	return pins
}

// Drawn is the wiring as a picture shows it: leads that are off stand outside
// their joints. A lead that is alone in its joint stays there, as its mark
// tells.
func (w *Wiring) Drawn() *yokemate.Hookup {
	h := w.State.Clone()
	for _, p := range w.Options.Parted {
		if j := h.Joints.Joint(h.Joints.Of(p)); j != nil && len(j.Pins) > 1 {
			j.Pins = slices.DeleteFunc(j.Pins, func(q string) bool { return q == p })
		}
	}
	return h
}
