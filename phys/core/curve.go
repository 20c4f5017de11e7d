package core

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"

	"yokemate"
)

// Point is one point of a magnetisation or excitation curve: what drives, and what follows.
type Point struct {
	Drive  float64 // field strength or exciting current, above 0 [A/m or A]
	Follow float64 // flux density, or the volts that stand for it, above 0 [T or V]
}

// Curve runs through measured points without a swing between them. Equation (C15).
type Curve struct {
	line        interp.FritschButland
	least, most float64 // ends of the drive [A/m or A]
}

// Through makes the curve of three or more points, in any order. Both numbers must
// rise from point to point: what does not is a misreading, and the error names it.
func Through(points []Point) (*Curve, error) {
	if len(points) < 3 {
		return nil, yokemate.Errorf(yokemate.Invalid, "excitation", "%d points are no curve", len(points)).Mend("read at three voltages or more")
	}
	p := slices.Clone(points)
	slices.SortFunc(p, func(a, b Point) int {
		switch {
		case a.Drive < b.Drive:
			return -1
		case a.Drive > b.Drive:
			return 1
		}
		return 0
	})
	x, y := make([]float64, len(p)), make([]float64, len(p))
	for i, q := range p {
		if !(q.Drive > 0 && q.Follow > 0) {
			return nil, yokemate.Errorf(yokemate.Invalid, "excitation", "a point at %g and %g is not above nothing", q.Drive, q.Follow).Mend("leave it out")
		}
		if i > 0 && (q.Drive == p[i-1].Drive || q.Follow <= p[i-1].Follow) {
			return nil, yokemate.Errorf(yokemate.Invalid, "excitation", "from %g to %g the curve does not rise", p[i-1].Drive, q.Drive).Mend("read that point again")
		}
		x[i], y[i] = math.Log(q.Drive), math.Log(q.Follow)
	}
	c := &Curve{least: p[0].Drive, most: p[len(p)-1].Drive}
	if err := c.line.Fit(x, y); err != nil {
		return nil, err
	}
	return c, nil
}

// At is what follows a drive within the ends of the curve; NaN outside them,
// where nothing was measured.
func (c *Curve) At(drive float64) float64 {
	if !(drive >= c.least && drive <= c.most) {
		return math.NaN()
	}
	return math.Exp(c.line.Predict(math.Log(drive)))
}

// Ends are the least and the most drive of the curve.
func (c *Curve) Ends() (least, most float64) { return c.least, c.most }
