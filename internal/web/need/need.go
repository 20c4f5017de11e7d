// Package need is what is wanted and what the shelf gives for it: offers, best
// first, each drawn, and the near misses with the reason each was refused. An
// offer is taken by storing its hookup.
package need

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/find"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
)

//go:embed need.html list.html
var files embed.FS

// few is how many offers a page shows unless all are asked for.
const few = 5

// List is the page of all needs, with a form for a new one.
type List struct {
	Needs   []Card
	Trouble kit.Trouble
	Typed   Typed
}

// Card is one need in the list.
type Card struct{ Name, Link, Words string }

// Typed is the form of a need.
type Typed struct {
	Name, Kind, Volts, Amps, Within, Feed, Low, High, Hertz, Fuse, FuseKind, Rails string
	Joined                                                                         bool // to the mains: need not be isolated
	Regulated                                                                      bool
}

// Page is one need with its answer.
type Page struct {
	Name, Link, Words string
	Offers            []Offer
	More              int // offers that are not shown
	Refusals          []Refusal
	Lack              []string // what units and windings lack
	Trouble           kit.Trouble
}

// Offer is one hookup that meets the need.
type Offer struct {
	N       int
	Key     string
	Name    string
	Lines   []string
	Mark    say.Mark
	Notes   []yokemate.Note
	Drawing template.HTML
}

// Refusal is a near miss.
type Refusal struct {
	Name, Words string
	Why         yokemate.NoteCode
}

type pages struct {
	kit   *kit.Kit
	View  *kit.View[Page]
	List  *kit.View[List]
	found kit.Memo[string, *yokemate.Findings]
	drawn kit.Memo[string, template.HTML]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page], *kit.View[List]) {
	p := &pages{kit: k, drawn: kit.Memo[string, template.HTML]{Most: 64}, View: kit.NewView[Page](k, files, "need"), List: kit.NewView[List](k, files, "list")}
	return []kit.Route{
		{Pattern: "GET /needs", Handler: p.list},
		{Pattern: "POST /needs", Handler: p.add},
		{Pattern: "GET /needs/{name}", Handler: p.show},
		{Pattern: "POST /needs/{name}/take", Handler: p.take},
	}, p.View, p.List
}

func link(name string) string { return "/needs/" + url.PathEscape(name) }

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	return p.drawList(w, r, http.StatusOK, List{Typed: Typed{Kind: "ac", Within: "5", Feed: "230", Hertz: "50", FuseKind: "T", Rails: "1"}})
}

func (p *pages) drawList(w http.ResponseWriter, r *http.Request, status int, x List) error {
	ns, err := p.kit.Store.Needs(r.Context())
	if err != nil {
		return err
	}
	for i := range ns {
		x.Needs = append(x.Needs, Card{ns[i].Name, link(ns[i].Name), say.Words{}.Need(&ns[i])})
	}
	return p.List.Show(w, status, "Needs", "needs", x)
}

// add stores a need. One of the same name that says otherwise is left alone.
func (p *pages) add(w http.ResponseWriter, r *http.Request) error {
	v := r.PostFormValue
	t := Typed{v("name"), v("kind"), v("volts"), v("amps"), v("within"), v("feed"), v("low"), v("high"), v("hertz"), v("fuse"), v("fuse_kind"), v("rails"), v("joined") != "", v("regulated") != ""}
	n, err := t.need()
	if err == nil {
		_, err = p.kit.Store.Import(r.Context(), []yokemate.Document{{Source: "the form", Need: n}}, false)
	}
	if err == nil {
		return kit.See(w, r, link(n.Name))
	}
	x := List{Typed: t}
	why := err
	if x.Trouble, err = p.kit.Trouble(why); err != nil {
		return err
	}
	return p.drawList(w, r, kit.Status(why), x)
}

func (t *Typed) need() (*yokemate.Need, error) {
	n := &yokemate.Need{Format: yokemate.NeedFormat, Name: strings.TrimSpace(t.Name), Kind: t.Kind, Regulated: t.Regulated}
	if n.Name == "" {
		return nil, yokemate.Errorf(yokemate.Invalid, "name", "the need has no name").Mend("name what it is for, such as rope lights")
	}
	if t.Joined {
		no := false
		n.Isolated = &no
	}
	var feed float64
	for _, x := range []struct {
		place, text, unit string
		to                *float64
		must              bool
	}{
		{"volts", t.Volts, "V", &n.Volts, true},
		{"amps", t.Amps, "A", &n.Amps, true},
		{"within", t.Within, "", &n.Tolerance, false},
		{"mains volts", t.Feed, "V", &feed, true},
		{"lowest mains", t.Low, "V", &n.Feed.Low, false},
		{"highest mains", t.High, "V", &n.Feed.High, false},
		{"mains hertz", t.Hertz, "Hz", &n.Feed.Hertz, true},
		{"fuse", t.Fuse, "A", &n.Feed.FuseAmps, false},
	} {
		if strings.TrimSpace(x.text) == "" {
			if x.must {
				return nil, yokemate.Errorf(yokemate.Invalid, x.place, "it is missing").Mend("fill it in")
			}
			continue
		}
		v, err := kit.Number(x.place, x.text, x.unit)
		if err != nil {
			return nil, err
		}
		*x.to = v
	}
	n.Tolerance /= 100
	n.Feed.Volts = yokemate.Num(feed)
	if n.Feed.FuseAmps > 0 {
		n.Feed.FuseKind = t.FuseKind
	}
	if t.Rails != "" {
		k, err := strconv.Atoi(t.Rails)
		if err != nil {
			return nil, yokemate.Errorf(yokemate.Invalid, "rails", "there are 1 or 2 rails").Mend("choose 1 or 2")
		}
		n.Rails = k
	}
	return n, n.Validate()
}

// answer finds what the shelf gives for a need.
func (p *pages) answer(r *http.Request) (*yokemate.Need, *yokemate.Shelf, *yokemate.Findings, error) {
	n, err := p.kit.Store.Need(r.Context(), r.PathValue("name"))
	if err != nil {
		return nil, nil, nil, err
	}
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return nil, nil, nil, err
	}
	key, err := kit.Key(n, s)
	if err != nil {
		return nil, nil, nil, err
	}
	f, err := p.found.Get(key, func() (*yokemate.Findings, error) {
		return find.Find(network.Compile(s), n, find.Options{})
	})
	return n, s, f, err
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	return p.draw(w, r, http.StatusOK, kit.Trouble{})
}

func (p *pages) draw(w http.ResponseWriter, r *http.Request, status int, t kit.Trouble) error {
	n, s, f, err := p.answer(r)
	if n == nil {
		return err
	}
	x := Page{Name: n.Name, Link: link(n.Name), Words: say.Words{}.Need(n), Trouble: t}
	if err != nil {
		// The need stands; it has no answer, and the page says why.
		if x.Trouble, err = p.kit.Trouble(err); err != nil {
			return err
		}
		f = &yokemate.Findings{}
	}
	for i := range f.Offers {
		if i == few && r.FormValue("all") == "" {
			x.More = len(f.Offers) - i
			break
		}
		o, err := p.offer(&f.Offers[i], s, n, i)
		if err != nil {
			return err
		}
		x.Offers = append(x.Offers, *o)
	}
	for _, z := range f.Refusals {
		x.Refusals = append(x.Refusals, Refusal{z.Hookup.Name, say.Sentence(z.Words), z.Why})
	}
	for _, err := range find.Lacking(network.Compile(s)) {
		words, mend := p.kit.Explain(err)
		x.Lack = append(x.Lack, words+" "+mend)
	}
	return p.View.Show(w, status, "Need: "+n.Name, "needs", x)
}

// key tells one offer from another, whatever its place in the list.
func key(h *yokemate.Hookup) (string, error) {
	b, err := yokemate.Encode(h)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:8]), nil
}

func (p *pages) offer(o *yokemate.Offer, s *yokemate.Shelf, n *yokemate.Need, i int) (*Offer, error) {
	k, err := key(&o.Hookup)
	if err != nil {
		return nil, err
	}
	x := &Offer{N: i + 1, Key: k, Name: o.Hookup.Name, Mark: say.Words{}.Level(yokemate.Worst(o.Notes)), Notes: say.Graver(o.Notes)}
	x.Lines = say.Words{}.Offer(o, n)
	units, err := yokemate.Encode(s.Only(&o.Hookup))
	if err != nil {
		return nil, err
	}
	prefix := "o" + strconv.Itoa(i+1) + "-"
	x.Drawing, err = p.drawn.Get(prefix+k+string(units), func() (template.HTML, error) {
		scene, err := figure.Schematic(&o.Hookup, s, figure.SchematicOptions{})
		if err != nil {
			return "", err
		}
		return kit.Drawing(scene, svg.InlineOptions{Prefix: prefix})
	})
	return x, err
}

// take stores the hookup of an offer. A hookup of the same name that says
// otherwise is left alone, and the new one gets a number.
func (p *pages) take(w http.ResponseWriter, r *http.Request) error {
	n, _, f, err := p.answer(r)
	if err != nil {
		return err
	}
	want := r.PostFormValue("offer")
	for i := range f.Offers {
		h := f.Offers[i].Hookup.Clone()
		k, err := key(h)
		if err != nil {
			return err
		}
		if k != want {
			continue
		}
		base := h.Name
		if base == "" {
			base = n.Name
		}
		for try := 1; ; try++ {
			h.Name = base
			if try > 1 {
				h.Name += " " + strconv.Itoa(try)
			}
			_, err := p.kit.Store.Import(r.Context(), []yokemate.Document{{Source: "the offer", Hookup: h}}, false)
			if err == nil {
				return kit.See(w, r, "/hookups/"+url.PathEscape(h.Name))
			}
			if yokemate.ErrorCode(err) != yokemate.Conflict || try == 50 {
				return err
			}
		}
	}
	t, err := p.kit.Trouble(yokemate.Errorf(yokemate.Conflict, "the offer", "the shelf or the need has changed, and this offer is no longer among them").Mend("choose from the offers as they are now"))
	if err != nil {
		return err
	}
	return p.draw(w, r, http.StatusConflict, t)
}
