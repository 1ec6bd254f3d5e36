package shape_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/shape"
)

// FuzzOf: a shape of any corners either is refused or has a circle around all
// of its corners, whose centre it holds.
func FuzzOf(f *testing.F) {
	f.Add(45.0, -100.0, []byte{0, 0, 100, 0, 100, 100, 0, 100}, true)
	f.Add(-33.0, 179.999, []byte{0, 0, 200, 10, 30, 255}, true)
	f.Add(60.0, 10.0, []byte{1, 2, 3, 4, 9, 9, 80, 1}, false)
	f.Add(89.9, 0.0, []byte{0, 0, 9, 9}, false)
	f.Add(0.0, 0.0, []byte{5, 5}, true)
	f.Fuzz(func(t *testing.T, lat, lon float64, corners []byte, closed bool) {
		if math.IsNaN(lat) || math.IsNaN(lon) || math.Abs(lat) > 85 || math.Abs(lon) > 180 || len(corners) > 60 {
			return
		}
		var line orb.LineString
		for i := 0; i+1 < len(corners); i += 2 {
			q := orb.Point{lon + float64(corners[i])/500, lat + float64(corners[i+1])/800}
			q[0] = math.Remainder(q[0], 360)
			line = append(line, q)
		}
		var g orb.Geometry = line
		if closed && len(line) > 0 {
			g = orb.Polygon{append(append(orb.Ring(nil), line...), line[0])}
		}
		r, err := shape.Of(g)
		if err != nil {
			return
		}
		c, err := r.Circle()
		if err != nil {
			t.Fatalf("%v: got no circle: %v", g, err)
		}
		if !r.Holds(c.Centre) {
			t.Errorf("%v: got the centre %v, want it on or in the shape", g, c.Centre)
		}
		for _, q := range line {
			p, err := geo.At(geo.Degrees(q[1]), geo.Degrees(q[0]))
			if err != nil {
				t.Fatal(err)
			}
			if d, _ := geodesic.Distance(c.Centre, p); d > c.Radius+0.001 {
				t.Errorf("%v: got a radius of %.3f m, want the corner %v at %.3f m inside", g, c.Radius, p, d)
			}
		}
		outline, _ := r.Grown(25).Outline()
		if len(outline) == 0 {
			t.Errorf("%v: got no outline", g)
		}
	})
}
