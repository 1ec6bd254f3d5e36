package georeference_test

import (
	"math"
	"math/rand"
	"testing"

	"wayfall/geo/gazetteer"
	"wayfall/geo/georeference"
)

func TestAStateAndACountyNarrowTheSearch(t *testing.T) {
	list, err := gazetteer.Build("an invented list", []gazetteer.Place{
		{Name: "Orrin", State: "US-ND", County: "Tarn County", At: at(46, -100), Population: 900},
		{Name: "Orrin", State: "US-ND", County: "Vessel County", At: at(47, -101), Population: 900},
		{Name: "Orrin", State: "US-SD", County: "Tarn County", At: at(44, -100), Population: 900},
	})
	if err != nil {
		t.Fatal(err)
	}
	o := georeference.Options{State: func(s string) string {
		return map[string]string{"ND": "US-ND", "North Dakota": "US-ND", "SD": "US-SD"}[s]
	}}
	for text, want := range map[string]int{
		"5 mi N of Orrin":                         3,
		"5 mi N of Orrin, ND":                     2,
		"5 mi N of Orrin, Tarn Co.":               2,
		"5 mi N of Orrin, Vessel County":          1,
		"5 mi N of Orrin, Tarn Co., North Dakota": 1,
		"Orrin, Tarn County, SD":                  1,
		"5 mi N of Orrin, Vessel County, SD":      0,
		"Orrin, Kettle County":                    0,
	} {
		r, err := georeference.Of(text, georeference.Places{List: list}, o)
		if len(r.Candidates) != want || (err == nil) != (want > 0) {
			t.Errorf("%q: got %d candidates, %v, want %d", text, len(r.Candidates), err, want)
		}
	}
}

// TestNearEndsHalfWayToTheNextTown: Zermoglio et al. (2020), near a feature.
// Truths are drawn around the town; those nearer to the next town than to it
// are no longer near it, unless they lie in it.
func TestNearEndsHalfWayToTheNextTown(t *testing.T) {
	list, err := gazetteer.Build("an invented list", []gazetteer.Place{
		{Name: "Orrin", State: "US-ND", At: at(46, -100), Population: 900, Class: gazetteer.Town},
		{Name: "Brask", State: "US-ND", At: at(46, -99.92), Population: 900, Class: gazetteer.Town},
		{Name: "Ludden", State: "US-ND", At: at(46.06, -100), Population: 900, Class: gazetteer.Town},
		{Name: "Old Mill", State: "US-ND", At: at(46, -100.05), Population: 0, Class: gazetteer.Former},
	})
	if err != nil {
		t.Fatal(err)
	}
	r, err := georeference.Of("near Orrin", georeference.Places{List: list}, georeference.Options{})
	if err != nil || len(r.Candidates) != 1 {
		t.Fatalf("got %d candidates, %v, want one", len(r.Candidates), err)
	}
	c := r.Candidates[0]
	if c.Circle.Radius >= 7000 || c.Circle.Radius < 5000 {
		t.Errorf("got %.0f m, want less than the 7000 m without neighbours", c.Circle.Radius)
	}
	chance, held, gone := rand.New(rand.NewSource(3)), 0, 0
	for range 2000 {
		p := go1(at(46, -100), 360*chance.Float64(), 7000*math.Sqrt(chance.Float64()))
		own := distance(p, at(46, -100))
		near := own < 2000 || own <= distance(p, at(46, -99.92)) && own <= distance(p, at(46.06, -100))
		switch {
		case near && (distance(p, c.Circle.Centre) > float64(c.Circle.Radius) || !c.Region.Holds(p)):
			t.Errorf("got %v outside, want it inside: it is near Orrin", p)
		case near:
			held++
		case !c.Region.Holds(p):
			gone++
		}
	}
	if held < 900 || gone < 300 {
		t.Errorf("got %d places near and %d cut off, want many of both", held, gone)
	}
}
