// Package si turns text into numbers and numbers into text, the way values are
// written at the bench: "12.6 V", "470 mV", "0,5 A", "2k2", "12.34 ± 0.05 V".
// It also holds the preferred numbers that parts are sold in.
//
// It does no arithmetic with quantities, has no type per unit, and knows
// nothing of transformers. Inside the program a value is a float64 in its SI
// base unit; prefixes exist only here.
//
// # Reading
//
// The reader is told which unit to expect, and refuses any other. A number
// without a unit is in that unit. These are the rules where people differ:
//
//   - A single comma is a decimal comma: "1,234" is 1.234, never one thousand.
//     A comma and a point in one number are refused.
//   - A space groups digits only before the decimal mark and only in whole
//     groups of three: "12 300" is 12300; "12 30" is refused.
//   - Prefixes are case sensitive: M is mega, m is milli. K is taken for k.
//     The micro sign, the Greek mu and u are the same.
//   - A letter may stand in the place of the decimal mark for ohms, farads and
//     henries: "4R7", "R47", "2k2", "1M0", "4u7" (IEC 60062; the standard has
//     resistors and capacitors, henries are common practice).
//   - A prefix may stand alone after a number of an electrical unit: "470m"
//     volts, "10k" ohms.
//   - "4E7" is refused for ohms, because some write 4.7 Ω so and others
//     4×10⁷ Ω; "4e7" is 4×10⁷.
//   - "MF" and "mfd" are refused for farads: on old capacitors they mean
//     microfarads.
//   - "m" is refused for a time: it may be minutes or a bare milli.
//   - Ounces and pounds are avoirdupois.
//   - A unit after the uncertainty alone belongs to both numbers:
//     "470 ± 5 mV". A unit after the value alone does too: "470 mV ± 5".
//
// The units known by all their spellings are V, A, Ω, W, VA, Hz, H, F, s, m,
// m², kg, °C, K (a difference of temperature), ° (an angle), % and "" (a pure
// number, where % is accepted). Of any other unit only its own symbol is read,
// without prefixes.
//
// # Writing
//
// What Format prints, Parse reads back to exactly the rounded value. Digits are
// rounded once, from the exact binary value, so no value is ever printed as
// "1000 mV".
//
// # References
//
//   - IEC 60062, Marking codes for resistors and capacitors.
//   - IEC 60063, Preferred number series for resistors and capacitors.
//   - ISO 3, Preferred numbers — Series of preferred numbers.
//   - BIPM, The International System of Units (SI Brochure), 9th edition, 2019,
//     chapter 5, on writing values.
package si
