// Package waveform follows a hookup in time: the network of package network
// with its currents and fluxes as they run, saturating cores, diodes,
// reservoirs, electronic loads and filament lamps. It finds the periodic
// state of a supply, the inrush of a switch-on, and where a wrong joint leads.
// It decides nothing: what a waveform means is said elsewhere.
//
// # Model
//
// Windings, cores and feeds are those of package network, with the flux of
// each core and the current of each leakage inductance as states. The
// magnetising current is an odd power law of flux whose describing function is
// the steady network's. A diode is an exponential with a series resistance and
// a leak, an electronic load a current that fades out when its volts do, and a
// filament a resistance that its own heat drives.
//
// # Symbols
//
//	v, I    volts of a node against neutral [V], current of a part [A]
//	E       induced volts of a core over a winding's a [1]; rms 1 at the
//	        excitation reading
//	φ       flux of a core [1]: its peak is 1 there
//	a, R, L induced volts at φ of peak 1 [V], resistance [Ω], leakage [H]
//	G, Q    core loss [W] and magnetising power [var] there
//	κ, n    saturation as in package network [1]; β its describing function [1]
//	ω₀      angular frequency of the excitation reading [rad/s]
//	Is, nVt, Rs, Gd  a diode's law [A, V, Ω, S]
//	r       a filament's resistance over its hot one [1], ρ_c when cold
//	x, X    states, and at a stage of a step
//	z, f    what a curved part (a port) sees, and its current there
//	h, γ    step [s], diagonal coefficient of the method [1]
//
// # Equations
//
//	(V1)  v_p − v_q = R I + L dI/dt + a E                      each winding
//	(V2)  Σ a I = G E + √2 Q (φ + s |φ|ⁿ⁻¹ φ)/(1 + κ),  s = κ/β
//	(V3)  dφ/dt = ω₀ E/√2                                      each core
//	(V4)  v + Z I + r R_h I = √2 V sin(ωt + α)                 each feed
//	(V5)  Σ currents leaving a node = 0
//	(V6)  i = Is (e^{(v − Rs i)/nVt} − 1) + Gd v, solved for i by the Wright
//	      omega function: i = (nVt/Rs) w − Is + Gd v, w + ln w = (v + Rs Is)/nVt + ln(Rs Is/nVt)
//	(V7)  dr/dt = (1 − ρ_c)/t_w (r (I/I_N)² − p(r)),  p = ((r − ρ_c)/(1 − ρ_c))^{2/γ_l}/r,
//	      with γ_l of package protect, so that r rests on the lamp law there
//	(V8)  i = A tanh(v/v_k), or for a regulator A min(v − v_d, V)/V
//	      with its corners rounded over v_k
//	(V9)  ripple, valley, mean, rms and form factor of a curve by its definition
//	(V10) [M/(hγ) + G] Y = M ξ/(hγ) + B u − P f(Q Y), solved once for each h:
//	      X = X_h [ξ u f], z = Z_h [ξ u f], Y = Y_h [ξ u f]
//	(V11) z − Z_h [ξ u f(z)] = 0
//	(V12) energy: ½ L I², ½ C v², and (2Q/ω₀)(φ²/2 + s φⁿ⁺¹/(n + 1))/(1 + κ)
//	(V13) x₀ ← x₀ + (1 − M)⁻¹ (x(T) − x₀),  M = dx(T)/dx₀ of the method itself
//	(V14) between a step's ends a state is Hermite's cubic
//
// # Assumptions
//
// Sources are sines. Stray capacitances are left out, so ghost readings are
// asked of the steady network; a part that hangs free counts its volts from
// one of its own nodes. No hysteresis: remanence is a flux at the start.
// Capacitors have no resistance of their own. A constant rms current on AC has
// no waveform of its own and is followed as the impedance that draws it. The
// time t_w to warm a filament and the diodes' laws are common practice.
//
// # Range of validity
//
// Flux to about 2: there the power law asks for more current than iron in air
// would. Diodes have no recovery and no capacitance: what happens within a
// microsecond of their turning off is not told.
//
// # Method and its error
//
// The linear part is reduced to states and ports for every step length, which
// halve and double, so a stage costs one Newton solve of the ports. The
// integrator is the L-stable ESDIRK pair of order 4(3) of Kennedy and
// Carpenter. A step is refused when its embedded error exceeds the tolerance in a
// state over its swing, in a diode's current over its peak, or when its energy
// error exceeds a thousandth of the tolerance of the energy through the
// fields. The periodic state is found by Newton's method on the map of a
// period with the exact derivative of the steps taken. At the default
// tolerance of 2·10⁻⁶ waveforms agree with SciPy's at 10⁻¹⁰ to
// 10⁻⁴ of their peak and rms values to 10⁻⁵. Energy balances to 10⁻⁶ at any
// tolerance. See TestReference and TestBalance.
//
// # References
//
//   - C. A. Kennedy, M. H. Carpenter, Additive Runge-Kutta schemes for
//     convection-diffusion-reaction equations, Appl. Numer. Math. 44 (2003)
//     139-181: the integrator.
//   - T. J. Aprille, T. N. Trick, Steady-state analysis of nonlinear circuits
//     with periodic inputs, Proc. IEEE 60 (1972) 108-114: Newton's method on
//     the map of a period.
//   - E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd
//     ed., ch. IV.6, VI.1: implicit methods on equations with algebraic parts.
//   - F. N. Fritsch, R. E. Shafer, W. P. Crowley, Algorithm 443, CACM 16
//     (1973) 123-124: w + ln w = x.
package waveform
