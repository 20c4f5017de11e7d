package find

import (
	"yokemate"
	"yokemate/phys/network"
)

// Options of a search. The zero value is the plain one.
type Options struct {
	Offers   int               // the most offers to give; 0: 20
	Refusals int               // the most near misses to name; 0: 20
	Progress func(checked int) // called for every hookup that goes through the network; nil: not
}

// Find answers a need from a shelf: offers, best first, and near misses with
// the reason each was refused. The need must be valid.
func Find(f *network.Facts, need *yokemate.Need, opt Options) (*yokemate.Findings, error) {
	n := *need
	if err := n.Validate(); err != nil {
		return nil, err
	}
	if n.Kind == "ac" && n.Regulated {
		return nil, yokemate.Errorf(yokemate.Invalid, "regulated", "only DC is regulated").Mend("write \"kind\": \"dc\", or leave \"regulated\" out")
	}
	if opt.Offers == 0 {
		opt.Offers = 20
	}
	if opt.Refusals == 0 {
		opt.Refusals = 20
	}
	if n.Kind == "dc" {
		return findDC(f, &n, opt)
	}
	s := newSearch(f, &n, opt)
	s.prepare()
	best, err := (&hunt{searches: []*search{s}, progress: opt.Progress}).find(opt.Offers)
	if err != nil {
		return nil, err
	}
	r := &yokemate.Findings{Offers: []yokemate.Offer{}, Refusals: s.refusals()}
	for _, c := range best {
		r.Offers = append(r.Offers, c.offer)
	}
	return r, nil
}
