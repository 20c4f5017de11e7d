package testkit

import (
	"flag"
	"os"
	"testing"
)

// Seeded runs a package's tests with one seed for its drawn cases, so that a
// run says the same every time and everywhere. To draw others, give
// -rapid.seed with a number, or with 0 for one that changes.
func Seeded(m *testing.M) {
	flag.Parse()
	given := os.Getenv("RAPID_SEED") != ""
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "rapid.seed" })
	if !given {
		if err := flag.Set("rapid.seed", "20260"); err != nil {
			panic(err) // the package draws no cases
		}
	}
	os.Exit(m.Run())
}
