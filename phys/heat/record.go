package heat

import (
	"errors"
	"fmt"
	"math"

	"yokemate"
	"yokemate/si"
)

// Of reads a heat run's rows, ohms with the accuracy of the meter they were
// read on, and makes the log that [Weigh] judges. It takes no row that the log
// itself could not hold; an error names the row.
func Of(x *yokemate.HeatLog, m *yokemate.Meter) (*Log, error) {
	l := &Log{ColdC: x.ColdC, HottestC: x.HottestC, Class: Class(x.Class), UCelsius: x.BoundK / math.Sqrt(3)} // a rectangle of that half width
	var cold yokemate.Accuracy
	if x.Cold != "" {
		r, err := read("cold ohms", x.Cold, "Ω")
		if err != nil {
			return nil, err
		}
		if !(r.Value > 0) {
			return nil, yokemate.Errorf(yokemate.Invalid, "cold ohms", "%s is not above 0", x.Cold).Mend("measure the winding before the load goes on")
		}
		if l.Cold = r.Value; !math.IsNaN(r.U) {
			l.UCold = r.U
		} else if cold, err = accuracy(m, "cold ohms", r.Value); err != nil {
			return nil, err
		} else {
			l.UCold = cold.Fixed
		}
	}
	for i, row := range x.Standing() {
		place := Row(i)
		r := Read{Seconds: 60 * row.Minutes, AirC: row.AirC}
		if l.Cold == 0 {
			v, err := read(place, row.Shown, "°C")
			if err != nil {
				return nil, err
			}
			if !math.IsNaN(v.U) {
				return nil, yokemate.Errorf(yokemate.Invalid, place, "a plain number is wanted here").Mend("leave out what follows the value")
			}
			r.Celsius = v.Value
			l.Readings = append(l.Readings, r)
			continue
		}
		v, err := read(place, row.Shown, "Ω")
		if err != nil {
			return nil, err
		}
		if r.Ohms = v.Value; !math.IsNaN(v.U) {
			r.UOhms = v.U
		} else {
			hot, err := accuracy(m, place, v.Value)
			if err != nil {
				return nil, err
			}
			// The gain of one range cancels in the ratio; that of two does not.
			r.UOhms = hot.Fixed
			if hot.Group != cold.Group {
				l.UGain = math.Max(l.UGain, math.Hypot(hot.Gain, cold.Gain))
			}
		}
		l.Readings = append(l.Readings, r)
	}
	return l, nil
}

// Row names a reading of a log by its place, for errors.
func Row(i int) string { return fmt.Sprintf("reading %d", i+1) }

func read(place, text, unit string) (si.Reading, error) {
	r, err := si.Read(text, unit)
	if e, ok := errors.AsType[*si.Error](err); ok {
		return r, yokemate.Errorf(yokemate.Invalid, place, "%s", e.Sentence).Mend("%s", e.Hint)
	}
	return r, err
}

func accuracy(m *yokemate.Meter, place string, v float64) (yokemate.Accuracy, error) {
	a, ok := m.On(yokemate.Ohms, v)
	if !ok {
		return a, yokemate.Errorf(yokemate.Invalid, place, "the meter %s has no range for %g Ω", m.Name, v).Mend("write the reading with its uncertainty, as in \"131.4 ± 0.1\"")
	}
	return a, nil
}
