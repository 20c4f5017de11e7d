package yokemate

// SwitchOn is a hookup followed from the moment that its plugs get their volts.
type SwitchOn struct {
	Mains     MainsLevel `json:"mains"`
	Degrees   float64    `json:"degrees"`   // point on the wave, from the first plug's rise through 0 [°]
	Remanence float64    `json:"remanence"` // flux left in every core over its rated peak; positive where the half wave that follows 0° adds to it [1]
	// Worst is what a search over points on the wave and both signs of the
	// remanence found; nil where the point was asked for.
	Worst   *WorstInrush `json:"worst,omitzero"`
	Feed    []FeedInrush `json:"feed"`
	Fuses   []FuseInrush `json:"fuses"`
	Cores   []CoreInrush `json:"cores"`
	Curves  Curves       `json:"curves"`  // of the first periods: current of each feed, flux of each core
	Balance float64      `json:"balance"` // of the energy, over what went to and fro [1]
}

// WorstInrush is the worst of many switch-ons: by the greatest current, and by
// the greatest ∫ i² dt, which is the one that is told.
type WorstInrush struct {
	Amps          float64 `json:"amps"`           // greatest current of any feed [A]
	AmpsDegrees   float64 `json:"amps_degrees"`   // where on the wave [°]
	Square        float64 `json:"square"`         // greatest ∫ i² dt of any feed over five periods [A²s]
	SquareDegrees float64 `json:"square_degrees"` // where on the wave [°]
}

// FeedInrush is what a plug draws when it is switched on.
type FeedInrush struct {
	Feed        string   `json:"feed"`             // its joints, as L–N
	Peaks       []Peak   `json:"peaks"`            // the greatest current of each of the first periods
	Amps        float64  `json:"amps"`             // the greatest of all, without its sign [A]
	SteadyPeak  float64  `json:"steady_peak"`      // in the end [A]
	SteadyAmps  float64  `json:"steady_amps"`      // rms, in the end [A]
	Square10    float64  `json:"square_10ms"`      // ∫ i² dt over the first 10 ms [A²s]
	SquareDecay float64  `json:"square_decay"`     // until it has died away, or for as long as it was followed [A²s]
	DecayS      *float64 `json:"decay_s,omitzero"` // until no period's peak is more than a tenth above the steady one [s]; nil: longer than it was followed
}

// Peak is the greatest current of a period.
type Peak struct {
	Period int     `json:"period"` // from 1
	Amps   float64 `json:"amps"`   // with its sign [A]
}

// FuseInrush is what a fuse makes of a switch-on.
type FuseInrush struct {
	Fuse        string   `json:"fuse"` // feed, feed 2, or the joints it lies between, as A–B
	Amps        float64  `json:"amps"` // rating [A]
	Kind        string   `json:"kind"`
	Square10    float64  `json:"square_10ms"`        // through it [A²s]
	SquareDecay float64  `json:"square_decay"`       // [A²s]
	SteadyAmps  float64  `json:"steady_amps"`        // rms, in the end [A]
	MeltLeast   float64  `json:"melt_least"`         // the least ∫ i² dt that opens a link of this kind, on a short pulse [A²s]
	MeltMost    *float64 `json:"melt_most,omitzero"` // what surely opens it [A²s]; nil: not known
	Carries     string   `json:"carries"`            // yes, no or unsure, by both ends of its gates
	Why         string   `json:"why"`
}

// CoreInrush is what a switch-on asks of a core.
type CoreInrush struct {
	Unit   string  `json:"unit"`
	Left   float64 `json:"left"`   // flux at the start, over its rated peak, in the direction of its windings [1]
	Flux   float64 `json:"flux"`   // greatest of all, over the rated peak [1]
	Steady float64 `json:"steady"` // greatest in the end [1]
}

// Curves are values at equal steps of time.
type Curves struct {
	StepS  float64 `json:"step_s"` // between two values [s]
	Curves []Curve `json:"curves"`
}

// Curve is one of them.
type Curve struct {
	Of     string    `json:"of"`   // as amps feed, volts lights, flux F1
	Unit   string    `json:"unit"` // A or V; empty for flux over its rated peak
	Values []float64 `json:"values"`
}

// Waves are the steady waveforms of a hookup, over one period.
type Waves struct {
	Mains  MainsLevel `json:"mains"`
	Hertz  float64    `json:"hertz"`
	StepS  float64    `json:"step_s"` // between two values [s]
	Waves  []Wave     `json:"waves"`
	Cores  []CoreWave `json:"cores"`
	Notes  []Note     `json:"notes"`
	Solver WaveReport `json:"solver"`
}

// WaveReport says how a periodic state was found.
type WaveReport struct {
	Status     string  `json:"status"`     // steady, or what stopped it
	Iterations int     `json:"iterations"` // of Newton's method, in all
	Closure    float64 `json:"closure"`    // how far the period's end is from its start, over the states' swings [1]
	Balance    float64 `json:"balance"`    // of the energy, over what went to and fro [1]
}

// Wave is one curve over a period, and what meters make of it.
type Wave struct {
	Of         string     `json:"of"`   // as amps feed, volts lights, flux F1
	Unit       string     `json:"unit"` // A or V; empty for flux over its rated peak
	Values     []float64  `json:"values"`
	Mean       float64    `json:"mean"`
	RMS        float64    `json:"rms"`       // of the whole, mean and all
	Rectified  float64    `json:"rectified"` // mean of the absolute value
	Max        float64    `json:"max"`
	Min        float64    `json:"min"`
	Form       float64    `json:"form"`       // rms over rectified mean; 0 where nothing is [1]
	Crest      float64    `json:"crest"`      // greatest absolute value over rms; 0 where nothing is [1]
	TrueRMS    float64    `json:"true_rms"`   // what a true-rms meter shows on AC, which does not see the mean
	Averaging  float64    `json:"averaging"`  // what a meter shows on AC that averages and is marked for sines
	Harmonics  []Harmonic `json:"harmonics"`  // the first few, from the mains frequency on
	Distortion float64    `json:"distortion"` // rms of all that is neither mean nor fundamental, over the fundamental; 0 without one [1]
}

// Harmonic is one sine in a wave.
type Harmonic struct {
	Order   int     `json:"order"`
	RMS     float64 `json:"rms"`
	Degrees float64 `json:"degrees"` // ahead of the first plug's rise through 0, in its own degrees [°]
}

// CoreWave is how a core is magnetised in the steady state.
type CoreWave struct {
	Unit     string  `json:"unit"`
	Offset   float64 `json:"offset"`   // mean flux over the rated peak: what direct current does to it [1]
	Flux     float64 `json:"flux"`     // greatest, over the rated peak [1]
	Winding  string  `json:"winding"`  // that the amps are seen from, as F1/P
	Exciting float64 `json:"exciting"` // rms of the exciting current [A]
	Peak     float64 `json:"peak"`     // its greatest value, without its sign [A]
	Mean     float64 `json:"mean"`     // its mean: the direct ampere-turns over that winding's turns [A]
	Without  float64 `json:"without"`  // its greatest value if no direct current flowed: of the unit alone at the same volts [A]
}

// FaultEvent is what a fault comes to first.
type FaultEvent string

const (
	FuseEvent    FaultEvent = "fuse"    // a fuse has opened, by the slow end of its gates
	WindingEvent FaultEvent = "winding" // a winding has passed the temperature that its class stands in a fault
	NoEvent      FaultEvent = "nothing" // neither, for as long as it was followed
)

// Fault is a hookup that was wired with a slip, powered and followed in time.
type Fault struct {
	Mains     MainsLevel     `json:"mains"`
	Slip      string         `json:"slip"` // as reversed:T2/A
	Words     string         `json:"words"`
	Step      string         `json:"step,omitempty"`   // of the proof, whose gap is closed on the slip; empty: the finished hookup
	Closed    string         `json:"closed,omitempty"` // the joint that is closed there
	Event     FaultEvent     `json:"event"`
	Seconds   float64        `json:"seconds"`             // until then; of nothing, how long it was followed [s]
	FuseOpens string         `json:"fuse_opens"`          // before any winding passes its limit: yes, no or unsure
	Fuse      string         `json:"fuse,omitempty"`      // that opens, or would first: feed, or joints as A–B
	EarliestS *float64       `json:"earliest_s,omitzero"` // by the fast end of the gates [s]; nil: not while it was followed
	LatestS   *float64       `json:"latest_s,omitzero"`   // by the slow end [s]; nil: not while it was followed
	LimitS    *float64       `json:"limit_s,omitzero"`    // until the first winding passes its limit [s]; nil: not while it was followed
	Winding   string         `json:"winding,omitempty"`   // that passed its limit, else the one nearest to it
	FeedAmps  float64        `json:"feed_amps"`           // rms, of the plug that draws most, in the end [A]
	FeedPeak  float64        `json:"feed_peak"`           // greatest current of a plug in the first periods [A]
	Windings  []FaultWinding `json:"windings"`
	Protects  string         `json:"protects"` // who does
	Settled   bool           `json:"settled"`  // temperatures had come to rest
	Track     []FaultMoment  `json:"track"`
	Curves    Curves         `json:"curves"`  // of the first periods: current of each feed, of each winding
	Balance   float64        `json:"balance"` // of the energy, over what went to and fro [1]
}

// FaultWinding is what a fault does to a winding, or to shorted turns in one.
type FaultWinding struct {
	Winding  string  `json:"winding"`          // as T1/A
	Shorted  bool    `json:"shorted,omitzero"` // the shorted turns of it
	Amps     float64 `json:"amps"`             // rms, once the waves had settled [A]
	PeakAmps float64 `json:"peak_amps"`        // in the first periods [A]
	Celsius  float64 `json:"celsius"`          // at the end [°C]
	LimitC   float64 `json:"limit_c"`          // that its class stands in the first hour of a fault [°C]
}

// FaultMoment is how hot the windings are at one time, in their order.
type FaultMoment struct {
	Seconds float64   `json:"seconds"` // [s]
	Celsius []float64 `json:"celsius"` // [°C]
}
