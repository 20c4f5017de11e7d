// Package thermal says how hot a hookup gets: a small network of heat beside
// the network of volts, both solved together, because hot copper makes more
// heat. It finds the temperatures at which they rest or that there are none, how
// long a fault takes to a limit, and what part of the time a load may be on.
// What currents flow is asked of packages network and waveform; what insulation
// stands, of package heat.
//
// # Model
//
// Each winding is a lump of copper that gives its heat to its core; the core
// adds its own and gives all to the air. Core loss goes with the square of
// the induced volts.
//
// # Symbols
//
//	T_w, T_c, T_a  temperature of a winding, of its core, of the air  [°C]
//	P_w, P_c       heat of a winding, of the iron                     [W]
//	G_w, G_c       winding to core, core to air                       [W/K]
//	C_w, C_c       heat to warm a winding, a core                     [J/K]
//	I, I_r         current of a winding, its rating                   [A]
//	R₂₀, K         resistance at 20 °C, 234.5                         [Ω, °C]
//	ΔT_r, s        rated mean rise of a winding, the core's share of it [K, 1]
//	b              how much worse the box carries heat away           [1]
//	d, t_on        part of the time that the load is on, a stretch    [1, s]
//
// # Equations
//
//	(T1) C_w dT_w/dt = I² R₂₀ (K + T_w)/(K + 20) − G_w (T_w − T_c)
//	(T2) C_c dT_c/dt = P_c + Σ G_w (T_w − T_c) − G_c (T_c − T_a)
//	(T3) G_w = P_w,r/((1 − s) ΔT_r),  G_c = (P_c,r + Σ P_w,r)/(s ΔT_r b)
//	(T4) C_w = P_w,r c/(ρ J²) at the rated heat; C_c = m_iron c_iron
//	(T5) rest: the derivatives of (T1), (T2) zero, with I and P_c of the
//	     network at those temperatures
//	(T6) a load that comes and goes quickly against the core heats as d I²
//	(T7) at the end of a stretch (T_w − T_c)/mean = (1 − e^(−t_on/τ))/(d (1 − e^(−t_on/(d τ)))),
//	     τ = C_w/G_w
//
// # Assumptions
//
// A unit that carries its ratings in air of 40 °C rests at the temperature
// that its class allows in normal use (class A where none is known); the core's
// rise is 0.65 of the windings' (common practice, no source), windings do not
// warm one another but through the core. Rated heat of a winding without a rating of its
// own is that of its share of the unit's VA. Iron is 0.67 of the unit's mass,
// and 450 J/(kg K); a mass that is not known follows from the VA by (C2) of package core.
// A heat run settles all of it: see [Options.Rise].
//
// # Range of validity
//
// Copper up to 400 °C: where no rest is found below that there is none. Times
// of less than some seconds are adiabatic and well told; hours depend on the
// box, which is known by its factor alone.
//
// # Method and its error
//
// The rest is found by solving the linear (T1), (T2) for the losses at hand,
// the copper's own growth taken in exactly, and the network again, until no
// temperature moves by 0.01 K. In time, implicit steps that move no temperature by
// more than 4 K, so a time to a limit is within 2 %.
//
// # References
//
//   - Copper and classes: package heat.
//   - W. M. Flanagan, Handbook of Transformer Design and Applications, 2nd
//     ed., ch. 8, for the form of the model (from memory).
package thermal
