// Package supply turns AC outputs into DC supplies. It predicts a hookup with
// rectified outputs from its waveforms, sizes what stands behind a winding for
// a need, and says how many DC amperes a unit gives, which depends on the unit.
// It chooses among hookups nowhere: that is package find's.
//
// # Symbols
//
//	I, V      DC of a rail: mean current, mean volts                [A, V]
//	V_v, V_r  lowest volts of the ripple; peak to peak              [V]
//	V_0       no-load peak of a reservoir at the highest mains      [V]
//	C, R_b    reservoir, bleeder                                    [F, Ω]
//	P         heat of a regulator                                   [W]
//	θ         thermal resistance                                    [K/W]
//
// # Equations
//
//	(S1) C: the smallest of E6 with V_r ≤ a tenth of V, and for a regulator
//	     with V_v ≥ V_out + headroom at the lowest mains, from hot copper
//	(S2) rating of C ≥ V_0/0.87
//	(S3) R_b = t/(C ln(V_0/25 V)), t = 60 s
//	(S4) P = (V − V_out) I at the highest mains, cold copper
//	(S5) θ_sink = (T_j − T_a)/P − θ_jc − θ_cs
//	(S6) amps the unit gives: I at which the rms current of the first winding
//	     reaches its rating, by the waveform, at the highest mains
//	(S7) rule of thumb: I = I_ac/1.8 for a bridge or a doubled bridge's rail,
//	     I_ac/1.2 for a centre tap, I_ac/2.6 half wave, I_ac/3.5 doubler
//	(S8) δq = ∂q/∂ln E δln E + ∂q/∂ln R δln R + ∂q/∂ln X δln X for a figure q of a rectified output
//	     and each source of error, E behind R + jX being what the rectifier sees
//
// # Assumptions
//
// Diodes are ordinary silicon of the rating that is bought. A reservoir has no
// resistance of its own and its marked value. The load draws constant amps.
// Intervals come from the facts by (S8): how E, R and X follow them is the
// steady network's, how a figure follows E, R and X is found by solving the
// waveform anew. A winding's current follows its share of the rectifiers' amps, and
// those. Where two windings feed by turns, both count for a half. The diodes'
// law is no fact and has no interval. Volts against neutral of what hangs free are the steady
// network's. Figures without a source are common practice: ten per cent of
// ripple, 87 per cent of a capacitor's volts, 25 V in 60 s, a diode of twice its
// reverse volts. The fuse between winding and rectifier is chosen for the waveform's rms current and the
// charging of the reservoirs, and told against a dead short before the reservoir at the lowest mains,
// which diodes weaken by a volt each; with cold copper, so that a hot unit's short is some smaller.
//
// # References
//
//   - Package phys/waveform, for every waveform.
//   - Packages predict and phys/protect, for what a short does to windings and fuses.
//   - Factors of (S7): makers' published rectifier guides.
package supply
