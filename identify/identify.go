package identify

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strings"

	"yokemate"
)

// An Ask is something that may be asked of a unit.
type Ask string

const (
	Windings   Ask = "windings"   // pins to windings, with the order of taps
	Dots       Ask = "dots"       // like ends
	Ohms       Ask = "ohms"       // resistance of every section, to a few per cent
	Volts      Ask = "volts"      // no-load volts of every section
	Insulation Ask = "insulation" // between wires, with a tester
	Excitation Ask = "excitation" // no-load current, and the knee
)

// Options say what is asked. The zero value asks for windings, dots, ohms and
// volts to 99 %.
type Options struct {
	Confidence   float64  // wanted probability of windings, taps and dots, above 0.5 and below 1; 0 means 0.99
	Want         []Ask    // nil means Windings, Dots, Ohms, Volts
	SourceVolts  float64  // of the low AC source at hand [V]; 0 means 12
	Hertz        float64  // mains frequency at the bench [Hz]; 0 means the unit's, or 50
	NoMillivolts bool     // there is no 1 A supply at hand
	Skip         []string // readings that cannot be taken, by [Key]: ask for others
}

func (o Options) wants(a Ask) bool {
	if o.Want == nil {
		return a == Windings || a == Dots || a == Ohms || a == Volts
	}
	return slices.Contains(o.Want, a)
}

func (o *Options) fill(u *yokemate.Unit) error {
	if o.Confidence == 0 {
		o.Confidence = 0.99
	}
	if !(o.Confidence > 0.5 && o.Confidence < 1) {
		return yokemate.Errorf(yokemate.Invalid, "confidence", "%g is not above 0.5 and below 1", o.Confidence).Mend("give a probability such as 0.99")
	}
	if o.SourceVolts == 0 {
		o.SourceVolts = 12
	}
	if !(o.SourceVolts > 0 && o.SourceVolts <= 25) {
		return yokemate.Errorf(yokemate.Invalid, "source volts", "%g V is no low source", o.SourceVolts).Mend("use an isolated AC source of 6 to 12 V, 25 V at most")
	}
	for _, a := range o.Want {
		switch a {
		case Windings, Dots, Ohms, Volts, Insulation, Excitation:
		default:
			return yokemate.Errorf(yokemate.Invalid, "want", "%q cannot be asked", a).Mend("ask for windings, dots, ohms, volts, insulation or excitation")
		}
	}
	if o.Hertz == 0 {
		o.Hertz = 50
		if u.Mains != nil {
			o.Hertz = u.Mains.Hertz
		}
	}
	return nil
}

// maxPins is the largest unit that is weighed.
const maxPins = 24

// state is everything known while one answer is made.
type state struct {
	b         *bench
	opt       Options
	pieces    *pieces
	same      [][]float64
	likely    []grouping
	wirings   []wiring
	all       []weighed // likeliest first, probabilities in w
	rest      float64   // probability of what is not listed
	doubt     float64   // probability that the continuity readings mean what they say
	notes     []yokemate.Note
	steppedUp bool
}

// Identify says what the unit's readings tell, and which reading to take next.
// Readings that a later one supersedes are left out. The meters are those of
// the shelf; the first is the one that readings without a meter were taken on,
// a generic one where there is none.
func Identify(u *yokemate.Unit, meters []yokemate.Meter, opt Options) (*yokemate.Identification, error) {
	if err := opt.fill(u); err != nil {
		return nil, err
	}
	b, err := newBench(u, meters)
	if err != nil {
		return nil, err
	}
	if len(b.pins) < 2 {
		return nil, yokemate.Errorf(yokemate.Invalid, u.Tag, "fewer than two pins are known").Mend("number its pins and list them, as in \"pins\": [\"1\", \"2\", \"3\"]")
	}
	if len(b.pins) > maxPins {
		return nil, yokemate.Errorf(yokemate.Unsupported, u.Tag, "%d pins are more than the %d that can be weighed", len(b.pins), maxPins).Mend("leave out pins that are known to be alone")
	}
	s := &state{b: b, opt: opt}
	s.pieces = b.linkPins()
	s.same, s.likely = s.pieces.groupings()
	s.wire()
	s.weighAll()
	s.judge()
	ans := &yokemate.Identification{Unit: u.Tag, Windings: []yokemate.FoundWinding{}, Dots: []yokemate.FoundDot{}, Wires: []yokemate.FoundWire{}, Facts: []yokemate.Fact{}, Open: []yokemate.Alternative{}, Notes: []yokemate.Note{}}
	s.answer(ans)
	return ans, nil
}

// wire lists the likely wirings: every likely way to part the pieces, with
// every likely order of each.
func (s *state) wire() {
	for _, g := range s.likely {
		base := []wiring{{w: g.w, complete: true}}
		for _, set := range g.blocks {
			var next []wiring
			if set&(set-1) != 0 {
				// Pieces that no reading has linked: their order is open.
				var pins []int
				for t := set; t != 0; t &= t - 1 {
					pins = append(pins, s.pieces.list[bits.TrailingZeros(uint(t))].pins...)
				}
				slices.Sort(pins)
				for _, w := range base {
					w.wires = append(slices.Clone(w.wires), pins)
					w.lines = append(slices.Clone(w.lines), nil)
					w.complete = false
					next = append(next, w)
				}
				base = next
				continue
			}
			l := s.pieces.list[bits.TrailingZeros(uint(set))].line
			for _, w := range base {
				for i := range l.orders {
					o := &l.orders[i]
					if w.w*o.w < 1e-4*s.likely[0].w && i > 0 {
						break
					}
					x := w
					x.w *= o.w
					x.wires = append(slices.Clone(w.wires), o.seq)
					x.lines = append(slices.Clone(w.lines), o)
					next = append(next, x)
				}
			}
			slices.SortStableFunc(next, func(a, b wiring) int { return cmp.Compare(b.w, a.w) })
			base = next[:min(len(next), 48)]
		}
		for _, w := range base {
			w.sort()
			s.wirings = append(s.wirings, w)
		}
		if len(s.wirings) > 2000 {
			break
		}
	}
	slices.SortStableFunc(s.wirings, func(a, b wiring) int { return cmp.Compare(b.w, a.w) })
}

// sort puts the wires in the order of their lowest pins.
func (w *wiring) sort() {
	at := make([]int, len(w.wires))
	for i := range at {
		at[i] = i
	}
	slices.SortFunc(at, func(a, b int) int { return cmp.Compare(slices.Min(w.wires[a]), slices.Min(w.wires[b])) })
	wires, lines := make([][]int, len(at)), make([]*order, len(at))
	for i, j := range at {
		wires[i], lines[i] = w.wires[j], w.lines[j]
	}
	w.wires, w.lines = wires, lines
}

// weighedWirings is how many wirings are weighed by the volts readings.
const weighedWirings = 12

// weighAll weighs the likely wirings by the volts readings. Those whose order
// is open, or that are too unlikely, keep what they had.
func (s *state) weighAll() {
	fed := slices.ContainsFunc(s.b.obs, func(o *observation) bool {
		return !o.used.Left && !o.open && o.r.Excited != nil && (o.r.Quantity == yokemate.VoltsAC || o.r.Quantity == yokemate.Kick)
	})
	var mass float64
	var some []weighed
	for i := range s.wirings {
		w := &s.wirings[i]
		if i >= weighedWirings || !w.complete || w.w < 1e-3*s.wirings[0].w || !fed {
			d := &voltsData{wiring: w, refer: -1}
			if i == 0 {
				d = s.b.gather(w) // names the readings that cannot be used
			}
			d.of, d.first = w.sections()
			x := weighed{wiring: w, data: d, w: w.w, free: make([]bool, len(w.wires))}
			for range w.wires {
				x.dots = append(x.dots, 1)
			}
			for g := range x.free {
				x.free[g] = true
			}
			s.all = append(s.all, x)
			continue
		}
		mass += w.w
		some = append(some, s.b.weigh(w)...)
	}
	if len(some) > 0 {
		top := math.Inf(-1)
		for _, x := range some {
			top = math.Max(top, x.ln)
		}
		sum := 0.0
		for _, x := range some {
			sum += math.Exp(x.ln - top)
		}
		for _, x := range some {
			x.w = mass * math.Exp(x.ln-top) / sum
			s.all = append(s.all, x)
		}
	}
	slices.SortStableFunc(s.all, func(a, b weighed) int { return cmp.Compare(b.w, a.w) })
	sum := 0.0
	for _, x := range s.all {
		sum += x.w
	}
	s.rest = math.Max(0, 1-sum)
}

// openDots is how many dots no reading tells, relative to the others.
func (x *weighed) openDots() int {
	wires, open := 0, 0
	for g, pins := range x.wiring.wires {
		if len(pins) < 2 {
			continue
		}
		wires++
		if x.free[g] {
			open++
		}
	}
	if open == wires {
		return max(wires-1, 0)
	}
	return open
}

// joint is the probability of the wiring with exactly these dots.
func (x *weighed) joint() float64 { return x.w * math.Pow(0.5, float64(x.openDots())) }

// judge finds what is wrong with the readings, and how far they can be trusted.
func (s *state) judge() {
	s.doubt = 1
	p := s.pieces
	note := func(code yokemate.NoteCode, level yokemate.Level, about, format string, args ...any) {
		s.notes = append(s.notes, yokemate.Note{Code: code, Level: level, About: about, Words: fmt.Sprintf(format, args...)})
	}
	for _, o := range p.coreJoined {
		if len(o.r.Joined) > 1 {
			note(yokemate.CoreJoined, yokemate.Stop, s.b.unit.Tag, "reading %s shows one of pins %s on the core: a winding that joins the core is not used and not energised. It may be a microwave-oven unit, with kilovolts on that winding. Put it in quarantine.",
				o.r.ID, list(o.r.Joined))
			continue
		}
		note(yokemate.CoreJoined, yokemate.Stop, s.b.unit.Tag, "reading %s shows %s on the core: a winding that joins the core is not used and not energised. It may be a microwave-oven unit, with kilovolts on that winding. Put it in quarantine.",
			o.r.ID, pinOf(o.r))
	}
	for _, o := range p.leaks {
		note(yokemate.NotProven, yokemate.Stop, s.b.unit.Tag, "reading %s: %s between %s and %s is leaking insulation. Dry the unit and read again; below 2 MΩ reject it (common practice).", o.r.ID, ohmsText(o), o.r.From, o.r.To)
	}
	if len(p.against) > 0 {
		var ids []string
		for _, o := range p.against {
			ids = append(ids, o.r.ID)
			o.used.Why = "it contradicts other continuity readings"
		}
		for _, o := range p.against {
			for _, id := range ids {
				if id != o.r.ID {
					o.used.With = append(o.used.With, id)
				}
			}
		}
		s.doubt *= math.Pow(0.95, float64(len(p.against)))
		note(yokemate.ReadingsDisagree, yokemate.Caution, s.b.unit.Tag, "readings %s contradict what links their pins: read them again with the probes on bright metal.", list(ids))
	}
	for i := range p.list {
		l := p.list[i].line
		if !l.misfit {
			continue
		}
		names := list(s.b.names(l.pins))
		if l.odd != nil {
			s.doubt *= 0.9
			l.odd.o.used.Why = "the others of its wire fit a line without it"
			for _, e := range l.edges {
				if e.o != l.odd.o {
					l.odd.o.used.With = append(l.odd.o.used.With, e.o.r.ID)
				}
			}
			note(yokemate.ReadingsDisagree, yokemate.Caution, s.b.unit.Tag, "reading %s (%s to %s) does not fit the others among pins %s: without it they agree. Read it again.",
				l.odd.o.r.ID, l.odd.o.r.From, l.odd.o.r.To, names)
			continue
		}
		s.doubt *= 0.4
		note(yokemate.ReadingsDisagree, yokemate.Stop, s.b.unit.Tag, "the ohms among pins %s fit no winding with taps (the largest should be the sum of the others): read them again; if they stay, one winding may touch another. Do not energise it.", names)
	}
	if len(s.all) == 0 {
		return
	}
	best := &s.all[0]
	if best.amiss != nil {
		s.doubt *= 0.9
		o := best.amiss
		o.used.Why = "the others agree without it"
		for _, r := range best.data.ac {
			if r.o != o {
				o.used.With = append(o.used.With, r.o.r.ID)
			}
		}
		note(yokemate.ReadingsDisagree, yokemate.Caution, s.b.unit.Tag, "reading %s (%s V from %s to %s) does not fit the others: without it they agree. Read it again, and check the clips.", o.r.ID, o.r.Value, o.r.From, o.r.To)
	} else if best.fit != nil {
		if dof := len(best.data.ac) - len(best.data.of) + 1; dof > 0 && chi2Tail(best.fit.chi2, dof) < 1e-4 {
			s.doubt *= 0.6
			note(yokemate.ReadingsDisagree, yokemate.Caution, s.b.unit.Tag, "the volts readings do not fit one another by more than the meter allows, and no single one explains it: read the source with every reading.")
		}
	}
	for _, o := range s.b.obs {
		if strings.HasSuffix(o.used.Why, "ghost reading") {
			note(yokemate.GhostReading, yokemate.Info, s.b.unit.Tag, "reading %s: %s. A 10 MΩ meter shows something there; it means nothing.", o.r.ID, o.used.Why)
		}
	}
	s.stepUp(note)
	s.loose(note)
}

// stepUp notes volts above the source: the winding fed is not the largest.
func (s *state) stepUp(note func(yokemate.NoteCode, yokemate.Level, string, string, ...any)) {
	best := &s.all[0]
	if len(best.data.ac) == 0 {
		return
	}
	last := &best.data.ac[len(best.data.ac)-1]
	for i := range best.data.ac {
		r := &best.data.ac[i]
		if r.wires != 1 || !slices.Equal(r.source, last.source) || r.o.y <= 1.02*r.volts+r.o.u() {
			continue
		}
		s.steppedUp = true
		note(yokemate.StepUp, yokemate.Stop, s.b.unit.Tag, "%s V between %s and %s is more than the %.4g V of the source: stop, switch off, and move the source to %s and %s. On mains this would be a step-up.",
			r.o.r.Value, r.o.r.From, r.o.r.To, r.volts, r.o.r.From, r.o.r.To)
		return
	}
}

// loose notes pins that reach nothing, where that is settled.
func (s *state) loose(note func(yokemate.NoteCode, yokemate.Level, string, string, ...any)) {
	best := &s.all[0]
	var alone []string
	for _, pins := range best.wiring.wires {
		if len(pins) == 1 && s.pinProbability(pins) > 0.9 {
			alone = append(alone, s.b.pins[pins[0]])
		}
	}
	switch {
	case len(alone) == 1:
		note(yokemate.WindingOpen, yokemate.Info, s.b.unit.Tag, "pin %s reaches no other: it is not connected, or a screen.", alone[0])
	case len(alone) > 1:
		note(yokemate.WindingOpen, yokemate.Caution, s.b.unit.Tag, "pins %s reach nothing: they are not connected, or a winding is broken. A thermal link under the tape of a mains winding opens like that. Do not bridge it: only a link of the same temperature may take its place, and without one the unit is put aside.", list(alone))
	}
}

// pinProbability is the probability that exactly these pins are a wire, in
// this order or its reverse.
func (s *state) pinProbability(wire []int) float64 {
	p := 0.0
	for _, x := range s.all {
		for _, w := range x.wiring.wires {
			if sameWire(w, wire) && (x.wiring.complete || len(wire) == 1) {
				p += x.w
			}
		}
	}
	return math.Min(p, 1)
}

func sameWire(a, b []int) bool {
	if len(a) != len(b) {
		return false
	}
	fwd, back := true, true
	for i := range a {
		fwd = fwd && a[i] == b[i]
		back = back && a[i] == b[len(b)-1-i]
	}
	return fwd || back
}

// structure is the probability of the best wiring whatever the dots.
func (s *state) structure() float64 {
	if len(s.all) == 0 || !s.all[0].wiring.complete {
		return 0
	}
	p := 0.0
	for _, x := range s.all {
		if x.wiring == s.all[0].wiring {
			p += x.w
		}
	}
	return p * s.doubt
}

// alike is the probability that two wires' dots stand to each other as in the
// likeliest account.
func (s *state) alike(g, h int) float64 {
	best := &s.all[0]
	if g == h {
		return 1
	}
	same, sum := 0.0, 0.0
	for _, x := range s.all {
		if x.wiring != best.wiring {
			continue
		}
		sum += x.w
		switch {
		case x.free[g] || x.free[h]:
			same += x.w / 2
		case x.dots[g]*x.dots[h] == best.dots[g]*best.dots[h]:
			same += x.w
		}
	}
	if sum == 0 {
		return 0.5
	}
	return same / sum
}

func pinOf(r *yokemate.Reading) string {
	if r.From == yokemate.CorePin {
		return r.To
	}
	return r.From
}

func ohmsText(o *observation) string {
	if o.r.Quantity == yokemate.Megohms {
		return o.r.Value + " MΩ"
	}
	return fmt.Sprintf("%.3g kΩ", o.y/1e3)
}

// answer writes everything down.
func (s *state) answer(a *yokemate.Identification) {
	for _, u := range s.b.used {
		a.Readings = append(a.Readings, *u)
	}
	if len(s.all) == 0 {
		return
	}
	s.listOpen(a)
	a.Wires = s.wires()
	best := &s.all[0]
	if best.wiring.complete {
		a.Confidence = best.joint() * s.doubt
	}
	f := s.facts()
	a.Windings, a.Dots, a.Facts, a.Shelf = f.windings, f.dots, f.list, f.unit
	if a.Facts == nil {
		a.Facts = []yokemate.Fact{}
	}
	a.Notes = append(a.Notes, s.notes...)
	a.Notes = append(a.Notes, f.notes...)
	if len(s.b.obs) == 0 {
		for _, l := range Looks() {
			a.Notes = append(a.Notes, yokemate.Note{Code: yokemate.LookFirst, Level: yokemate.Info, Words: l.Look + ": " + l.Why})
		}
	}
	structure := s.structure()
	a.Certain = structure >= s.opt.Confidence
	if s.opt.wants(Dots) {
		a.Certain = a.Certain && a.Confidence >= s.opt.Confidence
	}
	if len(s.pieces.coreJoined) > 0 || len(s.pieces.leaks) > 0 {
		a.Certain = false
		return
	}
	done := true
	a.Next, done = s.next(f)
	a.Certain = a.Certain && done
	if a.Next == nil && !a.Certain {
		a.Notes = append(a.Notes, s.lacking(a, f, structure)...)
	}
}

// lacking says what is not known where nothing is left to ask for, and how it
// could be.
func (s *state) lacking(a *yokemate.Identification, f *facts, structure float64) (notes []yokemate.Note) {
	note := func(format string, args ...any) {
		notes = append(notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.b.unit.Tag, Words: fmt.Sprintf(format, args...)})
	}
	var noVolts, noOhms []string
	for g, pins := range s.all[0].wiring.wires {
		for k := range len(pins) - 1 {
			id := f.ids[[2]int{g, k}]
			if v, ok := f.volts[[2]int{g, k}]; !ok || v.u > 0.1*v.value {
				noVolts = append(noVolts, id)
			}
			if v, u, ok := f.ohmsOf(g, k); !ok || u > 0.25*v {
				noOhms = append(noOhms, id)
			}
		}
	}
	switch {
	case structure < s.opt.Confidence:
		note("no reading is left to ask for, and how the pins are joined is not settled: take one that was passed over, or take one again that is in doubt.")
		return notes
	case s.opt.wants(Dots) && a.Confidence < s.opt.Confidence:
		note("no reading is left to ask for, and which ends are alike is not settled: take one that was passed over, or take one again that is in doubt.")
	}
	switch {
	case !s.opt.wants(Volts) || len(noVolts) == 0:
	case s.multi() < 2:
		note("only one winding is whole, so no ratio of turns can be read, and no hookup can be made with this unit.")
	default:
		note("the volts of %s are not known: take the reading that was passed over.", list(noVolts))
	}
	if s.opt.wants(Ohms) && len(noOhms) > 0 {
		note("the ohms of %s are too low for the ohmmeter: the millivolts at 1 A from a limited supply tell them.", list(noOhms))
	}
	return notes
}

// listOpen lists the alternatives that remain.
func (s *state) listOpen(a *yokemate.Identification) {
	for i := range s.all {
		x := &s.all[i]
		p := x.w * s.doubt
		if len(a.Open) >= 8 || len(a.Open) > 0 && p < 1e-4 {
			break
		}
		alt := yokemate.Alternative{Probability: p}
		var words []string
		for g, pins := range x.wiring.wires {
			n := s.b.names(pins)
			alt.Wires = append(alt.Wires, n)
			if len(pins) < 2 {
				words = append(words, n[0]+" alone")
				alt.Starts = append(alt.Starts, "")
				continue
			}
			start := n[0]
			if x.dots[g] < 0 {
				start = n[len(n)-1]
			}
			if x.free[g] {
				start = ""
			}
			alt.Starts = append(alt.Starts, start)
			sep := "–"
			open := x.wiring.lines[g] == nil && len(n) > 2
			if open {
				sep = ", "
			}
			t := strings.Join(n, sep)
			if open {
				t = "(" + t + " in an order not known)"
			} else if !x.free[g] {
				t += " starting at " + start
			}
			words = append(words, t)
		}
		alt.Words = strings.Join(words, "; ")
		a.Open = append(a.Open, alt)
	}
}
