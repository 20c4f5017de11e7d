package lang

import (
	"strconv"
	"strings"
	"testing"

	"yokemate"
	"yokemate/examples"
	"yokemate/phys/network"
	"yokemate/prove"
)

// What a proof says is known whole: every step with its help and its slips, and
// the verdicts on readings that its first slip would give, on one that fits
// nothing, and on none.
func TestProofSpeaks(t *testing.T) {
	for name, c := range map[string]struct {
		dc    *yokemate.DC // in the place of its load
		least int          // sentences of its proof
	}{
		"AC": {nil, 100},
		"DC": {&yokemate.DC{Rectifier: "bridge", Farads: 2200e-6, Amps: 0.5}, 60},
	} {
		t.Run(name, func(t *testing.T) { proofSpeaks(t, c.dc, c.least) })
	}
}

func proofSpeaks(t *testing.T, dc *yokemate.DC, least int) {
	read := func(name string) []byte {
		b, err := examples.Files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	shelf, err := yokemate.DecodeShelf(read("shelf-fernhollow.json"))
	if err != nil {
		t.Fatal(err)
	}
	h, err := yokemate.DecodeHookup(read("hookup-rope-lights.json"))
	if err != nil {
		t.Fatal(err)
	}
	if dc != nil {
		h.Outputs[0].Load, h.Outputs[0].DC = nil, dc
	}
	plan, err := prove.New(network.Compile(shelf), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	de := Get("de")
	seen := map[string]bool{}
	known := func(words string) {
		if words != "" && !seen[words] {
			seen[words] = true
			for _, u := range de.Unknown(words) {
				if strings.Trim(u, "+-") != "out" { // the output's name
					t.Errorf("%q of %q", u, words)
				}
			}
		}
	}
	var before []yokemate.Answer
	for _, id := range plan.IDs() {
		s := plan.Step(id)
		known(s.Do)
		known(s.Help)
		if s.Measure == nil {
			continue
		}
		answers := []yokemate.AnswerText{"unsure", "1234"}
		for i := range s.Slips {
			known(s.Slips[i].Words)
			if c := s.Slips[i].IfClosed; c != nil {
				known(c.Protects)
			}
			if i == 0 {
				answers = append(answers, yokemate.AnswerText(strconv.FormatFloat(s.Slips[i].Value, 'g', 4, 64)))
			}
		}
		if dc != nil {
			continue // to judge a rectifier's readings takes long
		}
		for _, a := range answers {
			p, err := plan.Judge(append(before[:len(before):len(before)], yokemate.Answer{Step: id, Value: a}))
			if err != nil {
				continue // a reading that cannot be
			}
			for _, v := range p.Verdicts {
				known(v.Words)
			}
			for _, n := range p.Notes {
				known(n.Words)
			}
		}
		if s.Right != nil {
			before = append(before, yokemate.Answer{Step: id, Value: yokemate.AnswerText(strconv.FormatFloat((s.Right.Low+s.Right.High)/2, 'g', 4, 64))})
		}
	}
	if len(seen) < least {
		t.Errorf("only %d sentences were seen", len(seen))
	}
	t.Logf("%d sentences", len(seen))
}
