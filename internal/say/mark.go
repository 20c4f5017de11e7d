package say

import "yokemate"

// Mark is a state: a colour after IEC 60073, and always a shape and a word, so
// that colour tells nothing alone.
type Mark struct {
	Class string // stop, caution, go or info: the colour
	Shape string
	Word  string
}

// Level is the mark of a note's level.
func (w Words) Level(l yokemate.Level) Mark {
	switch l {
	case yokemate.Stop:
		return Mark{"stop", "■", w.Phrase("Stop")}
	case yokemate.Caution:
		return Mark{"caution", "▲", w.Phrase("Caution")}
	case yokemate.Go:
		return Mark{"go", "●", w.Phrase("Go")}
	}
	return Mark{"info", "○", w.Phrase("Note")}
}

// Verdict is the mark of a verdict.
func (w Words) Verdict(verdict string) Mark {
	switch verdict {
	case "go":
		return Mark{"go", "●", w.Phrase("Go on")}
	case "stop":
		return Mark{"stop", "■", w.Phrase("Stop")}
	case "change":
		return Mark{"caution", "◆", w.Phrase("Change a lead")}
	}
	return Mark{"caution", "▲", w.Phrase("Unsure")}
}

// Given is the mark of an answer: its verdict's where it has one, else that it
// was done, or that it told of a moved lead.
func (w Words) Given(x *yokemate.Answer, v *yokemate.Verdict) Mark {
	switch {
	case x.Changed != "":
		return Mark{"info", "◇", w.Phrase("Moved a lead")}
	case v == nil:
		return Mark{"go", "●", w.Phrase("Done")}
	}
	return w.Verdict(v.Verdict)
}

// State is the mark of a proof's state.
func (w Words) State(s yokemate.ProofState) Mark {
	switch s {
	case yokemate.ProofGood:
		return Mark{"go", "●", w.Phrase("Good")}
	case yokemate.ProofStopped:
		return Mark{"stop", "■", w.Phrase("Stopped")}
	}
	return Mark{"info", "○", w.Phrase("Open")}
}
