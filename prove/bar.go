package prove

import (
	"fmt"
	"slices"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/predict"
)

// barring are the stops of a prediction that no reading can lift: the readings
// would be right ones of a wrong hookup. What circulates is not among them, as
// the gap's own reading decides it.
var barring = []yokemate.NoteCode{
	yokemate.OverFlux, yokemate.OverCurrent, yokemate.InsulationExceeded, yokemate.HazardousVoltage,
	yokemate.SeparateLoads, yokemate.BackFed, yokemate.SupplyPhases, yokemate.DCOverRating,
}

// bar finds the powered steps that are not to be taken, because what they
// power is a stop by prediction: as the steps go, the first state that shows
// it. A hookup without such a stop has none.
func (p *Plan) bar() error {
	stops := map[yokemate.NoteCode]string{}
	for _, n := range p.notes {
		if n.Level == yokemate.Stop && slices.Contains(barring, n.Code) && stops[n.Code] == "" {
			stops[n.Code] = n.Words
		}
	}
	if len(stops) == 0 {
		return nil
	}
	for _, n := range p.notes {
		if w := stops[n.Code]; w != "" && n.Words == w {
			p.against = w
			break
		}
	}
	known := map[string]string{}
	for _, s := range p.steps {
		if s.trial || !powered(&s.State) {
			continue
		}
		words := ""
		if s.rail != nil || s.lugs != nil {
			words = barredRail(s, stops)
		} else {
			key := stateKey(&step{Step: yokemate.Step{Measure: &yokemate.Measure{}}}, &s.State, network.Options{}, 0)
			var done bool
			if words, done = known[key]; !done {
				pred, err := predict.Hookup(p.facts, &s.State, yokemate.Nominal, predict.Options{Brief: true, Limits: p.opt.Limits, Meter: p.meter})
				if err != nil {
					return err
				}
				words = firstStop(pred.Notes, stops)
				known[key] = words
			}
		}
		if words != "" {
			s.barred = words
			s.Do = fmt.Sprintf("Do not take this step: %s.", words)
		}
	}
	return nil
}

func firstStop(notes []yokemate.Note, stops map[yokemate.NoteCode]string) string {
	for _, n := range notes {
		if n.Level == yokemate.Stop && stops[n.Code] != "" {
			return n.Words
		}
	}
	return ""
}

// barredRail is why a step of a rectifier is not to be taken: the DC load's own
// stop holds under load, every other with none as well.
func barredRail(s *step, stops map[yokemate.NoteCode]string) string {
	for _, c := range barring {
		if w := stops[c]; w != "" && (c != yokemate.DCOverRating || s.rail != nil && s.rail.loaded) {
			return w
		}
	}
	return ""
}

// atBar stops the proof where the step that comes now is not to be taken, or
// where one was taken all the same. The answers before it were good, so that the
// last of them, among the verdicts from n on, tells of the stop.
func (j *judge) atBar(a yokemate.Answer, n int) {
	taken := j.p.step(a.Step)
	if taken == nil {
		return // told of a moved lead
	}
	why := taken.barred
	if why == "" && j.state == yokemate.ProofOpen {
		switch id := j.next(); {
		case id != "":
			why = j.p.step(id).barred
		default:
			why = j.p.against
		}
	}
	if why == "" {
		return
	}
	words := fmt.Sprintf("Power off. It goes no further with this hookup: %s. No reading and no reason lifts that; change the hookup.", why)
	if len(j.verdicts) == n {
		j.verdicts = append(j.verdicts, yokemate.Verdict{Step: a.Step, Right: j.right(), Slips: []yokemate.Probability{}})
	}
	v := &j.verdicts[len(j.verdicts)-1]
	if v.Words == "" || taken.barred != "" || taken.kind == gapReading && v.Verdict == "go" {
		v.Words = words // nor is the gap to be joined
	} else {
		v.Words += " " + words
	}
	v.Verdict, v.Changed = "stop", ""
	j.done[a.Step], j.ask = false, ""
	j.state, j.stop, j.barred = yokemate.ProofStopped, a.Step, true
}
