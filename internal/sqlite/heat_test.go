package sqlite

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"yokemate"
)

// TestHeatRunSurvives: a run and its readings come back with their digits, are
// never altered, and a later reading at the same minutes stands in place of the
// earlier one, which is kept.
func TestHeatRunSurvives(t *testing.T) {
	path := filepath.Join(t.TempDir(), "store")
	d := mustOpen(t, path)
	ctx := t.Context()
	l, err := d.BeginHeat(ctx, &yokemate.HeatLog{Title: "F5 on 0.8 A", Cold: "118.3", ColdC: 23, HottestC: 40, BoundK: 1})
	if err != nil {
		t.Fatal(err)
	}
	if l.ID == 0 || l.Began.IsZero() || len(l.Entries) != 0 {
		t.Errorf("begun as %+v", l)
	}
	for _, r := range []yokemate.HeatRow{{Minutes: 10, Shown: "124.20", AirC: 23}, {Minutes: 20, Shown: "182.1", AirC: 23}, {Minutes: 20, Shown: "128.1", AirC: 23.5}} {
		if _, err := d.AppendHeat(ctx, l.ID, r); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	d = mustOpen(t, path)
	got, err := d.HeatLog(ctx, l.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Entries) != 3 || got.Entries[0].Shown != "124.20" || !got.Began.Equal(l.Began) {
		t.Errorf("came back as %+v", got)
	}
	if s := got.Standing(); len(s) != 2 || s[1].Shown != "128.1" {
		t.Errorf("standing: %+v", s)
	}
	for _, sql := range []string{
		"UPDATE heat_reading SET doc = '{}'", "DELETE FROM heat_reading", "UPDATE heat_run SET doc = '{}'", "DELETE FROM heat_run",
		"INSERT OR REPLACE INTO heat_reading (run, seq, doc) VALUES (1, 1, '{}')",
	} {
		if _, err := d.db.ExecContext(ctx, sql); err == nil || !strings.Contains(err.Error(), "is never") {
			t.Errorf("%s: %v", sql, err)
		}
	}
	for _, r := range []yokemate.HeatRow{{Minutes: 0, Shown: "1"}, {Minutes: math.NaN(), Shown: "1"}, {Minutes: 5}, {Minutes: 5, Shown: "130", AirC: math.Inf(1)}} {
		_, err := d.AppendHeat(ctx, l.ID, r)
		wantCode(t, err, yokemate.Invalid)
	}
	_, err = d.AppendHeat(ctx, 99, yokemate.HeatRow{Minutes: 5, Shown: "130"})
	wantCode(t, err, yokemate.NotFound)
	_, err = d.BeginHeat(ctx, &yokemate.HeatLog{ColdC: 20, HottestC: 40, BoundK: 1})
	wantCode(t, err, yokemate.Invalid)
	all, err := d.HeatLogs(ctx)
	if err != nil || len(all) != 1 || len(all[0].Entries) != 3 {
		t.Errorf("list: %+v, %v", all, err)
	}
}
