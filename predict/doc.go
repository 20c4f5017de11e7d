// Package predict asks the network of package phys/network for a hookup's
// steady state and says it in the project's result types: every value with
// its 95 % interval, and the notes that decide whether it may be wired. It
// searches nothing and proves nothing.
//
// # Intervals
//
// Each uncertain fact moves every voltage and current by a complex amount
// (sensitivities, JCGM 100:2008, 5.1.3). What a meter shows is the modulus of
// a complex normal variable, package num, so a gap that is nearly zero has
// the skewed interval it deserves. The meter that takes the reading adds its
// fixed part; its gain error is the same one that the facts were read with on
// that range, so it cancels where the same range was used. Ghost voltages on
// floating parts depend on capacitances known to a factor of three; where
// those decide, the interval comes from draws (JCGM 101:2008), not from slopes.
//
// # Limits
//
// Every limit compares the unfavourable end of the interval: past the limit at
// its best estimate is the limit's own level, past it only at the end of the
// interval is a caution, and the note not-proven stands beside it. The limits
// are common practice and fields of [Limits].
package predict
