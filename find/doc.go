// Package find answers a need from a shelf: which hookups of which units give
// the wanted output, best first, and which tempting ones do not, and why. It
// models nothing of its own: every offer has been through package network at
// no load and at the need's amps, at low, nominal and high mains, with cold
// (20 °C) and hot (85 °C) copper, and through package predict for its notes.
// For a DC need package supply chooses the reservoir and tells the rest.
//
// # What is looked through
//
// Hookups of up to four units, or the need's max_units where that is fewer.
// A unit is fed on its whole mains side: coils in series, alike ones in
// parallel, a tapped coil between any two of its pins, on the mains it was
// made for or on lower ones. Its other windings, up to four pieces of wire of
// them, make an element: one section, a chain aiding or opposing, a bank, a
// chain of banks or a bank of chains. Elements of several units make a chain,
// aiding or opposing; a bank; a chain with banks in it; a bank with aiding
// chains in it. Each unit enters an arrangement in one place. Beside these:
//
//   - like units with their mains sides in series across the feed, their
//     windings tied in one bank or one chain; alike is to within 5 % in volts
//     and 30 % in the coil's ohms and idle current;
//   - two units back to back, down and up again;
//   - where isolation is not asked for, chains that add to the mains or take
//     from them;
//   - for two rails, both rails from one unit (two windings or the sides of a
//     tap), such units side by side, or each rail from units of its own.
//
// A chain of more than two parts in which two cancel to within a tenth is left
// out: it is better without them. Units with the very same facts stand for one
// another. Units in quarantine, with a winding on the core or one above 1000 V
// are in no offer. The feed's lamp is left out, for it is there for first
// power and not for use.
//
// # DC
//
// A DC need is met by a bridge with a reservoir; by two diodes where one unit,
// or like units side by side, have a middle; two rails by a bridge with a
// middle. Halves on either side of a middle are alike to within 5 %. The
// output is isolated in any case, and back to back is left out. The search
// looks for arrangements that can give the least a rectifier draws, 1.3 times
// the DC amps as a sine (0.65 times in each half before two diodes), within
// wide bounds of volts, and narrows them by the closed form of a reservoir
// without end (see rectified). Package supply then holds them to the need:
// mean volts within the tolerance at nominal mains, cold and hot; or,
// regulated, 3 V above the wanted volts in the valleys at low mains from hot
// copper, and at most twice volts and headroom together. Rms currents are
// held to their ratings at nominal and high mains, cold and hot. MaxAmps is
// the DC a rail at which the first winding reaches its rating, or a regulator
// lacks headroom or a heat sink. Volts of an offer are means at the reservoir;
// no load is a thousandth of the amps.
//
// The order is the one below: nothing that would be better is left out. A
// regulated need's fit is the headroom beyond 3 V as a share of its volts,
// plus its amps as a share of MaxAmps. Notes are those of package predict at
// nominal mains from cold copper, with the rectifier's rms currents as sines,
// beside what the waveform says of ratings and iron at every corner.
//
// # Load and limits
//
// The load draws the need's amps whatever the volts, at unity power factor:
// that is what "volts at amps" says. Volts are held within the tolerance at
// nominal mains, cold and hot; where the facts' intervals leave it, the offer
// carries the caution not-proven. Amps may be drawn up to MaxAmps, where the
// first winding reaches its rating with its current at the unfavourable end
// of its interval, or a core its limit of flux, at nominal or high mains,
// cold or hot.
//
// # Order
//
// Offers are sorted by, in this order:
//
//  1. whether any note asks for caution: those without come first;
//  2. the number of joints of two pins or more;
//  3. the number of units;
//  4. fit: the larger deviation from the wanted volts, cold or hot, as a share
//     of the tolerance, plus the need's amps as a share of MaxAmps;
//  5. the places of the units on the shelf.
//
// # Method
//
// The search keeps an agenda of candidates by a lower bound of that order and
// looks at the best one more closely each time: sums of sources and
// impedances, taken from the network's solution of each unit alone; then each
// unit's own cautions; then the network at every corner; then package predict.
// Whatever comes up as proven is the best there is left. Candidates come from
// generators, each with the least key it can give, that make the best few of
// their kind first and more when asked again. The bounds allow for the error
// of the sums (see errVolts and its neighbours); tests hold the error to that,
// and the offers to an enumerator that lays out every hookup of small shelves.
//
// For DC a candidate is looked at, in turn, by the closed form of a reservoir
// without end; as a reservoir behind sources without iron, followed through a
// pulse (see charge); in the network, as AC; in time, roughly; in time, with
// what the facts leave of it; as package supply works it out; and at every
// corner up to its limit. Each look costs more than the one before and leaves a
// lower bound of the key, the last one the key itself.
package find
