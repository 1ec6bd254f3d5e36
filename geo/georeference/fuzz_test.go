package georeference_test

import (
	"math"
	"testing"

	"wayfall/geo/georeference"
)

// FuzzOf: whatever is written, there is a reason or a candidate whose terms add
// up to its radius.
func FuzzOf(f *testing.F) {
	for _, s := range []string{
		"10.25 km NNE of Ludden", "between Ludden and Brask on Hwy 12", "3 km upstream of Ludden on the Tamarack River",
		"jct. Hwy 12 and Route 9", "Hwy 12 milepost 22.5", "1.5 km E of Route 9 and 2 km S of Hwy 12", "N of Brask, Tarn County",
		"2 km E and 3 km N of Brask", "near Troy", "5 mi from Orrin, Elk Marsh Refuge", "N side of Brask", "400 km N of Ludden",
	} {
		f.Add(s, false)
		f.Add(s, true)
	}
	e := georeference.New(invented)
	f.Fuzz(func(t *testing.T, text string, published bool) {
		o := georeference.Options{}
		if published {
			o.Protocol = georeference.Published
		}
		r, err := e.Of(text, o)
		if (err == nil) != (len(r.Candidates) > 0) {
			t.Fatalf("%q: got %d candidates and the error %v", text, len(r.Candidates), err)
		}
		for _, c := range r.Candidates {
			sum := 0.
			for _, term := range c.Terms {
				sum += float64(term.Radius)
			}
			if !c.Circle.Known() || !(c.Circle.Radius > 0) || math.Abs(sum-float64(c.Circle.Radius)) > 0.001+1e-9*sum {
				t.Errorf("%q: got the circle %v and terms of %.3f m together", text, c.Circle, sum)
			}
			if !published && c.Circle.Radius != c.Strict {
				t.Errorf("%q: got the radius %v, want the strict %v", text, c.Circle.Radius, c.Strict)
			}
		}
	})
}
