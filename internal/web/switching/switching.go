// Package switching is the page of a hookup in time: what it draws when it is
// switched on, how its currents, volts and fluxes run, and where a slip leads
// until a fuse opens or a winding is too hot. Each is a form that asks and, below
// it, what the engine answers.
package switching

import (
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/prove"
	"yokemate/switching"
)

//go:embed time.html
var files embed.FS

// Page is what the template shows.
type Page struct {
	Name, Link string
	Level      string
	Levels     []Choice
	On         *On    // nil: not asked
	Waves      *Waves // nil: not asked
	Fault      *Fault // nil: not asked
	Trouble    kit.Trouble
	Asked      string // on, waves or fault: where the trouble belongs
	Degrees    string // as typed
	Left       string // as typed
	Names      []Choice
	Slips      []Choice
	Whole      bool
	Cold       bool
	Cautions   []string
}

// Choice is a link or an entry of a list.
type Choice struct {
	Value, Words, Link string
	Now                bool
}

// Chart is a drawing with what it shows.
type Chart struct {
	Drawing template.HTML
	Words   string
}

// On is what a switch-on came to.
type On struct {
	Lead   string
	Charts []Chart
	Tables []say.Table
	Fuses  []Fuse
}

// Fuse is what one fuse makes of it.
type Fuse struct{ Name, Why string }

// Waves is what steady waves came to.
type Waves struct {
	Charts []Chart
	Notes  []yokemate.Note
	Tables []say.Table
}

// Fault is what a slip came to.
type Fault struct {
	Words, Where, Lead, Protects string
	Mark                         say.Mark
	Charts                       []Chart
	Tables                       []say.Table
}

type pages struct {
	kit    *kit.Kit
	View   *kit.View[Page]
	say    say.Words
	listed kit.Memo[string, listed]
	on     kit.Memo[string, *yokemate.SwitchOn]
	waves  kit.Memo[string, *yokemate.Waves]
	plans  kit.Memo[string, *switching.Faults]
	faults kit.Memo[string, *yokemate.Fault]
}

// listed is what the lists of the forms hold.
type listed struct{ waves, slips []string }

// New returns the routes.
func New(k *kit.Kit) ([]kit.Route, *kit.View[Page]) {
	p := &pages{kit: k, View: kit.NewView[Page](k, files, "time"), faults: kit.Memo[string, *yokemate.Fault]{Most: 64}}
	return []kit.Route{{Pattern: "GET /hookups/{name}/time", Handler: p.show}}, p.View
}

// bench is a hookup with all that an answer about it depends on.
type bench struct {
	h     *yokemate.Hookup
	f     *network.Facts
	shelf *yokemate.Shelf
	level yokemate.MainsLevel
	key   string
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	shelf, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	b := bench{h: h, shelf: shelf.Only(h), level: yokemate.MainsLevel(r.FormValue("mains"))}
	switch b.level {
	case "":
		b.level = yokemate.Nominal
	case yokemate.Low, yokemate.Nominal, yokemate.High:
	default:
		return yokemate.Errorf(yokemate.Invalid, "mains", "%q is not low, nominal or high", b.level)
	}
	b.f = network.Compile(b.shelf)
	if b.key, err = kit.Key(h, b.shelf); err != nil {
		return err
	}
	lists, err := p.listed.Get(b.key, func() (z listed, err error) {
		if z.waves, err = switching.WaveNames(b.f, h); err != nil {
			return z, err
		}
		z.slips, err = switching.Slips(b.f, h)
		return z, err
	})
	if err != nil {
		return err
	}
	back := "/hookups/" + url.PathEscape(h.Name)
	x := Page{Name: h.Name, Link: back, Level: string(b.level), Asked: r.FormValue("ask"), Degrees: r.FormValue("degrees"), Left: r.FormValue("left"),
		Whole: r.FormValue("whole") != "", Cold: r.FormValue("cold") != "", Cautions: prove.Cautions()}
	if x.Asked == "" {
		x.Asked = "waves"
	}
	of, slip := r.FormValue("of"), r.FormValue("slip")
	if of == "" {
		of = lists.waves[0]
	}
	for _, n := range lists.waves {
		x.Names = append(x.Names, Choice{Value: n, Words: n, Now: n == of})
	}
	for _, c := range lists.slips {
		x.Slips = append(x.Slips, Choice{Value: c, Words: p.say.Slip(c), Now: c == slip})
	}
	for _, l := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
		q := r.URL.Query()
		q.Set("mains", string(l))
		x.Levels = append(x.Levels, Choice{Words: say.Title(string(l)) + " " + say.Plain(h.Feed[0].At(l)) + " V", Link: back + "/time?" + q.Encode(), Now: l == b.level})
	}
	switch x.Asked {
	case "on":
		x.On, err = p.switchOn(b, x.Degrees, x.Left)
	case "waves":
		x.Waves, err = p.steady(b, of)
	case "fault":
		x.Fault, err = p.follow(b, slip, x.Whole, x.Cold)
	default:
		return yokemate.Errorf(yokemate.Invalid, "ask", "%q is none of the questions", x.Asked).Mend("use the forms of the page")
	}
	status := http.StatusOK
	if err != nil {
		if x.Trouble, err = p.kit.Trouble(err); err != nil {
			return err
		}
		status = http.StatusUnprocessableEntity
	}
	return p.View.Show(w, status, h.Name+" in time", "hookups", x)
}

// number reads a field that may be empty.
func number(place, text, unit string) (*float64, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	v, err := kit.Number(place, text, unit)
	return &v, err
}

func (p *pages) switchOn(b bench, degrees, left string) (*On, error) {
	o := switching.OnOptions{Mains: b.level}
	var err error
	if o.Degrees, err = number("the point on the wave", strings.TrimSuffix(strings.TrimSpace(degrees), "°"), ""); err != nil {
		return nil, err
	}
	if o.Remanence, err = number("the flux left", left, ""); err != nil {
		return nil, err
	}
	r, err := p.on.Get(strings.Join([]string{string(b.level), degrees, left, b.key}, "\n"), func() (*yokemate.SwitchOn, error) { return switching.On(b.f, b.h, o) })
	if err != nil {
		return nil, err
	}
	x := &On{Lead: p.say.SwitchOn(b.h, r), Tables: p.say.SwitchOnTables(r)}
	for _, u := range r.Fuses {
		x.Fuses = append(x.Fuses, Fuse{u.Fuse, u.Why})
	}
	amps := "Current from the mains in the first periods"
	if x.Charts, err = drawn(r.Curves.StepS, r.Curves.Curves, map[string]string{"A": amps, "": "Flux of the cores in the first periods"}); err != nil {
		return nil, err
	}
	return x, nil
}

func (p *pages) steady(b bench, of string) (*Waves, error) {
	r, err := p.waves.Get(strings.Join([]string{string(b.level), of, b.key}, "\n"), func() (*yokemate.Waves, error) {
		return switching.Steady(b.f, b.h, switching.WaveOptions{Mains: b.level, Of: []string{of}})
	})
	if err != nil {
		return nil, err
	}
	x := &Waves{Notes: r.Notes, Tables: p.say.WaveTables(r)}
	var curves []yokemate.Curve
	for _, w := range r.Waves {
		curves = append(curves, yokemate.Curve{Of: w.Of, Unit: w.Unit, Values: w.Values})
	}
	const words = "One period of the steady wave"
	x.Charts, err = drawn(r.StepS, curves, map[string]string{"A": words, "V": words, "": words})
	return x, err
}

func (p *pages) follow(b bench, slip string, whole, cold bool) (*Fault, error) {
	o := switching.FaultOptions{Mains: b.level, Cold: cold}
	key := string(b.level)
	if whole {
		o.Step = switching.Whole
		key += " whole"
	}
	if cold {
		key += " cold"
	}
	plan, err := p.plans.Get(b.key, func() (*switching.Faults, error) { return switching.NewFaults(b.f, b.h) })
	if err != nil {
		return nil, err
	}
	r, err := p.faults.Get(strings.Join([]string{key, slip, b.key}, "\n"), func() (*yokemate.Fault, error) { return plan.Follow(slip, o) })
	if err != nil {
		return nil, err
	}
	x := &Fault{Words: say.Sentence(r.Words), Where: p.say.FaultWhere(b.h, r), Lead: p.say.FaultLead(r), Protects: r.Protects, Mark: p.say.Event(r.Event), Tables: p.say.FaultTables(r)}
	// The plug's current and those of the two windings that end hottest.
	hot := hottest(r)
	curves := []yokemate.Curve{r.Curves.Curves[0]}
	feeds := len(r.Curves.Curves) - len(r.Windings)
	w := figure.WarmLines{}
	for _, m := range r.Track {
		w.Seconds = append(w.Seconds, m.Seconds)
	}
	for n, i := range hot[:min(3, len(hot))] {
		if n < 2 {
			curves = append(curves, r.Curves.Curves[feeds+i])
		}
		l := figure.WaveLine{Name: r.Windings[i].Winding}
		if r.Windings[i].Shorted {
			l.Name += " ×" // its shorted turns, as the table below says
		}
		for _, m := range r.Track {
			l.Values = append(l.Values, m.Celsius[i])
		}
		w.Lines = append(w.Lines, l)
	}
	w.LimitC = r.Windings[hot[0]].LimitC
	if x.Charts, err = drawn(r.Curves.StepS, curves, map[string]string{"A": "Currents in the first periods: the plug's and those of the hottest windings"}); err != nil {
		return nil, err
	}
	scene, err := figure.Warming(w, figure.Options{})
	if err != nil {
		return nil, err
	}
	warm, err := chart(scene, "w-", "The hottest windings until then")
	x.Charts = append(x.Charts, warm)
	return x, err
}

// hottest orders a fault's windings by how near their limit, or how far past it, they end.
func hottest(r *yokemate.Fault) []int {
	var order []int
	for i := range r.Windings {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if x, y := r.Windings[a].Celsius-r.Windings[a].LimitC, r.Windings[b].Celsius-r.Windings[b].LimitC; x > y {
			return -1
		} else if x < y {
			return 1
		}
		return 0
	})
	return order
}

// drawn makes a chart of the curves of each unit that is spoken of, three at most.
func drawn(step float64, curves []yokemate.Curve, words map[string]string) ([]Chart, error) {
	var list []Chart
	for _, unit := range []string{"A", "V", ""} {
		l := figure.WaveLines{Unit: unit, StepS: step}
		for _, c := range curves {
			if c.Unit == unit && len(l.Lines) < 3 {
				_, name, _ := strings.Cut(c.Of, " ")
				l.Lines = append(l.Lines, figure.WaveLine{Name: name, Values: c.Values})
			}
		}
		if len(l.Lines) == 0 || words[unit] == "" {
			continue
		}
		scene, err := figure.Waves(l, figure.Options{})
		if err != nil {
			return nil, err
		}
		c, err := chart(scene, map[string]string{"A": "a-", "V": "v-", "": "f-"}[unit], words[unit])
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, nil
}

func chart(s draw.Scene, prefix, words string) (Chart, error) {
	d, err := kit.Drawing(s, svg.InlineOptions{Prefix: prefix})
	return Chart{d, words}, err
}
