package yokemate

// Identification is what a unit's readings say of it: which pins are windings,
// which ends are alike, the facts with their uncertainty, what is still open,
// and the reading that would tell most.
type Identification struct {
	Unit       string         `json:"unit"`
	Certain    bool           `json:"certain"`    // what was asked is known to the wanted confidence
	Confidence float64        `json:"confidence"` // probability that windings, taps and dots are as listed [1]
	Windings   []FoundWinding `json:"windings"`   // of the likeliest alternative
	Dots       []FoundDot     `json:"dots"`       // of the likeliest alternative
	Wires      []FoundWire    `json:"wires"`      // which pins are joined by wire, as far as that can be told now
	Facts      []Fact         `json:"facts"`
	Open       []Alternative  `json:"open"` // likeliest first; the first is what Windings and Dots say
	Next       *WantedReading `json:"next"` // nil when what was asked is known, or nothing may be read
	Notes      []Note         `json:"notes"`
	Readings   []UsedReading  `json:"readings"`        // each reading with its uncertainty
	Shelf      *Unit          `json:"result,omitzero"` // the unit with its facts, as a shelf takes it; nil while windings are open
}

// FoundWinding is one section of wire between two pins. Sections of one wire
// share its name and follow one another, each starting where the last ended.
type FoundWinding struct {
	ID          string    `json:"id"`
	Wire        string    `json:"wire"`        // sections of a tapped winding have the same
	Pins        [2]string `json:"pins"`        // the start end first, where dots are known
	Probability float64   `json:"probability"` // that the wire has these pins in this order [1]
}

// FoundWire is a run of pins with copper between them.
type FoundWire struct {
	Pins        []string `json:"pins"`        // in the likeliest order
	Joined      float64  `json:"joined"`      // probability that they are on one wire, with or without others [1]
	Probability float64  `json:"probability"` // that the wire has just these pins, in this order [1]
}

// FoundDot is one start end. The first of the dots is the one the others are
// alike to.
type FoundDot struct {
	Wire        string  `json:"wire"`
	Pin         string  `json:"pin"`
	Known       bool    `json:"known"`       // a reading speaks of it
	Probability float64 `json:"probability"` // that it is alike to the first of the dots [1]
}

// Fact is one number that the readings give.
type Fact struct {
	About   string  `json:"about"` // a winding's id, or the unit's tag
	Name    string  `json:"name"`  // ohms, volts, va, amps, ...
	Value   float64 `json:"value"`
	U       float64 `json:"u"` // standard uncertainty [unit of Value]
	Low     float64 `json:"low"`
	High    float64 `json:"high"` // of the 95 % interval
	Unit    string  `json:"unit"`
	Basis   Basis   `json:"basis"`
	Formula string  `json:"formula,omitempty"` // with the numbers put in
}

// Alternative is one way the pins may be wired, given all readings.
type Alternative struct {
	Probability float64    `json:"probability"` // [1]
	Wires       [][]string `json:"wires"`       // pins along each wire; a pin alone is not connected
	Starts      []string   `json:"starts"`      // the start end of each wire, alike to one another; "" where no reading tells
	Words       string     `json:"words"`
}

// WantedReading is a reading to take, and why.
type WantedReading struct {
	Do         string     `json:"do"` // in words
	Quantity   Quantity   `json:"quantity"`
	From       string     `json:"from"`
	To         string     `json:"to"`
	Joined     []string   `json:"joined,omitempty"`
	BurdenOhms float64    `json:"burden_ohms,omitzero"` // [Ω]
	Excited    *Excited   `json:"excited,omitzero"`     // volts are what the source is to be; write down what it was
	Why        string     `json:"why"`
	Bits       float64    `json:"bits"`   // expected information on what is open [bit]
	Effort     float64    `json:"effort"` // 1 is touching two pins with an ohmmeter [1]
	Expect     []Expected `json:"expect,omitempty"`
	Cautions   []string   `json:"cautions,omitempty"` // to be read before it is done
}

// Expected is what a wanted reading shows under one alternative.
type Expected struct {
	Words       string    `json:"words"`
	Reading     *Interval `json:"reading,omitempty"` // meter included; nil where it is not a number, or not foreseen
	Probability float64   `json:"probability"`
}

// Reading makes the reading that answers w, with the value as shown.
func (w *WantedReading) Reading(value string) Reading {
	r := Reading{Quantity: w.Quantity, From: w.From, To: w.To, Value: value, Joined: w.Joined, BurdenOhms: w.BurdenOhms}
	if w.Excited != nil {
		e := *w.Excited
		r.Excited = &e
	}
	return r
}

// UsedReading is one reading as the engine takes it: freed of the leads, with
// its uncertainty and where that comes from.
type UsedReading struct {
	ID      string   `json:"id"`
	Value   float64  `json:"value"` // [unit of the quantity]
	U       float64  `json:"u"`     // standard uncertainty [same]
	Low     float64  `json:"low"`
	High    float64  `json:"high"`           // of the 95 % interval
	Formula string   `json:"formula"`        // with the numbers put in
	Left    bool     `json:"left,omitzero"`  // it was not used
	Why     string   `json:"why,omitempty"`  // why it was not used, or what is wrong with it
	With    []string `json:"with,omitempty"` // the readings it disagrees with
}

// Note codes of identification alone.
const (
	ReadingsDisagree NoteCode = "readings-disagree"
	GhostReading     NoteCode = "ghost-reading"
	WindingOpen      NoteCode = "winding-open"
	LookFirst        NoteCode = "look-first"
)
