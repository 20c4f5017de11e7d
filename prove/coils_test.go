package prove_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/prove"
)

// twoCoils makes a unit of 3 to 50 VA with two mains coils of 115 V that differ
// by a part of their volts, and what the bench's meter read of it. Ohms, idle
// current and loss are of the order that common practice (no source) has.
func twoCoils(seed uint64, part float64) (*bench, *yokemate.Hookup) {
	rng := rand.New(rand.NewPCG(seed, 41))
	b := &bench{rng: rng, gain: map[string]float64{}, mains: 115, truth: &yokemate.Shelf{Format: yokemate.ShelfFormat}, known: &yokemate.Shelf{Format: yokemate.ShelfFormat, Meters: []yokemate.Meter{benchMeter()}}}
	va := 3 * math.Pow(50.0/3, rng.Float64())
	reg := 0.5 * math.Pow(va, -0.45)
	ohms := 230 * 230 / va * reg / 4.4
	exc := 0.45 * math.Pow(va/5, -0.35) * (0.8 + 0.4*rng.Float64()) * va / 230
	num := yokemate.Num
	u := yokemate.Unit{Tag: "T1", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"P1", "P2"}}, VA: num(va),
		Windings: []yokemate.Winding{
			{ID: "P1", Pins: [2]string{"1", "2"}, Volts: num(115 * (1 + part/2)), Ohms: num(ohms)},
			{ID: "P2", Pins: [2]string{"3", "4"}, Volts: num(115 * (1 - part/2)), Ohms: num(ohms * (1.02 + 0.06*rng.Float64()))},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: num(13.8), Ohms: num(13.8 * 13.8 / va * reg / 2), Amps: num(va / 13.8)}},
		Excitation: yokemate.ExcitationList{{Series: yokemate.Series{"P1", "P2"}, Volts: num(230), Hertz: 50, Amps: num(exc), Watts: num(0.35*exc*230 + 2*exc*exc*ohms)}}}
	b.truth.Units = []yokemate.Unit{u}
	read := u
	read.Windings = append([]yokemate.Winding(nil), u.Windings...)
	get := func(q yokemate.Quantity, v float64) yokemate.Value {
		x, err := yokemate.Read(b.shown(q, v))
		if err != nil {
			panic(err)
		}
		return x
	}
	for i := range read.Windings[:2] {
		read.Windings[i].Volts = get(yokemate.VoltsAC, u.Windings[i].Volts.V)
		read.Windings[i].Ohms = get(yokemate.Ohms, u.Windings[i].Ohms.V)
	}
	b.known.Units = []yokemate.Unit{read}
	return b, hookup("half mains", 115, 104, 127, 1e3, "A", "B", joints("L: T1.1 T1.3", "N: T1.2 T1.4", "A: T1.5", "B: T1.6", "E: T1.core"))
}

// circulates is half the difference of the coils' currents on full mains, over
// the smaller rating: what each carries for the other.
func (b *bench) circulates(t *testing.T, h *yokemate.Hookup) float64 {
	t.Helper()
	n, err := network.Build(network.Compile(b.truth), h, network.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sol, err := n.Solve(nil)
	if err != nil {
		t.Fatal(err)
	}
	u := n.UnitFacts(0)
	return cmplx.Abs(sol.Value(network.Difference(n.WindingAmps(0, 0), n.WindingAmps(0, 1)))) / 2 / math.Min(u.Limits[0].Amps, u.Limits[1].Amps)
}

// trial takes the proof to the end of the trial, or to where it stays, and
// returns what the last reading came to.
func (b *bench) trial(t *testing.T, h *yokemate.Hookup) (v *yokemate.Verdict) {
	t.Helper()
	p, err := prove.New(network.Compile(b.known), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := p.Session()
	for range 40 {
		step := p.Step(s.Next())
		if step == nil {
			return v
		}
		a := yokemate.Answer{Step: step.ID}
		if step.Measure != nil {
			b.at = step
			a.Value = b.read(t, step)
		}
		if v, err = s.Take(a); err != nil {
			t.Fatal(err)
		}
		if step.ID == "trial-T1-N" || s.Next() == step.ID {
			return v
		}
	}
	t.Fatal("the trial has no end")
	return nil
}

// TestTwoCoils: coils in parallel on half mains. A gap of theirs is never a go
// where more than 15 % of the smaller rating would circulate (common practice),
// nor where one is the wrong way round; and like coils, as makers wind them, are
// let through in nearly all, also where their idle current, up to as much as
// one of them may carry, makes most of the gap.
func TestTwoCoils(t *testing.T) {
	const runs = 60
	alike, let, far, further := 0, 0, 0, 0
	stops := map[string]int{}
	for seed := range uint64(runs) {
		b, h := twoCoils(seed, 0.003*(2*float64(seed)/runs-1))
		if b.circulates(t, h) < 0.03 {
			alike++
			if v := b.trial(t, h); v.Verdict == "go" {
				let++
			} else {
				stops[v.Step+" "+v.Verdict+" "+v.Words[:min(len(v.Words), 90)]]++
			}
		}
		b, h = twoCoils(seed, 0.1*(2*float64(seed)/runs-1))
		if share := b.circulates(t, h); share > 0.15 {
			far++
			if v := b.trial(t, h); v.Verdict == "go" {
				further++
				t.Errorf("seed %d: %.0f %% would circulate: %s", seed, 100*share, v.Words)
			}
		}
		b, h = twoCoils(seed, 0)
		b.slip = slipTruth{code: "reversed:T1/P2", swap: map[string]string{"T1.3": "T1.4", "T1.4": "T1.3"}}
		if v := b.trial(t, h); v.Verdict == "go" {
			t.Errorf("seed %d: a coil the wrong way round: %s", seed, v.Words)
		}
	}
	t.Logf("%d of %d alike let through, %d of %d unlike; %v", let, alike, further, far, stops)
	if let < alike*9/10 || alike < runs/2 || far < runs/4 {
		t.Errorf("%d of %d alike let through; %d unlike", let, alike, far)
	}
}
