package geo

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// Point is a position on WGS 84. The zero Point is unknown, so a report
// without a fix cannot end up in the Gulf of Guinea. Points can be compared
// with ==: every meridian has one spelling (see At).
type Point struct {
	lat, lon Degrees
	known    bool
}

// At returns the point at a latitude and longitude, or an error of kind
// Invalid whose sentence says what cannot be right. The longitude 180 is
// stored as -180, as ISO 6709 writes it, and a negative zero as zero.
func At(lat, lon Degrees) (Point, error) {
	switch {
	case !finite(lat):
		return Point{}, Invalidf("the latitude is not a number")
	case !finite(lon):
		return Point{}, Invalidf("the longitude is not a number")
	case math.Abs(float64(lat)) > 90 && math.Abs(float64(lon)) <= 90:
		return Point{}, Invalidf("latitude %s is beyond a pole; latitude and longitude may be swapped", number(lat))
	case math.Abs(float64(lat)) > 90:
		return Point{}, Invalidf("latitude %s is beyond a pole; latitudes run from -90 to 90", number(lat))
	case math.Abs(float64(lon)) > 180:
		return Point{}, Invalidf("longitude %s is past the date line; longitudes run from -180 to 180", number(lon))
	}
	if lon == 180 {
		lon = -180
	}
	return Point{lat: lat + 0, lon: lon + 0, known: true}, nil
}

func finite(d Degrees) bool { return !math.IsNaN(float64(d)) && !math.IsInf(float64(d), 0) }

func number(d Degrees) string { return strconv.FormatFloat(float64(d), 'f', -1, 64) }

// Known reports whether the point is a place at all.
func (p Point) Known() bool { return p.known }

// Lat returns the latitude, or 0 when the point is unknown: ask Known first.
func (p Point) Lat() Degrees { return p.lat }

// Lon returns the longitude, at least -180 and less than 180, or 0 when the
// point is unknown: ask Known first.
func (p Point) Lon() Degrees { return p.lon }

// String returns "lat, lon" in decimal degrees, or "unknown".
func (p Point) String() string {
	if !p.known {
		return "unknown"
	}
	return number(p.lat) + ", " + number(p.lon)
}

// MarshalJSON writes {"lat":..,"lon":..}, or null when the point is unknown.
func (p Point) MarshalJSON() ([]byte, error) {
	if !p.known {
		return []byte("null"), nil
	}
	b := append([]byte(nil), `{"lat":`...)
	b = append(b, number(p.lat)...)
	b = append(b, `,"lon":`...)
	b = append(b, number(p.lon)...)
	return append(b, '}'), nil
}

// UnmarshalJSON reads what MarshalJSON writes. Both members must be there and
// possible; null is the unknown point.
func (p *Point) UnmarshalJSON(b []byte) error {
	if string(bytes.TrimSpace(b)) == "null" {
		*p = Point{}
		return nil
	}
	var wire struct {
		Lat *Degrees `json:"lat"`
		Lon *Degrees `json:"lon"`
	}
	if err := json.Unmarshal(b, &wire); err != nil {
		return &Error{Kind: Invalid, Sentence: fmt.Sprintf("a point is written as {\"lat\":..,\"lon\":..}: %v", err)}
	}
	if wire.Lat == nil || wire.Lon == nil {
		return Invalidf("a point needs both lat and lon")
	}
	q, err := At(*wire.Lat, *wire.Lon)
	if err != nil {
		return err
	}
	*p = q
	return nil
}
