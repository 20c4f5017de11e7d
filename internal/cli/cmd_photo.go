package cli

import (
	"bytes"
	"context"
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/photo"
)

type photoCmd struct {
	Add    photoAddCmd    `cmd:"" help:"Attach a picture to a unit: made smaller, upright, and freed of what a camera adds."`
	List   photoListCmd   `cmd:"" help:"List a unit's photos and what is marked on them."`
	Mark   photoMarkCmd   `cmd:"" help:"Say where on a photo a pin is."`
	Save   photoSaveCmd   `cmd:"" help:"Write a photo to a file."`
	Remove photoRemoveCmd `cmd:"" help:"Take a photo away for good."`
}

// album is where photos are kept: the store, or one shelf file.
type album interface {
	Photos(ctx context.Context, tag string) ([]yokemate.Photo, error)
	Photo(ctx context.Context, tag, id string) (*yokemate.Photo, error)
	AddPhoto(ctx context.Context, tag string, p yokemate.Photo) (*yokemate.Photo, error)
	SetPhoto(ctx context.Context, tag string, p *yokemate.Photo) error
	RemovePhoto(ctx context.Context, tag, id string) error
}

func (a *App) album() (album, error) {
	if a.ShelfFile != "" {
		return &shelfFile{a, a.ShelfFile, a.Now}, nil
	}
	return a.Store()
}

func (f *shelfFile) Photos(ctx context.Context, tag string) ([]yokemate.Photo, error) {
	s, err := f.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	u := s.Unit(tag)
	if u == nil {
		return nil, noUnit(tag)
	}
	return u.Photos, nil
}

func noPhoto(tag, id string) error {
	return yokemate.Errorf(yokemate.NotFound, tag, "it has no photo %q", id).Mend("see them with \"yokemate photo list %s\"", tag)
}

func (f *shelfFile) Photo(ctx context.Context, tag, id string) (*yokemate.Photo, error) {
	list, err := f.Photos(ctx, tag)
	if err != nil {
		return nil, err
	}
	if i := photoAt(list, id); i >= 0 {
		return &list[i], nil
	}
	return nil, noPhoto(tag, id)
}

func photoAt(list []yokemate.Photo, id string) int {
	return slices.IndexFunc(list, func(p yokemate.Photo) bool { return p.ID == id })
}

// onPhotos changes the photos of a unit in the file.
func (f *shelfFile) onPhotos(ctx context.Context, tag string, edit func(u *yokemate.Unit) error) error {
	return f.change(ctx, func(s *yokemate.Shelf) error {
		u := s.Unit(tag)
		if u == nil {
			return noUnit(tag)
		}
		return edit(u)
	})
}

func (f *shelfFile) AddPhoto(ctx context.Context, tag string, p yokemate.Photo) (*yokemate.Photo, error) {
	err := f.onPhotos(ctx, tag, func(u *yokemate.Unit) error {
		if i := slices.IndexFunc(u.Photos, func(x yokemate.Photo) bool { return bytes.Equal(x.JPEG, p.JPEG) }); i >= 0 {
			p = u.Photos[i]
			return nil
		}
		for n := len(u.Photos) + 1; p.ID == ""; n++ {
			if id := "p" + strconv.Itoa(n); photoAt(u.Photos, id) < 0 {
				p.ID = id
			}
		}
		p.At = f.now().UTC()
		u.Photos = append(u.Photos, p)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return &p, nil
}

func (f *shelfFile) SetPhoto(ctx context.Context, tag string, p *yokemate.Photo) error {
	return f.onPhotos(ctx, tag, func(u *yokemate.Unit) error {
		i := photoAt(u.Photos, p.ID)
		if i < 0 {
			return noPhoto(tag, p.ID)
		}
		u.Photos[i].Name, u.Photos[i].Marks = p.Name, p.Marks
		return nil
	})
}

func (f *shelfFile) RemovePhoto(ctx context.Context, tag, id string) error {
	return f.onPhotos(ctx, tag, func(u *yokemate.Unit) error {
		i := photoAt(u.Photos, id)
		if i < 0 {
			return noPhoto(tag, id)
		}
		u.Photos = slices.Delete(u.Photos, i, i+1)
		return nil
	})
}

type photoAddCmd struct {
	Tag  string `arg:"" help:"The unit."`
	File string `arg:"" help:"A JPEG or PNG picture; - reads standard input."`
	Name string `placeholder:"TEXT" help:"What it shows, such as \"pin side\"."`
}

// Run attaches the picture.
func (c *photoAddCmd) Run(a *App) error {
	al, err := a.album()
	if err != nil {
		return err
	}
	data, err := a.ReadFile(c.File)
	if err != nil {
		return err
	}
	p, err := photo.Ready(data)
	if err != nil {
		return inFile(c.File, err)
	}
	p.Name = strings.TrimSpace(c.Name)
	if p, err = al.AddPhoto(a.Ctx(), c.Tag, *p); err != nil {
		return err
	}
	return a.showPhotos(c.Tag, []yokemate.Photo{*p})
}

type photoListCmd struct {
	Tag string `arg:"" help:"The unit."`
}

// Run lists the photos.
func (c *photoListCmd) Run(a *App) error {
	al, err := a.album()
	if err != nil {
		return err
	}
	list, err := al.Photos(a.Ctx(), c.Tag)
	if err != nil {
		return err
	}
	return a.showPhotos(c.Tag, list)
}

// showPhotos prints photos without their pictures.
func (a *App) showPhotos(tag string, list []yokemate.Photo) error {
	list = slices.Clone(list)
	for i := range list {
		list[i].JPEG = nil
	}
	if a.AsJSON {
		if list == nil {
			list = []yokemate.Photo{}
		}
		return a.JSON(struct {
			Unit   string           `json:"unit"`
			Photos []yokemate.Photo `json:"photos"`
		}{tag, list})
	}
	t := &Table{Heads: []string{"photo", ">size", "shows", "marked"}}
	for _, p := range list {
		var marks []string
		for _, m := range p.Marks {
			marks = append(marks, m.Pin+" ("+short(100*m.X)+" %, "+short(100*m.Y)+" %)")
		}
		t.Row(p.ID, strconv.Itoa(p.Width)+" × "+strconv.Itoa(p.Height), p.Name, strings.Join(marks, ", "))
	}
	a.Table(t)
	return nil
}

type photoMarkCmd struct {
	Tag   string `arg:"" help:"The unit."`
	ID    string `arg:"" help:"The photo, such as p1."`
	Pin   string `arg:"" help:"The pin, or core."`
	X     string `arg:"" optional:"" help:"How far from the left edge, in % of the width."`
	Y     string `arg:"" optional:"" help:"How far from the top edge, in % of the height."`
	Clear bool   `help:"Take the pin's mark away."`
}

// Run puts a mark, or takes it away.
func (c *photoMarkCmd) Run(a *App) error {
	if c.Clear == (c.X+c.Y != "") || !c.Clear && c.Y == "" {
		return yokemate.Errorf(yokemate.Invalid, "command line", "it is not said where the pin is").Mend("add two numbers, as in \"yokemate photo mark T1 p1 5 41.5 72\", or --clear")
	}
	_, u, _, err := a.unit(c.Tag)
	if err != nil {
		return err
	}
	al, err := a.album()
	if err != nil {
		return err
	}
	p, err := al.Photo(a.Ctx(), c.Tag, c.ID)
	if err != nil {
		return err
	}
	if c.Clear {
		if !p.ClearMark(c.Pin) {
			return yokemate.Errorf(yokemate.NotFound, c.Tag+" photo "+c.ID, "pin %s is not marked on it", c.Pin).Mend("see \"yokemate photo list %s\"", c.Tag)
		}
	} else {
		if c.Pin != yokemate.CorePin && !slices.Contains(u.AllPins(), c.Pin) {
			return yokemate.Errorf(yokemate.NotFound, c.Tag, "there is no pin %q", c.Pin).Mend("name a pin, or core")
		}
		m := yokemate.Mark{Pin: c.Pin}
		if m.X, err = partOf("from the left", c.X); err != nil {
			return err
		}
		if m.Y, err = partOf("from the top", c.Y); err != nil {
			return err
		}
		p.SetMark(m)
	}
	if err := al.SetPhoto(a.Ctx(), c.Tag, p); err != nil {
		return err
	}
	return a.showPhotos(c.Tag, []yokemate.Photo{*p})
}

// partOf reads a per cent from 0 to 100 as a part of one, to a tenth of a per
// cent: a pixel or two.
func partOf(place, text string) (float64, error) {
	v, err := plain.number(place, strings.TrimSpace(strings.TrimSuffix(text, "%")))
	if err != nil {
		return 0, err
	}
	if !(v >= 0 && v <= 100) {
		return 0, yokemate.Errorf(yokemate.Invalid, place, "%q is no per cent from 0 to 100", text).Mend("write it as in 41.5")
	}
	return math.Round(10*v) / 1000, nil
}

type photoSaveCmd struct {
	Tag       string `arg:"" help:"The unit."`
	ID        string `arg:"" help:"The photo, such as p1."`
	Output    string `short:"o" required:"" placeholder:"FILE" help:"Write to this file."`
	Overwrite bool   `help:"Replace the file if it is there."`
}

// Run writes the picture.
func (c *photoSaveCmd) Run(a *App) error {
	al, err := a.album()
	if err != nil {
		return err
	}
	p, err := al.Photo(a.Ctx(), c.Tag, c.ID)
	if err != nil {
		return err
	}
	return a.WriteFile(c.Output, p.JPEG, c.Overwrite)
}

type photoRemoveCmd struct {
	Tag string `arg:"" help:"The unit."`
	ID  string `arg:"" help:"The photo, such as p1."`
}

// Run takes the photo away.
func (c *photoRemoveCmd) Run(a *App) error {
	al, err := a.album()
	if err != nil {
		return err
	}
	if err := al.RemovePhoto(a.Ctx(), c.Tag, c.ID); err != nil {
		return err
	}
	a.Say("Photo %s of %s is gone.", c.ID, c.Tag)
	return nil
}
