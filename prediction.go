package yokemate

import (
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Prediction is everything the engine says of one hookup in one state of the
// mains. Low and High beside a value are its 95 % interval from the facts,
// and for meters from the meter too.
type Prediction struct {
	Mains    MainsLevel     `json:"mains"`
	Joints   []JointVolts   `json:"joints"`
	Windings []WindingState `json:"windings"`
	Units    []UnitState    `json:"units"`
	Feed     FeedStates     `json:"feed"`
	Outputs  []OutputState  `json:"outputs"`
	Meters   []MeterState   `json:"meters"`
	Notes    []Note         `json:"notes"`
	Solver   SolverReport   `json:"solver"`
}

// JointVolts is a joint's voltage against neutral.
type JointVolts struct {
	Name    string  `json:"name"`
	Volts   float64 `json:"volts"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	Degrees float64 `json:"degrees"`
}

// WindingState is what one winding stands and carries.
type WindingState struct {
	Unit      string   `json:"unit"`
	ID        string   `json:"id"`
	Volts     float64  `json:"volts"` // across its pins
	Amps      float64  `json:"amps"`
	Low       float64  `json:"low"`                 // of Amps
	High      float64  `json:"high"`                // of Amps
	LimitAmps *float64 `json:"limit_amps,omitzero"` // nil when nothing is known of it
	Watts     float64  `json:"watts"`               // heat in its copper
}

// UnitState is the iron's state and the unit's heat.
type UnitState struct {
	Tag   string  `json:"tag"`
	Flux  float64 `json:"flux"`  // 1 at the label's volts and hertz, no load
	Low   float64 `json:"low"`   // of Flux
	High  float64 `json:"high"`  // of Flux
	Watts float64 `json:"watts"` // heat in copper and iron
}

// FeedState is what one plug draws.
type FeedState struct {
	Volts float64 `json:"volts"` // behind lamp, fuse and source resistance
	Amps  float64 `json:"amps"`
	Low   float64 `json:"low"`  // of Amps
	High  float64 `json:"high"` // of Amps
	Watts float64 `json:"watts"`
	VA    float64 `json:"va"`
}

// FeedStates is one plug's state, or a list where the hookup has several.
type FeedStates []FeedState

// UnmarshalJSONFrom reads one object or a list of them.
func (f *FeedStates) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '[' {
		var x FeedState
		if err := json.UnmarshalDecode(dec, &x); err != nil {
			return err
		}
		*f = FeedStates{x}
		return nil
	}
	return json.UnmarshalDecode(dec, (*[]FeedState)(f))
}

// MarshalJSONTo writes a single state as an object.
func (f FeedStates) MarshalJSONTo(enc *jsontext.Encoder) error {
	if len(f) == 1 {
		return json.MarshalEncode(enc, f[0])
	}
	return json.MarshalEncode(enc, []FeedState(f))
}

// OutputState is what a load gets.
type OutputState struct {
	Name  string  `json:"name"`
	Volts float64 `json:"volts"`
	Low   float64 `json:"low"`  // of Volts
	High  float64 `json:"high"` // of Volts
	Amps  float64 `json:"amps"`
}

// MeterState is what a voltmeter shows.
type MeterState struct {
	Name  string  `json:"name"`
	Volts float64 `json:"volts"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// SolverReport says how the answer was found.
type SolverReport struct {
	Status     string  `json:"status"` // "converged", or what stopped it
	Iterations int     `json:"iterations"`
	Residual   float64 `json:"residual"`  // largest scaled equation error [1]
	Condition  float64 `json:"condition"` // estimate, 1-norm, of the scaled system [1]
}

// A NoteCode is the stable name of a remark.
type NoteCode string

const (
	NotIsolated        NoteCode = "not-isolated"
	OverFlux           NoteCode = "over-flux"
	CoreJoined         NoteCode = "core-joined"
	HazardousVoltage   NoteCode = "hazardous-voltage"
	OverCurrent        NoteCode = "over-current"
	Mismatch           NoteCode = "mismatch"
	Circulating        NoteCode = "circulating"
	InsulationUnknown  NoteCode = "insulation-unknown"
	InsulationExceeded NoteCode = "insulation-exceeded"
	BackFed            NoteCode = "back-fed"
	HalfPrimary        NoteCode = "half-primary"
	SeparateLoads      NoteCode = "separate-loads"
	FuseNeverOpens     NoteCode = "fuse-never-opens"
	StepUp             NoteCode = "step-up"
	EstimatedFacts     NoteCode = "estimated"
	MainsUnknown       NoteCode = "mains-unknown"
	NotProven          NoteCode = "not-proven"
	EarthMissing       NoteCode = "earth-missing"
	LampTooBig         NoteCode = "lamp-too-big"
	LampNotFilament    NoteCode = "lamp-not-filament"
	CapacitorVolts     NoteCode = "capacitor-volts"
	DCOverRating       NoteCode = "dc-over-rating"
	SupplyPhases       NoteCode = "supply-phases"
	Quarantine         NoteCode = "quarantine"
)

// A Level says what a note or a verdict asks of the person.
type Level string

const (
	Info    Level = "info"
	Caution Level = "caution"
	Stop    Level = "stop"
	Go      Level = "go"
)

// Note is one remark on a hookup.
type Note struct {
	Code  NoteCode `json:"code"`
	Level Level    `json:"level"`           // stop, caution or info
	Words string   `json:"words"`           // with the numbers put in
	About string   `json:"about,omitempty"` // unit, winding, joint or output
}

// Worst returns the most severe level among the notes: Stop, Caution, else Info.
func Worst(notes []Note) Level {
	w := Info
	for _, n := range notes {
		if n.Level == Stop {
			return Stop
		}
		if n.Level == Caution {
			w = Caution
		}
	}
	return w
}
