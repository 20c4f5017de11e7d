package switching

import (
	"fmt"
	"math"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/phys/waveform"
	"yokemate/si"
)

// OnOptions say how a hookup is switched on. The zero value looks for the
// worst point on the wave at nominal mains, with a usual remanence.
type OnOptions struct {
	Mains     yokemate.MainsLevel // empty means nominal
	Degrees   *float64            // point on the wave of the first plug [°]; nil means the worst
	Remanence *float64            // flux left over the rated peak, from −1 to 1 [1]; nil means [Remanence], of either sign where the worst is looked for
}

// Remanence is the flux that an iron core without a gap is taken to keep, over
// its rated peak. Common practice, no source [1].
const Remanence = 0.6

const (
	periodsDrawn = 6    // of a switch-on
	drawn        = 64   // values of a period that is drawn
	sampled      = 256  // samples of such a period
	periodsMost  = 250  // followed at most: five seconds at 50 Hz
	died         = 1.1  // of the steady peak
	pulse        = 0.01 // [s]
	peaksTold    = 10
	quick        = 1e-4 // tolerance of a step: peaks to a thousandth
)

// On switches a hookup on and follows it until the current has died away to
// the steady one.
func On(f *network.Facts, h *yokemate.Hookup, opt OnOptions) (*yokemate.SwitchOn, error) {
	if opt.Mains == "" {
		opt.Mains = yokemate.Nominal
	}
	left := Remanence
	if opt.Remanence != nil {
		left = *opt.Remanence
	}
	if !(math.Abs(left) <= 1) {
		return nil, yokemate.Errorf(yokemate.Invalid, "remanence", "a core keeps no more than its rated flux").Mend("give a part of it from −1 to 1, such as 0.6")
	}
	if opt.Degrees != nil && !(math.Abs(*opt.Degrees) <= 360) {
		return nil, yokemate.Errorf(yokemate.Invalid, "degrees", "a wave has 360 degrees").Mend("give 0 for the rise through zero, 90 for the peak")
	}
	x, err := into(f, h, opt.Mains, network.Options{})
	if err != nil {
		return nil, err
	}
	if len(x.Parts.Feeds) == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "feed", "no plug is in its socket").Mend("plug one in")
	}
	r := &yokemate.SwitchOn{Mains: opt.Mains, Remanence: left, Feed: []yokemate.FeedInrush{}, Fuses: []yokemate.FuseInrush{}, Cores: []yokemate.CoreInrush{}}
	if opt.Degrees != nil {
		r.Degrees = *opt.Degrees
	} else {
		peak, square, err := x.WorstInrush(left)
		if err != nil {
			return nil, err
		}
		r.Degrees, r.Remanence = math.Mod(square.Degrees+360, 360), square.Sign*left
		r.Worst = &yokemate.WorstInrush{Amps: slices.Max(peak.Peak), AmpsDegrees: math.Mod(peak.Degrees+360, 360), Square: slices.Max(square.Square), SquareDegrees: r.Degrees}
	}
	return r, follow(x, r)
}

// line is a conductor that a switch-on is weighed in.
type line struct {
	probe       waveform.Probe
	steadyPeak  float64
	steadyRMS   float64
	peaks       []yokemate.Peak
	amps        float64
	square10    float64
	square      float64 // so far
	squareDecay float64
	decay       float64 // when it has died away [s]; +Inf until then
	heat        []mark  // ∫ i² dt by time
}

// mark is how much has passed through a line by a time.
type mark struct{ seconds, square float64 }

// follow runs the switch-on period by period and fills in what it comes to.
func follow(x *waveform.Hookup, r *yokemate.SwitchOn) error {
	h := x.AC.Hookup
	var lines []line
	for i := range x.Circuit.Feeds {
		lines = append(lines, line{probe: x.FeedAmps(i), decay: math.Inf(1)})
	}
	for i := range h.Fuses {
		lines = append(lines, line{probe: x.FuseAmps(i), decay: math.Inf(1)})
	}
	var probes []waveform.Probe
	for i := range lines {
		probes = append(probes, lines[i].probe)
	}
	for k := range x.Circuit.Cores {
		probes = append(probes, x.Flux(k))
	}
	steady, _, _, err := x.Periodic(x.Start, waveform.Options{Probes: probes, Samples: sampled})
	if err != nil {
		return err
	}
	for i := range lines {
		lines[i].steadyPeak, lines[i].steadyRMS = steady.Traces[i].Peak(), steady.Traces[i].RMS
	}
	left, err := x.Remanence(r.Remanence)
	if err != nil {
		return err
	}
	flux := make([]float64, len(x.Circuit.Cores))
	state := x.Rest()
	copy(state, left)
	period := 1 / x.Circuit.Hertz
	r.Curves = yokemate.Curves{StepS: period / drawn}
	for i := range x.Circuit.Feeds {
		r.Curves.Curves = append(r.Curves.Curves, yokemate.Curve{Of: "amps " + feedName(h, x.Parts.Feeds[i].Index), Unit: "A"})
	}
	for k := range flux {
		flux[k] = math.Abs(left[k])
		r.Curves.Curves = append(r.Curves.Curves, yokemate.Curve{Of: "flux " + x.Parts.Cores[k].Unit})
	}
	for p := range periodsMost {
		opt := waveform.Options{Tolerance: quick, Probes: probes}
		if p < periodsDrawn {
			opt.Samples = sampled
		}
		w, end, rep, err := x.Run(state, r.Degrees, 1, opt)
		if err != nil {
			return err
		}
		state = end
		r.Balance = math.Max(r.Balance, math.Abs(rep.Balance))
		done := p >= periodsDrawn
		for i := range lines {
			lines[i].take(&w.Traces[i], w.Times, p, period)
			done = done && !math.IsInf(lines[i].decay, 1)
		}
		for k := range flux {
			flux[k] = math.Max(flux[k], w.Traces[len(lines)+k].Peak())
		}
		if p < periodsDrawn {
			for i := range x.Circuit.Feeds {
				thin(&r.Curves.Curves[i], w.Traces[i].Values, 1)
			}
			for k := range flux {
				thin(&r.Curves.Curves[len(x.Circuit.Feeds)+k], w.Traces[len(lines)+k].Values, x.Parts.Cores[k].PerFlux)
			}
		}
		if done {
			break
		}
	}
	for i, part := range x.Parts.Feeds {
		l := &lines[i]
		feed := &h.Feed[part.Index]
		r.Feed = append(r.Feed, yokemate.FeedInrush{Feed: feed.Live + "–" + feed.Neutral, Peaks: l.peaks, Amps: l.amps, SteadyPeak: l.steadyPeak, SteadyAmps: l.steadyRMS,
			Square10: l.square10, SquareDecay: l.through(), DecayS: finite(l.decay)})
		if feed.FuseAmps > 0 {
			r.Fuses = append(r.Fuses, l.fuse(feedName(h, part.Index), feed.FuseAmps, feed.FuseKind))
		}
	}
	for i, u := range h.Fuses {
		l := &lines[len(x.Circuit.Feeds)+i]
		r.Fuses = append(r.Fuses, l.fuse(fuseName(u), u.Amps, u.Kind))
	}
	for k, c := range x.Parts.Cores {
		r.Cores = append(r.Cores, yokemate.CoreInrush{Unit: c.Unit, Left: left[k] * c.PerFlux, Flux: flux[k] * c.PerFlux, Steady: steady.Traces[len(lines)+k].Peak() * c.PerFlux})
	}
	return nil
}

// thin adds a period's samples to a drawn curve, without its first one where
// that is the last of the period before.
func thin(c *yokemate.Curve, values []float64, factor float64) {
	for i := 0; i < len(values); i += sampled / drawn {
		if i > 0 || len(c.Values) == 0 {
			c.Values = append(c.Values, values[i]*factor)
		}
	}
}

// take adds a period.
func (l *line) take(t *waveform.Trace, times []float64, p int, period float64) {
	from := float64(p) * period
	if p == 0 {
		l.heat = append(l.heat, mark{})
	}
	top := t.Max
	if -t.Min > top {
		top = t.Min
	}
	l.amps = math.Max(l.amps, math.Abs(top))
	if p < peaksTold {
		l.peaks = append(l.peaks, yokemate.Peak{Period: p + 1, Amps: top})
	}
	if t.Values != nil && p < 2 {
		// The first stretches are short: ∫ i² dt by trapezia, brought to the period's own.
		sums := make([]float64, len(times))
		for i := 1; i < len(times); i++ {
			a, b := t.Values[i-1], t.Values[i]
			sums[i] = sums[i-1] + (times[i]-times[i-1])*(a*a+b*b)/2
		}
		factor := 1.0
		if last := sums[len(sums)-1]; last > 0 {
			factor = t.Square / last
		}
		for i := 1; i < len(times); i++ {
			// Ten milliseconds lie between two samples at 60 Hz.
			if a, b := from+times[i-1], from+times[i]; a < pulse && b >= pulse {
				l.square10 = l.square + factor*(sums[i-1]+(sums[i]-sums[i-1])*(pulse-a)/(b-a))
			}
			if i%(sampled/16) == 0 {
				l.heat = append(l.heat, mark{from + times[i], l.square + factor*sums[i]})
			}
		}
	} else {
		l.heat = append(l.heat, mark{from + period, l.square + t.Square})
	}
	l.square += t.Square
	switch {
	case math.Abs(top) > died*l.steadyPeak+1e-9:
		l.decay = math.Inf(1) // not yet, or again
	case math.IsInf(l.decay, 1):
		l.decay, l.squareDecay = from, l.square-t.Square
	}
}

// through is ∫ i² dt until it has died away, or all that was followed.
func (l *line) through() float64 {
	if math.IsInf(l.decay, 1) {
		return l.square
	}
	return l.squareDecay
}

// fuse holds the line to a link's gates.
func (l *line) fuse(name string, amps float64, kind string) yokemate.FuseInrush {
	link := protect.Link{Amps: amps, Kind: fuseKind(kind)}
	least, most := link.I2t()
	u := yokemate.FuseInrush{Fuse: name, Amps: amps, Kind: link.Kind, Square10: l.square10, SquareDecay: l.through(), SteadyAmps: l.steadyRMS, MeltLeast: least, MeltMost: finite(most), Carries: "yes"}
	rating := fmt.Sprintf("%s %s", link.Kind, si.Format(amps, "A", 2))
	for i, a := range l.heat {
		if i > 2*16 {
			break // what begins later is weaker
		}
		for _, b := range l.heat[i+1:] {
			seconds := b.seconds - a.seconds
			rms := math.Sqrt((b.square - a.square) / seconds)
			early, late := link.Opening(rms)
			switch {
			case seconds >= late:
				u.Carries = "no"
				u.Why = fmt.Sprintf("%s is past the slow end of its gates: %s rms for %s opens it.", rating, si.Format(rms, "A", 2), si.Format(seconds, "s", 2))
				return u
			case seconds >= early && u.Carries == "yes":
				u.Carries = "unsure"
				u.Why = fmt.Sprintf("%s may open: %s rms for %s is past the fast end of its gates, not the slow one.", rating, si.Format(rms, "A", 2), si.Format(seconds, "s", 2))
			}
		}
	}
	early, late := link.Opening(l.steadyRMS)
	switch {
	case !math.IsInf(late, 1):
		u.Carries = "no"
		u.Why = fmt.Sprintf("%s opens in use: %s flows in the end.", rating, si.Format(l.steadyRMS, "A", 3))
	case !math.IsInf(early, 1):
		u.Carries = "unsure"
		u.Why = fmt.Sprintf("%s is less than the %s that flow in the end: it may open sooner or later.", rating, si.Format(l.steadyRMS, "A", 3))
	case u.Why == "":
		u.Why = fmt.Sprintf("%s carries it: no stretch of the switch-on reaches the fast end of its gates, and %s flows in the end.", rating, si.Format(l.steadyRMS, "A", 2))
	}
	return u
}
