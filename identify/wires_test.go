package identify

import (
	"slices"
	"testing"

	"yokemate"
)

// Pins that a reading has linked are told as joined at once, while what else
// may be on their wire is open; at the end each wire stands as the windings do.
func TestWiresAppear(t *testing.T) {
	u := &yokemate.Unit{Tag: "T1", Terminals: []string{"1", "2", "3", "5", "6"}}
	at := func() []yokemate.FoundWire {
		t.Helper()
		a, err := Identify(u, nil, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return a.Wires
	}
	read := func(from, to, value string) {
		r, err := u.NextReading(yokemate.Reading{Quantity: yokemate.Ohms, From: from, To: to, Value: value})
		if err != nil {
			t.Fatal(err)
		}
		u.Readings = append(u.Readings, r)
	}
	if w := at(); len(w) != 0 {
		t.Errorf("before any reading: %+v", w)
	}
	read("1", "2", "318.6")
	w := at()
	if len(w) != 1 || !slices.Equal(w[0].Pins, []string{"1", "2"}) || w[0].Joined < 0.99 || w[0].Probability > 0.9 || w[0].Probability < 0.2 {
		t.Errorf("after one reading: %+v", w)
	}
	for _, x := range [][3]string{{"2", "3", "open"}, {"2", "5", "open"}, {"2", "6", "open"}, {"3", "5", "1.27"}, {"5", "6", "1.31"}, {"3", "6", "2.31"}} {
		read(x[0], x[1], x[2])
	}
	w = at()
	if len(w) != 2 || w[0].Probability < 0.99 || w[1].Joined < 0.99 || w[1].Probability < 0.9 || !slices.Equal(w[1].Pins, []string{"3", "5", "6"}) {
		t.Errorf("in the end: %+v", w)
	}
}

// For every simulated unit, as its readings come in, what is told as joined has
// a probability, is never told twice, and holds the pins of every winding found.
func TestWiresHoldTheWindings(t *testing.T) {
	for _, readings := range [][][3]string{
		{{"1", "2", "318.6"}, {"3", "4", "1.27"}, {"5", "6", "2.10"}, {"1", "3", "open"}, {"1", "5", "open"}, {"3", "5", "open"}},
		{{"1", "2", "40.1"}, {"2", "3", "41.9"}, {"1", "3", "81.7"}, {"4", "5", "0.90"}, {"5", "6", "open"}},
	} {
		u := &yokemate.Unit{Tag: "T1", Terminals: []string{"1", "2", "3", "4", "5", "6"}}
		for _, x := range readings {
			r, err := u.NextReading(yokemate.Reading{Quantity: yokemate.Ohms, From: x[0], To: x[1], Value: x[2]})
			if err != nil {
				t.Fatal(err)
			}
			u.Readings = append(u.Readings, r)
			a, err := Identify(u, nil, Options{})
			if err != nil {
				t.Fatal(err)
			}
			seen := map[string]bool{}
			for _, w := range a.Wires {
				if !(w.Joined > 0 && w.Joined <= 1 && w.Probability >= 0 && w.Probability <= w.Joined+1e-9) || len(w.Pins) < 2 {
					t.Errorf("%+v", w)
				}
				for _, p := range w.Pins {
					if seen[p] {
						t.Errorf("pin %s is on two wires: %+v", p, a.Wires)
					}
					seen[p] = true
				}
			}
			for _, w := range a.Windings {
				if !slices.ContainsFunc(a.Wires, func(x yokemate.FoundWire) bool {
					return slices.Contains(x.Pins, w.Pins[0]) && slices.Contains(x.Pins, w.Pins[1])
				}) {
					t.Errorf("winding %+v is on none of %+v", w, a.Wires)
				}
			}
		}
	}
}

// Readings that fit to the last digit are not told to disagree, beyond the
// meter's millivolt range either, where nothing but errors in common was left of
// them: 2.1 Ω and 2.4 Ω are 4.5 Ω, closed form.
func TestBeyondTheRange(t *testing.T) {
	u := &yokemate.Unit{Tag: "T1", Terminals: []string{"7", "8", "9"}}
	warm := 21.0
	for _, x := range []yokemate.Reading{
		{Quantity: yokemate.Ohms, From: "7", To: "8", Value: "2.3", LeadOhms: 0.2, Celsius: &warm}, {Quantity: yokemate.Ohms, From: "8", To: "9", Value: "2.6", LeadOhms: 0.2, Celsius: &warm},
		{Quantity: yokemate.Ohms, From: "7", To: "9", Value: "4.7", LeadOhms: 0.2, Celsius: &warm},
		{Quantity: yokemate.Millivolts, From: "7", To: "8", Value: "2100", Celsius: &warm}, {Quantity: yokemate.Millivolts, From: "8", To: "9", Value: "2400", Celsius: &warm},
	} {
		r, err := u.NextReading(x)
		if err != nil {
			t.Fatal(err)
		}
		u.Readings = append(u.Readings, r)
	}
	for _, meters := range [][]yokemate.Meter{nil, Presets()[1:2]} {
		a, err := Identify(u, meters, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range a.Notes {
			if n.Code == yokemate.ReadingsDisagree {
				t.Errorf("%s", n.Words)
			}
		}
		if a.Confidence < 0.99 {
			t.Errorf("the order is %.3f sure", a.Confidence)
		}
	}
}
