package cli

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/figure"
	"yokemate/internal/lang"
	"yokemate/internal/paper"
)

// outFile is one file that a command makes.
type outFile struct {
	name string
	data []byte
}

// writeAll makes all files or, where one may not be written, none of them.
func (a *App) writeAll(files []outFile, over bool, inputs ...string) error {
	if a.ShelfFile != "" {
		inputs = append(inputs, a.ShelfFile)
	} else if path, err := a.StorePath(); err == nil {
		inputs = append(inputs, path)
	}
	fresh := make([]bool, len(files))
	for i, f := range files {
		if err := mayWrite(f.name, over, inputs...); err != nil {
			return err
		}
		_, err := os.Stat(f.name)
		fresh[i] = errors.Is(err, os.ErrNotExist)
	}
	for i, f := range files {
		if err := a.WriteFile(f.name, f.data, over, inputs...); err != nil {
			for k := range i {
				if fresh[k] {
					err = errors.Join(err, os.Remove(files[k].name))
				}
			}
			return err
		}
	}
	return nil
}

// pageFlags say where drawn pages go.
type pageFlags struct {
	Output    string `short:"o" required:"" placeholder:"FILE" help:"Write to this file, FILE.pdf or FILE.svg. Several SVG pages go to FILE-1.svg and on."`
	Greys     bool   `help:"Print without colour; every colour has a letter, a shape or a word beside it anyway."`
	Overwrite bool   `help:"Replace the file if it is there, and all pages of an older one."`
	Lang      string `enum:"en,en-US,de" default:"en" placeholder:"LANG" help:"Language on the paper: en, en-US or de."`
}

// say puts the words on the paper into its language.
func (o *pageFlags) say(f figure.Options) figure.Options {
	return paper.In(f, lang.Get(o.Lang))
}

// format is the file's ending in small letters.
func (o *pageFlags) format() string { return strings.ToLower(filepath.Ext(o.Output)) }

// check finds a wrong ending before any work is done.
func (o *pageFlags) check() error {
	switch o.format() {
	case ".pdf", ".svg":
		return nil
	}
	return inFile(o.Output, yokemate.Errorf(yokemate.Invalid, "", "the ending says neither PDF nor SVG").Mend("name it FILE.pdf or FILE.svg"))
}

// write makes the file of the pages and says what was made.
func (o *pageFlags) write(a *App, pages []draw.Scene, title string, inputs ...string) error {
	var files []outFile
	stem := strings.TrimSuffix(o.Output, filepath.Ext(o.Output))
	numbered := func(i int) string { return stem + "-" + itoa(i) + filepath.Ext(o.Output) }
	if o.format() == ".pdf" {
		b, err := paper.PDF(pages, lang.Get(o.Lang).Text(title), o.Lang, o.Greys)
		if err != nil {
			return err
		}
		files = append(files, outFile{o.Output, b})
	} else {
		for i := range pages {
			b, err := paper.SVG(&pages[i], o.Greys)
			if err != nil {
				return err
			}
			name := o.Output
			if len(pages) > 1 {
				name = numbered(i + 1)
			}
			files = append(files, outFile{name, b})
		}
	}
	if err := a.writeAll(files, o.Overwrite, inputs...); err != nil {
		return err
	}
	if len(pages) > 1 && o.Overwrite && o.format() == ".svg" {
		// Pages that an older, longer sheet left must not be taken for this one's.
		for i := len(pages) + 1; ours(numbered(i), pages[0].Title); i++ {
			if err := os.Remove(numbered(i)); err != nil {
				return inFile(numbered(i), cannotWrite(err))
			}
		}
	}
	made := struct {
		Files []string `json:"files"`
		Pages int      `json:"pages"`
	}{Pages: len(pages)}
	for _, f := range files {
		made.Files = append(made.Files, f.name)
	}
	if a.AsJSON {
		return a.JSON(made)
	}
	count := "1 page"
	if len(pages) != 1 {
		count = itoa(len(pages)) + " pages"
	}
	a.Print("%s: %s, %s\n", title, count, strings.Join(made.Files, " "))
	return nil
}

// ours reports whether the file is a page of a sheet that we drew: its title
// starts as title does.
func ours(name, title string) bool {
	b, err := os.ReadFile(name)
	kind, _, _ := strings.Cut(title, ",")
	return err == nil && bytes.Contains(b[:min(len(b), 1000)], []byte("<title>"+kind+","))
}
