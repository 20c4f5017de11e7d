package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"strconv"

	"yokemate"
)

// BeginHeat stores a new heat run.
func (d *DB) BeginHeat(ctx context.Context, l *yokemate.HeatLog) (*yokemate.HeatLog, error) {
	if err := l.Validate(); err != nil {
		return nil, err
	}
	head := *l
	head.ID, head.Entries = 0, nil
	if head.Began.IsZero() {
		head.Began = d.now().UTC()
	}
	var out *yokemate.HeatLog
	err := d.change(ctx, func(tx *sql.Tx) error {
		doc, err := encode(&head)
		if err != nil {
			return err
		}
		res, err := tx.ExecContext(ctx, "INSERT INTO heat_run (doc, began) VALUES (?, ?)", doc, d.stamp())
		if err != nil {
			return err
		}
		id, err := res.LastInsertId()
		if err != nil {
			return err
		}
		for i := range l.Entries {
			if err := addHeat(ctx, tx, id, i+1, &l.Entries[i]); err != nil {
				return err
			}
		}
		out, err = heatRun(ctx, tx, id)
		return err
	})
	return out, err
}

func addHeat(ctx context.Context, tx *sql.Tx, id int64, seq int, row *yokemate.HeatRow) error {
	doc, err := encode(row)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO heat_reading (run, seq, doc) VALUES (?, ?, ?)", id, seq, doc)
	return err
}

// AppendHeat commits one reading of a heat run.
func (d *DB) AppendHeat(ctx context.Context, id int64, row yokemate.HeatRow) (*yokemate.HeatLog, error) {
	if err := row.Validate(); err != nil {
		return nil, err
	}
	var l *yokemate.HeatLog
	err := d.change(ctx, func(tx *sql.Tx) (err error) {
		if l, err = heatRun(ctx, tx, id); err != nil {
			return err
		}
		if err := addHeat(ctx, tx, id, len(l.Entries)+1, &row); err != nil {
			return err
		}
		l.Entries = append(l.Entries, row)
		return nil
	})
	return l, err
}

// HeatLog returns one heat run.
func (d *DB) HeatLog(ctx context.Context, id int64) (*yokemate.HeatLog, error) {
	var l *yokemate.HeatLog
	err := d.look(ctx, func(tx *sql.Tx) (err error) {
		l, err = heatRun(ctx, tx, id)
		return err
	})
	return l, err
}

// HeatLogs lists all heat runs, newest first.
func (d *DB) HeatLogs(ctx context.Context) ([]yokemate.HeatLog, error) {
	all := []yokemate.HeatLog{}
	err := d.look(ctx, func(tx *sql.Tx) error {
		var most sql.NullInt64
		if err := tx.QueryRowContext(ctx, "SELECT max(id) FROM heat_run").Scan(&most); err != nil {
			return err
		}
		// Runs are never deleted, so their ids have no gaps.
		for id := most.Int64; id > 0; id-- {
			l, err := heatRun(ctx, tx, id)
			if err != nil {
				return err
			}
			all = append(all, *l)
		}
		return nil
	})
	return all, err
}

func heatRun(ctx context.Context, tx *sql.Tx, id int64) (*yokemate.HeatLog, error) {
	var doc string
	err := tx.QueryRowContext(ctx, "SELECT doc FROM heat_run WHERE id = ?", id).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, yokemate.Errorf(yokemate.NotFound, "", "there is no heat run %s", strconv.FormatInt(id, 10)).Mend("choose one from the list of heat runs")
	}
	if err != nil {
		return nil, err
	}
	l := &yokemate.HeatLog{}
	if err := decode(doc, l); err != nil {
		return nil, err
	}
	l.ID = id
	rows, err := tx.QueryContext(ctx, "SELECT doc FROM heat_reading WHERE run = ? ORDER BY seq", id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var row yokemate.HeatRow
		if err := rows.Scan(&doc); err != nil {
			return nil, err
		}
		if err := decode(doc, &row); err != nil {
			return nil, err
		}
		l.Entries = append(l.Entries, row)
	}
	return l, rows.Err()
}
