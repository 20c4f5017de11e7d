package teach

import (
	"os"
	"testing"
	"time"

	"yokemate"
	"yokemate/examples"
)

func load(t testing.TB, shelf, hookup string) (*yokemate.Shelf, *yokemate.Hookup) {
	t.Helper()
	read := func(name string) []byte {
		b, err := examples.Files.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	s, err := yokemate.DecodeShelf(read(shelf))
	if err != nil {
		t.Fatal(err)
	}
	h, err := yokemate.DecodeHookup(read(hookup))
	if err != nil {
		t.Fatal(err)
	}
	return s, h
}

func TestScratch(t *testing.T) {
	for _, c := range [][2]string{{"shelf-fernhollow.json", "hookup-rope-lights.json"}, {"shelf-fernhollow.json", "hookup-odd-pair.json"}, {"shelf-tern-point.json", "hookup-lantern.json"}} {
		s, h := load(t, c[0], c[1])
		t0 := time.Now()
		l, err := New(s, h, Options{})
		if err != nil {
			t.Fatal(err)
		}
		t1 := time.Now()
		b, err := l.HTML()
		if err != nil {
			t.Fatal(err)
		}
		d, _ := l.drawings()
		js, _ := d.names()
		n := 0
		for _, p := range d.Parts {
			n += len(p)
		}
		t.Log(c[1], len(l.Wirings), t1.Sub(t0), time.Since(t1), len(b), "drawings", len(js), "parts", len(d.Parts), n, l.Last)
		os.WriteFile("/tmp/c-"+c[1]+".html", b, 0o644)
		for _, w := range l.Wirings {
			if w.Change.moves() > 1 {
				break
			}
			x := &w.States[0]
			y := &w.States[1]
			t.Log(w.Key, w.Change, x.Verdict, l.cells(x), y.Verdict, l.cells(y))
		}
	}
}
