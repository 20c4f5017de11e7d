package supply

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

// Source is an AC output to rectify: joints of a hookup.
type Source struct {
	Name      string // of the DC output; empty means "dc"
	From, To  string
	Middle    string // the joint of the tap, for a centre tap or dual rails
	Rectifier string // bridge, half, centre-tap or doubler; empty means bridge
}

// Options of a design, common practice all. The zero value is the house's.
type Options struct {
	Headroom     float64 // of a regulator at the valley [V]; 0 means 3
	Ripple       float64 // peak to peak, of the mean [1]; 0 means 0.1
	HotC         float64 // copper [°C]; 0 means 85
	AmbientC     float64 // around a heat sink [°C]; 0 means 40
	JunctionC    float64 // a regulator's chip at most [°C]; 0 means 110
	CaseKW       float64 // chip to case to sink [K/W]; 0 means 2
	Remanence    float64 // left in a core at the worst switch-on [1]; 0 means 0.6
	FuseKind     string  // empty means T
	BleedSeconds float64 // from the no-load peak to 25 V [s]; 0 means 60
	Farads       float64 // a guess of the reservoir, to be quicker; 0 means none [F]
	Brief        bool    // leave out what costs most: the fuse and what the unit can give
}

func (o Options) filled() Options {
	def := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	def(&o.Headroom, 3)
	def(&o.Ripple, 0.1)
	def(&o.HotC, 85)
	def(&o.AmbientC, 40)
	def(&o.JunctionC, 110)
	def(&o.CaseKW, 2)
	def(&o.Remanence, 0.6)
	def(&o.BleedSeconds, BleedSeconds)
	if o.FuseKind == "" {
		o.FuseKind = "T"
	}
	return o
}

// The usual ratings that parts are bought by.
var (
	capacitorVolts = []float64{10, 16, 25, 35, 50, 63, 80, 100, 160, 200, 250, 350, 400, 450}
	diodeVolts     = []float64{50, 100, 200, 400, 600, 800, 1000}
)

const (
	mostFarads  = 0.1 // no bench builds a larger reservoir [F]
	leastFarads = 10e-6
)

// firstOf returns the first rating of a list that is at least v, 0 where none is.
func firstOf(list []float64, v float64) float64 {
	for _, x := range list {
		if x >= v*(1-1e-9) {
			return x
		}
	}
	return 0
}

// designer works one supply out.
type designer struct {
	f       *network.Facts
	h       *yokemate.Hookup // with the dc output, which is the last
	need    *yokemate.Need
	o       Options
	s       *yokemate.Supply
	dc      *yokemate.DC
	src     Source
	last    []float64 // states of the last solve, the next one's guess
	runs    map[point]*run
	chosen  bool     // the reservoir
	carried bool     // the primary fuse keeps to every wish
	doubt   *float64 // see [Work.SourceDoubt]; nil until it was asked for
}

// point is where a supply was solved.
type point struct {
	level                 yokemate.MainsLevel
	celsius, farads, amps float64
	tolerance             float64
	samples               int
}

// Design works out what stands behind an AC output of a hookup to meet a DC
// need: rectifier, reservoir, bleeder, regulator's heat, fuse, parts, and what
// the unit can give. A need that it cannot meet is not an error: Meets is
// false and the notes say why.
func Design(f *network.Facts, h *yokemate.Hookup, src Source, need *yokemate.Need, opt Options) (*yokemate.Supply, error) {
	w, err := Begin(f, h, src, need, opt)
	if err != nil {
		return nil, err
	}
	if err := w.Finish(); err != nil {
		return nil, err
	}
	return w.Supply, nil
}

// Begin is Design for those who have more to ask: it works nothing out yet.
func Begin(f *network.Facts, h *yokemate.Hookup, src Source, need *yokemate.Need, opt Options) (*Work, error) {
	if need.Kind != "dc" {
		return nil, yokemate.Errorf(yokemate.Invalid, "kind", "a supply answers a need for dc, not %q", need.Kind).Mend("write \"kind\": \"dc\"")
	}
	if src.Rectifier == "" {
		src.Rectifier = "bridge"
	}
	if src.Name == "" {
		src.Name = "dc"
	}
	d := &designer{f: f, h: h.Clone(), need: need, o: opt.filled(), src: src, runs: map[point]*run{},
		s: &yokemate.Supply{Need: *need, Notes: []yokemate.Note{}, Parts: []yokemate.Part{}}}
	rails := max(need.Rails, 1)
	dual := src.Rectifier == "bridge" && src.Middle != ""
	if dual != (rails == 2) {
		return nil, yokemate.Errorf(yokemate.Invalid, "rails", "%s with middle %q gives %d rails, the need wants %d", src.Rectifier, src.Middle, map[bool]int{false: 1, true: 2}[dual], rails).
			Mend("two rails come from a bridge with a middle joint")
	}
	d.dc = &yokemate.DC{Rectifier: src.Rectifier, Middle: src.Middle, Farads: leastFarads, Amps: need.Amps}
	var outputs []yokemate.Output
	for _, o := range d.h.Outputs {
		if o.From != src.From || o.To != src.To {
			outputs = append(outputs, o)
		}
	}
	d.h.Outputs = append(outputs, yokemate.Output{Name: src.Name, From: src.From, To: src.To, DC: d.dc})
	if err := d.h.Validate(); err != nil {
		return nil, err
	}
	return &Work{d.s, d}, nil
}

// Reservoir chooses the reservoir and nothing else; once it is chosen it stays.
func (w *Work) Reservoir() error {
	if w.d.chosen {
		return nil
	}
	w.d.chosen = true
	return w.d.reservoir()
}

// Finish works everything out, as Design does.
func (w *Work) Finish() error {
	d := w.d
	if err := w.Reservoir(); err != nil {
		return err
	}
	steps := []func() error{d.judge, d.noLoad, d.capability, d.fuse}
	if d.o.Brief {
		steps = steps[:2]
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	slices.SortStableFunc(d.s.Notes, func(a, b yokemate.Note) int { return rank(a.Level) - rank(b.Level) })
	d.list()
	d.s.Hookup = *d.h
	d.s.Meets = yokemate.Worst(d.s.Notes) != yokemate.Stop
	return nil
}

func (d *designer) note(code yokemate.NoteCode, level yokemate.Level, words string, args ...any) {
	d.s.Notes = append(d.s.Notes, yokemate.Note{Code: code, Level: level, About: d.src.Name, Words: fmt.Sprintf(words, args...)})
}

// at solves the supply at a level of the mains and a copper temperature.
func (d *designer) at(level yokemate.MainsLevel, celsius float64, opt waveform.Options) (*run, []yokemate.RailState, error) {
	at := point{level, celsius, d.dc.Farads, d.dc.Amps, opt.Tolerance, opt.Samples}
	r := d.runs[at]
	if r == nil {
		h := d.h.Clone()
		h.CopperC = &celsius
		var err error
		if r, err = newRun(d.f, h, level, network.Options{}); err != nil {
			return nil, nil, err
		}
		if d.last != nil {
			r.x.Start = d.last
		}
		finest := math.Inf(1)
		for p, known := range d.runs {
			same := point{level, celsius, at.farads, at.amps, p.tolerance, p.samples}
			if p == same && p.tolerance < finest {
				r.x.Start, opt.Near, finest = known.x.Start, true, p.tolerance // the same, at another tolerance
			}
		}
		if err := r.periodic(opt); err != nil {
			if d.last == nil {
				return nil, nil, err
			}
			// A guess from a load far from this one may lead nowhere: without any.
			if r, err = newRun(d.f, h, level, network.Options{}); err != nil {
				return nil, nil, err
			}
			opt.Near = false
			if err := r.periodic(opt); err != nil {
				return nil, nil, err
			}
		}
		d.runs[at] = r
	}
	d.last = r.x.Start
	return r, r.railsOf(len(d.h.Outputs) - 1), nil
}

const coldC = 20.0

// Where a part is only being chosen, and where what is found is told.
var (
	choosing = rough
	telling  = waveform.Options{Samples: samples}
	rough    = waveform.Options{Tolerance: 1e-3} // good to a part in a thousand
)

// telling is how exact the figures are that a supply tells of itself.
func (d *designer) telling() waveform.Options {
	if d.o.Brief {
		return waveform.Options{Tolerance: quick}
	}
	return telling
}

// reservoir chooses the capacitor, equation (S1).
func (d *designer) reservoir() error {
	series := "E6"
	per := 2.0 // feedings a period
	if d.dc.Rectifier == "half" || d.dc.Rectifier == "doubler" {
		per = 1
	}
	hertz := d.h.Feed[0].Hertz
	volts := d.need.Volts
	if d.dc.Rectifier == "doubler" {
		volts /= 2
	}
	// The straight-line rule is above the true ripple, so it is where the search ends, not starts.
	rule := d.need.Amps / (per * hertz * d.o.Ripple * volts)
	farads := max(si.Preferred(rule/4, series, true), leastFarads)
	fits := func() (bool, error) {
		_, rails, err := d.at(yokemate.Nominal, coldC, choosing)
		if err != nil {
			return false, err
		}
		for _, r := range rails {
			if r.Ripple > d.o.Ripple*r.Mean {
				return false, nil
			}
		}
		if !d.need.Regulated {
			return true, nil
		}
		_, rails, err = d.at(yokemate.Low, d.o.HotC, choosing)
		if err != nil {
			return false, err
		}
		for _, r := range rails {
			if r.Valley < d.need.Volts+d.o.Headroom {
				return false, nil
			}
		}
		return true, nil
	}
	tried := map[float64]bool{}
	serves := func(f float64) (bool, error) {
		if ok, known := tried[f]; known {
			return ok, nil
		}
		d.dc.Farads = f
		ok, err := fits()
		tried[f] = ok
		return ok, err
	}
	if least := farads; d.o.Farads > least {
		// From a guess down while smaller ones serve, else up from it.
		farads = min(si.Preferred(d.o.Farads, series, true), si.Preferred(3*rule, series, true))
		for farads > least {
			less := si.Preferred(farads/1.47, series, false) // the next one of the six
			ok, err := serves(less)
			if err != nil {
				return err
			}
			if !ok {
				break
			}
			farads = less
		}
	}
	for ; farads <= mostFarads; farads = si.Preferred(farads*1.01, series, true) {
		ok, err := serves(farads)
		if err != nil {
			return err
		}
		if ok {
			d.dc.Farads = farads
			return nil
		}
		// More capacitance only trims the ripple: past three times the rule it buys nothing.
		if farads > 3*rule {
			break
		}
	}
	// No reservoir serves: what one of the usual size gives is judged below.
	d.dc.Farads = si.Preferred(rule, series, true)
	return nil
}

// judge fills in the rails and holds them to the need.
func (d *designer) judge() error {
	n := d.need
	r, cold, err := d.at(yokemate.Nominal, coldC, d.telling())
	if err != nil {
		return err
	}
	d.s.CoreMeanFlux = 0
	for k := range r.x.Circuit.Cores {
		d.s.CoreMeanFlux = max(d.s.CoreMeanFlux, math.Abs(r.flux(k).Mean)*r.x.Parts.Cores[k].PerFlux)
	}
	// Everything that speaks against the hookup itself speaks against the supply.
	notes, err := r.judged(d.f)
	if err != nil {
		return err
	}
	for _, note := range notes {
		if note.Code != yokemate.CapacitorVolts {
			d.s.Notes = append(d.s.Notes, note)
		}
	}
	_, hot, err := d.at(yokemate.Nominal, d.o.HotC, d.telling())
	if err != nil {
		return err
	}
	opt := d.telling()
	if d.o.Brief && !n.Regulated {
		opt = rough
	}
	_, low, err := d.at(yokemate.Low, d.o.HotC, opt)
	if err != nil {
		return err
	}
	if d.o.Brief {
		opt = rough
	}
	at, high, err := d.at(yokemate.High, coldC, opt)
	if err != nil {
		return err
	}
	if !d.o.Brief {
		// The load draws the same DC, and from cold copper at the highest mains
		// the pulses that bring it are the sharpest.
		for _, note := range at.overRating(n.Amps, "that is at the highest mains") {
			same := func(x yokemate.Note) bool {
				return x.About == note.About && (x.Code == note.Code || x.Level == yokemate.Stop)
			}
			if !slices.ContainsFunc(d.s.Notes, same) {
				d.s.Notes = append(d.s.Notes, note)
			}
		}
	}
	tolerance := n.Tolerance
	if tolerance == 0 {
		tolerance = 0.05
	}
	for k := range cold {
		s := yokemate.SupplyRail{
			Volts: cold[k].Mean, HotVolts: hot[k].Mean, Ripple: cold[k].Ripple, Valley: low[k].Valley, Farads: d.dc.Farads,
			CapacitorRMS: max(cold[k].CapacitorRMS, high[k].CapacitorRMS), DiodePeak: max(cold[k].DiodePeak, high[k].DiodePeak),
			DiodeAmps: waveform.DiodeRating(n.Amps), DiodeVolts: high[k].DiodeReverse,
		}
		if s.Ripple > d.o.Ripple*s.Volts*(1+1e-9) {
			d.note(yokemate.DCOverRating, yokemate.Caution, "rail %d keeps %s of ripple, more than %.0f %% of its %s, at any reservoir that a bench would build", k+1, si.Format(s.Ripple, "V", 2), 100*d.o.Ripple, si.Format(s.Volts, "V", 3))
		}
		if n.Regulated {
			s.Headroom = s.Valley - n.Volts
			s.RegulatorWatts = (high[k].Mean - n.Volts) * n.Amps // (S4)
			s.HeatSinkKW = (d.o.JunctionC-d.o.AmbientC)/s.RegulatorWatts - d.o.CaseKW
			s.HeatSinkHow = fmt.Sprintf("(%.0f − %.0f) K/%s − %.2g K/W = %.2g K/W", d.o.JunctionC, d.o.AmbientC, si.Format(s.RegulatorWatts, "W", 3), d.o.CaseKW, s.HeatSinkKW)
			if s.Headroom < d.o.Headroom {
				d.note(yokemate.DCOverRating, yokemate.Stop, "rail %d falls to %s in its valleys at low mains from hot copper: %s above %s, and a regulator wants %s", k+1,
					si.Format(s.Valley, "V", 3), si.Format(s.Headroom, "V", 2), si.Format(n.Volts, "V", 3), si.Format(d.o.Headroom, "V", 2))
			}
			if s.RegulatorWatts > 0 && s.HeatSinkKW <= 0 {
				d.note(yokemate.DCOverRating, yokemate.Stop, "the regulator of rail %d makes %s at high mains: no heat sink keeps it below %.0f °C", k+1, si.Format(s.RegulatorWatts, "W", 3), d.o.JunctionC)
			}
		} else if math.Abs(s.Volts-n.Volts) > tolerance*n.Volts || math.Abs(s.HotVolts-n.Volts) > tolerance*n.Volts {
			d.note(yokemate.DCOverRating, yokemate.Stop, "rail %d gives %s to %s from hot copper to cold, and %s ± %.0f %% is wanted", k+1,
				si.Format(s.HotVolts, "V", 3), si.Format(s.Volts, "V", 3), si.Format(n.Volts, "V", 3), 100*tolerance)
		}
		d.s.Rails = append(d.s.Rails, s)
	}
	return nil
}

// noLoad decides what the reservoir and the diodes must stand, (S2) and (S3).
func (d *designer) noLoad() error {
	peaks := make([]float64, len(d.s.Rails))
	pair := func(from, to string) (float64, error) { return idlePeak(d.f, d.h, yokemate.High, from, to) }
	var err error
	switch {
	case d.src.Middle != "":
		// Each half by itself charges its rail.
		var other float64
		if peaks[0], err = pair(d.src.From, d.src.Middle); err != nil {
			return err
		}
		if other, err = pair(d.src.To, d.src.Middle); err != nil {
			return err
		}
		peaks[0] = max(peaks[0], other)
		for k := range peaks {
			peaks[k] = peaks[0]
		}
	default:
		if peaks[0], err = pair(d.src.From, d.src.To); err != nil {
			return err
		}
	}
	across, err := pair(d.src.From, d.src.To)
	if err != nil {
		return err
	}
	for k := range d.s.Rails {
		s := &d.s.Rails[k]
		each, reverse := peaks[k], across
		s.NoLoadPeak = peaks[k]
		switch d.dc.Rectifier {
		case "doubler":
			s.NoLoadPeak, reverse = 2*peaks[k], 2*across
		case "half":
			reverse = 2 * across
		}
		s.CapacitorVolts = firstOf(capacitorVolts, each/CapacitorShare)
		if s.CapacitorVolts == 0 {
			d.note(yokemate.CapacitorVolts, yokemate.Stop, "with no load and at the highest mains rail %d stands at %s: no usual capacitor stands that", k+1, si.Format(each, "V", 3))
		}
		s.DiodeVolts = firstOf(diodeVolts, 2*reverse)
		if s.BleederOhms, s.BleederSeconds = Bleeder(s.Farads, each, d.o.BleedSeconds); s.BleederOhms > 0 {
			s.BleederWatts = each * each / s.BleederOhms
		}
		d.note(yokemate.CapacitorVolts, yokemate.Info, "with no load and at the highest mains each reservoir of rail %d stands at %s peak: at least %s/%.2f = %s", k+1,
			si.Format(each, "V", 3), si.Format(each, "V", 3), CapacitorShare, si.Format(each/CapacitorShare, "V", 3))
	}
	return nil
}

// rules of thumb: rms AC amps of a winding for one DC amp, (S7).
var rules = map[string]float64{"bridge": 1.8, "centre-tap": 1.2, "half": 2.6, "doubler": 3.5}

// capability finds the DC amps at which the first winding reaches its rating,
// (S6), at the highest mains, where the same DC is brought by the sharpest
// pulses, and what the rule of thumb says.
func (d *designer) capability() error {
	share := func(amps float64) (float64, *run, error) {
		keep := d.dc.Amps
		d.dc.Amps = amps
		defer func() { d.dc.Amps = keep }()
		r, _, err := d.at(yokemate.High, coldC, choosing)
		if err != nil {
			return 0, nil, err
		}
		s, _, _ := r.worst(true)
		return s, r, nil
	}
	// The share rises with the amps, nearly as a straight line past the idle
	// current: the secant from the need's own amps settles in a few steps.
	x0, x1 := 0.9*d.need.Amps, d.need.Amps
	s0, _, err := share(x0)
	if err != nil {
		return err
	}
	s1, r, err := share(x1)
	if err != nil {
		return err
	}
	for range 12 {
		if math.Abs(s1-1) < 1e-3 || s1 == s0 {
			break
		}
		// Never beyond twice or a quarter: a rectifier that is asked for what
		// its winding cannot give has no state.
		x := min(max(x1+(1-s1)*(x1-x0)/(s1-s0), x1/4), 2*x1)
		s, next, err := share(x)
		if err != nil {
			return err
		}
		x0, s0, x1, s1, r = x1, s1, x, s, next
	}
	d.s.MaxAmps = x1
	_, _, d.s.LimitedBy = r.worst(true)
	// The rule speaks of the winding that feeds the rectifier.
	limit := math.Inf(1)
	for i, p := range r.x.Parts.Windings {
		u := r.x.AC.UnitFacts(p.Core)
		if !p.Shorted && !u.Source.MainsSide(u.Windings[p.Winding].ID) && r.trace(r.windings+i).RMS > 0.05*x1 {
			limit = min(limit, u.Limits[p.Winding].Amps)
		}
	}
	k := rules[d.dc.Rectifier]
	d.s.RuleAmps = limit / k
	d.s.Rule = fmt.Sprintf("%s AC / %.1f = %s DC", si.Format(limit, "A", 3), k, si.Format(d.s.RuleAmps, "A", 3))
	return nil
}

// fuse chooses the primary fuse from the full load and the worst switch-on.
func (d *designer) fuse() error {
	r, _, err := d.at(yokemate.Nominal, coldC, telling)
	if err != nil {
		return err
	}
	high := make(network.FeedVolts, len(d.h.Feed))
	for i := range high {
		high[i] = d.h.Feed[i].At(yokemate.High)
	}
	x, err := waveform.FromHookup(d.f, d.h, waveform.HookupOptions{Volts: high})
	if err != nil {
		return err
	}
	_, square, err := x.WorstInrush(d.o.Remanence)
	if err != nil {
		return err
	}
	amps, _, _ := r.feed(0)
	c, err := protect.Choose(protect.Duty{Amps: amps, Rated: amps / r.mainsShare(), Inrush: square.Square[0], Kind: d.o.FuseKind})
	if err != nil {
		return yokemate.Errorf(yokemate.Invalid, "fuse", "%v", err).Mend("use a kind of T, F, slow or fast")
	}
	d.s.PrimaryFuse, d.s.FuseKind, d.s.FuseWhy, d.carried = c.Link.Amps, d.o.FuseKind, c.Why, c.OK
	last := len(d.h.Outputs) - 1
	d.s.Secondary, err = outputFuse(d.f, only(d.h, last), last, d.s.RuleAmps*rules[d.dc.Rectifier], d.s.PrimaryFuse, d.o.FuseKind)
	if err != nil {
		return err
	}
	fuses := make([]*yokemate.OutputFuse, len(d.h.Outputs))
	fuses[last] = d.s.Secondary
	d.s.Faults, d.s.ThermalLinks, err = faults(d.f, d.h, d.s.PrimaryFuse, d.o.FuseKind, fuses)
	return err
}

// list writes the parts.
func (d *designer) list() {
	s := &d.s.Rails[0]
	add := func(n int, what, why string, args ...any) {
		d.s.Parts = append(d.s.Parts, yokemate.Part{Count: n, What: what, Why: fmt.Sprintf(why, args...)})
	}
	rails := len(d.s.Rails)
	diodes := map[string]int{"bridge": 4, "centre-tap": 2, "half": 1, "doubler": 2}[d.dc.Rectifier]
	add(diodes, fmt.Sprintf("diode %g V %g A", s.DiodeVolts, s.DiodeAmps), "twice the reverse volts at the highest mains, 1.5 × the DC amps; peaks of %s each half wave", si.Format(s.DiodePeak, "A", 2))
	each := rails
	if d.dc.Rectifier == "doubler" {
		each = 2
	}
	add(each, fmt.Sprintf("capacitor %.0f µF %g V", s.Farads*1e6, s.CapacitorVolts), "ripple current %s rms or more", si.Format(s.CapacitorRMS, "A", 2))
	if s.BleederOhms > 0 {
		add(each, fmt.Sprintf("resistor %s %s", si.Format(s.BleederOhms, "Ω", 2), si.Format(2*s.BleederWatts, "W", 2)), "bleeds the reservoir to 25 V in %.0f s; twice its heat", s.BleederSeconds)
	}
	if d.need.Regulated {
		add(rails, fmt.Sprintf("regulator %s, %s", si.Format(d.need.Volts, "V", 3), si.Format(d.need.Amps, "A", 3)), "%s of heat at high mains; its input stands up to %s with no load", si.Format(s.RegulatorWatts, "W", 3), si.Format(s.NoLoadPeak, "V", 3))
		if s.HeatSinkKW > 0 {
			add(rails, fmt.Sprintf("heat sink %.2g K/W or less", s.HeatSinkKW), "%s", s.HeatSinkHow)
		}
	}
	if d.s.PrimaryFuse > 0 {
		why := "carries full load and the worst switch-on; see why"
		if !d.carried {
			why = "the largest that the limit allows, and it may open without a fault; see why"
		}
		add(1, fmt.Sprintf("fuse %s %g A, in the live wire", d.s.FuseKind, d.s.PrimaryFuse), "%s", why)
	}
	if x := d.s.Secondary; x != nil && x.Amps > 0 {
		add(x.Count, fmt.Sprintf("fuse %s %g A, in the lead of %s", x.Kind, x.Amps, x.Lead), "between winding and rectifier; see why")
	}
}
