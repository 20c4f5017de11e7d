// Package wire turns a gauge or a diameter of copper wire into ohms and amps, and
// back. It does not decide what a winding may carry: it gives one band for that, to be
// set beside others.
//
// # Model
//
// Wire is a round rod of annealed copper. American gauge is a geometric series of
// diameters. Enamel adds to the diameter by an amount that grows slowly with it.
//
// # Symbols
//
//	n      gauge; 00 is −1, 000 is −2                 [AWG]
//	d, D   diameter of the copper, over the enamel    [m]
//	T      temperature                                [°C]
//	ρ₂₀    resistivity at 20 °C, 1.7241·10⁻⁸          [Ω·m]
//	J      current density                            [A/m²]
//	R', I  resistance a metre, current                [Ω/m, A]
//	e      increase in diameter from enamel           [m]
//
// # Equations
//
//	(W1)  d = 0.127 mm · 92^((36 − n)/39)
//	(W2)  n = 36 − 39 ln(d/0.127 mm)/ln 92
//	(W3)  R' = ρ₂₀ (234.5 + T)/254.5 · 4/(π d²)
//	(W4)  D = d + e(d),  ln e linear in ln d between the rows of a table
//	(W5)  I = J π d²/4, J from 2.5 to 3.5 A/mm²; best: 1 A for 700 circular mils, 2.82 A/mm²
//
// # Assumptions
//
// Grade 1 enamel, one coat. A wire with grade 2 has about twice the enamel and then a
// little less copper than the band of Bare says. Direct current or mains frequency: no skin effect.
//
// # Range of validity
//
// (W1) to 0000 (11.7 mm) and down to 56 AWG. Enamel from 0.05 to 3 mm of copper. A caliper's
// jaws flatten soft enamel and dirt thickens it: its own error comes on top.
//
// # Method and its error
//
// Closed forms. (W4) is solved by iteration with a contraction under 0.2, to 1e-15 m. (W3) uses the
// same temperature law as a winding's ohms (package heat), which is 0.03 % at 100 °C from
// the coefficient of 0.00393 of the wire tables. Standard sizes
// of metric wire have a tolerance of about 1 % in diameter, so 2 % in ohms.
//
// # References
//
// (W1): ASTM B258, from memory. Resistivity: NBS Handbook 100 (100 % IACS), from memory. Table of gauges held
// to: Floyd, Electric Circuit Fundamentals, 2nd ed., as reprinted by HyperPhysics. Enamel:
// IEC 60317-0-1 grade 1, least increase and largest overall diameter, from memory but for the row of
// 0.1 mm, which a maker's page prints (0.108 to 0.117 mm). Current density: common practice, no source.
package wire
