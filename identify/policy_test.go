package identify

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// policy is the best adaptive policy of continuity readings for a unit of n
// pins, found by exhaustive search over every set of readings and outcomes, in
// the ideal case: no meter errors, and resistances in general position. Then
// the pins along a wire are settled exactly when the graph of its readings
// cannot be cut at one pin (global rigidity on a line is 2-connectivity: folklore,
// e.g. Jackson and Jordán, Graph theoretic techniques in the analysis of uniquely
// localizable sensor networks, 2009; from memory). The prior over wirings, the
// wanted certainty and the rule that a wire counts only when readings link all
// its pins are the package's own.
type policy struct {
	n          int
	pairs      [][2]int
	partitions [][]int // pin → wire
	weight     []float64
	target     float64
	memo       map[int]float64
}

func newPolicy(n int, target float64) *policy {
	p := &policy{n: n, target: target, memo: map[int]float64{}}
	for i := range n {
		for j := i + 1; j < n; j++ {
			p.pairs = append(p.pairs, [2]int{i, j})
		}
	}
	var grow func(of []int, wires int)
	grow = func(of []int, wires int) {
		if len(of) == n {
			ln := 0.0
			for g := range wires {
				size := 0
				for _, x := range of {
					if x == g {
						size++
					}
				}
				ln += lnWire(size)
			}
			p.partitions = append(p.partitions, slices.Clone(of))
			p.weight = append(p.weight, math.Exp(ln))
			return
		}
		for g := 0; g <= wires; g++ {
			grow(append(slices.Clone(of), g), max(wires, g+1))
		}
	}
	grow(nil, 0)
	return p
}

const (
	unread = iota
	apart
	linked
)

func (p *policy) outcome(state []int) int {
	code := 0
	for _, s := range state {
		code = 3*code + s
	}
	return code
}

// weights of the partitions that the readings leave.
func (p *policy) posterior(state []int) (w []float64, total float64, best int) {
	w = slices.Clone(p.weight)
	for k, of := range p.partitions {
		for i, pr := range p.pairs {
			same := of[pr[0]] == of[pr[1]]
			if state[i] == apart && same || state[i] == linked && !same {
				w[k] = 0
				break
			}
		}
		total += w[k]
		if w[k] > w[best] {
			best = k
		}
	}
	return w, total, best
}

func (p *policy) done(state []int, w []float64, total float64, best int) bool {
	if w[best] < p.target*total {
		return false
	}
	of := p.partitions[best]
	for g := range p.n {
		var pins []int
		for i, x := range of {
			if x == g {
				pins = append(pins, i)
			}
		}
		for _, without := range append([]int{-1}, pins...) {
			if without >= 0 && len(pins) < 3 || !p.connected(state, pins, without) {
				if without < 0 || len(pins) >= 3 {
					return false
				}
			}
		}
	}
	return true
}

func (p *policy) connected(state []int, pins []int, without int) bool {
	var left []int
	for _, x := range pins {
		if x != without {
			left = append(left, x)
		}
	}
	if len(left) < 2 {
		return true
	}
	seen := map[int]bool{left[0]: true}
	for range left {
		for i, pr := range p.pairs {
			if state[i] == linked && pr[0] != without && pr[1] != without && slices.Contains(left, pr[0]) && seen[pr[0]] != seen[pr[1]] {
				seen[pr[0]], seen[pr[1]] = true, true
			}
		}
	}
	for _, x := range left {
		if !seen[x] {
			return false
		}
	}
	return true
}

// cost is the least expected number of readings still to take.
func (p *policy) cost(state []int) float64 {
	code := p.outcome(state)
	if c, ok := p.memo[code]; ok {
		return c
	}
	c, _ := p.choose(state)
	p.memo[code] = c
	return c
}

func (p *policy) choose(state []int) (float64, int) {
	w, total, best := p.posterior(state)
	if p.done(state, w, total, best) {
		return 0, -1
	}
	least, action := math.Inf(1), -1
	for i, pr := range p.pairs {
		if state[i] != unread {
			continue
		}
		same := 0.0
		for k, of := range p.partitions {
			if of[pr[0]] == of[pr[1]] {
				same += w[k] / total
			}
		}
		c := 1.0
		next := slices.Clone(state)
		if same > 1e-12 {
			next[i] = linked
			c += same * p.cost(next)
		}
		if same < 1-1e-12 {
			next[i] = apart
			c += (1 - same) * p.cost(next)
		}
		if c < least {
			least, action = c, i
		}
	}
	return least, action
}

// count runs the policy on a unit.
func (p *policy) count(t *truth) int {
	state := make([]int, len(p.pairs))
	n := 0
	for {
		_, i := p.choose(state)
		if i < 0 {
			return n
		}
		a, _ := t.place(p.pairs[i][0])
		b, _ := t.place(p.pairs[i][1])
		state[i] = apart
		if a >= 0 && a == b {
			state[i] = linked
		}
		n++
	}
}

// TestReadingCount: the median number of readings against that of the best
// adaptive policy. Both also take one reading to the core before anything is
// fed, and the best policy one reading a dot, the least there is.
func TestReadingCount(t *testing.T) {
	const confidence = 0.99
	policies := map[int]*policy{}
	var ours, least []int
	var ratio []float64
	for i := 0; len(ours) < 300; i++ {
		u := newTruth(rand.New(rand.NewPCG(2, uint64(i))), 5)
		n := len(u.pins)
		if policies[n] == nil {
			policies[n] = newPolicy(n, 1-(1-confidence)/2)
		}
		best := policies[n].count(u)
		if len(u.wires) > 1 {
			best += 1 + len(u.wires) - 1
		}
		a, err := u.run(Options{Confidence: confidence, Want: []Ask{Windings, Dots}}, 60)
		if err != nil {
			t.Fatal(err)
		}
		if !a.Certain {
			t.Errorf("unit %d stays open after %d readings", i, len(u.given))
		}
		ours, least = append(ours, len(u.given)), append(least, best)
		ratio = append(ratio, float64(len(u.given))/float64(best))
	}
	slices.Sort(ours)
	slices.Sort(least)
	slices.Sort(ratio)
	m := len(ours) / 2
	t.Logf("readings: median %d, best policy %d; of the ratios the median is %.2f, nine in ten below %.2f", ours[m], least[m], ratio[m], ratio[len(ratio)*9/10])
	if float64(ours[m]) > 1.3*float64(least[m]) || ratio[m] > 1.3 {
		t.Errorf("median %d against %d, median ratio %.2f: more than 1.3", ours[m], least[m], ratio[m])
	}
	for n := 2; n <= 4; n++ {
		p := newPolicy(n, 0.995)
		t.Logf("%d pins: at best %.2f ohms readings expected", n, p.cost(make([]int, len(p.pairs))))
	}
}
