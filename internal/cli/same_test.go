package cli

import (
	"bytes"
	"context"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"yokemate"
	"yokemate/internal/demo"
	"yokemate/internal/sqlite"
	"yokemate/internal/web"
	"yokemate/phys/network"
	"yokemate/prove"
)

// both is the demo's bench at the command line and in the browser.
type both struct {
	t      *testing.T
	dir    string
	store  yokemate.Store
	server *httptest.Server
}

func newBoth(t *testing.T) *both {
	t.Helper()
	b := &both{t: t, dir: t.TempDir()}
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: b.path("bench.db"), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := demo.Fill(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	w, err := web.New(web.Config{Store: s})
	if err != nil {
		t.Fatal(err)
	}
	b.store, b.server = s, httptest.NewServer(w.Home())
	t.Cleanup(func() {
		b.server.Close()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func (b *both) path(name string) string { return filepath.Join(b.dir, name) }

// run gives a command, and returns what it printed.
func (b *both) run(args ...string) string {
	b.t.Helper()
	var out, errs bytes.Buffer
	Main(append([]string{"--store", b.path("bench.db")}, args...), Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Now: time.Now, Getenv: func(string) string { return "" }})
	if errs.Len() > 0 {
		b.t.Fatalf("%v: %s", args, errs.String())
	}
	return out.String()
}

// get asks for a page or a file.
func (b *both) get(at string) string {
	b.t.Helper()
	res, err := http.Get(b.server.URL + at)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.body(res)
}

func (b *both) body(res *http.Response) string {
	b.t.Helper()
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %s, %v\n%s", res.Request.URL, res.Status, err, body)
	}
	return string(body)
}

// post sends a form, and returns the page that it leads to.
func (b *both) post(at string, v url.Values) string {
	b.t.Helper()
	res, err := http.PostForm(b.server.URL+at, v)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.body(res)
}

var (
	tags  = regexp.MustCompile(`<[^>]*>`)
	cells = regexp.MustCompile(`(?s)<t[hd][^>]*>(.*?)</t[hd]>`)
	shown = regexp.MustCompile(`(?s)<div class="(right|wrong)"><dt>.*?</dt><dd[^>]*>(.*?)</dd>`)
	read  = regexp.MustCompile(`(?s)<p class="reads">(.*?)(?: <span class="hint">.*?</span>)?</p>\s*<p[^>]*>(.*?)</p>\s*(?:<p class="follows">(.*?)</p>)?`)
	gaps  = regexp.MustCompile(` {2,}`)
)

// plain is the text of a piece of a page.
func plainText(s string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(s, ""))), " ")
}

// tabled lists the cells of all tables that a command printed: what stands
// between two or more spaces.
func tabled(out string) []string {
	_, out, _ = strings.Cut(out, "\n\n")
	out, _, _ = strings.Cut(out, "\nBefore you touch anything")
	var list []string
	for _, l := range strings.Split(out, "\n") {
		for _, c := range gaps.Split(strings.TrimSpace(l), -1) {
			if c != "" {
				list = append(list, c)
			}
		}
	}
	slices.Sort(list)
	return list
}

// Every number of a hookup's page is the command line's, to the last digit, at
// each end of the mains band: the cells of the page's tables are those that the
// command prints, no more and no fewer.
func TestHookupPageSaysWhatPredictSays(t *testing.T) {
	b := newBoth(t)
	hs, err := b.store.Hookups(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i := range hs {
		for _, at := range []string{"low", "nominal", "high"} {
			name := hs[i].Name
			page := b.get("/hookups/" + url.PathEscape(name) + "?mains=" + at)
			_, section, ok := strings.Cut(page, `aria-labelledby="numbers"`)
			if !ok {
				t.Fatalf("%s has no numbers", name)
			}
			section, _, _ = strings.Cut(section, "</section>")
			var got []string
			for _, m := range cells.FindAllStringSubmatch(section, -1) {
				if c := plainText(m[1]); c != "" {
					got = append(got, c)
				}
			}
			slices.Sort(got)
			out := b.run("predict", "--hookup", name, "--mains", at)
			want := tabled(out)
			if len(want) < 40 || !slices.Equal(got, want) {
				t.Errorf("%s at %s mains: the page says\n%q\nthe command\n%q", name, at, got, want)
			}
			for _, o := range regexp.MustCompile(`(?s)<p class="output">(.*?)</p>`).FindAllStringSubmatch(page, -1) {
				for _, n := range regexp.MustCompile(`[0-9][0-9.]*(?: to [0-9.]+)? [mk]?[VA]`).FindAllString(plainText(o[1]), -1) {
					if !slices.Contains(want, n) {
						t.Errorf("%s: %q on the page is not in what the command says", name, n)
					}
				}
			}
		}
	}
}

// The same for what it may be asked for.
func TestLimitsPageSaysWhatLimitsSays(t *testing.T) {
	b := newBoth(t)
	for _, name := range []string{"rope lights", "pier lantern"} {
		page := b.get("/hookups/" + url.PathEscape(name) + "/limits")
		out := b.run("limits", "--hookup", name)
		flat := strings.Join(strings.Fields(out), " ")
		n := 0
		for _, m := range append(cells.FindAllStringSubmatch(page, -1), regexp.MustCompile(`(?s)<dd[^>]*>(.*?)</dd>`).FindAllStringSubmatch(page, -1)...) {
			if c := plainText(m[1]); strings.ContainsAny(c, "0123456789") {
				n++
				if !strings.Contains(flat, c) {
					t.Errorf("%s: %q on the page is not in what the command says\n%s", name, c, out)
				}
			}
		}
		if n < 8 {
			t.Errorf("%s: only %d numbers are on the page", name, n)
		}
	}
}

// Every number of every step of a proof is the command line's: the right
// reading, the wrong ones, and what would follow.
func TestProofPageSaysWhatProveSays(t *testing.T) {
	b := newBoth(t)
	h, err := b.store.Hookup(t.Context(), "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	plan, err := prove.New(network.Compile(s.Only(h)), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	session := plan.Session()
	q, err := b.store.CreateProof(t.Context(), h, s)
	if err != nil {
		t.Fatal(err)
	}
	id := strconv.FormatInt(q.ID, 10)
	numbers, closed := 0, 0
	for n := 0; session.Next() != ""; n++ {
		step := plan.Step(session.Next())
		value := yokemate.AnswerText("")
		switch {
		case step.Measure == nil:
		case step.Right == nil:
			value = "over"
		case step.Measure.Quantity == yokemate.Megohms:
			value = "500"
		default:
			value = yokemate.AnswerText(strconv.FormatFloat(step.Right.Value, 'g', 4, 64))
		}
		// The whole plan is printed anew for one step in three, and where a gap is closed.
		if n%3 == 0 || step.Closes != "" {
			page := b.get("/proofs/" + id + "?step=" + url.QueryEscape(step.ID))
			out := strings.Join(strings.Fields(b.run("prove", "--resume", "--steps", id)), " ")
			_, block, ok := strings.Cut(out, "of "+strconv.Itoa(len(plan.IDs()))+": "+step.ID+" Do ")
			if !ok {
				t.Fatalf("the command prints no step %s", step.ID)
			}
			block, _, _ = strings.Cut(block, " Step ")
			var said []string
			for _, m := range shown.FindAllStringSubmatch(page, -1) {
				said = append(said, plainText(m[2]))
			}
			for _, m := range read.FindAllStringSubmatch(page, -1) {
				said = append(said, plainText(m[1])+": "+plainText(m[2]))
				if m[3] != "" {
					closed++
					said = append(said, plainText(m[3]))
				}
			}
			for _, x := range said {
				numbers++
				if !strings.Contains(block, x) {
					t.Errorf("step %s: %q on the page is not in what the command says\n%s", step.ID, x, block)
				}
			}
			if step.Measure != nil && (len(said) == 0 || len(step.Slips) > 0 && len(said) < 3) {
				t.Errorf("step %s: the page says only %q", step.ID, said)
			}
		}
		if _, err := session.Take(yokemate.Answer{Step: step.ID, Value: value}); err != nil {
			t.Fatal(err)
		}
		b.post("/proofs/"+id+"/readings", url.Values{"count": {strconv.Itoa(n)}, "step": {step.ID}, "value": {string(value)}})
	}
	if session.State() != yokemate.ProofGood {
		t.Fatalf("the proof is %s", session.State())
	}
	if numbers < 30 || closed < 3 {
		t.Errorf("only %d texts were compared, %d of them consequences", numbers, closed)
	}
}

// The browser's paper is the command's, byte for byte.
func TestPaperIsTheSame(t *testing.T) {
	b := newBoth(t)
	for i, x := range []struct {
		at   string
		args []string
	}{
		{"/hookups/rope%20lights/paper/sheet.pdf?page=a4", []string{"sheet", "--hookup", "rope lights"}},
		{"/hookups/odd%20pair/paper/sheet.pdf?page=letter&ink=greys&who=R.+V.", []string{"sheet", "--hookup", "odd pair", "--paper", "Letter", "--greys", "--who", "R. V."}},
		{"/proofs/2/paper/sheet.pdf?page=a4&ink=colour", []string{"sheet", "--proof", "2"}},
		{"/proofs/1/paper/label.pdf?for=for+lights&not=not+for+charging", []string{"label", "supply", "--proof", "1", "--for", "for lights", "--not-for", "not for charging"}},
		{"/units/F1/paper/label.pdf?rise=41", []string{"label", "unit", "F1", "--rise", "41"}},
		{"/units/F1/paper/label-1.svg?ink=greys&do_not=Keep+dry.", []string{"label", "unit", "F1", "--do-not", "Keep dry.", "--greys"}},
	} {
		file := b.path("paper" + strconv.Itoa(i) + filepath.Ext(strings.Split(x.at, "?")[0]))
		b.run(append(x.args, "-o", file)...)
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.get(x.at); got != string(want) {
			t.Errorf("%s sends %d bytes that are not the %d of %q", x.at, len(got), len(want), x.args)
		}
	}
	// Each page of a sheet as a picture.
	b.run("sheet", "--hookup", "rope lights", "-o", b.path("s.svg"))
	pages, err := filepath.Glob(b.path("s-*.svg"))
	if err != nil || len(pages) < 4 {
		t.Fatal(pages, err)
	}
	page := b.get("/hookups/rope%20lights/paper?page=a4&ink=colour")
	for i := range pages {
		n := strconv.Itoa(i + 1)
		want, err := os.ReadFile(b.path("s-" + n + ".svg"))
		if err != nil {
			t.Fatal(err)
		}
		at := "/hookups/rope%20lights/paper/sheet-" + n + ".svg?ink=colour&page=a4"
		if b.get(at) != string(want) {
			t.Errorf("%s is not page %s of the command", at, n)
		}
		if !strings.Contains(page, `src="`+html.EscapeString(at)+`"`) {
			t.Errorf("page %s is not shown", n)
		}
	}
}

// A shorter sheet leaves no page of a longer one behind, and nothing that is
// not ours is touched.
func TestNoOldPages(t *testing.T) {
	b := newBoth(t)
	sheet := []string{"sheet", "--hookup", "rope lights", "-o", b.path("s.svg"), "--overwrite"}
	b.run(sheet...)
	pages, err := filepath.Glob(b.path("s-*.svg"))
	if err != nil || len(pages) < 4 {
		t.Fatal(pages, err)
	}
	n := len(pages)
	last, err := os.ReadFile(pages[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []struct {
		name string
		data []byte
	}{{"s-" + strconv.Itoa(n+1) + ".svg", last}, {"s-" + strconv.Itoa(n+2) + ".svg", []byte("<svg>a drawing of somebody's own</svg>")}} {
		if err := os.WriteFile(b.path(f.name), f.data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b.run(sheet...)
	if _, err := os.Stat(b.path("s-" + strconv.Itoa(n+1) + ".svg")); !os.IsNotExist(err) {
		t.Errorf("an old page is left: %v", err)
	}
	if _, err := os.Stat(b.path("s-" + strconv.Itoa(n+2) + ".svg")); err != nil {
		t.Errorf("a drawing that is not ours is gone: %v", err)
	}
}

// What a sheet's codes hold comes back by the browser as by the command, and
// into an empty store, where it makes the same sheet.
func TestRestoreByBrowser(t *testing.T) {
	b := newBoth(t)
	b.run("sheet", "--proof", "1", "-o", b.path("s.svg"))
	pages, err := filepath.Glob(b.path("s-*.svg"))
	if err != nil {
		t.Fatal(err)
	}
	last, err := os.ReadFile(b.path("s-" + strconv.Itoa(len(pages)) + ".svg"))
	if err != nil {
		t.Fatal(err)
	}
	parts := regexp.MustCompile(`YM1/[0-9]+/[0-9]+/[0-9A-F]+/[A-Z2-7]+`).FindAllString(string(last), -1)
	slices.Sort(parts)
	text := strings.Join(slices.Compact(parts), "\n")
	if err := os.WriteFile(b.path("codes.txt"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	b.run("restore", b.path("codes.txt"), "-o", b.path("back"))
	for _, kind := range []string{"hookup", "answers", "shelf"} {
		want, err := os.ReadFile(b.path("back-" + kind + ".json"))
		if err != nil {
			t.Fatal(err)
		}
		if got := b.post("/paper/record", url.Values{"text": {text}, "get": {kind}}); got != string(want) {
			t.Errorf("the %s is not what the command restores", kind)
		}
	}
	empty := &both{t: t, dir: t.TempDir()}
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: empty.path("bench.db"), Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	w, err := web.New(web.Config{Store: s})
	if err != nil {
		t.Fatal(err)
	}
	empty.server = httptest.NewServer(w.Home())
	defer empty.server.Close()
	if page := empty.post("/paper/record", url.Values{"text": {text}}); !strings.Contains(page, "rope lights") {
		t.Errorf("it does not say what it holds\n%s", page)
	}
	for range 2 { // taken twice, it is there once
		if page := empty.post("/paper/record", url.Values{"text": {text}, "get": {"store"}}); !strings.Contains(page, "Record of proof 1") {
			t.Errorf("it does not lead to the record\n%s", page)
		}
	}
	all, err := s.Proofs(t.Context())
	if err != nil || len(all) != 1 {
		t.Fatalf("%d proofs, %v", len(all), err)
	}
	was, err := b.store.Proof(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(all[0].Answers) != len(was.Answers) || all[0].State != was.State {
		t.Errorf("%d answers, %s; not %d, %s", len(all[0].Answers), all[0].State, len(was.Answers), was.State)
	}
	res, err := http.PostForm(empty.server.URL+"/paper/record", url.Values{"text": {"YM1/1/2/00000000/AAAA"}})
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	if err := res.Body.Close(); err != nil {
		t.Fatal(err)
	}
	if err != nil || res.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(string(body), "part 2 of 2 is missing") || !strings.Contains(string(body), "YM1/1/2/00000000/AAAA") {
		t.Errorf("%s, %v\n%s", res.Status, err, body)
	}
}
