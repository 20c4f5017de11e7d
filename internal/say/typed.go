package say

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/si"
)

// Refused makes our error of one of package si.
func Refused(place string, err error) error {
	if e, ok := errors.AsType[*si.Error](err); ok {
		return yokemate.Errorf(yokemate.Invalid, place, "%s", e.Sentence).Mend("%s", e.Hint)
	}
	return err
}

// Typed reads what was typed of a meter's display: over, open and unsure as
// words, a number with or without unit, comma or point. It gives the digits in
// the quantity's own unit, no more than were shown. place names the field in an
// error.
func Typed(place string, q yokemate.Quantity, text string) (string, error) {
	text = strings.TrimSpace(text)
	switch w := strings.ToLower(text); w {
	case "over", "open", "unsure":
		return w, nil
	case "ol", "o.l", "o.l.", "overload":
		return "over", nil
	case "":
		return "", yokemate.Errorf(yokemate.Invalid, place, "nothing was typed").Mend("type what the meter shows, or over, open or unsure")
	}
	unit := q.Unit()
	r, err := si.Read(text, unit)
	shift := 0
	if err != nil {
		// Millivolts may be given in volts, megohms in ohms.
		switch q {
		case yokemate.Millivolts:
			unit, shift = "V", 3
		case yokemate.Megohms:
			unit, shift = "Ω", -6
		}
		if shift == 0 {
			return "", Refused(place, err)
		}
		if r2, err2 := si.Read(text, unit); err2 == nil {
			r, err = r2, nil
		}
	}
	signed := q == yokemate.Celsius || q == yokemate.VoltsDC || q == yokemate.Millivolts || q == yokemate.Kick
	switch {
	case err != nil:
		return "", Refused(place, err)
	case !math.IsNaN(r.U):
		return "", yokemate.Errorf(yokemate.Invalid, place, "a reading has no ± of its own").Mend("type what the meter shows; its accuracy is known")
	case r.Value < 0 && !signed:
		return "", yokemate.Errorf(yokemate.Invalid, place, "AC volts, amps, watts and ohms have no sign").Mend("read it again")
	}
	return digits(r, shift), nil
}

// digits writes r × 10^shift so that its last digit is the last one shown: 470
// mV is 0.470, and 2.2 kΩ is 2.2e3.
func digits(r si.Reading, shift int) string {
	v := Shifted(r.Value, shift)
	place := int(math.Round(math.Log10(r.Step))) + shift
	if v == 0 || place <= 0 {
		return strconv.FormatFloat(v, 'f', max(0, -place), 64)
	}
	top := int(math.Floor(math.Log10(math.Abs(v))))
	return strings.Replace(strconv.FormatFloat(v, 'e', max(0, top-place), 64), "e+0", "e", 1)
}

// Shifted is v × 10^n, rounded once.
func Shifted(v float64, n int) float64 {
	if n == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	mant, exp, _ := strings.Cut(strconv.FormatFloat(v, 'e', -1, 64), "e")
	e, err := strconv.Atoi(exp)
	if err != nil {
		panic("say: strconv wrote no exponent")
	}
	x, err := strconv.ParseFloat(mant+"e"+strconv.Itoa(e+n), 64)
	if err != nil {
		return math.NaN()
	}
	return x
}
