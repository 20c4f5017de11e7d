package switching

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"gonum.org/v1/gonum/dsp/fourier"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/si"
)

// WaveOptions say which waves are looked at. The zero value is all of them at
// nominal mains.
type WaveOptions struct {
	Mains yokemate.MainsLevel // empty means nominal
	// Of names the waves: "amps feed", "amps feed 2", "amps F1/P", "amps lights"
	// (what the output's AC load draws), "volts lights" (of a rectified output its rail),
	// "volts lights rail 2", "volts F1/P", "volts A to B" (joints or pins), "flux F1"; nil means all
	// feeds, outputs, windings and cores.
	Of []string
}

const (
	waveSamples = 512 // of a period: a rectified mean to a part in 10⁵
	harmonics   = 9   // told
	// averaging is the form factor of a sine, by which a meter that averages is marked: π/(2√2) [1].
	averaging = math.Pi / (2 * math.Sqrt2)
	// unsplit is the flux to one side that no note speaks of, over the rated peak: what a few microamperes do [1].
	unsplit = 0.02
)

// Steady finds the steady waveforms of a hookup.
func Steady(f *network.Facts, h *yokemate.Hookup, opt WaveOptions) (*yokemate.Waves, error) {
	if opt.Mains == "" {
		opt.Mains = yokemate.Nominal
	}
	x, err := into(f, h, opt.Mains, network.Options{})
	if err != nil {
		return nil, err
	}
	l := &looker{x: x, h: h}
	names := opt.Of
	if names == nil {
		names = l.all()
	}
	var looks []look
	for _, name := range names {
		k, err := l.find(name)
		if err != nil {
			return nil, err
		}
		looks = append(looks, k)
	}
	var probes []waveform.Probe
	for _, k := range looks {
		probes = append(probes, k.probe)
	}
	windings := len(probes)
	for i := range x.Circuit.Windings {
		probes = append(probes, x.WindingAmps(i))
	}
	fluxes := len(probes)
	for k := range x.Circuit.Cores {
		probes = append(probes, x.Flux(k))
	}
	w, _, rep, err := x.Periodic(x.Start, waveform.Options{Samples: waveSamples, Probes: probes})
	if err != nil {
		return nil, err
	}
	r := &yokemate.Waves{Mains: opt.Mains, Hertz: x.Circuit.Hertz, StepS: 1 / x.Circuit.Hertz / waveSamples, Notes: []yokemate.Note{},
		Solver: yokemate.WaveReport{Status: rep.Status.String(), Iterations: rep.Newton, Closure: rep.Closure, Balance: rep.Balance}}
	for i, k := range looks {
		r.Waves = append(r.Waves, measure(k, &w.Traces[i]))
	}
	for k := range x.Circuit.Cores {
		r.Cores = append(r.Cores, magnetised(x, k, w.Traces[windings:], &w.Traces[fluxes+k]))
	}
	return r, notes(f, h, r)
}

// WaveNames lists the waves that [Steady] shows when none is asked for.
func WaveNames(f *network.Facts, h *yokemate.Hookup) ([]string, error) {
	x, err := into(f, h, yokemate.Nominal, network.Options{})
	if err != nil {
		return nil, err
	}
	return (&looker{x: x, h: h}).all(), nil
}

// look is a wave that was asked for.
type look struct {
	name, unit string
	probe      waveform.Probe
	factor     float64
}

// looker knows the waves of a hookup by their names.
type looker struct {
	x *waveform.Hookup
	h *yokemate.Hookup
}

// all lists the names of all feeds, outputs, windings and cores.
func (l *looker) all() []string {
	var names []string
	for _, p := range l.x.Parts.Feeds {
		names = append(names, "amps "+feedName(l.h, p.Index))
	}
	for i, o := range l.h.Outputs {
		names = append(names, "volts "+o.Name)
		if l.rails(i) == 2 {
			names = append(names, "volts "+o.Name+" rail 2")
		}
		if _, ok := l.x.LoadAmps(i); ok {
			names = append(names, "amps "+o.Name)
		}
	}
	for i, p := range l.x.Parts.Windings {
		if !p.Shorted {
			names = append(names, "amps "+l.winding(i))
		}
	}
	for _, c := range l.x.Parts.Cores {
		names = append(names, "flux "+c.Unit)
	}
	return names
}

// winding is a winding's name, as F1/P.
func (l *looker) winding(i int) string {
	u := l.x.AC.UnitFacts(l.x.Parts.Windings[i].Core)
	return u.Tag + "/" + u.Windings[l.x.Parts.Windings[i].Winding].ID
}

// rails counts the rails of an output.
func (l *looker) rails(output int) int {
	n := 0
	for _, r := range l.x.Rails {
		if r.Output == output {
			n++
		}
	}
	return n
}

// find finds a wave by its name.
func (l *looker) find(name string) (look, error) {
	what, of, _ := strings.Cut(strings.TrimSpace(name), " ")
	of = strings.TrimSpace(of)
	switch what {
	case "amps":
		if p, ok := l.amps(of); ok {
			return look{name, "A", p, 1}, nil
		}
	case "volts":
		if p, ok := l.volts(of); ok {
			return look{name, "V", p, 1}, nil
		}
	case "flux":
		for k, c := range l.x.Parts.Cores {
			if c.Unit == of {
				return look{name, "", l.x.Flux(k), c.PerFlux}, nil
			}
		}
	}
	return look{}, yokemate.Errorf(yokemate.Invalid, "wave", "this hookup has no %q", name).
		Mend("ask for one of %s, or volts between two joints, as volts A to B", strings.Join(l.all(), ", "))
}

func (l *looker) amps(of string) (waveform.Probe, bool) {
	for i, p := range l.x.Parts.Feeds {
		if of == feedName(l.h, p.Index) {
			return l.x.FeedAmps(i), true
		}
	}
	for i, p := range l.x.Parts.Windings {
		if !p.Shorted && of == l.winding(i) {
			return l.x.WindingAmps(i), true
		}
	}
	for i, o := range l.h.Outputs {
		if p, ok := l.x.LoadAmps(i); ok && of == o.Name {
			return p, true
		}
	}
	return waveform.Probe{}, false
}

func (l *looker) volts(of string) (waveform.Probe, bool) {
	for i := range l.h.Outputs {
		o := &l.h.Outputs[i]
		if o.DC == nil {
			if of == o.Name {
				return l.x.OutputVolts(o), true
			}
			continue
		}
		n := 0
		for _, r := range l.x.Rails {
			if r.Output != i {
				continue
			}
			n++
			if n == 1 && of == o.Name || of == fmt.Sprintf("%s rail %d", o.Name, n) {
				return l.x.Volts(r.Plus, r.Minus), true
			}
		}
	}
	for i, w := range l.x.Circuit.Windings {
		if !l.x.Parts.Windings[i].Shorted && of == l.winding(i) {
			return l.x.Volts(w.From, w.To), true
		}
	}
	if from, to, ok := strings.Cut(of, " to "); ok {
		a, ok1 := l.x.AC.Node(strings.TrimSpace(from))
		b, ok2 := l.x.AC.Node(strings.TrimSpace(to))
		return l.x.Volts(a, b), ok1 && ok2
	}
	return waveform.Probe{}, false
}

// measure says what a wave amounts to.
func measure(k look, t *waveform.Trace) yokemate.Wave {
	whole := t.Values[1:] // the first is the last again
	n := float64(len(whole))
	w := yokemate.Wave{Of: k.name, Unit: k.unit, Values: scaled(t.Values, k.factor), Mean: t.Mean * k.factor, RMS: t.RMS * k.factor, Max: t.Max * k.factor, Min: t.Min * k.factor,
		Harmonics: []yokemate.Harmonic{}}
	swing, mean, square := 0.0, 0.0, 0.0
	for _, v := range whole {
		v *= k.factor
		w.Rectified += math.Abs(v) / n
		swing += math.Abs(v-w.Mean) / n
		mean += v / n
		square += v * v / n
	}
	// What is nothing but rounding has no form.
	if w.Rectified > 1e-12 {
		w.Form, w.Crest = w.RMS/w.Rectified, math.Max(w.Max, -w.Min)/w.RMS
	}
	w.TrueRMS, w.Averaging = math.Sqrt(math.Max(w.RMS*w.RMS-w.Mean*w.Mean, 0)), averaging*swing
	// The first sample is at time 0, where the last one comes round.
	c := fourier.NewFFT(len(whole)).Coefficients(nil, t.Values[:len(whole)])
	for order := 1; order <= harmonics; order++ {
		// A sine sin(kωt + a) has the coefficient N/2 e^{j(a − 90°)}.
		v := c[order] * complex(math.Sqrt2/n*k.factor, 0)
		w.Harmonics = append(w.Harmonics, yokemate.Harmonic{Order: order, RMS: cmplx.Abs(v), Degrees: cmplx.Phase(v*1i) * 180 / math.Pi})
	}
	// From the samples' own moments, which the transform shares: a difference of squares.
	if first := w.Harmonics[0].RMS; first > 1e-9*w.RMS {
		w.Distortion = math.Sqrt(math.Max(square-mean*mean-first*first, 0)) / first
	}
	return w
}

// magnetised says how core k is magnetised: by the ampere-turns of all its
// windings, seen from one on the mains side.
func magnetised(x *waveform.Hookup, k int, amps []waveform.Trace, flux *waveform.Trace) yokemate.CoreWave {
	c := &x.Parts.Cores[k]
	u := x.AC.UnitFacts(k)
	seen := -1
	for i, p := range x.Parts.Windings {
		switch {
		case p.Core != k || p.Shorted:
		case seen < 0, !u.Source.MainsSide(u.Windings[x.Parts.Windings[seen].Winding].ID) && u.Source.MainsSide(u.Windings[p.Winding].ID):
			seen = i
		}
	}
	m := yokemate.CoreWave{Unit: c.Unit, Offset: flux.Mean * c.PerFlux, Flux: flux.Peak() * c.PerFlux}
	ref := x.Circuit.Windings[seen].Volts
	m.Winding = c.Unit + "/" + u.Windings[x.Parts.Windings[seen].Winding].ID
	square, n := 0.0, len(flux.Values)-1
	for q := 1; q <= n; q++ {
		sum := 0.0
		for i, w := range x.Circuit.Windings {
			if w.Core == k {
				sum += w.Volts / ref * amps[i].Values[q]
			}
		}
		square += sum * sum
		m.Peak = math.Max(m.Peak, math.Abs(sum))
	}
	for i, w := range x.Circuit.Windings {
		if w.Core == k {
			m.Mean += w.Volts / ref * amps[i].Mean
		}
	}
	m.Exciting = math.Sqrt(square / float64(n))
	m.Without = m.Peak
	return m
}

// notes say which cores direct current drives to one side, and what that core
// would be excited with if none flowed.
func notes(f *network.Facts, h *yokemate.Hookup, r *yokemate.Waves) error {
	if !slices.ContainsFunc(r.Cores, func(c yokemate.CoreWave) bool { return math.Abs(c.Offset) > unsplit }) {
		return nil
	}
	idle := h.Clone()
	idle.Outputs = nil
	x, err := into(f, idle, r.Mains, network.Options{})
	if err != nil {
		return err
	}
	var probes []waveform.Probe
	for i := range x.Circuit.Windings {
		probes = append(probes, x.WindingAmps(i))
	}
	for k := range x.Circuit.Cores {
		probes = append(probes, x.Flux(k))
	}
	w, _, _, err := x.Periodic(x.Start, waveform.Options{Samples: waveSamples, Probes: probes})
	if err != nil {
		return err
	}
	for k := range r.Cores {
		c := &r.Cores[k]
		without := magnetised(x, k, w.Traces, &w.Traces[len(x.Circuit.Windings)+k])
		c.Without = without.Peak
		if math.Abs(c.Offset) <= unsplit {
			continue
		}
		r.Notes = append(r.Notes, yokemate.Note{Code: yokemate.OverFlux, Level: yokemate.Caution, About: c.Unit,
			Words: fmt.Sprintf("direct current magnetises %s: its flux stands %.2f of the rated peak to one side and comes to %.2f, and %s takes %s peak of exciting current where %s would do; a bridge or two diodes on a tap do not do this",
				c.Unit, math.Abs(c.Offset), c.Flux, c.Winding, si.Format(c.Peak, "A", 2), si.Format(c.Without, "A", 2))})
	}
	return nil
}
