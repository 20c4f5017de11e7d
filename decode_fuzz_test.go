package yokemate_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"yokemate"
)

const fuzzShelf = `{"format": "yokemate-shelf/1",
 "meters": [{"name": "bench", "true_rms": true, "lead_ohms": 0.2, "ranges": [{"quantity": "volts_ac", "max": 20, "resolution": 0.01, "percent": 0.8, "counts": 3}]}],
 "units": [{"tag": "T1", "origin": "weighbridge", "mains": {"volts": 230, "hertz": 50, "winding": "P"}, "va": {"value": 6, "basis": "label"}, "thermal_class": "B",
  "core": {"kind": "EI", "limb_mm": 16, "stack_mm": 20.0, "mass_g": 240},
  "windings": [{"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 940}, {"id": "A", "pins": ["5", "6"], "volts": {"value": 11.920, "u": 0.05}, "ohms": 2.9, "amps": 0.25, "leakage_mh": 0.4, "wire_mm": 0.3}],
  "excitation": [{"series": ["P"], "volts": 230, "hertz": 50, "amps": 0.012, "watts": 1.4}],
  "insulation": [{"from": "P", "to": "core", "megohms": 200, "test_volts": 500, "seconds": 60, "working_volts": 250}],
  "readings": [{"id": "r1", "at": "2031-05-04T12:00:00+02:00", "quantity": "volts_ac", "from": "5", "to": "6", "value": "14.70", "celsius": 20.5, "excited": {"winding": "P", "volts": 230, "lamp": {"watts": 40, "volts": 230}}}]}]}`

const fuzzHookup = `{"format": "yokemate-hookup/1", "name": "two in parallel",
 "feed": [{"volts": 230, "low": 207, "high": 253, "hertz": 50, "live": "L", "neutral": "N", "fuse_amps": 0.5, "fuse_kind": "T", "lamp": {"watts": 40, "volts": 230}, "ohms": 0.5},
          {"volts": {"value": 231.5, "u": 0.4}, "hertz": 50, "degrees": 120, "live": "L2", "neutral": "N", "fed": false}],
 "joints": {"L": ["T1.1", "T2.1"], "N": ["T1.2", "T2.2"], "A": ["T1.5", "T2.5"], "B": ["T1.6", "T2.6"], "E": ["T1.core", "T2.core"], "F": ["T2.7"]},
 "earth": "E", "outputs": [{"name": "out", "from": "A", "to": "B", "load": {"ohms": 24, "henries": 0.01}}, {"name": "dc", "from": "A", "to": "F", "dc": {"rectifier": "bridge", "farads": 0.0047, "amps": 0.5}}],
 "meters": [{"name": "gap", "from": "B", "to": "F"}], "fuses": [{"from": "A", "to": "F", "amps": 1, "kind": "slow"}], "copper_c": 85}`

const fuzzNeed = `{"format": "yokemate-need/1", "name": "lamp", "kind": "ac", "volts": 24, "tolerance": 0.05, "amps": 2, "isolated": true,
 "feed": {"volts": 230, "hertz": 50}, "rails": 1, "max_units": 4, "regulated": false}`

func FuzzDecodeShelf(f *testing.F)  { fuzzDecode(f, fuzzShelf, yokemate.DecodeShelf) }
func FuzzDecodeHookup(f *testing.F) { fuzzDecode(f, fuzzHookup, yokemate.DecodeHookup) }
func FuzzDecodeNeed(f *testing.F)   { fuzzDecode(f, fuzzNeed, yokemate.DecodeNeed) }

// fuzzDecode holds a decoder to three promises: it never panics; what it
// refuses it refuses in one line with a mend; and what it takes can be written,
// taken again, and is then the same.
func fuzzDecode[T any](f *testing.F, seed string, decode func([]byte) (*T, error)) {
	if _, err := decode([]byte(seed)); err != nil {
		f.Fatalf("the seed itself is refused: %v", err)
	}
	f.Add([]byte(seed))
	f.Add([]byte(seed[:len(seed)/2]))
	f.Add([]byte(strings.Replace(seed, "230", "NaN", 1)))
	f.Add([]byte(strings.Replace(seed, "230", `"two hundred"`, 1)))
	f.Add([]byte(strings.Replace(seed, "230", "-1e400", 1)))
	f.Add([]byte(strings.Replace(seed, "230", "null", 1)))
	f.Add([]byte(strings.Replace(seed, "230", "230.000", 1)))
	f.Add([]byte(strings.Replace(seed, `"T1`, "\"T1\xff", 1)))
	f.Add([]byte(strings.Replace(seed, "{", `{"surprise": 1, `, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		v, err := decode(data)
		if err != nil {
			text := err.Error()
			if strings.IndexFunc(text, unicode.IsControl) >= 0 {
				t.Errorf("the message is not one line: %q", text)
			}
			if !strings.Contains(text, "; ") {
				t.Errorf("the message has no mend: %q", text)
			}
			if c := yokemate.ErrorCode(err); c == yokemate.Internal {
				t.Errorf("bad input is called an internal error: %q", text)
			}
			return
		}
		out, err := yokemate.Encode(v)
		if err != nil {
			t.Fatalf("what was accepted cannot be written: %v", err)
		}
		again, err := decode(out)
		if err != nil {
			t.Fatalf("what was written is not accepted: %v\n%s", err, out)
		}
		if diff := cmp.Diff(v, again, cmpopts.EquateEmpty()); diff != "" {
			t.Fatalf("it changed on the way: %s", diff)
		}
		out2, err := yokemate.Encode(again)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(out, out2) {
			t.Fatalf("written twice, it differs:\n%s\n%s", out, out2)
		}
	})
}
