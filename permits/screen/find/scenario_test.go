package find

import (
	"fmt"
	"sort"
	"strings"
	"testing"

	"wayfall/fixtures/scenario"
	"wayfall/geo"
	"wayfall/geo/gazetteer"
	"wayfall/geo/geodesic"
	"wayfall/sync/record"
)

// outcome is what became of a text, in the words of the first flag.
func outcome(g record.Georeference) string {
	if g.Known {
		for _, f := range g.Flags {
			if f == flagWay {
				return "placed: any heading, a road is named"
			}
		}
		return "placed: distance at a heading"
	}
	for _, f := range g.Flags {
		if !strings.HasPrefix(f, flagLeft) {
			return "words: " + f
		}
	}
	return "words: no offset and no plain name"
}

// TestEveryPlacedTextOfTheScenarioHoldsTheTruth places all reports by their
// words alone, first with the towns that a list of places above a thousand
// people knows, then with the scenario's seven smaller ones as well.
func TestEveryPlacedTextOfTheScenarioHoldsTheTruth(t *testing.T) {
	for _, tt := range []struct {
		name  string
		names *gazetteer.List
		least int
	}{
		{"towns above 1,000 people", names(t), 80},
		{"with the smaller towns too", names(t, hamlets(t)...), 120},
	} {
		m := Map{Lines: lines(t), Names: tt.names}
		count, held, fit := map[string]int{}, 0, 0.0
		story := scenario.Build(1)
		if len(story.Reports) != 300 {
			t.Fatalf("got %d reports, want 300", len(story.Reports))
		}
		for _, r := range story.Reports {
			g, err := m.Place(Whereabouts{Locality: r.Place.Text})
			if err != nil {
				t.Fatalf("%s: %v", r.Key, err)
			}
			count[outcome(g)]++
			if NameOf(g.State) != r.Truth.State || !sameName(g.County, r.Truth.County) {
				t.Errorf("%s %q: got state %q, county %q, want %s, %s", r.Key, r.Place.Text, g.State, g.County, r.Truth.State, r.Truth.County)
			}
			if !g.Known {
				continue
			}
			off, err := geodesic.Distance(point(t, geo.Degrees(g.Lat), geo.Degrees(g.Lon)), point(t, geo.Degrees(r.Truth.Point.Lat), geo.Degrees(r.Truth.Point.Lon)))
			if err != nil {
				t.Fatal(err)
			}
			if float64(off) > g.Radius {
				t.Errorf("%s %q: the truth lies %.0f m from the point, the radius is %.0f m", r.Key, r.Place.Text, off, g.Radius)
				continue
			}
			held++
			fit += float64(off) / g.Radius
		}
		rows := []string{}
		for what, n := range count {
			rows = append(rows, fmt.Sprintf("%4d  %s", n, what))
		}
		sort.Sort(sort.Reverse(sort.StringSlice(rows)))
		t.Logf("SHOW %s:", tt.name)
		for _, row := range rows {
			t.Logf("SHOW   %s", row)
		}
		t.Logf("SHOW   %4d  truths inside their circle, on average at %.2f of the radius", held, fit/float64(held))
		if held < tt.least {
			t.Errorf("%s: got %d texts placed, want at least %d", tt.name, held, tt.least)
		}
	}
}

// hamlets are the scenario's towns of fewer than a thousand people. Positions
// and numbers are from memory, good to a kilometre and to the order.
func hamlets(t *testing.T) []gazetteer.Place {
	var all []gazetteer.Place
	for _, h := range []struct {
		name, county string
		lat, lon     geo.Degrees
		people       int
	}{
		{"New Era", "Oceana County", 43.5592, -86.3459, 450}, {"Walkerville", "Oceana County", 43.7142, -86.1245, 250},
		{"Custer", "Mason County", 43.9517, -86.2192, 280}, {"Fountain", "Mason County", 44.0480, -86.1790, 190},
		{"Free Soil", "Mason County", 44.1064, -86.2137, 140}, {"Grant", "Newaygo County", 43.3400, -85.8109, 900},
		{"Bitely", "Newaygo County", 43.7450, -85.8600, 0},
	} {
		all = append(all, gazetteer.Place{Name: h.name, State: "US-MI", County: h.county,
			At: point(t, h.lat, h.lon), Population: h.people, Class: gazetteer.Town})
	}
	return all
}
