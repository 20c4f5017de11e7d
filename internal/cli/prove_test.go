package cli

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/si"
)

// What is typed becomes the quantity's own unit with the digits that were
// shown; the expected texts follow from the rules of decimal places alone.
func TestShownReading(t *testing.T) {
	for _, x := range []struct {
		q     yokemate.Quantity
		typed string
		want  yokemate.AnswerText
	}{
		{yokemate.VoltsAC, "0,48 V", "0.48"},
		{yokemate.VoltsAC, "470 mV", "0.470"},
		{yokemate.VoltsAC, "12.60", "12.60"},
		{yokemate.VoltsAC, "98,0mV", "0.0980"},
		{yokemate.Ohms, "2k2", "2.2e3"},
		{yokemate.Ohms, "1300 mΩ", "1.300"},
		{yokemate.Ohms, "230", "230"},
		{yokemate.Ohms, "1.20 MΩ", "1.20e6"},
		{yokemate.AmpsAC, "13.6 mA", "0.0136"},
		{yokemate.Megohms, "410", "410"},
		{yokemate.Megohms, "410 MΩ", "410"},
		{yokemate.Megohms, "800 kΩ", "0.800"},
		{yokemate.Megohms, "2 GΩ", "2e3"},
		{yokemate.Watts, "0", "0"},
		{yokemate.Ohms, "Over", "over"},
		{yokemate.Ohms, "OL", "over"},
		{yokemate.Ohms, "open", "open"},
		{yokemate.VoltsAC, " unsure ", "unsure"},
	} {
		got, err := shownReading(x.q, x.typed)
		if err != nil || got != x.want {
			t.Errorf("%s %q is %q, %v, want %q", x.q, x.typed, got, err, x.want)
		}
	}
	for _, x := range []struct {
		q     yokemate.Quantity
		typed string
	}{
		{yokemate.VoltsAC, "12 A"}, {yokemate.VoltsAC, "about 12"}, {yokemate.VoltsAC, "12 ± 1"}, {yokemate.VoltsAC, "-12"},
		{yokemate.Ohms, "4E7"}, {yokemate.VoltsAC, "1.2.3"}, {yokemate.VoltsAC, "NaN"}, {yokemate.VoltsAC, ""}, {yokemate.AmpsAC, "1e999"},
	} {
		if got, err := shownReading(x.q, x.typed); err == nil {
			t.Errorf("%s %q was taken as %q", x.q, x.typed, got)
		}
	}
}

// Whatever is taken is an answer the format accepts, of the same value and
// the same last digit.
func TestShownReadingIsAnAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.StringMatching(`[0-9]{1,5}([.,][0-9]{1,4})?( ?(mV|V|kV|µV))?`).Draw(t, "typed")
		got, err := shownReading(yokemate.VoltsAC, typed)
		if err != nil {
			t.Fatal(err)
		}
		if err := (&yokemate.Answer{Step: "s", Value: got}).Validate(); err != nil {
			t.Fatalf("%q became %q: %v", typed, got, err)
		}
		want, err := si.Read(typed, "V")
		if err != nil {
			t.Fatal(err)
		}
		v, err := yokemate.Read(string(got))
		if err != nil || v.V != want.Value {
			t.Fatalf("%q became %q, %v V", typed, got, want.Value)
		}
		if res := si.Resolution(v.Digits); want.Value != 0 && (res > 1.000001*want.Step || res < 0.999999*want.Step) {
			t.Fatalf("%q became %q: a last digit of %g V became %g V", typed, got, want.Step, res)
		}
	})
}

// No line is wider than asked for unless a single word is, and no word is lost.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-zΩ]{1,12}`)).Draw(t, "words")
		head := rapid.SampledFrom([]string{"", "■ STOP  "}).Draw(t, "head")
		width := rapid.IntRange(10, 60).Draw(t, "width")
		got := wrap(head, strings.Join(words, " "), width)
		if back := strings.Fields(strings.TrimPrefix(got, head)); strings.Join(back, " ") != strings.Join(words, " ") {
			t.Fatalf("%q", got)
		}
		for _, l := range strings.Split(got, "\n") {
			if utf8.RuneCountInString(l) > width && len(strings.Fields(strings.TrimPrefix(l, head))) > 1 {
				t.Fatalf("a line of %d in %d: %q", utf8.RuneCountInString(l), width, l)
			}
		}
	})
}
