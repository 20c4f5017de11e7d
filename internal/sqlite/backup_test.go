package sqlite

import (
	"bytes"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"yokemate"
)

// everything is all that a store holds.
func everything(tb testing.TB, d *DB) map[string]any {
	tb.Helper()
	all := map[string]any{}
	put := func(name string, v any, err error) {
		if err != nil {
			tb.Fatal(err)
		}
		all[name] = v
	}
	s, err := d.Album(tb.Context())
	put("album", s, err)
	l, err := d.Log(tb.Context(), "")
	put("log", l, err)
	h, err := d.Hookups(tb.Context())
	put("hookups", h, err)
	n, err := d.Needs(tb.Context())
	put("needs", n, err)
	p, err := d.Proofs(tb.Context())
	put("proofs", p, err)
	b, err := d.Bench(tb.Context())
	put("bench", b, err)
	return all
}

// busyBench is a store with some of everything.
func busyBench(tb testing.TB) *DB {
	tb.Helper()
	d := filled(tb)
	ctx := tb.Context()
	p, err := d.CreateProof(ctx, hookupOf(tb), nil)
	if err != nil {
		tb.Fatal(err)
	}
	if _, err := d.AppendAnswer(ctx, p.ID, yokemate.Answer{Step: "cold-1", Value: "0.48"}); err != nil {
		tb.Fatal(err)
	}
	if _, err := d.AddPhoto(ctx, "T1", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(tb, 40)}); err != nil {
		tb.Fatal(err)
	}
	if err := d.PutBench(ctx, &yokemate.Bench{Volts: 230, Hertz: 50}); err != nil {
		tb.Fatal(err)
	}
	if err := d.RemoveUnit(ctx, "T2"); err != nil {
		tb.Fatal(err)
	}
	return d
}

func backupOf(tb testing.TB, d *DB) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := d.Backup(tb.Context(), &b); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// A backup brings everything back, for every program that has the store open,
// and what was there before stays in a file of its own.
func TestBackupAndBack(t *testing.T) {
	a := busyBench(t)
	want := everything(t, a)
	file := backupOf(t, a)

	b := fresh(t)
	other := mustOpen(t, b.path) // another program on the same store
	if err := b.AddUnit(t.Context(), shelfOf(t, shelfText).Unit("T1")); err != nil {
		t.Fatal(err)
	}
	if _, err := b.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, From: "1", To: "2", Value: "941"}); err != nil {
		t.Fatal(err)
	}
	before := everything(t, other)
	got, err := b.Reinstate(t.Context(), bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	wanted := &yokemate.Reinstated{Units: 1, Readings: 1, Photos: 1, Hookups: 1, Needs: 1, Proofs: 1, Newer: 1, Kept: got.Kept}
	if diff := cmp.Diff(wanted, got); diff != "" {
		t.Error(diff)
	}
	for _, d := range []*DB{b, other} {
		if diff := cmp.Diff(want, everything(t, d)); diff != "" {
			t.Error(diff)
		}
	}
	if filepath.Dir(got.Kept) != filepath.Dir(b.path) {
		t.Errorf("the old store is at %s", got.Kept)
	}
	if diff := cmp.Diff(before, everything(t, mustOpen(t, got.Kept))); diff != "" {
		t.Error(diff)
	}
	// The store goes on being one: it takes readings, keeps them, and is whole.
	if _, err := other.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, From: "1", To: "2", Value: "942"}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.db.Exec("DELETE FROM reading"); err == nil || !strings.Contains(err.Error(), "never deleted") {
		t.Errorf("readings can be deleted: %v", err)
	}
	var mode, whole string
	if err := b.db.QueryRow("SELECT journal_mode, integrity_check FROM pragma_journal_mode, pragma_integrity_check").Scan(&mode, &whole); err != nil || mode != "wal" || whole != "ok" {
		t.Errorf("mode %s, check %s, %v", mode, whole, err)
	}
	// Twice in one second: two files are kept.
	again, err := b.Reinstate(t.Context(), bytes.NewReader(file))
	if err != nil || again.Kept == got.Kept {
		t.Errorf("kept at %v, %v", again, err)
	}
	if left, err := filepath.Glob(filepath.Join(filepath.Dir(b.path), ".*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// What is no sound backup changes nothing and keeps nothing aside.
func TestBadBackup(t *testing.T) {
	a := busyBench(t)
	file := backupOf(t, a)
	want := everything(t, a)
	// edit makes a backup that an SQL statement has been at.
	edit := func(statements ...string) []byte {
		name := filepath.Join(t.TempDir(), "edited")
		if err := os.WriteFile(name, file, 0o600); err != nil {
			t.Fatal(err)
		}
		db, err := sql.Open("sqlite", dsn(name))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		for _, s := range statements {
			if _, err := db.Exec(s); err != nil {
				t.Fatal(s, err)
			}
		}
		if _, err := db.Exec("PRAGMA journal_mode = DELETE"); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	torn := bytes.Clone(file)
	for i := len(torn) / 2; i < len(torn)/2+5000; i++ {
		torn[i] ^= 0x5a
	}
	for name, c := range map[string]struct {
		data []byte
		code yokemate.Code
	}{
		"empty":            {nil, yokemate.Invalid},
		"text":             {[]byte("hello, this is no store, however long it may be"), yokemate.Invalid},
		"cut short":        {file[:len(file)/2], yokemate.Invalid},
		"torn":             {torn, yokemate.Invalid},
		"another program":  {edit("PRAGMA application_id = 7"), yokemate.Invalid},
		"newer program":    {edit("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)"), yokemate.Unsupported},
		"further trigger":  {edit("CREATE TRIGGER evil AFTER INSERT ON reading BEGIN DELETE FROM need; END"), yokemate.Invalid},
		"lost trigger":     {edit("DROP TRIGGER reading_kept"), yokemate.Invalid},
		"orphan":           {edit("PRAGMA foreign_keys = 0", "DELETE FROM unit"), yokemate.Invalid},
		"unit that is not": {edit("UPDATE unit SET doc = '{\"tag\": \"T 1\"}'"), yokemate.Invalid},
		"unknown field":    {edit("UPDATE need SET doc = '{\"x\": 1}'"), yokemate.Invalid},
	} {
		_, err := a.Reinstate(t.Context(), bytes.NewReader(c.data))
		if err == nil || yokemate.ErrorCode(err) != c.code {
			t.Errorf("%s: %v, want code %s", name, err, c.code)
		}
	}
	if diff := cmp.Diff(want, everything(t, a)); diff != "" {
		t.Error(diff)
	}
	all, err := os.ReadDir(filepath.Dir(a.path))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if strings.Contains(e.Name(), "before") || strings.HasPrefix(e.Name(), ".") {
			t.Errorf("%s was left", e.Name())
		}
	}
}

// A backup of an older program is brought up to date on the way.
func TestOlderBackup(t *testing.T) {
	old, err := open(t.Context(), Config{Path: filepath.Join(t.TempDir(), "old.db")}, first(t))
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	if err := old.AddUnit(t.Context(), shelfOf(t, shelfText).Unit("T1")); err != nil {
		t.Fatal(err)
	}
	d := fresh(t)
	got, err := d.Reinstate(t.Context(), bytes.NewReader(backupOf(t, old)))
	if err != nil || got.Units != 1 || got.Readings != 1 {
		t.Fatalf("%+v, %v", got, err)
	}
	if _, err := d.AddPhoto(t.Context(), "T1", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(t, 40)}); err != nil {
		t.Error(err)
	}
}

// first is the first migration alone.
func first(tb testing.TB) fstest.MapFS {
	tb.Helper()
	b, err := migrations.ReadFile("migration/00001_bench.sql")
	if err != nil {
		tb.Fatal(err)
	}
	return fstest.MapFS{"00001_bench.sql": {Data: b}}
}
