package prove

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/protect"
	"yokemate/predict"
	"yokemate/si"
	"yokemate/supply"
)

// Options of a proof; the zero value is the plain one.
type Options struct {
	Meter  *yokemate.Meter // that takes the readings; nil: the shelf's
	Limits predict.Limits
	Trial  float64 // volts of the low source for trials [V]; 0: 12
}

// Plan is a hookup's steps with everything that may be so at each of them.
type Plan struct {
	facts  *network.Facts
	hookup *yokemate.Hookup
	opt    Options
	meter  *yokemate.Meter
	limits predict.Limits
	steps  []*step
	worlds []world
	notes  []yokemate.Note

	against string // the first stop of the prediction that no reading can lift

	mains float64 // what the socket was last known to read [V]
	mainU float64 // its standard uncertainty [V]
	cache map[string]*forecast
	gaps  map[string]*closing
	waves map[string]wave
	seen  map[int]float64 // AC volts read at a rectified output, over those foreseen
}

// step is a step with what the judge must know of it.
type step struct {
	yokemate.Step
	kind     stepKind
	optional bool // "unsure" passes it, and is then not proven
	gap      [2]string
	lugs     *yokemate.Output // read at the lugs of its rectifier; nil: at the joints themselves
	rail     *rail            // of a rectified output; nil: of none
	after    string           // of a gap: the last of its live readings, which must come right before it; of that: the one before
	feeds    bool             // the gap feeds a unit that has no mains of its own: its current is no circulation
	trial    bool             // fed from the low source
	barred   string           // why it is not to be taken at all
	branch   branch
	coils    *coils  // of a trial's gap between two mains coils, where the idle current hides what they differ by
	hidden   float64 // of one where it hides little: how much, over the smaller rating [1]
}

// branch is a winding whose current is read because it shares a load.
type branch struct {
	winding string  // as T1/A
	pin     string  // whose lead the ammeter is in
	joint   string  // that it leaves
	rating  float64 // [A]
	alone   float64 // current without the ammeter, for each ampere with it [1]
}

type stepKind int

const (
	plain stepKind = iota
	continuity
	gapReading
	liveReading
	branchAmps
	rectifierDead
	bled
	insulationTest
	earthBond
)

// byLimit reports whether a step's reading is judged by a limit of practice
// alone, not by what the network foresees.
func (k stepKind) byLimit() bool {
	return k == insulationTest || k == earthBond || k == rectifierDead || k == bled
}

// New plans the proof of a hookup.
func New(f *network.Facts, h *yokemate.Hookup, opt Options) (*Plan, error) {
	if err := h.Validate(); err != nil {
		return nil, err
	}
	if err := h.Check(f.Shelf); err != nil {
		return nil, err
	}
	if err := ownNames(f.Shelf, h); err != nil {
		return nil, err
	}
	ac := h.Clone() // what the steps before the rectifiers prove
	for i := range ac.Outputs {
		ac.Outputs[i].DC = nil
	}
	p := &Plan{facts: f, hookup: h, opt: opt, meter: opt.Meter, limits: opt.Limits, cache: map[string]*forecast{}, gaps: map[string]*closing{}, waves: map[string]wave{}}
	if p.meter == nil {
		p.meter = f.Shelf.Meter()
	}
	if p.opt.Trial == 0 {
		p.opt.Trial = 12
	}
	feed := h.Feed[0]
	p.mains = feed.Volts.V
	p.mainU = math.Max(feed.Volts.U, (feed.At(yokemate.High)-feed.At(yokemate.Low))/(2*1.96))
	pred, err := predict.Hookup(f, ac, yokemate.Nominal, predict.Options{Brief: true, Limits: opt.Limits, Meter: p.meter})
	if err != nil {
		return nil, err
	}
	p.notes = pred.Notes
	if rectified(h) {
		s, err := supply.Predict(f, h, yokemate.Nominal, predict.Options{Brief: true, Limits: opt.Limits, Meter: p.meter})
		if err != nil {
			return nil, err
		}
		p.notes = s.Notes
	}
	for _, n := range p.notes {
		if n.Level == yokemate.Stop && (n.Code == yokemate.CoreJoined || n.Code == yokemate.Quarantine || n.Code == yokemate.HazardousVoltage) {
			return nil, yokemate.Errorf(yokemate.Impossible, n.About, "%s", n.Words).Mend("leave this unit out; nothing is proved with it")
		}
	}
	if p.worlds, err = worlds(f, ac, h); err != nil {
		return nil, err
	}
	b := &builder{p: p, f: f, h: ac}
	if err := b.build(); err != nil {
		return nil, err
	}
	p.burden()
	p.live()
	if err := b.coils(); err != nil {
		return nil, err
	}
	if err := b.share(); err != nil {
		return nil, err
	}
	return p, p.bar()
}

// builder lays out the steps.
type builder struct {
	p      *Plan
	f      *network.Facts
	h      *yokemate.Hookup
	joints yokemate.Joints // as joined so far: pieces of the final joints
	fed    []string        // units whose mains side is proved
	pairs  []pair          // gaps between windings that are to share a load
}

// pair is a gap and a pin of each winding that its closing joins.
type pair struct {
	gap   string // the step
	joint string
	pins  []string
}

// end names the free end of a pin in a state.
func end(pin string) string { return strings.Replace(pin, ".", "-", 1) }

// ownNames keeps the hookup's joints apart from the points that the steps name
// themselves: with two of one name a step would read at the wrong place.
func ownNames(s *yokemate.Shelf, h *yokemate.Hookup) error {
	taken := map[string]string{"feed": ""} // the names, with the pin of a free end
	for _, tag := range h.Tags() {
		taken[tag+"-mains"], taken[tag+"-rest"] = "", ""
		for _, pin := range append(s.Unit(tag).Pins(), yokemate.CorePin) {
			pin = tag + "." + pin
			if _, ok := taken[end(pin)]; ok {
				return yokemate.Errorf(yokemate.Invalid, pin, "another pin of the hookup has the name %s too, with its dash elsewhere", end(pin)).Mend("rename the unit or the pin on the shelf")
			}
			taken[end(pin)] = pin
		}
	}
	for i := range h.Outputs {
		for _, r := range h.Outputs[i].Rails() {
			for _, at := range r {
				if at == h.Outputs[i].Name+"+" || at == h.Outputs[i].Name+"-" {
					taken[at] = ""
				}
			}
		}
	}
	for _, j := range h.Joints {
		if pin, ok := taken[j.Name]; ok && (len(j.Pins) != 1 || j.Pins[0] != pin) {
			return yokemate.Errorf(yokemate.Invalid, "joint "+j.Name, "the steps of a proof have a point of this name").Mend("rename the joint, for example to A")
		}
	}
	return nil
}

func (b *builder) add(s step) {
	n := 1
	id := s.ID
	for slices.ContainsFunc(b.p.steps, func(x *step) bool { return x.ID == s.ID }) {
		n++
		s.ID = fmt.Sprintf("%s-%d", id, n)
	}
	s.Slips = []yokemate.Slip{}
	b.p.steps = append(b.p.steps, &s)
}

// state makes a hookup state of the given joints; fed tells whether the plug is in.
func (b *builder) state(name string, joints yokemate.Joints, fed bool) yokemate.Hookup {
	s := yokemate.Hookup{Format: yokemate.HookupFormat, Name: name, Feed: slices.Clone(b.h.Feed), CopperC: b.h.CopperC}
	s.Joints = yokemate.Joints{}
	for _, j := range joints {
		s.Joints = append(s.Joints, yokemate.Joint{Name: j.Name, Pins: slices.Clone(j.Pins)})
	}
	if s.Joints.Joint(b.h.Earth) != nil {
		s.Earth = b.h.Earth
	}
	s.Fed = &fed
	if fed {
		for i := range s.Feed {
			// A plug whose wires reach nothing in this state is out.
			if s.Joints.Joint(s.Feed[i].Live) == nil || s.Joints.Joint(s.Feed[i].Neutral) == nil {
				out := false
				s.Feed[i].Fed = &out
			}
			s.Feed[i].Lamp = nil
		}
		if len(s.Feed) > 1 {
			for i := range s.Feed {
				if s.Feed[i].Fed == nil {
					in := true
					s.Feed[i].Fed = &in
				}
			}
		}
	}
	return s
}

// lamp is the limiter for first power on the given units: the hookup's own
// where it names one, else one matched to them.
func (b *builder) lamp(tags []string) *yokemate.Lamp {
	if l := b.h.Feed[0].Lamp; l != nil {
		return l
	}
	va := 0.0
	for _, t := range tags {
		u, _ := b.f.Unit(t)
		va += u.VA
	}
	l := protect.LampFor(va, b.h.Feed[0].Volts.V)
	return &yokemate.Lamp{Watts: l.Watts, Volts: l.Volts}
}

func lampName(l *yokemate.Lamp) string {
	if l.Filament() {
		return "a " + si.Format(l.Watts, "W", 2) + " filament lamp (never an LED lamp)"
	}
	return "a " + si.Format(l.Ohms, "Ω", 2) + " resistor"
}

func (b *builder) build() error {
	tags := b.h.Tags()
	for _, tag := range tags {
		if err := b.cold(tag); err != nil {
			return err
		}
	}
	for _, tag := range tags {
		if err := b.alone(tag); err != nil {
			return err
		}
	}
	if err := b.join(); err != nil {
		return err
	}
	return b.finish()
}

// windings lists a unit's windings that the hookup touches.
func (b *builder) windings(tag string) []*yokemate.Winding {
	u, _ := b.f.Unit(tag)
	var ws []*yokemate.Winding
	for _, w := range u.Windings {
		if b.used(tag, w.Pins[0]) || b.used(tag, w.Pins[1]) {
			ws = append(ws, w)
		}
	}
	return ws
}

func (b *builder) used(tag, pin string) bool { return b.h.Joints.Of(tag+"."+pin) != "" }

// free makes single-pin joints of the pins of a unit's windings in use.
func (b *builder) free(tag string) yokemate.Joints {
	var js yokemate.Joints
	for _, w := range b.windings(tag) {
		for _, p := range w.Pins {
			if pin := tag + "." + p; js.Of(pin) == "" {
				js = append(js, yokemate.Joint{Name: end(pin), Pins: []string{pin}})
			}
		}
	}
	return js
}

// cold lists the dead readings of one unit.
func (b *builder) cold(tag string) error {
	u, err := b.f.Unit(tag)
	if err != nil {
		return err
	}
	for _, w := range b.windings(tag) {
		from, to := tag+"."+w.Pins[0], tag+"."+w.Pins[1]
		b.add(step{Step: yokemate.Step{
			ID: "ohms-" + tag + "-" + w.ID, Do: fmt.Sprintf("Everything unplugged, %s on its own. Read ohms of %s between pins %s and %s; take off what the touched probes read.", tag, w.ID, w.Pins[0], w.Pins[1]),
			State: b.state(tag+" cold", b.free(tag), false), Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: end(from), To: end(to)},
			Help: "A winding that reads open is broken, or has a blown thermal link under its tape. One that reads low may have another's pins.",
		}})
	}
	var mains, rest []string
	for _, w := range u.Source.Windings {
		for _, p := range w.Pins {
			pin := tag + "." + p
			switch {
			case slices.Contains(mains, pin) || slices.Contains(rest, pin):
			case u.Source.MainsSide(w.ID) || u.Source.Mains == nil && w.ID == u.Source.Windings[0].ID:
				mains = append(mains, pin)
			default:
				rest = append(rest, pin)
			}
		}
	}
	rest = append(rest, tag+"."+yokemate.CorePin)
	joints := yokemate.Joints{{Name: tag + "-mains", Pins: mains}, {Name: tag + "-rest", Pins: rest}}
	b.add(step{kind: insulationTest, optional: true, Step: yokemate.Step{
		ID: "insulation-" + tag, Do: fmt.Sprintf("Join all mains-side pins of %s, and all others to its core. Insulation tester at 500 V DC for one minute between the two; discharge afterwards. No tester: check that an ohmmeter reads over, and answer unsure.", tag),
		State: b.state(tag+" insulation", joints, false), Measure: &yokemate.Measure{Quantity: yokemate.Megohms, From: tag + "-mains", To: tag + "-rest"},
		Right: &yokemate.Interval{Value: 200, Low: 100, High: mostMegohms},
		Help:  "100 MΩ or more is good, 2 to 100 MΩ: dry it and repeat, under 2 MΩ: reject (common practice). Without this reading the insulation is not proven: earthed metal case only.",
	}})
	return nil
}

// mainsJoints are the final joints of a unit's mains-side pins, this unit's
// pins alone. whole reports that they put the unit across a plug.
func (b *builder) mainsJoints(tag string) (js yokemate.Joints, whole bool) {
	u, _ := b.f.Unit(tag)
	for _, j := range b.h.Joints {
		var pins []string
		for _, p := range j.Pins {
			t, pin, _ := yokemate.SplitPin(p)
			if t == tag && pin != yokemate.CorePin && sideOf(u, pin) {
				pins = append(pins, p)
			}
		}
		if len(pins) > 0 {
			js = append(js, yokemate.Joint{Name: j.Name, Pins: pins})
		}
	}
	f := b.h.Feed[0]
	for _, g := range b.h.Feed {
		if js.Joint(g.Live) != nil && js.Joint(g.Neutral) != nil {
			f = g
		}
	}
	return js, js.Joint(f.Live) != nil && js.Joint(f.Neutral) != nil
}

// alone lists the first powered readings of one unit by itself.
func (b *builder) alone(tag string) error {
	u, _ := b.f.Unit(tag)
	js, whole := b.mainsJoints(tag)
	trial := !whole
	if !whole {
		// Its mains side gets its volts through other units: prove it alone on a
		// low source across the windings its label names.
		js = b.lowAlone(u)
	}
	if len(js) == 0 {
		return nil
	}
	if err := b.pairedCoils(u, js); err != nil {
		return err
	}
	joints := slices.Clone(js)
	for _, w := range b.windings(tag) {
		for _, p := range w.Pins {
			if pin := tag + "." + p; joints.Of(pin) == "" {
				joints = append(joints, yokemate.Joint{Name: end(pin), Pins: []string{pin}})
			}
		}
	}
	live, neutral := b.h.Feed[0].Live, b.h.Feed[0].Neutral
	for _, g := range b.h.Feed {
		if js.Joint(g.Live) != nil && js.Joint(g.Neutral) != nil {
			live, neutral = g.Live, g.Neutral
		}
	}
	powered := func(name string) yokemate.Hookup {
		s := b.state(name, joints, true)
		if trial {
			s.Feed = yokemate.Feeds{b.trialFeed(live, neutral)}
		}
		return s
	}
	source := "full mains"
	if trial {
		source = "the low source of about " + si.Format(b.p.opt.Trial, "V", 2)
	} else {
		s := powered(tag + " through the lamp")
		l := b.lamp([]string{tag})
		for i := range s.Feed {
			s.Feed[i].Lamp = l
		}
		b.add(step{Step: yokemate.Step{
			ID: "lamp-" + tag, Do: fmt.Sprintf("First power: %s alone, %s in its live wire, every other winding open, covers on. Plug in, hands off, wait a minute, then read the volts across %s and %s. Note what the socket reads.", tag, lampName(l), live, neutral),
			State: s, Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: live, To: neutral},
			Help: "A dark or dull lamp and nearly all the mains behind it is good. A bright lamp is a fault: pull the plug. A flash that dies away is normal for a ring core.",
		}})
	}
	b.add(step{trial: trial, Step: yokemate.Step{
		ID: "mains-" + tag, Do: fmt.Sprintf("Unplug, take the lamp out. %s alone on %s. Read the volts across %s and %s: all later readings are reckoned from them.", tag, source, live, neutral),
		State: powered(tag + " alone"), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: live, To: neutral},
	}})
	for _, w := range b.windings(tag) {
		from, to := joints.Of(tag+"."+w.Pins[0]), joints.Of(tag+"."+w.Pins[1])
		if from == live && to == neutral || from == neutral && to == live || from == to {
			continue
		}
		b.add(step{trial: trial, Step: yokemate.Step{
			ID: "volts-" + tag + "-" + w.ID, Do: fmt.Sprintf("%s alone on %s. Read the volts of %s between pins %s and %s.", tag, source, w.ID, w.Pins[0], w.Pins[1]),
			State: powered(tag + " alone"), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: from, To: to},
			Help: "Off load a small unit reads a fifth to a third above its label; that is healthy.",
		}})
	}
	b.add(step{trial: trial, Step: yokemate.Step{
		ID: "idle-" + tag, Do: fmt.Sprintf("%s alone on %s, nothing drawn. Read the current in the live wire, AC amps.", tag, source),
		State: powered(tag + " alone"), Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"},
		Help: "Shorted turns hardly move a volt; the idle current shows them. So does a tap taken for an end.",
	}})
	if !trial {
		b.add(step{optional: true, Step: yokemate.Step{
			ID: "watts-" + tag, Do: fmt.Sprintf("%s alone on %s, nothing drawn. With a wattmeter, read the watts it takes; without one, answer unsure.", tag, source),
			State: powered(tag + " alone"), Measure: &yokemate.Measure{Quantity: yokemate.Watts, From: "feed"},
			Help: "A few shorted turns show in watts before they show in amps.",
		}})
	}
	b.fed = append(b.fed, tag)
	return nil
}

// lowAlone joins the windings that the label names in series across the
// plug's joint names, for the low source.
func (b *builder) lowAlone(u *network.Unit) yokemate.Joints {
	ids := []string{u.Windings[0].ID}
	if u.Source.Mains != nil {
		ids = u.Source.Mains.Series
	}
	f := b.h.Feed[0]
	js := yokemate.Joints{{Name: f.Live}}
	for i, id := range ids {
		w := u.Source.Winding(id)
		js[len(js)-1].Pins = append(js[len(js)-1].Pins, u.Tag+"."+w.Pins[0])
		name := end(u.Tag + "." + w.Pins[1])
		if i == len(ids)-1 {
			name = f.Neutral
		}
		js = append(js, yokemate.Joint{Name: name, Pins: []string{u.Tag + "." + w.Pins[1]}})
		// A tapped winding's parts share the pin.
		if i < len(ids)-1 && u.Source.Winding(ids[i+1]).Pins[0] == w.Pins[1] {
			js[len(js)-1].Pins = nil
		}
	}
	return js
}

// trialFeed is the low source in place of the mains: an isolated AC adapter
// through a 250 mA fuse.
func (b *builder) trialFeed(live, neutral string) yokemate.Feed {
	v := b.p.opt.Trial
	return yokemate.Feed{Volts: yokemate.Num(v), Low: 0.85 * v, High: 1.25 * v, Hertz: b.h.Feed[0].Hertz, Live: live, Neutral: neutral, FuseAmps: 0.25, FuseKind: "T", Ohms: 2}
}

// pairedCoils proves mains coils of one unit that are joined to each other, at
// the low source: fed through one coil, the next joint's gap is read before it
// is closed.
func (b *builder) pairedCoils(u *network.Unit, js yokemate.Joints) error {
	coils := 0
	for _, w := range b.windings(u.Tag) {
		if u.Source.MainsSide(w.ID) {
			coils++
		}
	}
	if coils < 2 {
		return nil
	}
	pieces := yokemate.Joints{}
	var first *yokemate.Winding
	for _, w := range b.windings(u.Tag) {
		if !u.Source.MainsSide(w.ID) {
			continue
		}
		if first == nil {
			first = w
		}
		for _, p := range w.Pins {
			if pin := u.Tag + "." + p; pieces.Of(pin) == "" {
				pieces = append(pieces, yokemate.Joint{Name: end(pin), Pins: []string{pin}})
			}
		}
	}
	// The first coil is fed by the low source at its own pins.
	state := func() yokemate.Hookup {
		s := b.state(u.Tag+" at the low source", pieces, true)
		s.Feed = yokemate.Feeds{b.trialFeed(pieces.Of(u.Tag+"."+first.Pins[0]), pieces.Of(u.Tag+"."+first.Pins[1]))}
		return s
	}
	for _, j := range js {
		for _, pin := range j.Pins[1:] {
			into, from := pieces.Of(j.Pins[0]), pieces.Of(pin)
			if into == from {
				continue
			}
			if reachable(pieces, b.windingEdges([]string{u.Tag}), into, from) {
				live := b.liveReadings(state(), pieces, b.windingEdges([]string{u.Tag}), into, from, u.Tag+"-"+j.Name, true)
				b.add(step{kind: gapReading, trial: true, gap: [2]string{into, from}, after: live, Step: yokemate.Step{
					ID: "trial-" + u.Tag + "-" + j.Name, Do: fmt.Sprintf("The low source of about %s on pins %s and %s of %s, through its 250 mA fuse. Read the volts across the gap between pin %s and what is to be joint %s, before they are joined.", si.Format(b.p.opt.Trial, "V", 2), first.Pins[0], first.Pins[1], u.Tag, pin, j.Name),
					State: state(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: into, To: from}, Closes: j.Name,
					Help: "Mains coils joined the wrong way round leave only their copper between the blades: amps where milliamps belong.",
				}})
			}
			merge(&pieces, into, from)
		}
		// The piece takes the final joint's name.
		if at := pieces.Joint(pieces.Of(j.Pins[0])); at != nil && !feedJoint(b.h, j.Name) {
			at.Name = j.Name
		}
	}
	// Coils in series, now joined: the far ends tell aiding from opposing.
	for _, w := range b.windings(u.Tag) {
		if !u.Source.MainsSide(w.ID) || w == first {
			continue
		}
		from, to := pieces.Of(u.Tag+"."+first.Pins[0]), pieces.Of(u.Tag+"."+w.Pins[1])
		if pieces.Of(u.Tag+"."+w.Pins[0]) != pieces.Of(u.Tag+"."+first.Pins[1]) || from == to {
			continue
		}
		b.add(step{trial: true, Step: yokemate.Step{
			ID: "trial-" + u.Tag + "-" + first.ID + "-" + w.ID, Do: fmt.Sprintf("The low source of about %s on pins %s and %s of %s, its coils joined in series. Read the volts across both, from pin %s to pin %s.", si.Format(b.p.opt.Trial, "V", 2), first.Pins[0], first.Pins[1], u.Tag, first.Pins[0], w.Pins[1]),
			State: state(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: from, To: to},
			Help: "Twice one coil's volts is right. Nearly nothing means one coil is the wrong way round: on the mains it would be a short.",
		}})
	}
	return nil
}

// windingEdges walks the windings of some units, pin to pin.
func (b *builder) windingEdges(tags []string) func(func(x, y string)) {
	return func(yield func(x, y string)) {
		for _, tag := range tags {
			u, _ := b.f.Unit(tag)
			for _, w := range u.Windings {
				yield(tag+"."+w.Pins[0], tag+"."+w.Pins[1])
			}
		}
	}
}

// liveReadings adds the readings that go before a gap at which about nothing
// is right: across the winding behind each of its ends, from the joint at that
// winding's other end. It returns the last one's id, "" where there is none.
func (b *builder) liveReadings(s yokemate.Hookup, pieces yokemate.Joints, edges func(func(x, y string)), into, from, name string, trial bool) string {
	last := ""
	for _, ends := range [2][2]string{{into, from}, {from, into}} {
		pin, at, touch := behind(pieces, edges, ends[0], ends[1])
		if pin == "" {
			return ""
		}
		do := "Before the gap is read: with everything off, clip one probe to pin %s and the other to pin %s, power on, hands off, read AC volts, power off."
		if last != "" {
			do += " Leave the clip at pin %[1]s where it is for the gap."
		}
		b.add(step{trial: trial, kind: liveReading, after: last, Step: yokemate.Step{
			ID: "live-" + name, Do: fmt.Sprintf(do, pin, touch),
			State: *s.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: at, To: ends[0]},
			Help: "About nothing across a gap is also what a pulled plug, an open lead or a probe off its pin reads. This reading shows that the power is on, the joint made and the winding alive.",
		}})
		last = b.p.steps[len(b.p.steps)-1].ID
	}
	return last
}

// behind finds the winding that an end of a gap hangs on: its pin there, the
// place of its other end, and a pin to touch there, another winding's where
// there is one, so that the joint itself is in the way.
func behind(pieces yokemate.Joints, edges func(func(x, y string)), end, other string) (pin, at, touch string) {
	place := func(pin string) string {
		if j := pieces.Of(pin); j != "" {
			return j
		}
		return pin
	}
	edges(func(x, y string) {
		for _, e := range [2][2]string{{x, y}, {y, x}} {
			far := place(e[1])
			if pin != "" || place(e[0]) != end || far == end || far == other || !reachable(pieces, edges, far, other) {
				continue
			}
			pin, at, touch = e[0], far, e[1]
			if j := pieces.Joint(far); j != nil {
				for _, p := range j.Pins {
					if p != e[1] {
						touch = p
					}
				}
			}
		}
	})
	return pin, at, touch
}

// reachable walks pins joined by pieces and edges.
func reachable(pieces yokemate.Joints, edges func(func(x, y string)), a, c string) bool {
	place := func(pin string) string {
		if j := pieces.Of(pin); j != "" {
			return j
		}
		return pin
	}
	seen := []string{a}
	for i := 0; i < len(seen); i++ {
		edges(func(x, y string) {
			x, y = place(x), place(y)
			for _, e := range [2][2]string{{x, y}, {y, x}} {
				if e[0] == seen[i] && !slices.Contains(seen, e[1]) {
					seen = append(seen, e[1])
				}
			}
		})
	}
	return slices.Contains(seen, c)
}

// merge puts piece from into piece into.
func merge(pieces *yokemate.Joints, into, from string) {
	a, c := pieces.Joint(into), pieces.Joint(from)
	a.Pins = append(a.Pins, c.Pins...)
	*pieces = slices.DeleteFunc(*pieces, func(j yokemate.Joint) bool { return j.Name == from })
}

// join lists the joining: dead joints by ohms, loops by their gap.
func (b *builder) join() error {
	h := b.h
	tags := h.Tags()
	// Pieces: the mains side as proved, cores bonded, everything else free.
	var pieces yokemate.Joints
	type joining struct {
		joint string
		into  string // a pin that stands for the piece
		pin   string
	}
	var todo []joining
	for _, j := range h.Joints {
		var proved, loose []string
		for _, p := range j.Pins {
			tag, pin, _ := yokemate.SplitPin(p)
			u, _ := b.f.Unit(tag)
			switch {
			case pin == yokemate.CorePin, sideOf(u, pin) && b.putAcross(tag):
				proved = append(proved, p)
			default:
				loose = append(loose, p)
			}
		}
		if len(proved) > 0 {
			pieces = append(pieces, yokemate.Joint{Name: j.Name, Pins: proved})
		}
		for i, p := range loose {
			name := end(p)
			if len(proved) == 0 && i == 0 && len(loose) == 1 {
				name = j.Name
			}
			pieces = append(pieces, yokemate.Joint{Name: name, Pins: []string{p}})
			switch {
			case len(proved) > 0:
				todo = append(todo, joining{joint: j.Name, into: proved[0], pin: p})
			case i > 0:
				todo = append(todo, joining{joint: j.Name, into: loose[0], pin: p})
			}
		}
	}
	// A plug whose wires all come last still needs its joints to stand.
	windings := b.windingEdges(tags)
	edges := func(yield func(x, y string)) {
		windings(yield)
		for _, f := range h.Fuses {
			x, y := pieces.Joint(f.From), pieces.Joint(f.To)
			if x != nil && y != nil {
				yield(x.Pins[0], y.Pins[0])
			}
		}
	}
	// Dead joints first: they close no loop whatever is joined after them. Of
	// the rest, a loop is closed when its turn comes in wiring order.
	dead := false
	for progress := true; progress; {
		progress = false
		for i, t := range todo {
			into, from := pieces.Of(t.into), pieces.Of(t.pin)
			if reachable(pieces, edges, into, from) {
				continue
			}
			merge(&pieces, into, from)
			b.rename(&pieces, t.into, t.joint)
			b.throughJoint(pieces, t.into, t.pin, t.joint)
			todo = slices.Delete(todo, i, i+1)
			progress, dead = true, true
			break
		}
	}
	all := b.poweredTags()
	if len(all) > 0 && (dead || len(todo) > 0) {
		// What is powered for the first time as now joined has a lamp before it.
		b.allAtLamp("lamp-all", pieces, all, "The dead joints are made.")
	}
	for _, t := range todo {
		into, from := pieces.Of(t.into), pieces.Of(t.pin)
		if into == from {
			continue
		}
		s := b.state("gap of "+t.joint, pieces, true)
		feeds := b.onlyDriven(pieces, into) || b.onlyDriven(pieces, from)
		live := b.liveReadings(s, pieces, edges, into, from, t.joint, false)
		b.add(step{kind: gapReading, gap: [2]string{into, from}, feeds: feeds, after: live, Step: yokemate.Step{
			ID: "gap-" + t.joint, Do: fmt.Sprintf("The gap of joint %s, before it is closed: clip one probe to %s and the other to %s with everything off, plug in, see that the power is on, hands off, read AC volts, unplug.", t.joint, label(pieces, into), t.pin),
			State: s, Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: into, To: from}, Closes: t.joint,
			Help: "About nothing: like ends, may be joined. About twice the volts: one winding is the wrong way round. 1.73 times: two supply phases. Anything else: not the same volts.",
		}})
		if !feeds {
			x := pair{gap: b.p.steps[len(b.p.steps)-1].ID, joint: t.joint}
			for _, ends := range [2][2]string{{into, from}, {from, into}} {
				if pin, _, _ := behind(pieces, edges, ends[0], ends[1]); pin != "" {
					x.pins = append(x.pins, pin)
				}
			}
			b.pairs = append(b.pairs, x)
		}
		merge(&pieces, into, from)
		b.rename(&pieces, t.into, t.joint)
		b.allAtLamp("lamp-"+t.joint, pieces, all, fmt.Sprintf("Power off, join %s to joint %s.", t.pin, t.joint))
		b.add(step{Step: yokemate.Step{
			ID: "amps-" + t.joint, Do: fmt.Sprintf("Unplug, take the lamp out. Joint %s closed, nothing drawn, full mains. Read the current in the live wire, AC amps.", t.joint),
			State: b.state("joint "+t.joint+" closed", pieces, true), Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"},
			Help: "It should rise by less than a tenth over the units' idle currents together.",
		}})
	}
	b.joints = pieces
	return nil
}

// onlyDriven reports whether a piece holds a pin of a unit that gets its volts
// through others.
func (b *builder) onlyDriven(pieces yokemate.Joints, name string) bool {
	for _, p := range pieces.Joint(name).Pins {
		if tag, _, _ := yokemate.SplitPin(p); !b.putAcross(tag) {
			return true
		}
	}
	return false
}

// putAcross reports whether the unit's own mains side is across a plug.
func (b *builder) putAcross(tag string) bool {
	_, whole := b.mainsJoints(tag)
	return whole
}

func (b *builder) poweredTags() []string {
	var t []string
	for _, tag := range b.h.Tags() {
		if b.putAcross(tag) {
			t = append(t, tag)
		}
	}
	if len(t) == 0 {
		return b.h.Tags()
	}
	return t
}

// rename gives the piece that holds a pin the final joint's name.
func (b *builder) rename(pieces *yokemate.Joints, pin, joint string) {
	if at := pieces.Joint(pieces.Of(pin)); at != nil && pieces.Joint(joint) == nil {
		at.Name = joint
	}
}

func label(pieces yokemate.Joints, name string) string {
	j := pieces.Joint(name)
	if len(j.Pins) == 1 {
		return j.Pins[0]
	}
	return "joint " + name + " (" + strings.Join(j.Pins, ", ") + ")"
}

// throughJoint adds the ohms reading that proves a joint made dead: from the
// far end of one winding through the joint to the far end of the other.
func (b *builder) throughJoint(pieces yokemate.Joints, a, c, joint string) {
	far := func(pin string) string {
		tag, p, _ := yokemate.SplitPin(pin)
		u, _ := b.f.Unit(tag)
		for _, w := range u.Windings {
			if w.Pins[0] == p && pieces.Of(tag+"."+w.Pins[1]) != joint {
				return tag + "." + w.Pins[1]
			}
			if w.Pins[1] == p && pieces.Of(tag+"."+w.Pins[0]) != joint {
				return tag + "." + w.Pins[0]
			}
		}
		return ""
	}
	fa, fc := far(a), far(c)
	if strings.HasSuffix(a, "."+yokemate.CorePin) {
		fa = a
	}
	if fa == "" || fc == "" {
		return
	}
	place := func(pin string) string {
		if j := pieces.Of(pin); j != "" {
			return j
		}
		return pin
	}
	b.add(step{kind: continuity, Step: yokemate.Step{
		ID: "joint-" + joint, Do: fmt.Sprintf("Everything unplugged. Join %s and %s at joint %s. Read ohms from %s to %s, through the joint.", a, c, joint, fa, fc),
		State: b.state("joint "+joint+" made dead", pieces, false), Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: place(fa), To: place(fc)},
		Help: "A joint that only looks made leaves its winding floating, and a floating winding can show any voltage, even the right one.",
	}})
}

// allAtLamp adds a powered step of everything through the lamp.
func (b *builder) allAtLamp(id string, pieces yokemate.Joints, tags []string, before string) {
	s := b.state("through the lamp", pieces, true)
	l := b.lamp(tags)
	for i := range s.Feed {
		s.Feed[i].Lamp = l
	}
	f := b.h.Feed[0]
	b.add(step{Step: yokemate.Step{
		ID: id, Do: fmt.Sprintf("%s Plug in through %s, every output open, hands off. Read the volts across %s and %s; unplug.", before, lampName(l), f.Live, f.Neutral),
		State: s, Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: f.Live, To: f.Neutral},
		Help: "Dark or dull is good. Bright means a joint is a short: unplug and read the last gap again.",
	}})
}

// finished is everything joined on full mains, with the loads or without.
func (b *builder) finished(loaded bool) *yokemate.Hookup {
	h := b.h.Clone()
	on := true
	h.Fed = &on
	h.Meters = nil
	for i := range h.Feed {
		h.Feed[i].Lamp = nil
	}
	for i := range h.Outputs {
		if !loaded {
			h.Outputs[i].Load = nil
		}
	}
	return h
}

// finish lists the outputs, the load and the finished box.
func (b *builder) finish() error {
	h := b.h
	final, idle := b.finished(true), b.finished(false)
	for _, o := range h.Outputs {
		b.add(step{Step: yokemate.Step{
			ID: "output-" + o.Name, Do: fmt.Sprintf("Everything joined, full mains, nothing drawn. Read AC volts of output %s, from %s to %s.", o.Name, o.From, o.To),
			State: *idle.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: o.From, To: o.To},
		}})
	}
	for i, o := range b.p.hookup.Outputs {
		if o.DC == nil || o.DC.Middle == "" {
			continue
		}
		for _, x := range [][2]string{{o.From, o.DC.Middle}, {o.DC.Middle, o.To}} {
			b.add(step{lugs: &b.p.hookup.Outputs[i], Step: yokemate.Step{
				ID: "tap-" + h.Outputs[i].Name, Do: fmt.Sprintf("Everything joined, the rectifier's leads too, its reservoirs not yet. Full mains, nothing drawn. At the rectifier's own lugs read AC volts of this part of output %s, from the lug of joint %s to that of joint %s.", o.Name, x[0], x[1]),
				State: *idle.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: x[0], To: x[1]},
				Help: "The two parts beside the tap are alike, and together they are the whole.",
			}})
		}
	}
	b.add(step{Step: yokemate.Step{
		ID: "idle", Do: "Everything joined, full mains, nothing drawn. Read the current in the live wire, AC amps.",
		State: *idle.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"},
	}})
	for _, o := range h.Outputs {
		if o.Load == nil {
			continue
		}
		b.add(step{Step: yokemate.Step{
			ID: "load-" + o.Name, Do: fmt.Sprintf("Power off, connect the load to output %s, full mains. Read AC volts of the output under load, from %s to %s. A cold bulb draws ten times its hot current: add bulbs one at a time.", o.Name, o.From, o.To),
			State: *final.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: o.From, To: o.To},
			Help: "Then the heat run: leave it at this load until it grows no warmer, and feel and measure on the way. A rating comes from the heat run, not from the volts.",
		}})
		break // every load is drawn together in the final state
	}
	if err := b.rectifierSteps(); err != nil {
		return err
	}
	dead := final.Clone()
	off := false
	dead.Fed = &off
	for i := range dead.Outputs {
		dead.Outputs[i].Load = nil
	}
	if h.Earth != "" {
		for _, tag := range h.Tags() {
			pin := tag + "." + yokemate.CorePin
			if h.Joints.Of(pin) != h.Earth {
				continue
			}
			b.add(step{kind: earthBond, Step: yokemate.Step{
				ID: "earth-" + tag, Do: fmt.Sprintf("Unplugged. Earth bond: read ohms from the plug's earth pin (joint %s) to bare metal of the core of %s, the leads' own taken off. A tenth of an ohm or less.", h.Earth, tag),
				State: *dead.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: h.Earth, To: pin},
			}})
		}
	}
	for _, o := range h.Outputs {
		if slices.ContainsFunc(b.p.notes, func(n yokemate.Note) bool { return n.Code == yokemate.NotIsolated && n.About == o.Name }) {
			continue // joined to the mains on purpose: there is nothing to test
		}
		b.add(step{kind: insulationTest, optional: true, Step: yokemate.Step{
			ID: "isolation-" + o.Name, Do: fmt.Sprintf("Unplugged, fuse in. Insulation tester at 500 V DC from output %s (joint %s) to both blades of the plug together. No tester: answer unsure.", o.Name, o.From),
			State: *dead.Clone(), Measure: &yokemate.Measure{Quantity: yokemate.Megohms, From: o.From, To: h.Feed[0].Live},
			Right: &yokemate.Interval{Value: 200, Low: 2, High: mostMegohms},
			Help:  "2 MΩ at least (common practice). Then the rest of the finished box: fuse value and type as on the label, strain relief, nothing live to touch with the fuse out, a residual-current device in the supply. It does not see a shock taken between two output wires.",
		}})
	}
	return nil
}
