package supply_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	jsonv2 "github.com/go-json-experiment/json"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/supply"
)

// TestWandering: supplies whose periodic state was not found once. In three
// the adaptive steps fell one way and the other in turn, so that the end of a
// period never came nearer its start; in the fourth the way there led past
// what an iron can do.
func TestWandering(t *testing.T) {
	b, err := os.ReadFile("testdata/wandering.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Mains  yokemate.MainsLevel `json:"mains"`
		Shelf  *yokemate.Shelf     `json:"shelf"`
		Hookup *yokemate.Hookup    `json:"hookup"`
	}
	if err := jsonv2.Unmarshal(b, &cases); err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		p, err := supply.Predict(network.Compile(c.Shelf), c.Hookup, c.Mains, predict.Options{Brief: true})
		if err != nil {
			t.Errorf("%s: %v", c.Hookup.Name, err)
			continue
		}
		if r := p.Rails[0]; math.Abs(r.Amps/c.Hookup.Outputs[0].DC.Amps-1) > 1e-3 && r.Valley > 1 || math.Abs(p.Balance) > 1e-6 {
			t.Errorf("%s: %+v, energy balance %g", c.Hookup.Name, r, p.Balance)
		}
	}
	if len(cases) != 4 {
		t.Errorf("%d cases", len(cases))
	}
}

// salvage makes an invented unit of so many VA and volts. Regulation, idle
// current and iron loss are of the order that common practice (no source) has.
func salvage(r *rand.Rand, tag string, va, volts float64) yokemate.Unit {
	about := func(v, by float64) yokemate.Value { return num(v * (1 + by*(2*r.Float64()-1))) }
	reg := 0.45 * math.Pow(va, -0.4)
	idle := 0.9 * math.Pow(va, -0.35) * va / 230
	watts := math.Min(0.6+0.045*va, 0.6*230*idle)
	return yokemate.Unit{Tag: tag, Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: []string{"P"}},
		Windings: []yokemate.Winding{
			{ID: "P", Pins: [2]string{"1", "2"}, Volts: num(230), Ohms: about(reg/2*230*230/va, 0.3)},
			{ID: "A", Pins: [2]string{"5", "6"}, Volts: about(volts*(1+reg), 0.01), Ohms: about(reg*volts*volts/va, 0.3), Amps: num(va / 2 / volts)},
			{ID: "B", Pins: [2]string{"7", "8"}, Volts: about(volts*(1+reg), 0.01), Ohms: about(reg*volts*volts/va, 0.3), Amps: num(va / 2 / volts)}},
		Excitation: yokemate.ExcitationList{{Series: []string{"P"}, Volts: num(230), Hertz: 50, Amps: about(idle, 0.25), Watts: num(watts)}}}
}

// random makes a supply of one or two invented units in series, from a fifth of
// what they stand to one and a half of it.
func random(r *rand.Rand) (*network.Facts, *yokemate.Hookup, yokemate.MainsLevel) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	h := &yokemate.Hookup{Format: yokemate.HookupFormat, Name: "random",
		Feed:   yokemate.Feeds{{Volts: num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}},
		Joints: yokemate.Joints{{Name: "L"}, {Name: "N"}, {Name: "J0"}}}
	limit, volts, at := math.Inf(1), 0.0, 2
	for i := range 1 + r.IntN(2) {
		va, v := []float64{3, 6, 12, 25, 50, 80}[r.IntN(6)], []float64{6, 9, 12, 15, 18, 24}[r.IntN(6)]
		u := salvage(r, fmt.Sprint("T", i+1), va, v)
		s.Units = append(s.Units, u)
		w := u.Windings[1+r.IntN(2)]
		limit, volts = math.Min(limit, w.Amps.V), volts+w.Volts.V
		h.Joints[0].Pins = append(h.Joints[0].Pins, u.Tag+".1")
		h.Joints[1].Pins = append(h.Joints[1].Pins, u.Tag+".2")
		h.Joints[at].Pins = append(h.Joints[at].Pins, u.Tag+"."+w.Pins[0])
		at++
		h.Joints = append(h.Joints, yokemate.Joint{Name: fmt.Sprint("J", i+1), Pins: []string{u.Tag + "." + w.Pins[1]}})
	}
	d := &yokemate.DC{Rectifier: []string{"bridge", "bridge", "half", "doubler"}[r.IntN(4)]}
	d.Amps = limit * (0.2 + 1.3*r.Float64()) / map[string]float64{"bridge": 1.8, "half": 2.6, "doubler": 3.5}[d.Rectifier]
	d.Farads = d.Amps / (100 * 0.1 * 1.2 * volts) * (0.3 + 3*r.Float64())
	h.Outputs = []yokemate.Output{{Name: "dc", From: "J0", To: h.Joints[at].Name, DC: d}}
	copper := []float64{20, 85}[r.IntN(2)]
	h.CopperC = &copper
	return network.Compile(s), h, []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High}[r.IntN(3)]
}

// TestPredictRandom: every supply of a size that a unit may give has a state,
// and its energy balances.
func TestPredictRandom(t *testing.T) {
	for seed := range uint64(300) {
		f, h, level := random(rand.New(rand.NewPCG(seed, 31)))
		p, err := supply.Predict(f, h, level, predict.Options{Brief: true})
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if math.Abs(p.Balance) > 1e-6 || !(p.Outputs[0].DC.Mean > 0) {
			t.Errorf("seed %d: %+v, energy balance %g", seed, p.Outputs[0].DC, p.Balance)
		}
	}
}
