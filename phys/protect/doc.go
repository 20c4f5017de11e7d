// Package protect says when a miniature fuse link opens and what a filament
// lamp in series does. It knows the gates of the standards, not the links of
// any maker, so every answer is an earliest and a latest time. It does not
// know the circuit: currents come from elsewhere, and whether a winding burns
// before the fuse opens is asked of package heat.
//
// # Model
//
// A fuse link is a set of gates: at a multiple of its rated current the
// pre-arcing time lies between a least and a most. A filament lamp is a
// resistance that depends on the rms volts across it.
//
// # Symbols
//
//	I     steady rms current through the link            [A]
//	I_N   rated current of the link                      [A]
//	r     I/I_N                                          [1]
//	t     pre-arcing time                                [s]
//	g     a gate: multiple r_g, least t_g, most T_g      [1, s, s]
//	V, W  rated volts and watts of a lamp                [V, W]
//	v     volts across the lamp over V                   [1]
//	R     resistance of the filament                     [Ω]
//	R_h   the same at rated volts, V²/W                  [Ω]
//	ρ_c   cold resistance over R_h, 1/16                 [1]
//	γ     exponent of the resistance law                 [1]
//
// # Equations
//
//	(F1)  t = min[t_a (r_a/r)², t_b]            fast end, between a gate b and the next one a
//	(F2)  ln T linear in ln r between gates     the slow end
//	(F3)  T = T_g (r_g/r)²                      above the last gate g, slow end
//	(F4)  t = t_g (r_g/r)²                      above the last gate with a least time
//	(F5)  t = ∞ for r ≤ 1; T = ∞ below the first gate with a most time
//	(F6)  I²t = (r_g I_N)² t_g, (r_g I_N)² T_g  at the last gates
//	(F7)  R/R_h = ρ_c + (1 − ρ_c) v^γ
//	(F8)  γ = 0.45/(1 − ρ_c)                    so that d ln R/d ln V = 0.45 at v = 1
//	(F9)  lamp watts = the largest made that is no more than the VA, 15 at least
//	(F10) too big: W/V > 0.8 I_rated/regulation
//
// # Assumptions
//
// The I²t of a link never rises with current, because at a lower current more
// of the heat is carried off while it warms. (F1) and (F3) follow from that and
// from nothing else; the printed least at the gate below caps (F1), as in one row (sheet
// 3, up to 100 mA) two printed least times do not quite agree with it. (F2) also assumes that the curve of a link, log time over log
// current, is convex, as all printed ones are: then its chord lies above it.
// A link whose breaking capacity is not stated may be of either sheet, so the
// earlier of the two least times and the later of the two most times are given.
// A rating between two rows of a sheet is treated in the same way.
// The lamp follows slow changes only: its filament is in balance with its power.
//
// # Range of validity
//
// Ambient near 20 °C, links in their holder, IEC 60127-2 sheets 1, 2, 3 and 5
// from 32 mA to 16 A, UL 248-14 to 60 A. A pre-arcing time is not the clearing time: the
// arc adds up to the next current zero, half a period. Below about one period the
// rms current of a sine does not settle the time, which then depends on the point
// on the wave. The lamp law is for gas-filled and vacuum tungsten filaments
// between no volts and about 110 % of rated volts; at mains frequency the
// filament of a lamp of 15 W or more follows rms, not the wave.
//
// # Method and its error
//
// Table look-up and closed forms. Where a sheet prints no least time (fast links at
// ten times their rating, fast UL links) (F4) takes the last least time that
// is printed. That is an estimate, not a gate: for a body of one node that melts at 2.1 I_N at last,
// the I²t at 4 I_N is 17 % above the adiabatic one, at 10 I_N 2 %. Where no least time is printed at all,
// the answer is 0. The lamp current is solved by Newton's method on a concave
// increasing function, which cannot diverge, to 1e-13.
// The lamp law is held to the printed exponents only near rated volts; at a tenth of
// them it is an interpolation towards ρ_c and may be wrong by a fifth.
//
// # References
//
// IEC 60127-2, standard sheets 1, 2, 3, 5, as printed in makers' time-current
// data for the sheet (sheet 1 from memory). UL 248-14, as printed in makers' data.
// NEC (NFPA 70) table 450.3(B), as printed in a published equipment-protection
// guide; its 300 % line from secondary copies. Lamp exponents: Standard Handbook for
// Electrical Engineers, 11th ed., p. 22-8, as cited by the encyclopedia article on lamp rerating;
// Arecchi, Messadi, Koshel, Field Guide to Illumination, SPIE 2007. Cold to hot
// ratio of tungsten: from memory. Lamp sizes for first power: common practice, no source.
package protect
