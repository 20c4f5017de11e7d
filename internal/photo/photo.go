// Package photo makes a picture ready for keeping: upright, no larger than a
// screen shows, and with nothing but the picture in it. What a camera adds,
// the place, the time and its own name, is left out, since the picture is
// decoded and written anew.
//
// It takes JPEG and PNG and gives JPEG. It knows no unit and keeps nothing.
package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"yokemate"
)

// Limits of what is taken and what is kept.
const (
	MaxBytes  = 24 << 20 // of a file that is taken in [byte]
	maxPixels = 64e6     // of a picture that is taken in: what a good phone makes [px]
	longest   = 1600     // side of a picture that is kept [px]
	quality   = 82       // of its JPEG coding: pin numbers stay sharp
)

// Ready decodes a picture, turns it upright, makes it smaller where it is
// large and codes it anew. Id, time and marks are the caller's to set.
func Ready(data []byte) (*yokemate.Photo, error) {
	const at = "the photo"
	if len(data) > MaxBytes {
		return nil, yokemate.Errorf(yokemate.Invalid, at, "the file has more than %d MB", MaxBytes>>20).Mend("take the picture smaller")
	}
	c, decode, turn, err := look(data)
	if err != nil {
		return nil, yokemate.Errorf(yokemate.Invalid, at, "it is neither a JPEG nor a PNG picture").Mend("choose a picture that a camera or a screen made as JPEG or PNG")
	}
	if float64(c.Width)*float64(c.Height) > maxPixels || c.Width < 8 || c.Height < 8 {
		return nil, yokemate.Errorf(yokemate.Invalid, at, "it has %d by %d pixels", c.Width, c.Height).Mend("choose one of 8 by 8 to %.0f million", maxPixels/1e6)
	}
	m, err := decode(bytes.NewReader(data))
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Invalid, Place: at, Message: "the file is damaged or cut short", Hint: "send it again", Err: err}
	}
	small := upright(reduce(m), turn)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: quality}); err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "the photo cannot be written", Err: err}
	}
	return &yokemate.Photo{Width: small.Bounds().Dx(), Height: small.Bounds().Dy(), JPEG: b.Bytes()}, nil
}

// look reads what the file says of itself, before its picture is decoded.
func look(data []byte) (c image.Config, decode func(*bytes.Reader) (image.Image, error), turn int, err error) {
	if bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")) {
		c, err = png.DecodeConfig(bytes.NewReader(data))
		return c, func(r *bytes.Reader) (image.Image, error) { return png.Decode(r) }, orientation(pngExif(data)), err
	}
	c, err = jpeg.DecodeConfig(bytes.NewReader(data))
	return c, func(r *bytes.Reader) (image.Image, error) { return jpeg.Decode(r) }, orientation(jpegExif(data)), err
}

// reduce brings the longest side down to what is kept, on white where the
// picture is clear. Every kept pixel is a weighed mean of those it stands for.
func reduce(m image.Image) *image.RGBA {
	b := m.Bounds()
	k := math.Min(1, longest/float64(max(b.Dx(), b.Dy())))
	w, h := max(1, int(math.Round(k*float64(b.Dx())))), max(1, int(math.Round(k*float64(b.Dy()))))
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	// Transform weighs pixel by pixel; Scale would keep the whole of it between
	// its two passes, ten times the picture.
	x, y := float64(w)/float64(b.Dx()), float64(h)/float64(b.Dy())
	draw.BiLinear.Transform(out, f64.Aff3{x, 0, -x * float64(b.Min.X), 0, y, -y * float64(b.Min.Y)}, m, b, draw.Over, nil)
	return out
}

// upright undoes one of the eight ways in which a camera may lay a picture
// down (Exif 2.32, tag 274, Orientation): the first row of what is stored is
// the top, 1 and 2, the bottom, 3 and 4, the left side, 5 and 8, or the right, 6
// and 7, of what was seen.
func upright(m *image.RGBA, turn int) *image.RGBA {
	if turn < 2 || turn > 8 {
		return m
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	across := turn >= 5 // width and height change places
	ow, oh := w, h
	if across {
		ow, oh = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, ow, oh))
	for y := range oh {
		for x := range ow {
			u, v := x, y // where it is stored
			if across {
				u, v = y, x
			}
			switch turn {
			case 2:
				u = w - 1 - u
			case 3:
				u, v = w-1-u, h-1-v
			case 4:
				v = h - 1 - v
			case 6:
				v = h - 1 - v
			case 7:
				u, v = w-1-u, h-1-v
			case 8:
				u = w - 1 - u
			}
			copy(out.Pix[out.PixOffset(x, y):][:4], m.Pix[m.PixOffset(u, v):][:4])
		}
	}
	return out
}

// jpegExif returns the TIFF part of a JPEG file's first Exif segment, or nil.
func jpegExif(data []byte) []byte {
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		kind, size := data[i+1], int(binary.BigEndian.Uint16(data[i+2:]))
		if kind == 0xff { // fill
			i++
			continue
		}
		if kind == 0xda || size < 2 || i+2+size > len(data) { // the picture begins
			return nil
		}
		if tiff, ok := bytes.CutPrefix(data[i+4:i+2+size], []byte("Exif\x00\x00")); ok && kind == 0xe1 {
			return tiff
		}
		i += 2 + size
	}
	return nil
}

// pngExif returns a PNG file's eXIf chunk, or nil.
func pngExif(data []byte) []byte {
	for i := 8; i+12 <= len(data); {
		size := int(binary.BigEndian.Uint32(data[i:]))
		if size < 0 || size > len(data)-i-12 {
			return nil
		}
		if string(data[i+4:i+8]) == "eXIf" {
			return data[i+8 : i+8+size]
		}
		i += 12 + size
	}
	return nil
}

// orientation reads tag 274 of the first directory of a TIFF header; 1, upright,
// where there is none.
func orientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(tiff[:2]) {
	case "II":
		order = binary.LittleEndian
	case "MM":
		order = binary.BigEndian
	default:
		return 1
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 1
	}
	n := int64(order.Uint16(tiff[at:]))
	for k := range n {
		e := at + 2 + 12*k
		if e+12 > int64(len(tiff)) {
			return 1
		}
		if order.Uint16(tiff[e:]) == 274 {
			return int(order.Uint16(tiff[e+8:]))
		}
	}
	return 1
}
