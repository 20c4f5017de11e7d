package match_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/match"
	"yokemate/phys/network"
)

// TestPairs: on random pairs, the order of the two changes nothing but the
// order; a go keeps every limit at the end of the interval that speaks against
// it; and at the most load no winding is past its rating.
func TestPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := func(name string, lo, hi float64) yokemate.Value {
			v := lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, name))
			return yokemate.PlusMinus(v, v*rapid.Float64Range(0, 0.01).Draw(t, name+" u"), yokemate.Measured)
		}
		level := rapid.Float64Range(6, 40).Draw(t, "volts")
		s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
		for _, tag := range []string{"T1", "T2"} {
			va := num("va", 3, 300)
			drop := 0.65 * math.Pow(va.V, -0.45)
			ohms := func(v float64) yokemate.Value { return num("ohms", 0.4*drop*v*v/va.V, 0.6*drop*v*v/va.V) }
			amps := yokemate.Num(va.V / level)
			idle := num("idle", 0.05*va.V/230, 0.3*va.V/230)
			u := yokemate.Unit{
				Tag: tag, VA: va, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}},
				Windings: []yokemate.Winding{
					{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.PlusMinus(230, 0.2, yokemate.Measured), Ohms: ohms(230)},
					{ID: "A", Pins: [2]string{"5", "6"}, Volts: num("A", level, 1.1*level), Ohms: ohms(level), Amps: amps},
				},
			}
			copper := idle.V * idle.V * u.Windings[0].Ohms.V
			u.Excitation = yokemate.ExcitationList{{Series: yokemate.Series{"P"}, Volts: u.Windings[0].Volts, Hertz: 50, Amps: idle, Watts: yokemate.Num(copper + 0.4*(230*idle.V-copper))}}
			s.Units = append(s.Units, u)
		}
		f := network.Compile(s)
		weigh := func(args ...string) yokemate.Pair {
			m, err := match.Match(f, args, match.Options{})
			if err != nil {
				t.Fatal(err)
			}
			return m.Pairs[0]
		}
		p, q := weigh("T1/A", "T2/A"), weigh("T2/A", "T1/A")
		near := func(what string, a, b float64) {
			if !(math.Abs(a-b) <= 1e-6*math.Max(math.Abs(a), 1e-3)) {
				t.Fatalf("%s: %.12g one way round, %.12g the other", what, a, b)
			}
		}
		near("gap", p.GapVolts, q.GapVolts)
		near("circulating", p.CirculatingAmps, q.CirculatingAmps)
		near("most amps", p.MaxAmps, q.MaxAmps)
		near("share", p.Share[0], q.Share[1])
		if p.Verdict != q.Verdict {
			t.Fatalf("%s one way round, %s the other", p.Verdict, q.Verdict)
		}
		smaller := math.Min(s.Units[0].Windings[1].Amps.V, s.Units[1].Windings[1].Amps.V)
		if p.Verdict == yokemate.Go && (p.CirculatingHigh > 0.05*smaller || p.MaxAmps < 0.9*p.RatedAmps) {
			t.Fatalf("go with up to %.3g A of %.3g A circulating and %.3g A of %.3g A to draw", p.CirculatingHigh, smaller, p.MaxAmps, p.RatedAmps)
		}
		if (p.Verdict == yokemate.Stop) != (p.CirculatingPart > 0.15) {
			t.Fatalf("%s at %.3g of the smaller rating: %s", p.Verdict, p.CirculatingPart, p.DecidedBy)
		}
		for i := range 2 {
			if r := s.Units[i].Windings[1].Amps.V; p.Share[i]*p.MaxAmps > r*(1+1e-6) {
				t.Fatalf("%.6g A of %.6g A in a winding of %.6g A", p.Share[i]*p.MaxAmps, p.MaxAmps, r)
			}
		}
	})
}
