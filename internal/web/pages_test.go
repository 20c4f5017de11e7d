package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"yokemate"
	"yokemate/find"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/predict"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

// The numbers on the page are those of the prediction, formatted by the same
// calls that the command line makes.
func TestHookupNumbers(t *testing.T) {
	b := newBench(t, true)
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	hs, err := b.store.Hookups(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i := range hs {
		h := &hs[i]
		for _, level := range []yokemate.MainsLevel{yokemate.Low, yokemate.Nominal, yokemate.High} {
			p, err := predict.Hookup(network.Compile(s.Only(h)), h, level, predict.Options{})
			if err != nil {
				t.Fatal(err)
			}
			at := "/hookups/" + url.PathEscape(h.Name) + "?mains=" + string(level)
			page := b.page(at)
			cells := map[string]bool{}
			for _, e := range parse(t, at, page) {
				if e.name == "td" {
					cells[e.text.String()] = true
				}
			}
			var want []string
			for _, o := range p.Outputs {
				want = append(want, si.Format(o.Volts, "V", 3), si.Format(o.Amps, "A", 3), say.Words{}.Within(o.Low, o.High, "V"))
			}
			for _, w := range p.Windings {
				want = append(want, si.Format(w.Volts, "V", 3), si.Format(w.Amps, "A", 3), say.Words{}.Within(w.Low, w.High, "A"), si.Format(w.Watts, "W", 2))
			}
			for _, f := range p.Feed {
				want = append(want, si.Format(f.Amps, "A", 3), si.Format(f.Watts, "W", 3), si.Format(f.VA, "VA", 3))
			}
			for _, j := range p.Joints {
				want = append(want, si.Format(j.Volts, "V", 3), say.Words{}.Within(j.Low, j.High, "V"))
			}
			for _, x := range want {
				if !cells[x] {
					t.Errorf("%s: no cell says %q", at, x)
				}
			}
			said := text(page)
			for _, n := range p.Notes {
				if !strings.Contains(said, string(n.Code)) {
					t.Errorf("%s: the note %s is missing", at, n.Code)
				}
			}
		}
	}
}

// A slip is shown as what it is not: the hookup. It cannot be proved, and what
// closing on it does is told.
func TestSlipIsNotTheHookup(t *testing.T) {
	b := newBench(t, true)
	at := "/hookups/rope%20lights?slip=reversed:F2/A"
	page := b.page(at)
	said := text(page)
	for _, want := range []string{"What if: F2/A reversed.", "This is not the hookup", "This must not be powered", "If closed", "Closed on it"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, "/proofs\"") && strings.Contains(page, "Start a proof") {
		t.Error("a slip can be proved")
	}
	for _, bad := range []string{"?slip=reversed:Z9/A", "?mains=middle", "?lead=F1.5&with=F1.5", "?lead=Q.5", "?with=F1.5", "?lead=F1.5&with=Q.1", "?move=F1.5", "?move=F1.5,F1.5"} {
		if code, body, _ := b.get("/hookups/rope%20lights" + bad); code != http.StatusUnprocessableEntity && code != http.StatusNotFound {
			t.Errorf("%s: status %d\n%s", bad, code, text(body))
		} else {
			checkPage(t, bad, body)
		}
	}
	if code, _, _ := b.get("/hookups/none"); code != http.StatusNotFound {
		t.Errorf("status %d", code)
	}
}

// From a need typed into the form to a stored hookup: the first offer on the
// page is the search's first, and taking it twice stores it once.
func TestNeedToHookup(t *testing.T) {
	b := newBench(t, true)
	code, at, body := b.post("/needs", "name", "lamp / shop", "kind", "ac", "volts", "12", "amps", "1,8", "within", "6", "feed", "230", "hertz", "50", "fuse", "250m", "fuse_kind", "T", "rails", "1")
	if code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	n, err := b.store.Need(t.Context(), "lamp / shop")
	if err != nil {
		t.Fatal(err)
	}
	if n.Volts != 12 || n.Amps != 1.8 || n.Tolerance != 0.06 || n.Feed.FuseAmps != 0.25 || n.Feed.FuseKind != "T" {
		t.Errorf("stored %+v", n)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	f, err := find.Find(network.Compile(s), n, find.Options{})
	if err != nil {
		t.Fatal(err)
	}
	page := b.page(at)
	checkPage(t, at, page)
	said := text(page)
	if len(f.Offers) == 0 || !strings.Contains(said, "1. "+f.Offers[0].Hookup.Name) || !strings.Contains(said, si.Format(f.Offers[0].FullLoad, "V", 3)) {
		t.Errorf("the page says\n%s", said)
	}
	for _, r := range f.Refusals {
		if !strings.Contains(said, string(r.Why)) {
			t.Errorf("the refusal %s is missing", r.Why)
		}
	}
	before, err := b.store.Hookups(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	key := hidden(t, page, at+"/take", "offer")
	var to string
	for range 2 {
		if code, to, body = b.post(at+"/take", "offer", key); code != http.StatusSeeOther {
			t.Fatalf("status %d\n%s", code, text(body))
		}
	}
	after, err := b.store.Hookups(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(after) != len(before)+1 {
		t.Errorf("%d hookups after %d", len(after), len(before))
	}
	checkPage(t, to, b.page(to))
	if code, _, body := b.post(at+"/take", "offer", "0000"); code != http.StatusConflict {
		t.Errorf("status %d\n%s", code, text(body))
	}
	// A need that says otherwise under a name that is taken is not stored.
	if code, _, _ := b.post("/needs", "name", "lamp / shop", "kind", "ac", "volts", "13", "amps", "1", "feed", "230", "hertz", "50"); code != http.StatusConflict {
		t.Errorf("status %d", code)
	}
	// A DC need goes the same way, as far as its hookup.
	if code, at, body = b.post("/needs", "name", "radio", "kind", "dc", "volts", "15", "amps", "0,3", "feed", "230", "hertz", "50", "regulated", "yes"); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	page = b.page(at)
	checkPage(t, at, page)
	if said := text(page); !strings.Contains(said, "15.00 V regulated DC at 300 mA") {
		t.Errorf("the page says\n%s", said)
	}
	if code, to, body = b.post(at+"/take", "offer", hidden(t, page, at+"/take", "offer")); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	page = b.page(to)
	checkPage(t, to, page)
	if said := text(page); !strings.Contains(said, "Rails") {
		t.Errorf("the page of a rectified offer says\n%s", said)
	}
	checkPage(t, to, b.page(to+"/limits"))
	for _, bad := range []string{"", "twelve", "-3", "5000"} {
		code, _, body := b.post("/needs", "name", "x", "kind", "ac", "volts", bad, "amps", "1", "feed", "230", "hertz", "50")
		if code != http.StatusUnprocessableEntity {
			t.Errorf("%q: status %d", bad, code)
		}
		checkPage(t, bad, body)
	}
}

// A unit that is known by its pins alone: the page asks for a reading, takes it
// with comma or point, and asks for the next.
func TestUnitFromItsPins(t *testing.T) {
	b := newBench(t, false)
	code, at, body := b.post("/units", "tag", "T1", "pins", "1, 2 5,6")
	if code != http.StatusSeeOther || at != "/units/T1" {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	page := b.page(at + "/identify")
	checkPage(t, at, page)
	if code, _, body = b.post(at+"/sitting", "leads", "0,3", "celsius", "21"); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	page = b.page(at + "/identify")
	checkPage(t, at, page)
	key, count := hidden(t, page, at+"/wanted", "key"), hidden(t, page, at+"/wanted", "count")
	for range 2 { // sent twice, it is kept once
		if code, _, body = b.post(at+"/wanted", "key", key, "count", count, "value", "318,6"); code != http.StatusSeeOther {
			t.Fatalf("status %d\n%s", code, text(body))
		}
	}
	page = b.page(at + "/identify")
	if next := hidden(t, page, at+"/wanted", "key"); next == key {
		t.Error("the same reading is asked for again")
	}
	page = b.page(at)
	checkPage(t, at, page)
	count = hidden(t, page, at+"/readings", "count")
	for range 2 {
		if code, _, body = b.post(at+"/readings", "count", count, "quantity", "ohms", "from", "5", "to", "6", "value", "1.27", "celsius", "21"); code != http.StatusSeeOther {
			t.Fatalf("status %d\n%s", code, text(body))
		}
	}
	if code, _, _ = b.post(at+"/readings", "count", count, "quantity", "ohms", "from", "5", "to", "6", "value", "1.31"); code != http.StatusConflict {
		t.Errorf("a stale form: status %d", code)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	rs := s.Unit("T1").Readings
	if len(rs) != 2 || rs[0].Value != "318.6" || rs[0].LeadOhms != 0.3 || *rs[0].Celsius != 21 || rs[1].Value != "1.27" || *rs[1].Celsius != 21 {
		t.Errorf("stored %+v", rs)
	}
	for _, bad := range [][]string{{"5", "5", "1"}, {"5", "9", "1"}, {"5", "6", "many"}, {"5", "6", "unsure"}, {"5", "6", "12 V"}} {
		code, _, body := b.post(at+"/readings", "count", "2", "quantity", "ohms", "from", bad[0], "to", bad[1], "value", bad[2])
		if code != http.StatusUnprocessableEntity && code != http.StatusNotFound {
			t.Errorf("%v: status %d", bad, code)
		}
		checkPage(t, strings.Join(bad, " "), body)
	}
	if code, _, _ = b.post("/units", "tag", "T1", "pins", "1 2"); code != http.StatusUnprocessableEntity {
		t.Errorf("a tag that is taken: status %d", code)
	}
}

// A rectified hookup is predicted with its rails, each slip of its rectifier
// has its readings, and it is proved.
func TestRectified(t *testing.T) {
	b := newBench(t, true)
	h, err := b.store.Hookup(t.Context(), "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	h = h.Clone()
	h.Name = "rope lights, DC"
	h.Outputs[0].Load, h.Outputs[0].DC = nil, &yokemate.DC{Rectifier: "bridge", Farads: 0.0047, Amps: 0.5}
	if err := b.store.PutHookup(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	p, err := supply.Predict(network.Compile(s.Only(h)), h, yokemate.Nominal, predict.Options{})
	if err != nil {
		t.Fatal(err)
	}
	at := "/hookups/rope%20lights,%20DC"
	page := b.page(at)
	checkPage(t, at, page)
	said := text(page)
	for _, want := range []string{"Rails", si.Format(p.Rails[0].Mean, "V", 4), si.Format(p.Rails[0].Ripple, "V", 3), "Start a proof"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q\n%s", want, said)
		}
	}
	facts := network.Compile(s.Only(h))
	plan, err := prove.New(facts, h, prove.Options{})
	if err != nil {
		t.Fatal(err)
	}
	proof, err := plan.Proof()
	if err != nil {
		t.Fatal(err)
	}
	bare := h.Clone()
	bare.Outputs[0].DC = nil
	inside, before := 0, 0
	for _, code := range plan.Slips() {
		page := b.page(at + "?slip=" + url.QueryEscape(code))
		checkPage(t, code, page)
		drawing, said := page[strings.Index(page, "<svg"):strings.Index(page, "</svg>")], text(page)
		if !strings.Contains(said, "What if: "+say.Words{}.Slip(code)) {
			t.Errorf("%s: the page says\n%s", code, said)
		}
		w, ok, err := plan.Wired(h, code)
		if err != nil || !ok {
			t.Fatal(code, ok, err)
		}
		if w.Turn == nil { // of the AC side: as predicted before the rectifier is joined
			before++
			if w, ok, err = plan.Wired(bare, code); err != nil || !ok {
				t.Fatal(code, ok, err)
			}
			p, err := predict.Hookup(facts, w.State, yokemate.Nominal, predict.Options{Network: w.Options})
			if err != nil {
				t.Fatal(err)
			}
			if want := si.Format(p.Outputs[0].Volts, "V", 3); !strings.Contains(said, "out "+want+" at ") || strings.Contains(drawing, `class="diode"`) {
				t.Errorf("%s: the page does not say %s, or draws a diode\n%s", code, want, said)
			}
			continue
		}
		inside++
		fault := w.Faults[0].Words
		if n := strings.Count(drawing, ">"+fault+"</text>"); n != 1 {
			t.Errorf("%s: %q stands in the drawing %d times", code, fault, n)
		}
		// What stands at the terminals is what the steps read.
		for id, when := range map[string]string{"ohms-out": "unplugged: ", "lamp-out": "behind the lamp: ", "idle-out": "nothing drawn: ", "load-out": "loaded: ", "ripple-out": "ripple: "} {
			step := &proof.Steps[slices.IndexFunc(proof.Steps, func(s yokemate.Step) bool { return s.ID == id })]
			k := slices.IndexFunc(step.Slips, func(z yokemate.Slip) bool { return z.Code == code })
			var g say.Group
			if k >= 0 {
				g = say.One(step, &step.Slips[k])
			}
			if shown := strings.Contains(drawing, ">"+when); shown != (k >= 0 && !g.Hidden) {
				t.Errorf("%s: the drawing has what %s reads: %v", code, id, shown)
			} else if shown && !strings.Contains(drawing, ">"+when+say.Words{}.Reads(&g)+"</text>") {
				t.Errorf("%s: %s reads %s, which the drawing has not\n%s", code, id, say.Words{}.Reads(&g), drawing)
			}
		}
	}
	if inside != 10 || before < 10 { // two for each diode, one for the reservoir, one for the leads
		t.Errorf("%d slips of the rectifier, %d of the AC side", inside, before)
	}
	if code, to, _ := b.post(at + "/proofs"); code != http.StatusSeeOther || !strings.HasPrefix(to, "/proofs/") {
		t.Errorf("status %d", code)
	}
}

// The limits are those of the card, with its words; what must not be powered
// has none, whatever the card would say.
func TestLimits(t *testing.T) {
	b := newBench(t, true)
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	h, err := b.store.Hookup(t.Context(), "rope lights")
	if err != nil {
		t.Fatal(err)
	}
	c, err := supply.Limits(network.Compile(s.Only(h)), h, supply.CardOptions{Heat: thermal.Options{AmbientC: 40}})
	if err != nil {
		t.Fatal(err)
	}
	at := "/hookups/rope%20lights/limits"
	page := b.page(at)
	checkPage(t, at, page)
	said := text(page)
	o := c.Outputs[0]
	for _, want := range []string{si.Format(o.Amps, "A", 3), o.LimitedBy, si.Format(o.DutyAmps, "A", 3) + " for 25 %", si.Format(o.NoLoad, "V", 3), say.Words{}.Fuse(c.FuseKind, c.PrimaryFuse) + " in the live wire", "Before you touch anything"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q\n%s", want, said)
		}
	}
	for _, name := range []string{"odd pair", "rope lights, F2 turned"} {
		at := "/hookups/" + url.PathEscape(name) + "/limits"
		page := b.page(at)
		checkPage(t, at, page)
		if said := text(page); !strings.Contains(said, "it must not be powered as it stands") || strings.Contains(page, "<table") || strings.Contains(page, "<svg") {
			t.Errorf("%s: the page says\n%s", name, said)
		}
	}
}
