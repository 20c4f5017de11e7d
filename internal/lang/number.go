package lang

import (
	"strings"
	"unicode"
	"unicode/utf8"
	"yokemate/si"
)

// units are the marks behind a number that make it a quantity, and the words
// that mean the same in every language here.
var units = func() map[string]bool {
	all := map[string]bool{}
	for u := range strings.FieldsSeq(`V mV µV kV A mA µA pA nA kA Ω mΩ kΩ MΩ GΩ nW µW mW W kW µVA mVA VA kVA Hz kHz s ms µs min h m µm mm mm² cm cm² kg g
		K °C °F % F mF µF nF pF H mH µH nH A²s J V/Hz K/W A/mm² × ° T mT Wb mWb AC DC rms MB kB`) {
		all[u] = true
	}
	return all
}()

// number returns how long the number is that a text begins with, 0 for none.
func number(s string) int {
	i := 0
	for _, sign := range []string{"-", "−", "+"} {
		if strings.HasPrefix(s, sign) {
			i = len(sign)
			break
		}
	}
	digits := func() bool {
		start := i
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		return i > start
	}
	if !digits() {
		return 0
	}
	if i+1 < len(s) && s[i] == '.' && s[i+1] >= '0' && s[i+1] <= '9' {
		i++
		digits()
	}
	if i < len(s) && s[i] == 'e' {
		end := i
		i++
		if i < len(s) && (s[i] == '+' || s[i] == '-') {
			i++
		}
		if !digits() {
			i = end
		}
	}
	return i
}

// decimal writes a number with the mark of the language.
func (s *search) decimal(v string) string {
	if s.l.Locale.Decimal == "" {
		return v
	}
	return strings.Replace(v, ".", s.l.Locale.Decimal, 1)
}

// figure writes a number without a unit, or an interval of two, as the language
// does. It reports whether the text is one.
func (l *Language) figure(text string) (string, bool) {
	if l.Plain() {
		return text, false
	}
	low, high, two := strings.Cut(strings.TrimSpace(text), " to ")
	if number(low) != len(low) || low == "" || two && (number(high) != len(high) || high == "") {
		return text, false
	}
	s := search{l: l}
	low, high = s.decimal(low), s.decimal(high)
	if two && l.Locale.To != "" {
		low += " " + l.Locale.To + " " + high
	} else if two {
		low += " to " + high
	}
	return low, true
}

// numbers writes the quantities in a text as the language does, and leaves all
// else.
func (s *search) numbers(text string) string {
	if s.l.Locale == (si.Locale{}) || !strings.ContainsAny(text, "0123456789") {
		return text
	}
	var b strings.Builder
	before := ' '
	for i := 0; i < len(text); {
		n := 0
		if !isWord(before) && before != '.' && before != '/' && before != '-' {
			n = number(text[i:])
		}
		if n > 0 && quantity(text[i+n:], text[:i]) {
			b.WriteString(s.decimal(text[i : i+n]))
			i += n
			before = '0'
			if rest, ok := strings.CutPrefix(text[i:], " to "); ok && number(rest) > 0 {
				b.WriteString(" " + s.l.Locale.To + " ")
				i += len(" to ")
				before = ' '
			}
			continue
		}
		r, size := utf8.DecodeRuneInString(text[i:])
		b.WriteString(text[i : i+size])
		before = r
		i += size
	}
	return b.String()
}

// quantity reports whether what follows a number gives it a unit: at once, or
// behind the other end of an interval or an uncertainty.
func quantity(after, before string) bool {
	if strings.HasSuffix(strings.TrimRight(before, " "), "±") {
		return true
	}
	after = strings.TrimPrefix(after, ")")
	after = strings.TrimPrefix(after, " ")
	for _, between := range []string{"± ", "to ", "bis ", "− ", "– ", "× "} {
		if rest, ok := strings.CutPrefix(after, between); ok {
			n := number(rest)
			if n == 0 {
				return false
			}
			return quantity(rest[n:], "")
		}
	}
	end := strings.IndexFunc(after, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",;:)(", r) })
	if end < 0 {
		end = len(after)
	}
	return units[strings.TrimRight(after[:end], ".")]
}
