package main

import (
	"context"
	"errors"
	"flag"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"yokemate"
	"yokemate/internal/sqlite"
)

var update = flag.Bool("update", false, "rewrite the expected output in the scripts")

func TestMain(m *testing.M) { testscript.Main(m, map[string]func(){"yokemate": main}) }

// The scripts run the real program in a folder of their own, on a store in
// its subfolder data.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_DATA_HOME", filepath.Join(e.WorkDir, "data"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits":   exits,
			"picture": picture,
			"refused": refused,
		},
		UpdateScripts: *update,
	})
}

// exits STATUS COMMAND… runs the command and holds it to the exit status.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits status command [argument…]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		e, ok := errors.AsType[*exec.ExitError](err)
		if !ok {
			ts.Fatalf("%v", err)
		}
		got = e.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status is %d, want %d\n%s%s", got, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

// refused ARGUMENT… runs the program and holds it to how bad input is met:
// status 2, one line on standard error that carries a mend, nothing on
// standard output, and the store as it was.
func refused(ts *testscript.TestScript, neg bool, args []string) {
	if neg {
		ts.Fatalf("usage: refused [argument…]")
	}
	before := contents(ts)
	exits(ts, false, append([]string{"2", "yokemate"}, args...))
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("there is output: %s", out)
	}
	msg := ts.ReadFile("stderr")
	switch {
	case !strings.HasPrefix(msg, "yokemate: error: "):
		ts.Fatalf("the message does not start as it should: %s", msg)
	case strings.Count(msg, "\n") != 1 || !strings.HasSuffix(msg, "\n"):
		ts.Fatalf("the message is not one line: %s", msg)
	case !strings.Contains(msg, "; "):
		ts.Fatalf("the message has no mend: %s", msg)
	}
	if contents(ts) != before {
		ts.Fatalf("the store has changed")
	}
}

// picture FILE WIDTH HEIGHT makes a PNG picture.
func picture(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: picture file width height")
	}
	w, err := strconv.Atoi(args[1])
	ts.Check(err)
	h, err := strconv.Atoi(args[2])
	ts.Check(err)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	ts.Check(png.Encode(f, image.NewGray(image.Rect(0, 0, w, h))))
}

// contents is all that the store says, as text; empty when there is none.
func contents(ts *testscript.TestScript) string {
	ctx := context.Background()
	path := ts.MkAbs("data/yokemate/bench.db")
	if _, err := os.Stat(path); err != nil {
		return ""
	}
	d, err := sqlite.Open(ctx, sqlite.Config{Path: path, Now: time.Now})
	ts.Check(err)
	defer d.Close()
	var text strings.Builder
	add := func(v any, err error) {
		ts.Check(err)
		b, err := yokemate.Encode(v)
		ts.Check(err)
		text.Write(b)
	}
	shelf, err := d.Album(ctx)
	add(shelf, err)
	log, err := d.Log(ctx, "")
	add(log, err)
	hookups, err := d.Hookups(ctx)
	add(hookups, err)
	needs, err := d.Needs(ctx)
	add(needs, err)
	proofs, err := d.Proofs(ctx)
	add(proofs, err)
	return text.String()
}
