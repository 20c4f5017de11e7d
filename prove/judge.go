package prove

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/mat"

	"yokemate"
	"yokemate/predict"
	"yokemate/si"
)

// What a verdict needs.
const (
	dangerous     = 1e-4 // summed probability of dangerous worlds at a gap, at most
	goRight       = 0.8  // probability of right, and of what this step cannot tell from it, for a go that closes nothing
	changeAt      = 0.5  // of a slip's class for a change
	sureChange    = 0.9  // the same where the reading fits right as well
	leastExplains = 1e-4 // of an unknown cause's own probability of a reading, for a slip to be named
	massOver      = 0.98 // of "over" where nothing joins the probes
	massNumber    = 1e-7 // of a number there, or of "over" elsewhere
	signFloor     = 0.3  // below it the sign of DC volts says nothing [V]
	unknownRange  = 1e6  // ratio of the largest reading to the smallest that an unknown cause may give
)

// reading is one answer that still speaks of the wiring as it is.
type reading struct {
	step   *step
	value  float64
	neg    bool // below nothing, as DC volts may be
	over   bool
	res    float64 // one count of the last digit
	digits string  // as shown
	mains  float64 // the socket's volts at the time [V]
	mainU  float64
	f      map[int]*forecast // per world

	overruled bool // it stopped the proof, and a reason was typed
}

// Judge gives the proof as the answers leave it.
func (p *Plan) Judge(answers []yokemate.Answer) (*yokemate.Proof, error) {
	s := p.Session()
	for i, a := range answers {
		if _, err := s.Take(a); err != nil {
			if e, ok := err.(*yokemate.Error); ok && e.Place == "" {
				e.Place = fmt.Sprintf("answer %d", i+1)
			}
			return nil, err
		}
	}
	return s.Proof(), nil
}

// Session is a proof under way: it takes answers one by one. The plan serves
// one session at a time.
type Session struct{ j *judge }

// Session starts the proof from its first step.
func (p *Plan) Session() *Session {
	feed := p.hookup.Feed[0]
	p.mains = feed.Volts.V
	p.mainU = math.Max(feed.Volts.U, (feed.At(yokemate.High)-feed.At(yokemate.Low))/(2*1.96))
	p.seen = map[int]float64{}
	return &Session{&judge{p: p, state: yokemate.ProofOpen, done: map[string]bool{}, reasons: map[string]int{}}}
}

// Take judges one answer and returns what it means; nil where it only tells
// that a lead was moved, or passes a step with nothing to read.
func (s *Session) Take(a yokemate.Answer) (*yokemate.Verdict, error) {
	n := len(s.j.verdicts)
	if err := s.j.take(a); err != nil {
		return nil, err
	}
	if len(s.j.verdicts) == n {
		return nil, nil
	}
	return &s.j.verdicts[n], nil
}

// State is how far the proof has come.
func (s *Session) State() yokemate.ProofState {
	if s.j.state == yokemate.ProofOpen && s.j.next() == "" {
		return yokemate.ProofGood
	}
	return s.j.state
}

// Final reports whether no reason passes the stop that the proof stands at: a
// gap about to be closed, insulation that is not there, or what the prediction forbids.
func (s *Session) Final() bool {
	at := s.j.p.step(s.j.stop)
	return s.j.state == yokemate.ProofStopped &&
		(s.j.barred || at == nil || at.Closes != "" || at.Measure == nil || at.Measure.Quantity == yokemate.Megohms)
}

// Next is the id of the step to take now, empty when there is none.
func (s *Session) Next() string {
	if s.j.state != yokemate.ProofOpen {
		return ""
	}
	return s.j.next()
}

// Proof is the whole record so far, every step described.
func (s *Session) Proof() *yokemate.Proof {
	p := s.j.p
	out := &yokemate.Proof{Hookup: *p.hookup, Steps: []yokemate.Step{}, Verdicts: s.j.verdicts, Notes: append(slices.Clone(p.notes), s.j.notes...), Cautions: Cautions(), Proof: s.State()}
	if id := s.Next(); id != "" {
		out.Next = &id
	}
	for _, x := range p.steps {
		p.describe(x)
		out.Steps = append(out.Steps, x.Step)
	}
	return out
}

// Step returns the step with that id, its right reading and slips filled in
// as the readings so far let them be known; nil when there is none.
func (p *Plan) Step(id string) *yokemate.Step {
	s := p.step(id)
	if s == nil {
		return nil
	}
	p.describe(s)
	return &s.Step
}

type judge struct {
	p        *Plan
	readings []reading
	verdicts []yokemate.Verdict
	notes    []yokemate.Note
	done     map[string]bool // steps passed
	reasons  map[string]int  // how often a step's stop was overruled
	ask      string          // the step to take again, by the last verdict
	witness  string          // the live reading that was good, right after the one before it, and is still the latest but for its gap's
	state    yokemate.ProofState
	stop     string // the step that stopped it
	barred   bool   // it is stopped by what the prediction forbids
}

// next is the first step not passed, or the one the last verdict asks for.
func (j *judge) next() string {
	if j.ask != "" {
		return j.ask
	}
	for _, s := range j.p.steps {
		if !j.done[s.ID] {
			return s.ID
		}
	}
	return ""
}

func (p *Plan) step(id string) *step {
	for _, s := range p.steps {
		if s.ID == id {
			return s
		}
	}
	return nil
}

func (j *judge) take(a yokemate.Answer) error {
	n := len(j.verdicts)
	if err := j.answer(a); err != nil {
		return err
	}
	j.atBar(a, n)
	return nil
}

func (j *judge) answer(a yokemate.Answer) error {
	if a.Changed != "" {
		return j.changed(a.Changed)
	}
	s := j.p.step(a.Step)
	if s == nil {
		return yokemate.Errorf(yokemate.Invalid, "", "there is no step %q", a.Step).Mend("name a step by its id; the first is %q", j.p.steps[0].ID)
	}
	text := strings.TrimSpace(string(a.Value))
	r := reading{step: s}
	witness := j.witness
	unsure := text == "unsure" || text == ""
	switch {
	case s.Measure == nil:
	case unsure && j.state == yokemate.ProofStopped && j.stop == s.ID:
		return yokemate.Errorf(yokemate.Invalid, "step "+s.ID, "the proof stopped here, and unsure does not lift that").Mend("read it again, or tell of the lead that was moved")
	case unsure:
	case text == "over" || text == "open" || text == "OL" || text == "ol":
		r.over = true
	default:
		v, err := yokemate.Read(text)
		if err != nil {
			return err
		}
		r.neg = v.V < 0
		if r.neg && s.Measure.Quantity != yokemate.VoltsDC {
			return yokemate.Errorf(yokemate.Invalid, "step "+s.ID, "a reading of %s cannot be", v.Digits).Mend("AC volts, amps and ohms have no sign: read it again")
		}
		r.value, r.res, r.digits = math.Abs(v.V), si.Resolution(v.Digits), v.Digits
	}
	// From here on the answer is taken: nothing above has changed the judge.
	if j.state == yokemate.ProofStopped && j.stop == s.ID {
		j.state, j.barred = yokemate.ProofOpen, false // judged anew, by this reading
	}
	if a.FeedVolts.Known() && !s.trial {
		j.p.mains = a.FeedVolts.V
		j.p.mainU = drift * a.FeedVolts.V
		if a.FeedVolts.U > 0 {
			j.p.mainU = math.Hypot(j.p.mainU, a.FeedVolts.U)
		} else if acc, ok := j.p.meter.Showing(yokemate.VoltsAC, a.FeedVolts.V, a.FeedVolts.Digits); ok {
			j.p.mainU = math.Hypot(j.p.mainU, acc.U(a.FeedVolts.V))
		}
	}
	// A later reading of the same step takes the earlier one's place.
	j.readings = slices.DeleteFunc(j.readings, func(r reading) bool { return r.step == s })
	j.done[s.ID] = false
	j.ask, j.witness = "", ""
	switch {
	case s.Measure == nil:
		j.done[s.ID] = true
		return nil
	case unsure:
		j.unsure(s)
		return nil
	}
	r.mains, r.mainU = j.p.mains, j.p.mainU
	if a.FeedVolts.Known() && !s.trial && powered(&s.State) && j.wrongSocket(s, a.FeedVolts.V) {
		return nil
	}
	switch s.kind {
	case insulationTest:
		j.insulation(s, r)
		return nil
	case earthBond:
		j.bond(s, r)
		return nil
	case rectifierDead:
		j.deadRectifier(s, r)
		return nil
	case bled:
		j.discharge(s, r)
		return nil
	}
	if r.over && s.Measure.Quantity != yokemate.Ohms {
		// Above the range of a meter that could have shown it.
		r.over, r.value, r.res = false, 1e4, 1
	}
	r.f = map[int]*forecast{}
	for i := range j.p.worlds {
		r.f[i] = j.p.forecast(s, &j.p.worlds[i])
	}
	j.readings = append(j.readings, r)
	for i, o := range j.p.hookup.Outputs {
		if f := r.f[0].dist.Value; o.DC != nil && s.ID == "output-"+o.Name && f > 0 && j.fits(r) {
			j.p.seen[i] = r.value / f // the rectifier's volts follow it
		}
	}
	if s.kind == gapReading && s.after != "" && s.after == witness {
		j.witness = witness
	}
	j.verdict(s, r, a.Reason)
	if s.kind == liveReading && s.after == witness && j.done[s.ID] {
		j.witness = s.ID
	}
	return nil
}

// How far past its limits the mains may read before it is other mains than the
// hookup is made for: a little above the high one, where the flux was judged; a
// tenth below the low one, where nothing suffers [1].
const (
	aboveHigh = 1.02
	belowLow  = 0.9
)

// wrongSocket stops the proof where the socket reads what the hookup is not
// made for: every reading would come out as foreseen at those volts.
func (j *judge) wrongSocket(s *step, volts float64) bool {
	f := &j.p.hookup.Feed[0]
	low, high := f.At(yokemate.Low), f.At(yokemate.High)
	if volts <= aboveHigh*high && volts >= belowLow*low {
		return false
	}
	j.p.mains = f.Volts.V
	j.p.mainU = math.Max(f.Volts.U, (high-low)/(2*1.96))
	v := yokemate.Verdict{Step: s.ID, Verdict: "stop", Right: j.right(), Slips: []yokemate.Probability{},
		Words: fmt.Sprintf("Unplug. The socket reads %s, and this hookup is for %s to %s: it is another mains, or the meter is wrong.", si.Format(volts, "V", 3), si.Format(low, "V", 3), si.Format(high, "V", 3))}
	j.state, j.stop = yokemate.ProofStopped, s.ID
	j.verdicts = append(j.verdicts, v)
	return true
}

// unsure passes an optional step as not proven, and leaves any other open.
func (j *judge) unsure(s *step) {
	v := yokemate.Verdict{Step: s.ID, Verdict: "unsure", Right: j.right(), Slips: []yokemate.Probability{}}
	if s.optional {
		j.done[s.ID] = true
		v.Words = "Not read, so not proven. The record says so."
		j.notes = append(j.notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.ID, Words: notRead(s)})
	} else {
		j.ask = s.ID
		v.Words = "Read it again when you can: clips on with the power off, then power, then hands off."
	}
	j.verdicts = append(j.verdicts, v)
}

// notRead says what is not proven when an optional step was passed.
func notRead(s *step) string {
	m := s.Measure
	switch {
	case m.Quantity == yokemate.Megohms && strings.HasPrefix(s.ID, "isolation-"):
		return fmt.Sprintf("the insulation between output %s and the mains was not read", strings.TrimPrefix(s.ID, "isolation-"))
	case m.Quantity == yokemate.Megohms:
		return fmt.Sprintf("the insulation of %s between its mains side and the rest was not read", strings.TrimPrefix(s.ID, "insulation-"))
	case m.Quantity == yokemate.Watts:
		return fmt.Sprintf("the idle watts of %s were not read", strings.TrimPrefix(s.ID, "watts-"))
	}
	return "step " + s.ID + " was not read"
}

func firstSentence(s string) string {
	if i := strings.Index(s, ". "); i > 0 {
		return s[:i+1]
	}
	return s
}

// bondOhms is the most that an earth bond may have beside the meter's leads
// (common practice) [Ω].
const bondOhms = 0.1

// bond judges an earth bond by the limit of practice, and says where the
// meter is too coarse to tell.
func (j *judge) bond(s *step, r reading) {
	v := yokemate.Verdict{Step: s.ID, Right: j.right(), Slips: []yokemate.Probability{}}
	coarse := 0.0
	if acc, ok := j.p.meter.On(yokemate.Ohms, bondOhms); ok {
		coarse = math.Sqrt(3) * acc.Fixed
	}
	switch {
	case !r.over && r.value <= bondOhms+r.res/2:
		v.Verdict, v.Words = "go", "The bond is good."
		if coarse > bondOhms {
			v.Words = fmt.Sprintf("The bond reads good, on a range good to %.1g Ω: to tell %.1g Ω for certain, pass 1 A and read millivolts.", coarse, bondOhms)
		}
		j.done[s.ID] = true
	case !r.over && r.value <= bondOhms+coarse:
		v.Verdict, v.Words = "go", fmt.Sprintf("Nearly nothing, and the range is too coarse to tell %.1g Ω. Not proven: pass 1 A and read millivolts.", bondOhms)
		j.notes = append(j.notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.ID, Words: fmt.Sprintf("the earth bond read %.2g Ω on a range good to %.1g Ω", r.value, coarse)})
		j.done[s.ID] = true
	default:
		v.Verdict, v.Words = "change", fmt.Sprintf("The core is not bonded to earth: more than %.1g Ω. Clean the metal, tighten the lug, then read again.", bondOhms)
		j.ask = s.ID
	}
	j.verdicts = append(j.verdicts, v)
}

// mostMegohms is the most that an insulation tester of 500 V shows, about 20 GΩ:
// above it the ohms were written and not the megohms, and half a megohm would pass
// for good.
const mostMegohms = 20e3

// insulation judges a megohm reading by the limits of practice.
func (j *judge) insulation(s *step, r reading) {
	v := yokemate.Verdict{Step: s.ID, Right: j.right(), Slips: []yokemate.Probability{}}
	switch {
	case !r.over && r.value > mostMegohms:
		v.Verdict, v.Words = "unsure", fmt.Sprintf("%s MΩ is more than a tester shows. Write megohms, 0.5 for 500 kΩ, or over where it reads over.", r.digits)
		j.ask = s.ID
	case r.over || r.value >= 100 || strings.HasPrefix(s.ID, "isolation") && r.value >= 2:
		v.Verdict, v.Words = "go", "Good insulation."
		j.done[s.ID] = true
	case r.value >= 2:
		v.Verdict, v.Words = "go", "Between 2 and 100 MΩ: dry it and repeat before it is trusted. Not proven."
		j.notes = append(j.notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.ID, Words: fmt.Sprintf("insulation read %.3g MΩ, which is low", r.value)})
		j.done[s.ID] = true
	default:
		v.Verdict, v.Words = "stop", fmt.Sprintf("%.3g MΩ is a reject: under 2 MΩ the insulation is not there. Do not energise it.", r.value)
		j.state, j.stop = yokemate.ProofStopped, s.ID
	}
	j.verdicts = append(j.verdicts, v)
}

// changed forgets the readings that spoke of the wiring before a lead moved.
func (j *judge) changed(code string) error {
	var slip *world
	for i := range j.p.worlds {
		if w := &j.p.worlds[i]; w.code == code && w.kind != allRight && w.kind != unknown {
			slip = w
			break
		}
	}
	if slip == nil {
		return yokemate.Errorf(yokemate.Invalid, "", "no lead is named by %q", code).Mend("write the slip that was mended, such as \"reversed:T2/A\"")
	}
	right := &j.p.worlds[0]
	reopened := map[*step]bool{}
	for _, s := range j.p.steps {
		if s.Measure == nil || strings.HasPrefix(s.ID, "insulation-") {
			continue // a lead that moves leaves the unit's insulation as it was
		}
		touched := slip.reopens(&s.Step)
		for i := range j.p.worlds {
			if w := &j.p.worlds[i]; !touched && w.code == code && (!s.kind.byLimit() || s.kind == earthBond) {
				touched = !alike(j.p.forecast(s, w), j.p.forecast(s, right))
			}
		}
		if touched {
			reopened[s] = true
			j.done[s.ID] = false
		}
	}
	j.readings = slices.DeleteFunc(j.readings, func(r reading) bool { return reopened[r.step] })
	j.ask, j.witness = "", ""
	j.state, j.barred = yokemate.ProofOpen, false
	return nil
}

// posterior is the probability of every world given the readings.
func (j *judge) posterior() []float64 {
	p := j.p
	logs := make([]float64, len(p.worlds))
	top := math.Inf(-1)
	for i := range p.worlds {
		logs[i] = math.Log(p.worlds[i].prior) + j.likelihood(i)
		top = math.Max(top, logs[i])
	}
	sum := 0.0
	for i := range logs {
		logs[i] = math.Exp(logs[i] - top)
		sum += logs[i]
	}
	for i := range logs {
		logs[i] /= sum
	}
	return logs
}

func (j *judge) right() float64 { return j.posterior()[0] }

// likelihood is the log probability of the readings in world i: jointly normal
// where predictions are, each by its own density elsewhere.
func (j *judge) likelihood(i int) float64 {
	total := 0.0
	var normal []*reading
	for k := range j.readings {
		r := &j.readings[k]
		f := r.f[i]
		switch {
		case j.p.worlds[i].kind == unknown:
			total += math.Log(unknownMass(r))
		case r.over != f.dist.IsOpen():
			total += math.Log(massNumber)
		case r.neg != f.neg && r.value > signFloor && f.dist.Value > signFloor:
			total += math.Log(massNumber)
		case r.over:
			total += math.Log(massOver)
		case f.dist.Sources == nil:
			total += math.Log(f.dist.Density(r.value, r.res)*r.res + 1e-30)
		default:
			normal = append(normal, r)
		}
	}
	n := len(normal)
	if n == 0 {
		return total
	}
	cov := mat.NewSymDense(n, nil)
	diff := mat.NewVecDense(n, nil)
	for a, r := range normal {
		f := r.f[i]
		diff.SetVec(a, r.value-f.dist.Value)
		own := math.Pow(f.dist.Fixed(), 2)/3 + r.res*r.res/12
		if r.mainU > 0 {
			own += math.Pow(f.feed*drift*r.mains/r.mainU, 2)
		}
		own += math.Pow(j.between(i, r), 2)
		// Rounding of the model itself keeps the covariance regular.
		own += math.Pow(1e-4*f.dist.Value, 2)
		for b, q := range normal[:a+1] {
			c := shared(f, q.f[i])
			if a == b {
				c += own
			}
			cov.SetSym(a, b, c)
		}
		total += math.Log(r.res)
	}
	var ch mat.Cholesky
	if !ch.Factorize(cov) {
		return math.Inf(-1)
	}
	var x mat.VecDense
	if err := ch.SolveVecTo(&x, diff); err != nil {
		return math.Inf(-1)
	}
	return total - (mat.Dot(diff, &x)+ch.LogDet()+float64(n)*math.Log(2*math.Pi))/2
}

// shared is the covariance of two readings of one world through the sources
// they share.
func shared(a, b *forecast) float64 {
	if a == b {
		s := 0.0
		for _, m := range a.dist.Moves {
			s += m * m
		}
		return s
	}
	s := 0.0
	for i, name := range a.dist.Sources {
		for k, other := range b.dist.Sources {
			if name == other {
				s += a.dist.Moves[i] * b.dist.Moves[k]
				break
			}
		}
	}
	return s
}

// between is the spread that stands for parts of shorted turns between the
// ones that were worked out: half the step to the neighbour.
func (j *judge) between(i int, r *reading) float64 {
	w := &j.p.worlds[i]
	if w.kind != shorted {
		return 0
	}
	for k, o := range j.p.worlds {
		if o.kind == shorted && o.unit == w.unit && o.wind == w.wind && neighbours(o.part, w.part) {
			return math.Abs(r.f[k].dist.Value-r.f[i].dist.Value) / 3
		}
	}
	return 0
}

func neighbours(a, b float64) bool {
	i, k := slices.Index(shortedParts, a), slices.Index(shortedParts, b)
	return i == k+1 || k == len(shortedParts)-1 && i == k-1
}

// explains reports whether a slip accounts for a reading at all: not so much
// worse than a cause that nobody thought of. The unknown cause stands for all
// readings alike, so that good ones before it leave it far behind, and the
// least bad of the slips would be blamed for whatever a slipped probe shows.
func (j *judge) explains(i int, r reading) bool {
	alone := judge{p: j.p, readings: []reading{r}}
	return alone.likelihood(i) >= math.Log(leastExplains*unknownMass(&r))
}

// unknownMass is the probability that an unknown cause gives this reading:
// as likely in every decade, and "over" one time in ten.
func unknownMass(r *reading) float64 {
	if r.over {
		return 0.1
	}
	floor := math.Max(r.res, 1e-9)
	return 0.9 * r.res / (math.Max(r.value, floor) * math.Log(unknownRange))
}

// class is slips that no reading so far can tell apart.
type class struct {
	worlds []int
	p      float64
}

// classes groups the worlds by code, then by what all readings so far
// predict of them.
func (j *judge) classes(post []float64) []class {
	var list []class
	byKey := map[string]int{}
	best := map[string]int{} // the likeliest guise of each code
	sum := map[string]float64{}
	var order []string
	for i, w := range j.p.worlds {
		if w.kind == allRight {
			continue
		}
		if _, ok := best[w.code]; !ok {
			order = append(order, w.code)
			best[w.code] = i
		}
		if post[i] > post[best[w.code]] {
			best[w.code] = i
		}
		sum[w.code] += post[i]
	}
	for _, code := range order {
		i := best[code]
		key := "unknown"
		if j.p.worlds[i].kind != unknown {
			key = j.signature(i)
		}
		if at, ok := byKey[key]; ok {
			list[at].worlds = append(list[at].worlds, i)
			list[at].p += sum[code]
			continue
		}
		byKey[key] = len(list)
		list = append(list, class{[]int{i}, sum[code]})
	}
	for i := range list {
		// Of slips that read the same, a lead away from the mains is named
		// first: mending that one is the safer thing to try.
		w := list[i].worlds
		sort.SliceStable(w, func(a, b int) bool { return !j.p.onMains(w[a]) && j.p.onMains(w[b]) })
	}
	sort.SliceStable(list, func(a, b int) bool { return list[a].p > list[b].p })
	return list
}

// onMains reports whether mending world i moves a lead of the mains side.
func (p *Plan) onMains(i int) bool {
	w := &p.worlds[i]
	if w.rect != nil {
		return false
	}
	u, err := p.facts.Unit(w.unit)
	if err != nil {
		return true // of no unit: the fuse
	}
	return slices.ContainsFunc(w.touch, func(pin string) bool {
		_, name, _ := yokemate.SplitPin(pin)
		return sideOf(u, name)
	})
}

// signature says what world i predicts of every reading so far, to a
// fraction of what the meter can tell.
func (j *judge) signature(i int) string {
	var b strings.Builder
	for k := range j.readings {
		f := j.readings[k].f[i]
		if f.dist.IsOpen() {
			b.WriteString("over;")
			continue
		}
		grain := math.Max(f.dist.Fixed(), j.readings[k].res) + 0.01*f.dist.Value
		fmt.Fprintf(&b, "%d;", int(math.Round(f.dist.Value/math.Max(grain, 1e-12))))
	}
	return b.String()
}

// verdict says what the readings up to r mean for step s.
func (j *judge) verdict(s *step, r reading, reason string) {
	post := j.posterior()
	right := post[0]
	classes := j.classes(post)
	v := yokemate.Verdict{Step: s.ID, Right: right, Slips: []yokemate.Probability{}}
	for _, c := range classes {
		if c.p < 1e-6 || len(v.Slips) == 6 {
			break
		}
		w := &j.p.worlds[c.worlds[0]]
		pr := yokemate.Probability{Code: w.code, Words: w.words, Probability: c.p}
		for _, i := range c.worlds[1:] {
			pr.Same = append(pr.Same, j.p.worlds[i].code)
		}
		v.Slips = append(v.Slips, pr)
	}
	var top *world
	topP := 0.0
	if len(classes) > 0 {
		top, topP = &j.p.worlds[classes[0].worlds[0]], classes[0].p
	}
	quantity := s.Measure.Quantity
	fits := j.fits(r)
	if top != nil && top.kind != unknown && topP > right && !slices.ContainsFunc(classes[0].worlds, func(i int) bool { return j.explains(i, r) }) {
		top = &j.p.worlds[slices.IndexFunc(j.p.worlds, func(w world) bool { return w.kind == unknown })]
	}
	switch {
	case s.kind == gapReading:
		j.gap(s, r, post, right, top, topP, &v)
	case j.notTold(r, post) >= goRight && fits:
		v.Verdict = "go"
		v.Words = fmt.Sprintf("As it should be: right is %s.", span(rightOf(j.p, s), quantity))
		if s.kind == branchAmps {
			j.branch(s, r, &v)
		}
	case top.kind == unknown && topP >= right:
		v.Verdict = "stop"
		v.Words = fmt.Sprintf("This fits nothing on the list: right is %s. Power off. Check the meter's range and sockets and where the probes are, read it again; if it stays, set the unit aside.", span(rightOf(j.p, s), quantity))
	case fits && topP < sureChange:
		// What reads right may still be right: no lead is moved on less.
		v.Verdict = "unsure"
		v.Words = j.tells(post)
	case topP >= changeAt && top.kind == shorted:
		v.Verdict = "stop"
		v.Words = upper(top.words) + ". Do not use this unit; power off and set it aside."
	case topP >= changeAt:
		v.Verdict, v.Changed = "change", top.code
		v.Words = "Power off. " + upper(top.words) + ". " + upper(codeWords(top.code)) + ", then read again."
		switch n := len(classes[0].worlds) - 1; {
		case n == 1:
			v.Words += " Another slip reads the same; see the list."
		case n > 1:
			v.Words += fmt.Sprintf(" %d other slips read the same; see the list.", n)
		}
	default:
		v.Verdict = "unsure"
		v.Words = j.tells(post)
	}
	if v.Verdict == "stop" && fits && strings.TrimSpace(reason) == "" {
		if x := j.against(r); x != nil {
			v.Words = fmt.Sprintf("By itself this reads as it should: right is %s. The reading of step %s, which was overruled, speaks against it. Power off, and join nothing.", span(rightOf(j.p, s), quantity), x.ID)
			if j.reasons[x.ID] == 1 {
				// Once, that one is asked for again; insisted on, it stands, and this is a stop.
				v.Verdict = "unsure"
				v.Words += fmt.Sprintf(" Read step %s again, then this one.", x.ID)
				j.settle(s, &v, reason)
				j.ask = x.ID
				return
			}
		}
	}
	if first := j.unproved(s); first != nil && (v.Verdict == "go" || v.Verdict == "unsure") {
		// A gap says nothing while a joint behind it is not proved: a ghost on
		// an open joint can look like a right one.
		v.Verdict, v.Changed = "unsure", ""
		v.Words = fmt.Sprintf("Step %s comes first: with a joint open behind it a gap can read anything, even this. Prove that joint, then read the gap again.", first.ID)
		j.settle(s, &v, reason)
		j.ask = first.ID
		return
	}
	if v.Verdict == "go" && s.kind == gapReading && s.after != j.witness {
		chain := j.p.chain(s)
		first := chain[0]
		v.Verdict = "unsure"
		v.Words = fmt.Sprintf("About nothing is right, and is also what a pulled plug, an open lead or a probe off its pin reads. Take the live readings from step %s on, and the gap right after them.", first.ID)
		j.settle(s, &v, reason)
		// The live readings are to be taken again, all of them.
		for _, t := range chain {
			j.done[t.ID] = false
		}
		j.readings = slices.DeleteFunc(j.readings, func(r reading) bool { return r.step != s && slices.Contains(chain, r.step) })
		j.ask = first.ID
		return
	}
	j.settle(s, &v, reason)
}

// against is the step of an overruled reading that alone keeps r, which fits,
// from being right; nil where there is none. What was overruled keeps all its
// weight: it may be true.
func (j *judge) against(r reading) *step {
	var first *step
	all := j.readings
	defer func() { j.readings = all }()
	j.readings = nil
	for _, q := range all {
		switch {
		case !q.overruled || q.step == r.step:
			j.readings = append(j.readings, q)
		case first == nil:
			first = q.step
		}
	}
	if first == nil || j.notTold(r, j.posterior()) < goRight {
		return nil
	}
	if j.readings = all; j.notTold(r, j.posterior()) >= goRight {
		return nil // it is right in spite of it: something else is the matter
	}
	return first
}

// unproved is the first joint before a gap whose ohms were not read good; nil
// where there is none, or where s is no gap.
func (j *judge) unproved(s *step) *step {
	if s.kind != gapReading {
		return nil
	}
	for _, t := range j.p.steps {
		if t == s {
			break
		}
		if t.kind == continuity && !j.done[t.ID] {
			return t
		}
	}
	return nil
}

// notTold sums right and the worlds that this step cannot tell from it: the
// steps that can are still to come.
func (j *judge) notTold(r reading, post []float64) float64 {
	sum := 0.0
	for i := range post {
		if i == 0 || j.p.worlds[i].kind != unknown && alike(r.f[i], r.f[0]) {
			sum += post[i]
		}
	}
	return sum
}

// settle draws the consequences of a verdict.
func (j *judge) settle(s *step, v *yokemate.Verdict, reason string) {
	switch v.Verdict {
	case "go":
		j.done[s.ID] = true
		j.clear()
	case "stop":
		if strings.TrimSpace(reason) != "" && s.kind != gapReading {
			j.done[s.ID] = true
			j.reasons[s.ID]++
			for k := range j.readings {
				if j.readings[k].step == s {
					j.readings[k].overruled = true
				}
			}
			v.Words += " Overruled: " + strings.TrimSpace(reason)
			j.notes = append(j.notes, yokemate.Note{Code: yokemate.NotProven, Level: yokemate.Caution, About: s.ID, Words: "a stop was overruled: " + strings.TrimSpace(reason)})
			break
		}
		j.state, j.stop = yokemate.ProofStopped, s.ID
	case "unsure":
		j.ask = s.ID
		if id := j.mostTelling(j.posterior()); id != "" && s.kind != gapReading {
			j.ask = id
		}
	default:
		j.ask = s.ID
	}
	j.verdicts = append(j.verdicts, *v)
}

// clear passes the steps that were read and left unsure, where what was read
// since has settled them. A gap is never passed but by its own verdict.
func (j *judge) clear() {
	post := j.posterior()
	for _, r := range j.readings {
		if r.step.kind != gapReading && !j.done[r.step.ID] && j.notTold(r, post) >= goRight && j.fits(r) {
			j.done[r.step.ID] = true
		}
	}
}

func rightOf(p *Plan, s *step) *yokemate.Interval {
	f := p.forecast(s, &p.worlds[0])
	if f.dist.IsOpen() {
		return nil
	}
	v := f.dist.Interval()
	return &v
}

// fits reports whether the reading is one that right may give at all.
func (j *judge) fits(r reading) bool {
	f := r.f[0]
	if r.over || f.dist.IsOpen() {
		return r.over == f.dist.IsOpen()
	}
	if r.neg != f.neg && r.value > signFloor {
		return false
	}
	v := f.dist.Interval()
	// Twice the 95 % interval either way, some four standard uncertainties.
	slack := 2*(v.High-v.Value) + r.res
	return r.value <= v.Value+slack && r.value >= lowestFit(f.dist)-r.res
}

// lowestFit is the least that a reading may be and still fit a forecast.
func lowestFit(d predict.Dist) float64 {
	v := d.Interval()
	return v.Value - 2*(v.Value-v.Low)
}

// gap decides whether a gap may be closed.
func (j *judge) gap(s *step, r reading, post []float64, right float64, top *world, topP float64, v *yokemate.Verdict) {
	p := j.p
	limits := p.limits.Filled()
	most, few := limits.CirculatingStop, limits.CirculatingGo
	if s.feeds {
		// The current is what the driven unit takes: its windings' ratings bound it.
		most, few = 1, 1
	}
	// What the measured gap itself drives, at its worst bound over the lowest
	// plausible impedance: true whatever the cause.
	bound := p.worst(s, r)
	perVolt := j.perVolt(s)
	grows := p.grows(s) // at full mains the gap grows with the feed
	share := bound * grows * perVolt
	if x, ok := j.differ(s, r); ok && share <= 1 {
		// The idle current, which the coils share, does not circulate.
		share = x * grows * perVolt
	} else {
		share += s.hidden
	}
	danger := 0.0
	for i := range p.worlds {
		w := &p.worlds[i]
		switch {
		case w.kind == allRight:
		case w.kind == unknown:
			// An unknown cause is bounded by the measured gap alone.
			if share > most {
				danger += post[i]
			}
		case post[i] > 1e-9 && p.closing(s, w).share > most:
			danger += post[i]
		}
	}
	percent := func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
	switch {
	case danger < dangerous && share <= most && right+harmless(p, s, post, most) >= 1-dangerous && j.fits(r):
		v.Verdict = "go"
		v.Words = fmt.Sprintf("Like ends. Closed, at most %s of the smaller rating circulates. Power off, join it.", percent(share))
		if share > few {
			v.Words = fmt.Sprintf("Like ends, unequal volts: closed, up to %s of the smaller rating circulates. It may be joined, derated to what the sharing allows; measure the current of each branch. Power off, join it.", percent(share))
		}
	case right >= topP && share > most && r.value*grows*perVolt <= most && bound > 2*r.value && j.fits(r):
		v.Verdict = "unsure"
		v.Words = fmt.Sprintf("Do not close it yet. As it reads it may be right, but the range is too coarse to tell: between its digits hides what would drive %s of the smaller rating. Read it again on a lower range.", percent(share))
	case right >= topP && share > most && j.fits(r) && s.trial && r.f[0].dist.Value*grows*perVolt > most:
		// A coil that takes much idle current leaves a gap between like coils too.
		v.Verdict = "stop"
		v.Words = fmt.Sprintf("The leads are like ends. But this gap also holds what the idle current drops in the coil that is fed, and cannot show that no more than %s of the smaller rating would circulate: it might be %s. Do not join them. One of the coils alone gives the same volts at half the power; both in series want twice the mains.", percent(most), percent(share))
	case right >= topP && share > most && j.fits(r):
		v.Verdict = "stop"
		v.Words = fmt.Sprintf("The leads are right, and the volts differ too much: closed, up to %s of the smaller rating could circulate with nothing drawn, and %s is the most. Do not join them.", percent(share), percent(most))
	case top.kind == unknown && topP >= right || !j.fits(r) && topP < changeAt:
		v.Verdict = "stop"
		v.Words = "This gap fits nothing on the list: not like ends, not reversed, not unpowered. Do not close it. Power off and read it again; if it stays, take the joint apart and prove each unit alone once more."
	case topP >= changeAt && top.kind == shorted:
		v.Verdict = "stop"
		v.Words = upper(top.words) + ". Do not close the gap; set the unit aside."
	case topP >= changeAt:
		v.Verdict, v.Changed = "change", top.code
		v.Words = "Do not close it. Power off. " + upper(top.words) + ". " + upper(codeWords(top.code)) + ", then read again."
		if c := p.closing(s, top).c; c != nil && c.WindingAmps > 0 {
			v.Words += fmt.Sprintf(" Closed on this, %s would flow in %s and %s from the mains; the fuse opens: %s.", si.Format(c.WindingAmps, "A", 2), c.Winding, si.Format(c.FeedAmps, "A", 2), c.FuseOpens)
		}
	default:
		v.Verdict = "unsure"
		v.Words = "Not sure enough to close it. " + j.tells(post)
	}
}

// harmless sums the worlds in which closing this gap hurts nothing: they
// are found out later, by the steps made for them.
func harmless(p *Plan, s *step, post []float64, most float64) float64 {
	sum := 0.0
	for i := range p.worlds {
		w := &p.worlds[i]
		if w.kind == allRight || w.kind == unknown || post[i] < 1e-9 {
			continue
		}
		if p.closing(s, w).share <= most {
			sum += post[i]
		}
	}
	return sum
}

// perVolt is the share of the smallest rating that one volt across the gap
// drives when it is closed, with the lowest plausible impedance: a tenth
// under the network's (meter and copper together). A loop's impedance is
// found where the gap is widest and so tells most clearly: with one of its own
// windings reversed, which changes the gap and not the loop.
func (j *judge) perVolt(s *step) float64 {
	p := j.p
	volts, share := 0.0, math.Inf(1)
	for i := range p.worlds {
		w := &p.worlds[i]
		if w.kind != allRight && !strings.HasPrefix(w.code, "reversed:") {
			continue
		}
		f := p.forecast(s, w)
		if c := p.closing(s, w); f.err == nil && f.dist.Value > volts && !math.IsInf(c.share, 1) {
			volts, share = f.dist.Value, c.share
		}
	}
	if volts == 0 {
		return math.Inf(1)
	}
	return share / volts / 0.9
}

// tells names the reading that would tell most between what is still open:
// the step whose predictions part the probable worlds furthest.
func (j *judge) tells(post []float64) string {
	id := j.mostTelling(post)
	if id == "" {
		return "Read it again."
	}
	return fmt.Sprintf("The next reading that tells most is step %s: %s", id, firstSentence(j.p.step(id).Do))
}

func (j *judge) mostTelling(post []float64) string {
	best, at := 0.0, ""
	var open []int
	for i := range post {
		if post[i] > 1e-3 && j.p.worlds[i].kind != unknown {
			open = append(open, i)
		}
	}
	pending, undone := false, false
	for _, s := range j.p.steps {
		if s.Measure == nil && !j.done[s.ID] {
			break
		}
		if s.Measure == nil || s.kind.byLimit() {
			continue
		}
		if s.barred != "" || s.kind == gapReading && pending || undone && draws(&s.State) {
			break // a gap says nothing while something before it is not proved
		}
		pending = pending || !j.done[s.ID] && s.kind == continuity
		undone = undone || !j.done[s.ID]
		if slices.ContainsFunc(j.readings, func(r reading) bool { return r.step == s }) {
			continue // read once already: it tells little that is new
		}
		gain := 0.0
		for x, a := range open {
			for _, b := range open[x+1:] {
				fa, fb := j.p.forecast(s, &j.p.worlds[a]), j.p.forecast(s, &j.p.worlds[b])
				if fa.key != fb.key {
					gain += post[a] * post[b] * apart(fa, fb)
				}
			}
		}
		if gain > best*1.001 {
			best, at = gain, s.ID
		}
		if !j.done[s.ID] && (s.kind == gapReading || lit(&s.State)) {
			break // nothing beyond a gap that is not proved, nor what has not been through the lamp
		}
	}
	return at
}

// lit reports whether a state is powered through a lamp.
func lit(h *yokemate.Hookup) bool {
	return powered(h) && slices.ContainsFunc(h.Feed, func(f yokemate.Feed) bool { return f.Lamp != nil })
}

// draws reports whether a load hangs on a state.
func draws(h *yokemate.Hookup) bool {
	return slices.ContainsFunc(h.Outputs, func(o yokemate.Output) bool { return o.Load != nil || o.DC != nil && o.DC.Amps > 0 })
}

// apart is one less the overlap of two forecasts (Bhattacharyya), as if normal.
func apart(a, b *forecast) float64 {
	if a.dist.IsOpen() != b.dist.IsOpen() {
		return 1
	}
	if a.dist.IsOpen() {
		return 0
	}
	ia, ib := a.dist.Interval(), b.dist.Interval()
	sa, sb := math.Max((ia.High-ia.Low)/3.92, 1e-9), math.Max((ib.High-ib.Low)/3.92, 1e-9)
	d := ia.Value - ib.Value
	return 1 - math.Sqrt(2*sa*sb/(sa*sa+sb*sb))*math.Exp(-d*d/(4*(sa*sa+sb*sb)))
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// Cautions are the ones that go with every plan.
func Cautions() []string {
	return []string{
		"Mains can kill. Work only as local codes allow; what they keep for licensed people is theirs. These pages decide nothing for them.",
		"Power off, plug in sight, capacitors discharged, before a lead moves. Clips on dead, then power, then hands off.",
		"One hand, dry floor, no rings, never alone. Another person knows the switch.",
		"A residual-current device in the supply: it guards against a shock to earth, not against one between two output wires.",
		"First power always through a filament lamp or a resistor, never an LED lamp.",
		"Bond every core and all bare metal to earth. Keep mains and output wiring apart.",
		"A fuse for each unit; it guards against fire, not against every overload. Keep the thermal links.",
		"Smell, smoke, hum that grows, or a case too hot for ten seconds of a hand: power off.",
	}
}
