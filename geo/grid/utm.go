package grid

import (
	"math"
	"strconv"

	"wayfall/geo"
)

// UTM is a position on the Universal Transverse Mercator grid. The zero UTM is
// unknown.
type UTM struct {
	Zone  int  // 1 to 60; 0 is unknown
	South bool // of the equator: the northing then counts from 10,000 km south of it

	Easting, Northing geo.Metres
}

const (
	scale    = 0.9996
	eastings = 500_000    // of the middle of a zone
	southing = 10_000_000 // of the equator, for the south

	northEnd, southEnd = 84, -80
)

var figure = newMercator(WGS84)

// ZoneOf returns the zone in which a place is written: six degrees wide,
// widened off Norway and around Svalbard. It is 0 from 84 degrees north
// on, beyond 80 degrees south and for an unknown place. Source: NGA.SIG.0012, The
// Universal Grids and the Transverse Mercator and Polar Stereographic Map
// Projections, 2014.
func ZoneOf(p geo.Point) int {
	lat, lon := float64(p.Lat()), float64(p.Lon())
	if !p.Known() || lat >= northEnd || lat < southEnd {
		return 0
	}
	zone := int(math.Floor((lon+180)/6)) + 1
	switch {
	case lat >= 56 && lat < 64 && lon >= 3 && lon < 12:
		return 32
	case lat >= 72 && lon >= 0 && lon < 42:
		return [...]int{31, 33, 35, 37}[int(lon+3)/12]
	}
	return zone
}

// meridian is the middle of a zone, in degrees.
func meridian(zone int) float64 { return float64(6*zone - 183) }

// Of returns the place on the grid, in its own zone.
func Of(p geo.Point) (UTM, error) {
	zone := ZoneOf(p)
	switch {
	case !p.Known():
		return UTM{}, geo.Errorf(geo.Unknown, "the place is not known")
	case zone == 0:
		return UTM{}, geo.Invalidf("the grid ends at 84 degrees north and 80 degrees south")
	}
	return In(p, zone)
}

// In returns the place on the grid of a zone, which may be a neighbour's: near
// a border two zones are in use. A place that is more than six degrees beyond
// the zone is refused.
func In(p geo.Point, zone int) (UTM, error) {
	switch {
	case !p.Known():
		return UTM{}, geo.Errorf(geo.Unknown, "the place is not known")
	case zone < 1 || zone > 60:
		return UTM{}, geo.Invalidf("there is no zone %d; zones run from 1 to 60", zone)
	case p.Lat() > northEnd || p.Lat() < southEnd:
		return UTM{}, geo.Invalidf("the grid ends at 84 degrees north and 80 degrees south")
	}
	from := math.Remainder(float64(p.Lon())-meridian(zone), 360)
	if math.Abs(from) > 9 {
		return UTM{}, geo.Invalidf("%s is far outside zone %d", p, zone)
	}
	east, north := figure.project(p.Lat().Radians(), geo.Degrees(from).Radians())
	u := UTM{Zone: zone, South: p.Lat() < 0, Easting: geo.Metres(eastings + scale*east), Northing: geo.Metres(scale * north)}
	if u.South {
		u.Northing += southing
	}
	return u, nil
}

// Point returns the place, or an error whose sentence says what cannot be
// right. Up to a degree and a half beyond the ends of the grid are
// answered.
func (u UTM) Point() (geo.Point, error) {
	switch {
	case u.Zone < 1 || u.Zone > 60:
		return geo.Point{}, geo.Invalidf("there is no zone %d; zones run from 1 to 60", u.Zone)
	case !(u.Easting >= 100_000 && u.Easting <= 900_000):
		return geo.Point{}, geo.Invalidf("easting %s is outside every zone; eastings run from 100,000 to 900,000 m", whole(u.Easting))
	case u.South && !(u.Northing >= 1_000_000 && u.Northing <= southing):
		return geo.Point{}, geo.Invalidf("northing %s is not in the south; there northings run from 1,000,000 to 10,000,000 m", whole(u.Northing))
	case !u.South && !(u.Northing >= 0 && u.Northing <= 9_500_000):
		return geo.Point{}, geo.Invalidf("northing %s is not in the north; there northings run from 0 to 9,500,000 m", whole(u.Northing))
	}
	north := float64(u.Northing)
	if u.South {
		north -= southing
	}
	lat, lon := figure.unproject((float64(u.Easting)-eastings)/scale, north/scale)
	return geo.At(geo.Degrees(lat*180/math.Pi), geo.Degrees(math.Remainder(lon*180/math.Pi+meridian(u.Zone), 360)))
}

// String writes zone, hemisphere, easting and northing in whole metres, such
// as "16 north 584123 4712345", or "unknown".
func (u UTM) String() string { return u.Text(0) }

// Text writes the position with so many decimals, from 0 to 9.
func (u UTM) Text(places int) string {
	if u.Zone == 0 {
		return "unknown"
	}
	places = max(0, min(9, places))
	side := " north "
	if u.South {
		side = " south "
	}
	return strconv.Itoa(u.Zone) + side + strconv.FormatFloat(float64(u.Easting), 'f', places, 64) + " " +
		strconv.FormatFloat(float64(u.Northing), 'f', places, 64)
}

func whole(m geo.Metres) string { return strconv.FormatFloat(float64(m), 'f', -1, 64) }
