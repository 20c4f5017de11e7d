package find_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"yokemate"
)

// maker makes invented units. Sizes, regulation and idle current follow
// common practice for small units (no source): they only have to be of the
// right order.
type maker struct{ r *rand.Rand }

func newMaker(seed uint64) maker { return maker{rand.New(rand.NewPCG(seed, 7))} }

func (m maker) between(a, b float64) float64 { return a + (b-a)*m.r.Float64() }

func digits(v float64, n int) yokemate.Value {
	s := math.Pow(10, float64(n)-1-math.Floor(math.Log10(v)))
	return yokemate.Num(math.Round(v*s) / s)
}

// unit makes one with the given secondaries' nominal volts.
func (m maker) unit(tag string, mains float64, split bool, va float64, volts []float64, known bool) yokemate.Unit {
	reg := m.between(0.8, 1.2) * 0.45 * math.Pow(va, -0.4)
	idle := m.between(0.7, 1.3) * 0.9 * math.Pow(va, -0.35) * va / mains
	iron := m.between(0.8, 1.2) * (0.6 + 0.045*va)
	u := yokemate.Unit{
		Tag: tag, ThermalClass: "B", VA: yokemate.PlusMinus(math.Round(va), 0, yokemate.Label),
		Mains: &yokemate.Mains{Volts: mains, Hertz: 50},
	}
	e := yokemate.Excitation{Volts: yokemate.Num(mains), Hertz: 50}
	coil := func(id, p, q string, v float64) {
		r := reg / 2 * mains * v / va
		u.Windings = append(u.Windings, yokemate.Winding{ID: id, Pins: [2]string{p, q}, Volts: digits(v, 4), Ohms: digits(r*m.between(0.99, 1.01), 4)})
		u.Mains.Series = append(u.Mains.Series, id)
		e.Series = append(e.Series, id)
	}
	if split {
		coil("P1", "1", "2", mains/2)
		coil("P2", "3", "4", mains/2)
	} else {
		coil("P", "1", "2", mains)
	}
	r := 0.0
	for _, w := range u.Windings {
		r += w.Ohms.V
	}
	e.Amps = digits(idle, 3)
	watts := math.Min(iron, 0.7*mains*e.Amps.V) + e.Amps.V*e.Amps.V*r
	e.Watts = digits(math.Min(watts, 0.9*mains*e.Amps.V), 3)
	u.Excitation = yokemate.ExcitationList{e}
	for i, v := range volts {
		share := va / float64(len(volts))
		nl := v * (1 + reg) * m.between(0.985, 1.015)
		u.Windings = append(u.Windings, yokemate.Winding{
			ID: string(rune('A' + i)), Pins: [2]string{fmt.Sprint(5 + 2*i), fmt.Sprint(6 + 2*i)},
			Volts: digits(nl, 4), Ohms: digits(reg/2*v*v/share*m.between(0.95, 1.05), 3), Amps: digits(share/v, 2),
		})
	}
	if known {
		for i, a := range u.Windings {
			u.Insulation = append(u.Insulation, yokemate.Insulation{From: a.ID, To: "core", WorkingVolts: 300})
			for _, b := range u.Windings[:i] {
				u.Insulation = append(u.Insulation, yokemate.Insulation{From: b.ID, To: a.ID, WorkingVolts: 300})
			}
		}
	}
	return u
}

var (
	sizes = []float64{3, 6, 10, 15, 20, 30, 50, 80}
	rated = []float64{6, 7.5, 9, 12, 12, 15, 18, 20, 24, 30}
)

// shelf makes n random units of at most so many windings.
func (m maker) shelf(n, windings int) *yokemate.Shelf {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	for i := range n {
		secondaries := 1 + m.r.IntN(windings-1)
		split := secondaries+2 <= windings && m.r.IntN(3) == 0
		var v []float64
		for len(v) < secondaries {
			x := rated[m.r.IntN(len(rated))]
			if len(v) > 0 && m.r.IntN(2) == 0 {
				x = v[0]
			}
			v = append(v, x)
		}
		mains := 230.0
		switch m.r.IntN(8) {
		case 0:
			mains = 115
		case 1:
			mains = 240
		}
		s.Units = append(s.Units, m.unit(fmt.Sprintf("T%d", i+1), mains, split, sizes[m.r.IntN(len(sizes))], v, m.r.IntN(2) == 0))
	}
	return s
}

func need(volts, amps float64, units int) *yokemate.Need {
	return &yokemate.Need{Format: yokemate.NeedFormat, Kind: "ac", Volts: volts, Tolerance: 0.05, Amps: amps, MaxUnits: units,
		Feed: yokemate.Feed{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}}
}
