package find

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/si"
	"yokemate/supply"
)

// rectified is what a search for DC adds to one for AC. The search's own need
// is then the least that a rectifier draws, within volts that hold whatever
// can give the DC: what it lets through is judged by package supply.
type rectified struct {
	need   *yokemate.Need
	kind   string  // bridge or centre-tap
	middle bool    // both rails of a pair feed one rectifier
	diodes float64 // in the way of a rail's current
	law    waveform.DiodeLaw
}

const (
	headroom = 3.0 // of a regulator in its valleys at low mains [V]
	// A regulator's reservoir may stand at so many times what it must at
	// least: more is heat for nothing.
	mostSurplus = 2.0
	// Halves on either side of a middle are alike to within so much.
	halves = 0.05
)

// What bounds a rectifier's volts and amps from outside, held to by a test:
// diode drops, the shares by which the volts of a source without inductance
// and with an endless reservoir may be off, and rms amps of the winding for
// one DC amp.
const (
	leastDrop, mostDrop = 0.75, 1.15 // a diode, with what the ripple takes [V]
	errMean             = 0.005      // of the volts above the reckoned ones
	errFlat             = 0.015      // and below them, with the inductance counted as resistance
	// With the diodes' drop by their law at so many times the rms amps, the volts
	// lie so much above and below the reckoned ones, as a share of the peak.
	pulseShare            = 1.5
	errAbove, errAboveTap = 0.005, 0.013
	errBelow              = 0.025
	leastRMS              = 1.3  // behind a bridge
	errRMS                = 0.78 // of the reckoned rms amps
	// Terminal volts at the least rms amps, for one volt of a rail and its drops.
	leastForm, mostForm = 1.05, math.Sqrt2
)

// perHalf is the part of the bridge's rms amps that a half carries, and of
// which both halves together ask no more of the mains side than a bridge.
func (d *rectified) perHalf() float64 {
	if d.kind == "centre-tap" {
		return 0.5
	}
	return 1
}

// span is the DC that will do, at nominal mains [V].
func (d *rectified) span() (least, most float64) {
	n := d.need
	if n.Regulated {
		return n.Volts + headroom, mostSurplus * (n.Volts + headroom)
	}
	return n.Volts * (1 - n.Tolerance), n.Volts * (1 + n.Tolerance)
}

// acNeed is what an arrangement must give the rectifier.
func (d *rectified) acNeed() *yokemate.Need {
	least, most := d.span()
	n := *d.need
	lo, hi := (least+d.diodes*leastDrop)/mostForm, (most+d.diodes*mostDrop)/leastForm
	n.Kind, n.Regulated, n.Isolated = "ac", false, nil
	n.Volts, n.Tolerance = (lo+hi)/2, (hi-lo)/(hi+lo)
	n.Amps = leastRMS * d.perHalf() * d.need.Amps
	n.Rails = 1 + bit(d.middle)
	return &n
}

// pulse is the mean volts of an endless reservoir that a full-wave rectifier
// without drop fills from a source of peak volts behind ohms, and the rms amps
// of the source for one DC amp; 0 volts when it cannot give the amps.
func pulse(peak, ohms, amps float64) (volts, rms float64) {
	x := math.Pi * ohms * amps / (2 * peak)
	if !(x < 1) {
		return 0, leastRMS
	}
	// sin θ − θ cos θ = x; θ is half the angle of conduction. The left side is
	// convex, and (3x)^⅓ all but the root where x is small.
	t := math.Cbrt(3 * x)
	t *= 1 + t*t/30
	for range 3 {
		s, c := math.Sincos(t)
		t -= (s - t*c - x) / (t * s)
	}
	c := math.Cos(t)
	square := (t*(1+2*c*c) - 1.5*math.Sin(2*t)) / math.Pi
	return peak * c, math.Max(leastRMS, peak/ohms*math.Sqrt(square)/amps)
}

// looked bounds a rail's mean volts at a share of nominal mains, and tells the
// rms amps for one DC amp.
func (d *rectified) looked(e *element, t int, mains float64) (lo, hi, k float64) {
	peak := math.Sqrt2 * mains * cmplx.Abs(e.v0[t])
	r, x := math.Abs(real(e.z[t])), math.Abs(imag(e.z[t]))
	_, k = pulse(peak, r+x, d.need.Amps)
	drop := d.diodes * d.law.Drop(pulseShare*k*d.need.Amps)
	high, _ := pulse(peak-drop, r, d.need.Amps)
	low := high
	if x > 0 {
		low, _ = pulse(peak-drop, r+x, d.need.Amps)
	}
	above := errAbove
	if d.kind == "centre-tap" {
		above = errAboveTap
	}
	return low - errBelow*peak, high + above*peak, k
}

// outside is a quicker look from cold copper: half the angle of conduction is
// above the cube root that pulse starts from, and where that is below 1 by no
// more than a tenth.
func (d *rectified) outside(e *element, least, most float64) bool {
	peak := math.Sqrt2 * cmplx.Abs(e.v0[0])
	r, x := math.Abs(real(e.z[0])), math.Abs(imag(e.z[0]))
	half := 1.5 * math.Pi * d.need.Amps / peak
	if t := math.Cbrt(half * r); peak*(1-t*t/2+t*t*t*t/24)*(1+errMean)-d.diodes*leastDrop < least {
		return true
	}
	t := math.Cbrt(half * (r + x))
	return t < 1 && peak*(1-0.605*t*t)*(1-errFlat)-d.diodes*mostDrop > most
}

// between is what looked says of the volts.
func (d *rectified) between(e *element, t int, mains float64) (lo, hi float64) {
	lo, hi, _ = d.looked(e, t, mains)
	return lo, hi
}

// mostAmps is the DC at which a source that carries k rms amps for each is
// certain to be past its limit.
func (d *rectified) mostAmps(e *element, k float64) float64 {
	if d.kind == "centre-tap" {
		k /= math.Sqrt2
	}
	return e.lim * errLim / math.Max(errRMS*k, leastRMS*d.perHalf())
}

// mostOf is mostAmps by a look of its own.
func (d *rectified) mostOf(e *element) float64 {
	_, _, k := d.looked(e, 0, 1)
	return d.mostAmps(e, k)
}

// bound is [search.bound] for a source that feeds a rectifier. Unlike are the
// volts by which the two sides of a middle may draw the reservoir's from the
// mean that e is of them [V].
func (d *rectified) bound(s *search, e *element, unlike float64) (fit float64, ok bool) {
	n := d.need
	least, most := d.span()
	if math.Sqrt2*cmplx.Abs(e.v0[0])*(1+errMean)-d.diodes*leastDrop+unlike < least || e.lim*errLim < s.need.Amps || e.circ > 0.15*errCirc {
		return 0, false
	}
	if d.outside(e, least-unlike, most+unlike) {
		return 0, false
	}
	far, amps := 0.0, 0.0
	for t := range 2 {
		lo, hi, k := d.looked(e, t, 1)
		lo, hi = lo-unlike, hi+unlike
		if hi < least || lo > most {
			return 0, false
		}
		if !n.Regulated {
			far = math.Max(far, math.Max(lo-n.Volts, n.Volts-hi))
		}
		if t == 0 {
			if amps = d.mostAmps(e, k); amps < n.Amps {
				return 0, false
			}
		}
	}
	if n.Regulated {
		// The valleys lie below the mean by the ripple, so only above it is sure.
		lowest := n.Feed.At(yokemate.Low) / n.Feed.Volts.V
		if _, hi := d.between(e, 1, lowest); hi+unlike < least {
			return 0, false
		}
	}
	// The rms amps grow by less than the DC does, but by more than its power of
	// three quarters: pulses widen as its cube root.
	return d.fit(far, n.Amps*math.Pow(amps/n.Amps, 4.0/3)), true
}

// fit is the last part of the key: for a regulator, what is left above the
// wanted headroom counts by the wanted volts.
func (d *rectified) fit(deviation, maxAmps float64) float64 {
	n := d.need
	scale := n.Volts
	if !n.Regulated {
		scale *= n.Tolerance
	}
	return deviation/scale + n.Amps/maxAmps
}

// off is how far the middle of what an element may give lies from what will
// do, as a share of it.
func (d *rectified) off(e *element) float64 {
	least, most := d.span()
	w := 0.0
	for t := range 2 {
		lo, hi := d.between(e, t, 1)
		v := (lo + hi) / 2
		switch {
		case !d.need.Regulated:
			w = math.Max(w, math.Abs(v/d.need.Volts-1))
		case v < least:
			w = math.Max(w, 1-v/least)
		case v > most:
			w = math.Max(w, v/most-1)
		}
	}
	return w
}

// source is where the rectifier goes in a hookup that was laid out for AC.
func (d *rectified) source(h *yokemate.Hookup) supply.Source {
	o := h.Outputs
	s := supply.Source{From: o[0].From, To: o[0].To, Rectifier: d.kind}
	if d.middle {
		s.Middle, s.To = o[0].To, o[1].To
	}
	return s
}

// words name the rectifier.
func (d *rectified) words() string {
	switch {
	case d.kind == "centre-tap":
		return "into two diodes"
	case d.middle:
		return "into a bridge with a middle"
	}
	return "into a bridge"
}

// name says what the rectifier makes of an arrangement.
func (d *rectified) name(ac string) string {
	if d.kind == "centre-tap" {
		ac = strings.NewReplacer(" for one rail,", " and", " for the other", "").Replace(ac)
	}
	return ac + " " + d.words()
}

// rectify puts the rectifier and a reservoir by the straight-line rule behind
// a hookup that was laid out for AC.
func (d *rectified) rectify(h *yokemate.Hookup) *yokemate.Hookup {
	src := d.source(h)
	rule := d.need.Amps / (2 * d.need.Feed.Hertz * 0.1 * d.need.Volts)
	h.Outputs = []yokemate.Output{{Name: "dc", From: src.From, To: src.To, DC: &yokemate.DC{
		Rectifier: src.Rectifier, Middle: src.Middle, Farads: si.Preferred(rule, "E6", true), Amps: d.need.Amps,
	}}}
	h.Name = d.name(h.Name)
	return h
}

// begin gives a hookup to package supply.
func (d *rectified) begin(f *network.Facts, h *yokemate.Hookup, farads float64) (*supply.Work, error) {
	src := d.source(h)
	bare := h.Clone()
	bare.Outputs = nil
	return supply.Begin(f, bare, src, d.need, supply.Options{Headroom: headroom, Brief: true, Farads: farads})
}

// sketch takes a candidate to what its supply is reckoned to be.
func (s *search) sketch(c *candidate) *trouble {
	k, ok, known := s.dc.sketch(c.sources())
	c.most = math.Inf(1)
	switch {
	case !known:
		return nil
	case !ok:
		return &trouble{}
	}
	c.farads, c.most = k.farads, k.most
	c.key.fit = math.Max(c.key.fit, k.fit)
	if s.dc.loose(k.far, c.sources()) {
		c.key.caution = 1
	}
	return nil
}

// loose is [search.loose] for a reservoir's volts: a volt of the sources moves
// them by its peak, or all but.
func (d *rectified) loose(deviation float64, es []*element) bool {
	sd := 0.0
	for _, e := range es {
		sd += e.sd / float64(len(es))
	}
	if len(es) > 1 {
		sd /= math.Sqrt2 // either side may err by itself
	}
	return !d.need.Regulated && deviation+1.9*0.95*math.Sqrt2*sd > d.need.Tolerance*d.need.Volts
}

// sources are what feeds the rectifier: one, or one on either side of a middle.
func (c *candidate) sources() []*element {
	if c.whole != nil {
		return []*element{c.whole}
	}
	return c.alone
}

// errRough is what a roughly solved supply leaves of its volts [1].
const errRough = 1e-3

// probe takes a hookup from AC to its supply, roughly solved with the reservoirs that it may
// choose: nearly all of what is hidden from the sums.
func (s *search) probe(c *candidate) *trouble {
	d := s.dc
	n := d.need
	var guess float64
	if len(c.farads) > 0 {
		guess = c.farads[0]
	}
	var err error
	if c.made, err = d.begin(s.facts, c.hookup, guess); err != nil {
		return &trouble{}
	}
	least, most := d.span()
	fit, nearest, doubted, limited := math.Inf(1), math.Inf(1), 0, trouble{}
	for _, farads := range c.farads {
		cold, err := c.made.Rough(farads, yokemate.Nominal, coldC)
		if err != nil {
			return &trouble{} // it has no state at these amps
		}
		for _, l := range cold.Loads {
			if l.Amps > l.Limit*(1+errRough) {
				limited = trouble{yokemate.DCOverRating, fmt.Sprintf("at %s DC winding %s carries %s rms, %.0f %% of what it may: the DC amps hide it", si.Format(n.Amps, "A", 3), l.Name, si.Format(l.Amps, "A", 3), 100*l.Amps/l.Limit)}
			}
		}
		if limited.why != "" {
			continue
		}
		other := corner{yokemate.Nominal, hotC}
		if n.Regulated {
			other = corner{yokemate.Low, hotC}
		}
		hot, err := c.made.Rough(farads, other.level, other.celsius)
		if err != nil {
			return &trouble{}
		}
		far := 0.0
		for k := range cold.Rails {
			v, w := cold.Rails[k].Mean, hot.Rails[k].Mean
			if n.Regulated {
				far = math.Max(far, hot.Rails[k].Valley-least)
				if v > most*(1+errRough) || hot.Rails[k].Valley < least*(1-errRough) {
					far = math.Inf(1)
				}
				continue
			}
			far = math.Max(far, math.Max(math.Abs(v-n.Volts), math.Abs(w-n.Volts)))
		}
		far = math.Max(0, far-errRough*n.Volts)
		if !n.Regulated && far > n.Tolerance*n.Volts {
			continue
		}
		// The sources' own doubt moves a reservoir by all of its peak.
		drop := d.diodes * leastDrop
		if !n.Regulated && far+1.9*c.made.SourceDoubt()*(cold.Rails[0].Mean+drop) > n.Tolerance*n.Volts {
			doubted++
		}
		fit, nearest = math.Min(fit, d.fit(far, c.most)), math.Min(nearest, far)
	}
	switch {
	case len(c.farads) == 0: // the sums did not know
	case math.IsInf(fit, 1):
		return &limited
	default:
		c.key.fit = math.Max(c.key.fit, fit)
		if d.loose(nearest, c.sources()) || doubted == len(c.farads) {
			c.key.caution = 1
		}
	}
	return nil
}

// design has package supply choose the reservoir, hold the rails to the need
// and say what speaks against it.
func (s *search) design(c *candidate) *trouble {
	d, made := s.dc, c.made
	n := d.need
	if err := made.Finish(); err != nil {
		return &trouble{} // it has no state at these amps
	}
	c.worst = 0
	o := &c.offer
	o.NoLoadVolts, o.FullLoad, o.HotVolts = 0, math.Inf(1), math.Inf(1)
	for _, r := range made.Rails {
		o.FullLoad, o.HotVolts = math.Min(o.FullLoad, r.Volts), math.Min(o.HotVolts, r.HotVolts)
		if n.Regulated {
			c.worst = math.Max(c.worst, r.Headroom-headroom)
			if r.Volts > mostSurplus*(n.Volts+headroom) {
				return &trouble{}
			}
			continue
		}
		c.worst = math.Max(c.worst, math.Max(math.Abs(r.Volts-n.Volts), math.Abs(r.HotVolts-n.Volts)))
	}
	if !n.Regulated && c.worst > n.Tolerance*n.Volts {
		return &trouble{}
	}
	for _, note := range made.Supply.Notes {
		if note.Level == yokemate.Stop || note.Code == yokemate.NotIsolated {
			return &trouble{note.Code, note.Words}
		}
	}
	made.Hookup.Name = d.name(made.Hookup.Name)
	o.Hookup, o.Notes = made.Hookup, append(o.Notes, made.Supply.Notes...)
	c.hookup = &o.Hookup
	if yokemate.Worst(o.Notes) == yokemate.Caution {
		c.key.caution = 1
	}
	c.key.fit = math.Max(c.key.fit, d.fit(c.worst, c.most))
	return nil
}

// corner is one end of what a supply must stand.
type corner struct {
	level   yokemate.MainsLevel
	celsius float64
}

var corners = []corner{{yokemate.Nominal, coldC}, {yokemate.Nominal, hotC}, {yokemate.High, coldC}, {yokemate.High, hotC}}

// load is how full something is at some DC amps: 1 is its limit.
type load struct {
	name string
	part float64
}

const regulator = "regulator"

// loads lists what is how full, the currents at the unfavourable end.
func loads(st *supply.State, reach map[string]float64) []load {
	var out []load
	for _, l := range st.Loads {
		out = append(out, load{l.Name, l.Amps * math.Max(1, reach[l.Name]) / l.Limit})
	}
	return out
}

// cooling is how full a regulator is by its heat: its chip at 110 °C on the
// best of sinks in air of 40 °C, 2 K/W between (common practice).
func (d *rectified) cooling(p *supply.State, amps float64) load {
	most := 0.0
	for _, r := range p.Rails {
		most = math.Max(most, r.Mean)
	}
	return load{regulator, (most - d.need.Volts) * amps * 2 / (110 - 40)}
}

// prop is how full a regulator is by its headroom.
func (d *rectified) prop(p *supply.State) load {
	least := math.Inf(1)
	for _, r := range p.Rails {
		least = math.Min(least, r.Valley)
	}
	return load{regulator, (d.need.Volts + headroom) / math.Max(least, 1e-3)}
}

func fullest(ls []load) load {
	return slices.MaxFunc(ls, func(a, b load) int { return cmp.Compare(a.part, b.part) })
}

// weigh has the reservoir chosen and finds how far the facts leave the supply's
// volts and amps.
func (s *search) weigh(c *candidate) *trouble {
	n, o, made := s.dc.need, &c.offer, c.made
	doubt := func(words string, args ...any) {
		o.Notes = append(o.Notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: rectifiedOutput, Words: fmt.Sprintf(words, args...)})
	}
	if err := made.Reservoir(); err != nil {
		return &trouble{}
	}
	spread, err := made.Spread()
	if err != nil {
		return &trouble{}
	}
	c.spread = spread
	cold, err := made.At(yokemate.Nominal, coldC, n.Amps)
	if err != nil {
		return &trouble{}
	}
	if f := fullest(append(loads(cold, spread.Reach), load{})); f.part > 1 {
		return derated(n, n.Amps/(f.part*f.part), f.name)
	}
	// Cold and hot, low mains and nominal are the same facts: the interval goes with the value.
	if n.Regulated {
		deep, err := made.At(yokemate.Low, hotC, n.Amps)
		if err != nil {
			return &trouble{}
		}
		for k, r := range spread.Rails {
			if v := deep.Rails[k].Valley + r.ValleyLow - r.Valley; v < n.Volts+headroom {
				doubt("the facts leave the valleys at low mains down to %s: %s and a regulator's %s are not proven", si.Format(v, "V", 3), si.Format(n.Volts, "V", 3), si.Format(headroom, "V", 1))
				break
			}
		}
	} else {
		hot, err := made.At(yokemate.Nominal, hotC, n.Amps)
		if err != nil {
			return &trouble{}
		}
		high, low := 0.0, math.Inf(1)
		for k, r := range spread.Rails {
			for _, v := range [2]float64{cold.Rails[k].Mean, hot.Rails[k].Mean} {
				high, low = math.Max(high, v+r.MeanHigh-r.Mean), math.Min(low, v+r.MeanLow-r.Mean)
			}
		}
		if most, least := n.Volts*(1+n.Tolerance), n.Volts*(1-n.Tolerance); high > most || low < least {
			doubt("the facts leave the DC between %s cold and %s hot: outside the %.3g %% that the need allows", si.Format(high, "V", 3), si.Format(low, "V", 3), 100*n.Tolerance)
		}
	}
	c.key.caution = max(c.key.caution, bit(yokemate.Worst(o.Notes) == yokemate.Caution))
	return nil
}

// derated is the trouble of a supply that the facts leave too few amps.
func derated(n *yokemate.Need, amps float64, by string) *trouble {
	return &trouble{yokemate.DCOverRating, fmt.Sprintf("derated to what the facts leave it gives %s DC, and %s is wanted: %s may come to more than it stands", si.Format(math.Max(0, amps), "A", 3), si.Format(n.Amps, "A", 3), by)}
}

// rectifiedOutput is the name that package supply gives the output.
const rectifiedOutput = "dc"

// settle looks at a supply at its corners, finds what may be drawn, and gives
// the offer its true fit.
func (s *search) settle(c *candidate) *trouble {
	d, o, made, spread := s.dc, &c.offer, c.made, c.spread
	n := d.need
	worst, full := corners[0], load{}
	for _, k := range corners {
		p, err := made.At(k.level, k.celsius, n.Amps)
		if err != nil {
			return &trouble{}
		}
		notes, err := made.Notes(k.level, k.celsius)
		if err != nil {
			return &trouble{}
		}
		for _, note := range notes {
			if note.Level == yokemate.Stop {
				return &trouble{note.Code, note.Words}
			}
			// What only another corner tells counts as well.
			same := func(x yokemate.Note) bool { return x.Code == note.Code && x.About == note.About }
			if note.Level == yokemate.Caution && !slices.ContainsFunc(o.Notes, same) {
				o.Notes = append(o.Notes, note)
			}
		}
		if k == corners[0] {
			o.FeedWatts = p.Watts
		}
		if f := fullest(append(loads(p, spread.Reach), load{})); f.part > full.part {
			worst, full = k, f
		}
	}
	idle, err := made.At(yokemate.Nominal, coldC, n.Amps*idleShare)
	if err != nil {
		return &trouble{}
	}
	for _, r := range idle.Rails {
		o.NoLoadVolts = math.Max(o.NoLoadVolts, r.Mean)
	}
	deep := corner{yokemate.Low, hotC}
	all := func(amps float64) ([]load, error) {
		p, err := made.At(worst.level, worst.celsius, amps)
		if err != nil {
			return nil, err
		}
		ls := loads(p, spread.Reach)
		if !n.Regulated {
			return append(ls, load{}), nil
		}
		q, err := made.At(deep.level, deep.celsius, amps)
		if err != nil {
			return nil, err
		}
		hot, err := made.At(corners[2].level, corners[2].celsius, amps)
		if err != nil {
			return nil, err
		}
		return append(ls, d.prop(q), d.cooling(hot, amps)), nil
	}
	o.MaxAmps, o.LimitedBy = mostDC(n.Amps, c.most/(1+errMost), all)
	if o.LimitedBy == "" {
		o.MaxAmps = n.Amps // nothing is known that would let it give more
	}
	if o.MaxAmps < n.Amps {
		return derated(n, o.MaxAmps, o.LimitedBy)
	}
	slices.SortStableFunc(o.Notes, func(a, b yokemate.Note) int { return rank(a.Level) - rank(b.Level) })
	c.key.caution = bit(yokemate.Worst(o.Notes) == yokemate.Caution)
	c.key.fit = d.fit(c.worst, o.MaxAmps)
	c.made, c.spread = nil, nil
	return nil
}

// idleShare of the need's amps stands for no load: with none at all a
// reservoir has no end of its charging.
const idleShare = 1e-3

// mostDC finds the amps at which the first thing is full from a guess, drawing each one's
// part as a straight line through two amps, again and again. What it returns
// was looked at and is within every limit; where the amps themselves are not,
// it is below them.
func mostDC(amps, guess float64, at func(float64) ([]load, error)) (most float64, by string) {
	x1 := amps
	now, err := at(x1)
	if err != nil {
		return 0, "the volts, which collapse"
	}
	if f := fullest(now); f.part > 1 {
		return amps / (f.part * f.part), f.name
	}
	most, by = x1, fullest(now).name
	x0 := amps * math.Min(math.Max(guess/amps, 1.1), 4)
	before, err := at(x0)
	if err != nil {
		x0 = 0.9 * amps
		if before, err = at(x0); err != nil {
			return most, by
		}
	} else if f := fullest(before); f.part <= 1 {
		most, by = x0, f.name
	}
	if x0 > x1 {
		x0, before, x1, now = x1, now, x0, before // from the outer one on
	}
	collapse := math.Inf(1)
	for range 8 {
		next, who := math.Inf(1), ""
		for i, l := range now {
			if rise := (l.part - before[i].part) / (x1 - x0); rise*x1 > 1e-4 {
				if x := x1 + (1-l.part)/rise; x < next {
					next, who = x, l.name
				}
			}
		}
		if who == "" {
			break
		}
		next = math.Min(math.Max(next, x1/2), math.Min(2*x1, (x1+collapse)/2))
		if math.Abs(next-x1) < 2e-3*x1 {
			break
		}
		ls, err := at(next)
		if err != nil {
			collapse = next // so much cannot be drawn at all
			continue
		}
		x0, before, x1, now = x1, now, next, ls
		switch f := fullest(ls); {
		case f.part <= 1 && x1 > most:
			most, by = x1, f.name
		case f.part > 1 && f.part < 1+5e-3:
			// A current rises by less than the amps do: squared it is enough.
			if x := x1 / (f.part * f.part); x > most {
				most, by = x, f.name
			}
		}
		if f := fullest(now); math.Abs(f.part-1) < 2e-3 {
			break
		}
	}
	return most, by
}

// rectifiers lists what a DC need may be met by.
func rectifiers(n *yokemate.Need) []*rectified {
	law := waveform.Silicon(waveform.DiodeRating(n.Amps))
	if n.Rails == 2 {
		return []*rectified{{n, "bridge", true, 1, law}}
	}
	return []*rectified{{n, "bridge", false, 2, law}, {n, "centre-tap", true, 1, law}}
}

// findDC answers a DC need: a search for each rectifier, on one agenda.
func findDC(f *network.Facts, n *yokemate.Need, opt Options) (*yokemate.Findings, error) {
	r := &yokemate.Findings{Offers: []yokemate.Offer{}, Refusals: []yokemate.Refusal{}, LeftOut: leftOut(f)}
	a := &hunt{progress: opt.Progress}
	for _, d := range rectifiers(n) {
		s := newSearch(f, d.acNeed(), opt)
		s.dc = d
		s.prepare()
		a.searches = append(a.searches, s)
	}
	best, err := a.find(opt.Offers)
	if err != nil {
		return nil, err
	}
	for _, c := range best {
		r.Offers = append(r.Offers, c.offer)
	}
	for _, s := range a.searches {
		r.Refusals = append(r.Refusals, s.refusals()...)
	}
	r.Refusals = r.Refusals[:min(len(r.Refusals), opt.Refusals)]
	return r, nil
}

// sagging are units with the volts for a regulator at nominal mains and not in
// the valleys at low ones.
func (s *search) sagging() []miss {
	d := s.dc
	if !d.need.Regulated || d.middle {
		return nil
	}
	const tries = 2 * perReason
	var es []*element
	for _, e := range s.elems {
		if _, ok := d.bound(s, e, 0); ok || d.mostOf(e) < d.need.Amps {
			continue
		}
		if _, hi := d.between(e, 0, 1); hi >= d.need.Volts && s.off(e) <= 0.25 {
			es = append(es, e)
		}
	}
	slices.SortStableFunc(es, func(a, b *element) int { return cmp.Compare(s.off(a), s.off(b)) })
	var out []miss
	seen := map[int]bool{}
	for _, e := range es {
		at := e.drives[0].unit
		if seen[at] || len(seen) == tries {
			continue
		}
		seen[at] = true
		p := s.railsOf(e)
		made, err := d.begin(s.facts, p.hookup(), 0)
		if err != nil || made.Finish() != nil {
			continue
		}
		for _, n := range made.Supply.Notes {
			if n.Code == yokemate.DCOverRating && n.Level == yokemate.Stop && strings.HasPrefix(n.Words, "rail") {
				out = append(out, miss{p, trouble{n.Code, n.Words}, s.off(e)})
				break
			}
		}
	}
	return out
}

// onwardDC looks at one candidate of a DC search more closely.
func (s *search) onwardDC(c *candidate) {
	switch c.stage {
	case asked:
		c.trouble = s.sketch(c)
	case sketchedOut:
		if c.trouble = s.solve(c); c.trouble != nil && c.trouble.why == yokemate.OverCurrent {
			c.trouble.words = "with the least that a rectifier may draw, as a sine, " + c.trouble.words
		}
	case solved:
		c.trouble = s.probe(c)
	case probed:
		c.trouble = s.weigh(c)
	case weighed:
		c.trouble = s.design(c)
	case designed:
		c.trouble = s.settle(c)
	default:
		panic("find: nothing follows an offer")
	}
}
