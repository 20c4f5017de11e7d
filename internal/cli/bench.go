package cli

import (
	"context"
	"os"
	"time"

	"yokemate"
)

// bench is where the shelf's commands work: the store, or one shelf file.
type bench interface {
	Shelf(context.Context) (*yokemate.Shelf, error)
	AddUnit(context.Context, *yokemate.Unit) error
	PutUnit(context.Context, *yokemate.Unit) error
	RemoveUnit(ctx context.Context, tag string) error
	AddReading(ctx context.Context, tag string, r yokemate.Reading) (yokemate.Reading, error)
	Log(ctx context.Context, tag string) ([]yokemate.LogEntry, error)
	AddMeter(context.Context, *yokemate.Meter) error
}

// bench returns the file of --shelf, or else the store.
func (a *App) bench() (bench, error) {
	if a.ShelfFile != "" {
		return &shelfFile{a, a.ShelfFile, a.Now}, nil
	}
	return a.Store()
}

// shelfFile is a bench in a shelf file. Each change rewrites the file whole.
type shelfFile struct {
	app  *App
	name string
	now  func() time.Time
}

func (f *shelfFile) Shelf(context.Context) (*yokemate.Shelf, error) {
	b, err := f.app.ReadFile(f.name)
	if err != nil {
		return nil, err
	}
	s, err := yokemate.DecodeShelf(b)
	if err != nil {
		return nil, inFile(f.name, otherFormat(b, "a shelf file", err))
	}
	return s, nil
}

// change applies edit to the shelf and writes it back when the outcome is a
// valid shelf.
func (f *shelfFile) change(ctx context.Context, edit func(*yokemate.Shelf) error) error {
	return f.edit(ctx, false, edit)
}

// begin is change that makes the file where there is none.
func (f *shelfFile) begin(ctx context.Context, edit func(*yokemate.Shelf) error) error {
	return f.edit(ctx, true, edit)
}

func (f *shelfFile) edit(ctx context.Context, begin bool, edit func(*yokemate.Shelf) error) error {
	if f.name == "-" {
		return yokemate.Errorf(yokemate.Invalid, "command line", "standard input cannot be changed").Mend("name a shelf file")
	}
	_, there := os.Stat(f.name)
	if there != nil && !begin {
		_, err := f.app.ReadFile(f.name)
		return err
	}
	done, err := alone(f.name)
	if err != nil {
		return err
	}
	defer done()
	s, err := held(ctx, f)
	if err != nil {
		return err
	}
	if err := edit(s); err != nil {
		return inFile(f.name, err)
	}
	if err := s.Validate(); err != nil {
		return inFile(f.name, err)
	}
	b, err := yokemate.Encode(s)
	if err != nil {
		return inFile(f.name, err)
	}
	if err := replaceFile(f.name, b); err != nil {
		return err
	}
	if there != nil {
		f.app.Say("%s was not there: it is a new shelf file.", f.name)
	}
	return nil
}

func (f *shelfFile) AddUnit(ctx context.Context, u *yokemate.Unit) error {
	return f.begin(ctx, func(s *yokemate.Shelf) error {
		if s.Unit(u.Tag) != nil {
			return yokemate.Errorf(yokemate.Conflict, u.Tag, "the shelf has a unit with this tag").Mend("change it with \"unit set\", or choose another tag")
		}
		s.Units = append(s.Units, *u)
		return nil
	})
}

func (f *shelfFile) PutUnit(ctx context.Context, u *yokemate.Unit) error {
	return f.change(ctx, func(s *yokemate.Shelf) error {
		if old := s.Unit(u.Tag); old != nil {
			*old = *u
		} else {
			s.Units = append(s.Units, *u)
		}
		return nil
	})
}

func (f *shelfFile) RemoveUnit(ctx context.Context, tag string) error {
	return f.change(ctx, func(s *yokemate.Shelf) error {
		u := s.Unit(tag)
		if u == nil {
			return noUnit(tag)
		}
		if len(u.Readings) > 0 {
			return yokemate.Errorf(yokemate.Conflict, tag, "its readings would be lost: a shelf file has no log").Mend("put it in quarantine, or keep the shelf in a store")
		}
		kept := s.Units[:0]
		for _, x := range s.Units {
			if x.Tag != tag {
				kept = append(kept, x)
			}
		}
		s.Units = kept
		return nil
	})
}

func (f *shelfFile) AddReading(ctx context.Context, tag string, r yokemate.Reading) (yokemate.Reading, error) {
	err := f.change(ctx, func(s *yokemate.Shelf) (err error) {
		u := s.Unit(tag)
		if u == nil {
			return noUnit(tag)
		}
		if r, err = u.NextReading(r); err != nil {
			return err
		}
		if r.At.IsZero() {
			r.At = f.now().UTC()
		}
		u.Readings = append(u.Readings, r)
		return nil
	})
	return r, err
}

func (f *shelfFile) Log(ctx context.Context, tag string) ([]yokemate.LogEntry, error) {
	s, err := f.Shelf(ctx)
	if err != nil {
		return nil, err
	}
	log := []yokemate.LogEntry{}
	for _, u := range s.Units {
		if tag != "" && tag != u.Tag {
			continue
		}
		for _, r := range u.Readings {
			log = append(log, yokemate.LogEntry{Tag: u.Tag, Reading: r})
		}
	}
	return log, nil
}

func (f *shelfFile) AddMeter(ctx context.Context, m *yokemate.Meter) error {
	return f.begin(ctx, func(s *yokemate.Shelf) error {
		if s.MeterNamed(m.Name) != nil {
			return yokemate.Errorf(yokemate.Conflict, "meters", "there is a meter %q already", m.Name).Mend("choose another name")
		}
		s.Meters = append(s.Meters, *m)
		return nil
	})
}

func noUnit(tag string) error {
	return yokemate.Errorf(yokemate.NotFound, tag, "there is no such unit on the shelf").Mend("see the tags with \"yokemate shelf\", or put it there with \"yokemate unit add %s\"", tag)
}

// held is the shelf of a bench that may not have been begun: of a shelf file that
// is not there it is empty.
func held(ctx context.Context, b bench) (*yokemate.Shelf, error) {
	s, err := b.Shelf(ctx)
	if f, ok := b.(*shelfFile); ok && f.name != "-" && yokemate.ErrorCode(err) == yokemate.NotFound {
		return &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: []yokemate.Unit{}}, nil
	}
	return s, err
}

// unit returns the bench that the command works on, with its unit of that tag.
func (a *App) unit(tag string) (bench, *yokemate.Unit, *yokemate.Shelf, error) {
	b, err := a.bench()
	if err != nil {
		return nil, nil, nil, err
	}
	s, err := b.Shelf(a.Ctx())
	if err != nil {
		return nil, nil, nil, err
	}
	u := s.Unit(tag)
	if u == nil {
		return nil, nil, nil, noUnit(tag)
	}
	return b, u, s, nil
}
