package find

import (
	"math"
	"math/cmplx"
)

// alike is how far no-load volts of windings may differ for a bank to be
// worth a look; what circulates decides later.
const alike = 0.2

// elements lists what the unit's other windings can make of up to four pieces
// of wire at once: each section by itself, chains aiding and opposing, banks,
// chains of banks and banks of chains.
func (s *search) elements(d *drive) []*element {
	u := s.units[d.unit]
	var out []*element
	for set := 1; set < 1<<len(u.groups); set++ {
		var groups [][]*section
		for i, g := range u.groups {
			if set>>i&1 == 1 {
				groups = append(groups, g)
			}
		}
		if len(groups) > 4 {
			continue
		}
		choose(groups, func(pick []*section) {
			kids := make([]*element, len(pick))
			for i, sec := range pick {
				kids[i] = s.leaf(d, sec)
			}
			for _, e := range arrange(kids) {
				e.drives = []*drive{d}
				e.doubt = e.doubt || u.doubt || d.part
				out = append(out, s.folded(e, d))
			}
		})
	}
	return out
}

// leaf is a section on the unit's own induced volts, the mains side's drop
// left out.
func (s *search) leaf(d *drive, sec *section) *element {
	e := &element{part: &part{unit: d.unit, sec: sec}, from: 1, to: 1, lim: math.Inf(1), limBack: math.Inf(1), calm: math.Inf(1)}
	facts := s.units[d.unit].facts
	limits := facts.Limits
	e0 := cmplx.Abs(d.yE[0])
	for _, st := range sec.path {
		e.sd = math.Hypot(e.sd, facts.Params[3*st.w].U*e0)
		l := limits[st.w]
		if math.IsNaN(l.Amps) {
			continue
		}
		e.lim, e.limBack = math.Min(e.lim, l.Amps), math.Min(e.limBack, l.Amps)
		if 1.96*l.U > 0.02*l.Amps {
			e.calm = math.Min(e.calm, math.Max(l.Low(), 0.5*l.Amps))
		}
	}
	for t := range 2 {
		a, z := d.reduce(e.part, t)
		e.v0[t], e.vb[t], e.z[t] = a*d.yE[0], a*d.yE[0], z
	}
	return e
}

// folded puts the mains side's drop into an arrangement of one unit.
func (s *search) folded(e *element, d *drive) *element {
	for t := range 2 {
		a, z := d.reduce(e.part, t)
		amps := math.Min(s.need.Amps, e.lim)
		e.v0[t], e.z[t] = d.source(a, z, amps, t)
		e.vb[t], _ = d.source(a, z, -amps, t)
	}
	e.sd = math.Hypot(e.sd, d.sd*cmplx.Abs(e.v0[0]))
	return e
}

// arrange makes every arrangement of all the kids, up to chains of banks and
// banks of chains.
func arrange(kids []*element) []*element {
	if len(kids) == 1 {
		return kids
	}
	var out []*element
	for sign := range 1 << (len(kids) - 1) {
		turned := make([]*element, len(kids))
		sum := 0.0
		largest := 0.0
		for i, k := range kids {
			turned[i] = k
			v := cmplx.Abs(k.v0[0])
			largest = math.Max(largest, v)
			if i > 0 && sign>>(i-1)&1 == 1 {
				turned[i] = k.turned()
				v = -v
			}
			sum += v
		}
		if math.Abs(sum) < 0.01*largest {
			continue
		}
		if sum < 0 {
			for i := range turned {
				turned[i] = turned[i].turned()
			}
		}
		if c := chain(turned...); !c.pointless() {
			out = append(out, c)
		}
	}
	if matched(kids) {
		out = append(out, bank(kids...))
	}
	if len(kids) < 3 {
		return out
	}
	partitions(len(kids), func(blocks [][]int) {
		var banks, chains []*element
		ok := true
		for _, b := range blocks {
			var es []*element
			for _, i := range b {
				es = append(es, kids[i])
			}
			if len(es) == 1 {
				banks, chains = append(banks, es[0]), append(chains, es[0])
				continue
			}
			ok = ok && matched(es)
			banks, chains = append(banks, bank(es...)), append(chains, chain(es...))
		}
		if ok {
			out = append(out, chain(banks...))
		}
		if matched(chains) {
			out = append(out, bank(chains...))
		}
	})
	return out
}

func matched(es []*element) bool {
	least, most := math.Inf(1), 0.0
	for _, e := range es {
		v := cmplx.Abs(e.v0[0])
		least, most = math.Min(least, v), math.Max(most, v)
	}
	return most-least <= alike*least
}

// partitions calls f with every way to part n things into blocks, but for one
// block and for all single.
func partitions(n int, f func([][]int)) {
	var rec func(i int, blocks [][]int)
	rec = func(i int, blocks [][]int) {
		if i == n {
			if len(blocks) > 1 && len(blocks) < n {
				f(blocks)
			}
			return
		}
		for b := range blocks {
			grown := make([][]int, len(blocks))
			for k := range blocks {
				grown[k] = append([]int(nil), blocks[k]...)
			}
			grown[b] = append(grown[b], i)
			rec(i+1, grown)
		}
		rec(i+1, append(append([][]int(nil), blocks...), []int{i}))
	}
	rec(0, nil)
}
