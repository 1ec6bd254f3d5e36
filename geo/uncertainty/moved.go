package uncertainty

import (
	"fmt"
	"math"

	"wayfall/geo"
)

// OfMoved is the term for a carcass that was moved before it was logged, or
// that drifted: how far it may have come from where it fell. No published
// guideline speaks of it; the ground that the event covered is its extent.
func OfMoved(atMost geo.Metres, how string) Term {
	return Term{Extent, atMost, fmt.Sprintf("it may have been moved up to %.0f m before it was logged (%s)", float64(atMost), how), own}
}

// OfElsewhere is the term for a fix that was not taken beside the animal: how
// far away the device may have been.
func OfElsewhere(atMost geo.Metres) Term {
	return Term{Measurement, atMost, fmt.Sprintf("the fix was taken up to %.0f m from the animal", float64(atMost)), own}
}

// Speeds for OfTravel; common practice.
const (
	OnFoot geo.Metres = 1.5 // in a second
	ByCar  geo.Metres = 33
)

// OfTravel is OfElsewhere for a fix taken some seconds after leaving the
// animal, or before reaching it, at no more than a speed.
func OfTravel(seconds float64, perSecond geo.Metres) (Term, error) {
	if !(seconds >= 0 && perSecond >= 0) || math.IsInf(seconds*float64(perSecond), 1) {
		return Term{}, geo.Invalidf("a way of %g s at %g m a second has no length", seconds, float64(perSecond))
	}
	t := OfElsewhere(geo.Metres(seconds) * perSecond)
	t.Because = fmt.Sprintf("the fix was taken %.0f s away from the animal, at up to %.3g m a second", seconds, float64(perSecond))
	return t, nil
}

// Folded is the radius of a distance at a heading by the older published rule,
// from memory: all other terms that are distances are added to the doubt of
// the offset before the angle is applied. OfHeading and OfSector are the strict
// bound; this one is never larger, and does not always hold the truth.
func Folded(distance, half, others geo.Metres, halfAngle geo.Degrees) geo.Metres {
	t := OfHeading(distance, half+others, halfAngle)
	return half + others + t.Radius
}
