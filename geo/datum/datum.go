package datum

import (
	"strings"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Datum is one that places were written on. The zero Datum is unknown.
type Datum struct{ d *datum }

type datum struct {
	name   string   // as people write it
	code   int      // of its geographic system, EPSG
	other  []string // further spellings, in capitals without spaces and signs
	on     ellipsoid
	shifts []shift
}

// shift is one registered way to WGS 84, with the area that it is for.
type shift struct {
	code                     int // EPSG
	accuracy                 float64
	south, north, west, east float64
	move                     vector
	turn                     vector
	scale                    float64
	method                   method
}

// Named returns the datum that a person, a map or a program calls so: its
// name, its EPSG code, or a usual spelling. Case, spaces and signs do not
// matter.
func Named(text string) (Datum, bool) {
	key := folded(text)
	if key == "" {
		return Datum{}, false
	}
	for i := range all {
		if key == folded(all[i].name) || key == "EPSG"+number(all[i].code) {
			return Datum{&all[i]}, true
		}
		for _, o := range all[i].other {
			if key == o {
				return Datum{&all[i]}, true
			}
		}
	}
	return Datum{}, false
}

func folded(text string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToUpper(text))
}

func number(n int) string {
	var b []byte
	for ; n > 0; n /= 10 {
		b = append([]byte{byte('0' + n%10)}, b...)
	}
	return string(b)
}

// All returns every datum that is known here.
func All() []Datum {
	out := make([]Datum, len(all))
	for i := range all {
		out[i] = Datum{&all[i]}
	}
	return out
}

// Known reports whether it is a datum at all.
func (d Datum) Known() bool { return d.d != nil }

// String returns the name, or "unknown".
func (d Datum) String() string {
	if d.d == nil {
		return "unknown"
	}
	return d.d.name
}

// Code returns the EPSG code of the datum's geographic system, or 0.
func (d Datum) Code() int {
	if d.d == nil {
		return 0
	}
	return d.d.code
}

// Shifted is a place brought to WGS 84.
type Shifted struct {
	Point geo.Point
	// Within is how far from Point the place may lie, at 95 %. Areas of use are
	// registered as boxes, which overlap; it holds what each of the shifts
	// whose box holds the place gives, with the accuracy of that one.
	Within geo.Metres
	// Code is the EPSG code of the shift that was taken, and Accuracy what is
	// registered with it.
	Code     int
	Accuracy geo.Metres
}

// toNinetyFive turns a registered accuracy, which comes without a level of
// confidence and is taken for a two-dimensional root mean square, to 95 %.
const toNinetyFive = 1.731

// ToWGS84 brings a place that was written on the datum to WGS 84, by that
// shift in use there which leaves least open. A place outside every area is
// refused.
func (d Datum) ToWGS84(p geo.Point) (Shifted, error) {
	switch {
	case d.d == nil:
		return Shifted{}, geo.Errorf(geo.Unknown, "the datum is not known")
	case !p.Known():
		return Shifted{}, geo.Errorf(geo.Unknown, "the place is not known")
	}
	found, err := d.d.ways(p)
	if err != nil {
		return Shifted{}, err
	}
	if len(found) == 0 {
		return Shifted{}, geo.Invalidf("%s was not in use at %s", d.d.name, p)
	}
	var best Shifted
	for i, s := range found {
		for _, other := range found {
			off, err := geodesic.Distance(s.Point, other.Point)
			if err != nil {
				return Shifted{}, err
			}
			s.Within = max(s.Within, off+other.Accuracy*toNinetyFive)
		}
		if i == 0 || s.Within < best.Within {
			best = s
		}
	}
	return best, nil
}

// ways returns where each shift whose box holds the place brings it.
func (d *datum) ways(p geo.Point) ([]Shifted, error) {
	var out []Shifted
	for i := range d.shifts {
		s := &d.shifts[i]
		if !s.holds(p) {
			continue
		}
		q, err := s.place(d.on, p)
		if err != nil {
			return nil, err
		}
		out = append(out, Shifted{Point: q, Code: s.code, Accuracy: geo.Metres(s.accuracy)})
	}
	return out, nil
}

func (s *shift) holds(p geo.Point) bool {
	lat, lon := float64(p.Lat()), float64(p.Lon())
	across := s.west <= lon && lon <= s.east
	if s.west > s.east {
		across = lon >= s.west || lon <= s.east
	}
	return s.south <= lat && lat <= s.north && across
}
