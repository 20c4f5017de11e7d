package teach

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/jba/templatecheck"
	"golang.org/x/net/html"

	"yokemate"
	"yokemate/examples"
	"yokemate/phys/network"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
)

// decode reads one of the example shelves and hookups.
func decode(shelf, hookup string) (*yokemate.Shelf, *yokemate.Hookup, error) {
	a, err := examples.Files.ReadFile(shelf)
	if err != nil {
		return nil, nil, err
	}
	b, err := examples.Files.ReadFile(hookup)
	if err != nil {
		return nil, nil, err
	}
	s, err := yokemate.DecodeShelf(a)
	if err != nil {
		return nil, nil, err
	}
	h, err := yokemate.DecodeHookup(b)
	return s, h, err
}

func load(t testing.TB, shelf, hookup string) (*yokemate.Shelf, *yokemate.Hookup) {
	t.Helper()
	s, h, err := decode(shelf, hookup)
	if err != nil {
		t.Fatal(err)
	}
	return s, h
}

func ropeLights(t testing.TB) (*yokemate.Shelf, *yokemate.Hookup) {
	return load(t, "shelf-fernhollow.json", "hookup-rope-lights.json")
}

// whole is the lesson of the rope lights with all its wirings, worked out once.
var whole = sync.OnceValues(func() (*Lesson, error) {
	s, h, err := decode("shelf-fernhollow.json", "hookup-rope-lights.json")
	if err != nil {
		return nil, err
	}
	return New(s, h, Options{})
})

// wholePage is its page.
func wholePage(t *testing.T) (*Lesson, []byte) {
	t.Helper()
	l, err := whole()
	if err != nil {
		t.Fatal(err)
	}
	text, err := l.HTML()
	if err != nil {
		t.Fatal(err)
	}
	return l, text
}

// split is one unit whose mains coils, and whose secondaries, are in parallel.
func split(t testing.TB) (*yokemate.Shelf, *yokemate.Hookup) {
	s, _ := ropeLights(t)
	h, err := yokemate.DecodeHookup([]byte(`{"format": "yokemate-hookup/1", "name": "half mains",
 "feed": {"volts": 115, "low": 104, "high": 127, "hertz": 50, "live": "L", "neutral": "N", "fuse_amps": 0.5, "fuse_kind": "T"},
 "joints": {"L": ["F3.1", "F3.3"], "N": ["F3.2", "F3.4"], "A": ["F3.5"], "B": ["F3.6"], "E": ["F3.core"]}, "earth": "E",
 "outputs": [{"name": "out", "from": "A", "to": "B", "load": {"amps": 0.2, "power_factor": 0.8}}]}`))
	if err != nil {
		t.Fatal(err)
	}
	return s, h
}

// reader is a page as a reader of the file has it: what its table says by source
// and key, and the leads that its controls move.
type reader struct {
	text   string
	rows   []map[string][]string // cells, the wiring's words first
	leads  []string
	sides  []string
	inside map[string]string // scripts, styles and the policy, by what they are
}

func read(t testing.TB, text []byte) *reader {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	x := &reader{text: string(text), inside: map[string]string{}}
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch {
		case n.Data == "table":
			x.rows = append(x.rows, map[string][]string{})
		case n.Data == "tr" && attr(n, "data-k") != "":
			var cells []string
			for c := range n.ChildNodes() {
				if c.Type == html.ElementNode {
					cells = append(cells, strings.Join(strings.Fields(within(c)), " "))
				}
			}
			x.rows[len(x.rows)-1][attr(n, "data-k")] = cells
		case n.Data == "button" && attr(n, "class") == "pin":
			x.leads = append(x.leads, strings.Fields(within(n))[0])
			x.sides = append(x.sides, attr(n, "data-side"))
		case n.Data == "script":
			x.inside["script "+attr(n, "type")] += within(n)
		case n.Data == "style":
			x.inside["style"] += within(n)
		case n.Data == "meta" && attr(n, "http-equiv") == "Content-Security-Policy":
			x.inside["policy"] = attr(n, "content")
		}
	}
	return x
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func within(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
		}
	}
	return b.String()
}

// shown is a figure as the page shows it: three digits, or nothing where a bench
// meter shows nothing (0.5 mV, 50 µA; common practice, no source).
func shown(v float64, unit string) string {
	if unit == "V" && v < 0.0005 || unit == "A" && v < 0.00005 {
		return "about 0 " + unit
	}
	return si.Format(v, unit, 3)
}

// Every row's figures are those of package predict, to the digit shown, for a
// wiring that the test makes from the key by itself.
func TestNumbers(t *testing.T) {
	for name, give := range map[string]func(testing.TB) (*yokemate.Shelf, *yokemate.Hookup){
		"across a gap": ropeLights, "across the output": func(t testing.TB) (*yokemate.Shelf, *yokemate.Hookup) {
			return load(t, "shelf-tern-point.json", "hookup-lantern.json")
		}, "mains coils": split,
	} {
		t.Run(name, func(t *testing.T) {
			s, h := give(t)
			l, err := New(s, h, Options{Most: 20})
			if name == "across a gap" {
				l, err = whole()
			}
			if err != nil {
				t.Fatal(err)
			}
			text, err := l.HTML()
			if err != nil {
				t.Fatal(err)
			}
			x := read(t, text)
			if len(x.rows) != 2 || len(x.rows[0]) < 20 || len(x.rows[1]) != len(x.rows[0]) {
				t.Fatalf("%d tables, %d rows", len(x.rows), len(x.rows[0]))
			}
			facts := network.Compile(s.Only(h))
			ohms := math.NaN() // of the only output's load
			if p, err := predict.Hookup(facts, h, yokemate.Nominal, predict.Options{Brief: true}); err != nil {
				t.Fatal(err)
			} else if load := h.Outputs[0].Load; load.Amps > 0 {
				ohms = p.Outputs[0].Volts / load.Amps // the impedance that draws its amps
			}
			for source, rows := range x.rows {
				for key, cells := range rows {
					open, closed, apart := wire(t, h, l, x.leads, key)
					for _, v := range []*yokemate.Hookup{open, closed, apart} {
						if source == 1 {
							f := &v.Feed[0] // 12 V behind 2 Ω and 250 mA, as in a proof's trials
							*f = yokemate.Feed{Volts: yokemate.Num(12), Low: 10.2, High: 15, Hertz: f.Hertz, Live: f.Live, Neutral: f.Neutral, Ohms: 2, FuseAmps: 0.25, FuseKind: "T"}
						}
					}
					switch load := closed.Outputs[0].Load; {
					case source == 1:
						closed.Outputs[0].Load = nil
					case load.Amps > 0 && load.PowerFactor == nil:
						*load = yokemate.Load{Ohms: ohms}
					case load.Amps > 0: // 0.8: the angle whose sine is 0.6
						*load = yokemate.Load{Ohms: 0.8 * ohms, Henries: 0.6 * ohms / (2 * math.Pi * h.Feed[0].Hertz)}
					}
					p, err := predict.Hookup(facts, open, yokemate.Nominal, predict.Options{})
					if err != nil {
						t.Fatal(err)
					}
					q, err := predict.Hookup(facts, closed, yokemate.Nominal, predict.Options{Brief: true})
					if err != nil {
						t.Fatal(err)
					}
					m := p.Meters[0]
					want := []string{shown(m.Volts, "V") + " " + si.FormatInterval(m.Low, m.High, "V"), shown(p.Outputs[0].Volts, "V"), shown(p.Feed[0].Amps, "A"),
						shown(q.Outputs[0].Volts, "V"), shown(q.Feed[0].Amps, "A")}
					if got := cells[1:6]; !slices.Equal(got, want) {
						t.Errorf("source %d, %s: the page has %q, predict has %q", source, key, got, want)
					}
					used := 0.0
					for _, w := range q.Windings {
						used = max(used, w.Amps / *w.LimitAmps)
					}
					if want := strconv.FormatFloat(100*used, 'f', 0, 64) + " %"; !strings.HasSuffix(cells[6], " "+want) {
						t.Errorf("source %d, %s: %q, not %q", source, key, cells[6], want)
					}
					if apart.Joints.Joint(l.Last.Open) == nil {
						continue // nothing is closed
					}
					c, _, err := predict.Closed(facts, apart, network.Options{}, l.Last.Joint, l.Last.Open)
					if err != nil {
						t.Fatal(err)
					}
					opens := map[string]bool{"yes": strings.Contains(cells[7], "The fuse opens after"), "unsure": strings.Contains(cells[7], "The fuse may open too late."),
						"no": !strings.Contains(cells[7], "fuse") || strings.Contains(cells[7], "The fuse does not open.")}
					if !opens[c.FuseOpens] {
						t.Errorf("source %d, %s: the engine says %q of the fuse, the page %q", source, key, c.FuseOpens, cells[7])
					}
					if hot := strings.Contains(cells[7], "A winding is too hot after "); hot != (c.LimitS != nil) || hot && !strings.Contains(cells[7], "after "+si.Format(*c.LimitS, "s", 2)+".") {
						t.Errorf("source %d, %s: the engine's winding is too hot after %v s, the page says %q", source, key, c.LimitS, cells[7])
					}
				}
			}
		})
	}
}

// wire makes the wiring of a key from the file's words alone: the nth letter
// says which joint the nth lead's pin is in, a letter for each joint in the
// order in which the leads are at home.
func wire(t *testing.T, h *yokemate.Hookup, l *Lesson, leads []string, key string) (open, closed, apart *yokemate.Hookup) {
	t.Helper()
	base := h.Clone()
	if l.Last.Gap() { // the last lead of the last joint stands apart
		j := base.Joints.Joint(l.Last.Joint)
		n := len(j.Pins) - 1
		base.Joints = append(base.Joints, yokemate.Joint{Name: l.Last.Open, Pins: []string{j.Pins[n]}})
		j = base.Joints.Joint(l.Last.Joint)
		j.Pins = j.Pins[:n:n]
	}
	var names []string
	for _, p := range leads {
		if at := base.Joints.Of(p); !slices.Contains(names, at) {
			names = append(names, at)
		}
	}
	for i := range base.Joints {
		base.Joints[i].Pins = slices.DeleteFunc(base.Joints[i].Pins, func(p string) bool { return slices.Contains(leads, p) })
	}
	for i, p := range leads {
		if key[i] != '-' {
			j := base.Joints.Joint(names[key[i]-'a'])
			j.Pins = append(j.Pins, p)
		}
	}
	open, closed = base.Clone(), base.Clone()
	open.Outputs[0].Load = nil
	open.Meters = []yokemate.MeterPoint{{Name: "m", From: open.Outputs[0].From, To: open.Outputs[0].To}}
	if !l.Last.Gap() {
		apart = open.Clone()
		if j := apart.Joints.Joint(l.Last.Joint); j != nil && len(j.Pins) > 1 {
			last := j.Pins[len(j.Pins)-1]
			j.Pins = j.Pins[:len(j.Pins)-1]
			apart.Joints = append(apart.Joints, yokemate.Joint{Name: l.Last.Open, Pins: []string{last}})
		}
		return open, closed, apart
	}
	open.Meters[0].From, open.Meters[0].To = l.Last.Joint, l.Last.Open
	j := closed.Joints.Joint(l.Last.Joint)
	j.Pins = append(j.Pins, closed.Joints.Joint(l.Last.Open).Pins...)
	closed.Joints = slices.DeleteFunc(closed.Joints, func(x yokemate.Joint) bool { return x.Name == l.Last.Open })
	return open, closed, open.Clone()
}

// What the page's controls can be brought to, from the right wiring on, is in
// the table, all of it; every way to turn windings round is; and from the right
// wiring and each with one winding turned, every single move is offered.
func TestReachable(t *testing.T) {
	_, text := wholePage(t)
	x := read(t, text)
	rows := x.rows[0]
	right := ""
	for key, cells := range rows {
		if cells[0] == "as it should be" {
			right += key
		}
	}
	if right != "abcdabce" {
		t.Fatalf("the right wiring is %q", right)
	}
	// The controls: two leads of one side changed over, where the table has it; a
	// lead off, where the table has it; a lead that is off back.
	type step struct {
		to      string
		offered bool
	}
	steps := func(key string) []step {
		var all []step
		add := func(to string) {
			_, ok := rows[to]
			all = append(all, step{to, ok})
		}
		for i := range key {
			for j := range i {
				if x.sides[i] == x.sides[j] && key[i] != key[j] {
					b := []byte(key)
					b[i], b[j] = b[j], b[i]
					add(string(b))
				}
			}
			if key[i] != '-' {
				add(key[:i] + "-" + key[i+1:])
				continue
			}
			rest := right
			for _, c := range key {
				rest = strings.Replace(rest, string(c), "", 1)
			}
			back := key[:i] + rest + key[i+1:]
			if _, ok := rows[back]; !ok {
				t.Errorf("%s: the lead that is off cannot go back: %s is not in the table", key, back)
			}
			add(back)
		}
		return all
	}
	seen := map[string]bool{right: true}
	for todo := []string{right}; len(todo) > 0; todo = todo[1:] {
		for _, y := range steps(todo[0]) {
			if y.offered && !seen[y.to] {
				seen[y.to] = true
				todo = append(todo, y.to)
			}
		}
	}
	if len(seen) != len(rows) {
		t.Errorf("%d of %d rows can be reached", len(seen), len(rows))
	}
	// Windings are pairs of neighbouring leads here: two units, P and A each.
	for which := range 1 << 4 {
		b := []byte(right)
		for w := range 4 {
			if which>>w&1 == 1 {
				b[2*w], b[2*w+1] = b[2*w+1], b[2*w]
			}
		}
		if rows[string(b)] == nil {
			t.Errorf("turning windings %04b round is not in the table", which)
		}
		if strings.Count(fmt.Sprintf("%b", which), "1") > 1 {
			continue
		}
		for _, y := range steps(string(b)) {
			// Off the two ends of the gap, and so its lead alone in its joint, no lead goes.
			lone := strings.Contains(y.to, "-") && (!strings.Contains(y.to, "d") || !strings.Contains(y.to, "e"))
			if y.offered == lone {
				t.Errorf("from %s to %s: offered is %v", b, y.to, y.offered)
			}
		}
	}
}

// The page says of a reversed winding what the proof says of that slip: the gap
// reading, and what closing on it does.
func TestAsTheProof(t *testing.T) {
	s, h := ropeLights(t)
	l, _ := wholePage(t)
	plan, err := prove.New(network.Compile(s.Only(h)), h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	proof, err := plan.Proof()
	if err != nil {
		t.Fatal(err)
	}
	gap := proof.Steps[slices.IndexFunc(proof.Steps, func(s yokemate.Step) bool { return s.ID == "gap-B" })]
	checked := 0
	for _, z := range gap.Slips {
		name, ok := strings.CutPrefix(z.Code, "reversed:")
		if !ok {
			continue
		}
		i := slices.IndexFunc(l.Wirings, func(w Wiring) bool {
			return len(w.Change.Turned) == 1 && w.Change.Turned[0] == name && w.Change.moves() == 1
		})
		x := &l.Wirings[i].States[0]
		// The proof's socket is uncertain, which moves no middle value: three digits.
		if a, b := si.Format(x.Open.Meter.Value, "V", 3), si.Format(z.Value, "V", 3); a != b {
			t.Errorf("%s reads %s on the page and %s in the proof", name, a, b)
		}
		if a, b := x.Follows, z.IfClosed; a.FuseOpens != b.FuseOpens || math.Abs(a.WindingAmps/b.WindingAmps-1) > 1e-3 || math.Abs(a.FeedAmps/b.FeedAmps-1) > 1e-3 {
			t.Errorf("%s: closed, the page has %+v and the proof %+v", name, a, b)
		}
		checked++
	}
	if checked != 4 {
		t.Errorf("%d reversed windings were compared, not 4", checked)
	}
}

// The gap reads the difference of the volts when right and their sum when one
// winding is turned: phasors in line, closed form. The exciting currents turn
// them by a degree or so and the mains are 230 of the 231.8 V that the volts were
// read at: 1 % and, of the small difference, a third.
func TestGapClosedForm(t *testing.T) {
	l, _ := wholePage(t)
	a, b := 14.66*230/231.8, 14.76*230/231.8 // of the shelf's file
	near := func(what string, got, want, part float64) {
		if math.Abs(got-want) > part*want {
			t.Errorf("%s: %.4g V, not %.4g", what, got, want)
		}
	}
	near("right", l.Wirings[0].States[0].Open.Meter.Value, b-a, 0.34)
	near("right, low source", l.Wirings[0].States[1].Open.Meter.Value, (b-a)*12/230, 0.34)
	for i := range l.Wirings {
		w := &l.Wirings[i]
		if w.Change.Off != "" || w.Change.Over != nil {
			continue
		}
		v, want := w.States[0].Verdict, Works
		if len(w.Change.Turned)%2 == 1 {
			near(w.Key, w.States[0].Open.Meter.Value, a+b, 0.01)
			want = Harmful
		}
		if v != want {
			t.Errorf("%v turned round: verdict %d, not %d", w.Change.Turned, v, want)
		}
	}
}

// The two coils of a mains side are its last gap where nothing else closes a
// loop, and one turned round on the mains does harm.
func TestMainsCoils(t *testing.T) {
	s, h := split(t)
	l, err := New(s, h, Options{Most: 1})
	if err != nil {
		t.Fatal(err)
	}
	if !l.Last.Gap() || l.Last.Joint != "N" {
		t.Fatalf("the last joint is %+v", l.Last)
	}
	for i := range l.Wirings {
		w := &l.Wirings[i]
		if w.Change.moves() != 1 || w.Change.Turned == nil {
			continue
		}
		want := Harmful
		if w.Change.Turned[0] == "F3/A" {
			want = Works // a lone secondary has no wrong way round
		}
		if w.States[0].Verdict != want {
			t.Errorf("%v turned round: verdict %d", w.Change.Turned, w.States[0].Verdict)
		}
	}
}

// A hookup whose right wiring must not be powered says so.
func TestForbidden(t *testing.T) {
	s, h := load(t, "shelf-fernhollow.json", "hookup-odd-pair.json")
	text, err := Build(s, h, Options{Most: 1})
	if err != nil {
		t.Fatal(err)
	}
	if x := read(t, text); !strings.Contains(x.text, "Do not wire it") || len(x.rows[0]) != 16 {
		t.Errorf("a forbidden hookup is not told so, or %d wirings are not all ways to turn four windings", len(x.rows[0]))
	}
	s, h = ropeLights(t)
	if text, err = Build(s, h, Options{Most: 1}); err != nil || bytes.Contains(text, []byte("Do not wire it")) {
		t.Errorf("a good hookup is forbidden: %v", err)
	}
}

// The file asks for nothing from anywhere, runs nothing but its own script by
// its hash, and is small enough to send by mail.
func TestSelfContained(t *testing.T) {
	_, text := wholePage(t)
	x := read(t, text)
	sum := func(text string) string {
		h := sha256.Sum256([]byte(text))
		return "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"
	}
	want := "default-src 'none'; style-src " + sum(x.inside["style"]) + "; script-src " + sum(x.inside["script "]) + "; img-src data:; base-uri 'none'; form-action 'none'"
	if got := x.inside["policy"]; got != want || len(x.inside["script "]) < 1000 || len(x.inside["style"]) < 1000 {
		t.Errorf("the policy is\n%s\nnot\n%s", got, want)
	}
	z := html.NewTokenizer(bytes.NewReader(text))
	for z.Next() != html.ErrorToken {
		for _, a := range z.Token().Attr {
			switch {
			case a.Key == "style" || strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "srcset":
				t.Errorf("an attribute %s=%q", a.Key, a.Val)
			case a.Key == "href" && a.Val != "data:," && a.Val != "#drawing":
				t.Errorf("a link to %q", a.Val)
			}
		}
	}
	for _, never := range []string{"url(", "@import", "fetch(", "XMLHttpRequest", "import(", "eval("} {
		if strings.Contains(x.text, never) {
			t.Errorf("the file holds %q", never)
		}
	}
	if len(text) > 400_000 {
		t.Errorf("%d bytes, more than 400 000", len(text))
	}
	t.Logf("%d bytes, %d wirings", len(text), len(x.rows[0]))
	if _, again := wholePage(t); !bytes.Equal(text, again) {
		t.Error("a second run gives other bytes")
	}
}

// Names are words and nothing else, wherever they stand.
func TestHostileNames(t *testing.T) {
	s, h := ropeLights(t)
	bad := `</script><script>alert(1)</script><!--`
	h.Name = bad
	for i := range h.Joints {
		if h.Joints[i].Name == "A" {
			h.Joints[i].Name = strings.ReplaceAll(bad, "/", "")
		}
	}
	h.Outputs[0].Name, h.Outputs[0].From = bad, strings.ReplaceAll(bad, "/", "")
	text, err := Build(s, h, Options{Most: 1})
	if err != nil {
		t.Fatal(err)
	}
	x := read(t, text)
	if len(x.inside) != 5 || strings.Contains(x.inside["script "], "alert(1)") || strings.Count(x.text, "<script") != 3 {
		t.Errorf("a name became markup: %d script elements", strings.Count(x.text, "<script"))
	}
	if len(x.rows) != 2 || len(x.rows[0]) != 16 {
		t.Error("the table is broken by a name")
	}
}

// The template fits the Go type that it is shown with.
func TestTemplate(t *testing.T) {
	if err := templatecheck.CheckHTML(page, sheet{}); err != nil {
		t.Error(err)
	}
}

// What has no page says why.
func TestRefused(t *testing.T) {
	s, h := ropeLights(t)
	bare := h.Clone()
	bare.Outputs = nil
	for what, err := range map[string]error{
		"without an output": Check(s, bare, Options{}), "on 60 V": Check(s, h, Options{Trial: 60}),
	} {
		if code := yokemate.ErrorCode(err); err == nil || code == yokemate.Internal {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := Check(s, h, Options{}); err != nil {
		t.Error(err)
	}
}
