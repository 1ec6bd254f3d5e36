package shape_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/shape"
)

func at(lat, lon float64) geo.Point {
	p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
	if err != nil {
		panic(err)
	}
	return p
}

func metres(a, b geo.Point) float64 {
	d, err := geodesic.Distance(a, b)
	if err != nil {
		panic(err)
	}
	return float64(d)
}

func ExampleRegion_Circle() {
	// A horseshoe: its middle is not part of it, so that the centre moves onto
	// it and the radius grows.
	horseshoe := orb.Polygon{{{0, 0}, {0.3, 0}, {0.3, 0.3}, {0.28, 0.3}, {0.28, 0.02}, {0.02, 0.02}, {0.02, 0.3}, {0, 0.3}, {0, 0}}}
	r, _ := shape.Of(horseshoe)
	c, _ := r.Circle()
	fmt.Printf("%.3f, %.3f within %.0f m\n", c.Centre.Lat(), c.Centre.Lon(), c.Radius)
	// Output: 0.020, 0.150 within 35177 m
}

func ExampleWKT() {
	fmt.Println(shape.WKT(orb.MultiPolygon{{{{-100, 45}, {-99, 45}, {-99, 46}, {-100, 45}}}}))
	// Output: POLYGON ((-100 45, -99 45, -99 46, -100 45))
}

// TestTheCircleIsTheSmallestWhoseCentreLiesInTheShape: against a search over
// places of the shape.
func TestTheCircleIsTheSmallestWhoseCentreLiesInTheShape(t *testing.T) {
	chance := rand.New(rand.NewSource(1))
	for n := range 40 {
		lat, lon, size := 120*chance.Float64()-60, 360*chance.Float64()-180, 0.01+0.2*chance.Float64()
		ring := star(chance, lat, lon, size)
		r, err := shape.Of(orb.Polygon{ring})
		if err != nil {
			t.Fatal(err)
		}
		c, err := r.Circle()
		if err != nil {
			t.Fatal(err)
		}
		radial := func(p geo.Point) float64 {
			far := 0.
			for _, q := range ring {
				far = math.Max(far, metres(p, at(q[1], q[0])))
			}
			return far
		}
		if got, want := float64(c.Radius), radial(c.Centre); got < want-1e-3 || got > 1.001*want {
			t.Errorf("shape %d: got a radius of %.2f m, want the farthest corner's %.2f m", n, got, want)
		}
		for range 400 {
			p := at(lat+size*(2*chance.Float64()-1), math.Remainder(lon+2*size*(2*chance.Float64()-1), 360))
			if r.Holds(p) {
				if other := radial(p); other < float64(c.Radius)*0.998 {
					t.Errorf("shape %d: got %.1f m around %v, but %v in the shape has %.1f m", n, c.Radius, c.Centre, p, other)
				}
			}
		}
	}
}

// star is a ring of corners at random distances around a point.
func star(chance *rand.Rand, lat, lon, size float64) orb.Ring {
	var ring orb.Ring
	n := 5 + chance.Intn(12)
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d := size * (0.2 + 0.8*chance.Float64())
		ring = append(ring, orb.Point{math.Remainder(lon+d*s/math.Cos(lat*math.Pi/180), 360), lat + d*c})
	}
	return append(ring, ring[0])
}

// TestTheOutlineHoldsWhatTheRegionHolds: the sewn outline against the pieces,
// by chance points, for sweeps, buffers and shared ground.
func TestTheOutlineHoldsWhatTheRegionHolds(t *testing.T) {
	chance := rand.New(rand.NewSource(2))
	sewn := 0
	for n := range 32 {
		lat, lon := 120*chance.Float64()-60, 300*chance.Float64()-150
		r := anyRegion(t, chance, n, lat, lon)
		if !r.Known() {
			continue
		}
		outline, plain := r.Outline()
		if !plain {
			sewn++
		}
		differ, in := 0, 0
		for range 200 {
			p := at(lat+0.4*(2*chance.Float64()-1), lon+0.5*(2*chance.Float64()-1))
			a, b := r.Holds(p), drawn(outline, float64(p.Lon()), float64(p.Lat()))
			if a {
				in++
			}
			if a != b && !plain {
				differ++
			}
		}
		// Arcs are drawn with corners: a few points fall between.
		if differ*50 > in+50 {
			t.Errorf("region %d: got %d of %d points otherwise in the outline than in the region", n, differ, in)
		}
	}
	if sewn < 29 {
		t.Errorf("got %d of 32 outlines sewn, want nearly all", sewn)
	}
	t.Logf("SHOW outlines: %d of 32 sewn from their pieces, the others drawn as their hull", sewn)
}

func anyRegion(t *testing.T, chance *rand.Rand, n int, lat, lon float64) shape.Region {
	t.Helper()
	r, err := shape.Of(orb.Polygon{star(chance, lat, lon, 0.05)})
	if err != nil {
		t.Fatal(err)
	}
	r = r.Grown(geo.Metres(500 * chance.Float64()))
	switch n % 4 {
	case 1:
		r, err = r.Swept(shape.Step{Distance: 12000, Half: 500, Heading: geo.Degrees(360 * chance.Float64()), HalfAngle: 45})
	case 2:
		var line shape.Region
		line, err = shape.Of(orb.LineString{{lon - 0.2, lat}, {lon, lat + 0.1}, {lon + 0.2, lat - 0.1}})
		r = line.Grown(3000)
	case 3:
		var other shape.Region
		other, err = shape.Of(orb.Polygon{star(chance, lat+0.02, lon, 0.06)})
		if err == nil {
			r, err = shape.Shared(r, other.Grown(200))
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func drawn(m orb.MultiPolygon, lon, lat float64) bool {
	for _, p := range m {
		in := false
		for _, ring := range p {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > lat) != (b[1] > lat) && lon < a[0]+(lat-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
					in = !in
				}
			}
		}
		if in {
			return true
		}
	}
	return false
}

// TestFitIsThePublishedRatio: Chapman & Wieczorek (2020), 3.6.
func TestFitIsThePublishedRatio(t *testing.T) {
	for _, tt := range []struct {
		name         string
		given, truth float64
		covers       bool
		fit          float64
		ok           bool
	}{
		{"a circle of 5.726 km2 over 4.1 km2 of land", 5.726, 4.1, true, 1.3966, true},
		{"a shape that leaves a part of the true one outside", 5, 4, false, 0, true},
		{"a point for a point", 0, 0, true, 1, true},
		{"an area for a point", 3, 0, true, 0, false},
		{"a circle over a square of the same radial (arithmetic)", math.Pi, 2, true, 1.570796, true},
	} {
		fit, ok := shape.Fit(tt.given, tt.truth, tt.covers)
		if math.Abs(fit-tt.fit) > 1e-4 || ok != tt.ok {
			t.Errorf("%s: got %g, %v, want %g, %v", tt.name, fit, ok, tt.fit, tt.ok)
		}
	}
}

func TestAreasOfKnownShapes(t *testing.T) {
	round, err := shape.Round(at(45, -100), 1000)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := round.Area(), math.Pi*1e6; got < want || got > 1.002*want {
		t.Errorf("a circle of 1 km: got %.0f m2, want %.0f to 0.2 %% more", got, want)
	}
	ring, err := round.Swept(shape.Step{Distance: 10_000, Half: 500, HalfAngle: 180})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := ring.Area(), math.Pi*(11.5*11.5-8.5*8.5)*1e6; math.Abs(got-want) > 0.01*want {
		t.Errorf("a ring from 8.5 to 11.5 km: got %.2f km2, want %.2f", got/1e6, want/1e6)
	}
	if outline, _ := ring.Outline(); len(outline) != 1 || len(outline[0]) != 2 {
		t.Errorf("a ring: got %d polygons, want one with one hole", len(outline))
	}
	line, err := shape.Of(orb.LineString{{0, 0}, {1, 0}})
	if err != nil || line.Core().Area() != 0 {
		t.Errorf("a line: got %g m2, %v, want none", line.Core().Area(), err)
	}
}

func TestAcrossTheDateLineAShapeStaysWhole(t *testing.T) {
	r, err := shape.Of(orb.Polygon{{{179.9, -17}, {-179.9, -17}, {-179.9, -16.8}, {179.9, -16.8}, {179.9, -17}}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := r.Circle()
	if err != nil || c.Radius > 16_000 || math.Abs(float64(c.Centre.Lon())) < 179.9 {
		t.Errorf("got %v within %.0f m, %v, want about 15.3 km around the date line", c.Centre, c.Radius, err)
	}
}

func TestGeoJSONIsRead(t *testing.T) {
	ring, err := shape.Round(at(45, -100), 100)
	if err != nil {
		t.Fatal(err)
	}
	far, err := shape.Round(at(45, -99.9), 100)
	if err != nil {
		t.Fatal(err)
	}
	two, err := shape.Joined(ring, far)
	if err != nil {
		t.Fatal(err)
	}
	outline, _ := two.Outline()
	var g struct {
		Type        string
		Coordinates [][][][2]float64
	}
	if err := json.Unmarshal(shape.GeoJSON(outline), &g); err != nil || g.Type != "MultiPolygon" || len(g.Coordinates) != 2 {
		t.Errorf("two circles: got %q with %d polygons, %v, want a MultiPolygon of 2", g.Type, len(g.Coordinates), err)
	}
	if wkt := shape.WKT(outline); !strings.HasPrefix(wkt, "MULTIPOLYGON (((") || strings.Count(wkt, "((") != 2 {
		t.Errorf("got %.60s, want a MULTIPOLYGON of two", wkt)
	}
}

func TestImpossibleShapesAreErrors(t *testing.T) {
	for name, g := range map[string]orb.Geometry{
		"nothing at all":         nil,
		"an empty line":          orb.LineString{},
		"latitude 91":            orb.Point{0, 91},
		"a line round the world": orb.LineString{{0, 0}, {90, 0}, {179, 0}},
	} {
		if _, err := shape.Of(g); err == nil {
			t.Errorf("%s: got no error", name)
		}
	}
	if _, err := (shape.Region{}).Circle(); geo.KindOf(err) != geo.Unknown {
		t.Errorf("the circle of nothing: got %v, want an error of kind unknown", err)
	}
}

func BenchmarkCircleOfAShapeOf500Corners(b *testing.B) {
	var ring orb.Ring
	for i := range 500 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 500)
		d := 0.2 * (1 + 0.3*math.Sin(float64(i)/5))
		ring = append(ring, orb.Point{-100 + d*s, 45 + d*c})
	}
	ring = append(ring, ring[0])
	for b.Loop() {
		r, err := shape.Of(orb.Polygon{ring})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := r.Circle(); err != nil {
			b.Fatal(err)
		}
	}
}
