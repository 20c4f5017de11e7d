package figure

import (
	"math"

	"yokemate"
	"yokemate/internal/draw"
)

// WaveLines are curves over time at equal steps, for [Waves].
type WaveLines struct {
	Title string
	Unit  string  // A of currents, V of volts; empty of flux over its rated peak
	StepS float64 // between two values [s]
	Lines []WaveLine
	W, H  float64 // [mm]; 0 means the chart's own
}

// WaveLine is one of them.
type WaveLine struct {
	Name   string
	Values []float64 // [unit]
}

// pointsMost is how many points of a line are drawn: more are not seen on the
// width of a page.
const pointsMost = 260

// Waves draws at most three curves over time, in seconds or milliseconds, and
// small currents and volts in thousandths.
func Waves(w WaveLines, o Options) (draw.Scene, error) {
	c := Chart{Title: w.Title, W: w.W, H: w.H, X: Axis{Label: o.say("time"), Unit: "s"}, Y: Axis{Label: o.say("flux, of the rated peak"), Unit: w.Unit, Zero: true}}
	switch w.Unit {
	case "A":
		c.Y.Label = o.say("current")
	case "V":
		c.Y.Label = o.say("volts")
	}
	top, last := 0.0, 0
	for _, l := range w.Lines {
		for _, v := range l.Values {
			top = max(top, math.Abs(v))
		}
		last = max(last, len(l.Values)-1)
	}
	perSecond := 1.0
	if float64(last)*w.StepS < 2 {
		c.X.Unit, perSecond = "ms", 1e3
	}
	if c.X.Lo, c.X.Hi = 0, float64(last)*w.StepS*perSecond; c.X.Hi == 0 {
		c.X.Hi = 1
	}
	perUnit := 1.0
	if w.Unit != "" && top > 0 && top < 0.5 {
		c.Y.Unit, perUnit = "m"+w.Unit, 1e3
	}
	for _, l := range w.Lines {
		cv := Curve{Name: l.Name}
		// Peaks are kept: of each stretch that is one point, the value farthest from the last one drawn.
		every := (len(l.Values) + pointsMost - 1) / pointsMost
		for i := 0; i < len(l.Values); i += max(every, 1) {
			k := i
			for q := i; q < min(i+every, len(l.Values)); q++ {
				if math.Abs(l.Values[q]) > math.Abs(l.Values[k]) {
					k = q
				}
			}
			cv.Points = append(cv.Points, ChartPoint{X: float64(k) * w.StepS * perSecond, Y: l.Values[k] * perUnit})
		}
		c.Curves = append(c.Curves, cv)
	}
	return c.Draw(o)
}

// WarmLines are temperatures over time, for [Warming].
type WarmLines struct {
	Title   string
	Seconds []float64 // [s]
	Lines   []WaveLine
	LimitC  float64 // of the class [°C]; 0: not drawn
	W, H    float64 // [mm]; 0 means the chart's own
}

// Warming draws at most three temperatures over time, in seconds, minutes or hours.
func Warming(w WarmLines, o Options) (draw.Scene, error) {
	c := Chart{Title: w.Title, W: w.W, H: w.H, X: Axis{Label: o.say("time"), Unit: "s", Zero: true}, Y: Axis{Label: o.say("temperature"), Unit: "°C"}}
	per := 1.0
	if n := len(w.Seconds); n > 0 {
		switch last := w.Seconds[n-1]; {
		case last >= 2*3600:
			c.X.Unit, per = "h", 3600
		case last >= 300:
			c.X.Unit, per = "min", 60
		case last > 0 && last < 2:
			c.X.Unit, per = "ms", 1e-3
		}
	}
	for _, l := range w.Lines {
		cv := Curve{Name: l.Name}
		for i, v := range l.Values {
			cv.Points = append(cv.Points, ChartPoint{X: w.Seconds[i] / per, Y: v})
		}
		c.Curves = append(c.Curves, cv)
	}
	if w.LimitC > 0 {
		c.Limits = append(c.Limits, Limit{Name: o.say("limit %s", o.Locale.Format(w.LimitC, "°C", 3)), Value: w.LimitC, Level: yokemate.Stop})
	}
	return c.Draw(o)
}
