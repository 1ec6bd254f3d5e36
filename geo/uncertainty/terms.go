// Package uncertainty says how far from the stated point the truth may lie,
// and why.
//
// Each source of doubt is a Term with its radius, a sentence and a citation.
// Combine adds them up: a plain sum of bounds, so that the circle holds even
// when everything went wrong in the same direction. It never takes the root of
// the sum of squares, never lets a radius be zero, and never guesses a datum
// in the catalogue's favour.
package uncertainty

import (
	"fmt"
	"math"

	"wayfall/geo"
	"wayfall/geo/geodesic"
)

// Source says where a term of uncertainty comes from. The zero Source is
// unknown and refused by Combine.
type Source uint8

// Sources, as Chapman and Wieczorek list them.
const (
	// Extent is the size of the feature, or of the ground that was searched.
	Extent Source = iota + 1
	// Coordinates is the accuracy of the receiver, map or imagery.
	Coordinates
	// Measurement is the error of measuring on a map.
	Measurement
	// Precision is how finely the coordinates were written.
	Precision
	// Datum is the shift between the datums that may have been meant.
	Datum
	// Offset is how finely a distance was written.
	Offset
	// Heading is how finely a direction was written.
	Heading
)

var sourceNames = [...]string{"unknown", "extent", "coordinates", "measurement", "precision", "datum", "offset", "heading"}

// String returns the source in a word.
func (s Source) String() string {
	if int(s) < len(sourceNames) {
		return sourceNames[s]
	}
	return sourceNames[0]
}

// MarshalText writes the source in a word.
func (s Source) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word that MarshalText writes.
func (s *Source) UnmarshalText(b []byte) error {
	for i, name := range sourceNames {
		if name == string(b) {
			*s = Source(i)
			return nil
		}
	}
	return geo.Invalidf("%q is no source of uncertainty", b)
}

// Term is one reason why the truth may lie elsewhere, and how far.
type Term struct {
	Source  Source     `json:"source"`
	Radius  geo.Metres `json:"radius"`
	Because string     `json:"because"`
	Cites   string     `json:"cites"`
}

// Sources of the rules.
const (
	bestPractices = "Chapman & Wieczorek, Georeferencing Best Practices, GBIF Secretariat 2020"
	quickGuide    = "Zermoglio et al., Georeferencing Quick Reference Guide, GBIF Secretariat 2020"
	mapStandards  = "U.S. National Map Accuracy Standards, 1947; FGDC-STD-007.3-1998 (factor from memory)"
	own           = "derived here by geometry"
)

// OfExtent is the term for the size of a feature: its radial, from the stated
// point to its farthest place. It is also where ground that was searched, or
// a carcass that was moved before it was logged, belongs.
func OfExtent(radial geo.Metres, feature string) Term {
	return Term{Extent, radial, "the farthest part of " + feature + " from its stated point", bestPractices + ", 3.4.1"}
}

// OfMapAccuracy is the term for a map that meets the National Map Accuracy
// Standards, at a scale of 1 to scale, turned from 90 % to 95 %.
func OfMapAccuracy(scale float64) Term {
	part := 1. / 50
	if scale < 20_000 {
		part = 1. / 30
	}
	const ninetyToNinetyFive = 1.1406
	return Term{
		Coordinates, geo.Metres(scale * 0.0254 * part * ninetyToNinetyFive),
		fmt.Sprintf("a map at 1:%.0f may be off by 1/%.0f inch on the sheet in nine cases of ten", scale, 1/part), mapStandards,
	}
}

// OfMapMeasurement is the term for reading a place off a paper map to the
// millimetre.
func OfMapMeasurement(scale float64) Term {
	return Term{
		Measurement, geo.Metres(scale / 1000),
		fmt.Sprintf("one millimetre on a map at 1:%.0f", scale), bestPractices + ", 3.4.2",
	}
}

// OfPrecision is the term for coordinates written to a precision: the whole
// of it on both axes, since old coordinates were cut off as often as rounded.
func OfPrecision(at geo.Point, precision geo.Degrees) (Term, error) {
	if !at.Known() {
		return Term{}, geo.Errorf(geo.Unknown, "the length of a degree at an unknown point is not known")
	}
	if !(precision >= 0 && precision <= 180) {
		return Term{}, geo.Invalidf("a precision of %g degrees is not possible", float64(precision))
	}
	north, east := geodesic.MetresPerDegree(at.Lat())
	return Term{
		Precision, geo.Metres(float64(precision) * math.Hypot(float64(north), float64(east))),
		fmt.Sprintf("the coordinates are written to %.3g degrees", float64(precision)), bestPractices + ", 3.4.3",
	}, nil
}

// OfGrid is the term for how finely eastings and northings are written: to
// side metres, so that the truth may lie spread metres from the stated point.
func OfGrid(side, spread geo.Metres) Term {
	return Term{Precision, spread, fmt.Sprintf("the place is written on a grid to %.3g m", float64(side)), quickGuide + ", 2.3.2; " + own}
}

// OfOffset is the term for a distance: half of the precision with which it was
// written.
func OfOffset(half geo.Metres) Term {
	return Term{Offset, half, fmt.Sprintf("the distance is written to the nearest %.3g m", 2*float64(half)), bestPractices + ", 3.4.6"}
}

// OfHeading is what a heading that may be off by halfAngle to either side adds
// to the offset term, for a distance that may be off by half.
//
// The truth lies in a sector of a ring. Its outer corners are farthest from
// the stated point, at
//
//	e = sqrt(d^2 + (d+half)^2 - 2 d (d+half) cos(halfAngle))
//
// by the cosine rule; e less half is what this term holds, so that the two
// together make e. All other terms shift the whole sector, in any direction,
// and are added outside. That is the strict bound. The older habit of folding
// them into the distance gives less, and does not always hold the truth. This
// is the formula on the plane; OfSector seeks the same bound on the ellipsoid.
func OfHeading(distance, half geo.Metres, halfAngle geo.Degrees) Term {
	d, p := float64(distance), float64(half)
	a := math.Min(180, math.Abs(float64(halfAngle)))
	// (d+p-d)^2 + 2d(d+p)(1-cos a), written so as not to cancel.
	s := math.Sin(geo.Degrees(a).Radians() / 2)
	e := math.Sqrt(p*p + 4*d*(d+p)*s*s)
	return Term{
		Heading, geo.Metres(e - p),
		fmt.Sprintf("the heading may be off by %g degrees to either side over %.0f m", a, d), own,
	}
}
