package find_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
	"yokemate/predict"
)

func twoRails(v, a float64, u int) *yokemate.Need {
	n := need(v, a, u)
	n.Rails = 2
	return n
}

func boost(v, a float64) *yokemate.Need {
	n := need(v, a, 3)
	no := false
	n.Isolated = &no
	n.Tolerance = 0.01
	return n
}

// odd adds units that no offer may hold, and shapes that the plain maker does
// not make: tapped windings and a centre tap.
func (m maker) odd(s *yokemate.Shelf) {
	add := func(u yokemate.Unit) { s.Units = append(s.Units, u) }
	q := m.unit("Q1", 230, false, 50, []float64{12, 12}, true)
	q.Status, q.Reason = "quarantine", "charred bobbin"
	add(q)
	c := m.unit("C1", 230, false, 50, []float64{24}, true)
	c.Windings[1].Pins[1] = "core"
	c.Insulation = nil
	add(c)
	h := m.unit("H1", 230, false, 50, []float64{12}, true)
	h.Windings = append(h.Windings, yokemate.Winding{ID: "X", Pins: [2]string{"8", "9"}, Volts: yokemate.Num(1900), Ohms: yokemate.Num(90)})
	add(h)
	ct := m.unit("M1", 230, false, 40, []float64{12, 12}, true)
	ct.Windings[1].Pins = [2]string{"5", "6"}
	ct.Windings[2].Pins = [2]string{"6", "7"}
	ct.Insulation = slices.DeleteFunc(ct.Insulation, func(i yokemate.Insulation) bool { return i.From == "A" && i.To == "B" })
	add(ct)
	tp := m.unit("M2", 230, true, 40, []float64{9, 15}, true)
	tp.Windings[1].Pins = [2]string{"2", "3"} // a tapped mains side
	tp.Windings[2].Pins = [2]string{"5", "6"}
	tp.Windings[3].Pins = [2]string{"7", "6"} // the tap's other side runs the other way
	tp.Insulation = slices.DeleteFunc(tp.Insulation, func(i yokemate.Insulation) bool { return i.From+i.To == "AB" || i.From+i.To == "P1P2" })
	add(tp)
	sixty := m.unit("U1", 115, false, 20, []float64{12}, false)
	sixty.Mains.Hertz, sixty.Excitation[0].Hertz = 60, 60
	add(sixty)
}

var needs = []func() *yokemate.Need{
	func() *yokemate.Need { return need(12, 1, 3) },
	func() *yokemate.Need { return need(24, 0.6, 4) },
	func() *yokemate.Need { return need(12, 3.5, 4) },
	func() *yokemate.Need { return need(48, 0.3, 3) },
	func() *yokemate.Need { return twoRails(12, 0.5, 4) },
	func() *yokemate.Need { return boost(242, 0.5) },
	func() *yokemate.Need { return boost(218, 0.8) },
}

// joined finds by unions of its own what copper joins: joints and windings.
func joined(s *yokemate.Shelf, h *yokemate.Hookup) func(a, b string) bool {
	up := map[string]string{}
	var root func(string) string
	root = func(x string) string {
		if p, ok := up[x]; ok && p != x {
			return root(p)
		}
		return x
	}
	tie := func(a, b string) { up[root(a)] = root(b) }
	for _, j := range h.Joints {
		for _, p := range j.Pins {
			tie("pin "+p, "joint "+j.Name)
		}
	}
	for i := range s.Units {
		for _, w := range s.Units[i].Windings {
			tie("pin "+s.Units[i].Tag+"."+w.Pins[0], "pin "+s.Units[i].Tag+"."+w.Pins[1])
		}
	}
	return func(a, b string) bool { return root("joint "+a) == root("joint "+b) }
}

// TestOffersHold checks every offer from outside the search: package predict
// at every corner, the pins, the isolation, the order.
func TestOffersHold(t *testing.T) {
	offers, refusals := 0, map[yokemate.NoteCode]int{}
	for seed := range uint64(2) {
		m := newMaker(300 + seed)
		s := m.shelf(9, 4)
		m.odd(s)
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		f := network.Compile(s)
		for k, ask := range needs {
			n := ask()
			if seed == 1 {
				n.Feed.FuseAmps, n.Feed.FuseKind = 0.5, "T"
			}
			got, err := find.Find(f, n, find.Options{Offers: 6})
			if err != nil {
				t.Fatal(err)
			}
			var last []float64
			for i, o := range got.Offers {
				offers++
				at := fmt.Sprintf("shelf %d need %d offer %d %q", seed, k, i+1, o.Hookup.Name)
				checkOffer(t, at, s, f, n, &o)
				now := []float64{0, float64(o.JointCount), float64(len(o.Units))}
				if yokemate.Worst(o.Notes) == yokemate.Caution {
					now[0] = 1
				}
				if last != nil && slices.Compare(now, last) < 0 {
					t.Errorf("%s: it stands behind a worse one", at)
				}
				last = now
			}
			for _, r := range got.Refusals {
				refusals[r.Why]++
				if r.Words == "" || r.Hookup.Validate() != nil {
					t.Errorf("refusal %q: words %q, %v", r.Hookup.Name, r.Words, r.Hookup.Validate())
				}
			}
		}
	}
	t.Logf("%d offers, refusals %v", offers, refusals)
	if offers < 50 {
		t.Errorf("only %d offers were checked", offers)
	}
	for _, c := range []yokemate.NoteCode{yokemate.Quarantine, yokemate.CoreJoined, yokemate.HazardousVoltage, yokemate.OverFlux, yokemate.OverCurrent, yokemate.Circulating} {
		if refusals[c] == 0 {
			t.Errorf("no refusal says %s", c)
		}
	}
}

func checkOffer(t *testing.T, at string, s *yokemate.Shelf, f *network.Facts, n *yokemate.Need, o *yokemate.Offer) {
	t.Helper()
	h := &o.Hookup
	if err := h.Validate(); err != nil {
		t.Errorf("%s: %v", at, err)
		return
	}
	seen, joints := map[string]bool{}, 0
	for _, j := range h.Joints {
		if len(j.Pins) > 1 {
			joints++
		}
		for _, p := range j.Pins {
			if seen[p] {
				t.Errorf("%s: pin %s twice", at, p)
			}
			seen[p] = true
		}
	}
	if joints != o.JointCount {
		t.Errorf("%s: %d joints, said to be %d", at, joints, o.JointCount)
	}
	if len(o.Units) > n.MaxUnits || !slices.Equal(slices.Sorted(slices.Values(h.Tags())), o.Units) {
		t.Errorf("%s: units %v, tags %v, at most %d", at, o.Units, h.Tags(), n.MaxUnits)
	}
	for _, tag := range o.Units {
		if strings.ContainsAny(tag[:1], "QCH") {
			t.Errorf("%s: it holds %s", at, tag)
		}
		if h.Joints.Of(tag+".core") != h.Earth {
			t.Errorf("%s: the core of %s is not bonded", at, tag)
		}
	}
	if h.Feed[0].FuseAmps != n.Feed.FuseAmps {
		t.Errorf("%s: the fuse is lost", at)
	}
	copper := joined(s, h)
	for _, out := range h.Outputs {
		onMains := copper(out.From, "L") || copper(out.From, "N") || copper(out.To, "L") || copper(out.To, "N")
		if onMains && n.MustIsolate() {
			t.Errorf("%s: output %s is joined to the mains", at, out.Name)
		}
		if onMains == o.Isolated {
			t.Errorf("%s: isolated is said to be %v", at, o.Isolated)
		}
	}
	want, tol := n.Volts, n.Tolerance*n.Volts*(1+1e-9)
	for _, celsius := range []float64{20, 85} {
		for _, level := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
			for _, load := range []float64{0, n.Amps, o.MaxAmps * 0.999} {
				if load == 0 && level != yokemate.Nominal || load > n.Amps && level != yokemate.High {
					continue
				}
				x := h.Clone()
				x.CopperC = &celsius
				for i := range x.Outputs {
					x.Outputs[i].Load = nil
					if load > 0 {
						x.Outputs[i].Load = &yokemate.Load{Amps: load}
					}
				}
				p, err := predict.Hookup(f, x, level, predict.Options{Brief: true})
				if err != nil {
					t.Errorf("%s: %v", at, err)
					return
				}
				for _, note := range p.Notes {
					if note.Level == yokemate.Stop {
						t.Errorf("%s: %g °C, %s mains, %.3g A: %s: %s", at, celsius, level, load, note.Code, note.Words)
					}
				}
				if load != n.Amps || level != yokemate.Nominal {
					continue
				}
				for i, out := range p.Outputs {
					if math.Abs(out.Volts-want) > tol {
						t.Errorf("%s: %g °C: %s gives %.4g V", at, celsius, out.Name, out.Volts)
					}
					if v := map[float64]float64{20: o.FullLoad, 85: o.HotVolts}[celsius]; len(p.Outputs) == 1 && math.Abs(out.Volts-v) > 1e-6*v {
						t.Errorf("%s: %g °C: output %d gives %.6g V, said to be %.6g", at, celsius, i, out.Volts, v)
					}
				}
			}
		}
	}
	if o.MaxAmps < n.Amps || o.LimitedBy == "" {
		t.Errorf("%s: at most %.3g A by %q", at, o.MaxAmps, o.LimitedBy)
	}
}

// TestSameEachTime finds the same offers again, under other tags and in
// another order of the shelf.
func TestSameEachTime(t *testing.T) {
	m := newMaker(41)
	s := m.shelf(12, 4)
	m.odd(s)
	for k, ask := range []func() *yokemate.Need{needs[0], needs[3], needs[4], needs[5]} {
		n := ask()
		run := func(s *yokemate.Shelf) *yokemate.Findings {
			r, err := find.Find(network.Compile(s), n, find.Options{Offers: 6})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		first := run(s)
		a, _ := yokemate.Encode(first)
		if b, _ := yokemate.Encode(run(s)); string(a) != string(b) {
			t.Fatalf("need %d: two runs differ", k)
		}
		other := &yokemate.Shelf{Format: s.Format}
		for i, u := range s.Units {
			u.Tag = fmt.Sprintf("Z%c", 'a'+i)
			other.Units = append(other.Units, u)
		}
		back := renamed(s, other)
		for i, o := range run(other).Offers {
			if got := back.Replace(o.Hookup.Name); got != first.Offers[i].Hookup.Name {
				t.Errorf("need %d offer %d: %q under other tags, %q", k, i+1, got, first.Offers[i].Hookup.Name)
			}
		}
		slices.Reverse(other.Units)
		again := run(other)
		if len(again.Offers) != len(first.Offers) {
			t.Errorf("need %d: %d offers from the shelf the other way round, %d before", k, len(again.Offers), len(first.Offers))
			continue
		}
		for i, o := range again.Offers {
			p := first.Offers[i]
			if o.JointCount != p.JointCount || len(o.Units) != len(p.Units) || math.Abs(o.FullLoad-p.FullLoad) > 1e-4*p.FullLoad || math.Abs(o.MaxAmps-p.MaxAmps) > 1e-3*p.MaxAmps {
				t.Errorf("need %d offer %d: %q from the shelf the other way round, %q before", k, i+1, back.Replace(o.Hookup.Name), p.Hookup.Name)
			}
		}
	}
}

// renamed puts the tags of one shelf in the place of another's.
func renamed(to, from *yokemate.Shelf) *strings.Replacer {
	var pairs []string
	for i := range from.Units {
		pairs = append(pairs, from.Units[i].Tag, to.Units[i].Tag)
	}
	return strings.NewReplacer(pairs...)
}

// TestReckoning holds the sums that the search prunes by to their stated
// error against the network.
func TestReckoning(t *testing.T) {
	count, worst := 0, 0.0
	for seed := range uint64(5) {
		m := newMaker(500 + seed)
		s := m.shelf(10, 4)
		m.odd(s)
		f := network.Compile(s)
		for _, ask := range needs {
			n := ask()
			n.Tolerance = 0.2 // near ones too
			for _, r := range find.Reckon(f, n, 10) {
				count++
				for k := range r.Volts {
					off := math.Abs(r.Volts[k] - r.Network[k])
					worst = math.Max(worst, off/r.Slack[k])
					if !(off <= r.Slack[k]) {
						t.Errorf("seed %d: %s: reckoned %.5g V, the network says %.5g, slack %.2g", seed, r.Name, r.Volts[k], r.Network[k], r.Slack[k])
					}
				}
				if r.MaxAmps > r.Lim*1.02 && !math.IsInf(r.MaxAmps, 1) {
					t.Errorf("seed %d: %s: reckoned limit %.4g A, the network says %.4g", seed, r.Name, r.Lim, r.MaxAmps)
				}
				if r.Joints != r.Count {
					t.Errorf("seed %d: %s: reckoned %d joints, there are %d", seed, r.Name, r.Joints, r.Count)
				}
			}
		}
	}
	t.Logf("%d hookups, at most %.2f of the slack", count, worst)
	if count < 500 {
		t.Errorf("only %d hookups were reckoned", count)
	}
}

// TestSplitPrimaries: a unit of two 115 V coils is fed in series on 230 V and
// in parallel on 115 V, and never by one coil alone (closed by the label: 2 ×
// 115 V).
func TestSplitPrimaries(t *testing.T) {
	m := newMaker(9)
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{m.unit("T1", 230, true, 30, []float64{12}, true)}}
	f := network.Compile(s)
	for _, c := range []struct {
		volts float64
		live  int
	}{{230, 1}, {115, 2}} {
		n := need(12.3, 1.5, 1)
		n.Feed.Volts, n.Feed.Low, n.Feed.High = yokemate.Num(c.volts), 0.9*c.volts, 1.1*c.volts
		r, err := find.Find(f, n, find.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Offers) != 1 {
			t.Fatalf("on %g V there are %d offers", c.volts, len(r.Offers))
		}
		if got := len(r.Offers[0].Hookup.Joints.Joint("L").Pins); got != c.live {
			t.Errorf("on %g V %d pins are live, not %d", c.volts, got, c.live)
		}
	}
}

// TestHigherMains: a unit made for 230 V gives half its volts on 115 V (closed
// form: volts follow the mains; no load).
func TestHigherMains(t *testing.T) {
	m := newMaker(11)
	u := m.unit("T1", 230, false, 50, []float64{24}, true)
	f := network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{u}})
	n := need(12, 0.5, 1)
	n.Feed.Volts, n.Feed.Low, n.Feed.High = yokemate.Num(115), 103, 127
	n.Tolerance = 0.1
	r, err := find.Find(f, n, find.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Offers) != 1 {
		t.Fatalf("%d offers", len(r.Offers))
	}
	// The idle drop is smaller at half the flux: within 1 %.
	if got, want := r.Offers[0].NoLoadVolts, u.Windings[1].Volts.V/2; math.Abs(got-want) > 0.01*want {
		t.Errorf("no-load %.4g V, half of the reading is %.4g", got, want)
	}
}

// BenchmarkFind answers needs on 200 units with up to three units a hookup.
func BenchmarkFind(b *testing.B) {
	f := network.Compile(newMaker(1).shelf(200, 4))
	for _, n := range []*yokemate.Need{need(24, 1, 3), need(12, 2, 3), need(40, 2, 3), need(60, 1, 3), need(12, 9, 3), need(100, 0.2, 3), need(3, 0.5, 3), twoRails(12, 0.5, 3)} {
		b.Run(fmt.Sprintf("%gV-%gA-%drails", n.Volts, n.Amps, max(n.Rails, 1)), func(b *testing.B) {
			for b.Loop() {
				if _, err := find.Find(f, n, find.Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestNeedFiles answers the needs of testdata from an invented shelf.
func TestNeedFiles(t *testing.T) {
	m := newMaker(21)
	s := m.shelf(20, 4)
	m.odd(s)
	f := network.Compile(s)
	for _, name := range []string{"need-one.json", "need-rails.json"} {
		b, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		n, err := yokemate.DecodeNeed(b)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		r, err := find.Find(f, n, find.Options{Offers: 3})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Offers) == 0 {
			t.Errorf("%s: no offer", name)
		}
		for i, o := range r.Offers {
			checkOffer(t, fmt.Sprintf("%s offer %d", name, i+1), s, f, n, &o)
			if len(o.Hookup.Outputs) != n.Rails {
				t.Errorf("%s offer %d: %d outputs", name, i+1, len(o.Hookup.Outputs))
			}
		}
	}
}

// TestLeftOut: a unit or a winding that lacks a fact is named with the reading
// that gives it, in AC and DC; one in quarantine is not, nor one that is whole.
func TestLeftOut(t *testing.T) {
	unit := func(tag string, ohms, volts yokemate.Value) yokemate.Unit {
		return yokemate.Unit{Tag: tag, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}},
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: ohms},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: volts, Ohms: yokemate.Num(2)}}}
	}
	var none yokemate.Value
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		unit("T1", yokemate.Num(500), yokemate.Num(12)), unit("T2", none, yokemate.Num(12)), unit("T3", yokemate.Num(500), none), unit("T4", none, none)}}
	s.Units[3].Status = "quarantine"
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"ac", "dc"} {
		n := need(12, 0.1, 2)
		n.Kind = kind
		r, err := find.Find(network.Compile(s), n, find.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.LeftOut) != 2 || !strings.HasPrefix(r.LeftOut[0], "T2/P ohms: ") || !strings.HasPrefix(r.LeftOut[1], "T3/A volts: ") || !strings.Contains(r.LeftOut[1], "between pins 5 and 6") {
			t.Errorf("%s: %q", kind, r.LeftOut)
		}
	}
}
