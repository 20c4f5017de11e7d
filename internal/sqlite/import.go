package sqlite

import (
	"context"
	"database/sql"

	"yokemate"
)

// Import stores all the documents or none.
func (d *DB) Import(ctx context.Context, list []yokemate.Document, replace bool) ([]yokemate.Change, error) {
	var changes []yokemate.Change
	err := d.change(ctx, func(tx *sql.Tx) error {
		note := func(source, what, how string) {
			changes = append(changes, yokemate.Change{Source: source, What: what, How: how})
		}
		last := "" // the source of the last unit put
		for _, doc := range list {
			if doc.Shelf == nil {
				continue
			}
			if err := d.importShelf(ctx, tx, doc, replace, note); err != nil {
				return &yokemate.SourceError{Source: doc.Source, Err: ours(err)}
			}
			last = doc.Source
		}
		// Hookups come after all shelves: they are held to the units.
		s, err := shelf(ctx, tx)
		if err != nil {
			return err
		}
		for _, doc := range list {
			if doc.Hookup == nil {
				continue
			}
			err := doc.Hookup.Validate()
			if err == nil {
				err = doc.Hookup.Check(s)
			}
			how := ""
			if err == nil {
				how, err = d.put(ctx, tx, hookupTable, doc.Hookup.Name, doc.Hookup, replace)
			}
			if err != nil {
				return &yokemate.SourceError{Source: doc.Source, Err: ours(err)}
			}
			note(doc.Source, "hookup "+doc.Hookup.Name, how)
		}
		for _, doc := range list {
			if doc.Need == nil {
				continue
			}
			err := doc.Need.Validate()
			how := ""
			if err == nil {
				how, err = d.put(ctx, tx, needTable, doc.Need.Name, doc.Need, replace)
			}
			if err != nil {
				return &yokemate.SourceError{Source: doc.Source, Err: ours(err)}
			}
			note(doc.Source, "need "+doc.Need.Name, how)
		}
		if last == "" {
			return nil
		}
		if err := hookupsStand(ctx, tx); err != nil {
			return &yokemate.SourceError{Source: last, Err: ours(err)}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return changes, nil
}

func (d *DB) importShelf(ctx context.Context, tx *sql.Tx, doc yokemate.Document, replace bool, note func(source, what, how string)) error {
	if err := doc.Shelf.Validate(); err != nil {
		return err
	}
	before, err := shelf(ctx, tx)
	if err != nil {
		return err
	}
	for i := range doc.Shelf.Meters {
		m := &doc.Shelf.Meters[i]
		how, err := putMeter(ctx, tx, m, replace)
		if err != nil {
			return err
		}
		note(doc.Source, "meter "+m.Name, how)
	}
	meters, err := docs[yokemate.Meter](ctx, tx, "SELECT doc FROM meter ORDER BY id")
	if err != nil {
		return err
	}
	after := (&yokemate.Shelf{Meters: meters}).Meter().Name
	for _, part := range []*yokemate.Shelf{before, doc.Shelf} {
		if was := part.Meter().Name; len(part.Units) > 0 && was != after {
			return yokemate.Errorf(yokemate.Conflict, "meters", "plain numbers read on meter %q would count as read on meter %q", was, after).
				Mend("keep this shelf in a store of its own (--store), or write its values with \"u\"")
		}
	}
	for i := range doc.Shelf.Units {
		u := &doc.Shelf.Units[i]
		how, err := d.putUnit(ctx, tx, u, replace)
		if err != nil {
			return err
		}
		note(doc.Source, "unit "+u.Tag, how)
	}
	return nil
}
