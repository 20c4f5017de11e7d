// Package files is the page through which the bench's files come in and go out:
// the shelf, hookups and needs in the formats that other programs read, and the
// whole store as one file. What comes in is taken whole or not at all.
package files

import (
	"embed"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"path/filepath"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/web/kit"
)

//go:embed files.html
var files embed.FS

// The most that forms may hold [byte].
const (
	MaxBytes  = 64 << 20 // of files to import, photos included
	MaxBackup = 1 << 30  // of a whole store
)

// inMemory is how much of a form stays out of temporary files [byte].
const inMemory = 8 << 20

// Page is what the template shows.
type Page struct {
	Out     []Out
	Changes kit.Table
	Trouble kit.Trouble
	Back    *Back
}

// Back is what came back from a backup.
type Back struct {
	Counts kit.Table
	Kept   string // the name of the file that holds what was stored until now
	Newer  int    // readings and answers that are in that file alone
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
		{Pattern: "GET /files/album", Handler: p.album},
		{Pattern: "GET /files/backup", Handler: p.backup},
		{Pattern: "POST /files/backup", Handler: p.reinstate},
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
	x.Out = append(x.Out, Out{"/files/shelf", "The shelf: units, readings, meters"}, Out{"/files/album", "The shelf with its photos"})
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

// album is the shelf with the photos in it.
func (p *pages) album(w http.ResponseWriter, r *http.Request) error {
	s, err := p.kit.Store.Album(r.Context())
	if err != nil {
		return err
	}
	return send(w, "shelf-with-photos", s)
}

// backup sends the whole store as one file.
func (p *pages) backup(w http.ResponseWriter, r *http.Request) error {
	out := &late{w: w}
	if err := p.kit.Store.Backup(r.Context(), out); err != nil {
		if out.begun {
			p.kit.Log.Error("a backup broke off", "error", err)
			panic(http.ErrAbortHandler) // a file that is cut short must not look whole
		}
		return err
	}
	return nil
}

// late sets the headers of a backup with its first byte, so that what goes wrong
// before is a page.
type late struct {
	w     http.ResponseWriter
	begun bool
}

// Write passes bytes on.
func (l *late) Write(b []byte) (int, error) {
	if !l.begun {
		l.begun = true
		h := l.w.Header()
		h.Set("Content-Type", "application/vnd.sqlite3")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Disposition", "attachment; filename=yokemate-backup.db")
	}
	return l.w.Write(b)
}

// reinstate puts a backup in the place of everything stored. Its form says that
// this is wanted, since nothing of it can be undone by a tap.
func (p *pages) reinstate(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	back, err := p.takeBack(r)
	x := Page{Back: back}
	if err != nil {
		why := err
		if x.Trouble, err = p.kit.Trouble(why); err != nil {
			return err
		}
		return p.draw(w, r, kit.Status(why), x)
	}
	return p.draw(w, r, http.StatusOK, x)
}

func (p *pages) takeBack(r *http.Request) (*Back, error) {
	if err := r.ParseMultipartForm(inMemory); err != nil {
		if _, big := errors.AsType[*http.MaxBytesError](err); big {
			return nil, yokemate.Errorf(yokemate.Invalid, "the backup", "it is larger than a browser may send").Mend("use \"yokemate reinstate\" on the machine itself")
		}
		return nil, yokemate.Errorf(yokemate.Invalid, "the backup", "the form cannot be read").Mend("choose the file again")
	}
	defer r.MultipartForm.RemoveAll()
	heads := r.MultipartForm.File["backup"]
	if len(heads) != 1 || heads[0].Size == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "the backup", "none was chosen").Mend("choose a file that came from here")
	}
	if r.FormValue("sure") == "" {
		return nil, yokemate.Errorf(yokemate.Invalid, "the backup", "it is not said that it may take the place of everything stored").Mend("tick the box, and choose the file again")
	}
	f, err := heads[0].Open()
	if err != nil {
		return nil, err
	}
	defer f.Close()
	got, err := p.kit.Store.Reinstate(r.Context(), f)
	if err != nil {
		return nil, err
	}
	b := &Back{Kept: filepath.Base(got.Kept), Newer: got.Newer, Counts: kit.Table{Caption: "Back from the backup", Heads: []string{"what", "how many"}}}
	for _, c := range []struct {
		what string
		n    int
	}{{"units", got.Units}, {"readings", got.Readings}, {"photos", got.Photos}, {"hookups", got.Hookups}, {"needs", got.Needs}, {"proofs", got.Proofs}, {"heat runs", got.HeatRuns}} {
		b.Counts.Row(c.what, strconv.Itoa(c.n))
	}
	return b, nil
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
	if err := r.ParseMultipartForm(inMemory); err != nil {
		if _, big := errors.AsType[*http.MaxBytesError](err); big {
			return nil, yokemate.Errorf(yokemate.Invalid, "the files", "they are more than %d MB", MaxBytes>>20).Mend("import them one by one")
		}
		return nil, yokemate.Errorf(yokemate.Invalid, "the files", "the form cannot be read").Mend("choose the files again")
	}
	defer r.MultipartForm.RemoveAll()
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
