package supply

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/waveform"
)

// Work is a supply on its way to be worked out, which may be asked for more.
type Work struct {
	*yokemate.Supply
	d *designer
}

// Rough solves the supply with a reservoir at a level of the mains and a
// copper temperature, to a part in a thousand or so.
func (w *Work) Rough(farads float64, level yokemate.MainsLevel, celsius float64) (*State, error) {
	keep := w.d.dc.Farads
	w.d.dc.Farads = farads
	defer func() { w.d.dc.Farads = keep }()
	return w.state(level, celsius, rough)
}

// SourceDoubt is the standard uncertainty of the open volts that the rectifier
// sees, relative to them; 0 where it cannot be told.
func (w *Work) SourceDoubt() float64 {
	if w.d.doubt == nil {
		doubt := 0.0
		w.d.doubt = &doubt
		r := &run{h: w.d.h}
		idle, err := r.steady(w.d.f, yokemate.Nominal, nil)
		if err != nil {
			return 0
		}
		list := pairs(&w.d.h.Outputs[len(w.d.h.Outputs)-1])
		sum := make([]float64, len(idle.spread.Sources))
		for _, p := range list {
			at, _ := idle.net.Volts(p[0], p[1])
			e := idle.sol.Value(at)
			for k, m := range idle.spread.Moves(at) {
				if !idle.spread.Capacitive(k) {
					sum[k] += real(cmplx.Conj(e)*m) / real(e*cmplx.Conj(e)) / float64(len(list))
				}
			}
		}
		for _, v := range sum {
			doubt += v * v
		}
		doubt = math.Sqrt(doubt)
	}
	return *w.d.doubt
}

// State is a supply solved at one level of the mains, copper temperature and
// current.
type State struct {
	Rails []yokemate.RailState // without intervals
	Loads []Load               // of every winding with a known rating
	Watts float64              // from the feeds
}

// Load is how much of its rating a winding carries.
type Load struct {
	Name  string  // as T1/A
	Amps  float64 // true rms [A]
	Limit float64 // [A]
}

// At solves the supply once more, its rails drawing amps each: at the need's
// own as it is told of, else and at high mains to a part in a thousand.
func (w *Work) At(level yokemate.MainsLevel, celsius, amps float64) (*State, error) {
	if amps == w.d.dc.Amps && level != yokemate.High {
		return w.state(level, celsius, w.d.telling())
	}
	keep := w.d.dc.Amps
	w.d.dc.Amps = amps
	defer func() { w.d.dc.Amps = keep }()
	return w.state(level, celsius, rough)
}

func (w *Work) state(level yokemate.MainsLevel, celsius float64, opt waveform.Options) (*State, error) {
	r, rails, err := w.d.at(level, celsius, opt)
	if err != nil {
		return nil, err
	}
	s := &State{Rails: rails, Watts: r.report.Delivered * r.x.Circuit.Hertz}
	for i, p := range r.x.Parts.Windings {
		u := r.x.AC.UnitFacts(p.Core)
		if l := u.Limits[p.Winding].Amps; l > 0 && !p.Shorted {
			s.Loads = append(s.Loads, Load{u.Tag + "/" + u.Windings[p.Winding].ID, r.trace(r.windings + i).RMS, l})
		}
	}
	return s, nil
}

// Notes are those that a rectifier adds at a level of the mains and a copper
// temperature: windings above their ratings, a core that is magnetised.
func (w *Work) Notes(level yokemate.MainsLevel, celsius float64) ([]yokemate.Note, error) {
	opt := w.d.telling()
	if level == yokemate.High {
		opt = rough
	}
	r, _, err := w.d.at(level, celsius, opt)
	if err != nil {
		return nil, err
	}
	return r.notes(), nil
}

// Spread is how far the facts leave a supply's figures, at nominal mains from
// cold copper.
type Spread struct {
	Rails []yokemate.RailState // with intervals
	Reach map[string]float64   // the upper end of each winding's amps over their value
}

// Spread finds it.
func (w *Work) Spread() (*Spread, error) {
	r, _, err := w.d.at(yokemate.Nominal, coldC, w.d.telling())
	if err != nil {
		return nil, err
	}
	sp, err := r.spreadOf(w.d.f, yokemate.Nominal)
	if err != nil {
		return nil, err
	}
	s := &Spread{Reach: map[string]float64{}}
	out := len(w.d.h.Outputs) - 1
	for k, l := range r.x.Rails {
		if l.Output == out {
			s.Rails = append(s.Rails, sp.rail(k, out))
		}
	}
	for i, p := range r.x.Parts.Windings {
		u := r.x.AC.UnitFacts(p.Core)
		amps := r.trace(r.windings + i).RMS
		if p.Shorted || !(amps > 0) {
			continue
		}
		_, high := sp.current(sp.loaded.net.WindingAmps(p.Core, p.Winding), sp.idle.net.WindingAmps(p.Core, p.Winding), amps).interval(amps)
		s.Reach[u.Tag+"/"+u.Windings[p.Winding].ID] = high / amps
	}
	return s, nil
}
