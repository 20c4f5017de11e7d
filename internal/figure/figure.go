// Package figure turns hookups, units and results into scenes: the schematic
// with its predicted readings and probes, the pins of a unit as they are seen,
// charts, and the badges of the verdicts.
//
// It computes no electrical quantity and knows no file format: every number in
// a figure was computed elsewhere.
//
// Symbols follow IEC 60617 (winding, core, fuse link, lamp, resistor, meter, diode,
// capacitor, protective earth). Mains conductors have the colours of IEC 60445
// or the NEC and always a letter; states have the colours of IEC 60073 and
// always a shape and a word.
package figure

import (
	"fmt"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/internal/say"
	"yokemate/si"
)

// Options are what all figures have in common. The zero value is English, a
// decimal point, and wire colours by the mains voltage.
type Options struct {
	Region Region
	Locale si.Locale
	Say    func(english string) string // translates a phrase, its verbs kept; nil: English
}

// Region chooses the colours of the mains conductors.
type Region uint8

const (
	ByVolts Region = iota // NEC below 150 V, else IEC
	IEC                   // brown, blue, green-yellow (IEC 60445)
	NEC                   // black, white, green (NFPA 70)
)

// RegionOf is the region whose colours a feed of these volts has when nobody
// says otherwise: below 150 V the black, white and green of North America and
// Japan (common practice, no source).
func RegionOf(volts float64) Region {
	if volts < 150 {
		return NEC
	}
	return IEC
}

// conductor is what a joint is on the mains side.
type conductor uint8

const (
	plainWire conductor = iota
	live
	neutral
	earth
)

// letter is the mark that stands beside the colour.
func (c conductor) letter() string { return [...]string{"", "L", "N", "PE"}[c] }

// say translates, and puts values in where there are verbs.
func (o *Options) say(english string, args ...any) string {
	s := english
	if o.Say != nil {
		s = o.Say(english)
	}
	if len(args) == 0 {
		return s
	}
	return fmt.Sprintf(s, args...)
}

// ID is the id of a part of a figure: a kind and the names that tell it, as
// ID("pin", "T1", "5"). Characters that an id cannot hold are written in hex.
func ID(kind string, names ...string) string {
	var b strings.Builder
	b.WriteString(kind)
	for _, n := range names {
		b.WriteByte('-')
		for i := range len(n) {
			c := n[i]
			if c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' {
				b.WriteByte(c)
			} else {
				fmt.Fprintf(&b, "_%02x", c)
			}
		}
	}
	return b.String()
}

// value is a known fact as all words have it.
func (o *Options) value(v yokemate.Value, unit string) string {
	return say.Words{Locale: o.Locale}.Fact(v, unit)
}

// fuse is a link's rating as all words have it.
func (o *Options) fuse(kind string, amps float64) string {
	return say.Words{Locale: o.Locale}.Fuse(kind, amps)
}

// dotted stands between facts on one line. Runs of spaces would be drawn as one
// by browsers.
const dotted = " · "

// text is a run in a face that surely has its characters.
func text(x, y float64, s string, f draw.Face, size float64, a draw.Anchor, r draw.Role) *draw.Text {
	return &draw.Text{X: x, Y: y, S: f.Fit(s), Face: f, Size: size, Anchor: a, Fill: r}
}

// farads is a reservoir capacitor as the trade writes it, in microfarads.
func (o *Options) farads(v float64) string { return o.Locale.Format(v*1e6, "", 2) + " µF" }
