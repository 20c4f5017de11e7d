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
	r := &yokemate.Findings{Offers: []yokemate.Offer{}, Refusals: s.refusals(), LeftOut: leftOut(f)}
	for _, c := range best {
		r.Offers = append(r.Offers, c.offer)
	}
	return r, nil
}

// Lacking lists what no search can look at for lack of facts: each error names a
// unit or a winding, what it lacks, and the reading that gives it. A unit that is
// in quarantine would not be looked at with them either.
func Lacking(f *network.Facts) []error {
	var list []error
	for i := range f.Shelf.Units {
		src := &f.Shelf.Units[i]
		if src.Quarantined() {
			continue
		}
		u, err := f.Unit(src.Tag)
		if err != nil {
			list = append(list, err)
			continue
		}
		for _, w := range src.Windings {
			if err := u.Missing[w.ID]; err != nil {
				list = append(list, err)
			}
		}
	}
	return list
}

func leftOut(f *network.Facts) []string {
	var list []string
	for _, err := range Lacking(f) {
		list = append(list, err.Error())
	}
	return list
}
