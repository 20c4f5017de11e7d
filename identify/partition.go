package identify

import (
	"math"
	"math/bits"
	"slices"
	"strings"

	"yokemate"
)

// How often a reading misleads about continuity. Common practice, no source.
const (
	lnOpenThoughJoined = -6.2 // 0.2 %: a probe on lacquer or flux, not on copper
	lnJoinedThoughOpen = -9.2 // 0.01 %: fingers, or the wrong pin touched
)

// lnWire is how a wire of that many pins weighs among the ways to part a
// unit's pins into wires: two pins are the rule, a pin alone (not connected)
// and many taps the exception (common practice, no source).
func lnWire(pins int) float64 {
	w := [...]float64{0, 0.02, 1, 0.4, 0.08, 0.05, 0.02, 0.01, 0.005, 0.003}
	if pins < len(w) {
		return math.Log(w[pins])
	}
	return math.Log(0.003)
}

// piece is pins that readings have linked to one another.
type piece struct {
	pins []int
	line *line
}

// pieces is what is known of the pins: linked sets, and which of them are
// apart.
type pieces struct {
	b     *bench
	list  []piece
	of    []int   // pin → piece
	apart [][]int // open readings between two pieces
	core  []bool  // a reading shows the piece apart from the core
	faults
}

// faults are what the continuity readings say that should not be.
type faults struct {
	coreJoined []*observation
	leaks      []*observation
	against    []*observation // readings that contradict others of their pair or wire
}

// linkPins sorts the continuity readings out.
func (b *bench) linkPins() *pieces {
	n := len(b.pins)
	p := &pieces{b: b, of: make([]int, n)}
	type pair struct{ a, b int }
	votes := map[pair][2]int{}
	byPair := map[pair][]*observation{}
	var order []pair
	for _, o := range b.obs {
		if o.used.Left || o.r.Quantity != yokemate.Ohms && o.r.Quantity != yokemate.Millivolts {
			continue
		}
		a, okA := b.number[o.r.From]
		c, okC := b.number[o.r.To]
		if len(o.r.Joined) > 0 || !okA || !okC {
			if o.r.From != yokemate.CorePin && o.r.To != yokemate.CorePin {
				b.leave(o, "ohms with pins tied together say nothing of one pair")
			}
			continue
		}
		if a == c {
			b.leave(o, "both probes on one pin")
			continue
		}
		k := pair{min(a, c), max(a, c)}
		v := votes[k]
		if o.open || o.y > insulator {
			if !o.open && o.y < leakOhms {
				p.leaks = append(p.leaks, o)
			}
			v[0]++
		} else {
			v[1]++
		}
		if len(byPair[k]) == 0 {
			order = append(order, k)
		}
		votes[k] = v
		byPair[k] = append(byPair[k], o)
	}
	// A pair is linked where the votes for it outweigh.
	linked := func(v [2]int) bool {
		return float64(v[1])*-lnJoinedThoughOpen > float64(v[0])*-lnOpenThoughJoined
	}
	root := make([]int, n)
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	var edges []edge
	for _, k := range order {
		if v := votes[k]; !linked(v) {
			if v[1] > 0 {
				p.contradict(byPair[k])
			}
			continue
		}
		root[find(k.a)] = find(k.b)
		for _, o := range byPair[k] {
			if o.open || o.y > insulator {
				p.contradict(byPair[k])
				continue
			}
			edges = append(edges, edge{k.a, k.b, o})
		}
	}
	number := map[int]int{}
	for i := range n {
		r := find(i)
		if _, ok := number[r]; !ok {
			number[r] = len(p.list)
			p.list = append(p.list, piece{})
		}
		p.of[i] = number[r]
		x := &p.list[number[r]]
		x.pins = append(x.pins, i)
	}
	c := len(p.list)
	p.apart = make([][]int, c)
	for i := range c {
		p.apart[i] = make([]int, c)
		var own []edge
		for _, e := range edges {
			if p.of[e.a] == i {
				own = append(own, e)
			}
		}
		p.list[i].line = b.newLine(p.list[i].pins, own)
	}
	for _, k := range order {
		if v := votes[k]; v[0] > 0 && !linked(v) {
			i, j := p.of[k.a], p.of[k.b]
			if i == j {
				p.contradict(byPair[k])
				continue
			}
			p.apart[i][j] += v[0]
			p.apart[j][i] += v[0]
		}
	}
	p.readCore()
	return p
}

// leakOhms is the least insulation that is not a fault: below it a unit is
// degraded (common practice, no source) [Ω].
const leakOhms = 2e6

func (p *pieces) contradict(obs []*observation) {
	for _, o := range obs {
		if !slices.Contains(p.against, o) {
			p.against = append(p.against, o)
		}
	}
}

// readCore takes the readings to the core. One reading may clear several wires
// that are tied together.
func (p *pieces) readCore() {
	p.core = make([]bool, len(p.list))
	for _, o := range p.b.obs {
		r := o.r
		if o.used.Left || r.Quantity != yokemate.Ohms && r.Quantity != yokemate.Millivolts && r.Quantity != yokemate.Megohms ||
			(r.From == yokemate.CorePin) == (r.To == yokemate.CorePin) {
			continue
		}
		ohms := o.y
		if r.Quantity == yokemate.Megohms {
			ohms *= 1e6
		}
		if !o.open && o.over == 0 && ohms < insulator {
			p.coreJoined = append(p.coreJoined, o)
			continue
		}
		if !o.open && o.over == 0 && ohms < leakOhms {
			p.leaks = append(p.leaks, o)
			continue
		}
		for _, pin := range append([]string{r.From, r.To}, r.Joined...) {
			if i, ok := p.b.number[pin]; ok {
				p.core[p.of[i]] = true
			}
		}
	}
}

// lnBlock is the weight of these pieces being one wire.
func (p *pieces) lnBlock(set int) float64 {
	size := 0
	ln := 0.0
	for s := set; s != 0; s &= s - 1 {
		i := bits.TrailingZeros(uint(s))
		size += len(p.list[i].pins)
		for t := s & (s - 1); t != 0; t &= t - 1 {
			ln += lnOpenThoughJoined * float64(p.apart[i][bits.TrailingZeros(uint(t))])
		}
	}
	return ln + lnWire(size)
}

// exactPieces is how many pieces are weighed exactly, over every way to part
// them into wires: 3ⁿ steps.
const exactPieces = 12

// grouping is one way to part the pieces into wires.
type grouping struct {
	blocks []int // sets of pieces
	w      float64
}

// groupings returns the probability that two pieces are one wire, for every
// pair, and the likely ways to part them.
func (p *pieces) groupings() (same [][]float64, likely []grouping) {
	c := len(p.list)
	same = make([][]float64, c)
	for i := range same {
		same[i] = make([]float64, c)
	}
	if c > exactPieces {
		return p.roughly(same)
	}
	full := 1<<c - 1
	block := make([]float64, full+1)
	for s := 1; s <= full; s++ {
		block[s] = math.Exp(p.lnBlock(s))
	}
	// z[s]: summed weight of all ways to part s; top[s]: weight of the best.
	z := make([]float64, full+1)
	top := make([]float64, full+1)
	z[0], top[0] = 1, 1
	for s := 1; s <= full; s++ {
		low := s & -s
		rest := s ^ low
		for t := rest; ; t = (t - 1) & rest {
			w := block[t|low]
			z[s] += w * z[rest^t]
			top[s] = math.Max(top[s], w*top[rest^t])
			if t == 0 {
				break
			}
		}
	}
	for s := 1; s <= full; s++ {
		if s&(s-1) == 0 {
			continue
		}
		w := block[s] * z[full^s] / z[full]
		if w < 1e-12 {
			continue
		}
		for a := s; a != 0; a &= a - 1 {
			i := bits.TrailingZeros(uint(a))
			for t := a & (a - 1); t != 0; t &= t - 1 {
				j := bits.TrailingZeros(uint(t))
				same[i][j] += w
				same[j][i] += w
			}
		}
	}
	// The likely ones, by depth-first search under the best that can follow.
	floor := math.Max(1e-5*z[full], 1e-3*top[full])
	var walk func(s int, w float64, blocks []int)
	walk = func(s int, w float64, blocks []int) {
		if len(likely) >= 400 {
			return
		}
		if s == 0 {
			likely = append(likely, grouping{slices.Clone(blocks), w / z[full]})
			return
		}
		low := s & -s
		rest := s ^ low
		for t := rest; ; t = (t - 1) & rest {
			x := w * block[t|low]
			if x*top[rest^t] >= floor {
				walk(rest^t, x, append(blocks, t|low))
			}
			if t == 0 {
				break
			}
		}
	}
	walk(full, 1, nil)
	slices.SortStableFunc(likely, func(a, b grouping) int {
		switch {
		case a.w > b.w:
			return -1
		case a.w < b.w:
			return 1
		}
		return 0
	})
	return same, likely
}

// roughly serves units of more pieces than are weighed exactly: each piece is
// taken to be as likely joined to one of those it may join as to another.
func (p *pieces) roughly(same [][]float64) ([][]float64, []grouping) {
	c := len(p.list)
	var all grouping
	for i := range c {
		all.blocks = append(all.blocks, 1<<i)
		may := 0
		for j := range c {
			if j != i && p.apart[i][j] == 0 {
				may++
			}
		}
		for j := range c {
			if j != i && p.apart[i][j] == 0 {
				x := 1 / float64(max(may, 1))
				if len(p.list[i].pins) > 1 && len(p.list[j].pins) > 1 {
					x /= 10
				}
				same[i][j] = math.Max(same[j][i], x)
				same[j][i] = same[i][j]
			}
		}
	}
	return same, []grouping{all}
}

// gain is the expected information of an ohms reading between two pieces
// [nat]: whether it is open, and where it is not, which of the places along
// the other's wire remain.
func (p *pieces) gain(i, j int, same float64) float64 {
	a, b := len(p.list[i].pins), len(p.list[j].pins)
	delta := lnChoose(a+b, a) - math.Ln2
	return binaryEntropy(same) + same*math.Max(delta, 0)
}

func lnChoose(n, k int) float64 {
	f := func(x int) float64 { l, _ := math.Lgamma(float64(x) + 1); return l }
	return f(n) - f(k) - f(n-k)
}

// names lists pins by name.
func (b *bench) names(pins []int) []string {
	s := make([]string, len(pins))
	for i, p := range pins {
		s[i] = b.pins[p]
	}
	return s
}

func list(s []string) string {
	switch len(s) {
	case 0:
		return "none"
	case 1:
		return s[0]
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}
