package prove_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// workshop is an invented shelf for whole proofs: a unit of two mains coils
// and two secondaries, a plain one, and a tapped one.
func workshop() *yokemate.Shelf {
	return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		{Tag: "D1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P1", "P2"}}, VA: yokemate.Num(30),
			Windings: []yokemate.Winding{
				{ID: "P1", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(115), Ohms: yokemate.Num(38)},
				{ID: "P2", Pins: [2]string{"3", "4"}, Volts: yokemate.Num(115), Ohms: yokemate.Num(41)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(16.9), Ohms: yokemate.Num(0.9), Amps: yokemate.Num(0.9)},
				{ID: "B", Pins: [2]string{"7", "8"}, Volts: yokemate.Num(16.9), Ohms: yokemate.Num(0.95), Amps: yokemate.Num(0.9)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P1", "P2"}, Volts: yokemate.Num(230), Hertz: 50, Amps: yokemate.Num(0.031), Watts: yokemate.Num(2.9)}}},
		{Tag: "S1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: yokemate.Num(22),
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: yokemate.Num(160)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(14), Ohms: yokemate.Num(0.9), Amps: yokemate.Num(1.6)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(230), Hertz: 50, Amps: yokemate.Num(0.034), Watts: yokemate.Num(2.2)}}},
		{Tag: "S2", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}, VA: yokemate.Num(22),
			Windings: []yokemate.Winding{
				{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(230), Ohms: yokemate.Num(165)},
				{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(14.02), Ohms: yokemate.Num(0.92), Amps: yokemate.Num(1.6)},
				{ID: "B", Pins: [2]string{"6", "7"}, Volts: yokemate.Num(5.1), Ohms: yokemate.Num(0.4), Amps: yokemate.Num(1.6)},
			},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(230), Hertz: 50, Amps: yokemate.Num(0.033), Watts: yokemate.Num(2.3)}}},
		{Tag: "H1", Mains: &yokemate.Mains{Volts: 115, Hertz: 50, Series: []string{"P"}}, VA: yokemate.Num(10), Windings: half(60), Excitation: halfIdle(0.031)},
		{Tag: "H2", Mains: &yokemate.Mains{Volts: 115, Hertz: 50, Series: []string{"P"}}, VA: yokemate.Num(10), Windings: half(61), Excitation: halfIdle(0.030)},
	}}
}

func halfIdle(amps float64) yokemate.ExcitationList {
	return yokemate.ExcitationList{{Series: []string{"P"}, Volts: yokemate.Num(115), Hertz: 50, Amps: yokemate.Num(amps), Watts: yokemate.Num(1.3)}}
}

func half(ohms float64) []yokemate.Winding {
	return []yokemate.Winding{
		{ID: "P", Pins: [2]string{"1", "2"}, Volts: yokemate.Num(115), Ohms: yokemate.Num(ohms)},
		{ID: "A", Pins: [2]string{"5", "6"}, Volts: yokemate.Num(9), Ohms: yokemate.Num(0.8), Amps: yokemate.Num(1)},
	}
}

func joints(list ...string) (js yokemate.Joints) {
	for _, s := range list {
		name, pins, _ := strings.Cut(s, ": ")
		js = append(js, yokemate.Joint{Name: name, Pins: strings.Fields(pins)})
	}
	return js
}

func hookup(name string, volts, low, high float64, load float64, from, to string, js yokemate.Joints) *yokemate.Hookup {
	return &yokemate.Hookup{
		Format: yokemate.HookupFormat, Name: name, Earth: "E", Joints: js,
		Feed:    yokemate.Feeds{{Volts: yokemate.Num(volts), Low: low, High: high, Hertz: 50, Live: "L", Neutral: "N", FuseAmps: 0.5, FuseKind: "T"}},
		Outputs: []yokemate.Output{{Name: "out", From: from, To: to, Load: &yokemate.Load{Ohms: load}}},
	}
}

func hookups() []*yokemate.Hookup {
	return []*yokemate.Hookup{
		hookup("one winding", 230, 207, 253, 12, "A", "B", joints("L: S1.1", "N: S1.2", "A: S1.5", "B: S1.6", "E: S1.core")),
		hookup("mains coils and secondaries in series", 230, 207, 253, 40, "A", "B", joints("L: D1.1", "M: D1.2 D1.3", "N: D1.4", "A: D1.5", "C: D1.6 D1.7", "B: D1.8", "E: D1.core")),
		hookup("mains coils and secondaries in parallel", 115, 104, 126, 12, "A", "B", joints("L: D1.1 D1.3", "N: D1.2 D1.4", "A: D1.5 D1.7", "B: D1.6 D1.8", "E: D1.core")),
		hookup("two units in parallel", 230, 207, 253, 6, "A", "B", joints("L: S1.1 S2.1", "N: S1.2 S2.2", "A: S1.5 S2.5", "B: S1.6 S2.6", "E: S1.core S2.core")),
		hookup("two units in series", 230, 207, 253, 25, "A", "B", joints("L: S1.1 S2.1", "N: S1.2 S2.2", "A: S1.5", "C: S1.6 S2.5", "B: S2.6", "E: S1.core S2.core")),
		hookup("opposition", 230, 207, 253, 4, "A", "B", joints("L: S1.1 D1.1", "M: D1.2 D1.3", "N: S1.2 D1.4", "A: D1.5", "C: D1.6 S1.6", "B: S1.5", "E: S1.core D1.core")),
		hookup("boost", 230, 207, 240, 500, "O", "N", joints("L: S1.1 S1.6", "N: S1.2", "O: S1.5", "E: S1.core")),
		hookup("back to back", 230, 207, 253, 6000, "X", "Z", joints("L: S1.1", "N: S1.2", "A: S1.5 D1.5", "B: S1.6 D1.6", "X: D1.1", "Y: D1.2 D1.3", "Z: D1.4", "E: S1.core D1.core")),
		hookup("primaries in series, secondaries tied", 230, 207, 253, 10, "A", "B", joints("L: H1.1", "M: H1.2 H2.1", "N: H2.2", "A: H1.5 H2.5", "B: H1.6 H2.6", "E: H1.core H2.core")),
	}
}

// exact is a bench without meter error whose units are what the shelf says.
func exact(s *yokemate.Shelf, mains float64) *bench {
	known := *s
	known.Meters = []yokemate.Meter{benchMeter()}
	return &bench{rng: rand.New(rand.NewPCG(1, 1)), truth: s, known: &known, gain: map[string]float64{}, mains: mains}
}

// Every kind of hookup whose leads are right proves good, and every step has
// an id of its own, a state that is a hookup by itself, and points to read at.
func TestRightProvesGood(t *testing.T) {
	for _, h := range hookups() {
		t.Run(h.Name, func(t *testing.T) {
			b := exact(workshop(), h.Feed[0].Volts.V)
			p, err := prove.New(network.Compile(b.known), h, prove.Options{})
			if err != nil {
				t.Fatal(err)
			}
			s := p.Session()
			var trail strings.Builder
			for range 80 {
				id := s.Next()
				if id == "" {
					break
				}
				step := p.Step(id)
				if err := step.State.Validate(); err != nil {
					t.Fatalf("%s: its state is no hookup: %v", id, err)
				}
				v, err := s.Take(yokemate.Answer{Step: id, Value: b.read(t, step)})
				if err != nil {
					t.Fatal(err)
				}
				fmt.Fprintf(&trail, "%s %s %.3f %s\n", id, v.Verdict, v.Right, v.Words)
				if v.Verdict == "stop" || v.Verdict == "change" {
					break
				}
			}
			if s.State() != yokemate.ProofGood {
				t.Errorf("%s\n%s", s.State(), trail.String())
			}
			ids := map[string]bool{}
			for _, x := range s.Proof().Steps {
				if ids[x.ID] {
					t.Errorf("two steps are named %s", x.ID)
				}
				ids[x.ID] = true
			}
		})
	}
}

// truth makes the bench's slip of a slip code, in its late guise where it has one.
func truth(code string, s *yokemate.Shelf, late bool) (slipTruth, bool) {
	x := slipTruth{code: code, late: late}
	kind, arg, _ := strings.Cut(code, ":")
	ends := func(name string) [2]string {
		tag, id, _ := yokemate.SplitWinding(name)
		p := s.Unit(tag).Winding(id).Pins
		return [2]string{tag + "." + p[0], tag + "." + p[1]}
	}
	switch kind {
	case "reversed":
		e := ends(arg)
		x.swap, x.late = map[string]string{e[0]: e[1], e[1]: e[0]}, false
	case "swapped":
		a, c, _ := strings.Cut(arg, ",")
		p, q := ends(a), ends(c)
		x.swap = map[string]string{p[0]: q[0], q[0]: p[0], p[1]: q[1], q[1]: p[1]}
	case "wrong-pin":
		bad, good, _ := strings.Cut(arg, "-for-")
		x.swap = map[string]string{good: bad}
	case "open":
		x.parted = arg
	default:
		return x, false
	}
	return x, true
}

// Whatever lead is wrong in whatever hookup, no gap may be closed that drives
// more than 15 % of the smallest rating, and a proof ends good only where the
// finished hookup is what was wanted: its loaded output within 3 % of the
// right one's.
func TestEverySlipOfEveryHookup(t *testing.T) {
	t.Parallel()
	list := hookups()
	if testing.Short() {
		list = list[2:4] // coils and units in parallel, where a slip is a short
	}
	for _, h := range list {
		t.Run(h.Name, func(t *testing.T) {
			shelf := workshop()
			b := exact(shelf, h.Feed[0].Volts.V)
			p, err := prove.New(network.Compile(b.known), h, prove.Options{})
			if err != nil {
				t.Fatal(err)
			}
			codes := map[string]bool{}
			steps := p.Session().Proof().Steps
			for _, s := range steps {
				for _, x := range s.Slips {
					codes[x.Code] = true
				}
			}
			for code := range codes {
				for _, late := range []bool{false, true} {
					slip, ok := truth(code, shelf, late)
					if !ok {
						continue
					}
					b.slip = slip
					s := p.Session()
					var trail strings.Builder
					unsure := 0
				proof:
					for range 80 {
						id := s.Next()
						if id == "" {
							break
						}
						step := p.Bare(id)
						a := yokemate.Answer{Step: id, Value: b.read(t, step)}
						v, err := s.Take(a)
						if err != nil {
							t.Fatal(err)
						}
						fmt.Fprintf(&trail, "%s = %s: %s %.3f %s\n", id, a.Value, v.Verdict, v.Right, v.Words)
						switch {
						case v.Verdict == "go" && strings.HasPrefix(id, "gap-") && !strings.Contains(h.Name, "back to back"):
							if share := b.gapShare(t, step); share > 0.15 {
								t.Fatalf("%s, late %v: go on a gap that drives %.2f of the rating\n%s", code, late, share, trail.String())
							}
						case v.Verdict == "unsure" && unsure < 5:
							unsure++
						case v.Verdict != "go":
							break proof
						}
					}
					if s.State() == yokemate.ProofGood {
						last := steps[len(steps)-1]
						for _, x := range steps {
							if strings.HasPrefix(x.ID, "load-") {
								last = x
							}
						}
						want := b.loaded(t, &last.State, slipTruth{})
						if got := b.loaded(t, &last.State, slip); got < 0.97*want || got > 1.03*want {
							t.Errorf("%s, late %v: proved good, and gives %.4g V where %.4g V was wanted\n%s", code, late, got, want, trail.String())
						}
					}
				}
			}
		})
	}
}

func (b *bench) loaded(t *testing.T, s *yokemate.Hookup, slip slipTruth) float64 {
	was := b.slip
	b.slip = slip
	defer func() { b.slip = was }()
	h, opt := b.really(s)
	h.Feed[0].Volts = s.Feed[0].Volts
	n, err := network.Build(network.Compile(b.truth), h, opt)
	if err != nil {
		return 0
	}
	sol, err := n.Solve(nil)
	if err != nil {
		return 0
	}
	p, _ := n.Volts(h.Outputs[0].From, h.Outputs[0].To)
	v := sol.Value(p)
	return abs(v)
}

// A gap reading that no world foresees is never a go, whatever it is: between
// right and reversed there is nothing.
func TestGapThatFitsNothing(t *testing.T) {
	h := hookups()[3]
	b := exact(workshop(), 230)
	p, err := prove.New(network.Compile(b.known), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	before := []yokemate.Answer{}
	s := p.Session()
	for s.Next() != "gap-B" {
		a := yokemate.Answer{Step: s.Next(), Value: b.read(t, p.Step(s.Next()))}
		before = append(before, a)
		if _, err := s.Take(a); err != nil {
			t.Fatal(err)
		}
		if len(before) > 60 {
			t.Fatal("the gap is never reached")
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0.6, 60).Draw(t, "gap")
		s := p.Session()
		for _, a := range before {
			if _, err := s.Take(a); err != nil {
				t.Fatal(err)
			}
		}
		got, err := s.Take(yokemate.Answer{Step: "gap-B", Value: yokemate.AnswerText(fmt.Sprintf("%.2f", v))})
		if err != nil {
			t.Fatal(err)
		}
		if got.Verdict == "go" {
			t.Fatalf("go at %.2f V: %s", v, got.Words)
		}
	})
}

// A reversed lead is found, named, changed, read again and proved.
func TestChangeAndGoOn(t *testing.T) {
	h := hookups()[3]
	shelf := workshop()
	b := exact(shelf, 230)
	b.slip, _ = truth("reversed:S1/A", shelf, false)
	p, err := prove.New(network.Compile(b.known), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	changed := false
	for range 80 {
		id := s.Next()
		if id == "" {
			break
		}
		v, err := s.Take(yokemate.Answer{Step: id, Value: b.read(t, p.Step(id))})
		if err != nil {
			t.Fatal(err)
		}
		if v.Verdict == "change" {
			if id != "gap-B" || !strings.HasPrefix(v.Changed, "reversed:") {
				t.Fatalf("at %s: change %s", id, v.Changed)
			}
			changed = true
			b.slip = slipTruth{}
			if _, err := s.Take(yokemate.Answer{Changed: "reversed:S1/A"}); err != nil {
				t.Fatal(err)
			}
			// The joint that was made with the moved lead is proved again first.
			if got := s.Next(); got != "joint-A" {
				t.Fatalf("after the change the next step is %s, not joint-A", got)
			}
		}
	}
	if !changed || s.State() != yokemate.ProofGood {
		t.Errorf("changed %v, proof %s", changed, s.State())
	}
}

// A gap read before the joint behind it is proved is no go, however right it
// looks; the next step is that joint.
func TestGapBeforeItsJoint(t *testing.T) {
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	v, err := s.Take(yokemate.Answer{Step: "gap-B", Value: "0.02"})
	if err != nil {
		t.Fatal(err)
	}
	if v.Verdict != "unsure" || s.Next() != "joint-A" {
		t.Errorf("verdict %s, next %s: %s", v.Verdict, s.Next(), v.Words)
	}
}

func TestAnswersThatCannotBe(t *testing.T) {
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range []yokemate.Answer{
		{Step: "no-such-step", Value: "1"},
		{Step: "ohms-S1-P", Value: "about ten"},
		{Step: "ohms-S1-P", Value: "-3"},
		{Changed: "reversed:S9/A"},
	} {
		if _, err := p.Judge([]yokemate.Answer{a}); err == nil {
			t.Errorf("%+v was taken", a)
		} else if yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%+v: %v", a, err)
		}
	}
}

// A stop is passed only with a reason, and at a gap not even then.
func TestStopNeedsAReason(t *testing.T) {
	p, err := prove.New(network.Compile(workshop()), hookups()[3], prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	good := []yokemate.Answer{{Step: "ohms-S1-P", Value: "160.0"}, {Step: "ohms-S1-A", Value: "0.9"}, {Step: "insulation-S1", Value: "0.4"}}
	pr, err := p.Judge(good)
	if err != nil {
		t.Fatal(err)
	}
	if pr.Proof != yokemate.ProofStopped || pr.Next != nil {
		t.Errorf("0.4 MΩ left the proof %s", pr.Proof)
	}
}

// An earth bond of more than a tenth of an ohm is no go (common practice); a
// range too coarse to tell says so.
func TestEarthBond(t *testing.T) {
	h := hookups()[0]
	b := exact(workshop(), 230)
	p, err := prove.New(network.Compile(b.known), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ value, verdict, words string }{
		{"0.0", "go", "good"}, {"0.1", "go", "good"}, {"0.3", "go", "Not proven"}, {"0.9", "change", "not bonded"}, {"over", "change", "not bonded"},
	} {
		v, err := p.Session().Take(yokemate.Answer{Step: "earth-S1", Value: yokemate.AnswerText(c.value)})
		if err != nil {
			t.Fatal(err)
		}
		if v.Verdict != c.verdict || !strings.Contains(v.Words, c.words) {
			t.Errorf("%s Ω: %s, %s", c.value, v.Verdict, v.Words)
		}
	}
}
