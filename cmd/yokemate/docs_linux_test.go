package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// The pages whose commands are run as they are printed, each in a folder of its
// own with the examples beside it.
var pages = []string{"README.md", "docs/first-hour.md", "docs/adding-a-check.md"}

// A command of a page, with what the page prints below it.
type command struct {
	line  int
	typed string
	shows []string
}

// question is a line of a talk at a terminal, with what is typed after it.
var question = regexp.MustCompile(`^((?:ohms|volts AC|millivolts DC at 1 A) from .*|Temperature of the unit.*|Touch the probes.*|The source reads.*|Reading r.* should be \[.*\]|Put these facts .*|Reading in \S+|Stopped): (.*)$`)

// readPage finds the commands of a page, and the files that it says to save: a
// fenced block whose first line names one.
func readPage(t *testing.T, name string) (commands []command, files map[string]string, text string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", name))
	if err != nil {
		t.Fatal(err)
	}
	files = map[string]string{}
	saving, block := "", false
	for i, l := range strings.Split(string(b), "\n") {
		if fence, ok := strings.CutPrefix(l, "```"); ok {
			_, saving, _ = strings.Cut(fence, " ")
			block = false
			continue
		}
		if saving != "" {
			files[saving] += l + "\n"
			continue
		}
		shown, indented := strings.CutPrefix(l, "    ")
		switch typed, ok := strings.CutPrefix(shown, "$ "); {
		case indented && ok:
			commands = append(commands, command{line: i + 1, typed: typed})
			block = true
		case (indented || l == "") && block:
			last := &commands[len(commands)-1]
			last.shows = append(last.shows, shown)
		default:
			block = false
		}
	}
	for i := range commands {
		for n := len(commands[i].shows); n > 0 && commands[i].shows[n-1] == ""; n-- {
			commands[i].shows = commands[i].shows[:n-1]
		}
	}
	return commands, files, string(b)
}

// Whoever follows a page gets what it shows.
func TestPagesDoWhatTheySay(t *testing.T) {
	examples, err := filepath.Abs("../../examples")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range pages {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			commands, files, _ := readPage(t, name)
			dir := t.TempDir()
			if err := os.Symlink(examples, filepath.Join(dir, "examples")); err != nil {
				t.Fatal(err)
			}
			for f, text := range files {
				if err := os.WriteFile(filepath.Join(dir, f), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			for _, c := range commands {
				var answers []string
				for _, l := range c.shows {
					if m := question.FindStringSubmatch(l); m != nil {
						answers = append(answers, m[2])
					}
				}
				out, err := follow(t, dir, c.typed, answers)
				if left := missing(c.shows, out); left != "" || err != nil {
					t.Fatalf("%s:%d: %s\ndoes not show %q (%v), but\n%s", name, c.line, c.typed, left, err, out)
				}
			}
		})
	}
}

// Every command that the text of a page names is one.
func TestPagesNameCommands(t *testing.T) {
	span := regexp.MustCompile("`yokemate ([a-z]+(?: [a-z]+)*)")
	for _, name := range pages {
		_, _, text := readPage(t, name)
		for _, m := range span.FindAllStringSubmatch(text, -1) {
			words := append(strings.Fields(m[1]), "--help")
			if out, err := exec.Command("yokemate", words...).CombinedOutput(); err != nil {
				t.Errorf("%s names %q: %v\n%s", name, m[0][1:], err, out)
			}
		}
	}
}

// follow runs a command line and gives what comes of it; where answers are
// typed, at a terminal. A status of 1 is an answer of no, and no error.
func follow(t *testing.T, dir, typed string, answers []string) (string, error) {
	t.Helper()
	cmd := exec.Command("sh", "-c", typed)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+filepath.Join(dir, "data"))
	no := func(err error) error {
		if e, ok := errors.AsType[*exec.ExitError](err); ok && e.ExitCode() == 1 {
			return nil
		}
		return err
	}
	if len(answers) == 0 {
		out, err := cmd.CombinedOutput()
		return string(out), no(err)
	}
	near, far := terminal(t)
	defer near.Close()
	cmd.Stdin, cmd.Stdout, cmd.Stderr = far, far, far
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	far.Close()
	var mu sync.Mutex
	var seen strings.Builder
	text := func() string {
		mu.Lock()
		defer mu.Unlock()
		return strings.ReplaceAll(seen.String(), "\r\n", "\n")
	}
	read := make(chan struct{})
	go func() {
		defer close(read)
		b := make([]byte, 4096)
		for {
			n, err := near.Read(b)
			mu.Lock()
			seen.Write(b[:n])
			mu.Unlock()
			if err != nil { // the program has ended
				return
			}
		}
	}()
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	done := 0 // of what was printed when the last answer was typed
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(2 * time.Millisecond) {
		select {
		case err := <-ended:
			<-read
			if len(answers) > 0 {
				return text(), fmt.Errorf("it ended with %d answers not asked for", len(answers))
			}
			return text(), no(err)
		default:
		}
		if time.Now().After(end) {
			cmd.Process.Kill()
			return text(), errors.New("it waits for an answer that the page does not give")
		}
		now := text()
		if len(now) <= done || len(answers) == 0 || !question.MatchString(now[strings.LastIndexByte(now, '\n')+1:]) {
			continue
		}
		done = len(now) + len(answers[0]) + 1
		if _, err := io.WriteString(near, answers[0]+"\n"); err != nil {
			t.Fatal(err)
		}
		answers = answers[1:]
	}
}

// missing is the first line that a page shows and the output does not, or
// nothing. Lines follow one another as the page has them; "…" stands for any.
func missing(shows []string, out string) string {
	lines := strings.Split(out, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " ")
	}
	at, loose := 0, true
	for _, l := range shows {
		if l == "…" {
			loose = true
			continue
		}
		l = strings.TrimRight(l, " ")
		if !loose {
			if at >= len(lines) || lines[at] != l {
				return l
			}
			at++
			continue
		}
		k := slices.Index(lines[at:], l)
		if k < 0 {
			return l
		}
		at, loose = at+k+1, false
	}
	return ""
}
