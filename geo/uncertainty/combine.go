package uncertainty

import (
	"math"

	"wayfall/geo"
)

// Rule names how the terms are combined, for the record of the protocol. It
// changes whenever a radius could.
const Rule = "linear sum of bounds, heading as the strict sector bound, version 1"

// Estimate is where something may have lain, with every term of the radius.
type Estimate struct {
	Circle geo.Circle `json:"circle"`
	Terms  []Term     `json:"terms"`
	Rule   string     `json:"rule"`
}

// Combine adds up the terms around a point. Every term must be a finite
// distance, none below zero, and together they must be more than nothing: a
// radius of zero would claim a knowledge that nobody has.
func Combine(centre geo.Point, terms ...Term) (Estimate, error) {
	if !centre.Known() {
		return Estimate{}, geo.Errorf(geo.Unknown, "the point is not known, so there is no circle around it")
	}
	var sum geo.Metres
	for _, t := range terms {
		if t.Source == 0 || int(t.Source) >= len(sourceNames) {
			return Estimate{}, geo.Errorf(geo.Unknown, "a term of uncertainty does not say where it comes from")
		}
		if !(t.Radius >= 0) || math.IsInf(float64(t.Radius), 1) {
			return Estimate{}, geo.Invalidf("the term for %s is not a distance", t.Source)
		}
		sum += t.Radius
	}
	if sum == 0 || math.IsInf(float64(sum), 1) {
		return Estimate{}, geo.Errorf(geo.Unknown, "nothing says how large the uncertainty is")
	}
	return Estimate{
		Circle: geo.Circle{Centre: centre, Radius: sum},
		Terms:  append([]Term(nil), terms...),
		Rule:   Rule,
	}, nil
}

// WholeMetres rounds a radius up to whole metres, for showing and for export.
// Radii that are still to be added to are never rounded.
func WholeMetres(r geo.Metres) int { return int(math.Ceil(float64(r))) }
