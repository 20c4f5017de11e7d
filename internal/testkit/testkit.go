// Package testkit is help for tests, and imported by tests only.
package testkit

import (
	"os"
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
