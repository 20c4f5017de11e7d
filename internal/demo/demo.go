// Package demo fills a store with an invented bench: the units of a marionette
// theatre and of a harbour radio club, two needs, hookups good and bad, a proof
// that ended well and one that stopped at a slip. The files are those of
// package examples.
//
// It works through the store's interface, touches no store that holds
// anything, and prints nothing.
package demo

import (
	"context"

	"yokemate"
	"yokemate/examples"
	"yokemate/phys/network"
	"yokemate/prove"
)

// What is taken in, in this order: hookups need their shelf first.
var (
	shelves = []string{"shelf-fernhollow.json", "shelf-tern-point.json"}
	needs   = []string{"need-rope-lights.json", "need-lantern.json"}
	hookups = []string{"hookup-rope-lights.json", "hookup-rope-lights-turned.json", "hookup-odd-pair.json", "hookup-lantern.json"}
)

// proofs are what was read on which hookup.
var proofs = []struct{ hookup, answers string }{
	{"hookup-rope-lights.json", "answers-rope-lights.json"},
	{"hookup-lantern.json", "answers-lantern.json"},
}

// Proof is a proof that was put into the store.
type Proof struct {
	ID     int64               `json:"id"`
	Hookup string              `json:"hookup"`
	State  yokemate.ProofState `json:"state"`
	Last   string              `json:"last"` // the last verdict's words
}

// Filled tells what a store holds after [Fill].
type Filled struct {
	Units   int     `json:"units"`
	Needs   int     `json:"needs"`
	Hookups int     `json:"hookups"`
	Proofs  []Proof `json:"proofs"`
}

// Fill puts the bench into a store that holds nothing yet.
func Fill(ctx context.Context, s yokemate.Store) (*Filled, error) {
	if err := empty(ctx, s); err != nil {
		return nil, err
	}
	var docs []yokemate.Document
	out := &Filled{}
	for _, name := range shelves {
		x, err := read(name, yokemate.DecodeShelf)
		if err != nil {
			return nil, err
		}
		out.Units += len(x.Units)
		docs = append(docs, yokemate.Document{Source: name, Shelf: x})
	}
	for _, name := range needs {
		x, err := read(name, yokemate.DecodeNeed)
		if err != nil {
			return nil, err
		}
		out.Needs++
		docs = append(docs, yokemate.Document{Source: name, Need: x})
	}
	for _, name := range hookups {
		x, err := read(name, yokemate.DecodeHookup)
		if err != nil {
			return nil, err
		}
		out.Hookups++
		docs = append(docs, yokemate.Document{Source: name, Hookup: x})
	}
	if _, err := s.Import(ctx, docs, false); err != nil {
		return nil, err
	}
	for _, p := range proofs {
		x, err := fillProof(ctx, s, p.hookup, p.answers)
		if err != nil {
			return nil, err
		}
		out.Proofs = append(out.Proofs, *x)
	}
	return out, nil
}

// empty is an error when the store holds anything.
func empty(ctx context.Context, s yokemate.Store) error {
	shelf, err := s.Shelf(ctx)
	if err != nil {
		return err
	}
	hookups, err := s.Hookups(ctx)
	if err != nil {
		return err
	}
	needs, err := s.Needs(ctx)
	if err != nil {
		return err
	}
	proofs, err := s.Proofs(ctx)
	if err != nil {
		return err
	}
	log, err := s.Log(ctx, "")
	if err != nil {
		return err
	}
	if n := len(shelf.Units) + len(shelf.Meters) + len(hookups) + len(needs) + len(proofs) + len(log); n > 0 {
		return yokemate.Errorf(yokemate.Conflict, "", "the store holds something already, and the demo touches nothing that is there").
			Mend("name a new file, as in --store demo.db")
	}
	return nil
}

// fillProof stores a proof with its answers and what they amount to.
func fillProof(ctx context.Context, s yokemate.Store, hookup, answers string) (*Proof, error) {
	h, err := read(hookup, yokemate.DecodeHookup)
	if err != nil {
		return nil, err
	}
	given, err := read(answers, yokemate.DecodeAnswers)
	if err != nil {
		return nil, err
	}
	shelf, err := s.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	plan, err := prove.New(network.Compile(shelf.Only(h)), h, prove.Options{})
	if err != nil {
		return nil, err
	}
	p, err := s.CreateProof(ctx, h, shelf)
	if err != nil {
		return nil, err
	}
	out := &Proof{ID: p.ID, Hookup: h.Name}
	session := plan.Session()
	for _, x := range given.Answers {
		v, err := session.Take(x)
		if err != nil {
			return nil, &yokemate.SourceError{Source: answers, Err: err}
		}
		if v != nil {
			out.Last = v.Words
		}
		if _, err := s.AppendAnswer(ctx, p.ID, x); err != nil {
			return nil, err
		}
	}
	out.State = session.State()
	return out, s.SetProofState(ctx, p.ID, out.State)
}

// read decodes one of the examples.
func read[T any](name string, decode func([]byte) (*T, error)) (*T, error) {
	b, err := examples.Files.ReadFile(name)
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "an example is missing", Err: err}
	}
	x, err := decode(b)
	if err != nil {
		return nil, &yokemate.SourceError{Source: name, Err: err}
	}
	return x, nil
}
