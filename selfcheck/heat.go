package selfcheck

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/protect"
)

// warmth is copper by its resistance, limits of insulation and heat runs.
func warmth() []row {
	list := []row{
		{"6.2 coefficient", "temperature coefficient of copper at 20 °C", "UL excerpt, cl. 49.8, and EN 61558-1, cl. 14.2", "1/K", "0.00393", 0, "", func() float64 { return heat.Ohms(1, 21) - 1 }},
		{"6.15 a fifth more", "rise when hot ohms are 1.20 of those at 20 °C", practise, "K", "51", 0, "", func() float64 { return heat.Rise(1.2, 1, 20, 20, heat.K) }},
		{"6.15 by 0.235", "rise when hot ohms are 1.235 of those at 20 °C", practise, "K", "60", 0, "", func() float64 { return heat.Rise(1.235, 1, 20, 20, heat.K) }},
		{"6.15 a quarter more", "rise when hot ohms are 1.25 of those at 21 °C", practise, "K", "64", 0, "", func() float64 { return heat.Rise(1.25, 1, 21, 21, heat.K) }},
		{"5.9 duty", "continuous equivalent of 200 VA for 6 of 10 min", practise, "VA", "154.9", 0, "", func() float64 { return 200 * heat.Equivalent([]float64{1, 0}, []float64{6, 4}) }},
	}
	// Limits by class: °C, or K for a rise.
	limit := func(id, what, source, unit string, class, printed string, find func(heat.Class) (heat.Limit, bool)) {
		list = append(list, row{id + " class " + class, what, source, unit, printed, 0, "", func() float64 {
			l, ok := find(heat.Class(class))
			if !ok {
				return math.NaN()
			}
			return l.Celsius
		}})
	}
	fault := func(p heat.Protection) func(heat.Class) (heat.Limit, bool) {
		return func(c heat.Class) (heat.Limit, bool) { return c.Fault(p) }
	}
	for _, t := range []struct{ class, index, rise, short string }{
		{"Y", "90", "", ""}, {"A", "105", "60", "180"}, {"E", "120", "75", "250"}, {"B", "130", "80", "350"}, {"F", "155", "100", "350"},
		{"H", "180", "125", "350"}, {"N", "200", "135", "350"}, {"R", "220", "150", "350"}, {"250", "250", "", ""},
	} {
		limit("6.9", "thermal class", "IEC 60085", "°C", t.class, t.index, heat.Class.Index)
		if t.rise != "" {
			limit("6.10", "average rise of a dry winding", "IEC 60076-11", "K", t.class, t.rise, heat.Class.DryRise)
			limit("6.11", "average of a dry copper winding after a short circuit", "IEC 60076-11", "°C", t.class, t.short, fault(heat.DryType))
		}
	}
	for _, t := range []struct{ class, normal, inherent, first, after, house string }{
		{"A", "100", "150", "200", "175", "75"}, {"E", "115", "165", "215", "190", "90"}, {"B", "120", "175", "225", "200", "95"},
		{"F", "140", "190", "240", "215", "115"}, {"H", "165", "210", "260", "235", "140"},
	} {
		limit("6.12", "winding in normal use", "IEC 61558-1, table 1"+memory, "°C", t.class, t.normal, heat.Class.NormalUse)
		both := "IEC 61558-1 and IEC 60335-1" + memory
		limit("6.13 inherent", "winding in a short circuit of a unit that limits itself", both, "°C", t.class, t.inherent, fault(heat.Inherent))
		limit("6.13 first hour", "winding within the first hour, a device protects it", both, "°C", t.class, t.first, fault(heat.FirstHour))
		limit("6.13 later", "peak of a winding after the first hour, a device protects it", both, "°C", t.class, t.after, fault(heat.AfterHour))
		limit("6.14", "rise by resistance", "IEC 60335-1, table 3"+memory, "K", t.class, t.house, heat.Class.HouseholdRise)
	}

	three := "extrapolation from three equal steps" + memory
	final := func(a, b, c, step float64) heat.Final {
		f, err := heat.Extrapolate(a, b, c, step, 0.5)
		if err != nil {
			return heat.Final{Rise: math.NaN(), Tau: math.NaN()}
		}
		return f
	}
	const hour = 3600.0
	at := func(t float64) float64 { return 60 * -math.Expm1(-t/1.3) } // [h]
	// A run of two time constants as equation (H14) has it, read every 20 min
	// for 3 h with steps of 0.1 K.
	run := func() heat.Run {
		var log []heat.Logged
		for t := 20 * 60.0; t <= 3*hour; t += 20 * 60 {
			rise := 48*-math.Expm1(-t/(0.9*hour)) + 12*-math.Expm1(-t/240)
			log = append(log, heat.Logged{Seconds: t, Rise: math.Round(rise*10) / 10, U: 0.3})
		}
		f, err := heat.Fit(log)
		if err != nil {
			return heat.Run{Rise: math.NaN(), Tau: math.NaN()}
		}
		return f
	}
	return append(list,
		row{"6.17 final rise", "15 K and 25 K at 1 h and 2 h from cold", three, "K", "45", 0, "", func() float64 { return final(0, 15, 25, hour).Rise }},
		row{"6.17 final of 60 K", "a run of 60 K and 1.3 h, read at 0.5, 1 and 1.5 h", closed + " of one exponential", "K", "60.000", 0, "", func() float64 { return final(at(0.5), at(1), at(1.5), hour/2).Rise }},
		row{"6.17 time constant", "of the same", closed + " of one exponential", "h", "1.300", 0, "", func() float64 { return final(at(0.5), at(1), at(1.5), hour/2).Tau / hour }},
		row{"6.17 heat run", "final rise of a run of 48 K by 54 min and 12 K by 4 min, read for 3 h in steps of 0.1 K", closed + " of two exponentials", "K", "60", 0, "", func() float64 { return run().Rise }},
		row{"6.17 heat run time", "its slow time constant", closed + " of two exponentials", "min", "54", 2, "grid of the fit and steps of the readings", func() float64 { return run().Tau / 60 }},
	)
}

// fuses is gates of fuse links, and what a fuse may be.
func fuses() []row {
	var list []row
	gates := "IEC 60127-2, as in makers' time-current data for the sheet"
	opening := func(l protect.Link, times float64, slow bool) func() float64 {
		return func() float64 {
			least, most := l.Opening(times * l.Amps)
			if slow {
				return most
			}
			return least
		}
	}
	for _, t := range []struct {
		sheet, kind, breaking string
		amps                  []float64
		source                string
		carry, most21         string // [s]
		least275, most275     string
		least4, most4         string
		least10, most10       string
	}{
		{"1", "F", "H", []float64{0.05, 3.15}, gates + memory, "3600", "1800", "0.010", "2", "0.003", "0.300", "", "0.020"},
		{"2", "F", "L", []float64{0.032, 0.1}, gates, "3600", "1800", "0.010", "0.5", "0.003", "0.100", "", "0.020"},
		{"2", "F", "L", []float64{0.125, 6.3}, gates, "3600", "1800", "0.050", "2", "0.010", "0.300", "", "0.020"},
		{"2", "F", "L", []float64{8, 10}, gates, "1800", "1800", "0.050", "2", "0.010", "0.400", "", "0.040"},
		{"3", "T", "L", []float64{0.032, 0.1}, gates, "3600", "120", "0.2", "10", "0.040", "3", "0.010", "0.300"},
		{"3", "T", "L", []float64{0.125, 6.3}, gates, "3600", "120", "0.6", "10", "0.150", "3", "0.020", "0.300"},
		{"5", "T", "H", []float64{0.125, 0.8}, gates, "3600", "1800", "0.25", "80", "0.050", "5", "", ""},
		{"5", "T", "H", []float64{1, 3.15}, gates, "3600", "1800", "0.75", "80", "0.095", "5", "0.010", "0.150"},
		{"5", "T", "H", []float64{4, 6.3}, gates, "3600", "1800", "0.75", "80", "0.150", "5", "0.020", "0.150"},
		{"5", "T", "H", []float64{8, 16}, gates, "900", "1800", "0.75", "80", "0.150", "5", "0.020", "0.150"},
	} {
		for _, amps := range t.amps {
			l := protect.Link{Amps: amps, Kind: t.kind, Breaking: t.breaking}
			for _, g := range []struct {
				times   float64
				slow    bool
				printed string
			}{
				{1.5, false, t.carry}, {2.1, true, t.most21}, {2.75, false, t.least275}, {2.75, true, t.most275},
				{4, false, t.least4}, {4, true, t.most4}, {10, false, t.least10}, {10, true, t.most10},
			} {
				if g.printed == "" {
					continue
				}
				end := map[bool]string{false: "shortest", true: "longest"}[g.slow]
				list = append(list, row{fmt.Sprintf("10 sheet %s %g A × %g %s", t.sheet, amps, g.times, end), end + " pre-arcing time of a link " + t.kind, t.source, "s", g.printed, 0, "", opening(l, g.times, g.slow)})
			}
		}
	}
	ul := "UL 248-14, as in makers' data"
	table := "NEC table 450.3(B), as in a published equipment-protection guide"
	share := func(place protect.Place, amps float64) func() float64 {
		return func() float64 { x, _ := protect.Limit(place, amps); return 100 * x }
	}
	list = append(list,
		row{"10 UL fast × 1.35", "longest time of a fast 1 A link", ul, "s", "3600", 0, "", opening(protect.Link{Amps: 1, Kind: "fast"}, 1.35, true)},
		row{"10 UL fast × 2", "longest time of a fast 1 A link", ul, "s", "120", 0, "", opening(protect.Link{Amps: 1, Kind: "fast"}, 2, true)},
		row{"10 UL 40 A × 2", "longest time of a fast 40 A link", ul, "s", "240", 0, "", opening(protect.Link{Amps: 40, Kind: "fast"}, 2, true)},
		row{"10 UL slow × 1.1", "shortest time of a slow 1 A link", ul, "s", "14400", 0, "", opening(protect.Link{Amps: 1, Kind: "slow"}, 1.1, false)},
		row{"10 UL slow × 1.35", "longest time of a slow 1 A link", ul, "s", "3600", 0, "", opening(protect.Link{Amps: 1, Kind: "slow"}, 1.35, true)},
		row{"10 UL slow × 2 shortest", "shortest time of a slow 3 A link", ul, "s", "5", 0, "", opening(protect.Link{Amps: 3, Kind: "slow"}, 2, false)},
		row{"10 UL slow 5 A × 2 shortest", "shortest time of a slow 5 A link", ul, "s", "12", 0, "", opening(protect.Link{Amps: 5, Kind: "slow"}, 2, false)},
		row{"10 UL slow × 2 longest", "longest time of a slow 3 A link", ul, "s", "120", 0, "", opening(protect.Link{Amps: 3, Kind: "slow"}, 2, true)},
		row{"10.1 9 A and more", "most that a primary fuse alone may be of the primary's amps", table, "%", "125", 0, "", share(protect.PrimaryOnly, 9)},
		row{"10.1 2 to 9 A", "most that a primary fuse alone may be of the primary's amps", table, "%", "167", 0, "", share(protect.PrimaryOnly, 2)},
		row{"10.1 below 2 A", "most that a primary fuse alone may be of the primary's amps", table + "; this line from secondary copies", "%", "300", 0, "", share(protect.PrimaryOnly, 1.9)},
		row{"10.2 primary", "most that it may be where the secondaries have fuses too", table, "%", "250", 0, "", share(protect.PrimaryOfBoth, 1)},
		row{"10.2 secondary 9 A", "most that a secondary fuse may be", table, "%", "125", 0, "", share(protect.Secondary, 9)},
		row{"10.2 secondary below", "most that a secondary fuse may be", table, "%", "167", 0, "", share(protect.Secondary, 8.9)},
		row{"10 ratings", "of the 21 ratings that were seen printed, how many the program knows", "makers' lists of preferred ratings, R10 steps", "", "21", 0, "", func() float64 {
			n := 0
			for _, x := range []float64{0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10, 12.5, 16, 0.032} {
				if slices.Contains(protect.Preferred(), x) {
					n++
				}
			}
			return float64(n)
		}},
	)
	// A maker's nominal melting I²t lies between the gates' least and most.
	for _, t := range []struct{ amps, square float64 }{{0.2, 0.350}, {0.5, 2.90}, {1, 19.2}, {2, 92.7}, {6.3, 600}} {
		list = append(list, row{fmt.Sprintf("10 melting of %g A", t.amps), fmt.Sprintf("1 when %g A²s lies between the least and the most of the gates", t.square), "one maker's links T", "", "1", 0, "", func() float64 {
			least, most := protect.Link{Amps: t.amps, Kind: "T"}.I2t()
			if least <= t.square && t.square <= most {
				return 1
			}
			return 0
		}})
	}
	// Full-load amps, by the network: a unit that gives its volt-amperes.
	for _, t := range []struct {
		va         float64
		v600, v480 string
	}{
		{25, ".042", ".052"}, {50, ".083", ".104"}, {100, ".167", ".208"}, {200, ".33", ".417"}, {500, ".833", "1.04"}, {1000, "1.67", "2.08"}, {2000, "3.33", "4.17"}, {5000, "8.33", "10.4"},
	} {
		for _, side := range []struct {
			volts   float64
			printed string
		}{{600, t.v600}, {480, t.v480}} {
			list = append(list, row{fmt.Sprintf("10.8 %g VA at %g V", t.va, side.volts), "full-load amps of the primary, by the network", "a published equipment-protection guide, table of full-load currents", "A", side.printed, 0, "", func() float64 {
				u := []yokemate.Unit{textbook("T1", 60, coil{"P", side.volts, 0, 0}, coil{"A", 120, 0, t.va / 120})}
				_, i := solve(u, across(bench(side.volts, 60, u, "L: T1.P1", "N: T1.P2", "A: T1.A1", "B: T1.A2"), "A", "B", current(t.va/120, 1))).feed()
				return i
			}})
		}
	}
	return list
}

// lamps is filaments by their exponents at rated volts.
func lamps() []row {
	handbook := "Standard Handbook for Electrical Engineers, 11th ed., p. 22-8, as cited by the encyclopedia article on lamp rerating"
	guide := "Arecchi, Messadi and Koshel, Field Guide to Illumination, SPIE 2007"
	halogen := "these are of halogen lamps"
	l := protect.Lamp{Watts: 40, Volts: 230}
	amps := func() float64 { return l.DAmps(l.Volts) * l.Volts / l.Amps(l.Volts) } // d ln I/d ln V
	return []row{
		{"16.1 current", "exponent of a filament's current on its volts", handbook, "", "0.55", 0, "", amps},
		{"16.1 power", "exponent of its power, 1 more than that", handbook, "", "1.6", 0, "", func() float64 { return 1 + amps() }},
		{"16.1 resistance", "exponent of its ohms", handbook, "", "0.45", 0, "", func() float64 { return l.DOhms(l.Volts) * l.Volts / l.Ohms(l.Volts) }},
		{"16.2 volts", "exponent of its volts on its current", guide, "", "1.9", 0.05, halogen, func() float64 { return 1 / amps() }},
		{"16.2 power", "exponent of its power on its current", guide, "", "2.9", 0.05, halogen, func() float64 { return 1 + 1/amps() }},
		{"16 cold", "hot over cold ohms", "ratio of tungsten at 3000 K and 300 K" + memory, "", "16", 0, "", func() float64 { return l.HotOhms() / l.ColdOhms() }},
	}
}
