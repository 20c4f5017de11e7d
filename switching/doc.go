// Package switching says what a hookup does in time: what it draws when it is
// switched on at some point on the wave, and whether its fuses carry that; how
// its currents, volts and fluxes run once they are steady, and what meters make
// of them; and where a hookup goes that was wired with a slip, until a fuse
// opens, a winding is too hot, or nothing more happens.
//
// It models nothing of its own: every curve is package waveform's. It says no
// go to anything; a proof does that.
//
// # Whether a fuse carries a switch-on
//
// Of every stretch of time from the start on, the rms current is held to the
// link's gates. It carries the switch-on if the stretch is always over before
// the fast end of the gates, and does not if some stretch is longer than the
// slow end. Short stretches come to ∫ i² dt against that of the last gate. The
// steady current after it must be one that the link carries for ever.
//
// # What meters show
//
// On AC a meter does not see the mean. A true-rms meter then shows the rms of
// the rest; an averaging one its rectified mean times π/(2√2), which is right
// for a sine alone (common practice, no source).
//
// # Direct current in a core
//
// A rectifier that takes one half wave draws direct current through its
// winding. The mains side, a resistance on a source without direct volts,
// carries none in the long run, so the whole of the direct ampere-turns
// magnetises the core: mean exciting current, seen from a winding, is the
// direct current times the ratio of turns (Ampère's law).
package switching
