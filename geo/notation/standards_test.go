package notation_test

import (
	"math"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/notation"
)

const isoPages = "ISO 6709:1983, examples from public pages about it"

var standardTests = []struct {
	text      string
	lat, lon  float64
	precision float64
	height    float64 // NaN: none
	form      notation.Form
	refusal   string
	source    string
}{
	{"+40.6894-074.0447/", 40.6894, -74.0447, 0.0001, math.NaN(), notation.ISO6709, "", isoPages},
	{"+4852+00220/", 48.8666667, 2.3333333, minute, math.NaN(), notation.ISO6709, "", isoPages},
	{"+40.75-074.00/", 40.75, -74, 0.25, math.NaN(), notation.ISO6709, "", isoPages},
	{"+90+000/", 90, 0, 1, math.NaN(), notation.ISO6709, "", isoPages},
	{"+00-160/", 0, -160, 1, math.NaN(), notation.ISO6709, "", isoPages},
	{"+46+002/", 46, 2, 1, math.NaN(), notation.ISO6709, "", isoPages},
	// The digits that are often copied for this mountain, +27.5916, are
	// 27 degrees 59 minutes 16 seconds spoilt.
	{"+275916+0865640+8850/", 27.9877778, 86.9444444, second, 8850, notation.ISO6709, "", isoPages},
	{"+4852.5+00220.25/", 48.875, 2.3375, 0.01 * minute, math.NaN(), notation.ISO6709, "", "ISO 6709, decimals on the last part"},
	{"+275916+0865640+8850CRSWGS_84/", 27.9877778, 86.9444444, second, 8850, notation.ISO6709, "", "ISO 6709, reference system behind"},
	{"+4852+00220", 48.8666667, 2.3333333, minute, math.NaN(), notation.Minutes, "", "the solidus is often lost"},
	{"+4861+00220/", 0, 0, 0, 0, 0, "61 minutes", "a minute has 60 seconds"},
	{"+91+000/", 0, 0, 0, 0, 0, "beyond a pole", ""},
	{"+275916+0865640+8850CRSNAD27/", 0, 0, 0, 0, 0, "not known here", ""},

	{"geo:48.2010,16.3695,183", 48.2010, 16.3695, 0.0001, 183, notation.GeoURI, "", "RFC 5870, 6.1"},
	{"geo:13.4125,103.8667", 13.4125, 103.8667, 0.0001, math.NaN(), notation.GeoURI, "", "RFC 5870, 1"},
	{"geo:48.198634,16.371648;crs=wgs84;u=40", 48.198634, 16.371648, 1e-6, math.NaN(), notation.GeoURI, "", "RFC 5870, 6.2"},
	{"geo:90,-22.43;crs=WGS84", 90, -22.43, 0.01, math.NaN(), notation.GeoURI, "", "RFC 5870, 6.3"},
	{"GEO:66,30;u=6.500;FOo=this%2dthat", 66, 30, 1, math.NaN(), notation.GeoURI, "", "RFC 5870, 6.4"},
	{"geo:-0,0", 0, 0, 1, math.NaN(), notation.GeoURI, "", "RFC 5870, 3.4.4: no negative zero"},
	{"geo:48.2;16.3", 0, 0, 0, 0, 0, "a latitude, a longitude", ""},
	{"geo:48.2,+16.3", 0, 0, 0, 0, 0, "no number as a geo URI", "RFC 5870, 3.3: no plus sign"},
	{"geo:148.2,16.3", 0, 0, 0, 0, 0, "beyond a pole", ""},
	{"geo:48.2,16.3;crs=nad27", 0, 0, 0, 0, 0, "not known here", ""},
	{"geo:48.2,16.3;u=near", 0, 0, 0, 0, 0, "no number of metres", ""},
}

func TestPositionsInStandardFormsAreRead(t *testing.T) {
	for _, tt := range standardTests {
		r, err := notation.Read(tt.text)
		if tt.refusal != "" {
			if err == nil || !strings.Contains(err.Error(), tt.refusal) || r.Point.Known() {
				t.Errorf("%q: got %v, %v, want a refusal that says %q", tt.text, r.Point, err, tt.refusal)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q: %v; %s", tt.text, err, tt.source)
			continue
		}
		if math.Abs(float64(r.Point.Lat())-tt.lat) > 1e-6 || math.Abs(float64(r.Point.Lon())-tt.lon) > 1e-6 || r.Form != tt.form {
			t.Errorf("%q: got %v as %s, want %v, %v as %s; %s", tt.text, r.Point, r.Form, tt.lat, tt.lon, tt.form, tt.source)
		}
		if math.Abs(float64(r.Precision)/tt.precision-1) > 1e-6 {
			t.Errorf("%q: got a precision of %v degrees, want %v", tt.text, r.Precision, tt.precision)
		}
		if r.HasHeight == math.IsNaN(tt.height) || r.HasHeight && float64(r.Height) != tt.height {
			t.Errorf("%q: got a height of %v m (%v), want %v", tt.text, r.Height, r.HasHeight, tt.height)
		}
	}
	if r, err := notation.Read("geo:48.198634,16.371648;crs=wgs84;u=40"); err != nil || !r.HasStated || r.Stated != 40 || r.Datum != "WGS84" {
		t.Errorf("got an uncertainty of %v m (%v) on %q, %v, want 40 m on WGS84", r.Stated, r.HasStated, r.Datum, err)
	}
}

func TestStandardFormsAreWritten(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon geo.Degrees
		form     notation.Form
		places   int
		want     string
	}{
		{"signs are always written", 42.7335, -4.5467, notation.ISO6709, 4, "+42.7335-004.5467/"},
		{"the equator and the prime meridian are plus", 0, 0, notation.ISO6709, 0, "+00+000/"},
		{"the date line is minus", 0, 180, notation.ISO6709, 0, "+00-180/"},
		{"a URI has no plus", 42.7335, -84.5467, notation.GeoURI, 4, "geo:42.7335,-84.5467"},
		{"eastings and northings", 43.2342, -86.2484, notation.Metres, 0, "16 north 561029 4787097"},
		{"a square is cut off", 43.2342, -86.2484, notation.Square, 3, "16TEN610870"},
		{"no grid at the pole", 89, 0, notation.Metres, 0, ""},
		{"no square at the pole", 89, 0, notation.Square, 5, ""},
	} {
		p, err := geo.At(c.lat, c.lon)
		if err != nil {
			t.Fatal(err)
		}
		if got := notation.Write(p, c.form, c.places); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
