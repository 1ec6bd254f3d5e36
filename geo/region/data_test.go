package region_test

import (
	"bufio"
	"math/rand"
	"os"
	"strconv"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/region"
)

// counties is where the build puts the lines that the program carries.
const counties = "../../server/web/dist/counties.bin"

func lines(t testing.TB) *region.Lines {
	t.Helper()
	wire, err := os.ReadFile(counties)
	if err != nil {
		t.Fatalf(`the boundary lines are not there (%v); "make build" makes them`, err)
	}
	l, err := region.Decode(wire)
	if err != nil {
		t.Fatalf(`%v; "make build" makes them anew`, err)
	}
	return l
}

func describe(hits []region.Hit) string {
	var b strings.Builder
	for _, h := range hits {
		b.WriteString(string(h.ID) + " " + h.Name + " " + h.Relation.String() + " ")
		b.WriteString(strconv.FormatFloat(float64(h.Distance), 'f', 0, 64) + " m; ")
	}
	return b.String()
}

func TestTheLinesHoldTheWholeCountry(t *testing.T) {
	l := lines(t)
	count := map[region.Level]int{}
	for _, o := range l.Outlines {
		count[o.Level]++
	}
	// The Census Bureau's 2023 edition: 50 states, the district and five
	// island areas; 3,233 counties and their like, with Connecticut's nine
	// planning regions.
	if count[region.State] != 56 || count[region.County] != 3233 {
		t.Errorf("got %d states and %d counties, want 56 and 3233", count[region.State], count[region.County])
	}
}

// places reads the known places: county code and position.
func places(t *testing.T) map[geo.Point]region.ID {
	t.Helper()
	f, err := os.Open("testdata/places.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all := make(map[geo.Point]region.ID)
	for s := bufio.NewScanner(f); s.Scan(); {
		row := strings.Split(s.Text(), ",")
		if len(row) != 3 || strings.HasPrefix(row[0], "#") {
			continue
		}
		lat, err1 := strconv.ParseFloat(row[1], 64)
		lon, err2 := strconv.ParseFloat(row[2], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("row %q cannot be read", s.Text())
		}
		all[point(t, geo.Degrees(lat), geo.Degrees(lon))] = region.ID(row[0])
	}
	if len(all) < 1600 {
		t.Fatalf("got %d places, want at least 1600", len(all))
	}
	return all
}

// GeoNames' own mistakes are among the misfits: one place in a hundred may lie
// in another county's polygon, but the right county must nearly always be
// among the candidates, and a wrong one hardly ever be called certain.
func TestKnownPlacesLieInTheirCounty(t *testing.T) {
	m := build(t, lines(t))
	var misfit, missed, wronglySure int
	known := places(t)
	n := len(known)
	for p, id := range known {
		hits := m.Locate(geo.Circle{Centre: p, Radius: 1})
		right := find(hits, id)
		misfit += ones(right == nil || right.Distance > 0)
		missed += ones(right == nil)
		for _, h := range hits {
			wronglySure += ones(h.Level == region.County && h.ID != id && h.Relation == region.Inside)
		}
	}
	t.Logf("%d places: %d outside their county's polygon, %d without it among the candidates, %d called inside another", n, misfit, missed, wronglySure)
	if misfit*100 > n {
		t.Errorf("%d of %d places lie outside their county's polygon, want at most 1 in 100", misfit, n)
	}
	if missed*500 > n || wronglySure*500 > n {
		t.Errorf("of %d places %d miss their county and %d are called inside another, want at most 1 in 500", n, missed, wronglySure)
	}
}

func ones(b bool) int {
	if b {
		return 1
	}
	return 0
}

func find(hits []region.Hit, id region.ID) *region.Hit {
	for i := range hits {
		if hits[i].ID == id {
			return &hits[i]
		}
	}
	return nil
}

// Falls Church, an independent city of 5 square kilometres, is reduced to a
// line in these data, and its centre falls into Fairfax County.
func TestFallsChurchIsFlaggedNearABorder(t *testing.T) {
	hits := build(t, lines(t)).Locate(geo.Circle{Centre: point(t, 38.8823, -77.1711), Radius: 10})
	city, around := find(hits, "51610"), find(hits, "51059")
	if city == nil || around == nil || city.Relation != region.MayBe || around.Relation != region.MayBe {
		t.Errorf("the centre of Falls Church: got %s, want Falls Church and Fairfax, neither sure", describe(hits))
	}
	if s := find(hits, "51"); s == nil {
		t.Errorf("the centre of Falls Church: got %s, want Virginia among the states", describe(hits))
	}
}

// The outer shore of Bodega Head is in no polygon, about 450 m outside Sonoma.
func TestBodegaHeadIsOfferedToSonoma(t *testing.T) {
	hits := build(t, lines(t)).Locate(geo.Circle{Centre: point(t, 38.305, -123.07), Radius: 10})
	h := find(hits, "06097")
	if h == nil || !h.Shore || h.Relation != region.MayBe || h.Distance < 400 || h.Distance > 500 {
		t.Errorf("Bodega Head: got %s, want Sonoma as its shore, 400 to 500 m away", describe(hits))
	}
}

// The Farallon Islands are missing from the lines; the nearest polygon is not
// the county they belong to, so nothing may be offered.
func TestTheFarallonesAreNotGivenToTheNearestCounty(t *testing.T) {
	if hits := build(t, lines(t)).Locate(geo.Circle{Centre: point(t, 37.698, -123.003), Radius: 50}); len(hits) != 0 {
		t.Errorf("the Farallon Islands: got %s, want nothing", describe(hits))
	}
}

func TestAHomeRegionAnswersAsTheWholeCountryDoes(t *testing.T) {
	l := lines(t)
	home := []region.ID{"26", "18", "17", "55", "39"}
	cut, err := l.Extract(home...)
	if err != nil {
		t.Fatal(err)
	}
	wire, err := cut.Encode()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("Michigan, Indiana, Illinois, Wisconsin, Ohio and their fringe: %d bytes", len(wire))
	whole, small := build(t, l), build(t, cut)
	r := rand.New(rand.NewSource(7))
	asked := 0
	for range 3000 {
		p := point(t, geo.Degrees(36.9+10.6*r.Float64()), geo.Degrees(-92.9+12.4*r.Float64()))
		c := geo.Circle{Centre: p, Radius: geo.Metres(300 * r.Float64())}
		want := whole.Locate(c)
		if !touchesAny(want, home) {
			continue
		}
		asked++
		if got := small.Locate(c); describe(got) != describe(want) {
			t.Errorf("%v: got %s, want %s", p, describe(got), describe(want))
		}
	}
	if asked < 1000 {
		t.Errorf("only %d points lay in the home region, want at least 1000", asked)
	}
}

func touchesAny(hits []region.Hit, states []region.ID) bool {
	for _, id := range states {
		if find(hits, id) != nil {
			return true
		}
	}
	return false
}

func BenchmarkLocate(b *testing.B) {
	m := build(b, lines(b))
	r := rand.New(rand.NewSource(1))
	circles := make([]geo.Circle, 512)
	for i := range circles {
		circles[i] = geo.Circle{Centre: point(b, geo.Degrees(30+15*r.Float64()), geo.Degrees(-115+35*r.Float64())), Radius: 30}
	}
	i := 0
	for b.Loop() {
		m.Locate(circles[i%len(circles)])
		i++
	}
}

func BenchmarkBuild(b *testing.B) {
	l := lines(b)
	for b.Loop() {
		if _, err := region.Build(l); err != nil {
			b.Fatal(err)
		}
	}
}
