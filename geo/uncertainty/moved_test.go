package uncertainty_test

import (
	"math"
	"testing"

	"wayfall/geo"
	"wayfall/geo/uncertainty"
)

// Arithmetic by the cosine rule: 10 km written to half a kilometre, heading
// within 45 degrees, a feature of 2 km.
func TestTheFoldedRuleIsSmallerThanTheStrictBound(t *testing.T) {
	folded := uncertainty.Folded(10_000, 500, 2000, 45)
	if math.Abs(float64(folded)-8914.8) > 0.1 {
		t.Errorf("folded: got %.1f m, want 8914.8 m", folded)
	}
	heading := uncertainty.OfHeading(10_000, 500, 45)
	if strict := 2000 + 500 + heading.Radius; math.Abs(float64(strict)-9858.6) > 0.1 {
		t.Errorf("strict: got %.1f m, want 9858.6 m", strict)
	}
	for _, angle := range []geo.Degrees{0, 0.5, 11.25, 45, 90} {
		for _, others := range []geo.Metres{0, 10, 1000, 50_000} {
			f := uncertainty.Folded(10_000, 500, others, angle)
			heading := uncertainty.OfHeading(10_000, 500, angle)
			if s := others + 500 + heading.Radius; f > s*(1+1e-12) {
				t.Errorf("%g degrees, %g m of other terms: got %.3f m folded, want at most the strict %.3f m", angle, others, f, s)
			}
		}
	}
}

func TestAMovedCarcassAndADistantFixAreTerms(t *testing.T) {
	moved := uncertainty.OfMoved(30, "from the lane to the verge")
	far, err := uncertainty.OfTravel(60, uncertainty.ByCar)
	if err != nil {
		t.Fatal(err)
	}
	e, err := uncertainty.Combine(point(t, 45, -100), moved, far, uncertainty.OfElsewhere(5))
	if err != nil || math.Abs(float64(e.Circle.Radius)-(30+60*33+5)) > 1e-9 {
		t.Errorf("got %v m, %v, want 2015 m", e.Circle.Radius, err)
	}
	if moved.Source != uncertainty.Extent || far.Source != uncertainty.Measurement {
		t.Errorf("got the sources %v and %v, want extent and measurement", moved.Source, far.Source)
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := uncertainty.OfTravel(bad, 1); geo.KindOf(err) != geo.Invalid {
			t.Errorf("%g seconds: got %v, want an error of kind invalid", bad, err)
		}
	}
}
