package geodesic

import "math"

// way is the answer to the inverse problem, headings in degrees.
type way struct{ distance, depart, arrive float64 }

func (w way) finite() bool {
	for _, v := range [...]float64{w.distance, w.depart, w.arrive} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return w.distance >= 0
}

// problem is the inverse problem in its standard form: the first point is in
// the south (or on the equator) and not nearer to it than the second, the
// second lies to the east.
type problem struct {
	e            *ellipsoid
	beta1, beta2 angle
	dn1, dn2     float64
	lambda       float64 // longitude difference in radians
	dir          angle   // its direction, accurate near 180 degrees
}

// found is a solution in standard form.
type found struct {
	distance       float64
	alpha1, alpha2 angle
}

func (e *ellipsoid) inverse(lat1, lon1, lat2, lon2 float64) way {
	east, lost := eastward(lon1, lon2)
	westward := math.Signbit(east)
	if westward {
		east, lost = -east, -lost
	}
	lat1, lat2, east = settle(lat1), settle(lat2), settle(east)
	swapped := math.Abs(lat1) < math.Abs(lat2)
	if swapped {
		lat1, lat2 = lat2, lat1
	}
	mirrored := !math.Signbit(lat1)
	if mirrored {
		lat1, lat2 = -lat1, -lat2
	}

	p := e.standard(lat1, lat2, east, lost)
	short := (180 - east) - lost
	r := p.solve(lat1 == -90, short)

	if swapped {
		r.alpha1, r.alpha2 = r.alpha2, r.alpha1
	}
	if westward {
		r.alpha1.s, r.alpha2.s = -r.alpha1.s, -r.alpha2.s
	}
	if swapped != mirrored {
		r.alpha1.c, r.alpha2.c = -r.alpha1.c, -r.alpha2.c
	}
	return way{r.distance, r.alpha1.inDegrees(), r.alpha2.inDegrees()}
}

func (e *ellipsoid) standard(lat1, lat2, east, lost float64) *problem {
	p := &problem{e: e, beta1: e.reduced(lat1), beta2: e.reduced(lat2), lambda: east * math.Pi / 180}
	if east > 90 {
		p.dir = degrees((180 - east) - lost)
		p.dir.c = -p.dir.c
	} else {
		p.dir = degrees(east)
	}
	// Equal latitudes must have equal reduced latitudes to the last bit.
	if p.beta1.c < -p.beta1.s {
		if p.beta2.c == p.beta1.c {
			p.beta2.s = math.Copysign(p.beta1.s, p.beta2.s)
		}
	} else if math.Abs(p.beta2.s) == -p.beta1.s {
		p.beta2.c = p.beta1.c
	}
	p.dn1 = math.Sqrt(1 + e.ep2*p.beta1.s*p.beta1.s)
	p.dn2 = math.Sqrt(1 + e.ep2*p.beta2.s*p.beta2.s)
	return p
}

// solve takes the easy cases first: along a meridian, along the equator, a
// short line; then Newton's method. short is 180 degrees less the difference
// in longitude.
func (p *problem) solve(pole bool, short float64) found {
	if pole || p.dir.s == 0 {
		if r, ok := p.meridian(); ok {
			return r
		}
	}
	if p.beta1.s == 0 && short >= p.e.f*180 {
		return found{p.e.a * p.lambda, angle{1, 0}, angle{1, 0}}
	}
	alpha1, r, done := p.start()
	if done {
		return r
	}
	return p.newton(alpha1)
}

// meridian goes north or over a pole. It declines when the way over the pole
// is not the shortest, which happens close to the opposite point.
func (p *problem) meridian() (found, bool) {
	alpha1, alpha2 := p.dir, angle{0, 1}
	sigma1 := angle{p.beta1.s, alpha1.c * p.beta1.c}
	sigma2 := angle{p.beta2.s, alpha2.c * p.beta2.c}
	a := p.lengths(p.e.n, arcBetween(sigma1, sigma2), sigma1, sigma2)
	if a.sigma >= 1 && a.reduced < 0 {
		return found{}, false
	}
	if a.sigma < 3*speck {
		a.distance = 0
	}
	return found{a.distance * p.e.b, alpha1, alpha2}, true
}

// arcBetween is the angle from one direction to another, never below zero.
func arcBetween(from, to angle) float64 {
	d := from.until(to)
	return math.Atan2(math.Max(0, d.s), d.c)
}

// arc holds an arc on the auxiliary sphere and, over the polar radius, its
// distance and reduced length.
type arc struct{ sigma, distance, reduced float64 }

// lengths measures the arc sigma between two directions. On a meridian eps is
// the third flattening.
func (p *problem) lengths(eps, sigma float64, sigma1, sigma2 angle) arc {
	w1, w2 := fourier(&seriesC1, eps), fourier(&seriesC2, eps)
	s1, s2 := scale1(eps), scale2(eps)
	b1 := w1.at(sigma2) - w1.at(sigma1)
	b2 := w2.at(sigma2) - w2.at(sigma1)
	j := excess(eps)*sigma + (s1*b1 - s2*b2)
	reduced := p.dn2*(sigma1.c*sigma2.s) - p.dn1*(sigma1.s*sigma2.c) - sigma1.c*sigma2.c*j
	return arc{sigma: sigma, distance: s1 * (sigma + b1), reduced: reduced}
}

// excess is A1 - A2, without the cancellation of their ones.
func excess(eps float64) float64 {
	e2 := eps * eps
	tail1 := polynomial(seriesA1[1:]).at(e2) * e2
	tail2 := polynomial(seriesA2[1:]).at(e2) * e2
	return (tail1+eps)/(1-eps) - (tail2*(1-eps) - eps)
}
