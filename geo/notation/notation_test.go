package notation_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/notation"
)

func ExampleRead() {
	r, err := notation.Read(`42°44'00.6"N 84°32'48.1"W`)
	fmt.Printf("%.6f %.6f, %s, %v\n", r.Point.Lat(), r.Point.Lon(), r.Form, err)
	_, err = notation.Read("42 71 N, 84 32 W")
	fmt.Println(err)
	// Output:
	// 42.733500 -84.546694, degrees, minutes and seconds, <nil>
	// 71 minutes are a degree or minute more; they run up to 60
}

const (
	minute = 1. / 60
	second = 1. / 3600
)

var readTests = []struct {
	text      string
	lat, lon  float64
	precision float64
	codes     string
}{
	// Decimal degrees.
	{"42.7335, -84.5467", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335 -84.5467", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335,-84.5467", 42.7335, -84.5467, 0.0001, ""},
	{"(42.7335; −84.5467)", 42.7335, -84.5467, 0.0001, ""},
	{"+42.7335-84.5467/", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335 N 84.5467 W", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335N, 84.5467W", 42.7335, -84.5467, 0.0001, ""},
	{"N42.7335 W84.5467", 42.7335, -84.5467, 0.0001, ""},
	{"n 42.7335° w 84.5467°", 42.7335, -84.5467, 0.0001, ""},
	{"84.5467 W, 42.7335 N", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335 north 84.5467 west", 42.7335, -84.5467, 0.0001, ""},
	{"lat: 42.7335 long: -84.5467", 42.7335, -84.5467, 0.0001, ""},
	{"Lon -84.5467, Lat 42.7335", 42.7335, -84.5467, 0.0001, ""},
	{"-33.86 151.21", -33.86, 151.21, 0.01, ""},
	{"42,7335; -84,5467", 42.7335, -84.5467, 0.0001, ""},
	{"42,7335 -84,5467", 42.7335, -84.5467, 0.0001, ""},
	{"42,7335, -84,5467", 42.7335, -84.5467, 0.0001, ""},
	{"42.7335 84.5467", 42.7335, 84.5467, 0.0001, "hemisphere-missing"},
	{"42,84", 42, 84, 1, "hemisphere-missing"},
	{"42.7335 N, -84.5467", 42.7335, -84.5467, 0.0001, "hemisphere-half"},
	{".5, -.25", 0.5, -0.25, 0.25, "precision-fraction"},
	// Chapman and Wieczorek (2020), 3.4.3: these two pairs are precise to
	// 0.01 and to half a degree.
	{"10.27, -123.6", 10.27, -123.6, 0.01, ""},
	{"10.00000, -123.50000", 10, -123.5, 0.5, "precision-fraction"},
	{"10.3333, -123.6667", 10.3333, -123.6667, minute, "precision-minutes"},
	// Degrees and minutes. 36 31.4566 is 36.524276 by arithmetic.
	{"36 31.4566 N 114 09.8433 W", 36.524276667, -114.164055, 0.0001 * minute, ""},
	{"42°44′N 84°32′W", 42 + 44*minute, -84 - 32*minute, minute, ""},
	{"42 44, -84 32", 42 + 44*minute, -84 - 32*minute, minute, ""},
	{"42d44m N 84d32m W", 42 + 44*minute, -84 - 32*minute, minute, ""},
	{"-0 30, 0 15", -0.5, 0.25, minute, ""},
	{"42 44,5 N; 84 32,5 W", 42 + 44.5*minute, -84 - 32.5*minute, 0.1 * minute, ""},
	// Degrees, minutes and seconds. 114 09 50.6 W is -114.164056, and the
	// first is a published example of coordinates alone.
	{"27 34 23.4 N, 121 56 42.3 W", 27.5731667, -121.9450833, 0.1 * second, ""},
	{`36°31'21.4" N; 114°09'50.6" W`, 36.5226111, -114.1640556, 0.1 * second, ""},
	{"42-44-00N 84-32-48W", 42 + 44*minute, -84.5466667, second, ""},
	{"42° 44’ 00” N, 84° 32’ 48” W", 42 + 44*minute, -84.5466667, second, ""},
	{"42d44m00s N 84d32m48s W", 42 + 44*minute, -84.5466667, second, ""},
	{"42:44:00 N 84:32:48 W", 42 + 44*minute, -84.5466667, second, ""},
	{"42 44 00 84 32 48", 42 + 44*minute, 84.5466667, second, "hemisphere-missing"},
	{"42°44'00''N 84°32'48''W", 42 + 44*minute, -84.5466667, second, ""},
	{"42 44 00 S 84 32 48 W", -42 - 44*minute, -84.5466667, second, ""},
	// What cannot be right. A code with ! is a piece of the sentence.
	{"5d70.0 N 10 E", 0, 0, 0, "!70.0 minutes"},
	{"5d60 N 10 E", 0, 0, 0, "!60 minutes"},
	{"42 44 60 N 84 32 48 W", 0, 0, 0, "!60 seconds"},
	{"91.5, 10", 0, 0, 0, "!swapped"},
	{"-84.5467 W, 42.7335 N", 0, 0, 0, "!write one of them"},
	{"-123.07, 38.305", 0, 0, 0, "!swapped"},
	{"95 N 170 W", 0, 0, 0, "!beyond a pole"},
	{"42, 190", 0, 0, 0, "!date line"},
	{"42 N 84 S", 0, 0, 0, "!both numbers are latitudes"},
	{"42 E 84 W", 0, 0, 0, "!both numbers are longitudes"},
	{"42.5 44 N 84 32 W", 0, 0, 0, "!may have decimals"},
	{"42.7335", 0, 0, 0, "!two coordinates are needed"},
	{"42.7335 N", 0, 0, 0, "!two coordinates are needed"},
	{"", 0, 0, 0, "!no coordinate"},
	{"by the old oak", 0, 0, 0, "!no part of a coordinate"},
	{"42, -84, 250", 0, 0, 0, "!coordinates"},
	{"42 44 84", 0, 0, 0, "!two coordinates are needed"},
	{"42,7335,84,5467", 0, 0, 0, "!semicolon"},
	{"42 30,84 20", 0, 0, 0, "!semicolon"},
	{"42 NN 84 W", 0, 0, 0, "!no part of a coordinate"},
	{"N N 42 W 84", 0, 0, 0, "!two coordinates are needed"},
	{"42''44° N, 84 W", 0, 0, 0, "!not in their order"},
	{"lat 42 E, 84 N", 0, 0, 0, "!both a latitude and a longitude"},
}

func TestCoordinatesAreReadAsPeopleWriteThem(t *testing.T) {
	for _, tt := range readTests {
		r, err := notation.Read(tt.text)
		if says, refused := strings.CutPrefix(tt.codes, "!"); refused {
			if err == nil || !strings.Contains(err.Error(), says) || r.Point.Known() {
				t.Errorf("%q: got %v, %v, want a refusal that says %q", tt.text, r.Point, err, says)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q: got error %q", tt.text, err)
			continue
		}
		if math.Abs(float64(r.Point.Lat())-tt.lat) > 1e-7 || math.Abs(float64(r.Point.Lon())-tt.lon) > 1e-7 {
			t.Errorf("%q: got %v, want %v, %v", tt.text, r.Point, tt.lat, tt.lon)
		}
		if math.Abs(float64(r.Precision)/tt.precision-1) > 1e-9 {
			t.Errorf("%q: got a precision of %v degrees, want %v", tt.text, r.Precision, tt.precision)
		}
		codes := ""
		for _, f := range r.Findings {
			codes += f.Code
		}
		if codes != tt.codes {
			t.Errorf("%q: got findings %q, want %q", tt.text, codes, tt.codes)
		}
	}
}

func TestASwappedPairIsRefusedAndExplained(t *testing.T) {
	for text, want := range map[string]string{
		"-123.07, 38.305":        "swapped",
		"123.07 W, 38.305 N":     "", // letters settle it, and it is read
		"95 N 20 E":              "",
		"-123.07, 138.305":       "",
		"lat -123.07 lon 38.305": "",
	} {
		r, _ := notation.Read(text)
		got := ""
		for _, f := range r.Findings {
			got += f.Code
		}
		if got != want {
			t.Errorf("%q: got findings %q, want %q", text, got, want)
		}
	}
}

func TestCoordinatesAreWritten(t *testing.T) {
	p, err := geo.At(-42.73350, 84.9999999)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		form   notation.Form
		places int
		want   string
	}{
		{notation.Decimal, 4, "-42.7335, 85.0000"},
		{notation.Minutes, 2, "42°44.01′ S, 85°00.00′ E"},
		{notation.Seconds, 1, "42°44′00.6″ S, 85°00′00.0″ E"},
		{notation.Seconds, 0, "42°44′01″ S, 85°00′00″ E"},
	} {
		if got := notation.Write(p, tt.form, tt.places); got != tt.want {
			t.Errorf("%s with %d places: got %q, want %q", tt.form, tt.places, got, tt.want)
		}
	}
	if got := notation.Write(geo.Point{}, notation.Decimal, 4); got != "" {
		t.Errorf("an unknown point: got %q, want nothing", got)
	}
	near, err := geo.At(-0.00000001, -0.00000001)
	if err != nil {
		t.Fatal(err)
	}
	if got := notation.Write(near, notation.Decimal, 3); got != "0.000, 0.000" {
		t.Errorf("a hair south of zero: got %q, want %q", got, "0.000, 0.000")
	}
}

// What the writer wrote, the reader reads: within half of the last place, and
// with that place as its precision or a coarser one.
func FuzzWriteAndRead(f *testing.F) {
	f.Add(42.7335, -84.5467, uint8(1), uint8(5))
	f.Add(math.Copysign(0, -1), 180.0, uint8(3), uint8(0))
	f.Add(89.99999999, 179.99999999, uint8(2), uint8(3))
	f.Fuzz(func(t *testing.T, lat, lon float64, form, places uint8) {
		p, err := geo.At(geo.Degrees(lat), geo.Degrees(lon))
		if err != nil {
			return
		}
		fm, n := notation.Form(form%5+1), int(places%10)
		text := notation.Write(p, fm, n)
		r, err := notation.Read(text)
		if err != nil {
			t.Fatalf("%v as %q: %v", p, text, err)
		}
		unit := math.Pow10(-n)
		if fm == notation.Minutes || fm == notation.Seconds {
			unit /= math.Pow(60, float64(fm-1))
		}
		north, east := geodesic.MetresPerDegree(0)
		most := geo.Metres(unit)/2*max(north, east)*1.5 + 1e-6
		if d, err := geodesic.Distance(p, r.Point); err != nil || d > most {
			t.Errorf("%v as %q: read back %v m away (%v), want at most %v m", p, text, d, err, most)
		}
		if float64(r.Precision) < unit*(1-1e-9) {
			t.Errorf("%q: got a precision of %v degrees, finer than the %v written", text, r.Precision, unit)
		}
		if again := notation.Write(r.Point, fm, n); again != text {
			t.Errorf("%q was read and written as %q", text, again)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, tt := range readTests {
		f.Add(tt.text)
	}
	for _, tt := range gridTests {
		f.Add(tt.text)
	}
	for _, tt := range standardTests {
		f.Add(tt.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := notation.Read(text)
		if (err == nil) != r.Point.Known() {
			t.Errorf("%q: got %v and %v, want a point or an error", text, r.Point, err)
		}
		degrees := r.Precision > 0 && r.Precision <= 1 && r.Side == 0 && r.Spread == 0
		metres := r.Precision == 0 && r.Side > 0 && r.Spread >= r.Side/2
		if err == nil && degrees == metres {
			t.Errorf("%q: got a precision of %v degrees beside a side of %v m and a spread of %v m", text, r.Precision, r.Side, r.Spread)
		}
	})
}
