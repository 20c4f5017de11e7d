// Package paper is what goes on paper from the browser: the bench sheet of a
// hookup or of a proof, the label of the finished supply, the label of a unit;
// and the way back, from the text of a sheet's codes to the record.
//
// What it sends is what the commands sheet and label write, byte for byte.
package paper

import (
	"embed"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
	"yokemate/internal/lang"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/internal/sheet"
	"yokemate/internal/web/kit"
)

//go:embed paper.html paper.css restore.html
var files embed.FS

// Page offers the papers of one thing.
type Page struct {
	Name        string // of the hookup or the unit
	Proof       string // the proof's number; empty: none
	Link, Back  string
	Unit        bool // a unit has a label alone
	Typed       Typed
	Pages, Inks []Choice
	Asked       bool
	Papers      []Paper // once asked
	Trouble     kit.Trouble
}

// Typed is what was chosen.
type Typed struct {
	Page, Ink, Who, For, Not, Rise, DoNot string
}

// Choice is an entry of a list.
type Choice struct {
	Value, Words string
	Now          bool
}

// Paper is one file to print, with its pages as pictures.
type Paper struct {
	Words  string
	PDF    string
	Sheets []Sheet
	Small  bool // a label
}

// Sheet is one page as a picture.
type Sheet struct {
	Src, Words string
	W, H       int // [px at 96 to the inch]
}

type pages struct {
	kit     *kit.Kit
	View    *kit.View[Page]
	Restore *kit.View[Restore]
	jobs    kit.Memo[string, *paper.Finished]
	drawn   kit.Memo[string, made] // of a job
	labels  kit.Memo[string, *sheet.UnitLabel]
}

// Views are the package's templates, for their check.
type Views struct {
	Page    *kit.View[Page]
	Restore *kit.View[Restore]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, Views) {
	p := &pages{kit: k, View: kit.NewView[Page](k, files, "paper"), Restore: kit.NewView[Restore](k, files, "restore"),
		jobs: kit.Memo[string, *paper.Finished]{Most: 24}, labels: kit.Memo[string, *sheet.UnitLabel]{Most: 24}, drawn: kit.Memo[string, made]{Most: 64}}
	routes := []kit.Route{
		{Pattern: "GET /paper", Handler: p.restoreForm},
		{Pattern: "POST /paper/record", Handler: p.restore},
	}
	for _, x := range []struct {
		at  string
		get func(*http.Request) (subject, error)
	}{{"/hookups/{name}", p.ofHookup}, {"/proofs/{id}", p.ofProof}, {"/units/{tag}", p.ofUnit}} {
		routes = append(routes,
			kit.Route{Pattern: "GET " + x.at + "/paper", Handler: func(w http.ResponseWriter, r *http.Request) error { return p.show(w, r, x.get) }},
			kit.Route{Pattern: "GET " + x.at + "/paper/{file}", Handler: func(w http.ResponseWriter, r *http.Request) error { return p.file(w, r, x.get) }})
	}
	return routes, Views{p.View, p.Restore}
}

// subject is what papers are made of: a job, or a unit.
type subject struct {
	page  Page
	job   paper.Job
	unit  *yokemate.Unit
	shelf *yokemate.Shelf
}

func (p *pages) ofHookup(r *http.Request) (subject, error) {
	h, s, err := p.kit.Wired(r)
	if err != nil {
		return subject{}, err
	}
	at := "/hookups/" + url.PathEscape(h.Name)
	return subject{page: Page{Name: h.Name, Back: at, Link: at + "/paper"}, job: paper.Job{Hookup: h, Shelf: s, Air: paper.Ambient, Box: 1}}, nil
}

func (p *pages) ofProof(r *http.Request) (subject, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return subject{}, yokemate.Errorf(yokemate.NotFound, "proof "+r.PathValue("id"), "there is no such proof")
	}
	q, err := p.kit.Store.Proof(r.Context(), id)
	if err != nil {
		return subject{}, err
	}
	at := "/proofs/" + strconv.FormatInt(id, 10)
	j := paper.OfProof(q)
	j.Box = 1
	return subject{page: Page{Name: q.Hookup.Name, Proof: strconv.FormatInt(id, 10), Back: at + "/record", Link: at + "/paper"}, job: j}, nil
}

func (p *pages) ofUnit(r *http.Request) (subject, error) {
	s, err := p.kit.Shelf(r.Context())
	if err != nil {
		return subject{}, err
	}
	u := s.Unit(r.PathValue("tag"))
	if u == nil {
		return subject{}, yokemate.Errorf(yokemate.NotFound, r.PathValue("tag"), "there is no such unit on the shelf").Mend("choose one from the shelf")
	}
	at := "/units/" + url.PathEscape(u.Tag)
	return subject{page: Page{Name: u.Tag, Unit: true, Back: at, Link: at + "/paper"}, unit: u, shelf: s}, nil
}

// typed reads the choices from the address.
func typed(r *http.Request) (Typed, error) {
	v := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	t := Typed{v("page"), v("ink"), v("who"), v("for"), v("not"), v("rise"), v("do_not")}
	switch t.Page {
	case "", "a4", "letter":
	default:
		return t, yokemate.Errorf(yokemate.Invalid, "paper", "%q is no size of paper here", t.Page).Mend("choose A4 or Letter")
	}
	switch t.Ink {
	case "", "colour", "greys":
	default:
		return t, yokemate.Errorf(yokemate.Invalid, "ink", "it is in colour or in greys").Mend("choose one of them")
	}
	return t, nil
}

func (t *Typed) query() string {
	q := url.Values{"page": {t.Page}, "ink": {t.Ink}}
	for _, x := range []struct{ name, value string }{{"who", t.Who}, {"for", t.For}, {"not", t.Not}, {"rise", t.Rise}, {"do_not", t.DoNot}} {
		if x.value != "" {
			q.Set(x.name, x.value)
		}
	}
	return "?" + q.Encode()
}

func (t *Typed) greys() bool { return t.Ink == "greys" }

// made is a paper drawn.
type made struct {
	words string
	pages []draw.Scene
}

// make draws one paper of a subject: its sheet or its label.
func (p *pages) make(s *subject, kind string, t *Typed, l *lang.Language) (made, error) {
	o := paper.In(figure.Options{}, l)
	if s.unit != nil {
		if kind != "label" {
			return made{}, yokemate.Errorf(yokemate.NotFound, "", "a unit has a label alone")
		}
		return p.unitLabel(s, t, l, o)
	}
	key, err := kit.Key(struct {
		Hookup  *yokemate.Hookup
		Answers []yokemate.Answer
		Date    string
	}{s.job.Hookup, s.job.Answers, s.job.Date.String()}, s.job.Shelf)
	if err != nil {
		return made{}, err
	}
	x, err := p.jobs.Get(key, func() (*paper.Finished, error) { return paper.Gather(s.job) })
	if err != nil {
		return made{}, err
	}
	return p.drawn.Get(kind+" "+l.Tag+t.query()+key, func() (made, error) {
		if kind == "label" {
			return made{"label of supply " + s.page.Name, []draw.Scene{x.Label(o, t.For, t.Not, t.Who)}}, nil
		}
		size := sheet.A4
		if t.Page == "letter" {
			size = sheet.Letter
		}
		drawn, err := x.Sheet(o, size, t.Who)
		return made{"bench sheet", drawn}, err
	})
}

func (p *pages) unitLabel(s *subject, t *Typed, l *lang.Language, o figure.Options) (made, error) {
	rise, err := paper.Rise("the rise", t.Rise)
	if err != nil {
		return made{}, err
	}
	key, err := kit.Key(l.Tag+" "+s.unit.Tag, s.shelf)
	if err != nil {
		return made{}, err
	}
	kept, err := p.labels.Get(key, func() (*sheet.UnitLabel, error) { return paper.Unit(o, s.unit, s.shelf, "") })
	if err != nil {
		return made{}, err
	}
	label := *kept
	label.Unit, label.Who, label.RiseK, label.DoNot, label.Date = s.unit, t.Who, rise, t.DoNot, paper.LastRead(s.unit)
	return made{"label of unit " + s.unit.Tag, []draw.Scene{label.Scene()}}, nil
}

// show is the page of choices, and of the papers once they are chosen.
func (p *pages) show(w http.ResponseWriter, r *http.Request, get func(*http.Request) (subject, error)) error {
	s, err := get(r)
	if err != nil {
		return err
	}
	x, l := s.page, p.kit.Language(r)
	status := http.StatusOK
	x.Typed, err = typed(r)
	if err == nil && x.Typed.Page != "" {
		x.Asked = true
		kinds := []string{"sheet", "label"}
		if x.Unit {
			kinds = kinds[1:]
		}
		for _, kind := range kinds {
			var one Paper
			if one, err = p.paper(&s, kind, &x.Typed, l); err != nil {
				break
			}
			x.Papers = append(x.Papers, one)
		}
	}
	if err != nil {
		x.Asked, x.Papers, status = false, nil, kit.Status(err)
		if x.Trouble, err = p.kit.Trouble(err); err != nil {
			return err
		}
	}
	if x.Typed.Page == "" && l.Tag == "en-US" {
		x.Typed.Page = "letter"
	}
	x.Pages = []Choice{{"a4", "A4", x.Typed.Page != "letter"}, {"letter", "Letter", x.Typed.Page == "letter"}}
	x.Inks = []Choice{{"colour", "In colour", !x.Typed.greys()}, {"greys", "Without colour", x.Typed.greys()}}
	here, title := "hookups", x.Name
	switch {
	case x.Unit:
		here, title = "shelf", "unit "+x.Name
	case x.Proof != "":
		here, title = "proofs", "proof "+x.Proof+", "+x.Name
	}
	return p.View.Show(w, status, "On paper: "+title, here, x)
}

// paper describes one paper with the links to its files.
func (p *pages) paper(s *subject, kind string, t *Typed, l *lang.Language) (Paper, error) {
	m, err := p.make(s, kind, t, l)
	if err != nil {
		return Paper{}, err
	}
	x := Paper{Words: say.Title(m.words), PDF: s.page.Link + "/" + kind + ".pdf" + t.query(), Small: kind == "label"}
	px := func(mm float64) int { return int(mm*96/25.4 + 0.5) }
	for i, q := range m.pages {
		n := strconv.Itoa(i + 1)
		x.Sheets = append(x.Sheets, Sheet{Src: s.page.Link + "/" + kind + "-" + n + ".svg" + t.query(),
			Words: "Page " + n + " of " + strconv.Itoa(len(m.pages)), W: px(q.W), H: px(q.H)})
	}
	return x, nil
}

// file sends a paper: KIND.pdf whole, or KIND-N.svg its page N.
func (p *pages) file(w http.ResponseWriter, r *http.Request, get func(*http.Request) (subject, error)) error {
	s, err := get(r)
	if err != nil {
		return err
	}
	t, err := typed(r)
	if err != nil {
		return err
	}
	name, kind, n := r.PathValue("file"), "", 0
	if k, ok := strings.CutSuffix(name, ".pdf"); ok {
		kind = k
	} else if k, ok := strings.CutSuffix(name, ".svg"); ok {
		var page string
		kind, page, _ = strings.Cut(k, "-")
		if n, err = strconv.Atoi(page); err != nil || strconv.Itoa(n) != page || n < 1 {
			kind = ""
		}
	}
	missing := yokemate.Errorf(yokemate.NotFound, "", "there is no such paper").Mend("choose one on the page before")
	if kind != "sheet" && kind != "label" {
		return missing
	}
	l := p.kit.Language(r)
	m, err := p.make(&s, kind, &t, l)
	if err != nil {
		return err
	}
	var b []byte
	mime := "application/pdf"
	switch {
	case n == 0:
		b, err = paper.PDF(m.pages, l.Text(m.words), l.Tag, t.greys())
	case n > len(m.pages):
		return missing
	default:
		mime = "image/svg+xml"
		b, err = paper.SVG(&m.pages[n-1], t.greys())
	}
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", mime)
	w.Header().Set("Cache-Control", "no-store")
	_, err = w.Write(b)
	return err
}
