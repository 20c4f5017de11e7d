package shelf

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"yokemate"
	"yokemate/identify"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/si"
)

// BenchPage is what holds for everything done at this bench: its mains, the
// sources at hand, and the meters.
type BenchPage struct {
	Trouble kit.Trouble
	Mains   Mains
	Meters  []Meter
	Classes []Class
	New     NewMeter
	Takes   bool // the first meter takes the plain numbers of the shelf over
}

// Mains is the form of the bench.
type Mains struct {
	Volts, Low, High, Hertz, Source string
	NoAmpere                        bool
	Said                            bool // it is stored
}

// Meter is a meter with its ranges.
type Meter struct {
	Name, Words string
	First       bool
	Ranges      kit.Table
}

// Class is a kind of meter that many benches have.
type Class struct{ Value, Words string }

// NewMeter is the form of a meter.
type NewMeter struct {
	Name, Class, Leads, Counts string
	TrueRMS                    string
	Sheet                      []Sheet
}

// Sheet is what a data sheet says of one quantity.
type Sheet struct {
	Quantity         yokemate.Quantity
	Words, Unit      string
	Ranges, Accuracy string // as typed
}

// sheetQuantities are those that a data sheet is asked for.
var sheetQuantities = []yokemate.Quantity{yokemate.VoltsAC, yokemate.Ohms, yokemate.AmpsAC, yokemate.Millivolts, yokemate.VoltsDC}

func benchWords(b *yokemate.Bench) string {
	return "Mains " + say.Plain(b.Volts) + " V, " + say.Plain(b.Hertz) + " Hz"
}

func (p *pages) bench(w http.ResponseWriter, r *http.Request) error {
	b, err := p.kit.Store.Bench(r.Context())
	if err != nil {
		return err
	}
	return p.drawBench(w, r, http.StatusOK, BenchPage{Mains: mainsOf(b)})
}

func mainsOf(b *yokemate.Bench) Mains {
	if b == nil {
		return Mains{Volts: "230", Hertz: "50", Source: "12"}
	}
	text := func(v float64) string {
		if v == 0 {
			return ""
		}
		return say.Plain(v)
	}
	return Mains{text(b.Volts), text(b.Low), text(b.High), text(b.Hertz), text(b.SourceVolts), b.NoAmpere, true}
}

func (p *pages) drawBench(w http.ResponseWriter, r *http.Request, status int, x BenchPage) error {
	s, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	for i := range s.Meters {
		x.Meters = append(x.Meters, meterOf(&s.Meters[i], i == 0))
	}
	x.Takes = len(s.Meters) == 0 && len(s.Units) > 0
	for _, m := range identify.Presets() {
		x.Classes = append(x.Classes, Class{m.Name, classWords(&m)})
	}
	if x.New.Sheet == nil {
		x.New = NewMeter{Counts: "2000", Sheet: blankSheet()}
	}
	return p.Bench.Show(w, status, "The bench", "shelf", x)
}

// classWords says a class by what its data sheet says of AC volts and ohms.
func classWords(m *yokemate.Meter) string {
	reads := "average"
	if m.TrueRMS {
		reads = "true rms"
	}
	var parts []string
	for _, q := range []yokemate.Quantity{yokemate.VoltsAC, yokemate.Ohms} {
		i := slices.IndexFunc(m.Ranges, func(r yokemate.Range) bool { return r.Quantity == q })
		r := m.Ranges[i]
		parts = append(parts, fmt.Sprintf("%s ±(%s %% + %s)", say.Words{}.Quantity(q), say.Plain(r.Percent), say.Plain(r.Counts)))
	}
	r := m.Ranges[0]
	return fmt.Sprintf("%.0f counts, %s, %s", r.Max/r.Resolution, reads, strings.Join(parts, ", "))
}

func blankSheet() (list []Sheet) {
	for _, q := range sheetQuantities {
		list = append(list, Sheet{Quantity: q, Words: say.Words{}.Quantity(q), Unit: q.Unit()})
	}
	return list
}

func meterOf(m *yokemate.Meter, first bool) Meter {
	x := Meter{Name: m.Name, First: first, Words: "average, scaled for a sine"}
	if m.TrueRMS {
		x.Words = "true rms"
	}
	if m.LeadOhms > 0 {
		x.Words += ", leads " + si.Format(m.LeadOhms, "Ω", 2)
	}
	x.Ranges = kit.Table{Caption: "Ranges", Heads: []string{"range", "full scale", "one count", "accuracy"}}
	for _, r := range m.Ranges {
		x.Ranges.Row(say.Words{}.Quantity(r.Quantity), say.InUnit(r.Max, r.Quantity), say.InUnit(r.Resolution, r.Quantity), "±("+say.Plain(r.Percent)+" % + "+say.Plain(r.Counts)+")")
	}
	return x
}

// troubled shows the page again with why it was not taken.
func (p *pages) troubled(w http.ResponseWriter, r *http.Request, x BenchPage, why error) error {
	var err error
	if x.Trouble, err = p.kit.Trouble(why); err != nil {
		return err
	}
	return p.drawBench(w, r, kit.Status(why), x)
}

// setBench takes what holds at the bench.
func (p *pages) setBench(w http.ResponseWriter, r *http.Request) error {
	v := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	t := Mains{v("volts"), v("low"), v("high"), v("hertz"), v("source"), v("no_ampere") != "", false}
	b := &yokemate.Bench{NoAmpere: t.NoAmpere}
	for _, x := range []struct {
		place, text, unit string
		must              bool
		into              *float64
	}{{"the mains", t.Volts, "V", true, &b.Volts}, {"the lowest mains", t.Low, "V", false, &b.Low}, {"the highest mains", t.High, "V", false, &b.High},
		{"the frequency", t.Hertz, "Hz", true, &b.Hertz}, {"the low source", t.Source, "V", false, &b.SourceVolts}} {
		if x.text == "" && !x.must {
			continue
		}
		var err error
		if *x.into, err = kit.Number(x.place, x.text, x.unit); err != nil {
			return p.troubled(w, r, BenchPage{Mains: t}, err)
		}
	}
	if err := p.kit.Store.PutBench(r.Context(), b); err != nil {
		return p.troubled(w, r, BenchPage{Mains: t}, err)
	}
	return kit.See(w, r, "/bench")
}

// addMeter takes a meter: one of a class, with what its data sheet says in the
// place of the class's ranges.
func (p *pages) addMeter(w http.ResponseWriter, r *http.Request) error {
	v := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	t := NewMeter{Name: v("name"), Class: v("class"), Leads: v("leads"), Counts: v("counts"), TrueRMS: v("rms"), Sheet: blankSheet()}
	for i := range t.Sheet {
		x := &t.Sheet[i]
		x.Ranges, x.Accuracy = v("ranges_"+string(x.Quantity)), v("accuracy_"+string(x.Quantity))
	}
	m, err := t.meter()
	if err == nil {
		err = p.kit.Store.AddMeter(r.Context(), m)
	}
	if err != nil {
		why := err
		b, err := p.kit.Store.Bench(r.Context())
		if err != nil {
			return err
		}
		return p.troubled(w, r, BenchPage{New: t, Mains: mainsOf(b)}, why)
	}
	return kit.See(w, r, "/bench#meters")
}

func (t *NewMeter) meter() (*yokemate.Meter, error) {
	presets := identify.Presets()
	i := slices.IndexFunc(presets, func(m yokemate.Meter) bool { return m.Name == t.Class })
	if i < 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "the meter", "no class was chosen").Mend("choose the class that comes nearest; the data sheet, where there is one, goes before it")
	}
	m := presets[i]
	m.Name = t.Name
	switch t.TrueRMS {
	case "yes":
		m.TrueRMS = true
	case "no":
		m.TrueRMS = false
	}
	var err error
	if t.Leads != "" {
		if m.LeadOhms, err = kit.Number("the probes", t.Leads, "Ω"); err != nil {
			return nil, err
		}
	}
	for _, x := range t.Sheet {
		if x.Ranges == "" && x.Accuracy == "" {
			continue
		}
		ranges, err := x.ranges(t.Counts)
		if err != nil {
			return nil, err
		}
		m.Ranges = append(slices.DeleteFunc(m.Ranges, func(r yokemate.Range) bool { return r.Quantity == x.Quantity }), ranges...)
	}
	return &m, m.Validate("the meter")
}

// ranges reads a line of a data sheet: the full scales and one accuracy. One
// count is the power of ten that lets the display reach full scale.
func (x *Sheet) ranges(counts string) (list []yokemate.Range, err error) {
	full, err := kit.Number("the counts", counts, "")
	if err != nil || !(full >= 100 && full <= 1e7) {
		return nil, yokemate.Errorf(yokemate.Invalid, "the counts", "%q is no number of counts of a display", counts).Mend("a display that goes to 1999 has 2000 counts")
	}
	percent, digits, err := accuracy(x.Words, x.Accuracy)
	if err != nil {
		return nil, err
	}
	for _, word := range strings.FieldsFunc(x.Ranges, func(c rune) bool { return c == ' ' || c == ';' }) {
		v, err := kit.Number(x.Words, word, x.Unit)
		if err != nil {
			return nil, err
		}
		if !(v > 0) {
			return nil, yokemate.Errorf(yokemate.Invalid, x.Words, "%q is no full scale", word).Mend("list the ranges with spaces, such as 2 20 200")
		}
		list = append(list, yokemate.Range{Quantity: x.Quantity, Max: v, Resolution: math.Pow(10, math.Ceil(math.Log10(v/full)-1e-9)), Percent: percent, Counts: digits})
	}
	if len(list) == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, x.Words, "its ranges are missing").Mend("list the full scales with spaces, such as 2 20 200")
	}
	return list, nil
}

// accuracy reads percent and counts as a manual writes them.
func accuracy(place, text string) (percent, counts float64, err error) {
	bad := yokemate.Errorf(yokemate.Invalid, place, "%q is not percent and counts", text).Mend("write it as in 0.8 %% + 3")
	a, b, ok := strings.Cut(strings.NewReplacer("±", "", "(", "", ")", "").Replace(text), "+")
	if !ok {
		return 0, 0, bad
	}
	if percent, err = kit.Number(place, strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(a), "%")), ""); err != nil {
		return 0, 0, bad
	}
	b = strings.TrimSpace(b)
	for _, word := range []string{"counts", "count", "digits", "digit", "d"} {
		b = strings.TrimSpace(strings.TrimSuffix(b, word))
	}
	if counts, err = kit.Number(place, b, ""); err != nil || percent < 0 || counts < 0 || percent > 50 {
		return 0, 0, bad
	}
	return percent, counts, nil
}
