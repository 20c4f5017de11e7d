package switching

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

// FaultOptions say how a slip is followed. The zero value closes the first gap
// of the proof that is read on the slip, at nominal mains, and follows it for an hour.
type FaultOptions struct {
	Mains   yokemate.MainsLevel // empty means nominal
	Step    string              // of the proof, whose gap is closed; "whole" for the finished hookup with its loads; empty means the first that lists the slip, else the finished hookup
	Seconds float64             // how long it is followed [s]; 0 means an hour
	RoomC   *float64            // air around the units [°C]; nil means 25
	Cold    bool                // windings at room temperature at first; else warm from their rated load
	Degrees float64             // point on the wave where the power comes on [°]
}

// Whole is the step that stands for the finished hookup.
const Whole = "whole"

// jointOhms is a joint under a screw or a clip. Common practice, no source [Ω].
const jointOhms = 0.003

// Faults is a hookup whose slips can be followed, with the steps of its proof.
// Once made it is only read, by as many at a time as like.
type Faults struct {
	facts  *network.Facts
	hookup *yokemate.Hookup
	plan   *prove.Plan
	steps  []yokemate.Step
}

// plan plans the proof of a hookup; of a rectified one, without its rectifiers.
func plan(f *network.Facts, h *yokemate.Hookup) (*prove.Plan, error) {
	if supply.IsDC(h) {
		h = h.Clone()
		for i := range h.Outputs {
			h.Outputs[i].DC = nil
		}
	}
	return prove.New(f, h, prove.Options{})
}

// Slips lists the codes of all slips that a proof of the hookup reckons with,
// which takes less than to plan for following them.
func Slips(f *network.Facts, h *yokemate.Hookup) ([]string, error) {
	p, err := plan(f, h)
	if err != nil {
		return nil, err
	}
	return p.Slips(), nil
}

// NewFaults plans what it takes to follow the slips of a hookup.
func NewFaults(f *network.Facts, h *yokemate.Hookup) (*Faults, error) {
	p, err := plan(f, h)
	if err != nil {
		return nil, err
	}
	proof, err := p.Proof()
	if err != nil {
		return nil, err
	}
	return &Faults{f, h, p, proof.Steps}, nil
}

// Slips lists the codes of all slips of the hookup.
func (f *Faults) Slips() []string { return f.plan.Slips() }

// Follow wires the hookup with a slip, powers it, and follows it in time.
func (f *Faults) Follow(slip string, opt FaultOptions) (*yokemate.Fault, error) {
	if opt.Mains == "" {
		opt.Mains = yokemate.Nominal
	}
	if opt.RoomC == nil {
		room := 25.0
		opt.RoomC = &room
	}
	switch {
	case !(opt.Seconds >= 0 && opt.Seconds <= 1e6):
		return nil, yokemate.Errorf(yokemate.Invalid, "seconds", "%g s are no time to follow a fault for", opt.Seconds).Mend("give up to 1000000, or leave it out for an hour")
	case !(*opt.RoomC >= -40 && *opt.RoomC <= 80):
		return nil, yokemate.Errorf(yokemate.Invalid, "room", "%g °C is no air to work in", *opt.RoomC).Mend("give degrees Celsius, such as 25")
	case !(math.Abs(opt.Degrees) <= 360):
		return nil, yokemate.Errorf(yokemate.Invalid, "degrees", "a wave has 360 degrees").Mend("give 0 for the rise through zero, 90 for the peak")
	}
	r := &yokemate.Fault{Mains: opt.Mains, Slip: slip}
	state, gap, err := f.find(slip, opt.Step, r)
	if err != nil {
		return nil, err
	}
	wired, ok, err := f.plan.Wired(state, slip)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, yokemate.Errorf(yokemate.Invalid, "slip", "%s changes nothing here", slip).Mend("choose another slip, or another step that lists it")
	}
	r.Words = wired.Words
	net := wired.Options
	if gap != [2]string{} {
		net.Added = append(slices.Clone(net.Added), network.Branch{From: gap[0], To: gap[1], Ohms: jointOhms})
	}
	x, err := into(f.facts, wired.State, opt.Mains, net)
	if err != nil {
		return nil, err
	}
	w, err := x.Follow(waveform.FollowOptions{Seconds: opt.Seconds, Room: *opt.RoomC, Cold: opt.Cold, Degrees: opt.Degrees, Samples: drawn})
	if err != nil {
		return nil, err
	}
	tell(r, x, wired.State, w)
	return r, nil
}

// find finds the step whose gap is closed on the slip. A gap of none is the
// finished hookup's.
func (f *Faults) find(slip, step string, r *yokemate.Fault) (*yokemate.Hookup, [2]string, error) {
	var none [2]string
	if step == Whole {
		return f.hookup, none, nil
	}
	for i := range f.steps {
		s := &f.steps[i]
		if step != "" && step != s.ID {
			continue
		}
		if slices.ContainsFunc(s.Slips, func(z yokemate.Slip) bool { return z.Code == slip && z.IfClosed != nil }) {
			r.Step, r.Closed = s.ID, s.Closes
			return &s.State, [2]string{s.Measure.From, s.Measure.To}, nil
		}
	}
	if step != "" {
		return nil, none, yokemate.Errorf(yokemate.NotFound, "step", "no gap that may be closed on %s is called %q", slip, step).Mend("see the steps with \"yokemate prove\", or use \"whole\" for the finished hookup")
	}
	return f.hookup, none, nil
}

// tell fills in what a fault came to.
func tell(r *yokemate.Fault, x *waveform.Hookup, h *yokemate.Hookup, w *waveform.Fault) {
	r.Event, r.Seconds, r.FuseOpens = yokemate.FaultEvent(w.End), w.Seconds, w.Opens()
	r.EarliestS, r.LatestS, r.LimitS = finite(w.Earliest), finite(w.Latest), finite(w.LimitS)
	r.Winding, r.FeedAmps, r.Settled, r.Balance = w.Winding, w.FeedAmps, w.Settled, w.Report.Balance
	rating := ""
	var n int
	switch {
	case w.Fuse == "":
	case scan(w.Fuse, "feed %d", &n):
		r.Fuse, rating = feedName(h, n-1), link(h.Feed[n-1].FuseKind, h.Feed[n-1].FuseAmps)
	case scan(w.Fuse, "fuse %d", &n):
		r.Fuse, rating = fuseName(h.Fuses[n-1]), link(h.Fuses[n-1].Kind, h.Fuses[n-1].Amps)
	}
	r.Curves.StepS = 1 / x.Circuit.Hertz / drawn
	for i, t := range w.Wave.Traces {
		c := yokemate.Curve{Unit: "A", Values: t.Values}
		if i < len(x.Parts.Feeds) {
			r.FeedPeak = math.Max(r.FeedPeak, t.Peak())
			c.Of = "amps " + feedName(h, x.Parts.Feeds[i].Index)
		} else {
			q := &w.Windings[i-len(x.Parts.Feeds)]
			c.Of = "amps " + q.Name
			if q.Shorted {
				c.Of += ", its shorted turns"
			}
		}
		r.Curves.Curves = append(r.Curves.Curves, c)
	}
	overloaded := false
	for i, q := range w.Windings {
		r.Windings = append(r.Windings, yokemate.FaultWinding{Winding: q.Name, Shorted: q.Shorted, Amps: q.RMS, PeakAmps: q.Peak, Celsius: q.Celsius, LimitC: q.Limit})
		p := x.Parts.Windings[i]
		overloaded = overloaded || q.RMS > x.AC.UnitFacts(p.Core).Limits[p.Winding].Amps
	}
	for _, m := range w.Track {
		r.Track = append(r.Track, yokemate.FaultMoment(m))
	}
	const rest = "Only a thermal link in the unit, a fuse in that winding's own lead or the series lamp protects it."
	switch {
	case r.FuseOpens == "yes":
		r.Protects = fmt.Sprintf("The fuse (%s, %s) opens after %s at the latest, before any winding is too hot.", rating, r.Fuse, si.Format(w.Latest, "s", 2))
	case w.End == waveform.Nothing && !overloaded:
		r.Protects = "Nothing is overloaded, so nothing need open."
	case w.End == waveform.Nothing:
		r.Protects = "A winding carries more than its rating, but none passes what its class stands in a fault while it is followed: it is no state to leave alone. " + rest
	case r.FuseOpens == "unsure":
		r.Protects = fmt.Sprintf("The fuse (%s, %s) may be too late. ", rating, r.Fuse) + rest
	case r.Fuse == "":
		r.Protects = "There is no fuse. " + rest
	default:
		r.Protects = "No fuse opens in time. " + rest
	}
}

func scan(text, format string, n *int) bool {
	_, err := fmt.Sscanf(text, format, n)
	return err == nil
}

func link(kind string, amps float64) string { return fuseKind(kind) + " " + si.Format(amps, "A", 3) }
