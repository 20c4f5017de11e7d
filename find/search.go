package find

import (
	"cmp"
	"container/heap"
	"errors"
	"math"
	"slices"
	"strings"
	"sync"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/supply"
)

// search is one question at work.
type search struct {
	facts *network.Facts
	need  *yokemate.Need
	dc    *rectified // of a search for DC; nil for AC
	opt   Options
	units []*unit
	elems []*element // of one unit each, shelf order
	over  []*element // the same of drives that would saturate the core

	memo   map[*drive]map[string]bool // does the unit, so used, ask for caution by itself
	lock   sync.Mutex                 // of memo
	failed []*candidate
}

// hunt works the agenda of one search, or of several whose offers stand in one order.
type hunt struct {
	searches []*search
	progress func(int)
	checked  int // hookups that went through the network
}

func newSearch(f *network.Facts, need *yokemate.Need, opt Options) *search {
	return &search{facts: f, need: need, opt: opt, memo: map[*drive]map[string]bool{}}
}

// candidate is a hookup on its way to be an offer.
type candidate struct {
	key     key // a lower bound until stage is proven
	plan    *plan
	whole   *element   // what it was reckoned as; nil where that says too little
	alone   []*element // the elements it is made of, to ask them for caution
	stage   stage
	text    string
	hookup  *yokemate.Hookup
	offer   yokemate.Offer
	trouble *trouble  // why it is no offer; nil when it may be one
	worst   float64   // deviation from the wanted volts, cold or hot [V]
	farads  []float64 // that a supply may choose, as reckoned; nil where that is not known [F]
	most    float64   // amps of that at the most [A]
	made    *supply.Work
	spread  *supply.Spread
}

type stage int

const (
	reckoned    stage = iota // by the sums of this package
	asked                    // its units asked for caution one by one
	sketchedOut              // as a supply by the sums, where DC is wanted
	solved                   // by the network at every corner
	probed                   // as a supply in time, roughly, where DC is wanted
	weighed                  // with what the facts leave of it, where DC is wanted
	designed                 // by package supply, where DC is wanted
	proven                   // by package predict, with intervals and notes
)

// generator makes candidates whose keys are not below its own.
type generator struct {
	s     *search
	key   key
	floor *candidate // the last one it gave; nil at first
	size  int
	run   func(*pool)
}

// agenda holds generators and candidates by key.
type agenda []entry

type entry struct {
	gen  *generator
	cand *candidate
}

func (e entry) key() key {
	if e.gen != nil {
		return e.gen.key
	}
	return e.cand.key
}

func (a agenda) Len() int { return len(a) }
func (a agenda) Less(i, j int) bool {
	if c := a[i].key().compare(a[j].key()); c != 0 {
		return c < 0
	}
	// Whatever may still bring an equal goes first, so that ties fall by text.
	if g, h := a[i].gen != nil, a[j].gen != nil; g || h {
		return g && !h
	}
	if s, t := a[i].cand.stage, a[j].cand.stage; s != t {
		return s < t
	}
	return a[i].cand.text < a[j].cand.text
}
func (a agenda) Swap(i, j int) { a[i], a[j] = a[j], a[i] }
func (a *agenda) Push(x any)   { *a = append(*a, x.(entry)) }
func (a *agenda) Pop() any {
	x := (*a)[len(*a)-1]
	*a = (*a)[:len(*a)-1]
	return x
}

// pool keeps the best candidates a generator meets.
type pool struct {
	s       *search
	caution int
	floor   *candidate
	size    int
	best    []*candidate // a heap, the worst on top
	more    bool         // some were left out
}

func (p *pool) Len() int           { return len(p.best) }
func (p *pool) Less(i, j int) bool { return p.best[i].before(p.best[j]) > 0 }
func (p *pool) Swap(i, j int)      { p.best[i], p.best[j] = p.best[j], p.best[i] }
func (p *pool) Push(x any)         { p.best = append(p.best, x.(*candidate)) }
func (p *pool) Pop() any {
	x := p.best[len(p.best)-1]
	p.best = p.best[:len(p.best)-1]
	return x
}

func (c *candidate) before(d *candidate) int {
	return cmp.Or(c.key.compare(d.key), strings.Compare(c.text, d.text))
}

// hopeless reports whether nothing of this key or above can enter the pool.
func (p *pool) hopeless(k key) bool {
	if len(p.best) < p.size || k.compare(p.best[0].key) <= 0 {
		return false
	}
	p.more = true
	return true
}

// add offers a candidate to the pool; make lays it out when it may enter.
func (p *pool) add(k key, whole *element, alone []*element, make func() *plan) {
	if k.caution != p.caution || p.hopeless(k) || p.floor != nil && k.compare(p.floor.key) < 0 {
		return
	}
	c := &candidate{key: k, plan: make(), whole: whole, alone: alone}
	c.text = c.plan.text()
	if p.floor != nil && c.before(p.floor) <= 0 {
		return
	}
	heap.Push(p, c)
	if len(p.best) > p.size {
		heap.Pop(p)
		p.more = true
	}
}

// batch is how many candidates a generator gives at first; each time it is
// asked again it gives eight times as many.
const batch = 96

// find works the agenda off, best first. A candidate is looked at more closely
// each time it comes up, its key rising to the true one; proven, it is an
// offer, for whatever is still on the agenda has no better key.
func (h *hunt) find(max int) ([]*candidate, error) {
	var a agenda
	for _, s := range h.searches {
		for _, g := range s.generators() {
			g.s, g.size = s, batch
			a = append(a, entry{gen: g})
		}
	}
	heap.Init(&a)
	var offers []*candidate
	seen := map[string]bool{}
	for len(a) > 0 && len(offers) < max {
		x := heap.Pop(&a).(entry)
		if g := x.gen; g != nil {
			p := &pool{s: g.s, caution: g.key.caution, floor: g.floor, size: g.size}
			g.run(p)
			for _, c := range p.best {
				heap.Push(&a, entry{cand: c})
			}
			if p.more {
				last := p.best[0]
				g.floor, g.key, g.size = last, last.key, 8*g.size
				heap.Push(&a, x)
			}
			continue
		}
		if x.cand.stage == proven {
			offers = append(offers, x.cand)
			continue
		}
		// The next in line are looked at beside it: what is learnt of them holds
		// in whatever order they come up.
		at := fresh(x.cand, seen)
		for len(at) < abreast && len(a) > 0 && a[0].cand != nil && a[0].cand.stage < proven {
			at = append(at, fresh(heap.Pop(&a).(entry).cand, seen)...)
		}
		// Each goes on while it would come up again before whatever is next.
		bar := key{caution: 2}
		if len(a) > 0 {
			bar = a[0].key()
		}
		if err := h.advance(at, bar); err != nil {
			return nil, err
		}
		for _, c := range at {
			if c.trouble == nil {
				heap.Push(&a, entry{cand: c})
			}
		}
	}
	return offers, nil
}

// abreast is how many candidates are looked at side by side, on however many
// processors, so that the answer is the same on all.
const abreast = 8

// fresh is a candidate, or none where one by its name came up before.
func fresh(c *candidate, seen map[string]bool) []*candidate {
	if c.stage == reckoned {
		who := c.text
		if d := c.plan.s.dc; d != nil {
			who = d.kind + who
		}
		if seen[who] {
			return nil
		}
		seen[who] = true
	}
	return []*candidate{c}
}

// advance takes candidates on, stage by stage, until their keys are above a bar.
func (h *hunt) advance(at []*candidate, bar key) error {
	var wait sync.WaitGroup
	errs := make([]error, len(at))
	through := make([]int, len(at)) // the network
	for i, c := range at {
		wait.Go(func() {
			for c.stage < proven && c.trouble == nil && c.key.compare(bar) <= 0 && errs[i] == nil {
				errs[i] = c.plan.s.onward(c)
				through[i] += bit(c.stage == solved)
			}
		})
	}
	wait.Wait()
	for i, c := range at {
		s := c.plan.s
		if through[i] > 0 {
			h.checked++
			if h.progress != nil {
				h.progress(h.checked)
			}
		}
		if t := c.trouble; t != nil && t.why != "" && len(s.failed) < mostFailed {
			s.failed = append(s.failed, c)
		}
	}
	return errors.Join(errs...)
}

// onward takes one candidate on to the next stage.
func (s *search) onward(c *candidate) (err error) {
	switch {
	case c.stage == reckoned:
		if c.key.caution == 0 && s.anyDoubt(c) {
			c.key.caution = 1
		}
	case s.dc != nil:
		s.onwardDC(c)
	case c.stage == asked:
		c.trouble = s.solve(c)
		c.stage = solved
		return nil
	default:
		c.trouble, err = s.prove(c)
		c.stage = proven
		return err
	}
	c.stage++
	return nil
}

// mostFailed is how many failed hookups are kept for the near misses.
const mostFailed = 200

// prepare reads the shelf: units, the ways to feed them, their elements.
func (s *search) prepare() {
	like := map[string]int{}
	for i := range s.facts.Shelf.Units {
		src := &s.facts.Shelf.Units[i]
		u := newUnit(s.facts, src)
		s.units = append(s.units, u)
		if u.facts == nil || u.shut != nil {
			continue
		}
		// Units with the very same facts make the very same offers: as many
		// of them as one hookup can hold are enough.
		same := fingerprint(src)
		if like[same]++; like[same] > s.maxUnits() {
			u.shut = &shut{}
			continue
		}
		at := len(s.units) - 1
		for _, coil := range u.coilWays(at) {
			d := s.newDrive(at, coil, 1)
			if d.none {
				continue
			}
			if d.flux > fluxStop {
				s.over = append(s.over, s.elements(d)...)
				continue
			}
			u.drives = append(u.drives, d)
			s.elems = append(s.elems, s.elements(d)...)
		}
	}
}

// fluxStop is the flux at the highest mains that no offer may pass.
const fluxStop = 1.16

func fingerprint(u *yokemate.Unit) string {
	c := *u
	c.Tag, c.Origin, c.Readings = "same", "", nil
	b, err := yokemate.Encode(&c)
	if err != nil {
		return u.Tag
	}
	return string(b)
}

// mostUnits is the most units a hookup is searched to.
const mostUnits = 4

func (s *search) maxUnits() int { return min(s.need.MaxUnits, mostUnits) }

// doubtful reports whether an element asks for caution at the load it would carry.
func (e *element) doubtful(amps float64) bool { return e.doubt || amps > e.calm }

// calmOnes are the elements that are not known to ask for caution, for the
// generators of offers without one; for the others all may take part.
func (s *search) calmOnes(es []*element, caution int, inBank bool) []*element {
	if caution == 1 {
		return es
	}
	var out []*element
	for _, e := range es {
		if e.doubt || !inBank && e.doubtful(s.need.Amps) {
			continue
		}
		out = append(out, e)
	}
	return out
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// byShelf sorts drives and with them whatever is listed by unit.
func byShelf(es []*element) {
	slices.SortStableFunc(es, func(a, b *element) int { return cmp.Compare(a.drives[0].unit, b.drives[0].unit) })
}

// window is how far from the wanted volts an element may be reckoned to lie
// and still enter the pool, above its slack [V]; negative when it cannot at all.
func (p *pool) window(joints, units int, lim float64) float64 {
	most := p.s.need.Tolerance * p.s.need.Volts
	if len(p.best) < p.size || p.s.dc != nil && (key{p.caution, joints, units, 0}).compare(p.best[0].key) <= 0 {
		return most
	}
	w := p.best[0].key
	base := key{p.caution, joints, units, 0}
	at := key{w.caution, w.joints, w.units, 0}
	switch c := base.compare(at); {
	case c > 0:
		p.more = true
		return -1
	case c < 0:
		return most
	}
	left := (w.fit - p.s.need.Amps/(lim*errLim)) * most
	if left < most {
		p.more = true
	}
	return math.Min(most, left)
}
