package cli

import (
	"strings"
	"testing"
	"time"
)

// Long work is told of, once patience is over, with how far it is; and the
// line is empty again at the end. Short work is not.
func TestProgress(t *testing.T) {
	var out strings.Builder
	now := time.Unix(0, 0)
	p := &progress{to: &out, now: func() time.Time { return now }, what: "hookups looked at", begun: now}
	p.count(3)
	if now = now.Add(patience / 2); out.Len() > 0 {
		t.Errorf("at once: %q", out.String())
	}
	now = now.Add(patience)
	p.count(70)
	if s := out.String(); !strings.Contains(s, "hookups looked at") || !strings.Contains(s, "70") {
		t.Errorf("it says %q", s)
	}
	p.end()
	lines := strings.Split(out.String(), "\r")
	if last := lines[len(lines)-1]; strings.TrimSpace(last) != "" || strings.Contains(out.String(), "\n") {
		t.Errorf("it leaves %q", out.String())
	}
	(&progress{}).count(1)
	(&progress{}).end()
}
