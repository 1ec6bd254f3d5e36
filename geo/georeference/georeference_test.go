package georeference_test

import (
	"fmt"
	"strings"
	"testing"

	"wayfall/geo"
	"wayfall/geo/georeference"
)

func ExampleOf() {
	r, err := georeference.Of("10.25 km NNE of Ludden", invented, georeference.Options{})
	c := r.Candidates[0]
	fmt.Println(c.Sentence, err)
	fmt.Printf("%.4f, %.4f within %.0f m; the published rule says %.0f m\n", c.Circle.Centre.Lat(), c.Circle.Centre.Lon(), c.Strict, c.Published)
	for _, t := range c.Terms {
		fmt.Printf("%s %.0f m\n", t.Source, t.Radius)
	}
	// Output:
	// 10.25 km NNE of Ludden, by air <nil>
	// 45.0852, -99.9502 within 4023 m; the published rule says 3064 m
	// extent 2000 m
	// offset 125 m
	// heading 1898 m
}

func TestWordsThatMayMoveThePlaceAreNotPassedOver(t *testing.T) {
	for text, says := range map[string]string{
		"Ludden, 3 mlies N":                  "may say that the place lies elsewhere",
		"Ludden, naer the brdige":            "",
		"10 km N of Nowhere":                 "nothing called “Nowhere”",
		"90 km N of Ludden, Tarn County":     "no ground in common",
		"N of":                               "is not understood",
		"":                                   "no words",
		"possibly Ludden":                    "not sure",
		"5 km E of Ludden on Route 9":        "does not pass",
		"junction of Hwy 12 and Ludden Road": "nothing called “Ludden Road”",
		"Hwy 12 milepost 99":                 "no posts around",
		"600 km E of Ludden on Hwy 12":       "ends before",
	} {
		r, err := georeference.Of(text, invented, georeference.Options{})
		if says == "" {
			if err != nil || len(r.Candidates) != 1 {
				t.Errorf("%q: got %d candidates, %v, want one", text, len(r.Candidates), err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), says) || len(r.Candidates) > 0 {
			t.Errorf("%q: got %d candidates, %v, want an error that says %q", text, len(r.Candidates), err, says)
		}
		if r.Reading.Verbatim != text {
			t.Errorf("%q: got the text %q back", text, r.Reading.Verbatim)
		}
	}
}

func TestEveryFeatureOfANameIsACandidate(t *testing.T) {
	r, err := georeference.Of("5 km N of Troy", invented, georeference.Options{})
	if err != nil || len(r.Candidates) != 2 {
		t.Fatalf("got %d candidates, %v, want 2", len(r.Candidates), err)
	}
	near := geo.Circle{Centre: at(44.7, -99.6), Radius: 10}
	r, _ = georeference.Of("5 km N of Troy", invented, georeference.Options{Near: &near})
	if got := r.Candidates[0].Features[0].ID; got != "troy-2" {
		t.Errorf("near one of them: got %s first, want troy-2", got)
	}
	for _, c := range r.Candidates {
		if len(c.Flags) == 0 || c.Flags[0].Code != "several-readings" {
			t.Errorf("%s: got the flags %v, want several-readings", c.Features[0].ID, c.Flags)
		}
	}
}

// BenchmarkOf is one locality after another on one core, with the shapes of
// features known.
func BenchmarkOf(b *testing.B) {
	texts := []string{
		"10.25 km NNE of Ludden", "Ludden", "5 mi from Orrin", "2 km E and 3 km N of Brask", "5 km E of Ludden on Hwy 12",
		"near Brask", "between Ludden and Orrin", "3 mi SW of Orrin, Tarn County", "Hwy 12 milepost 22.5", "N of Ludden",
	}
	e := georeference.New(invented)
	for i := 0; b.Loop(); i++ {
		if _, err := e.Of(texts[i%len(texts)], georeference.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "localities/s")
}
