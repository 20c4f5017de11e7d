package find_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
	"yokemate/predict"
	"yokemate/supply"
)

// The enumerator of DC: every arrangement of the enumerator of AC, behind
// every rectifier that the package documents, each one followed in time. What it
// shares with the search is package supply's choice of the reservoir and its
// notes; volts, ratings, intervals, what may be drawn and the order are its own.

type rectifier struct {
	kind   string
	middle bool
}

// supplies lays out every hookup of the space with its rectifier.
func (b *bruteForce) supplies(f func(made, rectifier)) {
	if b.need.Rails == 2 {
		b.rails(func(m made) { f(m, rectifier{"bridge", true}) })
		return
	}
	b.all(func(m made) {
		if !strings.Contains(m.name, " up ") { // not back to back
			f(m, rectifier{"bridge", false})
		}
	})
	b.rails(func(m made) {
		// Both halves from each unit, side by side: not from units of their own.
		if m.h.Joints.Joint("M") != nil && b.bothFromEach(m.h) {
			f(m, rectifier{"centre-tap", true})
		}
	})
}

// bothFromEach reports whether every unit has a winding in either half.
func (b *bruteForce) bothFromEach(h *yokemate.Hookup) bool {
	has := func(joint string, tag string) bool {
		return slices.ContainsFunc(h.Joints.Joint(joint).Pins, func(p string) bool { return strings.HasPrefix(p, tag+".") })
	}
	for _, tag := range h.Tags() {
		if !has("A", tag) || !has("B", tag) {
			return false
		}
	}
	return true
}

// source takes the AC outputs out of a hookup and says where the rectifier goes.
func source(h *yokemate.Hookup, r rectifier) (*yokemate.Hookup, supply.Source) {
	o := h.Outputs
	src := supply.Source{From: o[0].From, To: o[0].To, Rectifier: r.kind}
	if r.middle {
		src.Middle, src.To = o[0].To, o[1].To
	}
	bare := h.Clone()
	bare.Outputs = nil
	return bare, src
}

// followed is a supply at one corner: its rails' means and valleys, and rms
// amps by winding.
type followed struct {
	mean, valley []float64
	amps         map[string]float64
}

func (b *bruteForce) follow(h *yokemate.Hookup, level yokemate.MainsLevel, celsius, amps, tolerance float64) (*followed, bool) {
	x := h.Clone()
	x.CopperC = &celsius
	dc := *h.Outputs[0].DC
	dc.Amps = amps
	x.Outputs[0].DC = &dc
	w, err := waveform.FromHookup(b.f, x, waveform.HookupOptions{Volts: network.FeedVolts{x.Feed[0].At(level)},
		Diode: func(float64) waveform.DiodeLaw { return waveform.Silicon(waveform.DiodeRating(amps)) }})
	if err != nil {
		return nil, false
	}
	var probes []waveform.Probe
	for _, l := range w.Rails {
		probes = append(probes, w.Volts(l.Plus, l.Minus))
	}
	for i := range w.Circuit.Windings {
		probes = append(probes, w.WindingAmps(i))
	}
	wave, _, _, err := w.Periodic(w.Start, waveform.Options{Tolerance: tolerance, Probes: probes})
	if err != nil {
		return nil, false
	}
	s := &followed{amps: map[string]float64{}}
	for k := range w.Rails {
		s.mean, s.valley = append(s.mean, wave.Traces[k].Mean), append(s.valley, wave.Traces[k].Min)
	}
	for i, p := range w.Parts.Windings {
		u := w.AC.UnitFacts(p.Core)
		s.amps[u.Tag+"/"+u.Windings[p.Winding].ID] = wave.Traces[len(w.Rails)+i].RMS
	}
	return s, true
}

// judgeDC asks the waveform of one supply.
func (b *bruteForce) judgeDC(m made, r rectifier) (rank, bool) {
	var none rank
	n := b.need
	bare, src := source(m.h, r)
	if r.middle {
		// The sides of a middle are alike to within 5 %, by their open volts.
		net, err := network.Build(b.f, bare, network.Options{})
		if err != nil {
			return none, false
		}
		sol, err := net.Solve(nil)
		if err != nil {
			return none, false
		}
		one, _ := net.Volts(src.From, src.Middle)
		two, _ := net.Volts(src.Middle, src.To)
		p, q := cabs(sol.Value(one)), cabs(sol.Value(two))
		if math.Abs(p-q) > 0.05*math.Min(p, q) {
			return none, false
		}
	}
	most, least := n.Volts*(1+n.Tolerance), n.Volts*(1-n.Tolerance)
	if n.Regulated {
		least, most = n.Volts+3, 2*(n.Volts+3)
	}
	// A first look leaves out what is far off: the reservoir that is chosen is
	// within a step of six a decade of the straight-line rule.
	rough := bare.Clone()
	rough.Outputs = []yokemate.Output{{Name: "dc", From: src.From, To: src.To, DC: &yokemate.DC{Rectifier: r.kind, Middle: src.Middle, Amps: n.Amps, Farads: n.Amps / (2 * 50 * 0.1 * n.Volts)}}}
	at, ok := b.follow(rough, yokemate.Nominal, 20, n.Amps, 1e-3)
	if !ok {
		return none, false
	}
	for _, v := range at.mean {
		if v < 0.93*least || v > 1.07*most {
			return none, false
		}
	}
	s, err := supply.Design(b.f, bare, src, n, supply.Options{Brief: true})
	if err != nil || !s.Meets {
		return none, false
	}
	h := &s.Hookup
	z := rank{units: m.units, name: m.name}
	caution := func(list []yokemate.Note) {
		if yokemate.Worst(list) == yokemate.Caution {
			z.caution = 1
		}
	}
	caution(s.Notes)
	for _, l := range s.Rails {
		if n.Regulated {
			z.dev = math.Max(z.dev, l.Headroom-3)
			if l.Volts > most {
				return none, false
			}
			continue
		}
		z.dev = math.Max(z.dev, math.Max(math.Abs(l.Volts-n.Volts), math.Abs(l.HotVolts-n.Volts)))
	}
	if !n.Regulated && z.dev > n.Tolerance*n.Volts {
		return none, false
	}
	// Windings at their corners, and what the facts leave.
	limits, reach := map[string]float64{}, map[string]float64{}
	var rails []yokemate.RailState
	for _, celsius := range []float64{20, 85} {
		for _, level := range []yokemate.MainsLevel{yokemate.Nominal, yokemate.High} {
			x := h.Clone()
			x.CopperC = &celsius
			p, err := supply.Predict(b.f, x, level, predict.Options{Brief: true})
			if err != nil {
				return none, false
			}
			for _, w := range p.Windings {
				name := w.Unit + "/" + w.ID
				if w.LimitAmps == nil {
					continue
				}
				limits[name] = *w.LimitAmps
				if w.Amps > *w.LimitAmps {
					return none, false
				}
				if len(reach) < len(p.Windings) {
					reach[name] = w.High / math.Max(w.Amps, 1e-12)
				}
			}
			if rails == nil {
				rails = p.Rails
			}
			for _, note := range p.Notes {
				if note.Code == yokemate.DCOverRating || note.Code == yokemate.NotProven && strings.Contains(note.Words, "its rating is not known") {
					caution([]yokemate.Note{note})
				}
			}
		}
	}
	for k, l := range s.Rails {
		up, down := rails[k].MeanHigh-rails[k].Mean, rails[k].Mean-rails[k].MeanLow
		switch {
		case n.Regulated && l.Valley-(rails[k].Valley-rails[k].ValleyLow) < least:
			z.caution = 1
		case !n.Regulated && (math.Max(l.Volts, l.HotVolts)+up > most || math.Min(l.Volts, l.HotVolts)-down < least):
			z.caution = 1
		}
	}
	fits := func(amps float64) bool {
		for _, celsius := range []float64{20, 85} {
			for _, level := range []yokemate.MainsLevel{yokemate.Nominal, yokemate.High} {
				at, ok := b.follow(h, level, celsius, amps, 1e-4)
				if !ok {
					return false
				}
				for name, a := range at.amps {
					if a*math.Max(1, reach[name]) > limits[name] {
						return false
					}
				}
				if n.Regulated && level == yokemate.High && celsius == 20 {
					for _, v := range at.mean {
						if (v-n.Volts)*amps*2 > 110-40 {
							return false
						}
					}
				}
			}
		}
		if n.Regulated {
			at, ok := b.follow(h, yokemate.Low, 85, amps, 1e-4)
			if !ok || slices.Min(at.valley) < least {
				return false
			}
		}
		return true
	}
	lo, hi := n.Amps, 2*n.Amps
	if !fits(lo) {
		return none, false
	}
	for fits(hi) {
		lo, hi = hi, 2*hi
	}
	for range 9 {
		if mid := (lo + hi) / 2; fits(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	for _, j := range m.h.Joints {
		if len(j.Pins) > 1 {
			z.joints++
		}
	}
	scale := n.Volts
	if !n.Regulated {
		scale *= n.Tolerance
	}
	z.max = lo
	z.fit = z.dev/scale + n.Amps/lo
	return z, true
}

func cabs(z complex128) float64 { return math.Hypot(real(z), imag(z)) }

// TestNothingBetterDC holds the search for DC to the enumerator on small random
// shelves: the first ten offers have the ranks of the enumerator's best ten.
func TestNothingBetterDC(t *testing.T) {
	t.Parallel()
	const shelves = 9
	with, total := 0, 0
	for seed := range uint64(shelves) {
		m := newMaker(300 + seed)
		s := m.shelf(3, 3)
		if seed%3 == 2 { // two sides of a tap, and their like beside them
			for i := range 2 {
				u := m.unit([]string{"T1", "T2"}[i], 230, false, 40, []float64{12, 12}, true)
				u.Windings[1].Pins, u.Windings[2].Pins = [2]string{"5", "6"}, [2]string{"6", "7"}
				u.Windings[2].Volts = u.Windings[1].Volts
				u.Insulation = slices.DeleteFunc(u.Insulation, func(i yokemate.Insulation) bool { return i.From+i.To == "AB" })
				s.Units[i] = u
			}
		}
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		b := &bruteForce{s: s, f: network.Compile(s), need: dc(15, 0.5, 2, 1+bit(seed%3 == 1))}
		b.need.Tolerance = 0.08
		b.need.Regulated = seed%4 == 3
		if err := b.need.Validate(); err != nil {
			t.Fatal(err)
		}
		// What is wanted is what some hookup of the space gives.
		var some []made
		var kinds []rectifier
		count := 0
		b.supplies(func(x made, r rectifier) {
			if count++; len(some) < 60 {
				some, kinds = append(some, x), append(kinds, r)
			} else if i := m.r.IntN(count); i < len(some) {
				some[i], kinds[i] = x, r
			}
		})
		for i, x := range some {
			b.wish(x.h, m.between(0.4, 0.95))
			if b.need.Amps == 0 {
				continue
			}
			b.need.Amps /= 2
			b.need.Volts = math.Round(10*1.15*b.need.Volts) / 10
			if b.need.Regulated {
				b.need.Volts = math.Max(3, math.Round(10*0.6*b.need.Volts)/10)
			}
			if _, ok := b.judgeDC(x, kinds[i]); ok {
				break
			}
		}
		var list []rank
		b.supplies(func(m made, r rectifier) {
			if z, ok := b.judgeDC(m, r); ok {
				z.name = r.kind + " " + z.name
				list = append(list, z)
			}
		})
		slices.SortStableFunc(list, rank.compare)
		got, err := find.Find(b.f, b.need, find.Options{Offers: 10})
		if err != nil {
			t.Fatal(err)
		}
		if len(list) > 0 {
			with++
		}
		total += len(list)
		at := func() []any { return []any{seed, b.need.Volts, b.need.Amps, b.need.Rails, b.need.Regulated} }
		if len(got.Offers) != min(len(list), 10) {
			t.Errorf("shelf %v: %d offers where there are %d", at(), len(got.Offers), len(list))
		}
		for i, o := range got.Offers {
			if i >= len(list) {
				t.Errorf("shelf %v: offer %q is not among the enumerator's", at(), o.Hookup.Name)
				break
			}
			w := list[i]
			z := rank{max: o.MaxAmps, joints: o.JointCount, units: len(o.Units), caution: bit(yokemate.Worst(o.Notes) == yokemate.Caution)}
			dev := math.Max(math.Abs(o.FullLoad-b.need.Volts), math.Abs(o.HotVolts-b.need.Volts)) / (b.need.Tolerance * b.need.Volts)
			z.fit = dev + b.need.Amps/o.MaxAmps
			// What may be drawn is halved to 1/500 of the need's amps or so, and found
			// to 1/500. Of two rails an offer names the lower one only, of a regulated one no headroom.
			off := math.Abs(z.fit - w.fit)
			if b.need.Rails == 2 || b.need.Regulated {
				off = math.Abs(b.need.Amps/z.max - b.need.Amps/w.max)
				if i > 0 && list[i-1].compare(w) == 0 || len(list) > i+1 && math.Abs(list[i+1].fit-w.fit) < 0.02 {
					off = 0 // two that are all but equal may change places
				}
			}
			if z.caution != w.caution || z.joints != w.joints || z.units != w.units || off > 0.01 {
				t.Errorf("shelf %v, offer %d: %q has rank %+v, the enumerator's is %+v", at(), i+1, o.Hookup.Name, z, w)
				break
			}
		}
	}
	t.Logf("%d of %d shelves meet their need, %d supplies in all", with, shelves, total)
	if with < shelves*2/3 {
		t.Errorf("only %d of %d shelves meet their need: the test asks too little", with, shelves)
	}
}

// TestRefusalsDC holds every refusal of a DC need to the enumerator's judge:
// none of them is an offer.
func TestRefusalsDC(t *testing.T) {
	t.Parallel()
	refused := 0
	for seed := range uint64(4) {
		m := newMaker(500 + seed)
		s := m.shelf(14, 4)
		m.odd(s)
		b := &bruteForce{s: s, f: network.Compile(s)}
		for _, n := range []*yokemate.Need{dc(15, 1.1, 2, 1), dc(12, 0.6, 2, 1), dc(18, 0.4, 2, 2)} {
			n.Regulated = n.Rails == 1 && seed%2 == 1
			if err := n.Validate(); err != nil {
				t.Fatal(err)
			}
			b.need = n
			got, err := find.Find(b.f, n, find.Options{Offers: 4})
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range got.Refusals {
				refused++
				h := &r.Hookup
				if err := h.Check(s); err != nil {
					t.Errorf("%q: %v", h.Name, err)
				}
				d := h.Outputs[0].DC
				x := made{h: h.Clone(), units: len(h.Tags())}
				x.h.Outputs = []yokemate.Output{{Name: "out", From: h.Outputs[0].From, To: cmp.Or(d.Middle, h.Outputs[0].To)}}
				if d.Middle != "" {
					x.h.Outputs = append(x.h.Outputs, yokemate.Output{Name: "two", From: d.Middle, To: h.Outputs[0].To})
				}
				if z, ok := b.judgeDC(x, rectifier{d.Rectifier, d.Middle != ""}); ok {
					t.Errorf("%g V %g A: %q is refused (%s: %s), and meets the need: %+v", n.Volts, n.Amps, h.Name, r.Why, r.Words, z)
				}
			}
		}
	}
	t.Logf("%d refusals", refused)
	if refused < 40 {
		t.Errorf("only %d refusals: the test asks too little", refused)
	}
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}
