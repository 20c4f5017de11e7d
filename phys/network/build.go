package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"yokemate"
	"yokemate/phys/protect"
)

// Options say how a network is built. The zero value is the plain hookup.
type Options struct {
	Linear  bool          // magnetisation at its first reading's slope everywhere: no saturation
	Shorted []ShortedTurn // faults inside windings
	Added   []Branch      // a burden across the probes, an ammeter, a leak
	Parted  []string      // pins, as T1.5, whose wire does not reach them: a broken lead, a joint left open
}

// ShortedTurn is a part of a winding's turns closed on itself.
type ShortedTurn struct {
	Unit, Winding string
	Part          float64 // of the winding's turns [1], above 0 and below 1
}

// Branch is a resistor between two points, each a joint or a pin.
type Branch struct {
	From, To string
	Ohms     float64 // [Ω], above 0
}

// Net is one hookup as equations. It owns its workspace: one goroutine at a
// time may solve it, and a [Solution] is good until the next Solve.
type Net struct {
	Hookup *yokemate.Hookup
	opt    Options
	facts  *Facts

	units  []*unitPart
	nodes  []node
	byName map[string]int // joint name or pin → node; reference is -1
	feeds  []feedPart
	lumps  []lump // loads, fuses, meters, burdens, ammeters
	copper float64
	omega  float64 // of the first feed [rad/s]
	n      int     // complex unknowns
	dead   float64 // volts below which a constant current is a resistance [V]

	terms  []term
	params []param // every uncertain fact of the network
	ws     workspace
	sol    Solution
}

type node struct {
	name string
	row  int // unknown, -1 for the reference
}

type unitPart struct {
	*Unit
	c      coefficients
	pins   [][2]int // per winding: nodes of start and end
	core   int      // node
	rowI   int      // first winding current's unknown
	rowE   int
	shorts []short
	eRated float64
	first  int // its first param in Net.params
}

// short is a closed part of winding w.
type short struct {
	w    int
	part float64
	row  int // unknown: its current
}

type feedPart struct {
	*yokemate.Feed
	index         int
	live, neutral int // nodes
	row           int // unknown: current; -1 when the plug is out
	lamp          *protect.Lamp
	ohms          float64 // source resistance and a resistor limiter [Ω]
	param         int     // in Net.params, -1 when its volts are exact
}

// lump is a two-terminal element with its own current as unknown, or (row
// -1) a plain conductance.
type lump struct {
	from, to int
	z        complex128 // [Ω]
	amps     float64    // constant current where above 0
	phase    complex128 // e^{−jϑ} of the constant current
	row      int
	kind     lumpKind
	index    int // in the hookup's outputs or fuses, or in Options.Added
}

type lumpKind int

const (
	isLoad lumpKind = iota
	isFuse
	isMeter
	isAdded
)

// param is one source of uncertainty of the whole network.
type param struct {
	Param
	unit int // index in units, -1 for a feed
	at   int // in the unit's Params, or the feed's index
}

// Build makes the network of a hookup. The hookup must be valid; pins that no
// joint names are open ends of their own.
func Build(f *Facts, h *yokemate.Hookup, opt Options) (*Net, error) {
	if err := h.Check(f.Shelf); err != nil {
		return nil, err
	}
	n := &Net{Hookup: h, opt: opt, facts: f, byName: map[string]int{}, copper: 1, dead: deadVolts}
	if h.CopperC != nil {
		n.copper = (234.5 + *h.CopperC) / 254.5 // N9
	}
	n.omega = 2 * math.Pi * h.Feed[0].Hertz
	for i := range h.Feed {
		if h.Feed[i].Hertz != h.Feed[0].Hertz {
			return nil, yokemate.Errorf(yokemate.Unsupported, "feed", "two plugs of different frequency, %g and %g Hz", h.Feed[0].Hertz, h.Feed[i].Hertz).
				Mend("units on different frequencies cannot be joined: give each a hookup of its own")
		}
	}
	n.addNodes()
	if err := n.addUnits(); err != nil {
		return nil, err
	}
	if err := n.addFeeds(); err != nil {
		return nil, err
	}
	if err := n.addLumps(); err != nil {
		return nil, err
	}
	n.number()
	n.listTerms()
	n.ws.alloc(n)
	for k := range n.units {
		u := n.units[k]
		u.coefficients(u.values(), &u.c)
		u.eRated = u.ratedE(&u.c)
	}
	return n, nil
}

// addNodes makes a node of each joint; neutral of every plug that is in, and
// the earth joint, are the reference.
func (n *Net) addNodes() {
	h := n.Hookup
	ref := map[string]bool{}
	for i, f := range h.Feed {
		if h.Powered(i) {
			ref[f.Neutral] = true
		}
	}
	if h.Earth != "" {
		ref[h.Earth] = true
	}
	for _, j := range h.Joints {
		at := -1
		if !ref[j.Name] {
			at = n.newNode(j.Name)
		}
		n.byName[j.Name] = at
		for _, p := range j.Pins {
			n.byName[p] = at
		}
	}
}

func (n *Net) newNode(name string) int {
	n.nodes = append(n.nodes, node{name: name})
	return len(n.nodes) - 1
}

// node returns the node of a pin, making one where no joint holds it.
func (n *Net) node(pin string) int {
	if at, ok := n.byName[pin]; ok {
		return at
	}
	at := n.newNode(pin)
	n.byName[pin] = at
	return at
}

func (n *Net) addUnits() error {
	for _, tag := range n.Hookup.Tags() {
		u, err := n.facts.Unit(tag)
		if err != nil {
			return err
		}
		for id, e := range u.Missing {
			for _, p := range u.Source.Winding(id).Pins {
				if n.Hookup.Joints.Of(tag+"."+p) != "" && p != yokemate.CorePin {
					return e
				}
			}
		}
		part := &unitPart{Unit: u, core: n.node(tag + "." + yokemate.CorePin), first: len(n.params)}
		for _, w := range u.Windings {
			var ends [2]int
			for e, p := range w.Pins {
				pin := tag + "." + p
				if slices.Contains(n.opt.Parted, pin) {
					pin += " wire"
				}
				ends[e] = n.node(pin)
			}
			part.pins = append(part.pins, ends)
		}
		for _, s := range n.opt.Shorted {
			if s.Unit != tag {
				continue
			}
			w := u.index(s.Winding)
			if w < 0 || !(s.Part > 0 && s.Part < 1) {
				return yokemate.Errorf(yokemate.Invalid, tag+"/"+s.Winding, "no part %g of it can be shorted", s.Part)
			}
			part.shorts = append(part.shorts, short{w: w, part: s.Part})
		}
		for i, p := range u.Params {
			n.params = append(n.params, param{Param: p, unit: len(n.units), at: i})
		}
		n.units = append(n.units, part)
	}
	return nil
}

func (n *Net) addFeeds() error {
	h := n.Hookup
	for i := range h.Feed {
		f := &h.Feed[i]
		p := feedPart{Feed: f, index: i, row: -1, param: -1, ohms: f.Ohms}
		if f.Lamp != nil {
			if f.Lamp.Filament() {
				p.lamp = &protect.Lamp{Watts: f.Lamp.Watts, Volts: f.Lamp.Volts}
			} else {
				p.ohms += f.Lamp.Ohms
			}
		}
		if h.Powered(i) {
			p.row = 0 // numbered later
			p.live, p.neutral = n.byName[f.Live], -1
			if p.live < 0 && p.ohms == 0 && p.lamp == nil {
				return yokemate.Errorf(yokemate.Impossible, "feed", "live is joined to neutral or earth: a dead short across the mains").
					Mend("take joint %s apart from joint %s", f.Live, f.Neutral)
			}
			for _, q := range n.feeds {
				if q.row >= 0 && q.live == p.live && q.ohms == 0 && p.ohms == 0 && q.lamp == nil && p.lamp == nil {
					return yokemate.Errorf(yokemate.Impossible, "feed", "two plugs feed joint %s with nothing between them", f.Live).
						Mend("give each plug its own joint, or its resistance under \"ohms\"")
				}
			}
			if f.Volts.U > 0 {
				p.param = len(n.params)
				n.params = append(n.params, param{Param: Param{Name: FeedSource(i), Value: f.Volts.V, U: f.Volts.U}, unit: -1, at: i})
			}
		}
		n.feeds = append(n.feeds, p)
	}
	return nil
}

// Fuse drop at rated current (common practice, no source) [V].
const fuseDrop = 0.1

// MeterOhms is the input resistance of a voltmeter in a hookup [Ω].
const MeterOhms = 10e6

func (n *Net) addLumps() error {
	h := n.Hookup
	for i, o := range h.Outputs {
		if o.DC != nil {
			return yokemate.Errorf(yokemate.Unsupported, "output "+o.Name, "DC outputs are not solved by the steady AC network").
				Mend("ask for the winding's AC output, or remove \"dc\"")
		}
		if o.Load == nil {
			continue
		}
		l := lump{from: n.byName[o.From], to: n.byName[o.To], kind: isLoad, index: i}
		if o.Load.Amps > 0 {
			pf := 1.0
			if o.Load.PowerFactor != nil {
				pf = *o.Load.PowerFactor
			}
			l.amps, l.phase = o.Load.Amps, cmplx.Exp(complex(0, -math.Acos(pf)))
		} else {
			l.z = complex(o.Load.Ohms, n.omega*o.Load.Henries)
		}
		n.lumps = append(n.lumps, l)
	}
	for i, f := range h.Fuses {
		n.lumps = append(n.lumps, lump{from: n.byName[f.From], to: n.byName[f.To], z: complex(fuseDrop/f.Amps, 0), kind: isFuse, index: i})
	}
	for i, m := range h.Meters {
		n.lumps = append(n.lumps, lump{from: n.byName[m.From], to: n.byName[m.To], z: MeterOhms, kind: isMeter, index: i, row: -1})
	}
	for i, b := range n.opt.Added {
		from, ok1 := n.byName[b.From]
		to, ok2 := n.byName[b.To]
		if !ok1 || !ok2 || !(b.Ohms > 0) {
			return yokemate.Errorf(yokemate.Invalid, fmt.Sprintf("%s to %s", b.From, b.To), "there are no such two points in this hookup").Mend("name joints, or pins of its units with a dot")
		}
		l := lump{from: from, to: to, z: complex(b.Ohms, 0), kind: isAdded, index: i}
		if b.Ohms >= 1e4 {
			l.row = -1
		}
		n.lumps = append(n.lumps, l)
	}
	return nil
}

// number gives every unknown its place: node voltages, winding currents,
// shorted parts, cores, plugs, loads.
func (n *Net) number() {
	k := 0
	next := func() int { k++; return k - 1 }
	for i := range n.nodes {
		n.nodes[i].row = next()
	}
	for _, u := range n.units {
		u.rowI = k
		k += len(u.Windings)
		for i := range u.shorts {
			u.shorts[i].row = next()
		}
		u.rowE = next()
	}
	for i := range n.feeds {
		if n.feeds[i].row >= 0 {
			n.feeds[i].row = next()
		}
	}
	for i := range n.lumps {
		if n.lumps[i].row >= 0 {
			n.lumps[i].row = next()
		}
	}
	n.n = k
}

// Node returns the place of a joint or pin in the network; ok is false when
// the network does not hold it.
func (n *Net) Node(name string) (at int, ok bool) {
	at, ok = n.byName[name]
	return at, ok
}

// Units lists the tags in the network, in wiring order.
func (n *Net) Units() []string {
	var t []string
	for _, u := range n.units {
		t = append(t, u.Tag)
	}
	return t
}
