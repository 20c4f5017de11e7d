package yokemate_test

import (
	"strings"
	"testing"

	"yokemate"
)

const oneUnit = `{"format": "yokemate-shelf/1", "units": [{"tag": "T1", "status": "STATUS",
 "windings": [{"id": "P", "pins": ["1", "2"]}], "readings": [{"id": "r1", "at": "2031-05-04T12:00:00Z", "quantity": "ohms", "value": "940"}]}]}`

// TestReasonInTheStatus: a reason written behind the word is kept as the reason.
func TestReasonInTheStatus(t *testing.T) {
	for _, x := range []struct{ status, reason string }{
		{"quarantine", ""}, {"quarantine: hums", "hums"}, {"quarantine, hums", "hums"}, {"quarantine – hums", "hums"}, {"quarantined", ""},
	} {
		s, err := yokemate.DecodeShelf([]byte(strings.Replace(oneUnit, "STATUS", x.status, 1)))
		if err != nil {
			t.Fatal(err)
		}
		if u := s.Units[0]; !u.Quarantined() || u.Reason != x.reason {
			t.Errorf("%q: quarantine %v, reason %q", x.status, u.Quarantined(), u.Reason)
		}
	}
	s, err := yokemate.DecodeShelf([]byte(strings.Replace(oneUnit, `"STATUS"`, `"quarantine: hums", "reason": "charred tape"`, 1)))
	if err != nil || s.Units[0].Reason != "charred tape" {
		t.Errorf("its own reason: %v, %v", s, err)
	}
}

// TestByteOrderMark: RFC 8259, section 8.1, lets a reader pass over one.
func TestByteOrderMark(t *testing.T) {
	text := []byte("\ufeff" + strings.Replace(oneUnit, "STATUS", "quarantine", 1))
	if _, err := yokemate.DecodeShelf(text); err != nil {
		t.Error(err)
	}
	if f := yokemate.FormatOf(text); f != yokemate.ShelfFormat {
		t.Errorf("it says it is %q", f)
	}
}

// TestMends: what a wrong file is told to write is what the format has there.
func TestMends(t *testing.T) {
	shelf := func(b []byte) error { _, err := yokemate.DecodeShelf(b); return err }
	hookup := func(b []byte) error { _, err := yokemate.DecodeHookup(b); return err }
	const two = `{"format": "yokemate-hookup/1", "feed": {"volts": 230, FEED"hertz": 50, "live": "L", "neutral": "N"}, "joints": {"L": ["T1.1"], "N": ["T1.2"]},
 "outputs": [{"name": "out", "from": "L", "to": "N", "load": LOAD}]}`
	wired := func(feed, load string) string { return strings.NewReplacer("FEED", feed, "LOAD", load).Replace(two) }
	if err := hookup([]byte(wired("", `{"amps": 1, "power_factor": 0.8}`))); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		decode     func([]byte) error
		text, want string
	}{
		{shelf, strings.NewReplacer("STATUS", "quarantine", "2031-05-04T12:00:00Z", "yesterday").Replace(oneUnit), `line 2 (units/0/readings/0/at): this is not what the format has here; write a time such as "2031-05-04T12:00:00Z"`},
		{shelf, strings.NewReplacer("STATUS", "quarantine", `"id": "r1", `, "").Replace(oneUnit), "T1 reading: reading 1 needs an id of its own; number the readings r1, r2, …"},
		{hookup, wired(`"low": 240, `, `{"ohms": 24}`), "feed: 240 to 253 V does not hold 230 V; low may not be above the nominal volts, nor high below"},
		{hookup, wired("", `{"ohms": 24, "power_factor": 0.8}`), `output out load: a power factor goes with amps; for ohms give "henries" in series instead, or give "amps"`},
		{hookup, wired("", `{"power_factor": 0.8}`), `output out load: a power factor goes with amps; for ohms give "henries" in series instead, or give "amps"`},
	} {
		if err := x.decode([]byte(x.text)); err == nil || err.Error() != x.want {
			t.Errorf("%v, want %s", err, x.want)
		}
	}
}

// TestPinsOfTheShelf: a pin that a hookup names is a winding's end, or the error
// says why it is not.
func TestPinsOfTheShelf(t *testing.T) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{
		{Tag: "T1", Terminals: []string{"1", "2", "9"}, Windings: []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}}}, {Tag: "T2", Terminals: []string{"1", "2"}}}}
	for pin, want := range map[string]string{
		"T1.1": "", "T1.core": "", "T2.core": "",
		"T1.9": `joint A: no winding that is known ends on pin 9 of unit T1; leave it out; its pins with windings are 1, 2, and there is core`,
		"T1.7": `joint A: unit T1 has no pin 7; its pins are 1, 2 and core`,
		"T2.1": `joint A: nothing is known of the windings of unit T2 yet, so pin 1 leads nowhere; see what to read first with "yokemate identify T2"`,
		"T3.1": `joint A: there is no unit T3 on the shelf; add it to the shelf or mend the tag`,
	} {
		got := ""
		if err := (&yokemate.Hookup{Joints: yokemate.Joints{{Name: "A", Pins: []string{pin}}}}).Check(s); err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%s: %s, want %s", pin, got, want)
		}
	}
}
