package wire

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"yokemate/si"
)

func ampsFormula(diameter float64) string {
	a := area(diameter)
	return fmt.Sprintf("π/4 × (%.3g mm)² = %.3g mm² × 2.5 to 3.5 A/mm², 700 circular mils for 1 A: %.3g A", 1e3*diameter, 1e6*a, a*bestDensity)
}

func bareFormula(over, best float64) string {
	return fmt.Sprintf("%.3g mm − %.2g mm enamel = %.3g mm", 1e3*over, 1e3*(over-best), 1e3*best)
}

const hint = "write a gauge as AWG 24, 24 AWG or #24, or a diameter as 0.5 mm"

// american matches what is left of an American gauge without its mark: 24, 24.5, 0, 00, 0000, 2/0.
var american = regexp.MustCompile(`^(?:(0{2,4})|([1-4])/0|(\d{1,2}(?:[.,]\d+)?))$`)

// ParseGauge reads a wire size as people write it: "AWG 24", "24 AWG", "24AWG", "#24", "AWG 2/0", "0.5 mm", "0,5 mm",
// "20 mil", "0.02 in". It returns the diameter of the copper [m]. A bare number is refused, since
// 0.5 may be millimetres and 24 a gauge, and so is any gauge but the American one.
func ParseGauge(text string) (diameter float64, err error) {
	s := strings.TrimSpace(text)
	upper := strings.ToUpper(s)
	gauge, marked := "", false
	switch {
	case strings.HasPrefix(upper, "AWG"):
		gauge, marked = strings.TrimLeft(upper[3:], " -#"), true // "AWG-24" is 24: a gauge has no sign
	case strings.HasSuffix(upper, "AWG"):
		gauge, marked = upper[:len(upper)-3], true
	case strings.HasPrefix(s, "#"):
		gauge, marked = s[1:], true
	}
	if marked {
		return parseAmerican(text, strings.TrimSpace(gauge))
	}
	if number, ok := strings.CutSuffix(upper, "MIL"); ok {
		if mils, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(number), ",", ".", 1), 64); err == nil {
			return check(text, mils*25.4e-6)
		}
	}
	// A length without its unit would be read in metres, which nobody means.
	if strings.TrimRight(s, "0123456789.,") == "" {
		return math.NaN(), fmt.Errorf("%q is a gauge or a length without its mark: %s", text, hint)
	}
	diameter, err = si.Parse(s, "m")
	if err != nil {
		return math.NaN(), fmt.Errorf("%q is not a size of wire: %s", text, hint)
	}
	return check(text, diameter)
}

func parseAmerican(text, gauge string) (float64, error) {
	m := american.FindStringSubmatch(gauge)
	if m == nil {
		return math.NaN(), fmt.Errorf("%q is not a size of wire: %s", text, hint)
	}
	var awg float64
	switch {
	case m[1] != "":
		awg = 1 - float64(len(m[1]))
	case m[2] != "":
		awg = 1 - float64(m[2][0]-'0')
	default:
		awg, _ = strconv.ParseFloat(strings.Replace(m[3], ",", ".", 1), 64) // digits only, by the pattern
	}
	return check(text, Diameter(awg))
}

// Wires thinner or thicker than these are slips of the pen [m].
const (
	thinnest = 0.01e-3
	thickest = 12e-3
)

func check(text string, diameter float64) (float64, error) {
	if !(diameter >= thinnest && diameter <= thickest) {
		return math.NaN(), fmt.Errorf("%q is no winding wire: its diameter must lie between 0.01 and 12 mm", text)
	}
	return diameter, nil
}
