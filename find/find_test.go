package find_test

import (
	"testing"
	"time"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
)

func TestLook(t *testing.T) {
	for _, n := range []int{5, 20, 200} {
		s := newMaker(1).shelf(n, 4)
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		f := network.Compile(s)
		for _, nd := range []*yokemate.Need{need(24, 1, 3), need(12, 2, 3), need(40, 2, 3), need(60, 1, 3), need(12, 9, 3), need(13.7, 0.3, 3), need(100, 0.2, 3)} {
			checked := 0
			start := time.Now()
			r, err := find.Find(f, nd, find.Options{Progress: func(c int) { checked = c }})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d units, %g V %g A: %d offers, %d checked, %v", n, nd.Volts, nd.Amps, len(r.Offers), checked, time.Since(start))
			for i, o := range r.Offers {
				if i < 4 || n == 5 {
					t.Logf("   %s: %d joints, %d units, %.4g/%.4g/%.4g V, max %.3g A by %s, %v", o.Hookup.Name, o.JointCount, len(o.Units), o.NoLoadVolts, o.FullLoad, o.HotVolts, o.MaxAmps, o.LimitedBy, yokemate.Worst(o.Notes))
				}
			}
		}
	}
}
