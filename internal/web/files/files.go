// Package files is the page through which the bench's files come in and go out:
// the shelf, hookups and needs in the formats that other programs read. What
// comes in is taken whole or not at all.
package files

import (
	"embed"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"

	"yokemate"
	"yokemate/internal/web/kit"
)

//go:embed files.html
var files embed.FS

// MaxBytes is the most that one import may hold [byte].
const MaxBytes = 8 << 20

// Page is what the template shows.
type Page struct {
	Out     []Out
	Changes kit.Table
	Trouble kit.Trouble
}

// Out is a file to take away.
type Out struct{ Link, Words string }

type pages struct {
	kit  *kit.Kit
	View *kit.View[Page]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page]) {
	p := &pages{k, kit.NewView[Page](k, files, "files")}
	return []kit.Route{
		{Pattern: "GET /files", Handler: p.show},
		{Pattern: "POST /files", Handler: p.take},
		{Pattern: "GET /files/shelf", Handler: p.shelf},
		{Pattern: "GET /files/hookups/{name}", Handler: p.hookup},
		{Pattern: "GET /files/needs/{name}", Handler: p.need},
	}, p.View
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	return p.draw(w, r, http.StatusOK, Page{})
}

func (p *pages) draw(w http.ResponseWriter, r *http.Request, status int, x Page) error {
	hs, err := p.kit.Store.Hookups(r.Context())
	if err != nil {
		return err
	}
	ns, err := p.kit.Store.Needs(r.Context())
	if err != nil {
		return err
	}
	x.Out = append(x.Out, Out{"/files/shelf", "The shelf: units, readings, meters"})
	for i := range hs {
		x.Out = append(x.Out, Out{"/files/hookups/" + url.PathEscape(hs[i].Name), "Hookup: " + hs[i].Name})
	}
	for i := range ns {
		x.Out = append(x.Out, Out{"/files/needs/" + url.PathEscape(ns[i].Name), "Need: " + ns[i].Name})
	}
	return p.View.Show(w, status, "Files", "files", x)
}

// send writes v as the file that the command line would export.
func send(w http.ResponseWriter, name string, v any) error {
	b, err := yokemate.Encode(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name + ".json"}))
	_, err = w.Write(b)
	return err
}

func (p *pages) shelf(w http.ResponseWriter, r *http.Request) error {
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	return send(w, "shelf", s)
}

func (p *pages) hookup(w http.ResponseWriter, r *http.Request) error {
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	return send(w, plain("hookup-"+h.Name), h)
}

func (p *pages) need(w http.ResponseWriter, r *http.Request) error {
	n, err := p.kit.Store.Need(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	return send(w, plain("need-"+n.Name), n)
}

// plain is a name without what file systems do not take.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(`/\:*?"<>| `, r) || r < ' ' {
			return '-'
		}
		return r
	}, name)
}

// take imports the files of the form.
func (p *pages) take(w http.ResponseWriter, r *http.Request) error {
	docs, err := read(r)
	var changes []yokemate.Change
	if err == nil {
		changes, err = p.kit.Store.Import(r.Context(), docs, r.FormValue("replace") != "")
	}
	if err != nil {
		x, why := Page{}, err
		if x.Trouble, err = p.kit.Trouble(why); err != nil {
			return err
		}
		return p.draw(w, r, kit.Status(why), x)
	}
	x := Page{Changes: kit.Table{Caption: "Taken in", Heads: []string{"what", "how", "from"}}}
	for _, c := range changes {
		x.Changes.Row(c.What, c.How, c.Source)
	}
	return p.draw(w, r, http.StatusOK, x)
}

func read(r *http.Request) ([]yokemate.Document, error) {
	if err := r.ParseMultipartForm(MaxBytes); err != nil {
		if _, big := errors.AsType[*http.MaxBytesError](err); big {
			return nil, yokemate.Errorf(yokemate.Invalid, "the files", "they are more than 8 MB").Mend("import them one by one")
		}
		return nil, yokemate.Errorf(yokemate.Invalid, "the files", "the form cannot be read").Mend("choose the files again")
	}
	var docs []yokemate.Document
	for _, head := range r.MultipartForm.File["file"] {
		f, err := head.Open()
		if err != nil {
			return nil, err
		}
		b, err := io.ReadAll(f)
		if err := errors.Join(err, f.Close()); err != nil {
			return nil, err
		}
		d := yokemate.Document{Source: head.Filename}
		switch yokemate.FormatOf(b) {
		case yokemate.HookupFormat:
			d.Hookup, err = yokemate.DecodeHookup(b)
		case yokemate.NeedFormat:
			d.Need, err = yokemate.DecodeNeed(b)
		default: // a shelf, or nothing that is known: its decoder says what is wrong
			d.Shelf, err = yokemate.DecodeShelf(b)
		}
		if err != nil {
			return nil, &yokemate.SourceError{Source: head.Filename, Err: err}
		}
		docs = append(docs, d)
	}
	if len(docs) == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "the files", "none was chosen").Mend("choose a shelf, hookup or need file")
	}
	return docs, nil
}
