package web

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
)

// truth is a unit on the bench as it is, before anybody has measured it: the
// pins of its two windings, the start ends first.
type truth struct {
	pins  [2][2]string
	ohms  [2]float64 // at the bench's temperature
	volts [2]float64 // with nothing drawn, at the first one's own volts
	idle  float64    // the first winding's amps then
}

// on is which winding a pin belongs to, and what part of that winding's volts it
// has: 1 at the start end.
func (u *truth) on(pin string) (winding int, part float64) {
	for i, p := range u.pins {
		if k := slices.Index(p[:], pin); k >= 0 {
			return i, float64(1 - k)
		}
	}
	return -1, 0
}

// shows is what the meter shows for a wanted reading, and what the source reads
// where there is one: four digits, and no error. Amps of an idle winding go with
// its volts here, as far below the knee they nearly do.
func (u *truth) shows(w *yokemate.WantedReading) (value, source string) {
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
	a, pa := u.on(w.From)
	b, pb := u.on(w.To)
	fed, turns := 0, 1.0 // what the source is on, and the volts per volt of the unit's own
	if w.Excited != nil {
		source = w.Excited.Volts.Digits
		from, _, _ := strings.Cut(w.Excited.Series[0], ":")
		fed, _ = u.on(from)
		turns = w.Excited.Volts.V / u.volts[fed]
	}
	switch w.Quantity {
	case yokemate.Ohms, yokemate.Millivolts:
		switch {
		case a != b || a < 0:
			return "open", source
		case w.Quantity == yokemate.Millivolts:
			return text(1000 * u.ohms[a]), source
		}
		return text(u.ohms[a]), source
	case yokemate.VoltsAC:
		v := (pa - pb) * u.volts[a] * turns
		if a != b {
			j, k := w.Joined[0], w.Joined[1]
			if x, _ := u.on(j); x != a {
				j, k = k, j
			}
			_, pj := u.on(j)
			_, pk := u.on(k)
			v = (pa-pj)*u.volts[a]*turns + (pk-pb)*u.volts[b]*turns
		}
		return text(math.Abs(v)), source
	case yokemate.AmpsAC:
		return text(u.idle * turns * u.volts[0] / u.volts[fed]), source
	case yokemate.Megohms:
		return "500", source
	}
	return "", source
}
