package cli

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"yokemate"
)

// ReadFile reads a file, or standard input for "-". An error names the file.
func (a *App) ReadFile(name string) ([]byte, error) {
	if name == "-" {
		b, err := io.ReadAll(a.in)
		if err != nil {
			return nil, inFile(name, err)
		}
		return b, nil
	}
	b, err := os.ReadFile(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, inFile(name, yokemate.Errorf(yokemate.NotFound, "", "there is no such file").Mend("check the name and the folder"))
	case err != nil:
		if fi, failed := os.Stat(name); failed == nil && fi.IsDir() {
			return nil, inFile(name, yokemate.Errorf(yokemate.Invalid, "", "the file cannot be read: it is a folder").Mend("name a file"))
		}
		why := err
		if p, ok := errors.AsType[*fs.PathError](err); ok {
			why = p.Err
		}
		return nil, inFile(name, &yokemate.Error{Code: yokemate.Invalid, Message: "the file cannot be read: " + why.Error(), Hint: "check its name and permissions", Err: err})
	}
	return b, nil
}

// inFile puts the file's name before err, which may be nil.
func inFile(name string, err error) error {
	if err == nil {
		return nil
	}
	return &yokemate.SourceError{Source: shownName(name), Err: err}
}

// shownName is a file's name as an error says it.
func shownName(name string) string {
	if name == "-" {
		return "standard input"
	}
	return name
}

// WriteFile puts data under the name whole: a reader sees nothing or all of
// it. A file that is there already is kept unless over is set, and never
// replaced when it is one of the inputs.
func (a *App) WriteFile(name string, data []byte, over bool, inputs ...string) error {
	if err := mayWrite(name, over, inputs...); err != nil {
		return err
	}
	return replaceFile(name, data)
}

// mayWrite is an error where WriteFile would leave the file alone.
func mayWrite(name string, over bool, inputs ...string) error {
	old, err := os.Stat(name)
	if err != nil {
		return nil // not there, or the writing will tell
	}
	for _, in := range inputs {
		if fi, err := os.Stat(in); err == nil && os.SameFile(old, fi) {
			return inFile(name, yokemate.Errorf(yokemate.Invalid, "", "the output would overwrite the input").Mend("choose another name"))
		}
	}
	if err := ordinary(old); err != nil {
		return inFile(name, err)
	}
	if !over {
		return inFile(name, yokemate.Errorf(yokemate.Conflict, "", "there is a file of this name").Mend("choose another name, or add --overwrite"))
	}
	return nil
}

// ordinary is an error where what is there is no file whose place another can
// take: a folder, or a device, which a file put in its place would remove.
func ordinary(fi fs.FileInfo) error {
	switch {
	case fi.IsDir():
		return yokemate.Errorf(yokemate.Invalid, "", "it is a folder").Mend("name a file")
	case !fi.Mode().IsRegular():
		return yokemate.Errorf(yokemate.Invalid, "", "it is a device or a pipe, and no file to write").Mend("name a file")
	}
	return nil
}

// replaceFile puts data in the place of what is there under the name, or behind
// it when it is a link, with the permissions of the old file.
func replaceFile(name string, data []byte) error {
	shown, mode := name, fs.FileMode(0o644)
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
		if fi, err := os.Stat(name); err == nil {
			if err := ordinary(fi); err != nil {
				return inFile(shown, err)
			}
			mode = fi.Mode().Perm()
		}
	}
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return inFile(shown, cannotWrite(err))
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(mode)
	}
	if err == nil {
		err = f.Sync()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		err = errors.Join(cannotWrite(err), os.Remove(f.Name()))
	}
	return inFile(shown, err)
}

// alone keeps other programs from changing the file until done is called, so
// that what two of them add at once is kept from both. It does so by a file
// beside it, which a program that dies leaves there: one that stands for longer
// than any change takes is taken away.
func alone(name string) (done func(), err error) {
	const (
		step  = 10 * time.Millisecond
		stale = 300 // steps; a change takes one or two
	)
	shown := name
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	lock := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+".lock")
	var before fs.FileInfo
	for n := 0; ; n++ {
		f, err := os.OpenFile(lock, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err == nil {
			return func() { os.Remove(lock) }, f.Close()
		}
		if !errors.Is(err, fs.ErrExist) {
			return nil, inFile(shown, cannotWrite(err))
		}
		fi, err := os.Stat(lock)
		switch {
		case err != nil: // it has gone
			continue
		case before == nil || !os.SameFile(before, fi) || !before.ModTime().Equal(fi.ModTime()):
			before, n = fi, 0
		case n >= stale:
			if err := os.Remove(lock); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, inFile(shown, cannotWrite(err))
			}
		}
		time.Sleep(step)
	}
}

func cannotWrite(err error) error {
	why := err
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		why = p.Err
	}
	return &yokemate.Error{Code: yokemate.Invalid, Message: "the file cannot be written: " + why.Error(), Hint: "check the folder and its permissions", Err: err}
}

// Shelf returns the shelf that the command works on: the file of --shelf, or
// what the store holds.
func (a *App) Shelf() (*yokemate.Shelf, error) {
	b, err := a.bench()
	if err != nil {
		return nil, err
	}
	return b.Shelf(a.Ctx())
}

// Hookup returns the hookup of that file, or the stored one of that name when
// there is no such file. Where s is given, its pins are held to that shelf.
func (a *App) Hookup(name string, s *yokemate.Shelf) (*yokemate.Hookup, error) {
	h, err := load(a, name, "a hookup file", yokemate.DecodeHookup, yokemate.Store.Hookup)
	if err != nil || s == nil {
		return h, err
	}
	if err := h.Check(s); err != nil {
		return nil, inFile(name, err)
	}
	return h, nil
}

// wired returns the hookup of that name, as Hookup does, with the shelf that its
// pins are on.
func (a *App) wired(name string) (*yokemate.Hookup, *yokemate.Shelf, error) {
	s, err := a.Shelf()
	if err != nil {
		return nil, nil, err
	}
	h, err := a.Hookup(name, s)
	return h, s, err
}

// Need returns the need of that file, or the stored one of that name when
// there is no such file.
func (a *App) Need(name string) (*yokemate.Need, error) {
	return load(a, name, "a need file", yokemate.DecodeNeed, yokemate.Store.Need)
}

// Answers returns the answers of that file.
func (a *App) Answers(name string) (*yokemate.Answers, error) {
	b, err := a.ReadFile(name)
	if err != nil {
		return nil, err
	}
	x, err := yokemate.DecodeAnswers(b)
	if err != nil {
		err = otherFormat(b, "an answers file", err)
	}
	return x, inFile(name, err)
}

// otherFormat is err, or what explains it where the file says that it is of a
// format other than the one that was wanted.
func otherFormat(data []byte, wanted string, err error) error {
	named := map[string]string{yokemate.ShelfFormat: "a shelf file", yokemate.HookupFormat: "a hookup file", yokemate.NeedFormat: "a need file"}
	is := named[yokemate.FormatOf(data)]
	if is == "" || is == wanted {
		return err
	}
	return yokemate.Errorf(yokemate.Invalid, "format", "it is %s, and %s is wanted here", is, wanted).Mend("check that this is the file you meant")
}

func load[T any](a *App, name, wanted string, decode func([]byte) (*T, error), stored func(yokemate.Store, context.Context, string) (*T, error)) (*T, error) {
	b, err := a.ReadFile(name)
	if yokemate.ErrorCode(err) == yokemate.NotFound && a.ShelfFile == "" {
		s, openErr := a.Store()
		if openErr != nil {
			return nil, openErr
		}
		v, storeErr := stored(s, a.Ctx(), name)
		if yokemate.ErrorCode(storeErr) == yokemate.NotFound && storeErr != nil {
			return nil, inFile(name, yokemate.Errorf(yokemate.NotFound, "", "there is no such file, and nothing of that name in the store").Mend("check the name and the folder; \"yokemate %s list\" shows what is stored", strings.Fields(wanted)[1]))
		}
		return v, storeErr
	}
	if err != nil {
		return nil, err
	}
	v, err := decode(b)
	if err != nil {
		return nil, inFile(name, otherFormat(b, wanted, err))
	}
	return v, nil
}
