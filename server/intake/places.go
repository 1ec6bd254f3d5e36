package intake

import (
	"math"

	"wayfall/geo"
	"wayfall/sync/record"
)

// halfEarth is the largest radius that means anything: half of the equator.
const halfEarth = 20037509

func (s *shaper) fix(f record.Fix) {
	s.position(f.Lat, f.Lon)
	s.radius("/accuracy_m", f.Accuracy)
	if f.Level < 0 || f.Level > 1 {
		s.say(BadValue, "/level", "%v is not a probability", f.Level)
	}
}

func (s *shaper) place(p record.Georeference) {
	if p.Known {
		s.position(p.Lat, p.Lon)
	}
	s.radius("/radius_m", p.Radius)
	for _, t := range p.Terms {
		s.radius("/terms", t.Metres)
	}
}

func (s *shaper) radius(at string, m float64) {
	if math.IsNaN(m) || m < 0 || m > halfEarth {
		s.say(BadValue, at, "%v m is not a distance on the ground", m)
	}
}

func (s *shaper) position(lat, lon float64) {
	if lat == 0 && lon == 0 {
		s.say(PlaceDoubt, "", "0, 0 lies in the Gulf of Guinea and usually means that nothing was measured")
		return
	}
	if _, err := geo.At(geo.Degrees(lat), geo.Degrees(lon)); err != nil {
		at := "/lat"
		if math.Abs(lat) <= 90 {
			at = "/lon"
		}
		s.say(PlaceDoubt, at, "%v", err)
	}
}
