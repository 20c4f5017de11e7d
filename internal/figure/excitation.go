package figure

import (
	"math"
	"slices"
	"strings"

	"yokemate"
	"yokemate/internal/draw"
	"yokemate/phys/core"
)

// Excitation draws what a unit takes with nothing drawn, against the volts on
// it, through the points that were read, and where its label's volts lie. ok is
// false where fewer than three points belong together or they do not rise.
func Excitation(u *yokemate.Unit, o Options) (scene draw.Scene, ok bool, err error) {
	var points []core.Point
	if len(u.Excitation) == 0 {
		return draw.Scene{}, false, nil
	}
	first := u.Excitation[0]
	for _, e := range u.Excitation {
		if slices.Equal(e.Series, first.Series) && e.Hertz == first.Hertz && e.Amps.Known() {
			points = append(points, core.Point{Drive: e.Amps.V, Follow: e.Volts.V})
		}
	}
	curve, bad := core.Through(points)
	if bad != nil {
		return draw.Scene{}, false, nil
	}
	const milli = 1e3
	least, most := curve.Ends()
	const pieces = 60
	line := Curve{Name: o.say("as read")}
	for i := range pieces + 1 {
		amps := math.Min(most, least*math.Pow(most/least, float64(i)/pieces))
		line.Points = append(line.Points, ChartPoint{X: amps * milli, Y: curve.At(amps)})
	}
	c := Chart{Title: o.say("No-load current of %s", u.Tag), Curves: []Curve{line},
		X: Axis{Label: o.say("current, nothing drawn"), Unit: "mA", Zero: true},
		Y: Axis{Label: o.say("volts on %s at %s", strings.Join(first.Series, " + "), o.Locale.Format(first.Hertz, "Hz", 2)), Unit: "V", Zero: true}}
	if m := u.Mains; m != nil && slices.Equal(m.Series, first.Series) && m.Hertz == first.Hertz {
		c.Limits = append(c.Limits, Limit{Name: o.say("label %s", o.Locale.Format(m.Volts, "V", 3)), Value: m.Volts, Level: yokemate.Info})
	}
	scene, err = c.Draw(o)
	return scene, err == nil, err
}
