// Package kit is what all pages of the bench share: how a page is parsed,
// rendered and styled, how an error becomes a page, and the words for what the
// engine says.
//
// It knows no page, computes nothing, and sees the store only as root's
// interface.
package kit

import (
	"bytes"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"io"
	"io/fs"
	"log/slog"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"sync"
	"sync/atomic"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/lang"
)

//go:embed base.html base.css
var files embed.FS

// Kit is the shared part of one server.
type Kit struct {
	Store yokemate.Store
	Log   *slog.Logger

	// Writing holds the store between reading and adding, where an answer
	// depends on those before it.
	Writing sync.Mutex

	english atomic.Pointer[lang.Language] // of the store's mains; nil: not told yet

	assets map[string][]byte
	base   string // "/static/" and one hash over all assets
	failed *View[Failure]
}

// New makes a kit on a store. What cannot be shown to a person goes to log.
func New(s yokemate.Store, log *slog.Logger) *Kit {
	k := &Kit{Store: s, Log: log, assets: map[string][]byte{}}
	css, err := files.ReadFile("base.css")
	if err != nil {
		panic("kit: " + err.Error())
	}
	k.assets["base.css"] = append(css, svg.Stylesheet()...)
	k.failed = newView[Failure](k, files, "", failureHTML)
	return k
}

// Handler answers one request or returns why it cannot.
type Handler func(w http.ResponseWriter, r *http.Request) error

// Route is a pattern of the standard mux and what answers it.
type Route struct {
	Pattern string
	Handler Handler
}

// Handle wraps a handler: its error becomes a page.
func (k *Kit) Handle(h Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			k.Fail(w, r, err)
		}
	})
}

// View is a page's template with the shared frame about it. T is the page's
// data, which the template's first line names.
type View[T any] struct {
	Template *template.Template
	kit      *Kit
	style    string
	script   string
}

// Frame is what the frame of a page needs. Its template is base.html.
type Frame[T any] struct {
	Title string
	Here  string // the part of the bench the page belongs to, as in the navigation
	Data  T

	assets, style, script, access string
}

// Access is the header of an answer that tells who asked, where the bench is
// open to the local network: one of the three below. Pages read it there.
const (
	Access  = "Yokemate-Access"
	AtHome  = "home"    // the machine itself
	Looking = "looking" // a device that may not write
	Paired  = "paired"  // one that may
)

// Looking reports whether the page goes to a device that may not write.
func (f *Frame[T]) Looking() bool { return f.access == Looking }

// AtHome reports whether it goes to the machine itself, while the local network
// may look.
func (f *Frame[T]) AtHome() bool { return f.access == AtHome }

// Base is the path of the style that all pages share.
func (f *Frame[T]) Base() string { return f.assets + "/base.css" }

// Style is the path of the page's own style, or empty.
func (f *Frame[T]) Style() string { return f.style }

// Script is the path of the page's own script, or empty.
func (f *Frame[T]) Script() string { return f.script }

// NewView parses a page from its folder's files: name.html, and name.css and
// name.js where there are such. It panics when they cannot be parsed, since
// they are part of the program.
func NewView[T any](k *Kit, folder embed.FS, name string) *View[T] {
	page, err := folder.ReadFile(name + ".html")
	if err != nil {
		panic("kit: " + err.Error())
	}
	return newView[T](k, folder, name, string(page))
}

func newView[T any](k *Kit, folder fs.FS, name, page string) *View[T] {
	base, err := files.ReadFile("base.html")
	if err != nil {
		panic("kit: " + err.Error())
	}
	t := template.Must(template.New("base").Funcs(functions()).Funcs(template.FuncMap{"names": names}).Parse(string(base)))
	v := &View[T]{Template: template.Must(t.Parse(page)), kit: k}
	if name == "" {
		return v
	}
	for _, x := range []struct {
		ext string
		to  *string
	}{{".css", &v.style}, {".js", &v.script}} {
		if b, err := fs.ReadFile(folder, name+x.ext); err == nil {
			*x.to = name + x.ext
			k.assets[*x.to] = b
		}
	}
	return v
}

// Show renders the page to memory and sends it.
func (v *View[T]) Show(w http.ResponseWriter, status int, title, here string, data T) error {
	f := &Frame[T]{Title: title, Here: here, Data: data, assets: v.kit.root(), access: w.Header().Get(Access)}
	if v.style != "" {
		f.style = f.assets + "/" + v.style
	}
	if v.script != "" {
		f.script = f.assets + "/" + v.script
	}
	var b bytes.Buffer
	if err := v.Template.Execute(&b, f); err != nil {
		return &yokemate.Error{Code: yokemate.Internal, Message: "the page cannot be drawn", Err: err}
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if _, err := w.Write(b.Bytes()); err != nil {
		v.kit.Log.Debug("a page was not taken", "error", err)
	}
	return nil
}

// root is the path of all assets. Its hash covers every one of them, so what
// lies under it never changes.
func (k *Kit) root() string {
	if k.base == "" {
		panic("kit: a page is shown before Static was called")
	}
	return k.base
}

// Static closes the list of assets and returns what serves them.
func (k *Kit) Static() Route {
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(k.assets)) {
		io.WriteString(h, name+"\x00")
		h.Write(k.assets[name])
	}
	sum := hex.EncodeToString(h.Sum(nil))[:16]
	k.base = "/static/" + sum
	return Route{"GET /static/{hash}/{name}", func(w http.ResponseWriter, r *http.Request) error {
		name := r.PathValue("name")
		b, ok := k.assets[name]
		if !ok || r.PathValue("hash") != sum {
			return yokemate.Errorf(yokemate.NotFound, "", "there is no such file")
		}
		w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		if _, err := w.Write(b); err != nil {
			k.Log.Debug("a file was not taken", "error", err)
		}
		return nil
	}}
}

// Shelf is the store's shelf.
func (k *Kit) Shelf(ctx context.Context) (*yokemate.Shelf, error) { return k.Store.Shelf(ctx) }

// See sends the browser on to another page, after a form was taken.
func See(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
