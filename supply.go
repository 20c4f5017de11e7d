package yokemate

// DCState is what a rectified output gives: the heavier rail's, where there
// are two.
type DCState struct {
	Mean       float64 `json:"mean"`        // over the period [V]
	Valley     float64 `json:"valley"`      // lowest [V]
	Peak       float64 `json:"peak"`        // highest [V]
	Ripple     float64 `json:"ripple"`      // peak to peak [V]
	WindingRMS float64 `json:"winding_rms"` // of the winding that carries most of its rating [A]
}

// SupplyOutput is an output of a hookup with its DC state, where it has one.
type SupplyOutput struct {
	OutputState
	DC *DCState `json:"dc,omitzero"`
}

// SupplyPrediction is a prediction of a hookup with rectified outputs: volts
// and amps are the true rms of their waveforms.
type SupplyPrediction struct {
	Prediction
	Outputs []SupplyOutput `json:"outputs"`
	Rails   []RailState    `json:"rails"`
	Balance float64        `json:"balance"` // energy delivered less lost less stored, over what went to and fro [1]
}

// RailState is what one reservoir and its diodes stand and carry.
type RailState struct {
	Output       string  `json:"output"`
	Amps         float64 `json:"amps"` // mean, drawn by the load [A]
	Mean         float64 `json:"mean"`
	MeanLow      float64 `json:"mean_low"` // 95 % interval from the facts [V]
	MeanHigh     float64 `json:"mean_high"`
	Valley       float64 `json:"valley"`
	ValleyLow    float64 `json:"valley_low"`
	ValleyHigh   float64 `json:"valley_high"`
	Peak         float64 `json:"peak"`
	Ripple       float64 `json:"ripple"`
	DiodeMean    float64 `json:"diode_mean"` // the busiest diode [A]
	DiodeRMS     float64 `json:"diode_rms"`
	DiodePeak    float64 `json:"diode_peak"`
	DiodeReverse float64 `json:"diode_reverse"` // the greatest reverse volts of any [V]
	CapacitorRMS float64 `json:"capacitor_rms"` // ripple current [A]
}

// Supply is a DC supply worked out: what to build behind an AC output.
type Supply struct {
	Hookup       Hookup        `json:"hookup"` // with its dc output
	Need         Need          `json:"need"`
	Rails        []SupplyRail  `json:"rails"`
	MaxAmps      float64       `json:"max_amps"`   // DC a rail, all rails alike, at which the first winding reaches its rating [A]
	LimitedBy    string        `json:"limited_by"` // that winding, as T1/A
	RuleAmps     float64       `json:"rule_amps"`  // what the rule of thumb would say [A]
	Rule         string        `json:"rule"`       // the rule with its numbers
	PrimaryFuse  float64       `json:"primary_fuse"`
	FuseKind     string        `json:"fuse_kind"`
	FuseWhy      []string      `json:"fuse_why"`
	Secondary    *OutputFuse   `json:"secondary_fuse,omitzero"` // between winding and rectifier; nil where it was left out
	Faults       []CardFault   `json:"faults,omitzero"`         // as on a limits card
	ThermalLinks []ThermalLink `json:"thermal_links,omitzero"`
	CoreMeanFlux float64       `json:"core_mean_flux"` // how far the rectifier magnetises the core to one side [1]
	Parts        []Part        `json:"parts"`
	Notes        []Note        `json:"notes"`
	Meets        bool          `json:"meets"` // the need, with no winding over its rating
}

// SupplyRail is one rail of a supply.
type SupplyRail struct {
	Volts          float64 `json:"volts"`           // mean at nominal mains, cold copper [V]
	HotVolts       float64 `json:"hot_volts"`       // mean at nominal mains, hot copper [V]
	Ripple         float64 `json:"ripple"`          // peak to peak at nominal mains [V]
	Valley         float64 `json:"valley"`          // at low mains, hot copper [V]
	NoLoadPeak     float64 `json:"no_load_peak"`    // at high mains, no load, cold copper [V]
	Farads         float64 `json:"farads"`          // of each reservoir, preferred value [F]
	CapacitorVolts float64 `json:"capacitor_volts"` // rating to buy [V]
	CapacitorRMS   float64 `json:"capacitor_rms"`   // ripple current it carries [A]
	DiodeVolts     float64 `json:"diode_volts"`     // rating to buy [V]
	DiodeAmps      float64 `json:"diode_amps"`      // rating to buy [A]
	DiodePeak      float64 `json:"diode_peak"`      // repetitive [A]
	BleederOhms    float64 `json:"bleeder_ohms"`    // 0: none needed
	BleederWatts   float64 `json:"bleeder_watts"`
	BleederSeconds float64 `json:"bleeder_seconds"` // from the no-load peak to 25 V
	Headroom       float64 `json:"headroom,omitzero"`
	RegulatorWatts float64 `json:"regulator_watts,omitzero"` // at high mains [W]
	HeatSinkKW     float64 `json:"heat_sink_k_w,omitzero"`   // thermal resistance at most, sink to air [K/W]
	HeatSinkHow    string  `json:"heat_sink_how,omitzero"`
}

// Part is a line of a parts list.
type Part struct {
	Count int    `json:"count"`
	What  string `json:"what"`
	Why   string `json:"why"`
}

// LimitsCard is what a hookup may be asked for, for its sheet and its label.
type LimitsCard struct {
	Outputs      []OutputLimits `json:"outputs"`
	AmbientC     float64        `json:"ambient_c"`    // that the currents hold for [°C]
	HighestC     float64        `json:"highest_c"`    // ambient at which the hookup's own loads still rest within the class [°C]
	PrimaryFuse  float64        `json:"primary_fuse"` // of the first plug at the continuous currents; 0 where none serves [A]
	FuseKind     string         `json:"fuse_kind"`
	FuseWhy      []string       `json:"fuse_why"`
	FeedAmps     float64        `json:"feed_amps"`     // the most that the continuous currents ask, all outputs at once or one by itself; nominal mains [A]
	Together     float64        `json:"together"`      // part of its own amps that every output may give when all draw at once [1]
	Faults       []CardFault    `json:"faults"`        // what follows on each, with these fuses
	ThermalLinks []ThermalLink  `json:"thermal_links"` // for the units that no fuse surely saves
	LowVolts     float64        `json:"low_volts"`     // of the first plug [V]
	HighVolts    float64        `json:"high_volts"`
	Estimated    bool           `json:"estimated"` // a rating that decides is an estimate: a heat run settles it
}

// CardFault is one fault of a hookup, followed at the lowest mains from warm
// windings until a fuse opens, a winding is past its limit, or nothing more happens.
type CardFault struct {
	Fault       FaultKind `json:"fault"`
	About       string    `json:"about"`                // the output, or the winding as T1/A
	Winding     string    `json:"winding"`              // that suffers first
	WindingAmps float64   `json:"winding_amps"`         // in it, true rms at first [A]
	FeedAmps    float64   `json:"feed_amps"`            // through the fuse in the live wire [A]
	LimitS      *float64  `json:"limit_s,omitzero"`     // until the first winding is past its limit [s]; nil: never, or not before a fuse had opened
	Primary     string    `json:"primary"`              // whether the fuse in the live wire opens before that: yes, unsure, no or none
	PrimaryS    *float64  `json:"primary_s,omitzero"`   // by the slow end of its gates [s]; nil: never, or not before the winding's limit
	Secondary   string    `json:"secondary"`            // the same of the output's own fuse; none where it is not in the way
	SecondaryS  *float64  `json:"secondary_s,omitzero"` // [s]
	Protects    Protector `json:"protects"`             // what surely does
}

// FaultKind is what went wrong.
type FaultKind string

const (
	ShortedOutput FaultKind = "short"      // a dead short across an output
	HalfShorted   FaultKind = "half-turns" // half of a winding's turns closed on themselves
	TurnedRound   FaultKind = "reversed"   // a winding joined the wrong way round
)

// Protector is what surely ends a fault before a winding is past its limit.
type Protector string

const (
	LiveFuse      Protector = "live-fuse"
	OwnFuse       Protector = "output-fuse"
	UnitItself    Protector = "unit"         // its own ohms hold the current to what it stands
	LinkInTheUnit Protector = "thermal-link" // no fuse surely does
)

// ThermalLink is the temperature fuse for a unit that no other fuse surely saves.
type ThermalLink struct {
	Unit    string  `json:"unit"`
	Celsius float64 `json:"celsius"` // rated functioning temperature [°C]
	Class   string  `json:"class"`   // of insulation, that it goes by
	Why     string  `json:"why"`
}

// OutputLimits is one output's part of the card.
type OutputLimits struct {
	Name       string      `json:"name"`
	Amps       float64     `json:"amps"`          // AC, or DC of a rectified output a rail, for ever [A]
	LimitedBy  string      `json:"limited_by"`    // the winding that decides, and by what
	Duty       float64     `json:"duty"`          // part of the time [1]
	DutyAmps   float64     `json:"duty_amps"`     // for that part of the time [A]
	DutyOnS    float64     `json:"duty_on_s"`     // longest stretch of it [s]
	BridgeAmps float64     `json:"bridge_amps"`   // DC behind a bridge with a reservoir, for an AC output [A]
	NoLoad     float64     `json:"no_load"`       // nominal mains [V]
	AtLow      float64     `json:"at_low"`        // at Amps, low mains [V]
	AtHigh     float64     `json:"at_high"`       // at Amps, high mains [V]
	Fuse       *OutputFuse `json:"fuse,omitzero"` // in the output's own lead; nil where it may draw nothing
}

// OutputFuse is the fuse that serves between a winding and what it feeds, and
// what it does on a dead short there.
type OutputFuse struct {
	Count     int      `json:"count"` // one in each lead that wants its own
	Lead      string   `json:"lead"`  // joints whose lead it goes into, as A or A and C
	Amps      float64  `json:"amps"`  // rating; 0 where none serves [A]
	Kind      string   `json:"kind"`
	LoadAmps  float64  `json:"load_amps"`        // true rms that it carries for ever [A]
	ShortAmps float64  `json:"short_amps"`       // through it on a dead short behind it [A]
	Opens     string   `json:"opens"`            // on that short before a winding passes its limit: yes, unsure or no
	OpensS    *float64 `json:"opens_s,omitzero"` // by the slow end of its gates [s]; nil: never
	LimitS    *float64 `json:"limit_s,omitzero"` // until the first winding passes its limit, without any fuse [s]; nil: never
	Primary   string   `json:"primary"`          // whether the fuse in the live wire opens on it: yes, unsure, no or none
	Why       []string `json:"why"`
}

// FirstPower is the series lamp for first power on one unit, and what its
// glow tells there.
type FirstPower struct {
	Unit      string     `json:"unit"`
	Volts     float64    `json:"volts"` // mains of its label, at the socket [V]
	Hertz     float64    `json:"hertz"`
	VA        float64    `json:"va"`
	RatedAmps float64    `json:"rated_amps"` // from the mains at its rating, VA over volts [A]
	ShortAmps float64    `json:"short_amps"` // with no lamp and its least dangerous winding shorted, from the mains [A]
	LampWatts float64    `json:"lamp_watts"` // of the lamp to take; 0 where none tells [W]
	LampCount int        `json:"lamp_count"` // so many of them in series
	Lamps     []LampTell `json:"lamps"`      // every usual size
	Notes     []Note     `json:"notes"`
}

// LampTell is what one size of lamp tells of a unit.
type LampTell struct {
	Count   int         `json:"count"` // lamps in series
	Watts   float64     `json:"watts"` // of each, at the unit's mains volts [W]
	Verdict LampVerdict `json:"verdict"`
	States  []LampState `json:"states"`
}

// LampVerdict is whether a lamp tells a good unit from a shorted one.
type LampVerdict string

const (
	LampTells    LampVerdict = "tells"
	TooBigLamp   LampVerdict = "too-big"   // it stays dark or dull on a short
	TooSmallLamp LampVerdict = "too-small" // it glows on a good unit and keeps it from its volts
)

// LampState is a lamp in series with a unit in one state.
type LampState struct {
	State     UnitHealth `json:"state"`
	About     string     `json:"about"`      // the winding; empty for a good unit
	Part      float64    `json:"part"`       // of its turns that are shorted; 1 for all of them, 0 for none [1]
	LampVolts float64    `json:"lamp_volts"` // across the lamp [V]
	UnitVolts float64    `json:"unit_volts"` // left for the unit [V]
	Amps      float64    `json:"amps"`       // through both [A]
	Glow      Glow       `json:"glow"`
	Told      bool       `json:"told"` // from a good unit, by the glow or by a voltmeter across the unit
}

// UnitHealth is how well a unit is.
type UnitHealth string

const (
	GoodUnit       UnitHealth = "good"
	ShortedTurns   UnitHealth = "shorted-turns"
	ShortedWinding UnitHealth = "shorted-winding"
)

// Glow is how bright a filament looks.
type Glow string

const (
	Dark   Glow = "dark"
	Dull   Glow = "dull"
	Half   Glow = "half"
	Bright Glow = "bright"
)
