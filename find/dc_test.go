package find_test

import (
	"math"
	"slices"
	"testing"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

func dc(v, a float64, units, rails int) *yokemate.Need {
	n := need(v, a, units)
	n.Kind, n.Rails = "dc", rails
	return n
}

// TestDCReckoning holds what the search for DC prunes by to package supply:
// the rail's volts within the reckoned bounds, the AC volts under the least
// load within the band that is searched, no winding within its rating where
// the reckoning says it is past it.
func TestDCReckoning(t *testing.T) {
	t.Parallel()
	count, sketched, worst := 0, 0, 0.0
	for seed := range uint64(4) {
		m := newMaker(700 + seed)
		s := m.shelf(6, 4)
		m.odd(s)
		f := network.Compile(s)
		for _, n := range []*yokemate.Need{dc(15, 0.5, 2, 1), dc(14, 0.2, 2, 2)} {
			n.Tolerance = 0.2
			for _, r := range find.ReckonDC(f, n, 4) {
				if math.IsNaN(r.Mean[0]) || r.HotMean[0] == 0 {
					continue // it has no state at these amps
				}
				count++
				for k, m := range [2][2]float64{r.Mean, r.HotMean} {
					if m[1] < r.Lo[k] || m[0] > r.Hi[k] {
						t.Errorf("%s: %.4g to %.4g V, reckoned %.4g to %.4g", r.Name, m[0], m[1], r.Lo[k], r.Hi[k])
					}
					if math.Abs(r.AC[k]) > 1 {
						t.Errorf("%s: the AC volts are %.2f of the band from its middle", r.Name, r.AC[k])
					}
				}
				for k := range 2 {
					if !math.IsNaN(r.Sketch[k]) {
						sketched++
						worst = math.Max(worst, r.Off[k]/r.Sketch[k])
						if r.Off[k] > r.Sketch[k] {
							t.Errorf("%s: the sums of the reservoir are %.3g V off, %.3g V is allowed", r.Name, r.Off[k], r.Sketch[k])
						}
					}
				}
				if r.SketchFull < 1 {
					t.Errorf("%s: reckoned to be at its limit, and %.3f full", r.Name, r.SketchFull)
				}
				if r.Amps < 1 && r.Full < 1 {
					t.Errorf("%s: reckoned past its limit at %.2f of the amps, and %.2f full", r.Name, r.Amps, r.Full)
				}
				if r.Joint != r.Count {
					t.Errorf("%s: reckoned %d joints, there are %d", r.Name, r.Joint, r.Count)
				}
			}
		}
	}
	t.Logf("%d hookups, %d sums of a reservoir, the worst %.2f of what is allowed", count, sketched, worst)
	if count < 60 {
		t.Errorf("only %d hookups were reckoned", count)
	}
}

// checkDC looks at an offer from outside the search: package supply at its
// corners, the pins, the isolation, the limit.
func checkDC(t *testing.T, s *yokemate.Shelf, f *network.Facts, n *yokemate.Need, o *yokemate.Offer) {
	t.Helper()
	h := &o.Hookup
	at := h.Name
	if err := h.Validate(); err != nil {
		t.Errorf("%s: %v", at, err)
		return
	}
	if len(h.Outputs) != 1 || h.Outputs[0].DC == nil || h.Outputs[0].DC.Amps != n.Amps || h.Outputs[0].DC.Farads <= 0 {
		t.Errorf("%s: outputs %+v", at, h.Outputs)
		return
	}
	out := h.Outputs[0]
	copper := joined(s, h)
	if copper(out.From, "L") || copper(out.To, "L") || copper(out.From, "N") || !o.Isolated {
		t.Errorf("%s: the output is joined to the mains", at)
	}
	for _, celsius := range []float64{20, 85} {
		for _, level := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
			x := h.Clone()
			x.CopperC = &celsius
			p, err := supply.Predict(f, x, level, predict.Options{Brief: true})
			if err != nil {
				t.Errorf("%s: %v", at, err)
				return
			}
			if yokemate.Worst(p.Notes) == yokemate.Stop {
				t.Errorf("%s: %g °C, %s mains: %+v", at, celsius, level, p.Notes[0])
			}
			if len(p.Rails) != n.Rails {
				t.Errorf("%s: %d rails", at, len(p.Rails))
			}
			least := math.Inf(1)
			for _, r := range p.Rails {
				least = math.Min(least, r.Mean)
				if n.Regulated && level == yokemate.Low && celsius == 85 && r.Valley < (n.Volts+3)*(1-1e-6) {
					t.Errorf("%s: a valley of %.4g V at low mains", at, r.Valley)
				}
				if !n.Regulated && level == yokemate.Nominal && math.Abs(r.Mean-n.Volts) > n.Tolerance*n.Volts*(1+1e-6) {
					t.Errorf("%s: %g °C: %.4g V", at, celsius, r.Mean)
				}
			}
			if level != yokemate.Nominal {
				continue
			}
			if v := map[float64]float64{20: o.FullLoad, 85: o.HotVolts}[celsius]; math.Abs(v-least) > 1e-3*least {
				t.Errorf("%s: %g °C: %.5g V, said to be %.5g", at, celsius, least, v)
			}
			if celsius == 20 && math.Abs(p.Feed[0].Watts-o.FeedWatts) > 1e-3*o.FeedWatts {
				t.Errorf("%s: %.4g W, said to be %.4g", at, p.Feed[0].Watts, o.FeedWatts)
			}
		}
	}
	if o.NoLoadVolts <= o.FullLoad || o.MaxAmps < n.Amps || o.LimitedBy == "" {
		t.Errorf("%s: %.4g V idle, at most %.3g A by %q", at, o.NoLoadVolts, o.MaxAmps, o.LimitedBy)
	}
	// At the limit no winding is past its rating (0.5 % is the search's own step).
	x := h.Clone()
	x.Outputs[0].DC = &yokemate.DC{Rectifier: out.DC.Rectifier, Middle: out.DC.Middle, Farads: out.DC.Farads, Amps: o.MaxAmps}
	p, err := supply.Predict(f, x, yokemate.High, predict.Options{Brief: true})
	if err != nil {
		t.Errorf("%s at %.3g A: %v", at, o.MaxAmps, err)
		return
	}
	for _, w := range p.Windings {
		if w.LimitAmps != nil && w.Amps > *w.LimitAmps*1.005 {
			t.Errorf("%s: at its limit of %.3g A DC %s/%s carries %.4g A rms of %.4g", at, o.MaxAmps, w.Unit, w.ID, w.Amps, *w.LimitAmps)
		}
	}
}

// TestDCOffers answers DC needs from a small shelf with two offers' worth of
// single units and a tapped one, and looks at every offer from outside.
func TestDCOffers(t *testing.T) {
	m := newMaker(61)
	plain := func(tag string, va, v float64) yokemate.Unit { return m.unit(tag, 230, false, va, []float64{v}, true) }
	tapped := m.unit("M1", 230, false, 50, []float64{12, 12}, true)
	tapped.Windings[1].Pins, tapped.Windings[2].Pins = [2]string{"5", "6"}, [2]string{"6", "7"}
	// A tap's halves come off one length of wire: equal turns.
	tapped.Windings[2].Volts = tapped.Windings[1].Volts
	tapped.Insulation = slices.DeleteFunc(tapped.Insulation, func(i yokemate.Insulation) bool { return i.From == "A" && i.To == "B" })
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{plain("T1", 20, 10), plain("T2", 30, 12), plain("T3", 30, 15), tapped}}
	f := network.Compile(s)
	regulated := dc(12, 0.5, 1, 1)
	regulated.Regulated = true
	for _, c := range []struct {
		name    string
		n       *yokemate.Need
		unit    string // of an offer
		rect    string
		middle  bool
		refused string // a unit of a refusal that names the supply
	}{
		{"twelve", dc(12, 0.5, 1, 1), "T1", "bridge", false, ""},
		{"two diodes", dc(16, 0.8, 1, 1), "M1", "centre-tap", true, ""},
		{"rails", dc(16, 0.4, 1, 2), "M1", "bridge", true, ""},
		{"regulated", regulated, "T3", "bridge", false, "T2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.n.Tolerance = 0.12
			got, err := find.Find(f, c.n, find.Options{Offers: 6})
			if err != nil {
				t.Fatal(err)
			}
			found, named := false, false
			for i := range got.Offers {
				o := &got.Offers[i]
				checkDC(t, s, f, c.n, o)
				d := o.Hookup.Outputs[0].DC
				found = found || d != nil && slices.Equal(o.Units, []string{c.unit}) && d.Rectifier == c.rect && (d.Middle != "") == c.middle
				if c.refused != "" && slices.Equal(o.Units, []string{c.refused}) {
					t.Errorf("%s is offered", o.Hookup.Name)
				}
				t.Logf("%s: %.4g V idle, %.4g V, %.4g V hot, at most %.3g A by %s, %d joints", o.Hookup.Name, o.NoLoadVolts, o.FullLoad, o.HotVolts, o.MaxAmps, o.LimitedBy, o.JointCount)
			}
			for _, r := range got.Refusals {
				t.Logf("refused: %s: %s (%s)", r.Hookup.Name, r.Words, r.Why)
				if err := r.Hookup.Validate(); err != nil || r.Hookup.Outputs[0].DC == nil {
					t.Errorf("refusal %s: %v", r.Hookup.Name, err)
				}
				named = named || slices.Equal(r.Hookup.Tags(), []string{c.refused}) && r.Why == yokemate.DCOverRating
			}
			if !found {
				t.Errorf("no offer of %s by %s", c.unit, c.rect)
			}
			if c.refused != "" && !named {
				t.Errorf("no refusal of %s", c.refused)
			}
			again, err := find.Find(f, c.n, find.Options{Offers: 6})
			if err != nil {
				t.Fatal(err)
			}
			a, _ := yokemate.Encode(got)
			if b, _ := yokemate.Encode(again); string(a) != string(b) {
				t.Error("two runs differ")
			}
		})
	}
}

// BenchmarkDC answers DC needs on 200 units with up to three units a hookup.
func BenchmarkDC(b *testing.B) {
	f := network.Compile(newMaker(1).shelf(200, 4))
	reg := dc(12, 0.5, 3, 1)
	reg.Regulated = true
	for name, n := range map[string]*yokemate.Need{"15V": dc(15, 0.5, 3, 1), "rails": dc(15, 0.3, 3, 2), "reg": reg, "heavy": dc(24, 2, 3, 1)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				k := 0
				r, err := find.Find(f, n, find.Options{Progress: func(int) { k++ }})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(k), "solved")
				b.ReportMetric(float64(len(r.Offers)), "offers")
			}
		})
	}
}
