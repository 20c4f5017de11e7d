package identify

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/si"
)

// The next reading: of those that are safe now, the one that tells most about
// what is open for its effort. The order is ohms, core, low-voltage source;
// nothing is fed before the wires are known and none joins the core, and mains
// is never asked onto a winding that is not proven.

// Effort of a reading, 1 being two probes on two pins with an ohmmeter.
const (
	effortOhms       = 1.0
	effortCore       = 1.2
	effortMillivolts = 1.7
	effortVolts      = 1.3
	effortJoined     = 1.5
	effortInsulation = 2.0
	effortAmps       = 2.0
)

// Key names a wanted reading, for [Options.Skip].
func Key(w *yokemate.WantedReading) string {
	var series string
	if w.Excited != nil {
		series = strings.Join(w.Excited.Series, "+")
		if w.Quantity == yokemate.AmpsAC {
			series += fmt.Sprintf(" %.0f", w.Excited.Volts.V)
		}
	}
	return fmt.Sprintf("%s %s-%s %s %s", w.Quantity, w.From, w.To, strings.Join(w.Joined, "="), series)
}

// asked is the key of the wanted reading that a reading answers.
func (b *bench) asked(r *yokemate.Reading) string {
	return Key(&yokemate.WantedReading{Quantity: r.Quantity, From: r.From, To: r.To, Joined: r.Joined, Excited: r.Excited})
}

// candidate is a reading under consideration.
type candidate struct {
	yokemate.WantedReading
	worth float64 // information over effort [nat]
}

func (s *state) offer(best **candidate, c candidate) {
	if slices.Contains(s.opt.Skip, Key(&c.WantedReading)) {
		return
	}
	times := 0
	for _, o := range s.b.obs {
		if x := s.b.asked(o.r); x == Key(&c.WantedReading) {
			times++
		}
	}
	if times >= 3 {
		return // it will not be had
	}
	c.worth = c.Bits * math.Ln2 / c.Effort
	if *best == nil || c.worth > (*best).worth*(1+1e-9) {
		*best = &c
	}
}

// next returns the reading to take, and whether nothing asked for is open.
func (s *state) next(f *facts) (*yokemate.WantedReading, bool) {
	w, done := s.choose(f)
	if w != nil {
		w.Cautions = cautions(w)
	}
	return w, done
}

// cautions are the usual ones for what a reading has to do with.
func cautions(w *yokemate.WantedReading) []string {
	var c []string
	switch x := w.Excited; {
	case x != nil && x.Volts.V > 50:
		c = append(c, "Mains voltage can kill. Clip on dead, cover everything, then power, then hands off; one hand, an earth-leakage trip in the supply, a switch that somebody else can reach. Local codes and licensed practice come before this.")
	case x != nil:
		c = append(c, "Feed it from an isolated low-voltage AC source only, never from the mains. Switch off before a lead moves: another winding may carry many times the source, and a winding's kick stings.")
	}
	switch w.Quantity {
	case yokemate.Megohms:
		c = append(c, "The tester puts 500 V on the unit: hands off, nothing else connected, and let it discharge before touching.")
	case yokemate.Millivolts:
		c = append(c, "Turn the 1 A supply down before a lead comes off: breaking the current through a winding kicks. Do not leave it on longer than the reading takes.")
	case yokemate.Ohms:
		c = append(c, "Unplugged, nothing else connected. Do not hold the metal tips: a large winding kicks when the meter's current breaks.")
	}
	return c
}

func (s *state) choose(f *facts) (*yokemate.WantedReading, bool) {
	if c := s.repeat(); c != nil {
		return &c.WantedReading, false
	}
	target := 1 - (1-s.opt.Confidence)/2
	if s.structure() < target || !s.all[0].wiring.complete {
		if c := s.continuity(); c != nil {
			return &c.WantedReading, false
		}
	}
	if !s.settled(f, target) {
		return nil, false
	}
	if s.opt.wants(Ohms) && !s.opt.NoMillivolts {
		if c := s.lowOhms(f); c != nil {
			return &c.WantedReading, false
		}
	}
	needFeed := s.opt.wants(Dots) && s.multi() > 1 || s.opt.wants(Volts) || s.opt.wants(Excitation) || s.structure() < target
	if !needFeed && !s.opt.wants(Insulation) {
		return nil, true
	}
	if c := s.coreCheck(); c != nil {
		return &c.WantedReading, false
	}
	if s.coreOpen() {
		if c := s.volts(f, target); c != nil {
			return &c.WantedReading, false
		}
	}
	if s.opt.wants(Insulation) {
		if c := s.insulation(f); c != nil {
			return &c.WantedReading, false
		}
	}
	if s.opt.wants(Excitation) && s.coreOpen() {
		if c := s.exciting(f); c != nil {
			return &c.WantedReading, false
		}
	}
	return nil, s.satisfied(f)
}

// settled reports whether a low source may tell the rest: the wiring is likelier
// than not, or what is open is only the order of taps on wires other than the
// one to be fed.
func (s *state) settled(f *facts, target float64) bool {
	best := &s.all[0]
	if !best.wiring.complete {
		return false
	}
	if s.structure() >= 0.5 {
		return true
	}
	src := s.source(f)
	return src >= 0 && s.grouped()*s.doubt >= target && s.pinProbability(best.wiring.wires[src])*s.doubt >= target
}

// grouped is the probability that the pins make the likeliest's wires, whatever
// their order along them.
func (s *state) grouped() float64 {
	p := 0.0
	for i := range s.all {
		if sameGroups(s.all[i].wiring, s.all[0].wiring) {
			p += s.all[i].w
		}
	}
	return math.Min(p, 1)
}

func sameGroups(a, b *wiring) bool {
	if len(a.wires) != len(b.wires) {
		return false
	}
	for g := range a.wires {
		x, y := slices.Sorted(slices.Values(a.wires[g])), slices.Sorted(slices.Values(b.wires[g]))
		if !slices.Equal(x, y) {
			return false
		}
	}
	return true
}

// multi is how many wires have more than one pin.
func (s *state) multi() int {
	n := 0
	for _, w := range s.all[0].wiring.wires {
		if len(w) > 1 {
			n++
		}
	}
	return n
}

// repeat asks again for a reading that contradicts others, up to three times
// in all.
func (s *state) repeat() *candidate {
	var best *candidate
	ask := func(o *observation, why string) {
		times := 0
		for _, x := range s.b.obs {
			if x.r.Quantity == o.r.Quantity && samePair(x.r, o.r) && sameFeed(x.r, o.r) {
				times++
			}
		}
		if times >= 3 {
			return
		}
		w := yokemate.WantedReading{Quantity: o.r.Quantity, From: o.r.From, To: o.r.To, Joined: o.r.Joined,
			Do: fmt.Sprintf("Read %s again, %s to %s.", quantityWords(o.r.Quantity), o.r.From, o.r.To), Why: why, Bits: 1, Effort: effortOhms}
		if o.r.Quantity == yokemate.VoltsAC {
			w.Excited = o.r.Excited
		}
		s.offer(&best, candidate{WantedReading: w})
	}
	for _, o := range s.pieces.against {
		ask(o, "it contradicts another reading of its pins")
	}
	for i := range s.pieces.list {
		if l := s.pieces.list[i].line; l.odd != nil {
			ask(l.odd.o, "the others of its wire agree without it")
		} else if l.misfit {
			for _, e := range l.edges {
				ask(e.o, "the ohms of this wire do not add up")
			}
		}
	}
	if len(s.all) > 0 && s.all[0].amiss != nil {
		ask(s.all[0].amiss, "the other volts agree without it: a clip may have been off")
	}
	return best
}

func samePair(a, b *yokemate.Reading) bool {
	return a.From == b.From && a.To == b.To || a.From == b.To && a.To == b.From
}

func sameFeed(a, b *yokemate.Reading) bool {
	if !slices.Equal(a.Joined, b.Joined) || (a.Excited == nil) != (b.Excited == nil) {
		return false
	}
	return a.Excited == nil || slices.Equal(a.Excited.Series, b.Excited.Series)
}

func quantityWords(q yokemate.Quantity) string {
	switch q {
	case yokemate.Ohms:
		return "ohms"
	case yokemate.Millivolts:
		return "the millivolts at 1 A DC"
	case yokemate.VoltsAC:
		return "AC volts"
	case yokemate.AmpsAC:
		return "AC amps"
	case yokemate.Megohms:
		return "megohms"
	case yokemate.Kick:
		return "the needle's kick"
	}
	return string(q)
}

// continuity offers ohms readings: between pieces first, since one that
// closes a line settles all its links at once and can wait for them.
func (s *state) continuity() *candidate {
	var best *candidate
	p := s.pieces
	degree := make([]int, len(s.b.pins))
	read := map[[2]int]bool{}
	for i := range p.list {
		for _, e := range p.list[i].line.edges {
			degree[e.a]++
			degree[e.b]++
			read[[2]int{min(e.a, e.b), max(e.a, e.b)}] = true
		}
	}
	// The pin of a piece that makes the longest chain: fewest readings on it.
	end := func(i int) int {
		pins := p.list[i].pins
		at := pins[0]
		for _, x := range pins[1:] {
			if degree[x] < degree[at] {
				at = x
			}
		}
		return at
	}
	together := func(i, j int) bool {
		both := 1<<i | 1<<j
		return slices.ContainsFunc(s.likely[0].blocks, func(set int) bool { return set&both == both })
	}
	for i := range p.list {
		for j := i + 1; j < len(p.list); j++ {
			same := s.same[i][j]
			gain := p.gain(i, j, same)
			if together(i, j) {
				// Likely one winding, and no wire counts before it is read: it will
				// be read anyhow, so where little else is open it comes first.
				gain = math.Max(gain, 0.5*s.likely[0].w)
			}
			if gain < 0.02 {
				continue
			}
			a, b := end(i), end(j)
			do := fmt.Sprintf("Read ohms from pin %s to pin %s. If it stays open, write \"open\".", s.b.pins[a], s.b.pins[b])
			if s.readAt(a, b, yokemate.Ohms) {
				do = fmt.Sprintf("Read ohms from pin %s to pin %s once more, with the probes on bright metal. If it stays open, write \"open\".", s.b.pins[a], s.b.pins[b])
			}
			s.offer(&best, candidate{WantedReading: yokemate.WantedReading{
				Quantity: yokemate.Ohms, From: s.b.pins[a], To: s.b.pins[b], Bits: gain / math.Ln2, Effort: effortOhms,
				Do:  do,
				Why: fmt.Sprintf("it tells whether they are one winding (now %.0f %% likely)", 100*same),
				Expect: []yokemate.Expected{
					{Words: "a number: one winding", Probability: same},
					{Words: "open: not joined", Probability: 1 - same},
				}}})
		}
	}
	if best != nil {
		return best
	}
	for i := range p.list {
		s.closings(&best, p.list[i].line, read)
	}
	if best == nil && !s.opt.NoMillivolts {
		for i := range p.list {
			s.sharpen(&best, p.list[i].line)
		}
	}
	return best
}

// sharpen offers millivolts across sections that are too coarsely known for any
// single reading to tell the orders apart.
func (s *state) sharpen(best **candidate, l *line) {
	if len(l.pins) < 3 || l.entropy() < 1e-3 {
		return
	}
	for i := range min(len(l.orders), 3) {
		o := &l.orders[i]
		for k := range len(o.seq) - 1 {
			a, b := o.seq[k], o.seq[k+1]
			mean, v := o.between(a, b)
			if mean > 5 || math.Sqrt(v) < 0.05*mean || s.readAt(a, b, yokemate.Millivolts) {
				continue
			}
			from, to := s.b.pins[min(a, b)], s.b.pins[max(a, b)]
			s.offer(best, candidate{WantedReading: yokemate.WantedReading{
				Quantity: yokemate.Millivolts, From: from, To: to, Bits: 0.1 * o.w * math.Sqrt(v) / mean, Effort: effortMillivolts,
				Do:  fmt.Sprintf("Pass 1.00 A of DC through pins %s and %s from a limited supply and read millivolts at the pins themselves.", from, to),
				Why: "the order of the taps hangs on a section too low for the ohmmeter and its leads"}})
		}
	}
}

// leastGain is the information below which a reading is not worth asking [nat].
const leastGain = 0.003

// closings offers readings within one wire that tell its orders apart.
func (s *state) closings(best **candidate, l *line, read map[[2]int]bool) {
	if len(l.orders) < 2 || len(l.pins) < 3 {
		return
	}
	m := s.firstMeter()
	orders := l.orders
	for i := range orders {
		if orders[i].w < 1e-5 || i >= 40 {
			orders = orders[:i]
			break
		}
	}
	if len(orders) < 2 {
		return
	}
	for x, a := range l.pins {
		for _, b := range l.pins[x+1:] {
			for _, q := range []yokemate.Quantity{yokemate.Ohms, yokemate.Millivolts} {
				again := read[[2]int{min(a, b), max(a, b)}]
				if q == yokemate.Ohms && again || q == yokemate.Millivolts && (s.opt.NoMillivolts || s.readAt(a, b, q)) {
					continue
				}
				means := make([]float64, len(orders))
				us := make([]float64, len(orders))
				low := false
				for k := range orders {
					mean, v := orders[k].between(a, b)
					u := meterOhms(m, q, mean)
					means[k], us[k] = mean, math.Sqrt(v+u*u)
					low = low || mean < 2
				}
				if q == yokemate.Millivolts && !low {
					continue
				}
				gain := mixtureGain(orders, means, us)
				if gain < leastGain {
					continue
				}
				w := yokemate.WantedReading{Quantity: q, From: s.b.pins[a], To: s.b.pins[b], Bits: gain / math.Ln2, Effort: effortOhms,
					Do:  fmt.Sprintf("Read ohms from pin %s to pin %s.", s.b.pins[a], s.b.pins[b]),
					Why: "it tells in which order the pins lie along the wire"}
				unit := "Ω"
				if q == yokemate.Millivolts {
					w.Effort = effortMillivolts
					w.Do = fmt.Sprintf("Pass 1.00 A of DC through pins %s and %s from a limited supply and read millivolts at the pins themselves.", s.b.pins[a], s.b.pins[b])
					w.Why += ": the ohmmeter and its leads are too coarse"
					unit = "mV"
				}
				for k := range min(len(orders), 4) {
					f := 1.0
					if unit == "mV" {
						f = 1e3
					}
					w.Expect = append(w.Expect, yokemate.Expected{
						Words:       "order " + strings.Join(s.b.names(orders[k].seq), "–") + ": " + si.Format(means[k]*f, unit, 3),
						Reading:     &yokemate.Interval{Value: f * means[k], Low: f * (means[k] - 2*us[k]), High: f * (means[k] + 2*us[k])},
						Probability: orders[k].w})
				}
				s.offer(best, candidate{WantedReading: w})
			}
		}
	}
}

// readAt reports whether the pair has a reading of the quantity already.
func (s *state) readAt(a, b int, q yokemate.Quantity) bool {
	for _, o := range s.b.obs {
		if o.r.Quantity == q && o.r.Excited == nil {
			x, okX := s.b.number[o.r.From]
			y, okY := s.b.number[o.r.To]
			if okX && okY && (x == a && y == b || x == b && y == a) {
				return true
			}
		}
	}
	return false
}

func (s *state) firstMeter() *yokemate.Meter {
	if len(s.b.meters) > 0 {
		return &s.b.meters[0]
	}
	return yokemate.GenericMeter()
}

// meterOhms is the standard uncertainty of a resistance to be read [Ω].
func meterOhms(m *yokemate.Meter, q yokemate.Quantity, ohms float64) float64 {
	if q == yokemate.Millivolts {
		a, _ := accuracyOf(m, &yokemate.Reading{Quantity: q}, q, 1e3*ohms)
		return math.Hypot(1e-3*a.U(1e3*ohms), currentSpread/math.Sqrt(3)*ohms)
	}
	a, _ := accuracyOf(m, &yokemate.Reading{Quantity: q}, q, ohms+m.LeadOhms)
	u := math.Hypot(a.U(ohms), contactOhms)
	if m.LeadOhms > 0 {
		u = math.Hypot(u, a.Fixed)
	}
	return u
}

// mixtureGain is the expected information of a normal reading on which of the
// orders holds: the pairwise bound with Bhattacharyya distances, a lower one
// (Kolchinsky and Tracey, Estimating Mixture Entropy with Pairwise Distances,
// Entropy 19(7), 2017, 361; from memory).
func mixtureGain(orders []order, mean, u []float64) float64 {
	total := 0.0
	for i := range orders {
		total += orders[i].w
	}
	gain := 0.0
	for i := range orders {
		s := 0.0
		for j := range orders {
			d := mean[i] - mean[j]
			v := u[i]*u[i] + u[j]*u[j]
			s += orders[j].w / total * math.Exp(-d*d/(4*v)) * math.Sqrt(2*u[i]*u[j]/v)
		}
		gain -= orders[i].w / total * math.Log(math.Min(s, 1))
	}
	return gain
}

// lowOhms asks for a millivolt reading where a section is too low for the
// ohmmeter: known to no better than a tenth.
func (s *state) lowOhms(f *facts) *candidate {
	var best *candidate
	for g, pins := range s.all[0].wiring.wires {
		for k := range len(pins) - 1 {
			v, u, ok := f.ohmsOf(g, k)
			if ok && v > 0 && u <= 0.1*v || s.readAt(pins[k], pins[k+1], yokemate.Millivolts) || ok && v-2*u > 5 {
				continue
			}
			from, to := s.b.pins[pins[k]], s.b.pins[pins[k+1]]
			s.offer(&best, candidate{WantedReading: yokemate.WantedReading{
				Quantity: yokemate.Millivolts, From: from, To: to, Bits: 1, Effort: effortMillivolts,
				Do:  fmt.Sprintf("Pass 1.00 A of DC through pins %s and %s from a limited supply and read millivolts at the pins themselves: 1 mV is 1 mΩ.", from, to),
				Why: "this winding is too low for the ohmmeter and its leads"}})
		}
	}
	return best
}

func (s *state) coreOpen() bool {
	for i, ok := range s.pieces.core {
		if !ok && len(s.pieces.list[i].pins) > 1 {
			return false
		}
	}
	return true
}

// coreCheck asks for one reading from all wires, tied together, to the core.
func (s *state) coreCheck() *candidate {
	if s.coreOpen() {
		return nil
	}
	var tie []string
	for i, ok := range s.pieces.core {
		// A pin alone is not fed, and a screen may well be on the core.
		if !ok && len(s.pieces.list[i].pins) > 1 {
			tie = append(tie, s.b.pins[s.pieces.list[i].pins[0]])
		}
	}
	var best *candidate
	w := yokemate.WantedReading{Quantity: yokemate.Ohms, From: tie[0], To: yokemate.CorePin, Bits: 1, Effort: effortCore,
		Do:  fmt.Sprintf("Read ohms from pin %s to the bare iron of the core, on the highest range.", tie[0]),
		Why: "nothing is fed before every winding is known to be apart from the core",
		Expect: []yokemate.Expected{{Words: "open: apart", Probability: 0.98},
			{Words: "a number: a winding joins the core, stop", Probability: 0.02}}}
	if len(tie) > 1 {
		w.Joined = tie
		w.Do = fmt.Sprintf("Tie pins %s together with bare wire and read ohms from them to the bare iron of the core, on the highest range. Then untie them.", list(tie))
	}
	s.offer(&best, candidate{WantedReading: w})
	return best
}

// source picks the wire to feed: the one with most volts where they are read,
// else the one with most ohms.
func (s *state) source(f *facts) int {
	best := &s.all[0]
	at, most := -1, 0.0
	for g, pins := range best.wiring.wires {
		if len(pins) < 2 {
			continue
		}
		x := 0.0
		if best.fit != nil && s.steppedUp {
			for k := range len(pins) - 1 {
				x += best.fit.volts[best.data.first[g]+k]
			}
		} else if l := best.wiring.lines[g]; l != nil {
			for _, r := range l.ohms {
				x += r
			}
		}
		if x > most || at < 0 {
			at, most = g, x
		}
	}
	// Keep the source where it is unless something read more.
	if best.fit != nil && !s.steppedUp {
		last := best.data.ac[len(best.data.ac)-1]
		if g := soleWire(last.source, best.data.of); g >= 0 {
			return g
		}
	}
	return at
}

// volts offers volts readings with the low source: a winding by itself, or
// tied to another for its dot.
func (s *state) volts(f *facts, target float64) *candidate {
	var best *candidate
	top := &s.all[0]
	src := s.source(f)
	if src < 0 {
		return nil
	}
	wires := top.wiring.wires
	ends := func(g int) (string, string) {
		p := wires[g]
		return s.b.pins[p[0]], s.b.pins[p[len(p)-1]]
	}
	sf, st := ends(src)
	pair := yokemate.Series{sf + ":" + st}
	fed := func() *yokemate.Excited {
		return &yokemate.Excited{Series: pair, Volts: yokemate.Num(s.opt.SourceVolts), Hertz: s.opt.Hertz}
	}
	feedWords := fmt.Sprintf("With the isolated %.3g V AC source on pins %s and %s, through a 250 mA fuse,", s.opt.SourceVolts, sf, st)
	m := s.firstMeter()
	acU := func(v float64) float64 {
		a, _ := accuracyOf(m, &yokemate.Reading{Quantity: yokemate.VoltsAC}, yokemate.VoltsAC, v)
		return math.Max(a.U(v), 1e-9)
	}
	guess := func(g int) (v float64, read bool) {
		for k := range len(wires[g]) - 1 {
			x, _, ok := f.voltsAt(g, k, s.opt.SourceVolts, src)
			if !ok {
				return 0, false
			}
			v += x
		}
		return v, true
	}
	// A winding by itself.
	structureOpen := s.structure() < target
	if s.opt.wants(Volts) || structureOpen {
		for g, pins := range wires {
			if len(pins) < 2 {
				continue
			}
			for k := range len(pins) - 1 {
				if g == src && len(pins) == 2 {
					continue
				}
				if _, rel, ok := f.voltsAt(g, k, s.opt.SourceVolts, src); ok && rel < voltsGoal {
					continue
				}
				a, b := s.b.pins[pins[k]], s.b.pins[pins[k+1]]
				if s.fedReading(pair, a, b) {
					continue
				}
				s.offer(&best, candidate{WantedReading: yokemate.WantedReading{
					Quantity: yokemate.VoltsAC, From: a, To: b, Excited: fed(), Bits: 1.5, Effort: effortVolts,
					Do:  fmt.Sprintf("%s read AC volts from pin %s to pin %s. Read the source at the same moment and write that down too. If anything reads more than the source, switch off and move it there.", feedWords, a, b),
					Why: "its volts beside the source's are the turns ratio"}})
			}
		}
		if best != nil && !structureOpen {
			return best
		}
	}
	if structureOpen {
		s.tellOrders(&best, src, pair, fed, feedWords, acU)
		if best != nil {
			return best
		}
	}
	if !s.opt.wants(Dots) {
		return best
	}
	// Tied to a wire whose dot is known.
	ref := src
	need := 1 - (1-s.opt.Confidence)/(2*float64(max(s.multi()-1, 1)))
	for g, pins := range wires {
		if len(pins) < 2 || g == ref {
			continue
		}
		p := s.alike(ref, g)
		if p >= need {
			continue
		}
		x, known := guess(g)
		for h := range wires {
			if h == g || len(wires[h]) < 2 || h != ref && s.alike(ref, h) < need {
				continue
			}
			y, knownY := guess(h)
			if h == ref {
				y, knownY = s.opt.SourceVolts, true
			}
			if !knownY || h != ref && !known {
				continue
			}
			gain := binaryEntropy(p)
			var expect []yokemate.Expected
			// The joint ties the end of h to the start of g.
			_, he := ends(h)
			gs, ge := ends(g)
			hs, _ := ends(h)
			if known {
				same, opp := y+x, math.Abs(y-x)
				u := math.Hypot(acU(same), acU(opp))
				z := (same - opp) / u
				gain *= 1 - math.Exp(-z*z/8)
				alike := top.dots[g]*top.dots[h] > 0
				q := s.alike(h, g)
				if !alike {
					q = 1 - q
				}
				expect = []yokemate.Expected{
					{Words: fmt.Sprintf("%s: %s and %s are like ends", si.Format(same, "V", 4), hs, gs), Reading: &yokemate.Interval{Value: same, Low: same - 2*u, High: same + 2*u}, Probability: q},
					{Words: fmt.Sprintf("%s: %s and %s are like ends", si.Format(opp, "V", 4), hs, ge), Reading: &yokemate.Interval{Value: opp, Low: math.Max(0, opp-2*u), High: opp + 2*u}, Probability: 1 - q}}
			} else {
				expect = []yokemate.Expected{
					{Words: fmt.Sprintf("more than the source: %s and %s are like ends", hs, gs), Probability: 0.5},
					{Words: fmt.Sprintf("less than the source: %s and %s are like ends", hs, ge), Probability: 0.5}}
				gain *= 0.95
			}
			if gain < leastGain || s.tiedReading(pair, hs, ge, 2) {
				continue
			}
			s.offer(&best, candidate{WantedReading: yokemate.WantedReading{
				Quantity: yokemate.VoltsAC, From: hs, To: ge, Joined: []string{he, gs}, Excited: fed(), Bits: gain / math.Ln2, Effort: effortJoined,
				Do:     fmt.Sprintf("With the source off, tie pin %s to pin %s. %s read AC volts from pin %s to pin %s, and the source at the same moment.", he, gs, feedWords, hs, ge),
				Why:    "the sum or the difference of the two tells which ends are alike",
				Expect: expect}})
		}
		// Its own volts, where the tied reading alone leaves it open.
		a, b := ends(g)
		if !known || s.tied(g) {
			if !s.fedReading(pair, a, b) && s.tied(g) {
				s.offer(&best, candidate{WantedReading: yokemate.WantedReading{
					Quantity: yokemate.VoltsAC, From: a, To: b, Excited: fed(), Bits: binaryEntropy(p) / math.Ln2, Effort: effortVolts,
					Do:  fmt.Sprintf("%s read AC volts from pin %s to pin %s, and the source at the same moment.", feedWords, a, b),
					Why: "beside it the tied reading is the sum or the difference"}})
			}
		}
	}
	return best
}

// tellOrders offers volts across any two pins of a wire whose order is open.
func (s *state) tellOrders(best **candidate, src int, pair yokemate.Series, fed func() *yokemate.Excited, feedWords string, acU func(float64) float64) {
	var accounts []*weighed
	for i := range s.all {
		x := &s.all[i]
		if !x.wiring.complete || len(accounts) >= 6 {
			break
		}
		if !slices.ContainsFunc(accounts, func(y *weighed) bool { return y.wiring == x.wiring }) {
			accounts = append(accounts, x)
		}
	}
	if len(accounts) < 2 {
		return
	}
	weights := make([]order, len(accounts))
	for i, x := range accounts {
		weights[i].w = x.w
	}
	mean, u := make([]float64, len(accounts)), make([]float64, len(accounts))
	fedWire := s.all[0].wiring.wires[src]
	for _, wire := range s.all[0].wiring.wires {
		for i, a := range wire {
			for _, b := range wire[i+1:] {
				from, to := s.b.pins[min(a, b)], s.b.pins[max(a, b)]
				if slices.Contains(fedWire, a) && pair[0] == from+":"+to || s.fedReading(pair, from, to) {
					continue
				}
				ok := true
				for k, x := range accounts {
					mean[k], u[k], ok = x.foresee(s, a, b, fedWire)
					if !ok {
						break
					}
					u[k] = math.Hypot(u[k], acU(mean[k]))
				}
				if !ok {
					continue
				}
				gain := mixtureGain(weights, mean, u)
				if gain < leastGain {
					continue
				}
				s.offer(best, candidate{WantedReading: yokemate.WantedReading{
					Quantity: yokemate.VoltsAC, From: from, To: to, Excited: fed(), Bits: gain / math.Ln2, Effort: effortVolts,
					Do:  fmt.Sprintf("%s read AC volts from pin %s to pin %s, and the source at the same moment.", feedWords, from, to),
					Why: "it tells in which order the pins lie along the wire"}})
			}
		}
	}
}

// foresee is the volts between two pins of a wire under one account, with the
// source on the ends of a wire, and how well they are foreseen.
func (x *weighed) foresee(s *state, a, b int, fedWire []int) (v, u float64, ok bool) {
	d := x.data
	read := make([]bool, len(d.of))
	for i := range d.ac {
		for k, c := range d.ac[i].form {
			read[k] = read[k] || c != 0
		}
		for k, c := range d.ac[i].source {
			read[k] = read[k] || c != 0
		}
	}
	lnv := func(k int) float64 {
		switch {
		case x.fit != nil:
			return math.Log(x.fit.volts[k])
		case len(d.prior) > 0:
			return d.prior[k]
		}
		l := x.wiring.lines[d.of[k]]
		if l == nil {
			return 0
		}
		return math.Log(l.ohms[k-d.first[d.of[k]]])
	}
	span := func(p, q int) (sum, variance float64, ok bool) {
		g := x.wiring.wireOf(p)
		i, j := slices.Index(x.wiring.wires[g], p), slices.Index(x.wiring.wires[g], q)
		if i < 0 || j < 0 {
			return 0, 0, false
		}
		for k := min(i, j); k < max(i, j); k++ {
			v := math.Exp(lnv(d.first[g] + k))
			sum += v
			if !read[d.first[g]+k] {
				variance += 0.15 * 0.15 * v * v
			}
		}
		return sum, variance, true
	}
	v, variance, ok := span(a, b)
	f, _, ok2 := span(fedWire[0], fedWire[len(fedWire)-1])
	if !ok || !ok2 || f == 0 || x.wiring.wireOf(a) != x.wiring.wireOf(fedWire[0]) && x.fit == nil {
		return 0, 0, false
	}
	k := s.opt.SourceVolts / f
	return v * k, k * math.Sqrt(variance), true
}

// voltsGoal is how well a section's volts are to be known: better than that a
// further reading by itself is not asked for [1].
const voltsGoal = 0.08

// fedReading reports whether the pair was read with this source.
func (s *state) fedReading(pair yokemate.Series, a, b string) bool {
	return s.tiedReading(pair, a, b, 1)
}

func (s *state) tiedReading(pair yokemate.Series, a, b string, times int) bool {
	for _, o := range s.b.obs {
		if o.r.Quantity == yokemate.VoltsAC && o.r.Excited != nil && slices.Equal(o.r.Excited.Series, pair) && o.used.Why == "" &&
			(o.r.From == a && o.r.To == b || o.r.From == b && o.r.To == a) {
			times--
		}
	}
	return times <= 0
}

// tied reports whether a reading runs through the wire and another.
func (s *state) tied(g int) bool {
	d := s.all[0].data
	for _, r := range d.ac {
		if r.wires < 2 {
			continue
		}
		for i, c := range r.form {
			if c != 0 && d.of[i] == g {
				return true
			}
		}
	}
	return false
}

// insulation asks for tester readings from each wire to the core and the others.
func (s *state) insulation(f *facts) *candidate {
	var best *candidate
	wires := s.all[0].wiring.wires
	seen := func(a, b []int, core bool) bool {
		for _, o := range s.b.obs {
			if o.r.Quantity != yokemate.Megohms {
				continue
			}
			x, okX := s.b.number[o.r.From]
			y, okY := s.b.number[o.r.To]
			on := func(w []int, p int, ok bool) bool { return ok && slices.Contains(w, p) }
			if core && (on(a, x, okX) && o.r.To == yokemate.CorePin || on(a, y, okY) && o.r.From == yokemate.CorePin) {
				return true
			}
			if !core && (on(a, x, okX) && on(b, y, okY) || on(a, y, okY) && on(b, x, okX)) {
				return true
			}
		}
		return false
	}
	ask := func(from, to, what string, bits float64) {
		s.offer(&best, candidate{WantedReading: yokemate.WantedReading{Quantity: yokemate.Megohms, From: from, To: to, Bits: bits, Effort: effortInsulation,
			Do:  fmt.Sprintf("With an insulation tester at 500 V DC, one minute, read %s: pin %s to %s. Nothing else connected, hands off; discharge after.", what, from, to),
			Why: "100 MΩ or more passes, below 2 MΩ is a reject (common practice); without a tester the insulation is not proven"}})
	}
	for g, a := range wires {
		if len(a) < 2 {
			continue
		}
		if !seen(a, nil, true) {
			ask(s.b.pins[a[0]], yokemate.CorePin, "winding to core", 1)
		}
		for h := g + 1; h < len(wires); h++ {
			if b := wires[h]; len(b) > 1 && !seen(a, b, false) {
				bits := 0.8
				if g == f.mainsWire || h == f.mainsWire {
					bits = 1.2
				}
				ask(s.b.pins[a[0]], s.b.pins[b[0]], "winding to winding", bits)
			}
		}
	}
	return best
}

// exciting asks for no-load current with the low source. Mains, or a rising
// source up to it, is asked only of a winding that is settled as the mains
// side with its insulation read, and through a lamp.
func (s *state) exciting(f *facts) *candidate {
	var best *candidate
	src := s.source(f)
	if src < 0 {
		return nil
	}
	p := s.all[0].wiring.wires[src]
	a, b := s.b.pins[p[0]], s.b.pins[p[len(p)-1]]
	pair := yokemate.Series{a + ":" + b}
	high, some := 0.0, false
	for _, o := range s.b.obs {
		if o.r.Quantity == yokemate.AmpsAC && o.r.Excited != nil && len(o.r.Joined) == 0 && !o.open {
			some = true
			high = math.Max(high, o.r.Excited.Volts.V)
		}
	}
	if !some {
		s.offer(&best, candidate{WantedReading: yokemate.WantedReading{Quantity: yokemate.AmpsAC, From: feedEnd, Excited: &yokemate.Excited{Series: pair, Volts: yokemate.Num(s.opt.SourceVolts), Hertz: s.opt.Hertz},
			Bits: 1, Effort: effortAmps,
			Do:  fmt.Sprintf("With the %.3g V AC source on pins %s and %s through a 250 mA fuse and everything else open, read the source's amps, and its volts at the same moment.", s.opt.SourceVolts, a, b),
			Why: "a few milliamps are healthy; far more is a shorted turn or the wrong pair"}})
		return best
	}
	if src != f.mainsWire && src != f.twin || f.sideChance < provenSide || !f.insulationRead(s, src) || f.knee.reached {
		return best
	}
	v, lamp := s.rise(high)
	limit := highestMains
	if f.twin >= 0 {
		limit /= 2 // one of two coils
	}
	if v > limit {
		return best
	}
	words := fmt.Sprintf("From an isolated variable source at mains frequency, through a filament lamp of about %g W, raise pins %s and %s to about %.0f V with everything else open and covered, and read amps and volts. Stop where the amps take off.", lamp, a, b, v)
	s.offer(&best, candidate{WantedReading: yokemate.WantedReading{Quantity: yokemate.AmpsAC, From: feedEnd, Bits: 1, Effort: 2 * effortAmps,
		Excited: &yokemate.Excited{Series: pair, Volts: yokemate.Num(v), Hertz: s.opt.Hertz, Lamp: &yokemate.Lamp{Watts: lamp, Volts: f.mainsVolts}},
		Do:      words, Why: "the knee of the current tells the volts it was made for"}})
	return best
}

const (
	provenSide   = 0.8   // least probability that a winding is the mains side before more than the low source is asked onto it
	highestMains = 276.0 // 15 % above 240 V [V]
)

// rise is the next voltage of the excitation curve: twice the last below 50 V,
// then small steps, smaller where the amps already grow faster than the volts.
func (s *state) rise(high float64) (v, lamp float64) {
	step := 1.3
	if high < 25 {
		step = 2
	}
	points := s.idles()
	slices.SortFunc(points, func(a, b idle) int { return cmp.Compare(a.volts, b.volts) })
	if n := len(points); n > 1 && points[n-1].amps != nil && points[n-2].amps != nil {
		a, b := points[n-2], points[n-1]
		if math.Log(b.amps.y/a.amps.y) > 1.2*math.Log(b.volts/a.volts) {
			step = 1.1
		}
	}
	return math.Round(high * step), 25
}

// satisfied reports whether everything asked is known as well as it can be asked.
func (s *state) satisfied(f *facts) bool {
	if s.opt.wants(Volts) {
		for g, pins := range s.all[0].wiring.wires {
			for k := range len(pins) - 1 {
				if v, ok := f.volts[[2]int{g, k}]; !ok || v.u > 0.1*v.value {
					return s.multi() == 0
				}
			}
		}
	}
	if s.opt.wants(Ohms) {
		for g, pins := range s.all[0].wiring.wires {
			for k := range len(pins) - 1 {
				if v, u, ok := f.ohmsOf(g, k); !ok || u > 0.25*v {
					return false
				}
			}
		}
	}
	return true
}
