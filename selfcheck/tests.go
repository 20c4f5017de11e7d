package selfcheck

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/identify"
)

const (
	theraja  = "Theraja and Theraja, A Textbook of Electrical Technology, vol. 2, ch. 32, by a public companion"
	chapman  = "Chapman, Electric Machinery Fundamentals"
	memory   = ", from memory"
	practise = "common practice, no source"
	closed   = "closed form"
)

func shunt(v, i, w float64) identify.Shunt {
	s, ok := identify.OpenCircuit(v, i, w)
	if !ok {
		return identify.Shunt{CoreOhms: math.NaN(), MagOhms: math.NaN()}
	}
	return s
}

func leakage(v, i, w float64) identify.Series {
	s, ok := identify.ShortCircuit(v, i, w)
	if !ok {
		return identify.Series{Ohms: math.NaN(), Leakage: math.NaN()}
	}
	return s
}

// openAndShort is the open-circuit and the short-circuit test: from readings
// to the unit by package identify, and from the unit to readings by the network.
func openAndShort() []row {
	big := chapman + ", example 2-2, as reprinted in a public manual: 20 kVA, 8000/240 V; 8000 V 0.214 A 400 W, 489 V 2.5 A 240 W"
	mid := chapman + ", example 2-5" + memory + ": 15 kVA, 2300/230 V; 230 V 2.1 A 50 W, 47 V 6 A 160 W"
	one := chapman + ", older edition, problem 2-3: 1 kVA, 230/115 V; 230 V 0.45 A 30 W, 19.1 V 8.7 A 42.3 W"
	line := chapman + ", problem 2-2: 100 kVA, 14/2.4 kV behind 38.2 + j140 Ω, 0.10 + j0.4 Ω, 90 kW at 0.8 and 2300 V"
	// 15 kVA at 230 V; Z as seen from there.
	low := func() identify.Series { return leakage(47, 6, 160).Refer(230.0 / 2300) }
	onLow := func() identify.Series { return leakage(19.1, 8.7, 42.3).Refer(0.5) }
	// The line's impedance goes into the winding that it feeds.
	plant := []yokemate.Unit{textbook("T1", 60, coil{"P", 14000, 38.2 + 140i, 0}, coil{"A", 2400, 0.10 + 0.4i, 42})}
	fed := func() answer {
		return solve(plant, across(bench(2484.3*14/2.4, 60, plant, "L: T1.P1", "N: T1.P2", "A: T1.A1", "B: T1.A2"), "A", "B", current(90e3/0.8/2300, 0.8)))
	}
	// The units of the two short-circuit predictions, their secondary shorted.
	ten := []yokemate.Unit{textbook("T1", 50, coil{"P", 500, 0.2 + 0.4i, 0}, coil{"A", 250, 0.5 + 0.1i, 40})}
	thirty := []yokemate.Unit{textbook("T1", 50, coil{"P", 6000, 10 + 34i, 0}, coil{"A", 230, 0.016, 130})}
	shorted := func(u []yokemate.Unit, volts float64) (watts, amps float64) {
		return solve(u, bench(volts, 50, u, "L: T1.P1", "N: T1.P2", "A: T1.A1 T1.A2")).feed()
	}
	return []row{
		{"1.1 core ohms", "open-circuit test, core loss as a resistance", big, "kΩ", "160.0", 0, "", func() float64 { return shunt(8000, 0.214, 400).CoreOhms / 1e3 }},
		{"1.1 magnetising ohms", "open-circuit test, magnetising reactance", big, "kΩ", "38.45", 0, "", func() float64 { return shunt(8000, 0.214, 400).MagOhms / 1e3 }},
		{"1.1 resistance", "short-circuit test, resistance", big, "Ω", "38.4", 0, "", func() float64 { return leakage(489, 2.5, 240).Ohms }},
		{"1.1 leakage", "short-circuit test, reactance", big, "Ω", "191.79", 0, "", func() float64 { return leakage(489, 2.5, 240).Leakage }},
		{"1.2 resistance", "short-circuit test, resistance", mid, "Ω", "4.45", 0.001, "the source's own rounding", func() float64 { return leakage(47, 6, 160).Ohms }},
		{"1.2 leakage", "short-circuit test, reactance", mid, "Ω", "6.45", 0, "", func() float64 { return leakage(47, 6, 160).Leakage }},
		{"1.2 regulation 0.8 lag", "regulation at full load", mid, "%", "2.1", 0, "", func() float64 { return 100 * low().Regulation(230, 15e3/230, 0.8, false) }},
		{"1.2 regulation 1", "regulation at full load", mid, "%", "1.28", 0, "", func() float64 { return 100 * low().Regulation(230, 15e3/230, 1, false) }},
		{"1.2 regulation 0.8 lead", "regulation at full load", mid, "%", "-0.062", 0.005, "a small difference of large numbers", func() float64 { return 100 * low().Regulation(230, 15e3/230, 0.8, true) }},
		{"1.2 efficiency", "efficiency at full load, 0.8 lag", mid, "%", "98.03", 0, "", func() float64 {
			i := 15e3 / 230.0
			v := cmplx.Abs(low().Input(230, i, 0.8, false))
			return 100 * identify.Efficiency(12e3, v*v/shunt(230, 2.1, 50).CoreOhms, i*i*low().Ohms)
		}},
		{"1.4 core ohms", "open-circuit test, core loss as a resistance", one, "Ω", "1763", 0, "", func() float64 { return shunt(230, 0.45, 30).CoreOhms }},
		{"1.4 impedance", "short-circuit test, impedance", one, "Ω", "2.20", 0, "", func() float64 { return leakage(19.1, 8.7, 42.3).ZOhms() }},
		{"1.4 resistance", "short-circuit test, resistance", one, "Ω", "0.558", 0.0005, "the source's own rounding", func() float64 { return leakage(19.1, 8.7, 42.3).Ohms }},
		{"1.4 leakage", "short-circuit test, reactance", one, "Ω", "2.128", 0.005, "the source rounds the impedance to 2.20 Ω first", func() float64 { return leakage(19.1, 8.7, 42.3).Leakage }},
		{"1.4 regulation 0.8 lag", "regulation at full load", one, "%", "3.3", 0, "", func() float64 { return 100 * onLow().Regulation(115, 1e3/115.0, 0.8, false) }},
		{"1.4 regulation 1", "regulation at full load", one, "%", "1.1", 0, "", func() float64 { return 100 * onLow().Regulation(115, 1e3/115.0, 1, false) }},
		{"1.4 no-load volts 0.8 lag", "volts that hold 115 V at full load", one, "V", "118.8", 0, "", func() float64 { return cmplx.Abs(onLow().Input(115, 1e3/115.0, 0.8, false)) }},
		{"1.4 no-load volts 1", "volts that hold 115 V at full load", one, "V", "116.3", 0, "", func() float64 { return cmplx.Abs(onLow().Input(115, 1e3/115.0, 1, false)) }},
		{"1.5 load volts", "volts at the load when the source holds the printed 2484.3 V, by the network", line, "V", "2300", 0, "", func() float64 { return cmplx.Abs(fed().volts("A", "B")) }},
		{"1.5 source watts", "power from the source, by the network", line, "kW", "92.93", 0.001, "the source volts are printed to five digits", func() float64 { w, _ := fed().feed(); return w / 1e3 }},
		{"1.5 source angle", "angle of the source against the load's volts, by the network", line, "°", "3.2", 0, "", func() float64 {
			a := fed()
			return lag(a.volts("L", "N"), a.volts("A", "B"))
		}},
		{"1.6 impedance", "short-circuit test, impedance", theraja + ", 32.36, p. 1152: 15 V 10 A 85 W", "Ω", "1.5", 0, "", func() float64 { return leakage(15, 10, 85).ZOhms() }},
		{"1.6 load volts", "volts at 5 kW, 0.8 lag, of 400 V, linear drop", theraja + ", 32.36, p. 1152", "V", "377.788", 0, "", func() float64 {
			return 400 * (1 - leakage(15, 10, 85).Drop(400, 5e3/0.8/400, 0.8, false))
		}},
		{"1.7 short-circuit amps", "amps of a short-circuit test at the printed 46.8188 V, by the network", theraja + ", 32.38, p. 1153: 500/250 V, 0.2 + j0.4 Ω, 0.5 + j0.1 Ω", "A", "20.0000", 0, "", func() float64 { _, i := shorted(ten, 46.8188); return i }},
		{"1.7 short-circuit watts", "watts of the same test, by the network", theraja + ", 32.38, p. 1153", "W", "880.00", 0, "", func() float64 { w, _ := shorted(ten, 46.8188); return w }},
		{"1.9 regulation", "regulation of 20 kVA at 0.8 lag, linear drop", theraja + ", 32.45, p. 1159: 2200/220 V, 86 V 10.5 A 360 W", "%", "2.94178", 0, "", func() float64 {
			return 100 * leakage(86, 10.5, 360).Drop(2200, 20e3/2200.0, 0.8, false)
		}},
		{"1.9 short-circuit power factor", "R over Z", theraja + ", 32.45, p. 1159", "", "0.4", 0, "", func() float64 { s := leakage(86, 10.5, 360); return s.Ohms / s.ZOhms() }},
		{"1.11 short-circuit amps", "amps of a short-circuit test at the printed 199.52 V: full load of 30 kVA at 6 kV, by the network", theraja + ", 32.35, p. 1151: r₁ 10 Ω, r₂ 0.016 Ω, x₀₁ 34 Ω", "A", "5.0000", 0, "", func() float64 { _, i := shorted(thirty, 199.52); return i }},
		{"1.11 short-circuit power factor", "watts over volt-amperes of the same test, by the network", theraja + ", 32.35, p. 1151", "", "0.52347", 0, "", func() float64 { w, i := shorted(thirty, 199.52); return w / (199.52 * i) }},
		{"1.12 resistance", "both windings seen from the secondary", theraja + ", 32.43, p. 1158: 400/80 turns, 0.3 and 0.01 Ω", "Ω", "0.022", 0, "", func() float64 { return 0.01 + identify.Series{Ohms: 0.3, Leakage: 1.1}.Refer(0.2).Ohms }},
		{"1.12 leakage", "both windings seen from the secondary", theraja + ", 32.43, p. 1158: 1.1 and 0.035 Ω", "Ω", "0.079", 0, "", func() float64 { return 0.035 + identify.Series{Ohms: 0.3, Leakage: 1.1}.Refer(0.2).Leakage }},
		{"1.12 regulation 0.8 lead", "regulation of 100 kVA at 440 V, linear drop", theraja + ", 32.43, p. 1158", "%", "-1.53926", 0, "", func() float64 {
			return 100 * identify.Series{Ohms: 0.022, Leakage: 0.079}.Drop(440, 100e3/440.0, 0.8, true)
		}},
		{"1.13 short-circuit power factor", "watts over volt-amperes at rated current", "Handbook of Electric Power Calculations, 3rd ed., sect. 4: 5 kVA 2300/220 V, 66 V, 90 W", "", "0.628", 0.0005, "the source rounds the current to 2.17 A", func() float64 {
			s := leakage(66, 5e3/2300.0, 90)
			return s.Ohms / s.ZOhms()
		}},
		{"1.13 short-circuit angle", "angle of the short-circuit current", "Handbook of Electric Power Calculations, 3rd ed., sect. 4", "°", "51.1", 0.05, "the source rounds the power factor to 0.628 first", func() float64 {
			s := leakage(66, 5e3/2300.0, 90)
			return math.Atan2(s.Leakage, s.Ohms) * 180 / math.Pi
		}},
		{"1.16 impedance", "short-circuit test, impedance", fitzgerald, "Ω", "2.31", 0, "", func() float64 { return leakage(48, 20.8, 617).ZOhms() }},
		{"1.16 resistance", "short-circuit test, resistance", fitzgerald, "Ω", "1.42", 0.005, "the source's own rounding", func() float64 { return leakage(48, 20.8, 617).Ohms }},
		{"1.16 leakage", "short-circuit test, reactance", fitzgerald, "Ω", "1.82", 0.005, "the source's own rounding", func() float64 { return leakage(48, 20.8, 617).Leakage }},
		{"1.16 regulation", "regulation of 50 kVA at 0.8 lag", fitzgerald, "%", "1.94", 0, "", func() float64 { return 100 * leakage(48, 20.8, 617).Regulation(2400, 50e3/2400.0, 0.8, false) }},
		{"1.16 efficiency", "efficiency of 50 kVA at 0.8 lag", fitzgerald, "%", "98.0", 0, "", func() float64 { return 100 * identify.Efficiency(40e3, 186, 617) }},
	}
}

const fitzgerald = "Fitzgerald, Kingsley and Umans, Electric Machinery, 6th ed., example 2.6" + memory + ": 50 kVA 2400/240 V, 48 V 20.8 A 617 W, 186 W idle"
