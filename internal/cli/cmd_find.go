package cli

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/find"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/prove"
)

type findCmd struct {
	Need  string `required:"" placeholder:"FILE" help:"A need file, or the name of a stored one."`
	Most  int    `default:"20" placeholder:"N" help:"Give at most so many offers, and name at most so many near misses."`
	Offer int    `placeholder:"N" help:"Write out the hookup of this offer, counted from 1."`
	outFlags
}

// Run answers a need: offers, best first, and the near misses.
func (c *findCmd) Run(a *App) error {
	if err := c.check(); err != nil {
		return err
	}
	s, err := a.Shelf()
	if err != nil {
		return err
	}
	n, err := a.Need(c.Need)
	if err != nil {
		return err
	}
	shown := a.progress("hookups looked at")
	r, err := find.Find(network.Compile(s), n, find.Options{Offers: max(c.Most, c.Offer), Refusals: c.Most, Progress: shown.count})
	shown.end()
	if err != nil {
		return inFile(c.Need, err)
	}
	if c.Offer > 0 {
		if c.Offer > len(r.Offers) {
			return inFile(c.Need, yokemate.Errorf(yokemate.NotFound, "--offer", "there is no offer %d: %s", c.Offer, countOf(len(r.Offers), "offer")).Mend("see them with: yokemate find --need %s%s", quoted(c.Need), a.where()))
		}
		return c.write(a, r.Offers[c.Offer-1].Hookup)
	}
	if a.AsJSON {
		return a.JSON(r)
	}
	a.findings(n, r, unrated(s))
	return nil
}

// unrated lists the units that are in no offer for want of the mains they were
// made for.
func unrated(s *yokemate.Shelf) (tags []string) {
	for i := range s.Units {
		u := &s.Units[i]
		if !u.Quarantined() && u.CoreJoined() == "" && len(u.Windings) > 0 && (u.Mains == nil || len(u.Mains.Series) == 0) {
			tags = append(tags, u.Tag)
		}
	}
	return tags
}

func (c *findCmd) check() error {
	wrong := func(what, mend string) error {
		return yokemate.Errorf(yokemate.Invalid, "command line", "%s", what).Mend("%s", mend)
	}
	switch {
	case c.Most < 1 || c.Most > 500:
		return wrong("--most is out of range", "give a number from 1 to 500")
	case c.Offer < 0 || c.Offer > 500:
		return wrong("--offer is out of range", "give the number of an offer, from 1")
	case c.Offer == 0 && c.Output != "":
		return wrong("nothing says which offer goes to the file", "add --offer 1")
	}
	return nil
}

func countOf(n int, what string) string {
	switch n {
	case 0:
		return "there are none"
	case 1:
		return "there is 1 " + what
	}
	return fmt.Sprintf("there are %d %ss", n, what)
}

// findings prints offers, what their cautions say, the near misses, and what
// lacks facts, or a label.
func (a *App) findings(n *yokemate.Need, r *yokemate.Findings, unrated []string) {
	a.Print("%s\n", say.Words{}.Need(n))
	if len(r.Offers) == 0 {
		a.Print("Nothing on the shelf gives this.\n")
		if len(r.Refusals) == 0 {
			a.Para("", "Nothing comes near it either. A wider tolerance, fewer amps or more units (max_units, in the need) may bring offers; so may another unit on the shelf.")
		}
	}
	type said struct {
		level yokemate.Level
		code  yokemate.NoteCode
		words string
		at    []string
	}
	var cautions []*said
	for i, o := range r.Offers {
		head := strconv.Itoa(i+1) + "  "
		a.Print("\n")
		a.Para(head, o.Hookup.Name)
		pad := strings.Repeat(" ", len(head))
		for _, l := range (say.Words{}).Offer(&o, n) {
			a.Para(pad, l)
		}
		var codes []string
		for _, x := range o.Notes {
			if x.Level != yokemate.Caution {
				continue
			}
			if !slices.Contains(codes, string(x.Code)) {
				codes = append(codes, string(x.Code))
			}
			k := slices.IndexFunc(cautions, func(c *said) bool { return c.code == x.Code && c.words == x.Words })
			if k < 0 {
				k = len(cautions)
				cautions = append(cautions, &said{x.Level, x.Code, x.Words, nil})
			}
			if no := strconv.Itoa(i + 1); !slices.Contains(cautions[k].at, no) {
				cautions[k].at = append(cautions[k].at, no)
			}
		}
		if len(codes) > 0 {
			a.Para(pad+"▲ caution: ", strings.Join(codes, ", "))
		} else {
			a.Para(pad, "○ nothing speaks against it; prove it before it is used")
		}
	}
	if len(cautions) > 0 {
		a.Print("\nWhat the cautions say\n")
		slices.SortStableFunc(cautions, func(x, y *said) int { return strings.Compare(string(x.code), string(y.code)) })
		// The first of a code speaks for its likes: every offer's own stand in
		// its prediction.
		const each = 4
		count := map[yokemate.NoteCode]int{}
		for _, c := range cautions {
			if count[c.code]++; count[c.code] > each {
				continue
			}
			a.Para("  ", fmt.Sprintf("%s, of %s: %s", c.code, strings.Join(c.at, " "), c.words))
		}
		for _, c := range cautions {
			if more := count[c.code] - each; more > 0 {
				a.Para("  ", fmt.Sprintf("%s: %d more like these", c.code, more))
				count[c.code] = 0
			}
		}
	}
	if len(r.Refusals) > 0 {
		a.Print("\nNear misses, not to be wired\n")
		for _, x := range r.Refusals {
			a.Para("  ■ ", fmt.Sprintf("%s: %s (%s)", x.Hookup.Name, x.Words, x.Why))
		}
	}
	if len(r.LeftOut)+len(unrated) > 0 {
		a.Print("\nLeft out for lack of facts\n")
		for _, l := range r.LeftOut {
			a.Para("  ", l)
		}
		for _, tag := range unrated {
			a.Para("  ", fmt.Sprintf("%s: the mains it was made for is not known; where a label tells, type it in with \"yokemate unit set %s --mains 230V --hertz 50 --primary P\", else see \"yokemate identify %s --want insulation,excitation\"", tag, tag, tag))
		}
	}
	if len(r.Offers) > 0 {
		a.Print("\n")
		a.Para("", "Take one with --offer N -o FILE, look at all its readings with \"yokemate predict\", and prove it with \"yokemate prove\" before it carries a load.")
	}
	a.cautions(prove.Cautions())
}
