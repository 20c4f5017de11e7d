package find

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
)

// key is the order of offers: see the package comment. Before an offer has
// been through the network it is a lower bound of its key.
type key struct {
	caution int // 1 when something asks for caution
	joints  int // of two pins or more
	units   int
	fit     float64
}

func (k key) compare(l key) int {
	return cmp.Or(cmp.Compare(k.caution, l.caution), cmp.Compare(k.joints, l.joints), cmp.Compare(k.units, l.units), cmp.Compare(k.fit, l.fit))
}

// element is an arrangement of windings of fed units, seen from its two ends
// as a source: its open volts behind an impedance.
type element struct {
	part     *part
	drives   []*drive // one a unit, in shelf order
	doubt    bool     // certain to need caution
	joints   int      // of two pins or more, inside it
	from, to int      // pins at its ends
	v0, z    [2]complex128
	vb       [2]complex128 // its open volts when the load pushes it backwards, the iron being driven up
	lim      float64       // no load above this keeps every winding within its rating [A]
	limBack  float64       // the same when it is turned round in a chain [A]
	calm     float64       // a load above this is certain to need caution, a rating being an estimate [A]
	sd       float64       // at least the standard uncertainty of the open volts [V]
	pieces   []piece       // of a chain, in order; nil for anything else
	terms    []float64     // open volts of its parts, cold, opposing ones below 0, when it is a chain
	circ     float64       // largest idle current of a ring in it, as a share of the ring's smallest rating
}

// piece is one part of a chain, as far as joints go. In what order a chain is
// wired is all one to the load.
type piece struct {
	part     *part
	joints   int // inside it
	from, to int // pins at its ends
}

func (p piece) turned() piece { return piece{p.part.turned(), p.joints, p.to, p.from} }

// asPieces is an element as pieces of a chain.
func (e *element) asPieces() []piece {
	if e.pieces != nil {
		return e.pieces
	}
	return []piece{{e.part, e.joints, e.from, e.to}}
}

// wired puts a chain's pieces in order: those the dotted way round first, in
// shelf order, but a piece with one pin at the chain's outer ends, where there
// is one, for a lone pin needs no joint. An end that is joined to something
// else in any case does not count.
func (e *element) wired(first, last bool) *element {
	if e.pieces == nil {
		return e
	}
	f := *e
	p := slices.Clone(e.pieces)
	slices.SortStableFunc(p, func(a, b piece) int {
		return cmp.Or(bit(a.part.rev)-bit(b.part.rev), cmp.Compare(a.part.place(), b.part.place()))
	})
	move := func(i, j int) {
		x := p[i]
		p = slices.Insert(slices.Delete(p, i, i+1), j, x)
	}
	if i := slices.IndexFunc(p, func(x piece) bool { return x.from == 1 }); first && i > 0 {
		move(i, 0)
	}
	if last {
		for i := len(p) - 1; i > 0 || i == 0 && !first; i-- {
			if p[i].to == 1 {
				move(i, len(p)-1)
				break
			}
		}
	}
	parts := make([]*part, len(p))
	f.joints = len(p) - 1
	for i, x := range p {
		parts[i] = x.part
		f.joints += x.joints
	}
	f.pieces, f.part = p, &part{op: series, kids: parts}
	f.from, f.to = p[0].from, p[len(p)-1].to
	return &f
}

// The reckoning of sources is not the network. These bounds of its error are
// held to by a test on random shelves: a share of the volts, and a share of
// the drop.
const (
	errVolts = 0.0015
	errDrop  = 0.008
	errLim   = 1.02 // a load limit may be this much above its reckoning
	errCirc  = 1.15 // and a circulating current this much below
)

func (e *element) turned() *element {
	f := *e
	f.part = e.part.turned()
	f.from, f.to = e.to, e.from
	f.lim, f.limBack = e.limBack, e.lim
	if e.pieces != nil {
		f.pieces = nil
		for _, p := range e.pieces {
			f.pieces = append(f.pieces, p.turned())
		}
		f = *f.wired(true, true)
	}
	for t := range 2 {
		f.v0[t], f.vb[t] = -e.vb[t], -e.v0[t]
	}
	f.terms = nil
	for _, v := range e.terms {
		f.terms = append(f.terms, -v)
	}
	return &f
}

func (e *element) shares(f *element) bool {
	for _, a := range e.drives {
		for _, b := range f.drives {
			if a.unit == b.unit {
				return true
			}
		}
	}
	return false
}

// together starts an element from several of different units.
func together(es []*element) *element {
	f := &element{lim: math.Inf(1), limBack: math.Inf(1), calm: math.Inf(1)}
	for _, e := range es {
		f.drives = append(f.drives, e.drives...)
		f.doubt = f.doubt || e.doubt
		f.circ = math.Max(f.circ, e.circ)
	}
	return f
}

// chain joins elements end to end.
func chain(es ...*element) *element {
	f := together(es)
	for _, e := range es {
		for t := range 2 {
			f.v0[t] += e.v0[t]
			f.z[t] += e.z[t]
			f.vb[t] += e.vb[t]
		}
		f.lim, f.limBack = math.Min(f.lim, e.lim), math.Min(f.limBack, e.limBack)
		f.calm = math.Min(f.calm, e.calm)
		f.sd = math.Hypot(f.sd, e.sd)
		f.terms = append(f.terms, e.parts()...)
		f.pieces = append(f.pieces, e.asPieces()...)
	}
	return f.wired(true, true)
}

// parts are the terms of a chain, or the element's own volts.
func (e *element) parts() []float64 {
	switch {
	case e.terms != nil:
		return e.terms
	case e.part.rev:
		return []float64{-cmplx.Abs(e.v0[0])}
	}
	return []float64{cmplx.Abs(e.v0[0])}
}

// pointless reports whether two parts of a chain of more than two cancel to
// within a tenth: without them it is a better chain of fewer joints.
func (e *element) pointless() bool {
	if len(e.terms) < 3 {
		return false
	}
	for i, v := range e.terms {
		for _, w := range e.terms[:i] {
			if v*w < 0 && math.Abs(v+w) <= 0.1*math.Max(math.Abs(v), math.Abs(w)) {
				return true
			}
		}
	}
	return false
}

// bank joins elements side by side.
func bank(es ...*element) *element {
	f := together(es)
	parts := make([]*part, len(es))
	for i, e := range es {
		parts[i] = e.part
		f.joints += e.joints
	}
	f.part = join(parallel, parts)
	var v, vb, y [2]complex128
	least := math.Inf(1)
	for _, e := range es {
		f.from += e.from
		f.to += e.to
		for t := range 2 {
			y[t] += 1 / e.z[t]
			v[t] += e.v0[t] / e.z[t]
			vb[t] += e.vb[t] / e.z[t]
		}
		least = math.Min(least, e.lim)
	}
	for t := range 2 {
		f.v0[t], f.vb[t], f.z[t] = v[t]/y[t], vb[t]/y[t], 1/y[t]
	}
	ahead := f.v0[0] / complex(cmplx.Abs(f.v0[0]), 0)
	for _, e := range es {
		f.sd = math.Hypot(f.sd, e.sd*cmplx.Abs(f.z[0]/e.z[0]))
	}
	for _, e := range es {
		// I = circulating + share × load, projected on the load's phase,
		// which the branch's own amps are at least.
		circ := (e.v0[0] - f.v0[0]) / e.z[0]
		f.circ = math.Max(f.circ, cmplx.Abs(circ)/least)
		if share := real(f.z[0] / e.z[0]); share > 0 {
			f.lim = math.Min(f.lim, (e.lim-real(circ/ahead))/share)
			f.limBack = math.Min(f.limBack, (e.limBack+real(circ/ahead))/share)
		}
		// The branch against all others: the uncertainty of that gap, which is
		// in phase with the volts, is at least what their own readings leave.
		part := 1 - cmplx.Abs(f.z[0]/e.z[0])
		own := e.sd * part
		others := math.Sqrt(math.Max(f.sd*f.sd-math.Pow(e.sd*cmplx.Abs(f.z[0]/e.z[0]), 2), 0))
		gap := math.Abs(real((e.v0[0]-f.v0[0])/ahead)) + 1.9*math.Hypot(own, others)
		if gap/cmplx.Abs(e.z[0])/least > 0.05*errCirc {
			f.doubt = true
		}
	}
	if f.circ > 0.05*errCirc {
		f.doubt = true
	}
	return f
}

// volts at a load [V].
func (e *element) volts(amps float64, t int) float64 { return cmplx.Abs(loaded(e.v0[t], e.z[t], amps)) }

// loaded is a source's terminal volts when a load draws amps in phase with them.
func loaded(v0, z complex128, amps float64) complex128 {
	// V + z·amps·V/|V| = v0: with V = v0 turned by −ϕ, |V| + z·amps = |v0| e^{jϕ}.
	x := imag(z) * amps
	m := cmplx.Abs(v0)
	if x*x >= m*m {
		return 0
	}
	c := math.Sqrt(m*m-x*x) - real(z)*amps
	if c <= 0 {
		return 0
	}
	return complex(c, 0) * v0 / complex(math.Sqrt(m*m-x*x), x)
}

// slack is how far the network's volts may lie from the reckoned ones [V].
func slack(volts, drop float64) float64 { return errVolts*math.Abs(volts) + errDrop*math.Abs(drop) }

// fit is the last part of the key: the worse deviation of cold and hot as a
// share of the tolerance, and the need's amps as a share of what may be drawn.
func (s *search) fit(deviation, maxAmps float64) float64 {
	return deviation/(s.need.Tolerance*s.need.Volts) + s.need.Amps/maxAmps
}

// bound is a lower bound of the fit of an element that adds to base volts, and
// whether it may be an offer at all; loose tells of [search.loose].
func (s *search) bound(e *element, base float64) (fit float64, loose, ok bool) {
	if s.dc != nil {
		fit, ok = s.dc.bound(s, e, 0)
		return fit, false, ok
	}
	dev := 0.0
	for t := range 2 {
		v := cmplx.Abs(complex(base, 0) + loadedOn(base, e.v0[t], e.z[t], s.need.Amps))
		err := slack(v, cmplx.Abs(e.z[t])*s.need.Amps) + errVolts*cmplx.Abs(e.v0[t])
		dev = math.Max(dev, math.Abs(v-s.need.Volts)-err)
	}
	lim := e.lim * errLim
	if dev > s.need.Tolerance*s.need.Volts || lim < s.need.Amps || e.circ > 0.15*errCirc {
		return 0, false, false
	}
	return s.fit(math.Max(dev, 0), lim), s.loose(dev, e.sd), true
}

// loose reports whether volts that far from the wanted ones are certain to
// leave the tolerance at the end of their interval.
func (s *search) loose(deviation, sd float64) bool {
	return deviation+1.9*sd > s.need.Tolerance*s.need.Volts
}

// loadedOn is a source's volts on top of base volts, the load's phase being
// that of both together.
func loadedOn(base float64, v0, z complex128, amps float64) complex128 {
	if base == 0 {
		return loaded(v0, z, amps)
	}
	return loaded(complex(base, 0)+v0, z, amps) - complex(base, 0)
}

// feedJoints counts the joints of two pins or more that feeding and earthing make.
func feedJoints(drives []*drive, inRow bool, livePins int) int {
	pins, n := 0, 0
	for _, d := range drives {
		pins += d.pins
		n += d.joints
	}
	if len(drives) > 1 {
		n++ // the cores
	}
	if inRow {
		n += len(drives) - 1
		pins = drives[0].pins
	}
	if pins+livePins > 1 {
		n++
	}
	if pins > 1 {
		n++
	}
	return n
}

// ends counts joints at the two ends.
func (e *element) ends() int {
	n := 0
	if e.from > 1 {
		n++
	}
	if e.to > 1 {
		n++
	}
	return n
}
