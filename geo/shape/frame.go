package shape

import (
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// xy is a place on the plane of a frame, in metres east and north.
type xy struct{ x, y float64 }

func (a xy) plus(b xy) xy       { return xy{a.x + b.x, a.y + b.y} }
func (a xy) minus(b xy) xy      { return xy{a.x - b.x, a.y - b.y} }
func (a xy) times(k float64) xy { return xy{a.x * k, a.y * k} }
func (a xy) cross(b xy) float64 { return a.x*b.y - a.y*b.x }
func (a xy) dot(b xy) float64   { return a.x*b.x + a.y*b.y }
func (a xy) length() float64    { return math.Hypot(a.x, a.y) }
func (a xy) to(b xy) float64    { return b.minus(a).length() }
func polar(r, degrees float64) xy {
	s, c := math.Sincos(degrees * math.Pi / 180)
	return xy{r * s, r * c}
}
func turn(o, a, b xy) float64       { return a.minus(o).cross(b.minus(o)) }
func between(a, b xy, t float64) xy { return xy{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)} }

// frame is the plane on which distance and heading from its origin are those
// of the ellipsoid (the azimuthal equidistant projection). Between two other
// points the plane is too long, by at most bend of their distance from the
// origin.
type frame struct{ origin geo.Point }

// reach is how far from the origin a frame is used.
const reach = 1500 * geo.Kilometre

// tight is the smallest radius of curvature of the ellipsoid, in metres.
const tight = 6.33e6

// bend bounds by which share distances on the plane and on the ellipsoid
// differ among points up to r metres from the origin.
func bend(r float64) float64 { return 1e-9 + 0.2*(r/tight)*(r/tight) }

func (f frame) plane(p geo.Point) (xy, error) {
	l, err := geodesic.Inverse(f.origin, p)
	if err != nil {
		return xy{}, err
	}
	if l.Distance > reach {
		return xy{}, geo.Invalidf("%v lies too far from %v to be part of one place", p, f.origin)
	}
	return polar(float64(l.Distance), float64(l.Depart)), nil
}

func (f frame) point(a xy) (geo.Point, error) {
	heading := math.Atan2(a.x, a.y) * 180 / math.Pi
	p, _, err := geodesic.Direct(f.origin, geo.Degrees(heading), geo.Metres(a.length()))
	return p, err
}

// lean is by how many degrees, clockwise, north at a place x metres east of the
// origin leans from the plane's north: the meridians run together, so that it
// leans back west in the northern half of the world.
func (f frame) lean(x float64) float64 {
	lat := max(-89.9, min(89.9, f.origin.Lat()))
	_, degree := geodesic.MetresPerDegree(lat)
	return -x / float64(degree) * math.Sin(lat.Radians())
}
