package layers

import (
	"go/ast"
	"go/doc"
	"go/doc/comment"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// headings of a physical model's package comment, in this order.
var headings = []string{"Model", "Symbols", "Equations", "Assumptions", "Range of validity", "Method and its error", "References"}

var (
	// A number where it is defined, first on its line: "(N5)  V_live …".
	definition = regexp.MustCompile(`^\(([A-Z]\d+)\)`)
	// A number where it is used.
	usage = regexp.MustCompile(`\b[A-Z]\d{1,2}\b`)
	// A test by name, with its package before a point where it is another's.
	testName = regexp.MustCompile(`(?:([a-z][a-z/]*)\.)?\b((?:Test|Benchmark|Fuzz)[A-Z]\w*)`)
	// A section that is about a package: "## Wire: `phys/wire`".
	section = regexp.MustCompile("^## .*`([a-z/]+)`$")
	// A row of a table of equations: "| N5 | …".
	row = regexp.MustCompile(`^\| ([A-Z]\d+) \|(.*)\|$`)
)

// sources is what one folder's Go files say of themselves.
type sources struct {
	comment   string
	headings  []string
	equations []string
	tests     []string
}

// read parses the Go files of every folder of the project.
func read(t *testing.T) map[string]*sources {
	t.Helper()
	all := map[string]*sources{}
	err := filepath.WalkDir("../..", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && d.Name() != "..") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		folder, err := filepath.Rel("../..", filepath.Dir(name))
		if err != nil {
			return err
		}
		s := all[filepath.ToSlash(folder)]
		if s == nil {
			s = &sources{}
			all[filepath.ToSlash(folder)] = s
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		if strings.HasSuffix(name, "_test.go") {
			for _, d := range f.Decls {
				if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && testName.MatchString(fn.Name.Name) {
					s.tests = append(s.tests, fn.Name.Name)
				}
			}
			return nil
		}
		if f.Doc == nil {
			return nil
		}
		p, err := doc.NewFromFiles(set, []*ast.File{f}, "yokemate/"+filepath.ToSlash(folder))
		if err != nil {
			return err
		}
		s.comment += p.Doc
		s.parse(p.Parser().Parse(p.Doc))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// parse takes the headings of a package comment, and the equations below the
// one that announces them.
func (s *sources) parse(d *comment.Doc) {
	under := ""
	for _, block := range d.Content {
		switch b := block.(type) {
		case *comment.Heading:
			under = plain(b.Text)
			s.headings = append(s.headings, under)
		case *comment.Code:
			if under != "Equations" {
				break
			}
			for line := range strings.Lines(b.Text) {
				if m := definition.FindStringSubmatch(strings.TrimSpace(line)); m != nil {
					s.equations = append(s.equations, m[1])
				}
			}
		}
	}
}

func plain(text []comment.Text) string {
	var b strings.Builder
	for _, t := range text {
		if p, ok := t.(comment.Plain); ok {
			b.WriteString(string(p))
		}
	}
	return b.String()
}

// part is a section of a page: the package that it is about, "" for none, and
// its lines.
type part struct {
	pkg   string
	lines []string
}

func page(t *testing.T, name string) []part {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("../..", name))
	if err != nil {
		t.Fatal(err)
	}
	parts := []part{{}}
	for line := range strings.Lines(string(text)) {
		line = strings.TrimRight(line, "\r\n")
		if strings.HasPrefix(line, "## ") {
			p := part{}
			if m := section.FindStringSubmatch(line); m != nil {
				p.pkg = m[1]
			}
			parts = append(parts, p)
		}
		last := &parts[len(parts)-1]
		last.lines = append(last.lines, line)
	}
	return parts
}

// A physical model says the same things in the same order, and numbers its
// equations without a gap, so that a reader of one finds the way in all.
func TestModelComments(t *testing.T) {
	models := 0
	for pkg, s := range read(t) {
		if !strings.HasPrefix(pkg, "phys/") && len(s.equations) == 0 {
			continue
		}
		models++
		for i, e := range s.equations {
			if e != s.equations[0][:1]+strconv.Itoa(i+1) {
				t.Errorf("%s: equation %d is numbered %s", pkg, i+1, e)
			}
		}
		if len(s.equations) == 0 {
			t.Errorf("%s: no numbered equations", pkg)
		}
		if strings.HasPrefix(pkg, "phys/") && !slices.Equal(s.headings, headings) {
			t.Errorf("%s: headings of the package comment are %q, want %q", pkg, s.headings, headings)
		}
	}
	if models < 6 {
		t.Errorf("only %d physical models were seen", models)
	}
}

// Every equation of a package stands in its section of PHYSICS.md with a test
// that checks it, and every one that stands there is the package's.
func TestPhysicsPage(t *testing.T) {
	code := read(t)
	listed := map[string][]string{}
	sections := map[string]bool{}
	parts := page(t, "PHYSICS.md")
	for _, p := range parts {
		if p.pkg == "" {
			continue
		}
		if code[p.pkg] == nil || sections[p.pkg] {
			t.Errorf("PHYSICS.md has a section for %s, which is no package or has one already", p.pkg)
			continue
		}
		sections[p.pkg] = true
		for _, line := range p.lines {
			m := row.FindStringSubmatch(line)
			if m == nil {
				continue
			}
			listed[p.pkg] = append(listed[p.pkg], m[1])
			if !testName.MatchString(m[2]) {
				t.Errorf("PHYSICS.md: %s of %s names no test", m[1], p.pkg)
			}
		}
	}
	letters := map[string]bool{}
	everywhere := map[string]bool{}
	for pkg, s := range code {
		for _, e := range s.equations {
			if everywhere[e] {
				t.Errorf("%s numbers an equation %s, as another package does", pkg, e)
			}
			letters[e[:1]] = true
			everywhere[e] = true
		}
		if !slices.Equal(listed[pkg], s.equations) {
			t.Errorf("PHYSICS.md lists %v for %s, whose package comment has %v", listed[pkg], pkg, s.equations)
		}
	}
	// In running text a number may be another section's, but must be somebody's.
	for _, p := range parts {
		for _, line := range p.lines {
			for _, u := range usage.FindAllString(line, -1) {
				if letters[u[:1]] && !everywhere[u] {
					t.Errorf("PHYSICS.md speaks of %s, which no package has: %s", u, line)
				}
			}
		}
	}
	if len(everywhere) < 40 {
		t.Errorf("only %d equations were seen", len(everywhere))
	}
}

// What a page names as a check exists: a name with a package before it in that
// one, a name alone in the section's own package, or anywhere where the
// section is about none.
func TestNamedTests(t *testing.T) {
	code := read(t)
	anywhere := &sources{}
	for _, s := range code {
		anywhere.tests = append(anywhere.tests, s.tests...)
	}
	code[""] = anywhere
	seen := 0
	for _, name := range []string{"PHYSICS.md", "docs/benchmarks.md", "docs/adding-a-check.md"} {
		for _, p := range page(t, name) {
			for _, line := range p.lines {
				for _, m := range testName.FindAllStringSubmatch(line, -1) {
					pkg := p.pkg
					if m[1] != "" {
						pkg = m[1]
					}
					if s := code[pkg]; s == nil || !slices.Contains(s.tests, m[2]) {
						t.Errorf("%s names %s, which package %q does not have", name, m[2], pkg)
					}
					seen++
				}
			}
		}
	}
	if seen < 60 {
		t.Errorf("only %d names were seen", seen)
	}
}

// Every code that a note may have stands in PHYSICS.md, once, and no other.
func TestNoteCodes(t *testing.T) {
	var codes []string
	for _, name := range []string{"prediction.go", "identify.go"} {
		f, err := parser.ParseFile(token.NewFileSet(), "../../"+name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if id, ok := v.Type.(*ast.Ident); ok && id.Name == "NoteCode" {
				for _, x := range v.Values {
					s, err := strconv.Unquote(x.(*ast.BasicLit).Value)
					if err != nil {
						t.Fatal(err)
					}
					codes = append(codes, s)
				}
			}
			return true
		})
	}
	first := regexp.MustCompile("^\\| `([a-z-]+)` \\|")
	var listed []string
	for _, p := range page(t, "PHYSICS.md") {
		if p.pkg != "predict" && p.pkg != "identify" {
			continue
		}
		for _, line := range p.lines {
			if m := first.FindStringSubmatch(line); m != nil {
				listed = append(listed, m[1])
			}
		}
	}
	slices.Sort(codes)
	slices.Sort(listed)
	if len(codes) < 25 || !slices.Equal(codes, listed) {
		t.Errorf("PHYSICS.md lists the notes %v, the code has %v", listed, codes)
	}
}

// Files that the pages point to exist.
func TestPagesPointSomewhere(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#:]+)(?:#[^)]*)?\)`)
	for _, name := range []string{"PHYSICS.md", "docs/benchmarks.md", "docs/adding-a-check.md"} {
		for _, p := range page(t, name) {
			for _, line := range p.lines {
				for _, m := range link.FindAllStringSubmatch(line, -1) {
					if _, err := os.Stat(filepath.Join("../..", path.Dir(name), m[1])); err != nil {
						t.Errorf("%s points to %s, which is not there", name, m[1])
					}
				}
			}
		}
	}
}
