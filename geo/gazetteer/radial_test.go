package gazetteer_test

import (
	"os"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/geo/region"
)

func TestRadialsAreNeverZeroAndGrow(t *testing.T) {
	for c := gazetteer.UnknownClass; c <= gazetteer.Former; c++ {
		last := geo.Metres(0)
		for people := 1; people < 100_000_000; people += people/7 + 1 {
			r := gazetteer.Radial(c, people)
			if r < 2*geo.Kilometre || r < last {
				t.Fatalf("%s of %d people: got %v m after %v m, want at least 2 km and never less than for fewer people", c, people, r, last)
			}
			last = r
		}
		for _, unknown := range []int{0, -5} {
			if r := gazetteer.Radial(c, unknown); r < 5*geo.Kilometre {
				t.Errorf("%s of unknown size: got %v m, want at least 5 km", c, r)
			}
		}
	}
	if a, b := gazetteer.Radial(gazetteer.Town, 0), gazetteer.Radial(gazetteer.Town, 700_000); a < b {
		t.Errorf("a town of unknown size: got %v m, want at least the %v m of a town of 700,000", a, b)
	}
}

// Cities that are counties of their own, so that their outline is on the map.
// Code: FIPS; point and people: GeoNames, CC BY 4.0, 2026 and 2024; 0 is not
// known there. Outlines: U.S. Census Bureau, cartographic boundary files, 2023.
var cities = []struct {
	name     string
	id       region.ID
	lat, lon geo.Degrees
	people   int
	// beyond says why the limits reach beyond the radial, which is meant for
	// the built-up area (from memory); "" where they must not.
	beyond string
}{
	{"Alexandria", "51510", 38.80484, -77.04692, 153511, ""},
	{"Bristol", "51520", 36.59649, -82.18847, 17141, ""},
	{"Buena Vista", "51530", 37.73430, -79.35392, 6618, ""},
	{"Charlottesville", "51540", 38.02931, -78.47668, 46597, ""},
	{"Chesapeake", "51550", 36.81904, -76.27494, 235429, "fields and swamp as far as North Carolina"},
	{"Colonial Heights", "51570", 37.26804, -77.40726, 17820, ""},
	{"Covington", "51580", 37.79346, -79.99395, 5658, ""},
	{"Danville", "51590", 36.58597, -79.39502, 42082, ""},
	{"Emporia", "51595", 36.68598, -77.54248, 5496, ""},
	{"Fairfax", "51600", 38.84622, -77.30637, 24013, ""},
	{"Franklin", "51620", 36.67765, -76.92246, 8490, ""},
	{"Fredericksburg", "51630", 38.30318, -77.46054, 28118, ""},
	{"Galax", "51640", 36.66124, -80.92397, 6914, ""},
	{"Hampton", "51650", 37.02987, -76.34522, 136454, ""},
	{"Harrisonburg", "51660", 38.44957, -78.86892, 52538, ""},
	{"Hopewell", "51670", 37.30432, -77.28720, 22378, ""},
	{"Lexington", "51678", 37.78402, -79.44282, 7262, ""},
	{"Lynchburg", "51680", 37.41375, -79.14225, 79812, ""},
	{"Manassas", "51683", 38.75095, -77.47527, 41764, ""},
	{"Martinsville", "51690", 36.69153, -79.87254, 13645, ""},
	{"Newport News", "51700", 36.98038, -76.42975, 0, ""},
	{"Norfolk", "51710", 36.84681, -76.28522, 246393, ""},
	{"Norton", "51720", 36.93343, -82.62905, 3939, ""},
	{"Petersburg", "51730", 37.22793, -77.40193, 32477, ""},
	{"Poquoson", "51735", 37.12237, -76.34578, 12059, ""},
	{"Portsmouth", "51740", 36.83543, -76.29827, 96201, ""},
	{"Radford", "51750", 37.13179, -80.57645, 17403, ""},
	{"Richmond", "51760", 37.55376, -77.46026, 220289, ""},
	{"Roanoke", "51770", 37.27097, -79.94143, 99897, ""},
	{"Salem", "51775", 37.29347, -80.05476, 25432, ""},
	{"Staunton", "51790", 38.14991, -79.07320, 24416, ""},
	{"Suffolk", "51800", 36.72836, -76.58496, 88161, "took in the whole of a farming county"},
	{"Virginia Beach", "51810", 36.85293, -75.97799, 452745, "fields and marsh as far as North Carolina"},
	{"Waynesboro", "51820", 38.06847, -78.88947, 21491, ""},
	{"Williamsburg", "51830", 37.27070, -76.70746, 15052, ""},
	{"Winchester", "51840", 39.18566, -78.16333, 27284, ""},
	{"Baltimore", "24510", 39.29038, -76.61219, 621849, ""},
	{"St. Louis", "29510", 38.62727, -90.19789, 315685, ""},
	{"Denver", "08031", 39.73915, -104.98470, 682545, ""},
	{"Broomfield", "08014", 39.92054, -105.08665, 65065, "a thinly built strip to the north-east"},
	{"San Francisco", "06075", 37.77493, -122.41942, 864816, ""},
	{"Philadelphia", "42101", 39.95238, -75.16362, 1567442, ""},
	{"New Orleans", "22071", 29.95465, -90.07507, 389617, "marsh as far as Lake Borgne"},
	{"Washington", "11001", 38.89511, -77.03637, 0, ""},
	{"Carson City", "32510", 39.16380, -119.76740, 54521, "a mountain range as far as Lake Tahoe"},
	{"Nantucket", "25019", 41.28346, -70.09946, 7446, "the whole island"},
}

func TestRadialsReachTheOutlinesOfCities(t *testing.T) {
	wire, err := os.ReadFile("../../server/web/dist/counties.bin")
	if err != nil {
		t.Fatalf(`the boundary lines are not there (%v); "make build" makes them`, err)
	}
	lines, err := region.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	drawn, err := region.Build(lines)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cities {
		far := geo.Metres(0)
		for _, polygon := range drawn.Polygons(c.id) {
			for _, corner := range polygon[0] {
				d, err := geodesic.Distance(point(t, c.lat, c.lon), point(t, geo.Degrees(corner[1]), geo.Degrees(corner[0])))
				if err != nil {
					t.Fatal(err)
				}
				far = max(far, d)
			}
		}
		if far == 0 {
			t.Errorf("%s: no outline with the code %s", c.name, c.id)
		}
		radial := gazetteer.Radial(gazetteer.Town, c.people)
		t.Logf("%-17s %8d people, limits to %4.1f km, radial %4.1f km %s", c.name, c.people, far/1000, radial/1000, c.beyond)
		if far > radial && c.beyond == "" {
			t.Errorf("%s: the limits reach %.1f km from the point, the radial %.1f km", c.name, far/1000, radial/1000)
		}
		if far <= radial && c.beyond != "" {
			t.Errorf("%s is listed as an exception and is none", c.name)
		}
	}
}
