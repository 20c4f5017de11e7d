package layers

import (
	"encoding/json"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// Names of the table that stand for several packages.
var groups = map[string][]string{
	"phys": {"phys/core", "phys/heat", "phys/network", "phys/protect", "phys/thermal", "phys/waveform", "phys/wire"},
	"jobs": {"predict", "match", "find", "prove", "identify", "supply", "switching"},
	"draw": {"internal/draw", "internal/draw/svg", "internal/draw/pdf"},
	"page": {"internal/web/shelf", "internal/web/unit", "internal/web/need", "internal/web/hookup", "internal/web/proof", "internal/web/switching", "internal/web/heat", "internal/web/files", "internal/web/device", "internal/web/teach", "internal/web/paper"},
}

// table says what each package may import besides the standard library. Tests
// may import more. "root" is package yokemate; a name with a dot is a module.
var table = []struct{ pkg, why, may string }{
	{"si", "text to number and back", ""},
	{"num", "mathematics on numbers and slices, no trade words", "gonum.org/v1/gonum"},
	{"root", "the nouns and their rules", "si github.com/go-json-experiment/json"},

	{"phys/core", "one physical model", "root si num gonum.org/v1/gonum"},
	{"phys/heat", "one physical model", "root si num phys/wire gonum.org/v1/gonum"},
	{"phys/protect", "one physical model", "root si num gonum.org/v1/gonum"},
	{"phys/wire", "one physical model", "root si num gonum.org/v1/gonum"},
	{"phys/waveform", "the network in time", "root si num phys/core phys/heat phys/network phys/protect phys/wire gonum.org/v1/gonum"},
	{"phys/thermal", "how hot a hookup gets, solved with its currents", "root si num phys/core phys/heat phys/network phys/protect phys/waveform phys/wire gonum.org/v1/gonum"},
	{"phys/network", "hookup and facts as equations; lamps, fuses and cores are models of their own", "root si num phys/core phys/protect phys/heat phys/wire gonum.org/v1/gonum"},

	{"predict", "every reading of a hookup", "root si num phys gonum.org/v1/gonum"},
	{"match", "which windings may share a load", "root si num phys predict gonum.org/v1/gonum"},
	{"supply", "rectifiers and what follows them", "root si num phys predict gonum.org/v1/gonum"},
	{"find", "offers for a need", "root si num phys predict match supply gonum.org/v1/gonum"},
	{"prove", "steps, readings, verdicts", "root si num phys predict supply gonum.org/v1/gonum"},
	{"identify", "readings to facts", "root si num phys gonum.org/v1/gonum"},
	{"switching", "switch-on, steady waves, a slip followed in time", "root si phys prove supply gonum.org/v1/gonum"},

	{"selfcheck", "published numbers through the code that the commands use", "root si num phys jobs gonum.org/v1/gonum"},
	{"schema", "the formats for other programs", ""},

	{"internal/sqlite", "keeps root's nouns", "root github.com/pressly/goose/v3 modernc.org/sqlite"},
	{"internal/draw", "a display list in millimetres", "root golang.org/x/image"},
	{"internal/draw/svg", "writes a scene", "root internal/draw"},
	{"internal/draw/pdf", "writes a scene", "root internal/draw codeberg.org/go-pdf/fpdf golang.org/x/image"},
	{"internal/figure", "results to scenes; never a format", "root si phys internal/draw internal/say gonum.org/v1/plot"},
	{"internal/lang", "sentences in the reader's language, by catalogues; knows no noun", "si golang.org/x/net"},
	{"internal/say", "the words of results, the same on screen, page and paper", "root si"},
	{"internal/sheet", "scenes to pages", "root si draw internal/figure internal/say rsc.io/qr"},
	{"internal/paper", "gathers what a sheet or a label shows, for command and browser alike", "root si phys jobs draw internal/figure internal/lang internal/say internal/sheet"},
	{"internal/teach", "a hookup's wirings as one file for pupils", "root si phys predict prove supply draw internal/figure"},
	{"examples", "an invented bench as files", ""},
	{"internal/demo", "an invented bench, through the store's interface", "root si phys jobs examples"},
	{"internal/web/kit", "what all pages share; sees the store as root's interface", "root si internal/draw internal/draw/svg internal/lang internal/say"},
	{"internal/web/shelf", "a page: the units; and the bench with its meters", "root si jobs internal/say internal/web/kit"},
	{"internal/photo", "makes a picture ready for keeping", "root golang.org/x/image"},
	{"internal/web/unit", "a page: one unit, its readings and the next, its photos", "root si phys jobs draw internal/figure internal/photo internal/say internal/web/kit"},
	{"internal/web/need", "a page: needs and offers", "root si phys jobs draw internal/figure internal/say internal/web/kit"},
	{"internal/web/hookup", "a page: a hookup and what a slip would do", "root si phys jobs draw internal/figure internal/paper internal/say internal/web/kit"},
	{"internal/web/proof", "a page: one step a screen, and the record", "root si phys jobs draw internal/figure internal/say internal/web/kit"},
	{"internal/web/heat", "a page: heat runs", "root si phys jobs draw internal/figure internal/say internal/web/kit"},
	{"internal/web/switching", "a page: a hookup in time", "root si phys jobs draw internal/figure internal/say internal/web/kit"},
	{"internal/web/teach", "a page: a file for pupils to take away", "root prove internal/teach internal/web/kit"},
	{"internal/web/paper", "a page: what goes on paper and comes back from it", "root draw internal/figure internal/lang internal/paper internal/say internal/sheet internal/web/kit"},
	{"internal/web/files", "a page: files that come in and go out", "root internal/web/kit"},
	{"internal/web/device", "pages: a device of the local network, and how it is paired", "root internal/web/kit rsc.io/qr"},
	{"internal/web", "the server of the pages; sees the store as root's interface", "root page internal/web/kit internal/lang"},
	{"internal/cli", "commands and terminal talk", "root si phys jobs selfcheck schema draw internal/figure internal/paper internal/photo internal/say internal/sheet internal/teach internal/demo examples internal/sqlite internal/web github.com/alecthomas/kong golang.org/x/term internal/lang github.com/schollz/progressbar/v3"},
	{"internal/testkit", "help for tests; imported by tests only", "root si draw"},
	{"internal/layers", "this table", ""},
	{"cmd/yokemate", "a few lines", "internal/cli"},
}

// modules are all that may be linked into the binary. A new one is a decision,
// and needs a line with its reason.
var modules = map[string]string{
	"yokemate":                           "ourselves",
	"github.com/alecthomas/kong":         "command line",
	"golang.org/x/term":                  "is a person there, how wide is the window",
	"github.com/schollz/progressbar/v3":  "how far long work is",
	"github.com/mitchellh/colorstring":   "of progressbar",
	"github.com/rivo/uniseg":             "of progressbar",
	"github.com/go-json-experiment/json": "strict JSON that keeps digits and order",
	"modernc.org/sqlite":                 "store, without C",
	"modernc.org/libc":                   "of modernc.org/sqlite; at the version that names",
	"modernc.org/mathutil":               "of modernc.org/sqlite",
	"modernc.org/memory":                 "of modernc.org/sqlite",
	"github.com/dustin/go-humanize":      "of modernc.org/sqlite",
	"github.com/google/uuid":             "of modernc.org/sqlite",
	"github.com/ncruces/go-strftime":     "of modernc.org/sqlite",
	"github.com/remyoudompheng/bigfft":   "of modernc.org/sqlite",
	"github.com/mattn/go-isatty":         "of modernc.org/sqlite",
	"golang.org/x/sys":                   "of modernc.org/sqlite and golang.org/x/term",
	"github.com/pressly/goose/v3":        "migrations",
	"github.com/mfridman/interpolate":    "of goose",
	"github.com/sethvargo/go-retry":      "of goose",
	"go.uber.org/multierr":               "of goose",
	"golang.org/x/sync":                  "of goose",
	"gonum.org/v1/gonum":                 "factorisations, distributions",
	"gonum.org/v1/plot":                  "axes and lines of charts",
	"codeberg.org/go-fonts/liberation":   "of gonum.org/v1/plot",
	"codeberg.org/go-latex/latex":        "of gonum.org/v1/plot",
	"git.sr.ht/~sbinet/gg":               "of gonum.org/v1/plot",
	"github.com/ajstarks/svgo":           "of gonum.org/v1/plot",
	"github.com/golang/freetype":         "of gonum.org/v1/plot",
	"golang.org/x/net":                   "HTML tokens",
	"golang.org/x/image":                 "fonts",
	"golang.org/x/text":                  "of golang.org/x/image",
	"codeberg.org/go-pdf/fpdf":           "paper",
	"rsc.io/qr":                          "the code on the sheet",
}

// pack is what the go command tells of a package.
type pack struct {
	ImportPath string
	Imports    []string
	Standard   bool
	Module     *struct{ Path string }
}

func list(t *testing.T, args ...string) []pack {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-e", "-json=ImportPath,Imports,Standard,Module"}, args...)...)
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pack
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pack
		if err := dec.Decode(&p); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}

// name is a package's name in the table.
func name(path string) string {
	if path == "yokemate" {
		return "root"
	}
	return strings.TrimPrefix(path, "yokemate/")
}

func allowed(may, imported string) bool {
	for _, m := range strings.Fields(may) {
		if slices.Contains(append(groups[m], m), name(imported)) {
			return true
		}
		if strings.Contains(m, ".") && (imported == m || strings.HasPrefix(imported, m+"/")) {
			return true
		}
	}
	return false
}

func TestImports(t *testing.T) {
	packages := list(t, "./...")
	if len(packages) < 10 {
		t.Fatalf("only %d packages were seen", len(packages))
	}
	for _, p := range packages {
		i := slices.IndexFunc(table, func(r struct{ pkg, why, may string }) bool { return r.pkg == name(p.ImportPath) })
		if i < 0 {
			t.Errorf("%s has no row in the table: give it one, with its reason", p.ImportPath)
			continue
		}
		for _, imp := range p.Imports {
			first, _, _ := strings.Cut(imp, "/")
			if first != "yokemate" && !strings.Contains(first, ".") {
				continue // standard library
			}
			if !allowed(table[i].may, imp) {
				t.Errorf("%s may not import %s", p.ImportPath, imp)
			}
		}
	}
}

// The table itself: no package twice, no name that is none, and no circle, so
// that a row can be read without looking for what it lets in by the back door.
func TestTable(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range table {
		if seen[r.pkg] || r.why == "" {
			t.Errorf("%s stands twice or has no reason", r.pkg)
		}
		seen[r.pkg] = true
	}
	for g, members := range groups {
		for _, m := range members {
			if !seen[m] {
				t.Errorf("group %s: %s has no row", g, m)
			}
		}
	}
	below := map[string][]string{}
	for _, r := range table {
		for _, m := range strings.Fields(r.may) {
			switch {
			case groups[m] != nil:
				for _, x := range groups[m] {
					if x != r.pkg {
						below[r.pkg] = append(below[r.pkg], x)
					}
				}
			case strings.Contains(m, "."):
			case !seen[m]:
				t.Errorf("%s may import %s, which has no row", r.pkg, m)
			default:
				below[r.pkg] = append(below[r.pkg], m)
			}
		}
	}
	state := map[string]int{} // 1 on the way, 2 done
	var visit func(string)
	visit = func(p string) {
		if state[p] == 1 {
			t.Errorf("the table lets %s import itself", p)
		}
		if state[p] != 0 {
			return
		}
		state[p] = 1
		for _, x := range below[p] {
			visit(x)
		}
		state[p] = 2
	}
	for _, r := range table {
		visit(r.pkg)
	}
}

func TestModules(t *testing.T) {
	packages := list(t, "-deps", "./cmd/yokemate")
	seen := map[string]bool{}
	for _, p := range packages {
		if p.Module == nil || seen[p.Module.Path] {
			continue
		}
		seen[p.Module.Path] = true
		if modules[p.Module.Path] == "" {
			t.Errorf("module %s is linked into the binary and not on the list", p.Module.Path)
		}
	}
	if !seen["yokemate"] || !seen["modernc.org/sqlite"] {
		t.Error("the binary's modules were not seen")
	}
}

// The pages and the store do not know each other; the physics knows neither.
func TestNeverTogether(t *testing.T) {
	for _, r := range table {
		deep := !strings.HasPrefix(r.pkg, "internal/") && !strings.HasPrefix(r.pkg, "cmd/")
		for _, never := range []string{"internal/sqlite", "internal/web", "internal/cli"} {
			if deep && allowed(r.may, "yokemate/"+never) {
				t.Errorf("%s may not depend on %s", r.pkg, never)
			}
		}
		if r.pkg == "internal/web" && allowed(r.may, "yokemate/internal/sqlite") || r.pkg == "internal/sqlite" && r.may != "root github.com/pressly/goose/v3 modernc.org/sqlite" {
			t.Errorf("%s must see the store only as the interface of root", r.pkg)
		}
	}
}
