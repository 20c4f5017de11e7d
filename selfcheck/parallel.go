package selfcheck

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/match"
	"yokemate/phys/network"
)

// sec is a secondary of a unit of its own.
type sec struct {
	volts float64
	z     complex128 // [Ω]
	amps  float64
}

// side is the primary of every unit of these examples: what they leave out.
const side = 10e3

func twoUnits(a, b sec) []yokemate.Unit {
	return []yokemate.Unit{
		textbook("T1", 50, coil{"P", side, 0, 0}, coil{"A", a.volts, a.z, a.amps}),
		textbook("T2", 50, coil{"P", side, 0, 0}, coil{"A", b.volts, b.z, b.amps}),
	}
}

// shared is two units in parallel on a load.
func shared(a, b sec, l yokemate.Load) answer {
	u := twoUnits(a, b)
	return solve(u, across(bench(side, 50, u, "L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "A: T1.A1 T2.A1", "B: T1.A2 T2.A2"), "A", "B", l))
}

// weighed is the pair as package match weighs it.
func weighed(units []yokemate.Unit, opt match.Options) yokemate.Pair {
	m, err := match.Match(network.Compile(shelfOf(units)), []string{"T1/A", "T2/A"}, opt)
	if err != nil || len(m.Pairs) != 1 {
		nan := math.NaN()
		return yokemate.Pair{GapVolts: nan, CirculatingAmps: nan, CirculatingPart: nan, MaxAmps: nan, Share: [2]float64{nan, nan}}
	}
	return m.Pairs[0]
}

// perCent is an impedance from its per cent at a rating [VA] and volts.
func perCent(z complex128, va, volts float64) complex128 {
	return z / 100 * complex(volts*volts/va, 0)
}

// parallel is units side by side: shares of a load and circulating currents.
func parallel() []row {
	var list []row
	// Equal no-load volts. All examples have load and units at one voltage and
	// give impedances in per cent or ohms, so that the volts are free: 400 V.
	const v = 400.0
	type want struct {
		kva, degrees string // of one unit; empty where not printed
		kw           string
		slack        float64
		why          string
	}
	share := func(id, example string, za, zb complex128, kva, pf float64, a, b want) {
		source := theraja + ", " + example
		// The load is what drops a twentieth of the volts: its size changes no
		// share, and beside it the windings' capacitance carries nothing.
		load := 0.05 * v / cmplx.Abs(za*zb/(za+zb))
		at := func() answer { return shared(sec{v, za, 1}, sec{v, zb, 1}, current(load, pf)) }
		for i, w := range []want{a, b} {
			winding, name := []string{"T1/A", "T2/A"}[i], "AB"[i:i+1]
			if w.kva != "" {
				list = append(list, row{id + " kVA of " + name, "load carried", source, "kVA", w.kva, w.slack, w.why, func() float64 { return kva / load * cmplx.Abs(at().amps(winding)) }})
			}
			if w.degrees != "" {
				list = append(list, row{id + " angle of " + name, "its current behind the volts", source, "°", w.degrees, w.slack, w.why, func() float64 {
					x := at()
					return lag(x.volts("A", "B"), -x.amps(winding))
				}})
			}
			if w.kw != "" {
				list = append(list, row{id + " kW of " + name, "load carried", source, "kW", w.kw, w.slack, w.why, func() float64 {
					x := at()
					u := x.volts("A", "B")
					return kva / load * real(-x.amps(winding)*cmplx.Conj(u)) / cmplx.Abs(u)
				}})
			}
		}
	}
	share("2.1", "32.98, p. 1197", perCent(1+6i, 500e3, v), perCent(1.2+4.8i, 500e3, v), 500, 0.8, want{kva: "224.452", degrees: "39.392"}, want{kva: "275.942", degrees: "34.818"})
	share("2.2", "32.99, p. 1197", perCent(0.5+8i, 100e3, v), perCent(0.75+4i, 100e3, v), 200, 0.9, want{kw: "58.1196"}, want{kw: "121.8804"})
	share("2.3", "32.100, p. 1197", 1+5i, 2+6i, 200/0.85, 0.85, want{kva: "130.533", slack: 0.016, why: "the source rounds sin φ to 0.527"}, want{kva: "105.239", slack: 0.016, why: "the source rounds sin φ to 0.527"})
	share("2.4", "32.101, p. 1198", perCent(0.9+10i, 100e3, v), perCent(1+5i, 50e3, v), 125, 0.8, want{kva: "63.0781", degrees: "39.929"}, want{kva: "62.1032", degrees: "33.762"})
	share("2.5", "32.102, p. 1199", perCent(1+5i, 500e3, v), perCent(1.5+4i, 250e3, v), 750, 0.8, want{kva: "471.126", degrees: "40.323"}, want{kva: "281.166", degrees: "31.077"})
	share("2.7", "32.104, p. 1200", perCent(1+5i, 100e3, v), perCent(2+2i, 250e3, v), 300, 0.8, want{kva: "55.8896", degrees: "64.628"}, want{kva: "251.891", degrees: "30.938"})

	kilo := func() answer { return shared(sec{3300, 2 + 3i, 1}, sec{3300, 2.5 + 5i, 1}, current(1000, 0.8)) }
	along := func(x answer, winding string) complex128 {
		u := x.volts("A", "B")
		return -x.amps(winding) * cmplx.Conj(u) / complex(cmplx.Abs(u), 0)
	}
	p103 := theraja + ", 32.103, p. 1199: 2 + j3 Ω, 2.5 + j5 Ω, 1000 A at 0.8 lag"
	micro := "capacitance that the source leaves out"
	list = append(list,
		row{"2.6 A, in phase", "current in phase with the volts", p103, "A", "504.451", 0.001, micro, func() float64 { return real(along(kilo(), "T1/A")) }},
		row{"2.6 A, across", "current across the volts", p103, "A", "-341.246", 0.001, micro, func() float64 { return imag(along(kilo(), "T1/A")) }},
		row{"2.6 B, in phase", "current in phase with the volts", p103, "A", "295.549", 0.001, micro, func() float64 { return real(along(kilo(), "T2/A")) }},
		row{"2.6 B, across", "current across the volts", p103, "A", "-258.754", 0.001, micro, func() float64 { return imag(along(kilo(), "T2/A")) }},
		row{"2.6 ratio", "kW of A over kW of B", p103, "", "1.70683", 0, "", func() float64 { x := kilo(); return real(along(x, "T1/A")) / real(along(x, "T2/A")) }},
		row{"2.9", "load of B when A is at its own, equal ratings", theraja + ", 32.97, p. 1197: 0.005 + j0.05 and 0.01 + j0.04 per unit", "", "1.21873", 0, "", func() float64 {
			p := weighed(twoUnits(sec{v, perCent(0.5+5i, v, v), 1}, sec{v, perCent(1+4i, v, v), 1}), match.Options{PowerFactor: 0.8})
			return p.Share[1] / p.Share[0]
		}},
	)

	// Unequal no-load volts.
	p106 := theraja + ", 32.106, p. 1203: 6600 V 0.3 + j3 Ω, 6400 V 0.2 + j1 Ω, load 8 + j6 Ω"
	high := func() answer {
		return shared(sec{6600, 0.3 + 3i, 300}, sec{6400, 0.2 + 1i, 300}, impedance(8+6i, 50))
	}
	a109 := sec{405, perCent(1+5i, 500e3, 400), 1250}
	b109 := sec{415, perCent(1.5+4i, 250e3, 400), 625}
	p109 := theraja + ", 32.109, p. 1204: 500 kVA 405 V 1 + j5 %, 250 kVA 415 V 1.5 + j4 %, 750 kVA at 0.8 lag and 400 V"
	load109 := func() answer {
		return shared(a109, b109, impedance(cmplx.Rect(400*400/750e3, math.Acos(0.8)), 50))
	}
	va := func(x answer, winding string) float64 { return 400 * cmplx.Abs(x.amps(winding)) / 1e3 }
	behind := func(x answer, winding string) float64 {
		return math.Cos(lag(x.volts("L", "N"), -x.amps(winding)) * math.Pi / 180)
	}
	a111, b111 := sec{245, (0.02 + 0.05i) * 245 / 200, 200}, sec{240, (0.025 + 0.06i) * 240 / 600, 600}
	list = append(list,
		row{"2.11 amps of A", "current into the load", p106, "A", "195.492", 0.0005, micro, func() float64 { return cmplx.Abs(high().amps("T1/A")) }},
		row{"2.11 amps of B", "current into the load", p106, "A", "422.568", 0.0005, micro, func() float64 { return cmplx.Abs(high().amps("T2/A")) }},
		row{"2.14 circulating", "circulating current with no load, as match has it", p109, "A", "229.755", 0, "", func() float64 { return weighed(twoUnits(a109, b109), match.Options{}).CirculatingAmps }},
		row{"2.14 kVA of A", "load carried, at 400 V", p109, "kVA", "387.845", 0, "", func() float64 { return va(load109(), "T1/A") }},
		row{"2.14 kVA of B", "load carried, at 400 V", p109, "kVA", "351.964", 0, "", func() float64 { return va(load109(), "T2/A") }},
		row{"2.14 power factor of A", "cosine of its angle behind the no-load volts", p109, "", "0.82005", 0, "", func() float64 { return behind(load109(), "T1/A") }},
		row{"2.14 power factor of B", "cosine of its angle behind the no-load volts", p109, "", "0.73871", 0, "", func() float64 { return behind(load109(), "T2/A") }},
		row{"2.16 load volts", "volts at a load of 0.25 + j0.1 Ω", theraja + ", 32.111, p. 1206: 200 A 245 V 0.02 + j0.05, 600 A 240 V 0.025 + j0.06 per unit", "V", "230", 0, "", func() float64 {
			return cmplx.Abs(shared(a111, b111, impedance(0.25+0.1i, 50)).volts("A", "B"))
		}},
	)
	return list
}
