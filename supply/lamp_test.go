package supply

import (
	"math"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
)

// toy is a unit of no leakage whose regulation is split between both sides.
func toy(va, regulation, idle float64) *network.Facts {
	exact := yokemate.Num
	volts := 12 * (1 + regulation)
	return network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
		Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: yokemate.Num(va),
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: exact(230), Ohms: exact(regulation / 2 * 230 * 230 / va), LeakageMH: exact(0)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: exact(volts), Ohms: exact(regulation / 2 * volts * volts / va), Amps: exact(va / 12), LeakageMH: exact(0)}},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: exact(230), Hertz: 50, Amps: exact(idle), Watts: exact(100 * idle)}},
	}}})
}

// TestFirstPower holds the lamp to practice and to a closed form. The sizes of
// units, their rated and short-circuit amps and the lamps that fit are common
// practice, no source: for 6 VA a lamp of 15 W, and one of 60 W stays all but dark on a dead
// short and passes a bad unit; 15 to 25 W for 15 VA, 25 to 40 W for 30 VA, 60 W for 60 VA.
func TestFirstPower(t *testing.T) {
	for _, c := range []struct {
		va, rated, short, least, most float64
	}{{6, 0.026, 0.09, 15, 15}, {15, 0.065, 0.33, 15, 25}, {30, 0.13, 0.9, 25, 40}, {60, 0.26, 2.6, 60, 60}, {120, 0.52, 6.5, 100, 100}} {
		f := toy(c.va, c.rated/c.short, 0.15*c.rated)
		r, err := FirstPower(f, "T1")
		if err != nil {
			t.Fatal(err)
		}
		if r.LampWatts < c.least || r.LampWatts > c.most || r.LampCount != 1 {
			t.Errorf("%g VA: %d × %g W, by practice %g to %g W", c.va, r.LampCount, r.LampWatts, c.least, c.most)
		}
		// The table's short-circuit amps are the volts over the ohms that make the regulation: 5 %, for the joint and the idle current.
		if math.Abs(r.ShortAmps/c.short-1) > 0.05 {
			t.Errorf("%g VA: shorted %g A, by practice %g A", c.va, r.ShortAmps, c.short)
		}
		ohms := 230 / r.ShortAmps
		for _, l := range r.Lamps {
			good, short := l.States[0], l.States[len(l.States)-1]
			if short.State != yokemate.ShortedWinding || good.State != yokemate.GoodUnit {
				t.Fatalf("%+v", l.States)
			}
			// The lamp in series with plain ohms (closed form in package protect): 1 %.
			n := float64(l.Count)
			want := protect.Lamp{Watts: n * l.Watts, Volts: n * 230}.InSeries(230, ohms)
			if math.Abs(short.LampVolts-want) > 0.01*230 {
				t.Errorf("%g VA, %d × %g W, shorted: %g V on the lamp, by ohms %g V", c.va, l.Count, l.Watts, short.LampVolts, want)
			}
			if l.Count == 1 && l.Watts == 60 && c.va == 6 && (l.Verdict != yokemate.TooBigLamp || short.Glow == yokemate.Bright) {
				t.Errorf("60 W before 6 VA: %+v", l)
			}
			if l.Watts == r.LampWatts && l.Count == r.LampCount && (good.Glow != yokemate.Dark || !short.Told || short.Glow == yokemate.Dark) {
				t.Errorf("%g VA: the lamp to take: %+v", c.va, l)
			}
			for k, s := range l.States {
				if k > 0 && s.Amps < good.Amps {
					t.Errorf("%g VA: a short draws less than a good unit: %+v", c.va, s)
				}
			}
		}
	}
}

// TestNoLamp: units that no lamp makes safe, or that no lamp tells.
func TestNoLamp(t *testing.T) {
	f := toy(0.5, 0.6, 0.001)
	r, err := FirstPower(f, "T1")
	if err != nil {
		t.Fatal(err)
	}
	if r.LampWatts != 0 || len(r.Notes) == 0 || r.Notes[0].Code != yokemate.LampTooBig || r.Notes[0].Level != yokemate.Caution {
		t.Errorf("half a VA: %+v", r)
	}
	core := toy(30, 0.1, 0.02)
	core.Shelf.Units[0].Windings[1].Pins[1] = yokemate.CorePin
	if _, err := FirstPower(network.Compile(core.Shelf), "T1"); yokemate.ErrorCode(err) != yokemate.Impossible {
		t.Errorf("a winding on the core: %v", err)
	}
	kept := toy(30, 0.1, 0.02)
	kept.Shelf.Units[0].Status = "quarantine"
	if _, err := FirstPower(network.Compile(kept.Shelf), "T1"); yokemate.ErrorCode(err) != yokemate.Impossible {
		t.Errorf("quarantine: %v", err)
	}
	if _, err := FirstPower(f, "T9"); yokemate.ErrorCode(err) != yokemate.NotFound {
		t.Errorf("no such unit: %v", err)
	}
}

// TestOneTurn: one turn shorted in a winding draws, seen from the mains, what
// its volts over its ohms are, times its share of the turns and the ratio (closed form
// without the drop in the mains side).
func TestOneTurn(t *testing.T) {
	f := toy(30, 0.02, 0.001)
	u, err := f.Unit("T1")
	if err != nil {
		t.Fatal(err)
	}
	h := Alone(u.Source)
	h.Outputs = nil
	draw := func(s state) float64 {
		n, err := network.Build(f, h, s.opt(u))
		if err != nil {
			t.Fatal(err)
		}
		sol, err := n.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		watts, _, _ := sol.FeedPower(0)
		return watts
	}
	part := oneTurn(u, "A", 4)
	a := u.Source.Winding("A")
	// Watts in the turn: (part V)²/(part R).
	want := part * a.Volts.V * a.Volts.V / a.Ohms.V
	got := draw(state{yokemate.ShortedTurns, "A", part}) - draw(state{})
	if math.Abs(got/want-1) > 0.05 { // the drop in the mains side, of 1 % at full load
		t.Errorf("a shorted turn takes %g W, by Ohm's law %g W", got, want)
	}
}
