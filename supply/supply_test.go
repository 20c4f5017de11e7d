package supply_test

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	jsonv2 "github.com/go-json-experiment/json"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

func num(v float64) yokemate.Value { return yokemate.Num(v) }

// shelf holds invented units: a 6 VA and a 50 VA one with a tap.
func shelf() *network.Facts {
	mains := &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}}
	return network.Compile(&yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		{Tag: "T1", Mains: mains, Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(610)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(15.6), Ohms: num(2.1), Amps: num(0.58)}},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.014), Watts: num(1.6)}}},
		{Tag: "T3", Mains: mains, Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: num(38)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(16.9), Ohms: num(0.33), Amps: num(1.6)},
			{ID: "B", Pins: [2]string{"6", "7"}, Volts: num(16.9), Ohms: num(0.34), Amps: num(1.6)}},
			Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: num(0.045), Watts: num(4.1)}}},
	}})
}

func hookup(tag string) *yokemate.Hookup {
	h := &yokemate.Hookup{
		Format: yokemate.HookupFormat,
		Feed:   yokemate.Feeds{{Volts: num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}},
		Joints: yokemate.Joints{{Name: "L", Pins: []string{tag + ".1"}}, {Name: "N", Pins: []string{tag + ".2"}},
			{Name: "A", Pins: []string{tag + ".5"}}, {Name: "B", Pins: []string{tag + ".6"}}, {Name: "E", Pins: []string{tag + ".core"}}},
		Earth: "E",
	}
	if tag == "T3" {
		h.Joints = append(h.Joints, yokemate.Joint{Name: "C", Pins: []string{"T3.7"}})
	}
	return h
}

func withDC(h *yokemate.Hookup, to string, dc yokemate.DC) *yokemate.Hookup {
	h.Outputs = []yokemate.Output{{Name: "dc", From: "A", To: to, DC: &dc}}
	return h
}

func forecast(t testing.TB, h *yokemate.Hookup, level yokemate.MainsLevel) *yokemate.SupplyPrediction {
	t.Helper()
	p, err := supply.Predict(shelf(), h, level, predict.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestPredictBridge holds a bridge to what must be true of it: charge and
// energy balance, volts under the winding's peak, the straight-line ripple
// above the true one, rms current in the trade's range for the unit.
func TestPredictBridge(t *testing.T) {
	p := forecast(t, withDC(hookup("T3"), "B", yokemate.DC{Rectifier: "bridge", Farads: 4700e-6, Amps: 0.8}), yokemate.Nominal)
	o := p.Outputs[0]
	d := o.DC
	if d == nil || d.Mean < d.Valley || d.Peak < d.Mean || math.Abs(d.Peak-d.Valley-d.Ripple) > 1e-9 {
		t.Fatalf("%+v", d)
	}
	if d.Peak > 16.9*math.Sqrt2-1 || d.Mean < 18 {
		t.Errorf("mean %.4g V, peak %.4g V", d.Mean, d.Peak)
	}
	if rule := 0.8 / (100 * 4700e-6); d.Ripple > rule || d.Ripple < 0.6*rule {
		t.Errorf("ripple %.3g V, straight line %.3g V", d.Ripple, rule)
	}
	// Regulation of the one winding at its rating: (0.33 + 38·(16.9/230)²)·1.6/16.9, some 5 %.
	if k := d.WindingRMS / 0.8; k < 1.8 || k > 2.2 {
		t.Errorf("rms/DC %.3g", k)
	}
	if math.Abs(o.Amps-d.WindingRMS) > 1e-3*d.WindingRMS {
		t.Errorf("the rectifier draws %.5g A, its only winding carries %.5g A", o.Amps, d.WindingRMS)
	}
	if math.Abs(p.Balance) > 1e-6 {
		t.Errorf("energy balance %g", p.Balance)
	}
	// Feed watts: load, diodes, copper and iron.
	heat := 0.0
	for _, u := range p.Units {
		heat += u.Watts
	}
	if loss := p.Feed[0].Watts - heat - d.Mean*0.8; loss < 0.8*1.2 || loss > 0.8*2.4 {
		t.Errorf("%.4g W are left for two diode drops at 0.8 A", loss)
	}
	for _, w := range p.Windings {
		if w.ID == "B" && w.Amps > 1e-6 {
			t.Errorf("the open winding carries %g A", w.Amps)
		}
		if w.Amps < w.Low-1e-12 || w.Amps > w.High+1e-12 {
			t.Errorf("%s/%s: %g A outside %g to %g", w.Unit, w.ID, w.Amps, w.Low, w.High)
		}
	}
}

// TestPredictJSON: the result is a prediction with dc beside the outputs' volts.
func TestPredictJSON(t *testing.T) {
	p := forecast(t, withDC(hookup("T1"), "B", yokemate.DC{Rectifier: "doubler", Farads: 1000e-6, Amps: 0.08}), yokemate.Low)
	b, err := jsonv2.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(b, &m); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"mains", "joints", "windings", "units", "feed", "outputs", "meters", "notes", "rails"} {
		if _, ok := m[k]; !ok {
			t.Errorf("no %q", k)
		}
	}
	out := m["outputs"].([]any)
	dc := out[0].(map[string]any)["dc"].(map[string]any)
	if len(out) != 1 || dc["mean"].(float64) < 25 || dc["winding_rms"].(float64) < 0.2 {
		t.Errorf("%s", b)
	}
}

// TestOverRating: DC drawn up to the AC rating cooks the winding; the note says so.
func TestOverRating(t *testing.T) {
	has := func(amps float64) bool {
		p := forecast(t, withDC(hookup("T1"), "B", yokemate.DC{Rectifier: "bridge", Farads: 2200e-6, Amps: amps}), yokemate.Nominal)
		for _, n := range p.Notes {
			if n.Code == yokemate.DCOverRating && n.Level == yokemate.Stop {
				return true
			}
		}
		return false
	}
	if !has(0.58) || has(0.25) {
		t.Errorf("0.58 A: %v, 0.25 A: %v", has(0.58), has(0.25))
	}
}

func design(t testing.TB, tag string, src supply.Source, need yokemate.Need) *yokemate.Supply {
	t.Helper()
	h := hookup(tag)
	need.Format, need.Kind, need.Feed = yokemate.NeedFormat, "dc", h.Feed[0]
	if err := need.Validate(); err != nil {
		t.Fatal(err)
	}
	s, err := supply.Design(shelf(), h, src, &need, supply.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestDesign: a supply that meets its need, held to the rules it was made by.
func TestDesign(t *testing.T) {
	s := design(t, "T3", supply.Source{From: "A", To: "B"}, yokemate.Need{Volts: 20, Tolerance: 0.08, Amps: 0.7})
	r := s.Rails[0]
	if !s.Meets || r.Ripple > 0.1*r.Volts || r.CapacitorVolts*0.87 < r.NoLoadPeak || r.NoLoadPeak < r.Volts {
		t.Errorf("%+v %+v", r, s.Notes)
	}
	// No load, highest mains: 16.9 V · 1.1 · √2 = 26.3 V peak by hand, less what a warm iron and wave take.
	if math.Abs(r.NoLoadPeak/(16.9*1.1*math.Sqrt2)-1) > 0.02 || r.CapacitorVolts != 35 {
		t.Errorf("no-load peak %.4g V, rating %g V", r.NoLoadPeak, r.CapacitorVolts)
	}
	if got := r.BleederOhms * r.Farads * math.Log(r.NoLoadPeak/25); got > 60 || math.Abs(got-r.BleederSeconds) > 1e-9 {
		t.Errorf("bleeder %g s", got)
	}
	// About 1.6 A/1.8; this unit of some 5 % regulation gives less than the rule.
	if s.MaxAmps < 1.6/2.3 || s.MaxAmps > 1 || s.LimitedBy != "T3/A" || math.Abs(s.RuleAmps-1.6/1.8) > 1e-12 {
		t.Errorf("gives %.3g A by %s, rule %.3g A", s.MaxAmps, s.LimitedBy, s.RuleAmps)
	}
	// At that current the winding is at its rating, at the highest mains.
	at := forecast(t, withDC(hookup("T3"), "B", yokemate.DC{Rectifier: "bridge", Farads: r.Farads, Amps: s.MaxAmps}), yokemate.High)
	if w := at.Outputs[0].DC.WindingRMS; math.Abs(w/1.6-1) > 0.005 {
		t.Errorf("at %.4g A DC it carries %.4g A", s.MaxAmps, w)
	}
	if len(s.Parts) < 4 || s.PrimaryFuse == 0 || s.CoreMeanFlux > 1e-3 {
		t.Errorf("%+v, fuse %g, mean flux %g", s.Parts, s.PrimaryFuse, s.CoreMeanFlux)
	}
}

// TestDesignAtHighMains: a supply whose winding is within its rating at nominal
// mains and past it at the highest is past it.
func TestDesignAtHighMains(t *testing.T) {
	need := yokemate.Need{Volts: 20, Tolerance: 0.1, Amps: 0.7}
	most := design(t, "T3", supply.Source{From: "A", To: "B"}, need).MaxAmps
	for _, x := range []struct {
		amps float64
		over bool
	}{{0.99 * most, false}, {1.01 * most, true}} {
		need.Amps = x.amps
		s := design(t, "T3", supply.Source{From: "A", To: "B"}, need)
		at := forecast(t, withDC(hookup("T3"), "B", yokemate.DC{Rectifier: "bridge", Farads: s.Rails[0].Farads, Amps: x.amps}), yokemate.Nominal)
		if w := at.Outputs[0].DC.WindingRMS; w > 1.6 {
			t.Fatalf("%.4g A: %.4g A rms at nominal mains already", x.amps, w)
		}
		over := slices.ContainsFunc(s.Notes, func(n yokemate.Note) bool {
			return n.Code == yokemate.DCOverRating && n.Level == yokemate.Stop && strings.Contains(n.Words, "highest mains")
		})
		if over != x.over || s.Meets == x.over {
			t.Errorf("%.4g A of %.4g A: over %v, meets %v: %+v", x.amps, most, over, s.Meets, s.Notes)
		}
	}
}

func TestDesignRegulated(t *testing.T) {
	s := design(t, "T3", supply.Source{From: "A", To: "B"}, yokemate.Need{Volts: 12, Amps: 0.6, Regulated: true})
	r := s.Rails[0]
	if !s.Meets || r.Headroom < 3 || math.Abs(r.Valley-12-r.Headroom) > 1e-9 {
		t.Errorf("%+v %+v", r, s.Notes)
	}
	if r.RegulatorWatts < (r.Volts-12)*0.6 || math.Abs((110-40)/r.RegulatorWatts-2-r.HeatSinkKW) > 1e-9 {
		t.Errorf("regulator %g W, sink %g K/W", r.RegulatorWatts, r.HeatSinkKW)
	}
	// 18 V regulated has no headroom left at low mains.
	s = design(t, "T3", supply.Source{From: "A", To: "B"}, yokemate.Need{Volts: 18, Amps: 0.6, Regulated: true})
	if s.Meets {
		t.Errorf("18 V regulated from a valley of %.3g V", s.Rails[0].Valley)
	}
}

// TestDesignKeepsWarnings: what speaks against the hookup speaks against the
// supply: one that is not isolated, or whose unit is in quarantine, meets no need.
func TestDesignKeepsWarnings(t *testing.T) {
	h := hookup("T3")
	h.Joints[0].Pins = append(h.Joints[0].Pins, "T3.5") // the output's start on live
	h.Joints = append(h.Joints[:2], h.Joints[3:]...)
	need := &yokemate.Need{Format: yokemate.NeedFormat, Kind: "dc", Volts: 20, Tolerance: 0.1, Amps: 0.5, Feed: h.Feed[0]}
	s, err := supply.Design(shelf(), h, supply.Source{From: "L", To: "B"}, need, supply.Options{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, n := range s.Notes {
		found = found || n.Code == yokemate.NotIsolated && n.Level != yokemate.Info
	}
	if !found {
		t.Errorf("not isolated, and not a word of it: %+v", s.Notes)
	}
}

func TestDesignRails(t *testing.T) {
	s := design(t, "T3", supply.Source{From: "A", To: "C", Middle: "B"}, yokemate.Need{Volts: 20, Tolerance: 0.08, Amps: 0.5, Rails: 2})
	if !s.Meets || len(s.Rails) != 2 || math.Abs(s.Rails[0].Volts-s.Rails[1].Volts) > 0.3 {
		t.Errorf("%+v %+v", s.Rails, s.Notes)
	}
	if s.Rails[0].CapacitorVolts != 35 {
		t.Errorf("each rail stands half the winding: rating %g V", s.Rails[0].CapacitorVolts)
	}
	h := hookup("T3")
	need := &yokemate.Need{Format: yokemate.NeedFormat, Kind: "dc", Volts: 20, Amps: 0.5, Rails: 2, Feed: h.Feed[0]}
	if _, err := supply.Design(shelf(), h, supply.Source{From: "A", To: "B"}, need, supply.Options{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("two rails without a middle: %v", err)
	}
}

// TestDesignOthers: centre tap, half wave and doubler come out with their own
// marks: the tap's reverse volts, the magnetised core, the doubled volts.
func TestDesignOthers(t *testing.T) {
	s := design(t, "T3", supply.Source{From: "A", To: "C", Middle: "B", Rectifier: "centre-tap"}, yokemate.Need{Volts: 21, Tolerance: 0.08, Amps: 0.8})
	// A blocked diode sees the whole winding's peak: 2·16.9·1.1·√2 = 52.6 V, twice that is bought.
	if !s.Meets || s.Rails[0].DiodeVolts != 200 || s.CoreMeanFlux > 0.02 {
		t.Errorf("centre tap: %+v %+v", s.Rails[0], s.Notes)
	}
	s = design(t, "T1", supply.Source{From: "A", To: "B", Rectifier: "half"}, yokemate.Need{Volts: 18, Tolerance: 0.1, Amps: 0.1})
	if s.CoreMeanFlux < 0.02 {
		t.Errorf("a half wave leaves a mean flux of %g", s.CoreMeanFlux)
	}
	s = design(t, "T1", supply.Source{From: "A", To: "B", Rectifier: "doubler"}, yokemate.Need{Volts: 36, Tolerance: 0.1, Amps: 0.08})
	if r := s.Rails[0]; r.Volts < 30 || math.Abs(r.NoLoadPeak/(2*15.6*1.1*math.Sqrt2)-1) > 0.03 {
		t.Errorf("doubler: %+v", r)
	}
}

// TestLimits: the card's current is the one at which a winding is at its
// rating or its class's temperature; a part of the time allows more, a bridge less;
// volts stand in their order.
func TestLimits(t *testing.T) {
	h := hookup("T3")
	h.Outputs = []yokemate.Output{{Name: "bell", From: "A", To: "B", Load: &yokemate.Load{Ohms: 20}}}
	c, err := supply.Limits(shelf(), h, supply.CardOptions{})
	if err != nil {
		t.Fatal(err)
	}
	l := c.Outputs[0]
	// The winding's rating is 1.6 A, and the other winding rests: the unit is
	// cooler than at its full rating, so the rating decides.
	if math.Abs(l.Amps/1.6-1) > 0.003 || l.LimitedBy != "T3/A at its rating" {
		t.Errorf("%+v", l)
	}
	if l.DutyAmps < 1.5*l.Amps || l.DutyAmps > 2*l.Amps || l.BridgeAmps > l.Amps/1.6 || l.BridgeAmps < l.Amps/2.4 {
		t.Errorf("%+v", l)
	}
	if !(l.NoLoad > l.AtLow && l.AtHigh > l.AtLow) || c.HighestC < 40 || c.HighestC > 100 || c.PrimaryFuse == 0 || c.LowVolts != 207 || c.HighVolts != 253 {
		t.Errorf("%+v", c)
	}
	// Twice the load leaves less room for a hot day; a closed box too.
	hot := h.Clone()
	hot.Outputs[0].Load = &yokemate.Load{Ohms: 10}
	d, err := supply.Limits(shelf(), hot, supply.CardOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if d.HighestC >= c.HighestC {
		t.Errorf("%g °C with twice the load, %g °C before", d.HighestC, c.HighestC)
	}
	dc := withDC(hookup("T3"), "B", yokemate.DC{Rectifier: "bridge", Farads: 4700e-6, Amps: 0.8})
	e, err := supply.Limits(shelf(), dc, supply.CardOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if x := e.Outputs[0]; math.Abs(x.Amps/l.BridgeAmps-1) > 0.03 || x.BridgeAmps != 0 {
		t.Errorf("%+v, behind a bridge %g A", x, l.BridgeAmps)
	}
	if _, err := supply.Limits(shelf(), hookup("T3"), supply.CardOptions{}); yokemate.ErrorCode(err) != yokemate.Invalid {
		t.Errorf("no output: %v", err)
	}
}

func BenchmarkPredict(b *testing.B) {
	f, h := shelf(), withDC(hookup("T3"), "B", yokemate.DC{Rectifier: "bridge", Farads: 4700e-6, Amps: 0.8})
	for b.Loop() {
		if _, err := supply.Predict(f, h, yokemate.Nominal, predict.Options{Brief: true}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDesign(b *testing.B) {
	for b.Loop() {
		design(b, "T3", supply.Source{From: "A", To: "B"}, yokemate.Need{Volts: 20, Tolerance: 0.08, Amps: 0.7})
	}
}

// TestHalfWaveIsTold: a half wave's prediction says that it magnetises the
// core, and by how much; a bridge's does not.
func TestHalfWaveIsTold(t *testing.T) {
	told := func(kind string) (list []yokemate.Note) {
		h := hookup("T1")
		h.Outputs = []yokemate.Output{{Name: "dc", From: "A", To: "B", DC: &yokemate.DC{Rectifier: kind, Farads: 1000e-6, Amps: 0.08}}}
		p, err := supply.Predict(shelf(), h, yokemate.Nominal, predict.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range p.Notes {
			if n.Code == yokemate.OverFlux {
				list = append(list, n)
			}
		}
		return list
	}
	if l := told("half"); len(l) != 1 || l[0].Level != yokemate.Caution || l[0].About != "T1" {
		t.Errorf("half wave: %+v", l)
	}
	if l := told("bridge"); len(l) != 0 {
		t.Errorf("bridge: %+v", l)
	}
}

// TestPlugOut: with its plug out a rectified hookup stands at nothing, whatever
// the rectifier, and is written as JSON; it has no limits to tell.
func TestPlugOut(t *testing.T) {
	for _, c := range []struct {
		to string
		dc yokemate.DC
	}{
		{"C", yokemate.DC{Rectifier: "bridge", Farads: 2.2e-3, Amps: 0.3}}, {"C", yokemate.DC{Rectifier: "bridge", Middle: "B", Farads: 2.2e-3, Amps: 0.3}},
		{"C", yokemate.DC{Rectifier: "centre-tap", Middle: "B", Farads: 2.2e-3, Amps: 0.3}}, {"B", yokemate.DC{Rectifier: "half", Farads: 2.2e-3, Amps: 0.1}},
		{"B", yokemate.DC{Rectifier: "doubler", Farads: 2.2e-3, Amps: 0.1}},
	} {
		h := withDC(hookup("T3"), c.to, c.dc)
		out := false
		h.Fed = &out
		p := forecast(t, h, yokemate.Nominal)
		if _, err := yokemate.Encode(p); err != nil {
			t.Errorf("%s: %v", c.dc.Rectifier, err)
		}
		if o := p.Outputs[0]; !(math.Abs(o.DC.Peak) < 1e-9 && o.Low <= o.High && o.High < 1e-9 && p.Windings[0].High < 1e-9) {
			t.Errorf("%s: %+v %+v", c.dc.Rectifier, o, p.Windings[0])
		}
		if _, err := supply.Limits(shelf(), h, supply.CardOptions{}); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%s: limits: %v", c.dc.Rectifier, err)
		}
	}
}

// TestStarvedRail: a reservoir that its load empties between two peaks is told: 47 µF from
// 20 V lasts 2 ms at 0.5 A (Q = C V = I t), and the peaks are 10 ms apart.
func TestStarvedRail(t *testing.T) {
	starved := func(farads float64) (*yokemate.SupplyPrediction, bool) {
		p := forecast(t, withDC(hookup("T1"), "B", yokemate.DC{Rectifier: "bridge", Farads: farads, Amps: 0.5}), yokemate.Nominal)
		return p, slices.ContainsFunc(p.Notes, func(n yokemate.Note) bool { return strings.Contains(n.Words, "a larger reservoir, or fewer amps") })
	}
	p, told := starved(47e-6)
	if r := p.Rails[0]; !told || r.Valley != 0 || r.Amps > 0.48 {
		t.Errorf("%+v %+v", r, p.Notes)
	}
	// 2200 µF loses 2.3 V in 10 ms.
	if p, told := starved(2200e-6); told || p.Rails[0].Amps < 0.499 {
		t.Errorf("%+v %+v", p.Rails[0], p.Notes)
	}
}

// TestPredictWithSlip: a lead that is off takes the volts away, as it does on
// the AC side: the network's options reach the waveforms.
func TestPredictWithSlip(t *testing.T) {
	f, h, _ := random(rand.New(rand.NewPCG(3, 31)))
	right, err := supply.Predict(f, h, yokemate.Nominal, predict.Options{Brief: true})
	if err != nil {
		t.Fatal(err)
	}
	off, err := supply.Predict(f, h, yokemate.Nominal, predict.Options{Brief: true, Network: network.Options{Parted: []string{"T1.1"}}})
	if err != nil {
		t.Fatal(err)
	}
	if a, b := right.Outputs[0].DC.Mean, off.Outputs[0].DC.Mean; !(a > 3) || math.Abs(b) > 0.5*a {
		t.Errorf("%g V, with the mains lead off %g V", a, b)
	}
}
