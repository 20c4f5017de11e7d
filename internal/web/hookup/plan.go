package hookup

import (
	"sync"

	"yokemate"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/prove"
)

// planned is the plan of a hookup's proof, kept from page to page.
type planned struct {
	slips []string

	mu    sync.Mutex // a plan serves one at a time
	plan  *prove.Plan
	proof *yokemate.Proof // once it was asked for
}

// plan returns a hookup's plan, from memory where it can.
func (p *pages) plan(f *network.Facts, s *yokemate.Shelf, h *yokemate.Hookup) (*planned, error) {
	key, err := kit.Key(h, s)
	if err != nil {
		return nil, err
	}
	return p.plans.Get(key, func() (*planned, error) {
		x, err := prove.New(f, h, prove.Options{})
		if err != nil {
			return nil, err
		}
		return &planned{slips: x.Slips(), plan: x}, nil
	})
}

// wired is how the hookup is wired with a slip made.
func (x *planned) wired(h *yokemate.Hookup, code string) (*prove.Wiring, bool, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.plan.Wired(h, code)
}

// steps are those of the proof, with what each slip reads.
func (x *planned) steps() (*yokemate.Proof, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.proof == nil {
		var err error
		if x.proof, err = x.plan.Proof(); err != nil {
			return nil, err
		}
	}
	return x.proof, nil
}
