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
	if n.Kind == "dc" || n.Regulated {
		return nil, yokemate.Errorf(yokemate.Unsupported, "kind", "offers for a DC need are not made").
			Mend("ask for the AC volts before the rectifier: about (DC volts + 2) / 1.25, at 1.8 times the DC amps")
	}
	if opt.Offers == 0 {
		opt.Offers = 20
	}
	if opt.Refusals == 0 {
		opt.Refusals = 20
	}
	s := &search{facts: f, need: &n, opt: opt, memo: map[*drive]map[string]bool{}}
	s.prepare()
	offers, err := s.find(s.generators(), opt.Offers)
	if err != nil {
		return nil, err
	}
	return &yokemate.Findings{Offers: offers, Refusals: s.refusals()}, nil
}
