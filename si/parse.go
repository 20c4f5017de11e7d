package si

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// longest is the most bytes a value may have; nothing anyone writes is longer.
const longest = 200

// Reading is a value as somebody wrote it.
type Reading struct {
	Value  float64 // [the unit asked for]
	U      float64 // standard uncertainty [the unit asked for]; NaN when none is written
	Digits string  // the numeral as typed, point as decimal mark, without grouping: "12.60"
	Step   float64 // one unit of the last digit typed, prefix counted [the unit asked for]
	Mark   string  // "ac" or "dc" when the text says so ("V AC", "Vrms", "VDC"), else ""
}

// Parse reads a quantity without uncertainty. unit is the symbol of the unit
// expected, and the value comes back in it: metres for "m", square metres for
// "m²", kilograms for "kg", degrees Celsius for "°C", a fraction for "" and "%".
// The package comment has the rules. An error is an *Error, and the value NaN.
func Parse(text, unit string) (float64, error) {
	_, _, found, err := cutUncertainty(text, tidy(text))
	if err != nil {
		return math.NaN(), err
	}
	if found {
		return math.NaN(), &Error{CodeUncertain, quote(text) + " has an uncertainty where a plain value is expected",
			"leave out what follows the value"}
	}
	r, err := Read(text, unit)
	return r.Value, err
}

// ParseValue reads a quantity with or without its standard uncertainty:
// "12.34 ± 0.05 V", "12.34 V +- 50 mV", "(12.34 ± 0.05) V", "12.34 V ± 0,4 %"
// (of the value). u is NaN when none is written. digits is the numeral as
// typed, with a point as decimal mark; a prefix is not counted in it.
func ParseValue(text, unit string) (value, u float64, digits string, err error) {
	r, err := Read(text, unit)
	return r.Value, r.U, r.Digits, err
}

// Read is ParseValue with all that the text tells.
func Read(text, unit string) (Reading, error) {
	none := Reading{Value: math.NaN(), U: math.NaN(), Step: math.NaN()}
	def := unitFor(unit)
	left, right, found, err := cutUncertainty(text, tidy(text))
	if err != nil {
		return none, err
	}
	p := parser{text: text, def: def, named: tidyTail(tidy(unit))}
	// In "(12.34 ± 0.05) V" the unit belongs to both.
	common := ""
	if inner, ok := strings.CutPrefix(left, "("); ok && found {
		in, after, closed := strings.Cut(right, ")")
		if !closed {
			return none, &Error{CodeNumber, quote(text) + " has a bracket that is not closed", "write it like " + def.example}
		}
		left, right, common = strings.TrimSpace(inner), strings.TrimSpace(in), strings.TrimSpace(after)
	}
	v, err := p.numeral(left)
	if err != nil {
		return none, err
	}
	var d numeral
	if found {
		if d, err = p.uncertainty(right); err != nil {
			return none, err
		}
		if err := p.share(&v, &d, common); err != nil {
			return none, err
		}
	}
	r := Reading{U: math.NaN(), Digits: v.String()}
	scale, err := p.scale(&v)
	if err != nil {
		return none, err
	}
	if r.Value, err = p.value(v, scale, true); err != nil {
		return none, err
	}
	if def.zero != 0 && r.Value < def.zero-1e-9 { // −459.67 °F may round to just below
		return none, &Error{CodeRange, quote(text) + " is below absolute zero", "look at the sign and the unit"}
	}
	r.Mark = v.mark
	r.Step = step(v, scale)
	if !found {
		return r, nil
	}
	if d.relative {
		part, err := p.value(d, symbol{exp: -2}, false)
		if err != nil {
			return none, err
		}
		r.U = part * math.Abs(r.Value)
		return r, nil
	}
	if scale, err = p.scale(&d); err != nil {
		return none, err
	}
	if d.mark != "" && r.Mark != "" && d.mark != r.Mark {
		return none, &Error{CodeUncertain, quote(text) + " has AC and DC in one value", "write it like " + def.example}
	}
	if r.Mark == "" {
		r.Mark = d.mark
	}
	r.U, err = p.value(d, scale, false)
	if err != nil {
		return none, err
	}
	return r, nil
}

// Resolution returns the value of one unit of the last digit shown: 0.01 for
// "12.60", 1 for "230", 100 for "1.2e3". It is NaN when digits is not a number.
// A prefix is not part of digits; Reading.Step counts it.
func Resolution(digits string) float64 {
	p := parser{text: digits, def: unitFor("")}
	n, err := p.numeral(tidy(digits))
	if err != nil || n.tail != "" {
		return math.NaN()
	}
	return step(n, symbol{})
}

// step returns one unit of the last digit of n in the scale s, NaN when it is
// out of range.
func step(n numeral, s symbol) float64 {
	v, err := strconv.ParseFloat("1e"+strconv.Itoa(n.exp+s.exp+n.letterExp-len(n.frac)), 64)
	if err != nil || v == 0 {
		return math.NaN()
	}
	if s.mul != 0 {
		v *= s.mul
	}
	return v
}

// tidy gives characters that look alike one code, and spaces one width.
func tidy(text string) string {
	text = strings.Map(func(r rune) rune {
		switch r {
		case '\u00a0', '\u2007', '\u2009', '\u200a', '\u202f', '\t':
			return ' '
		case '\u2212', '\u2013', '\uff0d': // minus, en dash, full-width minus
			return '-'
		case '\u03bc': // Greek mu
			return 'µ'
		case '\u2126': // ohm sign
			return 'Ω'
		case '\u212a': // kelvin sign
			return 'K'
		case '\u00ba': // ordinal sign, which many keyboards have for the degree
			return '°'
		}
		return r
	}, text)
	text = strings.ReplaceAll(text, "\u2103", "°C")
	text = strings.ReplaceAll(text, "\u2109", "°F")
	return strings.TrimSpace(text)
}

// cutUncertainty splits text at its ± sign, however that is written.
func cutUncertainty(text, clean string) (left, right string, found bool, err error) {
	switch {
	case !utf8.ValidString(text):
		return "", "", false, &Error{CodeNumber, quote(text) + " is not UTF-8 text", "type the value again"}
	case len(clean) > longest:
		return "", "", false, &Error{CodeNumber, quote(text) + " is too long for a value", "write one number and its unit"}
	case clean == "":
		return "", "", false, &Error{CodeEmpty, "no value is written", "write a number and its unit"}
	}
	at, width := -1, 0
	for _, sign := range [...]string{"±", "+/-", "+-"} {
		if i := strings.Index(clean, sign); i >= 0 && (at < 0 || i < at) {
			at, width = i, len(sign)
		}
	}
	if at < 0 {
		return clean, "", false, nil
	}
	left, right = strings.TrimSpace(clean[:at]), strings.TrimSpace(clean[at+width:])
	if left == "" {
		return "", "", false, &Error{CodeNumber, quote(text) + " has no value before its ± sign", "write the value first, like 12.34 ± 0.05"}
	}
	return left, right, true, nil
}

// numeral is one number and what follows it.
type numeral struct {
	neg, signed bool
	whole, frac string
	exp         int
	expText     string // exponent as typed, "" when none
	lettered    bool   // a letter stood for the decimal mark
	letterExp   int    // and meant this power of ten
	tail        string // the rest, a unit
	mark        string // "ac", "dc" or ""
	relative    bool   // the tail is % of the value
}

// String is the numeral with a point as decimal mark.
func (n numeral) String() string {
	var b strings.Builder
	if n.neg {
		b.WriteByte('-')
	}
	if n.whole == "" {
		b.WriteByte('0')
	}
	b.WriteString(n.whole)
	if n.frac != "" {
		b.WriteString("." + n.frac)
	}
	if n.expText != "" {
		b.WriteString("e" + n.expText)
	}
	return b.String()
}

// parser keeps what messages need.
type parser struct {
	text  string // as given
	def   *unit
	named string // symbol of def
}

func (p parser) fail(code, sentence, hint string) error {
	return &Error{code, quote(p.text) + " " + sentence, hint}
}

func (p parser) likeThis() string { return "write it like " + p.def.example }

func digit(s string, i int) bool { return i < len(s) && s[i] >= '0' && s[i] <= '9' }

func digitsFrom(s string, i int) int {
	for digit(s, i) {
		i++
	}
	return i
}

// numeral reads the number at the start of s, which is tidy.
func (p parser) numeral(s string) (numeral, error) {
	var n numeral
	switch {
	case strings.HasPrefix(s, "-"):
		n.neg, n.signed, s = true, true, s[1:]
	case strings.HasPrefix(s, "+"):
		n.signed, s = true, s[1:]
	}
	s = strings.TrimLeft(s, " ")

	i := digitsFrom(s, 0)
	n.whole, s = s[:i], s[i:]
	grouped := false
	for n.whole != "" && strings.HasPrefix(s, " ") {
		rest := strings.TrimLeft(s, " ")
		if !digit(rest, 0) {
			break
		}
		end := digitsFrom(rest, 0)
		if len(s)-len(rest) != 1 || end != 3 || !grouped && (len(n.whole) > 3 || n.whole[0] == '0') {
			return n, p.fail(CodeSeparator, "has a space between digits that do not fall in groups of three", "write one number, its digits together")
		}
		n.whole, s, grouped = n.whole+rest[:3], rest[3:], true
	}

	if r, w := utf8.DecodeRuneInString(s); w > 0 && digit(s, w) && strings.ContainsRune(p.def.letters, r) && !grouped {
		n.lettered = true
		if e, ok := p.def.prefixExp(string(r), false); ok {
			n.letterExp = e
		}
		i := digitsFrom(s, w)
		n.frac, s = s[w:i], s[i:]
	} else if strings.HasPrefix(s, ".") || strings.HasPrefix(s, ",") {
		i := digitsFrom(s, 1)
		if i == 1 {
			if n.whole == "" {
				return n, p.notNumber()
			}
			return n, p.fail(CodeSeparator, "stops at its decimal mark", "write the digits after it, or leave it out")
		}
		n.frac, s = s[1:i], s[i:]
	}
	if n.whole == "" && n.frac == "" {
		return n, p.notNumber()
	}
	if s != "" && (s[0] == '.' || s[0] == ',') {
		return n, p.fail(CodeSeparator, "has more than one point or comma", "use one decimal mark and no thousands marks, like 1234.5")
	}
	if n.frac != "" && strings.HasPrefix(s, " ") && digit(strings.TrimLeft(s, " "), 0) {
		return n, p.fail(CodeSeparator, "has a space after the decimal mark, between digits", "write one number, its digits together")
	}

	if !n.lettered && s != "" && (s[0] == 'e' || s[0] == 'E') {
		j := 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if digit(s, j) {
			if p.named == "Ω" && s[0] == 'E' && j == 1 && n.frac == "" {
				return n, p.fail(CodeAmbiguous, "may mean a decimal mark or a power of ten", "write 4.7 or 4R7 for the one, 4e7 for the other")
			}
			end := digitsFrom(s, j)
			n.expText = strings.TrimPrefix(s[1:end], "+")
			exp, err := strconv.Atoi(n.expText)
			if err != nil || exp > 9999 || exp < -9999 {
				return n, p.fail(CodeRange, "has an exponent that is out of range", p.likeThis())
			}
			n.exp, s = exp, s[end:]
		}
	}
	n.tail = tidyTail(s)
	return n, nil
}

// tidyTail gives a unit one spelling of its spaces and squares.
func tidyTail(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "^2", "²")), " ")
}

// notNumber says what stands where a number should.
func (p parser) notNumber() error {
	l := strings.ToLower(strings.TrimLeft(tidy(p.text), "+- "))
	for _, w := range [...]string{"nan", "inf", "∞", "ol", "o.l", "0l", "over"} {
		if strings.HasPrefix(l, w) {
			return p.fail(CodeNumber, "is not a finite number", p.likeThis())
		}
	}
	return p.fail(CodeNumber, "has no number where one is expected", p.likeThis())
}

// uncertainty reads what follows the ± sign.
func (p parser) uncertainty(s string) (numeral, error) {
	if s == "" {
		return numeral{}, p.fail(CodeUncertain, "has nothing after its ± sign", "write the uncertainty, or leave the sign out")
	}
	d, err := p.numeral(s)
	if err != nil {
		return d, err
	}
	if d.signed {
		return d, p.fail(CodeUncertain, "has a sign before its uncertainty", "write the uncertainty without a sign")
	}
	return d, nil
}

// share settles which unit belongs to which of the two numbers. common is the
// unit after a bracket around both.
func (p parser) share(v, d *numeral, common string) error {
	pure := p.named == "" || p.named == "%"
	switch {
	case common != "":
		if v.tail != "" || d.tail != "" || v.lettered || d.lettered {
			return p.fail(CodeUncertain, "has a unit inside its brackets and one after them", "write the unit once, after the brackets")
		}
		v.tail = tidyTail(common)
		d.tail = v.tail
	case d.tail == "%" && !pure:
		if p.def.zero != 0 {
			return p.fail(CodeUncertain, "has a percentage of a temperature, which depends on the scale", "write the uncertainty in degrees")
		}
		d.relative = true
	case p.named == "" && v.tail == "" && d.tail != "":
		// 5 ± 1 %: of five, or of a hundred?
		return p.fail(CodeAmbiguous, "may mean a percentage of the value or two percentages", "write 5 % ± 1 %, or 0.05 ± 0.01")
	case v.lettered && !d.lettered && d.tail == "":
		return p.fail(CodeAmbiguous, "does not say in which unit its uncertainty is", "write the unit after the uncertainty")
	case v.tail == "" && !v.lettered && !d.lettered:
		v.tail = d.tail
	case d.tail == "" && !d.lettered:
		d.tail = v.tail
	}
	return nil
}

// scale finds the meaning of the tail of n.
func (p parser) scale(n *numeral) (symbol, error) {
	tail := n.tail
	if p.def.marks {
		if rest, mark := cutMark(tail); mark != "" {
			tail, n.mark = rest, mark
		}
	}
	s, bare, ok := p.def.match(tail)
	if ok && !(bare && n.mark != "") {
		if !n.lettered || tail == "" || !bare && s.exp == 0 {
			return s, nil
		}
		return s, p.fail(CodeUnit, "has a prefix twice", p.likeThis())
	}
	return s, p.wrongUnit(n.tail)
}

// wrongUnit says what stands where the unit should.
func (p parser) wrongUnit(tail string) error {
	switch l := strings.ToLower(tail); {
	case p.named == "F" && (tail == "MF" || tail == "Mf" || l == "mfd" || l == "mmf" || l == "mmfd" || l == "m"):
		return p.fail(CodeAmbiguous, "may mean micro-, milli- or megafarads", "write µF (or uF) or mF")
	case p.named == "s" && l == "m":
		return p.fail(CodeAmbiguous, "may mean minutes or milliseconds", "write min or ms")
	case (p.named == "V" || p.named == "A") && (strings.HasSuffix(l, "pp") || strings.HasSuffix(l, "pk") || strings.HasSuffix(l, "p-p") || strings.HasSuffix(l, "peak")):
		return p.fail(CodeUnit, "is a peak value", "write the rms value, as a meter shows it")
	}
	for _, name := range order {
		other := units[name]
		if name == p.named {
			continue
		}
		t := tail
		if other.marks {
			t, _ = cutMark(tail)
		}
		if s, bare, ok := other.match(t); ok && !bare && s.text != "" {
			return p.fail(CodeUnit, "is in the unit "+quote(tail)+" ("+other.name+") where "+p.def.name+" should be", p.likeThis())
		}
	}
	if p.named == "" {
		return p.fail(CodeUnit, "has "+quote(tail)+" after the number", p.likeThis())
	}
	return p.fail(CodeUnit, "has "+quote(tail)+" after the number, which does not stand for "+p.def.name, p.likeThis())
}

// value is n in the scale s; with add, the zero of the scale is moved too.
// Powers of ten are joined to the digits as text, so 470 mV is exactly 0.47.
func (p parser) value(n numeral, s symbol, add bool) (float64, error) {
	text := n.whole + n.frac + "e" + strconv.Itoa(n.exp+s.exp+n.letterExp-len(n.frac))
	v, err := strconv.ParseFloat(text, 64)
	if add && !math.IsInf(v, 0) {
		if n.neg {
			v = -v
		}
		v += s.add
	}
	if s.mul != 0 {
		v *= s.mul
	}
	if err != nil || math.IsInf(v, 0) {
		return v, p.fail(CodeRange, "is too large to be a value", "look at the prefix and the exponent")
	}
	if v == 0 && s.add == 0 && strings.Trim(n.whole+n.frac, "0") != "" {
		return v, p.fail(CodeRange, "is too small to be told from zero", "look at the prefix and the exponent")
	}
	if v == 0 {
		v = 0 // no negative zero
	}
	return v, nil
}
