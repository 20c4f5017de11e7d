package cli

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"yokemate"
	"yokemate/internal/paper"
	"yokemate/internal/say"
	"yokemate/phys/heat"
	"yokemate/prove"
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
	x := &yokemate.HeatLog{Cold: c.Cold, Class: strings.ToUpper(c.Class)}
	air, err := celsius.number("--air", c.Air)
	if err != nil {
		return nil, err
	}
	if x.HottestC, err = celsius.number("--hottest", c.Hottest); err != nil {
		return nil, err
	}
	if x.BoundK, err = (scale{own: "K"}).number("--thermometer", c.Thermometer); err != nil {
		return nil, err
	}
	x.ColdC = air
	if c.ColdCelsius != "" {
		if x.ColdC, err = celsius.number("--cold-celsius", c.ColdCelsius); err != nil {
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
	// Where a reading stands, for errors.
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
	l, err := func() (*heat.Log, error) {
		for i, row := range rows {
			r, err := heatRow(row, place(i), air)
			if err != nil {
				return nil, err
			}
			if slices.ContainsFunc(x.Entries, func(o yokemate.HeatRow) bool { return o.Minutes == r.Minutes }) {
				return nil, yokemate.Errorf(yokemate.Invalid, place(i), "%g min is there twice", r.Minutes).Mend("keep one of them")
			}
			x.Entries = append(x.Entries, r)
		}
		l, err := heat.Of(x, m)
		if e, ok := errors.AsType[*yokemate.Error](err); ok {
			for i := range rows {
				if e.Place == heat.Row(i) {
					e.Place = place(i)
				}
			}
		}
		return l, err
	}()
	if e, ok := errors.AsType[*yokemate.Error](err); ok && e.Place == "cold ohms" {
		e.Place = "--cold"
	} else if err != nil && c.Log != "" {
		return nil, inFile(c.Log, err)
	}
	return l, err
}

func (c *heatrunCmd) meter(a *App) (*yokemate.Meter, error) {
	if c.Meter == "" || c.Meter == yokemate.GenericMeterName {
		return yokemate.GenericMeter(), nil
	}
	s, err := a.Shelf()
	if err != nil {
		return nil, err
	}
	return paper.Meter(s, c.Meter)
}

// heatRow makes one reading of a row: minutes, what was read, and the air where given.
func heatRow(row []string, place string, air float64) (r yokemate.HeatRow, err error) {
	const mend = "write minutes, what was read, and the air where it has changed, set apart by semicolons"
	switch n := len(row); {
	case n == 1:
		return r, yokemate.Errorf(yokemate.Invalid, place, "it is all one part").Mend(mend)
	case n > 3:
		return r, yokemate.Errorf(yokemate.Invalid, place, "it has %d parts", n).Mend(mend)
	case regexp.MustCompile(`[0-9]\s+[0-9]`).MatchString(row[0]):
		return r, yokemate.Errorf(yokemate.Invalid, place, "%q is not one number of minutes", row[0]).Mend(mend)
	}
	r.Shown, r.AirC = row[1], air
	if r.Minutes, err = (scale{own: "min"}).number(place, row[0]); err != nil {
		return r, err
	}
	if len(row) == 3 && row[2] != "" {
		r.AirC, err = celsius.number(place, row[2])
	}
	return r, err
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
	default:
		// 10,131,40 is 131 Ω in air of 40 °C to one, and 131.40 Ω to another.
		unclear := regexp.MustCompile(`^\s*[0-9.]+,[0-9]+,[0-9]+\s*$`)
		for i, l := range strings.Split(string(b), "\n") {
			if unclear.MatchString(l) {
				return nil, nil, yokemate.Errorf(yokemate.Invalid, "line "+strconv.Itoa(i+1), "its commas may set parts apart or be decimal marks").Mend("set the parts apart by semicolons, or put a space behind each comma that does")
			}
		}
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
	var w say.Words
	m := w.Heat(r.Verdict)
	a.Print("%s %s  %s\n", m.Shape, strings.ToUpper(m.Word), w.HeatLead(r))
	for _, why := range w.HeatWhy(r) {
		a.Para("  - ", why)
	}
	for _, t := range w.HeatTables(r) {
		a.results(t)
	}
	if next := w.HeatNext(r); next != "" {
		a.Print("\n")
		a.Para("", next+" "+w.HeatHow())
	}
	a.cautions(prove.Cautions())
}
