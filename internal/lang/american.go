package lang

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// american makes the catalogue of American English from the English one: in
// each pattern, the words of the table are put in the place of ours. Every
// pattern is in it, so that what stands in a sentence is looked up as well.
func american(patterns []string, table string) ([]pair, error) {
	rules, err := pairs(table)
	if err != nil {
		return nil, err
	}
	var all []pair
	for _, p := range patterns {
		all = append(all, pair{p, spell(p, rules)})
	}
	return all, nil
}

// spell puts other words in the place of those of the rules, the longest first,
// and keeps capitals. It changes whole words only.
func spell(s string, rules []pair) string {
	var b strings.Builder
	before := ' '
	for i := 0; i < len(s); {
		var best *pair
		if !isWord(before) {
			for j := range rules {
				r := &rules[j]
				if len(s)-i < len(r.english) || !strings.EqualFold(s[i:i+len(r.english)], r.english) {
					continue
				}
				after, _ := utf8.DecodeRuneInString(s[i+len(r.english):])
				if !isWord(after) && (best == nil || len(r.english) > len(best.english)) {
					best = r
				}
			}
		}
		first, n := utf8.DecodeRuneInString(s[i:])
		if best == nil {
			b.WriteRune(first)
			before = first
			i += n
			continue
		}
		other := best.other
		if unicode.IsUpper(first) {
			other = raised(other)
		}
		b.WriteString(other)
		i += len(best.english)
		before, _ = utf8.DecodeLastRuneInString(best.english)
	}
	return b.String()
}
