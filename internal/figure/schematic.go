package figure

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/internal/draw"
)

// SchematicOptions say what the schematic shows beside the wiring. The zero
// value shows the wiring alone.
type SchematicOptions struct {
	Options
	Prediction *yokemate.Prediction    // readings to put beside windings, units, outputs, meters and feeds
	Measure    *yokemate.Measure       // where the probes go; joints, pins with a dot, or the feed
	Reading    string                  // beside the probes' meter, as "right 0.1 V"
	Marked     []string                // pins whose lead was moved, as T1.5
	Faults     []Fault                 // what is wrong in this wiring, and where
	Rails      []Rail                  // what is read at the terminals of rectified outputs, in place of the prediction
	Link       func(pin string) string // where a pin leads; nil or "": nowhere
}

// Fault is one thing that is wrong in a wiring: at a pin, a winding, a plug or
// in a rectifier, with the phrase that says it, such as "turns shorted".
type Fault struct {
	Pin     string // as T1.5; "" where it is no pin
	Winding string // as T1/A; "" where it is no winding
	Feed    int    // the plug's place in the hookup, from 1; 0 where it is no plug
	Output  string // whose rectifier it is in; "" where it is in none
	Slip    string // there, what: the slip's code, as diode-open:out/2
	Words   string
}

// faultOf returns the words of the fault that is at a place; "" where none is.
func (o *SchematicOptions) faultOf(at func(*Fault) bool) string {
	for i := range o.Faults {
		if at(&o.Faults[i]) {
			return o.say(o.Faults[i].Words)
		}
	}
	return ""
}

func (o *SchematicOptions) atWinding(tag, id string) string {
	return o.faultOf(func(f *Fault) bool { return f.Winding == tag+"/"+id })
}

func (o *SchematicOptions) atPin(pin string) string {
	return o.faultOf(func(f *Fault) bool { return f.Pin == pin })
}

func (o *SchematicOptions) atFeed(n int) string {
	return o.faultOf(func(f *Fault) bool { return f.Feed == n })
}

// Sizes of text [mm].
const (
	pinSize   = 4.2 // digits 3 mm high, so that a pin can be told at arm's length
	nameSize  = 3.4
	smallSize = 3.2
	lineStep  = 3.6
)

// Distances [mm].
const (
	margin     = 4.0
	columnStep = 4.0 // between two lanes
	trackStep  = 4.0 // between two wires that pass between units
	pillHigh   = 5.6
	coreGap    = 9.0  // from the lowest pin to the core's row
	plugLow    = 12.6 // where the wires leave a plug
	nameMax    = 24.0
	sideMax    = 38.0
)

// The two channels in which wires run up and down.
const (
	left  = 0
	right = 1
)

// Schematic draws the hookup over the shelf it was made for: mains side to the
// left, secondaries to the right, units in wiring order from the top, each
// joint as wires with a dot wherever more than two ends meet.
func Schematic(h *yokemate.Hookup, s *yokemate.Shelf, o SchematicOptions) (draw.Scene, error) {
	if err := h.Check(s); err != nil {
		return draw.Scene{}, err
	}
	d := &sheet{h: h, o: o, netOf: map[string]*net{}}
	if len(h.Feed) > 0 {
		d.region = o.Region
		if d.region == ByVolts {
			d.region = RegionOf(h.Feed[0].Volts.V)
		}
	}
	tags := h.Tags()
	if o.Measure != nil {
		for _, p := range []string{o.Measure.From, o.Measure.To} {
			if t, _, ok := yokemate.SplitPin(p); ok && !slices.Contains(tags, t) && s.Unit(t) != nil {
				tags = append(tags, t)
			}
		}
	}
	for _, t := range tags {
		d.units = append(d.units, &unitBox{u: s.Unit(t)})
	}
	d.wireUp()
	d.arrange()
	if err := d.elements(); err != nil {
		return draw.Scene{}, err
	}
	if err := d.probes(); err != nil {
		return draw.Scene{}, err
	}
	d.placeDown()
	d.placeLanes()
	d.placeAcross()
	return d.scene(), nil
}

// sheet is the drawing while it is laid out.
type sheet struct {
	h      *yokemate.Hookup
	o      SchematicOptions
	region Region
	units  []*unitBox
	feeds  []*feedBox
	nets   []*net
	netOf  map[string]*net // by joint name, and by pin for what no joint holds
	parts  [2][]*part      // outputs, meters, fuses and the probes' meter, by column
	pitch  float64         // height of a winding [mm]
	apart  float64         // from one winding to the next [mm]
	tracks []int           // wires that pass above each unit, and below the last

	columns      [2]int
	laneX        [2]float64 // of column 0
	pinX         [2]float64 // of the pins' middles
	coilX        [2]float64
	pillWide     [2]float64
	nameWide     [2]float64
	partX        [2]float64 // of the parts' axes
	bandLow      float64    // lower edge of the feeds' band
	bottom, wide float64
}

// net is a joint, or a pin that is drawn twice, or a probe's lead.
type net struct {
	name   string
	joint  *yokemate.Joint // nil: not a joint
	cond   conductor
	probe  bool
	ends   []end
	tops   []top
	gap    int     // the units' gap that the wire from left to right passes; -1: none
	track  float64 // its height there
	column [2]int  // lane in each channel; -1: none
	span   [2][2]float64
}

// end is a place at the side of a channel where a net starts.
type end struct {
	channel int
	inner   bool // on the units' side; else on the parts' side
	unit    int  // -1: a part
	row     *row
	part    *part
	y       float64
	tip     bool // a probe touching the row from below
	open    bool // tip is drawn open
}

// top is a feed's wire coming down.
type top struct {
	feed   *feedBox
	cond   conductor
	pinned bool // the lane stands right below it
	x      float64
}

// row is one pin at one side of a unit.
type row struct {
	unit    *unitBox
	pin     string
	text    string // as written in the pin's mark
	channel int
	y       float64 // below the unit's top, then absolute
	again   int     // how often the pin was drawn before
	net     *net    // nil: joined to nothing
}

// span is a winding between two rows of a side.
type span struct {
	w       *yokemate.Winding
	channel int
	a, b    *row // upper and lower
	start   *row
}

type unitBox struct {
	u      *yokemate.Unit
	rows   []*row
	spans  []*span
	core   *row
	y0, y1 float64 // of the box
	head   []string
}

type feedBox struct {
	f      *yokemate.Feed
	n      int
	earth  bool
	y      map[string]float64
	x      [4]float64 // of PE, N, L by conductor
	lines  []feedLine
	ammety bool // the probes' meter is in its live wire
}

type feedLine struct {
	y    float64
	text string
	face draw.Face
	role draw.Role
}

// part is what hangs at one side: a load, a meter, a fuse.
type part struct {
	kind  string // output, meter, fuse, probe
	id    string
	title string
	nets  []*net
	ys    []float64 // of its terminals, from the top
	lines []feedLine
	draw  func(x, y0, y1 float64) []draw.Item
	gap   bool       // nothing between the terminals: an open output
	rect  *rectifier // what it is, where it is a rectified output; its words are its own

	steps        []float64 // of the terminals below the first; nil: even ones
	above, below float64   // room beyond the terminals
	wide         float64   // room from the axis outwards, of a rectified output
}

// step is how far a terminal is below the first.
func (p *part) step(i int, pitch float64) float64 {
	if p.steps != nil {
		return p.steps[i]
	}
	return pitch * float64(i)
}

// room is how far the part reaches outwards from its axis.
func (p *part) room() float64 {
	if p.rect != nil {
		return p.wide
	}
	return 6 + widest(p.lines, smallSize)
}

// wireUp makes the nets and finds the conductors.
func (d *sheet) wireUp() {
	for i := range d.h.Joints {
		j := &d.h.Joints[i]
		n := &net{name: j.Name, joint: j, gap: -1, column: [2]int{-1, -1}}
		d.nets = append(d.nets, n)
		d.netOf[j.Name] = n
	}
	for i := range d.h.Feed {
		f := &d.h.Feed[i]
		b := &feedBox{f: f, n: i + 1, earth: i == 0 && d.h.Earth != ""}
		d.feeds = append(d.feeds, b)
		add := func(name string, c conductor) {
			if n := d.netOf[name]; n != nil {
				pinned := i == 0 && !slices.ContainsFunc(n.tops, func(t top) bool { return t.pinned })
				n.tops = append(n.tops, top{feed: b, cond: c, pinned: pinned})
				if n.cond == plainWire {
					n.cond = c
				}
			}
		}
		if b.earth {
			add(d.h.Earth, earth)
		}
		add(f.Neutral, neutral)
		add(f.Live, live)
	}
	if n := d.netOf[d.h.Earth]; n != nil && n.cond == plainWire {
		n.cond = earth
	}
}

// arrange orders each unit's windings into rows and joins the rows to nets.
func (d *sheet) arrange() {
	most := 0
	for i, b := range d.units {
		seen := map[string]*row{}
		count := map[string]int{}
		newRow := func(pin string, ch int) *row {
			r := &row{unit: b, pin: pin, text: d.pinText(pin), channel: ch, again: count[pin]}
			count[pin]++
			if first := seen[pin]; first == nil {
				seen[pin] = r
			}
			b.rows = append(b.rows, r)
			return r
		}
		rows := [2]int{}
		for ch := left; ch <= right; ch++ {
			for _, chain := range chains(b.u, func(w *yokemate.Winding) bool { return d.side(b.u, w) == ch }) {
				r := newRow(chain[0].from, ch)
				rows[ch]++
				for _, c := range chain {
					below := newRow(c.to, ch)
					rows[ch]++
					sp := &span{w: c.w, channel: ch, a: r, b: below, start: r}
					if c.w.Pins[0] != c.from {
						sp.start = below
					}
					b.spans = append(b.spans, sp)
					r = below
				}
			}
		}
		most += max(rows[left], rows[right])
		b.core = newRow(yokemate.CorePin, left)
		for _, r := range b.rows {
			full := b.u.Tag + "." + r.pin
			n := d.netOf[d.h.Joints.Of(full)]
			if n == nil && count[r.pin] > 1 {
				if n = d.netOf[full]; n == nil {
					n = &net{gap: -1, column: [2]int{-1, -1}}
					d.nets = append(d.nets, n)
					d.netOf[full] = n
				}
			}
			if n != nil {
				r.net = n
				n.ends = append(n.ends, end{channel: r.channel, inner: true, unit: i, row: r})
			}
		}
	}
	// A tall drawing is set closer, so that it still prints at a readable size.
	d.pitch, d.apart = 12, 10
	if most > 14 {
		d.pitch, d.apart = 11.2, 7.4
	}
}

// side tells where a winding stands: left for the mains side, and, where no
// label tells, for a winding that a feed goes to.
func (d *sheet) side(u *yokemate.Unit, w *yokemate.Winding) int {
	if u.MainsSide(w.ID) {
		return left
	}
	if u.Mains == nil {
		for _, p := range w.Pins {
			if n := d.netOf[d.h.Joints.Of(u.Tag+"."+p)]; n != nil && len(n.tops) > 0 && n.cond != earth {
				return left
			}
		}
	}
	return right
}

// link is one winding of a chain, walked from one pin to the other.
type link struct {
	w        *yokemate.Winding
	from, to string
}

// chains parts the chosen windings of a unit into runs that share pins end to
// end, so that a tapped winding stands as one column. A pin where more than two
// windings meet is drawn more than once.
func chains(u *yokemate.Unit, chosen func(*yokemate.Winding) bool) [][]link {
	var todo []*yokemate.Winding
	for i := range u.Windings {
		if chosen(&u.Windings[i]) {
			todo = append(todo, &u.Windings[i])
		}
	}
	var all [][]link
	for len(todo) > 0 {
		degree := map[string]int{}
		for _, w := range todo {
			degree[w.Pins[0]]++
			degree[w.Pins[1]]++
		}
		// Of the windings connected with the first one left, start at an end.
		reach := map[string]bool{todo[0].Pins[0]: true, todo[0].Pins[1]: true}
		for grown := true; grown; {
			grown = false
			for _, w := range todo {
				if reach[w.Pins[0]] != reach[w.Pins[1]] {
					reach[w.Pins[0]], reach[w.Pins[1]] = true, true
					grown = true
				}
			}
		}
		at := todo[0].Pins[0]
		for _, w := range slices.Backward(todo) {
			for _, p := range []string{w.Pins[1], w.Pins[0]} {
				if reach[p] && degree[p]%2 == 1 && p != yokemate.CorePin {
					at = p
				}
			}
		}
		var c []link
		for {
			i := slices.IndexFunc(todo, func(w *yokemate.Winding) bool { return w.Pins[0] == at || w.Pins[1] == at })
			if i < 0 {
				break
			}
			w := todo[i]
			to := w.Pins[1]
			if to == at {
				to = w.Pins[0]
			}
			c = append(c, link{w, at, to})
			at = to
			todo = slices.Delete(todo, i, i+1)
		}
		all = append(all, c)
	}
	return all
}

// probes adds the leads of the measurement and the meter between them.
func (d *sheet) probes() error {
	m := d.o.Measure
	if m == nil {
		return nil
	}
	if m.From == "feed" {
		if len(d.feeds) > 0 {
			d.feeds[0].ammety = true
		}
		return nil
	}
	letters := m.Quantity.Unit()
	if p := d.rectified(m.From, m.To); p != nil {
		// Behind a rectifier the probes touch its own terminals, and its words say
		// what is read there.
		r := p.rect
		r.probe = [2]string{m.From, m.To}
		r.foot = append(r.foot, feedLine{text: letters + " " + m.From + " " + m.To, face: draw.Bold, role: draw.Accent})
		for _, l := range draw.Bold.Wrap(d.o.Reading, smallSize, sideMax) {
			r.foot = append(r.foot, feedLine{text: l, face: draw.Bold, role: draw.Accent})
		}
		p.fit()
		p.title += ", " + d.o.say("probe") + " " + d.o.Reading
		return nil
	}
	p := &part{kind: "probe", id: ID("probe"), title: d.o.say("probe")}
	for k, name := range []string{m.From, m.To} {
		if name == "" {
			continue
		}
		r := d.find(name)
		if r == nil {
			return yokemate.Errorf(yokemate.NotFound, "probe", "there is no joint or pin %q to measure at", name).Mend("name a joint of the hookup, or a pin such as T1.5")
		}
		n := &net{probe: true, gap: -1, column: [2]int{-1, -1}}
		n.ends = []end{{channel: r.channel, inner: true, unit: slices.Index(d.units, r.unit), row: r, tip: true, open: k == 1}}
		d.nets = append(d.nets, n)
		p.nets = append(p.nets, n)
	}
	if len(p.nets) == 0 {
		return nil
	}
	if d.o.Reading != "" {
		for _, l := range draw.Bold.Wrap(d.o.Reading, nameSize, sideMax) {
			p.lines = append(p.lines, feedLine{text: l, face: draw.Bold, role: draw.Accent})
		}
		p.title += " " + d.o.Reading
	}
	if m.Quantity == yokemate.Celsius {
		letters = "°C"
	}
	p.draw = func(x, y0, y1 float64) []draw.Item { return meterV(x, y0, y1, letters, draw.Accent) }
	d.addPart(p)
	return nil
}

// rectified returns the part whose output has a terminal of one of these names;
// nil where none has.
func (d *sheet) rectified(names ...string) *part {
	for i := range d.h.Outputs {
		o := &d.h.Outputs[i]
		if o.DC == nil || !slices.Contains(names, o.Name+"+") && !slices.Contains(names, o.Name+"-") {
			continue
		}
		for _, parts := range d.parts {
			for _, p := range parts {
				if p.id == ID("output", o.Name) {
					return p
				}
			}
		}
	}
	return nil
}

// find returns the row where a joint or pin can be touched: of a joint, a pin
// on the secondary side where it has one.
func (d *sheet) find(name string) *row {
	pins := []string{name}
	if j := d.h.Joints.Joint(name); j != nil {
		pins = j.Pins
	}
	var best *row
	for _, p := range pins {
		for _, b := range d.units {
			for _, r := range b.rows {
				if b.u.Tag+"."+r.pin == p && r.again == 0 && (best == nil || best.channel == left && r.channel == right) {
					best = r
				}
			}
		}
	}
	return best
}

// elements makes the parts of the hookup: outputs, meters and fuses.
func (d *sheet) elements() error {
	o := &d.o
	var lost error
	joint := func(at, name string) *net {
		n := d.netOf[name]
		if (n == nil || n.joint == nil) && lost == nil {
			lost = yokemate.Errorf(yokemate.NotFound, at, "there is no joint %q", name).Mend("name one of the joints, or add it")
		}
		return n
	}
	for i := range d.h.Outputs {
		out := &d.h.Outputs[i]
		p := &part{kind: "output", id: ID("output", out.Name), title: o.say("output %s from %s to %s", out.Name, out.From, out.To)}
		if out.DC != nil {
			d.rectify(p, out, joint)
			if lost != nil {
				return lost
			}
			d.addPart(p)
			continue
		}
		p.nets = []*net{joint(p.id, out.From), joint(p.id, out.To)}
		p.add(draw.Bold, draw.Ink, out.Name)
		switch {
		case out.Load == nil:
			p.gap = true
			p.add(draw.Regular, draw.Ink, o.say("open"))
		case out.Load.Amps > 0:
			p.draw = resistorV
			p.add(draw.Regular, draw.Ink, o.say("takes %s", o.Locale.Format(out.Load.Amps, "A", 3)))
		default:
			p.draw = resistorV
			if out.Load.Ohms > 0 {
				p.add(draw.Regular, draw.Ink, o.Locale.Format(out.Load.Ohms, "Ω", 3))
			}
			if out.Load.Henries > 0 {
				p.add(draw.Regular, draw.Ink, o.Locale.Format(out.Load.Henries, "H", 2))
			}
		}
		if pr := o.Prediction; pr != nil {
			for _, st := range pr.Outputs {
				if st.Name == out.Name {
					v, a := o.Locale.Format(st.Volts, "V", 3), o.Locale.Format(st.Amps, "A", 3)
					p.add(draw.Bold, draw.Value, v)
					if st.Amps > 0 {
						p.add(draw.Regular, draw.Value, a)
					}
					p.title += ", " + o.say("predicted %s", v) + ", " + a
				}
			}
		}
		if lost != nil {
			return lost
		}
		d.addPart(p)
	}
	for i := range d.h.Fuses {
		f := &d.h.Fuses[i]
		rating := o.fuse(f.Kind, f.Amps)
		p := &part{kind: "fuse", id: ID("fuse", strconv.Itoa(i+1)), title: o.say("fuse %s", rating), draw: fuseV}
		p.nets = []*net{joint(p.id, f.From), joint(p.id, f.To)}
		p.add(draw.Bold, draw.Ink, o.say("fuse"))
		p.add(draw.Regular, draw.Ink, rating)
		if lost != nil {
			return lost
		}
		d.addPart(p)
	}
	for i := range d.h.Meters {
		m := &d.h.Meters[i]
		p := &part{kind: "meter", id: ID("meter", m.Name), title: o.say("meter") + " " + m.Name}
		p.nets = []*net{joint(p.id, m.From), joint(p.id, m.To)}
		p.draw = func(x, y0, y1 float64) []draw.Item { return meterV(x, y0, y1, "V", draw.Ink) }
		p.add(draw.Bold, draw.Ink, m.Name)
		if pr := o.Prediction; pr != nil {
			for _, st := range pr.Meters {
				if st.Name == m.Name {
					v := o.Locale.Format(st.Volts, "V", 3)
					p.add(draw.Bold, draw.Value, v)
					p.add(draw.Regular, draw.Value, o.Locale.FormatInterval(st.Low, st.High, "V"))
					p.title += ", " + o.say("predicted %s", v)
				}
			}
		}
		if lost != nil {
			return lost
		}
		d.addPart(p)
	}
	return nil
}

func (p *part) add(f draw.Face, r draw.Role, s string) {
	s = f.Short(f.Fit(s), smallSize, sideMax)
	p.lines = append(p.lines, feedLine{text: s, face: f, role: r})
}

// addPart hangs the part at the left when all it joins is there, else at the right.
func (d *sheet) addPart(p *part) {
	col := left
	for _, n := range p.nets {
		for _, e := range n.ends {
			if e.inner && e.channel == right {
				col = right
			}
		}
	}
	d.parts[col] = append(d.parts[col], p)
	for i, n := range p.nets {
		n.ends = append(n.ends, end{channel: col, unit: -1, part: p, y: float64(i)})
	}
}

// placeDown gives everything its height.
func (d *sheet) placeDown() {
	d.bandLow = d.placeFeeds()
	d.tracks = make([]int, len(d.units)+1)
	for _, n := range d.nets {
		d.chooseGap(n)
	}
	y := d.bandLow + 4 + trackStep*float64(d.tracks[0])
	for i, b := range d.units {
		b.y0 = y
		b.head = d.heading(b)
		head := 7.6
		if len(b.head) > 1 {
			head += lineStep * float64(len(b.head)-1)
		}
		low := y + head
		for ch := left; ch <= right; ch++ {
			at, first := y+head+3, true
			for _, sp := range b.spans {
				if sp.channel != ch {
					continue
				}
				if sp.a.y == 0 { // a new chain
					if !first {
						at += d.apart
					}
					sp.a.y = at
				}
				at += d.pitch
				sp.b.y = at
				first = false
			}
			low = max(low, at)
		}
		b.core.y = low + coreGap
		b.y1 = b.core.y + 4.5
		y = b.y1 + 6 + trackStep*float64(d.tracks[i+1])
	}
	used := make([]int, len(d.units)+1)
	for _, n := range d.nets {
		if n.gap < 0 {
			continue
		}
		base := d.bandLow + 2
		if n.gap > 0 {
			base = d.units[n.gap-1].y1 + 4.5
		}
		n.track = base + trackStep*float64(used[n.gap])
		used[n.gap]++
	}
	for _, n := range d.nets {
		for i := range n.ends {
			e := &n.ends[i]
			if e.row != nil {
				e.y = e.row.y
				if e.tip {
					e.y += 3.3
				}
			}
		}
	}
	d.bottom = y
	for col := left; col <= right; col++ {
		d.placeParts(col)
	}
	for _, n := range d.nets {
		for i := range n.ends {
			if e := &n.ends[i]; e.part != nil {
				e.y = e.part.ys[slices.Index(e.part.nets, n)]
			}
		}
	}
}

// chooseGap finds where a net that has ends on both sides crosses: above or
// below a unit, wherever its lanes grow least.
func (d *sheet) chooseGap(n *net) {
	lo, hi := [2]int{math.MaxInt, math.MaxInt}, [2]int{-1, -1}
	has := [2]bool{}
	for _, e := range n.ends {
		has[e.channel] = true
		if e.unit >= 0 {
			lo[e.channel] = min(lo[e.channel], e.unit)
			hi[e.channel] = max(hi[e.channel], e.unit+1)
		}
	}
	for _, t := range n.tops {
		if !t.pinned { // comes down somewhere above the units
			n.gap = 0
			d.tracks[0]++
			return
		}
		has[left], lo[left], hi[left] = true, 0, max(hi[left], 0)
	}
	if !has[left] || !has[right] {
		return
	}
	best := math.MaxInt
	for g := range d.tracks {
		cost := 0
		for ch := left; ch <= right; ch++ {
			if hi[ch] >= 0 {
				cost += max(0, lo[ch]-g, g-hi[ch])
			}
		}
		if cost < best {
			best, n.gap = cost, g
		}
	}
	d.tracks[n.gap]++
}

// placeParts stacks the parts of a column, each as near as can be to the pins
// it hangs on.
func (d *sheet) placeParts(col int) {
	type want struct {
		p *part
		y float64
	}
	top := d.bandLow + 6
	if len(d.units) > 0 {
		top = d.units[0].y0 + 3
	}
	var list []want
	for _, p := range d.parts[col] {
		rows := func(n *net) (ys []float64) {
			for _, e := range n.ends {
				if e.inner && e.channel == col {
					ys = append(ys, e.y)
				}
			}
			return ys
		}
		first, last := rows(p.nets[0]), rows(p.nets[len(p.nets)-1])
		if p.rect == nil && len(first) > 0 && len(last) > 0 && slices.Min(last) < slices.Min(first) {
			slices.Reverse(p.nets)
			first, last = last, first
		}
		height := p.step(len(p.nets)-1, d.pitch)
		y, best := math.Inf(1), math.Inf(1)
		for _, a := range first {
			off := 0.0
			for i, b := range last {
				if c := math.Abs(a + height - b); i == 0 || c < off {
					off = c
				}
			}
			if off < best {
				best, y = off, a
			}
		}
		if math.IsInf(y, 1) {
			for _, b := range last {
				y = min(y, b-height)
			}
		}
		if math.IsInf(y, 1) {
			y = top
			if n := p.nets[0]; n.gap > 0 {
				y = n.track + 4
			}
		}
		list = append(list, want{p, y})
	}
	slices.SortStableFunc(list, func(a, b want) int { return cmp.Compare(a.y, b.y) })
	free := func(y float64, n *net) bool {
		for _, m := range d.nets {
			if m.gap >= 0 && math.Abs(m.track-y) < 1.6 {
				return false
			}
			for _, e := range m.ends {
				if e.inner && e.channel == col && math.Abs(e.y-y) < 1.6 && !(m == n && e.y == y) {
					return false
				}
			}
		}
		return true
	}
	at := top
	for _, w := range list {
		height := w.p.step(len(w.p.nets)-1, d.pitch)
		words := lineStep * float64(len(w.p.lines))
		lead := max(0, (words-height)/2)
		above, below := max(lead, w.p.above), max(lead, w.p.below)
		y := max(w.y, at+above)
	search:
		for {
			for i, n := range w.p.nets {
				if !free(y+w.p.step(i, d.pitch), n) {
					y += 0.8
					continue search
				}
			}
			break
		}
		for i := range w.p.nets {
			w.p.ys = append(w.p.ys, y+w.p.step(i, d.pitch))
		}
		at = y + height + below + 5
		d.bottom = max(d.bottom, y+height+below+3)
	}
}
