package yokemate

import (
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Proof is the ordered way to wire a hookup, with what each reading should
// be, what it would be for each mistake, and what the answers so far say.
type Proof struct {
	Hookup   Hookup     `json:"hookup"`
	Steps    []Step     `json:"steps"`
	Next     *string    `json:"next"`  // id of the step to take now; null when done
	Proof    ProofState `json:"proof"` // open, good or stopped
	Verdicts []Verdict  `json:"verdicts,omitempty"`
	Notes    []Note     `json:"notes"`
	Cautions []string   `json:"cautions"`
}

// ProofState is how far a proof has come.
type ProofState string

const (
	ProofOpen    ProofState = "open"
	ProofGood    ProofState = "good"
	ProofStopped ProofState = "stopped"
)

// Step is one thing to do, with at most one reading.
type Step struct {
	ID      string    `json:"id"`
	Do      string    `json:"do"`
	State   Hookup    `json:"state"`
	Measure *Measure  `json:"measure"` // nil where nothing is read
	Right   *Interval `json:"right,omitzero"`
	Slips   []Slip    `json:"slips"`
	Closes  string    `json:"closes,omitempty"` // the joint that is closed once this step is good
	Help    string    `json:"help,omitempty"`   // why, for a beginner
}

// Measure says what to read and where the probes go.
type Measure struct {
	Quantity   Quantity `json:"quantity"`
	From       string   `json:"from"` // a joint, a pin with a dot, or a terminal of a rectified output as out+; "feed" for the feed's amps or watts
	To         string   `json:"to,omitempty"`
	BurdenOhms float64  `json:"burden_ohms,omitzero"` // load across the probes, against ghost readings [Ω]
}

// Rails lists the pairs of points that the rails of a rectified output are read
// between, plus first: the joint of its AC side where the rail is tied to one,
// else the output's name with + or -.
func (o *Output) Rails() [][2]string {
	plus, minus := o.Name+"+", o.Name+"-"
	switch {
	case o.DC == nil:
		return nil
	case o.DC.Rectifier == "half":
		return [][2]string{{plus, o.To}}
	case o.DC.Rectifier == "centre-tap":
		return [][2]string{{plus, o.DC.Middle}}
	case o.DC.Rectifier == "bridge" && o.DC.Middle != "":
		return [][2]string{{plus, o.DC.Middle}, {o.DC.Middle, minus}}
	}
	return [][2]string{{plus, minus}}
}

// Interval is a value with its 95 % interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Slip is one mistake, and what a step would read if it had been made.
type Slip struct {
	Code     string    `json:"code"` // as reversed:T2/A
	Words    string    `json:"words"`
	Value    float64   `json:"value"`
	Low      float64   `json:"low"`
	High     float64   `json:"high"`
	IfClosed *IfClosed `json:"if_closed,omitzero"`
}

// IfClosed is what would follow if a gap were closed on a slip.
type IfClosed struct {
	WindingAmps float64  `json:"winding_amps"`       // the largest [A]
	Winding     string   `json:"winding"`            // which, as T2/A
	FeedAmps    float64  `json:"feed_amps"`          // [A]
	FuseOpens   string   `json:"fuse_opens"`         // yes, no or unsure
	OpensS      *float64 `json:"opens_s,omitzero"`   // slow end of the fuse's gates [s]; nil: never
	LimitS      *float64 `json:"limit_s,omitzero"`   // until the winding passes its limit temperature [s]; nil: never
	Protects    string   `json:"protects,omitempty"` // what does, where the fuse does not
}

// Answers is what was read, step by step, in the order it happened.
type Answers struct {
	Answers []Answer `json:"answers"`
}

// Answer is one reading given to a step, or a lead moved.
type Answer struct {
	Step      string     `json:"step,omitempty"`
	Value     AnswerText `json:"value,omitempty"`     // as shown, or over, open, unsure
	FeedVolts Value      `json:"feed_volts,omitzero"` // what the socket read at the time [V]
	Meter     string     `json:"meter,omitempty"`
	Changed   string     `json:"changed,omitempty"` // the slip that was mended: reversed:T2/A
	Reason    string     `json:"reason,omitempty"`  // why a stop was overruled
	Note      string     `json:"note,omitempty"`
}

// AnswerText is a reading as shown; in a file a number is taken too.
type AnswerText string

// UnmarshalJSONFrom reads text or a number, whose digits it keeps.
func (a *AnswerText) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	switch dec.PeekKind() {
	case '0':
		raw, err := dec.ReadValue()
		*a = AnswerText(raw)
		return err
	case '"':
		var s string
		err := json.UnmarshalDecode(dec, &s)
		*a = AnswerText(s)
		return err
	}
	if err := dec.SkipValue(); err != nil {
		return err
	}
	return Errorf(Invalid, "", "a reading is text or a number").Mend("write \"0.48\", \"over\", \"open\" or \"unsure\"")
}

// Verdict is what the answers up to and including a step say.
type Verdict struct {
	Step    string        `json:"step"`
	Verdict string        `json:"verdict"` // go, change, stop or unsure
	Right   float64       `json:"right"`   // probability that all is right so far
	Slips   []Probability `json:"slips"`   // likeliest first
	Words   string        `json:"words"`
	Changed string        `json:"change,omitempty"` // the lead to change, where the verdict is change
}

// Probability is one slip, or a class that no reading so far can tell apart.
type Probability struct {
	Code        string   `json:"code"`           // of the class's first member
	Same        []string `json:"same,omitempty"` // codes of the others
	Words       string   `json:"words"`
	Probability float64  `json:"probability"`
}
