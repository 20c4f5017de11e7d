package demo

import (
	"bytes"
	"context"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"yokemate"
	"yokemate/find"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/schema"
)

// Predictions and proofs of every example, with answers and without, are
// written as their schemas say; a number that JSON cannot hold would fail here.
func TestResultsFollowTheirSchemas(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	if _, err := Fill(ctx, s); err != nil {
		t.Fatal(err)
	}
	shelf, err := s.Shelf(ctx)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	for _, n := range schema.Names() {
		b, _ := schema.Get(n)
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if err := c.AddResource("file:///"+n+".schema.json", doc); err != nil {
			t.Fatal(err)
		}
	}
	check := func(name, about string, v any) {
		t.Helper()
		b, err := yokemate.Encode(v)
		if err != nil {
			t.Errorf("%s of %s: %v", name, about, err)
			return
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		x, err := c.Compile("file:///" + name + ".schema.json")
		if err != nil {
			t.Fatal(err)
		}
		if err := x.Validate(doc); err != nil {
			t.Errorf("%s of %s: %v", name, about, err)
		}
	}
	facts := network.Compile(shelf)
	all, err := s.Hookups(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for i := range all {
		for _, level := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
			p, err := predict.Hookup(facts, &all[i], level, predict.Options{})
			if err != nil {
				t.Fatal(err)
			}
			check("predict", all[i].Name, p)
		}
		plan, err := prove.New(facts, &all[i], prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := plan.Proof()
		if err != nil {
			t.Fatal(err)
		}
		check("prove", all[i].Name, p)
	}
	for hookup, answers := range map[string]string{
		"hookup-rope-lights.json": "answers-rope-lights-turned.json", "hookup-odd-pair.json": "answers-odd-pair.json", "hookup-lantern.json": "answers-lantern.json",
	} {
		h, err := read(hookup, yokemate.DecodeHookup)
		if err != nil {
			t.Fatal(err)
		}
		a, err := read(answers, yokemate.DecodeAnswers)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := prove.New(facts, h, prove.Options{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := plan.Judge(a.Answers)
		if err != nil {
			t.Fatal(err)
		}
		if want := map[string]yokemate.ProofState{"odd pair": yokemate.ProofStopped, "pier lantern": yokemate.ProofStopped, "rope lights": yokemate.ProofGood}[h.Name]; p.Proof != want {
			t.Errorf("%s: the proof is %s, want %s", h.Name, p.Proof, want)
		}
		check("prove", answers, p)
	}
	// Offers and refusals, of AC and of DC with one rail and two, regulated or not.
	feed := yokemate.Feed{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50, Live: "L", Neutral: "N"}
	for about, n := range map[string]*yokemate.Need{
		"AC": {Kind: "ac", Volts: 12, Amps: 0.8}, "DC": {Kind: "dc", Volts: 15, Tolerance: 0.1, Amps: 0.4}, "regulated DC": {Kind: "dc", Volts: 12, Amps: 0.4, Regulated: true},
		"DC on two rails": {Kind: "dc", Volts: 20, Tolerance: 0.1, Amps: 0.3, Rails: 2},
	} {
		n.Format, n.Feed, n.MaxUnits = yokemate.NeedFormat, feed, 2
		if err := n.Validate(); err != nil {
			t.Fatal(err)
		}
		got, err := find.Find(facts, n, find.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Offers) == 0 {
			t.Errorf("%s: nothing is offered", about)
		}
		check("find", about, got)
	}
}
