package say

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"yokemate"
	"yokemate/si"
)

// What a meter shows, as it is typed. The wanted digits are the meter's own in
// the quantity's unit, no more and no fewer: closed form.
func TestTyped(t *testing.T) {
	for _, c := range []struct {
		q          yokemate.Quantity
		text, want string
	}{
		{yokemate.VoltsAC, "14,70", "14.70"},
		{yokemate.VoltsAC, " 14.70 V ", "14.70"},
		{yokemate.VoltsAC, "0,48 V", "0.48"},
		{yokemate.VoltsAC, "470 mV", "0.470"},
		{yokemate.VoltsAC, "0", "0"},
		{yokemate.VoltsAC, "98,0mV", "0.0980"},
		{yokemate.Ohms, "1300 mΩ", "1.300"},
		{yokemate.Ohms, "1.20 MΩ", "1.20e6"},
		{yokemate.Ohms, "230", "230"},
		{yokemate.Ohms, "2k2", "2.2e3"},
		{yokemate.Ohms, "318.6", "318.6"},
		{yokemate.Ohms, "1.27 ohm", "1.27"},
		{yokemate.Ohms, "open", "open"},
		{yokemate.Ohms, "Over", "over"},
		{yokemate.Ohms, "OL", "over"},
		{yokemate.AmpsAC, "12.3 mA", "0.0123"},
		{yokemate.Millivolts, "45", "45"},
		{yokemate.Millivolts, "0,045 V", "45"},
		{yokemate.Millivolts, "-1.5", "-1.5"},
		{yokemate.Megohms, "200", "200"},
		{yokemate.Megohms, "200 M", "200"},
		{yokemate.Megohms, "410 MΩ", "410"},
		{yokemate.Megohms, "800 kΩ", "0.800"},
		{yokemate.Megohms, "2 GΩ", "2e3"},
		{yokemate.VoltsDC, "-3.30", "-3.30"},
		{yokemate.Watts, "0", "0"},
		{yokemate.VoltsAC, " Unsure", "unsure"},
	} {
		got, err := Typed("x", c.q, c.text)
		if err != nil || got != c.want {
			t.Errorf("%s %q: %q, %v; not %q", c.q, c.text, got, err, c.want)
		}
	}
	for _, bad := range []struct {
		q    yokemate.Quantity
		text string
	}{{yokemate.VoltsAC, ""}, {yokemate.VoltsAC, "-1"}, {yokemate.VoltsAC, "1 ± 0.1"}, {yokemate.VoltsAC, "1 A"}, {yokemate.VoltsAC, "about 12"}, {yokemate.VoltsAC, "1.2.3"}, {yokemate.VoltsAC, "NaN"},
		{yokemate.Ohms, "1,000.5"}, {yokemate.Ohms, "4E7"}, {yokemate.Ohms, "x"}, {yokemate.AmpsAC, "1e999"}} {
		if got, err := Typed("x", bad.q, bad.text); yokemate.ErrorCode(err) != yokemate.Invalid || err == nil {
			t.Errorf("%s %q was taken as %q, %v", bad.q, bad.text, got, err)
		}
	}
}

// Whatever is taken is an answer the format accepts, of the same value and
// the same last digit, and is shown back so.
func TestTypedIsAnAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.StringMatching(`[0-9]{1,5}([.,][0-9]{1,4})?( ?(mV|V|kV|µV))?`).Draw(t, "typed")
		got, err := Typed("x", yokemate.VoltsAC, typed)
		if err != nil {
			t.Fatal(err)
		}
		if err := (&yokemate.Answer{Step: "s", Value: yokemate.AnswerText(got)}).Validate(); err != nil {
			t.Fatalf("%q became %q: %v", typed, got, err)
		}
		want, err := si.Read(typed, "V")
		if err != nil {
			t.Fatal(err)
		}
		v, err := yokemate.Read(got)
		if err != nil || v.V != want.Value {
			t.Fatalf("%q became %q, %v V", typed, got, want.Value)
		}
		if res := si.Resolution(v.Digits); want.Value != 0 && (res > 1.000001*want.Step || res < 0.999999*want.Step) {
			t.Fatalf("%q became %q: a last digit of %g V became %g V", typed, got, want.Step, res)
		}
		back, err := si.Read(Words{}.AsShown(v, "V"), "V")
		if err != nil || math.Abs(back.Value-v.V) > 1e-12*v.V {
			t.Fatalf("%q is shown as %q, %v", typed, Words{}.AsShown(v, "V"), err)
		}
	})
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
		if got := (Words{}).AsShown(v, c.unit); got != c.want {
			t.Errorf("%s %s is shown as %q, not %q", c.digits, c.unit, got, c.want)
		}
	}
}

// Slips of one kind stand together, each kind in the words of the trade.
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		codes []string
		want  string
	}{
		{[]string{"reversed:T2/A"}, "T2/A reversed"},
		{[]string{"reversed:T2/A", "open:T1.5", "reversed:T1/P", "reversed:T1/A"}, "T2/A, T1/P or T1/A reversed; T1.5 open"},
		{[]string{"swapped:T2/A,T2/B", "swapped:T1/A,T1/B"}, "leads of T2/A and T2/B or T1/A and T1/B swapped"},
		{[]string{"wrong-pin:T2.7-for-T2.6"}, "T2.7 taken for T2.6"},
		{[]string{"unpowered:T2", "shorted-turn:T2/P", "wrong-feed:T2"}, "T2 without mains; shorted turns in T2/P; T2 on another phase or other mains"},
		{[]string{"fuse-blown", "unknown"}, "no mains: fuse or plug; a cause not on the list"},
		{[]string{"diode-reversed:out/1", "diode-reversed:out/2", "diode-open:out/1"}, "diode out/1 or out/2 reversed; diode out/1 open"},
		{[]string{"capacitor-reversed:out/1", "polarity:out", "tap-swapped:out/A,C", "middle-open:out"}, "reservoir out/1 reversed; plus and minus of out swapped; rectifier leads of joints A and C swapped; middle lead of out open"},
		{[]string{"odd:x"}, "odd x"},
	} {
		if got := (Words{}).Slips(c.codes); got != c.want {
			t.Errorf("%v is %q, not %q", c.codes, got, c.want)
		}
	}
}

func slip(code string, v float64, c *yokemate.IfClosed) yokemate.Slip {
	return yokemate.Slip{Code: code, Value: v, Low: 0.99 * v, High: 1.01 * v, IfClosed: c}
}

// What no meter can tell apart stands together, what would carry most stands
// first, what looks right last, and an open circuit reads over, not a number.
func TestGroups(t *testing.T) {
	closed := &yokemate.IfClosed{WindingAmps: 4, Winding: "T1/A", FeedAmps: 0.3, FuseOpens: "no"}
	groups := func(q yokemate.Quantity, right *yokemate.Interval, slips ...yokemate.Slip) string {
		var all []string
		for _, g := range Groups(&yokemate.Step{Measure: &yokemate.Measure{Quantity: q}, Right: right, Slips: slips}) {
			text := Words{}.Reads(&g) + ": " + Words{}.Names(&g)
			if g.Hidden {
				text += " (hidden)"
			}
			all = append(all, text)
		}
		return strings.Join(all, " | ")
	}
	for _, c := range []struct{ got, want string }{
		{groups(yokemate.Ohms, nil, slip("open:T1.1", 1e9, nil), slip("open:T1.2", 1e12, nil)), "over (open): T1.1 or T1.2 open"},
		{groups(yokemate.Ohms, nil, slip("open:T1.1", math.Inf(1), nil), slip("open:T1.2", math.Inf(1), nil)), "over (open): T1.1 or T1.2 open"},
		{groups(yokemate.VoltsAC, nil, slip("open:T1.1", 8e-28, nil), slip("unpowered:T1", 3e-5, nil)), "about nothing: T1.1 open; T1 without mains"},
		{groups(yokemate.VoltsAC, nil, slip("unpowered:T2", 14.3, nil), slip("reversed:T2/A", 28.4, closed)), "about 28 V: T2/A reversed | about 14 V: T2 without mains"},
		{groups(yokemate.VoltsAC, nil, yokemate.Slip{Code: "open:T1.5", Value: 28, Low: 10, High: 100}, slip("reversed:T2/A", 28.4, nil)), "10 to 100 V: T1.5 open | about 28 V: T2/A reversed"},
		{groups(yokemate.VoltsAC, &yokemate.Interval{Value: 14, Low: 13.9, High: 14.2}, slip("shorted-turn:T2/P", 14.1, closed), slip("unpowered:T2", 14.3, nil)), "about 14 V: T2 without mains | about 14 V: shorted turns in T2/P (hidden)"},
	} {
		if c.got != c.want {
			t.Errorf("got  %s\nwant %s", c.got, c.want)
		}
	}
	if got := Groups(&yokemate.Step{}); got != nil {
		t.Errorf("a step without a reading has %v", got)
	}
}

// Every slip of a step is in exactly one group, and a group spans its slips.
func TestGroupsKeepEverySlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &yokemate.Step{Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC}, Right: &yokemate.Interval{Value: 1, Low: 0.5, High: 2}}
		for range rapid.IntRange(0, 20).Draw(t, "slips") {
			v := math.Pow(10, rapid.Float64Range(-4, 3).Draw(t, "v"))
			w := v * rapid.Float64Range(0, 0.5).Draw(t, "w")
			s.Slips = append(s.Slips, yokemate.Slip{Code: "x", Value: v, Low: v - w, High: v + w})
		}
		n := 0
		for _, g := range Groups(s) {
			n += len(g.Slips)
			for _, z := range g.Slips {
				if z.Low < g.Low || z.High > g.High {
					t.Fatalf("%v to %v is not in %v to %v", z.Low, z.High, g.Low, g.High)
				}
				if hidden := z.Value >= 0.5 && z.Value <= 2; hidden != g.Hidden {
					t.Fatalf("%v V is hidden: %v, its group %v", z.Value, hidden, g.Hidden)
				}
			}
		}
		if n != len(s.Slips) {
			t.Fatalf("%d of %d slips", n, len(s.Slips))
		}
	})
}

// A consequence never sounds milder than it is: a fuse that may not open is
// said so, and a short that could not be worked out is not called harmless.
func TestClosed(t *testing.T) {
	s := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		x    yokemate.IfClosed
		want string
	}{
		{yokemate.IfClosed{WindingAmps: 5.5, Winding: "F2/A", FeedAmps: 0.72, FuseOpens: "yes", OpensS: s(3)}, "Closed on it, 5.5 A in F2/A and 720 mA from the mains; the fuse opens within 3.0 s."},
		{yokemate.IfClosed{WindingAmps: 5.5, Winding: "F2/A", FeedAmps: 0.72, FuseOpens: "yes"}, "Closed on it, 5.5 A in F2/A and 720 mA from the mains; the fuse opens."},
		{yokemate.IfClosed{WindingAmps: 5.5, Winding: "F2/A", FeedAmps: 0.1, FuseOpens: "no", LimitS: s(60), Protects: "a thermal link"}, "Closed on it, 5.5 A in F2/A and 100 mA from the mains; the fuse does NOT open; too hot after 60 s. a thermal link."},
		{yokemate.IfClosed{WindingAmps: 5.5, Winding: "F2/A", FeedAmps: 0.1, FuseOpens: "unsure", LimitS: s(60)}, "Closed on it, 5.5 A in F2/A and 100 mA from the mains; the fuse may NOT open in time; too hot after 60 s."},
		{yokemate.IfClosed{WindingAmps: 0.5, Winding: "F2/A", FeedAmps: 0.1, FuseOpens: "no"}, "Closed on it, 500 mA in F2/A and 100 mA from the mains: no winding grows too hot, and the fuse does not open."},
		{yokemate.IfClosed{WindingAmps: 1e-9, Winding: "F2/A", FuseOpens: "no"}, "Closed on it, nothing flows."},
		{yokemate.IfClosed{FuseOpens: "unsure", Protects: "a dead short"}, "Closed on it: a dead short."},
		{yokemate.IfClosed{FuseOpens: "unsure"}, "Closed on it, what flows is not known."},
	} {
		if got := (Words{}).Closed(&c.x); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

// In another language and with a comma nothing is lost but the English.
func TestTranslated(t *testing.T) {
	w := Words{Locale: si.Locale{Decimal: ",", To: "bis"}, Say: func(s string) string { return strings.ReplaceAll(s, "about", "etwa") }}
	g := One(&yokemate.Step{Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC}}, &yokemate.Slip{Value: 2.84, Low: 2.8, High: 2.9})
	if got := w.Reads(&g); got != "etwa 2,8 V" {
		t.Errorf("%q", got)
	}
	if got := w.Within(0.044, 0.156, "V"); got != "44 bis 156 mV" {
		t.Errorf("%q", got)
	}
}

// Within shows one value where four digits cannot tell the ends apart.
func TestWithin(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{{12.1, 12.4, "12.1 to 12.4 V"}, {230, 230.01, "230.0 V"}} {
		if got := (Words{}).Within(c.low, c.high, "V"); got != c.want {
			t.Errorf("%q, not %q", got, c.want)
		}
	}
}

// A state has a shape of its own for each colour, so that neither has to be seen alone.
func TestMarks(t *testing.T) {
	var w Words
	shape := map[string]string{}
	for _, m := range []Mark{w.Level(yokemate.Stop), w.Level(yokemate.Caution), w.Level(yokemate.Go), w.Level(yokemate.Info), w.Verdict("go"), w.Verdict("stop"), w.Verdict("unsure"),
		w.State(yokemate.ProofGood), w.State(yokemate.ProofOpen), w.State(yokemate.ProofStopped), w.Given(&yokemate.Answer{Step: "x"}, nil)} {
		if m.Word == "" || m.Shape == "" {
			t.Errorf("%+v lacks a shape or a word", m)
		}
		if old, ok := shape[m.Class]; ok && old != m.Shape {
			t.Errorf("%s is %s and %s", m.Class, old, m.Shape)
		}
		shape[m.Class] = m.Shape
	}
	if len(shape) != 4 {
		t.Errorf("%v", shape)
	}
}

// Faults in few rows: those of a kind that the same thing ends stand in one,
// with the most amps and the soonest end of all, and the fuse's slowest opening.
func TestFaultsInShort(t *testing.T) {
	s := func(v float64) *float64 { return &v }
	got := Words{}.FaultsInShort([]yokemate.CardFault{
		{Fault: yokemate.ShortedOutput, About: "out", Winding: "T1/A", WindingAmps: 3, LimitS: s(90), Primary: "yes", PrimaryS: s(70), Secondary: "yes", SecondaryS: s(12), Protects: yokemate.OwnFuse},
		{Fault: yokemate.HalfShorted, About: "T1/P", Winding: "T1/P", WindingAmps: 0.5, LimitS: s(48), Primary: "no", Secondary: "none", Protects: yokemate.LinkInTheUnit},
		{Fault: yokemate.ShortedOutput, About: "two", Winding: "T1/B", WindingAmps: 4, LimitS: s(80), Primary: "no", Secondary: "yes", SecondaryS: s(15), Protects: yokemate.OwnFuse},
		{Fault: yokemate.HalfShorted, About: "T1/A", Winding: "T1/A", WindingAmps: 6, LimitS: s(61), Primary: "unsure", Secondary: "none", Protects: yokemate.LinkInTheUnit},
		{Fault: yokemate.HalfShorted, About: "T2/A", Winding: "T2/A", WindingAmps: 20, Primary: "yes", PrimaryS: s(0.4), Secondary: "none", Protects: yokemate.LiveFuse},
		{Fault: yokemate.TurnedRound, About: "T2/A", Winding: "T2/A", WindingAmps: 0.2, Primary: "no", Secondary: "none", Protects: yokemate.UnitItself},
	}).Rows
	want := [][]string{
		{"a dead short across out, two", "T1/B 4.0 A", "after 80 s", "the output's own fuse, within 15 s"},
		{"half the turns of T1/P, T1/A shorted", "T1/A 6.0 A", "after 48 s", "only a thermal link"},
		{"half the turns of T2/A shorted", "T2/A 20 A", "not before it", "the fuse in the live wire, within 400 ms"},
		{"T2/A the wrong way round", "T2/A 200 mA", "never", "the unit stands it"},
	}
	if len(got) != len(want) {
		t.Fatalf("%q", got)
	}
	for i := range want {
		if strings.Join(got[i], "|") != strings.Join(want[i], "|") {
			t.Errorf("row %d is %q, want %q", i+1, got[i], want[i])
		}
	}
	if rows := (Words{}).FaultsInShort(nil).Rows; len(rows) != 0 {
		t.Errorf("of no faults: %q", rows)
	}
}

func TestLinks(t *testing.T) {
	links := []yokemate.ThermalLink{{Unit: "T1", Celsius: 128}, {Unit: "T2", Celsius: 104}, {Unit: "T3", Celsius: 128}}
	if got := (Words{}).Links(links); got != "T2 104 °C; T1, T3 128 °C" {
		t.Errorf("%q", got)
	}
	if got := (Words{}).LinksWanted(nil); got != "" {
		t.Errorf("of none: %q", got)
	}
}
