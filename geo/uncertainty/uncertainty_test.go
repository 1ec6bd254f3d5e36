package uncertainty_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/geodesic"
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

// 8 m at 68 % is 8 x 1.6215 = 12.97 m at 95 %; five decimals at latitude 42.7
// are 1.38 m by the radii of curvature; a verge of 5 m was searched. The sum
// is 19.35 m, 20 m when shown.
func ExampleCombine() {
	at, _ := geo.At(42.73354, -84.54671)
	fix, _ := uncertainty.OfDevice(8*geo.Metre, geo.Sigma)
	written, _ := uncertainty.OfPrecision(at, 0.00001)
	verge := uncertainty.OfExtent(5*geo.Metre, "the verge that was searched")
	e, err := uncertainty.Combine(at, verge, fix, written, uncertainty.OfKnownDatum("WGS 84"))
	fmt.Println(uncertainty.WholeMetres(e.Circle.Radius), "m", err)
	for _, t := range e.Terms {
		fmt.Printf("%s %.2f\n", t.Source, t.Radius)
	}
	// Output:
	// 20 m <nil>
	// extent 5.00
	// coordinates 12.97
	// precision 1.38
	// datum 0.00
}

// Chapman and Wieczorek, Georeferencing Best Practices (2020), 3.4.3: the
// table of metric uncertainty by precision and latitude. Its note says that
// cells are rounded up, some are rounded to the nearest: within 1 m.
var precisionTable = []struct {
	name      string
	precision geo.Degrees
	want      [4]float64 // at latitudes 0, 30, 60, 85
}{
	{"1 degree", 1, [4]float64{156904, 146962, 124605, 112109}},
	{"0.1 degree", 0.1, [4]float64{15691, 14697, 12461, 11211}},
	{"0.01 degree", 0.01, [4]float64{1570, 1470, 1246, 1121}},
	{"0.001 degree", 0.001, [4]float64{157, 147, 125, 112}},
	{"0.0001 degree", 0.0001, [4]float64{16, 15, 13, 12}},
	{"0.00001 degree", 0.00001, [4]float64{2, 2, 2, 2}},
	{"1 minute", 1. / 60, [4]float64{2615, 2450, 2077, 1869}},
	{"0.1 minute", 0.1 / 60, [4]float64{262, 245, 208, 187}},
	{"0.01 minute", 0.01 / 60, [4]float64{27, 25, 21, 19}},
	{"0.001 minute", 0.001 / 60, [4]float64{3, 3, 3, 2}},
	{"1 second", 1. / 3600, [4]float64{44, 41, 35, 32}},
	{"0.1 second", 0.1 / 3600, [4]float64{5, 5, 4, 4}},
	{"0.01 second", 0.01 / 3600, [4]float64{1, 1, 1, 1}},
}

func TestThePublishedTableOfCoordinatePrecisionIsReproduced(t *testing.T) {
	for _, tt := range precisionTable {
		for i, lat := range [...]geo.Degrees{0, 30, 60, 85} {
			got, err := uncertainty.OfPrecision(point(t, lat, 0), tt.precision)
			if err != nil || math.Abs(float64(got.Radius)-tt.want[i]) > 1 {
				t.Errorf("%s at latitude %v: got %.2f m, %v, want %.0f m within 1 m", tt.name, lat, got.Radius, err, tt.want[i])
			}
		}
	}
}

// The same section: 10.27, -123.6 is precise to 0.01 degree, 1.5568 km;
// 10.00000, -123.50000 to half a degree, 77.87 km.
func TestThePublishedExamplesOfCoordinatePrecision(t *testing.T) {
	for _, tt := range []struct {
		lat       geo.Degrees
		precision geo.Degrees
		want      float64
	}{{10.27, 0.01, 1556.8}, {10, 0.5, 77870}} {
		got, err := uncertainty.OfPrecision(point(t, tt.lat, -123.5), tt.precision)
		if err != nil || math.Abs(float64(got.Radius)/tt.want-1) > 0.0001 {
			t.Errorf("%v degrees at %v: got %.1f m, %v, want %.1f m", tt.precision, tt.lat, got.Radius, err, tt.want)
		}
	}
}

// Factors by hand from the circular normal error: sqrt(ln 0.05 / ln(1-q)).
// The levels of browsers (95 %) and Android (68 %) are in the W3C definition
// and the vendor's reference.
var deviceTests = []struct {
	name     string
	accuracy geo.Metres
	level    geo.Confidence
	want     float64
	code     string
}{
	{"a browser's 10 m is kept", 10, geo.NinetyFive, 10, ""},
	{"Android's 10 m grows by 1.621", 10, geo.Sigma, 16.215, ""},
	{"a root mean square of 10 m grows by 1.731", 10, geo.RMS, 17.31, ""},
	{"half of the fixes within 10 m grows by 2.079", 10, geo.Half, 20.79, ""},
	{"an unknown level is taken as half", 10, geo.UnknownConfidence, 20.79, ""},
	{"a level above one is not believed", 10, 95, 20.79, ""},
	{"99 % is never shrunk", 10, 0.99, 10, ""},
	{"no accuracy is 30 m", 0, geo.NinetyFive, 30, "accuracy-missing"},
	{"an accuracy below zero is 30 m", -1, geo.NinetyFive, 30, "accuracy-missing"},
	{"an accuracy that is no number is 30 m", geo.Metres(math.NaN()), geo.NinetyFive, 30, "accuracy-missing"},
	{"an endless accuracy is 30 m", geo.Metres(math.Inf(1)), geo.NinetyFive, 30, "accuracy-missing"},
	{"10 cm is not believed", 0.1, geo.NinetyFive, 1, "accuracy-too-good"},
	{"3 km comes from masts", 3000, geo.NinetyFive, 3000, "accuracy-coarse"},
	{"400 km is no position", 400_000, geo.NinetyFive, 400_000, "accuracy-absurd"},
}

func TestADeviceFixIsTurnedIntoARadiusAt95Percent(t *testing.T) {
	for _, tt := range deviceTests {
		got, findings := uncertainty.OfDevice(tt.accuracy, tt.level)
		if math.Abs(float64(got.Radius)-tt.want) > 0.0006*tt.want {
			t.Errorf("%s: got %.3f m, want %.3f m", tt.name, got.Radius, tt.want)
		}
		code := ""
		if len(findings) > 0 {
			code = findings[0].Code
		}
		if code != tt.code {
			t.Errorf("%s: got finding %q, want %q", tt.name, code, tt.code)
		}
		if got.Because == "" || got.Cites == "" {
			t.Errorf("%s: got %+v, want a reason and a citation", tt.name, got)
		}
	}
}

func TestAnUnknownDatumIsTheWorstCaseUnlessBothFactsHold(t *testing.T) {
	lansing, oahu := point(t, 42.7, -84.5), point(t, 21.4, -157.9)
	both := uncertainty.DatumFacts{ConterminousUS: true, American: true}
	for _, tt := range []struct {
		name  string
		at    geo.Point
		facts uncertainty.DatumFacts
		want  geo.Metres
	}{
		{"nothing known", lansing, uncertainty.DatumFacts{}, 5359},
		{"in the 48 states, any datum", lansing, uncertainty.DatumFacts{ConterminousUS: true}, 5359},
		{"an American datum, anywhere", lansing, uncertainty.DatumFacts{American: true}, 5359},
		{"an American datum in the 48 states", lansing, both, 100},
		{"claimed for Hawaii", oahu, both, 5359},
		{"claimed for nowhere", geo.Point{}, both, 5359},
	} {
		if got := uncertainty.OfUnknownDatum(tt.at, tt.facts); got.Radius != tt.want {
			t.Errorf("%s: got %v m, want %v m", tt.name, got.Radius, tt.want)
		}
	}
}

// National Map Accuracy Standards: 40 ft at 1:24,000 and 33.3 ft at 1:12,000
// in nine cases of ten (USGS Fact Sheet 171-99), here times 1.1406 for 95 %.
func TestMapTerms(t *testing.T) {
	for scale, want := range map[float64]float64{24_000: 12.19 * 1.1406, 12_000: 10.16 * 1.1406} {
		if got := uncertainty.OfMapAccuracy(scale); math.Abs(float64(got.Radius)-want) > 0.01 {
			t.Errorf("map at 1:%.0f: got %.2f m, want %.2f m", scale, got.Radius, want)
		}
	}
	if got := uncertainty.OfMapMeasurement(24_000).Radius; got != 24 {
		t.Errorf("a millimetre at 1:24,000: got %v m, want 24 m", got)
	}
}

// By hand from the cosine rule, in kilometres. The first row agrees with the
// figure printed by Chapman and Wieczorek (2020), 3.4.5, for 10 km north-east
// without distance error: 3.90 km.
var headingTests = []struct {
	name      string
	d, p      float64
	halfAngle geo.Degrees
	want      float64
}{
	{"10 km NE", 10, 0, 22.5, 3.9018},
	{"10 km N", 10, 0, 45, 7.6537},
	{"10 km N give or take 0.5", 10, 0.5, 45, 7.8586},
	{"10 km NNE give or take 0.5", 10, 0.5, 11.25, 2.0700},
	{"10 km NbE give or take 0.5", 10, 0.5, 5.625, 1.1230},
	{"10 km, heading exact", 10, 0.5, 0, 0.5},
	{"5 km N give or take 3", 5, 3, 45, 5.6949},
	{"1 km NE give or take 0.5", 1, 0.5, 22.5, 0.6916},
}

func TestDistanceAndHeadingMakeTheStrictBound(t *testing.T) {
	for _, tt := range headingTests {
		d, p := geo.Metres(tt.d*1000), geo.Metres(tt.p*1000)
		got := uncertainty.OfOffset(p).Radius + uncertainty.OfHeading(d, p, tt.halfAngle).Radius
		if math.Abs(float64(got)/1000-tt.want) > 0.0001 {
			t.Errorf("%s: got %.4f km, want %.4f km", tt.name, got/1000, tt.want)
		}
	}
}

func draw(t *testing.T, r *rand.Rand) uncertainty.Sector {
	t.Helper()
	distance := geo.Metres(math.Exp(r.Float64()*math.Log(200)) * 300)
	return uncertainty.Sector{
		From:      point(t, geo.Degrees(170*r.Float64()-85), geo.Degrees(360*r.Float64()-180)),
		Distance:  distance,
		Heading:   geo.Degrees(360 * r.Float64()),
		Half:      distance * geo.Metres(0.3*r.Float64()),
		HalfAngle: [...]geo.Degrees{45, 22.5, 11.25, 5.625, 0.5, 0}[r.Intn(6)],
		Shift:     geo.Metres(10_000 * r.Float64() * r.Float64()),
	}
}

func direct(t *testing.T, from geo.Point, heading geo.Degrees, d geo.Metres) geo.Point {
	t.Helper()
	p, _, err := geodesic.Direct(from, heading, d)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// truth draws a place that agrees with what was written. Every other draw is
// from the rim, where the worst cases are.
func truth(t *testing.T, r *rand.Rand, s *uncertainty.Sector) geo.Point {
	t.Helper()
	shift, half, side := s.Shift, s.Half, geo.Degrees(1)
	switch r.Intn(4) {
	case 0:
		shift *= geo.Metres(math.Sqrt(r.Float64()))
		half *= geo.Metres(2*r.Float64() - 1)
		side = geo.Degrees(2*r.Float64() - 1)
	case 1:
		side = geo.Degrees(2*r.Float64() - 1)
	case 2:
		side = -1
	}
	start := direct(t, s.From, geo.Degrees(360*r.Float64()), shift)
	return direct(t, start, s.Heading+side*s.HalfAngle, s.Distance+half)
}

// The worst case is sought by chance here and by search in the package.
func TestEveryTruthIsInsideAndNoCircleIsTooWide(t *testing.T) {
	r := rand.New(rand.NewSource(20200701))
	widest, closest := 0.0, 0.0
	for range 200 {
		s := draw(t, r)
		stated, heading, err := uncertainty.OfSector(s)
		if err != nil {
			t.Fatal(err)
		}
		e, err := uncertainty.Combine(stated, uncertainty.OfExtent(s.Shift, "it"), uncertainty.OfOffset(s.Half), heading)
		if err != nil {
			t.Fatal(err)
		}
		worst := geo.Metres(0)
		for range 4000 {
			d, err := geodesic.Distance(stated, truth(t, r, &s))
			if err != nil {
				t.Fatal(err)
			}
			worst = max(worst, d)
		}
		if worst > e.Circle.Radius {
			t.Errorf("%+v: a truth lies %.2f m away, outside %.2f m", s, worst, e.Circle.Radius)
		}
		closest = math.Max(closest, float64(worst/e.Circle.Radius))
		widest = math.Max(widest, float64(e.Circle.Radius/worst))
	}
	t.Logf("the worst truths lie between %.6f and %.6f of the radius", 1/widest, closest)
	if widest > 1.001 {
		t.Errorf("a circle is %.5f times as wide as the worst truth found, want at most 1.001", widest)
	}
}

func TestOffsetsThatMeanNothingAreRefused(t *testing.T) {
	at := point(t, 42.7, -84.5)
	for _, tt := range []struct {
		name string
		in   uncertainty.Sector
		want geo.Kind
	}{
		{"from nowhere", uncertainty.Sector{Distance: 1}, geo.Unknown},
		{"a distance below zero", uncertainty.Sector{From: at, Distance: -1}, geo.Invalid},
		{"an endless shift", uncertainty.Sector{From: at, Shift: geo.Metres(math.Inf(1))}, geo.Invalid},
		{"2000 km", uncertainty.Sector{From: at, Distance: 2e6}, geo.Invalid},
		{"a heading off by half a turn", uncertainty.Sector{From: at, Distance: 1, HalfAngle: 180}, geo.Invalid},
		{"a heading beside the pole", uncertainty.Sector{From: point(t, 89.999, 0), Distance: 10, HalfAngle: 1, Shift: 500}, geo.Invalid},
	} {
		if p, _, err := uncertainty.OfSector(tt.in); geo.KindOf(err) != tt.want || p.Known() {
			t.Errorf("%s: got %v, %v, want no point and kind %v", tt.name, p, err, tt.want)
		}
	}
}

func TestCombineAddsPlainlyAndRefusesNothingness(t *testing.T) {
	at := point(t, 42.7, -84.5)
	e, err := uncertainty.Combine(at, uncertainty.OfExtent(3, "it"), uncertainty.OfOffset(4))
	if err != nil || e.Circle != (geo.Circle{Centre: at, Radius: 7}) || len(e.Terms) != 2 || e.Rule == "" {
		t.Errorf("3 m and 4 m: got %+v, %v, want 7 m with both terms", e, err)
	}
	for _, tt := range []struct {
		name   string
		centre geo.Point
		terms  []uncertainty.Term
		want   geo.Kind
	}{
		{"no point", geo.Point{}, []uncertainty.Term{uncertainty.OfOffset(1)}, geo.Unknown},
		{"no terms", at, nil, geo.Unknown},
		{"terms of nothing", at, []uncertainty.Term{uncertainty.OfKnownDatum("WGS 84")}, geo.Unknown},
		{"a term of no source", at, []uncertainty.Term{{Radius: 5}}, geo.Unknown},
		{"a term below zero", at, []uncertainty.Term{uncertainty.OfOffset(-1)}, geo.Invalid},
		{"a term that is no number", at, []uncertainty.Term{uncertainty.OfExtent(geo.Metres(math.NaN()), "it")}, geo.Invalid},
		{"an endless term", at, []uncertainty.Term{uncertainty.OfExtent(geo.Metres(math.Inf(1)), "it")}, geo.Invalid},
	} {
		e, err := uncertainty.Combine(tt.centre, tt.terms...)
		if geo.KindOf(err) != tt.want || e.Circle.Known() {
			t.Errorf("%s: got %+v, %v, want no circle and kind %v", tt.name, e, err, tt.want)
		}
	}
}

func TestRadiiAreRoundedUp(t *testing.T) {
	for in, want := range map[geo.Metres]int{0.2: 1, 7: 7, 7.001: 8} {
		if got := uncertainty.WholeMetres(in); got != want {
			t.Errorf("%v m: got %d m, want %d m", in, got, want)
		}
	}
}

func TestTermsAreKeptAsWords(t *testing.T) {
	b, err := json.Marshal(uncertainty.OfOffset(4))
	if err != nil || !strings.Contains(string(b), `"source":"offset"`) {
		t.Errorf("got %s, %v, want the source in a word", b, err)
	}
	var back uncertainty.Term
	if err := json.Unmarshal(b, &back); err != nil || back != uncertainty.OfOffset(4) {
		t.Errorf("read back: got %+v, %v, want the same term", back, err)
	}
	if err := json.Unmarshal([]byte(`{"source":"gossip"}`), &back); err == nil {
		t.Error("a source from nowhere: got no error")
	}
}

func BenchmarkOfSector(b *testing.B) {
	s := uncertainty.Sector{From: point(b, 42.7, -84.5), Distance: 4828, Half: 805, Heading: 45, HalfAngle: 22.5, Shift: 3000}
	for b.Loop() {
		if _, _, err := uncertainty.OfSector(s); err != nil {
			b.Fatal(err)
		}
	}
}
