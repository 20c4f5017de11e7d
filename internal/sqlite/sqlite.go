// Package sqlite keeps the bench in one SQLite file: it is the store that
// package yokemate declares, embedded and without a server.
//
// It knows the nouns of package yokemate as documents and holds them to their
// own rules before they are stored; it computes nothing and talks to nobody.
//
// Units, hookups and needs are stored as the text of their file formats, so
// digits come back as they were written. Readings and answers stand in tables
// of their own that triggers keep append-only. Every change is one immediate
// transaction. Pragmas stand in the connection string, since set by a
// statement they would reach one connection of the pool only.
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"yokemate"
)

// applicationID marks a SQLite file as a store of ours: "Yoke" in ASCII.
const applicationID = 0x596f6b65

//go:embed migration/*.sql
var migrations embed.FS

// Config says where the store is and what time it is.
type Config struct {
	Path string           // the file; it is made, with its folder, when it is not there
	Now  func() time.Time // the clock; nil means time.Now
}

// DB is an open store.
type DB struct {
	db    *sql.DB
	path  string
	steps fs.FS // of its migrations
	now   func() time.Time

	reinstating sync.Mutex
}

var _ yokemate.Store = (*DB)(nil)

// Open opens the store, makes it when it is not there, and brings an older one
// up to date after copying it aside. A file that is not a store, or one that a
// newer program has written, is refused and left alone.
func Open(ctx context.Context, c Config) (*DB, error) {
	sub, err := fs.Sub(migrations, "migration")
	if err != nil {
		return nil, internal(err)
	}
	return open(ctx, c, sub)
}

func open(ctx context.Context, c Config, steps fs.FS) (*DB, error) {
	path, err := filepath.Abs(c.Path)
	if err != nil {
		return nil, internal(err)
	}
	if fi, err := os.Stat(path); err == nil && fi.IsDir() {
		return nil, yokemate.Errorf(yokemate.Invalid, "", "it is a folder").Mend("name a file")
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, &yokemate.Error{Code: yokemate.Invalid, Message: "its folder cannot be made: " + err.Error(), Hint: "choose another place with --store", Err: err}
	}
	db, err := sql.Open("sqlite", dsn(path))
	if err != nil {
		return nil, internal(err)
	}
	if err := migrate(ctx, db, path, steps); err != nil {
		db.Close()
		return nil, err
	}
	d := &DB{db: db, path: path, steps: steps, now: c.Now}
	if d.now == nil {
		d.now = time.Now
	}
	return d, nil
}

// dsn is the connection string. Every committed change is on the disk
// (synchronous FULL) before the caller goes on.
func dsn(path string) string {
	slash := filepath.ToSlash(path)
	if slash[0] != '/' {
		slash = "/" + slash // a drive letter
	}
	u := url.URL{Scheme: "file", Path: slash, RawQuery: url.Values{
		"_pragma": {"busy_timeout(10000)", "foreign_keys(1)", "journal_mode(WAL)", "synchronous(FULL)", "trusted_schema(0)"},
		"_txlock": {"immediate"},
	}.Encode()}
	return u.String()
}

// migrate checks that the file is ours and brings it to the newest step.
func migrate(ctx context.Context, db *sql.DB, path string, steps fs.FS) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, steps, goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return internal(err)
	}
	sources := p.ListSources()
	newest := sources[len(sources)-1].Version
	// Two programs may meet at a new file. Each step is one transaction, so
	// the slower one fails whole and finds the step done when it looks again.
	for try := 0; ; try++ {
		at, err := version(ctx, db)
		switch {
		case err != nil:
			return err
		case at > newest:
			return yokemate.Errorf(yokemate.Unsupported, "", "a newer Yokemate has written it (step %d; this one knows %d)", at, newest).Mend("use the newer program")
		case at == newest:
			return nil
		case at > 0:
			aside := fmt.Sprintf("%s.step%d", path, at)
			if _, err := os.Stat(aside); errors.Is(err, fs.ErrNotExist) {
				if _, err := db.ExecContext(ctx, "VACUUM INTO ?", aside); err != nil {
					return internal(err)
				}
			}
		}
		if _, err := p.Up(ctx); err != nil && try == 20 {
			return internal(err)
		} else if err != nil {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(50 * time.Millisecond):
			}
		}
	}
}

// version returns the step the file is at, 0 for a new one.
func version(ctx context.Context, db *sql.DB) (int64, error) {
	var id, tables int64
	err := db.QueryRowContext(ctx, "SELECT (SELECT application_id FROM pragma_application_id), (SELECT count(*) FROM sqlite_schema WHERE name <> 'goose_db_version' AND name NOT LIKE 'sqlite_%')").Scan(&id, &tables)
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_NOTADB:
			return 0, yokemate.Errorf(yokemate.Invalid, "", "it is not a Yokemate store").Mend("name another file, or use --shelf for a shelf file")
		case sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
			return 0, &yokemate.Error{Code: yokemate.Invalid, Message: "the store cannot be opened for writing", Hint: "check its permissions, or choose another place with --store", Err: err}
		}
	}
	if err != nil {
		return 0, internal(err)
	}
	if tables == 0 && id == 0 {
		return 0, nil
	}
	if id != applicationID {
		return 0, yokemate.Errorf(yokemate.Invalid, "", "it is a database of another program").Mend("name another file")
	}
	var at int64
	if err := db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version").Scan(&at); err != nil {
		return 0, internal(err)
	}
	return at, nil
}

// Close closes the store.
func (d *DB) Close() error { return d.db.Close() }

// change runs f in one immediate transaction.
func (d *DB) change(ctx context.Context, f func(*sql.Tx) error) error { return d.in(ctx, nil, f) }

// look runs f in one transaction that only reads, so that what it sees is of
// one moment.
func (d *DB) look(ctx context.Context, f func(*sql.Tx) error) error {
	return d.in(ctx, &sql.TxOptions{ReadOnly: true}, f)
}

func (d *DB) in(ctx context.Context, o *sql.TxOptions, f func(*sql.Tx) error) error {
	tx, err := d.db.BeginTx(ctx, o)
	if err != nil {
		return internal(err)
	}
	if err := f(tx); err != nil {
		return errors.Join(ours(err), rollback(tx))
	}
	if err := tx.Commit(); err != nil {
		return internal(err)
	}
	return nil
}

// rollback undoes tx. The caller has the error that matters already; one of
// the rollback itself is told only when the transaction was still open.
func rollback(tx *sql.Tx) error {
	if err := tx.Rollback(); err != nil && !errors.Is(err, sql.ErrTxDone) {
		return internal(err)
	}
	return nil
}

// ours leaves our own errors as they are and wraps the driver's.
func ours(err error) error {
	if _, ok := errors.AsType[*yokemate.Error](err); ok {
		return err
	}
	return internal(err)
}

func busy(err error) bool {
	e, ok := errors.AsType[*sqlite.Error](err)
	return ok && (e.Code()&0xff == sqlite3.SQLITE_BUSY || e.Code()&0xff == sqlite3.SQLITE_LOCKED)
}

func internal(err error) error {
	if busy(err) {
		return &yokemate.Error{Code: yokemate.Internal, Message: "the store is busy with another program's change", Hint: "try again", Err: err}
	}
	return &yokemate.Error{Code: yokemate.Internal, Message: "the store could not be read or written", Err: err}
}

// stamp is the time now, as stored.
func (d *DB) stamp() string { return d.now().UTC().Format(time.RFC3339Nano) }

func parseStamp(s string) (time.Time, error) { return time.Parse(time.RFC3339Nano, s) }

// encode writes v as it is stored. JSON has no NaN and no infinities, so a
// value that is no number stops here, before SQLite would make it NULL.
func encode(v any) (string, error) {
	b, err := yokemate.Encode(v)
	if err != nil {
		return "", &yokemate.Error{Code: yokemate.Invalid, Message: "it holds something that is not a finite number or not UTF-8 text", Hint: "mend the value that is not a number", Err: err}
	}
	return string(b), nil
}

// decode reads what encode wrote.
func decode(doc string, v any) error {
	if err := yokemate.Decode([]byte(doc), v); err != nil {
		return internal(err)
	}
	return nil
}

// docs reads a query's single column of documents.
func docs[T any](ctx context.Context, tx *sql.Tx, query string, args ...any) ([]T, error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var doc string
		if err := rows.Scan(&doc); err != nil {
			return nil, err
		}
		var v T
		if err := decode(doc, &v); err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, rows.Err()
}
