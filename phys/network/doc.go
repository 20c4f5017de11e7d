// Package network turns a hookup over a shelf into one set of equations and
// solves it for steady AC. Every other question of the program is asked of
// this one model. It decides nothing and words nothing: packages predict,
// match, find and prove read its solutions.
//
// # Model
//
// Each winding is a resistance and a leakage inductance in series with an
// induced voltage; all windings of one unit share one core flux. The core
// draws a loss current in phase with the induced voltage and a magnetising
// current that follows the flux and saturates. Joints, free pins and cores
// are nodes. Small capacitances from the windings to each other and to the
// core, from the core to neutral, and the meters' input resistance tie every
// floating part down; they give the ghost readings a real meter shows.
//
// # Symbols
//
//	V_p       voltage of node p against neutral [V], complex, rms
//	I_w       current through winding w from its start to its end pin [A]
//	E_k       induced voltage of core k per reference turn [1]; |E_k| = 1
//	          at the excitation that the unit's volts were read at
//	a_w       induced voltage of winding w at |E_k| = 1 [V]
//	R_w, L_w  resistance at copper temperature [Ω], own leakage inductance [H]
//	G_k       core loss at |E_k| = 1 [W]
//	Q_k       reactive power of magnetisation at |E_k| = 1 [var]
//	x         flux relative to that excitation: |E_k| f₀/f [1]
//	κ, n      share and exponent of the saturating term [1]
//	I₀        idle current of the excitation reading as a phasor [A]
//
// # Equations
//
//	(N1)  V_p − V_q − (R_w + jωL_w) I_w − a_w E_k = 0        each winding
//	(N2)  Σ a_w I_w = G_k E_k − j Q_k g(x) E_k/|E_k|          each core
//	(N3)  g(x) = (x + κ xⁿ)/(1 + κ)
//	(N4)  Σ currents leaving a node = 0                       each node
//	(N5)  V_live + Z_f I_f + v(|I_f|) I_f/|I_f| = V_s ∠ φ     each plug in its socket
//	(N6)  V_from − V_to = (R + jωL) I, or I = A ∠−ϑ V/|V|     each load
//	(N7)  a_excited = |V − (R + jX) I₀|, shared by the windings' volts;
//	      a_other = its no-load volts
//	(N8)  G = watts − |I₀|² R,   Q² = (a_excited |I₀|)² − G²
//	(N9)  R(T) = R₂₀ (234.5 + T)/254.5
//	(N10) flux = (|E|/f) / (E_r/f_r), E_r that of the label's volts, no load
//
// In N5 v is the filament's voltage at the current, see package protect. In
// N8 the true-rms idle current stands for an equivalent sine, so that the
// excitation reading itself is returned to the last digit.
//
// # Assumptions
//
// Sinusoidal steady state, one frequency; κ is the describing function's
// share, so g is the fundamental of the saturating current under a
// sinusoidal flux. Each winding's capacitance is split over both its ends.
// The neutral, the earth bond and the reference of every core's capacitance
// are one node. A fuse between joints drops 0.1 V at its rated current
// (common practice).
//
// # Range of validity
//
// The fundamental alone serves to a flux of about 1.15; above it, and below
// half of the excitation's flux where the curve was not read, a model error
// widens the intervals (see [Unit.modelU]). With one excitation reading κ is
// a prior, not a measurement; further readings narrow it.
//
// # Method and its error
//
// Newton's method on the real form with the exact derivative, by dense LU
// with partial pivoting (gonum) and one step of iterative refinement. Where it
// does not settle from a cold start, the volts are raised by steps, then the
// iron's loss lowered by steps; a last step that is not small is no answer.
// Against a second program in extended precision, voltages differ by some 1e-11
// of the largest; ghosts on a part that floats beside amperes by up to 1e-8. Every
// solution carries a report: iterations, scaled residual, condition estimate.
// Uncertainty is propagated by sensitivities from the last factorisation
// (JCGM 100:2008, 5.1): one back-substitution per source of error.
//
// # References
//
//   - A. E. Fitzgerald, C. Kingsley, S. D. Umans, Electric Machinery, 6th
//     ed., ch. 2: equivalent circuit, open- and short-circuit tests.
//   - A. Gelb, W. E. Vander Velde, Multiple-Input Describing Functions and
//     Nonlinear System Design, 1968, ch. 2: the fundamental of a power law.
//   - C.-W. Ho, A. Ruehli, P. Brennan, The modified nodal approach to network
//     analysis, IEEE Trans. CAS-22 (1975) 504-509: the form of the equations.
//   - JCGM 100:2008, Guide to the expression of uncertainty in measurement.
package network
