package gazetteer

import "wayfall/geo"

// radials are our own choice, no published figures: no list of the extents of
// towns was at hand. They are meant to reach the farthest part of the built-up
// area of a town of so many people from the stated point, also when the point
// lies off the centre or the town is drawn out along a road, and are checked
// against the outlines of cities that are counties of their own. They do not
// reach the limits of a town that took in miles of open land.
var radials = [...]struct {
	below  int // people
	radial geo.Metres
}{
	{1_000, 2 * geo.Kilometre},
	{2_500, 3 * geo.Kilometre},
	{5_000, 4.5 * geo.Kilometre},
	{10_000, 6 * geo.Kilometre},
	{25_000, 8.5 * geo.Kilometre},
	{50_000, 12 * geo.Kilometre},
	{100_000, 14 * geo.Kilometre},
	{250_000, 18 * geo.Kilometre},
	{500_000, 26 * geo.Kilometre},
	{1_000_000, 40 * geo.Kilometre},
	{maxPopulation + 1, 50 * geo.Kilometre},
}

// Radials where the number of people is unknown. A town may then be of almost
// any size: the largest that is missing from the list of people used has 700,000.
// A section or a former place is small.
const (
	radialUnknown = 40 * geo.Kilometre
	radialSmall   = 5 * geo.Kilometre
)

// RadialBasis says where the radials come from, for the record of a place.
const RadialBasis = "radial by class and population, our own choice"

// Radial is the distance from a feature's stated point that is taken to hold
// all of it, where its shape is not known. It is never zero.
func Radial(c Class, population int) geo.Metres {
	if population <= 0 {
		if c == Section || c == Former {
			return radialSmall
		}
		return radialUnknown
	}
	radial := geo.Metres(0)
	for _, r := range radials {
		radial = r.radial
		if population < r.below {
			break
		}
	}
	if c == Former {
		return max(radial, radialSmall)
	}
	return radial
}
