package paper

import (
	"yokemate"
	"yokemate/internal/sheet"
)

// Restored is what the text of a sheet's codes holds, as files of their own.
type Restored struct {
	Hookup  *yokemate.Hookup
	Answers *yokemate.Answers
	Shelf   *yokemate.Shelf
}

// Restore reads the text of a sheet's codes, one to a line, and checks that its
// units bear its hookup.
func Restore(text string) (*Restored, error) {
	r, err := sheet.DecodeRecord(text)
	if err != nil {
		return nil, err
	}
	x := &Restored{&r.Hookup, &yokemate.Answers{Answers: r.Answers}, &yokemate.Shelf{Format: yokemate.ShelfFormat, Units: r.Units, Meters: r.Meters}}
	if x.Answers.Answers == nil {
		x.Answers.Answers = []yokemate.Answer{}
	}
	if err := x.Shelf.Validate(); err != nil {
		return nil, err
	}
	return x, x.Hookup.Check(x.Shelf)
}

// File is one file of a restored record.
type File struct {
	Kind string // hookup, answers or shelf
	Data []byte
}

// Files encodes what was restored.
func (x *Restored) Files() ([]File, error) {
	var list []File
	for _, f := range []struct {
		kind string
		v    any
	}{{"hookup", x.Hookup}, {"answers", x.Answers}, {"shelf", x.Shelf}} {
		b, err := yokemate.Encode(f.v)
		if err != nil {
			return nil, err
		}
		list = append(list, File{f.kind, b})
	}
	return list, nil
}
