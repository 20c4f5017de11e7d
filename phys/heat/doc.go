// Package heat knows how hot copper gets: its resistance, its rise read from
// resistance, the limits of insulation, and how long a winding lasts at a
// current that it was not made for. It does not know losses of the core or how
// windings warm one another; a network of several nodes is built on it elsewhere.
//
// # Model
//
// A winding is one lump of copper. Alone (adiabatic) it keeps all its heat; with
// cooling it gives heat to a still surrounding in proportion to its rise.
// Its resistance, and so its heat at a given current, rises with its own temperature.
//
// # Symbols
//
//	T, T₁, T₂  temperature of the copper                       [°C]
//	T_a        temperature of what surrounds it                [°C]
//	K          234.5 for copper: resistance is nil at −K       [°C]
//	R, R₂₀     resistance at T, at 20 °C                       [Ω]
//	x          current over rated current                      [1]
//	J          current density at rated current                [A/m²]
//	ρ₂₀        resistivity at 20 °C                            [Ω·m]
//	C          heat to warm a volume of copper, density × specific heat [J/(m³K)]
//	τ          thermal time constant at constant heat          [s]
//	ΔT_r, T_r  rated rise, and temperature at rated current     [K, °C]
//	θ          rise of a heat run over its surroundings        [K]
//
// # Equations
//
//	(H1)  R = R₂₀ (K + T)/(K + 20)
//	(H2)  T_h = (R_h/R_c)(K + T_c) − K
//	(H3)  ΔT = (R_h/R_c − 1)(K + T_c) − (T_a − T_c)
//	(H4)  dT/dt = k (K + T),  k = ρ₂₀ J² x²/((K + 20) C)
//	(H5)  T(t) = (K + T₁) e^{kt} − K
//	(H6)  t = ln[(K + T₂)/(K + T₁)]/k
//	(H7)  τ dT/dt = a (K + T) − (T − T_a),  a = x² ΔT_r/(K + T_r)
//	(H8)  T_∞ = (T_a + K a)/(1 − a) for a < 1; for a ≥ 1 there is no equilibrium
//	(H9)  T(t) = T_∞ + (T₁ − T_∞) e^{−(1 − a)t/τ};  a = 1: T = T₁ + (K + T_a) t/τ
//	(H10) t = −τ/(1 − a) ln[(T₂ − T_∞)/(T₁ − T_∞)]
//	(H11) θ_∞ = (θ₂² − θ₁θ₃)/(2θ₂ − θ₁ − θ₃),  τ = Δ/ln[(θ₂ − θ₁)/(θ₃ − θ₂)]
//	(H12) τ = ΔT_r/[k (K + T_r)] for a winding that stores all its heat in its own copper
//	(H13) x_eq = √(Σ x²t/Σ t)
//	(H14) θ(t) = D (1 − e^{−t/τ}) + A (1 − e^{−t/τ_A}), 0 ≤ A ≤ D, 2 τ_A ≤ τ
//
// # Assumptions
//
// Current is steady and rms. Copper density and specific heat do not change with
// temperature. In (H4) insulation and core take no heat: the winding gets hot sooner than in
// truth. In (H7) the surroundings keep their temperature and cooling is linear.
// (H11) takes one exponential and readings equally spaced.
//
// # Range of validity
//
// Copper from −20 °C to about 400 °C. Specific heat rises some 5 % to 200 °C, which
// the constant leaves out: times from (H6) are then short by as much, the safe side. (H4) serves
// while t is well under τ. A real heat run has two time constants (copper, then
// core and case): (H11) on readings from the first one alone is too low. (H14) has
// both, for a run from cold, and serves from a third of the time to 98 % of the final rise.
//
// # Method and its error
//
// Closed forms, exact to rounding; near a = 1 they are evaluated by expm1 and log1p, so that
// they join without a step. The uncertainty of (H11) is first order. The interval of (H14) is the
// profile of the likelihood over τ from five minutes to eight hours and τ_A from 90 s to 20 min; on simulated runs of two time constants it covers the
// final rise in 93 % and more (TestFitCovers), and so with errors that all readings share, of the cold
// ohms and of the thermometer (TestWeighCovers). A run may end at 10 K below the rise of a dry winding
// and 15 K below its class, as common practice has it.
//
// # References
//
// K for copper and (H2), (H3): EN 61558-1 clause 14.2, and a UL standard, clause 49.8.
// Classes: IEC 60085. Average winding rise of dry types and short-circuit limits: IEC 60076-11.
// Limits of small units: IEC 61558-1 and IEC 60335-1, from memory. (H6) in the form of the
// adiabatic conductor formula of IEC 60364-5-54 annex A and IEC 60949, from memory, whose 3.45 MJ/(m³K) is used.
// Resistivity of copper: NBS Handbook 100 (100 % IACS). (H11): from memory.
package heat
