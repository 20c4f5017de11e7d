package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/term"

	"yokemate"
)

// The rules of terminal talk: results go to standard output, questions to
// standard error; a question is asked only when a person sits there, and an
// answer that cannot be used is asked for again.

// Print writes to standard output.
func (a *App) Print(format string, args ...any) {
	a.out.WriteString(tame(fmt.Sprintf(format, args...)))
}

// tame shows control characters other than the end of a line as a replacement
// mark: texts come from files, and must not steer the terminal.
func tame(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return unicode.ReplacementChar
		}
		return r
	}, text)
}

// JSON writes v to standard output as indented JSON.
func (a *App) JSON(v any) error {
	b, err := yokemate.Encode(v)
	if err != nil {
		return err
	}
	_, err = a.out.Write(b)
	return err
}

// Interactive reports whether a person can be asked: standard input is a
// terminal and no JSON is wanted.
func (a *App) Interactive() bool {
	f, ok := a.Stdin.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && !a.AsJSON
}

// Width is the number of columns of the terminal that standard output is, or
// 80 when it is none.
func (a *App) Width() int {
	if f, ok := a.Stdout.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 20 {
			return w
		}
	}
	return 80
}

// Say writes a line to standard error.
func (a *App) Say(format string, args ...any) {
	fmt.Fprintln(a.Stderr, tame(fmt.Sprintf(format, args...)))
}

// Tell writes a text to standard error, in lines as wide as the screen at most.
func (a *App) Tell(text string) { a.Say("%s", wrap("", text, min(a.Width(), 100))) }

// Ask puts a question and returns the line typed, without spaces around it;
// an empty line stands for def. Input that ends is an error.
func (a *App) Ask(question, def string) (string, error) {
	if err := a.out.Flush(); err != nil {
		return "", err
	}
	if def != "" {
		question += " [" + def + "]"
	}
	fmt.Fprint(a.Stderr, tame(question)+": ")
	text, err := a.in.ReadString('\n')
	text = strings.TrimSpace(text)
	if err != nil && text == "" {
		fmt.Fprintln(a.Stderr)
		if errors.Is(err, io.EOF) {
			return "", yokemate.Errorf(yokemate.Invalid, "", "the input ended before all questions were answered").Mend("run it again; nothing was stored by the unanswered question")
		}
		return "", &yokemate.Error{Code: yokemate.Invalid, Message: "the input cannot be read", Err: err}
	}
	if text == "" {
		text = def
	}
	return text, nil
}

// AskFor puts a question until take accepts the answer, telling each time
// what was wrong with it.
func (a *App) AskFor(question, def string, take func(string) error) error {
	for {
		text, err := a.Ask(question, def)
		if err != nil {
			return err
		}
		err = take(text)
		if err == nil {
			return nil
		}
		a.Say("  %s", line(err))
	}
}

// Confirm asks a question that is answered by y or n; an empty line is no.
func (a *App) Confirm(question string) (yes bool, err error) {
	err = a.AskFor(question+" (y/n)", "n", func(s string) error {
		switch strings.ToLower(s) {
		case "y", "yes":
			yes = true
		case "n", "no":
		default:
			return yokemate.Errorf(yokemate.Invalid, "", "answer y or n")
		}
		return nil
	})
	return yes, err
}

// Table lays out rows in columns two spaces apart. A head that starts with >
// sets its column to the right.
type Table struct {
	Heads []string
	Bare  bool // do not print the heads
	rows  [][]string
}

// Row adds one row; cells that are missing at its end stay empty.
func (t *Table) Row(cells ...string) { t.rows = append(t.rows, cells) }

// Table prints t; without rows it prints nothing.
func (a *App) Table(t *Table) {
	if len(t.rows) == 0 {
		return
	}
	width := make([]int, len(t.Heads))
	right := make([]bool, len(t.Heads))
	heads := make([]string, len(t.Heads))
	for i, h := range t.Heads {
		heads[i], right[i] = strings.CutPrefix(h, ">")
	}
	rows := t.rows
	if !t.Bare {
		rows = append([][]string{heads}, rows...)
	}
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, r := range rows {
		var b strings.Builder
		for i, c := range r {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if right[i] {
				c = pad + c
			} else {
				c += pad
			}
			if i > 0 {
				b.WriteString("  ")
			}
			b.WriteString(c)
		}
		a.Print("%s\n", strings.TrimRight(b.String(), " "))
	}
}
