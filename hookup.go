package yokemate

import (
	"math"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Hookup is feeds, joints and outputs together: one way to wire units of a
// shelf. The same type describes a half-built state of it.
type Hookup struct {
	Format  string       `json:"format"`
	Name    string       `json:"name,omitempty"`
	Feed    Feeds        `json:"feed"`
	Joints  Joints       `json:"joints"`
	Earth   string       `json:"earth,omitempty"` // the joint that is bonded to protective earth
	Outputs []Output     `json:"outputs,omitempty"`
	Meters  []MeterPoint `json:"meters,omitzero"`
	Fuses   []Fuse       `json:"fuses,omitempty"`
	CopperC *float64     `json:"copper_c,omitzero"` // copper temperature of the prediction [°C]; nil means 20
	Fed     *bool        `json:"fed,omitzero"`      // false: every plug is out; nil means true
}

// Feeds is one mains feed, or several plugs.
type Feeds []Feed

// Feed is one plug: a source behind its resistance, limiter and fuse.
type Feed struct {
	Volts    Value   `json:"volts"`               // nominal [V]; a value object where the socket was read
	Low      float64 `json:"low,omitzero"`        // lowest mains to expect [V]; 0 means 0.9 of nominal
	High     float64 `json:"high,omitzero"`       // highest mains to expect [V]; 0 means 1.1 of nominal
	Hertz    float64 `json:"hertz"`               // [Hz]
	Degrees  float64 `json:"degrees,omitzero"`    // of the supply phase [°]
	Live     string  `json:"live"`                // joint
	Neutral  string  `json:"neutral"`             // joint
	FuseAmps float64 `json:"fuse_amps,omitzero"`  // rated current [A]; 0 means none
	FuseKind string  `json:"fuse_kind,omitempty"` // T or F (IEC 60127), slow or fast (UL 248-14)
	Lamp     *Lamp   `json:"lamp,omitzero"`       // series limiter
	Ohms     float64 `json:"ohms,omitzero"`       // source resistance [Ω]
	Fed      *bool   `json:"fed,omitzero"`        // false: this plug is out; nil means true
}

// Lamp is a series limiter: a filament lamp by its watts and volts, or a
// resistor by its ohms.
type Lamp struct {
	Watts float64 `json:"watts,omitzero"` // [W]
	Volts float64 `json:"volts,omitzero"` // [V]
	Ohms  float64 `json:"ohms,omitzero"`  // [Ω]
}

// Filament reports whether the limiter is a filament lamp.
func (l *Lamp) Filament() bool { return l != nil && l.Ohms == 0 }

// Joint is pins connected together. One pin alone is a free end to measure at.
type Joint struct {
	Name string
	Pins []string // as T1.5
}

// Joints keeps the joints in wiring order; in a file it is an object.
type Joints []Joint

// Output is the pair of joints a load is drawn from.
type Output struct {
	Name string `json:"name"`
	From string `json:"from"`
	To   string `json:"to"`
	Load *Load  `json:"load,omitzero"` // nil: open
	DC   *DC    `json:"dc,omitzero"`
}

// Load is a series of resistance and inductance, or a constant current.
type Load struct {
	Ohms        float64  `json:"ohms,omitzero"`         // [Ω]
	Henries     float64  `json:"henries,omitzero"`      // in series with the ohms [H]
	Amps        float64  `json:"amps,omitzero"`         // constant rms current [A]
	PowerFactor *float64 `json:"power_factor,omitzero"` // of the constant current, lagging; nil means 1
}

// DC asks for a rectified output.
type DC struct {
	Rectifier string  `json:"rectifier"` // bridge, half, centre-tap or doubler
	Middle    string  `json:"middle,omitempty"`
	Farads    float64 `json:"farads"` // a rail [F]
	Amps      float64 `json:"amps"`   // a rail, mean [A]
}

// MeterPoint is a voltmeter between two joints.
type MeterPoint struct {
	Name string `json:"name"`
	From string `json:"from"`
	To   string `json:"to"`
}

// Fuse is a fuse link between two joints.
type Fuse struct {
	From string  `json:"from"`
	To   string  `json:"to"`
	Amps float64 `json:"amps"` // rated current [A]
	Kind string  `json:"kind"` // T, F, slow or fast
}

// MainsLevel is which end of the feed's band a prediction is made at.
type MainsLevel string

const (
	Nominal MainsLevel = "nominal"
	Low     MainsLevel = "low"
	High    MainsLevel = "high"
)

// At returns the feed's volts at the given level [V].
func (f *Feed) At(l MainsLevel) float64 {
	switch {
	case l == Low && f.Low > 0:
		return f.Low
	case l == Low:
		return 0.9 * f.Volts.V
	case l == High && f.High > 0:
		return f.High
	case l == High:
		return 1.1 * f.Volts.V
	}
	return f.Volts.V
}

// Powered reports whether plug i of the hookup is in its socket.
func (h *Hookup) Powered(i int) bool {
	f := h.Feed[i]
	return (h.Fed == nil || *h.Fed) && (f.Fed == nil || *f.Fed)
}

// Joint returns the joint with that name, or nil.
func (j Joints) Joint(name string) *Joint {
	for i := range j {
		if j[i].Name == name {
			return &j[i]
		}
	}
	return nil
}

// Of returns the name of the joint that holds the pin, or "".
func (j Joints) Of(pin string) string {
	for i := range j {
		if slices.Contains(j[i].Pins, pin) {
			return j[i].Name
		}
	}
	return ""
}

// Clone returns a copy that shares nothing with h.
func (h *Hookup) Clone() *Hookup {
	c := *h
	c.Feed = slices.Clone(h.Feed)
	c.Joints = make(Joints, len(h.Joints))
	for i, j := range h.Joints {
		c.Joints[i] = Joint{j.Name, slices.Clone(j.Pins)}
	}
	c.Outputs = slices.Clone(h.Outputs)
	for i := range c.Outputs {
		o := &c.Outputs[i]
		if o.Load != nil {
			l := *o.Load
			o.Load = &l
		}
		if o.DC != nil {
			d := *o.DC
			o.DC = &d
		}
	}
	c.Meters = slices.Clone(h.Meters)
	c.Fuses = slices.Clone(h.Fuses)
	return &c
}

// SplitPin parts "T1.5" into tag and pin; ok is false when there is no dot.
func SplitPin(s string) (tag, pin string, ok bool) { return strings.Cut(s, ".") }

// SplitWinding parts "T1/A" into tag and winding id; ok is false when there is no slash.
func SplitWinding(s string) (tag, id string, ok bool) { return strings.Cut(s, "/") }

// Tags lists the units that the joints name, in wiring order.
func (h *Hookup) Tags() []string {
	var tags []string
	for _, j := range h.Joints {
		for _, p := range j.Pins {
			if t, _, ok := SplitPin(p); ok && !slices.Contains(tags, t) {
				tags = append(tags, t)
			}
		}
	}
	return tags
}

// UnmarshalJSONFrom reads the joints object in its own order.
func (j *Joints) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '{' {
		if err := dec.SkipValue(); err != nil {
			return err
		}
		return Errorf(Invalid, "", "joints are an object").Mend("write {\"A\": [\"T1.5\", \"T2.5\"], …}")
	}
	if _, err := dec.ReadToken(); err != nil {
		return err
	}
	*j = nil
	for dec.PeekKind() != '}' {
		var x Joint
		if err := json.UnmarshalDecode(dec, &x.Name); err != nil {
			return err
		}
		if err := json.UnmarshalDecode(dec, &x.Pins); err != nil {
			return err
		}
		*j = append(*j, x)
	}
	_, err := dec.ReadToken()
	return err
}

// MarshalJSONTo writes the joints object in wiring order.
func (j Joints) MarshalJSONTo(enc *jsontext.Encoder) error {
	if err := enc.WriteToken(jsontext.BeginObject); err != nil {
		return err
	}
	for _, x := range j {
		if err := enc.WriteToken(jsontext.String(x.Name)); err != nil {
			return err
		}
		if err := json.MarshalEncode(enc, x.Pins); err != nil {
			return err
		}
	}
	return enc.WriteToken(jsontext.EndObject)
}

// UnmarshalJSONFrom reads one feed object or a list of them.
func (f *Feeds) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '[' {
		var x Feed
		if err := json.UnmarshalDecode(dec, &x); err != nil {
			return err
		}
		*f = Feeds{x}
		return nil
	}
	return json.UnmarshalDecode(dec, (*[]Feed)(f))
}

// MarshalJSONTo writes a single feed as an object.
func (f Feeds) MarshalJSONTo(enc *jsontext.Encoder) error {
	if len(f) == 1 {
		return json.MarshalEncode(enc, f[0])
	}
	return json.MarshalEncode(enc, []Feed(f))
}

// Validate checks the hookup against the rules of its format, as far as that
// goes without the shelf; [Hookup.Check] does the rest.
func (h *Hookup) Validate() error {
	if h.Format != HookupFormat {
		return formatError(h.Format, HookupFormat)
	}
	if len(h.Feed) == 0 {
		return Errorf(Invalid, "feed", "there is no feed").Mend("add \"feed\": {\"volts\": 230, \"hertz\": 50, \"live\": \"L\", \"neutral\": \"N\"}")
	}
	owner := map[string]string{}
	names := map[string]bool{}
	for _, j := range h.Joints {
		if j.Name == "" || strings.ContainsAny(j.Name, "./\t\n") {
			return Errorf(Invalid, "joints", "a joint's name %q is empty or holds a dot or slash", j.Name).Mend("name it with letters and digits, such as A")
		}
		at := "joint " + j.Name
		if names[j.Name] {
			return Errorf(Invalid, at, "the joint is named twice").Mend("put its pins together or rename one")
		}
		names[j.Name] = true
		if len(j.Pins) == 0 {
			return Errorf(Invalid, at, "the joint is empty").Mend("list at least one pin, such as \"T1.5\", or remove the joint")
		}
		for _, p := range j.Pins {
			tag, pin, ok := SplitPin(p)
			if !ok || tag == "" || pin == "" {
				return Errorf(Invalid, at, "%q is not a pin", p).Mend("write unit and pin with a dot, such as T1.5")
			}
			if o, ok := owner[p]; ok {
				if o == j.Name {
					return Errorf(Invalid, at, "pin %s is listed twice", p).Mend("list it once")
				}
				return Errorf(Invalid, at, "pin %s is in joint %s too", p, o).Mend("a pin belongs to one joint: take it out of one, or make them one joint")
			}
			owner[p] = j.Name
		}
	}
	for i := range h.Feed {
		if err := h.Feed[i].validate(h, i); err != nil {
			return err
		}
	}
	joint := func(at, name string) error {
		if !names[name] {
			return Errorf(Invalid, at, "there is no joint %q", name).Mend("name one of the joints, or add it")
		}
		return nil
	}
	if h.Earth != "" {
		if err := joint("earth", h.Earth); err != nil {
			return err
		}
	}
	seen := map[string]bool{}
	for i := range h.Outputs {
		o := &h.Outputs[i]
		at := "output " + o.Name
		if o.Name == "" || seen[o.Name] {
			return Errorf(Invalid, at, "output %d needs a name of its own", i+1).Mend("add \"name\": \"out\"")
		}
		seen[o.Name] = true
		for _, n := range []string{o.From, o.To} {
			if err := joint(at, n); err != nil {
				return err
			}
		}
		if o.From == o.To {
			return Errorf(Invalid, at, "it runs from joint %s to itself", o.From).Mend("name two different joints")
		}
		if o.Load != nil && o.DC != nil {
			return Errorf(Invalid, at, "it has an AC load and a DC supply").Mend("keep one of \"load\" and \"dc\"")
		}
		if err := o.Load.validate(at); err != nil {
			return err
		}
		if o.DC != nil {
			if err := o.DC.validate(at); err != nil {
				return err
			}
			if o.DC.Middle != "" {
				if err := joint(at, o.DC.Middle); err != nil {
					return err
				}
			}
		}
	}
	seen = map[string]bool{}
	for i, m := range h.Meters {
		at := "meter " + m.Name
		if m.Name == "" || seen[m.Name] {
			return Errorf(Invalid, at, "meter %d needs a name of its own", i+1).Mend("add \"name\": \"gap\"")
		}
		seen[m.Name] = true
		for _, n := range []string{m.From, m.To} {
			if err := joint(at, n); err != nil {
				return err
			}
		}
	}
	for _, f := range h.Fuses {
		for _, n := range []string{f.From, f.To} {
			if err := joint("fuses", n); err != nil {
				return err
			}
		}
		if f.From == f.To || !(f.Amps > 0) {
			return Errorf(Invalid, "fuses", "a fuse needs two different joints and amps above 0").Mend("write {\"from\": \"A1\", \"to\": \"A\", \"amps\": 1, \"kind\": \"T\"}")
		}
		if err := fuseKind("fuses", f.Kind); err != nil {
			return err
		}
	}
	if h.CopperC != nil && !(*h.CopperC > -60 && *h.CopperC < 400) {
		return Errorf(Invalid, "copper_c", "%g °C is no temperature of copper windings", *h.CopperC).Mend("give degrees Celsius, such as 20 or 85")
	}
	return nil
}

func (f *Feed) validate(h *Hookup, i int) error {
	at := "feed"
	if len(h.Feed) > 1 {
		at = "feed " + string(rune('1'+i))
	}
	if !(f.Volts.V > 0) || f.Low < 0 || f.High < 0 {
		return Errorf(Invalid, at+" volts", "volts must be above 0").Mend("give the mains volts, such as \"volts\": 230, \"low\": 207, \"high\": 253")
	}
	if f.Low > f.Volts.V || f.High > 0 && f.High < f.Volts.V {
		return Errorf(Invalid, at, "%.4g to %.4g V does not hold %.4g V", f.At(Low), f.At(High), f.Volts.V).Mend("low may not be above the nominal volts, nor high below")
	}
	if !(f.Hertz > 0) || f.Hertz > 1000 {
		return Errorf(Invalid, at+" hertz", "the mains frequency is missing or out of range").Mend("add \"hertz\": 50 or 60")
	}
	if f.FuseAmps < 0 || f.Ohms < 0 || math.Abs(f.Degrees) > 360 {
		return Errorf(Invalid, at, "a negative fuse or resistance, or degrees beyond a turn").Mend("check fuse_amps, ohms and degrees")
	}
	if err := fuseKind(at+" fuse_kind", f.FuseKind); err != nil {
		return err
	}
	if f.Live == "" || f.Neutral == "" || f.Live == f.Neutral {
		return Errorf(Invalid, at, "live and neutral must be two joints").Mend("add \"live\": \"L\", \"neutral\": \"N\"")
	}
	if h.Powered(i) {
		for _, n := range []string{f.Live, f.Neutral} {
			if h.Joints.Joint(n) == nil {
				return Errorf(Invalid, at, "there is no joint %q", n).Mend("name the joints that the plug's wires go to")
			}
		}
	}
	return f.Lamp.validate(at + " lamp")
}

func (l *Lamp) validate(at string) error {
	if l == nil {
		return nil
	}
	ok := l.Ohms > 0 && l.Watts == 0 && l.Volts == 0 || l.Ohms == 0 && l.Watts > 0 && l.Volts > 0
	if !ok {
		return Errorf(Invalid, at, "a limiter is a filament lamp or a resistor").Mend("write {\"watts\": 40, \"volts\": 230} or {\"ohms\": 100}")
	}
	return nil
}

func fuseKind(at, k string) error {
	switch k {
	case "", "T", "F", "slow", "fast":
		return nil
	}
	return Errorf(Invalid, at, "unknown kind of fuse %q", k).Mend("use T or F (IEC 60127), slow or fast (UL 248-14)")
}

func (l *Load) validate(at string) error {
	if l == nil {
		return nil
	}
	if l.Ohms < 0 || l.Henries < 0 || l.Amps < 0 {
		return Errorf(Invalid, at+" load", "a load cannot be negative").Mend("give ohms, henries or amps above 0")
	}
	if l.Amps > 0 && (l.Ohms > 0 || l.Henries > 0) {
		return Errorf(Invalid, at+" load", "it has amps and ohms").Mend("keep one of them")
	}
	if l.PowerFactor != nil && l.Amps == 0 {
		return Errorf(Invalid, at+" load", "a power factor goes with amps").Mend("for ohms give \"henries\" in series instead, or give \"amps\"")
	}
	if l.PowerFactor != nil && !(*l.PowerFactor > 0 && *l.PowerFactor <= 1) {
		return Errorf(Invalid, at+" load", "a power factor lies above 0 and is at most 1").Mend("leave it out for a plain resistance")
	}
	if l.Amps == 0 && l.Ohms == 0 && l.Henries == 0 {
		return Errorf(Invalid, at+" load", "the load says nothing").Mend("give ohms or amps above 0, or leave the load out")
	}
	return nil
}

func (d *DC) validate(at string) error {
	switch d.Rectifier {
	case "bridge", "half", "centre-tap", "doubler":
	default:
		return Errorf(Invalid, at+" dc", "unknown rectifier %q", d.Rectifier).Mend("use bridge, half, centre-tap or doubler")
	}
	if !(d.Farads > 0) || d.Amps < 0 {
		return Errorf(Invalid, at+" dc", "farads must be above 0 and amps not below").Mend("write \"farads\": 0.0047, \"amps\": 0.5")
	}
	return nil
}

// Check holds the hookup to the shelf: every pin must exist, and no unit may
// be in quarantine or have a winding on its core; those two are reported as
// notes by the prediction, not here.
func (h *Hookup) Check(s *Shelf) error {
	for _, j := range h.Joints {
		for _, p := range j.Pins {
			tag, pin, _ := SplitPin(p)
			u := s.Unit(tag)
			if u == nil {
				return Errorf(Invalid, "joint "+j.Name, "there is no unit %s on the shelf", tag).Mend("add it to the shelf or mend the tag")
			}
			if pin == CorePin || slices.Contains(u.Pins(), pin) {
				continue
			}
			switch at := "joint " + j.Name; {
			case len(u.Windings) == 0:
				return Errorf(Invalid, at, "nothing is known of the windings of unit %s yet, so pin %s leads nowhere", tag, pin).Mend("see what to read first with \"yokemate identify %s\"", tag)
			case slices.Contains(u.AllPins(), pin):
				return Errorf(Invalid, at, "no winding that is known ends on pin %s of unit %s", pin, tag).Mend("leave it out; its pins with windings are %s, and there is core", strings.Join(u.Pins(), ", "))
			default:
				return Errorf(Invalid, at, "unit %s has no pin %s", tag, pin).Mend("its pins are %s and core", strings.Join(u.Pins(), ", "))
			}
		}
	}
	return nil
}
