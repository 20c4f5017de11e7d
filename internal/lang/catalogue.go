package lang

import (
	"bufio"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// pair is a pattern and its translation.
type pair struct{ english, other string }

// patterns reads en.txt: one pattern a line, in order, none twice. Lines that
// begin with # are remarks.
func patterns(text string) ([]string, error) {
	var all []string
	seen := map[string]bool{}
	for n, line := range lines(text) {
		if line == "" || line[0] == '#' {
			continue
		}
		if err := proper(line); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if seen[line] {
			return nil, fmt.Errorf("line %d: %q stands twice", n, line)
		}
		seen[line] = true
		all = append(all, line)
	}
	return all, nil
}

// pairs reads a translation: each pattern on a line, its translation on the
// next one behind a tab.
func pairs(text string) ([]pair, error) {
	var all []pair
	seen := map[string]bool{}
	english, begun := "", 0
	for n, line := range lines(text) {
		switch {
		case line == "" || line[0] == '#':
			if english != "" {
				return nil, fmt.Errorf("line %d: %q has no translation below it", begun, english)
			}
		case line[0] == '\t':
			if english == "" {
				return nil, fmt.Errorf("line %d: a translation without its pattern above", n)
			}
			p := pair{english, line[1:]}
			if p.other == "" || strings.TrimSpace(p.other) != p.other {
				return nil, fmt.Errorf("line %d: the translation of %q is empty or has space about it", n, english)
			}
			if err := sameVerbs(p.english, p.other); err != nil {
				return nil, fmt.Errorf("line %d: %w", n, err)
			}
			all = append(all, p)
			english = ""
		default:
			if english != "" {
				return nil, fmt.Errorf("line %d: %q has no translation below it", begun, english)
			}
			if err := proper(line); err != nil {
				return nil, fmt.Errorf("line %d: %w", n, err)
			}
			if seen[line] {
				return nil, fmt.Errorf("line %d: %q stands twice", n, line)
			}
			seen[line] = true
			english, begun = line, n
		}
	}
	if english != "" {
		return nil, fmt.Errorf("line %d: %q has no translation below it", begun, english)
	}
	return all, nil
}

// lines gives each line with its number from 1.
func lines(text string) func(func(int, string) bool) {
	return func(yield func(int, string) bool) {
		s := bufio.NewScanner(strings.NewReader(text))
		s.Buffer(nil, 1<<20)
		for n := 1; s.Scan(); n++ {
			if !yield(n, s.Text()) {
				return
			}
		}
	}
}

func mustPatterns(text string) []string {
	p, err := patterns(text)
	if err != nil {
		panic("lang: " + err.Error())
	}
	return p
}

func mustPairs(text string) []pair {
	p, err := pairs(text)
	if err != nil {
		panic("lang: " + err.Error())
	}
	return p
}

// proper says what is wrong with a pattern.
func proper(english string) error {
	if strings.TrimSpace(english) != english || strings.Join(strings.Fields(english), " ") != english {
		return fmt.Errorf("%q has space about it or doubled", english)
	}
	parts, err := split(english)
	if err != nil {
		return err
	}
	word := false
	for i, p := range parts {
		if p.verb != 0 && p.arg != verbsBefore(parts, i) {
			return fmt.Errorf("%q takes its verbs out of order", english)
		}
		if p.verb != 0 && i > 0 && parts[i-1].verb != 0 {
			return fmt.Errorf("%q has verbs side by side: nobody can tell the one value from the other", english)
		}
		word = word || p.verb == 0 && strings.ContainsFunc(p.text, unicode.IsLetter)
	}
	if !word {
		return fmt.Errorf("%q has no word of its own", english)
	}
	return nil
}

func verbsBefore(parts []part, i int) int {
	n := 0
	for _, p := range parts[:i] {
		if p.verb != 0 {
			n++
		}
	}
	return n
}

// part of a pattern: words, or a verb and which value it takes, from 0.
type part struct {
	text string
	verb byte
	arg  int
}

// split parts a pattern into words and verbs. Words never stand side by side.
func split(s string) ([]part, error) {
	var parts []part
	var text strings.Builder
	flush := func() {
		if text.Len() > 0 {
			parts = append(parts, part{text: text.String()})
			text.Reset()
		}
	}
	next := 0
	for i := 0; i < len(s); i++ {
		if s[i] != '%' {
			text.WriteByte(s[i])
			continue
		}
		i++
		arg := next
		if i < len(s) && s[i] == '[' {
			end := strings.IndexByte(s[i:], ']')
			if end < 0 {
				return nil, fmt.Errorf("%q has a bracket that is not closed", s)
			}
			n, err := strconv.Atoi(s[i+1 : i+end])
			if err != nil || n < 1 {
				return nil, fmt.Errorf("%q counts its values in another way than %%[1]s", s)
			}
			arg = n - 1
			i += end + 1
		}
		switch {
		case i >= len(s):
			return nil, fmt.Errorf("%q ends in the middle of a verb", s)
		case s[i] == '%':
			text.WriteByte('%')
		case s[i] == 's' || s[i] == 'd' || s[i] == 'q':
			flush()
			parts = append(parts, part{verb: s[i], arg: arg})
			next = arg + 1
		default:
			return nil, fmt.Errorf("%q has the verb %%%c, which is none of %%s %%d %%q", s, s[i])
		}
	}
	flush()
	return parts, nil
}

// sameVerbs reports whether a translation takes each value once, in its kind.
func sameVerbs(english, other string) error {
	e, err := split(english)
	if err != nil {
		return err
	}
	o, err := split(other)
	if err != nil {
		return err
	}
	kinds := map[int]byte{}
	for _, p := range e {
		if p.verb != 0 {
			kinds[p.arg] = p.verb
		}
	}
	for _, p := range o {
		if p.verb == 0 {
			continue
		}
		if kinds[p.arg] != p.verb {
			return fmt.Errorf("%q: value %d is missing in the English, taken twice or of another kind", other, p.arg+1)
		}
		delete(kinds, p.arg)
	}
	if len(kinds) > 0 {
		return fmt.Errorf("%q leaves out a value of %q", other, english)
	}
	return nil
}

// pattern is one of a catalogue, ready to be looked for. Its capital and full
// stop are taken off.
type pattern struct {
	raw     string   // the translation with its verbs
	words   []string // what stands before, between and behind the values
	verbs   []byte
	out     []part
	letters int  // how many its words have
	numbers int  // how many of its values are numbers
	size    int  // how long its words are, with what stands between them [byte]
	several bool // it is more than one sentence by itself
	capital bool // the English begins with a capital because it begins a sentence
	open    int  // the value that ends the English and not the translation, -1 for none
	same    bool // the translation begins with the same word, so it has a capital for the same reason
}

// catalogue is what a language knows.
type catalogue struct {
	exact    map[string]*pattern // by the pattern as written
	whole    map[string]*pattern // without verbs, by its plain form
	byWord   map[string][]*pattern
	unworded []*pattern
}

func newCatalogue(all []pair) *catalogue {
	c := &catalogue{exact: map[string]*pattern{}, whole: map[string]*pattern{}, byWord: map[string][]*pattern{}}
	seldom := map[string]int{}
	var made []*pattern
	for _, x := range all {
		p := newPattern(x)
		c.exact[x.english] = p
		if len(p.verbs) == 0 {
			if c.whole[p.words[0]] == nil {
				c.whole[p.words[0]] = p
			}
			continue
		}
		made = append(made, p)
		for w := range p.ownWords() {
			seldom[w]++
		}
	}
	for _, p := range made {
		best := ""
		for w := range p.ownWords() {
			if best == "" || seldom[w] < seldom[best] || seldom[w] == seldom[best] && (len(w) > len(best) || len(w) == len(best) && w < best) {
				best = w
			}
		}
		if best == "" {
			c.unworded = append(c.unworded, p)
			continue
		}
		c.byWord[best] = append(c.byWord[best], p)
	}
	return c
}

func newPattern(x pair) *pattern {
	in, err := split(x.english)
	if err != nil {
		panic("lang: " + err.Error())
	}
	out, err := split(x.other)
	if err != nil {
		panic("lang: " + err.Error())
	}
	p := &pattern{raw: x.other, words: []string{""}, out: out}
	for _, q := range in {
		if q.verb == 0 {
			p.words[len(p.words)-1] = q.text
			continue
		}
		p.verbs = append(p.verbs, q.verb)
		if q.verb == 'd' {
			p.numbers++
		}
		p.words = append(p.words, "")
	}
	for _, w := range p.words {
		p.size += len(w)
		for _, r := range w {
			if unicode.IsLetter(r) {
				p.letters++
			}
		}
	}
	p.words[0], p.capital = lowered(p.words[0])
	last := &p.words[len(p.words)-1]
	if s, ok := unstopped(*last); ok {
		*last = s
		if end := &p.out[len(p.out)-1]; end.verb == 0 {
			if end.text, _ = unstopped(end.text); end.text == "" {
				p.out = p.out[:len(p.out)-1]
			}
		}
	}
	first := func(s string) string { w, _, _ := strings.Cut(s, " "); return w }
	p.several = several(strings.Join(p.words, ""))
	p.open = -1
	if last := len(p.verbs) - 1; last >= 0 && p.words[last+1] == "" {
		if end := p.out[len(p.out)-1]; end.verb == 0 || end.arg != last {
			p.open = last
		}
	}
	p.same = p.capital && first(x.english) == first(x.other)
	return p
}

// ownWords gives the whole words of a pattern in small letters, those of a
// capital start too.
func (p *pattern) ownWords() map[string]bool {
	own := map[string]bool{}
	for i, text := range p.words {
		// a word that a value touches is not whole
		if i > 0 {
			text = strings.TrimLeftFunc(text, isWord)
		}
		if i < len(p.words)-1 {
			text = strings.TrimRightFunc(text, isWord)
		}
		eachWord(text, func(w string) { own[w] = true })
	}
	return own
}

// isWord reports whether a character belongs to a word.
func isWord(r rune) bool { return unicode.IsLetter(r) || r == '\'' || unicode.IsDigit(r) }

// eachWord calls f for each word of two characters and more, in small letters.
func eachWord(text string, f func(string)) {
	start := -1
	for i, r := range text {
		switch {
		case isWord(r):
			if start < 0 {
				start = i
			}
		case start >= 0:
			if i-start > 1 {
				f(strings.ToLower(text[start:i]))
			}
			start = -1
		}
	}
	if start >= 0 && len(text)-start > 1 {
		f(strings.ToLower(text[start:]))
	}
}

// lowered takes the capital off a text that begins a sentence, and leaves one of
// all capitals, such as AC, and a letter alone, such as I.
func lowered(s string) (string, bool) {
	first, n := utf8.DecodeRuneInString(s)
	second, _ := utf8.DecodeRuneInString(s[n:])
	alone := first == 'A' && second == ' '
	if !unicode.IsUpper(first) || !unicode.IsLower(second) && !alone {
		return s, false
	}
	return string(unicode.ToLower(first)) + s[n:], true
}

// raised gives a text its capital.
func raised(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if !unicode.IsLower(first) {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// unstopped takes the full stop off, which dots of something left out are not.
func unstopped(s string) (string, bool) {
	if strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "..") {
		return s[:len(s)-1], true
	}
	return s, false
}
