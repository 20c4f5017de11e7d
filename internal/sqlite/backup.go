package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite"

	"yokemate"
)

// Backup writes the whole store as one file. SQLite makes it beside the store,
// as of one moment, while others go on working.
func (d *DB) Backup(ctx context.Context, to io.Writer) error {
	dir, err := os.MkdirTemp(filepath.Dir(d.path), ".backup-*")
	if err != nil {
		return noRoom(err)
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, "backup")
	if err := d.copyTo(ctx, name); err != nil {
		return err
	}
	f, err := os.Open(name)
	if err != nil {
		return internal(err)
	}
	defer f.Close()
	if _, err := io.Copy(to, f); err != nil {
		return err
	}
	return nil
}

// copyTo writes the store to a file that is not there.
func (d *DB) copyTo(ctx context.Context, name string) error {
	if _, err := d.db.ExecContext(ctx, "VACUUM INTO ?", name); err != nil {
		return internal(err)
	}
	if err := os.Chmod(name, 0o600); err != nil {
		return internal(err)
	}
	return nil
}

func noRoom(err error) error {
	return &yokemate.Error{Code: yokemate.Internal, Message: "there is no room beside the store", Hint: "free some space on its disk, and see that its folder may be written to", Err: err}
}

// Reinstate puts what a backup holds in the place of everything stored. The
// pages of the file are written into the store in one transaction, so another
// program that has it open sees the old or the new, and a crash leaves one.
func (d *DB) Reinstate(ctx context.Context, from io.Reader) (*yokemate.Reinstated, error) {
	d.reinstating.Lock()
	defer d.reinstating.Unlock()
	dir, err := os.MkdirTemp(filepath.Dir(d.path), ".reinstate-*")
	if err != nil {
		return nil, noRoom(err)
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, "backup")
	if err := spool(name, from); err != nil {
		return nil, err
	}
	out, err := d.examine(ctx, name)
	if err != nil {
		return nil, err
	}
	if out.Kept, err = d.keepAside(ctx); err != nil {
		return nil, err
	}
	if err := d.takePages(ctx, name); err != nil {
		return nil, err
	}
	if out.Newer, err = newer(ctx, out.Kept, name); err != nil {
		return nil, err
	}
	return out, nil
}

func spool(name string, from io.Reader) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return noRoom(err)
	}
	n, err := io.Copy(f, from)
	if closed := f.Close(); err == nil && closed != nil {
		return noRoom(closed)
	}
	if err != nil {
		return err
	}
	if n == 0 {
		return yokemate.Errorf(yokemate.Invalid, "the backup", "it is empty").Mend("choose the file again")
	}
	return nil
}

// examine holds the file to everything that a store of ours is, and brings it
// to the newest step. It works on a copy, so it may write there.
func (d *DB) examine(ctx context.Context, name string) (*yokemate.Reinstated, error) {
	if err := wellFormed(ctx, name); err != nil {
		return nil, err
	}
	b, err := open(ctx, Config{Path: name, Now: d.now}, d.steps)
	if err != nil {
		return nil, inBackup(err)
	}
	defer b.Close()
	var mine, its string
	const tables = "SELECT group_concat(type || ' ' || name || ' ' || coalesce(sql, ''), char(10)) FROM (SELECT * FROM sqlite_schema WHERE name <> 'sqlite_sequence' ORDER BY type, name)"
	for db, text := range map[*sql.DB]*string{d.db: &mine, b.db: &its} {
		if err := db.QueryRowContext(ctx, tables).Scan(text); err != nil {
			return nil, internal(err)
		}
	}
	if mine != its {
		return nil, yokemate.Errorf(yokemate.Invalid, "the backup", "its tables are not those of a store").Mend("choose a file that \"yokemate backup\" made")
	}
	out, err := b.census(ctx)
	if err != nil {
		return nil, inBackup(err)
	}
	// All of it in one file, with nothing left in a log beside it.
	if _, err := b.db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return nil, internal(err)
	}
	return out, nil
}

// wellFormed has SQLite look at every page and index of the file, before
// anything in it is run.
func wellFormed(ctx context.Context, name string) error {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(name), RawQuery: "_pragma=trusted_schema(0)&_pragma=cell_size_check(1)"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return internal(err)
	}
	defer db.Close()
	if _, err := version(ctx, db); err != nil {
		return inBackup(err)
	}
	for _, check := range []string{"SELECT group_concat(integrity_check, '; ') FROM pragma_integrity_check WHERE integrity_check <> 'ok'",
		"SELECT group_concat(\"table\", '; ') FROM pragma_foreign_key_check"} {
		var wrong sql.NullString
		if err := db.QueryRowContext(ctx, check).Scan(&wrong); err != nil || wrong.String != "" {
			return &yokemate.Error{Code: yokemate.Invalid, Place: "the backup", Message: "the file is damaged", Hint: "take another copy of it, or an older backup", Err: errors.Join(err, errors.New(wrong.String))}
		}
	}
	return nil
}

// inBackup says of what file an error speaks.
func inBackup(err error) error {
	e, ok := errors.AsType[*yokemate.Error](err)
	if !ok {
		return internal(err)
	}
	c := *e
	if c.Place == "" {
		c.Place = "the backup"
	}
	if c.Code == yokemate.Internal { // a document that is none: the file's fault, not the program's
		c.Code, c.Message, c.Hint = yokemate.Invalid, "something in it cannot be read", "take another copy of it, or an older backup"
	}
	return &c
}

// census reads everything there is, holds it to the rules of its format and
// counts it.
func (d *DB) census(ctx context.Context) (*yokemate.Reinstated, error) {
	s, err := d.Album(ctx)
	if err != nil {
		return nil, err
	}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	out := &yokemate.Reinstated{Units: len(s.Units)}
	for i := range s.Units {
		out.Photos += len(s.Units[i].Photos)
	}
	log, err := d.Log(ctx, "")
	if err != nil {
		return nil, err
	}
	out.Readings = len(log)
	hookups, err := d.Hookups(ctx)
	if err != nil {
		return nil, err
	}
	for i := range hookups {
		if err := errors.Join(hookups[i].Validate(), hookups[i].Check(s)); err != nil {
			return nil, err
		}
	}
	needs, err := d.Needs(ctx)
	if err != nil {
		return nil, err
	}
	for i := range needs {
		if err := needs[i].Validate(); err != nil {
			return nil, err
		}
	}
	proofs, err := d.Proofs(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := d.Bench(ctx); err != nil {
		return nil, err
	}
	if _, err := setting[yokemate.Sitting](ctx, d, sittingSetting); err != nil {
		return nil, err
	}
	runs, err := d.HeatLogs(ctx)
	if err != nil {
		return nil, err
	}
	out.Hookups, out.Needs, out.Proofs, out.HeatRuns = len(hookups), len(needs), len(proofs), len(runs)
	return out, nil
}

// keepAside copies the store to a file beside it that was not there.
func (d *DB) keepAside(ctx context.Context) (string, error) {
	stamp := d.now().UTC().Format("20060102-150405")
	for n := 1; ; n++ {
		name := fmt.Sprintf("%s.before-%s", d.path, stamp)
		if n > 1 {
			name += fmt.Sprintf("-%d", n)
		}
		if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
			if n == 1000 {
				return "", noRoom(err)
			}
			continue
		}
		return name, d.copyTo(ctx, name)
	}
}

// takePages overwrites the store with the pages of the file.
func (d *DB) takePages(ctx context.Context, name string) error {
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return internal(err)
	}
	defer conn.Close()
	err = conn.Raw(func(c any) error {
		r, ok := c.(interface {
			NewRestore(string) (*sqlite.Backup, error)
		})
		if !ok {
			return driver.ErrSkip
		}
		b, err := r.NewRestore(dsn(name))
		if err != nil {
			return err
		}
		for try := 0; ; try++ {
			more, err := b.Step(-1)
			switch {
			case err == nil && !more:
				return b.Finish()
			case err != nil && try < 100 && busy(err):
				time.Sleep(50 * time.Millisecond)
			case err != nil:
				return errors.Join(err, b.Finish())
			}
		}
	})
	if err != nil {
		return internal(err)
	}
	return nil
}

// newer counts the readings and answers of the old store that the new one
// does not have.
func newer(ctx context.Context, old, now string) (n int, err error) {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(old), RawQuery: "mode=ro"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return 0, internal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // the file beside it is attached to one connection
	if _, err := db.ExecContext(ctx, "ATTACH ? AS now", now); err != nil {
		return 0, internal(err)
	}
	err = db.QueryRowContext(ctx, `SELECT
		(SELECT count(*) FROM (SELECT u.tag, r.id, r.doc FROM main.reading r JOIN main.unit u ON u.id = r.unit EXCEPT SELECT u.tag, r.id, r.doc FROM now.reading r JOIN now.unit u ON u.id = r.unit)) +
		(SELECT count(*) FROM (SELECT p.opened, a.seq, a.doc FROM main.answer a JOIN main.proof p ON p.id = a.proof EXCEPT SELECT p.opened, a.seq, a.doc FROM now.answer a JOIN now.proof p ON p.id = a.proof)) +
		(SELECT count(*) FROM (SELECT h.began, r.seq, r.doc FROM main.heat_reading r JOIN main.heat_run h ON h.id = r.run EXCEPT SELECT h.began, r.seq, r.doc FROM now.heat_reading r JOIN now.heat_run h ON h.id = r.run))`).Scan(&n)
	if err != nil {
		return 0, internal(err)
	}
	return n, nil
}
