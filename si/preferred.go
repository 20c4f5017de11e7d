package si

import (
	"math"
	"strconv"
)

// e24 is listed, because eight of its members (27, 30, 33, 36, 39, 43, 47, 82)
// are not 10^(i/24) rounded; E12 and E6 are every second and fourth of it
// (IEC 60063).
var e24 = []int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// r20 is listed, because ISO 3 rounds its members to memorable numbers; R10 is
// every second of it.
var r20 = []int{100, 112, 125, 140, 160, 180, 200, 224, 250, 280, 315, 355, 400, 450, 500, 560, 630, 710, 800, 900}

// members returns a series as integers and the power of ten that they are too
// large by.
func members(series string) (list []int, exp int) {
	switch series {
	case "E6":
		return everyNth(e24, 4), 1
	case "E12":
		return everyNth(e24, 2), 1
	case "E24":
		return e24, 1
	case "E48":
		return rounded(48), 2
	case "E96":
		return rounded(96), 2
	case "R10":
		return everyNth(r20, 2), 2
	case "R20":
		return r20, 2
	}
	return nil, 0
}

func everyNth(all []int, n int) []int {
	var s []int
	for i := 0; i < len(all); i += n {
		s = append(s, all[i])
	}
	return s
}

// rounded is 10^(i/n) to three digits, which gives E48 and E96 without
// exception (IEC 60063).
func rounded(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = int(math.Round(100 * math.Pow(10, float64(i)/float64(n))))
	}
	return s
}

// scaled returns n×10^exp, correctly rounded.
func scaled(n, exp int) float64 {
	// The only error is overflow, which comes as an infinity and is wanted so.
	v, _ := strconv.ParseFloat(strconv.Itoa(n)+"e"+strconv.Itoa(exp), 64)
	return v
}

// Series returns the members of a series of preferred numbers from 1 up to but
// not including 10, ascending: "E6", "E12", "E24", "E48", "E96" (IEC 60063),
// "R10", "R20" (ISO 3). It returns nil for another name.
func Series(name string) []float64 {
	list, exp := members(name)
	var s []float64
	for _, n := range list {
		s = append(s, scaled(n, -exp))
	}
	return s
}

// Preferred returns the member of a series, in any decade, that is nearest to v
// by ratio; with up the smallest that is not below v. A v above a member by less
// than one part in 10⁹ counts as that member, so that a computed 4.7000000000000002
// does not become 5.1.
//
// Special cases: NaN when v is not above zero or not finite, and where no member
// is in the range of float64. It panics for a series that Series does not know.
func Preferred(v float64, series string, up bool) float64 {
	list, exp := members(series)
	if list == nil {
		panic("si: no series of preferred numbers " + strconv.Quote(series))
	}
	if !(v > 0) || math.IsInf(v, 1) {
		return math.NaN()
	}
	best, off := math.NaN(), math.Inf(1)
	decade := int(math.Floor(math.Log10(v)))
	for e := decade - 1; e <= decade+1; e++ {
		for _, n := range list {
			c := scaled(n, e-exp)
			if c == 0 || math.IsInf(c, 1) {
				continue
			}
			if up {
				if v <= c*(1+1e-9) {
					return c
				}
				continue
			}
			if d := math.Abs(math.Log(c / v)); d < off {
				best, off = c, d
			}
		}
	}
	return best
}
