package unit

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/photo"
	"yokemate/internal/web/kit"
	"yokemate/si"
)

// MaxUpload is the most that a form with a photo may hold [byte].
const MaxUpload = photo.MaxBytes + 64<<10

// PhotoPage is one photo, large, with a form to mark its pins.
type PhotoPage struct {
	Tag, Link string // of the unit
	At        string // of this page
	Overlay   Overlay
	Pins      []Choice
	Pin, X, Y string // typed, or proposed
	Marks     []Placed
	Trouble   kit.Trouble
}

// Placed is a mark in the list.
type Placed struct{ Pin, Words string }

// Overlay is a photo with its marks drawn over it.
type Overlay struct {
	Link, Src, Name string
	W, H            int
	Marks           template.HTML // nested in the picture's drawing
}

func photoLink(tag, id string) string { return link(tag) + "/photos/" + url.PathEscape(id) }

// overlay draws a photo's marks.
func overlay(tag string, p *yokemate.Photo, o figure.PhotoOptions) (Overlay, error) {
	x := Overlay{Link: photoLink(tag, p.ID), Name: p.Name, W: p.Width, H: p.Height}
	x.Src = x.Link + "/picture?v=" + strconv.FormatInt(p.At.UnixMilli(), 36)
	var err error
	x.Marks, err = kit.Drawing(figure.Marks(tag, p, o), svg.InlineOptions{Prefix: p.ID + "-"})
	return x, err
}

// overlays are photos that are chosen.
func (p *pages) overlays(r *http.Request, tag string, o figure.PhotoOptions, most int, choose func(*yokemate.Photo) bool) (list []Overlay, err error) {
	photos, err := p.kit.Store.Photos(r.Context(), tag)
	if err != nil {
		return nil, err
	}
	for i := range photos {
		if len(list) == most || !choose(&photos[i]) {
			continue
		}
		x, err := overlay(tag, &photos[i], o)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	return list, nil
}

// showing are the photos on which one of the pins is marked, at most two.
func (p *pages) showing(r *http.Request, tag string, pins, here []string) ([]Overlay, error) {
	return p.overlays(r, tag, figure.PhotoOptions{Here: here}, 2, func(x *yokemate.Photo) bool {
		return slices.ContainsFunc(pins, func(pin string) bool { return x.Mark(pin) != nil })
	})
}

// attach takes a photo in.
func (p *pages) attach(w http.ResponseWriter, r *http.Request) error {
	u, s, err := p.unit(r)
	if err != nil {
		return err
	}
	data, name, err := upload(r)
	var x *yokemate.Photo
	if err == nil {
		x, err = p.ready(data)
	}
	if err == nil {
		x.Name = name
		x, err = p.kit.Store.AddPhoto(r.Context(), u.Tag, *x)
	}
	if err != nil {
		return p.again(w, r, u, s, Page{PhotoName: name}, err)
	}
	return kit.See(w, r, photoLink(u.Tag, x.ID))
}

// ready makes a picture ready for keeping, one at a time, since a large one takes
// some of the memory.
func (p *pages) ready(data []byte) (*yokemate.Photo, error) {
	p.making.Lock()
	defer p.making.Unlock()
	return photo.Ready(data)
}

// upload reads the form with a picture.
func upload(r *http.Request) (data []byte, name string, err error) {
	const at = "the photo"
	if err := r.ParseMultipartForm(1 << 20); err != nil {
		if _, big := errors.AsType[*http.MaxBytesError](err); big {
			return nil, "", yokemate.Errorf(yokemate.Invalid, at, "the file has more than %d MB", photo.MaxBytes>>20).Mend("take the picture smaller")
		}
		return nil, "", yokemate.Errorf(yokemate.Invalid, at, "the form cannot be read").Mend("choose the file again")
	}
	defer r.MultipartForm.RemoveAll()
	name = strings.TrimSpace(kit.Typed(r.FormValue("name")))
	heads := r.MultipartForm.File["photo"]
	if len(heads) != 1 || heads[0].Size == 0 {
		return nil, name, yokemate.Errorf(yokemate.Invalid, at, "no picture was chosen").Mend("choose one JPEG or PNG file")
	}
	f, err := heads[0].Open()
	if err != nil {
		return nil, name, err
	}
	defer f.Close()
	data, err = io.ReadAll(f)
	return data, name, err
}

// picture sends the picture itself. Its address changes with it.
func (p *pages) picture(w http.ResponseWriter, r *http.Request) error {
	x, err := p.kit.Store.Photo(r.Context(), r.PathValue("tag"), r.PathValue("id"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Content-Length", strconv.Itoa(len(x.JPEG)))
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	if _, err := w.Write(x.JPEG); err != nil {
		p.kit.Log.Debug("a picture was not taken", "error", err)
	}
	return nil
}

// photo shows one photo.
func (p *pages) photo(w http.ResponseWriter, r *http.Request) error {
	return p.drawPhoto(w, r, http.StatusOK, PhotoPage{Pin: r.FormValue("pin")})
}

func (p *pages) drawPhoto(w http.ResponseWriter, r *http.Request, status int, x PhotoPage) error {
	u, _, err := p.unit(r)
	if err != nil {
		return err
	}
	list, err := p.kit.Store.Photos(r.Context(), u.Tag)
	if err != nil {
		return err
	}
	id := r.PathValue("id")
	i := slices.IndexFunc(list, func(y yokemate.Photo) bool { return y.ID == id })
	if i < 0 {
		return yokemate.Errorf(yokemate.NotFound, u.Tag, "it has no photo %q", id)
	}
	f := &list[i]
	ends := append(u.AllPins(), yokemate.CorePin)
	x.Tag, x.Link, x.At = u.Tag, link(u.Tag), photoLink(u.Tag, id)
	if x.Pin == "" { // the next that is not marked
		x.Pin = ends[0]
		if k := slices.IndexFunc(ends, func(e string) bool { return f.Mark(e) == nil }); k >= 0 {
			x.Pin = ends[k]
		}
	}
	if x.Overlay, err = overlay(u.Tag, f, figure.PhotoOptions{Grid: true}); err != nil {
		return err
	}
	for _, e := range ends {
		words := e
		if f.Mark(e) != nil {
			words += " (marked)"
		}
		x.Pins = append(x.Pins, Choice{e, words})
	}
	for _, m := range f.Marks {
		x.Marks = append(x.Marks, Placed{m.Pin, fmt.Sprintf("%s %% from the left, %s %% from the top", tenths(m.X), tenths(m.Y))})
	}
	return p.Photo.Show(w, status, "Photo "+id+" of "+u.Tag, "shelf", x)
}

// tenths is a part of one as per cent with one decimal.
func tenths(x float64) string { return strconv.FormatFloat(100*x, 'f', 1, 64) }

// mark takes a pin's place on a photo, takes a mark away, or names the photo.
func (p *pages) mark(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	u, _, err := p.unit(r)
	if err != nil {
		return err
	}
	f, err := p.kit.Store.Photo(r.Context(), u.Tag, r.PathValue("id"))
	if err != nil {
		return err
	}
	x := PhotoPage{Pin: r.PostFormValue("pin"), X: strings.TrimSpace(r.PostFormValue("x")), Y: strings.TrimSpace(r.PostFormValue("y"))}
	err = func() error {
		if pin := r.PostFormValue("clear"); pin != "" {
			f.ClearMark(pin)
			return p.kit.Store.SetPhoto(r.Context(), u.Tag, f)
		}
		m := yokemate.Mark{Pin: x.Pin}
		if m.Pin != yokemate.CorePin && !slices.Contains(u.AllPins(), m.Pin) {
			return yokemate.Errorf(yokemate.NotFound, u.Tag, "there is no pin %q", m.Pin).Mend("choose a pin, or core")
		}
		var err error
		if m.X, err = percent("from the left", x.X); err != nil {
			return err
		}
		if m.Y, err = percent("from the top", x.Y); err != nil {
			return err
		}
		f.SetMark(m)
		return p.kit.Store.SetPhoto(r.Context(), u.Tag, f)
	}()
	if err != nil {
		why := err
		if x.Trouble, err = p.kit.Trouble(why); err != nil {
			return err
		}
		return p.drawPhoto(w, r, kit.Status(why), x)
	}
	return kit.See(w, r, photoLink(u.Tag, f.ID)+"#mark")
}

// percent reads a place along a side of the picture.
func percent(place, text string) (float64, error) {
	v, err := si.Parse(strings.TrimSpace(strings.TrimSuffix(text, "%")), "")
	if err != nil || !(v >= 0 && v <= 100) {
		return 0, yokemate.Errorf(yokemate.Invalid, place, "%q is no per cent from 0 to 100", text).Mend("tap the picture, or type where the pin is, such as 12.5")
	}
	return math.Round(v*10) / 1000, nil // a thousandth is a pixel or two
}

// detach takes a photo away for good.
func (p *pages) detach(w http.ResponseWriter, r *http.Request) error {
	tag := r.PathValue("tag")
	if err := p.kit.Store.RemovePhoto(r.Context(), tag, r.PathValue("id")); err != nil && yokemate.ErrorCode(err) != yokemate.NotFound {
		return err
	}
	return kit.See(w, r, link(tag)+"#photos")
}
