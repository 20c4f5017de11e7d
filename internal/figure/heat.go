package figure

import (
	"yokemate"
	"yokemate/internal/draw"
)

// Heat draws the rise of a heat run against time, each reading with its 95 %
// interval, and the rise that is allowed.
func Heat(r *yokemate.HeatRun, o Options) (draw.Scene, error) {
	read := Curve{Name: o.say("read")}
	for _, x := range r.Readings {
		read.Points = append(read.Points, ChartPoint{X: x.Seconds / 60, Y: x.RiseK, Low: x.RiseK - 1.96*x.U, High: x.RiseK + 1.96*x.U})
	}
	c := Chart{Title: o.say("Rise of the winding"), Curves: []Curve{read},
		X: Axis{Label: o.say("time since the load went on"), Unit: "min", Zero: true}, Y: Axis{Label: o.say("rise"), Unit: "K", Zero: true},
		Limits: []Limit{{Name: o.say("limit %s", o.Locale.Format(r.LimitK, "K", 2)), Value: r.LimitK, Level: yokemate.Stop}}}
	if r.RiseK != nil {
		c.Limits = append(c.Limits, Limit{Name: o.say("final %s", o.Locale.Format(*r.RiseK, "K", 2)), Value: *r.RiseK, Level: yokemate.Info})
	}
	return c.Draw(o)
}
