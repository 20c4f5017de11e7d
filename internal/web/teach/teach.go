// Package teach is the page that hands out the teaching page of a hookup as a
// file to keep.
package teach

import (
	"embed"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"unicode"

	"yokemate"
	"yokemate/internal/teach"
	"yokemate/internal/web/kit"
	"yokemate/prove"
)

//go:embed teach.html
var files embed.FS

// Page is what the template shows.
type Page struct {
	Name, Link, File string
	Why              kit.Trouble // why there is no file
	Cautions         []string
}

type pages struct {
	kit  *kit.Kit
	View *kit.View[Page]
	made kit.Memo[string, []byte] // by language, shelf and hookup: a page takes seconds to work out
	fits kit.Memo[string, error]  // why a hookup cannot be taught with
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page]) {
	p := &pages{kit: k, View: kit.NewView[Page](k, files, "teach"), made: kit.Memo[string, []byte]{Most: 4}}
	return []kit.Route{
		{Pattern: "GET /hookups/{name}/teach", Handler: p.show},
		{Pattern: "GET /hookups/{name}/teach/page", Handler: p.file},
	}, p.View
}

// wired is the hookup that is asked for, with its units.
func (p *pages) wired(r *http.Request) (*yokemate.Hookup, *yokemate.Shelf, error) {
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return nil, nil, err
	}
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return nil, nil, err
	}
	return h, s.Only(h), nil
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	h, s, err := p.wired(r)
	if err != nil {
		return err
	}
	x := Page{Name: h.Name, Link: "/hookups/" + url.PathEscape(h.Name), Cautions: prove.Cautions()}
	x.File = x.Link + "/teach/page"
	key, err := kit.Key(h, s)
	if err != nil {
		return err
	}
	why, err := p.fits.Get(key, func() (error, error) { return teach.Check(s, h, teach.Options{}), nil })
	if err != nil {
		return err
	}
	if why != nil {
		if x.Why, err = p.kit.Trouble(why); err != nil {
			return err
		}
	}
	return p.View.Show(w, http.StatusOK, "Teach with "+h.Name, "hookups", x)
}

func (p *pages) file(w http.ResponseWriter, r *http.Request) error {
	h, s, err := p.wired(r)
	if err != nil {
		return err
	}
	key, err := keyOf(s, h)
	if err != nil {
		return err
	}
	tongue := p.kit.Language(r)
	b, err := p.made.Get(tongue.Tag+key, func() ([]byte, error) {
		var o teach.Options
		o.Figure.Say, o.Figure.Locale = tongue.Say, tongue.Locale
		return teach.Build(s, h, o)
	})
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": "teach-" + plain(h.Name) + ".html"}))
	_, err = w.Write(b)
	return err
}

// keyOf tells one page from another.
func keyOf(s *yokemate.Shelf, h *yokemate.Hookup) (string, error) {
	a, err := yokemate.Encode(s)
	if err != nil {
		return "", err
	}
	b, err := yokemate.Encode(h)
	return string(a) + string(b), err
}

// plain is a name of letters, digits and hyphens.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return '-'
	}, name)
}
