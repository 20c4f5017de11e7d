//go:build unix

package cli

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The program says where the bench is, answers there from the store it was
// given, and ends well when it is interrupted.
func TestServe(t *testing.T) {
	r, w := io.Pipe()
	var errs bytes.Buffer
	status := make(chan int, 1)
	go func() {
		status <- Main([]string{"serve", "--store", filepath.Join(t.TempDir(), "bench.db"), "--addr", "127.0.0.1:0"},
			Env{Stdin: strings.NewReader(""), Stdout: w, Stderr: &errs, Now: time.Now, Getenv: func(string) string { return "" }})
		w.Close()
	}()
	line, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		t.Fatal(err, errs.String())
	}
	at := regexp.MustCompile(`http://127\.0\.0\.1:\d+/`).FindString(line)
	if at == "" {
		t.Fatalf("it says %q", line)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", at, nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(body), "The shelf is empty") {
		t.Errorf("status %d, %v\n%s", res.StatusCode, err, body)
	}
	if err := syscall.Kill(syscall.Getpid(), syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	select {
	case got := <-status:
		if got != 0 || errs.Len() > 0 {
			t.Errorf("status %d, %s", got, errs.String())
		}
	case <-ctx.Done():
		t.Fatal("it does not end")
	}
}
