package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"slices"
	"strconv"

	"yokemate"
)

// Album is the shelf with the photos of every unit.
func (d *DB) Album(ctx context.Context) (*yokemate.Shelf, error) {
	var s *yokemate.Shelf
	err := d.look(ctx, func(tx *sql.Tx) (err error) {
		if s, err = shelf(ctx, tx); err != nil {
			return err
		}
		for i := range s.Units {
			u := &s.Units[i]
			id, err := unitID(ctx, tx, u.Tag)
			if err != nil {
				return err
			}
			if u.Photos, err = photos(ctx, tx, id, true); err != nil {
				return err
			}
		}
		return nil
	})
	return s, err
}

// Photos lists the photos of a unit without the pictures.
func (d *DB) Photos(ctx context.Context, tag string) (all []yokemate.Photo, err error) {
	err = d.look(ctx, func(tx *sql.Tx) error {
		id, err := knownUnit(ctx, tx, tag)
		if err != nil {
			return err
		}
		all, err = photos(ctx, tx, id, false)
		return err
	})
	return all, err
}

// knownUnit is unitID with our own error where there is no such unit.
func knownUnit(ctx context.Context, tx *sql.Tx, tag string) (int64, error) {
	id, err := unitID(ctx, tx, tag)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, noUnit(tag)
	}
	return id, err
}

func photos(ctx context.Context, tx *sql.Tx, unit int64, pictures bool) ([]yokemate.Photo, error) {
	columns := "doc, NULL"
	if pictures {
		columns = "doc, jpeg"
	}
	rows, err := tx.QueryContext(ctx, "SELECT "+columns+" FROM photo WHERE unit = ? ORDER BY seq", unit)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []yokemate.Photo
	for rows.Next() {
		var doc string
		var p yokemate.Photo
		var jpeg []byte
		if err := rows.Scan(&doc, &jpeg); err != nil {
			return nil, err
		}
		if err := decode(doc, &p); err != nil {
			return nil, err
		}
		p.JPEG = jpeg
		all = append(all, p)
	}
	return all, rows.Err()
}

// Photo returns one photo with its picture.
func (d *DB) Photo(ctx context.Context, tag, id string) (p *yokemate.Photo, err error) {
	err = d.look(ctx, func(tx *sql.Tx) error {
		unit, err := knownUnit(ctx, tx, tag)
		if err != nil {
			return err
		}
		var doc string
		var jpeg []byte
		err = tx.QueryRowContext(ctx, "SELECT doc, jpeg FROM photo WHERE unit = ? AND id = ?", unit, id).Scan(&doc, &jpeg)
		if errors.Is(err, sql.ErrNoRows) {
			return noPhoto(tag, id)
		}
		if err != nil {
			return err
		}
		p = &yokemate.Photo{}
		if err := decode(doc, p); err != nil {
			return err
		}
		p.JPEG = jpeg
		return nil
	})
	return p, err
}

func noPhoto(tag, id string) error {
	return yokemate.Errorf(yokemate.NotFound, tag, "it has no photo %q", id).Mend("see them with \"yokemate photo list %s\"", tag)
}

// AddPhoto adds a photo to the unit.
func (d *DB) AddPhoto(ctx context.Context, tag string, p yokemate.Photo) (*yokemate.Photo, error) {
	err := d.change(ctx, func(tx *sql.Tx) error {
		unit, err := knownUnit(ctx, tx, tag)
		if err != nil {
			return err
		}
		stored, err := photos(ctx, tx, unit, true)
		if err != nil {
			return err
		}
		for _, x := range stored {
			if bytes.Equal(x.JPEG, p.JPEG) {
				p = x
				return nil
			}
		}
		has := func(id string) bool {
			return slices.ContainsFunc(stored, func(x yokemate.Photo) bool { return x.ID == id })
		}
		if p.ID != "" && has(p.ID) {
			return yokemate.Errorf(yokemate.Conflict, tag+" photo "+p.ID, "there is a photo with this id").Mend("leave the id out, and it gets the next free one")
		}
		for n := len(stored) + 1; p.ID == ""; n++ {
			if id := "p" + strconv.Itoa(n); !has(id) {
				p.ID = id
			}
		}
		if p.At.IsZero() {
			p.At = d.now().UTC()
		}
		u := yokemate.Unit{Tag: tag, Terminals: []string{"1"}, Photos: []yokemate.Photo{p}}
		if err := u.Validate(); err != nil {
			return err
		}
		return insertPhoto(ctx, tx, unit, &p)
	})
	if err != nil {
		return nil, err
	}
	return &p, nil
}

func insertPhoto(ctx context.Context, tx *sql.Tx, unit int64, p *yokemate.Photo) error {
	bare := *p
	bare.JPEG = nil
	doc, err := encode(&bare)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO photo (unit, id, doc, jpeg) VALUES (?, ?, ?, ?)", unit, p.ID, doc, p.JPEG)
	return err
}

// SetPhoto stores the name and the marks of a photo that is there.
func (d *DB) SetPhoto(ctx context.Context, tag string, p *yokemate.Photo) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		unit, err := knownUnit(ctx, tx, tag)
		if err != nil {
			return err
		}
		if err := p.Validate(tag + " photo " + p.ID); err != nil {
			return err
		}
		return setPhoto(ctx, tx, tag, unit, p)
	})
}

func setPhoto(ctx context.Context, tx *sql.Tx, tag string, unit int64, p *yokemate.Photo) error {
	var doc string
	err := tx.QueryRowContext(ctx, "SELECT doc FROM photo WHERE unit = ? AND id = ?", unit, p.ID).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return noPhoto(tag, p.ID)
	}
	if err != nil {
		return err
	}
	var x yokemate.Photo
	if err := decode(doc, &x); err != nil {
		return err
	}
	x.Name, x.Marks = p.Name, p.Marks
	if doc, err = encode(&x); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "UPDATE photo SET doc = ? WHERE unit = ? AND id = ?", doc, unit, p.ID)
	return err
}

// RemovePhoto takes a photo away for good.
func (d *DB) RemovePhoto(ctx context.Context, tag, id string) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		unit, err := knownUnit(ctx, tx, tag)
		if err != nil {
			return err
		}
		res, err := tx.ExecContext(ctx, "DELETE FROM photo WHERE unit = ? AND id = ?", unit, id)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n > 0 {
			return err
		}
		return noPhoto(tag, id)
	})
}

// putPhotos adds the photos that a unit brings along, and says what it changes:
// a picture under an id that is taken is refused, other marks are taken over.
func putPhotos(ctx context.Context, tx *sql.Tx, tag string, unit int64, list []yokemate.Photo) (fresh, changed []yokemate.Photo, err error) {
	if len(list) == 0 {
		return nil, nil, nil
	}
	stored, err := photos(ctx, tx, unit, true)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range list {
		i := slices.IndexFunc(stored, func(x yokemate.Photo) bool { return x.ID == p.ID })
		switch {
		case i < 0:
			fresh = append(fresh, p)
		case !bytes.Equal(stored[i].JPEG, p.JPEG):
			return nil, nil, yokemate.Errorf(yokemate.Conflict, tag+" photo "+p.ID, "the stored photo of that id is another picture").Mend("give it an id of its own")
		case p.Name != stored[i].Name || !slices.Equal(p.Marks, stored[i].Marks):
			changed = append(changed, p)
		}
	}
	return fresh, changed, nil
}
