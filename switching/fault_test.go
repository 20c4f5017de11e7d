package switching

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/phys/thermal"
	"yokemate/phys/waveform"
)

// gaps calls f for every slip at every gap of the demo's proofs.
func gaps(t *testing.T, f func(h *yokemate.Hookup, all *Faults, s *yokemate.Step, z *yokemate.Slip)) {
	t.Helper()
	seen := 0
	for _, d := range demo {
		facts, h := example(t, d[0], d[1])
		all, err := NewFaults(facts, h)
		if err != nil {
			t.Fatal(err)
		}
		for i := range all.steps {
			for k := range all.steps[i].Slips {
				if z := &all.steps[i].Slips[k]; z.IfClosed != nil {
					seen++
					f(h, all, &all.steps[i], z)
				}
			}
		}
	}
	if seen < 40 {
		t.Errorf("only %d slips at gaps were seen", seen)
	}
}

// TestClosedAsTheProofHasIt: a gap is closed here on what the proof closes it
// on: the steady network drives the same currents, to the last digits.
func TestClosedAsTheProofHasIt(t *testing.T) {
	gaps(t, func(h *yokemate.Hookup, all *Faults, s *yokemate.Step, z *yokemate.Slip) {
		var r yokemate.Fault
		state, gap, err := all.find(z.Code, s.ID, &r)
		if err != nil {
			t.Fatal(err)
		}
		wired, ok, err := all.plan.Wired(state, z.Code)
		if err != nil || !ok {
			t.Fatalf("%s, %s at %s: %v, %v", h.Name, z.Code, s.ID, ok, err)
		}
		opt := wired.Options
		opt.Added = append(opt.Added, network.Branch{From: gap[0], To: gap[1], Ohms: jointOhms})
		n, err := network.Build(all.facts, wired.State, opt)
		if err != nil {
			t.Fatal(err)
		}
		sol, err := n.Solve(nil)
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for k := range n.Units() {
			for w := range n.UnitFacts(k).Windings {
				most = math.Max(most, cmplx.Abs(sol.Value(n.WindingAmps(k, w))))
			}
		}
		if math.Abs(most-z.IfClosed.WindingAmps) > 1e-9*math.Max(most, 1e-3) {
			t.Errorf("%s, %s at %s: %.12g A, the proof says %.12g A", h.Name, z.Code, s.ID, most, z.IfClosed.WindingAmps)
		}
	})
}

// TestFaultBesideTheProof follows every slip at every gap of the demo in time
// and holds the proof's answer to it. The proof takes a winding to warm by the
// current of the first moment; in time the current falls as the copper warms,
// from 105 °C to the class's 225 °C by 1.28, or less where other ohms share in
// it, so a winding takes longer to its limit, up to three times here. Three
// things must hold: no winding is too hot sooner than the proof says, a fifth
// allowed for, but for shorted turns, whose own current the proof does not look
// at; a fuse that the proof says opens does; and where nothing is overloaded
// nothing opens.
func TestFaultBesideTheProof(t *testing.T) {
	say := func(v *float64) string {
		if v == nil {
			return "never"
		}
		return fmt.Sprintf("%.3g s", *v)
	}
	apart := 0.0
	gaps(t, func(h *yokemate.Hookup, all *Faults, s *yokemate.Step, z *yokemate.Slip) {
		r, err := all.Follow(z.Code, FaultOptions{Step: s.ID})
		if err != nil {
			t.Fatalf("%s, %s at %s: %v", h.Name, z.Code, s.ID, err)
		}
		c := z.IfClosed
		t.Logf("%s, %s: the proof: fuse %s, within %s, too hot after %s, %.3g A from the mains; in time: %s after %.3g s, fuse %s, %s to %s, too hot after %s, %.3g A from the mains in the end", h.Name, z.Code,
			c.FuseOpens, say(c.OpensS), say(c.LimitS), c.FeedAmps, r.Event, r.Seconds, r.FuseOpens, say(r.EarliestS), say(r.LatestS), say(r.LimitS), r.FeedAmps)
		shorted := strings.HasPrefix(z.Code, "shorted-turn:")
		if r.LimitS != nil && !shorted {
			if c.LimitS == nil || *r.LimitS < 0.8**c.LimitS {
				t.Errorf("%s, %s: too hot after %s in time, the proof says %s", h.Name, z.Code, say(r.LimitS), say(c.LimitS))
			} else {
				apart = math.Max(apart, *r.LimitS / *c.LimitS)
			}
		}
		if r.FuseOpens == "yes" && c.FuseOpens == "no" {
			t.Errorf("%s, %s: the fuse opens in time, the proof says no", h.Name, z.Code)
		}
		if c.OpensS == nil && r.Event == yokemate.FuseEvent {
			t.Errorf("%s, %s: a fuse opened that the proof says never does", h.Name, z.Code)
		}
		if c.FuseOpens == "yes" && r.FuseOpens != "yes" {
			t.Errorf("%s, %s: the proof says that the fuse opens, and in time it does not surely", h.Name, z.Code)
		}
		if shorted && r.Event == yokemate.NoEvent {
			t.Errorf("%s, %s: shorted turns come to nothing", h.Name, z.Code)
		}
		if math.Abs(r.Balance) > 1e-6 {
			t.Errorf("%s, %s: energy balance %g", h.Name, z.Code, r.Balance)
		}
	})
	if apart < 1 || apart > 4 {
		t.Errorf("times to the limit are up to %.3g times apart", apart)
	}
	t.Logf("in time a winding takes up to %.3g times as long to its limit", apart)
}

// TestFaultEnds: two units in opposition behind links of every size: a small
// one opens in time, a big one never does and a winding goes; the time of the
// small one lies within its gates at the currents that flowed (IEC 60127-2 by
// package protect). A hookup that is right comes to nothing in an hour.
func TestFaultEnds(t *testing.T) {
	follow := func(fuse float64, slip string, opt FaultOptions) *yokemate.Fault {
		t.Helper()
		f, h := example(t, "shelf-fernhollow", "hookup-rope-lights")
		h.Feed[0].FuseAmps, h.Feed[0].FuseKind = fuse, "T"
		all, err := NewFaults(f, h)
		if err != nil {
			t.Fatal(err)
		}
		r, err := all.Follow(slip, opt)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r := follow(0.05, "reversed:F2/A", FaultOptions{Degrees: 90})
	if r.Event != yokemate.FuseEvent || r.FuseOpens != "yes" || r.Fuse != "feed" || !strings.Contains(r.Protects, "T 50.0 mA") {
		t.Errorf("behind 50 mA: %s, %s, %s: %s", r.Event, r.FuseOpens, r.Fuse, r.Protects)
	}
	if least, most := (protect.Link{Amps: 0.05, Kind: "T"}).Opening(r.FeedAmps); r.Seconds < least || r.Seconds > 1.2*most {
		t.Errorf("opened after %g s, gates %g to %g s", r.Seconds, least, most)
	}
	if r.Step != "gap-B" || r.Closed != "B" || len(r.Windings) != 4 || len(r.Track) < 2 || len(r.Curves.Curves) != 5 {
		t.Errorf("%s, %s, %d windings, %d moments, %d curves", r.Step, r.Closed, len(r.Windings), len(r.Track), len(r.Curves.Curves))
	}
	r = follow(6.3, "reversed:F2/A", FaultOptions{})
	if r.Event != yokemate.WindingEvent || r.FuseOpens != "no" || r.LimitS == nil || *r.LimitS != r.Seconds {
		t.Errorf("behind 6.3 A: %s, %s", r.Event, r.FuseOpens)
	}
	last := r.Track[len(r.Track)-1]
	hot := 0.0
	for i, w := range r.Windings {
		if last.Celsius[i] != w.Celsius {
			t.Errorf("%s ends at %g °C, the track at %g °C", w.Winding, w.Celsius, last.Celsius[i])
		}
		hot = math.Max(hot, w.Celsius-w.LimitC)
	}
	if math.Abs(hot) > 0.1 { // the closed form's own rounding over a stretch
		t.Errorf("at its limit a winding is %g K from it", hot)
	}
	// Cold copper draws more and has farther to go.
	cold := follow(6.3, "reversed:F2/A", FaultOptions{Cold: true})
	if cold.Seconds <= r.Seconds || cold.FeedPeak < r.FeedPeak {
		t.Errorf("cold: %g s and %g A, warm %g s and %g A", cold.Seconds, cold.FeedPeak, r.Seconds, r.FeedPeak)
	}
	if r := follow(0, "reversed:F2/A", FaultOptions{}); r.Fuse != "" || !strings.HasPrefix(r.Protects, "There is no fuse.") {
		t.Errorf("without a fuse: %s", r.Protects)
	}
	if r := follow(0.25, "unpowered:F2", FaultOptions{}); r.Event != yokemate.NoEvent || r.Seconds != 3600 || !strings.HasPrefix(r.Protects, "Nothing is overloaded") {
		t.Errorf("unpowered: %s after %g s: %s", r.Event, r.Seconds, r.Protects)
	}
	// The finished hookup, with its load.
	if r := follow(0.25, "reversed:F2/A", FaultOptions{Step: Whole}); r.Step != "" || r.Event != yokemate.WindingEvent {
		t.Errorf("whole: %q, %s", r.Step, r.Event)
	}
}

// TestFaultBehindARectifier: a slip of a rectified hookup is followed with its
// rectifier in place.
func TestFaultBehindARectifier(t *testing.T) {
	f, h := lone(rectified("bridge", 2200e-6, 0.5))
	all, err := NewFaults(f, h)
	if err != nil {
		t.Fatal(err)
	}
	r, err := all.Follow("shorted-turn:K1/P", FaultOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Step != "" || r.Event != yokemate.WindingEvent || len(r.Windings) != 3 || !r.Windings[2].Shorted && !r.Windings[1].Shorted {
		t.Errorf("%+v", r.Windings)
	}
}

func TestFaultRefuses(t *testing.T) {
	f, h := example(t, "shelf-fernhollow", "hookup-rope-lights")
	all, err := NewFaults(f, h)
	if err != nil {
		t.Fatal(err)
	}
	room := 300.0
	for _, c := range []struct {
		slip string
		opt  FaultOptions
		want yokemate.Code
	}{
		{"reversed:Z9/A", FaultOptions{}, yokemate.NotFound},
		{"", FaultOptions{}, yokemate.NotFound},
		{"reversed:F2/A", FaultOptions{Step: "gap-Q"}, yokemate.NotFound},
		{"reversed:F2/A", FaultOptions{Seconds: -1}, yokemate.Invalid},
		{"reversed:F2/A", FaultOptions{RoomC: &room}, yokemate.Invalid},
		{"reversed:F2/A", FaultOptions{Degrees: math.NaN()}, yokemate.Invalid},
	} {
		if _, err := all.Follow(c.slip, c.opt); err == nil || yokemate.ErrorCode(err) != c.want {
			t.Errorf("%q %+v: %v", c.slip, c.opt, err)
		}
	}
}

func BenchmarkFollow(b *testing.B) {
	f, h := example(b, "shelf-fernhollow", "hookup-rope-lights")
	all, err := NewFaults(f, h)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := all.Follow("reversed:F2/A", FaultOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPlan(b *testing.B) {
	f, h := example(b, "shelf-fernhollow", "hookup-rope-lights")
	for b.Loop() {
		if _, err := NewFaults(f, h); err != nil {
			b.Fatal(err)
		}
	}
}

// TestFaultBesideTheHeatNetwork: two units in opposition, whole and powered:
// the time to the limit as followed here, each winding alone in its own
// copper, and by the heat network, where windings give their heat to a core.
// Both store it in copper at 3 A/mm² and begin with windings warm from their
// rated load; from there the core takes some of the heat, so the network's
// time is the longer one, by a third at most: in two minutes little has gone over.
func TestFaultBesideTheHeatNetwork(t *testing.T) {
	f, h := example(t, "shelf-fernhollow", "hookup-rope-lights-turned")
	h.Feed[0].FuseAmps = 0
	x, err := into(f, h, yokemate.Nominal, network.Options{})
	if err != nil {
		t.Fatal(err)
	}
	w, err := x.Follow(waveform.FollowOptions{})
	if err != nil {
		t.Fatal(err)
	}
	n, err := thermal.New(f, h, yokemate.Nominal, thermal.Options{AmbientC: 25})
	if err != nil {
		t.Fatal(err)
	}
	rise, _ := heat.Class("B").DryRise()
	from := &thermal.State{}
	for range n.Windings {
		from.Windings = append(from.Windings, thermal.Temperature{Celsius: 25 + rise.Celsius})
	}
	for range h.Tags() {
		from.Cores = append(from.Cores, thermal.Temperature{Celsius: 25 + 0.65*rise.Celsius})
	}
	l, err := n.TimeToLimit(from, 3600, func(string) heat.Class { return "B" })
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s too hot after %.4g s wave by wave, %s after %.4g s by the heat network", w.Winding, w.LimitS, l.Winding, l.Seconds)
	if q := l.Seconds / w.LimitS; !(q > 0.95 && q < 1.33) {
		t.Errorf("%.4g s wave by wave, %.4g s by the heat network", w.LimitS, l.Seconds)
	}
}

// TestFuseOfEverySize: two units in opposition behind links of each preferred
// rating. Where the proof says that one opens before a winding goes, it does in
// time, with the times of the gates of IEC 60127-2 by package protect; a large
// one never does, by either.
func TestFuseOfEverySize(t *testing.T) {
	verdicts := map[string]int{}
	for _, amps := range []float64{0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 1, 6.3} {
		facts, h := example(t, "shelf-fernhollow", "hookup-rope-lights")
		h.Feed[0].FuseAmps, h.Feed[0].FuseKind = amps, "T"
		all, err := NewFaults(facts, h)
		if err != nil {
			t.Fatal(err)
		}
		for i := range all.steps {
			for _, z := range all.steps[i].Slips {
				if z.Code != "reversed:F2/A" || z.IfClosed == nil || z.IfClosed.LimitS == nil {
					continue
				}
				r, err := all.Follow(z.Code, FaultOptions{Step: all.steps[i].ID})
				if err != nil {
					t.Fatal(err)
				}
				verdicts[z.IfClosed.FuseOpens]++
				if z.IfClosed.FuseOpens == "yes" && (r.FuseOpens != "yes" || r.LatestS == nil || *r.LatestS > *z.IfClosed.OpensS*1.02) {
					t.Errorf("T %g A at %s: the proof says within %g s; in time %s, %v", amps, all.steps[i].ID, *z.IfClosed.OpensS, r.FuseOpens, r.LatestS)
				}
			}
		}
	}
	t.Log(verdicts)
	if verdicts["yes"] < 2 || verdicts["no"] < 1 || verdicts["unsure"] < 1 {
		t.Errorf("only %v were met", verdicts)
	}
}
