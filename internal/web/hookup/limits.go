package hookup

import (
	"html/template"
	"net/http"
	"strconv"

	"yokemate"
	"yokemate/internal/draw/svg"
	"yokemate/internal/figure"
	"yokemate/internal/web/kit"
	"yokemate/phys/network"
	"yokemate/phys/thermal"
	"yokemate/prove"
	"yokemate/si"
	"yokemate/supply"
)

// Limits is the page of what a hookup may be asked for.
type Limits struct {
	Name, Link string
	Why        kit.Trouble // why there are none
	Outputs    kit.Table
	Facts      kit.Table
	FuseWhy    []string
	Estimated  bool
	Curve      template.HTML
	Cautions   []string
}

// ambient is the hottest air that the limits are worked out for [°C]: a warm
// room in summer, with the box's own air (common practice, no source).
const ambient = 40

// outputFuse says the fuse between a winding and what it feeds.
func outputFuse(f *yokemate.OutputFuse) string {
	switch {
	case f.Amps == 0:
		return "none serves"
	case f.Count > 1:
		return strconv.Itoa(f.Count) + " of " + f.Kind + " " + kit.Plain(f.Amps) + " A, in the leads of " + f.Lead
	}
	return f.Kind + " " + kit.Plain(f.Amps) + " A in the lead of " + f.Lead
}

// limits shows what a hookup may be asked for. It takes long the first time, so
// it has a page of its own. What must not be powered has none.
func (p *pages) limits(w http.ResponseWriter, r *http.Request) error {
	h, err := p.kit.Store.Hookup(r.Context(), r.PathValue("name"))
	if err != nil {
		return err
	}
	shelf, err := p.kit.Store.Shelf(r.Context())
	if err != nil {
		return err
	}
	s := shelf.Only(h)
	f := network.Compile(s)
	x := Limits{Name: h.Name, Link: link(h.Name), Cautions: prove.Cautions()}
	show := func() error { return p.Limits.Show(w, http.StatusOK, "Limits of "+h.Name, "hookups", x) }
	z, err := p.ask(f, s, h, yokemate.Nominal)
	if err != nil {
		return err
	}
	switch {
	case yokemate.Worst(z.prediction.Notes) == yokemate.Stop:
		x.Why = kit.Trouble{Words: "There are none: it must not be powered as it stands.", Mend: "Its page says what stops it."}
		return show()
	case len(h.Outputs) == 0:
		x.Why = kit.Trouble{Words: "There are none: it has no output."}
		return show()
	}
	key, err := kit.Key(h, s)
	if err != nil {
		return err
	}
	card, err := p.cards.Get(key, func() (*yokemate.LimitsCard, error) {
		return supply.Limits(f, h, supply.CardOptions{Heat: thermal.Options{AmbientC: ambient}})
	})
	if err != nil {
		if x.Why, err = p.kit.Trouble(err); err != nil {
			return err
		}
		return show()
	}
	x.Outputs = kit.Table{Caption: "Each output by itself", Heads: []string{"output", "for ever", "limited by", "a part of the time", "DC by a bridge", "no load", "low mains", "high mains"}}
	for _, o := range card.Outputs {
		bridge := ""
		if o.BridgeAmps > 0 {
			bridge = si.Format(o.BridgeAmps, "A", 3)
		}
		x.Outputs.Row(o.Name, si.Format(o.Amps, "A", 3), o.LimitedBy, si.Format(o.DutyAmps, "A", 3)+" for "+strconv.FormatFloat(100*o.Duty, 'f', 0, 64)+" %", bridge,
			si.Format(o.NoLoad, "V", 3), si.Format(o.AtLow, "V", 3), si.Format(o.AtHigh, "V", 3))
	}
	x.Facts.Caption = "The whole"
	x.Facts.Row("Air around it", "up to "+kit.Plain(card.AmbientC)+" °C")
	x.Facts.Row("With its own loads", "rests within its class up to "+strconv.FormatFloat(card.HighestC, 'f', 0, 64)+" °C")
	if card.PrimaryFuse > 0 {
		x.Facts.Row("Fuse that would serve", card.FuseKind+" "+kit.Plain(card.PrimaryFuse)+" A in the live wire")
	}
	x.FuseWhy, x.Estimated = card.FuseWhy, card.Estimated
	for _, o := range card.Outputs {
		if o.Fuse != nil {
			x.Facts.Row("Fuse of "+o.Name, outputFuse(o.Fuse))
			x.FuseWhy = append(x.FuseWhy, o.Fuse.Why...)
		}
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
