package geodesic

import (
	"math"
	"testing"
)

func dms(d, m, s float64) float64 {
	return math.Copysign(math.Abs(d)+m/60+s/3600, d)
}

// Vincenty, "Direct and inverse solutions of geodesics on the ellipsoid",
// Survey Review XXIII 176 (1975), table II, lines (a) to (e). Lines (d) and
// (e) run nearly to the opposite point; their headings are printed to a
// hundred-thousandth of a second but are this ill-determined.
var vincentyTests = []struct {
	name           string
	a, inverseF    float64
	lat1, lat2     float64
	east           float64
	want           way
	headingSeconds float64
}{
	{"line (a), Bessel 1841", 6377397.155, 299.1528128,
		dms(55, 45, 0), dms(-33, 26, 0), dms(108, 13, 0),
		way{14110526.170, dms(96, 36, 8.79960), dms(137, 52, 22.01454)}, 0.0001},
	{"line (b), International 1924", 6378388, 297,
		dms(37, 19, 54.95367), dms(26, 7, 42.83946), dms(41, 28, 35.50729),
		way{4085966.703, dms(95, 27, 59.63089), dms(118, 5, 58.96161)}, 0.0001},
	{"line (c), International 1924", 6378388, 297,
		dms(35, 16, 11.24862), dms(67, 22, 14.77638), dms(137, 47, 28.31435),
		way{8084823.839, dms(15, 44, 23.74850), dms(144, 55, 39.92147)}, 0.0001},
	{"line (d), International 1924", 6378388, 297,
		dms(1, 0, 0), -dms(0, 59, 53.83076), dms(179, 17, 48.02997),
		way{19960000.000, dms(89, 0, 0), dms(91, 0, 6.11733)}, 0.02},
	{"line (e), International 1924", 6378388, 297,
		dms(1, 0, 0), dms(1, 1, 15.18952), dms(179, 46, 17.84244),
		way{19780006.558, dms(4, 59, 59.99995), dms(174, 59, 59.88481)}, 0.02},
}

func TestVincentysTableIsReproducedToTheMillimetre(t *testing.T) {
	for _, tt := range vincentyTests {
		got := figure(tt.a, tt.inverseF).inverse(tt.lat1, 0, tt.lat2, tt.east)
		if off := math.Abs(got.distance - tt.want.distance); !(off <= 0.001) {
			t.Errorf("%s: got %.4f m, want %.3f m", tt.name, got.distance, tt.want.distance)
		}
		depart, arrive := (got.depart-tt.want.depart)*3600, (got.arrive-tt.want.arrive)*3600
		if !(math.Abs(depart) <= tt.headingSeconds && math.Abs(arrive) <= tt.headingSeconds) {
			t.Errorf("%s: headings off by %.5f and %.5f seconds of arc, want at most %g", tt.name, depart, arrive, tt.headingSeconds)
		}
	}
}

// Ten of the twenty lines in the test table that Karney publishes with
// GeographicLib, drawn from his geodesic test set (doi 10.5281/zenodo.32156,
// from memory), then three single cases of the same test suite. WGS 84.
var karneyTests = []struct {
	name                   string
	lat1, lon1, lat2, lon2 float64
	want                   way
	within                 float64 // metres
}{
	{"line 1", 35.60777, -139.44815, -11.17491, -69.95921, way{8935244.56048183, 111.09874842956033, 129.28927088970877}, 1e-6},
	{"line 2", 55.52454, 106.05087, 77.03196, 197.18234, way{4105086.171392441, 22.0200598809828, 109.11204111067151}, 1e-6},
	{"line 4", -66.99028, 112.2363, -12.70631, 285.90344, way{11150344.231208025, 173.73491240878403, 2.512956620913668}, 1e-6},
	{"line 5", -17.42761, 173.34268, -15.84784, 5.93557, way{16076603.163118068, -159.03355766119293, -20.78748465153699}, 1e-6},
	{"line 6", 32.84994, 48.28919, -56.28556, 202.29132, way{16727068.943816446, 150.492927788122, 48.11344939981676}, 1e-6},
	{"line 7", 6.96833, 52.74123, -7.39675, 206.17291, way{17102477.249695837, 92.58158538631771, 90.72169216592391}, 1e-6},
	{"line 8", -50.56724, -16.30485, -33.56571, -94.97412, way{6455670.511866869, -105.43967990759016, -47.34854783565033}, 1e-6},
	{"line 15", -87.85331, 85.66836, 66.48646, 16.09921, way{17286615.314714465, -65.12031304024275, -4.888658719272296}, 1e-6},
	{"line 19", 11.01307, 138.25278, 6.62726, 247.05981, way{11911190.819018409, 79.43682622782374, 103.70809021552266}, 1e-6},
	{"line 20", -29.47124, 95.14681, -27.46601, -69.15955, way{13487015.838114548, -163.77913044168838, -15.90933594555497}, 1e-6},
	{"a line of 72 mm", 36.493349428792, 0, 36.49334942879201, 0.0000008, way{distance: 0.072}, 0.0005},
	{"close to the opposite point, near a pole", 88.202499451857, 0, -88.202499451857, 179.981022032992859592, way{distance: 20003898.214}, 0.001},
	{"close to the opposite point, mid-latitude", 56.320923501171, 0, -56.320923501171, 179.664747671772880215, way{distance: 19993558.287}, 0.001},
}

func TestKarneysTableIsReproduced(t *testing.T) {
	for _, tt := range karneyTests {
		got := wgs84.inverse(tt.lat1, tt.lon1, tt.lat2, tt.lon2)
		if off := math.Abs(got.distance - tt.want.distance); !(off <= tt.within) {
			t.Errorf("%s: got %.9f m, want %.9f m within %g m", tt.name, got.distance, tt.want.distance, tt.within)
		}
		if tt.want.depart == 0 {
			continue // the suite states no headings for this case
		}
		if math.Abs(got.depart-tt.want.depart) > 1e-11 || math.Abs(got.arrive-tt.want.arrive) > 1e-11 {
			t.Errorf("%s: got headings %.14f and %.14f degrees, want %.14f and %.14f", tt.name,
				got.depart, got.arrive, tt.want.depart, tt.want.arrive)
		}
	}
}

// Karney's test suite, and the read-me of his JavaScript package: from
// 32.06 S 115.74 E, 20,000 km at a heading of 225 degrees.
func TestAPublishedDirectLine(t *testing.T) {
	lat, lon, _ := wgs84.direct(-32.06, 115.74, 225, 20_000_000)
	if math.Abs(lat-32.11195529) > 5e-9 || math.Abs(lon - -63.95925278) > 5e-9 {
		t.Errorf("got %.8f, %.8f degrees, want 32.11195529, -63.95925278", lat, lon)
	}
}
