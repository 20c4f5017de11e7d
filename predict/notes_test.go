package predict_test

import (
	"slices"
	"strings"
	"testing"

	"yokemate"
)

const none = yokemate.Level("")

// levelOf is the most severe level of a code's notes, none where there is none.
func levelOf(p *yokemate.Prediction, code yokemate.NoteCode) yokemate.Level {
	var found []yokemate.Note
	for _, n := range p.Notes {
		if n.Code == code {
			found = append(found, n)
		}
	}
	if len(found) == 0 {
		return none
	}
	return yokemate.Worst(found)
}

// TestNotes holds every code to hookups that call for it and ones that do
// not. The limits are common practice, no source, unless a row names one.
func TestNotes(t *testing.T) {
	type maker func() (*yokemate.Shelf, *yokemate.Hookup)
	one := func(edit func(u *yokemate.Unit, h *yokemate.Hookup)) maker {
		return func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(small("T1", 12)), alone(60) // 12 V, 0.25 A: 60 Ω draw 0.17 A
			if edit != nil {
				edit(&s.Units[0], h)
			}
			return s, h
		}
	}
	pair := func(a, b yokemate.Unit, ohms float64, edit func(s *yokemate.Shelf, h *yokemate.Hookup)) maker {
		return func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(a, b), parallel(ohms)
			if edit != nil {
				edit(s, h)
			}
			return s, h
		}
	}
	// apart gives the second unit a plug of its own.
	apart := func(degrees float64) func(s *yokemate.Shelf, h *yokemate.Hookup) {
		return func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1"}, []string{"T1.2"}
			h.Joints = append(h.Joints, yokemate.Joint{Name: "L2", Pins: []string{"T2.1"}}, yokemate.Joint{Name: "N2", Pins: []string{"T2.2"}})
			f := h.Feed[0]
			f.Live, f.Neutral, f.Degrees = "L2", "N2", degrees
			h.Feed = append(h.Feed, f)
		}
	}
	// separate takes the secondaries apart again, each with an output of its own.
	separate := func(s *yokemate.Shelf, h *yokemate.Hookup) {
		h.Joints[2].Pins, h.Joints[3].Pins = []string{"T1.5"}, []string{"T1.6"}
		h.Joints = append(h.Joints, yokemate.Joint{Name: "A2", Pins: []string{"T2.5"}}, yokemate.Joint{Name: "B2", Pins: []string{"T2.6"}})
		h.Outputs = append(h.Outputs, yokemate.Output{Name: "second", From: "A2", To: "B2", Load: &yokemate.Load{Ohms: 60}})
	}
	// inSeries puts the two primaries in series.
	inSeries := func(s *yokemate.Shelf, h *yokemate.Hookup) {
		h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1"}, []string{"T2.2"}
		h.Joints = append(h.Joints, yokemate.Joint{Name: "M", Pins: []string{"T1.2", "T2.1"}})
	}
	// bare takes the labels off.
	bare := func(s *yokemate.Shelf, h *yokemate.Hookup) {
		for i := range s.Units {
			s.Units[i].Mains = nil
		}
	}
	both := func(f ...func(s *yokemate.Shelf, h *yokemate.Hookup)) func(s *yokemate.Shelf, h *yokemate.Hookup) {
		return func(s *yokemate.Shelf, h *yokemate.Hookup) {
			for _, g := range f {
				g(s, h)
			}
		}
	}
	// stiff is a unit whose copper drops little, so that its flux follows the mains.
	stiff := func(high, doubt float64) maker {
		return func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(unit("T1", 230, 12, 100, 0.08, 0.06, 6)), alone(60)
			h.Feed[0].Volts, h.Feed[0].High = yokemate.PlusMinus(230, doubt, yokemate.Measured), high
			return s, h
		}
	}
	insulated := func(i ...yokemate.Insulation) maker {
		return one(func(u *yokemate.Unit, h *yokemate.Hookup) { u.Insulation = append(u.Insulation[1:], i...) })
	}
	lamp := func(va float64, l yokemate.Lamp) maker {
		return func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(unit("T1", 230, 12, va, 0.1, 0.05, 3)), alone(1e4)
			h.Feed[0].Lamp = &l
			return s, h
		}
	}
	autotransformer := func() (*yokemate.Shelf, *yokemate.Hookup) {
		s := shelf(small("T1", 12))
		h := wired([]string{"L", "T1.1", "T1.6"}, []string{"N", "T1.2"}, []string{"A", "T1.5"}, []string{"E", "T1.core"})
		h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "N", Load: &yokemate.Load{Amps: 0.1}}}
		return s, h
	}
	coil := func(u yokemate.Unit, edit func(*yokemate.Hookup)) maker {
		return func() (*yokemate.Shelf, *yokemate.Hookup) {
			h := wired([]string{"L", "T1.1"}, []string{"M", "T1.2", "T1.3"}, []string{"N", "T1.4"}, []string{"A", "T1.5"}, []string{"B", "T1.6"}, []string{"E", "T1.core"})
			h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "B"}}
			if edit != nil {
				edit(h)
			}
			return shelf(u), h
		}
	}
	sideBySide := func(h *yokemate.Hookup) { // both mains coils on half the mains
		h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(115), 104, 126
		h.Joints = append(yokemate.Joints{{Name: "L", Pins: []string{"T1.1", "T1.3"}}, {Name: "N", Pins: []string{"T1.2", "T1.4"}}}, h.Joints[3:]...)
	}
	for _, c := range []struct {
		name  string
		make  maker
		code  yokemate.NoteCode
		level yokemate.Level
	}{
		{"secondary of its own", one(nil), yokemate.NotIsolated, none},
		{"secondary earthed", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			h.Joints = yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}, {Name: "A", Pins: []string{"T1.5"}}, {Name: "E", Pins: []string{"T1.core", "T1.6"}}}
			h.Outputs[0].To = "E"
		}), yokemate.NotIsolated, none},
		{"secondary on top of the mains", autotransformer, yokemate.NotIsolated, yokemate.Caution},

		{"253 V on a 230 V unit: 1.10", stiff(253, 0), yokemate.OverFlux, none},
		{"262 V on a 230 V unit: 1.14", stiff(262, 0), yokemate.OverFlux, yokemate.Caution},
		{"272 V on a 230 V unit: 1.18", stiff(272, 0), yokemate.OverFlux, yokemate.Stop},
		{"1.115, and the socket known to 2 %", stiff(256, 4.6), yokemate.NotProven, yokemate.Caution},
		{"the same 1.115 is not over", stiff(256, 4.6), yokemate.OverFlux, none},
		{"1.14 that may be 1.18", stiff(262, 4.6), yokemate.NotProven, yokemate.Caution},
		{"a 60 Hz unit on 50 Hz", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := stiff(253, 0)()
			s.Units[0].Mains.Hertz, s.Units[0].Excitation[0].Hertz = 60, 60
			return s, h
		}, yokemate.OverFlux, yokemate.Stop},

		// 3 VA of 30 % regulation drop some 15 % in their mains coil at 0.25 A, so that
		// 253 V make 1.22 of a 208 V label idle and about 1.10 loaded: the load may be
		// switched off, and idle decides.
		{"a 208 V unit whose load holds its flux down", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(unit("T1", 208, 12, 3, 0.3, 0.012, 1.4)), alone(60)
			h.Outputs[0].Load = &yokemate.Load{Amps: 0.24}
			return s, h
		}, yokemate.OverFlux, yokemate.Stop},
		// The other way round: a bucking unit takes power in, and its flux is highest under load.
		{"a bucking unit of 225 V under load", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s := shelf(unit("T1", 225, 12, 3, 0.3, 0.012, 1.4))
			h := wired([]string{"L", "T1.1", "T1.5"}, []string{"N", "T1.2"}, []string{"A", "T1.6"}, []string{"E", "T1.core"})
			h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "N", Load: &yokemate.Load{Amps: 0.24}}}
			return s, h
		}, yokemate.OverFlux, yokemate.Stop},
		{"no winding on the core", one(nil), yokemate.CoreJoined, none},
		{"a winding on the core", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			u.Windings = append(u.Windings, yokemate.Winding{ID: "H", Pins: [2]string{"9", "core"}, Volts: sure(9), Ohms: sure(1), Amps: sure(0.1)})
		}), yokemate.CoreJoined, yokemate.Stop},

		{"12 V", one(nil), yokemate.HazardousVoltage, none},
		{"44 V, 48 at the highest mains", func() (*yokemate.Shelf, *yokemate.Hookup) { return shelf(small("T1", 44)), alone(1e4) }, yokemate.HazardousVoltage, none},
		{"47 V, 52 at the highest mains", func() (*yokemate.Shelf, *yokemate.Hookup) { return shelf(small("T1", 47)), alone(1e4) }, yokemate.HazardousVoltage, yokemate.Caution},
		// The mains side is the one that the mains is on: driven backwards it is an output like any other.
		{"a neighbour's mains side, driven backwards", pair(small("T1", 12), small("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1"}, []string{"T1.2"}
		}), yokemate.HazardousVoltage, yokemate.Caution},
		{"a neighbour's mains side on its own plug", pair(small("T1", 12), small("T2", 12), 60, apart(0)), yokemate.HazardousVoltage, none},
		{"half a mains side left open", coil(split("T1", 115, 115), func(h *yokemate.Hookup) {
			h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(115), 104, 126
			h.Joints = append(yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}, h.Joints[3:]...)
		}), yokemate.HazardousVoltage, none},
		{"1200 V", func() (*yokemate.Shelf, *yokemate.Hookup) { return shelf(small("T1", 1200)), alone(1e9) }, yokemate.HazardousVoltage, yokemate.Stop},
		{"950 V, 1045 at the highest mains", func() (*yokemate.Shelf, *yokemate.Hookup) { return shelf(small("T1", 950)), alone(1e9) }, yokemate.HazardousVoltage, yokemate.Stop},

		// 49 V unloaded are 54 at 253 V; loaded to 0.05 A they sag by their 30 % to 38.
		{"49 V that the load holds down", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(small("T1", 49)), alone(1e4)
			h.Outputs[0].Load = &yokemate.Load{Amps: 0.06}
			return s, h
		}, yokemate.HazardousVoltage, yokemate.Caution},
		// A mains coil that no plug feeds is an output: 230 V of it kill like any other.
		{"the mains coil of a unit driven backwards", pair(small("T1", 12), small("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1"}, []string{"T1.2"}
		}), yokemate.HazardousVoltage, yokemate.Caution},
		{"the mains coil on its own mains", one(nil), yokemate.HazardousVoltage, none},
		// 62 V at the highest mains into 60 V opposite 1150 V: 1188 V, on the side that is the mains side by its label.
		{"driven backwards to above 1000 V", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(unit("T1", 1150, 60, 100, 0.08, 0.012, 6)), alone(0)
			h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(60), 58, 62
			h.Joints = yokemate.Joints{{Name: "L", Pins: []string{"T1.5"}}, {Name: "N", Pins: []string{"T1.6"}}, {Name: "A", Pins: []string{"T1.1"}}, {Name: "B", Pins: []string{"T1.2"}}, {Name: "E", Pins: []string{"T1.core"}}}
			h.Outputs[0].Load = nil
			return s, h
		}, yokemate.HazardousVoltage, yokemate.Stop},

		{"0.17 A of 0.25 A", one(nil), yokemate.OverCurrent, none},
		{"0.17 A of 0.25 A, all known", one(nil), yokemate.NotProven, none},
		{"0.35 A of 0.25 A", one(func(u *yokemate.Unit, h *yokemate.Hookup) { h.Outputs[0].Load = &yokemate.Load{Amps: 0.35} }), yokemate.OverCurrent, yokemate.Stop},
		{"0.2 A of 0.25 ± 0.05 A", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			u.Windings[1].Amps = yokemate.PlusMinus(0.25, 0.05, yokemate.Estimated)
			h.Outputs[0].Load = &yokemate.Load{Amps: 0.2}
		}), yokemate.NotProven, yokemate.Caution},
		{"0.2 A of 0.25 ± 0.05 A is not over", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			u.Windings[1].Amps = yokemate.PlusMinus(0.25, 0.05, yokemate.Estimated)
			h.Outputs[0].Load = &yokemate.Load{Amps: 0.2}
		}), yokemate.OverCurrent, none},
		{"0.249 A of 0.25 A through a load that the volts decide", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			// 12 V sags by its 30 % to 8.35 V: 0.249 A through 33.5 Ω, and the volts are known to 1 %.
			u.Windings[1].Volts = yokemate.PlusMinus(12, 0.12, yokemate.Measured)
			h.Outputs[0].Load = &yokemate.Load{Ohms: 33.5}
		}), yokemate.NotProven, yokemate.Caution},

		{"11.92 and 11.90 V, 0.17 %", pair(small("T1", 11.92), small("T2", 11.90), 0, nil), yokemate.Mismatch, none},
		{"12.2 and 12 V, 1.7 %", pair(small("T1", 12.2), small("T2", 12), 0, nil), yokemate.Mismatch, yokemate.Info},

		{"one unit alone", one(nil), yokemate.Circulating, none},
		// ΔV over both impedances is the closed form: 0.02 V/7.2 V of 30 % twice is 0.3 %.
		{"0.17 % between two of 3 VA", pair(small("T1", 11.92), small("T2", 11.90), 0, nil), yokemate.Circulating, yokemate.Info},
		{"3.5 % between two 3 VA units of 30 % regulation: about 8 %", pair(weak("T1", 15.6), weak("T2", 15.6*0.965), 0, nil), yokemate.Circulating, yokemate.Caution},
		{"2 % between two big toroids", pair(toroid("T1", 12.5), toroid("T2", 12.5*0.98), 0, nil), yokemate.Circulating, yokemate.Stop},
		{"the same volts of mismatch, 0.25 V, between two of 3 VA", pair(weak("T1", 15.6), weak("T2", 15.35), 0, nil), yokemate.Circulating, yokemate.Info},
		{"one of the pair reversed", pair(small("T1", 12), small("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[2].Pins, h.Joints[3].Pins = []string{"T1.5", "T2.6"}, []string{"T1.6", "T2.5"}
		}), yokemate.Circulating, yokemate.Stop},
		{"both ends of a winding in one joint", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			h.Joints[2].Pins, h.Joints[3] = []string{"T1.5", "T1.6"}, yokemate.Joint{Name: "B", Pins: []string{"T1.7"}}
			u.Windings = append(u.Windings, yokemate.Winding{ID: "C", Pins: [2]string{"7", "8"}, Volts: sure(3), Ohms: sure(1), Amps: sure(0.1)})
		}), yokemate.Circulating, yokemate.Stop},
		{"like units on gains that nobody shared", pair(small("T1", 12), small("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			// 2 × 0.15 V of doubt is 3.5 % of 12 V at the end: about 6 % of the rating may circulate.
			s.Units[0].Windings[1].Volts = yokemate.PlusMinus(12, 0.15, yokemate.Label)
			s.Units[1].Windings[1].Volts = yokemate.PlusMinus(12, 0.15, yokemate.Label)
		}), yokemate.Circulating, yokemate.Caution},
		{"like toroids on labels", pair(toroid("T1", 12), toroid("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			s.Units[0].Windings[1].Volts = yokemate.PlusMinus(12, 0.15, yokemate.Label)
			s.Units[1].Windings[1].Volts = yokemate.PlusMinus(12, 0.15, yokemate.Label)
		}), yokemate.NotProven, yokemate.Caution},
		// The plug holds the volts of both mains coils: their idle currents are no circulation.
		{"0.17 % between two of 3 VA without labels", pair(small("T1", 11.92), small("T2", 11.90), 0, bare), yokemate.Circulating, yokemate.Info},
		{"2 % between two big toroids without labels", pair(toroid("T1", 12.5), toroid("T2", 12.5*0.98), 0, bare), yokemate.Circulating, yokemate.Stop},
		{"2 % between two big toroids that were excited at their low side", pair(toroid("T1", 12.5), toroid("T2", 12.5*0.98), 0, both(bare, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			for i := range s.Units {
				e := &s.Units[i].Excitation[0]
				ratio := 230 / s.Units[i].Windings[1].Volts.V
				e.Series, e.Volts, e.Amps = yokemate.Series{"A"}, s.Units[i].Windings[1].Volts, sure(e.Amps.V*ratio)
			}
		})), yokemate.Circulating, yokemate.Stop},
		{"mains coils side by side", coil(split("T1", 115, 115), sideBySide), yokemate.Circulating, yokemate.Info},
		{"one mains coil reversed beside the other", coil(split("T1", 115, 115), func(h *yokemate.Hookup) {
			sideBySide(h)
			h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1", "T1.4"}, []string{"T1.2", "T1.3"}
		}), yokemate.Circulating, yokemate.Stop},

		{"insulation known", one(nil), yokemate.InsulationUnknown, none},
		{"mains to core never tested", insulated(), yokemate.InsulationUnknown, yokemate.Caution},
		{"mains to core never tested is not proven", insulated(), yokemate.NotProven, yokemate.Caution},
		// (test − 1000)/2 of a one-minute AC test, traditional, no source.
		{"2500 V AC for a minute: 750 V in use", insulated(yokemate.Insulation{From: "P", To: "core", TestVolts: 2500, Seconds: 60}), yokemate.InsulationUnknown, none},
		{"1400 V AC for a minute: 200 V in use", insulated(yokemate.Insulation{From: "P", To: "core", TestVolts: 1400, Seconds: 60}), yokemate.InsulationUnknown, yokemate.Caution},
		{"megohms alone", insulated(yokemate.Insulation{From: "P", To: "core", Megohms: yokemate.Num(200), TestVolts: 500, Seconds: 60}), yokemate.InsulationUnknown, yokemate.Caution},
		{"within the working volts", one(nil), yokemate.InsulationExceeded, none},
		{"230 V on 200 V of working volts", insulated(yokemate.Insulation{From: "core", To: "P", WorkingVolts: 200}), yokemate.InsulationExceeded, yokemate.Stop},
		{"230 V on a test of 150 V", insulated(yokemate.Insulation{From: "P", To: "core", TestVolts: 150, Seconds: 60}), yokemate.InsulationExceeded, yokemate.Stop},
		{"a megohm and a half", insulated(yokemate.Insulation{From: "P", To: "core", Megohms: yokemate.Num(1.5), WorkingVolts: 600}), yokemate.InsulationExceeded, yokemate.Stop},
		{"228 V that may be 232 on 230 V", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			u.Insulation[0].WorkingVolts, h.Feed[0].Volts = 231, yokemate.PlusMinus(230, 1.5, yokemate.Measured)
		}), yokemate.NotProven, yokemate.Caution},
		{"12 V on top of the mains, A to core", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := autotransformer()
			s.Units[0].Insulation[2].WorkingVolts = 50
			return s, h
		}, yokemate.InsulationExceeded, yokemate.Stop},

		{"two plugs, secondaries joined", pair(small("T1", 12), small("T2", 12), 60, apart(0)), yokemate.BackFed, yokemate.Stop},
		{"two plugs, secondaries apart", pair(small("T1", 12), small("T2", 12), 60, both(apart(0), separate)), yokemate.BackFed, none},
		{"two plugs, secondaries joined, one plug out already", pair(small("T1", 12), small("T2", 12), 60, both(apart(0), func(s *yokemate.Shelf, h *yokemate.Hookup) {
			out := false
			h.Feed[1].Fed = &out
		})), yokemate.BackFed, yokemate.Stop},
		{"one plug, secondaries joined", pair(small("T1", 12), small("T2", 12), 60, nil), yokemate.BackFed, none},

		{"both halves in series", coil(split("T1", 115, 115), nil), yokemate.HalfPrimary, none},
		{"one half alone on half the mains", coil(split("T1", 115, 115), func(h *yokemate.Hookup) {
			h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(115), 104, 126
			h.Joints = append(yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}, h.Joints[3:]...)
		}), yokemate.HalfPrimary, yokemate.Caution},

		{"primaries in series, loads apart", pair(small("T1", 12), small("T2", 12), 60, both(inSeries, separate)), yokemate.SeparateLoads, yokemate.Stop},
		{"primaries in series, secondaries side by side", pair(small("T1", 12), small("T2", 12), 60, inSeries), yokemate.SeparateLoads, none},
		{"primaries in series, secondaries in series", pair(small("T1", 12), small("T2", 12), 60, both(inSeries, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[2].Pins, h.Joints[3].Pins = []string{"T1.5"}, []string{"T2.6"}
			h.Joints = append(h.Joints, yokemate.Joint{Name: "S", Pins: []string{"T1.6", "T2.5"}})
		})), yokemate.SeparateLoads, none},
		{"primaries in series, loads apart, no labels", pair(small("T1", 12), small("T2", 12), 60, both(inSeries, separate, bare)), yokemate.SeparateLoads, yokemate.Stop},
		{"primaries in series, secondaries side by side, no labels", pair(small("T1", 12), small("T2", 12), 60, both(inSeries, bare)), yokemate.SeparateLoads, none},
		{"primaries side by side, loads apart", pair(small("T1", 12), small("T2", 12), 60, separate), yokemate.SeparateLoads, none},

		{"3 VA behind 0.5 A", one(func(u *yokemate.Unit, h *yokemate.Hookup) { h.Feed[0].FuseAmps, h.Feed[0].FuseKind = 0.5, "T" }), yokemate.FuseNeverOpens, yokemate.Caution},
		{"500 VA behind 2.5 A", func() (*yokemate.Shelf, *yokemate.Hookup) {
			s, h := shelf(toroid("T1", 12)), alone(1)
			h.Feed[0].FuseAmps, h.Feed[0].FuseKind = 2.5, "T"
			return s, h
		}, yokemate.FuseNeverOpens, none},

		{"12 V out of 230 V", one(nil), yokemate.StepUp, none},
		{"12 V into the secondary", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			h.Joints = yokemate.Joints{{Name: "L", Pins: []string{"T1.5"}}, {Name: "N", Pins: []string{"T1.6"}}, {Name: "A", Pins: []string{"T1.1"}}, {Name: "B", Pins: []string{"T1.2"}}, {Name: "E", Pins: []string{"T1.core"}}}
			h.Feed[0].Volts, h.Feed[0].Low, h.Feed[0].High = yokemate.Num(12), 11, 13
			h.Outputs[0].Load = nil
		}), yokemate.StepUp, yokemate.Caution},
		{"a neighbour without mains driven through its secondary", pair(small("T1", 12), small("T2", 12), 0, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[0].Pins, h.Joints[1].Pins = []string{"T1.1"}, []string{"T1.2"}
		}), yokemate.StepUp, yokemate.Caution},

		{"all read", one(nil), yokemate.EstimatedFacts, none},
		{"idle current never read", one(func(u *yokemate.Unit, h *yokemate.Hookup) { u.Excitation = nil }), yokemate.EstimatedFacts, yokemate.Info},

		{"a label", one(nil), yokemate.MainsUnknown, none},
		{"no label", one(func(u *yokemate.Unit, h *yokemate.Hookup) { u.Mains = nil }), yokemate.MainsUnknown, yokemate.Caution},
		{"no label is not proven", one(func(u *yokemate.Unit, h *yokemate.Hookup) { u.Mains = nil }), yokemate.NotProven, yokemate.Caution},

		{"core bonded", one(nil), yokemate.EarthMissing, none},
		{"core on a joint of its own", one(func(u *yokemate.Unit, h *yokemate.Hookup) { h.Earth = "" }), yokemate.EarthMissing, yokemate.Caution},
		{"core left open", one(func(u *yokemate.Unit, h *yokemate.Hookup) {
			h.Earth, h.Joints = "", h.Joints[:4]
		}), yokemate.EarthMissing, yokemate.Caution},

		// 100 W at 230 V glow at 0.43 A; 3 VA of 10 % or 30 % let through 0.13 A at most, 60 VA of 10 % 2.6 A.
		{"100 W before 3 VA", lamp(3, yokemate.Lamp{Watts: 100, Volts: 230}), yokemate.LampTooBig, yokemate.Caution},
		{"15 W before 3 VA", lamp(3, yokemate.Lamp{Watts: 15, Volts: 230}), yokemate.LampTooBig, yokemate.Caution},
		{"40 W before 60 VA", lamp(60, yokemate.Lamp{Watts: 40, Volts: 230}), yokemate.LampTooBig, none},
		{"a resistor", lamp(60, yokemate.Lamp{Ohms: 470}), yokemate.LampNotFilament, yokemate.Info},
		{"a filament", lamp(60, yokemate.Lamp{Watts: 40, Volts: 230}), yokemate.LampNotFilament, none},

		{"two plugs on one phase", pair(small("T1", 12), small("T2", 12), 60, both(apart(0), separate)), yokemate.SupplyPhases, none},
		{"two plugs on two phases, nothing joined", pair(small("T1", 12), small("T2", 12), 60, both(apart(120), separate)), yokemate.SupplyPhases, yokemate.Info},
		{"two plugs on two phases, secondaries joined", pair(small("T1", 12), small("T2", 12), 60, apart(120)), yokemate.SupplyPhases, yokemate.Stop},
		{"two plugs on two phases, one joint made", pair(small("T1", 12), small("T2", 12), 60, both(apart(120), separate, func(s *yokemate.Shelf, h *yokemate.Hookup) {
			h.Joints[2].Pins = append(h.Joints[2].Pins, "T2.5")
			h.Joints = slices.DeleteFunc(h.Joints, func(j yokemate.Joint) bool { return j.Name == "A2" })
			h.Outputs[1].From = "A"
		})), yokemate.SupplyPhases, yokemate.Stop},

		{"in use", one(nil), yokemate.Quarantine, none},
		{"set aside", one(func(u *yokemate.Unit, h *yokemate.Hookup) { u.Status, u.Reason = "quarantine", "charred" }), yokemate.Quarantine, yokemate.Stop},
	} {
		t.Run(string(c.code)+"/"+c.name, func(t *testing.T) {
			s, h := c.make()
			p := predicted(t, s, h)
			if got := levelOf(p, c.code); got != c.level {
				t.Errorf("%q, want %q", got, c.level)
				for _, n := range p.Notes {
					t.Logf("%s %s: %s", n.Level, n.Code, n.Words)
				}
			}
			if !slices.IsSortedFunc(p.Notes, func(a, b yokemate.Note) int { return severity(a) - severity(b) }) {
				t.Error("notes are not sorted, the most severe first")
			}
			for _, n := range p.Notes {
				if n.Words == "" || strings.Contains(n.Words, "%!") || n.About == "" {
					t.Errorf("a note without words or place: %+v", n)
				}
			}
		})
	}
}

func severity(n yokemate.Note) int {
	return slices.Index([]yokemate.Level{yokemate.Stop, yokemate.Caution, yokemate.Info}, n.Level)
}
