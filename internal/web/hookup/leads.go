package hookup

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/web/kit"
)

// A lead is moved in two taps: the first takes it, the second names the pin
// whose place it goes to, where the lead that is there comes in its place. Both
// are plain links, so that a finger, a keyboard and a reader of the screen do
// it alike, and nothing is kept but the address.

// move is two pins whose leads are changed over.
type move [2]string

// leads reads the moves from the address.
func leads(r *http.Request, x *Page) ([]move, error) {
	var moves []move
	known := func(a, b string) bool {
		return a != b && slices.Contains(x.Leads, a) && slices.Contains(x.Leads, b)
	}
	wrong := yokemate.Errorf(yokemate.Invalid, "leads", "two different pins of this hookup are wanted").Mend("choose them in the drawing or from the lists")
	if err := r.ParseForm(); err != nil {
		return nil, wrong
	}
	if len(r.Form["move"]) > 20 {
		return nil, yokemate.Errorf(yokemate.Invalid, "leads", "too many leads were moved").Mend("go back to the hookup as it should be")
	}
	for _, text := range r.Form["move"] {
		a, b, _ := strings.Cut(text, ",")
		if !known(a, b) {
			return nil, wrong
		}
		moves = append(moves, move{a, b})
		x.Moves = append(x.Moves, text)
	}
	lead, with := r.Form.Get("lead"), r.Form.Get("with")
	switch {
	case lead == "" && with == "":
	case with == "" && slices.Contains(x.Leads, lead):
		x.Lead = lead
	case known(lead, with):
		moves = append(moves, move{lead, with})
		x.Moves = append(x.Moves, lead+","+with)
	case lead == with && slices.Contains(x.Leads, lead):
		x.Trouble = kit.Trouble{Words: "A lead cannot change its place with itself.", Mend: "Choose two different pins."}
	default:
		return nil, wrong
	}
	x.First, x.Second = lead, with
	if with == "" && len(x.Leads) > 1 {
		x.Second = x.Leads[1]
	}
	return moves, nil
}

func movesWords(moves []move) string {
	var all []string
	for _, m := range moves {
		all = append(all, m[0]+" and "+m[1])
	}
	return "the leads of " + strings.Join(all, ", then of ") + " changed over"
}

// leadLinks gives each pin of the drawing its link. A drawn slip has none.
func (p *pages) leadLinks(x *Page, moves []move, slip string) func(pin string) string {
	if slip != "" {
		return nil
	}
	to := func(lead, with string) string {
		q := url.Values{"mains": {x.Level}, "move": x.Moves}
		if lead != "" {
			q.Set("lead", lead)
		}
		if with != "" {
			q.Set("with", with)
		}
		return x.Link + "?" + q.Encode() + "#drawing"
	}
	x.Drop = to("", "")
	return func(pin string) string {
		switch {
		case !slices.Contains(x.Leads, pin):
			return ""
		case x.Lead == "":
			return to(pin, "")
		case x.Lead == pin:
			return x.Drop
		}
		return to(x.Lead, pin)
	}
}

// exchange puts the leads of two pins in each other's place.
func exchange(h *yokemate.Hookup, m move) *yokemate.Hookup {
	c := h.Clone()
	for i := range c.Joints {
		for k, p := range c.Joints[i].Pins {
			switch p {
			case m[0]:
				c.Joints[i].Pins[k] = m[1]
			case m[1]:
				c.Joints[i].Pins[k] = m[0]
			}
		}
	}
	return c
}
