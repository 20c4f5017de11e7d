package cli

import (
	"yokemate"
	"yokemate/internal/say"
	"yokemate/phys/network"
	"yokemate/prove"
	"yokemate/switching"
)

type faultCmd struct {
	Hookup  string  `required:"" placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Slip    string  `placeholder:"CODE" help:"The slip, as reversed:F2/A. Without it, the slips of the hookup are listed."`
	Step    string  `placeholder:"STEP" help:"The step of the proof whose gap is closed on it, or whole for the finished hookup. The first step that reads the slip at a gap if not given."`
	Mains   string  `default:"nominal" enum:"low,nominal,high" placeholder:"LEVEL" help:"The feed's volts: low, nominal or high."`
	Degrees float64 `placeholder:"DEGREES" help:"Where on the wave the power comes on: 0 is its rise through zero."`
	Seconds float64 `default:"3600" placeholder:"SECONDS" help:"How long it is followed at most."`
	Room    float64 `default:"25" placeholder:"CELSIUS" help:"The air around the units."`
	Cold    bool    `help:"Start with the windings as cold as the air, not warm from their rated load."`
}

// Run follows a slip in time.
func (c *faultCmd) Run(a *App) error {
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return err
	}
	all, err := switching.NewFaults(network.Compile(s.Only(h)), h)
	if err != nil {
		return inFile(c.Hookup, err)
	}
	var w say.Words
	if c.Slip == "" {
		slips := all.Slips()
		if a.AsJSON {
			return a.JSON(struct {
				Slips []string `json:"slips"`
			}{slips})
		}
		t := &Table{Heads: []string{"slip", "what it is"}}
		for _, code := range slips {
			t.Row(code, w.Slip(code))
		}
		a.Table(t)
		return nil
	}
	r, err := all.Follow(c.Slip, switching.FaultOptions{Mains: yokemate.MainsLevel(c.Mains), Step: c.Step, Seconds: c.Seconds, RoomC: &c.Room, Cold: c.Cold, Degrees: c.Degrees})
	if err != nil {
		return inFile(c.Hookup, err)
	}
	if a.AsJSON {
		return a.JSON(r)
	}
	m := w.Event(r.Event)
	a.Para(m.Shape+" "+m.Word+"  ", w.FaultLead(r)+" "+r.Protects)
	a.Print("\n")
	a.Para("", say.Sentence(r.Words)+" "+w.FaultWhere(h, r))
	for _, t := range w.FaultTables(r) {
		a.results(t)
	}
	a.cautions(prove.Cautions())
	return nil
}
