package intake_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"wayfall/fixtures/scenario"
	"wayfall/geo"
	"wayfall/geo/region"
	"wayfall/geo/sanity"
	"wayfall/server/intake"
	"wayfall/sync/record"
)

// home is where the build puts the lines of Michigan and its neighbours.
const home = "../web/dist/home.bin"

func ground(t *testing.T, story scenario.Story) *intake.Ground {
	t.Helper()
	wire, err := os.ReadFile(home)
	if err != nil {
		t.Fatalf(`the boundary lines are not there (%v); "make build" makes them`, err)
	}
	lines, err := region.Decode(wire)
	if err != nil {
		t.Fatal(err)
	}
	m, err := region.Build(lines)
	if err != nil {
		t.Fatal(err)
	}
	g := &intake.Ground{Map: m}
	g.Around.Home = sanity.HomeOf(m, "26", "18", "17", "55", "39")
	site := func(name string, p scenario.Point) {
		at, err := geo.At(geo.Degrees(p.Lat), geo.Degrees(p.Lon))
		if err != nil {
			t.Fatal(err)
		}
		g.Around.Places = append(g.Around.Places, sanity.Place{Name: name, At: geo.Circle{Centre: at, Radius: intake.SiteReach}})
	}
	site("the museum", story.Institution.Site)
	for _, p := range story.People {
		if p.Home != nil {
			site("a home", *p.Home)
		}
	}
	return g
}

func TestExactlyThePlantedPlacesAreDoubted(t *testing.T) {
	story := scenario.Build(1)
	g := ground(t, story)
	var want []string
	for _, f := range story.Faults {
		switch f.Key {
		case "pin-indoors", "pin-at-zero", "pin-turned", "road-in-lake":
			want = append(want, f.Keys...)
		}
	}
	var got []string
	suggested := 0
	for _, r := range story.Reports {
		if r.Place.Fix == nil {
			continue
		}
		l := intake.Lay{Place: record.Georeference{Known: true, Lat: float64(r.Place.Fix.Lat), Lon: float64(r.Place.Fix.Lon), Radius: 20}, Locality: r.Place.Text}
		if strings.Contains(r.Circumstance, "road") {
			l.Circumstance = "road"
		}
		doubts := g.Doubts(l)
		if len(doubts) > 0 {
			got = append(got, r.Key)
			t.Logf("%s: %s", r.Key, doubts[0].Why)
		}
		for _, d := range doubts {
			if d.Suggest != "" {
				suggested++
			}
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if len(want) != 6 || !slices.Equal(got, want) {
		t.Errorf("doubted %v, want %v", got, want)
	}
	if suggested != 1 {
		t.Errorf("suggested another place %d times, want once, for the pin that is turned", suggested)
	}
}

func TestExactlyThePlantedDatesAreDoubted(t *testing.T) {
	story := scenario.Build(1)
	var want, got []string
	for _, f := range story.Faults {
		if f.Key == "day-and-month" {
			want = f.Keys
		}
	}
	for _, r := range story.Reports {
		d := intake.Dates{Found: whenOf(r.Found.Date, r.Found.Time, r.Found.Precision), Reported: instant(t, r.Made)}
		if f := r.Frozen; f != nil && f.Precision != "month" {
			d.Frozen = whenOf(f.Date, f.Time, f.Precision)
		}
		for _, doubt := range intake.Follow(d) {
			if doubt.Suggest != "" {
				got = append(got, r.Key)
				t.Logf("%s: %s", r.Key, doubt.Why)
			}
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if len(want) != 4 || !slices.Equal(got, want) {
		t.Errorf("suggested another date for %v, want for %v", got, want)
	}
}
