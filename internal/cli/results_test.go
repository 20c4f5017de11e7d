package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"yokemate/schema"
)

// resultFiles are the files that the results are asked of: a unit with a tapped
// secondary, on AC, behind rectifiers and on two rails.
var resultFiles = map[string]string{
	"shelf.json": `{"format": "yokemate-shelf/1", "units": [
 {"tag": "R1", "va": 24, "mains": {"volts": 230, "hertz": 50, "winding": "P"}, "windings": [
   {"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 120}, {"id": "A", "pins": ["5", "6"], "volts": 14.2, "ohms": 0.62, "amps": 0.85}, {"id": "B", "pins": ["6", "7"], "volts": 14.1, "ohms": 0.64, "amps": 0.85}]},
 {"tag": "R2", "va": 24, "mains": {"volts": 230, "hertz": 50, "winding": "P"}, "windings": [
   {"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 121}, {"id": "A", "pins": ["5", "6"], "volts": 14.2, "ohms": 0.62, "amps": 0.85}]},
 {"tag": "R3", "va": 0.5, "mains": {"volts": 230, "hertz": 50, "winding": "P"}, "windings": [{"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 9200}, {"id": "A", "pins": ["5", "6"], "volts": 9, "ohms": 22}]}]}`,
	"ac.json":      tapped(`"from": "A", "to": "C", "load": {"ohms": 60}`),
	"pair.json":    `{"format": "yokemate-hookup/1", "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N", "fuse_amps": 0.25, "fuse_kind": "T"}, "joints": {"L": ["R1.1", "R2.1"], "N": ["R1.2", "R2.2"], "A": ["R1.5", "R2.5"], "B": ["R1.6", "R2.6"]}, "outputs": [{"name": "out", "from": "A", "to": "B", "load": {"amps": 1}}]}`,
	"bridge.json":  tapped(`"from": "A", "to": "C", "dc": {"rectifier": "bridge", "farads": 0.0022, "amps": 0.3}`),
	"taps.json":    tapped(`"from": "A", "to": "C", "dc": {"rectifier": "centre-tap", "middle": "M", "farads": 0.0022, "amps": 0.3}`),
	"rails.json":   tapped(`"from": "A", "to": "C", "dc": {"rectifier": "bridge", "middle": "M", "farads": 0.0022, "amps": 0.3}`),
	"acneed.json":  `{"format": "yokemate-need/1", "kind": "ac", "volts": 13, "tolerance": 0.1, "amps": 0.5, "feed": {"volts": 230, "hertz": 50}}`,
	"dcneed.json":  `{"format": "yokemate-need/1", "kind": "dc", "volts": 33, "tolerance": 0.15, "amps": 0.3, "feed": {"volts": 230, "hertz": 50}}`,
	"bench.json":   `{"format": "yokemate-need/1", "kind": "dc", "volts": 12, "amps": 0.2, "rails": 2, "regulated": true, "feed": {"volts": 230, "hertz": 50}}`,
	"toomuch.json": `{"format": "yokemate-need/1", "kind": "dc", "volts": 33, "tolerance": 0.15, "amps": 3, "feed": {"volts": 230, "hertz": 50}}`,
	"run.csv":      "minutes, ohms, air\n10, 124.2\n20, 128.1\n30, 130.6\n45, 133.3\n60, 135.1\n80, 136.7\n100, 137.7\n120, 138.3, 23.5\n",
	"given.json":   `{"answers": [{"step": "ohms-R1-P", "value": "120"}]}`,
}

func tapped(output string) string {
	return `{"format": "yokemate-hookup/1", "feed": {"volts": 230, "low": 207, "high": 253, "hertz": 50, "live": "L", "neutral": "N", "fuse_amps": 0.16, "fuse_kind": "T"},
 "joints": {"L": ["R1.1"], "N": ["R1.2"], "A": ["R1.5"], "M": ["R1.6"], "C": ["R1.7"], "E": ["R1.core"]}, "earth": "E", "outputs": [{"name": "out", ` + output + `}]}`
}

// TestResultsFollowTheirSchemas holds what commands print with --json to the
// schema of that name, and looks in each for what the case is about.
func TestResultsFollowTheirSchemas(t *testing.T) {
	dir := t.TempDir()
	for name, text := range resultFiles {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c := jsonschema.NewCompiler()
	for _, n := range schema.Names() {
		b, _ := schema.Get(n)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AddResource("file:///"+n+".schema.json", doc); err != nil {
			t.Fatal(err)
		}
	}
	for _, x := range []struct {
		schema, command string
		status          int
		has             string // as JSON without spaces
	}{
		{"predict", "predict --hookup ac.json", exitOK, `"mains":"nominal"`},
		{"predict", "predict --hookup rails.json --mains low", exitOK, `"winding_rms":`},
		{"predict", "supply --hookup bridge.json", exitOK, `"rails":[{"output":"out"`},
		{"predict", "supply --hookup rails.json --mains high", exitOK, `"balance":`},
		{"supply", "supply --hookup ac.json --need dcneed.json", exitOK, `"meets":true`},
		{"supply", "supply --hookup ac.json --need bench.json --middle M", exitOK, `"regulator_watts":`},
		{"supply", "supply --hookup ac.json --need toomuch.json", exitNo, `"meets":false`},
		{"limits", "limits --hookup ac.json", exitOK, `"bridge_amps":`},
		{"limits", "limits --hookup pair.json --ambient 25 --duty 0.5", exitOK, `"fault":"reversed"`},
		{"limits", "limits --hookup bridge.json", exitOK, `"fault":"short"`},
		{"limits", "limits --hookup taps.json", exitOK, `"count":2`},
		{"limits", "limits --hookup rails.json", exitOK, `"highest_c":`},
		{"lamp", "lamp R1", exitOK, `"verdict":"tells"`},
		{"lamp", "lamp R3", exitNo, `"lamp_watts":0`},
		{"heatrun", "heatrun run.csv --cold 118.3 --air 23 --class B", exitOK, `"verdict":"continuous"`},
		{"heatrun", "heatrun run.csv --cold 118.3 --air 23", exitNo, `"next_s":`},
		{"match", "match R1/A R2/A", exitOK, `"circulating_share":`},
		{"find", "find --need acneed.json", exitOK, `"offers":[{`},
		{"prove", "prove --hookup pair.json", exitOK, `"fuse_opens":`},
		{"prove", "prove --hookup pair.json --answers given.json", exitOK, `"verdict":"go"`},
		{"prove", "prove --hookup bridge.json", exitOK, `"volts_dc"`},
		{"identify", "identify R1", exitOK, `"unit":"R1"`},
		{"switchon", "switchon --hookup ac.json", exitOK, `"carries":`},
		{"waves", "waves --hookup bridge.json", exitOK, `"of":"fluxR1"`},
		{"fault", "fault --hookup pair.json --slip reversed:R2/A", exitOK, `"slip":"reversed:R2/A"`},
	} {
		args := []string{"--shelf", filepath.Join(dir, "shelf.json"), "--json"}
		for _, a := range strings.Fields(x.command) {
			if _, ok := resultFiles[a]; ok {
				a = filepath.Join(dir, a)
			}
			args = append(args, a)
		}
		var out, errs bytes.Buffer
		status := Main(args, Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Now: time.Now, Getenv: func(string) string { return "" }})
		if status != x.status || errs.Len() > 0 {
			t.Errorf("%s: status %d, want %d; %s", x.command, status, x.status, errs.String())
			continue
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(out.Bytes()))
		if err != nil {
			t.Errorf("%s: %v", x.command, err)
			continue
		}
		s, err := c.Compile("file:///" + x.schema + ".schema.json")
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(doc); err != nil {
			t.Errorf("%s: %v", x.command, err)
		}
		if !strings.Contains(strings.Join(strings.Fields(out.String()), ""), x.has) {
			t.Errorf("%s: it does not say %s", x.command, x.has)
		}
	}
}
