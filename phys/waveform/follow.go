package waveform

import (
	"fmt"
	"math"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/phys/protect"
)

// An End is what a fault that is followed comes to.
type End string

const (
	FuseOpens   End = "fuse"    // a fuse has opened, by the slow end of its gates
	WindingGone End = "winding" // a winding has passed the limit of its class
	Nothing     End = "nothing" // neither, for as long as was asked
)

// FollowOptions say how a fault is followed. The zero value serves.
type FollowOptions struct {
	Seconds float64 // how long [s]; 0 means an hour
	Room    float64 // around the unit [°C]; 0 means 25
	Cold    bool    // windings at room temperature at first; else warm from their rated load
	Degrees float64 // point on the wave where the power comes on to it [°]
	Start   []float64
	Samples int // of each period that is followed wave by wave, as in [Options]
}

// Fault is a fault followed to its end.
type Fault struct {
	End      End
	Seconds  float64 // when [s]
	Fuse     string  // that opened, or would next: "feed 1", "fuse 2"; empty when there is none
	Earliest float64 // of that fuse, by the fast end of its gates [s]; +Inf for never
	Latest   float64 // by the slow end [s]; +Inf for never while it was followed
	Winding  string  // that passed its limit, as T1/A; else the hottest
	LimitS   float64 // when it did [s]; +Inf for never while it was followed
	Celsius  float64 // of that winding at the end [°C]
	PeakAmps float64 // greatest current of any winding in the first periods [A]
	FeedAmps float64 // of the feed that carries most, rms, in the last state solved [A]
	Settled  bool    // temperatures had come to rest
	Report   Report  // of the periods followed wave by wave

	Windings []FaultWinding // in the circuit's order
	Track    []Moment       // from the start to the end, as far apart as the stretches followed
	Wave     *Wave          // currents of the feeds, then of the windings, of the periods followed wave by wave; nil when no samples were asked for
}

// FaultWinding is what a fault does to one winding, or to turns of it that
// are shorted.
type FaultWinding struct {
	Name    string  // as T1/A
	Shorted bool    // the shorted turns of that winding
	RMS     float64 // in the last period that was followed wave by wave [A]
	Peak    float64 // in all of them [A]
	Celsius float64 // at the end [°C]
	Limit   float64 // that its class stands in the first hour of a fault [°C]
}

// Moment is how hot the windings are at one time.
type Moment struct {
	Seconds float64   // [s]
	Celsius []float64 // [°C], one a winding
}

// sure is how much sooner than the winding's limit a fuse must open for a
// plain yes: the time to the limit is an estimate, good to a fifth or so [1].
const sure = 0.8

// Opens says whether a fuse opens before any winding passes its limit: yes by
// the slow end of the gates with a fifth of the time to spare, no by the fast
// end, else unsure.
func (f *Fault) Opens() string {
	switch {
	case f.Latest < sure*f.LimitS:
		return "yes"
	case f.Earliest < f.LimitS:
		return "unsure"
	}
	return "no"
}

// Copper is what a fault heats: each winding alone, in its own copper. The density of
// an ordinary small coil makes the time the shortest it can be (common
// practice), as does leaving the iron out.
const (
	roomC       = 25.0 // [°C]
	coilDensity = 3e6  // at rated current [A/m²]
)

type coil struct {
	name    string
	shorted bool
	w       heat.Winding
	limit   float64 // [°C]
	rated   float64 // [A]
	t       float64 // [°C]
}

type link struct {
	name             string
	probe            Probe
	link             protect.Link
	fast, slow       float64 // part of its opening done [1]
	earliest, latest float64
}

// opening advances a link by a time at an rms current.
func (l *link) opening(amps, from, seconds float64) {
	lo, hi := l.link.Opening(amps)
	advance := func(done *float64, full float64, at *float64) {
		if !math.IsInf(*at, 1) || math.IsInf(full, 1) {
			return
		}
		left := 1 - *done
		part := 1.0
		if full > 0 {
			part = seconds / full
		}
		if *done += part; *done >= 1 {
			*at = from + seconds*min(left/part, 1)
		}
	}
	advance(&l.fast, lo, &l.earliest)
	advance(&l.slow, hi, &l.latest)
}

// settle is the change of rms currents from period to period below which the
// waveform counts as periodic [1], and how long a wave is followed at most.
const (
	settle      = 0.003
	wavePeriods = 25
)

// Follow closes a fault at a point on the wave and follows it: wave by wave
// until its currents settle, then from periodic state to periodic state as the
// copper warms, until a fuse opens by the slow end of its gates, a winding
// passes the temperature that its class stands in the first hour of a fault,
// or nothing more happens. The hookup is the one with the fault in it, and its
// copper stays as hot as the fault left it.
func (x *Hookup) Follow(opt FollowOptions) (*Fault, error) {
	if opt.Seconds == 0 {
		opt.Seconds = 3600
	}
	if opt.Room == 0 {
		opt.Room = roomC
	}
	coils, err := x.coils(opt)
	if err != nil {
		return nil, err
	}
	var links []*link
	addLink := func(name string, p Probe, amps float64, kind string) {
		if amps > 0 {
			if kind == "" {
				kind = "T"
			}
			links = append(links, &link{name: name, probe: p, link: protect.Link{Amps: amps, Kind: kind}, earliest: math.Inf(1), latest: math.Inf(1)})
		}
	}
	h := x.AC.Hookup
	for i, p := range x.Parts.Feeds {
		addLink(fmt.Sprintf("feed %d", p.Index+1), x.FeedAmps(i), h.Feed[p.Index].FuseAmps, h.Feed[p.Index].FuseKind)
	}
	for i, u := range h.Fuses {
		addLink(fmt.Sprintf("fuse %d", i+1), x.FuseAmps(i), u.Amps, u.Kind)
	}
	// Probes: windings, then links, then feeds.
	var probes []Probe
	for i := range coils {
		probes = append(probes, x.WindingAmps(i))
	}
	for _, l := range links {
		probes = append(probes, l.probe)
	}
	for i := range x.Circuit.Feeds {
		probes = append(probes, x.FeedAmps(i))
	}
	f := &Fault{End: Nothing, Earliest: math.Inf(1), Latest: math.Inf(1), LimitS: math.Inf(1)}
	state := opt.Start
	if state == nil {
		state = x.Rest()
	}
	base := make([]float64, len(coils)) // the factor the circuit's ohms hold already
	for i := range coils {
		base[i] = x.AC.CopperFactor()
	}
	copper := func() error {
		k := make([]float64, len(coils))
		for i, c := range coils {
			k[i] = heat.Factor(c.t) / base[i]
		}
		return x.SetCopper(k)
	}
	now := 0.0
	keep := func(at float64) {
		m := Moment{Seconds: at}
		for _, c := range coils {
			m.Celsius = append(m.Celsius, c.t)
		}
		f.Track = append(f.Track, m)
	}
	keep(0)
	// after takes one stretch of steady rms currents and reports whether no
	// more need be followed: the fault has ended and, where a fuse opened, a
	// winding is not so near its limit that it might have been first.
	after := func(w *Wave, seconds float64) bool {
		for i, l := range links {
			l.opening(w.Traces[len(coils)+i].RMS, now, seconds)
		}
		var next *link
		for _, l := range links {
			if next == nil || l.latest < next.latest || l.latest == next.latest && l.earliest < next.earliest {
				next = l
			}
		}
		if next != nil {
			f.Fuse, f.Earliest, f.Latest = next.name, next.earliest, next.latest
			for _, l := range links {
				f.Earliest = min(f.Earliest, l.earliest)
			}
		}
		for i := range coils {
			c := &coils[i]
			if at := now + c.w.TimeTo(c.t, c.limit, w.Traces[i].RMS/c.rated, opt.Room); at <= now+seconds && at < f.LimitS {
				f.LimitS = at
				if f.End == Nothing {
					f.Winding, f.Celsius = c.name, c.limit
				}
			}
		}
		warm := func(seconds float64) {
			for i := range coils {
				coils[i].t = coils[i].w.After(coils[i].t, w.Traces[i].RMS/coils[i].rated, opt.Room, seconds)
			}
		}
		if f.End == Nothing {
			f.FeedAmps = 0
			for i := range x.Circuit.Feeds {
				f.FeedAmps = max(f.FeedAmps, w.Traces[len(coils)+len(links)+i].RMS)
			}
			end := min(f.Latest, f.LimitS)
			if end > now+seconds {
				warm(seconds)
				now += seconds
				keep(now)
				return false
			}
			f.End, f.Seconds = WindingGone, end
			warm(end - now)
			seconds -= end - now
			now = end
			keep(now)
			if f.Latest <= f.LimitS {
				f.End = FuseOpens
				f.hottest(coils)
			}
			for i, c := range coils {
				f.Windings[i].Celsius = c.t
			}
		}
		warm(seconds)
		now += seconds
		return f.End == WindingGone || f.LimitS <= now || now >= f.Latest/sure
	}
	period := 1 / x.Circuit.Hertz
	for _, c := range coils {
		f.Windings = append(f.Windings, FaultWinding{Name: c.name, Shorted: c.shorted, Limit: c.limit})
	}
	if opt.Samples > 0 {
		f.Wave = &Wave{Traces: make([]Trace, len(x.Circuit.Feeds)+len(coils))}
	}
	var last *Wave
	ended := false
	for k := range wavePeriods {
		if err := copper(); err != nil {
			return nil, err
		}
		w, end, rep, err := x.Run(state, opt.Degrees, 1, Options{Tolerance: 1e-5, Probes: probes, Samples: opt.Samples})
		if err != nil {
			return nil, err
		}
		f.Report.Steps += rep.Steps
		f.Report.Rejected += rep.Rejected
		f.Report.Newton += rep.Newton
		f.Report.Periods++
		f.Report.Delivered += rep.Delivered
		f.Report.Balance = max(f.Report.Balance, math.Abs(rep.Balance))
		f.Report.Status = rep.Status
		for i := range coils {
			f.Windings[i].RMS, f.Windings[i].Peak = w.Traces[i].RMS, max(f.Windings[i].Peak, w.Traces[i].Peak())
			f.PeakAmps = max(f.PeakAmps, f.Windings[i].Peak)
		}
		if f.Wave != nil {
			f.Wave.append(w, now, k > 0, len(coils), len(coils)+len(links))
		}
		if ended = after(w, period); ended {
			break
		}
		state = end
		if k > 0 && still(last, w) {
			break
		}
		last = w
	}
	guess := x.Start
	step := period
	for !ended && now < opt.Seconds {
		if err := copper(); err != nil {
			return nil, err
		}
		w, end, _, err := x.Periodic(guess, Options{Tolerance: 1e-4, Probes: probes})
		if err != nil {
			return nil, err
		}
		guess = end
		step = min(2*step, opt.Seconds-now)
		resting := true
		for i, c := range coils {
			ratio := w.Traces[i].RMS / c.rated
			next := c.w.After(c.t, ratio, opt.Room, step)
			for math.Abs(next-c.t) > 8 { // a winding's ohms change by 3 % at most in a stretch
				step /= 2
				next = c.w.After(c.t, ratio, opt.Room, step)
			}
			if final, ok := c.w.Steady(ratio, opt.Room); !ok || math.Abs(final-c.t) > 0.5 {
				resting = false
			}
		}
		if resting {
			f.Settled = true
			step = opt.Seconds - now // nothing changes any more but the fuses
		}
		ended = after(w, step)
	}
	if f.End != Nothing {
		return f, nil
	}
	f.Seconds = now
	for i, c := range coils {
		f.Windings[i].Celsius = c.t
	}
	f.hottest(coils)
	return f, nil
}

// hottest names the winding that is nearest to its limit or farthest past it.
func (f *Fault) hottest(coils []coil) {
	hot := 0
	for i := range coils {
		if coils[i].t-coils[i].limit > coils[hot].t-coils[hot].limit {
			hot = i
		}
	}
	f.Winding, f.Celsius = coils[hot].name, coils[hot].t
}

// append adds a period's currents that starts at a time: those of the feeds,
// which follow the links among its traces, then those of the coils. The
// period's first sample is the last one of the period before.
func (w *Wave) append(p *Wave, from float64, before bool, coils, feeds int) {
	first := 0
	if before {
		first = 1
	}
	for _, t := range p.Times[first:] {
		w.Times = append(w.Times, from+t)
	}
	for i := range w.Traces {
		t, src := &w.Traces[i], 0
		if n := len(w.Traces) - coils; i < n {
			src = feeds + i
		} else {
			src = i - n
		}
		q := &p.Traces[src]
		t.Values = append(t.Values, q.Values[first:]...)
		t.Min, t.Max = min(t.Min, q.Min), max(t.Max, q.Max)
		t.Square += q.Square
	}
}

// still reports whether no rms current changes any more.
func still(a, b *Wave) bool {
	for i := range a.Traces {
		if math.Abs(a.Traces[i].RMS-b.Traces[i].RMS) > settle*b.Traces[i].RMS {
			return false
		}
	}
	return true
}

func (x *Hookup) coils(opt FollowOptions) ([]coil, error) {
	var list []coil
	for _, p := range x.Parts.Windings {
		u := x.AC.UnitFacts(p.Core)
		class := heat.Class(u.Source.ThermalClass)
		limit, ok := class.Fault(heat.FirstHour)
		rise, ok2 := class.DryRise()
		if !ok || !ok2 {
			class = "A" // the lowest in common use
			limit, _ = class.Fault(heat.FirstHour)
			rise, _ = class.DryRise()
		}
		c := coil{
			name:    u.Tag + "/" + u.Windings[p.Winding].ID,
			shorted: p.Shorted,
			w:       heat.Winding{Rise: rise.Celsius, Ambient: roomC, Tau: heat.CopperTau(rise.Celsius, roomC, coilDensity)},
			limit:   limit.Celsius,
			rated:   u.Limits[p.Winding].Amps,
			t:       opt.Room + rise.Celsius,
		}
		if math.IsNaN(c.rated) {
			return nil, yokemate.Errorf(yokemate.Invalid, c.name+" amps", "without a current that it may carry, nobody can tell how fast it warms").
				Mend("give its amps, or its unit's va")
		}
		if opt.Cold {
			c.t = opt.Room
		}
		list = append(list, c)
	}
	return list, nil
}
