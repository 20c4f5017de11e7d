package hookup

import (
	"html/template"
	"net/http"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/prove"
	"yokemate/supply"
)

// Limits is the page of what a hookup may be asked for.
type Limits struct {
	Name, Link string
	Why        kit.Trouble // why there are none
	Outputs    say.Table
	Facts      []say.Fact
	FuseWhy    []string
	Estimated  string
	Curve      template.HTML
	Cautions   []string
}

// limits shows what a hookup may be asked for. It takes long the first time, so
// it has a page of its own. What must not be powered has none.
func (p *pages) limits(w http.ResponseWriter, r *http.Request) error {
	h, s, err := p.kit.Wired(r)
	if err != nil {
		return err
	}
	f := network.Compile(s)
	x := Limits{Name: h.Name, Link: link(h.Name), Cautions: prove.Cautions()}
	show := func() error { return p.Limits.Show(w, http.StatusOK, "Limits of "+h.Name, "hookups", x) }
	z, err := p.ask(f, s, h, network.Options{}, yokemate.Nominal)
	if err != nil {
		return err
	}
	switch {
	case yokemate.Worst(z.prediction.Notes) == yokemate.Stop:
		x.Why = kit.Trouble{Words: "Nothing: it must not be powered as it stands.", Mend: "Its page says what stops it."}
		return show()
	case len(h.Outputs) == 0:
		x.Why = kit.Trouble{Words: "Nothing: it has no output."}
		return show()
	}
	key, err := kit.Key(h, s)
	if err != nil {
		return err
	}
	card, err := p.cards.Get(key, func() (*yokemate.LimitsCard, error) {
		return supply.Limits(f, h, supply.CardOptions{Heat: thermal.Options{AmbientC: paper.Ambient}})
	})
	if err != nil {
		if x.Why, err = p.kit.Trouble(err); err != nil {
			return err
		}
		return show()
	}
	x.Outputs = say.Words{}.Limits(card)
	x.Facts = say.Words{}.LimitFacts(card)
	x.FuseWhy = say.FuseWhy(card)
	if card.Estimated {
		x.Estimated = say.Words{}.EstimatedRating()
	}
	c, err := p.points(f, s, h)
	if err != nil || len(c.Nominal) == 0 {
		if err != nil {
			return err
		}
		return show()
	}
	c.MaxAmps = card.Outputs[0].Amps
	scene, err := figure.Load(c, figure.Options{})
	if err != nil {
		return err
	}
	if x.Curve, err = kit.Drawing(scene, svg.InlineOptions{Prefix: "c-"}); err != nil {
		return err
	}
	return show()
}
