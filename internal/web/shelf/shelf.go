// Package shelf is the first page: the units on the shelf and a form for a new
// one whose pins are all that is known of it; and the page of the bench itself,
// its mains and its meters.
package shelf

import (
	"embed"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
)

//go:embed shelf.html bench.html
var files embed.FS

// Page is what the template shows.
type Page struct {
	Units   []Unit
	Trouble kit.Trouble
	Typed   Typed
	Bench   string // what holds at the bench, in a line; empty: nobody has said it
	Meter   string // the meter that plain numbers count as read on
}

// Typed is the form of a new unit.
type Typed struct{ Tag, Pins, Origin string }

// Unit is one card.
type Unit struct {
	Tag, Link string
	Origin    string
	Label     string // mains, rating
	Windings  []string
	Away      string // why it is in quarantine
	Unknown   bool   // windings are not known yet
}

type pages struct {
	kit   *kit.Kit
	View  *kit.View[Page]
	Bench *kit.View[BenchPage]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page], *kit.View[BenchPage]) {
	p := &pages{k, kit.NewView[Page](k, files, "shelf"), kit.NewView[BenchPage](k, files, "bench")}
	return []kit.Route{
		{Pattern: "GET /{$}", Handler: p.show},
		{Pattern: "POST /units", Handler: p.add},
		{Pattern: "GET /bench", Handler: p.bench},
		{Pattern: "POST /bench", Handler: p.setBench},
		{Pattern: "POST /meters", Handler: p.addMeter},
	}, p.View, p.Bench
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
	b, err := p.kit.Store.Bench(r.Context())
	if err != nil {
		return err
	}
	if b != nil {
		x.Bench = benchWords(b)
	}
	if len(s.Meters) > 0 {
		x.Meter = s.Meters[0].Name
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
		label = append(label, say.Plain(m.Volts)+" V "+say.Plain(m.Hertz)+" Hz")
	}
	if u.VA.Known() {
		label = append(label, u.VA.Digits+" VA")
	}
	c.Label = strings.Join(label, ", ")
	for _, x := range u.Windings {
		if u.MainsSide(x.ID) {
			continue
		}
		t := x.ID
		if x.Volts.Known() {
			t += " " + say.Words{}.Fact(x.Volts, "V")
		}
		if x.Amps.Known() {
			t += " " + say.Words{}.Fact(x.Amps, "A")
		}
		c.Windings = append(c.Windings, t)
	}
	return c
}

// Link is the address of a unit's page.
func Link(tag string) string { return "/units/" + url.PathEscape(tag) }

// add puts a unit on the shelf that is known by its pins alone.
func (p *pages) add(w http.ResponseWriter, r *http.Request) error {
	v := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	t := Typed{v("tag"), v("pins"), v("origin")}
	u := &yokemate.Unit{Tag: t.Tag, Origin: t.Origin}
	err := pinsOf(u, t.Pins)
	if err == nil {
		err = p.kit.Store.AddUnit(r.Context(), u)
	}
	if err == nil {
		return kit.See(w, r, Link(t.Tag))
	}
	x := Page{Typed: t}
	if x.Trouble, err = p.kit.Trouble(err); err != nil {
		return err
	}
	return p.draw(w, r, http.StatusUnprocessableEntity, x)
}

// mostPins is the largest unit that can be found out.
const mostPins = 24

// pinsOf gives the unit the pins that were typed: names, a slash between two
// rows, or how many there are.
func pinsOf(u *yokemate.Unit, text string) error {
	at := u.Tag
	if at == "" {
		at = "the pins"
	}
	if n, err := strconv.Atoi(text); err == nil {
		if n < 2 || n > mostPins {
			return yokemate.Errorf(yokemate.Invalid, at, "%d is no number of pins", n).Mend("give their number, such as 8, or their names with spaces, such as 1 2 5 6")
		}
		for i := range n {
			u.Terminals = append(u.Terminals, strconv.Itoa(i+1))
		}
		return nil
	}
	rows := strings.Split(text, "/")
	if len(rows) > 2 {
		return yokemate.Errorf(yokemate.Invalid, at, "there are more than two rows of pins").Mend("write the near row, a slash, and the far row")
	}
	for _, row := range rows {
		pins := strings.FieldsFunc(row, func(c rune) bool { return c == ',' || c == ' ' })
		u.Terminals = append(u.Terminals, pins...)
		u.PinRows = append(u.PinRows, pins)
	}
	if len(rows) == 1 {
		u.PinRows = nil
	}
	if len(u.Terminals) < 2 || len(u.Terminals) > mostPins {
		return yokemate.Errorf(yokemate.Invalid, at, "%d is no number of pins", len(u.Terminals)).Mend("give their number, such as 8, or their names with spaces, such as 1 2 5 6")
	}
	return nil
}
