package say

import (
	"yokemate"
)

// Need says a need in a line.
func (w Words) Need(n *yokemate.Need) string {
	f := w.Locale.Format
	volts, amps := f(n.Volts, "V", 4), f(n.Amps, "A", 3)
	within := ", " + w.Phrase("within %s %%", w.decimal(Plain(100*n.Tolerance)))
	var text string
	switch {
	case n.Regulated:
		text = w.Phrase("%s regulated DC at %s", volts, amps)
	case n.Kind == "dc":
		text = w.Phrase("%s DC at %s", volts, amps) + within
	default:
		text = w.Phrase("%s AC at %s", volts, amps) + within
	}
	if n.Rails == 2 {
		text = w.Phrase("two rails of %s", text)
	}
	text += ", " + w.Phrase("from %s V %s Hz", w.decimal(n.Feed.Volts.Digits), w.decimal(Plain(n.Feed.Hertz)))
	if n.MustIsolate() {
		return text + ", " + w.Phrase("isolated")
	}
	return text + ", " + w.Phrase("isolated or not")
}

// Offer says what an offer gives, in lines: its volts, its amps and what limits
// them, and what it takes.
func (w Words) Offer(o *yokemate.Offer, n *yokemate.Need) []string {
	f := w.Locale.Format
	return []string{
		w.Phrase("%s with no load, %s cold and %s hot at %s", f(o.NoLoadVolts, "V", 3), f(o.FullLoad, "V", 3), f(o.HotVolts, "V", 3), f(n.Amps, "A", 3)),
		w.Phrase("at most %s, %s", f(o.MaxAmps, "A", 3), w.LimitedBy(o.LimitedBy)),
		w.Phrase("%s from the mains at the wanted amps; %s, %s", f(o.FeedWatts, "W", 2), w.joints(o.JointCount), w.units(len(o.Units))),
	}
}

// LimitedBy says what an offer's amps end at: a winding, a core, a regulator.
func (w Words) LimitedBy(by string) string {
	tag, id, winding := yokemate.SplitWinding(by)
	switch {
	case by == "regulator":
		return w.Phrase("where the regulator lacks headroom at low mains or a heat sink at high ones")
	case by == "":
		return w.Phrase("for nothing is known that would let it give more")
	case id == yokemate.CorePin:
		return w.Phrase("where the core of %s comes to its limit", tag)
	case winding:
		return w.Phrase("where %s comes to its rating", by)
	}
	return w.Phrase("where %s comes to its limit", by)
}

func (w Words) joints(n int) string {
	if n == 1 {
		return w.Phrase("1 joint")
	}
	return w.Phrase("%d joints", n)
}

func (w Words) units(n int) string {
	if n == 1 {
		return w.Phrase("1 unit")
	}
	return w.Phrase("%d units", n)
}
