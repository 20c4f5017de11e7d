// Package shelf is the first page: the units on the shelf, what is wanted next,
// and a form for a new unit whose pins are all that is known of it.
package shelf

import (
	"embed"
	"net/http"
	"net/url"
	"strings"

	"yokemate"
	"yokemate/internal/web/kit"
)

//go:embed shelf.html
var files embed.FS

// Page is what the template shows.
type Page struct {
	Units   []Unit
	Trouble kit.Trouble
	Tag     string // as typed
	Pins    string // as typed
}

// Unit is one card.
type Unit struct {
	Tag, Link string
	Origin    string
	Label     string // mains, rating
	Windings  string
	Away      string // why it is in quarantine
	Unknown   bool   // windings are not known yet
}

type pages struct {
	kit  *kit.Kit
	View *kit.View[Page]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page]) {
	p := &pages{k, kit.NewView[Page](k, files, "shelf")}
	return []kit.Route{
		{Pattern: "GET /{$}", Handler: p.show},
		{Pattern: "POST /units", Handler: p.add},
	}, p.View
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	return p.draw(w, r, http.StatusOK, Page{})
}

func (p *pages) draw(w http.ResponseWriter, r *http.Request, status int, x Page) error {
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	for i := range s.Units {
		x.Units = append(x.Units, card(&s.Units[i]))
	}
	return p.View.Show(w, status, "Shelf", "shelf", x)
}

func card(u *yokemate.Unit) Unit {
	c := Unit{Tag: u.Tag, Link: Link(u.Tag), Origin: u.Origin, Unknown: len(u.Windings) == 0}
	if u.Quarantined() {
		c.Away = u.Reason
	}
	var label []string
	if m := u.Mains; m != nil {
		label = append(label, kit.Plain(m.Volts)+" V "+kit.Plain(m.Hertz)+" Hz")
	}
	if u.VA.Known() {
		label = append(label, u.VA.Digits+" VA")
	}
	c.Label = strings.Join(label, ", ")
	var ws []string
	for _, x := range u.Windings {
		if u.MainsSide(x.ID) {
			continue
		}
		t := x.ID
		if x.Volts.Known() {
			t += " " + x.Volts.Digits + " V"
		}
		if x.Amps.Known() {
			t += " " + x.Amps.Digits + " A"
		}
		ws = append(ws, t)
	}
	c.Windings = strings.Join(ws, " · ")
	return c
}

// Link is the address of a unit's page.
func Link(tag string) string { return "/units/" + url.PathEscape(tag) }

// add puts a unit on the shelf that is known by its pins alone.
func (p *pages) add(w http.ResponseWriter, r *http.Request) error {
	tag := strings.TrimSpace(r.PostFormValue("tag"))
	pins := strings.FieldsFunc(r.PostFormValue("pins"), func(c rune) bool { return c == ',' || c == ' ' })
	u := &yokemate.Unit{Tag: tag, Terminals: pins}
	err := p.kit.Store.AddUnit(r.Context(), u)
	if err == nil {
		return kit.See(w, r, Link(tag))
	}
	x := Page{Tag: tag, Pins: r.PostFormValue("pins")}
	if x.Trouble, err = p.kit.Trouble(err); err != nil {
		return err
	}
	return p.draw(w, r, http.StatusUnprocessableEntity, x)
}
