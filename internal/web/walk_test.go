package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
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
// shelf, two units known by their pins, every reading that is asked for, a need,
// an offer, its hookup with a slip and a moved lead, the proof with a wrong
// reading on its way, and the sheet. By a finger on a phone, and by the keyboard
// on a wide screen, with a script and without. Again and again the program is
// killed and started on the same store.
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
			// Either unit alone serves the need; the better one is the first offer.
			tag := strings.TrimPrefix(hookup, "/hookups/")[:2]
			u := units[tag]
			if u == nil {
				t.Fatalf("the hookup taken is %s", hookup)
			}
			job{s, p}.prove(tag, strconv.FormatFloat(u.ohms[0], 'f', -1, 64)+" Ω")
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
	for n := 0; ; n++ {
		w := s.p.wanted(tag, more)
		if w == nil && len(more) < 2 { // all that is usual is read: now the idle current, then the insulation
			ask := []identify.Ask{identify.Excitation, identify.Insulation}[len(more)]
			more = append(more, ask)
			s.press(`.more a[href*="` + string(ask) + `"]`)
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
		if value == "open" {
			s.p.die()
			s.press(form + `button[value="open"]`)
		} else {
			s.fill(form+"#value", strings.Replace(value, ".", ",", 1))
			if n%2 == 0 {
				s.p.die() // what is typed and not sent stays on the screen
			}
			s.press(form + `button.main`)
		}
		if next := s.p.wanted(tag, more); next != nil && identify.Key(next) == identify.Key(w) {
			s.t.Fatalf("%s: %s was not kept\n%s", tag, w.Do, s.ask(`document.querySelector('main').innerText`))
		}
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

// need asks for volts and takes the first offer, and returns where it leads.
func (s job) need() string {
	s.t.Helper()
	s.press(`nav a[href="/needs"]`)
	s.look("needs")
	s.fill("#name", "workshop clock")
	s.fill("#volts", "14")
	s.fill("#amps", "0,2")
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

// prove goes through the proof, with a wrong reading on its way.
func (s job) prove(says ...string) {
	s.t.Helper()
	s.press(`form[action$="/proofs"] button`)
	var id int64
	if _, err := fmt.Sscanf(s.ask("location.pathname"), "/proofs/%d", &id); err != nil {
		s.t.Fatal(err)
	}
	s.look("first")
	s.press(`a.button.main`)
	stops, killed := 0, 0
	for n := 0; ; n++ {
		plan, session, given := s.p.proof(id)
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
		first := stops == 0 && step.Closes == "" && step.Measure != nil && step.Measure.Quantity == yokemate.VoltsAC && step.Right != nil && step.Right.Value < 50
		if first || step.ID == lastToPass(plan) {
			s.stop(id)
			if stops++; stops > 1 {
				s.fill("#reason", "the range was wrong")
				s.p.die()
				s.press(`form[action$="/overrule"] button`)
				continue
			}
			given = append(given, yokemate.Answer{})
		}
		value := rightly(step)
		s.answer(value, n%4 == 1)
		if n%6 == 2 { // and the same answer once more, with the program dying under it
			killed++
			s.p.give(fmt.Sprintf("/proofs/%d/readings", id), url.Values{"count": {strconv.Itoa(len(given))}, "step": {step.ID}, "value": {value}}, time.Duration(n)*time.Millisecond/4)
		}
		if _, _, now := s.p.proof(id); len(now) != len(given)+1 {
			s.t.Fatalf("%d answers after %d", len(now), len(given))
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
	if said := s.ask(`document.querySelector('main').innerText`); !strings.Contains(said, "the range was wrong") {
		s.t.Errorf("the record does not keep the reason\n%s", said)
	}
	s.print(id, says...)
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
	for _, want := range append(says, "713 V", "the range was wrong", "M. Olsen") {
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

// stop gives a reading that nothing right can show. The stop is not passed by
// pressing on without a reason.
func (s job) stop(id int64) {
	s.t.Helper()
	s.answer("713", false)
	s.look("stopped")
	if h := s.ask("document.querySelector('h1').textContent"); !strings.Contains(h, "Stopped") {
		s.t.Fatalf("after a wrong reading the page is headed %q", h)
	}
	_, _, given := s.p.proof(id)
	s.p.die()
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
