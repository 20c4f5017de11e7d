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
	"yokemate/internal/paper"
	"yokemate/internal/say"
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
	Mark       say.Mark
	Standing   string
	Notes      []yokemate.Note
	Inside     bool // the slip is in a rectifier: the numbers are those of the proof's steps
	Bare       bool // the drawing leaves the rectifiers out
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
	First      string   // what the first list starts with
	Second     string   // what the second list starts with
	Trouble    kit.Trouble
	Proofs     []Proof
	Cautions   []string
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
	Mark        say.Mark
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
	plans  kit.Memo[string, *planned]
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
	h, s, err := p.kit.Wired(r)
	if err != nil {
		return err
	}
	at, err := level(r.FormValue("mains"))
	if err != nil {
		return err
	}
	facts := network.Compile(s)
	plan, err := p.plan(facts, s, h)
	if err != nil {
		return err
	}
	x := Page{Name: h.Name, Link: link(h.Name), Level: string(at), Cautions: prove.Cautions()}
	code := r.FormValue("slip")
	slips := plan.slips
	for _, c := range slips {
		x.Slips = append(x.Slips, Choice{Value: c, Words: say.Words{}.Slip(c), Now: c == code})
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
		if w, drawn, err = plan.wired(h, code); err != nil {
			return err
		}
		switch {
		case drawn && w.Turn != nil:
			x.Inside, at = true, yokemate.Nominal // as the proof foretells
		case supply.IsDC(h):
			x.Bare = true
			state = bare(h)
			if w, drawn, err = plan.wired(state, code); err != nil {
				return err
			}
		}
		if drawn {
			state, shown, net = w.State, w.Drawn(), w.Options
			for _, z := range w.Faults {
				faults = append(faults, figure.Fault{Pin: z.Pin, Winding: z.Winding, Feed: z.Feed, Output: z.Output, Slip: code, Words: z.Words})
			}
		}
		x.Changed = say.Words{}.Slip(code)
		if x.Slip, err = slip(plan, code); err != nil {
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
	levels := []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High}
	if x.Inside {
		levels = nil
	}
	for _, l := range levels {
		q := url.Values{"mains": {string(l)}}
		if code != "" {
			q.Set("slip", code)
		}
		for _, m := range moves {
			q.Add("move", m[0]+","+m[1])
		}
		x.Levels = append(x.Levels, Choice{Words: say.Title(string(l)) + " " + say.Plain(h.Feed[0].At(l)) + " V", Link: x.Link + "?" + q.Encode(), Now: l == at})
	}
	x.Back = x.Link + "?mains=" + string(at)

	switch o := (figure.SchematicOptions{Marked: marked, Faults: faults, Link: link}); {
	case drawn && x.Inside:
		proof, err := plan.steps()
		if err != nil {
			return err
		}
		o.Rails = railsWith(proof, h, code)
		if err := draw(&x, shown, s, o); err != nil {
			return err
		}
		x.Mains = say.Words{}.Mains(state, at)
	case drawn:
		if err := p.predict(&x, facts, s, state, shown, net, at, o); err != nil {
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
			x.Proofs = append(x.Proofs, Proof{"/proofs/" + id, "Proof " + id + ", " + q.Changed.Format("2006-01-02 15:04"), say.Words{}.State(q.State)})
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
	if q != nil {
		o.Rails = railsOf(z.rails)
	}
	if err := draw(x, shown, s, o); err != nil {
		return err
	}
	if q == nil {
		return nil
	}
	x.Mains = say.Words{}.Mains(state, at)
	worst := yokemate.Worst(q.Notes)
	x.Mark, x.Standing, x.Notes = say.Words{}.Level(worst), say.Words{}.Standing(q.Notes), say.Graver(q.Notes)
	if x.Changed != "" {
		x.Standing = "Nothing in the prediction forbids this wiring, but it is not the hookup."
		if worst == yokemate.Stop {
			x.Standing = "This must not be powered: what stops it stands below."
		}
		if len(net.Shorted) > 0 {
			x.Standing = "Turns that are shorted heat until something burns, and hardly any other reading shows it. The unit must not be used."
		}
	}
	x.Tables = append(say.Words{}.Predicted(state, q), say.Words{}.Rails(z.rails))
	for _, o := range q.Outputs {
		x.Outputs = append(x.Outputs, Output{o.Name, si.Format(o.Volts, "V", 3), si.Format(o.Amps, "A", 3), say.Words{}.Within(o.Low, o.High, "V")})
	}
	return nil
}

// draw fills in the drawing.
func draw(x *Page, h *yokemate.Hookup, s *yokemate.Shelf, o figure.SchematicOptions) error {
	scene, err := figure.Schematic(h, s, o)
	if err != nil {
		return err
	}
	x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "h-"})
	return err
}

// ask predicts a wiring, from memory where it can.
func (p *pages) ask(f *network.Facts, s *yokemate.Shelf, h *yokemate.Hookup, net network.Options, at yokemate.MainsLevel) (told, error) {
	key, err := kit.Key(h, s)
	if err != nil {
		return told{}, err
	}
	return p.told.Get(fmt.Sprint(at, net)+key, func() (z told, err error) {
		z.prediction, z.rails, err = paper.Foretell(f, h, at, predict.Options{Network: net})
		return z, err
	})
}

// told is what is foretold of a wiring.
type told struct {
	prediction *yokemate.Prediction
	rails      []yokemate.RailState
}

// slip gathers what a slip shows at each step of the proof, as the engine has it.
func slip(plan *planned, code string) (*Slip, error) {
	proof, err := plan.steps()
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
		x.Words = say.Sentence(z.Words)
		if z.IfClosed != nil {
			if text := (say.Words{}).Closed(z.IfClosed); !slices.Contains(x.Follows, text) {
				x.Follows = append(x.Follows, text)
			}
		}
		g := say.One(step, z)
		if g.Hidden {
			continue
		}
		x.Shows = append(x.Shows, Show{step.ID, step.Do, say.Words{}.Right(step.Right, g.Quantity), say.Words{}.Reads(&g)})
	}
	x.Silent = len(x.Shows) == 0
	return x, nil
}
