package sanity_test

import (
	"fmt"
	"testing"

	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
)

func point(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// box is an invented home region: 41 to 48 north, 91 to 82 west.
func box(p geo.Point) bool {
	return p.Lat() >= 41 && p.Lat() <= 48 && p.Lon() >= -91 && p.Lon() <= -82
}

func ExampleCheck() {
	p, _ := geo.At(42.7335, 84.5467)
	for _, f := range sanity.Check(p, sanity.Surroundings{Home: box}) {
		fmt.Println(f.Code, "- perhaps", f.Instead)
	}
	// Output:
	// sign-lost - perhaps 42.7335, -84.5467
}

var checkTests = []struct {
	name     string
	lat, lon geo.Degrees
	want     string
}{
	{"a plain position", 42.7335, -84.5467, ""},
	{"both zero", 0, 0, "zero-zero outside"},
	{"a latitude of zero", 0, -84.5467, "zero-latitude outside"},
	{"a longitude of zero", 42.7335, 0, "zero-longitude outside"},
	{"one number twice", 42.7335, 42.7335, "equal outside"},
	{"one number twice with a sign", 42.7335, -42.7335, "equal outside"},
	{"whole degrees", 43, -84, "whole-degrees"},
	{"the minus of the longitude lost", 42.7335, 84.5467, "sign-lost"},
	{"the latitude made southern", -42.7335, -84.5467, "sign-lost"},
	{"both signs turned", -42.7335, 84.5467, "sign-lost"},
	{"swapped", -84.5467, 42.7335, "swapped"},
	{"swapped and the minus lost", 84.5467, 42.7335, "swapped-sign-lost"},
	{"far away for no simple reason", 12.34, 56.78, "outside"},
	{"the museum's own address", 42.7311, -84.4817, "known-place"},
}

func TestUsualSlipsAreFound(t *testing.T) {
	s := sanity.Surroundings{Home: box, Places: []sanity.Place{
		{Name: "the museum", At: geo.Circle{Centre: point(t, 42.731, -84.4815), Radius: 100}},
		{Name: "an unknown home"},
	}}
	for _, tt := range checkTests {
		got := ""
		for _, f := range sanity.Check(point(t, tt.lat, tt.lon), s) {
			if got != "" {
				got += " "
			}
			got += f.Code
			if f.Because == "" || f.Cites == "" {
				t.Errorf("%s: got %+v, want a reason and a citation", tt.name, f)
			}
			if (f.Code == "swapped" || f.Code == "sign-lost" || f.Code == "swapped-sign-lost") && f.Instead != point(t, 42.7335, -84.5467) {
				t.Errorf("%s: got %v instead, want 42.7335, -84.5467", tt.name, f.Instead)
			}
		}
		if got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestAnUnknownPointIsNotOdd(t *testing.T) {
	if got := sanity.Check(geo.Point{}, sanity.Surroundings{Home: box}); len(got) != 0 {
		t.Errorf("got %v, want nothing", got)
	}
}

func TestWithoutAHomeRegionNothingIsOutside(t *testing.T) {
	if got := sanity.Check(point(t, 12.34, 56.78), sanity.Surroundings{}); len(got) != 0 {
		t.Errorf("got %v, want nothing", got)
	}
}

// An invented square state, one degree wide.
func TestHomeIsAskedOfTheMapWithItsBand(t *testing.T) {
	m, err := region.Build(&region.Lines{
		Year: 2023, Origin: [2]float64{-85, 42}, Step: [2]float64{1, 1},
		Arcs: [][]region.Node{{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 1, Y: 1}, {X: 0, Y: 1}, {X: 0, Y: 0}}},
		Outlines: []region.Outline{{
			Region:   region.Region{ID: "98", Name: "Invented", Level: region.State},
			Polygons: [][]region.Ring{{{0}}},
		}},
	})
	if err != nil {
		t.Fatal(err)
	}
	home := sanity.HomeOf(m, "98")
	for _, tt := range []struct {
		name     string
		lat, lon geo.Degrees
		want     bool
	}{
		{"inside", 42.5, -84.5, true},
		{"1.1 km outside, within the band", 41.99, -84.5, true},
		{"11 km outside", 41.9, -84.5, false},
	} {
		if got := home(point(t, tt.lat, tt.lon)); got != tt.want {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
	if sanity.HomeOf(m, "97")(point(t, 42.5, -84.5)) {
		t.Error("a point in another state: got at home, want away")
	}
}
