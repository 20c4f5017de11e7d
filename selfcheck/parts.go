package selfcheck

import (
	"fmt"
	"math"
	"strconv"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/wire"
	"yokemate/si"
)

const inch = 25.4e-3 // [m]

// wires is the gauge table of HyperPhysics, after Floyd.
func wires() []row {
	source := "HyperPhysics, table of American wire gauges, after Floyd, Electric Circuit Fundamentals, 2nd ed."
	list := []row{}
	for _, g := range []struct {
		awg    float64
		inches string
		ohms   string // of 1000 ft at 20 °C
	}{
		{10, "0.10189", "0.9989"}, {12, "0.0808", "1.588"}, {14, "0.06408", "2.525"}, {16, "0.05082", "4.016"},
		{18, "0.0403", "6.385"}, {20, "0.03196", "10.15"}, {22, "0.02535", "16.14"}, {24, "0.0201", "25.67"},
		{26, "0.01594", "40.81"}, {28, "0.01264", "64.90"}, {30, "0.01002", "103.2"}, {32, "0.00795", "164.1"},
		{34, "0.0063", "260.9"}, {36, "0.005", "414.8"}, {38, "0.00396", "659.6"}, {40, "0.00314", "1049"},
	} {
		id := fmt.Sprintf("7 AWG %g", g.awg)
		list = append(list,
			row{id + " ohms", "1000 ft of copper at 20 °C", source, "Ω", g.ohms, 0.0003 * wire.OhmsPerMetre(wire.Diameter(g.awg), 20) * 1000 * 12 * inch, "0.03 %: the table's own rounding of its diameters", func() float64 {
				return wire.OhmsPerMetre(wire.Diameter(g.awg), 20) * 1000 * 12 * inch
			}},
			row{id + " diameter", "bare copper", source, "in", g.inches, si.Resolution(g.inches) / 2, "the table cuts off some last digits", func() float64 { return wire.Diameter(g.awg) / inch }},
		)
	}
	return append(list,
		row{"7 three gauges", "ohms of a wire over those of one three gauges thicker", practise, "", "2.0", 0, "", func() float64 {
			return wire.OhmsPerMetre(wire.Diameter(23), 20) / wire.OhmsPerMetre(wire.Diameter(20), 20)
		}},
		row{"7 circular mils", "current of a wire of 700 circular mils", practise, "A", "1.00", 0, "", func() float64 { return wire.Amps(math.Sqrt(700) * inch / 1000).Best }},
	)
}

// iron is flux, turns, loss and the sharing of a rating.
func iron() []row {
	p33 := theraja + ", 32.33, p. 1150: hysteresis 3000 W, eddy currents 1000 W, exponent 1.6"
	loss := core.LossParts{Hysteresis: 3000, Eddy: 1000, Power: 1.6}
	// The source prints the first three with 4.44 in place of √2 π, 0.065 % less;
	// they are turned over to that.
	list := []row{
		{"9.1 flux density", "400 turns, 520 V, 60 cm², 50 Hz", theraja + ", 32.3", "T", "0.975976", 0, "", func() float64 { return core.FluxDensity(520, 50, 400, 60e-4) * core.FormFactor / 4.44 }},
		{"9.3 flux", "3000 V on 500 turns, 50 Hz: peak flux", theraja + ", 32.4", "mWb", "27.027", 0, "", func() float64 { return 1e3 * core.FluxDensity(3000, 50, 500, 1) * core.FormFactor / 4.44 }},
		{"9.4 iron", "6600 V at 8 V a turn, 1.3 T, 50 Hz", theraja + ", 32.89, p. 1188", "cm²", "277.20", 0, "", func() float64 { return 1e4 * core.Area(6600, 50, 825, 1.3) * core.FormFactor / 4.44 }},
		{"9.5 iron", "250 V at 8 V a turn, 1.2 T, 50 Hz", theraja + ", 32.1", "m²", "0.03", 0, "", func() float64 { return core.Area(250, 50, 31.25, 1.2) }},
		{"9.9 test loop", "turns per volt of a loop of 10 turns that reads 2 V", closed, "1/V", "5", 0, "", func() float64 { return core.TurnsPerVolt(10, 2) }},
		{"14.1 hysteresis", "volts 10 % up", p33, "W", "3494.21", 0, "", func() float64 { return loss.Scale(1.1, 1).Hysteresis }},
		{"14.1 eddy", "volts 10 % up", p33, "W", "1210", 0, "", func() float64 { return loss.Scale(1.1, 1).Eddy }},
		{"14.2 hysteresis", "frequency 10 % down", p33, "W", "3195.77", 0, "", func() float64 { return loss.Scale(1, 0.9).Hysteresis }},
		{"14.3 hysteresis", "volts and frequency 10 % up", p33, "W", "3300", 0, "", func() float64 { return loss.Scale(1.1, 1.1).Hysteresis }},
		{"14.3 eddy", "volts and frequency 10 % up", p33, "W", "1210", 0, "", func() float64 { return loss.Scale(1.1, 1.1).Eddy }},
	}
	volts := []float64{13.5, 10, 12, 11.5, 3.5, 21.5}
	ohms := []float64{1.3, 1.5, 1.9, 2.3, 2.5, 11.1}
	for i, amps := range []string{"0.53", "0.34", "0.33", "0.26", "0.07", "0.10"} {
		list = append(list, row{fmt.Sprintf("9.17 winding %d", i+1), fmt.Sprintf("share of %g V, %g Ω in 20 VA over six windings, by V²/R", volts[i], ohms[i]), practise, "A", amps, 0.005, "the last digit is cut off",
			func() float64 { return core.Split(20, volts, ohms)[i] }})
	}
	return append(list, curves()...)
}

// curves leaves out one point after another of measured curves of 0.5 mm
// lamination, and asks for it from the others. From the bend upwards they lie
// near enough to tell it.
func curves() []row {
	const mu0 = 4e-7 * math.Pi // vacuum [H/m]
	list := []row{}
	add := func(grade string, from float64, field, polarisation []float64) {
		for i := 1; i < len(field)-1; i++ {
			if field[i] < from {
				continue
			}
			var others []core.Point
			for k := range field {
				if k != i {
					others = append(others, core.Point{Drive: field[k], Follow: polarisation[k] + mu0*field[k]})
				}
			}
			b := polarisation[i] + mu0*field[i]
			list = append(list, row{fmt.Sprintf("14.4 %s, %.0f A/m", grade, field[i]), "flux density at a point left out of the measured curve",
				"public measured data of " + grade + " lamination, 0.5 mm, 50 Hz", "T", strconv.FormatFloat(b, 'f', 4, 64), 0.01 * b, "1 % for what lies between points",
				func() float64 {
					c, err := core.Through(others)
					if err != nil {
						return math.NaN()
					}
					return c.At(field[i])
				}})
		}
	}
	add("M350-50A", 125, []float64{30.00, 60.23, 80.08, 100.03, 125.16, 150.23, 200.53, 249.96, 348.98, 501.92, 998.80, 2507.34, 4984.23, 9957.33, 19982.85, 32904.77},
		[]float64{0.08334, 0.43068, 0.73339, 0.94065, 1.08398, 1.16658, 1.25716, 1.30567, 1.35915, 1.40194, 1.46708, 1.55527, 1.64097, 1.75864, 1.90238, 1.97732})
	add("M400-50A", 125, []float64{30.00, 60.00, 79.95, 100.02, 125.04, 150.75, 200.15, 249.42, 349.80, 500.20, 1000.16, 2498.48, 4994.23, 9982.33, 19660.14, 32584.33},
		[]float64{0.05212, 0.25006, 0.53434, 0.81912, 1.03212, 1.15089, 1.26636, 1.32261, 1.38007, 1.42283, 1.48822, 1.57443, 1.65894, 1.77386, 1.90918, 1.98429})
	return list
}

// preferred is series of preferred numbers. The members of E24 that are here
// are those that are not the rounded powers of ten.
func preferred() []row {
	source := "IEC 60063, as tabulated by G4USP"
	list := []row{}
	member := func(series string, i int, printed, source string) {
		scale := 10.0
		if series == "E48" || series == "E96" {
			scale = 100
		} else if series[0] == 'R' {
			scale = 1
		}
		list = append(list, row{fmt.Sprintf("12 %s %d", series, i+1), fmt.Sprintf("member %d of %s", i+1, series), source, "", printed, 0, "", func() float64 {
			s := si.Series(series)
			if i >= len(s) {
				return math.NaN()
			}
			return s[i] * scale
		}})
	}
	for i, m := range []string{10: "27", 11: "30", 12: "33", 13: "36", 14: "39", 15: "43", 16: "47", 22: "82"} {
		if m != "" {
			member("E24", i, m, source)
		}
	}
	member("E6", 5, "68", source)
	member("E12", 5, "27", source)
	member("E48", 5, "127", source)
	member("E96", 6, "115", source)
	member("R10", 5, "3.15", "ISO 3"+memory+", and fuse ratings as printed")
	return list
}

// meters is the uncertainty of a reading.
func meters() []row {
	gum := "JCGM 100:2008, 4.3.7" + memory + ": 14e-6 of the reading and 2e-6 of the range, 0.928571 V on 1 V"
	accuracy := func() yokemate.Accuracy {
		m := yokemate.Meter{Name: "voltmeter", Ranges: []yokemate.Range{{Quantity: yokemate.VoltsDC, Max: 1, Resolution: 1e-6, Percent: 14e-4, Counts: 2}}}
		a, _ := m.On(yokemate.VoltsDC, 0.928571)
		return a
	}
	ea := "EA-4/02, example S9" + memory + ": a hand meter with 0.1 V steps at 100 V"
	hand := func() yokemate.Accuracy {
		m := yokemate.Meter{Name: "hand", Ranges: []yokemate.Range{{Quantity: yokemate.VoltsDC, Max: 200, Resolution: 0.1, Percent: 0.011, Counts: 0.5}}}
		a, _ := m.On(yokemate.VoltsDC, 100)
		return a
	}
	return []row{
		{"15.1 bound", "both parts of the bound together", gum, "µV", "15", 0, "", func() float64 { a := accuracy(); return (a.Gain*0.928571 + a.Fixed) * math.Sqrt(3) * 1e6 }},
		{"15.1 standard uncertainty", "of one rectangle that has that bound", gum, "µV", "8.7", 0, "", func() float64 { a := accuracy(); return (a.Gain*0.928571 + a.Fixed) * 1e6 }},
		{"15.2 standard uncertainty", "steps of 0.1 V and 0.011 V of the calibrator", ea, "V", "0.030", 0, "", func() float64 { return hand().U(100) }},
	}
}
