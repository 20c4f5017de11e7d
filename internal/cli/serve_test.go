//go:build unix

package cli

import (
	"bufio"
	"bytes"
	"io"
	"math/rand/v2"
	"net/http"
	"net/netip"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// serving runs the program until it is interrupted. lines are what it prints.
func serving(t *testing.T, args ...string) (lines *bufio.Scanner, stop func()) {
	t.Helper()
	r, w := io.Pipe()
	var errs bytes.Buffer
	status := make(chan int, 1)
	go func() {
		status <- Main(append([]string{"serve", "--store", filepath.Join(t.TempDir(), "bench.db"), "--addr", "127.0.0.1:0"}, args...),
			Env{Stdin: strings.NewReader(""), Stdout: w, Stderr: &errs, Now: time.Now, Getenv: func(string) string { return "" },
				Rand: rand.NewChaCha8([32]byte{1}), LocalAddrs: func() ([]netip.Addr, error) { return []netip.Addr{netip.MustParseAddr("127.0.0.2")}, nil }})
		w.Close()
	}()
	return bufio.NewScanner(r), func() {
		t.Helper()
		go io.Copy(io.Discard, r)
		if err := syscall.Kill(syscall.Getpid(), syscall.SIGINT); err != nil {
			t.Fatal(err)
		}
		select {
		case got := <-status:
			if got != 0 || errs.Len() > 0 {
				t.Errorf("status %d, %s", got, errs.String())
			}
		case <-time.After(20 * time.Second):
			t.Fatal("it does not end")
		}
	}
}

// until reads lines up to one that fits, and returns what fits.
func until(t *testing.T, lines *bufio.Scanner, pattern string) string {
	t.Helper()
	var all []string
	for lines.Scan() {
		if m := regexp.MustCompile(pattern).FindString(lines.Text()); m != "" {
			return m
		}
		all = append(all, lines.Text())
	}
	t.Fatalf("it says no %s but\n%s", pattern, strings.Join(all, "\n"))
	return ""
}

func ask(t *testing.T, method, at string) (int, string) {
	t.Helper()
	// A port may be that of a server that another test stopped: no connection to it is kept.
	once := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	r, err := http.NewRequestWithContext(t.Context(), method, at, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", strings.TrimSuffix(at, "/"))
	res, err := once.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

// The program says where the bench is, answers there from the store it was
// given, and ends well when it is interrupted.
func TestServe(t *testing.T) {
	lines, stop := serving(t)
	code, body := ask(t, "GET", until(t, lines, `http://127\.0\.0\.1:\d+/`))
	if code != http.StatusOK || !strings.Contains(body, "The shelf is empty") {
		t.Errorf("status %d\n%s", code, body)
	}
	stop()
}

// Opened to the local network it says where, what that means, and the code.
// There a device looks and may not write.
func TestServeLAN(t *testing.T) {
	lines, stop := serving(t, "--lan")
	home := until(t, lines, `http://127\.0\.0\.1:\d+/`)
	at := until(t, lines, `http://127\.0\.0\.2:\d+/`)
	until(t, lines, "not encrypted")
	pairing := strings.TrimPrefix(until(t, lines, `Pairing code: \d{4} \d{4}$`), "Pairing code: ")
	if code, body := ask(t, "GET", home+"devices"); code != http.StatusOK || !strings.Contains(body, pairing) || !strings.Contains(body, at) {
		t.Errorf("status %d\n%s", code, body)
	}
	if code, body := ask(t, "GET", at); code != http.StatusOK || !strings.Contains(body, "may look, not write") {
		t.Errorf("status %d\n%s", code, body)
	}
	if code, _ := ask(t, "POST", at); code != http.StatusForbidden {
		t.Errorf("status %d", code)
	}
	stop()
}
