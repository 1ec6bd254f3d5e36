package geo

import "math"

// Degrees is an angle: a latitude, a longitude, a heading, a precision.
type Degrees float64

// Radians returns the angle in radians.
func (d Degrees) Radians() float64 { return float64(d) * math.Pi / 180 }

// Metres is a ground distance.
type Metres float64

// Units of length. Foot, yard and mile are exact since the international yard
// and pound agreement of 1959; the US survey mile is 3 mm longer, far below
// any uncertainty of a find.
const (
	Metre     Metres = 1
	Kilometre        = 1000 * Metre
	Foot             = 0.3048 * Metre
	Yard             = 3 * Foot
	Mile             = 5280 * Foot
)

// Confidence is the share of cases in which the truth lies within a radius,
// between 0 and 1. The zero Confidence is unknown.
type Confidence float64

// Confidence levels at which positions are commonly stated.
const (
	// UnknownConfidence is the level of a radius that came without one.
	UnknownConfidence Confidence = 0
	// Half is the circular error probable, often the figure on a receiver.
	Half Confidence = 0.50
	// RMS is the level of a two-dimensional root mean square error under a
	// circular normal error: 1 - 1/e.
	RMS Confidence = 0.632
	// Sigma is the level at which Android states horizontal accuracy.
	Sigma Confidence = 0.68
	// NinetyFive is the level of a browser's position accuracy, and the one
	// that every radius is turned into.
	NinetyFive Confidence = 0.95
)

// Circle is where something may have lain: anywhere within Radius of Centre.
// A circle without a known centre says nothing.
type Circle struct {
	Centre Point  `json:"centre"`
	Radius Metres `json:"radius"`
}

// Known reports whether the circle says where: its centre is known and its
// radius is a finite number that is not negative.
func (c Circle) Known() bool {
	return c.Centre.Known() && c.Radius >= 0 && !math.IsInf(float64(c.Radius), 1)
}

// Finding is something odd or noteworthy about a place. It never changes the
// place; a person decides.
type Finding struct {
	// Code names the finding for the program, in lower case with hyphens.
	Code string `json:"code"`
	// Because is one sentence for the person.
	Because string `json:"because"`
	// Cites is the source of the rule, or "common practice".
	Cites string `json:"cites"`
}
