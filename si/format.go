package si

import (
	"math"
	"strconv"
	"strings"
)

// Locale is how numbers are written in a language. The zero Locale writes a
// decimal point, and is what the package functions use.
type Locale struct {
	Decimal string // decimal mark; "" means "."
	To      string // word between the ends of an interval; "" means "to"
}

// Format writes v [unit] to sig significant digits (1 to 17; outside, the
// nearer end) with the prefix that suits it: "1.23 mA", "2.20 kΩ". Trailing
// zeros are kept. Units that take no prefix in the trade (Hz below 1000, kg, °C,
// a pure number) stand plain; lengths are in µm, mm or m, areas in mm², cm² or
// m². Far outside the range of its prefixes a value has a power of ten: "1.2e-15 A".
//
// Special cases: NaN is "–", infinity "∞ V", zero of either sign "0 V".
func Format(v float64, unit string, sig int) string { return Locale{}.Format(v, unit, sig) }

// FormatU writes v ± u [unit], u to two significant digits and v to the same
// place, with a common prefix: "12.340 ± 0.051 V". Where u is NaN, zero or
// negative there is nothing to show, and v stands alone with four digits. Where
// u is too small for the digits of a float64, each number has its own unit.
func FormatU(v, u float64, unit string) string { return Locale{}.FormatU(v, u, unit) }

// FormatInterval writes "50 to 120 mV": three significant digits of the end
// with the larger magnitude, the other to the same place, with a common prefix.
// An end that is exactly zero is "0". Ends that differ but would look the same
// get more digits, up to nine; equal ends are one value. Each end is rounded to
// the nearest, so a limit is compared with the number and not with this text.
// If either end is NaN the result is "–".
func FormatInterval(low, high float64, unit string) string {
	return Locale{}.FormatInterval(low, high, unit)
}

// Round returns v to sig significant digits (1 to 17; outside, the nearer end).
// NaN and infinities come back as they are, and so does a v that rounding would
// carry out of the range of float64.
func Round(v float64, sig int) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', clampSig(sig)-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// Format is the package's Format in this locale.
func (l Locale) Format(v float64, unit string, sig int) string {
	u := unitFor(unit)
	if s, ok := special(v, u); ok {
		return s
	}
	d := significant(v, sig)
	sc, power := u.pick(d.top())
	return l.one(d, sc, power) + sc.suffix()
}

// FormatU is the package's FormatU in this locale.
func (l Locale) FormatU(v, u float64, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(u) || u <= 0 {
		return l.Format(v, unit, 4)
	}
	if math.IsInf(u, 0) {
		return l.Format(v, unit, 4) + " ± " + l.Format(u, unit, 2)
	}
	du := significant(u, 2)
	if v != 0 && significant(v, 1).top()-du.exp > 16 {
		return l.Format(v, unit, 17) + " ± " + l.Format(u, unit, 2)
	}
	dv := toPlace(v, du.exp)
	sc, power := unitFor(unit).pick(max(dv.top(), du.top()))
	return l.one(dv, sc, power) + " ± " + l.one(du, sc, power) + sc.suffix()
}

// FormatInterval is the package's FormatInterval in this locale.
func (l Locale) FormatInterval(low, high float64, unit string) string {
	u := unitFor(unit)
	if math.IsNaN(low) || math.IsNaN(high) {
		return noValue
	}
	if low == high {
		return l.Format(low, unit, 3)
	}
	to := l.To
	if to == "" {
		to = "to"
	}
	big := 0.0
	for _, v := range [...]float64{low, high} {
		if !math.IsInf(v, 0) {
			big = max(big, math.Abs(v))
		}
	}
	if big == 0 { // zero and infinity, or two infinities
		lowText, _ := special(low, plainUnit)
		highText, _ := special(high, u)
		return lowText + " " + to + " " + highText
	}
	var dl, dh decimal
	place, top := 0, 0
	for sig := 3; sig <= 9; sig++ {
		d := significant(big, sig)
		place, top = d.exp, d.top()
		dl, dh = toPlace(low, place), toPlace(high, place)
		if dl != dh {
			break
		}
	}
	sc, power := u.pick(top)
	end := func(v float64, d decimal) string {
		if s, ok := special(v, plainUnit); ok {
			return s
		}
		return l.one(d, sc, power)
	}
	return end(low, dl) + " " + to + " " + end(high, dh) + sc.suffix()
}

const noValue = "–"

var plainUnit = units[""]

// special returns the text of NaN, the infinities and zero.
func special(v float64, u *unit) (string, bool) {
	sc, _ := u.pick(0)
	for _, s := range u.shown {
		if s.exp == 0 {
			sc = s
		}
	}
	switch {
	case math.IsNaN(v):
		return noValue, true
	case v == 0:
		return "0" + sc.suffix(), true
	case math.IsInf(v, 1):
		return "∞" + sc.suffix(), true
	case math.IsInf(v, -1):
		return "-∞" + sc.suffix(), true
	}
	return "", false
}

// pick chooses how to show a value whose first digit stands for 10^top, and the
// power of ten that is left over for an exponent (0: none is written).
func (u *unit) pick(top int) (shown, int) {
	sc := u.shown[0]
	for _, s := range u.shown {
		if top >= s.from {
			sc = s
		}
	}
	// Three zeros after the point, or nine digits before it, are still readable.
	if rel := top - sc.exp; rel >= -4 && rel < 9 {
		return sc, 0
	}
	for _, s := range u.shown {
		if s.exp == 0 {
			sc = s
		}
	}
	return sc, top - sc.exp
}

func (s shown) suffix() string {
	if s.symbol == "" || s.symbol == "°" {
		return s.symbol
	}
	return " " + s.symbol
}

// one writes d in the unit of sc, with an exponent when power is not 0.
func (l Locale) one(d decimal, sc shown, power int) string {
	d.exp -= sc.exp + power
	s := d.String()
	if l.Decimal != "" {
		s = strings.Replace(s, ".", l.Decimal, 1)
	}
	if power != 0 {
		s += "e" + strconv.Itoa(power)
	}
	return s
}

// decimal is the number ±digits × 10^exp. digits has no leading zero unless it
// is "0"; its trailing zeros are significant.
type decimal struct {
	neg    bool
	digits string
	exp    int
}

// top is the power of ten that the first digit stands for.
func (d decimal) top() int { return d.exp + len(d.digits) - 1 }

// String writes d without an exponent. Digits left of a place that was rounded
// away are filled with zeros.
func (d decimal) String() string {
	s := d.digits
	switch {
	case d.exp >= 0 && s != "0":
		s += strings.Repeat("0", d.exp)
	case d.exp < 0:
		if short := 1 - d.exp - len(s); short > 0 {
			s = strings.Repeat("0", short) + s
		}
		s = s[:len(s)+d.exp] + "." + s[len(s)+d.exp:]
	}
	if d.neg {
		return "-" + s
	}
	return s
}

func clampSig(sig int) int { return min(max(sig, 1), 17) }

// significant rounds a finite v to sig significant digits.
func significant(v float64, sig int) decimal {
	mant, exp, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'e', clampSig(sig)-1, 64), "e")
	e, err := strconv.Atoi(exp)
	if err != nil {
		panic("si: significant of a value that is not finite")
	}
	digits := strings.Replace(mant, ".", "", 1)
	return decimal{neg: v < 0, digits: digits, exp: e - len(digits) + 1}
}

// toPlace rounds a finite v to a multiple of 10^place. Zero has no sign.
func toPlace(v float64, place int) decimal {
	d := decimal{digits: "0", exp: place}
	if v == 0 || math.IsInf(v, 0) {
		return d
	}
	lead := significant(v, 17)
	switch keep := lead.top() - place + 1; {
	case keep > 17:
		panic("si: more digits asked for than a float64 has")
	case keep > 0:
		d = significant(v, keep)
		// Rounding may carry into one more digit: 9.96 to 10.0.
		if d.exp > place {
			d.digits += strings.Repeat("0", d.exp-place)
			d.exp = place
		}
	case keep == 0 && lead.digits > "5"+strings.Repeat("0", 16):
		d = decimal{neg: v < 0, digits: "1", exp: place}
	}
	return d
}
