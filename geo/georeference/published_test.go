package georeference_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"wayfall/geo/gazetteer"
	"wayfall/geo/georeference"
)

// points are features without extent, so that a radius is that of the words
// alone.
var points = world{
	{ID: "a", Name: "Ayr", Point: at(0, 0), Shape: orb.Point{0, 0}},
	{ID: "b", Name: "Bex", Point: at(0, 0.0898315), Shape: orb.Point{0.0898315, 0}}, // 10 km east
	{ID: "c", Name: "Cam", Point: at(0, 0), Radial: 2000},
}

// TestPublishedRulesGiveTheirPublishedRadii: between two features and at right
// angles, Zermoglio et al. (2020), 2.1.3.9, and Chapman & Wieczorek (2020),
// 3.4.6; heading alone 3.4.5; the others are arithmetic from the rules.
func TestPublishedRulesGiveTheirPublishedRadii(t *testing.T) {
	for _, tt := range []struct {
		text              string
		published, strict float64
	}{
		{"between Ayr and Bex", 5000, 5000},
		{"8 km E and 6 km N of Ayr", 707.1, 707.1},
		{"10 km NE of Ayr", 4029.3, 4029.3},
		{"10 km N of Ayr", 7858.6, 7858.6},
		{"10 km N of Cam", 8914.8, 9858.6},
		{"5 km from Cam", 7500, 7500},
		{"Cam", 2000, 2000},
	} {
		r, err := georeference.Of(tt.text, points, georeference.Options{Protocol: georeference.Published})
		if err != nil || len(r.Candidates) != 1 {
			t.Errorf("%s: got %d candidates, %v, want one", tt.text, len(r.Candidates), err)
			continue
		}
		c := r.Candidates[0]
		if math.Abs(float64(c.Published)-tt.published) > 0.6 || c.Circle.Radius != c.Published {
			t.Errorf("%s: got %.1f m published, want %.1f m", tt.text, c.Published, tt.published)
		}
		if math.Abs(float64(c.Strict)-tt.strict) > 0.6 {
			t.Errorf("%s: got %.1f m strict, want %.1f m", tt.text, c.Strict, tt.strict)
		}
	}
}

func TestAPointWithoutAnyDoubtIsNoAnswer(t *testing.T) {
	if r, err := georeference.Of("Ayr", points, georeference.Options{}); err == nil {
		t.Errorf("got the circle %v, want an error: nobody knows a place to nothing", r.Candidates[0].Circle)
	}
	var none gazetteer.Names
	if _, err := georeference.Of("Ayr", none, georeference.Options{}); err == nil {
		t.Error("without names: got no error")
	}
}
