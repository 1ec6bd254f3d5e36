package shape

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// WKT writes polygons as well-known text (OGC 06-103r4), longitude first. One
// polygon is a POLYGON; none is empty text.
func WKT(shape orb.MultiPolygon) string {
	switch len(shape) {
	case 0:
		return ""
	case 1:
		return string(appendPolygon([]byte("POLYGON "), shape[0], wktMarks))
	}
	b := []byte("MULTIPOLYGON (")
	for i, p := range shape {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = appendPolygon(b, p, wktMarks)
	}
	return string(append(b, ')'))
}

// GeoJSON writes polygons as a geometry of RFC 7946: outer rings are
// anticlockwise, holes clockwise.
func GeoJSON(shape orb.MultiPolygon) []byte {
	if len(shape) == 0 {
		return []byte("null")
	}
	if len(shape) == 1 {
		b := appendPolygon([]byte(`{"type":"Polygon","coordinates":`), shape[0], jsonMarks)
		return append(b, '}')
	}
	b := []byte(`{"type":"MultiPolygon","coordinates":[`)
	for i, p := range shape {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendPolygon(b, p, jsonMarks)
	}
	return append(b, `]}`...)
}

// marks are what stands around and between rings, points and numbers.
type marks struct{ open, next, shut, point, comma, end string }

var (
	wktMarks  = marks{"(", ", ", ")", "", " ", ""}
	jsonMarks = marks{"[", ",", "]", "[", ",", "]"}
)

func appendPolygon(b []byte, p orb.Polygon, m marks) []byte {
	b = append(b, m.open...)
	for i, ring := range p {
		if i > 0 {
			b = append(b, m.next...)
		}
		b = append(b, m.open...)
		for k, q := range ring {
			if k > 0 {
				b = append(b, m.next...)
			}
			b = append(b, m.point...)
			b = strconv.AppendFloat(b, q[0]+0, 'f', -1, 64)
			b = append(b, m.comma...)
			b = strconv.AppendFloat(b, q[1]+0, 'f', -1, 64)
			b = append(b, m.end...)
		}
		b = append(b, m.shut...)
	}
	return append(b, m.shut...)
}

// Fit is how much larger a given shape is than the true one: their areas'
// ratio where the given covers the true, 0 where it does not, 1 for a point
// given for a point. It is undefined, and ok false, where the true place is a
// point and the given is not (Chapman & Wieczorek 2020, 3.6).
func Fit(given, truth float64, covers bool) (fit float64, ok bool) {
	switch {
	case !(given >= 0 && truth >= 0) || math.IsInf(given, 0) || math.IsInf(truth, 0):
		return 0, false
	case truth == 0 && given == 0 && covers:
		return 1, true
	case !covers:
		return 0, true
	case truth == 0:
		return 0, false
	}
	return given / truth, true
}
