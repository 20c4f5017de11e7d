package schema_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"yokemate"
	"yokemate/schema"
)

// compile returns all schemas, each under its name.
func compile(t *testing.T) map[string]*jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	const base = "file:///schema/"
	for _, n := range schema.Names() {
		if err := c.AddResource(base+n+".schema.json", document(t, n)); err != nil {
			t.Fatal(err)
		}
	}
	all := map[string]*jsonschema.Schema{}
	for _, n := range schema.Names() {
		s, err := c.Compile(base + n + ".schema.json")
		if err != nil {
			t.Fatal(err)
		}
		all[n] = s
	}
	return all
}

func document(t *testing.T, name string) map[string]any {
	t.Helper()
	b, ok := schema.Get(name)
	if !ok {
		t.Fatalf("there is no schema %s", name)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return doc.(map[string]any)
}

func check(s *jsonschema.Schema, data []byte) error {
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		return err
	}
	return s.Validate(v)
}

// decoders are the judges that the schemas of files are held to.
var decoders = map[string]func([]byte) error{
	"shelf":   func(b []byte) error { _, err := yokemate.DecodeShelf(b); return err },
	"hookup":  func(b []byte) error { _, err := yokemate.DecodeHookup(b); return err },
	"need":    func(b []byte) error { _, err := yokemate.DecodeNeed(b); return err },
	"answers": func(b []byte) error { _, err := yokemate.DecodeAnswers(b); return err },
}

// full are files that use every field of their format.
var full = map[string]string{
	"shelf": `{"format": "yokemate-shelf/1",
 "meters": [{"name": "bench", "true_rms": true, "lead_ohms": 0.2, "input_ohms": 1e7, "ranges": [{"quantity": "volts_ac", "max": 20, "resolution": 0.01, "percent": 0.8, "counts": 3}]}],
 "units": [{"tag": "T1", "origin": "weighbridge", "status": "quarantine", "reason": "hums", "mains": {"volts": 230, "hertz": 50, "winding": "P"}, "va": {"value": 6, "basis": "label"}, "thermal_class": "B",
  "core": {"kind": "EI", "limb_mm": 16, "stack_mm": 20.0, "mass_g": 240}, "turns_per_volt": 8.1, "pins": ["1", "2", "5", "6", "9"], "pin_rows": [["1", "2"], ["5", "9"]],
  "windings": [{"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 940}, {"id": "A", "pins": ["5", "6"], "volts": {"value": 11.920, "u": 0.05, "basis": "measured"}, "ohms": 2.9, "amps": 0.25, "leakage_mh": 0.4, "wire_mm": 0.3}],
  "excitation": {"series": ["P"], "volts": 230, "hertz": 50, "amps": 0.012, "watts": 1.4},
  "insulation": [{"from": "P", "to": "core", "megohms": 200, "test_volts": 500, "seconds": 60, "working_volts": 250}],
  "readings": [{"id": "r1", "at": "2031-05-04T12:00:00+02:00", "quantity": "volts_ac", "from": "5", "to": "6", "value": "14.70", "meter": "bench", "range": "20 V", "celsius": 20.5, "lead_ohms": 0.1,
    "joined": ["1", "9"], "burden_ohms": 100000, "excited": {"series": ["P"], "volts": 230, "hertz": 50, "lamp": {"watts": 40, "volts": 230}}, "note": "first"},
   {"id": "r2", "quantity": "volts_ac", "value": "over", "supersedes": "r1", "excited": {"winding": "P", "lamp": {"ohms": 100}}}],
  "photos": [{"id": "p1", "at": "2031-05-04T12:00:00Z", "name": "pin side", "width": 800, "height": 600, "marks": [{"pin": "5", "x": 0.25, "y": 0.75}], "jpeg": "/9j/2Q=="}]},
  {"tag": "T2", "pins": ["1", "2"], "mains": {"volts": 230, "hertz": 50}}]}`,
	"hookup": `{"format": "yokemate-hookup/1", "name": "two in parallel",
 "feed": [{"volts": 230, "low": 207, "high": 253, "hertz": 50, "live": "L", "neutral": "N", "fuse_amps": 0.5, "fuse_kind": "T", "lamp": {"watts": 40, "volts": 230}, "ohms": 0.5},
          {"volts": {"value": 231.5, "u": 0.4}, "hertz": 50, "degrees": 120, "live": "L2", "neutral": "N", "fed": false}],
 "joints": {"L": ["T1.1", "T2.1"], "N": ["T1.2", "T2.2"], "A": ["T1.5", "T2.5"], "B": ["T1.6", "T2.6"], "E": ["T1.core", "T2.core"], "F": ["T2.7"]},
 "earth": "E", "outputs": [{"name": "out", "from": "A", "to": "B", "load": {"ohms": 24, "henries": 0.01}}, {"name": "two", "from": "A", "to": "B", "load": {"amps": 0.1, "power_factor": 0.8}},
   {"name": "dc", "from": "A", "to": "F", "dc": {"rectifier": "bridge", "middle": "B", "farads": 0.0047, "amps": 0.5}}],
 "meters": [{"name": "gap", "from": "B", "to": "F"}], "fuses": [{"from": "A", "to": "F", "amps": 1, "kind": "slow"}], "copper_c": 85, "fed": true}`,
	"need": `{"format": "yokemate-need/1", "name": "lamp", "kind": "dc", "volts": 24, "tolerance": 0.05, "amps": 2, "isolated": true,
 "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N"}, "rails": 2, "max_units": 4, "regulated": true}`,
	"answers": `{"answers": [{"step": "cold-1", "value": "0.48", "feed_volts": {"value": 231, "u": 0.5}, "meter": "bench", "reason": "read twice", "note": "slow"}, {"step": "cold-2", "value": 12.50}, {"changed": "reversed:T2/A"}]}`,
}

func TestFullFilesAreValid(t *testing.T) {
	all := compile(t)
	for name, text := range full {
		if err := decoders[name]([]byte(text)); err != nil {
			t.Errorf("%s: the decoder refuses it: %v", name, err)
		}
		if err := check(all[name], []byte(text)); err != nil {
			t.Errorf("%s: the schema refuses it: %v", name, err)
		}
	}
}

// The examples folder holds the shelves, hookups, needs and answers of the
// demo, each a .json file; without any, this test has not done its work.
func TestExamplesAreValid(t *testing.T) {
	all := compile(t)
	var files []string
	err := filepath.WalkDir("../examples", func(path string, _ fs.DirEntry, err error) error {
		if filepath.Ext(path) == ".json" {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Error("there are no examples")
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		name := map[string]string{yokemate.ShelfFormat: "shelf", yokemate.HookupFormat: "hookup", yokemate.NeedFormat: "need", "": "answers"}[yokemate.FormatOf(b)]
		if err := check(all[name], b); err != nil {
			t.Errorf("%s: %v", f, err)
		}
		if err := decoders[name](b); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// Files that are wrong in their structure: schema and decoder must both say so.
func TestBadFilesAreRefusedByBoth(t *testing.T) {
	all := compile(t)
	for _, x := range []struct{ name, why, from, to string }{
		{"shelf", "unknown field", `"origin"`, `"orign"`},
		{"shelf", "unknown field in a value", `"u": 0.05`, `"sigma": 0.05`},
		{"shelf", "unknown field in a reading", `"celsius"`, `"kelvin"`},
		{"shelf", "another format", `yokemate-shelf/1`, `yokemate-shelf/9`},
		{"shelf", "no format", `"format": "yokemate-shelf/1",`, ``},
		{"shelf", "negative ohms", `"ohms": 2.9`, `"ohms": -2.9`},
		{"shelf", "zero ohms", `"ohms": 2.9`, `"ohms": 0`},
		{"shelf", "negative ohms with basis", `"ohms": 2.9`, `"ohms": {"value": -2.9, "u": 0.1}`},
		{"shelf", "negative uncertainty", `"u": 0.05`, `"u": -0.05`},
		{"shelf", "unknown basis", `"basis": "label"`, `"basis": "hearsay"`},
		{"shelf", "empty basis", `"basis": "label"`, `"basis": ""`},
		{"shelf", "text for a number", `"ohms": 940`, `"ohms": "940"`},
		{"shelf", "null", `"ohms": 940`, `"ohms": null`},
		{"shelf", "null unit", `"meters": [`, `"meters": [null, `},
		{"shelf", "one pin", `"pins": ["1", "2"], "volts"`, `"pins": ["1"], "volts"`},
		{"shelf", "three pins", `"pins": ["1", "2"], "volts"`, `"pins": ["1", "2", "3"], "volts"`},
		{"shelf", "one pin twice", `"pins": ["1", "2"], "volts"`, `"pins": ["1", "1"], "volts"`},
		{"shelf", "pin with a dot", `"pins": ["1", "2"], "volts"`, `"pins": ["1", "T1.2"], "volts"`},
		{"shelf", "tag with a space", `"tag": "T1"`, `"tag": "T 1"`},
		{"shelf", "no tag", `"tag": "T1", `, ``},
		{"shelf", "winding called core", `"id": "A"`, `"id": "core"`},
		{"shelf", "series and winding", `"winding": "P"}, "va"`, `"winding": "P", "series": ["P"]}, "va"`},
		{"shelf", "no series", `, "winding": "P"}, "va"`, `}, "va"`},
		{"shelf", "three rows of pins", `[["1", "2"], ["5", "9"]]`, `[["1"], ["2"], ["5"]]`},
		{"shelf", "one pin twice in a row", `["5", "9"]]`, `["5", "5"]]`},
		{"shelf", "photo without a picture", `, "jpeg": "/9j/2Q=="`, ``},
		{"shelf", "photo that is a letter", `"/9j/2Q=="`, `"aGVsbG8="`},
		{"shelf", "photo in no code", `"/9j/2Q=="`, `"/9j/2Q=!"`},
		{"shelf", "mark beside the picture", `"x": 0.25`, `"x": 25`},
		{"shelf", "mark of no pin", `{"pin": "5", "x"`, `{"pin": "5 6", "x"`},
		{"shelf", "unknown quantity", `"quantity": "volts_ac", "from"`, `"quantity": "loudness", "from"`},
		{"shelf", "reading as a number", `"value": "14.70"`, `"value": 14.70`},
		{"shelf", "time that is none", `2031-05-04T12:00:00+02:00`, `yesterday`},
		{"shelf", "lamp of both kinds", `{"ohms": 100}`, `{"ohms": 100, "watts": 40, "volts": 230}`},
		{"shelf", "range without full scale", `"max": 20, `, ``},
		{"shelf", "status", `"status": "quarantine"`, `"status": "fine"`},
		{"shelf", "nothing known of a unit", full["shelf"][strings.Index(full["shelf"], `"units"`):], `"units": [{"tag": "T1"}]}`},
		{"hookup", "no feed", `"feed"`, `"fed_by"`},
		{"hookup", "empty list of feeds", full["hookup"][strings.Index(full["hookup"], `[{"volts": 230`):strings.Index(full["hookup"], `,
 "joints"`)], `[]`},
		{"hookup", "empty joint", `"F": ["T2.7"]`, `"F": []`},
		{"hookup", "pin without a unit", `"F": ["T2.7"]`, `"F": ["7"]`},
		{"hookup", "pin twice in a joint", `"F": ["T2.7"]`, `"F": ["T2.7", "T2.7"]`},
		{"hookup", "joints as a list", full["hookup"][strings.Index(full["hookup"], `{"L": [`):strings.Index(full["hookup"], `,
 "earth"`)], `[["T1.1"]]`},
		{"hookup", "joint with a slash", `"F": ["T2.7"]`, `"F/1": ["T2.7"]`},
		{"hookup", "hertz out of range", `"hertz": 50, "live"`, `"hertz": 5000, "live"`},
		{"hookup", "no hertz", `"hertz": 50, "live"`, `"live"`},
		{"hookup", "fuse kind", `"fuse_kind": "T"`, `"fuse_kind": "FF"`},
		{"hookup", "load of amps and ohms", `{"ohms": 24, "henries": 0.01}`, `{"ohms": 24, "amps": 1}`},
		{"hookup", "load that says nothing", `{"ohms": 24, "henries": 0.01}`, `{}`},
		{"hookup", "power factor", `"power_factor": 0.8`, `"power_factor": 1.8`},
		{"hookup", "power factor of ohms", `{"ohms": 24, "henries": 0.01}`, `{"ohms": 24, "power_factor": 0.8}`},
		{"hookup", "load and dc", `"load": {"ohms": 24, "henries": 0.01}`, `"load": {"ohms": 24}, "dc": {"rectifier": "half", "farads": 0.001, "amps": 1}`},
		{"hookup", "rectifier", `"rectifier": "bridge"`, `"rectifier": "valve"`},
		{"hookup", "meter without a joint", `"from": "B", "to": "F"}], "fuses"`, `"from": "B"}], "fuses"`},
		{"hookup", "copper too cold", `"copper_c": 85`, `"copper_c": -90`},
		{"need", "kind", `"kind": "dc"`, `"kind": "steam"`},
		{"need", "no amps", `"amps": 2, `, ``},
		{"need", "three rails", `"rails": 2`, `"rails": 3`},
		{"need", "rails and a half", `"rails": 2`, `"rails": 1.5`},
		{"need", "text for true", `"regulated": true`, `"regulated": "yes"`},
		{"need", "several feeds", `"feed": {`, `"feed": [], "fed": {`},
		{"need", "live alone", `, "neutral": "N"`, ``},
		{"answers", "neither step nor change", `"changed"`, `"note"`},
		{"answers", "both", `{"changed"`, `{"step": "x", "changed"`},
		{"answers", "reading that is true", `12.50`, `true`},
		{"answers", "unknown field", `"reason"`, `"because"`},
		{"answers", "null", `"value": 12.50`, `"value": null`},
	} {
		text := strings.Replace(full[x.name], x.from, x.to, 1)
		if text == full[x.name] {
			t.Fatalf("%s, %s: the replacement changed nothing", x.name, x.why)
		}
		if check(all[x.name], []byte(text)) == nil {
			t.Errorf("%s, %s: the schema takes it", x.name, x.why)
		}
		if decoders[x.name]([]byte(text)) == nil {
			t.Errorf("%s, %s: the decoder takes it", x.name, x.why)
		}
	}
}

// TestSpoiltFiles replaces each place of the full files in turn by a value of
// every other type, takes each member away, and adds a foreign one. Such
// errors are structural: the two must agree on every one of them, but where a
// missing member leaves a dangling name, which only the decoder sees.
func TestSpoiltFiles(t *testing.T) {
	all := compile(t)
	strangers := []any{nil, true, "surprise", -7.5, []any{}, map[string]any{}, map[string]any{"surprise": 1.0}}
	tried := 0
	for name, text := range full {
		spoil(t, text, strangers, func(what string, data []byte) {
			tried++
			bySchema, byDecoder := check(all[name], data), decoders[name](data)
			switch {
			case bySchema != nil && byDecoder == nil:
				t.Errorf("%s %s: the schema refuses and the decoder takes it: %v", name, what, bySchema)
			case bySchema == nil && byDecoder != nil && !dangles(byDecoder):
				t.Errorf("%s %s: the schema takes and the decoder refuses it: %v", name, what, byDecoder)
			}
		})
	}
	if tried < 1000 {
		t.Errorf("only %d spoilt files were tried", tried)
	}
}

// dangles reports an error that speaks of several places at once or of the
// numeral within a text, which no schema can state.
func dangles(err error) bool {
	for _, s := range []string{"there is no joint", "there is no winding", "is neither a winding", "which is no earlier reading", "is neither a number nor", "is no reading", "is no pin of the unit",
		"volts sum to", "does not hold", "is in joint", "has a reading"} {
		if strings.Contains(err.Error(), s) {
			return true
		}
	}
	return false
}

// spoil walks over every place of a JSON text and calls try with each spoilt copy.
func spoil(t *testing.T, text string, strangers []any, try func(what string, data []byte)) {
	t.Helper()
	var doc any
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	emit := func(what string) {
		b, err := json.Marshal(doc)
		if err != nil {
			t.Fatal(err)
		}
		try(what, b)
	}
	kind := func(v any) string { return fmt.Sprintf("%T", v) }
	var walk func(path string, v any, set func(any))
	walk = func(path string, v any, set func(any)) {
		for _, s := range strangers {
			if kind(s) != kind(v) {
				set(s)
				emit(fmt.Sprintf("%s = %v", path, s))
			}
		}
		set(v)
		switch v := v.(type) {
		case map[string]any:
			for _, k := range slices.Sorted(maps.Keys(v)) {
				old := v[k]
				delete(v, k)
				emit(path + "/" + k + " away")
				v[k] = old
				walk(path+"/"+k, old, func(x any) { v[k] = x })
			}
			if !strings.HasSuffix(path, "/joints") { // any name is a joint's
				v["surprise"] = 1
				emit(path + " + surprise")
				delete(v, "surprise")
			}
		case []any:
			for i, old := range v {
				walk(fmt.Sprintf("%s/%d", path, i), old, func(x any) { v[i] = x })
			}
		}
	}
	walk("", doc, func(x any) { doc = x })
}

// A shelf made at random is a file that both accept, and comes back the same.
func TestRandomShelves(t *testing.T) {
	s := compile(t)["shelf"]
	rapid.Check(t, func(rt *rapid.T) {
		b, err := yokemate.Encode(shelfGen(rt))
		if err != nil {
			rt.Fatal(err)
		}
		if err := check(s, b); err != nil {
			rt.Fatalf("the schema refuses it: %v\n%s", err, b)
		}
		again, err := yokemate.DecodeShelf(b)
		if err != nil {
			rt.Fatalf("the decoder refuses it: %v\n%s", err, b)
		}
		b2, err := yokemate.Encode(again)
		if err != nil || !bytes.Equal(b, b2) {
			rt.Fatalf("it changed on the way (%v):\n%s\n%s", err, b, b2)
		}
	})
}

func shelfGen(t *rapid.T) *yokemate.Shelf {
	word := rapid.StringMatching(`[A-Za-z0-9]{1,6}`)
	quantity := rapid.SampledFrom([]yokemate.Quantity{yokemate.VoltsAC, yokemate.Ohms, yokemate.Kick, yokemate.Celsius})
	number := rapid.Float64Range(1e-9, 1e9)
	value := rapid.Custom(func(t *rapid.T) yokemate.Value {
		switch v := number.Draw(t, "value"); rapid.IntRange(0, 3).Draw(t, "form") {
		case 0:
			return yokemate.Value{}
		case 1:
			return yokemate.Num(v)
		default:
			return yokemate.PlusMinus(v, rapid.Float64Range(0, 1e3).Draw(t, "u"), rapid.SampledFrom([]yokemate.Basis{yokemate.Measured, yokemate.Label, yokemate.Estimated, yokemate.Assumed}).Draw(t, "basis"))
		}
	})
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{}}
	for i := range rapid.IntRange(0, 2).Draw(t, "meters") {
		s.Meters = append(s.Meters, yokemate.Meter{Name: fmt.Sprint("m", i), TrueRMS: rapid.Bool().Draw(t, "rms"), LeadOhms: number.Draw(t, "leads"),
			Ranges: []yokemate.Range{{Quantity: quantity.Draw(t, "quantity"), Max: number.Draw(t, "max"), Resolution: number.Draw(t, "resolution"), Percent: number.Draw(t, "percent"), Counts: 3}}})
	}
	for i := range rapid.IntRange(0, 4).Draw(t, "units") {
		u := yokemate.Unit{Tag: fmt.Sprint("T", i, word.Draw(t, "tag")), Origin: rapid.String().Draw(t, "origin"), VA: value.Draw(t, "va")}
		if rapid.Bool().Draw(t, "quarantine") {
			u.Status, u.Reason = "quarantine", rapid.String().Draw(t, "reason")
		}
		for j := range rapid.IntRange(1, 4).Draw(t, "windings") {
			u.Windings = append(u.Windings, yokemate.Winding{ID: fmt.Sprint("W", j), Pins: [2]string{fmt.Sprint(j), rapid.SampledFrom([]string{fmt.Sprint(j + 1), "core", "red"}).Draw(t, "pin")},
				Volts: value.Draw(t, "volts"), Ohms: value.Draw(t, "ohms"), Amps: value.Draw(t, "amps"), LeakageMH: value.Draw(t, "leakage"), WireMM: value.Draw(t, "wire")})
		}
		series := yokemate.Series{"W0"}
		if rapid.Bool().Draw(t, "mains") {
			u.Mains = &yokemate.Mains{Volts: number.Draw(t, "label volts"), Hertz: 50, Series: series}
		}
		if v := u.Windings[0].Volts; v.Known() && rapid.Bool().Draw(t, "excitation") {
			u.Excitation = append(u.Excitation, yokemate.Excitation{Series: series, Volts: v, Hertz: 60, Amps: value.Draw(t, "idle amps")})
		}
		if rapid.Bool().Draw(t, "core") {
			u.Core = &yokemate.Core{Kind: word.Draw(t, "kind"), LimbMM: value.Draw(t, "limb"), MassG: value.Draw(t, "mass")}
		}
		if rapid.Bool().Draw(t, "insulation") {
			u.Insulation = []yokemate.Insulation{{From: "W0", To: "core", Megohms: value.Draw(t, "megohms"), TestVolts: number.Draw(t, "test")}}
		}
		for j := range rapid.IntRange(0, 3).Draw(t, "readings") {
			r := yokemate.Reading{ID: fmt.Sprint("r", j), Quantity: quantity.Draw(t, "quantity"), From: "1", To: "2", Value: rapid.SampledFrom([]string{"14.70", "open", "over", "-1", "0,5"}).Draw(t, "shown"), Note: rapid.String().Draw(t, "note")}
			if rapid.Bool().Draw(t, "timed") {
				r.At = time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "at"), 0).UTC()
			}
			if j > 0 && rapid.Bool().Draw(t, "corrects") {
				r.Supersedes = "r0"
			}
			if rapid.Bool().Draw(t, "fed") {
				r.Excited = &yokemate.Excited{Series: series, Volts: value.Draw(t, "fed volts"), Lamp: &yokemate.Lamp{Ohms: number.Draw(t, "limiter")}}
			}
			u.Readings = append(u.Readings, r)
		}
		s.Units = append(s.Units, u)
	}
	return s
}

// types are the Go types that the schemas describe.
var types = map[string]reflect.Type{
	"shelf": reflect.TypeFor[yokemate.Shelf](), "hookup": reflect.TypeFor[yokemate.Hookup](), "need": reflect.TypeFor[yokemate.Need](), "answers": reflect.TypeFor[yokemate.Answers](),
	"predict": reflect.TypeFor[yokemate.SupplyPrediction](), "match": reflect.TypeFor[yokemate.Matches](), "find": reflect.TypeFor[yokemate.Findings](),
	"identify": reflect.TypeFor[yokemate.Identification](), "prove": reflect.TypeFor[yokemate.Proof](), "selfcheck": reflect.TypeFor[yokemate.Checks](),
	"switchon": reflect.TypeFor[yokemate.SwitchOn](), "waves": reflect.TypeFor[yokemate.Waves](), "fault": reflect.TypeFor[yokemate.Fault](),
	"supply": reflect.TypeFor[yokemate.Supply](), "limits": reflect.TypeFor[yokemate.LimitsCard](), "lamp": reflect.TypeFor[yokemate.FirstPower](), "heatrun": reflect.TypeFor[yokemate.HeatRun](),
}

// A schema lists exactly the fields that the encoder writes or the decoder
// reads, at every depth.
func TestSchemasNameEveryField(t *testing.T) {
	if got, want := schema.Names(), slices.Sorted(maps.Keys(types)); !slices.Equal(got, want) {
		t.Fatalf("schemas are %v, types %v", got, want)
	}
	for name, typ := range types {
		root := document(t, name)
		compare(t, name, typ, root, root)
	}
}

func compare(t *testing.T, path string, typ reflect.Type, node, root map[string]any) {
	t.Helper()
	node = resolve(t, node, &root)
	switch typ {
	case reflect.TypeFor[yokemate.Value](), reflect.TypeFor[yokemate.AnswerText](), reflect.TypeFor[time.Time](), reflect.TypeFor[[]byte]():
		return // written in forms of their own
	case reflect.TypeFor[yokemate.Joints]():
		return
	}
	switch typ.Kind() {
	case reflect.Pointer:
		compare(t, path, typ.Elem(), node, root)
	case reflect.Slice, reflect.Array:
		if items := within(t, node, root, "items"); items != nil {
			compare(t, path+"[]", typ.Elem(), items["items"].(map[string]any), root)
		} else {
			t.Errorf("%s: the schema has no list there", path)
		}
	case reflect.Struct:
		props := map[string]any{}
		for _, alt := range alternatives(t, node, root) {
			if p, ok := alt["properties"].(map[string]any); ok {
				maps.Copy(props, p)
			}
		}
		if path != "shelf" && (typ == reflect.TypeFor[yokemate.Mains]() || typ == reflect.TypeFor[yokemate.Excitation]() || typ == reflect.TypeFor[yokemate.Excited]()) {
			delete(props, "winding") // read, never written
		}
		for _, f := range reflect.VisibleFields(typ) {
			if f.Anonymous {
				continue // its fields come by themselves, but those that the outer one hides
			}
			key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if key == "" || key == "-" {
				t.Fatalf("%s: field %s has no name in JSON", path, f.Name)
			}
			sub, ok := props[key].(map[string]any)
			if !ok {
				t.Errorf("%s: the schema does not know %s", path, key)
				continue
			}
			delete(props, key)
			compare(t, path+"."+key, f.Type, sub, root)
		}
		for _, k := range slices.Sorted(maps.Keys(props)) {
			t.Errorf("%s: the schema has %s, which is no field", path, k)
		}
	}
}

// resolve follows $ref, into another file where it names one.
func resolve(t *testing.T, node map[string]any, root *map[string]any) map[string]any {
	t.Helper()
	ref, ok := node["$ref"].(string)
	if !ok {
		return node
	}
	file, part, _ := strings.Cut(ref, "#")
	if file != "" {
		*root = document(t, strings.TrimSuffix(file, ".schema.json"))
	}
	if part == "" {
		return *root
	}
	def, ok := (*root)["$defs"].(map[string]any)[strings.TrimPrefix(part, "/$defs/")].(map[string]any)
	if !ok {
		t.Fatalf("%s leads nowhere", ref)
	}
	return def
}

// alternatives returns the node, or what its oneOf offers.
func alternatives(t *testing.T, node, root map[string]any) []map[string]any {
	t.Helper()
	all := []map[string]any{node}
	list, _ := node["oneOf"].([]any)
	for _, x := range list {
		all = append(all, resolve(t, x.(map[string]any), &root))
	}
	return all
}

// within returns the alternative that has the keyword, or nil.
func within(t *testing.T, node, root map[string]any, keyword string) map[string]any {
	t.Helper()
	for _, alt := range alternatives(t, node, root) {
		if _, ok := alt[keyword]; ok {
			return alt
		}
	}
	return nil
}

// Results filled at random are written as their schemas say.
func TestRandomResults(t *testing.T) {
	all := compile(t)
	for _, name := range []string{"predict", "match", "find", "prove", "selfcheck", "switchon", "waves", "fault", "supply", "limits", "lamp", "heatrun"} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				v := reflect.New(types[name])
				fill(rt, v.Elem(), "")
				b, err := yokemate.Encode(v.Interface())
				if err != nil {
					rt.Fatal(err)
				}
				if err := check(all[name], b); err != nil {
					rt.Fatalf("%v\n%s", err, b)
				}
			})
		})
	}
}

// words are the texts of fields that allow only some.
var words = map[string][]string{
	"Verdict.Verdict": {"go", "change", "stop", "unsure"}, "IfClosed.FuseOpens": {"yes", "no", "unsure"},
	"FuseInrush.Carries": {"yes", "no", "unsure"}, "Fault.FuseOpens": {"yes", "no", "unsure"}, "FaultEvent": {"fuse", "winding", "nothing"},
	"Level": {"info", "caution", "stop", "go"}, "MainsLevel": {"low", "nominal", "high"}, "ProofState": {"open", "good", "stopped"},
	"Quantity":  {"volts_ac", "ohms", "amps_ac"},
	"FaultKind": {"short", "half-turns", "reversed"}, "Protector": {"live-fuse", "output-fuse", "unit", "thermal-link"},
	"OutputFuse.Opens": {"yes", "unsure", "no"}, "OutputFuse.Primary": {"yes", "unsure", "no", "none"},
	"CardFault.Primary": {"yes", "unsure", "no", "none"}, "CardFault.Secondary": {"yes", "unsure", "no", "none"},
	"HeatRun.Verdict": {"continuous", "short-time", "no", "not yet"},
	"LampVerdict":     {"tells", "too-big", "too-small"}, "UnitHealth": {"good", "shorted-turns", "shorted-winding"}, "Glow": {"dark", "dull", "half", "bright"},
}

// fill sets every field of v at random, within what results may say. where
// is the type and field that v is.
func fill(t *rapid.T, v reflect.Value, where string) {
	if v.Type() == reflect.TypeFor[yokemate.Hookup]() {
		v.Set(reflect.ValueOf(yokemate.Hookup{Format: yokemate.HookupFormat, Feed: yokemate.Feeds{{Volts: yokemate.Num(230), Hertz: 50, Live: "L", Neutral: "N"}},
			Joints: yokemate.Joints{{Name: "L", Pins: []string{"T1.1"}}, {Name: "N", Pins: []string{"T1.2"}}}}))
		return
	}
	if v.Type() == reflect.TypeFor[yokemate.Need]() {
		v.Set(reflect.ValueOf(yokemate.Need{Format: yokemate.NeedFormat, Kind: "dc", Volts: 12, Amps: 1, Feed: yokemate.Feed{Volts: yokemate.Num(230), Hertz: 50, Live: "L", Neutral: "N"}}))
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if rapid.Bool().Draw(t, "there") {
			v.Set(reflect.New(v.Type().Elem()))
			fill(t, v.Elem(), where)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name)
		}
	case reflect.Slice:
		n := rapid.IntRange(0, 2).Draw(t, "length")
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(t, v.Index(i), where)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(t, v.Index(i), where)
		}
	case reflect.String:
		if w := words[where]; w != nil {
			v.SetString(rapid.SampledFrom(w).Draw(t, "word"))
		} else if w := words[v.Type().Name()]; w != nil {
			v.SetString(rapid.SampledFrom(w).Draw(t, "word"))
		} else {
			v.SetString(rapid.String().Draw(t, "text"))
		}
	case reflect.Float64:
		switch where {
		case "Probability.Probability", "Verdict.Right":
			v.SetFloat(rapid.Float64Range(0, 1).Draw(t, "probability"))
		default:
			v.SetFloat(rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64).Draw(t, "number"))
		}
	case reflect.Int:
		v.SetInt(int64(rapid.IntRange(0, 1000).Draw(t, "count")))
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, "flag"))
	default:
		t.Fatalf("nothing fills a %s", v.Type())
	}
}
