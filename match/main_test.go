package match_test

import (
	"testing"

	"yokemate/internal/testkit"
)

func TestMain(m *testing.M) { testkit.Seeded(m) }
