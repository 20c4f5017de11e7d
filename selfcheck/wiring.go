package selfcheck

import (
	"math"
	"math/cmplx"

	"yokemate"
)

// polarity is the tests that tell like ends, as a voltmeter shows them.
func polarity() []row {
	bccampus := "jumper test of a textbook on single-phase transformers (BCcampus) and of Transformers: Basics, Maintenance, and Diagnostics, US Bureau of Reclamation, fig. 14: a 2300/230 V unit with 120 V on its high side"
	jumper := func(turned bool) float64 {
		u := []yokemate.Unit{textbook("T1", 60, coil{"H", 2300, 5, 0}, coil{"X", 230, 0.05, 10})}
		joints := []string{"L: T1.H1 T1.X1", "N: T1.H2", "F: T1.X2"}
		if turned {
			joints = []string{"L: T1.H1 T1.X2", "N: T1.H2", "F: T1.X1"}
		}
		return cmplx.Abs(solve(u, bench(120, 60, u, joints...)).volts("F", "N"))
	}
	// One secondary's start end, or its other one, on the mains winding's.
	dot := func(mains, ws, xs float64, tied string) float64 {
		u := []yokemate.Unit{textbook("T1", 50, coil{"W", ws, 5, 0}, coil{"X", xs, 0.05, 1})}
		free := "X2"
		if tied == "X2" {
			free = "X1"
		}
		return cmplx.Abs(solve(u, bench(mains, 50, u, "L: T1.W1 T1."+tied, "N: T1.W2", "F: T1."+free)).volts("F", "N"))
	}
	gap := func(reversed bool, degrees float64) float64 {
		u := []yokemate.Unit{
			textbook("T1", 50, coil{"P", 230, 20, 0}, coil{"A", 12.00, 0.5, 1}),
			textbook("T2", 50, coil{"P", 230, 20, 0}, coil{"A", 12.30, 0.5, 1}),
		}
		joints := []string{"L: T1.P1", "N: T1.P2", "L2: T2.P1", "N2: T2.P2", "A: T1.A1 T2.A1", "B1: T1.A2", "B2: T2.A2"}
		if reversed {
			joints = append(joints[:4], "A: T1.A1 T2.A2", "B1: T1.A2", "B2: T2.A1")
		}
		h := bench(230, 50, u, joints...)
		f := h.Feed[0]
		f.Live, f.Neutral, f.Degrees = "L2", "N2", degrees
		h.Feed = append(h.Feed, f)
		return cmplx.Abs(solve(u, h).volts("B1", "B2"))
	}
	return []row{
		{"3.1 additive", "jumper between leads of unlike ends: the sum", bccampus, "V", "132", 0, "", func() float64 { return jumper(true) }},
		{"3.1 subtractive", "jumper between leads of like ends: the difference", bccampus, "V", "108", 0, "", func() float64 { return jumper(false) }},
		{"3.2 alike", "120 V and 24 V windings, tied ends alike", practise, "V", "96", 0, "", func() float64 { return dot(120, 120, 24, "X1") }},
		{"3.2 unlike", "120 V and 24 V windings, tied ends unlike", practise, "V", "144", 0, "", func() float64 { return dot(120, 120, 24, "X2") }},
		{"3.4 alike", "12.00 V on a 230 V winding, a 6 V winding's like end tied", practise, "V", "11.69", 0, "", func() float64 { return dot(12, 230, 6, "X1") }},
		{"3.4 unlike", "12.00 V on a 230 V winding, a 6 V winding's other end tied", practise, "V", "12.31", 0, "", func() float64 { return dot(12, 230, 6, "X2") }},
		{"3.6 gap right", "gap between windings of 12.00 V and 12.30 V, like ends joined", closed + ": the difference", "V", "0.30", 0, "", func() float64 { return gap(false, 0) }},
		{"3.6 gap reversed", "the same, one of them reversed", closed + ": the sum", "V", "24.30", 0, "", func() float64 { return gap(true, 0) }},
		// |12.00 − 12.30∠120°| = √(12² + 12.3² + 12 · 12.3)
		{"3.6 gap on two phases", "the same, fed from supply phases 120° apart", closed + ": the chord of the angle", "V", "21.045", 0, "", func() float64 { return gap(false, 120) }},
	}
}

// series is windings one after the other, and doubled.
func series() []row {
	two := func(hertz float64) []yokemate.Unit {
		return []yokemate.Unit{textbook("T1", hertz, coil{"P1", 120, 20, 0}, coil{"P2", 120, 20, 0}, coil{"A", 12, 0.3, 1}, coil{"B", 12, 0.3, 1})}
	}
	fed := func(volts float64, joints ...string) answer {
		u := two(60)
		return solve(u, bench(volts, 60, u, joints...))
	}
	return []row{
		{"5.6 halves in series", "volts of a 12 V winding with 240 V on two 120 V coils in series, an end on the other's start", practise, "V", "12", 0, "", func() float64 {
			return cmplx.Abs(fed(240, "L: T1.P11", "M: T1.P12 T1.P21", "N: T1.P22", "A: T1.A1", "B: T1.A2").volts("A", "B"))
		}},
		{"5.6 halves in parallel", "the same with 120 V on the two coils side by side, like ends joined", practise, "V", "12", 0, "", func() float64 {
			return cmplx.Abs(fed(120, "L: T1.P11 T1.P21", "N: T1.P12 T1.P22", "A: T1.A1", "B: T1.A2").volts("A", "B"))
		}},
		// 12 V over the copper of both, 40 Ω: nothing else is left.
		{"5.6 halves opposed", "amps from a 12 V trial source into two coils in series, one of them reversed", closed + ": the source over both resistances", "A", "0.300", 0, "", func() float64 {
			_, i := fed(12, "L: T1.P11", "M: T1.P12 T1.P22", "N: T1.P21").feed()
			return i
		}},
		{"5.7 mains doubled", "volts of two 120 V coils in series when one of them has 120 V", practise, "V", "240", 0, "", func() float64 {
			return cmplx.Abs(fed(120, "L: T1.P11", "N: T1.P12 T1.P21", "F: T1.P22").volts("L", "F"))
		}},
		{"5.7 secondaries doubled", "volts of two 12 V windings in series", practise, "V", "24", 0, "", func() float64 {
			return cmplx.Abs(fed(120, "L: T1.P11", "N: T1.P12", "A: T1.A1", "M: T1.A2 T1.B1", "B: T1.B2").volts("A", "B"))
		}},
	}
}

// autotransformers is units whose windings are joined to each other.
func autotransformers() []row {
	unit := func(hertz, mains, low float64) []yokemate.Unit {
		return []yokemate.Unit{textbook("T1", hertz, coil{"P", mains, 0, 0}, coil{"S", low, 0, 1000})}
	}
	// Boost: the small winding stands on the mains one.
	boost := func(u []yokemate.Unit, hertz, volts, amps float64) answer {
		return solve(u, across(bench(volts, hertz, u, "L: T1.P1 T1.S2", "N: T1.P2", "O: T1.S1"), "O", "N", current(amps, 1)))
	}
	out := func(x answer) float64 { return cmplx.Abs(x.volts("O", "N")) }
	// Buck: the mains stands on both in series, the load on one.
	buck := func(u []yokemate.Unit, hertz, volts, amps float64) answer {
		return solve(u, across(bench(volts, hertz, u, "L: T1.S1", "O: T1.S2 T1.P1", "N: T1.P2"), "O", "N", current(amps, 1)))
	}
	small := func() answer { return boost(unit(60, 120, 12), 60, 120, 100/12.0) }
	eighteen := chapman + ", problem 2-18: 10 kVA, 480/120 V, from 600 V to 480 V"
	from600 := func() answer { return buck(unit(60, 480, 120), 60, 600, 50e3/480) }
	p95 := theraja + ", 32.95, p. 1192: 50 kVA, 2400/240 V, as 2640 V"
	high := func() answer { return boost(unit(50, 2400, 240), 50, 2400, 50e3/240) }
	p94 := theraja + ", 32.93 and 32.94, p. 1191: 100 kVA, 11500/2300 V"
	tall := func(rating float64) answer { return boost(unit(50, 11500, 2300), 50, 11500, rating/2300) }
	flat := func(rating float64) answer { return boost(unit(50, 2300, 11500), 50, 2300, rating/11500) }
	p87 := theraja + ", 32.87, p. 1188: 115/230 V, 3 kW"
	double := func() answer { return boost(unit(50, 115, 115), 50, 115, 3e3/230.0) }
	p88 := theraja + ", 32.88, p. 1188: 500/400 V, 100 A"
	step := func() answer { return buck(unit(50, 400, 100), 50, 500, 100) }
	return []row{
		{"4.1 volts", "12 V on top of 120 V", chapman + ", example 2-7" + memory, "V", "132", 0, "", func() float64 { return out(small()) }},
		{"4.1 through", "volt-amperes that a 100 VA unit passes", chapman + ", example 2-7" + memory, "VA", "1100", 0, "", func() float64 { return out(small()) * 100 / 12 }},
		{"4.1 advantage", "volt-amperes passed over those of the winding", chapman + ", example 2-7" + memory, "", "11", 0, "", func() float64 {
			x := small()
			return out(x) * 100 / 12 / cmplx.Abs(x.volts("T1.S1", "T1.S2")*x.amps("T1/S"))
		}},
		{"4.3 source", "current from the source", eighteen, "A", "83.3", 0, "", func() float64 { _, i := from600().feed(); return i }},
		{"4.3 load", "volts at the load of 104 A", eighteen, "V", "480", 0, "", func() float64 { return out(from600()) }},
		{"4.3 through", "volt-amperes passed", eighteen, "kVA", "50", 0, "", func() float64 { _, i := from600().feed(); return 600 * i / 1e3 }},
		{"4.5 through", "volt-amperes passed", p95, "kVA", "550", 0, "", func() float64 { return out(high()) * 50 / 240 }},
		{"4.5 inductive", "of these through the iron", p95, "kVA", "50", 0, "", func() float64 {
			x := high()
			return cmplx.Abs(x.volts("T1.S1", "T1.S2")*x.amps("T1/S")) / 1e3
		}},
		{"4.7 volts", "both windings in series", p94, "V", "13800", 0, "", func() float64 { return out(tall(100e3)) }},
		{"4.7 rating on the high side", "volt-amperes passed when the mains stands on 2300 V", p94, "kVA", "120", 0, "", func() float64 { return out(flat(100e3)) * 100 / 11500 }},
		{"4.7 rating on the low side", "volt-amperes passed when the mains stands on 11500 V", p94, "kVA", "600", 0, "", func() float64 { return out(tall(100e3)) * 100 / 2300 }},
		{"4.8 inductive", "power through the iron", p87, "kW", "1.5", 0, "", func() float64 {
			x := double()
			return cmplx.Abs(x.volts("T1.S1", "T1.S2")*x.amps("T1/S")) / 1e3
		}},
		{"4.8 conductive", "power through the wire", p87, "kW", "1.5", 0, "", func() float64 {
			x := double()
			return (out(x)*3e3/230 - cmplx.Abs(x.volts("T1.S1", "T1.S2")*x.amps("T1/S"))) / 1e3
		}},
		{"4.10 source", "current from the source", p88, "A", "80", 0, "", func() float64 { _, i := step().feed(); return i }},
		{"4.10 copper", "copper against a unit of two windings: ampere turns over ampere turns, as saved", p88, "%", "80", 0, "", func() float64 {
			x := step()
			own := 100*math.Abs(cmplx.Abs(x.amps("T1/S"))) + 400*cmplx.Abs(x.amps("T1/P"))
			return 100 * (1 - own/(500*cmplx.Abs(x.amps("T1/S"))+400*100))
		}},
	}
}
