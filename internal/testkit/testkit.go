// Package testkit is help for tests, and imported by tests only.
package testkit

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
)

// Golden compares a scene with testdata/NAME.svg of the test's folder, or
// writes that file where update is set; look at it before committing.
// Coordinates are written to 0.001 mm, so two machines may differ by one such
// step at each end: 0.002 mm.
func Golden(t *testing.T, update bool, name string, s *draw.Scene) {
	t.Helper()
	var b strings.Builder
	if err := svg.Inline(&b, s, svg.InlineOptions{}); err != nil {
		t.Fatal(err)
	}
	path := "testdata/" + name + ".svg"
	if update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := svg.Diff(b.String(), string(want), 0.002); d != "" {
		got := "testdata/" + name + ".got.svg"
		if err := os.WriteFile(got, []byte(b.String()), 0o644); err != nil {
			t.Error(err)
		}
		t.Errorf("%s: %s; see %s", name, d, got)
	}
}

// Said lists the literal arguments of calls of the named methods and functions
// in the sources of the test's folder, tests left out.
func Said(t *testing.T, names ...string) []string {
	t.Helper()
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			c, ok := n.(*ast.CallExpr)
			if !ok || len(c.Args) == 0 {
				return true
			}
			s, ok := c.Fun.(*ast.SelectorExpr)
			if !ok || !slices.Contains(names, s.Sel.Name) {
				return true
			}
			for _, a := range c.Args {
				if l, ok := a.(*ast.BasicLit); ok && l.Kind == token.STRING {
					v, err := strconv.Unquote(l.Value)
					if err != nil {
						t.Fatal(err)
					}
					all = append(all, v)
				}
			}
			return true
		})
	}
	return all
}

// Phrases holds a list of phrases to what a package says: nothing stands twice,
// nothing is said and not listed, and nothing is listed and never said but
// what is said through a value, which is indirect. least is fewer than there
// surely are, so that the check cannot look at nothing.
func Phrases(t *testing.T, listed, said, indirect []string, least int) {
	t.Helper()
	if len(said) < least {
		t.Fatalf("only %d phrases found", len(said))
	}
	for i, p := range listed {
		if slices.Contains(listed[:i], p) {
			t.Errorf("%q is listed twice", p)
		}
		if !slices.Contains(said, p) && !slices.Contains(indirect, p) {
			t.Errorf("%q is listed and never said", p)
		}
	}
	for _, p := range said {
		if !slices.Contains(listed, p) {
			t.Errorf("%q is said and not listed", p)
		}
	}
}
