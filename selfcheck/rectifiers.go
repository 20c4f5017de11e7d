package selfcheck

import (
	"fmt"
	"math"

	"yokemate/phys/waveform"
)

// solved is a rectifier followed in time: see [waveform.Rectifier]. Rows that
// ask for the same one share the answer.
type solved map[[2]float64]map[string]waveform.Figures

func (s solved) at(kind string, q, wcr float64) waveform.Figures {
	key := [2]float64{q, wcr}
	if s[key] == nil {
		s[key] = map[string]waveform.Figures{}
	}
	f, ok := s[key][kind]
	if !ok {
		var err error
		if f, err = waveform.Rectifier(kind, q, wcr); err != nil {
			nan := math.NaN()
			f = waveform.Figures{Volts: nan, Ripple: nan, RMS: nan, Peak: nan}
		}
		s[key][kind] = f
	}
	return f
}

// stiff and bare stand for a source without resistance and a rectifier without
// a capacitor: next to nothing beside the printed digits.
const (
	stiff = 1e-5
	bare  = 1e-3
)

// rectifiers is what stands behind a rectifier and flows before it.
func rectifiers() []row {
	s := solved{}
	guide := "a maker's published rectifier guide"
	without := func(kind string) waveform.Figures { return s.at(kind, stiff, bare) }
	// Without a capacitor the current is the shape of the volts; a bridge's
	// winding carries both half waves, √2 of what a diode does.
	list := []row{
		{"8a half wave volts", "mean DC volts over the secondary's, no capacitor", guide, "", "0.45", 0, "", func() float64 { return math.Sqrt2 * without("half").Volts }},
		{"8a half wave amps", "DC amps over the secondary's, no capacitor", guide, "", "0.64", 0, "", func() float64 { return 1 / without("half").RMS }},
		{"8a half wave secondary", "amps of the secondary over DC amps, no capacitor", guide + ", another", "", "1.6", 0, "", func() float64 { return without("half").RMS }},
		{"8a centre tap volts", "mean DC volts over those of the whole secondary, no capacitor", guide, "", "0.45", 0, "", func() float64 { return without("bridge").Volts * math.Sqrt2 / 2 }},
		{"8a centre tap amps", "DC amps over those of each half, no capacitor", guide, "", "1.27", 0, "", func() float64 { return 2 / without("bridge").RMS }},
		{"8a centre tap secondary", "amps of each half over DC amps, no capacitor", guide + ", another", "", "0.8", 0, "", func() float64 { return without("bridge").RMS / 2 }},
		{"8a bridge volts", "mean DC volts over the secondary's, no capacitor", guide, "", "0.90", 0, "", func() float64 { return math.Sqrt2 * without("bridge").Volts }},
		{"8a bridge amps", "DC amps over the secondary's, no capacitor", guide, "", "0.90", 0, "", func() float64 { return math.Sqrt2 / without("bridge").RMS }},
		{"8a bridge secondary", "amps of the secondary over DC amps, no capacitor", guide + ", another", "", "1.1", 0, "", func() float64 { return without("bridge").RMS / math.Sqrt2 }},
		// With a capacitor a factor belongs to a source resistance, which guides
		// do not state; each is checked at the one it belongs to.
		{"8a bridge 1.8", "amps of the secondary over DC amps, ωCR 100, source resistance 5 % of the load's", guide + ", another", "", "1.8", 0, "", func() float64 { return s.at("bridge", 0.05, 100).RMS / math.Sqrt2 }},
		{"8a bridge 0.62", "DC amps over the secondary's, ωCR 100, source resistance 10 % of the load's", guide, "", "0.62", 0, "", func() float64 { return math.Sqrt2 / s.at("bridge", 0.1, 100).RMS }},
		{"8a bridge 1.4", "amps of the secondary over DC amps, ωCR 100, source resistance 30 % of the load's", practise, "", "1.4", 0, "", func() float64 { return s.at("bridge", 0.3, 100).RMS / math.Sqrt2 }},
		{"8a half wave 2.6", "amps of the secondary over DC amps, ωCR 100, source resistance 2 % of the load's", guide + ", another", "", "2.6", 0, "", func() float64 { return s.at("half", 0.02, 100).RMS }},
		{"8a centre tap 1.2", "amps of each half over DC amps, ωCR 100, source resistance 7 % of the load's", guide + ", another", "", "1.2", 0, "", func() float64 { return s.at("bridge", 0.07, 100).RMS / 2 }},
	}

	// Textbook examples. 60 Hz and 50 Hz come in by ωCR alone.
	salivahanan := "Salivahanan, Electronic Devices and Circuits, ch. 18, by a public companion"
	boylestad := "Boylestad, Electronic Devices and Circuit Theory, chapter on power supplies" + memory + ": 30 V peak, 50 mA, 100 µF, 60 Hz full wave"
	line := "its straight line runs over the whole half period, the capacitor's over less"
	peak := 230 * math.Sqrt2 / 5 // of a 5:1 unit; half of it on each side of the tap
	light := func() waveform.Figures { return s.at("bridge", stiff, 2*math.Pi*60*100e-6*27.9/50e-3) }
	list = append(list,
		row{"8.1 ripple", "ripple factor of a bridge with the 1069.17 µF chosen for 90 Ω, 50 Hz", salivahanan + ", 18.19, p. 569", "", "0.03", 0, "", func() float64 { return s.at("bridge", stiff, 2*math.Pi*50*1069.17e-6*90).Ripple }},
		row{"8.3 volts", "mean DC volts", boylestad, "V", "27.9", 0.5, line, func() float64 { return 30 * light().Volts }},
		row{"8.3 ripple volts", "rms ripple", boylestad, "V", "1.2", 0.1, line, func() float64 { f := light(); return 30 * f.Volts * f.Ripple }},
		row{"8.3 ripple", "rms ripple over the mean", boylestad, "%", "4.3", 0.6, line, func() float64 { return 100 * light().Ripple }},
		row{"8.5 volts", "centre tap on 230 V, 5:1, no capacitor", salivahanan + ", 18.4, p. 550", "V", "20.71", 0, "", func() float64 { return peak / 2 * without("bridge").Volts }},
		row{"8.5 milliamps", "into 1 kΩ", salivahanan + ", 18.4, p. 550", "mA", "20.70", 0.005, "the source rounds the volts down", func() float64 { return peak / 2 * without("bridge").Volts }},
		row{"8.5 ripple", "rms ripple", salivahanan + ", 18.4, p. 550", "V", "10.03", 0.02, "the source takes it from a mean rounded to 20.7 V", func() float64 { f := without("bridge"); return peak / 2 * f.Volts * f.Ripple }},
		row{"8.7 volts", "half wave on 230 V, 5:1, no capacitor", salivahanan + ", 18.3, p. 549", "V", "20.69", 0.02, "the source rounds the peak to 65 V", func() float64 { return peak * without("half").Volts }},
	)
	// 100 Ω in the diode and 1000 Ω behind it.
	p18 := salivahanan + ", 18.1, p. 548: 325 V peak, 100 Ω in the diode, 1000 Ω"
	hundred := func() waveform.Figures { return s.at("half", 0.1, bare) }
	list = append(list,
		row{"8.8 peak", "peak current", p18, "mA", "295.45", 0.02, "a capacitor of next to nothing", func() float64 { f := hundred(); return 325 * f.Volts * f.Peak }},
		row{"8.8 mean", "mean current", p18, "mA", "94.04", 0, "", func() float64 { return 325 * hundred().Volts }},
		row{"8.8 rms", "rms current", p18, "mA", "147.72", 0.02, "a capacitor of next to nothing", func() float64 { f := hundred(); return 325 * f.Volts * f.RMS }},
		row{"8.8 efficiency", "DC power in the load over what the source gives", p18, "%", "36.85", 0.01, "a capacitor of next to nothing", func() float64 { f := hundred(); return 100 / (f.RMS * f.RMS * 1.1) }},
	)

	// A large capacitor: the closed form as tabled, and the rectifier followed
	// in time with ωCR 100, which is within 0.3 % of it from 1 % on.
	form := closed + " for a capacitor without end: tan θ − θ = (π/n) R_S/R_L"
	within := func(printed float64) float64 { return 0.003 * printed }
	finite := "0.3 %: ωCR is 100 and not without end"
	for _, t := range []struct {
		perCent                          float64
		halfV, halfRMS, halfPeak         string
		fullV, fullRMS, fullPeak, bridge string
		doublerV, doublerSecondary       string
	}{
		{0.1, "0.9780", "4.238", "22.46", "0.9861", "4.751", "28.23", "3.360", "0.9654", "5.350"},
		{0.5, "0.9376", "3.261", "13.30", "0.9601", "3.648", "16.64", "2.579", "0.9035", "4.130"},
		{1, "0.9035", "2.920", "10.68", "0.9376", "3.261", "13.30", "2.306", "0.8529", "3.710"},
		{2, "0.8529", "2.624", "8.623", "0.9035", "2.920", "10.68", "2.065", "0.7805", "3.349"},
		{3, "0.8135", "2.469", "7.642", "0.8763", "2.742", "9.414", "1.939", "0.7263", "3.163"},
		{5, "0.7518", "2.294", "6.603", "0.8322", "2.537", "8.065", "1.794", "0.6455", "2.956"},
		{10, "0.6455", "2.091", "5.493", "0.7518", "2.294", "6.603", "1.622", "0.5170", "2.724"},
		{20, "0.5170", "1.926", "4.672", "0.6455", "2.091", "5.493", "1.478", "0.3795", "2.545"},
		{30, "0.4364", "1.847", "4.305", "0.5724", "1.989", "4.981", "1.407", "0.3027", "2.464"},
	} {
		q := t.perCent / 100
		add := func(name, what, printed string, endless, followed func() float64) {
			id := fmt.Sprintf("8d %g %% %s", t.perCent, name)
			list = append(list, row{id, what, form, "", printed, 0, "", endless})
			// 22.46 means 0.3 % of 22.46.
			if followed != nil && q >= 0.01 {
				list = append(list, row{id + ", in time", what, form, "", printed, within(endless()), finite, followed})
			}
		}
		half, full, double := waveform.EndlessCapacitor(1, q), waveform.EndlessCapacitor(2, q), waveform.EndlessCapacitor(0.5, q)
		add("half wave volts", "mean DC volts over the peak", t.halfV, func() float64 { return half.Volts }, func() float64 { return s.at("half", q, 100).Volts })
		add("half wave rms", "rms over mean of the diode", t.halfRMS, func() float64 { return half.RMS }, func() float64 { return s.at("half", q, 100).RMS })
		add("half wave peak", "peak over mean of the diode", t.halfPeak, func() float64 { return half.Peak }, nil)
		add("full wave volts", "mean DC volts over the peak", t.fullV, func() float64 { return full.Volts }, func() float64 { return s.at("bridge", q, 100).Volts })
		add("full wave rms", "rms over mean of a diode", t.fullRMS, func() float64 { return full.RMS }, func() float64 { return s.at("bridge", q, 100).RMS })
		add("full wave peak", "peak over mean of a diode", t.fullPeak, func() float64 { return full.Peak }, nil)
		add("bridge secondary", "amps of the secondary over DC amps", t.bridge, func() float64 { return full.RMS / math.Sqrt2 }, func() float64 { return s.at("bridge", q, 100).RMS / math.Sqrt2 })
		add("doubler volts", "mean DC volts over twice the peak", t.doublerV, func() float64 { return double.Volts }, nil)
		add("doubler secondary", "amps of the secondary over DC amps", t.doublerSecondary, func() float64 { return math.Sqrt2 * double.RMS }, nil)
	}

	// A capacitor as it is, to 1 %.
	exact := "exact periodic solution for an ideal diode, piecewise in " + closed
	for _, t := range []struct {
		kind      string
		perCent   float64
		wcr       float64
		v, ripple string
		rms       string
	}{
		{"half", 1, 2, "0.477", "61.3", "1.96"}, {"half", 1, 10, "0.780", "15.5", "2.63"}, {"half", 1, 50, "0.895", "3.23", "2.90"},
		{"half", 10, 1, "0.347", "90.8", "1.74"}, {"half", 10, 5, "0.569", "27.7", "2.04"}, {"half", 10, 20, "0.639", "7.14", "2.09"},
		{"bridge", 1, 2, "0.730", "25.7", "2.18"}, {"bridge", 1, 10, "0.886", "7.14", "3.00"}, {"bridge", 1, 50, "0.935", "1.50", "3.25"},
		{"bridge", 5, 5, "0.783", "12.3", "2.42"}, {"bridge", 5, 20, "0.828", "3.22", "2.53"},
		{"bridge", 10, 1, "0.616", "36.2", "1.85"}, {"bridge", 10, 100, "0.752", "0.589", "2.29"},
	} {
		f := func() waveform.Figures { return s.at(t.kind, t.perCent/100, t.wcr) }
		id := fmt.Sprintf("8e %s %g %%, ωCR %g, ", map[string]string{"half": "half wave", "bridge": "full wave"}[t.kind], t.perCent, t.wcr)
		one := func(name, what, unit, printed string, compute func() float64) {
			list = append(list, row{id + name, what, exact, unit, printed, 0.01 * parse(printed), "1 %", compute})
		}
		one("volts", "mean DC volts over the peak", "", t.v, func() float64 { return f().Volts })
		one("ripple", "rms ripple over the mean", "%", t.ripple, func() float64 { return 100 * f().Ripple })
		one("rms", "rms over mean of a diode", "", t.rms, func() float64 { return f().RMS })
	}
	return list
}

// inrush is how far flux runs when a unit is switched on, in time, with next
// to no resistance before it.
func inrush() []row {
	// A core that takes 1 at its peak, on a sine at its rise through 0 with a
	// flux left in it: the greatest flux, in units of the steady peak.
	most := func(left float64) float64 {
		c := &waveform.Circuit{
			Hertz: 50, Nodes: 1, Feeds: []waveform.Feed{{Node: 0, Volts: 10}},
			Cores:    []waveform.Core{{Loss: 1e-6, Magnetising: 1e-6, Kappa: 0.1, Exponent: 9, Hertz: 50}},
			Windings: []waveform.Winding{{From: 0, To: waveform.Ground, Core: 0, Volts: 10, Ohms: 1e-6}},
		}
		s, err := waveform.Compile(c)
		if err != nil {
			return math.NaN()
		}
		x := s.Rest()
		x[0] = left
		w, _, _, err := s.Run(x, 0, 1, waveform.Options{Samples: 1024, Probes: []waveform.Probe{s.Flux(0)}})
		if err != nil {
			return math.NaN()
		}
		return w.Traces[0].Peak()
	}
	return []row{
		{"13.1 flux", "peak flux of the worst switch-on over the steady peak, nothing left in the core, followed in time", "textbook form, as on the electrical4u page on magnetising inrush", "", "2.00", 0, "", func() float64 { return most(0) }},
		{"13.1 flux by the rule", "the same by the rule that the program states", "textbook form, as on the electrical4u page on magnetising inrush", "", "2.00", 0, "", func() float64 { return waveform.PeakFlux(1, 0) }},
		{"13.7 flux left", "peak flux density with 1.2 T steady and 0.7 T left, followed in time", "2 Φm + Φr" + memory, "T", "3.10", 0, "", func() float64 { return 1.2 * most(0.7/1.2) }},
		{"13.7 flux left, by the rule", "the same by the rule that the program states", "2 Φm + Φr" + memory, "T", "3.10", 0, "", func() float64 { return waveform.PeakFlux(1.2, 0.7) }},
	}
}
