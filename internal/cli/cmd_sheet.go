package cli

import (
	"fmt"
	"time"

	"yokemate"
	"yokemate/internal/figure"
	"yokemate/internal/sheet"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/predict"
	"yokemate/si"
	"yokemate/supply"
)

// paperFrom says which hookup goes on paper, with which readings.
type paperFrom struct {
	Hookup  string  `placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Answers string  `placeholder:"FILE" help:"With --hookup: the readings of this file."`
	Proof   int64   `placeholder:"ID" help:"A proof in the store with its readings, in place of --hookup."`
	Meter   string  `placeholder:"NAME" help:"The meter that takes the readings; the shelf's first if not given."`
	Ambient float64 `default:"40" placeholder:"CELSIUS" help:"The hottest air around it, for the limits."`
	Box     float64 `default:"1" placeholder:"X" help:"How much worse its box carries heat away than open air; 1.5 for a small closed one."`
}

// inputs are the files that must not be written over.
func (c *paperFrom) inputs() []string { return []string{c.Hookup, c.Answers} }

func (c *paperFrom) check() error {
	wrong := func(what, mend string) error {
		return yokemate.Errorf(yokemate.Invalid, "command line", "%s", what).Mend("%s", mend)
	}
	switch {
	case c.Proof < 0:
		return wrong("a proof's number is 1 or more", "see \"yokemate proof list\"")
	case c.Proof != 0 && c.Hookup != "":
		return wrong("--proof and --hookup are both given", "keep one: a proof has its hookup")
	case c.Proof != 0 && c.Answers != "":
		return wrong("--proof and --answers are both given", "keep one: a proof has its readings")
	case c.Proof == 0 && c.Hookup == "":
		return wrong("there is no hookup to set on paper", "add --hookup FILE, or --proof ID")
	case !(c.Box >= 1 && c.Box <= 10):
		return yokemate.Errorf(yokemate.Invalid, "--box", "a box carries heat away 1 to 10 times worse than open air").Mend("write 1.5 for a small closed one")
	case !(c.Ambient >= -40 && c.Ambient <= 80):
		return yokemate.Errorf(yokemate.Invalid, "--ambient", "%g °C is no air to work in", c.Ambient).Mend("write 40 for a hot day indoors")
	}
	return nil
}

// finished is a hookup with all that its papers tell.
type finished struct {
	hookup     *yokemate.Hookup
	shelf      *yokemate.Shelf
	prediction *yokemate.Prediction
	proof      *yokemate.Proof // nil where none can be planned
	answers    []yokemate.Answer
	meter      string               // that takes the readings; empty: a generic one
	limits     *yokemate.LimitsCard // nil where none are to be told
	unlimited  string               // why there are none
	date       time.Time            // of the last reading; zero: not known
}

// gather predicts the hookup, judges its readings and works its limits out. It
// stores nothing.
func (c *paperFrom) gather(a *App) (*finished, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	x, where, readings := &finished{}, c.Hookup, c.Answers
	if c.Proof != 0 {
		s, err := a.Store()
		if err != nil {
			return nil, err
		}
		p, err := s.Proof(a.Ctx(), c.Proof)
		if err != nil {
			return nil, err
		}
		where = "proof " + itoa(int(p.ID))
		readings = where
		x.hookup, x.shelf, x.answers = &p.Hookup, &p.Shelf, p.Given().Answers
		if n := len(p.Answers); n > 0 {
			x.date = p.Answers[n-1].At
		}
		for i := len(x.answers) - 1; i >= 0 && c.Meter == ""; i-- {
			c.Meter = x.answers[i].Meter
		}
	} else {
		s, err := a.Shelf()
		if err != nil {
			return nil, err
		}
		if x.hookup, err = a.Hookup(c.Hookup, s); err != nil {
			return nil, err
		}
		x.shelf = s.Only(x.hookup)
		if c.Answers != "" {
			given, err := a.Answers(c.Answers)
			if err != nil {
				return nil, err
			}
			x.answers = given.Answers
		}
	}
	meter, err := meterNamed(x.shelf, c.Meter)
	if err != nil {
		return nil, err
	}
	switch {
	case meter != nil:
		x.meter = meter.Name
	case len(x.shelf.Meters) > 0:
		x.meter = x.shelf.Meters[0].Name
	}
	facts := network.Compile(x.shelf)
	if supply.IsDC(x.hookup) {
		if len(x.answers) > 0 {
			return nil, inFile(readings, yokemate.Errorf(yokemate.Unsupported, "", "readings of a rectified hookup are not judged yet").Mend("leave out --answers, or take \"dc\" out of the hookup"))
		}
		p, err := supply.Predict(facts, x.hookup, yokemate.Nominal, predict.Options{Meter: meter})
		if err != nil {
			return nil, inFile(where, err)
		}
		x.prediction = rectified(p)
	} else {
		b, err := newProving(x.shelf, x.hookup, c.Meter)
		if err != nil {
			return nil, inFile(where, err)
		}
		for i, one := range x.answers {
			if _, err := b.judge(one); err != nil {
				return nil, inFile(readings, placed(err, i))
			}
		}
		x.proof = b.session.Proof()
		if x.prediction, err = predict.Hookup(facts, x.hookup, yokemate.Nominal, predict.Options{Meter: meter}); err != nil {
			return nil, inFile(where, err)
		}
	}
	return x, x.limit(facts, c)
}

// limit works the limits out, unless there is nothing to be limited: what must
// not be powered has none.
func (x *finished) limit(facts *network.Facts, c *paperFrom) error {
	switch {
	case x.stopped():
		x.unlimited = "none: it must not be powered as it stands"
		return nil
	case len(x.hookup.Outputs) == 0:
		x.unlimited = "none: it has no output"
		return nil
	}
	card, err := supply.Limits(facts, x.hookup, supply.CardOptions{Heat: thermal.Options{AmbientC: c.Ambient, Box: c.Box}})
	e, ours := err.(*yokemate.Error)
	switch {
	case err == nil:
		x.limits = card
	case !ours || e.Code == yokemate.Internal:
		return err
	default:
		x.unlimited = "not worked out: " + e.Message
	}
	return nil
}

// stopped reports whether it must not be powered, by prediction or proof.
func (x *finished) stopped() bool {
	if x.proof != nil && (x.proof.Proof == yokemate.ProofStopped || yokemate.Worst(x.proof.Notes) == yokemate.Stop) {
		return true
	}
	return yokemate.Worst(x.prediction.Notes) == yokemate.Stop
}

// rectified is a prediction with the mean volts and amps of its rectified
// outputs in the place of the rms before the diodes: what DC meters show.
func rectified(s *yokemate.SupplyPrediction) *yokemate.Prediction {
	p := s.Prediction
	p.Outputs = nil
	for _, o := range s.Outputs {
		if o.DC != nil {
			k := o.DC.Mean / o.Volts
			o.Volts, o.Low, o.High, o.Amps = o.DC.Mean, k*o.Low, k*o.High, 0
			for _, r := range s.Rails {
				if r.Output == o.Name {
					o.Amps = max(o.Amps, r.Amps)
				}
			}
		}
		p.Outputs = append(p.Outputs, o.OutputState)
	}
	return &p
}

// maxAmps is what each output gives for ever [A].
func (x *finished) maxAmps() map[string]float64 {
	if x.limits == nil {
		return nil
	}
	m := map[string]float64{}
	for _, o := range x.limits.Outputs {
		m[o.Name] = o.Amps
	}
	return m
}

// facts are the limits in words: all of them for a sheet, or for a label those
// that do not stand on it anyway.
func (x *finished) facts(label bool) []sheet.Fact {
	if x.limits == nil {
		return []sheet.Fact{{Name: "output amps", Value: x.unlimited}}
	}
	c := x.limits
	var all []sheet.Fact
	add := func(name, value string) { all = append(all, sheet.Fact{Name: name, Value: value}) }
	for _, o := range c.Outputs {
		name := o.Name + ", "
		if len(c.Outputs) == 1 {
			name = ""
		}
		if !label {
			add(name+"for ever", "at most "+si.Format(o.Amps, "A", 3)+", by "+o.LimitedBy)
		}
		add(name+fmt.Sprintf("for %.0f %% of the time", 100*o.Duty), "at most "+si.Format(o.DutyAmps, "A", 3))
		if !label {
			add(name+"volts", fmt.Sprintf("%s with no load; at its limit %s", si.Format(o.NoLoad, "V", 3), si.FormatInterval(o.AtLow, o.AtHigh, "V")))
		}
		if o.BridgeAmps > 0 {
			add(name+"DC behind a bridge", "at most "+si.Format(o.BridgeAmps, "A", 3))
		}
	}
	air := fmt.Sprintf("up to %g °C", c.AmbientC)
	if c.HighestC < c.AmbientC {
		air += fmt.Sprintf("; with its own loads only up to %.0f °C", c.HighestC)
	}
	add("air around it", air)
	if f := x.hookup.Feed[0]; c.PrimaryFuse > 0 && (c.PrimaryFuse != f.FuseAmps || c.FuseKind != f.FuseKind) {
		add("fuse that would serve", c.FuseKind+" "+si.Format(c.PrimaryFuse, "A", 2))
	}
	if c.Estimated {
		add("caution", "a rating that decides is an estimate; a heat run settles it")
	}
	return all
}

type sheetCmd struct {
	paperFrom
	look
	Paper string `default:"A4" enum:"A4,Letter" placeholder:"SIZE" help:"A4 or Letter."`
	pageFlags
}

// Run sets the bench sheet of a hookup.
func (c *sheetCmd) Run(a *App) error {
	if err := c.pageFlags.check(); err != nil {
		return err
	}
	x, err := c.gather(a)
	if err != nil {
		return err
	}
	page := sheet.A4
	if c.Paper == "Letter" {
		page = sheet.Letter
	}
	b := &sheet.Bench{Options: c.options(), Hookup: x.hookup, Shelf: x.shelf, Prediction: x.prediction, Proof: x.proof, Answers: x.answers,
		Limits: x.facts(false), Meter: x.meter, Page: page, Date: x.date, Who: c.Who}
	pages, err := b.Sheet()
	if err != nil {
		return err
	}
	return c.write(a, pages, "bench sheet", c.inputs()...)
}

// look is what all papers have in common.
type look struct {
	Region string `enum:",iec,nec" default:"" placeholder:"REGION" help:"Colours of the mains wires: iec (brown, blue, green-yellow) or nec (black, white, green); by the mains volts if not given."`
	Who    string `placeholder:"NAME" help:"Who tested it."`
}

func (l *look) options() figure.Options {
	return figure.Options{Region: map[string]figure.Region{"iec": figure.IEC, "nec": figure.NEC}[l.Region]}
}
