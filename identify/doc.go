// Package identify turns a unit's readings into facts: which pins are
// windings and in which order taps lie, which ends are alike, volts, ohms,
// leakage, excitation and ratings, each with its uncertainty; and it names the
// reading to take next. It does not predict hookups, and it never takes a
// reading's word alone: alternatives stay, with their probabilities, until the
// readings have excluded them.
//
// # Model
//
// A wire is a line of pins with copper between neighbours, so the ohms of two
// pins are the sum of the sections between them. All sections share one flux,
// so their no-load volts stand as their turns; a fed winding stands above what
// it induces by its exciting drop, which also turns the other windings by a
// small angle. Every reading has the errors of its meter, shared and its own.
//
// # Symbols
//
//	R_ij       resistance between pins i and j of one wire            [Ω]
//	s_k        resistance of section k along a wire                   [Ω]
//	u_k        volts of section k at the reference supply             [V]
//	c_k        −1, 0 or 1: section k in the path between the probes   [1]
//	σ_w        ±1: the dot of wire w                                  [1]
//	V_s        volts of the source                                    [V]
//	θ          angle by which the exciting drop turns the rest        [rad]
//	w, Σ       weight of an alternative, covariance of the readings   [1, V²]
//	R_c, X_m   core loss and magnetisation as parallel branches       [Ω]
//	R, X, Z    resistance, leakage reactance and their magnitude      [Ω]
//	φ          angle of the load                                      [rad]
//
// # Equations
//
//	(I1)  R_c = V²/P,  open circuit
//	(I2)  X_m = V²/√((V I)² − P²)
//	(I3)  R = P/I²,  short circuit
//	(I4)  X = √((V/I)² − R²)
//	(I5)  Z' = Z (V₂/V₁)²
//	(I6)  V_in = V₂ + I₂ (cos φ ∓ j sin φ)(R + jX)
//	(I7)  regulation = (|V_in| − V₂)/V₂
//	(I8)  linear drop = I₂ (R cos φ ± X sin φ)/V₂
//	(I9)  R = R_load (V₀/V − 1)
//	(I10) R_ij = Σ s_k over the sections between i and j
//	(I11) reading = V_s |a + b e^{−jθ}|/|Σ c_k σ u_k over the source|,  a in the fed wires, b in the rest
//	(I12) R₂₀ = R (234.5 + 20)/(234.5 + T)
//	(I13) information = −Σ w_i ln Σ_j w_j BC_ij,  BC the overlap of the readings that i and j foresee
//	(I14) ln w = −χ²/2 − ½ ln det(AᵀΣ⁻¹A) + ln prior,  per order and per choice of dots
//
// # Assumptions
//
// A wire is wound one way, so its sections have one dot. Half of all tapped
// wires are centre-tapped, with halves alike to 3 % in ohms but never equal.
// One continuity reading in 500 is open where copper is, one in 10000 the
// other way, and one volts reading in 300 is not of what it says. The
// resistance of a wire is log-uniform from a milliohm to ten kilohms, its
// division uniform. These priors and every constant without a source are
// common practice. A meter's stated bound is a rectangle (JCGM 100:2008,
// 4.3.7), and its gain is one error for all readings on a range.
//
// # Range of validity
//
// Mains units of 2 to 24 pins with windings of 1 mΩ to 50 kΩ; no three-phase
// units, converters or ferroresonant units. Up to 12 separate pieces are weighed
// exactly; above, pieces are taken to be equally likely partners until
// readings have linked enough of them.
//
// # Method and its error
//
// Ways to part the pins into wires are summed over all subsets, which is exact.
// Orders are built pin by pin and kept while no more than e¹⁸ less likely than
// the best. Evidence is Laplace's: exact for a linear model with a flat prior, and
// within a few per cent of probability where sections stand some standard
// uncertainties above 0. Volts are fitted by Gauss-Newton in their
// logarithms with halved steps, from both ways an opposed reading can be
// taken. The next reading is the best one step ahead by (I13), a lower bound
// (Kolchinsky and Tracey 2017), over its effort; on units of up to five pins that
// needs no more readings in the median than the best adaptive policy (a test
// finds that by exhaustive search). 95 % intervals use a coverage factor between
// those of one rectangle and of a normal, by the kurtosis of the sum.
//
// # References
//
// (I1)–(I8): Chapman, Electric Machinery Fundamentals, ch. 2; Theraja and
// Theraja, A Textbook of Electrical Technology, vol. 2, ch. 32. (I11): induced-volts
// polarity test, US Bureau of Reclamation, Transformers: Basics, Maintenance, and
// Diagnostics, p. 25. (I12): IEC 60076, from memory. (I13): Kolchinsky and Tracey,
// Estimating Mixture Entropy with Pairwise Distances, Entropy 19(7), 2017, from
// memory. (I14): MacKay, Information Theory, Inference, and Learning Algorithms,
// ch. 28, from memory. Uncertainty: JCGM 100:2008.
package identify
