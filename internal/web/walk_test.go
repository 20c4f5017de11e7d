package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"yokemate"
	"yokemate/identify"
	"yokemate/internal/sqlite"
	"yokemate/prove"
)

// in opens the program's store beside it, and looks.
func (p *program) in(look func(yokemate.Store)) {
	p.t.Helper()
	s, err := sqlite.Open(context.Background(), sqlite.Config{Path: p.file})
	if err != nil {
		p.t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			p.t.Error(err)
		}
	}()
	look(s)
}

// wanted is the reading that a unit's page asks for where more is asked than
// usual; nil: none.
func (p *program) wanted(tag string, more []identify.Ask) (w *yokemate.WantedReading) {
	p.t.Helper()
	p.in(func(s yokemate.Store) {
		shelf, err := s.Shelf(context.Background())
		if err != nil {
			p.t.Fatal(err)
		}
		var o identify.Options
		if more != nil {
			o.Want = append([]identify.Ask{identify.Windings, identify.Dots, identify.Ohms, identify.Volts}, more...)
		}
		f, err := identify.Identify(shelf.Unit(tag), shelf.Meters, o)
		if err != nil {
			p.t.Fatal(err)
		}
		w = f.Next
	})
	return w
}

// proof is a stored proof as the engine has it apart from the pages. It keeps its
// session, as judging all answers anew at every step takes long.
func (p *program) proof(id int64) (*prove.Plan, *prove.Session, []yokemate.Answer) {
	p.t.Helper()
	var q *yokemate.ProofRecord
	p.in(func(s yokemate.Store) {
		var err error
		if q, err = s.Proof(context.Background(), id); err != nil {
			p.t.Fatal(err)
		}
	})
	if p.engine == nil {
		p.engine = &engine{}
	}
	p.engine.take(p.t, q)
	return p.engine.plan, p.engine.session, q.Given().Answers
}

// rightly is what a meter shows where all is right.
func rightly(s *yokemate.Step) string {
	switch {
	case s.Measure == nil:
		return ""
	case s.Right == nil:
		return "over"
	case s.Measure.Quantity == yokemate.Megohms:
		return "500"
	}
	return strconv.FormatFloat(s.Right.Value, 'g', 4, 64)
}

// give sends an answer and kills the program at some moment of that: before it
// has come, while it is judged, or after. Whatever was shown to be kept is kept.
func (p *program) give(at string, form url.Values, after time.Duration) {
	p.t.Helper()
	done := make(chan error, 1)
	go func() {
		r, err := http.NewRequestWithContext(p.t.Context(), "POST", "http://"+p.addr+at, strings.NewReader(form.Encode()))
		if err == nil {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			var res *http.Response
			if res, err = http.DefaultTransport.RoundTrip(r); err == nil {
				res.Body.Close()
			}
		}
		done <- err
	}()
	time.Sleep(after)
	p.die()
	<-done // an error is the program's death
}

// The main job, in the browser alone and with the program as it is run: an empty
// shelf, two units known by their pins, every reading that is asked for, a need
// that takes both, an offer, its hookup with a slip and a moved lead, the proof
// with the gap between the units read on that slip and wrong readings on its way,
// and the sheet. By a finger on a phone, and by the keyboard on a wide screen,
// with a script and without. Again and again the program is killed and started on
// the same store.
func TestMainJob(t *testing.T) {
	browser := chromium(t)
	views := []view{
		{"job-phone-plain", 390, 844, "light", true, false},
		{"job-desk", 1280, 800, "dark", false, true},
		{"job-phone", 390, 844, "dark", true, true},
		{"job-desk-plain", 1280, 800, "light", false, false},
	}
	if testing.Short() {
		views = views[:2]
	}
	for _, v := range views {
		t.Run(v.name, func(t *testing.T) {
			p := newProgram(t)
			s := newScreen(t, browser, v, "http://"+p.addr)
			s.open("/")
			s.look("empty")
			units := map[string]*truth{
				"T1": {[2][2]string{{"1", "2"}, {"5", "6"}}, [2]float64{800, 1.27}, [2]float64{230, 14.7}, 0.015},
				"T2": {[2][2]string{{"1", "2"}, {"6", "5"}}, [2]float64{812, 1.31}, [2]float64{230, 14.75}, 0.016},
			}
			for _, tag := range []string{"T1", "T2"} {
				job{s, p}.identify(tag, units[tag])
				s.press(`header .name a`)
			}
			hookup := job{s, p}.need()
			job{s, p}.whatIf(hookup)
			job{s, p}.prove("T1", "800 Ω", "T2", "812 Ω")
		})
	}
}

// job is a person at the bench.
type job struct {
	*screen
	p *program
}

// identify puts a unit on the shelf and answers what is asked, until nothing is.
func (s job) identify(tag string, u *truth) {
	s.t.Helper()
	s.fill("#tag", tag)
	s.fill("#pins", "1 2 / 5 6")
	s.press(`form[action="/units"] button[type=submit]`)
	at := "/units/" + tag
	if got := s.ask("location.pathname"); got != at {
		s.t.Fatalf("it leads to %s", got)
	}
	s.unfold(`section[aria-labelledby="label"] summary`)
	s.fill("#label_volts", "230")
	s.fill("#label_hertz", "50")
	s.fill("#va", "12")
	s.p.die()
	s.press(`form[action="` + at + `/label"] button[type=submit]`)
	s.press(`main a[href^="` + at + `/identify"]`)
	s.look("sitting-" + tag)
	s.sit(at)
	var more []identify.Ask
	w := s.p.wanted(tag, more)
	for n := 0; ; n++ {
		if w == nil && len(more) < 2 { // all that is usual is read: now the idle current, then the insulation
			ask := []identify.Ask{identify.Excitation, identify.Insulation}[len(more)]
			more = append(more, ask)
			s.press(`.more a[href*="` + string(ask) + `"]`)
			w = s.p.wanted(tag, more)
			continue
		}
		if w == nil {
			break
		}
		if n == 40 {
			s.t.Fatal("the readings have no end")
		}
		form := `form[action="` + at + `/wanted"] `
		value, source := u.shows(w)
		if source != "" {
			s.fill(form+"#source", source)
		}
		if n == 1 || n == 5 {
			s.look(fmt.Sprintf("identify-%s-%d", tag, n))
		}
		button := `button[value="open"]`
		if value != "open" {
			s.fill(form+"#value", strings.Replace(value, ".", ",", 1))
			button = `button.main`
		}
		if n%3 == 0 {
			s.p.die() // what is typed and not sent stays on the screen
		}
		s.press(form + button)
		next := s.p.wanted(tag, more)
		if next != nil && identify.Key(next) == identify.Key(w) {
			s.t.Fatalf("%s: %s was not kept\n%s", tag, w.Do, s.ask(`document.querySelector('main').innerText`))
		}
		w = next
	}
	s.look("told-" + tag)
	s.choose("#side_of", "P")
	s.p.die()
	s.press(`form.done button.main`)
	s.look("identified-" + tag)
	s.p.in(func(st yokemate.Store) {
		shelf, err := st.Shelf(context.Background())
		if err != nil {
			s.t.Fatal(err)
		}
		if x := shelf.Unit(tag); len(x.Windings) != 2 {
			s.t.Fatalf("%s has %d windings", tag, len(x.Windings))
		}
	})
}

// sit answers what is asked once a sitting, where it is asked.
func (s job) sit(at string) {
	s.t.Helper()
	if s.ask(`document.querySelector('#leads') ? 'asked' : ''`) == "" {
		return
	}
	s.fill("#leads", "0,2")
	s.p.die()
	s.press(`form[action="` + at + `/sitting"] button.main`)
}

// need asks for amps that neither unit gives alone, takes the first offer, and
// returns where it leads: the two windings side by side, 14.7 V less what half of
// the amps takes in the copper of each.
func (s job) need() string {
	s.t.Helper()
	s.press(`nav a[href="/needs"]`)
	s.look("needs")
	s.fill("#name", "workshop clock")
	s.fill("#volts", "12")
	s.fill("#amps", "0,9")
	s.fill("#within", "8")
	s.p.die()
	s.press(`form[action="/needs"] button[type=submit]`)
	s.look("offers")
	s.p.die()
	s.press(`form[action$="/take"] button`)
	s.look("hookup")
	return s.ask("location.pathname")
}

// whatIf looks at a slip and moves a lead, and comes back.
func (s job) whatIf(hookup string) {
	s.t.Helper()
	s.choose("#slip", s.ask(`[...document.querySelectorAll('#slip option')].find(o => o.value.startsWith('reversed:') && o.value.endsWith('/A')).value`))
	s.press(`form:has(#slip) button`)
	s.look("slip")
	s.press(`.whatif a`)
	s.press(`.drawing a[href*="lead="]`)
	s.look("lead")
	s.p.die()
	s.press(`.drawing a[href*="with="]`)
	s.look("moved")
	s.press(`.whatif a`)
	if got := s.ask("location.pathname"); got != hookup {
		s.t.Errorf("back leads to %s, not %s", got, hookup)
	}
}

// prove goes through the proof, with wrong readings on its way: the first gap
// between two windings reads as one of them turned round would make it, then as
// nothing could; and the last step that a reason passes is passed with one.
func (s job) prove(says ...string) {
	s.t.Helper()
	s.press(`form[action$="/proofs"] button`)
	var id int64
	if _, err := fmt.Sscanf(s.ask("location.pathname"), "/proofs/%d", &id); err != nil {
		s.t.Fatal(err)
	}
	s.look("first")
	s.press(`a.button.main`)
	gap, turned, stops, killed, kept := "", "", 0, 0, 0
	for n := 0; ; n++ {
		plan, session, given := s.p.proof(id)
		if len(given) != kept {
			s.t.Fatalf("%d answers are kept, of %d: %+v", len(given), kept, given[max(0, len(given)-2):])
		}
		step := plan.Step(session.Next())
		if step == nil {
			break
		}
		if n == 80 {
			s.t.Fatal("the proof has no end")
		}
		if got := s.ask(`document.querySelector('form.answer input[name=step]').value`); got != step.ID {
			s.t.Fatalf("the page asks %q, the engine %q", got, step.ID)
		}
		if n%7 == 0 {
			s.look(fmt.Sprintf("step-%d", n+1))
		}
		if step.ID == gap && stops == 0 { // it is read anew, the lead put right
			s.stop(id, true)
			stops, kept = stops+1, kept+1
		}
		switch {
		case gap == "" && step.Closes != "" && step.Measure != nil && step.Measure.Quantity == yokemate.VoltsAC:
			gap, turned = step.ID, s.turned(id, step)
			kept += 2
		case step.ID == lastToPass(plan):
			s.stop(id, false)
			s.fill("#reason", "the range was wrong")
			s.p.die()
			s.press(`form[action$="/overrule"] button`)
			stops, kept = stops+1, kept+2
		default:
			value := rightly(step)
			s.answer(value, n%4 == 1)
			if n%6 == 2 { // and the same answer once more, with the program dying under it
				killed++
				s.p.give(fmt.Sprintf("/proofs/%d/readings", id), url.Values{"count": {strconv.Itoa(kept)}, "step": {step.ID}, "value": {value}}, time.Duration(n)*time.Millisecond/4)
			}
			kept++
		}
	}
	if stops != 2 || killed == 0 {
		s.t.Errorf("%d stops, %d deaths under an answer", stops, killed)
	}
	s.look("end")
	if !strings.Contains(s.ask("document.querySelector('h1').textContent"), "Good") {
		s.t.Errorf("at the end the page says\n%s", s.ask(`document.querySelector('main').innerText`))
	}
	s.press(`a.button.main`)
	s.look("record")
	for _, want := range []string{turned, "is mended", "713 V", "the range was wrong"} {
		if said := s.ask(`document.querySelector('main').innerText`); !strings.Contains(said, want) {
			s.t.Errorf("the record does not keep %q\n%s", want, said)
		}
	}
	s.print(id, append(says, "Change a lead: Do not close it.", "Lead moved after reading", "This gap fits nothing on the list", "713 V", "the range was wrong")...)
}

// turned reads a gap as the winding that it joins reads when its ends are
// swapped. The page told of that reading before, takes it for what it is, offers
// no way on, and asks for the gap anew once the lead is said to be put right. It
// returns the reading as the record shows it.
func (s job) turned(id int64, step *yokemate.Step) string {
	s.t.Helper()
	var slip *yokemate.Slip
	for i := range step.Slips {
		if x := &step.Slips[i]; strings.HasPrefix(x.Code, "reversed:") && x.IfClosed != nil && (slip == nil || x.Value > slip.Value) {
			slip = x
		}
	}
	// The volts of both windings, 14.7 and 14.75, add up where the gap should show
	// what they differ by.
	if slip == nil || step.Right == nil || math.Abs(slip.Value-29.45) > 0.3 || step.Right.Value > 0.3 {
		s.t.Fatalf("step %s: right is %+v, with %+v", step.ID, step.Right, slip)
	}
	value := strconv.FormatFloat(slip.Value, 'f', 2, 64)
	s.look("gap")
	if out := s.ask(`(() => { const box = document.querySelector('.drawing').getBoundingClientRect(); return [...document.querySelectorAll('.drawing .probe, .drawing .meter')].map(e => e.getBoundingClientRect()).filter(r => r.left < box.left || r.right > box.right).length + ' of ' + document.querySelectorAll('.drawing .probe, .drawing .meter').length; })()`); !strings.HasPrefix(out, "0 of ") || out == "0 of 0" {
		s.t.Errorf("%s: of the drawing's probes and meter %s are out of sight", s.name, out)
	}
	if told := s.ask(`document.querySelector('.expect').innerText + document.querySelector('.groups').innerText`); !strings.Contains(told, "29") || !strings.Contains(told, "Closed on it") {
		s.t.Errorf("before it is read, the gap's page says\n%s", told)
	}
	s.answer(value, true)
	s.look("turned")
	said := s.ask(`document.querySelector('main').innerText`)
	if !strings.Contains(said, "Change a lead") || strings.Contains(said, "Go on") {
		s.t.Fatalf("at a gap on a turned winding the page says\n%s", said)
	}
	_, session, given := s.p.proof(id)
	if session.Next() != step.ID || s.ask(`document.querySelector('form.answer input[name=step]').value`) != step.ID {
		s.t.Errorf("it goes on to %s", session.Next())
	}
	if code := s.ask(`document.querySelector('.verdict input[name=code]').value`); !strings.HasPrefix(code, "reversed:") {
		s.t.Fatalf("the lead to change is %s", code)
	}
	s.p.die()
	s.press(`.verdict form button.main`)
	s.look("mended")
	if _, _, now := s.p.proof(id); len(now) != len(given)+1 || now[len(given)].Changed == "" {
		s.t.Fatalf("the answers end with %+v", now[len(given)-1:])
	}
	return strings.TrimRight(value, "0") // as far as it must be kept
}

// print has the sheet of a proof drawn, looks at its pages, and takes it away to
// the printer: it says what was read, what for, and why a stop was passed.
func (s job) print(id int64, says ...string) {
	s.t.Helper()
	s.press(`main a[href$="/paper"]`)
	s.look("paper")
	s.fill("#who", "M. Olsen")
	s.p.die()
	s.press(`main form button.main`)
	s.look("sheet")
	if bad := s.ask(`[...document.querySelectorAll('.sheets img')].filter(i => !i.complete || !i.naturalWidth).map(i => i.src).join(' ') || (document.querySelector('.sheets img') ? '' : 'none')`); bad != "" {
		s.t.Errorf("%s: these pages are not to be seen: %s", s.name, bad)
	}
	at := s.ask(`document.querySelector('.paper a.button').getAttribute('href')`)
	s.p.die()
	res, err := http.Get("http://" + s.p.addr + at)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close()
	pdf, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		s.t.Fatalf("%s: status %d, %v", at, res.StatusCode, err)
	}
	read := exec.Command("pdftotext", "-layout", "-", "-")
	read.Stdin = bytes.NewReader(pdf)
	text, err := read.Output()
	if err != nil {
		s.t.Fatalf("pdftotext (package poppler-utils): %v", err)
	}
	for _, want := range append(says, "M. Olsen") {
		if !strings.Contains(strings.Join(strings.Fields(string(text)), " "), want) {
			s.t.Errorf("%s: the sheet does not say %q\n%s", s.name, want, text)
		}
	}
}

// lastToPass is the last step at which a volt too many may be passed for a reason.
func lastToPass(p *prove.Plan) string {
	for _, id := range slices.Backward(p.IDs()) {
		if x := p.Step(id); x.Closes == "" && x.Measure != nil && x.Measure.Quantity == yokemate.VoltsAC {
			return id
		}
	}
	return ""
}

// answer types a reading and sends it; where nothing is read, it says so.
func (s job) answer(value string, die bool) {
	s.t.Helper()
	switch value {
	case "":
	case "over":
		if die {
			s.p.die()
		}
		s.press(`form.answer button[value="over"]`)
		return
	default:
		s.fill("#value", strings.Replace(value, ".", ",", 1))
	}
	if die {
		s.p.die()
	}
	s.press(`form.answer button.main`)
}

// stop gives a reading that nothing can show. The stop is not passed by pressing
// on without a reason; at a gap that a good reading would close, by no reason.
func (s job) stop(id int64, gap bool) {
	s.t.Helper()
	s.answer("713", false)
	if gap {
		s.look("stopped-gap")
	} else {
		s.look("stopped")
	}
	if h := s.ask("document.querySelector('h1').textContent"); !strings.Contains(h, "Stopped") {
		s.t.Fatalf("after a wrong reading the page is headed %q", h)
	}
	_, _, given := s.p.proof(id)
	s.p.die()
	if gap {
		if ways := s.ask(`[...document.querySelectorAll('main form')].map(f => f.action).join(' ')`); strings.Contains(ways, "/overrule") || s.ask(`String(document.querySelector('button[value=unsure]'))`) != "null" {
			s.t.Errorf("at a gap the stop offers %s", ways)
		}
		return
	}
	button := `form[action$="/overrule"] button`
	if s.touch {
		s.touchOrReach(button)
	} else {
		s.reach(button)
		s.do("return", chromedp.KeyEvent(kb.Enter))
	}
	time.Sleep(200 * time.Millisecond) // long enough for what must not happen
	s.open(fmt.Sprintf("/proofs/%d", id))
	if h := s.ask("document.querySelector('h1').textContent"); !strings.Contains(h, "Stopped") {
		s.t.Fatalf("without a reason the page goes on to %q", h)
	}
	if _, _, now := s.p.proof(id); len(now) != len(given) {
		s.t.Fatalf("%d answers, not %d", len(now), len(given))
	}
}
