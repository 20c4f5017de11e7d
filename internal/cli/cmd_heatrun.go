package cli

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"yokemate"
	"yokemate/phys/heat"
	"yokemate/prove"
	"yokemate/si"
)

type heatrunCmd struct {
	Log         string   `arg:"" optional:"" help:"A log, one reading a line: minutes since the load went on, what was read, and the air beside the unit where it has changed. - reads standard input."`
	At          []string `sep:"none" placeholder:"READING" help:"A reading without a file, as in --at \"20 min 131.4 Ω\"; may be repeated."`
	Cold        string   `placeholder:"OHMS" help:"The winding's ohms before the load went on; then readings are its hot ohms. Without it, they are °C of the unit's outside."`
	ColdCelsius string   `placeholder:"CELSIUS" help:"Its temperature then; the air's if not given."`
	Air         string   `required:"" placeholder:"CELSIUS" help:"The air beside the unit."`
	Hottest     string   `default:"40" placeholder:"CELSIUS" help:"The hottest air that it will ever stand in."`
	Class       string   `placeholder:"LETTER" help:"Thermal class as printed on the unit; unknown, the lowest in common use, if not given."`
	Thermometer string   `default:"1" placeholder:"KELVIN" help:"How wrong the thermometer may be."`
	Meter       string   `placeholder:"NAME" help:"The ohmmeter, by its name on the shelf; a common one if not given. A reading written as \"131.4 ± 0.1\" needs none."`
}

// Run judges a heat run. What may not run for ever or for a while, or is not
// told yet, is not a yes.
func (c *heatrunCmd) Run(a *App) error {
	l, err := c.log(a)
	if err != nil {
		return err
	}
	r, err := heat.Weigh(*l)
	if err != nil {
		if c.Log != "" {
			return inFile(c.Log, err)
		}
		return err
	}
	if a.AsJSON {
		err = a.JSON(r)
	} else {
		a.heatRun(r)
	}
	if err != nil {
		return err
	}
	if v := heat.Verdict(r.Verdict); v == heat.No || v == heat.NotYet {
		return ErrNo
	}
	return nil
}

// log reads the flags and the file.
func (c *heatrunCmd) log(a *App) (*heat.Log, error) {
	l := &heat.Log{Class: heat.Class(strings.ToUpper(c.Class))}
	air, err := celsius.number("--air", c.Air)
	if err != nil {
		return nil, err
	}
	if l.HottestC, err = celsius.number("--hottest", c.Hottest); err != nil {
		return nil, err
	}
	bound, err := scale{own: "K"}.number("--thermometer", c.Thermometer)
	if err != nil {
		return nil, err
	}
	l.UCelsius = bound / math.Sqrt(3) // a rectangle of that half width
	l.ColdC = air
	if c.ColdCelsius != "" {
		if l.ColdC, err = celsius.number("--cold-celsius", c.ColdCelsius); err != nil {
			return nil, err
		}
	}
	rows := make([][]string, 0, len(c.At))
	for _, text := range c.At {
		row, err := spoken(text)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	place := func(i int) string { return fmt.Sprintf("--at, reading %d", i+1) }
	switch {
	case c.Log != "" && len(rows) > 0:
		return nil, yokemate.Errorf(yokemate.Invalid, "--at", "readings come from a log as well").Mend("give one of the two")
	case c.Log != "":
		b, err := a.ReadFile(c.Log)
		if err != nil {
			return nil, err
		}
		var lines []int
		if rows, lines, err = logLines(b); err != nil {
			return nil, inFile(c.Log, err)
		}
		place = func(i int) string { return "line " + strconv.Itoa(lines[i]) }
	case len(rows) == 0:
		return nil, yokemate.Errorf(yokemate.Invalid, "command line", "there is no reading").Mend("give a log, or --at \"20 min 131.4 Ω\"")
	}
	m, err := c.meter(a)
	if err != nil {
		return nil, err
	}
	var cold yokemate.Accuracy
	if c.Cold != "" {
		v, err := ohms.fact("--cold", c.Cold)
		if err != nil {
			return nil, err
		}
		if !(v.V > 0) {
			return nil, yokemate.Errorf(yokemate.Invalid, "--cold", "%s is not above 0", c.Cold).Mend("measure the winding before the load goes on")
		}
		if l.Cold = v.V; v.U > 0 {
			l.UCold = v.U
		} else if cold, err = accuracy(m, "--cold", v.V); err != nil {
			return nil, err
		} else {
			l.UCold = cold.Fixed
		}
	}
	for i, row := range rows {
		r, err := c.reading(l, row, place(i), air, m, cold)
		if err == nil {
			l.Readings = append(l.Readings, r)
			continue
		}
		if c.Log != "" {
			err = inFile(c.Log, err)
		}
		return nil, err
	}
	return l, nil
}

func (c *heatrunCmd) meter(a *App) (*yokemate.Meter, error) {
	if c.Meter == "" || c.Meter == yokemate.GenericMeterName {
		return yokemate.GenericMeter(), nil
	}
	s, err := a.Shelf()
	if err != nil {
		return nil, err
	}
	return meterNamed(s, c.Meter)
}

func accuracy(m *yokemate.Meter, place string, v float64) (yokemate.Accuracy, error) {
	a, ok := m.On(yokemate.Ohms, v)
	if !ok {
		return a, yokemate.Errorf(yokemate.Invalid, place, "the meter %s has no range for %g Ω", m.Name, v).Mend("write the reading with its uncertainty, as in \"131.4 ± 0.1\"")
	}
	return a, nil
}

// reading makes one of a row: minutes, what was read, and the air where given.
func (c *heatrunCmd) reading(l *heat.Log, row []string, place string, air float64, m *yokemate.Meter, cold yokemate.Accuracy) (heat.Read, error) {
	if len(row) < 2 || len(row) > 3 {
		return heat.Read{}, yokemate.Errorf(yokemate.Invalid, place, "it has %d parts", len(row)).Mend("write minutes, what was read, and the air where it has changed")
	}
	minutes, err := scale{own: "min"}.number(place, row[0])
	if err != nil {
		return heat.Read{}, err
	}
	r := heat.Read{Seconds: 60 * minutes, AirC: air}
	if len(row) == 3 && row[2] != "" {
		if r.AirC, err = celsius.number(place, row[2]); err != nil {
			return heat.Read{}, err
		}
	}
	if l.Cold == 0 {
		r.Celsius, err = celsius.number(place, row[1])
		return r, err
	}
	v, err := ohms.fact(place, row[1])
	if err != nil {
		return heat.Read{}, err
	}
	if r.Ohms = v.V; v.U > 0 {
		r.UOhms = v.U
		return r, nil
	}
	hot, err := accuracy(m, place, v.V)
	if err != nil {
		return heat.Read{}, err
	}
	// The gain of one range cancels in the ratio; that of two does not.
	r.UOhms = hot.Fixed
	if hot.Group != cold.Group {
		l.UGain = math.Max(l.UGain, math.Hypot(hot.Gain, cold.Gain))
	}
	return r, nil
}

// spoken splits "20 min 131.4 Ω" behind its minutes.
func spoken(text string) ([]string, error) {
	f := strings.Fields(text)
	if len(f) > 2 && f[1] == "min" {
		return []string{f[0], strings.Join(f[2:], " ")}, nil
	}
	if len(f) > 1 {
		return []string{strings.TrimSuffix(f[0], "min"), strings.Join(f[1:], " ")}, nil
	}
	return nil, yokemate.Errorf(yokemate.Invalid, "--at", "%q is no reading with its time", text).Mend("write \"20 min 131.4 Ω\"")
}

// logLines splits a log into rows, with the line of each. Parts are set apart
// by semicolons or tabs, or else by commas; lines that begin with # and a first
// line of words say nothing.
func logLines(b []byte) (rows [][]string, lines []int, err error) {
	if !utf8.Valid(b) {
		return nil, nil, yokemate.Errorf(yokemate.Invalid, "", "the text is not UTF-8").Mend("save it as UTF-8")
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b, []byte("\ufeff"))))
	r.FieldsPerRecord, r.Comment, r.TrimLeadingSpace = -1, '#', true
	switch {
	case bytes.ContainsRune(b, ';'):
		r.Comma = ';'
	case bytes.ContainsRune(b, '\t'):
		r.Comma = '\t'
	}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, lines, nil
		}
		if e, ok := errors.AsType[*csv.ParseError](err); ok {
			return nil, nil, yokemate.Errorf(yokemate.Invalid, "line "+strconv.Itoa(e.Line), "%v", e.Err).Mend("write minutes, what was read, and the air where it has changed")
		} else if err != nil {
			return nil, nil, err
		}
		n, _ := r.FieldPos(0)
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		if len(rows) == 0 && !strings.ContainsAny(row[0], "0123456789") {
			continue
		}
		rows, lines = append(rows, row), append(lines, n)
	}
}

// heatRun prints a heat run for a person.
func (a *App) heatRun(r *yokemate.HeatRun) {
	minutes := func(s float64) string { return strconv.FormatFloat(s/60, 'f', 0, 64) + " min" }
	k := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) + " K" }
	head := map[heat.Verdict]string{
		heat.Continuous: "● CONTINUOUS  this load may stay on", heat.ShortTime: "▲ SHORT TIME  this load may not stay on",
		heat.No: "■ NO          this load is too much", heat.NotYet: "○ NOT YET     the readings do not tell",
	}[heat.Verdict(r.Verdict)]
	if r.ForS != nil {
		head += ": from cold no longer than " + strconv.FormatFloat(math.Floor(*r.ForS/60), 'f', 0, 64) + " min"
	}
	a.Print("%s\n", head)
	for _, w := range r.Why {
		a.Para("  - ", w)
	}
	a.Para("  - ", "Limit of the rise "+k(r.LimitK)+": "+r.Limit+".")
	if r.RiseK != nil {
		high := "without bound"
		if r.HighK != nil {
			high = k(*r.HighK)
		}
		t := &Table{Heads: []string{"", ">", "95 % within"}, Bare: true}
		t.Row("final rise", k(*r.RiseK), k(*r.LowK)+" to "+high)
		t.Row("time constant", minutes(*r.Tau), minutes(*r.TauLow)+" to "+minutes(*r.TauHigh))
		t.Row("over so far", si.Format(r.Done, "%", 2), "of the time to 98 % of the final rise")
		a.section(t)
	}
	t := &Table{Heads: []string{">minutes", ">°C", ">rise", ">±, 95 %"}}
	for _, x := range r.Readings {
		t.Row(strconv.FormatFloat(x.Seconds/60, 'f', 0, 64), strconv.FormatFloat(x.Celsius, 'f', 1, 64), k(x.RiseK), k(1.96*x.U))
	}
	a.section(t)
	if r.NextS != nil {
		a.Print("\n")
		a.Para("", "Read next at "+minutes(*r.NextS)+". For ohms: plug out, capacitors discharged, read within 30 s, plug in again.")
	}
	a.cautions(prove.Cautions())
}
