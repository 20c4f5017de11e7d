package si_test

import (
	"math"
	"testing"

	"yokemate/si"
)

// Expected texts follow from the rounding rule and the prefixes by hand.
func TestFormat(t *testing.T) {
	tests := []struct {
		v    float64
		unit string
		sig  int
		want string
	}{
		{0.00123, "A", 3, "1.23 mA"},
		{12.34, "V", 4, "12.34 V"},
		{2200, "Ω", 3, "2.20 kΩ"},
		{12.6, "V", 4, "12.60 V"},
		{-0.48, "V", 2, "-480 mV"},
		{0.9996, "V", 4, "999.6 mV"},
		{0.99996, "V", 4, "1.000 V"}, // carries into the next prefix
		{999.96, "Ω", 4, "1.000 kΩ"},
		{999.5, "Ω", 3, "1.00 kΩ"}, // a half that is exact rounds to even digits
		{234, "V", 2, "230 V"},
		{0, "V", 3, "0 V"},
		{math.Copysign(0, -1), "V", 3, "0 V"},
		{0, "", 3, "0"},
		{0, "m", 3, "0 m"},
		{0, "%", 3, "0 %"},
		{math.NaN(), "V", 3, "–"},
		{math.Inf(1), "Ω", 3, "∞ Ω"},
		{math.Inf(-1), "V", 3, "-∞ V"},
		{50, "Hz", 3, "50.0 Hz"},
		{0.5, "Hz", 2, "0.50 Hz"},
		{1500, "Hz", 3, "1.50 kHz"},
		{20, "°C", 3, "20.0 °C"},
		{0.02, "°C", 1, "0.02 °C"},
		{0.24, "kg", 2, "0.24 kg"},
		{0.8, "", 3, "0.800"},
		{12345, "", 3, "12300"},
		{0.054, "%", 2, "5.4 %"},
		{120, "°", 3, "120°"},
		{0.8, "W", 2, "800 mW"},
		{1250, "VA", 3, "1.25 kVA"},
		{3.2e6, "VA", 2, "3200 kVA"},
		{4.7e-6, "F", 2, "4.7 µF"},
		{0.0047, "F", 2, "4.7 mF"},
		{4e-4, "H", 2, "400 µH"},
		{200e6, "Ω", 3, "200 MΩ"},
		{3600, "s", 4, "3600 s"},
		{0.02, "s", 2, "20 ms"},
		{0.016, "m", 3, "16.0 mm"},
		{0.0001, "m", 3, "0.100 mm"},
		{5e-6, "m", 2, "5.0 µm"},
		{1.256e-7, "m²", 4, "0.1256 mm²"},
		{3.2e-4, "m²", 3, "3.20 cm²"},
		{1.5, "m²", 2, "1.5 m²"},
		{1e-15, "A", 3, "1.00e-15 A"},
		{1e20, "Ω", 1, "1e20 Ω"},
		{1.3, "T", 2, "1.3 T"},
		{12.34, "V", 0, "10 V"},
		{1. / 3, "", 99, "0.33333333333333331"}, // 17 digits tell every float64 apart
	}
	for _, tt := range tests {
		if got := si.Format(tt.v, tt.unit, tt.sig); got != tt.want {
			t.Errorf("Format(%v, %q, %d) = %q, want %q", tt.v, tt.unit, tt.sig, got, tt.want)
		}
	}
}

func TestFormatU(t *testing.T) {
	nan := math.NaN()
	tests := []struct {
		v, u float64
		unit string
		want string
	}{
		{12.34, 0.051, "V", "12.340 ± 0.051 V"},
		{0.47, 0.005, "V", "470.0 ± 5.0 mV"},
		{1234, 150, "V", "1.23 ± 0.15 kV"},
		{234, 15, "V", "234 ± 15 V"},
		{234, 150, "V", "230 ± 150 V"},
		{999.99, 1.2, "V", "1.0000 ± 0.0012 kV"}, // the value carries
		{9.96, 0.96, "V", "9.96 ± 0.96 V"},
		{1, 0.0996, "V", "1.00 ± 0.10 V"}, // u carries
		{0, 0.05, "V", "0 ± 50 mV"},
		{-1e-6, 0.05, "V", "0 ± 50 mV"}, // no minus before a rounded zero
		{0.0002, 0.0015, "V", "0.2 ± 1.5 mV"},
		{0.07, 0.1, "V", "70 ± 100 mV"},
		{-12.34, 0.051, "V", "-12.340 ± 0.051 V"},
		{20, 2, "°C", "20.0 ± 2.0 °C"},
		{0.05, 0.01, "%", "5.0 ± 1.0 %"},
		{120, 1, "°", "120.0 ± 1.0°"},
		{12.34, nan, "V", "12.34 V"},
		{12.34, 0, "V", "12.34 V"},
		{12.34, -1, "V", "12.34 V"},
		{nan, 1, "V", "–"},
		{math.Inf(1), 1, "Ω", "∞ Ω"},
		{1, math.Inf(1), "V", "1.000 V ± ∞ V"},
		{1.2e-15, 5.1e-17, "A", "1.200e-15 ± 0.051e-15 A"},
		{12.5, 1e-20, "V", "12.500000000000000 V ± 1.0e-20 V"},
	}
	for _, tt := range tests {
		if got := si.FormatU(tt.v, tt.u, tt.unit); got != tt.want {
			t.Errorf("FormatU(%v, %v, %q) = %q, want %q", tt.v, tt.u, tt.unit, got, tt.want)
		}
	}
}

func TestFormatInterval(t *testing.T) {
	tests := []struct {
		low, high float64
		unit      string
		want      string
	}{
		{0.05, 0.12, "V", "50 to 120 mV"},
		{0, 0.12, "V", "0 to 120 mV"},
		{0, 12, "V", "0 to 12.0 V"},
		{0.0004, 12.34, "V", "0.0 to 12.3 V"},
		{11.9, 14.78, "V", "11.9 to 14.8 V"},
		{207, 253, "V", "207 to 253 V"},
		{900, 1234, "Ω", "0.90 to 1.23 kΩ"},
		{12.31, 12.33, "V", "12.31 to 12.33 V"}, // three digits would show no width
		{9.9, 9.996, "V", "9.9 to 10.0 V"},
		{-0.5, 0.5, "V", "-500 to 500 mV"},
		{-1e-9, 12, "V", "0.0 to 12.0 V"},
		{12.3, 12.3, "V", "12.3 V"},
		{0, 0, "V", "0 V"},
		{1e6, math.Inf(1), "Ω", "1.00 to ∞ MΩ"},
		{0, math.Inf(1), "Ω", "0 to ∞ Ω"},
		{math.Inf(-1), math.Inf(1), "V", "-∞ to ∞ V"},
		{math.NaN(), 1, "V", "–"},
		{1, math.NaN(), "V", "–"},
	}
	for _, tt := range tests {
		if got := si.FormatInterval(tt.low, tt.high, tt.unit); got != tt.want {
			t.Errorf("FormatInterval(%v, %v, %q) = %q, want %q", tt.low, tt.high, tt.unit, got, tt.want)
		}
	}
}

func TestLocale(t *testing.T) {
	l := si.Locale{Decimal: ",", To: "bis"}
	for _, tt := range []struct{ got, want string }{
		{l.Format(0.00123, "A", 3), "1,23 mA"},
		{l.Format(1.2e-15, "A", 2), "1,2e-15 A"},
		{l.FormatU(12.34, 0.051, "V"), "12,340 ± 0,051 V"},
		{l.FormatInterval(11.9, 14.78, "V"), "11,9 bis 14,8 V"},
		{l.FormatInterval(0, math.Inf(1), "V"), "0 bis ∞ V"},
	} {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}

func TestRound(t *testing.T) {
	tests := []struct {
		v    float64
		sig  int
		want float64
	}{
		{12.345, 3, 12.3}, {-0.0996, 2, -0.1}, {1234, 2, 1200}, {0, 3, 0}, {5, 0, 5}, {math.Inf(1), 3, math.Inf(1)},
		{math.MaxFloat64, 1, math.MaxFloat64}, // 2e308 is out of range
	}
	for _, tt := range tests {
		if got := si.Round(tt.v, tt.sig); got != tt.want {
			t.Errorf("Round(%v, %d) = %v, want %v", tt.v, tt.sig, got, tt.want)
		}
	}
	if !math.IsNaN(si.Round(math.NaN(), 3)) {
		t.Error("Round of NaN is not NaN")
	}
}
