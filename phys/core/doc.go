// Package core says what the iron of a unit is good for from measures that can be taken
// from outside: its rating, its regulation, its exciting current and loss, and
// how it saturates. Every answer is a band with its basis and its formula with the
// numbers put in. It does not replace a heat run, which alone settles a rating, and it knows
// no unit in particular: a band is what units of the kind are usually like.
//
// # Model
//
// The rating follows from the iron's area or the unit's mass by a law of similar
// shapes, or from resistance: a unit's makers allow a copper drop that depends on its size.
// The magnetising current is an odd power law of flux.
//
// # Symbols
//
//	S      rating of the unit                                    [VA]
//	A      area of the iron inside the coil                      [m²]
//	m      mass of the whole unit                                [kg]
//	f, f₀  frequency, 50 Hz                                      [Hz]
//	ε      regulation, (V_nl − V_fl)/V_fl                        [1]
//	V, R   no-load volts and resistance at 20 °C of a winding    [V, Ω]
//	g      V²/R of a winding                                     [VA]
//	N, B   turns, peak flux density                              [1, T]
//	φ, x   flux over that at the label: instantaneous, peak      [1]
//	s, n   saturation: size and power of the curved part         [1]
//	i      magnetising current over the straight part at φ = 1   [1]
//	β, σ   fundamental of sinⁿθ; mean of sin²ⁿθ                  [1]
//
// # Equations
//
//	(C1)  S = c_A (10⁴ A)² f/f₀
//	(C2)  S = c_m m^{4/3} f/f₀
//	(C3)  ε = c_ε S^{−0.45}
//	(C4)  I₀/I_rated = c_I (S/5)^{−p}
//	(C5)  P_core = c_P S^{3/4}
//	(C6)  h S/G/(1 − h S/G) = c_ε S^{−0.45},  1/G = 1/Σg_primary + 1/Σg_secondary,  h = 1.2
//	(C7)  I_w = S g_w/(V_w Σg)
//	(C8)  turns per volt = n/V of a loop of n turns
//	(C9)  E = √2 π f N B A
//	(C10) P = P_h (f/f₁)(B/B₁)^n + P_e (f/f₁)²(B/B₁)²,  B/B₁ = (V/V₁)/(f/f₁)
//	(C11) ln S = Σw_i ln S_i, w_i = u_i^{−2}/Σu_j^{−2};  u² = ½Σ(w_i u_i)² + ½(Σw_i u_i)², times χ²/(N − 1) where that is above 1
//	(C12) i = φ + s φⁿ
//	(C13) i₁ = x + s β xⁿ,  β = 2/√π · Γ(n/2 + 1)/Γ(n/2 + 3/2)
//	(C14) i_rms √2 = √(x² + 2 s β x^{n+1} + 2 s² σ x^{2n}),  σ = Γ(n + 1/2)/(√π Γ(n + 1))
//	(C15) ln y = p(ln x), p the monotone piecewise cubic through the measured points
//
// # Assumptions
//
// Bands of one unit are not independent, because its maker's habits move them all: (C11)
// takes a correlation of one half, which leaves 0.7 of the width however many agree and goes no
// lower. Low and High are the ends of 95 % of a log-normal, so half of ln(High/Low) is
// 1.96 standard deviations. Drops of all windings are equal shares in (C6) and (C7).
// Flux is sinusoidal in (C13) and (C14).
//
// # Range of validity
//
// Mains units of 1 to 1000 VA, 50 and 60 Hz. Not for 400 Hz, audio, microwave-oven or
// ferroresonant units. (C12) from no flux to about 1.3 times that of the label: beyond, iron goes
// over to a straight line of slope μ₀, which a power law does not. (C15) between the points
// only, and to 1 % where they are as near as a fifth of the curve's rise: below its bend, where
// flux grows faster than current, points a factor of 1.3 apart leave 3 %.
//
// # Method and its error
//
// (C6) is solved by bisection of a rising function to 1e-12. The rest is closed form. What
// the laws are worth is the width of their bands, and that is practice, not proof.
//
// # References
//
// (C1) for E-I: common practice, no source (26 and 31 VA per square inch squared at 50 and 60 Hz; one published
// formula, A in² = √VA/5.58 at 60 Hz, from memory, lies inside). Other constants: common practice, no source;
// c_ε is a fit to the short-circuit currents of the common table of series lamps. (C7): common
// practice, no source. (C9), (C10): Theraja and Theraja, A Textbook of Electrical Technology, vol. 2,
// ch. 32; Gross, Power Transformers, eqs. 64.1 and 64.2, Electrical Engineering Handbook, CRC 2000.
// (C13), (C14): Wallis' integrals. (C15): Fritsch and Butland, A method for constructing local monotone
// piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5, 300–304 (1984).
package core
