// Package find answers a need from a shelf: which hookups of which units give
// the wanted output, best first, and which tempting ones do not, and why. It
// models nothing of its own: every offer has been through package network at
// no load and at the need's amps, at low, nominal and high mains, with cold
// (20 °C) and hot (85 °C) copper, and through package predict for its notes.
// It makes no DC supplies.
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
package find
