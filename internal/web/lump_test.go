package web

import (
	"bytes"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"yokemate"
	"yokemate/identify"
)

// shelved is a unit as the store has it.
func (b *bench) shelved(tag string) *yokemate.Unit {
	b.t.Helper()
	s, err := b.store.Shelf(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	u := s.Unit(tag)
	if u == nil {
		b.t.Fatalf("there is no unit %s", tag)
	}
	return u
}

// took posts a form that is to be taken, and returns where it leads.
func (b *bench) took(path string, form ...string) string {
	b.t.Helper()
	code, at, body := b.post(path, form...)
	if code != http.StatusSeeOther {
		b.t.Fatalf("%s %v: status %d\n%s", path, form, code, text(body))
	}
	return at
}

// refusedForm posts a form that is not to be taken, and holds the page to what
// it keeps and says.
func (b *bench) refusedForm(path string, status int, wants []string, form ...string) {
	b.t.Helper()
	code, _, body := b.post(path, form...)
	if code != status {
		b.t.Errorf("%s %v: status %d, want %d\n%s", path, form, code, status, text(body))
	}
	checkPage(b.t, path, body)
	for _, w := range wants {
		if !strings.Contains(body, w) {
			b.t.Errorf("%s %v: the page lacks %q", path, form, w)
		}
	}
}

// lump is a unit of two plain windings and a tapped one, as a meter sees it. Its
// ohms are those between the probes with 0.2 Ω of leads, its volts those at 12.10 V
// on pins 1 and 2: closed form.
type lump struct{}

func (lump) ohms(a, b string) string {
	at := map[string][2]float64{"1": {0, 0}, "2": {0, 318.4}, "5": {1, 0}, "6": {1, 4.3}, "7": {2, 0}, "8": {2, 2.1}, "9": {2, 4.5}}
	x, y := at[a], at[b]
	if x[0] != y[0] {
		return "open"
	}
	return strings.Replace(fixed(max(x[1]-y[1], y[1]-x[1])+0.2, 1), ".", ",", 1)
}

func (lump) volts(w *yokemate.WantedReading) string {
	at := map[string]float64{"1": 12.1, "2": 0, "5": 0.9, "6": 0, "7": 1.25, "8": 0.62, "9": 0}
	v := at[w.From] - at[w.To]
	if len(w.Joined) == 2 {
		v = at[w.From] - at[w.Joined[0]] + at[w.Joined[1]] - at[w.To]
	}
	return fixed(max(v, -v), 2)
}

// The whole way in the browser, from a lump with bare pins to facts on the shelf:
// the bench, the unit, its label, once a sitting the leads, one reading after the
// other with the server dying between them, and the label's mains on the side
// that the readings tell.
func TestFromLumpToFacts(t *testing.T) {
	b := newBench(t, false)
	if said := text(b.page("/")); !strings.Contains(said, "The shelf is empty") {
		t.Errorf("an empty shelf says\n%s", said)
	}
	b.took("/bench", "volts", "230", "hertz", "50", "source", "12")
	b.took("/meters", "name", "bench meter", "class", "cheap-2000", "leads", "0,2")
	at := b.took("/units", "tag", "T1", "pins", "1 2 / 5 6 7 8 9", "origin", "paging amplifier")
	b.took(at+"/label", "label_volts", "230", "label_hertz", "50", "va", "6", "class", "B", "kind", "EI", "limb", "16", "stack", "20", "origin", "paging amplifier", "near", "1 2", "far", "5 6 7 8 9")
	u := b.shelved("T1")
	if u.Mains == nil || u.Mains.Volts != 230 || len(u.Mains.Series) > 0 || u.VA.V != 6 || u.Core.StackMM.V != 20 || len(u.PinRows) != 2 {
		t.Fatalf("stored %+v", u)
	}
	page := b.page(at + "/identify")
	checkPage(t, "sitting", page)
	if !strings.Contains(page, "Touch the probes together") {
		t.Errorf("the leads are not asked for:\n%s", text(page))
	}
	b.took(at+"/sitting", "leads", "0,2", "celsius", "21")
	shelf, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var lump lump
	for n := 0; ; n++ {
		if n > 40 {
			t.Fatal("the readings have no end")
		}
		f, err := identify.Identify(b.shelved("T1"), shelf.Meters, identify.Options{SourceVolts: 12, Hertz: 50})
		if err != nil {
			t.Fatal(err)
		}
		page := b.page(at + "/identify")
		checkPage(t, at, page)
		if f.Next == nil {
			break
		}
		w := f.Next
		if got := hidden(t, page, at+"/wanted", "key"); got != identify.Key(w) {
			t.Fatalf("the page asks for %s, the engine for %s", got, identify.Key(w))
		}
		for _, p := range []string{w.From, w.To} {
			if p != yokemate.CorePin && !strings.Contains(page, "probe on pin "+p) {
				t.Errorf("the drawing shows no probe on pin %s", p)
			}
		}
		for _, c := range w.Cautions {
			if !strings.Contains(html.UnescapeString(text(page)), c) {
				t.Errorf("the page lacks the caution %q", c)
			}
		}
		if n == 2 { // unsure: nothing is stored, another is asked for, and a reload asks the same
			to := b.took(at+"/wanted", "key", identify.Key(w), "say", "unsure")
			first := b.page(to)
			if got := hidden(t, first, at+"/wanted", "key"); got == identify.Key(w) {
				t.Error("what cannot be read is asked for again")
			}
			b.restart()
			if again := b.page(to); again != first {
				t.Error("after the server died the page is another")
			}
			if len(b.shelved("T1").Readings) != n {
				t.Error("unsure was stored")
			}
		}
		form := []string{"key", identify.Key(w)}
		switch w.Quantity {
		case yokemate.Ohms:
			v := "open"
			if w.To != yokemate.CorePin {
				v = lump.ohms(w.From, w.To)
			}
			if v == "open" {
				form = append(form, "say", "open")
			} else {
				form = append(form, "value", v)
			}
		case yokemate.Millivolts:
			v := strings.Replace(lump.ohms(w.From, w.To), ",", ".", 1)
			x, err := yokemate.Read(v)
			if err != nil {
				t.Fatal(err)
			}
			form = append(form, "value", fixed(1000*(x.V-0.2), 0))
		case yokemate.VoltsAC:
			b.refusedForm(at+"/wanted", http.StatusUnprocessableEntity, []string{"its volts are missing", `value="7,77"`}, append(slices.Clone(form), "value", "7,77")...)
			form = append(form, "value", lump.volts(w), "source", "12,10")
		default:
			t.Fatalf("it asks for %s", w.Quantity)
		}
		b.took(at+"/wanted", form...)
		if n%5 == 3 {
			b.restart()
		}
	}
	u = b.shelved("T1")
	for _, r := range u.Readings {
		copper := r.Quantity == yokemate.Ohms && r.To != yokemate.CorePin
		if copper != (r.LeadOhms == 0.2) || copper && *r.Celsius != 21 {
			t.Errorf("reading %+v goes with other leads", r)
		}
	}
	page = b.page(at + "/identify")
	said := text(page)
	for _, want := range []string{"What can be told is known", "pins 1–2 certain", "pins 5–6 certain", "Put these facts on the shelf"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q\n%s", want, said)
		}
	}
	// Which winding the label stands on is the person's word.
	b.refusedForm(at+"/facts", http.StatusUnprocessableEntity, []string{"which winding the label"}, "label_volts", "230", "label_hertz", "50")
	b.refusedForm(at+"/facts", http.StatusUnprocessableEntity, []string{`value="volts"`}, "label_volts", "volts", "label_hertz", "50", "side_of", "P")
	b.refusedForm(at+"/facts", http.StatusUnprocessableEntity, nil, "label_volts", "230", "label_hertz", "50", "side_of", "Z")
	b.took(at+"/facts", "label_volts", "230", "label_hertz", "50", "side_of", "P")
	u = b.shelved("T1")
	if len(u.Windings) != 4 || u.Mains == nil || !slices.Equal(u.Mains.Series, yokemate.Series{"P"}) || u.Winding("P").Pins != [2]string{"1", "2"} {
		t.Errorf("on the shelf: %+v, mains %+v", u.Windings, u.Mains)
	}
	checkPage(t, at, b.page(at))
}

func fixed(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }

// A reading is corrected by a further one; the old one stays in the log.
func TestCorrect(t *testing.T) {
	b := newBench(t, false)
	at := b.took("/units", "tag", "T1", "pins", "4")
	b.took(at+"/sitting", "say", "unsure")
	b.took(at+"/wanted", "key", hidden(t, b.page(at+"/identify"), at+"/wanted", "key"), "value", "318.6")
	page := b.page(at + "/identify?correct=r1")
	checkPage(t, at, page)
	if said := text(page); !strings.Contains(said, "You wrote 318.6 Ω") {
		t.Errorf("the page says\n%s", said)
	}
	b.refusedForm(at+"/correct", http.StatusUnprocessableEntity, []string{`value="many"`}, "correct", "r1", "value", "many")
	for range 2 { // sent twice, it is kept once
		b.took(at+"/correct", "correct", "r1", "value", "31,86")
	}
	rs := b.shelved("T1").Readings
	if len(rs) != 2 || rs[0].Value != "318.6" || rs[1].Value != "31.86" || rs[1].Supersedes != "r1" || rs[1].Quantity != rs[0].Quantity || rs[1].From != rs[0].From || !rs[1].At.After(rs[0].At) {
		t.Errorf("stored %+v", rs)
	}
	b.refusedForm(at+"/correct", http.StatusConflict, nil, "correct", "r9", "value", "1")
	if said := text(b.page(at + "/identify")); strings.Contains(said, "318.6") || !strings.Contains(said, "31.86") {
		t.Errorf("what does not count is shown, or what counts is not:\n%s", said)
	}
	if said := text(b.page(at)); !strings.Contains(said, "318.6") || !strings.Contains(said, "in place of r1") {
		t.Errorf("the log lacks the old reading:\n%s", said)
	}
}

// Forms of a first day: what is wrong is said, what was typed stays, and nothing
// is stored.
func TestFirstForms(t *testing.T) {
	b := newBench(t, false)
	for _, bad := range [][]string{
		{"tag", "T 1", "pins", "4"}, {"tag", "T1", "pins", "1"}, {"tag", "T1", "pins", "99"}, {"tag", "T1", "pins", "1 2 / 3 / 4"}, {"tag", "T1", "pins", "1 2 2"}, {"tag", "", "pins", "4"},
	} {
		b.refusedForm("/units", http.StatusUnprocessableEntity, []string{`value="` + bad[3] + `"`, "Not taken", `value="old radio"`}, append(bad, "origin", "old radio")...)
	}
	for _, bad := range [][]string{
		{"volts", "", "hertz", "50"}, {"volts", "24", "hertz", "50"}, {"volts", "230", "hertz", "5"}, {"volts", "230", "hertz", "50", "low", "250"}, {"volts", "230", "hertz", "50", "source", "48"}, {"volts", "two", "hertz", "50"},
	} {
		b.refusedForm("/bench", http.StatusUnprocessableEntity, []string{`value="` + bad[1] + `"`}, bad...)
	}
	for _, bad := range [][]string{
		{"name", "", "class", "generic"}, {"name", "m"}, {"name", "m", "class", "other"}, {"name", "m", "class", "generic", "leads", "-1"},
		{"name", "m", "class", "generic", "counts", "2000", "ranges_ohms", "200 2k"}, {"name", "m", "class", "generic", "counts", "2000", "accuracy_ohms", "1 % + 3"},
		{"name", "m", "class", "generic", "counts", "20", "ranges_ohms", "200", "accuracy_ohms", "1 % + 3"}, {"name", "m", "class", "generic", "counts", "2000", "ranges_ohms", "0", "accuracy_ohms", "1 % + 3"},
	} {
		b.refusedForm("/meters", http.StatusUnprocessableEntity, []string{`name="name"`}, bad...)
	}
	s, err := b.store.Shelf(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Units)+len(s.Meters) > 0 {
		t.Error("something was stored")
	}
	// What a data sheet says goes before the class. One count of a display of 6000
	// on its ranges of 600, and of 1000 where it shows no more digits: closed form.
	b.took("/meters", "name", "mine", "class", "cheap-2000", "counts", "6000", "rms", "yes", "ranges_volts_ac", "6 60 600 1000", "accuracy_volts_ac", "±(1,0% + 3 digits)", "ranges_ohms", "600 6k", "accuracy_ohms", "0.9 % + 2")
	ms, err := b.store.Meters(t.Context())
	if err != nil || len(ms) != 1 {
		t.Fatal(ms, err)
	}
	want := map[yokemate.Quantity][]yokemate.Range{}
	for _, r := range ms[0].Ranges {
		want[r.Quantity] = append(want[r.Quantity], r)
	}
	if got := want[yokemate.VoltsAC]; len(got) != 4 || got[0] != (yokemate.Range{Quantity: yokemate.VoltsAC, Max: 6, Resolution: 0.001, Percent: 1, Counts: 3}) || got[2].Resolution != 0.1 || got[3].Resolution != 1 {
		t.Errorf("volts: %+v", got)
	}
	if got := want[yokemate.Ohms]; len(got) != 2 || got[1].Max != 6000 || got[1].Resolution != 1 || got[0].Percent != 0.9 {
		t.Errorf("ohms: %+v", got)
	}
	if len(want[yokemate.AmpsAC]) == 0 || !ms[0].TrueRMS {
		t.Errorf("the class is gone: %+v", ms[0])
	}
	checkPage(t, "/bench", b.page("/bench"))
}

// attach sends a picture as the browser's form does.
func (b *bench) attach(path, name string, data []byte) (int, string, string) {
	b.t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	if err := m.WriteField("name", name); err != nil {
		b.t.Fatal(err)
	}
	f, err := m.CreateFormFile("photo", "IMG_0001.jpg")
	if err == nil {
		_, err = f.Write(data)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	if err := m.Close(); err != nil {
		b.t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(b.t.Context(), "POST", b.server.URL+path, &body)
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", m.FormDataContentType())
	code, page, h := b.do(r)
	return code, h.Get("Location"), page
}

func picture(t testing.TB, w, h int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = byte(i / 7)
	}
	m.Set(0, 0, color.White)
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A photo is attached, its pins marked, and shown where the probes go.
func TestPhotoOfAUnit(t *testing.T) {
	b := newBench(t, false)
	at := b.took("/units", "tag", "T1", "pins", "4")
	b.took(at+"/sitting", "say", "unsure")
	for range 2 { // sent twice, it is kept once
		if code, to, body := b.attach(at+"/photos", "pin side", picture(t, 400, 300)); code != http.StatusSeeOther || to != at+"/photos/p1" {
			t.Fatalf("status %d, %s\n%s", code, to, text(body))
		}
	}
	page := b.page(at + "/photos/p1")
	checkPage(t, at, page)
	src := regexp.MustCompile(`<image href="([^"]+)"`).FindStringSubmatch(page)
	if src == nil {
		t.Fatal("the page shows no picture")
	}
	code, data, h := b.get(src[1])
	if code != http.StatusOK || h.Get("Content-Type") != "image/jpeg" || !strings.Contains(h.Get("Cache-Control"), "immutable") {
		t.Errorf("status %d, %v", code, h)
	}
	if c, err := jpeg.DecodeConfig(strings.NewReader(data)); err != nil || c.Width != 400 {
		t.Errorf("the picture is %+v, %v", c, err)
	}
	b.took(at+"/photos/p1/marks", "pin", "1", "x", "41,5", "y", "72 %")
	b.took(at+"/photos/p1/marks", "pin", "2", "x", "60", "y", "72")
	b.took(at+"/photos/p1/marks", "pin", "1", "x", "40", "y", "70")
	p, err := b.store.Photo(t.Context(), "T1", "p1")
	if err != nil {
		t.Fatal(err)
	}
	if want := []yokemate.Mark{{Pin: "1", X: 0.4, Y: 0.7}, {Pin: "2", X: 0.6, Y: 0.72}}; !slices.Equal(p.Marks, want) || p.Name != "pin side" {
		t.Errorf("marked %+v", p)
	}
	page = b.page(at + "/photos/p1")
	checkPage(t, at, page)
	if said := text(page); !strings.Contains(said, "Pin 1 , 40.0 % from the left, 70.0 % from the top") {
		t.Errorf("the page says\n%s", said)
	}
	for _, bad := range [][]string{{"1", "", "10"}, {"1", "10", "101"}, {"9", "10", "10"}, {"1", "NaN", "1"}} {
		code, _, body := b.post(at+"/photos/p1/marks", "pin", bad[0], "x", bad[1], "y", bad[2])
		if code != http.StatusUnprocessableEntity && code != http.StatusNotFound {
			t.Errorf("%v: status %d", bad, code)
		}
		checkPage(t, at, body)
	}
	// The reading that is asked for shows it: its probes go to 1 and 2.
	page = b.page(at + "/identify")
	checkPage(t, at, page)
	if !strings.Contains(page, src[1]) || !strings.Contains(page, "pin T1.1, probe") {
		t.Error("the photo does not show where the probes go")
	}
	checkPage(t, at, b.page(at))
	b.took(at+"/photos/p1/marks", "clear", "2")
	if p, err = b.store.Photo(t.Context(), "T1", "p1"); err != nil || len(p.Marks) != 1 {
		t.Errorf("%+v, %v", p, err)
	}
	for name, data := range map[string][]byte{"none": nil, "text": []byte("hello"), "svg": []byte("<svg/>"), "huge": make([]byte, 25<<20)} {
		code, _, body := b.attach(at+"/photos", "bad one", data)
		if code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", name, code)
		}
		checkPage(t, name, body)
	}
	for range 2 {
		b.took(at + "/photos/p1/remove")
	}
	if code, _, _ := b.get(at + "/photos/p1"); code != http.StatusNotFound {
		t.Errorf("status %d", code)
	}
	for _, gone := range []string{at + "/photos/p1/picture", "/units/none/photos/p1", "/units/none/photos/p1/picture"} {
		if code, _, _ := b.get(gone); code != http.StatusNotFound {
			t.Errorf("%s: status %d", gone, code)
		}
	}
}

// The whole store goes out by the browser and comes back by it.
func TestBackupByBrowser(t *testing.T) {
	b := newBench(t, true)
	at := "/units/F1"
	if code, _, body := b.attach(at+"/photos", "", picture(t, 64, 48)); code != http.StatusSeeOther {
		t.Fatalf("status %d\n%s", code, text(body))
	}
	code, file, h := b.get("/files/backup")
	if code != http.StatusOK || h.Get("Content-Disposition") != "attachment; filename=yokemate-backup.db" || !strings.HasPrefix(file, "SQLite format 3\x00") {
		t.Fatalf("status %d, %v", code, h)
	}
	before := b.page("/files/album")
	if !strings.Contains(before, `"jpeg": "/9j/`) || strings.Contains(b.page("/files/shelf"), "jpeg") {
		t.Error("photos are in the wrong file")
	}
	b.took(at+"/readings", "count", "0", "quantity", "ohms", "from", "1", "to", "2", "value", "99")
	sendBack := func(data, sure string) (int, string) {
		var body bytes.Buffer
		m := multipart.NewWriter(&body)
		f, err := m.CreateFormFile("backup", "copy.db")
		if err == nil {
			_, err = f.Write([]byte(data))
		}
		if err == nil && sure != "" {
			err = m.WriteField("sure", sure)
		}
		if err == nil {
			err = m.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		r, err := http.NewRequestWithContext(t.Context(), "POST", b.server.URL+"/files/backup", &body)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", m.FormDataContentType())
		code, page, _ := b.do(r)
		checkPage(t, "/files/backup", page)
		return code, page
	}
	for _, bad := range [][2]string{{file, ""}, {"", "yes"}, {"hello", "yes"}, {file[:len(file)/2], "yes"}} {
		if code, page := sendBack(bad[0], bad[1]); code != http.StatusUnprocessableEntity {
			t.Errorf("status %d\n%s", code, text(page))
		}
	}
	if n := len(b.shelved("F1").Readings); n != 1 {
		t.Errorf("%d readings: a refused backup changed something", n)
	}
	code, page := sendBack(file, "yes")
	if said := text(page); code != http.StatusOK || !strings.Contains(said, "The backup is back") || !strings.Contains(said, "1 readings and answers are in that file") {
		t.Errorf("status %d\n%s", code, said)
	}
	if after := b.page("/files/album"); after != before {
		t.Error("what came back is not what went out")
	}
	b.restart()
	if after := b.page("/files/album"); after != before {
		t.Error("after a restart it is not what went out")
	}
}

// A tag that needs escaping leads everywhere all the same.
func TestOddTag(t *testing.T) {
	b := newBench(t, false)
	tag := `a"<b>&'%`
	at := b.took("/units", "tag", tag, "pins", "4")
	if at != "/units/"+url.PathEscape(tag) {
		t.Fatalf("it leads to %s", at)
	}
	checkPage(t, at, b.page(at))
	b.took(at+"/sitting", "leads", "0")
	checkPage(t, at, b.page(at+"/identify"))
	if code, to, body := b.attach(at+"/photos", `"<i>`, picture(t, 40, 40)); code != http.StatusSeeOther {
		t.Errorf("status %d\n%s", code, text(body))
	} else {
		checkPage(t, to, b.page(to))
	}
}

// BenchmarkAsking times the page that finds a unit out, at its dearest: twelve
// pins of which little is known, a photo beside them.
func BenchmarkAsking(b *testing.B) {
	x := newBench(b, false)
	x.took("/units", "tag", "T1", "pins", "12")
	x.took("/units/T1/sitting", "leads", "0,2")
	if code, _, body := x.attach("/units/T1/photos", "", picture(b, 800, 600)); code != http.StatusSeeOther {
		b.Fatal(text(body))
	}
	for pin := range 12 {
		x.took("/units/T1/photos/p1/marks", "pin", strconv.Itoa(pin+1), "x", strconv.Itoa(8*pin), "y", "50")
	}
	for range 6 {
		page := x.page("/units/T1/identify")
		x.took("/units/T1/wanted", "key", hidden(b, page, "/units/T1/wanted", "key"), "say", "open")
	}
	for _, at := range []string{"/units/T1/identify", "/units/T1", "/units/T1/photos/p1"} {
		b.Run(at, func(b *testing.B) {
			var times []time.Duration
			for b.Loop() {
				w, r := httptest.NewRecorder(), httptest.NewRequest("GET", at, nil)
				r.Host = "localhost"
				start := time.Now()
				x.server.Config.Handler.ServeHTTP(w, r)
				times = append(times, time.Since(start))
				if w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
			}
			slices.Sort(times)
			b.ReportMetric(float64(times[(len(times)-1)*99/100])/1e6, "p99-ms")
		})
	}
}
