package si

import "strings"

// unit says how one unit is read and shown.
type unit struct {
	name     string   // the word for it in messages
	example  string   // what to write instead
	prefixes string   // those read, one rune each; µ stands for u too, k for K
	bare     bool     // a prefix may stand without a symbol
	marks    bool     // AC, DC and rms may follow the symbol
	letters  string   // those that may stand for the decimal mark (IEC 60062)
	zero     float64  // lowest possible value [unit]; 0 means none is checked
	symbols  []symbol // spellings; a number without unit is the first one's
	shown    []shown  // for printing, ascending
}

// symbol is one spelling of a unit: the value is (number×10^exp + add)×mul.
type symbol struct {
	text   string
	exp    int
	mul    float64 // 0 means 1
	add    float64
	prefix bool // prefixes may stand before it
	fold   bool // upper and lower case are the same
	word   bool // prefixes may be spelled out: "millivolts"
}

// shown is one way of printing: values whose first digit stands for 10^from or
// more are shown in symbol, which is 10^exp base units.
type shown struct {
	symbol    string
	exp, from int
}

// prefixed lists the SI prefixes from exponent lo to hi before symbol.
func prefixed(symbol string, lo, hi int) []shown {
	names := [...]string{"p", "n", "µ", "m", "", "k", "M", "G"}
	var s []shown
	for e := lo; e <= hi; e += 3 {
		s = append(s, shown{names[e/3+4] + symbol, e, e})
	}
	return s
}

func plain(symbol string) []shown { return []shown{{symbol, 0, 0}} }

// words are spelled-out names, with spelled-out prefixes where p is true.
func words(p bool, names ...string) []symbol {
	var s []symbol
	for _, n := range names {
		s = append(s, symbol{text: n, prefix: p, fold: true, word: true})
	}
	return s
}

func join(lists ...[]symbol) []symbol {
	var all []symbol
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// each gives several spellings the same meaning.
func each(like symbol, texts ...string) []symbol {
	var s []symbol
	for _, t := range texts {
		like.text = t
		s = append(s, like)
	}
	return s
}

// order is that in which a foreign unit is looked for, so "h" is an hour before
// it is a henry and "F" a farad before it is Fahrenheit.
var order = []string{"V", "A", "Ω", "W", "VA", "Hz", "s", "H", "F", "m", "m²", "kg", "°C", "%", "°"}

var units = map[string]*unit{
	"V": {
		name: "volts", example: "12.6 V or 470 mV", prefixes: "nµmkM", bare: true, marks: true,
		symbols: join(each(symbol{prefix: true, fold: true}, "V"), words(true, "volt", "volts")),
		shown:   prefixed("V", -6, 6),
	},
	"A": {
		name: "amperes", example: "0.25 A or 12 mA", prefixes: "pnµmkM", bare: true, marks: true,
		symbols: join(each(symbol{prefix: true, fold: true}, "A"), words(true, "amp", "amps", "ampere", "amperes")),
		shown:   prefixed("A", -9, 6),
	},
	"Ω": {
		name: "ohms", example: "4.7 Ω, 2k2 or 1.5 MΩ", prefixes: "µmkMG", bare: true, letters: "RrΩmkKMG",
		symbols: join(each(symbol{prefix: true}, "Ω"), each(symbol{fold: true}, "R"), words(true, "ohm", "ohms"),
			each(symbol{fold: true, exp: 3}, "kilohm", "kilohms")),
		shown: prefixed("Ω", -6, 9),
	},
	"W": {
		name: "watts", example: "1.4 W", prefixes: "nµmkM", bare: true,
		symbols: join(each(symbol{prefix: true, fold: true}, "W"), words(true, "watt", "watts")),
		shown:   prefixed("W", -3, 3),
	},
	"VA": {
		name: "volt-amperes", example: "6 VA", prefixes: "nµmkM", bare: true,
		symbols: each(symbol{prefix: true, fold: true}, "VA", "V·A"),
		shown:   prefixed("VA", -3, 3),
	},
	"Hz": {
		// No milli: "mhz" is far oftener a megahertz.
		name: "hertz", example: "50 Hz", prefixes: "kMG", bare: true,
		symbols: join(each(symbol{prefix: true, fold: true}, "Hz"), words(true, "hertz"), words(false, "c/s", "cps", "cycles")),
		shown:   prefixed("Hz", 0, 9),
	},
	"H": {
		name: "henries", example: "4.7 mH or 10 µH", prefixes: "pnµmk", bare: true, letters: "nuµm",
		symbols: join(each(symbol{prefix: true, fold: true}, "H"), words(true, "henry", "henries", "henrys")),
		shown:   prefixed("H", -9, 0),
	},
	"F": {
		// No mega: see MF in the package comment.
		name: "farads", example: "4700 µF or 100 nF", prefixes: "pnµm", bare: true, letters: "pnuµmF",
		symbols: join(each(symbol{prefix: true, fold: true}, "F"), words(true, "farad", "farads")),
		shown:   prefixed("F", -12, 0),
	},
	"s": {
		name: "seconds", example: "60 s, 5 min or 1.5 h", prefixes: "nµm",
		symbols: join(each(symbol{prefix: true}, "s"), words(true, "second", "seconds"), words(false, "sec", "secs"),
			each(symbol{mul: 60, fold: true}, "min", "mins", "minute", "minutes"),
			each(symbol{mul: 3600, fold: true}, "h", "hr", "hrs", "hour", "hours")),
		shown: prefixed("s", -9, 0),
	},
	"m": {
		name: "a length", example: "16 mm, 1.6 cm or 0.63 in", prefixes: "nµmk",
		symbols: join(each(symbol{prefix: true}, "m"), each(symbol{exp: -2}, "cm"),
			each(symbol{mul: 25.4, exp: -3, fold: true}, "in", "inch", "inches", `"`, "″")),
		// The trade writes wire in millimetres, down to hundredths.
		shown: []shown{{"µm", -6, -6}, {"mm", -3, -5}, {"m", 0, 0}},
	},
	"m²": {
		name: "an area", example: "320 mm², 3.2 cm² or 0.5 sq in",
		symbols: join(each(symbol{}, "m²", "m2", "sq m"),
			each(symbol{exp: -4}, "cm²", "cm2", "sq cm", "sqcm"),
			each(symbol{exp: -6}, "mm²", "mm2", "sq mm", "sqmm"),
			each(symbol{mul: 6.4516, exp: -4, fold: true}, "in²", "in2", "sq in", "sq. in", "sq. in.", "sqin", "sq inch", "square inch", "square inches")),
		shown: []shown{{"mm²", -6, -6}, {"cm²", -4, -4}, {"m²", 0, 0}},
	},
	"kg": {
		name: "a mass", example: "240 g or 0.24 kg",
		symbols: join(each(symbol{}, "kg", "Kg", "KG"), each(symbol{exp: -3}, "g", "gram", "grams"), each(symbol{exp: -6}, "mg"),
			each(symbol{mul: 28.349523125, exp: -3, fold: true}, "oz", "ounce", "ounces"),
			each(symbol{mul: 0.45359237, fold: true}, "lb", "lbs", "pound", "pounds")),
		shown: plain("kg"),
	},
	"°C": {
		name: "a temperature", example: "20 °C or 68 °F", zero: -273.15,
		symbols: join(each(symbol{}, "°C", "° C", "C"), each(symbol{fold: true}, "deg C", "degC", "celsius"),
			each(symbol{mul: 5. / 9, add: -32}, "°F", "° F", "F"), each(symbol{mul: 5. / 9, add: -32, fold: true}, "deg F", "degF", "fahrenheit"),
			each(symbol{add: -273.15}, "K"), each(symbol{add: -273.15, fold: true}, "kelvin", "kelvins")),
		shown: plain("°C"),
	},
	"K": {
		name: "a difference of temperature", example: "35 K", prefixes: "m",
		symbols: join(each(symbol{prefix: true}, "K"), words(false, "kelvin", "kelvins"),
			each(symbol{}, "°C", "° C", "C"), each(symbol{mul: 5. / 9}, "°F", "° F", "F")),
		shown: plain("K"),
	},
	"°": {
		name: "degrees of angle", example: "120°",
		symbols: join(each(symbol{}, "°"), words(false, "deg", "degree", "degrees")),
		shown:   plain("°"),
	},
	"%": {
		name: "a percentage", example: "5 %",
		symbols: each(symbol{exp: -2}, "%", "percent", "per cent"),
		shown:   []shown{{"%", -2, -2}},
	},
	"": {
		name: "a plain number", example: "0.05 or 5 %",
		symbols: join(each(symbol{}, ""), each(symbol{exp: -2}, "%", "percent", "per cent")),
		shown:   plain(""),
	},
}

// unitFor returns the entry for a symbol; one that is not in the table is read
// and shown as it stands.
func unitFor(name string) *unit {
	name = tidyTail(tidy(name))
	if u, ok := units[name]; ok {
		return u
	}
	return &unit{name: name, example: "12.3 " + name, symbols: each(symbol{}, name), shown: plain(name)}
}

// prefixExp returns the power of ten of a prefix that u accepts.
func (u *unit) prefixExp(p string, word bool) (int, bool) {
	key, exp := "", 0
	switch p {
	case "p":
		key, exp = "p", -12
	case "n":
		key, exp = "n", -9
	case "µ", "u":
		key, exp = "µ", -6
	case "m":
		key, exp = "m", -3
	case "k", "K":
		key, exp = "k", 3
	case "M":
		key, exp = "M", 6
	case "G":
		key, exp = "G", 9
	}
	switch l := strings.ToLower(p); {
	case l == "meg":
		key, exp = "M", 6
	case !word:
	case l == "pico":
		key, exp = "p", -12
	case l == "nano":
		key, exp = "n", -9
	case l == "micro":
		key, exp = "µ", -6
	case l == "milli":
		key, exp = "m", -3
	case l == "kilo":
		key, exp = "k", 3
	case l == "mega":
		key, exp = "M", 6
	}
	return exp, key != "" && strings.Contains(u.prefixes, key)
}

// match finds the meaning of what follows a number. A text that is nothing but
// a prefix is accepted only where the unit allows it, and reported as such.
func (u *unit) match(text string) (s symbol, bare, ok bool) {
	if text == "" {
		return u.symbols[0], false, true
	}
	for _, s := range u.symbols {
		if text == s.text || s.fold && strings.EqualFold(text, s.text) {
			return s, false, true
		}
	}
	for _, s := range u.symbols {
		at := len(text) - len(s.text)
		if !s.prefix || at <= 0 || text[at:] != s.text && !(s.fold && strings.EqualFold(text[at:], s.text)) {
			continue
		}
		if e, ok := u.prefixExp(text[:at], s.word); ok {
			s.exp += e
			return s, false, true
		}
	}
	if u.bare {
		if e, ok := u.prefixExp(text, false); ok {
			s := u.symbols[0]
			s.exp += e
			return s, true, true
		}
	}
	return symbol{}, false, false
}

// cutMark takes "AC", "DC", "~", "=" or "rms" off the end of a symbol.
func cutMark(text string) (rest, mark string) {
	rest = text
	for {
		l := strings.ToLower(rest)
		var end, m string
		for _, c := range [...]struct{ end, mark string }{
			{"ac", "ac"}, {"~", "ac"}, {"∿", "ac"}, {"rms", "ac"}, {"dc", "dc"}, {"=", "dc"}, {"⎓", "dc"},
		} {
			if strings.HasSuffix(l, c.end) {
				end, m = c.end, c.mark
			}
		}
		// Lower case may be longer than the original for odd letters; the
		// marks are not, so compare their own bytes.
		if end == "" || len(rest) <= len(end) || !strings.EqualFold(rest[len(rest)-len(end):], end) || mark != "" && m != mark {
			return rest, mark
		}
		rest, mark = strings.TrimRight(rest[:len(rest)-len(end)], " "), m
	}
}
