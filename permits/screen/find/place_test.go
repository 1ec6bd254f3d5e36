package find

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/geo/region"
	"wayfall/sync/record"
)

func placed(t *testing.T, m Map, w Whereabouts) record.Georeference {
	t.Helper()
	g, err := m.Place(w)
	if err != nil {
		t.Fatalf("%+v: %v", w, err)
	}
	return g
}

func term(t *testing.T, g record.Georeference, name string) float64 {
	t.Helper()
	for _, x := range g.Terms {
		if x.Name == name {
			if x.Why == "" {
				t.Errorf("the term for %s does not say why", name)
			}
			return x.Metres
		}
	}
	t.Errorf("no term for %s in %+v", name, g.Terms)
	return 0
}

// Under a circular normal error a radius grows with sqrt(-ln(1-level)): 8 m at
// 68 % are 8 x 1.6215 = 12.97 m at 95 %, at 50 % 8 x 2.0789 = 16.63 m.
func TestAFixIsTurnedToNinetyFivePerCent(t *testing.T) {
	fix := func(accuracy, level float64) Whereabouts {
		return Whereabouts{Fix: &record.Fix{Lat: 43.23418, Lon: -86.1, Accuracy: accuracy, Level: level}}
	}
	for _, tt := range []struct {
		name   string
		in     Whereabouts
		term   float64
		radius float64
		flag   string
	}{
		{"a browser's 95 % stays", fix(8, 0.95), 8, 8, ""},
		{"68 % grows", fix(8, 0.68), 12.972, 13, ""},
		{"a level not said is 50 %", fix(8, 0), 16.631, 17, ""},
		{"no accuracy is 30 m", fix(0, 0.95), 30, 30, "accuracy-missing"},
		{"less than a metre is a metre", fix(0.2, 0.95), 1, 1, "accuracy-too-good"},
		{"five kilometres are kept and flagged", fix(5000, 0.95), 5000, 5000, "accuracy-coarse"},
	} {
		g := placed(t, here(t), tt.in)
		if got := term(t, g, "coordinates"); math.Abs(got-tt.term) > 0.01 || g.Radius != tt.radius {
			t.Errorf("%s: got %.3f m, radius %v m, want %.3f, %v", tt.name, got, g.Radius, tt.term, tt.radius)
		}
		if g.Lat != 43.23418 || g.Lon != -86.1 || !g.Known || g.Source != "device" || g.Datum != "WGS84" {
			t.Errorf("%s: got %+v, want the fix as it was", tt.name, g)
		}
		if tt.flag != "" && !slices.Contains(g.Flags, tt.flag) {
			t.Errorf("%s: got flags %v, want %s", tt.name, g.Flags, tt.flag)
		}
		if g.State != "US-MI" || g.County != "Muskegon" {
			t.Errorf("%s: got %s, %s, want Muskegon in US-MI", tt.name, g.County, g.State)
		}
	}
	if _, err := here(t).Place(Whereabouts{Fix: &record.Fix{Lat: 91}}); geo.KindOf(err) != geo.Invalid {
		t.Errorf("latitude 91: got %v, want an error of kind invalid", err)
	}
}

func TestAFixOutranksCoordinatesAndTheseOutrankWords(t *testing.T) {
	w := Whereabouts{Fix: &record.Fix{Lat: 43.5, Lon: -86.1}, Coordinates: "43.6, -86.1", Locality: "Muskegon, Michigan"}
	if g := placed(t, here(t), w); g.Source != "device" || g.Lat != 43.5 {
		t.Errorf("got %+v, want the device's fix", g)
	}
	w.Fix = nil
	if g := placed(t, here(t), w); g.Source != "typed" || g.Lat != 43.6 {
		t.Errorf("got %+v, want the coordinates", g)
	}
	w.Coordinates = ""
	if g := placed(t, here(t), w); g.Source != "words" || !g.Known {
		t.Errorf("got %+v, want the words", g)
	}
}

// Five decimals at latitude 43.2 are 1.37 m: 1e-5 of the diagonal of a degree,
// 111.11 km by 81.25 km by the radii of curvature. Datum figures: Chapman &
// Wieczorek (2020), 3.4.4, and the U.S. Geological Survey.
func TestTypedCoordinatesHoldTheDatumsThatMayBeMeant(t *testing.T) {
	const text = "43.23418, -86.10000"
	for _, tt := range []struct {
		name, text, datum string
		lines             bool
		shift             float64
		kept              string
	}{
		{"WGS 84 said", text, "WGS84", true, 0, "WGS84"},
		{"WGS 84 said with a space", text, "WGS 84", true, 0, "WGS 84"},
		{"NAD27 in Michigan", text, "NAD27", true, 100, "NAD27"},
		{"NAD83 with a space", text, "NAD 83", true, 100, "NAD 83"},
		{"a paper map of the country", text, "US map", true, 100, "US map"},
		{"NAD27 without lines to show the state", text, "NAD27", false, 5359, "NAD27"},
		{"NAD27 in Alaska", "64.83778, -147.71639", "NAD27", true, 5359, "NAD27"},
		{"NAD27 abroad", "51.50000, -0.12000", "NAD27", true, 5359, "NAD27"},
		{"a datum of another country", text, "ED50", true, 5359, "ED50"},
		{"no datum", text, "", true, 5359, "not recorded"},
	} {
		m := here(t)
		if !tt.lines {
			m.Lines = nil
		}
		w := Whereabouts{Coordinates: tt.text, Place: &record.Georeference{Datum: tt.datum}}
		g := placed(t, m, w)
		fine := term(t, g, "precision")
		if got := term(t, g, "datum"); got != tt.shift || fine < 1 || fine > 1.5 || g.Radius != math.Ceil(fine+tt.shift) {
			t.Errorf("%s: got shift %v m, precision %.2f m, radius %v m, want %v m and their sum", tt.name, got, fine, g.Radius, tt.shift)
		}
		if g.Datum != tt.kept || g.Source != "typed" || !g.Known {
			t.Errorf("%s: got datum %q, source %q, want %q, typed", tt.name, g.Datum, g.Source, tt.kept)
		}
		// Placed again from its own answer, an unknown datum does not become a
		// known one.
		w.Place = &g
		if again := placed(t, m, w); again.Radius != g.Radius {
			t.Errorf("%s, placed again: got %v m, want %v m", tt.name, again.Radius, g.Radius)
		}
	}
	g := placed(t, here(t), Whereabouts{Coordinates: text})
	if fine := term(t, g, "precision"); math.Abs(fine-1.3765) > 0.001 || g.Radius != 5361 {
		t.Errorf("no place as it stands: got %.4f m, %v m, want 1.3765 and 5361 m", fine, g.Radius)
	}
}

func TestAGridIsPlacedWithWhatItsWritingLeavesOpen(t *testing.T) {
	for _, c := range []struct {
		name, text, datum string
		radius            float64
	}{
		{"metres on WGS 84", "16T 561029 4787097", "WGS 84", 2},
		{"a square of a kilometre on WGS 84", "16TEN6187", "WGS84", 709},
		{"metres on a map of the United States", "16T 561029 4787097", "US map", 322},
		{"metres, nobody knows on what", "16T 561029 4787097", "", 6461},
	} {
		g, err := here(t).Place(Whereabouts{Coordinates: c.text, Place: &record.Georeference{Datum: c.datum}})
		if err != nil || g.Radius != c.radius || g.County != "Muskegon" && c.radius < 1000 {
			t.Errorf("%s: got %.6f, %.6f ±%v m in %q (%v), want ±%v m in Muskegon", c.name, g.Lat, g.Lon, g.Radius, g.County, err, c.radius)
		}
	}
}

func TestCoordinatesThatCannotBeAreAnError(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		kind       geo.Kind
	}{
		{"beyond the pole", "91, -86", geo.Invalid},
		{"sixty minutes and more", `43° 75.000' N, 86° 14.000' W`, geo.Invalid},
		{"words", "by the pond", geo.NotUnderstood},
	} {
		if _, err := here(t).Place(Whereabouts{Coordinates: tt.text}); geo.KindOf(err) != tt.kind {
			t.Errorf("%s: got %v, want an error of kind %v", tt.name, err, tt.kind)
		}
	}
}

// Muskegon, Michigan: 43.23418, -86.24839 by GeoNames, 38,401 people, so a
// radial of 12 km. Three miles are 4828.032 m, good to half a mile (804.672
// m); NE is good to 22.5 degrees. By GeodSolve of GeographicLib 2.1.2:
//
//   - 45 degrees and 4828.032 m lead to 43.2649014190, -86.2063411941;
//   - the corner of the sector, 22.5 degrees and 5632.704 m, lies 2188.074 m
//     from there, as sqrt(d² + (d+p)² - 2d(d+p)cos α) = 2188.075 m gives by
//     hand in the plane;
//   - of starts 12 km around Muskegon, in steps of a degree, the one at 325
//     degrees and the corner at 22.5 give the farthest truth, 14183.242 m;
//     2188.075 + 12000 = 14188.075 m is the bound in the plane.
func TestThreeMilesNorthEastOfMuskegon(t *testing.T) {
	const plane, ellipsoid = 14188.075, 14183.242
	g := placed(t, here(t), Whereabouts{Locality: "3 mi NE of Muskegon"})
	if !g.Known || g.Source != "words" || g.Datum != "WGS84" {
		t.Fatalf("got %+v, want a place", g)
	}
	off, err := geodesic.Distance(point(t, geo.Degrees(g.Lat), geo.Degrees(g.Lon)), point(t, 43.2649014190, -86.2063411941))
	if err != nil || off > 0.001 {
		t.Errorf("the point lies %v m from GeodSolve's, %v, want at most 1 mm", off, err)
	}
	if got := term(t, g, "extent"); got != 12000 {
		t.Errorf("extent: got %v m, want 12000", got)
	}
	if got := term(t, g, "offset"); math.Abs(got-804.672) > 1e-6 {
		t.Errorf("offset: got %v m, want 804.672", got)
	}
	if got := term(t, g, "heading"); got < ellipsoid-12804.672 || got > plane*1.001-12804.672 {
		t.Errorf("heading: got %v m, want %.1f to %.1f", got, ellipsoid-12804.672, plane*1.001-12804.672)
	}
	if g.Radius < math.Ceil(ellipsoid) || g.Radius > math.Ceil(plane*1.001) {
		t.Errorf("radius: got %v m, want %.0f to %.0f", g.Radius, math.Ceil(ellipsoid), math.Ceil(plane*1.001))
	}
	sum := 0.0
	for _, x := range g.Terms {
		sum += x.Metres
	}
	if g.Radius != math.Ceil(sum) {
		t.Errorf("radius: got %v m, want the sum of its terms %v rounded up", g.Radius, sum)
	}
	if !strings.Contains(g.Protocol, "linear sum") || !strings.Contains(g.Protocol, gazetteer.RadialBasis) {
		t.Errorf("protocol: got %q, want the rule and the basis of the radial", g.Protocol)
	}
	if !slices.Contains(g.Flags, flagNoState) || !slices.Contains(g.Flags, flagNoCounty) {
		t.Errorf("flags: got %v, want that neither state nor county was said", g.Flags)
	}
}

// words are texts and what becomes of them. A row with a place names the flags
// that must be there; one without names the first flag, or none.
var words = []struct {
	name, text    string
	known         bool
	state, county string
	flags         []string
}{
	{"one offset, county and state", "pond edge, 0.6 km SE of Hart, Oceana County, Michigan", true, "US-MI", "Oceana", []string{"words-left:pond edge"}},
	{"semicolons and the country", "0.6 km SE of Hart; Oceana Co.; MI; USA", true, "US-MI", "Oceana", nil},
	{"the county before the offset", "Oceana County, Michigan: , 0.6 km SE of Hart", false, "", "Oceana", nil},
	{"the largest unit first", "Michigan, Oceana County, 0.6 km SE of Hart", true, "US-MI", "Oceana", nil},
	{"the state alone", "0.6 km SE of Hart, Michigan", true, "US-MI", "Oceana", []string{flagNoCounty}},
	{"a comma in a number", "1,500 m SE of Hart, Oceana County, Michigan", true, "US-MI", "Oceana", nil},
	{"a remark in brackets", "0.6 km SE of Hart, Oceana County, Michigan (died in care; see card)", true, "US-MI", "Oceana", []string{"words-left:died in care; see card"}},
	{"the county in brackets", "0.6 km SE of Hart (Oceana County), Michigan", true, "US-MI", "Oceana", nil},
	{"of two namesakes the one in the county", "2 mi W of Shelby, Oceana County, Michigan", true, "US-MI", "Oceana", nil},
	{"the other one in its county", "2 mi W of Shelby, Macomb County, Michigan", true, "US-MI", "Macomb", nil},
	{"a saint", "1 km N of Saint Joseph, Berrien County, Michigan", true, "US-MI", "Berrien", nil},
	{"a road beside it", "M-20, 2 km E of White Cloud, right shoulder, Newaygo County, Michigan", true, "US-MI", "Newaygo", []string{flagWay, "words-left:M-20", "words-left:right shoulder"}},
	{"a road in the same clause", "2 mi N of Newaygo on M-37, Newaygo County, Michigan", true, "US-MI", "Newaygo", []string{flagWay, "words-left:on M-37"}},
	{"a town across the county line", "12 km E of Muskegon, Ottawa County, Michigan", true, "US-MI", "Ottawa", []string{"near-border"}},
	{"the town alone", "Hart, Oceana County, Michigan", true, "US-MI", "Oceana", nil},
	{"the town alone with the state", "Newaygo, Michigan", true, "US-MI", "Newaygo", []string{flagNoCounty}},
	{"a town that bears the name of a state", "Wyoming, Kent County, Michigan", true, "US-MI", "Kent", nil},

	{"the town behind other words", "Harbor Hall, glass link, Muskegon, Muskegon County, Michigan", false, "US-MI", "Muskegon", []string{"words-left:Harbor Hall", "words-left:glass link", "words-left:Muskegon"}},
	{"near a town", "near Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"words-left:near Hart"}},
	{"a hamlet that is not on the list", "0.6 km SE of Free Soil, Mason County, Michigan", false, "US-MI", "Mason", []string{flagUnknown, "words-left:0.6 km SE of Free Soil"}},
	{"two namesakes and no county", "2 mi W of Shelby, Michigan", false, "US-MI", "", []string{flagSeveral}},
	{"a town far from the county", "2 mi W of Detroit, Oceana County, Michigan", false, "US-MI", "Oceana", []string{flagElsewhere}},
	{"a town alone far from the county", "Detroit, Oceana County, Michigan", false, "US-MI", "Oceana", []string{flagElsewhere, "words-left:Detroit"}},
	{"a town of another state", "2 mi W of Muskegon, Indiana", false, "US-IN", "", []string{flagUnknown}},
	{"a county that the state has not", "0.6 km SE of Hart, Cook County, Michigan", false, "US-MI", "", []string{flagNotCounty, "words-left:Cook"}},
	{"part of a county", "0.6 km SE of Hart, north of Oceana County, Michigan", false, "US-MI", "", []string{flagNotCounty}},
	{"two counties", "0.6 km SE of Hart, Oceana County, Mason County, Michigan", false, "US-MI", "Mason", []string{"counties-several"}},
	{"a county and no state", "0.6 km SE of Hart, Oceana County", false, "", "Oceana", []string{flagNoState}},
	{"two states", "0.6 km SE of Hart, Indiana, Michigan", false, "US-MI", "", []string{"states-several"}},
	{"two offsets", "0.6 km SE of Hart, 2 km N of Shelby, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"offsets-several"}},
	{"an offset on two axes", "2 mi N, 3 mi E of Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"distance-left"}},
	{"a further distance in the rest", "bridge 200 yd past the mill, 3 mi E of Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"distance-left"}},
	{"a distance written together", "40m from the road, 3 mi E of Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"distance-left"}},
	{"one or the other", "3 mi E of Hart, or at Shelby, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"text-in-doubt"}},
	{"a question mark", "3 mi E of Hart?, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"text-in-doubt"}},
	{"halfway", "3 mi E of Hart, halfway to Walkerville, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"text-in-doubt"}},
	{"a decimal comma", "10,5 km E of Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"distance-left"}},
	{"by road in the same clause", "3 mi by road E of Hart, Oceana County, Michigan", false, "US-MI", "Oceana", []string{"distance-left"}},
	{"small letters are no state", "3 mi E of Hart, me", true, "US-MI", "Oceana", []string{"words-left:me", flagNoState}},
	{"nothing", "", false, "", "", nil},
	{"commas", ", ;,", false, "", "", nil},
	{"a text too long", strings.Repeat("Hart ", 101), false, "", "", []string{"text-too-long"}},
}

func TestWordsArePlacedOnlyWhereNothingIsGuessed(t *testing.T) {
	m := here(t)
	for _, tt := range words {
		g := placed(t, m, Whereabouts{Locality: tt.text})
		if g.Known != tt.known || g.State != tt.state || g.County != tt.county {
			t.Errorf("%s: %q: got known %v, %q, %q, flags %q, want %v, %q, %q", tt.name, tt.text, g.Known, g.State, g.County, g.Flags, tt.known, tt.state, tt.county)
		}
		for _, flag := range tt.flags {
			if !slices.Contains(g.Flags, flag) {
				t.Errorf("%s: %q: got flags %q, want %q among them", tt.name, tt.text, g.Flags, flag)
			}
		}
		if !g.Known && (g.Radius != 0 || g.Lat != 0 || g.Terms != nil) {
			t.Errorf("%s: words that stay words have a circle: %+v", tt.name, g)
		}
		if g.Source != "words" {
			t.Errorf("%s: got source %q, want words", tt.name, g.Source)
		}
	}
}

func TestWhatAPersonNamedBesideTheWordsCounts(t *testing.T) {
	for _, tt := range []struct {
		name, text    string
		said          record.Georeference
		known         bool
		state, county string
		flag          string
	}{
		{"state and county beside the text", "2 mi W of Shelby", record.Georeference{State: "Michigan", County: "Oceana"}, true, "US-MI", "Oceana", ""},
		{"the county with its word", "2 mi W of Shelby", record.Georeference{State: "US-MI", County: "Oceana County"}, true, "US-MI", "Oceana", ""},
		{"the same in both", "2 mi W of Shelby, Oceana County, Michigan", record.Georeference{State: "MI", County: "oceana"}, true, "US-MI", "Oceana", ""},
		{"another state", "2 mi W of Shelby, Michigan", record.Georeference{State: "Indiana"}, false, "", "", flagState},
		{"another county", "2 mi W of Shelby, Oceana County, Michigan", record.Georeference{State: "MI", County: "Macomb"}, false, "US-MI", "", flagCounty},
		{"no text at all", "", record.Georeference{State: "Michigan", County: "Oceana County"}, false, "US-MI", "Oceana", ""},
		{"what is no state is kept as written", "by the lake", record.Georeference{State: "Ontario"}, false, "Ontario", "", "words-left:by the lake"},
	} {
		g := placed(t, here(t), Whereabouts{Locality: tt.text, Place: &tt.said})
		if g.Known != tt.known || g.State != tt.state || g.County != tt.county || tt.flag != "" && !slices.Contains(g.Flags, tt.flag) {
			t.Errorf("%s: got known %v, %q, %q, flags %q, want %v, %q, %q, %q", tt.name, g.Known, g.State, g.County, g.Flags, tt.known, tt.state, tt.county, tt.flag)
		}
	}
}

func TestWithoutLinesOrNamesNothingIsClaimed(t *testing.T) {
	const text = "0.6 km SE of Hart, Oceana County, Michigan"
	g := placed(t, Map{Names: names(t)}, Whereabouts{Locality: text})
	if g.Known || !slices.Contains(g.Flags, flagUnseen) || g.State != "US-MI" {
		t.Errorf("no lines: got %+v, want words, the state, and that the county was not checked", g)
	}
	g = placed(t, Map{Lines: lines(t)}, Whereabouts{Locality: text})
	if g.Known || g.County != "Oceana" || !slices.Contains(g.Flags, "words-left:0.6 km SE of Hart") {
		t.Errorf("no names: got %+v, want words and the county", g)
	}
	g = placed(t, Map{}, Whereabouts{Locality: text})
	if g.Known || g.State != "US-MI" {
		t.Errorf("neither: got %+v, want words and the state", g)
	}
	home, err := names(t).In("US-MI")
	if err != nil {
		t.Fatal(err)
	}
	g = placed(t, Map{Lines: lines(t), Names: home}, Whereabouts{Locality: "3 mi NE of Muskegon"})
	if g.Known || !slices.Contains(g.Flags, flagSeveral) {
		t.Errorf("a list cut out of a larger one and no state: got %+v, want words", g)
	}
}

func TestTheRoadCircleHoldsTheCircleByAir(t *testing.T) {
	g := placed(t, here(t), Whereabouts{Locality: "US-31, 3 mi N of Hart, Oceana County, Michigan"})
	// Hart has 2,100 people by GeoNames: 3000 m; 4828.032 m and half a mile.
	if want := math.Ceil(3000 + 4828.032 + 804.672); g.Radius != want {
		t.Errorf("radius: got %v m, want %v: the town, the distance and half its precision", g.Radius, want)
	}
	if math.Abs(g.Lat-43.69834) > 1e-9 || math.Abs(g.Lon+86.36397) > 1e-9 {
		t.Errorf("point: got %v, %v, want Hart's", g.Lat, g.Lon)
	}
	byAir := placed(t, here(t), Whereabouts{Locality: "US-31, 3 mi N of Hart, by air, Oceana County, Michigan"})
	if slices.Contains(byAir.Flags, flagWay) || byAir.Lat < 43.7 {
		t.Errorf("by air: got %+v, want the point north of Hart", byAir)
	}
}

// TestAPhonePlacesAsTheServerDoes places the same words with the lines and the
// towns that a phone is given, cut out of those of the server.
func TestAPhonePlacesAsTheServerDoes(t *testing.T) {
	whole, err := read()
	if err != nil {
		t.Fatal(err)
	}
	cut, err := whole.Extract("26", "18", "17", "55", "39")
	if err != nil {
		t.Fatal(err)
	}
	home, err := region.Build(cut)
	if err != nil {
		t.Fatal(err)
	}
	towns, err := names(t).In("US-MI", "US-IN")
	if err != nil {
		t.Fatal(err)
	}
	server, phone := here(t), Map{Lines: home, Names: towns}
	for _, tt := range words {
		w := Whereabouts{Locality: tt.text}
		a, b := placed(t, server, w), placed(t, phone, w)
		if slices.Contains(a.Flags, flagNoState) {
			if b.Known {
				t.Errorf("%s: %q: the phone knows one state's towns and placed a text without a state", tt.name, tt.text)
			}
			continue
		}
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s: %q:\nserver %+v\nphone  %+v", tt.name, tt.text, a, b)
		}
	}
}
