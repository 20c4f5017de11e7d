package paper

import (
	"time"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/sheet"
	"yokemate/phys/network"
	"yokemate/si"
	"yokemate/supply"
)

// Unit is the label of a unit, with the fuse and the DC amps that the unit by
// itself at its label's mains may be asked for. Where its facts do not reach
// for that, the label has blanks.
func Unit(o figure.Options, u *yokemate.Unit, s *yokemate.Shelf, who string) (*sheet.UnitLabel, error) {
	l := &sheet.UnitLabel{Options: o, Unit: u, Who: who, Date: LastRead(u)}
	if u.Mains == nil || u.Quarantined() || u.CoreJoined() != "" {
		return l, nil
	}
	h := supply.Alone(u)
	if h == nil || len(h.Outputs) == 0 || h.Check(s) != nil {
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

// Rise reads the rise of a winding that a heat run found [K]; 0 for no text.
func Rise(place, text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	k, err := si.Parse(text, "K")
	if err != nil {
		return 0, say.Refused(place, err)
	}
	if !(k > 0 && k <= 300) {
		return 0, yokemate.Errorf(yokemate.Invalid, place, "%s is no rise of a winding", si.Format(k, "K", 3)).Mend("write the kelvins over the air around it, as 41")
	}
	return k, nil
}

// LastRead is when the unit was last measured; zero when nothing says so.
func LastRead(u *yokemate.Unit) time.Time {
	var t time.Time
	for _, r := range u.Readings {
		if r.At.After(t) {
			t = r.At
		}
	}
	return t
}
