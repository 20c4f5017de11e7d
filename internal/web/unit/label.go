package unit

import (
	"net/http"
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
)

// Label is the form of what stands on a unit and what a ruler and a scale tell.
type Label struct {
	Origin, Volts, Hertz, Side, VA, Class, Kind, Limb, Stack, Mass, Near, Far string
}

// coreKinds lists the kinds of core to choose from.
func coreKinds(has string) []Choice {
	list := []Choice{{"", "not known"}, {"EI", "EI, laminations"}, {"UI", "UI, laminations"}, {"toroid", "toroid"}}
	if !slices.ContainsFunc(list, func(c Choice) bool { return c.Value == has }) {
		list = append(list, Choice{has, has})
	}
	return list
}

func labelOf(u *yokemate.Unit) Label {
	l := Label{Origin: u.Origin, VA: u.VA.Digits, Class: u.ThermalClass}
	if m := u.Mains; m != nil {
		l.Volts, l.Hertz, l.Side = say.Plain(m.Volts), say.Plain(m.Hertz), strings.Join(m.Series, "+")
	}
	if c := u.Core; c != nil {
		l.Kind, l.Limb, l.Stack, l.Mass = c.Kind, c.LimbMM.Digits, c.StackMM.Digits, c.MassG.Digits
	}
	for k, r := range u.PinRows {
		*[]*string{&l.Near, &l.Far}[k] = strings.Join(r, " ")
	}
	return l
}

// put writes what was typed into the unit.
func (l *Label) put(u *yokemate.Unit) error {
	u.Origin, u.ThermalClass = l.Origin, l.Class
	var c yokemate.Core
	if u.Core != nil {
		c = *u.Core
	}
	c.Kind = l.Kind
	for _, x := range []struct {
		place, text, unit string
		into              *yokemate.Value
	}{{"the rating", l.VA, "VA", &u.VA}, {"the limb", l.Limb, "mm", &c.LimbMM}, {"the stack", l.Stack, "mm", &c.StackMM}, {"the mass", l.Mass, "g", &c.MassG}} {
		if x.text == x.into.Digits {
			continue // as it was, with its uncertainty
		}
		*x.into = yokemate.Value{}
		if x.text == "" {
			continue
		}
		v, err := kit.Number(x.place, x.text, x.unit)
		if err != nil {
			return err
		}
		*x.into = yokemate.Num(v)
	}
	if u.Core = nil; c.Kind != "" || c.LimbMM.Known() || c.StackMM.Known() || c.MassG.Known() {
		u.Core = &c
	}
	u.PinRows = nil
	if near, far := pinList(l.Near), pinList(l.Far); len(near)+len(far) > 0 {
		u.PinRows = [][]string{near, far}
	}
	return l.mains(u)
}

// mains writes the label's mains into the unit: on the windings that were
// chosen, or on none while there are none.
func (l *Label) mains(u *yokemate.Unit) error {
	if l.Volts == "" && l.Hertz == "" {
		u.Mains = nil
		return nil
	}
	if len(u.Windings) > 0 {
		return mainsOf(u, l.Volts, l.Hertz, l.Side)
	}
	m := yokemate.Mains{}
	var err error
	if m.Volts, err = kit.Number("the label's volts", l.Volts, "V"); err != nil {
		return err
	}
	// No frequency is taken for granted: a 60 Hz unit taken for one of 50 Hz
	// would look fit for 50 Hz mains.
	if m.Hertz, err = kit.Number("the label's hertz", l.Hertz, "Hz"); err != nil {
		return err
	}
	u.Mains = &m
	return nil
}

func pinList(text string) []string {
	return strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ' ' })
}

// label takes the form of the label.
func (p *pages) label(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	u, s, err := p.unit(r)
	if err != nil {
		return err
	}
	v := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	l := Label{v("origin"), v("label_volts"), v("label_hertz"), v("side_of"), v("va"), v("class"), v("kind"), v("limb"), v("stack"), v("mass"), v("near"), v("far")}
	was := *u
	if err = l.put(u); err == nil {
		err = u.Validate()
	}
	if err == nil {
		err = p.kit.Store.PutUnit(r.Context(), u)
	}
	if err != nil {
		return p.again(w, r, &was, s, Page{Label: l}, err)
	}
	return kit.See(w, r, link(u.Tag)+"#label")
}
