package lang

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "add the patterns that are missing to en.txt and de.txt, there without a translation")

// unshownAt are places whose words no reader of a page or sheet meets, each with
// its reason. A place is a file; behind a colon, the beginning of a pattern.
var unshownAt = map[string]string{
	"phys/waveform/circuit.go":        "a circuit is built by packages of ours: what these refuse is a fault of theirs",
	"si/units.go:sq":                  "a spelling of a unit that is read, not said",
	"si/units.go:deg ":                "a spelling of a unit that is read, not said",
	"si/units.go:per cent":            "a spelling of a unit that is read, not said",
	"identify/excite.go:saturation b": "the name of an unknown in the adjustment",
	"identify/excite.go:power before": "the name of an unknown in the adjustment",
	"identify/facts.go:before volts":  "the name of an unknown in the adjustment",
	"identify/facts.go:drop of a":     "the name of an unknown in the adjustment",
	"identify/next.go:order ":         "the key of a question",
	"identify/readings.go:gain ":      "the name of an unknown in the adjustment",
	"identify/readings.go:own ":       "the name of an unknown in the adjustment",
	"identify/readings.go:leads %s":   "the name of an unknown in the adjustment",
	"identify/readings.go:contact ":   "the name of an unknown in the adjustment",
	"identify/readings.go:unwritten":  "the name of an unknown in the adjustment",
	"identify/readings.go:thermomet":  "the name of an unknown in the adjustment",
	"identify/volts.go:source %s":     "the name of an unknown in the adjustment",
	"identify/volts.go:gain ":         "the name of an unknown in the adjustment",
	"identify/volts.go:own source":    "the name of an unknown in the adjustment",
	"identify/volts.go:turn ":         "the name of an unknown in the adjustment",
	"internal/sqlite/photo.go:doc, ":  "columns of a table",
	"internal/teach/page.go:default-": "a policy for the browser",
	"internal/teach/page.go:root":     "a style",
	"internal/teach/page.go:@media":   "a style",
	"internal/web/web.go:default-src": "a policy for the browser",
	"internal/web/lang.go:Accept-":    "a header",
}

// unshown reports whether a pattern is excluded.
func (s source) unshown() bool {
	for at := range unshownAt {
		file, begins, _ := strings.Cut(at, ":")
		if strings.HasPrefix(s.at, file) && strings.HasPrefix(s.pattern, begins) {
			return true
		}
	}
	return false
}

// glued matches a value that stands at a word without a space.
var glued = regexp.MustCompile(`([\p{L}.)])%s|^%s(\p{L})`)

// Every sentence and phrase in the source of a package that is shown can be
// said in every language.
func TestSources(t *testing.T) {
	de := Get("de")
	missing := map[string]bool{}
	used := map[string]bool{}
	all := sources(t)
	for _, s := range all { // what is put on at a word's end or start may be nothing
		if p := glued.ReplaceAllString(s.pattern, "$1$2"); p != s.pattern && !strings.Contains(p, "%[") {
			all = append(all, source{p, s.at, s.said})
		}
	}
	for _, s := range all {
		if !s.wordy() {
			continue
		}
		for at := range unshownAt {
			file, begins, _ := strings.Cut(at, ":")
			used[at] = used[at] || strings.HasPrefix(s.at, file) && strings.HasPrefix(s.pattern, begins)
		}
		if s.unshown() || missing[s.pattern] {
			continue
		}
		known := de.catalogue.exact[s.pattern] != nil
		if !known && !(s.said && strings.Count(s.pattern, "%") > 1) { // what is said with values may want them in another order
			x := sample(s.pattern)
			known = len(de.Unknown(x)) == 0 && !slices.Contains(strings.Fields(de.Text(x)), "a") // one letter is no word, but no German one either
		}
		if !known {
			missing[s.pattern] = true
			t.Errorf("%s: %q cannot be said in every language", s.at, s.pattern)
		}
	}
	for at := range unshownAt {
		if !used[at] {
			t.Errorf("nothing stands at %s that would have to be excluded", at)
		}
	}
	if *update {
		rewrite(t, slices.Collect(maps.Keys(missing)), nil)
	}
}

// rewrite puts patterns into both catalogues, takes others out, and orders them
// by their words.
func rewrite(t *testing.T, missing, dead []string) {
	t.Helper()
	file := func(name string) string {
		b, err := os.ReadFile(name) // another test may have written it
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	german := map[string]string{}
	untold := strings.ReplaceAll(file("de.txt"), "\n\t\n", "\n\t?\n")
	for _, p := range mustPairs(untold) {
		german[p.english] = strings.TrimPrefix(p.other, "?")
	}
	english := slices.DeleteFunc(mustPatterns(file("en.txt")), func(p string) bool { return slices.Contains(dead, p) })
	for _, p := range missing {
		if err := proper(p); err != nil {
			t.Error(err)
			continue
		}
		english = append(english, p)
	}
	slices.SortFunc(english, inOrder)
	var en, de strings.Builder
	en.WriteString(remarks(read("en.txt")))
	de.WriteString(remarks(read("de.txt")))
	for _, p := range english {
		en.WriteString(p + "\n")
		de.WriteString(p + "\n\t" + german[p] + "\n")
	}
	for name, text := range map[string]string{"en.txt": en.String(), "de.txt": de.String()} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// inOrder sorts patterns by their letters, small before capital.
func inOrder(a, b string) int {
	if c := strings.Compare(strings.ToLower(a), strings.ToLower(b)); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

// remarks are the lines before the first pattern.
func remarks(text string) string {
	var b strings.Builder
	for _, line := range lines(text) {
		if line != "" && line[0] != '#' {
			break
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}

// All catalogues have the same patterns, in the same order, with the same
// verbs; and no rule for American English is left without a use.
func TestSamePatterns(t *testing.T) {
	english := mustPatterns(read("en.txt"))
	if !slices.IsSortedFunc(english, inOrder) {
		t.Error("en.txt is not in order: run with -update")
	}
	var german []string
	for _, p := range mustPairs(read("de.txt")) { // same verbs are checked there
		german = append(german, p.english)
	}
	if !slices.Equal(english, german) {
		for _, p := range english {
			if !slices.Contains(german, p) {
				t.Errorf("de.txt lacks %q", p)
			}
		}
		for _, p := range german {
			if !slices.Contains(english, p) {
				t.Errorf("en.txt lacks %q", p)
			}
		}
		t.Error("en.txt and de.txt have not the same patterns in the same order")
	}
	rules := mustPairs(read("us.txt"))
	for _, r := range rules {
		if !slices.ContainsFunc(english, func(p string) bool { return spell(p, []pair{r}) != p }) {
			t.Errorf("us.txt: no pattern has %q", r.english)
		}
	}
	us, err := american(english, read("us.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range us {
		if err := sameVerbs(p.english, p.other); err != nil {
			t.Error(err)
		}
	}
}

// American English is spelled so, and a word in another's place has the article
// that its sound wants.
func TestAmericanSpelling(t *testing.T) {
	keys := strings.NewReplacer(`half, centre-tap or`, "") // a word of the files
	british := regexp.MustCompile(`(?i)\w*(colour|favour|honour|behaviour|neighbour|centre|metre\b|litre|\bgrey|labell|modell|cancell|catalogue|aluminium|programme|defence|licence)\w*|\w+is(e|ed|es|ing|ation)\b`)
	same := regexp.MustCompile(`(?i)(r|no|ra|w|preci|promi|advi|compri|exerci|surpri|supervi|revi|otherw)ise`) // as in any English
	article := regexp.MustCompile(`(?i)\b(a [aeiou]|an [bcdfgjklpqrtvwyz])\w*`)
	rules := mustPairs(read("us.txt"))
	us, err := american(mustPatterns(read("en.txt")), read("us.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range us {
		for _, w := range british.FindAllString(keys.Replace(p.other), -1) {
			if !same.MatchString(w) {
				t.Errorf("us.txt wants %q, of %q", w, p.english)
			}
		}
		for _, w := range article.FindAllString(p.other, -1) {
			if !strings.Contains(p.english, w) {
				t.Errorf("%q in %q", w, p.other)
			}
		}
	}
	if got := spell("an earth-leakage trip", rules); got != "a ground-fault circuit interrupter" {
		t.Errorf("%q", got)
	}
}

// A sentence made from a pattern becomes the translation with the same values,
// and no other pattern takes it: whatever the values are.
func TestRoundTrip(t *testing.T) {
	for _, l := range All() {
		if l.Plain() {
			continue
		}
		for _, p := range mustPatterns(read("en.txt")) {
			x := l.catalogue.exact[p]
			want := made(t, x.raw, p, l)
			if got := l.Text(sample(p)); got != want {
				t.Errorf("%s: %q\n got %q\nwant %q", l.Tag, sample(p), got, want)
			}
		}
	}
}

// made is the translation of a pattern with the values of its sample.
func made(t *testing.T, raw, english string, l *Language) string {
	t.Helper()
	s := search{c: l.catalogue, l: l, left: budget, found: map[string]result{}}
	parts, err := split(raw)
	if err != nil {
		t.Fatal(err)
	}
	in, err := split(english)
	if err != nil {
		t.Fatal(err)
	}
	values := map[int]string{}
	for _, q := range in {
		if q.verb == 0 {
			continue
		}
		v := sample(fmt.Sprintf("%%[%d]%c", q.arg+1, q.verb))
		switch q.verb {
		case 'd':
			v = s.decimal(v)
		case 'q':
			v = s.quoted(v)
		default:
			v = s.numbers(v)
		}
		values[q.arg] = v
	}
	var b strings.Builder
	for _, q := range parts {
		if q.verb == 0 {
			b.WriteString(q.text)
		} else {
			b.WriteString(values[q.arg])
		}
	}
	return b.String()
}
