package demo

import (
	"context"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"yokemate"
	"yokemate/find"
	"yokemate/internal/sqlite"
	"yokemate/phys/network"
	"yokemate/predict"
)

func open(t *testing.T) yokemate.Store {
	t.Helper()
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: filepath.Join(t.TempDir(), "bench.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// The bench is what the demo promises: about a dozen units, two needs, a good
// proof, and one that stopped at a slip; a second time it is refused.
func TestFill(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	x, err := Fill(ctx, s)
	if err != nil {
		t.Fatal(err)
	}
	if x.Units < 11 || x.Units > 14 || x.Needs != 2 || len(x.Proofs) != 2 {
		t.Errorf("%+v", x)
	}
	if x.Proofs[0].State != yokemate.ProofGood || x.Proofs[1].State != yokemate.ProofStopped {
		t.Errorf("proofs are %s and %s", x.Proofs[0].State, x.Proofs[1].State)
	}
	for _, p := range x.Proofs {
		stored, err := s.Proof(ctx, p.ID)
		if err != nil {
			t.Fatal(err)
		}
		if stored.State != p.State || len(stored.Answers) == 0 {
			t.Errorf("proof %d is stored as %s with %d answers", p.ID, stored.State, len(stored.Answers))
		}
	}
	before, err := s.Shelf(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Fill(ctx, s); yokemate.ErrorCode(err) != yokemate.Conflict {
		t.Errorf("a second time: %v", err)
	}
	after, err := s.Shelf(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(before, after); d != "" {
		t.Error(d)
	}
}

// A store with a single thing in it is left alone.
func TestFillTouchesNothing(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	n, err := read("need-lantern.json", yokemate.DecodeNeed)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.PutNeed(ctx, n); err != nil {
		t.Fatal(err)
	}
	if _, err := Fill(ctx, s); yokemate.ErrorCode(err) != yokemate.Conflict {
		t.Errorf("it was filled, or %v", err)
	}
	if shelf, err := s.Shelf(ctx); err != nil || len(shelf.Units) != 0 {
		t.Errorf("there are units, or %v", err)
	}
}

// What the examples are for: the pair of rope lights is the first offer for its
// need, the turned and the odd pair are stops.
func TestExamplesSayWhatTheyShow(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	if _, err := Fill(ctx, s); err != nil {
		t.Fatal(err)
	}
	shelf, err := s.Shelf(ctx)
	if err != nil {
		t.Fatal(err)
	}
	facts := network.Compile(shelf)
	for _, x := range []struct {
		hookup string
		level  yokemate.Level
		code   yokemate.NoteCode
	}{
		{"rope lights", yokemate.Caution, yokemate.FuseNeverOpens},
		{"rope lights, F2 turned", yokemate.Stop, yokemate.Circulating},
		{"odd pair", yokemate.Stop, yokemate.Circulating},
		{"pier lantern", yokemate.Caution, yokemate.FuseNeverOpens},
	} {
		h, err := s.Hookup(ctx, x.hookup)
		if err != nil {
			t.Fatal(err)
		}
		p, err := predict.Hookup(facts, h, yokemate.Nominal, predict.Options{Brief: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := yokemate.Worst(p.Notes); got != x.level {
			t.Errorf("%s: %s, want %s", x.hookup, got, x.level)
		}
		if !slices.ContainsFunc(p.Notes, func(n yokemate.Note) bool { return n.Code == x.code && n.Level == x.level }) {
			t.Errorf("%s: no note %s", x.hookup, x.code)
		}
	}
	want, err := s.Hookup(ctx, "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	need, err := s.Need(ctx, "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	found, err := find.Find(facts, need, find.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(found.Offers) == 0 {
		t.Fatal("there is no offer")
	}
	got := found.Offers[0].Hookup
	got.Name = want.Name
	if d := cmp.Diff(want, &got); d != "" {
		t.Errorf("the first offer is another hookup:\n%s", d)
	}
	if need, err = s.Need(ctx, "pier lantern"); err != nil {
		t.Fatal(err)
	}
	if found, err = find.Find(facts, need, find.Options{}); err != nil || len(found.Offers) == 0 {
		t.Errorf("nothing is offered for the pier lantern, or %v", err)
	}
}
