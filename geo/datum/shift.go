package datum

import (
	"math"

	"wayfall/geo"
)

// ellipsoid is equatorial radius in metres and inverse flattening.
type ellipsoid struct{ radius, inverse float64 }

var (
	wgs84         = ellipsoid{6378137, 298.257223563}
	grs80         = ellipsoid{6378137, 298.257222101}
	clarke1866    = ellipsoid{6378206.4, 294.978698213898}
	clarke1880    = ellipsoid{6378249.145, 293.4663077} // Arc
	bessel        = ellipsoid{6377397.155, 299.1528128}
	airy          = ellipsoid{6377563.396, 299.3249646}
	airyModified  = ellipsoid{6377340.189, 299.3249646}
	international = ellipsoid{6378388, 297}
	australian    = ellipsoid{6378160, 298.25} // and GRS 1967 Modified
	krassowsky    = ellipsoid{6378245, 298.3}
)

// vector is a place in metres from the middle of the Earth.
type vector [3]float64

func (e ellipsoid) squared() float64 { f := 1 / e.inverse; return f * (2 - f) }

// earth turns latitude and longitude on the ellipsoid, at no height, into a
// vector.
func (e ellipsoid) earth(lat, lon float64) vector {
	sin, cos := math.Sincos(lat)
	n := e.radius / math.Sqrt(1-e.squared()*sin*sin)
	sinLon, cosLon := math.Sincos(lon)
	return vector{n * cos * cosLon, n * cos * sinLon, n * (1 - e.squared()) * sin}
}

// surface is the way back, by a fixed point that settles quickly near the
// ground. The height is left out.
func (e ellipsoid) surface(v vector) (lat, lon float64) {
	e2 := e.squared()
	p := math.Hypot(v[0], v[1])
	lat = math.Atan2(v[2], p*(1-e2))
	for range 12 {
		sin, cos := math.Sincos(lat)
		n := e.radius / math.Sqrt(1-e2*sin*sin)
		// From the pole's side or the equator's, whichever is steadier.
		var h float64
		if math.Abs(cos) > 0.5 {
			h = p/cos - n
		} else {
			h = v[2]/sin - n*(1-e2)
		}
		next := math.Atan2(v[2], p*(1-e2*n/(n+h)))
		if math.Abs(next-lat) < 1e-16 {
			break
		}
		lat = next
	}
	return lat, math.Atan2(v[1], v[0])
}

// Method of turning. EPSG registers both senses of rotation.
type method uint8

const (
	translation    method = iota // three numbers
	positionVector               // EPSG 9606
	frameRotation                // EPSG 9607
)

// apply shifts a vector by the parameters: metres, seconds of arc and parts
// per million.
func (s *shift) apply(v vector) vector {
	const second = math.Pi / 180 / 3600
	rx, ry, rz := s.turn[0]*second, s.turn[1]*second, s.turn[2]*second
	if s.method == frameRotation {
		rx, ry, rz = -rx, -ry, -rz
	}
	m := 1 + s.scale*1e-6
	return vector{
		s.move[0] + m*(v[0]-rz*v[1]+ry*v[2]),
		s.move[1] + m*(rz*v[0]+v[1]-rx*v[2]),
		s.move[2] + m*(-ry*v[0]+rx*v[1]+v[2]),
	}
}

// place applies the shift to a place on the ellipsoid.
func (s *shift) place(on ellipsoid, p geo.Point) (geo.Point, error) {
	lat, lon := wgs84.surface(s.apply(on.earth(p.Lat().Radians(), p.Lon().Radians())))
	return geo.At(geo.Degrees(lat*180/math.Pi), geo.Degrees(lon*180/math.Pi))
}
