// Package paper gathers what a sheet or a label shows: from a shelf, a hookup
// and the readings of a proof it takes prediction, verdicts, curve and limits,
// and sets them on paper. The command line and the browser both print through
// it, so that the same hookup makes the same pages byte for byte.
//
// It stores nothing and computes nothing of its own: the engine's packages do,
// and package sheet lays out.
package paper

import (
	"bytes"
	"strconv"
	"time"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/pdf"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/lang"
	"yokemate/internal/sheet"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/supply"
)

// Ambient is the hottest air that limits are worked out for unless said [°C]: a
// warm room in summer, with the box's own air (common practice, no source).
const Ambient = 40

// Job is what is to go on paper.
type Job struct {
	Hookup  *yokemate.Hookup
	Shelf   *yokemate.Shelf   // may hold more units than the hookup's
	Answers []yokemate.Answer // readings of its steps
	Meter   string            // that takes the readings; empty: the one of the last answer, else the shelf's first
	Air     float64           // the hottest around it [°C]
	Box     float64           // how much worse its box carries heat away than open air; 0: as open air
	Date    time.Time         // of the last reading; zero: not known
	From    string            // what an error names: the hookup's file; empty: nothing
	Read    string            // the readings' file
}

// OfProof is the job of a stored proof.
func OfProof(p *yokemate.ProofRecord) Job {
	name := "proof " + strconv.FormatInt(p.ID, 10)
	j := Job{Hookup: &p.Hookup, Shelf: &p.Shelf, Answers: p.Given().Answers, Air: Ambient, From: name, Read: name}
	if n := len(p.Answers); n > 0 {
		j.Date = p.Answers[n-1].At
	}
	return j
}

// meter is the one by its name, or else the one of the last answer.
func (j *Job) meter() (*yokemate.Meter, error) {
	name := j.Meter
	for i := len(j.Answers) - 1; i >= 0 && name == ""; i-- {
		name = j.Answers[i].Meter
	}
	return Meter(j.Shelf, name)
}

// Meter is the meter of that name on the shelf, or the generic one by its own
// name; nil for no name, which stands for the shelf's first.
func Meter(s *yokemate.Shelf, name string) (*yokemate.Meter, error) {
	if name == "" {
		return nil, nil
	}
	if m := s.MeterNamed(name); m != nil {
		return m, nil
	}
	if name == yokemate.GenericMeterName {
		return yokemate.GenericMeter(), nil
	}
	return nil, yokemate.Errorf(yokemate.NotFound, "--meter", "there is no meter %q", name).Mend("see \"yokemate meter list\", or add it")
}

// in puts a file's name before an error, where there is one.
func in(name string, err error) error {
	if err == nil || name == "" {
		return err
	}
	return &yokemate.SourceError{Source: name, Err: err}
}

// placed names the answer that an error is about where nothing else does.
func placed(err error, i int) error {
	if e, ok := err.(*yokemate.Error); ok && e.Place == "" {
		c := *e
		c.Place = "answer " + strconv.Itoa(i+1)
		return &c
	}
	return err
}

// Finished is a hookup with all that its papers tell.
type Finished struct {
	Job
	Prediction *yokemate.Prediction // at nominal mains
	Proof      *yokemate.Proof      // nil where none can be planned
	Curve      *figure.LoadCurves   // nil where there is none to draw
	Limits     *yokemate.LimitsCard // nil where there are none to tell
	Unlimited  string               // why there are none
	meter      string               // that takes the readings; empty: a generic one
}

// Gather predicts the hookup, judges its readings and works its limits out.
func Gather(j Job) (*Finished, error) {
	x := &Finished{Job: j}
	x.Shelf = j.Shelf.Only(j.Hookup)
	m, err := j.meter()
	if err != nil {
		return nil, err
	}
	switch {
	case m != nil:
		x.meter = m.Name
	case len(x.Shelf.Meters) > 0:
		x.meter = x.Shelf.Meters[0].Name
	}
	facts := network.Compile(x.Shelf)
	if err := x.judge(facts, m); err != nil {
		return nil, err
	}
	if x.Prediction, _, err = Foretell(facts, x.Hookup, yokemate.Nominal, predict.Options{Meter: m}); err != nil {
		return nil, in(x.From, err)
	}
	if err := x.limit(facts); err != nil {
		return nil, err
	}
	if x.stopped() {
		return x, nil
	}
	c, err := Curve(facts, x.Hookup)
	if err != nil {
		return nil, in(x.From, err)
	}
	if len(c.Nominal) > 0 {
		if x.Limits != nil {
			c.MaxAmps = x.Limits.Outputs[0].Amps
		}
		x.Curve = &c
	}
	return x, nil
}

// judge plans the proof and takes the answers.
func (x *Finished) judge(facts *network.Facts, m *yokemate.Meter) error {
	plan, err := prove.New(facts, x.Hookup, prove.Options{Meter: m})
	if err != nil {
		return in(x.From, err)
	}
	s := plan.Session()
	for i, a := range x.Answers {
		if _, err := s.Take(a); err != nil {
			return in(x.Read, placed(err, i))
		}
	}
	x.Proof = s.Proof()
	return nil
}

// limit works the limits out, unless there is nothing to be limited: what must
// not be powered has none.
func (x *Finished) limit(facts *network.Facts) error {
	switch {
	case x.stopped():
		x.Unlimited = "none: it must not be powered as it stands"
		return nil
	case len(x.Hookup.Outputs) == 0:
		x.Unlimited = "none: it has no output"
		return nil
	}
	card, err := supply.Limits(facts, x.Hookup, supply.CardOptions{Heat: thermal.Options{AmbientC: x.Air, Box: x.Box}})
	e, ours := err.(*yokemate.Error)
	switch {
	case err == nil:
		x.Limits = card
	case !ours || e.Code == yokemate.Internal:
		return err
	default:
		x.Unlimited = "not worked out: " + e.Message
	}
	return nil
}

// stopped reports whether it must not be powered, by prediction or proof.
func (x *Finished) stopped() bool {
	if x.Proof != nil && (x.Proof.Proof == yokemate.ProofStopped || yokemate.Worst(x.Proof.Notes) == yokemate.Stop) {
		return true
	}
	return x.Prediction != nil && yokemate.Worst(x.Prediction.Notes) == yokemate.Stop
}

// Sheet sets the bench sheet.
func (x *Finished) Sheet(o figure.Options, page sheet.Page, who string) ([]draw.Scene, error) {
	b := &sheet.Bench{Options: o, Hookup: x.Hookup, Shelf: x.Shelf, Prediction: x.Prediction, Proof: x.Proof, Answers: x.Answers,
		Limits: x.Limits, Unlimited: x.Unlimited, Curve: x.Curve, Meter: x.meter, Page: page, Date: x.Date, Who: who}
	return b.Sheet()
}

// Label sets the label of the finished supply. what and not say in plain words
// what it is for and what not; either may be empty.
func (x *Finished) Label(o figure.Options, what, not, who string) draw.Scene {
	l := &sheet.Supply{Options: o, Hookup: x.Hookup, Prediction: x.Prediction, Proof: x.Proof, For: what, NotFor: not,
		Limits: x.Limits, Unlimited: x.Unlimited, Date: x.Date, Who: who}
	return l.Scene()
}

// In puts the words on paper into a language.
func In(o figure.Options, l *lang.Language) figure.Options {
	if !l.Plain() {
		o.Say, o.Locale = l.Say, l.Locale
	}
	return o
}

// PDF writes pages as one file. lang is the tag of the language they are in.
func PDF(pages []draw.Scene, title, lang string, greys bool) ([]byte, error) {
	var b bytes.Buffer
	err := pdf.Write(&b, pages, pdf.Options{Title: title, Lang: lang, Greys: greys})
	return b.Bytes(), err
}

// SVG writes one page as a file.
func SVG(page *draw.Scene, greys bool) ([]byte, error) {
	theme := draw.Print
	if greys {
		theme = draw.Greys
	}
	var b bytes.Buffer
	err := svg.Document(&b, page, theme)
	return b.Bytes(), err
}
