package sheet

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
	"rsc.io/qr"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/draw/pdf"
	"yokemate/internal/figure"
	"yokemate/internal/say"
	"yokemate/internal/testkit"
	"yokemate/si"
)

var update = flag.Bool("update", false, "rewrite the golden drawings; look at them before committing")

func golden(t *testing.T, name string, s *draw.Scene) {
	t.Helper()
	testkit.Golden(t, *update, name, s)
}

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("../figure/testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// bench is a sheet in the middle of a proof. Its readings and predictions are
// invented, for the layout.
func bench(t testing.TB) *Bench {
	t.Helper()
	s, err := yokemate.DecodeShelf(read(t, "shelf.json"))
	if err != nil {
		t.Fatal(err)
	}
	s.Meters = append(s.Meters, *yokemate.GenericMeter())
	s.Meters[len(s.Meters)-1].Name = "lamp room meter"
	h, err := yokemate.DecodeHookup(read(t, "parallel.json"))
	if err != nil {
		t.Fatal(err)
	}
	var p yokemate.Prediction
	if err := yokemate.Decode(read(t, "parallel.prediction.json"), &p); err != nil {
		t.Fatal(err)
	}
	p.Notes = []yokemate.Note{
		{Code: yokemate.OverCurrent, Level: yokemate.Stop, Words: "T2/A would carry 612 mA and may carry 500 mA.", About: "T2/A"},
		{Code: yokemate.InsulationUnknown, Level: yokemate.Caution, Words: "T2 has no insulation test between mains side and core.", About: "T2"},
	}
	opens := 0.35
	next := "gap-B"
	proof := &yokemate.Proof{Hookup: *h, Next: &next, Proof: yokemate.ProofOpen, Cautions: []string{"What local codes keep for licensed practice is theirs.", "Stand on an insulating mat."},
		Steps: []yokemate.Step{
			{ID: "look", Do: "Look for charring, broken wires and a winding that touches the core.", State: *h},
			{ID: "ohms-T1-A", Do: "Plug out. Read the ohms of T1/A.", State: *h, Measure: &yokemate.Measure{Quantity: yokemate.Ohms, From: "T1.5", To: "T1.6"},
				Right: &yokemate.Interval{Value: 2.6, Low: 2.5, High: 2.9}, Slips: []yokemate.Slip{{Code: "open:T1.5", Words: "pin 5 is open", Value: math.Inf(1), Low: math.Inf(1), High: math.Inf(1)}}},
			{ID: "gap-B", Do: "Leave T2.6 apart. Read across the gap before it is closed.", State: *h, Closes: "B",
				Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: "T1.6", To: "T2.6", BurdenOhms: 100e3},
				Right:   &yokemate.Interval{Value: 0.131, Low: 0.02, High: 0.31},
				Slips: []yokemate.Slip{
					{Code: "reversed:T2/A", Words: "T2/A is turned round", Value: 28.4, Low: 27.9, High: 28.9, IfClosed: &yokemate.IfClosed{WindingAmps: 4.1, Winding: "T1/A", FeedAmps: 0.33, FuseOpens: "no", Protects: "the lamp in the feed holds it to 60 mA"}},
					{Code: "unpowered:T2", Words: "T2 gets no mains", Value: 14.3, Low: 14, High: 14.6, IfClosed: &yokemate.IfClosed{WindingAmps: 1.2, Winding: "T2/A", FeedAmps: 0.9, FuseOpens: "yes", OpensS: &opens}},
					{Code: "wrong-feed:T2", Words: "T2 is on another supply phase", Value: 24.6, Low: 24, High: 25.2},
				}},
			{ID: "feed", Do: "Read the current from the plug.", State: *h, Measure: &yokemate.Measure{Quantity: yokemate.AmpsAC, From: "feed"},
				Right: &yokemate.Interval{Value: 0.049, Low: 0.04, High: 0.06}},
		},
		Verdicts: []yokemate.Verdict{{Step: "ohms-T1-A", Verdict: "go", Right: 0.98, Words: "As it should be."}},
	}
	return &Bench{Hookup: h, Shelf: s, Prediction: &p, Proof: proof,
		Answers: []yokemate.Answer{{Step: "ohms-T1-A", Value: "2.7"}},
		Limits:  card(),
		Meter:   "lamp room meter",
		Date:    time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC), Who: "R. V."}
}

// card is an invented limits card of the hookup.
func card() *yokemate.LimitsCard {
	s := func(v float64) *float64 { return &v }
	return &yokemate.LimitsCard{
		Faults: []yokemate.CardFault{
			{Fault: yokemate.ShortedOutput, About: "out", Winding: "T1/A", WindingAmps: 3.1, LimitS: s(90), Primary: "unsure", Secondary: "yes", SecondaryS: s(12), Protects: yokemate.OwnFuse},
			{Fault: yokemate.HalfShorted, About: "T1/P", Winding: "T1/P", WindingAmps: 0.31, LimitS: s(48), Primary: "no", Secondary: "none", Protects: yokemate.LinkInTheUnit},
			{Fault: yokemate.HalfShorted, About: "T2/P", Winding: "T2/P", WindingAmps: 0.33, LimitS: s(44), Primary: "no", Secondary: "none", Protects: yokemate.LinkInTheUnit}},
		ThermalLinks: []yokemate.ThermalLink{{Unit: "T1", Celsius: 128, Class: "B"}, {Unit: "T2", Celsius: 104, Class: "A"}},
		AmbientC:     35, HighestC: 52, PrimaryFuse: 0.05, FuseKind: "T", LowVolts: 207, HighVolts: 253, Estimated: true,
		Outputs: []yokemate.OutputLimits{{Name: "out", Amps: 0.48, LimitedBy: "T2/A at its rating", Duty: 0.25, DutyAmps: 0.93, DutyOnS: 60, BridgeAmps: 0.299, NoLoad: 14.2, AtLow: 10.6, AtHigh: 13.1,
			Fuse: &yokemate.OutputFuse{Count: 1, Lead: "A", Amps: 0.5, Kind: "T"}}}}
}

// checkPage: all words lie within the page's margins, and never on each other.
func checkPage(t interface{ Fatalf(string, ...any) }, s *draw.Scene, margin float64) {
	var all []*draw.Text
	s.Walk(func(it draw.Item, _ []*draw.Group) {
		if x, ok := it.(*draw.Text); ok {
			all = append(all, x)
		}
	})
	for i, a := range all {
		b := a.Box()
		if b.X0 < margin-1e-6 || b.Y0 < margin-1e-6 || b.X1 > s.W-margin+1e-6 || b.Y1 > s.H-margin+3 {
			t.Fatalf("%q at %v leaves the page", a.S, b)
		}
		for _, c := range all[:i] {
			if b.Overlaps(c.Box()) {
				t.Fatalf("%q at %v lies on %q at %v", a.S, b, c.S, c.Box())
			}
		}
	}
}

func TestSheetGolden(t *testing.T) {
	b := bench(t)
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	for i := range pages {
		checkPage(t, &pages[i], edge)
		golden(t, fmt.Sprintf("bench-%d", i+1), &pages[i])
	}
	if _, err := os.Stat(fmt.Sprintf("testdata/bench-%d.svg", len(pages)+1)); err == nil {
		t.Error("there are more golden pages than pages")
	}
}

// pdfText writes pages as PDF and reads the words back with poppler.
func pdfText(t *testing.T, pages []draw.Scene) (text, info string) {
	t.Helper()
	var a, b bytes.Buffer
	if err := pdf.Write(&a, pages, pdf.Options{Title: "sheet"}); err != nil {
		t.Fatal(err)
	}
	if err := pdf.Write(&b, pages, pdf.Options{Title: "sheet"}); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Fatal("two runs differ", err)
	}
	f := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(f, a.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", f, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext (package poppler-utils): %v", err)
	}
	about, err := exec.Command("pdfinfo", "-l", "99", f).Output()
	if err != nil {
		t.Fatalf("pdfinfo (package poppler-utils): %v", err)
	}
	return string(out), string(about)
}

func TestSheetPDF(t *testing.T) {
	for _, c := range []struct {
		page Page
		size string // in points of 1/72 in
	}{{A4, "595.28 x 841.89"}, {Letter, "612 x 792"}} {
		b := bench(t)
		b.Page = c.page
		pages, err := b.Sheet()
		if err != nil {
			t.Fatal(err)
		}
		for i := range pages {
			checkPage(t, &pages[i], edge)
		}
		text, info := pdfText(t, pages)
		if n := strings.Count(text, "\f"); n != len(pages) {
			t.Errorf("%d pages in the file, %d drawn", n, len(pages))
		}
		if n := strings.Count(info, c.size); n != len(pages) {
			t.Errorf("%d of %d pages are %s pt: %s", n, len(pages), c.size, info)
		}
		for _, w := range []string{"two in parallel for the lamp room", "2026-05-04", "R. V.", "T1.5 T2.5", "protective earth PE", "about 28 V", "20 to 310 mV", "T2/A reversed. Closed",
			"2.7", "Not read yet: steps 3, 4",
			"480 mA", "930 mA for 25 %", "299 mA", "up to 35 °C; with its own loads up to 52 °C", "T 50 mA in the live wire", "T 500 mA in the lead of A", "10.6 V", "13.1 V", "a heat run settles it", "local codes", "licensed practice", "207 to 253 V", "24.0 Ω", "Go on", "Do not power it as it stands", "2.7 Ω", "Amps AC in the plug's live wire", "T2.7, T2.8", "What is not proven",
			"T2 has no insulation test", "Stand on an insulating mat.", fmt.Sprintf("page %d of %d", len(pages), len(pages)), "100 kΩ"} {
			if !strings.Contains(strings.Join(strings.Fields(text), " "), w) {
				t.Errorf("%q is not on the sheet", w)
			}
		}
	}
}

// Without prediction and proof the sheet says so, and says stop.
func TestSheetBare(t *testing.T) {
	b := bench(t)
	b.Prediction, b.Proof, b.Answers = nil, nil, nil
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	text, _ := pdfText(t, pages)
	text = strings.Join(strings.Fields(text), " ")
	for _, w := range []string{"No proof was made for this sheet. Do not power it before one is.", "No step was proved.", "Nothing was predicted", "Not yet proved."} {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not on the sheet", w)
		}
	}
	for _, w := range []string{"Proved step by step", "isolated from mains"} {
		if strings.Contains(text, w) {
			t.Errorf("%q is on the sheet", w)
		}
	}
}

// A stop outweighs a good proof, on the sheet and on the label.
func TestStopOutweighsProof(t *testing.T) {
	b := bench(t)
	good := *b.Proof
	good.Proof = yokemate.ProofGood
	b.Proof = &good
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	text, _ := pdfText(t, append(pages, (&Supply{Hookup: b.Hookup, Prediction: b.Prediction, Proof: &good}).Scene()))
	text = strings.Join(strings.Fields(text), " ")
	for _, w := range []string{"Do not power it as it stands", "STOP: do not use", "isolation not proven"} {
		if !strings.Contains(text, w) {
			t.Errorf("no %q", w)
		}
	}
	for _, w := range []string{"Proved step by step", "PROVED"} {
		if strings.Contains(text, w) {
			t.Errorf("%q in spite of a stop", w)
		}
	}
}

// However long the words, nothing overlaps, nothing leaves a page, nothing is lost.
func TestSheetProperties(t *testing.T) {
	base := bench(t)
	rapid.Check(t, func(t *rapid.T) {
		b := *base
		b.Page = rapid.SampledFrom([]Page{A4, Letter}).Draw(t, "page")
		text := rapid.StringMatching(`([a-zA-Z]{1,14}[ ]){0,60}end9`)
		p := *base.Proof
		p.Steps = nil
		for i := range rapid.IntRange(0, 25).Draw(t, "steps") {
			s := yokemate.Step{ID: fmt.Sprint("s", i), Do: text.Draw(t, "do"), Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC, From: "A", To: "B"}, Right: &yokemate.Interval{Value: 1, Low: 0.5, High: 2}}
			for range rapid.IntRange(0, 8).Draw(t, "slips") {
				s.Slips = append(s.Slips, yokemate.Slip{Code: "open:" + text.Draw(t, "slip"), Value: 27, Low: 26, High: 28})
			}
			p.Steps = append(p.Steps, s)
		}
		b.Proof = &p
		pages, err := b.Sheet()
		if err != nil {
			t.Fatal(err)
		}
		ends := 0
		for i := range pages {
			if err := pages[i].Check(); err != nil {
				t.Fatal(err)
			}
			checkPage(t, &pages[i], edge)
			pages[i].Walk(func(it draw.Item, _ []*draw.Group) {
				if x, ok := it.(*draw.Text); ok {
					ends += strings.Count(x.S, "end9")
				}
			})
		}
		want := 0
		for _, s := range p.Steps {
			want += 1 + len(s.Slips) // all read alike, so that all are named
		}
		if ends != want {
			t.Fatalf("%d of %d texts reach their end", ends, want)
		}
	})
}

// Every code on the sheet is the QR code of its part, and the parts together
// give the record back.
func TestSheetCodes(t *testing.T) {
	b := bench(t)
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	var parts []string
	for i := range pages {
		pages[i].Walk(func(it draw.Item, in []*draw.Group) {
			p, ok := it.(*draw.Path)
			if !ok || len(in) == 0 || in[len(in)-1].Class != "qr" || p.Fill != draw.Black {
				return
			}
			part := in[len(in)-1].Title
			parts = append(parts, part)
			c, err := qr.Encode(part, qr.M)
			if err != nil {
				t.Fatal(err)
			}
			// Sample the middle of every square of the drawn bars.
			box := p.Box()
			black := map[[2]int]bool{}
			for k := 0; k+4 < len(p.Segs); k += 5 {
				a, z := p.Segs[k].P[0], p.Segs[k+2].P[0]
				y := int(math.Round((a.Y - box.Y0) / module))
				for x := int(math.Round((a.X - box.X0) / module)); x < int(math.Round((z.X-box.X0)/module)); x++ {
					black[[2]int{x, y}] = true
				}
			}
			for y := range c.Size {
				for x := range c.Size {
					if c.Black(x, y) != black[[2]int{x, y}] {
						t.Fatalf("square %d, %d of %s is wrong", x, y, draft(part))
					}
				}
			}
			if c.Size > 85 {
				t.Errorf("a code of %d squares", c.Size)
			}
		})
	}
	slices.Reverse(parts)
	r, err := DecodeRecord(strings.Join(parts, "\n"))
	if err != nil {
		t.Fatal(err)
	}
	want, _ := yokemate.Encode(b.Record())
	got, _ := yokemate.Encode(r)
	if !bytes.Equal(got, want) {
		t.Errorf("the record came back as %s", got)
	}
}

// The printed page is scanned by a reader that is not ours: as a 300 dpi
// picture in grey, the codes give the record back.
func TestSheetScanned(t *testing.T) {
	b := bench(t)
	for i := range 40 { // enough for more than one code
		b.Answers = append(b.Answers, yokemate.Answer{Step: "feed", Value: "1", Note: strconv.FormatFloat(math.Sqrt(float64(i)+2), 'f', 16, 64)})
	}
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	var doc bytes.Buffer
	if err := pdf.Write(&doc, pages, pdf.Options{}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "x.pdf"), doc.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("pdftoppm", "-r", "300", "-gray", "-png", "-f", strconv.Itoa(len(pages)), filepath.Join(dir, "x.pdf"), filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm (package poppler-utils): %v: %s", err, out)
	}
	pictures, err := filepath.Glob(filepath.Join(dir, "p*.png"))
	if err != nil || len(pictures) != 1 {
		t.Fatal(pictures, err)
	}
	text, err := exec.Command("zbarimg", "--raw", "--quiet", "-Sdisable", "-Sqrcode.enable", pictures[0]).Output()
	if err != nil {
		t.Fatalf("zbarimg (package zbar-tools): %v", err)
	}
	if n := strings.Count(string(text), recordMark+"/"); n < 2 {
		t.Fatalf("%d codes were read", n)
	}
	r, err := DecodeRecord(string(text))
	if err != nil {
		t.Fatal(err)
	}
	want, _ := yokemate.Encode(b.Record())
	got, _ := yokemate.Encode(r)
	if !bytes.Equal(got, want) {
		t.Errorf("the record came back as %s", got)
	}
}

func TestRecordRoundTrip(t *testing.T) {
	base := bench(t).Record()
	rapid.Check(t, func(t *rapid.T) {
		r := *base
		r.Answers = nil
		for range rapid.IntRange(0, 40).Draw(t, "answers") {
			r.Answers = append(r.Answers, yokemate.Answer{Step: rapid.StringMatching(`[a-z0-9-]{1,12}`).Draw(t, "step"), Value: yokemate.AnswerText(rapid.StringMatching(`[0-9]{1,3}\.[0-9]{2}|over|open|unsure`).Draw(t, "value")),
				Note: rapid.String().Draw(t, "note")})
		}
		parts, err := r.Encode()
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range parts {
			// ISO/IEC 18004, table 5: the alphanumeric mode's characters.
			if s := strings.Trim(p, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"); s != "" || len(p) > 734 {
				t.Fatalf("part of %d characters, with %q", len(p), s)
			}
		}
		text := strings.Join(rapid.Permutation(append(parts, parts[0])).Draw(t, "order"), "\n")
		if rapid.Bool().Draw(t, "typed") {
			text = strings.ToLower(text)
		}
		got, err := DecodeRecord(text)
		if err != nil {
			t.Fatal(err)
		}
		x, _ := yokemate.Encode(&r)
		y, _ := yokemate.Encode(got)
		if !bytes.Equal(x, y) {
			t.Fatalf("%s\nbecame\n%s", x, y)
		}
	})
}

// The format is fixed: a part printed once must be read for ever.
func TestRecordStays(t *testing.T) {
	path := "testdata/record.txt"
	if *update {
		parts, err := bench(t).Record().Encode()
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(strings.Join(parts, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := DecodeRecord(string(text))
	if err != nil {
		t.Fatal(err)
	}
	if r.Hookup.Name != "two in parallel for the lamp room" || len(r.Units) != 2 || len(r.Answers) != 1 || r.Units[1].Winding("A").Volts.Digits != "14.18" {
		t.Errorf("it became %+v", r)
	}
}

func TestRecordErrors(t *testing.T) {
	long := func(name string) *Record {
		r := bench(t).Record()
		r.Hookup.Name = name
		for i := range 40 {
			r.Answers = append(r.Answers, yokemate.Answer{Step: fmt.Sprint("s", i), Value: "1", Note: strconv.FormatFloat(math.Sqrt(float64(i)+2), 'f', 16, 64)})
		}
		return r
	}
	parts, err := long("one").Encode()
	if err != nil {
		t.Fatal(err)
	}
	if len(parts) < 2 {
		t.Fatalf("the sample has %d parts, and this test needs 2", len(parts))
	}
	all := strings.Join(parts, "\n")
	theirs, err := long("another").Encode()
	if err != nil {
		t.Fatal(err)
	}
	flip := []byte(all)
	if flip[200] == 'A' {
		flip[200] = 'B'
	} else {
		flip[200] = 'A'
	}
	for name, text := range map[string]string{
		"empty":         " \n",
		"missing":       parts[0],
		"mixed":         parts[0] + "\n" + theirs[1],
		"damaged":       string(flip),
		"cut":           all[:len(all)-9],
		"no part":       "hello",
		"a later form":  strings.ReplaceAll(all, "YM1/", "YM2/"),
		"part nought":   strings.Replace(all, "YM1/1/", "YM1/0/", 1),
		"nought parts":  "YM1/1/0/00000000/AA",
		"a link":        "https://example.org/1/1/00000000/AA",
		"not compacted": "YM1/1/1/00000000/AAAAAAAA",
	} {
		_, err := DecodeRecord(text)
		if c := yokemate.ErrorCode(err); c != yokemate.Invalid && c != yokemate.Unsupported {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzDecodeRecord(f *testing.F) {
	parts, err := bench(f).Record().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(strings.Join(parts, "\n"))
	f.Add("YM1/1/1/00000000/AAAA")
	f.Fuzz(func(t *testing.T, s string) {
		r, err := DecodeRecord(s)
		if err != nil {
			if c := yokemate.ErrorCode(err); c == yokemate.Internal {
				t.Fatal(err)
			}
			return
		}
		if _, err := r.Encode(); err != nil {
			t.Fatalf("read and cannot be written: %v", err)
		}
	})
}

func labels(t testing.TB) map[string]draw.Scene {
	b := bench(t)
	date := time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC)
	u := func(tag string) *yokemate.Unit { return b.Shelf.Unit(tag) }
	core := &yokemate.Unit{Tag: "M1", Windings: []yokemate.Winding{{ID: "P", Pins: [2]string{"1", "2"}}, {ID: "S", Pins: [2]string{"3", "core"}}}}
	kept := *u("T1")
	kept.Status, kept.Reason = "quarantine", "charred"
	big := &yokemate.Unit{Tag: "a-long-tag-9", Mains: &yokemate.Mains{Volts: 230, Hertz: 50, Series: yokemate.Series{"W1"}}}
	for i := range 12 {
		big.Windings = append(big.Windings, yokemate.Winding{ID: fmt.Sprintf("W%d", i+1), Pins: [2]string{fmt.Sprint(2*i + 1), fmt.Sprint(2*i + 2)}, Volts: yokemate.Num(12.34), Amps: yokemate.Num(0.25)})
	}
	all := map[string]draw.Scene{}
	for name, l := range map[string]UnitLabel{
		"label-T1":         {Unit: u("T1"), Fuse: "T 50 mA", Fuses: []say.Fact{{Name: "A", Value: "T 800 mA"}}, RiseK: 41, Date: date, Who: "R. V."},
		"label-T3":         {Unit: u("T3"), DCAmps: map[string]float64{"A1": 0.5}, Options: figure.Options{Locale: si.Locale{Decimal: ","}}},
		"label-T4":         {Unit: u("T4")},
		"label-core":       {Unit: core},
		"label-quarantine": {Unit: &kept},
		"label-many":       {Unit: big, Date: date, Who: "A tester with a very long name indeed"},
	} {
		all[name] = l.Scene()
	}
	good := *b.Proof
	good.Proof = yokemate.ProofGood
	clean := *b.Prediction
	clean.Notes = nil
	all["supply"] = (&Supply{Hookup: b.Hookup, Prediction: &clean, Proof: &good, For: "For lights", NotFor: "Not for charging batteries", Limits: card(), Date: date, Who: "R. V."}).Scene()
	settled := card()
	settled.Estimated = false
	all["supply-roomy"] = (&Supply{Hookup: b.Hookup, Prediction: &clean, Proof: &good, Limits: settled, Date: date, Who: "R. V."}).Scene()
	all["supply-open"] = (&Supply{Hookup: b.Hookup}).Scene()
	many := b.Hookup.Clone()
	for i := range 4 {
		many.Outputs = append(many.Outputs, yokemate.Output{Name: fmt.Sprintf("rail %d", i), From: "A", To: "B", DC: &yokemate.DC{Rectifier: "bridge", Farads: 0.001, Amps: 0.1}})
	}
	bad := *b.Prediction
	bad.Notes = []yokemate.Note{{Code: yokemate.NotIsolated, Level: yokemate.Caution, Words: "x"}}
	stopped := *b.Proof
	stopped.Proof = yokemate.ProofStopped
	all["supply-many"] = (&Supply{Hookup: many, Prediction: &bad, Proof: &stopped, For: "For anything but what a very long line that cannot fit on one label says about it",
		Limits: manyLimits(many)}).Scene()
	return all
}

// manyLimits gives each output of a hookup limits of its own.
func manyLimits(h *yokemate.Hookup) *yokemate.LimitsCard {
	c := card()
	one := c.Outputs[0]
	c.Outputs = nil
	for _, o := range h.Outputs {
		one.Name = o.Name
		c.Outputs = append(c.Outputs, one)
	}
	return c
}

func TestLabelGolden(t *testing.T) {
	for name, s := range labels(t) {
		checkPage(t, &s, 0.5)
		golden(t, name, &s)
		text, info := pdfText(t, []draw.Scene{s})
		// 60 by 40 mm are 170.08 by 113.39 pt; 90 by 60 mm are 255.12 by 170.08 pt.
		size := "170.08 x 113.39"
		if strings.HasPrefix(name, "supply") {
			size = "255.12 x 170.08"
		}
		if !strings.Contains(info, size) || !strings.Contains(info, "Pages:           1") {
			t.Errorf("%s: no page of %s: %s", name, size, info)
		}
		for _, w := range map[string][]string{
			"label-T1":         {"T1", "5–6", "A 14.3 V 500 mA", "fuse: T 50 mA in the live wire; A T 800 mA", "41 K", "2026-05-04 R. V.", "Do not put mains on any pins but 1–2.", "not all pairs tested"},
			"label-T3":         {"A1 13,4 V", "900 mA (DC 500 mA)", "insulation NOT proven", "Mains on 1–4 alone, and only with 2–3 joined."},
			"label-T4":         {"mains side not known", "red–white"},
			"label-core":       {"STOP: winding S ends on the core."},
			"label-quarantine": {"STOP: quarantine. Do not energise. charred"},
			"label-many":       {"23–24", "W12"},
			"supply":           {"thermal link: T2 104 °C; T1 128 °C; no fuse does its work", "11.9 V AC, at most 480 mA", "For lights. Not for charging batteries.", "isolated from mains", "PROVED", "up to 35 °C; with its own loads up to 52 °C", "fuse T 500 mA; T 50 mA would serve", "930 mA for 25 %, up to 60 s", "290 mA DC behind a bridge", "T 500 mA in the lead of A", "a heat run settles it", "207 to 253 V"},
			"supply-roomy":     {"14.2 V with no load; at its limit 10.6 to 13.1 V", "T2 104 °C; T1 128 °C"},
			"supply-open":      {"volts not known", "isolation not checked", "NOT PROVED"},
			"supply-many":      {"NOT isolated from mains", "PROOF STOPPED: do not use", "2 more outputs", "further limits: see the sheet"},
		}[name] {
			if !strings.Contains(strings.Join(strings.Fields(text), " "), w) {
				t.Errorf("%s does not say %q: %s", name, w, text)
			}
		}
	}
}

// A pin number on paper is at least 3 mm high where it is looked for: in the
// joint table, and on a unit's label of up to five windings.
func TestPinNumbersOnPaper(t *testing.T) {
	high := func(s draw.Scene, word string) float64 {
		best := 0.0
		s.Walk(func(it draw.Item, _ []*draw.Group) {
			if x, ok := it.(*draw.Text); ok && strings.Contains(x.S, word) {
				pen := &draw.Pen{}
				if err := x.Face.Outline(pen, "5", x.Size, 0, 0); err != nil {
					t.Fatal(err)
				}
				b := pen.Fill(draw.Ink).Box()
				best = max(best, b.Y1-b.Y0)
			}
		})
		return best
	}
	pages, err := bench(t).Sheet()
	if err != nil {
		t.Fatal(err)
	}
	best := 0.0
	for _, p := range pages {
		best = max(best, high(p, "T1.5"))
	}
	if best < 3 {
		t.Errorf("the joint table's pins are %.2f mm high", best)
	}
	if h := high(labels(t)["label-T1"], "5–6"); h < 3 {
		t.Errorf("the label's pins are %.2f mm high", h)
	}
}

// Paper is printed without colour: whatever is not a line or a word in black
// must differ in lightness from what it stands on (WCAG's 3:1, on grey values).
func TestBlackAndWhite(t *testing.T) {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	lum := func(c draw.RGB) float64 { return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B) }
	pages, err := bench(t).Sheet()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pages {
		p.Walk(func(it draw.Item, _ []*draw.Group) {
			if x, ok := it.(*draw.Text); ok && x.Fill != draw.OnState {
				if c := 1.05 / (lum(x.Fill.RGB(draw.Print)) + 0.05); c < 4.5 {
					t.Errorf("%q prints at %.1f:1", x.S, c)
				}
			}
		})
	}
}

// What stands in the wrong column: what no meter can tell apart together, what
// protects once, and the rest counted.
func TestWrongColumn(t *testing.T) {
	p := newPaper(figure.Options{})
	closed := &yokemate.IfClosed{WindingAmps: 4, Winding: "T1/A", FeedAmps: 0.3, FuseOpens: "no"}
	slip := func(code string, v float64, c *yokemate.IfClosed) yokemate.Slip {
		return yokemate.Slip{Code: code, Value: v, Low: 0.99 * v, High: 1.01 * v, IfClosed: c}
	}
	column := func(slips ...yokemate.Slip) string {
		reads, why := p.wrong(&yokemate.Step{Measure: &yokemate.Measure{Quantity: yokemate.VoltsAC}, Slips: slips}, groupsShown, 300, 300)
		var all []string
		for i, l := range why.lines {
			if i < len(reads.lines) && reads.lines[i].s != "" {
				all = append(all, reads.lines[i].s)
			}
			all = append(all, l.s)
		}
		return strings.Join(all, " | ")
	}
	got := column(slip("unpowered:T2", 14.3, nil), slip("reversed:T2/A", 28.4, closed), slip("reversed:T1/A", 28.5, nil))
	want := "about 28 V | T2/A or T1/A reversed. Closed on it, 4.0 A in T1/A and 300 mA from the mains: no winding grows too hot, and the fuse does not open. | about 14 V | T2 without mains"
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	held := *closed
	held.Protects = "The lamp holds it."
	if got := column(slip("a", 5, &held), slip("b", 9, &held)); strings.Count(got, "the fuse does not open") != 2 {
		t.Error(got)
	}
	hot := 9.0
	held.LimitS = &hot
	if got := column(slip("a", 5, &held), slip("b", 9, &held)); strings.Count(got, held.Protects) != 1 || strings.Count(got, "the fuse does NOT open") != 2 {
		t.Error(got)
	}
	var many []yokemate.Slip
	for i := range groupsShown + 3 {
		many = append(many, slip(fmt.Sprint("s", i), float64(i+1), nil))
	}
	if got := column(many...); !strings.HasSuffix(got, " | and 3 more") {
		t.Errorf("%s", got)
	}
}

// A reading from before a lead was moved carries no verdict, and the sheet says
// what it is.
func TestSheetAfterMovedLead(t *testing.T) {
	b := bench(t)
	b.Answers = append(b.Answers, yokemate.Answer{Changed: "reversed:T2/A"})
	pages, err := b.Sheet()
	if err != nil {
		t.Fatal(err)
	}
	text, _ := pdfText(t, pages)
	text = strings.Join(strings.Fields(text), " ")
	for _, w := range []string{"Lead moved after reading 1: T2/A reversed", "Read before a lead was moved: steps 2", "Not read yet: steps 3, 4"} {
		if !strings.Contains(text, w) {
			t.Errorf("no %q", w)
		}
	}
	if strings.Contains(text, "As it should be.") {
		t.Error("the old verdict stands on the sheet")
	}
	b.Answers = append(b.Answers, yokemate.Answer{Step: "ohms-T1-A", Value: "2.65"})
	if pages, err = b.Sheet(); err != nil {
		t.Fatal(err)
	}
	text, _ = pdfText(t, pages)
	if !strings.Contains(text, "2.65") || strings.Contains(text, "Read before") {
		t.Error("the new reading does not stand")
	}
}

// A limit on paper is never more than there is.
func TestDown(t *testing.T) {
	for _, c := range []struct {
		v    float64
		sig  int
		want float64
	}{{1.99, 2, 1.9}, {1.67, 3, 1.67}, {0.07769, 3, 0.0776}, {1, 3, 1}, {0.3, 2, 0.3}, {1234, 2, 1200}, {0, 2, 0}, {math.NaN(), 2, 0}} {
		if got := down(c.v, c.sig); math.Abs(got-c.want) > 1e-12*c.want {
			t.Errorf("%g to %d digits is %g, want %g", c.v, c.sig, got, c.want)
		}
	}
}
