// Package prove turns a hookup into an ordered proof: what to do, where the
// probes go, what the meter shows if all is right and what for each slip,
// and what would follow if a joint were closed on it. From the readings it
// gives verdicts. It is where the program says go, and the package's first
// rule is that it says so only when nothing dangerous stays plausible.
//
// # Order
//
// Everything dead first: ohms of every winding, insulation. Then each unit
// alone: mains coils that are joined to each other are tried at 12 V; first
// power through a lamp; then full mains, its volts, every winding's volts, the
// idle amps that show shorted turns. Then the joints: those that close no
// loop are made dead, proved by ohms and powered through the lamp first; before
// one that closes a loop, the gap is read at full mains; once closed, first
// power is through the lamp again, then the idle amps. Then the outputs' volts, what each branch of a
// derated pair carries, the load, a rectifier where there is one, and the
// finished box's earth and isolation.
//
// # Nothing
//
// Across a gap between like ends a meter shows about nothing. So it does on a
// pulled plug, with a probe off its pin, and, loaded, on a lead that is off;
// unloaded, such a lead shows a ghost, anything up to the winding's own volts.
// Gaps are therefore read with 100 kΩ across the probes, under which a ghost
// collapses, and where nothing is right, right after the same meter has shown
// the volts of the winding at either end, through the joint already made. What
// is then left is that power or contact is lost between two readings that
// follow each other; the series lamp at first power stands behind it.
//
// # Rectified outputs
//
// Their AC side is proved first. Then: the parts' marks by eye, ohms from plus
// to minus with all dead, DC volts through the lamp, at full mains with nothing
// drawn, and under load, the ripple, and what is left when the bleeder has had
// its time. The volts follow those that the AC side was read at. The AC side's
// slips are not weighed again there.
//
// # Worlds
//
// The hypotheses are: all right; every slip on its own, with a prior, some in
// several guises; and an unknown cause with a likelihood spread over all
// readings. Each predicts each step by the network of package phys/network.
// Readings of one world are jointly normal, correlated through the facts and
// meter ranges they share (JCGM 102:2011); where a prediction is far from
// normal, such as a ghost voltage, its own density is used. Slips whose
// predictions agree at every step read so far form one class.
//
// # Go across a gap
//
// It needs all of: the summed probability of worlds in which closing would
// drive more than 15 % of the smaller rating below 1e-4; the same limit met
// by the worst bound of the measured gap over the lowest plausible impedance
// of the loop, which holds whatever the cause (Thévenin); and ohms through the
// joints made so far read good, since a ghost on an open joint can look like
// a right gap. A reading that fits nothing is never a go.
//
// Between two mains coils of one unit the gap at the low source also holds what
// the idle current drops in the coil that is fed, which may look like a
// difference of their volts or hide one. Where that is more than a little, the gap is read
// from either side and the current too, and bounds what would circulate.
//
// # Stops
//
// What the prediction forbids is never proved, though it reads as foreseen:
// over-fluxed cores, currents and insulation volts above their figures,
// primaries in series with loads apart, live blades, other supply phases. The
// first powered step that would show it is barred, and no reading and no reason
// lifts that. What circulates is left to the gap's own reading. A socket that
// reads other mains than the hookup's stops likewise. Other stops pass for a
// typed reason, but at a gap; what was overruled keeps its weight against all
// that is read later.
package prove
