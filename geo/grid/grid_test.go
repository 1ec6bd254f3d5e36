package grid

import (
	"math"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

func at(t *testing.T, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Published pairs. Squares truncate where eastings and northings round.
func TestPublishedPlaces(t *testing.T) {
	const suite = "test suite of a general geodesy library, C. Veness, MIT licence, UTM and MGRS tests"
	for _, c := range []struct {
		name, source string
		lat, lon     geo.Degrees
		utm          string
		within       float64
		digits       int
		square       string
	}{
		{"null island", suite, 0, 0, "31 north 166021.443081 0.000000", 1e-5, 5, "31NAA6602100000"},
		{"one degree each way", suite, 1, 1, "31 north 277438.263520 110597.972520", 1e-5, 5, "31NBB7743810597"},
		{"a tower in Paris", suite, 48.8583, 2.2945, "31 north 448251.898 5411943.794", 1e-3, 5, "31UDQ4825111943"},
		{"a house in Washington", suite, 38.8977, -77.0365, "18 north 323394.296 4307395.634", 1e-3, 5, "18SUJ2339407395"},
		{"Bergen, in the widened zone", suite, 60.39135, 5.3249, "32 north 297508.410 6700645.296", 1e-3, 5, "32VKN9750800645"},
		{"near the equator in the west", suite, 0.13, -0.2324, "30 north 808084 14386", 0.5, 5, "30NZF0808414385"},
		{"the south", suite, -45.6456, 23.3545, "34 south 683474 4942631", 0.5, 5, "34GFQ8347342631"},
		{"the south Atlantic", suite, -12.765, -33.8765, "25 south 404859 8588691", 0.5, 5, "25LDF0485988691"},
		{"a zone with a leading nought", suite, 23.4578, -135.4545, "8 north 453580 2594273", 0.5, 5, "08QML5358094272"},
		{"Baghdad to a kilometre", "GeographicLib, tests of GeoConvert, C. Karney", 33.3, 44.4, "", 0, 2, "38SMB4484"},
		{"the far south to a kilometre", "GeographicLib, tests of GeoConvert, C. Karney", -79.9, 6.1, "", 0, 2, "32CMS4328"},
		// The printed pair is about 3 m off its own latitude and longitude, and
		// the band printed with it, T, is wrong: 51.5 north lies in U.
		{"a clock in London", "Chapman & Wieczorek, Georeferencing Best Practices, GBIF Secretariat 2020, 2.4.2", 51.500721, -0.12443, "30 north 699582 5709431", 4, 0, "30UXC"},
	} {
		p := at(t, c.lat, c.lon)
		u, err := Of(p)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if c.utm != "" {
			want := position(t, c.utm)
			if off := apart(u, want); u.Zone != want.Zone || u.South != want.South || off > c.within {
				t.Errorf("%s: got %s, want %s (%.6f m apart); %s", c.name, u.Text(6), c.utm, off, c.source)
			}
		}
		if s, err := SquareOf(p, c.digits); err != nil || s.String() != c.square {
			t.Errorf("%s: got %s, %v, want %s; %s", c.name, s, err, c.square, c.source)
		}
	}
}

// position reads what Text writes.
func position(t *testing.T, text string) UTM {
	t.Helper()
	f := strings.Fields(text)
	line := f[0] + f[1][:1] + " " + f[2] + " " + f[3]
	return parsed(t, line)
}

func TestZonesAreWiderInTheNorthOfEurope(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon geo.Degrees
		zone     int
	}{
		{"south of the exception", 55.9, 4, 31},
		{"off Norway", 60, 4, 32},
		{"west Svalbard", 75, 8, 31},
		{"middle Svalbard", 75, 10, 33},
		{"still middle", 75, 20, 33},
		{"east Svalbard", 75, 22, 35},
		{"still east", 75, 32, 35},
		{"farthest east", 75, 34, 37},
		{"after Svalbard", 75, 42, 38},
		{"the date line", 10, -180, 1},
		{"just before it", 10, 179.999, 60},
		{"the north end", 84, 0, 0},
		{"the south end", -80, 0, 31},
		{"beyond it", -80.001, 0, 0},
	} {
		if got := ZoneOf(at(t, c.lat, c.lon)); got != c.zone {
			t.Errorf("%s: got zone %d, want %d", c.name, got, c.zone)
		}
	}
}

func TestSquaresAreRead(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a kilometre is padded on the right", "12S TC 52 86", "12 north 252000 3786000"},
		{"a metre", "12S TC 52000 86000", "12 north 252000 3786000"},
		{"a square over two bands, by the lower", "01P ET 00000 68935", "1 north 500000 1768935"},
		{"a square over two bands, by the upper", "01Q ET 00000 68935", "1 north 500000 1768935"},
		{"small letters and one digit of zone", "8qml5358094272", "8 north 453580 2594272"},
		{"millimetres", "38SMB4414060084706300", "38 north 444140.600 3684706.300"},
	} {
		s, err := ReadSquare(c.text)
		if err != nil || apart(s.Corner, position(t, c.want)) > 0 {
			t.Errorf("%s: got %s, %v, want %s", c.name, s.Corner.Text(3), err, c.want)
		}
	}
	middle, err := ReadSquare("38smb")
	if err != nil {
		t.Fatal(err)
	}
	p, err := middle.Centre()
	if err != nil || math.Abs(float64(p.Lat())-(32+59/60.+14.1/3600)) > 0.1/3600 || math.Abs(float64(p.Lon())-(44+27/60.+53.4/3600)) > 0.1/3600 {
		t.Errorf("the middle of 38SMB: got %s, %v, want 32 59 14.1 N, 44 27 53.4 E; GeographicLib, tests of GeoConvert, C. Karney", p, err)
	}
}

func TestWhatCannotBeASquareIsToldWhy(t *testing.T) {
	for _, c := range []struct {
		name, text string
		kind       geo.Kind
		says       string
	}{
		{"a word", "by the mill", geo.NotUnderstood, "a square is written as"},
		{"no letters", "16 584123 4712345", geo.NotUnderstood, "a square is written as"},
		{"zone 61", "61TEN8412312345", geo.Invalid, "there is no zone 61"},
		{"band I", "16IEN8412312345", geo.Invalid, "there is no band I"},
		{"a column of another zone", "16TZN8412312345", geo.Invalid, "zone 16 has no column Z"},
		{"row W", "16TEW8412312345", geo.Invalid, "there is no row W"},
		{"odd digits", "16TEN841231234", geo.Invalid, "do not divide"},
		{"nine digits each way", "16TEN841231234584123123", geo.Invalid, "too many"},
		{"the band of another latitude", "16CEN8412312345", geo.Invalid, "does not lie in band C"},
	} {
		s, err := ReadSquare(c.text)
		if geo.KindOf(err) != c.kind || !strings.Contains(err.Error(), c.says) || s != (Square{}) {
			t.Errorf("%s: got %v, %v (%v), want %v with %q", c.name, s, err, geo.KindOf(err), c.kind, c.says)
		}
	}
}

func TestNumbersOutsideTheGridAreToldWhy(t *testing.T) {
	for _, c := range []struct {
		name string
		u    UTM
		says string
	}{
		{"no zone", UTM{}, "there is no zone 0"},
		{"easting and northing swapped", UTM{16, false, 4712345, 584123}, "easting 4712345 is outside"},
		{"the northing of a square alone", UTM{16, true, 584123, 12345}, "northing 12345 is not in the south"},
		{"no number", UTM{16, false, geo.Metres(math.NaN()), 4712345}, "easting NaN"},
	} {
		if p, err := c.u.Point(); err == nil || p.Known() || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %s, %v, want %q", c.name, p, err, c.says)
		}
	}
	if _, err := Of(at(t, 85, 0)); geo.KindOf(err) != geo.Invalid {
		t.Errorf("the north pole's cap: got %v, want it refused", err)
	}
	if _, err := In(at(t, 10, 0), 16); geo.KindOf(err) != geo.Invalid {
		t.Errorf("another side of the Earth: got %v, want it refused", err)
	}
	if _, err := Of(geo.Point{}); geo.KindOf(err) != geo.Unknown {
		t.Errorf("no place: got %v, want it unknown", err)
	}
}

// A circle of Half around the centre holds the square on the ground.
func TestHalfHoldsTheSquare(t *testing.T) {
	for _, text := range []string{"16TEN", "31NAA", "60XWR", "01CDM", "32VKN97500064"} {
		s, err := ReadSquare(text)
		if err != nil {
			t.Fatal(err)
		}
		centre, err := s.Centre()
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range [...][2]geo.Metres{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
			u := s.Corner
			u.Easting += d[0] * s.Side
			u.Northing += d[1] * s.Side
			corner, err := u.Point()
			if err != nil {
				t.Fatal(err)
			}
			if far := distance(t, centre, corner); far > s.Half() {
				t.Errorf("%s: a corner lies %.2f m from the middle, outside %.2f m", text, far, s.Half())
			}
		}
	}
}

func FuzzReadSquare(f *testing.F) {
	for _, s := range []string{"16TEN8412312345", "31naa", "8q ml 53580 94272", "01P ET 00000 68935", "38SMB4414060084706300", "0NAA", "60XZZ99"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ReadSquare(text)
		if err != nil {
			if s != (Square{}) || err.Error() == "" {
				t.Fatalf("%q: %+v beside %v", text, s, err)
			}
			return
		}
		again, err := ReadSquare(s.String())
		if err != nil || again != s {
			t.Fatalf("%q was read as %+v, written %s and read as %+v, %v", text, s, s, again, err)
		}
	})
}

func distance(t *testing.T, a, b geo.Point) geo.Metres {
	t.Helper()
	d, err := geodesic.Distance(a, b)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The bounds on which package uncertainty rests: how far apart the same
// latitude and longitude lie on the grid of an ellipsoid and of another.
func TestTheGridsOfTwoEllipsoidsLieThatFarApart(t *testing.T) {
	clarke, grs := newMercator(Clarke1866), newMercator(GRS80)
	american, widest := 0.0, 0.0
	for lat := 0.0; lat <= 84; lat++ {
		for lon := 0.0; lon <= 3.5; lon += 0.5 {
			e1, n1 := clarke.project(lat*math.Pi/180, lon*math.Pi/180)
			e2, n2 := grs.project(lat*math.Pi/180, lon*math.Pi/180)
			if lat >= 24 && lat <= 50 {
				american = math.Max(american, scale*math.Hypot(e1-e2, n1-n2))
			}
			for _, other := range figures {
				m := newMercator(other)
				e, n := m.project(lat*math.Pi/180, lon*math.Pi/180)
				widest = math.Max(widest, scale*math.Hypot(e-e2, n-n2))
			}
		}
	}
	t.Logf("Clarke 1866 and GRS 80 in the 48 states: %.1f m; any of %d ellipsoids: %.1f m", american, len(figures), widest)
	if american > 220 || widest > 1100 {
		t.Errorf("got %.1f m and %.1f m, want at most 220 m and 1100 m", american, widest)
	}
}

// Ellipsoids that the datums of the world are on, as registered by EPSG.
var figures = []Ellipsoid{
	WGS84, GRS80, Clarke1866,
	{6378249.145, 293.465},     // Clarke 1880 (RGS)
	{6377397.155, 299.1528128}, // Bessel 1841
	{6377563.396, 299.3249646}, // Airy 1830
	{6377276.345, 300.8017},    // Everest 1830 (1937 adjustment)
	{6377304.063, 300.8017},    // Everest 1830 (1967 definition)
	{6378388, 297},             // International 1924
	{6378245, 298.3},           // Krassowsky 1940
	{6378160, 298.25},          // Australian National Spheroid
	{6378200, 298.3},           // Helmert 1906
	{6378135, 298.26},          // WGS 72
	{6377340.189, 299.3249646}, // Airy Modified 1849
}
