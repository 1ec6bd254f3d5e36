package notation_test

import (
	"math"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/notation"
)

var gridTests = []struct {
	name, text string
	lat, lon   float64
	side       float64
	codes      string
}{
	// 43.2342 north, 86.2484 west by GeoConvert is 16n 561029 4787097.
	{"zone and band", "16T 561029 4787097", 43.2342, -86.2484, 1, ""},
	{"zone and word", "16 north 561029 4787097", 43.2342, -86.2484, 1, ""},
	{"the letter of the north is no band", "16N 561029 4787097", 43.2342, -86.2484, 1, ""},
	{"with everything", "UTM zone 16N, 561029 mE, 4787097 mN", 43.2342, -86.2484, 1, ""},
	{"labels before", "Zone 16T E 561029 N 4787097", 43.2342, -86.2484, 1, ""},
	{"northing first, with labels", "Zone 16T 4787097N 561029E", 43.2342, -86.2484, 1, ""},
	{"x and y", "UTM 16 northern hemisphere x=561029 y=4787097", 43.2342, -86.2484, 1, ""},
	{"commas in thousands", "16T 561,029 4,787,097", 43.2342, -86.2484, 1, ""},
	{"a tenth", "16T 561029.0 4787097.0", 43.2342, -86.2484, 0.1, ""},
	{"no hemisphere", "UTM zone 16 561029 4787097", 43.2342, -86.2484, 1, "hemisphere-missing"},
	{"noughts may fill up", "16T 561000 4787000", 43.233331, -86.248771, 1000, "precision-zeros"},
	{"cut to a kilometre", "UTM 16T 561 4787", 43.233331, -86.248771, 1000, ""},
	{"cut to a hundred metres", "UTM 16T 5610 47870", 43.233331, -86.248771, 1000, "precision-zeros"},
	{"the south by word", "34 south 683474 4942631", -45.6456, 23.3545, 1, ""},
	{"the south by band", "34G 683474 4942631", -45.6456, 23.3545, 1, ""},
	{"the south by letter", "25S 404859 8588691", -12.765, -33.8765, 1, ""},
	{"a square of a metre, by its middle", "16TEN6102987097", 43.2342, -86.2484, 1, ""},
	{"a square with spaces", "16t en 61029 87097", 43.2342, -86.2484, 1, ""},
	{"a square of a kilometre, by its middle", "16TEN6187", 43.237791, -86.242550, 1000, ""},

	{"no zone", "561029 4787097", 0, 0, 0, "!need their zone"},
	{"S may be two things", "12S 252000 3786000", 0, 0, 0, "!write south or north"},
	{"swapped", "16T 4787097 561029", 0, 0, 0, "!swapped"},
	{"the band of another latitude", "16R 561029 4787097", 0, 0, 0, "!not in band R"},
	{"zone 61", "61T 561029 4787097", 0, 0, 0, "!no zone 61"},
	{"both are eastings", "16T 561029E 4787097E", 0, 0, 0, "!"},
	{"digits that do not fit", "UTM 16T 56102 47870", 0, 0, 0, "!lack as many each"},
	{"a square with odd digits", "16TEN610298709", 0, 0, 0, "!do not divide"},
	{"a square of another zone", "16TJN6102987097", 0, 0, 0, "!no column J"},
}

func TestEastingsAndSquaresAreRead(t *testing.T) {
	for _, tt := range gridTests {
		r, err := notation.Read(tt.text)
		if says, refused := strings.CutPrefix(tt.codes, "!"); refused {
			told := ""
			if err != nil {
				told = err.Error()
			}
			for _, f := range r.Findings {
				told += " " + f.Code
			}
			if err == nil || !strings.Contains(told, says) || r.Point.Known() {
				t.Errorf("%s: got %v, %q, want a refusal that says %q", tt.name, r.Point, told, says)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %q: %v", tt.name, tt.text, err)
			continue
		}
		want, err := geo.At(geo.Degrees(tt.lat), geo.Degrees(tt.lon))
		if err != nil {
			t.Fatal(err)
		}
		if off, err := geodesic.Distance(want, r.Point); err != nil || off > 1.5 {
			t.Errorf("%s: %q: got %v, %.1f m from %v (%v)", tt.name, tt.text, r.Point, off, want, err)
		}
		codes := ""
		for _, f := range r.Findings {
			codes += f.Code
		}
		if math.Abs(float64(r.Side)-tt.side) > 1e-9 || codes != tt.codes {
			t.Errorf("%s: %q: got a side of %v m and %q, want %v m and %q", tt.name, tt.text, r.Side, codes, tt.side, tt.codes)
		}
	}
}

// Everything that is written the same way when it is cut off or rounded lies
// within Spread of the point.
func TestSpreadHoldsWhatWasCutOff(t *testing.T) {
	truth, err := geo.At(43.2342, -86.2484)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, text string }{
		{"a square of 10 km", notation.Write(truth, notation.Square, 1)},
		{"a square of 100 m", notation.Write(truth, notation.Square, 3)},
		{"a square of a metre", notation.Write(truth, notation.Square, 5)},
		{"rounded metres", "16T 561029 4787097"},
		{"kilometres rounded down", "16T 561000 4787000"},
		{"kilometres rounded up", "16T 562000 4788000"},
		{"kilometres cut off", "UTM 16T 561 4787"},
	} {
		r, err := notation.Read(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if off, err := geodesic.Distance(truth, r.Point); err != nil || off > r.Spread || r.Spread > 3*r.Side {
			t.Errorf("%s: %q lies %.2f m away (%v), want at most %.2f m, and that at most three sides", c.name, c.text, off, err, r.Spread)
		}
	}
}

// What is written on a grid is read back within its spread.
func FuzzGridWriteAndRead(f *testing.F) {
	f.Add(42.7335, -84.5467, uint8(5), true)
	f.Add(-0.00000001, 6.0, uint8(0), true)
	f.Add(-79.9999, 179.99999, uint8(8), false)
	f.Add(75.0, 33.0, uint8(3), false)
	f.Fuzz(func(t *testing.T, lat, lon float64, places uint8, square bool) {
		p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
		if err != nil || lat >= 84 || lat < -80 {
			return
		}
		form, n := notation.Metres, int(places%5)
		if square {
			form, n = notation.Square, int(places%9)
		}
		text := notation.Write(p, form, n)
		r, err := notation.Read(text)
		if err != nil {
			t.Fatalf("%v as %q: %v", p, text, err)
		}
		if d, err := geodesic.Distance(p, r.Point); err != nil || d > r.Spread+2e-3 {
			t.Errorf("%v as %q: read back %v m away (%v), want at most %v m", p, text, d, err, r.Spread)
		}
	})
}
