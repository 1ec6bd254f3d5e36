// Package geodesic measures on the WGS 84 ellipsoid: how far, in which
// direction, and where one arrives.
//
// It follows C. F. F. Karney, "Algorithms for geodesics", Journal of Geodesy
// 87 (2013), 43-55, with the series carried to the sixth order. Every pair of
// points has an answer, nearly opposite ones included, to a few nanometres.
// It promises a finite number or an error, never a NaN. It knows nothing of
// heights, roads or slopes.
package geodesic

import (
	"math"

	"wayfall/geo"
)

// Line is the shortest way from one point to another.
type Line struct {
	// Distance is the length of the way.
	Distance geo.Metres
	// Depart is the heading at the first point, clockwise from true north,
	// from 0 up to 360.
	Depart geo.Degrees
	// Arrive is the heading at the second point, onward and not back.
	Arrive geo.Degrees
}

// longest is the farthest that Direct goes: once round the equator.
const longest geo.Metres = 2 * math.Pi * 6378137

// Inverse returns the shortest way from a to b. Between a point and itself
// there is no heading, and both are zero.
func Inverse(a, b geo.Point) (Line, error) {
	if !a.Known() || !b.Known() {
		return Line{}, geo.Errorf(geo.Unknown, "the distance to an unknown point cannot be measured")
	}
	w := wgs84.inverse(float64(a.Lat()), float64(a.Lon()), float64(b.Lat()), float64(b.Lon()))
	if !w.finite() {
		return Line{}, geo.Errorf(geo.Unsolved, "the distance from %v to %v could not be worked out", a, b)
	}
	if w.distance == 0 {
		return Line{}, nil
	}
	return Line{
		Distance: geo.Metres(w.distance),
		Depart:   compass(w.depart),
		Arrive:   compass(w.arrive),
	}, nil
}

// Distance returns the length of the shortest way from a to b.
func Distance(a, b geo.Point) (geo.Metres, error) {
	l, err := Inverse(a, b)
	return l.Distance, err
}

// Direct returns where one arrives from a point by keeping straight on for a
// distance, starting at a heading clockwise from true north, and the heading
// there. A distance below zero is refused: turn the heading round instead.
func Direct(from geo.Point, heading geo.Degrees, distance geo.Metres) (geo.Point, geo.Degrees, error) {
	switch {
	case !from.Known():
		return geo.Point{}, 0, geo.Errorf(geo.Unknown, "one cannot set out from an unknown point")
	case math.IsNaN(float64(heading)) || math.IsInf(float64(heading), 0):
		return geo.Point{}, 0, geo.Invalidf("the heading is not a number")
	case !(distance >= 0 && distance <= longest):
		return geo.Point{}, 0, geo.Invalidf("a distance of %g m is not between 0 and once round the earth", float64(distance))
	}
	lat, lon, onward := wgs84.direct(float64(from.Lat()), float64(from.Lon()), float64(heading), float64(distance))
	p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
	if err != nil || math.IsNaN(onward) {
		return geo.Point{}, 0, geo.Errorf(geo.Unsolved, "the place %g m from %v could not be worked out", float64(distance), from)
	}
	return p, compass(onward), nil
}

// MetresPerDegree returns the ground length of one degree of latitude and of
// one degree of longitude at a latitude: the radii of curvature in the
// meridian and in the parallel, times pi/180.
func MetresPerDegree(lat geo.Degrees) (north, east geo.Metres) {
	s, c := math.Sincos(lat.Radians())
	root := math.Sqrt(1 - wgs84.e2*s*s)
	m := wgs84.a * (1 - wgs84.e2) / (root * root * root)
	n := wgs84.a / root
	return geo.Metres(m * math.Pi / 180), geo.Metres(n * math.Abs(c) * math.Pi / 180)
}

func compass(a float64) geo.Degrees {
	a = math.Remainder(a, 360)
	if a < 0 {
		a += 360
	}
	if a >= 360 {
		a = 0
	}
	return geo.Degrees(a + 0)
}
