package locality_test

import (
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
	"wayfall/geo/locality"
	"wayfall/geo/uncertainty"
)

func point(t testing.TB, lat, lon geo.Degrees) geo.Point {
	t.Helper()
	p, err := geo.At(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// By hand: 3 mi are 4828.032 m, half a mile is 804.672 m. On the plane the
// sector's far corner lies sqrt(804.672^2 + 4 x 4828.032 x 5632.704 x
// sin^2 11.25) = 2190.0 m away, and the feature's radial adds 3000 m.
func ExampleOffset_Locate() {
	o, _ := locality.Read("3 mi NE of Lansing")
	lansing, _ := geo.At(42.7325, -84.5555)
	e, err := o.Locate(lansing, 3*geo.Kilometre)
	fmt.Println(o.Number, o.Unit, o.Toward, o.Feature, err)
	fmt.Printf("within %.1f km of %.3f, %.3f\n", e.Circle.Radius/geo.Kilometre, e.Circle.Centre.Lat(), e.Circle.Centre.Lon())
	// Output:
	// 3 mi NE Lansing <nil>
	// within 5.2 km of 42.763, -84.514
}

// Chapman and Wieczorek, Georeferencing Best Practices (2020), 3.4.6: the
// uncertainty of a distance by the way it is written. All fourteen rows.
var publishedRows = []struct {
	distance string
	half     float64 // in the unit
}{
	{"10.1 km", 0.05}, {"10.25 mi", 0.125}, {"10.5 km", 0.25}, {"10.6 mi", 0.05},
	{"10.75 km", 0.125}, {"10 mi", 0.5}, {"15 km", 0.5}, {"30 mi", 0.5},
	{"33 km", 0.5}, {"100 mi", 5}, {"140 km", 5}, {"200 mi", 5},
	{"1000 m", 50}, {"2000 m", 50},
}

// Rows beyond the table: the same source's text for 6 mi and 3.75 km, its
// fractions, and common practice for thirds, eighths and "10.0".
var moreRows = []struct {
	distance string
	half     float64
}{
	{"6 mi", 0.5}, {"3.75 km", 0.125}, {"10 1/4 mi", 0.125}, {"1/2 mi", 0.25}, {"3 1/2 mi", 0.25},
	{"3-1/2 mi", 0.25}, {"3½ mi", 0.25}, {"¾ mile", 0.125}, {"0.33 km", 1. / 6}, {"2.125 mi", 1. / 16},
	{"10.0 km", 0.05}, {"1,000 m", 50}, {"2600 ft", 50}, {"50 yards", 0.5}, {".5 mi.", 0.25},
	{"about 25 km", 0.5}, {"ca. 25km", 0.5}, {"1,234,567 m", 0},
}

var unitMetres = map[string]float64{"mi": 1609.344, "km": 1000, "m": 1, "ft": 0.3048, "yd": 0.9144}

func TestDistancesAreAsPreciseAsTheyAreWritten(t *testing.T) {
	if len(publishedRows) != 14 {
		t.Fatalf("got %d published rows, want 14", len(publishedRows))
	}
	for _, row := range append(publishedRows, moreRows...) {
		o, err := locality.Read(row.distance + " NE of X")
		if row.half == 0 {
			if err == nil {
				t.Errorf("%s: got %v, want a refusal", row.distance, o.Distance)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", row.distance, err)
			continue
		}
		if got := float64(o.Half) / unitMetres[o.Unit]; math.Abs(got-row.half) > 1e-9 {
			t.Errorf("%s: got %.4f %s either way, want %.4f", row.distance, got, o.Unit, row.half)
		}
	}
}

var headingTests = []struct {
	written            string
	toward             string
	heading, halfAngle geo.Degrees
}{
	{"N", "N", 0, 45}, {"east", "E", 90, 45}, {"due N", "N", 0, 11.25}, {"due north", "N", 0, 11.25},
	{"NE", "NE", 45, 22.5}, {"S.W.", "SW", 225, 22.5}, {"north-west", "NW", 315, 22.5}, {"southeast", "SE", 135, 22.5},
	{"NNE", "NNE", 22.5, 11.25}, {"west-south-west", "WSW", 247.5, 11.25}, {"north northwest", "NNW", 337.5, 11.25},
	{"NbE", "NbE", 11.25, 5.625}, {"NW by W", "NWbW", 303.75, 5.625}, {"south by east", "SbE", 168.75, 5.625},
	{"(by air) east", "E", 90, 45}, {"E (by air)", "E", 90, 45},
}

func TestHeadingsAreAsPreciseAsTheyAreWritten(t *testing.T) {
	for _, tt := range headingTests {
		o, err := locality.Read("10 km " + tt.written + " from the mouth of Red Creek, Ingham Co.")
		if err != nil || o.Toward != tt.toward || o.Heading != tt.heading || o.HalfAngle != tt.halfAngle {
			t.Errorf("%s: got %s, %v give or take %v degrees, %v; want %s, %v give or take %v",
				tt.written, o.Toward, o.Heading, o.HalfAngle, err, tt.toward, tt.heading, tt.halfAngle)
		}
		if want := "the mouth of Red Creek, Ingham Co"; o.Feature != want {
			t.Errorf("%s: got feature %q, want %q", tt.written, o.Feature, want)
		}
	}
}

// Most texts are the published examples of other kinds of locality in Chapman
// and Wieczorek (2020) and Zermoglio et al. (2020); none of them may be taken
// for a distance at a heading.
var refusedTests = []struct{ text, says string }{
	{"Bakersfield", "a distance"},
	{"North of Bakersfield", "a distance"},
	{"5 mi from Bakersfield", "a heading"},
	{"13 miles east (by road) from Bakersfield", "along a road"},
	{"2 miles east and 3 miles north of Bakersfield", "two offsets"},
	{"6 km N and 4 km W of Welna", "two offsets"},
	{"5 km outside Calgary", `"of" or "from"`},
	{"near Dina Huapi", "a distance"},
	{"between Point Reyes and Inverness", "a distance"},
	{"possibly Isla Boca Brava", "a distance"},
	{"10 leagues NE of Lansing", "unit of length"},
	{"10 NE of Lansing", "unit of length"},
	{"3 mi NEE of Lansing", "no point of the compass"},
	{"3 mi up from Lansing", "a heading"},
	{"3 mi NE of", "missing"},
	{"3 mi NE of 2 mi N of Lansing", "one offset starts from another"},
	{"3,5 km NE of Lansing", "comma"},
	{"0 mi NE of Lansing", "no offset"},
	{"-3 mi NE of Lansing", "a distance"},
	{"5/2 mi NE of Lansing", "unit of length"},
	{"", "a distance"},
}

func TestWhatIsNotUnderstoodIsNamedAndNotGuessed(t *testing.T) {
	for _, tt := range refusedTests {
		o, err := locality.Read(tt.text)
		if err == nil || !strings.Contains(err.Error(), tt.says) || geo.KindOf(err) != geo.NotUnderstood {
			t.Errorf("%q: got %+v, %v, want a refusal that says %q", tt.text, o, err, tt.says)
		}
	}
}

func TestAnOffsetCarriesAllItsTerms(t *testing.T) {
	o, err := locality.Read("10 km N of X")
	if err != nil {
		t.Fatal(err)
	}
	at := point(t, 42.7, -84.5)
	e, err := o.Locate(at, 2000, uncertainty.OfUnknownDatum(at, uncertainty.DatumFacts{ConterminousUS: true, American: true}))
	if err != nil {
		t.Fatal(err)
	}
	// By hand on the plane: 7858.6 m for 10 km, 0.5 km and 45 degrees, then
	// 2000 m and 100 m. North turns by a fraction of a degree over 2 km,
	// which is worth some metres.
	if got := float64(e.Circle.Radius); math.Abs(got-9958.6) > 15 {
		t.Errorf("got a radius of %.1f m, want 9958.6 m within 15 m", got)
	}
	var sources []string
	for _, term := range e.Terms {
		sources = append(sources, term.Source.String())
	}
	if got, want := strings.Join(sources, " "), "extent datum offset heading"; got != want {
		t.Errorf("got terms %q, want %q", got, want)
	}
	if _, err := o.Locate(geo.Point{}, 2000); geo.KindOf(err) != geo.Unknown {
		t.Errorf("from an unknown feature: got %v, want kind unknown", err)
	}
	if _, err := o.Locate(at, geo.Metres(math.NaN())); geo.KindOf(err) != geo.Invalid {
		t.Errorf("from a feature of no size: got %v, want kind invalid", err)
	}
	if _, err := (&locality.Offset{}).Locate(at, 10); geo.KindOf(err) != geo.Unknown {
		t.Errorf("an empty offset: got %v, want kind unknown", err)
	}
}

// A truth: some place in the feature, a distance that rounds to the one
// written, a heading that is nearer to the one written than to its neighbour.
func TestEveryTruthOfAWrittenOffsetIsInside(t *testing.T) {
	r := rand.New(rand.NewSource(11))
	texts := []string{"3 mi NE of X", "10.5 km N of X", "1/4 mi SSW of X", "30 mi WNW of X", "200 m EbS of X"}
	for _, text := range texts {
		o, err := locality.Read(text)
		if err != nil {
			t.Fatal(err)
		}
		feature := point(t, geo.Degrees(25+24*r.Float64()), geo.Degrees(-120+50*r.Float64()))
		e, err := o.Locate(feature, 1500)
		if err != nil {
			t.Fatal(err)
		}
		for range 2000 {
			start, _, err1 := geodesic.Direct(feature, geo.Degrees(360*r.Float64()), geo.Metres(1500*math.Sqrt(r.Float64())))
			truth, _, err2 := geodesic.Direct(start, o.Heading+o.HalfAngle*geo.Degrees(2*r.Float64()-1), o.Distance+o.Half*geo.Metres(2*r.Float64()-1))
			d, err3 := geodesic.Distance(e.Circle.Centre, truth)
			if err1 != nil || err2 != nil || err3 != nil {
				t.Fatal(err1, err2, err3)
			}
			if d > e.Circle.Radius {
				t.Errorf("%s: a truth lies %.1f m away, outside %.1f m", text, d, e.Circle.Radius)
			}
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, tt := range refusedTests {
		f.Add(tt.text)
	}
	f.Add("about 3 1/2 mi. N.N.E. of Lansing")
	f.Add("1,000 ft due west from the bridge")
	f.Fuzz(func(t *testing.T, text string) {
		o, err := locality.Read(text)
		if err != nil {
			return
		}
		if !(o.Distance > 0 && o.Half > 0 && o.HalfAngle > 0 && o.Feature != "" && o.Verbatim == text) {
			t.Errorf("%q: got %+v, want a distance, its doubts and a feature", text, o)
		}
		again, err := locality.Read(o.Number + " " + o.Unit + " " + o.Toward + " of " + o.Feature)
		if err != nil || again.Distance != o.Distance || again.Half != o.Half || again.Heading != o.Heading {
			t.Errorf("%q: read again as %+v, %v", text, again, err)
		}
	})
}
