package kit

import (
	"errors"
	"testing"

	"yokemate"
)

// What a meter shows, as it is typed. The wanted digits are the meter's own in
// the quantity's unit, no more and no fewer: closed form.
func TestShown(t *testing.T) {
	for _, c := range []struct {
		q          yokemate.Quantity
		text, want string
	}{
		{yokemate.VoltsAC, "14,70", "14.70"},
		{yokemate.VoltsAC, " 14.70 V ", "14.70"},
		{yokemate.VoltsAC, "470 mV", "0.470"},
		{yokemate.VoltsAC, "0", "0"},
		{yokemate.VoltsAC, "98,0mV", "0.0980"},
		{yokemate.Ohms, "1300 mΩ", "1.300"},
		{yokemate.Ohms, "1.20 MΩ", "1.20e6"},
		{yokemate.Ohms, "230", "230"},
		{yokemate.Megohms, "800 kΩ", "0.800"},
		{yokemate.Megohms, "2 GΩ", "2e3"},
		{yokemate.Ohms, "2k2", "2.2e3"},
		{yokemate.Ohms, "318.6", "318.6"},
		{yokemate.Ohms, "1.27 ohm", "1.27"},
		{yokemate.Ohms, "open", "open"},
		{yokemate.Ohms, "OL", "over"},
		{yokemate.AmpsAC, "12.3 mA", "0.0123"},
		{yokemate.Millivolts, "45", "45"},
		{yokemate.Millivolts, "0,045 V", "45"},
		{yokemate.Millivolts, "-1.5", "-1.5"},
		{yokemate.Megohms, "200", "200"},
		{yokemate.Megohms, "200 M", "200"},
		{yokemate.VoltsDC, "-3.30", "-3.30"},
		{yokemate.VoltsAC, "Unsure", "unsure"},
	} {
		got, err := Shown(c.q, c.text)
		if err != nil || got != c.want {
			t.Errorf("%s %q: %q, %v; not %q", c.q, c.text, got, err, c.want)
		}
	}
	for _, bad := range []struct {
		q    yokemate.Quantity
		text string
	}{{yokemate.VoltsAC, ""}, {yokemate.VoltsAC, "-1"}, {yokemate.VoltsAC, "1 ± 0.1"}, {yokemate.VoltsAC, "1 A"}, {yokemate.Ohms, "1,000.5"}, {yokemate.Ohms, "x"}} {
		if got, err := Shown(bad.q, bad.text); err == nil {
			t.Errorf("%s %q was taken as %q", bad.q, bad.text, got)
		}
	}
}

// A reading is shown back with the digits that were typed and no more.
func TestAsShown(t *testing.T) {
	for _, c := range []struct{ digits, unit, want string }{
		{"0.01538", "A", "15.38 mA"}, {"14.70", "V", "14.70 V"}, {"0", "V", "0 V"}, {"2.2e3", "Ω", "2.2 kΩ"}, {"0.470", "V", "470 mV"}, {"230", "V", "230 V"},
	} {
		v, err := yokemate.Read(c.digits)
		if err != nil {
			t.Fatal(err)
		}
		if got := AsShown(v, c.unit); got != c.want {
			t.Errorf("%s %s is shown as %q, not %q", c.digits, c.unit, got, c.want)
		}
	}
}

// Every code has its status, and an error that has no code is internal.
func TestStatus(t *testing.T) {
	for _, c := range []yokemate.Code{yokemate.Invalid, yokemate.NotFound, yokemate.Conflict, yokemate.Unsupported, yokemate.Impossible, yokemate.Internal} {
		if got := Status(yokemate.Errorf(c, "", "x")); got < 400 || (got == 500) != (c == yokemate.Internal) {
			t.Errorf("%s: status %d", c, got)
		}
	}
	if got := Status(errors.New("x")); got != 500 {
		t.Errorf("status %d", got)
	}
}

// A memory forgets the oldest, keeps the rest, and keeps no failure.
func TestMemo(t *testing.T) {
	m := Memo[int, int]{Most: 2}
	made := 0
	get := func(k int) {
		v, err := m.Get(k, func() (int, error) { made++; return 10 * k, nil })
		if err != nil || v != 10*k {
			t.Errorf("%d: %d, %v", k, v, err)
		}
	}
	get(1)
	get(2)
	get(1)
	if made != 2 {
		t.Errorf("made %d times", made)
	}
	get(3) // forgets 1
	get(2)
	if made != 3 {
		t.Errorf("made %d times", made)
	}
	get(1)
	if made != 4 {
		t.Errorf("made %d times", made)
	}
	if _, err := m.Get(9, func() (int, error) { return 0, errors.New("no") }); err == nil {
		t.Error("a failure was hidden")
	}
	get(9)
}

// A key that takes long holds up no other, and two callers of it compute once.
func TestMemoWaitsForNobody(t *testing.T) {
	var m Memo[string, int]
	begun, release := make(chan struct{}), make(chan struct{})
	got := make(chan int, 2)
	slow := func() {
		v, err := m.Get("slow", func() (int, error) {
			close(begun) // a second time would panic
			<-release
			return 7, nil
		})
		if err != nil {
			t.Error(err)
		}
		got <- v
	}
	go slow()
	<-begun
	go slow()
	if v, err := m.Get("quick", func() (int, error) { return 1, nil }); v != 1 || err != nil {
		t.Errorf("%d, %v", v, err)
	}
	close(release)
	if a, b := <-got, <-got; a != 7 || b != 7 {
		t.Errorf("%d and %d", a, b)
	}
}
