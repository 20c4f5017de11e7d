package supply

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
)

// feeding is a unit on 230 V, with a tap, and one output.
func feeding(primary, secondary, amps float64, o yokemate.Output) (*network.Facts, *yokemate.Hookup) {
	exact := yokemate.Num
	f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
		Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}},
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: exact(230), Ohms: exact(primary), LeakageMH: exact(0)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: exact(16), Ohms: exact(secondary), Amps: exact(amps), LeakageMH: exact(0)},
			{ID: "B", Pins: [2]string{"6", "7"}, Volts: exact(16), Ohms: exact(secondary), Amps: exact(amps), LeakageMH: exact(0)},
		},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: exact(230), Hertz: 50, Amps: exact(0.01), Watts: exact(1)}},
	}}})
	return f, &yokemate.Hookup{
		Format: yokemate.HookupFormat, Feed: yokemate.Feeds{{Volts: exact(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}},
		Joints: yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}},
			{Name: "A", Pins: []string{"T1.5"}}, {Name: "B", Pins: []string{"T1.6"}}, {Name: "C", Pins: []string{"T1.7"}}},
		Outputs: []yokemate.Output{o},
	}
}

func fuseOf(t *testing.T, primary, secondary, amps, mains float64, o yokemate.Output) *yokemate.OutputFuse {
	t.Helper()
	f, h := feeding(primary, secondary, amps, o)
	x, err := outputFuse(f, h, 0, amps, mains, "T")
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestOutputFuse holds the short's current to Ohm's law, the fuse to its gates,
// and what protects to practice: a unit of 50 VA and its fuse save each other,
// and under 15 VA no fuse in the live wire opens in time (common practice, no source).
func TestOutputFuse(t *testing.T) {
	ac := func(amps float64) yokemate.Output {
		return yokemate.Output{Name: "o", From: "A", To: "B", Load: &yokemate.Load{Amps: amps}}
	}
	x := fuseOf(t, 38, 0.33, 1.6, 0.315, ac(1.6))
	// 14.4 V at 207 V over the winding, the primary seen from it and the joint;
	// 2 %: idle current and the feed's own ohms are left out.
	if want := 14.4 / (0.33 + 38*math.Pow(16.0/230, 2) + jointOhms); math.Abs(x.ShortAmps/want-1) > 0.02 {
		t.Errorf("short %g A, by Ohm's law %g A", x.ShortAmps, want)
	}
	if x.Amps != 2.5 || x.Count != 1 || x.Opens != "yes" || x.Primary != "yes" || x.LoadAmps != 1.6 {
		t.Errorf("%+v", x)
	}
	if _, most := (protect.Link{Amps: 2.5, Kind: "T"}).Opening(x.ShortAmps); x.OpensS == nil || *x.OpensS != most || x.LimitS == nil || most > sureShare**x.LimitS {
		t.Errorf("opens in %v s, gates say %g s, limit %v", x.OpensS, most, x.LimitS)
	}
	// 3 VA of 35 % regulation: the short is some three times the rating.
	small := fuseOf(t, 2600, 18, 0.19, 0.05, ac(0.19))
	if small.Primary == "yes" || small.LimitS == nil {
		t.Errorf("%+v", small)
	}
	if small.Opens != "yes" && !strings.Contains(strings.Join(small.Why, " "), "thermal link in the unit; without one") {
		t.Errorf("what protects is not told: %q", small.Why)
	}
	// Where no rating stands between the current and the limit, none is given.
	none := fuseOf(t, 38, 0.33, 30, 2, ac(30))
	if none.Amps != 0 || none.Opens != "no" || none.OpensS != nil {
		t.Errorf("%+v", none)
	}
	// A short that a glass link does not break.
	big := fuseOf(t, 0.5, 0.005, 8, 2, ac(8))
	if !strings.Contains(strings.Join(big.Why, " "), "ceramic") {
		t.Errorf("%g A: %q", big.ShortAmps, big.Why)
	}
	f, h := feeding(38, 0.33, 1.6, yokemate.Output{Name: "o", From: "A", To: "B"})
	if x, err := outputFuse(f, h, 0, 1.6, 0.3, "T"); x != nil || err != nil {
		t.Errorf("an output that draws nothing: %+v, %v", x, err)
	}
}

// TestRectifiedFuse: the fuse carries the waveform's rms current, above the DC
// amps; one in each lead of a centre tap; diodes weaken a short, half wave by √2.
func TestRectifiedFuse(t *testing.T) {
	dc := func(kind, middle, to string) *yokemate.OutputFuse {
		return fuseOf(t, 38, 0.33, 1.6, 0.315, yokemate.Output{Name: "o", From: "A", To: to, DC: &yokemate.DC{Rectifier: kind, Middle: middle, Farads: 2200e-6, Amps: 0.5}})
	}
	plain := fuseOf(t, 38, 0.33, 1.6, 0.315, yokemate.Output{Name: "o", From: "A", To: "B", Load: &yokemate.Load{Amps: 1.6}})
	bridge, half, tap := dc("bridge", "", "B"), dc("half", "", "B"), dc("centre-tap", "B", "C")
	if bridge.LoadAmps < 0.75 || bridge.LoadAmps > 1.15 || bridge.Count != 1 {
		t.Errorf("bridge %+v", bridge)
	}
	if tap.Count != 2 || tap.Lead != "A and C" || math.Abs(tap.LoadAmps*math.Sqrt2/bridge.LoadAmps-1) > 0.1 {
		t.Errorf("centre tap %+v", tap)
	}
	// Two drops of 1 V out of 14.4 V, and one, on every other half wave.
	if math.Abs(bridge.ShortAmps/plain.ShortAmps-12.4/14.4) > 0.01 || math.Abs(half.ShortAmps/plain.ShortAmps-13.4/14.4/math.Sqrt2) > 0.01 {
		t.Errorf("shorts %g, %g, %g A", plain.ShortAmps, bridge.ShortAmps, half.ShortAmps)
	}
}

// TestCharging: to charge C through R from a steady V takes C V²/(2R) of ∫i²dt
// (closed form); a sine that rises to V takes less, in the limit of a quick
// reservoir much less, and twice the reservoir takes more.
func TestCharging(t *testing.T) {
	squares := map[float64]float64{}
	for _, farads := range []float64{2200e-6, 4400e-6} {
		f, h := feeding(38, 0.33, 1.6, yokemate.Output{Name: "o", From: "A", To: "B", DC: &yokemate.DC{Rectifier: "bridge", Farads: farads, Amps: 1e-3}})
		q, err := charging(f, h, 0)
		if err != nil {
			t.Fatal(err)
		}
		peak, ohms := 16*1.1*math.Sqrt2, 0.33+38*math.Pow(16.0/230, 2)
		if most := farads * peak * peak / (2 * ohms); q > most || q < most/4 {
			t.Errorf("%g F: %g A²s, a step would take %g", farads, q, most)
		}
		squares[farads] = q
	}
	if squares[4400e-6] <= squares[2200e-6] {
		t.Errorf("%v", squares)
	}
}

// TestFuseOfAllOutputs: two windings of one unit that draw at once ask of the
// mains what both of them carry, and the fuse is for that: not for one of them.
func TestFuseOfAllOutputs(t *testing.T) {
	load := &yokemate.Load{Ohms: 40}
	f, h := feeding(38, 0.33, 1.6, yokemate.Output{Name: "a", From: "A", To: "B", Load: load})
	h.Outputs = append(h.Outputs, yokemate.Output{Name: "b", From: "B", To: "C", Load: load})
	c, err := Limits(f, h, CardOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// 2 × 16 V × 1.6 A over 230 V, by the open volts: no loss of volts where it is power that counts.
	if want := 2 * 16 * 1.6 / 230; c.Together < 0.99 || math.Abs(c.FeedAmps/want-1) > 0.03 {
		t.Errorf("%g A from the mains with all outputs at %g of their amps, by power %g A", c.FeedAmps, c.Together, want)
	}
	if c.PrimaryFuse < 1.5*c.FeedAmps || c.PrimaryFuse > 3*c.FeedAmps {
		t.Errorf("fuse %g A for %g A", c.PrimaryFuse, c.FeedAmps)
	}
	// Two outputs of one winding cannot both have all of it.
	h.Outputs[1].From, h.Outputs[1].To = "A", "B"
	if c, err = Limits(f, h, CardOptions{}); err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Together-0.5) > 0.01 {
		t.Errorf("two outputs of one winding give %g of their amps at once", c.Together)
	}
}

// TestFaults: what follows on a fault is told the same way by three roads: the
// times of the gates at the current that flows, the fuse's own result, and
// practice. A unit of 50 VA is saved by its fuses on a dead short, one of 3 VA by
// none on a short of half its turns (common practice, no source).
func TestFaults(t *testing.T) {
	card := func(primary, secondary, amps float64) *yokemate.LimitsCard {
		f, h := feeding(primary, secondary, amps, yokemate.Output{Name: "o", From: "A", To: "B", Load: &yokemate.Load{Amps: amps}})
		c, err := Limits(f, h, CardOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	of := func(c *yokemate.LimitsCard, kind yokemate.FaultKind, about string) yokemate.CardFault {
		for _, f := range c.Faults {
			if f.Fault == kind && f.About == about {
				return f
			}
		}
		t.Fatalf("no fault %s of %s in %+v", kind, about, c.Faults)
		return yokemate.CardFault{}
	}
	big := card(38, 0.33, 1.6)
	short := of(big, yokemate.ShortedOutput, "o")
	if short.Secondary != big.Outputs[0].Fuse.Opens || short.Protects != yokemate.OwnFuse || short.Primary != "yes" {
		t.Errorf("%+v", short)
	}
	// The slow end of the gates at the current of the hot copper is a bound from
	// both sides: the first current is greater, the last one less.
	link := protect.Link{Amps: big.PrimaryFuse, Kind: big.FuseKind}
	if _, most := link.Opening(short.FeedAmps); short.PrimaryS == nil || *short.PrimaryS > 1.2*most || *short.PrimaryS < 0.5*most {
		t.Errorf("opens within %v, by the gates at %g A within %g s", short.PrimaryS, short.FeedAmps, most)
	}
	small := card(2600, 18, 0.19)
	half := of(small, yokemate.HalfShorted, "T1/A")
	if half.Protects != yokemate.LinkInTheUnit || half.Secondary != "none" || half.LimitS == nil {
		t.Errorf("%+v", half)
	}
	if len(small.ThermalLinks) != 1 || small.ThermalLinks[0].Unit != "T1" || small.ThermalLinks[0].Celsius > 105 || small.ThermalLinks[0].Celsius < 95 {
		t.Errorf("%+v", small.ThermalLinks) // class A is taken where none is known: 105 °C (IEC 60085)
	}
	for _, f := range big.Faults {
		if f.Fault == yokemate.TurnedRound {
			t.Errorf("one winding by itself may be turned as one likes: %+v", f)
		}
	}
}

// TestTurnedRound: of two windings in parallel either one the wrong way round
// burns both, and of two in series none: they give less, that is all.
func TestTurnedRound(t *testing.T) {
	f, h := feeding(38, 0.33, 1.6, yokemate.Output{Name: "o", From: "A", To: "B", Load: &yokemate.Load{Amps: 1}})
	u := &f.Shelf.Units[0]
	u.Windings[2].Pins = [2]string{"8", "7"}
	f = network.Compile(f.Shelf)
	wired := func(a, b string) int {
		x := h.Clone()
		x.Joints = yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}
		for _, j := range []yokemate.Joint{{Name: "A", Pins: []string{"T1.5"}}, {Name: "M", Pins: []string{"T1.6"}}, {Name: "B"}} {
			x.Joints = append(x.Joints, j)
		}
		at := func(j, pin string) { q := x.Joints.Joint(j); q.Pins = append(q.Pins, pin) }
		at(a, "T1.8")
		at(b, "T1.7")
		if b == "M" {
			x.Joints = x.Joints[:4]
			x.Outputs[0].To = "M"
		}
		list, _, err := faults(f, x, 0.3, "T", []*yokemate.OutputFuse{nil})
		if err != nil {
			t.Fatal(err)
		}
		turned := 0
		for _, c := range list {
			if c.Fault == yokemate.TurnedRound {
				turned++
			}
		}
		return turned
	}
	if n := wired("A", "M"); n != 2 {
		t.Errorf("%d of two parallel windings may not be turned", n)
	}
	if n := wired("M", "B"); n != 0 {
		t.Errorf("%d of two windings in series may not be turned", n)
	}
}

// TestFuseOfALightLoad: the limit of the fuse in the live wire is a share of what that side is
// rated for, not of what the load at hand asks, so that a big unit with little to do has a fuse
// that carries its switch-on; and the list of parts calls no fuse one that carries it which does not.
func TestFuseOfALightLoad(t *testing.T) {
	f, h := feeding(40, 0.3, 2, yokemate.Output{Name: "out", From: "A", To: "B"})
	need := &yokemate.Need{Format: yokemate.NeedFormat, Kind: "dc", Volts: 5, Amps: 0.1, Regulated: true, Feed: h.Feed[0]}
	said := func(kind string) (*yokemate.Supply, string) {
		s, err := Design(f, h, Source{From: "A", To: "B"}, need, Options{FuseKind: kind})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range s.Parts {
			if strings.HasSuffix(p.What, "in the live wire") {
				return s, p.Why
			}
		}
		t.Fatalf("no fuse in the live wire among %+v", s.Parts)
		return nil, ""
	}
	refused := func(s *yokemate.Supply) bool {
		return slices.ContainsFunc(s.FuseWhy, func(w string) bool { return strings.Contains(w, "may open on an inrush") })
	}
	s, why := said("T")
	if refused(s) || !strings.HasPrefix(why, "carries") {
		t.Errorf("T: %q, %q", why, s.FuseWhy)
	}
	limit := s.FuseWhy[len(s.FuseWhy)-1]
	var rated float64
	if _, err := fmt.Sscanf(limit, "The limit is 300 %% of %g A", &rated); err != nil {
		t.Fatalf("%q: %v", limit, err)
	}
	// Both secondaries at 2 A, by the turns, and the idle current, as the primary's own copper is
	// meant to carry; the drop of the idle current moves the turns by less than 1 %.
	if want := 2*2*16/230.0 + 0.01; math.Abs(rated/want-1) > 0.01 {
		t.Errorf("%q, by hand %.3g A", limit, want)
	}
	// A quick link of three times the rating stands no switch-on with 0.6 of the flux left.
	if s, why = said("F"); !refused(s) || strings.HasPrefix(why, "carries") {
		t.Errorf("F: %q, %q", why, s.FuseWhy)
	}
}

// TestIdleRails: two rails from one unit have a state with a thousandth of the amps drawn, whatever
// the amps were before it: each stands near its winding's peak less a diode (E√2, closed form).
func TestIdleRails(t *testing.T) {
	exact := yokemate.Num
	f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{{
		Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: exact(80),
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: exact(230), Ohms: exact(27.3), LeakageMH: exact(42.1)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: exact(19.62), Ohms: exact(0.3649), Amps: exact(2.22)},
			{ID: "B", Pins: [2]string{"7", "8"}, Volts: exact(19.62), Ohms: exact(0.3649), Amps: exact(2.22)},
		},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: exact(230), Hertz: 50, Amps: exact(0.04174), Watts: exact(4)}},
	}}})
	_, h := feeding(40, 0.3, 2, yokemate.Output{Name: "out", From: "A", To: "B"})
	h.Joints[3].Pins, h.Joints[4].Pins = []string{"T1.6", "T1.7"}, []string{"T1.8"}
	h.Outputs[0].To = "C"
	for amps := 0.1; amps < 0.45; amps += 0.05 {
		need := &yokemate.Need{Format: yokemate.NeedFormat, Kind: "dc", Volts: 12, Amps: amps, Regulated: true, Rails: 2, Feed: h.Feed[0]}
		w, err := Begin(f, h, Source{From: "A", To: "C", Middle: "B"}, need, Options{Brief: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Finish(); err != nil {
			t.Fatal(err)
		}
		s, err := w.At(yokemate.Nominal, 20, 1e-3*amps)
		if err != nil {
			t.Errorf("%.2f A: %v", amps, err)
			continue
		}
		for _, r := range s.Rails {
			// A silicon diode at so little takes 0.5 to 1 V (common practice, no source).
			if peak := 19.62 * math.Sqrt2; r.Mean > peak-0.4 || r.Mean < peak-1.2 {
				t.Errorf("%.2f A: a rail idles at %.2f V below a peak of %.2f V", amps, r.Mean, peak)
			}
		}
	}
}
