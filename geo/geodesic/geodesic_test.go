package geodesic_test

import (
	"fmt"
	"math"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// The line from New York to Paris is in the GeographicLib manual: 5853.226 km
// setting out at 53.47022 degrees.
func ExampleInverse() {
	newYork, _ := geo.At(40.6, -73.8)
	paris, _ := geo.At(49+1./60, 2+33./60)
	l, err := geodesic.Inverse(newYork, paris)
	fmt.Printf("%.0f m at %.5f degrees, arriving at %.5f; %v\n", l.Distance, l.Depart, l.Arrive, err)
	// Output:
	// 5853226 m at 53.47022 degrees, arriving at 111.59367; <nil>
}

func at(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestUnknownAndEndlessInputsAreErrorsNotNumbers(t *testing.T) {
	here := at(t, 42, -84)
	if _, err := geodesic.Inverse(here, geo.Point{}); geo.KindOf(err) != geo.Unknown {
		t.Errorf("distance to an unknown point: got %v, want kind unknown", err)
	}
	if _, _, err := geodesic.Direct(geo.Point{}, 0, 1); geo.KindOf(err) != geo.Unknown {
		t.Errorf("setting out from an unknown point: got %v, want kind unknown", err)
	}
	for _, tt := range []struct {
		name     string
		heading  geo.Degrees
		distance geo.Metres
	}{
		{"a heading that is not a number", geo.Degrees(math.NaN()), 1},
		{"an endless heading", geo.Degrees(math.Inf(1)), 1},
		{"a distance that is not a number", 0, geo.Metres(math.NaN())},
		{"an endless distance", 0, geo.Metres(math.Inf(1))},
		{"a distance below zero", 0, -1},
	} {
		if p, _, err := geodesic.Direct(here, tt.heading, tt.distance); geo.KindOf(err) != geo.Invalid || p.Known() {
			t.Errorf("%s: got %v, %v, want no point and kind invalid", tt.name, p, err)
		}
	}
}

func TestAPointIsNoDistanceFromItself(t *testing.T) {
	for _, p := range []geo.Point{at(t, 42.7, -84.5), at(t, 0, 0), at(t, 90, 10), at(t, -90, 0), at(t, -16, 180)} {
		l, err := geodesic.Inverse(p, p)
		if err != nil || l != (geodesic.Line{}) {
			t.Errorf("%v to itself: got %+v, %v, want zero", p, l, err)
		}
	}
}

func TestHeadingsRunClockwiseFromNorth(t *testing.T) {
	from := at(t, 0, 0)
	for _, tt := range []struct {
		name     string
		lat, lon geo.Degrees
		want     geo.Degrees
	}{
		{"due north", 1, 0, 0}, {"due east", 0, 1, 90}, {"due south", -1, 0, 180}, {"due west", 0, -1, 270},
	} {
		l, err := geodesic.Inverse(from, at(t, tt.lat, tt.lon))
		if err != nil || l.Depart != tt.want {
			t.Errorf("%s: got %v degrees, %v, want %v", tt.name, l.Depart, err, tt.want)
		}
	}
}

// The metres of a degree follow from the radii of curvature; Chapman and
// Wieczorek, Georeferencing Best Practices (2020), 3.4.3, print the diagonal
// of a degree by a degree: 156,904 m at the equator and 112,109 m at 85.
func TestADegreeHasItsPublishedLength(t *testing.T) {
	for lat, want := range map[geo.Degrees]float64{0: 156904, 30: 146962, 60: 124605, 85: 112109} {
		north, east := geodesic.MetresPerDegree(lat)
		if got := math.Hypot(float64(north), float64(east)); math.Abs(got-want) > 1 {
			t.Errorf("at latitude %v: got a diagonal of %.1f m, want %.0f m", lat, got, want)
		}
	}
}

func FuzzThereAndBack(f *testing.F) {
	f.Add(42.7, -84.5, 45.0, 12345.0)
	f.Add(0.0, 0.0, 90.0, 2e7)
	f.Add(90.0, 0.0, 180.0, 1e-9)
	f.Add(5e-324, 180.0, 1e-300, 1e-300)
	f.Fuzz(func(t *testing.T, lat, lon, heading, distance float64) {
		p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
		if err != nil {
			return
		}
		q, _, err := geodesic.Direct(p, geo.Degrees(heading), geo.Metres(distance))
		if err != nil {
			if geo.KindOf(err) == geo.Unsolved {
				t.Errorf("direct: %v", err)
			}
			return
		}
		l, err := geodesic.Inverse(p, q)
		if err != nil {
			t.Fatalf("inverse of direct: %v", err)
		}
		if l.Distance > geo.Metres(distance)+30e-9 {
			t.Errorf("%v heading %v: the shortest way is %v m, longer than the %v m gone", p, heading, l.Distance, distance)
		}
		if distance < 1.9e7 && math.Abs(float64(l.Distance)-distance) > 30e-9 {
			t.Errorf("%v heading %v: got %v m back, want %v m", p, heading, l.Distance, distance)
		}
	})
}

func BenchmarkInverse(b *testing.B) {
	p, q := at(b, 42.7335, -84.5467), at(b, -33.4, 151.2)
	for b.Loop() {
		if _, err := geodesic.Inverse(p, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkInverseNearlyOpposite(b *testing.B) {
	p, q := at(b, 30, 0), at(b, -29.9, 179.8)
	for b.Loop() {
		if _, err := geodesic.Inverse(p, q); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDirect(b *testing.B) {
	p := at(b, 42.7335, -84.5467)
	for b.Loop() {
		if _, _, err := geodesic.Direct(p, 45, 4828); err != nil {
			b.Fatal(err)
		}
	}
}
