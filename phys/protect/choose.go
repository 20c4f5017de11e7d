package protect

import (
	"fmt"
	"math"
)

// Preferred returns the preferred ratings of IEC 60127 links from 32 mA to
// 16 A, rising [A]: steps of R10, with 32 for 31.5.
func Preferred() []float64 {
	return []float64{
		0.032, 0.040, 0.050, 0.063, 0.080, 0.100, 0.125, 0.160, 0.200, 0.250, 0.315, 0.400, 0.500, 0.630, 0.800,
		1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10, 12.5, 16,
	}
}

// Place is where a fuse sits and what else is fused, which decides its limit.
type Place int

const (
	PrimaryOnly   Place = iota // the primary, nothing fused behind it
	PrimaryOfBoth              // the primary, with each secondary fused as well
	Secondary                  // a secondary
)

// Limit returns the largest fuse rating that NEC table 450.3(B) allows, as a
// share of the rated current of that side [1], and whether the next standard size
// above may be taken where the share falls between two. rated is in [A].
func Limit(place Place, rated float64) (share float64, nextUp bool) {
	switch {
	case place == PrimaryOfBoth:
		return 2.50, false
	case rated >= 9:
		return 1.25, true
	case place == Secondary || rated >= 2:
		return 1.67, false
	default:
		return 3.00, false
	}
}

// Duty is what a fuse has to live with.
type Duty struct {
	Amps   float64 // true-rms current at full load, measured or predicted [A]
	Rated  float64 // rated current of that side, 0: the same as Amps [A]
	Inrush float64 // ∫i²dt of the worst switch-on, 0 when not known [A²s]
	Kind   string  // "" is "T"
	Place  Place
	// Breaking as in Link.
	Breaking string
}

// Choice is a fuse and why.
type Choice struct {
	Link    Link     // Amps is 0 where no link serves
	Share   float64  // rating of the link over Duty.Amps [1]
	Allowed float64  // largest rating that the limit allows [A]
	OK      bool     // every wish is met
	Why     []string // sentences
}

// margin is the least rating over the rms current at full load and nominal
// mains. Common practice, no source, and what the standards leave of it: an IEC
// link is proved to carry its rating for ever and 1.5 times it for an hour only,
// a UL link its rating in air of 25 °C, of which three quarters are
// counted on. 1.5 is within both, and has room for the highest mains, warm air
// about the holder and links that age by switching on.
const margin = 1.5

// Choose picks the smallest preferred rating that is at least 1.5 times the rms
// current, carries the inrush where that is known, and stays within Limit. Where no
// rating does all three, the limit rules: the largest rating within it is given as long as
// it is above the current, OK is false and Why tells what it does not do.
// A fuse so chosen guards against fire and shorts, not against mild overload.
func Choose(d Duty) (Choice, error) {
	if d.Kind == "" {
		d.Kind = "T"
	}
	if d.Rated == 0 {
		d.Rated = d.Amps
	}
	if !(d.Amps > 0) || !(d.Rated > 0) || !(d.Inrush >= 0) || math.IsInf(d.Amps+d.Rated+d.Inrush, 0) {
		return Choice{}, fmt.Errorf("a fuse needs a current above 0 and an inrush of 0 or more, not %g A, %g A, %g A²s", d.Amps, d.Rated, d.Inrush)
	}
	share, nextUp := Limit(d.Place, d.Rated)
	c := Choice{Allowed: share * d.Rated}
	var links []Link
	for _, amps := range Preferred() {
		l := Link{Amps: amps, Kind: d.Kind, Breaking: d.Breaking}
		if l.Validate() == nil {
			links = append(links, l)
		}
	}
	if len(links) == 0 {
		return Choice{}, Link{Amps: 1, Kind: d.Kind, Breaking: d.Breaking}.Validate()
	}
	if nextUp {
		for _, l := range links {
			if l.Amps >= c.Allowed*(1-near) {
				c.Allowed = l.Amps
				break
			}
		}
	}
	carries := func(l Link) bool {
		least, _ := l.I2t()
		return d.Inrush == 0 || least > d.Inrush
	}
	var fallback Link
	for _, l := range links {
		if l.Amps > c.Allowed*(1+near) {
			break
		}
		if l.Amps >= margin*d.Amps*(1-near) && carries(l) {
			c.Link, c.OK = l, true
			break
		}
		if l.Amps > d.Amps {
			fallback = l
		}
	}
	if !c.OK {
		c.Link = fallback
	}
	c.Share = c.Link.Amps / d.Amps
	limit := fmt.Sprintf("The limit is %.0f %% of %.3g A, so %.3g A (NEC table 450.3(B)); local codes rule.", 100*share, d.Rated, c.Allowed)
	switch {
	case c.OK:
		c.Why = append(c.Why, fmt.Sprintf("%.3g A is the first preferred rating of at least 1.5 × %.3g A.", c.Link.Amps, d.Amps))
		if first := firstAbove(links, margin*d.Amps); first != c.Link {
			c.Why[0] = fmt.Sprintf("%.3g A is the first preferred rating of at least 1.5 × %.3g A that carries an inrush of %.3g A²s.", c.Link.Amps, d.Amps, d.Inrush)
		}
	case c.Link.Amps == 0:
		c.Why = append(c.Why, fmt.Sprintf("No preferred rating between %.3g A and %.3g A exists: no fuse here both carries the current and keeps to the limit.", d.Amps, c.Allowed))
	default:
		if c.Share < margin*(1-near) {
			c.Why = append(c.Why, fmt.Sprintf("%.3g A is only %.2f × the current, not the usual 1.5, and may age until it opens in normal use.", c.Link.Amps, c.Share))
		}
		if !carries(c.Link) {
			c.Why = append(c.Why, fmt.Sprintf("%.3g A may open on an inrush of %.3g A²s at switch-on.", c.Link.Amps, d.Inrush))
		}
	}
	if least, _ := c.Link.I2t(); d.Inrush > 0 && c.Link.Amps > 0 && carries(c.Link) {
		c.Why = append(c.Why, fmt.Sprintf("The worst switch-on lets %.2g A²s through; the link stands %.2g A²s before it may open.", d.Inrush, least))
	}
	c.Why = append(c.Why, limit)
	return c, nil
}

// firstAbove returns the first link of at least the rating [A].
func firstAbove(links []Link, amps float64) Link {
	for _, l := range links {
		if l.Amps >= amps*(1-near) {
			return l
		}
	}
	return Link{}
}
