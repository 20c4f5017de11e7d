package find

import (
	"strconv"
	"strings"
)

// op says how a part is made of others.
type op byte

const (
	leaf     op = iota // a section of one unit
	series             // kids end to end, the voltages adding
	parallel           // kids side by side, like ends together
)

// part is an arrangement of sections between two ends, the dotted side first.
type part struct {
	op   op
	unit int // place in the search's units, of a leaf
	sec  *section
	rev  bool // turned round: it opposes
	kids []*part
}

func seriesOf(kids ...*part) *part { return join(series, kids) }

func parallelOf(kids ...*part) *part { return join(parallel, kids) }

// join makes one part of several; a kid of the same kind is taken apart, so
// that each arrangement has one tree only.
func join(o op, kids []*part) *part {
	p := &part{op: o}
	for _, k := range kids {
		if k.op == o && !k.rev {
			p.kids = append(p.kids, k.kids...)
		} else {
			p.kids = append(p.kids, k)
		}
	}
	return p
}

// turned is p the other way round.
func (p *part) turned() *part {
	q := *p
	q.rev = !p.rev
	return &q
}

// place is where the first unit of the part stands on the shelf.
func (p *part) place() int {
	for p.op != leaf {
		p = p.kids[0]
	}
	return p.unit
}

// leaves calls f for every section of p.
func (p *part) leaves(f func(*part)) {
	if p.op == leaf {
		f(p)
		return
	}
	for _, k := range p.kids {
		k.leaves(f)
	}
}

// text identifies the arrangement by places in the shelf, for the last word
// between equals and to tell hookups apart.
func (p *part) text(b *strings.Builder) {
	if p.rev {
		b.WriteByte('-')
	}
	if p.op == leaf {
		b.WriteString(strconv.Itoa(p.unit))
		b.WriteByte(':')
		b.WriteString(strconv.Itoa(p.sec.no))
		return
	}
	b.WriteByte("?+|"[p.op])
	b.WriteByte('(')
	for _, k := range p.kids {
		k.text(b)
		b.WriteByte(' ')
	}
	b.WriteByte(')')
}

// say puts the arrangement into words.
func (p *part) say(s *search, what string) string {
	if p.op == leaf {
		ids := make([]string, len(p.sec.path))
		for i, st := range p.sec.path {
			ids[i] = s.units[p.unit].facts.Windings[st.w].ID
		}
		word := what
		if len(ids) > 1 {
			word = plural(what)
		}
		return s.units[p.unit].facts.Tag + " " + word + " " + strings.Join(ids, "–")
	}
	var words []string
	for _, k := range p.kids {
		w := k.say(s, what)
		if k.op != leaf {
			w = "(" + w + ")"
		}
		if k.rev {
			w += " reversed"
		}
		words = append(words, w)
	}
	text := strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
	if p.op == parallel {
		return text + " in parallel"
	}
	return text + " in series"
}

func plural(what string) string {
	if s, ok := strings.CutSuffix(what, "y"); ok {
		return s + "ies"
	}
	return what + "s"
}
