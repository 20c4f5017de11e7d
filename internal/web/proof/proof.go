// Package proof is the proof in the browser: one step a screen, what the meter
// should show before it is asked for, and after each answer a verdict.
//
// Everything is in the store: an answer is kept before its verdict is shown, so
// that a locked phone, a reloaded page or a dead server loses nothing. A stop
// is passed by a typed reason only, and a gap or bad insulation not at all.
package proof

import (
	"embed"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"sync"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/prove"
)

//go:embed proof.html proof.css list.html record.html
var files embed.FS

// Page is one screen of a proof.
type Page struct {
	ID         string
	Link       string
	Hookup     string
	HookupLink string
	Count      int // of answers so far: a form that was sent twice is known by it
	Last       *Last
	Stopped    bool
	Good       bool
	Final      bool // the stop cannot be overruled
	First      bool // nothing is answered yet: the cautions come before the first step
	Begin      string
	Of         int // steps
	Step       *Step
	AskWhy     bool // the prediction says stop: the first answer needs a reason
	Against    []yokemate.Note
	Codes      []Choice // slips that may have been mended
	Again      []Choice // steps that may be read again
	Trouble    kit.Trouble
	Typed      Typed
	Notes      []yokemate.Note
	Cautions   []string // before the first step
}

// Typed is what was typed into a form that was not taken.
type Typed struct{ Value, Feed, Why, Reason string }

// Choice is an entry of a list.
type Choice struct{ Value, Words string }

// Last is the last answer and what it meant.
type Last struct {
	Mark       say.Mark
	Plain      bool // go: a line is enough
	Do         string
	Shown      string
	Right      string
	Words      string
	Likely     []string
	Change     string // the slip to mend, by its code
	ChangeName string
}

// Step is the step on the screen.
type Step struct {
	ID       string
	N, Of    int
	Do, Help string
	Long     bool // what is to be done takes many words, and is set smaller
	Reads    bool
	Probes   string
	Right    string
	Wrong    string // the first group of slips that shows, in short
	Groups   []Group
	Quantity string
	Unit     string
	Ohms     bool
	Drawing  template.HTML
	Far      bool // the probes are in the right half of the drawing: a narrow window opens there
	Retaken  bool // it was answered before
}

// Group is slips that read alike.
type Group struct {
	Reads   string
	Names   string
	Follows string
	Hidden  bool // it looks right here
}

// List is the page of all proofs.
type List struct{ Proofs []Card }

// Card is one proof in the list.
type Card struct {
	Link, Record, Hookup, Changed string
	Answers                       int
	Mark                          say.Mark
}

type pages struct {
	kit    *kit.Kit
	View   *kit.View[Page]
	List   *kit.View[List]
	Record *kit.View[Record]

	mu   sync.Mutex // a plan serves one at a time
	live map[int64]*proving
}

// Views are the package's templates, for their check.
type Views struct {
	Page   *kit.View[Page]
	List   *kit.View[List]
	Record *kit.View[Record]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, Views) {
	p := &pages{kit: k, View: kit.NewView[Page](k, files, "proof"), List: kit.NewView[List](k, files, "list"), Record: kit.NewView[Record](k, files, "record"), live: map[int64]*proving{}}
	return []kit.Route{
		{Pattern: "GET /proofs", Handler: p.list},
		{Pattern: "POST /hookups/{name}/proofs", Handler: p.start},
		{Pattern: "GET /proofs/{id}", Handler: p.show},
		{Pattern: "GET /proofs/{id}/record", Handler: p.record},
		{Pattern: "POST /proofs/{id}/readings", Handler: p.read},
		{Pattern: "POST /proofs/{id}/moved", Handler: p.moved},
		{Pattern: "POST /proofs/{id}/overrule", Handler: p.overrule},
	}, Views{p.View, p.List, p.Record}
}

func link(id int64) string { return "/proofs/" + strconv.FormatInt(id, 10) }

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	all, err := p.kit.Store.Proofs(r.Context())
	if err != nil {
		return err
	}
	var x List
	for i := range all {
		q := &all[i]
		x.Proofs = append(x.Proofs, Card{link(q.ID), link(q.ID) + "/record", q.Hookup.Name, q.Changed.Format("2006-01-02 15:04"), len(q.Answers), say.Words{}.State(q.State)})
	}
	return p.List.Show(w, http.StatusOK, "Proofs", "proofs", x)
}

// start opens a proof of a stored hookup. One that was opened and not begun is
// taken up again, so that a button pressed twice opens one.
func (p *pages) start(w http.ResponseWriter, r *http.Request) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	want, err := both(h, s.Only(h))
	if err != nil {
		return err
	}
	all, err := p.kit.Store.Proofs(r.Context())
	if err != nil {
		return err
	}
	for i := range all {
		if len(all[i].Answers) > 0 || all[i].State != yokemate.ProofOpen {
			continue
		}
		have, err := both(&all[i].Hookup, &all[i].Shelf)
		if err != nil {
			return err
		}
		if have == want {
			return kit.See(w, r, link(all[i].ID))
		}
	}
	// Planned first: a hookup that cannot be planned opens no proof.
	if _, err := newProving(h, s.Only(h), ""); err != nil {
		return err
	}
	q, err := p.kit.Store.CreateProof(r.Context(), h, s)
	if err != nil {
		return err
	}
	return kit.See(w, r, link(q.ID))
}

func both(h *yokemate.Hookup, s *yokemate.Shelf) (string, error) {
	a, err := yokemate.Encode(h)
	if err != nil {
		return "", err
	}
	b, err := yokemate.Encode(s)
	return string(a) + string(b), err
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, err := p.load(r)
	if err != nil {
		return err
	}
	return p.draw(w, http.StatusOK, b, r.FormValue("step"), Page{})
}

// draw shows the screen of the step that comes now, or of an earlier one.
func (p *pages) draw(w http.ResponseWriter, status int, b *proving, at string, x Page) error {
	x.ID, x.Link = strconv.FormatInt(b.id, 10), link(b.id)
	x.Hookup, x.HookupLink = b.hookup.Name, "/hookups/"+url.PathEscape(b.hookup.Name)
	x.Count = len(b.taken)
	state := b.session.State()
	x.Good, x.Stopped = state == yokemate.ProofGood, state == yokemate.ProofStopped
	x.Notes = b.session.Notes()
	if len(b.taken) == 0 {
		x.Cautions = prove.Cautions()
		x.Against = say.Graver(b.plan.Notes())
		x.AskWhy = yokemate.Worst(b.plan.Notes()) == yokemate.Stop
	}
	x.Last = b.last()
	id := b.session.Next()
	x.First = len(b.taken) == 0 && at == "" && status == http.StatusOK
	if x.First {
		x.Begin = x.Link + "?step=" + url.QueryEscape(id)
		x.Of = len(b.plan.IDs())
		return p.View.Show(w, status, x.Hookup+", proof "+x.ID, "proofs", x)
	}
	if x.Stopped {
		id = b.stop()
		x.Final = b.session.Final()
		x.Codes = codes(b)
	}
	if at != "" && !x.Stopped {
		if !b.may(at) {
			return yokemate.Errorf(yokemate.NotFound, "step", "%q is not a step to take now", at).Mend("take the steps in their order")
		}
		id = at
	}
	if !x.Stopped && !x.Good {
		x.Codes = codes(b)
	}
	ids := b.plan.IDs()
	for _, t := range b.taken {
		s := t.answer.Step
		if s != "" && s != id && !x.Stopped && !slices.ContainsFunc(x.Again, func(c Choice) bool { return c.Value == s }) {
			x.Again = append(x.Again, Choice{s, strconv.Itoa(slices.Index(ids, s)+1) + ". " + t.do})
		}
	}
	if id != "" && !(x.Good && at == "") {
		var err error
		if x.Step, err = b.screen(id); err != nil {
			return err
		}
	}
	title := x.Hookup + ", proof " + x.ID
	switch {
	case x.Stopped:
		title = "Stopped: " + title
	case x.Step != nil:
		title = "Step " + strconv.Itoa(x.Step.N) + " of " + strconv.Itoa(x.Step.Of) + ": " + title
	}
	return p.View.Show(w, status, title, "proofs", x)
}

func codes(b *proving) []Choice {
	var list []Choice
	for _, c := range b.plan.Slips() {
		list = append(list, Choice{c, say.Words{}.Slip(c)})
	}
	return list
}

// longText is from where on what is to be done is set smaller [byte].
const longText = 150

// screen describes one step.
func (b *proving) screen(id string) (*Step, error) {
	s := b.plan.Step(id)
	ids := b.plan.IDs()
	x := &Step{ID: id, N: slices.Index(ids, id) + 1, Of: len(ids), Do: s.Do, Help: s.Help, Long: len(s.Do) > longText, Reads: s.Measure != nil}
	x.Retaken = slices.ContainsFunc(b.taken, func(t taken) bool { return t.answer.Step == id })
	o := figure.SchematicOptions{Measure: s.Measure}
	if m := s.Measure; m != nil {
		x.Quantity, x.Unit, x.Ohms = say.Words{}.Quantity(m.Quantity), m.Quantity.Unit(), m.Quantity == yokemate.Ohms
		x.Right = say.Words{}.Right(s.Right, m.Quantity)
		x.Probes = say.Words{}.Probes(s)
		x.Groups = groups(s)
		for _, g := range x.Groups {
			if !g.Hidden {
				x.Wrong = g.Reads
				break
			}
		}
		o.Reading = "right " + x.Right
	}
	scene, err := figure.Schematic(&s.State, b.shelf, o)
	if err != nil {
		return nil, err
	}
	x.Far = far(&scene)
	x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "p-"})
	return x, err
}

// far reports whether what is marked in a drawing, the probes and their meter, is
// in its right half.
func far(s *draw.Scene) bool {
	least, most := math.Inf(1), math.Inf(-1)
	s.Walk(func(it draw.Item, _ []*draw.Group) {
		p, ok := it.(*draw.Path)
		if !ok || p.Stroke != draw.Accent && p.Fill != draw.Accent {
			return
		}
		for _, g := range p.Segs {
			if g.Op != draw.Close {
				least, most = min(least, g.P[0].X), max(most, g.P[0].X)
			}
		}
	})
	return least+most > s.W // false where nothing is marked: it is no number then
}

// groups says the slips of a step, those that read alike together.
func groups(s *yokemate.Step) []Group {
	var list []Group
	for _, g := range say.Groups(s) {
		x := Group{Reads: say.Words{}.Reads(&g), Names: say.Words{}.Names(&g), Hidden: g.Hidden}
		if g.Worst != nil {
			x.Follows = say.Words{}.Closed(g.Worst)
		}
		list = append(list, x)
	}
	return list
}
