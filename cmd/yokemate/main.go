// Command yokemate takes a bench worker from a box of small mains transformers
// to a proven hookup. All it does is in package cli.
package main

import (
	"crypto/rand"
	"os"
	"time"

	"yokemate/internal/cli"
)

// version is the program's; the build sets it for a release.
var version = "development"

func main() {
	os.Exit(cli.Main(os.Args[1:], cli.Env{
		Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Now: time.Now, Getenv: os.Getenv, Version: version,
		Rand: rand.Reader, LocalAddrs: cli.LocalAddrs,
	}))
}
