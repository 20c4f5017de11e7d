package say

import (
	"math"
	"strconv"
	"strings"

	"yokemate"
)

// Fuse says a fuse link as it is marked: T 250 mA, T 3.15 A.
func (w Words) Fuse(kind string, amps float64) string {
	rating := Plain(amps) + " A"
	if amps < 1 {
		rating = Plain(1000*amps) + " mA"
	}
	return strings.TrimSpace(kind + " " + w.decimal(rating))
}

// OutputFuse says the fuse between a winding and what it feeds.
func (w Words) OutputFuse(f *yokemate.OutputFuse) string {
	switch {
	case f.Amps == 0:
		return w.Phrase("none serves")
	case f.Count > 1:
		return w.Phrase("%s of %s, in the leads of %s", strconv.Itoa(f.Count), w.Fuse(f.Kind, f.Amps), f.Lead)
	}
	return w.Phrase("%s in the lead of %s", w.Fuse(f.Kind, f.Amps), f.Lead)
}

// LiveFuse says the fuse in the live wire that would serve.
func (w Words) LiveFuse(c *yokemate.LimitsCard) string {
	if c.PrimaryFuse == 0 {
		return w.Phrase("none serves")
	}
	return w.Phrase("%s in the live wire", w.Fuse(c.FuseKind, c.PrimaryFuse))
}

// Limits says what each output of a hookup may be asked for by itself.
func (w Words) Limits(c *yokemate.LimitsCard) Table {
	f := w.Locale.Format
	t := w.table("Each output by itself", "output", ">for ever", "limited by", ">a part of the time", ">DC by a bridge", ">no load", ">low mains", ">high mains")
	for _, o := range c.Outputs {
		bridge := ""
		if o.BridgeAmps > 0 {
			bridge = f(o.BridgeAmps, "A", 3)
		}
		t.Row(o.Name, f(o.Amps, "A", 3), w.Phrase(o.LimitedBy), w.Phrase("%s for %s, up to %s", f(o.DutyAmps, "A", 3), Percent(o.Duty), f(o.DutyOnS, "s", 2)), bridge,
			f(o.NoLoad, "V", 3), f(o.AtLow, "V", 3), f(o.AtHigh, "V", 3))
	}
	return t
}

// Air says in which air the limits hold, and in which the hookup's own loads
// still rest within the class.
func (w Words) Air(c *yokemate.LimitsCard) string {
	return w.Phrase("up to %s °C; with its own loads up to %s °C", w.decimal(Plain(c.AmbientC)), strconv.FormatFloat(math.Floor(c.HighestC), 'f', 0, 64))
}

// LimitFacts says what holds for the whole of a hookup: air, mains, fuses.
func (w Words) LimitFacts(c *yokemate.LimitsCard) []Fact {
	all := []Fact{
		{w.Phrase("air around it"), w.Air(c)},
		{w.Phrase("mains"), w.Locale.FormatInterval(c.LowVolts, c.HighVolts, "V")},
		{w.Phrase("fuse"), w.LiveFuse(c)},
	}
	for _, o := range c.Outputs {
		if o.Fuse != nil {
			all = append(all, Fact{w.Phrase("fuse of %s", o.Name), w.OutputFuse(o.Fuse)})
		}
	}
	return all
}

// FuseWhy says why these fuses: the live wire's reasons, then each output's.
func FuseWhy(c *yokemate.LimitsCard) []string {
	all := append([]string(nil), c.FuseWhy...)
	for _, o := range c.Outputs {
		if o.Fuse != nil {
			all = append(all, o.Fuse.Why...)
		}
	}
	return all
}

// EstimatedRating is said of limits that an estimate decides.
func (w Words) EstimatedRating() string {
	return w.Phrase("A rating that decides is an estimate: a heat run settles it.")
}
