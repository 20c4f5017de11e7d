package selfcheck

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestAllPass(t *testing.T) {
	seen := map[string]bool{}
	checks := Run().Checks
	for _, c := range checks {
		if seen[c.ID] {
			t.Errorf("two checks are called %q", c.ID)
		}
		seen[c.ID] = true
		if !c.Pass {
			t.Errorf("%s: %s: computed %.8g %s, published %g ± %.3g (%s)", c.ID, c.What, c.Computed, c.Unit, c.Published, c.Tolerance, c.Source)
		}
		if c.Source == "" || !(c.Tolerance > 0) || c.Tolerance > 0.5*math.Abs(c.Published) {
			t.Errorf("%s: source %q, tolerance %g of %g", c.ID, c.Source, c.Tolerance, c.Published)
		}
	}
	if len(checks) < 60 {
		t.Errorf("%d checks", len(checks))
	}
	t.Log(len(checks))
}

// TestPerturbed: every check fails when what is computed moves by five
// tolerances, or is not a number.
func TestPerturbed(t *testing.T) {
	for _, r := range rows() {
		was := r.check()
		for _, move := range []float64{5 * was.Tolerance, -5 * was.Tolerance, math.NaN(), math.Inf(1)} {
			r.compute = func() float64 { return was.Computed + move }
			if r.check().Pass {
				t.Errorf("%s passes when it is off by %g", r.id, move)
			}
		}
	}
}

// TestSources: a row says where its number is from, and the words that tell
// what was not read are the agreed ones.
func TestSources(t *testing.T) {
	for _, r := range rows() {
		if strings.Contains(strings.ToLower(r.source), "memory") && !strings.Contains(r.source, "from memory") {
			t.Errorf("%s: %s", r.id, r.source)
		}
		if r.slack != 0 && r.why == "" {
			t.Errorf("%s has slack %g without a reason", r.id, r.slack)
		}
		if r.what == "" || r.id == "" {
			t.Errorf("%+v", r)
		}
	}
}

// TestBroken: an example that cannot be built is a failed check, not a panic.
func TestBroken(t *testing.T) {
	u := twoUnits(sec{10, 1, 1}, sec{10, 1, 1})
	x := solve(u, bench(10, 50, u, "L: T1.P1", "N: T9.P2"))
	w, i := x.feed()
	for _, v := range []float64{w, i, real(x.volts("L", "N")), real(x.amps("T1/A")), x.flux(0)} {
		if !math.IsNaN(v) {
			t.Errorf("a hookup with a unit that is not there: %g", v)
		}
	}
	x = solve(u, bench(10, 50, u, "L: T1.P1", "N: T1.P2"))
	for _, v := range []complex128{x.volts("L", "Z"), x.amps("T2/A"), x.amps("T1/Z")} {
		if s := fmt.Sprint(v); !strings.Contains(s, "NaN") {
			t.Errorf("what is not there is %s", s)
		}
	}
}
