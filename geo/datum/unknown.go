package datum

import (
	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Bound is how far a place may be off because its datum was not written down.
type Bound struct {
	Radius geo.Metres
	// Farthest is the datum that would move the place most.
	Farthest Datum
	// InUse are the datums that were in use there, WGS 84 among them.
	InUse []Datum
}

// Unknown returns the bound at a place: the farthest that any datum in use
// there moves it, with the accuracy of that shift turned to 95 %. Only datums
// of this package are looked at; ok is false where it knows no other than
// WGS 84, and then nothing is bounded.
func Unknown(p geo.Point) (b Bound, ok bool, err error) {
	for i := range all {
		found, err := all[i].ways(p)
		if err != nil {
			return Bound{}, false, err
		}
		if len(found) > 0 {
			b.InUse = append(b.InUse, Datum{&all[i]})
		}
		for _, s := range found {
			off, err := geodesic.Distance(p, s.Point)
			if err != nil {
				return Bound{}, false, err
			}
			if r := off + s.Accuracy*toNinetyFive; r > b.Radius {
				b.Radius, b.Farthest = r, Datum{&all[i]}
			}
		}
	}
	return b, len(b.InUse) > 1, nil
}
