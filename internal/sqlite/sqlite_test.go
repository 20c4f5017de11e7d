package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/google/go-cmp/cmp"

	"yokemate"
)

var noon = time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)

func mustOpen(tb testing.TB, path string) *DB {
	tb.Helper()
	d, err := Open(tb.Context(), Config{Path: path, Now: func() time.Time { return noon }})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { d.Close() })
	return d
}

func fresh(tb testing.TB) *DB {
	tb.Helper()
	return mustOpen(tb, filepath.Join(tb.TempDir(), "bench.db"))
}

const shelfText = `{"format": "yokemate-shelf/1", "units": [
 {"tag": "T1", "origin": "door bell of a ferry", "mains": {"volts": 230, "hertz": 50, "series": ["P"]},
  "windings": [{"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 940},
               {"id": "A", "pins": ["5", "6"], "volts": 11.920, "ohms": {"value": 2.90, "u": 0.05, "basis": "measured"}, "amps": 0.25}],
  "readings": [{"id": "r1", "quantity": "volts_ac", "from": "5", "to": "6", "value": "11.920"}]},
 {"tag": "T2", "windings": [{"id": "P", "pins": ["1", "2"], "volts": 230, "ohms": 900}]}]}`

const hookupText = `{"format": "yokemate-hookup/1", "name": "alone", "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N"},
 "joints": {"L": ["T1.1"], "N": ["T1.2"], "A": ["T1.5"], "B": ["T1.6"]}, "outputs": [{"name": "out", "from": "A", "to": "B"}]}`

const needText = `{"format": "yokemate-need/1", "name": "lamp", "kind": "ac", "volts": 12, "amps": 0.2, "feed": {"volts": 230, "hertz": 50, "live": "L", "neutral": "N"}}`

func shelfOf(tb testing.TB, text string) *yokemate.Shelf {
	tb.Helper()
	s, err := yokemate.DecodeShelf([]byte(text))
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func hookupOf(tb testing.TB) *yokemate.Hookup {
	tb.Helper()
	h, err := yokemate.DecodeHookup([]byte(hookupText))
	if err != nil {
		tb.Fatal(err)
	}
	return h
}

// filled returns a store with the shelf, the hookup and the need above.
func filled(tb testing.TB) *DB {
	tb.Helper()
	d := fresh(tb)
	n, err := yokemate.DecodeNeed([]byte(needText))
	if err != nil {
		tb.Fatal(err)
	}
	docs := []yokemate.Document{{Source: "n.json", Need: n}, {Source: "h.json", Hookup: hookupOf(tb)}, {Source: "s.json", Shelf: shelfOf(tb, shelfText)}}
	if _, err := d.Import(tb.Context(), docs, false); err != nil {
		tb.Fatal(err)
	}
	return d
}

func wantCode(tb testing.TB, err error, code yokemate.Code) {
	tb.Helper()
	if err == nil || yokemate.ErrorCode(err) != code {
		tb.Errorf("error is %v, want code %s", err, code)
	}
}

// Pragmas set by a statement reach one pooled connection; these must reach all.
func TestEveryConnectionHasItsPragmas(t *testing.T) {
	d := fresh(t)
	var conns []*sql.Conn
	for range 8 {
		c, err := d.db.Conn(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		conns = append(conns, c)
	}
	for i, c := range conns {
		for pragma, want := range map[string]string{"foreign_keys": "1", "journal_mode": "wal", "busy_timeout": "10000", "synchronous": "2"} {
			var got string
			if err := c.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil {
				t.Fatal(err)
			}
			if got != want {
				t.Errorf("connection %d: %s is %s, want %s", i, pragma, got, want)
			}
		}
	}
}

func TestShelfComesBackWithItsDigits(t *testing.T) {
	d := filled(t)
	got, err := d.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(shelfOf(t, shelfText), got, cmp.Comparer(func(a, b yokemate.Value) bool { return a == b })); diff != "" {
		t.Error(diff)
	}
	if got := got.Units[0].Windings[1].Volts.Digits; got != "11.920" {
		t.Errorf("digits are %q, want those of the file, 11.920", got)
	}
}

func TestReadingsAreAppendOnly(t *testing.T) {
	d := filled(t)
	r, err := d.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, From: "1", To: "2", Value: "941"})
	if err != nil {
		t.Fatal(err)
	}
	if r.ID != "r2" || !r.At.Equal(noon) {
		t.Errorf("reading got id %q at %v, want r2 at %v", r.ID, r.At, noon)
	}
	if _, err := d.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, From: "1", To: "2", Value: "940", Supersedes: "r2"}); err != nil {
		t.Fatal(err)
	}
	for _, stmt := range []string{
		"UPDATE reading SET doc = '{}'",
		"UPDATE reading SET id = 'x' WHERE id = 'r1'",
		"DELETE FROM reading",
		"INSERT OR REPLACE INTO reading (seq, unit, id, doc, added) SELECT seq, unit, id, '{}', added FROM reading",
		"DELETE FROM unit",
	} {
		if _, err := d.db.ExecContext(t.Context(), stmt); err == nil {
			t.Errorf("%s: went through", stmt)
		}
	}
	log, err := d.Log(t.Context(), "T1")
	if err != nil {
		t.Fatal(err)
	}
	if len(log) != 3 || log[0].Reading.Value != "11.920" || log[1].Reading.Value != "941" {
		t.Errorf("log is %+v, want all three readings as first written", log)
	}
	_, err = d.AddReading(t.Context(), "T1", yokemate.Reading{ID: "r1", Quantity: yokemate.Ohms, Value: "1"})
	wantCode(t, err, yokemate.Conflict)
	_, err = d.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, Value: "1", Supersedes: "r9"})
	wantCode(t, err, yokemate.NotFound)
	_, err = d.AddReading(t.Context(), "T9", yokemate.Reading{Quantity: yokemate.Ohms, Value: "1"})
	wantCode(t, err, yokemate.NotFound)
	_, err = d.AddReading(t.Context(), "T1", yokemate.Reading{Quantity: yokemate.Ohms, Value: "NaN"})
	wantCode(t, err, yokemate.Invalid)
}

func TestRemovedUnitKeepsItsLog(t *testing.T) {
	d := filled(t)
	wantCode(t, d.RemoveUnit(t.Context(), "T1"), yokemate.Conflict) // the hookup names it
	if err := d.RemoveHookup(t.Context(), "alone"); err != nil {
		t.Fatal(err)
	}
	if err := d.RemoveUnit(t.Context(), "T1"); err != nil {
		t.Fatal(err)
	}
	wantCode(t, d.RemoveUnit(t.Context(), "T1"), yokemate.NotFound)
	// Another unit takes the tag: it has no readings of the old one.
	u := shelfOf(t, shelfText).Unit("T2")
	u.Tag = "T1"
	if err := d.AddUnit(t.Context(), u); err != nil {
		t.Fatal(err)
	}
	s, err := d.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if n := len(s.Unit("T1").Readings); n != 0 {
		t.Errorf("the new T1 has %d readings of the old one", n)
	}
	log, err := d.Log(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	if len(log) != 1 || !log[0].Removed || log[0].Tag != "T1" {
		t.Errorf("log is %+v, want the removed unit's reading", log)
	}
}

func TestImportIsWholeOrNothing(t *testing.T) {
	d := fresh(t)
	bad := hookupOf(t)
	bad.Joints[0].Pins[0] = "T7.1"
	docs := []yokemate.Document{{Source: "s.json", Shelf: shelfOf(t, shelfText)}, {Source: "h.json", Hookup: bad}}
	_, err := d.Import(t.Context(), docs, false)
	wantCode(t, err, yokemate.Invalid)
	if e, ok := errors.AsType[*yokemate.SourceError](err); !ok || e.Source != "h.json" {
		t.Errorf("error %v does not name h.json", err)
	}
	s, err := d.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Units) != 0 {
		t.Errorf("%d units were stored beside the bad hookup", len(s.Units))
	}
}

func TestImportAgain(t *testing.T) {
	d := filled(t)
	how := func(s *yokemate.Shelf, replace bool) (string, error) {
		c, err := d.Import(t.Context(), []yokemate.Document{{Source: "s.json", Shelf: s}}, replace)
		if err != nil {
			return "", err
		}
		return c[0].How, nil
	}
	if got, err := how(shelfOf(t, shelfText), false); err != nil || got != "same" {
		t.Errorf("same content: %q, %v; want same", got, err)
	}
	other := shelfOf(t, shelfText)
	other.Units[0].Origin = "door bell of a tug"
	_, err := how(other, false)
	wantCode(t, err, yokemate.Conflict)
	if got, err := how(other, true); err != nil || got != "replaced" {
		t.Errorf("other content with replace: %q, %v; want replaced", got, err)
	}
	altered := shelfOf(t, shelfText)
	altered.Units[0].Readings[0].Value = "11.93"
	_, err = how(altered, true)
	wantCode(t, err, yokemate.Conflict)
	lost := shelfOf(t, shelfText)
	lost.Units[0].Windings = lost.Units[0].Windings[:1]
	_, err = how(lost, true) // the stored hookup names pins 5 and 6
	wantCode(t, err, yokemate.Conflict)
}

// Plain numbers count as read on the shelf's first meter. An import must not
// hand one shelf's numbers to another shelf's meter.
func TestImportKeepsNumbersWithTheirMeter(t *testing.T) {
	d := filled(t) // read on the generic meter
	s := shelfOf(t, strings.ReplaceAll(shelfText, `"tag": "T`, `"tag": "U`))
	m := *yokemate.GenericMeter()
	m.Name = "better"
	s.Meters = []yokemate.Meter{m}
	_, err := d.Import(t.Context(), []yokemate.Document{{Source: "s.json", Shelf: s}}, false)
	wantCode(t, err, yokemate.Conflict)
}

func TestProofSurvives(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.db")
	d := mustOpen(t, path)
	p, err := d.CreateProof(t.Context(), hookupOf(t), shelfOf(t, shelfText))
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Shelf.Units) != 1 || p.State != yokemate.ProofOpen {
		t.Errorf("proof holds %d units in state %s, want the one the hookup names, open", len(p.Shelf.Units), p.State)
	}
	for _, v := range []yokemate.AnswerText{"940", "11.90"} {
		if _, err := d.AppendAnswer(t.Context(), p.ID, yokemate.Answer{Step: "s", Value: v}); err != nil {
			t.Fatal(err)
		}
	}
	// A second opening of the file stands for the program after a crash: the
	// first is not closed.
	again := mustOpen(t, path)
	p, err = again.Proof(t.Context(), p.ID)
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Given().Answers; len(got) != 2 || got[1].Value != "11.90" || !p.Answers[1].At.Equal(noon) {
		t.Errorf("answers are %+v, want both with their time", p.Answers)
	}
	for _, stmt := range []string{"UPDATE answer SET doc = '{}'", "DELETE FROM answer", "DELETE FROM proof", "UPDATE proof SET hookup = '{}'",
		"INSERT OR REPLACE INTO answer (proof, seq, at, doc) VALUES (1, 1, '', '{}')"} {
		if _, err := again.db.ExecContext(t.Context(), stmt); err == nil {
			t.Errorf("%s: went through", stmt)
		}
	}
	wantCode(t, again.SetProofState(t.Context(), p.ID, "done"), yokemate.Invalid)
	wantCode(t, again.SetProofState(t.Context(), 99, yokemate.ProofGood), yokemate.NotFound)
	if err := again.SetProofState(t.Context(), p.ID, yokemate.ProofGood); err != nil {
		t.Fatal(err)
	}
	_, err = again.AppendAnswer(t.Context(), p.ID, yokemate.Answer{Step: "s", Value: "1"})
	wantCode(t, err, yokemate.Conflict)
	_, err = again.Proof(t.Context(), 99)
	wantCode(t, err, yokemate.NotFound)
	all, err := again.Proofs(t.Context())
	if err != nil || len(all) != 1 || all[0].State != yokemate.ProofGood {
		t.Errorf("proofs are %+v, %v; want the one, good", all, err)
	}
}

// SQLite would store NaN as NULL without a word.
func TestNoNaNReachesTheStore(t *testing.T) {
	d := filled(t)
	for name, spoil := range map[string]func(*yokemate.Unit){
		"value NaN":  func(u *yokemate.Unit) { u.VA = yokemate.Num(math.NaN()) },
		"value +Inf": func(u *yokemate.Unit) { u.VA = yokemate.Num(math.Inf(1)) },
		"plain NaN": func(u *yokemate.Unit) {
			u.Insulation = []yokemate.Insulation{{From: "P", To: "core", TestVolts: math.NaN()}}
		},
		"plain Inf": func(u *yokemate.Unit) {
			u.Insulation = []yokemate.Insulation{{From: "P", To: "core", TestVolts: math.Inf(1)}}
		},
		"uncertainty NaN": func(u *yokemate.Unit) { u.VA = yokemate.PlusMinus(6, math.NaN(), yokemate.Measured) },
	} {
		u := *shelfOf(t, shelfText).Unit("T2")
		spoil(&u)
		wantCode(t, d.PutUnit(t.Context(), &u), yokemate.Invalid)
		s, err := d.Shelf(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(shelfOf(t, shelfText), s); diff != "" {
			t.Errorf("%s: the store changed: %s", name, diff)
		}
	}
	_, err := d.AppendAnswer(t.Context(), 1, yokemate.Answer{})
	wantCode(t, err, yokemate.NotFound)
}

func TestForeignFilesAreRefused(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "letter.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("not a database at all\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.db")
	db, err := sql.Open("sqlite", dsn(other))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE accounts (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for _, path := range []string{text, other, dir, filepath.Join(text, "bench.db")} {
		_, err := Open(t.Context(), Config{Path: path})
		wantCode(t, err, yokemate.Invalid)
	}
	if b, err := os.ReadFile(text); err != nil || !strings.HasPrefix(string(b), "not a database") {
		t.Error("the letter was changed")
	}
}

func TestNewerFileIsRefusedOlderIsCopiedAside(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.db")
	d := mustOpen(t, path)
	if err := d.PutUnit(t.Context(), shelfOf(t, shelfText).Unit("T1")); err != nil {
		t.Fatal(err)
	}
	d.Close()
	list, err := migrations.ReadDir("migration")
	if err != nil {
		t.Fatal(err)
	}
	more := fstest.MapFS{"00099_more.sql": {Data: []byte("-- +goose Up\nCREATE TABLE more (id INTEGER PRIMARY KEY) STRICT;\n")}}
	for _, f := range list {
		b, err := migrations.ReadFile("migration/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		more[f.Name()] = &fstest.MapFile{Data: b}
	}
	newer, err := open(t.Context(), Config{Path: path}, more)
	if err != nil {
		t.Fatal(err)
	}
	newer.Close()
	_, err = Open(t.Context(), Config{Path: path})
	wantCode(t, err, yokemate.Unsupported)
	aside := mustOpen(t, fmt.Sprintf("%s.step%d", path, len(list)))
	s, err := aside.Shelf(t.Context())
	if err != nil || s.Unit("T1") == nil {
		t.Errorf("the copy aside does not hold the unit: %v", err)
	}
}

func TestManyProgramsMeetAtANewFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "deep", "down", "bench.db")
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			d, err := Open(context.Background(), Config{Path: path})
			if err != nil {
				t.Error(err)
				return
			}
			defer d.Close()
			u := *shelfOf(t, shelfText).Unit("T2")
			u.Tag = "U" + string(rune('0'+i))
			if err := d.AddUnit(context.Background(), &u); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	s, err := mustOpen(t, path).Shelf(t.Context())
	if err != nil || len(s.Units) != 6 {
		t.Errorf("%d units, %v; want all 6", len(s.Units), err)
	}
}

func BenchmarkOpen(b *testing.B) {
	path := filepath.Join(b.TempDir(), "bench.db")
	for b.Loop() {
		d, err := Open(b.Context(), Config{Path: path})
		if err != nil {
			b.Fatal(err)
		}
		d.Close()
	}
}
