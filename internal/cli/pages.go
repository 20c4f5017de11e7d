package cli

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/pdf"
	"yokemate/internal/draw/svg"
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
	Overwrite bool   `help:"Replace the file if it is there."`
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
	var b bytes.Buffer
	if o.format() == ".pdf" {
		if err := pdf.Write(&b, pages, pdf.Options{Title: title, Lang: "en"}); err != nil {
			return err
		}
		files = append(files, outFile{o.Output, b.Bytes()})
	} else {
		stem := strings.TrimSuffix(o.Output, filepath.Ext(o.Output))
		for i := range pages {
			var b bytes.Buffer
			if err := svg.Document(&b, &pages[i], draw.Print); err != nil {
				return err
			}
			name := o.Output
			if len(pages) > 1 {
				name = fmt.Sprintf("%s-%d%s", stem, i+1, filepath.Ext(o.Output))
			}
			files = append(files, outFile{name, b.Bytes()})
		}
	}
	if err := a.writeAll(files, o.Overwrite, inputs...); err != nil {
		return err
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
