package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"strconv"

	"yokemate"
)

// CreateProof opens a proof of the hookup.
func (d *DB) CreateProof(ctx context.Context, h *yokemate.Hookup, s *yokemate.Shelf) (*yokemate.ProofRecord, error) {
	var p *yokemate.ProofRecord
	err := d.change(ctx, func(tx *sql.Tx) (err error) {
		if err := h.Validate(); err != nil {
			return err
		}
		if s == nil {
			if s, err = shelf(ctx, tx); err != nil {
				return err
			}
		}
		if err := h.Check(s); err != nil {
			return err
		}
		hookup, err := encode(h)
		if err != nil {
			return err
		}
		units, err := encode(s.Only(h))
		if err != nil {
			return err
		}
		now := d.stamp()
		res, err := tx.ExecContext(ctx, "INSERT INTO proof (hookup, shelf, state, opened, changed) VALUES (?, ?, ?, ?, ?)", hookup, units, yokemate.ProofOpen, now, now)
		if err != nil {
			return err
		}
		id, err := res.LastInsertId()
		if err != nil {
			return err
		}
		p, err = proof(ctx, tx, id)
		return err
	})
	return p, err
}

// AppendAnswer commits one answer.
func (d *DB) AppendAnswer(ctx context.Context, id int64, a yokemate.Answer) (*yokemate.ProofRecord, error) {
	var p *yokemate.ProofRecord
	err := d.change(ctx, func(tx *sql.Tx) (err error) {
		if p, err = proof(ctx, tx, id); err != nil {
			return err
		}
		if p.State == yokemate.ProofGood {
			return yokemate.Errorf(yokemate.Conflict, proofName(id), "it has ended well and takes no more answers").Mend("open a new proof of the hookup")
		}
		doc, err := encode(&a)
		if err != nil {
			return err
		}
		now := d.stamp()
		if _, err := tx.ExecContext(ctx, "INSERT INTO answer (proof, seq, at, doc) VALUES (?, ?, ?, ?)", id, len(p.Answers)+1, now, doc); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE proof SET changed = ? WHERE id = ?", now, id); err != nil {
			return err
		}
		p, err = proof(ctx, tx, id)
		return err
	})
	return p, err
}

// SetProofState stores what the answers amount to.
func (d *DB) SetProofState(ctx context.Context, id int64, s yokemate.ProofState) error {
	switch s {
	case yokemate.ProofOpen, yokemate.ProofGood, yokemate.ProofStopped:
	default:
		return yokemate.Errorf(yokemate.Invalid, proofName(id), "unknown state %q", s).Mend("use open, good or stopped")
	}
	return d.change(ctx, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "UPDATE proof SET state = ?, changed = ? WHERE id = ?", s, d.stamp(), id)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n > 0 {
			return err
		}
		return noProof(id)
	})
}

// Proof returns one proof.
func (d *DB) Proof(ctx context.Context, id int64) (*yokemate.ProofRecord, error) {
	var p *yokemate.ProofRecord
	err := d.look(ctx, func(tx *sql.Tx) (err error) {
		p, err = proof(ctx, tx, id)
		return err
	})
	return p, err
}

// Proofs lists all proofs, newest first.
func (d *DB) Proofs(ctx context.Context) ([]yokemate.ProofRecord, error) {
	all := []yokemate.ProofRecord{}
	err := d.look(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT id FROM proof ORDER BY id DESC")
		if err != nil {
			return err
		}
		defer rows.Close()
		var ids []int64
		for rows.Next() {
			var id int64
			if err := rows.Scan(&id); err != nil {
				return err
			}
			ids = append(ids, id)
		}
		if err := rows.Err(); err != nil {
			return err
		}
		for _, id := range ids {
			p, err := proof(ctx, tx, id)
			if err != nil {
				return err
			}
			all = append(all, *p)
		}
		return nil
	})
	return all, err
}

func proof(ctx context.Context, tx *sql.Tx, id int64) (*yokemate.ProofRecord, error) {
	p := &yokemate.ProofRecord{ID: id, Answers: []yokemate.RecordedAnswer{}}
	var hookup, units, opened, changed string
	err := tx.QueryRowContext(ctx, "SELECT hookup, shelf, state, opened, changed FROM proof WHERE id = ?", id).Scan(&hookup, &units, &p.State, &opened, &changed)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, noProof(id)
	}
	if err != nil {
		return nil, err
	}
	if err := decode(hookup, &p.Hookup); err != nil {
		return nil, err
	}
	if err := decode(units, &p.Shelf); err != nil {
		return nil, err
	}
	if p.Opened, err = parseStamp(opened); err != nil {
		return nil, err
	}
	if p.Changed, err = parseStamp(changed); err != nil {
		return nil, err
	}
	rows, err := tx.QueryContext(ctx, "SELECT at, doc FROM answer WHERE proof = ? ORDER BY seq", id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var at, doc string
		if err := rows.Scan(&at, &doc); err != nil {
			return nil, err
		}
		var a yokemate.RecordedAnswer
		if err := decode(doc, &a.Answer); err != nil {
			return nil, err
		}
		if a.At, err = parseStamp(at); err != nil {
			return nil, err
		}
		p.Answers = append(p.Answers, a)
	}
	return p, rows.Err()
}

func noProof(id int64) error {
	return yokemate.Errorf(yokemate.NotFound, proofName(id), "there is no such proof in the store").Mend("see them with \"yokemate proof list\"")
}

func proofName(id int64) string { return "proof " + strconv.FormatInt(id, 10) }
