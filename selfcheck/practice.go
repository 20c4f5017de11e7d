package selfcheck

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/match"
)

// small is a unit of a few VA for 120 V 60 Hz by what a meter shows of it;
// ohms and idle current are usual for the size.
func small(tag string, primary, volts, ohms float64) yokemate.Unit {
	return yokemate.Unit{
		Tag: tag, Mains: &yokemate.Mains{Volts: 120, Hertz: 60, Series: yokemate.Series{"P"}},
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"P1", "P2"}, Volts: yokemate.Num(120), Ohms: yokemate.Num(primary)},
			{ID: "A", Pins: [2]string{"A1", "A2"}, Volts: yokemate.Num(volts), Ohms: yokemate.Num(ohms), Amps: yokemate.Num(0.2)},
		},
		Excitation: yokemate.ExcitationList{{Series: yokemate.Series{"P"}, Volts: yokemate.Num(120), Hertz: 60, Amps: yokemate.Num(0.0095), Watts: yokemate.Num(0.62)}},
	}
}

// practice is what the trade knows of two units that are alike by name.
func practice() []row {
	pair := []yokemate.Unit{small("T1", 720, 14.78, 7.4), small("T2", 740, 14.28, 7.6)}
	gap := func(joints ...string) float64 {
		return cmplx.Abs(solve(pair, bench(120, 60, pair, joints...)).volts("F1", "F2"))
	}
	about := "said as about"
	// A bulb of 12 V and 0.25 A, by its resistance when it glows.
	bulb := yokemate.Load{Ohms: 48}
	watts := func(joints ...string) float64 {
		v := cmplx.Abs(solve(pair, across(bench(120, 60, pair, joints...), "A", "B", bulb)).volts("A", "B"))
		return v * v / bulb.Ohms
	}
	unlike := func() []yokemate.Unit {
		return twoUnits(sec{25.4, 0.28, 10.3}, sec{30.2, 1.82, 2.3})
	}
	tells := func(yes bool) float64 {
		if yes {
			return 1
		}
		return 0
	}
	sixty := func() float64 {
		u := []yokemate.Unit{small("T1", 720, 14.78, 7.4)}
		return solve(u, bench(100, 50, u, "L: T1.P1", "N: T1.P2")).flux(0)
	}
	return []row{
		{"20 gap right", "units whose windings read 14.78 V and 14.28 V, like ends joined", practise, "V", "0.5", 0, "", func() float64 {
			return gap("L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "A: T1.A1 T2.A1", "F1: T1.A2", "F2: T2.A2")
		}},
		{"20 gap reversed", "the same, one secondary reversed", practise, "V", "29", 0, "", func() float64 {
			return gap("L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "A: T1.A1 T2.A2", "F1: T1.A2", "F2: T2.A1")
		}},
		{"20 primary swapped", "the same as right, line and neutral swapped on one primary", practise, "V", "29", 0, "", func() float64 {
			return gap("L: T1.P1 T2.P2", "N: T1.P2 T2.P1", "A: T1.A1 T2.A1", "F1: T1.A2", "F2: T2.A2")
		}},
		{"20 in series", "the same units, secondaries in series", practise, "V", "29", 0, "", func() float64 {
			return gap("L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "M: T1.A2 T2.A1", "F1: T1.A1", "F2: T2.A2")
		}},
		{"20 as match has it", "gap of the pair", practise, "V", "0.5", 0, "", func() float64 { return weighed(pair, match.Options{}).GapVolts }},
		{"20 verdict", "1 when the verdict on joining them is caution, and not stop: such pairs ran joined without heating", practise, "", "1", 0, "", func() float64 {
			p := weighed(pair, match.Options{})
			return tells(p.Verdict == yokemate.Caution && p.MaxAmps < p.RatedAmps)
		}},
		{"20 bulb", "1 when a bulb is brighter on both units than on either", practise, "", "1", 0, "", func() float64 {
			both := watts("L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "A: T1.A1 T2.A1", "B: T1.A2 T2.A2")
			first := watts("L: T1.P1", "N: T1.P2", "A: T1.A1", "B: T1.A2")
			second := watts("L: T2.P1", "N: T2.P2", "A: T2.A1", "B: T2.A2")
			return tells(both > first && both > second)
		}},
		{"21 circulating", "25.4 V behind 0.28 Ω with 30.2 V behind 1.82 Ω, no load", practise, "A", "2.3", 0, "", func() float64 { return weighed(unlike(), match.Options{}).CirculatingAmps }},
		{"21 the small one at 6 A", "what the 1.82 Ω unit carries of 6 A", practise, "A", "3.1", 0, "", func() float64 {
			return cmplx.Abs(shared(sec{25.4, 0.28, 10.3}, sec{30.2, 1.82, 2.3}, current(6, 1)).amps("T2/A"))
		}},
		{"22 phases", "gap between 9.4 V units on two phases of a three-phase supply", practise, "V", "16.3", 0, "", func() float64 {
			u := twoUnits(sec{9.4, 1, 1}, sec{9.4, 1, 1})
			h := bench(side, 50, u, "L: T1.P1", "N: T1.P2", "L2: T2.P1", "N2: T2.P2", "A: T1.A1 T2.A1", "F1: T1.A2", "F2: T2.A2")
			f := h.Feed[0]
			f.Live, f.Neutral, f.Degrees = "L2", "N2", 120
			h.Feed = append(h.Feed, f)
			return cmplx.Abs(solve(u, h).volts("F1", "F2"))
		}},
		// 100/50 over 120/60 is 1; the smaller idle drop leaves a little more.
		{"23 frequency", "flux of a 120 V 60 Hz unit on 100 V 50 Hz, over its rated flux", practise, "", "1.00", 0.005, about, sixty},
		{"24 unpowered", "volts across the gap to a winding of a unit that is not fed, over those of the one that is", practise, "", "1.0", 0.05, about, func() float64 {
			x := solve(pair, bench(120, 60, pair, "L: T1.P1", "N: T1.P2", "A: T1.A1 T2.A1", "F1: T1.A2", "F2: T2.A2"))
			return cmplx.Abs(x.volts("F1", "F2")) / cmplx.Abs(x.volts("A", "F1"))
		}},
		{"25 opposed", "volts of two like windings in series, one of them reversed", closed + ": their difference", "V", "0.5", 0, "", func() float64 {
			return math.Abs(gap("L: T1.P1 T2.P1", "N: T1.P2 T2.P2", "M: T1.A2 T2.A2", "F1: T1.A1", "F2: T2.A1"))
		}},
	}
}
