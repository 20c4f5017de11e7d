// Package cli is the command line: it reads flags, files and answers typed at
// a terminal, asks the store and the engine, and prints what comes back.
//
// It computes nothing of its own. Each command is one struct in a file of its
// own, named cmd_<name>.go, with a method Run(*App) error; commands.go lists
// them. Results go to standard output, everything else to standard error; an
// output file appears only when it is complete.
//
// Exit status: 0 done; 2 the input or the command line is bad, with one line
// on standard error that names file, place and mend, and nothing stored; 1 the
// answer is no or stop, or the program or its surroundings failed.
package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"yokemate"
	"yokemate/internal/sqlite"
)

// Env is the world around one run of the program.
type Env struct {
	Stdin   io.Reader
	Stdout  io.Writer
	Stderr  io.Writer
	Now     func() time.Time    // the clock
	Getenv  func(string) string // the environment
	Version string              // of the program

	Rand       io.Reader                    // where secrets come from
	LocalAddrs func() ([]netip.Addr, error) // this machine's addresses on local networks
}

// Exit statuses.
const (
	exitOK  = 0
	exitNo  = 1 // the answer is no or stop, or something failed inside
	exitBad = 2 // bad input or usage
)

// ErrNo is what a command returns, after it printed its result, when the
// answer is no or stop: the status is 1 and nothing more is printed.
var ErrNo = errors.New("the answer is no")

// App is what a command works with.
type App struct {
	Env
	AsJSON    bool   // print the result as JSON
	ShelfFile string // work on this file alone; empty: on the store

	storePath string
	store     yokemate.Store // opened at first use
	in        *bufio.Reader
	out       *bufio.Writer
	flags     []string // the flags of the command line, in order
}

// globals are the flags that every command takes.
type globals struct {
	Store     string           `placeholder:"FILE" help:"Keep everything in this file instead of the usual place."`
	ShelfFile string           `name:"shelf" placeholder:"FILE" help:"Work on this shelf file alone and touch no store. - reads standard input."`
	JSON      bool             `name:"json" help:"Print the result as JSON."`
	Version   kong.VersionFlag `help:"Print the version."`
}

type exit int // thrown where the parser wants to end the program

// Main runs the program and returns its exit status.
func Main(args []string, env Env) (status int) {
	a := &App{Env: env, in: bufio.NewReader(env.Stdin), out: bufio.NewWriter(env.Stdout)}
	defer func() {
		if e, ok := recover().(exit); ok {
			status = int(e)
		}
	}()
	err := a.run(args)
	if a.store != nil {
		err = errors.Join(err, a.store.Close())
	}
	if flushed := a.out.Flush(); err == nil && flushed != nil {
		err = flushed
	}
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, ErrNo):
		return exitNo
	}
	fmt.Fprintln(env.Stderr, tame("yokemate: error: "+line(err)))
	if yokemate.ErrorCode(err) == yokemate.Internal {
		return exitNo
	}
	return exitBad
}

func (a *App) run(args []string) error {
	var root struct {
		globals
		commands
	}
	k, err := kong.New(&root,
		kong.Name("yokemate"),
		kong.Description("From a box of small mains transformers to a proven hookup whose every reading is known.\n\nMains can kill. What is printed here defers to local codes and to licensed practice."),
		kong.Vars{"version": a.Version},
		kong.Writers(env(a.Stdout), env(a.Stderr)),
		kong.Exit(func(code int) { panic(exit(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
	if err != nil {
		return err
	}
	ctx, err := k.Parse(args)
	if err != nil {
		help := "yokemate --help"
		if p, ok := errors.AsType[*kong.ParseError](err); ok && p.Context != nil && p.Context.Selected() != nil {
			help = p.Context.Selected().FullPath() + " --help"
		}
		if len(args) == 0 {
			return yokemate.Errorf(yokemate.Invalid, "command line", "no command is named").Mend("see %q; \"yokemate demo --run\" shows the main job", help)
		}
		return yokemate.Errorf(yokemate.Invalid, "command line", "%s", misused(err.Error())).Mend("see %q", help)
	}
	a.AsJSON, a.ShelfFile, a.storePath = root.JSON, root.ShelfFile, root.Store
	if a.ShelfFile != "" && a.storePath != "" {
		return yokemate.Errorf(yokemate.Invalid, "command line", "--shelf and --store are both given").Mend("keep one of them")
	}
	for _, p := range ctx.Path {
		if p.Flag != nil {
			a.flags = append(a.flags, p.Flag.Name)
		}
	}
	return ctx.Run(a)
}

// misused says what the parser says in the words of someone who types commands.
func misused(text string) string {
	for _, x := range []struct{ pattern, words string }{
		{`^(--\S+): expected .* but got "(-[^"]*)" \(short flag\).*$`, `$1: "$2" looks like a flag there; write it as $1=$2`},
		{`^unknown flag (-[0-9.,]\S*?)(, did you mean .*)?$`, `"$1" looks like a flag there; put -- and a space before it`},
		{`expected a valid \d+ bit u?int but got ("[^"]*")`, `$1 is not a whole number`},
		{`expected an? (int|float) but got ("[^"]*").*`, `$2 is not a number`},
		{`^missing flags: (.*)$`, `$1 is missing`},
		{`^expected ("<[^"]*>")`, `$1 is missing`},
		{`^expected one of `, `a word is missing: one of `},
	} {
		if re := regexp.MustCompile(x.pattern); re.MatchString(text) {
			return re.ReplaceAllString(text, x.words)
		}
	}
	return text
}

// env keeps kong from being handed a nil writer.
func env(w io.Writer) io.Writer {
	if w == nil {
		return io.Discard
	}
	return w
}

// line prints an error on one line, an internal one with its cause.
func line(err error) string {
	s := err.Error()
	if e, ok := errors.AsType[*yokemate.Error](err); ok && e.Code == yokemate.Internal && e.Err != nil {
		s += ": " + e.Err.Error()
	}
	return strings.Join(strings.Fields(s), " ")
}

// Ctx is the context of the run.
func (a *App) Ctx() context.Context { return context.Background() }

// Store opens the store at the first call. It is an error under --shelf, which
// promises to touch no store.
func (a *App) Store() (yokemate.Store, error) {
	if a.ShelfFile != "" {
		return nil, yokemate.Errorf(yokemate.Invalid, "command line", "this works on the store, not on a shelf file").Mend("leave out --shelf")
	}
	if a.store != nil {
		return a.store, nil
	}
	path, err := a.StorePath()
	if err != nil {
		return nil, err
	}
	s, err := sqlite.Open(a.Ctx(), sqlite.Config{Path: path, Now: a.Now})
	if err != nil {
		return nil, &yokemate.SourceError{Source: path, Err: err}
	}
	a.store = s
	return s, nil
}

// StorePath is where the store is: the file of --store, else bench.db in the
// user's data folder.
func (a *App) StorePath() (string, error) {
	if a.storePath != "" {
		return a.storePath, nil
	}
	var base string
	home := a.Getenv("HOME")
	switch {
	case a.Getenv("XDG_DATA_HOME") != "":
		base = a.Getenv("XDG_DATA_HOME")
	case runtime.GOOS == "windows":
		base = a.Getenv("LocalAppData")
	case home == "":
	case runtime.GOOS == "darwin":
		base = filepath.Join(home, "Library", "Application Support")
	default:
		base = filepath.Join(home, ".local", "share")
	}
	if base == "" {
		return "", yokemate.Errorf(yokemate.Invalid, "", "there is no data folder for the store").Mend("name a file with --store")
	}
	return filepath.Join(base, "yokemate", "bench.db"), nil
}

// where is what a command line that is printed to be typed needs to work on the
// same store or file.
func (a *App) where() string {
	switch {
	case a.ShelfFile != "":
		return " --shelf " + quoted(a.ShelfFile)
	case a.storePath != "":
		return " --store " + quoted(a.storePath)
	}
	return ""
}

// quoted is a word of a command line as it is to be typed.
func quoted(word string) string {
	if word != "" && !strings.ContainsAny(word, " \t'\"\\$`!*?[](){}<>|&;#~") {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
