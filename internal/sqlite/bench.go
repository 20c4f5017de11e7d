package sqlite

import (
	"context"
	"database/sql"
	"errors"

	"yokemate"
)

// Names of the documents in the table setting.
const (
	benchSetting   = "bench"
	sittingSetting = "sitting"
)

// Bench returns what holds at this bench, or nil.
func (d *DB) Bench(ctx context.Context) (*yokemate.Bench, error) {
	return setting[yokemate.Bench](ctx, d, benchSetting)
}

// PutBench stores what holds at this bench.
func (d *DB) PutBench(ctx context.Context, b *yokemate.Bench) error {
	if err := b.Validate(); err != nil {
		return err
	}
	return d.putSetting(ctx, benchSetting, b)
}

// Sitting returns the sitting that lasts, or nil.
func (d *DB) Sitting(ctx context.Context) (*yokemate.Sitting, error) {
	s, err := setting[yokemate.Sitting](ctx, d, sittingSetting)
	if err != nil || s == nil {
		return nil, err
	}
	if age := d.now().Sub(s.At); age < 0 || age > yokemate.SittingLasts {
		return nil, nil
	}
	return s, nil
}

// PutSitting begins a sitting now.
func (d *DB) PutSitting(ctx context.Context, s *yokemate.Sitting) error {
	if err := s.Validate(); err != nil {
		return err
	}
	x := *s
	x.At = d.now().UTC()
	return d.putSetting(ctx, sittingSetting, &x)
}

// setting reads one document; nil where there is none.
func setting[T any](ctx context.Context, d *DB, name string) (v *T, err error) {
	err = d.look(ctx, func(tx *sql.Tx) error {
		var doc string
		err := tx.QueryRowContext(ctx, "SELECT doc FROM setting WHERE name = ?", name).Scan(&doc)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		v = new(T)
		return decode(doc, v)
	})
	return v, err
}

func (d *DB) putSetting(ctx context.Context, name string, v any) error {
	doc, err := encode(v)
	if err != nil {
		return err
	}
	return d.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO setting (name, doc) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET doc = ?2", name, doc)
		return err
	})
}
