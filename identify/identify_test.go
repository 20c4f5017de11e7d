package identify

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"yokemate"
	"yokemate/schema"
)

var structureOnly = Options{Want: []Ask{Windings, Dots}}

// TestSimulatedTruth: 1,000 random units measured by a bench with a cheap
// meter's errors.
func TestSimulatedTruth(t *testing.T) {
	const units = 1000
	right, wrongCertain, readings := 0, 0, 0
	for i := range units {
		u := newTruth(rand.New(rand.NewPCG(1, uint64(i))), 9)
		a, err := u.run(structureOnly, 80)
		if err != nil {
			t.Fatal(err)
		}
		readings += len(u.given)
		_, all := u.right(a)
		switch {
		case all && a.Certain:
			right++
		case a.Certain:
			wrongCertain++
			t.Errorf("unit %d: said to be certain, and wrong: wires %v, found %v", i, u.wires, a.Open[0].Words)
		default:
			t.Logf("unit %d: open after %d readings: wires %v ohms %.3g volts %.3g, %.3f for %s", i, len(u.given), u.wires, u.ohms, u.volts, a.Open[0].Probability, a.Open[0].Words)
		}
	}
	t.Logf("right and certain %d of %d, wrong and certain %d, %.1f readings a unit", right, units, wrongCertain, float64(readings)/units)
	if right < units*98/100 {
		t.Errorf("right in %d of %d", right, units)
	}
}

// TestCarelessBench: one continuity reading in 200 taken on lacquer, one volts
// reading in 100 with a clip off. What is wrong must not be said to be certain.
func TestCarelessBench(t *testing.T) {
	const units = 300
	right, wrongCertain, slips := 0, 0, 0
	for i := range units {
		u := newTruth(rand.New(rand.NewPCG(7, uint64(i))), 9)
		u.careless = true
		a, err := u.run(Options{}, 100)
		if err != nil {
			t.Fatal(err)
		}
		slips += u.slips
		_, all := u.right(a)
		switch {
		case all:
			right++
		case a.Certain:
			wrongCertain++
			t.Logf("unit %d: said to be certain, and wrong: wires %v, found %v", i, u.wires, a.Open[0].Words)
		}
	}
	t.Logf("%d slips of the hand: right %d of %d, wrong and certain %d", slips, right, units, wrongCertain)
	if slips < units/20 {
		t.Errorf("only %d slips: the test tells nothing", slips)
	}
	// The wanted confidence is 0.99.
	if wrongCertain > units/100 || right < units*95/100 {
		t.Errorf("right %d of %d, wrong and certain %d", right, units, wrongCertain)
	}
}

// TestCoverage: how often the 95 % intervals of measured facts hold the truth.
func TestCoverage(t *testing.T) {
	type count struct{ n, in int }
	by := map[string]*count{}
	tally := func(key string, in bool) {
		if by[key] == nil {
			by[key] = &count{}
		}
		by[key].n++
		if in {
			by[key].in++
		}
	}
	for i := range 500 {
		u := newTruth(rand.New(rand.NewPCG(3, uint64(i))), 9)
		a, err := u.run(Options{}, 80)
		if err != nil {
			t.Fatal(err)
		}
		if _, right := u.right(a); !right {
			continue
		}
		if a.Shelf == nil {
			t.Errorf("unit %d: right, and no unit for the shelf", i)
			continue
		}
		for _, f := range a.Facts {
			if f.Basis != yokemate.Measured {
				continue
			}
			w := a.Shelf.Winding(f.About)
			var want float64
			key := f.Name
			switch f.Name {
			case "ohms":
				want = math.Abs(u.along(u.pin(w.Pins[0]), u.ohms) - u.along(u.pin(w.Pins[1]), u.ohms))
				if f.Value < 2 {
					key = "ohms below 2 Ω"
				}
			case "volts":
				if f.High-f.Low < 1e-3*f.Value {
					continue // the fed winding: its volts are the definition
				}
				want = u.trueVolts(a.Shelf, w.Pins)
				if f.Value < 2 {
					key = "volts below 2 V"
				}
			default:
				t.Fatalf("no truth for %s", f.Name)
			}
			tally(key, f.Low <= want && want <= f.High)
			tally("pooled", f.Low <= want && want <= f.High)
		}
	}
	for k, c := range by {
		share := float64(c.in) / float64(c.n)
		t.Logf("%s: %d of %d, %.3f", k, c.in, c.n, share)
		if share < 0.93 || k == "pooled" && share > 0.97 {
			t.Errorf("%s: the interval covers %.3f", k, share)
		}
	}
}

// TestKnee: excitation curves read up to the knee, with everything asked. The
// interval of the knee holds the truth, volts above the low source come
// only onto a winding whose insulation was read, and the mains volts are told.
func TestKnee(t *testing.T) {
	in, n, mains, far := 0, 0, 0, 0
	for i := range 120 {
		u := newTruth(rand.New(rand.NewPCG(5, uint64(i))), 7)
		u.meter.TrueRMS = true
		a, err := u.run(Options{Want: []Ask{Windings, Dots, Ohms, Volts, Insulation, Excitation}}, 150)
		if err != nil {
			t.Fatal(err)
		}
		high := 0.0
		for _, f := range a.Facts {
			if f.Name == "knee_volts" {
				n++
				at := kneeVolts(u.curve) * u.fedVolts()
				if f.Low <= at && at <= f.High {
					in++
				}
				if u.fedVolts() > 0.98*u.mains { // a whole mains side, not one of two coils
					mains++
					for _, d := range a.Facts {
						if d.Name == "design_volts" && (u.mains < d.Low || u.mains > d.High) {
							far++
						}
					}
				}
			}
		}
		for _, r := range u.given {
			if r.Excited != nil {
				high = math.Max(high, r.Excited.Volts.V)
			}
		}
		if high > 1.5*276 {
			t.Errorf("unit %d: %g V asked", i, high)
		}
	}
	t.Logf("knee: %d of %d in the interval; label outside the design band in %d of %d", in, n, far, mains)
	if n < 60 || float64(in) < 0.9*float64(n) {
		t.Errorf("knee in the interval in %d of %d", in, n)
	}
	if mains < 30 || far > mains/10 {
		t.Errorf("label outside the design band in %d of %d", far, mains)
	}
}

// TestSafeOrder: nothing is fed before the wires are linked and shown apart
// from the core, and nothing above the low source before the insulation was read.
func TestSafeOrder(t *testing.T) {
	for i := range 60 {
		u := newTruth(rand.New(rand.NewPCG(11, uint64(i))), 8)
		u.meter.TrueRMS = true
		if _, err := u.run(Options{Want: []Ask{Windings, Dots, Ohms, Volts, Insulation, Excitation}}, 150); err != nil {
			t.Fatal(err)
		}
		core, megohms := false, 0
		linked := map[string]bool{}
		for k, r := range u.given {
			core = core || r.Quantity == yokemate.Ohms && r.To == yokemate.CorePin && r.Value == "open"
			if r.Quantity == yokemate.Megohms {
				megohms++
			}
			if r.Quantity == yokemate.Ohms && r.Value != "open" {
				linked[r.From], linked[r.To] = true, true
			}
			if r.Excited == nil {
				continue
			}
			if !core {
				t.Fatalf("unit %d: reading %d feeds a unit whose core was not read", i, k)
			}
			for _, s := range r.Excited.Series {
				from, to, _ := strings.Cut(s, ":")
				if !linked[from] || !linked[to] {
					t.Fatalf("unit %d: reading %d feeds %s, which no ohms link", i, k, s)
				}
			}
			if r.Excited.Volts.V > 25 && megohms < len(u.wires) {
				t.Fatalf("unit %d: reading %d puts %g V on a unit with %d insulation readings", i, k, r.Excited.Volts.V, megohms)
			}
		}
	}
}

func reading(id string, q yokemate.Quantity, from, to, value string) yokemate.Reading {
	c := 20.0
	return yokemate.Reading{ID: id, Quantity: q, From: from, To: to, Value: value, Celsius: &c}
}

func fed(r yokemate.Reading, series string, volts string, joined ...string) yokemate.Reading {
	v, err := yokemate.Read(volts)
	if err != nil {
		panic(err)
	}
	r.Celsius = nil
	r.Excited = &yokemate.Excited{Series: strings.Split(series, "+"), Volts: v, Hertz: 50}
	r.Joined = joined
	return r
}

func identify(t *testing.T, opt Options, pins string, readings ...yokemate.Reading) *yokemate.Identification {
	t.Helper()
	for i := range readings {
		if readings[i].ID == "" {
			readings[i].ID = "r" + strconv.Itoa(i+1)
		}
	}
	u := &yokemate.Unit{Tag: "T1", Terminals: strings.Fields(pins), Readings: readings}
	if err := u.Validate(); err != nil {
		t.Fatal(err)
	}
	a, err := Identify(u, nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func hasNote(a *yokemate.Identification, code yokemate.NoteCode, level yokemate.Level, words string) bool {
	return slices.ContainsFunc(a.Notes, func(n yokemate.Note) bool {
		return n.Code == code && n.Level == level && strings.Contains(n.Words, words)
	})
}

func factOf(t *testing.T, a *yokemate.Identification, about, name string) yokemate.Fact {
	t.Helper()
	for _, f := range a.Facts {
		if f.About == about && f.Name == name {
			return f
		}
	}
	t.Fatalf("no %s of %s among %+v", name, about, a.Facts)
	return yokemate.Fact{}
}

const (
	ohms  = yokemate.Ohms
	volts = yokemate.VoltsAC
)

// Two readings of a tapped winding leave two orders, unless halves are near
// equal; the third settles them.
func TestTapsAndHalves(t *testing.T) {
	two := identify(t, structureOnly, "1 2 3", reading("", ohms, "1", "2", "100.4"), reading("", ohms, "2", "3", "40.1"))
	if two.Certain || len(two.Open) < 2 || two.Open[1].Probability < 0.1 {
		t.Errorf("two unlike readings settle the order: %+v", two.Open)
	}
	if two.Next == nil || two.Next.From+two.Next.To != "13" && two.Next.From+two.Next.To != "31" {
		t.Errorf("next is %+v, want the pair not read", two.Next)
	}
	halves := identify(t, structureOnly, "1 2 3", reading("", ohms, "1", "2", "50.4"), reading("", ohms, "2", "3", "51.3"))
	if p := halves.Open[0].Probability; p < 0.8 || !slices.Equal(halves.Open[0].Wires[0], []string{"1", "2", "3"}) {
		t.Errorf("near-equal halves: %+v", halves.Open)
	}
	three := identify(t, structureOnly, "1 2 3", reading("", ohms, "1", "2", "100.4"), reading("", ohms, "2", "3", "40.1"), reading("", ohms, "1", "3", "60.7"))
	if !three.Certain || !slices.Equal(three.Open[0].Wires[0], []string{"1", "3", "2"}) {
		t.Errorf("three readings: %+v", three.Open)
	}
}

// A winding under the leads' ohms is told by millivolts at 1 A.
func TestNearZero(t *testing.T) {
	readings := []yokemate.Reading{reading("", ohms, "1", "2", "0.3"), reading("", ohms, "2", "3", "0.2"), reading("", ohms, "1", "3", "0.3")}
	a := identify(t, structureOnly, "1 2 3", readings...)
	if a.Certain || a.Next == nil || a.Next.Quantity != yokemate.Millivolts {
		t.Fatalf("certain %v, next %+v", a.Certain, a.Next)
	}
	// By hand: 12.0 + 30.5 = 42.5.
	readings = append(readings, reading("", yokemate.Millivolts, "1", "2", "30.5"), reading("", yokemate.Millivolts, "2", "3", "42.5"), reading("", yokemate.Millivolts, "1", "3", "12.0"))
	a = identify(t, Options{Want: []Ask{Windings, Ohms}}, "1 2 3", readings...)
	if !a.Certain || !slices.Equal(a.Open[0].Wires[0], []string{"2", "1", "3"}) {
		t.Errorf("millivolts do not settle it: %+v", a.Open)
	}
	near(t, "milliohms", factOf(t, a, "A1", "ohms").Value, 0.0305, 0.0003)
	none := identify(t, Options{Want: []Ask{Windings, Dots}, NoMillivolts: true}, "1 2 3", readings[:3]...)
	if none.Next != nil && none.Next.Quantity == yokemate.Millivolts {
		t.Errorf("no supply at hand, and asked for millivolts")
	}
}

// A unit with a winding on its core is a stop, and nothing more is read.
func TestCoreJoined(t *testing.T) {
	a := identify(t, Options{}, "1 2 3", reading("", ohms, "1", "2", "2.1"), reading("", ohms, "3", "core", "110"))
	if a.Next != nil || a.Certain || !hasNote(a, yokemate.CoreJoined, yokemate.Stop, "microwave-oven") {
		t.Errorf("next %+v, notes %+v", a.Next, a.Notes)
	}
	leak := identify(t, Options{}, "1 2 3 4", reading("", ohms, "1", "2", "300"), reading("", ohms, "3", "4", "3.1"), reading("", ohms, "1", "3", "800000"))
	if leak.Next != nil || leak.Certain || !hasNote(leak, yokemate.NotProven, yokemate.Stop, "below 2 MΩ reject") {
		t.Errorf("a leak of 0.8 MΩ: next %+v, notes %+v", leak.Next, leak.Notes)
	}
}

// Hand-computed: 230 V : 12 V fed with 11.90 V reads 0.621 V; tied it reads
// 12.52 or 11.28 V.
func unit230(last string) []yokemate.Reading {
	return []yokemate.Reading{
		reading("", ohms, "1", "2", "402"), reading("", ohms, "3", "4", "1.9"), reading("", ohms, "1", "3", "open"),
		{Quantity: ohms, From: "1", To: "core", Value: "open", Joined: []string{"1", "3"}},
		fed(reading("", volts, "3", "4", "0.621"), "1:2", "11.90"),
		fed(reading("", volts, "1", "4", last), "1:2", "11.90", "2", "3"),
	}
}

// coarse asks all but ohms better than the ohmmeter's.
var coarse = Options{Want: []Ask{Windings, Dots, Volts}}

func TestDots(t *testing.T) {
	alike := identify(t, coarse, "1 2 3 4", unit230("12.52")...)
	opposed := identify(t, coarse, "1 2 3 4", unit230("11.28")...)
	neither := identify(t, coarse, "1 2 3 4", unit230("5.10")...)
	if !alike.Certain || alike.Windings[1].Pins != [2]string{"3", "4"} {
		t.Errorf("sum: %+v", alike.Windings)
	}
	if !opposed.Certain || opposed.Windings[1].Pins != [2]string{"4", "3"} {
		t.Errorf("difference: %+v", opposed.Windings)
	}
	if neither.Certain || neither.Next == nil || !hasNote(neither, yokemate.ReadingsDisagree, yokemate.Caution, "r6") {
		t.Errorf("neither: certain %v next %+v notes %+v", neither.Certain, neither.Next, neither.Notes)
	}
	if alike.Shelf == nil || alike.Shelf.Validate() != nil {
		t.Errorf("the unit is no shelf's: %+v", alike.Shelf)
	}
	near(t, "ratio", factOf(t, alike, "A", "volts").Value, 0.621, 0.001)
	// A battery's kick instead of the tied reading: plus on 1 and on 3 kicks up.
	kick := func(value string) []yokemate.Reading {
		r := unit230("12.52")[:5]
		k := fed(reading("", yokemate.Kick, "3", "4", value), "1:2", "1.5")
		k2 := fed(reading("", yokemate.Kick, "3", "4", value), "1:2", "1.5")
		return append(r, k, k2)
	}
	up, down := identify(t, coarse, "1 2 3 4", kick("1")...), identify(t, coarse, "1 2 3 4", kick("-1")...)
	if !up.Certain || up.Windings[1].Pins != [2]string{"3", "4"} || !down.Certain || down.Windings[1].Pins != [2]string{"4", "3"} {
		t.Errorf("kicks: up %v %+v, down %v %+v", up.Certain, up.Windings, down.Certain, down.Windings)
	}
	// Two windings fed as a string, in opposition: 11.90 V across 230 − 12 shares as 12.56 and 0.655.
	string_ := append(unit230("12.52")[:4],
		fed(reading("", volts, "1", "2", "12.55"), "1:2+4:3", "11.90"),
		fed(reading("", volts, "3", "4", "0.655"), "1:2+4:3", "11.90"))
	s := identify(t, coarse, "1 2 3 4", string_...)
	if s.Windings[1].Pins != [2]string{"3", "4"} || s.Confidence < 0.98 {
		t.Errorf("a string in opposition: %.3f %+v", s.Confidence, s.Windings)
	}
}

// If anything reads more than the source, the source is moved.
func TestStepUp(t *testing.T) {
	r := []yokemate.Reading{
		reading("", ohms, "1", "2", "402"), reading("", ohms, "3", "4", "55.1"), reading("", ohms, "1", "3", "open"),
		{Quantity: ohms, From: "1", To: "core", Value: "open", Joined: []string{"1", "3"}},
		fed(reading("", volts, "1", "2", "40.4"), "3:4", "11.90"),
	}
	a := identify(t, Options{}, "1 2 3 4", r...)
	if !hasNote(a, yokemate.StepUp, yokemate.Stop, "move the source to 1 and 2") {
		t.Errorf("notes %+v", a.Notes)
	}
	if a.Next == nil || a.Next.Excited == nil || !slices.Equal(a.Next.Excited.Series, yokemate.Series{"1:2"}) {
		t.Errorf("next %+v", a.Next)
	}
}

// Readings that disagree are found and named.
func TestOddOnes(t *testing.T) {
	line := func(v string) []yokemate.Reading {
		return []yokemate.Reading{
			reading("", ohms, "1", "2", "100.2"), reading("", ohms, "2", "3", "50.2"), reading("", ohms, "3", "4", "70.2"),
			reading("", ohms, "1", "3", "150.2"), reading("", ohms, "2", "4", "120.2"), reading("", ohms, "1", "4", v)}
	}
	good := identify(t, structureOnly, "1 2 3 4", line("222")...)
	if !good.Certain {
		t.Errorf("%+v", good.Notes)
	}
	bad := identify(t, structureOnly, "1 2 3 4", line("322")...)
	if bad.Certain || bad.Next == nil || bad.Next.From+bad.Next.To != "14" || !hasNote(bad, yokemate.ReadingsDisagree, yokemate.Caution, "r6") {
		t.Errorf("next %+v notes %+v", bad.Next, bad.Notes)
	}
	// A star is no line: 1, 2 and 3 meet at a point that is no pin.
	star := identify(t, structureOnly, "1 2 3", reading("", ohms, "1", "2", "60.2"), reading("", ohms, "2", "3", "70.2"), reading("", ohms, "1", "3", "50.2"))
	if star.Certain || !hasNote(star, yokemate.ReadingsDisagree, yokemate.Stop, "Do not energise") {
		t.Errorf("notes %+v", star.Notes)
	}
	// Open where two others say it is linked.
	open := identify(t, structureOnly, "1 2 3", reading("", ohms, "1", "2", "60.2"), reading("", ohms, "2", "3", "70.2"), reading("", ohms, "1", "3", "open"))
	if open.Certain || open.Next == nil || open.Next.From+open.Next.To != "13" {
		t.Errorf("next %+v notes %+v", open.Next, open.Notes)
	}
	// A superseded reading is no reading.
	r := line("322")
	r = append(r, yokemate.Reading{ID: "r7", Quantity: ohms, From: "1", To: "4", Value: "222", Supersedes: "r6", Celsius: r[0].Celsius})
	if a := identify(t, structureOnly, "1 2 3 4", r...); !a.Certain {
		t.Errorf("a correction does not help: %+v", a.Notes)
	}
}

// A ghost reading is named and not used.
func TestGhost(t *testing.T) {
	r := append(unit230("12.52"), fed(reading("", volts, "1", "3", "3.30"), "1:2", "11.90"))
	a := identify(t, coarse, "1 2 3 4", r...)
	if !a.Certain || !hasNote(a, yokemate.GhostReading, yokemate.Info, "r7") {
		t.Errorf("certain %v notes %+v", a.Certain, a.Notes)
	}
}

// Loaded, shorted and loop readings, each by hand.
func TestImpedanceReadings(t *testing.T) {
	loaded := fed(reading("", volts, "3", "4", "0.600"), "1:2", "11.90")
	loaded.BurdenOhms = 100
	r := append(unit230("12.52"), loaded,
		fed(reading("", yokemate.AmpsAC, "feed", "", "0.0142"), "1:2", "11.90", "3", "4"),
		fed(reading("", yokemate.Watts, "feed", "", "0.165"), "1:2", "11.90", "3", "4"),
		fed(reading("", volts, "loop:20", "", "0.207"), "1:2", "11.90"))
	a := identify(t, Options{}, "1 2 3 4", r...)
	near(t, "loaded", factOf(t, a, "A", "series_ohms").Value, 100*(0.621/0.600-1), 0.1)
	near(t, "Z", factOf(t, a, "P/A", "short_circuit_ohms").Value, 11.90/0.0142, 0.1)
	near(t, "R", factOf(t, a, "P/A", "series_ohms").Value, 0.165/0.0142/0.0142, 0.1)
	near(t, "X", factOf(t, a, "P/A", "leakage_ohms").Value, math.Sqrt(math.Pow(11.90/0.0142, 2)-math.Pow(0.165/0.0142/0.0142, 2)), 0.5)
	near(t, "turns per volt", factOf(t, a, "T1", "turns_per_volt").Value, 20/0.207, 0.1)
	if a.Shelf == nil || !a.Shelf.TurnsPerVolt.Known() {
		t.Errorf("the unit has no turns per volt")
	}
}

// Open-circuit watts: R_c and X_m, by hand.
func TestOpenCircuitReadings(t *testing.T) {
	r := append(unit230("12.52"),
		fed(reading("", yokemate.AmpsAC, "feed", "", "0.0200"), "1:2", "230.0"),
		fed(reading("", yokemate.Watts, "feed", "", "2.30"), "1:2", "230.0"))
	a := identify(t, Options{}, "1 2 3 4", r...)
	near(t, "core", factOf(t, a, "T1", "core_ohms").Value, 230*230/2.30, 1)
	near(t, "magnetising", factOf(t, a, "T1", "magnetising_ohms").Value, 230*230/math.Sqrt(4.6*4.6-2.3*2.3), 1)
	if a.Shelf == nil || len(a.Shelf.Excitation) != 2 || !a.Shelf.Excitation[1].Watts.Known() {
		t.Errorf("excitation %+v", a.Shelf)
	}
}

// Ratings: six outputs that share 20 VA by V²/R (common practice, no source;
// the first is printed cut off, so a unit of the digit).
func TestRatingsSplit(t *testing.T) {
	v := []float64{13.5, 10, 12, 11.5, 3.5, 21.5}
	o := []float64{1.3, 1.5, 1.9, 2.3, 2.5, 11.1}
	want := []float64{0.53, 0.34, 0.33, 0.26, 0.07, 0.10}
	pins := []string{"1", "2"}
	r := []yokemate.Reading{reading("", ohms, "1", "2", "120.2")}
	tie := []string{"1"}
	for i := range v {
		a, b := strconv.Itoa(3+2*i), strconv.Itoa(4+2*i)
		pins = append(pins, a, b)
		tie = append(tie, a)
		for j := 1; j < 3+2*i; j += 2 {
			r = append(r, reading("", ohms, strconv.Itoa(j), a, "open"))
		}
		mv := reading("", yokemate.Millivolts, a, b, strconv.FormatFloat(1000*o[i], 'f', 0, 64))
		mv.Meter = "good-60000"
		r = append(r, reading("", ohms, a, b, strconv.FormatFloat(o[i]+0.2, 'f', 1, 64)), mv)
		x := fed(reading("", volts, a, b, strconv.FormatFloat(v[i]/10, 'f', 3, 64)), "1:2", "23.00")
		r = append(r, x)
		r = append(r, fed(reading("", volts, "1", b, strconv.FormatFloat(23+v[i]/10, 'f', 2, 64)), "1:2", "23.00", "2", a))
	}
	r = append(r, yokemate.Reading{Quantity: ohms, From: "1", To: "core", Value: "open", Joined: tie})
	for i := range r {
		r[i].ID = "r" + strconv.Itoa(i+1)
	}
	u := &yokemate.Unit{Tag: "T1", Terminals: pins, Readings: r, VA: yokemate.PlusMinus(20, 0, yokemate.Label),
		Windings: []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}}, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P"}}}
	a, err := Identify(u, nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var va yokemate.Fact
	for _, f := range a.Facts {
		if f.Name == "va_combined" {
			va = f
		}
	}
	if !(va.Low < 20 && 20 < va.High) {
		t.Errorf("20 VA is not within %g to %g", va.Low, va.High)
	}
	for i := range v {
		f := factOf(t, a, string(rune('A'+i)), "amps")
		near(t, f.About, f.Value*20/va.Value, want[i], 0.01)
		if !strings.Contains(f.Formula, "Ω") || !(f.Low < f.Value && f.Value < f.High) {
			t.Errorf("%+v", f)
		}
	}
}

// TestBridgeRatio: the figures it stands on, and between them it falls.
func TestBridgeRatio(t *testing.T) {
	near(t, "30 %", BridgeRatio(0.30).Best, 1.53, 1e-12)
	near(t, "12 %", BridgeRatio(0.12).Best, 1.79, 1e-12)
	near(t, "3 %", BridgeRatio(0.03).Best, 2.3, 1e-12)
	last := 10.0
	for r := 0.02; r < 0.5; r *= 1.05 {
		if b := BridgeRatio(r).Best; b > last {
			t.Fatalf("at %g it rises", r)
		} else {
			last = b
		}
	}
}

// What a label says of other names: relabelling pins relabels the answer.
func TestRelabel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := newTruth(rand.New(rand.NewPCG(13, rapid.Uint64Range(0, 1<<40).Draw(t, "seed"))), 7)
		a, err := u.run(structureOnly, 60)
		if err != nil {
			t.Fatal(err)
		}
		perm := rapid.Permutation(u.pins).Draw(t, "names")
		to := map[string]string{yokemate.CorePin: yokemate.CorePin}
		for i, p := range u.pins {
			to[p] = perm[i]
		}
		r := slices.Clone(u.given)
		for i := range r {
			r[i].From, r[i].To = to[r[i].From], to[r[i].To]
			r[i].Joined = slices.Clone(r[i].Joined)
			for j := range r[i].Joined {
				r[i].Joined[j] = to[r[i].Joined[j]]
			}
			if x := r[i].Excited; x != nil {
				y := *x
				from, end, _ := strings.Cut(x.Series[0], ":")
				y.Series = yokemate.Series{to[from] + ":" + to[end]}
				r[i].Excited = &y
			}
		}
		b, err := Identify(&yokemate.Unit{Tag: "T1", Terminals: perm, Readings: r}, []yokemate.Meter{*u.meter}, structureOnly)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range u.pins {
			u.pins[i] = to[p]
		}
		if _, ok := u.right(b); !ok || math.Abs(a.Confidence-b.Confidence) > 1e-6 {
			t.Fatalf("confidence %g and %g, %v", a.Confidence, b.Confidence, b.Open[0])
		}
	})
}

// Readings of any kind, sense or none: an answer or an error, never a panic,
// never a NaN, and probabilities that are some.
func TestAnyReadings(t *testing.T) {
	says := compile(t)
	quantities := []yokemate.Quantity{ohms, ohms, ohms, volts, volts, yokemate.Millivolts, yokemate.AmpsAC, yokemate.Watts, yokemate.Megohms, yokemate.Kick, yokemate.VoltsDC, yokemate.Celsius}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 7).Draw(t, "pins")
		var pins []string
		for i := range n {
			pins = append(pins, strconv.Itoa(i+1))
		}
		end := rapid.SampledFrom(append([]string{"core", "feed", "loop:10", "", "9", "P"}, append(pins, pins...)...))
		var readings []yokemate.Reading
		for i := range rapid.IntRange(0, 14).Draw(t, "readings") {
			r := yokemate.Reading{ID: "r" + strconv.Itoa(i+1), Quantity: rapid.SampledFrom(quantities).Draw(t, "q"), From: end.Draw(t, "from"), To: end.Draw(t, "to"),
				Value: rapid.SampledFrom([]string{"open", "over", "0", "0.2", "1.00", "12.0", "940", "-3", "1e6", "1999", "1"}).Draw(t, "value")}
			r.LeadOhms = rapid.SampledFrom([]float64{0, 0.2, 50}).Draw(t, "leads")
			if rapid.Bool().Draw(t, "fed") {
				x := &yokemate.Excited{Volts: yokemate.Num(rapid.SampledFrom([]float64{0, 12, 230}).Draw(t, "volts")), Hertz: 50}
				for range rapid.IntRange(0, 2).Draw(t, "series") {
					x.Series = append(x.Series, rapid.SampledFrom([]string{"1:2", "2:1", "1:1", "3:4", "P", "9:1", "x"}).Draw(t, "pair"))
				}
				r.Excited = x
			}
			for range rapid.IntRange(0, 3).Draw(t, "joined") {
				r.Joined = append(r.Joined, end.Draw(t, "tie"))
			}
			if rapid.IntRange(0, 5).Draw(t, "burden") == 0 {
				r.BurdenOhms = 100
			}
			readings = append(readings, r)
		}
		u := &yokemate.Unit{Tag: "T1", Terminals: pins, Readings: readings}
		if rapid.Bool().Draw(t, "known") {
			u.Windings = []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}}
		}
		if rapid.Bool().Draw(t, "iron") {
			u.Core = &yokemate.Core{Kind: "EI", LimbMM: yokemate.Num(16), StackMM: yokemate.Num(20)}
		}
		opt := Options{Want: []Ask{Windings, Dots, Ohms, Volts, Insulation, Excitation}}
		a, err := Identify(u, nil, opt)
		if err != nil {
			t.Fatal(err)
		}
		text, err := yokemate.Encode(a)
		if err != nil {
			t.Fatal(err) // a NaN or an infinity cannot be written
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if err := says.Validate(doc); err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, o := range a.Open {
			sum += o.Probability
		}
		if sum > 1+1e-9 || a.Confidence < 0 || a.Confidence > 1+1e-9 {
			t.Fatalf("probabilities sum to %g, confidence %g", sum, a.Confidence)
		}
		if a.Shelf != nil {
			if err := a.Shelf.Validate(); err != nil {
				t.Fatal(err)
			}
		}
		for _, f := range a.Facts {
			if !(f.Low <= f.Value && f.Value <= f.High) {
				t.Fatalf("%+v", f)
			}
		}
	})
}

// compile returns the schema of an answer.
func compile(t *testing.T) *jsonschema.Schema {
	c := jsonschema.NewCompiler()
	for _, n := range []string{"shelf", "identify"} {
		b, _ := schema.Get(n)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AddResource("file:///"+n+".schema.json", doc); err != nil {
			t.Fatal(err)
		}
	}
	s, err := c.Compile("file:///identify.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestRefused(t *testing.T) {
	u := &yokemate.Unit{Tag: "T1", Terminals: []string{"1", "2"}}
	for _, o := range []Options{{Confidence: 0.4}, {Confidence: 1}, {Confidence: math.NaN()}, {SourceVolts: 230}, {SourceVolts: -1}, {Want: []Ask{"luck"}}} {
		if _, err := Identify(u, nil, o); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%+v: %v", o, err)
		}
	}
	if _, err := Identify(&yokemate.Unit{Tag: "T1"}, nil, Options{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("no pins: %v", err)
	}
	many := &yokemate.Unit{Tag: "T1"}
	for i := range 25 {
		many.Terminals = append(many.Terminals, strconv.Itoa(i))
	}
	if _, err := Identify(many, nil, Options{}); yokemate.ErrorCode(err) != yokemate.Unsupported {
		t.Errorf("25 pins: %v", err)
	}
	// More pieces than are weighed exactly still get a next reading.
	many.Terminals = many.Terminals[:16]
	a, err := Identify(many, nil, Options{})
	if err != nil || a.Next == nil || a.Next.Quantity != ohms {
		t.Errorf("16 pins: %+v %v", a, err)
	}
}

// TestInspect: meter uncertainty. EA-4/02 example S9 (from memory): a resolution
// of 0.05 V and a calibrator of 0.011 V, half widths, with 0.001 V: u 0.030 V, U 0.05 V, k 1.65.
// JCGM 100, 4.3.7 (from memory): ±(14·10⁻⁶ of 0.928571 V + 2·10⁻⁶ of 1 V) is ±15 µV, over √3 8.7 µV.
func TestInspect(t *testing.T) {
	u, k := Coverage([]float64{0.05 / math.Sqrt(3), 0.011 / math.Sqrt(3)}, []float64{0.001})
	near(t, "S9 u", u, 0.030, 0.0005)
	// The example takes the largest rectangle alone for its k; both together make a trapezoid of 1.71, and the same U.
	near(t, "S9 k", k, 1.65, 0.065)
	near(t, "S9 U", k*u, 0.05, 0.005)
	m := &yokemate.Meter{Name: "m", Ranges: []yokemate.Range{{Quantity: yokemate.VoltsDC, Max: 1, Resolution: 1e-6, Percent: 14e-4, Counts: 2}}}
	x, ok := Inspect(m, yokemate.VoltsDC, 0.928571)
	if !ok {
		t.Fatal("no range")
	}
	near(t, "bound", x.Bound, 15e-6, 0.05e-6)
	near(t, "u of one rectangle", x.Bound/math.Sqrt(3), 8.7e-6, 0.05e-6)
	if _, ok := Inspect(m, yokemate.Ohms, 1); ok {
		t.Error("a range that the meter has not")
	}
	// One rectangle: 0.95 of it, closed form. Many: the normal's factor. A triangle, from two alike.
	_, k = Coverage([]float64{1}, nil)
	near(t, "rectangle", k, 0.95*math.Sqrt(3), 1e-12)
	_, k = Coverage([]float64{1, 1}, nil)
	near(t, "triangle", k, (1-math.Sqrt(0.05))*math.Sqrt(6), 1e-4)
	_, k = Coverage(nil, []float64{1})
	near(t, "normal", k, 1.959964, 1e-6)
	// Any mix covers 95 % within a per cent: the kurtosis alone decides. By simulation, standard error 0.0007.
	rng := rand.New(rand.NewPCG(1, 2))
	for _, mix := range [][3]float64{{1, 0.3, 0}, {1, 0.7, 0.2}, {1, 1, 1}, {1, 0.1, 0.5}, {0.5, 0.2, 1}} {
		u, k := Coverage(mix[:2], mix[2:])
		in := 0
		for range 100000 {
			x := math.Sqrt(3) * (mix[0]*(2*rng.Float64()-1) + mix[1]*(2*rng.Float64()-1))
			x += mix[2] * rng.NormFloat64()
			if math.Abs(x) <= k*u {
				in++
			}
		}
		near(t, "covered", float64(in)/100000, 0.95, 0.01)
	}
}

// Presets hold what a format may say, and are named without a maker.
func TestPresets(t *testing.T) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: Presets()}
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, m := range Presets() {
		for _, q := range []yokemate.Quantity{volts, ohms, yokemate.AmpsAC, yokemate.Millivolts} {
			if x, ok := Inspect(&m, q, 0.5); !ok || !(x.U > 0) {
				t.Errorf("%s has no %s", m.Name, q)
			}
		}
	}
}

// BenchmarkNinePins is one answer on a nine-pin unit, over all its readings.
func BenchmarkNinePins(b *testing.B) {
	var units []*truth
	for i := 0; len(units) < 20; i++ {
		u := newTruth(rand.New(rand.NewPCG(17, uint64(i))), 9)
		if len(u.pins) != 9 {
			continue
		}
		if _, err := u.run(Options{}, 80); err != nil {
			b.Fatal(err)
		}
		units = append(units, u)
	}
	b.ResetTimer()
	n := 0
	for b.Loop() {
		u := units[n%len(units)]
		k := n / len(units) % (len(u.given) + 1)
		n++
		if _, err := Identify(&yokemate.Unit{Tag: "T1", Terminals: u.pins, Readings: u.given[:k]}, nil, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
