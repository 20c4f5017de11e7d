package find

import (
	"math"
	"math/cmplx"

	"yokemate"
	"yokemate/phys/waveform"
	"yokemate/si"
)

// feeding is what fills a reservoir for one half of the wave: a sine of some
// peak behind ohms and henries.
type feeding struct{ peak, ohms, henries float64 }

// filled is how a reservoir stands that two feedings fill by turns.
type filled struct {
	mean, valley, top float64
	rms               float64 // of either feeding over the halves of the wave that it fills, the root of their mean square [A]
}

func (f filled) ripple() float64 { return f.top - f.valley }

// charge is a reservoir behind a full-wave rectifier, without its iron.
type charge struct {
	law            waveform.DiodeLaw
	diodes         float64 // in the way
	farads, amps   float64
	omega          float64
	knee, perAmp   float64 // of the diodes together: n Vt, Rs [V, Ω]
	discharge      float64 // volts lost in one radian [V]
	sum, square    float64 // ∫ v dθ, ∫ i² dθ of the half wave at hand
	lowest, top    float64
	half           [2]float64 // ∫ i² dθ of either half
	overlong, dead bool
}

// chargeSteps are those of a pulse's rise.
const chargeSteps = 24

// onset is the volts of a diode at which a pulse counts as begun: what flows
// below them is nothing beside the load [V].
const onset = 0.35

// halfWave follows the reservoir from v through the half wave of a feeding, and
// returns its volts at the end. The current is followed by the implicit formula of
// second order in the inductance and the trapezoid rule in the reservoir; the
// diodes' law is solved at every step.
func (c *charge) halfWave(f feeding, v float64) float64 {
	drain := func(from, to float64) {
		end := v - c.discharge*(to-from)
		c.sum += (v + end) / 2 * (to - from)
		v = end
		c.lowest = math.Min(c.lowest, v)
	}
	wants := v + c.diodes*onset
	on := math.Pi
	// peak sin θ = v − discharge θ + the onset, by Newton's method from where
	// the reservoir would stand still.
	if wants < f.peak {
		on = math.Asin(math.Max(wants/f.peak, -1))
		for range 3 {
			on -= (f.peak*math.Sin(on) - wants + c.discharge*on) / (f.peak*math.Cos(on) + c.discharge)
		}
	}
	if !(on < math.Pi/2) {
		c.dead = true
		drain(0, math.Pi)
		return v
	}
	on = math.Max(on, 0)
	drain(0, on)
	step := (math.Pi/2 - on) / chargeSteps
	h := step / c.omega
	sin, cos := math.Sincos(on)
	ds, dc := math.Sincos(step)
	th, before, now := on, 0.0, 0.0
	weight := 1.0 // of i₁ in h di/dt; 1.5 from the second step on
	saturation := c.law.Saturation
	for {
		th += step
		sin, cos = sin*dc+cos*ds, cos*dc-sin*ds
		back := now
		if weight > 1 {
			back = 2*now - before/2
		}
		right := f.peak*sin + f.henries/h*back - v - h/c.farads*(now/2-c.amps)
		a := weight*f.henries/h + f.ohms + h/(2*c.farads) + c.perAmp
		next := 0.0
		if right > 0 {
			// a i + knee ln(1 + i/Is) = right.
			next = math.Max(now, 1e-3*c.amps)
			for range 8 {
				g := a*next + c.knee*math.Log1p(next/saturation) - right
				d := g / (a + c.knee/(saturation+next))
				moved := math.Max(next-d, next/20)
				if math.Abs(moved-next) < 1e-6*moved {
					next = moved
					break
				}
				next = moved
			}
		}
		was := v
		v += h / c.farads * ((now+next)/2 - c.amps)
		c.sum += (was + v) / 2 * step
		c.square += (now*now + now*next + next*next) / 3 * step
		c.top, c.lowest = math.Max(c.top, v), math.Min(c.lowest, v)
		before, now, weight = now, next, 1.5
		if now < 1e-3*c.amps && th > math.Pi/2 {
			break
		}
		if th > math.Pi {
			c.overlong = true
			return v
		}
	}
	drain(th, math.Pi)
	return v
}

// wave follows both halves from v.
func (c *charge) wave(a, b feeding, v float64) float64 {
	c.sum, c.lowest, c.top = 0, v, v
	c.square = 0
	v = c.halfWave(a, v)
	c.half[0] = c.square
	if a == b {
		c.half[1] = c.square
		c.sum *= 2
		return v
	}
	c.square = 0
	v = c.halfWave(b, v)
	c.half[1] = c.square
	return v
}

// fill finds how a reservoir stands in the long run; ok is false where the
// pulses of either half run into each other, or there are none.
func (d *rectified) fill(a, b feeding, farads, amps float64) (f filled, ok bool) {
	law := d.law
	if amps > d.need.Amps {
		law = waveform.Silicon(waveform.DiodeRating(amps))
	}
	omega := 2 * math.Pi * d.need.Feed.Hertz
	c := &charge{law: law, diodes: d.diodes, farads: farads, amps: amps, omega: omega,
		knee: d.diodes * law.Thermal, perAmp: d.diodes * law.Ohms, discharge: amps / (omega * farads)}
	guess, _ := pulse((a.peak+b.peak)/2, (a.ohms+b.ohms)/2, amps)
	if guess -= d.diodes * 0.9; !(guess > 0) {
		return f, false
	}
	v0, v1 := guess, 0.0
	e0, e1 := math.NaN(), 0.0
	for i := range 12 {
		v := v0
		if i > 0 {
			v = v1
		}
		c.overlong, c.dead = false, false
		end := c.wave(a, b, v)
		e := end - v
		if !(math.Abs(e) > 1e-5*v) {
			break
		}
		if i == 0 {
			v0, e0 = v, e
			v1 = end
			continue
		}
		e1 = e
		next := v1 - e1*(v1-v0)/(e1-e0)
		if !(next > 0) || next > a.peak+b.peak {
			next = end
		}
		v0, e0, v1 = v1, e1, next
		if i == 11 {
			return f, false
		}
	}
	if c.overlong || c.dead {
		return f, false
	}
	return filled{mean: c.sum / (2 * math.Pi), valley: c.lowest, top: c.top, rms: math.Sqrt((c.half[0] + c.half[1]) / (2 * math.Pi))}, true
}

// of is a feeding by an element at a share of nominal mains.
func (d *rectified) of(e *element, t int, mains float64) feeding {
	return feeding{math.Sqrt2 * mains * cmplx.Abs(e.v0[t]), math.Abs(real(e.z[t])), math.Abs(imag(e.z[t])) / (2 * math.Pi * d.need.Feed.Hertz)}
}

// What the sums of sources and the reservoir's own may be off, held to by a
// test: of the peak volts, and of the amps that may be drawn.
const (
	errFill = 0.002
	errMost = 0.03
	// Sides of a middle that are not alike: of what their drops and peaks differ.
	errSides, errPeaks = 0.5, 0.15
	// A ripple so near its limit may choose either of two reservoirs.
	errRipple = 0.04
)

// sketched is what a candidate's supply is reckoned to be.
type sketched struct {
	farads []float64  // it may choose, one or two
	mean   [2]float64 // cold and hot, at the first of them [V]
	most   float64    // amps that may be drawn, at the most [A]
	far    float64    // from the wanted volts at the least [V]
	fit    float64    // at the least
}

// sketch reckons a supply from the sources that feed it; ok is false where it is
// certain to be none, known is false where the reckoning cannot tell.
func (d *rectified) sketch(es []*element) (s sketched, ok, known bool) {
	n := d.need
	a, b := es[0], es[len(es)-1]
	lowest := n.Feed.At(yokemate.Low) / n.Feed.Volts.V
	rule := n.Amps / (2 * n.Feed.Hertz * 0.1 * n.Volts)
	least, most := d.span()
	type at struct {
		farads    float64
		cold, hot filled
		deep      filled
		miss      float64 // above 0: by what share the reservoir is too small
	}
	look := func(farads float64) (x at, ok bool) {
		x.farads = farads
		if x.cold, ok = d.fill(d.of(a, 0, 1), d.of(b, 0, 1), farads, n.Amps); !ok {
			return x, false
		}
		x.miss = x.cold.ripple()/(0.1*x.cold.mean) - 1
		if n.Regulated {
			if x.deep, ok = d.fill(d.of(a, 1, lowest), d.of(b, 1, lowest), farads, n.Amps); !ok {
				return x, false
			}
			// The valley falls short by so much of the ripple.
			x.miss = math.Max(x.miss, (least-x.deep.valley)/x.deep.ripple())
		}
		return x, true
	}
	var may []at
	for farads := math.Max(si.Preferred(rule/4, "E6", true), 10e-6); ; farads = si.Preferred(farads*1.01, "E6", true) {
		x, fine := look(farads)
		if !fine {
			return s, true, false
		}
		if x.miss < errRipple || farads > 3*rule {
			may = append(may, x)
		}
		if x.miss < -errRipple || farads > 3*rule {
			break
		}
	}
	s.far, s.fit = math.Inf(1), math.Inf(1)
	for i := range may {
		x := &may[i]
		var fine bool
		if x.hot, fine = d.fill(d.of(a, 1, 1), d.of(b, 1, 1), x.farads, n.Amps); !fine {
			return s, true, false
		}
		off := filledOff(a, b, x.cold.rms)
		far := 0.0
		if n.Regulated {
			if x.deep.valley+off < least || x.cold.mean-off > most {
				continue
			}
			far = math.Max(0, x.deep.valley-off-least)
		} else {
			for _, v := range [2]float64{x.cold.mean, x.hot.mean} {
				far = math.Max(far, math.Abs(v-n.Volts)-off)
			}
			if far > n.Tolerance*n.Volts {
				continue
			}
		}
		if len(s.farads) == 0 {
			s.mean = [2]float64{x.cold.mean, x.hot.mean}
			s.most = d.mostDrawn(es, x.farads, x.cold.rms)
		}
		s.farads = append(s.farads, x.farads)
		s.far, s.fit = math.Min(s.far, far), math.Min(s.fit, d.fit(far, s.most))
	}
	return s, len(s.farads) > 0 && s.most >= n.Amps, true
}

// filledOff is how far the volts of a reservoir may lie from the sums: of
// unlike sides of a middle one takes more than its turn [V].
func filledOff(a, b *element, rms float64) float64 {
	return errFill*math.Sqrt2*math.Max(cmplx.Abs(a.v0[0]), cmplx.Abs(b.v0[0])) + sidesOff(a, b, rms)
}

// sidesOff is what of that comes of the sides being unlike.
func sidesOff(a, b *element, rms float64) float64 {
	return errPeaks*math.Sqrt2*math.Abs(cmplx.Abs(a.v0[0])-cmplx.Abs(b.v0[0])) + errSides*math.Abs(real(a.z[0]-b.z[0]))*rms
}

// mostDrawn is the DC at which the first of the sources is at its limit, by
// two looks: the rms amps rise a little less than the DC does.
func (d *rectified) mostDrawn(es []*element, farads, rms float64) float64 {
	n := d.need
	// Unlike sides share the pulses as they may: each carries at least its part
	// by its ohms, and all of them together stand so much.
	square, circ, own := 0.0, 0.0, math.Inf(1)
	a, b := real(es[0].z[0]), real(es[len(es)-1].z[0])
	unlike := math.Abs(a-b) / (a + b)
	for _, e := range es {
		square += e.lim * e.lim / float64(len(es))
		circ = math.Max(circ, e.circ)
		own = math.Min(own, e.lim/math.Max(1-2*unlike, 0.1))
	}
	lim := math.Min(math.Sqrt(square), own) * (1 + circ)
	if d.kind == "centre-tap" {
		// A half carries its pulses every other half wave.
		lim *= math.Sqrt2
	}
	amps := n.Amps
	for range 3 {
		amps *= lim / rms
		f, ok := d.fill(d.of(es[0], 0, 1), d.of(es[len(es)-1], 0, 1), farads, amps)
		if !ok {
			break // past what can be drawn at all: what was found last is above it
		}
		rms = f.rms
	}
	return amps * (1 + errMost)
}
