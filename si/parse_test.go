package si_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"yokemate/si"
)

// Expected values are the definitions of the prefixes and units (SI Brochure,
// 9th edition, tables 7 and 8) unless a line names another source. They are
// compared exactly: Parse rounds once.
func TestParse(t *testing.T) {
	tests := []struct {
		text, unit string
		want       float64
	}{
		{"12.6 V", "V", 12.6},
		{"12.6V", "V", 12.6},
		{"12.6", "V", 12.6},
		{"  12.6 V\t", "V", 12.6},
		{"12.6\u00a0V", "V", 12.6},
		{"12.6\u2009V", "V", 12.6},
		{"12.6\u202fV", "V", 12.6},
		{"470 mV", "V", 0.47},
		{"470m", "V", 0.47},
		{"0,5 A", "A", 0.5},
		{"1,234", "V", 1.234}, // a lone comma is decimal
		{"12 300 V", "V", 12300},
		{"1 234,5", "V", 1234.5},
		{"1\u202f234\u202f567", "", 1234567},
		{".5 A", "A", 0.5},
		{"+5 V", "V", 5},
		{"-5 V", "V", -5},
		{"\u22125 V", "V", -5},
		{"- 5 V", "V", -5},
		{"-0", "V", 0},
		{"1e-3", "A", 1e-3},
		{"1.2E+3 Hz", "Hz", 1200},
		{"1e\u22123 A", "A", 1e-3},
		{"12 VAC", "V", 12},
		{"12 V AC", "V", 12},
		{"12 Vac", "V", 12},
		{"12 V~", "V", 12},
		{"12 V ~", "V", 12},
		{"12 VDC", "V", 12},
		{"480 mVac", "V", 0.48},
		{"12.6 Vrms", "V", 12.6},
		{"12.6 V AC rms", "V", 12.6},
		{"3 volts", "V", 3},
		{"3 millivolts", "V", 0.003},
		{"3 Kilovolts", "V", 3000},
		{"12 microamps", "A", 12e-6},
		{"12 nanoamperes", "A", 12e-9},
		{"33 picofarads", "F", 33e-12},
		{"20 megaohms", "Ω", 20e6},
		{"33 pF", "F", 33e-12},
		{"25 mA", "A", 0.025},
		{"25 mA~", "A", 0.025},
		{"12 \u00b5A", "A", 12e-6},
		{"12 \u03bcA", "A", 12e-6},
		{"12 uA", "A", 12e-6},
		{"940", "Ω", 940},
		{"940 Ω", "Ω", 940},
		{"940 \u2126", "Ω", 940},
		{"940", "\u2126", 940},
		{"940 ohm", "Ω", 940},
		{"940 Ohms", "Ω", 940},
		{"47 R", "Ω", 47},
		{"1.5 kΩ", "Ω", 1500},
		{"1.5 kohm", "Ω", 1500},
		{"1.5 kilohms", "Ω", 1500},
		{"10K", "Ω", 10e3},
		{"10k", "Ω", 10e3},
		{"470 m", "Ω", 0.47},
		{"470 M", "Ω", 470e6},
		{"200 MΩ", "Ω", 200e6},
		{"200 megohms", "Ω", 200e6},
		{"1 meg", "Ω", 1e6},
		{"2 GΩ", "Ω", 2e9},
		{"4e7", "Ω", 4e7},
		// IEC 60062, letter in the place of the decimal mark.
		{"2k2", "Ω", 2200},
		{"2K2", "Ω", 2200},
		{"4R7", "Ω", 4.7},
		{"R47", "Ω", 0.47},
		{"1M0", "Ω", 1e6},
		{"1G5", "Ω", 1.5e9},
		{"2k2 Ω", "Ω", 2200},
		{"4R7ohm", "Ω", 4.7},
		{"4u7", "F", 4.7e-6},
		{"4µ7F", "F", 4.7e-6},
		{"2n2", "F", 2.2e-9},
		{"n47", "F", 0.47e-9},
		{"p33", "F", 0.33e-12},
		{"4u7", "H", 4.7e-6}, // as capacitors; common practice, no source
		{"2n2", "H", 2.2e-9},
		{"4700 uF", "F", 4.7e-3},
		{"100n", "F", 100e-9},
		{"4.7 mH", "H", 4.7e-3},
		{"0.4 mh", "H", 0.4e-3},
		{"6 VA", "VA", 6},
		{"6va", "VA", 6},
		{"1.2 kVA", "VA", 1200},
		{"1.4 W", "W", 1.4},
		{"800 mW", "W", 0.8},
		{"50 hz", "Hz", 50},
		{"1 kHz", "Hz", 1000},
		{"60 cps", "Hz", 60},
		{"60 s", "s", 60},
		{"20 ms", "s", 0.02},
		{"5 min", "s", 300},
		{"1.5 h", "s", 5400},
		{"16 mm", "m", 0.016},
		{"1,6 cm", "m", 0.016},
		{"1 in", "m", 0.0254},
		{"2 inch", "m", 0.0508},
		{`2"`, "m", 0.0508},
		{"320 mm2", "m²", 320e-6},
		{"320 mm²", "m²", 320e-6},
		{"320 mm^2", "m²", 320e-6},
		{"3.2 cm²", "m²", 3.2e-4},
		{"3.2 cm2", "m²", 3.2e-4},
		{"1 sq in", "m²", 6.4516e-4}, // 25.4² mm²
		{"1 in²", "m²", 6.4516e-4},
		{"240 g", "kg", 0.24},
		{"0.24", "kg", 0.24},
		{"16 oz", "kg", 0.45359237}, // international pound of 1959: 0.45359237 kg exactly, 16 oz
		{"1 lb", "kg", 0.45359237},
		{"20", "°C", 20},
		{"20 C", "°C", 20},
		{"20 °C", "°C", 20},
		{"20 \u2103", "°C", 20},
		{"20 \u00baC", "°C", 20}, // ordinal sign
		{"68 \u2109", "°C", 20},
		{"293.15 \u212a", "°C", 20},
		{"-40 °F", "°C", -40}, // where the scales meet
		{"212F", "°C", 100},
		{"273.15 K", "°C", 0},
		{"-459.67 °F", "°C", -273.15},
		{"35 K", "K", 35},
		{"9 °F", "K", 5},
		{"9.9 A\u00b2s", "A^2s", 9.9},
		{"5 %", "", 0.05},
		{"5%", "", 0.05},
		{"0,8", "", 0.8},
		{"5", "%", 0.05},
		{"120°", "°", 120},
		{"1.3 T", "T", 1.3}, // a unit not in the table
		{"1.3", "T", 1.3},
	}
	for _, tt := range tests {
		got, err := si.Parse(tt.text, tt.unit)
		if err != nil {
			t.Errorf("Parse(%q, %q): %v", tt.text, tt.unit, err)
			continue
		}
		// Exact, but for the two scales that are no power of ten.
		if tol := 1e-15 * math.Abs(tt.want) * 2; math.Abs(got-tt.want) > tol || tt.unit != "m²" && tt.unit != "m" && tt.unit != "kg" && tt.unit != "°C" && got != tt.want {
			t.Errorf("Parse(%q, %q) = %v, want %v", tt.text, tt.unit, got, tt.want)
		}
		if got == 0 && math.Signbit(got) {
			t.Errorf("Parse(%q, %q) is a negative zero", tt.text, tt.unit)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	tests := []struct {
		text, unit, code, says string // says is a part of the message
	}{
		{"", "V", si.CodeEmpty, "no value"},
		{" \u00a0", "V", si.CodeEmpty, "no value"},
		{"V", "V", si.CodeNumber, "no number"},
		{"-", "V", si.CodeNumber, "no number"},
		{"–", "V", si.CodeNumber, "no number"}, // what Format prints for NaN
		{"--5", "V", si.CodeNumber, "no number"},
		{"NaN", "V", si.CodeNumber, "finite"},
		{"+Inf", "V", si.CodeNumber, "finite"},
		{"∞ V", "V", si.CodeNumber, "finite"},
		{"O.L", "Ω", si.CodeNumber, "finite"},
		{".", "V", si.CodeNumber, "no number"},
		{"12.", "V", si.CodeSeparator, "stops"},
		{"12, V", "V", si.CodeSeparator, "stops"},
		{"1.234,5", "V", si.CodeSeparator, "more than one"},
		{"1,234.5 V", "V", si.CodeSeparator, "more than one"},
		{"1.234.567", "V", si.CodeSeparator, "more than one"},
		{"1,234,567", "V", si.CodeSeparator, "more than one"},
		{"12 30", "V", si.CodeSeparator, "groups of three"},
		{"0 123", "V", si.CodeSeparator, "groups of three"},
		{"1234 567", "V", si.CodeSeparator, "groups of three"},
		{"1  234", "V", si.CodeSeparator, "groups of three"},
		{"230 50 Hz", "V", si.CodeSeparator, "groups of three"},
		{"1.234 567", "V", si.CodeSeparator, "after the decimal mark"},
		{"12 A", "V", si.CodeUnit, "amperes"},
		{"12 mA", "V", si.CodeUnit, "write it like 12.6 V"},
		{"12 V", "A", si.CodeUnit, "volts"},
		{"12 Vac", "A", si.CodeUnit, "volts"},
		{"12 V", "", si.CodeUnit, "volts"},
		{"6 W", "VA", si.CodeUnit, "watts"},
		{"6 VA", "V", si.CodeUnit, "volt-amperes"},
		{"12 VAC", "VA", si.CodeUnit, "volts"},
		{"5 %", "V", si.CodeUnit, "percentage"},
		{"16 mm", "m²", si.CodeUnit, "a length"},
		{"16 mm²", "m", si.CodeUnit, "an area"},
		{"2 h", "V", si.CodeUnit, "seconds"},
		{"12 x", "V", si.CodeUnit, `"x"`},
		{"12 V 3", "V", si.CodeUnit, `"V 3"`},
		{"12 V;", "V", si.CodeUnit, `"V;"`},
		{"0x1F", "V", si.CodeUnit, `"x1F"`},
		{"12 AC", "V", si.CodeUnit, `"AC"`},
		{"12 k V", "V", si.CodeUnit, `"k V"`},
		{"12 Vpp", "V", si.CodeUnit, "peak"},
		{"10 mhz", "Hz", si.CodeUnit, `"mhz"`}, // neither milli nor mega
		{"2 MM", "m", si.CodeUnit, `"MM"`},
		{"2k2kΩ", "Ω", si.CodeUnit, "twice"},
		{"2k2 k", "Ω", si.CodeUnit, "twice"},
		{"2.2k2", "Ω", si.CodeUnit, `"k2"`},
		{"2k2", "V", si.CodeUnit, `"k2"`},
		{"4R7J", "Ω", si.CodeUnit, `"J"`},
		{"4M7", "F", si.CodeUnit, `"M7"`},
		{"4E7", "Ω", si.CodeAmbiguous, "4R7"},
		{"100 MF", "F", si.CodeAmbiguous, "µF"},
		{"100 mfd", "F", si.CodeAmbiguous, "µF"},
		{"5 m", "s", si.CodeAmbiguous, "min or ms"},
		{"1e999", "V", si.CodeRange, "too large"},
		{"1e307 kV", "V", si.CodeRange, "too large"},
		{"1e99999", "V", si.CodeRange, "exponent"},
		{"1e-999", "V", si.CodeRange, "too small"},
		{"-300 °C", "°C", si.CodeRange, "absolute zero"},
		{"-1 K", "°C", si.CodeRange, "absolute zero"},
		{"12 ± 1 V", "V", si.CodeUncertain, "plain value"},
		{"12\xff", "V", si.CodeNumber, "UTF-8"},
		{strings.Repeat("1", 300), "V", si.CodeNumber, "too long"},
	}
	for _, tt := range tests {
		v, err := si.Parse(tt.text, tt.unit)
		checkError(t, tt.text, tt.unit, v, err, tt.code, tt.says)
	}
}

func checkError(t *testing.T, text, unit string, v float64, err error, code, says string) {
	t.Helper()
	var e *si.Error
	if !errors.As(err, &e) {
		t.Errorf("%q as %q = %v, %v; want an error %s", text, unit, v, err, code)
		return
	}
	if !math.IsNaN(v) {
		t.Errorf("%q as %q: value %v beside an error, want NaN", text, unit, v)
	}
	if e.Code != code || !strings.Contains(e.Error(), says) {
		t.Errorf("%q as %q: %s: %q; want %s with %q", text, unit, e.Code, e, code, says)
	}
	if e.Sentence == "" || e.Hint == "" || strings.Contains(e.Error(), "\n") {
		t.Errorf("%q as %q: %q is not one line of what is wrong and what to write", text, unit, e)
	}
}

func TestParseValue(t *testing.T) {
	none := math.NaN()
	tests := []struct {
		text, unit string
		value, u   float64
		digits     string
	}{
		{"12.60 V", "V", 12.6, none, "12.60"},
		{"12,60", "V", 12.6, none, "12.60"},
		{"-0,480", "V", -0.48, none, "-0.480"},
		{".50", "V", 0.5, none, "0.50"},
		{"+7", "V", 7, none, "7"},
		{"1 230", "V", 1230, none, "1230"},
		{"1.20e3", "V", 1200, none, "1.20e3"},
		{"1.20E+03", "V", 1200, none, "1.20e03"},
		{"2k20", "Ω", 2200, none, "2.20"},
		{"R470", "Ω", 0.47, none, "0.470"},
		{"470 mV", "V", 0.47, none, "470"},
		{"12.34 ± 0.05 V", "V", 12.34, 0.05, "12.34"},
		{"12.34 +- 0.05 V", "V", 12.34, 0.05, "12.34"},
		{"12.34 +/- 0.05 V", "V", 12.34, 0.05, "12.34"},
		{"12.34±0.05", "V", 12.34, 0.05, "12.34"},
		{"12.34 V ± 50 mV", "V", 12.34, 0.05, "12.34"},
		{"470 ± 5 mV", "V", 0.47, 0.005, "470"},
		{"470 mV ± 5", "V", 0.47, 0.005, "470"},
		{"(12.34 ± 0.05) V", "V", 12.34, 0.05, "12.34"},
		{"12.34±0,4%", "V", 12.34, 0.004 * 12.34, "12.34"},
		{"-12.34 V ± 0,4 %", "V", -12.34, 0.004 * 12.34, "-12.34"},
		{"12.34 V ± 0", "V", 12.34, 0, "12.34"},
		{"2k2 ± 5 %", "Ω", 2200, 110, "2.2"},
		{"2k2 ± 0k1", "Ω", 2200, 100, "2.2"},
		{"5 % ± 1 %", "", 0.05, 0.01, "5"},
		{"(5 ± 1) %", "", 0.05, 0.01, "5"},
		{"5 ± 1 %", "%", 0.05, 0.01, "5"},
		{"0.8 ± 0.1", "", 0.8, 0.1, "0.8"},
		{"212 ± 9 °F", "°C", 100, 5, "212"}, // a difference has no offset
		{"20 °C ± 2 K", "°C", 20, 2, "20"},
		{"320 ± 4 mm^2", "m²", 320e-6, 4e-6, "320"},
	}
	for _, tt := range tests {
		v, u, digits, err := si.ParseValue(tt.text, tt.unit)
		same := u == tt.u || math.IsNaN(u) && math.IsNaN(tt.u) || math.Abs(u-tt.u) < 1e-15*tt.u*2 // one product
		if err != nil || v != tt.value || !same || digits != tt.digits {
			t.Errorf("ParseValue(%q, %q) = %v, %v, %q, %v; want %v, %v, %q", tt.text, tt.unit, v, u, digits, err, tt.value, tt.u, tt.digits)
		}
	}
}

func TestParseValueRefuses(t *testing.T) {
	tests := []struct{ text, unit, code, says string }{
		{"± 0.05 V", "V", si.CodeNumber, "before its ±"},
		{"12 ±", "V", si.CodeUncertain, "nothing after"},
		{"12 ± -1", "V", si.CodeUncertain, "sign"},
		{"12 ± +1", "V", si.CodeUncertain, "sign"},
		{"12 ± x", "V", si.CodeNumber, "no number"},
		{"12 ± 1 ± 1", "V", si.CodeUnit, "after the number"},
		{"12 V ± 1 A", "V", si.CodeUnit, "amperes"},
		{"12 ± 1 A", "V", si.CodeUnit, "amperes"},
		{"(12 ± 1 V", "V", si.CodeNumber, "bracket"},
		{"(12 V ± 1) V", "V", si.CodeUncertain, "brackets"},
		{"(12) V", "V", si.CodeNumber, "no number"},
		{"5 ± 1 %", "", si.CodeAmbiguous, "5 % ± 1 %"},
		{"2k2 ± 5", "Ω", si.CodeAmbiguous, "which unit"},
		{"20 °C ± 5 %", "°C", si.CodeUncertain, "temperature"},
		{"12 V ± 1e999", "V", si.CodeRange, "too large"},
		{"12 V AC ± 1 V DC", "V", si.CodeUncertain, "AC and DC"},
	}
	for _, tt := range tests {
		v, u, digits, err := si.ParseValue(tt.text, tt.unit)
		checkError(t, tt.text, tt.unit, v, err, tt.code, tt.says)
		if !math.IsNaN(u) || digits != "" {
			t.Errorf("ParseValue(%q, %q): u = %v, digits = %q beside an error", tt.text, tt.unit, u, digits)
		}
	}
}

func TestRead(t *testing.T) {
	tests := []struct {
		text, unit string
		step       float64
		mark       string
	}{
		{"12.60 V AC", "V", 0.01, "ac"},
		{"12.60", "V", 0.01, ""},
		{"470 mV", "V", 0.001, ""},
		{"470.0 mVdc", "V", 1e-4, "dc"},
		{"2k20", "Ω", 10, ""},
		{"12.6 ± 0.1 Vrms", "V", 0.1, "ac"},
		{"12.6 ± 0.1 V DC", "V", 0.1, "dc"},
		{"1.2e3 mA", "A", 0.1, ""},
		{"9 °F", "K", 5. / 9, ""},
	}
	for _, tt := range tests {
		r, err := si.Read(tt.text, tt.unit)
		if err != nil || r.Step != tt.step || r.Mark != tt.mark {
			t.Errorf("Read(%q, %q) = %+v, %v; want step %v and mark %q", tt.text, tt.unit, r, err, tt.step, tt.mark)
		}
	}
}

func TestResolution(t *testing.T) {
	for digits, want := range map[string]float64{
		"12.60": 0.01, "230": 1, "1.2e3": 100, "0": 1, "-0.480": 0.001, "5e-6": 1e-6, "12,6": 0.1,
		"": math.NaN(), "x": math.NaN(), "12 V": math.NaN(), "1.2.3": math.NaN(), "NaN": math.NaN(),
		"1e9999": math.NaN(), "1e-9999": math.NaN(), "2k2": math.NaN(), "\xff": math.NaN(),
	} {
		if got := si.Resolution(digits); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("Resolution(%q) = %v, want %v", digits, got, want)
		}
	}
}
