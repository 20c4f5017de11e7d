package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"yokemate"
)

// Shelf returns meters and units.
func (d *DB) Shelf(ctx context.Context) (*yokemate.Shelf, error) {
	var s *yokemate.Shelf
	err := d.look(ctx, func(tx *sql.Tx) (err error) {
		s, err = shelf(ctx, tx)
		return err
	})
	return s, err
}

func shelf(ctx context.Context, tx *sql.Tx) (*yokemate.Shelf, error) {
	s := &yokemate.Shelf{Format: yokemate.ShelfFormat}
	var err error
	if s.Meters, err = docs[yokemate.Meter](ctx, tx, "SELECT doc FROM meter ORDER BY id"); err != nil {
		return nil, err
	}
	at := map[int64]int{} // unit id to its place in s.Units
	rows, err := tx.QueryContext(ctx, "SELECT id, doc FROM unit WHERE removed IS NULL ORDER BY id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	s.Units = []yokemate.Unit{}
	for rows.Next() {
		var id int64
		var doc string
		if err := rows.Scan(&id, &doc); err != nil {
			return nil, err
		}
		var u yokemate.Unit
		if err := decode(doc, &u); err != nil {
			return nil, err
		}
		at[id] = len(s.Units)
		s.Units = append(s.Units, u)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	rows, err = tx.QueryContext(ctx, "SELECT r.unit, r.doc FROM reading r JOIN unit u ON u.id = r.unit WHERE u.removed IS NULL ORDER BY r.seq")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var doc string
		if err := rows.Scan(&id, &doc); err != nil {
			return nil, err
		}
		var r yokemate.Reading
		if err := decode(doc, &r); err != nil {
			return nil, err
		}
		u := &s.Units[at[id]]
		u.Readings = append(u.Readings, r)
	}
	return s, rows.Err()
}

// AddUnit stores a unit under a tag that is free.
func (d *DB) AddUnit(ctx context.Context, u *yokemate.Unit) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		if _, err := unitID(ctx, tx, u.Tag); err == nil {
			return yokemate.Errorf(yokemate.Conflict, u.Tag, "the shelf has a unit with this tag").Mend("change it with \"unit set\", or choose another tag")
		} else if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		_, err := d.putUnit(ctx, tx, u, false)
		return err
	})
}

// PutUnit stores a unit, in the place of the one with its tag when there is one.
func (d *DB) PutUnit(ctx context.Context, u *yokemate.Unit) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		if _, err := d.putUnit(ctx, tx, u, true); err != nil {
			return err
		}
		return hookupsStand(ctx, tx)
	})
}

func unitID(ctx context.Context, tx *sql.Tx, tag string) (id int64, err error) {
	err = tx.QueryRowContext(ctx, "SELECT id FROM unit WHERE tag = ? AND removed IS NULL", tag).Scan(&id)
	return id, err
}

// putUnit stores u and says how: added, replaced or same.
func (d *DB) putUnit(ctx context.Context, tx *sql.Tx, u *yokemate.Unit, replace bool) (string, error) {
	if err := u.Validate(); err != nil {
		return "", err
	}
	bare := *u
	bare.Readings, bare.Photos = nil, nil
	doc, err := encode(&bare)
	if err != nil {
		return "", err
	}
	now := d.stamp()
	var id int64
	var old string
	err = tx.QueryRowContext(ctx, "SELECT id, doc FROM unit WHERE tag = ? AND removed IS NULL", u.Tag).Scan(&id, &old)
	if errors.Is(err, sql.ErrNoRows) {
		res, err := tx.ExecContext(ctx, "INSERT INTO unit (tag, doc, added, changed) VALUES (?, ?, ?, ?)", u.Tag, doc, now, now)
		if err != nil {
			return "", err
		}
		if id, err = res.LastInsertId(); err != nil {
			return "", err
		}
		for i := range u.Readings {
			if err := d.insertReading(ctx, tx, id, &u.Readings[i]); err != nil {
				return "", err
			}
		}
		for i := range u.Photos {
			if err := insertPhoto(ctx, tx, id, &u.Photos[i]); err != nil {
				return "", err
			}
		}
		return "added", nil
	}
	if err != nil {
		return "", err
	}
	stored, err := docs[yokemate.Reading](ctx, tx, "SELECT doc FROM reading WHERE unit = ? ORDER BY seq", id)
	if err != nil {
		return "", err
	}
	fresh, err := newReadings(u, stored)
	if err != nil {
		return "", err
	}
	pictures, marked, err := putPhotos(ctx, tx, u.Tag, id, u.Photos)
	if err != nil {
		return "", err
	}
	if doc == old && len(fresh)+len(pictures)+len(marked) == 0 {
		return "same", nil
	}
	if !replace {
		return "", yokemate.Errorf(yokemate.Conflict, u.Tag, "the store has this unit with other content").Mend("use --replace to put this one in its place")
	}
	if _, err := tx.ExecContext(ctx, "UPDATE unit SET doc = ?, changed = ? WHERE id = ?", doc, now, id); err != nil {
		return "", err
	}
	for i := range fresh {
		if err := d.insertReading(ctx, tx, id, &fresh[i]); err != nil {
			return "", err
		}
	}
	for i := range pictures {
		if err := insertPhoto(ctx, tx, id, &pictures[i]); err != nil {
			return "", err
		}
	}
	for i := range marked {
		if err := setPhoto(ctx, tx, u.Tag, id, &marked[i]); err != nil {
			return "", err
		}
	}
	return "replaced", nil
}

// newReadings returns the readings of u that are not stored yet. A stored one
// in another form is refused.
func newReadings(u *yokemate.Unit, stored []yokemate.Reading) ([]yokemate.Reading, error) {
	var fresh []yokemate.Reading
	for _, r := range u.Readings {
		i := slices.IndexFunc(stored, func(x yokemate.Reading) bool { return x.ID == r.ID })
		if i < 0 {
			fresh = append(fresh, r)
			continue
		}
		a, err := encode(&r)
		if err != nil {
			return nil, err
		}
		b, err := encode(&stored[i])
		if err != nil {
			return nil, err
		}
		if a != b {
			return nil, yokemate.Errorf(yokemate.Conflict, u.Tag+" reading "+r.ID, "it differs from the stored reading of that id").
				Mend("readings are never altered: give it an id of its own and \"supersedes\": %q", r.ID)
		}
	}
	return fresh, nil
}

func (d *DB) insertReading(ctx context.Context, tx *sql.Tx, unit int64, r *yokemate.Reading) error {
	doc, err := encode(r)
	if err != nil {
		return err
	}
	var supersedes any
	if r.Supersedes != "" {
		supersedes = r.Supersedes
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO reading (unit, id, supersedes, doc, added) VALUES (?, ?, ?, ?, ?)", unit, r.ID, supersedes, doc, d.stamp())
	return err
}

// RemoveUnit takes a unit off the shelf.
func (d *DB) RemoveUnit(ctx context.Context, tag string) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		id, err := unitID(ctx, tx, tag)
		if errors.Is(err, sql.ErrNoRows) {
			return noUnit(tag)
		}
		if err != nil {
			return err
		}
		hookups, err := docs[yokemate.Hookup](ctx, tx, "SELECT doc FROM hookup ORDER BY name")
		if err != nil {
			return err
		}
		for i := range hookups {
			if slices.Contains(hookups[i].Tags(), tag) {
				return yokemate.Errorf(yokemate.Conflict, tag, "hookup %q names it", hookups[i].Name).Mend("remove that hookup first, or put the unit in quarantine")
			}
		}
		_, err = tx.ExecContext(ctx, "UPDATE unit SET removed = ? WHERE id = ?", d.stamp(), id)
		return err
	})
}

func noUnit(tag string) error {
	return yokemate.Errorf(yokemate.NotFound, tag, "there is no such unit on the shelf").Mend("see the tags with \"yokemate shelf\"")
}

// AddReading adds a reading to the unit.
func (d *DB) AddReading(ctx context.Context, tag string, r yokemate.Reading) (yokemate.Reading, error) {
	err := d.change(ctx, func(tx *sql.Tx) error {
		id, err := unitID(ctx, tx, tag)
		if errors.Is(err, sql.ErrNoRows) {
			return noUnit(tag)
		}
		if err != nil {
			return err
		}
		stored, err := docs[yokemate.Reading](ctx, tx, "SELECT doc FROM reading WHERE unit = ? ORDER BY seq", id)
		if err != nil {
			return err
		}
		u := yokemate.Unit{Tag: tag, Readings: stored}
		if r, err = u.NextReading(r); err != nil {
			return err
		}
		if r.At.IsZero() {
			r.At = d.now().UTC()
		}
		return d.insertReading(ctx, tx, id, &r)
	})
	return r, err
}

// Log returns every reading ever taken.
func (d *DB) Log(ctx context.Context, tag string) ([]yokemate.LogEntry, error) {
	entries := []yokemate.LogEntry{}
	err := d.look(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT u.tag, u.removed IS NOT NULL, r.doc FROM reading r JOIN unit u ON u.id = r.unit
			WHERE ?1 = '' OR u.tag = ?1 ORDER BY r.seq`, tag)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var e yokemate.LogEntry
			var doc string
			if err := rows.Scan(&e.Tag, &e.Removed, &doc); err != nil {
				return err
			}
			if err := decode(doc, &e.Reading); err != nil {
				return err
			}
			entries = append(entries, e)
		}
		return rows.Err()
	})
	return entries, err
}

// Meters returns the meters.
func (d *DB) Meters(ctx context.Context) (m []yokemate.Meter, err error) {
	err = d.look(ctx, func(tx *sql.Tx) (err error) {
		m, err = docs[yokemate.Meter](ctx, tx, "SELECT doc FROM meter ORDER BY id")
		return err
	})
	return m, err
}

// AddMeter stores a meter under a name that is free.
func (d *DB) AddMeter(ctx context.Context, m *yokemate.Meter) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		how, err := putMeter(ctx, tx, m, false)
		if err == nil && how == "same" {
			return yokemate.Errorf(yokemate.Conflict, "meters", "there is a meter %q already", m.Name).Mend("choose another name")
		}
		return err
	})
}

func putMeter(ctx context.Context, tx *sql.Tx, m *yokemate.Meter, replace bool) (string, error) {
	if err := m.Validate("meters"); err != nil {
		return "", err
	}
	doc, err := encode(m)
	if err != nil {
		return "", err
	}
	var old string
	err = tx.QueryRowContext(ctx, "SELECT doc FROM meter WHERE name = ?", m.Name).Scan(&old)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		_, err := tx.ExecContext(ctx, "INSERT INTO meter (name, doc) VALUES (?, ?)", m.Name, doc)
		return "added", err
	case err != nil:
		return "", err
	case doc == old:
		return "same", nil
	case !replace:
		return "", yokemate.Errorf(yokemate.Conflict, "meters", "there is a meter %q with other content", m.Name).Mend("choose another name, or import it with --replace")
	}
	_, err = tx.ExecContext(ctx, "UPDATE meter SET doc = ? WHERE name = ?", doc, m.Name)
	return "replaced", err
}
