package protect

import (
	"fmt"
	"math"
)

// Link is a miniature fuse link. Kind is "T" (time-lag) or "F" (quick) after
// IEC 60127, "slow" or "fast" after UL 248-14.
type Link struct {
	Amps float64 // rated current, above 0 [A]
	Kind string  // "T", "F", "slow" or "fast"
	// Breaking is the breaking capacity of an IEC link: "L" (low, glass), "H" (high,
	// sand-filled ceramic), or "" when it is not known. It has no meaning for UL.
	Breaking string
}

// gate is one column of a standard sheet.
type gate struct {
	ratio float64 // multiple of the rated current [1]
	least float64 // least pre-arcing time, 0 where none is printed [s]
	most  float64 // most pre-arcing time, +Inf where none is printed [s]
}

// row is the gates of one range of ratings of one sheet.
type row struct {
	sheet            string // e.g. "IEC 60127-2 sheet 3"
	kind, breaking   string
	fromAmps, toAmps float64 // both included [A]
	gates            []gate  // by rising ratio
}

const minute = 60.0 // [s]

var never = math.Inf(1)

// iecGates sets out the five columns that all the sheets share.
func iecGates(carry, most21, least275, most275, least4, most4, least10, most10 float64) []gate {
	return []gate{
		{1.5, carry, never},
		{2.1, 0, most21},
		{2.75, least275, most275},
		{4, least4, most4},
		{10, least10, most10},
	}
}

// rows returns the sheets. Sheet 5 prints no gate at 10 I_N for 125 to 800 mA, and
// 30 or 15 min at 1.5 I_N for 8 to 16 A, of which the shorter is taken.
func rows() []row {
	const (
		s1   = "IEC 60127-2 sheet 1"
		s2   = "IEC 60127-2 sheet 2"
		s3   = "IEC 60127-2 sheet 3"
		s5   = "IEC 60127-2 sheet 5"
		ul   = "UL 248-14"
		hour = 60 * minute
	)
	return []row{
		{s1, "F", "H", 0.050, 3.15, iecGates(hour, 30*minute, 0.010, 2, 0.003, 0.300, 0, 0.020)},
		{s2, "F", "L", 0.032, 0.100, iecGates(hour, 30*minute, 0.010, 0.5, 0.003, 0.100, 0, 0.020)},
		{s2, "F", "L", 0.125, 6.3, iecGates(hour, 30*minute, 0.050, 2, 0.010, 0.300, 0, 0.020)},
		{s2, "F", "L", 8, 10, iecGates(30*minute, 30*minute, 0.050, 2, 0.010, 0.400, 0, 0.040)},
		{s3, "T", "L", 0.032, 0.100, iecGates(hour, 2*minute, 0.2, 10, 0.040, 3, 0.010, 0.300)},
		{s3, "T", "L", 0.125, 6.3, iecGates(hour, 2*minute, 0.6, 10, 0.150, 3, 0.020, 0.300)},
		{s5, "T", "H", 0.125, 0.800, iecGates(hour, 30*minute, 0.25, 80, 0.050, 5, 0, never)},
		{s5, "T", "H", 1, 3.15, iecGates(hour, 30*minute, 0.75, 80, 0.095, 5, 0.010, 0.150)},
		{s5, "T", "H", 4, 6.3, iecGates(hour, 30*minute, 0.75, 80, 0.150, 5, 0.020, 0.150)},
		{s5, "T", "H", 8, 16, iecGates(15*minute, 30*minute, 0.75, 80, 0.150, 5, 0.020, 0.150)},
		{ul, "fast", "", 0, 30, []gate{{1.35, 0, hour}, {2, 0, 2 * minute}}},
		{ul, "fast", "", 35, 60, []gate{{1.35, 0, hour}, {2, 0, 4 * minute}}},
		{ul, "slow", "", 0, 3, []gate{{1.1, 4 * hour, never}, {1.35, 0, hour}, {2, 5, 2 * minute}}},
		{ul, "slow", "", 3.15, 10, []gate{{1.1, 4 * hour, never}, {1.35, 0, hour}, {2, 12, 2 * minute}}},
		{ul, "slow", "", 12, 30, []gate{{1.35, 0, hour}, {2, 0, 2 * minute}}},
		{ul, "slow", "", 35, 60, []gate{{1.35, 0, hour}, {2, 0, 4 * minute}}},
	}
}

// sheets is the table of rows, built once and never changed.
var sheets = rows()

// near is the relative slack in comparing a current with a gate or a rating,
// so that 2.75 × 0.315 A is the gate at 2.75 in spite of rounding.
const near = 1e-9

// apply calls f for each row that may hold for the link: every sheet of its kind and breaking
// capacity that lists the rating, and where a rating falls between two rows of
// a sheet, both neighbours. It reports whether there was one.
func (l Link) apply(f func(row)) bool {
	found := false
	for i, r := range sheets {
		if r.kind != l.Kind || (l.Breaking != "" && r.breaking != "" && r.breaking != l.Breaking) {
			continue
		}
		from, to := r.fromAmps, r.toAmps
		if i > 0 && sheets[i-1].sheet == r.sheet && sheets[i-1].kind == r.kind {
			from = math.Min(from, sheets[i-1].toAmps*(1+2*near))
		}
		if i+1 < len(sheets) && sheets[i+1].sheet == r.sheet && sheets[i+1].kind == r.kind {
			to = math.Max(to, sheets[i+1].fromAmps*(1-2*near))
		}
		if l.Amps >= from*(1-near) && l.Amps <= to*(1+near) {
			f(r)
			found = true
		}
	}
	return found
}

// Validate says what is wrong with the link, or nil.
func (l Link) Validate() error {
	switch l.Kind {
	case "T", "F":
		if l.Breaking != "" && l.Breaking != "L" && l.Breaking != "H" {
			return fmt.Errorf("breaking capacity %q is not L, H or empty", l.Breaking)
		}
	case "slow", "fast":
	default:
		return fmt.Errorf("fuse kind %q is not T, F, slow or fast", l.Kind)
	}
	if !(l.Amps > 0) || math.IsInf(l.Amps, 0) {
		return fmt.Errorf("fuse rating %g A is not above 0", l.Amps)
	}
	if !l.apply(func(row) {}) {
		return fmt.Errorf("no standard sheet lists a %s link of %g A", l.Kind, l.Amps)
	}
	return nil
}

// Opening returns the earliest and the latest pre-arcing time at a steady rms
// current [A], both in [s]. +Inf in max means that the link may never open, +Inf in min that it
// must carry the current. A link or current that makes no sense, or a rating that no
// sheet lists, gives 0 and +Inf: nothing is known. Equations (F1) to (F5).
func (l Link) Opening(amps float64) (min, max float64) {
	if l.Validate() != nil || math.IsNaN(amps) {
		return 0, never
	}
	ratio := math.Abs(amps) / l.Amps
	min = never
	l.apply(func(r row) {
		min = math.Min(min, leastTime(r.gates, ratio))
		max = math.Max(max, mostTime(r.gates, ratio))
	})
	return math.Min(min, max), max
}

// leastTime is the fast end at a multiple of the rating [1], in [s].
func leastTime(gates []gate, ratio float64) float64 {
	if ratio <= 1+near {
		return never // (F5)
	}
	var below, above gate
	for _, g := range gates {
		switch {
		case g.least == 0:
		case math.Abs(g.ratio-ratio) <= near*ratio:
			return g.least
		case g.ratio < ratio:
			below = g
		case above.ratio == 0:
			above = g
		}
	}
	switch {
	case above.ratio != 0:
		least := above.least * math.Pow(above.ratio/ratio, 2) // (F1)
		if below.ratio != 0 {
			least = math.Min(least, below.least)
		}
		return least
	case below.ratio >= 2:
		return below.least * math.Pow(below.ratio/ratio, 2) // (F4)
	}
	return 0 // a carrying gate says nothing of currents above it
}

// mostTime is the slow end at a multiple of the rating [1], in [s].
func mostTime(gates []gate, ratio float64) float64 {
	var below, above gate
	for _, g := range gates {
		switch {
		case math.IsInf(g.most, 1):
		case g.ratio <= ratio*(1+near):
			below = g
		case above.ratio == 0:
			above = g
		}
	}
	switch {
	case below.ratio == 0:
		return never // (F5)
	case math.Abs(below.ratio-ratio) <= near*ratio:
		return below.most
	case above.ratio == 0:
		return below.most * math.Pow(below.ratio/ratio, 2) // (F3)
	}
	slope := math.Log(above.most/below.most) / math.Log(above.ratio/below.ratio)
	return below.most * math.Pow(ratio/below.ratio, slope) // (F2)
}

// I2t returns the least and the most I²t of pre-arcing in [A²s] for pulses so
// short that no heat is carried off: the value at the last gate (F6). A pulse whose ∫i²dt stays
// below the least is carried once. 0 and +Inf mean that nothing is known.
func (l Link) I2t() (min, max float64) {
	if l.Validate() != nil {
		return 0, never
	}
	min = never
	l.apply(func(r row) {
		least, most := 0.0, never
		for _, g := range r.gates {
			amps := g.ratio * l.Amps
			if g.least > 0 && g.ratio >= 2 {
				least = amps * amps * g.least
			}
			if !math.IsInf(g.most, 1) {
				most = amps * amps * g.most
			}
		}
		min, max = math.Min(min, least), math.Max(max, most)
	})
	return min, max
}

// Sheets names the standard sheets whose gates Opening uses for the link.
func (l Link) Sheets() []string {
	var names []string
	l.apply(func(r row) {
		if len(names) == 0 || names[len(names)-1] != r.sheet {
			names = append(names, r.sheet)
		}
	})
	return names
}
