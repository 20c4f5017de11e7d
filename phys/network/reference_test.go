package network_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"testing"

	"yokemate"
	"yokemate/phys/core"
	"yokemate/phys/network"
)

// chance is what the generator of random hookups draws from: a seeded
// generator, or rapid.
type chance interface {
	Float64() float64 // in [0, 1)
	IntN(n int) int   // in [0, n)
}

// maker makes random shelves and hookups: units of 2 to 200 VA with one to
// five windings, split and tapped, wired in parallel, in series, in opposition
// or anyhow.
type maker struct{ chance }

func (m maker) between(a, b float64) float64 { return a + (b-a)*m.Float64() }
func (m maker) spread(a, b float64) float64  { return a * math.Pow(b/a, m.Float64()) }
func (m maker) odds(p float64) bool          { return m.Float64() < p }
func pick[T any](m maker, of ...T) T         { return of[m.IntN(len(of))] }

// round keeps four digits, as a bench writes them.
func round(x float64) yokemate.Value {
	e := math.Pow(10, 3-math.Floor(math.Log10(x)))
	return yokemate.Num(math.Round(x*e) / e)
}

func (m maker) unit(tag string) yokemate.Unit {
	va := m.spread(2, 200)
	volts, hertz := pick(m, 100.0, 120.0, 230.0), pick(m, 50.0, 60.0)
	kind := pick(m, "EI", "EI", "toroid", "C")
	reg := 0.65 * math.Pow(va, -0.45) * m.between(0.7, 1.3)
	u := yokemate.Unit{Tag: tag, VA: round(va), Core: &yokemate.Core{Kind: kind}}
	pin := 0
	next := func() string { pin++; return fmt.Sprint(pin) }
	add := func(id string, chain bool, v, r float64) {
		w := yokemate.Winding{ID: id, Pins: [2]string{next(), ""}, Volts: round(v), Ohms: round(r)}
		if chain {
			pin--
			w.Pins[0] = fmt.Sprint(pin)
		}
		w.Pins[1] = next()
		if m.odds(0.5) {
			w.LeakageMH = round(m.between(0.02, 0.4) * r / (2 * math.Pi * hertz) * 1e3)
		}
		u.Windings = append(u.Windings, w)
	}
	n := 1 + m.IntN(5)
	v0 := volts * m.between(0.92, 1.05)
	rp := reg / 2 * volts * volts / va
	parts, tapped := 1, false
	if n >= 2 && m.odds(0.4) {
		parts, tapped = 2, m.odds(0.5)
	}
	share := []float64{1}
	if parts == 2 {
		share = []float64{0.5, 0.5}
		if tapped {
			share[0] = m.between(0.4, 0.6)
			share[1] = 1 - share[0]
		}
	}
	sum := 0.0
	series := yokemate.Series{}
	for i := range parts {
		id := fmt.Sprintf("P%d", i+1)
		add(id, tapped && i == 1, v0*share[i], rp*share[i]*m.between(0.95, 1.05))
		series = append(series, id)
		sum += u.Windings[i].Volts.V
	}
	for i := range n - parts {
		v := m.spread(3, 60)
		if m.odds(0.1) {
			v = m.spread(60, 300)
		}
		add(string(rune('A'+i)), i > 0 && m.odds(0.3), v, reg/2*v*v/va*float64(n-parts)*m.between(0.8, 1.2))
		w := &u.Windings[len(u.Windings)-1]
		w.Amps = round(va / float64(n-parts) / v)
	}
	if m.odds(0.03) {
		u.Windings[len(u.Windings)-1].Pins[1] = yokemate.CorePin
	}
	exciting := map[string]float64{"EI": 0.3, "toroid": 0.02, "C": 0.06}[kind]
	i0 := va / volts * exciting * m.spread(0.5, 2)
	r := 0.0
	for i := range parts {
		r += u.Windings[i].Ohms.V
	}
	copper := i0 * i0 * r
	w0 := math.Min(copper+m.between(0.2, 0.7)*(sum*i0-copper), 0.93*sum*i0)
	fed := sum
	if m.odds(0.2) {
		fed *= m.between(0.999, 1.001)
	}
	e := yokemate.Excitation{Series: series, Volts: yokemate.Num(fed), Hertz: hertz, Amps: round(i0), Watts: round(w0)}
	u.Excitation = yokemate.ExcitationList{e}
	if m.odds(0.25) {
		// A second point of the curve, about where the usual core has it.
		f := pick(m, 0.7, 0.85, 1.08)
		x := e
		x.Volts = round(fed * f)
		x.Amps = round(i0 * (f + math.Pow(f, 9)) / 2 * m.between(0.9, 1.1))
		x.Watts = yokemate.Value{}
		if m.odds(0.5) {
			x.Watts = round(math.Min(w0*f*f, 0.9*x.Volts.V*x.Amps.V))
		}
		u.Excitation = append(u.Excitation, x)
	}
	u.Mains = &yokemate.Mains{Volts: volts, Hertz: hertz, Series: series}
	return u
}

func (m maker) shelf(most int) *yokemate.Shelf {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	for i := range 1 + m.IntN(most) {
		s.Units = append(s.Units, m.unit(fmt.Sprintf("T%d", i+1)))
	}
	return s
}

// wires gathers joints while a hookup is being made.
type wires struct {
	joints yokemate.Joints
	used   map[string]bool
}

func (w *wires) put(joint, pin string) {
	if w.used[pin] {
		return
	}
	w.used[pin] = true
	if j := w.joints.Joint(joint); j != nil {
		j.Pins = append(j.Pins, pin)
		return
	}
	w.joints = append(w.joints, yokemate.Joint{Name: joint, Pins: []string{pin}})
}

// hookup wires a shelf at random. Plain hookups have nothing nonlinear but
// the iron: no filament and no constant current.
func (m maker) hookup(s *yokemate.Shelf, plain bool) *yokemate.Hookup {
	h := &yokemate.Hookup{Format: yokemate.HookupFormat}
	w := &wires{used: map[string]bool{}}
	hertz := pick(m, 50.0, 60.0)
	plugs := pick(m, 1, 1, 1, 2, 2, 3)
	for i := range plugs {
		f := yokemate.Feed{Volts: round(s.Units[0].Mains.Volts * m.between(0.8, 1.1)), Hertz: hertz, Live: fmt.Sprintf("L%d", i+1), Neutral: fmt.Sprintf("N%d", i+1)}
		if i > 0 {
			f.Degrees = pick(m, 0.0, 0, 120, 240, 180, -90)
			if m.odds(0.2) {
				out := false
				f.Fed = &out
			}
		}
		if m.odds(0.3) {
			f.Ohms = m.spread(0.1, 5)
		}
		switch {
		case m.odds(0.2):
			f.Lamp = &yokemate.Lamp{Ohms: m.spread(20, 1000)}
		case !plain && m.odds(0.25):
			f.Lamp = &yokemate.Lamp{Watts: pick(m, 15.0, 25, 40, 60, 100), Volts: pick(m, f.Volts.V, 120, 230)}
		}
		h.Feed = append(h.Feed, f)
	}
	pins := func(u *yokemate.Unit, i int) (a, b string) {
		p := u.Windings[i].Pins
		return u.Tag + "." + p[0], u.Tag + "." + p[1]
	}
	// The mains sides.
	for k := range s.Units {
		u := &s.Units[k]
		f := &h.Feed[k%plugs]
		n := len(u.Mains.Series)
		if k >= plugs && m.odds(0.15) {
			continue // an unpowered neighbour
		}
		live, neutral := f.Live, f.Neutral
		if m.odds(0.15) {
			live, neutral = neutral, live
		}
		a, b := pins(u, 0)
		switch tapped := n == 2 && u.Windings[0].Pins[1] == u.Windings[1].Pins[0]; {
		case n == 1:
			w.put(live, a)
			w.put(neutral, b)
		case tapped:
			_, c := pins(u, 1)
			w.put(live, a)
			w.put(neutral, pick(m, c, c, c, b))
		default:
			c, d := pins(u, 1)
			if m.odds(0.2) {
				c, d = d, c // one coil against the other
			}
			switch m.IntN(3) {
			case 0:
				w.put(live, a)
				w.put(neutral, b)
			case 1:
				w.put(live, a)
				w.put("M"+u.Tag, b)
				w.put("M"+u.Tag, c)
				w.put(neutral, d)
			default:
				w.put(live, a)
				w.put(live, c)
				w.put(neutral, b)
				w.put(neutral, d)
			}
		}
	}
	// The first secondaries, in one of the usual ways.
	var first [][2]string
	for k := range s.Units {
		u := &s.Units[k]
		if n := len(u.Mains.Series); len(u.Windings) > n {
			a, b := pins(u, n)
			first = append(first, [2]string{a, b})
		}
	}
	way := m.IntN(4)
	for i, p := range first {
		if i > 0 && (way == 2 || m.odds(0.1)) {
			p[0], p[1] = p[1], p[0] // opposition
		}
		switch way {
		case 0:
			w.put("A", p[0])
			w.put("B", p[1])
		case 1, 2:
			w.put(fmt.Sprintf("S%d", i), p[0])
			w.put(fmt.Sprintf("S%d", i+1), p[1])
		}
	}
	// Everything else open, or anywhere.
	for k := range s.Units {
		u := &s.Units[k]
		for _, p := range u.Pins() {
			switch {
			case m.odds(0.4):
			case m.odds(0.03):
				w.put(pick(m, h.Feed[0].Live, h.Feed[0].Neutral), u.Tag+"."+p)
			default:
				w.put(fmt.Sprintf("J%d", m.IntN(8)), u.Tag+"."+p)
			}
		}
		if m.odds(0.5) {
			w.put("E", u.Tag+"."+yokemate.CorePin)
		}
	}
	h.Joints = w.joints
	if h.Joints.Joint("E") != nil && m.odds(0.8) {
		h.Earth = "E"
	}
	h.Feed = slices.DeleteFunc(h.Feed, func(f yokemate.Feed) bool {
		return h.Joints.Joint(f.Live) == nil || h.Joints.Joint(f.Neutral) == nil
	})
	two := func() (a, b string) {
		i := m.IntN(len(h.Joints))
		j := (i + 1 + m.IntN(len(h.Joints)-1)) % len(h.Joints)
		return h.Joints[i].Name, h.Joints[j].Name
	}
	for i := range m.IntN(3) {
		o := yokemate.Output{Name: fmt.Sprintf("out%d", i)}
		o.From, o.To = two()
		l := &yokemate.Load{Ohms: m.spread(1, 2000)}
		if m.odds(0.4) {
			l.Henries = m.spread(1e-4, 1)
			if m.odds(0.2) {
				l.Ohms = 0
			}
		}
		o.Load = l
		if !plain && way == 0 && len(first) > 0 && i == 0 {
			pf := m.between(0.5, 1)
			o = yokemate.Output{Name: "out0", From: "A", To: "B", Load: &yokemate.Load{Amps: m.spread(0.001, 0.03), PowerFactor: &pf}}
		}
		if h.Joints.Joint(o.From) != nil && h.Joints.Joint(o.To) != nil {
			h.Outputs = append(h.Outputs, o)
		}
	}
	if m.odds(0.2) {
		a, b := two()
		h.Fuses = append(h.Fuses, yokemate.Fuse{From: a, To: b, Amps: pick(m, 0.1, 0.5, 2), Kind: "T"})
	}
	if m.odds(0.6) {
		a, b := two()
		h.Meters = append(h.Meters, yokemate.MeterPoint{Name: "gap", From: a, To: b})
	}
	if m.odds(0.4) {
		c := m.between(0, 90)
		h.CopperC = &c
	}
	return h
}

// referenceCase is one hookup as the second program reads it.
type referenceCase struct {
	Shelf   json.RawMessage       `json:"shelf"`
	Hookup  json.RawMessage       `json:"hookup"`
	Linear  bool                  `json:"linear"`
	Shorted []map[string]any      `json:"shorted,omitempty"`
	shelf   *yokemate.Shelf       `json:"-"`
	hookup  *yokemate.Hookup      `json:"-"`
	faults  []network.ShortedTurn `json:"-"`
}

type phasor [2]float64

func (p phasor) z() complex128 { return complex(p[0], p[1]) }

type referenceAnswer struct {
	Failed   bool              `json:"failed"`
	Volts    map[string]phasor `json:"volts"`
	Amps     map[string]phasor `json:"amps"`
	Induced  map[string]phasor `json:"induced"`
	Feeds    []*phasor         `json:"feeds"`
	Loads    []*phasor         `json:"loads"`
	Residual float64           `json:"residual"`
}

// constants are what no file says: see the package comment for each.
func constants() map[string]any {
	sat := map[string]any{}
	for _, k := range []string{"EI", "toroid", "C"} {
		p := core.Prior(k)
		sat[k] = map[string]float64{"s": p.S, "n": p.N, "ln_sigma": p.LnSigma}
	}
	return map[string]any{
		"winding_farads": 100e-12, "pair_farads": 50e-12, "core_farads": 100e-12,
		"meter_ohms": 10e6, "fuse_drop": 0.1, "dead_volts": 1e-3,
		"lamp_cold_share": 1.0 / 16, "lamp_slope": 0.45,
		"saturation": sat, "exponent_u": 2.0, "curve_u": 0.03,
	}
}

// python finds an interpreter that has numpy and scipy: the system's own,
// where Debian's python3-scipy puts them, or the one on the path.
func python(t *testing.T) string {
	t.Helper()
	var tried []error
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		out, err := exec.Command(p, "-c", "import numpy, scipy").CombinedOutput()
		if err == nil {
			return p
		}
		tried = append(tried, fmt.Errorf("%s: %w %s", p, err, out))
	}
	t.Fatalf("this test needs Python with numpy and scipy (Debian: python3-scipy): %v", errors.Join(tried...))
	return ""
}

func reference(t *testing.T, cases []referenceCase) []referenceAnswer {
	t.Helper()
	in, err := json.Marshal(map[string]any{"constants": constants(), "cases": cases})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python(t), "testdata/reference.py")
	cmd.Env = append(os.Environ(), "OPENBLAS_NUM_THREADS=1") // the matrices are small
	cmd.Stdin = bytes.NewReader(in)
	var out, bad bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &bad
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v\n%s", err, bad.String())
	}
	var answers []referenceAnswer
	if err := json.Unmarshal(out.Bytes(), &answers); err != nil {
		t.Fatal(err)
	}
	if len(answers) != len(cases) {
		t.Fatalf("%d answers to %d cases", len(answers), len(cases))
	}
	return answers
}

func randomCases(t *testing.T, seed uint64, count int, linear bool) []referenceCase {
	t.Helper()
	m := maker{rand.New(rand.NewPCG(seed, 2))}
	var cases []referenceCase
	for range count {
		s := m.shelf(4)
		c := referenceCase{shelf: s, hookup: m.hookup(s, linear), Linear: linear}
		if m.odds(0.1) {
			u := &s.Units[m.IntN(len(s.Units))]
			w := u.Windings[m.IntN(len(u.Windings))].ID
			part := m.between(0.001, 0.5)
			c.faults = []network.ShortedTurn{{Unit: u.Tag, Winding: w, Part: part}}
			c.Shorted = []map[string]any{{"unit": u.Tag, "winding": w, "part": part}}
		}
		for _, x := range []struct {
			v   any
			err error
			to  *json.RawMessage
		}{{s, s.Validate(), &c.Shelf}, {c.hookup, c.hookup.Validate(), &c.Hookup}} {
			if x.err != nil {
				t.Fatal(x.err)
			}
			b, err := yokemate.Encode(x.v)
			if err != nil {
				t.Fatal(err)
			}
			*x.to = b
		}
		cases = append(cases, c)
	}
	return cases
}

// TestReference holds random hookups to an independent solution by numpy and
// scipy, which derives everything from the files: 200 without and 200 with
// saturation, filaments and constant currents. Differences are of phasors, over
// the largest voltage or current of the hookup.
//
// The linear tolerance leaves a factor of 1e6 for rounding in a system that
// spans hundredths of micro-siemens and hundreds of siemens: of 3,000 hookups
// tried, one had a ghost voltage off by 4e-9, all else was below 1e-9. With
// saturation it also holds what the fit of an excitation curve leaves.
func TestReference(t *testing.T) {
	for _, mode := range []struct {
		name      string
		linear    bool
		seed      uint64
		tolerance float64
	}{{"linear", true, 1, 1e-9}, {"saturating", false, 3, 1e-6}} {
		t.Run(mode.name, func(t *testing.T) {
			cases := randomCases(t, mode.seed, 200, mode.linear)
			answers := reference(t, cases)
			worst, most := 0.0, 0.0
			for i, c := range cases {
				v, a := compare(t, i, c, answers[i], mode.tolerance)
				worst, most = math.Max(worst, v), math.Max(most, a)
			}
			t.Logf("largest relative difference of %d hookups: volts %.2g, amps %.2g", len(cases), worst, most)
		})
	}
}

// compare returns the largest relative differences of volts and of amps.
func compare(t *testing.T, i int, c referenceCase, want referenceAnswer, tolerance float64) (dv, da float64) {
	t.Helper()
	if want.Failed {
		t.Errorf("case %d: the reference did not settle", i)
		return 0, 0
	}
	if want.Residual > 1e-12 {
		t.Errorf("case %d: the reference's own residual is %.2g", i, want.Residual)
	}
	n, err := network.Build(network.Compile(c.shelf), c.hookup, network.Options{Linear: c.Linear, Shorted: c.faults})
	if err != nil {
		t.Errorf("case %d: %v\n%s", i, err, c.Hookup)
		return 0, 0
	}
	sol, err := n.Solve(nil)
	if err != nil {
		t.Errorf("case %d: %v\n%s", i, err, c.Hookup)
		return 0, 0
	}
	topV, topI := 0.0, 0.0
	for _, v := range want.Volts {
		topV = math.Max(topV, cmplx.Abs(v.z()))
	}
	for _, v := range want.Amps {
		topI = math.Max(topI, cmplx.Abs(v.z()))
	}
	check := func(what string, got complex128, want phasor, top float64, worst *float64) {
		d := cmplx.Abs(got-want.z()) / top
		*worst = math.Max(*worst, d)
		if !(d <= tolerance) {
			t.Errorf("case %d: %s is %.12g, the reference has %.12g: off by %.2g", i, what, got, want.z(), d)
		}
	}
	for name, v := range want.Volts {
		p, ok := n.Volts(name, "")
		if !ok {
			t.Errorf("case %d: no point %s", i, name)
			continue
		}
		check("volts of "+name, sol.Value(p), v, topV, &dv)
	}
	count := 0
	for k, tag := range n.Units() {
		u := n.UnitFacts(k)
		check("E of "+tag, sol.Value(n.Induced(k)), want.Induced[tag], math.Max(1, cmplx.Abs(want.Induced[tag].z())), &dv)
		for w, src := range u.Windings {
			check("amps of "+tag+"/"+src.ID, sol.Value(n.WindingAmps(k, w)), want.Amps[tag+"/"+src.ID], topI, &da)
			count++
		}
	}
	if count != len(want.Amps) {
		t.Errorf("case %d: %d windings, the reference has %d", i, count, len(want.Amps))
	}
	for j, f := range want.Feeds {
		p, on := n.FeedAmps(j)
		if on != (f != nil) {
			t.Errorf("case %d: plug %d in: %v", i, j, on)
		} else if on {
			check(fmt.Sprintf("amps of plug %d", j), sol.Value(p), *f, math.Max(topI, cmplx.Abs(f.z())), &da)
		}
	}
	for j, l := range want.Loads {
		p, on := n.LoadAmps(j)
		if on != (l != nil) {
			t.Errorf("case %d: load %d there: %v", i, j, on)
		} else if on {
			check(fmt.Sprintf("amps of load %d", j), sol.Value(p), *l, math.Max(topI, cmplx.Abs(l.z())), &da)
		}
	}
	if b := math.Abs(sol.Imbalance()); !(b < 1e-9) {
		t.Errorf("case %d: power is out of balance by %.2g", i, b)
	}
	return dv, da
}
