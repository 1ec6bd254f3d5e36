package uncertainty

import (
	"fmt"
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Sector is an offset: a distance at a heading from a feature, with its
// doubts.
type Sector struct {
	// From is the stated point of the feature.
	From geo.Point
	// Distance and Heading lead from it to the place.
	Distance geo.Metres
	Heading  geo.Degrees
	// Half is how far the distance may be off, HalfAngle the heading.
	Half      geo.Metres
	HalfAngle geo.Degrees
	// Shift is how far the true start may lie from From: the sum of all other
	// terms.
	Shift geo.Metres
}

// margin covers what the search for the worst case may miss: it stops when the
// direction is known to a fraction of a degree.
const margin = 1.0001

// OfSector returns the stated place and the heading term, as OfHeading does,
// but with the worst case sought on the ellipsoid. The difference is that
// north turns with the meridians: a start farther east has another north, by
// 0.7 degrees for 80 km at 45 degrees of latitude, and the plain formula can
// then miss the truth by a few metres in a kilometre.
func OfSector(s Sector) (geo.Point, Term, error) {
	if err := s.check(); err != nil {
		return geo.Point{}, Term{}, err
	}
	stated, _, err := geodesic.Direct(s.From, s.Heading, s.Distance)
	if err != nil {
		return geo.Point{}, Term{}, err
	}
	worst := geo.Metres(0)
	for _, part := range [...]geo.Degrees{-1, -0.5, 0, 0.5, 1} {
		far, err := s.farthest(stated, s.Heading+part*s.HalfAngle)
		if err != nil {
			return geo.Point{}, Term{}, err
		}
		worst = max(worst, far)
	}
	t := OfHeading(s.Distance, s.Half, s.HalfAngle)
	t.Radius = max(0, worst*margin-s.Half-s.Shift)
	t.Because = fmt.Sprintf("the heading may be off by %g degrees to either side over %.0f m; worst case on the ellipsoid", float64(s.HalfAngle), float64(s.Distance))
	return stated, t, nil
}

func (s *Sector) check() error {
	if !s.From.Known() {
		return geo.Errorf(geo.Unknown, "the place that the offset starts from is not known")
	}
	for _, d := range [...]geo.Metres{s.Distance, s.Half, s.Shift} {
		if !(d >= 0 && d <= 1000*geo.Kilometre) {
			return geo.Invalidf("an offset is reckoned up to 1000 km")
		}
	}
	if !(s.HalfAngle >= 0 && s.HalfAngle <= 90) {
		return geo.Invalidf("a heading cannot be off by %g degrees", float64(s.HalfAngle))
	}
	north, _ := geodesic.MetresPerDegree(s.From.Lat())
	poleAway := geo.Metres(90-math.Abs(float64(s.From.Lat()))) * north
	if s.HalfAngle > 0 && poleAway <= s.Shift {
		return geo.Invalidf("a heading means nothing so near a pole")
	}
	return nil
}

// farthest is the greatest distance from the stated point to where one may
// arrive at the outer rim by keeping to a heading, from any start on the edge
// of the shift.
func (s *Sector) farthest(stated geo.Point, heading geo.Degrees) (geo.Metres, error) {
	best, at := geo.Metres(-1), geo.Degrees(0)
	for step := geo.Degrees(45); step > 0.2; step /= 3 {
		from, to := at-3*step, at+3*step
		if best < 0 {
			from, to = 0, 315
		}
		for toward := from; toward <= to; toward += step {
			d, err := s.arrive(stated, toward, heading)
			if err != nil {
				return 0, err
			}
			if d > best {
				best, at = d, toward
			}
		}
		if s.Shift == 0 {
			break
		}
	}
	return best, nil
}

func (s *Sector) arrive(stated geo.Point, toward, heading geo.Degrees) (geo.Metres, error) {
	start, _, err := geodesic.Direct(s.From, toward, s.Shift)
	if err != nil {
		return 0, err
	}
	end, _, err := geodesic.Direct(start, heading, s.Distance+s.Half)
	if err != nil {
		return 0, err
	}
	return geodesic.Distance(stated, end)
}
