package find_test

import (
	"os"
	"testing"
	"time"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
)

func TestLook(t *testing.T) {
	for _, n := range []int{20, 200} {
		s := newMaker(1).shelf(n, 4)
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		f := network.Compile(s)
		for _, nd := range []*yokemate.Need{need(24, 1, 3), need(12, 2, 3), need(40, 2, 3), need(60, 1, 3), need(12, 9, 3), need(13.7, 0.3, 3), need(100, 0.2, 3), twoRails(12, 0.5, 3), boost(242, 1)} {
			checked := 0
			start := time.Now()
			r, err := find.Find(f, nd, find.Options{Progress: func(c int) { checked = c }})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d units, %g V %g A: %d offers, %d checked, %v", n, nd.Volts, nd.Amps, len(r.Offers), checked, time.Since(start))
			for i, o := range r.Offers {
				if i < 2 {
					t.Logf("   %s: %d joints, %d units, %.4g/%.4g/%.4g V, max %.3g A by %s, %v", o.Hookup.Name, o.JointCount, len(o.Units), o.NoLoadVolts, o.FullLoad, o.HotVolts, o.MaxAmps, o.LimitedBy, yokemate.Worst(o.Notes))
				}
			}
			for _, x := range r.Refusals {
				t.Logf("   no: %s: %s: %s", x.Hookup.Name, x.Why, x.Words)
			}
		}
	}
}

func TestDump(t *testing.T) {
	b, _ := yokemate.Encode(newMaker(1).shelf(200, 4))
	_ = os.WriteFile("/tmp/shelf200.json", b, 0o644)
}

func twoRails(v, a float64, u int) *yokemate.Need {
	n := need(v, a, u)
	n.Rails = 2
	return n
}

func boost(v, a float64) *yokemate.Need {
	n := need(v, a, 2)
	no := false
	n.Isolated = &no
	n.Tolerance = 0.01
	return n
}
