package heat

// Class is a thermal class of insulation by its letter ("A", "B", ...; "250" for the
// highest). "" is a class not known, for which the lowest that holds in common use, A, is taken.
type Class string

// Limit is a temperature with its source.
type Limit struct {
	Celsius float64 // [°C]
	Source  string
	// Memory is true where the figure was not read in the source but is from memory.
	Memory bool
}

// Protection is how a unit is kept from burning, which decides the limit in a fault.
type Protection int

const (
	Inherent  Protection = iota // the unit limits itself: it must last for ever
	FirstHour                   // a device opens: peak within the first hour
	AfterHour                   // a device opens: peak after the first hour
	DryType                     // IEC 60076-11: average of a dry winding after a short circuit
)

type classRow struct {
	class     Class
	limit     float64              // IEC 60085 [°C]
	dryRise   float64              // IEC 60076-11 average winding rise [K], 0: none
	normal    float64              // IEC 61558-1 table 1 windings, normal use [°C], 0: none
	houseRise float64              // IEC 60335-1 table 3 rise by resistance [K], 0: none
	fault     [DryType + 1]float64 // by Protection [°C], 0: none
}

var classes = []classRow{
	{"Y", 90, 0, 0, 0, [4]float64{}},
	{"A", 105, 60, 100, 75, [4]float64{150, 200, 175, 180}},
	{"E", 120, 75, 115, 90, [4]float64{165, 215, 190, 250}},
	{"B", 130, 80, 120, 95, [4]float64{175, 225, 200, 350}},
	{"F", 155, 100, 140, 115, [4]float64{190, 240, 215, 350}},
	{"H", 180, 125, 165, 140, [4]float64{210, 260, 235, 350}},
	{"N", 200, 135, 0, 0, [4]float64{0, 0, 0, 350}},
	{"R", 220, 150, 0, 0, [4]float64{0, 0, 0, 350}},
	{"250", 250, 0, 0, 0, [4]float64{}},
}

// Classes returns the classes of IEC 60085, rising.
func Classes() []Class {
	list := make([]Class, len(classes))
	for i, c := range classes {
		list[i] = c.class
	}
	return list
}

func (c Class) row() (classRow, bool) {
	if c == "" {
		c = "A"
	}
	for _, r := range classes {
		if r.class == c {
			return r, true
		}
	}
	return classRow{}, false
}

// Index is the temperature that the class is named for.
func (c Class) Index() (Limit, bool) {
	r, ok := c.row()
	return Limit{r.limit, "IEC 60085", false}, ok
}

// NormalUse is the highest winding temperature in normal use of a small unit.
func (c Class) NormalUse() (Limit, bool) {
	r, ok := c.row()
	return Limit{r.normal, "IEC 61558-1 table 1", true}, ok && r.normal != 0
}

// DryRise is the average winding rise of a dry-type unit, with Celsius in [K].
func (c Class) DryRise() (Limit, bool) {
	r, ok := c.row()
	return Limit{r.dryRise, "IEC 60076-11", false}, ok && r.dryRise != 0
}

// HouseholdRise is the rise by resistance in household appliances, with Celsius in [K].
func (c Class) HouseholdRise() (Limit, bool) {
	r, ok := c.row()
	return Limit{r.houseRise, "IEC 60335-1 table 3", true}, ok && r.houseRise != 0
}

// Fault is the temperature that a copper winding may reach in a short circuit or
// an overload. Past it the winding counts as burnt. It is false where no
// standard seen gives one for the class and the protection.
func (c Class) Fault(p Protection) (Limit, bool) {
	r, ok := c.row()
	if !ok || p < 0 || p > DryType || r.fault[p] == 0 {
		return Limit{}, false
	}
	if p == DryType {
		return Limit{r.fault[p], "IEC 60076-11", false}, true
	}
	return Limit{r.fault[p], "IEC 61558-1 and IEC 60335-1", true}, true
}
