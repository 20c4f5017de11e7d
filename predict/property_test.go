package predict_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
)

// fact is one uncertain number of a shelf or hookup that can be moved.
type fact struct {
	name  string
	value *yokemate.Value
}

// facts lists every fact with an uncertainty of its own.
func facts(s *yokemate.Shelf, h *yokemate.Hookup) (out []fact) {
	add := func(name string, v *yokemate.Value) {
		if v.Known() && v.U > 0 {
			out = append(out, fact{name, v})
		}
	}
	for i := range s.Units {
		u := &s.Units[i]
		for w := range u.Windings {
			x := &u.Windings[w]
			// The excited winding's volts are those of its excitation: one reading.
			if x.ID != "P" {
				add(u.Tag+"/"+x.ID+" volts", &x.Volts)
			}
			add(u.Tag+"/"+x.ID+" ohms", &x.Ohms)
			add(u.Tag+"/"+x.ID+" amps", &x.Amps)
		}
		add(u.Tag+" idle amps", &u.Excitation[0].Amps)
		add(u.Tag+" idle watts", &u.Excitation[0].Watts)
	}
	add("feed volts", &h.Feed[0].Volts)
	return out
}

func copied(s *yokemate.Shelf) *yokemate.Shelf {
	c := *s
	c.Units = slices.Clone(s.Units)
	for i := range c.Units {
		c.Units[i].Windings = slices.Clone(c.Units[i].Windings)
		c.Units[i].Excitation = slices.Clone(c.Units[i].Excitation)
	}
	return &c
}

// TestNeverOnACentralValue: a hookup without a caution never becomes one with
// a stop when a fact moves to the end of its 95 % interval. Every limit is
// drawn near enough to be met: load near the rating, mains near the flux
// limits, insulation near the volts, pairs that circulate about the limit.
func TestNeverOnACentralValue(t *testing.T) {
	draws, clean, stopped := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		draws++
		between := func(lo, hi float64, name string) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		doubt := func(v float64, name string) yokemate.Value {
			return yokemate.PlusMinus(v, v*rapid.SampledFrom([]float64{0.0005, 0.003, 0.01, 0.03}).Draw(t, name), yokemate.Measured)
		}
		va := between(3, 200, "VA")
		reg := between(0.05, 0.25, "regulation")
		volts := between(8, 40, "volts")
		var units []yokemate.Unit
		n := rapid.IntRange(1, 2).Draw(t, "units")
		for k := range n {
			v := volts * (1 + float64(k)*between(-0.02, 0.02, "mismatch"))
			idle := between(0.05, 0.3, "idle") * va / 230
			u := unit([]string{"T1", "T2"}[k], 230, v, va, reg, idle, 0.4*idle*230+idle*idle*230*230/va*reg)
			u.Windings[1].Volts = doubt(v, "u volts")
			u.Windings[1].Ohms = doubt(u.Windings[1].Ohms.V, "u ohms")
			u.Windings[0].Ohms = doubt(u.Windings[0].Ohms.V, "u primary ohms")
			u.Windings[1].Amps = doubt(va/v, "u amps")
			u.Excitation[0].Amps, u.Excitation[0].Watts = doubt(u.Excitation[0].Amps.V, "u idle"), doubt(u.Excitation[0].Watts.V, "u watts")
			u.Insulation[0].WorkingVolts = between(225, 300, "working volts")
			units = append(units, u)
		}
		load := between(0.5, 1.05, "load")
		h := alone(volts * volts / va / load)
		if n == 2 {
			h = parallel(volts * volts / va / load / 2)
		}
		h.Feed[0].Volts, h.Feed[0].High = doubt(230, "u feed"), between(240, 275, "high")
		s := shelf(units...)
		judge := func(s *yokemate.Shelf, h *yokemate.Hookup) (yokemate.Level, []yokemate.Note) {
			p, err := predict.Hookup(network.Compile(s), h, yokemate.Nominal, predict.Options{Brief: true})
			if err != nil {
				t.Fatal(err)
			}
			return yokemate.Worst(p.Notes), p.Notes
		}
		level, _ := judge(s, h)
		if level == yokemate.Stop {
			stopped++
		}
		if level != yokemate.Info {
			return
		}
		clean++
		all := facts(s, h)
		for i := range all {
			for _, end := range []float64{-1.96, 1.96} {
				c, g := copied(s), h.Clone()
				x := facts(c, g)[i]
				scale := (x.value.V + end*x.value.U) / x.value.V
				*x.value = yokemate.PlusMinus(x.value.V*scale, x.value.U, yokemate.Measured)
				if x.name == "feed volts" {
					g.Feed[0].High *= scale // the band goes with the socket
				}
				if l, notes := judge(c, g); l == yokemate.Stop {
					t.Fatalf("no caution at the best values, and a stop with %s moved to %.4g: %v", x.name, x.value.V, notes)
				}
			}
		}
	})
	t.Logf("of %d, %d without a caution, %d with a stop", draws, clean, stopped)
	// A short run draws too few to hold the shares of the draw to anything.
	if draws >= 100 && (clean < 5 || stopped < 5) {
		t.Errorf("%d hookups without a caution and %d with a stop are too few to say anything", clean, stopped)
	}
}
