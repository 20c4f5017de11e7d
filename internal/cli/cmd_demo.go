package cli

import (
	"errors"
	"os"
	"path/filepath"
	"strings"

	"yokemate"
	"yokemate/examples"
	"yokemate/internal/demo"
)

type demoCmd struct {
	Show bool `name:"run" help:"Do the main job on a throw-away store and print what comes of it; the real store is not touched."`
}

// Run fills an empty store with the invented bench, or works on a throw-away one.
func (c *demoCmd) Run(a *App) error {
	if c.Show {
		return a.demoRun()
	}
	s, err := a.Store()
	if err != nil {
		return err
	}
	path, err := a.StorePath()
	if err != nil {
		return err
	}
	x, err := demo.Fill(a.Ctx(), s)
	if err != nil {
		return inFile(path, err)
	}
	if a.AsJSON {
		return a.JSON(x)
	}
	a.Para("", "An invented bench is in "+path+": "+itoa(x.Units)+" units of the Fernhollow marionette theatre (230 V) and the Tern Point harbour radio club (120 V), "+itoa(x.Needs)+" needs, "+itoa(x.Hookups)+" hookups.")
	for _, p := range x.Proofs {
		text := "Proof " + itoa(int(p.ID)) + ", " + p.Hookup + ": " + stateMark(p.State) + "."
		if p.State == yokemate.ProofStopped {
			text += " " + p.Last
		}
		a.Para("", text)
	}
	a.Print("\nTry next\n")
	for _, line := range []string{
		"shelf", "unit show F1", "find --need \"rope lights\"", "predict --hookup \"rope lights\"", "predict --hookup \"odd pair\"",
		"prove --hookup \"rope lights\"", "proof show 1", "proof show 2",
	} {
		a.Print("  yokemate %s%s\n", line, a.where())
	}
	return nil
}

// demoJob is the main job, as command lines on the demo's store. They work in
// one folder; the answers are a file of package examples.
var demoJob = []struct {
	says string
	args []string
}{
	{"Wanted: 12 V at 1.8 A for rope lights. What on the shelf gives it?", []string{"find", "--need", "rope lights", "--most", "3"}},
	{"The first offer, as a file.", []string{"find", "--need", "rope lights", "--offer", "1", "-o", "offer-1.json"}},
	{"What will everything read?", []string{"predict", "--hookup", "offer-1.json"}},
	{"The proof, with what was read. At the gap the meter showed 29 V: a lead was turned before it could do harm.", []string{"prove", "--hookup", "offer-1.json", "--answers", demoAnswers}},
}

const demoAnswers = "answers-rope-lights-turned.json"

// demoRun does the main job on a store in a folder that is removed afterwards.
func (a *App) demoRun() (err error) {
	if a.storePath != "" || a.ShelfFile != "" || a.AsJSON {
		return yokemate.Errorf(yokemate.Invalid, "command line", "--run works on a store of its own and prints text").Mend("leave out --store, --shelf and --json")
	}
	dir, err := os.MkdirTemp("", "yokemate-demo-")
	if err != nil {
		return &yokemate.Error{Code: yokemate.Invalid, Message: "no folder can be made for the throw-away store", Hint: "set TMPDIR to a folder that can be written", Err: err}
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	b := &App{Env: a.Env, in: a.in, out: a.out, storePath: filepath.Join(dir, "demo.db")}
	s, err := b.Store()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if _, err := demo.Fill(b.Ctx(), s); err != nil {
		return err
	}
	data, err := examples.Files.ReadFile(demoAnswers)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, demoAnswers), data, 0o600); err != nil {
		return err
	}
	for i, job := range demoJob {
		if i > 0 {
			a.Print("\n")
		}
		a.Print("%s\n$ yokemate", job.says)
		args := make([]string, len(job.args))
		for k, x := range job.args {
			shown := x
			if strings.ContainsRune(x, ' ') {
				shown = "\"" + x + "\""
			}
			a.Print(" %s", shown)
			args[k] = x
			if filepath.Ext(x) == ".json" {
				args[k] = filepath.Join(dir, x)
			}
		}
		a.Print("\n\n")
		c := &App{Env: a.Env, in: a.in, out: a.out, store: s}
		if err := c.run(append(args, "--store", b.storePath)); err != nil {
			return err
		}
	}
	return nil
}
