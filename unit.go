package yokemate

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// CorePin is the pin that every unit has: its iron.
const CorePin = "core"

// Unit is one transformer: what is known of it as facts, and the readings
// they came from.
type Unit struct {
	Tag          string         `json:"tag"`
	Origin       string         `json:"origin,omitempty"`
	Status       string         `json:"status,omitempty"` // "quarantine" keeps it out of every hookup
	Reason       string         `json:"reason,omitempty"` // why it is in quarantine
	Mains        *Mains         `json:"mains,omitzero"`
	VA           Value          `json:"va,omitzero"` // label [VA]
	ThermalClass string         `json:"thermal_class,omitempty"`
	Core         *Core          `json:"core,omitzero"`
	TurnsPerVolt Value          `json:"turns_per_volt,omitzero"` // from a test loop [1/V]
	Terminals    []string       `json:"pins,omitempty"`          // every pin there is, while the windings are not known; see [Unit.AllPins]
	PinRows      [][]string     `json:"pin_rows,omitempty"`      // how the pins lie, seen from their side: the near row, then the far one, each from the left
	Windings     []Winding      `json:"windings"`
	Excitation   ExcitationList `json:"excitation,omitempty"`
	Insulation   []Insulation   `json:"insulation,omitempty"`
	Readings     []Reading      `json:"readings,omitempty"`
	Photos       []Photo        `json:"photos,omitempty"`
}

// Mains is what the label says the mains side is made for. While no windings
// are known, it does not say which of them that is.
type Mains struct {
	Volts  float64 `json:"volts"` // [V]
	Hertz  float64 `json:"hertz"` // [Hz]
	Series Series  `json:"series,omitempty"`
}

// Series names windings of one unit joined in aiding series. In a file,
// "winding": "P" beside it is short for ["P"].
type Series []string

// Core is the iron as seen from outside.
type Core struct {
	Kind    string `json:"kind,omitempty"`    // "EI", "UI", "toroid" or another word
	LimbMM  Value  `json:"limb_mm,omitzero"`  // width of the middle limb [mm]
	StackMM Value  `json:"stack_mm,omitzero"` // thickness of the stack [mm]
	MassG   Value  `json:"mass_g,omitzero"`   // the whole unit [g]
}

// Winding is a section of wire between two pins; the first is the start
// (dotted) end.
type Winding struct {
	ID        string    `json:"id"`
	Pins      [2]string `json:"pins"`
	Volts     Value     `json:"volts,omitzero"`      // no-load terminal volts, all windings at one excitation [V]
	Ohms      Value     `json:"ohms,omitzero"`       // at 20 °C [Ω]
	Amps      Value     `json:"amps,omitzero"`       // what it may carry [A]
	LeakageMH Value     `json:"leakage_mh,omitzero"` // its own leakage inductance [mH]
	WireMM    Value     `json:"wire_mm,omitzero"`    // bare copper diameter [mm]
}

// Excitation is an open-circuit reading: one point of the excitation curve.
type Excitation struct {
	Series Series  `json:"series"`
	Volts  Value   `json:"volts"`          // across the series [V]
	Hertz  float64 `json:"hertz"`          // [Hz]
	Amps   Value   `json:"amps,omitzero"`  // true rms [A]
	Watts  Value   `json:"watts,omitzero"` // total, copper included [W]
}

// ExcitationList is one excitation reading, or several at different volts.
// The first is the one that the windings' volts belong to.
type ExcitationList []Excitation

// Insulation is one insulation test between two windings, or a winding and the core.
type Insulation struct {
	From         string  `json:"from"`
	To           string  `json:"to"`
	Megohms      Value   `json:"megohms,omitzero"`       // [MΩ]
	TestVolts    float64 `json:"test_volts,omitzero"`    // [V], DC where megohms were read, else AC
	Seconds      float64 `json:"seconds,omitzero"`       // [s]
	WorkingVolts float64 `json:"working_volts,omitzero"` // what it may stand in use [V rms]
}

// Reading is one value as a meter showed it. It is never altered: a
// correction is a new reading that supersedes it.
type Reading struct {
	ID         string    `json:"id"`
	At         time.Time `json:"at,omitzero"`
	Quantity   Quantity  `json:"quantity"`
	From       string    `json:"from,omitempty"` // a pin, or the like ends of a winding
	To         string    `json:"to,omitempty"`
	Value      string    `json:"value"` // as shown: "14.70", or "open"
	Meter      string    `json:"meter,omitempty"`
	Range      string    `json:"range,omitempty"`
	Celsius    *float64  `json:"celsius,omitzero"`
	LeadOhms   float64   `json:"lead_ohms,omitzero"`   // what the touched probes read, still in Value [Ω]; 0 means the meter's own
	Joined     []string  `json:"joined,omitempty"`     // pins tied together while it was read
	BurdenOhms float64   `json:"burden_ohms,omitzero"` // load across the probes [Ω]; 0 means none
	Excited    *Excited  `json:"excited,omitzero"`
	Supersedes string    `json:"supersedes,omitempty"`
	Note       string    `json:"note,omitempty"`
}

// Excited says what fed the unit while a reading was taken. While the windings
// are not known, a series names pairs of pins, "1:2", the second pin of each
// tied to the first of the next; with a kick the first is battery plus.
type Excited struct {
	Series Series  `json:"series"`
	Volts  Value   `json:"volts,omitzero"` // [V]
	Hertz  float64 `json:"hertz,omitzero"`
	Lamp   *Lamp   `json:"lamp,omitzero"`
}

// Winding returns the winding with the given id, or nil.
func (u *Unit) Winding(id string) *Winding {
	for i := range u.Windings {
		if u.Windings[i].ID == id {
			return &u.Windings[i]
		}
	}
	return nil
}

// Pins lists the pins of the windings in the order first named, without the core.
func (u *Unit) Pins() []string {
	var pins []string
	for _, w := range u.Windings {
		for _, p := range w.Pins {
			if p != CorePin && !slices.Contains(pins, p) {
				pins = append(pins, p)
			}
		}
	}
	return pins
}

// AllPins lists the pins of the windings, then those that only Terminals
// names, without the core.
func (u *Unit) AllPins() []string {
	pins := u.Pins()
	for _, p := range u.Terminals {
		if !slices.Contains(pins, p) {
			pins = append(pins, p)
		}
	}
	return pins
}

func validPin(p string) bool { return p != "" && p != CorePin && !strings.ContainsAny(p, "./, :\t\n") }

// Quarantined reports whether the unit is kept out of every hookup.
func (u *Unit) Quarantined() bool { return strings.HasPrefix(u.Status, "quarantine") }

// CoreJoined returns the id of a winding that ends on the core, or "".
func (u *Unit) CoreJoined() string {
	for _, w := range u.Windings {
		if w.Pins[0] == CorePin || w.Pins[1] == CorePin {
			return w.ID
		}
	}
	return ""
}

// MainsSide reports whether the winding belongs to the mains side: one that
// the label's volts stand on, or, of a split primary, a coil alike to those
// (no secondary is known to have the volts of a mains coil within 10 %).
func (u *Unit) MainsSide(id string) bool {
	if u.Mains == nil {
		return false
	}
	if slices.Contains(u.Mains.Series, id) {
		return true
	}
	w := u.Winding(id)
	for _, s := range u.Mains.Series {
		if p := u.Winding(s); p != nil && w != nil && p.Volts.Known() && w.Volts.Known() &&
			math.Abs(p.Volts.V-w.Volts.V) <= 0.1*p.Volts.V && p.Ohms.Known() && w.Ohms.Known() &&
			w.Ohms.V > p.Ohms.V/2 && w.Ohms.V < p.Ohms.V*2 {
			return true
		}
	}
	return false
}

// UnmarshalJSONFrom reads one excitation object or a list of them.
func (l *ExcitationList) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '[' {
		var e Excitation
		if err := json.UnmarshalDecode(dec, &e); err != nil {
			return err
		}
		*l = ExcitationList{e}
		return nil
	}
	return json.UnmarshalDecode(dec, (*[]Excitation)(l))
}

// MarshalJSONTo writes a single excitation as an object.
func (l ExcitationList) MarshalJSONTo(enc *jsontext.Encoder) error {
	if len(l) == 1 {
		return json.MarshalEncode(enc, l[0])
	}
	return json.MarshalEncode(enc, []Excitation(l))
}

// The objects that carry a series also take the short form "winding". Each
// reads itself through a twin that has both.

type mainsTwin struct {
	Volts   float64 `json:"volts"`
	Hertz   float64 `json:"hertz"`
	Series  Series  `json:"series"`
	Winding string  `json:"winding"`
}

// UnmarshalJSONFrom takes "winding" as short for a series of one.
func (m *Mains) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var t mainsTwin
	if err := json.UnmarshalDecode(dec, &t); err != nil {
		return err
	}
	s, err := seriesOf(t.Series, t.Winding)
	*m = Mains{Volts: t.Volts, Hertz: t.Hertz, Series: s}
	return err
}

type excitationTwin struct {
	Series  Series  `json:"series"`
	Winding string  `json:"winding"`
	Volts   Value   `json:"volts"`
	Hertz   float64 `json:"hertz"`
	Amps    Value   `json:"amps"`
	Watts   Value   `json:"watts"`
}

// UnmarshalJSONFrom takes "winding" as short for a series of one.
func (e *Excitation) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var t excitationTwin
	if err := json.UnmarshalDecode(dec, &t); err != nil {
		return err
	}
	s, err := seriesOf(t.Series, t.Winding)
	*e = Excitation{Series: s, Volts: t.Volts, Hertz: t.Hertz, Amps: t.Amps, Watts: t.Watts}
	return err
}

type excitedTwin struct {
	Series  Series  `json:"series"`
	Winding string  `json:"winding"`
	Volts   Value   `json:"volts"`
	Hertz   float64 `json:"hertz"`
	Lamp    *Lamp   `json:"lamp"`
}

// UnmarshalJSONFrom takes "winding" as short for a series of one.
func (e *Excited) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var t excitedTwin
	if err := json.UnmarshalDecode(dec, &t); err != nil {
		return err
	}
	s, err := seriesOf(t.Series, t.Winding)
	*e = Excited{Series: s, Volts: t.Volts, Hertz: t.Hertz, Lamp: t.Lamp}
	return err
}

func seriesOf(s Series, winding string) (Series, error) {
	if winding == "" {
		return s, nil
	}
	if len(s) > 0 {
		return nil, Errorf(Invalid, "", "both \"series\" and \"winding\" are given").Mend("keep \"series\"")
	}
	return Series{winding}, nil
}

// Validate checks the unit against the rules of the shelf format. A reason that
// stands behind the word in the status, as in "quarantine: hums", moves to its place.
func (u *Unit) Validate() error {
	tag := u.Tag
	if why, ok := strings.CutPrefix(u.Status, "quarantine"); ok && strings.IndexAny(why, " ,;:") == 0 {
		if u.Reason == "" {
			u.Reason = strings.TrimLeft(why, " ,;:-–—")
		}
		u.Status = "quarantine"
	}
	if tag == "" {
		return Errorf(Invalid, "a unit", "it has no tag").Mend("give it a short tag such as T1")
	}
	if strings.ContainsAny(tag, "./, :\t\n") {
		return Errorf(Invalid, tag, "a tag cannot hold a dot, slash, comma, colon or space").Mend("use letters and digits, such as T1")
	}
	switch {
	case u.Status == "" || u.Quarantined():
	default:
		return Errorf(Invalid, tag+" status", "unknown status %q", u.Status).Mend("use \"quarantine\", with a \"reason\", or leave it out")
	}
	if len(u.Windings) == 0 && len(u.Terminals) == 0 && len(u.Readings) == 0 {
		return Errorf(Invalid, tag, "it has no windings").Mend("name at least one, as in {\"id\": \"P\", \"pins\": [\"1\", \"2\"], \"volts\": 230, \"ohms\": 940}")
	}
	seen := map[string]bool{}
	for i, p := range u.Terminals {
		if !validPin(p) || slices.Contains(u.Terminals[:i], p) {
			return Errorf(Invalid, tag+" pins", "%q is empty, named twice, \"core\", or holds a dot, slash, comma, colon or space", p).Mend("list each pin once by letters and digits, such as \"5\" or \"red\"")
		}
	}
	for i := range u.Windings {
		w := &u.Windings[i]
		if w.ID == "" {
			return Errorf(Invalid, tag, "winding %d has no id", i+1).Mend("give it a short id such as P or A")
		}
		at := tag + "/" + w.ID
		if strings.ContainsAny(w.ID, "./, :\t\n") || w.ID == CorePin {
			return Errorf(Invalid, at, "a winding's id cannot be \"core\" or hold a dot, slash, comma, colon or space").Mend("use letters and digits, such as A1")
		}
		if seen[w.ID] {
			return Errorf(Invalid, at, "two windings have this id").Mend("rename one of them")
		}
		seen[w.ID] = true
		for _, p := range w.Pins {
			if p == "" {
				return Errorf(Invalid, at+" pins", "a winding runs between exactly two pins").Mend("write \"pins\": [\"1\", \"2\"], the start end first")
			}
			if strings.ContainsAny(p, "./, :\t\n") {
				return Errorf(Invalid, at+" pins", "a pin's name cannot hold a dot, slash, comma, colon or space").Mend("use letters and digits, such as 5 or red")
			}
		}
		if w.Pins[0] == w.Pins[1] {
			return Errorf(Invalid, at+" pins", "both ends are pin %s", w.Pins[0]).Mend("give the start and the end pin")
		}
		if w.Volts.Known() && !(w.Volts.V > 0) {
			return Errorf(Invalid, at+" volts", "volts must be above 0").Mend("give the no-load reading; a reversed winding swaps its pins instead")
		}
		if w.Ohms.Known() && !(w.Ohms.V > 0) {
			return Errorf(Invalid, at+" ohms", "ohms must be above 0").Mend("a winding too low for the ohmmeter: pass 1 A of direct current, read millivolts, and write that many milliohms")
		}
		if w.Amps.Known() && !(w.Amps.V > 0) {
			return Errorf(Invalid, at+" amps", "amps must be above 0").Mend("leave it out when it is not known")
		}
		if w.LeakageMH.Known() && !(w.LeakageMH.V >= 0) {
			return Errorf(Invalid, at+" leakage_mh", "leakage cannot be negative").Mend("leave it out when it is not known")
		}
		if w.WireMM.Known() && !(w.WireMM.V > 0) {
			return Errorf(Invalid, at+" wire_mm", "a wire has a diameter above 0").Mend("leave it out when it is not known")
		}
	}
	if m := u.Mains; m != nil {
		if !(m.Volts > 0) || !(m.Hertz > 0) {
			return Errorf(Invalid, tag+" mains", "volts and hertz must be above 0").Mend("copy them from the label, as in \"volts\": 230, \"hertz\": 50")
		}
		if len(u.Windings) > 0 || len(m.Series) > 0 {
			if err := u.checkSeries(tag+" mains", m.Series); err != nil {
				return err
			}
		}
	}
	for _, x := range []struct {
		name string
		v    Value
	}{{"va", u.VA}, {"turns_per_volt", u.TurnsPerVolt}} {
		if x.v.Known() && !(x.v.V > 0) {
			return Errorf(Invalid, tag+" "+x.name, "it must be above 0").Mend("leave it out when it is not known")
		}
	}
	if c := u.Core; c != nil {
		for _, v := range []Value{c.LimbMM, c.StackMM, c.MassG} {
			if v.Known() && !(v.V > 0) {
				return Errorf(Invalid, tag+" core", "a dimension or mass must be above 0").Mend("leave it out when it is not known")
			}
		}
	}
	for i, e := range u.Excitation {
		at := tag + " excitation"
		if err := u.checkSeries(at, e.Series); err != nil {
			return err
		}
		if !(e.Volts.V > 0) || !(e.Hertz > 0) {
			return Errorf(Invalid, at, "volts and hertz must be above 0").Mend("give the volts and the mains frequency at which the idle current was read")
		}
		if e.Amps.Known() && !(e.Amps.V > 0) || e.Watts.Known() && !(e.Watts.V >= 0) {
			return Errorf(Invalid, at, "amps must be above 0 and watts not below").Mend("leave out what was not read")
		}
		if e.Amps.Known() && e.Watts.Known() && e.Watts.V > e.Amps.V*e.Volts.V*1.0000001 {
			return Errorf(Invalid, at, "%s W is more than the %.4g VA that %s V and %s A make", e.Watts.Digits, e.Amps.V*e.Volts.V, e.Volts.Digits, e.Amps.Digits).
				Mend("read watts and true-rms amps again")
		}
		if i == 0 {
			if err := u.checkExcitedVolts(at, e); err != nil {
				return err
			}
		}
	}
	for _, t := range u.Insulation {
		at := tag + " insulation"
		for _, end := range []string{t.From, t.To} {
			if end != CorePin && u.Winding(end) == nil {
				return Errorf(Invalid, at, "%q is neither a winding nor \"core\"", end).Mend("name a winding's id or \"core\"")
			}
		}
		if t.From == t.To {
			return Errorf(Invalid, at, "from and to are both %s", t.From).Mend("name two different windings, or a winding and \"core\"")
		}
		if t.Megohms.Known() && t.Megohms.V < 0 || t.TestVolts < 0 || t.Seconds < 0 || t.WorkingVolts < 0 {
			return Errorf(Invalid, at, "a negative number").Mend("leave out what is not known")
		}
	}
	if err := u.checkRows(); err != nil {
		return err
	}
	if err := validatePhotos(tag, u.Photos); err != nil {
		return err
	}
	ids := map[string]bool{}
	for i := range u.Readings {
		r := &u.Readings[i]
		at := tag + " reading " + r.ID
		if r.ID == "" || ids[r.ID] {
			return Errorf(Invalid, strings.TrimSpace(at), "reading %d needs an id of its own", i+1).Mend("number the readings r1, r2, …")
		}
		ids[r.ID] = true
		if err := r.Validate(at); err != nil {
			return err
		}
		if r.Supersedes != "" && (r.Supersedes == r.ID || !ids[r.Supersedes]) {
			return Errorf(Invalid, at, "it supersedes %q, which is no earlier reading", r.Supersedes).Mend("name the id of the reading it corrects")
		}
	}
	return nil
}

// checkRows holds the rows of pins to the pins: a row may leave pins out, which
// lie nobody knows where, but names none that is not there.
func (u *Unit) checkRows() error {
	at, all := u.Tag+" pin_rows", u.AllPins()
	if len(u.PinRows) > 2 {
		return Errorf(Invalid, at, "there are %d rows", len(u.PinRows)).Mend("give the near row and the far one")
	}
	var seen []string
	for _, row := range u.PinRows {
		for _, p := range row {
			if !slices.Contains(all, p) || slices.Contains(seen, p) {
				return Errorf(Invalid, at, "%q is no pin of the unit, or stands there twice", p).Mend("name each pin once")
			}
			seen = append(seen, p)
		}
	}
	return nil
}

// Validate checks one reading; place names it in an error.
func (r *Reading) Validate(place string) error {
	if !r.Quantity.known() {
		return Errorf(Invalid, place, "unknown quantity %q", r.Quantity).Mend("use one of %s", quantities)
	}
	if r.LeadOhms < 0 || r.BurdenOhms < 0 {
		return Errorf(Invalid, place, "ohms of leads or burden are negative").Mend("give ohms of 0 or more")
	}
	if e := r.Excited; e != nil {
		if e.Volts.Known() && !(e.Volts.V > 0) || e.Hertz < 0 {
			return Errorf(Invalid, place+" excited", "volts must be above 0, hertz not below").Mend("leave out what is not known")
		}
		if err := e.Lamp.validate(place + " excited lamp"); err != nil {
			return err
		}
	}
	if r.Value == "open" || r.Value == "over" {
		return nil
	}
	if _, err := Read(r.Value); err != nil {
		return Errorf(Invalid, place, "%q is neither a number nor \"open\" nor \"over\"", r.Value).Mend("write the digits as the meter showed them")
	}
	return nil
}

func (u *Unit) checkSeries(at string, s Series) error {
	if len(s) == 0 {
		return Errorf(Invalid, at, "no winding is named").Mend("add \"series\": [\"P\"], or \"winding\": \"P\"")
	}
	for i, id := range s {
		if u.Winding(id) == nil {
			return Errorf(Invalid, at, "there is no winding %q", id).Mend("name a winding of %s by its id", u.Tag)
		}
		if slices.Contains(s[:i], id) {
			return Errorf(Invalid, at, "winding %s is named twice", id).Mend("name each winding of the series once")
		}
	}
	return nil
}

// checkExcitedVolts holds the excited windings' volts to the excitation's: they
// are the same volts, read at the same moment. Readings agree when they lie
// within four standard uncertainties of the difference, meter gain included,
// since a label figure and a reading may have been mixed.
func (u *Unit) checkExcitedVolts(at string, e Excitation) error {
	sum, v := 0.0, 0.0
	for _, id := range e.Series {
		w := u.Winding(id)
		if !w.Volts.Known() {
			return nil
		}
		sum += w.Volts.V
		v += math.Pow(w.Volts.sigma(), 2)
	}
	v += math.Pow(e.Volts.sigma(), 2)
	if math.Abs(sum-e.Volts.V) > 4*math.Sqrt(v) {
		return Errorf(Invalid, at, "the excited windings' volts sum to %.5g V, not to its %s V", sum, e.Volts.Digits).
			Mend("give all windings' volts at this excitation, or list first the excitation they were read at")
	}
	return nil
}

// sigma is the standard uncertainty of a volts value for the cross-check: its
// own, or a generic meter's.
func (v Value) sigma() float64 {
	if v.Basis != AsRead {
		return math.Max(v.U, 1e-9*math.Abs(v.V))
	}
	if a, ok := GenericMeter().Showing(VoltsAC, v.V, v.Digits); ok {
		return a.U(v.V)
	}
	return 0.01 * math.Abs(v.V)
}
