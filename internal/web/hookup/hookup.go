// Package hookup is the page of one hookup: the schematic with what every meter
// would read, at low, nominal or high mains; the same drawing with a slip made
// or two leads changed over; what the slip would read at each step of the
// proof, and what would follow if it were closed on.
package hookup

import (
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

//go:embed hookup.html list.html limits.html hookup.css hookup.js
var files embed.FS

// Page is what the template shows.
type Page struct {
	Name, Link string
	Mains      string // as "at nominal mains: 230 V 50 Hz"
	Levels     []Choice
	Level      string
	Changed    string // what the drawing shows that is not the hookup; empty: nothing
	Back       string
	Drawing    template.HTML
	Caption    string
	Mark       kit.Mark
	Standing   string
	Notes      []yokemate.Note
	Rectified  bool // an output is DC
	Curve      template.HTML
	Unsolved   kit.Trouble // why there is no prediction of the changed wiring
	Outputs    []Output
	Tables     []kit.Table
	Slips      []Choice
	Slip       *Slip
	Leads      []string // pins whose lead can be moved
	Lead       string   // whose lead is held, and waits for its new place
	Drop       string   // the link that lets it go
	Moves      []string // made so far, as F1.5,F1.6
	Second     string   // what the second list starts with
	Proofs     []Proof
	First      string   // what the first list starts with
	Cautions   []string
	Trouble    kit.Trouble
}

// Output is what one output gives.
type Output struct{ Name, Volts, Amps, Within string }

// Choice is a link or an entry of a list.
type Choice struct {
	Value, Words, Link string
	Now                bool
}

// Slip is what a chosen slip reads and does.
type Slip struct {
	Words   string
	Shows   []Show
	Follows []string // what closing on it would do
	Silent  bool     // no reading of the proof tells it from right
}

// Show is one step at which the slip reads otherwise.
type Show struct{ Step, Do, Right, Wrong string }

// Proof is one proof of the hookup.
type Proof struct {
	Link, Words string
	Mark        kit.Mark
}

// List is the page of all hookups.
type List struct{ Hookups []Card }

// Card is one hookup in the list.
type Card struct{ Name, Link, Units, Outputs string }

type pages struct {
	kit    *kit.Kit
	View   *kit.View[Page]
	List   *kit.View[List]
	Limits *kit.View[Limits]
	steps  kit.Memo[string, *yokemate.Proof]
	loads  kit.Memo[string, figure.LoadCurves]
	told   kit.Memo[string, told]
	cards  kit.Memo[string, *yokemate.LimitsCard]
}

// Views are the package's templates, for their check.
type Views struct {
	Page   *kit.View[Page]
	List   *kit.View[List]
	Limits *kit.View[Limits]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, Views) {
	p := &pages{kit: k, told: kit.Memo[string, told]{Most: 64}, View: kit.NewView[Page](k, files, "hookup"), List: kit.NewView[List](k, files, "list"), Limits: kit.NewView[Limits](k, files, "limits")}
	return []kit.Route{
		{Pattern: "GET /hookups", Handler: p.list},
		{Pattern: "GET /hookups/{name}", Handler: p.show},
		{Pattern: "GET /hookups/{name}/limits", Handler: p.limits},
	}, Views{p.View, p.List, p.Limits}
}

func link(name string) string { return "/hookups/" + url.PathEscape(name) }

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	hs, err := p.kit.Store.Hookups(r.Context())
	if err != nil {
		return err
	}
	var x List
	for i := range hs {
		h := &hs[i]
		c := Card{Name: h.Name, Link: link(h.Name), Units: strings.Join(h.Tags(), ", ")}
		var outs []string
		for _, o := range h.Outputs {
			outs = append(outs, o.Name+" from "+o.From+" to "+o.To)
		}
		c.Outputs = strings.Join(outs, "; ")
		x.Hookups = append(x.Hookups, c)
	}
	return p.List.Show(w, http.StatusOK, "Hookups", "hookups", x)
}

// level reads which end of the mains band is asked for.
func level(text string) (yokemate.MainsLevel, error) {
	switch l := yokemate.MainsLevel(text); l {
	case "":
		return yokemate.Nominal, nil
	case yokemate.Low, yokemate.Nominal, yokemate.High:
		return l, nil
	}
	return "", yokemate.Errorf(yokemate.Invalid, "mains", "%q is not low, nominal or high", text)
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	shelf, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	at, err := level(r.FormValue("mains"))
	if err != nil {
		return err
	}
	s := shelf.Only(h)
	facts := network.Compile(s)
	var plan *prove.Plan // nil for a rectified hookup, whose DC side is not proved
	if !supply.IsDC(h) {
		if plan, err = prove.New(facts, h, prove.Options{}); err != nil {
			return err
		}
	}
	x := Page{Name: h.Name, Link: link(h.Name), Level: string(at), Cautions: prove.Cautions()}
	code := r.FormValue("slip")
	x.Rectified = plan == nil
	var slips []string
	if plan != nil {
		slips = plan.Slips()
	}
	for _, c := range slips {
		x.Slips = append(x.Slips, Choice{Value: c, Words: kit.SlipName(c), Now: c == code})
	}
	for _, tag := range h.Tags() {
		if u := s.Unit(tag); u != nil {
			for _, pin := range u.Pins() {
				x.Leads = append(x.Leads, tag+"."+pin)
			}
		}
	}

	moves, err := leads(r, &x)
	if err != nil {
		return err
	}
	var net network.Options // how the wiring differs from the state: leads off, shorted turns
	var faults []figure.Fault
	shown := h // what is drawn of the state
	state, marked, drawn := h, []string(nil), true
	switch {
	case code != "":
		if !slices.Contains(slips, code) {
			return yokemate.Errorf(yokemate.NotFound, "slip", "this hookup has no slip %q", code).Mend("choose one from the list")
		}
		var w *prove.Wiring
		if w, drawn, err = plan.Wired(h, code); err != nil {
			return err
		}
		if drawn {
			state, shown, net = w.State, w.Drawn(), w.Options
			for _, z := range w.Faults {
				faults = append(faults, figure.Fault{Pin: z.Pin, Winding: z.Winding, Feed: z.Feed, Words: z.Words})
			}
		}
		x.Changed = kit.SlipName(code)
		if x.Slip, err = p.slip(h, s, plan, code); err != nil {
			return err
		}
	case len(moves) > 0:
		for _, m := range moves {
			state = exchange(state, m)
			marked = append(marked, m[0], m[1])
		}
		shown = state
		x.Changed = movesWords(moves)
	}
	if x.Lead != "" {
		marked = append(marked, x.Lead)
	}
	link := p.leadLinks(&x, moves, code)
	for _, l := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
		q := url.Values{"mains": {string(l)}}
		if code != "" {
			q.Set("slip", code)
		}
		for _, m := range moves {
			q.Add("move", m[0]+","+m[1])
		}
		x.Levels = append(x.Levels, Choice{Words: kit.Title(string(l)) + " " + kit.Plain(h.Feed[0].At(l)) + " V", Link: x.Link + "?" + q.Encode(), Now: l == at})
	}
	x.Back = x.Link + "?mains=" + string(at)

	if drawn {
		if err := p.predict(&x, facts, s, state, shown, net, at, figure.SchematicOptions{Marked: marked, Faults: faults, Link: link}); err != nil {
			return err
		}
	}
	if x.Changed == "" {
		if x.Curve, err = p.curve(facts, s, h, x.Mark.Class); err != nil {
			return err
		}
	}
	proofs, err := p.kit.Store.Proofs(r.Context())
	if err != nil {
		return err
	}
	for i := range proofs {
		if q := &proofs[i]; q.Hookup.Name == h.Name {
			id := strconv.FormatInt(q.ID, 10)
			x.Proofs = append(x.Proofs, Proof{"/proofs/" + id, "Proof " + id + ", " + q.Changed.Format("2006-01-02 15:04"), kit.StateMark(q.State)})
		}
	}
	title := h.Name
	if x.Changed != "" {
		title += ": what if " + x.Changed
	}
	status := http.StatusOK
	if x.Trouble.Words != "" {
		status = http.StatusUnprocessableEntity
	}
	return p.View.Show(w, status, title, "hookups", x)
}

// predict fills in the drawing, the notes and the tables of a wiring.
func (p *pages) predict(x *Page, f *network.Facts, s *yokemate.Shelf, state, shown *yokemate.Hookup, net network.Options, at yokemate.MainsLevel, o figure.SchematicOptions) error {
	z, err := p.ask(f, s, state, net, at)
	q := z.prediction
	if err != nil {
		if x.Changed == "" {
			return err
		}
		// A wrong wiring may have no answer; the hookup itself has one.
		x.Unsolved, err = p.kit.Trouble(err)
		if err != nil {
			return err
		}
		q = nil
	}
	o.Prediction = q
	scene, err := figure.Schematic(shown, s, o)
	if err != nil {
		return err
	}
	if x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "h-"}); err != nil {
		return err
	}
	if q == nil {
		return nil
	}
	var feeds []string
	for i := range state.Feed {
		feeds = append(feeds, kit.Plain(state.Feed[i].At(at))+" V "+kit.Plain(state.Feed[i].Hertz)+" Hz")
	}
	x.Mains = "at " + string(at) + " mains, " + strings.Join(feeds, ", ")
	worst := yokemate.Worst(q.Notes)
	x.Mark, x.Standing, x.Notes = kit.LevelMark(worst), kit.Standing(q.Notes), kit.Graver(q.Notes)
	if x.Changed != "" {
		x.Standing = "Nothing in the prediction forbids this wiring, but it is not the hookup."
		if worst == yokemate.Stop {
			x.Standing = "This must not be powered: what stops it stands below."
		}
		if len(net.Shorted) > 0 {
			x.Standing = "Turns that are shorted heat until something burns, and hardly any other reading shows it. The unit must not be used."
		}
	}
	x.Tables = append(tables(state, q), z.rails)
	for _, o := range q.Outputs {
		x.Outputs = append(x.Outputs, Output{o.Name, si.Format(o.Volts, "V", 3), si.Format(o.Amps, "A", 3), kit.Within(o.Low, o.High, "V")})
	}
	return nil
}

// ask predicts a wiring, from memory where it can.
func (p *pages) ask(f *network.Facts, s *yokemate.Shelf, h *yokemate.Hookup, net network.Options, at yokemate.MainsLevel) (told, error) {
	key, err := kit.Key(h, s)
	if err != nil {
		return told{}, err
	}
	return p.told.Get(fmt.Sprint(at, net)+key, func() (z told, err error) {
		z.prediction, z.rails, err = foretell(f, h, net, at)
		return z, err
	})
}

// told is what foretell tells.
type told struct {
	prediction *yokemate.Prediction
	rails      kit.Table
}

// foretell predicts a hookup, rectified or not. The outputs of a rectified one
// are the mean volts and amps of its rails, which the second result tells more
// of.
func foretell(f *network.Facts, h *yokemate.Hookup, net network.Options, at yokemate.MainsLevel) (*yokemate.Prediction, kit.Table, error) {
	rails := kit.Table{Caption: "Rails", Heads: []string{"output", "mean", "valley", "peak", "ripple", "amps", "busiest diode", "reverse", "capacitor"}}
	if !supply.IsDC(h) {
		p, err := predict.Hookup(f, h, at, predict.Options{Network: net})
		return p, rails, err
	}
	s, err := supply.Predict(f, h, at, predict.Options{Network: net})
	if err != nil {
		return nil, rails, err
	}
	for _, r := range s.Rails {
		rails.Row(r.Output, si.Format(r.Mean, "V", 3), si.Format(r.Valley, "V", 3), si.Format(r.Peak, "V", 3), si.Format(r.Ripple, "V", 3), si.Format(r.Amps, "A", 3),
			si.Format(r.DiodeRMS, "A", 3), si.Format(r.DiodeReverse, "V", 3), si.Format(r.CapacitorRMS, "A", 3))
	}
	p := s.Prediction
	p.Outputs = nil
	for _, o := range s.Outputs {
		p.Outputs = append(p.Outputs, o.OutputState)
	}
	return &p, rails, nil
}

// tables says a prediction in numbers, formatted as the command line does.
func tables(h *yokemate.Hookup, p *yokemate.Prediction) []kit.Table {
	out := kit.Table{Caption: "Outputs", Heads: []string{"output", "volts", "95 % within", "amps"}}
	for _, o := range p.Outputs {
		out.Row(o.Name, si.Format(o.Volts, "V", 3), kit.Within(o.Low, o.High, "V"), si.Format(o.Amps, "A", 3))
	}
	met := kit.Table{Caption: "Meters", Heads: []string{"meter", "shows", "95 % within"}}
	for _, m := range p.Meters {
		met.Row(m.Name, si.Format(m.Volts, "V", 3), kit.Within(m.Low, m.High, "V"))
	}
	win := kit.Table{Caption: "Windings", Heads: []string{"winding", "volts", "amps", "95 % within", "may carry", "used", "heat"}}
	for _, w := range p.Windings {
		limit, used := "unknown", ""
		if w.LimitAmps != nil {
			limit = si.Format(*w.LimitAmps, "A", 3)
			if *w.LimitAmps > 0 {
				used = strconv.FormatFloat(100*w.Amps / *w.LimitAmps, 'f', 0, 64) + " %"
			}
		}
		win.Row(w.Unit+"/"+w.ID, si.Format(w.Volts, "V", 3), si.Format(w.Amps, "A", 3), kit.Within(w.Low, w.High, "A"), limit, used, si.Format(w.Watts, "W", 2))
	}
	uni := kit.Table{Caption: "Iron", Heads: []string{"unit", "flux of rated", "95 % within", "heat"}}
	for _, u := range p.Units {
		uni.Row(u.Tag, strconv.FormatFloat(u.Flux, 'f', 2, 64), kit.Within(u.Low, u.High, ""), si.Format(u.Watts, "W", 2))
	}
	fed := kit.Table{Caption: "From the mains", Heads: []string{"feed", "amps", "95 % within", "watts", "VA", "volts behind limiter"}}
	for i, f := range p.Feed {
		fed.Row(h.Feed[i].Live+"–"+h.Feed[i].Neutral, si.Format(f.Amps, "A", 3), kit.Within(f.Low, f.High, "A"), si.Format(f.Watts, "W", 3), si.Format(f.VA, "VA", 3), si.Format(f.Volts, "V", 4))
	}
	joi := kit.Table{Caption: "Joints, in wiring order", Heads: []string{"joint", "pins", "against neutral", "95 % within"}}
	for _, j := range p.Joints {
		joi.Row(j.Name, strings.Join(h.Joints.Joint(j.Name).Pins, ", "), si.Format(j.Volts, "V", 3), kit.Within(j.Low, j.High, "V"))
	}
	return []kit.Table{out, met, joi, win, uni, fed}
}

// slip gathers what a slip shows at each step of the proof, as the engine has it.
func (p *pages) slip(h *yokemate.Hookup, s *yokemate.Shelf, plan *prove.Plan, code string) (*Slip, error) {
	key, err := kit.Key(h, s)
	if err != nil {
		return nil, err
	}
	proof, err := p.steps.Get(key, plan.Proof)
	if err != nil {
		return nil, err
	}
	x := &Slip{}
	for i := range proof.Steps {
		step := &proof.Steps[i]
		k := slices.IndexFunc(step.Slips, func(z yokemate.Slip) bool { return z.Code == code })
		if k < 0 {
			continue
		}
		z := &step.Slips[k]
		x.Words = kit.Sentence(z.Words)
		if z.IfClosed != nil {
			if text := kit.Follows(z.IfClosed); !slices.Contains(x.Follows, text) {
				x.Follows = append(x.Follows, text)
			}
		}
		if r := step.Right; r != nil && z.Value >= r.Low && z.Value <= r.High {
			continue
		}
		q := step.Measure.Quantity
		x.Shows = append(x.Shows, Show{step.ID, step.Do, kit.Right(step.Right, q), kit.Wrong(z, q)})
	}
	x.Silent = len(x.Shows) == 0
	return x, nil
}
