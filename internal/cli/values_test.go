package cli

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
)

func TestFact(t *testing.T) {
	for _, x := range []struct {
		scale scale
		text  string
		want  yokemate.Value
	}{
		// Values are the texts' own, moved by the prefix: no source needed.
		{volts, "12.6 V", yokemate.Value{V: 12.6, Digits: "12.6"}},
		{volts, "12.60", yokemate.Value{V: 12.6, Digits: "12.60"}},
		{volts, "470 mV", yokemate.Value{V: 0.47, Digits: "0.470"}},
		{volts, "11,92 V", yokemate.Value{V: 11.92, Digits: "11.92"}},
		{ohms, "2k2", yokemate.Value{V: 2200, Digits: "2200"}},
		{ohms, "2R90", yokemate.Value{V: 2.9, Digits: "2.90"}},
		{amps, "0,5 A", yokemate.Value{V: 0.5, Digits: "0.5"}},
		{volts, "12.6 ± 0.1 V", yokemate.Value{V: 12.6, U: 0.1, Basis: yokemate.Measured, Digits: "12.6"}},
		{volts, "230 V label", yokemate.Value{V: 230, Basis: yokemate.Label, Digits: "230"}},
		{volts, "230 ± 5 V label", yokemate.Value{V: 230, U: 5, Basis: yokemate.Label, Digits: "230"}},
		{millimetres, "16", yokemate.Value{V: 16, Digits: "16"}},
		{millimetres, "1.6 cm", yokemate.Value{V: 16, Digits: "16"}},
		{millimetres, "16.0 ± 0.5 mm", yokemate.Value{V: 16, U: 0.5, Basis: yokemate.Measured, Digits: "16.0"}},
		{millimetres, "1 in", yokemate.Value{V: 25.4, Digits: "25.4"}}, // exact: SI Brochure table of non-SI units
		{grams, "0.240 kg", yokemate.Value{V: 240, Digits: "240"}},
		{millihenry, "400 µH", yokemate.Value{V: 0.4, Digits: "0.400"}},
		{millihenry, "0.4", yokemate.Value{V: 0.4, Digits: "0.4"}},
		{megohms, "200", yokemate.Value{V: 200, Digits: "200"}},
		{megohms, "200M", yokemate.Value{V: 200, Digits: "200"}},
		{megohms, "0.5 GΩ", yokemate.Value{V: 500, Digits: "500"}},
	} {
		got, err := x.scale.fact("", x.text)
		if err != nil || got != x.want {
			t.Errorf("%q in %s is %+v, %v; want %+v", x.text, x.scale.own, got, err, x.want)
		}
	}
	for _, x := range []struct {
		scale scale
		text  string
	}{{volts, ""}, {volts, "label"}, {volts, "12 A"}, {volts, "NaN"}, {volts, "12 V rumour"}, {millimetres, "16 V"}, {megohms, "open"}, {grams, "1 m"}} {
		if v, err := x.scale.fact("--x", x.text); err == nil {
			t.Errorf("%q is read as %+v", x.text, v)
		} else if yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%q: code %s", x.text, yokemate.ErrorCode(err))
		}
	}
}

// Any decimal numeral, in any prefix, becomes the same number with the same
// number of digits, rounded once.
func TestFactKeepsDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.IntRange(0, 6).Draw(t, "places")
		n := rapid.IntRange(0, 99999999).Draw(t, "digits")
		prefix := rapid.SampledFrom([]struct {
			text string
			exp  int
		}{{"µ", -6}, {"m", -3}, {"", 0}}).Draw(t, "prefix")
		text := strconv.FormatFloat(float64(n)/math.Pow10(places), 'f', places, 64)
		got, err := volts.fact("", text+" "+prefix.text+"V")
		if err != nil {
			t.Fatal(err)
		}
		want, err := strconv.ParseFloat(text+"e"+strconv.Itoa(prefix.exp), 64)
		if err != nil {
			t.Fatal(err)
		}
		if got.V != want || got.Digits != strconv.FormatFloat(want, 'f', places-prefix.exp, 64) {
			t.Fatalf("%s %sV is %v, %q", text, prefix.text, got.V, got.Digits)
		}
	})
}
