package cli

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"yokemate"
)

// What is printed to be typed comes through a shell as it was.
func TestQuoted(t *testing.T) {
	for _, word := range []string{"offer.json", "rope lights", "it's", `a "b" $c`, "", "-", "Ω & co; (1)", "~x", "#3", "tab\tted"} {
		if out, err := exec.Command("sh", "-c", "printf %s "+quoted(word)).Output(); err != nil || string(out) != word {
			t.Errorf("%s comes out as %q (%v)", quoted(word), out, err)
		}
	}
	if q := quoted("bench.db"); q != "bench.db" {
		t.Errorf("a plain name is written %s", q)
	}
}

// The answers of a record that another program has added to are not written
// over: a verdict that leaves out what is there could be a wrong go.
func TestRecordChangedMeanwhile(t *testing.T) {
	name := filepath.Join(t.TempDir(), "record.json")
	app := func() *App { return &App{in: bufio.NewReader(strings.NewReader(""))} }
	one, two := &fileKeeper{app: app(), file: name}, &fileKeeper{app: app(), file: name}
	if err := one.keep(nil, yokemate.Answer{Step: "ohms-T1-P", Value: "940"}); err != nil {
		t.Fatal(err)
	}
	if err := two.keep(nil, yokemate.Answer{Step: "ohms-T1-P", Value: "3"}); yokemate.ErrorCode(err) != yokemate.Conflict {
		t.Errorf("the second program writes over the first: %v", err)
	}
	if err := one.keep(nil, yokemate.Answer{Step: "ohms-T1-A", Value: "2.9"}); err != nil {
		t.Errorf("the first one cannot go on: %v", err)
	}
	if got, err := app().Answers(name); err != nil || len(got.Answers) != 2 || got.Answers[0].Value != "940" {
		t.Errorf("the file holds %+v (%v)", got, err)
	}
	if err := os.Remove(name); err != nil {
		t.Fatal(err)
	}
	if err := one.keep(nil, yokemate.Answer{Step: "insulation-T1", Value: "500"}); yokemate.ErrorCode(err) != yokemate.Conflict {
		t.Errorf("a record that has gone is begun anew without its first answers: %v", err)
	}
}

// Only one at a time changes a file, also through a link to it.
func TestAlone(t *testing.T) {
	dir := t.TempDir()
	name, link := filepath.Join(dir, "s.json"), filepath.Join(dir, "link.json")
	if err := os.WriteFile(name, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(name, link); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for i := range 20 {
		all.Go(func() {
			path := []string{name, link}[i%2]
			done, err := alone(path)
			if err != nil {
				t.Error(err)
				return
			}
			defer done()
			b, err := os.ReadFile(path)
			if err == nil {
				err = replaceFile(path, append(b, 'x'))
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if b, err := os.ReadFile(name); err != nil || string(b) != strings.Repeat("x", 20) {
		t.Errorf("of 20 changes %d are there (%v)", len(b), err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 2 {
		t.Errorf("files are left behind: %v (%v)", left, err)
	}
}
