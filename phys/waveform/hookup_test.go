package waveform_test

import (
	"math"
	"math/cmplx"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// bench is a few invented units: two small ones alike, a bigger one with a
// centre tap.
func bench() *network.Facts {
	num := yokemate.Num
	small := func(tag string, va, ra, vb, rb, i0, w0 float64) yokemate.Unit {
		return yokemate.Unit{
			Tag: tag, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(va), Ohms: num(ra)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(vb), Ohms: num(rb), Amps: num(0.25)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(va), Hertz: 50, Amps: num(i0), Watts: num(w0)}},
		}
	}
	big := yokemate.Unit{
		Tag: "T3", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, ThermalClass: "B",
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(38)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(16.9), Ohms: num(0.33), Amps: num(1.6)},
			{ID: "B", Pins: [2]string{"6", "7"}, Volts: num(16.9), Ohms: num(0.34), Amps: num(1.6)},
		},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.045), Watts: num(4.1)}},
	}
	return network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		small("T1", 230, 940, 11.92, 2.9, 0.012, 1.4), small("T2", 230, 910, 11.80, 2.8, 0.0125, 1.5), big,
	}})
}

func wired(joints yokemate.Joints, outputs ...yokemate.Output) *yokemate.Hookup {
	return &yokemate.Hookup{
		Format:  yokemate.HookupFormat,
		Feed:    yokemate.Feeds{{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 0.1, FuseKind: "T", Ohms: 0.5}},
		Joints:  joints,
		Outputs: outputs,
	}
}

func intoTime(t testing.TB, h *yokemate.Hookup, opt waveform.HookupOptions) *waveform.Hookup {
	t.Helper()
	if err := h.Validate(); err != nil {
		t.Fatal(err)
	}
	x, err := waveform.FromHookup(bench(), h, opt)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestSameNetwork: with a straight core the periodic state in time is the
// phasors of the steady network; with a saturating one their rms values stay
// within what the harmonics of the magnetising current add.
func TestSameNetwork(t *testing.T) {
	h := wired(yokemate.Joints{
		{Name: "L", Pins: []string{"T1.1", "T2.1"}}, {Name: "N", Pins: []string{"T1.2", "T2.2"}},
		{Name: "A", Pins: []string{"T1.5", "T2.5"}}, {Name: "B", Pins: []string{"T1.6", "T2.6"}},
	}, yokemate.Output{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: 24, Henries: 0.01}})
	for _, linear := range []bool{true, false} {
		x := intoTime(t, h, waveform.HookupOptions{Network: network.Options{Linear: linear}})
		var probes []waveform.Probe
		for i := range x.Circuit.Windings {
			probes = append(probes, x.WindingAmps(i))
		}
		load, _ := x.LoadAmps(0)
		probes = append(probes, x.FeedAmps(0), load, x.OutputVolts(&h.Outputs[0]))
		w, _, rep, err := x.Periodic(x.Start, waveform.Options{Probes: probes})
		if err != nil {
			t.Fatal(err)
		}
		sol, err := x.AC.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		value := func(p network.Probe) float64 { return cmplx.Abs(sol.Value(p)) }
		feed, _ := x.AC.FeedAmps(0)
		loadAC, _ := x.AC.LoadAmps(0)
		volts, _ := x.AC.Volts("A", "B")
		want := []float64{value(x.AC.WindingAmps(0, 0)), value(x.AC.WindingAmps(0, 1)), value(x.AC.WindingAmps(1, 0)), value(x.AC.WindingAmps(1, 1)),
			value(feed), value(loadAC), value(volts)}
		// What time leaves out is capacitance: some microamperes on the mains side.
		tol := 1e-4
		if !linear {
			tol = 0.02
		}
		for i, v := range want {
			if math.Abs(w.Traces[i].RMS/v-1) > tol {
				t.Errorf("linear %v, probe %d: %.7g in time, %.7g steady", linear, i, w.Traces[i].RMS, v)
			}
		}
		if math.Abs(rep.Balance) > 1e-6 {
			t.Errorf("energy balance %g", rep.Balance)
		}
	}
}

// TestRails: the two rails of a bridge on a centre tap share their winding,
// each carries its own load, and the reservoirs stand within the winding's peak.
func TestRails(t *testing.T) {
	h := wired(yokemate.Joints{{Name: "L", Pins: []string{"T3.1"}}, {Name: "N", Pins: []string{"T3.2"}},
		{Name: "A", Pins: []string{"T3.5"}}, {Name: "M", Pins: []string{"T3.6"}}, {Name: "B", Pins: []string{"T3.7"}}},
		yokemate.Output{Name: "rails", From: "A", To: "B", DC: &yokemate.DC{Rectifier: "bridge", Middle: "M", Farads: 2200e-6, Amps: 0.5}})
	x := intoTime(t, h, waveform.HookupOptions{})
	if len(x.Rails) != 2 {
		t.Fatalf("%d rails", len(x.Rails))
	}
	var probes []waveform.Probe
	for _, r := range x.Rails {
		probes = append(probes, x.Volts(r.Plus, r.Minus), x.SinkAmps(r.Sink), x.CapacitorAmps(r.Capacitors[0]))
		for _, d := range r.Diodes {
			probes = append(probes, x.DiodeAmps(d))
		}
	}
	w, _, _, err := x.Periodic(x.Start, waveform.Options{Samples: 256, Probes: probes})
	if err != nil {
		t.Fatal(err)
	}
	for k := range x.Rails {
		v, i, c := &w.Traces[5*k], &w.Traces[5*k+1], &w.Traces[5*k+2]
		if v.Mean < 18 || v.Mean > 16.9*math.Sqrt2 || math.Abs(i.Mean-0.5) > 1e-9 {
			t.Errorf("rail %d: %.4g V at %.4g A", k, v.Mean, i.Mean)
		}
		// Charge comes back every period, and the diodes bring what the load takes.
		if math.Abs(c.Mean) > 1e-5*c.RMS {
			t.Errorf("rail %d: its reservoir gains %g A", k, c.Mean)
		}
		if d := w.Traces[5*k+3].Mean + w.Traces[5*k+4].Mean; math.Abs(d-0.5) > 1e-5 {
			t.Errorf("rail %d: its diodes bring %.7g A", k, d)
		}
		// The straight-line rule I/(2fC) is above the true ripple, whose diodes feed for a part of the time.
		if rule := 0.5 / (2 * 50 * 2200e-6); v.PeakToPeak() > rule || v.PeakToPeak() < 0.6*rule {
			t.Errorf("rail %d: ripple %.4g V, rule %.4g V", k, v.PeakToPeak(), rule)
		}
	}
}

// TestHalfWave: a half wave drives its core to one side, a bridge does not.
func TestHalfWave(t *testing.T) {
	flux := func(kind string) float64 {
		h := wired(yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}, {Name: "A", Pins: []string{"T1.5"}}, {Name: "B", Pins: []string{"T1.6"}}},
			yokemate.Output{Name: "dc", From: "A", To: "B", DC: &yokemate.DC{Rectifier: kind, Farads: 1000e-6, Amps: 0.08}})
		x := intoTime(t, h, waveform.HookupOptions{})
		w, _, _, err := x.Periodic(x.Start, waveform.Options{Samples: 256, Probes: []waveform.Probe{x.Flux(0)}})
		if err != nil {
			t.Fatal(err)
		}
		return w.Traces[0].Mean
	}
	if b := flux("bridge"); math.Abs(b) > 1e-4 {
		t.Errorf("a bridge leaves a mean flux of %g", b)
	}
	if f := math.Abs(flux("half")); f < 0.05 {
		t.Errorf("a half wave leaves a mean flux of only %g", f)
	}
}

// TestInrush: the worst point is near the zero of the wave with the remanence
// that the wave adds to, its flux near the textbook's 2Φm + Φr less what the
// winding's resistance takes; at the peak of the wave there is next to none.
func TestInrush(t *testing.T) {
	h := wired(yokemate.Joints{{Name: "L", Pins: []string{"T3.1"}}, {Name: "N", Pins: []string{"T3.2"}}})
	x := intoTime(t, h, waveform.HookupOptions{})
	peak, square, err := x.WorstInrush(0.6)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("peak %.3g A at %g°, %.3g A²s at %g°, %v", peak.Peak[0], peak.Degrees, square.Square[0], square.Degrees, peak.Report)
	if d := math.Mod(peak.Degrees, 180); d > 45 && d < 135 {
		t.Errorf("worst at %g°", peak.Degrees)
	}
	// 38 Ω at 325 V: more than 8.6 A cannot flow.
	if peak.Peak[0] < 1 || peak.Peak[0] > 325/38.5 {
		t.Errorf("peak %.3g A", peak.Peak[0])
	}
	w, _, _, err := x.SwitchOn(90, []float64{0}, 2, waveform.Options{Probes: []waveform.Probe{x.FeedAmps(0), x.Flux(0)}})
	if err != nil {
		t.Fatal(err)
	}
	if w.Traces[0].Peak() > 0.3 || w.Traces[1].Peak() > 1.1 {
		t.Errorf("at the peak of the wave %.3g A, flux %.3g", w.Traces[0].Peak(), w.Traces[1].Peak())
	}
	w, _, _, err = x.SwitchOn(0, []float64{0.6}, 2, waveform.Options{Probes: []waveform.Probe{x.Flux(0)}})
	if err != nil {
		t.Fatal(err)
	}
	if got, most := w.Traces[0].Peak(), waveform.PeakFlux(1, 0.6); got > most || got < 0.6*most {
		t.Errorf("flux %.3g, textbook at most %.3g", got, most)
	}
}

// TestFollow: two small units closed in opposition behind a fuse that carries
// it: a winding goes. Behind a small enough fuse the fuse opens. A right joint: nothing.
func TestFollow(t *testing.T) {
	joints := func(a, b string) yokemate.Joints {
		return yokemate.Joints{{Name: "L", Pins: []string{"T1.1", "T2.1"}}, {Name: "N", Pins: []string{"T1.2", "T2.2"}},
			{Name: "A", Pins: []string{"T1.5", a}}, {Name: "B", Pins: []string{"T1.6", b}}}
	}
	follow := func(h *yokemate.Hookup) *waveform.Fault {
		f, err := intoTime(t, h, waveform.HookupOptions{}).Follow(waveform.FollowOptions{Seconds: 4 * 3600})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%+v opens %s", *f, f.Opens())
		return f
	}
	wrong := wired(joints("T2.6", "T2.5"))
	wrong.Feed[0].FuseAmps = 0.5
	if f := follow(wrong); f.End != waveform.WindingGone || f.Opens() != "no" || f.Seconds < 1 || f.Seconds > 600 {
		t.Errorf("reversed behind 0.5 A: %s after %.3g s, opens %s", f.End, f.Seconds, f.Opens())
	}
	wrong.Feed[0].FuseAmps = 0.05
	if f := follow(wrong); f.End != waveform.FuseOpens || f.Opens() != "yes" || f.Fuse != "feed 1" {
		t.Errorf("reversed behind 0.05 A: %s after %.3g s, opens %s", f.End, f.Seconds, f.Opens())
	}
	if f := follow(wired(joints("T2.5", "T2.6"))); f.End != waveform.Nothing || !f.Settled || f.Opens() != "no" {
		t.Errorf("right: %s after %.3g s", f.End, f.Seconds)
	}
}

func TestUnsupported(t *testing.T) {
	h := wired(yokemate.Joints{{Name: "L", Pins: []string{"T3.1"}}, {Name: "N", Pins: []string{"T3.2"}}, {Name: "A", Pins: []string{"T3.5"}}, {Name: "B", Pins: []string{"T3.7"}}},
		yokemate.Output{Name: "dc", From: "A", To: "B", DC: &yokemate.DC{Rectifier: "centre-tap", Farads: 1e-3, Amps: 0.1}})
	if _, err := waveform.FromHookup(bench(), h, waveform.HookupOptions{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("a centre tap without its middle: %v", err)
	}
}
