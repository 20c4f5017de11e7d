package supply

import (
	"strconv"

	"yokemate"
)

// Alone is a unit by itself at the mains of its label, each other winding of
// known amps an output of its own; nil where its label says no mains that its
// windings could stand on.
func Alone(u *yokemate.Unit) *yokemate.Hookup {
	if u.Mains == nil || len(u.Mains.Series) == 0 {
		return nil
	}
	joint := map[string]string{} // of a pin
	last := "L"
	for i, id := range u.Mains.Series {
		w := u.Winding(id)
		if w == nil {
			return nil
		}
		next := "M" + strconv.Itoa(i+1)
		if i+1 == len(u.Mains.Series) {
			next = "N"
		}
		for k, name := range []string{last, next} {
			if old := joint[w.Pins[k]]; old != "" && old != name {
				return nil
			}
			joint[w.Pins[k]] = name
		}
		last = next
	}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: u.Tag, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(u.Mains.Volts), Hertz: u.Mains.Hertz, Live: "L", Neutral: "N"}}}
	pins := map[string][]string{}
	var names []string
	for _, pin := range append(u.Pins(), yokemate.CorePin) {
		name := joint[pin]
		switch {
		case pin == yokemate.CorePin:
			name = "E"
		case name == "":
			name = "p" + pin
			joint[pin] = name
		}
		if pins[name] == nil {
			names = append(names, name)
		}
		pins[name] = append(pins[name], u.Tag+"."+pin)
	}
	for _, n := range names {
		h.Joints = append(h.Joints, yokemate.Joint{Name: n, Pins: pins[n]})
	}
	for i := range u.Windings {
		if w := &u.Windings[i]; !u.MainsSide(w.ID) && w.Amps.Known() {
			h.Outputs = append(h.Outputs, yokemate.Output{Name: w.ID, From: joint[w.Pins[0]], To: joint[w.Pins[1]]})
		}
	}
	return h
}
