package unit

import (
	"cmp"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"yokemate"
	"yokemate/identify"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/si"
)

// Asking is the page that finds a unit out: one reading a screen.
type Asking struct {
	Tag, Link  string
	Trouble    kit.Trouble
	Typed      Asked
	N          int // readings that count, and this one
	Count      int // of all readings: a form that was sent twice is known by it
	Drawing    template.HTML
	Over       bool
	Turn       string // the link that turns it over, or back
	Gravest    []yokemate.Note
	Notes      []yokemate.Note
	Sitting    *Sat
	AskSitting bool
	Next       *Next
	Mend       *Mend
	Certain    bool
	Done       *Done
	Runs       []Run
	Loose      string // pins of which nothing is known yet
	Open       []string
	More       []Choice // what else may be read
	Late       []Taken
	Earlier    []Taken
	Photos     []Overlay
	Hidden     []Choice // what the forms carry on
}

// Asked is what was typed.
type Asked struct{ Value, Source, Leads, Celsius, Volts, Hertz string }

// Sat says what the sitting goes by.
type Sat struct {
	Leads, Celsius string // empty: not told
	Change         string // the link that asks again
}

// Run is a winding as far as it is known.
type Run struct {
	Name, Pins string
	Sure       string // in words
	Certain    bool
	Facts      string
}

// Taken is a reading that was taken.
type Taken struct {
	ID, Words, Shown string
	Mend             string // the link that corrects it
}

// Mend is a reading that is to be corrected.
type Mend struct {
	ID, Words, Shown string
	Unit             string
	Source           bool
	Ohms             bool
	Back             string
}

// Done is what may be put on the shelf.
type Done struct {
	Volts, Hertz string   // of the label, where it has them
	Sides        []Choice // windings the label's volts may stand on
}

// asking is one request's view of a unit.
type asking struct {
	u       *yokemate.Unit
	shelf   *yokemate.Shelf
	bench   *yokemate.Bench
	sitting *yokemate.Sitting
	skip    []string
	want    []string
	over    bool
	found   *yokemate.Identification
}

// wants are what may be read beyond the usual.
var wants = []struct {
	ask   identify.Ask
	words string
}{
	{identify.Insulation, "Read the insulation too, with a 500 V tester"},
	{identify.Excitation, "Read the idle current too"},
}

// ask gathers everything and has the readings judged.
func (p *pages) ask(r *http.Request) (*asking, error) {
	a := &asking{over: r.FormValue("side") == "over"} // reads the form
	a.skip = r.Form["skip"]
	for _, w := range wants {
		if slices.Contains(r.Form["want"], string(w.ask)) {
			a.want = append(a.want, string(w.ask))
		}
	}
	var err error
	if a.u, a.shelf, err = p.unit(r); err != nil {
		return nil, err
	}
	if a.bench, err = p.kit.Store.Bench(r.Context()); err != nil {
		return nil, err
	}
	if a.sitting, err = p.kit.Store.Sitting(r.Context()); err != nil {
		return nil, err
	}
	a.found, err = identify.Identify(a.u, a.shelf.Meters, options(a.bench, a.skip, a.want))
	return a, err
}

// options are what is asked at this bench.
func options(b *yokemate.Bench, skip, want []string) identify.Options {
	o := identify.Options{Skip: skip}
	if len(want) > 0 {
		o.Want = []identify.Ask{identify.Windings, identify.Dots, identify.Ohms, identify.Volts}
		for _, w := range want {
			o.Want = append(o.Want, identify.Ask(w))
		}
	}
	if b != nil {
		o.SourceVolts, o.Hertz, o.NoMillivolts = b.SourceVolts, b.Hertz, b.NoAmpere
	}
	return o
}

// at is the address of the page with what it carries on, and something changed.
func (a *asking) at(change func(url.Values)) string {
	q := url.Values{}
	for _, s := range a.skip {
		q.Add("skip", s)
	}
	for _, w := range a.want {
		q.Add("want", w)
	}
	if a.over {
		q.Set("side", "over")
	}
	if change != nil {
		change(q)
	}
	to := link(a.u.Tag) + "/identify"
	if len(q) > 0 {
		to += "?" + q.Encode()
	}
	return to
}

// asked shows the page.
func (p *pages) asked(w http.ResponseWriter, r *http.Request) error {
	a, err := p.ask(r)
	if err != nil {
		return err
	}
	return p.drawAsking(w, r, http.StatusOK, a, Asking{})
}

// refuse shows the page again with why it was not taken.
func (p *pages) refuse(w http.ResponseWriter, r *http.Request, a *asking, t Asked, why error) error {
	x := Asking{Typed: t}
	var err error
	if x.Trouble, err = p.kit.Trouble(why); err != nil {
		return err
	}
	return p.drawAsking(w, r, kit.Status(why), a, x)
}

func (p *pages) drawAsking(w http.ResponseWriter, r *http.Request, status int, a *asking, x Asking) error {
	u, f := a.u, a.found
	x.Tag, x.Link, x.Over = u.Tag, link(u.Tag), a.over
	x.Turn = a.at(func(q url.Values) {
		if a.over {
			q.Del("side")
		} else {
			q.Set("side", "over")
		}
	})
	for _, h := range []struct {
		name string
		list []string
	}{{"skip", a.skip}, {"want", a.want}} {
		for _, v := range h.list {
			x.Hidden = append(x.Hidden, Choice{h.name, v})
		}
	}
	if a.over {
		x.Hidden = append(x.Hidden, Choice{"side", "over"})
	}
	live := standing(u)
	x.Count, x.N = len(u.Readings), len(live)+1
	for _, n := range say.Graver(f.Notes) {
		if n.Level == yokemate.Stop || n.Level == yokemate.Caution {
			x.Gravest = append(x.Gravest, n)
		} else {
			x.Notes = append(x.Notes, n)
		}
	}
	x.Sitting = a.sat()
	var o figure.PinOptions
	switch mend := standingReading(live, r.FormValue("correct")); {
	case mend != nil:
		x.Mend = a.mend(mend)
		o = putTo(mend.From, mend.To, mend.Joined, mend.Excited)
	case f.Next != nil:
		x.AskSitting = r.FormValue("sitting") != "" || a.sitting == nil && copperOhms(f.Next.Quantity, f.Next.From, f.Next.To)
		x.Next = a.nextOf()
		o = putTo(f.Next.From, f.Next.To, f.Next.Joined, f.Next.Excited)
	case r.FormValue("sitting") != "":
		x.AskSitting = true
	}
	x.Certain = f.Certain
	if f.Shelf != nil && len(u.Readings) > 0 {
		x.Done = a.done()
		if x.Typed.Volts == "" && x.Typed.Hertz == "" {
			x.Typed.Volts, x.Typed.Hertz = x.Done.Volts, x.Done.Hertz
		}
	}
	sketch := a.sketch(&o)
	o.TurnedOver, o.Bare = a.over, true
	rows := figure.PinRows(u)
	o.Rows = rows
	scene, err := figure.Pins(sketch, o)
	if err != nil {
		return err
	}
	if x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "i-"}); err != nil {
		return err
	}
	x.Runs, x.Loose = a.runs()
	x.Open = alternatives(f)
	for _, m := range wants {
		if !slices.Contains(a.want, string(m.ask)) {
			x.More = append(x.More, Choice{a.at(func(q url.Values) { q.Add("want", string(m.ask)) }), m.words})
		}
	}
	for i, y := range slices.Backward(live) {
		t := a.taken(y)
		if len(live)-i <= 3 {
			x.Late = append(x.Late, t)
		} else {
			x.Earlier = append(x.Earlier, t)
		}
	}
	if x.Photos, err = p.showing(r, u.Tag, slices.Concat(o.Probes, o.Tied, o.Source), o.Probes); err != nil {
		return err
	}
	return p.Asking.Show(w, status, "Identify "+u.Tag, "shelf", x)
}

// copperOhms reports whether the ohms of the leads are in a reading.
func copperOhms(q yokemate.Quantity, from, to string) bool {
	return q == yokemate.Ohms && from != yokemate.CorePin && to != yokemate.CorePin
}

// standing are the readings that no later one has superseded.
func standing(u *yokemate.Unit) (live []*yokemate.Reading) {
	gone := map[string]bool{}
	for i := range u.Readings {
		gone[u.Readings[i].Supersedes] = true
	}
	for i := range u.Readings {
		if r := &u.Readings[i]; !gone[r.ID] {
			live = append(live, r)
		}
	}
	return live
}

func standingReading(live []*yokemate.Reading, id string) *yokemate.Reading {
	if i := slices.IndexFunc(live, func(r *yokemate.Reading) bool { return r.ID == id }); i >= 0 {
		return live[i]
	}
	return nil
}

// putTo says what a reading puts to which pins.
func putTo(from, to string, joined []string, e *yokemate.Excited) (o figure.PinOptions) {
	for _, p := range []string{from, to} {
		if p != "" && p != "feed" {
			o.Probes = append(o.Probes, p)
		}
	}
	o.Tied = joined
	if e != nil {
		for _, s := range e.Series {
			if a, b, ok := strings.Cut(s, ":"); ok {
				o.Source = append(o.Source, a, b)
			}
		}
	}
	return o
}

func (a *asking) sat() *Sat {
	s := &Sat{Change: a.at(func(q url.Values) { q.Set("sitting", "ask") })}
	if t := a.sitting; t != nil {
		switch {
		case t.LeadOhms == yokemate.ZeroedLeads:
			s.Leads = "0 Ω"
		case t.LeadOhms > 0:
			s.Leads = say.Plain(t.LeadOhms) + " Ω"
		}
		if t.Celsius != nil {
			s.Celsius = say.Plain(*t.Celsius) + " °C"
		}
		return s
	}
	return nil
}

// longText is from where on what is to be done is set smaller [byte].
const longText = 100

// nextOf is the wanted reading as the page shows it.
func (a *asking) nextOf() *Next {
	w := a.found.Next
	n := &Next{Key: identify.Key(w), Do: w.Do, Why: w.Why, Unit: w.Quantity.Unit(), Cautions: w.Cautions, Ohms: w.Quantity == yokemate.Ohms, Kick: w.Quantity == yokemate.Kick, Long: len(w.Do) > longText}
	if w.Excited != nil {
		n.Power = true
		if w.Quantity != yokemate.Kick {
			n.Source, n.SourceV = true, w.Excited.Volts.Digits
		}
	}
	n.Power = n.Power || w.Quantity == yokemate.Megohms || w.Quantity == yokemate.Millivolts
	for _, e := range w.Expect {
		text := say.Words{}.Chance(e.Probability) + ": " + e.Words
		if e.Reading != nil {
			text += ", " + say.Words{}.Within(e.Reading.Low, e.Reading.High, w.Quantity.Unit())
		}
		n.Expect = append(n.Expect, text)
	}
	return n
}

// said tells a reading in a line.
func said(r *yokemate.Reading) string {
	t := say.Words{}.Quantity(r.Quantity)
	if r.From == "feed" {
		t += " of the source"
	} else {
		t += ", " + r.From
		if r.To != "" {
			t += " to " + r.To
		}
	}
	if len(r.Joined) > 0 {
		t += ", " + strings.Join(r.Joined, " and ") + " tied"
	}
	if e := r.Excited; e != nil && len(e.Series) > 0 {
		t += ", source on " + strings.ReplaceAll(strings.Join(e.Series, ", "), ":", " and ")
		if e.Volts.Known() {
			t += " at " + say.Words{}.Fact(e.Volts, "V")
		}
	}
	return t
}

func shownAs(r *yokemate.Reading) string {
	if _, err := yokemate.Read(r.Value); err == nil {
		return strings.TrimSpace(r.Value + " " + r.Quantity.Unit())
	}
	return r.Value
}

func (a *asking) taken(r *yokemate.Reading) Taken {
	return Taken{ID: r.ID, Words: said(r), Shown: shownAs(r), Mend: a.at(func(q url.Values) { q.Set("correct", r.ID) }) + "#ask"}
}

func (a *asking) mend(r *yokemate.Reading) *Mend {
	return &Mend{ID: r.ID, Words: said(r), Shown: shownAs(r), Unit: r.Quantity.Unit(), Ohms: r.Quantity == yokemate.Ohms, Source: r.Excited != nil && r.Excited.Volts.Known(), Back: a.at(nil)}
}

// certain is the least probability of what is drawn solid and called certain.
const certain = 0.99

// likelihood says a probability in words.
func likelihood(p float64) string {
	switch {
	case p >= certain:
		return "certain"
	case p >= 0.9:
		return "very likely"
	case p >= 0.7:
		return "likely"
	case p >= 0.5:
		return "more likely than not"
	}
	return "open"
}

// sketch is the unit as far as it is known, for the drawing: what is certain
// solid, the rest dashed, start ends where they are certain.
func (a *asking) sketch(o *figure.PinOptions) *yokemate.Unit {
	u := &yokemate.Unit{Tag: a.u.Tag, Terminals: a.u.AllPins(), PinRows: a.u.PinRows}
	o.Guess = map[string]string{}
	f := a.found
	if named(f) {
		for _, w := range f.Windings {
			u.Windings = append(u.Windings, yokemate.Winding{ID: w.ID, Pins: w.Pins})
			if w.Probability < certain {
				o.Guess[w.ID] = likelihood(w.Probability)
			}
			if !dotSure(f, w.Wire) {
				o.NoDot = append(o.NoDot, w.ID)
			}
		}
		return u
	}
	if len(f.Wires) == 0 && len(a.u.Readings) == 0 { // nothing was read: what was given stands there, dashed
		for _, w := range a.u.Windings {
			u.Windings = append(u.Windings, yokemate.Winding{ID: w.ID, Pins: w.Pins})
			o.Guess[w.ID] = "given"
		}
	}
	for i, w := range f.Wires {
		for k := range len(w.Pins) - 1 {
			id := "w" + strconv.Itoa(i+1) + "-" + strconv.Itoa(k+1)
			u.Windings = append(u.Windings, yokemate.Winding{ID: id, Pins: [2]string{w.Pins[k], w.Pins[k+1]}})
			o.NoDot, o.NoName = append(o.NoDot, id), append(o.NoName, id)
			if w.Joined < certain || len(w.Pins) > 2 && w.Probability < certain {
				o.Guess[id] = likelihood(min(w.Joined, max(w.Probability, 0.5)))
			}
		}
	}
	return u
}

// named reports whether the windings found are likely enough to be told by name;
// before that, only what is joined is told.
func named(f *yokemate.Identification) bool {
	return len(f.Windings) > 0 && !slices.ContainsFunc(f.Windings, func(w yokemate.FoundWinding) bool { return w.Probability < 0.5 })
}

func dotSure(f *yokemate.Identification, wire string) bool {
	return slices.ContainsFunc(f.Dots, func(d yokemate.FoundDot) bool { return d.Wire == wire && d.Known && d.Probability >= certain })
}

// runs lists the windings as far as they are known, and the pins that are on
// none of them.
func (a *asking) runs() (runs []Run, loose string) {
	f := a.found
	on := map[string]bool{}
	windings := f.Windings
	if !named(f) {
		windings = nil
	}
	for _, w := range windings {
		on[w.Pins[0]], on[w.Pins[1]] = true, true
		r := Run{Name: w.ID, Pins: w.Pins[0] + "–" + w.Pins[1], Sure: sureWords(w.Probability), Certain: w.Probability >= certain}
		var parts []string
		if dotSure(f, w.Wire) {
			parts = append(parts, "starts at "+w.Pins[0])
		}
		for _, name := range []string{"ohms", "volts"} {
			for _, x := range f.Facts {
				if x.About == w.ID && x.Name == name {
					parts = append(parts, factText(&x))
				}
			}
		}
		r.Facts = strings.Join(parts, ", ")
		runs = append(runs, r)
	}
	if len(f.Wires) == 0 && len(a.u.Readings) == 0 {
		for _, w := range a.u.Windings {
			on[w.Pins[0]], on[w.Pins[1]] = true, true
			runs = append(runs, Run{Name: w.ID, Pins: w.Pins[0] + "–" + w.Pins[1], Sure: "given, not read"})
		}
	}
	if len(windings) == 0 {
		for _, w := range f.Wires {
			for _, p := range w.Pins {
				on[p] = true
			}
			r := Run{Pins: strings.Join(w.Pins, "–"), Certain: w.Joined >= certain}
			switch {
			case w.Probability >= certain:
				r.Sure = sureWords(w.Probability)
			case w.Joined >= certain && len(w.Pins) > 2:
				r.Sure, r.Certain = "joined; in which order, and what else is on the wire, is open", false
			case w.Joined >= certain:
				r.Sure = "joined; whether more pins are on the wire is open"
			default:
				r.Sure = sureWords(w.Joined)
			}
			runs = append(runs, r)
		}
	}
	var rest []string
	for _, p := range a.u.AllPins() {
		if !on[p] {
			rest = append(rest, p)
		}
	}
	return runs, strings.Join(rest, ", ")
}

// sureWords says a probability in words, with the figure where it is not certain.
func sureWords(p float64) string {
	if p >= certain {
		return "certain"
	}
	return likelihood(p) + ", " + say.Words{}.Chance(p)
}

func factText(x *yokemate.Fact) string {
	if x.U < 1e-4*x.Value {
		return si.Format(x.Value, x.Unit, 4) // by definition: what was fed
	}
	return si.FormatU(x.Value, x.U, x.Unit)
}

// alternatives lists what is still open, where something is.
func alternatives(f *yokemate.Identification) (list []string) {
	if f.Certain || len(f.Open) < 2 || f.Open[0].Probability < 0.05 {
		return nil
	}
	for i, x := range f.Open {
		if i > 4 || i > 0 && x.Probability < 0.005 {
			break
		}
		list = append(list, say.Words{}.Chance(x.Probability)+": "+x.Words)
	}
	return list
}

// done is what may be put on the shelf, with the question that only a person
// can answer: what the label's volts stand on.
func (a *asking) done() *Done {
	n := a.found.Shelf
	d := &Done{}
	if n.Mains != nil {
		return d
	}
	if m := a.u.Mains; m != nil {
		d.Volts, d.Hertz = say.Plain(m.Volts), say.Plain(m.Hertz)
	} else if b := a.bench; b != nil {
		d.Hertz = say.Plain(b.Hertz)
	}
	for _, s := range sides(n) {
		var pins []string
		for _, id := range s {
			w := n.Winding(id)
			pins = append(pins, id+" ("+w.Pins[0]+"–"+w.Pins[1]+")")
		}
		d.Sides = append(d.Sides, Choice{strings.Join(s, "+"), strings.Join(pins, " and ")})
	}
	return d
}

// sides lists what a label's mains volts may stand on, the most volts first:
// runs of sections of one wire, and two like coils in series.
func sides(u *yokemate.Unit) []yokemate.Series {
	type side struct {
		s     yokemate.Series
		volts float64
	}
	var all []side
	add := func(ws ...*yokemate.Winding) {
		x := side{}
		for _, w := range ws {
			x.s, x.volts = append(x.s, w.ID), x.volts+w.Volts.V
		}
		all = append(all, x)
	}
	for i := range u.Windings {
		run := []*yokemate.Winding{&u.Windings[i]}
		add(run...)
		for j := i + 1; j < len(u.Windings) && u.Windings[j].Pins[0] == u.Windings[j-1].Pins[1]; j++ {
			run = append(run, &u.Windings[j])
			add(run...)
		}
		for j := i + 1; j < len(u.Windings); j++ {
			v, w := &u.Windings[i], &u.Windings[j]
			shared := slices.Contains(v.Pins[:], w.Pins[0]) || slices.Contains(v.Pins[:], w.Pins[1])
			if !shared && v.Volts.Known() && w.Volts.Known() && w.Volts.V > 0.97*v.Volts.V && w.Volts.V < 1.03*v.Volts.V {
				add(v, w)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b side) int { return cmp.Compare(b.volts, a.volts) })
	var out []yokemate.Series
	for _, x := range all {
		out = append(out, x.s)
	}
	return out
}

// sit takes what is read once a sitting.
func (p *pages) sit(w http.ResponseWriter, r *http.Request) error {
	a, err := p.ask(r)
	if err != nil {
		return err
	}
	t := Asked{Leads: strings.TrimSpace(r.PostFormValue("leads")), Celsius: strings.TrimSpace(r.PostFormValue("celsius"))}
	s := &yokemate.Sitting{}
	err = func() (err error) {
		switch say := r.PostFormValue("say"); {
		case say == "unsure":
		case t.Leads == "":
			return yokemate.Errorf(yokemate.Invalid, "the probes", "nothing was typed").Mend("touch them together and type the ohms, 0 where the meter takes them off, or choose unsure")
		default:
			if s.LeadOhms, err = kit.Number("the probes", t.Leads, "Ω"); err != nil {
				return err
			}
			if s.LeadOhms == 0 {
				s.LeadOhms = yokemate.ZeroedLeads
			}
		}
		if t.Celsius != "" {
			c, err := kit.Number("the temperature", t.Celsius, "°C")
			if err != nil {
				return err
			}
			s.Celsius = &c
		}
		return p.kit.Store.PutSitting(r.Context(), s)
	}()
	if err != nil {
		return p.refuse(w, r, a, t, err)
	}
	return kit.See(w, r, a.at(nil))
}

// wanted stores the reading that the page asked for, with all its conditions.
// Unsure stores nothing and has another asked for.
func (p *pages) wanted(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	a, err := p.ask(r)
	if err != nil {
		return err
	}
	key, say := r.PostFormValue("key"), r.PostFormValue("say")
	t := Asked{Value: r.PostFormValue("value"), Source: strings.TrimSpace(r.PostFormValue("source"))}
	next := a.found.Next
	if next == nil || identify.Key(next) != key {
		if a.sentTwice(r.PostFormValue("count"), key) {
			return kit.See(w, r, a.at(nil))
		}
		return p.refuse(w, r, a, Asked{}, yokemate.Errorf(yokemate.Conflict, a.u.Tag, "another reading was taken meanwhile, and this one is not what is asked for now").Mend("see what is asked for, or add it as a reading of your own"))
	}
	if say == "unsure" {
		a.skip = append(a.skip, key)
		return kit.See(w, r, a.at(nil))
	}
	text := t.Value
	if say != "" {
		text = say
	}
	v, err := shown(next.Quantity, text)
	if err == nil && v == "over" && next.Quantity == yokemate.Ohms {
		v = "open" // on the highest range, as asked
	}
	if err != nil {
		return p.refuse(w, r, a, t, err)
	}
	x := next.Reading(v)
	a.goWith(&x)
	if x.Excited != nil && x.Quantity != yokemate.Kick {
		if x.Excited.Volts, err = sourceVolts(t.Source); err != nil {
			return p.refuse(w, r, a, t, err)
		}
	}
	if _, err := p.kit.Store.AddReading(r.Context(), a.u.Tag, x); err != nil {
		return p.refuse(w, r, a, t, err)
	}
	return kit.See(w, r, a.at(nil))
}

// sentTwice reports whether the form's reading was stored already, as the one
// after those that it counted.
func (a *asking) sentTwice(count, key string) bool {
	n, err := strconv.Atoi(count)
	if err != nil || n < 0 || n != len(a.u.Readings)-1 {
		return false
	}
	x := a.u.Readings[n]
	return identify.Key(&yokemate.WantedReading{Quantity: x.Quantity, From: x.From, To: x.To, Joined: x.Joined, Excited: x.Excited}) == key
}

// goWith puts what the sitting goes by to a reading of copper.
func (a *asking) goWith(x *yokemate.Reading) {
	if a.sitting == nil {
		return
	}
	if copperOhms(x.Quantity, x.From, x.To) {
		x.LeadOhms = a.sitting.LeadOhms
	}
	if copperOhms(x.Quantity, x.From, x.To) || x.Quantity == yokemate.Millivolts {
		x.Celsius = a.sitting.Celsius
	}
}

// sourceVolts is what the source read.
func sourceVolts(text string) (yokemate.Value, error) {
	if text == "" {
		return yokemate.Value{}, yokemate.Errorf(yokemate.Invalid, "the source", "its volts are missing").Mend("read the source at the same moment and type its volts")
	}
	d, err := shown(yokemate.VoltsAC, text)
	if err != nil {
		return yokemate.Value{}, err
	}
	v, err := yokemate.Read(d)
	if err != nil || !(v.V > 0) {
		return v, yokemate.Errorf(yokemate.Invalid, "the source", "%q is no voltage of a source that is on", text).Mend("type what it reads, such as 12.1")
	}
	return v, nil
}

// correct stores a reading in the place of one that was wrong, which stays in
// the log.
func (p *pages) correct(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	a, err := p.ask(r)
	if err != nil {
		return err
	}
	id := r.PostFormValue("correct")
	t := Asked{Value: r.PostFormValue("value"), Source: strings.TrimSpace(r.PostFormValue("source"))}
	old := standingReading(standing(a.u), id)
	if old == nil {
		if n := len(a.u.Readings); n > 0 && a.u.Readings[n-1].Supersedes == id {
			return kit.See(w, r, a.at(nil)) // the form was sent twice
		}
		return p.refuse(w, r, a, t, yokemate.Errorf(yokemate.Conflict, a.u.Tag+" reading "+id, "it does not stand any more").Mend("correct the one that stands in its place"))
	}
	x := *old
	x.ID, x.Supersedes, x.Note = "", old.ID, ""
	x.At = time.Time{}
	text := t.Value
	if say := r.PostFormValue("say"); say != "" {
		text = say
	}
	if x.Value, err = shown(x.Quantity, text); err != nil {
		return p.refuse(w, r, a, t, err)
	}
	if x.Value == "over" && x.Quantity == yokemate.Ohms {
		x.Value = "open"
	}
	if x.Excited != nil && t.Source != "" {
		e := *x.Excited
		if e.Volts, err = sourceVolts(t.Source); err != nil {
			return p.refuse(w, r, a, t, err)
		}
		x.Excited = &e
	}
	if _, err := p.kit.Store.AddReading(r.Context(), a.u.Tag, x); err != nil {
		return p.refuse(w, r, a, t, err)
	}
	return kit.See(w, r, a.at(nil))
}

// settle puts what the readings tell into the unit's facts, with what the person
// says of the label.
func (p *pages) settle(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	a, err := p.ask(r)
	if err != nil {
		return err
	}
	t := Asked{Volts: strings.TrimSpace(r.PostFormValue("label_volts")), Hertz: strings.TrimSpace(r.PostFormValue("label_hertz"))}
	n := a.found.Shelf
	if n == nil {
		return p.refuse(w, r, a, t, yokemate.Errorf(yokemate.Conflict, a.u.Tag, "its windings are not certain, so nothing was put on the shelf").Mend("take the reading that is asked for"))
	}
	if n.Mains == nil {
		if err := mainsOf(n, t.Volts, t.Hertz, r.PostFormValue("side_of")); err != nil {
			return p.refuse(w, r, a, t, err)
		}
	}
	if err := p.kit.Store.PutUnit(r.Context(), n); err != nil {
		return p.refuse(w, r, a, t, err)
	}
	return kit.See(w, r, link(a.u.Tag)+"#facts")
}

// mainsOf puts the label's mains into a unit, as a form tells it. The side is a
// list of windings joined by +, or "unknown".
func mainsOf(u *yokemate.Unit, volts, hertz, side string) error {
	switch {
	case side == "":
		return yokemate.Errorf(yokemate.Invalid, "the mains side", "it is not said which winding the label's volts stand on").Mend("choose the winding, or say that it is not known")
	case side == "unknown":
		u.Mains = nil
		return nil
	}
	m := &yokemate.Mains{Series: strings.Split(side, "+")}
	var err error
	if m.Volts, err = kit.Number("the label's volts", volts, "V"); err != nil {
		return err
	}
	if m.Hertz, err = kit.Number("the label's hertz", hertz, "Hz"); err != nil {
		return err
	}
	old := u.Mains
	u.Mains = m
	if err := u.Validate(); err != nil {
		u.Mains = old
		return err
	}
	return nil
}
