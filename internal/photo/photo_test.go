package photo

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"yokemate"
)

// quarters is a picture whose corners are red, green, blue and white, from the
// top left in reading order.
func quarters(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.Set(x, y, corners[2*(2*y/h)+2*x/w])
		}
	}
	return m
}

var corners = [4]color.RGBA{{220, 30, 30, 255}, {30, 200, 30, 255}, {30, 30, 220, 255}, {250, 250, 250, 255}}

// tiffOf is a TIFF header with an orientation and a place, as a camera writes.
func tiffOf(order binary.AppendByteOrder, turn uint16) []byte {
	b := []byte("II")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM")
	}
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 2)
	for _, e := range []struct {
		tag   uint16
		value uint16
	}{{274, turn}, {0x8825, 38}} { // orientation; a directory with the place
		b = order.AppendUint16(b, e.tag)
		b = order.AppendUint16(b, 3)
		b = order.AppendUint32(b, 1)
		b = order.AppendUint16(b, e.value)
		b = order.AppendUint16(b, 0)
	}
	return append(b, "52.1234N 4.5678E"...)
}

func jpegOf(t *testing.T, m image.Image, tiff []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()
	if tiff == nil {
		return data
	}
	seg := append([]byte("Exif\x00\x00"), tiff...)
	head := binary.BigEndian.AppendUint16([]byte{0xff, 0xd8, 0xff, 0xe1}, uint16(len(seg)+2))
	return append(append(head, seg...), data[2:]...)
}

func pngOf(t *testing.T, m image.Image, tiff []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()
	if tiff == nil {
		return data
	}
	chunk := append([]byte("eXIf"), tiff...)
	c := binary.BigEndian.AppendUint32(nil, uint32(len(tiff)))
	c = append(c, chunk...)
	c = binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(chunk))
	const ihdr = 8 + 25
	return append(append(bytes.Clone(data[:ihdr]), c...), data[ihdr:]...)
}

// seen is the picture's corners, each as the number of the colour it is nearest to.
func seen(t *testing.T, p *yokemate.Photo) [4]int {
	t.Helper()
	m, err := jpeg.Decode(bytes.NewReader(p.JPEG))
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Bounds(); b.Dx() != p.Width || b.Dy() != p.Height {
		t.Errorf("it is %v and says %d by %d", b, p.Width, p.Height)
	}
	var out [4]int
	for i := range out {
		r, g, b, _ := m.At(p.Width*(1+2*(i%2))/4, p.Height*(1+2*(i/2))/4).RGBA()
		best := math.Inf(1)
		for k, c := range corners {
			d := math.Pow(float64(r>>8)-float64(c.R), 2) + math.Pow(float64(g>>8)-float64(c.G), 2) + math.Pow(float64(b>>8)-float64(c.B), 2)
			if d < best {
				best, out[i] = d, k
			}
		}
	}
	return out
}

// The eight ways a camera lays a picture down. The wanted corners follow from the
// table of Exif 2.32, tag 274: which side of the scene the stored first row and
// first column are (1 top left, 2 top right, 3 bottom right, 4 bottom left, 5
// left top, 6 right top, 7 right bottom, 8 left bottom).
func TestUpright(t *testing.T) {
	want := map[uint16][4]int{
		1: {0, 1, 2, 3},
		2: {1, 0, 3, 2},
		3: {3, 2, 1, 0},
		4: {2, 3, 0, 1},
		5: {0, 2, 1, 3},
		6: {2, 0, 3, 1},
		7: {3, 1, 2, 0},
		8: {1, 3, 0, 2},
		0: {0, 1, 2, 3}, // no such way: left as it is
		9: {0, 1, 2, 3},
	}
	m := quarters(120, 80)
	for turn, corners := range want {
		for name, data := range map[string][]byte{
			"jpeg, little end first": jpegOf(t, m, tiffOf(binary.LittleEndian, turn)),
			"jpeg, big end first":    jpegOf(t, m, tiffOf(binary.BigEndian, turn)),
			"png":                    pngOf(t, m, tiffOf(binary.BigEndian, turn)),
		} {
			p, err := Ready(data)
			if err != nil {
				t.Fatalf("%s, %d: %v", name, turn, err)
			}
			if across := turn >= 5 && turn <= 8; (p.Width == 80) != across {
				t.Errorf("%s, %d: it is %d by %d", name, turn, p.Width, p.Height)
			}
			if got := seen(t, p); got != corners {
				t.Errorf("%s, %d: corners %v, want %v", name, turn, got, corners)
			}
			for _, trace := range []string{"Exif", "eXIf", "52.1234N"} {
				if bytes.Contains(p.JPEG, []byte(trace)) {
					t.Errorf("%s, %d: %q is still in it", name, turn, trace)
				}
			}
		}
	}
}

// A large picture comes down to the longest side, in proportion; a small one
// keeps its size; what is clear becomes white.
func TestSize(t *testing.T) {
	for _, c := range []struct{ w, h, ow, oh int }{{3200, 1000, 1600, 500}, {900, 2400, 600, 1600}, {1600, 1200, 1600, 1200}, {40, 30, 40, 30}, {4000, 8, 1600, 3}} {
		p, err := Ready(jpegOf(t, quarters(c.w, c.h), nil))
		if err != nil {
			t.Fatal(err)
		}
		if p.Width != c.ow || p.Height != c.oh {
			t.Errorf("%d by %d became %d by %d", c.w, c.h, p.Width, p.Height)
		}
	}
	p, err := Ready(pngOf(t, image.NewRGBA(image.Rect(0, 0, 20, 20)), nil))
	if err != nil {
		t.Fatal(err)
	}
	if got := seen(t, p); got != [4]int{3, 3, 3, 3} {
		t.Errorf("a clear picture became %v", got)
	}
}

func TestBad(t *testing.T) {
	whole := jpegOf(t, quarters(400, 300), nil)
	huge := pngOf(t, quarters(16, 16), nil)
	binary.BigEndian.PutUint32(huge[16:], 60000) // its header claims what would fill the memory
	binary.BigEndian.PutUint32(huge[20:], 60000)
	binary.BigEndian.PutUint32(huge[29:], crc32.ChecksumIEEE(huge[12:29]))
	for name, data := range map[string][]byte{
		"nothing": nil, "text": []byte("hello"), "gif": []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00"), "svg": []byte("<svg xmlns=\"http://www.w3.org/2000/svg\"/>"),
		"cut short": whole[:len(whole)/2], "huge": huge, "tiny": pngOf(t, quarters(4, 4), nil), "fat": make([]byte, MaxBytes+1),
	} {
		if _, err := Ready(data); yokemate.ErrorCode(err) != yokemate.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever is thrown at it, it gives a picture that may be kept or an error of
// ours.
func FuzzReady(f *testing.F) {
	t := &testing.T{}
	f.Add(jpegOf(t, quarters(16, 12), tiffOf(binary.LittleEndian, 6)))
	f.Add(pngOf(t, quarters(16, 12), tiffOf(binary.BigEndian, 8)))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Ready(data)
		if err != nil {
			if yokemate.ErrorCode(err) != yokemate.Invalid {
				t.Fatal(err)
			}
			return
		}
		p.ID = "p1"
		if err := p.Validate("photo"); err != nil {
			t.Fatal(err)
		}
	})
}

func BenchmarkReady(b *testing.B) {
	data := jpegOf(&testing.T{}, quarters(4000, 3000), nil) // 12 million pixels
	for b.Loop() {
		if _, err := Ready(data); err != nil {
			b.Fatal(err)
		}
	}
}
