package lang

import (
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// madeUp are patterns whose words stand together in no source, each with what
// puts them together.
var madeUp = map[string]string{
	"%s primaries %s":   "find makes the plural of a side",
	"%s secondaries %s": "find makes the plural of a side",
	"ohms ±%s":          "a meter's accuracy stands behind its quantity",
	"volts AC ±%s":      "a meter's accuracy stands behind its quantity",
}

// Every pattern of the catalogues is of use: its words, from one value to the
// next, are written by some source of the program, whole or as far as a mark at
// which a text is parted.
func TestUsed(t *testing.T) {
	pieces := written(t)
	has := func(words string) bool {
		return pieces[words] || pieces[strings.TrimFunc(words, isMark)]
	}
	var dead []string
	for _, p := range mustPatterns(read("en.txt")) {
		used := has(oneLine(p)) || !slices.ContainsFunc(strings.Split(oneLine(p), value), func(s string) bool {
			return strings.TrimFunc(s, isMark) != "" && !has(strings.TrimSpace(s))
		})
		switch why, made := madeUp[p]; {
		case made && used:
			t.Errorf("%q is written as it is, and need not be excused: %s", p, why)
		case !made && !used:
			t.Errorf("nothing says %q: take it out of en.txt and de.txt, or run with -update", p)
			dead = append(dead, p)
		}
	}
	if *update {
		rewrite(t, nil, dead)
	}
}

// value stands in a text of the sources for what is put into it.
const value = "\x00"

// span is how many marks a pattern may have within it.
const span = 30

func isMark(r rune) bool { return strings.ContainsRune(" .;:,()[]–/·\"=>!?"+value, r) }

// written collects what the sources can write, in pieces: each text from any mark
// to any other.
func written(t *testing.T) map[string]bool {
	t.Helper()
	pieces, seen := map[string]bool{}, map[string]bool{}
	var add func(text string)
	add = func(text string) {
		text = oneLine(text)
		if seen[text] {
			return
		}
		seen[text] = true
		if bare := touching.ReplaceAllString(text, "$1"); bare != text { // a value that is nothing
			add(bare)
		}
		cuts := []int{0}
		for i, r := range text {
			if r != ' ' && isMark(r) {
				cuts = append(cuts, i, i+len(string(r)))
			}
		}
		cuts = append(cuts, len(text))
		for i, from := range cuts {
			for _, to := range cuts[i:min(i+2*span, len(cuts))] {
				pieces[strings.TrimSpace(text[from:to])] = true
			}
		}
	}
	page := func(text string) {
		for _, s := range edge.Split(action.ReplaceAllString(text, value), -1) {
			add(html.UnescapeString(s))
		}
	}
	literal := func(text string) {
		add(text)
		if strings.Contains(text, "<") || strings.Contains(text, "{{") {
			page(text)
		}
	}
	for _, s := range sources(t) { // a page's branches are joined there
		add(s.pattern)
	}
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if d.Name() == "testdata" || d.Name() == ".git" {
				return filepath.SkipDir
			}
			return nil
		}
		switch ext := filepath.Ext(path); {
		case strings.HasSuffix(path, "_test.go"):
		case ext == ".go":
			return goTexts(path, literal)
		case ext == ".html", ext == ".js":
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			page(string(b))
			if ext == ".js" {
				for _, s := range quotedText.FindAllString(string(b), -1) {
					literal(hole.ReplaceAllString(s[1:len(s)-1], value))
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return pieces
}

var (
	action     = regexp.MustCompile(`(?s)\{\{.*?\}\}`)                 // of a template
	edge       = regexp.MustCompile(`[<>"]`)                           // of a text or an attribute
	quotedText = regexp.MustCompile("\"[^\"\n]*\"|'[^'\n]*'|`[^`]*`")  // of a script
	hole       = regexp.MustCompile(`\$\{[^}]*\}`)                     // in it
	verb       = regexp.MustCompile(`%(\[\d+\])?[-+# 0-9.*]*[a-zA-Z]`) // of package fmt, or of a catalogue
	touching   = regexp.MustCompile(`([\p{L}.)])` + value)
	row        = regexp.MustCompile(value + `( ?` + value + `)+`) // values side by side are one
)

// oneLine writes a text in small letters on one line, with a mark for each value.
func oneLine(s string) string {
	s = strings.ReplaceAll(s, "%%", "\x01")
	s = verb.ReplaceAllString(s, value)
	s = strings.ReplaceAll(s, "\x01", "%")
	s = strings.Join(strings.Fields(s), " ")
	return strings.ToLower(row.ReplaceAllString(s, value))
}

// goTexts calls f with each literal of a Go file, and with those joined by +.
func goTexts(path string, f func(string)) error {
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	var chain func(e ast.Expr) string
	chain = func(e ast.Expr) string {
		switch e := e.(type) {
		case *ast.ParenExpr:
			return chain(e.X)
		case *ast.BasicLit:
			if e.Kind == token.STRING {
				return unquoted(e)
			}
		case *ast.BinaryExpr:
			if e.Op == token.ADD {
				return chain(e.X) + chain(e.Y)
			}
		}
		return value
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.BinaryExpr:
			if n.Op == token.ADD {
				f(chain(n))
			}
		case *ast.BasicLit:
			if n.Kind == token.STRING {
				f(unquoted(n))
			}
		}
		return true
	})
	return nil
}
