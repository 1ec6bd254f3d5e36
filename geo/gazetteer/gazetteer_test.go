package gazetteer_test

import (
	"fmt"
	"testing"

	"wayfall/geo"
	"wayfall/geo/gazetteer"
)

func ExampleList_Find() {
	at, _ := geo.At(43.2342, -86.2484)
	one, _ := geo.At(43.6086, -86.3640)
	two, _ := geo.At(42.6709, -83.0330)
	l, _ := gazetteer.Build("three towns", []gazetteer.Place{
		{Name: "Muskegon", State: "US-MI", At: at, Population: 38401, Class: gazetteer.Town},
		{Name: "Shelby", State: "US-MI", County: "Oceana County", At: one, Population: 2065, Class: gazetteer.Town},
		{Name: "Shelby", State: "US-MI", County: "Macomb County", At: two, Population: 74099, Class: gazetteer.Town},
	})
	fmt.Println(l.Find("MUSKEGON", "US-MI"))
	_, _, ok := l.Find("Shelby", "US-MI")
	fmt.Println(ok, len(l.All("Shelby", "US-MI")))
	// Output:
	// 43.2342, -86.2484 12000 true
	// false 2
}

func TestNamesAreComparedAndNotSpellings(t *testing.T) {
	for _, tt := range []struct {
		name, a, b string
		same       bool
	}{
		{"case does not matter", "Free Soil", "FREE SOIL", true},
		{"St. is Saint", "St. Joseph", "Saint Joseph", true},
		{"St without a dot is Saint", "St Joseph", "saint joseph", true},
		{"St. inside a name is Saint", "Lake St. Clair", "Lake Saint Clair", true},
		{"Ste. is Sainte", "Sault Ste. Marie", "Sault Sainte Marie", true},
		{"Mt. is Mount", "Mt. Pleasant", "Mount Pleasant", true},
		{"Ft. is Fort", "Ft. Wayne", "Fort Wayne", true},
		{"an apostrophe does not matter", "L'Anse", "LAnse", true},
		{"a printer's apostrophe does not matter", "L’Anse", "L'Anse", true},
		{"a Hawaiian letter does not matter", "Lā‘ie", "Laie", true},
		{"an accent does not matter", "Cañon City", "Canon City", true},
		{"a hyphen is a space", "Winston-Salem", "Winston Salem", true},
		{"a space does not matter", "La Porte", "LaPorte", true},
		{"a remark in brackets does not matter", "Buffalo (historical)", "Buffalo", true},
		{"an ampersand is and", "A & B", "A and B", true},
		{"a last St is a street", "Joseph St", "Joseph Saint", false},
		{"a longer name is another", "Muskegon", "Muskegon Heights", false},
		{"a direction makes another name", "Muskegon", "North Muskegon", false},
		{"Sainte is not Saint", "Ste. Marie", "St. Marie", false},
		{"a digit counts", "District 1", "District 2", false},
	} {
		a, b := gazetteer.Fold(tt.a), gazetteer.Fold(tt.b)
		if (a == b) != tt.same || a == "" {
			t.Errorf("%s: %q folds to %q and %q to %q, want same: %v", tt.name, tt.a, a, tt.b, b, tt.same)
		}
	}
	for _, nothing := range []string{"", " ", ".", "'", "()", "(x)", "—"} {
		if got := gazetteer.Fold(nothing); got != "" && nothing != "(x)" {
			t.Errorf("%q folds to %q, want nothing", nothing, got)
		}
	}
}

func TestFindAnswersOnlyWhenOnePlaceBearsTheName(t *testing.T) {
	l := list(t)
	for _, tt := range []struct {
		what, name, state string
		all               int
		ok                bool
	}{
		{"one town in the state", "Muskegon", "US-MI", 1, true},
		{"one town in the list", "Muskegon", "", 1, true},
		{"however it is spelled", "mt pleasant", "US-MI", 1, true},
		{"two towns in the state", "Shelby", "US-MI", 2, false},
		{"one in each of two states", "Fremont", "", 2, false},
		{"one of them by its state", "Fremont", "US-IN", 1, true},
		{"a town of another state", "Muskegon", "US-IN", 0, false},
		{"a state that is not on the list", "Muskegon", "US-WI", 0, false},
		{"a hamlet that is not on the list", "Free Soil", "US-MI", 0, false},
		{"no name", "", "US-MI", 0, false},
		{"dots alone", "...", "", 0, false},
		{"the beginning of a name", "Muske", "US-MI", 0, false},
	} {
		at, radial, ok := l.Find(tt.name, tt.state)
		if all := l.All(tt.name, tt.state); len(all) != tt.all || ok != tt.ok {
			t.Errorf("%s: %q in %q: got %d places, ok %v, want %d, %v", tt.what, tt.name, tt.state, len(all), ok, tt.all, tt.ok)
		}
		if ok != at.Known() || ok != (radial > 0) {
			t.Errorf("%s: got %v, %v m, ok %v: a point and a radial come together", tt.what, at, radial, ok)
		}
	}
}

func TestATownTenTimesLargerIsNotGuessed(t *testing.T) {
	a, b := point(t, 43, -86), point(t, 42, -84)
	l, err := gazetteer.Build("two", []gazetteer.Place{
		{Name: "Same", State: "US-MI", At: a, Population: 1_000_000}, {Name: "Same", State: "US-MI", At: b, Population: 10}})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, ok := l.Find("Same", "US-MI"); ok {
		t.Error("the larger of two was picked, want no answer")
	}
}

func TestAListCutOutDoesNotAnswerWithoutAState(t *testing.T) {
	home, err := list(t).In("US-MI")
	if err != nil {
		t.Fatal(err)
	}
	if _, _, ok := home.Find("Fremont", ""); ok || !home.Partial() {
		t.Error("Fremont is in Indiana too, want no answer from Michigan's list alone")
	}
	if _, _, ok := home.Find("Fremont", "US-MI"); !ok {
		t.Error("Fremont in Michigan: got no answer, want one")
	}
	if len(home.All("Fremont", "US-IN")) != 0 {
		t.Error("Indiana was to be left out")
	}
	if _, err := list(t).In("US-MI", "US-XX"); geo.KindOf(err) != geo.Unknown {
		t.Errorf("a state without places: got %v, want an error of kind unknown", err)
	}
}

func TestWhatCannotBeKeptIsRefused(t *testing.T) {
	at := point(t, 43, -86)
	good := gazetteer.Place{Name: "Here", State: "US-MI", At: at}
	for _, tt := range []struct {
		name string
		edit func(*gazetteer.Place)
	}{
		{"no name", func(p *gazetteer.Place) { p.Name = "" }},
		{"a name of dots", func(p *gazetteer.Place) { p.Name = "..." }},
		{"a name in two lines", func(p *gazetteer.Place) { p.Name = "He\nre" }},
		{"a name that ends in a space", func(p *gazetteer.Place) { p.Name = "Here " }},
		{"a name in no letters", func(p *gazetteer.Place) { p.Name = "a\xff" }},
		{"no state", func(p *gazetteer.Place) { p.State = "" }},
		{"no point", func(p *gazetteer.Place) { p.At = geo.Point{} }},
		{"fewer than no people", func(p *gazetteer.Place) { p.Population = -1 }},
		{"a class that is none", func(p *gazetteer.Place) { p.Class = 99 }},
	} {
		p := good
		tt.edit(&p)
		if _, err := gazetteer.Build("x", []gazetteer.Place{p}); geo.KindOf(err) != geo.Damaged {
			t.Errorf("%s: got %v, want an error of kind damaged", tt.name, err)
		}
	}
	if _, err := gazetteer.Build("x", []gazetteer.Place{good, good}); geo.KindOf(err) != geo.Damaged {
		t.Errorf("the same place twice: got %v, want an error of kind damaged", err)
	}
}
