package prove_test

import (
	"flag"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

var cases = flag.Int("cases", 400, "simulated sessions of TestFaultInjection, at each kind of mains")

// The truth of a simulated bench: the shelf as the units really are, the
// meter's own errors, and what went wrong. The person's shelf is what that
// meter read of it.
type bench struct {
	rng   *rand.Rand
	truth *yokemate.Shelf
	known *yokemate.Shelf
	gain  map[string]float64 // of each range, fixed for the whole session
	mains float64
	slip  slipTruth
	at    *yokemate.Step // being read, where the slip asks
}

type slipTruth struct {
	code   string
	swap   map[string]string // pins in each other's place
	late   bool
	parted string
	off    string // unit without mains
	short  *network.ShortedTurn
	phase  string // unit on another supply phase
	fuse   bool
	leak   float64                   // a cause outside the list: a resistor across the gap [Ω]
	since  func(*yokemate.Step) bool // when parted comes true; nil: from the start
}

// meter is ±(0.8 % + 3 counts) on every range, as the shelf says of it.
func benchMeter() yokemate.Meter {
	m := yokemate.Meter{Name: "bench", LeadOhms: 0.2}
	for _, x := range []struct {
		q   yokemate.Quantity
		max []float64
	}{
		{yokemate.VoltsAC, []float64{0.6, 6, 60, 600}}, {yokemate.VoltsDC, []float64{0.6, 6, 60, 600}}, {yokemate.Ohms, []float64{600, 6e3, 60e3, 6e6}},
		{yokemate.AmpsAC, []float64{0.006, 0.06, 0.6, 6, 20}}, {yokemate.Watts, []float64{6, 60, 600}},
	} {
		for _, max := range x.max {
			m.Ranges = append(m.Ranges, yokemate.Range{Quantity: x.q, Max: max, Resolution: max / 6000, Percent: 0.8, Counts: 3})
		}
	}
	return m
}

// shown is what the bench's meter shows of a true value.
func (b *bench) shown(q yokemate.Quantity, v float64) string {
	m := &b.known.Meters[0]
	var best *yokemate.Range
	for i := range m.Ranges {
		if r := &m.Ranges[i]; r.Quantity == q && v <= r.Max && (best == nil || r.Max < best.Max) {
			best = r
		}
	}
	if best == nil {
		return "over"
	}
	key := fmt.Sprint(q, best.Max)
	if _, ok := b.gain[key]; !ok {
		b.gain[key] = (2*b.rng.Float64() - 1) * 0.008
	}
	x := v*(1+b.gain[key]) + (2*b.rng.Float64()-1)*3*best.Resolution
	n := math.Round(math.Max(x, 0) / best.Resolution)
	digits := max(0, int(math.Ceil(-math.Log10(best.Resolution))))
	return strconv.FormatFloat(n*best.Resolution, 'f', digits, 64)
}

// newBench makes two units of 3 to 60 VA whose like secondaries differ by up
// to 6 %, and what the meter read of them.
func newBench(seed uint64) *bench {
	rng := rand.New(rand.NewPCG(seed, 77))
	b := &bench{rng: rng, gain: map[string]float64{}, truth: &yokemate.Shelf{Format: yokemate.ShelfFormat}, known: &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: []yokemate.Meter{benchMeter()}}}
	va := 3 * math.Pow(20, rng.Float64())
	volts := 6 + 30*rng.Float64()
	mismatch := 0.06 * rng.Float64()
	for k := range 2 {
		v := volts
		if k == 1 {
			v *= 1 + mismatch
		}
		reg := 0.5 * math.Pow(va, -0.45) * (0.9 + 0.2*rng.Float64())
		zp := 230 * 230 / va
		exc := 0.45 * math.Pow(va/5, -0.35) * (0.8 + 0.4*rng.Float64()) * va / 230
		rp := zp * reg / 2.2
		watts := 0.35*exc*230 + exc*exc*rp
		w := []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: yokemate.Num(rp)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(v), Ohms: yokemate.Num(v * v / va * reg / 2), Amps: yokemate.Num(va / volts)},
		}
		if rng.IntN(2) == 0 {
			// A second winding, lighter, on pins of its own.
			v2 := v * (0.3 + 0.5*rng.Float64())
			w = append(w, yokemate.Winding{ID: "B", Pins: [2]string{"7", "8"}, Volts: yokemate.Num(v2), Ohms: yokemate.Num(v2 * v2 / va * reg * 2), Amps: yokemate.Num(va / volts / 4)})
		}
		u := yokemate.Unit{Tag: fmt.Sprintf("T%d", k+1), Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, Windings: w,
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(230), Hertz: 50, Amps: yokemate.Num(exc), Watts: yokemate.Num(watts)}}}
		b.truth.Units = append(b.truth.Units, u)
		read := u
		read.Windings = slices.Clone(w)
		get := func(q yokemate.Quantity, v float64) yokemate.Value {
			x, err := yokemate.Read(b.shown(q, v))
			if err != nil {
				panic(err)
			}
			return x
		}
		for i := range read.Windings {
			read.Windings[i].Volts = get(yokemate.VoltsAC, w[i].Volts.V)
			read.Windings[i].Ohms = get(yokemate.Ohms, w[i].Ohms.V)
			if read.Windings[i].Ohms.V < 1 {
				// Under an ohm the bench reads millivolts at an ampere.
				read.Windings[i].Ohms = yokemate.PlusMinus(w[i].Ohms.V*(1+0.01*rng.NormFloat64()), 0.01*w[i].Ohms.V, yokemate.Measured)
			}
		}
		read.Excitation = yokemate.ExcitationList{{Series: []string{"P"}, Volts: read.Windings[0].Volts, Hertz: 50, Amps: get(yokemate.AmpsAC, exc), Watts: get(yokemate.Watts, watts)}}
		b.known.Units = append(b.known.Units, read)
	}
	b.mains = 230
	return b
}

func (b *bench) hookup() *yokemate.Hookup {
	a := b.truth.Units[0].Windings[1]
	return &yokemate.Hookup{
		Format: yokemate.HookupFormat, Earth: "E",
		Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 1, FuseKind: "T"}},
		Joints: yokemate.Joints{
			{Name: "L", Pins: []string{"T1.1", "T2.1"}}, {Name: "N", Pins: []string{"T1.2", "T2.2"}},
			{Name: "A", Pins: []string{"T1.5", "T2.5"}}, {Name: "B", Pins: []string{"T1.6", "T2.6"}},
			{Name: "E", Pins: []string{"T1.core", "T2.core"}},
		},
		Outputs: []yokemate.Output{{Name: "out", From: "A", To: "B", Load: &yokemate.Load{Ohms: a.Volts.V / a.Amps.V}}},
	}
}

// slips chooses one of each kind in turn.
func (b *bench) choose(kind int) {
	two := len(b.truth.Units[1].Windings) == 3
	pick := func(s ...string) string { return s[b.rng.IntN(len(s))] }
	late := b.rng.IntN(2) == 0
	switch kind % 9 {
	case 0:
		b.slip = slipTruth{code: "right"}
	case 1:
		w := pick("A", "P")
		p, q := "T2.5", "T2.6"
		if w == "P" {
			p, q = "T2.1", "T2.2"
		}
		b.slip = slipTruth{code: "reversed:T2/" + w, swap: map[string]string{p: q, q: p}}
	case 2:
		p := pick("T1.5", "T2.5", "T1.6", "T2.6")
		b.slip = slipTruth{code: "open:" + p, parted: p, late: late}
	case 3:
		b.slip = slipTruth{code: "unpowered:T2", off: "T2"}
	case 4:
		w := pick("P", "A")
		b.slip = slipTruth{code: "shorted-turn:T2/" + w, short: &network.ShortedTurn{Unit: "T2", Winding: w, Part: 0.03 * math.Pow(8, b.rng.Float64())}}
	case 5:
		b.slip = slipTruth{code: "wrong-feed:T2", phase: "T2"}
	case 6:
		b.slip = slipTruth{code: "fuse-blown", fuse: true}
	case 7:
		if two {
			b.slip = slipTruth{code: "swapped:T2/A,T2/B", swap: map[string]string{"T2.5": "T2.7", "T2.7": "T2.5", "T2.6": "T2.8", "T2.8": "T2.6"}, late: late}
		} else {
			b.slip = slipTruth{code: "right"}
		}
	case 8:
		if two {
			b.slip = slipTruth{code: "wrong-pin:T2.7-for-T2.6", swap: map[string]string{"T2.6": "T2.7"}, late: late}
		} else {
			b.slip = slipTruth{code: "reversed:T1/A", swap: map[string]string{"T1.5": "T1.6", "T1.6": "T1.5"}}
		}
	}
}

func isMade(h *yokemate.Hookup, pin string) bool {
	j := h.Joints.Joint(h.Joints.Of(pin))
	return j != nil && (len(j.Pins) > 1 || j.Name == h.Feed[0].Live || j.Name == h.Feed[0].Neutral)
}

// really is a state with the slip in it.
func (b *bench) really(s *yokemate.Hookup) (*yokemate.Hookup, network.Options) {
	h := s.Clone()
	var opt network.Options
	fed := s.Fed == nil || *s.Fed
	touched := false
	for p := range b.slip.swap {
		if s.Joints.Of(p) != "" && (!b.slip.late || isMade(s, p)) {
			touched = true
		}
	}
	if touched {
		for i := range h.Joints {
			for k, p := range h.Joints[i].Pins {
				if q, ok := b.slip.swap[p]; ok {
					h.Joints[i].Pins[k] = q
				}
			}
		}
	}
	if p := b.slip.parted; p != "" && (b.slip.since == nil || b.at != nil && b.slip.since(b.at)) && s.Joints.Of(p) != "" && (!b.slip.late || isMade(s, p)) {
		opt.Parted = []string{p}
	}
	if fed && b.slip.off != "" {
		for _, p := range []string{b.slip.off + ".1", b.slip.off + ".2"} {
			if s.Joints.Of(p) != "" {
				opt.Parted = append(opt.Parted, p)
			}
		}
	}
	if fed && b.slip.short != nil && slices.Contains(s.Tags(), b.slip.short.Unit) {
		opt.Shorted = []network.ShortedTurn{*b.slip.short}
	}
	if fed && b.slip.fuse {
		off := false
		h.Fed = &off
	}
	if pin := b.slip.phase + ".1"; fed && b.slip.phase != "" {
		if j := h.Joints.Joint("L"); j != nil && len(j.Pins) > 1 && slices.Contains(j.Pins, pin) {
			j.Pins = slices.DeleteFunc(j.Pins, func(p string) bool { return p == pin })
			h.Joints = append(h.Joints, yokemate.Joint{Name: "L2", Pins: []string{pin}})
			f := h.Feed[0]
			f.Degrees, f.Live, f.Ohms = 120, "L2", 1e-3
			h.Feed = append(h.Feed, f)
		}
	}
	if l := b.slip.leak; fed && l > 0 && h.Joints.Of("T1.6") != "" && h.Joints.Of("T2.6") != "" && h.Joints.Of("T1.6") != h.Joints.Of("T2.6") {
		opt.Added = append(opt.Added, network.Branch{From: h.Joints.Of("T1.6"), To: h.Joints.Of("T2.6"), Ohms: l})
	}
	if fed {
		for i := range h.Feed {
			v := b.mains
			if nominal := h.Feed[i].Volts.V; nominal < 50 {
				v = nominal * 1.04 // the low source, as such adapters are
			}
			h.Feed[i].Volts = yokemate.Num(v * (1 + 0.003*b.rng.NormFloat64()))
		}
	}
	return h, opt
}

// read takes one step's reading of the truth.
func (b *bench) read(t testing.TB, s *yokemate.Step) yokemate.AnswerText {
	h, opt := b.really(&s.State)
	m := s.Measure
	if m.Quantity == yokemate.Megohms {
		return "over"
	}
	if m.Quantity == yokemate.VoltsAC {
		// The meter loads what it reads, and the resistor that the step asks for.
		opt.Added = append(opt.Added, network.Branch{From: m.From, To: m.To, Ohms: 10e6})
		if m.BurdenOhms > 0 {
			opt.Added = append(opt.Added, network.Branch{From: m.From, To: m.To, Ohms: m.BurdenOhms})
		}
	}
	if m.Quantity == yokemate.AmpsAC && m.From != "feed" {
		opt.Added = append(opt.Added, network.Branch{From: m.From, To: m.To, Ohms: 0.1})
	}
	n, err := network.Build(network.Compile(b.truth), h, opt)
	if err != nil {
		return yokemate.AnswerText(b.shown(m.Quantity, 0))
	}
	if m.Quantity == yokemate.Ohms {
		r, _, ok := n.Resistance(m.From, m.To)
		if !ok || math.IsInf(r, 1) {
			return "over"
		}
		return yokemate.AnswerText(b.shown(yokemate.Ohms, r+0.02*(2*b.rng.Float64()-1)))
	}
	for k := range n.Units() {
		f := func() float64 { return math.Exp(0.5 * b.rng.NormFloat64()) }
		n.ScaleCapacitance(k, f(), f(), f())
	}
	sol, err := n.Solve(nil)
	if err != nil {
		t.Fatalf("%s: %v", s.ID, err)
	}
	var v float64
	switch m.Quantity {
	case yokemate.VoltsAC:
		p, ok := n.Volts(m.From, m.To)
		if !ok {
			t.Fatalf("%s: no points %s, %s", s.ID, m.From, m.To)
		}
		v = cmplx.Abs(sol.Value(p))
	case yokemate.AmpsAC:
		_, _, v = sol.FeedPower(0)
		if m.From != "feed" {
			p, _ := n.AddedAmps(len(opt.Added) - 1)
			v = cmplx.Abs(sol.Value(p))
		}
	case yokemate.Watts:
		v, _, _ = sol.FeedPower(0)
		v = math.Max(v, 0)
	}
	return yokemate.AnswerText(b.shown(m.Quantity, v))
}

// gapTruth is what really flows if a gap is closed, as a share of the
// smaller rating.
func (b *bench) gapTruth(t testing.TB, s *yokemate.Step) float64 {
	h, opt := b.really(&s.State)
	opt.Added = append(opt.Added, network.Branch{From: s.Measure.From, To: s.Measure.To, Ohms: 0.003})
	n, err := network.Build(network.Compile(b.truth), h, opt)
	if err != nil {
		return math.Inf(1)
	}
	sol, err := n.Solve(nil)
	if err != nil {
		return math.Inf(1)
	}
	p, _ := n.AddedAmps(len(opt.Added) - 1)
	rating := math.Min(b.truth.Units[0].Windings[1].Amps.V, b.truth.Units[1].Windings[1].Amps.V)
	return cmplx.Abs(sol.Value(p)) / rating
}

// gapShare is gapTruth for any hookup: of the smallest rating of a winding
// that the closing current runs through.
func (b *bench) gapShare(t testing.TB, s *yokemate.Step) float64 {
	h, opt := b.really(&s.State)
	run := func(opt network.Options) (*network.Net, *network.Solution) {
		n, err := network.Build(network.Compile(b.truth), h, opt)
		if err != nil {
			return nil, nil
		}
		sol, err := n.Solve(nil)
		if err != nil {
			return nil, nil
		}
		return n, sol
	}
	open, before := run(opt)
	opt.Added = append(opt.Added, network.Branch{From: s.Measure.From, To: s.Measure.To, Ohms: 0.003})
	n, sol := run(opt)
	if n == nil || open == nil {
		return math.Inf(1)
	}
	p, _ := n.AddedAmps(len(opt.Added) - 1)
	through := cmplx.Abs(sol.Value(p))
	least := math.Inf(1)
	for k := range n.Units() {
		u := n.UnitFacts(k)
		for w := range u.Windings {
			if cmplx.Abs(sol.Value(n.WindingAmps(k, w))-before.Value(open.WindingAmps(k, w))) > 0.5*through {
				least = math.Min(least, u.Limits[w].Amps)
			}
		}
	}
	return through / least
}

func abs(z complex128) float64 { return cmplx.Abs(z) }

type outcome struct {
	wrongGo, named, alarm, finished bool
	moot                            bool // rightly stopped for its unequal volts before the slip could show
	trail                           string
}

// session answers a proof step by step until it ends or a verdict other
// than go falls.
func session(t testing.TB, b *bench) outcome {
	p, err := prove.New(network.Compile(b.known), b.hookup(), prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	var o outcome
	unsure := 0
	for range 80 {
		id := s.Next()
		if id == "" {
			o.finished = s.State() == yokemate.ProofGood
			return o
		}
		step := p.Bare(id)
		a := yokemate.Answer{Step: id, Value: b.read(t, step)}
		if step.State.Feed[0].Volts.V == 230 && (step.State.Fed == nil || *step.State.Fed) && !b.slip.fuse {
			x, _ := yokemate.Read(b.shown(yokemate.VoltsAC, b.mains))
			a.FeedVolts = x
		}
		v, err := s.Take(a)
		if err != nil {
			t.Fatal(err)
		}
		o.trail += fmt.Sprintf("  %s = %s: %s (right %.3f) %s\n", id, a.Value, v.Verdict, v.Right, v.Words)
		if v.Verdict == "go" && strings.HasPrefix(id, "gap-") {
			if share := b.gapTruth(t, step); share > 0.15 {
				o.wrongGo = true
				o.trail += fmt.Sprintf("  closing it drives %.2f of the rating\n", share)
				return o
			}
		}
		if v.Verdict == "unsure" && unsure < 3 {
			unsure++
			continue // take the reading it asks for
		}
		if v.Verdict != "go" {
			// A gap that the slip does not touch and that would carry too much is a
			// true stop.
			h, opt := b.really(&step.State)
			untouched := fmt.Sprint(h.Joints) == fmt.Sprint(step.State.Joints) && len(h.Feed) == 1 && len(opt.Parted)+len(opt.Shorted) == 0
			o.moot = strings.HasPrefix(id, "gap-") && untouched && b.gapTruth(t, step) > 0.10
			o.alarm = !o.moot
			for _, x := range v.Slips {
				if x.Probability < 0.3 {
					break
				}
				if x.Code == b.slip.code || slices.Contains(x.Same, b.slip.code) {
					o.named = true
				}
			}
			for _, x := range v.Slips {
				o.trail += fmt.Sprintf("      %.4f %s %v\n", x.Probability, x.Code, x.Same)
			}
			return o
		}
	}
	return o
}

// TestFaultInjection runs whole proofs on simulated benches. Limits: no go on
// a gap that would carry more than 15 % of the smaller rating, ever; the
// right slip, or the class that no reading tells apart, named in 95 %; false
// alarms under 2 % (common practice for the 15 %; the rest is the project's
// own bar).
//
// No wrong go in n sessions bounds their rate at 3/n with 95 % confidence (rule
// of three, closed form of the binomial): 0.4 % by default, 0.08 % with
// -cases 2000. Each case has a seed of its own, so a run says the same each time.
func TestFaultInjection(t *testing.T) {
	cases := *cases
	if testing.Short() {
		cases = 18
	}
	for _, c := range []struct {
		name  string
		mains func(*rand.Rand) float64
	}{
		{"nominal mains", func(*rand.Rand) float64 { return 230 }},
		{"mains 8 % off", func(r *rand.Rand) float64 { return 230 * (1 + 0.16*(r.Float64()-0.5)) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var mu sync.Mutex
			var wg sync.WaitGroup
			count := map[string][3]int{} // per kind: cases, named, wrong go
			var right, alarms, slips, named, wrong, moot, shown int
			next := make(chan int)
			for range runtime.GOMAXPROCS(0) {
				wg.Go(func() {
					for i := range next {
						b := newBench(uint64(i))
						b.mains = c.mains(b.rng)
						b.choose(i)
						o := session(t, b)
						kind, _, _ := strings.Cut(b.slip.code, ":")
						mu.Lock()
						k := count[kind]
						k[0]++
						bad := false
						if b.slip.code == "right" {
							right++
							if o.alarm {
								alarms++
								bad = true
							}
							k[1]++
						} else if o.moot {
							moot++
						} else {
							slips++
							if o.named {
								named++
								k[1]++
							} else {
								bad = true
							}
						}
						if o.wrongGo {
							wrong++
							k[2]++
							bad = true
							t.Errorf("case %d, %s: go on a gap that is not safe\n%s", i, b.slip.code, o.trail)
						}
						if bad && shown < 12 && testing.Verbose() {
							shown++
							t.Logf("case %d, %s (%.3g):\n%s", i, b.slip.code, part(b), o.trail)
						}
						count[kind] = k
						mu.Unlock()
					}
				})
			}
			for i := range cases {
				next <- i
			}
			close(next)
			wg.Wait()
			t.Logf("%d right: %d false alarms; %d slips: %d named; %d wrong goes; %d stopped rightly before the slip could show; by kind %v", right, alarms, slips, named, wrong, moot, count)
			if float64(alarms) > 0.02*float64(right) {
				t.Errorf("%d false alarms in %d", alarms, right)
			}
			if float64(named) < 0.95*float64(slips) {
				t.Errorf("named %d of %d slips", named, slips)
			}
		})
	}
}

// Causes that are on no list: a stray resistance across the gap with leads
// right or wrong, another unit than the shelf's, two slips at once. Nothing
// need be named; no gap may be closed that carries more than 15 %.
func TestCausesOutsideTheList(t *testing.T) {
	t.Parallel()
	cases := 100
	if testing.Short() {
		cases = 8
	}
	goes := 0
	for i := range cases {
		b := newBench(uint64(9000 + i))
		rev := map[string]string{"T2.5": "T2.6", "T2.6": "T2.5"}
		switch i % 4 {
		case 0:
			b.slip = slipTruth{code: "leak", swap: rev, leak: math.Pow(10, 4*b.rng.Float64())}
		case 1:
			b.slip = slipTruth{code: "leak", leak: math.Pow(10, 4*b.rng.Float64())}
		case 2:
			w := &b.truth.Units[1].Windings[1]
			w.Volts = yokemate.Num(w.Volts.V * (0.5 + 0.48*b.rng.Float64()))
			b.slip = slipTruth{code: "another unit"}
		case 3:
			b.slip = slipTruth{code: "two at once", swap: rev, parted: []string{"T1.5", "T1.6", "T2.1"}[b.rng.IntN(3)], late: b.rng.IntN(2) == 0}
		}
		o := session(t, b)
		if o.wrongGo {
			t.Errorf("case %d, %s: go on a gap that is not safe\n%s", i, b.slip.code, o.trail)
		}
		if o.finished {
			goes++
		}
	}
	t.Logf("%d of %d proved good: the ones whose cause hurts nothing", goes, cases)
}

func part(b *bench) float64 {
	if b.slip.short != nil {
		return b.slip.short.Part
	}
	return 0
}
