package prove

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/predict"
	"yokemate/si"
	"yokemate/supply"
)

// A rectified output is proved after its AC side, in this order: the parts by
// eye, the rectifier's ohms with everything dead, first power through the lamp
// with nothing drawn, full mains with nothing drawn, the load, the ripple, and
// how soon the reservoirs are safe to touch. Its slips are those of the
// rectifier: the AC side's were told before it was joined.

// Common practice, no source, where nothing else is said.
const (
	rectifierOhms  = 20e3 // from plus to minus that a rectifier with its reservoir reads at least, once the kick is over [Ω]
	waveSamples    = 256  // of a period
	dropU          = 0.1  // of a diode's forward volts, as a standard uncertainty [V]
	loadU          = 0.05 // of the drop under load, by the load's amps and the copper, as a standard uncertainty [1]
	rippleU        = 0.15 // of the ripple, by the capacitor's tolerance and the load, as a standard uncertainty [1]
	priorRectifier = 0.06 // of all slips of the rectifiers
)

// rail is what a step of a rectified output is about.
type rail struct {
	output int // in the plan's hookup
	at     int // among the output's rails
	loaded bool
	ripple bool
	ohms   float64 // of the bleeder across each reservoir [Ω]; 0 where none is needed
}

// rectifierSlip is where a rectifier has its slip.
type rectifierSlip struct {
	output  int
	element int // diode or reservoir, from 0; for leads in each other's place the rails' leads
}

// rectifierWorlds lists the slips of the rectifiers of a hookup.
func rectifierWorlds(h *yokemate.Hookup) []world {
	var list []world
	for i := range h.Outputs {
		o := &h.Outputs[i]
		if o.DC == nil {
			continue
		}
		add := func(kind worldKind, code, words string, element int) {
			list = append(list, world{code: code, words: words, kind: kind, moved: true, part: 1, rect: &rectifierSlip{i, element}})
		}
		for k, where := range diodesOf(o) {
			n := fmt.Sprintf("%s/%d", o.Name, k+1)
			add(diodeTurned, "diode-reversed:"+n, fmt.Sprintf("diode %d of %s, %s, is the wrong way round", k+1, o.Name, where), k)
			add(diodeOpen, "diode-open:"+n, fmt.Sprintf("diode %d of %s, %s, does not conduct", k+1, o.Name, where), k)
		}
		for k := range reservoirs(o) {
			add(reservoirTurned, fmt.Sprintf("capacitor-reversed:%s/%d", o.Name, k+1), fmt.Sprintf("reservoir %d of %s is the wrong way round", k+1, o.Name), k)
		}
		add(polarity, "polarity:"+o.Name, fmt.Sprintf("plus and minus of %s are in each other's place", o.Name), 0)
		if o.DC.Middle != "" {
			add(tapSwapped, fmt.Sprintf("tap-swapped:%s/%s,%s", o.Name, o.From, o.DC.Middle), fmt.Sprintf("the leads of joints %s and %s to the rectifier of %s are in each other's place", o.From, o.DC.Middle, o.Name), 0)
			add(tapSwapped, fmt.Sprintf("tap-swapped:%s/%s,%s", o.Name, o.To, o.DC.Middle), fmt.Sprintf("the leads of joints %s and %s to the rectifier of %s are in each other's place", o.To, o.DC.Middle, o.Name), 1)
			add(middleOpen, "middle-open:"+o.Name, fmt.Sprintf("the lead from joint %s does not reach the rectifier of %s", o.DC.Middle, o.Name), 0)
		}
	}
	return list
}

// diodesOf says where each diode of an output stands, in the order that the
// network in time has them.
func diodesOf(o *yokemate.Output) []string {
	up := func(j string) string { return "from joint " + j + " to plus" }
	down := func(j string) string { return "from minus to joint " + j }
	switch o.DC.Rectifier {
	case "bridge":
		return []string{up(o.From), up(o.To), down(o.From), down(o.To)}
	case "centre-tap":
		return []string{up(o.From), up(o.To)}
	case "half":
		return []string{up(o.From)}
	}
	return []string{up(o.From), down(o.From)}
}

// reservoirs lists the pairs of points that each capacitor of an output lies
// between, plus first.
func reservoirs(o *yokemate.Output) [][2]string {
	if o.DC.Rectifier == "doubler" {
		return [][2]string{{o.Name + "+", o.To}, {o.To, o.Name + "-"}}
	}
	return o.Rails()
}

// rectified reports whether a state has a rectifier.
func rectified(h *yokemate.Hookup) bool {
	return slices.ContainsFunc(h.Outputs, func(o yokemate.Output) bool { return o.DC != nil })
}

// rectifierSteps adds the steps of the rectified outputs.
func (b *builder) rectifierSteps() error {
	for i := range b.p.hookup.Outputs {
		if b.p.hookup.Outputs[i].DC != nil {
			if err := b.rectifier(i); err != nil {
				return err
			}
		}
	}
	return nil
}

func (b *builder) rectifier(i int) error {
	p := b.p
	o := &p.hookup.Outputs[i]
	rails := o.Rails()
	peak, err := b.idlePeak(o)
	if err != nil {
		return err
	}
	ohms, wait := supply.Bleeder(o.DC.Farads, peak, supply.BleedSeconds)
	rated := peak / supply.CapacitorShare
	bleeder := ""
	if ohms > 0 {
		bleeder = fmt.Sprintf(" Across each goes a bleeder of %s for %s or more: it brings the reservoir below %s in %.0f s.", si.Format(ohms, "Ω", 2), si.Format(watts(peak*peak/ohms), "W", 2), si.Format(supply.SafeVolts, "V", 2), math.Ceil(wait))
	}
	dead := b.withRectifiers(i, false, false)
	b.add(step{Step: yokemate.Step{
		ID: "parts-" + o.Name, Do: fmt.Sprintf("Everything unplugged. Look at the parts of output %s before they are joined: every capacitor is marked for %.0f V or more, and its minus mark goes to the lower of its two points; every diode's ring is at the end that its current leaves by.%s", o.Name, math.Ceil(rated), bleeder),
		State: *dead.Clone(),
		Help:  fmt.Sprintf("With nothing drawn at the highest mains each capacitor stands at up to %s: no more than %.0f %% of its marked volts.", si.Format(peak, "V", 3), 100*supply.CapacitorShare),
	}})
	pairs := reservoirs(o)
	if o.DC.Rectifier == "bridge" && o.DC.Middle == "" {
		// From plus to a joint of the AC side no diode of the upper pair lets the
		// meter's current through, from there to minus none of the lower; the
		// winding joins both of a pair.
		pairs = append(pairs, [2]string{o.Name + "+", o.From}, [2]string{o.From, o.Name + "-"})
	}
	for k, r := range pairs {
		b.add(step{kind: rectifierDead, rail: &rail{output: i, at: k}, Step: yokemate.Step{
			ID: numbered("ohms-"+o.Name, k), Do: fmt.Sprintf("Everything unplugged, the rectifier and reservoirs of %s joined, no bleeder and no load yet, reservoirs discharged. Ohms with the red probe on %s and the black on %s: the reading climbs as the reservoir charges; wait until it stays.", o.Name, terminal(r[0]), terminal(r[1])),
			State: *dead.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: r[0], To: r[1]},
			Right: &yokemate.Interval{Value: 1e6, Low: rectifierOhms, High: openReading},
			Help:  "An electrolytic capacitor the wrong way round leaks, then heats and bursts; a diode the wrong way round may conduct here. Neither must see power.",
		}})
	}
	first := b.withRectifiers(i, true, false)
	l := b.lamp(b.h.Tags())
	for f := range first.Feed {
		first.Feed[f].Lamp = l
	}
	for k, r := range rails {
		b.add(step{rail: &rail{output: i, at: k, ohms: ohms}, Step: yokemate.Step{
			ID: numbered("lamp-"+o.Name, k), Do: fmt.Sprintf("Eyes away from the capacitors, bleeders fitted where they are named. First power of the rectifier through %s, nothing drawn, hands off. After half a minute read DC volts, red on %s, black on %s; the sign counts. Unplug.", lampName(l), terminal(r[0]), terminal(r[1])),
			State: *first.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsDC, From: r[0], To: r[1]},
			Help: "A bright lamp and next to no DC is a diode the wrong way round: the winding is shorted every other half wave. A minus sign is plus and minus changed over.",
		}})
	}
	idle := b.withRectifiers(i, true, false)
	for k, r := range rails {
		b.add(step{rail: &rail{output: i, at: k, ohms: ohms}, Step: yokemate.Step{
			ID: numbered("idle-"+o.Name, k), Do: fmt.Sprintf("Unplug, take the lamp out. Full mains, nothing drawn. Read DC volts, red on %s, black on %s.", terminal(r[0]), terminal(r[1])),
			State: *idle.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsDC, From: r[0], To: r[1]},
			Help: "This is the most that the reservoir sees at these mains: the crest of the AC less the diodes.",
		}})
	}
	if o.DC.Amps > 0 {
		loaded := b.withRectifiers(i, true, true)
		for k, r := range rails {
			alone := ""
			if len(rails) > 1 {
				alone = ", this rail alone"
			}
			b.add(step{rail: &rail{output: i, at: k, loaded: true, ohms: ohms}, Step: yokemate.Step{
				ID: numbered("load-"+o.Name, k), Do: fmt.Sprintf("Power off, wait %.0f s, connect a load that draws %s DC%s. Full mains. Read DC volts, red on %s, black on %s.", math.Ceil(math.Max(wait, 5)), si.Format(o.DC.Amps, "A", 2), alone, terminal(r[0]), terminal(r[1])),
				State: *loaded.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsDC, From: r[0], To: r[1]},
			}})
			b.add(step{rail: &rail{output: i, at: k, loaded: true, ripple: true, ohms: ohms}, Step: yokemate.Step{
				ID: numbered("ripple-"+o.Name, k), Do: fmt.Sprintf("The same load%s. Set the meter to AC volts, with a 1 µF film capacitor in the red lead where it does not block DC by itself. Read the ripple across %s and %s.", alone, terminal(r[0]), terminal(r[1])),
				State: *loaded.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: r[0], To: r[1]},
				Help: "Half wave in place of full wave shows here: the ripple doubles and its hum drops to the mains' own pitch.",
			}})
		}
	}
	if ohms > 0 {
		for k, r := range reservoirs(o) {
			b.add(step{kind: bled, rail: &rail{output: i, at: k, ohms: ohms}, Step: yokemate.Step{
				ID: numbered("bleed-"+o.Name, k), Do: fmt.Sprintf("Run it once more with nothing drawn, unplug, load off, and wait %.0f s. Read DC volts, red on %s, black on %s.", math.Ceil(wait), terminal(r[0]), terminal(r[1])),
				State: *dead.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsDC, From: r[0], To: r[1]},
				Right: &yokemate.Interval{Value: supply.SafeVolts / 2, Low: 0, High: supply.SafeVolts},
				Help:  "A reservoir without a bleeder holds its charge for hours.",
			}})
		}
	}
	return nil
}

// conducts lists the slips of a dead rectifier that a reading from plus to
// minus shows, with what it may be: silicon at an ohmmeter's volts, or a
// capacitor's leak the wrong way (common practice, no source).
func (p *Plan) conducts(s *step) []yokemate.Slip {
	o := &p.hookup.Outputs[s.rail.output]
	reservoirs := len(reservoirs(o))
	var list []yokemate.Slip
	for i := range p.worlds {
		w := &p.worlds[i]
		if w.rect == nil || w.rect.output != s.rail.output {
			continue
		}
		shown := w.kind == reservoirTurned && w.rect.element == s.rail.at
		if w.kind == diodeTurned {
			upper := strings.HasSuffix(diodesOf(o)[w.rect.element], "plus")
			switch {
			case o.DC.Rectifier == "bridge" && o.DC.Middle == "":
				shown = s.rail.at == reservoirs && upper || s.rail.at == reservoirs+1 && !upper
			default:
				shown = upper == (s.rail.at == 0)
			}
		}
		if shown {
			list = append(list, yokemate.Slip{Code: w.code, Words: w.words, Value: 2e3, Low: 50, High: rectifierOhms})
		}
	}
	return list
}

// lugs is where a reading at a rectifier's AC lugs falls in a world; ok is
// false where a lug hangs free.
func (w *world) lugs(m yokemate.Measure, o *yokemate.Output) (yokemate.Measure, bool) {
	from, to := o.From, o.DC.Middle
	switch {
	case w.kind == middleOpen:
		return m, m.From != to && m.To != to
	case w.kind != tapSwapped:
		return m, true
	case w.rect.element == 1:
		from = o.To
	}
	at := func(name string) string {
		switch name {
		case from:
			return to
		case to:
			return from
		}
		return name
	}
	m.From, m.To = at(m.From), at(m.To)
	return m, true
}

// numbered tells the rails of an output apart where it has more than one.
func numbered(id string, k int) string {
	if k == 0 {
		return id
	}
	return fmt.Sprintf("%s-%d", id, k+1)
}

// terminal says a point of a rectified output.
func terminal(at string) string {
	if strings.HasSuffix(at, "+") || strings.HasSuffix(at, "-") {
		return "terminal " + at
	}
	return "joint " + at
}

// withRectifiers is the finished hookup with the i-th output's rectifier.
func (b *builder) withRectifiers(i int, fed, loaded bool) *yokemate.Hookup {
	h := b.finished(false)
	h.Fed = &fed
	d := *b.p.hookup.Outputs[i].DC
	if !loaded {
		d.Amps = 0
	}
	h.Outputs[i].DC = &d
	return h
}

// idlePeak is the most that each reservoir of an output stands at: the crest
// of the AC at the highest mains with nothing drawn, at the end of its interval [V].
func (b *builder) idlePeak(o *yokemate.Output) (float64, error) {
	n, err := network.Build(b.f, b.finished(false), network.Options{})
	if err != nil {
		return 0, err
	}
	r, err := predict.NewRun(n, n.VoltsAt(yokemate.High), nil)
	if err != nil {
		return 0, err
	}
	most := 0.0
	pairs := [][2]string{{o.From, o.To}}
	if m := o.DC.Middle; m != "" {
		pairs = [][2]string{{o.From, m}, {m, o.To}}
	}
	for _, x := range pairs {
		if d, ok := r.Volts(x[0], x[1]); ok {
			most = math.Max(most, math.Sqrt2*d.Interval().High)
		}
	}
	return most, nil
}

// wave is what a rail's curve comes to.
type wave struct {
	mean, ripple float64
	err          error
}

// turn makes a slip in the rectifiers of a hookup in time.
func (w *world) turn(x *waveform.Hookup) {
	c := &x.Circuit
	var own []waveform.Rail
	for _, r := range x.Rails {
		if r.Output == w.rect.output {
			own = append(own, r)
		}
	}
	var diodes []int
	for _, r := range own {
		diodes = append(diodes, r.Diodes...)
	}
	switch w.kind {
	case diodeTurned:
		d := &c.Diodes[diodes[w.rect.element]]
		d.From, d.To = d.To, d.From
	case diodeOpen:
		d := &c.Diodes[diodes[w.rect.element]]
		d.Law = waveform.DiodeLaw{Saturation: 1e-12, Thermal: 1e6, Ohms: d.Law.Ohms, Leak: 1e-12}
	case middleOpen:
		// What went to the tap goes to a point of its own.
		m := own[0].Minus
		free := c.Nodes
		c.Nodes++
		move := func(n *int) {
			if *n == m {
				*n = free
			}
		}
		for _, r := range own {
			for _, k := range r.Capacitors {
				move(&c.Capacitors[k].From)
				move(&c.Capacitors[k].To)
			}
			move(&c.Sinks[r.Sink].From)
			move(&c.Sinks[r.Sink].To)
		}
		for i := range x.Rails {
			if x.Rails[i].Output == w.rect.output {
				move(&x.Rails[i].Plus)
				move(&x.Rails[i].Minus)
			}
		}
	}
}

// dc is what a step at a rectifier reads in one world.
func (p *Plan) dc(s *step, w *world) *forecast {
	f := &forecast{}
	q := s.Measure.Quantity
	nothing := func() *forecast {
		fixed := 0.0
		if a, ok := p.meter.On(q, 0); ok {
			fixed = a.Fixed * math.Sqrt(3)
		}
		f.dist = predict.Exact(0, 0.02, fixed)
		return f
	}
	if w.kind == fuseBlown {
		return nothing()
	}
	r := s.rail
	mean, ripple, err := p.wave(s, w)
	if err != nil {
		// The wiring has no periodic state that is found: a short that blows
		// the fuse or lights the lamp, with next to nothing behind it.
		f.err = err
		return nothing()
	}
	v, u := mean, 0.0
	if r.ripple {
		v, u = ripple, rippleU*ripple
	} else {
		u = math.Hypot(p.acSpread(s)*mean, 2*dropU)
		if r.loaded {
			empty := *s
			empty.rail = &rail{output: r.output, at: r.at, ohms: r.ohms}
			empty.State = *s.State.Clone()
			empty.State.Outputs[r.output].DC.Amps = 0
			if idle, _, err := p.wave(&empty, w); err == nil {
				u = math.Hypot(u, loadU*(math.Abs(idle)-math.Abs(mean)))
			}
		}
	}
	f.neg = v < -0.2
	v = math.Abs(v)
	fixed := 0.0
	if a, ok := p.meter.On(q, v); ok {
		fixed = a.Fixed * math.Sqrt(3)
		u = math.Hypot(u, a.Gain*v)
	}
	f.dist = predict.Exact(v, u, fixed)
	return f
}

// acSpread is the relative standard uncertainty of the AC volts that feed the
// rectifier of a step, the socket's included [1]. Where they were read, what
// is left is the meter's gain on two ranges and the socket's drift.
func (p *Plan) acSpread(s *step) float64 {
	o := &p.hookup.Outputs[s.rail.output]
	if _, ok := p.seen[s.rail.output]; ok {
		return math.Hypot(0.01, drift)
	}
	at := p.step("output-" + o.Name)
	if at == nil {
		return 0.05
	}
	v := p.forecast(at, &p.worlds[0]).dist.Interval()
	return (v.High - v.Low) / (2 * 1.96 * v.Value)
}

// wave finds the mean and the ripple of a step's rail in one world [V].
func (p *Plan) wave(s *step, w *world) (mean, ripple float64, err error) {
	r := s.rail
	of := *r
	of.ripple = false // one wave serves both readings
	key := fmt.Sprintf("wave|%v|%s|%g|", of, w.code, p.seen[r.output]) + stateKey(&step{Step: yokemate.Step{Measure: &yokemate.Measure{}}}, &s.State, network.Options{}, p.mains)
	if v, ok := p.waves[key]; ok {
		return v.mean, v.ripple, v.err
	}
	defer func() { p.waves[key] = wave{mean, ripple, err} }()
	h := &s.State
	if w.kind == tapSwapped {
		h, _, _ = w.in(h)
	}
	h = p.atSocket(s, h)
	if k, ok := p.seen[r.output]; ok {
		for i := range h.Feed {
			h.Feed[i].Volts = yokemate.PlusMinus(k*h.Feed[i].Volts.V, h.Feed[i].Volts.U, yokemate.Measured)
		}
	}
	x, err := waveform.FromHookup(p.facts, h, waveform.HookupOptions{})
	if err != nil {
		return 0, 0, err
	}
	if w.rect != nil {
		w.turn(x)
	}
	c := &x.Circuit
	k := 0
	for i := range x.Rails {
		l := &x.Rails[i]
		if l.Output != r.output {
			continue
		}
		if r.loaded && k != r.at {
			c.Sinks[l.Sink].Amps = 0
		}
		for _, cap := range l.Capacitors {
			ohms := p.meter.Input()
			if r.ohms > 0 {
				ohms = r.ohms
			}
			q := c.Capacitors[cap]
			c.Branches = append(c.Branches, waveform.Branch{From: q.From, To: q.To, Ohms: ohms})
		}
		k++
	}
	if x.System, err = waveform.Compile(c); err != nil {
		return 0, 0, err
	}
	start := x.Start
	if len(start) != x.States() {
		start = x.Rest()
	}
	at := -1
	for i, l := range x.Rails {
		if l.Output == r.output {
			if at++; at == r.at {
				probe := x.Volts(x.Rails[i].Plus, x.Rails[i].Minus)
				wv, _, _, err := x.Periodic(start, waveform.Options{Samples: waveSamples, Probes: []waveform.Probe{probe}})
				if err != nil {
					return 0, 0, err
				}
				t := wv.Traces[0]
				mean = t.Mean
				if w.kind == polarity {
					mean = -mean
				}
				return mean, p.rippleShown(&t), nil
			}
		}
	}
	return 0, 0, yokemate.Errorf(yokemate.Internal, s.ID, "there is no rail %d", r.at+1)
}

// rippleShown is what the meter shows of the alternating part of a trace: its
// true rms, or the mean of its absolute value scaled for a sine.
func (p *Plan) rippleShown(t *waveform.Trace) float64 {
	if p.meter.TrueRMS {
		return math.Sqrt(math.Max(0, t.RMS*t.RMS-t.Mean*t.Mean))
	}
	sum := 0.0
	for _, v := range t.Values[1:] {
		sum += math.Abs(v - t.Mean)
	}
	return math.Pi / (2 * math.Sqrt2) * sum / float64(len(t.Values)-1)
}

// deadRectifier judges the ohms of a rectifier by the limit of practice: what
// conducts from plus to minus must not see power.
func (j *judge) deadRectifier(s *step, r reading) {
	v := yokemate.Verdict{Step: s.ID, Right: j.right(), Slips: []yokemate.Probability{}}
	if r.over || r.value >= rectifierOhms {
		v.Verdict, v.Words = "go", "Nothing conducts the wrong way."
		j.done[s.ID] = true
	} else {
		o := &j.p.hookup.Outputs[s.rail.output]
		v.Verdict = "stop"
		v.Words = fmt.Sprintf("No power yet: %s conducts from plus to minus. A capacitor or a diode of it is the wrong way round, or there is a short. Look at every mark and ring, mend it, discharge, then read again.", o.Name)
		j.state, j.stop = yokemate.ProofStopped, s.ID
	}
	j.verdicts = append(j.verdicts, v)
}

// discharge judges what a reservoir still holds.
func (j *judge) discharge(s *step, r reading) {
	v := yokemate.Verdict{Step: s.ID, Right: j.right(), Slips: []yokemate.Probability{}}
	if r.value <= supply.SafeVolts {
		v.Verdict, v.Words = "go", fmt.Sprintf("Below %s: safe to touch.", si.Format(supply.SafeVolts, "V", 2))
		j.done[s.ID] = true
	} else {
		v.Verdict = "change"
		v.Words = fmt.Sprintf("Still %s: do not touch it. The bleeder is open, missing or too many ohms. Discharge it through a resistor of some 100 Ω for 5 W, mend the bleeder, then read again.", si.Format(r.value, "V", 3))
		j.ask = s.ID
	}
	j.verdicts = append(j.verdicts, v)
}
