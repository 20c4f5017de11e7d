// Package lang shows the sentences of the program in the reader's language.
//
// The engine, its JSON, the store and every proof speak English, so that a
// record means the same wherever it is read. The language is chosen only where
// words are shown: a page, a sheet, a label. There, a sentence is recognised by
// the pattern it was made from, and made again from that pattern's translation
// with the same values in it.
//
// # Catalogue
//
// en.txt lists every pattern; de.txt gives each one its German; us.txt holds
// the few words that American English has otherwise, and is applied to the
// patterns, never to what stands in them. A pattern has three verbs: %s for
// words, %d for a number and %q for a name in quotation marks; %% is a percent
// sign. A translation has the same verbs, and %[2]s takes them in another order.
//
// # Recognition
//
// Patterns are found by the rarest of their words. Of those that fit, the one
// counts that leaves the fewest words unknown, then the longest. What stands for
// %s is looked up in the same way. What fits no pattern is taken apart: at full
// stops, then semicolons, colons, brackets, commas. So a sentence that was put
// together from several is found piece by piece. A capital at the start and a
// full stop at the end make no difference. A sentence met for the first time
// takes some ten microseconds, and the last few thousand are remembered.
//
// # What it changes in values
//
// A decimal point becomes the language's mark only in a number that has a unit
// behind it, as in "1.2 A" or "12.1 to 12.4 V", or of what it is a part, as in
// "0.6 of the flux"; that stands for a %d; or that is all of a table's cell or of
// a mark on an axis. Names such as T1.5 and T1/A are left as they are.
//
// # Limits
//
// Because a sentence is recognised and not marked, one that was stored before
// its wording was changed stays English. A name given by a user that is itself a
// sentence or word of the catalogue is translated with it when it stands inside
// a sentence; where a name stands alone, a page marks it translate="no". Text in which
// more than a few words stay unknown is left in English as a whole: half a
// sentence may say the opposite.
//
// # Another language
//
// It takes a catalogue with the patterns of en.txt, and a line in this file. The
// tests say what is missing and what nothing says any more; with -update they put
// new patterns of the sources into the catalogues, and fail until each is
// translated, and take out those that are of no use.
package lang

import (
	"embed"
	"strconv"
	"strings"
	"sync"

	"yokemate/si"
)

//go:embed en.txt de.txt us.txt
var files embed.FS

// Language is one that words can be shown in. It is safe for use by several
// goroutines at once.
type Language struct {
	Tag    string // as in HTML's lang: "en", "en-US", "de"
	Name   string // its own name for itself
	Locale si.Locale
	quotes string // what opens and what closes a quotation, a space between

	catalogue *catalogue // nil: English is shown as it is
	memory    memory
}

// English is what the program speaks.
var English = &Language{Tag: "en", Name: "English"}

// all are built on first use, once: a catalogue is part of the program.
var all = sync.OnceValue(func() []*Language {
	patterns := mustPatterns(read("en.txt"))
	us, err := american(patterns, read("us.txt"))
	if err != nil {
		panic("lang: us.txt: " + err.Error())
	}
	return []*Language{
		English,
		{Tag: "en-US", Name: "English (US)", catalogue: newCatalogue(us)},
		{Tag: "de", Name: "Deutsch", Locale: si.Locale{Decimal: ",", To: "bis"}, quotes: "„ “", catalogue: newCatalogue(mustPairs(read("de.txt")))},
	}
})

func read(name string) string {
	b, err := files.ReadFile(name)
	if err != nil {
		panic("lang: " + err.Error())
	}
	return string(b)
}

// All returns every language, English first.
func All() []*Language { return all() }

// Get returns the language with a tag, or nil.
func Get(tag string) *Language {
	for _, l := range all() {
		if strings.EqualFold(l.Tag, tag) {
			return l
		}
	}
	return nil
}

// Accepted chooses by a header Accept-Language: the one wanted most that there
// is, or else usual. A language without a region takes any region of it that is
// usual, so "en" leaves the choice between live and line to the caller.
func Accepted(header string, usual *Language) *Language {
	best, most := usual, 0.0
	for part := range strings.SplitSeq(header, ",") {
		tag, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		weight := 1.0
		if v, ok := strings.CutPrefix(strings.ReplaceAll(q, " ", ""), "q="); ok {
			w, err := strconv.ParseFloat(v, 64)
			if err != nil {
				continue
			}
			weight = w
		}
		if weight <= most {
			continue
		}
		if l := forTag(strings.TrimSpace(tag), usual); l != nil {
			best, most = l, weight
		}
	}
	return best
}

// forTag is the language for a tag of a browser, or nil.
func forTag(tag string, usual *Language) *Language {
	main, _, regional := strings.Cut(tag, "-")
	switch {
	case strings.EqualFold(main, "en") && !regional:
		if strings.HasPrefix(usual.Tag, "en") {
			return usual
		}
		return English
	case Get(tag) != nil:
		return Get(tag)
	}
	return Get(main)
}

// Plain reports whether the language shows words as they are.
func (l *Language) Plain() bool { return l.catalogue == nil }

// Say gives a sentence, or a pattern with its verbs, in the language.
func (l *Language) Say(english string) string {
	if l.Plain() {
		return english
	}
	if p := l.catalogue.exact[english]; p != nil {
		return p.raw
	}
	return l.Text(english)
}

// Text gives a sentence in the language. What it does not know it leaves.
func (l *Language) Text(english string) string {
	if l.Plain() {
		return english
	}
	t, _ := l.look(english)
	return t
}

// Unknown lists the parts of a text in which words stand that no pattern
// explains.
func (l *Language) Unknown(english string) []string {
	if l.Plain() {
		return nil
	}
	_, unknown := l.look(english)
	return unknown
}

// look is Text and Unknown at once, from memory where it can.
func (l *Language) look(english string) (string, []string) {
	if r, ok := l.memory.get(english); ok {
		return r.text, r.unknown
	}
	core := strings.TrimSpace(english)
	if core == "" {
		return english, nil
	}
	s := search{c: l.catalogue, l: l, left: budget, found: map[string]result{}}
	one := strings.Join(strings.Fields(core), " ")
	r := s.find(one)
	if s.left < 0 { // what was found so far may be half of it
		r = result{text: one, unknown: []string{one}, words: prose(one)}
	}
	at := strings.Index(english, core)
	r.text = english[:at] + r.text + english[at+len(core):]
	l.memory.put(english, r)
	return r.text, r.unknown
}

// memory keeps the results of the last few thousand texts in two halves: when
// the younger is full, the older is forgotten.
type memory struct {
	mu         sync.Mutex
	young, old map[string]result
}

// remembered is how many texts a half keeps.
const remembered = 4096

// longest is the longest text worth keeping [byte].
const longest = 1000

func (m *memory) get(key string) (result, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if r, ok := m.young[key]; ok {
		return r, true
	}
	r, ok := m.old[key]
	if ok {
		m.keep(key, r)
	}
	return r, ok
}

func (m *memory) put(key string, r result) {
	if len(key) > longest {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.keep(key, r)
}

func (m *memory) keep(key string, r result) {
	if len(m.young) >= remembered || m.young == nil {
		m.old, m.young = m.young, map[string]result{}
	}
	m.young[strings.Clone(key)] = r
}
