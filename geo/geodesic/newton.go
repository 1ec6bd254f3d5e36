package geodesic

import "math"

const (
	newtonSteps = 20
	// allSteps leaves room to bisect down to the last bit.
	allSteps = newtonSteps + 53 + 10
)

// trial is what follows from setting out at one heading: where the parallel of
// the second point is met.
type trial struct {
	alpha2, sigma1, sigma2 angle
	sigma, eps             float64
	miss                   float64 // longitude reached less longitude wanted
	slope                  float64 // derivative of miss by the heading
}

// bracket keeps the headings between which the answer lies.
type bracket struct{ low, high angle }

// narrow moves one end to a heading that missed by v.
func (b *bracket) narrow(alpha angle, v float64, always bool) {
	ratio := alpha.c / alpha.s
	if v > 0 && (always || ratio > b.high.c/b.high.s) {
		b.high = alpha
	}
	if v < 0 && (always || ratio < b.low.c/b.low.s) {
		b.low = alpha
	}
}

// halve returns the middle heading, and whether the bracket can get no
// smaller.
func (b *bracket) halve() (angle, bool) {
	mid := angle{(b.low.s + b.high.s) / 2, (b.low.c + b.high.c) / 2}.unit()
	done := math.Abs(b.low.s-mid.s)+(b.low.c-mid.c) < epsilon ||
		math.Abs(mid.s-b.high.s)+(mid.c-b.high.c) < epsilon
	return mid, done
}

// newton finds the heading whose geodesic meets the second point, by Newton's
// method held inside a bracket that is bisected whenever a step leaves it.
func (p *problem) newton(alpha1 angle) found {
	b := bracket{low: angle{speck, 1}, high: angle{speck, -1}}
	var t trial
	lastOfNewton, lastOfBisection := false, false
	for step := range allSteps {
		t = p.try(alpha1, step < newtonSteps)
		enough := epsilon
		if lastOfNewton {
			enough = 8 * epsilon
		}
		if lastOfBisection || !(math.Abs(t.miss) >= enough) {
			break
		}
		b.narrow(alpha1, t.miss, step > newtonSteps)
		if next, ok := t.step(alpha1); ok && step < newtonSteps {
			lastOfNewton = math.Abs(t.miss) <= 16*epsilon
			alpha1 = next
			continue
		}
		lastOfNewton = false
		alpha1, lastOfBisection = b.halve()
	}
	a := p.lengths(t.eps, t.sigma, t.sigma1, t.sigma2)
	return found{a.distance * p.e.b, alpha1, t.alpha2}
}

// step is one step of Newton's method, unless it would leave the half circle
// of headings.
func (t *trial) step(alpha1 angle) (angle, bool) {
	if !(t.slope > 0) {
		return angle{}, false
	}
	d := -t.miss / t.slope
	if !(math.Abs(d) < math.Pi) {
		return angle{}, false
	}
	next := alpha1.plus(turn(d))
	return next.unit(), next.s > 0
}

// try follows the geodesic that sets out at alpha1 to the parallel of the
// second point.
func (p *problem) try(alpha1 angle, slope bool) trial {
	if p.beta1.s == 0 && alpha1.c == 0 {
		// Along the equator no parallel is met: lean away by a speck.
		alpha1.c = -speck
	}
	alpha0 := angle{alpha1.s * p.beta1.c, math.Hypot(alpha1.c, alpha1.s*p.beta1.s)}
	omega1 := angle{alpha0.s * p.beta1.s, alpha1.c * p.beta1.c}
	t := trial{sigma1: angle{p.beta1.s, omega1.c}.unit()}

	t.alpha2 = p.arrival(alpha1, alpha0)
	omega2 := angle{alpha0.s * p.beta2.s, t.alpha2.c * p.beta2.c}
	t.sigma2 = angle{p.beta2.s, omega2.c}.unit()
	t.sigma = arcBetween(t.sigma1, t.sigma2)

	d := omega1.until(omega2)
	d.s = math.Max(0, d.s)
	t.eps = p.e.expansion(alpha0.c)
	w := p.e.waves3(t.eps)
	correction := -p.e.f * p.e.scale3(t.eps) * alpha0.s *
		(t.sigma + (w.at(t.sigma2) - w.at(t.sigma1)))
	t.miss = p.dir.until(d).radians() + correction
	if slope {
		t.slope = p.slope(&t)
	}
	return t
}

// arrival is the heading at the second parallel, by Clairaut's relation.
func (p *problem) arrival(alpha1, alpha0 angle) angle {
	sameParallel := p.beta2.c == p.beta1.c
	a := alpha1
	if !sameParallel {
		a.s = alpha0.s / p.beta2.c
	}
	if sameParallel && math.Abs(p.beta2.s) == -p.beta1.s {
		a.c = math.Abs(alpha1.c)
		return a
	}
	// The difference of two squares, taken on the side that cancels less.
	diff := (p.beta1.s - p.beta2.s) * (p.beta1.s + p.beta2.s)
	if p.beta1.c < -p.beta1.s {
		diff = (p.beta2.c - p.beta1.c) * (p.beta1.c + p.beta2.c)
	}
	along := alpha1.c * p.beta1.c
	a.c = math.Sqrt(along*along+diff) / p.beta2.c
	return a
}

func (p *problem) slope(t *trial) float64 {
	if t.alpha2.c == 0 {
		return -2 * p.e.f1 * p.dn1 / p.beta1.s
	}
	a := p.lengths(t.eps, t.sigma, t.sigma1, t.sigma2)
	return a.reduced * p.e.f1 / (t.alpha2.c * p.beta2.c)
}
