package teach

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/prove"
	"yokemate/si"
)

//go:embed teach.html
var pageHTML string

//go:embed teach.css
var pageCSS string

//go:embed teach.js
var pageJS string

var page = template.Must(template.New("page").Parse(pageHTML))

// sheet is what the template shows.
type sheet struct {
	Name, Title string
	Policy      string
	Style       template.CSS
	Script      template.JS
	Lesson      template.JS
	Parts       template.HTML
	Drawing     template.HTML // of the right wiring
	Gap         bool
	Low         bool // there is a low source
	Forbidden   bool // the right wiring itself does harm
	Units       []unitLeads
	Sources     []sourceTable
	Rectifier   *sourceTable  // of its slips; nil: nothing is rectified
	Built       template.HTML // the finished hookup, with its rectifier
	Loaded      bool          // an output of the AC side has a load
	Cautions    []string
}

// unitLeads are the leads of one unit that may be moved.
type unitLeads struct {
	Tag      string
	Windings []windingLeads
}

type windingLeads struct {
	Name  string
	Leads []leadButton
}

// leadButton is one pin.
type leadButton struct {
	Index int
	Pin   string
	Start bool
	Side  string
	Drawn string // its id in the drawing
}

// sourceTable is all wirings on one source.
type sourceTable struct {
	Name  string
	Near  string // how far a guess of the volts may always be off [V]
	Heads []head
	Rows  []row
}

// head is the head of a column: of an output, or of no name.
type head struct {
	Output, Words string
	After         bool // of what follows when the last joint is closed
}

type row struct {
	Key, Value     string
	Slip           string // what is wrong in a rectifier, in the place of a change
	Floats         bool   // a lead hangs free on a secondary
	Change         change
	Cells          [][]words
	Class, Verdict string
}

// change is a wiring's, ready for the template.
type change struct {
	Change
	Moves int
}

// words are a piece of a cell: text, or a name that no language changes.
type words struct {
	Words, Name string
	Small       bool
}

// HTML writes the page. It is the same bytes each time.
func (l *Lesson) HTML() ([]byte, error) {
	x := sheet{Name: l.Hookup.Name, Style: template.CSS(style()), Script: template.JS(pageJS), Gap: l.Last.gap, Low: len(l.Sources) > 1,
		Forbidden: l.Wirings[0].States[0].Verdict == Harmful, Cautions: prove.Cautions()}
	if x.Name == "" {
		x.Name = strings.Join(l.Hookup.Tags(), ", ")
	}
	x.Title = "Where does each lead go? " + x.Name
	x.Policy = fmt.Sprintf("default-src 'none'; style-src '%s'; script-src '%s'; img-src data:; base-uri 'none'; form-action 'none'", hash(string(x.Style)), hash(pageJS))
	d, err := l.drawings()
	if err != nil {
		return nil, err
	}
	x.Drawing = d.markup(d.Open[l.Wirings[0].Key])
	if x.Lesson, err = d.names(); err != nil {
		return nil, err
	}
	x.Parts = d.parts()
	x.Units = l.buttons()
	for i := range l.Sources {
		x.Sources = append(x.Sources, l.table(i))
	}
	if x.Rectifier = l.rectifierTable(); x.Rectifier != nil {
		if x.Built, err = l.built(); err != nil {
			return nil, err
		}
	}
	x.Loaded = slices.ContainsFunc(l.Hookup.Outputs, func(o yokemate.Output) bool { return o.Load != nil })
	var b bytes.Buffer
	if err := page.Execute(&b, x); err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "the page cannot be written", Err: err}
	}
	return b.Bytes(), nil
}

// hash is how a policy names what may be in the page.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// style is the page's, with the colours of the drawings.
func style() string {
	var b strings.Builder
	colours := func(before string, t draw.Theme, after string) {
		b.WriteString(before)
		for _, x := range []struct {
			name string
			role draw.Role
		}{{"ground", draw.Panel}, {"paper", draw.Paper}, {"ink", draw.Ink}, {"soft", draw.Soft}, {"grid", draw.Grid}, {"accent", draw.Accent},
			{"stop", draw.StopState}, {"caution", draw.CautionState}, {"go", draw.GoState}, {"on-state", draw.OnState}, {"on-caution", draw.OnCaution}} {
			c := x.role.RGB(t)
			fmt.Fprintf(&b, "--%s:#%02x%02x%02x;", x.name, c.R, c.G, c.B)
		}
		b.WriteString(after)
	}
	colours(":root{color-scheme:light dark;", draw.Light, "}\n")
	colours("@media (prefers-color-scheme:dark){:root{", draw.Dark, "}}\n")
	colours("@media print{:root{", draw.Print, "}}\n")
	return b.String() + pageCSS + svg.Stylesheet()
}

func (l *Lesson) buttons() []unitLeads {
	var all []unitLeads
	for i, x := range l.Leads {
		tag, pin, _ := yokemate.SplitPin(x.Pin)
		if n := len(all); n == 0 || all[n-1].Tag != tag {
			all = append(all, unitLeads{Tag: tag})
		}
		u := &all[len(all)-1]
		if n := len(u.Windings); n == 0 || u.Windings[n-1].Name != x.Winding {
			u.Windings = append(u.Windings, windingLeads{Name: x.Winding})
		}
		w := &u.Windings[len(u.Windings)-1]
		side := "out"
		if x.Mains {
			side = "mains"
		}
		w.Leads = append(w.Leads, leadButton{i, x.Pin, x.Start, side, figure.ID("pin", tag, pin)})
	}
	return all
}

// table writes what all wirings read and do on one source.
func (l *Lesson) table(source int) sourceTable {
	s := &l.Sources[source]
	f := s.feed[0]
	t := sourceTable{Name: "mains of " + f.Volts.Digits + " V"}
	if s.Low {
		t.Name = "low source of " + f.Volts.Digits + " V"
	}
	meter := "meter across the last gap"
	if !l.Last.gap {
		meter = "meter across the output"
	}
	t.Heads = []head{{Words: meter}}
	for _, o := range l.Hookup.Outputs {
		t.Heads = append(t.Heads, head{Output: o.Name, Words: "nothing drawn"})
	}
	t.Heads = append(t.Heads, head{Words: "amps from the source"})
	for _, o := range l.Hookup.Outputs {
		drawn := "with its load"
		if s.Low || l.rectified(o.Name) {
			drawn = "joint closed, nothing drawn"
		}
		t.Heads = append(t.Heads, head{o.Name, drawn, true})
	}
	t.Heads = append(t.Heads, head{Words: "amps from the source then", After: true}, head{Words: "winding that suffers most, and how much of what it may carry", After: true},
		head{Words: "what happens", After: true}, head{Words: "verdict", After: true})
	most := 0.0
	for i := range l.Wirings {
		w := &l.Wirings[i]
		x := &w.States[source]
		r := row{Key: w.Key, Change: change{w.Change, w.Change.moves()}, Cells: l.cells(x)}
		if x.Open != nil {
			v := x.Open.Meter.Value
			most = max(most, v)
			r.Value = strconv.FormatFloat(v, 'g', 4, 64)
		}
		if w.Change.Off != "" {
			k := slices.IndexFunc(l.Leads, func(y Lead) bool { return y.Pin == w.Change.Off })
			r.Floats = !l.Leads[k].Mains
		}
		r.Class, r.Verdict = x.Verdict.words()
		t.Rows = append(t.Rows, r)
	}
	t.Near = strconv.FormatFloat(0.02*most, 'g', 3, 64)
	return t
}

// words are a verdict's class and word. The class gives the colour and the
// shape.
func (v Verdict) words() (class, word string) {
	switch v {
	case Works:
		return "go", "Right"
	case Harmful:
		return "stop", "Wrong, and it does harm"
	}
	return "caution", "Wrong, but nothing burns"
}

// least is what a meter at hand shows as nothing [V or A].
var least = map[string]float64{"V": 5e-4, "A": 5e-5}

// about formats a reading to three digits, and says where it is none.
func about(v float64, unit string) string {
	if math.Abs(v) < least[unit] {
		return "about 0 " + unit
	}
	return si.Format(v, unit, 3)
}

// cells are a row's, but for its verdict.
func (l *Lesson) cells(x *State) [][]words {
	f := about
	one := func(text string) []words { return []words{{Words: text}} }
	known := func(all [][]words, outputs []float64, amps float64) [][]words {
		for _, v := range outputs {
			all = append(all, one(f(v, "V")))
		}
		return append(all, one(f(amps, "A")))
	}
	unknown := func(all [][]words) [][]words {
		for range len(l.Hookup.Outputs) + 1 {
			all = append(all, one("not known"))
		}
		return all
	}
	var all [][]words
	if x.Open == nil {
		all = unknown([][]words{one("not known")})
	} else {
		m := x.Open.Meter
		all = known([][]words{{{Words: f(m.Value, "V")}, {Words: si.FormatInterval(m.Low, m.High, "V"), Small: true}}}, x.Open.Outputs, x.Open.Amps)
	}
	if x.Closed == nil {
		all = unknown(all)
	} else {
		var volts []float64
		for _, o := range x.Closed.Outputs {
			volts = append(volts, o.Volts)
		}
		amps := 0.0
		for _, y := range x.Closed.Feed {
			amps = max(amps, y.Amps)
		}
		all = known(all, volts, amps)
	}
	return append(all, worst(x.Closed), l.happens(x))
}

// worst is the winding that is pressed hardest for what it may carry.
func worst(p *yokemate.Prediction) []words {
	if p == nil {
		return []words{{Words: "not known"}}
	}
	var most *yokemate.WindingState
	used := 0.0
	for i := range p.Windings {
		if w := &p.Windings[i]; w.LimitAmps != nil && *w.LimitAmps > 0 && w.Amps / *w.LimitAmps >= used {
			most, used = w, w.Amps / *w.LimitAmps
		}
	}
	if most == nil {
		return []words{{Words: "not known"}}
	}
	return pressed(most.Unit+"/"+most.ID, most.Amps, used)
}

// pressed says what a winding carries, and how much that is of what it may.
func pressed(name string, amps, used float64) []words {
	return []words{{Name: name}, {Words: about(amps, "A")}, {Words: strconv.FormatFloat(100*used, 'f', 0, 64) + " %", Small: true}}
}

// happens says what follows from closing the joint, fuse first.
func (l *Lesson) happens(x *State) []words {
	if x.Closed == nil || x.Open == nil {
		return []words{{Words: "The wiring contradicts itself: take it for a dead short."}}
	}
	var all []words
	say := func(format string, args ...any) {
		all = append(all, words{Words: fmt.Sprintf(format, args...)})
	}
	f := si.Format
	if c := x.Follows; c != nil {
		switch {
		case c.FuseOpens == "yes":
			say("The fuse opens after %s at most.", f(*c.OpensS, "s", 2))
		case c.FuseOpens == "unsure":
			say("The fuse may open too late.")
		case c.LimitS != nil:
			say("The fuse does not open.")
		}
		if c.LimitS != nil {
			say("A winding is too hot after %s.", f(*c.LimitS, "s", 2))
		}
	}
	if why := x.stop(); why != "" {
		say("%s.", strings.TrimSuffix(why, "."))
	}
	if len(all) == 0 {
		say("Nothing is overloaded.")
	}
	return all
}
