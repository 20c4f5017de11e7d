package say

import (
	"strconv"
	"strings"

	"yokemate"
)

// Table is a table of results: the first cell of a row names it.
type Table struct {
	Caption string
	Heads   []string
	Figures []bool // by column: it holds numbers, and is set to the right
	Rows    [][]string
}

// Row adds a row.
func (t *Table) Row(cells ...string) { t.Rows = append(t.Rows, cells) }

// table starts one. A head that starts with > is over numbers.
func (w Words) table(caption string, heads ...string) Table {
	t := Table{Caption: w.Phrase(caption)}
	for _, h := range heads {
		name, figures := strings.CutPrefix(h, ">")
		t.Heads = append(t.Heads, w.Phrase(name))
		t.Figures = append(t.Figures, figures)
	}
	return t
}

// Mains says at which mains a hookup is looked at.
func (w Words) Mains(h *yokemate.Hookup, at yokemate.MainsLevel) string {
	var feeds []string
	for i := range h.Feed {
		f := &h.Feed[i]
		feeds = append(feeds, w.decimal(Plain(f.At(at)))+" V "+w.decimal(Plain(f.Hertz))+" Hz")
	}
	return w.Phrase("at %s mains, %s", w.Phrase(string(at)), strings.Join(feeds, ", "))
}

// Predicted says a prediction in tables: outputs, meters, joints in wiring
// order, windings, iron, mains.
func (w Words) Predicted(h *yokemate.Hookup, p *yokemate.Prediction) []Table {
	f := w.Locale.Format
	out := w.table("Outputs", "output", ">volts", "95 % within", ">amps")
	for _, o := range p.Outputs {
		out.Row(o.Name, f(o.Volts, "V", 3), w.Within(o.Low, o.High, "V"), f(o.Amps, "A", 3))
	}
	met := w.table("Meters", "meter", ">shows", "95 % within")
	for _, m := range p.Meters {
		met.Row(m.Name, f(m.Volts, "V", 3), w.Within(m.Low, m.High, "V"))
	}
	joi := w.table("Joints, in wiring order", "joint", "pins", ">against neutral", "95 % within", ">degrees")
	for _, j := range p.Joints {
		degrees := strconv.FormatFloat(j.Degrees, 'f', 1, 64)
		if degrees == "-0.0" {
			degrees = "0.0"
		}
		joi.Row(j.Name, strings.Join(h.Joints.Joint(j.Name).Pins, " "), f(j.Volts, "V", 3), w.Within(j.Low, j.High, "V"), w.decimal(degrees))
	}
	win := w.table("Windings", "winding", ">volts", ">amps", "95 % within", ">may carry", ">used", ">heat")
	for _, x := range p.Windings {
		limit, used := w.Phrase("unknown"), ""
		if x.LimitAmps != nil {
			limit = f(*x.LimitAmps, "A", 3)
			if *x.LimitAmps > 0 {
				used = Percent(x.Amps / *x.LimitAmps)
			}
		}
		win.Row(x.Unit+"/"+x.ID, f(x.Volts, "V", 3), f(x.Amps, "A", 3), w.Within(x.Low, x.High, "A"), limit, used, f(x.Watts, "W", 2))
	}
	uni := w.table("Iron", "unit", ">flux of rated", "95 % within", ">heat")
	for _, u := range p.Units {
		uni.Row(u.Tag, w.decimal(strconv.FormatFloat(u.Flux, 'f', 2, 64)), w.Within(u.Low, u.High, ""), f(u.Watts, "W", 2))
	}
	fed := w.table("From the mains", "feed", ">amps", "95 % within", ">watts", ">VA", ">volts behind limiter")
	for i, x := range p.Feed {
		fed.Row(h.Feed[i].Live+"–"+h.Feed[i].Neutral, f(x.Amps, "A", 3), w.Within(x.Low, x.High, "A"), f(x.Watts, "W", 3), f(x.VA, "VA", 3), f(x.Volts, "V", 4))
	}
	return []Table{out, met, joi, win, uni, fed}
}

// Rails says what the reservoirs and diodes of rectified outputs stand and
// carry.
func (w Words) Rails(rails []yokemate.RailState) Table {
	f := w.Locale.Format
	t := w.table("Rails", "rail", ">amps", ">mean", ">valley", ">peak", ">ripple", ">diode mean", ">diode peak", ">reverse", ">capacitor rms")
	for _, r := range rails {
		t.Row(r.Output, f(r.Amps, "A", 3), f(r.Mean, "V", 4), f(r.Valley, "V", 4), f(r.Peak, "V", 4), f(r.Ripple, "V", 3),
			f(r.DiodeMean, "A", 3), f(r.DiodePeak, "A", 3), f(r.DiodeReverse, "V", 3), f(r.CapacitorRMS, "A", 3))
	}
	return t
}
