// Package unit is the page of one transformer: its pins as they are seen, the
// facts with their uncertainty, every reading, and the reading that would tell
// most, ready to be filled in.
package unit

import (
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"yokemate"
	"yokemate/identify"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/supply"
)

//go:embed unit.html identify.html identify.css photo.html photo.css photo.js
var files embed.FS

// Page is what the template shows.
type Page struct {
	Tag, Link  string
	Origin     string
	Away       string // why it is in quarantine
	Drawing    template.HTML
	NoLoad     template.HTML // its no-load current against volts, where enough was read
	Over       bool          // turned over
	Windings   kit.Table
	Facts      kit.Table
	Given      bool // there are facts and no readings
	Found      *Found
	Readings   kit.Table
	Quantities []Choice
	Ends       []string // where a probe can go
	Trouble    kit.Trouble
	Typed      Typed
	Label      Label
	Kinds      []Choice // of cores
	Sides      []Choice // windings the label's mains may stand on
	Count      int      // of readings: a form that was sent twice is known by it
	Photos     []Overlay
	PhotoName  string // as typed
	LabelOpen  bool   // nothing is known of the label yet, or the form has trouble
	Lamp       *Lamp  // nil where no lamp can be told
}

// Lamp is the series lamp for first power, and what its glow tells.
type Lamp struct {
	Words  string
	Notes  []yokemate.Note
	Tables []kit.Table
}

// Typed is what was typed into the form for a reading of one's own.
type Typed struct{ Quantity, From, To, Value, Celsius string }

// Choice is one entry of a list.
type Choice struct{ Value, Words string }

// Found is what the readings tell in short, and what to read next.
type Found struct {
	Sure     string // how sure the likeliest alternative is
	Words    string // the likeliest alternative
	Settled  bool
	Notes    []yokemate.Note
	Next     string
	CanStore bool
}

// Next is the reading that tells most.
type Next struct {
	Key      string
	Do, Why  string
	Unit     string
	Source   bool // a source feeds the unit, whose volts are written down too
	SourceV  string
	Power    bool // something drives current or volts into the unit
	Expect   []string
	Cautions []string
	Ohms     bool
	Kick     bool
	Long     bool // a long text is set smaller, so that drawing and answer stay in sight
}

type pages struct {
	kit    *kit.Kit
	View   *kit.View[Page]
	Asking *kit.View[Asking]
	Photo  *kit.View[PhotoPage]

	making sync.Mutex // one picture at a time is in memory
}

// maxShown is how many photos a unit's page shows.
const maxShown = 24

// Views are the templates of the pages.
type Views struct {
	Unit   *kit.View[Page]
	Asking *kit.View[Asking]
	Photo  *kit.View[PhotoPage]
}

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, Views) {
	p := &pages{kit: k, View: kit.NewView[Page](k, files, "unit"), Asking: kit.NewView[Asking](k, files, "identify"), Photo: kit.NewView[PhotoPage](k, files, "photo")}
	return []kit.Route{
		{Pattern: "GET /units/{tag}", Handler: p.show},
		{Pattern: "POST /units/{tag}/readings", Handler: p.add},
		{Pattern: "POST /units/{tag}/label", Handler: p.label},
		{Pattern: "GET /units/{tag}/identify", Handler: p.asked},
		{Pattern: "POST /units/{tag}/sitting", Handler: p.sit},
		{Pattern: "POST /units/{tag}/wanted", Handler: p.wanted},
		{Pattern: "POST /units/{tag}/correct", Handler: p.correct},
		{Pattern: "POST /units/{tag}/facts", Handler: p.settle},
		{Pattern: "POST /units/{tag}/photos", Handler: p.attach},
		{Pattern: "GET /units/{tag}/photos/{id}", Handler: p.photo},
		{Pattern: "GET /units/{tag}/photos/{id}/picture", Handler: p.picture},
		{Pattern: "POST /units/{tag}/photos/{id}/marks", Handler: p.mark},
		{Pattern: "POST /units/{tag}/photos/{id}/remove", Handler: p.detach},
	}, Views{p.View, p.Asking, p.Photo}
}

func (p *pages) unit(r *http.Request) (*yokemate.Unit, *yokemate.Shelf, error) {
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return nil, nil, err
	}
	tag := r.PathValue("tag")
	u := s.Unit(tag)
	if u == nil {
		return nil, nil, yokemate.Errorf(yokemate.NotFound, tag, "there is no such unit on the shelf")
	}
	return u, s, nil
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	u, s, err := p.unit(r)
	if err != nil {
		return err
	}
	return p.draw(w, r, http.StatusOK, u, s, Page{})
}

func (p *pages) draw(w http.ResponseWriter, r *http.Request, status int, u *yokemate.Unit, s *yokemate.Shelf, x Page) error {
	x.Tag, x.Link, x.Origin = u.Tag, link(u.Tag), u.Origin
	if u.Quarantined() {
		x.Away = u.Reason
	}
	x.Over = r.FormValue("side") == "over"
	bench, err := p.kit.Store.Bench(r.Context())
	if err != nil {
		return err
	}
	switch found, err := identify.Identify(u, s.Meters, options(bench, nil, nil)); {
	case err == nil:
		x.Found = foundOf(u, found)
	case yokemate.ErrorCode(err) == yokemate.Internal:
		return err
	}
	scene, err := figure.Pins(u, figure.PinOptions{TurnedOver: x.Over})
	if err != nil {
		return err
	}
	if x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "u-"}); err != nil {
		return err
	}
	if scene, ok, err := figure.Excitation(u, figure.Options{}); err != nil {
		return err
	} else if ok {
		if x.NoLoad, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "e-"}); err != nil {
			return err
		}
	}
	if x.Photos, err = p.overlays(r, u.Tag, figure.PhotoOptions{}, maxShown, func(*yokemate.Photo) bool { return true }); err != nil {
		return err
	}
	if x.Label == (Label{}) {
		x.Label = labelOf(u)
		x.LabelOpen = u.Mains == nil && len(u.Readings) == 0
	} else {
		x.LabelOpen = true
	}
	x.Kinds = coreKinds(x.Label.Kind)
	if len(u.Windings) > 0 {
		for _, c := range sides(u) {
			x.Sides = append(x.Sides, Choice{strings.Join(c, "+"), strings.Join(c, " and ")})
		}
	}
	x.Windings, x.Facts = facts(u, s.Meter())
	switch first, err := supply.FirstPower(network.Compile(&yokemate.Shelf{Format: s.Format, Meters: s.Meters, Units: []yokemate.Unit{*u}}), u.Tag); {
	case err == nil:
		var w say.Words
		x.Lamp = &Lamp{w.FirstLamp(first), first.Notes, w.Lamps(first)}
	case yokemate.ErrorCode(err) == yokemate.Internal:
		return err
	}
	x.Given = len(u.Readings) == 0 && len(u.Windings) > 0
	x.Readings, x.Count = readings(u), len(u.Readings)
	for _, q := range []yokemate.Quantity{yokemate.Ohms, yokemate.VoltsAC, yokemate.Millivolts, yokemate.AmpsAC, yokemate.Watts, yokemate.Megohms, yokemate.VoltsDC, yokemate.Celsius} {
		x.Quantities = append(x.Quantities, Choice{string(q), say.Words{}.Quantity(q)})
	}
	x.Ends = append(u.AllPins(), yokemate.CorePin)
	if x.Typed.To == "" && len(x.Ends) > 1 {
		x.Typed.To = x.Ends[1]
	}
	return p.View.Show(w, status, "Unit "+x.Tag, "shelf", x)
}

func link(tag string) string { return "/units/" + url.PathEscape(tag) }

// facts lists what is known, each value with its uncertainty.
func facts(u *yokemate.Unit, m *yokemate.Meter) (ws, un kit.Table) {
	ws = kit.Table{Caption: "Windings", Heads: []string{"winding", "pins, start end first", "volts, no load", "ohms at 20 °C", "may carry", "own leakage"}}
	for i := range u.Windings {
		x := &u.Windings[i]
		name := x.ID
		if u.MainsSide(x.ID) {
			name += " (mains side)"
		}
		leak := "not known"
		if x.LeakageMH.Known() {
			leak = x.LeakageMH.Digits + " mH"
		}
		ws.Row(name, x.Pins[0]+", "+x.Pins[1], kit.Known(x.Volts, yokemate.VoltsAC, "V", m), kit.Known(x.Ohms, yokemate.Ohms, "Ω", m), kit.Known(x.Amps, "", "A", m), leak)
	}
	un = kit.Table{Caption: "The unit"}
	switch x := u.Mains; {
	case x != nil && len(x.Series) == 0:
		un.Row("Mains", say.Plain(x.Volts)+" V, "+say.Plain(x.Hertz)+" Hz by the label; on which pins is not known yet")
	case x != nil:
		un.Row("Mains", say.Plain(x.Volts)+" V, "+say.Plain(x.Hertz)+" Hz, on "+strings.Join(x.Series, " and "))
	default:
		un.Row("Mains", "not known: its rating is unknown until a label or its idle current settles it")
	}
	un.Row("Rating", kit.Known(u.VA, "", "VA", m))
	if u.ThermalClass != "" {
		un.Row("Thermal class", u.ThermalClass)
	}
	if c := u.Core; c != nil {
		var parts []string
		add := func(name string, v yokemate.Value, unit string) {
			if v.Known() {
				parts = append(parts, name+" "+v.Digits+" "+unit)
			}
		}
		if c.Kind != "" {
			parts = append(parts, c.Kind)
		}
		add("limb", c.LimbMM, "mm")
		add("stack", c.StackMM, "mm")
		add("mass", c.MassG, "g")
		un.Row("Core", strings.Join(parts, ", "))
	}
	for _, e := range u.Excitation {
		un.Row("Idle at "+e.Volts.Digits+" V, "+say.Plain(e.Hertz)+" Hz on "+strings.Join(e.Series, " and "),
			kit.Known(e.Amps, yokemate.AmpsAC, "A", m)+"; "+kit.Known(e.Watts, yokemate.Watts, "W", m))
	}
	for _, t := range u.Insulation {
		text := kit.Known(t.Megohms, yokemate.Megohms, "MΩ", m)
		if t.TestVolts > 0 {
			text += " at " + say.Plain(t.TestVolts) + " V"
		}
		if t.WorkingVolts > 0 {
			text += "; may stand " + say.Plain(t.WorkingVolts) + " V in use"
		}
		un.Row("Insulation "+t.From+" to "+t.To, text)
	}
	return ws, un
}

func readings(u *yokemate.Unit) kit.Table {
	t := kit.Table{Caption: "Readings, newest first", Heads: []string{"id", "from", "to", "shown", "when"}}
	for _, x := range slices.Backward(u.Readings) {
		shown := x.Value
		if _, err := yokemate.Read(x.Value); err == nil {
			shown += " " + x.Quantity.Unit()
		}
		id := x.ID
		if x.Supersedes != "" {
			id += ", in place of " + x.Supersedes
		}
		when := ""
		if !x.At.IsZero() {
			when = x.At.Format("2006-01-02 15:04")
		}
		t.Row(id, x.From, x.To, strings.TrimSpace(shown)+" "+say.Words{}.Quantity(x.Quantity), when)
	}
	return t
}

func foundOf(u *yokemate.Unit, f *yokemate.Identification) *Found {
	x := &Found{Settled: f.Certain, CanStore: f.Shelf != nil && len(u.Readings) > 0}
	if len(u.Readings) > 0 {
		x.Notes = say.Graver(f.Notes)
	}
	if len(f.Open) > 0 && f.Open[0].Probability >= 0.5 {
		x.Sure, x.Words = say.Words{}.Chance(f.Open[0].Probability), f.Open[0].Words
	}
	if f.Next != nil {
		x.Next = f.Next.Do
	}
	return x
}

// add stores a reading of one's own choice.
func (p *pages) add(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	u, s, err := p.unit(r)
	if err != nil {
		return err
	}
	t := Typed{r.PostFormValue("quantity"), r.PostFormValue("from"), r.PostFormValue("to"), r.PostFormValue("value"), strings.TrimSpace(r.PostFormValue("celsius"))}
	x, err := t.reading(u)
	if n := len(u.Readings); err == nil && r.PostFormValue("count") != strconv.Itoa(n) {
		if n > 0 && alike(u.Readings[n-1], x) {
			return kit.See(w, r, link(u.Tag)+"#readings") // the form was sent twice
		}
		err = yokemate.Errorf(yokemate.Conflict, u.Tag, "another reading was stored meanwhile, and this one was not").Mend("look at the readings, and send it again if it is wanted")
	}
	if err == nil {
		_, err = p.kit.Store.AddReading(r.Context(), u.Tag, x)
	}
	if err != nil {
		return p.again(w, r, u, s, Page{Typed: t}, err)
	}
	return kit.See(w, r, link(u.Tag)+"#readings")
}

// alike reports whether two readings say the same.
func alike(a, b yokemate.Reading) bool {
	same := a.Celsius == nil && b.Celsius == nil || a.Celsius != nil && b.Celsius != nil && *a.Celsius == *b.Celsius
	return same && a.Quantity == b.Quantity && a.From == b.From && a.To == b.To && a.Value == b.Value
}

func (p *pages) again(w http.ResponseWriter, r *http.Request, u *yokemate.Unit, s *yokemate.Shelf, x Page, why error) error {
	var err error
	if x.Trouble, err = p.kit.Trouble(why); err != nil {
		return err
	}
	return p.draw(w, r, kit.Status(why), u, s, x)
}

func (t *Typed) reading(u *yokemate.Unit) (yokemate.Reading, error) {
	r := yokemate.Reading{Quantity: yokemate.Quantity(t.Quantity), From: t.From, To: t.To}
	for _, end := range []string{t.From, t.To} {
		if end != yokemate.CorePin && !slices.Contains(u.AllPins(), end) {
			return r, yokemate.Errorf(yokemate.NotFound, u.Tag, "there is no pin %q", end).Mend("choose a pin, or core")
		}
	}
	if t.From == t.To {
		return r, yokemate.Errorf(yokemate.Invalid, u.Tag, "both probes are on %s", t.From).Mend("choose two different places")
	}
	var err error
	if r.Value, err = shown(r.Quantity, t.Value); err != nil {
		return r, err
	}
	if t.Celsius != "" {
		c, err := kit.Number("temperature", t.Celsius, "°C")
		if err != nil {
			return r, err
		}
		r.Celsius = &c
	}
	return r, nil
}

// shown is a reading for the log, where unsure has no place.
func shown(q yokemate.Quantity, text string) (string, error) {
	v, err := say.Typed("the reading", q, text)
	if err == nil && v == "unsure" {
		err = yokemate.Errorf(yokemate.Invalid, "the reading", "unsure is no reading").Mend("leave it out, or ask for another")
	}
	return v, err
}
