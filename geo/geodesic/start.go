package geodesic

import "math"

// start returns a heading for Newton's method to begin with, or, for a short
// line, the answer itself.
func (p *problem) start() (alpha1 angle, r found, done bool) {
	north := p.beta2.s*p.beta1.c - p.beta2.c*p.beta1.s // sin(beta2 - beta1)
	apart := p.beta2.c*p.beta1.c + p.beta2.s*p.beta1.s
	across := p.beta2.s*p.beta1.c + p.beta2.c*p.beta1.s // sin(beta2 + beta1)

	omega, dnm := p.dir, 1.0
	short := apart >= 0 && north < 0.5 && p.beta2.c*p.lambda < 0.5
	if short {
		dnm = p.middle()
		omega = turn(p.lambda / (p.e.f1 * dnm))
	}
	alpha1 = p.onSphere(omega, north, across)
	sigma := angle{math.Hypot(alpha1.s, alpha1.c), p.beta1.s*p.beta2.s + p.beta1.c*p.beta2.c*omega.c}

	switch {
	case short && sigma.s < p.e.near:
		alpha2 := angle{p.beta1.c * omega.s, north - p.beta1.c*p.beta2.s*versine(omega)}
		return angle{}, found{sigma.radians() * p.e.b * dnm, forward(alpha1), alpha2.unit()}, true
	case sigma.c < 0 && sigma.s < 6*p.e.n*math.Pi*p.beta1.c*p.beta1.c:
		alpha1 = p.nearAntipode(alpha1, across)
	}
	return forward(alpha1), found{}, false
}

// forward makes a heading of length one; one that would lead nowhere becomes
// due east.
func forward(a angle) angle {
	if a.s <= 0 {
		return angle{1, 0}
	}
	return a.unit()
}

// versine is 1 - cos, without cancellation.
func versine(a angle) float64 {
	if a.c >= 0 {
		return a.s * a.s / (1 + a.c)
	}
	return 1 - a.c
}

// middle is what stretches a short line to the curvature halfway along it.
func (p *problem) middle() float64 {
	s, c := p.beta1.s+p.beta2.s, p.beta1.c+p.beta2.c
	m := s * s / (s*s + c*c)
	return math.Sqrt(1 + p.e.ep2*m)
}

// onSphere is the heading, not yet of length one, that leads to the second
// point on a sphere.
func (p *problem) onSphere(omega angle, north, across float64) angle {
	a := angle{s: p.beta2.c * omega.s}
	if omega.c >= 0 {
		a.c = north + p.beta2.c*p.beta1.s*omega.s*omega.s/(1+omega.c)
	} else {
		a.c = across - p.beta2.c*p.beta1.s*omega.s*omega.s/(1-omega.c)
	}
	return a
}

// nearAntipode starts from the astroid: seen from the opposite point, the
// geodesics through the first point envelope one, and the second point's
// place in it gives the heading. Karney (2013), section 5.
func (p *problem) nearAntipode(alpha1 angle, across float64) angle {
	wide := p.e.f * p.beta1.c * p.e.scale3(p.e.expansion(p.beta1.s)) * math.Pi
	x := math.Atan2(-p.dir.s, -p.dir.c) / wide
	y := across / (wide * p.beta1.c)
	if y > -200*epsilon && x > -1-1000*math.Sqrt(epsilon) {
		// On the short side of the astroid, where its equation degenerates.
		s := math.Min(1, -x)
		return angle{s, -math.Sqrt(1 - s*s)}
	}
	k := astroid(x, y)
	away := turn(wide * -x * k / (1 + k))
	return p.onSphere(angle{away.s, -away.c}, 0, across)
}

// astroid returns the positive root k of
//
//	k^4 + 2k^3 - (x^2 + y^2 - 1)k^2 - 2y^2 k - y^2 = 0
//
// by the resolvent cubic, Karney (2013), equations 55 to 58 and appendix B.
func astroid(x, y float64) float64 {
	p, q := x*x, y*y
	r := (p + q - 1) / 6
	if q == 0 && r <= 0 {
		return 0
	}
	s := p * q / 4
	disc := s * (s + 2*r*r*r)
	u := r
	if disc >= 0 {
		t3 := s + r*r*r
		t3 += math.Copysign(math.Sqrt(disc), t3)
		t := math.Cbrt(t3)
		u += t
		if t != 0 {
			u += r * r / t
		}
	} else {
		u += 2 * r * math.Cos(math.Atan2(math.Sqrt(-disc), -(s+r*r*r))/3)
	}
	v := math.Sqrt(u*u + q)
	uv := u + v
	if u < 0 {
		uv = q / (v - u)
	}
	w := (uv - q) / (2 * v)
	return uv / (math.Sqrt(uv+w*w) + w)
}
