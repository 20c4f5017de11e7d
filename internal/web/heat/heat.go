// Package heat is the pages of heat runs: one is begun when a load goes on,
// takes a reading now and then, and says how hot it will get, when to read next
// and what that allows. Every reading is stored before it is judged.
package heat

import (
	"embed"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/phys/heat"
	"yokemate/prove"
)

//go:embed list.html run.html
var files embed.FS

// List is the page of all heat runs, with a form to begin one.
type List struct {
	Runs    []Card
	Trouble kit.Trouble
	Typed   Typed
	Hookups []string
	Meters  []string
	Classes []string
}

// Card is one heat run in the list.
type Card struct {
	Title, Link, When string
	Mark              say.Mark
}

// Typed is what stands in the form that begins a run.
type Typed struct {
	Title, Hookup, Cold, ColdC, Hottest, Class, Bound, Meter, Ago string
}

// Page is one heat run.
type Page struct {
	Title, Link, When string
	Hookup            string
	HookupLink        string
	Trouble           kit.Trouble
	Mark              say.Mark
	Lead              string
	Why               []string
	Next              string
	NextClock         string
	Ohms              bool
	How               string
	Cold              string
	Typed             Row
	Tables            []say.Table
	Drawing           template.HTML
	Replaced          []string
	Cautions          []string
}

// Row is what stands in the form of a reading.
type Row struct{ Minutes, Shown, Air string }

type pages struct {
	kit  *kit.Kit
	now  func() time.Time
	List *kit.View[List]
	Run  *kit.View[Page]
	say  say.Words
}

// New makes the pages. now is the clock.
func New(k *kit.Kit, now func() time.Time) ([]kit.Route, []*template.Template) {
	p := &pages{kit: k, now: now, List: kit.NewView[List](k, files, "list"), Run: kit.NewView[Page](k, files, "run")}
	return []kit.Route{
		{Pattern: "GET /heatruns", Handler: p.list},
		{Pattern: "POST /heatruns", Handler: p.begin},
		{Pattern: "GET /heatruns/{id}", Handler: p.show},
		{Pattern: "POST /heatruns/{id}/readings", Handler: p.add},
	}, []*template.Template{p.List.Template, p.Run.Template}
}

func link(id int64) string { return "/heatruns/" + strconv.FormatInt(id, 10) }

// when says the moment on the clock of this bench.
func when(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// classes are those a unit may be printed with, the coolest first.
var classes = []string{"A", "E", "B", "F", "H", "N", "R"}

func (p *pages) list(w http.ResponseWriter, r *http.Request) error {
	t := Typed{Hookup: r.FormValue("hookup"), Hottest: "40", Bound: "1", ColdC: "20"}
	if t.Hookup != "" {
		h, err := p.kit.Store.Hookup(r.Context(), t.Hookup)
		if err != nil {
			return err
		}
		s, err := p.kit.Shelf(r.Context())
		if err != nil {
			return err
		}
		t.Title, t.Class = h.Name, lowest(h, s)
	}
	return p.drawList(w, r, http.StatusOK, List{Typed: t})
}

// lowest is the coolest class among the hookup's units; empty where one's is
// not known, which is judged as the coolest in common use.
func lowest(h *yokemate.Hookup, s *yokemate.Shelf) string {
	least := ""
	for _, tag := range h.Tags() {
		u := s.Unit(tag)
		if u == nil || u.ThermalClass == "" {
			return ""
		}
		for _, c := range classes {
			if c == least {
				break
			}
			if c == u.ThermalClass {
				least = c
				break
			}
		}
	}
	return least
}

func (p *pages) drawList(w http.ResponseWriter, r *http.Request, status int, x List) error {
	runs, err := p.kit.Store.HeatLogs(r.Context())
	if err != nil {
		return err
	}
	ms, err := p.kit.Store.Meters(r.Context())
	if err != nil {
		return err
	}
	for i := range runs {
		res, _, err := p.judge(&runs[i], ms)
		if err != nil {
			return err
		}
		x.Runs = append(x.Runs, Card{runs[i].Title, link(runs[i].ID), when(runs[i].Began), p.say.Heat(res.Verdict)})
	}
	hs, err := p.kit.Store.Hookups(r.Context())
	if err != nil {
		return err
	}
	for i := range hs {
		x.Hookups = append(x.Hookups, hs[i].Name)
	}
	for i := range ms {
		x.Meters = append(x.Meters, ms[i].Name)
	}
	x.Classes = classes
	return p.List.Show(w, status, "Heat runs", "hookups", x)
}

// judge says what a run tells so far. Without a reading it tells nothing yet.
func (p *pages) judge(l *yokemate.HeatLog, ms []yokemate.Meter) (*yokemate.HeatRun, *heat.Log, error) {
	m := yokemate.GenericMeter()
	for i := range ms {
		if ms[i].Name == l.Meter || l.Meter == "" && i == 0 {
			m = &ms[i]
		}
	}
	log, err := heat.Of(l, m)
	if err != nil {
		return nil, nil, err
	}
	if len(log.Readings) == 0 {
		return &yokemate.HeatRun{Verdict: string(heat.NotYet)}, log, nil
	}
	res, err := heat.Weigh(*log)
	return res, log, err
}

// begin stores a new run.
func (p *pages) begin(w http.ResponseWriter, r *http.Request) error {
	v := r.PostFormValue
	t := Typed{v("title"), v("hookup"), v("cold"), v("cold_c"), v("hottest"), v("class"), v("bound"), v("meter"), v("ago")}
	l, err := p.log(r, &t)
	if err == nil {
		l, err = p.kit.Store.BeginHeat(r.Context(), l)
	}
	if err == nil {
		return kit.See(w, r, link(l.ID))
	}
	x := List{Typed: t}
	why := err
	if x.Trouble, err = p.kit.Trouble(why); err != nil {
		return err
	}
	return p.drawList(w, r, kit.Status(why), x)
}

func (p *pages) log(r *http.Request, t *Typed) (*yokemate.HeatLog, error) {
	l := &yokemate.HeatLog{Title: strings.TrimSpace(t.Title), Hookup: t.Hookup, Cold: strings.TrimSpace(t.Cold), Class: t.Class, Meter: t.Meter, Began: p.now().UTC()}
	if l.Title == "" {
		return nil, yokemate.Errorf(yokemate.Invalid, "what is loaded", "it is missing").Mend("write what is loaded, and with what")
	}
	if l.Hookup != "" {
		if _, err := p.kit.Store.Hookup(r.Context(), l.Hookup); err != nil {
			return nil, err
		}
	}
	var ago float64
	for _, x := range []struct {
		place, text, unit string
		to                *float64
		must              bool
	}{
		{"its temperature then", t.ColdC, "°C", &l.ColdC, true},
		{"the hottest air", t.Hottest, "°C", &l.HottestC, true},
		{"the thermometer", t.Bound, "K", &l.BoundK, true},
		{"minutes since the load went on", t.Ago, "min", &ago, false},
	} {
		if strings.TrimSpace(x.text) == "" {
			if x.must {
				return nil, yokemate.Errorf(yokemate.Invalid, x.place, "it is missing").Mend("fill it in")
			}
			continue
		}
		v, err := kit.Number(x.place, x.text, x.unit)
		if err != nil {
			return nil, err
		}
		*x.to = v
	}
	if !(ago >= 0 && ago <= 24*60) {
		return nil, yokemate.Errorf(yokemate.Invalid, "minutes since the load went on", "%g min is not within a day", ago).Mend("leave it empty if the load goes on now")
	}
	l.Began = l.Began.Add(-time.Duration(ago * float64(time.Minute)))
	ms, err := p.kit.Store.Meters(r.Context())
	if err != nil {
		return nil, err
	}
	_, _, err = p.judge(l, ms)
	return l, err
}

func (p *pages) run(r *http.Request) (*yokemate.HeatLog, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return nil, yokemate.Errorf(yokemate.NotFound, "", "there is no such heat run").Mend("choose one from the list of heat runs")
	}
	return p.kit.Store.HeatLog(r.Context(), id)
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	l, err := p.run(r)
	if err != nil {
		return err
	}
	// The form begins with the time by the clock and the last air.
	t := Row{Air: say.Plain(l.ColdC)}
	if m := math.Round(p.now().Sub(l.Began).Minutes()); m > 0 && m < 7*24*60 {
		t.Minutes = say.Plain(m)
	}
	if n := len(l.Entries); n > 0 {
		t.Air = say.Plain(l.Entries[n-1].AirC)
	}
	return p.draw(w, r, http.StatusOK, l, t, kit.Trouble{})
}

// add stores one reading. One that the run cannot hold is not taken, and what
// was typed stays.
func (p *pages) add(w http.ResponseWriter, r *http.Request) error {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	l, err := p.run(r)
	if err != nil {
		return err
	}
	t := Row{r.PostFormValue("minutes"), r.PostFormValue("shown"), r.PostFormValue("air")}
	err = p.take(r, l, t)
	if err == nil {
		return kit.See(w, r, link(l.ID))
	}
	trouble, fault := p.kit.Trouble(err)
	if fault != nil {
		return fault
	}
	return p.draw(w, r, kit.Status(err), l, t, trouble)
}

func (p *pages) take(r *http.Request, l *yokemate.HeatLog, t Row) (err error) {
	row := yokemate.HeatRow{Shown: strings.TrimSpace(t.Shown)}
	if row.Minutes, err = kit.Number("minutes", t.Minutes, "min"); err != nil {
		return err
	}
	if row.AirC, err = kit.Number("the air", t.Air, "°C"); err != nil {
		return err
	}
	if err = row.Validate(); err != nil {
		return err
	}
	ms, err := p.kit.Store.Meters(r.Context())
	if err != nil {
		return err
	}
	with := *l
	with.Entries = append(with.Entries[:len(with.Entries):len(with.Entries)], row)
	if _, _, err = p.judge(&with, ms); err != nil {
		return err
	}
	_, err = p.kit.Store.AppendHeat(r.Context(), l.ID, row)
	return err
}

func (p *pages) draw(w http.ResponseWriter, r *http.Request, status int, l *yokemate.HeatLog, t Row, trouble kit.Trouble) error {
	ms, err := p.kit.Store.Meters(r.Context())
	if err != nil {
		return err
	}
	res, _, err := p.judge(l, ms)
	if err != nil {
		return err
	}
	x := Page{Title: l.Title, Link: link(l.ID), When: when(l.Began), Hookup: l.Hookup, Trouble: trouble, Mark: p.say.Heat(res.Verdict),
		Ohms: l.Cold != "", How: p.say.HeatHow(), Cold: l.Cold, Typed: t, Cautions: prove.Cautions()}
	if l.Hookup != "" {
		x.HookupLink = "/hookups/" + url.PathEscape(l.Hookup)
	}
	if len(res.Readings) == 0 {
		x.Lead = "Nothing was read yet."
		x.Next = "Read first after ten minutes; four readings make a curve."
		return p.Run.Show(w, status, "Heat run: "+l.Title, "hookups", x)
	}
	x.Lead, x.Why, x.Next = p.say.HeatLead(res), p.say.HeatWhy(res), p.say.HeatNext(res)
	if res.NextS != nil {
		x.NextClock = l.Began.Add(time.Duration(*res.NextS * float64(time.Second))).Local().Format("15:04")
	}
	x.Tables = p.say.HeatTables(res)
	for i, e := range l.Entries {
		for _, later := range l.Entries[i+1:] {
			if later.Minutes == e.Minutes {
				x.Replaced = append(x.Replaced, say.Plain(e.Minutes)+" min: "+e.Shown)
				break
			}
		}
	}
	scene, err := figure.Heat(res, figure.Options{})
	if err != nil {
		return err
	}
	if x.Drawing, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "heat-"}); err != nil {
		return err
	}
	return p.Run.Show(w, status, "Heat run: "+l.Title, "hookups", x)
}
