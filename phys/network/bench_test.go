package network_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"yokemate"
	"yokemate/phys/network"
)

// twoParallel is the two-unit hookup with its load.
func twoParallel() *yokemate.Hookup {
	h := parallel()
	h.Joints = append(h.Joints[:4:4], h.Joints[5:]...)
	h.Joints[3].Name, h.Joints[3].Pins = "B", []string{"T1.6", "T2.6"}
	h.Meters = nil
	h.Outputs = []yokemate.Output{{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: 24}}}
	return h
}

// fourOfFive is four units of five windings each: primaries in parallel, the
// first secondaries too, the second ones in series, the rest open.
func fourOfFive() (*yokemate.Shelf, *yokemate.Hookup) {
	m := maker{rand.New(rand.NewPCG(5, 5))}
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Feed: feed230()}
	w := &wires{used: map[string]bool{}}
	for len(s.Units) < 4 {
		u := m.unit(fmt.Sprintf("T%d", len(s.Units)+1))
		if len(u.Windings) != 5 || len(u.Mains.Series) != 1 || u.Windings[1].Pins[1] == u.Windings[2].Pins[0] {
			continue
		}
		k := len(s.Units)
		s.Units = append(s.Units, u)
		pin := func(w, end int) string { return u.Tag + "." + u.Windings[w].Pins[end] }
		w.put("L", pin(0, 0))
		w.put("N", pin(0, 1))
		w.put("A", pin(1, 0))
		w.put("B", pin(1, 1))
		w.put(fmt.Sprintf("S%d", k), pin(2, 0))
		w.put(fmt.Sprintf("S%d", k+1), pin(2, 1))
		w.put("E", u.Tag+"."+yokemate.CorePin)
	}
	h.Joints, h.Earth = w.joints, "E"
	h.Outputs = []yokemate.Output{
		{Name: "one", From: "A", To: "B", Load: &yokemate.Load{Ohms: 50}},
		{Name: "two", From: "S0", To: "S4", Load: &yokemate.Load{Ohms: 200}},
	}
	return s, h
}

func solveCases() []struct {
	name   string
	shelf  *yokemate.Shelf
	hookup *yokemate.Hookup
	opt    network.Options
} {
	lamp := twoParallel()
	lamp.Feed[0].Lamp = &yokemate.Lamp{Watts: 25, Volts: 230}
	amps := twoParallel()
	amps.Outputs[0].Load = &yokemate.Load{Amps: 0.4}
	big, four := fourOfFive()
	return []struct {
		name   string
		shelf  *yokemate.Shelf
		hookup *yokemate.Hookup
		opt    network.Options
	}{
		{"linear", pair(), twoParallel(), network.Options{Linear: true}},
		{"saturating", pair(), twoParallel(), network.Options{}},
		{"lamp", pair(), lamp, network.Options{}},
		{"amps", pair(), amps, network.Options{}},
		{"four units of five windings", big, four, network.Options{}},
	}
}

// BenchmarkSteady solves at nominal and at low mains in turn, so that every
// solve has its way to go.
func BenchmarkSteady(b *testing.B) {
	for _, c := range solveCases() {
		b.Run(c.name, func(b *testing.B) {
			n, _ := solve(b, c.shelf, c.hookup, c.opt)
			v := [2]network.FeedVolts{n.VoltsAt(yokemate.Nominal), n.VoltsAt(yokemate.Low)}
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				if _, err := n.Solve(v[i%2]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkBuild(b *testing.B) {
	f, h := network.Compile(pair()), twoParallel()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := network.Build(f, h, network.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSpread(b *testing.B) {
	for _, c := range solveCases()[1:] {
		b.Run(c.name, func(b *testing.B) {
			_, sol := solve(b, c.shelf, c.hookup, c.opt)
			b.ReportAllocs()
			for b.Loop() {
				sol.Spread()
			}
		})
	}
}

// TestSolveAllocatesNothing: once a network is built, solving it allocates
// nothing, from a warm start and from a cold one.
func TestSolveAllocatesNothing(t *testing.T) {
	for _, c := range solveCases() {
		n, _ := solve(t, c.shelf, c.hookup, c.opt)
		v := [2]network.FeedVolts{n.VoltsAt(yokemate.Nominal), n.VoltsAt(yokemate.High)}
		i := 0
		allocs := testing.AllocsPerRun(100, func() {
			if i++; i%3 == 0 {
				n.Restart()
			}
			if _, err := n.Solve(v[i%2]); err != nil {
				t.Fatal(err)
			}
		})
		if allocs != 0 {
			t.Errorf("%s: %g allocations a solve", c.name, allocs)
		}
	}
}
