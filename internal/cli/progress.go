package cli

import (
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// patience is how long an answer may take before a person at a terminal is told
// that it is being worked out.
const patience = 400 * time.Millisecond

// progress tells a person at a terminal how far long work is. The zero value tells nobody.
type progress struct {
	to    io.Writer
	now   func() time.Time
	what  string // is counted
	begun time.Time
	bar   *progressbar.ProgressBar // once patience is over
}

// progress is on the error output, so that an answer may be written to a file,
// and only where that is a terminal.
func (a *App) progress(what string) *progress {
	if f, ok := a.Stderr.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		return &progress{}
	}
	return &progress{to: a.Stderr, now: a.Now, what: what, begun: a.Now()}
}

// count notes that so many are done.
func (p *progress) count(n int) {
	if p.to == nil || p.bar == nil && p.now().Sub(p.begun) < patience {
		return
	}
	if p.bar == nil {
		p.bar = progressbar.NewOptions(-1, progressbar.OptionSetWriter(p.to), progressbar.OptionSetDescription(p.what),
			progressbar.OptionShowCount(), progressbar.OptionSetElapsedTime(false), progressbar.OptionThrottle(100*time.Millisecond))
	}
	_ = p.bar.Set(n) // an error output that is gone is no reason to stop
}

// end takes the words away again.
func (p *progress) end() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}
