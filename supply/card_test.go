package supply_test

import (
	"math"
	"math/cmplx"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/supply"
)

// TestShortProofUnit: a unit of 2 VA whose own short is below twice its rating gives for
// a part of the time what leaves it a quarter of its no-load volts: three
// quarters of the short's current V/|Z|, Z the winding's ohms and, by the turns, the
// primary's beside the excitation's (closed form; it has no leakage).
func TestShortProofUnit(t *testing.T) {
	f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
		Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: num(2),
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(4960)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(14.4), Ohms: num(12.2), Amps: num(0.222)}},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.008), Watts: num(0.9)}}}}})
	h := hookup("T1")
	h.Outputs = []yokemate.Output{{Name: "bell", From: "A", To: "B", Load: &yokemate.Load{Ohms: 100}}}
	c, err := supply.Limits(f, h, supply.CardOptions{})
	if err != nil {
		t.Fatal(err)
	}
	l := c.Outputs[0]
	active := 0.9 / 230
	idle := complex(active, -math.Sqrt(0.008*0.008-active*active))
	e := 230 - 4960*idle
	turns := 14.4 / cmplx.Abs(e)
	excitation := e / idle
	z := 12.2 + complex(turns*turns, 0)*4960*excitation/(4960+excitation)
	want := 0.75 * 14.4 / cmplx.Abs(z)
	if math.Abs(l.DutyAmps/want-1) > 0.02 { // the excitation is not the same at a quarter of the volts
		t.Errorf("%.4f A for a part of the time, by hand %.4f A", l.DutyAmps, want)
	}
	if math.Abs(l.Amps/0.222-1) > 0.003 {
		t.Errorf("%.4f A for ever, and its label says 0.222 A", l.Amps)
	}
}

// TestHottestMains: the current for ever, the one for a part of the time and the hottest air
// hold at the highest mains and at the end of each stretch, by the heat
// network asked outright.
func TestHottestMains(t *testing.T) {
	h := hookup("T3")
	h.Outputs = []yokemate.Output{{Name: "bell", From: "A", To: "C", Load: &yokemate.Load{Amps: 1.5}}}
	const ambient = 55 // hotter than the rating's 40 °C, so that heat decides
	for _, stretch := range []float64{60, 600} {
		c, err := supply.Limits(shelf(), h, supply.CardOptions{Heat: thermal.Options{AmbientC: ambient}, StretchS: stretch})
		if err != nil {
			t.Fatal(err)
		}
		l := c.Outputs[0]
		if l.DutyOnS != stretch {
			t.Errorf("the card tells of stretches of %g s, not %g s", l.DutyOnS, stretch)
		}
		hottest := func(amps float64, opt thermal.Options) float64 {
			x := h.Clone()
			x.Outputs[0].Load = &yokemate.Load{Amps: amps}
			n, err := thermal.New(shelf(), x, yokemate.High, opt)
			if err != nil {
				t.Fatal(err)
			}
			s, err := n.Equilibrium()
			if err != nil {
				t.Fatal(err)
			}
			return s.Hottest().Celsius - s.Hottest().Limit
		}
		// The search ends within 0.2 % of the current, which is 0.4 % of 45 K.
		if over := hottest(l.Amps, thermal.Options{AmbientC: ambient}); math.Abs(over) > 0.4 {
			t.Errorf("%.3f A for ever rests %.2f K from the limit at the highest mains", l.Amps, over)
		}
		if over := hottest(l.DutyAmps, thermal.Options{AmbientC: ambient, Duty: l.Duty, StretchS: stretch}); math.Abs(over) > 0.6 {
			t.Errorf("%.3f A for %g s at a time comes to %.2f K from the limit", l.DutyAmps, stretch, over)
		}
		// HighestC is found to half a degree, downwards.
		if over := hottest(1.5, thermal.Options{AmbientC: c.HighestC}); over > 0 || over < -1 {
			t.Errorf("in air of %.1f °C the load rests %.2f K from the limit", c.HighestC, over)
		}
	}
}
