package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"yokemate"
)

// upload sends files as the browser's form does.
func (b *bench) upload(replace bool, files map[string]string) (int, string) {
	b.t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for name, data := range files {
		f, err := m.CreateFormFile("file", name)
		if err != nil {
			b.t.Fatal(err)
		}
		if _, err := f.Write([]byte(data)); err != nil {
			b.t.Fatal(err)
		}
	}
	if replace {
		if err := m.WriteField("replace", "yes"); err != nil {
			b.t.Fatal(err)
		}
	}
	if err := m.Close(); err != nil {
		b.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(b.t.Context(), "POST", b.server.URL+"/files", &body)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", m.FormDataContentType())
	code, page, _ := b.do(r)
	return code, page
}

// What one bench gives away another takes in, and then gives the same.
func TestFilesThereAndBack(t *testing.T) {
	a, b := newBench(t, true), newBench(t, false)
	shelf, hookup, need := a.page("/files/shelf"), a.page("/files/hookups/rope%20lights"), a.page("/files/needs/rope%20lights")
	_, _, h := a.get("/files/hookups/rope%20lights")
	if got := h.Get("Content-Disposition"); got != "attachment; filename=hookup-rope-lights.json" {
		t.Errorf("it comes as %s", got)
	}
	code, page := b.upload(false, map[string]string{"shelf.json": shelf})
	if code != http.StatusOK || !strings.Contains(text(page), "unit F1 added") {
		t.Fatalf("status %d\n%s", code, text(page))
	}
	checkPage(t, "after the import", page)
	if code, page = b.upload(false, map[string]string{"h.json": hookup, "n.json": need}); code != http.StatusOK {
		t.Fatalf("status %d\n%s", code, text(page))
	}
	for _, at := range []string{"/files/shelf", "/files/hookups/rope%20lights", "/files/needs/rope%20lights"} {
		if x, y := a.page(at), b.page(at); x != y {
			t.Errorf("%s differs after the import:\n%s\n%s", at, x, y)
		}
	}

	// What contradicts the store is refused whole, and named, unless it is to replace.
	other := strings.Replace(hookup, "\"fuse_amps\": 0.25", "\"fuse_amps\": 0.5", 1)
	if other == hookup {
		t.Fatal("the hookup has no such fuse")
	}
	second := strings.Replace(need, "\"rope lights\"", "\"second\"", 1)
	code, page = b.upload(false, map[string]string{"other.json": other, "second.json": second})
	if code != http.StatusConflict || !strings.Contains(text(page), "other.json") {
		t.Errorf("status %d\n%s", code, text(page))
	}
	if _, err := b.store.Need(t.Context(), "second"); yokemate.ErrorCode(err) != yokemate.NotFound {
		t.Errorf("a part of it was stored: %v", err)
	}
	if code, page = b.upload(true, map[string]string{"other.json": other}); code != http.StatusOK || !strings.Contains(text(page), "replaced") {
		t.Errorf("status %d\n%s", code, text(page))
	}
}

// Files that are none of ours are named with what is wrong; nothing is stored.
func TestBadFiles(t *testing.T) {
	b := newBench(t, false)
	for name, data := range map[string]string{
		"empty.json": "", "text.json": "hello", "cut.json": "{\"format\": \"yokemate-shelf/1\", \"units\": [", "other.json": "{\"format\": \"else/1\"}", "picture.json": "\xff\xd8\xff",
		"html.json": "<script>alert(1)</script>",
	} {
		code, page := b.upload(false, map[string]string{name: data})
		if code != http.StatusUnprocessableEntity || !strings.Contains(text(page), name) {
			t.Errorf("%s: status %d\n%s", name, code, text(page))
		}
		checkPage(t, name, page)
	}
	if code, page := b.upload(false, nil); code != http.StatusUnprocessableEntity {
		t.Errorf("status %d\n%s", code, text(page))
	}
	if code, page := b.upload(false, map[string]string{"big.json": strings.Repeat(" ", 65<<20)}); code != http.StatusUnprocessableEntity || !strings.Contains(text(page), "64 MB") {
		t.Errorf("status %d\n%s", code, text(page))
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Units) > 0 {
		t.Error("something was stored")
	}
}
