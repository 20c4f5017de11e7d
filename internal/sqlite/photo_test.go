package sqlite

import (
	"bytes"
	"image"
	"image/jpeg"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"yokemate"
)

// picture is a JPEG of its own grey.
func picture(tb testing.TB, grey byte) []byte {
	tb.Helper()
	m := image.NewGray(image.Rect(0, 0, 8, 6))
	for i := range m.Pix {
		m.Pix[i] = grey
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func TestPhotos(t *testing.T) {
	d := filled(t)
	ctx := t.Context()
	p, err := d.AddPhoto(ctx, "T1", yokemate.Photo{Name: "pin side", Width: 8, Height: 6, JPEG: picture(t, 40)})
	if err != nil {
		t.Fatal(err)
	}
	if p.ID != "p1" || !p.At.Equal(noon) {
		t.Errorf("it got id %q and time %v", p.ID, p.At)
	}
	// Sent twice, it is kept once.
	if again, err := d.AddPhoto(ctx, "T1", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(t, 40)}); err != nil || again.ID != "p1" {
		t.Errorf("the same picture is %v, %v", again, err)
	}
	if p, err = d.AddPhoto(ctx, "T1", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(t, 90)}); err != nil || p.ID != "p2" {
		t.Errorf("the second picture is %v, %v", p, err)
	}
	p.SetMark(yokemate.Mark{Pin: "5", X: 0.25, Y: 0.5})
	p.SetMark(yokemate.Mark{Pin: "5", X: 0.75, Y: 0.5})
	if err := d.SetPhoto(ctx, "T1", p); err != nil {
		t.Fatal(err)
	}
	got, err := d.Photo(ctx, "T1", "p2")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(p, got); diff != "" {
		t.Error(diff)
	}
	list, err := d.Photos(ctx, "T1")
	if err != nil || len(list) != 2 || list[1].JPEG != nil || len(list[1].Marks) != 1 {
		t.Errorf("listed %+v, %v", list, err)
	}
	// A number is not given again while a later one stands.
	if err := d.RemovePhoto(ctx, "T1", "p1"); err != nil {
		t.Fatal(err)
	}
	wantCode(t, d.RemovePhoto(ctx, "T1", "p1"), yokemate.NotFound)
	if p, err := d.AddPhoto(ctx, "T1", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(t, 140)}); err != nil || p.ID != "p3" {
		t.Errorf("the third picture is %v, %v", p, err)
	}
	for _, bad := range []yokemate.Photo{
		{Width: 8, Height: 6, JPEG: []byte("<svg>")},
		{Width: 0, Height: 6, JPEG: picture(t, 1)},
		{Width: 8, Height: 6, JPEG: picture(t, 2), Marks: []yokemate.Mark{{Pin: "5", X: 1.5}}},
		{Width: 8, Height: 6, JPEG: picture(t, 3), Marks: []yokemate.Mark{{Pin: "5"}, {Pin: "5"}}},
		{Width: 8, Height: 6, JPEG: picture(t, 4), Marks: []yokemate.Mark{{Pin: "a b"}}},
		{Width: 8, Height: 6, JPEG: append(picture(t, 5), make([]byte, yokemate.MaxPhotoBytes)...)},
	} {
		_, err := d.AddPhoto(ctx, "T1", bad)
		wantCode(t, err, yokemate.Invalid)
	}
	_, err = d.AddPhoto(ctx, "T9", yokemate.Photo{Width: 8, Height: 6, JPEG: picture(t, 6)})
	wantCode(t, err, yokemate.NotFound)
	wantCode(t, d.SetPhoto(ctx, "T1", &yokemate.Photo{ID: "p9", Width: 1, Height: 1}), yokemate.NotFound)

	// The shelf leaves photos out, so putting a unit back loses none.
	s, err := d.Shelf(ctx)
	if err != nil {
		t.Fatal(err)
	}
	u := s.Unit("T1")
	if u.Photos != nil {
		t.Error("the shelf brings pictures")
	}
	if err := d.PutUnit(ctx, u); err != nil {
		t.Fatal(err)
	}
	album, err := d.Album(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(album.Unit("T1").Photos); n != 2 {
		t.Errorf("%d photos are left", n)
	}
}

// An album that was written out and taken in elsewhere is the same album.
func TestAlbumThereAndBack(t *testing.T) {
	a, b := filled(t), fresh(t)
	if _, err := a.AddPhoto(t.Context(), "T1", yokemate.Photo{Name: "top", Width: 8, Height: 6, JPEG: picture(t, 40), Marks: []yokemate.Mark{{Pin: "core", X: 0.5, Y: 1}}}); err != nil {
		t.Fatal(err)
	}
	album, err := a.Album(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	text, err := yokemate.Encode(album)
	if err != nil {
		t.Fatal(err)
	}
	s := shelfOf(t, string(text))
	take := func(s *yokemate.Shelf, replace bool) (string, error) {
		c, err := b.Import(t.Context(), []yokemate.Document{{Source: "album.json", Shelf: s}}, replace)
		if err != nil {
			return "", err
		}
		return c[0].How, nil
	}
	for _, want := range []string{"added", "same"} {
		if how, err := take(s, false); err != nil || how != want {
			t.Fatalf("taken in: %s, %v; want %s", how, err, want)
		}
	}
	got, err := b.Album(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(album, got); diff != "" {
		t.Error(diff)
	}
	// Other marks are a change, another picture under the id a contradiction.
	s.Unit("T1").Photos[0].Marks[0].X = 0.25
	_, err = take(s, false)
	wantCode(t, err, yokemate.Conflict)
	if how, err := take(s, true); err != nil || how != "replaced" {
		t.Errorf("%s, %v", how, err)
	}
	s.Unit("T1").Photos[0].JPEG = picture(t, 41)
	_, err = take(s, true)
	wantCode(t, err, yokemate.Conflict)
}

func TestBenchAndSitting(t *testing.T) {
	now := noon
	d, err := Open(t.Context(), Config{Path: t.TempDir() + "/bench.db", Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if b, err := d.Bench(t.Context()); b != nil || err != nil {
		t.Errorf("an empty store has a bench: %v, %v", b, err)
	}
	want := yokemate.Bench{Volts: 120, Hertz: 60, SourceVolts: 9, NoAmpere: true}
	for _, b := range []yokemate.Bench{{Volts: 230, Hertz: 50}, want} {
		if err := d.PutBench(t.Context(), &b); err != nil {
			t.Fatal(err)
		}
	}
	if b, err := d.Bench(t.Context()); err != nil || *b != want {
		t.Errorf("stored %v, %v", b, err)
	}
	for _, bad := range []yokemate.Bench{{}, {Volts: 230}, {Volts: 24, Hertz: 50}, {Volts: 230, Hertz: 500}, {Volts: 230, Hertz: 50, Low: 240}, {Volts: 230, Hertz: 50, High: 200}, {Volts: 230, Hertz: 50, SourceVolts: 230}} {
		wantCode(t, d.PutBench(t.Context(), &bad), yokemate.Invalid)
	}
	c := 21.5
	if err := d.PutSitting(t.Context(), &yokemate.Sitting{LeadOhms: 0.3, Celsius: &c}); err != nil {
		t.Fatal(err)
	}
	s, err := d.Sitting(t.Context())
	if err != nil || s == nil || s.LeadOhms != 0.3 || *s.Celsius != 21.5 || !s.At.Equal(noon) {
		t.Errorf("the sitting is %v, %v", s, err)
	}
	now = noon.Add(yokemate.SittingLasts + time.Second)
	if s, err := d.Sitting(t.Context()); s != nil || err != nil {
		t.Errorf("the next day the sitting still lasts: %v, %v", s, err)
	}
	hot := 400.0
	for _, bad := range []yokemate.Sitting{{LeadOhms: -1}, {LeadOhms: 50}, {Celsius: &hot}} {
		wantCode(t, d.PutSitting(t.Context(), &bad), yokemate.Invalid)
	}
}
