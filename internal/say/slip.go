package say

import (
	"slices"
	"strings"

	"yokemate"
)

// Slip says a slip's code in a few words.
func (w Words) Slip(code string) string { return w.Slips([]string{code}) }

// Slips says several slips, those of one kind together: "F1/A or F2/A
// reversed; F1.5 open".
func (w Words) Slips(codes []string) string {
	type kind struct {
		name string
		args []string
	}
	var kinds []kind
	for _, c := range codes {
		name, arg, _ := strings.Cut(c, ":")
		k := slices.IndexFunc(kinds, func(k kind) bool { return k.name == name })
		if k < 0 {
			kinds = append(kinds, kind{name: name})
			k = len(kinds) - 1
		}
		switch name {
		case "swapped":
			a, b, _ := strings.Cut(arg, ",")
			arg = w.Phrase("%s and %s", a, b)
		case "wrong-pin":
			wrong, right, _ := strings.Cut(arg, "-for-")
			arg = w.Phrase("%s taken for %s", wrong, right)
		case "tap-swapped":
			_, leads, _ := strings.Cut(arg, "/")
			a, b, _ := strings.Cut(leads, ",")
			arg = w.Phrase("%s and %s", a, b)
		}
		kinds[k].args = append(kinds[k].args, arg)
	}
	var all []string
	for _, k := range kinds {
		all = append(all, w.kind(k.name, w.Or(k.args)))
	}
	return strings.Join(all, "; ")
}

// kind says slips of one kind.
func (w Words) kind(name, what string) string {
	switch name {
	case "reversed":
		return w.Phrase("%s reversed", what)
	case "swapped":
		return w.Phrase("leads of %s swapped", what)
	case "open":
		return w.Phrase("%s open", what)
	case "diode-reversed":
		return w.Phrase("diode %s reversed", what)
	case "diode-open":
		return w.Phrase("diode %s open", what)
	case "capacitor-reversed":
		return w.Phrase("reservoir %s reversed", what)
	case "polarity":
		return w.Phrase("plus and minus of %s swapped", what)
	case "tap-swapped":
		return w.Phrase("rectifier leads of joints %s swapped", what)
	case "middle-open":
		return w.Phrase("middle lead of %s open", what)
	case "unpowered":
		return w.Phrase("%s without mains", what)
	case "shorted-turn":
		return w.Phrase("shorted turns in %s", what)
	case "wrong-feed":
		return w.Phrase("%s on another phase or other mains", what)
	case "fuse-blown":
		return w.Phrase("no mains: fuse or plug")
	case "unknown":
		return w.Phrase("a cause not on the list")
	case "wrong-pin":
		return what
	}
	return strings.TrimSpace(name + " " + what)
}

// Or lists things of which one is meant: "A, B or C".
func (w Words) Or(list []string) string {
	switch n := len(list); n {
	case 0:
		return ""
	case 1:
		return list[0]
	default:
		return w.Phrase("%s or %s", strings.Join(list[:n-1], ", "), list[n-1])
	}
}

// Likely says how probable it is that all is right, and each slip that stays
// likely.
func (w Words) Likely(v *yokemate.Verdict) []string {
	list := []string{w.Phrase("all right: %s", w.Chance(v.Right))}
	for _, z := range v.Slips {
		if z.Probability < 0.01 {
			break
		}
		list = append(list, w.Slips(append([]string{z.Code}, z.Same...))+": "+w.Chance(z.Probability))
	}
	return list
}
