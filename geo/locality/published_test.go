package locality_test

import (
	"math"
	"testing"

	"wayfall/geo/locality"
)

// Types of localities with the examples that the sources give: Chapman &
// Wieczorek, Georeferencing Best Practices (2020), 3.2.2, and Zermoglio et al.,
// Georeferencing Quick Reference Guide (2020), 2.1 to 2.3. One
// that must not be georeferenced has no form.
var publishedForms = []struct {
	text string
	form locality.Form
}{
	{"Bakersfield", locality.FeatureOnly},
	{"5 mi from Bakersfield", locality.DistanceOnly},
	{"North of Bakersfield", locality.HeadingOnly},
	{"13 miles east (by road) from Bakersfield", locality.AlongWay},
	{"2 miles east and 3 miles north of Bakersfield", locality.Orthogonal},
	{"10 miles east (by air) from Bakersfield", locality.DistanceAtHeading},
	{"1.5 miles east of Louisiana State Highway 1026 and 2 miles south of U.S. Highway 190", locality.FromTwo},
	{"5 km outside Calgary", locality.DistanceOnly},
	{"W of Berkeley", locality.HeadingOnly},
	{"6 km N and 4 km W of Welna", locality.Orthogonal},
	{"50 miles W of Las Vegas", locality.DistanceAtHeading},
	{"10.2 km E de Amama", locality.DistanceAtHeading},
	{"near Dina Huapi", locality.Near},
	{"between Point Reyes and Inverness", locality.Between},
	{"between Tanama R. and Clearwater Ck.", locality.Between},
	{"confluence of Rio Claro and Rio La Hondura", locality.Junction},
	{"possibly Isla Boca Brava", locality.UnknownForm},
}

func TestPublishedExamplesHaveTheirType(t *testing.T) {
	for _, tt := range publishedForms {
		r := locality.Parse(tt.text)
		got := locality.UnknownForm
		if len(r.Clauses) == 1 {
			got = r.Clauses[0].Form
		}
		if got != tt.form || len(r.Clauses) > 1 || (tt.form == locality.UnknownForm) != (len(r.Left) > 0) {
			t.Errorf("%q: got %v (%d clauses, left %v), want %v", tt.text, got, len(r.Clauses), r.Left, tt.form)
		}
	}
}

// Only what is sure is taken: the province, not the town that was possible; the
// county, not the side of the river that lies in another.
func TestOfADoubtfulTextOnlyTheSurePartIsTaken(t *testing.T) {
	for text, left := range map[string]string{
		"Argentina: Misiones, possibly Puerto Iguazu":               "possibly Puerto Iguazu",
		"Sonoma County side of the Gualala River, Mendocino County": "Sonoma County side of the Gualala River",
		"E of Bakersfield, T29S R29E Sec. 34 NE 1/4":                "T29S R29E Sec. 34 NE 1/4",
	} {
		r := locality.Parse(text)
		if len(r.Left) != 1 || r.Left[0].Text != left || len(r.Clauses) == 0 {
			t.Errorf("%q: got %v left and %d clauses, want %q left and the rest read", text, r.Left, len(r.Clauses), left)
		}
	}
}

// Chapman & Wieczorek (2020), 3.4.6, table of uncertainty from the precision of
// a distance, and 3.4.5, table of headings, through the whole grammar.
func TestPublishedPrecisionsComeThroughTheGrammar(t *testing.T) {
	const mile = 1609.344
	for _, tt := range []struct {
		text string
		half float64 // metres
	}{
		{"10.1 km", 50}, {"10.25 mi", 0.125 * mile}, {"10.5 km", 250}, {"10.6 mi", 0.05 * mile}, {"10.75 km", 125},
		{"10 mi", 0.5 * mile}, {"15 km", 500}, {"30 mi", 0.5 * mile}, {"33 km", 500}, {"100 mi", 5 * mile}, {"140 km", 5000},
		{"200 mi", 5 * mile}, {"1000 m", 50}, {"2000 m", 50}, {"6 mi", 0.5 * mile}, {"3.75 km", 125}, {"about 25 km", 500},
	} {
		for _, h := range []struct {
			toward string
			angle  float64
		}{{"N", 45}, {"NE", 22.5}, {"NNE", 11.25}} {
			r := locality.Parse(tt.text + " " + h.toward + " of Bakersfield")
			if len(r.Clauses) != 1 || len(r.Clauses[0].Legs) != 1 {
				t.Errorf("%s %s: got %d clauses, want one", tt.text, h.toward, len(r.Clauses))
				continue
			}
			l := r.Clauses[0].Legs[0]
			if math.Abs(float64(l.Half)-tt.half) > 1e-6 || float64(l.HalfAngle) != h.angle {
				t.Errorf("%s %s: got ±%.3f m and ±%g degrees, want ±%.3f m and ±%g", tt.text, h.toward, l.Half, l.HalfAngle, tt.half, h.angle)
			}
		}
	}
}

func BenchmarkParse(b *testing.B) {
	texts := []string{"10.25 mi NNE of Ludden, Tarn Co.", "5 km E of Ludden on Hwy 12", "between Ludden and Orrin", "US 50, milepost 12.4"}
	for i := 0; b.Loop(); i++ {
		if r := locality.Parse(texts[i%len(texts)]); len(r.Clauses) == 0 {
			b.Fatal(r.Left)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "localities/s")
}
