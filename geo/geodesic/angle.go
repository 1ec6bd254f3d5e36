package geodesic

import "math"

const (
	epsilon = 0x1p-52
	// speck stands for a cosine that would be zero, so that a pole has a
	// meridian: the root of the smallest normal number.
	speck = 0x1p-511
)

// angle is a direction, kept as its sine and cosine so that nothing is lost
// near a right angle.
type angle struct{ s, c float64 }

// unit returns the same direction with length one.
func (a angle) unit() angle {
	h := math.Hypot(a.s, a.c)
	return angle{a.s / h, a.c / h}
}

func (a angle) radians() float64 { return math.Atan2(a.s, a.c) }

func (a angle) plus(b angle) angle {
	return angle{a.s*b.c + a.c*b.s, a.c*b.c - a.s*b.s}
}

// until returns b - a.
func (a angle) until(b angle) angle {
	return angle{a.c*b.s - a.s*b.c, a.c*b.c + a.s*b.s}
}

func turn(radians float64) angle {
	s, c := math.Sincos(radians)
	return angle{s, c}
}

// degrees returns the direction of an angle in degrees, exact at every
// multiple of 90.
func degrees(x float64) angle {
	x = math.Remainder(x, 360)
	quarter := math.RoundToEven(x / 90)
	s, c := math.Sincos((x - 90*quarter) * math.Pi / 180)
	switch int(quarter) & 3 {
	case 1:
		s, c = c, -s
	case 2:
		s, c = -s, -c
	case 3:
		s, c = -c, s
	}
	return angle{s + 0, c + 0}
}

// settle drops an angle, in degrees, so small that it spans less than a
// picometre on the ground; squares of such numbers would underflow.
func settle(x float64) float64 {
	if math.Abs(x) < 0x1p-57 {
		return 0
	}
	return x
}

// inDegrees is atan2 in degrees, exact at every multiple of 90.
func (a angle) inDegrees() float64 {
	s, c := a.s, a.c
	quarter := 0.0
	switch {
	case math.Abs(s) > math.Abs(c) && s >= 0:
		s, c, quarter = -c, s, 90
	case math.Abs(s) > math.Abs(c):
		s, c, quarter = c, -s, -90
	case c < 0:
		s, c, quarter = -s, -c, math.Copysign(180, s)
	}
	return quarter + math.Atan2(s, c)*180/math.Pi
}

// sum returns u + v and what rounding took from it.
func sum(u, v float64) (total, lost float64) {
	total = u + v
	up := total - v
	vp := total - up
	return total, -((up - u) + (vp - v))
}

// eastward returns lon2 - lon1, between -180 and 180, and what rounding took.
func eastward(lon1, lon2 float64) (diff, lost float64) {
	d, e := sum(math.Remainder(-lon1, 360), math.Remainder(lon2, 360))
	d, e = sum(math.Remainder(d, 360), e)
	if d == 0 || math.Abs(d) == 180 {
		// The sign says on which side of the meridian the rest lies.
		sign := -e
		if e == 0 {
			sign = lon2 - lon1
		}
		d = math.Copysign(d, sign)
	}
	return d, e
}
