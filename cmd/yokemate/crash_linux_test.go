package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"

	"yokemate"
	"yokemate/examples"
	"yokemate/internal/sqlite"
)

// terminal opens a pseudo terminal: what is written to near is typed at far.
func terminal(t *testing.T) (near, far *os.File) {
	t.Helper()
	near, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	control := func(request uintptr, arg unsafe.Pointer) {
		if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, near.Fd(), request, uintptr(arg)); e != 0 {
			t.Fatal(e)
		}
	}
	var unlock, n int32
	control(syscall.TIOCSPTLCK, unsafe.Pointer(&unlock))
	control(syscall.TIOCGPTN, unsafe.Pointer(&n))
	far, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	return near, far
}

// screen gathers what a program prints, for somebody who waits for it.
type screen struct {
	mu   sync.Mutex
	text strings.Builder
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *screen) count(what string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return strings.Count(s.text.String(), what)
}

// wait waits until what has been printed n times.
func (s *screen) wait(t *testing.T, what string, n int) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); s.count(what) < n; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%q was not printed %d times:\n%s", what, n, s.text.String())
		}
	}
}

// A proof whose program is killed time and again, also in the middle of an
// answer, keeps every answer whose verdict was shown, and ends as if nothing
// had happened.
func TestKilledProofLosesNothing(t *testing.T) {
	b, err := examples.Files.ReadFile("answers-rope-lights.json")
	if err != nil {
		t.Fatal(err)
	}
	given, err := yokemate.DecodeAnswers(b)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "bench.db")
	if out, err := exec.Command("yokemate", "demo", "--store", path).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ctx := context.Background()
	// record is the newest proof, read when no program has the store open.
	record := func() yokemate.ProofRecord {
		s, err := sqlite.Open(ctx, sqlite.Config{Path: path})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		all, err := s.Proofs(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return all[0]
	}
	rng := rand.New(rand.NewPCG(9, 1))
	args := []string{"prove", "--store", path, "--hookup", "rope lights"}
	done, kills := 0, 0
	for done < len(given.Answers) {
		near, far := terminal(t)
		var out, questions screen
		cmd := exec.Command("yokemate", args...)
		cmd.Stdin, cmd.Stdout, cmd.Stderr = far, &out, &questions
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		go io.Copy(io.Discard, near) // the echo
		asked := 0
		question := func() {
			asked++
			questions.wait(t, "Reading in ", asked)
		}
		answer := func(a yokemate.Answer) {
			question()
			if a.FeedVolts.Known() {
				fmt.Fprintf(near, "feed %s\n", a.FeedVolts.Digits)
				question()
			}
			fmt.Fprintf(near, "%s\n", a.Value)
		}
		shown := done // those of earlier lives are told again
		for range 1 + rng.IntN(4) {
			if done == len(given.Answers) {
				break
			}
			answer(given.Answers[done])
			done++
			shown++
			out.wait(t, "● GO ", shown)
		}
		if done < len(given.Answers) && rng.IntN(2) == 0 {
			// In the middle of the next one: it is kept whole or not at all.
			answer(given.Answers[done])
			time.Sleep(time.Duration(rng.IntN(12)) * time.Millisecond)
		}
		if err := cmd.Process.Kill(); err != nil && done < len(given.Answers) {
			t.Fatal(err)
		}
		if cmd.Wait() != nil {
			kills++
		}
		near.Close()
		far.Close()
		p := record()
		if len(p.Answers) < done || len(p.Answers) > done+1 {
			t.Fatalf("%d answers are kept, %d verdicts were shown", len(p.Answers), done)
		}
		done = len(p.Answers)
		args = []string{"prove", "--store", path, "--resume"}
	}
	p := record()
	for i, x := range p.Answers {
		if g := given.Answers[i]; x.Answer.Step != g.Step || x.Answer.Value != g.Value || x.Answer.FeedVolts.Digits != g.FeedVolts.Digits {
			t.Errorf("answer %d is %+v, was given as %+v", i+1, x.Answer, g)
		}
	}
	if kills < 4 {
		t.Errorf("only %d kills", kills)
	}
	// The last kill may have come before the state was stored: looking at the
	// proof settles that.
	if out, err := exec.Command("yokemate", "proof", "show", fmt.Sprint(p.ID), "--store", path).CombinedOutput(); err != nil || !strings.Contains(string(out), "● GOOD") {
		t.Errorf("%v\n%s", err, out)
	}
	if p := record(); p.State != yokemate.ProofGood {
		t.Errorf("the proof is %s", p.State)
	}
}

// Two programs that answer one proof: the one that does not know all answers
// says so instead of a verdict.
func TestTwoProgramsOneProof(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "bench.db")
	run := func(args ...string) {
		if out, err := exec.Command("yokemate", append(args, "--store", path)...).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	run("demo")
	near, far := terminal(t)
	defer near.Close()
	defer far.Close()
	var out, questions screen
	cmd := exec.Command("yokemate", "prove", "--hookup", "rope lights", "--store", path)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = far, &out, &questions
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.Discard, near)
	questions.wait(t, "Reading in ", 1)
	fmt.Fprintln(near, "318.6")
	questions.wait(t, "Reading in ", 2)
	more := filepath.Join(dir, "more.json")
	if err := os.WriteFile(more, []byte(`{"answers": [{"step": "ohms-F1-A", "value": "1.3"}]}`), 0o600); err != nil {
		t.Fatal(err)
	}
	run("prove", "--resume", "3", "--answers", more)
	fmt.Fprintln(near, "1.3")
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != 2 {
		t.Errorf("the status is %d", cmd.ProcessState.ExitCode())
	}
	if questions.count("proof 3: another program answers this proof too; close one of them") != 1 || out.count("● GO ") != 1 {
		t.Errorf("%s\n%s", out.text.String(), questions.text.String())
	}
}
