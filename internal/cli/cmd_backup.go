package cli

import (
	"bytes"
	"io"
	"os"

	"yokemate"
)

type backupCmd struct {
	File      string `arg:"" help:"Where the backup goes."`
	Overwrite bool   `help:"Replace the file if it is there."`
}

// Run writes the whole store, as it is at one moment, to one file.
func (c *backupCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	path, err := a.StorePath()
	if err != nil {
		return err
	}
	if err := mayWrite(c.File, c.Overwrite, path); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := s.Backup(a.Ctx(), &b); err != nil {
		return err
	}
	n := b.Len()
	if err := a.WriteFile(c.File, b.Bytes(), c.Overwrite, path); err != nil {
		return err
	}
	if a.AsJSON {
		return a.JSON(struct {
			File  string `json:"file"`
			Bytes int    `json:"bytes"`
		}{c.File, n})
	}
	a.Print("%s holds the whole store: %d kB.\n", c.File, (n+999)/1000)
	return nil
}

type reinstateCmd struct {
	File string `arg:"" help:"A backup; - reads standard input."`
}

// Run puts a backup in the place of everything stored.
func (c *reinstateCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	var from io.Reader = a.in
	if c.File != "-" {
		if fi, err := os.Stat(c.File); err == nil && fi.IsDir() {
			return inFile(c.File, ordinary(fi))
		}
		f, err := os.Open(c.File)
		if err != nil {
			return inFile(c.File, yokemate.Errorf(yokemate.NotFound, "", "there is no such file, or it cannot be read").Mend("check its name and permissions"))
		}
		defer f.Close()
		from = f
	}
	got, err := s.Reinstate(a.Ctx(), from)
	if err != nil {
		return inFile(c.File, err)
	}
	if a.AsJSON {
		return a.JSON(got)
	}
	a.Print("The backup is back: %d units, %d readings, %d photos, %d hookups, %d needs, %d proofs, %d heat runs.\n", got.Units, got.Readings, got.Photos, got.Hookups, got.Needs, got.Proofs, got.HeatRuns)
	a.Print("What was stored until now is kept in %s.\n", got.Kept)
	if got.Newer > 0 {
		a.Print("%d readings and answers are in that file and not in the backup.\n", got.Newer)
	}
	return nil
}
