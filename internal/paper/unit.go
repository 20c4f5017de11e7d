package paper

import (
	"strconv"
	"time"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/sheet"
	"yokemate/phys/network"
	"yokemate/supply"
)

// Unit is the label of a unit, with the fuse and the DC amps that the unit by
// itself at its label's mains may be asked for. Where its facts do not reach
// for that, the label has blanks.
func Unit(o figure.Options, u *yokemate.Unit, s *yokemate.Shelf, who string) (*sheet.UnitLabel, error) {
	l := &sheet.UnitLabel{Options: o, Unit: u, Who: who, Date: lastRead(u)}
	if u.Mains == nil || u.Quarantined() || u.CoreJoined() != "" {
		return l, nil
	}
	h := alone(u)
	if h == nil || h.Check(s) != nil {
		return l, nil
	}
	card, err := supply.Limits(network.Compile(s.Only(h)), h, supply.CardOptions{})
	if err != nil {
		if e, ours := err.(*yokemate.Error); ours && e.Code != yokemate.Internal {
			return l, nil
		}
		return nil, err
	}
	w := say.Words{Locale: o.Locale, Say: o.Say}
	if card.PrimaryFuse > 0 {
		l.Fuse = w.Fuse(card.FuseKind, card.PrimaryFuse)
	}
	l.DCAmps = map[string]float64{}
	for _, x := range card.Outputs {
		l.DCAmps[x.Name] = x.BridgeAmps
		if x.Fuse != nil && x.Fuse.Amps > 0 {
			l.Fuses = append(l.Fuses, say.Fact{Name: x.Name, Value: w.Fuse(x.Fuse.Kind, x.Fuse.Amps)})
		}
	}
	return l, nil
}

// lastRead is when the unit was last measured; zero when nothing says so.
func lastRead(u *yokemate.Unit) time.Time {
	var t time.Time
	for _, r := range u.Readings {
		if r.At.After(t) {
			t = r.At
		}
	}
	return t
}

// alone is the unit by itself at the mains of its label, each other winding of
// known amps an output of its own; nil where there is nothing to ask of it.
func alone(u *yokemate.Unit) *yokemate.Hookup {
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
	if len(h.Outputs) == 0 {
		return nil
	}
	return h
}
