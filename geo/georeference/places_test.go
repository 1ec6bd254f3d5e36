package georeference_test

import (
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
