package yokemate

import (
	"slices"
	"time"
)

// Photo is a picture of a unit with the places of its pins. The picture itself
// is a JPEG file without anything about where or by what it was taken.
type Photo struct {
	ID     string    `json:"id"` // unique within the unit
	At     time.Time `json:"at,omitzero"`
	Name   string    `json:"name,omitempty"` // what it shows, in words
	Width  int       `json:"width"`          // [px]
	Height int       `json:"height"`         // [px]
	Marks  []Mark    `json:"marks,omitempty"`
	JPEG   []byte    `json:"jpeg,omitempty"` // left out where photos are only listed
}

// Mark says where on a photo a pin is.
type Mark struct {
	Pin string  `json:"pin"` // or "core"
	X   float64 `json:"x"`   // from the left edge, as a part of the width [1]
	Y   float64 `json:"y"`   // from the top edge, as a part of the height [1]
}

// MaxPhotoBytes is the largest picture that is kept [byte]. What is made ready
// for keeping is far below it.
const MaxPhotoBytes = 4 << 20

// maxMarks is more than any unit has pins.
const maxMarks = 200

// Mark returns the mark of a pin, or nil.
func (p *Photo) Mark(pin string) *Mark {
	for i := range p.Marks {
		if p.Marks[i].Pin == pin {
			return &p.Marks[i]
		}
	}
	return nil
}

// SetMark puts the pin's mark at a place, in the place of the one it had.
func (p *Photo) SetMark(m Mark) {
	p.Marks = slices.Clone(p.Marks)
	if old := p.Mark(m.Pin); old != nil {
		*old = m
		return
	}
	p.Marks = append(p.Marks, m)
}

// ClearMark takes a pin's mark away and reports whether there was one.
func (p *Photo) ClearMark(pin string) bool {
	n := len(p.Marks)
	p.Marks = slices.DeleteFunc(slices.Clone(p.Marks), func(m Mark) bool { return m.Pin == pin })
	return len(p.Marks) < n
}

// Validate checks the photo; place names it in an error.
func (p *Photo) Validate(place string) error {
	switch {
	case p.ID == "":
		return Errorf(Invalid, place, "a photo has no id").Mend("number the photos p1, p2, …")
	case !(p.Width > 0 && p.Height > 0):
		return Errorf(Invalid, place, "width and height must be above 0").Mend("give the size of the picture in pixels")
	case len(p.JPEG) > MaxPhotoBytes:
		return Errorf(Invalid, place, "the picture has more than %d MB", MaxPhotoBytes>>20).Mend("add it with \"yokemate photo add\", which makes it smaller")
	case len(p.Marks) > maxMarks:
		return Errorf(Invalid, place, "it has more than %d marks", maxMarks).Mend("mark each pin once")
	}
	for i, m := range p.Marks {
		if m.Pin != CorePin && !validPin(m.Pin) {
			return Errorf(Invalid, place+" marks", "%q is no name of a pin", m.Pin).Mend("name a pin, or core")
		}
		if slices.ContainsFunc(p.Marks[:i], func(x Mark) bool { return x.Pin == m.Pin }) {
			return Errorf(Invalid, place+" marks", "pin %s is marked twice", m.Pin).Mend("keep one of the marks")
		}
		if !(m.X >= 0 && m.X <= 1 && m.Y >= 0 && m.Y <= 1) {
			return Errorf(Invalid, place+" marks", "the mark of pin %s lies beside the picture", m.Pin).Mend("give x and y from 0 to 1, as parts of the width and the height")
		}
	}
	return nil
}

// validatePhotos checks the photos of a unit that brings them along.
func validatePhotos(tag string, photos []Photo) error {
	ids := map[string]bool{}
	for i := range photos {
		p := &photos[i]
		at := tag + " photo " + p.ID
		if err := p.Validate(at); err != nil {
			return err
		}
		if len(p.JPEG) < 4 || p.JPEG[0] != 0xff || p.JPEG[1] != 0xd8 {
			return Errorf(Invalid, at, "its picture is no JPEG").Mend("add it with \"yokemate photo add\"")
		}
		if ids[p.ID] {
			return Errorf(Invalid, at, "two photos have this id").Mend("give each an id of its own")
		}
		ids[p.ID] = true
	}
	return nil
}
