package figure

import (
	"flag"
	"testing"

	"yokemate/internal/draw"
	"yokemate/internal/testkit"
)

var update = flag.Bool("update", false, "rewrite the golden drawings; look at them before committing")

func golden(t *testing.T, name string, s *draw.Scene) {
	t.Helper()
	testkit.Golden(t, *update, name, s)
}
