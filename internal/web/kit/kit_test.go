package kit

import (
	"errors"
	"testing"

	"yokemate"
)

// Every code has its status, and an error that has no code is internal.
func TestStatus(t *testing.T) {
	for _, c := range []yokemate.Code{yokemate.Invalid, yokemate.NotFound, yokemate.Conflict, yokemate.Unsupported, yokemate.Impossible, yokemate.Internal} {
		if got := Status(yokemate.Errorf(c, "", "x")); got < 400 || (got == 500) != (c == yokemate.Internal) {
			t.Errorf("%s: status %d", c, got)
		}
	}
	if got := Status(errors.New("x")); got != 500 {
		t.Errorf("status %d", got)
	}
}

// A memory forgets the oldest, keeps the rest, and keeps no failure.
func TestMemo(t *testing.T) {
	m := Memo[int, int]{Most: 2}
	made := 0
	get := func(k int) {
		v, err := m.Get(k, func() (int, error) { made++; return 10 * k, nil })
		if err != nil || v != 10*k {
			t.Errorf("%d: %d, %v", k, v, err)
		}
	}
	get(1)
	get(2)
	get(1)
	if made != 2 {
		t.Errorf("made %d times", made)
	}
	get(3) // forgets 1
	get(2)
	if made != 3 {
		t.Errorf("made %d times", made)
	}
	get(1)
	if made != 4 {
		t.Errorf("made %d times", made)
	}
	if _, err := m.Get(9, func() (int, error) { return 0, errors.New("no") }); err == nil {
		t.Error("a failure was hidden")
	}
	get(9)
}

// A key that takes long holds up no other, and two callers of it compute once.
func TestMemoWaitsForNobody(t *testing.T) {
	var m Memo[string, int]
	begun, release := make(chan struct{}), make(chan struct{})
	got := make(chan int, 2)
	slow := func() {
		v, err := m.Get("slow", func() (int, error) {
			close(begun) // a second time would panic
			<-release
			return 7, nil
		})
		if err != nil {
			t.Error(err)
		}
		got <- v
	}
	go slow()
	<-begun
	go slow()
	if v, err := m.Get("quick", func() (int, error) { return 1, nil }); v != 1 || err != nil {
		t.Errorf("%d, %v", v, err)
	}
	close(release)
	if a, b := <-got, <-got; a != 7 || b != 7 {
		t.Errorf("%d and %d", a, b)
	}
}
