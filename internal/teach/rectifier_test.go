package teach

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

// behind reads the table of the rectifier: its heads, and its cells by slip.
func behind(t *testing.T, text []byte) (heads []string, rows map[string][]string) {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	rows = map[string][]string{}
	for n := range root.Descendants() {
		if n.Type != html.ElementNode || n.Data != "table" || attr(n, "id") != "behind" {
			continue
		}
		for r := range n.Descendants() {
			if r.Type != html.ElementNode || r.Data != "tr" {
				continue
			}
			var cells []string
			for c := range r.ChildNodes() {
				if c.Type == html.ElementNode {
					cells = append(cells, strings.Join(strings.Fields(within(c)), " "))
				}
			}
			if r.Parent.Data == "thead" {
				heads = cells[1:]
			} else {
				rows[attr(r, "data-k")] = cells
			}
		}
	}
	return heads, rows
}

// dc is the rope lights behind a rectifier: both units in parallel behind a
// bridge, or in series with their joint as the middle of two diodes.
func dc(t *testing.T, rectifier string) (*yokemate.Shelf, *yokemate.Hookup) {
	s, h := ropeLights(t)
	h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: rectifier, Farads: 0.0047, Amps: 0.5}
	if rectifier == "centre-tap" {
		h.Joints = slices.DeleteFunc(h.Joints, func(j yokemate.Joint) bool { return j.Name == "A" || j.Name == "B" })
		h.Joints = append(h.Joints, yokemate.Joint{Name: "A", Pins: []string{"F1.5"}}, yokemate.Joint{Name: "M", Pins: []string{"F1.6", "F2.5"}}, yokemate.Joint{Name: "B", Pins: []string{"F2.6"}})
		h.Outputs[0].DC.Middle, h.Outputs[0].DC.Amps = "M", 0.3
	}
	return s, h
}

// Of a rectified hookup the AC side is taught as ever, without its load, and
// the rectifier with each slip: what is read is what the proof's steps read,
// what is carried is what the finished hookup carries in time.
func TestRectified(t *testing.T) {
	for _, rectifier := range []string{"bridge", "centre-tap"} {
		s, h := dc(t, rectifier)
		if err := Check(s, h, Options{}); err != nil {
			t.Fatal(err)
		}
		l, err := New(s, h, Options{Most: 1})
		if err != nil {
			t.Fatal(err)
		}
		text, err := l.HTML()
		if err != nil {
			t.Fatal(err)
		}
		facts := network.Compile(s.Only(h))

		// The right wiring's AC side, as package predict has it.
		bare := h.Clone()
		bare.Outputs[0].DC = nil
		p, err := predict.Hookup(facts, bare, yokemate.Nominal, predict.Options{})
		if err != nil {
			t.Fatal(err)
		}
		page := read(t, text)
		for key, cells := range page.rows[0] {
			if cells[0] == "as it should be" {
				if want := shown(p.Outputs[0].Volts, "V"); cells[4] != want {
					t.Errorf("%s: the AC side is %q, package predict has %s", key, cells, want)
				}
			}
		}

		plan, err := prove.New(facts, h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		proof, err := plan.Proof()
		if err != nil {
			t.Fatal(err)
		}
		heads, rows := behind(t, text)
		full, err := supply.Predict(facts, h, yokemate.Nominal, predict.Options{Brief: true})
		if err != nil {
			t.Fatal(err)
		}
		var means []float64
		for _, r := range full.Rails {
			means = append(means, r.Mean)
		}
		inside := []string{""}
		for _, code := range plan.Slips() {
			if w, ok, err := plan.Wired(h, code); err == nil && ok && w.Turn != nil {
				inside = append(inside, code)
			}
		}
		// Right, two for each diode, one for the reservoir and one for the leads; of a middle two and one.
		if want := map[string]int{"bridge": 11, "centre-tap": 10}[rectifier]; len(rows) != want || len(inside) != want {
			t.Fatalf("%d rows of %d slips, not %d", len(rows), len(inside), want)
		}
		told := map[string]int{} // slips that some reading tells
		for _, code := range inside {
			cells := rows[code]
			if cells == nil {
				t.Fatalf("%q has no row", code)
			}
			for i, head := range heads[:len(heads)-4] {
				ends := strings.Fields(head)[:2]
				words := strings.Join(strings.Fields(head)[2:], " ")
				k := slices.IndexFunc(proof.Steps, func(s yokemate.Step) bool {
					lamp := slices.ContainsFunc(s.State.Feed, func(f yokemate.Feed) bool { return f.Lamp != nil })
					kind, _, _ := strings.Cut(s.ID, "-out")
					want := map[string]string{"ohms": "ohms, unplugged", "tap": "AC volts, no reservoir joined yet", "lamp": "DC volts behind the lamp, nothing drawn",
						"idle": "DC volts, nothing drawn", "load": "DC volts, loaded", "ripple": "ripple, loaded"}[kind]
					return s.Measure != nil && s.Measure.From == ends[0] && s.Measure.To == ends[1] && want == words && lamp == (kind == "lamp")
				})
				if k < 0 {
					t.Fatalf("no step of the proof is %q", head)
				}
				step := &proof.Steps[k]
				v, unit := *step.Right, step.Measure.Quantity.Unit()
				z := slices.IndexFunc(step.Slips, func(z yokemate.Slip) bool { return z.Code == code })
				if z >= 0 {
					v = yokemate.Interval{Value: step.Slips[z].Value, Low: step.Slips[z].Low, High: step.Slips[z].High}
					told[code]++
				}
				want := shown(math.Abs(v.Value), unit) + " " + si.FormatInterval(v.Low, v.High, unit)
				if v.Value < 0 {
					want = "-" + want
				}
				if unit == "Ω" {
					want = "20 kΩ or more"
					if z >= 0 {
						want = "less than 20 kΩ"
					}
				}
				if cells[i+1] != want {
					t.Errorf("%q, %s: the page has %q, the proof %q", code, head, cells[i+1], want)
				}
			}
			end := cells[len(cells)-4:]
			amps, used, ok := carried(t, facts, h, means, code)
			if code == "" {
				amps, used = full.Feed[0].Amps, 0
				for _, w := range full.Windings {
					used = max(used, w.Amps / *w.LimitAmps)
				}
			}
			if !ok {
				if end[0] != "not known" || !strings.Contains(end[3], "it does harm") {
					t.Errorf("%q has no steady state: %q", code, end)
				}
				continue
			}
			if end[0] != shown(amps, "A") || !strings.HasSuffix(end[1], " "+strconv.FormatFloat(100*used, 'f', 0, 64)+" %") {
				t.Errorf("%q: the page has %q, the network in time %s and %.3g", code, end, shown(amps, "A"), used)
			}
			if harm := strings.Contains(end[3], "it does harm"); used > 1 && !harm || code == "" && end[3] != "Right" || harm && end[2] == "Nothing is overloaded." {
				t.Errorf("%q: %q", code, end)
			}
		}
		for _, code := range inside[1:] {
			if told[code] == 0 {
				t.Errorf("no reading of the page tells %s", code)
			}
		}
		// Each state has a drawing of its own, in the file once.
		var d struct{ Behind map[string][]int }
		if err := json.Unmarshal([]byte(page.inside["script application/json"]), &d); err != nil {
			t.Fatal(err)
		}
		for i, a := range inside {
			for _, b := range inside[:i] {
				if slices.Equal(d.Behind[a], d.Behind[b]) {
					t.Errorf("%q and %q are drawn alike", a, b)
				}
			}
		}
		if len(text) > 600_000 {
			t.Errorf("%d bytes", len(text))
		}
	}
}

// carried is what the finished hookup takes from the mains [A], and the share of
// its rating that the busiest winding carries, with a slip that the test makes
// by hand in the circuit; ok is false where there is no steady state.
func carried(t *testing.T, f *network.Facts, h *yokemate.Hookup, means []float64, code string) (amps, used float64, ok bool) {
	t.Helper()
	kind, at, _ := strings.Cut(code, ":")
	h = h.Clone()
	o := &h.Outputs[0]
	switch at {
	case "out/A,M":
		o.From, o.DC.Middle = o.DC.Middle, o.From
	case "out/B,M":
		o.To, o.DC.Middle = o.DC.Middle, o.To
	}
	x, err := waveform.FromHookup(f, h, waveform.HookupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c := &x.Circuit
	switch k, _ := strconv.Atoi(strings.TrimPrefix(at, "out/")); kind {
	case "diode-reversed":
		d := &c.Diodes[k-1]
		d.From, d.To = d.To, d.From
	case "diode-open":
		c.Diodes = slices.Delete(c.Diodes, k-1, k)
	case "middle-open":
		loose := c.Nodes
		c.Nodes++
		for _, r := range x.Rails {
			c.Capacitors[r.Capacitors[0]].To, c.Sinks[r.Sink].To = loose, loose
		}
	}
	for i, r := range x.Rails { // the ohms that draw the load's amps when all is right
		k := &c.Sinks[r.Sink]
		c.Branches = append(c.Branches, waveform.Branch{From: k.From, To: k.To, Ohms: means[i] / k.Amps})
		k.Amps = 0
	}
	for _, k := range c.Capacitors { // a meter across each
		c.Branches = append(c.Branches, waveform.Branch{From: k.From, To: k.To, Ohms: 10e6})
	}
	if x.System, err = waveform.Compile(c); err != nil {
		t.Fatal(err)
	}
	start := x.Start
	if len(start) != x.States() {
		start = x.Rest()
	}
	probes := []waveform.Probe{x.FeedAmps(0)}
	for i := range c.Windings {
		probes = append(probes, x.WindingAmps(i))
	}
	w, _, _, err := x.Periodic(start, waveform.Options{Samples: 256, Probes: probes})
	if err != nil {
		return 0, 0, false
	}
	for i, p := range x.Parts.Windings {
		used = max(used, w.Traces[i+1].RMS/x.AC.UnitFacts(p.Core).Limits[p.Winding].Amps)
	}
	return w.Traces[0].RMS, used, true
}

// What a slip does where plain reasoning tells: behind one diode that is turned
// the reservoir is charged backwards, a doubler's too. Behind an open diode there
// is no DC and no harm, but in a doubler: no direct current passes a capacitor,
// so the load charges the dead half backwards until both halves cancel. In a
// bridge a turned diode shorts the winding, an open one leaves half a wave.
func TestRectifierHarm(t *testing.T) {
	s, h := ropeLights(t)
	h.Joints = yokemate.Joints{{Name: "L", Pins: []string{"F1.1"}}, {Name: "N", Pins: []string{"F1.2"}}, {Name: "A", Pins: []string{"F1.5"}}, {Name: "B", Pins: []string{"F1.6"}}, {Name: "E", Pins: []string{"F1.core"}}}
	const back, none = "A reservoir is charged the wrong way round: it leaks, then heats and bursts.", ""
	for rectifier, want := range map[string]map[string]string{
		"half":    {"": none, "diode-reversed:out/1": back, "diode-open:out/1": none},
		"doubler": {"": none, "diode-reversed:out/1": back, "diode-reversed:out/2": back, "diode-open:out/1": back, "diode-open:out/2": back},
		"bridge":  {"": none, "diode-reversed:out/3": "A winding carries more than it may.", "diode-open:out/3": none},
	} {
		h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: rectifier, Farads: 0.0022, Amps: 0.1}
		l, err := New(s, h, Options{Most: 1})
		if err != nil {
			t.Fatal(err)
		}
		for code, why := range want {
			x := &l.Rectifier.States[slices.IndexFunc(l.Rectifier.States, func(x RectifierState) bool { return x.Code == code })]
			if x.Why != why || (x.Verdict == Harmful) != (why != none) || (x.Verdict == Works) != (code == "") {
				t.Errorf("%s, %q: %q, verdict %d, not %q", rectifier, code, x.Why, x.Verdict, why)
			}
		}
	}
}
