package yokemate

// DecodeAnswers reads an answers file and checks what can be checked without
// the proof.
func DecodeAnswers(data []byte) (*Answers, error) {
	var a Answers
	if err := decodeFile(data, &a); err != nil {
		return nil, err
	}
	return &a, a.Validate()
}

// Validate checks every answer by itself.
func (a *Answers) Validate() error {
	for i := range a.Answers {
		if err := a.Answers[i].Validate(); err != nil {
			return err
		}
	}
	return nil
}

// Validate checks that the answer belongs to a step or tells of a moved lead,
// and that its reading is one.
func (a *Answer) Validate() error {
	at := "step " + a.Step
	switch {
	case a.Step == "" && a.Changed == "":
		return Errorf(Invalid, "answers", "an answer names neither a step nor a lead that was moved").Mend("add \"step\": \"…\", or \"changed\": \"reversed:T2/A\"")
	case a.Changed != "" && (a.Step != "" || a.Value != ""):
		return Errorf(Invalid, "answers", "a moved lead and a reading stand in one answer").Mend("write two answers, in the order they happened")
	case a.FeedVolts.Known() && !(a.FeedVolts.V > 0):
		return Errorf(Invalid, at, "feed_volts must be above 0").Mend("give what the socket read, or leave it out")
	}
	switch a.Value {
	case "", "over", "open", "unsure":
		return nil
	}
	if _, err := Read(string(a.Value)); err != nil {
		return Errorf(Invalid, at, "%q is no reading", a.Value).Mend("write the digits as shown, or over, open or unsure")
	}
	return nil
}
