package geodesic

import "math"

// direct solves for the far end. All angles are in degrees; the longitude
// comes back between -180 and 180.
func (e *ellipsoid) direct(lat1, lon1, depart, distance float64) (lat2, lon2, arrive float64) {
	alpha1, beta1 := degrees(settle(depart)), e.reduced(settle(lat1))
	alpha0 := angle{alpha1.s * beta1.c, math.Hypot(alpha1.c, alpha1.s*beta1.s)}

	// sigma is arc length along the geodesic and omega longitude on the
	// auxiliary sphere, both counted from where it crosses the equator.
	sigma1 := angle{beta1.s, 1}
	if beta1.s != 0 || alpha1.c != 0 {
		sigma1.c = beta1.c * alpha1.c
	}
	omega1 := angle{alpha0.s * beta1.s, sigma1.c}
	sigma1 = sigma1.unit()

	eps := e.expansion(alpha0.c)
	out, back := fourier(&seriesC1, eps), fourier(&seriesC1Back, eps)
	before := out.at(sigma1)
	tau := distance / (e.b * scale1(eps))
	after := -back.at(sigma1.plus(turn(before)).plus(turn(tau)))
	arc := tau - (after - before)
	sigma2 := sigma1.plus(turn(arc))

	beta2 := angle{alpha0.c * sigma2.s, math.Hypot(alpha0.s, alpha0.c*sigma2.c)}
	if beta2.c == 0 {
		beta2.c, sigma2.c = speck, speck
	}
	omega2 := angle{alpha0.s * sigma2.s, sigma2.c}
	alpha2 := angle{alpha0.s, alpha0.c * sigma2.c}

	east := e.waves3(eps)
	lambda := omega1.until(omega2).radians() -
		e.f*alpha0.s*e.scale3(eps)*(arc+(east.at(sigma2)-east.at(sigma1)))
	lon2 = math.Remainder(math.Remainder(lon1, 360)+math.Remainder(lambda*180/math.Pi, 360), 360)
	return angle{beta2.s, e.f1 * beta2.c}.inDegrees(), lon2, alpha2.inDegrees()
}
