package si_test

import (
	"fmt"

	"yokemate/si"
)

func ExampleParse() {
	for _, text := range []string{"470 mV", "0,5 V", "12 A"} {
		v, err := si.Parse(text, "V")
		fmt.Println(v, err)
	}
	r, err := si.Parse("2k2", "Ω")
	fmt.Println(r, err)
	// Output:
	// 0.47 <nil>
	// 0.5 <nil>
	// NaN "12 A" is in the unit "A" (amperes) where volts should be: write it like 12.6 V or 470 mV
	// 2200 <nil>
}

func ExampleParseValue() {
	v, u, digits, err := si.ParseValue("12,60 V ± 50 mV", "V")
	fmt.Println(v, u, digits, si.Resolution(digits), err)
	// Output: 12.6 0.05 12.60 0.01 <nil>
}

func ExampleFormat() {
	fmt.Println(si.Format(0.00123, "A", 3))
	fmt.Println(si.Format(2200, "Ω", 3))
	fmt.Println(si.Locale{Decimal: ","}.Format(12.6, "V", 4))
	// Output:
	// 1.23 mA
	// 2.20 kΩ
	// 12,60 V
}

func ExampleFormatU() {
	fmt.Println(si.FormatU(12.34, 0.051, "V"))
	// Output: 12.340 ± 0.051 V
}

func ExampleFormatInterval() {
	fmt.Println(si.FormatInterval(0.05, 0.12, "V"))
	// Output: 50 to 120 mV
}

func ExamplePreferred() {
	fmt.Println(si.Preferred(4800, "E12", false), si.Preferred(4800, "E12", true))
	// Output: 4700 5600
}
