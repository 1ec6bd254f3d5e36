// Package notation reads coordinates as people write them and writes them
// back.
//
// It reads latitude and longitude in degrees, in degrees and minutes, and in
// degrees, minutes and seconds, with signs or hemisphere letters, before or
// after, with points or commas for decimals; positions after ISO 6709 and geo
// URIs after RFC 5870; eastings and northings of the Universal Transverse
// Mercator grid with their zone, and squares of the Military Grid Reference
// System. What cannot be right is refused with a sentence; what is odd but
// possible is read and comes with a finding. It never guesses a missing
// hemisphere silently, never swaps the two numbers by itself, and reads no
// polar grid. Grids are taken to lie on WGS 84: whoever knows another datum
// brings the point over.
package notation

import (
	"math"
	"strings"

	"wayfall/geo"
)

// Form is a way of writing coordinates. The zero Form is unknown.
type Form uint8

// Forms.
const (
	Decimal Form = iota + 1
	Minutes
	Seconds
	ISO6709 // signed digits without a space, ended by a solidus
	GeoURI  // RFC 5870
	Metres  // eastings and northings with their zone
	Square  // Military Grid Reference System
)

// String returns the form in words.
func (f Form) String() string {
	switch f {
	case Decimal:
		return "decimal degrees"
	case Minutes:
		return "degrees and minutes"
	case Seconds:
		return "degrees, minutes and seconds"
	case ISO6709:
		return "ISO 6709"
	case GeoURI:
		return "geo URI"
	case Metres:
		return "eastings and northings"
	case Square:
		return "square of a grid"
	}
	return "unknown"
}

// Reading is what was read.
type Reading struct {
	// Point is the place, in the datum in which it was written.
	Point geo.Point
	// Form is the finer of the two numbers' forms.
	Form Form
	// Precision is how finely the place is written, on both axes: the last
	// place of the finer number, or a simple fraction of a degree that both
	// numbers fit. It is 0 for a grid.
	Precision geo.Degrees
	// Side is the finest place that eastings and northings are written to, or
	// the side of a square. It is 0 for degrees.
	Side geo.Metres
	// Spread is how far from Point the truth may lie for the writing alone,
	// on a grid: half the diagonal of a square around its middle, the whole
	// diagonal where the point stands as written.
	Spread geo.Metres
	// Height and Stated are what an ISO 6709 text or a geo URI says besides:
	// height above whatever it is counted from, and uncertainty.
	Height, Stated       geo.Metres
	HasHeight, HasStated bool
	// Datum is the datum that the text itself names, or "".
	Datum string
	// Findings say what is odd.
	Findings []geo.Finding
}

const (
	precisionRule = "Chapman & Wieczorek, Georeferencing Best Practices, GBIF Secretariat 2020, 3.4.3"
	practice      = "common practice"
)

// maxText is the longest text that is looked at.
const maxText = 120

// Read reads one pair of coordinates. An error is of kind NotUnderstood when
// the text is not a pair of coordinates, and of kind Invalid when it is one
// that cannot be right; then the reading holds no point, but findings if the
// slip is a usual one.
func Read(text string) (Reading, error) {
	if len(text) > maxText {
		return Reading{}, geo.Errorf(geo.NotUnderstood, "the text is too long for a pair of coordinates")
	}
	text = strings.TrimSpace(text)
	for _, form := range [...]func(string) (Reading, bool, error){uriForm, isoForm, squareForm, metreForm} {
		if r, mine, err := form(text); mine {
			return r, err
		}
	}
	tokens, err := split(text)
	if err != nil {
		return Reading{}, err
	}
	first, second, err := halves(tokens)
	if err != nil {
		return Reading{}, err
	}
	a, err := readAngle(first)
	if err != nil {
		return Reading{}, err
	}
	b, err := readAngle(second)
	if err != nil {
		return Reading{}, err
	}
	return join(a, b)
}

// join decides which angle is the latitude and puts the two together.
func join(a, b angle) (Reading, error) {
	lat, lon, err := axes(a, b)
	if err != nil {
		return Reading{}, err
	}
	p, err := geo.At(lat.degrees(), lon.degrees())
	if err != nil {
		return Reading{Findings: swapped(&lat, &lon)}, err
	}
	r := Reading{Point: p, Form: max(lat.form(), lon.form())}
	r.Precision, r.Findings = precision(&lat, &lon)
	if !lat.signed && lat.hemisphere == 0 && !lon.signed && lon.hemisphere == 0 {
		r.Findings = append(r.Findings, geo.Finding{
			Code: "hemisphere-missing", Cites: practice,
			Because: "no sign and no letter says which hemisphere is meant; it was read as north and east",
		})
	}
	if (lat.hemisphere == 0) != (lon.hemisphere == 0) {
		r.Findings = append(r.Findings, geo.Finding{
			Code: "hemisphere-half", Cites: practice,
			Because: "only one of the two numbers has a hemisphere letter",
		})
	}
	return r, nil
}

// swapped says whether an impossible pair would be possible the other way
// round. It offers no point: the text may be wrong in another way.
func swapped(lat, lon *angle) []geo.Finding {
	if lat.axis != 0 || lon.axis != 0 {
		return nil
	}
	q, err := geo.At(lon.degrees(), lat.degrees())
	if err != nil {
		return nil
	}
	return []geo.Finding{{
		Code: "swapped", Cites: practice,
		Because: "the other way round it would be " + q.String() + "; write the latitude first",
	}}
}

// axes puts the latitude first. Letters and labels decide; without them the
// latitude is the one written first.
func axes(a, b angle) (lat, lon angle, err error) {
	switch {
	case a.axis == latitude && b.axis == latitude:
		return a, b, geo.Invalidf("both numbers are latitudes")
	case a.axis == longitude && b.axis == longitude:
		return a, b, geo.Invalidf("both numbers are longitudes")
	case a.axis == longitude || b.axis == latitude:
		return b, a, nil
	}
	return a, b, nil
}

// precision works out how finely the pair is written.
func precision(lat, lon *angle) (geo.Degrees, []geo.Finding) {
	written := math.Min(lat.lastPlace(), lon.lastPlace())
	if !lat.decimal() || !lon.decimal() {
		return geo.Degrees(written), nil
	}
	for _, f := range [...]struct {
		part  float64
		words string
	}{{1, "whole degrees"}, {2, "half degrees"}, {4, "quarter degrees"}} {
		if coarser := 1 / f.part; coarser > written && lat.multiple(f.part) && lon.multiple(f.part) {
			return geo.Degrees(coarser), []geo.Finding{{
				Code: "precision-fraction", Cites: precisionRule,
				Because: "both numbers are " + f.words + "; the zeros behind them say nothing",
			}}
		}
	}
	if lat.places() >= 4 && lon.places() >= 4 && lat.wholeMinutes() && lon.wholeMinutes() {
		return geo.Degrees(1. / 60), []geo.Finding{{
			Code: "precision-minutes", Cites: precisionRule,
			Because: "both numbers are whole minutes turned into decimals; they are as precise as a minute",
		}}
	}
	return geo.Degrees(written), nil
}
