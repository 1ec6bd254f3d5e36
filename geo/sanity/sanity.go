// Package sanity looks for the usual slips in a position: zeros for unknown,
// numbers swapped, a sign lost, the museum's own address.
//
// It returns findings with reasons and, where one slip explains everything,
// the point that was probably meant. It never corrects anything, and an odd
// place may be the right one: a person decides. It works from what it is
// handed and knows no borders by itself.
package sanity

import (
	"fmt"
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/region"
)

// Finding is one odd thing about a position.
type Finding struct {
	geo.Finding
	// Instead is the point that was probably meant, or unknown.
	Instead geo.Point `json:"instead"`
}

// Place is a place where reports are written rather than animals found: the
// museum, a home.
type Place struct {
	Name string
	At   geo.Circle
}

// Surroundings is what positions are held against.
type Surroundings struct {
	// Home reports whether a point lies where the institution collects. Nil
	// means that nobody said, and nothing is held against it.
	Home func(geo.Point) bool
	// Places are the known places.
	Places []Place
}

// HomeOf makes a Home of states on a map. A point near their border, as the
// map understands near, is at home as well.
func HomeOf(m *region.Map, states ...region.ID) func(geo.Point) bool {
	home := make(map[region.ID]bool)
	for _, id := range states {
		home[id] = true
	}
	return func(p geo.Point) bool {
		for _, h := range m.Locate(geo.Circle{Centre: p}) {
			if home[h.ID] {
				return true
			}
		}
		return false
	}
}

// Data-quality rules of this kind are common practice; the first three, and
// the swap and the sign, are among the frequent errors that the source lists.
const (
	errorsList = "Chapman & Wieczorek, Georeferencing Best Practices, GBIF Secretariat 2020, frequent errors"
	practice   = "common practice"
)

// Check returns what is odd about a position. An unknown point is not odd, it
// is unknown, and has no findings.
func Check(p geo.Point, s Surroundings) []Finding {
	if !p.Known() {
		return nil
	}
	found := zeros(p)
	if len(found) == 0 {
		found = append(found, pattern(p)...)
	}
	found = append(found, s.known(p)...)
	if s.Home != nil && !s.Home(p) {
		found = append(found, s.away(p))
	}
	return found
}

func zeros(p geo.Point) []Finding {
	switch {
	case p.Lat() == 0 && p.Lon() == 0:
		return []Finding{note("zero-zero", "latitude and longitude are both zero, which usually stands for unknown", errorsList)}
	case p.Lat() == 0:
		return []Finding{note("zero-latitude", "the latitude is exactly zero, which usually stands for unknown", errorsList)}
	case p.Lon() == 0:
		return []Finding{note("zero-longitude", "the longitude is exactly zero, which usually stands for unknown", errorsList)}
	}
	return nil
}

func pattern(p geo.Point) []Finding {
	var found []Finding
	lat, lon := math.Abs(float64(p.Lat())), math.Abs(float64(p.Lon()))
	if lat == lon {
		found = append(found, note("equal", "latitude and longitude are the same number; one may have been copied into the other", practice))
	}
	if lat == math.Trunc(lat) && lon == math.Trunc(lon) {
		found = append(found, note("whole-degrees", "both numbers are whole degrees; the place may be off by 100 km", practice))
	}
	return found
}

func (s *Surroundings) known(p geo.Point) []Finding {
	var found []Finding
	for _, place := range s.Places {
		if !place.At.Known() {
			continue
		}
		d, err := geodesic.Distance(p, place.At.Centre)
		if err == nil && d <= place.At.Radius {
			found = append(found, note("known-place", fmt.Sprintf(
				"the position is that of %s; it may say where the report was written and not where the animal lay", place.Name), practice))
		}
	}
	return found
}

// slips, the simplest first.
var slips = []struct {
	code, because string
	undo          func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees)
}{
	{"sign-lost", "with the other sign of the longitude it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return lat, -lon }},
	{"sign-lost", "with the other sign of the latitude it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return -lat, lon }},
	{"swapped", "with latitude and longitude swapped it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return lon, lat }},
	{"sign-lost", "with both signs turned it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return -lat, -lon }},
	{"swapped-sign-lost", "with latitude and longitude swapped and a minus sign it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return lon, -lat }},
	{"swapped-sign-lost", "with latitude and longitude swapped and a sign turned it would lie where this institution collects",
		func(lat, lon geo.Degrees) (geo.Degrees, geo.Degrees) { return -lon, lat }},
}

// away explains a point outside the home region by the simplest slip that
// would bring it home.
func (s *Surroundings) away(p geo.Point) Finding {
	for _, slip := range slips {
		q, err := geo.At(slip.undo(p.Lat(), p.Lon()))
		if err == nil && s.Home(q) {
			f := note(slip.code, "the place is outside the region; "+slip.because, errorsList)
			f.Instead = q
			return f
		}
	}
	return note("outside", "the place is outside the region where this institution collects", practice)
}

func note(code, because, cites string) Finding {
	return Finding{Finding: geo.Finding{Code: code, Because: because, Cites: cites}}
}
