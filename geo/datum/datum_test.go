package datum

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

func TestADatumIsKnownByItsUsualNames(t *testing.T) {
	for _, c := range []struct {
		name, text string
		code       int
	}{
		{"as on maps", "NAD27", 4267},
		{"with a space", "NAD 27", 4267},
		{"spelt out", "North American Datum of 1927", 0},
		{"spelt out, as most do", "North American Datum 1927", 4267},
		{"by its code", "EPSG:4269", 4269},
		{"by its code in a row", "epsg 4326", 4326},
		{"the usual one", "wgs84", 4326},
		{"with a hyphen", "WGS-84", 4326},
		{"British", "OSGB 1936", 4277},
		{"Japanese", "Tokyo", 4301},
		{"nothing", "", 0},
		{"not recorded", "not recorded", 0},
		{"a number alone", "27", 0},
	} {
		d, ok := Named(c.text)
		if ok != (c.code != 0) || d.Code() != c.code {
			t.Errorf("%s: %q: got %s (%d), want EPSG %d", c.name, c.text, d, d.Code(), c.code)
		}
	}
}

// Published shifts between NAD27 and NAD83 hold their places to within the
// accuracy that the registry states, turned to 95 %.
func TestPublishedShiftsLieWithinTheStatedAccuracy(t *testing.T) {
	nad27, _ := Named("NAD27")
	for _, c := range []struct {
		name        string
		lat, lon    geo.Degrees // NAD27
		north, east float64     // seconds of arc to NAD83
		source      string
	}{
		{"44 N 111 W", 44, -111, -0.275, -2.788, "PROJ, tests of its conversions"},
		{"39 N 111 W", 39, -111, -0.088, -2.604, "PROJ, tests of its conversions"},
	} {
		want := at(t, c.lat+geo.Degrees(c.north/3600), c.lon+geo.Degrees(c.east/3600))
		got, err := nad27.ToWGS84(at(t, c.lat, c.lon))
		if err != nil {
			t.Fatal(err)
		}
		off, err := geodesic.Distance(got.Point, want)
		if err != nil || off > got.Within {
			t.Errorf("%s: got %s by EPSG %d, %.1f m from %s (%v), want within %.1f m; %s", c.name, got.Point, got.Code, off, want, err, got.Within, c.source)
		}
	}
}

// Boxes overlap: the shift that is taken leaves least open, and its circle
// holds what every other in use there gives, with that one's accuracy.
func TestTheShiftThatIsTakenHoldsEveryOther(t *testing.T) {
	nad27, _ := Named("NAD27")
	for _, c := range []struct {
		name     string
		lat, lon geo.Degrees
		most     geo.Metres
	}{
		{"Montana", 47, -110, 35},
		{"Michigan", 43.2, -86.2, 35},
		{"Kansas, far from other areas", 38.5, -98.5, 22},
		{"the interior of Alaska", 65, -150, 25},
		{"Newfoundland", 49, -56, 35},
	} {
		p := at(t, c.lat, c.lon)
		s, err := nad27.ToWGS84(p)
		if err != nil || s.Within > c.most || s.Within < s.Accuracy*toNinetyFive {
			t.Errorf("%s: got EPSG %d within %.1f m (%v), want within %.0f m", c.name, s.Code, s.Within, err, c.most)
		}
		ways, err := nad27.d.ways(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range ways {
			if off, err := geodesic.Distance(s.Point, w.Point); err != nil || off+w.Accuracy*toNinetyFive > s.Within+1e-9 {
				t.Errorf("%s: EPSG %d lies %.1f m away (%v) and is good to %.1f m, outside %.1f m", c.name, w.Code, off, err, w.Accuracy*toNinetyFive, s.Within)
			}
		}
	}
	if s, err := nad27.ToWGS84(at(t, 35, 139)); err == nil || !strings.Contains(err.Error(), "NAD27 was not in use at") {
		t.Errorf("NAD27 in Japan: got %v, %v, want it refused", s, err)
	}
	if _, err := (Datum{}).ToWGS84(at(t, 35, 139)); geo.KindOf(err) != geo.Unknown {
		t.Errorf("no datum: got %v, want it unknown", err)
	}
	wgs, _ := Named("WGS84")
	if s, err := wgs.ToWGS84(at(t, 35, 139)); err != nil || math.Abs(float64(s.Point.Lat())-35) > 1e-12 || s.Accuracy != 0 {
		t.Errorf("WGS 84 on itself: got %v, %v", s, err)
	}
}

// The bound at a place holds every datum in use there, and is far below the
// worst case in the world where better is known.
func TestTheBoundOfAnUnknownDatumDependsOnThePlace(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon geo.Degrees
		farthest string
		from, to geo.Metres
	}{
		{"Michigan", 43.2, -86.2, "NAD27", 8, 60},
		{"Washington state", 47, -123, "NAD27", 80, 140},
		{"Florida", 26, -81, "NAD27", 30, 80},
		{"Hawaii", 21.3, -157.8, "Old Hawaiian", 400, 600},
		{"Tokyo", 35.7, 139.7, "Tokyo", 440, 560},
		{"London", 51.5, -0.1, "OSGB36", 100, 260},
		{"Brisbane", -27.5, 153, "AGD66", 180, 240},
	} {
		p := at(t, c.lat, c.lon)
		b, ok, err := Unknown(p)
		if err != nil || !ok || b.Radius < c.from || b.Radius > c.to || b.Farthest.String() != c.farthest {
			t.Errorf("%s: got %.0f m by %s of %v (%v, %v), want %.0f to %.0f m by %s", c.name, b.Radius, b.Farthest, b.InUse, ok, err, c.from, c.to, c.farthest)
			continue
		}
		for _, d := range b.InUse {
			s, err := d.ToWGS84(p)
			if err != nil {
				t.Fatal(err)
			}
			if off, err := geodesic.Distance(p, s.Point); err != nil || off > b.Radius {
				t.Errorf("%s: %s moves it by %.0f m (%v), outside %.0f m", c.name, d, off, err, b.Radius)
			}
		}
	}
	if b, ok, err := Unknown(at(t, 0, -150)); ok || err != nil {
		t.Errorf("the open Pacific: got %v, %v, %v, want nothing bounded", b, ok, err)
	}
}
