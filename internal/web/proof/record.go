package proof

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/prove"
)

// Record is the page of everything that was answered in a proof.
type Record struct {
	ID, Link           string
	Hookup, HookupLink string
	Opened, Changed    string
	Mark               say.Mark
	Next               string // the step that comes now; empty when it is over
	Drawing            template.HTML
	Entries            []Entry
	NotProven          []yokemate.Note
	Against            []yokemate.Note
	Cautions           []string
}

// Entry is one answer.
type Entry struct {
	When, Step, Do, Shown, Right, Words, Reason, Note string
	Mark                                              say.Mark
}

func (p *pages) record(w http.ResponseWriter, r *http.Request) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, err := p.load(r)
	if err != nil {
		return err
	}
	q, err := p.kit.Store.Proof(r.Context(), b.id)
	if err != nil {
		return err
	}
	x := Record{ID: strconv.FormatInt(b.id, 10), Link: link(b.id), Hookup: b.hookup.Name, HookupLink: "/hookups/" + url.PathEscape(b.hookup.Name),
		Opened: q.Opened.Format("2006-01-02 15:04"), Changed: q.Changed.Format("2006-01-02 15:04"), Mark: say.Words{}.State(b.session.State()),
		NotProven: b.session.Notes(), Against: say.Graver(b.plan.Notes()), Cautions: prove.Cautions()}
	if id := b.session.Next(); id != "" && b.session.State() == yokemate.ProofOpen {
		x.Next = strconv.Itoa(slices.Index(b.plan.IDs(), id)+1) + ". " + b.plan.Step(id).Do
	}
	scene, err := figure.Schematic(b.hookup, b.shelf, figure.SchematicOptions{})
	if err != nil {
		return err
	}
	if x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "r-"}); err != nil {
		return err
	}
	for i, t := range b.taken {
		e := Entry{Mark: say.Words{}.Given(&t.answer, t.verdict), When: q.Answers[i].At.Format("2006-01-02 15:04:05"), Step: t.answer.Step, Do: t.do, Right: t.right, Reason: t.answer.Reason, Note: t.answer.Note}
		switch {
		case t.answer.Changed != "":
			e.Words = t.mended()
		case t.verdict != nil:
			e.Words, e.Shown = t.verdict.Words, t.shown()
		}
		x.Entries = append(x.Entries, e)
	}
	return p.Record.Show(w, http.StatusOK, "Record of proof "+x.ID, "proofs", x)
}
