package cli

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/si"
)

// A scale is how a field's values are read: its own unit, and the SI unit that
// other spellings are given in, with the power of ten from that to its own.
type scale struct {
	own   string // a number without a unit is in this
	base  string // empty: own is the base unit
	shift int
}

var (
	volts       = scale{own: "V"}
	amps        = scale{own: "A"}
	ohms        = scale{own: "Ω"}
	watts       = scale{own: "W"}
	voltAmperes = scale{own: "VA"}
	hertz       = scale{own: "Hz"}
	seconds     = scale{own: "s"}
	celsius     = scale{own: "°C"}
	plain       = scale{own: ""}
	millimetres = scale{own: "mm", base: "m", shift: 3}
	grams       = scale{own: "g", base: "kg", shift: 3}
	millihenry  = scale{own: "mH", base: "H", shift: 3}
	megohms     = scale{own: "MΩ", base: "Ω", shift: -6}
	millivolts  = scale{own: "mV", base: "V", shift: 3}
)

// read reads a value as people write it.
func (s scale) read(place, text string) (si.Reading, error) {
	r, err := si.Read(text, s.own)
	if err == nil {
		return r, nil
	}
	if s.base != "" {
		if r, err = si.Read(text, s.base); err == nil {
			r.Value, r.U, r.Step = say.Shifted(r.Value, s.shift), say.Shifted(r.U, s.shift), say.Shifted(r.Step, s.shift)
			return r, nil
		}
	}
	return r, say.Refused(place, err)
}

// numeral writes a value with the digits it was read with: "470 mV" is 0.470 V.
func numeral(r si.Reading) string {
	place := math.Log10(r.Step)
	if p := math.Round(place); math.Abs(place-p) < 1e-9 && p <= 3 && p >= -15 {
		s := strconv.FormatFloat(r.Value, 'f', max(0, int(-p)), 64)
		if back, err := strconv.ParseFloat(s, 64); err == nil && back == r.Value {
			return s
		}
	}
	return strconv.FormatFloat(r.Value, 'g', -1, 64)
}

// fact reads a value with its uncertainty and basis: "12.6 V", "12.6 ± 0.1 V",
// "230 V label". The words that may end it are those of the file formats.
func (s scale) fact(place, text string) (yokemate.Value, error) {
	var basis yokemate.Basis
	if f := strings.Fields(text); len(f) > 1 {
		switch last := yokemate.Basis(f[len(f)-1]); last {
		case yokemate.Measured, yokemate.Label, yokemate.Estimated, yokemate.Assumed:
			basis = last
			text = strings.TrimSuffix(strings.TrimSpace(text), string(last))
		}
	}
	r, err := s.read(place, text)
	if err != nil {
		return yokemate.Value{}, err
	}
	v := yokemate.Value{V: r.Value, Basis: basis, Digits: numeral(r)}
	if !math.IsNaN(r.U) {
		v.U = r.U
		if basis == yokemate.AsRead {
			v.Basis = yokemate.Measured
		}
	}
	return v, nil
}

// number reads a value that has no uncertainty of its own.
func (s scale) number(place, text string) (float64, error) {
	v, err := s.fact(place, text)
	if err != nil {
		return 0, err
	}
	if v.Basis != yokemate.AsRead {
		return 0, yokemate.Errorf(yokemate.Invalid, place, "a plain number is wanted here").Mend("leave out what follows the value")
	}
	return v.V, nil
}

// show prints a fact with its unit, and its uncertainty where that was given.
func (s scale) show(v yokemate.Value) string {
	if !v.Known() {
		return ""
	}
	text := v.Digits
	switch {
	case say.Exact(v) && s.base == "":
		text = si.Format(v.V, s.own, 4)
	case v.U > 0 && s.base == "":
		text = si.FormatU(v.V, v.U, s.own)
	case v.U > 0:
		text = strconv.FormatFloat(v.V, 'g', -1, 64) + " ± " + strconv.FormatFloat(v.U, 'g', 2, 64) + " " + s.own
	case s.own != "":
		text += " " + s.own
	}
	if v.Basis == yokemate.Label || v.Basis == yokemate.Estimated || v.Basis == yokemate.Assumed {
		text += " " + string(v.Basis)
	}
	return text
}

// scaleOf is the scale of a quantity's readings.
func scaleOf(q yokemate.Quantity) scale {
	switch q {
	case yokemate.VoltsAC, yokemate.VoltsDC:
		return volts
	case yokemate.Millivolts:
		return millivolts
	case yokemate.Ohms:
		return ohms
	case yokemate.AmpsAC:
		return amps
	case yokemate.Watts:
		return watts
	case yokemate.Megohms:
		return megohms
	case yokemate.Celsius:
		return celsius
	}
	return plain
}

// names splits a list of names as people write it: "5,6" or "5 6".
func names(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' })
}

// part is one flag of a group, with what it was given.
type part struct{ flag, text string }

// groups gathers flags that belong together by their order: each use of head
// opens a group, and the member flags that follow it fall into it. values
// holds every value of each flag.
func (a *App) groups(head string, members []string, values map[string][]string) ([][]part, error) {
	used := map[string]int{}
	var all [][]part
	for _, f := range a.flags {
		if f != head && !slices.Contains(members, f) {
			continue
		}
		p := part{f, values[f][used[f]]}
		used[f]++
		switch {
		case f == head:
			all = append(all, []part{p})
		case len(all) == 0:
			return nil, yokemate.Errorf(yokemate.Invalid, "--"+f, "it does not say what it is about").Mend("put --%s before it", head)
		default:
			last := &all[len(all)-1]
			for _, x := range *last {
				if x.flag == f {
					return nil, yokemate.Errorf(yokemate.Invalid, "--"+f, "it is given twice for --%s %s", head, (*last)[0].text).Mend("give it once")
				}
			}
			*last = append(*last, p)
		}
	}
	return all, nil
}
