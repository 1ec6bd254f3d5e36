package shape

import (
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Region is a shape on the ground. The zero Region is unknown.
type Region struct {
	frame  frame
	pieces []piece
	grow   float64
}

// Known reports whether the region holds any place.
func (r Region) Known() bool { return r.frame.origin.Known() && len(r.pieces) > 0 }

// Round is everything within a distance of a point.
func Round(at geo.Point, radius geo.Metres) (Region, error) {
	if !at.Known() {
		return Region{}, geo.Errorf(geo.Unknown, "there is no shape around an unknown point")
	}
	if !(radius >= 0 && radius <= reach) {
		return Region{}, geo.Invalidf("a radius of %g m is not possible here", float64(radius))
	}
	return Region{frame{at}, []piece{{xy{}}}, float64(radius)}, nil
}

// Grown is everything within a distance of the region.
func (r Region) Grown(by geo.Metres) Region {
	r.grow += math.Max(0, float64(by))
	return r
}

// Growth is what the region was grown by.
func (r Region) Growth() geo.Metres { return geo.Metres(r.grow) }

// Core is the region without what it was grown by.
func (r Region) Core() Region {
	r.grow = 0
	return r
}

// Holds tells whether a point lies in the region, to within a millimetre and
// the bend of the plane.
func (r Region) Holds(p geo.Point) bool {
	if !r.Known() {
		return false
	}
	at, err := r.frame.plane(p)
	if err != nil {
		return false
	}
	slack := 0.001 + r.grow + bend(at.length())*at.length()
	for _, q := range r.pieces {
		if q.distance(at) <= slack {
			return true
		}
	}
	return false
}

// corners are all corners of the pieces.
func (r Region) corners() []xy {
	if len(r.pieces) == 1 {
		return r.pieces[0]
	}
	n := 0
	for _, p := range r.pieces {
		n += len(p)
	}
	all := make([]xy, 0, n)
	for _, p := range r.pieces {
		all = append(all, p...)
	}
	return all
}

// Radial is the distance from a point to the farthest place of the region.
func (r Region) Radial(from geo.Point) (geo.Metres, error) {
	if !r.Known() {
		return 0, geo.Errorf(geo.Unknown, "an unknown shape has no farthest place")
	}
	at, err := r.frame.plane(from)
	if err != nil {
		return 0, err
	}
	return r.radial(from, at)
}

// radial measures on the ellipsoid what is farthest on the plane, and all
// corners that the bend of the plane might have put behind it.
func (r Region) radial(from geo.Point, at xy) (geo.Metres, error) {
	far, off := 0., at.length()
	corners := r.corners()
	for _, c := range corners {
		far, off = math.Max(far, at.to(c)), math.Max(off, c.length())
	}
	limit, best := far*(1-2*bend(off)), geo.Metres(0)
	measured := 0
	for _, c := range corners {
		if at.to(c) < limit {
			continue
		}
		if measured++; measured > 8 {
			return geo.Metres(far*(1+bend(off)) + r.grow), nil
		}
		p, err := r.frame.point(c)
		if err != nil {
			return 0, err
		}
		d, err := geodesic.Distance(from, p)
		if err != nil {
			return 0, err
		}
		best = max(best, d)
	}
	return best + geo.Metres(r.grow), nil
}

// Circle is the corrected centre and the radial: the smallest circle around
// the region whose centre lies on or in the region (Zermoglio et al. 2020,
// appendix B).
func (r Region) Circle() (geo.Circle, error) {
	if !r.Known() {
		return geo.Circle{}, geo.Errorf(geo.Unknown, "an unknown shape has no centre")
	}
	centre, radius := enclose(r.corners())
	if !r.inside(centre) {
		centre = r.corrected(centre, radius)
	}
	at, err := r.frame.point(centre)
	if err != nil {
		return geo.Circle{}, err
	}
	radial, err := r.radial(at, centre)
	return geo.Circle{Centre: at, Radius: radial}, err
}

func (r Region) inside(at xy) bool {
	for _, p := range r.pieces {
		if p.distance(at) <= r.grow+1e-6 {
			return true
		}
	}
	return false
}

// corrected seeks the place of the region from which the farthest corner is
// nearest. It lies on an edge of a piece, or where it was grown toward the
// centre of the enclosing circle. From a place t away from that centre the
// farthest corner is at least sqrt(radius² + t²) away, which rules out most
// edges.
func (r Region) corrected(centre xy, radius float64) xy {
	around := hull(r.corners())
	far := func(p xy) float64 {
		d := 0.
		for _, c := range around {
			d = math.Max(d, p.to(c))
		}
		return d
	}
	best, at := math.Inf(1), centre
	for _, p := range r.pieces {
		for i := range p {
			a, b := p[i], p[(i+1)%len(p)]
			near := nearest(centre, a, b)
			if math.Hypot(radius, math.Max(0, centre.to(near)-r.grow)) >= best {
				continue
			}
			if q := r.reachedBy(least(a, b, far), centre); far(q) < best {
				best, at = far(q), q
			}
			if q := r.reachedBy(near, centre); far(q) < best {
				best, at = far(q), q
			}
		}
	}
	return at
}

// reachedBy steps from a place on the core toward a goal by what the region
// was grown.
func (r Region) reachedBy(p, goal xy) xy {
	if d := p.to(goal); d > r.grow {
		return between(p, goal, r.grow/d)
	}
	return goal
}

// least is the place on a segment where a convex function is least.
func least(a, b xy, f func(xy) float64) xy {
	low, high := 0., 1.
	for range 48 {
		third := (high - low) / 3
		if f(between(a, b, low+third)) < f(between(a, b, high-third)) {
			high -= third
		} else {
			low += third
		}
	}
	return between(a, b, (low+high)/2)
}
