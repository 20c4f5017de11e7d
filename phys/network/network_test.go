package network_test

import (
	"math"
	"math/cmplx"
	"testing"

	"yokemate"
	"yokemate/phys/network"
)

// pair is two invented small units made for 230 V.
func pair() *yokemate.Shelf {
	unit := func(tag string, va, ra, vb, rb, i0, w0 float64) yokemate.Unit {
		return yokemate.Unit{
			Tag:   tag,
			Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(va), Ohms: yokemate.Num(ra)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(vb), Ohms: yokemate.Num(rb), Amps: yokemate.Num(0.25)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(va), Hertz: 50, Amps: yokemate.Num(i0), Watts: yokemate.Num(w0)}},
		}
	}
	return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		unit("T1", 230, 940, 11.92, 2.9, 0.012, 1.4),
		unit("T2", 230, 910, 11.80, 2.8, 0.0125, 1.5),
	}}
}

func feed230() yokemate.Feeds {
	return yokemate.Feeds{{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}}
}

func parallel() *yokemate.Hookup {
	return &yokemate.Hookup{
		Format: yokemate.HookupFormat, Feed: feed230(),
		Joints: yokemate.Joints{
			{Name: "L", Pins: []string{"T1.1", "T2.1"}}, {Name: "N", Pins: []string{"T1.2", "T2.2"}},
			{Name: "A", Pins: []string{"T1.5", "T2.5"}}, {Name: "B1", Pins: []string{"T1.6"}}, {Name: "B2", Pins: []string{"T2.6"}},
			{Name: "E", Pins: []string{"T1.core", "T2.core"}},
		},
		Earth:  "E",
		Meters: []yokemate.MeterPoint{{Name: "gap", From: "B1", To: "B2"}},
	}
}

func solve(t testing.TB, s *yokemate.Shelf, h *yokemate.Hookup, opt network.Options) (*network.Net, *network.Solution) {
	t.Helper()
	if err := h.Validate(); err != nil {
		t.Fatal(err)
	}
	n, err := network.Build(network.Compile(s), h, opt)
	if err != nil {
		t.Fatal(err)
	}
	sol, err := n.Solve(nil)
	if err != nil {
		t.Fatal(err)
	}
	return n, sol
}

func volts(t testing.TB, n *network.Net, s *network.Solution, from, to string) complex128 {
	t.Helper()
	p, ok := n.Volts(from, to)
	if !ok {
		t.Fatalf("no points %s, %s", from, to)
	}
	return s.Value(p)
}

// The excitation reading fed back in must come out again, since N7 and N8 are
// its exact inverse. What is left is the windings' capacitance, about 4 µA at
// 230 V, which takes from the lagging idle current.
func TestExcitationRoundTrip(t *testing.T) {
	s := pair()
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Feed: feed230(), Joints: yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}}
	n, sol := solve(t, s, h, network.Options{})
	watts, _, amps := sol.FeedPower(0)
	if math.Abs(amps-0.012) > 4e-6 || math.Abs(watts-1.4) > 1e-5 {
		t.Errorf("idle %.9g A, %.9g W; the reading was 0.012 A, 1.4 W", amps, watts)
	}
	if v := cmplx.Abs(volts(t, n, sol, "T1.5", "T1.6")); math.Abs(v-11.92) > 1e-4 {
		t.Errorf("secondary %.6g V, the reading was 11.92 V", v)
	}
	if f := sol.Flux(0); math.Abs(f-1) > 1e-6 {
		t.Errorf("flux at the label is %.9g, by definition 1", f)
	}
}

func TestGap(t *testing.T) {
	s, h := pair(), parallel()
	n, sol := solve(t, s, h, network.Options{})
	right := cmplx.Abs(volts(t, n, sol, "B1", "B2"))
	h2 := h.Clone()
	h2.Joints.Joint("A").Pins[1], h2.Joints.Joint("B2").Pins[0] = "T2.6", "T2.5"
	n, sol = solve(t, s, h2, network.Options{})
	wrong := cmplx.Abs(volts(t, n, sol, "B1", "B2"))
	t.Logf("right %.4g V, reversed %.5g V, imbalance %.2g, iterations %d, condition %.2g, residual %.2g", right, wrong, sol.Imbalance(), sol.Iterations, sol.Condition(), sol.Residual)
	if math.Abs(wrong-(11.92+11.80)) > 0.01 || right < 0.12-0.001 || right > 0.2 {
		t.Errorf("gap right %.4g V, reversed %.4g V", right, wrong)
	}
}

func BenchmarkSolve(b *testing.B) {
	for _, mode := range []string{"linear", "saturating", "cold"} {
		b.Run(mode, func(b *testing.B) {
			s, h := pair(), parallel()
			n, _ := solve(b, s, h, network.Options{Linear: mode == "linear"})
			v := n.VoltsAt(yokemate.Nominal)
			low := n.VoltsAt(yokemate.Low)
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				if mode == "cold" {
					n.Restart()
				}
				x := v
				if mode == "saturating" && i%2 == 0 {
					x = low
				}
				if _, err := n.Solve(x); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
