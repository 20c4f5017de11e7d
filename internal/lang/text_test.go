package lang

import (
	"bytes"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Sentences as the engine makes them. The German is what a translator would
// write by hand; the first column's numbers and names stand in it unchanged but
// for the decimal mark (DIN 1333: a comma).
func TestText(t *testing.T) {
	for _, c := range []struct{ english, german string }{
		{"at the highest mains the core of F1 is at 1.05 of its rated volts per hertz; 1.10 is the most",
			"bei höchster Netzspannung liegt der Kern von F1 beim 1,05-Fachen seiner Nennspannung je Hertz; 1,10 ist das Höchste"},
		{"At the highest mains the core of F1 is at 1.05 of its rated volts per hertz; 1.10 is the most.",
			"Bei höchster Netzspannung liegt der Kern von F1 beim 1,05-Fachen seiner Nennspannung je Hertz; 1,10 ist das Höchste."},
		{"F2/A is driven backwards through its low side: 230 V appears on its mains side P",
			"F2/A wird über die Niederspannungsseite rückwärts gespeist: an der Netzseite P erscheinen 230 V"},
		{"Closed on it, 5.5 A in F2/A and 720 mA from the mains; the fuse opens within 3.2 s; too hot after 1.5 min.",
			"So geschlossen fließen 5,5 A in F2/A und 720 mA aus dem Netz; die Sicherung löst innerhalb von 3,2 s aus; zu heiß nach 1,5 min."},
		{"Power off. T1.5 is the wrong way round: its leads T1.5 and T1.6 are in each other's place. Turn T1/A round: change its two leads over, then read again. 3 other slips read the same; see the list.",
			"Strom aus. T1.5 ist verkehrt herum: ihre Leitungen T1.5 und T1.6 sind vertauscht. T1/A umdrehen: ihre zwei Leitungen tauschen, dann nochmals messen. 3 andere Fehler zeigen dasselbe; siehe Liste."},
		{"12.1 to 12.4 V", "12,1 bis 12,4 V"},
		{"44 to 156 mV", "44 bis 156 mV"},
		{"14.70 ± 0.05 V", "14,70 ± 0,05 V"},
		{"pin T1.5", "Anschluss T1.5"},
		{"F1: first power through a lamp of 15 W, in the live wire, on 230 V. Filament, never LED.",
			"F1: erstes Einschalten über eine Lampe mit 15 W, im Außenleiter, an 230 V. Glühlampe, nie LED."},
		{"First power: H1 alone, a 120 Ω resistor in its live wire, every other winding open, covers on.",
			"Erstes Einschalten: H1 allein, über einen Widerstand von 120 Ω im Außenleiter, alle anderen Wicklungen offen, Abdeckungen drauf."},
		{"volts AC from pin F1.1 to pin F1.2", "Wechselspannung zwischen Anschluss F1.1 und Anschluss F1.2"},
		{"Joint B is closed on the slip at step gap-B, and powered, at nominal mains, 230 V 50 Hz.",
			"Verbindung B wird beim Schritt gap-B auf den Fehler geschlossen und eingeschaltet, bei Netzspannung nominal, 230 V 50 Hz."},
		{"Switched on at 90° of the wave, at low mains, 207 V 50 Hz, with 0.60 of the rated flux left in the cores.",
			"Eingeschaltet bei 90° der Netzperiode, bei Netzspannung niedrig, 207 V 50 Hz, mit 0,60 des Nennflusses als Rest in den Kernen."},
		{"F1 secondary A, (F5 secondaries A–B and F5 secondary C in parallel) reversed and F6 secondary C in series into a bridge",
			"F1 Sekundärwicklung A, (F5 Sekundärwicklungen A–B und F5 Sekundärwicklung C parallel) verpolt und F6 Sekundärwicklung C in Reihe auf eine Brücke"},
		{"Power off, wait 5 s, connect a load that draws 500 mA DC. Full mains. Read DC volts, red on terminal dc+, black on terminal dc-.",
			"Strom aus, 5 s warten, eine Last anschließen, die 500 mA Gleichstrom zieht. Volle Netzspannung. Gleichspannung messen, rot an Klemme dc+, schwarz an Klemme dc-."},
		{"volts left for the unit", "Spannung, die dem Trafo bleibt"},
		{"joint A (T1.5, T2.6)", "Verbindung A (T1.5, T2.6)"},
		{"T1.5 to T1.6", "T1.5 bis T1.6"},
		{"joint lights: there is no joint \"B\".", "Verbindung lights: die Verbindung „B“ gibt es nicht."},
		{", right 100 MΩ or more. Good insulation.", ", richtig 100 MΩ oder mehr. Gute Isolation."},
		{"H2.1 or H2.2 open; H2 without mains; no mains: fuse or plug", "H2.1 oder H2.2 offen; H2 ohne Netz; kein Netz: Sicherung oder Stecker"},
		{"flux 0.921 · 3.74 W", "Fluss 0,921 · 3,74 W"},
		{"Idle at 231.8 V, 50 Hz on P", "Leerlauf bei 231,8 V, 50 Hz an P"},
		{"1.05", "1.05"},   // a number without a unit may be a name
		{"T1.5", "T1.5"},   // a pin
		{"1.5 A", "1,5 A"}, // a quantity
		{"flux of nothing that anybody has ever seen in all these years", "flux of nothing that anybody has ever seen in all these years"}, // values side by side
		{"  Go on\n", "  Weiter\n"},
		{"No sentence of this program.", "No sentence of this program."},
		{"", ""},
	} {
		if got := Get("de").Text(c.english); got != c.german {
			t.Errorf("%q\n got %q\nwant %q", c.english, got, c.german)
		}
	}
	us := Get("en-US")
	for english, want := range map[string]string{
		"Everything joined, full mains, nothing drawn. Read the current in the live wire, AC amps.": "Everything joined, full mains, nothing drawn. Read the current in the line wire, AC amps.",
		"The core of earth is not bonded to earth.":                                                 "The core of earth is not bonded to ground.", // a unit of that name keeps it
		"live L of the plug": "line L of the plug",
		"12.1 to 12.4 V":     "12.1 to 12.4 V",
	} {
		if got := us.Text(english); got != want {
			t.Errorf("%q\n got %q\nwant %q", english, got, want)
		}
	}
}

// Where half of a sentence is not known, the whole is left as it is.
func TestUnknownStaysWhole(t *testing.T) {
	s := "the fuse opens, said the old man who had been sitting there since the morning without a word"
	if got := Get("de").Text(s); got != s {
		t.Errorf("%q", got)
	}
	if u := Get("de").Unknown(s); len(u) != 1 || u[0] != s {
		t.Errorf("%q", u)
	}
}

// Say gives a pattern with its verbs, for one who fills in the values later.
func TestSay(t *testing.T) {
	for english, want := range map[string]string{"page %s of %s": "Seite %s von %s", "95 % within": "95 % innerhalb", "output %s": "Ausgang %s"} {
		if got := Get("de").Say(english); got != want {
			t.Errorf("%q: %q, not %q", english, got, want)
		}
	}
}

// Whatever the text is, nothing panics, white space about it stays, and what is
// said a second time is the same.
func TestAnyText(t *testing.T) {
	words := rapid.SampledFrom([]string{"the", "fuse", "opens", "of", "to", "T1.5", "12.5 V", "and", "(", ")", ";", ".", ":", " ", "%s", "\"x\"", "ß", "rope", "lights", "with", "at", "is", ","})
	rapid.Check(t, func(t *rapid.T) {
		s := strings.Join(rapid.SliceOfN(words, 0, 30).Draw(t, "words"), rapid.SampledFrom([]string{" ", ""}).Draw(t, "between"))
		for _, l := range All() {
			once := l.Text(s)
			if again := l.Text(s); again != once {
				t.Fatalf("%q: %q, then %q", s, once, again)
			}
			if strings.TrimSpace(s) != "" && (strings.HasPrefix(s, " ") != strings.HasPrefix(once, " ") || strings.HasSuffix(s, " ") != strings.HasSuffix(once, " ")) {
				t.Fatalf("%q: %q", s, once)
			}
		}
	})
}

func TestAccepted(t *testing.T) {
	en, us := English, Get("en-US")
	for _, c := range []struct {
		header string
		usual  *Language
		want   string
	}{
		{"", en, "en"}, {"", us, "en-US"}, {"*", us, "en-US"},
		{"de", en, "de"}, {"de-CH,de;q=0.9", en, "de"}, {"de-AT, en;q=0.5", us, "de"},
		{"en", us, "en-US"}, {"en-US", en, "en-US"}, {"en-GB", us, "en"}, {"en-IE", us, "en"},
		{"fr, de;q=0.4, en;q=0.6", en, "en"}, {"fr-FR", us, "en-US"}, {"en;q=0, de;q=0.1", us, "de"},
		{"de;q=x", en, "en"}, {";;,", en, "en"},
	} {
		if got := Accepted(c.header, c.usual); got.Tag != c.want {
			t.Errorf("%q, usually %s: %s, not %s", c.header, c.usual.Tag, got.Tag, c.want)
		}
	}
}

func TestHTML(t *testing.T) {
	page := `<!DOCTYPE html>
<html lang="en"><head><title>Shelf · Yokemate</title><style>.Stop { }</style></head><body>
<p>Stop <b translate="no">Stop <b>Stop</b> Stop</b> Stop</p>
<p title="Stop" aria-label="Caution">F1 &amp; F2: 12.5 V</p><code>Stop</code><textarea>Stop</textarea>
<input placeholder="Stop" value="Stop"/><input type="submit" value="Stop"><button value="Stop" data-say-moved="joint %s">Go on</button>
<p translate="no" title="Stop">Stop<br>Stop</p>
<table><tr><td>0.92</td><td>0.920 to 0.923</td><td translate="no">1.5</td><th>1.5</th></tr></table>
<svg viewBox="0 0 1 1"><g class="axes"><text>2.5</text></g><text>2.5</text><text x="1" textLength="3.5" lengthAdjust="spacingAndGlyphs">plug out</text><text textLength="2" lengthAdjust="spacingAndGlyphs">T1.5</text><title>Stop</title></svg>
<script>const a = "Stop"</script></body></html>`
	want := `<!DOCTYPE html>
<html lang="de"><head><title>Regal · Yokemate</title><style>.Stop { }</style></head><body>
<p>STOPP <b translate="no">Stop <b>Stop</b> Stop</b> STOPP</p>
<p title="STOPP" aria-label="Vorsicht">F1 &amp; F2: 12,5 V</p><code>Stop</code><textarea>Stop</textarea>
<input placeholder="STOPP" value="Stop"/><input type="submit" value="STOPP"><button value="Stop" data-say-moved="Verbindung %s">Weiter</button>
<p translate="no" title="Stop">Stop<br>Stop</p>
<table><tr><td>0,92</td><td>0,920 bis 0,923</td><td translate="no">1.5</td><th>1.5</th></tr></table>
<svg viewBox="0 0 1 1"><g class="axes"><text>2,5</text></g><text>2.5</text><text x="1">Stecker gezogen</text><text textLength="2" lengthAdjust="spacingAndGlyphs">T1.5</text><title>STOPP</title></svg>
<script>const a = "Stop"</script></body></html>`
	var got bytes.Buffer
	if err := Get("de").HTML(&got, strings.NewReader(page)); err != nil {
		t.Fatal(err)
	}
	g, w := strings.Split(got.String(), "\n"), strings.Split(want, "\n")
	for i := range w {
		if i >= len(g) || g[i] != w[i] {
			t.Errorf("line %d\n got %s\nwant %s", i+1, strings.Join(g[min(i, len(g)-1):min(i+1, len(g))], ""), w[i])
		}
	}
	got.Reset()
	if err := English.HTML(&got, strings.NewReader(page)); err != nil || got.String() != page {
		t.Error("English is not untouched")
	}
}

// What a catalogue may not hold.
func TestStrict(t *testing.T) {
	for _, bad := range []string{
		"a %s\n\tein", "a %s\n\tein %s %s", "a %s\n\tein %d", "a\n", "\tein\n", "a\n\tein\na\n\tein\n", "a\n\t\n", "a\n\t ein\n", "a  b\n\tein\n",
		"a %x\n\tein %x", "a %[2]s %[1]s\n\t%s ein %s", "%s: %s\n\t%s: %s", "a\n\nb\n\tein\n", "a %[s\n\tein", "a %s%s\n\t%s%s ein", "a %\n\tein",
	} {
		if _, err := pairs(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	if p, err := pairs("# remark\n\na %s of %d\n\t%[2]d von %[1]s\n"); err != nil || len(p) != 1 {
		t.Error(p, err)
	}
}

// BenchmarkText times a sentence with values that is met for the first time, and
// one that is remembered.
func BenchmarkText(b *testing.B) {
	de := Get("de")
	sentence := "with no load 160 mA circulates between F2/A, F6/A, F6/B, F6/C: 15.7 % of the smaller rating, 1.00 A; more than 15 % is a stop"
	b.Run("new", func(b *testing.B) {
		for b.Loop() {
			de.memory.young, de.memory.old = nil, nil
			de.Text(sentence)
		}
	})
	b.Run("known", func(b *testing.B) {
		for b.Loop() {
			de.Text(sentence)
		}
	})
	b.Run("strange", func(b *testing.B) {
		for b.Loop() {
			de.memory.young, de.memory.old = nil, nil
			de.Text("an old lamp of the theatre, taken out in 1962, with a label that nobody in the house can read any more")
		}
	})
}

// Sentences that stand behind one another are said one by one: nothing of the
// one gets into the other.
func TestSentences(t *testing.T) {
	de := Get("de")
	var sentences []string
	for _, p := range mustPatterns(read("en.txt")) {
		if x := sample(p); strings.HasSuffix(x, ".") && raised(x) == x {
			sentences = append(sentences, x)
		}
	}
	one := rapid.SampledFrom(sentences)
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(one, 2, 3).Draw(t, "sentences")
		var want []string
		for _, p := range parts {
			want = append(want, de.Text(p))
		}
		if got := de.Text(strings.Join(parts, " ")); got != strings.Join(want, " ") {
			t.Fatalf("%q\n got %q\nwant %q", strings.Join(parts, " "), got, strings.Join(want, " "))
		}
	})
}
