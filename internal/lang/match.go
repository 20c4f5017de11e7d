package lang

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// result is a text in the language, and which of its parts stayed unknown.
type result struct {
	text    string
	unknown []string
	words   int  // how many words are in the unknown parts
	loose   int  // how many values hold a mark at which a text is rather parted
	fits    bool // a pattern was found in it
}

// over reports whether a result explains more of a text than another, or the
// same in a better way.
func (r *result) over(x *result) bool {
	if r.words != x.words {
		return r.words < x.words
	}
	return r.loose < x.loose
}

// whole reports whether nothing is left to be found.
func (r *result) whole() bool { return r.fits && r.words == 0 && r.loose == 0 }

// search is one lookup, with what it has found on the way.
type search struct {
	c     *catalogue
	l     *Language
	left  int // how many patterns may still be tried
	found map[string]result
}

// Bounds of a search. They keep a strange text from costing more than a
// fraction of a millisecond; a sentence of the program needs a few dozen tries.
const (
	budget = 10000 // patterns tried for one text
	ways   = 12    // ways to part a text by one pattern
	stray  = 6     // words of names that may stay unknown in a text
	weak   = 4     // letters of a pattern that only joins others
)

// stops reports whether a sentence ends within a text.
func stops(s string) bool {
	return strings.Contains(s, ". ") || strings.Contains(s, "! ") || strings.Contains(s, "? ")
}

// several reports whether a text is surely more than one.
func several(s string) bool { return stops(s) || strings.Contains(s, "; ") }

// parts reports whether it may be.
func parts(s string) bool { return strings.Contains(s, ", ") || strings.Contains(s, ": ") }

// dot stands between facts on one line of a drawing or page.
const dot = " · "

// find gives a text in the language.
func (s *search) find(text string) result {
	if r, ok := s.found[text]; ok {
		return r
	}
	r := s.compute(text)
	s.found[text] = r
	return r
}

func (s *search) compute(text string) result {
	if p := s.c.exact[text]; p != nil && len(p.verbs) == 0 {
		return result{text: p.raw, fits: true}
	}
	words := prose(text)
	if words == 0 {
		return result{text: s.numbers(text)}
	}
	if first, rest, ok := strings.Cut(text, dot); ok {
		a, b := s.find(first), s.find(rest)
		return result{text: a.text + dot + b.text, unknown: slices.Concat(a.unknown, b.unknown), words: a.words + b.words, loose: a.loose + b.loose, fits: a.fits || b.fits}
	}
	if inner, before, after := bare(text); inner != text {
		r := s.find(inner)
		r.text = before + r.text + after
		return r
	}
	whole, stop := unstopped(text)
	core, capital := lowered(whole)
	if p := s.c.whole[core]; p != nil {
		return result{text: p.finish(p.out[0].text, capital, stop), fits: true}
	}
	if sentence(text) {
		words += stray // no name is like that
	}
	best := result{text: text, unknown: []string{text}, words: words}
	if s.left--; s.left < 0 {
		return best
	}
	ends := sentenceEnds(text)
	if len(ends) > 1 {
		if r := s.plan(text, ends, false); r.whole() {
			return r
		}
	}
	if r := s.direct(whole, core, capital, stop); r.whole() {
		return r
	} else if r.fits && r.words <= stray {
		best = r
	}
	if inner := bracketed(text); inner != "" {
		if r := s.find(inner); r.fits && r.over(&best) {
			r.text = "(" + r.text + ")"
			best = r
		}
	}
	if len(ends) > 1 {
		if r := s.plan(text, ends, true); r.fits && r.over(&best) {
			best = r
		}
	}
	for _, mark := range []string{"; ", ": ", " (", ", ", " – ", " / "} {
		if best.whole() {
			break
		}
		if r := s.parted(text, mark); r.fits && r.words <= stray && r.over(&best) {
			best = r
		}
	}
	return best
}

// direct reads a text by the one pattern that explains it best.
func (s *search) direct(whole, core string, capital, stop bool) result {
	var best result
	for _, p := range s.candidates(whole, core, capital) {
		var r result
		if p.words[0] == "" { // what stands there first keeps its capital
			r = s.by(p, whole)
			r.text = p.finish(r.text, stop && raised(whole) == whole, stop)
		} else {
			r = s.by(p, core)
			r.text = p.finish(r.text, capital, stop)
		}
		if r.fits && (!best.fits || r.over(&best)) {
			best = r
		}
		if best.whole() {
			break
		}
	}
	return best
}

// bare takes off a text what joined it to others: marks before and behind it.
func bare(text string) (inner, before, after string) {
	inner = strings.TrimLeft(text, ",;:·")
	inner = strings.TrimLeft(inner, " ")
	before = text[:len(text)-len(inner)]
	end := strings.TrimRight(inner, ",;:·")
	end = strings.TrimRight(end, " ")
	if end == "" {
		return text, "", ""
	}
	return end, before, inner[len(end):]
}

// bracketed is what stands in a pair of brackets that holds a whole text, or "".
func bracketed(text string) string {
	if !strings.HasPrefix(text, "(") || !strings.HasSuffix(text, ")") {
		return ""
	}
	depth := 0
	for i := range len(text) {
		switch text[i] {
		case '(':
			depth++
		case ')':
			if depth--; depth == 0 && i+1 < len(text) {
				return ""
			}
		}
	}
	return text[1 : len(text)-1]
}

// finish gives a translation the capital and the full stop of its English.
func (p *pattern) finish(s string, capital, stop bool) string {
	switch {
	case capital:
		s = raised(s)
	case p.same:
		s, _ = lowered(s)
	}
	if stop && !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// candidates are the patterns that may fit a text, which is core when its
// capital is taken off; those with the most of their own come first, and of
// two with as much the one with the text's capital.
func (s *search) candidates(whole, core string, capital bool) []*pattern {
	var all []*pattern
	many, full := several(whole), stops(whole)
	add := func(ps []*pattern) {
		for _, p := range ps {
			if !p.several && (many && p.letters < weak || full && p.words[0] == "") {
				continue // it does not join sentences, nor begin with one
			}
			if p.words[0] != "" && p.may(core) || p.words[0] == "" && p.may(whole) {
				all = append(all, p)
			}
		}
	}
	var seen []string
	eachWord(core, func(w string) {
		if ps := s.c.byWord[w]; ps != nil && !slices.Contains(seen, w) {
			seen = append(seen, w)
			add(ps)
		}
	})
	add(s.c.unworded)
	slices.SortStableFunc(all, func(a, b *pattern) int {
		if a.size == b.size && a.capital != b.capital {
			if a.capital == capital {
				return -1
			}
			return 1
		}
		if a.size == b.size {
			return b.numbers - a.numbers
		}
		return b.size - a.size
	})
	return all
}

// may reports whether a text begins and ends as the pattern does and holds its
// words in their order.
func (p *pattern) may(text string) bool {
	n := len(p.words)
	if !strings.HasPrefix(text, p.words[0]) || !strings.HasSuffix(text, p.words[n-1]) {
		return false
	}
	rest := text[len(p.words[0]):]
	if len(rest) < len(p.words[n-1]) {
		return false
	}
	rest = rest[:len(rest)-len(p.words[n-1])]
	for _, w := range p.words[1 : n-1] {
		if rest == "" {
			return false
		}
		_, n := utf8.DecodeRuneInString(rest) // no value is empty
		i := strings.Index(rest[n:], w)
		if i < 0 {
			return false
		}
		rest = rest[n+i+len(w):]
	}
	return rest != ""
}

// by reads a text by one pattern. Where its values can be parted in several
// ways, the way that leaves the fewest words unknown counts.
func (s *search) by(p *pattern, text string) result {
	n := len(p.words)
	inner := text[len(p.words[0]) : len(text)-len(p.words[n-1])]
	values := make([]string, 0, 8)
	best := result{text: text, words: -1}
	tried := 0
	var part func(rest string)
	part = func(rest string) {
		k := len(values)
		if k == len(p.verbs)-1 {
			if !takes(p.verbs[k], rest) || p.words[k+1] != "" && (k > 0 || p.words[0] != "") && stops(rest) {
				return
			}
			tried++
			r := s.fill(p, append(values, rest))
			if r.fits && (best.words < 0 || r.over(&best)) {
				best = r
			}
			return
		}
		w := p.words[k+1]
		for at := 0; tried < ways && s.left > 0 && !best.whole(); {
			if at == len(rest) {
				return
			}
			_, n := utf8.DecodeRuneInString(rest[at:])
			i := strings.Index(rest[at+n:], w)
			if i < 0 {
				return
			}
			at += n + i
			if (k > 0 || p.words[0] != "") && stops(rest[:at]) {
				return // a value within a sentence ends before it does
			}
			if takes(p.verbs[k], rest[:at]) && !(w == " " && quantity(rest[at:], "") && number(lastWord(rest[:at])) > 0) {
				s.left--
				values = append(values, rest[:at])
				part(rest[at+len(w):])
				values = values[:k]
			}
		}
	}
	part(inner)
	return best
}

// lastWord is what stands behind the last space.
func lastWord(s string) string { return s[strings.LastIndexByte(s, ' ')+1:] }

// takes reports whether a verb can have made a text.
func takes(verb byte, text string) bool {
	switch {
	case text == "" || text[0] == ' ' || text[len(text)-1] == ' ':
		return false
	case verb == 'd':
		return number(text) == len(text) || text == "%d"
	case verb == 'q':
		return len(text) > 1 && text[0] == '"' && text[len(text)-1] == '"' || text == "%q"
	}
	return true
}

// fill makes the translation with values in it.
func (s *search) fill(p *pattern, values []string) result {
	r := result{fits: true}
	in := make([]string, len(values))
	for i, v := range values {
		switch p.verbs[i] {
		case 'd':
			in[i] = s.decimal(v)
		case 'q':
			in[i] = s.quoted(v)
		default:
			if number(v) == len(v) && (quantity(p.words[i+1], "") || strings.HasPrefix(p.words[i+1], " of ")) {
				in[i] = s.decimal(v) // its unit stands in the pattern, or what it is a part of
				break
			}
			x := s.find(v)
			in[i] = x.text
			r.words += x.words
			r.loose += x.loose
			if several(v) || (i == p.open || p.letters < weak) && parts(v) {
				r.loose++
			}
			r.unknown = append(r.unknown, x.unknown...)
		}
	}
	// what a word or two of the language join is nothing without what they join
	if r.words > 0 && p.letters < weak {
		return result{}
	}
	var b strings.Builder
	for _, o := range p.out {
		if o.verb == 0 {
			b.WriteString(o.text)
		} else {
			b.WriteString(in[o.arg])
		}
	}
	r.text = b.String()
	return r
}

// sentenceEnds are the places behind the sentences of a text, the last of them its
// end.
func sentenceEnds(text string) []int {
	var ends []int
	for i := 0; i+2 < len(text); i++ {
		if (text[i] == '.' || text[i] == '!' || text[i] == '?') && text[i+1] == ' ' {
			if r, _ := utf8.DecodeRuneInString(text[i+2:]); !unicode.IsLower(r) {
				ends = append(ends, i+1)
			}
		}
	}
	return append(ends, len(text))
}

// plan reads a text that is several sentences: it parts it at some of their ends,
// so that each run of them is explained by one pattern. A sentence that none
// explains is taken apart where that is wanted.
func (s *search) plan(text string, ends []int, apart bool) result {
	plans := make([]*result, len(ends)+1) // what is best from each sentence on
	plans[len(ends)] = &result{}
	start := func(i int) int {
		if i == 0 {
			return 0
		}
		return ends[i-1] + 1
	}
	for i := len(ends) - 1; i >= 0; i-- {
		for j := len(ends); j > i; j-- {
			if i == 0 && j == len(ends) {
				continue // the whole
			}
			next := plans[j]
			if next == nil {
				continue
			}
			piece := text[start(i):ends[j-1]]
			var x result
			if apart && j == i+1 {
				x = s.find(piece)
			} else if x = s.run(piece); !x.fits {
				continue
			}
			r := result{text: x.text, words: x.words + next.words, loose: x.loose + next.loose, fits: x.fits || next.fits,
				unknown: slices.Concat(x.unknown, next.unknown)}
			if j < len(ends) {
				r.text += " " + next.text
			}
			if plans[i] == nil || r.over(plans[i]) {
				plans[i] = &r
			}
		}
	}
	if plans[0] == nil {
		return result{}
	}
	return *plans[0]
}

// run reads some sentences in a row by one pattern that holds them all.
func (s *search) run(text string) result {
	if p := s.c.exact[text]; p != nil && len(p.verbs) == 0 {
		return result{text: p.raw, fits: true}
	}
	whole, stop := unstopped(text)
	core, capital := lowered(whole)
	if p := s.c.whole[core]; p != nil {
		return result{text: p.finish(p.out[0].text, capital, stop), fits: true}
	}
	if s.left--; s.left < 0 {
		return result{}
	}
	return s.direct(whole, core, capital, stop)
}

// parted reads a text in two, at a mark: at the first of them, then the next.
func (s *search) parted(text, mark string) result {
	var best result
	for at, tries := 0, 0; tries < ways; tries++ {
		i := strings.Index(text[at:], mark)
		if i < 0 {
			break
		}
		at += i
		left, right, end := text[:at], text[at+len(mark):], ""
		at += len(mark)
		if mark == " (" {
			j := strings.IndexByte(right, ')')
			if j < 0 {
				break
			}
			right, end = right[:j], right[j:]
		}
		if left == "" || right == "" {
			continue
		}
		s.left -= 4
		if s.left < 0 {
			break
		}
		l, r := s.find(left), s.find(right) // both are shorter
		if (mark == "; " || mark == ", ") && l.words+r.words > 0 {
			continue // halves of a sentence belong together
		}
		x := result{fits: l.fits || r.fits, words: l.words + r.words, loose: l.loose + r.loose, unknown: append(slices.Clone(l.unknown), r.unknown...)}
		x.text = l.text + mark + r.text
		if len(end) > 1 {
			e := s.find(strings.TrimLeft(end[1:], " "))
			x.text += end[:len(end)-len(strings.TrimLeft(end[1:], " "))] + e.text
			x.words += e.words
			x.loose += e.loose
			x.fits = x.fits || e.fits
			x.unknown = append(x.unknown, e.unknown...)
		} else {
			x.text += end
		}
		if x.fits && (!best.fits || x.over(&best)) {
			best = x
		}
		if best.whole() {
			break
		}
	}
	return best
}

// prose counts the words of a text that a reader needs the language for: not
// names with digits, dots or strokes in them, not units, not one letter alone,
// not the "to" of an interval.
func prose(text string) int {
	n := 0
	tokens := strings.Fields(text)
	for i, token := range tokens {
		token = strings.Trim(token, ".,;:!?()[]\"'…")
		if strings.ContainsAny(token, "0123456789./_@=<>\\") || units[token] || named(token) {
			continue
		}
		if token == "to" && i > 0 && i+1 < len(tokens) && (number(tokens[i-1]) > 0 || units[tokens[i-1]]) && number(tokens[i+1]) > 0 {
			continue
		}
		for word := range strings.FieldsFuncSeq(token, func(r rune) bool { return !unicode.IsLetter(r) }) {
			if strings.ContainsFunc(word, unicode.IsLower) && utf8.RuneCountInString(word) > 1 && !units[word] {
				n++
			}
		}
	}
	return n
}

// glue are words that stand in a sentence and hardly in a name.
var glue = map[string]bool{"is": true, "are": true, "it": true, "its": true, "be": true, "has": true, "have": true, "not": true, "if": true, "that": true, "which": true,
	"the": true, "of": true, "to": true, "in": true, "on": true, "at": true, "by": true, "from": true, "with": true, "for": true}

// sentence reports whether a text that no pattern explains is a piece of a
// sentence and not a name.
func sentence(text string) bool {
	found := false
	eachWord(text, func(w string) { found = found || glue[w] })
	return found
}

// named reports whether a word is a key of ours with a name in it, as in gap-B.
func named(token string) bool {
	for i := strings.IndexByte(token, '-'); i >= 0 && i+1 < len(token); {
		if token[i+1] >= 'A' && token[i+1] <= 'Z' {
			return true
		}
		next := strings.IndexByte(token[i+1:], '-')
		if next < 0 {
			break
		}
		i += 1 + next
	}
	return false
}

// quoted gives a name in the quotation marks of the language.
func (s *search) quoted(v string) string {
	if s.l.quotes == "" || v == "%q" {
		return v
	}
	open, shut, _ := strings.Cut(s.l.quotes, " ")
	return open + v[1:len(v)-1] + shut
}
