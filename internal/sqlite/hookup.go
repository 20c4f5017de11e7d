package sqlite

import (
	"context"
	"database/sql"
	"errors"

	"yokemate"
)

// The tables hookup and need are alike: a document under its name. The name of
// the table goes into the text of the statement, so it is one of these two.
const (
	hookupTable = "hookup"
	needTable   = "need"
)

// Hookups lists the stored hookups by name.
func (d *DB) Hookups(ctx context.Context) ([]yokemate.Hookup, error) {
	return named[yokemate.Hookup](ctx, d, hookupTable)
}

// Needs lists the stored needs by name.
func (d *DB) Needs(ctx context.Context) ([]yokemate.Need, error) {
	return named[yokemate.Need](ctx, d, needTable)
}

func named[T any](ctx context.Context, d *DB, table string) (all []T, err error) {
	err = d.look(ctx, func(tx *sql.Tx) (err error) {
		all, err = docs[T](ctx, tx, "SELECT doc FROM "+table+" ORDER BY name")
		return err
	})
	return all, err
}

// Hookup returns the hookup of that name.
func (d *DB) Hookup(ctx context.Context, name string) (*yokemate.Hookup, error) {
	return one[yokemate.Hookup](ctx, d, hookupTable, name)
}

// Need returns the need of that name.
func (d *DB) Need(ctx context.Context, name string) (*yokemate.Need, error) {
	return one[yokemate.Need](ctx, d, needTable, name)
}

func one[T any](ctx context.Context, d *DB, table, name string) (*T, error) {
	var v T
	err := d.look(ctx, func(tx *sql.Tx) error {
		var doc string
		err := tx.QueryRowContext(ctx, "SELECT doc FROM "+table+" WHERE name = ?", name).Scan(&doc)
		if errors.Is(err, sql.ErrNoRows) {
			return notThere(table, name)
		}
		if err != nil {
			return err
		}
		return decode(doc, &v)
	})
	if err != nil {
		return nil, err
	}
	return &v, nil
}

func notThere(table, name string) error {
	return yokemate.Errorf(yokemate.NotFound, "", "there is no %s %q in the store", table, name).Mend("see the names with \"yokemate %s list\"", table)
}

// PutHookup stores a hookup under its name.
func (d *DB) PutHookup(ctx context.Context, h *yokemate.Hookup) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		if err := h.Validate(); err != nil {
			return err
		}
		s, err := shelf(ctx, tx)
		if err != nil {
			return err
		}
		if err := h.Check(s); err != nil {
			return err
		}
		_, err = d.put(ctx, tx, hookupTable, h.Name, h, true)
		return err
	})
}

// PutNeed stores a need under its name.
func (d *DB) PutNeed(ctx context.Context, n *yokemate.Need) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		if err := n.Validate(); err != nil {
			return err
		}
		_, err := d.put(ctx, tx, needTable, n.Name, n, true)
		return err
	})
}

// put stores v under its name and says how: added, replaced or same.
func (d *DB) put(ctx context.Context, tx *sql.Tx, table, name string, v any, replace bool) (string, error) {
	if name == "" {
		return "", yokemate.Errorf(yokemate.Invalid, "name", "a %s without a name cannot be stored", table).Mend("add \"name\": \"bench supply\" or the like")
	}
	doc, err := encode(v)
	if err != nil {
		return "", err
	}
	var old string
	err = tx.QueryRowContext(ctx, "SELECT doc FROM "+table+" WHERE name = ?", name).Scan(&old)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		_, err := tx.ExecContext(ctx, "INSERT INTO "+table+" (name, doc, changed) VALUES (?, ?, ?)", name, doc, d.stamp())
		return "added", err
	case err != nil:
		return "", err
	case doc == old:
		return "same", nil
	case !replace:
		return "", yokemate.Errorf(yokemate.Conflict, "name", "the store has a %s %q with other content", table, name).Mend("use --replace to put this one in its place, or rename it")
	}
	_, err = tx.ExecContext(ctx, "UPDATE "+table+" SET doc = ?, changed = ? WHERE name = ?", doc, d.stamp(), name)
	return "replaced", err
}

// RemoveHookup takes a hookup out of the store.
func (d *DB) RemoveHookup(ctx context.Context, name string) error {
	return d.remove(ctx, hookupTable, name)
}

// RemoveNeed takes a need out of the store.
func (d *DB) RemoveNeed(ctx context.Context, name string) error {
	return d.remove(ctx, needTable, name)
}

func (d *DB) remove(ctx context.Context, table, name string) error {
	return d.change(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "DELETE FROM "+table+" WHERE name = ?", name)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n > 0 {
			return err
		}
		return notThere(table, name)
	})
}

// hookupsStand reports the first stored hookup that the shelf no longer carries.
func hookupsStand(ctx context.Context, tx *sql.Tx) error {
	hookups, err := docs[yokemate.Hookup](ctx, tx, "SELECT doc FROM hookup ORDER BY name")
	if err != nil || len(hookups) == 0 {
		return err
	}
	s, err := shelf(ctx, tx)
	if err != nil {
		return err
	}
	for i := range hookups {
		if err := hookups[i].Check(s); err != nil {
			e, ok := errors.AsType[*yokemate.Error](err)
			if !ok {
				return err
			}
			return yokemate.Errorf(yokemate.Conflict, "hookup "+hookups[i].Name, "it would lose its footing: %s: %s", e.Place, e.Message).Mend("remove that hookup first")
		}
	}
	return nil
}
